"""Pictures and clips as phones write them, made by other libraries than the ones that read them."""

from __future__ import annotations

import io
import struct
from pathlib import Path

import piexif
import pillow_heif
from PIL import Image


def photo_bytes(
    taken: str = "",
    *,
    camera: tuple[str, str] = ("Example", "Pocket 5"),
    offset: str = "",
    shade: int = 0,
    heic: bool = False,
) -> bytes:
    """A small picture; `taken` like `2026-02-07 18:30:05`, nothing where the camera tells no time."""
    exif: dict[str, dict[int, object]] = {
        "0th": {piexif.ImageIFD.Make: camera[0].encode(), piexif.ImageIFD.Model: camera[1].encode()},
        "Exif": {},
        "GPS": {piexif.GPSIFD.GPSLatitudeRef: b"N", piexif.GPSIFD.GPSLatitude: ((0, 1), (0, 1), (3672, 100))},
    }
    if taken:
        day, clock = taken.split(" ")
        exif["Exif"][piexif.ExifIFD.DateTimeOriginal] = f"{day.replace('-', ':')} {clock}".encode()
    if offset:
        exif["Exif"][piexif.ExifIFD.OffsetTimeOriginal] = offset.encode()
    image = Image.new("RGB", (48, 36), (shade % 256, shade // 256 % 256, 90))
    out = io.BytesIO()
    if heic:
        pillow_heif.from_pillow(image).save(out, exif=piexif.dump(exif), quality=60)
    else:
        image.save(out, "JPEG", exif=piexif.dump(exif), quality=60)
    return out.getvalue()


def take(path: Path, taken: str = "", **how: object) -> Path:
    """Write a picture to `path`; two of different `shade` differ in content."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(photo_bytes(taken, heic=path.suffix.lower() == ".heic", **how))  # type: ignore[arg-type]
    return path


def _box(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I4s", len(data) + 8, kind) + data


def clip_bytes(*, created: str = "", seconds_since_1904: int = 0, live: bool = False, filler: bytes = b"film") -> bytes:
    """The skeleton of a QuickTime film: enough for everything but decoding. `created` is as the maker of a
    phone writes it, `2026-02-07T18:45:00+0100`.
    """
    header = struct.pack(">IIIII", 0, seconds_since_1904, seconds_since_1904, 600, 1800) + bytes(80)
    told = {"com.apple.quicktime.creationdate": created} if created else {}
    if live:
        told["com.apple.quicktime.content.identifier"] = "A1"
    keys = b"".join(struct.pack(">I4s", len(name) + 8, b"mdta") + name.encode() for name in told)
    items = b"".join(
        _box(struct.pack(">I", number), _box(b"data", struct.pack(">II", 1, 0) + value.encode()))
        for number, value in enumerate(told.values(), start=1)
    )
    meta = _box(
        b"meta",
        _box(b"hdlr", bytes(25)) + _box(b"keys", struct.pack(">II", 0, len(told)) + keys) + _box(b"ilst", items),
    )
    moov = _box(b"moov", _box(b"mvhd", header) + (meta if told else b""))
    return _box(b"ftyp", b"qt  \0\0\0\0qt  ") + _box(b"mdat", filler) + moov
