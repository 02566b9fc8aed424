"""The text that goes under a film: what was done that day, and what the words mean."""

from __future__ import annotations

import xml.etree.ElementTree as ET

from journal.base.formatting import say_date, say_minutes, say_weekday
from journal.base.model import Step, Term
from journal.commands.terminal import CAUTION
from journal.site.site_context import SiteContext
from journal.view.terms import TermMarker
from journal.view.view import ShownEntry

MOST_TERMS = 12
MOST_CHARACTERS = 5000
"""What common video hosts take as a description (common practice, no source)."""


def describe(site: SiteContext, entry: ShownEntry, site_url: str) -> str:
    """The description of the film of `entry`: day, steps, hours, tools, methods, terms, address.

    Everything comes from the view behind `context`, so nothing is told that its audience may not see.
    """
    aircraft = site.view.aircraft.name
    lines = [
        entry.title or entry.assembly.title,
        f"Day {entry.day} of building {aircraft}: {say_weekday(entry.date)}, {say_date(entry.date)}.",
        f"Assembly: {entry.assembly.title}",
    ]
    for heading, steps in (("Steps done", entry.steps), ("Begun", entry.begun), ("Done over", entry.redone)):
        if steps:
            lines += [f"{heading}:", *(f"  {_step(step)}" for step in steps)]
    if entry.time:
        lines.append(f"Hours: {say_minutes(entry.minutes)}, {say_minutes(entry.minutes_to_date)} to date")
    for heading, names in (("Tools", entry.tools), ("Methods", entry.methods)):
        if names:
            lines.append(f"{heading}: {', '.join(names)}")
    terms = used_terms(site, entry)[:MOST_TERMS]
    if terms:
        lines += ["", "Words of the trade:", *(f"  {term.name}: {term.meaning}" for term in terms)]
    end = ["", f"The sheet with all pictures: {site_url}{site.addresses.entry_address[entry.id]}"] if site_url else []
    end += ["", CAUTION]
    return _fitted(lines, end)


def used_terms(site: SiteContext, entry: ShownEntry) -> tuple[Term, ...]:
    """Trade words in the text, the title, the captions, the steps, tools and methods, in the order met."""
    told = [
        entry.title,
        *(photo.caption for photo in entry.photos),
        *(step.title for step in entry.all_steps),
        *entry.tools,
        *entry.methods,
    ]
    root = ET.Element("div")
    for words in told:
        ET.SubElement(root, "p").text = words
    more = TermMarker(site.terms).mark(root, lambda term: "#")
    return tuple({term.name: term for term in (*site.prose(entry).terms, *more)}.values())


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
