"""Pages that are lists: of entries by month, days, pictures, steps, tools and methods, trade words, inspections, parts.

Each is a `ListPage` of groups; long ones are parted, by year or by month, and the newest part stands at the address
of the whole.
"""

from __future__ import annotations

import calendar
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from urllib.parse import quote

from journal.base.addresses import CALENDAR, FIND, INVENTORY, PHOTOS, TERMS, row_ids
from journal.base.formatting import month_of, say_count, say_date, say_minutes, say_month, say_number, say_weekday
from journal.base.model import InventoryItem, Term
from journal.base.words import _, all_of
from journal.site.site_context import NOTHING, SiteContext, shorten
from journal.view.page_addresses import ENTRIES, METHODS, STEPS, TOOLS, grouped
from journal.view.page_parts import Card, Cell, Group, Link, PageRecord, Table, Telling, mark_of, say_share
from journal.view.shown_pictures import PictureBox
from journal.view.view import ShownEntry

IN_A_YEAR = 220
"""Entries of a year on one page (at most 135 KB of HTML in the calendar); a fuller year is parted in two."""
ON_REGISTER = 150
"""Entries on the register before it is parted by year (about 100 KB of HTML)."""
PICTURES_ON_PAGE = 240
"""Pictures on one page (about 700 bytes of HTML each); more are parted by month."""
ON_FOLLOW = 500
"""Steps on the follow-along page before each assembly keeps its own list (about 400 bytes a step)."""
UNFOLDED = 60
"""Steps that stand on the page unfolded; of more only the assemblies that work is going on at are open."""
ON_THE_BENCH = 3
"""Entries whose assemblies are those that work is going on at."""
ENTRIES_SHOWN = 120
"""Entries listed on one tool's page; the register has the others."""
STEPS_SHOWN = 120
PICTURES_SHOWN = 8
ENTRIES_LINKED = 6


def _months(entry: ShownEntry) -> Iterable[str]:
    return [month_of(entry.date)]


def _month(month: str, words: str, items: tuple[object, ...]) -> Group:
    return Group(title=say_month(month), anchor=f"month-{month}", words=words, items=items)


# -- entries and days ----------------------------------------------------------------------------


def register_pages(site: SiteContext) -> list[PageRecord]:
    """All entries: on one page while they are few, by year with the newest year first when many."""
    parts = _years(site, ENTRIES, lambda entries: say_count(len(entries), "entry", "entries"))
    if len(site.view.entries) <= ON_REGISTER or len(parts) < 2:
        return [_register(site, Link(text="", address=ENTRIES), _("Entries"), site.view.entries, ())]
    return [
        _register(site, link, _("Entries of {year}", year=link.text), entries, tuple(parts))
        for link, entries in parts.items()
    ]


def _years(
    site: SiteContext, base: str, say: Callable[[Sequence[ShownEntry]], str]
) -> dict[Link, Sequence[ShownEntry]]:
    """A link to each year's part and what is in it, newest first; a year of many entries has two. The newest part
    stands at `base` itself.
    """
    parts: dict[Link, Sequence[ShownEntry]] = {}
    for year, entries in sorted(site.addresses.by_year.items(), reverse=True):
        address = site.addresses.year_address(base, year)
        late = [entry for entry in entries if entry.date.month > 6]
        early = entries[: len(entries) - len(late)]
        if len(entries) <= IN_A_YEAR or not late or not early:
            parts[Link(text=str(year), address=address if parts else base, note=say(entries))] = entries
            continue
        words = _("{year}, July to December", year=year)
        parts[Link(text=words, address=address if parts else base, note=say(late))] = late
        words = _("{year}, January to June", year=year)
        parts[Link(text=words, address=f"{address}january-to-june/", note=say(early))] = early
    return parts


