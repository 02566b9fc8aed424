"""What `--help` says of every command and option."""

from __future__ import annotations

from collections.abc import Iterator

import click

from journal.commands.main import main

PLAIN = {"TEXT", "INTEGER", "FLOAT"}
"""What stands for a value where nothing is said of it."""

REASON = "--reason"
"""Takes a sentence, which TEXT says well enough."""


def commands(command: click.Command, *path: str) -> Iterator[tuple[str, click.Command]]:
    """Every command with all that is typed for it."""
    yield " ".join(path), command
    if isinstance(command, click.Group):
        for name in command.list_commands(click.Context(command)):
            inner = command.get_command(click.Context(command), name)
            assert inner
            yield from commands(inner, *path, name)


def test_every_command_and_option_says_what_it_is_for() -> None:
    """A sentence each; and of what an option takes, what that is."""
    for name, command in commands(main, "journal"):
        assert (command.help or "").strip().splitlines()[0].endswith("."), name
        for option in (one for one in command.params if isinstance(one, click.Option)):
            assert option.help, (name, option.opts)
            assert option.help.split(" (default")[0].rstrip(").").strip(), (name, option.opts)
            takes = "yes or no" if option.is_flag else option.make_metavar(click.Context(command))
            assert (takes and takes not in PLAIN) or option.opts == [REASON], (name, option.opts)
