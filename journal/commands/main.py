"""The command line: commands to calls. Exit codes: 0 fine, 1 errors found, 2 wrong use, 3 could not read or write."""

from __future__ import annotations

import importlib
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from journal import __version__
from journal.base.formatting import say_count, say_minutes, say_month
from journal.base.problems import Grade, Problem, SiteError, has_errors, sort_problems
from journal.commands.terminal import (
    CAUTION,
    EXIT_DISK,
    EXIT_ERRORS,
    Bar,
    build_option,
    console,
    open_build,
    print_problems,
    sum_up,
)

if TYPE_CHECKING:
    from journal.ledger.journal import Journal
    from journal.making.unchanged import Inputs


COMMANDS = {
    "begin": "journal.commands.intake.commands",
    "enter": "journal.commands.intake.commands",
    "adopt": "journal.commands.intake.commands",
    "check": "",
    "preview": "journal.commands.preview",
    "hours": "",
    "find": "journal.commands.find",
    "site": "",
    "publish": "journal.commands.publish.commands",
    "card": "journal.commands.film.commands",
    "seal": "journal.commands.record",
    "archive": "journal.commands.record",
    "verify": "journal.commands.record",
}
"""Every command in the order of the work, and the module that holds it where it is not this one."""


class _Group(click.Group):
    """Loads a command when it is called: `find` must answer before the rest of us is read from disk.

    A disk that fails ends with code 3 and one line, a site that cannot be made with code 1.
    """

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        module = COMMANDS.get(cmd_name)
        if not module:
            return super().get_command(ctx, cmd_name)
        command = getattr(importlib.import_module(module), cmd_name)
        return command if isinstance(command, click.Command) else None

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except BrokenPipeError:
            raise
        except SiteError as trouble:
            click.echo(f"journal: {trouble}", err=True)
            ctx.exit(EXIT_ERRORS)
        except OSError as trouble:
            where = f"{trouble.filename}: " if trouble.filename else ""
            click.echo(f"journal: {where}{trouble.strerror or trouble}", err=True)
            ctx.exit(EXIT_DISK)


@click.group(cls=_Group, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="journal")
def main() -> None:
    """A journal of building an aircraft: entries and photos in, a site and an archive out."""


@main.command()
@build_option
@click.option("--json", "as_json", is_flag=True, help="Print a JSON list, one object a problem.")
@click.option("--strict", is_flag=True, help="Let findings fail as errors do.")
def check(root: Path, as_json: bool, strict: bool) -> None:
    """Read everything and list what is wrong and what is missing.

    Each line is file:line:column: what is wrong; how to mend it. Errors stop a site, an archive and
    a seal; findings are advice and stop nothing. Nothing is changed.

    \b
    Example:
      journal check
      journal check --json | jq '.[].word'
    """
    from journal.record.seals import check_seals

    journal = open_build(root)
    problems = sort_problems((*journal.problems, *check_seals(root, journal.build)))
    if as_json:
        click.echo(json.dumps([problem.as_json() for problem in problems], indent=2, ensure_ascii=False))
    else:
        print_problems(problems)
        click.echo(f"{say_count(len(journal.build.entries), 'entry', 'entries')} read: {sum_up(problems)}.")
        if problems:
            click.echo(CAUTION)
    if has_errors(problems) or (strict and problems):
        sys.exit(EXIT_ERRORS)


@main.command()
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
        click.echo(
            json.dumps(
                {
                    "minutes": ledger.minutes,
                    "minutes_not_counted": ledger.minutes_not_counted,
                    "minutes_elapsed": ledger.elapsed_minutes,
                    "days": ledger.days,
                    "by_assembly": dict(ledger.by_assembly),
                    "by_person": dict(ledger.by_person),
                    "by_month": dict(ledger.by_month),
                },
                indent=2,
                ensure_ascii=False,
            )
        )
    else:
        _print_hours(journal)
    errors = [problem for problem in journal.problems if problem.grade is Grade.ERROR]
    if errors:
        click.echo(
            f"{say_count(len(errors), 'error')} in the content: what they name is not counted; see `journal check`.",
            err=True,
        )
        sys.exit(EXIT_ERRORS)


