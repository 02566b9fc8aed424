"""Seals: a chain of lines in content/seals.jsonl that fixes what was written, and in which order.

Each line is one JSON object in the canonical form of RFC 8785 (keys sorted, no spaces, UTF-8) and
one line feed:

    amends     number of the line this one takes the place of; only in an amendment
    date       the day of the work as the entry told it when it was sealed
    files      name -> SHA-256 of every photo and clip of the folder
    id         name of the folder
    kind       "entry" or "inspection"
    line       number of this line, from 1
    prev       SHA-256 of the line before without its line feed; 64 noughts in line 1
    reason     why it was changed; only in an amendment
    sealed_at  time of sealing by the clock of the builder's machine, RFC 3339, UTC, whole seconds
    text       SHA-256 of index.md, byte for byte; "" where the entry was withdrawn
    withdrawn  true where the entry is no longer there; only in an amendment

content/seals/head.json repeats number and digest of the last line, so that a cut at the end is seen
too. Whoever rewrites both files leaves no trace in them: docs/seals.md says what a chain proves.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from enum import Enum
from functools import cached_property
from itertools import pairwise
from pathlib import Path
from types import MappingProxyType
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import filelock
import rfc8785

from journal.model import Build, Entry, Inspection
from journal.problems import Problem, error, finding
from journal.record.digests import file_sha256, in_threads, replace_file, sha256_of
from journal.record.timestamps import Stamp, is_stamp_file, read_stamps
from journal.words import say_count, say_date

CHAIN = "content/seals.jsonl"
SEALS = "content/seals"
HEAD = f"{SEALS}/head.json"
NO_LINE = "0" * 64
"""What line 1 names as the line before it."""

_LOCK = ".journal/seal.lock"
PATIENCE_SECONDS = 10.0
"""How long a seal waits for another to end."""
_DIGEST = re.compile(r"[0-9a-f]{64}\Z")
_TIME = "%Y-%m-%dT%H:%M:%SZ"


class Kind(Enum):
    """What a line seals; the value is the word in the line."""

    ENTRY = "entry"
    INSPECTION = "inspection"

    @property
    def folder(self) -> str:
        """Where folders of this kind lie, relative to the build folder."""
        return "content/entries" if self is Kind.ENTRY else "content/inspections"


Key = tuple[Kind, str]
"""Kind and folder name."""


def uri_of(key: Key) -> str:
    """The folder of a sealed thing, relative to the build folder."""
    return f"{key[0].folder}/{key[1]}"


def _name(key: Key) -> str:
    return f'{key[0].value} "{key[1]}"'


@dataclass(frozen=True, slots=True, kw_only=True)
class Seal:
    """One line of the chain. `sha256` is that of the line itself."""

    line: int
    kind: Kind
    id: str
    date: date
    text: str
    files: Mapping[str, str]
    sealed_at: datetime
    prev: str
    amends: int | None = None
    reason: str = ""
    withdrawn: bool = False
    sha256: str = ""

    @property
    def key(self) -> Key:
        """Kind and folder name."""
        return self.kind, self.id


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainFault:
    """The first bad line of a chain: `line` from 1 in `file`, and what is wrong with it."""

    file: str
    line: int
    message: str


@dataclass(frozen=True, kw_only=True)
class Chain:
    """The lines that hold, in order, and the first that does not.

    `pinned` tells whether head.json names one of the lines. `raw` is the file as read.
    """

    seals: tuple[Seal, ...] = ()
    fault: ChainFault | None = None
    pinned: bool = False
    raw: bytes = b""

    @property
    def head(self) -> str:
        """The digest of the last line; `NO_LINE` of an empty chain. This is what is pinned outside."""
        return self.seals[-1].sha256 if self.seals else NO_LINE

    @cached_property
    def current(self) -> Mapping[Key, Seal]:
        """The seal in force for each thing sealed and not withdrawn."""
        standing: dict[int, Seal] = {}
        for seal in self.seals:
            if seal.amends is not None:
                standing.pop(seal.amends, None)
            if not seal.withdrawn:
                standing[seal.line] = seal
        return MappingProxyType({seal.key: seal for seal in standing.values()})

    def history(self, seal: Seal) -> tuple[Seal, ...]:
        """`seal` and all it amends, oldest first."""
        line, found = seal, [seal]
        while line.amends is not None:
            line = self.seals[line.amends - 1]
            found.append(line)
        return tuple(reversed(found))


# --- lines ---------------------------------------------------------------------------------------


def render_line(seal: Seal) -> bytes:
    """The line in its canonical form, line feed included."""
    record: dict[str, Any] = {
        "date": seal.date.isoformat(),
        "files": dict(seal.files),
        "id": seal.id,
        "kind": seal.kind.value,
        "line": seal.line,
        "prev": seal.prev,
        "sealed_at": seal.sealed_at.strftime(_TIME),
        "text": seal.text,
    }
    if seal.amends is not None:
        record |= {"amends": seal.amends, "reason": seal.reason}
    if seal.withdrawn:
        record["withdrawn"] = True
    return rfc8785.dumps(record) + b"\n"


def parse_line(raw: bytes) -> Seal | str:
    """The seal in a line without its line feed, or in words why it is none."""
    try:
        record = json.loads(raw)
    except (ValueError, RecursionError):
        return (
            "is not JSON" if not raw.endswith(b"\r") else "ends in a carriage return: a program changed the line ends"
        )
    if not isinstance(record, dict):
        return "is not a JSON object"
    try:
        seal = _seal_of(record, raw)
        if render_line(seal) == raw + b"\n":
            return seal
        if raw.endswith(b"\r"):
            return "ends in a carriage return: a program changed the line ends"
        return "is not in the form in which journal seal writes it"
    except KeyError as missing:
        return f'lacks "{missing.args[0]}"'
    except (ValueError, TypeError, AttributeError, RecursionError):
        return "holds a value that journal seal does not write"


def _seal_of(record: Mapping[str, Any], raw: bytes) -> Seal:
    files = record["files"]
    for value in (record["prev"], *files.values(), *([] if record.get("withdrawn") else [record["text"]])):
        if not _DIGEST.match(value):
            raise ValueError("a digest is 64 hexadecimal digits")
    numbers = (record["line"], record.get("amends", 1))
    if not all(type(number) is int and number > 0 for number in numbers):
        raise ValueError("a line number is a whole number from 1")
    amends, withdrawn = record.get("amends"), record.get("withdrawn", False)
    if not isinstance(record["id"], str) or "/" in record["id"] or not isinstance(withdrawn, bool):
        raise TypeError("wrong type")
    reason = record["reason"] if amends is not None else ""
    if amends is not None and not (isinstance(reason, str) and reason.strip()):
        raise ValueError("an amendment has a reason")
    if withdrawn and (amends is None or record["text"]):
        raise ValueError("what is withdrawn was sealed before and has no text")
    return Seal(
        line=record["line"],
        kind=Kind(record["kind"]),
        id=record["id"],
        date=date.fromisoformat(record["date"]),
        text=record["text"],
        files=MappingProxyType(dict(files)),
        sealed_at=datetime.strptime(record["sealed_at"], _TIME).replace(tzinfo=UTC),
        prev=record["prev"],
        amends=amends,
        reason=reason,
        withdrawn=withdrawn,
        sha256=sha256_of(raw),
    )


# --- the chain -----------------------------------------------------------------------------------


def parse_chain(data: bytes, head: bytes | None = None) -> Chain:
    """Check content/seals.jsonl as read (b"" where there is none) against head.json (None likewise).

    The fault names the first bad line: cut out, moved, copied, edited, not JSON, broken off, or
    missing at the end as far as head.json can tell.
    """
    lines = data.split(b"\n")
    rest = lines.pop()
    seals: list[Seal] = []
    standing: dict[Key, Seal] = {}
    fault: ChainFault | None = None
    pin, pin_fault = _parse_head(head)
    for number, raw in enumerate(lines, start=1):
        seal = parse_line(raw)
        if isinstance(seal, str):
            fault = _fault(number, f"line {number} {seal}")
        elif seal.line != number or seal.prev != (seals[-1].sha256 if seals else NO_LINE):
            fault = _misplaced(number, lines, seal, pin)
        elif wrong := _wrong_amendment(seal, seals, standing):
            fault = _fault(number, f"line {number} {wrong}")
        else:
            if seal.amends is not None:
                del standing[seals[seal.amends - 1].key]
            if not seal.withdrawn:
                standing[seal.key] = seal
            seals.append(seal)
        if fault:
            break
    if fault:
        return Chain(seals=tuple(seals[: fault.line - 1]), fault=fault, raw=data)
    if rest:
        number = len(lines) + 1
        fault = _fault(number, f"line {number} breaks off in the middle: it was not written to its end")
    elif pin_fault:
        fault = ChainFault(file=HEAD, line=1, message=pin_fault)
    elif pin:
        fault = _check_pin(pin, seals)
    if fault and fault.file == CHAIN:
        seals = seals[: fault.line - 1]
    return Chain(seals=tuple(seals), fault=fault, pinned=pin is not None and fault is None, raw=data)


def _fault(line: int, message: str) -> ChainFault:
    return ChainFault(file=CHAIN, line=line, message=message)


def _misplaced(number: int, lines: Sequence[bytes], seal: Seal, pin: tuple[int, str] | None) -> ChainFault:
    """Why a well-formed line does not follow the one before it, as far as the lines around it tell."""
    raw = lines[number - 1]
    if raw in lines[: number - 1]:
        return _fault(number, f"line {number} is a second copy of line {lines.index(raw) + 1}")
    if seal.line != number:
        later = [parse_line(other) for other in lines[number:]]
        if any(isinstance(other, Seal) and other.line == number for other in later):
            return _fault(number, f"line {number} was written as line {seal.line}: the lines were put in another order")
        if seal.line > number:
            lost = f"line {number}" if seal.line == number + 1 else f"lines {number} to {seal.line - 1}"
            return _fault(number, f"{lost} of the chain {'was' if seal.line == number + 1 else 'were'} cut out")
        return _fault(number, f"line {number} was written as line {seal.line}: it was moved or put in")
    if number == 1:
        return _fault(1, "line 1 names a line before it: the beginning of the chain was cut off")
    # The line after this one, or the pinned head, may vouch that this one is as it was written.
    following = parse_line(lines[number]) if number < len(lines) else None
    vouched = seal.sha256 == following.prev if isinstance(following, Seal) else pin == (number, seal.sha256)
    if vouched:
        return _fault(number - 1, f"line {number - 1} was edited: line {number} holds the digest of what it was")
    return _fault(number, f"line {number} does not follow line {number - 1}: one of the two was edited")


def _wrong_amendment(seal: Seal, before: Sequence[Seal], standing: Mapping[Key, Seal]) -> str:
    taken = standing.get(seal.key)
    if seal.amends is None:
        return f"seals {_name(seal.key)} again without saying that it is an amendment" if taken else ""
    amended = before[seal.amends - 1] if seal.amends <= len(before) else None
    if amended is None or standing.get(amended.key) is not amended or taken not in (None, amended):
        return f"amends line {seal.amends}, which is not in force"
    return ""


def _parse_head(head: bytes | None) -> tuple[tuple[int, str] | None, str]:
    """((number, digest), "") of head.json, (None, "") where there is none, (None, why not)."""
    if head is None:
        return None, ""
    try:
        record = json.loads(head)
        number, digest = record["line"], record["sha256"]
        if render_head(number, digest) == head and number > 0 and _DIGEST.match(digest):
            return (number, digest), ""
    except (ValueError, RecursionError, KeyError, TypeError):
        pass
    return None, "head.json is not as journal seal writes it: it was edited"


def render_head(line: int, sha256: str) -> bytes:
    """content/seals/head.json for a chain whose last line is `line`."""
    return rfc8785.dumps({"line": line, "sha256": sha256}) + b"\n"


def _check_pin(pin: tuple[int, str], seals: Sequence[Seal]) -> ChainFault | None:
    number, digest = pin
    if number > len(seals):
        first = len(seals) + 1
        lost = f"line {first} was" if number == first else f"lines {first} to {number} were"
        return _fault(first, f"{lost} cut off the end of the chain: head.json names line {number} as the last")
    if seals[number - 1].sha256 != digest:
        return _fault(number, f"line {number} was edited: head.json holds the digest of what it was")
    return None


def read_chain(root: Path) -> Chain:
    """The chain of the build folder `root`; empty where nothing was sealed."""
    chain, head = root / CHAIN, root / HEAD
    return parse_chain(
        chain.read_bytes() if chain.exists() else b"",
        head.read_bytes() if head.exists() else None,
    )


# --- what there is to seal -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """What a folder holds now: `text` and `files` as in a `Seal`."""

    kind: Kind
    id: str
    date: date
    text: str
    files: Mapping[str, str]

    @property
    def key(self) -> Key:
        """Kind and folder name."""
        return self.kind, self.id


class Change(Enum):
    """What became of something sealed."""

    ALTERED = "altered"
    RENAMED = "renamed"
    WITHDRAWN = "withdrawn"


@dataclass(frozen=True, slots=True, kw_only=True)
class Amendment:
    """A change after sealing: `before` is the seal in force, `now` what is there, None where withdrawn."""

    change: Change
    before: Seal
    now: Contents | None

    def tell(self) -> str:
        """What changed, by name: the text, photos changed, added, taken away."""
        name = _name(self.before.key)
        if self.now is None:
            return f"{name} is no longer there (deleted, or made a draft)"
        if self.change is Change.RENAMED:
            return f'{name} is now called "{self.now.id}"'
        old, new = self.before.files, self.now.files
        parts = ["the text changed"] if self.before.text != self.now.text else []
        for word, names in (
            ("changed", [name for name in old if name in new and old[name] != new[name]]),
            ("taken away", old.keys() - new.keys()),
            ("added", new.keys() - old.keys()),
        ):
            parts += [f"{file} {word}" for file in sorted(names)]
        if len(parts) > 6:
            parts = [*parts[:5], f"{len(parts) - 5} more changes"]
        return f"{name}: {', '.join(parts)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class SealPlan:
    """What a seal would add: things sealed for the first time, and amendments, both by day."""

    new: tuple[Contents, ...]
    amendments: tuple[Amendment, ...]


def look_at(root: Path, build: Build, *, fresh: bool = False) -> tuple[Contents, ...]:
    """What every entry and inspection of `build` holds; drafts are not among them.

    Texts and clips are read. Digests of photos are those the build was read with (unchanged
    originals are not read again), unless `fresh`.
    """
    things: list[Entry | Inspection] = [*build.entries, *build.inspections]
    known = {} if fresh else {photo.src_uri: photo.sha256 for thing in things for photo in thing.photos if photo.sha256}
    uris: list[str] = []
    for thing in things:
        uris += [thing.src_uri, *(uri for _, uri in _files_of(thing) if uri not in known)]
    known |= dict(zip(uris, in_threads(lambda uri: file_sha256(root / uri)[0], uris), strict=True))
    return tuple(
        Contents(
            kind=Kind.ENTRY if isinstance(thing, Entry) else Kind.INSPECTION,
            id=thing.id,
            date=thing.date,
            text=known[thing.src_uri],
            files={name: known[uri] for name, uri in _files_of(thing)},
        )
        for thing in sorted(things, key=lambda thing: (thing.date, isinstance(thing, Inspection), thing.id))
    )


def _files_of(thing: Entry | Inspection) -> Iterator[tuple[str, str]]:
    for photo in thing.photos:
        yield photo.name, photo.src_uri
    if isinstance(thing, Entry):
        for clip in thing.clips:
            yield clip.name, clip.src_uri


def plan_seals(chain: Chain, contents: Iterable[Contents]) -> SealPlan:
    """Compare what is there with what is sealed.

    A sealed thing that is gone while a new one holds exactly the same text, photos and kind was renamed.
    """
    found = {thing.key: thing for thing in contents}
    new = {key: thing for key, thing in found.items() if key not in chain.current}
    amendments: list[Amendment] = []
    for key, seal in chain.current.items():
        now = found.get(key)
        if now is None:
            twin = next((thing for thing in new.values() if _same(seal, thing) and thing.kind is seal.kind), None)
            if twin is not None:
                del new[twin.key]
            amendments.append(Amendment(change=Change.RENAMED if twin else Change.WITHDRAWN, before=seal, now=twin))
        elif not _same(seal, now):
            amendments.append(Amendment(change=Change.ALTERED, before=seal, now=now))
    return SealPlan(new=tuple(new.values()), amendments=tuple(sorted(amendments, key=lambda a: a.before.line)))


def _same(seal: Seal, thing: Contents) -> bool:
    return seal.text == thing.text and dict(seal.files) == dict(thing.files)


# --- sealing -------------------------------------------------------------------------------------

Ask = Callable[[Amendment], str | None]
"""Asked for the reason of an amendment; None or blanks where there is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sealed:
    """What a run of `seal` added, and the chain as it is now."""

    chain: Chain
    new: int = 0
    amendments: int = 0


