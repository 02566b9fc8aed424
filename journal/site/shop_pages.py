"""The trade's pages for everybody: shop tables for the wall, and where the build stands."""

from __future__ import annotations

from fractions import Fraction

from journal.base.formatting import month_of, say_count, say_date, say_minutes, say_month, say_number
from journal.base.model import SOFT, Units
from journal.base.words import N_, _
from journal.site.section_pages import publication, section_page, table_group
from journal.site.site_context import NOTHING, SiteContext
from journal.trade.figures import CAUTION, FORECAST_CAUTION
from journal.trade.shop_tables import ShopTable, say_column_sources, shop_tables
from journal.view.page_parts import Cell, Group, Link, PageRecord, Table, mark_of, say_part
from journal.view.view import HELD, Forecast, View

SHOP = "shop/"
STANDS = "stands/"


def shop_pages(view: View) -> list[PageRecord]:
    """The shop tables, one sheet of paper each, and an index of them; those of riveted sheet where metal is built."""
    tables = shop_tables(
        metal=view.metal, metric_first=view.units is Units.METRIC, soft=not SOFT.isdisjoint(view.construction)
    )
    rows = [(Link(text=_(table.title), address=f"{SHOP}{table.id}/"), _(SHEET_WORDS[table.id])) for table in tables]
    index = section_page(
        SHOP,
        _("Shop tables"),
        _("Rivets, dimples, drills, fractions and bolt torque from published tables, each on one sheet.")
        if view.metal
        else _("Drills, fractions and bolt torque from published tables, each on one sheet."),
        label=_("For the wall"),
        intro=_("Published and remembered figures, each with its source, laid out to be printed on one sheet."),
        caution=_(CAUTION),
        groups=(table_group(_("Sheets"), "sheets", _("Sheets to print"), (_("Sheet"), _("What it is for")), rows),),
    )
    return [index, *(_shop_page(table) for table in tables)]


SHEET_WORDS = {
    "blind-rivets": N_("hole, drill and grip of blind rivets as one published chart has them"),
    "flush": N_("from what thickness to countersink and up to what to dimple, source by source"),
    "fractions": N_("every 64th of an inch in decimals and millimetres"),
    "rivets": N_("drill, hole, temporary fastener, edge distance, spacing and shop head by diameter"),
    "rivet-lengths": N_("the length to take for a grip, by diameter"),
    "drills": N_("number, letter and fraction drills in inches and millimetres"),
    "torque": N_("bolt torque by thread and kind of nut, with the maximum allowable"),
}
_SIDE_BY_SIDE = {"drills": 5, "fractions": 4}


