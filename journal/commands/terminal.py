"""What every command shares: the build folder, the day, progress, how problems are printed."""

from __future__ import annotations

import re
import sys
from calendar import monthrange
from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click

from journal.base.byte_progress import Progress
from journal.base.clock import today as today
from journal.base.formatting import WHO_DECIDES, say_count
from journal.base.problems import Grade, Problem, render_problem

if TYPE_CHECKING:
    from journal.ledger.journal import Journal

EXIT_ERRORS, EXIT_USE, EXIT_DISK = 1, 2, 3

CAUTION = f"{WHO_DECIDES}; this tool records and advises."


def build_folder(context: click.Context, parameter: click.Parameter, value: str | None) -> Path:
    """The build folder: `--build`, else the current one or the nearest above that holds content/."""
    if value is not None:
        folder = Path(value)
        if not (folder / "content").is_dir():
            raise click.BadParameter(f"{value} holds no content/ folder; `journal begin {value}` makes a new build")
        return folder.resolve()
    here = Path.cwd()
    for folder in (here, *here.parents):
        if (folder / "content" / "build.yml").is_file():
            return folder
    if (here / "content").is_dir():
        return here
    if below := [path.parent.parent.name for path in here.glob("*/content/build.yml")]:
        raise click.UsageError(f"no build folder here, but there is one below: cd {sorted(below)[0]}")
    raise click.UsageError("no build folder here; go into one, name one with --build, or make one: journal begin DIR")


def build_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """`--build DIR`, the same for every command."""
    return click.option(
        "--build", "root", metavar="DIR", callback=build_folder, help="The build folder (default: the one you are in)."
    )(command)


def open_build(root: Path) -> Journal:
    """Open the journal, with a progress bar where reading photos takes a while."""
    from journal.commands.written import finish_stopped
    from journal.ledger.journal import open_journal

    finish_stopped(root)
    with ProgressBar("reading photos") as bar:
        return open_journal(root, today(), bar)


class Day(click.ParamType[date]):
    """A day, month or year of ISO 8601; `last` reads a month or year as its last day."""

    name = "date"

    def __init__(self, *, last: bool) -> None:
        self.last = last

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> date:
        """The first or last day that `value` names."""
        whole = re.fullmatch(r"([0-9]{4})(?:-([0-9]{2}))?", value)
        try:
            if not whole:
                return date.fromisoformat(value)
            year, month = int(whole[1]), int(whole[2] or (12 if self.last else 1))
            return date(year, month, monthrange(year, month)[1] if self.last else 1)
        except ValueError:
            self.fail(f'"{value}" is no date; write 2026-02-07, 2026-02 or 2026', param, ctx)


class ProgressBar:
    """A progress bar on a terminal; elsewhere a plain line after 5 seconds, 10, 20 and so on. Silent for quick work. It
    gives what is to be told (done, in all).
    """

    def __init__(self, what: str) -> None:
        self.what = what
        self._bar: Any = None
        self._task: Any = None
        self._begun = datetime.now(UTC)
        self._next_seconds = 5

    def __enter__(self) -> Progress:
        return self.tell

    def __exit__(self, *trouble: object) -> None:
        if self._bar is not None:
            self._bar.stop()

    def tell(self, done: int, total: int) -> None:
        """`done` of `total` are through."""
        seconds = (datetime.now(UTC) - self._begun).total_seconds()
        if seconds < 1:
            return
        if not sys.stderr.isatty():
            if seconds >= self._next_seconds:
                while self._next_seconds <= seconds:
                    self._next_seconds *= 2
                click.echo(f"{self.what}: {done:,} of {total:,}", err=True)
            return
        if self._bar is None:
            from rich import progress
            from rich.console import Console

            self._bar = progress.Progress(console=Console(stderr=True), transient=True)
            self._bar.start()
            self._task = self._bar.add_task(self.what, total=total)
        self._bar.update(self._task, completed=done, total=total)


def on_terminal() -> bool:
    """Whether somebody can be asked."""
    return sys.stdin.isatty() and sys.stderr.isatty()


def fail(message: str, code: int) -> NoReturn:
    """Say why on the error stream, and stop with `code`."""
    click.echo(f"journal: {message}", err=True)
    sys.exit(code)


def print_problems(problems: Sequence[Problem]) -> None:
    """One line each, errors told from findings by a word as well as by colour."""
    for problem in problems:
        colour = "red" if problem.grade is Grade.ERROR else "yellow"
        # A hyphen for the space: the label stays in one piece.
        text = fit_terminal(f"{render_problem(problem)} [{problem.grade.value}-{problem.word}]")
        label = click.style(f"{problem.grade.value} {problem.word}", fg=colour)
        click.echo(f"{text.rpartition('[')[0]}[{label}]")


def fit_terminal(text: str, indent: int = 0) -> str:
    """On a terminal `text` broken between words at its width, further lines set in; elsewhere one line."""
    if not sys.stdout.isatty():
        return text
    from shutil import get_terminal_size
    from textwrap import wrap

    width = max(40, get_terminal_size().columns - indent)
    lines = wrap(text, width, subsequent_indent="    ", break_long_words=False, break_on_hyphens=False)
    return f"\n{' ' * indent}".join(lines)


def sum_up(problems: Sequence[Problem]) -> str:
    """`2 errors, 5 findings`."""
    errors = sum(problem.grade is Grade.ERROR for problem in problems)
    return f"{say_count(errors, 'error')}, {say_count(len(problems) - errors, 'finding')}"


def say_unread(errors: int, what: str) -> None:
    """Say that so many errors keep entries from being `what`."""
    said = f"{say_count(errors, 'error')} in the content: entries that could not be read are not {what}"
    click.echo(f"{said}; see `journal check`.", err=True)


def stop_at_errors(problems: Sequence[Problem], what: str) -> None:
    """Print errors and end with exit code 1, saying that `what` did not happen."""
    errors = [problem for problem in problems if problem.grade is Grade.ERROR]
    if errors:
        print_problems(errors)
        click.echo(f"{what}: {sum_up(errors)}.", err=True)
        sys.exit(EXIT_ERRORS)
