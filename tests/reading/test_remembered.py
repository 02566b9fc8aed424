"""Reading again with what is remembered: always the same as reading afresh."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import pytest
from making import STEPS_CSV, MakeBuild, entry

from journal.base.model import PhotoFacts
from journal.media.photos import Examined
from journal.reading import entries
from journal.reading.build import read_build
from journal.reading.remembered import Remembered


def examine(root: Path, src_uris: Sequence[str]) -> Mapping[str, Examined]:
    """Photos by their bytes: enough to see that they changed."""
    return {uri: Examined(sha256=(root / uri).read_bytes().hex(), facts=PhotoFacts(kind="JPEG")) for uri in src_uris}


def change(root: Path, number: int) -> None:
    """The `number`th thing that somebody does to the content while a preview runs."""
    content = root / "content"
    steps: list[tuple[str, str | None]] = [
        ("entries/a/index.md", entry("title: New words\nsteps: [5.1]")),
        ("entries/b/index.md", entry("date: soon")),
        ("entries/b/index.md", entry("date: 2026-02-09\nassembly: left-wing")),
        ("entries/c/index.md", entry("date: 2026-02-10", "![gone](IMG_9.jpg)")),
        ("entries/c/IMG_9.jpg", "a picture"),
        ("entries/c/IMG_9.jpg", "another"),
        ("entries/c/film.mov", "film"),
        ("entries/c/film.mov", "longer film"),
        ("steps.csv", STEPS_CSV.replace("5.1,", "5.01,")),
        ("steps.csv", STEPS_CSV),
        ("entries/a/index.md", None),
        ("materials.csv", "id,name,batch,expires,record\nx,Primer,1,2027-01-01,\n"),
        ("entries/b/index.md", entry("materials: [x]")),
        ("materials.csv", "id,name,batch,expires,record\ny,Primer,1,2027-01-01,\n"),
    ]
    name, text = steps[number]
    path = content / name
    if text is None:
        path.unlink()
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)


def test_what_is_remembered_never_differs_from_what_is_there(make_build: MakeBuild) -> None:
    """Through every kind of change, one after another, both ways of reading agree, problems included."""
    root = make_build({"entries/a/index.md": entry(""), "entries/b/index.md": entry("hours: [1:00, 18:00-19:30]")})
    remembered = Remembered()
    for number in range(14):
        change(root, number)
        fresh = read_build(root, lambda uris: examine(root, uris))
        assert read_build(root, lambda uris: examine(root, uris), remembered) == fresh
        assert read_build(root, lambda uris: examine(root, uris), remembered) == fresh


def test_only_what_changed_is_read_again(make_build: MakeBuild, monkeypatch: pytest.MonkeyPatch) -> None:
    """After a save of one entry, one entry is read."""
    root = make_build({f"entries/{name}/index.md": entry(f"title: {name}") for name in "abcd"})
    read: list[str] = []
    real = entries.read_entry

    def counting(*arguments: object) -> object:
        read.append(arguments[1].id)  # type: ignore[attr-defined]
        return real(*arguments)  # type: ignore[arg-type]

    monkeypatch.setattr("journal.reading.build.read_entry", counting)
    remembered = Remembered()
    read_build(root, lambda uris: {}, remembered)
    (root / "content/entries/c/index.md").write_text(entry("title: changed"))
    read.clear()
    read_build(root, lambda uris: {}, remembered)
    assert read == ["c"]
