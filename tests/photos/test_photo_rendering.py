"""Pictures come out upright, in sRGB, opaque, in the right sizes, whatever they were."""

from __future__ import annotations

import io
import json
import shutil
import struct
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import piexif
import pillow_heif
import pytest
from picturing import (
    BLUE,
    GREEN,
    RED,
    UPRIGHT,
    Rendered,
    camera_exif,
    encoded,
    jpeg_segments,
    matrix_profile,
    png,
    quartered,
    quarters,
    render,
    stored,
)
from PIL import Image, ImageCms, ImageFile

import journal.media.photos.decode
from journal.media.photos.colour import adobe_rgb_profile, display_p3_profile
from journal.media.photos.decode import fitted
from journal.media.photos.rendition import planned_sizes

DATA = Path(__file__).parent / "data"
Colour = tuple[int, ...]


def middle(rendered: Rendered) -> Colour:
    """The colour in the middle of the largest rendition."""
    assert not rendered.picture.trouble
    image = rendered.largest
    colour = image.getpixel((image.width // 2, image.height // 2))
    assert isinstance(colour, tuple)
    return colour


def near(seen: Colour, expected: Colour, within: int = 4) -> bool:
    """Whether two colours differ by no more than JPEG makes them."""
    return all(abs(a - b) <= within for a, b in zip(seen, expected, strict=True))


def plain(mode: str, colour: Any, size: tuple[int, int] = (64, 48)) -> Image.Image:
    """A picture of one colour."""
    return Image.new(mode, size, colour)


# -- sizes ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("original", "expected"),
    [
        ((4000, 3000), [(480, 360), (960, 720), (1920, 1440)]),
        ((3000, 4000), [(360, 480), (720, 960), (1440, 1920)]),
        ((1600, 1200), [(480, 360), (960, 720), (1600, 1200)]),
        ((1920, 1080), [(480, 270), (960, 540), (1920, 1080)]),
        ((960, 720), [(480, 360), (960, 720)]),
        ((700, 500), [(480, 343), (700, 500)]),
        ((480, 480), [(480, 480)]),
        ((300, 200), [(300, 200)]),
        ((1, 1), [(1, 1)]),
        ((10000, 10), [(480, 1), (960, 1), (1920, 2)]),
    ],
)
def test_planned_sizes(original: tuple[int, int], expected: list[tuple[int, int]]) -> None:
    """Longer side 480, 960, 1920; never enlarged, none twice, and the original's size where it is smaller."""
    assert list(planned_sizes(original)) == expected


def test_renditions_are_what_they_say(tmp_path: Path) -> None:
    """Width, height, bytes and names agree with the files; narrowest first; names are all different."""
    rendered = render(tmp_path, encoded(quartered(2400, 1600), "JPEG"))
    told = [(r.width_px, r.height_px, r.bytes) for r in rendered.picture.renditions]
    assert told == [(*image.size, len(data)) for image, data in zip(rendered.images, rendered.data, strict=True)]
    assert [r.width_px for r in rendered.picture.renditions] == [480, 960, 1920]
    assert [r.name.rpartition("-")[2] for r in rendered.picture.renditions] == ["480.jpg", "960.jpg", "1920.jpg"]
    assert all(quarters(image) == UPRIGHT for image in rendered.images)


def test_a_picture_smaller_than_all_sizes_keeps_its_own(tmp_path: Path) -> None:
    """One rendition, at the original's size."""
    rendered = render(tmp_path, encoded(quartered(300, 200), "PNG"))
    assert [image.size for image in rendered.images] == [(300, 200)]


@pytest.mark.parametrize("size", [(3999, 1), (1, 3999), (5000, 7), (2, 2), (1921, 1081)])
def test_odd_shapes(size: tuple[int, int], tmp_path: Path) -> None:
    """Threads and odd numbers of pixels pass through every step."""
    rendered = render(tmp_path, encoded(plain("RGB", RED, size), "JPEG"), watermark="Tarn")
    assert rendered.images[-1].size == fitted(size, 1920)


def test_a_wide_panorama_is_not_decoded_too_small(tmp_path: Path) -> None:
    """The decoder's shortcut must not go below the size that is wanted."""
    image = Image.fromarray(np.tile(np.array([[0, 255]], np.uint8), (400, 3900)))
    rendered = render(tmp_path, encoded(image, "JPEG"))
    assert rendered.images[-1].size == (1920, 98)


# -- orientation ---------------------------------------------------------------------------------


def turned(kind: str, orientation: int) -> bytes:
    """A quartered picture, stored and tagged for this orientation."""
    exif = camera_exif(orientation=orientation)
    pixels = stored(quartered(640, 400), orientation)
    if kind == "TIFF":
        held = Image.Exif()
        held.load(exif)
        return encoded(pixels, kind, exif=held)
    return encoded(pixels, kind, exif=exif)


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF"])
def test_every_orientation_comes_out_upright(kind: str, orientation: int, tmp_path: Path) -> None:
    """All eight orientations of the standard, in every kind that has them."""
    rendered = render(tmp_path, turned(kind, orientation))
    assert [image.size for image in rendered.images] == [(480, 300), (640, 400)]
    assert [quarters(image) for image in rendered.images] == [UPRIGHT, UPRIGHT]


@pytest.mark.parametrize("orientation", [0, 9, 255, 65535])
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF"])
def test_odd_orientations_turn_nothing(kind: str, orientation: int, tmp_path: Path) -> None:
    """0, 9, 255 count as 1."""
    exif = camera_exif(orientation=orientation)
    held = Image.Exif()
    held.load(exif)
    data = encoded(quartered(), kind, exif=held if kind == "TIFF" else exif)
    assert quarters(render(tmp_path, data).largest) == UPRIGHT


@pytest.mark.parametrize("orientation", range(1, 9))
def test_heic_is_turned_once(orientation: int, tmp_path: Path) -> None:
    """The rotation of the container is honoured, and Exif does not turn the picture a second time."""
    out = io.BytesIO()
    pillow_heif.from_pillow(stored(quartered(640, 400), orientation)).save(
        out, exif=camera_exif(orientation=orientation), quality=90
    )
    rendered = render(tmp_path, out.getvalue(), "IMG_1.heic")
    assert rendered.images[-1].size == (640, 400)
    assert quarters(rendered.largest) == UPRIGHT


@pytest.mark.skipif(not shutil.which("exiftool"), reason="exiftool is not installed")
@pytest.mark.parametrize("orientation", [3, 6, 8])
def test_heic_whose_exif_repeats_the_rotation(orientation: int, tmp_path: Path) -> None:
    """Phones write both; written here by a program that changes nothing but the tag, and checked to be both."""
    path = tmp_path / "both.heic"
    out = io.BytesIO()
    pillow_heif.from_pillow(stored(quartered(640, 400), orientation)).save(
        out, exif=camera_exif(orientation=orientation), quality=90
    )
    path.write_bytes(out.getvalue())
    # exiftool takes the container's own rotation away only when told to; here just the tag is set again.
    subprocess.run(
        ["exiftool", "-q", "-overwrite_original", "-n", f"-IFD0:Orientation={orientation}", path], check=True
    )
    told = subprocess.run(
        ["exiftool", "-j", "-n", "-IFD0:Orientation", "-QuickTime:Rotation", path], capture_output=True, check=True
    )
    seen = json.loads(told.stdout)[0]
    assert seen["Orientation"] == orientation
    assert seen["Rotation"] != 0
    rendered = render(tmp_path / "build", path.read_bytes(), "IMG_1.heic")
    assert rendered.images[-1].size == (640, 400)
    assert quarters(rendered.largest) == UPRIGHT


def test_orientation_in_xmp_turns_nothing(tmp_path: Path) -> None:
    """Browsers look at Exif alone, so a picture stands on the site as the original does when opened."""
    xmp = b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:Description tiff:Orientation="6"/></x:xmpmeta>'
    for kind, options in (("JPEG", {"xmp": xmp}), ("WEBP", {"xmp": xmp}), ("TIFF", {"tiffinfo": {700: xmp}})):
        rendered = render(tmp_path, encoded(quartered(), kind, **options))
        assert rendered.largest.size == (96, 64), kind
        assert quarters(rendered.largest) == UPRIGHT, kind


# -- kinds judged by content ---------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF", "HEIF"])
@pytest.mark.parametrize("name", ["a.jpg", "a.heic", "a.PNG", "a.tif"])
def test_the_ending_does_not_matter(kind: str, name: str, tmp_path: Path) -> None:
    """A file is what it holds."""
    if kind == "HEIF":
        out = io.BytesIO()
        pillow_heif.from_pillow(quartered()).save(out, quality=90)
        data = out.getvalue()
    else:
        data = encoded(quartered(), kind)
    assert quarters(render(tmp_path, data, name).largest) == UPRIGHT


# -- pixels --------------------------------------------------------------------------------------


def grey16(value: int) -> bytes:
    """A 16-bit grey PNG of one value."""
    return png(64, 48, 16, 0, value.to_bytes(2, "big") * 64 * 48)


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        pytest.param(encoded(plain("L", 77), "PNG"), (77, 77, 77), id="grey"),
        pytest.param(encoded(plain("L", 77), "JPEG"), (77, 77, 77), id="grey JPEG"),
        pytest.param(encoded(plain("1", 1), "PNG"), (255, 255, 255), id="one bit, white"),
        pytest.param(encoded(plain("1", 0), "TIFF"), (0, 0, 0), id="one bit, black, TIFF"),
        pytest.param(encoded(plain("RGB", BLUE).quantize(4), "PNG"), BLUE, id="palette"),
        pytest.param(encoded(plain("RGBA", (*RED, 255)), "PNG"), RED, id="opaque"),
        pytest.param(encoded(plain("RGBA", (*RED, 0)), "PNG"), (255, 255, 255), id="clear"),
        pytest.param(encoded(plain("RGBA", (0, 0, 0, 128)), "PNG"), (127, 127, 127), id="half clear black"),
        pytest.param(encoded(plain("RGBA", (0, 0, 0, 128)), "WEBP", lossless=True), (127, 127, 127), id="WebP alpha"),
        pytest.param(encoded(plain("RGBA", (0, 0, 0, 128)), "TIFF"), (127, 127, 127), id="TIFF alpha"),
        pytest.param(encoded(plain("LA", (0, 128)), "PNG"), (127, 127, 127), id="grey with alpha"),
        pytest.param(encoded(plain("LA", (90, 255)), "PNG"), (90, 90, 90), id="grey, opaque"),
        pytest.param(grey16(0x8000), (128, 128, 128), id="16-bit grey"),
        pytest.param(grey16(0xFFFF), (255, 255, 255), id="16-bit white"),
        pytest.param(grey16(0x012C), (1, 1, 1), id="16-bit near black"),
        pytest.param(png(64, 48, 16, 2, struct.pack(">3H", 0xDC00, 0x1E00, 0x1E00) * 64 * 48), RED, id="16-bit colour"),
        pytest.param(
            png(64, 48, 16, 6, struct.pack(">4H", 0, 0, 0, 0x8000) * 64 * 48), (127, 127, 127), id="16-bit alpha"
        ),
        pytest.param(png(64, 48, 16, 4, struct.pack(">2H", 0, 0) * 64 * 48), (255, 255, 255), id="16-bit grey alpha"),
        pytest.param(
            png(64, 48, 8, 2, bytes(RED) * 64 * 48, (b"tRNS", struct.pack(">3H", *RED))),
            (255, 255, 255),
            id="one colour clear",
        ),
        pytest.param(
            png(64, 48, 8, 0, bytes([50]) * 64 * 48, (b"tRNS", b"\0\x32")), (255, 255, 255), id="one grey clear"
        ),
        pytest.param(
            png(64, 48, 8, 3, bytes(64 * 48), (b"PLTE", bytes(RED)), (b"tRNS", b"\0")),
            (255, 255, 255),
            id="clear palette",
        ),
        pytest.param(png(64, 48, 8, 3, bytes(64 * 48), (b"PLTE", bytes(RED))), RED, id="palette of one"),
        pytest.param(encoded(Image.new("I;16", (64, 48), 0x8000), "TIFF"), (128, 128, 128), id="16-bit TIFF"),
        pytest.param(encoded(plain("YCbCr", (128, 128, 128)), "TIFF"), (128, 128, 128), id="YCbCr TIFF"),
        pytest.param(encoded(plain("RGB", RED), "TIFF", compression="tiff_lzw"), RED, id="LZW TIFF"),
        pytest.param(encoded(plain("RGB", RED), "TIFF", compression="jpeg", quality=95), RED, id="JPEG in TIFF"),
        pytest.param(encoded(plain("RGB", RED), "TIFF", big_tiff=True), RED, id="BigTIFF"),
        pytest.param(encoded(plain("RGB", RED), "JPEG", progressive=True), RED, id="progressive"),
    ],
)
def test_every_sort_of_pixel(data: bytes, expected: Colour, tmp_path: Path) -> None:
    """Bit depths, palettes and transparency (on white) come out in the right colour."""
    assert near(middle(render(tmp_path, data)), expected)


