"""The chain to the letter: its lines as bytes, every fault in its words, plans, stories. In memory, without files.

Form of a line: docs/seals.md and RFC 8785 (keys sorted, no spaces); digests: FIPS 180-4.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from hashlib import sha256
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.record.chain import (
    CHAIN,
    HEAD,
    NO_LINE,
    Chain,
    ChainFault,
    Contents,
    Kind,
    Seal,
    line_numbers,
    name_of,
    parse_branches,
    parse_chain,
    parse_line,
    read_chain,
    render_head,
    render_line,
    shared_lines,
    touches,
    uri_of,
)
from journal.record.seals import Amendment, SealPlan, SealStory, plan_seals, seal_story

NOON = datetime(2026, 2, 10, 12, 0, tzinfo=UTC)
TEXT, OTHER = "ab" * 32, "cd" * 32


def held(
    name: str = "a", *, kind: Kind = Kind.ENTRY, text: str = TEXT, files: Mapping[str, str] | None = None
) -> Contents:
    """What a folder holds."""
    return Contents(kind=kind, id=name, date=date(2026, 2, 7), text=text, files=files or {})


def line(number: int, name: str, prev: str = NO_LINE, **more: object) -> Seal:
    """A line of a chain."""
    values: dict[str, object] = {
        "kind": Kind.ENTRY,
        "id": name,
        "date": date(2026, 2, 7),
        "text": TEXT,
        "files": {},
        "line": number,
        "sealed_at": NOON,
        "prev": prev,
    }
    return Seal(**values | more)  # type: ignore[arg-type]


def lines_of(*seals: Callable[[int, str], Seal]) -> list[bytes]:
    """Lines one after another, each told its number and the digest of the one before."""
    raw: list[bytes] = []
    prev = NO_LINE
    for number, make in enumerate(seals, start=1):
        raw.append(render_line(make(number, prev)))
        prev = sha256(raw[-1][:-1]).hexdigest()
    return raw


def plain(name: str, **more: object) -> Callable[[int, str], Seal]:
    """A line about this folder."""
    return lambda number, prev: line(number, name, prev, **more)


def amending(name: str, amends: int, **more: object) -> Callable[[int, str], Seal]:
    """A line that takes the place of another."""
    return plain(name, **{"amends": amends, "reason": "a slip", **more})


def gone(name: str, amends: int) -> Callable[[int, str], Seal]:
    """A line that says that it is no longer there."""
    return amending(name, amends, text="", withdrawn=True)


FIVE = [
    plain("a", files={"b.jpg": OTHER, "a.jpg": TEXT}),
    plain("b", kind=Kind.INSPECTION),
    amending("a", 1),
    gone("b", 2),
]


def test_a_line_as_bytes() -> None:
    """Keys in order, no spaces, one line feed; what is not there is not written."""
    first, _, third, _ = lines_of(FIVE[0], plain("b"), amending("a", 1, text=OTHER), gone("b", 2))
    assert first == (
        b'{"date":"2026-02-07","files":{"a.jpg":"' + TEXT.encode() + b'","b.jpg":"' + OTHER.encode() + b'"},'
        b'"id":"a","kind":"entry","line":1,"prev":"' + b"0" * 64 + b'","sealed_at":"2026-02-10T12:00:00Z",'
        b'"text":"' + TEXT.encode() + b'"}\n'
    )
    told = json.loads(third)
    assert sorted(told) == ["amends", "date", "files", "id", "kind", "line", "prev", "reason", "sealed_at", "text"]
    assert (told["amends"], told["reason"], told["text"]) == (1, "a slip", OTHER)


def test_a_withdrawn_line_as_bytes() -> None:
    """It says so, and has no text."""
    raw = lines_of(plain("b", kind=Kind.INSPECTION), lambda n, p: gone("b", 1)(n, p))[1]
    told = json.loads(raw)
    assert (told["withdrawn"], told["text"], told["amends"]) == (True, "", 1)
    assert render_line(line(1, "a", sealed_at=datetime(2026, 2, 10, 13, 0, 5, tzinfo=UTC))).count(b"13:00:05Z") == 1


def test_every_line_comes_back() -> None:
    """Parsed, it is the seal that was rendered, with the digest of its bytes."""
    for number, raw in enumerate(lines_of(*FIVE[:1], plain("b"), amending("a", 1), gone("b", 2)), start=1):
        seal = parse_line(raw[:-1])
        assert isinstance(seal, Seal)
        assert seal.line == number
        assert seal.sha256 == sha256(raw[:-1]).hexdigest()
        assert render_line(seal) == raw
        assert seal.sealed_at == NOON
    assert seal.withdrawn
    assert (seal.amends, seal.reason, seal.text) == (2, "a slip", "")


GOOD = json.loads(lines_of(plain("a"))[0])
AMENDED = {**GOOD, "amends": 1, "reason": "a slip", "line": 2}
FORM = "is not in the form in which journal seal writes it"
VALUE = "holds a value that journal seal does not write"


def canonical(record: object) -> bytes:
    """A record as RFC 8785 has it, for records of ASCII."""
    return json.dumps(record, sort_keys=True, separators=(",", ":")).encode()


@pytest.mark.parametrize(
    ("raw", "told"),
    [
        (b"", "is not JSON"),
        (b"{", "is not JSON"),
        (b"[" * 100_000, "is not JSON"),
        (b"\xff", "is not JSON"),
        (b"\r", "ends in a carriage return: a program changed the line ends"),
        (b"[]", "is not a JSON object"),
        (b'"a"', "is not a JSON object"),
        *((canonical({k: v for k, v in GOOD.items() if k != key}), f'lacks "{key}"') for key in GOOD),
        (canonical({k: v for k, v in AMENDED.items() if k != "reason"}), 'lacks "reason"'),
        (canonical(GOOD) + b"\r", "ends in a carriage return: a program changed the line ends"),
        (canonical(GOOD) + b" ", FORM),
        (canonical({**GOOD, "more": 1}), FORM),
        (canonical({**GOOD, "reason": "x"}), FORM),
        (canonical({**GOOD, "withdrawn": False}), FORM),
        (json.dumps(GOOD).encode(), FORM),
        (canonical({**GOOD, "date": "2026-02-30"}), VALUE),
        (canonical({**GOOD, "date": 5}), VALUE),
        (canonical({**GOOD, "files": []}), VALUE),
        (canonical({**GOOD, "files": {"a": "ab"}}), VALUE),
        (canonical({**GOOD, "files": {"a": 1}}), VALUE),
        (canonical({**GOOD, "id": 1}), VALUE),
        (canonical({**GOOD, "id": "a/b"}), VALUE),
        (canonical({**GOOD, "kind": "page"}), VALUE),
        (canonical({**GOOD, "line": 0}), VALUE),
        (canonical({**GOOD, "line": -1}), VALUE),
        (canonical({**GOOD, "line": True}), VALUE),
        (canonical({**GOOD, "line": "1"}), VALUE),
        (canonical({**GOOD, "line": 1.5}), VALUE),
        (canonical({**GOOD, "prev": "ab" * 31}), VALUE),
        (canonical({**GOOD, "prev": "AB" * 32}), VALUE),
        (canonical({**GOOD, "prev": TEXT + "\n"}), VALUE),
        (canonical({**GOOD, "sealed_at": "2026-02-10T12:00:00"}), VALUE),
        (canonical({**GOOD, "sealed_at": "2026-02-10"}), VALUE),
        (canonical({**GOOD, "text": ""}), VALUE),
        (canonical({**GOOD, "text": "ab"}), VALUE),
        (canonical({**AMENDED, "reason": ""}), VALUE),
        (canonical({**AMENDED, "reason": "  "}), VALUE),
        (canonical({**AMENDED, "reason": 1}), VALUE),
        (canonical({**AMENDED, "amends": 0}), VALUE),
        (canonical({**AMENDED, "amends": "1"}), VALUE),
        (canonical({**AMENDED, "withdrawn": True}), VALUE),
        (canonical({**AMENDED, "withdrawn": 1, "text": ""}), VALUE),
        (canonical({**GOOD, "withdrawn": True, "text": ""}), VALUE),
    ],
)
def test_why_a_line_is_none(raw: bytes, told: str) -> None:
    """In words, each thing that can be wrong with one line."""
    assert parse_line(raw) == told


def test_lines_at_the_edge_that_are_some() -> None:
    """The least there can be."""
    for record in (GOOD, AMENDED, {**AMENDED, "text": "", "withdrawn": True}, {**AMENDED, "line": 1}):
        assert isinstance(parse_line(canonical(record)), Seal)


def parsed(raw: list[bytes], head: bytes | None = None) -> Chain:
    """The chain of these lines."""
    return parse_chain(b"".join(raw), head)


SEVEN = lines_of(*(plain(f"d{number}") for number in range(7)))


def digest(raw: bytes) -> str:
    """Of a line without its line feed."""
    return sha256(raw.rstrip(b"\n")).hexdigest()


def earlier(raw: bytes) -> bytes:
    """A line changed and otherwise in order."""
    return raw.replace(b"T12:00:00Z", b"T10:00:00Z")


CUT = "cut off the end of the chain: head.json names line 7 as the last"
HOLDS = "holds the digest of what it was"
ORDER = "the lines were put in another order"
BEGINNING = "line 1 names a line before it: the beginning of the chain was cut off"
AGAIN = 'line 2 seals entry "a" again without saying that it is an amendment'
PIN = render_head(7, digest(SEVEN[6]))


@pytest.mark.parametrize(
    ("raw", "head", "number", "told"),
    [
        ([SEVEN[1], *SEVEN[2:]], None, 1, "line 1 of the chain was cut out"),
        ([*SEVEN[:2], *SEVEN[5:]], None, 3, "lines 3 to 5 of the chain were cut out"),
        ([*SEVEN[:3], SEVEN[1]], None, 4, "line 4 is a second copy of line 2"),
        ([SEVEN[0], SEVEN[2], SEVEN[1]], None, 2, f"line 2 was written as line 3: {ORDER}"),
        ([*SEVEN[:3], earlier(SEVEN[1])], None, 4, "line 4 was written as line 2: it was moved or put in"),
        ([render_line(line(1, "a", TEXT))], None, 1, BEGINNING),
        ([*SEVEN[:3], earlier(SEVEN[3]), *SEVEN[4:]], None, 4, f"line 4 was edited: line 5 {HOLDS}"),
        (
            [*SEVEN[:5], earlier(SEVEN[5]), SEVEN[6]],
            None,
            7,
            "line 7 does not follow line 6: one of the two was edited",
        ),
        ([*SEVEN[:5], earlier(SEVEN[5]), SEVEN[6]], PIN, 6, f"line 6 was edited: line 7 {HOLDS}"),
        ([*SEVEN[:6], earlier(SEVEN[6])], PIN, 7, "line 7 was edited: head.json holds the digest of what it was"),
        ([*SEVEN[:6], earlier(SEVEN[6])], None, 0, ""),
        ([*SEVEN[:3], earlier(SEVEN[3])], PIN, 5, f"lines 5 to 7 were {CUT}"),
        (SEVEN[:6], PIN, 7, f"line 7 was {CUT}"),
        ([*SEVEN[:2], b"{}\n", *SEVEN[3:]], None, 3, 'line 3 lacks "files"'),
        ([*SEVEN[:2], b"\n"], None, 3, "line 3 is not JSON"),
        ([*SEVEN[:2], SEVEN[2][:-1]], None, 3, "line 3 breaks off in the middle: it was not written to its end"),
        ([*SEVEN[:2], b"x"], PIN, 3, "line 3 breaks off in the middle: it was not written to its end"),
        (lines_of(plain("a"), plain("a")), None, 2, AGAIN),
        (lines_of(plain("a"), plain("a", kind=Kind.INSPECTION)), None, 0, ""),
        (lines_of(plain("a"), amending("a", 2)), None, 2, "line 2 amends line 2, which is not in force"),
        (lines_of(plain("a"), amending("a", 3)), None, 2, "line 2 amends line 3, which is not in force"),
        (
            lines_of(plain("a"), amending("a", 1), amending("a", 1)),
            None,
            3,
            "line 3 amends line 1, which is not in force",
        ),
        (lines_of(plain("a"), amending("a", 1), amending("a", 2)), None, 0, ""),
        (lines_of(plain("a"), plain("b"), amending("b", 1)), None, 3, "line 3 amends line 1, which is not in force"),
        (lines_of(plain("a"), amending("b", 1), plain("a")), None, 0, ""),
        (lines_of(plain("a"), gone("a", 1), plain("a")), None, 0, ""),
        # What was withdrawn comes back with a reason, once.
        (lines_of(plain("a"), gone("a", 1), amending("a", 2)), None, 0, ""),
        (lines_of(plain("a"), gone("a", 1), amending("b", 2)), None, 3, "line 3 amends line 2, which is not in force"),
        (
            lines_of(plain("a"), gone("a", 1), amending("a", 2), gone("a", 3), amending("a", 2)),
            None,
            5,
            'line 5 amends line 2, which is not the last of entry "a"',
        ),
        ([], PIN, 1, f"lines 1 to 7 were {CUT}"),
        (SEVEN, render_head(5, digest(SEVEN[4])), 0, ""),
    ],
)
def test_what_is_wrong_with_a_chain(raw: list[bytes], head: bytes | None, number: int, told: str) -> None:
    """The first bad line in its words; the lines before it hold, with or without the head beside it."""
    chain = parsed(raw, head)
    if number == 0:
        assert chain.fault is None
        assert len(chain.seals) == len(raw)
    else:
        assert chain.fault == ChainFault(file=CHAIN, line=number, message=told)
        assert len(chain.seals) == min(number - 1, len(raw))
    assert chain.pinned is (head is not None and number == 0)
    assert chain.raw == b"".join(raw)


EDITED = "head.json is not as journal seal writes it: it was edited"


@pytest.mark.parametrize(
    "head",
    [
        b"",
        b"{}",
        b"[]",
        b"null",
        PIN[:-1],
        PIN + b"\n",
        PIN.replace(b":", b": "),
        b"[" * 100_000,
        canonical({"line": 0, "sha256": TEXT}) + b"\n",
        canonical({"line": -1, "sha256": TEXT}) + b"\n",
        canonical({"line": 1, "sha256": "ab"}) + b"\n",
        canonical({"line": "1", "sha256": TEXT}) + b"\n",
        canonical({"line": 1}) + b"\n",
        canonical({"line": 1, "sha256": None}) + b"\n",
    ],
)
def test_a_head_that_was_edited(head: bytes) -> None:
    """It is at fault, and the lines hold as far as they go."""
    chain = parsed(SEVEN, head)
    assert chain.fault == ChainFault(file=HEAD, line=1, message=EDITED)
    assert (len(chain.seals), chain.pinned) == (7, False)


def test_the_head_as_bytes() -> None:
    """Number and digest of the last line."""
    assert render_head(7, TEXT) == b'{"line":7,"sha256":"' + TEXT.encode() + b'"}\n'
    wrong = parsed(SEVEN, render_head(3, TEXT))
    assert wrong.fault == ChainFault(
        file=CHAIN, line=3, message="line 3 was edited: head.json holds the digest of what it was"
    )
    assert len(wrong.seals) == 2


def test_what_a_chain_knows() -> None:
    """Head, what is in force, the history of a seal, numbers by digest."""
    chain = parsed(lines_of(plain("a"), plain("b"), amending("a", 1), amending("c", 3), gone("b", 2), plain("b")))
    assert chain.head == chain.seals[-1].sha256
    assert Chain().head == NO_LINE == "0" * 64
    assert {key: seal.line for key, seal in chain.current.items()} == {(Kind.ENTRY, "c"): 4, (Kind.ENTRY, "b"): 6}
    assert [seal.line for seal in chain.history(chain.seals[3])] == [1, 3, 4]
    assert [seal.line for seal in chain.history(chain.seals[5])] == [6]
    assert line_numbers(chain) == {seal.sha256: number for number, seal in enumerate(chain.seals, start=1)}
    assert parsed([]).seals == ()
    assert uri_of((Kind.ENTRY, "a")) == "content/entries/a"
    assert uri_of((Kind.INSPECTION, "a")) == "content/inspections/a"
    assert name_of((Kind.INSPECTION, "a")) == 'inspection "a"'


def test_the_files_of_a_chain(tmp_path: Path) -> None:
    """None is an empty chain; the head is read where it is."""
    assert read_chain(tmp_path) == Chain()
    (tmp_path / "content/seals").mkdir(parents=True)
    (tmp_path / CHAIN).write_bytes(b"".join(SEVEN))
    assert not read_chain(tmp_path).pinned
    (tmp_path / HEAD).write_bytes(PIN)
    assert read_chain(tmp_path).pinned
    assert len(read_chain(tmp_path).seals) == 7


# ------------------------------------------------------------------------------------------ plans


def altered(before: Contents, now: Contents) -> str:
    """How a change is told."""
    seal = replace(line(1, "a"), text=before.text, files=before.files)
    return Amendment(before=seal, now=now).tell()


@pytest.mark.parametrize(
    ("before", "now", "told"),
    [
        (held(), held(text=OTHER), 'entry "a": the text changed'),
        (held(files={"b": TEXT, "a": TEXT}), held(files={"a": OTHER, "b": OTHER}), 'entry "a": a changed, b changed'),
        (held(files={"b": TEXT, "a": TEXT}), held(), 'entry "a": a taken away, b taken away'),
        (held(), held(files={"b": TEXT, "a": TEXT}), 'entry "a": a added, b added'),
        (
            held(files={"a": TEXT, "b": TEXT, "c": TEXT}),
            held(text=OTHER, files={"a": OTHER, "c": TEXT, "d": TEXT}),
            'entry "a": the text changed, a changed, b taken away, d added',
        ),
        (
            held(),
            held(files=dict.fromkeys("abcdef", TEXT)),
            'entry "a": a added, b added, c added, d added, e added, f added',
        ),
        (
            held(),
            held(files=dict.fromkeys("abcdefg", TEXT)),
            'entry "a": a added, b added, c added, d added, e added, 2 more changes',
        ),
    ],
)
def test_a_change_in_words(before: Contents, now: Contents, told: str) -> None:
    """By name and in order; of more than six the first five."""
    assert altered(before, now) == told


def test_what_is_new_changed_renamed_and_gone() -> None:
    """Compared with what is in force, by line; a name that is new with the same text and photos is the old one's."""
    chain = parsed(
        lines_of(
            plain("same", files={"x": TEXT}),
            plain("changed"),
            plain("renamed", files={"x": OTHER}),
            plain("gone", text=OTHER),
            plain("look", kind=Kind.INSPECTION, files={"y": TEXT}),
        )
    )
    found = (
        held("new", text="ef" * 32),
        held("changed", files={"z": TEXT}),
        held("same", files={"x": TEXT}),
        held("now called", files={"x": OTHER}),
        held("look", files={"y": TEXT}),
    )
    plan = plan_seals(chain, found)
    by_id = {seal.id: seal for seal in chain.seals}
    assert plan == SealPlan(
        new=(found[0], found[4]),
        amendments=(
            Amendment(before=by_id["changed"], now=found[1]),
            Amendment(before=by_id["renamed"], now=found[3]),
            Amendment(before=by_id["gone"], now=None),
            Amendment(before=by_id["look"], now=None),
        ),
    )
    assert [amendment.tell() for amendment in plan.amendments] == [
        'entry "changed": z added',
        'entry "renamed" is now called "now called"',
        'entry "gone" is no longer there (deleted, or made a draft)',
        'inspection "look" is no longer there (deleted, or made a draft)',
    ]
    assert plan_seals(Chain(), found) == SealPlan(new=found, amendments=())
    assert plan_seals(chain, chain.seals) == SealPlan(new=(), amendments=())


