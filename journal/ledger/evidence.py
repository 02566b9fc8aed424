"""What the record does not show yet: the gaps an inspector would ask about, found first. Pure.

Every rule is one small function over the whole build, with its code word and the reason for it. All are
findings, never errors: the tool points, the builder mends or answers, the authority decides. A builder
answers a gap in the front matter of an entry it is about (`answers: {code-word: reason}`); answered gaps
are listed apart and never hidden.

Private entries and private pictures are evidence like any other; drafts are not.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from journal.base.model import Build, State
from journal.base.problems import Grade, Problem, did_you_mean, finding, sort_problems
from journal.ledger import closing_rules, people_rules, picture_rules  # noqa: F401 (they put their rules into CHECKS)
from journal.ledger.closings import trace_closings
from journal.ledger.gaps import (
    CHECKS,
    Facts,
    Gap,
    Noticed,
    Rule,
    entry_text,
    place_of,
    read_rules,
    rule,
    say_steps_are,
    usable,
)
from journal.ledger.hours import Ledger
from journal.ledger.people_rules import copied_entries
from journal.ledger.picture_times import judge_times
from journal.ledger.progress import Progress, step_marks


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """The gaps of a build: `gaps` are open, `answered` carry the builder's reason. Both in the
    order of file and line.
    """

    gaps: tuple[Gap, ...] = ()
    answered: tuple[Gap, ...] = ()

    @property
    def heaviest(self) -> tuple[Gap, ...]:
        """The open gaps, what is closed in or unsafe first; those of one weight in their order."""
        return tuple(sorted(self.gaps, key=lambda gap: -gap.weight))

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
    facts = Facts(
        build=build,
        ledger=ledger,
        progress=progress,
        closings=trace_closings(build, progress),
        copies=copied_entries(build),
        times=judge_times(build, today),
        today=today,
        entries={entry.id: entry for entry in build.entries},
    )
    found = [one.as_gap(rule) for rule in RULES for one in CHECKS[rule.word](facts)]
    if others is not None:
        entry_of = {entry.src_uri: entry.id for entry in build.entries}
        for problem in (problem for problem in others if problem.grade is Grade.FINDING):
            anew = (set_anew or {}).get(problem)
            answer = "drilled out and set anew" if anew else ""
            entries = (entry_of[problem.file],) if problem.file in entry_of else ()
            found.append(Gap(problem=problem, entries=entries, answer=answer, answered_in=anew))
    found += _unused_answers(build, found, every_word=others is not None)
    answers = {entry.id: entry.answers for entry in build.entries if entry.answers}
    settled = sorted((_settled(gap, answers) for gap in found), key=lambda gap: _order(gap.problem))
    return Evidence(
        gaps=tuple(gap for gap in settled if gap.answered_in is None),
        answered=tuple(gap for gap in settled if gap.answered_in is not None),
    )


def _order(problem: Problem) -> tuple[str, int, int, str, str]:
    return problem.file, problem.line or 0, problem.column or 0, problem.word, problem.message


RETIRED = frozenset({"torque-high", "unknown-rivet", "unknown-bolt", "sealed-late"})
"""Findings of earlier versions, and one of the seals, which are read elsewhere: an answer to one of them is no slip."""


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
            hint = did_you_mean(word, sorted(words_of[entry.id]), "" if words_of[entry.id] else "leave the line out")
            message = f'"answers" speaks of "{word}", but there is no such finding on this entry'
            where = place_of(entry, f"answers.{word}", "answers")
            yield Gap(problem=finding(entry.src_uri, where, "answer-unused", message, hint), entries=(entry.id,))


# ---------------------------------------------------------------- rules on steps and their text


@rule("no-text")
def _steps_without_text(facts: Facts) -> Iterator[Noticed]:
    for entry in facts.build.entries:
        steps = tuple(dict.fromkeys((*entry.steps, *entry.redone)))
        if steps and not entry_text(entry):
            yield Noticed(entry, f"{say_steps_are(facts, steps)} done, but the entry has no text", steps=steps)


@rule("no-photo")
def _steps_without_photo(facts: Facts) -> Iterator[Noticed]:
    """Told once per entry that finished them. A picture shows the step it names; without one, every step its
    entry names.
    """
    shown: set[str] = set()
    for entry in facts.build.entries:
        for photo in usable(entry.photos):
            shown.update((photo.step,) if photo.step else (step for step, _ in step_marks(entry)))
    for told in facts.build.write_ups:
        shown.update(photo.step for photo in usable(told.photos) if photo.step)
    for measurement in facts.build.measurements:
        # A picture of the measuring shows the step whose work it is.
        shown.update(step for photo in usable(measurement.photos) if not photo.step for step in measurement.steps)
    missing: dict[str, list[str]] = defaultdict(list)
    for step, progress in facts.progress.steps.items():
        if progress.state is State.DONE and progress.done_in and step not in shown:
            missing[progress.done_in].append(step)
    for entry in facts.build.entries:
        if entry.id in missing:
            steps = tuple(missing[entry.id])
            message = f"{say_steps_are(facts, steps)} done, but no picture shows {'it' if len(steps) == 1 else 'them'}"
            yield Noticed(entry, message, steps=steps)


@rule("step-twice")
def _steps_done_twice(facts: Facts) -> Iterator[Noticed]:
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
        if again and entry.id not in facts.copies:
            earlier = ", ".join(dict.fromkeys(again.values()))
            steps = tuple(again)
            yield Noticed(entry, f"{say_steps_are(facts, steps)} done already in {earlier}", steps=steps)


RULES: tuple[Rule, ...] = tuple(one for one in read_rules().values() if one.word in CHECKS)
"""All rules, the heaviest first."""
