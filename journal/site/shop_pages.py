"""The trade's pages for everybody: shop tables for the wall, and where the build stands."""

from __future__ import annotations

from fractions import Fraction

from journal.base.formatting import month_of, say_count, say_date, say_minutes, say_month
from journal.base.model import SOFT, Units
from journal.site.section_pages import publication, section_page, table_group
from journal.site.site_context import NOTHING, SiteContext
from journal.trade.figures import CAUTION, FORECAST_CAUTION
from journal.trade.shop_tables import ShopTable, say_column_sources, shop_tables
from journal.view.page_parts import MARKS, Cell, Group, Link, PageRecord, Table
from journal.view.view import HELD, Forecast, View

SHOP = "shop/"
STANDS = "stands/"


def shop_pages(view: View) -> list[PageRecord]:
    """The shop tables, one sheet of paper each, and an index of them; those of riveted sheet where metal is built."""
    tables = shop_tables(
        metal=view.metal, metric_first=view.units is Units.METRIC, soft=not SOFT.isdisjoint(view.construction)
    )
    rows = [(Link(text=table.title, address=f"{SHOP}{table.id}/"), SHEET_WORDS[table.id]) for table in tables]
    index = section_page(
        SHOP,
        "Shop tables",
        f"{'Rivets, dimples, drills' if view.metal else 'Drills'}, fractions and bolt torque from published tables, "
        "each on one sheet.",
        label="For the wall",
        intro="Published and remembered figures, each with its source, laid out to be printed on one sheet.",
        caution=CAUTION,
        groups=(table_group("Sheets", "sheets", "Sheets to print", ("Sheet", "What it is for"), rows),),
    )
    return [index, *(_shop_page(table) for table in tables)]


SHEET_WORDS = {
    "blind-rivets": "hole, drill and grip of blind rivets as one published chart has them",
    "flush": "from what thickness to countersink and up to what to dimple, source by source",
    "fractions": "every 64th of an inch in decimals and millimetres",
    "rivets": "drill, hole, temporary fastener, edge distance, spacing and shop head by diameter",
    "rivet-lengths": "the length to take for a grip, by diameter",
    "drills": "number, letter and fraction drills in inches and millimetres",
    "torque": "bolt torque by thread and kind of nut, with the maximum allowable",
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
        table.title,
        f"{table.title}: {SHEET_WORDS[table.id]}.",
        template="shop_table.html",
        intro=table.how,
        caution=table.caution,
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
            Cell(label="As of", value=say_date(said.as_of)),
            Cell(label="Steps left", value=f"{said.left.steps_left:,} of {said.left.steps:,}", strong=True),
            *([Cell(label="Planned hours left", value=f"about {planned // 60:,} h")] if planned is not None else []),
            Cell(label=f"Pace, {say_count(said.pace_weeks, 'week')}", value=say_pace(said)),
        ]
        if said.earliest:
            cells.append(Cell(label="Done, estimated", value=say_range(said), strong=True))
        groups = [
            Group(
                title="When it may be done",
                anchor="when",
                paragraphs=(say_estimate(said), *([FORECAST_CAUTION] if said.earliest else [])),
                points=tuple(f"It takes for granted that {point}." for point in said.assumptions[:3])
                + tuple(f"{point[0].upper()}{point[1:]}." for point in said.assumptions[3:])
                if said.earliest
                else (),
            ),
            Group(title="What is left", anchor="left", tables=(_left_table(site),)),
        ]
    return section_page(
        STANDS,
        "Where it stands",
        say_estimate(said) if said else "How far the build is, and at what pace.",
        label="Estimate",
        block=tuple(cells),
        intro="Work left by the manual’s steps and the planned hours, the pace of the last weeks, and what "
        "both together say of the end.",
        groups=tuple(groups),
        updated=said.as_of.isoformat() if said else "",
    )


def say_pace(said: Forecast) -> str:
    """`6 h 10 min and 1.4 steps a week`."""
    steps = round(said.pace_steps * 10)
    return f"{say_minutes(round(said.pace_minutes))} and {steps // 10}.{steps % 10} steps a week"


def say_range(said: Forecast) -> str:
    """`March 2028 to January 2029`."""
    if said.earliest is None:
        return ""
    first = say_month(month_of(said.earliest))
    if said.latest is None:
        return f"{first} or later"
    last = say_month(month_of(said.latest))
    return first if first == last else f"{first} to {last}"


def say_estimate(said: Forecast) -> str:
    """The range in a sentence, or why there is none."""
    if said.earliest is None:
        return f"No month is estimated: {said.no_range}."
    middle = f", the middle in {say_month(month_of(said.middle))}" if said.middle else ""
    return (
        f"An estimate: done between {say_range(said).replace(' to ', ' and ')}{middle}, "
        f"from {say_count(said.worked_weeks, 'week')} with work in this log. {_say_held()}"
    )


def _say_held() -> str:
    calm, harsh = (f"{least} to {most} %" for least, most in HELD.values())
    return (
        "Such a range was tried on simulated builds of two kinds, at a quarter, half and three quarters of the work: "
        f"it held for {calm} of calm ones and for {harsh} of harsh ones (plans far off, breaks of months, waits, "
        "rework, a slow end). How often it holds for real builds is not known."
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
                MARKS[progress.state].word,
                f"{progress.steps - progress.steps_done:,} of {progress.steps:,}" if progress.steps else "no steps",
                say_minutes(planned) if planned is not None else NOTHING,
                say_minutes(view.by_assembly.get(assembly.id, 0)),
                say_minutes(left) if left is not None else NOTHING,
            )
        )
    return Table(
        caption="By assembly",
        columns=("Assembly", "State", "Steps left", "Planned", "Worked", "Planned, left"),
        rows=tuple(rows),
        numeric=frozenset({2, 3, 4, 5}),
        note="Planned, left: the planned hours times the share of steps not done.",
    )
