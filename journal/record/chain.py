"""The chain of seals in content/seals.jsonl: its lines, and which of them hold.

Each line is one JSON object in the canonical form of RFC 8785 (keys sorted, no spaces, UTF-8) and
one line feed:

    amends     number of the line this one takes the place of; only in an amendment
    date       the day of the work as the entry told it when it was sealed; of what has none the day of sealing
    files      name -> SHA-256 of every photo and clip of the folder
    id         name of the folder, the row, the setting or the file in content/records
    kind       "entry", "inspection", "measurement", "row", "setting" or "record"
    line       number of this line, from 1
    prev       SHA-256 of the line before without its line feed; 64 noughts in line 1
    reason     why it was changed; only in an amendment
    sealed_at  time of sealing by the clock of the builder's machine, RFC 3339, UTC, whole seconds, one for each run
    text       SHA-256 of index.md or of the record, byte for byte, or of `words`; "" where it was withdrawn
    withdrawn  true where it is no longer there; only in an amendment
    words      what a row or a setting says, as `sealed_parts` cuts it; only of these

content/seals/texts/DIGEST.md keeps every text that was sealed as index.md, under its SHA-256.
content/seals/head.json repeats number and digest of the last line, so that a cut at the end is seen
too. Whoever rewrites both files leaves no trace in them: docs/seals.md says what a chain proves.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from enum import Enum
from functools import cached_property
from itertools import pairwise, takewhile
from pathlib import Path, PurePosixPath
from types import MappingProxyType
from typing import Any

import rfc8785

from journal.base.digests import sha256_of

CHAIN = "content/seals.jsonl"
SEALS = "content/seals"
HEAD = f"{SEALS}/head.json"
TEXTS = f"{SEALS}/texts"
RECORDS = "content/records"
NO_LINE = "0" * 64
"""What line 1 names as the line before it."""

CLOCKS_APART = timedelta(minutes=10)
"""How far two clocks may stand apart before their times contradict each other; common practice, no source."""

_NO_DAY = date.min
_DIGEST = re.compile(r"[0-9a-f]{64}\Z")
_TIME = "%Y-%m-%dT%H:%M:%SZ"


class Kind(Enum):
    """What a line seals; the value is the word in the line."""

    ENTRY = "entry"
    INSPECTION = "inspection"
    MEASUREMENT = "measurement"
    SETTING = "setting"
    ROW = "row"
    RECORD = "record"

    @property
    def is_cut(self) -> bool:
        """Whether it is a part of a file, whose words stand in the line itself."""
        return self in (Kind.ROW, Kind.SETTING)

    @property
    def is_told(self) -> bool:
        """Whether it is told in a folder of its own, with a text, photos and a day."""
        return self in (Kind.ENTRY, Kind.INSPECTION, Kind.MEASUREMENT)

    @property
    def folder(self) -> str:
        """Where what is told and records lie, relative to the build folder."""
        return "content/entries" if self is Kind.ENTRY else f"content/{self.value}s"


Key = tuple[Kind, str]
"""Kind and folder name."""


def uri_of(key: Key) -> str:
    """The folder or file of what is sealed, relative to the build folder."""
    if not key[0].is_cut:
        return f"{key[0].folder}/{key[1]}"
    file = key[1].partition(" ")[0]
    return f"{RECORDS}/{file}" if file == "records.csv" else f"content/{file}"


def touches(path: str, key: Key) -> bool:
    """Whether a file or folder, by its path from the build folder, belongs to what is sealed; an entry may lie within
    the folders of a year, or be a file of its own.
    """
    if key[0].is_told:
        told = PurePosixPath(path)
        return path.startswith(f"{key[0].folder}/") and key[1] in (*told.parts[2:], told.stem)
    return path == uri_of(key)


def text_uri(sha256: str) -> str:
    """Where the text of this digest is kept since it was sealed."""
    return f"{TEXTS}/{sha256}.md"


def name_of(key: Key) -> str:
    """`entry "2026-02-07-flaps"`."""
    return f'{key[0].value} "{key[1]}"'


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """What is there to be sealed: `text`, `files` and `words` as in a line of the chain. `date` is the day of the work;
    what has none takes that of its sealing.
    """

    kind: Kind
    id: str
    date: date = _NO_DAY
    text: str
    files: Mapping[str, str] = field(default_factory=dict)
    words: str = ""

    @property
    def key(self) -> Key:
        """Kind and folder name."""
        return self.kind, self.id


@dataclass(frozen=True, slots=True, kw_only=True)
class Seal(Contents):
    """One line of the chain, or a draft of one that has no place in it yet. `sha256` is that of the line itself."""

    line: int = 0
    sealed_at: datetime
    prev: str = ""
    amends: int | None = None
    reason: str = ""
    withdrawn: bool = False
    sha256: str = ""


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
        """The seal in force for everything sealed and not withdrawn."""
        standing: dict[int, Seal] = {}
        for seal in self.seals:
            if seal.amends is not None:
                standing.pop(seal.amends, None)
            if not seal.withdrawn:
                standing[seal.line] = seal
        return MappingProxyType({seal.key: seal for seal in standing.values()})

    @cached_property
    def withdrawn(self) -> Mapping[Key, Seal]:
        """The last line of everything that was withdrawn and did not come back."""
        gone: dict[Key, Seal] = {}
        for seal in self.seals:
            gone.pop(seal.key, None)
            if seal.withdrawn:
                gone[seal.key] = seal
        return MappingProxyType(gone)

    def history(self, seal: Seal) -> tuple[Seal, ...]:
        """`seal` and all it amends, oldest first."""
        line, found = seal, [seal]
        while line.amends is not None:
            line = self.seals[line.amends - 1]
            found.append(line)
        return tuple(reversed(found))

    def contradictions(self) -> Iterator[tuple[int, str]]:
        """(line, why) where the times in the lines cannot all be true."""
        for before, after in pairwise(self.seals):
            if after.sealed_at < before.sealed_at - CLOCKS_APART:
                yield after.line, f"says that it was written before line {before.line}: a clock was set back"
        for seal in self.seals:
            if seal.kind.is_told and seal.date > (seal.sealed_at + timedelta(days=1)).date():
                yield seal.line, f"seals work of {seal.date} and says that it was written before it"


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
    if seal.kind.is_cut:
        record["words"] = seal.words
    if seal.amends is not None:
        record |= {"amends": seal.amends, "reason": seal.reason}
    if seal.withdrawn:
        record["withdrawn"] = True
    return rfc8785.dumps(record) + b"\n"


def parse_line(raw: bytes) -> Seal | str:
    """The seal in a line without its line feed, or in words why it is none."""
    line_ends = "ends in a carriage return: a program changed the line ends" if raw.endswith(b"\r") else ""
    try:
        record = json.loads(raw)
    except (ValueError, RecursionError):
        return line_ends or "is not JSON"
    if not isinstance(record, dict):
        return "is not a JSON object"
    try:
        seal = _seal_of(record, raw)
        if render_line(seal) == raw + b"\n":
            return seal
        return line_ends or "is not in the form in which journal seal writes it"
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
    kind = Kind(record["kind"])
    if not isinstance(record["id"], str) or (kind.is_told and "/" in record["id"]) or not isinstance(withdrawn, bool):
        raise TypeError("wrong type")
    words = record["words"] if kind.is_cut else ""
    if kind.is_cut and (sha256_of(words.encode()) if words else "") != record["text"]:
        raise ValueError("the digest of a part is that of its words")
    reason = record["reason"] if amends is not None else ""
    if amends is not None and not (isinstance(reason, str) and reason.strip()):
        raise ValueError("an amendment has a reason")
    if withdrawn and (amends is None or record["text"]):
        raise ValueError("what is withdrawn was sealed before and has no text")
    return Seal(
        line=record["line"],
        kind=kind,
        id=record["id"],
        date=date.fromisoformat(record["date"]),
        text=record["text"],
        files=MappingProxyType(dict(files)),
        words=words,
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
                standing.pop(seals[seal.amends - 1].key, None)
            if not seal.withdrawn:
                standing[seal.key] = seal
            seals.append(seal)
        if fault:
            break
    else:
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
            lost, were = _lines(number, seal.line - 1)
            return _fault(number, f"{lost} of the chain {were} cut out")
        return _fault(number, f"line {number} was written as line {seal.line}: it was moved or put in")
    if number == 1:
        return _fault(1, "line 1 names a line before it: the beginning of the chain was cut off")
    # The line after this one, or the pinned head, may vouch that this one is as it was written.
    following = parse_line(lines[number]) if number < len(lines) else None
    vouched = seal.sha256 == following.prev if isinstance(following, Seal) else pin == (number, seal.sha256)
    if vouched:
        return _fault(number - 1, f"line {number - 1} was edited: line {number} holds the digest of what it was")
    return _fault(number, f"line {number} does not follow line {number - 1}: one of the two was edited")


def _lines(first: int, last: int) -> tuple[str, str]:
    """`lines 3 to 5`, `were`."""
    return (f"line {first}", "was") if first == last else (f"lines {first} to {last}", "were")


def _wrong_amendment(seal: Seal, before: Sequence[Seal], standing: Mapping[Key, Seal]) -> str:
    taken = standing.get(seal.key)
    if seal.amends is None:
        return f"seals {name_of(seal.key)} again without saying that it is an amendment" if taken else ""
    amended = before[seal.amends - 1] if seal.amends <= len(before) else None
    if amended and amended.withdrawn and taken is None and amended.key == seal.key:
        # What was withdrawn comes back; of its lines the last one tells since when.
        last = next(line for line in reversed(before) if line.key == seal.key)
        return "" if last is amended else f"amends line {seal.amends}, which is not the last of {name_of(seal.key)}"
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
        lost, were = _lines(first, number)
        return _fault(first, f"{lost} {were} cut off the end of the chain: head.json names line {number} as the last")
    if seals[number - 1].sha256 != digest:
        return _fault(number, f"line {number} was edited: head.json holds the digest of what it was")
    return None


def read_chain(root: Path) -> Chain:
    """The chain of the build folder `root`; empty where nothing was sealed."""
    chain, head = (path.read_bytes() if path.exists() else None for path in (root / CHAIN, root / HEAD))
    return parse_chain(chain or b"", head)


def line_numbers(*chains: Chain) -> dict[str, int]:
    """Digest of a line -> its number."""
    return {seal.sha256: seal.line for chain in chains for seal in chain.seals}


# --- branches ------------------------------------------------------------------------------------

BRANCH = "branch-"
"""What the name of a chain begins with that another chain was joined with: in content/seals, by its head."""


def read_branches(root: Path) -> dict[str, Chain]:
    """The branches kept in the build folder `root`, by file name."""
    folder = root / SEALS
    names = [path.name for path in folder.iterdir()] if folder.is_dir() else []
    return parse_branches(names, lambda name: (folder / name).read_bytes())


def parse_branches(names: Iterable[str], read: Callable[[str], bytes]) -> dict[str, Chain]:
    """The branches among the files of content/seals, by name; `read` gives the bytes behind a name.

    A fault names what is wrong in itself, or that it is not the one that its name tells.
    """
    found = {}
    for name in sorted(name for name in names if name.startswith(BRANCH) and name.endswith(".jsonl")):
        branch = parse_chain(read(name))
        if not branch.fault and name != f"{BRANCH}{branch.head[:8]}.jsonl":
            told = "ends otherwise than its name says: lines were cut, or it was written anew"
            branch = replace(branch, fault=ChainFault(file=name, line=len(branch.seals) + 1, message=told))
        found[name] = branch
    return found


def shared_lines(chain: Chain, other: Chain) -> int:
    """How many lines from the first on two chains have in common."""
    pairs = zip(chain.seals, other.seals, strict=False)
    return sum(1 for _ in takewhile(lambda pair: pair[0].sha256 == pair[1].sha256, pairs))
