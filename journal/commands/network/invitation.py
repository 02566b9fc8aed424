"""How the terminal invites a device in."""

from __future__ import annotations

import contextlib
import io
import sys
import threading
from collections.abc import Sequence

import click
import segno

from journal.commands.network.guard import LET_IN
from journal.commands.network.letting_in import Doorkeeper
from journal.commands.terminal import fit_terminal


def print_invitation(addresses: Sequence[str], secret: str) -> None:
    """Say how a device is let in: the code for its camera (on a terminal), the address with the secret, and what the
    network can read.
    """
    if not addresses:
        click.echo("This machine is on no network, so no other device can reach it. Join one, and start again.")
        return
    invited = f"{addresses[0]}{LET_IN}#{secret}"
    way = "To let a device in, point its camera here, or open this address on it. It works once, for ten minutes."
    click.echo(fit_terminal(way))
    if sys.stdout.isatty() and (sys.stdout.encoding or "").lower().startswith("utf"):
        drawn = io.StringIO()
        segno.make(invited, micro=False).terminal(drawn, compact=True)
        for line in drawn.getvalue().splitlines():
            click.echo(click.style(line, fg="bright_white", bg="black"))
    click.echo(f"  {invited}")
    for address in addresses[1:]:
        click.echo(f"  or {address}{LET_IN}#{secret}")
    click.echo(f"Or open {addresses[0]}/ and type the secret: {secret}")
    if not addresses[0].startswith("https:"):
        warning = (
            "Over http this network carries everything unencrypted: whoever is on it can read what the device sends "
            "and is shown, the secret too. For https give --certificate and --key."
        )
        click.echo(fit_terminal(warning))


def wait_inviting(doorkeeper: Doorkeeper | None, addresses: Sequence[str]) -> None:
    """Wait for Ctrl-C. With a doorkeeper Enter invites another device."""
    with contextlib.suppress(KeyboardInterrupt):
        while doorkeeper and sys.stdin.isatty() and (typed := sys.stdin.readline()):
            if typed.strip():
                click.echo("Enter alone lets another device in; Ctrl-C ends it.")
                continue
            print_invitation(addresses, doorkeeper.new_secret())
        threading.Event().wait()
