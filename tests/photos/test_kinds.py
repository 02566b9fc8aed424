"""What the first bytes of a picture say, and where its structure ends: by hand-made bytes, without a decoder."""

from __future__ import annotations

import io
import struct

import pytest

from journal.media.photos.kinds import (
    CUT_SHORT,
    DAMAGED,
    UNKNOWN,
    FileKind,
    UnusableError,
    check_whole,
    heif_turns_itself,
    jpeg_parts,
    read_png_exif,
    sniff,
    webp_size,
)


def tiff(order: str, tags: dict[int, int], gap: int = 0) -> bytes:
    """A TIFF with one directory of long values, `gap` bytes behind its head."""
    rows = b"".join(struct.pack(f"{order}HHII", tag, 4, 1, value) for tag, value in tags.items())
    head = (b"II*\0" if order == "<" else b"MM\0*") + struct.pack(f"{order}I", 8 + gap)
    return head + bytes(gap) + struct.pack(f"{order}H", len(tags)) + rows + bytes(4)


def brands(major: bytes, *others: bytes, behind: bytes = b"") -> bytes:
    """The first box of a file of boxes."""
    body = major + bytes(4) + b"".join(others)
    return struct.pack(">I", 8 + len(body)) + b"ftyp" + body + behind


HEADS: list[tuple[bytes, FileKind | None]] = [
    (b"", None),
    (b"Dear diary", None),
    (b"BMonday", None),
    (b"\xff\xd8\xff\xe1", FileKind.JPEG),
    (b"\xff\xd8", None),
    (b"\x89PNG\r\n\x1a\n", FileKind.PNG),
    (b"RIFF\0\0\0\0WEBP", FileKind.WEBP),
    (b"RIFF\0\0\0\0WAVE", None),
    (b"GIF87a", FileKind.GIF),
    (b"GIF89a", FileKind.GIF),
    (b"GIF90a", None),
    (b"\xff\x0a", FileKind.JPEG_XL),
    (b"\0\0\0\x0cJXL \r\n\x87\n", FileKind.JPEG_XL),
    *((b"BM" + bytes(12) + struct.pack("<I", length), FileKind.BMP) for length in (12, 40, 52, 56, 64, 108, 124)),
    (b"BM" + bytes(12) + struct.pack("<I", 41), None),
    *((brands(one), FileKind.HEIC) for one in (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"hevm", b"hevs")),
    *((brands(one), FileKind.HEIC) for one in (b"mif1", b"mif2", b"msf1")),
    (brands(b"mif1", b"heic"), FileKind.HEIC),
    (brands(b"mif1", b"miaf", b"avif"), FileKind.AVIF),
    (brands(b"avif", b"mif1"), FileKind.AVIF),
    (brands(b"avis", b"msf1"), FileKind.AVIF),
    (brands(b"avif", b"heic"), FileKind.HEIC),
    (brands(b"isom", b"mp42"), None),
    (brands(b"isom", b"mp42", behind=b"heicavif"), None),
    (b"FUJIFILMCCD-RAW ", FileKind.RAW),
    (b"IIRO", FileKind.RAW),
    (b"IIRS", FileKind.RAW),
    (b"MMOR", FileKind.RAW),
    (b"IIU\0", FileKind.RAW),
    (b"\0MRM", FileKind.RAW),
    (b"FOVb", FileKind.RAW),
    (b"II*\0\x10\0\0\0CR\x02\0", FileKind.RAW),
    (brands(b"crx "), FileKind.RAW),
    (b"II+\0", FileKind.TIFF),
    (b"MM\0+", FileKind.TIFF),
]
for _order in "<>":
    HEADS += [
        (tiff(_order, {256: 4}), FileKind.TIFF),
        (tiff(_order, {256: 4, 50706: 1}), FileKind.RAW),
        (tiff(_order, {50706: 1}, gap=100), FileKind.RAW),
        (tiff(_order, {254: 1, 256: 4, 330: 9}), FileKind.RAW),
        (tiff(_order, {254: 0, 256: 4, 330: 9}), FileKind.TIFF),
        (tiff(_order, {254: 2, 330: 9}), FileKind.TIFF),
        (tiff(_order, {254: 1, 256: 4}), FileKind.TIFF),
        (tiff(_order, {330: 9}), FileKind.TIFF),
    ]


