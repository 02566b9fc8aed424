"""Small builds for the tests of the trade, made of records directly."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from typing import Any

from journal.base.model import (
    Aircraft,
    Assembly,
    Build,
    Entry,
    Person,
    Photo,
    PhotoFacts,
    Role,
    Step,
    Task,
    WorkedTime,
)
from journal.base.problems import Problem
from journal.base.quantities import Dimension, Quantity, say_length, say_torque
from journal.ledger.checks import check_trade
from journal.ledger.progress import replay

DAY = date(2026, 2, 7)


def inches(value: Fraction | int | str) -> Quantity:
    """A length that is exact, however it was written."""
    return Quantity(value=Fraction(value), dimension=Dimension.LENGTH, text=say_length(Fraction(value)))


def in_lb(value: Fraction | float | str) -> Quantity:
    """A torque that is exact."""
    return Quantity(value=Fraction(value), dimension=Dimension.TORQUE, text=say_torque(Fraction(value)))


PEOPLE = {
    "ada": Person(id="ada", name="Ada Bergstrom", role=Role.BUILDER, shown_as="Ada"),
    "bo": Person(id="bo", name="Bo Lindqvist", role=Role.BUILDER),
    "hanne": Person(id="hanne", name="Hanne Okafor", role=Role.HELPER),
    "pim": Person(id="pim", name="Pim Castellan", role=Role.PAID),
}
ASSEMBLIES = {
    "workshop": Assembly(id="workshop", title="Workshop", counts=False),
    "flaps": Assembly(id="flaps", title="Flaps", planned_minutes=60 * 60),
    "left-wing": Assembly(id="left-wing", title="Left wing", planned_minutes=200 * 60),
}
STEPS = {
    step: Step(id=step, assembly=assembly, title=f"Step {step}")
    for step, assembly in (("5.1", "flaps"), ("5.2", "flaps"), ("7.1", "left-wing"), ("7.2", "left-wing"))
}


def photo(name: str, **more: Any) -> Photo:
    """A usable picture."""
    return Photo(name=name, src_uri=f"content/entries/x/{name}", **more)


def broken(name: str) -> Photo:
    """A picture that cannot be used."""
    return photo(name, facts=PhotoFacts(trouble="empty file"))


def entry(id: str, *, day: int = 0, people: Sequence[str] = ("ada",), minutes: int = 60, **more: Any) -> Entry:
    """An entry `day` days after the first, everybody of `people` for `minutes`."""
    more.setdefault("assembly", "flaps")
    return Entry(
        id=id,
        src_uri=f"content/entries/{id}/index.md",
        date=DAY + timedelta(days=day),
        title=id,
        people=tuple(people),
        time=tuple(WorkedTime(person=person, minutes=minutes) for person in people) if minutes else (),
        **more,
    )


def build(*entries: Entry, **more: Any) -> Build:
    """A build of these entries."""
    base = Build(aircraft=Aircraft(name="Tarn"), people=PEOPLE, assemblies=ASSEMBLIES, steps=STEPS, entries=entries)
    return replace(base, **more)


def task(name: str, shares: tuple[int, int, int, int] | None, **more: Any) -> Task:
    """A line of tasks.csv: maker, paid, assembly, fabrication in tenths, or None for n/a."""
    maker, paid, assembly, fabrication = shares or (None, None, None, None)
    section: str = more.pop("section", "Fuselage")
    return Task(
        section=section,
        task=name,
        name=f"task {name}",
        maker=maker,
        paid=paid,
        assembly=assembly,
        fabrication=fabrication,
        **more,
    )


def tasks(lines: Mapping[str, tuple[int, int, int, int] | None]) -> tuple[Task, ...]:
    """Several lines by name."""
    return tuple(task(name, shares) for name, shares in lines.items())


def found_in(whole: Build) -> tuple[Problem, ...]:
    """The findings of the trade, sorted."""
    return check_trade(whole, replay(whole))[0]
