"""What is going on in a build on a day: under way, unfinished, about to expire, next. Told from what the ledger knows.

It looks ahead, so drafts take part here as nowhere else: what a draft begins is under way. Seals, archive and
publication, of which the ledger knows nothing, are told by `journal.commands.today`.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from journal.base.addresses import fold_name
from journal.base.callout_words import MATERIAL
from journal.base.formatting import WHO_DECIDES, say_count, say_date, say_near
from journal.base.model import CallOut, Clip, Entry, Photo, State, Step, StepProgress, sort_entries
from journal.ledger.callouts import is_material
from journal.ledger.closing_rules import say_next_closing
from journal.ledger.closings import trace_closings
from journal.ledger.gaps import usable
from journal.ledger.inventory import Hardware, keep_hardware
from journal.ledger.journal import Journal
from journal.ledger.materials import TOLD_AHEAD, say_shelf_life
from journal.ledger.progress import replay
from journal.reading.text import Notes, read_text
from journal.trade.callouts import say_place
from journal.trade.hardware import same_part
from journal.trade.torque import overdue_since

MOST = 8
"""Lines of one kind that are told; of the others only how many there are."""

STEPS_AHEAD = 3


@dataclass(frozen=True, slots=True)
class TodayLine:
    """One thing to know. `entry` and `step` are the IDs of what it is about, where it is about one; `private` where it
    tells of a private entry, or of what nobody but the builder sees: materials, tools, hardware, money, papers.
    """

    text: str
    entry: str = ""
    step: str = ""
    private: bool = False


@dataclass(frozen=True, slots=True)
class TodayPart:
    """Lines under a heading; `key` is the part's stable word."""

    heading: str
    lines: tuple[TodayLine, ...]
    key: str


def today_of(journal: Journal, sealed: Collection[str] = ()) -> tuple[TodayPart, ...]:
    """What is going on in the build on the day the journal was opened for, the most useful first; a part stands only
    where it has something to say. Keys: under-way, unfinished, expires, next-steps, closing.

    `sealed` are the entries (IDs) that a seal fixes: what they lack is counted, since to mend it is an amendment. The
    texts of drafts are read for clocks that run.
    """
    told = sort_entries([*journal.build.entries, *journal.build.drafts])
    stands = replay(replace(journal.build, entries=told)).steps
    ahead = [step for step in journal.build.steps.values() if stands[step.id].state is not State.DONE]
    left = {step.assembly for step in ahead}
    assembly = next((entry.assembly for entry in reversed(told) if entry.assembly in left), "")
    ahead = [step for step in ahead if step.assembly == assembly][:STEPS_AHEAD]
    heading = f"The next steps: {journal.build.assemblies[assembly].title}" if ahead else ""
    under_way = _under_way(journal, told, stands) if told else ()
    parts = (
        TodayPart("Under way", (*say_clocks(journal), *under_way), "under-way"),
        TodayPart("Unfinished in the files", (*_unfinished(journal, {*sealed}),), "unfinished"),
        TodayPart("What expires", (*_expiring(journal),), "expires"),
        TodayPart(heading, (*_next_steps(journal, ahead),), "next-steps"),
        TodayPart("The next closing", (*_closing(journal, assembly),), "closing"),
    )
    return tuple(part for part in parts if part.lines)


# ---------------------------------------------------------------- under way

_CLOCK = re.compile(r"^#[ \t]*clock:[ \t]*(\S.*?) since (\d{4}-\d\d-\d\d \d\d:\d\d)[ \t]*$", re.MULTILINE)


def running_clocks(text: str) -> tuple[tuple[str, datetime], ...]:
    """The clocks that run by the front matter of an entry, its lines `# clock: PERSON since 2026-02-07 18:30`: the ID
    of who works, and since when by the clock on the wall. A line that tells no moment is none.
    """
    head = "".join(re.split(r"^---", text, maxsplit=2, flags=re.MULTILINE)[:2])
    clocks = []
    for found in _CLOCK.finditer(head):
        try:
            clocks.append((found[1], datetime.fromisoformat(found[2])))
        except ValueError:
            continue
    return tuple(clocks)


def say_clocks(journal: Journal) -> Iterator[TodayLine]:
    """A line for each clock that runs; one of an earlier day was forgotten."""
    for draft in reversed(journal.build.drafts):
        for name, since in running_clocks(read_text(journal.root / draft.src_uri, Notes(draft.src_uri)) or ""):
            person = journal.build.people.get(name)
            who = (person.shown_as or person.name) if person else name
            day, at = since.date(), f"{since:%H:%M}"
            said = f"{who}’s clock has run since {at}"
            if day != journal.today:
                near = "yesterday" if day + timedelta(days=1) == journal.today else say_date(day)
                said = f"{who}’s clock has run since {near}, {at}: when did {who} stop?"
            yield TodayLine(said, entry=draft.id, private=draft.private or not (person and person.shown_as))


