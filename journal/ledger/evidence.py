"""What the record does not show yet: the gaps an inspector would ask about, found first. Pure.

Every rule is one small function over the whole build, with its code word and the reason for it. All are
findings, never errors: the tool points, the builder mends or answers, the authority decides. A builder
answers a gap in the front matter of an entry it is about (`answers: {code-word: reason}`); answered gaps
are listed apart and never hidden.

Private entries and private pictures are evidence like any other; drafts are not.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise

from journal.base.addresses import fold_name
from journal.base.formatting import say_count, say_date, say_few, say_minutes, say_steps
from journal.base.model import (
    Build,
    BulletinState,
    ClosingInspections,
    Entry,
    Outcome,
    Person,
    Photo,
    Role,
    State,
    Step,
    StepProgress,
    Where,
    WriteUp,
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
    """What the rules judge. `today` comes from the caller; no rule reads a clock."""

    build: Build
    ledger: Ledger
    progress: Progress
    today: date


@dataclass(frozen=True, slots=True)
class _Found:
    """What a rule found, to be told at the first of `keys` that the front matter of `about` has (at `place` where
    that is known better), in `file` where it is about no folder in particular. `entries` are those that may
    answer it, `about` itself unless told.
    """

    about: Entry | WriteUp | None
    keys: tuple[str, ...]
    message: str
    hint: str
    entries: tuple[str, ...] | None = None
    steps: tuple[str, ...] = ()
    assembly: str | None = None
    place: Where | None = None
    file: str = BUILD_FILE

    def as_gap(self, word: str) -> Gap:
        about, entries, hint = self.about, self.entries, self.hint
        if about is None:
            problem = finding(self.file, self.place, word, self.message, hint)
            return Gap(problem=problem, entries=entries or (), steps=self.steps, assembly=self.assembly)
        if entries is None:
            entries = (about.id,) if isinstance(about, Entry) else ()
        if entries:
            hint += f"; or say why it is so: `answers: {{{word}: reason}}`"
        return Gap(
            problem=finding(about.src_uri, self.place or _place(about, *self.keys), word, self.message, hint),
            entries=entries,
            steps=self.steps,
            assembly=self.assembly or about.assembly,
        )


Check = Callable[[Facts], Iterator[_Found]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A rule of evidence: its stable code word, what it finds, and why anybody asks."""

    word: str
    finds: str
    why: str
    check: Check


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


def find_gaps(
    build: Build,
    ledger: Ledger,
    progress: Progress,
    today: date,
    others: Iterable[Problem] | None = None,
    set_anew: Mapping[Problem, str] | None = None,
) -> Evidence:
    """Every gap of `build`, answered ones apart.

    `others` are findings made elsewhere (reading, trade). They take part, so that `answers`
    works for every finding on an entry; errors among them are left out. Without them only
    answers to the rules of this module are judged. `set_anew` are those of them that a later entry put right: it
    answers them.
    """
    facts = Facts(build=build, ledger=ledger, progress=progress, today=today)
    found = [one.as_gap(rule.word) for rule in RULES for one in rule.check(facts)]
    if others is not None:
        entry_of = {entry.src_uri: entry.id for entry in build.entries}
        found += [
            _settled_later(
                Gap(problem=problem, entries=(entry_of[problem.file],) if problem.file in entry_of else ()),
                (set_anew or {}).get(problem),
            )
            for problem in others
            if problem.grade is Grade.FINDING
        ]
    found += _unused_answers(build, found, every_word=others is not None)
    answers = {entry.id: entry.answers for entry in build.entries if entry.answers}
    settled = sorted((_settled(gap, answers) for gap in found), key=lambda gap: _order(gap.problem))
    return Evidence(
        gaps=tuple(gap for gap in settled if gap.answered_in is None),
        answered=tuple(gap for gap in settled if gap.answered_in is not None),
    )


def _order(problem: Problem) -> tuple[str, int, int, str, str]:
    return problem.file, problem.line or 0, problem.column or 0, problem.word, problem.message


def _settled_later(gap: Gap, entry: str | None) -> Gap:
    return replace(gap, answer="drilled out and set anew", answered_in=entry) if entry else gap


