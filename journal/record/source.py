"""The build in an archive: every file of it goes in; all that is whole comes out, verified again as it is written."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from fnmatch import fnmatch
from pathlib import Path

from journal.base.byte_progress import Begin, quietly
from journal.base.digests import digest_stream, file_sha256
from journal.base.formatting import say_count, say_few
from journal.base.problems import Problem, error, finding
from journal.base.safe_write import check_room, clear_folder, move_new, scratch_of
from journal.record.bag import MANIFEST, BagCheck, awkward_name, folded_name, is_system_file, parse_manifest, read_tag
from journal.record.chain import CHAIN, SEALS
from journal.record.container import FolderBag, NotAZipError, is_safe, kept_on_windows, open_bag
from journal.record.damage import Damage, DamageKind, printable
from journal.record.verify import NOTHING_KNOWN, SOURCE, check_archive, find_archive

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
    seals, chain = root / SEALS, scratch_of(root / CHAIN)

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
            if path != chain and not (seals in path.parents and fnmatch(path.name, scratch_of(Path("*")).name)):
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
    if not is_safe(uri):
        yield error(uri, None, "archive-name", "the name leads out of its folder on other systems", "rename it")
    elif why := awkward_name(uri):
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


DAMAGED = "damaged"
"""The folder beside content/ for what of the build's files is not whole; nothing reads it."""

_NAMED = 5
"""Files elsewhere in the archive that are named where they are damaged."""


def restore_source(
    path: Path, folder: Path, *, begin: Begin = quietly, windows: bool = os.name == "nt"
) -> tuple[tuple[int, int] | None, tuple[Problem, ...]]:
    """Copy the build out of the archive (bag or zip) at `path` to `folder`, which must be new or empty: (files, bytes).

    The archive is verified first, and each file again as it is written. Every file comes back that is somewhere in the
    archive as it is listed, under the name that is listed; what is left of others goes into `damaged/`. Errors:
    `restore-damaged` for each that did not come back (or all: then None is given), `restore-not-as-sealed`; None and
    `restore-not-empty`, `restore-nothing` (an archive made without private things holds no build). Findings:
    `restore-mended` (under another name there), `restore-other` (damage elsewhere). OSError where a disk fails.
    """
    path, folder = find_archive(path), folder.resolve()
    if folder.is_relative_to(path.resolve()):
        message = "lies inside the archive, which would no longer be whole"
        return None, (error(str(folder), None, "restore-not-empty", message, "name a folder elsewhere"),)
    work = scratch_of(folder)
    clear_folder(work)
    try:
        with open_bag(path) as bag:
            if not _may_be_filled(folder, parse_manifest(MANIFEST, read_tag(bag, MANIFEST) or b"")[0]):
                message = "is not empty, and nothing is written over"
                return None, (error(str(folder), None, "restore-not-empty", message, "name a new folder"),)
            with begin("verifying") as progress:
                report, check = check_archive(path, bag, progress, NOTHING_KNOWN)
            if not report.complete:
                message = "was made without private things and holds no build to restore"
                return None, (error(str(path), None, "restore-nothing", message, "take a complete archive"),)
            plan = _plan_restore(check, windows)
            if not plan.whole:
                message = f"nothing of the build in it is whole ({say_count(len(report.damage), 'finding')})"
                hint = "journal verify tells what is damaged; take another copy, or copy data/source by hand"
                return None, (error(str(path), None, "restore-damaged", message, hint),)
            folder.parent.mkdir(parents=True, exist_ok=True)
            try:
                restored = _unpack(check, plan, work, begin)
                if folder.exists():
                    _fill(folder, work)
                else:
                    move_new(work, folder)
            finally:
                with suppress(OSError):  # the next run removes it
                    clear_folder(work)
    except NotAZipError as trouble:
        message = f"is no zip that can be read: {printable(str(trouble))}"
        return None, (error(str(path), None, "restore-damaged", message, "take another copy"),)
    return restored, tuple(_tell_restored(path, report.damage, plan))


def _may_be_filled(folder: Path, listed: Mapping[str, str]) -> bool:
    """Whether a folder is new or empty, or holds some of the build, which a run that was stopped had brought there."""
    if not folder.is_dir():
        return not folder.exists()
    build = {name.removeprefix(SOURCE): digest for name, digest in listed.items() if name.startswith(SOURCE)}
    inside = {item.name for item in folder.iterdir()}
    if not inside <= {name.split("/")[0] for name in build}:
        return False
    there = FolderBag(folder)
    part = not inside or 0 < len(there.files) < len(build)
    return part and not there.damage and all(build.get(name) == file_sha256(folder / name)[0] for name in there.files)


@dataclass(frozen=True, slots=True, kw_only=True)
class _RestorePlan:
    """What comes back: `whole` by its name in the build -> where it lies in the bag; `lost` are listed and nowhere
    whole; `rest` are files of the bag that belong to the build and that nothing vouches for.
    """

    whole: Mapping[str, str]
    lost: tuple[str, ...]
    rest: tuple[str, ...]


