"""`journal publish`: build, look through every file, and send what was looked at to a folder, a branch or a server."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from contextlib import closing
from pathlib import Path

import click

from journal.base.byte_progress import say_bytes
from journal.base.clock import now
from journal.base.formatting import say_count
from journal.base.problems import SiteError
from journal.commands.publishing.branch import BranchTarget
from journal.commands.publishing.folder import FolderTarget, free_folder
from journal.commands.publishing.server import ServerTarget, same_server
from journal.commands.publishing.targets import NotSentError
from journal.commands.telling import folder_days, tell_problems
from journal.commands.terminal import (
    EXIT_DISK,
    EXIT_ERRORS,
    EXIT_USE,
    ProgressBar,
    build_option,
    fail,
    open_build,
    stop_at_errors,
)
from journal.ledger.journal import CACHE, Journal
from journal.making.host import load_settings, shipped_digests, shipped_words, site_options, write_site
from journal.making.last_kept import PUBLISHED, Changes, Kept, fingerprints, note_kept
from journal.making.lay_site import LaidSite, lay_site
from journal.making.private_words import Private, gather_private
from journal.making.published import check_published, note_published, pages_in, read_published
from journal.making.scan import Leak, Scanned, Scanner
from journal.media.clips import uncleanliness
from journal.reading.edits import EditRefusedError
from journal.reading.publishing import FILE, TARGETS, keep_allowed, keep_target, parse_port
from journal.view.view import Audience, open_view

Target = FolderTarget | BranchTarget | ServerTarget

BUDGET_BYTES = 1_000_000_000
"""What a common host of static sites takes at most (common practice, no source)."""

LARGE_FILE_BYTES = 100_000_000
"""What common git hosts refuse as a single file (common practice, no source)."""

LISTED = 40

WHERE_TO = "say where to: --folder DIR, --git REMOTE or --sftp USER@HOST:PATH"


_BELONGS = {"branch": "git", "port": "sftp", "host_key": "sftp", "key": "sftp"}


@click.command()
@build_option
@click.option("--folder", type=click.Path(), metavar="DIR", help="Send the site to this folder.")
@click.option("--git", metavar="REMOTE", help="Send it to a git remote: an address, a path, or a name.")
@click.option("--branch", metavar="NAME", help="The branch of the remote.  [default: pages]")
@click.option("--sftp", metavar="USER@HOST:PATH", help="Send it to a folder on a server, by SFTP.")
@click.option("--port", metavar="N", help="The port of the server.  [default: 22]")
@click.option("--key", metavar="FILE", help="Your key for the server, where it is none of the usual ones.")
@click.option("--host-key", metavar="SHA256:…", help="The fingerprint of the server, where nobody can be asked.")
@click.option("--allow", multiple=True, metavar="WORDS", help="Let these words pass the search. May be repeated.")
@click.option("--reason", metavar="TEXT", help="Why they may be seen: keeps --allow for good.")
@click.option("--dry-run", is_flag=True, help="Build, search and compare, but send nothing.")
def publish(root: Path, allow: tuple[str, ...], reason: str | None, dry_run: bool, **given: str | None) -> None:
    """Send the site out into the world.

    Builds it anew and looks through the very files that would be sent: for metadata, names, places,
    numbers, private passages, originals, and requests to other hosts. Anything found stops it with
    exit code 1.

    A folder, here or on a server, is mirrored: only files written by this command are replaced or
    removed there. A branch holds one commit, the site as it is now; a branch that holds anything else
    is never replaced. Where it was sent is kept in content/publishing.yml (no password), so that
    `journal publish` alone does it again.

    \b
    Example:
      journal publish --folder /media/stick/journal --dry-run
      journal publish --git git@forge.example:maren/tarn.git --branch pages
      journal publish --sftp maren@webspace.example:htdocs/tarn
      journal publish
    """
    settings = {name: value for name, value in given.items() if value is not None}
    if reason is not None and not (allow and reason.strip()):
        fail("--reason says why the words of --allow may be seen; give both", EXIT_USE)
    if parse_port(settings.get("port", "22")) is None:
        fail("--port takes a number from 1 to 65535", EXIT_USE)
    if sum(name in settings for name in TARGETS) > 1:
        fail(WHERE_TO, EXIT_USE)
    journal = open_build(root)
    stop_at_errors(journal.problems, "Nothing was sent")
    try:
        with closing(_target(root, settings, journal.build.send_to)) as target:
            for words in allow if reason and not dry_run else ():
                keep_allowed(root, words, reason or "")
            _publish(journal, target, frozenset(allow), dry_run=dry_run)
    except NotSentError as trouble:
        for name in trouble.names[:LISTED]:
            click.echo(f"  {name}", err=True)
        fail(str(trouble), EXIT_DISK if trouble.unreachable else EXIT_USE)
    except EditRefusedError as trouble:
        fail(f"{FILE}: {trouble}", EXIT_USE)


def _target(root: Path, given: Mapping[str, str], remembered: Mapping[str, str]) -> Target:
    """The target that the options name, else the one that was used last; options given now win."""
    named, last = (next((name for name in TARGETS if name in one), "") for one in (given, remembered))
    kind = named or last
    if not kind:
        raise NotSentError(WHERE_TO)
    if strange := [name for name in given if _BELONGS.get(name, kind) != kind]:
        raise NotSentError(f"--{strange[0].replace('_', '-')} goes with --{_BELONGS[strange[0]]}")
    same = (
        not named or given[kind] == remembered.get(kind) or (kind == last == "sftp" and same_server(given, remembered))
    )
    told = {**remembered, **given} if same else given
    if kind == "folder":
        folder = Path(told["folder"]).expanduser()
        return FolderTarget(free_folder(root, folder, remembered=not named), str(folder))
    if kind == "git":
        return BranchTarget(root, told["git"], told.get("branch", "pages"))
    return ServerTarget(told["sftp"], int(told.get("port", 0)), told.get("host_key", ""), told.get("key", ""))


def _publish(journal: Journal, target: Target, allowed: frozenset[str], *, dry_run: bool) -> None:
    root = journal.root
    entries = fingerprints(root, open_view(journal, Audience.ARCHIVE))
    place = root / CACHE / "publish" / "site"
    try:
        settings = load_settings(root, out=place)
        laid = lay_site(journal, site_options(settings, Audience.PUBLIC), begin=ProgressBar)
        site = write_site(laid, settings)
    except SiteError as trouble:
        fail(str(trouble), EXIT_ERRORS)
    tell_problems(laid.problems, folder_days(journal.build), late=laid.late)
    private = gather_private(root, shipped_words())
    scanned = _search(journal, private, site, laid, journal.build.let_pass | allowed)
    _say_size(scanned)
    if scanned.leaks:
        _say_leaks(scanned.leaks)
        sys.exit(EXIT_ERRORS)
    click.echo(
        f"Looked through every file for {private}, for telephone and account numbers, e-mail addresses, positions, "
        "metadata and requests to other hosts: none was found."
    )
    with ProgressBar("looking at what is there") as bar:
        changes = target.plan(site, scanned.digests, bar)
    _say_changes(target.said, changes, scanned)
    _say_vanished(root, laid, changes)
    if dry_run:
        click.echo(target.settled or "Nothing was sent (--dry-run).")
        return
    if target.settled:
        click.echo(target.settled)
    else:
        with ProgressBar("sending") as bar:
            said = target.send(bar)
        note_published(root, laid.site.addresses)
        sent = {entry.id: entries[entry.id] for entry in laid.view.entries}
        note_kept(root, PUBLISHED, Kept(at=now(), where=target.kept_as, entries=sent))
        click.echo(said)
    try:
        if keep_target(root, target.settings):
            click.echo(f"Kept in {FILE}: `journal publish` alone sends it there again.")
    except EditRefusedError as trouble:
        click.echo(f"journal: where it was sent is not kept in {FILE}: {trouble}", err=True)


def _search(journal: Journal, private: Private, site: Path, laid: LaidSite, allowed: frozenset[str]) -> Scanned:
    scanner = Scanner(
        private,
        root=journal.root,
        site_url=laid.frame.site_url,
        # Whatever else lies among the pictures has no business there.
        pictures={address.rpartition("/")[2]: "" for address in laid.linked}
        | {one.name: original for original, picture in laid.pictures.items() for one in picture.renditions},
        shipped=shipped_digests(),
        # An address to write to is given in order to be seen.
        allowed=allowed | ({journal.build.write_to} - {""}),
        look_at_film=uncleanliness,
    )
    with ProgressBar("looking through the site") as bar:
        return scanner.search_site(site, bar, drawn=laid.view.photo_settings.watermark)


def _say_size(scanned: Scanned) -> None:
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
        f'"WORDS", for good with --allow "WORDS" --reason "why" (kept in {FILE}).',
        err=True,
    )


def _say_changes(where: str, changes: Changes, scanned: Scanned) -> None:
    size = sum(scanned.sizes.get(name, 0) for name in changes.to_send)
    click.echo(
        f"To {where}: {len(changes.new):,} new, {len(changes.changed):,} changed, {len(changes.gone):,} to remove, "
        f"{len(changes.same):,} the same; {say_bytes(size)} to send."
    )
    for name in changes.kept:
        click.echo(f"  {name} was changed there by somebody else and is left alone")


def _say_vanished(root: Path, laid: LaidSite, changes: Changes) -> None:
    """Pages that stand at the target and would vanish, where no note tells of them: then they are told already."""
    if read_published(root) is None:
        addresses = laid.site.addresses
        stood = pages_in((*changes.gone, *changes.same, *changes.changed), addresses)
        tell_problems(check_published(stood, addresses), {})
