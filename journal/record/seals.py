"""Sealing: what is new or changed since the last line of the chain, and the lines that say so.

The chain itself (its form, what is wrong with it) is in `chain`.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import UTC, date, datetime, timedelta
from difflib import SequenceMatcher
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import filelock
import rfc8785

from journal.base.addresses import composed
from journal.base.digests import file_sha256, in_threads, sha256_of
from journal.base.formatting import say_count, say_date
from journal.base.problems import Problem, error, finding
from journal.base.safe_write import write_whole
from journal.record.chain import (
    CHAIN,
    HEAD,
    RECORDS,
    SEALS,
    Chain,
    ChainFault,
    Contents,
    Key,
    Kind,
    Seal,
    name_of,
    parse_chain,
    read_branches,
    read_chain,
    render_head,
    render_line,
    shared_lines,
    text_uri,
    uri_of,
)
from journal.record.forks import join_chains
from journal.record.sealed_parts import LISTS, SealedPart, cut_parts, file_of, out_of_place, stem
from journal.view.view import ShownEntry, ShownInspection, Told, View

if TYPE_CHECKING:
    from journal.record.timestamps import Stamp

_LOCK = ".journal/seal.lock"
PATIENCE_SECONDS = 10.0
"""How long a seal waits for another to end."""


# --- what there is to seal -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Amendment:
    """A change after sealing: `before` is the seal in force, `now` what is there, perhaps renamed; None where it was
    withdrawn.
    """

    before: Seal
    now: Contents | None

    def tell(self) -> str:
        """What changed, by name: the text, photos changed, added, taken away; of a row or setting, its words."""
        name = name_of(self.before.key)
        if self.now is None:
            gone = "taken out" if self.before.kind.is_cut else "deleted, or made a draft"
            return f"{name} is no longer there ({gone})"
        if self.before.withdrawn:
            return f"{name} is there again"
        if self.before.kind.is_cut:
            told = changed_words(self.before.words, self.now.words) or "stands in another place of its list"
            return f"{name}: {told}"
        old, new = self.before.files, self.now.files
        what = "the text" if self.before.kind.is_told else "it"
        parts = [f"{what} changed"] if self.before.text != self.now.text else []
        for word, names in (
            ("changed", [name for name in old if name in new and old[name] != new[name]]),
            ("taken away", old.keys() - new.keys()),
            ("added", new.keys() - old.keys()),
        ):
            parts += [f"{file} {word}" for file in sorted(names)]
        if len(parts) > 6:
            parts = [*parts[:5], f"{len(parts) - 5} more changes"]
        renamed = f'is now called "{self.now.id}"' if self.now.id != self.before.id else ""
        return "; ".join([f"{name} {renamed}", *parts]) if renamed else f"{name}: {', '.join(parts)}"


def changes_between(before: str, after: str) -> Iterator[tuple[str, str]]:
    """(lines that went, lines that came in their place) of each change between two texts."""
    old, new = before.splitlines(), after.splitlines()
    for tag, *ends in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if tag != "equal":
            yield "\n".join(old[ends[0] : ends[1]]), "\n".join(new[ends[2] : ends[3]])


def changed_words(before: str, after: str) -> str:
    """`"closes: the wing" became nothing`: what became of the words of a row or setting."""
    told = [
        [f'"{" / ".join(one.split(chr(10)))}"' if one else "nothing" for one in pair]
        for pair in changes_between(before, after)
    ]
    return "; ".join(f"{old} became {new}" for old, new in told)


@dataclass(frozen=True, slots=True, kw_only=True)
class SealPlan:
    """What a seal would add: what is sealed for the first time, and amendments, both by day."""

    new: tuple[Contents, ...]
    amendments: tuple[Amendment, ...]


def read_contents(root: Path, view: View, only: Collection[Key] | None = None) -> tuple[Contents, ...]:
    """What there is to seal in the build of the inspector's `view`: what every entry, inspection and measurement holds,
    settings, rows of lists, and records; drafts are not among them.

    Lists, records, texts and clips are read. Digests of photos are those the build was read with (unchanged originals
    are not read again); where `only` names some, these alone are told and their photos are read as well.
    """
    told = [one for one in view.told if only is None or _key(one) in only]
    known = {photo.src_uri: photo.sha256 for one in told for photo in one.photos if photo.sha256 and only is None}
    records = {name: f"{RECORDS}/{name}" for name in _record_files(root) if only is None or (Kind.RECORD, name) in only}
    uris: list[str] = [*records.values()]
    for one in told:
        uris += [one.src_uri, *(uri for _, uri in _files_of(one) if uri not in known)]
    known |= dict(zip(uris, in_threads(lambda uri: file_sha256(root / uri)[0], uris), strict=True))
    parts = cut_parts(lambda uri: (root / uri).read_bytes() if (root / uri).is_file() else None)
    return (
        *(
            Contents(
                kind=_key(one)[0],
                id=one.id,
                date=one.date,
                text=known[one.src_uri],
                files={name: known[uri] for name, uri in _files_of(one)},
            )
            for one in sorted(told, key=lambda one: (one.date, [*Kind].index(_key(one)[0]), one.id))
        ),
        *(part for part in parts if only is None or part.key in only),
        *(Contents(kind=Kind.RECORD, id=name, text=known[uri]) for name, uri in sorted(records.items())),
    )


def _record_files(root: Path) -> Iterator[str]:
    """The files below content/records by their path from there, without its list and what is hidden."""
    base = root / RECORDS

    def tell(trouble: OSError) -> None:
        if not isinstance(trouble, FileNotFoundError):
            raise trouble  # records that cannot be looked at are not gone

    for folder, inner, names in os.walk(base, onerror=tell):
        inner[:] = [name for name in inner if not name.startswith(".")]
        for path in (Path(folder, name) for name in names if not name.startswith(".")):
            uri = path.relative_to(base).as_posix()
            if path.is_file() and f"{RECORDS}/{uri}" not in LISTS:
                yield uri


def _key(one: Told) -> Key:
    if isinstance(one, ShownEntry):
        return Kind.ENTRY, one.id
    return Kind.INSPECTION if isinstance(one, ShownInspection) else Kind.MEASUREMENT, one.id


def _files_of(one: Told) -> Iterator[tuple[str, str]]:
    for photo in one.photos:
        yield photo.name, photo.src_uri
    for clip in one.clips if isinstance(one, ShownEntry) else ():
        yield clip.name, clip.src_uri


def plan_seals(chain: Chain, contents: Iterable[Contents], formerly: Mapping[Key, Key] | None = None) -> SealPlan:
    """Compare what is there with what is sealed.

    What is gone, while something new of its kind says that it went by that name (`formerly`, former key -> key), or
    holds exactly the same text and photos, was renamed. A row is what it
    says: one that stands there in the same words holds whatever it goes by, and one that is gone, while a new one
    goes by its name, was changed. What was withdrawn and is there again is an amendment, too.
    """
    found = {one.key: one for one in contents}
    sealed = {_said(seal) for seal in chain.current.values() if seal.kind.is_cut}
    there = {_said(one) for one in found.values() if one.kind.is_cut}
    new = {
        key: one
        for key, one in found.items()
        if (_said(one) not in sealed if one.kind.is_cut else key not in chain.current)
    }
    amendments = [Amendment(before=chain.withdrawn[key], now=new.pop(key)) for key in [*new] if key in chain.withdrawn]
    parts = [one for one in found.values() if isinstance(one, SealedPart)]
    amendments += [
        Amendment(before=seal, now=next(part for part in parts if _said(part) == _said(seal)))
        for seal in out_of_place(chain.current.values(), parts)
    ]
    for key, seal in chain.current.items():
        now = found.get(key)
        if _said(seal) in there or (now is not None and _same(seal, now)):
            continue
        if seal.kind.is_cut:
            now = next((one for one in new.values() if stem(one.id) == stem(seal.id) and one.kind is seal.kind), None)
        elif now is None:
            same = (one for one in new.values() if one.kind is seal.kind and _same(seal, one))
            now = new.get((formerly or {}).get(key, key)) or next(same, None)
        if now is not None:
            new.pop(now.key, None)
        amendments.append(Amendment(before=seal, now=now))
    return SealPlan(new=tuple(new.values()), amendments=tuple(sorted(amendments, key=lambda a: a.before.line)))


def former_keys(view: View) -> dict[Key, Key]:
    """Former key -> key of what has former names."""
    return {(_key(one)[0], name): _key(one) for one in view.told for name in one.formerly}


def _said(one: Contents) -> tuple[str, str]:
    """What a row or setting is known by: its file and what it says."""
    return file_of(one.id), one.text


def _same(one: Contents, other: Contents) -> bool:
    # Names in another Unicode form are the same name on some disk.
    files, others = (sorted((composed(name), sha) for name, sha in held.files.items()) for held in (one, other))
    return one.text == other.text and files == others


# --- sealing -------------------------------------------------------------------------------------

Ask = Callable[[Sequence[Amendment]], str | None]
"""Asked for the reason of an amendment, or of all those in one list; None or blanks where there is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sealed:
    """What a run of `seal` added, and the chain as it is now."""

    chain: Chain
    new: int = 0
    amendments: int = 0
    joined: str = ""