@pytest.mark.parametrize(("head", "kind"), HEADS)
def test_the_first_bytes_say_what_it_is(head: bytes, kind: FileKind | None) -> None:
    """Each family with what else begins nearly so; of a TIFF the directory says whether it is a raw file."""
    if kind in (FileKind.TIFF, FileKind.RAW) and head[:2] == b"MM" and len(head) > 8:
        # The value of a long stands in all four bytes, the last of which is read.
        assert int.from_bytes(head[4:8], "big") >= 8
    assert sniff(io.BytesIO(head)) is kind


def box(name: bytes, body: bytes = b"", *, wide: bool = False) -> bytes:
    """A box, with the long form of its length where asked for."""
    if wide:
        return struct.pack(">I", 1) + name + struct.pack(">Q", 16 + len(body)) + body
    return struct.pack(">I", 8 + len(body)) + name + body


TURN = struct.pack(">I", 9) + b"irot\1"
MIRROR = struct.pack(">I", 9) + b"imir\0"


@pytest.mark.parametrize(
    ("data", "turns"),
    [
        (brands(b"heic") + box(b"meta", TURN), True),
        (brands(b"heic") + box(b"meta", MIRROR), True),
        (brands(b"heic") + box(b"meta", box(b"ispe", bytes(12)) + TURN), True),
        (brands(b"heic") + box(b"free", bytes(3)) + box(b"meta", TURN, wide=True), True),
        (box(b"free", bytes(40), wide=True) + box(b"meta", TURN), True),
        (brands(b"heic") + struct.pack(">I", 0) + b"meta" + TURN, True),
        (brands(b"heic") + box(b"meta", b"irot") + box(b"mdat", TURN), False),
        (brands(b"heic") + box(b"mdat", TURN), False),
        (struct.pack(">I", 7) + b"free" + box(b"meta", TURN), False),
        (brands(b"heic"), False),
        (b"", False),
    ],
)
def test_a_picture_that_turns_itself_is_known(data: bytes, turns: bool) -> None:
    """A rotation or a mirroring in the box that tells of it, wherever that stands; words elsewhere are none."""
    assert heif_turns_itself(io.BytesIO(data)) is turns


@pytest.mark.parametrize(
    ("chunk", "size"),
    [
        (b"VP8X" + bytes(8) + (4000 - 1).to_bytes(3, "little") + (70_000 - 1).to_bytes(3, "little"), (4000, 70_000)),
        (b"VP8L" + bytes(4) + b"\x2f" + (2999 | 1999 << 14 | 1 << 28).to_bytes(4, "little"), (3000, 2000)),
        (b"VP8L" + bytes(4) + b"\x2f" + (0x3FFF | 0x3FFF << 14).to_bytes(4, "little"), (16_384, 16_384)),
        (b"VP8 " + bytes(10) + struct.pack("<HH", 3000 | 1 << 14, 2000 | 3 << 14), (3000, 2000)),
        (b"VP8 " + bytes(10) + struct.pack("<HH", 16_383, 16_383), (16_383, 16_383)),
    ],
)
def test_the_size_of_a_webp_stands_in_its_first_chunk(chunk: bytes, size: tuple[int, int]) -> None:
    """RFC 9649: extended, lossless and plain, whose sides share their bytes with other figures."""
    assert webp_size(io.BytesIO(b"RIFF\0\0\0\0WEBP" + chunk + b"more")) == size
    for less in (chunk[:-1], b"ALPH" + chunk[4:]):
        with pytest.raises(UnusableError, match=DAMAGED):
            webp_size(io.BytesIO(b"RIFF\0\0\0\0WEBP" + less))


def part(marker: int, body: bytes = b"") -> bytes:
    """A part of a JPEG."""
    return bytes((0xFF, marker)) + struct.pack(">H", 2 + len(body)) + body


SCAN = part(0xDA, b"head") + b"pixels\xff\x00\xff\xd3 more"
START, END = b"\xff\xd8", b"\xff\xd9"


