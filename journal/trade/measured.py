"""What was measured beside what is called for: the builder's figures held against the kit's manual, nothing published.

A call-out judges only where it has page and edition, and a figure at the precision it was written at. Words are met by
the same words, and depart where one denies what the other says: `bubbles` are not `no bubbles`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from journal.base.addresses import fold_name
from journal.base.model import CallOut, MeasuredResult, Measurement
from journal.base.problems import Problem
from journal.base.quantities import parse_quantity
from journal.base.words import N_, _
from journal.trade.callouts import NOTHING_ASKED, Judged, judge_figure, same_words, say_asked
from journal.trade.fasteners import DEPARTS
from journal.trade.figures import Figure, Standing, TradeTable, findings_of
from journal.trade.weighing import weighing_figures


def measured_table(measurement: Measurement, callouts: Iterable[CallOut]) -> TradeTable:
    """The results of a measurement, then what its weighing gives, as the small table that stands on its page."""
    figures = [_figure(result, judged) for result, _, judged in judged_results(measurement, callouts)]
    return TradeTable(
        title=measurement.title,
        lead=_("measured with {instrument}", instrument=measurement.instrument) if measurement.instrument else "",
        figures=(*figures, *(weighing_figures(measurement.weighing) if measurement.weighing else ())),
    )


def judged_results(
    measurement: Measurement, callouts: Iterable[CallOut]
) -> Iterator[tuple[MeasuredResult, Sequence[CallOut], Judged]]:
    """Each result with the call-outs that speak of it, and how it stands to them.

    Of `callouts`, those of the build, one of the measurement's steps speaks of the result that goes by its word, or,
    where it goes by the kind of the measurement, of each, or of those whose name holds its part; what a result itself
    says comes before them.
    """
    of_steps = [called for called in callouts if set(called.steps) & set(measurement.steps)]
    for result in measurement.results:
        words = {fold_name(result.what), fold_name(measurement.kind)}
        spoken = [called for called in of_steps if called.what in words]
        named = [called for called in spoken if called.part and fold_name(called.part) in fold_name(result.what)]
        asked = result.called_for or tuple(
            named or [called for called in spoken if not called.part or len(spoken) == 1]
        )
        yield result, asked, _judged(result, asked)


def measured_findings(measurement: Measurement, callouts: Iterable[CallOut]) -> Iterator[Problem]:
    """One finding for each figure that departs, where it is written."""
    table = measured_table(measurement, callouts)
    rows = [result.where for result in measurement.results]
    cases = [case.where for case in measurement.weighing.cases] if measurement.weighing else []
    places = [*rows, *[None] * (len(table.figures) - len(rows) - len(cases)), *cases]
    for figure, where in zip(table.figures, places, strict=True):
        one = replace(table, title=f"{table.title}, {figure.what}", figures=(figure,))
        yield from findings_of(one, measurement.src_uri, where)


def _judged(result: MeasuredResult, asked: Sequence[CallOut]) -> Judged:
    figure = parse_quantity(result.value)
    if any(called.limit for called in asked):
        judged = judge_figure(figure, asked)
        return judged if figure else replace(judged, remark="this is no figure, so it is not compared")
    if not asked:
        return NOTHING_ASKED
    said = "; or ".join(map(say_asked, asked))
    judging = [called for called in asked if called.judges]
    if figure is None and result.value[:1].isdigit() and any(_FIGURES.match(called.value) for called in judging):
        same = any(fold_name(result.value) == fold_name(called.value) for called in judging)
        return Judged(
            asked=said,
            standing=Standing.AS_CALLED_FOR if same else Standing.SHOWN,
            remark="" if same else "measured in a unit that is not known here, so it is not compared",
        )
    told = [same_words(result.value, called.value) for called in judging]
    if True in told:
        return Judged(asked=said, standing=Standing.AS_CALLED_FOR)
    if False not in told:
        return Judged(asked=said)
    return Judged(asked=said, standing=Standing.DEPARTS, remark=f"{result.value}, where {said} is called for")


MEASURED_CAUTION = N_(
    "A measurement is the word of those who signed it. The kit’s manual and drawings come first, then the "
    "authority’s rules, then a licensed inspector; this journal records."
)

_FIGURES = re.compile(
    r"(?:[<>≤≥=±~ ]|at least|at most|max[a-z.]*|min[a-z.]*|between|from|up to)*[-+]?[0-9]", re.IGNORECASE
)
"""How a limit begins."""


def _figure(result: MeasuredResult, judged: Judged) -> Figure:
    return Figure(
        what=result.what,
        recorded=result.value,
        called_for=judged.asked,
        standing=judged.standing,
        remark="; ".join(filter(None, (judged.remark, result.note))),
        word=DEPARTS if judged.standing.found else "",
        hint="measure again, put it right, or say in an entry what was done about it" if judged.standing.found else "",
    )
