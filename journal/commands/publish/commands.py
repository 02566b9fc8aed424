"""`journal publish`: build, look through every file, send."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from journal.base.clock import now
from journal.base.formatting import say_count
from journal.base.problems import has_errors
from journal.commands.telling import folder_days, tell_problems
from journal.commands.terminal import (
    EXIT_DISK,
    EXIT_ERRORS,
    EXIT_USE,
    ProgressBar,
    build_option,
    fail,
    open_build,
    sum_up,
)

if TYPE_CHECKING:
    from journal.commands.publish.folder import Changes
    from journal.ledger.journal import Journal
    from journal.making.lay_site import LaidSite
    from journal.making.private_words import Private
    from journal.making.scan import Leak, Scanned

BUDGET_BYTES = 1_000_000_000
"""What a common host of static sites takes at most (common practice, no source)."""

LARGE_FILE_BYTES = 100_000_000
"""What common git hosts refuse as a single file (common practice, no source)."""

LISTED = 40


@click.command()
@build_option
@click.option("--folder", type=click.Path(path_type=Path), metavar="DIR", help="Send the site to this folder.")
@click.option("--git", "remote", metavar="REMOTE", help="Send it to a git remote: an address, a path, or a name.")
@click.option("--branch", default="pages", show_default=True, metavar="NAME", help="The branch of the remote.")
@click.option("--allow", multiple=True, metavar="WORDS", help="Let these words pass the search. May be repeated.")
@click.option("--dry-run", is_flag=True, help="Build, search and compare, but send nothing.")
def publish(
    root: Path, folder: Path | None, remote: str | None, branch: str, allow: tuple[str, ...], dry_run: bool
) -> None:
    """Send the site out into the world.

    Builds it anew and looks through the very files that would be sent: for metadata, names, places,
    numbers, private passages, originals, and requests to other hosts. Anything found stops it with
    exit code 1.

    A folder is mirrored: only files written by this command are replaced or removed there. A branch
    holds one commit, the site as it is now; a branch that holds anything else is never replaced.

    \b
    Example:
      journal publish --folder /media/stick/journal --dry-run
      journal publish --git git@forge.example:maren/tarn.git --branch pages
    """
    from journal.base.problems import SiteError
    from journal.ledger.journal import CACHE
    from journal.making.host import load_settings, site_options, write_site
    from journal.making.lay_site import lay_site
    from journal.making.private_words import gather_private
    from journal.view.view import Audience

    if (folder is None) == (remote is None):
        fail("say where to: --folder DIR or --git REMOTE", EXIT_USE)
    journal = open_build(root)
    if has_errors(journal.problems):
        tell_problems(journal.problems, folder_days(journal.build))
        fail(f"nothing was sent: {sum_up(journal.problems)}", EXIT_ERRORS)
    place = root / CACHE / "publish" / "site"
    try:
        settings = load_settings(root, out=place)
        with ProgressBar("photos") as photos, ProgressBar("making films (seconds)") as films:
            options = site_options(settings, Audience.PUBLIC)
            laid = lay_site(journal, options, on_photos=photos.tell, on_films=films.tell)
        site = write_site(laid, settings)
    except SiteError as trouble:
        fail(str(trouble), EXIT_ERRORS)
    tell_problems(laid.problems, folder_days(journal.build), late=laid.late)
    private = gather_private(root)
    scanned = _search(journal, private, site, laid, journal.build.let_pass.union(allow))
    _say_size(scanned)
    if scanned.leaks:
        _say_leaks(scanned.leaks)
        sys.exit(EXIT_ERRORS)
    say_searched(private)
    _send(root, site, scanned, folder, remote, branch, dry_run=dry_run)


def say_searched(private: Private) -> None:
    """What a search that found nothing has looked for."""
    click.echo(
        f"Looked through every file for {private}, for telephone and account numbers, e-mail addresses, positions, "
        "metadata and requests to other hosts: none was found."
    )


def _search(journal: Journal, private: Private, site: Path, laid: LaidSite, allowed: frozenset[str]) -> Scanned:
    from journal.making.host import shipped_digests
    from journal.making.scan import Scanner
    from journal.media.clips import uncleanliness

    scanner = Scanner(
        private,
        root=journal.root,
        site_url=laid.frame.site_url,
        # Whatever else lies among the pictures has no business there.
        pictures=frozenset(address.rpartition("/")[2] for address in laid.linked),
        shipped=shipped_digests(),
        allowed=allowed,
        look_at_film=uncleanliness,
    )
    with ProgressBar("looking through the site") as bar:
        return scanner.search_site(site, bar.tell, drawn=laid.view.photo_settings.watermark)


def _say_size(scanned: Scanned) -> None:
    from journal.base.byte_progress import say_bytes

    click.echo(f"The site: {say_count(len(scanned.sizes), 'file')}, {say_bytes(scanned.bytes)}.")
    if scanned.bytes >= BUDGET_BYTES:
        click.echo(
            f"Warning: that is more than {say_bytes(BUDGET_BYTES)}, the limit of a common host. Films weigh most; "
            "a lower budget for clips in build.yml, or some photos made private, would help.",
            err=True,
        )
    for name, size in scanned.sizes.items():
        if size >= LARGE_FILE_BYTES:
            click.echo(f"Warning: {name} weighs {say_bytes(size)}; common git hosts refuse such files.", err=True)


def _say_leaks(leaks: Sequence[Leak]) -> None:
    for leak in leaks[:LISTED]:
        click.echo(str(leak))
    if len(leaks) > LISTED:
        click.echo(f"and {len(leaks) - LISTED} more")
    click.echo(
        f"journal: nothing was sent: {say_count(len(leaks), 'thing')} found that should not leave, or that you should "
        "look at first. Mend the entry, make it private, or, if it may be seen, let it pass: this once with --allow "
        '"WORDS", for good in content/publishing.yml with the reason, as `allow: {"WORDS": "why"}`.',
        err=True,
    )


def _send(
    root: Path, site: Path, scanned: Scanned, folder: Path | None, remote: str | None, branch: str, *, dry_run: bool
) -> None:
    from journal.commands.publish.folder import NotSentError, plan_folder, send_to_folder
    from journal.commands.publish.git import Git
    from journal.ledger.journal import CACHE

    try:
        if folder is not None:
            changes = plan_folder(scanned.digests, folder)
            _say_changes(str(folder), changes, scanned)
            if dry_run:
                click.echo("Nothing was sent (--dry-run).")
                return
            with ProgressBar("sending") as bar:
                send_to_folder(site, scanned.digests, folder, changes, bar.tell)
            click.echo(f"Sent: the site is in {folder}.")
            return
        git = Git(root / CACHE / "publish" / "git", root)
        planned = git.plan(site, list(scanned.digests), str(remote), branch)
        _say_changes(f"{remote}, branch {branch}", planned.changes, scanned)
        if planned.nothing_to_do:
            click.echo("The branch holds this very site already; nothing to send.")
        elif dry_run:
            click.echo("Nothing was sent (--dry-run).")
        else:
            commit = git.push(planned, "The site", int(now().timestamp()))
            click.echo(f"Sent: {remote}, branch {branch}, is now {commit[:12]}.")
    except NotSentError as trouble:
        for name in trouble.names[:LISTED]:
            click.echo(f"  {name}", err=True)
        fail(str(trouble), EXIT_DISK if trouble.unreachable else EXIT_USE)


def _say_changes(where: str, changes: Changes, scanned: Scanned) -> None:
    from journal.base.byte_progress import say_bytes

    size = sum(scanned.sizes.get(name, 0) for name in changes.to_send)
    click.echo(
        f"To {where}: {len(changes.new):,} new, {len(changes.changed):,} changed, {len(changes.gone):,} to remove, "
        f"{len(changes.same):,} the same; {say_bytes(size)} to send."
    )
    for name in changes.kept:
        click.echo(f"  {name} was changed there by somebody else and is left alone")
