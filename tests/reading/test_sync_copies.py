"""Copies that a synchronising program leaves where two wrote at once: told by name, never read, never shown."""

from __future__ import annotations

from pathlib import Path

import pytest
from making import MakeBuild, entry, read

from journal.base.sync_copies import copy_of
from journal.ledger.hours import build_ledger

DAY = "2026-02-07-flaps"
FULL = {"index.md", "build.yml", "steps.csv", "seals.jsonl", "head.json", "a.md", "a.jpg", f"{DAY}.md", DAY}


@pytest.mark.parametrize(
    ("name", "original"),
    [
        ("index (conflicted copy 2026-11-27).md", "index.md"),
        ("index (Anna's conflicted copy).md", "index.md"),
        ("index (Anna's conflicted copy 2026-11-27) (1).md", "index.md"),
        ("index (Konfliktkopie von Anna 2026-11-27).md", "index.md"),
        ("index (Copie en conflit de Anna 2026-11-27).md", "index.md"),
        ("index (copia en conflicto de Anna 2026-11-27).md", "index.md"),
        ("index [conflicted].md", "index.md"),
        ("seals.sync-conflict-20261127-101010-ABCDEF7.jsonl", "seals.jsonl"),
        ("build_conflict-20261127-101010.yml", "build.yml"),
        ("a (conflicted copy 2026-11-27).jpg", "a.jpg"),
        ("gone (conflicted copy 2026-11-27).md", "gone.md"),
        (f"{DAY} (conflicted copy 2026-11-27)", DAY),
        ("index (1).md", "index.md"),
        ("a (1).md", "a.md"),
        ("a - Copy.md", "a.md"),
        ("a copy 2.md", "a.md"),
        ("head-DESKTOP-4F.json", "head.json"),
        ("index-Annas-MacBook.md", "index.md"),
        ("steps 2.csv", "steps.csv"),
        ("a (1).jpg", None),
        ("a-DESKTOP-4F.md", "a.md"),
        ("a-desktop-mill.md", None),
        ("a-AN3.md", None),
        ("a 2.md", None),
        ("b (1).md", None),
        ("index-old.md", None),
        ("a (conflict with the spar).jpg", None),
        ("a (copy of the drawing).jpg", None),
        (f"{DAY}-ribs.md", None),
        *((name, None) for name in sorted(FULL)),
    ],
)
def test_which_names_are_those_of_copies(name: str, original: str | None) -> None:
    """A program that says so is believed; a number or a machine's name only beside the file itself."""
    assert copy_of(name, FULL | {name}) == original


@pytest.mark.parametrize(
    "name",
    [
        "index.md",
        "build.yml",
        "steps.csv",
        "seals.jsonl",
        "head.json",
        "callouts.csv",
        "inventory.csv",
        "records.csv",
        "tasks.csv",
    ],
)
def test_every_file_that_all_builds_have(name: str) -> None:
    """A machine's name behind a hyphen, a number behind a blank or in brackets."""
    stem, _, ending = name.partition(".")
    for mark in ("-Anna-PC", " 2", " (1)", "(2)", " copy"):
        assert copy_of(f"{stem}{mark}.{ending}", {name}) == name
        assert copy_of(f"{stem}{mark}.{ending}", set()) is None
    for mark in ("-2", "2", "-old", " 10", " (copy of it)"):
        assert copy_of(f"{stem}{mark}.{ending}", {name}) is None


def of_copies(root: Path) -> list[tuple[str, str, str]]:
    """(grade, place, name) of every copy told."""
    told = [problem for problem in read(root)[1] if problem.word == "sync-copy"]
    return [(problem.grade.value, problem.file, problem.message.split('"')[1]) for problem in told]


def test_a_copy_beside_what_the_program_reads_is_a_finding(make_build: MakeBuild) -> None:
    """Everything reads as without it, and each is told once, with what to do."""
    plain = {f"entries/{DAY}/index.md": entry("steps: [5.1]"), f"entries/{DAY}/a.jpg": b"a", "seals.jsonl": ""}
    copies = {
        f"entries/{DAY}/index (conflicted copy 2026-11-27).md": entry("hours: '9:00'"),
        f"entries/{DAY}/index-DESKTOP-4F.md": entry("hours: '9:00'"),
        f"entries/{DAY}/a (conflicted copy 2026-11-27).jpg": b"b",
        "build.sync-conflict-20261127-101010-ABCDEF7.yml": "aircraft: {name: Other}",
        "steps (1).csv": "assembly,step,title,page,closes\n",
        "seals (conflicted copy 2026-11-27).jsonl": "x",
        "seals/head (conflicted copy 2026-11-27).json": "x",
    }
    build, before = read(make_build(plain))
    with_copies, problems = read(make_build({**plain, **copies}))
    assert with_copies == build
    assert [problem for problem in problems if problem.word != "sync-copy"] == [*before]
    told = of_copies(make_build({**plain, **copies}))
    assert {(f"{place}/{name}").removeprefix("content/") for _, place, name in told} == set(copies)
    assert {grade for grade, _, _ in told} == {"finding"}
    hints = {problem.message.split('"')[1]: problem.hint for problem in problems if problem.word == "sync-copy"}
    name = "seals (conflicted copy 2026-11-27).jsonl"
    assert hints[name] == f'join the two chains: journal seal --join "content/{name}"'
    assert hints["head (conflicted copy 2026-11-27).json"].endswith("without one, take it out")
    assert hints["steps (1).csv"].endswith("or rename it steps.csv")


def test_what_would_be_read_as_an_entry_or_page_is_an_error(make_build: MakeBuild) -> None:
    """Hours are not counted twice and nothing is published, but nobody overlooks it."""
    plain = {f"entries/{DAY}.md": entry(""), "pages/about.md": "About.", "entries/2026-02-08-x/index.md": entry("")}
    copies = {
        f"entries/{DAY} (conflicted copy 2026-11-27).md": entry(""),
        f"entries/{DAY} (1).md": entry(""),
        "pages/about.sync-conflict-20261127-101010-ABCDEF7.md": "Another.",
        "entries/2026-02-08-x (conflicted copy 2026-11-27)/index.md": entry(""),
        "entries/2026-02-09-y/index (conflicted copy 2026-11-27).md": entry(""),
    }
    build, _ = read(make_build(plain))
    with_copies, _ = read(make_build({**plain, **copies}))
    assert with_copies == build
    assert build_ledger(with_copies).minutes == 240
    told = of_copies(make_build({**plain, **copies}))
    assert [grade for grade, _, _ in told] == ["error"] * 5
