"""What is known of originals that have not changed since they were last read.

One file in the cache: a digest, then JSON. It is only ever replaced whole; damaged, of another
version or gone, it is as good as empty, and the originals are read again.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from pathlib import Path

import PIL
import pillow_heif

from journal.model import PhotoFacts
from journal.photos.facts import FACTS_VERSION
from journal.photos.originals import Print


@dataclass(frozen=True, slots=True, kw_only=True)
class Examined:
    """An original as it is now: its digest (empty where it cannot be read at all) and its facts."""

    sha256: str
    facts: PhotoFacts


@dataclass(frozen=True, slots=True)
class Row:
    """One original in the index: the print it had when it was examined, and what came out."""

    print: Print
    examined: Examined


_VERSION = [FACTS_VERSION, PIL.__version__, pillow_heif.__version__]


def parse_index(data: bytes) -> dict[str, Row]:
    """Rows by `src_uri`; empty for anything but the exact bytes `render_index` once made."""
    digest, _, body = data.partition(b"\n")
    if sha256(body).hexdigest().encode() != digest:
        return {}
    try:
        told = json.loads(body)
        if told["version"] != _VERSION:
            return {}
        return {src_uri: _row(*values) for src_uri, values in told["originals"].items()}
    except (ValueError, TypeError, KeyError, AttributeError):  # whole, but of a program that knew other columns
        return {}


def render_index(rows: Mapping[str, Row]) -> bytes:
    """The bytes of the index file."""
    told = {"version": _VERSION, "originals": {src_uri: _values(row) for src_uri, row in rows.items()}}
    body = json.dumps(told, separators=(",", ":")).encode()
    return sha256(body).hexdigest().encode() + b"\n" + body


def read_index(path: Path) -> dict[str, Row]:
    """Rows by `src_uri`; empty where the file is missing or cannot be used."""
    try:
        return parse_index(path.read_bytes())
    except OSError:
        return {}


def _row(
    size: int,
    mtime_ns: int,
    ctime_ns: int,
    inode: int,
    digest: str,
    kind: str,
    width: int,
    height: int,
    taken: str | None,
    offset: str | None,
    camera: str,
    trouble: str,
) -> Row:
    facts = PhotoFacts(
        kind=kind,
        width=width,
        height=height,
        bytes=size,
        taken=datetime.fromisoformat(taken) if taken else None,
        offset=offset,
        camera=camera,
        trouble=trouble,
    )
    return Row(Print(size, mtime_ns, ctime_ns, inode), Examined(sha256=digest, facts=facts))


def _values(row: Row) -> list[object]:
    seen, facts = row.print, row.examined.facts
    return [
        *(seen.size, seen.mtime_ns, seen.ctime_ns, seen.inode),
        row.examined.sha256,
        *(facts.kind, facts.width, facts.height),
        facts.taken.isoformat() if facts.taken else None,
        *(facts.offset, facts.camera, facts.trouble),
    ]
