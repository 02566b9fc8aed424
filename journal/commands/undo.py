"""`journal undo`: what a command or a phone wrote last is taken back, as long as nothing of it was changed since."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path

import click

from journal.base.formatting import say_count
from journal.base.problems import Grade
from journal.commands.intake.asking import AnswerError, Asker
from journal.commands.moving.plan import read_named
from journal.commands.terminal import EXIT_ERRORS, build_option, fail
from journal.commands.written import NotTakenBackError, WrittenList

LISTED = 20


@click.command()
@build_option
@click.argument("number", default=1, type=click.IntRange(min=1))
@click.option("--list", "listing", is_flag=True, help="List what can be taken back, the newest first.")
@click.option("--yes", is_flag=True, help="Take it back without asking.")
def undo(root: Path, number: int, *, listing: bool, yes: bool) -> None:
    """Take back what was written last.

    That is the last run of `enter`, `adopt` or `move`, or what a phone wrote at the bench; NUMBER takes an
    earlier one of the list. Where it was changed or sealed since nothing is touched, and what stands in
    the way is told. Nothing is deleted: what goes comes to .journal/taken-back.

    \b
    Example:
      journal undo
      journal undo --list
      journal undo 3
    """
    written = WrittenList(root)
    with written.lock():
        changes = [change for change in written.newest() if not change.taken_back]
    if not changes:
        click.echo("Nothing that was written can be taken back.")
        return
    lines = [f"{datetime.fromisoformat(one.at):%Y-%m-%d %H:%M}  {one.by}: {one.said}" for one in changes]
    if listing:
        for place, line in enumerate(lines[:LISTED], start=1):
            click.echo(f"{place:>3}  {line}")
        if len(lines) > LISTED:
            click.echo(f"and {len(lines) - LISTED} older ones")
        return
    if number > len(changes):
        raise AnswerError(f"The list holds {say_count(len(changes), 'change')}; `journal undo --list` shows them.")
    click.echo(lines[number - 1])
    if not Asker(silent=yes or not sys.stdin.isatty()).yes("Take this back?"):
        click.echo("Nothing was taken back.")
        return
    try:
        click.echo(written.take_back(changes[number - 1].key))
    except NotTakenBackError as trouble:
        words = f" This was written: {trouble.words}" if trouble.words else ""
        fail(f"not taken back: {trouble}{words}", EXIT_ERRORS)
    if errors := [one for one in read_named(root).problems if one.grade is Grade.ERROR]:
        said = f"{errors[0].file}: {errors[0].message}"
        click.echo(f"{say_count(len(errors), 'error')} in the build now ({said}); `journal check` tells what to do.")
