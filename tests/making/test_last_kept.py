"""What was archived and published last, as it is noted and as it is read again, and what is otherwise since."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from making import MakeBuild, entry

from journal.ledger.journal import Journal, open_journal
from journal.making.last_kept import (
    ARCHIVED,
    LAST,
    PUBLISHED,
    Kept,
    compare,
    fingerprints,
    last_sealed,
    note_kept,
    read_kept,
    say_since,
)
from journal.record.chain import read_chain
from journal.record.seals import seal
from journal.view.view import Audience, open_view

AT = datetime(2026, 3, 1, 12, tzinfo=UTC)
FILES = {f"entries/{name}/index.md": entry(f"title: {name.upper()}") for name in "abcde"}


def prints_of(root: Path) -> tuple[Journal, dict[str, str]]:
    """A build and the fingerprints of its entries."""
    journal = open_journal(root, date(2026, 3, 1))
    return journal, fingerprints(root, open_view(journal, Audience.ARCHIVE))


def test_both_are_noted_beside_each_other(tmp_path: Path) -> None:
    """Each as it was noted last; what was never noted is not known."""
    first, second = (Kept(at=AT, where=where, entries={"a": "1"}) for where in ("here", "there"))
    assert read_kept(tmp_path, ARCHIVED) is None
    (tmp_path / ".journal").mkdir()
    note_kept(tmp_path, ARCHIVED, second)
    note_kept(tmp_path, ARCHIVED, first)
    assert (read_kept(tmp_path, ARCHIVED), read_kept(tmp_path, PUBLISHED)) == (first, None)
    note_kept(tmp_path, PUBLISHED, second)
    assert (read_kept(tmp_path, ARCHIVED), read_kept(tmp_path, PUBLISHED)) == (first, second)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "\xff",
        "[]",
        "null",
        "[" * 100_000,
        '{"archive": 7}',
        '{"archive": {"at": "2026-03-01T12:00:00+00:00", "where": "x"}}',
        '{"archive": {"at": "yesterday", "where": "x", "entries": {}}}',
        '{"archive": {"at": 7, "where": "x", "entries": {}}}',
        '{"archive": {"at": "0001-01-01T00:00:00+23:00", "where": "x", "entries": []}}',
    ],
)
def test_a_note_that_makes_no_sense_is_none(tmp_path: Path, text: str) -> None:
    """Nothing is known then, and the next note is written over it."""
    place = tmp_path / LAST
    place.parent.mkdir()
    place.write_bytes(text.encode("latin-1"))
    assert read_kept(tmp_path, ARCHIVED) is None
    note_kept(tmp_path, ARCHIVED, Kept(at=AT, entries={}))
    assert read_kept(tmp_path, ARCHIVED) == Kept(at=AT, entries={})
    assert set(json.loads(place.read_bytes())) == {"archive"}


def test_a_seal_and_a_note_tell_the_same_of_an_entry(make_build: MakeBuild) -> None:
    """One fingerprint: of what is as it was sealed, nothing is otherwise."""
    root = make_build(FILES)
    journal, now = prints_of(root)
    assert last_sealed(read_chain(root)) is None
    seal(root, open_view(journal, Audience.ARCHIVE), now=AT, ask=lambda changes: None)
    sealed = last_sealed(read_chain(root))
    assert sealed == Kept(at=AT, entries=now)
    assert len(set(now.values())) == len(now) == 5
    assert say_since(Kept(at=AT, entries=now), now, journal.build) == ("", False)


def test_what_is_otherwise_since(make_build: MakeBuild) -> None:
    """New, changed, taken away; the newest three by name; what was renamed and says so is neither new nor gone."""
    root = make_build(FILES)
    _, before = prints_of(root)
    kept = Kept(at=AT, entries={**before, "old": "1", "z": "2"})
    text = (root / "content/entries/a/index.md").read_text()
    (root / "content/entries/a/index.md").write_text(text + "More.\n")
    for name in ("f", "g", "h", "i"):
        make_build({f"entries/{name}/index.md": entry(f"title: {name.upper()}")})
    make_build({"entries/new/index.md": entry("title: Renamed\nformerly: old")})
    journal, now = prints_of(root)
    assert say_since(kept, now, journal.build) == (
        "since then 4 entries new (I, H, G and 1 more), 2 entries changed (Renamed, A), 1 entry taken away (z)",
        True,
    )
    assert say_since(replace(kept, entries=kept.entries | {"z": "2"}), now | {"z": "2"}, journal.build)[1] is False


def test_of_a_private_entry_it_is_told_in_private(make_build: MakeBuild) -> None:
    """Whether it is new or changed."""
    root = make_build(FILES | {"entries/p/index.md": entry("title: P\nprivate: true")})
    journal, now = prints_of(root)
    without = {name: digest for name, digest in now.items() if name != "p"}
    assert say_since(Kept(at=AT, entries=without), now, journal.build) == ("since then 1 entry new (P)", True)
    assert say_since(Kept(at=AT, entries=now | {"p": "1"}), now, journal.build)[1]
    assert not say_since(Kept(at=AT, entries=now | {"a": "1"}), now, journal.build)[1]


STATES = st.dictionaries(st.sampled_from("zyxwvu"), st.sampled_from("12"))


@settings(max_examples=30)
@given(STATES, STATES)
def test_whatever_there_was_or_is_is_told_once(before: dict[str, str], after: dict[str, str]) -> None:
    """Law: new, changed, the same or gone, each kind in order."""
    changes = compare(before, after)
    told = [changes.new, changes.changed, changes.same, changes.gone]
    assert sorted(name for names in told for name in names) == sorted({*before, *after})
    assert all([*names] == sorted(names) for names in told)
    for name in {*before, *after}:
        was, now = before.get(name), after.get(name)
        assert name in told[0 if was is None else 3 if now is None else 2 if was == now else 1]
    assert changes.to_send == (*changes.new, *changes.changed)


def test_a_name_that_is_there_is_no_former_one(make_build: MakeBuild) -> None:
    """Though another entry says that it was called so."""
    journal, now = prints_of(make_build(FILES))
    entries = tuple(replace(one, formerly=("a",)) if one.id == "b" else one for one in journal.build.entries)
    build = replace(journal.build, entries=entries)
    assert say_since(Kept(at=AT, entries=now), now, build) == ("", False)
