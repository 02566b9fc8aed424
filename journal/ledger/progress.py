"""Steps and assemblies over time: replayed from the entries in journal order. Pure.

A step is *under way* once an entry names it in `begun`, *done* once one names it in `steps`.
A later `begun` on a done step **reopens** it: it is under way again and does not count as done.
`redone` does it over: it is done afterwards, and the count of times it was done over goes up.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date

from journal.base.model import AssemblyProgress, Build, Entry, State, StepProgress


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """The whole build as it stands, and each assembly's state after every worked day.

    `states_on` maps a date to the state of every assembly at the end of that day;
    `steps_done_on` to the number of steps done then.
    """

    steps: Mapping[str, StepProgress] = field(default_factory=dict)
    assemblies: Mapping[str, AssemblyProgress] = field(default_factory=dict)
    states_on: Mapping[date, Mapping[str, State]] = field(default_factory=dict)
    steps_done_on: Mapping[date, int] = field(default_factory=dict)

    @property
    def steps_done(self) -> int:
        """How many steps are done now, reopened ones not among them."""
        return sum(step.state is State.DONE for step in self.steps.values())


def step_marks(entry: Entry) -> Iterator[tuple[str, str]]:
    """(step ID, what the entry does to it: `begun`, `steps` or `redone`), work started first."""
    for key, ids in (("begun", entry.begun), ("steps", entry.steps), ("redone", entry.redone)):
        for step in ids:
            yield step, key


def replay(build: Build) -> Progress:
    """Play the entries of `build` in order (private ones too, drafts are not among them)."""
    steps = {step: StepProgress() for step in build.steps}
    assembly_of = {step.id: step.assembly for step in build.steps.values()}
    counts = dict.fromkeys(build.assemblies, 0)
    for assembly in assembly_of.values():
        counts[assembly] += 1
    done = dict.fromkeys(build.assemblies, 0)
    standing = dict.fromkeys(build.assemblies, State.NOT_BEGUN)
    states_on: dict[date, Mapping[str, State]] = {}
    steps_done_on: dict[date, int] = {}

    for number, entry in enumerate(build.entries):
        touched = {entry.assembly}
        for step_id, mark in step_marks(entry):
            before = steps[step_id]
            after = _marked(before, mark, entry)
            steps[step_id] = after
            assembly = assembly_of[step_id]
            touched.add(assembly)
            done[assembly] += (after.state is State.DONE) - (before.state is State.DONE)
        for assembly in touched:
            # One without steps is never done: nothing says that it is finished.
            finished = counts[assembly] and done[assembly] == counts[assembly]
            standing[assembly] = State.DONE if finished else State.UNDER_WAY
        last_of_day = number + 1 == len(build.entries) or build.entries[number + 1].date != entry.date
        if last_of_day:
            states_on[entry.date] = dict(standing)
            steps_done_on[entry.date] = sum(done.values())

    return Progress(
        steps=steps,
        assemblies={
            assembly: AssemblyProgress(
                state=standing[assembly],
                steps_done=done[assembly],
                steps=counts[assembly],
            )
            for assembly in build.assemblies
        },
        states_on=states_on,
        steps_done_on=steps_done_on,
    )


def _marked(before: StepProgress, mark: str, entry: Entry) -> StepProgress:
    entries = before.entries if entry.id in before.entries[-1:] else (*before.entries, entry.id)
    # Field by field: `replace` takes three times as long, and every answer of find after a change waits for this.
    if mark == "begun":
        return StepProgress(
            state=State.UNDER_WAY,
            reopened=before.reopened or before.state is State.DONE,
            times_done_over=before.times_done_over,
            entries=entries,
            done_in=before.done_in,
            done_on=before.done_on,
            first_done_on=before.first_done_on,
        )
    return StepProgress(
        state=State.DONE,
        times_done_over=before.times_done_over + (mark == "redone"),
        entries=entries,
        done_in=entry.id,
        done_on=entry.date,
        first_done_on=before.first_done_on or entry.date,
    )
