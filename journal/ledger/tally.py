"""The tally of the major portion: who made and built the aircraft, task by task, in whole tenths.

Source of the arithmetic: the instruction block of the 2011 checklist forms (one listed task is one
point, split in tenths over maker, paid help, builder's assembly and builder's fabrication; what does
not exist on the aircraft takes no part; what is not listed may be added). The totals page was not
read: builder's share = (assembly + fabrication) / applicable is inferred, as is that unpaid help counts
with the builder. "More than half" follows the wording of 14 CFR 21.191(g) (the major portion).

The tool brings no list of tasks. It counts what tasks.csv says and shows what stands behind each line.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from journal.base.formatting import say_count
from journal.base.model import Build, Entry, Photo, Role, Task
from journal.base.problems import Problem, finding
from journal.ledger.progress import step_marks

TALLY_SOURCES = (
    "Ten tenths a task, n/a lines without part, lines added: 2011 checklist forms.",
    "More than half: the major portion of 14 CFR 21.191(g).",
    "Builder's share = (assembly + fabrication) / applicable: inferred, as the forms' totals page was not read.",
)

TASKS_FILE = "content/tasks.csv"
TENTHS = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """Credit added up, in tenths: `tasks` lines apply and together hold `tenths` = 10 x `tasks`.

    `not_applicable` lines take no part in anything.
    """

    tasks: int
    not_applicable: int
    maker: int
    paid: int
    assembly: int
    fabrication: int

    @property
    def tenths(self) -> int:
        """All credit there is."""
        return self.tasks * TENTHS

    @property
    def builder(self) -> int:
        """Tenths of the builder: assembly and fabrication."""
        return self.assembly + self.fabrication

    @property
    def builder_share(self) -> Fraction | None:
        """Exact, from 0 to 1; None where no task applies."""
        return Fraction(self.builder, self.tenths) if self.tenths else None

    @property
    def more_than_half(self) -> bool:
        """Whether the builder's tenths are more than half of all: exactly half is not."""
        return 2 * self.builder > self.tenths

    @property
    def one_task(self) -> Fraction | None:
        """By how much of the whole one task moves the result when it changes hands entirely."""
        return Fraction(1, self.tasks) if self.tasks else None

    @property
    def margin_tenths(self) -> int:
        """Tenths that could still go to others with the builder above half; negative: tenths that
        the builder lacks to be above half.
        """
        if self.more_than_half:
            return (2 * self.builder - self.tenths - 1) // 2
        return -((self.tenths - 2 * self.builder) // 2 + 1)

    def share_after_paying(self, tenths: int) -> Fraction | None:
        """The builder's share had somebody been paid for that many more of the builder's tenths."""
        return Fraction(self.builder - min(tenths, self.builder), self.tenths) if self.tenths else None


@dataclass(frozen=True, slots=True, kw_only=True)
class TaskEvidence:
    """What stands behind one line: the entries that name its steps (journal order), their pictures of
    these steps, and the IDs of who worked in them. `paid` are those of them who were paid.
    """

    task: Task
    entries: tuple[Entry, ...]
    photos: tuple[tuple[Entry, Photo], ...]
    people: tuple[str, ...]
    paid: tuple[str, ...]
    paid_entries: tuple[Entry, ...]

    @property
    def photographed(self) -> bool:
        """Whether any usable picture shows the work."""
        return bool(self.photos)


def add_up(tasks: Iterable[Task]) -> Tally:
    """The tally over `tasks`; lines marked n/a are counted apart and give credit to nobody."""
    tasks = tuple(tasks)
    applying = [task for task in tasks if task.applies]
    return Tally(
        tasks=len(applying),
        not_applicable=len(tasks) - len(applying),
        maker=sum(task.maker or 0 for task in applying),
        paid=sum(task.paid or 0 for task in applying),
        assembly=sum(task.assembly or 0 for task in applying),
        fabrication=sum(task.fabrication or 0 for task in applying),
    )


def add_up_sections(tasks: Sequence[Task]) -> dict[str, Tally]:
    """A tally for each section, in the order of tasks.csv."""
    sections: dict[str, list[Task]] = {}
    for task in tasks:
        sections.setdefault(task.section, []).append(task)
    return {section: add_up(lines) for section, lines in sections.items()}


def say_percent(share: Fraction) -> str:
    """`47.1 %`: one decimal, cut off and never rounded up, so that 49.96 % is not shown as 50."""
    tenths = int(share * 1000 // 1)
    return f"{tenths // 10}.{tenths % 10} %"


def say_tenths(tenths: int) -> str:
    """`33` tenths -> `3.3`: credit as the checklist writes it."""
    return f"{tenths // TENTHS}.{tenths % TENTHS}"


def gather_evidence(build: Build) -> tuple[TaskEvidence, ...]:
    """What stands behind every line of tasks.csv, in its order."""
    naming: dict[str, list[Entry]] = defaultdict(list)
    for entry in build.entries:
        for step in dict.fromkeys(step for step, _mark in step_marks(entry)):
            naming[step].append(entry)
    place = {entry.id: number for number, entry in enumerate(build.entries)}
    return tuple(_evidence(build, task, naming, place) for task in build.tasks)


def _evidence(build: Build, task: Task, naming: dict[str, list[Entry]], place: dict[str, int]) -> TaskEvidence:
    by_id = {entry.id: entry for step in task.steps for entry in naming.get(step, ())}
    entries = tuple(sorted(by_id.values(), key=lambda entry: place[entry.id]))
    people = tuple(dict.fromkeys(person for entry in entries for person in entry.people))
    paid = tuple(person for person in people if build.people[person].role is Role.PAID)
    return TaskEvidence(
        task=task,
        entries=entries,
        photos=tuple((entry, photo) for entry in entries for photo in _pictures(entry, task)),
        people=people,
        paid=paid,
        paid_entries=tuple(entry for entry in entries if set(entry.people) & set(paid)),
    )


def _pictures(entry: Entry, task: Task) -> Iterator[Photo]:
    """Pictures that may be of the task: of one of its steps, or of no step in particular."""
    for photo in entry.photos:
        if not photo.facts.trouble and (photo.step is None or photo.step in task.steps):
            yield photo


def check_tasks(build: Build) -> Iterator[Problem]:
    """Findings paid-not-counted, task-no-photo and task-worked, each at its line of tasks.csv."""
    for behind in gather_evidence(build):
        task = behind.task
        name = f'task {task.task} "{task.name}"'
        if task.paid == 0 and behind.paid:
            yield finding(
                TASKS_FILE,
                task.where,
                "paid-not-counted",
                f"{name} shows no paid help, but {_listed(behind.paid)} (paid) worked on it in "
                f"{_listed([entry.id for entry in behind.paid_entries])}",
                "give the tenths that were paid for, or name in the entry only the steps they did not work on",
            )
        if task.applies and behind.entries and not behind.photos:
            yield finding(
                TASKS_FILE,
                task.where,
                "task-no-photo",
                f"{name} has {say_count(len(behind.entries), 'entry', 'entries')} and no picture",
                "put a picture of the work into one of them",
            )
        if not task.applies and behind.entries:
            yield finding(
                TASKS_FILE,
                task.where,
                "task-worked",
                f"{name} is marked n/a, but {_listed([entry.id for entry in behind.entries])} worked on its steps",
                "give its tenths, or correct its steps",
            )


def _listed(names: Sequence[str], most: int = 3) -> str:
    return ", ".join(names[:most]) + (f" and {len(names) - most} more" if len(names) > most else "")
