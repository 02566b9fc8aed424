"""The text that goes under a film: what was done that day, and what the words mean."""

from __future__ import annotations

import xml.etree.ElementTree as ET

from journal.base.formatting import say_date, say_minutes, say_weekday
from journal.base.model import Step, Term
from journal.commands.terminal import CAUTION
from journal.site.site_context import Desk
from journal.view.terms import TermMarker
from journal.view.view import Sheet

MOST_TERMS = 12
MOST_CHARACTERS = 5000
"""What common video hosts take as a description (common practice, no source)."""


def describe(desk: Desk, sheet: Sheet, site_url: str) -> str:
    """The description of the film of `sheet`: day, steps, hours, tools, methods, terms, address.

    Everything comes from the view behind `desk`, so nothing is told that its audience may not see.
    """
    aircraft = desk.view.aircraft.name
    lines = [
        sheet.title or sheet.assembly.title,
        f"Day {sheet.day} of building {aircraft}: {say_weekday(sheet.date)}, {say_date(sheet.date)}.",
        f"Assembly: {sheet.assembly.title}",
    ]
    for heading, steps in (("Steps done", sheet.steps), ("Begun", sheet.begun), ("Done over", sheet.redone)):
        if steps:
            lines += [f"{heading}:", *(f"  {_step(step)}" for step in steps)]
    if sheet.time:
        lines.append(f"Hours: {say_minutes(sheet.minutes)}, {say_minutes(sheet.minutes_to_date)} to date")
    for heading, names in (("Tools", sheet.tools), ("Methods", sheet.methods)):
        if names:
            lines.append(f"{heading}: {', '.join(names)}")
    terms = used_terms(desk, sheet)[:MOST_TERMS]
    if terms:
        lines += ["", "Words of the trade:", *(f"  {term.name}: {term.meaning}" for term in terms)]
    end = ["", f"The sheet with all pictures: {site_url}{desk.atlas.entry_address[sheet.id]}"] if site_url else []
    end += ["", CAUTION]
    return _fitted(lines, end)


def used_terms(desk: Desk, sheet: Sheet) -> tuple[Term, ...]:
    """Trade words in the text, the title, the captions, the steps, tools and methods, in the order met."""
    told = [
        sheet.title,
        *(photo.caption for photo in sheet.photos),
        *(step.title for step in sheet.all_steps),
        *sheet.tools,
        *sheet.methods,
    ]
    root = ET.Element("div")
    for words in told:
        ET.SubElement(root, "p").text = words
    more = TermMarker(desk.terms).mark(root, lambda term: "#")
    return tuple({term.name: term for term in (*desk.prose(sheet).terms, *more)}.values())


def _step(step: Step) -> str:
    return f"{step.id} {step.title}"


def _fitted(lines: list[str], end: list[str]) -> str:
    """Whole lines only: what is too much goes from the end of the list, never the address and the caution."""
    room = MOST_CHARACTERS - len("\n".join(end)) - 3
    kept: list[str] = []
    for line in lines:
        if sum(len(one) + 1 for one in kept) + len(line) > room:
            kept.append("…")
            break
        kept.append(line)
    return "\n".join([*kept, *end]) + "\n"
