"""Turn, crop, blur, from, to and poster under `photos`, as they are written and as they are misspelt."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from journal.base.model import Cut, Edits, PictureTurn
from journal.reading.form import Form
from journal.reading.picture_edits import (
    CUT_KEYS,
    EDIT_KEYS,
    cut_pairs,
    edit_pairs,
    parse_moment,
    read_cut,
    read_edits,
)
from journal.reading.text import Notes
from journal.reading.tree import Fields, parse_yaml


def form_of(text: str) -> tuple[Form, Notes]:
    """The form of a photo under `photos`."""
    notes = Notes("index.md")
    return Form(parse_yaml(text, notes), notes, ("photo", *EDIT_KEYS, *CUT_KEYS)), notes


ONE = (Fraction("0.1"), Fraction("0.2"), Fraction("0.3"), Fraction("0.4"))


@pytest.mark.parametrize(
    "text",
    [
        "blur: 0.1 0.2 0.3 0.4",
        "blur: 0.1, 0.2, 0.3, 0.4",
        "blur: 10% 20 % 30% 40%",
        "blur: .1 .2 .3 .4",
        "blur: [0.1, 0.2, 0.3, 0.4]",
        "blur: [[0.1, 0.2, 0.3, 0.4]]",
        "blur:\n  - 0.1 0.2 0.3 0.4",
        'blur: "[0.1, 0.2, 0.3, 0.4]"',
    ],
)
def test_a_rectangle_in_every_form(text: str) -> None:
    """Fractions, percentages, texts and lists say the same."""
    form, notes = form_of(text)
    assert read_edits(form) == (Edits(blur=(ONE,)), False)
    assert not notes.problems


def test_several_rectangles_and_a_turn() -> None:
    """All edits of a picture together."""
    form, notes = form_of("blur: 0.1 0.2 0.3 0.4; 0 0 1 0.5\ncrop: 0 0 1 0.9\nturn: Left")
    whole = (Fraction(0), Fraction(0), Fraction(1))
    expected = Edits(turn=PictureTurn.LEFT, crop=(*whole, Fraction("0.9")), blur=(ONE, (*whole, Fraction("0.5"))))
    assert read_edits(form) == (expected, False)
    assert not notes.problems


@pytest.mark.parametrize(
    "text",
    [
        "blur: 0.1 0.2 0.3",
        "blur: 0.3 0.2 0.1 0.4",
        "blur: 0.1 0.2 0.3 1.4",
        "blur: 0.1 0.2 0.1 0.4",
        "blur: her face",
        "blur:",
        "blur: {left: 0.1}",
        "blur: [0.1 0.2 0.3 0.4, nothing]",
        "crop: 0 0 1 1; 0 0 1 0.5",
        "turn: clockwise",
        "turn:",
    ],
)
def test_what_cannot_be_read_is_an_error_and_keeps_the_picture_back(text: str) -> None:
    """In doubt private: what was to be hidden would show."""
    form, notes = form_of(text)
    assert read_edits(form)[1]
    assert notes.problems


def test_more_rectangles_to_crop_to_become_no_less_hidden() -> None:
    """Of two crops nobody knows which is meant."""
    form, _ = form_of("crop: 0 0 1 1; 0.1 0.2 0.3 0.4")
    assert read_edits(form)[1]


def test_a_film_from_one_moment_to_another() -> None:
    """From, to, poster and sound of a clip."""
    form, notes = form_of("from: 0:02.5\nto: 1:05\nposter: 30 s\nsound: yes")
    expected = Cut(start=Decimal("2.5"), end=Decimal(65), poster=Decimal(30), sound=True)
    assert read_cut(form) == (expected, False)
    assert not notes.problems


@pytest.mark.parametrize("text", ["from: soon", "from: 1:75", "from: 9\nto: 8", "sound: loud", "to: 0"])
def test_a_moment_that_cannot_be_read_is_an_error(text: str) -> None:
    """A part of a film that cannot be told keeps the film back."""
    form, notes = form_of(text)
    assert read_cut(form)[1]
    assert notes.problems


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("90", "90"), ("1:30", "90"), ("0:01:30", "90"), ("90.5sec", "90.5"), ("24:00:01", None), ("-1", None)],
)
def test_moments(text: str, seconds: str | None) -> None:
    """Seconds, minutes and hours, up to a day."""
    assert parse_moment(text) == (Decimal(seconds) if seconds else None)


FRACTIONS = st.decimals(0, 1, places=4).map(Fraction)
SIDES = st.tuples(FRACTIONS, FRACTIONS).filter(lambda two: two[0] != two[1]).map(sorted)
PARTS = st.tuples(SIDES, SIDES).map(lambda both: (both[0][0], both[1][0], both[0][1], both[1][1]))
MOMENTS = st.none() | st.decimals(0, 5000, places=2)


@settings(max_examples=40)
@given(
    st.builds(
        Edits, turn=st.none() | st.sampled_from(PictureTurn), crop=st.none() | PARTS, blur=st.lists(PARTS).map(tuple)
    ),
    st.builds(Cut, start=MOMENTS, end=MOMENTS, poster=MOMENTS, sound=st.booleans()).filter(
        lambda cut: cut.end is None or cut.end > (cut.start or 0)
    ),
)
def test_what_is_written_of_edits_reads_the_same(edits: Edits, cut: Cut) -> None:
    """As a picture or film that moves takes them along, on one line of YAML."""
    pairs = edit_pairs(edits) | cut_pairs(cut)
    form, notes = form_of(f"photo: {{{', '.join(f'{key}: {value}' for key, value in pairs.items())}}}")
    node = form.value("photo")
    inner = form.inner(node, *EDIT_KEYS, *CUT_KEYS) if isinstance(node, Fields) else form
    assert (read_edits(inner), read_cut(inner)) == ((edits, False), (cut, False))
    assert not notes.problems
