"""Nothing of the original's metadata reaches a rendition: judged by the bytes, not by the library that wrote them."""

from __future__ import annotations

import io
import json
import shutil
import subprocess
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pillow_heif
import pytest
from picturing import SECRETS, Rendered, camera_exif, encoded, jpeg_segments, quartered, render
from PIL import Image, PngImagePlugin

DATA = Path(__file__).parent / "data"

SOF0, DHT, DQT, SOS, APP0, APP1, COM = 0xC0, 0xC4, 0xDB, 0xDA, 0xE0, 0xE1, 0xFE
PICTURE_ITSELF = {SOF0, DHT, DQT, SOS}

XMP_NAME = b"http://ns.adobe.com/xap/1.0/\0"
SPACES = {
    "x": "adobe:ns:meta/",
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
    "dc": "http://purl.org/dc/elements/1.1/",
    "photoshop": "http://ns.adobe.com/photoshop/1.0/",
}


def laden(kind: str) -> bytes:
    """A picture with everything a phone or a program may put beside the pixels."""
    exif, profile = camera_exif(), (DATA / "display-p3.icc").read_bytes()
    xmp = b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:SECRET/></x:xmpmeta>'
    image = quartered(700, 500)
    if kind == "HEIF":
        out = io.BytesIO()
        holder = pillow_heif.from_pillow(image)
        holder.info.update(xmp=xmp, icc_profile=profile)
        holder.save(out, exif=exif, quality=90)
        return out.getvalue()
    options: dict[str, Any] = {"exif": exif, "icc_profile": profile}
    if kind == "JPEG":
        options |= {"xmp": xmp, "comment": b"SECRET comment", "dpi": (300, 300)}
        options["extra"] = b"\xff\xed\x00\x16Photoshop 3.0\0SECRET"  # length 2 + 14 + 6
    elif kind == "PNG":
        texts = PngImagePlugin.PngInfo()
        texts.add_text("Comment", "SECRET")
        texts.add_itxt("XML:com.adobe.xmp", xmp.decode())
        options["pnginfo"] = texts
    elif kind == "WEBP":
        options["xmp"] = xmp
    elif kind == "TIFF":
        held = Image.Exif()
        held.load(exif)
        held[700] = xmp
        held[270] = "SECRET description"
        options["exif"] = held
    return encoded(image, kind, **options)


KINDS = ["JPEG", "HEIF", "PNG", "WEBP", "TIFF"]


def assert_clean(data: bytes, *, captioned: bool) -> None:
    """Only the segments that make the picture, JFIF without a preview, and one packet if captioned."""
    segments, after = jpeg_segments(data)
    assert after == b"", "bytes after the end"
    markers = [marker for marker, _ in segments]
    assert set(markers) <= PICTURE_ITSELF | {APP0} | ({APP1} if captioned else set())
    assert markers.count(SOF0) == markers.count(SOS) == markers.count(APP0) == 1
    assert markers.count(APP1) == captioned
    jfif = next(body for marker, body in segments if marker == APP0)
    assert jfif == b"JFIF\0\x01\x01\0\0\x01\0\x01\0\0"  # version 1.01, no density, preview of 0 x 0
    for secret in SECRETS:
        assert secret not in data
    assert data.count(b"\xff\xd8\xff") == 1, "a picture inside the picture"


@pytest.mark.parametrize("kind", KINDS)
def test_only_the_picture_is_left(kind: str, tmp_path: Path) -> None:
    """Place, serial number, preview, comment, profile and texts are gone from every size."""
    original = laden(kind)
    assert b"SECRET" in original
    rendered = render(tmp_path, original, watermark="Tarn")
    assert len(rendered.data) == 2
    for data in rendered.data:
        assert_clean(data, captioned=False)


@pytest.mark.parametrize("kind", KINDS)
def test_a_picture_of_its_own_size_is_clean_too(kind: str, tmp_path: Path) -> None:
    """No resize, no turn, no watermark, no profile in the way: still nothing is carried over."""
    original = encoded(quartered(100, 80), kind, exif=camera_exif()) if kind not in {"HEIF", "TIFF"} else laden(kind)
    for data in render(tmp_path, original).data:
        assert_clean(data, captioned=False)


def packet(data: bytes) -> tuple[str | None, str | None]:
    """Description and credit line from a rendition's XMP, read by an XML parser; nothing else may be in it."""
    body = next(body for marker, body in jpeg_segments(data)[0] if marker == APP1)
    assert body.startswith(XMP_NAME)
    root = ElementTree.fromstring(body[len(XMP_NAME) :].decode("utf-8"))
    assert root.tag == f"{{{SPACES['x']}}}xmpmeta"
    [description] = root.findall("rdf:RDF/rdf:Description", SPACES)
    assert description.attrib == {f"{{{SPACES['rdf']}}}about": ""}
    known = {f"{{{SPACES['dc']}}}description", f"{{{SPACES['photoshop']}}}Credit"}
    assert {child.tag for child in description} <= known
    caption = description.find("dc:description/rdf:Alt/rdf:li", SPACES)
    credit = description.find("photoshop:Credit", SPACES)
    return caption.text if caption is not None else None, credit.text if credit is not None else None


