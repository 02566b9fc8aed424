"""Tools, methods and the parts list: what the work was done with, and what it is done to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from journal.base.addresses import INVENTORY
from journal.base.formatting import say_count, say_date
from journal.base.model import InventoryItem
from journal.site.site_context import NOTHING, SiteContext
from journal.view.page_addresses import METHODS, TOOLS
from journal.view.page_parts import Card, Cell, Link, PageRecord, StepLine, Table
from journal.view.shown_pictures import PictureBox
from journal.view.view import ShownEntry

ENTRIES_SHOWN = 120
"""Entries listed on one tool's page; the register has the others."""
STEPS_SHOWN = 120
PICTURES = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class NamePage:
    """What the template `name.html` places: one tool or method."""

    title: str
    kind: str
    block: tuple[Cell, ...]
    cards: tuple[Card, ...]
    more: str
    steps: tuple[StepLine, ...]
    more_steps: str
    pictures: tuple[PictureBox, ...]
    index: Link


@dataclass(frozen=True, slots=True, kw_only=True)
class NamesPage:
    """What the template `names.html` places: all tools or methods, most used first."""

    title: str
    intro: str
    names: tuple[Link, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class InventoryPage:
    """What the template `inventory.html` places."""

    title: str
    intro: str
    block: tuple[Cell, ...]
    crates: tuple[Table, ...]


def tools_pages(site: SiteContext) -> list[PageRecord]:
    """An index of tools and a page for each."""
    view, addresses = site.view, site.addresses
    pages = [
        _names(
            site,
            TOOLS,
            "Tools",
            "Tools named in the entries, the most used first; each page shows where and for which steps.",
            {folded: (form, addresses.tool_address[folded]) for folded, form in view.tools.items()},
            addresses.by_tool,
        )
    ]
    return pages + [
        _name(site, addresses.tool_address[folded], form, "Tool", TOOLS, addresses.by_tool.get(folded, ()))
        for folded, form in view.tools.items()
    ]


def methods_pages(site: SiteContext) -> list[PageRecord]:
    """An index of methods and a page for each."""
    view, addresses = site.view, site.addresses
    pages = [
        _names(
            site,
            METHODS,
            "Methods",
            "Ways of working named in the entries, the most used first.",
            {folded: (form, addresses.method_address[folded]) for folded, form in view.methods.items()},
            addresses.by_method,
        )
    ]
    return pages + [
        _name(site, addresses.method_address[folded], form, "Method", METHODS, addresses.by_method.get(folded, ()))
        for folded, form in view.methods.items()
    ]


def _names(
    site: SiteContext,
    address: str,
    title: str,
    intro: str,
    forms: dict[str, tuple[str, str]],
    used: Mapping[str, tuple[ShownEntry, ...]],
) -> PageRecord:
    counts = {folded: len(used.get(folded, ())) for folded in forms}
    ordered = sorted(forms, key=lambda folded: (-counts[folded], folded))
    return PageRecord(
        address=address,
        template="names.html",
        title=title,
        description=f"{say_count(len(forms), title.lower()[:-1])} used on {site.view.aircraft.name}.",
        html="",
        record=NamesPage(
            title=title,
            intro=intro,
            names=tuple(
                Link(text=forms[folded][0], address=forms[folded][1], note=say_count(counts[folded], "entry", "entries"))
                for folded in ordered
            ),
        ),
        section=address,
        updated=site.view.last_day.isoformat() if site.view.last_day else "",
    )


def _name(
    site: SiteContext, address: str, form: str, kind: str, index: str, entries: Sequence[ShownEntry]
) -> PageRecord:
    shown = list(reversed(entries))[:ENTRIES_SHOWN]
    ids = dict.fromkeys(step.id for entry in entries for step in entry.all_steps)
    steps = sorted(ids, key=lambda step: site.addresses.rank[step])
    pictures = [box for entry in shown if (box := site.cover(entry))][:PICTURES]
    left = len(entries) - len(shown)
    return PageRecord(
        address=address,
        template="name.html",
        title=form,
        description=f"{kind}: {form}. Used in {say_count(len(entries), 'entry', 'entries')} of {site.site_name}.",
        html="",
        record=NamePage(
            title=form,
            kind=kind,
            block=(
                Cell(label="Entries", value=f"{len(entries):,}", strong=True),
                Cell(label="First used", value=say_date(entries[0].date) if entries else NOTHING, span=2),
                Cell(label="Steps", value=f"{len(steps):,}"),
                Cell(label="Last used", value=say_date(entries[-1].date) if entries else NOTHING, span=2),
            ),
            cards=site.cards(shown),
            more=f"and {say_count(left, 'older entry', 'older entries')}, in the register" if left else "",
            steps=tuple(site.step_line(site.view.steps[step]) for step in steps[:STEPS_SHOWN]),
            more_steps=f"and {say_count(len(steps) - STEPS_SHOWN, 'further step')}" if len(steps) > STEPS_SHOWN else "",
            pictures=tuple(pictures),
            index=Link(text=f"All {kind.lower()}s", address=index),
        ),
        section=index,
        picture=pictures[0].middle.address if pictures else "",
        picture_alt=pictures[0].alt if pictures else "",
        updated=entries[-1].date.isoformat() if entries else "",
    )


def inventory_page(site: SiteContext) -> PageRecord:
    """The packing list as checked, crate by crate; what is short or damaged says so in words."""
    items = site.view.inventory
    crates: dict[str, list[InventoryItem]] = {}
    for item in items:
        crates.setdefault(item.crate, []).append(item)
    unchecked = sum(item.checked_on is None for item in items)
    short = sum(_is_short(item) for item in items)
    return PageRecord(
        address=INVENTORY,
        template="inventory.html",
        title="Inventory",
        description=f"The parts of the kit as unpacked and counted: {say_count(len(items), 'line')}.",
        html="",
        record=InventoryPage(
            title="Inventory",
            intro="The packing list against what was found in the crates.",
            block=(
                Cell(label="Lines", value=f"{len(items):,}", strong=True),
                Cell(label="Short", value=f"{short:,}", strong=True),
                Cell(label="Crates", value=f"{len(crates):,}"),
                Cell(label="Not checked yet", value=f"{unchecked:,}", strong=True, span=3),
            ),
            crates=tuple(
                Table(
                    caption=f"Crate {crate}" if crate else "No crate named",
                    columns=("Part", "Description", "Listed", "Found", "Condition", "Kept in", "Checked", "By"),
                    rows=tuple(_item_row(item) for item in of_crate),
                    numeric=frozenset({2, 3}),
                )
                for crate, of_crate in crates.items()
            ),
        ),
        section=INVENTORY,
        updated=site.view.last_day.isoformat() if site.view.last_day else "",
    )


def _is_short(item: InventoryItem) -> bool:
    return item.listed is not None and item.found is not None and item.found < item.listed


def _item_row(item: InventoryItem) -> tuple[str | Link, ...]:
    found = "" if item.found is None else f"{item.found:,}"
    if item.listed is not None and item.found is not None and item.found < item.listed:
        found += f" ({item.listed - item.found:,} short)"
    return (
        item.part,
        item.description,
        "" if item.listed is None else f"{item.listed:,}",
        found,
        item.condition,
        item.kept_in,
        say_date(item.checked_on) if item.checked_on else "not yet",
        item.by,
    )
