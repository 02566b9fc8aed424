"""The commands that bring work in: `begin`, `enter`, `adopt`. Options to calls."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

import click

from journal.intake.asking import AnswerError, Asker, fail, parse_day
from journal.terminal import EXIT_USE, today


def mapping_of(context: click.Context, parameter: click.Parameter, value: Sequence[str]) -> dict[str, str]:
    """`ONE=OTHER` pairs of a repeated option; the last `=` parts them."""
    mapping = {}
    for pair in value:
        name, sign, other = pair.rpartition("=")
        if not sign or not name.strip() or not other.strip():
            raise click.BadParameter(f'"{pair}" is not of the form {parameter.metavar}')
        mapping[name.strip()] = other.strip()
    return mapping


def day_of(context: click.Context, parameter: click.Parameter, value: str | None) -> date | None:
    """An ISO date of an option."""
    try:
        return parse_day(value) if value is not None else None
    except AnswerError as trouble:
        raise click.BadParameter(str(trouble)) from None


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--aircraft", metavar="NAME", help="What the aircraft is called.")
@click.option("--kind", metavar="WORDS", help="What kind of aircraft it is.")
@click.option(
    "--builder",
    "builders",
    multiple=True,
    metavar="NAME[=SHOWN]",
    help="A builder's full name and, after =, what the site may show of it. May be repeated.",
)
@click.option("--begun", callback=day_of, metavar="DATE", help="The day of the first work, like 2026-01-10.")
@click.option("--zone", metavar="ZONE", help="Time zone of the workshop, like Europe/Zurich.")
@click.option("--place", metavar="NAME", help="What the workshop is called; not shown on the site.")
@click.option("--assembly", "assemblies", multiple=True, metavar="TITLE", help="An assembly. May be repeated.")
@click.option("--watermark", metavar="WORDS", help="Words in a corner of every picture; - for none.")
@click.option("--site-url", metavar="ADDRESS", help="Where the site will stand.")
@click.option("--steps", type=click.Path(path_type=Path), metavar="CSV", help="A table of the manual's steps.")
@click.option(
    "--map",
    "mapping",
    multiple=True,
    callback=mapping_of,
    metavar="HEADING=COLUMN",
    help="Which column of the table of steps is which. May be repeated.",
)
@click.option("--ci", is_flag=True, help="Add a workflow with which a forge makes the site at every push.")
@click.option(
    "--from-archive", type=click.Path(path_type=Path), metavar="PATH", help="Take the build out of an archive instead."
)
@click.option("--yes", is_flag=True, help="Ask nothing and take what Enter would give.")
def begin(
    folder: Path, steps: Path | None, mapping: dict[str, str], from_archive: Path | None, yes: bool, **given: Any
) -> None:
    """Make a new build folder in DIR.

    Asks a few questions; what an option answers is not asked. Nothing that is there already is
    touched: where something is in the way, nothing is made.

    \b
    Example:
      journal begin tarn
      journal begin tarn --yes --builder "Maren Oltwick=Maren" --steps manual.csv
      journal begin tarn-again --from-archive /media/stick/tarn-archive
    """
    from journal.intake.begin_talk import Given, begin_build

    try:
        begin_build(folder, Given(**given), steps, mapping, today(), Asker(silent=yes))
    except AnswerError as trouble:
        fail(str(trouble), EXIT_USE)
