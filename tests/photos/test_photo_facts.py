"""What is read from originals, against files written by other libraries."""

from __future__ import annotations

import io
import json
import random
import shutil
import subprocess
import zlib
from datetime import date, datetime
from pathlib import Path
from typing import Any

import piexif
import pillow_heif
import pytest
from picturing import camera_exif, encoded, png, quartered, stored
from PIL import Image

from journal.base.model import PhotoFacts
from journal.media.photos.facts import (
    exif_text,
    facts_in_row,
    parse_exif_offset,
    parse_exif_time,
    read_facts,
    read_satellite_time,
    row_of_facts,
)
from journal.media.photos.kinds import TOO_LARGE, UNKNOWN, mend_of
from journal.reading.folders import list_folder, look_into
from journal.reading.text import Notes

pytestmark = pytest.mark.filterwarnings("ignore::UserWarning:PIL")  # the store keeps them to itself
needs_exiftool = pytest.mark.skipif(not shutil.which("exiftool"), reason="exiftool is not installed")


def facts_of(data: bytes) -> PhotoFacts:
    """Facts of a file held in memory."""
    return read_facts(io.BytesIO(data))


def written(kind: str, exif: bytes) -> bytes:
    """A small landscape picture of the kind with this Exif."""
    if kind == "HEIF":
        out = io.BytesIO()
        pillow_heif.from_pillow(quartered()).save(out, exif=exif)
        return out.getvalue()
    if kind == "TIFF":
        out = io.BytesIO()
        image = Image.Exif()
        image.load(exif)
        quartered().save(out, "TIFF", exif=image)
        return out.getvalue()
    return encoded(quartered(), kind, exif=exif)


@pytest.mark.parametrize("kind", ["JPEG", "HEIF", "PNG", "WEBP", "TIFF"])
def test_time_offset_camera_and_size_are_read_from_every_kind(kind: str) -> None:
    """Exif written by piexif reads the same out of all five kinds of file."""
    data = written(kind, camera_exif())
    facts = facts_of(data)
    assert facts.taken == datetime(2026, 2, 7, 10, 33, 50)
    assert facts.offset == "+01:00"
    assert facts.camera == "Example Pocket 5"
    assert (facts.width, facts.height) == (96, 64)
    assert facts.bytes == len(data)
    assert facts.trouble == ""
    assert facts.kind == {"HEIF": "HEIC", "WEBP": "WebP"}.get(kind, kind)


@needs_exiftool
@pytest.mark.parametrize("kind", ["JPEG", "HEIF", "PNG", "WEBP", "TIFF"])
def test_exiftool_reads_the_same(kind: str, tmp_path: Path) -> None:
    """A program of other makers sees the time, offset and camera that we see."""
    path = tmp_path / "x"
    path.write_bytes(written(kind, camera_exif(taken=b"2025:12:31 23:59:59", offset=b"-03:30")))
    told = subprocess.run(
        ["exiftool", "-j", "-DateTimeOriginal", "-OffsetTimeOriginal", "-Make", "-Model", path],
        capture_output=True,
        check=True,
    )
    seen = json.loads(told.stdout)[0]
    facts = facts_of(path.read_bytes())
    assert facts.taken is not None
    assert facts.taken.strftime("%Y:%m:%d %H:%M:%S") == seen["DateTimeOriginal"]
    assert facts.offset == seen["OffsetTimeOriginal"]
    assert facts.camera == f"{seen['Make']} {seen['Model']}"


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF"])
def test_size_is_that_of_the_upright_picture(kind: str, orientation: int) -> None:
    """Width and height are told as the picture is looked at, whatever way round it is stored."""
    exif = camera_exif(orientation=orientation)
    pixels = stored(quartered(), orientation)
    image = Image.Exif()
    image.load(exif)
    facts = facts_of(encoded(pixels, kind, exif=image if kind == "TIFF" else exif))
    assert (facts.width, facts.height) == (96, 64)


