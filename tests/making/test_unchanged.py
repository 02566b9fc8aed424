"""What a site may take over from the last time: only what is proved to be as it was."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from journal.making import incremental, unchanged
from journal.making.incremental import (
    Fingerprints,
    Kept,
    KeptPage,
    packed,
    place_linked,
    read_pages,
    strip_to,
    write_pages,
)
from journal.making.unchanged import NOTE, PUBLISHED, digest_files, digest_inputs, forget, recall, remember


def put(file: Path, text: str = "text") -> Path:
    """Write a file, and the folders above it."""
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text, "utf-8")
    return file


def alike(file: Path) -> None:
    """Other words of the same length, with the same time of writing."""
    before = file.stat()
    file.write_text("t" * before.st_size, "utf-8")
    os.utime(file, ns=(before.st_atime_ns, before.st_mtime_ns))


def touch(file: Path) -> None:
    """The same words, written a second later."""
    told = file.stat()
    os.utime(file, ns=(told.st_atime_ns, told.st_mtime_ns + 10**9))


@pytest.fixture
def root(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A build folder with a site that was made a moment ago."""
    monkeypatch.setattr(unchanged, "_program", lambda: "program")
    monkeypatch.setattr(unchanged, "today", lambda: date(2026, 2, 7))
    monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
    put(tmp_path / "content/entries/a/index.md")
    put(tmp_path / "content/build.yml")
    put(tmp_path / "mkdocs.yml")
    put(tmp_path / "templates/a.html")
    put(tmp_path / "site/index.html")
    put(tmp_path / "site/photos/1.jpg")
    inputs, beside = digest_inputs(tmp_path), digest_files([tmp_path / "templates"])
    remember(tmp_path, inputs, beside, place=None, folder=tmp_path / "site", told={"said": "made"})
    return tmp_path


CHANGES: dict[str, tuple[bool, Callable[[Path], object]]] = {
    "nothing": (True, lambda root: None),
    "a picture of the site has a second name": (True, lambda root: os.link(root / "site/photos/1.jpg", root / "2.jpg")),
    "a file beside the content": (True, lambda root: put(root / "notes.txt")),
    "compiled code": (True, lambda root: put(root / "content/__pycache__/a.pyc")),
    "a text": (False, lambda root: put(root / "content/entries/a/index.md", "other text")),
    "a text of the same length and time": (False, lambda root: alike(root / "content/entries/a/index.md")),
    "a text written anew": (False, lambda root: touch(root / "content/build.yml")),
    "a new file": (False, lambda root: put(root / "content/entries/b/index.md")),
    "a file went": (False, lambda root: (root / "content/build.yml").unlink()),
    "a file has another name": (False, lambda root: (root / "content/build.yml").rename(root / "content/b.yml")),
    "the settings": (False, lambda root: put(root / "mkdocs.yml", "other text")),
    "what was sent": (False, lambda root: put(root / PUBLISHED)),
    "a template": (False, lambda root: put(root / "templates/a.html", "other text")),
    "a template of the same length and time": (False, lambda root: alike(root / "templates/a.html")),
    "a page": (False, lambda root: put(root / "site/index.html", "other text")),
    "a page written anew": (False, lambda root: touch(root / "site/index.html")),
    "a page more": (False, lambda root: put(root / "site/b.html")),
    "a page went": (False, lambda root: (root / "site/index.html").unlink()),
    "the note is damaged": (False, lambda root: put(root / NOTE, '{"asked": ""}')),
    "the note is none": (False, lambda root: put(root / NOTE, "[]")),
    "a site is being made": (False, forget),
}


@pytest.mark.parametrize("change", CHANGES)
def test_only_what_is_as_it_was_is_told_again(root: Path, change: str) -> None:
    """Every file that the site comes of, and the site itself, by size and times; what was just written by content."""
    same, do = CHANGES[change]
    do(root)
    assert recall(root, None, digest_inputs(root)) == ({"said": "made"} if same else None)
    assert recall(root, root / "site", digest_inputs(root)) is None  # it was not asked for there


