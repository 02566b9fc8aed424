"""The archive: site, binder, tables and the whole of content/ in one bag, and the build back out of it.

Built beside the place it is for, verified there, and only then moved in; the archive that stood there
before goes when the new one has proved good. Originals are read once: digested while they are copied.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath

import filelock

from journal import __version__
from journal.base.addresses import slug
from journal.base.byte_progress import Begin, quietly
from journal.base.digests import ChangedError, copy_with_sha256, file_sha256, largest_first
from journal.base.problems import Grade, Problem, SiteError, error, finding, has_errors
from journal.base.replace_folder import HalfMade, change_places, undo_stopped
from journal.base.safe_write import check_room, clear_folder, move_new, scratch_of, sync_folder
from journal.record.bag import (
    INFO,
    MANIFEST,
    PAYLOAD,
    README,
    TAG_MANIFEST,
    is_system_file,
    parse_manifest,
    parse_tags,
    read_tag,
    tag_files,
)
from journal.record.chain import CHAIN, Chain, line_numbers, parse_chain, read_branches, read_chain
from journal.record.container import BAGIT, FolderBag, NotAZipError, ZipWriter, open_bag
from journal.record.damage import Damage, DamageKind
from journal.record.readme import render_readme
from journal.record.seals import check_seals
from journal.record.small_verifier import render_verifier
from journal.record.source import SourceFile, SourcePlan, plan_source
from journal.record.verify import (
    AGENT,
    BESIDE,
    BINDER,
    CONTENTS,
    EVERYTHING,
    HEAD_FIELD,
    NOTHING_PRIVATE,
    SOURCE,
    VERIFIER,
    Report,
    branches_in,
    head_field,
    verify,
)
from journal.view.view import View

TABLES = "data/tables/"
MADE_AT, DAY, PROGRAM = "Journal-Made-At", "Journal-Day", "Journal-Program"
_LOCK = ".journal/archive.lock"
_SPARE_BYTES = 16 * 2**20
"""Room asked for beyond what can be counted beforehand: pages, tables, the binder's first pages."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """What makes the readable parts of an archive.

    `site` makes the offline site in a folder that is not there yet, `binder` writes the PDF to a path,
    `tables` gives (`tables/NAME.csv`, bytes) of each table, `guide` is what README.txt says of them.
    `facts` go into bag-info.txt: the day the journal was opened for, and what tells the program and its libraries,
    so that the same source can be made into the same bytes.
    For an archive without private things all of them must have been made for Audience.PUBLIC; `search` looks through
    the folder of them and tells, as errors, what must not be there. `late` came to light as they were made.
    """

    site: Callable[[Path], object]
    binder: Callable[[Path], object]
    tables: Callable[[], Iterable[tuple[str, bytes]]]
    guide: str = ""
    facts: Mapping[str, str] = field(default_factory=dict)
    search: Callable[[Path], Sequence[Problem]] = lambda folder: ()
    late: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Archive:
    """An archive that was made and verified: how much of it was written anew and how much kept.

    `report` is that of verifying it; its fingerprint fixes every byte.
    """

    path: Path
    report: Report
    copied_files: int = 0
    copied_bytes: int = 0
    kept_files: int = 0
    kept_bytes: int = 0


# --- where it goes -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class ArchivePlace:
    """Where an archive is to stand, and whether as a zip."""

    path: Path
    zipped: bool = False

    @property
    def half_made(self) -> HalfMade:
        """Where it is built: beside its place, so that it can be moved in one step."""
        aside = self.path.with_name(f".{self.path.name}.old")
        return HalfMade(building=scratch_of(self.path), place=self.path, previous=aside)


def archive_name(view: View) -> str:
    """`tarn-archive`: what an archive is called where only a folder to put it in is named."""
    return f"{slug(view.aircraft.name) or 'build'}-archive"


def choose_place(root: Path, view: View, out: Path | None, *, zipped: bool) -> ArchivePlace | Problem:
    """Where `--out` means the archive to stand; without it archive/ or archive.zip in the build folder.

    As with `cp`: a folder that holds other things gets the archive inside, by the aircraft's name. A
    folder that is not there, is empty, or holds an archive of ours becomes the archive. A zip goes
    into the folder named, or is the file named where that ends in .zip.
    """
    root, name = root.resolve(), archive_name(view)
    if out is None:
        place = ArchivePlace(path=root / ("archive.zip" if zipped else "archive"), zipped=zipped)
    elif zipped:
        path = out.resolve()
        if is_archive(path):
            path = path.with_name(f"{path.name}.zip")
        elif path.suffix.casefold() != ".zip" or path.is_dir():
            path = path / f"{name}.zip"
        place = ArchivePlace(path=path, zipped=True)
    else:
        path = out.resolve()
        if path.is_dir() and not is_archive(path) and (any(path.iterdir()) or os.path.ismount(path)):
            path = path / name
        place = ArchivePlace(path=path)
    return place if (why := _no_place(place, root)) is None else why


def _no_place(place: ArchivePlace, root: Path) -> Problem | None:
    path, hint = place.path, "name another folder with --out"
    if path.is_relative_to(root / "content"):
        message = "an archive cannot stand inside content/, which goes into it"
        hint = "name a folder elsewhere with --out"
    elif place.zipped:
        if path.is_file() or not path.exists():
            return None
        message, hint = "is in the way: it is not a file", "name another with --out"
    elif path.exists() and not (path.is_dir() and (is_archive(path) or not any(path.iterdir()))):
        message = "is in the way: it is not an archive, and nothing here is written over"
    elif is_archive(path) and (own := _not_of_the_archive(path)):
        message = f'the archive there holds "{own}", which is not part of it and would be lost'
        hint = "move it out, or name another folder with --out"
    else:
        return None
    return error(str(path), None, "archive-place", message, hint)


def is_archive(path: Path) -> bool:
    """Whether a folder is an archive made here, whole or not."""
    try:
        tags = dict(parse_tags((path / INFO).read_bytes()) or [])
    except OSError:
        return False
    return (path / BAGIT).is_file() and tags.get("Bag-Software-Agent", "").startswith(AGENT)


def _not_of_the_archive(path: Path) -> str:
    """A file that somebody put into the archive at `path` since it was made, or ""."""
    listed = {*_listed(path, MANIFEST), *_listed(path, TAG_MANIFEST), TAG_MANIFEST}
    own = (name for name in FolderBag(path).files if name not in listed and not is_system_file(name))
    return min(own, default="")


def _listed(path: Path, manifest: str) -> dict[str, str]:
    try:
        return parse_manifest(manifest, (path / manifest).read_bytes())[0]
    except OSError:
        return {}


# --- making it -----------------------------------------------------------------------------------


def write_archive(
    root: Path,
    view: View,
    place: ArchivePlace,
    parts: Parts,
    *,
    made_at: datetime,
    without_private: bool = False,
    also: Sequence[str] = (),
    begin: Begin = quietly,
    say: Callable[[str], object] = lambda words: None,
) -> tuple[Archive | None, tuple[Problem, ...]]:
    """Make the archive of the build folder `root` at `place` and verify it; `view` is the inspector's.

    `made_at` is told in bag-info.txt and in the zip; the same content and the same `made_at` give the
    same bytes. `without_private` leaves out data/source altogether (docs/seals.md). Problems:
    errors of the content, `changed-after-seal` (an archive that contradicts its own chain proves
    nothing), `archive-chain` (the archive that would be replaced holds seals that the build has no
    longer), `archive-name`, `archive-busy`, `archive-changed` (a file was written to meanwhile), `archive-unsound`
    (what was written does not verify; nothing is replaced), `archive-left` (a finding: the one before could not be
    removed in full), and what `parts.search` tells.
    OSError where the disk fails or is too small. `say` is told beforehand where nothing can be kept.
    """
    made = place.half_made
    (root / _LOCK).parent.mkdir(exist_ok=True)
    try:
        with filelock.FileLock(root / _LOCK, timeout=0):
            if made.previous.exists() and not _is_archive_or_rest(made.previous):
                told = "is in the way: an archive that is replaced waits under this name for a moment"
                return None, (error(str(made.previous), None, "archive-place", told, "give it another name"),)
            undo_stopped(made)
            problems = _check_beforehand(root, view, place)
            plan = SourcePlan(files=(), empty_folders=(), problems=()) if without_private else plan_source(root, also)
            problems += plan.problems
            if has_errors(problems):
                return None, tuple(problems)
            try:
                archive = _Making(root, place, plan, made_at, begin, say).make(view, parts, without_private)
            finally:
                # The trouble itself is to be told, not that it troubles this too; the next run removes what stays.
                with suppress(OSError):
                    clear_folder(made.building)
            if made.building.exists():
                left = "is what could not be removed of the archive before; the new one is whole"
                problems.append(finding(str(made.building), None, "archive-left", left, "the next archive removes it"))
    except filelock.Timeout:
        message, hint = "another archive of this build is being made", "wait until it is done"
        return None, (error(str(place.path), None, "archive-busy", message, hint),)
    except _UnsoundError as unsound:
        return None, unsound.problems
    return archive, (*problems, *parts.late)


def _is_archive_or_rest(path: Path) -> bool:
    """Whether a folder is an archive of ours or what a stopped run left of one while it removed it."""
    parts = {*BESIDE, PAYLOAD.rstrip("/")}
    return is_archive(path) or (path.is_dir() and {item.name for item in path.iterdir()} <= parts)


def _check_beforehand(root: Path, view: View, place: ArchivePlace) -> list[Problem]:
    problems = [problem for problem in view.problems if problem.grade is Grade.ERROR]
    problems += [
        replace(problem, grade=Grade.ERROR)
        for problem in check_seals(root, view)
        if problem.grade is Grade.ERROR or problem.word == "changed-after-seal"
    ]
    return problems + _check_old_chain(root, place)


def _check_old_chain(root: Path, place: ArchivePlace) -> list[Problem]:
    """The archive about to go is the last witness of a chain that was cut or written anew since."""
    if not place.path.exists():
        return []
    try:
        with open_bag(place.path) as bag:
            others = branches_in(bag).values()
            data = read_tag(bag, SOURCE + CHAIN)
            there = SOURCE + CHAIN in bag.files or (place.path / SOURCE / CHAIN).exists()
    except NotAZipError:
        return []
    if data is None and there:
        told = "the chain of seals in the archive there cannot be read, and may hold lines that the build has no longer"
    else:
        known = line_numbers(read_chain(root), *read_branches(root).values())
        lost = [old for old in (parse_chain(data or b""), *others) if old.seals and old.head not in known]
        if not lost:
            return []
        told = (
            f"line {len(lost[0].seals)} of the chain in the archive there is not in the chain of the build any longer"
        )
    hint = "name another place with --out, or put back content/seals.jsonl and content/seals/ from that archive"
    return [error(str(place.path), None, "archive-chain", told, hint)]


class _UnsoundError(Exception):
    """What was written does not verify, or changed under our hands; nothing was replaced."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__(*problems)
        self.problems = problems


