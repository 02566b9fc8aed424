"""The terms page and the builder's own pages."""

from __future__ import annotations

import posixpath
from dataclasses import dataclass

from journal.base.addresses import TERMS
from journal.base.formatting import say_count
from journal.base.model import FreePage
from journal.base.prose import find_images
from journal.site.site_context import SiteContext, shorten
from journal.view.page_parts import Link, PageRecord
from journal.view.shown_pictures import PictureBox
from journal.view.view import ShownEntry

ENTRIES_LINKED = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class TermLine:
    """A trade word with its meaning, and the entries that use it."""

    name: str
    also: str
    meaning: str
    source: str
    anchor: str
    own: bool
    entries: tuple[Link, ...]
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


def terms_page(site: SiteContext) -> PageRecord:
    """Every trade word, linked back to the entries that use it, newest first."""
    used: dict[str, list[ShownEntry]] = {}
    for entry in reversed(site.view.entries):
        for term in site.prose(entry).terms:
            used.setdefault(term.name, []).append(entry)
    letters: dict[str, list[TermLine]] = {}
    for term in site.terms:
        entries = used.get(term.name, [])
        letters.setdefault(_letter(term.name), []).append(
            TermLine(
                name=term.name,
                also=", ".join(term.names[1:]),
                meaning=term.meaning,
                source=term.source,
                anchor=site.term_anchor[term.name],
                own=term.own,
                entries=_links(site, entries),
                more=f"and {say_count(len(entries) - ENTRIES_LINKED, 'other entry', 'other entries')}"
                if len(entries) > ENTRIES_LINKED
                else "",
            )
        )
    return PageRecord(
        address=TERMS,
        template="terms.html",
        title="Terms",
        description=f"{say_count(len(site.terms), 'word')} of the trade explained, with the entries that use them.",
        html="",
        record=TermsPage(
            title="Terms",
            intro=f"{say_count(len(site.terms), 'word')} of the trade in plain words. The manual and the published "
            "standards have the last word on what a term means.",
            letters=tuple(Letter(letter=letter, terms=tuple(letters[letter])) for letter in sorted(letters)),
        ),
        section=TERMS,
        updated=site.view.last_day.isoformat() if site.view.last_day else "",
    )


def _letter(name: str) -> str:
    first = name[:1].upper()
    return first if first.isalpha() else "#"


def _links(site: SiteContext, entries: list[ShownEntry]) -> tuple[Link, ...]:
    return tuple(
        Link(text=entry.title, address=site.addresses.entry_address[entry.id], note=site.say_day(entry))
        for entry in entries[:ENTRIES_LINKED]
    )


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
    return PageRecord(
        address=address,
        template="page.html",
        title=page.title,
        description=shorten(prose.lead or page.title, 180),
        html=prose.html,
        record=OwnPage(title=page.title),
        section="pages/",
        updated=site.view.last_day.isoformat() if site.view.last_day else "",
    )
