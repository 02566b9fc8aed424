"""What the record does not show yet: the gaps an inspector would ask about, found first. Pure.

Every rule is one small function over the whole build and stands in `RULES`, with its code word
and the reason for it. All are findings, never errors: the tool points, the builder mends or answers,
the authority decides. A builder answers a gap in the front matter of an entry it is about
(`answers: {code-word: reason}`); answered gaps are listed apart and never hidden.

Private entries and private pictures are evidence like any other; drafts are not.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import pairwise

from journal.base.addresses import fold_name
from journal.base.formatting import say_count, say_date, say_minutes, say_steps
from journal.base.model import (
    Build,
    ClosingInspections,
    Entry,
    Inspection,
    Outcome,
    Person,
    Photo,
    Role,
    State,
    Step,
    Where,
    photo_day,
)
from journal.base.problems import Grade, Problem, did_you_mean, finding, sort_problems
from journal.base.prose import find_images
from journal.ledger.hours import Ledger
from journal.ledger.progress import Progress, step_marks

BUILD_FILE = "content/build.yml"
LONG_DAY_MINUTES = 16 * 60
LONG_GAP_DAYS = 60
PHOTO_DAYS = 1
"""A picture may be a day off: work passes midnight, and cameras travel without changing zone."""
CLOSING = "closing"
"""The `stage` of an inspection before closing."""

_PASSED = (Outcome.PASSED, Outcome.PASSED_WITH_FINDINGS)
_NAMED_AT_MOST = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """One thing the record does not show, as a `Problem`, with what it is about.

    `entries` are the IDs of the entries that may answer it; `steps` and `assembly` say what
    part of the build lacks evidence. `answer` is the builder's reason, from entry
    `answered_in`; empty while the gap is open.
    """

    problem: Problem
    entries: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()
    assembly: str | None = None
    answer: str = ""
    answered_in: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What the rules look at. `today` comes from the caller; no rule reads a clock."""

    build: Build
    ledger: Ledger
    progress: Progress
    today: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A rule of evidence: its stable code word, what it finds, and why anybody asks."""

    word: str
    finds: str
    why: str
    check: Callable[[Facts], Iterator[Gap]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """The gaps of a build: `gaps` are open, `answered` carry the builder's reason. Both in the
    order of file and line.
    """

    gaps: tuple[Gap, ...] = ()
    answered: tuple[Gap, ...] = ()

    @property
    def problems(self) -> tuple[Problem, ...]:
        """The open gaps as findings, sorted."""
        return sort_problems(gap.problem for gap in self.gaps)

    def gaps_of(self, entry: str) -> tuple[Gap, ...]:
        """All gaps that concern an entry, open ones first."""
        return tuple(gap for gap in (*self.gaps, *self.answered) if entry in gap.entries)


def check_evidence(build: Build, ledger: Ledger, progress: Progress, today: date) -> tuple[Problem, ...]:
    """The open gaps as findings for `journal check`, sorted; answered ones are not among them."""
    return find_gaps(build, ledger, progress, today).problems


def find_gaps(
    build: Build,
    ledger: Ledger,
    progress: Progress,
    today: date,
    others: Iterable[Problem] | None = None,
) -> Evidence:
    """Every gap of `build`, answered ones apart.

    `others` are findings made elsewhere (reading, trade). They take part, so that `answers`
    works for every finding on an entry; errors among them are left out. Without them only
    answers to the rules of this module are judged.
    """
    facts = Facts(build=build, ledger=ledger, progress=progress, today=today)
    found = [gap for rule in RULES for gap in rule.check(facts)]
    if others is not None:
        entry_of = {entry.src_uri: entry.id for entry in build.entries}
        found += [
            Gap(problem=problem, entries=(entry_of[problem.file],) if problem.file in entry_of else ())
            for problem in others
            if problem.grade is Grade.FINDING
        ]
    found += _unused_answers(build, found, every_word=others is not None)
    answers = {entry.id: entry.answers for entry in build.entries if entry.answers}
    settled = [_settled(gap, answers) for gap in found]
    settled.sort(key=lambda gap: _order(gap.problem))
    return Evidence(
        gaps=tuple(gap for gap in settled if gap.answered_in is None),
        answered=tuple(gap for gap in settled if gap.answered_in is not None),
    )


def _order(problem: Problem) -> tuple[str, int, int, str, str]:
    return problem.file, problem.line or 0, problem.column or 0, problem.word, problem.message


def _settled(gap: Gap, answers: Mapping[str, Mapping[str, str]]) -> Gap:
    for entry in gap.entries:
        reason = answers.get(entry, {}).get(gap.problem.word, "").strip()
        if reason:
            return replace(gap, answer=reason, answered_in=entry)
    return gap


def _unused_answers(build: Build, found: Sequence[Gap], *, every_word: bool) -> Iterator[Gap]:
    """An answer to a finding that the entry does not have: a slip in the code word would
    otherwise leave the builder believing that it was answered.
    """
    words_of: dict[str, set[str]] = defaultdict(set)
    for gap in found:
        for entry_id in gap.entries:
            words_of[entry_id].add(gap.problem.word)
    judged = {rule.word for rule in RULES}
    for entry in build.entries:
        for word in entry.answers:
            if word in words_of[entry.id] or not (every_word or word in judged):
                continue
            hint = did_you_mean(word, sorted(words_of[entry.id])) or "leave the line out"
            yield Gap(
                problem=finding(
                    entry.src_uri,
                    _place(entry, f"answers.{word}", "answers"),
                    "answer-unused",
                    f'"answers" speaks of "{word}", but there is no such finding on this entry',
                    hint,
                ),
                entries=(entry.id,),
            )


# ---------------------------------------------------------------- rules on steps and their text


def steps_without_text(facts: Facts) -> Iterator[Gap]:
    """An entry finishes steps or does them over, and has not a word beyond its pictures."""
    for entry in facts.build.entries:
        steps = _finished(entry)
        if steps and not entry_text(entry):
            yield _gap(
                entry,
                ("steps", "redone"),
                "no-text",
                f"{_steps_say(facts, steps)} done, but the entry has no text",
                "write below the front matter how it was done, in a sentence or two",
                steps=steps,
            )


def steps_without_photo(facts: Facts) -> Iterator[Gap]:
    """Steps that are done and that no usable picture shows; told once per entry that finished them.

    A picture shows the step it names; without one, every step its entry names.
    """
    shown: set[str] = set()
    for entry in facts.build.entries:
        for photo in _usable(entry.photos):
            if photo.step:
                shown.add(photo.step)
            else:
                shown.update(step for step, _ in step_marks(entry))
    for inspection in facts.build.inspections:
        shown.update(photo.step for photo in _usable(inspection.photos) if photo.step)
    missing: dict[str, list[str]] = defaultdict(list)
    for step, progress in facts.progress.steps.items():
        if progress.state is State.DONE and progress.done_in and step not in shown:
            missing[progress.done_in].append(step)
    for entry in facts.build.entries:
        if entry.id in missing:
            steps = tuple(missing[entry.id])
            yield _gap(
                entry,
                ("steps", "redone"),
                "no-photo",
                f"{_steps_say(facts, steps)} done, but no picture shows {_it(len(steps))}",
                "put a picture into the entry's folder, or name the step at the picture that shows it",
                steps=steps,
            )


def steps_done_twice(facts: Facts) -> Iterator[Gap]:
    """A step finished again by an entry that does not call it `redone`."""
    done_in: dict[str, str] = {}
    for entry in facts.build.entries:
        again: dict[str, str] = {}
        for step, mark in step_marks(entry):
            if mark == "begun":
                done_in.pop(step, None)
                continue
            if mark == "steps" and done_in.get(step, entry.id) != entry.id:
                again[step] = done_in[step]
            done_in[step] = entry.id
        if again:
            earlier = ", ".join(dict.fromkeys(again.values()))
            yield _gap(
                entry,
                ("steps",),
                "step-twice",
                f"{_steps_say(facts, tuple(again))} done already in {earlier}",
                "name work done over under `redone` and write why in the text",
                steps=tuple(again),
            )


# ---------------------------------------------------------------- rules on pictures


def photos_of_other_days(facts: Facts) -> Iterator[Gap]:
    """Pictures taken more than a day before or after the entry's day; told once per entry."""
    for entry in facts.build.entries:
        off = [
            (photo.name, photo.facts.taken.date())
            for photo in entry.photos
            if photo.facts.taken
            and photo.facts.clock_set
            and abs((photo.facts.taken.date() - entry.date).days) > PHOTO_DAYS
        ]
        if off:
            told = _listed([f"{name} on {say_date(day)}" for name, day in off])
            yield _gap(
                entry,
                _photo_keys(off[0][0]),
                "photo-date",
                f"taken on another day than the entry's ({say_date(entry.date)}): {told}",
                "put the picture into the entry of its day, or mend `date`",
            )


