"""The mapping from high range to sRGB, held against the standards written out for one colour at a time."""

from __future__ import annotations

import io
import math

import numpy as np
import pytest
from PIL import Image

from journal.media import plain_range
from journal.media.high_range import BT_709, BT_2020, P3, HighRange
from journal.media.plain_range import KNEE, WHITE, plain_still, to_plain

Triple = tuple[float, float, float]

WHITE_POINT = (0.3127, 0.3290)
CORNERS = {
    BT_709: ((0.640, 0.330), (0.300, 0.600), (0.150, 0.060)),
    BT_2020: ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046)),
    P3: ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060)),
}
"""Chromaticities of red, green and blue, and of D65 (ITU-R BT.709-6, BT.2020-2, SMPTE EG 432-1)."""


def to_xyz(primaries: int) -> np.ndarray:
    """From R'G'B' light to XYZ (SMPTE RP 177)."""
    columns = np.array([[x / y, 1, (1 - x - y) / y] for x, y in CORNERS[primaries]]).T
    x, y = WHITE_POINT
    return columns * np.linalg.solve(columns, np.array([x / y, 1, (1 - x - y) / y]))


def light_of(coded: Triple, range_: HighRange) -> list[float]:
    """cd/m2 of each colour (ITU-R BT.2100-2, tables 4 and 5) as a multiple of diffuse white."""
    if range_ is HighRange.PQ:
        m1, m2, c1, c2, c3 = 0.1593017578125, 78.84375, 0.8359375, 18.8515625, 18.6875
        roots = [one ** (1 / m2) for one in coded]
        return [10_000 * (max(root - c1, 0) / (c2 - c3 * root)) ** (1 / m1) / WHITE for root in roots]
    a = 0.17883277
    b, c = 1 - 4 * a, 0.5 - a * math.log(4 * a)
    scene = [one * one / 3 if one <= 0.5 else (math.exp((one - c) / a) + b) / 12 for one in coded]
    luma = 0.2627 * scene[0] + 0.6780 * scene[1] + 0.0593 * scene[2]
    return [1000 * one * luma**0.2 / WHITE if luma else 0.0 for one in scene]


def rolled(light: float) -> float:
    """As it is up to the knee, and towards 1 above it."""
    if light <= KNEE:
        return light
    over = (light - KNEE) / (1 - KNEE)
    return KNEE + (1 - KNEE) * over / (1 + over)


def expected(coded: Triple, range_: HighRange, primaries: int) -> list[float]:
    """The whole mapping for one colour."""
    light = np.linalg.inv(to_xyz(BT_709)) @ to_xyz(primaries) @ np.array(light_of(coded, range_))
    grey = max(0.2126 * light[0] + 0.7152 * light[1] + 0.0722 * light[2], 0)
    lowest = min(light)
    light = [grey + (one - grey) * (grey / (grey - lowest) if lowest < 0 else 1) for one in light]
    brightest = max(*light, 1e-9)
    shown = [(rolled(one) + one * rolled(brightest) / brightest) / 2 for one in light]
    return [12.92 * one if one <= 0.0031308 else 1.055 * one ** (1 / 2.4) - 0.055 for one in shown]


COLOURS: list[Triple] = [
    *((level, level, level) for level in (0.0, 0.02, 0.1, 0.3, 0.5, 0.508, 0.58, 0.7, 0.75, 0.9, 1.0)),
    *((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0), (0.5, 0.1, 0.0), (0.1, 0.6, 0.3), (0.05, 0.1, 0.7)),
    *((0.9, 0.8, 0.1), (0.6, 0.4, 0.4), (0.3, 0.31, 0.29), (0.95, 0.9, 1.0)),
]


@pytest.mark.parametrize("range_", [HighRange.PQ, HighRange.HLG])
@pytest.mark.parametrize("primaries", [BT_709, BT_2020, P3])
def test_the_mapping_is_that_of_the_standards(range_: HighRange, primaries: int) -> None:
    """Greys and colours, dark, bright and beyond sRGB: within a third of one of 255 levels."""
    wanted = np.array([expected(colour, range_, primaries) for colour in COLOURS])
    assert np.abs(to_plain(np.array(COLOURS), range_, primaries) - wanted).max() < 1 / 765