@pytest.mark.parametrize(
    ("name", "value"), [("today", lambda: date(2026, 2, 8)), ("_program", lambda: "newer program"), ("epoch", "1")]
)
def test_another_day_or_program_makes_it_anew(
    root: Path, monkeypatch: pytest.MonkeyPatch, name: str, value: Any
) -> None:
    """Also the day that a build is told to be of (SOURCE_DATE_EPOCH)."""
    if name == "epoch":
        monkeypatch.setenv("SOURCE_DATE_EPOCH", value)
    else:
        monkeypatch.setattr(unchanged, name, value)
    assert recall(root, None, digest_inputs(root)) is None


@pytest.mark.parametrize(("seconds", "fresh"), [(0, True), (2.9, True), (3.1, False), (60, False)])
def test_what_was_just_written_is_told_by_its_content(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seconds: float, fresh: bool
) -> None:
    """Within three seconds of the look; a place that is no folder is a file, one that is not there is none."""
    file = put(tmp_path / "in/a.txt")
    told = file.stat()
    now = max(told.st_mtime_ns, told.st_ctime_ns) + int(seconds * 10**9)
    monkeypatch.setattr(unchanged.time, "time_ns", lambda: now)
    for place in (file, file.parent):
        assert list(digest_files([place, tmp_path / "no"]).fresh) == [str(file)] * fresh


def test_a_link_that_leads_back_is_followed_once(tmp_path: Path) -> None:
    """The files behind a link count as well; the round ends."""
    put(tmp_path / "in/a.txt")
    put(tmp_path / "out/b.txt")
    before = digest_files([tmp_path / "in"]).digest
    (tmp_path / "in/back").symlink_to(tmp_path / "in")
    (tmp_path / "in/out").symlink_to(tmp_path / "out")
    linked = digest_files([tmp_path / "in"]).digest
    assert linked != before
    put(tmp_path / "out/b.txt", "other")
    assert digest_files([tmp_path / "in"]).digest != linked


# -- pages and parts -------------------------------------------------------------------------------


def test_pages_are_known_by_what_they_were_when_they_were_written(tmp_path: Path) -> None:
    """Of this folder alone; what was changed, what nobody names and what is empty then goes."""
    site, note = tmp_path / "site", tmp_path / "pages.json"
    for name in (
        "index.html",
        "a/index.html",
        "b/index.html",
        "c/index.html",
        "left.html",
        "photos/1.jpg",
        "in/photos/2.jpg",
    ):
        put(site / name)
    write_pages(note, site, {"index.html": "1", "a/index.html": "2", "b/index.html": "3", "c/index.html": "4"})
    pages = read_pages(note, site)
    assert pages
    told = (site / "a/index.html").stat()
    assert pages["a/index.html"] == KeptPage("2", told.st_size, told.st_mtime_ns)
    alike(site / "index.html")  # nobody does so
    put(site / "b/index.html", "longer text")
    touch(site / "c/index.html")
    assert set(strip_to(site, pages, ["photos"])) == {"index.html", "a/index.html"}
    left = {path.relative_to(site).as_posix() for path in site.rglob("*") if path.is_file()}
    assert left == {"index.html", "a/index.html", "photos/1.jpg"}
    site.rename(tmp_path / "old")
    put(site / "index.html")
    assert read_pages(note, site) is None
    for broken in ("", "[]", "{}", '{"folder": 1}', note.read_text("utf-8").replace('"pages"', '"page"')):
        assert read_pages(put(note, broken), tmp_path / "old") is None
    assert read_pages(tmp_path / "none.json", site) is None