def camera_clock_never_set(facts: Facts) -> Iterator[Gap]:
    """Pictures whose capture time is the first day of a camera's calendar; told once per entry."""
    for entry in facts.build.entries:
        unset = [photo for photo in entry.photos if photo.facts.taken and not photo.facts.clock_set]
        if unset:
            told = _listed([f"{photo.name} says {_day_of(photo)}" for photo in unset])
            yield _gap(
                entry,
                _photo_keys(unset[0].name),
                "camera-clock",
                f"the camera's clock was never set: {told}",
                'set the clock of the camera; the record says "not recorded" for these pictures',
            )


def photos_without_capture_time(facts: Facts) -> Iterator[Gap]:
    """Readable pictures that carry no capture time; told once per entry."""
    for entry in facts.build.entries:
        bare = [photo.name for photo in _usable(entry.photos) if photo.facts.taken is None]
        if bare:
            yield _gap(
                entry,
                _photo_keys(bare[0]),
                "no-capture-time",
                f"no capture time in {_listed(bare)}",
                "use the file as it came from the camera; programs that send pictures often drop the time",
            )


def photos_used_twice(facts: Facts) -> Iterator[Gap]:
    """The same picture, by its bytes, in two entries or twice in one; told once per set of entries."""
    copies: dict[str, list[tuple[str, str]]] = defaultdict(list)
    for entry in facts.build.entries:
        for photo in entry.photos:
            if photo.sha256:
                copies[photo.sha256].append((entry.id, photo.name))
    by_entries: dict[tuple[str, ...], list[list[tuple[str, str]]]] = defaultdict(list)
    for found in copies.values():
        if len(found) > 1:
            by_entries[tuple(dict.fromkeys(entry for entry, _ in found))].append(found)
    entries = {entry.id: entry for entry in facts.build.entries}
    for ids, groups in by_entries.items():
        here = entries[ids[-1]]
        told = _listed([_same_picture(found, here.id) for found in groups])
        first = next(name for entry, name in groups[0] if entry == here.id)
        yield _gap(
            here,
            _photo_keys(first),
            "photo-shared",
            f"the same picture more than once: {told}",
            "keep it in the entry of the day on which it was taken",
            entries=(here.id, *ids[:-1]),
        )


