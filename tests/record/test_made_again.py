"""What a bag's readable parts are held against: the same parts made anew; plain ones stand in for site and binder."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from archiving import MADE_AT, agree, plain_parts, sealed, write_build

from journal.making import made_again
from journal.making.archive_parts import program_digest
from journal.making.made_again import compare_again
from journal.record.archive import DAY, PROGRAM, ArchivePlace, write_archive
from journal.record.damage import DamageKind
from journal.record.verify import Report, verify

ENTRY = "data/source/content/entries/2026-02-07-flap-ribs/index.md"
WHAT = "site, binder and tables"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A bag that says when and by which program it was made."""
    root, out = write_build(tmp_path_factory.mktemp("build")), tmp_path_factory.mktemp("archive") / "out"
    (root / "mkdocs.yml").write_text("site_name: Tarn\ntheme: {name: material}\nplugins: [search, journal]\n")
    parts = replace(plain_parts(), facts={DAY: "2026-05-01", PROGRAM: program_digest()})
    done, problems = write_archive(root, sealed(root), ArchivePlace(path=out), parts, made_at=MADE_AT)
    assert done is not None, problems
    return out


@pytest.fixture
def bag(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of it to forge; plain parts are made anew."""
    monkeypatch.setattr(made_again, "make_parts", lambda *args, **how: plain_parts())
    return Path(shutil.copytree(made, tmp_path / "out"))


def again(bag: Path) -> Report:
    """The report on a bag whose lists were written anew."""
    agree(bag)
    return compare_again(verify(bag))


def edit(bag: Path, name: str, old: str, new: str) -> None:
    """Change a file of the bag in one place."""
    text = (bag / name).read_text()
    assert text.count(old) == 1
    (bag / name).write_text(text.replace(old, new))


def test_parts_that_come_out_the_same_are_said_to(bag: Path) -> None:
    """All six files, among them README.txt and the small verifier; nothing of them is left unchecked."""
    report = again(bag)
    assert report.ok
    assert f"Made anew from the source: all 6 files of {WHAT} are the same." in report.notes
    assert not [told for told in report.unchecked if told.startswith(WHAT)]


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("data/index.html", b"all is well", "does not say what the source says"),
        ("data/record.pdf", b"%PDF-", "does not say what the source says"),
        ("data/tables/hours.csv", b"date,minutes\r\n", "does not say what the source says"),
        ("README.txt", b"all is well", "does not say what the source says"),
        ("verify.pyz", b"all is well", "does not say what the source says"),
        ("data/extra.html", b"more", "does not come of the source: somebody put it in"),
        ("data/pictures/a.jpg", None, "comes of the source and is not there"),
    ],
)
def test_what_does_not_come_of_the_source_is_damage(bag: Path, name: str, data: bytes | None, said: str) -> None:
    """Changed, put in or taken away, though every list of the bag agrees."""
    if data is None:
        (bag / name).unlink()
    else:
        (bag / name).write_bytes(data)
    told = [one for one in again(bag).damage if one.kind is DamageKind.NOT_FROM_SOURCE]
    assert [(one.path, said in one.message) for one in told] == [(name, True)]


@pytest.mark.parametrize(
    ("file", "old", "new", "said"),
    [
        ("bag-info.txt", program_digest(), "0" * 64, "another version of the program or its libraries made them"),
        ("data/source/mkdocs.yml", "journal]", "journal, own]", "own templates or settings took part"),
        ("bag-info.txt", "Journal-Day", "Another-Day", "an earlier version made them"),
    ],
)
def test_a_difference_that_may_be_the_programs_is_not_checked(
    bag: Path, file: str, old: str, new: str, said: str
) -> None:
    """By another program, with a builder's own templates, or made on a day that nobody noted down."""
    edit(bag, file, old, new)
    (bag / "data/index.html").write_text("made otherwise")
    report = again(bag)
    assert not [one for one in report.damage if one.kind is DamageKind.NOT_FROM_SOURCE]
    assert [told for told in report.unchecked if WHAT in told and said in told]


@pytest.mark.parametrize("same", [True, False])
def test_a_source_with_errors_gives_no_archive(bag: Path, same: bool) -> None:
    """So it is damage where the very same program made it; another one may have known better."""
    edit(bag, ENTRY, "steps: [5.1]", "steps: [99.9]")
    if not same:
        edit(bag, "bag-info.txt", program_digest(), "0" * 64)
    report = again(bag)
    told = [one.message for one in report.damage if one.kind is DamageKind.NOT_FROM_SOURCE]
    assert told == (["has errors, so no archive can have been made of it"] if same else [])
    assert bool([one for one in report.unchecked if "the source has errors now" in one]) is not same
