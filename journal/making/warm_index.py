"""The terminal's warm index, made from the journal for one audience where it is not warm any more.

After a change to a few entries and nothing else, these are read alone, hours and progress are replayed over what is
kept of the others, and their documents take the places of those before. Whatever does not fit simply (an error, a
former name, an entry that goes and is named elsewhere, an entry in another form than a folder of its own) has the
journal opened whole, which is always right.
"""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Callable, Container, Iterable, Mapping, Sequence, Set
from dataclasses import replace
from datetime import date, datetime
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

from journal.base.addresses import address_word
from journal.base.model import Build, Entry, Measurement, PhotoFacts, WriteUp, named
from journal.base.problems import Grade, has_errors
from journal.finding.cache import Laid, MovedDay, Stamps, WarmIndex, alter_warm, as_json, hidden, stamp, write_warm
from journal.finding.cards import answer_cards
from journal.finding.documents import Document, DocumentKind, documents, term_groups
from journal.finding.index import Analysed, analyse, build_index, digest
from journal.finding.rules import WHEN, Rules, shipped_rules
from journal.finding.tokens import Tokenizer
from journal.ledger.journal import ExaminedPhoto, Journal, open_few, photo_store
from journal.view.page_addresses import ENTRIES, PageAddresses
from journal.view.view import Audience, View, open_view

MOST = 200
"""How many entries may have changed for the others not to be read again."""

_ENTRY = DocumentKind.ENTRY.value
_DATED = [kind.value for kind in DocumentKind if kind.dated]


class Outline(NamedTuple):
    """What is kept of a document beside its words, as plain values; of a line of a list no more than the first three.

    `told_day` is the number of its day as it stands among its words at position `at`; `worked` are the IDs of people.
    """

    number: int
    kind: str
    id: str
    address: str = ""
    date: str = ""
    starts_at: int | None = None
    day: int = 0
    told_day: int = 0
    at: int = 0
    assembly: str = ""
    steps: Sequence[str] = ()
    redone: bool = False
    people: Sequence[str] = ()
    tools: Sequence[str] = ()
    methods: Sequence[str] = ()
    photos: int = 0
    worked: Sequence[str] = ()

    def order(self) -> tuple[object, ...]:
        """What is dated stands by this: by days, and within a day as in the journal."""
        return self.date, _DATED.index(self.kind), self.starts_at is None, self.starts_at or 0, self.id

    @property
    def light(self) -> Document:
        """The document as an index wants to know it beside its words."""
        return Document(
            kind=DocumentKind(self.kind),
            id=self.id,
            address="",
            title="",
            date=date.fromisoformat(self.date) if self.date else None,
            assembly=self.assembly,
            steps=tuple(self.steps),
            redone=self.redone,
            people=tuple(self.people),
            tools=tuple(self.tools),
            methods=tuple(self.methods),
            photos=("",) * self.photos,
        )


class Kept(NamedTuple):
    """What is kept of an entry that need not be read again: what hours and progress ask for, and a word that is the
    same as long as all is that the lists of the archive ask of entries.
    """

    date: str
    starts_at: int | None
    assembly: str
    steps: Sequence[str]
    begun: Sequence[str]
    redone: Sequence[str]
    draft: bool
    listed: str

    @classmethod
    def of(cls, entry: Entry) -> Kept:
        """What is kept of `entry`."""
        lines = [repr(replace(line, where=None)) for line in (*entry.fasteners, *entry.torque)]
        marks = (entry.date.isoformat(), entry.starts_at, entry.assembly, entry.steps, entry.begun, entry.redone)
        return cls(*marks, entry.draft, digest([marks, lines, entry.materials, entry.tools, entry.draft]))

    def entry(self, name: str) -> Entry:
        """The entry `name` as hours and progress ask for it."""
        return Entry(
            id=name,
            src_uri="",
            title="",
            date=date.fromisoformat(self.date),
            starts_at=self.starts_at,
            assembly=self.assembly,
            steps=tuple(self.steps),
            begun=tuple(self.begun),
            redone=tuple(self.redone),
            draft=self.draft,
        )