def nobody_at_work(facts: Facts) -> Iterator[Gap]:
    """An assembly that counts, worked on, without a picture of a builder at work.

    Pointed at in its newest entry: a sealed one would need an amendment.
    """
    builders = {person.id for person in facts.build.people.values() if person.role is Role.BUILDER}
    pictures: dict[str, int] = defaultdict(int)
    seen: dict[str, set[str]] = defaultdict(set)
    entries: dict[str, list[Entry]] = defaultdict(list)
    for entry in facts.build.entries:
        entries[entry.assembly].append(entry)
        for photo in _usable(entry.photos):
            pictures[entry.assembly] += 1
            seen[entry.assembly].update(photo.people)
    for assembly in facts.build.assemblies.values():
        if not assembly.counts or assembly.id not in entries or seen[assembly.id] & builders:
            continue
        count = pictures[assembly.id]
        whose = f"{assembly.title} ({say_count(count, 'picture')})" if count else f"{assembly.title} (none)"
        newest = entries[assembly.id][-1]
        who = "no builder is" if seen[assembly.id] else "nobody is"
        yield _gap(
            newest,
            ("photos", "assembly"),
            "nobody-at-work",
            f"{who} seen at work in the pictures of {whose}",
            "name who is at work under `photos: {FILE: {people: [ID]}}`, or take such a picture next time",
            entries=tuple(entry.id for entry in reversed(entries[assembly.id])),
            assembly=assembly.id,
        )


# ---------------------------------------------------------------- rules on closing and inspections


@dataclass(frozen=True, slots=True, kw_only=True)
class _Closing:
    """A structure that stands closed: by which step and entry, when, and who saw it before."""

    step: Step
    entry: Entry
    day: date
    photographed: bool
    inspected: bool

    @property
    def told(self) -> str:
        return f"step {self.step.id} closed {self.step.closes} on {say_date(self.day)}"


