"""The trace: step -> entries -> pictures -> days -> people -> inspections, and back. Pure.

Made from a `View`, so it holds what its audience may see and nothing else.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from journal.base.model import Assembly, Photo, PhotoFacts, Step
from journal.ledger.evidence import Evidence, Gap
from journal.ledger.journal import Journal
from journal.ledger.progress import StepProgress
from journal.view.view import Audience, Look, Sheet, View

NOT_RECORDED = "not recorded"
"""What the record says where a camera told no time, or a time that cannot be."""

MARKS = {"begun": "begun", "steps": "done", "redone": "done over"}
"""What an entry did to a step, by the front matter key that says so."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoTrace:
    """A picture and where it leads: exactly one of `entry` and `inspection` is its folder's ID.

    `day` is the folder's day. `steps` are the steps it shows: the one it names, else all of its
    entry or inspection.
    """

    photo: Photo
    entry: str | None
    inspection: str | None
    day: date
    assembly: Assembly | None
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StepTrace:
    """A step and all that was written and seen of it.

    `marks` are (entry ID, `begun` | `done` | `done over`) in journal order, an entry once for each
    of them. `days` and `people` are those of the entries, each once. `inspections` are the IDs of
    inspections of the step or of its assembly.
    """

    step: Step
    progress: StepProgress
    marks: tuple[tuple[str, str], ...]
    photos: tuple[PhotoTrace, ...]
    days: tuple[date, ...]
    people: tuple[str, ...]
    inspections: tuple[str, ...]

    @property
    def entries(self) -> tuple[str, ...]:
        """The entries that name the step, each once, in journal order."""
        return tuple(dict.fromkeys(entry for entry, _ in self.marks))


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonTrace:
    """A person, by the name shown, and where they occur. `photos` show them at work.

    `minutes` is on assemblies that count, `minutes_not_counted` on the rest; `without_time`
    counts entries that name the person but no hours.
    """

    name: str
    entries: tuple[str, ...]
    steps: tuple[str, ...]
    days: tuple[date, ...]
    minutes: int
    minutes_not_counted: int
    without_time: int
    photos: tuple[PhotoTrace, ...]
    inspections: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """All threads of a view. `steps` are in the manual's order, `photos` in journal order with
    those of inspections after them, `people` in the order in which they first occur.
    """

    steps: Mapping[str, StepTrace]
    people: Mapping[str, PersonTrace]
    photos: tuple[PhotoTrace, ...]


def gather_trace(view: View) -> Trace:
    """Follow every thread of `view`."""
    photos = tuple(_photos(view))
    marks: dict[str, list[tuple[Sheet, str]]] = defaultdict(list)
    for sheet in view.sheets:
        for step, mark in sheet_marks(sheet):
            marks[step.id].append((sheet, mark))
    photos_of: dict[str, list[PhotoTrace]] = defaultdict(list)
    for traced in photos:
        for step_id in traced.steps:
            photos_of[step_id].append(traced)
    return Trace(
        steps={step.id: _step(view, step, marks[step.id], tuple(photos_of[step.id])) for step in view.steps.values()},
        people=_people(view, photos),
        photos=photos,
    )


def sheet_marks(sheet: Sheet) -> Iterator[tuple[Step, str]]:
    """(step, `begun` | `done` | `done over`) for every step that a sheet names, work started first."""
    for key, steps in (("begun", sheet.begun), ("steps", sheet.steps), ("redone", sheet.redone)):
        for step in dict.fromkeys(steps):
            yield step, MARKS[key]


def looks_at(view: View, step: Step) -> tuple[Look, ...]:
    """The inspections of a step: those that name it, and those of its assembly."""
    return tuple(
        look
        for look in view.looks
        if step.id in look.inspection.steps or (look.assembly is not None and look.assembly.id == step.assembly)
    )


def _photos(view: View) -> Iterator[PhotoTrace]:
    for sheet in view.sheets:
        every = tuple(step.id for step in sheet.all_steps)
        for photo in sheet.photos:
            yield PhotoTrace(
                photo=photo,
                entry=sheet.id,
                inspection=None,
                day=sheet.date,
                assembly=sheet.assembly,
                steps=(photo.step,) if photo.step else every,
            )
    for look in view.looks:
        every = tuple(step.id for step in look.steps)
        for photo in look.photos:
            yield PhotoTrace(
                photo=photo,
                entry=None,
                inspection=look.inspection.id,
                day=look.inspection.date,
                assembly=look.assembly,
                steps=(photo.step,) if photo.step else every,
            )


