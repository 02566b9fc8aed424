"""The tally: who made and built the aircraft, task by task, in whole tenths, and how much of that is shown.

Source of the arithmetic: the instruction block of the 2011 checklist forms (one listed task is one
point, split in tenths over maker, paid help, builder's assembly and builder's fabrication; what does
not exist on the aircraft takes no part; what is not listed may be added). The totals page was not
read: builder's share = (assembly + fabrication) / applicable is inferred, as is that unpaid help counts
with the builder.

Claimed is what tasks.csv says. Shown is the part of it with finished work behind: a task's tenths in the share of
its steps that are done and pictured, as exact fractions (common practice, no source). Nothing here says
whether a share is enough. The tool brings no list of tasks; what stands behind each line is told by
`journal.ledger.tally`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from journal.base.grouping import grouped
from journal.base.model import Task

TENTHS = 10

SHOWN_RULE = (
    "Claimed is what tasks.csv says. Shown is the part of it with finished work behind: the tenths of the builder "
    "and of paid help count in the share of the task’s steps that are done and have an entry with a usable picture. "
    "A task that names no steps shows nothing; the maker’s tenths need nothing from the builder."
)

Line = tuple[Task, Fraction]
"""A task and the share of its steps that is shown, from 0 to 1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """Credit added up, in tenths: `tasks` lines apply and together hold `tenths` = 10 x `tasks`.

    `not_applicable` lines take no part in anything. The `shown` ones are the part of paid help, assembly and
    fabrication with finished work behind, exact.
    """

    tasks: int
    not_applicable: int
    maker: int
    paid: int
    assembly: int
    fabrication: int
    paid_shown: Fraction = Fraction(0)
    assembly_shown: Fraction = Fraction(0)
    fabrication_shown: Fraction = Fraction(0)

    @property
    def tenths(self) -> int:
        """All credit there is."""
        return self.tasks * TENTHS

    @property
    def builder(self) -> int:
        """Tenths claimed for the builder: assembly and fabrication."""
        return self.assembly + self.fabrication

    @property
    def builder_shown(self) -> Fraction:
        """Those of them that are shown."""
        return self.assembly_shown + self.fabrication_shown

    @property
    def builder_share(self) -> Fraction | None:
        """The share claimed: exact, from 0 to 1; None where no task applies."""
        return Fraction(self.builder, self.tenths) if self.tenths else None

    @property
    def shown_share(self) -> Fraction | None:
        """The share shown, likewise."""
        return self.builder_shown / self.tenths if self.tenths else None

    @property
    def one_task(self) -> Fraction | None:
        """By how much of the whole one task moves the result when it changes hands entirely."""
        return Fraction(1, self.tasks) if self.tasks else None

    def share_after_paying(self, tenths: int) -> Fraction | None:
        """The share claimed had somebody been paid for that many more of the builder's tenths."""
        return Fraction(self.builder - min(tenths, self.builder), self.tenths) if self.tenths else None

    @property
    def fabrication_note(self) -> str:
        """Words where no fabrication is claimed, or none of it shown; "" elsewhere."""
        if not self.fabrication:
            return "No fabrication is claimed."
        return "" if self.fabrication_shown else "Fabrication is claimed and none of it is shown."


def add_up(lines: Iterable[Line]) -> Tally:
    """The tally over `lines`; tasks marked n/a are counted apart and give credit to nobody."""
    lines = tuple(lines)
    applying = [line for line in lines if line[0].applies]
    return Tally(
        tasks=len(applying),
        not_applicable=len(lines) - len(applying),
        maker=sum(task.maker or 0 for task, _ in applying),
        paid=sum(task.paid or 0 for task, _ in applying),
        assembly=sum(task.assembly or 0 for task, _ in applying),
        fabrication=sum(task.fabrication or 0 for task, _ in applying),
        paid_shown=sum(((task.paid or 0) * shown for task, shown in applying), Fraction(0)),
        assembly_shown=sum(((task.assembly or 0) * shown for task, shown in applying), Fraction(0)),
        fabrication_shown=sum(((task.fabrication or 0) * shown for task, shown in applying), Fraction(0)),
    )


def add_up_sections(lines: Iterable[Line]) -> dict[str, Tally]:
    """A tally for each section, in the order of tasks.csv."""
    sections = grouped(lines, lambda line: [line[0].section])
    return {section: add_up(inside) for section, inside in sections.items()}


def say_percent(share: Fraction) -> str:
    """`47.1 %`: one decimal, cut off and never rounded up, so that 49.96 % is not shown as 50."""
    tenths = int(share * 1000 // 1)
    return f"{tenths // 10}.{tenths % 10} %"


def say_tenths(tenths: int | Fraction) -> str:
    """`33` tenths -> `3.3`: credit as the checklist writes it; `10/3` -> `0.33`, cut off and never rounded up."""
    hundredths = int(tenths * TENTHS // 1)
    if hundredths == tenths * TENTHS and not hundredths % TENTHS:
        return f"{hundredths // 100}.{hundredths // TENTHS % TENTHS}"
    return f"{hundredths // 100}.{hundredths % 100:02d}"


def say_exact(tenths: Fraction) -> str:
    """`3 1/3`: tenths with what is left of one as a fraction."""
    whole, rest = divmod(tenths, 1)
    return str(whole) if not rest else f"{whole} {rest}" if whole else str(rest)
