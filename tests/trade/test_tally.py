"""The tally of the major portion: the worked example, what must not come out, and what stands behind a task."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

import pytest
from building import broken, build, entry, found_in, photo, task, tasks
from hypothesis import given
from hypothesis import strategies as st
from making import view_of

from journal.base.model import Entry, Task
from journal.ledger.tally import behind_tasks
from journal.trade.tally import TENTHS, Tally, add_up, add_up_sections, say_percent, say_tenths

EXAMPLE = {
    "1 longitudinal members": (7, 0, 0, 3),
    "2 bulkheads": (6, 0, 1, 3),
    "3 basic structure": (0, 0, 10, 0),
    "4 skins": (2, 3, 2, 3),
    "5 retraction parts": None,
    "6 gear legs": (9, 0, 1, 0),
    "7 engine controls": (0, 10, 0, 0),
    "8 added: wing-tip light mounts": (0, 0, 4, 6),
}
"""An invented list with one n/a line, one added line and one task paid for entirely, worked by hand."""

WRONG = (Fraction(33, 80), Fraction(43, 80), Fraction(46, 70))
"""What comes out when the n/a line is divided by, credited to the builder, or paid help counted as the builder's."""


def claimed(lines: Iterable[Task]) -> Tally:
    """The tally of lines with nothing behind them."""
    return add_up((line, Fraction(0)) for line in lines)


def test_the_worked_example() -> None:
    """Source of the arithmetic: instruction block of the 2011 checklist forms; 33/70 = 47.1 %."""
    tally = claimed(tasks(EXAMPLE))
    assert (tally.tasks, tally.not_applicable, tally.tenths) == (7, 1, 70)
    assert (tally.maker, tally.paid, tally.assembly, tally.fabrication) == (24, 13, 18, 15)
    assert tally.maker + tally.paid + tally.assembly + tally.fabrication == tally.tenths
    assert tally.builder_share == Fraction(33, 70)
    assert say_percent(Fraction(33, 70)) == "47.1 %"
    assert [say_tenths(tally.maker), say_tenths(tally.paid), say_tenths(tally.tenths)] == ["2.4", "1.3", "7.0"]


def test_the_same_with_the_paid_task_done_by_the_builder() -> None:
    """43/70 = 61.4 %; one task moved it by 10/70."""
    tally = claimed(tasks({**EXAMPLE, "7 engine controls": (0, 0, 10, 0)}))
    assert tally.builder_share == Fraction(43, 70)
    assert say_percent(Fraction(43, 70)) == "61.4 %"
    assert tally.one_task == Fraction(10, 70)
    assert tally.share_after_paying(TENTHS) == Fraction(33, 70)


@pytest.mark.parametrize("wrong", WRONG)
def test_the_three_wrong_answers_do_not_come_out(wrong: Fraction) -> None:
    """Neither the n/a line nor paid help changes the builder's share."""
    assert claimed(tasks(EXAMPLE)).builder_share != wrong
    assert claimed(tasks({**EXAMPLE, "7 engine controls": (0, 0, 10, 0)})).builder_share != wrong


def test_what_is_shown_of_what_is_claimed() -> None:
    """Tenths in the share of the steps that are shown, as exact fractions; the maker's need nothing, n/a has none."""
    lines = tasks({"a": (2, 3, 4, 1), "b": (0, 0, 0, 10), "c": None, "d": (10, 0, 0, 0)})
    tally = add_up(zip(lines, (Fraction(1, 3), Fraction(1, 2), Fraction(1), Fraction(0)), strict=True))
    assert (tally.paid_shown, tally.assembly_shown) == (Fraction(1), Fraction(4, 3))
    assert tally.fabrication_shown == Fraction(1, 3) + 5
    assert tally.builder_shown == Fraction(20, 3)
    assert tally.shown_share == Fraction(20, 90)
    assert (tally.builder, tally.tenths) == (15, 30)


