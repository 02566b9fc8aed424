"""What is behind every structure that the manual closes for good, and what shows it. Pure.

A closing step shuts in the steps before it, from the closing before it in the manual on; the last of an assembly every
step before it, and what was open at an earlier closing is told there and not again. A picture of the inside vouches for
one closing, the next one after it, an inspection for every one that it names or whose assembly it names.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from journal.base.addresses import fold_name
from journal.base.grouping import grouped
from journal.base.model import Build, Entry, InspectionFinding, Photo, State, Step, StepProgress, WriteUp, photo_day
from journal.ledger.progress import Progress, step_marks

CLOSING = "closing"
"""The `stage` of an inspection before closing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Closing:
    """A step that closes a structure for good, how it stands, and what the record holds of the inside.

    `hides` are the steps behind it in the order of the manual, `tested_by` the leak test that comes next, `left_open`
    those of `hides` that were not done on the day of the closing (now, where it is not closed), `reworked` (entry,
    step) of those that were, and were done over or begun again on a later day, though it stands closed. `entries`,
    `inspections` (before closing, on that day or earlier) and `measurements` are IDs in the order of their days,
    `pictures` the `src_uri` of those that vouch for it, `late` of those of its inside that are of a later day.
    """

    step: Step
    stands: StepProgress
    hides: tuple[str, ...] = ()
    tested_by: tuple[str, ...] = ()
    left_open: tuple[str, ...] = ()
    reworked: tuple[tuple[str, str], ...] = ()
    entries: tuple[str, ...] = ()
    pictures: tuple[str, ...] = ()
    late: tuple[str, ...] = ()
    inspections: tuple[str, ...] = ()
    measurements: tuple[str, ...] = ()

    @property
    def closed_on(self) -> date | None:
        """The day of the closing; None while the structure is open, or open again."""
        return self.stands.done_on if _is_done(self.stands) else None

    def open_when_closed(self, findings: Iterable[InspectionFinding]) -> list[InspectionFinding]:
        """Those of `findings` that were not put right on the day of the closing."""
        return [one for one in findings if self.closed_on and (one.closed_on or date.max) > self.closed_on]


def trace_closings(build: Build, progress: Progress) -> tuple[Closing, ...]:
    """Every closing of the manual, in its order."""
    stretches, whole = _stretches(build)
    pictures, late = _pictures(build, progress, stretches)
    entries = grouped(build.entries, lambda entry: [step for step, _ in step_marks(entry)])
    place = {entry.id: number for number, entry in enumerate(build.entries)}
    traced: list[Closing] = []
    told: set[str] = set()
    for name, hides in whole.items():
        step, stands = build.steps[name], progress.steps[name]
        closed_on = stands.done_on if _is_done(stands) else None
        steps = build.steps_of(step.assembly)
        tested = tuple(one.id for one in steps[steps.index(step) + 1 :][:1] if is_leak_test(one))
        inside = (*hides, name, *tested)
        looked = (
            one
            for one in build.inspections
            if fold_name(one.stage) == CLOSING
            and (closed_on is None or one.date <= closed_on)
            and name in _closings_named(build, one, step.assembly)
        )
        left_open = tuple(one for one in hides if not _done_by(progress.steps[one], closed_on) and one not in told)
        traced.append(
            Closing(
                step=step,
                stands=stands,
                hides=hides,
                tested_by=tested,
                left_open=left_open,
                reworked=tuple(
                    (entry.id, one)
                    for entry in build.entries
                    if closed_on and entry.date > closed_on
                    for one in dict.fromkeys((*entry.begun, *entry.redone))
                    if one in hides and _done_by(progress.steps[one], closed_on)
                ),
                entries=tuple(sorted({entry.id for one in inside for entry in entries[one]}, key=place.__getitem__)),
                pictures=tuple(pictures[name]),
                late=tuple(late[name]),
                inspections=tuple(one.id for one in sorted(looked, key=lambda one: one.date)),
                measurements=tuple(one.id for one in build.measurements if not set(inside).isdisjoint(one.steps)),
            )
        )
        if closed_on:
            told.update(left_open)
    return tuple(traced)


def _stretches(build: Build) -> tuple[dict[str, tuple[str, ...]], dict[str, tuple[str, ...]]]:
    """Closing step -> the steps since the closing before it; and all that it hides, of the last of an assembly every
    step before it.
    """
    since: dict[str, tuple[str, ...]] = {}
    whole: dict[str, tuple[str, ...]] = {}
    for assembly in build.assemblies:
        before: list[str] = []
        begins, last = 0, ""
        for step in build.steps_of(assembly):
            if step.closes:
                last, since[step.id] = step.id, tuple(before[begins:])
                whole[last], begins = since[last], len(before)
            else:
                before.append(step.id)
        if last:
            whole[last] = tuple(before[:begins])
    return since, whole


def is_leak_test(step: Step) -> bool:
    """Whether a step is the test of a tank, by its title."""
    return "leak test" in fold_name(step.title)


def _is_done(stands: StepProgress) -> bool:
    return stands.state is State.DONE


def _done_by(stands: StepProgress, day: date | None) -> bool:
    if day is None:
        return _is_done(stands)
    return stands.first_done_on is not None and stands.first_done_on <= day


def _closings_named(build: Build, told: WriteUp, assembly: str) -> Iterable[str]:
    """The closings of `assembly` that something written up speaks for: those that it names, else all."""
    named: set[str | None] = {build.steps[step].assembly for step in told.steps}
    if assembly not in (named or {told.assembly}):
        return ()
    closing = [step for step in told.steps if build.steps[step].closes]
    return closing or (step.id for step in build.steps_of(assembly) if step.closes)


def _pictures(
    build: Build, progress: Progress, stretches: Mapping[str, tuple[str, ...]]
) -> tuple[dict[str, list[str]], dict[str, list[str]]]:
    """Closing -> its pictures of the inside, and those taken when it was closed already."""
    shut_by = {step: closing for closing, hides in stretches.items() for step in (*hides, closing)}
    closed = {name: progress.steps[name].done_on if _is_done(progress.steps[name]) else None for name in stretches}
    by_day = sorted(stretches, key=lambda name: closed[name] or date.max)
    vouching: dict[str, list[str]] = defaultdict(list)
    late: dict[str, list[str]] = defaultdict(list)
    told: list[Entry | WriteUp] = [*build.entries, *build.write_ups]
    for one in told:
        for photo in one.photos:
            if not photo.inside or photo.facts.trouble:
                continue
            steps = _steps_shown(photo, one)
            named = [shut_by[step] for step in steps if step in shut_by]
            of: set[str | None] = {build.steps[step].assembly for step in steps}
            candidates = named + [name for name in by_day if build.steps[name].assembly in (of or {one.assembly})]
            # What names its closing speaks for no other one.
            if named and (photo.shut_by or any(build.steps[step].closes for step in steps)):
                candidates = named
            day = photo_day(photo, one.date)
            if open_then := [name for name in candidates if day <= (closed[name] or date.max)]:
                vouching[open_then[0]].append(photo.src_uri)
            elif candidates and photo.facts.clock_set:
                late[candidates[-1]].append(photo.src_uri)
    return vouching, late


def _steps_shown(photo: Photo, told: Entry | WriteUp) -> tuple[str, ...]:
    """The steps that a picture of the inside is of: named at the picture, else those that its text is about."""
    if named := photo.shut_by or photo.step:
        return (named,)
    return tuple(step for step, _ in step_marks(told)) if isinstance(told, Entry) else told.steps
