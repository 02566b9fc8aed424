"""The archive: what is in it, that it verifies with strangers' tools, and the build back out of it."""

from __future__ import annotations

import errno
import os
import shutil
import subprocess
import zipfile
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from io import BytesIO
from pathlib import Path

import piexif
import pytest
from archiving import (
    ENTRY,
    FILES,
    MADE_AT,
    OTHER_PHOTO,
    PHOTO,
    archived,
    bagit_accepts,
    opened,
    plain_parts,
    sealed,
    sha256sum_accepts,
    tree,
    write_build,
)
from making import entry
from PIL import Image

from journal import __version__
from journal.base import replace_folder
from journal.base.problems import Grade, Problem, SiteError
from journal.ledger.journal import open_journal
from journal.making.archive_parts import private_things
from journal.record import archive as archives
from journal.record.archive import Archive, ArchivePlace, Parts, choose_place, fill_readable, write_archive
from journal.record.bag import parse_tags
from journal.record.damage import DamageKind, damaged
from journal.record.seals import seal
from journal.record.source import plan_source, restore_source
from journal.record.verify import Report, verify


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A build in its own folder under tmp_path."""
    return write_build(tmp_path / "build")


def content_of(root: Path) -> dict[str, bytes]:
    """mkdocs.yml and everything under content/, by path."""
    return {"mkdocs.yml": (root / "mkdocs.yml").read_bytes()} | {
        f"content/{name}": data for name, data in tree(root / "content").items()
    }


LOST = "name another place with --out, or put back content/seals.jsonl and content/seals/ from that archive"
OTHER_FOLDER = "name another folder with --out"
HINTS = {
    "an archive cannot stand inside content/, which goes into it": "name a folder elsewhere with --out",
    "is in the way: it is not a file": "name another with --out",
    "is in the way: it is not an archive, and nothing here is written over": OTHER_FOLDER,
    'the archive there holds "notes.txt", which is not part of it and would be lost': f"move it out, or {OTHER_FOLDER}",
    "is in the way: an archive that is replaced waits under this name for a moment": "give it another name",
    "the chain of seals in the archive there cannot be read, and may hold lines that the build has no longer": LOST,
    "line 22 of the chain in the archive there is not in the chain of the build any longer": LOST,
    "another archive of this build is being made": "wait until it is done",
    "was written to while the archive was being made": "run journal archive again",
    "what was written does not verify: is not what it was (altered)": "check the disk; nothing was replaced",
    "is what could not be removed of the archive before; the new one is whole": "the next archive removes it",
}
"""What an archive that was refused says, and how that is mended."""


def said(problems: Sequence[Problem]) -> list[str]:
    """The words of problems; those of archives are held against HINTS."""
    ours = [one for one in problems if one.word.startswith("archive-") and one.word != "archive-name"]
    assert [one.hint for one in ours] == [HINTS[one.message] for one in ours]
    assert all(one.grade is (Grade.FINDING if one.word == "archive-left" else Grade.ERROR) for one in ours)
    return [one.word for one in problems]


def refused(root: Path, path: Path, **changes: object) -> list[tuple[str, str]]:
    """(word, file) of the problems for which no archive was made."""
    view = opened(root)
    parts = replace(plain_parts(), **changes) if changes else plain_parts()  # type: ignore[arg-type]
    archive, problems = write_archive(root, view, ArchivePlace(path=path), parts, made_at=MADE_AT)
    assert archive is None
    return [*zip(said(problems), (problem.file for problem in problems), strict=True)]


def test_the_layout_is_that_of_the_format_document(root: Path, tmp_path: Path) -> None:
    """Site, binder, tables, and the whole of content/ bit for bit: drafts, records, hidden files, empty folders."""
    (root / "content/.notes").write_bytes(b"\0\xff hidden")
    (root / "content/pages").mkdir()
    archive = archived(root, tmp_path / "out")
    inside = tree(tmp_path / "out")
    assert {"data/index.html", "data/record.pdf", "data/tables/hours.csv", "README.txt"} <= inside.keys()
    source = {name.removeprefix("data/source/"): data for name, data in inside.items() if "data/source/" in name}
    assert source == content_of(root)
    assert (tmp_path / "out/data/source/content/pages").is_dir()
    assert archive.report.ok
    assert (archive.copied_files, archive.kept_files) == (len(source), 0)
    assert [p.name for p in tmp_path.iterdir() if p.name.startswith(".")] == []


def test_strangers_tools_accept_the_archive(root: Path, tmp_path: Path) -> None:
    """sha256sum -c and the bagit program, run as README.txt says, find nothing wrong, and do once a bit is flipped."""
    archived(root, tmp_path / "out")
    assert sha256sum_accepts(tmp_path / "out")
    assert bagit_accepts(tmp_path / "out")
    photo = tmp_path / "out" / PHOTO
    photo.write_bytes(b"T" + photo.read_bytes()[1:])
    assert not sha256sum_accepts(tmp_path / "out")
    assert not bagit_accepts(tmp_path / "out")


def test_bag_info_says_what_it_is(root: Path, tmp_path: Path) -> None:
    """The date is the one given, counts are right, and the head of the chain stands there."""
    archived(root, tmp_path / "out")
    info = dict(parse_tags((tmp_path / "out/bag-info.txt").read_bytes()) or [])
    payload = tree(tmp_path / "out/data")
    assert [*info] == [
        *("Bag-Software-Agent", "Bagging-Date", "External-Identifier", "External-Description", "Journal-Contents"),
        *("Journal-Seals-Head", "Journal-Made-At", "Payload-Oxum"),
    ]
    assert info["Bag-Software-Agent"] == f"build-journal {__version__}"
    assert (info["External-Identifier"], info["Journal-Made-At"]) == ("Tarn", "2026-05-01T12:00:00+00:00")
    assert info["External-Description"] == (
        "The record of building this aircraft: site, binder, tables, and the build itself with every original. Copied "
        "back, data/source is the build."
    )
    assert info["Bagging-Date"] == "2026-05-01"
    assert info["Payload-Oxum"] == f"{sum(map(len, payload.values()))}.{len(payload)}"
    assert info["Journal-Contents"] == "everything"
    assert info["Journal-Seals-Head"].startswith("line 22 ")


def test_same_content_and_time_give_the_same_bytes(root: Path, tmp_path: Path) -> None:
    """Another place, other file times, a run after a run: every byte of bag and zip is the same."""
    archived(root, tmp_path / "one")
    archived(root, tmp_path / "one.zip", zipped=True)
    for path in root.rglob("*"):
        if path.is_file() and ".journal" not in path.parts:
            os.utime(path, (1, 1))
    archived(root, tmp_path / "two")
    archived(root, tmp_path / "other.zip", zipped=True)
    archived(root, tmp_path / "one")
    assert tree(tmp_path / "one") == tree(tmp_path / "two")
    assert (tmp_path / "one.zip").read_bytes() == (tmp_path / "other.zip").read_bytes()


def test_another_time_changes_only_what_tells_it(root: Path, tmp_path: Path) -> None:
    """A day later bag-info.txt and the list that names it differ, nothing else."""
    view = sealed(root)
    for number in range(2):
        made_at = MADE_AT + timedelta(days=number)
        write_archive(root, view, ArchivePlace(path=tmp_path / str(number)), plain_parts(), made_at=made_at)
    one, two = tree(tmp_path / "0"), tree(tmp_path / "1")
    assert {name for name in one if one[name] != two[name]} == {"bag-info.txt", "tagmanifest-sha256.txt"}


def test_a_zip_holds_the_same_bag(root: Path, tmp_path: Path) -> None:
    """Unpacked by another program it is the bag, under one folder, and accepted by strangers' tools."""
    (root / "content/pages").mkdir()
    archived(root, tmp_path / "out")
    archived(root, tmp_path / "out.zip", zipped=True)
    assert verify(tmp_path / "out.zip").ok
    with zipfile.ZipFile(tmp_path / "out.zip") as packed:
        assert packed.testzip() is None
        assert {info.compress_type for info in packed.infolist()} == {zipfile.ZIP_STORED}
        assert {info.date_time for info in packed.infolist()} == {(2026, 5, 1, 12, 0, 0)}
        packed.extractall(tmp_path / "unpacked")
    (bag,) = (tmp_path / "unpacked").iterdir()
    assert bag.name == "tarn-archive"
    assert tree(bag) == tree(tmp_path / "out")
    assert (bag / "data/source/content/pages").is_dir()
    assert sha256sum_accepts(bag)
    assert bagit_accepts(bag)