def seal(
    root: Path, view: View, *, now: datetime, ask: Ask, join: Path | None = None
) -> tuple[Sealed | None, tuple[Problem, ...]]:
    """Add a line for everything new or changed in the inspector's `view` of `root`, which was read without errors.

    `now` is the time of sealing, with its zone. All or nothing: (None, problems) where the chain is
    broken, an amendment has no reason, a name cannot be written down, or another seal is running. A copy of the chain
    that a synchronising program left stops it (`seal-forked`) until it is joined (`join`).
    Lines already written are never touched: the file is replaced by itself and more.
    """
    (root / _LOCK).parent.mkdir(exist_ok=True)
    try:
        with filelock.FileLock(root / _LOCK, timeout=PATIENCE_SECONDS):
            joined, problems = join_chains(root, join)
            if problems:
                return None, problems
            done, problems = _seal_alone(root, view, now, ask)
            if joined and done is None:
                hint = "journal seal again, without --join"
                problems = (finding(CHAIN, None, "seal-joined", joined.rstrip("."), hint), *problems)
            return done and replace(done, joined=joined), problems
    except filelock.Timeout:
        busy = error(CHAIN, None, "seal-busy", "another seal of this build is running", "wait, then seal again")
        return None, (busy,)


def _seal_alone(root: Path, view: View, now: datetime, ask: Ask) -> tuple[Sealed | None, tuple[Problem, ...]]:
    chain = read_chain(root)
    if chain.fault:
        return None, (_chain_problem(chain.fault),)
    plan = plan_seals(chain, read_contents(root, view), former_keys(view))
    branches = read_branches(root)
    told = ((change.before.key, _reason_of_fork(branches, chain, change)) for change in plan.amendments)
    reasons = {key: reason for key, reason in told if reason}
    together: dict[object, list[Amendment]] = {}
    for change in (change for change in plan.amendments if change.before.key not in reasons):
        key = change.before.key
        together.setdefault(file_of(key[1]) if key[0].is_cut else key, []).append(change)
    reasons |= {
        change.before.key: reason
        for changes in together.values()
        for reason in [" ".join((ask(changes) or "").split())]
        for change in changes
    }
    unreasoned = [amendment for amendment in plan.amendments if not reasons[amendment.before.key]]
    if unreasoned:
        return None, tuple(_changed_problem(amendment, error, view) for amendment in unreasoned)
    try:
        added = _render_lines(chain, _drafts(root, view, chain, plan, reasons, now))
    except rfc8785.CanonicalizationError:
        name = error(CHAIN, None, "seal-name", "a file name or the reason is not UTF-8 text", "rename the file")
        return None, (name,)
    after = parse_chain(chain.raw + added)
    if after.fault:
        raise RuntimeError(f"the chain would not hold: {after.fault.message}")
    # Before the chain: a copy that no line names does no harm.
    keep_texts(root, view, after)
    if added:
        write_whole(root / CHAIN, after.raw)
    # After the chain: a run stopped in between leaves a head that is one of the lines.
    head, wanted = root / HEAD, render_head(len(after.seals), after.head)
    if after.seals and not (head.exists() and head.read_bytes() == wanted):
        write_whole(head, wanted)
    return Sealed(chain=after, new=len(plan.new), amendments=len(plan.amendments)), ()