def _closings(facts: Facts) -> Iterator[_Closing]:
    """What stands closed now. Evidence must be from the day of closing or before.

    What names a closing step speaks for that step; what names the assembly, or other steps of
    it, speaks for the whole assembly. A step that stands open again is not closed.
    """
    pictures = _inside_pictures(facts.build)
    looks = _closing_inspections(facts.build)
    entries = {entry.id: entry for entry in facts.build.entries}
    for step in facts.build.steps.values():
        progress = facts.progress.steps[step.id]
        if step.closes and progress.state is State.DONE and progress.done_in and progress.done_on:
            yield _Closing(
                step=step,
                entry=entries[progress.done_in],
                day=progress.done_on,
                photographed=_speaks_for(pictures, step, progress.done_on),
                inspected=_speaks_for(looks, step, progress.done_on),
            )


def closed_unseen(facts: Facts) -> Iterator[Gap]:
    """A structure closed for good with neither a picture of its inside nor a passed closing inspection."""
    rule = facts.build.closing_inspections
    for closing in _closings(facts):
        if not (closing.photographed or closing.inspected):
            yield _closing_gap(
                facts,
                closing,
                "closed-unseen",
                f"{closing.told}; no picture of the inside and no passed inspection from that day or before",
                f"mark a picture of the inside with `inside: true`; {_INSPECTION_HINTS[rule]}",
            )


def closed_uninspected(facts: Facts) -> Iterator[Gap]:
    """A structure closed with a picture of its inside, but without the inspection that is required."""
    rule = facts.build.closing_inspections
    for closing in _closings(facts):
        if rule is ClosingInspections.REQUIRED and closing.photographed and not closing.inspected:
            yield _closing_gap(
                facts,
                closing,
                "closed-uninspected",
                f"{closing.told} without a passed inspection from that day or before, which is required",
                _INSPECTION_HINTS[rule],
            )


_INSPECTION_HINTS = {
    ClosingInspections.REQUIRED: "write up the inspection with `stage: closing` (required by build.yml); "
    "if there was none, ask the authority before going on",
    ClosingInspections.RECOMMENDED: "write up the inspection with `stage: closing` (recommended by build.yml)",
    ClosingInspections.NONE: "a look by somebody else, if there was one, is written up with `stage: closing`",
}


def _closing_gap(facts: Facts, closing: _Closing, word: str, message: str, hint: str) -> Gap:
    return _gap(
        closing.entry,
        ("steps", "redone"),
        word,
        message,
        hint,
        entries=facts.progress.steps[closing.step.id].entries[::-1],
        steps=(closing.step.id,),
        assembly=closing.step.assembly,
    )


def inspection_findings_open(facts: Facts) -> Iterator[Gap]:
    """A finding of an inspection that nobody has put right yet."""
    for inspection in facts.build.inspections:
        for found in inspection.findings:
            if found.open:
                yield Gap(
                    problem=finding(
                        inspection.src_uri,
                        found.where or _place(inspection, "findings"),
                        "finding-open",
                        f"finding {found.id} of {say_date(inspection.date)} is open: {_short(found.text)}",
                        "once it is put right, add `closed_on` and `closed_by` (the entry that tells how)",
                    ),
                    steps=inspection.steps,
                    assembly=inspection.assembly,
                )


# ---------------------------------------------------------------- rules on days, people and places


def long_days(facts: Facts) -> Iterator[Gap]:
    """More than 16 hours of one person on one day, over all entries of that day."""
    worked: dict[tuple[date, str], int] = defaultdict(int)
    entries: dict[date, list[Entry]] = defaultdict(list)
    for entry in facts.build.entries:
        entries[entry.date].append(entry)
        for time in entry.time:
            worked[entry.date, time.person] += time.minutes
    too_long: dict[date, list[str]] = defaultdict(list)
    for (day, person), minutes in worked.items():
        if minutes > LONG_DAY_MINUTES:
            too_long[day].append(f"{_name(facts.build, person)} {say_minutes(minutes)}")
    for day, told in too_long.items():
        concerned = tuple(entry.id for entry in reversed(entries[day]))
        yield _gap(
            entries[day][-1],
            ("hours",),
            "long-day",
            f"more than 16 h on {say_date(day)}: {', '.join(told)}",
            "check `hours` in the entries of that day: it is the time each person worked",
            entries=concerned,
        )


