"""Pages that are headings with paragraphs and tables under them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from journal.base.model import AuthorityRules
from journal.base.words import _
from journal.site.site_context import NOTHING
from journal.trade.figures import CAUTION
from journal.trade.tables import Publication
from journal.view.page_parts import Group, Link, PageRecord, Table, TableCell


def section_page(address: str, title: str, description: str, **more: Any) -> PageRecord:
    """A page of groups at `address`, which is its part of the site as well; `more` are fields of the page's record."""
    told = {"template": "trade.html", "section": address, **more}
    return PageRecord(address=address, title=title, description=description, **told)


def private_page(
    address: str,
    title: str,
    description: str,
    *,
    label: str = "",
    caution: str = CAUTION,
    **more: Any,
) -> PageRecord:
    """A page of groups that no follower sees and no search engine is to keep."""
    return section_page(
        address, title, description, label=label or _("In the archive alone"), caution=caution, hidden=True, **more
    )


def table_group(
    title: str,
    anchor: str,
    caption: str,
    columns: Sequence[str],
    rows: Iterable[tuple[TableCell, ...]],
    *,
    numeric: Iterable[int] = (),
    paragraphs: tuple[str, ...] = (),
) -> Group:
    """A heading with one table under it."""
    table = Table(caption=caption, columns=tuple(columns), rows=tuple(rows), numeric=frozenset(numeric))
    return Group(title=title, anchor=anchor, paragraphs=paragraphs, tables=(table,))


def few_links(links: Iterable[Link], *, most: int) -> TableCell:
    """So many links before the rest is counted, so that a row stays a row on a phone."""
    every = tuple(links)
    return (
        *every[:most],
        *([_("and {number} more", number=len(every) - most)] if len(every) > most else []),
    ) or NOTHING


def rule_groups(rules: AuthorityRules, *headings: str) -> tuple[Group, ...]:
    """What the chosen rules say under each of these headings of theirs, with its source; nothing where nothing is."""
    return tuple(
        Group(title=f"{heading.capitalize()}: {rules.country}", anchor=f"rules-{heading}", points=said)
        for heading, said in rules.lines.items()
        if heading in headings
    )


def publication(source: Publication) -> str:
    """A published source, and what of it was read."""
    return _("{name}: {document}. Read: {read}.", name=source.name, document=source.document, read=source.read)
