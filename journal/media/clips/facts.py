"""What the original of a clip says about itself; for the record, never for the site."""

from __future__ import annotations

import contextlib
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import BinaryIO

from journal.base.text_files import printable_line
from journal.media.boxes import BoxError, read_box, walk_boxes
from journal.media.clips.look import Container, look_at, sniff_container
from journal.media.clips.program import NOT_A_CLIP, UNREADABLE, FilmError
from journal.media.photos.facts import LONGEST_TEXT, camera_name, moment_of
from journal.media.photos.kinds import EMPTY

_QUICKTIME_DAY_ONE = datetime(1904, 1, 1, tzinfo=UTC)
_YEARS = range(1990, 2101)
"""Of a container that tells another, the clock was never set."""
_DATED = re.compile(r"(\d{4})-(\d\d)-(\d\d)T(\d\d):(\d\d):(\d\d)(?:\.\d+)?([+-]\d\d):?(\d\d)", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipFacts:
    """`taken` is local time by the camera's own word, with `offset`; `taken_utc` the time of the container,
    which is UTC by the book and says nothing of where. `live` tells that it is the moving part of
    a still picture. `trouble` is empty, or says why the file cannot be used.
    """

    seconds: int = 0
    taken: datetime | None = None
    offset: str | None = None
    taken_utc: datetime | None = None
    camera: str = ""
    live: bool = False
    trouble: str = ""


def clip_facts(path: Path) -> ClipFacts:
    """Facts of the original at `path`, whatever its container; never raises for what is there."""
    try:
        with path.open("rb") as source:
            if sniff_container(source) in (None, Container.BOXES):
                return read_clip_facts(source)
            if _is_cut_short(source):
                return ClipFacts(trouble="the film is cut short")
        look = look_at(path)
    except OSError:
        return ClipFacts(trouble=UNREADABLE)
    except FilmError as trouble:
        return ClipFacts(trouble=str(trouble))
    made = None
    with contextlib.suppress(ValueError):
        made = datetime.fromisoformat(look.made)
    return ClipFacts(
        seconds=int(look.seconds or 0),
        taken_utc=made if made and made.tzinfo and made.year in _YEARS else None,
    )


def _is_cut_short(source: BinaryIO) -> bool:
    """Whether a RIFF file ends before its first list says; its length says nothing of lists that follow."""
    source.seek(0)
    head = source.read(8)
    return head[:4] == b"RIFF" and int.from_bytes(head[4:], "little") + 8 > source.seek(0, 2)


def read_clip_facts(source: BinaryIO) -> ClipFacts:
    """Facts of an open film made of boxes (MP4, QuickTime, 3GP); never raises for what is in it."""
    if not source.seek(0, 2):
        return ClipFacts(trouble=EMPTY)
    if sniff_container(source) is not Container.BOXES:
        return ClipFacts(trouble=NOT_A_CLIP)
    seconds, made = None, None
    keys: list[str] = []
    texts: dict[str, str] = {}
    try:
        for box in walk_boxes(source):
            if box.path == "moov/mvhd":
                seconds, made = _read_movie_header(read_box(source, box, 120))
            elif box.kind == "keys":
                keys = _read_keys(read_box(source, box))
            elif box.kind == "data" and box.names[-3:-2] == ("ilst",):
                number = int.from_bytes(box.names[-2].encode("latin-1"), "big")
                name = keys[number - 1] if 1 <= number <= len(keys) else box.names[-2]
                texts[name] = read_box(source, box, 1000)[8:].decode("utf-8", "replace").strip()
            elif box.names[:2] == ("moov", "udta") and box.kind.startswith("\xa9") and len(box.names) == 3:
                texts.setdefault(box.kind, read_box(source, box, 1000)[4:].decode("utf-8", "replace").strip())
    except BoxError as trouble:
        return ClipFacts(trouble=f"the film is {trouble}")
    if seconds is None:
        return ClipFacts(trouble=NOT_A_CLIP)
    taken, offset = _read_date(texts.get("com.apple.quicktime.creationdate") or texts.get("\xa9day", ""))
    make = texts.get("com.apple.quicktime.make") or texts.get("\xa9mak", "")
    model = texts.get("com.apple.quicktime.model") or texts.get("\xa9mod", "")
    return ClipFacts(
        seconds=seconds,
        taken=taken,
        offset=offset,
        taken_utc=made if made and made.year in _YEARS else None,
        camera=printable_line(camera_name(make, model), LONGEST_TEXT),
        live="com.apple.quicktime.content.identifier" in texts,
    )


def _read_movie_header(data: bytes) -> tuple[int, datetime | None]:
    """(length in seconds, when it was made)."""
    wide = data[:1] == b"\x01"
    made = int.from_bytes(data[4:12] if wide else data[4:8], "big")
    scale = int.from_bytes(data[20:24] if wide else data[12:16], "big")
    length = int.from_bytes(data[24:32] if wide else data[16:20], "big")
    try:
        day = _QUICKTIME_DAY_ONE + timedelta(seconds=made) if made else None
    except OverflowError:
        day = None
    return length // scale if scale else 0, day


def _read_keys(data: bytes) -> list[str]:
    """Names of the metadata keys, in order: the items of `ilst` go by their numbers."""
    names, at = [], 8
    while at + 8 <= len(data):
        length = int.from_bytes(data[at : at + 4], "big")
        if length < 8:
            break
        names.append(data[at + 8 : at + length].decode("utf-8", "replace"))
        at += length
    return names


def _read_date(text: str) -> tuple[datetime | None, str | None]:
    found = _DATED.match(text)
    taken = moment_of(found)
    return taken, f"{found[7]}:{found[8]}" if found and taken else None