@pytest.mark.parametrize(
    ("split", "shown", "note"),
    [
        ((0, 0, 10, 0), 1, "No fabrication is claimed."),
        ((0, 0, 5, 5), 0, "Fabrication is claimed and none of it is shown."),
        ((0, 0, 5, 5), 1, ""),
    ],
)
def test_where_fabrication_is_nought_a_note_says_so(split: tuple[int, int, int, int], shown: int, note: str) -> None:
    """Claimed nowhere, or shown nowhere."""
    assert add_up([(task("1", split), Fraction(shown))]).fabrication_note == note


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (Fraction(4999, 10000), "49.9 %"),
        (Fraction(49999, 100000), "49.9 %"),
        (Fraction(4995, 10000), "49.9 %"),
        (Fraction(1, 2), "50.0 %"),
        (Fraction(5096, 10000), "50.9 %"),
        (Fraction(1), "100.0 %"),
        (Fraction(999999, 1000000), "99.9 %"),
        (Fraction(0), "0.0 %"),
    ],
)
def test_percentages_are_cut_off_and_never_rounded_up(share: Fraction, said: str) -> None:
    """A share just under half never shows as half."""
    assert say_percent(share) == said


def test_no_task_applies() -> None:
    """Nothing is divided by nothing."""
    for lines in ((), tasks({"a": None})):
        tally = claimed(lines)
        assert tally.builder_share is None
        assert tally.one_task is None
        assert tally.shown_share is None
        assert tally.share_after_paying(TENTHS) is None


def test_sections_add_up_to_the_whole() -> None:
    """Sections keep the order of the file, and their sums are those of the whole."""
    lines = (
        task("1", (5, 0, 5, 0), section="Wings"),
        task("2", (1, 2, 3, 4), section="Fuselage"),
        task("3", None, section="Wings"),
    )
    sections = add_up_sections((line, Fraction(0)) for line in lines)
    assert list(sections) == ["Wings", "Fuselage"]
    assert sections["Wings"].not_applicable == 1
    assert sum(tally.builder for tally in sections.values()) == claimed(lines).builder


def _split() -> st.SearchStrategy[tuple[int, int, int, int] | None]:
    cuts = st.lists(st.integers(0, TENTHS), min_size=3, max_size=3).map(sorted)
    return st.none() | cuts.map(lambda c: (c[0], c[1] - c[0], c[2] - c[1], TENTHS - c[2]))


@given(st.lists(_split(), max_size=40))
def test_every_tenth_belongs_to_somebody(splits: list[tuple[int, int, int, int] | None]) -> None:
    """All credit adds up to ten tenths a task, and no more is shown than claimed."""
    lines: list[Task] = [task(str(number), split) for number, split in enumerate(splits)]
    tally = claimed(lines)
    assert tally.maker + tally.paid + tally.builder == tally.tenths == TENTHS * tally.tasks
    assert tally.builder_shown <= tally.builder
    assert tally.paid_shown <= tally.paid


def test_what_stands_behind_a_task() -> None:
    """Entries that name its steps, their pictures of these steps, and everybody who worked in them."""
    entries = (
        entry("one", steps=("5.1",), photos=(photo("a.jpg"), photo("b.jpg", step="7.1"), broken("c.jpg"))),
        entry("two", day=1, begun=("5.2",), people=("bo", "hanne"), photos=(photo("d.jpg", step="5.2"),)),
        entry("three", day=2, redone=("5.1",), people=("ada",)),
        entry("four", day=3, steps=("7.1",)),
    )
    (behind,) = behind_tasks(build(*entries, tasks=(task("1", (0, 0, 5, 5), steps=("5.2", "5.1")),)))
    assert [e.id for e in behind.entries] == ["one", "two", "three"]
    assert [(e.id, p.name) for e, p in behind.photos] == [("one", "a.jpg"), ("two", "d.jpg")]
    assert behind.people == ("ada", "bo", "hanne")
    assert behind.pictured == ("5.2", "5.1")
    assert behind.paid == ()