def _under_way(journal: Journal, told: Sequence[Entry], stands: Mapping[str, StepProgress]) -> Iterator[TodayLine]:
    build, last, of = journal.build, told[-1], {entry.id: entry for entry in told}
    steps = journal.progress.assemblies[last.assembly]
    done = f": {steps.steps_done} of {say_count(steps.steps, 'step')} done" if steps.steps else ""
    said = f"{build.assemblies[last.assembly].title}, last worked {_when(last, journal.today)}{done}"
    yield TodayLine(said, entry=last.id, private=last.private)
    lines = []
    for name, step in stands.items():
        if step.state is State.UNDER_WAY:
            # It is under way since the first entry that names it after the one that finished it last.
            since = of[step.entries[step.entries.index(step.done_in) + 1 if step.done_in else 0]]
            how = f"{'opened again' if step.reopened else 'begun'} {_when(since, journal.today)} and not finished"
            line = TodayLine(f"{_say_step(build.steps[name])}: {how}", since.id, name, since.private)
            lines.append((since.date, line))
    yield from _bounded([line for _, line in sorted(lines, key=lambda one: one[0], reverse=True)])


def _when(entry: Entry, today: date) -> str:
    draft = ", in a draft" if entry.draft else ""
    return f"on {say_date(entry.date)} ({say_near(entry.date, today)}{draft})"


def _say_step(step: Step) -> str:
    return f"{step.id} {step.title}"


# ---------------------------------------------------------------- unfinished


@dataclass(frozen=True, slots=True)
class Lacks:
    """What an entry lacks: hours that nobody answered for, a title of its own, steps where the manual has some,
    captions of these pictures.
    """

    hours: bool
    title: bool
    steps: bool
    captions: tuple[Photo | Clip, ...]


def what_lacks(journal: Journal, entry: Entry) -> Lacks:
    """What the entry of a journal, or a draft, lacks; a caption in a private passage is one."""
    steps = entry.steps or entry.begun or entry.redone or "steps" in entry.where
    pictures: tuple[Photo | Clip, ...] = (*usable(entry.photos), *entry.clips)
    return Lacks(
        hours=not entry.time and "no-hours" not in entry.answers,
        title=not entry.titled,
        steps=not steps and bool(journal.build.steps_of(entry.assembly)),
        captions=tuple(one for one in pictures if not (one.caption or one.private_caption)),
    )


def _unfinished(journal: Journal, sealed: set[str]) -> Iterator[TodayLine]:
    """Each entry once, under the first of what it lacks: that it is a draft, hours, a title, captions."""
    told = (*journal.build.entries, *journal.build.drafts)
    kinds: dict[str, list[TodayLine]] = {"draft": [], "hours": [], "title": [], "caption": []}
    fixed = 0
    for entry in sorted(told, key=lambda entry: (entry.date, entry.id), reverse=True):
        lack = what_lacks(journal, entry)
        bare = say_count(len(lack.captions), "picture")
        lacks = {
            "draft": "a draft" if entry.draft else "",
            "hours": "no hours" if lack.hours else "",
            "title": "no title of its own" if lack.title else "",
            "caption": f"{bare} without a caption" if lack.captions else "",
        }
        if kind := next((kind for kind, lack in lacks.items() if lack), ""):
            said = f"{entry.title}, {say_date(entry.date)}: {', '.join(filter(None, lacks.values()))}"
            if entry.id in sealed and not entry.draft:
                fixed += 1
            else:
                kinds[kind].append(TodayLine(said, entry=entry.id, private=entry.private))
    known = {entry.src_uri for entry in told}
    for file in dict.fromkeys(problem.file for problem in journal.problems):
        if re.fullmatch(r"content/entries/.*\.md", file) and file not in known:
            yield TodayLine(f"{file} cannot be read yet: `journal check` says why", private=True)
    for lines in kinds.values():
        yield from _bounded(lines)
    if fixed:
        said = f"{say_count(fixed, 'sealed entry lacks', 'sealed entries lack')} hours, a title or captions as well"
        yield TodayLine(f"{said}; to add them is an amendment, which `journal seal` asks the reason of", private=True)


def _bounded(lines: Sequence[TodayLine]) -> Iterator[TodayLine]:
    yield from lines[:MOST]
    if more := lines[MOST:]:
        yield TodayLine(f"and {len(more)} more", private=all(line.private for line in more))


# ---------------------------------------------------------------- what expires