@pytest.mark.parametrize(
    ("before", "now", "same"),
    [
        ({"a": TEXT, "b": OTHER}, {"b": OTHER, "a": TEXT}, True),
        ({"a": TEXT, "b": OTHER}, {"a": OTHER, "b": TEXT}, False),
        ({"a": TEXT}, {"b": TEXT}, False),
        ({"a": TEXT}, {}, False),
        ({"Fl\u00fcgel": TEXT}, {"Flu\u0308gel": TEXT}, True),
    ],
)
def test_what_is_the_same(before: dict[str, str], now: dict[str, str], same: bool) -> None:
    """The same pictures by the same names, in whatever Unicode form; two that changed places did change."""
    chain = parsed(lines_of(plain("x", files=before)))
    assert (plan_seals(chain, [held("x", files=now)]).amendments == ()) is same
    (renamed,) = plan_seals(chain, [held("y", files=now)]).amendments
    assert (renamed.now is not None) is same


def test_one_new_name_is_one_old_one_s() -> None:
    """Two that were alike, one of them gone and one renamed."""
    chain = parsed(lines_of(plain("a"), plain("b")))
    (first, second) = plan_seals(chain, [held("c")]).amendments
    assert (first.now and first.now.id, second.now) == ("c", None)


# ------------------------------------------------------------------------------------------ stories

