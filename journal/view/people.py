"""What each person did, for anybody who asks who built what; what an authority asks it for is told by the chosen rules.

Nobody's work is merged into a "we". Hours are no measure of shares of work; they support what a person says of their
experience.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from journal.base.addresses import fold_name
from journal.base.grouping import grouped
from journal.base.model import Photo
from journal.view.view import ShownEntry, Told, View


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonWork:
    """A person, by the name shown, and their work over the whole view.

    `minutes` is on assemblies that count, `minutes_not_counted` on the rest, and `by_assembly` holds both.
    `by_method` are minutes of the entries that name the method: an entry with three methods adds its
    minutes to each, so these sums overlap and are more than the total. `without_hours` counts entries that
    name the person and no time. `pictures` are all that show them working, each with its entry or inspection;
    `steps` the steps in whose entries they took part, in the manual's order.
    """

    name: str
    entries: tuple[ShownEntry, ...] = ()
    days: tuple[date, ...] = ()
    minutes: int = 0
    minutes_not_counted: int = 0
    without_hours: int = 0
    by_assembly: Mapping[str, int] = field(default_factory=dict)
    by_method: Mapping[str, int] = field(default_factory=dict)
    pictures: tuple[tuple[Told, Photo], ...] = ()
    steps: tuple[str, ...] = ()
    inspections: tuple[str, ...] = ()
    measurements: tuple[str, ...] = ()

    @property
    def at_work(self) -> tuple[tuple[ShownEntry, Photo], ...]:
        """The usable pictures of entries that show them working."""
        return tuple(
            (told, photo) for told, photo in self.pictures if isinstance(told, ShownEntry) and not photo.facts.trouble
        )


def gather_people(view: View) -> dict[str, PersonWork]:
    """Everybody that `view` names at work, in pictures or as an inspector, by name in the order of occurrence."""
    entries = grouped(view.entries, lambda entry: entry.people)
    pictures = grouped(((told, photo) for told in view.told for photo in told.photos), lambda pair: pair[1].people)
    inspections = grouped(view.inspections, lambda one: one.people)
    measurements = grouped(view.measurements, lambda one: dict.fromkeys((*one.people, *one.checked_by)))
    return {
        name: replace(
            _work(view, name, entries[name]),
            pictures=pictures[name],
            inspections=tuple(one.id for one in inspections[name]),
            measurements=tuple(one.id for one in measurements[name]),
        )
        for name in dict.fromkeys((*entries, *pictures, *inspections, *measurements))
    }


def _work(view: View, name: str, entries: Sequence[ShownEntry]) -> PersonWork:
    by_assembly: Counter[str] = Counter()
    by_method: Counter[str] = Counter()
    minutes = not_counted = without_hours = 0
    for entry in entries:
        worked = dict(entry.time).get(name, 0)
        without_hours += name not in dict(entry.time)
        by_assembly[entry.assembly.id] += worked
        if entry.assembly.counts:
            minutes += worked
        else:
            not_counted += worked
        for method in {fold_name(method) for method in entry.methods}:
            by_method[view.methods[method]] += worked
    taken_part = {step.id for entry in entries for step in entry.all_steps}
    return PersonWork(
        name=name,
        entries=tuple(entries),
        days=tuple(dict.fromkeys(entry.date for entry in entries)),
        minutes=minutes,
        minutes_not_counted=not_counted,
        without_hours=without_hours,
        by_assembly={assembly: by_assembly[assembly] for assembly in view.assemblies if assembly in by_assembly},
        by_method=dict(sorted(by_method.items(), key=lambda pair: (-pair[1], pair[0].casefold()))),
        steps=tuple(step for step in view.steps if step in taken_part),
    )
