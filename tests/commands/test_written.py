"""What commands wrote is done whole or not at all, and taken back as long as it stands there as it was written."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from journal.commands.written import KEPT, Act, NotTakenBackError, WrittenList, finish_stopped
from journal.reading.edits import EditRefusedError
from journal.record.chain import Kind

HERE = "content/entries/flaps/index.md"
LINES = "one\ntwo\nthree\nfour\n"


@pytest.fixture
def written(tmp_path: Path) -> WrittenList:
    """A build folder with one text and one picture."""
    put(tmp_path, HERE, LINES)
    put(tmp_path, "content/entries/flaps/a.jpg", "picture")
    return WrittenList(tmp_path)


def put(root: Path, file: str, text: str) -> None:
    """Write a file."""
    (root / file).parent.mkdir(parents=True, exist_ok=True)
    (root / file).write_bytes(text.encode())


def there(root: Path) -> dict[str, str]:
    """Every file of the content."""
    files = (path for path in (root / "content").rglob("*") if path.is_file())
    return {path.relative_to(root / "content/entries").as_posix(): path.read_text("utf-8") for path in files}


def line(old: str, new: str) -> Callable[[str], str]:
    """An edit of one line."""
    return lambda text: text.replace(f"{old}\n", new)


def carried(written: WrittenList, *acts: Act, **more: Any) -> str:
    """The key of a change that was carried out."""
    return written.carry_out(acts, by="move", said="x", **more).key


WAYS: dict[str, tuple[list[Act], dict[str, str]]] = {
    "a new text": ([Act(file="content/entries/b.md", after="B")], {"b.md": "B"}),
    "an empty one": ([Act(file="content/entries/b.md")], {"b.md": ""}),
    "another text": ([Act(file=HERE, before=LINES, after="new\n")], {"flaps/index.md": "new\n"}),
    "a picture in its folder": (
        [Act(file="content/entries/flaps/b.jpg", source="content/entries/flaps/a.jpg")],
        {"flaps/a.jpg": "", "flaps/b.jpg": "picture"},
    ),
    "all of a folder, which goes with the last of it": (
        [
            Act(file="content/entries/wing/a.jpg", source="content/entries/flaps/a.jpg"),
            Act(file="content/entries/wing/index.md", source=HERE, before=LINES),
        ],
        {"flaps/a.jpg": "", "flaps/index.md": "", "wing/a.jpg": "picture", "wing/index.md": LINES},
    ),
    "a folder": (
        [Act(file="content/entries/wing", source="content/entries/flaps")],
        {"flaps/a.jpg": "", "flaps/index.md": "", "wing/a.jpg": "picture", "wing/index.md": LINES},
    ),
    "moved and written": (
        [
            Act(file="content/entries/wing", source="content/entries/flaps"),
            Act(file="content/entries/wing/index.md", before=LINES, after="W\n"),
        ],
        {"flaps/a.jpg": "", "flaps/index.md": "", "wing/a.jpg": "picture", "wing/index.md": "W\n"},
    ),
}


@pytest.mark.parametrize("way", WAYS)
def test_what_is_done_is_there_and_taken_back_it_is_as_before(written: WrittenList, way: str) -> None:
    """Texts, pictures, folders; a second time there is nothing to take back."""
    before = there(written.root)
    acts, changed = WAYS[way]
    key = carried(written, *acts)
    now = {**before, **changed}
    assert there(written.root) == {file: text for file, text in now.items() if text or file not in before}
    assert (written.root / "content/entries/flaps").exists() is ("flaps/index.md" in there(written.root))
    said = written.take_back(key)
    assert there(written.root) == before
    kept = written.root / ".journal/taken-back"
    assert said == "Taken back: x" + (" (kept in .journal/taken-back)" if kept.exists() else "")
    assert kept.exists() is ("b.md" in changed)
    assert [(one.key, one.taken_back) for one in written.newest()] == [(key, True)]
    with pytest.raises(NotTakenBackError, match="taken back already"):
        written.take_back(key)


@pytest.mark.parametrize(
    ("odd", "name"),
    [
        (Act(file=HERE, before="other", after="new"), HERE),
        (Act(file=HERE, after="new"), HERE),
        (Act(file="content/entries/b.jpg", source="content/entries/c.jpg"), "content/entries/b.jpg"),
        (Act(file="content/entries/flaps/a.jpg", source=HERE), "content/entries/flaps/a.jpg"),
        (Act(file="content/entries/w.md", source=HERE, before="other"), HERE),
        (Act(file="content/entries/flaps", source="content/entries/old"), "content/entries/flaps"),
    ],
)
def test_what_stands_in_the_way_is_named_and_nothing_is_done(written: WrittenList, odd: Act, name: str) -> None:
    """All that came before it goes back too, and no record is left."""
    put(written.root, "content/entries/old/index.md", "old\n")
    before = there(written.root)
    acts = [
        Act(file="content/entries/b.md", after="B"),
        Act(file="content/entries/old/index.md", before="old\n", after="new\n"),
        Act(file="content/entries/z.md", source="content/entries/old/index.md"),
        odd,
    ]
    if odd.source == "content/entries/old":
        del acts[1:3]
    with pytest.raises(FileExistsError, match="something was changed meanwhile") as caught:
        carried(written, *acts)
    assert caught.value.filename == name
    assert there(written.root) == before
    assert written.newest() == []


def test_a_key_is_written_once(written: WrittenList) -> None:
    """What a phone sends again is known; an edit that is refused leaves no trace."""
    first = written.change(HERE, line("two", "2\n"), by="phone", said="x", key="k1")
    assert written.change(HERE, line("three", "3\n"), by="phone", said="y", key="k1") == first
    assert there(written.root)["flaps/index.md"] == "one\n2\nthree\nfour\n"
    assert (written.find("k1"), written.find("k2"), first.after) == (first, None, "one\n2\nthree\nfour\n")

    def refuse(text: str) -> str:
        raise EditRefusedError("not so")

    with pytest.raises(EditRefusedError):
        written.change(HERE, refuse, by="phone", said="z", key="k2")
    assert [one.key for one in written.newest()] == ["k1"]


@pytest.mark.parametrize(("saves", "done"), [(1, True), (4, True), (5, False)])
def test_an_editor_that_saves_meanwhile_loses_nothing(written: WrittenList, saves: int, done: bool) -> None:
    """The text is edited anew, five times at most; with the picture that comes along."""
    put(written.root, ".journal/incoming/b.jpg", "new")
    tries = []

    def edit(text: str) -> str:
        tries.append(text)
        if len(tries) <= saves:
            put(written.root, HERE, f"{text}saved\n")
        return f"{text}ours\n"

    move = (".journal/incoming/b.jpg", "content/entries/flaps/b.jpg")
    if done:
        written.change(HERE, edit, by="phone", said="x", moves=[move])
    else:
        with pytest.raises(OSError, match="another program changes the file all the time"):
            written.change(HERE, edit, by="phone", said="x", moves=[move])
    assert there(written.root)["flaps/index.md"] == LINES + "saved\n" * saves + "ours\n" * done
    assert (written.root / move[done]).exists()
    assert not (written.root / move[not done]).exists()


def test_what_was_changed_elsewhere_since_stays_when_it_is_taken_back(written: WrittenList) -> None:
    """Only the lines that were written go; what a hand wrote beside them is not touched."""
    key = written.change(HERE, line("two", "2\n2b\n"), by="enter", said="x").key
    put(written.root, HERE, "zero\n" + there(written.root)["flaps/index.md"] + "five\n")
    assert written.take_back(key) == "Taken back: x"
    assert there(written.root)["flaps/index.md"] == f"zero\n{LINES}five\n"


NEW = "content/entries/wing"
SINCE: dict[str, tuple[list[Act], Callable[[Path], object], str, str]] = {
    "changed in the same place": (
        [Act(file=HERE, before=LINES, after="one\n2\nthree\nfour\n")],
        lambda root: put(root, HERE, "one\n2 or 3\nthree\nfour\n"),
        f"{HERE} was changed since; mend it by hand.",
        "2",
    ),
    "a line that went, and another since": (
        [Act(file=HERE, before=LINES, after="one\nthree\nfour\n")],
        lambda root: put(root, HERE, "one\nthree\nfour\nfive\n"),
        f"{HERE} was changed since; mend it by hand.",
        "two",
    ),
    "there twice": (
        [Act(file=HERE, before=LINES, after=f"{LINES}new\n")],
        lambda root: put(root, HERE, f"new\n{LINES}new\n"),
        f"{HERE} was changed since; mend it by hand.",
        "new",
    ),
    "a new text is another": (
        [Act(file="content/entries/b.md", after="B\n")],
        lambda root: put(root, "content/entries/b.md", "B\nmore\n"),
        "content/entries/b.md was changed since; take out by hand what should not stand there.",
        "",
    ),
    "a text went": (
        [Act(file=HERE, before=LINES, after="new\n")],
        lambda root: (root / HERE).unlink(),
        f"{HERE} is not there any more; mend it by hand where it is now.",
        "",
    ),
    "a text is no text": (
        [Act(file=HERE, before=LINES, after="new\n")],
        lambda root: (root / HERE).write_bytes(b"\xff"),
        f"{HERE} is not written as UTF-8; save it so.",
        "",
    ),
    "what was moved went": (
        [Act(file=f"{NEW}/a.jpg", source="content/entries/flaps/a.jpg")],
        lambda root: (root / NEW / "a.jpg").unlink(),
        f"{NEW}/a.jpg is not there any more; mend it by hand where it is now.",
        "",
    ),
    "the old name is taken": (
        [Act(file=f"{NEW}/a.jpg", source="content/entries/flaps/a.jpg")],
        lambda root: put(root, "content/entries/flaps/a.jpg", "other"),
        "something else is called content/entries/flaps/a.jpg by now; move that away first.",
        "",
    ),
    "what came was changed": (
        [Act(file=NEW, source=".journal/incoming/1")],
        lambda root: put(root, f"{NEW}/index.md", "more"),
        f"{NEW}/index.md was changed since; take out by hand what should not stand there.",
        "",
    ),
    "something lies beside it": (
        [Act(file=NEW, source=".journal/incoming/1")],
        lambda root: put(root, f"{NEW}/in/z.jpg", "more"),
        f"{NEW}/in/z.jpg has come to it since; move it away first, or keep all of it.",
        "",
    ),
    "a part of it went": (
        [Act(file=NEW, source=".journal/incoming/1")],
        lambda root: (root / NEW / "index.md").unlink(),
        f"{NEW}/index.md is not there any more; mend it by hand where it is now.",
        "",
    ),
    "a picture that came is another": (
        [Act(file=f"{NEW}.jpg", source=".journal/incoming/1/index.md")],
        lambda root: put(root, f"{NEW}.jpg", "other"),
        f"{NEW}.jpg was changed since; take out by hand what should not stand there.",
        "",
    ),
}


@pytest.mark.parametrize("since", SINCE)
def test_what_is_otherwise_since_is_told_and_nothing_is_taken_back(written: WrittenList, since: str) -> None:
    """Which file, in what way, and the words that were written where they cannot be told from the text."""
    put(written.root, ".journal/incoming/1/index.md", "came")
    acts, by_hand, said, words = SINCE[since]
    came = {f"{NEW}{end}": hashlib.sha256(b"came").hexdigest() for end in ("/index.md", ".jpg")}
    come = {file: digest for file, digest in came.items() if f"{file}/".startswith(f"{acts[0].file}/")}
    key = carried(written, Act(file="content/entries/other.md", after="other"), *acts, came=come)
    by_hand(written.root)
    before = there(written.root) if since != "a text is no text" else None
    with pytest.raises(NotTakenBackError) as caught:
        written.take_back(key)
    assert (str(caught.value), caught.value.words) == (said, words)
    assert before is None or there(written.root) == before


def test_what_came_and_went_again_needs_no_taking_back(written: WrittenList) -> None:
    """A text that was new and a folder without a list of what came: gone by hand, the rest is taken back."""
    put(written.root, ".journal/incoming/1/index.md", "came")
    put(written.root, ".journal/incoming/2/index.md", "came")
    acts = [Act(file="content/entries/b.md", after="B"), Act(file=NEW, source=".journal/incoming/1")]
    key = carried(written, *acts, Act(file="content/entries/2", source=".journal/incoming/2"))
    (written.root / "content/entries/b.md").unlink()
    (written.root / NEW).rename(written.root / "elsewhere")
    assert written.take_back(key).startswith("Taken back: x (kept in")
    assert sorted(there(written.root)) == ["flaps/a.jpg", "flaps/index.md"]


def test_the_later_change_is_named_that_took_it_away(written: WrittenList) -> None:
    """Only one that is not taken back itself."""
    first = carried(written, Act(file=f"{NEW}/a.jpg", source="content/entries/flaps/a.jpg"))
    later = written.carry_out([Act(file="content/entries/tail", source=NEW)], by="move", said="wing is tail").key
    with pytest.raises(NotTakenBackError, match="take back first what came later: wing is tail"):
        written.take_back(first)
    written.take_back(later)
    written.take_back(first)
    assert "flaps/a.jpg" in there(written.root)


@pytest.mark.parametrize("half", [0, 1, 2])
def test_a_run_that_was_stopped_is_finished_by_the_next(
    written: WrittenList, monkeypatch: pytest.MonkeyPatch, half: int
) -> None:
    """However much of it was done: all of it is, once."""
    acts = (
        Act(file="content/entries/wing/a.jpg", source="content/entries/flaps/a.jpg"),
        Act(file=HERE, before=LINES, after="new\n"),
    )
    with monkeypatch.context() as stopped:

        def stop(path: Path) -> bool:
            for act in acts[:half]:
                written._do(act)
            raise KeyboardInterrupt

        stopped.setattr(written, "_finish", stop)
        with pytest.raises(KeyboardInterrupt):
            carried(written, *acts)
    assert written.newest() == []
    finish_stopped(written.root)
    assert there(written.root) == {"wing/a.jpg": "picture", "flaps/index.md": "new\n"}
    assert len(written.newest()) == 1
    assert not list(written.folder.glob("*pending*"))


def test_a_run_that_was_stopped_gives_way_to_what_came_since(written: WrittenList) -> None:
    """What a hand wrote after it is kept, and the record goes; lines that stand there already are not written twice."""
    change = written._new((Act(file=HERE, before=LINES, after=f"{LINES}ours\n"),), by="enter", said="x")
    for now, records in ((f"{LINES}by hand\n", 0), (f"zero\n{LINES}ours\n", 1)):
        put(written.root, HERE, now)
        written._note(change, ".pending.json")
        with written.lock():
            pass
        assert there(written.root)["flaps/index.md"] == now
        assert len(written.newest()) == records


def test_what_another_program_is_doing_is_not_waited_for(written: WrittenList) -> None:
    """Its half of a change is its own; the command goes on at once."""
    with written.lock():
        noted = written._note(written._new((Act(file=NEW, after="x"),), by="enter", said="x"), ".pending.json")
        finish_stopped(written.root)
        assert noted.exists()


def test_a_command_waits_for_another_as_long_as_it_takes(written: WrittenList, monkeypatch: pytest.MonkeyPatch) -> None:
    """Only what is tidied up on the way does not wait."""
    waits = []

    def noted(file: Path, timeout: float) -> contextlib.nullcontext[None]:
        waits.append(timeout)
        return contextlib.nullcontext()

    monkeypatch.setattr("journal.commands.written.FileLock", noted)
    written.change(HERE, line("two", "2\n"), by="enter", said="x")
    assert waits == [-1]


def test_damaged_records_are_none(written: WrittenList) -> None:
    """Whatever stands in them, nothing is done and nothing fails."""
    written.folder.mkdir(parents=True)
    good = '{"key": "k", "at": "2026-02-07T18:30:00+01:00", "by": "enter", "said": "x", "acts": []'
    texts = ["", "[]", "{}", good, f'{good}, "lines": "1"}}', f'{good}, "came": []}}', f'{good}, "reason": 1}}']
    texts += [good.replace("2026-02-07T", "today ") + "}", good.replace("[]", '[{"file": 1}]') + "}"]
    texts += [good.replace(f'"{word}"', "1") + "}" for word in ("k", "enter", "x", "2026-02-07T18:30:00+01:00")]
    for name in ("before", "after", "source"):
        texts.append(good.replace("[]", f'[{{"file": "a", "{name}": 1}}]') + "}")
    texts.append(f'{good}, "undoes": 1}}')
    for number, text in enumerate(texts):
        for ending in (".json", ".pending.json"):
            (written.folder / f"{number}-k{ending}").write_text(text, "utf-8")
    (written.folder / "99-k.json").write_text(f"{good}}}", "utf-8")
    finish_stopped(written.root)
    assert [one.by for one in written.newest()] == ["enter"]
    assert not list(written.folder.glob("*pending*"))


def test_the_oldest_records_go(written: WrittenList, monkeypatch: pytest.MonkeyPatch) -> None:
    """The newest are kept and told first."""
    assert KEPT == 500
    monkeypatch.setattr("journal.commands.written.KEPT", 3)
    for number in range(5):
        written.change(HERE, lambda text: f"{text}more\n", by="enter", said=str(number))
    assert [one.said for one in written.newest(2)] == ["4", "3"]
    assert [one.said for one in written.newest()] == ["4", "3", "2"]


@pytest.mark.parametrize("older", [False, True])
def test_what_was_sealed_since_is_not_taken_back_whichever_seal_it_was(
    written: WrittenList, monkeypatch: pytest.MonkeyPatch, older: bool
) -> None:
    """The first seal counts as the last does, also for a record of before seals were counted."""
    key = carried(written, Act(file=HERE, before=LINES, after="new\n"))
    (record,) = written.folder.glob("[0-9]*.json")
    told = json.loads(record.read_bytes())
    assert told["lines"] == 0
    record.write_text(json.dumps({name: one for name, one in told.items() if name != "lines" or not older}))
    seals = [SimpleNamespace(key=(Kind.ENTRY, name)) for name in ("flaps", "wing", "tail")]
    monkeypatch.setattr("journal.commands.written.read_chain", lambda root: SimpleNamespace(seals=seals))
    with pytest.raises(NotTakenBackError, match="was sealed since"):
        written.take_back(key)
    assert there(written.root)["flaps/index.md"] == "new\n"
    monkeypatch.setattr("journal.commands.written.read_chain", lambda root: SimpleNamespace(seals=seals[1:]))
    written.take_back(key)


def test_a_text_that_nobody_can_read_by_now_stands_in_the_way(written: WrittenList) -> None:
    """Somebody saved it in an old encoding meanwhile; it stays as it is."""
    (written.root / HERE).write_bytes(b"Fl\xfcgel")
    with pytest.raises(FileExistsError, match="something was changed meanwhile"):
        carried(written, Act(file=HERE, before=LINES, after="new"))
    assert (written.root / HERE).read_bytes() == b"Fl\xfcgel"


@pytest.mark.parametrize(("lies", "done"), [("picture", True), ("another", False)])
def test_a_picture_that_came_already_is_taken_from_where_it_was(written: WrittenList, lies: str, done: bool) -> None:
    """A copy to another disk that was stopped before its original went; another picture stands in the way."""
    put(written.root, "content/entries/flaps/b.jpg", lies)
    act = Act(file="content/entries/flaps/b.jpg", source="content/entries/flaps/a.jpg")
    with contextlib.nullcontext() if done else pytest.raises(FileExistsError):
        carried(written, act)
    assert ("flaps/a.jpg" in there(written.root)) is not done
    assert there(written.root)["flaps/b.jpg"] == lies


def test_several_that_were_brought_are_taken_back_together(written: WrittenList) -> None:
    """Each is held against what came to it alone; the folder of all entries stays when the last lone one goes."""
    root = written.root
    came, acts = {}, []
    for name in ("one", "two"):
        put(root, f".journal/in/{name}/index.md", name)
        acts.append(Act(file=f"content/entries/{name}", source=f".journal/in/{name}"))
        came[f"content/entries/{name}/index.md"] = hashlib.sha256(name.encode()).hexdigest()
    key = carried(written, *acts, came=came)
    before = there(root)
    put(root, "content/entries/two/more.txt", "x")
    with pytest.raises(NotTakenBackError, match=r"two/more\.txt has come to it since"):
        written.take_back(key)
    (root / "content/entries/two/more.txt").unlink()
    assert there(root) == before
    written.take_back(key)
    assert set(there(root)) == {"flaps/a.jpg", "flaps/index.md"}
    (root / "content/entries/flaps").rename(root / "elsewhere")
    put(root, "content/entries/alone.md", "alone")
    carried(written, Act(file=".journal/away/alone.md", source="content/entries/alone.md", before="alone"))
    assert (root / "content/entries").is_dir()


@pytest.mark.parametrize("name", ["incoming", "unpacked", "trial", "arriving"])
def test_what_a_stopped_run_left_lying_goes(written: WrittenList, name: str) -> None:
    """Whatever command it was; what nobody of us laid there stays."""
    for folder in (f".{name}-0123abcd", ".other-0123abcd"):
        put(written.root, f".journal/{folder}/a.jpg", "x")
        os.utime(written.root / ".journal" / folder, (1, 1))  # older than any run lasts
    finish_stopped(written.root)
    assert [path.name for path in (written.root / ".journal").glob(".*-*")] == [".other-0123abcd"]


def test_a_record_goes_by_its_time_and_key(written: WrittenList) -> None:
    """Digits alone before the key: any disk takes the name, and names stand in the order of time."""
    key = carried(written, Act(file="content/entries/b.md", after="B"))
    assert [bool(re.fullmatch(rf"\d{{20}}-{key}\.json", path.name)) for path in written.folder.glob("*.json")] == [True]
