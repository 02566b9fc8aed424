"""What every command that listens asks for, and how it says why it cannot."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import click

from journal.base.problems import SiteError
from journal.commands.terminal import EXIT_USE, fail


def listening_options(port: int) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """`--port N`, `--certificate FILE` and `--key FILE`."""
    file = click.Path(exists=True, dir_okay=False, path_type=Path)

    def listening(command: Callable[..., Any]) -> Callable[..., Any]:
        command = click.option("--key", metavar="FILE", type=file, help="The key of the certificate (PEM).")(command)
        command = click.option("--certificate", metavar="FILE", type=file, help="For https: yours (PEM).")(command)
        ports = click.IntRange(1, 65535)
        return click.option("--port", type=ports, default=port, show_default=True, help="Where to listen.")(command)

    return listening


@contextlib.contextmanager
def telling_why(port: int) -> Iterator[None]:
    """End the command with a word where the block cannot listen or has nothing to show."""
    try:
        yield
    except SiteError as trouble:
        fail(str(trouble), EXIT_USE)
    except OSError as trouble:
        if trouble.errno is None or trouble.filename:
            raise
        fail(f"port {port}: {trouble.strerror}; choose another with --port", EXIT_USE)