def _print_hours(journal: Journal) -> None:
    from rich.table import Table

    ledger, build = journal.ledger, journal.build
    out = console()
    table = Table("Assembly", box=None, pad_edge=False)
    for title in ("Hours", "Planned", "Steps done"):
        table.add_column(title, justify="right")
    for assembly in build.assemblies.values():
        progress = journal.progress.assemblies[assembly.id]
        table.add_row(
            assembly.title + ("" if assembly.counts else " (kept apart)"),
            say_minutes(ledger.by_assembly[assembly.id]),
            say_minutes(assembly.planned_minutes) if assembly.planned_minutes is not None else "",
            f"{progress.steps_done} of {progress.steps}" if progress.steps else "",
        )
    out.print(table)
    for heading, rows in (
        ("Month", [(say_month(month), minutes) for month, minutes in ledger.by_month.items()]),
        ("Person", [(build.people[person].name, minutes) for person, minutes in ledger.by_person.items()]),
    ):
        table = Table(heading, box=None, pad_edge=False)
        table.add_column("Hours", justify="right")
        for name, minutes in rows:
            table.add_row(name, say_minutes(minutes))
        out.print()
        out.print(table)
    out.print()
    out.print(
        f"Hours to date: {say_minutes(ledger.minutes)} (person-hours) on {say_count(ledger.days, 'day')}; "
        f"sessions lasted {say_minutes(ledger.elapsed_minutes)}."
    )
    if ledger.minutes_not_counted:
        out.print(f"Kept apart: {say_minutes(ledger.minutes_not_counted)}.")


@main.command()
@build_option
@click.option(
    "--out", type=click.Path(path_type=Path), help="Where the site goes (default: site/ in the build folder)."
)
@click.option("--strict", is_flag=True, help="Let findings fail as errors do.")
def site(root: Path, out: Path | None, strict: bool) -> None:
    """Make the public site.

    The site is built beside the old one and put in its place when it is whole.

    \b
    Example:
      journal site
      journal site --out /mnt/stick/journal
    """
    from journal.making.unchanged import look_at_inputs, recall

    if (told := recall(root, out)) and not (strict and told["problems"]):
        _tell_site([Problem.from_json(row) for row in told["problems"]], told["words"])
        return
    inputs = look_at_inputs(root)
    problems, words = _make_site(root, out, inputs, strict=strict)
    _tell_site(problems, words)


def _make_site(
    root: Path, out: Path | None, inputs: Inputs, *, strict: bool
) -> tuple[Sequence[Problem], Sequence[str]]:
    """Make the site; what was found, and what to say at the end. Ends the program where none can be made."""
    from journal.making.host import load_settings, settled_by, site_options, write_site
    from journal.making.lay_site import lay_site, site_problems
    from journal.making.unchanged import forget, look_at_files, remember
    from journal.view.view import Audience

    settings = load_settings(root, out=out)
    others = settled_by(settings)
    beside = look_at_files(map(Path, others or ()))
    journal = open_build(root)
    problems = sort_problems(
        (*journal.problems, *site_problems(settings.site_url, journal.build.photo_settings.watermark))
    )
    if has_errors(problems) or (strict and problems):
        print_problems(problems)
        click.echo(f"No site was made: {sum_up(problems)}.", err=True)
        sys.exit(EXIT_ERRORS)
    forget(root)
    with Bar("photos") as photos, Bar("making films (seconds)") as films:
        options = site_options(settings, Audience.PUBLIC)
        laid = lay_site(journal, options, on_photos=photos.tell, on_films=films.tell)
    folder = write_site(laid, settings)
    ledger = journal.ledger
    words = (
        f"{say_count(len(journal.build.entries), 'entry', 'entries')} on {say_count(ledger.days, 'day')}, "
        f"{say_minutes(ledger.minutes)} to date, "
        f"{say_count(sum(len(entry.photos) for entry in journal.build.entries), 'photo')}; "
        f"{sum_up(laid.problems)}.",
        f"The site is in {folder}; open {folder / 'index.html'}",
    )
    if others is not None:
        told = {"problems": [problem.as_json() for problem in laid.problems], "words": words}
        remember(root, inputs, beside, place=out, folder=folder, told=told)
    return laid.problems, words


def _tell_site(problems: Sequence[Problem], words: Sequence[str]) -> None:
    print_problems(problems)
    for line in words:
        click.echo(line)


if __name__ == "__main__":
    main()