@dataclass(frozen=True, slots=True, kw_only=True)
class _Before:
    """The archive that stands at the place already: size of each listed file by path, and its path by digest."""

    root: Path = Path()
    sizes: Mapping[str, int] = field(default_factory=dict)
    by_digest: Mapping[str, str] = field(default_factory=dict)

    @classmethod
    def of(cls, path: Path) -> _Before:
        if not is_archive(path):
            return cls()
        there, listed = FolderBag(path).files, _listed(path, MANIFEST)
        sizes = {name: there[name] for name in listed if name in there}
        return cls(root=path, sizes=sizes, by_digest={listed[name]: name for name in sizes})

    def likely_has(self, file: SourceFile) -> bool:
        """Whether a file of this path and size is there; only its digest can tell that it is the same."""
        return self.sizes.get(file.name) == file.size


_Tags = Callable[[Mapping[str, str]], Mapping[str, bytes]]
"""The files beside data/ by name, given the digests of all that is in it."""


@dataclass(frozen=True, slots=True)
class _Making:
    """One archive being made from the build folder `root`; `plan` is what goes into data/source."""

    root: Path
    place: ArchivePlace
    plan: SourcePlan
    made_at: datetime
    begin: Begin
    say: Callable[[str], object]

    def make(self, view: View, parts: Parts, without_private: bool) -> Archive:
        """Build it beside its place, verify it there, and put it in its place."""
        place, work = self.place, self.place.half_made.building
        place.path.parent.mkdir(parents=True, exist_ok=True)
        work.mkdir()
        before = self._before(work)
        fill_readable(work, parts)
        readable = FolderBag(work)
        for damage in readable.damage:
            raise OSError(0, damage.message, str(work / damage.path))
        made = readable.files
        self._check_room(before, made.values() if place.zipped else ())
        info = _bag_info(view, read_chain(self.root), self.made_at, parts.facts, without_private)
        beside = render_beside(view, parts, without_private=without_private)

        def tags(digests: Mapping[str, str]) -> Mapping[str, bytes]:
            size = sum(made.values()) + self.plan.bytes
            return tag_files(digests, size, info, beside)

        if place.zipped:
            packed = work / "packed.zip"
            self._pack(packed, f"{archive_name(view)}/", made, tags)
            report, kept = self._verified(packed), set[SourceFile]()
        else:
            report, kept = self._fill(work, made, before, tags)
        self._must_hold(report)
        self._settle()
        if place.zipped:
            packed.replace(place.path)
            sync_folder(place.path.parent)
        else:
            _move_in(place.half_made)
        kept_bytes = sum(file.size for file in kept)
        return Archive(
            path=place.path,
            report=replace(report, path=str(place.path)),
            copied_files=len(self.plan.files) - len(kept),
            copied_bytes=self.plan.bytes - kept_bytes,
            kept_files=len(kept),
            kept_bytes=kept_bytes,
        )

    def _before(self, work: Path) -> _Before:
        """The archive that stands there, as far as files can be kept from it. OSError where the disk has no room for
        what can be counted beforehand.
        """
        before = _Before.of(self.place.path)
        readable = [size for name, size in before.sizes.items() if not name.startswith(SOURCE)]
        if self.place.zipped or not before.sizes or _may_link(before.root / BAGIT, work / BAGIT):
            self._check_room(before, readable)
            return before
        why = "; that disk knows no second names for a file: everything is copied before the archive there goes"
        self.say(f"{self.place.path}: {self._check_room(_Before(), readable, why)}")
        return _Before()

    def _check_room(self, before: _Before, more: Iterable[int], why: str = "") -> str:
        files = (file.size for file in self.plan.files if self.place.zipped or not before.likely_has(file))
        return check_room(self.place.half_made.building, (*files, *more, _SPARE_BYTES), "the archive", why)

    def _fill(
        self, work: Path, made: Mapping[str, int], before: _Before, tags: _Tags
    ) -> tuple[Report, set[SourceFile]]:
        """Complete the folder `work`: (what verifying it found, files kept from the archive before)."""
        with self.begin("digests of the site") as progress:
            found = largest_first(lambda name: file_sha256(work / name)[0], made, progress)
            digests = dict(found)
        kept = self._copy_source(work, before, digests)
        for folder in self.plan.empty_folders:
            (work / SOURCE / folder).mkdir(parents=True, exist_ok=True)
        for name, data in tags(digests).items():
            (work / name).write_bytes(data)
        report = self._verified(work)
        # A kept file may have rotted on the disk: the original is here, so take it from there.
        rotten = {damage.path for damage in report.damage}
        if again := {file for file in kept if file.name in rotten}:
            for file in again:
                (work / file.name).unlink(missing_ok=True)
                _copied(file, work)
            report = self._verified(work)
        return report, kept - again

    def _copy_source(self, work: Path, before: _Before, digests: dict[str, str]) -> set[SourceFile]:
        """Put the build into data/source; the files that were kept from the archive before.

        A file that is likely unchanged is read first and, where its digest is that of a file in the old
        archive, given a second name there; disks without such links get a copy.
        """
        for folder in {str(PurePosixPath(file.name).parent) for file in self.plan.files}:
            (work / folder).mkdir(parents=True, exist_ok=True)

        def put(file: SourceFile) -> tuple[str, bool]:
            if before.likely_has(file):
                digest, size = file_sha256(file.path)
                old = before.by_digest.get(digest)
                if old is not None and size == before.sizes[old]:
                    with suppress(OSError):
                        os.link(before.root / old, work / file.name)
                        return digest, True
            return _copied(file, work), False

        kept = set()
        with self.begin("copying originals") as progress:
            for file, (digest, linked) in largest_first(put, {file: file.size for file in self.plan.files}, progress):
                digests[file.name] = digest
                if linked:
                    kept.add(file)
        return kept

    def _pack(self, target: Path, top: str, made: Mapping[str, int], tags: _Tags) -> None:
        """Write the whole bag into a zip, under the folder `top`."""
        members = {name: SourceFile(name=name, path=target.parent / name, size=size) for name, size in made.items()}
        members |= {file.name: file for file in self.plan.files}
        digests: dict[str, str] = {}
        done, total = 0, sum(file.size for file in members.values())
        with ZipWriter(target, top, self.made_at) as writer, self.begin("packing") as progress:
            for name in sorted(members):
                file = members[name]
                with file.path.open("rb", buffering=0) as source:
                    digests[name], size = writer.add(name, source, file.size)
                if size != file.size:
                    raise _changed(file)
                done += size
                progress(done, total)
            for folder in sorted(self.plan.empty_folders):
                writer.add_bytes(f"{SOURCE}{folder}/", b"")
            for name, data in tags(digests).items():
                writer.add_bytes(name, data)

    def _verified(self, path: Path) -> Report:
        with self.begin("verifying") as progress:
            return verify(path, progress)

    def _must_hold(self, report: Report) -> None:
        def unsound(damage: Damage) -> Problem:
            message = f"what was written does not verify: {damage.message} ({damage.kind.value})"
            hint = "check the disk; nothing was replaced"
            return error(damage.path or str(self.place.path), None, "archive-unsound", message, hint)

        # Stamps that do not fit and a clock that was set back are the build's: a true copy of it has them, too.
        if found := [one for one in report.damage if one.kind not in (DamageKind.TIME_STAMP, DamageKind.TIMES)]:
            raise _UnsoundError(tuple(map(unsound, found)))

    def _settle(self) -> None:
        """Have everything written to the disk where that matters: an old archive is about to go, or the
        new one lies on another disk, which is perhaps pulled out as soon as we say that it is done.
        """
        elsewhere = self.place.half_made.building.stat().st_dev != self.root.stat().st_dev
        if hasattr(os, "sync") and (elsewhere or self.place.path.exists()):
            os.sync()


