"""Whether a film may leave: nothing in its boxes but what is needed to show it.

An allow-list: what is not on it is told, whatever it is. Used on every film before it is kept, and
on the very files before they are sent.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import BinaryIO

from journal.media.clips.boxes import Box, BoxError, read_box, walk_boxes

NEEDED = frozenset(
    {"ftyp", "moov", "mdat", "mvhd", "trak", "tkhd", "edts", "elst", "mdia", "mdhd", "hdlr", "minf", "vmhd", "smhd"}
    | {"dinf", "dref", "stbl", "stsd", "stts", "stss", "ctts", "stsc", "stsz", "stco", "co64", "sgpd", "sbgp"}
)
"""ISO/IEC 14496-12: what a film with a track of pictures and one of sound cannot do without."""

_HANDLERS = {b"", b"VideoHandler", b"SoundHandler"}


def uncleanliness(source: BinaryIO) -> tuple[str, ...]:
    """Everything in a film that need not be there, in words; empty where there is nothing."""
    try:
        return tuple(found for box in walk_boxes(source) for found in _objections(source, box))
    except BoxError as trouble:
        return (f"a film that is {trouble}",)


def _objections(source: BinaryIO, box: Box) -> Iterator[str]:
    if box.kind in ("free", "skip"):
        if read_box(source, box).strip(b"\0"):
            yield f"words in an empty box ({box.path})"
    elif box.kind not in NEEDED:
        yield f"metadata ({box.path.encode('ascii', 'backslashreplace').decode()})"
    elif box.kind in ("mvhd", "tkhd", "mdhd"):
        data = read_box(source, box, 24)
        if any(data[4 : 20 if data[:1] == b"\x01" else 12]):
            yield f"a time of recording ({box.path})"
    elif box.kind == "hdlr":
        data = read_box(source, box, 200)
        if data[24:].strip(b"\0") not in _HANDLERS:
            yield f"a name ({box.path})"
        if data[8:12] not in (b"vide", b"soun"):
            yield f"a track that is neither pictures nor sound ({data[8:12].decode('latin-1')})"