CET = timezone(timedelta(hours=1))


def story(*days: datetime, kind: Kind = Kind.ENTRY, reason: str = "a slip", zone: str | None = None) -> SealStory:
    """Sealed on the first day and amended on the others, the work of 7 February."""
    lines = lines_of(
        plain("a", kind=kind, sealed_at=days[0]),
        *(
            amending("a", number, kind=kind, sealed_at=day, reason=reason)
            for number, day in enumerate(days[1:], start=1)
        ),
    )
    return seal_story(parsed(lines), kind, "a", zone)


def at(day: int, hour: int = 12) -> datetime:
    """A time of February 2026, UTC."""
    return datetime(2026, 2, day, hour, tzinfo=UTC)


@pytest.mark.parametrize(
    ("told", "words"),
    [
        (SealStory(kind=Kind.ENTRY), "not sealed"),
        (story(at(7)), "sealed on the day of the work"),
        (story(at(8)), "sealed 1 day after the work"),
        (story(at(6)), "sealed 1 day before the work"),
        (story(at(1)), "sealed 6 days before the work"),
        (story(at(17)), "sealed 10 days after the work"),
        (story(at(7), kind=Kind.INSPECTION), "sealed on the day of the inspection"),
        (story(at(9), kind=Kind.INSPECTION), "sealed 2 days after the inspection"),
        (story(at(7), at(9)), "sealed on the day of the work; amended on 9 February 2026 because a slip"),
        (
            story(at(7), at(9), at(10), reason="because it was wrong."),
            "sealed on the day of the work; amended on 9 February 2026 because it was wrong; "
            "amended on 10 February 2026 because it was wrong",
        ),
        (story(at(7, 23), zone="Europe/Zurich"), "sealed 1 day after the work"),
        (story(at(7, 22), zone="Europe/Zurich"), "sealed on the day of the work"),
        (story(at(8, 4), zone="America/New_York"), "sealed on the day of the work"),
        (story(at(7, 23), zone="No/Such"), "sealed on the day of the work"),
        (story(at(7, 23), zone="../etc"), "sealed on the day of the work"),
    ],
)
def test_the_story_in_words(told: SealStory, words: str) -> None:
    """Days of the build's zone, where there is such a zone; each amendment with its reason."""
    assert told.words == words


