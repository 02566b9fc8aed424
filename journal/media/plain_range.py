"""From more light than a plain screen has to sRGB: one mapping for films and stills.

Sources: SMPTE ST 2084 and ARIB STD-B67 as ITU-R BT.2100 gives them (tables 4 and 5, notes 5c and 5i for the light of
a display of 1000 cd/m2), BT.2020 and BT.709 primaries, BT.2408 for diffuse white at 203 cd/m2; the numbers are from
memory and held against zimg's in the tests.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any, BinaryIO

import numpy as np
import pillow_heif
from numpy.typing import NDArray
from PIL import Image

from journal.media.high_range import BT_709, BT_2020, P3, HighRange

Levels = NDArray[np.float32]


WHITE = 203.0
"""Diffuse white, cd/m2 (BT.2408): what becomes white on the site."""

KNEE = 0.95
"""Of diffuse white: up to here light is as in plain range (sRGB 249 of 255), above it rolls off towards 255 and never
ends; diffuse white itself comes to 252.
"""

_PEAK = 1000.0
_TO_709 = {
    BT_709: np.eye(3),
    BT_2020: np.array(
        [[1.660491, -0.587641, -0.072850], [-0.124550, 1.132900, -0.008349], [-0.018151, -0.100579, 1.118730]]
    ),
    P3: np.array([[1.224940, -0.224940, 0.0], [-0.042057, 1.042057, 0.0], [-0.019638, -0.078636, 1.098274]]),
}
_LUMA_709 = np.array([0.2126, 0.7152, 0.0722])
_LUMA_2020 = np.array([0.2627, 0.6780, 0.0593])


def to_plain(coded: NDArray[Any], range_: HighRange, primaries: int = BT_2020) -> Levels:
    """Levels of sRGB from 0 to 1 of coded R'G'B' from 0 to 1; the last axis holds the three.

    Colours that sRGB does not have are drawn towards their grey rather than cut off by channel, which would change
    their hue; what is too bright keeps half of its hue as it rolls off.
    """
    light = _light(np.asarray(coded, dtype=np.float32), range_) @ _TO_709[primaries].T.astype(np.float32)
    grey = np.maximum(light @ _LUMA_709.astype(np.float32), 0)[..., None]
    lowest = light.min(axis=-1, keepdims=True)
    light = grey + (light - grey) * np.where(lowest < 0, grey / np.maximum(grey - lowest, 1e-9), 1)
    brightest = np.maximum(light.max(axis=-1, keepdims=True), 1e-9)
    shown = (_rolled_off(light) + light * (_rolled_off(brightest) / brightest)) / 2
    curved = 1.055 * np.maximum(shown, 1e-9) ** (1 / 2.4) - 0.055
    levels: Levels = np.where(shown <= 0.0031308, 12.92 * shown, curved).astype(np.float32)
    return levels


def _light(coded: Levels, range_: HighRange) -> Levels:
    """Light of each colour as a multiple of diffuse white."""
    coded = np.clip(coded, 0, 1)
    if range_ is HighRange.PQ:
        m1, m2, c1, c2, c3 = 2610 / 16384, 2523 / 32, 3424 / 4096, 2413 / 128, 2392 / 128
        root = coded ** (1 / m2)
        candelas = 10_000 * (np.maximum(root - c1, 0) / (c2 - c3 * root)) ** (1 / m1)
    else:
        a, b, c = 0.17883277, 0.28466892, 0.55991073
        scene = np.where(coded <= 0.5, coded**2 / 3, (np.exp((coded - c) / a) + b) / 12)
        candelas = _PEAK * scene * np.maximum(scene @ _LUMA_2020.astype(np.float32), 1e-9)[..., None] ** 0.2
    light: Levels = (candelas / WHITE).astype(np.float32)
    return light


def _rolled_off(light: Levels) -> Levels:
    over = np.maximum(light - KNEE, 0) / (1 - KNEE)
    shown: Levels = (np.minimum(light, KNEE) + (1 - KNEE) * over / (1 + over)).astype(np.float32)
    return shown


_POINTS = 65
"""Of the table on each side: greys come within 1.4 of 255 levels of the mapping itself, 99 colours of 100 within 3.2;
with 33 points 6 and 12.
"""


@lru_cache(maxsize=2)
def table_text(range_: HighRange) -> str:
    """The mapping as a `.cube` table (red runs fastest) for ffmpeg's `lut3d`."""
    axis = np.linspace(0, 1, _POINTS, dtype=np.float32)
    blue, green, red = np.meshgrid(axis, axis, axis, indexing="ij")
    colours = to_plain(np.stack((red, green, blue), axis=-1), range_).reshape(-1, 3)
    lines = "\n".join(f"{red:.5f} {green:.5f} {blue:.5f}" for red, green, blue in colours.tolist())
    return f"LUT_3D_SIZE {_POINTS}\n{lines}\n"


_BAND_PIXELS = 1_000_000


def plain_still(
    source: BinaryIO | Image.Image, factor: int, range_: HighRange, primaries: int = BT_2020
) -> Image.Image:
    """An sRGB picture of one in high range, brought down by a whole factor: of an open HEIC, which is decoded with all
    its bits, or of what was decoded to 8 bits already. Raises what the decoder raises.

    It goes in bands, since floats of all of it would take ten times its memory.
    """
    if isinstance(source, Image.Image):
        coded = np.asarray(source.convert("RGB"))
    else:
        source.seek(0)
        opened = pillow_heif.open_heif(source, convert_hdr_to_8bit=False)
        coded = np.asarray(opened[opened.primary_index])
        coded = np.repeat(coded[..., None], 3, axis=2) if coded.ndim == 2 else coded[..., :3]
    height, width = (side // factor * factor for side in coded.shape[:2])
    most = float(np.iinfo(coded.dtype).max)
    picture = Image.new("RGB", (width // factor, height // factor))
    rows = max(_BAND_PIXELS // width // factor, 1) * factor
    for top in range(0, height, rows):
        band = coded[top : min(top + rows, height), :width].astype(np.float32) / most
        small = band.reshape(band.shape[0] // factor, factor, width // factor, factor, 3).mean(axis=(1, 3))
        levels = np.round(to_plain(small, range_, primaries) * 255).astype(np.uint8)
        picture.paste(Image.fromarray(levels), (0, top // factor))
    return picture
