"""Cards and description of a film: the right size, nothing beyond its box, nothing that is not public."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date
from functools import lru_cache
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from making import MakeBuild, entry, slow
from PIL import Image, ImageChops

from journal.base.model import State
from journal.commands.card import MOST_CHARACTERS, Shape, describe
from journal.commands.main import main
from journal.commands.terminal import CAUTION
from journal.ledger.journal import open_journal
from journal.making.link_cards import plan_card
from journal.site.cards import LinkCard
from journal.site.film_frames import SHAPES, Size, draw_paragraph, render_strip, render_title_card
from journal.site.site_context import SiteContext
from journal.view.view import Audience, ShownEntry, View, open_view

TODAY = date(2026, 3, 1)


@pytest.fixture
def root(make_build: MakeBuild) -> Path:
    """A build with a drawing, a finished step, a private entry and a draft."""
    return make_build(
        {
            "aircraft.svg": (Path(__file__).parents[1] / "content/aircraft.svg").read_text("utf-8"),
            "entries/2026-02-07-ribs/index.md": entry(
                "title: Ribs dimpled\nsteps: [5.1]\nhours: 2:00\nplace: hangar\ntools: [squeezer]\npeople: [ada, bo]",
                "Every hole was deburred, then the dimple dies came out.\n\n!!! private\n    Bo cut his thumb.\n",
            ),
            "entries/2026-02-08-private/index.md": entry("date: 2026-02-08\ntitle: Money\nprivate: true"),
            "entries/2026-02-09-draft/index.md": entry("date: 2026-02-09\ndraft: true"),
        }
    )


def view_of(root: Path) -> View:
    """What the public sees of it."""
    return open_view(open_journal(root, TODAY), Audience.PUBLIC)


@lru_cache(maxsize=1)
def opened(data: bytes) -> Image.Image:
    """The picture in these bytes."""
    return Image.open(io.BytesIO(data))


SIZES = [*(slow(size)[0] if shape == "4k" else size for shape, size in SHAPES.items())]
LONG = "How, after three attempts and two evenings, the nose ribs held still enough to dimple every flange " * 3


def long_card(view: View) -> LinkCard:
    """An entry whose every word is too long."""
    entry = replace(
        view.entries[0],
        title=LONG,
        steps=tuple(view.steps.values())[::2],
        assembly=replace(view.entries[0].assembly, title="Horizontal stabiliser, elevator and trim tab assembly"),
        minutes=123_456,
        minutes_to_date=12_345_678,
    )
    return replace(plan_card(SiteContext(view, {}), entry), aircraft="An aircraft with a very long name " * 4)


@pytest.mark.parametrize("size", SIZES, ids=[*SHAPES])
@pytest.mark.parametrize("long", [False, True], ids=["usual", "long"])
def test_a_strip_is_transparent_but_for_its_foot(root: Path, size: Size, long: bool) -> None:
    """The card is as large as the frame, empty above and at the edges, whatever is written on it."""
    view = view_of(root)
    card = long_card(view) if long else plan_card(SiteContext(view, {}), view.entries[0])
    strip = opened(render_strip(card, size))
    width, height = size
    assert (strip.size, strip.mode) == (size, "RGBA")
    left, top, right, bottom = strip.getchannel("A").getbbox() or (0, 0, 0, 0)
    assert left >= width * 0.05 - 1
    assert right <= width * 0.95 + 2
    assert bottom <= height * (0.835 if height > width else 0.95) + 2
    assert top >= height / 2
    inside = strip.getchannel("A").crop((left, top, right, bottom))
    assert inside.getextrema()[0] > 200


@pytest.mark.parametrize("size", SIZES, ids=[*SHAPES])
def test_a_title_card_covers_the_frame(root: Path, size: Size) -> None:
    """It hides the film, and its margin stays empty even with the longest words."""
    card = opened(render_title_card(long_card(view_of(root)), size))
    assert (card.size, card.mode) == (size, "RGB")
    margin = round(40 * min(size) / 1080) - 2
    for box in (
        (0, 0, size[0], margin),
        (0, 0, margin, size[1]),
        (size[0] - margin, 0, *size),
        (0, size[1] - margin, *size),
    ):
        assert card.crop(box).getcolors() == [((box[2] - box[0]) * (box[3] - box[1]), card.getpixel((0, 0)))]


def test_the_same_entry_gives_the_same_bytes(root: Path) -> None:
    """Cards can be made again without a film having to be cut again."""
    card = plan_card(SiteContext(view_of(root), {}), view_of(root).entries[0])
    assert render_strip(card, SHAPES["square"]) == render_strip(card, SHAPES["square"])


def test_every_assembly_stands_on_the_card_in_its_state_of_that_day(root: Path) -> None:
    """The drawing changes with the states, and so do the counts under it."""
    view = view_of(root)
    card = plan_card(SiteContext(view, {}), view.entries[0])
    assert {one.id: one.state for one in card.drawn} == {
        "workshop": State.NOT_BEGUN,
        "flaps": State.UNDER_WAY,
        "left-wing": State.NOT_BEGUN,
    }
    done = replace(card, drawn=tuple(replace(one, state=State.DONE) for one in card.drawn))
    before, after = (opened(render_strip(one, SHAPES["1080p"])).convert("RGB") for one in (card, done))
    box = ImageChops.difference(before, after).getbbox()
    assert box is not None
    assert box[2] < 1920 / 3


def test_a_build_without_a_drawing_names_the_assembly_instead(make_build: MakeBuild) -> None:
    """No drawing, or one that cannot be used, leaves a card that still says all in words."""
    view = view_of(make_build({"entries/a/index.md": entry("steps: [5.1]"), "aircraft.svg": "<svg"}))
    strip = opened(render_strip(plan_card(SiteContext(view, {}), view.entries[0]), SHAPES["1080p"]))
    assert strip.crop((110, 790, 430, 990)).convert("RGB").getcolors(100_000) is not None


@settings(deadline=None, max_examples=40)
@given(
    words=st.text(st.characters(codec="utf-8"), max_size=200),
    width=st.integers(40, 600),
    tall=st.integers(24, 300),
    most_lines=st.integers(1, 4),
)
def test_no_text_leaves_its_box(words: str, width: int, tall: int, most_lines: int) -> None:
    """Whatever is written, it is made smaller, broken or cut; not one pixel falls beside the box."""
    image = Image.new("L", (width + 80, tall + 80))
    box = (40, 40, 40 + width, 40 + tall)
    draw_paragraph(image, box, words, most_lines=most_lines, least_px=min(12, tall // 3))
    found = image.getbbox()
    if found is not None:
        # Hinting may put the edge of a letter one pixel further, and an accent stands above its line.
        assert found[0] >= box[0] - 2
        assert found[2] <= box[2] + 2
        assert found[1] >= box[1] - tall // 4
        assert found[3] <= box[3] + tall // 4


def said(root: Path, entry: ShownEntry | None = None, site_url: str = "https://tarn.example/") -> str:
    """The description of the first sheet, or of `entry`."""
    view = view_of(root)
    return describe(SiteContext(view, {}), entry or view.entries[0], site_url)


def test_a_description_tells_the_day_and_explains_its_words(root: Path) -> None:
    """Day, steps, hours, tools, address, the words of the trade that occur, and the caution."""
    text = said(root)
    assert text.startswith("Ribs dimpled\nDay 1 of building Tarn: Saturday, 7 February 2026.\nAssembly: Flaps\n")
    assert "\nSteps done:\n  5.1 Deburr the ribs\n" in text
    assert "\nHours: 4 h, 4 h to date\n" in text
    assert "\nTools: squeezer\n" in text
    assert "\n  deburr" in text
    assert "\n  dimpl" in text
    assert "https://tarn.example/entries/2026-02-07-ribs/\n" in text
    assert CAUTION in text


def test_a_description_tells_nothing_that_is_not_public(root: Path) -> None:
    """No private passage, place, full name, serial number or money gets into it."""
    text = said(root)
    for private in ("thumb", "hangar", "Bergstrom", "Lindqvist", "T-0042", "ZZ-TRN", "Money", "None"):
        assert private not in text


@pytest.mark.slow
def test_a_description_without_an_address_names_none(root: Path) -> None:
    """Where mkdocs.yml has no site_url there is no half address."""
    assert "http" not in said(root, site_url="")


def test_a_long_description_keeps_its_address_and_its_caution(root: Path) -> None:
    """What is too much goes from the end of the list, line by line."""
    view = view_of(root)
    entry = replace(view.entries[0], tools=tuple(f"tool number {number}" for number in range(2000)))
    text = said(root, entry)
    assert len(text) <= MOST_CHARACTERS
    assert "\n…\n" in text
    assert "https://tarn.example/entries/" in text
    assert CAUTION in text


def test_an_earlier_word_for_a_shape_is_understood() -> None:
    """What scripts of builders say stays right; the word of today comes out."""
    assert [Shape().convert(word, None, None) for word in ("vertical", "upright")] == ["upright", "upright"]


def test_the_command_writes_three_files_and_says_where(root: Path, tmp_path: Path) -> None:
    """Strip, title card, description; run again they are simply made again."""
    (root / "mkdocs.yml").write_text(
        "site_name: T\nsite_url: https://tarn.example/\ndocs_dir: content\n"
        "theme: {name: material, font: false}\nplugins: [search, journal]\n"
    )
    arguments = ["card", "newest", "--build", str(root), "--size", "square", "--out", str(tmp_path / "film")]
    for _ in range(2):
        result = CliRunner().invoke(main, arguments)
        assert result.exit_code == 0, result.output
    assert {path.name for path in (tmp_path / "film").iterdir()} == {
        "2026-02-07-ribs-strip-square.png",
        "2026-02-07-ribs-title-square.png",
        "2026-02-07-ribs-description.txt",
    }
    assert "https://tarn.example/entries/" in (tmp_path / "film/2026-02-07-ribs-description.txt").read_text("utf-8")


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("2026-02-08-private", "is private; a film is public"),
        ("2026-02-09-draft", "is a draft"),
        ("2026-02-07-rib", 'did you mean "2026-02-07-ribs"?'),
        ("newset", 'did you mean "newest"?'),
    ],
)
def test_what_has_no_card_says_why(root: Path, name: str, why: str) -> None:
    """Private entries and drafts have no cards; a slip gets the nearest name."""
    result = CliRunner().invoke(main, ["card", name, "--build", str(root)])
    assert result.exit_code == 2
    assert why in result.output
    assert not (root / "cards").exists()


@pytest.mark.parametrize("name", ["newest", "2026-02-07-ribs"])
def test_where_nothing_is_public_there_is_no_newest(make_build: MakeBuild, name: str) -> None:
    """No name is offered where none would do."""
    root = make_build({"entries/2026-02-07-hush/index.md": entry("private: true")})
    result = CliRunner().invoke(main, ["card", name, "--build", str(root)])
    assert (result.exit_code, result.output) == (2, "journal: no entry is public yet\n")