RETIRED = frozenset({"torque-high", "unknown-rivet", "unknown-bolt"})
"""Findings of earlier versions: an answer to one of them is no slip."""


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
            if word in words_of[entry.id] | RETIRED or not (every_word or word in judged):
                continue
            hint = did_you_mean(word, sorted(words_of[entry.id])) or "leave the line out"
            message = f'"answers" speaks of "{word}", but there is no such finding on this entry'
            where = _place(entry, f"answers.{word}", "answers")
            yield Gap(
                problem=finding(entry.src_uri, where, "answer-unused", message, hint),
                entries=(entry.id,),
            )


_RULES: list[Rule] = []


def _rule(word: str, finds: str, why: str) -> Callable[[Check], Check]:
    """Put the function below among the rules."""

    def put(check: Check) -> Check:
        _RULES.append(Rule(word=word, finds=finds, why=why, check=check))
        return check

    return put


# ---------------------------------------------------------------- rules on steps and their text


@_rule(
    "no-text",
    "Steps finished by an entry that has no text.",
    "An entry tells how the work was done; a step number alone does not.",
)
def _steps_without_text(facts: Facts) -> Iterator[_Found]:
    for entry in facts.build.entries:
        steps = tuple(dict.fromkeys((*entry.steps, *entry.redone)))
        if steps and not entry_text(entry):
            yield _Found(
                entry,
                ("steps", "redone"),
                f"{_steps_say(facts, steps)} done, but the entry has no text",
                "write below the front matter how it was done, in a sentence or two",
                steps=steps,
            )


@_rule(
    "no-photo",
    "Steps done that no usable picture shows.",
    "Pictures of every step are the evidence most often asked for.",
)
def _steps_without_photo(facts: Facts) -> Iterator[_Found]:
    """Told once per entry that finished them. A picture shows the step it names; without one, every step its
    entry names.
    """
    shown: set[str] = set()
    for entry in facts.build.entries:
        for photo in _usable(entry.photos):
            shown.update((photo.step,) if photo.step else (step for step, _ in step_marks(entry)))
    for told in facts.build.write_ups:
        shown.update(photo.step for photo in _usable(told.photos) if photo.step)
    for measurement in facts.build.measurements:
        # A picture of the measuring shows the step whose work it is.
        shown.update(step for photo in _usable(measurement.photos) if not photo.step for step in measurement.steps)
    missing: dict[str, list[str]] = defaultdict(list)
    for step, progress in facts.progress.steps.items():
        if progress.state is State.DONE and progress.done_in and step not in shown:
            missing[progress.done_in].append(step)
    for entry in facts.build.entries:
        if entry.id in missing:
            steps = tuple(missing[entry.id])
            yield _Found(
                entry,
                ("steps", "redone"),
                f"{_steps_say(facts, steps)} done, but no picture shows {'it' if len(steps) == 1 else 'them'}",
                "put a picture into the entry's folder, or name the step at the picture that shows it",
                steps=steps,
            )


@_rule(
    "step-twice",
    "Steps finished again without being called done over.",
    "Rework is part of the record; a step finished twice is rework or a slip.",
)
def _steps_done_twice(facts: Facts) -> Iterator[_Found]:
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
            yield _Found(
                entry,
                ("steps",),
                f"{_steps_say(facts, tuple(again))} done already in {earlier}",
                "name work done over under `redone` and write why in the text",
                steps=tuple(again),
            )


# ---------------------------------------------------------------- rules on pictures, told once per entry


def _of_pictures(entry: Entry, told: Sequence[tuple[Photo, str]], message: str, hint: str) -> Iterator[_Found]:
    """`message` and the first few of `told` after it, pointed at where the first picture is named."""
    if told:
        words = say_few([f"{photo.name}{said}" for photo, said in told])
        yield _Found(entry, (f"photos.{told[0][0].name}", "photos"), f"{message} {words}", hint)


@_rule(
    "photo-date",
    "Pictures taken more than a day before or after the entry's day.",
    "A picture supports the day on which it was taken.",
)
def _photos_of_other_days(facts: Facts) -> Iterator[_Found]:
    for entry in facts.build.entries:
        off = [
            (photo, f" on {say_date(photo.facts.taken)}")
            for photo in entry.photos
            if photo.facts.taken
            and photo.facts.clock_set
            and abs((photo.facts.taken.date() - entry.date).days) > PHOTO_DAYS
        ]
        yield from _of_pictures(
            entry,
            off,
            f"taken on another day than the entry's ({say_date(entry.date)}):",
            "put the picture into the entry of its day, or mend `date`",
        )


