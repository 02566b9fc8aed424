"""The page of an assembly: its timeline, one entry after another, with inspections and measurements on the line."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from journal.base.formatting import say_count, say_date, say_minutes, say_number, say_short_date
from journal.base.model import Assembly
from journal.base.words import _
from journal.site.home import assembly_shares
from journal.site.measurements import write_up_card
from journal.site.site_context import NOTHING, SiteContext
from journal.view.page_addresses import ASSEMBLIES, grouped
from journal.view.page_parts import Bar, Cell, Group, Link, PageRecord, Telling, mark_of, say_part, say_share, share
from journal.view.view import ShownEntry, ShownWriteUp

ON_TIMELINE = 40
"""Entries on one timeline page; more are parted by year (an entry with its strip is about 3 KB)."""
STRIP = 4


def assemblies_page(site: SiteContext) -> PageRecord:
    """All assemblies in the order of the build."""
    return site.page(
        ASSEMBLIES,
        "assemblies.html",
        _("Assemblies"),
        _("The parts of {name} in the order of the build, each with steps and hours.", name=site.view.aircraft.name),
        drawing=site.drawing(ASSEMBLIES, _("The aircraft as it stands now.")),
        groups=(Group(items=assembly_shares(site)),),
    )


def assembly_pages(site: SiteContext, assembly: Assembly) -> list[PageRecord]:
    """The page of `assembly`; where its entries are many, one page a year beside it."""
    entries = site.addresses.by_assembly.get(assembly.id, ())
    address = site.addresses.assembly_address[assembly.id]
    if len(entries) <= ON_TIMELINE:
        return [_assembly_page(site, assembly, address, entries)]
    by_year = grouped(reversed(entries), lambda entry: [entry.date.year])
    parts: list[tuple[str, str, Sequence[ShownEntry]]] = []
    for year, of_year in by_year.items():
        for place in range(0, len(of_year), ON_TIMELINE):
            part = of_year[place : place + ON_TIMELINE]
            words = str(year) if len(of_year) <= ON_TIMELINE else f"{year}, {_say_span(part)}"
            mark = str(year) if place == 0 else f"{year}-{place // ON_TIMELINE + 1}"
            parts.append((f"{address}{mark}/" if parts else address, words, part))
    links = tuple(
        Link(text=words, address=at, note=say_count(len(part), "entry", "entries")) for at, words, part in parts
    )
    starts = [date.max, *(part[-1].date for _, _, part in parts[:-1]), date.min]
    return [
        _assembly_page(site, assembly, at, tuple(reversed(part)), links, words, (starts[number + 1], starts[number]))
        for number, (at, words, part) in enumerate(parts)
    ]


def _say_span(newest_first: Sequence[ShownEntry]) -> str:
    first, last = (say_short_date(newest_first[place].date, spelt_out=True) for place in (-1, 0))
    return _("{first} to {last}", first=first, last=last)


def _assembly_page(
    site: SiteContext,
    assembly: Assembly,
    address: str,
    entries: Sequence[ShownEntry],
    years: tuple[Link, ...] = (),
    year: str = "",
    span: tuple[date, date] = (date.min, date.max),
) -> PageRecord:
    """`span` is which inspections and measurements belong here: from the first day, up to and without the second."""
    view = site.view
    progress = view.assembly_progress[assembly.id]
    minutes = view.by_assembly.get(assembly.id, 0)
    planned = assembly.planned_minutes
    home_address = site.addresses.assembly_address[assembly.id]
    first = address == home_address
    ids = list(view.assemblies)
    place = ids.index(assembly.id)
    write_ups = [
        one for one in site.addresses.write_ups_by_assembly.get(assembly.id, ()) if span[0] <= one.date < span[1]
    ]
    return site.page(
        address,
        "assembly.html",
        assembly.title if first else f"{assembly.title}, {year}",
        _(
            "{title} of {name}: {state}, {done} of {steps} done, {time}.",
            title=assembly.title,
            name=view.aircraft.name,
            state=mark_of(progress.state).word,
            done=progress.steps_done,
            steps=say_count(progress.steps, "step"),
            time=say_minutes(minutes),
        ),
        label=_("Assembly"),
        block=_block(site, assembly),
        remark="" if assembly.counts else _("Hours on this part are kept apart from the hours of the build."),
        drawing=site.drawing(
            address, _("{title} picked out; every part in its state of today.", title=assembly.title), assembly.id
        ),
        close_up=site.close_up(address, assembly.id) if first else None,
        bar=Bar(
            words=f"{_say_plan(minutes, planned)} ({say_share(minutes, planned)})",
            tenths=share(minutes, planned),
            over=minutes > planned,
        )
        if planned
        else None,
        steps=Group(
            title=_("Steps: {steps_done} of {steps} done", steps_done=progress.steps_done, steps=progress.steps),
            anchor="steps",
            steps=tuple(site.step_line(view.steps[step]) for step in site.addresses.steps_of[assembly.id])
            if first
            else (),
        ),
        groups=(Group(title=_("Timeline, newest first"), items=_stops(site, entries, write_ups)),),
        parts=years,
        part=year,
        onward=tuple(
            Link(text=view.assemblies[ids[at]].title, address=site.addresses.assembly_address[ids[at]], note=note)
            for at, note in ((place - 1, _("before in the build")), (place + 1, _("next in the build")))
            if 0 <= at < len(ids)
        ),
        section=ASSEMBLIES,
        entries=entries,
        cover=next((box for entry in reversed(entries) if (box := site.cover(entry))), None),
    )


def _block(site: SiteContext, assembly: Assembly) -> tuple[Cell, ...]:
    view = site.view
    progress = view.assembly_progress[assembly.id]
    entries = site.addresses.by_assembly.get(assembly.id, ())
    dates: list[date] = [entry.date for entry in entries if not entry.draft]
    return (
        Cell(label=_("State"), mark=mark_of(progress.state), strong=True),
        Cell(
            label=_("Steps done"),
            value=say_part(progress.steps_done, progress.steps, NOTHING),
            strong=True,
        ),
        Cell(label=_("Hours"), value=say_minutes(view.by_assembly.get(assembly.id, 0)), strong=True),
        Cell(
            label=_("Planned"),
            value=say_minutes(assembly.planned_minutes) if assembly.planned_minutes else NOTHING,
        ),
        Cell(label=_("Entries"), value=say_number(len(entries))),
        Cell(label=_("First worked"), value=say_date(dates[0]) if dates else NOTHING),
        Cell(label=_("Last worked"), value=say_date(dates[-1]) if dates else NOTHING),
    )


def _say_plan(minutes: int, planned: int) -> str:
    if minutes > planned:
        return _(
            "{time} worked, {more} more than planned",
            time=say_minutes(minutes),
            more=say_minutes(minutes - planned),
        )
    return _("{time} worked of {planned} planned", time=say_minutes(minutes), planned=say_minutes(planned))


def _stops(site: SiteContext, entries: Sequence[ShownEntry], write_ups: Sequence[ShownWriteUp]) -> tuple[Telling, ...]:
    """Entries and what is written up beside them, newest first; the latter comes after its day's work."""
    stops = []
    for entry in entries:
        boxes = site.usable_boxes(entry)
        more = _("and {pictures} more", pictures=say_count(len(boxes) - STRIP, "picture")) if len(boxes) > STRIP else ""
        stop = Telling(
            card=site.card(entry),
            steps=site.entry_steps(entry),
            pictures=tuple(boxes[:STRIP]),
            more_pictures=more,
        )
        stops.append((entry.date, stop))
    stops += [(one.date, Telling(write_up=write_up_card(site, one))) for one in write_ups]
    # Sorting keeps the order of what is of one day.
    return tuple(stop for _, stop in sorted(stops, key=lambda dated: dated[0]))[::-1]