def fill_readable(work: Path, parts: Parts) -> None:
    """Make site, binder and tables in the folder `work`. Raises SiteError where a theme takes the place of one."""
    data = work / "data"
    parts.site(data)
    for name in (BINDER, TABLES, SOURCE):
        if (work / name).exists():
            told = f"the site writes {name}, where the archive has another part"
            raise SiteError(f"{told}; rename it in the folder that theme.custom_dir names")
    parts.binder(work / BINDER)
    (work / TABLES).mkdir()
    for name, content in parts.tables():
        (data / name).write_bytes(content)
    if found := tuple(parts.search(data)):
        raise _UnsoundError(found)


def _copied(file: SourceFile, work: Path) -> str:
    try:
        digest, size = copy_with_sha256(file.path, work / file.name)
    except ChangedError:
        raise _changed(file) from None
    if size != file.size:
        raise _changed(file)
    return digest


def _changed(file: SourceFile) -> _UnsoundError:
    uri = file.name.removeprefix(SOURCE)
    message = "was written to while the archive was being made"
    return _UnsoundError((error(uri, None, "archive-changed", message, "run journal archive again"),))


def _may_link(file: Path, name: Path) -> bool:
    """Whether a file there can have a second name: memory sticks mostly know none."""
    try:
        os.link(file, name)
    except OSError:
        return False
    name.unlink()
    return True


