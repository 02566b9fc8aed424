"""What stands behind each line of tasks.csv, and the findings about it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from journal.base.formatting import say_count, say_few
from journal.base.grouping import Groups, grouped
from journal.base.model import Build, Entry, Photo, Role, Task
from journal.base.problems import Problem, finding
from journal.ledger.progress import step_marks

TASKS_FILE = "content/tasks.csv"


@dataclass(frozen=True, slots=True, kw_only=True)
class TaskEvidence:
    """What stands behind one line: the entries that name its steps (journal order), their pictures of
    these steps, and the IDs of who worked in them. `paid` are those of them who were paid, `pictured` the steps that
    an entry with a usable picture names.
    """

    task: Task
    entries: tuple[Entry, ...]
    photos: tuple[tuple[Entry, Photo], ...]
    people: tuple[str, ...]
    paid: tuple[str, ...]
    paid_entries: tuple[Entry, ...]
    pictured: tuple[str, ...]


def behind_tasks(build: Build) -> tuple[TaskEvidence, ...]:
    """What stands behind every line of tasks.csv, in its order."""
    naming = grouped(build.entries, lambda entry: dict.fromkeys(step for step, _ in step_marks(entry)))
    place = {entry.id: number for number, entry in enumerate(build.entries)}
    return tuple(_evidence(build, task, naming, place) for task in build.tasks)


def _evidence(build: Build, task: Task, naming: Groups[str, Entry], place: dict[str, int]) -> TaskEvidence:
    by_id = {entry.id: entry for step in task.steps for entry in naming[step]}
    entries = tuple(sorted(by_id.values(), key=lambda entry: place[entry.id]))
    people = tuple(dict.fromkeys(person for entry in entries for person in entry.people))
    paid = tuple(person for person in people if build.people[person].role is Role.PAID)
    return TaskEvidence(
        task=task,
        entries=entries,
        photos=tuple((entry, photo) for entry in entries for photo in _pictures(entry, task.steps)),
        people=people,
        paid=paid,
        paid_entries=tuple(entry for entry in entries if set(entry.people) & set(paid)),
        pictured=tuple(step for step in task.steps if any(any(_pictures(entry, (step,))) for entry in naming[step])),
    )


def _pictures(entry: Entry, steps: Sequence[str]) -> Iterator[Photo]:
    """Usable pictures that may be of these steps: of one of them, or of no step in particular."""
    for photo in entry.photos:
        if not photo.facts.trouble and (photo.step is None or photo.step in steps):
            yield photo


def check_tasks(build: Build) -> Iterator[Problem]:
    """Findings paid-not-counted, task-no-photo and task-worked, each at its line of tasks.csv."""
    for behind in behind_tasks(build):
        task = behind.task
        name = f'task {task.task} "{task.name}"'
        if task.paid == 0 and behind.paid:
            where = say_few([entry.id for entry in behind.paid_entries])
            said = f"{name} shows no paid help, but {say_few(behind.paid)} (paid) worked on it in {where}"
            hint = "give the tenths that were paid for, or name in the entry only the steps they did not work on"
            yield finding(TASKS_FILE, task.where, "paid-not-counted", said, hint)
        if task.applies and behind.entries and not behind.photos:
            said = f"{name} has {say_count(len(behind.entries), 'entry', 'entries')} and no picture"
            yield finding(TASKS_FILE, task.where, "task-no-photo", said, "put a picture of the work into one of them")
        if not task.applies and behind.entries:
            said = f"{name} is marked n/a, but {say_few([entry.id for entry in behind.entries])} worked on its steps"
            yield finding(TASKS_FILE, task.where, "task-worked", said, "give its tenths, or correct its steps")
