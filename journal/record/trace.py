"""The trace: step -> entries -> pictures -> days -> people -> inspections, and back. Pure.

Made from a `View`, so it holds what its audience may see and nothing else.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TypeVar

from journal.base.grouping import grouped
from journal.base.model import Photo, PhotoFacts, Step, StepProgress, photo_day
from journal.view.people import PersonWork, gather_people
from journal.view.view import ShownEntry, ShownInspection, ShownMeasurement, ShownWriteUp, Told, View

W = TypeVar("W", bound=ShownWriteUp)

NOT_RECORDED = "not recorded"
"""What the record says where a camera told no time, or a time that cannot be."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoTrace:
    """A picture and where it leads: `told` is the entry, inspection or measurement in whose folder it lies."""

    photo: Photo
    told: Told

    @property
    def entry(self) -> str | None:
        """The ID of its entry; None for a picture of an inspection."""
        return self.told.id if isinstance(self.told, ShownEntry) else None

    @property
    def inspection(self) -> str | None:
        """The ID of its inspection; None for a picture of an entry."""
        return self.told.id if isinstance(self.told, ShownInspection) else None

    @property
    def measurement(self) -> str | None:
        """The ID of its measurement."""
        return self.told.id if isinstance(self.told, ShownMeasurement) else None

    @property
    def day(self) -> date:
        """Its capture day, or that of its folder where the camera told none."""
        return photo_day(self.photo, self.told.date)

    @property
    def steps(self) -> tuple[str, ...]:
        """The steps it shows: the one it names, else all of what it belongs to."""
        named = self.told.all_steps if isinstance(self.told, ShownEntry) else self.told.steps
        return (self.photo.step,) if self.photo.step else tuple(step.id for step in named)


@dataclass(frozen=True, slots=True, kw_only=True)
class StepTrace:
    """A step and all that was written and seen of it.

    `marks` are (entry, `begun` | `done` | `done over`) in journal order, an entry once for each of them.
    `inspections` and `measurements` are those of the step or of its assembly.
    """

    step: Step
    progress: StepProgress
    marks: tuple[tuple[ShownEntry, str], ...]
    photos: tuple[PhotoTrace, ...]
    inspections: tuple[ShownInspection, ...]
    measurements: tuple[ShownMeasurement, ...] = ()

    @property
    def entries(self) -> tuple[str, ...]:
        """The IDs of the entries that name the step, each once, in journal order."""
        return tuple(dict.fromkeys(entry.id for entry, _ in self.marks))


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """All threads of a view. `steps` are in the manual's order, `photos` in journal order with
    those of inspections and measurements after them, `people` in the order in which they first occur.
    """

    steps: Mapping[str, StepTrace]
    people: Mapping[str, PersonWork]
    photos: tuple[PhotoTrace, ...]


def gather_trace(view: View) -> Trace:
    """Follow every thread of `view`."""
    marks: dict[str, list[tuple[ShownEntry, str]]] = defaultdict(list)
    for entry in view.entries:
        for step, mark in entry_marks(entry):
            marks[step.id].append((entry, mark))
    photos = photo_traces(view)
    photos_of = grouped(photos, lambda traced: traced.steps)
    return Trace(
        steps={
            step.id: StepTrace(
                step=step,
                progress=view.step_progress[step.id],
                marks=tuple(marks[step.id]),
                photos=photos_of[step.id],
                inspections=concerning(step, view.inspections),
                measurements=concerning(step, view.measurements),
            )
            for step in view.steps.values()
        },
        people=gather_people(view),
        photos=photos,
    )


def photo_traces(view: View) -> tuple[PhotoTrace, ...]:
    """Every picture: those of the entries in journal order, then the others."""
    return tuple(PhotoTrace(photo=photo, told=told) for told in view.told for photo in told.photos)


def entry_marks(entry: ShownEntry) -> Iterator[tuple[Step, str]]:
    """(step, `begun` | `done` | `done over`) for every step that an entry names, work started first."""
    for mark, steps in (("begun", entry.begun), ("done", entry.steps), ("done over", entry.redone)):
        for step in dict.fromkeys(steps):
            yield step, mark


def concerning(step: Step, write_ups: tuple[W, ...]) -> tuple[W, ...]:
    """Those of the inspections or measurements that name the step, and those of its assembly."""
    return tuple(
        told
        for told in write_ups
        if step in told.steps or (told.assembly is not None and told.assembly.id == step.assembly)
    )


def role_of(view: View, name: str) -> str:
    """`builder`, `helper`, `paid` or `inspector`; empty for a name that has no role."""
    role = view.roles.get(name)
    return role.value if role else ""


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