def test_files_are_linked_into_their_folders_and_no_other_stays(tmp_path: Path) -> None:
    """What is there stays as it is, its name stands for its contents; a folder that nobody wants is not made."""
    lying, site = put(tmp_path / "store/1"), tmp_path / "site"
    put(site / "photos/old.jpg")
    put(site / "photos/there.jpg", "as it is")
    put(site / "index.html")
    linked = {"photos/new.jpg": lying, "photos/there.jpg": lying, "films/a.mp4": lying}
    place_linked(linked, site, ["photos/", "films/", "cards/"])
    found = {path.relative_to(site).as_posix(): path.read_text("utf-8") for path in site.rglob("*") if path.is_file()}
    assert found == {
        "photos/new.jpg": "text",
        "photos/there.jpg": "as it is",
        "films/a.mp4": "text",
        "index.html": "text",
    }
    assert not (site / "cards").exists()
    place_linked({}, site, ["photos/", "films/", "cards/"])
    assert [path.name for path in site.rglob("*") if path.is_file()] == ["index.html"]


@dataclass(frozen=True)
class One:
    """A record of one field."""

    one: object


@dataclass(frozen=True)
class Two:
    """A record of two."""

    one: object
    two: object = None


def test_records_are_packed_alike_where_all_in_them_is() -> None:
    """And otherwise where anything is, however deep."""
    things = [One(1), One(2), Two(1), Two(1, 2), Two(One(1)), Two(One(2)), (1, 2), [1, 2], "1", 1, None]
    assert len({packed(one) for one in things}) == len(things)
    assert packed(Two(One("a"), ("b",))) == packed(Two(One("a"), ("b",)))
    same, other = ["as", "it", "was"], ["as", "it", "was"]
    assert packed((same, same[0])) == packed((same, other[0]))  # one text twice, or two that say the same


def test_a_page_has_another_fingerprint_wherever_something_around_it_changes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Settings, templates, what stands around every page, each package, the code; what cannot be told has none."""
    settings, template = put(tmp_path / "mkdocs.yml"), put(tmp_path / "own/in/a.html")
    versions = dict.fromkeys(("mkdocs", "jinja2", "markdown", "markupsafe"), "1")
    monkeypatch.setattr(incremental.importlib.metadata, "version", versions.__getitem__)
    monkeypatch.setattr(incremental, "code_digest", lambda: b"code")

    def made(around: object = "menu") -> str:
        return Fingerprints(settings=settings, templates=[template.parents[1]], around=around).of(Two("page"))

    first = made()
    assert first
    assert made() == first
    found = {first, made("another menu")}
    for name in versions:
        versions[name] = "2"
        found.add(made())
    put(settings, "other")
    found.add(made())
    put(template, "other")
    found.add(made())
    template.rename(template.with_name("b.html"))
    found.add(made())
    monkeypatch.setattr(incremental, "code_digest", lambda: b"newer")
    found.add(made())
    assert len(found) == 10
    prints = Fingerprints(settings=settings, templates=[], around=None)
    assert prints.of(Two("page")) != prints.of(Two("other"))
    assert prints.of(lambda: None) == ""


def test_rows_are_made_once_and_go_when_nobody_asks(tmp_path: Path) -> None:
    """A row that was not asked for at one build is gone at the next; nothing is written where nothing changed."""
    file = tmp_path / "kept.json"

    def build(rows: Mapping[str, int]) -> list[str]:
        kept, made = Kept(file), []
        for key, row in rows.items():
            assert kept.find_or_make(key, lambda key=key, row=row: made.append(key) or [row]) == [row]
        kept.write()
        return made

    assert build({"a": 1, "b": 2}) == ["a", "b"]
    before = file.stat().st_ino
    assert build({"b": 2, "a": 1}) == []
    assert file.stat().st_ino == before
    assert build({"b": 2}) == []
    assert build({"a": 1, "b": 2, "c": 3}) == ["a", "c"]
    whole = file.read_bytes()
    for broken in (
        b"",
        whole[:-1],
        whole[:70].replace(b"[", b"{"),
        b"x\n" + whole.partition(b"\n")[2],
        b"\xff" + whole,
    ):
        file.write_bytes(broken)
        assert build({"a": 1}) == ["a"]
        assert file.read_bytes().partition(b"\n")[2] == b"a [1]"
