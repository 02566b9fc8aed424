"""Cards: which passage of a document stands under an answer, its marks, and where a long one is cut."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from journal.finding.cards import LONGEST, best_picture, cut, mark_words, shown_passage, weigh_passages
from journal.finding.rules import CAPTION, HARDWARE, MATERIAL, TEXT, TITLE, shipped_rules
from journal.finding.tokens import Tokenizer

Passage = list[Any]


def passages(*fields: str) -> list[Passage]:
    """Ten words each, with a picture where it is a caption; a title has no text of its own."""
    return [
        [field, 10 * at, f"text {at}" if field != TITLE else "", at if field == CAPTION else None, ""]
        for at, field in enumerate(fields)
    ]


@pytest.mark.parametrize(
    ("told", "worth"),
    [
        ({0: [(0, 1.0)]}, {0: 2.0}),
        ({0: [(9, 1.0), (10, 0.5)]}, {0: 2.0, 1: 1.0}),
        ({0: [(1, 0.5), (2, 1.0), (3, 0.25)]}, {0: 2.0}),
        ({0: [(1, 1.0)], 1: [(2, 0.5), (25, 1.0)]}, {0: 3.5, 2: 3.0}),
        ({1: [(35, 1.0)]}, {}),
        ({}, {}),
    ],
)
def test_a_passage_is_worth_what_it_says_of_the_question(told: dict[int, list[Any]], worth: dict[int, float]) -> None:
    """Each word counts once by its best mention, the rare ones more; what has no text says nothing."""
    mentions: Any = {slot: SimpleNamespace(told=each) for slot, each in told.items()}
    assert weigh_passages(passages(TEXT, TEXT, TEXT, TITLE), mentions, [2.0, 3.0]) == worth


@pytest.mark.parametrize(
    ("fields", "worth", "kind", "shown"),
    [
        ((TEXT, TEXT, TEXT), {1: 1.0, 2: 2.0}, "entry", 2),
        ((TEXT, TEXT, TEXT), {1: 2.0, 2: 2.0}, "entry", 1),
        ((TEXT, HARDWARE), {0: 1.0, 1: 1.3}, "entry", 0),
        ((TEXT, HARDWARE), {0: 1.0, 1: 1.4}, "entry", 1),
        ((HARDWARE, TEXT), {0: 4.0, 1: 3.0}, "entry", 1),
        ((CAPTION, TEXT), {0: 9.0, 1: 1.0}, "entry", 1),
        ((TEXT, CAPTION), {1: 1.0}, "entry", 1),
        ((TEXT, HARDWARE), {0: 1.0, 1: 9.0}, "page", 1),
        ((HARDWARE, TEXT), {0: 9.0, 1: 1.0}, "part", 1),
        ((HARDWARE, TEXT), {0: 9.0}, "part", 1),
        ((HARDWARE, MATERIAL), {1: 9.0}, "part", 0),
        ((TITLE, HARDWARE, TEXT), {}, "entry", 2),
        ((TITLE, HARDWARE), {}, "entry", 1),
        ((TITLE,), {}, "entry", None),
        ((), {}, "entry", None),
    ],
)
def test_the_passage_under_an_answer(
    fields: tuple[str, ...], worth: dict[int, float], kind: str, shown: int | None
) -> None:
    """The sentence that says most; a line of a list that says a third more; a caption where nothing else says any."""
    card = {"passages": passages(*fields), "date": "2026-02-07" if kind == "entry" else "", "kind": kind}
    assert shown_passage(card, worth) == shown


@pytest.mark.parametrize(
    ("worth", "cover", "place"),
    [({1: 1.0, 2: 2.0}, 7, 2), ({1: 2.0, 2: 2.0}, 7, 1), ({0: 9.0, 1: 0.5}, 7, 1), ({0: 9.0}, 7, 7), ({}, None, None)],
)
def test_the_picture_beside_an_answer(worth: dict[int, float], cover: int | None, place: int | None) -> None:
    """That whose caption says most, else the cover."""
    assert best_picture(passages(TEXT, CAPTION, CAPTION), worth, cover) == place


WORDS = "spar " * 200


@pytest.mark.parametrize(
    ("text", "marks", "lead", "tail"),
    [
        ("The spar.", [(4, 8)], False, False),
        ("x" * LONGEST, [], False, False),
        (WORDS, [], False, True),
        (WORDS, [(0, 4)], False, True),
        (WORDS, [(LONGEST - 44, LONGEST - 40)], False, True),
        (WORDS, [(LONGEST - 43, LONGEST - 39)], True, True),
        (WORDS, [(500, 504), (995, 999)], True, True),
        (WORDS, [(995, 999)], True, False),
        ("x" * 900, [], False, True),
    ],
)
def test_a_long_passage_is_cut_at_words_round_its_first_mark(
    text: str, marks: list[tuple[int, int]], lead: bool, tail: bool
) -> None:
    """At most so many letters of it; marks stand on the same letters, those outside go."""
    said, kept = cut(text, marks)
    assert (said.startswith("… "), said.endswith(" …")) == (lead, tail)
    bare = said.removeprefix("… ").removesuffix(" …")
    assert bare in text
    assert len(bare) <= LONGEST
    assert len(bare) == len(text) or len(bare) > LONGEST - 10 or not tail
    if " " in text and (lead or tail):
        assert bare.split(" ")[0] in ("spar", "")
        assert bare.split()[-1] == "spar"
    assert [said[start:end] for start, end in kept] == [text[start:end] for start, end in marks[: len(kept)]]
    assert len(kept) >= min(len(marks), 1)


@pytest.mark.parametrize(
    ("text", "terms", "marked"),
    [
        ("The ribs and the spar", ("rib", "spar"), ["ribs", "spar"]),
        ("The ribs and the spar", ("flap",), []),
        ("Drilled 3/32 and 2.5 mm", ("drill",), ["Drilled"]),
        ("the of and", ("the", "of"), []),
    ],
)
def test_the_words_that_answer_are_marked(text: str, terms: tuple[str, ...], marked: list[str]) -> None:
    """By their stems, each where it stands; words that say nothing are not."""
    plan: Any = SimpleNamespace(terms=terms)
    said, marks = mark_words(text, plan, Tokenizer(shipped_rules()))
    assert [said[start:end] for start, end in marks] == marked
