"""What of a build goes into an archive: every file of it, and how much of that is private."""

from __future__ import annotations

import os
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from journal.base.byte_progress import Progress, silent
from journal.base.digests import in_threads, scratch_of
from journal.base.formatting import say_count
from journal.base.model import Build, Entry, Inspection
from journal.base.problems import Problem, error, finding
from journal.base.prose import private_lines
from journal.media.photos import facts
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
        yield finding(uri, None, "archive-name", f"the name {why}", "journal verify copes; rename it for the others")


def _check_meeting(uris: Iterable[str]) -> Iterator[Problem]:
    first: dict[str, str] = {}
    for uri in uris:
        other = first.setdefault(unicodedata.normalize("NFC", unicodedata.normalize("NFC", uri).casefold()), uri)
        if other != uri:
            message = f'the name differs from "{other}" in letter case or Unicode form alone'
            yield finding(uri, None, "archive-name-twice", message, "rename one: other disks keep only one of them")


@dataclass(frozen=True, slots=True, kw_only=True)
class PrivateThings:
    """How much in an archive no follower has seen."""

    entries: int = 0
    inspections: int = 0
    photos: int = 0
    passages: int = 0
    drafts: int = 0
    records: int = 0
    costs: int = 0
    positions: int = 0

    def tell(self) -> str:
        """`2 private entries, 3 records, 41 photos that hold their position`; "" where there is nothing."""
        parts = (
            (self.entries, "private entry", "private entries"),
            (self.inspections, "private inspection", None),
            (self.photos, "private photo", None),
            (self.passages, "text with private passages", "texts with private passages"),
            (self.drafts, "draft", None),
            (self.records, "record", None),
            (self.costs, "cost", None),
            (self.positions, "photo that holds its position", "photos that hold their position"),
        )
        return ", ".join(say_count(number, one, many) for number, one, many in parts if number)


def private_things(build: Build, holds_position: Callable[[str], bool], progress: Progress = silent) -> PrivateThings:
    """Count what is private in `build`. `holds_position` tells it of a photo by its `src_uri`."""
    things: list[Entry | Inspection] = [*build.entries, *build.drafts, *build.inspections]
    photos = [photo for thing in things for photo in thing.photos]
    bodies = [page.body for page in build.pages] + [thing.body for thing in things]
    positions = 0
    for number, holds in enumerate(in_threads(holds_position, [photo.src_uri for photo in photos]), start=1):
        positions += holds
        progress(number, len(photos))
    return PrivateThings(
        entries=sum(entry.private for entry in build.entries),
        inspections=sum(inspection.private for inspection in build.inspections),
        photos=sum(photo.private for photo in photos),
        passages=sum(any(private_lines(body)) for body in bodies),
        drafts=len(build.drafts),
        records=len(build.records),
        costs=len(build.costs),
        positions=positions,
    )


def holds_position(path: Path) -> bool:
    """Whether a photo tells where it was taken (Exif GPSLatitude, GPSLongitude)."""
    try:
        with path.open("rb") as source:
            return facts.holds_position(source)
    except OSError:
        return False
