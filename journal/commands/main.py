"""The command line. Exit codes: 0 fine, 1 errors found, 2 wrong use, 3 could not read or write."""

from __future__ import annotations

import atexit
import gc
import importlib
import os
import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any

import click

from journal import __version__
from journal.base.problems import SiteError, did_you_mean
from journal.commands.terminal import EXIT_DISK, EXIT_ERRORS

COMMANDS = {
    "begin": "journal.commands.intake.begin",
    "enter": "journal.commands.intake.enter",
    "bench": "journal.commands.bench.serve",
    "adopt": "journal.commands.intake.adopt",
    "move": "journal.commands.moving.move",
    "undo": "journal.commands.undo",
    "today": "journal.commands.today",
    "check": "journal.commands.check",
    "preview": "journal.commands.preview",
    "hours": "journal.commands.hours",
    "find": "journal.commands.find",
    "site": "journal.commands.site",
    "publish": "journal.commands.publish",
    "card": "journal.commands.card",
    "film": "journal.commands.film",
    "seal": "journal.commands.record",
    "archive": "journal.commands.record",
    "verify": "journal.commands.record",
}
"""Every command in the order of the work, and the module that holds it."""


@contextmanager
def _tidy_when_ended() -> Iterator[None]:
    """Asked by the system to end, tidy up first, as after Ctrl-C; asked a second time, end at once."""

    def end(number: int, frame: FrameType | None) -> None:
        signal.signal(number, signal.SIG_DFL)
        sys.exit(128 + number)

    asked = [getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
    if threading.current_thread() is not threading.main_thread():
        asked = []
    before = {number: signal.signal(number, end) for number in asked if signal.getsignal(number) is signal.SIG_DFL}
    try:
        yield
    finally:
        for number, was in before.items():
            signal.signal(number, was)


atexit.register(gc.freeze)  # else Python looks through everything once more at its end: a tenth of a site's time


class _Group(click.Group):
    """Loads a command when it is called: `find` must answer before the rest of us is read from disk.

    A disk that fails ends with code 3 and one line, a site that cannot be made with code 1.
    """

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        module = COMMANDS.get(cmd_name)
        if module is None:
            return None
        command = getattr(importlib.import_module(module), cmd_name)
        return command if isinstance(command, click.Command) else None

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command that is called; of one that is none, the nearest is offered."""
        if args[0] not in COMMANDS and not args[0].startswith("-"):
            raise click.UsageError(f'there is no command "{args[0]}"; {did_you_mean(args[0], COMMANDS)}', ctx)
        return super().resolve_command(ctx, args)

    def invoke(self, ctx: click.Context) -> Any:
        try:
            with _tidy_when_ended():
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
@click.pass_context
def main(ctx: click.Context) -> None:
    """A journal of building an aircraft: entries and photos in, a site and an archive out.

    `journal begin FOLDER` makes the folder of a build. In it, `journal enter` writes up an evening,
    and `journal today` tells what is next.
    """
    if os.environ.get("NO_COLOR"):
        ctx.color = False


if __name__ == "__main__":
    main()