def make_warm(
    open_it: Callable[[], Journal],
    file: Path,
    stamps: Stamps,
    *,
    code: str,
    root: Path,
    today: date,
    old: WarmIndex | None,
    everything: bool,
) -> None:
    """Lay an index of the build folder `root` down in `file`: out of `old` and the few entries that changed where that
    can be, else of what `open_it` opens. `stamps` are of before that, `code` is the version of the program.

    `everything` takes in private entries and passages. Raises OSError where it cannot be written.
    """
    audience = Audience.ARCHIVE if everything else Audience.PUBLIC
    # A damaged file may hold anything.
    with contextlib.suppress(OSError, sqlite3.Error, ValueError, LookupError, TypeError):
        change = _few_changed(old, stamps, root, today, audience) if old else None
        if old and change and _alter(old, file, root, stamps, code, audience, change):
            return
    journal = open_it()
    build, view = journal.build, open_view(journal, audience)
    addresses = PageAddresses(view)
    found = documents(view, addresses)
    desk = _Desk.by(code, shipped_rules().with_names(term_groups(view)))
    laid = desk.lay(found, view, old.words() if old else {})
    words = [one.words for one in laid]
    outlines = desk.outlines(found, laid, build, 0)
    facts = {
        "key": stamps.key,
        "lexicon": build_index(found, words, addresses.mirrored, desk.tokenizer).lexicon,
        "about": {
            "assemblies": [[assembly.id, assembly.title] for assembly in build.assemblies.values()],
            "steps": list(build.steps),
            # By ID: at the builder's own terminal people need not go by the names they are shown under.
            "people": [[person.id, person.name, person.public_name] for person in build.people.values()],
            "people_of": _people_of(outlines),
            "errors": sum(problem.grade is Grade.ERROR for problem in journal.problems),
        },
        "state": {
            "rest": stamps.rest,
            "folders": stamps.entries,
            "lists": bool(build.callouts or build.tasks or build.calibrated_tools),
            "met": any(outline.kind == _ENTRY and outline.address != _address(outline.id) for outline in outlines),
            **_told_by(journal),
        },
        "outlines": outlines,
    }
    write_warm(file, facts, laid, _pictures(root, build.entries, {entry.id for entry in view.entries}))


class _Desk(NamedTuple):
    """Where documents are made ready for the file; `code` is the version of the program and of the rules."""

    code: str
    tokenizer: Tokenizer

    @classmethod
    def by(cls, code: str, rules: Rules) -> _Desk:
        """One that reads by these rules."""
        return cls(digest([code, rules.plain["kin"]]), Tokenizer(rules))

    def lay(self, found: Sequence[Document], view: View, known: Mapping[str, str]) -> list[Laid]:
        """Documents with their cards and words; words that are `known` by their key are not read again."""
        keys = [digest([self.code, one.passages]) for one in found]
        words = [
            Analysed(*json.loads(known[key])) if key in known else analyse(one, self.tokenizer)
            for key, one in zip(keys, found, strict=True)
        ]
        cards = answer_cards(found, words, tuple(view.steps))
        laid = zip(found, cards, keys, words, strict=True)
        return [Laid(one.day, as_json({**card, "pictures": one.photos}), key, words) for one, card, key, words in laid]

    def outlines(self, found: Sequence[Document], laid: Sequence[Laid], build: Build, first: int) -> list[Outline]:
        """What is kept of documents, numbered from `first` on."""
        told: list[Entry | WriteUp] = [*build.entries, *build.write_ups]
        sources = {one.src_uri: one for one in told}
        return [
            _outline(number, one, words.words, sources[one.src_uri])
            if one.kind.dated
            else Outline(number, one.kind.value, one.id)
            for number, (one, words) in enumerate(zip(found, laid, strict=True), start=first)
        ]


def _outline(number: int, one: Document, words: Analysed, source: Entry | WriteUp) -> Outline:
    return Outline(
        number,
        one.kind.value,
        one.id,
        address=one.address,
        date=source.date.isoformat(),
        starts_at=source.starts_at if isinstance(source, Entry) else None,
        day=one.day,
        told_day=one.day,
        # What stands there is "day 46 8 February 2026".
        at=1 + next(at for at, told in zip(words.passages, one.passages, strict=True) if told.field == WHEN),
        assembly=one.assembly,
        steps=one.steps,
        redone=one.redone,
        people=one.people,
        tools=one.tools,
        methods=one.methods,
        photos=len(one.photos),
        worked=(*source.people, *(source.checked_by if isinstance(source, Measurement) else ())),
    )


