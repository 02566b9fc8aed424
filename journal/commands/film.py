"""`journal film`: the clips and pictures of an entry joined into one film, or the strip laid over one cut by hand."""

from __future__ import annotations

import itertools
import os
from collections.abc import Callable
from functools import partial
from pathlib import Path

import click

from journal.base.byte_progress import say_bytes
from journal.base.problems import SiteError, sort_problems
from journal.base.safe_write import check_room, move_new, staged, sweep_staged
from journal.commands.card import Shape, find_shown
from journal.commands.terminal import (
    EXIT_ERRORS,
    EXIT_USE,
    ProgressBar,
    build_option,
    fail,
    on_terminal,
    open_build,
    print_problems,
    stop_at_errors,
)
from journal.ledger.films import clip_damaged, clip_unreadable
from journal.making.day_film import plan_day_film
from journal.making.film_panels import say_duration
from journal.making.host import load_settings
from journal.making.link_cards import plan_card
from journal.media.clips import FilmError, Joined, clip_facts, join_scenes, lay_over
from journal.media.clips.program import OnSecond
from journal.site.film_frames import SHAPES, render_strip
from journal.site.site_context import SiteContext
from journal.view.view import Audience, ShownEntry, View, open_view

FOLDER = "films"
STAGED = "journal-film"

Make = Callable[[Path, OnSecond], Joined]
"""Makes the film in an empty folder."""


@click.command()
@build_option
@click.argument("entry", metavar="ENTRY")
@click.option("--shape", type=Shape(), help="The frame of the film.  [default: 1080p]")
@click.option(
    "--lay-over",
    "own",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    metavar="FILM",
    help="Lay the strip over this film that you have cut yourself, and nothing else.",
)
@click.option("--out", type=click.Path(path_type=Path), metavar="FILE", help="Where it goes (default: films/).")
@click.option("--yes", is_flag=True, help="Do not ask.")
def film(root: Path, entry: str, shape: str | None, own: Path | None, out: Path | None, yes: bool) -> None:
    """Join the clips and pictures of an entry into a film of the day.

    ENTRY is the name of the entry's folder, or `newest`. A title card comes first; then what the entry
    shows, as it was taken, with the strip of `journal card` along the foot: chapters by step, captions as
    subtitles. A clip is silent unless `sound: yes` stands under it. The film holds what the public site
    shows and nothing else; private entries and drafts have none.

    \b
    Example:
      journal film 2026-02-08-flap-skeletons
      journal film newest --shape upright --out ~/film.mp4
      journal film newest --lay-over ~/cut-by-hand.mp4
    """
    if own is not None and shape is not None:
        fail("a film that is laid over keeps its own shape; leave out --shape", EXIT_USE)
    if out is not None and out.suffix.lower() != ".mp4":
        fail(f"a film is an MP4: end its name in .mp4, as {out.with_suffix('.mp4')}", EXIT_USE)
    if out is not None and os.path.lexists(out):
        fail(f"{out} is there already, and nothing is written over; name another file, or move it away", EXIT_USE)
    journal = open_build(root)
    stop_at_errors(journal.problems, "No film was made, since the figures on it would not be right")
    view = open_view(journal, Audience.PUBLIC)
    shown = find_shown(journal, view, entry)
    shape = shape or "1080p"
    out = out or _free(root / FOLDER / f"{shown.id}-{'laid-over' if own else shape}.mp4")
    try:
        if own is not None:
            seconds, weight, make = _laid_over(own, view, shown)
        else:
            seconds, weight, make = _joined(root, view, shown, shape)
        said = f"The film will be about {say_duration(seconds)} long and weigh about {say_bytes(weight)}"
        click.echo(f"{said}: {out}")
        if on_terminal() and not yes and not click.confirm("Make it?", default=True):
            click.echo("No film was made.")
            return
        # The pieces and the film, and twice the bare samples of its sound.
        check_room(out.parent, [2 * weight, 400_000 * seconds], "making it")
        sweep_staged(out.parent, [STAGED])
        with staged(out.parent, STAGED) as folder, ProgressBar("making the film (seconds)") as bar:
            made = make(folder, lambda done: bar(min(done, seconds), seconds))
            move_new(made.path, out)
    except FilmError as trouble:
        fail(f"no film was made: {trouble}", EXIT_ERRORS)
    lost = (clip_unreadable(shown.src_uri, name, why) for name, why in made.troubles.items())
    amiss = (clip_damaged(shown.src_uri, name, hit) for name, hit in made.seconds_amiss.items())
    print_problems(sort_problems((*lost, *amiss)))
    click.echo(f"Made: {out} ({say_bytes(out.stat().st_size)})")


def _joined(root: Path, view: View, entry: ShownEntry, shape: str) -> tuple[int, int, Make]:
    """(seconds, bytes, what makes it); what cannot be shown is told, and stops where nothing else is there."""
    try:
        credit = load_settings(root).site_name
    except SiteError:
        credit = ""
    with ProgressBar("preparing pictures") as progress:
        planned = plan_day_film(root, view, entry, SHAPES[shape], credit=credit, progress=progress)
    print_problems(planned.problems)
    if len(planned.scenes) == 1:
        fail(f"{entry.id} has no picture or clip that can be shown to the public", EXIT_USE)
    return planned.seconds, planned.bytes, partial(join_scenes, planned.scenes, planned.stage)


def _laid_over(own: Path, view: View, entry: ShownEntry) -> tuple[int, int, Make]:
    facts = clip_facts(own)
    if facts.trouble:
        raise FilmError(f'"{own.name}" cannot be used: {facts.trouble}')
    card = plan_card(SiteContext(view, {}), entry)

    def make(folder: Path, on_second: OnSecond) -> Joined:
        return lay_over(own, partial(render_strip, card), folder, on_second)

    return max(facts.seconds, 1), own.stat().st_size, make


def _free(place: Path) -> Path:
    """`place`, or the first with a number behind it that is free."""
    numbered = (place.with_name(f"{place.stem}-{number}{place.suffix}") for number in itertools.count(2))
    return next(one for one in itertools.chain([place], numbered) if not os.path.lexists(one))
