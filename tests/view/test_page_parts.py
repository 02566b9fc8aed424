"""Shares, links and pictures as pages place them."""

from __future__ import annotations

import pickle
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction
from pathlib import Path
from urllib.parse import unquote, urljoin

import pytest
from hypothesis import given
from hypothesis import strategies as st
from marked_build import DAY_FACTS, FULL_FACTS, OPEN_PHOTO, told

from journal.base.model import Edits, PhotoFacts, PictureTurn, State
from journal.view.page_links import Linker, is_kept_elsewhere, linker_for, resolve
from journal.view.page_parts import (
    LETTERS,
    Bar,
    Cell,
    Group,
    Link,
    Mark,
    PageRecord,
    StepLine,
    Table,
    Telling,
    letters_in,
    mark_of,
    metric_table,
    say_share,
    share,
)
from journal.view.shown_pictures import PictureBox, plan_picture, say_capture, say_edits


@pytest.mark.parametrize(
    ("part", "whole", "tenths", "words"),
    [
        (0, 0, 0, "\u2014"),
        (5, 0, 0, "\u2014"),
        (0, 7, 0, "0 %"),
        (1, 3, 333, "33 %"),
        (2, 3, 666, "66 %"),
        (999, 1000, 999, "99 %"),
        (9999, 10000, 999, "99 %"),
        (7, 7, 1000, "100 %"),
        (9, 6, 1000, "150 %"),
        (1, 2, 500, "50 %"),
    ],
)
def test_shares_are_rounded_down(part: int, whole: int, tenths: int, words: str) -> None:
    """100 % means all of it; a bar is never longer than full, its words may say more."""
    assert share(part, whole) == tenths
    assert say_share(part, whole) == words


def test_each_state_has_a_sign_and_its_word() -> None:
    """The sign's name has no space."""
    assert {
        State.NOT_BEGUN: Mark(kind="not-begun", word="not begun"),
        State.UNDER_WAY: Mark(kind="under-way", word="under way"),
        State.DONE: Mark(kind="done", word="done"),
    } == {state: mark_of(state) for state in State}


@pytest.mark.parametrize(
    ("page", "offline", "address", "link"),
    [
        ("", False, "", "./"),
        ("", False, "#top", "./#top"),
        ("", True, "", "index.html"),
        ("", True, "#top", "index.html#top"),
        ("entries/a/", True, "steps/5.1/#photo-1", "../../steps/5.1/index.html#photo-1"),
        ("entries/a/", True, "pictures/x.jpg", "../../pictures/x.jpg"),
        ("entries/a/", False, "pictures/x.jpg", "../../pictures/x.jpg"),
        ("", False, "a b/\u00fc/?q=1&r=2", "a%20b/%C3%BC/?q=1&r=2"),
        ("", False, "x/%20/~a:@!$'()*+,;=-._", "x/%20/~a:@!$'()*+,;=-._"),
        ("", False, 'x/"<>', "x/%22%3C%3E"),
        ("", False, "terms/#a b\u00fc", "terms/#a%20b%C3%BC"),
    ],
)
def test_a_link_from_a_page(page: str, offline: bool, address: str, link: str) -> None:
    """Relative, quoted as an address is written (RFC 3986), with index.html where there is no server."""
    assert linker_for(page, offline=offline).to(address) == link


def test_a_root_of_its_own() -> None:
    """The page of a missing address, and feeds, name the site's root in full."""
    assert Linker(root="https://tarn.example/").to("feed.xml") == "https://tarn.example/feed.xml"
    assert Linker(root="/j/").to("") == "/j/"


FOLDERS = st.lists(st.text("ab\u00fc.-5 ", min_size=1, max_size=4).filter(lambda t: t.strip(". ")), max_size=3)


@given(FOLDERS, FOLDERS)
def test_a_browser_follows_a_link_to_its_address(here: list[str], there: list[str]) -> None:
    """Law against the standard library's own resolution of relative references (RFC 3986, 5.2)."""
    page, address = ("".join(f"{name}/" for name in names) for names in (here, there))
    base = "https://tarn.example/journal/" + linker_for("").to(page).removeprefix("./")
    reached = urljoin(base, linker_for(page).to(address))
    assert unquote(reached) == "https://tarn.example/journal/" + address


