"""Every closing of a small manual field by field: what it hides, who looked inside, what came too late."""

from __future__ import annotations

from dataclasses import replace

from ledger.test_every_gap import days, look, scales
from test_evidence import built, entry, picture, taken

from journal.base.model import InspectionFinding, Step
from journal.ledger.closings import Closing, trace_closings
from journal.ledger.progress import replay

STEPS = {
    step.id: step
    for step in (
        Step(id="1", assembly="flaps", title="Ribs"),
        Step(id="2", assembly="flaps", title="Close the tank", closes="the tank"),
        Step(id="3", assembly="flaps", title="Leak  Test of the tank"),
        Step(id="4", assembly="flaps", title="Skin"),
        Step(id="5", assembly="flaps", title="Leak test and close", closes="yes"),
        Step(id="6", assembly="flaps", title="Paint"),
        Step(id="7", assembly="wing", title="Ribs"),
        Step(id="8", assembly="wing", title="Close", closes="the wing"),
    )
}


def inside(name: str, day: int, **more: str) -> tuple[object, ...]:
    """A picture of the inside, taken on that day."""
    return (picture(f"{name}.jpg", src_uri=name, inside=True, facts=taken(days(day)), **more),)


WHOLE = built(
    entry("a", steps=("1",), photos=inside("a", 0)),
    entry("b", date=days(2), steps=("2",), photos=inside("b", 2, step="2")),
    entry("c", date=days(5), begun=("4",), steps=("3",), photos=inside("c", 5)),
    entry("d", date=days(7), redone=("1",), photos=inside("d", 7, shut_by="2")),
    entry("e", date=days(9), steps=("5",), photos=inside("e", 9, step="4")),
    entry("f", date=days(12), steps=("4",), redone=("1", "3"), photos=inside("f", 12)),
    entry("g", date=days(13), steps=("6",), assembly="wing", begun=("7",), photos=inside("g", 13, step="7")),
    steps=STEPS,
    inspections=(
        look("late", date=days(3), steps=("2",)),
        look("second", date=days(2), steps=("2",), stage=" Closing "),
        look("first", date=days(1), steps=("1",)),
        look("whole", date=days(4)),
        look("wing", date=days(1), assembly="wing"),
        look("other", date=days(1), stage="final"),
    ),
    measurements=(scales("leak", steps=("3",)), scales("paint", steps=("6",)), scales("ribs", steps=("7", "1"))),
)


def test_closings_field_by_field() -> None:
    """Entries of what is hidden, of the closing and of its leak test; looks until that day; pictures until they count
    for the next one; work of a later day on what was done.
    """
    progress = replay(WHOLE)
    tank, flap, wing = trace_closings(WHOLE, progress)
    assert tank == Closing(
        step=STEPS["2"],
        stands=progress.steps["2"],
        hides=("1",),
        tested_by=("3",),
        reworked=(("d", "1"), ("f", "1")),
        entries=("a", "b", "c", "d", "f"),
        pictures=("a", "b"),
        late=("d",),
        inspections=("first", "second"),
        measurements=("leak", "ribs"),
    )
    assert flap == Closing(
        step=STEPS["5"],
        stands=progress.steps["5"],
        hides=("1", "3", "4"),
        left_open=("4",),
        reworked=(("f", "1"), ("f", "3")),
        entries=("a", "c", "d", "e", "f"),
        pictures=("c", "e"),
        late=("f",),
        inspections=("first", "whole"),
        measurements=("leak", "ribs"),
    )
    assert wing == Closing(
        step=STEPS["8"],
        stands=progress.steps["8"],
        hides=("7",),
        left_open=("7",),
        entries=("g",),
        pictures=("g",),
        inspections=("wing",),
        measurements=("ribs",),
    )
    assert [one.closed_on for one in (tank, flap, wing)] == [days(2), days(9), None]


def test_findings_that_were_open_when_it_was_closed() -> None:
    """Not those put right until that day; none while it is open."""
    tank, _, wing = trace_closings(WHOLE, replay(WHOLE))
    found = [InspectionFinding(id=f"{day}", text="x", closed_on=days(day)) for day in (1, 2, 3)]
    found.append(replace(found[0], id="open", closed_on=None))
    assert [one.id for one in tank.open_when_closed(found)] == ["3", "open"]
    assert wing.open_when_closed(found) == []


def test_what_is_opened_again_is_not_closed() -> None:
    """A picture of its inside taken meanwhile vouches for the next closing."""
    again = entry("x", date=days(3), begun=("2",), photos=inside("x", 4))
    tank, _, _ = trace_closings(build := built(*WHOLE.entries[:2], again, steps=STEPS), replay(build))
    assert (tank.closed_on, tank.pictures, tank.late) == (None, ("a", "b", "x"), ())
