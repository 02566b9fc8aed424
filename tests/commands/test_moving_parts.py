"""The parts of `journal move` by themselves: hours divided, paragraphs found, tables of an edition, new names."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from making import MakeBuild, entry

from journal.base.digests import sha256_of
from journal.base.model import Entry, WorkedTime
from journal.commands.intake.asking import AnswerError
from journal.commands.moving.dividing import _check_labels, _divided, _parts, _place_of, _relabel, labels_told
from journal.commands.moving.edition import read_edition
from journal.commands.moving.move import _sealed
from journal.commands.moving.plan import NotMovedError, read_named, totals
from journal.commands.moving.reasons import _by_hand, _same_pictures
from journal.commands.moving.renaming import check_address, check_new, folder_of
from journal.commands.written import Act
from journal.record.chain import Kind

DAY = 1440


def told(minutes: int, *spans: tuple[int, int], day: str = "2026-02-07", **more: Any) -> Entry:
    """An entry of one person."""
    worked = WorkedTime(person="ada", minutes=minutes, spans=spans)
    name = more.pop("id", "e")
    return Entry(
        id=name,
        src_uri=f"content/entries/{name}/index.md",
        title="",
        date=date.fromisoformat(day),
        assembly="flaps",
        time=(worked,),
        **more,
    )


EVENING = (18 * 60 + 30, 20 * 60)


@pytest.mark.parametrize(
    ("entry", "give", "stays", "goes"),
    [
        (told(75), 0, ("1:15",), ()),
        (told(75), 75, (), ("1:15",)),
        (told(75), 15, ("1:00",), ("0:15",)),
        (told(119), 0, ("1:59",), ()),
        (told(9, (1430, 1439)), 0, ("23:50-23:59",), ()),
        (told(90, EVENING), 0, ("18:30-20:00",), ()),
        (told(90, EVENING), 90, (), ("18:30-20:00",)),
        (told(90, EVENING), 30, ("18:30-19:30",), ("19:30-20:00",)),
        (told(120, EVENING), 30, ("18:30-20:00",), ("0:30",)),
        (told(120, EVENING), 20, ("18:30-20:00", "0:10"), ("0:20",)),
        (told(120, EVENING), 60, ("18:30-19:30",), ("19:30-20:00", "0:30")),
        (told(150, EVENING, (1260, 1320)), 60, ("18:30-20:00",), ("21:00-22:00",)),
        (told(150, EVENING, (1260, 1320)), 90, ("18:30-19:30",), ("19:30-20:00", "21:00-22:00")),
        (told(120, (23 * 60, DAY + 60)), 30, ("23:00-0:30",), ("0:30-1:00",)),
        (told(120, (23 * 60, DAY + 60)), 90, ("23:00-23:30",), ("23:30-1:00",)),
        # The night in which the clocks go back: an hour more passed than they tell.
        (told(180, (60, 180), day="2026-10-25"), 30, ("2:30",), ("0:30",)),
        (told(180, (60, 180), day="2026-10-25"), 180, (), ("1:00-3:00",)),
    ],
)
def test_hours_are_divided_to_the_minute(
    entry: Entry, give: int, stays: tuple[str, ...], goes: tuple[str, ...]
) -> None:
    """Durations go first, then the ends of spans; where the clocks change within one there are durations alone."""
    zone = ZoneInfo("Europe/Zurich")
    assert _parts(entry.time[0], entry, zone, give) == (stays, goes)
    assert _divided(entry, {"ada": give}, zone) == ({"ada": stays} if stays else {}, {"ada": goes} if goes else {})
    with pytest.raises(AnswerError, match="and no more can go"):
        _divided(entry, {"ada": entry.time[0].minutes + 1}, zone)


BODY = """\
First words
of a paragraph.

## The *spar*

> Said so.

- one
- two

```
Code here
```

  Set in