@pytest.mark.parametrize(
    ("target", "kept"),
    [
        ("https://example.org", True),
        ("HTTP://example.org", True),
        ("mailto:a@example.org", True),
        ("tel:+41", True),
        ("//example.org/x", True),
        ("javascript:alert(1)", False),
        ("file:///etc/passwd", False),
        ("data:text/html,x", False),
        ("../x/index.md", False),
        ("/x", False),
        ("", False),
    ],
)
def test_which_outside_links_may_stand(target: str, kept: bool) -> None:
    """Web, mail and telephone; no script, no file."""
    assert is_kept_elsewhere(target) is kept


ADDRESSES = {
    "content/entries/a/index.md": "entries/a/",
    "content/entries/a": "entries/a/",
    "content/entries/a/one two.jpg": "entries/a/#photo-1",
    "content/pages/about.md": "pages/about/",
}


@pytest.mark.parametrize(
    ("target", "address"),
    [
        ("../a/index.md", "entries/a/"),
        ("../a/", "entries/a/"),
        ("../a", "entries/a/"),
        ("./../a/./index.md#top", "entries/a/#top"),
        ("../../pages/about.md#a#b", "pages/about/#a#b"),
        ("../a/one%20two.jpg", "entries/a/#photo-1"),
        ("../a/one two.jpg", "entries/a/#photo-1"),
        ("#top", None),
        ("", None),
        ("../c/", None),
        ("/content/entries/a", None),
        ("../../../../content/entries/a", None),
    ],
)
def test_what_a_link_in_a_file_means(target: str, address: str | None) -> None:
    """As an editor resolves it: from the file it stands in."""
    assert resolve(target, "content/entries/b/index.md", ADDRESSES) == address


@dataclass(frozen=True)
class _Size:
    width_px: int
    height_px: int
    name: str


@dataclass(frozen=True)
class _Made:
    renditions: tuple[_Size, ...] = ()
    trouble: str = ""


SIZES = (_Size(480, 360, "x-480.jpg"), _Size(960, 720, "x-960.jpg"), _Size(1920, 1440, "x-1920.jpg"))


def box(
    pictures: Mapping[str, _Made], facts: PhotoFacts = FULL_FACTS, *, everything: bool = False, **more: object
) -> PictureBox:
    """The box of the second picture of "Ribs"."""
    photo = replace(OPEN_PHOTO, facts=facts, people=("Ada", "Bo"), **more)  # type: ignore[arg-type]
    return plan_picture(
        photo, pictures, number=2, of="Ribs", everything=everything, step_addresses={"5.1": "steps/5.1/"}
    )


def test_the_box_of_a_picture_field_by_field() -> None:
    """Sizes ascending, the shape of the largest, the day for followers."""
    assert told(box({OPEN_PHOTO.src_uri: _Made(SIZES)}, DAY_FACTS)) == {
        "addresses": ("pictures/x-480.jpg", "pictures/x-960.jpg", "pictures/x-1920.jpg"),
        "widths": (480, 960, 1920),
        "width": 1920,
        "height": 1440,
        "alt": "A rib",
        "caption": "A rib",
        "when": "7 February 2026",
        "anchor": "photo-2",
        "edits": "",
        "original": "",
        "film": "",
        "step": "5.1",
        "step_address": "steps/5.1/",
        "at_work": "Ada, Bo",
        "inside": True,
        "private": False,
        "trouble": "",
    }


def test_the_box_in_the_archive_leads_to_the_original() -> None:
    """With the recorded time, beside the offline site in source/."""
    made = box({OPEN_PHOTO.src_uri: _Made(SIZES, trouble="a warning")}, everything=True, private=True, inside=False)
    assert made.original == "source/content/entries/open/one.jpg"
    assert made.when == "7 February 2026, 21:34:56 (+01:00)"
    assert (made.private, made.inside, made.trouble) == (True, False, "")


