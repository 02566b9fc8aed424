"""The terms page and the builder's own pages."""

from __future__ import annotations

import posixpath
from dataclasses import dataclass

from journal.base.addresses import TERMS
from journal.base.model import FreePage
from journal.base.prose import find_images
from journal.site.site_context import Desk, shorten
from journal.view.shown_pictures import PictureBox
from journal.view.page_parts import Link, PageRecord
from journal.view.view import Sheet
from journal.base.formatting import say_count

SHEETS_LINKED = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class TermLine:
    """A trade word with its meaning, and the sheets that use it."""

    name: str
    also: str
    meaning: str
    source: str
    anchor: str
    own: bool
    sheets: tuple[Link, ...]
    more: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Letter:
    """The terms under one letter."""

    letter: str
    terms: tuple[TermLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TermsPage:
    """What the template `terms.html` places."""

    title: str
    intro: str
    letters: tuple[Letter, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnPage:
    """What the template `page.html` places."""

    title: str


def terms_page(desk: Desk) -> PageRecord:
    """Every trade word, linked back to the sheets that use it, newest first."""
    used: dict[str, list[Sheet]] = {}
    for sheet in reversed(desk.view.sheets):
        for term in desk.prose(sheet).terms:
            used.setdefault(term.name, []).append(sheet)
    letters: dict[str, list[TermLine]] = {}
    for term in desk.terms:
        sheets = used.get(term.name, [])
        letters.setdefault(_letter(term.name), []).append(
            TermLine(
                name=term.name,
                also=", ".join(term.names[1:]),
                meaning=term.meaning,
                source=term.source,
                anchor=desk.term_anchor[term.name],
                own=term.own,
                sheets=_links(desk, sheets),
                more=f"and {say_count(len(sheets) - SHEETS_LINKED, 'other sheet')}"
                if len(sheets) > SHEETS_LINKED
                else "",
            )
        )
    return PageRecord(
        address=TERMS,
        template="terms.html",
        title="Terms",
        description=f"{say_count(len(desk.terms), 'word')} of the trade explained, with the sheets that use them.",
        html="",
        record=TermsPage(
            title="Terms",
            intro=f"{say_count(len(desk.terms), 'word')} of the trade in plain words. The manual and the published "
            "standards have the last word on what a term means.",
            letters=tuple(Letter(letter=letter, terms=tuple(letters[letter])) for letter in sorted(letters)),
        ),
        section=TERMS,
        updated=desk.view.last_day.isoformat() if desk.view.last_day else "",
    )


def _letter(name: str) -> str:
    first = name[:1].upper()
    return first if first.isalpha() else "#"


def _links(desk: Desk, sheets: list[Sheet]) -> tuple[Link, ...]:
    return tuple(
        Link(text=sheet.title, address=desk.atlas.entry_address[sheet.id], note=desk.say_day(sheet))
        for sheet in sheets[:SHEETS_LINKED]
    )


def _pictures_shown(desk: Desk, page: FreePage) -> dict[str, PictureBox]:
    """Pictures of sheets that a page of the builder's own shows, by the words that it names them with."""
    folder = posixpath.dirname(page.src_uri)
    found = {
        image.target: desk.box_at(posixpath.normpath(posixpath.join(folder, image.target)))
        for image in find_images(page.body)
        if not image.elsewhere
    }
    return {target: box for target, box in found.items() if box is not None}


def own_page(desk: Desk, page: FreePage) -> PageRecord:
    """A page of the builder's own words."""
    address = desk.atlas.page_address[page.id]
    prose = desk.render_body(
        page.body,
        src_uri=page.src_uri,
        title=page.title,
        linker=desk.linker(address),
        boxes=_pictures_shown(desk, page),
        anchored=False,
    )
    return PageRecord(
        address=address,
        template="page.html",
        title=page.title,
        description=shorten(prose.lead or page.title, 180),
        html=prose.html,
        record=OwnPage(title=page.title),
        section="pages/",
        updated=desk.view.last_day.isoformat() if desk.view.last_day else "",
    )
