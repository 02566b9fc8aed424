"""Closing dossiers, for archive and preview: a page for each structure closed for good, and one that lists them."""

from __future__ import annotations

from collections.abc import Iterator

from journal.base.formatting import say_count, say_date
from journal.site.section_pages import section_page, table_group
from journal.site.site_context import NOTHING, SiteContext
from journal.trade.figures import CAUTION
from journal.view.dossier import Dossier, SheetCell, SheetTable, dossiers
from journal.view.page_parts import Cell, Group, Link, PageRecord, TableCell
from journal.view.view import ShownEntry

CLOSINGS = "closings/"
_LINKS = 4
_STRONG = ("Closed on", "Last look before", "Pictures of the inside")


def closing_pages(site: SiteContext) -> Iterator[PageRecord]:
    """The list, then each dossier; nothing where nothing is closed or about to be."""
    found = {_address(site, one): one for one in dossiers(site.view)}
    if not found:
        return
    columns = ("Structure", "Closing step", "Closed on", "Steps behind it", "Pictures", "Last look before", "To ask")
    rows = (
        (
            Link(text=one.title, address=address),
            site.view.assemblies[one.closing.step.assembly].title + f", {one.closing.step.id}",
            say_date(one.closing.closed_on) if one.closing.closed_on else "still open",
            said["Steps behind it"],
            said["Pictures of the inside"],
            said["Last look before"],
            f"{one.open_gaps:,}" if site.everything else NOTHING,
        )
        for address, one in found.items()
        for said in [dict(one.block)]
    )
    yield section_page(
        CLOSINGS,
        "Closings",
        "Structures that are closed for good, and what shows the inside of each.",
        label="Closed for good",
        block=(
            Cell(label="Closed", value=f"{sum(bool(one.closing.closed_on) for one in found.values()):,}", strong=True),
            Cell(label="Still open", value=f"{sum(one.closing.closed_on is None for one in found.values()):,}"),
            Cell(
                label="Closed without a picture",
                value=f"{sum(bool(one.closing.closed_on) and not one.pictures for one in found.values()):,}",
                strong=True,
            ),
        ),
        intro="Each leads to its dossier: what an inspector needs who cannot open the structure, on one page.",
        caution=CAUTION,
        groups=(table_group("Structures", "closings", "Structures", columns, rows, numeric=(6,)),),
        hidden=True,
    )
    for address, one in found.items():
        yield _dossier_page(site, address, one)


def _address(site: SiteContext, dossier: Dossier) -> str:
    return CLOSINGS + site.addresses.step_address[dossier.closing.step.id].removeprefix("steps/")


def _dossier_page(site: SiteContext, address: str, dossier: Dossier) -> PageRecord:
    step = dossier.closing.step
    gaps = [(gap.problem.message, gap.answer or "open") for gap in dossier.gaps]
    boxes = tuple(box for _, photo in dossier.pictures if (box := site.box_at(photo.src_uri)))
    asked = table_group("What an inspector would ask", "asked", "To ask", ("What", "The builder’s answer"), gaps)
    none = Group(title="What an inspector would ask", anchor="asked", paragraphs=("The rules find nothing to ask.",))
    return PageRecord(
        address=address,
        template="trade.html",
        title=f"Closing dossier: {dossier.title}",
        description=f"{dossier.title}: what is behind it and what shows that.",
        section=CLOSINGS,
        heading=dossier.title,
        label="Closing dossier",
        block=tuple(
            Cell(label=label, value=value, strong=label in _STRONG, span=3 if label == "Who worked on it" else 1)
            for label, value in dossier.block
        ),
        intro=f"What is behind step {step.id}, “{step.title}”, for somebody who cannot open it. The record says what "
        "was written and seen; it does not say that the work is right.",
        caution=CAUTION,
        groups=(
            *([asked if gaps else none] if site.everything else []),
            Group(
                title="The inside",
                anchor="inside",
                paragraphs=() if boxes else ("No picture of the inside vouches for this closing.",),
                pictures=boxes,
            ),
            *(_table(site, table, number) for number, table in enumerate((dossier.steps, *dossier.tables), start=1)),
        ),
        onward=(Link(text="All closings", address=CLOSINGS),),
        hidden=True,
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
    links = tuple(
        Link(
            text=site.say_day(told) if isinstance(told, ShownEntry) else say_date(told.date),
            address=site.addresses.linkable[told.src_uri],
        )
        for told in cell[:_LINKS]
    )
    more = len(cell) - _LINKS
    return (*links, *([f"and {say_count(more, 'more', 'more')}"] if more > 0 else [])) or NOTHING