def _reason_of_fork(branches: Mapping[str, Chain], chain: Chain, change: Amendment) -> str:
    """Why something is not as the chain has it: a branch had sealed it as it is; "" where none had."""
    key = (change.now or change.before).key
    for name, branch in branches.items():
        own = [line for line in branch.seals[shared_lines(chain, branch) :] if line.key == key]
        if own and (own[-1].withdrawn if change.now is None else _same(own[-1], change.now)):
            return f"sealed so on another machine, in {name}"
    return ""


def keep_texts(root: Path, view: View, chain: Chain) -> None:
    """Keep a copy of every text in force, so that an amendment later shows what stood there before."""
    sources = {_key(one): one.src_uri for one in view.told}
    for key, seal in chain.current.items():
        copy = root / text_uri(seal.text)
        if key in sources and not copy.exists():
            data = (root / sources[key]).read_bytes()
            if sha256_of(data) == seal.text:
                copy.parent.mkdir(parents=True, exist_ok=True)
                write_whole(copy, data)


def _drafts(
    root: Path, view: View, chain: Chain, plan: SealPlan, reasons: Mapping[Key, str], now: datetime
) -> Iterator[Seal]:
    """The seals to add, without number and predecessor. Amendments first: what a renamed entry leaves
    free may be taken by a new one. Digests come from the files themselves, not from the photo cache.
    """
    wanted = {one.key for one in plan.new} | {a.now.key for a in plan.amendments if a.now}
    fresh = {one.key: one for one in read_contents(root, view, wanted)}
    sealed_at, taken = now.astimezone(UTC).replace(microsecond=0), {seal.sealed_at for seal in chain.seals}
    while sealed_at in taken:  # what one run sealed is known by its second: the order of rows, what was sealed late
        sealed_at += timedelta(seconds=1)

    def draft(held: Contents, **more: Any) -> Seal:
        told = {one.name: getattr(held, one.name) for one in fields(Contents)}
        if not held.kind.is_told:
            told["date"] = sealed_at.date()
        return Seal(**told, sealed_at=sealed_at, **more)

    for amendment in plan.amendments:
        before, there = amendment.before, amendment.now
        held = fresh[there.key] if there else replace(before, text="", words="", files={})
        yield draft(held, amends=before.line, reason=reasons[before.key], withdrawn=there is None)
    for one in plan.new:
        yield draft(fresh[one.key])


