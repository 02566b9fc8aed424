"""Picture cards: size, sameness, fitted lettering, and pictures or drawings that cannot be read."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageChops

from journal.base.drawing import DrawnAssembly, Palette
from journal.base.model import State
from journal.site.cards import (
    BLUEPRINT,
    CARD_SIZE,
    MOST_CARD_BYTES,
    CardCell,
    Face,
    LinkCard,
    condense_steps,
    draw_title_block,
    fit_line,
    paste_drawing,
    render_link_card,
)

DRAWING = (Path(__file__).parents[2] / "content" / "aircraft.svg").read_text(encoding="utf-8")
ORDER = tuple(f"{chapter}.{number}" for chapter in (5, 6, 7) for number in range(1, 41))
DRAWN = (
    DrawnAssembly(id="flaps", title="Flaps", state=State.DONE, href="x"),
    DrawnAssembly(id="left-wing", title="Left wing", state=State.UNDER_WAY, href="x"),
)
CARD = LinkCard(
    title="Flap skeletons: first ribs on the spar",
    day=12,
    date=date(2026, 2, 7),
    assembly="Left wing",
    steps=("5.3", "5.4", "5.5", "5.9"),
    step_order=ORDER,
    minutes=390,
    minutes_to_date=7275,
    aircraft="Tarn",
    picture=None,
    drawing=DRAWING,
    drawn=DRAWN,
    picked="left-wing",
)
PAPER = Palette(
    ink="#17242e",
    paper="#fbf9f4",
    done="#0f766e",
    under_way="#f0b232",
    hatch="#7d5208",
    on_done="#d5f0ec",
    picked="#b93a0b",
)


def opened(data: bytes) -> Image.Image:
    """The card as pixels."""
    image = Image.open(io.BytesIO(data))
    image.load()
    return image


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    """A noisy picture, the hardest kind to make small."""
    path = tmp_path / "abc-960.jpg"
    Image.effect_noise((960, 720), 80).convert("RGB").save(path)
    return path


def test_a_card_is_a_small_jpeg_of_the_usual_size(picture: Path) -> None:
    """1200 x 630 pixels and at most 150 KB, with and without a picture, however busy it is."""
    for card in (CARD, replace(CARD, picture=picture)):
        data = render_link_card(card)
        image = opened(data)
        assert (image.format, image.size) == ("JPEG", CARD_SIZE)
        assert len(data) <= MOST_CARD_BYTES
        assert not image.getexif()


def test_same_card_same_bytes(picture: Path) -> None:
    """A card made twice is the same file."""
    card = replace(CARD, picture=picture)
    assert render_link_card(card) == render_link_card(card)


@pytest.mark.parametrize(
    "change",
    [
        {"title": "Another"},
        {"day": 13},
        {"steps": ("5.3",)},
        {"minutes": 391},
        {"minutes_to_date": 1},
        {"aircraft": "Other"},
        {"picked": None},
        {"drawn": (replace(DRAWN[0], state=State.NOT_BEGUN), DRAWN[1])},
        {"drawing": ""},
    ],
)
def test_what_shows_on_the_card_changes_picture_and_key(change: dict[str, object]) -> None:
    """Every field that can be seen makes another picture and another key."""
    other = replace(CARD, **change)
    assert other.key != CARD.key
    assert render_link_card(other) != render_link_card(CARD)


def test_what_does_not_show_keeps_the_key(tmp_path: Path, picture: Path) -> None:
    """Another folder, another address or steps not yet written elsewhere leave a card good."""
    card = replace(CARD, picture=picture)
    moved = replace(
        card,
        picture=tmp_path / "elsewhere" / picture.name,
        drawn=tuple(replace(assembly, href="y") for assembly in DRAWN),
        step_order=(*ORDER, "9.1"),
    )
    assert moved.key == card.key


def test_a_picture_that_cannot_be_read_leaves_a_card_without(tmp_path: Path) -> None:
    """A missing or broken picture gives the card of an entry without pictures."""
    broken = tmp_path / "broken.jpg"
    broken.write_bytes(b"\xff\xd8\xff no picture")
    without = render_link_card(CARD)
    assert render_link_card(replace(CARD, picture=broken)) == without
    assert render_link_card(replace(CARD, picture=tmp_path / "missing.jpg")) == without


@pytest.mark.parametrize(
    ("steps", "ways"),
    [
        ((), ("none",)),
        (("5.3",), ("5.3",)),
        (("5.3", "5.4"), ("5.3, 5.4",)),
        (("5.5", "5.3", "5.4", "5.9"), ("5.3 to 5.5, 5.9", "4 steps, 5.3 … 5.9", "4 steps")),
    ],
)
def test_steps_have_shorter_forms(steps: tuple[str, ...], ways: tuple[str, ...]) -> None:
    """Runs are drawn together first; then the number of steps says it."""
    assert condense_steps(steps, ORDER) == ways


def block(cells: tuple[CardCell, ...], width: int, height: int) -> Image.Image:
    """A title block with a margin of 20 px all round, on black."""
    image = Image.new("RGB", (width + 40, height + 40), "black")
    draw_title_block(image, (20, 20, width + 19, height + 19), cells)
    return image


def ink_of(image: Image.Image) -> tuple[int, int, int, int] | None:
    """The box round everything that is not black."""
    return ImageChops.difference(image, Image.new(image.mode, image.size)).getbbox()


@settings(deadline=None, max_examples=40)
@given(
    st.integers(300, 3800),
    st.integers(80, 900),
    st.text(max_size=90),
    st.sets(st.sampled_from(ORDER)),
    st.integers(0, 10_000_000),
)
def test_a_title_block_never_runs_over(width: int, height: int, assembly: str, steps: set[str], minutes: int) -> None:
    """Whatever stands in it and whatever its shape, nothing is drawn outside the block."""
    cells = replace(
        CARD,
        day=99_999,
        date=date(2026, 9, 30),
        assembly=assembly,
        steps=tuple(sorted(steps)),
        minutes=minutes,
        minutes_to_date=minutes,
    ).cells
    assert ink_of(block(cells, width, height)) == (20, 20, width + 20, height + 20)


def test_long_step_lists_are_condensed_before_figures_become_small() -> None:
    """Twenty scattered steps do not shrink the block: it looks as with their number alone."""
    scattered = tuple(ORDER[number] for number in range(0, 40, 2))

    def cells(values: tuple[str, ...]) -> tuple[CardCell, ...]:
        return tuple(
            replace(cell, values=values) if cell.label == "Steps" else cell for cell in replace(CARD, steps=()).cells
        )

    long = block(cells(condense_steps(scattered, ORDER)), 1150, 110)
    short = {words: block(cells((words,)), 1150, 110) for words in ("20 steps", "20 steps, 5.1 … 5.39")}
    assert long.tobytes() in {image.tobytes() for image in short.values()}


@given(st.text(max_size=200), st.integers(20, 1200), st.integers(8, 120))
@settings(deadline=None)
def test_a_line_fits_its_room(words: str, width: int, most_px: int) -> None:
    """Set lettering is never wider than its room nor larger than asked for."""
    font, shown = fit_line(words, Face.LABEL, width, most_px)
    assert font.size <= most_px
    assert font.getlength(shown) <= width


def test_letters_of_the_builders_languages_are_drawn_and_others_left_out() -> None:
    """Names with accents come whole; what the face lacks is left out, not drawn as boxes."""
    name = "Žofie Łukaš Grüß Ångström Çağla Țepeș"
    assert fit_line(name, Face.LABEL, 9999, 40)[1] == name
    assert fit_line("Flaps 🛩 翼", Face.LABEL, 9999, 40)[1] == "Flaps"
    assert fit_line("🛩", Face.LABEL, 9999, 40)[1] == ""


def pixels(drawing: str, palette: Palette) -> Image.Image | None:
    """The drawing with the flaps picked out on clear ground, 900 pixels wide; None where there is none."""
    image = Image.new("RGBA", (900, 2000))
    card = replace(CARD, drawing=drawing, picked="flaps")
    return image if paste_drawing(image, (0, 0, 900, 2000), card, palette) else None


def test_the_drawing_becomes_pixels_with_its_states() -> None:
    """Done is solid teal, under way shows amber and stripes, the ground stays clear."""
    image = pixels(DRAWING, PAPER)
    assert image is not None
    box = image.getbbox()
    assert box is not None
    assert box[2] - box[0] > 800
    colours = {colour for _, colour in image.getcolors(image.width * image.height) or []}
    assert (0x0F, 0x76, 0x6E, 255) in colours
    assert (0xF0, 0xB2, 0x32, 255) in colours
    assert (0xB9, 0x3A, 0x0B, 255) in colours
    assert image.getpixel((0, 0)) == (0, 0, 0, 0)
    again = pixels(DRAWING, PAPER)
    assert again is not None
    assert again.tobytes() == image.tobytes()
    other = pixels(DRAWING, BLUEPRINT)
    assert other is not None
    assert other.tobytes() != image.tobytes()


@pytest.mark.parametrize("svg", ["", "<svg", '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 0 0"/>'])
def test_no_drawing_no_pixels(svg: str) -> None:
    """A drawing that cannot be used leaves its place empty."""
    assert pixels(svg, PAPER) is None
    assert opened(render_link_card(replace(CARD, drawing=svg))).size == CARD_SIZE


def test_labels_stand_over_their_figures() -> None:
    """Within a cell everything soft (the label) is above the ink of the figure."""
    image = block((CardCell(label="Hours to date", values=("121 h",)),), 600, 120).crop((26, 26, 590, 134))
    rows: dict[str, list[int]] = {"label": [], "figure": []}
    for y in range(image.height):
        row = {image.getpixel((x, y)) for x in range(image.width)}
        rows["label"] += [y] if (0xAE, 0xBF, 0xCE) in row else []
        rows["figure"] += [y] if (0xE6, 0xEE, 0xF5) in row else []
    assert max(rows["label"]) < min(rows["figure"])
    assert len(rows["figure"]) > len(rows["label"]) > 8
