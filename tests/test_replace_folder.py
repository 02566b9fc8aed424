"""Folders built beside and swapped in; what may be taken over from an earlier build."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from journal.base import replace_folder
from journal.base.safe_write import drop_file
from journal.making import incremental
from journal.view.page_parts import Group, Link, Mark, PageRecord

SITE_HEAD = '<meta name="generator" content="build-journal">'


def a_site(folder: Path, words: str) -> None:
    """A folder that looks like a site."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "index.html").write_text(SITE_HEAD + words)


def test_the_new_folder_stands_in_the_old_one_s_place(tmp_path: Path) -> None:
    """Until `finish` nothing of the old one is touched."""
    place = tmp_path / "site"
    a_site(place, "old")
    staging = replace_folder.prepare(place)
    a_site(staging.building, "new")
    assert (place / "index.html").read_text().endswith("old")
    replace_folder.finish(staging)
    assert (place / "index.html").read_text().endswith("new")
    assert [one.name for one in tmp_path.iterdir()] == ["site"]


def test_without_exchange_two_renames_do(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Systems that cannot exchange two folders in one step still end with the new one."""
    monkeypatch.setattr(replace_folder, "_exchange", lambda one, other: False)
    place = tmp_path / "site"
    a_site(place, "old")
    staging = replace_folder.prepare(place)
    a_site(staging.building, "new")
    replace_folder.finish(staging)
    assert (place / "index.html").read_text().endswith("new")
    assert [one.name for one in tmp_path.iterdir()] == ["site"]


def test_a_swap_stopped_between_two_renames_is_undone(tmp_path: Path) -> None:
    """The previous site comes back at the next start."""
    a_site(tmp_path / "site.previous", "old")
    replace_folder.abandon(replace_folder.prepare(tmp_path / "site"))
    assert (tmp_path / "site" / "index.html").read_text().endswith("old")


def test_an_abandoned_build_leaves_nothing(tmp_path: Path) -> None:
    """The old site stands, the half-made one is gone."""
    place = tmp_path / "site"
    a_site(place, "old")
    staging = replace_folder.prepare(place)
    a_site(staging.building, "half")
    replace_folder.abandon(staging)
    assert [one.name for one in tmp_path.iterdir()] == ["site"]
    assert (place / "index.html").read_text().endswith("old")


def test_leavings_of_killed_builds_are_cleared(tmp_path: Path) -> None:
    """A folder of a process that is no more is removed, one of a living process is not."""
    a_site(tmp_path / "site.building-999999999", "dead")
    a_site(tmp_path / f"site.building-{os.getppid()}", "alive")
    replace_folder.abandon(replace_folder.prepare(tmp_path / "site"))
    assert [one.name for one in tmp_path.iterdir()] == [f"site.building-{os.getppid()}"]


def test_a_folder_of_other_things_is_never_replaced(tmp_path: Path) -> None:
    """A slip in `--out` must not cost anybody their documents."""
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "index.html").write_text("<title>my letters</title>")
    with pytest.raises(replace_folder.NotOursError, match="holds other things"):
        replace_folder.prepare(tmp_path / "letters")
    (tmp_path / "file").write_text("x")
    with pytest.raises(replace_folder.NotOursError, match="is a file"):
        replace_folder.prepare(tmp_path / "file")


def test_dot_files_move_over(tmp_path: Path) -> None:
    """A repository in the site's folder survives the build."""
    place = tmp_path / "site"
    a_site(place, "old")
    (place / ".git").mkdir()
    (place / ".nojekyll").write_text("")
    staging = replace_folder.prepare(place)
    a_site(staging.building, "new")
    replace_folder.finish(staging)
    assert (place / ".git").is_dir()
    assert (place / ".nojekyll").is_file()


def test_the_replaced_folder_becomes_the_spare_and_is_used(tmp_path: Path) -> None:
    """Two folders take turns; of two builds at once only one gets the spare."""
    place, spare = tmp_path / "site", tmp_path / "cache" / "spare"
    for words in ("one", "two"):
        staging = replace_folder.prepare(place, spare)
        a_site(staging.building, words)
        replace_folder.finish(staging, spare)
    assert (spare / "index.html").read_text().endswith("one")
    first = replace_folder.prepare(place, spare)
    assert (first.building / "index.html").read_text().endswith("one")
    assert not spare.exists()


def test_what_is_known_of_a_folder_is_not_believed_of_another(tmp_path: Path) -> None:
    """Notes speak of one folder by its inode: a copy of it, or a new one of that name, is unknown."""
    a_site(tmp_path / "a", "x")
    a_site(tmp_path / "b", "x")
    notes = tmp_path / "notes.json"
    incremental.write_pages(notes, tmp_path / "a", {"index.html": "f"})
    known = incremental.read_pages(notes, tmp_path / "a")
    assert known is not None
    assert known["index.html"].fingerprint == "f"
    assert incremental.read_pages(notes, tmp_path / "b") is None
    notes.write_text("{broken")
    assert incremental.read_pages(notes, tmp_path / "a") is None


def test_only_what_is_vouched_for_stays(tmp_path: Path) -> None:
    """A page that was changed, a page nobody knows and every other file go; named folders stay whole."""
    folder = tmp_path / "site"
    for name in ("index.html", "a/index.html", "b/index.html", "feed.xml", "pictures/p.jpg"):
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(name)
    incremental.write_pages(tmp_path / "n", folder, {"index.html": "1", "a/index.html": "2"})
    known = incremental.read_pages(tmp_path / "n", folder)
    assert known is not None
    (folder / "a" / "index.html").write_text("changed by hand")
    kept = incremental.strip_to(folder, known, ["pictures"])
    assert list(kept) == ["index.html"]
    left = sorted(str(one.relative_to(folder)) for one in folder.rglob("*") if one.is_file())
    assert left == ["index.html", "pictures/p.jpg"]


def test_dropped_pages_take_their_empty_folders_along(tmp_path: Path) -> None:
    """An address that is no more answers nothing, not even an empty folder."""
    for name in ("entries/a/index.html", "entries/b/index.html"):
        (tmp_path / name).parent.mkdir(parents=True)
        (tmp_path / name).write_text("x")
    drop_file(tmp_path, "entries/a/index.html")
    assert not (tmp_path / "entries" / "a").exists()
    assert (tmp_path / "entries" / "b" / "index.html").exists()


def test_a_fingerprint_changes_with_everything_that_shapes_a_page(tmp_path: Path) -> None:
    """Settings, templates, what stands around, the record itself."""
    settings, templates = tmp_path / "mkdocs.yml", tmp_path / "theme"
    templates.mkdir()
    settings.write_text("a")
    (templates / "main.html").write_text("t")

    def mark(around: object = "frame", page: object = "page") -> str:
        return incremental.Fingerprints(settings=settings, templates=[templates], around=around).of(page)

    first = mark()
    assert mark() == first
    assert mark(around="other") != first
    assert mark(page="other") != first
    settings.write_text("b")
    second = mark()
    assert second != first
    (templates / "main.html").write_text("u")
    assert mark() != second
    assert mark(page=lambda: None) == ""


def test_a_fingerprint_tells_records_by_their_fields() -> None:
    """Records made apart are the same where every field is, however deep, and of the same kind."""

    def page(mark: Mark, link: Link | None = None) -> PageRecord:
        made = Group(title="a", items=(mark, link or Link(text="b")), mark=mark)
        return PageRecord(address="a/", template="t", title="a", description="", record=made)

    told = incremental.packed(page(Mark(kind="done", word="done")))
    assert incremental.packed(page(Mark(kind="done", word="done"))) == told
    assert incremental.packed(page(Mark(kind="done", word="open"))) != told
    assert incremental.packed(page(Mark(kind="done", word="done"), Link(text="b", note="c"))) != told
    assert incremental.packed(Mark(kind="a", word="b")) != incremental.packed(("a", "b"))
