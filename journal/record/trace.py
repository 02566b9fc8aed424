"""The trace: step -> entries -> pictures -> days -> people -> inspections, and back. Pure.

Made from a `View`, so it holds what its audience may see and nothing else.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from journal.base.model import Assembly, Photo, PhotoFacts, Step, StepProgress
from journal.view.people import PersonWork, gather_people
from journal.view.view import ShownEntry, ShownInspection, View

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
class Trace:
    """All threads of a view. `steps` are in the manual's order, `photos` in journal order with
    those of inspections after them, `people` in the order in which they first occur.
    """

    steps: Mapping[str, StepTrace]
    people: Mapping[str, PersonWork]
    photos: tuple[PhotoTrace, ...]


def gather_trace(view: View) -> Trace:
    """Follow every thread of `view`."""
    photos = tuple(_photos(view))
    marks: dict[str, list[tuple[ShownEntry, str]]] = defaultdict(list)
    for entry in view.entries:
        for step, mark in entry_marks(entry):
            marks[step.id].append((entry, mark))
    photos_of: dict[str, list[PhotoTrace]] = defaultdict(list)
    for traced in photos:
        for step_id in traced.steps:
            photos_of[step_id].append(traced)
    return Trace(
        steps={step.id: _step(view, step, marks[step.id], tuple(photos_of[step.id])) for step in view.steps.values()},
        people=gather_people(view),
        photos=photos,
    )


def entry_marks(entry: ShownEntry) -> Iterator[tuple[Step, str]]:
    """(step, `begun` | `done` | `done over`) for every step that a sheet names, work started first."""
    for key, steps in (("begun", entry.begun), ("steps", entry.steps), ("redone", entry.redone)):
        for step in dict.fromkeys(steps):
            yield step, MARKS[key]


def inspections_of(view: View, step: Step) -> tuple[ShownInspection, ...]:
    """The inspections of a step: those that name it, and those of its assembly."""
    return tuple(
        inspection
        for inspection in view.inspections
        if step in inspection.steps or (inspection.assembly is not None and inspection.assembly.id == step.assembly)
    )


def _photos(view: View) -> Iterator[PhotoTrace]:
    for entry in view.entries:
        every = tuple(step.id for step in entry.all_steps)
        for photo in entry.photos:
            yield PhotoTrace(
                photo=photo,
                entry=entry.id,
                inspection=None,
                day=entry.date,
                assembly=entry.assembly,
                steps=(photo.step,) if photo.step else every,
            )
    for inspection in view.inspections:
        every = tuple(step.id for step in inspection.steps)
        for photo in inspection.photos:
            yield PhotoTrace(
                photo=photo,
                entry=None,
                inspection=inspection.id,
                day=inspection.date,
                assembly=inspection.assembly,
                steps=(photo.step,) if photo.step else every,
            )


def _step(view: View, step: Step, marks: list[tuple[ShownEntry, str]], photos: tuple[PhotoTrace, ...]) -> StepTrace:
    return StepTrace(
        step=step,
        progress=view.step_progress[step.id],
        marks=tuple((entry.id, mark) for entry, mark in marks),
        photos=photos,
        days=tuple(dict.fromkeys(entry.date for entry, _ in marks)),
        people=tuple(dict.fromkeys(person for entry, _ in marks for person in entry.people)),
        inspections=tuple(inspection.id for inspection in inspections_of(view, step)),
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
