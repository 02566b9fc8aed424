"""The boxes of MP4 and QuickTime files: one walk for what a clip says of itself and for what it may not say.

ISO/IEC 14496-12 (boxes, `mvhd`, `tkhd`, `hdlr`); QuickTime File Format (Apple), metadata atoms `meta`,
`keys`, `ilst`, `udta`. A file is bounded before it is believed: boxes are walked, never loaded.
"""

from __future__ import annotations

from collections.abc import Iterator, Set
from dataclasses import dataclass
from typing import BinaryIO

CONTAINERS = frozenset(
    {"moov", "trak", "mdia", "minf", "stbl", "dinf", "edts", "udta", "meta", "ilst", "gmhd", "tref"}
    | {"moof", "traf", "mvex", "mfra"}
)
MOST_BOXES = 20_000
DEEPEST = 12


class BoxError(Exception):
    """The structure makes no sense; the message says where in plain words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """One box. `names` are its own and those around it from the outside in, four Latin-1 letters each;
    `start` and `end` bound its contents, in bytes of the file.
    """

    names: tuple[str, ...]
    start: int
    end: int

    @property
    def kind(self) -> str:
        """Its own name."""
        return self.names[-1]

    @property
    def path(self) -> str:
        """`moov/trak/tkhd`."""
        return "/".join(self.names)

    @property
    def bytes(self) -> int:
        """Length of the contents."""
        return self.end - self.start


def head_at(source: BinaryIO, at: int) -> tuple[int, str, int]:
    """(length of all, name, length of the head) of the box that begins at `at`; a length of 0 runs to the end."""
    source.seek(at)
    head = source.read(16)
    length, kind = int.from_bytes(head[:4], "big"), head[4:8].decode("latin-1")
    return (int.from_bytes(head[8:16], "big"), kind, 16) if length == 1 else (length, kind, 8)


def walk_boxes(source: BinaryIO) -> Iterator[Box]:
    """Every box of the file, outer before inner, in the order of the file. BoxError where it breaks off."""
    for number, box in enumerate(_walk(source, 0, source.seek(0, 2), ())):
        if number >= MOST_BOXES:
            raise BoxError("made of too many pieces")
        yield box


def _walk(source: BinaryIO, at: int, end: int, parent: tuple[str, ...]) -> Iterator[Box]:
    while at + 8 <= end:
        length, kind, head = head_at(source, at)
        if length == 0:
            # In a list QuickTime closes with four zero bytes; at the outermost level the box runs to the end.
            if parent:
                return
            length = end - at
        if length < head or at + length > end:
            raise BoxError("cut short")
        box = Box(names=(*parent, kind), start=at + head, end=at + length)
        yield box
        inner = _inner_start(source, box)
        if inner is not None:
            if len(box.names) >= DEEPEST:
                raise BoxError("nested too deeply")
            yield from _walk(source, inner, box.end, box.names)
        at += length


def _inner_start(source: BinaryIO, box: Box) -> int | None:
    """Where the boxes inside begin, None for a box that holds none."""
    if box.names[-2:-1] == ("ilst",):
        return box.start  # each item holds `data` boxes, whatever it is called
    if box.kind not in CONTAINERS:
        return None
    if box.kind != "meta":
        return box.start
    # ISO's `meta` begins with version and flags, QuickTime's does not: there a box follows at once.
    source.seek(box.start + 4)
    return box.start if source.read(4) in (b"hdlr", b"keys", b"mhdr") else box.start + 4


def read_box(source: BinaryIO, box: Box, most: int = 65_536) -> bytes:
    """The contents, at most `most` bytes of them."""
    source.seek(box.start)
    return source.read(min(box.bytes, most))


# -- whether a film may leave ---------------------------------------------------------------------

NEEDED = frozenset(
    {"ftyp", "moov", "mdat", "mvhd", "trak", "tkhd", "edts", "elst", "mdia", "mdhd", "hdlr", "minf", "vmhd", "smhd"}
    | {"dinf", "dref", "stbl", "stsd", "stts", "stss", "ctts", "stsc", "stsz", "stco", "co64", "sgpd", "sbgp"}
)
"""ISO/IEC 14496-12: what a film with a track of pictures and one of sound cannot do without."""

WITH_WORDS = frozenset({"tref", "chap", "gmhd", "gmin", "text", "nmhd"})
"""ISO/IEC 14496-12 and QuickTime File Format: what tracks of chapters and of subtitles need beside these."""

_HANDLERS = {b"", b"VideoHandler", b"SoundHandler"}
_TRACKS, _WORD_TRACKS = frozenset({b"vide", b"soun"}), frozenset({b"text", b"sbtl"})


def uncleanliness(source: BinaryIO, *, words: bool = False) -> tuple[str, ...]:
    """Everything in a film that need not be there, in words; empty where there is nothing. `words`: chapters and
    subtitles may stand in it.

    An allow-list: what is not on it is told, whatever it is. Asked of every film before it is kept, and
    of the very files before they are sent.
    """
    needed, tracks = (NEEDED | WITH_WORDS, _TRACKS | _WORD_TRACKS) if words else (NEEDED, _TRACKS)
    try:
        return tuple(found for box in walk_boxes(source) for found in _objections(source, box, needed, tracks))
    except BoxError as trouble:
        return (f"a film that is {trouble}",)


def _objections(source: BinaryIO, box: Box, needed: Set[str], tracks: Set[bytes]) -> Iterator[str]:
    if box.kind in ("free", "skip"):
        if read_box(source, box).strip(b"\0"):
            yield f"words in an empty box ({box.path})"
    elif box.kind not in needed:
        yield f"metadata ({box.path.encode('ascii', 'backslashreplace').decode()})"
    elif box.kind in ("mvhd", "tkhd", "mdhd"):
        data = read_box(source, box, 24)
        if any(data[4 : 20 if data[:1] == b"\x01" else 12]):
            yield f"a time of recording ({box.path})"
    elif box.kind == "hdlr":
        data = read_box(source, box, 200)
        if data[24:].strip(b"\0") not in _HANDLERS:
            yield f"a name ({box.path})"
        if data[8:12] not in tracks:
            yield f"a track that is neither pictures nor sound ({data[8:12].decode('latin-1')})"