First words again.
"""


@pytest.mark.parametrize(
    ("words", "line"),
    [
        ("first  WORDS of", None),
        ("First words\nof", None),
        ("First words again", 27),
        ("First words", "2 paragraphs begin"),
        ("the *spar", 14),
        ("Said", 16),
        ("one", 18),
        ("two", "No paragraph begins"),
        ("Code here", "No paragraph begins"),
        ("Set in", "No paragraph begins"),
        ("of a paragraph", "No paragraph begins"),
    ],
)
def test_a_paragraph_is_found_by_its_first_words(words: str, line: int | str | None) -> None:
    """In any capitals, whatever sign it begins with; not in code, within a paragraph, or where two begin so."""
    entry = told(0, body=BODY, body_line=11)
    if isinstance(line, int):
        assert _place_of(entry, words) == (line, 1)
        assert BODY.split("\n")[line - 11].lstrip("#>- ").casefold().startswith(words.casefold())
        return
    with pytest.raises(AnswerError, match=line or "No paragraph begins"):
        _place_of(entry, words)


@pytest.mark.parametrize(
    ("body", "taken", "now"),
    [
        ("See [^1].\n\n[^1]: Why.", {"^1"}, "See [^1-2].\n\n[^1-2]: Why."),
        ("See [^1].\n\n[^1]: Why.", {"^2"}, "See [^1].\n\n[^1]: Why."),
        ("A [rib][pic] and [pic].\n\n[pic]: a.jpg", {"pic"}, "A [rib][pic-2] and [pic][pic-2].\n\n[pic-2]: a.jpg"),
        ("A [Pic][] here.\n\n[pic]: a.jpg", {"pic"}, "A [Pic][pic-2] here.\n\n[pic-2]: a.jpg"),
        ("`[^1]` [^1]\n\n[^1]: Why.", {"^1", "^1-2"}, "`[^1]` [^1-3]\n\n[^1-3]: Why."),
        ("a[^1] b[^1-2]\n\n[^1]: A.\n[^1-2]: B.", {"^1"}, "a[^1-3] b[^1-2]\n\n[^1-3]: A.\n[^1-2]: B."),
        ("a[^1] b[^2]\n\n[^1]: A.\n[^2]: B.", {"^1", "^2"}, "a[^1-2] b[^2-2]\n\n[^1-2]: A.\n[^2-2]: B."),
        ("Nothing [here].", {"here"}, "Nothing [here]."),
    ],
)
def test_labels_that_two_texts_have_are_told_apart(body: str, taken: set[str], now: str) -> None:
    """Footnotes and links keep what they lead to; code and plain brackets stay as they are."""
    assert _relabel(body, taken) == now
    assert not labels_told(now) & taken or now == body


def test_a_label_and_what_it_leads_to_stay_together() -> None:
    """Told in the other part alone it would lead to nothing; told in both it is at home in each."""
    with pytest.raises(NotMovedError, match=r"\[\^1\] stands in one part of the text"):
        _check_labels("See [^1].", "[^1]: Why.")
    _check_labels("See [^1].\n\n[^1]: Why.", "[^1]: Why.")
    _check_labels("See nothing.", "See [^1].\n\n[^1]: Why.")


@pytest.mark.parametrize(
    ("rows", "numbers", "cells", "left", "words"),
    [
        (
            "5.1,6.1,Ream,6-1\n5.2,5.2,,5-9\n",
            {"5.1": "6.1", "5.2": "5.2"},
            {"6.1": {"title": "Ream", "page": "6-1"}, "5.2": {"page": "5-9"}},
            (),
            [],
        ),
        ("5.1,5.2,,\n5.2,5.1,,\n", {"5.1": "5.2", "5.2": "5.1"}, {"5.2": {}, "5.1": {}}, (), []),
        (
            ",6.9,,\n,,x,\n",
            {},
            {},
            ("6.9 is new: add its row to steps.csv", "a row without numbers is new: add its row to steps.csv"),
            [],
        ),
        ("5.1,,,\n", {}, {}, ("5.1 is no longer in the manual: it stays as it is",), []),
        ("5.8,6.1,,\n", {}, {}, (), ["unknown-step"]),
        ("5.1,a b,,\n", {}, {}, (), ["bad-step"]),
        ("5.1,6.1,,\n5.1,6.2,,\n", {"5.1": "6.1"}, {"6.1": {}}, (), ["duplicate-step"]),
        ("5.1,6.1,,\n5.2,6.1,,\n", {"5.1": "6.1"}, {"6.1": {}}, (), ["duplicate-step"]),
        ("5.1,5.2,,\n", {"5.1": "5.2"}, {"5.2": {}}, (), ["duplicate-step"]),
    ],
)
def test_a_table_of_an_edition_is_read_row_by_row(
    tmp_path: Path, rows: str, numbers: dict[str, str], cells: dict[str, Any], left: tuple[str, ...], words: list[str]
) -> None:
    """New numbers and what goes with them; what is new or gone is told; what cannot be is an error of its row."""
    table = tmp_path / "b.csv"
    table.write_text(f"old,new,title,page\n{rows}", "utf-8")
    named: Any = SimpleNamespace(build=SimpleNamespace(steps={"5.1": None, "5.2": None}))
    found = read_edition(table, named)
    assert found[:3] == (numbers, cells, left)
    assert [one.word for one in found[3]] == words
    assert all(one.hint for one in found[3])


@pytest.mark.parametrize(
    ("new", "said"),
    [
        ("5.10", ""),
        ("Flügel_2", ""),
        ("x" * 80, ""),
        ("x" * 81, "cannot be the ID of a step"),
        (".x", "cannot be the ID of a step"),
        ("x.", "cannot be the ID of a step"),
        ("a b", "cannot be the ID of a step"),
        ("", "cannot be the ID of a step"),
        ("WING", 'There is a step "WING" already'),
    ],
)
def test_a_new_name_needs_no_quotes_and_is_free(new: str, said: str) -> None:
    """In any capitals."""
    if not said:
        check_new(new, ["wing"], "a step")
        return
    with pytest.raises(AnswerError, match=said):
        check_new(new, ["wing"], "a step")


def test_names_that_are_one_on_many_disks_lead_nowhere() -> None:
    """Capitals alone make no other address; a folder of its own is told from a file beside others."""
    check_address("wing", "wings")
    with pytest.raises(AnswerError, match="are one name"):
        check_address("wing", "Wing")
    assert folder_of(told(0)) == "content/entries/e"
    file: Any = SimpleNamespace(id="e", src_uri="content/entries/e.md")
    assert folder_of(file) == ""


def test_totals_are_those_of_people_days_and_assemblies() -> None:
    """Drafts and private entries apart, under the names that are to be."""
    entries = (told(75), told(15, private=True, id="p"), told(0, id="n"))
    build: Any = SimpleNamespace(entries=entries, drafts=(told(5, draft=True, id="d"),))
    assert totals(build) == {
        **{"entry ada": 75, "entry 2026-02-07": 75, "private ada": 15, "private 2026-02-07": 15},
        **{"draft ada": 5, "draft 2026-02-07": 5, "of flaps": 95},
    }
    moved = totals(build, {("assembly", "flaps"): "flap", ("person", "ada"): "adele"}, {"flap": -20, "wing": 20})
    assert (moved["of flap"], moved["of wing"], moved["entry adele"], moved["entry ada"]) == (75, 20, 75, 0)


@pytest.mark.parametrize(
    ("sealed", "said"),
    [
        ([], []),
        ([(Kind.ENTRY, "a"), (Kind.ENTRY, "z")], ["a"]),
        ([(Kind.ENTRY, "old-b")], ["b"]),
        ([(Kind.ENTRY, "a"), (Kind.ENTRY, "b"), (Kind.ENTRY, "c")], ["a", "b", "c"]),
        ([(Kind.ENTRY, one) for one in "abcd"], ["4 entries"]),
    ],
)
def test_what_is_sealed_is_named_or_counted(
    monkeypatch: pytest.MonkeyPatch, sealed: list[tuple[Kind, str]], said: list[str]
) -> None:
    """Up to three by name, as they are called today; only what the move touches."""
    monkeypatch.setattr("journal.commands.moving.move.read_chain", lambda root: SimpleNamespace(current=sealed))
    entries = [told(0, id=one, formerly=(f"old-{one}",)) for one in "abcd"]
    build = SimpleNamespace(entries=entries, write_ups=[])
    planned: Any = SimpleNamespace(
        texts={f"content/entries/{one}/index.md": "" for one in "ab"},
        away=["content/entries/c/index.md"],
        paths={"content/entries/d": "content/entries/e"},
        of=SimpleNamespace(build=build, root=Path()),
    )
    assert _sealed(planned) == said


SEALED = sha256_of(b"one")


@pytest.mark.parametrize(
    ("steps", "lies", "now", "by_hand"),
    [
        ([], None, SEALED, False),
        ([], None, "other", True),
        ([], None, None, False),
        ([("one", "two")], "two", "x", False),
        ([("one", "two")], "2", "x", True),
        ([("one", "two")], None, "x", True),
        ([("one", "two")], None, None, False),
        ([("1", "two")], "two", "x", True),
        ([("one", "two"), ("two", "three")], "three", "x", False),
        ([("one", "two"), ("2", "three")], "three", "x", True),
    ],
)
def test_a_change_by_hand_is_seen_before_between_and_after_moves(
    tmp_path: Path, steps: list[tuple[str, str]], lies: str | None, now: str | None, by_hand: bool
) -> None:
    """The text has to be as it was sealed, as each move left it to the next, and as the last one left it."""
    if lies is not None:
        (tmp_path / "a.md").write_text(lies)
    sealed = SimpleNamespace(text=SEALED, kind=SimpleNamespace(is_cut=False))
    change: Any = SimpleNamespace(before=sealed, now=None if now is None else SimpleNamespace(text=now))
    texts = [Act(file="a.md", before=before, after=after) for before, after in steps]
    assert _by_hand(tmp_path, change, texts) is by_hand


@pytest.mark.parametrize(
    ("old", "new", "moved", "same"),
    [
        ({"a": "1"}, {"a": "1"}, [], True),
        ({"a": "1"}, {"a": "2"}, ["x/a"], False),
        ({"a": "1"}, {"b": "1"}, ["x/a", "x/b"], True),
        ({"a": "1"}, {"b": "1"}, ["x/a"], False),
        ({"a": "1"}, None, [], True),
    ],
)
def test_pictures_come_and_go_with_moves_alone(
    old: dict[str, str], new: dict[str, str] | None, moved: list[str], same: bool
) -> None:
    """A picture that no move named, or that is another one under its name, speaks of a hand."""
    now = None if new is None else SimpleNamespace(files=new)
    change: Any = SimpleNamespace(before=SimpleNamespace(files=old), now=now)
    assert _same_pictures(change, [Act(file=path, source="") for path in moved]) is same


def test_pictures_of_one_size_are_alike_by_their_bytes_alone(make_build: MakeBuild) -> None:
    """Of one folder, the very same bytes; nothing else is looked at."""
    folder = "entries/2026-02-07-a"
    pictures: dict[str, Any] = {
        f"{folder}/{name}.jpg": data for name, data in (("a", b"12"), ("b", b"34"), ("c", b"12"))
    }
    named = read_named(make_build({f"{folder}/index.md": entry("title: A"), f"{folder}/d.jpg": b"5", **pictures}))
    digests = [photo.sha256 for photo in named.build.entries[0].photos]
    assert digests == [sha256_of(b"12"), sha256_of(b"34"), sha256_of(b"12"), ""]
