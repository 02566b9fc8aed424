"""Pages of a text: an entry with its title block, the aircraft on that day and its pictures; own pages."""

from __future__ import annotations

import posixpath
import re
from dataclasses import dataclass
from fractions import Fraction
from urllib.parse import urlsplit

from journal.base.formatting import say_date, say_minutes
from journal.base.model import FastenerSet, FreePage, Material, TorqueSetting
from journal.base.prose import find_images
from journal.base.quantities import say_length, say_torque
from journal.site.site_context import NOTHING, SiteContext, shorten
from journal.view.page_addresses import ENTRIES
from journal.view.page_parts import Card, Cell, Drawing, Link, PageRecord, Panel, StepLine, Table
from journal.view.shown_pictures import PictureBox
from journal.view.view import Audience, ShownEntry

DESCRIPTION_LENGTH = 180


@dataclass(frozen=True, slots=True, kw_only=True)
class VideoPanel:
    """A film on another host: nothing is asked of that host until the reader presses play.

    `embed` is the address to show in a frame where the kind of host is known, else empty: then
    the panel is a plain link.
    """

    address: str
    host: str
    embed: str
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryPage:
    """What the template `entry.html` places."""

    block: tuple[Cell, ...]
    drawing: Drawing
    steps: tuple[StepLine, ...]
    gallery: tuple[PictureBox, ...]
    gallery_heading: str
    videos: tuple[VideoPanel, ...]
    tables: tuple[Table, ...]
    panels: tuple[Panel, ...]
    tools: tuple[Link, ...]
    methods: tuple[Link, ...]
    place: str
    time: tuple[str, ...]
    assembly: Link
    assembly_hours: str
    clips: tuple[Link, ...]
    answers: tuple[tuple[str, str], ...]
    before: Card | None
    after: Card | None
    assembly_before: Card | None
    assembly_after: Card | None
    draft: bool
    private: bool
    problems: tuple[tuple[str, str], ...]


def entry_page(site: SiteContext, entry: ShownEntry) -> PageRecord:
    """The page of `entry`."""
    address = site.addresses.entry_address[entry.id]
    prose = site.prose(entry)
    cover = site.cover(entry)
    card = site.card(entry)
    journal, assembly = site.addresses.in_journal[entry.id], site.addresses.in_assembly[entry.id]
    return site.page(
        address,
        "entry.html",
        entry.title,
        shorten(f"{card.day}, {card.date}: {entry.assembly.title}. {prose.lead}".strip(), DESCRIPTION_LENGTH),
        EntryPage(
            block=site.block(entry),
            drawing=site.drawing(
                entry.states,
                picked=entry.assembly.id,
                address=address,
                caption=f"The aircraft at the end of {say_date(entry.date)}; this entry's part is "
                f"{entry.assembly.title}, picked out.",
            ),
            steps=site.entry_steps(entry),
            gallery=site.not_placed(entry, prose),
            gallery_heading="More pictures" if prose.placed else "Pictures",
            videos=tuple(plan_video(video, number) for number, video in enumerate(entry.videos, start=1)),
            tables=written_tables(entry),
            panels=site.extras.panels.get(entry.id, ()),
            tools=tuple(site.tool_link(tool) for tool in entry.tools),
            methods=tuple(site.method_link(method) for method in entry.methods),
            place=entry.place,
            time=tuple(f"{name}: {say_minutes(minutes)}" for name, minutes in entry.time)
            if len(entry.time) > 1
            else (),
            assembly=site.assembly_link(entry.assembly.id),
            assembly_hours="" if entry.draft else say_minutes(entry.assembly_minutes_to_date),
            clips=tuple(Link(text=clip.name, address=f"source/{clip.src_uri}") for clip in entry.clips)
            if site.everything
            else (),
            answers=tuple(entry.answers.items()),
            before=site.card(journal.before) if journal.before else None,
            after=site.card(journal.after) if journal.after else None,
            assembly_before=site.card(assembly.before) if assembly.before else None,
            assembly_after=site.card(assembly.after) if assembly.after else None,
            draft=entry.draft,
            private=entry.private,
            problems=tuple(
                (f"line {problem.line}" if problem.line else "", problem.message + _hint(problem.hint))
                for problem in site.view.problems
                if problem.file == entry.src_uri
            )
            if site.view.audience is Audience.PREVIEW
            else (),
        ),
        section=ENTRIES,
        entries=(entry,),
        html=prose.html,
        picture=site.extras.cards.get(entry.id) or (cover.middle if cover else ""),
        picture_alt=cover.alt if cover else entry.title,
        kind="article",
        hidden=entry.draft,
    )