def seal(root: Path, build: Build, *, now: datetime, ask: Ask) -> tuple[Sealed | None, tuple[Problem, ...]]:
    """Add a line for everything new or changed in `build`, which was read from `root` without errors.

    `now` is the time of sealing, with its zone. All or nothing: (None, problems) where the chain is
    broken, an amendment has no reason, a name cannot be written down, or another seal is running.
    Lines already written are never touched: the file is replaced by itself and more.
    """
    with _alone(root) as alone:
        if not alone:
            busy = error(CHAIN, None, "seal-busy", "another seal of this build is running", "wait, then seal again")
            return None, (busy,)
        chain = read_chain(root)
        if chain.fault:
            return None, (_chain_problem(chain.fault),)
        plan = plan_seals(chain, look_at(root, build))
        reasons = {amendment.before.key: " ".join((ask(amendment) or "").split()) for amendment in plan.amendments}
        unreasoned = [amendment for amendment in plan.amendments if not reasons[amendment.before.key]]
        if unreasoned:
            return None, tuple(_changed_problem(amendment, error) for amendment in unreasoned)
        try:
            added = _render_lines(chain, _drafts(root, build, plan, reasons, now))
        except rfc8785.CanonicalizationError:
            name = error(CHAIN, None, "seal-name", "a file name or the reason is not UTF-8 text", "rename the file")
            return None, (name,)
        after = parse_chain(chain.raw + added)
        if after.fault:
            raise RuntimeError(f"the chain would not hold: {after.fault.message}")
        if added:
            replace_file(root / CHAIN, after.raw)
        if after.seals:
            _pin_head(root, after)
    return Sealed(chain=after, new=len(plan.new), amendments=len(plan.amendments)), ()


