"""Pages that are headings with paragraphs and tables under them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from journal.trade.tables import Publication, sources_named
from journal.view.page_parts import Cell, PageRecord, Table


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A heading with paragraphs and tables under it."""

    heading: str
    anchor: str
    paragraphs: tuple[str, ...] = ()
    points: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionPage:
    """What the template `trade.html` places."""

    label: str
    block: tuple[Cell, ...]
    intro: str
    caution: str
    sections: tuple[Section, ...]


def section_page(
    address: str,
    title: str,
    description: str,
    *,
    label: str,
    intro: str,
    sections: Sequence[Section],
    block: Sequence[Cell] = (),
    caution: str = "",
    hidden: bool = False,
    updated: str = "",
) -> PageRecord:
    """A page of sections at `address`, which is its part of the site as well. `hidden` keeps it from search engines."""
    return PageRecord(
        address=address,
        template="trade.html",
        title=title,
        description=description,
        record=SectionPage(
            label=label,
            block=tuple(block),
            intro=intro,
            caution=caution,
            sections=tuple(sections),
        ),
        section=address,
        hidden=hidden,
        updated=updated,
    )


def say_sources(lines: Sequence[str]) -> tuple[str, ...]:
    """What rests on what, then the publications with what of them was read."""
    return (*lines, *(publication(source) for source in sources_named(lines)))


def publication(source: Publication) -> str:
    """A published source, and what of it was read."""
    return f"{source.name}: {source.document}. Read: {source.read}."
