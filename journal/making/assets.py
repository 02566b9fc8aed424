"""Styles, scripts and type under names that tell their content, so that no browser shows old ones with a new page."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Mapping
from hashlib import sha256
from pathlib import Path
from typing import NamedTuple

_TEXTS = frozenset({".css", ".js"})
_NAMED = _TEXTS | {".woff2", ".svg"}
_REFERENCE = re.compile(rb"(?<=[\"'(])[\w./-]+\.(?:css|js|woff2|svg)(?=[\"')])")
"""What a style or a script names beside itself: in quotes, or in `url()`."""


class Asset(NamedTuple):
    """A file as it is published: its address, and its bytes with the files that it names under their own addresses."""

    address: str
    data: bytes


def named_assets(ours: Path, before: Path | None = None) -> Mapping[str, Asset]:
    """The files below assets/ in the folder `ours`, by the address that templates name; one of the same name in the
    folder `before` it stands in for ours. What else lies there keeps its name.
    """
    files: dict[str, Path] = {}
    for file in sorted((ours / "assets").rglob("*")):
        if file.suffix in _NAMED:
            address = file.relative_to(ours).as_posix()
            files[address] = before / address if before and (before / address).is_file() else file
    named: dict[str, Asset] = {}

    def name(address: str) -> Asset:
        if address in named:
            return named[address]
        data = files[address].read_bytes()
        # Until it is named itself it keeps its name: two files may name each other.
        named[address] = Asset(address, data)

        def renamed(found: re.Match[bytes]) -> bytes:
            there = posixpath.normpath(posixpath.join(posixpath.dirname(address), found[0].decode()))
            if there not in files:
                return found[0]
            return posixpath.relpath(name(there).address, posixpath.dirname(address)).encode()

        if files[address].suffix in _TEXTS:
            data = _REFERENCE.sub(renamed, data)
        stem, ending = posixpath.splitext(address)
        named[address] = Asset(f"{stem}.{sha256(data).hexdigest()[:8]}{ending}", data)
        return named[address]

    return {address: name(address) for address in files}