def _plan_restore(check: BagCheck, windows: bool) -> _RestorePlan:
    found = {digest: name for name, digest in sorted(check.digests.items(), reverse=True)}
    listed = {name: digest for name, digest in sorted(check.listed.items()) if name.startswith(SOURCE)}
    whole = {
        name: name if check.digests.get(name) == digest else found[digest]
        for name, digest in listed.items()
        if digest in found and (kept_on_windows(name) or not windows)
    }
    used = {*whole, *whole.values()}
    own = [name for name in sorted(check.bag.files) if name.startswith(SOURCE) and not is_system_file(name)]
    rest = tuple(name for name in own if name not in used and (kept_on_windows(name) or not windows))
    return _RestorePlan(whole=whole, lost=tuple(name for name in listed if name not in whole), rest=rest)


def _unpack(check: BagCheck, plan: _RestorePlan, work: Path, begin: Begin) -> tuple[int, int]:
    bag = check.bag
    work.mkdir()
    check_room(work, [bag.files[at] for at in (*plan.whole.values(), *plan.rest)], "the build")
    done, total = 0, sum(bag.files[at] for at in plan.whole.values())
    for folder in bag.empty_folders:
        if folder.startswith(SOURCE):
            (work / folder.removeprefix(SOURCE)).mkdir(parents=True, exist_ok=True)

    def copy(at: str, target: Path) -> tuple[str, int]:
        target.parent.mkdir(parents=True, exist_ok=True)
        with bag.open(at) as source, target.open("xb") as sink:
            return digest_stream(source, sink)

    with begin("copying back") as progress:
        for name, at in plan.whole.items():
            digest, size = copy(at, work / name.removeprefix(SOURCE))
            if digest != check.listed[name]:
                raise OSError(0, "was read differently the second time; the disk is failing", at)
            done += size
            progress(done, total)
    for name in plan.rest:
        with suppress(OSError):  # as much of it as can be read
            copy(name, work / DAMAGED / name.removeprefix(SOURCE))
    if hasattr(os, "sync"):
        os.sync()
    return len(plan.whole), done


def _fill(folder: Path, work: Path) -> None:
    """Move everything into a folder that stays, since somebody may stand in it. content/ makes it a build and comes
    last but for what is damaged; what a stopped run had brought is the same, and goes before its twin comes.
    """
    for name in sorted((item.name for item in work.iterdir()), key=lambda name: (name == DAMAGED, name == "content")):
        if (folder / name).is_dir():
            clear_folder(folder / name)
        (folder / name).unlink(missing_ok=True)
        move_new(work / name, folder / name)


_OF_SEALS = (DamageKind.SEAL_CHAIN, DamageKind.SEALED_TEXT, DamageKind.SEALED_PHOTO, DamageKind.SEALED_PART)


def _tell_restored(path: Path, damage: Sequence[Damage], plan: _RestorePlan) -> Iterator[Problem]:
    """What did not come back, by name; what came back otherwise than it lies there; what else is damaged."""
    of: dict[str, list[Damage]] = {}
    for one in damage:
        of.setdefault(one.path, []).append(one)
    hint = "take it from another copy of the archive"
    hint += f"; what is left of such files lies in {DAMAGED}/" if plan.rest else ""
    for name in dict.fromkeys((*plan.lost, *plan.rest)):
        found = of.pop(printable(name), [])
        if found or name in plan.lost:
            told = found[0].message if found else "its name is one that this system cannot keep"
            uri = printable(name.removeprefix(SOURCE))
            yield error(uri, None, "restore-damaged", f"did not come back: {told}", hint)
    whole = {printable(name): at == name for name, at in plan.whole.items()}
    others: list[str] = []
    # Of a file that came from elsewhere in the archive, only the first: its seal was looked for where it is not.
    for one in (one for name, found in of.items() for one in (found if whole.get(name, True) else found[:1])):
        uri, told = one.path.removeprefix(SOURCE) or str(path), one.message
        if not whole.get(one.path, True):
            told = f"came back whole, under its right name; in the archive it {told}"
            yield finding(uri, None, "restore-mended", told)
        elif one.kind in _OF_SEALS:
            told = f"came back as it is listed, but {told}" if one.path in whole else told
            yield error(uri, None, "restore-not-as-sealed", told, "docs/seals.md tells what a chain proves")
        elif one.kind in (DamageKind.MANIFEST, DamageKind.SOURCE) or one.path == MANIFEST:
            told += "; files of the build may be lost that nothing lists any longer"
            yield error(uri, None, "restore-damaged", told, "hold it against another copy of the archive")
        elif one.kind is DamageKind.LINE_ENDS:
            yield finding(uri, None, "restore-mended", told)
        elif one.kind is not DamageKind.COUNTS:  # which follow from the rest
            others.append(one.path or one.message)
    if others:
        told = f"damage elsewhere in the archive does not touch the build: {say_few(others, _NAMED)}"
        yield finding(str(path), None, "restore-other", told, "journal verify tells each")
