"""What of a build goes into an archive: every file of it."""

from __future__ import annotations

import os
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from journal.base.problems import Problem, error, finding
from journal.base.safe_write import scratch_of
from journal.record.bag import awkward_name
from journal.record.chain import CHAIN, HEAD
from journal.record.damage import printable
from journal.record.verify import SOURCE


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceFile:
    """A file of the build: its path in the archive, where it lies, its size."""

    name: str
    path: Path
    size: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SourcePlan:
    """Everything of the build that goes into data/source, in order, and what to say about names."""

    files: tuple[SourceFile, ...]
    empty_folders: tuple[str, ...]
    problems: tuple[Problem, ...]

    @property
    def bytes(self) -> int:
        """All of it together."""
        return sum(file.size for file in self.files)


def plan_source(root: Path, also: Sequence[str] = ()) -> SourcePlan:
    """mkdocs.yml, all of content/, and the files or folders `also` (relative to `root`).

    Hidden files and drafts are in; so is what a link leads to, as a file of its own. Problems:
    `archive-name` (an error where a name is not UTF-8, since no manifest can hold it; a finding where
    other programs stumble), `archive-name-twice` (names that differ in letter case or Unicode form
    alone, which meet on other disks), `archive-left-out` (links that lead nowhere or in a circle,
    sockets and devices).
    """
    files: list[SourceFile] = []
    empty: list[str] = []
    problems: list[Problem] = []
    scratch = {scratch_of(root / CHAIN), scratch_of(root / HEAD)}

    def left_out(uri: str, why: str) -> None:
        problems.append(finding(uri, None, "archive-left-out", f"is left out of the archive: it {why}"))

    def take(path: Path, uri: str, above: frozenset[str]) -> None:
        if path.is_dir():
            real = os.path.realpath(path)
            if real in above:
                left_out(uri, "is a link that leads in a circle")
                return
            inside = sorted(item.name for item in path.iterdir())
            if not inside:
                empty.append(uri)
            for name in inside:
                take(path / name, f"{uri}/{name}", above | {real})
        elif path.is_file():
            if path not in scratch:
                problems.extend(_check_name(uri))
                files.append(SourceFile(name=SOURCE + uri, path=path, size=path.stat().st_size))
        else:
            left_out(uri, "is a link that leads nowhere" if path.is_symlink() else "is neither a file nor a folder")

    for uri in dict.fromkeys(("mkdocs.yml", "content", *also)):
        if (root / uri).exists():
            take(root / uri, uri, frozenset())
    problems += _check_meeting([file.name.removeprefix(SOURCE) for file in files])
    return SourcePlan(files=tuple(files), empty_folders=tuple(empty), problems=tuple(problems))


def _check_name(uri: str) -> Iterator[Problem]:
    try:
        uri.encode()
    except UnicodeEncodeError:
        yield error(
            printable(uri), None, "archive-name", "the name is not UTF-8, and no list of files can hold it", "rename it"
        )
        return
    if why := awkward_name(uri):
        yield finding(
            uri,
            None,
            "archive-name",
            f"the name {why}",
            "journal verify reads it; rename it for the sake of other programs",
        )


def _check_meeting(uris: Iterable[str]) -> Iterator[Problem]:
    first: dict[str, str] = {}
    for uri in uris:
        other = first.setdefault(unicodedata.normalize("NFC", unicodedata.normalize("NFC", uri).casefold()), uri)
        if other != uri:
            message = f'the name differs from "{other}" in letter case or Unicode form alone'
            yield finding(uri, None, "archive-name-twice", message, "rename one: other disks keep only one of them")
