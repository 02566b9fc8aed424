"""Pictures for tests, written by other libraries or byte by byte, and a reader of JPEG of its own."""

from __future__ import annotations

import io
import struct
import zlib
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import piexif
from PIL import Image

from journal.base.model import UNEDITED, Corner, Edits, PhotoSettings
from journal.media.photos import PhotoStore, Picture, PictureJob

RED, GREEN, BLUE, YELLOW = (220, 30, 30), (30, 160, 60), (40, 60, 200), (230, 210, 40)

SECRETS = (b"DEMO-0001", b"SECRET", b"Pocket 5", b"Exif\0\0", b"Photoshop 3.0", b"ICC_PROFILE", b"MPF\0")
"""Byte strings that stand in the originals made here and in no rendition."""


def quartered(width: int = 96, height: int = 64) -> Image.Image:
    """Upright: red upper left, green upper right, blue lower left, yellow lower right."""
    image = Image.new("RGB", (width, height))
    half = (width // 2, height // 2)
    for colour, at in (
        (RED, (0, 0)),
        (GREEN, (half[0], 0)),
        (BLUE, (0, half[1])),
        (YELLOW, half),
    ):
        image.paste(colour, (*at, width, height))
    return image


def quarters(image: Image.Image) -> list[str]:
    """The names of the four quarters' colours, in reading order; the nearest of the four each."""
    named = {"red": RED, "green": GREEN, "blue": BLUE, "yellow": YELLOW}
    width, height = image.size
    found = []
    for y in (height // 4, 3 * height // 4):
        for x in (width // 4, 3 * width // 4):
            seen = image.convert("RGB").getpixel((x, y))
            found.append(min(named, key=lambda name: sum(abs(a - b) for a, b in zip(named[name], seen, strict=True))))
    return found


UPRIGHT = ["red", "green", "blue", "yellow"]

_SIDES = {
    1: ("top", "left"),
    2: ("top", "right"),
    3: ("bottom", "right"),
    4: ("bottom", "left"),
    5: ("left", "top"),
    6: ("right", "top"),
    7: ("right", "bottom"),
    8: ("left", "bottom"),
}
"""Exif 2.32, table of tag 274: the side of the visual picture where row 0 and column 0 lie."""


def stored(upright: Image.Image, orientation: int) -> Image.Image:
    """The pixels as a camera would store them under this orientation, from the words of the standard."""
    pixels = np.asarray(upright)
    height, width = pixels.shape[:2]
    row_side, column_side = _SIDES[orientation]
    if row_side in {"top", "bottom"}:
        ys = np.arange(height) if row_side == "top" else np.arange(height)[::-1]
        xs = np.arange(width) if column_side == "left" else np.arange(width)[::-1]
        return Image.fromarray(pixels[ys][:, xs])
    xs = np.arange(width) if row_side == "left" else np.arange(width)[::-1]
    ys = np.arange(height) if column_side == "top" else np.arange(height)[::-1]
    return Image.fromarray(np.swapaxes(pixels[:, xs][ys], 0, 1))


def camera_exif(
    *,
    orientation: int | None = 1,
    taken: bytes | None = b"2026:02:07 10:33:50",
    offset: bytes | None = b"+01:00",
    make: bytes = b"Example",
    model: bytes = b"Pocket 5",
    **more: Any,
) -> bytes:
    """Exif as a phone writes it, by piexif: place, serial number and a preview included.

    `more` goes into the Exif directory by piexif's names; a value of None takes a tag away.
    """
    preview = io.BytesIO()
    Image.new("RGB", (16, 12), RED).save(preview, "JPEG", comment=b"SECRET preview")
    main = {piexif.ImageIFD.Make: make, piexif.ImageIFD.Model: model, piexif.ImageIFD.Software: b"SECRET"}
    if orientation is not None:
        main[piexif.ImageIFD.Orientation] = orientation
    inner: dict[int, Any] = {
        piexif.ExifIFD.BodySerialNumber: b"DEMO-0001",
        piexif.ExifIFD.ExposureTime: (1, 60),
    }
    if taken is not None:
        inner[piexif.ExifIFD.DateTimeOriginal] = taken
    if offset is not None:
        inner[piexif.ExifIFD.OffsetTimeOriginal] = offset
    for name, value in more.items():
        tag = getattr(piexif.ExifIFD, name)
        inner.pop(tag, None)
        if value is not None:
            inner[tag] = value
    place = {
        piexif.GPSIFD.GPSLatitudeRef: b"N",
        piexif.GPSIFD.GPSLatitude: ((0, 1), (0, 1), (3672, 100)),
        piexif.GPSIFD.GPSProcessingMethod: b"SECRET",
    }
    thumbnail = {piexif.ImageIFD.Compression: 6}
    parts = {"0th": main, "Exif": inner, "GPS": place, "1st": thumbnail, "thumbnail": preview.getvalue()}
    return piexif.dump(parts)


def encoded(image: Image.Image, kind: str, **options: Any) -> bytes:
    """The bytes of a picture; `kind` is Pillow's name of the format."""
    out = io.BytesIO()
    defaults: dict[str, Any] = {"JPEG": {"quality": 95, "subsampling": 0}, "WEBP": {"quality": 95}}.get(kind, {})
    image.save(out, kind, **(defaults | options))
    return out.getvalue()


def png(width: int, height: int, depth: int, colour_type: int, rows: bytes, *more: tuple[bytes, bytes]) -> bytes:
    """A PNG byte by byte: `rows` are unfiltered samples, `more` chunks go in front of the pixels."""
    stride = len(rows) // height if height else 0
    lines = b"".join(b"\0" + rows[at : at + stride] for at in range(0, len(rows), stride or 1))
    chunks = [
        (b"IHDR", struct.pack(">IIBBBBB", width, height, depth, colour_type, 0, 0, 0)),
        *more,
        (b"IDAT", zlib.compress(lines)),
        (b"IEND", b""),
    ]
    out = b"\x89PNG\r\n\x1a\n"
    for name, body in chunks:
        out += struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
    return out


def jpeg_segments(data: bytes) -> tuple[list[tuple[int, bytes]], bytes]:
    """Markers with their bodies up to the end marker, and whatever follows it (ITU-T T.81, annex B)."""
    assert data[:2] == b"\xff\xd8"
    segments, at = [], 2
    while True:
        assert data[at] == 0xFF, f"no marker at {at}"
        marker = data[at + 1]
        if marker == 0xD9:
            return segments, data[at + 2 :]
        length = int.from_bytes(data[at + 2 : at + 4], "big")
        segments.append((marker, data[at + 4 : at + 2 + length]))
        at += 2 + length
        if marker == 0xDA:
            while not (data[at] == 0xFF and data[at + 1] != 0 and not 0xD0 <= data[at + 1] <= 0xD7):
                at += 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Rendered:
    """What became of one original: the picture and its bytes, smallest first."""

    picture: Picture
    data: tuple[bytes, ...]

    @property
    def images(self) -> list[Image.Image]:
        """All sizes, decoded, smallest first."""
        return [Image.open(io.BytesIO(data)) for data in self.data]

    @property
    def largest(self) -> Image.Image:
        """The largest size, decoded."""
        return self.images[-1].convert("RGB")


def render(
    folder: Path,
    data: bytes,
    name: str = "IMG_1.jpg",
    *,
    watermark: str = "",
    corner: Corner = Corner.LOWER_RIGHT,
    opacity: str = "0.6",
    caption: str = "",
    credit: str = "",
    edits: Edits = UNEDITED,
) -> Rendered:
    """Write an original below `folder`, examine and render it as a build does."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_bytes(data)
    store = PhotoStore(folder, folder / ".journal" / "photos")
    job = PictureJob(
        src_uri=name,
        sha256=store.examine([name])[name].sha256,
        caption=caption,
        credit=credit,
        settings=PhotoSettings(watermark=watermark, corner=corner, opacity=Decimal(opacity)),
        edits=edits,
    )
    picture = store.render([job])[job]
    return Rendered(picture=picture, data=tuple(r.path.read_bytes() for r in picture.renditions))


def matrix_profile(space: bytes, tags: dict[bytes, bytes], *, pcs: bytes = b"XYZ ") -> bytes:
    """An ICC profile of the given colour space from raw tags (ICC.1:2022, 7)."""
    start = 128 + 4 + 12 * len(tags)
    table, body = struct.pack(">I", len(tags)), b""
    for name, content in tags.items():
        table += name + struct.pack(">II", start + len(body), len(content))
        body += content + b"\0" * (-len(content) % 4)
    device = b"prtr" if space == b"CMYK" else b"mntr"
    header = struct.pack(">I4xI", start + len(body), 0x02100000) + device + space + pcs + b"\0" * 12 + b"acsp"
    header += b"\0" * 28 + struct.pack(">3i", 63190, 65536, 54061)
    return header.ljust(128, b"\0") + table + body