def future_dates(facts: Facts) -> Iterator[Gap]:
    """An entry or inspection dated after today."""
    for told in _dated(facts.build):
        if told.date > facts.today:
            yield _gap(
                told,
                ("date",),
                "future-date",
                f"dated {say_date(told.date)}, which is still to come",
                "check the day and the year",
            )


def dates_before_the_build(facts: Facts) -> Iterator[Gap]:
    """An entry or inspection dated before `begun` of build.yml."""
    begun = facts.build.begun
    if begun is None:
        return
    for told in _dated(facts.build):
        if told.date < begun:
            yield _gap(
                told,
                ("date",),
                "before-begun",
                f"dated {say_date(told.date)}, before the build began ({say_date(begun)})",
                "check the day and the year, or `begun` in build.yml",
            )


def _dated(build: Build) -> Iterator[Entry | Inspection]:
    yield from build.entries
    yield from build.inspections


def long_gaps(facts: Facts) -> Iterator[Gap]:
    """More than 60 days without work between two worked days."""
    first_of: dict[date, Entry] = {}
    ids_of: dict[date, list[str]] = defaultdict(list)
    for entry in facts.build.entries:
        first_of.setdefault(entry.date, entry)
        ids_of[entry.date].append(entry.id)
    for before, after in pairwise(facts.ledger.worked_days):
        days = (after - before).days
        if days > LONG_GAP_DAYS:
            yield _gap(
                first_of[after],
                ("date",),
                "long-gap",
                f"nothing is told of the {days} days since {say_date(before)}",
                "write up what is missing, or why nothing was done",
                entries=(*ids_of[after], *ids_of[before]),
            )


def places_missing(facts: Facts) -> Iterator[Gap]:
    """Where the work was done is not told. Without any place in build.yml it is told once."""
    build = facts.build
    lacking = [entry for entry in build.entries if entry.place is None]
    if lacking and not build.places:
        yield _build_gap(
            "no-place",
            f"no place is told for {say_count(len(lacking), 'entry', 'entries')}",
            "name the workshop under `places`; the first place stands for every entry without one",
            lacking,
        )
        return
    for entry in lacking:
        yield _gap(entry, ("place",), "no-place", "the place of the work is not told", "write `place: ID`")


def people_missing(facts: Facts) -> Iterator[Gap]:
    """Who did the work is not told. Without any builder in build.yml it is told once."""
    build = facts.build
    lacking = [entry for entry in build.entries if not entry.people]
    if lacking and not any(person.role is Role.BUILDER for person in build.people.values()):
        yield _build_gap(
            "no-people",
            f"nobody is named for {say_count(len(lacking), 'entry', 'entries')}",
            "name the builders under `people`; they stand for every entry that names nobody",
            lacking,
        )
        return
    for entry in lacking:
        yield _gap(entry, ("people",), "no-people", "nobody is named for this work", "write `people: [ID]`")


def paid_help_untold(facts: Facts) -> Iterator[Gap]:
    """Paid help in an entry that does not name it: neither text nor captions say what it did."""
    paid = {person.id: person for person in facts.build.people.values() if person.role is Role.PAID}
    for entry in facts.build.entries:
        present = [paid[person] for person in entry.people if person in paid]
        if not present:
            continue
        captions = " ".join(photo.caption for photo in entry.photos)
        told = _words_in(f"{entry.title} {entry.body} {captions}")
        silent = [person for person in present if not _named_in(person, told)]
        if silent:
            names = ", ".join(person.name for person in silent)
            yield _gap(
                entry,
                ("people", "hours"),
                "paid-help",
                f"paid help took part ({names}), but the entry does not say what it did",
                "write by name what was done by paid help and what by the builder",
            )


