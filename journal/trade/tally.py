"""The tally of the major portion: who made and built the aircraft, task by task, in whole tenths.

Source of the arithmetic: the instruction block of the 2011 checklist forms (one listed task is one
point, split in tenths over maker, paid help, builder's assembly and builder's fabrication; what does
not exist on the aircraft takes no part; what is not listed may be added). The totals page was not
read: builder's share = (assembly + fabrication) / applicable is inferred, as is that unpaid help counts
with the builder. "More than half" follows the wording of 14 CFR 21.191(g) (the major portion).

The tool brings no list of tasks. It counts what tasks.csv says; what stands behind
each line is told by `journal.ledger.tally`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from journal.base.model import Task

TALLY_SOURCES = (
    "Ten tenths a task, n/a lines without part, lines added: 2011 checklist forms.",
    "More than half: the major portion of 14 CFR 21.191(g).",
    "Builder's share = (assembly + fabrication) / applicable: inferred, as the forms' totals page was not read.",
)

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