@_rule(
    "camera-clock",
    "Pictures from a camera whose clock was never set.",
    "The time in the file means nothing then, and the record does not repeat it.",
)
def _camera_clock_never_set(facts: Facts) -> Iterator[_Found]:
    for entry in facts.build.entries:
        yield from _of_pictures(
            entry,
            [
                (photo, f" says {say_date(photo.facts.taken)}")
                for photo in entry.photos
                if photo.facts.taken and not photo.facts.clock_set
            ],
            "the camera's clock was never set:",
            'set the clock of the camera; the record says "not recorded" for these pictures',
        )


@_rule(
    "no-capture-time",
    "Pictures without a capture time.",
    "Nothing but the entry then says when the picture was taken.",
)
def _photos_without_capture_time(facts: Facts) -> Iterator[_Found]:
    for entry in facts.build.entries:
        yield from _of_pictures(
            entry,
            [(photo, "") for photo in _usable(entry.photos) if photo.facts.taken is None],
            "no capture time in",
            "use the file as it came from the camera; programs that send pictures often drop the time",
        )


@_rule(
    "photo-shared",
    "The same picture in two entries, or twice in one.",
    "One picture cannot show the work of two days.",
)
def _photos_used_twice(facts: Facts) -> Iterator[_Found]:
    """By its bytes; told once per set of entries."""
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
        first = next(name for entry, name in groups[0] if entry == here.id)
        yield _Found(
            here,
            (f"photos.{first}", "photos"),
            f"the same picture more than once: {say_few([_same_picture(found, here.id) for found in groups])}",
            "keep it in the entry of the day on which it was taken",
            entries=(here.id, *ids[:-1]),
        )


def _same_picture(found: Sequence[tuple[str, str]], here: str) -> str:
    own = [name for entry, name in found if entry == here]
    elsewhere = [f"{name} in {entry}" for entry, name in found if entry != here]
    return " = ".join([*own, *elsewhere])


@_rule(
    "nobody-at-work",
    "Assemblies without a picture of a builder at work.",
    "Inspectors give such pictures special weight: they show who did the work.",
)
def _nobody_at_work(facts: Facts) -> Iterator[_Found]:
    """Of assemblies that count. Pointed at in its newest entry: a sealed one would need an amendment."""
    builders = {person.id for person in facts.build.people.values() if person.role is Role.BUILDER}
    entries: dict[str, list[Entry]] = defaultdict(list)
    for entry in facts.build.entries:
        entries[entry.assembly].append(entry)
    for assembly in facts.build.assemblies.values():
        pictures = [photo for entry in entries[assembly.id] for photo in _usable(entry.photos)]
        seen = {person for photo in pictures for person in photo.people}
        if not assembly.counts or not entries[assembly.id] or seen & builders:
            continue
        yield _Found(
            entries[assembly.id][-1],
            ("photos", "assembly"),
            f"{'no builder is' if seen else 'nobody is'} seen at work in the pictures of {assembly.title} "
            f"({say_count(len(pictures), 'picture') if pictures else 'none'})",
            "name who is at work under `photos: {FILE: {people: [ID]}}`, or take such a picture next time",
            entries=tuple(entry.id for entry in reversed(entries[assembly.id])),
            assembly=assembly.id,
        )


# ---------------------------------------------------------------- rules on closing and inspections

_Seen = dict[str, list[tuple[date, frozenset[str]]]]
"""By assembly: days on which the inside of something was seen, of these steps or, with none, of all of it."""


def _add_seen(seen: _Seen, build: Build, day: date, assembly: str | None, steps: tuple[str, ...]) -> None:
    """What names a closing step speaks for that step; what names the assembly, or other steps of it, speaks for
    the whole assembly.
    """
    closing = frozenset(step for step in steps if build.steps[step].closes)
    for name in {build.steps[step].assembly for step in steps} or ({assembly} if assembly else set()):
        seen[name].append((day, closing))


