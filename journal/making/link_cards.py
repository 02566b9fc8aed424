"""Picture cards for shared links: made once, kept in the cache under a key that tells all that shapes them."""

from __future__ import annotations

import contextlib
import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

from journal.base.addresses import FOLLOW, HOME, HOURS, PHOTOS
from journal.base.formatting import say_date, say_minutes
from journal.base.safe_write import write_whole
from journal.base.words import N_, _
from journal.ledger.journal import CACHE
from journal.site.cards import CARD_SUFFIX, CardCell, LinkCard, render_link_card
from journal.site.site_context import Extras, SiteContext
from journal.view.page_addresses import STEPS
from journal.view.view import ShownEntry

CARDS = "cards/"
OVERVIEWS = {STEPS: N_("Steps"), HOURS: N_("Hours"), PHOTOS: N_("Photos"), FOLLOW: N_("Follow this build")}
NEWEST = 60
"""Entries that get a card, counted from the newest: what people share. A card takes 40 ms to make, and older
entries are well shown by their own picture.
"""


def add_cards(site: SiteContext, root: Path) -> Extras:
    """Cards of the newest entries, and of the pages about all of them; the newest one's stands for home as well.

    A card that cannot be written to the cache is left out: the entry's picture stands in.
    """
    folder = root / CACHE / "cards"
    entries = [entry for entry in site.view.entries if not entry.draft][-NEWEST:]
    wanted = {site.addresses.entry_address[entry.id]: plan_card(site, entry) for entry in entries}
    for address, title in OVERVIEWS.items() if entries else ():
        wanted[address] = _overview(site, _(title), entries[-1])
    files = {address: folder / f"{card.key}{CARD_SUFFIX}" for address, card in wanted.items()}
    missing = {file: wanted[address] for address, file in files.items() if not file.is_file()}
    with contextlib.suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True)
        # Decoding, scaling and drawing release the interpreter's lock.
        with ThreadPoolExecutor(min(4, os.cpu_count() or 1)) as hands:
            list(hands.map(_make, missing, missing.values()))
        for stale in set(folder.iterdir()) - set(files.values()):
            stale.unlink()
    there = {address: file for address, file in files.items() if file.is_file()}
    cards = {address: CARDS + file.name for address, file in there.items()}
    if entries and (newest := site.addresses.entry_address[entries[-1].id]) in cards:
        cards[HOME] = cards[newest]
    return Extras(cards=cards, linked={CARDS + file.name: file for file in there.values()})


def _overview(site: SiteContext, title: str, newest: ShownEntry) -> LinkCard:
    """The card of a page about all entries: how far the aircraft is today, and the newest picture."""
    view = site.view
    states = {assembly: progress.state for assembly, progress in view.assembly_progress.items()}
    told = {
        _("Hours to date"): say_minutes(view.minutes),
        _("Days worked"): f"{view.days:,}",
        _("Steps done"): _("{done} of {all}", done=view.steps_done, all=len(view.steps)) if view.steps else "",
        _("Newest"): say_date(newest.date),
    }
    return replace(
        plan_card(site, newest),
        title=title,
        steps=(),
        drawn=site.shapes(states, {}),
        picked=None,
        told=tuple(CardCell(label=label, values=(value,)) for label, value in told.items() if value),
    )


def plan_card(site: SiteContext, entry: ShownEntry) -> LinkCard:
    """What the card of `entry` shows."""
    cover = site.cover(entry)
    return LinkCard(
        title=entry.title,
        day=entry.day,
        date=entry.date,
        assembly=entry.assembly.title,
        steps=tuple(step.id for step in entry.all_steps),
        step_order=site.order,
        minutes=entry.minutes,
        minutes_to_date=entry.minutes_to_date,
        aircraft=site.view.aircraft.name,
        picture=site.extras.linked.get(cover.middle) if cover else None,
        drawing=site.view.drawing or "",
        drawn=site.shapes(entry.states, {}),
        picked=entry.assembly.id,
    )


def _make(file: Path, card: LinkCard) -> None:
    write_whole(file, render_link_card(card), cache=True)
