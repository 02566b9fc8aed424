"""Sealing: what is new or changed since the last line of the chain, and the lines that say so.

The chain itself (its form, what is wrong with it) is in `chain`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from enum import Enum
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import filelock
import rfc8785

from journal.base.digests import file_sha256, in_threads, replace_file, sha256_of
from journal.base.formatting import say_count, say_date
from journal.base.model import Build, Entry, Inspection
from journal.base.problems import Problem, error, finding
from journal.record.chain import (
    CHAIN,
    HEAD,
    SEALS,
    Chain,
    ChainFault,
    Key,
    Kind,
    Seal,
    line_numbers,
    name_of,
    parse_chain,
    read_chain,
    render_head,
    render_line,
    uri_of,
)
from journal.record.timestamps import Stamp, is_stamp_file, read_stamps

__all__ = [
    "Amendment",
    "Ask",
    "Chain",
    "Change",
    "Contents",
    "Kind",
    "SealPlan",
    "SealStory",
    "Sealed",
    "check_seals",
    "look_at",
    "plan_seals",
    "read_chain",
    "seal",
    "seal_story",
    "stamps_of",
]

_LOCK = ".journal/seal.lock"
PATIENCE_SECONDS = 10.0
"""How long a seal waits for another to end."""


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
        name = name_of(self.before.key)
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
        inspections=tuple(inspection for inspection in build.inspections if (Kind.INSPECTION, inspection.id) in wanted),
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
