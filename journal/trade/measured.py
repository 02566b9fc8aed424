"""What was measured beside what is called for: the builder's figures held against each other, nothing published.

A result is judged only where page and edition tell where the call stands, and at the precision it was written at.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from journal.base.addresses import fold_name
from journal.base.model import MeasuredResult, Measurement
from journal.base.problems import Problem
from journal.base.quantities import parse_limit, parse_quantity, say_figure
from journal.trade.figures import Figure, Standing, TradeTable, findings_of
from journal.trade.weighing import weighing_figures

WORD = "not-as-called-for"
"""The code word of a result outside of what is called for."""


def measured_table(measurement: Measurement) -> TradeTable:
    """The results of a measurement, then what its weighing gives, as the small table that stands on its page."""
    lead = f"measured with {measurement.instrument}" if measurement.instrument else ""
    weighed = weighing_figures(measurement.weighing) if measurement.weighing else ()
    figures = (*map(compare_result, measurement.results), *weighed)
    return TradeTable(kind="measured", title=measurement.title, lead=lead, figures=figures)


def measured_findings(measurement: Measurement) -> Iterator[Problem]:
    """One finding for each figure outside, where it is written."""
    table = measured_table(measurement)
    rows = [result.where for result in measurement.results]
    cases = [case.where for case in measurement.weighing.cases] if measurement.weighing else []
    places = [*rows, *[None] * (len(table.figures) - len(rows) - len(cases)), *cases]
    for figure, where in zip(table.figures, places, strict=True):
        one = replace(table, title=f"{table.title}, {figure.what}", figures=(figure,))
        yield from findings_of(one, measurement.src_uri, where)


def compare_result(result: MeasuredResult) -> Figure:
    """One result; its `remark` says how it stands to what is called for, and the builder's note."""
    standing, told = _standing(result)
    where = ", ".join(filter(None, (f"page {result.page}" if result.page else "", result.edition)))
    return Figure(
        what=result.what,
        recorded=result.value,
        table=result.called_for,
        source=where,
        standing=standing,
        remark="; ".join(filter(None, (told, result.note))),
        word=WORD if standing is Standing.OUTSIDE else "",
        hint="measure again, put it right, or say in an entry what was done about it",
    )


def _standing(result: MeasuredResult) -> tuple[Standing, str]:
    """How a result stands to its call, and the words for it."""
    if not result.called_for:
        return Standing.SHOWN, ""
    if not (result.page and result.edition):
        return Standing.SHOWN, "not judged: page and edition of the call are not told"
    if fold_name(result.value) == fold_name(result.called_for):
        return Standing.WITHIN, "as called for"
    figure, limit = parse_quantity(result.value), parse_limit(result.called_for)
    if figure is None or limit is None or figure.dimension is not limit.dimension:
        return Standing.SHOWN, "not judged: not two figures of one kind"
    off = limit.off(figure)
    if not off:
        return Standing.WITHIN, "as called for"
    return (
        Standing.OUTSIDE,
        f"not as called for, {say_figure(abs(off), figure.dimension)} too {'little' if off < 0 else 'much'}",
    )