def _render_lines(chain: Chain, drafts: Iterable[Seal]) -> bytes:
    lines, prev = [], chain.head
    for number, draft in enumerate(drafts, start=len(chain.seals) + 1):
        lines.append(render_line(replace(draft, line=number, prev=prev)))
        prev = sha256_of(lines[-1][:-1])
    return b"".join(lines)


# --- what check says -----------------------------------------------------------------------------


def check_seals(root: Path, view: View) -> tuple[Problem, ...]:
    """What is wrong with the seals of a build folder, held against the inspector's `view` of it; nothing without any.

    Errors: `seal-chain` (the first bad line). Findings: `changed-after-seal` (sealed, then changed or
    taken away, and not sealed again), `seal-head` (no head.json, so a cut at the end would not be
    seen), `seal-clock` (a line earlier than the one before it), `sealed-late` (an entry put in behind later ones that
    were sealed before it), `time-stamp` (a stored answer that does not fit the chain).
    """
    chain = read_chain(root)
    problems = [_chain_problem(chain.fault)] if chain.fault else []
    if chain.seals and not chain.pinned and not chain.fault:
        message = "head.json is gone: a cut at the end would not be seen"
        problems.append(finding(HEAD, None, "seal-head", message, "run journal seal"))
    for line, why in chain.contradictions():
        problems.append(finding(CHAIN, (line, 1), "seal-clock", f"line {line} {why}", "set the clock of this machine"))
    if not chain.fault and chain.seals:
        changed = plan_seals(chain, read_contents(root, view), former_keys(view)).amendments
        problems += [_changed_problem(amendment, finding, view) for amendment in changed]
    for name, branch in read_branches(root).items():
        problems += [_chain_problem(replace(branch.fault, file=f"{SEALS}/{name}"))] if branch.fault else []
    problems += _sealed_late(chain, view)
    for stamp in stamps_of(root, chain):
        name, hint = f"{SEALS}/{stamp.name}", "docs/seals.md tells more, under Time-stamps"
        for fault in (*stamp.faults, *stamp.contradictions(chain)):
            problems.append(finding(name, None, "time-stamp", f"the time-stamp {fault}", hint))
    return tuple(problems)


def find_decayed(root: Path, view: View) -> tuple[Problem, ...]:
    """`photo-damaged`: every sealed picture or film whose bytes are no longer those of its first seal, nor of one that
    amended it. All of them are read from the disk: decay leaves the time and length of a file as they are.
    """
    chain = read_chain(root)
    told = {
        uri: (one, name, seals)
        for one in view.told
        if not chain.fault and (seal := chain.current.get(_key(one)))
        for name, uri in _files_of(one)
        if (seals := [seal for seal in chain.history(seal) if name in seal.files])
    }
    digests = in_threads(lambda uri: file_sha256(root / uri)[0] if (root / uri).is_file() else "", [*told])
    problems = []
    for (one, name, seals), digest in zip(told.values(), digests, strict=True):
        if digest and digest not in {seal.files[name] for seal in seals}:
            said = f'"{name}" no longer has the digest of its first seal ({say_date(seals[0].sealed_at)}): '
            hint = "take it out of an archive or a backup; where the change is meant, seal it with its reason"
            problems.append(finding(one.src_uri, None, "photo-damaged", f"{said}changed or decayed", hint))
    return tuple(problems)