def test_paid_help_that_the_tenths_do_not_show() -> None:
    """Somebody paid worked on a step of a task without tenths for paid help: found, with the entry's name."""
    lines = (
        task("1", (2, 0, 4, 4), steps=("5.1",), where=(2, 1)),
        task("2", (2, 1, 4, 3), steps=("5.2",), where=(3, 1)),
        task("3", (2, 0, 4, 4), steps=("7.1",), where=(4, 1)),
    )
    entries = (
        entry("welding", steps=("5.1", "5.2"), people=("ada", "pim"), photos=(photo("a.jpg"),)),
        entry("spar", day=1, steps=("7.1",), people=("ada", "hanne"), photos=(photo("b.jpg"),)),
    )
    (problem,) = found_in(build(*entries, tasks=lines))
    assert problem.word == "paid-not-counted"
    assert (problem.file, problem.line) == ("content/tasks.csv", 2)
    assert "pim" in problem.message
    assert "welding" in problem.message


def test_a_task_without_a_picture_is_found_once_work_was_done() -> None:
    """No finding while nothing was done; one when there are entries and no usable picture."""
    line = task("1", (2, 0, 4, 4), steps=("5.1",), where=(2, 1))
    assert found_in(build(tasks=(line,))) == ()
    (problem,) = found_in(build(entry("one", steps=("5.1",), photos=(broken("a.jpg"),)), tasks=(line,)))
    assert problem.word == "task-no-photo"


def test_a_task_marked_na_and_worked_on() -> None:
    """What does not exist on the aircraft cannot have been worked on."""
    line = task("1", None, steps=("5.1",), where=(2, 1))
    (problem,) = found_in(build(entry("one", steps=("5.1",), photos=(photo("a.jpg"),)), tasks=(line,)))
    assert problem.word == "task-worked"


def test_the_tally_falls_with_what_is_deleted() -> None:
    """Claimed stays as tasks.csv says it; shown goes with the entries, the pictures and the steps behind it."""
    lines = (
        task("1", (2, 0, 3, 5), steps=("5.1", "5.2")),
        task("2", (0, 4, 6, 0), steps=("7.1",)),
        task("3", (0, 0, 9, 1)),
    )
    one = entry("one", steps=("5.1",), photos=(photo("a.jpg"),))
    two = entry("two", day=1, steps=("5.2", "7.1"), people=("pim",), photos=(photo("b.jpg"),))

    def shown(*entries: Entry) -> tuple[Fraction, Fraction]:
        tally = add_up(behind.line for behind in view_of(build(*entries, tasks=lines)).tasks)
        assert (tally.builder, tally.paid, tally.tenths) == (24, 4, 30)
        return tally.builder_shown, tally.paid_shown

    assert shown(one, two) == (8 + 6, 4)
    assert shown(one) == (4, 0)
    assert shown() == (0, 0)
    # No usable picture, one of another step, a step only begun, or a step that was reopened: not shown.
    assert shown(replace(one, photos=(broken("a.jpg"),)), two) == (4 + 6, 4)
    assert shown(one, replace(two, photos=(photo("b.jpg", step="7.1"),))) == (4 + 6, 4)
    assert shown(one, replace(two, steps=("5.2",), begun=("7.1",))) == (8, 0)
    assert shown(one, two, entry("three", day=2, begun=("5.1",))) == (4 + 6, 4)


@pytest.mark.parametrize(
    ("tenths", "said"),
    [
        (33, "3.3"),
        (Fraction(10, 3), "0.33"),
        (Fraction(121, 2), "6.05"),
        (Fraction(1009, 10), "10.09"),
        (Fraction(1999, 100), "1.99"),
        (Fraction(10199, 10), "101.99"),
        (1000, "100.0"),
        (0, "0.0"),
    ],
)
def test_credit_is_cut_off_and_never_rounded_up(tenths: int | Fraction, said: str) -> None:
    """By hand: a tenth of each, to the hundredth where it has one."""
    assert say_tenths(tenths) == said
