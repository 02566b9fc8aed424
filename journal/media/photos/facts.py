"""What an original says about itself: kind, size, capture time, camera. For the record, never for the site."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Sequence
from datetime import date, datetime
from itertools import pairwise
from typing import Any, BinaryIO

from PIL import Image

from journal.base.model import PhotoFacts, named
from journal.base.text_files import printable_line
from journal.media.photos import kinds
from journal.media.photos.damage import damage_of
from journal.media.photos.decode import (
    Allow,
    Stored,
    decode,
    exif_values,
    freely,
    memory_needed,
    open_stored,
    why_unusable,
)

FACTS_VERSION = 3
"""Raise this whenever the same file would yield other facts: what was noted down before is then read anew."""

_MAKE, _MODEL = 0x010F, 0x0110
_EXIF_IFD, _GPS_IFD = 0x8769, 0x8825
_LATITUDE, _LONGITUDE = 2, 4
_SATELLITE_TIME, _SATELLITE_DATE = 7, 29
_EXIF_VERSION = 0x9000
_TIMES = ((0x9003, 0x9011), (0x9004, 0x9012))  # DateTimeOriginal, DateTimeDigitized, each with its offset
_SEEN_THROUGH_A_LENS = (0x829A, 0x829D, 0x920A)  # ExposureTime, FNumber, FocalLength
LONGEST_TEXT = 80


def read_facts(source: BinaryIO, allow: Allow = freely) -> PhotoFacts:
    """Facts of an open original. Never raises for what is in the file: `trouble` says what is wrong."""
    kind = kinds.sniff(source)
    width = height = 0
    trouble = likeness = damage = ""
    exif = Image.Exif()
    try:
        stored = open_stored(source, allow)
        exif = stored.exif
        width, height = stored.upright_size
        stored.check_whole()
    except Exception as error:  # a decoder may raise anything at all; see decode.py
        trouble = why_unusable(source, error)
    else:
        # Damage inside the compressed data is told when the picture is rendered.
        with contextlib.suppress(Exception):
            likeness = likeness_of(stored, allow)
        with contextlib.suppress(Exception):
            damage = damage_of(stored)
    taken, offset = read_capture_time(exif)
    make, model = (exif_text(exif_values(exif).get(tag)) for tag in (_MAKE, _MODEL))
    return PhotoFacts(
        kind=kind.value if kind else "",
        width=width,
        height=height,
        bytes=kinds.size_of(source),
        taken=taken,
        offset=offset,
        camera=camera_name(make, model),
        positioned=read_satellite_time(exif),
        positioned_on=_satellite_day(exif),
        exif_version=exif_text(exif_values(exif, _EXIF_IFD).get(_EXIF_VERSION))[:4],
        located=exif_values(exif, _GPS_IFD).keys() >= {_LATITUDE, _LONGITUDE},
        likeness=likeness,
        damage=damage,
        trouble=trouble,
    )


_TOLD: tuple[str, ...] = ("kind", "width", "height", "taken", "offset", "camera", "positioned", "positioned_on")
_TOLD += ("located", "exif_version", "likeness", "damage", "trouble")
_MOMENTS = {"taken": datetime, "positioned": datetime, "positioned_on": date}


def row_of_facts(facts: PhotoFacts) -> list[Any]:
    """Facts as JSON holds them, but for the length of the file."""
    told = named(facts, *_TOLD)
    return [*(told | {name: told[name] and told[name].isoformat() for name in _MOMENTS}).values()]


def facts_in_row(row: Sequence[Any], length: int = 0) -> PhotoFacts:
    """The facts of a row and the length of the file in bytes."""
    told = dict(zip(_TOLD, row, strict=True))
    told |= {name: told[name] and kind.fromisoformat(told[name]) for name, kind in _MOMENTS.items()}
    return PhotoFacts(**told, bytes=length, mend=kinds.mend_of(told["trouble"]))


_SIDE = 16
_DECODED_PX = 128
_LEAST_CONTRAST = 24
"""Grey levels of 256 between the lightest and the darkest part: with less there is nothing to know a picture by."""
_LIKENESS_MEMORY = 160_000_000


def likeness_of(stored: Stored, allow: Allow = freely) -> str:
    """What a picture looks like in 256 bits, as hex: whether each of 16 by 16 parts is lighter than the one to its
    right (a difference hash). Empty where there is too little to see, and for AVIF and HEIC, which takes 0.6 s to
    decode where a JPEG of 12 megapixels takes 0.03 s. Measured on the demonstration's pictures saved anew at half or a
    third of their size: 5 to 25 bits; two pictures of one bench: 40.
    """
    needed = memory_needed(stored, _DECODED_PX)
    if stored.kind in {kinds.FileKind.HEIC, kinds.FileKind.AVIF} or needed > _LIKENESS_MEMORY:
        return ""
    allow(needed, stored.image.size)
    small = decode(stored, _DECODED_PX)[0].convert("L").resize((_SIDE + 1, _SIDE), Image.Resampling.BOX)
    shades = small.tobytes()
    if max(shades) - min(shades) < _LEAST_CONTRAST:
        return ""
    rows = [shades[at : at + _SIDE + 1] for at in range(0, len(shades), _SIDE + 1)]
    bits = "".join("1" if left > right else "0" for row in rows for left, right in pairwise(row))
    return f"{int(bits, 2):0{_SIDE * _SIDE // 4}x}"


def read_satellite_time(exif: Image.Exif) -> datetime | None:
    """GPSDateStamp and GPSTimeStamp, which are UTC (Exif 2.32, 4.6.6); None where they are missing or no time."""
    values = exif_values(exif, _GPS_IFD)
    with contextlib.suppress(TypeError, ValueError, ZeroDivisionError, OverflowError):
        hour, minute, second = (int(float(part)) for part in values.get(_SATELLITE_TIME, ()))
        return parse_exif_time(f"{exif_text(values.get(_SATELLITE_DATE))} {hour:02d}:{minute:02d}:{second:02d}")
    return None


def _satellite_day(exif: Image.Exif) -> date | None:
    """GPSDateStamp, where there is no time with it."""
    stamp = exif_text(exif_values(exif, _GPS_IFD).get(_SATELLITE_DATE))
    day = parse_exif_time(f"{stamp} 00:00:00") if read_satellite_time(exif) is None else None
    return day.date() if day else None


def read_capture_time(exif: Image.Exif) -> tuple[datetime | None, str | None]:
    """When the picture was taken, by the camera's clock and without a zone, and the offset if recorded.

    The rule: DateTimeOriginal; where that is missing or no date, DateTimeDigitized, but only of a
    picture seen through a lens (exposure, aperture or focal length is given), since a scanner
    puts the day of scanning there. DateTime never counts: by Exif it is when the file was last
    changed. Exif 2.32, 4.6.5 F; offsets (OffsetTimeOriginal, OffsetTimeDigitized) since 2.31.
    """
    values = exif_values(exif, _EXIF_IFD)
    through_a_lens = any(tag in values for tag in _SEEN_THROUGH_A_LENS)
    for (time_tag, offset_tag), counts in zip(_TIMES, (True, through_a_lens), strict=True):
        taken = parse_exif_time(values.get(time_tag)) if counts else None
        if taken is not None:
            return taken, parse_exif_offset(values.get(offset_tag))
    return None, None


def parse_exif_time(value: Any) -> datetime | None:
    """`2026:02:07 10:33:50`, also with the other separators that programs write; None for anything else."""
    return moment_of(
        re.match(r"\s*(\d{4})[:/.-](\d\d)[:/.-](\d\d)[ T](\d\d):(\d\d):(\d\d)", exif_text(value), re.ASCII)
    )


def moment_of(found: re.Match[str] | None) -> datetime | None:
    """The moment of a match whose first six groups are year, month, day, hour, minute and second, if there is one."""
    with contextlib.suppress(ValueError):  # 0000:00:00, 30 February …
        return datetime(*map(int, found.groups()[:6])) if found else None  # type: ignore[arg-type]
    return None


def parse_exif_offset(value: Any) -> str | None:
    """`+01:00`, or None where it is missing, blank or beyond the offsets in use on Earth (14 hours)."""
    text = exif_text(value)
    if text == "Z":
        return "+00:00"
    found = re.fullmatch(r"[+-](\d\d):([0-5]\d)", text, re.ASCII)
    return text if found and int(found[1]) * 60 + int(found[2]) <= 14 * 60 else None


def camera_name(make: str, model: str) -> str:
    """Maker and model as one name, told once where the model already begins with the maker."""
    if model.casefold().startswith(make.casefold()):
        return model or make
    return f"{make} {model}".strip()


def exif_text(value: Any) -> str:
    """Text of an Exif value on one line, at most 80 characters; empty where it is not text.

    Exif text is ASCII by the book; cameras write UTF-8 and Latin-1 too. It stays data: angle
    brackets pass, and whoever places it somewhere escapes it there.
    """
    if isinstance(value, bytes):
        value = value.decode("latin-1")
    if not isinstance(value, str):
        return ""
    value = value.split("\0", 1)[0]
    with contextlib.suppress(UnicodeError):
        value = value.encode("latin-1").decode("utf-8")  # Pillow has taken it for Latin-1
    return printable_line(value, LONGEST_TEXT)
