"""The build in an archive: every file of it goes in, and comes out again verified, once more as it is written."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from journal.base.byte_progress import Begin, quietly
from journal.base.digests import digest_stream
from journal.base.formatting import say_count
from journal.base.problems import Problem, error, finding
from journal.base.safe_write import clear_folder, move_all, move_new, scratch_of
from journal.record.bag import MANIFEST, awkward_name, folded_name, parse_manifest, read_tag
from journal.record.chain import CHAIN, HEAD
from journal.record.container import OpenBag, open_bag
from journal.record.damage import printable
from journal.record.verify import SOURCE, find_archive, verify

# --- in ------------------------------------------------------------------------------------------


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
        message = "the name is not UTF-8, and no list of files can hold it"
        yield error(printable(uri), None, "archive-name", message, "rename it")
        return
    if why := awkward_name(uri):
        hint = "journal verify reads it; rename it for the sake of other programs"
        yield finding(uri, None, "archive-name", f"the name {why}", hint)


def _check_meeting(uris: Iterable[str]) -> Iterator[Problem]:
    first: dict[str, str] = {}
    for uri in uris:
        other = first.setdefault(folded_name(uri), uri)
        if other != uri:
            message = f'the name differs from "{other}" in letter case or Unicode form alone'
            yield finding(uri, None, "archive-name-twice", message, "rename one: other disks keep only one of them")


# --- out -----------------------------------------------------------------------------------------


def restore_source(
    path: Path, folder: Path, *, begin: Begin = quietly
) -> tuple[tuple[int, int] | None, tuple[Problem, ...]]:
    """Copy the build out of the archive (bag or zip) at `path` to `folder`, which must be new or empty: (files, bytes).

    The archive is verified first, and each file again as it is written; a damaged archive restores
    nothing. Problems: `restore-damaged`, `restore-not-empty`, `restore-nothing` (an archive made
    without private things holds no build). OSError where a disk fails.
    """
    path, folder = find_archive(path), folder.resolve()
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        message = "is not empty, and nothing is written over"
        return None, (error(str(folder), None, "restore-not-empty", message, "name a new folder"),)
    with begin("verifying") as progress:
        report = verify(path, progress)
    if not report.ok:
        message = f"the archive is damaged ({say_count(len(report.damage), 'finding')}); nothing was restored"
        hint = "journal verify tells what; take another copy, or copy data/source by hand"
        return None, (error(str(path), None, "restore-damaged", message, hint),)
    if not report.complete:
        message = "was made without private things and holds no build to restore"
        return None, (error(str(path), None, "restore-nothing", message, "take a complete archive"),)
    work = scratch_of(folder)
    folder.parent.mkdir(parents=True, exist_ok=True)
    clear_folder(work)
    try:
        with open_bag(path) as bag:
            restored = _unpack(bag, work, begin)
        if folder.exists():
            # Somebody may stand in it: it is filled, not replaced.
            move_all(work, folder, sorted(item.name for item in work.iterdir()))
        else:
            move_new(work, folder)
    finally:
        clear_folder(work)
    return restored, ()


def _unpack(bag: OpenBag, work: Path, begin: Begin) -> tuple[int, int]:
    listed, _ = parse_manifest(MANIFEST, read_tag(bag, MANIFEST) or b"")
    names = sorted(name for name in bag.files if name.startswith(SOURCE))
    done, total = 0, sum(bag.files[name] for name in names)
    work.mkdir()
    for folder in bag.empty_folders:
        if folder.startswith(SOURCE):
            (work / folder.removeprefix(SOURCE)).mkdir(parents=True, exist_ok=True)
    with begin("copying back") as progress:
        for name in names:
            target = work / name.removeprefix(SOURCE)
            target.parent.mkdir(parents=True, exist_ok=True)
            with bag.open(name) as source, target.open("xb") as sink:
                digest, size = digest_stream(source, sink)
            if digest != listed[name]:
                raise OSError(0, "was read differently the second time; the disk is failing", name)
            done += size
            progress(done, total)
    return len(names), done
