"""The page of an assembly: its timeline, one entry after another, with inspections on the line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from journal.base.formatting import say_count, say_date, say_minutes
from journal.base.model import Assembly
from journal.site.home import AssemblyShare, assembly_shares
from journal.site.inspections import InspectionCard, inspection_card
from journal.site.lists import grouped
from journal.site.site_context import NOTHING, SiteContext
from journal.view.page_addresses import ASSEMBLIES
from journal.view.page_parts import MARKS, Bar, Card, Cell, Drawing, Link, PageRecord, StepLine, say_share, share
from journal.view.shown_pictures import PictureBox
from journal.view.view import ShownEntry, ShownInspection

ON_TIMELINE = 60
"""Entries on one timeline page; more are parted by year (an entry with its strip is about 3 KB)."""
STRIP = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One stop on the timeline: an entry, or an inspection."""

    card: Card | None = None
    steps: tuple[StepLine, ...] = ()
    strip: tuple[PictureBox, ...] = ()
    more_pictures: str = ""
    inspection: InspectionCard | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AssemblyPage:
    """What the template `assembly.html` places."""

    block: tuple[Cell, ...]
    drawing: Drawing
    planned: Bar | None
    planned_words: str
    steps: tuple[StepLine, ...]
    steps_heading: str
    stops: tuple[Stop, ...]
    years: tuple[Link, ...]
    year: str
    note: str
    neighbours: tuple[Link, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AssembliesPage:
    """What the template `assemblies.html` places."""

    assemblies: tuple[AssemblyShare, ...]
    drawing: Drawing


def assemblies_page(site: SiteContext) -> PageRecord:
    """All assemblies in the order of the build."""
    return site.page(
        ASSEMBLIES,
        "assemblies.html",
        "Assemblies",
        f"The parts of {site.view.aircraft.name} in the order of the build, each with steps and hours.",
        AssembliesPage(
            assemblies=assembly_shares(site),
            drawing=site.drawing(
                site.states_now(), picked=None, address=ASSEMBLIES, caption="The aircraft as it stands now."
            ),
        ),
    )


def assembly_pages(site: SiteContext, assembly: Assembly) -> list[PageRecord]:
    """The page of `assembly`; where its entries are many, one page a year beside it."""
    entries = site.addresses.by_assembly.get(assembly.id, ())
    address = site.addresses.assembly_address[assembly.id]
    if len(entries) <= ON_TIMELINE:
        return [_assembly_page(site, assembly, address, entries)]
    by_year = grouped(reversed(entries), lambda entry: entry.date.year)
    parts: list[tuple[str, str, list[ShownEntry]]] = []
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
    first, last = say_date(newest_first[-1].date).split(), say_date(newest_first[0].date).split()
    return f"{first[0]} {first[1]} to {last[0]} {last[1]}"


def _assembly_page(
    site: SiteContext,
    assembly: Assembly,
    address: str,
    entries: Sequence[ShownEntry],
    years: tuple[Link, ...] = (),
    year: str = "",
    span: tuple[date, date] = (date.min, date.max),
) -> PageRecord:
    """`span` is which inspections belong here: from the first day, up to and without the second."""
    view = site.view
    progress = view.assembly_progress[assembly.id]
    minutes = view.by_assembly.get(assembly.id, 0)
    planned = assembly.planned_minutes
    home_address = site.addresses.assembly_address[assembly.id]
    first = address == home_address
    states = site.states_now()
    cover = next((box for entry in reversed(entries) if (box := site.cover(entry))), None)
    title = assembly.title if first else f"{assembly.title}, {year}"
    ids = list(view.assemblies)
    place = ids.index(assembly.id)
    return site.page(
        address,
        "assembly.html",
        title,
        f"{assembly.title} of {view.aircraft.name}: {progress.state.value}, {progress.steps_done} of "
        f"{say_count(progress.steps, 'step')} done, {say_minutes(minutes)}.",
        AssemblyPage(
            block=_block(site, assembly),
            drawing=site.drawing(
                states,
                picked=assembly.id,
                address=address,
                caption=f"{assembly.title} picked out; every part in its state of today.",
            ),
            planned=Bar(words=say_share(minutes, planned), tenths=share(minutes, planned), over=minutes > planned)
            if planned
            else None,
            planned_words=_say_plan(minutes, planned) if planned else "",
            steps=tuple(site.step_line(view.steps[step]) for step in site.addresses.steps_of[assembly.id])
            if first
            else (),
            steps_heading=f"Steps: {progress.steps_done} of {progress.steps} done" if progress.steps else "",
            stops=_stops(site, entries, _inspections_between(site, assembly.id, *span)),
            years=years,
            year=year,
            note="" if assembly.counts else "Hours on this part are kept apart from the hours of the build.",
            neighbours=tuple(
                Link(text=view.assemblies[ids[at]].title, address=site.addresses.assembly_address[ids[at]], note=note)
                for at, note in ((place - 1, "before in the build"), (place + 1, "next in the build"))
                if 0 <= at < len(ids)
            ),
        ),
        section=ASSEMBLIES,
        entries=entries,
        cover=cover,
    )


def _block(site: SiteContext, assembly: Assembly) -> tuple[Cell, ...]:
    view = site.view
    progress = view.assembly_progress[assembly.id]
    entries = site.addresses.by_assembly.get(assembly.id, ())
    dates: list[date] = [entry.date for entry in entries if not entry.draft]
    return (
        Cell(label="State", mark=MARKS[progress.state], strong=True, span=2),
        Cell(
            label="Steps done",
            value=f"{progress.steps_done} of {progress.steps}" if progress.steps else NOTHING,
            strong=True,
        ),
        Cell(label="Hours", value=say_minutes(view.by_assembly.get(assembly.id, 0)), strong=True, span=2),
        Cell(
            label="Planned",
            value=say_minutes(assembly.planned_minutes) if assembly.planned_minutes else NOTHING,
        ),
        Cell(label="Entries", value=f"{len(entries):,}"),
        Cell(label="First worked", value=say_date(dates[0]) if dates else NOTHING, span=2),
        Cell(label="Last worked", value=say_date(dates[-1]) if dates else NOTHING, span=3),
    )


def _say_plan(minutes: int, planned: int) -> str:
    if minutes > planned:
        return f"{say_minutes(minutes)} worked, {say_minutes(minutes - planned)} more than planned"
    return f"{say_minutes(minutes)} worked of {say_minutes(planned)} planned"


def _inspections_between(site: SiteContext, assembly: str, since: date, until: date) -> list[ShownInspection]:
    inspections = site.addresses.inspections_by_assembly.get(assembly, ())
    return [inspection for inspection in inspections if since <= inspection.date < until]


def _stops(
    site: SiteContext, entries: Sequence[ShownEntry], inspections: Sequence[ShownInspection]
) -> tuple[Stop, ...]:
    """Entries and inspections in the order of time, newest first; an inspection comes after its day's work."""
    dated: list[tuple[date, int, int, Stop]] = []
    for number, entry in enumerate(entries):
        boxes = site.usable_boxes(entry)
        dated.append(
            (
                entry.date,
                0,
                number,
                Stop(
                    card=site.card(entry),
                    steps=site.entry_steps(entry),
                    strip=tuple(boxes[:STRIP]),
                    more_pictures=f"and {say_count(len(boxes) - STRIP, 'picture')} more" if len(boxes) > STRIP else "",
                ),
            )
        )
    dated += [
        (inspection.date, 1, number, Stop(inspection=inspection_card(site, inspection)))
        for number, inspection in enumerate(inspections)
    ]
    dated.sort(key=lambda row: row[:3], reverse=True)
    return tuple(stop for _, _, _, stop in dated)