RULES: tuple[Rule, ...] = (
    Rule(
        word="no-text",
        finds="Steps finished by an entry that has no text.",
        why="An entry tells how the work was done; a step number alone does not.",
        check=steps_without_text,
    ),
    Rule(
        word="no-photo",
        finds="Steps done that no usable picture shows.",
        why="Pictures of every step are the evidence most often asked for.",
        check=steps_without_photo,
    ),
    Rule(
        word="step-twice",
        finds="Steps finished again without being called done over.",
        why="Rework is part of the record; a step finished twice is rework or a slip.",
        check=steps_done_twice,
    ),
    Rule(
        word="photo-date",
        finds="Pictures taken more than a day before or after the entry's day.",
        why="A picture supports the day on which it was taken.",
        check=photos_of_other_days,
    ),
    Rule(
        word="camera-clock",
        finds="Pictures from a camera whose clock was never set.",
        why="The time in the file means nothing then, and the record does not repeat it.",
        check=camera_clock_never_set,
    ),
    Rule(
        word="no-capture-time",
        finds="Pictures without a capture time.",
        why="Nothing but the entry then says when the picture was taken.",
        check=photos_without_capture_time,
    ),
    Rule(
        word="photo-shared",
        finds="The same picture in two entries, or twice in one.",
        why="One picture cannot show the work of two days.",
        check=photos_used_twice,
    ),
    Rule(
        word="nobody-at-work",
        finds="Assemblies without a picture of a builder at work.",
        why="Inspectors give such pictures special weight: they show who did the work.",
        check=nobody_at_work,
    ),
    Rule(
        word="closed-unseen",
        finds="Structures closed for good without a picture of the inside or a passed closing inspection.",
        why="Nobody can look inside afterwards.",
        check=closed_unseen,
    ),
    Rule(
        word="closed-uninspected",
        finds="Structures closed without a passed closing inspection where build.yml says it is required.",
        why="Some authorities want to see the inside themselves; ask yours.",
        check=closed_uninspected,
    ),
    Rule(
        word="finding-open",
        finds="Findings of inspections that are not yet put right.",
        why="Each finding belongs to the record together with how it was put right.",
        check=inspection_findings_open,
    ),
    Rule(
        word="long-day",
        finds="More than 16 hours of one person on one day.",
        why="Usually the hours of two people or two days were added up.",
        check=long_days,
    ),
    Rule(
        word="future-date",
        finds="Entries and inspections dated after the day of the check.",
        why="Usually a slip in the year.",
        check=future_dates,
    ),
    Rule(
        word="before-begun",
        finds="Entries and inspections dated before the build began.",
        why="Usually a slip in the year.",
        check=dates_before_the_build,
    ),
    Rule(
        word="long-gap",
        finds="More than 60 days without work between two worked days.",
        why="The record should be continuous, with breaks explained.",
        check=long_gaps,
    ),
    Rule(
        word="no-place",
        finds="Entries that do not tell where the work was done.",
        why="Where belongs to what every entry must show.",
        check=places_missing,
    ),
    Rule(
        word="no-people",
        finds="Entries that do not tell who did the work.",
        why="Who belongs to what every entry must show.",
        check=people_missing,
    ),
    Rule(
        word="paid-help",
        finds="Paid help in an entry that does not say what it did.",
        why="Paid help is counted apart from the builder's own work.",
        check=paid_help_untold,
    ),
)
"""All rules, in the order in which the record lists them."""


# ---------------------------------------------------------------- helpers


def entry_text(entry: Entry) -> str:
    """The words of an entry's body without pictures, headings and comments; empty where it says nothing."""
    body = entry.body
    for image in reversed(list(find_images(body)) if "![" in body else []):
        body = body[: image.start] + body[image.end :]
    body = _NOT_TEXT.sub("", body)
    return " ".join(body.split()) if _WORD.search(body) else ""


_NOT_TEXT = re.compile(r"<!--(?:.|\n)*?(?:-->|\Z)|^[ \t]{0,3}#{1,6}[ \t][^\n]*$|^[ \t]*[!?]{3}[^\n]*$", re.MULTILINE)
_WORD = re.compile(r"\w")
_WORDS = re.compile(r"\w+")
_IN_EVERY_NAME = frozenset({"a", "and", "by", "co", "help", "of", "our", "paid", "the"})


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """A day on which the inside of something was seen: of `step`, or with None of all in `assembly`."""

    day: date
    assembly: str
    steps: frozenset[str] = field(default_factory=frozenset)


def _inside_pictures(build: Build) -> Mapping[str, list[_Seen]]:
    seen: dict[str, list[_Seen]] = defaultdict(list)
    told: list[tuple[Photo, date, str | None, tuple[str, ...]]] = [
        (photo, entry.date, entry.assembly, ()) for entry in build.entries for photo in entry.photos if photo.inside
    ]
    told += [
        (photo, inspection.date, inspection.assembly, inspection.steps)
        for inspection in build.inspections
        for photo in inspection.photos
        if photo.inside
    ]
    for photo, told_on, assembly, steps in told:
        if not photo.facts.trouble:
            named = (photo.step,) if photo.step else steps
            _note(build, seen, photo_day(photo, told_on), assembly, named)
    return seen


