"""Closing dossiers, for archive and preview: a page for each structure closed for good, and one that lists them."""

from __future__ import annotations

from collections.abc import Iterator

from journal.base.formatting import say_date
from journal.site.section_pages import few_links, private_page, table_group
from journal.site.site_context import NOTHING, SiteContext
from journal.view.dossier import Dossier, SheetCell, SheetTable, dossiers
from journal.view.page_parts import Cell, Group, Link, PageRecord, TableCell
from journal.view.view import ShownEntry

CLOSINGS = "closings/"
_LISTED = ("Closed on", "Steps behind it", "Pictures of the inside", "Last look before")


def closing_pages(site: SiteContext) -> Iterator[PageRecord]:
    """The list, then each dossier; nothing where nothing is closed or about to be."""
    step_address = site.addresses.step_address
    found = {CLOSINGS + step_address[one.closing.step.id].removeprefix("steps/"): one for one in dossiers(site.view)}
    rows: list[tuple[TableCell, ...]] = [
        (
            Link(text=one.title, address=address),
            site.assembly_link(one.closing.step.assembly),
            *(one.block[label] for label in _LISTED),
            f"{sum(gap.answered_in is None for gap in one.gaps):,}" if site.everything else NOTHING,
        )
        for address, one in found.items()
    ]
    columns = ("Structure", "Assembly", *_LISTED, "To ask")
    if found:
        yield private_page(
            CLOSINGS,
            "Closings",
            "Structures that are closed for good, and what shows the inside of each.",
            label="Closed for good",
            intro="Each leads to its dossier: what an inspector needs who cannot open the structure, on one page.",
            groups=(table_group("Structures", "closings", "Structures", columns, rows, numeric=(6,)),),
        )
    for address, one in found.items():
        yield _dossier_page(site, address, one)


def _dossier_page(site: SiteContext, address: str, dossier: Dossier) -> PageRecord:
    asked = dossier.asked or (("The rules find nothing.", ""),)
    boxes = tuple(box for photo in dossier.pictures if (box := site.box_at(photo.src_uri)))
    none = () if boxes else ("No picture of the inside vouches for this closing.",)
    return private_page(
        address,
        f"Closing dossier: {dossier.title}",
        f"{dossier.title}: what is behind it and what shows that.",
        section=CLOSINGS,
        heading=dossier.title,
        label="Closing dossier",
        block=tuple(Cell(label=label, value=value, strong=label in _LISTED) for label, value in dossier.block.items()),
        intro=f"What is behind step {dossier.closing.step.id}, “{dossier.closing.step.title}”, for somebody who cannot "
        "open it. It says what was written and seen, and not that the work is right.",
        groups=(
            table_group("What an inspector would ask", "asked", "To ask", ("What", "The builder’s answer"), asked)
            if site.everything
            else Group(),
            Group(title="The inside", anchor="inside", paragraphs=none, pictures=boxes),
            *(_table(site, table, number) for number, table in enumerate(dossier.tables, start=1)),
        ),
    )


def _table(site: SiteContext, table: SheetTable, number: int) -> Group:
    anchor = f"part-{number}"
    if not table.rows:
        return Group(title=table.title, anchor=anchor, paragraphs=("None written down.",))
    rows = (tuple(_cell(site, cell) for cell in row) for row in table.rows)
    told = (f"{table.note}.",) if table.note else ()
    return table_group(table.title, anchor, table.title, table.columns, rows, paragraphs=told)


def _cell(site: SiteContext, cell: SheetCell) -> TableCell:
    if isinstance(cell, str):
        return cell
    links = (
        Link(
            text=site.say_day(told) if isinstance(told, ShownEntry) else say_date(told.date),
            address=site.addresses.linkable[told.src_uri],
        )
        for told in cell
    )
    return few_links(links, most=4)