def _shop_page(table: ShopTable) -> PageRecord:
    parts = _SIDE_BY_SIDE.get(table.id, 1)
    length = -(-len(table.rows) // parts)
    tables = tuple(
        Table(
            caption=table.title if parts == 1 else f"{table.title}, {number} of {parts}",
            columns=tuple(column.name for column in table.columns),
            rows=table.rows[start : start + length],
            numeric=frozenset(place for place, column in enumerate(table.columns) if column.numeric),
        )
        for number, start in enumerate(range(0, len(table.rows), length), start=1)
    )
    sources = tuple(publication(source) for source in table.sources)
    return section_page(
        f"{SHOP}{table.id}/",
        _(table.title),
        f"{_(table.title)}: {_(SHEET_WORDS[table.id])}.",
        template="shop_table.html",
        intro=table.how,
        caution=_(table.caution),
        groups=(
            Group(tables=tables),
            Group(title="Notes", anchor="notes", points=table.notes),
            Group(title="Where each column comes from", anchor="columns", points=say_column_sources(table)),
            *(
                [Group(title="Publications, and what of them was read", anchor="sources", points=sources)]
                if sources
                else []
            ),
        ),
        record=table.id,
        section=SHOP,
    )


def stands_page(site: SiteContext) -> PageRecord:
    """Work left, pace, and the range for the finishing month, as of the day on which the site is made."""
    view = site.view
    said = view.forecast
    cells: list[Cell] = []
    groups: list[Group] = []
    if said:
        planned = said.left.planned_minutes_left
        cells = [
            Cell(label=_("As of"), value=say_date(said.as_of)),
            Cell(
                label=_("Steps left"),
                value=say_part(said.left.steps_left, said.left.steps, NOTHING),
                strong=True,
            ),
            *(
                [Cell(label=_("Planned hours left"), value=_("about {hours} h", hours=say_number(planned // 60)))]
                if planned is not None
                else []
            ),
            Cell(label=_("Pace, {weeks}", weeks=say_count(said.pace_weeks, "week")), value=say_pace(said)),
        ]
        if said.earliest:
            cells.append(Cell(label=_("Done, estimated"), value=say_range(said), strong=True))
        groups = [
            Group(
                title=_("When it may be done"),
                anchor="when",
                paragraphs=(say_estimate(said), *([_(FORECAST_CAUTION)] if said.earliest else [])),
                points=tuple(_("It takes for granted that {point}.", point=point) for point in said.assumptions[:3])
                + tuple(f"{point[0].upper()}{point[1:]}." for point in said.assumptions[3:])
                if said.earliest
                else (),
            ),
            Group(title=_("What is left"), anchor="left", tables=(_left_table(site),)),
        ]
    return section_page(
        STANDS,
        _("Where it stands"),
        say_estimate(said) if said else _("How far the build is, and at what pace."),
        label=_("Estimate"),
        block=tuple(cells),
        intro=_(
            "Work left by the manual’s steps and the planned hours, the pace of the last weeks, and "
            "what both together say of the end."
        ),
        groups=tuple(groups),
        updated=said.as_of.isoformat() if said else "",
    )


def say_pace(said: Forecast) -> str:
    """`6 h 10 min and 1.4 steps a week`."""
    steps = round(said.pace_steps * 10)
    return _(
        "{time} and {steps} steps a week",
        time=say_minutes(round(said.pace_minutes)),
        steps=f"{steps // 10}.{steps % 10}",
    )


def say_range(said: Forecast, words: str = N_("{first} to {last}")) -> str:
    """`March 2028 to January 2029`."""
    if said.earliest is None:
        return ""
    first = say_month(month_of(said.earliest))
    if said.latest is None:
        return _("{first} or later", first=first)
    last = say_month(month_of(said.latest))
    return first if first == last else _(words, first=first, last=last)


def say_estimate(said: Forecast) -> str:
    """The range in a sentence, or why there is none."""
    if said.earliest is None:
        return _("No month is estimated: {no_range}.", no_range=said.no_range)
    words = N_("An estimate: done between {months}, the middle in {middle}, from {weeks} with work. {held}")
    if said.middle is None:
        words = N_("An estimate: done between {months}, from {weeks} with work. {held}")
    return _(
        words,
        months=say_range(said, N_("{first} and {last}")),
        middle=say_month(month_of(said.middle or said.earliest)),
        weeks=say_count(said.worked_weeks, "week"),
        held=_say_held(),
    )


def _say_held() -> str:
    calm, harsh = (_("{least} to {most} %", least=least, most=most) for least, most in HELD.values())
    return _(
        "Such a range was tried on simulated builds of two kinds, at a quarter, half and three "
        "quarters of the work: it held for {calm} of calm ones and for {harsh} of harsh ones "
        "(plans far off, breaks of months, waits, rework, a slow end). How often it holds for "
        "real builds is not known.",
        calm=calm,
        harsh=harsh,
    )


def _left_table(site: SiteContext) -> Table:
    view = site.view
    rows = []
    for assembly in view.assemblies.values():
        progress = view.assembly_progress[assembly.id]
        if not assembly.counts:
            continue
        planned = assembly.planned_minutes
        left = (
            round(Fraction(planned * (progress.steps - progress.steps_done), progress.steps))
            if planned is not None and progress.steps
            else None
        )
        rows.append(
            (
                site.assembly_link(assembly.id),
                mark_of(progress.state).word,
                say_part(progress.steps - progress.steps_done, progress.steps, _("no steps")),
                say_minutes(planned) if planned is not None else NOTHING,
                say_minutes(view.by_assembly.get(assembly.id, 0)),
                say_minutes(left) if left is not None else NOTHING,
            )
        )
    return Table(
        caption=_("By assembly"),
        columns=(_("Assembly"), _("State"), _("Steps left"), _("Planned"), _("Worked"), _("Planned, left")),
        rows=tuple(rows),
        numeric=frozenset({2, 3, 4, 5}),
        note=_("Planned, left: the planned hours times the share of steps not done."),
    )
