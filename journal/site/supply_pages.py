"""Pages of supplies, for the archive alone: hardware received, set and needed; what the maker owes, and a letter."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from html import escape

from journal.base.formatting import say_count, say_date
from journal.site.section_pages import private_page, table_group
from journal.site.site_context import NOTHING, SiteContext
from journal.view.page_parts import Cell, Group, Link, PageRecord, TableCell
from journal.view.view import Hardware, Stock, StockLine, View

HARDWARE = "hardware/"
MISSING = "missing/"
LETTER = f"{MISSING}letter.txt"


def hardware_page(site: SiteContext) -> PageRecord:
    """Each part number: received, set, left, and what the call-outs of the steps to come take."""
    parts = site.view.hardware
    needs = [
        (
            part.number,
            Link(text=need.step, address=site.addresses.step_address[need.step]),
            need.place or NOTHING,
            f"{need.count:,}",
        )
        for part in parts
        for need in part.needs
    ]
    to_come = table_group("Steps to come", "needs", "Needed", ("Part", "Step", "Manual", "Pieces"), needs, numeric=(3,))
    return private_page(
        HARDWARE,
        "Hardware",
        "Rivets, bolts and nuts: received, set, left, and still needed.",
        block=(
            Cell(label="Part numbers", value=f"{len(parts):,}"),
            Cell(label="Too few", value=f"{sum(part.short > 0 for part in parts):,}", strong=True),
        ),
        intro="Received is what was found, or listed once the rest has arrived; set is what the entries tell, those in "
        "place of drilled-out ones included; needed is what call-outs with a count ask of steps that are not done. A "
        "line without a count cannot be taken off.",
        groups=(
            table_group(
                "Parts",
                "parts",
                "Parts",
                ("Part", "Received", "Set", "of these anew", "Left", "Needed", "Too few", "Note"),
                map(_hardware_row, parts),
                numeric=range(1, 7),
            ),
            *([to_come] if needs else []),
        ),
    )


def _hardware_row(part: Hardware) -> tuple[TableCell, ...]:
    notes = [
        "not on the packing list" if not part.items else "",
        f"{say_count(part.uncounted, 'row')} not counted yet" if part.uncounted else "",
        f"{say_count(part.untold, 'line')} without a count" if part.untold else "",
    ]
    numbers = (part.received, part.set, part.replaced, part.left, part.needed, part.short)
    said = ("not counted" if number is None else f"{number:,}" for number in numbers)
    return (part.number, *said, "; ".join(filter(None, notes)))


def missing_page(view: View) -> PageRecord:
    """What is short, damaged and unchecked, how far the maker's replacements are, and a letter to the maker."""
    owed = [line for line in view.stock if line.claim]
    unchecked = [line for line in view.stock if Stock.UNCHECKED in line.states]
    arrived = [line for line in view.stock if line.item.arrived_on]
    tables = {"Short or damaged": owed, "Not checked yet": unchecked, "Arrived": arrived}
    columns = ("Part", "Description", "Crate", "What is wrong", "Claimed", "Promised", "Arrived", "Note")
    return private_page(
        MISSING,
        "What is missing",
        "Parts that are short, damaged or not checked, and what the maker owes.",
        caution="",
        block=(
            Cell(label="Short or damaged", value=f"{len(owed):,}", strong=True),
            Cell(label="Not claimed yet", value=f"{sum(line.item.claimed_on is None for line in owed):,}"),
            Cell(label="Promised day is over", value=f"{sum(line.late for line in owed):,}", strong=True),
            Cell(label="Not checked yet", value=f"{len(unchecked):,}"),
        ),
        groups=(
            *(
                table_group(title, f"state-{number}", title, columns, map(_missing_row, rows))
                for number, (title, rows) in enumerate(tables.items(), start=1)
                if rows
            ),
            *_letter_group(view),
        ),
    )


def _missing_row(line: StockLine) -> tuple[TableCell, ...]:
    item = line.item
    claimed, promised, arrived = (
        say_date(day) if day else NOTHING for day in (item.claimed_on, item.promised_for, item.arrived_on)
    )
    promised += ", which is over" if line.late else ""
    return item.part, item.description, item.crate, say_wrong(line), claimed, promised, arrived, item.replacement_note


def say_wrong(line: StockLine) -> str:
    """`listed 4, found 3, 1 short; flange bent`: the counts, and the condition as written."""
    item = line.item
    told = [
        f"listed {item.listed:,}, found {item.found:,}, {line.missing:,} short" if line.missing else "",
        item.condition if Stock.DAMAGED in line.states else "",
        "not counted" if Stock.UNCHECKED in line.states else "",
    ]
    return "; ".join(filter(None, told))


def _letter_group(view: View) -> Iterator[Group]:
    if text := letter_to_maker(view):
        yield Group(
            title="A letter to the maker",
            anchor="letter",
            paragraphs=(
                "It names what is short or damaged and has not arrived; take out what you mended or bought yourselves. "
                f"One click marks all of it, and it lies beside this page as {LETTER.removeprefix(MISSING)}.",
            ),
            html=f'<pre class="letter" tabindex="0" aria-label="A letter to the maker">{escape(text)}</pre>',
        )


def letter_to_maker(view: View) -> str:
    """The claims as plain text, ready to be sent; empty where nothing is owed."""
    owed = [line for line in view.stock if line.claim]
    if not owed:
        return ""
    serial = f", serial {view.aircraft.serial}" if view.aircraft.serial else ""
    kit = f"{view.aircraft.name}{serial}"
    parts = "\n".join(_letter_lines(owed))
    return (
        f"Subject: parts that are short or damaged, {kit}\n\nDear Sir or Madam,\n\n"
        f"When we checked our kit ({kit}) against the packing list, these parts were short or damaged:\n\n{parts}\n\n"
        "Please tell us when their replacements will be sent, and whether you need pictures or the damaged parts.\n\n"
        f"Yours faithfully,\n{', '.join(view.builders)}\n"
    )


def _letter_lines(lines: Iterable[StockLine]) -> Iterator[str]:
    for line in lines:
        item = line.item
        crate = f" (crate {item.crate})" if item.crate else ""
        yield f"- {item.part}{f', {item.description}' if item.description else ''}{crate}: {say_wrong(line)}"
        days = (("checked on", item.checked_on), ("claimed on", item.claimed_on), ("promised for", item.promised_for))
        if said := ", ".join(f"{word} {say_date(day)}" for word, day in days if day):
            yield f"  {said}"
