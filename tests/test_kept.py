"""What earlier versions made still reads, adds up and verifies: tests/kept/, made as tests/keeping.py tells.

Fields and findings may be added; what was said once is said again. Nothing here writes into tests/kept/.
"""

from __future__ import annotations

import csv
import io
import json
import shutil
import zipfile
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from keeping import ARCHIVES, PACKED, ask, day_of, digests, kept_folders, open_data, unpack, verified

KEPT = Path(__file__).parent / "kept"
FOLDERS = list(kept_folders(KEPT))
SOUND = [kept for kept in FOLDERS if (kept / "journal.json").is_file()]
"""Those whose build has no errors: they have a site and seals."""
ARCHIVED = [kept for kept in SOUND if (kept / PACKED).is_file()]

TABLES = ("hours", "steps", "photos", "people", "inspections")
"""Tables of an archive whose rows say what was done. Findings, tasks and traces hold advice, which may grow."""

ADVICE = {"open_gaps", "answered_gaps"}
"""Columns of these tables that hold advice."""

RENDERED = {"url", "width", "height"}
"""Of a photo in journal.json, what a new way of making renditions may change."""


def name_of(kept: Path) -> str:
    """The kept folder as a test names it."""
    return kept.relative_to(KEPT).as_posix()


every_kept = pytest.mark.parametrize("kept", FOLDERS, ids=name_of)
every_sound = pytest.mark.parametrize("kept", SOUND, ids=name_of)
every_archived = pytest.mark.parametrize("kept", ARCHIVED, ids=name_of)


@pytest.fixture
def build(kept: Path, tmp_path: Path) -> Path:
    """A copy of the kept build: tests may write there."""
    return Path(shutil.copytree(kept / "build", tmp_path / "build"))


def answer(kept: Path, name: str) -> Any:
    """What the program said when the folder was made."""
    return json.loads((kept / name).read_text("utf-8"))


def differences(before: Any, now: Any, where: str = "") -> list[str]:
    """Where `now` no longer says what `before` said. Keys may have been added, rows of a list not."""
    if isinstance(before, dict) and isinstance(now, dict):
        gone = [f"{where}/{key} is gone" for key in before if key not in now]
        return gone + [
            found for key in before if key in now for found in differences(before[key], now[key], f"{where}/{key}")
        ]
    if isinstance(before, list) and isinstance(now, list):
        if len(before) != len(now):
            return [f"{where} had {len(before)} rows and has {len(now)}"]
        return [
            found
            for number, (old, new) in enumerate(zip(before, now, strict=True))
            for found in differences(old, new, f"{where}/{number}")
        ]
    # 1 == True in Python, not in JSON.
    return [] if before == now and type(before) is type(now) else [f"{where} was {before!r} and is {now!r}"]


def without_renditions(data: Any) -> Any:
    """Open data without addresses and sizes of pictures."""
    for entry in data["entries"]:
        entry["photos"] = [
            {key: value for key, value in photo.items() if key not in RENDERED} for photo in entry["photos"]
        ]
    return data


def rows_of(archive: Path, table: str) -> list[dict[str, str]]:
    """The rows of a table in an archive, in order, each as column -> text."""
    with zipfile.ZipFile(archive) as opened:
        (name,) = [name for name in opened.namelist() if name.endswith(f"/data/tables/{table}.csv")]
        rows = csv.DictReader(io.StringIO(opened.read(name).decode("utf-8"), newline=""))
        return [{column: text for column, text in row.items() if column not in ADVICE} for row in rows]


def test_there_is_something_kept() -> None:
    """The folders are found: sound builds, and one with mistakes."""
    assert {name_of(kept) for kept in SOUND} >= {"0.1.0", "0.1.0/old-places"}
    assert {name_of(kept) for kept in FOLDERS} >= {"0.1.0/mistakes"}
    assert "0.1.0" in {name_of(kept) for kept in ARCHIVED}


@every_kept
def test_hours_are_what_they_were(kept: Path, build: Path) -> None:
    """`hours --json` gives the same minutes by assembly, person and month."""
    said = ask(day_of(kept), "hours", "--json", "--build", str(build))
    assert differences(answer(kept, "hours.json"), said.data) == []
    for group in ("by_assembly", "by_person", "by_month"):
        assert list(said.data[group]) == list(answer(kept, "hours.json")[group])


