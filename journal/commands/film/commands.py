"""`journal card`: the cards and the description of a film."""

from __future__ import annotations

from pathlib import Path

import click

from journal.base.problems import has_errors, nearest
from journal.commands.terminal import EXIT_ERRORS, EXIT_USE, build_option, fail, open_build, print_problems

FOLDER = "cards"
NEWEST = "newest"


@click.command()
@build_option
@click.argument("entry", metavar="ENTRY")
@click.option(
    "--size",
    type=click.Choice(["1080p", "4k", "square", "vertical"]),
    default="1080p",
    show_default=True,
    help="The frame of the film.",
)
@click.option("--out", type=click.Path(path_type=Path), metavar="DIR", help="Where they go (default: cards/).")
def card(root: Path, entry: str, size: str, out: Path | None) -> None:
    """Make cards for a film of a day: a strip, a title card, a text.

    ENTRY is the name of the entry's folder, or `newest`. The strip is transparent and as large as the
    frame: lay it over the film as it is. Private entries and drafts have no cards: films are public.

    \b
    Example:
      journal card 2026-02-08-flap-skeletons
      journal card newest --size vertical --out ~/film
    """
    from journal.base.digests import replace_file
    from journal.base.problems import SiteError
    from journal.commands.film.cards import Size, plan_card, render_strip, render_title_card
    from journal.commands.film.words import describe
    from journal.making.host import load_settings
    from journal.site.site_context import SiteContext
    from journal.view.view import Audience, open_view

    journal = open_build(root)
    errors = [problem for problem in journal.problems if problem.grade.value == "error"]
    if has_errors(errors):
        print_problems(errors)
        fail("no card was made: the figures on it would not be right", EXIT_ERRORS)
    view = open_view(journal, Audience.PUBLIC)
    wanted = Path(entry.rstrip("/")).name.removesuffix("index.md") or Path(entry).parent.name
    if entry == NEWEST and view.entries:
        wanted = view.entries[-1].id
    shown = next((shown for shown in view.entries if shown.id == wanted), None)
    if shown is None:
        fail(
            _why_not(
                wanted,
                {one.id for one in journal.build.entries},
                {one.id for one in journal.build.drafts},
                [shown.id for shown in view.entries],
            ),
            EXIT_USE,
        )
    try:
        site_url = load_settings(root).site_url or ""
    except SiteError:
        site_url = ""
    frame = Size.named(size)
    planned = plan_card(view, shown)
    folder = out if out is not None else root / FOLDER
    folder.mkdir(parents=True, exist_ok=True)
    made = {
        f"{shown.id}-strip-{size}.png": render_strip(planned, frame),
        f"{shown.id}-title-{size}.png": render_title_card(planned, frame),
        f"{shown.id}-description.txt": describe(SiteContext(view, {}), shown, site_url).encode(),
    }
    for name, data in made.items():
        replace_file(folder / name, data)
        click.echo(f"Made: {folder / name}")
    if not site_url:
        click.echo("mkdocs.yml has no site_url, so the text names no address.")


def _why_not(wanted: str, entries: set[str], drafts: set[str], shown: list[str]) -> str:
    if wanted in entries:
        return f"{wanted} is private; a film is public"
    if wanted in drafts:
        return f"{wanted} is a draft: it has no day and no hours yet; take out `draft: true` first"
    guess = nearest(wanted, [*shown, NEWEST])
    hint = f'did you mean "{guess}"?' if guess else f"the newest is {shown[-1]}" if shown else "there is none yet"
    return f'there is no entry "{wanted}"; {hint}'
