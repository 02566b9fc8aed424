"""The chain of seals: what goes in, what is refused, and which line is named when it was tampered with.

Canonical form: RFC 8785, with the example of its section 3.2.2 for the library behind it.
"""

from __future__ import annotations

import json
import multiprocessing
import os
import shutil
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from hashlib import sha256
from pathlib import Path
from types import SimpleNamespace

import pytest
import rfc8785
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from making import MakeBuild, entry, read, view_of

from journal.base import digests, safe_write
from journal.base.problems import Grade, Problem
from journal.record import chain as chains
from journal.record import seals
from journal.record.chain import CHAIN, HEAD, Chain, Kind, Seal, parse_chain, read_chain
from journal.record.seals import (
    Amendment,
    Sealed,
    check_seals,
    find_decayed,
    seal,
    seal_story,
)

NOON = datetime(2026, 2, 10, 12, 0, tzinfo=UTC)
DAY = timedelta(days=1)
FLAP, SPAR = "2026-02-07-flap-ribs", "2026-02-08-spar"


@pytest.fixture(autouse=True)
def told_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Chains of what is told, so that lines are easily counted; rows and settings have test_sealed_parts.py."""
    monkeypatch.setattr(seals, "cut_parts", lambda read: ())


def no_reason(amendments: Sequence[Amendment]) -> None:
    """Nobody to ask."""


@pytest.fixture
def root(make_build: MakeBuild) -> Path:
    """Two entries and an inspection, three photos."""
    return make_build(
        {
            f"entries/{FLAP}/index.md": entry("steps: [5.1]"),
            f"entries/{FLAP}/IMG_1.jpg": b"one",
            f"entries/{FLAP}/IMG_2.jpg": b"two",
            f"entries/{FLAP}/clip.mov": b"a short film",
            f"entries/{SPAR}/index.md": entry("date: 2026-02-08\nassembly: left-wing"),
            "entries/2026-02-09-draft/index.md": entry("draft: true"),
            "inspections/2026-02-09-look/index.md": (
                "---\ndate: 2026-02-09\nassembly: flaps\ninspector: insp\noutcome: passed\n---\n\nSeen.\n"
            ),
            "inspections/2026-02-09-look/IMG_9.jpg": b"nine",
        }
    )


def put_seal(root: Path, now: datetime = NOON, reason: str = "") -> Sealed:
    """Seal what is there; fails the test where it is refused."""
    done, problems = seal(root, view_of(read(root)[0]), now=now, ask=lambda amendment: reason)
    assert not problems, problems
    assert done is not None
    return done


def lines_of(root: Path) -> list[bytes]:
    """The lines of the chain without their line feeds."""
    return (root / CHAIN).read_bytes().split(b"\n")[:-1]


def checked(root: Path) -> list[tuple[str, str]]:
    """(word, message) of what check says of the seals."""
    return [(problem.word, problem.message) for problem in check_seals(root, view_of(read(root)[0]))]


def test_first_seal_writes_one_line_for_each_entry_and_inspection(root: Path) -> None:
    """A line holds the digests of index.md, of each photo and clip, and of the line before; drafts get none."""
    done = put_seal(root)
    assert (done.new, done.amendments) == (3, 0)
    first, second, third = (json.loads(line) for line in lines_of(root))
    assert (first["kind"], first["id"], first["date"]) == ("entry", FLAP, "2026-02-07")
    assert first["text"] == sha256((root / f"content/entries/{FLAP}/index.md").read_bytes()).hexdigest()
    assert first["files"] == {
        "IMG_1.jpg": sha256(b"one").hexdigest(),
        "IMG_2.jpg": sha256(b"two").hexdigest(),
        "clip.mov": sha256(b"a short film").hexdigest(),
    }
    assert (first["sealed_at"], first["prev"]) == ("2026-02-10T12:00:00Z", "0" * 64)
    assert second["prev"] == sha256(lines_of(root)[0]).hexdigest()
    assert (third["kind"], third["files"]) == ("inspection", {"IMG_9.jpg": sha256(b"nine").hexdigest()})


def test_lines_are_canonical_json() -> None:
    """The form is that of RFC 8785: its own example comes out as printed there, sorted by UTF-16 units."""
    example = {
        "peach": "This sorting order",
        "péché": "is wrong according to French",
        "pêche": "but canonicalization MUST",
        "sin": "ignore locale",
    }
    assert rfc8785.dumps(example).decode() == (
        '{"peach":"This sorting order","péché":"is wrong according to French",'
        '"pêche":"but canonicalization MUST","sin":"ignore locale"}'
    )
    assert (
        rfc8785.dumps({"string": '€$\u000f\u000aA\'B"\\\\"/'}).decode()
        == '{"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    )


def test_every_line_written_is_read_back_alike(root: Path) -> None:
    """Rendering what was parsed gives the same bytes."""
    put_seal(root)
    chain = read_chain(root)
    assert b"".join(chains.render_line(line) for line in chain.seals) == (root / CHAIN).read_bytes()


def test_sealing_again_without_a_change_adds_nothing(root: Path) -> None:
    """The files stay as they are to the byte, times included."""
    put_seal(root)
    before = [((root / name).read_bytes(), (root / name).stat().st_mtime_ns) for name in (CHAIN, HEAD)]
    done = put_seal(root, NOON + DAY)
    assert (done.new, done.amendments) == (0, 0)
    assert [((root / name).read_bytes(), (root / name).stat().st_mtime_ns) for name in (CHAIN, HEAD)] == before


def test_a_new_entry_adds_a_line_and_touches_none(root: Path) -> None:
    """What was there stays the beginning of the file."""
    put_seal(root)
    before = (root / CHAIN).read_bytes()
    new = root / "content/entries/2026-02-11-more/index.md"
    new.parent.mkdir()
    new.write_text(entry("date: 2026-02-11"))
    assert put_seal(root, NOON + DAY).new == 1
    assert (root / CHAIN).read_bytes().startswith(before)
    assert len(lines_of(root)) == 4


def test_decay_after_the_first_seal_is_told_though_time_and_length_stay(root: Path) -> None:
    """A bit that turned on the disk changes no time of the file; what an amendment sealed since is no decay."""
    put_seal(root)
    view = view_of(read(root)[0])
    assert find_decayed(root, view) == ()
    path = root / "content/entries" / FLAP / "IMG_2.jpg"
    before = path.stat()
    path.write_bytes(b"twp")
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    (told,) = find_decayed(root, view)
    assert (told.word, told.file) == ("photo-damaged", f"content/entries/{FLAP}/index.md")
    assert '"IMG_2.jpg" no longer has the digest of its first seal (10 February 2026)' in told.message
    put_seal(root, NOON + DAY, reason="the wrong picture")
    assert find_decayed(root, view_of(read(root)[0])) == ()


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda folder: (folder / "index.md").write_text(entry("steps: [5.2]")), "the text changed"),
        (lambda folder: (folder / "IMG_1.jpg").write_bytes(b"another"), "IMG_1.jpg changed"),
        (lambda folder: (folder / "IMG_1.jpg").unlink(), "IMG_1.jpg taken away"),
        (lambda folder: (folder / "IMG_3.jpg").write_bytes(b"three"), "IMG_3.jpg added"),
        (lambda folder: (folder / "clip.mov").write_bytes(b"cut"), "clip.mov changed"),
    ],
)
def test_a_change_after_sealing_needs_a_reason(root: Path, change: Callable[[Path], object], told: str) -> None:
    """Without a reason nothing is written and the change is named; with one an amendment is added."""
    put_seal(root)
    before = (root / CHAIN).read_bytes()
    change(root / "content/entries" / FLAP)
    done, problems = seal(root, view_of(read(root)[0]), now=NOON + DAY, ask=no_reason)
    assert done is None
    assert [(p.grade, p.word, p.file) for p in problems] == [
        (Grade.ERROR, "changed-after-seal", f"content/entries/{FLAP}/index.md")
    ]
    assert told in problems[0].message
    assert (root / CHAIN).read_bytes() == before
    assert checked(root)[0][0] == "changed-after-seal"

    done = put_seal(root, NOON + DAY, reason="  the first\ntry was wrong ")
    assert (done.new, done.amendments) == (0, 1)
    added = json.loads(lines_of(root)[-1])
    assert (added["amends"], added["reason"]) == (1, "the first try was wrong")
    assert checked(root) == []


def test_the_reason_is_asked_for_each_amendment(root: Path) -> None:
    """Each is asked about by itself, and one without a reason stops all."""
    put_seal(root)
    for name in (FLAP, SPAR):
        (root / f"content/entries/{name}/index.md").write_text(entry("title: Changed"))
    asked: list[str] = []

    def ask(amendments: Sequence[Amendment]) -> str | None:
        (amendment,) = amendments
        asked.append(amendment.before.id)
        return "the title was missing" if amendment.before.id == FLAP else "   "

    done, problems = seal(root, view_of(read(root)[0]), now=NOON + DAY, ask=ask)
    assert asked == [FLAP, SPAR]
    assert done is None
    assert [problem.file for problem in problems] == [f"content/entries/{SPAR}/index.md"]
    assert len(lines_of(root)) == 3


def test_an_entry_taken_away_is_an_amendment(root: Path) -> None:
    """Deleting a sealed entry, or making it a draft, leaves a line that says so."""
    put_seal(root)
    (root / f"content/entries/{SPAR}/index.md").write_text(entry("draft: true"))
    done, problems = seal(root, view_of(read(root)[0]), now=NOON, ask=no_reason)
    assert done is None
    assert "no longer there" in problems[0].message
    put_seal(root, NOON + DAY, reason="written twice")
    added = json.loads(lines_of(root)[-1])
    assert (added["id"], added["withdrawn"], added["text"], added["files"]) == (SPAR, True, "", {})
    assert (Kind.ENTRY, SPAR) not in read_chain(root).current
    assert checked(root) == []


def test_a_renamed_folder_keeps_its_first_seal(root: Path) -> None:
    """The same text and photos under another name are one amendment, and the story starts with the first seal."""
    put_seal(root)
    (root / f"content/entries/{FLAP}").rename(root / "content/entries/2026-02-07-flaps")
    done = put_seal(root, NOON + 5 * DAY, reason="a better name")
    assert (done.new, done.amendments) == (0, 1)
    assert seal_story(done.chain, Kind.ENTRY, FLAP).words == "not sealed"
    assert seal_story(done.chain, Kind.ENTRY, "2026-02-07-flaps").words == (
        "sealed 3 days after the work; amended on 15 February 2026 because a better name"
    )


def test_a_renamed_folder_that_says_so_keeps_its_first_seal(root: Path) -> None:
    """`formerly` changes the text: what ties the two together is then that line, and both are told. Added later, once
    the new name is sealed, it is an amendment of the text like any other.
    """
    put_seal(root)
    old, new = (root / f"content/entries/{name}" for name in (SPAR, "2026-02-08-spars"))
    old.rename(new)
    text = new / "index.md"
    text.write_text(text.read_text().replace("---\n", f"---\nformerly: {SPAR}\n", 1))
    said = f'entry "{SPAR}" is now called "2026-02-08-spars"; the text changed'
    assert [problem.message for problem in check_seals(root, view_of(read(root)[0]))] == [
        f"changed after it was sealed on 10 February 2026: {said}"
    ]
    done = put_seal(root, NOON + DAY, "a better name")
    assert (done.new, done.amendments) == (0, 1)
    story = seal_story(read_chain(root), Kind.ENTRY, "2026-02-08-spars")
    assert story.words.endswith("amended on 11 February 2026 because a better name")
    assert checked(root) == []


def test_the_story_of_an_entry(root: Path) -> None:
    """Pages say when it was sealed after the work, and each amendment with its reason."""
    put_seal(root)
    (root / f"content/entries/{FLAP}/IMG_1.jpg").write_bytes(b"sharper")
    put_seal(root, datetime(2026, 5, 2, 9, 0, tzinfo=UTC), reason="Because it is sharper.".removeprefix("Because "))
    chain = read_chain(root)
    assert seal_story(chain, Kind.ENTRY, FLAP).words == (
        "sealed 3 days after the work; amended on 2 May 2026 because it is sharper"
    )
    assert seal_story(chain, Kind.ENTRY, SPAR).words == "sealed 2 days after the work"
    assert seal_story(chain, Kind.INSPECTION, "2026-02-09-look").words == "sealed 1 day after the inspection"
    assert seal_story(chain, Kind.ENTRY, "2026-02-09-draft").words == "not sealed"


def test_the_story_counts_days_in_the_zone_of_the_build(root: Path) -> None:
    """Half an hour before midnight in London is the next day in Zurich."""
    put_seal(root, datetime(2026, 2, 7, 23, 30, tzinfo=UTC))
    chain = read_chain(root)
    assert seal_story(chain, Kind.ENTRY, FLAP).words == "sealed on the day of the work"
    assert seal_story(chain, Kind.ENTRY, FLAP, "Europe/Zurich").words == "sealed 1 day after the work"
    assert seal_story(chain, Kind.ENTRY, SPAR).words == "sealed 1 day before the work"


# --- tampering -----------------------------------------------------------------------------------


def long_chain(root: Path) -> list[bytes]:
    """Seven lines: the three of `root` and four entries more."""
    for number in range(4):
        folder = root / f"content/entries/2026-02-0{number + 1}-day"
        folder.mkdir()
        (folder / "index.md").write_text(entry(f"date: 2026-02-0{number + 1}"))
    put_seal(root)
    return lines_of(root)


Lines = list[bytes]


def edited(line: bytes) -> bytes:
    """A line sealed two hours earlier, otherwise canonical."""
    assert b"T12:00:00Z" in line
    return line.replace(b"T12:00:00Z", b"T10:00:00Z")


@pytest.mark.parametrize(
    ("tamper", "line", "told"),
    [
        (lambda x: x[1:], 1, "line 1 of the chain was cut out"),
        (lambda x: x[:2] + x[3:], 3, "line 3 of the chain was cut out"),
        (lambda x: x[:2] + x[5:], 3, "lines 3 to 5 of the chain were cut out"),
        (lambda x: x[:-1], 7, "line 7 was cut off the end of the chain"),
        (lambda x: x[:-3], 5, "lines 5 to 7 were cut off the end of the chain"),
        (lambda x: [], 1, "lines 1 to 7 were cut off the end of the chain"),
        (lambda x: [*x[:2], x[3], x[2], *x[4:]], 3, "the lines were put in another order"),
        (lambda x: [x[6], *x[:6]], 1, "the lines were put in another order"),
        (lambda x: [*x[:4], x[3], *x[4:]], 5, "line 5 is a second copy of line 4"),
        (lambda x: [*x, x[6]], 8, "line 8 is a second copy of line 7"),
        (lambda x: [*x[:4], edited(x[4]), *x[5:]], 5, "line 5 was edited"),
        (lambda x: [edited(x[0]), *x[1:]], 1, "line 1 was edited"),
        (lambda x: [*x[:6], edited(x[6])], 7, "line 7 was edited"),
        (lambda x: [*x[:4], x[4].replace(b'"id":"20', b'"id":"21'), *x[5:]], 5, "line 5 was edited"),
        (lambda x: [*x[:4], b"{}", *x[5:]], 5, "line 5 lacks"),
        (lambda x: [*x[:4], b"[1]", *x[5:]], 5, "line 5 is not a JSON object"),
        (lambda x: [*x[:4], b"not json", *x[5:]], 5, "line 5 is not JSON"),
        (lambda x: [*x[:4], b"\xff\xfe", *x[5:]], 5, "line 5 is not JSON"),
        (lambda x: [*x[:4], b"", *x[4:]], 5, "line 5 is not JSON"),
        (lambda x: [*x[:4], b"[" * 100_000, *x[5:]], 5, "line 5 is not JSON"),
        (lambda x: [*x[:4], x[4].replace(b'":"', b'": "'), *x[5:]], 5, "line 5 is not in the form"),
        (lambda x: [*x[:4], x[4].replace(b'"line":5', b'"line":5,"line":5'), *x[5:]], 5, "line 5 is not in the form"),
        (lambda x: [line + b"\r" for line in x], 1, "line 1"),
        (lambda x: [b"\xef\xbb\xbf" + x[0], *x[1:]], 1, "line 1"),
        (lambda x: [*x[:4], x[4].replace(b'"kind":"entry"', b'"kind":"page"'), *x[5:]], 5, "line 5 holds a value"),
        (lambda x: [*x[:4], x[4].replace(b'"line":5', b'"line":9'), *x[5:]], 5, "line"),
    ],
)  # fmt: skip
def test_tampering_names_the_first_bad_line(root: Path, tamper: Callable[[Lines], Lines], line: int, told: str) -> None:
    """Cutting, reordering, copying and editing are each told, with the line; the lines before it hold."""
    tampered = tamper(long_chain(root))
    (root / CHAIN).write_bytes(b"".join(raw + b"\n" for raw in tampered))
    chain = read_chain(root)
    assert chain.fault is not None
    assert (chain.fault.file, chain.fault.line) == (CHAIN, line)
    assert told in chain.fault.message
    assert len(chain.seals) == line - 1
    problem, *others = check_seals(root, view_of(read(root)[0]))
    assert not others
    assert (problem.grade, problem.word, problem.file, problem.line) == (Grade.ERROR, "seal-chain", CHAIN, line)


def test_no_single_bit_of_the_chain_can_change_unseen(root: Path) -> None:
    """Every one of the bits of a short chain, flipped alone, is found and the line or its neighbour named."""
    put_seal(root)
    data, head = (root / CHAIN).read_bytes(), (root / HEAD).read_bytes()
    for position in range(len(data) * 8):
        flipped = bytearray(data)
        flipped[position // 8] ^= 1 << position % 8
        fault = parse_chain(bytes(flipped), head).fault
        assert fault is not None, position
        line = data.count(b"\n", 0, position // 8) + 1
        assert fault.line in (line, line + 1), (position, fault)


def test_no_single_bit_of_the_head_can_change_unseen(root: Path) -> None:
    """A head.json with a flipped bit is itself named as edited, or no longer fits the chain."""
    put_seal(root)
    data, head = (root / CHAIN).read_bytes(), (root / HEAD).read_bytes()
    for position in range(len(head) * 8):
        flipped = bytearray(head)
        flipped[position // 8] ^= 1 << position % 8
        assert parse_chain(data, bytes(flipped)).fault is not None, position


def test_a_broken_chain_is_not_sealed_further(root: Path) -> None:
    """Sealing on top would bury the damage: it is refused and nothing is written."""
    broken = b"".join(line + b"\n" for line in long_chain(root)[1:])
    (root / CHAIN).write_bytes(broken)
    done, problems = seal(root, view_of(read(root)[0]), now=NOON, ask=no_reason)
    assert done is None
    assert [problem.word for problem in problems] == ["seal-chain"]
    assert (root / CHAIN).read_bytes() == broken


def test_a_last_line_without_an_end_is_found(root: Path) -> None:
    """Wherever the file breaks off inside its last line, that line is named and the ones before it hold."""
    put_seal(root)
    data = (root / CHAIN).read_bytes()
    start = data.rindex(b"\n", 0, -1) + 1
    for end in range(start + 1, len(data)):
        chain = parse_chain(data[:end], (root / HEAD).read_bytes())
        assert chain.fault is not None
        assert (chain.fault.line, len(chain.seals)) == (3, 2)
        assert "breaks off" in chain.fault.message


def test_a_cut_at_the_end_without_a_head_is_said_to_be_invisible(root: Path) -> None:
    """Without head.json the chain holds, and check says that a cut at its end would not be seen."""
    put_seal(root)
    (root / HEAD).unlink()
    (root / CHAIN).write_bytes(b"".join(line + b"\n" for line in lines_of(root)[:-1]))
    assert read_chain(root).fault is None
    assert [word for word, _ in checked(root)] == ["seal-head"]


def test_a_clock_set_back_is_told(root: Path) -> None:
    """A line earlier than the one before it is a finding: the chain orders, the clock does not."""
    put_seal(root)
    (root / f"content/entries/{FLAP}/IMG_1.jpg").write_bytes(b"x")
    put_seal(root, NOON - DAY, reason="why not")
    assert [word for word, _ in checked(root)] == ["seal-clock"]


def test_an_entry_put_in_behind_later_ones_is_told(root: Path) -> None:
    """Three weeks older than what was sealed before it, until it says why; two weeks are no matter."""
    put_seal(root)
    for day in ("2026-01-15", "2026-01-26"):
        (root / f"content/entries/{day}-found").mkdir()
        (root / f"content/entries/{day}-found/index.md").write_text(entry(f"date: {day}"), "utf-8")
    put_seal(root, NOON + DAY)
    ((word, message),) = checked(root)
    assert word == "sealed-late"
    assert message == (
        "dated 15 January 2026 and sealed first on 11 February 2026, "
        "when entries up to 8 February 2026 were sealed already"
    )
    answered = entry("date: 2026-01-15\nanswers: {sealed-late: The note lay in a drawer.}")
    (root / "content/entries/2026-01-15-found/index.md").write_text(answered, "utf-8")
    put_seal(root, NOON + 2 * DAY, reason="why so late")
    assert checked(root) == []


@given(st.lists(st.integers(0, 6), max_size=12))
@settings(max_examples=200, deadline=None)
def test_only_a_beginning_of_the_chain_holds(order: list[int]) -> None:
    """Any selection and order of lines other than the first n is found, head.json or not."""
    lines = _seven_lines()
    data = b"".join(lines[number] for number in order)
    chain = parse_chain(data)
    assert (chain.fault is None) == (order == list(range(len(order))))


def _seven_lines() -> list[bytes]:
    lines: list[bytes] = []
    prev = chains.NO_LINE
    for number in range(1, 8):
        raw = chains.render_line(
            chains.Seal(
                line=number, kind=Kind.ENTRY, id=f"day-{number}", date=date(2026, 1, number), text="ab" * 32,
                files={}, sealed_at=NOON, prev=prev,
            )
        )  # fmt: skip
        prev = sha256(raw[:-1]).hexdigest()
        lines.append(raw)
    return lines


@given(st.binary(max_size=400), st.one_of(st.none(), st.binary(max_size=200)))
@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_garbage_is_a_fault_never_an_exception(data: bytes, head: bytes | None) -> None:
    """Whatever lies in the two files, parsing gives a chain and perhaps a fault."""
    chain = parse_chain(data, head)
    assert chain.seals == ()
    assert (chain.fault is None) == (data == b"" and head is None)


KEYS = ["line", "prev", "files", "id", "kind", "text", "date", "sealed_at", "amends", "reason", "withdrawn"]
VALUES = st.none() | st.booleans() | st.integers(-3, 3) | st.text(max_size=5)


@given(
    st.recursive(
        VALUES, lambda x: st.lists(x, max_size=3) | st.dictionaries(st.sampled_from(KEYS), x, max_size=len(KEYS))
    )
)
@settings(deadline=None)
def test_wrong_json_is_a_fault_never_an_exception(value: object) -> None:
    """Any JSON at all that is no seal is a fault of line 1."""
    chain = parse_chain(rfc8785.dumps(value) + b"\n")  # type: ignore[arg-type]
    assert chain.fault is not None
    assert chain.fault.line == 1


def test_amendments_must_amend_what_is_in_force() -> None:
    """A hand-made chain that seals twice, or amends a line already amended, is refused at that line."""

    def chain_of(*parts: tuple[str, int | None]) -> Chain:
        lines, prev = [], chains.NO_LINE
        for number, (name, amends) in enumerate(parts, start=1):
            raw = chains.render_line(
                chains.Seal(
                    line=number, kind=Kind.ENTRY, id=name, date=date(2026, 1, 1), text="ab" * 32, files={},
                    sealed_at=NOON, prev=prev, amends=amends, reason="because" if amends else "",
                )
            )  # fmt: skip
            prev = sha256(raw[:-1]).hexdigest()
            lines.append(raw)
        return parse_chain(b"".join(lines))

    assert chain_of(("a", None), ("b", None), ("a", 1), ("a", 3)).fault is None
    for bad in (
        [("a", None), ("a", None)],
        [("a", None), ("a", 1), ("a", 1)],
        [("a", None), ("b", None), ("a", 2)],
        [("a", 1)],
        [("a", None), ("b", 7)],
    ):
        fault = chain_of(*bad).fault
        assert fault is not None
        assert fault.line == len(bad)


# --- stopped half-way, and two at once -----------------------------------------------------------


@pytest.mark.parametrize("stop_before", ["write", "fsync", "replace"])
@pytest.mark.parametrize("file", [CHAIN, HEAD])
def test_a_seal_stopped_anywhere_leaves_a_valid_chain(
    root: Path, monkeypatch: pytest.MonkeyPatch, stop_before: str, file: str
) -> None:
    """Power gone before any step of writing either file: no line is lost, and the next seal goes on."""
    put_seal(root)
    before = lines_of(root)
    (root / f"content/entries/{FLAP}/IMG_1.jpg").write_bytes(b"x")
    plain, scratch = root / file, safe_write.scratch_of(root / file)

    class PowerCut(BaseException):
        pass

    with monkeypatch.context() as patch:
        if stop_before == "write":
            real = safe_write.write_whole

            def cut(path: Path, data: bytes, **more: bool) -> None:
                if path == plain:
                    scratch.write_bytes(data[: len(data) // 2])
                    raise PowerCut
                real(path, data, **more)

            patch.setattr(seals, "write_whole", cut)
        elif stop_before == "fsync":
            real_sync = os.fsync

            def cut_sync(handle: int) -> None:
                if scratch.exists():
                    raise PowerCut
                real_sync(handle)

            patch.setattr(os, "fsync", cut_sync)
        else:
            real_replace = Path.replace

            def cut_replace(self: Path, target: Path) -> Path:
                if self == scratch:
                    raise PowerCut
                return real_replace(self, target)

            patch.setattr(Path, "replace", cut_replace)
        with pytest.raises(PowerCut):
            seal(root, view_of(read(root)[0]), now=NOON + DAY, ask=lambda amendment: "a reason")
    chain = read_chain(root)
    assert chain.fault is None
    assert lines_of(root)[: len(before)] == before
    put_seal(root, NOON + DAY, reason="a reason")
    assert len(lines_of(root)) == 4
    assert checked(root) == []
    assert not scratch.exists()


def _seal_in_another_process(root: Path, number: int) -> None:
    folder = root / f"content/entries/2026-02-{number + 1:02}-day"
    folder.mkdir()
    (folder / "index.md").write_text(entry(f"date: 2026-02-{number + 1:02}"))
    for _ in range(3):
        seal(root, view_of(read(root)[0]), now=NOON, ask=lambda amendment: "another process was faster")


def test_seals_at_once_do_not_interleave(root: Path) -> None:
    """Four processes that seal the same build at the same time leave one valid chain with every entry once."""
    context = multiprocessing.get_context("fork")
    processes = [context.Process(target=_seal_in_another_process, args=(root, number)) for number in range(4)]
    for process in processes:
        process.start()
    for process in processes:
        process.join(30)
        assert process.exitcode == 0
    put_seal(root, reason="the last one to look")
    chain = read_chain(root)
    assert chain.fault is None
    assert {name for _, name in chain.current} >= {f"2026-02-{number + 1:02}-day" for number in range(4)}
    assert checked(root) == []


def test_a_seal_that_waits_too_long_says_so(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """While another seal holds the lock this one ends with a message and writes nothing."""
    import filelock

    (root / ".journal").mkdir()
    monkeypatch.setattr(seals, "PATIENCE_SECONDS", 0.05)
    with filelock.FileLock(root / ".journal/seal.lock"):
        done, problems = seal(root, view_of(read(root)[0]), now=NOON, ask=no_reason)
    assert done is None
    assert [told_of(problem) for problem in problems] == [
        (Grade.ERROR, CHAIN, None, None, "seal-busy", "another seal of this build is running", "wait, then seal again")
    ]
    assert not (root / CHAIN).exists()


def test_a_build_that_was_never_sealed_has_nothing_to_say(root: Path) -> None:
    """Check is silent about seals where there are none."""
    assert checked(root) == []


# --- the digest helper ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("message", "digest"),
    [
        (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
        (b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
        (
            b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
        ),
        (
            b"abcdefghbcdefghicdefghijdefghijkefghijklfghijklmghijklmnhijklmnoijklmnopjklmnopqklmnopqrlmnopqrsmnopqrstnopqrstu",
            "cf5b16a778af8380036ce59e7b0492370b249b11e8f07a51afac45037afee9d1",
        ),
        (b"a" * 1_000_000, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"),
    ],
)
def test_digests_are_those_of_fips_180_4(tmp_path: Path, message: bytes, digest: str) -> None:
    """The one-block, two-block and long messages that go with FIPS 180-4, read whole, from a file, and copied."""
    path, copy = tmp_path / "message", tmp_path / "copy"
    path.write_bytes(message)
    assert digests.sha256_of(message) == digest
    assert digests.file_sha256(path) == (digest, len(message))
    assert digests.copy_with_sha256(path, copy) == (digest, len(message))
    assert copy.read_bytes() == message
    assert copy.stat().st_mtime_ns == path.stat().st_mtime_ns


def test_work_goes_from_the_largest_to_the_smallest_and_tells_how_far_it_is() -> None:
    """Every item once with its result; progress is told in bytes and ends at all of them; a failure is not lost."""
    told: list[tuple[int, int]] = []
    sizes = {"a": 1, "film": 700, "b": 20, "nothing": 0}
    done = list(digests.largest_first(str.upper, sizes, lambda *far: told.append(far)))
    assert done == [("film", "FILM"), ("b", "B"), ("a", "A"), ("nothing", "NOTHING")]
    assert told == [(700, 721), (720, 721), (721, 721), (721, 721)]
    with pytest.raises(ValueError, match="invalid literal"):
        list(digests.largest_first(int, sizes, lambda *far: None))


# --- word for word -------------------------------------------------------------------------------


def told_of(problem: Problem) -> tuple[Grade, str, int | None, int | None, str, str, str]:
    """All of a problem."""
    return problem.grade, problem.file, problem.line, problem.column, problem.word, problem.message, problem.hint


def test_what_check_says_word_for_word(root: Path) -> None:
    """A broken chain, a lost head, a clock set back, a change: place, words and mend."""
    put_seal(root)
    (root / f"content/entries/{FLAP}/IMG_1.jpg").write_bytes(b"x")
    put_seal(root, NOON - DAY, reason="why not")
    (root / f"content/entries/{SPAR}").rename(root / "content/entries/2026-02-08-spars")
    (root / "content/inspections/2026-02-09-look/index.md").unlink()
    (root / HEAD).unlink()
    view = view_of(read(root)[0])
    reason = 'say why: journal seal --reason "\u2026"'
    assert [told_of(problem) for problem in check_seals(root, view)] == [
        (
            Grade.FINDING,
            HEAD,
            None,
            None,
            "seal-head",
            "head.json is gone: a cut at the end would not be seen",
            "run journal seal",
        ),
        (
            Grade.FINDING,
            CHAIN,
            4,
            1,
            "seal-clock",
            "line 4 says that it was written before line 3: a clock was set back",
            "set the clock of this machine",
        ),
        (
            Grade.FINDING,
            "content/entries/2026-02-08-spars/index.md",
            None,
            None,
            "changed-after-seal",
            f'changed after it was sealed on 10 February 2026: entry "{SPAR}" is now called "2026-02-08-spars"',
            reason,
        ),
        (
            Grade.FINDING,
            "content/inspections/2026-02-09-look/index.md",
            None,
            None,
            "changed-after-seal",
            'changed after it was sealed on 10 February 2026: inspection "2026-02-09-look" is no longer there '
            "(deleted, or made a draft)",
            reason,
        ),
    ]
    (root / CHAIN).write_bytes((root / CHAIN).read_bytes()[:-5])
    assert [told_of(problem) for problem in check_seals(root, view)] == [
        (
            Grade.ERROR,
            CHAIN,
            4,
            1,
            "seal-chain",
            "line 4 breaks off in the middle: it was not written to its end",
            "put back seals.jsonl and seals/ from your last archive; docs/seals.md tells what to do without one",
        )
    ]
    assert [told_of(problem) for problem in seal(root, view, now=NOON, ask=lambda amendment: "x")[1]] == [
        told_of(check_seals(root, view)[0])
    ]


def test_what_a_refused_seal_says_word_for_word(root: Path) -> None:
    """Without a reason; and with one that cannot be written down."""
    put_seal(root)
    (root / f"content/entries/{FLAP}/IMG_1.jpg").write_bytes(b"x")
    view = view_of(read(root)[0])
    done, problems = seal(root, view, now=NOON, ask=no_reason)
    assert done is None
    assert [told_of(problem) for problem in problems] == [
        (
            Grade.ERROR,
            f"content/entries/{FLAP}/index.md",
            None,
            None,
            "changed-after-seal",
            f'changed after it was sealed on 10 February 2026: entry "{FLAP}": IMG_1.jpg changed',
            'say why: journal seal --reason "\u2026"',
        )
    ]
    done, problems = seal(root, view, now=NOON, ask=lambda amendment: "half a sign \ud800")
    assert done is None
    assert [told_of(problem) for problem in problems] == [
        (Grade.ERROR, CHAIN, None, None, "seal-name", "a file name or the reason is not UTF-8 text", "rename the file")
    ]
    assert len(lines_of(root)) == 3


def test_the_contents_of_a_build(root: Path) -> None:
    """By day, entries before inspections, by name; of some alone where these are asked for."""
    view = view_of(read(root)[0])
    contents = seals.read_contents(root, view)
    digests_ = {
        name: sha256(data).hexdigest() for name, data in (("IMG_9.jpg", b"nine"), ("clip.mov", b"a short film"))
    }
    assert [(one.kind, one.id, one.date.day) for one in contents] == [
        (Kind.ENTRY, FLAP, 7),
        (Kind.ENTRY, SPAR, 8),
        (Kind.INSPECTION, "2026-02-09-look", 9),
    ]
    assert sorted(contents[0].files) == ["IMG_1.jpg", "IMG_2.jpg", "clip.mov"]
    assert contents[0].files["clip.mov"] == digests_["clip.mov"]
    assert contents[2].files == {"IMG_9.jpg": digests_["IMG_9.jpg"]}
    assert contents[2].text == sha256((root / "content/inspections/2026-02-09-look/index.md").read_bytes()).hexdigest()
    assert seals.read_contents(root, view, {(Kind.ENTRY, SPAR)}) == contents[1:2]
    assert seals.read_contents(root, view, ()) == ()


def test_digests_known_from_reading_are_not_worked_out_again(root: Path) -> None:
    """Those that the build was read with hold, until a line is written: then the files are read."""
    view = view_of(read(root)[0])
    known = replace(
        view,
        entries=tuple(
            replace(one, photos=tuple(replace(photo, sha256="ef" * 32) for photo in one.photos)) for one in view.entries
        ),
    )
    assert seals.read_contents(root, known)[0].files["IMG_1.jpg"] == "ef" * 32
    assert seals.read_contents(root, known, {(Kind.ENTRY, FLAP)}) == seals.read_contents(root, view)[:1]
    done, _ = seal(root, known, now=NOON, ask=no_reason)
    assert done is not None
    assert done.chain.seals[0].files["IMG_1.jpg"] == sha256(b"one").hexdigest()


def test_an_entry_of_the_same_day_as_an_inspection_comes_first(root: Path) -> None:
    """Whatever they are called."""
    folder = root / "content/entries/2026-02-09-z"
    folder.mkdir()
    (folder / "index.md").write_text(entry("date: 2026-02-09"))
    contents = seals.read_contents(root, view_of(read(root)[0]))
    assert [one.id for one in contents] == [FLAP, SPAR, "2026-02-09-z", "2026-02-09-look"]


def test_a_measurement_is_sealed_after_the_rest_of_its_day(root: Path) -> None:
    """Text and pictures, as a line of its own kind; its story speaks of the measurement, and a change is told."""
    folder = root / "content/measurements/2026-02-09-gap"
    folder.mkdir(parents=True)
    text = "---\ndate: 2026-02-09\nassembly: flaps\nmeasured_by: ada\nresults: [{what: gap, value: 2 mm}]\n---\n"
    (folder / "index.md").write_text(text, "utf-8")
    (folder / "gap.jpg").write_bytes(b"a gap")
    put_seal(root)
    last = json.loads(lines_of(root)[-1])
    assert (last["kind"], last["id"], list(last["files"])) == ("measurement", "2026-02-09-gap", ["gap.jpg"])
    story = seal_story(read_chain(root), Kind.MEASUREMENT, "2026-02-09-gap")
    assert story.words == "sealed 1 day after the measurement"
    (folder / "index.md").write_text(text.replace("2 mm", "3 mm"), "utf-8")
    assert [told for told in checked(root) if "gap" in " ".join(told)]


def test_entries_of_a_day_are_sealed_by_name(make_build: MakeBuild) -> None:
    """Not by clock times, which may be mended later; inspections likewise."""
    look = "---\ndate: 2026-02-07\nassembly: flaps\ninspector: insp\noutcome: passed\n---\n"
    root = make_build(
        {
            "entries/b/index.md": entry("hours: 8:00-9:00"),
            "entries/a/index.md": entry("hours: 20:00-21:00"),
            "entries/c/index.md": entry("hours: 7:00-8:00"),
            "inspections/b/index.md": look,
            "inspections/a/index.md": look,
        }
    )
    assert [json.loads(line)["id"] for line in lines_of_sealed(root)] == ["a", "b", "c", "a", "b"]


def lines_of_sealed(root: Path) -> list[bytes]:
    """The lines after a first seal."""
    put_seal(root)
    return lines_of(root)


def test_times_are_of_utc_and_whole_seconds(root: Path) -> None:
    """Whatever zone the clock is in."""
    put_seal(root, datetime(2026, 2, 10, 1, 2, 3, 987_654, tzinfo=timezone(timedelta(hours=2))))
    assert {json.loads(line)["sealed_at"] for line in lines_of(root)} == {"2026-02-09T23:02:03Z"}


def test_amendments_come_before_what_is_new(root: Path) -> None:
    """A new entry may take the name that a renamed one left free."""
    put_seal(root)
    (root / f"content/entries/{FLAP}").rename(root / "content/entries/2026-02-07-flaps")
    (root / f"content/entries/{FLAP}").mkdir()
    (root / f"content/entries/{FLAP}/index.md").write_text(entry("title: Another"))
    done = put_seal(root, NOON + DAY, reason="  renamed\n twice ")
    # Its old name holds another text now, so the old seal is amended and the folder renamed is new.
    assert (done.new, done.amendments) == (1, 1)
    fourth, fifth = done.chain.seals[3:]
    assert (fourth.id, fourth.amends, fourth.reason) == (FLAP, 1, "renamed twice")
    assert (fifth.id, fifth.amends, fifth.line) == ("2026-02-07-flaps", None, 5)
    assert json.loads((root / HEAD).read_bytes()) == {"line": 5, "sha256": done.chain.head}
    assert done.chain.seals == read_chain(root).seals


def test_nothing_to_seal_writes_nothing(make_build: MakeBuild) -> None:
    """A build without entries has no chain and no head."""
    root = make_build({})
    done = put_seal(root)
    assert (done.new, done.amendments, done.chain) == (0, 0, Chain())
    assert not (root / CHAIN).exists()
    assert not (root / HEAD).exists()
    assert check_seals(root, view_of(read(root)[0])) == ()


def test_a_head_that_is_gone_is_written_again(root: Path) -> None:
    """By the next seal, though there is nothing new."""
    put_seal(root)
    head = (root / HEAD).read_bytes()
    (root / HEAD).unlink()
    put_seal(root)
    assert (root / HEAD).read_bytes() == head


def test_late_is_more_than_two_weeks_before_what_another_run_sealed() -> None:
    """What one run seals has no order; newer ones of later runs count, inspections and what is answered do not."""
    days = {"a": 8, "b": -40, "c": -6, "d": -7, "e": 20, "f": 5, "g": 5, "gone": 5}
    runs = {"a": 0, "b": 0, "c": 1, "d": 1, "e": 1, "f": 2, "g": 2, "gone": 2}
    seals_ = [
        Seal(
            kind=Kind.ENTRY,
            id=name,
            date=date(2026, 2, 1) + (day - 1) * DAY,
            text="",
            sealed_at=NOON + runs[name] * DAY,
        )
        for name, day in days.items()
    ]
    seals_ += [replace(seals_[1], kind=Kind.INSPECTION), replace(seals_[1], amends=2, sealed_at=NOON + 3 * DAY)]
    entries = [
        SimpleNamespace(id=name, src_uri=f"{name}.md", answers={"sealed-late": "x"} if name == "g" else {})
        for name in days
        if name != "gone"
    ]
    found = seals._sealed_late(Chain(seals=tuple(seals_)), SimpleNamespace(entries=entries))  # type: ignore[arg-type]
    said = "dated {} 2026 and sealed first on {} February 2026, when entries up to {} February 2026 were sealed already"
    hint = "say when it was written, and why so late: `answers: {sealed-late: reason}`"
    assert [told_of(one) for one in found] == [
        (Grade.FINDING, "d.md", None, None, "sealed-late", said.format("24 January", 11, 8), hint),
        (Grade.FINDING, "f.md", None, None, "sealed-late", said.format("5 February", 12, 20), hint),
    ]


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [
        ("a", "a", ""),
        ("a\nb", "a\nc", '"b" became "c"'),
        ("a\nb\nc", "c", '"a / b" became nothing'),
        ("", "x: 1", 'nothing became "x: 1"'),
        ("a\nb\nc", "x\nb\ny\nz", '"a" became "x"; "c" became "y / z"'),
        ("a\nb\n" * 150 + "c", "a\nb\n" * 75 + "x\nb\n" + "a\nb\n" * 74 + "c", '"a" became "x"'),
    ],
)
def test_what_became_of_the_words_of_a_row(before: str, after: str, told: str) -> None:
    """Line by line, what went and what came in its place."""
    assert seals.changed_words(before, after) == told


def test_records_are_all_files_but_their_list_and_what_is_hidden(root: Path) -> None:
    """By name, in folders as well; of some alone where these are asked for."""
    names = ["b.txt", "a/c.txt", "records.csv", ".x.txt", ".git/d.txt", "a/.e.txt"]
    for name in names:
        path = root / "content/records" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(name, "utf-8")
    view = view_of(read(root)[0])
    found = [one for one in seals.read_contents(root, view) if one.kind is Kind.RECORD]
    assert [(one.id, one.text) for one in found] == [
        (name, sha256(name.encode()).hexdigest()) for name in ("a/c.txt", "b.txt")
    ]
    assert seals.read_contents(root, view, {(Kind.RECORD, "b.txt")}) == tuple(found[1:])


def test_decay_is_asked_of_pictures_that_are_there_and_sealed(root: Path) -> None:
    """One that is gone is told elsewhere, a new one is not sealed, a broken chain tells nothing; day and words."""
    put_seal(root)
    folder = root / "content/entries" / FLAP
    (folder / "IMG_3.jpg").write_bytes(b"three")
    (folder / "clip.mov").write_bytes(b"decayed")
    view = view_of(read(root)[0])
    (folder / "IMG_2.jpg").unlink()
    said = '"clip.mov" no longer has the digest of its first seal (10 February 2026): changed or decayed'
    hint = "take it out of an archive or a backup; where the change is meant, seal it with its reason"
    file = f"content/entries/{FLAP}/index.md"
    assert [told_of(one) for one in find_decayed(root, view)] == [
        (Grade.FINDING, file, None, None, "photo-damaged", said, hint)
    ]
    (folder / "IMG_2.jpg").write_bytes(b"two")
    put_seal(root, NOON + DAY, reason="a better cut, and one more")
    (folder / "IMG_3.jpg").write_bytes(b"x")
    assert "first seal (11 February 2026)" in find_decayed(root, view)[0].message
    (folder / "clip.mov").write_bytes(b"a short film")
    assert len(find_decayed(root, view)) == 1
    (root / CHAIN).write_bytes((root / CHAIN).read_bytes()[:-1])
    assert find_decayed(root, view) == ()


def test_where_a_change_is_told_that_lies_in_no_text(root: Path) -> None:
    """At the record, and at the folder of what is gone."""
    (root / "content/records").mkdir()
    (root / "content/records/a.txt").write_bytes(b"a")
    put_seal(root)
    (root / "content/records/a.txt").write_bytes(b"b")
    assert [(one.file, one.line, one.message) for one in check_seals(root, view_of(read(root)[0]))] == [
        ("content/records/a.txt", None, 'changed after it was sealed on 10 February 2026: record "a.txt": it changed')
    ]


def test_what_was_joined_is_told_beside_what_refused_the_seal(root: Path, tmp_path: Path) -> None:
    """The join holds: the seal is typed again without it. Nothing joined, nothing told."""
    put_seal(root)
    shutil.copy(root / CHAIN, tmp_path / "other.jsonl")
    (root / f"content/entries/{FLAP}/IMG_1.jpg").write_bytes(b"x")
    view = view_of(read(root)[0])
    done, problems = seal(root, view, now=NOON, ask=no_reason, join=tmp_path / "other.jsonl")
    said = "Joined: both chains share 3 lines; the other held nothing more"
    hint = "journal seal again, without --join"
    assert done is None
    assert told_of(problems[0]) == (Grade.FINDING, CHAIN, None, None, "seal-joined", said, hint)
    assert [one.word for one in problems] == ["seal-joined", "changed-after-seal"]
    done, _ = seal(root, view, now=NOON, ask=lambda amendment: "x", join=tmp_path / "other.jsonl")
    assert done is not None
    assert done.joined == f"{said}."
    assert put_seal(root).joined == ""