@pytest.mark.parametrize("orientation", [0, 9, 255, 65535])
def test_odd_orientations_count_as_one(orientation: int) -> None:
    """A value that the standard does not know leaves the picture as it is stored."""
    facts = facts_of(encoded(quartered(), "JPEG", exif=camera_exif(orientation=orientation)))
    assert (facts.width, facts.height, facts.trouble) == (96, 64, "")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2026:02:07 10:33:50", datetime(2026, 2, 7, 10, 33, 50)),
        ("2026-02-07T10:33:50", datetime(2026, 2, 7, 10, 33, 50)),
        ("2026:02:07 10:33:50+01:00", datetime(2026, 2, 7, 10, 33, 50)),
        ("2026:02:07 10:33:50\0\0", datetime(2026, 2, 7, 10, 33, 50)),
        (b"2026:02:07 10:33:50\0", datetime(2026, 2, 7, 10, 33, 50)),
        ("1980:01:01 00:03:12", datetime(1980, 1, 1, 0, 3, 12)),
        ("2024:02:29 23:59:59", datetime(2024, 2, 29, 23, 59, 59)),
        ("0000:00:00 00:00:00", None),
        ("2026:02:30 10:00:00", None),
        ("2026:02:07 24:00:00", None),
        ("2026:02:07 10:60:00", None),
        ("    :  :     :  :  ", None),
        ("2026:02:07", None),
        ("yesterday", None),
        ("٢٠٢٦:٠٢:٠٧ ١٠:٣٣:٥٠", None),
        ("", None),
        (None, None),
        (20260207, None),
        ((1, 2), None),
    ],
)
def test_capture_times(text: Any, expected: datetime | None) -> None:
    """What is no date and time is "not recorded", never a guess and never a crash."""
    assert parse_exif_time(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("+01:00", "+01:00"),
        ("-03:30", "-03:30"),
        ("+14:00", "+14:00"),
        ("+05:45\0", "+05:45"),
        ("Z", "+00:00"),
        ("+14:01", None),
        ("+25:00", None),
        ("+01:60", None),
        ("01:00", None),
        ("   :  ", None),
        ("", None),
        (None, None),
        (60, None),
    ],
)
def test_offsets(text: Any, expected: str | None) -> None:
    """Only an offset that exists somewhere on Earth is one."""
    assert parse_exif_offset(text) == expected


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ({}, datetime(2026, 2, 7, 10, 33, 50)),
        # A camera that fills in the second field only.
        ({"taken": None, "DateTimeDigitized": b"2026:02:08 09:00:00"}, datetime(2026, 2, 8, 9)),
        ({"taken": b"0000:00:00 00:00:00", "DateTimeDigitized": b"2026:02:08 09:00:00"}, datetime(2026, 2, 8, 9)),
        # A scanner: no exposure, and the day of scanning.
        ({"taken": None, "DateTimeDigitized": b"2026:02:08 09:00:00", "ExposureTime": None}, None),
        ({"taken": None}, None),
    ],
)
def test_which_field_is_the_capture_time(more: dict[str, Any], expected: datetime | None) -> None:
    """DateTimeOriginal first; DateTimeDigitized only of a picture seen through a lens."""
    assert facts_of(encoded(quartered(), "JPEG", exif=camera_exif(**more))).taken == expected


def test_the_date_of_the_last_change_is_no_capture_time() -> None:
    """DateTime is when a program last wrote the file (Exif 2.32, tag 306): a filled-in date would be a lie."""
    exif = piexif.dump({"0th": {piexif.ImageIFD.DateTime: b"2026:02:07 10:33:50"}})
    assert facts_of(encoded(quartered(), "JPEG", exif=exif)).taken is None


def test_the_digitized_time_comes_with_its_own_offset() -> None:
    """The offset of another field is not borrowed."""
    exif = camera_exif(taken=None, DateTimeDigitized=b"2026:02:08 09:00:00", OffsetTimeDigitized=b"+02:00")
    facts = facts_of(encoded(quartered(), "JPEG", exif=exif))
    assert (facts.taken, facts.offset) == (datetime(2026, 2, 8, 9), "+02:00")


@pytest.mark.parametrize(
    ("make", "model", "expected"),
    [
        (b"Example", b"Pocket 5", "Example Pocket 5"),
        (b"EXAMPLE", b"Example Pocket 5", "Example Pocket 5"),
        (b"", b"Pocket 5", "Pocket 5"),
        (b"Example", b"", "Example"),
        (b"<b>Ex</b>", b"a\nb\x01\x7fc", "<b>Ex</b> a b c"),
        ("Exämple".encode(), b"1", "Exämple 1"),
        ("Exämple".encode("latin-1"), b"1", "Exämple 1"),
        (b"Example   ", b"  Pocket\t5\0junk", "Example Pocket 5"),
        (b"A" * 300, b"1", "A" * 80 + " 1"),
    ],
)
def test_camera_names(make: bytes, model: bytes, expected: str) -> None:
    """A camera's name is one clean line, bounded, the maker told once; angle brackets stay data."""
    exif = camera_exif(make=make, model=model)
    assert facts_of(encoded(quartered(), "JPEG", exif=exif)).camera == expected


