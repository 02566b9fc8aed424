"""The watermark: readable on any ground, in the chosen corner, in proportion, the same every time."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from making import slow
from picturing import encoded, render
from PIL import Image

from journal.base.model import Corner
from journal.media.photos import missing_letters
from journal.media.photos.watermark import clean_mark, draw_mark

WHITE, GREY, BLACK = (255, 255, 255), (128, 128, 128), (0, 0, 0)
TEXT = "Tarn · an invented kit"


def ground(colour: tuple[int, int, int], size: tuple[int, int] = (1920, 1440)) -> Image.Image:
    """A picture of one colour."""
    return Image.new("RGB", size, colour)


def marked(
    image: Image.Image, text: str = TEXT, corner: Corner = Corner.LOWER_RIGHT, opacity: str = "0.6"
) -> Image.Image:
    """A copy with the mark drawn on it."""
    copy = image.copy()
    draw_mark(copy, clean_mark(text), corner, Decimal(opacity))
    return copy


def changed(before: Image.Image, after: Image.Image, by: int = 12) -> tuple[int, int, int, int]:
    """The box (left, top, right, bottom) in which two pictures differ."""
    differs = np.abs(np.asarray(before).astype(int) - np.asarray(after).astype(int)).max(axis=2) > by
    ys, xs = np.where(differs)
    return int(xs.min()), int(ys.min()), int(xs.max()) + 1, int(ys.max()) + 1


def luminance(grey: float) -> float:
    """Relative luminance of a grey (WCAG 2.2)."""
    share = grey / 255
    return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4


def contrast_of_mark(before: Image.Image, after: Image.Image) -> float:
    """Contrast (WCAG 2.2) between the letters and their outline: the lightest and the darkest of the
    pixels in the mark, a fiftieth of it left out at each end so that no single pixel decides.
    """
    area = np.asarray(after.crop(changed(before, after)).convert("L"))
    base = np.asarray(before.crop(changed(before, after)).convert("L"))
    touched = area[np.abs(area.astype(int) - base.astype(int)) > 12] if before.getpixel((0, 0)) != WHITE else area
    dark, light = np.percentile(touched, [2, 98])
    return (luminance(float(light)) + 0.05) / (luminance(float(dark)) + 0.05)


@pytest.mark.parametrize("colour", [GREY, *slow(WHITE, BLACK, (200, 170, 140), (60, 70, 80))])
def test_it_is_readable_on_any_ground(colour: tuple[int, int, int]) -> None:
    """Letters keep 4.5 to 1 against their outline at the usual opacity (WCAG 2.2, 1.4.3)."""
    before = ground(colour)
    assert contrast_of_mark(before, marked(before)) >= 4.5


@pytest.mark.parametrize("colour", [WHITE, GREY, BLACK])
def test_it_is_readable_on_the_smallest_rendition_as_published(colour: tuple[int, int, int], tmp_path: Path) -> None:
    """At 480 pixels and after JPEG it still keeps 3 to 1 (WCAG 2.2, 1.4.11)."""
    rendered = render(tmp_path, encoded(ground(colour), "PNG"), watermark=TEXT)
    small = rendered.images[0].convert("RGB")
    assert small.size == (480, 360)
    assert contrast_of_mark(ground(colour, small.size), small) >= 3


@pytest.mark.parametrize("size", [(480, 360), *slow((1920, 1440), (1440, 1920), (360, 480), (480, 480), (1920, 300))])
@pytest.mark.parametrize("corner", list(Corner))
def test_it_stands_in_the_chosen_corner(corner: Corner, size: tuple[int, int]) -> None:
    """Near both edges that the corner names, clear of them, and whole."""
    before = ground(GREY, size)
    left, top, right, bottom = changed(before, marked(before, corner=corner))
    width, height = size
    near = max(size) * 0.06
    gaps = {"left": left, "right": width - right, "upper": top, "lower": height - bottom}
    for side in corner.value.split():
        assert 0 < gaps[side] <= near, side
    assert all(gap > 0 for gap in gaps.values())


def test_it_keeps_its_proportion() -> None:
    """The same share of the picture at 480, 960 and 1920."""
    shares = []
    for size in ((480, 360), (960, 720), (1920, 1440)):
        before = ground(GREY, size)
        left, top, right, bottom = changed(before, marked(before))
        shares.append(((right - left) / size[0], (bottom - top) / size[1]))
    for share in shares[1:]:
        assert share == pytest.approx(shares[0], rel=0.12)
    assert 0.2 < shares[0][0] < 0.5


def test_a_long_text_is_made_smaller_and_then_cut() -> None:
    """However long, it stays inside the picture, and something of it stays readable."""
    for words, size in ((12, (480, 360)), (60, (480, 360)), (400, (480, 360)), (12, (300, 1920)), (12, (120, 480))):
        before = ground(GREY, size)
        left, top, right, bottom = changed(before, marked(before, "Tarn build " * words))
        assert left > 0
        assert right < size[0]
        assert bottom - top >= 8


@pytest.mark.parametrize(("opacity", "strongest"), [("0.25", 64), ("0.6", 153), ("1", 255), ("7", 255)])
def test_opacity_is_honoured(opacity: str, strongest: int) -> None:
    """On black the letters are as light as the opacity says; above 1 counts as 1."""
    after = np.asarray(marked(ground(BLACK), opacity=opacity))
    assert abs(int(after.max()) - strongest) <= 2


@pytest.mark.parametrize(
    ("text", "opacity"), [("", "0.6"), ("   \n", "0.6"), (TEXT, "0"), (TEXT, "-1"), ("\u200b\x00", "0.6")]
)
def test_no_text_or_no_opacity_is_no_mark(text: str, opacity: str) -> None:
    """The picture stays as it is."""
    before = ground(GREY)
    assert marked(before, text, opacity=opacity).tobytes() == before.tobytes()


@pytest.mark.parametrize(
    "text",
    ["Łódź · žluťoučký", "Ελλάδα", "Самолёт", "Հայաստան", "საქართველო", "שלום", "مرحبا", "© 2026 – “Tarn” №7 → ✈"],
)
def test_letters_of_many_scripts(text: str) -> None:
    """Everything that the typeface has is drawn, right-to-left scripts included."""
    assert missing_letters(text) == ""
    before = ground(GREY)
    left, top, right, bottom = changed(before, marked(before, text))
    assert right - left > 40
    assert bottom - top > 20


@pytest.mark.parametrize(
    ("text", "drawn", "missing"),
    [
        ("Tarn 中文 kit", "Tarn kit", "中文"),
        ("plane 👍🏽!", "plane !", "👍🏽"),
        ("e\u0301te\u0301", "été", ""),
        ("two\nlines\tand\x00more\x7f", "two lines andmore", ""),
        ("  wide   spaces ", "wide spaces", ""),
        ("ﬁne Ⅷ", "ﬁne Ⅷ", ""),
        ("𝐓arn", "Tarn", ""),
        ("中", "", "中"),
    ],
)
def test_what_cannot_be_drawn(text: str, drawn: str, missing: str) -> None:
    """Control characters go, letters fall back to plainer ones, the rest is left out and named."""
    assert (clean_mark(text), missing_letters(text)) == (drawn, missing)


def test_a_picture_without_room_is_left_alone() -> None:
    """On a few pixels no mark is drawn, and nothing breaks."""
    for size in ((1, 1), (8, 8), (400, 6), (6, 400)):
        before = ground(GREY, size)
        assert marked(before).tobytes() == before.tobytes()


def test_the_same_mark_every_time() -> None:
    """Two drawings are equal to the last bit."""
    assert marked(ground(GREY)).tobytes() == marked(ground(GREY)).tobytes()
