"""Picture cards for shared links: made once, kept in the cache under a key that tells all that shapes them."""

from __future__ import annotations

import contextlib
import os
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from journal.base.addresses import HOME
from journal.base.safe_write import write_whole
from journal.ledger.journal import CACHE
from journal.site.cards import CARD_SUFFIX, LinkCard, render_link_card
from journal.site.site_context import Extras, SiteContext
from journal.view.view import ShownEntry

CARDS = "cards/"
NEWEST = 60
"""Entries that get a card, counted from the newest: what people share. A card takes 40 ms to make, and older
entries are well shown by their own picture.
"""


def add_cards(site: SiteContext, root: Path) -> Extras:
    """Cards of the newest entries; the newest one's stands for home as well.

    A card that cannot be written to the cache is left out: the entry's picture stands in.
    """
    folder = root / CACHE / "cards"
    entries = [entry for entry in site.view.entries if not entry.draft][-NEWEST:]
    wanted = {entry.id: plan_card(site, entry) for entry in entries}
    files = {id_: folder / f"{card.key}{CARD_SUFFIX}" for id_, card in wanted.items()}
    missing = {file: wanted[id_] for id_, file in files.items() if not file.is_file()}
    with contextlib.suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True)
        # Decoding, scaling and drawing release the interpreter's lock.
        with ThreadPoolExecutor(min(4, os.cpu_count() or 1)) as hands:
            list(hands.map(_make, missing, missing.values()))
        for stale in set(folder.iterdir()) - set(files.values()):
            stale.unlink()
    there = {id_: file for id_, file in files.items() if file.is_file()}
    cards = {site.addresses.entry_address[id_]: CARDS + file.name for id_, file in there.items()}
    if entries and entries[-1].id in there:
        cards[HOME] = CARDS + there[entries[-1].id].name
    return Extras(cards=cards, linked={CARDS + file.name: file for file in there.values()})


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