def test_text_that_is_no_text_is_nothing() -> None:
    """A number or a tuple where text belongs is left out."""
    assert exif_text(7) == exif_text((1, 2)) == exif_text(None) == ""


@pytest.mark.parametrize(
    "exif",
    [
        b"Exif\0\0",
        b"Exif\0\0II*\0\x08\0\0\0",
        b"Exif\0\0MM\0*\xff\xff\xff\xff",
        b"Exif\0\0" + b"\xff" * 200,
        b"garbage",
        camera_exif()[:60],
        camera_exif()[:200],
    ],
)
def test_broken_exif_costs_the_facts_not_the_picture(exif: bytes) -> None:
    """A good picture with a bad Exif block stays usable."""
    facts = facts_of(encoded(quartered(), "JPEG", exif=exif))
    assert (facts.width, facts.height, facts.trouble) == (96, 64, "")


def test_an_exif_directory_that_points_at_itself() -> None:
    """A loop among the directories ends."""
    # One entry (the pointer to the Exif directory), and it leads back to offset 8.
    tiff = b"II*\0\x08\0\0\0" + b"\x01\0" + b"\x69\x87\x04\0\x01\0\0\0\x08\0\0\0" + b"\x08\0\0\0"
    facts = facts_of(encoded(quartered(), "JPEG", exif=b"Exif\0\0" + tiff))
    assert (facts.taken, facts.trouble) == (None, "")


def test_png_exif_after_the_pixels_is_found() -> None:
    """The standard lets the eXIf chunk stand behind the pixels."""
    exif = camera_exif()[6:]
    whole = encoded(quartered(), "PNG")
    end = whole.rindex(b"IEND") - 4
    chunk = png(1, 1, 8, 0, b"\0", (b"eXIf", exif))
    start = chunk.index(b"eXIf") - 4
    moved = whole[:end] + chunk[start : start + 12 + len(exif)] + whole[end:]
    assert facts_of(moved).taken == datetime(2026, 2, 7, 10, 33, 50)


@pytest.mark.parametrize(
    ("name", "picture", "clip"),
    [
        ("IMG_1.jpg", True, False),
        ("img.JPEG", True, False),
        ("a.jpe", True, False),
        ("a.HeIc", True, False),
        ("a.heif", True, False),
        ("a.PNG", True, False),
        ("a.webp", True, False),
        ("a.tif", True, False),
        ("a.TIFF", True, False),
        ("a.mov", False, True),
        ("a.MP4", False, True),
        ("a.m4v", False, True),
        ("a.txt", False, False),
        ("index.md", False, False),
        ("jpg", False, False),
        (".jpg", False, False),
        ("._IMG_1.jpg", False, False),
        ("a.jpg.part", False, False),
        ("a.gif", True, False),
        ("é.jpg", True, False),
    ],
)
def test_names_that_count(name: str, picture: bool, clip: bool, tmp_path: Path) -> None:
    """A listing goes by the ending, in any case; hidden leftovers do not count."""
    (tmp_path / name).write_bytes(b"")
    notes = Notes("x")
    folder = list_folder("x", "index.md", look_into(tmp_path, notes), notes)
    assert (folder.photos, folder.clips) == ((name,) * picture, (name,) * clip)


@pytest.mark.parametrize(
    ("data", "trouble"),
    [
        (b"", "the file is empty"),
        (b"hello, this is text", "not a picture that can be read here"),
        (b"\0" * 5000, "not a picture that can be read here"),
        (b"GIF89a" + b"\0" * 100, "the picture is damaged"),
        (b"BM and so on, a text", "not a picture that can be read here"),
        (b"%PDF-1.7\n", "not a picture that can be read here"),
        (b"\xff\xd8\xff", "the file is cut short"),
        (b"\xff\xd8\xff\xe0\0\x10JFIF\0", "the file is cut short"),
        (b"\xff\xd8\xff\xd9", "not a picture that can be read here"),
        (b"\x89PNG\r\n\x1a\n", "the file is cut short"),
        (b"\0\0\0\x18ftypavif\0\0\0\0avifmif1", "the file is cut short"),
        (b"\0\0\0\x18ftypmp42\0\0\0\0isommp42", "not a picture that can be read here"),
    ],
)
def test_what_is_no_picture_is_told_in_plain_words(data: bytes, trouble: str) -> None:
    """Each way of being unusable has its sentence."""
    assert facts_of(data).trouble == trouble


