"""What is short, damaged or unchecked, where a part is, and parts named in words."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.base.model import InventoryItem
from journal.ledger.inventory import Stock, take_stock
from journal.view.part_names import PartFinder


def item(part: str, listed: int | None = 1, found: int | None = 1, condition: str = "", **more: Any) -> InventoryItem:
    """A row of inventory.csv."""
    return InventoryItem(crate="1", part=part, description="", listed=listed, found=found, condition=condition, **more)


@pytest.mark.parametrize(
    ("row", "states", "missing"),
    [
        (item("a"), (Stock.COMPLETE,), 0),
        (item("a", 4, 3), (Stock.SHORT,), 1),
        (item("a", 4, 5), (Stock.OVER,), 0),
        (item("a", 4, None), (Stock.UNCHECKED,), 0),
        (item("a", None, 2), (Stock.COMPLETE,), 0),
        (item("a", condition="flange bent"), (Stock.DAMAGED,), 0),
        (item("a", condition="Good; two came later"), (Stock.COMPLETE,), 0),
        (item("a", condition="OK"), (Stock.COMPLETE,), 0),
        (item("a", 4, 3, "dented"), (Stock.SHORT, Stock.DAMAGED), 1),
        (item("a", 4, None, "crate crushed"), (Stock.DAMAGED, Stock.UNCHECKED), 0),
    ],
)
def test_each_line_says_what_is_wrong_with_it(row: InventoryItem, states: tuple[Stock, ...], missing: int) -> None:
    """Short before damaged before unchecked; a line may be several."""
    (line,) = take_stock([row]).lines
    assert line.states == states
    assert line.missing == missing
    assert take_stock([row]).of(states[-1]) == (line,)
    assert line.state is states[0]


PARTS = [item("W-1007"), item("W-1007-L"), item("W-10071"), item("screw"), item("1007"), item("K 12/3"), item("AN3")]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Rib W-1007 fits.", ["W-1007"]),
        ("rib w-1007-l, the left one", ["W-1007-L"]),
        ("W-1007-L/W-1007", ["W-1007-L", "W-1007"]),
        ("W-1007-R is another part", []),
        ("XW-1007 and W-10079", []),
        ("W-10071.", ["W-10071"]),
        ("a screw and 1007 of them", []),
        ("in bag K 12/3 lay AN3", ["K 12/3", "AN3"]),
        ("AN3-5A", []),
        ("", []),
    ],
)
def test_parts_named_in_words(text: str, found: list[str]) -> None:
    """Whole numbers only, in any case; what does not look like a part number is left alone."""
    mentions = list(PartFinder(PARTS).find(text))
    assert [mention.part for mention in mentions] == found
    for mention in mentions:
        assert text[mention.start : mention.end].casefold() == mention.part.casefold()


@given(st.text(max_size=60), st.lists(st.text(min_size=1, max_size=8), max_size=6))
def test_mentions_are_in_order_and_apart(text: str, names: list[str]) -> None:
    """Whatever is written and whatever parts are called, mentions do not overlap."""
    end = 0
    for mention in PartFinder([item(name) for name in names]).find(text):
        assert end <= mention.start < mention.end <= len(text)
        end = mention.end


SOUND = ["", "ok", "okay", "good", "new", "fine", "sound", "intact", "as new", "undamaged", "complete"]


@pytest.mark.parametrize("word", SOUND)
def test_words_of_a_sound_part(word: str) -> None:
    """In any case, alone or before a comma, semicolon or colon; with more words it is damage."""
    for written in (word, f" {word.upper()} ", f"{word}, in the crate", f"{word};x", f"{word}: y"):
        assert take_stock([item("a", condition=written)]).lines[0].states == (Stock.COMPLETE,)
    assert take_stock([item("a", condition=f"{word} but bent")]).lines[0].states == (Stock.DAMAGED,)


def test_the_lines_of_a_state() -> None:
    """In the order of the list."""
    rows = [item("a", 4, 1), item("b", 4, None), item("c", 4, 9), item("d", 4, 2, "bent"), item("e")]
    taken = take_stock(rows)
    assert {state: [line.item.part for line in taken.of(state)] for state in Stock} == {
        Stock.UNCHECKED: ["b"],
        Stock.SHORT: ["a", "d"],
        Stock.DAMAGED: ["d"],
        Stock.OVER: ["c"],
        Stock.COMPLETE: ["e"],
    }
    assert [line.missing for line in taken.lines] == [3, 0, 0, 2, 0]
    assert [state.value for state in Stock] == ["unchecked", "short", "damaged", "over", "complete"]


@pytest.mark.parametrize(
    ("part", "told"),
    [("W-1", True), ("A1B", True), ("1-2", True), ("W1", False), ("123", False), ("abc", False), ("a-b", False)],
)
def test_what_looks_like_a_part_number(part: str, told: bool) -> None:
    """Three characters with a figure and a letter or a hyphen."""
    assert [mention.part for mention in PartFinder([item(part)]).find(f"the {part} here")] == ([part] if told else [])


def test_of_parts_within_parts_the_longest_is_told() -> None:
    """Also those written with other signs than letters, digits, points and hyphens; the first spelling is kept."""
    finder = PartFinder([item("K 1"), item("K 1/2"), item("k 1/2/3"), item("K 1/2/3"), item("W-1"), item("W-1 K 1")])
    text = "K 1/2/3, K 1/2; k 1 w-1 K 1, W-1."
    mentions = list(finder.find(text))
    assert [(mention.part, text[mention.start : mention.end]) for mention in mentions] == [
        ("k 1/2/3", "K 1/2/3"),
        ("K 1/2", "K 1/2"),
        ("K 1", "k 1"),
        ("W-1 K 1", "w-1 K 1"),
        ("W-1", "W-1"),
    ]
    assert list(PartFinder([]).find("W-1")) == []