def test_the_archive_says_how_a_picture_differs_from_its_original() -> None:
    """And nobody else does: what is hidden is nobody's to look for."""
    whole = (Fraction(0), Fraction(0), Fraction(1), Fraction(1, 2))
    edits = Edits(turn=PictureTurn.LEFT, crop=whole, blur=(whole,))
    made = {OPEN_PHOTO.src_uri: _Made(SIZES)}
    assert box(made, everything=True, edits=edits).edits == "shown cropped, filled in, turned"
    assert box(made, everything=False, edits=edits).edits == ""
    assert say_edits(Edits(turn=PictureTurn.HALF)) == "shown turned"


@pytest.mark.parametrize(
    ("pictures", "facts", "trouble", "size"),
    [
        ({}, FULL_FACTS, "not available", (4000, 3000)),
        ({}, PhotoFacts(trouble="empty file"), "empty file", (4, 3)),
        ({OPEN_PHOTO.src_uri: _Made(trouble="cut short")}, PhotoFacts(trouble="old"), "cut short", (4, 3)),
        ({OPEN_PHOTO.src_uri: _Made()}, PhotoFacts(width=30, height=40, trouble="old"), "old", (30, 40)),
    ],
)
def test_a_placeholder_says_why(
    pictures: dict[str, _Made], facts: PhotoFacts, trouble: str, size: tuple[int, int]
) -> None:
    """Its shape is that of the original, or four by three."""
    made = box(pictures, facts, caption="", step=None)
    assert (made.usable, made.trouble, (made.width, made.height)) == (False, f"No picture: {trouble}", size)
    assert (made.alt, made.caption, made.step, made.step_address) == ("Picture 2 of \u201cRibs\u201d", "", "", "")
    assert (made.addresses, made.widths) == ((), ())


@pytest.mark.parametrize(("count", "smallest", "middle", "largest"), [(1, 0, 0, 0), (2, 0, 1, 1), (3, 0, 1, 2)])
def test_sizes_of_a_picture(count: int, smallest: int, middle: int, largest: int) -> None:
    """The smallest for thumbnails, one between for old browsers, the largest to enlarge."""
    made = box({OPEN_PHOTO.src_uri: _Made(SIZES[:count])})
    sizes = tuple(f"pictures/{one.name}" for one in SIZES[:count])
    assert (made.addresses, made.widths) == (sizes, tuple(one.width_px for one in SIZES[:count]))
    assert (made.smallest, made.middle, made.largest) == (sizes[smallest], sizes[middle], sizes[largest])
    assert made.usable
    assert not made.tall
    assert replace(made, width=made.height - 1).tall
    assert not replace(made, width=made.height).tall


def test_a_box_is_the_same_after_it_was_stored() -> None:
    """What is remembered of a page holds its boxes."""
    made = box({OPEN_PHOTO.src_uri: _Made(SIZES)}, private=True)
    assert pickle.loads(pickle.dumps(made)) == made


@pytest.mark.parametrize(
    ("facts", "public", "archive"),
    [
        (PhotoFacts(), "", "capture time not recorded"),
        (
            PhotoFacts(taken=datetime(2026, 2, 7, 9, 5, 3)),
            "7 February 2026",
            "7 February 2026, 09:05:03 (offset not recorded)",
        ),
        (
            PhotoFacts(taken=datetime(2026, 2, 7, 9, 5, 3), offset="-05:00"),
            "7 February 2026",
            "7 February 2026, 09:05:03 (-05:00)",
        ),
        (
            PhotoFacts(taken=datetime(2000, 1, 1), offset=None),
            "1 January 2000",
            "1 January 2000, 00:00:00 (offset not recorded), camera clock never set",
        ),
    ],
)
def test_when_a_picture_was_taken(facts: PhotoFacts, public: str, archive: str) -> None:
    """Only the day for followers (the view leaves nothing else in); all that is recorded for the inspector."""
    photo = replace(OPEN_PHOTO, facts=facts)
    assert say_capture(photo, everything=False) == public
    assert say_capture(photo, everything=True) == archive


