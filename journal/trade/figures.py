"""One figure of an entry beside what the tables say of it, how the two compare, and the cautions that stand by."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from journal.base.model import Where
from journal.base.problems import Problem, finding

CAUTION = (
    "The kit's manual and drawings come first, then the engine's and propeller's, then the rules of your "
    "authority, then the word of a licensed inspector. The figures here are published or remembered "
    "ones, as the source beside each says; they are shown to compare with and decide nothing."
)

BRIEF = "the kit's manual and drawings come first: this advises and decides nothing"
"""For the end of a finding's line."""

TALLY_CAUTION = (
    "The authority decides what counts and whether it is enough. Editions of the checklist and national rules "
    "differ: enter the list that belongs to your kit, with its edition. Tasks count, hours do not. "
    "The share worked out here is arithmetic over what the builder wrote, not a finding of the authority."
)

FORECAST_CAUTION = (
    "An estimate from the builder's own past weeks, not a promise: it knows nothing of money, moves, "
    "back-orders, paint, paperwork or the winter after next."
)


class Standing(Enum):
    """How a recorded figure stands to the table's; the value is the word shown.

    SHOWN: nothing was recorded, or there is nothing to compare with; the table's figure is a help.
    """

    SHOWN = ""
    WITHIN = "within"
    NOTE = "note"
    OUTSIDE = "outside"


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One row of the small table in an entry.

    `recorded` is what the entry says (`not given` where it says nothing), `table` what the tables say,
    `remark` by how much the two differ or what else to know. `word` is the code word of the finding
    when `standing` is OUTSIDE, and `hint` what to do about it; `limit_source` is the
    source of that limit alone where `source` tells of several figures.
    """

    what: str
    recorded: str
    table: str
    source: str
    standing: Standing = Standing.SHOWN
    remark: str = ""
    word: str = ""
    hint: str = ""
    limit_source: str = ""


NOT_GIVEN = "not given"


def unread(what: str, recorded: str, remark: str, *, word: str, hint: str) -> Figure:
    """The figure of what is not written as anything known here: kept, told, and not compared."""
    return Figure(
        what=what,
        recorded=recorded,
        table="not read",
        source="",
        standing=Standing.OUTSIDE,
        remark=remark,
        word=word,
        hint=hint,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class TradeTable:
    """The figures of one rivet set, one bolt or one material, for the page of its entry.

    `kind` is `rivets`, `torque` or `material`; `title` names it (`AN470AD4-5 · 48 rivets`), `lead` says
    in words what it is (`universal head, 2117 aluminium alloy, 1/8 in x 5/16 in`).
    """

    kind: str
    title: str
    lead: str
    figures: tuple[Figure, ...]

    @property
    def outside(self) -> tuple[Figure, ...]:
        """The figures outside a limit."""
        return tuple(figure for figure in self.figures if figure.standing is Standing.OUTSIDE)


def findings_of(table: TradeTable, file: str, where: Where | None) -> tuple[Problem, ...]:
    """One finding for each figure outside a limit, saying by how much and by which source."""
    return tuple(
        finding(
            file,
            where,
            figure.word,
            f"{table.title}: {figure.remark}"
            + (f", source: {figure.limit_source or figure.source}" if figure.source else ""),
            "; ".join(text for text in (figure.hint, BRIEF if figure.source else "") if text),
        )
        for figure in table.outside
    )
