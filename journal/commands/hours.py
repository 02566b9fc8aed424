"""`journal hours`: where the hours went."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import click

from journal.base.formatting import say_count, say_minutes, say_month
from journal.base.problems import Grade
from journal.commands.terminal import EXIT_ERRORS, build_option, open_build, say_unread
from journal.ledger.journal import Journal


@click.command()
@build_option
@click.option("--json", "as_json", is_flag=True, help="Print JSON in whole minutes.")
def hours(root: Path, as_json: bool) -> None:
    """Show the hours worked: by assembly, month and person.

    Hours are person-hours: two people for 3:15 are 6 h 30 min.

    \b
    Example:
      journal hours
      journal hours --json
    """
    journal = open_build(root)
    ledger = journal.ledger
    if as_json:
        told = {
            "minutes": ledger.minutes,
            "minutes_not_counted": ledger.minutes_not_counted,
            "minutes_elapsed": ledger.elapsed_minutes,
            "days": ledger.days,
            "by_assembly": dict(ledger.by_assembly),
            "by_person": dict(ledger.by_person),
            "by_month": dict(ledger.by_month),
        }
        click.echo(json.dumps(told, indent=2, ensure_ascii=False))
    else:
        _print_hours(journal)
    if errors := sum(problem.grade is Grade.ERROR for problem in journal.problems):
        say_unread(errors, "counted")
        sys.exit(EXIT_ERRORS)


def _print_hours(journal: Journal) -> None:
    from rich.console import Console
    from rich.table import Table

    ledger, build = journal.ledger, journal.build
    # Plain in a pipe, without colour where NO_COLOR is set.
    out = Console(highlight=False, markup=False, soft_wrap=not sys.stdout.isatty())
    assemblies: list[tuple[str, ...]] = []
    for assembly in build.assemblies.values():
        progress = journal.progress.assemblies[assembly.id]
        cells = (
            assembly.title + ("" if assembly.counts else " (kept apart)"),
            say_minutes(ledger.by_assembly[assembly.id]),
            say_minutes(assembly.planned_minutes) if assembly.planned_minutes is not None else "",
            f"{progress.steps_done} of {progress.steps}" if progress.steps else "",
        )
        assemblies.append(cells)
    months = [(say_month(month), say_minutes(minutes)) for month, minutes in ledger.by_month.items()]
    people = [(build.people[person].name, say_minutes(minutes)) for person, minutes in ledger.by_person.items()]
    for (heading, *figures), rows in (
        (("Assembly", "Hours", "Planned", "Steps done"), assemblies),
        (("Month", "Hours"), months),
        (("Person", "Hours"), people),
    ):
        table = Table(heading, box=None, pad_edge=False)
        for title in figures:
            table.add_column(title, justify="right")
        for row in rows:
            table.add_row(*row)
        out.print(table)
        out.print()
    out.print(
        f"Hours to date: {say_minutes(ledger.minutes)} (person-hours) on {say_count(ledger.days, 'day')}; "
        f"sessions lasted {say_minutes(ledger.elapsed_minutes)}."
    )
    if ledger.minutes_not_counted:
        out.print(f"Kept apart: {say_minutes(ledger.minutes_not_counted)}.")
