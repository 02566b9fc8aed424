"""Reading again with what is remembered: always the same as reading afresh."""

from __future__ import annotations

import os
import pickle
from collections.abc import Mapping, Sequence
from contextlib import suppress
from functools import cache, partial
from hashlib import sha256
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from making import STEPS_CSV, MakeBuild, entry

from journal.base.model import PhotoFacts
from journal.base.safe_write import write_whole
from journal.media.photos import Examined
from journal.media.photos.cache import CacheFolder
from journal.reading import entries, remembered
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


def test_what_is_remembered_never_differs_from_what_is_there(make_build: MakeBuild, tmp_path: Path) -> None:
    """Through every kind of change, one after another, all ways of reading agree, problems included: afresh, with what
    this run remembers, and with what the last one kept.
    """
    root = make_build({"entries/a/index.md": entry(""), "entries/b/index.md": entry("hours: [1:00, 18:00-19:30]")})
    of_this_run, of_the_last = cache(Remembered), partial(Remembered, tmp_path / "kept")
    for number in range(14):
        change(root, number)
        fresh = read_build(root, lambda uris: examine(root, uris))
        for remember in (of_this_run, of_this_run, of_the_last, of_the_last):
            assert read_build(root, lambda uris: examine(root, uris), remember()) == fresh


def test_only_what_changed_is_read_again(
    make_build: MakeBuild, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """After a save of one entry, one entry is read, in this run and in the next; with a newer program all are."""
    root = make_build({f"entries/{name}/index.md": entry(f"title: {name}") for name in "abcd"})
    read: list[str] = []
    real = entries.read_entry

    def counting(*arguments: object) -> object:
        read.append(arguments[1].id)  # type: ignore[attr-defined]
        return real(*arguments)  # type: ignore[arg-type]

    monkeypatch.setattr("journal.reading.build.read_entry", counting)
    for remember in (partial(Remembered, tmp_path / "kept"), cache(Remembered)):
        (root / "content/entries/c/index.md").write_text(entry("title: as it was"))
        read_build(root, lambda uris: {}, remember())
        (root / "content/entries/c/index.md").write_text(entry("title: changed"))
        read.clear()
        read_build(root, lambda uris: {}, remember())
        assert read == ["c"]
    monkeypatch.setattr(remembered, "code_digest", lambda: b"newer")
    read.clear()
    read_build(root, lambda uris: {}, Remembered(tmp_path / "kept"))
    assert read == [*"abcd"]


class Foreign:
    """Asks whoever loads it to call something."""

    def __init__(self, call: object, *arguments: object) -> None:
        self.asks = call, arguments

    def __reduce__(self) -> tuple[object, tuple[object, ...]]:
        return self.asks


@pytest.mark.parametrize("call", [os.mkdir, Path.mkdir, Path, CacheFolder.write, Remembered, write_whole, print, eval])
def test_a_foreign_file_calls_nothing(tmp_path: Path, call: object) -> None:
    """Only records, days and fractions are made of it, whole or in the place of an entry; it counts as none."""
    asked = Foreign(call, str(tmp_path / "made"))
    for told in (asked, (b"lists", {"content/entries/a/index.md": asked}), (b"lists",), [1], "x"):
        with suppress(AttributeError, pickle.PicklingError):
            rest = pickle.dumps(told)
            (tmp_path / "kept").write_bytes(sha256(rest).hexdigest().encode() + b"\n" + rest)
            Remembered(tmp_path / "kept")
            assert remembered._loaded(pickle.dumps(asked)) is None
    assert [path.name for path in tmp_path.iterdir()] == ["kept"]


@given(st.data())
@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_damaged_file_counts_as_none(make_build: MakeBuild, data: st.DataObject) -> None:
    """Whatever became of it, what is read is what is there, and the next run finds it whole again."""
    root = make_build({f"entries/{name}/index.md": entry(f"title: {name}") for name in "ab"})
    kept = root / "kept"
    fresh = read_build(root, lambda uris: {}, Remembered(kept))
    whole = kept.read_bytes()
    at = data.draw(st.integers(0, len(whole)))
    kept.write_bytes(data.draw(st.sampled_from([whole[:at], whole[:at] + b"x" + whole[at + 1 :], whole[at:], b""])))
    assert read_build(root, lambda uris: {}, Remembered(kept)) == fresh
    assert kept.read_bytes() == whole
