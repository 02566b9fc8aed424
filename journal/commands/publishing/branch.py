"""A branch of a git remote, where a static host picks the site up.

It holds one commit: the site as it is now. What was taken back is not in its history either (the host may keep
unreachable objects for a while). Git's plumbing is used, so that no setting of the user's (ignored files, line
endings, hooks, signing, name and address) has a say in what is sent.
"""

from __future__ import annotations

import os
import re
import subprocess
from collections.abc import Mapping, Sequence
from pathlib import Path
from urllib.parse import unquote, urlsplit

from journal.base.byte_progress import Progress, silent
from journal.base.clock import now
from journal.commands.publishing.targets import NotSentError, words_from_outside
from journal.ledger.journal import CACHE
from journal.making.last_kept import Changes, compare

MARK = "Made-By: journal publish"
"""The trailer by which a branch of ours is known again; another branch is never replaced."""


KEPT = ("CNAME",)
"""Files that hosts keep their own settings in: they stay where the new site has none of that name."""

OWN: Mapping[str, bytes] = {".nojekyll": b""}
"""What goes with the site: hosts that would run a generator of theirs over it leave it alone."""


class BranchTarget:
    """A branch that holds the site. Git works in a repository of its own, beside the build and not in it."""

    def __init__(self, root: Path, remote: str, branch: str) -> None:
        if remote.startswith("-"):  # git would take it for an option, and some of those run a program
            raise NotSentError(f'"{remote}" is no address of a remote')
        shown = without_secrets(remote)
        self.said, self.kept_as = f"{shown}, branch {branch}", f"branch {branch}"
        here = Path(remote).expanduser()
        # A path is kept so that it leads there from anywhere.
        kept = os.fspath(here.resolve()) if os.sep in remote and here.exists() else shown
        self.settings = {"git": kept, "branch": branch}
        self.settled = ""
        self._root, self._store = root, root / CACHE / "publish" / "git"
        self._remote, self._branch = remote, branch
        self._old = self._tree = ""

    def plan(self, site: Path, digests: Mapping[str, str], progress: Progress = silent) -> Changes:
        """Store the files of `site`, and compare with what the branch holds.

        Raises NotSentError where git is not installed, the remote cannot be reached, or the branch
        holds something that was not published from here.
        """
        if not (self._store / "HEAD").exists():
            self._store.mkdir(parents=True, exist_ok=True)
            self._run("init", "--quiet", "--bare")
        command = ["git", "check-ref-format", "--branch", self._branch]
        if subprocess.run(command, capture_output=True, check=False).returncode:
            raise NotSentError(f'"{self._branch}" cannot be the name of a branch')
        self._remote = self._address_of(self._remote)
        self._refuse_checked_out()
        told = self._run("ls-remote", self._remote, f"refs/heads/{self._branch}", told=True)
        self._old = told.decode().partition("\t")[0]
        blobs = self._store_files(site, list(digests))
        before = self._fetch() if self._old else {}
        blobs |= {name: before[name] for name in KEPT if name in before and name not in blobs}
        self._tree = self._write_tree(blobs)
        changes = compare(before, blobs)
        done = self._old and not changes.to_send and not changes.gone
        self.settled = "The branch holds this very site already; nothing to send." if done else ""
        return changes

    def send(self, progress: Progress = silent) -> str:
        """Put the site there as one commit. Raises NotSentError where the remote refuses it, or the branch is not what
        it was when planned.
        """
        said = {"NAME": "build journal", "EMAIL": "journal@localhost.invalid", "DATE": f"{now().timestamp():.0f} +0000"}
        who = {f"GIT_{whose}_{key}": value for whose in ("AUTHOR", "COMMITTER") for key, value in said.items()}
        commit = self._run("commit-tree", self._tree, data=f"The site\n\n{MARK}\n".encode(), more=who).decode().strip()
        reference = f"refs/heads/{self._branch}"
        lease = f"--force-with-lease={reference}:{self._old}"
        self._run("push", "--quiet", "--no-verify", lease, self._remote, f"{commit}:{reference}", told=True)
        # Kept, so that the next push sends only what is new.
        self._run("update-ref", "refs/published", commit)
        return f"Sent: {self.said}, is now {commit[:12]}."

    def close(self) -> None:
        """Nothing was opened."""

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

    def _refuse_checked_out(self) -> None:
        """A repository on this machine may have the branch checked out, with files that the site would come over."""
        remote, branch = self._remote, self._branch
        place = unquote(urlsplit(remote).path) if remote.startswith("file://") else remote
        command = ["git", "-C", place, "worktree", "list", "--porcelain"]
        found = subprocess.run(command, capture_output=True, text=True, check=False, env=_environment())
        for folder, *lines in (one.split("\n") for one in found.stdout.split("\n\n")):
            if f"branch refs/heads/{branch}" in lines and "bare" not in lines:
                where = folder.removeprefix("worktree ")
                raise NotSentError(
                    f"the branch {branch} is checked out in {where}, and the site would come between the files there; "
                    "name another branch"
                )

    def _fetch(self) -> dict[str, str]:
        """Fetch what the branch holds: blob of each file, by path."""
        reference = f"refs/heads/{self._branch}"
        self._run("fetch", "--quiet", "--depth=1", "--no-tags", self._remote, reference, told=True)
        text = self._run("cat-file", "commit", self._old).decode("utf-8", "replace")
        if MARK not in text.split("\n"):
            raise NotSentError(
                f"the branch {self._branch} holds something that was not published from here, and all of it would be "
                "replaced; name another branch"
            )
        rows = self._run("ls-tree", "-r", "-z", self._old).decode("utf-8", "surrogateescape").split("\0")
        return {row.partition("\t")[2]: row.split()[2] for row in rows if row}

    def _store_files(self, site: Path, names: Sequence[str]) -> dict[str, str]:
        """Blob of each file, by path, with the bytes as they are."""
        listed = "".join(f"{site / name}\n" for name in names).encode()
        out = self._run("hash-object", "-w", "--no-filters", "--stdin-paths", data=listed).decode().split()
        blobs = dict(zip(names, out, strict=True))
        for name, data in OWN.items():
            blobs[name] = self._run("hash-object", "-w", "--no-filters", "--stdin", data=data).decode().strip()
        return blobs

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
        environment = {**_environment(), "GIT_DIR": os.fspath(self._store), **(more or {})}
        command = ["git", "-c", "core.hooksPath=/dev/null", "-c", "core.autocrlf=false", "-c", "gc.auto=0", *words]
        try:
            done = subprocess.run(command, input=data, capture_output=True, check=False, env=environment)
        except FileNotFoundError:
            raise NotSentError("git is not installed; publish to a folder instead, or install it") from None
        if done.returncode:
            said = words_from_outside(without_secrets(done.stderr.decode("utf-8", "replace"))) or "no reason given"
            raise NotSentError(f"git: {said}" if told else f"git {words[0]} failed: {said}", unreachable=True)
        return done.stdout


def without_secrets(text: str) -> str:
    """`text` with the addresses in it bare of what logs in: of the web all that is before the host, else a password."""
    text = re.sub(r"(https?://)[^/@\s]*@", r"\1", text, flags=re.IGNORECASE)
    return re.sub(r"(\w://[^/@:\s]*):[^/@\s]*@", r"\1@", text)


def _environment() -> dict[str, str]:
    """The environment without the user's settings of git, but for how to reach a host."""
    return {key: value for key, value in os.environ.items() if not key.startswith("GIT_") or "SSH" in key}
