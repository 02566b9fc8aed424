"""One figure of an entry beside what the tables say of it, how the two compare, and the cautions that stand by."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum

from journal.base.model import Where
from journal.base.problems import Problem, finding
from journal.base.quantities import metric_first
from journal.base.words import N_

CAUTION = N_(
    "The kit's manual and drawings come first, then the engine's and propeller's, then the rules of your "
    "authority, then the word of a licensed inspector. The figures here are published or remembered "
    "ones, as the source beside each says; they are shown to compare with and decide nothing."
)

BRIEF = "the kit's manual and drawings come first: this advises and decides nothing"
"""For the end of a finding's line."""

TALLY_CAUTION = N_(
    "The authority decides what counts and whether it is enough. Editions of the checklist and national rules "
    "differ: enter the list that belongs to your kit, with its edition. Tasks count, hours do not. "
    "The share worked out here is arithmetic over what the builder wrote, not a finding of the authority."
)

FORECAST_CAUTION = N_(
    "An estimate from the builder's own past weeks, not a promise: it knows nothing of money, moves, "
    "back-orders, paint, paperwork or the winter after next."
)


class Standing(Enum):
    """How what was recorded stands; the value is the word shown.

    SHOWN: nothing was recorded, or nothing judges it; the figures beside it are a help. AS_CALLED_FOR and DEPARTS: by
    the kit's manual. BEYOND: no call-out, and every source that was read calls it unsafe. OUTSIDE: of the builder's own
    limits. LATE: out of date, or missing where it is needed. The last four are findings.
    """

    SHOWN = ""
    AS_CALLED_FOR = N_("as called for")
    IN_DATE = N_("in date")
    NOTE = N_("note")
    DEPARTS = N_("not as called for")
    BEYOND = N_("beyond every source")
    OUTSIDE = N_("outside the limits written down")
    LATE = N_("to be looked at")

    @property
    def found(self) -> bool:
        """Whether it is a finding."""
        return self in (Standing.DEPARTS, Standing.BEYOND, Standing.OUTSIDE, Standing.LATE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One row of the small table in an entry.

    `recorded` is what the entry says (`not given` where it says nothing), `called_for` what the kit's manual asks with
    its page, `table` what the handbooks say, `remark` by how much the two differ or what else to know. `word` is the
    code word of the finding when `standing` is one, and `hint` what to do about it; `limit_source` is the
    source of that limit alone where `source` tells of several figures.
    """

    what: str
    recorded: str
    table: str = ""
    source: str = ""
    called_for: str = ""
    standing: Standing = Standing.SHOWN
    remark: str = ""
    word: str = ""
    hint: str = ""
    limit_source: str = ""


NOT_GIVEN = N_("not given")


@dataclass(frozen=True, slots=True, kw_only=True)
class TradeTable:
    """The figures of one rivet set, one bolt or one material, for the page of its entry.

    `title` names it (`AN470AD4-5 · 48 rivets`), `lead` says in words what it is (`universal head, 2117 aluminium
    alloy, 1/8 in x 5/16 in`).
    """

    title: str
    lead: str
    figures: tuple[Figure, ...]

    @property
    def metric_first(self) -> TradeTable:
        """The same with metric units in front where both are told."""
        figures = tuple(
            replace(
                figure,
                recorded=metric_first(figure.recorded),
                called_for=metric_first(figure.called_for),
                table=metric_first(figure.table),
                remark=metric_first(figure.remark),
            )
            for figure in self.figures
        )
        return replace(self, lead=metric_first(self.lead), figures=figures)

    @property
    def found(self) -> tuple[Figure, ...]:
        """The figures that are findings."""
        return tuple(figure for figure in self.figures if figure.standing.found)


def findings_of(table: TradeTable, file: str, where: Where | None) -> tuple[Problem, ...]:
    """One finding for each figure that departs, saying by how much and by which page or source."""
    problems = []
    for figure in table.found:
        # Where it departs from the manual the page stands in the remark.
        source = "" if figure.standing is Standing.DEPARTS else figure.limit_source or figure.source
        said = f"{table.title}: {figure.remark}" + (f", source: {source}" if source else "")
        problems.append(finding(file, where, figure.word, said, "; ".join(filter(None, (figure.hint, BRIEF)))))
    return tuple(problems)
