"""The build back out of an archive: verified first, and every file once more as it is written."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from journal.base.byte_progress import Begin, quietly
from journal.base.digests import digest_stream
from journal.base.formatting import say_count
from journal.base.problems import Problem, error
from journal.base.safe_write import clear_folder, move_new, scratch_of
from journal.record.bag import MANIFEST, parse_manifest, read_tag
from journal.record.container import OpenBag, open_bag
from journal.record.verify import SOURCE, Report, find_archive, verify


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """A build folder copied out of an archive."""

    folder: Path
    files: int
    bytes: int


def restore_source(
    path: Path, folder: Path, *, begin: Begin = quietly
) -> tuple[Restored | None, Report, tuple[Problem, ...]]:
    """Copy the build out of the archive (bag or zip) at `path` to `folder`, which must be new or empty.

    The archive is verified first, and each file again as it is written; a damaged archive restores
    nothing. Problems: `restore-damaged`, `restore-not-empty`, `restore-nothing` (an archive made
    without private things holds no build). OSError where a disk fails.
    """
    path, folder = find_archive(path), folder.resolve()
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        message = "is not empty, and nothing is written over"
        report = Report(path=str(path), damage=())
        return None, report, (error(str(folder), None, "restore-not-empty", message, "name a new folder"),)
    with begin("verifying") as progress:
        report = verify(path, progress)
    if not report.ok:
        message = f"the archive is damaged ({say_count(len(report.damage), 'finding')}); nothing was restored"
        hint = "journal verify tells what; take another copy, or copy data/source by hand"
        return None, report, (error(str(path), None, "restore-damaged", message, hint),)
    if not report.complete:
        message = "was made without private things and holds no build to restore"
        return None, report, (error(str(path), None, "restore-nothing", message, "take a complete archive"),)
    work = scratch_of(folder)
    folder.parent.mkdir(parents=True, exist_ok=True)
    clear_folder(work)
    try:
        with open_bag(path) as bag:
            files, size = _unpack(bag, work, begin)
        if folder.exists():
            # Somebody may stand in it: it is filled, not replaced.
            for item in sorted(work.iterdir()):
                move_new(item, folder / item.name)
        else:
            move_new(work, folder)
    finally:
        clear_folder(work)
    return Restored(folder=folder, files=files, bytes=size), report, ()


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