def _expiring(journal: Journal) -> Iterator[TodayLine]:
    """What runs out within `TOLD_AHEAD` (common practice, no source) or has run out, the first to do so first."""
    until = journal.today + TOLD_AHEAD
    ends = [
        (material.expires, say_shelf_life(material, journal.today))
        for material in journal.build.materials.values()
        if material.expires and material.expires <= until and not material.used_up
    ]
    names = {fold_name(tool.name): tool.name for tool in journal.build.calibrated_tools}
    for name in names.values():
        if due := overdue_since(name, until + timedelta(days=1), journal.build.calibrated_tools):
            falls = "was" if due < journal.today else "is"
            ends.append((due, f"{name}: its check {falls} due on {say_date(due)}, {say_near(due, journal.today)}"))
    yield from _bounded([TodayLine(said, private=True) for _, said in sorted(ends)])


# ---------------------------------------------------------------- the next steps


def _next_steps(journal: Journal, ahead: Sequence[Step]) -> Iterator[TodayLine]:
    """The next steps of the assembly worked on last that has any, what is called for there, and what is there."""
    build = journal.build
    entries = {entry.id: entry for entry in build.entries}
    hardware = keep_hardware(build, journal.progress) if build.inventory else ()
    caution = False
    for step in ahead:
        page = f", page {step.page}" if step.page else ""
        closes = f"; it closes {step.closed_part} for good" if step.closes else ""
        yield TodayLine(f"{_say_step(step)}{page}{closes}", step=step.id)
        twins = [one for one in build.steps.values() if step.id == one.same_as or step.same_as == one.id]
        for twin in twins:
            if done_in := journal.progress.steps[twin.id].done_in:
                entry = entries[done_in]
                said = f"done once before as {twin.id}, in “{entry.title}” on {say_date(entry.date)}"
                yield TodayLine(said, entry=entry.id, step=step.id, private=entry.private)
        before = dict.fromkeys(name for one in (step, *twins) for name in journal.progress.steps[one.id].entries)
        for public in (True, False):
            used = [entries[name] for name in before if entries[name].private != public]
            for kind, names in (("tools", [entry.tools for entry in used]), ("methods", [one.methods for one in used])):
                if told := {fold_name(name): name for some in names for name in some}:
                    yield TodayLine(f"{kind} before: {', '.join(told.values())}", step=step.id, private=not public)
        for called in (called for called in build.callouts if step.id in called.steps):
            caution = True
            yield TodayLine(_say_called(called), step=step.id)
            yield from (replace(line, step=step.id) for line in _at_hand(journal, called, hardware))
    if caution:
        yield TodayLine(f"{WHO_DECIDES}.")


def _say_called(called: CallOut) -> str:
    """`bolt AN3-5A, 3 of them: 20 to 25 in-lb, friction drag added (page 7-38, edition 3)`."""
    count = f", {called.count:,} of them" if called.count else ""
    drag = f"friction drag {called.drag}" if called.drag else ""
    # `sealant: tank sealant`
    part, name = ("", called.part) if called.what in MATERIAL else (called.part, "")
    asked = ", ".join(filter(None, (name, called.value, drag)))
    what = " ".join(filter(None, (called.what, part)))
    return f"{what}{count}{f': {asked}' if asked else ''} ({say_place(called) or 'page not given'})"


def _at_hand(journal: Journal, called: CallOut, hardware: Sequence[Hardware]) -> Iterator[TodayLine]:
    """What a call-out takes and the lists do not have enough of; of a material the batches that are there."""
    for part in hardware:
        if called.part and same_part(called.part, part.number) and part.items:
            if part.uncounted:
                yield TodayLine(f"{part.number}: not all of it is counted yet (inventory.csv)", private=True)
            elif part.short:
                left = f"{max(0, part.left or 0):,} left, {part.short:,} too few for the steps to come"
                yield TodayLine(f"{part.number}: {left} (inventory.csv)", private=True)
    if called.what in MATERIAL and (called.part or called.value):
        there = [one for one in journal.build.materials.values() if not one.used_up and is_material(called, one)]
        for material in there:
            yield TodayLine(f"at hand: {say_shelf_life(material, journal.today)}", private=True)
        if not there:
            yield TodayLine("materials.csv holds no batch of it that is not used up", private=True)


# ---------------------------------------------------------------- the next closing


def _closing(journal: Journal, assembly: str) -> Iterator[TodayLine]:
    """The next closing of the assembly worked on last, and each that the rule `closing-next` speaks of."""
    open_ones = [one for one in trace_closings(journal.build, journal.progress) if not one.closed_on and one.hides]
    said = [gap.problem.message for gap in journal.evidence.gaps if gap.problem.word == "closing-next"]
    here = next((one for one in open_ones if one.step.assembly == assembly), None)
    for closing in open_ones:
        words = say_next_closing(journal.build, closing)
        if closing is here or words in said:
            yield TodayLine(words[:1].upper() + words[1:], step=closing.step.id)