@every_kept
def test_errors_are_what_they_were(kept: Path, build: Path) -> None:
    """`check --json` names the same errors at the same places, no more and no fewer. A finding keeps its file and
    code word; others may come to it.
    """
    before, said = answer(kept, "check.json"), ask(day_of(kept), "check", "--json", "--build", str(build))
    exact = ("file", "line", "column", "word")
    old, new = (
        [tuple(problem[key] for key in exact) for problem in told if problem["grade"] == "error"]
        for told in (before, said.data)
    )
    assert sorted(old, key=str) == sorted(new, key=str)
    assert said.code == (1 if old else 0)
    findings, found = (
        Counter((problem["file"], problem["word"]) for problem in told if problem["grade"] == "finding")
        for told in (before, said.data)
    )
    assert findings - found == Counter()


@every_sound
def test_open_data_is_what_it_was(kept: Path, build: Path, tmp_path: Path) -> None:
    """journal.json of the site: totals, days, hours to date, steps and states of every entry and assembly."""
    data = open_data(build, day_of(kept), tmp_path / "site")
    assert differences(without_renditions(answer(kept, "journal.json")), without_renditions(data)) == []


@every_archived
def test_tables_are_what_they_were(kept: Path, build: Path, tmp_path: Path) -> None:
    """A new archive of the old build has the old rows in its tables, private work and states of steps included."""
    new = tmp_path / "new.zip"
    said = ask(day_of(kept), "archive", "--zip", "--build", str(build), "--out", str(new))
    assert said.code == 0, said.text + said.trouble
    old = unpack(kept, tmp_path)["archive.zip"]
    for table in TABLES:
        assert differences(rows_of(old, table), rows_of(new, table), table) == []


@every_archived
@pytest.mark.parametrize("name", ARCHIVES)
def test_archives_verify(kept: Path, name: str, tmp_path: Path) -> None:
    """`verify` finds the old archive good, under the fingerprint that was written down."""
    said = verified(unpack(kept, tmp_path)[name], day_of(kept))
    assert said["ok"] is True
    before = answer(kept, "verify.json")[name]
    for key in ("ok", "findings", "fingerprint", "files", "bytes"):
        assert said[key] == before[key], key


@every_archived
def test_damage_to_an_old_archive_is_found(kept: Path, tmp_path: Path) -> None:
    """One letter of a sealed text changed inside the zip: it is no longer good."""
    archive = unpack(kept, tmp_path)["archive.zip"]
    data, text = archive.read_bytes(), next((kept / "build/content/entries").glob("*/index.md")).read_bytes()
    assert text in data
    archive.write_bytes(data.replace(text, text[:-2] + b"?" + text[-1:]))
    assert ask(day_of(kept), "verify", str(archive)).code == 1


@every_archived
def test_an_old_archive_becomes_the_build_again(kept: Path, tmp_path: Path) -> None:
    """`begin --from-archive` gives the very files that were archived, and the same hours."""
    again = tmp_path / "again"
    archive = unpack(kept, tmp_path)["archive.zip"]
    said = ask(day_of(kept), "begin", str(again), "--from-archive", str(archive))
    assert said.code == 0, said.text + said.trouble
    assert digests(again / "content") == digests(kept / "build/content")
    assert (again / "mkdocs.yml").read_bytes() == (kept / "build/mkdocs.yml").read_bytes()
    hours = ask(day_of(kept), "hours", "--json", "--build", str(again))
    assert differences(answer(kept, "hours.json"), hours.data) == []


@every_sound
def test_an_old_chain_holds(kept: Path, build: Path) -> None:
    """Nothing changed: `seal` amends nothing, and adds lines for what that version did not seal at most. Something
    changed: it goes on from the old last line, which stays.
    """
    before = digests(build / "content")
    chain = build / "content/seals.jsonl"
    old = chain.read_bytes()
    said = ask(day_of(kept), "seal", "--build", str(build))
    assert said.code == 0, said.text + said.trouble
    assert {name: digest for name, digest in digests(build / "content").items() if "seals" not in name} == {
        name: digest for name, digest in before.items() if "seals" not in name
    }
    assert chain.read_bytes().startswith(old)
    added = [json.loads(line) for line in chain.read_bytes().removeprefix(old).splitlines()]
    assert {line["kind"] for line in added} <= {"row", "setting", "record"}
    assert not [line for line in added if "amends" in line]
    old = chain.read_bytes()
    first = min((build / "content/entries").glob("*/index.md"))
    first.write_bytes(first.read_bytes() + b"\nOne line more.\n")
    said = ask(day_of(kept), "seal", "--build", str(build), "--reason", "a line was forgotten")
    assert said.code == 0, said.text + said.trouble
    assert chain.read_bytes().startswith(old)
    assert chain.read_bytes().count(b"\n") == old.count(b"\n") + 1
    problems = ask(day_of(kept), "check", "--json", "--build", str(build)).data
    assert not [problem for problem in problems if problem["word"] in {"seal-chain", "seal-head", "changed-after-seal"}]