def _people_of(outlines: Iterable[Outline]) -> list[Sequence[str]]:
    return [outline.worked for outline in outlines if outline.date]


def _address(name: str) -> str:
    """The address of an entry whose name meets that of no other."""
    return f"{ENTRIES}{address_word(name)}/"


def _told_by(journal: Journal) -> dict[str, Any]:
    """What must be known of entries that are not read again: what is kept of each, by its hidden name; which others
    are named somewhere; whether any had other names; and how each step stands.
    """
    build = journal.build
    entries = (*build.entries, *build.drafts)
    names = [line.drilled_out for entry in entries for line in (*entry.fasteners, *entry.torque)]
    names += [one.closed_by for inspection in build.inspections for one in inspection.findings]
    names += [name for bulletin in build.bulletins for name in bulletin.done_in]
    return {
        "entries": {hidden(entry.id): Kept.of(entry) for entry in entries},
        "named": sorted({hidden(name) for name in names if name}),
        "formerly": any(entry.formerly for entry in entries),
        "steps": {step: stands.word for step, stands in journal.progress.steps.items()},
    }


_ASKED = ("width", "height", "trouble", "mend", "damage")
"""What is kept of a picture's facts beside its time: what reading and an answer ask for."""


class _Known(NamedTuple):
    sha256: str
    facts: PhotoFacts


def _pictures(root: Path, entries: Iterable[Entry], shown: Container[str]) -> dict[str, dict[str, list[Any]]]:
    """What is kept of the pictures of those entries that are `shown`, by hidden name and file."""
    return {
        hidden(entry.id): {
            photo.name: [
                stamp(root / photo.src_uri),
                photo.sha256,
                photo.facts.taken.isoformat() if photo.facts.taken else "",
                {name: value for name, value in named(photo.facts, *_ASKED).items() if value},
            ]
            for photo in entry.photos
        }
        for entry in entries
        if entry.id in shown
    }


def _examine(old: WarmIndex, root: Path, touched: Set[str], src_uris: Sequence[str]) -> Mapping[str, ExaminedPhoto]:
    """What is known of pictures of the entries `touched`, also of one that went and comes again by another name; those
    that are not as they were are examined.
    """
    known = {
        (name, *seen): _Known(sha256, PhotoFacts(taken=datetime.fromisoformat(taken) if taken else None, **rest))
        for entry in touched
        for name, (seen, sha256, taken, rest) in old.pictures(entry).items()
    }
    found: dict[str, ExaminedPhoto] = {}
    for src_uri in src_uris:
        if told := known.get((src_uri.rpartition("/")[2], *stamp(root / src_uri))):
            found[src_uri] = told
    fresh = [src_uri for src_uri in src_uris if src_uri not in found]
    return found | photo_store(root).examine(fresh) if fresh else found


# -- a few entries ---------------------------------------------------------------------------------

_Change = tuple[Journal, Mapping[str, Any], Set[str]]
"""The few entries that changed, opened; the state of the content that they bring about; and their hidden names."""


