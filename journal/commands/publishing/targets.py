"""What the targets of `journal publish` have in common: their shape, the list of what is ours, what is refused.

A folder, here or on a server, is a mirror that knows its own work: what was written is in a list beside it, and only
what is on the list is ever changed or removed. Nothing is written through a link.
"""

from __future__ import annotations

import json
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from enum import Enum
from itertools import groupby
from pathlib import Path
from typing import Any, TypeVar

import click

from journal.base.byte_progress import Progress, silent
from journal.base.prose import without_unseen
from journal.base.safe_write import scratch_of
from journal.making.last_kept import Changes, compare

T = TypeVar("T")

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


class Stands(Enum):
    """What stands at a place without following links."""

    FOLDER, FILE, LINK = "a folder", "a file", "a link"


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """What we wrote: path -> SHA-256, "" while it was on its way; and the size in bytes and the time (seconds since
    1970) that a server told of a file when it had come.
    """

    files: Mapping[str, str] = field(default_factory=dict)
    seen: dict[str, list[int]] = field(default_factory=dict)

    def write(self) -> bytes:
        """The list as a file."""
        told: dict[str, Any] = {"about": _ABOUT, "files": dict(sorted(self.files.items()))}
        return json.dumps(told | ({"seen": dict(sorted(self.seen.items()))} if self.seen else {}), indent=1).encode()


def parse_list(data: bytes) -> Listed:
    """What the file says; nothing where it makes no sense."""
    try:
        told = json.loads(data)
        files, seen = told["files"], told.get("seen", {})
        good = all(isinstance(digest, str) and _inside(name) for name, digest in files.items())
        seen = {name: [int(one) for one in pair] for name, pair in seen.items()} if isinstance(seen, dict) else {}
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return Listed()
    return Listed(files=files, seen=seen) if good else Listed()


def _inside(name: str) -> bool:
    """Whether a path of the list stays below its folder."""
    parts = name.replace("\\", "/").split("/")
    return bool(name) and not name.startswith("/") and ":" not in parts[0] and ".." not in parts