def test_the_advice_is_that_of_the_fault() -> None:
    """A format that is not read is no fault of the copy; what is no picture at all came over wrong."""
    assert "JPEG beside it" in mend_of(f"{UNKNOWN} (PSD file)")
    assert "copy" not in mend_of(f"{UNKNOWN} (PSD file)").replace("archived", "")
    assert "from phone or camera again" in mend_of(UNKNOWN)
    assert "smaller" in mend_of(TOO_LARGE)


@pytest.mark.parametrize(("kind", "name"), [("PNG", "PNG"), ("WEBP", "WebP"), ("TIFF", "TIFF"), ("JPEG", "JPEG")])
def test_kind_is_judged_by_content(kind: str, name: str) -> None:
    """The facts name what the file is; its ending is not even known here."""
    assert facts_of(encoded(quartered(), kind)).kind == name


def huge(width: int, height: int, kind: str) -> bytes:
    """A file whose header promises this size, with next to nothing behind it."""
    if kind == "PNG":
        data = bytearray(png(8, 8, 8, 0, bytes(64)))
        data[16:24] = width.to_bytes(4, "big") + height.to_bytes(4, "big")
        data[29:33] = zlib.crc32(bytes(data[12:29])).to_bytes(4, "big")
        return bytes(data)
    if kind == "JPEG":
        data = bytearray(encoded(quartered(), "JPEG"))
        at = data.index(b"\xff\xc0") + 5
        data[at : at + 4] = height.to_bytes(2, "big") + width.to_bytes(2, "big")
        return bytes(data)
    if kind == "WEBP":
        body = b"VP8X" + (10).to_bytes(4, "little") + b"\0\0\0\0"
        body += (width - 1).to_bytes(3, "little") + (height - 1).to_bytes(3, "little")
        body += b"VP8 " + bytes(4)
        return b"RIFF" + (len(body) + 4).to_bytes(4, "little") + b"WEBP" + body
    data = bytearray(encoded(quartered(), "TIFF"))
    for tag, value in ((256, width), (257, height)):
        at = data.index(tag.to_bytes(2, "little") + b"\x04\0") if tag.to_bytes(2, "little") + b"\x04\0" in data else -1
        if at < 0:
            at = data.index(tag.to_bytes(2, "little") + b"\x03\0")
        data[at + 2 : at + 12] = b"\x04\0\x01\0\0\0" + value.to_bytes(4, "little")
    return bytes(data)


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "WEBP", "TIFF"])
def test_a_bomb_is_refused_by_its_header(kind: str) -> None:
    """Above 200 megapixels nothing is decoded: these files hold no pixels to decode, and still the
    size is what they are refused for.
    """
    assert facts_of(huge(16_001, 12_500, kind)).trouble == "the picture is larger than 200 megapixels"


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "TIFF"])
def test_the_largest_phone_picture_is_not_a_bomb(kind: str) -> None:
    """199.8 megapixels (16320 x 12240) pass, though Pillow's own limit is 179."""
    before = Image.MAX_IMAGE_PIXELS
    facts = facts_of(huge(16_320, 12_240, kind) + bytes(25_000))  # with as many bytes as such a picture has at least
    assert (facts.width, facts.height) == (16_320, 12_240)
    assert facts.trouble != "the picture is larger than 200 megapixels"
    assert before == Image.MAX_IMAGE_PIXELS


def bench(shade: int) -> Image.Image:
    """A picture with something to see, another for each number."""
    chance = random.Random(shade)
    image = Image.new("RGB", (640, 480), "grey")
    for _ in range(60):
        x, y = chance.randrange(640), chance.randrange(480)
        colour = tuple(chance.randrange(256) for _ in range(3))
        image.paste(colour, (x, y, x + chance.randrange(20, 160), y + chance.randrange(20, 120)))
    return image


