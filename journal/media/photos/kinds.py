"""What files really are, judged by their content, and whether they are whole.

The checks here read structure only (segments, chunks, boxes), so they cost a few milliseconds and need no
decoder; what only a decoder can find is found when the picture is rendered.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from enum import Enum
from typing import BinaryIO, Literal

from journal.media.boxes import head_at

MOST_PIXELS = 200_000_000
"""Above this a picture is refused before anything is decoded. Phones reach 199.8 million (16320 x 12240)."""

MISSING = "the file is missing"
NOT_A_FILE = "this is not a file"
FORBIDDEN = "the file may not be read"
LOOP = "the file is a link that leads round in a circle"
UNREADABLE = "the file cannot be read from the disk"
CHANGED = "the file changed while it was being read"
EMPTY = "the file is empty"
CUT_SHORT = "the file is cut short"
UNKNOWN = "not a picture that can be read here"
NO_PREVIEW = "the raw file holds no preview that can be shown"
TOO_LARGE = "the picture is larger than 200 megapixels"
DAMAGED = "the picture is damaged"
NO_MEMORY = "there is not enough memory to read the picture"
HOLLOW = "the file claims a huge picture and holds next to nothing"
NOTHING_LEFT = "what `crop` keeps of it is too small to be seen"
TOO_LONG = "reading it takes far longer than a picture of its size does"
CRASHED = "it makes the program that reads pictures crash"
STOPPED = "reading it was stopped from outside, perhaps for want of memory"
NOT_STARTED = "the program that reads pictures could not be started"

TRY_AGAIN = "try again"


def mend_of(trouble: str) -> str:
    """What helps against one of these troubles, empty against none."""
    if not trouble:
        return ""
    if trouble == UNKNOWN:
        return "open it: save a picture as JPEG beside it; if it is none, copy the picture from phone or camera again"
    if trouble == NO_PREVIEW or trouble.startswith(UNKNOWN):
        return "the file is kept and archived; to show it, save it as JPEG beside it"
    if trouble == NOTHING_LEFT:
        return "let `crop` keep more"
    if trouble == TOO_LARGE:
        return "the file is kept and archived; to show it, save a smaller copy beside it"
    if trouble in {CRASHED, TOO_LONG, NO_MEMORY, HOLLOW, DAMAGED}:
        return "put a good copy in its place, or open it with another program and save it anew"
    return TRY_AGAIN if trouble in {STOPPED, NOT_STARTED} else "put a good copy in its place"


class FileKind(Enum):
    """The families of picture that are read; the value is how a reader is told. Of a raw file its preview is read."""

    JPEG = "JPEG"
    HEIC = "HEIC"
    PNG = "PNG"
    WEBP = "WebP"
    TIFF = "TIFF"
    AVIF = "AVIF"
    GIF = "GIF"
    BMP = "BMP"
    JPEG_XL = "JPEG XL"
    RAW = "raw"


class UnusableError(Exception):
    """Raised inside this package only: the file cannot be used, and the text says why in plain words."""


# ISO/IEC 23008-12, 10: brands of still pictures coded with HEVC. `mif1` and `msf1` name the
# container alone, which other coders (AV1) use as well, so those need a second brand to decide.
_HEIC_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"hevm", b"hevs"}
_HEIF_BRANDS = {b"mif1", b"mif2", b"msf1"}
_AV1_BRANDS = {b"avif", b"avis"}


def sniff(source: BinaryIO) -> FileKind | None:
    """What the first bytes of an open file say it is, or None where it is nothing that is read."""
    source.seek(0)
    head = source.read(64)
    if head.startswith(_RAW_HEADS) or head[8:10] == b"CR" or head[8:12] == b"crx " or _is_raw_tiff(source):
        return FileKind.RAW
    if head.startswith(b"\xff\xd8\xff"):
        return FileKind.JPEG
    if head.startswith(b"\x89PNG\r\n\x1a\n"):
        return FileKind.PNG
    if head.startswith(b"RIFF") and head[8:12] == b"WEBP":
        return FileKind.WEBP
    if head[:4] in {b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"}:
        return FileKind.TIFF
    if head[4:8] == b"ftyp":
        brands = {
            head[8:12],
            *(head[at : at + 4] for at in range(16, min(len(head), int.from_bytes(head[:4], "big")), 4)),
        }
        if brands & _HEIC_BRANDS or (brands & _HEIF_BRANDS and not brands & _AV1_BRANDS):
            return FileKind.HEIC
        return FileKind.AVIF if brands & _AV1_BRANDS else None
    if head[:6] in {b"GIF87a", b"GIF89a"}:
        return FileKind.GIF
    if head.startswith((b"\xff\x0a", b"\0\0\0\x0cJXL \r\n\x87\n")):
        return FileKind.JPEG_XL
    # The length of the header follows the offset of the pixels: "BM" alone begins many a text.
    return FileKind.BMP if head.startswith(b"BM") and head[14:18] in _BMP_HEADERS else None


_BMP_HEADERS = {length.to_bytes(4, "little") for length in (12, 40, 52, 56, 64, 108, 124)}
_RAW_HEADS = (b"FUJIFILMCCD-RAW", b"IIRO", b"IIRS", b"MMOR", b"IIU\0", b"\0MRM", b"FOVb")
"""What raw files begin with that are no TIFF: RAF, ORF, RW2, MRW, X3F (from memory)."""


def _is_raw_tiff(source: BinaryIO) -> bool:
    """Whether a TIFF is a raw file: it tells a DNG version (50706 in DNG 1.6), or its first directory is that of a
    small picture (254) and leads to others (330), as TIFF/EP has it (ISO 12234-2, from memory).
    """
    source.seek(0)
    head = source.read(8)
    order: Literal["little", "big"] = "little" if head[:2] == b"II" else "big"
    if head[:4] not in {b"II*\0", b"MM\0*"}:
        return False
    source.seek(int.from_bytes(head[4:], order))
    count = int.from_bytes(source.read(2), order)
    rows = source.read(12 * count)
    tags = {int.from_bytes(rows[at : at + 2], order): rows[at + 8 : at + 12] for at in range(0, len(rows) - 11, 12)}
    return 50706 in tags or (330 in tags and bool(int.from_bytes(tags.get(254, b""), order) & 1))


_TURNS_ITSELF = re.compile(rb"\0\0\0\x09(?:irot|imir)", re.DOTALL)


def heif_turns_itself(source: BinaryIO) -> bool:
    """Whether a HEIF file holds a rotation or a mirroring (`irot`, `imir`: ISO/IEC 23008-12, 6.5.10 and 6.5.12)."""
    at, end = 0, size_of(source)
    while at + 8 <= end:
        length, name, head = head_at(source, at)
        if name == "meta":
            source.seek(at + head)
            return _TURNS_ITSELF.search(source.read(min(max(length, 0) or end, 1_000_000))) is not None
        if length < head:
            break
        at += length
    return False


def check_whole(kind: FileKind, source: BinaryIO) -> None:
    """Raise `UnusableError` where the structure ends before it should. Bytes after the end do not matter.

    For TIFF that takes the directory, see `decode.check_whole`.
    """
    if kind is FileKind.JPEG:
        source.seek(0)
        _check_jpeg(source.read())
    elif kind is FileKind.PNG:
        read_png_exif(source)
    elif kind is FileKind.WEBP:
        source.seek(4)
        if int.from_bytes(source.read(4), "little") + 8 > size_of(source):
            raise UnusableError(CUT_SHORT)
    elif kind in {FileKind.HEIC, FileKind.AVIF}:
        _check_boxes(source)


def size_of(source: BinaryIO) -> int:
    """Length in bytes of an open file."""
    return source.seek(0, 2)


def webp_size(source: BinaryIO) -> tuple[int, int]:
    """Width and height from the first chunk (RFC 9649, 2.5 to 2.7), before any decoder sees the file."""
    source.seek(12)
    head = source.read(18)
    name, body = head[:4], head[8:]
    if name == b"VP8X" and len(body) >= 10:
        return int.from_bytes(body[4:7], "little") + 1, int.from_bytes(body[7:10], "little") + 1
    if name == b"VP8L" and len(body) >= 5:
        bits = int.from_bytes(body[1:5], "little")
        return (bits & 0x3FFF) + 1, (bits >> 14 & 0x3FFF) + 1
    if name == b"VP8 " and len(body) >= 10:
        sides = int.from_bytes(body[6:8], "little"), int.from_bytes(body[8:10], "little")
        return sides[0] & 0x3FFF, sides[1] & 0x3FFF
    raise UnusableError(DAMAGED)


_NEXT_MARKER = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")
_WITHOUT_LENGTH = {0x01, 0xD8, 0xD9}
_MOST_SCANS = 1000  # a progressive picture has about ten; thousands are made to keep a decoder busy


def jpeg_parts(data: bytes) -> Iterator[tuple[int, int, int]]:
    """(marker, begin, end) of every part from the start marker on, in the order of the file, the end marker last
    (ITU-T T.81, B.1). `end` may lie beyond the file. Pixels follow part 0xDA and belong to none.

    What stands between parts is passed over; without an end marker the last part is the last that was found.
    """
    at = 0
    while found := _NEXT_MARKER.search(data, at):
        marker, at = data[found.start() + 1], found.end()
        if marker not in _WITHOUT_LENGTH:
            at += max(int.from_bytes(data[at : at + 2], "big"), 2)
        yield marker, found.start(), at
        if marker == 0xD9:
            return


def _check_jpeg(data: bytes) -> None:
    """Pillow alone does not notice all of this: a picture cut off in front of bytes that a phone
    appends (a short film with pictures of its own) would be read on into the next picture.
    """
    scans = marker = 0
    for marker, _, end in jpeg_parts(data):
        scans += marker == 0xDA
        if end > len(data):
            raise UnusableError(CUT_SHORT)
        if scans > _MOST_SCANS:
            raise UnusableError(UNKNOWN)
    if marker != 0xD9 or not scans:
        raise UnusableError(UNKNOWN if marker == 0xD9 else CUT_SHORT)


def read_png_exif(source: BinaryIO) -> bytes | None:
    """Walk the chunks of a PNG to its end and return the eXIf chunk, wherever it stands.

    Pillow finds one that follows the pixels only after decoding them all. PNG, third edition, 5.3 and 11.3.3.
    """
    end, at, exif = size_of(source), 8, None
    while at + 12 <= end:
        source.seek(at)
        head = source.read(8)
        length, name = int.from_bytes(head[:4], "big"), head[4:]
        if at + 12 + length > end:
            break
        if name == b"eXIf":
            exif = source.read(length)
        if name == b"IEND":
            return exif
        at += 12 + length
    raise UnusableError(CUT_SHORT)


_OUTERMOST = {"ftyp", "meta", "mdat", "moov", "free", "skip", "uuid", "idat"}


def _check_boxes(source: BinaryIO) -> None:
    """Walk the outermost boxes (ISO/IEC 14496-12, 4.2); one that reaches past the end is cut short."""
    end, at = size_of(source), 0
    while at + 8 <= end:
        length, name, _ = head_at(source, at)
        if name not in _OUTERMOST or length < 8:
            return  # the last box, or something appended by a maker; the decoder will say what it misses
        if at + length > end:
            raise UnusableError(CUT_SHORT)
        at += length