def test_the_story_field_by_field() -> None:
    """The line in force, and only of what is sealed."""
    told = story(at(8), at(9), reason="why")
    assert told == SealStory(
        kind=Kind.ENTRY, sealed_on=date(2026, 2, 8), days_after=1, amended=((date(2026, 2, 9), "why"),), line=2
    )
    chain = parsed(lines_of(plain("a"), gone("a", 1)))
    assert seal_story(chain, Kind.ENTRY, "a") == SealStory(kind=Kind.ENTRY)
    assert seal_story(parsed(lines_of(plain("a"))), Kind.INSPECTION, "a") == SealStory(kind=Kind.INSPECTION)


@given(st.lists(st.tuples(st.sampled_from("abc"), st.booleans()), max_size=8))
def test_what_is_in_force_is_what_the_lines_say(story_: list[tuple[str, bool]]) -> None:
    """Law: written down as sealing does it, the chain holds, and in force is the last line of each that is there."""
    raw: list[bytes] = []
    standing: dict[str, int] = {}
    prev = NO_LINE
    for name, there in story_:
        number, before = len(raw) + 1, standing.pop(name, None)
        if before is None and not there:
            continue
        make = plain(name) if before is None else amending(name, before) if there else gone(name, before)
        raw.append(render_line(make(number, prev)))
        prev = digest(raw[-1])
        if there:
            standing[name] = number
    chain = parsed(raw, render_head(len(raw), prev) if raw else None)
    assert chain.fault is None
    assert {seal.id: seal.line for seal in chain.current.values()} == standing
    for seal in chain.current.values():
        assert all(one.id == seal.id for one in chain.history(seal))