@pytest.mark.parametrize(
    ("caption", "credit", "expected"),
    [
        ("Ribs on the spar", "Ada", ("Ribs on the spar", "Ada")),
        ("Ribs", "", ("Ribs", None)),
        ("", "Ada", (None, "Ada")),
        ('<b>"5 & 6"</b> ]]> &amp;', "A & B", ('<b>"5 & 6"</b> ]]> &amp;', "A & B")),
        ("žebra 肋骨 🛩", "Łukasz", ("žebra 肋骨 🛩", "Łukasz")),
        ("a\x00b\x1bc\nd\r\ne\u2028f\ufffeg", "x\x07y", ("a b c d e f g", "x y")),
        ("lone \ud800 half", "", ("lone half", None)),
        ("x" * 5000, "y" * 5000, ("x" * 2000, "y" * 200)),
    ],
)
def test_caption_and_credit_are_all_there_is(
    caption: str, credit: str, expected: tuple[str | None, str | None], tmp_path: Path
) -> None:
    """Description and credit line, as the IPTC standard names them: cleaned, bounded, in every size."""
    rendered = render(tmp_path, laden("JPEG"), caption=caption, credit=credit)
    for data in rendered.data:
        assert_clean(data, captioned=True)
        assert packet(data) == expected


def test_a_caption_as_long_as_it_may_be_fits_its_segment(tmp_path: Path) -> None:
    """Even where every character takes most room."""
    rendered = render(tmp_path, laden("JPEG"), caption="&" * 5000, credit="🛩" * 5000)
    assert packet(rendered.data[0]) == ("&" * 2000, "🛩" * 200)


@pytest.mark.skipif(not shutil.which("exiftool"), reason="exiftool is not installed")
@pytest.mark.parametrize("kind", KINDS)
def test_exiftool_finds_nothing_else(kind: str, tmp_path: Path) -> None:
    """A program that knows thousands of tags sees the picture, the two texts, and no more."""
    rendered = render(tmp_path, laden(kind), caption="Ribs on the spar", credit="Ada")
    paths = [rendition.path for rendition in rendered.picture.renditions]
    told = subprocess.run(["exiftool", "-j", "-G1", "-a", "-u", "-ee", *paths], capture_output=True, check=True)
    for seen in json.loads(told.stdout):
        groups = {name.partition(":")[0] for name in seen}
        assert groups <= {"SourceFile", "ExifTool", "System", "File", "JFIF", "Composite", "XMP-dc", "XMP-photoshop"}
        assert {name: value for name, value in seen.items() if name.startswith("XMP")} == {
            "XMP-dc:Description": "Ribs on the spar",
            "XMP-photoshop:Credit": "Ada",
        }
        assert not {name for name in seen if "Warning" in name}
        assert {name for name in seen if name.startswith("Composite")} == {
            "Composite:ImageSize",
            "Composite:Megapixels",
        }


@pytest.mark.parametrize("tail", [b"SECRET" * 1000, encoded(quartered(), "JPEG"), b"\0" * 100_000, b"\xff\xd9"])
def test_bytes_behind_the_picture_stay_behind(tail: bytes, tmp_path: Path) -> None:
    """A phone hides a short film, a depth map or another picture behind the end of the first."""
    rendered = render(tmp_path, laden("JPEG") + tail)
    assert not rendered.picture.trouble
    for data in rendered.data:
        assert_clean(data, captioned=False)


def the_demonstration() -> list[Path]:
    """The photos of the demonstration build, if it is there."""
    entries = Path(__file__).parents[2] / "content" / "entries"
    return sorted(path for path in entries.rglob("IMG_*") if path.suffix in {".jpg", ".heic"})


@pytest.mark.slow
@pytest.mark.parametrize("path", the_demonstration(), ids=lambda path: path.name)
def test_the_demonstration_leaks_nothing(path: Path, tmp_path: Path) -> None:
    """Every picture of the demonstration carries a place and a serial number; its renditions do not."""
    original = path.read_bytes()
    assert b"DEMO-0001" in original
    rendered: Rendered = render(tmp_path, original, path.name, watermark="Tarn", caption="Ribs", credit="Ada")
    assert len(rendered.data) == 3
    for data in rendered.data:
        assert_clean(data, captioned=True)
