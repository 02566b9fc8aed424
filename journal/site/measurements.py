"""Measurements: what was measured, with what, by whom and who checked it, beside what is called for."""

from __future__ import annotations

from journal.base.formatting import say_count, say_signed
from journal.base.words import _
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
    signed = say_signed(told.people, told.checked_by, _("measured by {names}"))
    return card_of(site, told, _("Measurement"), _mark(told), told.kind, signed, results)


def _mark(told: ShownMeasurement) -> Mark:
    """How the results stand to what is called for, in a word or two."""
    if told.table.found:
        return Mark(kind="open", word=_("{number} to be looked at", number=len(told.table.found)))
    judged = sum(figure.standing is Standing.AS_CALLED_FOR for figure in told.table.figures)
    if judged:
        return Mark(
            kind="done",
            word=_("as called for")
            if judged == len(told.table.figures)
            else _("{number} as called for", number=judged),
        )
    return Mark(kind="recorded", word=_("recorded"))


def measurements_page(site: SiteContext) -> PageRecord:
    """All measurements, newest first."""
    number = say_count(len(site.view.measurements), "measurement")
    return write_ups_page(
        site,
        MEASUREMENTS,
        _("Measurements"),
        _(
            "{number} of {name}: what was measured, and what is called for.",
            number=number,
            name=site.view.aircraft.name,
        ),
        _("What was measured, with what, by whom, and who checked it."),
        [measurement_card(site, one) for one in site.view.measurements],
    )


def measurement_page(site: SiteContext, told: ShownMeasurement) -> PageRecord:
    """The page of one measurement."""
    card = measurement_card(site, told)
    groups = (
        [Group(title=_("Results"), anchor="results", tables=(results_table(told.table),))] if told.table.figures else []
    )
    if told.weighing:
        sources = (*BALANCE_SOURCES, *map(publication, sources_named(BALANCE_SOURCES)))
        tables = tuple(weighing_tables(told.weighing))
        drawn = draw_limits(told.weighing)
        groups += [
            Group(title=_("Weight and balance"), anchor="balance", paragraphs=(_(BALANCE_CAUTION),), html=drawn),
            Group(title=_("The arithmetic"), anchor="arithmetic", tables=tables),
            Group(title=_("Sources"), anchor="sources", points=sources),
        ]
    return write_up_page(
        site,
        told,
        card,
        MEASUREMENTS,
        block=(
            Cell(label=_("Kind"), value=told.kind),
            looked_at(site, told, card),
            Cell(label=_("Results"), mark=card.mark, strong=True),
            Cell(label=_("Instrument"), value=told.instrument or NOTHING),
            Cell(label=_("Measured by"), value=", ".join(told.people)),
            Cell(label=_("Checked by"), value=", ".join(told.checked_by) or NOTHING),
        ),
        groups=tuple(groups),
        remark=_(MEASURED_CAUTION),
    )


def results_table(table: TradeTable) -> Table:
    """The results as a table, each beside what is called for."""
    return Table(
        caption="; ".join(filter(None, (_("Beside what is called for"), table.lead))),
        columns=(_("What"), _("Measured"), _("Called for"), _("Remark")),
        rows=tuple(
            (
                one.what,
                # Beside the figure, where a phone shows it without scrolling.
                " · ".join(filter(None, (one.recorded, _(one.standing.value)))),
                one.called_for or NOTHING,
                one.remark or NOTHING,
            )
            for one in table.figures
        ),
        ids=tuple(f"result-{number}" for number, _one in enumerate(table.figures, start=1)),
    )
