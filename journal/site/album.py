"""The photos page: a contact sheet by month, then date and assembly."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from journal.base.addresses import PHOTOS
from journal.base.formatting import month_of, say_count, say_month
from journal.site.site_context import SiteContext
from journal.view.page_parts import Card, Link, PageRecord
from journal.view.shown_pictures import PictureBox
from journal.view.view import ShownEntry

ON_PAGE = 240
"""Pictures on one page (about 700 bytes of HTML each); more are parted by month."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ContactStrip:
    """The pictures of one entry."""

    card: Card
    pictures: tuple[PictureBox, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AlbumMonth:
    """A month of strips, newest first."""

    title: str
    anchor: str
    words: str
    strips: tuple[ContactStrip, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AlbumPage:
    """What the template `photos.html` places."""

    title: str
    intro: str
    months: tuple[AlbumMonth, ...]
    parts: tuple[Link, ...]
    part: str


def album_pages(site: SiteContext) -> list[PageRecord]:
    """All pictures: one page while they are few, else a page a month (and more where a month is full)."""
    with_pictures = [
        (entry, boxes)
        for entry in reversed(site.view.entries)
        if (boxes := tuple(box for box in site.boxes(entry) if box.usable))
    ]
    total = sum(len(boxes) for _, boxes in with_pictures)
    if total <= ON_PAGE:
        return [_page(site, PHOTOS, "Photos", "", with_pictures, (), total)]
    by_month: dict[str, list[tuple[ShownEntry, tuple[PictureBox, ...]]]] = {}
    for entry, boxes in with_pictures:
        by_month.setdefault(month_of(entry.date), []).append((entry, boxes))
    parts: list[tuple[str, str, list[tuple[ShownEntry, tuple[PictureBox, ...]]]]] = []
    for month, strips in by_month.items():
        for number, part in enumerate(_parted(strips), start=1):
            words = say_month(month) + (f", part {number}" if number > 1 else "")
            mark = month + (f"-{number}" if number > 1 else "")
            parts.append((PHOTOS if not parts else f"{PHOTOS}{mark}/", words, part))
    links = tuple(
        Link(text=words, address=address, note=str(sum(len(boxes) for _, boxes in part)))
        for address, words, part in parts
    )
    return [_page(site, address, f"Photos, {words}", words, part, links, total) for address, words, part in parts]


def _parted(
    strips: Sequence[tuple[ShownEntry, tuple[PictureBox, ...]]],
) -> list[list[tuple[ShownEntry, tuple[PictureBox, ...]]]]:
    parts: list[list[tuple[ShownEntry, tuple[PictureBox, ...]]]] = [[]]
    count = 0
    for entry, boxes in strips:
        if count and count + len(boxes) > ON_PAGE:
            parts.append([])
            count = 0
        parts[-1].append((entry, boxes))
        count += len(boxes)
    return parts


def _page(
    site: SiteContext,
    address: str,
    title: str,
    part: str,
    strips: Sequence[tuple[ShownEntry, tuple[PictureBox, ...]]],
    parts: tuple[Link, ...],
    total: int,
) -> PageRecord:
    by_month: dict[str, list[tuple[ShownEntry, tuple[PictureBox, ...]]]] = {}
    for entry, boxes in strips:
        by_month.setdefault(month_of(entry.date), []).append((entry, boxes))
    return PageRecord(
        address=address,
        template="photos.html",
        title=title,
        description=f"{say_count(total, 'picture')} of {site.view.aircraft.name} by date and assembly.",
        html="",
        record=AlbumPage(
            title=title,
            intro=f"{say_count(total, 'picture')}, the newest entry first; within an entry in the order in which "
            "they were taken.",
            months=tuple(
                AlbumMonth(
                    title=say_month(month),
                    anchor=f"month-{month}",
                    words=say_count(sum(len(boxes) for _, boxes in of_month), "picture"),
                    strips=tuple(ContactStrip(card=site.card(entry), pictures=boxes) for entry, boxes in of_month),
                )
                for month, of_month in by_month.items()
            ),
            parts=parts,
            part=part,
        ),
        section=PHOTOS,
        updated=strips[0][0].date.isoformat() if strips else "",
    )
