"""Measurements: what was measured, with what, by whom and who checked it, beside what is called for."""

from __future__ import annotations

from journal.base.formatting import say_count, say_signed
from journal.site.inspections import card_of, inspection_card, looked_at, write_up_page, write_ups_page
from journal.site.section_pages import publication
from journal.site.site_context import NOTHING, SiteContext
from journal.trade.figures import Standing, TradeTable
from journal.trade.measured import MEASURED_CAUTION
from journal.trade.tables import sources_named
from journal.trade.weighing import BALANCE_CAUTION, BALANCE_SOURCES
from journal.view.page_addresses import MEASUREMENTS
from journal.view.page_parts import Cell, Group, Mark, PageRecord, Table, WriteUpCard
from journal.view.view import ShownInspection, ShownMeasurement, ShownWriteUp
from journal.view.weighing_parts import draw_limits, weighing_tables


def write_up_card(site: SiteContext, told: ShownWriteUp) -> WriteUpCard:
    """The card of an inspection or a measurement."""
    if isinstance(told, ShownMeasurement):
        return measurement_card(site, told)
    assert isinstance(told, ShownInspection)
    return inspection_card(site, told)


def measurement_card(site: SiteContext, told: ShownMeasurement) -> WriteUpCard:
    """The card of `told`."""
    results = say_count(len(told.table.figures), "figure") if told.table.figures else ""
    signed = say_signed(told.people, told.checked_by, "measured")
    return card_of(site, told, "Measurement", _mark(told), told.kind, signed, results)


def _mark(told: ShownMeasurement) -> Mark:
    """How the results stand to what is called for, in a word or two."""
    if told.table.found:
        return Mark(kind="open", word=f"{len(told.table.found)} to be looked at")
    judged = sum(figure.standing is Standing.AS_CALLED_FOR for figure in told.table.figures)
    if judged:
        return Mark(
            kind="done", word="as called for" if judged == len(told.table.figures) else f"{judged} as called for"
        )
    return Mark(kind="recorded", word="recorded")


def measurements_page(site: SiteContext) -> PageRecord:
    """All measurements, newest first."""
    number = say_count(len(site.view.measurements), "measurement")
    return write_ups_page(
        site,
        MEASUREMENTS,
        "Measurements",
        f"{number} of {site.view.aircraft.name}: what was measured, and what is called for.",
        "What was measured, with what, by whom, and who checked it.",
        [measurement_card(site, one) for one in site.view.measurements],
    )


def measurement_page(site: SiteContext, told: ShownMeasurement) -> PageRecord:
    """The page of one measurement."""
    card = measurement_card(site, told)
    groups = (
        [Group(title="Results", anchor="results", tables=(results_table(told.table),))] if told.table.figures else []
    )
    if told.weighing:
        sources = (*BALANCE_SOURCES, *map(publication, sources_named(BALANCE_SOURCES)))
        tables = tuple(weighing_tables(told.weighing))
        drawn = draw_limits(told.weighing)
        groups += [
            Group(title="Weight and balance", anchor="balance", paragraphs=(BALANCE_CAUTION,), html=drawn),
            Group(title="The arithmetic", anchor="arithmetic", tables=tables),
            Group(title="Sources", anchor="sources", points=sources),
        ]
    return write_up_page(
        site,
        told,
        card,
        MEASUREMENTS,
        block=(
            Cell(label="Kind", value=told.kind, span=2),
            looked_at(site, told, card),
            Cell(label="Results", mark=card.mark, strong=True, span=3),
            Cell(label="Instrument", value=told.instrument or NOTHING, span=3),
            Cell(label="Measured by", value=", ".join(told.people), span=3),
            Cell(label="Checked by", value=", ".join(told.checked_by) or NOTHING, span=3),
        ),
        groups=tuple(groups),
        remark=MEASURED_CAUTION,
    )


def results_table(table: TradeTable) -> Table:
    """The results as a table, each beside what is called for."""
    return Table(
        caption="; ".join(filter(None, ("Beside what is called for", table.lead))),
        columns=("What", "Measured", "Called for", "Remark"),
        rows=tuple(
            (
                one.what,
                # Beside the figure, where a phone shows it without scrolling.
                " · ".join(filter(None, (one.recorded, one.standing.value))),
                one.called_for or NOTHING,
                one.remark or NOTHING,
            )
            for one in table.figures
        ),
    )
