"""The ledger of hours: days, person-minutes, running totals. Pure; whole minutes throughout.

Rules (docs/format.md): totals count person-hours; a day is a date on which anything was worked;
hours to date count only assemblies that count, the entry itself included; private entries count
everywhere, drafts nowhere.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from journal.base.formatting import month_of
from journal.base.model import Build


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryTotals:
    """Where an entry stands in the whole: its day number and the minutes up to and with it.

    `minutes_to_date` is the build's total (assemblies that count), `assembly_minutes_to_date`
    that of the entry's own assembly.
    """

    day: int
    minutes: int
    minutes_to_date: int
    assembly_minutes_to_date: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Ledger:
    """All sums over the build. `minutes`, `by_month` and `by_day` hold what counts; `minutes_not_counted`
    the rest; `by_assembly` each assembly's own minutes, counted or not; `by_person` all work of
    a person on assemblies that count. Months are `2026-02`. `elapsed_minutes` is how long
    sessions lasted, however many people were there. `worked_days` are the dates in order.
    """

    minutes: int
    minutes_not_counted: int
    elapsed_minutes: int
    worked_days: tuple[date, ...]
    by_assembly: Mapping[str, int]
    by_person: Mapping[str, int]
    by_month: Mapping[str, int]
    by_day: Mapping[date, int]
    by_person_and_assembly: Mapping[tuple[str, str], int]
    entries: Mapping[str, EntryTotals]

    @property
    def days(self) -> int:
        """How many dates were worked."""
        return len(self.worked_days)


def build_ledger(build: Build) -> Ledger:
    """Add up the entries of `build` (already in journal order; drafts are not among them)."""
    worked_days = tuple(sorted({entry.date for entry in build.entries}))
    day_numbers = {day: number for number, day in enumerate(worked_days, start=1)}
    by_assembly = dict.fromkeys(build.assemblies, 0)
    by_person: dict[str, int] = defaultdict(int)
    by_month: dict[str, int] = defaultdict(int)
    by_day: dict[date, int] = defaultdict(int)
    by_person_and_assembly: dict[tuple[str, str], int] = defaultdict(int)
    totals: dict[str, EntryTotals] = {}
    minutes = not_counted = elapsed = 0
    for entry in build.entries:
        counts = build.assemblies[entry.assembly].counts
        by_assembly[entry.assembly] += entry.minutes
        if counts:
            minutes += entry.minutes
            elapsed += entry.elapsed_minutes
            by_month[month_of(entry.date)] += entry.minutes
            by_day[entry.date] += entry.minutes
        else:
            not_counted += entry.minutes
        for worked in entry.time:
            by_person_and_assembly[worked.person, entry.assembly] += worked.minutes
            if counts:
                by_person[worked.person] += worked.minutes
        totals[entry.id] = EntryTotals(
            day=day_numbers[entry.date],
            minutes=entry.minutes,
            minutes_to_date=minutes,
            assembly_minutes_to_date=by_assembly[entry.assembly],
        )
    return Ledger(
        minutes=minutes,
        minutes_not_counted=not_counted,
        elapsed_minutes=elapsed,
        worked_days=worked_days,
        by_assembly=by_assembly,
        by_person=dict(by_person),
        by_month=dict(by_month),
        by_day=dict(by_day),
        by_person_and_assembly=dict(by_person_and_assembly),
        entries=totals,
    )