def _closing_inspections(build: Build) -> Mapping[str, list[_Seen]]:
    seen: dict[str, list[_Seen]] = defaultdict(list)
    for inspection in build.inspections:
        if fold_name(inspection.stage) == CLOSING and inspection.outcome in _PASSED:
            _note(build, seen, inspection.date, inspection.assembly, inspection.steps)
    return seen


def _note(build: Build, seen: dict[str, list[_Seen]], day: date, assembly: str | None, steps: tuple[str, ...]) -> None:
    closing = frozenset(step for step in steps if build.steps[step].closes)
    assemblies = {build.steps[step].assembly for step in steps} or ({assembly} if assembly else set())
    for name in assemblies:
        seen[name].append(_Seen(day=day, assembly=name, steps=closing))


def _speaks_for(seen: Mapping[str, list[_Seen]], step: Step, day: date) -> bool:
    return any(one.day <= day and (not one.steps or step.id in one.steps) for one in seen.get(step.assembly, ()))


def _finished(entry: Entry) -> tuple[str, ...]:
    return tuple(dict.fromkeys((*entry.steps, *entry.redone)))


def _usable(photos: Iterable[Photo]) -> Iterator[Photo]:
    return (photo for photo in photos if not photo.facts.trouble)


def _place(told: Entry | Inspection, *keys: str) -> Where:
    """The first of `keys` that the front matter has, else the head of the file."""
    return next((told.where[key] for key in keys if key in told.where), (1, 1))


def _photo_keys(name: str) -> tuple[str, ...]:
    return f"photos.{name}", "photos"


def _gap(
    told: Entry | Inspection,
    keys: tuple[str, ...],
    word: str,
    message: str,
    hint: str,
    *,
    entries: tuple[str, ...] | None = None,
    steps: tuple[str, ...] = (),
    assembly: str | None = None,
) -> Gap:
    if entries is None:
        entries = (told.id,) if isinstance(told, Entry) else ()
    if entries:
        hint += f"; or say why it is so: `answers: {{{word}: reason}}`"
    return Gap(
        problem=finding(told.src_uri, _place(told, *keys), word, message, hint),
        entries=entries,
        steps=steps,
        assembly=assembly or told.assembly,
    )


def _build_gap(word: str, message: str, hint: str, entries: Iterable[Entry]) -> Gap:
    return Gap(
        problem=finding(BUILD_FILE, None, word, message, hint),
        entries=tuple(entry.id for entry in entries),
    )


def _steps_say(facts: Facts, steps: tuple[str, ...]) -> str:
    one_or_many = "step" if len(steps) == 1 else "steps"
    is_or_are = "is" if len(steps) == 1 else "are"
    return f"{one_or_many} {say_steps(steps, tuple(facts.build.steps))} {is_or_are}"


def _it(number: int) -> str:
    return "it" if number == 1 else "them"


def _listed(told: Sequence[str]) -> str:
    shown = ", ".join(told[:_NAMED_AT_MOST])
    more = len(told) - _NAMED_AT_MOST
    return f"{shown} and {more} more" if more > 0 else shown


def _same_picture(found: Sequence[tuple[str, str]], here: str) -> str:
    own = [name for entry, name in found if entry == here]
    elsewhere = [f"{name} in {entry}" for entry, name in found if entry != here]
    return " = ".join([*own, *elsewhere])


def _day_of(photo: Photo) -> str:
    assert photo.facts.taken is not None
    return say_date(photo.facts.taken.date())


def _name(build: Build, person: str) -> str:
    return build.people[person].name if person in build.people else person


def _words_in(text: str) -> set[str]:
    return {word.casefold() for word in _WORDS.findall(text)}


def _named_in(person: Person, told: set[str]) -> bool:
    """Whether any word of the name, shown name or ID occurs, initials and words of every name aside."""
    names = _words_in(f"{person.name} {person.shown_as or ''} {person.id}") - _IN_EVERY_NAME
    return bool({name for name in names if len(name) > 1} & told)


def _short(text: str) -> str:
    text = " ".join(text.split())
    return text if len(text) <= 80 else text[:79].rstrip() + "…"