def test_diffuse_white_is_almost_white_and_nothing_is_beyond() -> None:
    """203 cd/m2 comes to 252 of 255; the brightest stays below 255, what is beyond the code counts as its end."""
    assert round(float(to_plain(np.full(3, 0.5807), HighRange.PQ)[0]) * 255) == 252
    ends = to_plain(np.array([[1.0] * 3, [2.0] * 3, [0.0] * 3, [-1.0] * 3]), HighRange.PQ)
    assert ends[0].tolist() == ends[1].tolist()
    assert ends[2].tolist() == ends[3].tolist()
    assert 0.995 < ends[0].max() <= 1
    assert abs(ends[2]).max() < 1e-6


def test_the_table_tells_red_fastest(monkeypatch: pytest.MonkeyPatch) -> None:
    """The form of a .cube file: how many points, then three levels a line."""
    assert plain_range._POINTS == 65
    monkeypatch.setattr(plain_range, "_POINTS", 5)
    lines = plain_range.table_text.__wrapped__(HighRange.HLG).splitlines()
    assert (lines[0], len(lines)) == ("LUT_3D_SIZE 5", 1 + 5**3)
    for place, coded in ((1, (1, 0, 0)), (5, (0, 1, 0)), (5 * 5, (0, 0, 1))):
        levels = to_plain(np.array(coded) / 4, HighRange.HLG)
        assert [float(one) for one in lines[1 + place].split(" ")] == pytest.approx(levels.tolist(), abs=1e-5)


def test_a_still_is_brought_down_by_whole_parts_in_bands(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each part is the mean of its own, what is left over at the edges goes; bands make no difference."""
    levels = np.arange(7 * 9 * 3, dtype=np.uint8).reshape(7, 9, 3)
    whole = plain_still(Image.fromarray(levels), 2, HighRange.HLG)
    assert whole.size == (4, 3)
    means = levels[:6, :8].astype(float).reshape(3, 2, 4, 2, 3).mean(axis=(1, 3)) / 255
    assert np.abs(np.asarray(whole) - np.round(to_plain(means, HighRange.HLG) * 255)).max() <= 1
    for pixels in (1, 17, 40):
        monkeypatch.setattr(plain_range, "_BAND_PIXELS", pixels)
        assert plain_still(Image.fromarray(levels), 2, HighRange.HLG).tobytes() == whole.tobytes()
    grey = plain_still(Image.fromarray(levels[..., 0]), 1, HighRange.HLG)
    assert grey.size == (9, 7)


class Opened(list[np.ndarray]):
    """A HEIC of several pictures, as its decoder gives it."""

    primary_index = 1


@pytest.mark.parametrize("form", ["grey", "colours", "with a mask"])
def test_a_heic_is_decoded_with_all_its_bits(monkeypatch: pytest.MonkeyPatch, form: str) -> None:
    """The one that counts of several; grey alone, and what lies beside the three colours is left out."""
    colours = (np.arange(4 * 6 * 3, dtype=np.uint16) * 900).reshape(4, 6, 3)
    shades = {"grey": colours[..., 0], "colours": colours, "with a mask": np.dstack((colours, colours[..., 0]))}[form]
    asked = {}

    def opened(source: object, **how: object) -> Opened:
        asked.update(how)
        return Opened((np.zeros((2, 2), np.uint16), shades))

    monkeypatch.setattr(plain_range.pillow_heif, "open_heif", opened)
    picture = np.asarray(plain_still(io.BytesIO(), 1, HighRange.PQ))
    wanted = np.repeat(colours[..., :1], 3, axis=2) if form == "grey" else colours
    levels = np.round(to_plain(wanted.astype(np.float32) / 65_535, HighRange.PQ) * 255)
    assert np.abs(picture - levels).max() <= 1
    assert asked == {"convert_hdr_to_8bit": False}
