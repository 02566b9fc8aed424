"""Picture cards for shared links: made once, kept in the cache under a key that tells all that shapes them."""

from __future__ import annotations

import contextlib
import os
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from journal.base.model import State
from journal.ledger.drawing import DrawnAssembly
from journal.ledger.journal import CACHE, Journal
from journal.site.cards import CARD_SUFFIX, LinkCard, render_link_card
from journal.site.site_context import Desk, Extras
from journal.view.view import Sheet

CARDS = "cards/"
NEWEST = 60
"""Sheets that get a card, counted from the newest: what people share. A card takes 40 ms to make, and older
sheets are well shown by their own picture.
"""


def add_cards(journal: Journal, desk: Desk) -> Extras:
    """Cards of the newest sheets; the newest one's stands for home as well. A contributor (`journal.making.lay_site`).

    A card that cannot be written to the cache is left out: the sheet's picture stands in.
    """
    folder = journal.root / CACHE / "cards"
    sheets = [sheet for sheet in desk.view.sheets if not sheet.draft][-NEWEST:]
    wanted = {sheet.id: plan_card(desk, sheet) for sheet in sheets}
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
    cards = {id_: CARDS + file.name for id_, file in there.items()}
    if sheets and sheets[-1].id in cards:
        cards[""] = cards[sheets[-1].id]
    return Extras(cards=cards, linked={CARDS + file.name: file for file in there.values()})


def plan_card(desk: Desk, sheet: Sheet) -> LinkCard:
    """What the card of `sheet` shows."""
    cover = desk.cover(sheet)
    return LinkCard(
        title=sheet.title,
        day=sheet.day,
        date=sheet.date,
        assembly=sheet.assembly.title,
        steps=tuple(step.id for step in sheet.all_steps),
        step_order=desk.order,
        minutes=sheet.minutes,
        minutes_to_date=sheet.minutes_to_date,
        aircraft=desk.view.aircraft.name,
        picture=desk.extras.linked.get(cover.middle.address) if cover else None,
        drawing=desk.view.drawing or "",
        drawn=tuple(
            DrawnAssembly(
                id=assembly.id,
                title=assembly.title,
                state=sheet.states.get(assembly.id, State.NOT_BEGUN),
                href="",
            )
            for assembly in desk.view.assemblies.values()
        ),
        picked=sheet.assembly.id,
    )


def _make(file: Path, card: LinkCard) -> None:
    scratch = file.with_suffix(f".{os.getpid()}.part")
    scratch.write_bytes(render_link_card(card))
    scratch.replace(file)