# ------------------------------------------------------------------------------------------ where things lie


@pytest.mark.parametrize(
    ("key", "uri", "its_own", "others"),
    [
        (
            (Kind.ENTRY, "a"),
            "content/entries/a",
            ["content/entries/a", "content/entries/2026/a/b.jpg", "content/entries/a.md", "content/entries/2026/a.md"],
            ["content/entriesa/a", "content/entries/b/c.md", "content/inspections/a", "x/entries/a", "content/a"],
        ),
        ((Kind.ENTRY, "entries"), "content/entries/entries", [], ["content/entries/b.md", "content/entries/b"]),
        ((Kind.MEASUREMENT, "a"), "content/measurements/a", ["content/measurements/a/a.jpg"], ["content/entries/a"]),
        ((Kind.RECORD, "b/c.pdf"), "content/records/b/c.pdf", ["content/records/b/c.pdf"], ["content/records/b"]),
        ((Kind.ROW, "steps.csv 5.1"), "content/steps.csv", ["content/steps.csv"], ["content/steps", "content"]),
        ((Kind.ROW, "records.csv b"), "content/records/records.csv", ["content/records/records.csv"], []),
        ((Kind.SETTING, "build.yml people ada"), "content/build.yml", ["content/build.yml"], ["content/build.yml/a"]),
    ],
)
def test_where_what_is_sealed_lies(key: tuple[Kind, str], uri: str, its_own: list[str], others: list[str]) -> None:
    """And which files belong to it: an entry may lie within the folder of a year, or be a file of its own."""
    assert uri_of(key) == uri
    assert [path for path in (*its_own, *others) if touches(path, key)] == its_own


