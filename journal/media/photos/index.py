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
from typing import Any

import PIL
import pillow_heif

from journal.base.model import PhotoFacts
from journal.media.photos.facts import FACTS_VERSION
from journal.media.photos.originals import Print


@dataclass(frozen=True, slots=True, kw_only=True)
class Examined:
    """An original as it is now: its digest (empty where it cannot be read at all) and its facts."""

    sha256: str
    facts: PhotoFacts


Row = list[Any]
"""One original as the index holds it: the four values of its print when it was examined, then what came
out (see `row_of`). A plain list, since 20,000 of them are read before every build.
"""

_VERSION = [FACTS_VERSION, PIL.__version__, pillow_heif.__version__]
_COLUMNS = 12


def parse_index(data: bytes) -> dict[str, Row]:
    """Rows by `src_uri`; empty for anything but the exact bytes `render_index` once made."""
    digest, _, body = data.partition(b"\n")
    if sha256(body).hexdigest().encode() != digest:
        return {}
    try:
        told = json.loads(body)
        if told["version"] != _VERSION:
            return {}
        rows: dict[str, Row] = told["originals"]
        return rows if all(len(row) == _COLUMNS for row in rows.values()) else {}
    except (ValueError, TypeError, KeyError, AttributeError):  # whole, but of a program that knew other columns
        return {}


def render_index(rows: Mapping[str, Row]) -> bytes:
    """The bytes of the index file."""
    told = {"version": _VERSION, "originals": dict(rows)}
    body = json.dumps(told, separators=(",", ":")).encode()
    return sha256(body).hexdigest().encode() + b"\n" + body


def read_index(path: Path) -> dict[str, Row]:
    """Rows by `src_uri`; empty where the file is missing or cannot be used."""
    try:
        return parse_index(path.read_bytes())
    except OSError:
        return {}


def row_of(seen: Print, examined: Examined) -> Row:
    """The row for an original with this print."""
    facts = examined.facts
    return [
        *seen,
        examined.sha256,
        *(facts.kind, facts.width, facts.height),
        facts.taken.isoformat() if facts.taken else None,
        *(facts.offset, facts.camera, facts.trouble),
    ]


def still_true(row: Row, seen: Print) -> bool:
    """Whether the file that has this print now is the one the row was made of, unchanged."""
    return tuple(row[:4]) == seen


def examined_in(row: Row) -> Examined:
    """What was found out then."""
    size, _, _, _, digest, kind, width, height, taken, offset, camera, trouble = row
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
    return Examined(sha256=digest, facts=facts)