def _move_in(made: HalfMade) -> None:
    """Let the new archive stand where the old one does, if there is one; that lies where this was made, then."""
    if is_archive(made.place):
        if (old := change_places(made)) != made.building:
            old.rename(made.building)
        return
    if made.place.exists():
        made.place.rmdir()
    move_new(made.building, made.place)


# --- what it says of itself ----------------------------------------------------------------------


def render_beside(view: View, parts: Parts, *, without_private: bool = False) -> dict[str, bytes]:
    """What lies beside data/ for readers: README.txt and the small verifier."""
    title = f"{view.aircraft.name}: the record of its building"
    readme = render_readme(title, without_private=without_private, guide=parts.guide)
    return {README: readme.encode(), VERIFIER: render_verifier()}


def _bag_info(
    view: View, chain: Chain, made_at: datetime, facts: Mapping[str, str], without_private: bool
) -> list[tuple[str, str]]:
    what = (
        "Site, binder and tables of the record of building this aircraft, made for readers who may see nothing "
        "private. Without originals: not a backup."
        if without_private
        else "The record of building this aircraft: site, binder, tables, and the build itself with every original. "
        "Copied back, data/source is the build."
    )
    return [
        ("Bag-Software-Agent", f"{AGENT} {__version__}"),
        ("Bagging-Date", made_at.astimezone(UTC).date().isoformat()),
        ("External-Identifier", view.aircraft.name),
        ("External-Description", what),
        (CONTENTS, NOTHING_PRIVATE if without_private else EVERYTHING),
        (HEAD_FIELD, head_field(chain)),
        (MADE_AT, made_at.astimezone(UTC).isoformat()),
        *facts.items(),
    ]