WORDS = "step: 5.1"
ROW = {**GOOD, "kind": "row", "id": "steps.csv 5/1", "words": WORDS, "text": sha256(WORDS.encode()).hexdigest()}
DEEP: list[object] = []
for _ in range(400):
    DEEP = [DEEP]


@pytest.mark.parametrize(
    ("record", "told"),
    [
        (ROW, ""),
        ({**ROW, "kind": "setting"}, ""),
        ({**ROW, "kind": "record"}, FORM),
        ({**ROW, "words": "step: 5.2"}, VALUE),
        ({**ROW, "words": ""}, VALUE),
        ({**ROW, "words": 1}, VALUE),
        ({**ROW, "text": ""}, VALUE),
        ({key: value for key, value in ROW.items() if key != "words"}, 'lacks "words"'),
        ({**ROW, "amends": 1, "reason": "x", "withdrawn": True, "words": "", "text": ""}, ""),
        ({**ROW, "amends": 1, "reason": "x", "withdrawn": True, "text": ""}, VALUE),
        ({**GOOD, "kind": "record", "id": "a/b"}, ""),
        ({**GOOD, "kind": "measurement", "id": "a/b"}, VALUE),
        ({**GOOD, "line": 2**60}, VALUE),
        ({**GOOD, "id": "\ud800"}, VALUE),
        ({**GOOD, "kind": DEEP}, VALUE),
    ],
)
def test_a_part_says_its_words_in_its_line(record: dict[str, object], told: str) -> None:
    """Of whose text the digest is; nothing else has any. Only what lies in a folder of its own is named without one."""
    parsed_ = parse_line(canonical(record))
    assert (parsed_ if isinstance(parsed_, str) else "") == told
    assert told or (isinstance(parsed_, Seal) and parsed_.words == record.get("words", ""))