@contextmanager
def _alone(root: Path) -> Iterator[bool]:
    """Whether no other seal of this build runs at the same time; waits a little for one to end."""
    (root / _LOCK).parent.mkdir(parents=True, exist_ok=True)
    lock = filelock.FileLock(root / _LOCK, timeout=PATIENCE_SECONDS)
    try:
        lock.acquire()
    except filelock.Timeout:
        yield False
        return
    try:
        yield True
    finally:
        lock.release()


def _drafts(root: Path, build: Build, plan: SealPlan, reasons: Mapping[Key, str], now: datetime) -> Iterator[Seal]:
    """The seals to add, without number and predecessor. Amendments first: what a renamed entry leaves
    free may be taken by a new one. Digests come from the files themselves, not from the photo cache.
    """
    wanted = {thing.key for thing in plan.new} | {a.now.key for a in plan.amendments if a.now}
    only = replace(
        build,
        entries=tuple(entry for entry in build.entries if (Kind.ENTRY, entry.id) in wanted),
        inspections=tuple(look for look in build.inspections if (Kind.INSPECTION, look.id) in wanted),
    )
    fresh = {thing.key: thing for thing in look_at(root, only, fresh=True)}
    sealed_at = now.astimezone(UTC).replace(microsecond=0)
    for amendment in plan.amendments:
        before = amendment.before
        now_held = fresh[amendment.now.key] if amendment.now else None
        draft = replace(before, amends=before.line, reason=reasons[before.key], sealed_at=sealed_at)
        if now_held is None:
            yield replace(draft, text="", files={}, withdrawn=True)
        else:
            yield replace(draft, id=now_held.id, date=now_held.date, text=now_held.text, files=now_held.files)
    for thing in plan.new:
        held = fresh[thing.key]
        yield Seal(
            line=0,
            kind=held.kind,
            id=held.id,
            date=held.date,
            text=held.text,
            files=held.files,
            sealed_at=sealed_at,
            prev="",
        )