def _hint(hint: str) -> str:
    return f"; {hint}" if hint else ""


def written_tables(entry: ShownEntry) -> tuple[Table, ...]:
    """Fasteners, torque and materials of an entry as they were written down."""
    tables = []
    if entry.fasteners:
        tables.append(_columns_used("Rivets set", FASTENER_COLUMNS, [_fastener_row(row) for row in entry.fasteners]))
    if entry.torque:
        tables.append(_columns_used("Bolts tightened", TORQUE_COLUMNS, [_torque_row(row) for row in entry.torque]))
    if entry.materials:
        tables.append(
            Table(
                caption="Materials used",
                columns=("Material", "Batch", "Use before"),
                rows=tuple(_material_row(material) for material in entry.materials),
            )
        )
    return tuple(tables)


FASTENER_COLUMNS = ("Rivet", "Count", "Grip", "Shop head", "Edge distance")
TORQUE_COLUMNS = ("Bolt", "Nut", "Wrench set to", "Of it drag", "Wrench")


def _columns_used(caption: str, columns: tuple[str, ...], rows: list[tuple[str, ...]]) -> Table:
    """A table without the columns in which nothing was written."""
    used = [place for place in range(len(columns)) if any(row[place] for row in rows)]
    return Table(
        caption=caption,
        columns=tuple(columns[place] for place in used),
        rows=tuple(tuple(row[place] or NOTHING for place in used) for row in rows),
        numeric=frozenset(range(1, len(used))),
        caution=True,
    )


def _fastener_row(row: FastenerSet) -> tuple[str, ...]:
    head = ""
    if row.shop_head_width is not None and row.shop_head_height is not None:
        head = f"{say_length(row.shop_head_width)} × {say_length(row.shop_head_height)}"
    return (row.rivet, f"{row.count:,}" if row.count is not None else "", _length(row.grip), head, _length(row.edge))


def _length(inches: Fraction | None) -> str:
    return "" if inches is None else say_length(inches)


def _torque_row(row: TorqueSetting) -> tuple[str, ...]:
    drag = "" if row.drag is None else say_torque(row.drag)
    return (row.bolt, row.nut.value, say_torque(row.value), drag, row.wrench)


def _material_row(material: Material) -> tuple[str, ...]:
    return (
        material.name or material.id,
        material.batch or NOTHING,
        say_date(material.expires) if material.expires else NOTHING,
    )


_WATCH_ID = re.compile(r"(?:[?&]v=|youtu\.be/|/shorts/|/live/|/embed/)([A-Za-z0-9_-]{6,20})")
_FILM_ID = re.compile(r"vimeo\.com/(?:video/)?(\d{5,12})")


def plan_video(address: str, number: int) -> VideoPanel:
    """How a film's address is shown. Only two hosts' frames are known; every other is a link."""
    host = (urlsplit(address).hostname or "").removeprefix("www.").removeprefix("m.")
    embed = ""
    if host in ("youtube.com", "youtu.be", "youtube-nocookie.com") and (found := _WATCH_ID.search(address)):
        embed = f"https://www.youtube-nocookie.com/embed/{found[1]}?autoplay=1"
    elif host in ("vimeo.com", "player.vimeo.com") and (found := _FILM_ID.search(address)):
        embed = f"https://player.vimeo.com/video/{found[1]}?autoplay=1&dnt=1"
    return VideoPanel(address=address, host=host, embed=embed, label=f"Film {number}")


# -- the builder's own pages ---------------------------------------------------------------------


def _pictures_shown(site: SiteContext, page: FreePage) -> dict[str, PictureBox]:
    """Pictures of entries that a page of the builder's own shows, by the words that it names them with."""
    folder = posixpath.dirname(page.src_uri)
    found = {
        image.target: site.box_at(posixpath.normpath(posixpath.join(folder, image.target)))
        for image in find_images(page.body)
        if not image.elsewhere
    }
    return {target: box for target, box in found.items() if box is not None}


def own_page(site: SiteContext, page: FreePage) -> PageRecord:
    """A page of the builder's own words."""
    address = site.addresses.page_address[page.id]
    prose = site.render_body(
        page.body,
        src_uri=page.src_uri,
        title=page.title,
        linker=site.linker(address),
        boxes=_pictures_shown(site, page),
        anchored=False,
    )
    return site.page(
        address,
        "page.html",
        page.title,
        shorten(prose.lead or page.title, 180),
        None,
        section="pages/",
        html=prose.html,
    )