def _register(
    site: SiteContext, part: Link, title: str, entries: Sequence[ShownEntry], years: tuple[Link, ...]
) -> PageRecord:
    number = say_count(len(entries), "entry", "entries")
    groups = tuple(
        _month(month, say_minutes(site.view.by_month.get(month, 0)), site.cards(of_month))
        for month, of_month in grouped(reversed(entries), _months).items()
    )
    return site.page(
        part.address,
        "register.html",
        title,
        shorten(_("{title} of {site_name}: {number}.", title=title, site_name=site.site_name, number=number), 180),
        intro=_(
            "{number}, newest first. An entry is one day's work on one part of the aircraft; “to "
            "date” is the hours of the whole build with that entry included.",
            number=number,
        ),
        groups=groups,
        parts=years,
        part=part.text,
        section=ENTRIES,
        entries=entries,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class DayCell:
    """One day of a month; `number` 0 is an empty place before the first or after the last."""

    number: int
    hours: str
    cards: tuple[Card, ...]
    picture: PictureBox | None


def calendar_pages(site: SiteContext) -> list[PageRecord]:
    """The newest year at `calendar/`, every other year on a page of its own."""
    parts = _years(site, CALENDAR, lambda entries: say_count(len({entry.date for entry in entries}), "day"))
    years = tuple(parts) if len(parts) > 1 else ()
    return [
        _calendar(site, part, entries, years)
        for part, entries in (parts or {Link(text="", address=CALENDAR): ()}).items()
    ]


def _calendar(site: SiteContext, part: Link, entries: Sequence[ShownEntry], years: tuple[Link, ...]) -> PageRecord:
    """Months as a calendar has them, each worked day with its assembly, hours and picture."""
    title = _("Calendar {year}", year=part.text).strip()
    groups = []
    for month, of_month in sorted(grouped(entries, _months).items(), reverse=True):
        dates = calendar.Calendar().monthdayscalendar(*map(int, month.split("-")))
        by_day = grouped(of_month, lambda entry: [entry.date.day])
        weeks = tuple(tuple(_day(site, day, by_day.get(day, ())) for day in week) for week in dates)
        words = f"{say_count(len(by_day), 'day')}, {say_minutes(site.view.by_month.get(month, 0))}"
        groups.append(_month(month, words, weeks))
    return site.page(
        part.address,
        "calendar.html",
        title,
        _("{title} of {site_name}: the days worked, with assembly and hours.", title=title, site_name=site.site_name),
        groups=tuple(groups),
        parts=years,
        record=tuple(say_weekday(date(2024, 1, day), short=True) for day in range(1, 8)),  # from a Monday on
        part=part.text,
        section=CALENDAR,
        entries=entries,
    )


def _day(site: SiteContext, day: int, entries: Sequence[ShownEntry]) -> DayCell:
    return DayCell(
        number=day,
        hours=say_minutes(sum(entry.minutes for entry in entries)),
        cards=site.cards(entries),
        picture=next((box for entry in entries if (box := site.cover(entry))), None),
    )


# -- pictures ------------------------------------------------------------------------------------


def album_pages(site: SiteContext) -> list[PageRecord]:
    """All pictures: one page while they are few, else a page a month (and more where a month is full)."""
    strips = [
        Telling(card=site.card(entry), pictures=boxes)
        for entry in reversed(site.view.entries)
        if (boxes := tuple(site.usable_boxes(entry)))
    ]
    total = _pictures_in(strips)
    if total <= PICTURES_ON_PAGE:
        return [_album(site, Link(text="", address=PHOTOS), strips, (), total)]
    parts: dict[Link, Sequence[Telling]] = {}
    for year, of_year in grouped(strips, lambda strip: [_of_day(strip)[:4]]).items():
        whole = _pictures_in(of_year) <= PICTURES_ON_PAGE
        for month, of_month in [(year, of_year)] if whole else grouped(of_year, _months_told).items():
            for number, part in enumerate(_parted(of_month), start=1):
                words = month if whole else say_month(month)
                if number > 1:
                    words = _("{month}, part {number}", month=words, number=number)
                address = f"{PHOTOS}{month}{f'-{number}' if number > 1 else ''}/" if parts else PHOTOS
                parts[Link(text=words, address=address, note=str(_pictures_in(part)))] = part
    by_year = grouped(parts, lambda link: [_of_day(parts[link][0])[:4]])
    years = tuple(
        replace(links[0], text=year, note=str(sum(_pictures_in(parts[link]) for link in links)))
        for year, links in by_year.items()
    )
    return [
        _album(site, link, part, years, total, year=year, within=tuple(by_year[year]))
        for link, part in parts.items()
        for year in [_of_day(part[0])[:4]]
    ]


def _of_day(strip: Telling) -> str:
    return strip.card.iso if strip.card else ""


def _months_told(strip: Telling) -> Iterable[str]:
    return [_of_day(strip)[: len("2026-02")]]


def _pictures_in(strips: Iterable[Telling]) -> int:
    return sum(len(strip.pictures) for strip in strips)


def _parted(strips: Iterable[Telling]) -> list[list[Telling]]:
    parts: list[list[Telling]] = [[]]
    pictures = 0
    for strip in strips:
        pictures += len(strip.pictures)
        if parts[-1] and pictures > PICTURES_ON_PAGE:
            parts.append([])
            pictures = len(strip.pictures)
        parts[-1].append(strip)
    return parts


def _album(
    site: SiteContext,
    part: Link,
    strips: Sequence[Telling],
    years: tuple[Link, ...],
    total: int,
    *,
    year: str = "",
    within: tuple[Link, ...] = (),
) -> PageRecord:
    """`within` are the parts of its `year`, where that is too long for one page."""
    number = say_count(total, "picture")
    return site.page(
        part.address,
        "photos.html",
        _("Photos, {part}", part=part.text) if part.text else _("Photos"),
        _("{pictures} of {name} by date and assembly.", pictures=number, name=site.view.aircraft.name),
        intro=_(
            "{pictures}, the newest entry first; within an entry in the order in which they were taken.",
            pictures=number,
        ),
        groups=tuple(
            _month(month, say_count(_pictures_in(of_month), "picture"), of_month)
            for month, of_month in grouped(strips, _months_told).items()
        ),
        parts=years,
        part=year,
        onward=within if len(within) > 1 else (),
        record=part.text,
        section=PHOTOS,
        updated=next((strip.card.iso for strip in strips if strip.card), ""),
    )


# -- steps ---------------------------------------------------------------------------------------


def steps_page(site: SiteContext) -> PageRecord:
    """All steps in the manual's order; only the assemblies where that would be too long a page."""
    view = site.view
    whole = len(view.steps) <= ON_FOLLOW
    recent = [entry for entry in view.entries if entry.all_steps and not entry.draft][-ON_THE_BENCH:]
    newest = recent[-1] if recent else None
    here = {step.id for step in newest.all_steps} if newest else set()
    unfolded = {step.assembly for entry in recent for step in entry.all_steps}
    groups = []
    for assembly in view.assemblies.values():
        ids = site.addresses.steps_of[assembly.id]
        if not ids:
            continue
        progress = view.assembly_progress[assembly.id]
        address = site.addresses.assembly_address[assembly.id]
        groups.append(
            Group(
                title=assembly.title,
                address=address if whole else f"{address}#steps",
                words=_(
                    "{done} of {steps} done",
                    done=progress.steps_done,
                    steps=say_count(progress.steps, "step"),
                ),
                mark=mark_of(progress.state),
                steps=tuple(replace(site.step_line(view.steps[step]), here=step in here) for step in ids)
                if whole
                else (),
                note=say_count(len(ids), "step"),
                open=len(view.steps) <= UNFOLDED or assembly.id in unfolded,
                anchor=address.strip("/").replace("/", "-"),
            )
        )
    return site.page(
        STEPS,
        "steps.html",
        _("Steps"),
        _(
            "The manual’s steps for {name}: {done} of {steps} done ({share}), each with how it was done.",
            name=view.aircraft.name,
            done=view.steps_done,
            steps=len(view.steps),
            share=say_share(view.steps_done, len(view.steps)),
        ),
        intro=_(
            "The manual’s steps in its order. Open a step to see how it was done here: text, "
            "pictures, tools, and what had to be done over."
        ),
        groups=tuple(groups),
        onward=tuple(
            Link(text=f"{step.id} {step.title}", address=site.addresses.step_address[step.id], note=_("Last worked on"))
            for step in (newest.all_steps[-1:] if newest else ())
        ),
    )


# -- tools and methods ---------------------------------------------------------------------------


def _named(
    site: SiteContext,
    index: str,
    kind: tuple[str, str, str],
    number: str,
    intro: str,
    forms: Mapping[str, str],
    addresses: Mapping[str, str],
    used: Mapping[str, tuple[ShownEntry, ...]],
) -> list[PageRecord]:
    ordered = sorted(forms, key=lambda folded: (-len(used.get(folded, ())), folded))
    links = tuple(
        Link(
            text=forms[folded],
            address=addresses[folded],
            note=say_count(len(used.get(folded, ())), "entry", "entries"),
        )
        for folded in ordered
    )
    list_page = site.page(
        index,
        "names.html",
        kind[1],
        _("{number} used on {name}.", number=number, name=site.view.aircraft.name),
        intro=intro,
        groups=(Group(items=links),),
    )
    pages = [_name(site, addresses[folded], form, kind, index, used.get(folded, ())) for folded, form in forms.items()]
    return [list_page, *pages]


def _name(
    site: SiteContext, address: str, form: str, kind: tuple[str, str, str], index: str, entries: Sequence[ShownEntry]
) -> PageRecord:
    shown = list(reversed(entries))[:ENTRIES_SHOWN]
    ids = dict.fromkeys(step.id for entry in entries for step in entry.all_steps)
    steps = sorted(ids, key=lambda step: site.addresses.rank[step])
    pictures = [box for entry in shown if (box := site.cover(entry))][:PICTURES_SHOWN]
    left = len(entries) - len(shown)
    return site.page(
        address,
        "name.html",
        form,
        _(
            "{kind}: {form}. Used in {entries} of {site_name}.",
            kind=kind[0],
            form=form,
            entries=say_count(len(entries), "entry", "entries"),
            site_name=site.site_name,
        ),
        label=kind[0],
        block=(
            Cell(label=_("Entries"), value=say_number(len(entries)), strong=True),
            Cell(label=_("First used"), value=say_date(entries[0].date) if entries else NOTHING),
            Cell(label=_("Steps"), value=say_number(len(steps))),
            Cell(label=_("Last used"), value=say_date(entries[-1].date) if entries else NOTHING),
        ),
        groups=(
            Group(
                title=_("Entries, newest first"),
                anchor="entries",
                items=site.cards(shown),
                pictures=tuple(pictures),
                address=f"{FIND}?q={quote(form)}" if left else "",
                note=_("and {entries}: find them all", entries=say_count(left, "older entry", "older entries"))
                if left
                else "",
            ),
        ),
        steps=Group(
            title=_("Steps in these entries"),
            anchor="steps",
            steps=tuple(site.step_line(site.view.steps[step]) for step in steps[:STEPS_SHOWN]),
            note=_("and {steps}", steps=say_count(len(steps) - STEPS_SHOWN, "further step"))
            if len(steps) > STEPS_SHOWN
            else "",
        ),
        onward=(Link(text=kind[2], address=index),),
        section=index,
        entries=entries,
        cover=pictures[0] if pictures else None,
    )


# -- trade words ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class TermLine:
    """A trade word with its meaning, and the entries that use it."""

    term: Term
    also: str
    anchor: str
    entries: tuple[Link, ...]
    more: str


def terms_page(site: SiteContext) -> PageRecord:
    """Every trade word, linked back to the entries that use it, newest first."""
    used: dict[str, list[ShownEntry]] = {}
    for entry in reversed(site.view.entries):
        for term in site.prose(entry).terms:
            used.setdefault(term.name, []).append(entry)
    lines = [
        TermLine(
            term=term,
            also=", ".join(term.names[1:]),
            anchor=site.term_anchor[term.name],
            entries=tuple(site.entry_link(entry) for entry in entries[:ENTRIES_LINKED]),
            more=_(
                "and {entries}",
                entries=say_count(len(entries) - ENTRIES_LINKED, "other entry", "other entries"),
            )
            if len(entries) > ENTRIES_LINKED
            else "",
        )
        for term in site.terms
        for entries in [used.get(term.name, [])]
    ]
    letters = sorted(grouped(lines, lambda line: [_letter(line.term.name)]).items())
    number = say_count(len(site.terms), "word")
    return site.page(
        TERMS,
        "terms.html",
        _("Terms"),
        _("{number} of the trade explained, with the entries that use them.", number=number),
        intro=_(
            "{number} of the trade in plain words. The manual and the published standards have the "
            "last word on what a term means.",
            number=number,
        ),
        groups=tuple(Group(title=letter, items=tuple(terms)) for letter, terms in letters),
    )


def _letter(name: str) -> str:
    first = name[:1].upper()
    return first if first.isalpha() else "#"


# -- the parts list ------------------------------------------------------------------------------


INVENTORY_COLUMNS = all_of("Part", "Description", "Listed", "Found", "Condition", "Kept in", "Checked", "By")


def inventory_page(site: SiteContext) -> PageRecord:
    """The packing list as checked, crate by crate; what is short or damaged says so in words."""
    items = site.view.inventory
    ids = row_ids("part", (item.name for item in items))
    crates = grouped(zip(items, ids, strict=True), lambda row: [row[0].crate])
    tables = tuple(
        Table(
            caption=_("Crate {crate}", crate=crate) if crate else _("No crate named"),
            columns=tuple(map(_, INVENTORY_COLUMNS)),
            rows=tuple(_item_row(item) for item, _id in of_crate),
            ids=tuple(id_ for _item, id_ in of_crate),
            numeric=frozenset({2, 3}),
        )
        for crate, of_crate in crates.items()
    )
    return site.page(
        INVENTORY,
        "inventory.html",
        _("Inventory"),
        _("The parts of the kit as unpacked and counted: {lines}.", lines=say_count(len(items), "line")),
        label=_("Parts of the kit"),
        intro=_("The packing list against what was found in the crates."),
        block=(
            Cell(label=_("Lines"), value=say_number(len(items)), strong=True),
            Cell(label=_("Short"), value=say_number(sum(_missing(item) > 0 for item in items)), strong=True),
            Cell(label=_("Crates"), value=say_number(len(crates))),
            Cell(
                label=_("Not checked yet"),
                value=say_number(sum(item.checked_on is None for item in items)),
                strong=True,
            ),
        ),
        groups=(Group(tables=tables),),
    )


def _missing(item: InventoryItem) -> int:
    return item.listed - item.found if item.listed is not None and item.found is not None else 0


def _item_row(item: InventoryItem) -> tuple[str | Link, ...]:
    found = "" if item.found is None else say_number(item.found)
    if _missing(item) > 0:
        found = _("{found} ({number} short)", found=found, number=say_number(_missing(item)))
    return (
        item.part,
        item.description,
        "" if item.listed is None else say_number(item.listed),
        found,
        item.condition,
        item.kept_in,
        say_date(item.checked_on) if item.checked_on else _("not yet"),
        item.by,
    )


def list_pages(site: SiteContext) -> Iterator[PageRecord]:
    """The lists that are parted where they grow long, but for the register."""
    yield from calendar_pages(site)
    yield from album_pages(site)
    view, addresses = site.view, site.addresses
    if view.tools:
        intro = _("Tools named in the entries, the most used first; each page shows where and for which steps.")
        yield from _named(
            site,
            TOOLS,
            (_("Tool"), _("Tools"), _("All tools")),
            say_count(len(view.tools), "tool"),
            intro,
            view.tools,
            addresses.tool_address,
            addresses.by_tool,
        )
    if view.methods:
        intro = _("Ways of working named in the entries, the most used first.")
        yield from _named(
            site,
            METHODS,
            (_("Method"), _("Methods"), _("All methods")),
            say_count(len(view.methods), "method"),
            intro,
            view.methods,
            addresses.method_address,
            addresses.by_method,
        )