def _render_lines(chain: Chain, drafts: Iterable[Seal]) -> bytes:
    lines, prev = [], chain.head
    for number, draft in enumerate(drafts, start=len(chain.seals) + 1):
        lines.append(render_line(replace(draft, line=number, prev=prev)))
        prev = sha256_of(lines[-1][:-1])
    return b"".join(lines)


def _pin_head(root: Path, chain: Chain) -> None:
    """Written after the chain: a run stopped in between leaves a head that is one of the lines."""
    head, wanted = root / HEAD, render_head(len(chain.seals), chain.head)
    if not head.exists() or head.read_bytes() != wanted:
        head.parent.mkdir(exist_ok=True)
        replace_file(head, wanted)


# --- what check says -----------------------------------------------------------------------------


def check_seals(root: Path, build: Build) -> tuple[Problem, ...]:
    """What is wrong with the seals of a build folder; nothing where it has none.

    Errors: `seal-chain` (the first bad line). Findings: `changed-after-seal` (sealed, then changed or
    taken away, and not sealed again), `seal-head` (no head.json, so a cut at the end would not be
    seen), `seal-clock` (a line earlier than the one before it), `time-stamp` (a stored answer that
    does not fit the chain).
    """
    chain = read_chain(root)
    problems = [_chain_problem(chain.fault)] if chain.fault else []
    if chain.seals and not chain.pinned and not chain.fault:
        problems.append(
            finding(HEAD, None, "seal-head", "head.json is gone: a cut at the end would not be seen", "journal seal")
        )
    for before, after in pairwise(chain.seals):
        if after.sealed_at < before.sealed_at:
            message = f"line {after.line} says it was sealed before line {before.line}: the clock was set back"
            problems.append(finding(CHAIN, (after.line, 1), "seal-clock", message, "set the clock of this machine"))
    if not chain.fault and chain.seals:
        problems += [_changed_problem(a, finding) for a in plan_seals(chain, look_at(root, build)).amendments]
    for stamp in stamps_of(root, chain):
        problems += [
            finding(
                f"{SEALS}/{stamp.name}", None, "time-stamp", f"the time-stamp {fault}", "docs/seals.md, Time-stamps"
            )
            for fault in stamp.faults
        ]
    return tuple(problems)


