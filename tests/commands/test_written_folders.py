"""Changes of a build as they are noted: all of one is done or nothing, and what came is taken back as it came."""

from __future__ import annotations

from pathlib import Path

import pytest

from journal.base.digests import sha256_of
from journal.commands.written import Act, NotTakenBackError, Written, WrittenList

NAME, CAME = "content/entries/2026-02-07-ribs", b"---\n---\n"


@pytest.fixture
def written(tmp_path: Path) -> WrittenList:
    """The list of a build that holds one text."""
    (tmp_path / "content/entries").mkdir(parents=True)
    (tmp_path / "content/a.txt").write_text("one")
    return WrittenList(tmp_path)


def bring(written: WrittenList) -> Written:
    """A folder with one file comes into the content, as `journal enter` writes an entry."""
    staged = written.root / ".journal/.entry-1/1"
    staged.mkdir(parents=True)
    (staged / "index.md").write_bytes(CAME)
    acts = [Act(file=NAME, source=".journal/.entry-1/1")]
    return written.carry_out(acts, by="enter", said="Ribs", came={f"{NAME}/index.md": sha256_of(CAME)})


def test_where_one_act_cannot_be_done_all_go_back(written: WrittenList) -> None:
    """A text is as it was, a new one is gone, and what stood in the way is named."""
    (written.root / "content/b").mkdir()
    (written.root / "content/c").mkdir()
    acts = [
        Act(file="content/a.txt", before="one", after="two"),
        Act(file="content/new.txt", after="new"),
        Act(file="content/c", source="content/b"),
    ]
    with pytest.raises(FileExistsError) as trouble:
        written.carry_out(acts, by="move", said="much")
    assert trouble.value.filename == "content/c"
    assert (written.root / "content/a.txt").read_text() == "one"
    assert sorted(one.name for one in (written.root / "content").iterdir()) == ["a.txt", "b", "c", "entries"]
    assert written.newest() == []


def test_a_change_that_was_never_noted_whole_is_none(written: WrittenList) -> None:
    """The machine stopped while it was written down: nothing was done, and nothing is."""
    bring(written)
    noted = next(written.folder.glob("*.json"))
    half = noted.with_suffix(".pending.json")
    half.write_text("{")
    with written.lock():
        assert not half.exists()


def test_what_came_is_taken_back(written: WrittenList) -> None:
    """It is kept out of sight, and the list says so."""
    change = bring(written)
    said = written.take_back(change.key)
    assert said.startswith("Taken back: Ribs (kept in ")
    assert not (written.root / NAME).exists()


@pytest.mark.parametrize(
    ("file", "data", "said"),
    [
        ("index.md", b"more", "index.md was changed since; take out by hand"),
        ("IMG_1.jpg", b"x", "IMG_1.jpg has come to it since; move it away first"),
        ("index.md", None, "index.md is not there any more; mend it by hand"),
    ],
)
def test_what_is_not_as_it_came_stays(written: WrittenList, file: str, data: bytes | None, said: str) -> None:
    """A text that was written on, a picture beside it, a file that is gone: nothing is touched, and it is said."""
    change, place = bring(written), written.root / NAME / file
    if data is None:
        place.unlink()
    else:
        place.write_bytes(data)
    with pytest.raises(NotTakenBackError, match=said):
        written.take_back(change.key)
    assert (written.root / NAME).is_dir()
    assert not written.newest()[0].taken_back


def test_the_list_ends_somewhere(written: WrittenList, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of the oldest changes the note goes."""
    monkeypatch.setattr("journal.commands.written.KEPT", 3)
    for number in range(5):
        written.change("content/a.txt", lambda text, number=number: f"{text}{number}", by="x", said=f"{number}")
    assert [one.said for one in written.newest(9)] == ["4", "3", "2"]