def test_headings_grow_smaller_by_steps_that_the_styles_have() -> None:
    """By the longest piece that a line cannot break: the least step with room for it, at most the last."""
    style = (Path(__file__).parents[2] / "theme_overrides/assets/journal.css").read_text("utf-8")
    steps = sorted({int(step) for step in re.findall(r"\.letters-(\d+)", style)})
    assert list(LETTERS) == steps
    for longest in range(1, 45):
        room = min((step for step in steps if step >= longest), default=steps[-1])
        for piece in ("x" * longest, "x" * (longest - 1) + "-", "x" * (longest - 1) + "/"):
            assert letters_in("y", f"a {piece} b\u2013c") == room
            assert Link(text=piece).letters == room
    assert letters_in() == letters_in("") == steps[0]


@pytest.mark.parametrize(
    ("numbers", "columns"),
    [("0 1", 1), ("2 4", 2), ("3 6 9", 3), ("7 8 11 12 16", 4), ("5 10 13 14 15 19 20 25", 5), ("17 18 24 30", 6)],
)
def test_pictures_stand_in_whole_rows_or_nearly_so(numbers: str, columns: int) -> None:
    """Of the widths that there are the one with the fewest empty places, of several the widest."""
    for number in map(int, numbers.split()):
        group = Group(pictures=(None,) * number)  # type: ignore[arg-type]
        assert (group.columns, group.few) == (columns, number < 4)


def test_a_table_with_metric_units_in_front() -> None:
    """In its words, its sums and its note; what leads somewhere keeps its words."""
    inch, metric = "5 in (127 mm)", "127 mm (5 in)"
    link = Link(text=inch)
    table = Table(caption=inch, columns=("a",), rows=((inch, link, (inch,)),), sums=(inch,), note=inch)
    assert metric_table(table) == replace(table, rows=((metric, link, (inch,)),), sums=(metric,), note=metric)


DEFAULTS = [
    (Link(text="a"), {"address": "", "note": "", "mark": None}),
    (Cell(label="a"), {"value": "", "links": (), "mark": None, "strong": False}),
    (
        StepLine(id="a", title="b", address="c", mark=mark_of(State.DONE)),
        {"closes": "", "when": "", "when_address": ""},
    ),
    (Table(caption="a", columns=(), rows=()), {"numeric": frozenset(), "sums": (), "note": "", "caution": False}),
    (Telling(), {"card": None, "write_up": None, "mark": None, "html": "", "cut": False, "more_pictures": ""}),
    (Telling(), dict.fromkeys(("steps", "pictures", "tables"), ())),
    (Bar(tenths=5), {"words": "", "over": False}),
    (Group(), dict.fromkeys(("title", "anchor", "words", "address", "html", "note"), "") | {"mark": None, "bar": None}),
    (Group(), dict.fromkeys(("paragraphs", "points", "block", "steps", "items", "pictures", "tables"), ())),
    (
        PageRecord(address="a", template="b", title="c", description="d"),
        {
            **dict.fromkeys(("section", "picture", "picture_alt", "updated", "heading", "label", "badge", "intro"), ""),
            **dict.fromkeys(("caution", "remark", "html", "part"), ""),
            **dict.fromkeys(("block", "groups", "asides", "after", "turns", "parts", "onward", "trouble"), ()),
            **dict.fromkeys(("drawing", "bar", "steps", "record")),
            "kind": "website",
            "hidden": False,
        },
    ),
]


@pytest.mark.parametrize(("record", "defaults"), DEFAULTS, ids=lambda one: type(one).__name__)
def test_what_a_part_is_where_nothing_more_is_said(record: object, defaults: dict[str, object]) -> None:
    """Nothing is marked, linked or hidden by itself; a cell takes a third of its row."""
    assert {name: value for name, value in told(record).items() if name in defaults} == defaults
