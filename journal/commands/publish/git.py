"""Sending a site to a branch of a git remote, where a static host picks it up.

The branch holds one commit: the site as it is now. What was taken back is not in its history either
(the host may keep unreachable objects for a while). Git's plumbing is used, so that no setting of the
user's (ignored files, line endings, hooks, signing, name and address) has a say in what is sent.
"""

from __future__ import annotations

import os
import subprocess
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from journal.commands.publish.folder import Changes, NotSentError

MARK = "Made-By: journal publish"
"""The trailer by which a branch of ours is known again; another branch is never replaced."""

WHO = "build journal"
ADDRESS = "journal@localhost.invalid"
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
        self._begin()
        if subprocess.run(["git", "check-ref-format", "--branch", branch], capture_output=True, check=False).returncode:
            raise NotSentError(f'"{branch}" cannot be the name of a branch')
        remote = self._address_of(remote)
        old = self._tip(remote, branch)
        blobs = self._store_files(site, names)
        before: dict[str, str] = {}
        if old:
            self._fetch(remote, branch, old)
            before = self._files_of(old)
        for name in KEPT:
            if name in before and name not in blobs:
                blobs[name] = before[name]
        tree = self._write_tree(blobs)
        return Planned(remote=remote, branch=branch, tree=tree, old=old, changes=_compare(before, blobs))

    def push(self, planned: Planned, message: str, seconds: int) -> str:
        """Put the commit on the branch; its ID. `seconds` is its time since 1970.

        Raises NotSentError where the remote refuses it, or the branch is not what it was when planned.
        """
        when = f"{seconds} +0000"
        who = {
            "GIT_AUTHOR_NAME": WHO,
            "GIT_AUTHOR_EMAIL": ADDRESS,
            "GIT_AUTHOR_DATE": when,
            "GIT_COMMITTER_NAME": WHO,
            "GIT_COMMITTER_EMAIL": ADDRESS,
            "GIT_COMMITTER_DATE": when,
        }
        text = f"{message}\n\n{MARK}\n"
        commit = self._run("commit-tree", planned.tree, data=text.encode(), more=who).decode().strip()
        reference = f"refs/heads/{planned.branch}"
        lease = f"--force-with-lease={reference}:{planned.old}"
        self._run("push", "--quiet", "--no-verify", lease, planned.remote, f"{commit}:{reference}", told=True)
        # Kept, so that the next push sends only what is new.
        self._run("update-ref", "refs/published", commit)
        return commit

    # -- pieces ----------------------------------------------------------------------------------

    def _begin(self) -> None:
        if not (self._store / "HEAD").exists():
            self._store.mkdir(parents=True, exist_ok=True)
            self._run("init", "--quiet", "--bare")

    def _address_of(self, remote: str) -> str:
        """The address behind the name of a remote of the build's own repository, else `remote` itself."""
        if "/" in remote or ":" in remote or (self._root / remote).exists():
            return os.fspath(Path(remote).expanduser().resolve()) if Path(remote).expanduser().exists() else remote
        command = ["git", "-C", os.fspath(self._root), "remote", "get-url", "--push", remote]
        found = subprocess.run(command, capture_output=True, text=True, check=False)
        if found.returncode or not found.stdout.strip():
            raise NotSentError(f'"{remote}" is neither an address nor a remote of this repository')
        return found.stdout.strip()

    def _tip(self, remote: str, branch: str) -> str:
        out = self._run("ls-remote", remote, f"refs/heads/{branch}", told=True).decode().split()
        return out[0] if out else ""

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


def _compare(before: Mapping[str, str], after: Mapping[str, str]) -> Changes:
    return Changes(
        new=tuple(sorted(after.keys() - before.keys())),
        changed=tuple(sorted(name for name in after.keys() & before.keys() if after[name] != before[name])),
        same=tuple(sorted(name for name in after.keys() & before.keys() if after[name] == before[name])),
        gone=tuple(sorted(before.keys() - after.keys())),
    )