@pytest.mark.parametrize(
    ("data", "trouble"),
    [
        (START + part(0xE1, b"Exif") + SCAN + END, ""),
        (START + SCAN + END + b"a film behind it", ""),
        (START + SCAN + b"\xff\xff\xff" + END, ""),
        (START + SCAN * 1000 + END, ""),
        (START + SCAN * 1001 + END, UNKNOWN),
        (START + part(0xE1, b"Exif") + END, UNKNOWN),
        (START + SCAN, CUT_SHORT),
        (START + part(0xE1, b"Exif")[:-1], CUT_SHORT),
        (START, CUT_SHORT),
        (START + SCAN[:12] + START + SCAN + END, ""),
    ],
)
def test_a_jpeg_is_whole_from_start_to_end(data: bytes, trouble: str) -> None:
    """ITU-T T.81: parts with lengths, pixels in which some markers stand, an end; what follows does not matter."""
    if not trouble:
        check_whole(FileKind.JPEG, io.BytesIO(data))
        return
    with pytest.raises(UnusableError, match=trouble):
        check_whole(FileKind.JPEG, io.BytesIO(data))


def test_the_parts_of_a_jpeg_are_told_with_their_places() -> None:
    """From the start marker on; fill bytes are passed over, and nothing behind the end is looked at."""
    data = START + part(0xE1, b"Exif") + b"\xff" + SCAN + END + part(0xE2)
    told = [(marker, data[begin:end]) for marker, begin, end in jpeg_parts(data)]
    assert told == [(0xD8, START), (0xE1, part(0xE1, b"Exif")), (0xDA, part(0xDA, b"head")), (0xD9, END)]


def chunk(name: bytes, body: bytes = b"") -> bytes:
    """A chunk of a PNG, whose sum nobody looks at here."""
    return struct.pack(">I", len(body)) + name + body + b"sum."


PNG = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", bytes(13))


@pytest.mark.parametrize(
    ("data", "exif"),
    [
        (PNG + chunk(b"IDAT", b"pixels") + chunk(b"IEND"), None),
        (PNG + chunk(b"eXIf", b"one") + chunk(b"IDAT", b"pixels") + chunk(b"IEND"), b"one"),
        (PNG + chunk(b"IDAT", b"pixels") + chunk(b"eXIf", b"two") + chunk(b"IEND") + chunk(b"eXIf", b"no"), b"two"),
    ],
)
def test_a_png_is_walked_to_its_end(data: bytes, exif: bytes | None) -> None:
    """Exif before or behind the pixels, not behind the end; without the end it is cut short, wherever that is."""
    assert read_png_exif(io.BytesIO(data)) == exif
    end = data.index(b"IEND") + 8
    for less in range(8, end, 5):
        with pytest.raises(UnusableError, match=CUT_SHORT):
            read_png_exif(io.BytesIO(data[:less]))


@pytest.mark.parametrize(
    ("kind", "data", "cut"),
    [
        (FileKind.HEIC, brands(b"heic") + box(b"meta", b"m") + box(b"mdat", bytes(9)), True),
        (FileKind.AVIF, brands(b"avif") + box(b"mdat", bytes(9), wide=True), True),
        (FileKind.HEIC, brands(b"heic") + box(b"mdat", bytes(9)) + box(b"samt", bytes(9)), False),
        (FileKind.HEIC, brands(b"heic") + struct.pack(">I", 0) + b"mdat" + bytes(9), False),
        (FileKind.WEBP, b"RIFF" + struct.pack("<I", 9) + b"WEBPVP8 x", True),
        (FileKind.GIF, b"GIF89a", False),
    ],
)
def test_boxes_reach_to_the_end_that_they_tell(kind: FileKind, data: bytes, cut: bool) -> None:
    """One byte less is cut short, but in what a maker appended, or in a last box that runs to the end."""
    check_whole(kind, io.BytesIO(data))
    check_whole(kind, io.BytesIO(data + b"x"))
    if cut:
        with pytest.raises(UnusableError, match=CUT_SHORT):
            check_whole(kind, io.BytesIO(data[:-1]))
    else:
        check_whole(kind, io.BytesIO(data[:-1]))
