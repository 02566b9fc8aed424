"""`journal publish`: build, look through every file, send to a folder or a branch.

A folder (a stick, a mounted disk, what a web server shows) is a mirror that knows its own work: what was written is in
a list beside it, and only what is on the list is ever changed or removed. A branch of a git remote, where a static host
picks the site up, holds one commit: the site as it is now. What was taken back is not in its history either (the host
may keep unreachable objects for a while). Git's plumbing is used, so that no setting of the user's (ignored files, line
endings, hooks, signing, name and address) has a say in what is sent.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import click

from journal.base.byte_progress import Progress, say_bytes, silent
from journal.base.clock import now
from journal.base.digests import file_sha256
from journal.base.formatting import say_count
from journal.base.problems import SiteError, has_errors
from journal.base.safe_write import copy_whole, drop_file, write_whole
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
from journal.ledger.journal import CACHE, Journal
from journal.making.host import load_settings, shipped_digests, site_options, write_site
from journal.making.last_kept import PUBLISHED, Changes, Kept, compare, fingerprints, note_kept
from journal.making.lay_site import LaidSite, lay_site
from journal.making.private_words import Private, gather_private
from journal.making.published import check_published, note_published, pages_in, read_published
from journal.making.scan import Leak, Scanned, Scanner
from journal.media.clips import uncleanliness
from journal.view.view import Audience, open_view

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
    if (folder is None) == (remote is None):
        fail("say where to: --folder DIR or --git REMOTE", EXIT_USE)
    journal = open_build(root)
    if has_errors(journal.problems):
        tell_problems(journal.problems, folder_days(journal.build))
        fail(f"nothing was sent: {sum_up(journal.problems)}", EXIT_ERRORS)
    entries = fingerprints(root, open_view(journal, Audience.ARCHIVE))
    place = root / CACHE / "publish" / "site"
    try:
        settings = load_settings(root, out=place)
        laid = lay_site(journal, site_options(settings, Audience.PUBLIC), begin=ProgressBar)
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
    click.echo(
        f"Looked through every file for {private}, for telephone and account numbers, e-mail addresses, positions, "
        "metadata and requests to other hosts: none was found."
    )
    where, said = _send(laid, root, site, scanned, folder, remote, branch, dry_run=dry_run)
    if where:
        note_published(root, laid.site.addresses)
        sent = {entry.id: entries[entry.id] for entry in laid.view.entries}
        note_kept(root, PUBLISHED, Kept(at=now(), where=where, entries=sent))
    click.echo(said)


def _search(journal: Journal, private: Private, site: Path, laid: LaidSite, allowed: frozenset[str]) -> Scanned:
    scanner = Scanner(
        private,
        root=journal.root,
        site_url=laid.frame.site_url,
        # Whatever else lies among the pictures has no business there.
        pictures=frozenset(address.rpartition("/")[2] for address in laid.linked),
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
        '"WORDS", for good in content/publishing.yml with the reason, as `allow: {"WORDS": "why"}`.',
        err=True,
    )


def _send(
    laid: LaidSite,
    root: Path,
    site: Path,
    scanned: Scanned,
    folder: Path | None,
    remote: str | None,
    branch: str,
    *,
    dry_run: bool,
) -> tuple[str, str]:
    """(where the site was sent, "" where it was not, what to say of it)."""
    try:
        if folder is not None:
            changes = plan_folder(scanned.digests, folder)
            _say_changes(str(folder), changes, scanned)
            _say_vanished(root, laid, changes)
            if dry_run:
                return "", "Nothing was sent (--dry-run)."
            with ProgressBar("sending") as bar:
                send_to_folder(site, scanned.digests, folder, changes, bar)
            return str(folder.resolve()), f"Sent: the site is in {folder}."
        git = Git(root / CACHE / "publish" / "git", root)
        planned = git.plan(site, list(scanned.digests), str(remote), branch)
        _say_changes(f"{remote}, branch {branch}", planned.changes, scanned)
        _say_vanished(root, laid, planned.changes)
        if planned.nothing_to_do:
            return "", "The branch holds this very site already; nothing to send."
        if dry_run:
            return "", "Nothing was sent (--dry-run)."
        commit = git.push(planned, "The site", int(now().timestamp()))
        return f"branch {branch}", f"Sent: {remote}, branch {branch}, is now {commit[:12]}."
    except NotSentError as trouble:
        for name in trouble.names[:LISTED]:
            click.echo(f"  {name}", err=True)
        fail(str(trouble), EXIT_DISK if trouble.unreachable else EXIT_USE)


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


# -- to a folder -----------------------------------------------------------------------------------


LIST = ".journal-published.json"
_ABOUT = "Written by journal publish; the files below are its own and are replaced or removed with the site."


class NotSentError(Exception):
    """Nothing was sent; the message says why, `names` what is to blame. `unreachable` tells that the target
    could not be read or written, rather than that it was the wrong one.
    """

    def __init__(self, message: str, names: tuple[str, ...] = (), *, unreachable: bool = False) -> None:
        super().__init__(message)
        self.names = names
        self.unreachable = unreachable


def read_list(folder: Path) -> dict[str, str]:
    """Path -> SHA-256 of what we wrote into `folder`; nothing where there is no list or it makes no sense."""
    try:
        told = json.loads((folder / LIST).read_bytes())
        files = told["files"]
    except (OSError, ValueError, KeyError, TypeError):
        return {}
    good = isinstance(files, dict) and all(isinstance(digest, str) and _inside(name) for name, digest in files.items())
    return files if good else {}


def _inside(name: str) -> bool:
    """Whether a path of the list stays below its folder."""
    parts = name.replace("\\", "/").split("/")
    return bool(name) and not name.startswith("/") and ":" not in parts[0] and ".." not in parts


def plan_folder(digests: Mapping[str, str], folder: Path) -> Changes:
    """What sending the files of `digests` (path -> SHA-256) to `folder` would do.

    Raises NotSentError where a file that is not ours stands in the way.
    """
    if folder.exists() and not folder.is_dir():
        raise NotSentError(f"{folder} is a file; name a folder")
    listed = read_list(folder)
    there = {name: _digest(folder / name) for name in digests.keys() | listed if os.path.lexists(folder / name)}
    changes = compare(there, digests)
    if strangers := tuple(name for name in changes.changed if name not in listed):
        raise NotSentError(
            f"{folder} holds files of the same names that were not published from here; nothing was sent. "
            "Name an empty folder, or move them away first",
            strangers,
        )
    kept = tuple(name for name in changes.gone if there[name] != listed[name])
    return replace(changes, gone=tuple(name for name in changes.gone if name not in kept), kept=kept)


def send_to_folder(
    site: Path, digests: Mapping[str, str], folder: Path, changes: Changes, progress: Progress = silent
) -> None:
    """Do what `plan_folder` planned. Pictures and styles come before the pages that show them, what is
    gone goes last; every file lands whole. OSError from the disk leaves a list that knows what is ours.
    """
    folder.mkdir(parents=True, exist_ok=True)
    before = read_list(folder)
    # Until all is done the list holds both, so that a stopped run is cleaned up by the next one.
    _write_list(folder, {**before, **digests})
    order = sorted(changes.to_send, key=lambda name: (name.endswith((".html", ".xml", ".json")), name))
    for number, name in enumerate(order, start=1):
        copy_whole(site / name, folder / name)
        progress(number, len(order))
    for name in changes.gone:
        drop_file(folder, name)
    _write_list(folder, dict(digests))


def _write_list(folder: Path, digests: Mapping[str, str]) -> None:
    data = json.dumps({"about": _ABOUT, "files": dict(sorted(digests.items()))}, indent=1).encode()
    write_whole(folder / LIST, data)


def _digest(path: Path) -> str:
    return "" if path.is_symlink() or not path.is_file() else file_sha256(path)[0]


# -- to a branch -----------------------------------------------------------------------------------


MARK = "Made-By: journal publish"
"""The trailer by which a branch of ours is known again; another branch is never replaced."""


KEPT = ("CNAME",)
"""Files that hosts keep their own settings in: they stay where the new site has none of that name."""

OWN: Mapping[str, bytes] = {".nojekyll": b""}
"""What goes with the site: hosts that would run a generator of theirs over it leave it alone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A commit ready to be pushed. `old` is what the branch holds now, empty where there is none."""

    remote: str
    branch: str
    tree: str
    old: str
    changes: Changes

    @property
    def nothing_to_do(self) -> bool:
        """Whether the branch holds this very site already."""
        return bool(self.old) and not self.changes.to_send and not self.changes.gone


class Git:
    """Git at work in a repository of its own (`store`), beside the build and not in it."""

    def __init__(self, store: Path, root: Path) -> None:
        self._store = store
        self._root = root

    def plan(self, site: Path, names: Sequence[str], remote: str, branch: str) -> Planned:
        """Store the files `names` of `site`, and compare with what `branch` of `remote` holds.

        Raises NotSentError where git is not installed, the remote cannot be reached, or the branch
        holds something that was not published from here.
        """
        if not (self._store / "HEAD").exists():
            self._store.mkdir(parents=True, exist_ok=True)
            self._run("init", "--quiet", "--bare")
        if subprocess.run(["git", "check-ref-format", "--branch", branch], capture_output=True, check=False).returncode:
            raise NotSentError(f'"{branch}" cannot be the name of a branch')
        remote = self._address_of(remote)
        old = self._run("ls-remote", remote, f"refs/heads/{branch}", told=True).decode().partition("\t")[0]
        blobs = self._store_files(site, names)
        before: dict[str, str] = {}
        if old:
            self._fetch(remote, branch, old)
            before = self._files_of(old)
        for name in KEPT:
            if name in before and name not in blobs:
                blobs[name] = before[name]
        tree = self._write_tree(blobs)
        return Planned(remote=remote, branch=branch, tree=tree, old=old, changes=compare(before, blobs))

    def push(self, planned: Planned, message: str, seconds: int) -> str:
        """Put the commit on the branch; its ID. `seconds` is its time since 1970.

        Raises NotSentError where the remote refuses it, or the branch is not what it was when planned.
        """
        said = {"NAME": "build journal", "EMAIL": "journal@localhost.invalid", "DATE": f"{seconds} +0000"}
        who = {f"GIT_{whose}_{key}": value for whose in ("AUTHOR", "COMMITTER") for key, value in said.items()}
        text = f"{message}\n\n{MARK}\n"
        commit = self._run("commit-tree", planned.tree, data=text.encode(), more=who).decode().strip()
        reference = f"refs/heads/{planned.branch}"
        lease = f"--force-with-lease={reference}:{planned.old}"
        self._run("push", "--quiet", "--no-verify", lease, planned.remote, f"{commit}:{reference}", told=True)
        # Kept, so that the next push sends only what is new.
        self._run("update-ref", "refs/published", commit)
        return commit

    # -- pieces ----------------------------------------------------------------------------------

    def _address_of(self, remote: str) -> str:
        """The address behind the name of a remote of the build's own repository, else `remote` itself."""
        if "/" in remote or ":" in remote or (self._root / remote).exists():
            return os.fspath(Path(remote).expanduser().resolve()) if Path(remote).expanduser().exists() else remote
        command = ["git", "-C", os.fspath(self._root), "remote", "get-url", "--push", remote]
        found = subprocess.run(command, capture_output=True, text=True, check=False)
        if found.returncode or not found.stdout.strip():
            raise NotSentError(f'"{remote}" is neither an address nor a remote of this repository')
        return found.stdout.strip()

    def _fetch(self, remote: str, branch: str, old: str) -> None:
        self._run("fetch", "--quiet", "--depth=1", "--no-tags", remote, f"refs/heads/{branch}", told=True)
        text = self._run("cat-file", "commit", old).decode("utf-8", "replace")
        if MARK not in text.split("\n"):
            raise NotSentError(
                f"the branch {branch} holds something that was not published from here, and all of it would be "
                "replaced; name another branch"
            )

    def _store_files(self, site: Path, names: Sequence[str]) -> dict[str, str]:
        """Blob of each file, by path, with the bytes as they are."""
        listed = "".join(f"{site / name}\n" for name in names).encode()
        out = self._run("hash-object", "-w", "--no-filters", "--stdin-paths", data=listed).decode().split()
        blobs = dict(zip(names, out, strict=True))
        for name, data in OWN.items():
            blobs[name] = self._run("hash-object", "-w", "--no-filters", "--stdin", data=data).decode().strip()
        return blobs

    def _files_of(self, commit: str) -> dict[str, str]:
        rows = self._run("ls-tree", "-r", "-z", commit).decode("utf-8", "surrogateescape").split("\0")
        return {row.partition("\t")[2]: row.split()[2] for row in rows if row}

    def _write_tree(self, blobs: Mapping[str, str]) -> str:
        index = self._store / "site.index"
        index.unlink(missing_ok=True)
        rows = "".join(f"100644 {blob} 0\t{name}\0" for name, blob in sorted(blobs.items()))
        more = {"GIT_INDEX_FILE": os.fspath(index)}
        data = rows.encode("utf-8", "surrogateescape")
        self._run("update-index", "-z", "--add", "--index-info", data=data, more=more)
        return self._run("write-tree", more=more).decode().strip()

    def _run(
        self, *words: str, data: bytes | None = None, more: Mapping[str, str] | None = None, told: bool = False
    ) -> bytes:
        """Run git. `told` lets its words reach the user where it fails: they are about the remote."""
        environment = {key: value for key, value in os.environ.items() if not key.startswith("GIT_") or "SSH" in key}
        environment |= {"GIT_DIR": os.fspath(self._store), **(more or {})}
        command = ["git", "-c", "core.hooksPath=/dev/null", "-c", "core.autocrlf=false", "-c", "gc.auto=0", *words]
        try:
            done = subprocess.run(command, input=data, capture_output=True, check=False, env=environment)
        except FileNotFoundError:
            raise NotSentError("git is not installed; publish to a folder instead, or install it") from None
        if done.returncode:
            lines = [line for line in done.stderr.decode("utf-8", "replace").split("\n") if line.strip()]
            said = "; ".join(line.strip() for line in lines[-3:]) or "no reason given"
            raise NotSentError(f"git: {said}" if told else f"git {words[0]} failed: {said}", unreachable=True)
        return done.stdout
