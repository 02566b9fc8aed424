"""What the original of a clip says about itself; for the record, never for the site."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import BinaryIO

from journal.media.boxes import Box, BoxError, read_box, walk_boxes

_QUICKTIME_DAY_ONE = datetime(1904, 1, 1, tzinfo=UTC)
_BRANDLESS = (b"moov", b"mdat", b"wide", b"free", b"skip", b"pnot")
_DATED = re.compile(r"(\d{4})-(\d\d)-(\d\d)T(\d\d):(\d\d):(\d\d)(?:\.\d+)?([+-]\d\d):?(\d\d)", re.ASCII)
NOT_A_CLIP = "not a short film that can be read here"


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipFacts:
    """`taken` is local time by the camera's own word, with `offset`; `taken_utc` the time of the container,
    which is UTC by the book and says nothing of where. `live` tells that it is the moving part of
    a still picture. `trouble` is empty, or says why the file cannot be used.
    """

    width: int = 0
    height: int = 0
    seconds: int = 0
    taken: datetime | None = None
    offset: str | None = None
    taken_utc: datetime | None = None
    camera: str = ""
    live: bool = False
    trouble: str = ""


def looks_like_clip(head: bytes) -> bool:
    """Whether the first twelve bytes are those of MP4 or QuickTime."""
    return head[4:8] == b"ftyp" or head[4:8] in _BRANDLESS


def read_clip_facts(source: BinaryIO) -> ClipFacts:
    """Facts of an open original; never raises for what is in it."""
    source.seek(0)
    head = source.read(12)
    if not head:
        return ClipFacts(trouble="the file is empty")
    if not looks_like_clip(head):
        return ClipFacts(trouble=NOT_A_CLIP)
    told = _Told()
    try:
        for box in walk_boxes(source):
            told.hear(source, box)
    except BoxError as trouble:
        return ClipFacts(trouble=f"the film is {trouble}")
    if not told.film:
        return ClipFacts(trouble=NOT_A_CLIP)
    return told.facts()


class _Told:
    """Gathers what matters while the boxes go by."""

    def __init__(self) -> None:
        self.film = False
        self.size = (0, 0)
        self.seconds = 0
        self.utc: datetime | None = None
        self.keys: list[str] = []
        self.texts: dict[str, str] = {}

    def hear(self, source: BinaryIO, box: Box) -> None:
        if box.path == "moov/mvhd":
            self.film = True
            self._movie_header(read_box(source, box, 120))
        elif box.path == "moov/trak/tkhd":
            self._track_header(read_box(source, box, 120))
        elif box.kind == "keys":
            self.keys = _read_keys(read_box(source, box))
        elif box.kind == "data" and box.names[-3:-2] == ("ilst",):
            item = box.names[-2]
            number = int.from_bytes(item.encode("latin-1"), "big")
            name = self.keys[number - 1] if 1 <= number <= len(self.keys) else item
            self.texts[name] = read_box(source, box, 1000)[8:].decode("utf-8", "replace").strip()
        elif box.names[:2] == ("moov", "udta") and box.kind.startswith("\xa9") and len(box.names) == 3:
            self.texts.setdefault(box.kind, read_box(source, box, 1000)[4:].decode("utf-8", "replace").strip())

    def _movie_header(self, data: bytes) -> None:
        wide = data[:1] == b"\x01"
        made = int.from_bytes(data[4:12] if wide else data[4:8], "big")
        scale = int.from_bytes(data[20:24] if wide else data[12:16], "big")
        length = int.from_bytes(data[24:32] if wide else data[16:20], "big")
        self.seconds = length // scale if scale else 0
        if made:
            try:
                self.utc = _QUICKTIME_DAY_ONE + timedelta(seconds=made)
            except OverflowError:
                self.utc = None

    def _track_header(self, data: bytes) -> None:
        shift = 12 if data[:1] == b"\x01" else 0
        width, height = (int.from_bytes(data[at + shift : at + shift + 2], "big") for at in (76, 80))
        turned = data[40 + shift : 44 + shift] == bytes(4)  # the first number of the matrix: a quarter turn
        if width and height:
            self.size = (height, width) if turned else (width, height)

    def facts(self) -> ClipFacts:
        taken, offset = _read_date(self.texts.get("com.apple.quicktime.creationdate") or self.texts.get("\xa9day", ""))
        make = self.texts.get("com.apple.quicktime.make") or self.texts.get("\xa9mak", "")
        model = self.texts.get("com.apple.quicktime.model") or self.texts.get("\xa9mod", "")
        camera = model if model.casefold().startswith(make.casefold()) else f"{make} {model}"
        return ClipFacts(
            width=self.size[0],
            height=self.size[1],
            seconds=self.seconds,
            taken=taken,
            offset=offset,
            taken_utc=self.utc if self.utc and self.utc.year >= 1990 else None,
            camera=" ".join("".join(char if char.isprintable() else " " for char in camera).split())[:80],
            live="com.apple.quicktime.content.identifier" in self.texts,
        )


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
    if not found:
        return None, None
    try:
        taken = datetime(*(int(number) for number in found.groups()[:6]))  # type: ignore[arg-type]
    except ValueError:
        return None, None
    return taken, f"{found[7]}:{found[8]}"
