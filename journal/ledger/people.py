"""What each person did: for the application of the repairman, and for anybody who asks who built what.

Source of the need: 14 CFR 65.104 (the applicant is the primary builder and has the skill); one
person for one aircraft, so nobody's work is merged into a "we". Hours are no measure of the major
portion; they support what a person says of their experience.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from journal.base.addresses import fold_name
from journal.base.model import Build, Entry, Person, Photo
from journal.ledger.progress import step_marks

PEOPLE_SOURCES = ("The applicant is the primary builder and shows the skill: 14 CFR 65.104.",)


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonWork:
    """One person's work over the whole build, private entries included.

    `minutes` is on assemblies that count, `minutes_not_counted` on the rest, and `by_assembly` holds both.
    `by_method` are minutes of the entries that name the method: an entry with three methods adds its
    minutes to each, so these sums overlap and are more than the total.
    `without_hours` counts entries that name the person and no time. `at_work` are the pictures that
    show them working; `steps` the steps in whose entries they took part, in the manual's order.
    """

    person: Person
    entries: tuple[Entry, ...]
    days: int
    first: date | None
    last: date | None
    minutes: int
    minutes_not_counted: int
    without_hours: int
    by_assembly: Mapping[str, int]
    by_method: Mapping[str, int]
    at_work: tuple[tuple[Entry, Photo], ...]
    at_work_by_assembly: Mapping[str, int]
    steps: tuple[str, ...]


def gather_people(build: Build) -> tuple[PersonWork, ...]:
    """Everybody of build.yml in its order, also who never worked."""
    methods: dict[str, str] = {}
    for entry in build.entries:
        for name in entry.methods:
            methods.setdefault(fold_name(name), name)
    return tuple(_work(build, person, methods) for person in build.people.values())


def _work(build: Build, person: Person, methods: Mapping[str, str]) -> PersonWork:
    entries = tuple(entry for entry in build.entries if person.id in entry.people)
    by_assembly: dict[str, int] = defaultdict(int)
    by_method: dict[str, int] = defaultdict(int)
    minutes = not_counted = without_hours = 0
    taken_part: set[str] = set()
    for entry in entries:
        worked = sum(time.minutes for time in entry.time if time.person == person.id)
        without_hours += not entry.time
        by_assembly[entry.assembly] += worked
        if build.assemblies[entry.assembly].counts:
            minutes += worked
        else:
            not_counted += worked
        for method in {fold_name(name) for name in entry.methods}:
            by_method[methods[method]] += worked
        taken_part.update(step for step, _mark in step_marks(entry))
    at_work = tuple(
        (entry, photo)
        for entry in build.entries
        for photo in entry.photos
        if person.id in photo.people and not photo.facts.trouble
    )
    pictures: dict[str, int] = defaultdict(int)
    for entry, _photo in at_work:
        pictures[entry.assembly] += 1
    return PersonWork(
        person=person,
        entries=entries,
        days=len({entry.date for entry in entries}),
        first=entries[0].date if entries else None,
        last=entries[-1].date if entries else None,
        minutes=minutes,
        minutes_not_counted=not_counted,
        without_hours=without_hours,
        by_assembly={assembly: by_assembly[assembly] for assembly in build.assemblies if assembly in by_assembly},
        by_method=_most_first(by_method),
        at_work=at_work,
        at_work_by_assembly={assembly: pictures[assembly] for assembly in build.assemblies if assembly in pictures},
        steps=tuple(step for step in build.steps if step in taken_part),
    )


def _most_first(minutes: Mapping[str, int]) -> dict[str, int]:
    return dict(sorted(minutes.items(), key=lambda pair: (-pair[1], pair[0].casefold(), pair[0])))