def stamps_of(root: Path, chain: Chain) -> tuple[Stamp, ...]:
    """The time-stamps stored in content/seals, each checked."""
    folder = root / SEALS
    files = (
        {path.name: path.read_bytes() for path in sorted(folder.iterdir()) if is_stamp_file(path.name)}
        if folder.is_dir()
        else {}
    )
    return read_stamps(files, line_numbers(chain)) if files else ()


def line_numbers(chain: Chain) -> dict[str, int]:
    """Digest of a line -> its number."""
    return {seal.sha256: seal.line for seal in chain.seals}


def _chain_problem(fault: ChainFault) -> Problem:
    return error(
        fault.file,
        (fault.line, 1),
        "seal-chain",
        fault.message,
        "put back seals.jsonl and seals/ from your last archive; docs/seals.md tells what to do without one",
    )


def _changed_problem(amendment: Amendment, grade: Callable[..., Problem]) -> Problem:
    before = amendment.before
    return grade(
        f"{uri_of(amendment.now.key if amendment.now else before.key)}/index.md",
        None,
        "changed-after-seal",
        f"changed after it was sealed on {say_date(before.sealed_at.date())}: {amendment.tell()}",
        'say why: journal seal --reason "…"',
    )


# --- what pages say ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class SealStory:
    """How an entry or inspection was sealed. Days are those of the build's zone.

    `sealed_on` is None where it is not sealed. `days_after` counts from the day of the work and is
    negative where it was sealed before it. `amended` are (day, reason), oldest first.
    """

    kind: Kind
    sealed_on: date | None = None
    days_after: int = 0
    amended: tuple[tuple[date, str], ...] = ()
    line: int = 0

    @property
    def words(self) -> str:
        """`sealed 3 days after the work; amended on 2 May 2026 because the caption was wrong`."""
        if self.sealed_on is None:
            return "not sealed"
        what = "work" if self.kind is Kind.ENTRY else "inspection"
        told = (
            f"sealed {say_count(abs(self.days_after), 'day')} {'after' if self.days_after > 0 else 'before'} the {what}"
            if self.days_after
            else f"sealed on the day of the {what}"
        )
        return "; ".join([told, *(f"amended on {say_date(day)} because {_clause(why)}" for day, why in self.amended)])


def _clause(reason: str) -> str:
    return reason.rstrip(".").removeprefix("because ")


def seal_story(chain: Chain, kind: Kind, folder: str, zone: str | None = None) -> SealStory:
    """The story of the entry or inspection in `folder`; `zone` is the IANA name from build.yml or None (UTC)."""
    seal = chain.current.get((kind, folder))
    if seal is None:
        return SealStory(kind=kind)
    lines = chain.history(seal)
    days = [_day(line.sealed_at, zone) for line in lines]
    return SealStory(
        kind=kind,
        sealed_on=days[0],
        days_after=(days[0] - seal.date).days,
        amended=tuple((day, line.reason) for day, line in zip(days[1:], lines[1:], strict=True)),
        line=seal.line,
    )


def _day(moment: datetime, zone: str | None) -> date:
    try:
        return moment.astimezone(ZoneInfo(zone) if zone else UTC).date()
    except (ZoneInfoNotFoundError, ValueError):
        return moment.date()
