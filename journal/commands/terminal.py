"""What every command shares: the build folder, the day, progress, how problems are printed."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click

from journal.base.clock import today as today
from journal.base.formatting import WHO_DECIDES, say_count
from journal.base.problems import Grade, Problem, render_problem

if TYPE_CHECKING:
    from rich.console import Console

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
    raise click.UsageError("no build folder here; go into one, name one with --build, or make one: journal begin DIR")


def build_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """`--build DIR`, the same for every command."""
    return click.option(
        "--build", "root", metavar="DIR", callback=build_folder, help="The build folder (default: the one you are in)."
    )(command)


def open_build(root: Path) -> Journal:
    """Open the journal, with a progress bar where reading photos takes a while."""
    from journal.ledger.journal import open_journal

    with Bar("reading photos") as bar:
        return open_journal(root, today(), bar.tell)


class Bar:
    """A progress bar on a terminal; elsewhere a plain line now and then. Silent for quick work."""

    def __init__(self, what: str) -> None:
        self.what = what
        self._bar: Any = None
        self._task: Any = None
        self._last = datetime.now(UTC)
        self._begun = self._last

    def __enter__(self) -> Bar:
        return self

    def __exit__(self, *trouble: object) -> None:
        if self._bar is not None:
            self._bar.stop()

    def tell(self, done: int, total: int) -> None:
        """`done` of `total` are through."""
        now = datetime.now(UTC)
        if (now - self._begun).total_seconds() < 1:
            return
        if not sys.stderr.isatty():
            if (now - self._last).total_seconds() >= 5 or done == total:
                self._last = now
                click.echo(f"{self.what}: {done:,} of {total:,}", err=True)
            return
        if self._bar is None:
            from rich.console import Console
            from rich.progress import Progress

            self._bar = Progress(console=Console(stderr=True), transient=True)
            self._bar.start()
            self._task = self._bar.add_task(self.what, total=total)
        self._bar.update(self._task, completed=done, total=total)


def fail(message: str, code: int) -> NoReturn:
    """Say why on the error stream, and stop with `code`."""
    click.echo(f"journal: {message}", err=True)
    sys.exit(code)


def print_problems(problems: Sequence[Problem]) -> None:
    """One line each, errors told from findings by a word as well as by colour."""
    for problem in problems:
        label = (
            click.style("error", fg="red", bold=True)
            if problem.grade is Grade.ERROR
            else click.style("finding", fg="yellow")
        )
        click.echo(f"{render_problem(problem)} [{label} {problem.word}]")


def sum_up(problems: Sequence[Problem]) -> str:
    """`2 errors, 5 findings`."""
    errors = sum(problem.grade is Grade.ERROR for problem in problems)
    return f"{say_count(errors, 'error')}, {say_count(len(problems) - errors, 'finding')}"


def console() -> Console:
    """Standard output for tables; plain in a pipe, without colour where NO_COLOR is set."""
    from rich.console import Console

    return Console(highlight=False, markup=False, soft_wrap=not sys.stdout.isatty())
