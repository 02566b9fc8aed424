"""Into sRGB, the one colour space the web takes for granted.

A picture carries its colours as numbers and, sometimes, a profile that says what the numbers mean.
Renditions carry no profile, so the numbers themselves must be sRGB's (IEC 61966-2-1).
"""

from __future__ import annotations

import io
import struct
from functools import lru_cache

from PIL import Image, ImageCms

_SPACES = {"RGB": "RGB", "L": "GRAY", "CMYK": "CMYK", "LAB": "Lab"}
"""The colour space a profile must be made for, by Pillow mode; a profile for another is no use."""


def to_srgb(image: Image.Image, profile: bytes | None) -> Image.Image:
    """An RGB picture with sRGB numbers from one in RGB, L, CMYK or LAB.

    A profile that is broken, or made for another kind of picture, is as good as none: RGB and L
    then count as sRGB, CMYK is turned over by the plain formula (no profile ships with us, so inks
    come out brighter than in print), LAB by its definition (D50).
    """
    if profile and _space_of(profile) == _SPACES[image.mode] and not _is_srgb(profile):
        try:
            return _transformed(image, ImageCms.ImageCmsProfile(io.BytesIO(profile)))
        except (ImageCms.PyCMSError, OSError, ValueError):
            pass
    if image.mode == "LAB":
        return _transformed(image, ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB", 5000)))
    return image if image.mode == "RGB" else image.convert("RGB")


def _transformed(image: Image.Image, profile: ImageCms.ImageCmsProfile) -> Image.Image:
    changed = ImageCms.profileToProfile(
        image, profile, ImageCms.createProfile("sRGB"), ImageCms.Intent.PERCEPTUAL, outputMode="RGB"
    )
    assert changed is not None  # only a change in place returns nothing
    return changed


def _space_of(profile: bytes) -> str:
    """The data colour space in the profile's header (ICC.1:2022, 7.2.8), or nothing."""
    if len(profile) < 128 or profile[36:40] != b"acsp":
        return ""
    return profile[16:20].decode("latin-1").strip()


def _sample_colours() -> Image.Image:
    """729 colours spread over the whole cube, as one small picture."""
    steps = [round(step * 255 / 8) for step in range(9)]
    return Image.frombytes("RGB", (27, 27), bytes(v for r in steps for g in steps for b in steps for v in (r, g, b)))


@lru_cache(maxsize=32)
def _is_srgb(profile: bytes) -> bool:
    """Whether the profile changes nothing that an eye could see: judged by what it does, not by its name.

    Most pictures carry one of the many profiles called sRGB; leaving those alone spares about
    15 ms for each. Three levels of 255 is what rounding and black points of such profiles make.
    """
    if _space_of(profile) != "RGB":
        return False
    before = _sample_colours()
    try:
        after = _transformed(before, ImageCms.ImageCmsProfile(io.BytesIO(profile)))
    except (ImageCms.PyCMSError, OSError, ValueError):
        return False
    return all(abs(a - b) <= 3 for a, b in zip(before.tobytes(), after.tobytes(), strict=True))


# Colour spaces that some cameras name without enclosing a profile, as the columns of the matrix to
# XYZ (D50): Adobe RGB (1998), section 4.3.1, and SMPTE EG 432-1 with a D65 white, both carried to D50 by Bradford.
_ADOBE_RGB = ((0.60974, 0.31111, 0.01947), (0.20528, 0.62567, 0.06087), (0.14919, 0.06322, 0.74457))
_DISPLAY_P3 = ((0.51512, 0.24120, -0.00105), (0.29198, 0.69225, 0.04189), (0.15710, 0.06657, 0.78407))


@lru_cache(maxsize=1)
def adobe_rgb_profile() -> bytes:
    """For pictures that say "R03" in Exif (the optional colour space of DCF 2.0) and enclose no profile."""
    return _matrix_profile(_ADOBE_RGB, b"curv" + struct.pack(">IIH2x", 0, 1, round(2.19921875 * 256)))


@lru_cache(maxsize=1)
def display_p3_profile() -> bytes:
    """For HEIC pictures that name their primaries by number (12 in ITU-T H.273) and enclose no profile."""
    srgb_curve = (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)
    return _matrix_profile(_DISPLAY_P3, b"para" + struct.pack(">IHH5i", 0, 3, 0, *map(_s15, srgb_curve)))


def _s15(value: float) -> int:
    """The s15Fixed16Number of ICC.1:2022, 4.6."""
    return round(value * 65536)


def _matrix_profile(columns: tuple[tuple[float, float, float], ...], curve: bytes) -> bytes:
    """A three-component matrix profile (ICC.1:2022, 8.3.3) holding just what a colour engine needs."""
    tags = {b"wtpt": b"XYZ " + struct.pack(">I3i", 0, *map(_s15, (0.9642, 1.0, 0.8249)))}
    for letter, column in zip((b"r", b"g", b"b"), columns, strict=True):
        tags[letter + b"XYZ"] = b"XYZ " + struct.pack(">I3i", 0, *map(_s15, column))
        tags[letter + b"TRC"] = curve
    table, body = struct.pack(">I", len(tags)), b""
    start = 128 + 4 + 12 * len(tags)
    for name, data in tags.items():
        table += name + struct.pack(">II", start + len(body), len(data))
        body += data + b"\0" * (-len(data) % 4)
    header = struct.pack(">I4xI", start + len(body), 0x04000000) + b"mntrRGB XYZ " + b"\0" * 12 + b"acsp"
    header += b"\0" * 28 + struct.pack(">3i", *map(_s15, (0.9642, 1.0, 0.8249)))
    return header.ljust(128, b"\0") + table + body