LATE_DAYS = 14
"""An entry may be written so long after its day without a question (common practice, no source)."""


def _sealed_late(chain: Chain, view: View) -> Iterator[Problem]:
    """Entries sealed for the first time when one of a much later day had been sealed at another time before."""
    entries = {entry.id: entry for entry in view.entries}
    sealed = [seal for seal in chain.seals if seal.kind is Kind.ENTRY and seal.amends is None]
    newest: date | None = None
    for at, group in groupby(sealed, key=lambda seal: seal.sealed_at):
        before = newest
        for seal in group:
            newest = max(newest or seal.date, seal.date)
            entry = entries.get(seal.id)
            if entry and before and (before - seal.date).days > LATE_DAYS and "sealed-late" not in entry.answers:
                said = f"dated {say_date(seal.date)} and sealed first on {say_date(at)}, when entries up to "
                hint = "say when it was written, and why so late: `answers: {sealed-late: reason}`"
                yield finding(entry.src_uri, None, "sealed-late", f"{said}{say_date(before)} were sealed already", hint)


def stamps_of(root: Path, chain: Chain) -> tuple[Stamp, ...]:
    """The time-stamps stored in content/seals, each checked."""
    from journal.record.timestamps import read_stamps  # what certificates need takes long to load

    folder = root / SEALS
    names = [path.name for path in folder.iterdir()] if folder.is_dir() else []
    return read_stamps(names, lambda name: (folder / name).read_bytes(), chain)


def _chain_problem(fault: ChainFault) -> Problem:
    hint = "put back seals.jsonl and seals/ from your last archive; docs/seals.md tells what to do without one"
    return error(fault.file, (fault.line, 1), "seal-chain", fault.message, hint)


def _changed_problem(amendment: Amendment, grade: Callable[..., Problem], view: View) -> Problem:
    before, now = amendment.before, amendment.now
    key = now.key if now else before.key
    usual = f"{uri_of(key)}/index.md" if key[0].is_told else uri_of(key)
    file, where = next((one.src_uri for one in view.told if _key(one) == key), usual), None
    if isinstance(now, SealedPart):
        file, where = now.file, (now.line, 1)
    said = f"changed after it was sealed on {say_date(before.sealed_at.date())}: {amendment.tell()}"
    return grade(file, where, "changed-after-seal", said, 'say why: journal seal --reason "…"')


# --- what was changed ----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """An amendment as the chain and the kept texts tell it: its line, what changed by name, and (before, after) of each
    passage; `kept` is False where the text of that time was not kept (sealed by an earlier version).
    """

    seal: Seal
    told: str
    passages: tuple[tuple[str, str], ...] = ()
    kept: bool = True


def read_changes(root: Path, chain: Chain) -> Iterator[Change]:
    """Every amendment of the chain, oldest first."""

    def words(seal: Seal) -> str | None:
        copy = root / text_uri(seal.text)
        if seal.kind.is_cut or seal.withdrawn:
            return seal.words
        return copy.read_text("utf-8", "replace") if copy.is_file() else None

    for seal in chain.seals:
        if seal.amends is not None:
            before = chain.seals[seal.amends - 1]
            told = Amendment(before=before, now=None if seal.withdrawn else seal).tell()
            if before.withdrawn and before.amends:
                before = chain.seals[before.amends - 1]
            old, new = words(before), words(seal)
            kept = before.text == seal.text or seal.kind is Kind.RECORD or (old is not None and new is not None)
            passages = tuple(changes_between(old or "", new or "")) if kept else ()
            yield Change(seal=seal, told=told, passages=passages, kept=kept)


# --- what pages say ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class SealStory:
    """How an entry, inspection or measurement was sealed. Days are those of the build's zone.

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
        what = "work" if self.kind is Kind.ENTRY else self.kind.value
        told = (
            f"sealed {say_count(abs(self.days_after), 'day')} {'after' if self.days_after > 0 else 'before'} the {what}"
            if self.days_after
            else f"sealed on the day of the {what}"
        )
        reasons = [(day, why.rstrip(".").removeprefix("because ")) for day, why in self.amended]
        return "; ".join([told, *(f"amended on {say_date(day)} because {why}" for day, why in reasons)])


def seal_story(chain: Chain, kind: Kind, folder: str, zone: str | None = None) -> SealStory:
    """The story of what lies in `folder`; `zone` is the IANA name from build.yml or None (UTC)."""
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
