"""What is short, damaged or unchecked, where a part is, and parts named in words."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from building import DAY, build, entry
from hypothesis import given
from hypothesis import strategies as st

from journal.base.model import Build, CallOut, FastenerSet, InventoryItem
from journal.ledger.inventory import Hardware, Stock, check_hardware, keep_hardware, take_stock
from journal.ledger.progress import replay
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
    line = take_stock(row)
    assert line.states == states
    assert line.missing == missing


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
    assert list(PartFinder(PARTS).find(text)) == found


@given(st.text(max_size=60), st.lists(st.text(min_size=1, max_size=8), max_size=6))
def test_mentions_are_in_order_and_apart(text: str, names: list[str]) -> None:
    """Whatever is written and whatever parts are called, each stands in what the ones before it leave."""
    rest = text.casefold()
    for part in PartFinder([item(name) for name in names]).find(text):
        _, found, rest = rest.partition(part.casefold())
        assert found


SOUND = ["", "ok", "okay", "good", "new", "fine", "sound", "intact", "as new", "undamaged", "complete"]


@pytest.mark.parametrize("word", SOUND)
def test_words_of_a_sound_part(word: str) -> None:
    """In any case, alone or before a comma, semicolon or colon; with more words it is damage."""
    for written in (word, f" {word.upper()} ", f"{word}, in the crate", f"{word};x", f"{word}: y"):
        assert take_stock(item("a", condition=written)).states == (Stock.COMPLETE,)
    assert take_stock(item("a", condition=f"{word} but bent")).states == (Stock.DAMAGED,)


def test_the_lines_of_a_state() -> None:
    """In the order of the list."""
    rows = [item("a", 4, 1), item("b", 4, None), item("c", 4, 9), item("d", 4, 2, "bent"), item("e")]
    taken = [take_stock(row) for row in rows]
    assert {state: [line.item.part for line in taken if state in line.states] for state in Stock} == {
        Stock.UNCHECKED: ["b"],
        Stock.SHORT: ["a", "d"],
        Stock.DAMAGED: ["d"],
        Stock.OVER: ["c"],
        Stock.COMPLETE: ["e"],
    }
    assert [line.missing for line in taken] == [3, 0, 0, 2, 0]
    assert [state.value for state in Stock] == ["unchecked", "short", "damaged", "over", "complete"]


@pytest.mark.parametrize(
    ("part", "told"),
    [("W-1", True), ("A1B", True), ("1-2", True), ("W1", False), ("123", False), ("abc", False), ("a-b", False)],
)
def test_what_looks_like_a_part_number(part: str, told: bool) -> None:
    """Three characters with a figure and a letter or a hyphen."""
    assert list(PartFinder([item(part)]).find(f"the {part} here")) == ([part] if told else [])


def test_of_parts_within_parts_the_longest_is_told() -> None:
    """Also those written with other signs than letters, digits, points and hyphens; the first spelling is kept."""
    finder = PartFinder([item("K 1"), item("K 1/2"), item("k 1/2/3"), item("K 1/2/3"), item("W-1"), item("W-1 K 1")])
    text = "K 1/2/3, K 1/2; k 1 w-1 K 1, W-1."
    assert list(finder.find(text)) == ["k 1/2/3", "K 1/2", "K 1", "W-1 K 1", "W-1"]
    assert list(PartFinder([]).find("W-1")) == []


# ------------------------------------------------------------------------------------------ hardware


def called(part: str, count: int, *steps: str) -> CallOut:
    """A row of callouts.csv."""
    return CallOut(what="rivet", part=part, count=count, page="7-4", edition="2", steps=steps)


def kept(journal: Build) -> dict[str, Hardware]:
    """The hardware of a build by its number."""
    return {part.number: part for part in keep_hardware(journal, replay(journal))}


def rivets(rivet: str, count: int | None, **more: Any) -> FastenerSet:
    """A line of an entry."""
    return FastenerSet(rivet=rivet, count=count, **more)


def test_what_is_left_for_the_steps_to_come() -> None:
    """3,020 received, 2,514 set, 506 left for a wing that takes 2,500: told at its row, by steps and pages."""
    journal = build(
        entry("one", steps=("5.1",), fasteners=(rivets("MS20426AD3-3", 2500),)),
        entry("two", day=1, steps=("5.2",), fasteners=(rivets("an426 ad3-3", 14), rivets("W-9", None))),
        inventory=(item("AN426AD3-3", 3000, 3020, where=(24, 1)), item("W-1007")),
        callouts=(
            called("426AD3-3", 1300, "7.1", "5.1"),
            called("AN426AD3-3", 1200, "7.2"),
            called("AN470AD4-4", 9, "7.1"),
        ),
    )
    parts = kept(journal)
    assert list(parts) == ["AN426AD3-3", "W-9", "AN470AD4-4"]
    flush = parts["AN426AD3-3"]
    assert (flush.received, flush.set, flush.left, flush.needed, flush.short) == (3020, 2514, 506, 2500, 1994)
    assert (parts["W-9"].received, parts["W-9"].untold, parts["AN470AD4-4"].short) == (None, 1, 0)
    (problem,) = check_hardware(journal, replay(journal))
    assert (problem.word, problem.file, problem.line) == ("hardware-short", "content/inventory.csv", 24)
    assert problem.message == (
        "AN426AD3-3: 1,994 too few for the steps to come: 3,020 received, 2,514 set; step 7.1 (page 7-4, edition 2) "
        "takes 1,300, step 7.2 (page 7-4, edition 2) takes 1,200"
    )


def test_what_a_step_under_way_has_set_is_not_needed_again_and_replacements_are_told() -> None:
    """An entry of that step alone counts for it; those in place of drilled-out ones were taken from the bag as well."""
    journal = build(
        entry("one", begun=("7.1",), fasteners=(rivets("AN470AD4-4", 60),)),
        entry("two", day=1, begun=("7.1", "7.2"), fasteners=(rivets("AN470AD4-4", 5, drilled_out="one"),)),
        inventory=(item("AN470AD4-4", 100, 90), item("MS20470AD4-4", 20, None)),
        callouts=(called("AN470AD4-4", 100, "7.1"),),
    )
    part = kept(journal)["AN470AD4-4"]
    assert (part.set, part.replaced, part.left, part.needed) == (65, 5, 25, 40)
    assert (part.uncounted, part.short, list(check_hardware(journal, replay(journal)))) == (1, 0, [])
    counted = replace(journal, inventory=journal.inventory[:1])
    assert kept(counted)["AN470AD4-4"].short == 15
    arrived = replace(counted, inventory=(replace(journal.inventory[0], arrived_on=DAY),))
    assert (kept(arrived)["AN470AD4-4"].received, kept(arrived)["AN470AD4-4"].short) == (100, 5)


def test_a_bolt_asked_for_without_its_length_is_the_one_on_the_list() -> None:
    """AN4 is AN4-7A where the list holds no other AN4."""
    journal = build(inventory=(item("AN4-7A", 8, 8),), callouts=(called("AN4", 9, "7.1"),))
    assert kept(journal)["AN4-7A"].short == 1
    two = replace(journal, inventory=(*journal.inventory, item("AN4-10A", 8, 8)))
    assert (kept(two)["AN4-7A"].needed, kept(two)["AN4"].needed) == (0, 9)


@pytest.mark.parametrize(
    ("row", "claim", "late"),
    [
        (item("a", 4, 3), True, False),
        (item("a", 4, 3, promised_for=date(2026, 3, 1)), True, True),
        (item("a", 4, 3, promised_for=date(2026, 3, 2)), True, False),
        (item("a", 4, 3, promised_for=date(2026, 3, 1), arrived_on=DAY), False, False),
        (item("a", condition="bent"), True, False),
        (item("a", 4, None), False, False),
        (item("a"), False, False),
    ],
)
def test_what_the_maker_owes(row: InventoryItem, claim: bool, late: bool) -> None:
    """Short or damaged until it has arrived; late the day after it was promised for."""
    line = take_stock(row, date(2026, 3, 2))
    assert (line.claim, line.late) == (claim, late)