def _closings(facts: Facts) -> Iterator[tuple[Step, StepProgress, bool, bool]]:
    """(closing step, how it stands, whether the inside was photographed, whether it was inspected) of everything
    that stands closed now: a step that stands open again is not closed. Evidence must be from the day of closing
    or before.
    """
    build = facts.build
    pictures: _Seen = defaultdict(list)
    inspections: _Seen = defaultdict(list)
    for told in _dated(build):
        for photo in _usable(told.photos):
            if photo.inside:
                named = () if isinstance(told, Entry) else told.steps
                named = (photo.step,) if photo.step else named
                _add_seen(pictures, build, photo_day(photo, told.date), told.assembly, named)
    for one in build.inspections:
        if fold_name(one.stage) == CLOSING and one.outcome in _PASSED:
            _add_seen(inspections, build, one.date, one.assembly, one.steps)

    def speaks(seen: _Seen, step: Step, closed_on: date) -> bool:
        return any(day <= closed_on and (not of or step.id in of) for day, of in seen.get(step.assembly, ()))

    for step in build.steps.values():
        stands = facts.progress.steps[step.id]
        if step.closes and stands.state is State.DONE and stands.done_in and (day := stands.done_on):
            yield step, stands, speaks(pictures, step, day), speaks(inspections, step, day)


_INSPECTION_HINTS = {
    ClosingInspections.REQUIRED: "write up the inspection with `stage: closing` (required by build.yml); "
    "if there was none, ask the authority before going on",
    ClosingInspections.RECOMMENDED: "write up the inspection with `stage: closing` (recommended by build.yml)",
    ClosingInspections.NONE: "a look by somebody else, if there was one, is written up with `stage: closing`",
}


def _closed(facts: Facts, step: Step, stands: StepProgress, lacks: str, hint: str) -> _Found:
    assert stands.done_on is not None
    return _Found(
        next(entry for entry in facts.build.entries if entry.id == stands.done_in),
        ("steps", "redone"),
        f"step {step.id} closed {step.closed_part} on {say_date(stands.done_on)}{lacks}",
        hint,
        entries=stands.entries[::-1],
        steps=(step.id,),
        assembly=step.assembly,
    )


@_rule(
    "closed-unseen",
    "Structures closed for good without a picture of the inside or a passed closing inspection.",
    "Nobody can look inside afterwards.",
)
def _closed_unseen(facts: Facts) -> Iterator[_Found]:
    hint = f"mark a picture of the inside with `inside: true`; {_INSPECTION_HINTS[facts.build.closing_inspections]}"
    lacks = "; no picture of the inside and no passed inspection from that day or before"
    for step, stands, photographed, inspected in _closings(facts):
        if not (photographed or inspected):
            yield _closed(facts, step, stands, lacks, hint)


@_rule(
    "closed-uninspected",
    "Structures closed without a passed closing inspection where build.yml says it is required.",
    "Some authorities want to see the inside themselves; ask yours.",
)
def _closed_uninspected(facts: Facts) -> Iterator[_Found]:
    rule = facts.build.closing_inspections
    lacks = " without a passed inspection from that day or before, which is required"
    for step, stands, photographed, inspected in _closings(facts):
        if rule is ClosingInspections.REQUIRED and photographed and not inspected:
            yield _closed(facts, step, stands, lacks, _INSPECTION_HINTS[rule])


@_rule(
    "finding-open",
    "Findings of inspections that are not yet put right.",
    "Each finding belongs to the record together with how it was put right.",
)
def _inspection_findings_open(facts: Facts) -> Iterator[_Found]:
    for inspection in facts.build.inspections:
        for found in inspection.findings:
            if found.open:
                text = " ".join(found.text.split())
                text = text if len(text) <= 80 else text[:79].rstrip() + "…"
                yield _Found(
                    inspection,
                    ("findings",),
                    f"finding {found.id} of {say_date(inspection.date)} is open: {text}",
                    "once it is put right, add `closed_on` and `closed_by` (the entry that tells how)",
                    steps=inspection.steps,
                    place=found.where,
                )


@_rule(
    "checked-alone",
    "Measurements and corrections checked by nobody but those who made them.",
    "A second signature is that of somebody else.",
)
def _checked_alone(facts: Facts) -> Iterator[_Found]:
    hint = "name under `checked_by` who else looked, or take it out"
    for measurement in facts.build.measurements:
        if measurement.checked_by and set(measurement.checked_by) <= set(measurement.people):
            yield _Found(measurement, ("checked_by",), "checked by nobody but those who measured", hint)
    for inspection in facts.build.inspections:
        for found in inspection.findings:
            if found.checked_by and set(found.checked_by) <= set(found.signed_by):
                message = f"finding {found.id} was checked by nobody but those who put it right"
                yield _Found(inspection, ("findings",), message, hint, steps=inspection.steps, place=found.where)