@pytest.mark.parametrize(
    ("kind", "days", "minutes", "told"),
    [
        (Kind.ENTRY, 0, -10, []),
        (Kind.ENTRY, 0, -11, [(2, "says that it was written before line 1: a clock was set back")]),
        (Kind.ENTRY, 1, 0, []),
        (Kind.INSPECTION, 2, 0, [(2, "seals work of 2026-02-12 and says that it was written before it")]),
        (Kind.RECORD, 2, 0, []),
    ],
)
def test_times_that_cannot_all_be_true(kind: Kind, days: int, minutes: int, told: list[tuple[int, str]]) -> None:
    """Two clocks may stand ten minutes apart, and it is tomorrow somewhere."""
    day, moment = (NOON + timedelta(days=days)).date(), NOON + timedelta(minutes=minutes)
    chain = parsed(lines_of(plain("a"), plain("b", kind=kind, date=day, sealed_at=moment)))
    assert [*chain.contradictions()] == told


def test_what_was_withdrawn_and_did_not_come_back() -> None:
    """Its last line; what is sealed again, with a reason or without, is there again."""
    chain = parsed(
        lines_of(plain("a"), plain("b"), plain("c"), gone("b", 2), gone("a", 1), plain("a"), gone("c", 3), gone("a", 6))
    )
    assert [(seal.id, seal.line) for seal in chain.withdrawn.values()] == [("b", 4), ("c", 7), ("a", 8)]
    assert not parsed(lines_of(plain("a"), gone("a", 1), amending("a", 2))).withdrawn


def test_a_branch_goes_by_its_head() -> None:
    """Other files are none; one that is cut, or was written anew, is told at the line behind its last."""
    head = parsed(SEVEN[:2]).head[:8]
    held = {f"branch-{head}.jsonl": SEVEN[:2], "branch-0.jsonl": SEVEN[:3], f"branch-{head}.txt": [], "a.jsonl": []}
    found = parse_branches(held, lambda name: b"".join(held[name]))
    told = "ends otherwise than its name says: lines were cut, or it was written anew"
    assert [(name, branch.fault) for name, branch in found.items()] == [
        ("branch-0.jsonl", ChainFault(file="branch-0.jsonl", line=4, message=told)),
        (f"branch-{head}.jsonl", None),
    ]
    other = parsed(lines_of(plain("d0"), plain("x"), plain("d2")))
    assert [shared_lines(parsed(SEVEN[:n]), other) for n in (0, 1, 7)] == [0, 1, 1]
    assert shared_lines(parsed(SEVEN), parsed(SEVEN[:3])) == 3
