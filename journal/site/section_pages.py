"""Pages that are headings with paragraphs and tables under them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from journal.base.model import AuthorityRules
from journal.trade.tables import Publication
from journal.view.page_parts import Group, PageRecord, Table, TableCell


def section_page(address: str, title: str, description: str, **more: Any) -> PageRecord:
    """A page of groups at `address`, which is its part of the site as well; `more` are fields of the page's record."""
    return PageRecord(
        address=address, template="trade.html", title=title, description=description, section=address, **more
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


def rule_groups(rules: AuthorityRules, *headings: str) -> tuple[Group, ...]:
    """What the chosen rules say under each of these headings of theirs, with its source; nothing where nothing is."""
    return tuple(
        Group(title=f"{heading.capitalize()}: {rules.country}", anchor=f"rules-{heading}", points=said)
        for heading, said in rules.lines.items()
        if heading in headings
    )


def publication(source: Publication) -> str:
    """A published source, and what of it was read."""
    return f"{source.name}: {source.document}. Read: {source.read}."
