"""`journal card`: what a builder's film of a day needs: a strip to lay over it, a title card, a text for its
description, which says what was done that day and what the words mean.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from journal.base.formatting import say_date, say_minutes, say_weekday
from journal.base.model import Term
from journal.base.problems import SiteError, nearest
from journal.base.safe_write import write_whole
from journal.commands.terminal import CAUTION, EXIT_USE, build_option, fail, open_build, stop_at_errors
from journal.ledger.journal import Journal
from journal.making.host import load_settings
from journal.making.link_cards import plan_card
from journal.site.film_frames import SHAPES, render_strip, render_title_card
from journal.site.site_context import SiteContext
from journal.view.terms import TermMarker
from journal.view.view import Audience, ShownEntry, View, open_view

FOLDER = "cards"
NEWEST = "newest"

MOST_TERMS = 12
MOST_CHARACTERS = 5000
"""What common video hosts take as a description (common practice, no source)."""


class Shape(click.Choice[str]):
    """The frame of a film; `vertical` is what earlier versions called `upright`."""

    def __init__(self) -> None:
        super().__init__(list(SHAPES))

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """The word of `SHAPES`."""
        return super().convert("upright" if value == "vertical" else value, param, ctx)


@click.command()
@build_option
@click.argument("entry", metavar="ENTRY", required=False)
@click.option("--shape", "--size", type=Shape(), default="1080p", show_default=True, help="The frame of the film.")
@click.option("--out", type=click.Path(path_type=Path), metavar="DIR", help="Where they go (default: cards/).")
@click.option("--drawing", is_flag=True, help="Save the aircraft that the site draws as content/aircraft.svg instead.")
def card(root: Path, entry: str | None, shape: str, out: Path | None, drawing: bool) -> None:
    """Make cards for a film of a day: a strip, a title card, a text.

    ENTRY is the name of the entry's folder, or `newest`. The strip is transparent and as large as the
    frame: lay it over the film as it is. Private entries and drafts have no cards: films are public.

    With --drawing nothing of that is made, but the drawing is saved for a program that edits SVG; from then
    on the site shows it as you leave it. One that is there already is never written over.

    \b
    Example:
      journal card 2026-02-08-flap-skeletons
      journal card newest --shape upright --out ~/film
      journal card --drawing
    """
    journal = open_build(root)
    if drawing:
        _save_drawing(root, journal.build.drawing)
        return
    if entry is None:
        raise click.UsageError("name an ENTRY, or write --drawing")
    stop_at_errors(journal.problems, "No card was made, since the figures on it would not be right")
    view = open_view(journal, Audience.PUBLIC)
    site = SiteContext(view, {})  # the cards of a film show no pictures
    shown = find_shown(journal, view, entry)
    try:
        site_url = load_settings(root).site_url or ""
    except SiteError:
        site_url = ""
    planned = plan_card(site, shown)
    folder = out if out is not None else root / FOLDER
    folder.mkdir(parents=True, exist_ok=True)
    made = {
        f"{shown.id}-strip-{shape}.png": render_strip(planned, SHAPES[shape]),
        f"{shown.id}-title-{shape}.png": render_title_card(planned, SHAPES[shape]),
        f"{shown.id}-description.txt": describe(site, shown, site_url).encode(),
    }
    for name, data in made.items():
        write_whole(folder / name, data)
        click.echo(f"Made: {folder / name}")
    if not site_url:
        click.echo("mkdocs.yml has no site_url, so the text names no address.")


def _save_drawing(root: Path, svg: str | None) -> None:
    path = root / "content/aircraft.svg"
    if path.exists():
        fail(f"{path} is there already, and is left as it is", EXIT_USE)
    if svg is None:
        fail("the site draws no aircraft: add `drawing:` to content/build.yml", EXIT_USE)
    write_whole(path, svg.encode())
    click.echo(f"Made: {path}\nThe site shows this drawing from now on; without it, it draws the aircraft again.")


def find_shown(journal: Journal, view: View, entry: str) -> ShownEntry:
    """The entry named by its folder, by its file, or as the newest; where the public sees none, say why and stop."""
    wanted = Path(entry.rstrip("/")).name.removesuffix("index.md").removesuffix(".md") or Path(entry).parent.name
    if entry == NEWEST and view.entries:
        wanted = view.entries[-1].id
    shown = next((shown for shown in view.entries if shown.id == wanted), None)
    if shown is None:
        private, drafts = ({one.id for one in held} for held in (journal.build.entries, journal.build.drafts))
        fail(_why_not(wanted, private, drafts, [one.id for one in view.entries]), EXIT_USE)
    return shown


def _why_not(wanted: str, entries: set[str], drafts: set[str], shown: list[str]) -> str:
    if wanted in entries:
        return f"{wanted} is private; a film is public"
    if wanted in drafts:
        return f"{wanted} is a draft: it has no day and no hours yet; take out `draft: true` first"
    if not shown:
        return "no entry is public yet"
    guess = nearest(wanted, [*shown, NEWEST])
    hint = f'did you mean "{guess}"?' if guess else f"the newest is {shown[-1]}"
    return f'there is no entry "{wanted}"; {hint}'


def describe(site: SiteContext, entry: ShownEntry, site_url: str) -> str:
    """The description of the film of `entry`: day, steps, hours, tools, methods, terms, address.

    Everything comes from the view behind `site`, so nothing is told that its audience may not see.
    """
    aircraft = site.view.aircraft.name
    lines = [
        entry.title or entry.assembly.title,
        f"Day {entry.day} of building {aircraft}: {say_weekday(entry.date)}, {say_date(entry.date)}.",
        f"Assembly: {entry.assembly.title}",
    ]
    for heading, steps in (("Steps done", entry.steps), ("Begun", entry.begun), ("Done over", entry.redone)):
        if steps:
            lines += [f"{heading}:", *(f"  {step.id} {step.title}" for step in steps)]
    if entry.time:
        lines.append(f"Hours: {say_minutes(entry.minutes)}, {say_minutes(entry.minutes_to_date)} to date")
    for heading, names in (("Tools", entry.tools), ("Methods", entry.methods)):
        if names:
            lines.append(f"{heading}: {', '.join(names)}")
    terms = used_terms(site, entry)[:MOST_TERMS]
    if terms:
        lines += ["", "Words of the trade:", *(f"  {term.name}: {term.meaning}" for term in terms)]
    end = ["", f"The entry with all pictures: {site_url}{site.addresses.entry_address[entry.id]}"] if site_url else []
    end += ["", CAUTION]
    return _fitted(lines, end)


def used_terms(site: SiteContext, entry: ShownEntry) -> tuple[Term, ...]:
    """Trade words in the text, the title, the captions, the steps, tools and methods, in the order met."""
    captions, steps = (photo.caption for photo in entry.photos), (step.title for step in entry.all_steps)
    marker = TermMarker(site.terms)
    told = (entry.title, *captions, *steps, *entry.tools, *entry.methods)
    more = (term for words in told for term in marker.find(words))
    return tuple({term.name: term for term in (*site.prose(entry).terms, *more)}.values())


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