@_rule(
    "weighing-lacks",
    "Weighings without equipment list, limits, or the loadings that are asked for.",
    "Inspectors ask for the equipment list, the forward and aft extreme loading and that of the first flight.",
)
def _weighing_lacks(facts: Facts) -> Iterator[_Found]:
    for measurement in facts.build.measurements:
        if weighing := measurement.weighing:
            parts = (
                (weighing.equipment, "an equipment list"),
                (weighing.limits, "limits"),
                (weighing.max_weight, "a maximum weight"),
                (len(weighing.cases) >= _LOADINGS, "the first flight and the forward and aft extreme loading"),
            )
            if lacks := ", ".join(name for there, name in parts if not there):
                hint = "write `equipment`, `limits`, `max_weight` and `cases` (docs/format.md)"
                yield _Found(measurement, ("scales",), f"the weighing lacks: {lacks}", hint)


_LOADINGS = 3
BULLETINS_FILE = "content/bulletins.csv"


@_rule(
    "bulletin-open",
    "Service bulletins not done and no reason told, or said to be done and nothing that shows it.",
    "What the maker asks for is done and shown like any other work, or the record says why not.",
)
def _bulletins_open(facts: Facts) -> Iterator[_Found]:
    """An entry with a picture shows it, or a paper."""
    pictured = {entry.id for entry in facts.build.entries if any(_usable(entry.photos))}
    for bulletin in facts.build.bulletins:
        if bulletin.state is BulletinState.DONE:
            settled = bulletin.record or pictured.intersection(bulletin.done_in)
            lacks = "no entry with a picture and no paper shows it"
            hint = "name the entry in `done_in`, or the paper in `record`"
        else:
            settled, lacks = bulletin.note, "no reason is told"
            hint = "do it and name the entry in `done_in`, or write the reason into `note`"
        if not settled:
            yield _Found(
                about=None,
                keys=(),
                message=f"bulletin {bulletin.id} is put down as {bulletin.state.value}, and {lacks}",
                hint=hint,
                entries=bulletin.done_in,
                steps=bulletin.steps,
                assembly=bulletin.assembly,
                place=bulletin.where,
                file=BULLETINS_FILE,
            )


# ---------------------------------------------------------------- rules on days, people and places


@_rule(
    "long-day",
    "More than 16 hours of one person on one day.",
    "Usually the hours of two people or two days were added up.",
)
def _long_days(facts: Facts) -> Iterator[_Found]:
    """Over all entries of that day."""
    worked: dict[tuple[date, str], int] = defaultdict(int)
    entries: dict[date, list[Entry]] = defaultdict(list)
    for entry in facts.build.entries:
        entries[entry.date].append(entry)
        for time in entry.time:
            worked[entry.date, time.person] += time.minutes
    too_long: dict[date, list[str]] = defaultdict(list)
    for (day, person), minutes in worked.items():
        if minutes > LONG_DAY_MINUTES:
            too_long[day].append(f"{facts.build.people[person].name} {say_minutes(minutes)}")
    for day, told in too_long.items():
        yield _Found(
            entries[day][-1],
            ("hours",),
            f"more than 16 h on {say_date(day)}: {', '.join(told)}",
            "check `hours` in the entries of that day: it is the time each person worked",
            entries=tuple(entry.id for entry in reversed(entries[day])),
        )


@_rule(
    "future-date",
    "Entries, inspections and measurements dated after the day of the check.",
    "Usually a slip in the year.",
)
def _future_dates(facts: Facts) -> Iterator[_Found]:
    for told in _dated(facts.build):
        if told.date > facts.today:
            message = f"dated {say_date(told.date)}, which is still to come"
            yield _Found(told, ("date",), message, "check the day and the year")


@_rule(
    "before-begun", "Entries, inspections and measurements dated before the build began.", "Usually a slip in the year."
)
def _dates_before_the_build(facts: Facts) -> Iterator[_Found]:
    begun = facts.build.begun
    for told in _dated(facts.build):
        if begun and told.date < begun:
            message = f"dated {say_date(told.date)}, before the build began ({say_date(begun)})"
            yield _Found(told, ("date",), message, "check the day and the year, or `begun` in build.yml")