def _few_changed(old: WarmIndex, stamps: Stamps, root: Path, today: date, audience: Audience) -> _Change | None:
    """What changed since `old` was made, where that are few entries and all that comes of it can be told from them."""
    state = old.fact("state")
    before, entries = state["folders"], {name: Kept(*row) for name, row in state["entries"].items()}
    touched = {name for name in {*before, *stamps.entries} if before.get(name) != stamps.entries.get(name)}
    others = {name: kept for name, kept in entries.items() if name not in touched}
    if (
        state["rest"] != stamps.rest
        or old.about["errors"]
        or state["met"]
        or len(touched) > MOST
        or any(isinstance(one.get(name), str) for one in (before, stamps.entries) for name in touched)
        or not touched & entries.keys() <= before.keys()  # two would go by one name
        or not others.keys() <= stamps.names.keys()
    ):
        return None
    there = {stamps.names[name] for name in touched if name in stamps.entries}
    beside = [kept.entry(stamps.names[name]) for name, kept in others.items()]
    journal = open_few(root, today, there, beside, partial(_examine, old, root, touched))
    told = _told_by(journal)
    read = told["entries"]
    listed = state["lists"] and audience is Audience.ARCHIVE
    if (
        has_errors(journal.problems)
        or told["formerly"]
        or (state["formerly"] and not read.keys() <= entries.keys())
        or not (touched & entries.keys() - read.keys()).isdisjoint(state["named"])
        or (listed and any(_listed(entries.get(name)) != _listed(read.get(name)) for name in touched))
    ):
        return None
    named = [*{*state["named"], *told["named"]}]
    news = {"folders": stamps.entries, "entries": others | read, "named": named, "steps": told["steps"]}
    return journal, state | news, touched


def _listed(kept: Kept | None) -> str | None:
    return kept.listed if kept else None


def _alter(
    old: WarmIndex, file: Path, root: Path, stamps: Stamps, code: str, audience: Audience, change: _Change
) -> bool:
    """Lay `old` down in `file` with the entries that changed; False where the addresses of others change with them."""
    journal, state, touched = change
    build = journal.build
    desk = _Desk.by(code, shipped_rules().with_kin(old.lexicon["kin"]))
    view = open_view(replace(journal, build=replace(build, inventory=())), audience)
    found = documents(view, PageAddresses(view))
    outlines = [Outline(*row) for row in old.fact("outlines")]
    gone = [outline for outline in outlines if outline.kind == _ENTRY and hidden(outline.id) in touched]
    left = {outline.number for outline in gone}
    kept = [_on_its_day(outline, journal) for outline in outlines if outline.number not in left]

    fresh = [replace(one, address=_address(one.id)) for one in found if one.kind is DocumentKind.ENTRY]
    taken = [outline.address.casefold() for outline in kept if outline.date] + [one.address.casefold() for one in fresh]
    if len(set(taken)) < len(taken):
        return False
    steps = {outline.id: outline.number for outline in outlines if outline.kind == DocumentKind.STEP.value}
    stood = old.fact("state")["steps"]
    moved_on = [one for one in found if one.kind is DocumentKind.STEP and state["steps"][one.id] != stood[one.id]]
    made = desk.lay([*fresh, *moved_on], view, {})
    new = desk.outlines(fresh, made[: len(fresh)], build, max(old.numbers, default=-1) + 1)
    numbers = [*(outline.number for outline in new), *(steps[one.id] for one in moved_on)]
    put = dict(zip(numbers, made, strict=True))

    after = [*sorted([*(outline for outline in kept if outline.date), *new], key=Outline.order)]
    after += [outline for outline in kept if not outline.date]
    lengths = dict(zip(old.numbers, old.lexicon["lengths"], strict=True))
    lengths |= {number: one.words.lengths for number, one in put.items()}
    wordless = [Analysed({}, [], lengths[outline.number], []) for outline in after]
    index = build_index([outline.light for outline in after], wordless, old.lexicon["twins"], desk.tokenizer)
    before = {outline.number: outline for outline in outlines}
    back = [outline._replace(day=outline.told_day) for outline in gone]
    alter_warm(
        old,
        file,
        facts={
            "key": stamps.key,
            "lexicon": index.lexicon,
            "about": {**old.about, "people_of": _people_of(after)},
            "state": state,
            "outlines": after,
            "numbers": [outline.number for outline in after],
        },
        gone=before.keys() & (left | put.keys()),
        put=put,
        moved={
            outline.number: MovedDay(outline.at, before[outline.number].day, outline.day)
            for outline in (*kept, *back)
            if outline.day != before[outline.number].day
        },
        pictures=dict.fromkeys(touched) | _pictures(root, build.entries, {one.id for one in fresh}),
    )
    return True


def _on_its_day(outline: Outline, journal: Journal) -> Outline:
    totals = journal.ledger.entries.get(outline.id) if outline.kind == _ENTRY else None
    return outline._replace(day=totals.day) if totals else outline
