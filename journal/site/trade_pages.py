"""The trade on the site: checks beside each sheet, the shop tables, where the build stands, and, for the
inspector alone, the tally, the people, the materials and the money.

`trade_extras` is a contributor (journal/host.py). What the public sees is made from the view; what
names people, papers or money is made for the archive only.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from string import ascii_lowercase

from markupsafe import escape

from journal.base.addresses import INVENTORY
from journal.ledger.journal import Journal
from journal.ledger.hours import month_of
from journal.base.model import ROLE_WORDS, Build, Entry, Photo, Record
from journal.site.site_context import NOTHING, Desk, Extras
from journal.view.page_parts import MARKS, Cell, Link, PageRecord, Panel, Table
from journal.ledger.checks import sheet_tables, trade_rows
from journal.trade.caution import CAUTION
from journal.trade.caution import FORECAST_CAUTION, TALLY_CAUTION
from journal.ledger.costs import Spent, add_up_costs, say_money
from journal.trade.figures import Figure, Standing, TradeTable
from journal.ledger.forecast import Forecast, forecast
from journal.ledger.inventory import PartFinder
from journal.ledger.materials import MaterialTrace, trace_materials
from journal.ledger.people import PEOPLE_SOURCES, PersonWork, gather_people
from journal.trade.shop_tables import ShopTable, say_column_sources, shop_tables
from journal.trade.tables import Source, sources_named
from journal.ledger.tally import (
    TALLY_SOURCES,
    TENTHS,
    Tally,
    TaskEvidence,
    add_up,
    add_up_sections,
    gather_evidence,
    say_percent,
    say_tenths,
)
from journal.view.view import Sheet, View
from journal.base.formatting import say_count, say_date, say_minutes, say_month, say_steps

SHOP = "shop/"
STANDS = "stands/"
TALLY = "tally/"
PEOPLE = "people/"
MATERIALS = "materials/"
COSTS = "costs/"

PICTURES_LISTED = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A heading with paragraphs and tables under it."""

    heading: str
    anchor: str
    paragraphs: tuple[str, ...] = ()
    points: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TradePage:
    """What the template `trade.html` places."""

    title: str
    label: str
    block: tuple[Cell, ...]
    intro: str
    caution: str
    sections: tuple[Section, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopPage:
    """What the template `shop_table.html` places: one sheet of paper. `tables` stand side by side;
    `broad` asks for the paper on its side.
    """

    title: str
    how: str
    tables: tuple[Table, ...]
    column_sources: tuple[str, ...]
    notes: tuple[str, ...]
    sources: tuple[str, ...]
    caution: str
    broad: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TaskLine:
    """One line of the tally with what stands behind it. The four shares are empty where n/a."""

    task: str
    name: str
    shares: tuple[str, str, str, str]
    note: str
    steps: tuple[Link, ...]
    sheets: tuple[Link, ...]
    more_sheets: str
    pictures: str
    people: str
    paid: str
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TaskSection:
    """The lines of one section and their sums, in the same four columns."""

    title: str
    lines: tuple[TaskLine, ...]
    sums: tuple[str, str, str, str]
    count: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TallyPage:
    """What the template `tally.html` places."""

    title: str
    block: tuple[Cell, ...]
    caution: str
    arithmetic: tuple[str, ...]
    sections: tuple[TaskSection, ...]
    unphotographed: tuple[str, ...]
    paid: tuple[str, ...]
    sources: tuple[str, ...]


def trade_extras(journal: Journal, desk: Desk) -> Extras:
    """All of it for one site."""
    pages = [*shop_pages(desk), *([stands_page(desk)] if desk.view.steps else [])]
    if desk.everything:
        build = journal.build
        if build.tasks:
            pages.append(tally_page(build, desk))
        pages.append(people_page(build, desk))
        if build.materials:
            pages.append(materials_page(build, desk))
        if build.costs:
            pages.append(costs_page(build, desk))
    titles = {SHOP: "Shop tables", STANDS: "Where it stands", TALLY: "Tally", PEOPLE: "People"}
    titles |= {MATERIALS: "Materials", COSTS: "Costs"}
    return Extras(
        pages=tuple(pages),
        panels=dict(_panels(journal.build, desk)),
        nav=tuple(Link(text=titles[page.address], address=page.address) for page in pages if page.address in titles),
    )


# -- beside a sheet ------------------------------------------------------------------------------


def _panels(build: Build, desk: Desk) -> Iterator[tuple[str, tuple[Panel, ...]]]:
    finder = PartFinder(desk.view.inventory)
    entries = {entry.id: entry for entry in (*build.entries, *build.drafts)}
    for sheet in desk.view.sheets:
        panels = []
        tables = (
            trade_rows(entries[sheet.id], build)
            if desk.everything
            else sheet_tables(sheet.fasteners, sheet.torque, sheet.date)
        )
        if tables:
            panels.append(
                Panel(heading="Held against published figures", html=render_checks(tables, unfolded=desk.everything))
            )
        if named := parts_named(sheet, desk.view, finder):
            panels.append(Panel(heading="Parts named on this sheet", table=named))
        if panels:
            yield sheet.id, tuple(panels)


def render_checks(tables: Sequence[TradeTable], *, unfolded: bool) -> str:
    """The small tables of one sheet as HTML, with the caution under them.

    Of several sets only those with something outside a limit stand open, unless all are to be `unfolded`
    (for the record, which may be printed).
    """
    parts = []
    for table in tables:
        opened = " open" if unfolded or len(tables) == 1 or table.outside else ""
        parts.append(
            f'<details class="held"{opened}><summary><b>{escape(table.title)}</b> '
            f'<span class="count">{escape(_in_short(table))}</span></summary>{_figures(table)}</details>'
        )
    return "".join(parts) + f'<p class="table-note">{escape(CAUTION)}</p>'


def _in_short(table: TradeTable) -> str:
    """How the figures of a set stand, in a word or two."""
    for standing, words in ((Standing.OUTSIDE, "outside a limit"), (Standing.NOTE, "to note")):
        count = sum(figure.standing is standing for figure in table.figures)
        if count:
            return f"{say_count(count, 'figure')} {words}"
    compared = sum(figure.standing is Standing.WITHIN for figure in table.figures)
    return f"{say_count(compared, 'figure')} compared, within the limits" if compared else "nothing to compare"


@lru_cache(maxsize=20_000)
def _figures(table: TradeTable) -> str:
    """One set: a row for each figure, its source by a letter, and the sources spelt out below."""
    sources = dict.fromkeys(figure.source for figure in table.figures if figure.source)
    letters = dict(zip(sources, ascii_lowercase, strict=False))
    rows = "".join(_figure_row(figure, letters.get(figure.source, "")) for figure in table.figures)
    told = "; ".join(f"{letter} {source}" for source, letter in letters.items())
    return (
        f'<div class="table-scroll" role="region" tabindex="0" aria-label="{escape(table.title)}">'
        f'<table class="figures"><caption>{escape(table.lead or table.title)}</caption>{_HEAD}'
        f"<tbody>{rows}</tbody></table></div>" + (f'<p class="table-note">Sources: {escape(told)}.</p>' if told else "")
    )


_HEAD = (
    '<thead><tr><th scope="col">What</th><th scope="col">Recorded</th>'
    '<th scope="col">By the tables</th><th scope="col">Compared</th></tr></thead>'
)
_SIGNS = {
    Standing.OUTSIDE: '<br><span class="state state-open"><span class="sign" aria-hidden="true"></span>outside</span>',
    Standing.NOTE: '<br><span class="count">to note</span>',
    Standing.WITHIN: "",
    Standing.SHOWN: "",
}
"""Under the heading of a row, where a phone shows it without scrolling."""


def _figure_row(figure: Figure, letter: str) -> str:
    recorded, table, remark = (
        escape(_joined_units(text)) for text in (figure.recorded or NOTHING, figure.table or NOTHING, figure.remark)
    )
    within = "within" if figure.standing is Standing.WITHIN else ""
    return (
        f'<tr><th scope="row">{escape(figure.what)}{_SIGNS[figure.standing]}</th><td>{recorded}</td>'
        f"<td>{table}{f' <small>[{letter}]</small>' if letter else ''}</td>"
        f"<td>{within}{': ' if within and remark else ''}{remark}</td></tr>"
    )


_UNIT = re.compile(r"(?<=[0-9]) (in-lb|N m|in|mm|D)(?![\w-])")


def _joined_units(text: str) -> str:
    """A figure and its unit kept on one line."""
    return _UNIT.sub(lambda unit: "\xa0" + unit[1].replace(" ", "\xa0"), text)


def parts_named(sheet: Sheet, view: View, finder: PartFinder) -> Table | None:
    """The parts of the inventory that the words of a sheet name, each with its way to the inventory."""
    words = "\n".join([sheet.title, sheet.body, *(photo.caption for photo in sheet.photos)])
    named = dict.fromkeys(mention.part for mention in finder.find(words))
    if not named:
        return None
    items = {item.part: item for item in reversed(view.inventory)}
    return Table(
        caption="From the inventory",
        columns=("Part", "Description", "Crate"),
        rows=tuple(
            (Link(text=part, address=INVENTORY), items[part].description or NOTHING, items[part].crate or NOTHING)
            for part in named
        ),
    )


# -- for everybody -------------------------------------------------------------------------------


def shop_pages(desk: Desk) -> list[PageRecord]:
    """The shop tables, one sheet of paper each, and an index of them."""
    tables = shop_tables()
    index = PageRecord(
        address=SHOP,
        template="trade.html",
        title="Shop tables",
        description="Rivets, rivet lengths, drills and bolt torque from published tables, each on one sheet.",
        html="",
        record=TradePage(
            title="Shop tables",
            label="For the wall",
            block=(),
            intro="Published and remembered figures, each with its source, laid out to be printed on one sheet.",
            caution=CAUTION,
            sections=(
                Section(
                    heading="Sheets",
                    anchor="sheets",
                    tables=(
                        Table(
                            caption="Sheets to print",
                            columns=("Sheet", "What it is for"),
                            rows=tuple(
                                (Link(text=table.title, address=f"{SHOP}{table.id}/"), SHEET_WORDS[table.id])
                                for table in tables
                            ),
                        ),
                    ),
                ),
            ),
        ),
        section=SHOP,
    )
    return [index, *(_shop_page(table) for table in tables)]


SHEET_WORDS = {
    "rivets": "drill, hole, temporary fastener, edge distance, spacing and shop head by diameter",
    "rivet-lengths": "the length to take for a grip, by diameter",
    "drills": "number, letter and fraction drills in inches and millimetres",
    "torque": "bolt torque by thread and kind of nut, with the maximum allowable",
}
_SIDE_BY_SIDE = {"drills": 4}


def _shop_page(table: ShopTable) -> PageRecord:
    parts = _SIDE_BY_SIDE.get(table.id, 1)
    length = -(-len(table.rows) // parts)
    columns = tuple(column.name for column in table.columns)
    numeric = frozenset(place for place, column in enumerate(table.columns) if column.numeric)
    return PageRecord(
        address=f"{SHOP}{table.id}/",
        template="shop_table.html",
        title=table.title,
        description=f"{table.title}: {SHEET_WORDS[table.id]}.",
        html="",
        record=ShopPage(
            title=table.title,
            how=table.how,
            tables=tuple(
                Table(
                    caption=table.title if parts == 1 else f"{table.title}, {number} of {parts}",
                    columns=columns,
                    rows=table.rows[start : start + length],
                    numeric=numeric,
                )
                for number, start in enumerate(range(0, len(table.rows), length), start=1)
            ),
            column_sources=say_column_sources(table),
            notes=table.notes,
            sources=tuple(_publication(source) for source in table.sources),
            caution=table.caution,
            broad=table.id == "rivets",
        ),
        section=SHOP,
    )


def stands_page(desk: Desk) -> PageRecord:
    """Work left, pace, and the range for the finishing month, as of the last day worked."""
    view = desk.view
    # The last day worked and not today's date: the page says the same until somebody works again.
    as_of = view.last_day or view.begun
    said = (
        forecast(
            assemblies=view.assemblies,
            steps=view.steps,
            progress=view.step_progress,
            minutes_on=view.by_day,
            minutes_by_assembly=view.by_assembly,
            as_of=as_of,
        )
        if as_of
        else None
    )
    cells: list[Cell] = []
    sections: list[Section] = []
    if said:
        cells = [
            Cell(label="As of", value=say_date(said.as_of)),
            Cell(label="Steps left", value=f"{said.left.steps_left:,} of {said.left.steps:,}", strong=True),
            *_planned_cell(said),
            Cell(label=f"Pace, {say_count(said.pace_weeks, 'week')}", value=say_pace(said)),
        ]
        if said.earliest:
            cells.append(Cell(label="Done, estimated", value=say_range(said), strong=True))
        sections = [
            Section(
                heading="When it may be done",
                anchor="when",
                paragraphs=(say_estimate(said), FORECAST_CAUTION),
                points=tuple(f"It takes for granted that {point}." for point in said.assumptions[:3])
                + tuple(f"{point[0].upper()}{point[1:]}." for point in said.assumptions[3:])
                if said.earliest
                else (),
            ),
            Section(heading="What is left", anchor="left", tables=(_left_table(desk),)),
        ]
    return PageRecord(
        address=STANDS,
        template="trade.html",
        title="Where it stands",
        description=say_estimate(said) if said else "How far the build is, and at what pace.",
        html="",
        record=TradePage(
            title="Where it stands",
            label="Estimate",
            block=tuple(cells),
            intro="Work left by the manual’s steps and the planned hours, the pace of the last weeks, and what "
            "both together say of the end.",
            caution="",
            sections=tuple(sections),
        ),
        section=STANDS,
        updated=as_of.isoformat() if as_of else "",
    )


def _planned_cell(said: Forecast) -> list[Cell]:
    left = said.left.planned_minutes_left
    return [Cell(label="Planned hours left", value=f"about {left // 60:,} h")] if left is not None else []


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
        f"from {say_count(said.worked_weeks, 'week')} with work in this log. In a test on simulated builds such a "
        "range held in about eight of ten."
    )


def _left_table(desk: Desk) -> Table:
    view = desk.view
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
                desk.assembly_link(assembly.id),
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


# -- for the inspector ---------------------------------------------------------------------------


def tally_page(build: Build, desk: Desk) -> PageRecord:
    """The major portion, line by line, with what stands behind each."""
    tally, evidence = add_up(build.tasks), gather_evidence(build)
    sums = add_up_sections(build.tasks)
    behind: dict[str, list[TaskEvidence]] = {section: [] for section in sums}
    for line in evidence:
        behind[line.task.section].append(line)
    bare = [line for line in evidence if line.task.applies and not line.photographed]
    share = tally.builder_share
    return PageRecord(
        address=TALLY,
        template="tally.html",
        title="Tally of the major portion",
        description="Who made and built what, task by task, in tenths.",
        html="",
        record=TallyPage(
            title="Tally of the major portion",
            block=(
                Cell(
                    label="Builder’s share",
                    value=f"{tally.builder}/{tally.tenths} = {say_percent(share)}" if share is not None else NOTHING,
                    strong=True,
                ),
                Cell(label="Tasks that apply", value=f"{tally.tasks:,}"),
                Cell(label="Not applicable", value=f"{tally.not_applicable:,}"),
                Cell(label="Maker", value=say_tenths(tally.maker)),
                Cell(label="Paid help", value=say_tenths(tally.paid)),
                Cell(label="Builder, assembly", value=say_tenths(tally.assembly)),
                Cell(label="Builder, fabrication", value=say_tenths(tally.fabrication)),
            ),
            caution=TALLY_CAUTION,
            arithmetic=tuple(say_tally(tally)),
            sections=tuple(
                TaskSection(
                    title=section or "Without a section",
                    lines=tuple(_task_line(line, build, desk) for line in lines),
                    sums=_shares(
                        sums[section].maker, sums[section].paid, sums[section].assembly, sums[section].fabrication
                    ),
                    count=say_count(sums[section].tasks, "task"),
                )
                for section, lines in behind.items()
            ),
            unphotographed=tuple(
                f"{line.task.task} {line.task.name}: "
                + (say_count(len(line.entries), "sheet") + ", no picture" if line.entries else "no sheet yet")
                for line in bare
            ),
            paid=tuple(_paid_line(line, build) for line in evidence if line.paid or line.task.paid),
            sources=_sources(TALLY_SOURCES),
        ),
        section=TALLY,
        hidden=True,
    )


def _sources(lines: Sequence[str]) -> tuple[str, ...]:
    """What rests on what, then the publications with what of them was read."""
    return (*lines, *(_publication(source) for source in sources_named(lines)))


def _publication(source: Source) -> str:
    return f"{source.name}: {source.document}. Read: {source.read}."


def say_tally(tally: Tally) -> Iterator[str]:
    """The arithmetic in sentences, as one would show it to somebody with a pencil."""
    share, one = tally.builder_share, tally.one_task
    if share is None or one is None:
        yield "No task applies, so there is nothing to add up."
        return
    yield (
        f"{say_count(tally.tasks, 'task')} of ten tenths each make {tally.tenths:,} tenths; "
        f"{say_count(tally.not_applicable, 'line')} marked n/a take no part."
    )
    yield (
        f"Builder: {tally.assembly} tenths of assembly and {tally.fabrication} of fabrication are {tally.builder} of "
        f"{tally.tenths:,} = {share} = {say_percent(share)}, cut off and not rounded."
    )
    yield f"Others: {tally.maker} tenths by the maker and {tally.paid} by paid help are {tally.maker + tally.paid}."
    after = tally.share_after_paying(TENTHS)
    yield (
        f"One task is {one} of the whole, {say_percent(one)}. Were one more task of the builder’s paid for entirely, "
        f"the share would be {say_percent(after) if after is not None else NOTHING}."
    )
    if tally.more_than_half:
        yield (
            f"The builder’s tenths are more than half; {say_count(tally.margin_tenths, 'tenth')} could go to others "
            "before they are not."
        )
    else:
        yield (
            f"The builder’s tenths are not more than half; {say_count(-tally.margin_tenths, 'tenth')} more would make "
            "them so."
        )


def _shares(*tenths: int | None) -> tuple[str, str, str, str]:
    maker, paid, assembly, fabrication = ("n/a" if share is None else say_tenths(share) for share in tenths)
    return maker, paid, assembly, fabrication


SHEETS_A_TASK = 12


def _task_line(line: TaskEvidence, build: Build, desk: Desk) -> TaskLine:
    task = line.task
    remarks = []
    if line.paid and task.paid == 0:
        remarks.append("Paid help worked on it and no tenths are given to paid help.")
    if not task.applies and line.entries:
        remarks.append("Marked n/a, and yet worked on.")
    if task.applies and line.entries and not line.photographed:
        remarks.append("No picture.")
    names = {person.id: person.name for person in build.people.values()}
    left = len(line.entries) - SHEETS_A_TASK
    return TaskLine(
        task=task.task,
        name=task.name,
        shares=_shares(task.maker, task.paid, task.assembly, task.fabrication),
        note=task.note,
        steps=tuple(Link(text=step, address=desk.atlas.step_address[step]) for step in task.steps),
        sheets=tuple(
            Link(text=say_date(entry.date), address=desk.atlas.entry_address[entry.id], note=entry.title)
            for entry in line.entries[:SHEETS_A_TASK]
        ),
        more_sheets=f"and {say_count(left, 'more sheet')}" if left > 0 else "",
        pictures=say_count(len(line.photos), "picture") if line.photos else "no picture",
        people=", ".join(names[person] for person in line.people if person not in line.paid),
        paid=", ".join(names[person] for person in line.paid),
        remarks=tuple(remarks),
    )


def _paid_line(line: TaskEvidence, build: Build) -> str:
    task = line.task
    who = ", ".join(build.people[person].name for person in line.paid) or "nobody paid is named on its sheets"
    when = ", ".join(say_date(entry.date) for entry in line.paid_entries)
    tenths = "n/a" if task.paid is None else say_count(task.paid, "tenth")
    return f"{task.task} {task.name}: {tenths} to paid help; {who}{f' ({when})' if when else ''}"


def people_page(build: Build, desk: Desk) -> PageRecord:
    """Each person's own work."""
    people = [work for work in gather_people(build) if work.entries or work.at_work]
    return PageRecord(
        address=PEOPLE,
        template="trade.html",
        title="People",
        description="What each person did: hours by assembly, kind of work, pictures at work.",
        html="",
        record=TradePage(
            title="People",
            label="Who did what",
            block=tuple(
                Cell(label=work.person.name, value=say_minutes(work.minutes + work.minutes_not_counted))
                for work in people
            ),
            intro="For the application of the repairman (14 CFR 65.104: the applicant is the primary builder and shows "
            "the skill) and for anybody who asks who built what. Nobody’s work is merged with another’s. Hours "
            "support what a person says of their experience; they are no measure of the major portion.",
            caution=TALLY_CAUTION,
            sections=(
                *(_person_section(work, desk, number) for number, work in enumerate(people, start=1)),
                Section(heading="Sources", anchor="sources", points=_sources(PEOPLE_SOURCES)),
            ),
        ),
        section=PEOPLE,
        hidden=True,
    )


def _person_section(work: PersonWork, desk: Desk, number: int) -> Section:
    span = f" from {say_date(work.first)} to {say_date(work.last)}" if work.first and work.last else ""
    said = [
        f"{ROLE_WORDS[work.person.role].capitalize()}. {say_count(len(work.entries), 'sheet')} on "
        f"{say_count(work.days, 'day')}{span}; {say_minutes(work.minutes)} on the build"
        + (f" and {say_minutes(work.minutes_not_counted)} kept apart" if work.minutes_not_counted else "")
        + f"; seen at work in {say_count(len(work.at_work), 'picture')}."
    ]
    if work.steps:
        said.append(f"Took part in steps {say_steps(work.steps, desk.order)}.")
    if work.without_hours:
        said.append(f"{say_count(work.without_hours, 'sheet')} tell no hours.")
    tables = [
        Table(
            caption="By assembly",
            columns=("Assembly", "Worked", "Pictures at work"),
            rows=tuple(
                (desk.assembly_link(assembly), say_minutes(minutes), f"{work.at_work_by_assembly.get(assembly, 0):,}")
                for assembly, minutes in work.by_assembly.items()
            ),
            numeric=frozenset({1, 2}),
        )
    ]
    if work.by_method:
        tables.append(
            Table(
                caption="By kind of work",
                columns=("Method named on the sheet", "Worked on such sheets"),
                rows=tuple((desk.method_link(name), say_minutes(minutes)) for name, minutes in work.by_method.items()),
                numeric=frozenset({1}),
                note="A sheet with several methods counts in full under each, so the sum is more than the total.",
            )
        )
    if work.at_work:
        tables.append(_pictures_at_work(work.at_work, desk))
    return Section(heading=work.person.name, anchor=f"person-{number}", paragraphs=tuple(said), tables=tuple(tables))


def _pictures_at_work(pictures: Sequence[tuple[Entry, Photo]], desk: Desk) -> Table:
    left = len(pictures) - PICTURES_LISTED
    return Table(
        caption="Seen at work",
        columns=("Day", "Sheet", "Picture"),
        rows=tuple(
            (
                say_date(entry.date),
                Link(text=entry.title, address=desk.atlas.entry_address[entry.id]),
                photo.caption or photo.name,
            )
            for entry, photo in pictures[:PICTURES_LISTED]
        ),
        note=f"and {say_count(left, 'more picture')}" if left > 0 else "",
    )


def materials_page(build: Build, desk: Desk) -> PageRecord:
    """Every batch to its sheets and its paper, and every paper back to the sheets."""
    traces = trace_materials(build)
    return PageRecord(
        address=MATERIALS,
        template="trade.html",
        title="Materials",
        description="Sealant, primer and adhesive: batches, shelf life, where each was used, and its papers.",
        html="",
        record=TradePage(
            title="Materials",
            label="Batches",
            block=(
                Cell(label="Batches", value=f"{len(traces):,}", strong=True),
                Cell(label="Used", value=f"{sum(bool(trace.entries) for trace in traces):,}"),
                Cell(label="Without a paper", value=f"{sum(trace.record is None for trace in traces):,}"),
                Cell(label="Used after expiry", value=f"{sum(bool(trace.late) for trace in traces):,}"),
            ),
            intro="From batch to sheet and back. The maker’s own sheet decides on storage and shelf life.",
            caution=CAUTION,
            sections=(
                Section(heading="Batches", anchor="batches", tables=(_batches(traces),)),
                Section(heading="Where they were used", anchor="used", tables=(_uses(traces, desk),)),
                *_papers(traces, build.records, desk),
            ),
        ),
        section=MATERIALS,
        hidden=True,
    )


def _paper_link(record: Record | None) -> Link:
    if record is None:
        return Link(text="no paper")
    return Link(text=record.title, address=f"source/content/records/{record.file}")


def _batches(traces: Iterable[MaterialTrace]) -> Table:
    return Table(
        caption="Batches",
        columns=("Material", "Batch", "Expires", "Sheets", "Paper"),
        rows=tuple(
            (
                trace.material.name,
                trace.material.batch or "not recorded",
                say_date(trace.material.expires) if trace.material.expires else "not recorded",
                f"{len(trace.entries):,}",
                _paper_link(trace.record),
            )
            for trace in traces
        ),
        numeric=frozenset({3}),
    )


def _uses(traces: Iterable[MaterialTrace], desk: Desk) -> Table:
    return Table(
        caption="Uses",
        columns=("Material", "Batch", "Day", "Sheet", "Shelf life"),
        rows=tuple(
            (
                trace.material.name,
                trace.material.batch or NOTHING,
                say_date(entry.date),
                Link(text=entry.title, address=desk.atlas.entry_address[entry.id]),
                "after it expired" if entry in trace.late else "in date" if trace.material.expires else "not known",
            )
            for trace in traces
            for entry in trace.entries
        ),
    )


def _papers(traces: Sequence[MaterialTrace], records: Iterable[Record], desk: Desk) -> Iterator[Section]:
    rows = tuple(
        (
            _paper_link(record),
            f"{trace.material.name}, batch {trace.material.batch or NOTHING}",
            Link(text=f"{say_date(entry.date)}: {entry.title}", address=desk.atlas.entry_address[entry.id]),
        )
        for record in records
        for trace in traces
        if trace.record == record
        for entry in trace.entries
    )
    if rows:
        yield Section(
            heading="From a paper back to the work",
            anchor="papers",
            tables=(Table(caption="Papers", columns=("Paper", "Batch", "Sheet"), rows=rows),),
        )


def costs_page(build: Build, desk: Desk) -> PageRecord:
    """Money by assembly and month, and every line."""
    costs = add_up_costs(build.costs, build.assemblies)
    papers = {record.file: record for record in build.records}
    money = frozenset(range(1, 1 + len(costs.currencies)))

    def row(first: str | Link, spent: Spent) -> tuple[str | Link, ...]:
        return (first, *(say_money(spent.amounts[currency]) for currency in costs.currencies))

    return PageRecord(
        address=COSTS,
        template="trade.html",
        title="Costs",
        description="Money spent, by assembly and month.",
        html="",
        record=TradePage(
            title="Costs",
            label="In the archive alone",
            block=tuple(
                Cell(label=currency, value=say_money(costs.total[currency]), strong=True)
                for currency in costs.currencies
            ),
            intro="What was written into costs.csv. Currencies stand side by side and are never converted.",
            caution="",
            sections=(
                Section(
                    heading="By assembly",
                    anchor="by-assembly",
                    tables=(
                        Table(
                            caption="By assembly",
                            columns=("Assembly", *costs.currencies),
                            rows=tuple(
                                row(desk.assembly_link(spent.key) if spent.key else "none named", spent)
                                for spent in costs.by_assembly
                            ),
                            numeric=money,
                        ),
                    ),
                ),
                Section(
                    heading="By month",
                    anchor="by-month",
                    tables=(
                        Table(
                            caption="By month",
                            columns=("Month", *costs.currencies),
                            rows=tuple(
                                row(say_month(spent.key) if spent.key else "no date", spent) for spent in costs.by_month
                            ),
                            numeric=money,
                        ),
                    ),
                ),
                Section(
                    heading="Every line",
                    anchor="lines",
                    tables=(
                        Table(
                            caption="Every line",
                            columns=("Day", "Assembly", "What", "Amount", "Currency", "Paper"),
                            rows=tuple(
                                (
                                    say_date(cost.date) if cost.date else NOTHING,
                                    desk.assembly_link(cost.assembly) if cost.assembly else NOTHING,
                                    cost.what,
                                    say_money(cost.amount),
                                    cost.currency,
                                    _paper_link(papers.get(cost.record)) if cost.record else NOTHING,
                                )
                                for cost in build.costs
                            ),
                            numeric=frozenset({3}),
                        ),
                    ),
                ),
            ),
        ),
        section=COSTS,
        hidden=True,
    )