def _step(view: View, step: Step, marks: list[tuple[Sheet, str]], photos: tuple[PhotoTrace, ...]) -> StepTrace:
    return StepTrace(
        step=step,
        progress=view.step_progress[step.id],
        marks=tuple((sheet.id, mark) for sheet, mark in marks),
        photos=photos,
        days=tuple(dict.fromkeys(sheet.date for sheet, _ in marks)),
        people=tuple(dict.fromkeys(person for sheet, _ in marks for person in sheet.people)),
        inspections=tuple(look.inspection.id for look in looks_at(view, step)),
    )


def _people(view: View, photos: tuple[PhotoTrace, ...]) -> dict[str, PersonTrace]:
    sheets: dict[str, list[Sheet]] = {}
    for sheet in view.sheets:
        for name in sheet.people:
            sheets.setdefault(name, []).append(sheet)
    at_work: dict[str, list[PhotoTrace]] = defaultdict(list)
    for traced in photos:
        for name in traced.photo.people:
            at_work[name].append(traced)
    inspections: dict[str, list[str]] = defaultdict(list)
    for look in view.looks:
        inspections[look.inspector].append(look.inspection.id)
    order = {step: rank for rank, step in enumerate(view.steps)}
    people: dict[str, PersonTrace] = {}
    for name in dict.fromkeys((*sheets, *at_work, *inspections)):
        own = sheets.get(name, [])
        counted = not_counted = 0
        for sheet in own:
            minutes = dict(sheet.time).get(name, 0)
            counted += minutes if sheet.assembly.counts else 0
            not_counted += 0 if sheet.assembly.counts else minutes
        people[name] = PersonTrace(
            name=name,
            entries=tuple(sheet.id for sheet in own),
            steps=tuple(sorted({step.id for sheet in own for step in sheet.all_steps}, key=order.__getitem__)),
            days=tuple(dict.fromkeys(sheet.date for sheet in own)),
            minutes=counted,
            minutes_not_counted=not_counted,
            without_time=sum(name not in dict(sheet.time) for sheet in own),
            photos=tuple(at_work[name]),
            inspections=tuple(inspections[name]),
        )
    return people


def evidence_for(journal: Journal, view: View) -> Evidence:
    """The gaps that may stand beside `view`: all for the archive; for others only those that neither
    are about, nor name, anything their audience does not see (entries, pictures, people by full name).
    """
    if view.audience is Audience.ARCHIVE:
        return journal.evidence
    build = journal.build
    shown = {sheet.src_uri for sheet in view.sheets} | {look.inspection.src_uri for look in view.looks}
    every = {entry.src_uri: entry.id for entry in build.entries}
    every |= {inspection.src_uri: inspection.id for inspection in build.inspections}
    hidden = {file: name for file, name in every.items() if file not in shown}
    photos = {photo.src_uri for sheet in view.sheets for photo in sheet.photos}
    words = [
        *hidden.values(),
        *(photo.name for entry in build.entries for photo in entry.photos if photo.src_uri not in photos),
        *(person.id for person in build.people.values()),
        *(person.name for person in build.people.values() if person.name != person.public_name),
    ]
    visible = {sheet.id for sheet in view.sheets}

    def may_stand(gap: Gap) -> bool:
        told = f"{gap.problem.message} {gap.problem.hint} {gap.answer}"
        return gap.problem.file not in hidden and not any(word in told for word in words)

    return Evidence(
        gaps=tuple(filter(may_stand, journal.evidence.gaps)),
        answered=tuple(gap for gap in journal.evidence.answered if may_stand(gap) and gap.answered_in in visible),
    )


def capture_time(facts: PhotoFacts, *, day_only: bool = False) -> str:
    """RFC 3339 as far as the camera told it: `2026-02-07T10:33:50+01:00`, without the offset where
    none was recorded (Exif times carry no zone; an unknown offset is not UTC), or `not recorded`.

    `day_only` is for those who see no clock times (`journal.view.view`).
    """
    if facts.taken is None or not facts.clock_set:
        return NOT_RECORDED
    if day_only:
        return facts.taken.date().isoformat()
    return facts.taken.strftime("%Y-%m-%dT%H:%M:%S") + (facts.offset or "")