def test_heic_with_transparency_and_with_ten_bits(tmp_path: Path) -> None:
    """What is clear becomes white; ten bits come down to eight."""
    clear, deep = io.BytesIO(), io.BytesIO()
    pillow_heif.from_pillow(plain("RGBA", (0, 0, 0, 128))).save(clear, quality=95)
    samples = struct.pack("<3H", *(value * 257 for value in RED)) * 64 * 48
    pillow_heif.from_bytes("RGB;16", (64, 48), samples).save(deep, quality=95)
    assert near(middle(render(tmp_path, clear.getvalue(), "a.heic")), (127, 127, 127), 5)
    assert near(middle(render(tmp_path, deep.getvalue(), "a.heic")), RED, 6)


def test_heic_in_tiles(tmp_path: Path) -> None:
    """Phones cut a picture into tiles and crop the last ones; it comes out whole and in its size."""
    out = io.BytesIO()
    pillow_heif.from_pillow(quartered(700, 500)).save(out, quality=90, tile_size=256)
    rendered = render(tmp_path, out.getvalue(), "a.heic")
    assert rendered.images[-1].size == (700, 500)
    assert quarters(rendered.largest) == UPRIGHT


@pytest.mark.parametrize("mode", ["RGB", "RGBA", "LA", "P", "CMYK", "LAB", "I;16", "1"])
@pytest.mark.parametrize("factor", [1, 2, 3, 7])
def test_bands_join_without_a_seam(mode: str, factor: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """A huge picture is brought down in bands; the result is the one of doing it at once, to the last bit."""
    across, down = np.meshgrid(np.arange(331), np.arange(203))
    image = Image.fromarray(np.stack([across % 256, down, (across + down) % 256], 2).astype(np.uint8))
    if mode in {"RGBA", "LA"}:
        image.putalpha(Image.fromarray((across * 3 % 256).astype(np.uint8)))
    if mode == "I;16":
        image = Image.fromarray((across * 190).astype(np.uint16))
    elif mode == "P":
        image = image.quantize(64)
        image.info["transparency"] = 3
    elif mode == "LAB":
        image = Image.frombytes("LAB", image.size, image.tobytes())
    elif mode != "RGB":
        image = image.convert(mode)
    assert image.mode == mode
    whole = journal.media.photos.decode._shrunk(image, factor)
    monkeypatch.setattr(journal.media.photos.decode, "_BAND_PIXELS", 9000)
    banded = journal.media.photos.decode._shrunk(image, factor)
    assert banded.size == whole.size == (-(-331 // factor), -(-203 // factor))
    assert banded.tobytes() == whole.tobytes()


def test_measurements_are_no_picture(tmp_path: Path) -> None:
    """A TIFF of floating point numbers says nowhere what is white."""
    rendered = render(tmp_path, encoded(plain("F", 0.5), "TIFF"))
    assert rendered.picture.trouble == "not a picture that can be read here"


def test_cmyk_of_adobe_is_not_inverted(tmp_path: Path) -> None:
    """A JPEG in CMYK with Adobe's marker stores its inks inverted; white must stay white."""
    for ink, expected in (
        ((0, 0, 0, 0), (255, 255, 255)),
        ((255, 0, 0, 0), (0, 255, 255)),
        ((0, 0, 0, 255), (0, 0, 0)),
    ):
        data = encoded(plain("CMYK", ink), "JPEG")
        assert any(marker == 0xEE for marker, _ in jpeg_segments(data)[0]), "no marker of Adobe's to test with"
        assert near(middle(render(tmp_path, data)), expected)


def test_cmyk_without_adobes_marker(tmp_path: Path) -> None:
    """It counts as Adobe's all the same, as with the other readers of such files (libvips 8.18 and
    ImageMagick 6.9 agree on this one).
    """
    data = encoded(plain("CMYK", (200, 40, 10, 30)), "JPEG")
    at = data.index(b"\xff\xee")
    bare = data[:at] + data[at + 2 + int.from_bytes(data[at + 2 : at + 4], "big") :]
    assert near(middle(render(tmp_path, bare)), (49, 190, 217))
    assert near(middle(render(tmp_path, data)), (49, 190, 217))


def test_cmyk_tiff(tmp_path: Path) -> None:
    """CMYK without a profile goes by the plain formula."""
    assert near(middle(render(tmp_path, encoded(plain("CMYK", (0, 255, 0, 0)), "TIFF"))), (255, 0, 255))


# -- colour --------------------------------------------------------------------------------------


def from_linear(linear: np.ndarray) -> Colour:
    """Bytes of sRGB from linear light (IEC 61966-2-1), clipped."""
    clipped = np.clip(linear, 0, 1)
    coded = np.where(clipped <= 0.0031308, 12.92 * clipped, 1.055 * clipped ** (1 / 2.4) - 0.055)
    return tuple(int(v) for v in np.round(coded * 255))


def to_linear(colour: Colour) -> np.ndarray:
    """Linear light from bytes coded as sRGB and Display P3 are."""
    coded = np.array(colour) / 255
    return np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)


def to_xyz(primaries: list[tuple[float, float]]) -> np.ndarray:
    """The matrix from linear RGB to XYZ for these primaries and a D65 white (SMPTE RP 177)."""
    xyz = np.array([[x / y, 1, (1 - x - y) / y] for x, y in primaries]).T
    white = np.array([0.3127 / 0.3290, 1, (1 - 0.3127 - 0.3290) / 0.3290])
    return xyz * np.linalg.solve(xyz, white)


SRGB = to_xyz([(0.64, 0.33), (0.30, 0.60), (0.15, 0.06)])  # ITU-R BT.709
P3 = to_xyz([(0.680, 0.320), (0.265, 0.690), (0.150, 0.060)])  # SMPTE EG 432-1
ADOBE = to_xyz([(0.64, 0.33), (0.21, 0.71), (0.15, 0.06)])  # Adobe RGB (1998)

COLOURS = [(200, 100, 50), (60, 120, 180), (128, 128, 128), (255, 255, 255), (90, 140, 70), (30, 30, 30)]


def p3_in_srgb(colour: Colour) -> Colour:
    """Display P3 to sRGB by arithmetic."""
    return from_linear(np.linalg.solve(SRGB, P3 @ to_linear(colour)))


def adobe_in_srgb(colour: Colour) -> Colour:
    """Adobe RGB to sRGB by arithmetic."""
    return from_linear(np.linalg.solve(SRGB, ADOBE @ (np.array(colour) / 255) ** 2.19921875))


@pytest.mark.parametrize("colour", COLOURS)
def test_display_p3_becomes_srgb(colour: Colour, tmp_path: Path) -> None:
    """The profile that phones enclose (here the one of a demonstration picture), against arithmetic."""
    profile = (DATA / "display-p3.icc").read_bytes()
    for kind in ("JPEG", "PNG", "TIFF", "WEBP"):
        data = encoded(plain("RGB", colour), kind, icc_profile=profile)
        assert near(middle(render(tmp_path, data)), p3_in_srgb(colour), 4), kind


@pytest.mark.parametrize("colour", COLOURS)
def test_display_p3_in_heic(colour: Colour, tmp_path: Path) -> None:
    """HEIC with the profile enclosed, and HEIC that names its primaries by number alone."""
    image = plain("RGB", colour)
    enclosed, named = io.BytesIO(), io.BytesIO()
    holder = pillow_heif.from_pillow(image)
    holder.info["icc_profile"] = (DATA / "display-p3.icc").read_bytes()
    holder.save(enclosed, quality=95)
    pillow_heif.from_pillow(image).save(named, quality=95, color_primaries=12, transfer_characteristics=13)
    for data in (enclosed.getvalue(), named.getvalue()):
        assert near(middle(render(tmp_path, data, "a.heic")), p3_in_srgb(colour), 6)


@pytest.mark.parametrize("colour", COLOURS)
def test_adobe_rgb_named_in_exif_alone(colour: Colour, tmp_path: Path) -> None:
    """Cameras set to Adobe RGB enclose no profile, they say "R03" (DCF 2.0, Exif 2.32 annex)."""
    exif = piexif.dump(
        {"Exif": {piexif.ExifIFD.ColorSpace: 0xFFFF}, "Interop": {piexif.InteropIFD.InteroperabilityIndex: b"R03"}}
    )
    data = encoded(plain("RGB", colour), "JPEG", exif=exif)
    assert near(middle(render(tmp_path, data)), adobe_in_srgb(colour), 4)


@pytest.mark.parametrize("make", [adobe_rgb_profile, display_p3_profile])
def test_our_own_profiles_are_ones_that_a_colour_engine_takes(make: Any) -> None:
    """They open, are RGB, and white stays white."""
    profile = ImageCms.ImageCmsProfile(io.BytesIO(make()))
    assert profile.profile.xcolor_space.strip() == "RGB"
    white = ImageCms.profileToProfile(
        plain("RGB", (255, 255, 255)), profile, ImageCms.createProfile("sRGB"), outputMode="RGB"
    )
    assert white is not None
    assert white.getpixel((0, 0)) == (255, 255, 255)


@pytest.mark.parametrize("value", [0, 20, 128, 200, 255])
def test_a_grey_profile_is_honoured(value: int, tmp_path: Path) -> None:
    """Grey in linear light (gamma 1) comes out much lighter."""
    curve = b"curv" + bytes(4) + struct.pack(">I", 0)
    white = b"XYZ " + bytes(4) + struct.pack(">3i", 63190, 65536, 54061)
    profile = matrix_profile(b"GRAY", {b"wtpt": white, b"kTRC": curve})
    data = encoded(plain("L", value), "JPEG", icc_profile=profile)
    assert near(middle(render(tmp_path, data)), from_linear(np.array([value / 255] * 3)), 4)


def lab_in_srgb(lightness: float, a: float, b: float) -> Colour:
    """CIE L*a*b* (D50) to sRGB by arithmetic: CIE 15, then Bradford to D65."""
    fy = (lightness + 16) / 116
    ratios = [f**3 if f > 6 / 29 else 3 * (6 / 29) ** 2 * (f - 4 / 29) for f in (fy + a / 500, fy, fy - b / 200)]
    d50, d65 = np.array([0.9642, 1, 0.8249]), np.array([0.3127 / 0.3290, 1, 0.3583 / 0.3290])
    bradford = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
    carried = np.linalg.solve(bradford, (bradford @ d65) / (bradford @ d50) * (bradford @ (ratios * d50)))
    return from_linear(np.linalg.solve(SRGB, carried))


@pytest.mark.parametrize("lab", [(60, 20, 30), (50, -30, 10), (80, 0, 0), (35, 10, -40)])
def test_lab_tiff(lab: tuple[int, int, int], tmp_path: Path) -> None:
    """L*a*b* is turned by its definition."""
    stored_lab = (round(lab[0] * 255 / 100), lab[1] + 128, lab[2] + 128)
    data = encoded(plain("LAB", stored_lab), "TIFF")
    assert near(middle(render(tmp_path, data)), lab_in_srgb(*lab), 5)


def test_a_cmyk_profile_is_honoured(tmp_path: Path) -> None:
    """An invented press whose full cyan is a muddy green: the profile wins over the plain formula."""
    identity = bytes(range(256))
    grid = b"".join(
        bytes((255 - 40 * (c + m + y + k), 128 - 30 * c, 128 + 20 * c))
        for c in (0, 1)
        for m in (0, 1)
        for y in (0, 1)
        for k in (0, 1)
    )
    table = b"mft1" + bytes(4) + bytes((4, 3, 2, 0)) + struct.pack(">9i", 65536, 0, 0, 0, 65536, 0, 0, 0, 65536)
    table += identity * 4 + grid + identity * 3
    white = b"XYZ " + bytes(4) + struct.pack(">3i", 63190, 65536, 54061)
    profile = matrix_profile(b"CMYK", {b"wtpt": white, b"A2B0": table}, pcs=b"Lab ")
    expected = lab_in_srgb((255 - 40) * 100 / 255, -30, 20)
    for kind in ("JPEG", "TIFF"):
        data = encoded(plain("CMYK", (255, 0, 0, 0)), kind, icc_profile=profile)
        assert near(middle(render(tmp_path, data)), expected, 6), kind


@pytest.mark.parametrize(
    "profile",
    [
        b"",
        b"garbage" * 40,
        b"\0" * 36 + b"acsp" + b"\0" * 200,
        (DATA / "display-p3.icc").read_bytes()[:200],
        b"\0" * 16 + b"GRAY" + b"\0" * 16 + b"acsp" + b"\0" * 200,
        b"\0" * 16 + b"RGB " + b"\0" * 16 + b"acsp" + b"\xff" * 200,
    ],
)
def test_a_bad_profile_is_no_profile(profile: bytes, tmp_path: Path) -> None:
    """Garbage where a profile should be leaves the colours as they are."""
    data = encoded(plain("RGB", RED), "JPEG", icc_profile=profile)
    assert near(middle(render(tmp_path, data)), RED)


def test_a_profile_for_another_kind_of_picture_is_not_used(tmp_path: Path) -> None:
    """A grey picture with a profile for colour stays as it is."""
    data = encoded(plain("L", 100), "JPEG", icc_profile=(DATA / "display-p3.icc").read_bytes())
    assert near(middle(render(tmp_path, data)), (100, 100, 100))


# -- more than one picture in the file ------------------------------------------------------------


def test_only_the_first_picture_of_many(tmp_path: Path) -> None:
    """Animations, pages and the second picture of a phone's pair stay out."""
    first, second = quartered(), plain("RGB", GREEN, (96, 64))
    for kind in ("PNG", "WEBP", "TIFF", "MPO"):
        data = encoded(first, kind, save_all=True, append_images=[second, second])
        rendered = render(tmp_path, data)
        assert quarters(rendered.largest) == UPRIGHT, kind
        assert getattr(rendered.images[-1], "n_frames", 1) == 1
        assert jpeg_segments(rendered.data[-1])[1] == b""


# -- nothing of Pillow's is changed ---------------------------------------------------------------


def test_pillows_own_switches_stay(tmp_path: Path) -> None:
    """Other users of the library in the same program find it as they left it."""
    before = (Image.MAX_IMAGE_PIXELS, ImageFile.LOAD_TRUNCATED_IMAGES, Image.core.get_blocks_max())
    opened_before = set(Image.OPEN)
    render(tmp_path, encoded(quartered(), "WEBP"))
    assert (Image.MAX_IMAGE_PIXELS, ImageFile.LOAD_TRUNCATED_IMAGES, Image.core.get_blocks_max()) == before
    assert set(Image.OPEN) >= opened_before