class Mirror(ABC):
    """A folder, here or elsewhere, that a site is mirrored into: first planned, then sent. Its paths go by `/`.

    Both raise NotSentError, and OSError from a disk. `said` is what messages call it, `kept_as` what is noted,
    `settings` are the keys of content/publishing.yml that name it again, `settled` says after planning that there is
    nothing to do.
    """

    said: str
    kept_as: str
    settings: Mapping[str, str]
    settled = ""
    at_once = 1
    site = Path()
    digests: Mapping[str, str] = {}
    listed = Listed()
    changes = Changes()

    @abstractmethod
    def look(self, name: str) -> Stands | None:
        """What stands there."""

    @abstractmethod
    def digest_of(self, name: str) -> str | None:
        """The SHA-256 of the file there, "" where it is none or not known, None where nothing stands there."""

    @abstractmethod
    def read(self, name: str) -> bytes:
        """What a file there holds, nothing where there is none."""

    @abstractmethod
    def put(self, name: str, data: Path | bytes) -> list[int]:
        """Put a file at its place, whole or not at all; its size in bytes and time as they are told there."""

    @abstractmethod
    def make_folder(self, name: str) -> None:
        """Make a folder, whose parent is there; one that is there already is left as it is."""

    @abstractmethod
    def drop(self, name: str) -> None:
        """Remove a file, or a folder if it is empty; what is gone already is no trouble."""

    def close(self) -> None:  # noqa: B027 - most have nothing to let go of
        """Let go of what was opened."""

    def plan(self, site: Path, digests: Mapping[str, str], progress: Progress = silent) -> Changes:
        """What sending the files of `digests` (path in `site` -> SHA-256) would do."""
        self.site, self.digests, self.listed = site, digests, parse_list(self.read(LIST))
        names = sorted(digests.keys() | self.listed.files)
        folders = _folders_of(names)
        kinds = dict(zip(folders, self._each(self.look, folders), strict=True))
        if links := [name for name, kind in kinds.items() if kind is Stands.LINK]:
            raise NotSentError(
                f"{links[0]} in {self.said} is a link and leads somewhere else; nothing was sent. Take the link away, "
                "or put a folder in its place"
            )
        near = [name for name in names if kinds.get(name.rpartition("/")[0], Stands.FOLDER)]
        there: dict[str, str] = {}
        for done, (name, digest) in enumerate(zip(near, self._each(self.digest_of, near), strict=True), 1):
            there |= {name: digest} if digest is not None else {}
            progress(done, len(near))
        changes = compare(there, digests)
        strangers = [name for name, kind in kinds.items() if kind is Stands.FILE]
        if strangers := [*strangers, *(name for name in changes.changed if name not in self.listed.files)]:
            raise NotSentError(
                f"{self.said} holds files of the same names that were not published from here; nothing was sent. "
                "Name an empty folder, or move them away first",
                tuple(strangers),
            )
        listed = self.listed.files
        kept = tuple(name for name in changes.gone if listed[name] and there[name] != listed[name])
        gone = tuple(name for name in changes.gone if name not in kept)
        self.changes = replace(changes, gone=gone, kept=kept)
        return self.changes

    def send(self, progress: Progress = silent) -> str:
        """Do what was planned, and say it. Pictures and styles come before the pages that show them, what is gone
        goes last. However it is stopped, the list knows what is ours, and the next run completes it.
        """
        before, changes = self.listed, self.changes
        self.make_folder("")
        # Until all is done the list holds both, and of nothing that is being sent what it is.
        files = {**before.files, **self.digests, **dict.fromkeys(changes.to_send, "")}
        self.put(LIST, Listed(files=files, seen=before.seen).write())
        halves = [scratch_of(Path(name)).as_posix() for name, digest in before.files.items() if not digest]
        self._all(self.drop, halves)
        depths = groupby(sorted(_folders_of(changes.to_send), key=_depth), _depth)
        for _, folders in depths:
            self._all(self.make_folder, folders)
        names = sorted(changes.to_send)
        pages = [name for name in names if name.endswith((".html", ".xml", ".json"))]
        seen = {name: before.seen[name] for name in changes.same if name in before.seen}
        needed = [name for name in names if name not in {*pages}]
        for first, part in ((1, needed), (len(needed) + 1, pages)):
            sent = self._each(lambda name: self.put(name, self.site / name), part)
            for done, (name, told) in enumerate(zip(part, sent, strict=True), first):
                seen |= {name: told} if told else {}
                progress(done, len(names))
        self._all(self.drop, changes.gone)
        for folder in sorted({*_folders_of(changes.gone)} - {*_folders_of(self.digests)}, key=_depth, reverse=True):
            self.drop(folder)
        self.put(LIST, Listed(files=self.digests, seen=seen).write())
        return f"Sent: the site is in {self.said}."

    def _all(self, do: Callable[[str], object], names: Iterable[str]) -> None:
        for _ in self._each(do, names):
            pass

    def _each(self, do: Callable[[str], T], names: Iterable[str]) -> Iterator[T]:
        """`do` for each, in order, several at once where that saves waiting; the first that fails ends the others."""
        if self.at_once == 1:
            yield from map(do, names)
            return
        with ThreadPoolExecutor(self.at_once) as pool:
            try:
                yield from pool.map(do, names)
            finally:
                pool.shutdown(wait=False, cancel_futures=True)


def _folders_of(names: Iterable[str]) -> list[str]:
    """Every folder that the paths lie in."""
    parted = [name.split("/") for name in names]
    return sorted({"/".join(parts[:depth]) for parts in parted for depth in range(1, len(parts))})


def _depth(name: str) -> int:
    return name.count("/")


def words_from_outside(text: str) -> str:
    """What a remote or a server says, whole, a line for each of its lines, without what would steer a terminal."""
    lines = (without_unseen(line).strip() for line in click.unstyle(text).replace("\r", "\n").split("\n"))
    return "\n  ".join(line for line in lines if line)