@_rule(
    "long-gap",
    "More than 60 days without work between two worked days.",
    "The record should be continuous, with breaks explained.",
)
def _long_gaps(facts: Facts) -> Iterator[_Found]:
    entries: dict[date, list[Entry]] = defaultdict(list)
    for entry in facts.build.entries:
        entries[entry.date].append(entry)
    for before, after in pairwise(facts.ledger.worked_days):
        days = (after - before).days
        if days > LONG_GAP_DAYS:
            yield _Found(
                entries[after][0],
                ("date",),
                f"nothing is told of the {days} days since {say_date(before)}",
                "write up what is missing, or why nothing was done",
                entries=tuple(entry.id for day in (after, before) for entry in entries[day]),
            )


def _lacking(
    lacking: list[Entry], key: str, message: str, hint: str, *, in_general: tuple[str, str] | None
) -> Iterator[_Found]:
    """Each entry that lacks something; where build.yml has none at all it is told once, `in_general`."""
    if lacking and in_general:
        said, mend = in_general
        told = f"{said} for {say_count(len(lacking), 'entry', 'entries')}"
        yield _Found(None, (), told, mend, entries=tuple(entry.id for entry in lacking))
        return
    for entry in lacking:
        yield _Found(entry, (key,), message, hint)


@_rule(
    "no-place",
    "Entries that do not tell where the work was done.",
    "Where belongs to what every entry must show.",
)
def _places_missing(facts: Facts) -> Iterator[_Found]:
    hint = "name the workshop under `places`; the first place stands for every entry without one"
    return _lacking(
        [entry for entry in facts.build.entries if entry.place is None],
        "place",
        "the place of the work is not told",
        "write `place: ID`",
        in_general=None if facts.build.places else ("no place is told", hint),
    )


@_rule(
    "no-people",
    "Entries that do not tell who did the work.",
    "Who belongs to what every entry must show.",
)
def _people_missing(facts: Facts) -> Iterator[_Found]:
    builders = any(person.role is Role.BUILDER for person in facts.build.people.values())
    hint = "name the builders under `people`; they stand for every entry that names nobody"
    return _lacking(
        [entry for entry in facts.build.entries if not entry.people],
        "people",
        "nobody is named for this work",
        "write `people: [ID]`",
        in_general=None if builders else ("nobody is named", hint),
    )


@_rule(
    "paid-help",
    "Paid help in an entry that does not say what it did.",
    "Paid help is counted apart from the builder's own work.",
)
def _paid_help_untold(facts: Facts) -> Iterator[_Found]:
    """Neither text nor captions name it."""
    paid = {person.id: person for person in facts.build.people.values() if person.role is Role.PAID}
    for entry in facts.build.entries:
        present = [paid[person] for person in entry.people if person in paid]
        if not present:
            continue
        captions = " ".join(photo.caption for photo in entry.photos)
        told = _words_in(f"{entry.title} {entry.body} {captions}")
        silent = ", ".join(person.name for person in present if not _named_in(person, told))
        if silent:
            yield _Found(
                entry,
                ("people", "hours"),
                f"paid help took part ({silent}), but the entry does not say what it did",
                "write by name what was done by paid help and what by the builder",
            )


RULES: tuple[Rule, ...] = tuple(_RULES)
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


def _dated(build: Build) -> tuple[Entry | WriteUp, ...]:
    return (*build.entries, *build.write_ups)


def _usable(photos: Iterable[Photo]) -> Iterator[Photo]:
    return (photo for photo in photos if not photo.facts.trouble)


def _place(told: Entry | WriteUp, *keys: str) -> Where:
    """The first of `keys` that the front matter has, else the head of the file."""
    return next((told.where[key] for key in keys if key in told.where), (1, 1))


def _steps_say(facts: Facts, steps: tuple[str, ...]) -> str:
    """`step 5.3 is`, `steps 5.3, 5.4 are`."""
    said = say_steps(steps, tuple(facts.build.steps))
    return f"step {said} is" if len(steps) == 1 else f"steps {said} are"


def _words_in(text: str) -> set[str]:
    return {word.casefold() for word in _WORDS.findall(text)}


def _named_in(person: Person, told: set[str]) -> bool:
    """Whether any word of the name, shown name or ID occurs, initials and words of every name aside."""
    names = _words_in(f"{person.name} {person.shown_as or ''} {person.id}") - _IN_EVERY_NAME
    return bool({name for name in names if len(name) > 1} & told)