def bits_apart(one: Image.Image, other: Image.Image, **how: Any) -> int:
    """In how many bits two pictures differ, the other one saved as told."""
    first, second = (facts_of(encoded(image, "JPEG", **kept)) for image, kept in ((one, {}), (other, how)))
    assert len(first.likeness) == len(second.likeness) == 64
    return (int(first.likeness, 16) ^ int(second.likeness, 16)).bit_count()


def test_a_picture_saved_anew_looks_the_same() -> None:
    """Harder packed, smaller, turned back by its Exif: a few bits of 256; another one: many."""
    image = bench(1)
    assert bits_apart(image, image, quality=40) <= 12
    assert bits_apart(image, image.resize((320, 240))) <= 20
    turned = camera_exif(orientation=6)
    assert bits_apart(image, stored(image, 6), exif=turned) <= 12
    assert bits_apart(image, bench(2)) > 60


def test_what_shows_nothing_looks_like_nothing() -> None:
    """A white wall has no likeness, and no file that cannot be used."""
    assert facts_of(encoded(Image.new("RGB", (200, 100), (200, 201, 202)), "JPEG")).likeness == ""
    assert facts_of(encoded(bench(1), "JPEG")[:900]).likeness == ""


@pytest.mark.parametrize(
    ("day", "clock", "read"),
    [
        ("2026:02:07", (9.0, 33.0, 50.5), datetime(2026, 2, 7, 9, 33, 50)),
        ("2026:02:07", (9.0, 33.0), None),
        ("2026:02:30", (9.0, 33.0, 50.0), None),
        ("", (9.0, 33.0, 50.0), None),
        ("2026:02:07", (float("nan"), 0.0, 0.0), None),
    ],
)
def test_the_time_of_the_satellite(day: str, clock: tuple[float, ...], read: datetime | None) -> None:
    """Exif GPSDateStamp and GPSTimeStamp, UTC; anything that is no time is none."""
    exif = Image.Exif()
    satellite = exif.get_ifd(0x8825)
    satellite[29], satellite[7] = day, clock
    assert read_satellite_time(exif) == read


@pytest.mark.parametrize(
    ("tags", "gps", "told"),
    [
        ({}, {}, {"taken": None, "positioned": None, "positioned_on": None, "located": False, "exif_version": ""}),
        ({0x9000: b"0232 "}, {}, {"exif_version": "0232"}),
        ({}, {2: (47.0, 1.0, 0.0), 4: (8.0, 1.0, 0.0)}, {"located": True, "positioned": None}),
        ({}, {2: (47.0, 1.0, 0.0)}, {"located": False}),
        ({}, {4: (8.0, 1.0, 0.0)}, {"located": False}),
        (
            {},
            {29: "2026:02:07", 7: (9.0, 33.0, 50.0)},
            {"positioned": datetime(2026, 2, 7, 9, 33, 50), "positioned_on": None},
        ),
        ({}, {29: "2026:02:07"}, {"positioned": None, "positioned_on": date(2026, 2, 7)}),
        ({}, {7: (9.0, 33.0, 50.0)}, {"positioned": None, "positioned_on": None}),
        *(
            ({0x9004: "2026:02:07 10:00:00", lens: 2.8}, {}, {"taken": datetime(2026, 2, 7, 10)})
            for lens in (0x829A, 0x829D, 0x920A)
        ),
        ({0x9004: "2026:02:07 10:00:00"}, {}, {"taken": None, "offset": None}),
        (
            {0x9003: "2026:02:07 10:00:00", 0x9011: "+01:00", 0x9012: "+02:00"},
            {},
            {"taken": datetime(2026, 2, 7, 10), "offset": "+01:00"},
        ),
    ],
)
def test_what_stands_in_the_exif_of_a_picture(tags: dict[int, Any], gps: dict[int, Any], told: dict[str, Any]) -> None:
    """Exif 2.32: version, moment with its own offset, a scanner's day, place and time of the satellite."""
    exif = Image.Exif()
    exif.get_ifd(0x8769).update(tags)
    exif.get_ifd(0x8825).update(gps)
    facts = facts_of(encoded(quartered(), "JPEG", exif=exif.tobytes()))
    assert {name: getattr(facts, name) for name in told} == told
    assert facts_in_row(json.loads(json.dumps(row_of_facts(facts))), facts.bytes) == facts