@pytest.mark.skipif(shutil.which("unzip") is None, reason="needs unzip")
def test_unzip_reads_the_zip(root: Path, tmp_path: Path) -> None:
    """The common program finds no error in it."""
    archived(root, tmp_path / "out.zip", zipped=True)
    assert subprocess.run(["unzip", "-tq", "out.zip"], cwd=tmp_path, capture_output=True).returncode == 0


# --- a second archive ----------------------------------------------------------------------------


def test_a_second_archive_copies_only_what_changed(root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Unchanged originals are the same files on the disk, changed and new ones are copied, and it verifies; room is
    asked for what is copied and made anew, and for 16 MiB.
    """
    asked: list[int] = []
    monkeypatch.setattr(archives, "check_room", lambda folder, sizes, what, why="": asked.append(sum(sizes)) or "")
    archived(root, tmp_path / "out")
    assert asked == [sum(file.size for file in plan_source(root, ()).files) + 2**24] * 2
    made = sum(len(data) for name, data in tree(tmp_path / "out/data").items() if not name.startswith("source/"))
    before = (tmp_path / "out" / PHOTO).stat().st_ino
    (root / f"content/entries/{ENTRY}/IMG_2.jpg").write_bytes(b"another picture altogether, a better one")
    (root / f"content/entries/{ENTRY}/IMG_3.jpg").write_bytes(b"a third")
    again = archived(root, tmp_path / "out")
    assert (tmp_path / "out" / PHOTO).stat().st_ino == before
    copied = [f"entries/{ENTRY}/IMG_2.jpg", f"entries/{ENTRY}/IMG_3.jpg", "seals.jsonl"]
    size = sum((root / "content" / name).stat().st_size for name in copied)
    assert asked[2:] == [size + made + 2**24, size + 2**24]
    # The two photos, seals.jsonl and seals/head.json, which is as long as it was.
    assert again.copied_files == 4
    assert again.kept_files == len(content_of(root)) - 4
    assert {f"data/source/{name}": data for name, data in content_of(root).items()}.items() <= tree(
        tmp_path / "out"
    ).items()
    assert bagit_accepts(tmp_path / "out")


def test_the_same_size_is_not_taken_for_the_same_file(root: Path, tmp_path: Path) -> None:
    """A photo exchanged for one of the same size and time is copied anew."""
    archived(root, tmp_path / "out")
    photo = root / f"content/entries/{ENTRY}/IMG_1.jpg"
    state = photo.stat()
    photo.write_bytes(photo.read_bytes()[::-1])
    os.utime(photo, ns=(state.st_atime_ns, state.st_mtime_ns))
    archived(root, tmp_path / "out")
    assert (tmp_path / "out" / PHOTO).read_bytes() == photo.read_bytes()


def test_a_file_that_rotted_in_the_old_archive_is_copied_anew(root: Path, tmp_path: Path) -> None:
    """What was kept from the old archive and does not verify is taken from the original."""
    archived(root, tmp_path / "out")
    rotten = tmp_path / "out" / PHOTO
    rotten.write_bytes(b"X" + rotten.read_bytes()[1:])
    again = archived(root, tmp_path / "out")
    assert again.report.ok
    assert again.copied_files == 1
    assert (tmp_path / "out" / PHOTO).read_bytes() == FILES[f"entries/{ENTRY}/IMG_1.jpg"]


@pytest.mark.parametrize("number", [errno.EPERM, errno.ENOTSUP])
def test_disks_without_second_names_get_copies(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    """Where hard links are refused, as on memory sticks, everything is copied, and that is said before it begins."""

    def no_links(*arguments: object, **options: object) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, "link", no_links)
    archived(root, tmp_path / "out")
    told: list[str] = []
    view, place = sealed(root), ArchivePlace(path=tmp_path / "out")
    again, problems = write_archive(root, view, place, plain_parts(), made_at=MADE_AT, say=told.append)
    assert again is not None, problems
    assert again.kept_files == 0
    assert again.report.ok
    (said,) = told
    assert "the archive needs about 16." in said
    assert said.endswith("everything is copied before the archive there goes")
    before = tree(tmp_path / "out")
    usage = shutil.disk_usage(tmp_path)
    monkeypatch.setattr(shutil, "disk_usage", lambda path: usage._replace(free=1_500_000))
    with pytest.raises(OSError, match="knows no second names for a file"):
        write_archive(root, view, place, plain_parts(), made_at=MADE_AT)
    assert tree(tmp_path / "out") == before


def test_what_an_earlier_run_left_of_an_old_archive_blocks_nothing(root: Path, tmp_path: Path) -> None:
    """A folder half removed goes; one that is somebody's own is in the way, and stays."""
    archived(root, tmp_path / "out")
    (tmp_path / ".out.old/data/source").mkdir(parents=True)
    (tmp_path / ".out.old/data/index.html").write_bytes(b"x")
    archived(root, tmp_path / "out")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["build", "out"]
    (tmp_path / ".out.old").mkdir()
    (tmp_path / ".out.old/mine.txt").write_bytes(b"mine")
    assert refused(root, tmp_path / "out") == [("archive-place", str(tmp_path / ".out.old"))]
    assert (tmp_path / ".out.old/mine.txt").exists()


def test_an_old_archive_that_cannot_be_removed_is_told(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The new one is in its place and whole; the next run removes what stayed."""
    archived(root, tmp_path / "out")
    view, place = sealed(root), ArchivePlace(path=tmp_path / "out")
    real = archives.clear_folder
    with monkeypatch.context() as patch:
        patch.setattr(archives, "clear_folder", lambda folder: (_ for _ in ()).throw(OSError(errno.EIO, "no")))
        made, problems = write_archive(root, view, place, plain_parts(), made_at=MADE_AT + timedelta(days=1))
    assert made is not None
    assert said(problems) == ["archive-left"]
    assert archives.clear_folder is real
    archived(root, tmp_path / "out")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["build", "out"]


def test_a_chain_in_the_old_archive_that_cannot_be_read_stops(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It may be the last witness of seals that were cut: it is not replaced."""
    archived(root, tmp_path / "out")
    monkeypatch.setattr(archives, "read_tag", lambda bag, path: None)
    assert refused(root, tmp_path / "out") == [("archive-chain", str(tmp_path / "out"))]


class BrokenError(Exception):
    """Something gave out."""


def breaks(*arguments: object, **options: object) -> None:
    """Give out."""
    raise BrokenError


@pytest.mark.parametrize("part", ["site", "binder", "tables"])
@pytest.mark.parametrize("zipped", [False, True])
def test_the_old_archive_stays_when_the_new_one_fails(root: Path, tmp_path: Path, part: str, zipped: bool) -> None:
    """Whatever part gives out, the old archive is as it was and nothing half-made is left."""
    path = tmp_path / ("out.zip" if zipped else "out")
    archived(root, path, zipped=zipped)
    before = path.read_bytes() if zipped else tree(path)
    view = opened(root)
    broken = replace(plain_parts(), **{part: breaks})
    with pytest.raises(BrokenError):
        write_archive(root, view, ArchivePlace(path=path, zipped=zipped), broken, made_at=MADE_AT)
    assert (path.read_bytes() if zipped else tree(path)) == before
    assert sorted(item.name for item in tmp_path.iterdir()) == sorted(["build", path.name, "content"][:2])


@pytest.mark.parametrize("zipped", [False, True])
def test_the_old_archive_stays_when_the_new_one_does_not_verify(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, zipped: bool
) -> None:
    """A disk that writes wrong bytes is found before anything is replaced."""
    path = tmp_path / ("out.zip" if zipped else "out")
    archived(root, path, zipped=zipped)
    before = path.read_bytes() if zipped else tree(path)
    unsound = Report(path="", damage=(damaged(DamageKind.ALTERED, PHOTO, "is not what it was"),))
    monkeypatch.setattr(archives, "verify", lambda path, progress: unsound)
    view = opened(root)
    archive, problems = write_archive(
        root, view, ArchivePlace(path=path, zipped=zipped), plain_parts(), made_at=MADE_AT + timedelta(days=1)
    )
    assert archive is None
    assert (said(problems), problems[0].file) == (["archive-unsound"], PHOTO)
    assert (path.read_bytes() if zipped else tree(path)) == before


@pytest.mark.parametrize("renames_done", [0, 1])
def test_a_run_stopped_while_moving_in_is_mended(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, renames_done: int
) -> None:
    """Power gone before or after the old archive was set aside: the next run finds it and goes on."""
    archived(root, tmp_path / "out")
    before = tree(tmp_path / "out")
    real, count = Path.rename, 0

    class PowerCut(BaseException):
        pass

    def rename(self: Path, target: Path) -> Path:
        nonlocal count
        if self.parent == tmp_path:
            if count == renames_done:
                raise PowerCut
            count += 1
        return real(self, target)

    monkeypatch.setattr(replace_folder, "_exchange", lambda one, other: False)
    with monkeypatch.context() as patch:
        patch.setattr(Path, "rename", rename)
        with pytest.raises(PowerCut):
            archived(root, tmp_path / "out")
    assert tree(tmp_path / "out" if renames_done == 0 else tmp_path / ".out.old") == before
    again = archived(root, tmp_path / "out")
    assert again.report.ok
    assert sorted(item.name for item in tmp_path.iterdir()) == ["build", "out"]


# --- what is refused -----------------------------------------------------------------------------


def test_an_archive_that_would_contradict_its_seals_is_refused(root: Path, tmp_path: Path) -> None:
    """A sealed text that changed must be sealed again first, with a reason."""
    sealed(root)
    (root / f"content/entries/{ENTRY}/index.md").write_text(entry("steps: [5.2]"))
    assert refused(root, tmp_path / "out") == [("changed-after-seal", f"content/entries/{ENTRY}/index.md")]
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("zipped", [False, True])
def test_the_last_witness_of_a_chain_is_not_replaced(root: Path, tmp_path: Path, zipped: bool) -> None:
    """A chain written anew does not overwrite the archive that still holds the old one; elsewhere it may stand."""
    path = tmp_path / ("out.zip" if zipped else "out")
    archived(root, path, zipped=zipped)
    (root / "content/seals.jsonl").unlink()
    (root / "content/seals/head.json").unlink()
    view = opened(root)
    seal(root, view, now=datetime(2026, 3, 1, tzinfo=UTC), ask=lambda amendment: None)
    for at, words in ((path, ["archive-chain"]), (tmp_path / f"other{path.suffix}", [])):
        archive, problems = write_archive(
            root, view, ArchivePlace(path=at, zipped=zipped), plain_parts(), made_at=MADE_AT
        )
        assert said(problems) == words
        assert (archive is None) == bool(words)
    assert verify(path).ok


def test_errors_and_a_broken_chain_stop_the_archive(root: Path, tmp_path: Path) -> None:
    """Nothing is made from content with errors or from a chain that does not hold."""
    sealed(root)
    chain = root / "content/seals.jsonl"
    chain.write_bytes(chain.read_bytes().split(b"\n", 1)[1])
    (root / "content/entries/2026-03-01-x").mkdir()
    (root / "content/entries/2026-03-01-x/index.md").write_text(entry("assembly: nowhere"))
    assert {word for word, _ in refused(root, tmp_path / "out")} == {"unknown-assembly", "seal-chain"}


def test_a_name_that_is_not_utf_8_is_refused(root: Path, tmp_path: Path) -> None:
    """No manifest could list it, so it would be lost in silence."""
    Path(os.fsdecode(os.fsencode(root / "content/records") + b"/\xff.txt")).write_bytes(b"x")
    assert ("archive-name", "content/records/\\xff.txt") in refused(root, tmp_path / "out")


def test_a_disk_that_is_too_small_is_told_before_anything_is_written(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The message says how much is needed and how much is free."""
    view = sealed(root)
    usage = shutil.disk_usage(tmp_path)
    monkeypatch.setattr(shutil, "disk_usage", lambda path: usage._replace(free=1_500_000))
    with pytest.raises(OSError, match=r"needs about 16\.\d MB, and 1\.5 MB are free"):
        write_archive(root, view, ArchivePlace(path=tmp_path / "out"), plain_parts(), made_at=MADE_AT)
    assert not (tmp_path / "out").exists()


def test_a_file_written_to_meanwhile_is_told(root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An original that grows while it is copied makes no archive."""
    view = sealed(root)
    real = archives.plan_source

    def plan(*arguments: object) -> object:
        planned = real(*arguments)  # type: ignore[arg-type]
        (root / "content/records/invoice.txt").write_bytes(b"longer than it was before")
        return planned

    monkeypatch.setattr(archives, "plan_source", plan)
    archive, problems = write_archive(root, view, ArchivePlace(path=tmp_path / "out"), plain_parts(), made_at=MADE_AT)
    assert archive is None
    assert (said(problems), problems[0].file) == (["archive-changed"], "content/records/invoice.txt")


def test_two_archives_at_once_are_refused(root: Path, tmp_path: Path) -> None:
    """The second says that one is being made."""
    import filelock

    sealed(root)
    with filelock.FileLock(root / ".journal/archive.lock"):
        assert [word for word, _ in refused(root, tmp_path / "out")] == ["archive-busy"]


# --- names, links, places ------------------------------------------------------------------------


def test_names_that_trouble_other_programs_are_told(root: Path, tmp_path: Path) -> None:
    """Percent signs and line breaks are archived, verified and restored; a finding says who stumbles."""
    records = root / "content/records"
    for name in ("100% done.txt", "two\nlines.txt", "Flügel.txt", "Flu\u0308gel.txt", "FLÜGEL.txt"):
        (records / name).write_bytes(name.encode())
    findings = [(p.word, p.file.rpartition("/")[2]) for p in plan_source(root).problems]
    assert findings == [
        ("archive-name", "100% done.txt"),
        ("archive-name", "two\nlines.txt"),
        ("archive-name-twice", "Flu\u0308gel.txt"),
        ("archive-name-twice", "Flügel.txt"),
    ]
    for zipped in (False, True):
        path = tmp_path / ("out.zip" if zipped else "out")
        archived(root, path, zipped=zipped)
        restored, problems = restore_source(path, tmp_path / f"back{zipped}")
        assert restored is not None, problems
        assert content_of(tmp_path / f"back{zipped}") == content_of(root)
    assert sha256sum_accepts(tmp_path / "out", "names-as-they-are-sha256.txt")


def test_links_are_followed_into_files(root: Path, tmp_path: Path) -> None:
    """What a link leads to is in the archive as a file; links to nowhere and in circles are told and left out."""
    records = root / "content/records"
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere/scan.pdf").write_bytes(b"a scan")
    (records / "linked").symlink_to(tmp_path / "elsewhere")
    (records / "one.pdf").symlink_to(tmp_path / "elsewhere/scan.pdf")
    (records / ".#index.md").symlink_to("editor@host.1234")
    (records / "circle").symlink_to(records)
    os.mkfifo(records / "pipe")
    assert [(p.word, p.file) for p in plan_source(root).problems] == [
        ("archive-left-out", "content/records/.#index.md"),
        ("archive-left-out", "content/records/circle"),
        ("archive-left-out", "content/records/pipe"),
    ]
    archived(root, tmp_path / "out")
    inside = tree(tmp_path / "out/data/source/content/records")
    assert (inside["linked/scan.pdf"], inside["one.pdf"]) == (b"a scan", b"a scan")
    assert not (tmp_path / "out/data/source/content/records/one.pdf").is_symlink()


def test_the_scratch_file_of_a_stopped_seal_is_not_archived(root: Path) -> None:
    """It is no part of content/; everything else is."""
    (root / "content/seals/texts").mkdir(parents=True)
    for name in (".seals.jsonl", "seals/.head.json", "seals/.branch-0123abcd.jsonl", "seals/texts/.0123.md"):
        (root / f"content/{name}.part").write_bytes(b"half a li")
    assert not any(".part" in file.name for file in plan_source(root).files)


def test_a_folder_of_the_builders_own_templates_goes_along(root: Path) -> None:
    """Without it the restored build would not build."""
    (root / "templates").mkdir()
    (root / "templates/main.html").write_text("{% extends 'base.html' %}")
    names = [file.name for file in plan_source(root, ["templates"]).files]
    assert "data/source/templates/main.html" in names


def place(root: Path, out: Path | None, *, zipped: bool = False) -> Path | str:
    """Where --out leads, or the word of the refusal."""
    chosen = choose_place(root, opened(root), out, zipped=zipped)
    return said([chosen])[0] if isinstance(chosen, Problem) else chosen.path


def test_where_an_archive_goes(root: Path, tmp_path: Path) -> None:
    """A new, empty or old archive's folder becomes the archive; a folder with other things gets it inside."""
    (tmp_path / "empty").mkdir()
    (tmp_path / "stick").mkdir()
    (tmp_path / "stick/holiday.jpg").write_bytes(b"sun")
    archived(root, tmp_path / "old")
    assert place(root, None) == root / "archive"
    assert place(root, tmp_path / "new") == tmp_path / "new"
    assert place(root, tmp_path / "empty") == tmp_path / "empty"
    assert place(root, tmp_path / "old") == tmp_path / "old"
    assert place(root, tmp_path / "stick") == tmp_path / "stick/tarn-archive"
    assert place(root, root / "content") == "archive-place"
    assert place(root, root / "content/records/x") == "archive-place"
    assert place(root, tmp_path / "stick/holiday.jpg") == "archive-place"


def test_where_a_zip_goes(root: Path, tmp_path: Path) -> None:
    """Into the folder named, or to the .zip named, or beside the archive named."""
    archived(root, tmp_path / "old")
    (tmp_path / "stick").mkdir()
    assert place(root, None, zipped=True) == root / "archive.zip"
    assert place(root, tmp_path / "stick", zipped=True) == tmp_path / "stick/tarn-archive.zip"
    assert place(root, tmp_path / "new", zipped=True) == tmp_path / "new/tarn-archive.zip"
    assert place(root, tmp_path / "x.zip", zipped=True) == tmp_path / "x.zip"
    assert place(root, tmp_path / "old", zipped=True) == tmp_path / "old.zip"
    (tmp_path / "stick.zip/tarn-archive.zip").mkdir(parents=True)
    assert place(root, tmp_path / "stick.zip", zipped=True) == "archive-place"


def test_an_archive_with_somebodys_own_files_is_not_replaced(root: Path, tmp_path: Path) -> None:
    """A note put into the old archive would be lost with it; what a desktop leaves there would not be missed."""
    archived(root, tmp_path / "out")
    (tmp_path / "out/data/.DS_Store").write_bytes(b"x")
    assert place(root, tmp_path / "out") == tmp_path / "out"
    (tmp_path / "out/notes.txt").write_bytes(b"mine")
    assert place(root, tmp_path / "out") == "archive-place"


# --- private things ------------------------------------------------------------------------------


def jpeg(*, position: bool) -> bytes:
    """A small picture, with the place where it was taken in it or not."""
    gps = {piexif.GPSIFD.GPSLatitude: ((47, 1), (0, 1), (0, 1)), piexif.GPSIFD.GPSLongitude: ((8, 1), (0, 1), (0, 1))}
    out = BytesIO()
    Image.new("RGB", (16, 16)).save(out, "JPEG", exif=piexif.dump({"GPS": gps} if position else {"0th": {271: b"X"}}))
    return out.getvalue()


def test_private_things_are_counted(root: Path) -> None:
    """What goes in that no follower has seen is told by kind, photos with positions among it."""
    folder = root / f"content/entries/{ENTRY}"
    (folder / "IMG_1.jpg").write_bytes(jpeg(position=True))
    (folder / "IMG_2.jpg").write_bytes(jpeg(position=False))
    (folder / "index.md").write_text(
        entry("photos: {IMG_2.jpg: {private: true, caption: a face}}", "Text.\n\n!!! private\n\n    the price\n")
    )
    (root / "content/entries/2026-03-01-x").mkdir()
    (root / "content/entries/2026-03-01-x/index.md").write_text(entry("private: true\ndate: 2026-03-01"))
    (root / "content/records/records.csv").write_text(
        "file,date,kind,title,note\ninvoice.txt,2026-02-01,invoice,Rivets,\n"
    )
    (root / "content/costs.csv").write_text(
        "date,assembly,what,amount,currency,record\n2026-02-01,flaps,rivets,40.00,EUR,\n"
    )
    assert private_things(open_journal(root, date(2026, 5, 1))) == (
        "1 private entry, 1 private photo, 1 text with private passages, 1 draft, 1 record, 1 cost, "
        "1 photo that holds its position"
    )


def test_an_archive_without_private_things_holds_no_source(root: Path, tmp_path: Path) -> None:
    """Only site, binder and tables go in, bag-info says that it is no backup, and nothing restores from it."""
    archived(root, tmp_path / "out", without_private=True)
    inside = tree(tmp_path / "out")
    assert not [name for name in inside if name.startswith("data/source/")]
    secrets = [data for name, data in content_of(root).items() if "IMG_" in name or "invoice" in name]
    assert not any(secret in data for data in inside.values() for secret in secrets)
    info = dict(parse_tags(inside["bag-info.txt"]) or [])
    assert info["Journal-Contents"] == "nothing private"
    assert "not a backup" in info["External-Description"]
    assert verify(tmp_path / "out").ok
    assert bagit_accepts(tmp_path / "out")
    restored, (problem,) = restore_source(tmp_path / "out", tmp_path / "back")
    assert restored is None
    assert problem.word == "restore-nothing"


# --- and back ------------------------------------------------------------------------------------


@pytest.mark.parametrize("zipped", [False, True])
def test_copied_back_it_is_the_build_again(root: Path, tmp_path: Path, zipped: bool) -> None:
    """Every byte of content/ comes back, the journal reads the same, and an archive of it is the same archive."""
    (root / "content/pages").mkdir()
    path = tmp_path / ("out.zip" if zipped else "out")
    archived(root, path, zipped=zipped)
    restored, problems = restore_source(path, tmp_path / "again")
    assert problems == ()
    assert restored is not None
    assert restored[0] == len(content_of(root))
    assert content_of(tmp_path / "again") == content_of(root)
    assert (tmp_path / "again/content/pages").is_dir()
    builds = [open_journal(folder, date(2026, 5, 1)).build for folder in (root, tmp_path / "again")]
    assert builds[0] == builds[1]
    assert opened(tmp_path / "again") == opened(root)
    archived(tmp_path / "again", tmp_path / f"second{path.suffix}", zipped=zipped)
    second = tmp_path / f"second{path.suffix}"
    assert second.read_bytes() == path.read_bytes() if zipped else tree(second) == tree(path)


def test_by_hand_it_is_the_build_again_too(root: Path, tmp_path: Path) -> None:
    """Without any program of ours: copying data/source gives the build."""
    archived(root, tmp_path / "out")
    shutil.copytree(tmp_path / "out/data/source", tmp_path / "again")
    assert content_of(tmp_path / "again") == content_of(root)


def test_nothing_is_restored_over_anything(root: Path, tmp_path: Path) -> None:
    """A folder with something in it is left as it is; an empty one is used."""
    archived(root, tmp_path / "out")
    (tmp_path / "again").mkdir()
    (tmp_path / "again/mine.txt").write_bytes(b"mine")
    restored, (problem,) = restore_source(tmp_path / "out", tmp_path / "again")
    assert (restored, problem.word) == (None, "restore-not-empty")
    assert tree(tmp_path / "again") == {"mine.txt": b"mine"}
    (tmp_path / "again/mine.txt").unlink()
    assert restore_source(tmp_path / "out", tmp_path / "again")[0] is not None


def test_a_part_that_a_stopped_run_brought_is_completed(root: Path, tmp_path: Path) -> None:
    """A file as the archive has it is no obstacle; one that differs, another one, or all of them are left alone."""
    archived(root, tmp_path / "out")
    again = tmp_path / "again"
    for name, data in (("mkdocs.yml", b"other"), ("notes.txt", b"mine"), ("content/x/y.txt", b"mine")):
        (again / name).parent.mkdir(parents=True, exist_ok=True)
        (again / name).write_bytes(data)
        assert [problem.word for problem in restore_source(tmp_path / "out", again)[1]] == ["restore-not-empty"]
        assert tree(again) == {name: data}
        shutil.rmtree(again)
    again.mkdir()
    shutil.copy(root / "mkdocs.yml", again)
    assert restored(tmp_path / "out", again) == []
    assert content_of(again) == content_of(root)
    assert [problem.word for problem in restore_source(tmp_path / "out", again)[1]] == ["restore-not-empty"]


def test_the_folder_one_stands_in_can_be_filled(root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An empty folder named as `.` gets the build and stays the same folder."""
    archived(root, tmp_path / "out")
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    assert restore_source(tmp_path / "out", Path())[0] is not None
    assert content_of(Path.cwd()) == content_of(root)
    assert sorted(path.name for path in Path.cwd().iterdir()) == ["content", "mkdocs.yml"]


def restored(path: Path, folder: Path) -> list[tuple[str, str, str]]:
    """(grade, word, file) of what is told of a build that came back from `path`."""
    done, problems = restore_source(path, folder)
    assert done is not None, problems
    return [(problem.grade.value, problem.word, problem.file) for problem in problems]


def test_a_build_comes_back_whole_whatever_else_is_damaged(root: Path, tmp_path: Path) -> None:
    """A desktop's file, a page, a table, the README, a list of tag files: told, and no error."""
    archived(root, tmp_path / "out")
    (tmp_path / "out/data/source/content/.DS_Store").write_bytes(b"x")
    (tmp_path / "out/data/index.html").write_bytes(b"<title>T")
    (tmp_path / "out/data/tables/hours.csv").unlink()
    (tmp_path / "out/README.txt").unlink()
    told = restored(tmp_path / "out", tmp_path / "again")
    assert content_of(tmp_path / "again") == content_of(root)
    assert told == [("finding", "restore-other", str(tmp_path / "out"))]
    (problem,) = restore_source(tmp_path / "out", tmp_path / "once more")[1]
    assert problem.message == (
        "damage elsewhere in the archive does not touch the build: README.txt, data/tables/hours.csv, "
        "data/source/content/.DS_Store, data/index.html"
    )


def test_what_is_damaged_is_named_and_lies_apart(root: Path, tmp_path: Path) -> None:
    """A photo cut short and a text that is gone do not come back; the rest does, and nothing damaged in content/."""
    archived(root, tmp_path / "out")
    (tmp_path / "out" / PHOTO).write_bytes(b"the fir")
    (tmp_path / "out/data/source/content/records/invoice.txt").unlink()
    (tmp_path / "out/data/source/content/records/letter.txt").write_bytes(b"who put this here?")
    told = restored(tmp_path / "out", tmp_path / "again")
    photo, invoice = PHOTO.removeprefix("data/source/"), "content/records/invoice.txt"
    letter = "content/records/letter.txt"
    assert told[:3] == [("error", "restore-damaged", name) for name in (photo, invoice, letter)]
    assert content_of(tmp_path / "again") == {
        name: data for name, data in content_of(root).items() if name not in (photo, invoice)
    }
    assert tree(tmp_path / "again/damaged") == {photo: b"the fir", letter: b"who put this here?"}


def test_names_that_a_disk_changed_come_back_as_they_were(root: Path, tmp_path: Path) -> None:
    """Letter case, Unicode form, another name, two names exchanged: told, and all of it is in its place."""
    (root / "content/records/Flügel.txt").write_bytes(b"wing")
    archived(root, tmp_path / "out")
    records = tmp_path / "out/data/source/content/records"
    (records / "Flügel.txt").rename(records / "Flu\u0308gel.txt")
    (records / "invoice.txt").rename(records / "INVOICE.TXT")
    (tmp_path / "out/data/source/content/steps.csv").rename(tmp_path / "out/data/source/content/steps-1.csv")
    one, other = tmp_path / "out" / PHOTO, tmp_path / "out" / OTHER_PHOTO
    bytes_of_one = one.read_bytes()
    one.write_bytes(other.read_bytes())
    other.write_bytes(bytes_of_one)
    told = restored(tmp_path / "out", tmp_path / "again")
    assert content_of(tmp_path / "again") == content_of(root)
    mended = [file for grade, word, file in told if (grade, word) == ("finding", "restore-mended")]
    assert {"content/records/Flügel.txt", "content/records/invoice.txt", "content/steps.csv"} <= {*mended}
    assert PHOTO.removeprefix("data/source/") in mended
    assert not [file for grade, _, file in told if grade == "error" and "IMG" not in file]
    assert not (tmp_path / "again/damaged").exists()


@pytest.mark.parametrize("zipped", [False, True])
def test_line_ends_that_a_program_changed_are_put_back(root: Path, tmp_path: Path, zipped: bool) -> None:
    """One sentence says so, whatever was built upon them; the build comes back bit for bit, tables with CRLF too."""
    (root / "content/mixed.txt").write_bytes(b"one\r\ntwo\n")
    archived(root, tmp_path / "out")
    fingerprint = verify(tmp_path / "out").fingerprint
    for path in (tmp_path / "out").rglob("*"):
        if path.is_file() and path.suffix != ".jpg":
            text = path.read_bytes().replace(b"\r\n", b"\n")
            # A table keeps the other way round what the other files got.
            path.write_bytes(text if path.suffix == ".csv" else text.replace(b"\n", b"\r\n"))
    path = tmp_path / "out"
    if zipped:
        path = Path(shutil.make_archive(str(tmp_path / "packed"), "zip", path))
    report = verify(path)
    kinds = [(damage.kind, damage.path) for damage in report.damage]
    assert kinds[0][0] is DamageKind.COUNTS
    assert kinds[1:] == [(DamageKind.LINE_ENDS, ""), (DamageKind.ALTERED, "data/source/content/mixed.txt")]
    assert "each is exactly as listed (17 with LF, 1 with CRLF)" in report.damage[1].message
    assert report.fingerprint == fingerprint
    told = restored(path, tmp_path / "again")
    assert ("finding", "restore-mended", str(path)) in told
    without = {name: data for name, data in content_of(root).items() if "mixed" not in name}
    assert content_of(tmp_path / "again") == without


def test_line_ends_alone_are_one_finding(root: Path, tmp_path: Path) -> None:
    """Chain, sealed texts, counts and lists of files say nothing more."""
    archived(root, tmp_path / "out")
    for path in (tmp_path / "out").rglob("*"):
        if path.is_file() and path.suffix not in (".jpg", ".csv"):
            path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    (only,) = verify(tmp_path / "out").damage
    assert only.kind is DamageKind.LINE_ENDS
    assert only.message == (
        "a program changed the line ends of 17 files on the way, as git and FTP in text mode do; "
        "with the old ones each is exactly as listed (17 with LF), and journal begin --from-archive brings it back so: "
        "README.txt, bag-info.txt, bagit.txt …"
    )


def test_what_is_not_as_it_was_sealed_is_told(root: Path, tmp_path: Path) -> None:
    """A photo changed together with the lists comes back, with an error that says what it is not."""
    archived(root, tmp_path / "out")
    chain = tmp_path / "out/data/source/content/seals.jsonl"
    (root / f"content/entries/{ENTRY}/IMG_1.jpg").write_bytes(b"another picture")
    archived(root, tmp_path / "new")
    for name in (PHOTO, "manifest-sha256.txt"):
        shutil.copy(tmp_path / "new" / name, tmp_path / "out" / name)
    assert chain.exists()
    told = restored(tmp_path / "out", tmp_path / "again")
    assert ("error", "restore-not-as-sealed", PHOTO.removeprefix("data/source/")) in told


@pytest.mark.parametrize("lists", [["manifest-sha256.txt"], ["manifest-sha256.txt", "tagmanifest-sha256.txt"]])
def test_without_the_list_of_files_nothing_is_whole(root: Path, tmp_path: Path, lists: list[str]) -> None:
    """Nothing vouches for a file then: the new folder is not begun."""
    archived(root, tmp_path / "out")
    for name in lists:
        (tmp_path / "out" / name).unlink()
    nothing, (problem,) = restore_source(tmp_path / "out", tmp_path / "again")
    assert (nothing, problem.word) == (None, "restore-damaged")
    assert not (tmp_path / "again").exists()


def test_a_list_of_files_that_was_cut_is_an_error(root: Path, tmp_path: Path) -> None:
    """What it no longer lists lies apart, and that more may be lost is said."""
    archived(root, tmp_path / "out")
    listed = (tmp_path / "out/manifest-sha256.txt").read_bytes().splitlines(keepends=True)
    (tmp_path / "out/manifest-sha256.txt").write_bytes(b"".join(line for line in listed if b"mkdocs" not in line))
    told = restored(tmp_path / "out", tmp_path / "again")
    assert ("error", "restore-damaged", "mkdocs.yml") in told
    assert ("error", "restore-damaged", "manifest-sha256.txt") in told
    assert (tmp_path / "again/damaged/mkdocs.yml").exists()


@pytest.mark.parametrize("name", ["../../evil.txt", "/evil.txt", "tarn-archive/../../evil.txt", "C:\\evil.txt"])
def test_a_zip_that_climbs_out_is_damaged(root: Path, tmp_path: Path, name: str) -> None:
    """Nothing is written outside the new folder, nor inside it; the build comes back without it."""
    archived(root, tmp_path / "out.zip", zipped=True)
    with zipfile.ZipFile(tmp_path / "out.zip", "a") as packed:
        packed.writestr(name, b"evil")
    assert not verify(tmp_path / "out.zip").ok
    assert {word for _, word, _ in restored(tmp_path / "out.zip", tmp_path / "deep/again")} == {"restore-other"}
    assert content_of(tmp_path / "deep/again") == content_of(root)
    assert not [path for path in tmp_path.rglob("*") if "evil" in path.name]


def test_names_that_windows_cannot_keep(root: Path, tmp_path: Path) -> None:
    """On Windows they are told and left out, elsewhere they come back; a path that climbs is in no archive."""
    records = root / "content/records"
    for name in ("a\\b.txt", "aux.txt", "price?.txt", "end.", "C:x.txt"):
        (records / name).write_bytes(name.encode())
    findings = [(p.word, p.grade.value) for p in plan_source(root).problems]
    assert findings == [("archive-name", "finding")] * 5
    archived(root, tmp_path / "out")
    assert restored(tmp_path / "out", tmp_path / "here") == []
    assert content_of(tmp_path / "here") == content_of(root)
    done, problems = restore_source(tmp_path / "out", tmp_path / "windows", windows=True)
    assert done is not None
    assert [problem.word for problem in problems] == ["restore-damaged"] * 5
    assert sorted(path.name for path in (tmp_path / "windows/content/records").iterdir()) == ["invoice.txt"]
    (records / "..\\..\\evil.txt").write_bytes(b"x")
    assert ("archive-name", "content/records/..\\..\\evil.txt") in refused(root, tmp_path / "never")


def test_a_zip_packed_anew_by_another_program_restores(root: Path, tmp_path: Path) -> None:
    """Deflated, other times, no comment, no folder around it: the content is what counts."""
    archived(root, tmp_path / "out")
    shutil.make_archive(str(tmp_path / "packed"), "zip", tmp_path / "out")
    assert verify(tmp_path / "packed.zip").ok
    assert restore_source(tmp_path / "packed.zip", tmp_path / "again")[0] is not None
    assert content_of(tmp_path / "again") == content_of(root)


def test_times_before_1980_do_not_break_a_zip(root: Path, tmp_path: Path) -> None:
    """The zip format begins in 1980; an earlier SOURCE_DATE_EPOCH is written as its first moment."""
    view = sealed(root)
    archive, problems = write_archive(
        root,
        view,
        ArchivePlace(path=tmp_path / "out.zip", zipped=True),
        plain_parts(),
        made_at=datetime(1970, 1, 1, tzinfo=UTC),
    )
    assert isinstance(archive, Archive), problems
    with zipfile.ZipFile(tmp_path / "out.zip") as packed:
        assert packed.infolist()[0].date_time == (1980, 1, 1, 0, 0, 0)


def test_a_theme_that_takes_the_place_of_the_binder_is_told(tmp_path: Path) -> None:
    """What lies in a builder's own theme is written with the site, under whatever name: the way out is said."""

    def site(data: Path) -> None:
        data.mkdir(parents=True)
        (data / "record.pdf").write_bytes(b"%PDF-own")

    parts = Parts(site=site, binder=lambda path: path.write_bytes(b"%PDF-"), tables=tuple)
    with pytest.raises(SiteError, match=r"the site writes data/record\.pdf, where .* rename it in the folder"):
        fill_readable(tmp_path / "work", parts)
    assert (tmp_path / "work/data/record.pdf").read_bytes() == b"%PDF-own"
