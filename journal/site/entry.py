"""Pages of a text: an entry with its title block, the aircraft on that day and its pictures; own pages."""

from __future__ import annotations

import posixpath
import re
from dataclasses import dataclass, replace
from urllib.parse import urlsplit

from journal.base.addresses import WRITTEN
from journal.base.formatting import say_date, say_minutes
from journal.base.model import FastenerSet, FreePage, TorqueSetting
from journal.base.prose import find_images
from journal.base.quantities import Quantity, say_figure
from journal.base.words import _, all_of
from journal.site.site_context import NOTHING, SiteContext, shorten
from journal.view.page_addresses import ENTRIES, Neighbours
from journal.view.page_parts import Cell, Group, Link, PageRecord, Table, Turn, only_told
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


def entry_page(site: SiteContext, entry: ShownEntry) -> PageRecord:
    """The page of `entry`."""
    address = site.addresses.entry_address[entry.id]
    prose = site.prose(entry)
    cover = site.cover(entry)
    left_over = site.not_placed(entry, prose)
    lead = (cover,) if cover in left_over else ()
    card = site.card(entry)
    said = _(
        "The aircraft at the end of {date}; this entry's part is {title}, picked out.",
        date=card.date,
        title=entry.assembly.title,
    )
    each = [f"{name}: {say_minutes(minutes)}" for name, minutes in entry.time]
    clips = entry.clips if site.everything else ()
    problems = site.view.problems if site.view.audience is Audience.PREVIEW else ()
    return site.page(
        address,
        "entry.html",
        entry.title,
        shorten(f"{card.day}, {card.date}: {entry.assembly.title}. {prose.lead}".strip(), DESCRIPTION_LENGTH),
        label=_("Entry"),
        badge=_("draft, seen by you alone")
        if entry.draft
        else _("private, in the archive alone")
        if entry.private
        else "",
        block=site.block(entry),
        record=card,
        drawing=site.drawing(address, said, entry.assembly.id, entry.states),
        steps=Group(title=_("Steps in this entry"), anchor="steps-here", steps=site.entry_steps(entry)),
        groups=(
            Group(pictures=lead),
            Group(
                title=_("More pictures") if prose.placed or lead else _("Pictures"),
                anchor="pictures",
                pictures=tuple(box for box in left_over if box not in lead),
            ),
            Group(
                items=tuple(plan_video(video, number) for number, video in enumerate(entry.videos, start=1)),
                tables=written_tables(entry),
            ),
            *site.extras.panels.get(address, ()),
            Group(
                title=_("Answers to gaps"),
                block=tuple(Cell(label=word, value=reason) for word, reason in entry.answers.items()),
            ),
        ),
        asides=only_told(
            Cell(label=_("Tools"), links=tuple(site.tool_link(tool) for tool in entry.tools)),
            Cell(label=_("Methods"), links=tuple(site.method_link(method) for method in entry.methods)),
            Cell(label=_("Each worked"), value="; ".join(each) if len(each) > 1 else ""),
            Cell(
                label=_("On {title} so far", title=entry.assembly.title),
                value="" if entry.draft else say_minutes(entry.assembly_minutes_to_date),
            ),
            Cell(label=_("Place"), value=entry.place),
            Cell(
                label=_("Films"), links=tuple(Link(text=clip.name, address=f"source/{clip.src_uri}") for clip in clips)
            ),
        ),
        turns=(
            _turn(
                site,
                site.addresses.in_journal[entry.id],
                Link(text=_("In the journal")),
                _("The first entry"),
                _("The newest entry"),
            ),
            _turn(
                site,
                site.addresses.in_assembly[entry.id],
                site.assembly_link(entry.assembly.id),
                _("The first on this part"),
                _("The newest on this part"),
            ),
        ),
        trouble=tuple(
            Cell(
                label=_("line {line}", line=problem.line) if problem.line else "",
                value=problem.message + (f"; {problem.hint}" if problem.hint else ""),
            )
            for problem in problems
            if problem.file == entry.src_uri
        ),
        section=ENTRIES,
        entries=(entry,),
        html=prose.html,
        cover=cover,
        kind="article",
        hidden=entry.draft,
    )


def _turn(site: SiteContext, between: Neighbours, order: Link, first: str, last: str) -> Turn:
    before, after = (site.entry_link(one) if one else None for one in between)
    return Turn(order=order, first=first, last=last, before=before, after=after)


def written_tables(entry: ShownEntry) -> tuple[Table, ...]:
    """Fasteners, torque and materials of an entry as they were written down; the ids are those of its own page."""
    if not (entry.fasteners or entry.torque or entry.materials):
        return ()
    materials = tuple(
        (one.name or one.id, one.batch or NOTHING, say_date(one.expires) if one.expires else NOTHING)
        for one in entry.materials
    )
    tables = [
        _columns_used(_("Rivets set"), FASTENER_COLUMNS, [_fastener_row(row) for row in entry.fasteners]),
        _columns_used(_("Bolts tightened"), TORQUE_COLUMNS, [_torque_row(row) for row in entry.torque]),
        Table(caption=_("Materials used"), columns=(_("Material"), _("Batch"), _("Use before")), rows=materials),
    ]
    return tuple(
        replace(table, ids=tuple(f"{word}-{number}" for number, _row in enumerate(table.rows, start=1)))
        for word, table in zip(WRITTEN, tables, strict=True)
        if table.rows
    )


FASTENER_COLUMNS = all_of("Part", "Count", "Grip", "Hole", "Shop head", "Edge distance", "Checked by", "In place of")
TORQUE_COLUMNS = (
    *all_of("Part", "Nut", "Count", "Wrench set to", "Of it drag", "Grip", "Threads showing", "Locked by", "Wrench"),
    *all_of("Checked by", "In place of"),
)


def _columns_used(caption: str, columns: tuple[str, ...], rows: list[tuple[str, ...]]) -> Table:
    """A table without the columns in which nothing was written."""
    used = [place for place in range(len(columns)) if any(row[place] for row in rows)]
    return Table(
        caption=caption,
        columns=tuple(_(columns[place]) for place in used),
        rows=tuple(tuple(row[place] or NOTHING for place in used) for row in rows),
        numeric=frozenset(range(1, len(used))),
        caution=True,
    )


def _fastener_row(row: FastenerSet) -> tuple[str, ...]:
    width, height, grip, edge = map(_figure, (row.shop_head_width, row.shop_head_height, row.grip, row.edge))
    head = f"{width} × {height}" if width and height else ""
    return (row.rivet, _count(row.count), grip, row.hole, head, edge, *_checked(row))


def _torque_row(row: TorqueSetting) -> tuple[str, ...]:
    value, drag, grip = map(_figure, (row.value, row.drag, row.grip))
    told = (row.bolt, row.nut, _count(row.count), value, drag, grip, row.threads, row.locked, row.wrench)
    return (*told, *_checked(row))


def _checked(row: FastenerSet | TorqueSetting) -> tuple[str, str]:
    return ", ".join(row.checked_by), _("drilled out: {entry}", entry=row.drilled_out) if row.drilled_out else ""


def _count(count: int | None) -> str:
    return "" if count is None else f"{count:,}"


def _figure(told: Quantity | None) -> str:
    return "" if told is None else say_figure(told.value, told.dimension)


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
    return VideoPanel(address=address, host=host, embed=embed, label=_("Film {number}", number=number))


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
        section="pages/",
        html=prose.html,
    )
