"""The rules of evidence on what nobody can look into any more, and on inspections, tests, torque and bulletins."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from journal.base.formatting import cut_short, say_count, say_date, say_few
from journal.base.model import (
    Build,
    Bulletin,
    BulletinState,
    ClosingInspections,
    Entry,
    Inspection,
    Outcome,
    Role,
    State,
    Step,
    WriteUp,
)
from journal.ledger.callouts import lines_of
from journal.ledger.closings import Closing, is_leak_test
from journal.ledger.gaps import CHECKS, Facts, Noticed, dated, of_each, read_rules, rule, say_steps_are

AT_REST_DAYS = 60
"""An assembly nobody has worked on for so long is not about to be closed."""
UNTESTED_DAYS = 14
"""A closed tank that is tested later than this is asked about: common practice, no source."""
BULLETINS_FILE = "content/bulletins.csv"
_LOADINGS = 3
_PASSED = (Outcome.PASSED, Outcome.PASSED_WITH_FINDINGS)
_ASK = {
    ClosingInspections.REQUIRED: "write up the inspection with `stage: closing` (required by build.yml); "
    "if there was none, ask the authority before going on",
    ClosingInspections.RECOMMENDED: "write up the inspection with `stage: closing` (recommended by build.yml)",
    ClosingInspections.NONE: "a look by somebody else, if there was one, is written up with `stage: closing`",
}
_LACKS_A_LOOK = ("closed-unseen", "closed-uninspected")

# ---------------------------------------------------------------- what is closed


def _looks(build: Build, closing: Closing) -> list[Inspection]:
    """The inspections before closing that speak for it, by day."""
    of = {one.id: one for one in build.inspections}
    return [of[name] for name in closing.inspections]


def _passed(build: Build, closing: Closing) -> list[Inspection]:
    return [look for look in _looks(build, closing) if look.outcome in _PASSED]


def _not_passed(facts: Facts, closing: Closing) -> Inspection | None:
    """The last look before the closing, where that did not let it be closed."""
    looks = _looks(facts.build, closing)
    return looks[-1] if looks and looks[-1].outcome is Outcome.NOT_PASSED else None


def _of_closed(word: str) -> Callable[[Callable[[Facts, Closing], str]], None]:
    """Make the function below the rule of this word: what it says of one structure that stands closed, "" for nothing;
    told at the entry that closed it.
    """

    def put(say: Callable[[Facts, Closing], str]) -> None:
        def check(facts: Facts) -> Iterator[Noticed]:
            asks = _ASK[facts.build.closing_inspections] if word in _LACKS_A_LOOK else ""
            mend = "; ".join(filter(None, (read_rules()[word].mend, asks)))
            for closing in facts.closings:
                day, step, stands = closing.closed_on, closing.step, closing.stands
                if day and (said := say(facts, closing)):
                    message = f"step {step.id} closed {step.closed_part} on {say_date(day)}{said}"
                    about = facts.entries[stands.done_in or ""]
                    yield Noticed(about, message, mend, stands.entries[::-1], (step.id,), step.assembly)

        CHECKS[word] = check

    return put


@_of_closed("closed-not-passed")
def _closed_not_passed(facts: Facts, closing: Closing) -> str:
    look = _not_passed(facts, closing)
    return f"; the inspection of {say_date(look.date)} was not passed" if look else ""


@_of_closed("closed-findings-open")
def _closed_findings_open(facts: Facts, closing: Closing) -> str:
    found = closing.open_when_closed(one for look in _looks(facts.build, closing) for one in look.findings)
    names = say_few([one.id for one in found])
    return f" with {names} of its inspection open: {_brief(found[0].text)}" if found else ""


def _brief(text: str) -> str:
    return cut_short(" ".join(text.split()), 80)


@_of_closed("closed-steps-open")
def _closed_steps_open(facts: Facts, closing: Closing) -> str:
    """Tests first: what is left out of the few that are named is the less."""
    steps = sorted((facts.build.steps[name] for name in closing.left_open), key=lambda step: not is_leak_test(step))
    named = say_few([f"{step.id} ({step.title})" for step in steps])
    return f" before these were done: {named}" if steps else ""


@_of_closed("closed-unseen")
def _closed_unseen(facts: Facts, closing: Closing) -> str:
    seen = closing.pictures or _passed(facts.build, closing) or _not_passed(facts, closing)
    return "" if seen else "; no picture of the inside and no passed inspection from that day or before"


@_of_closed("closed-uninspected")
def _closed_uninspected(facts: Facts, closing: Closing) -> str:
    asked = facts.build.closing_inspections is ClosingInspections.REQUIRED and closing.pictures
    if not asked or _passed(facts.build, closing) or _not_passed(facts, closing):
        return ""
    return " without a passed inspection from that day or before, which is required"


@_of_closed("inspected-early")
def _inspected_early(facts: Facts, closing: Closing) -> str:
    """What is done on the day of the closing itself, with the skin in hand, is left aside."""
    looks, closed = _passed(facts.build, closing), closing.closed_on
    done = {name: facts.progress.steps[name].first_done_on for name in closing.hides}
    later = tuple(name for name, day in done.items() if looks and day and closed and looks[-1].date < day < closed)
    if not later:
        return ""
    return f"; behind it, {say_steps_are(facts, later)} done after the inspection of {say_date(looks[-1].date)}"


@rule("closed-reworked")
def _closed_reworked(facts: Facts) -> Iterator[Noticed]:
    """Of the last closing that hides the step. Whoever put a finding right was seen to get at it."""
    seen = {found.closed_by for look in facts.build.inspections for found in look.findings}
    again = {one: closing for closing in facts.closings for one in closing.reworked if one[0] not in seen}
    for (name, step), closing in again.items():
        behind = f"{closing.step.closed_part}, closed by step {closing.step.id} before"
        message = f"step {step} is worked on again behind {behind}; nothing tells that it was opened"
        yield Noticed(facts.entries[name], message, steps=(step,))


@rule("leak-test-open")
def _leak_tests_open(facts: Facts) -> Iterator[Noticed]:
    """Over later steps of its assembly or, where there are none, over time: another assembly goes on meanwhile."""
    told = {name for closing in facts.closings if closing.closed_on for name in closing.left_open}
    steps, closed = facts.progress.steps, {one.step.id: one.closed_on for one in facts.closings}
    for test, before, after in _leak_tests(facts):
        if test.id in told or steps[test.id].state is State.DONE:
            continue
        shut = before[-1] if before else test
        since = closed.get(shut.id)
        if later := next((step for step in after if steps[step.id].done_in), None):
            message = f"step {later.id} is done, and the test before it is not: {test.id} ({test.title})"
            yield Noticed(facts.entries[steps[later.id].done_in or ""], message, steps=(test.id,))
        elif since and (facts.today - since).days > UNTESTED_DAYS:
            message = f"{shut.closed_part} is closed since {say_date(since)}, and not tested: {test.id} ({test.title})"
            yield Noticed(facts.entries[steps[shut.id].done_in or ""], message, steps=(test.id,))


@rule("leak-test-early")
def _leak_tests_early(facts: Facts) -> Iterator[Noticed]:
    for test, before, _ in _leak_tests(facts):
        tested = facts.progress.steps[test.id]
        closed_on = facts.progress.steps[before[-1].id].first_done_on if before and before[-1].closes else None
        told: list[tuple[Entry | WriteUp, str]] = [(facts.entries[tested.done_in], "done")] if tested.done_in else []
        told += [(one, "measured") for one in facts.build.measurements if test.id in one.steps]
        for one, how in told:
            if closed_on and one.date < closed_on:
                only = f"{say_date(one.date)}, and {before[-1].closed_part} was closed only on {say_date(closed_on)}"
                yield Noticed(one, f"step {test.id} is {how} on {only}", steps=(test.id,))


def _leak_tests(facts: Facts) -> Iterator[tuple[Step, Sequence[Step], Sequence[Step]]]:
    """(the test, the steps of its assembly before it, those after it)."""
    for step in filter(is_leak_test, facts.build.steps.values()):
        steps = facts.build.steps_of(step.assembly)
        at = steps.index(step)
        yield step, steps[:at], steps[at + 1 :]


@rule("inspected-alone")
def _inspected_alone(facts: Facts) -> Iterator[Noticed]:
    """Where build.yml requires or recommends one; told once for each inspection."""
    builders = {person.id for person in facts.build.people.values() if person.role is Role.BUILDER}
    told: dict[str, Noticed] = {}
    for closing in facts.closings if facts.build.closing_inspections is not ClosingInspections.NONE else ():
        worked = {one for name in closing.entries for one in facts.entries[name].people}
        looks = _passed(facts.build, closing)
        if looks and all(set(look.people) <= builders | worked for look in looks):
            who = say_few([facts.build.people[one].name for one in looks[-1].people])
            message = f"inspected before closing by nobody but those who built it: {who}"
            told.setdefault(looks[-1].id, Noticed(looks[-1], message, steps=(closing.step.id,)))
    yield from told.values()


@rule("inside-late")
def _inside_late(facts: Facts) -> Iterator[Noticed]:
    late = {uri: closing for closing in facts.closings for uri in closing.late}
    for told in dated(facts.build) if late else ():
        for photo in told.photos:
            closing = late.get(photo.src_uri)
            if closing and closing.closed_on and photo.facts.taken:
                shut = f"{say_date(photo.facts.taken)}; it is closed since {say_date(closing.closed_on)}"
                message = f"{photo.name} is of the inside of {closing.step.closed_part} and was taken on {shut}"
                yield Noticed(told, message, steps=(closing.step.id,), at=f"photos.{photo.name}")


@rule("closing-next")
def _closing_next(facts: Facts) -> Iterator[Noticed]:
    """Only while somebody is at it: where one step at most is left before the closing, and the assembly was worked on
    within the last two months.
    """
    for closing in facts.closings:
        if closing.closed_on or not closing.entries or len(closing.left_open) > 1:
            continue
        step, last = closing.step, facts.entries[closing.entries[-1]]
        if lacks_before_closing(facts.build, closing) and (facts.today - last.date).days <= AT_REST_DAYS:
            yield Noticed(last, say_next_closing(facts.build, closing), steps=(step.id,), assembly=step.assembly)


def lacks_before_closing(build: Build, closing: Closing) -> list[str]:
    """What of an open structure cannot be had once it is closed and is not there yet, steps apart."""
    asked = build.closing_inspections
    uninspected = asked is not ClosingInspections.NONE and not _passed(build, closing)
    return [
        *([] if closing.pictures else ["a picture of the inside"]),
        *([f"an inspection ({asked.value})"] if uninspected else []),
        *(f"finding {one.id} put right" for look in _looks(build, closing) for one in look.findings if one.open),
    ]


def say_next_closing(build: Build, closing: Closing) -> str:
    """What a step will close and hide, and what is still missing: steps, then what `lacks_before_closing` tells."""
    step, left = closing.step, [f"{name} ({build.steps[name].title})" for name in closing.left_open]
    missing = ", ".join([*([say_few(left)] if left else []), *lacks_before_closing(build, closing)])
    hides = f"hide {say_count(len(closing.hides), 'step')}" + (f"; still missing: {missing}" if missing else "")
    return f"step {step.id} will close {step.closed_part} for good and {hides}"


# ---------------------------------------------------------------- inspections, measurements, hardware, bulletins


@rule("finding-open")
def _inspection_findings_open(facts: Facts) -> Iterator[Noticed]:
    """Those that a structure was closed over are told there."""
    build = facts.build
    told = {one for of in facts.closings for look in _looks(build, of) for one in of.open_when_closed(look.findings)}
    for inspection in facts.build.inspections:
        for found in inspection.findings:
            if found.open and found not in told:
                message = f"finding {found.id} of {say_date(inspection.date)} is open: {_brief(found.text)}"
                yield Noticed(inspection, message, steps=inspection.steps, place=found.where)


@rule("finding-closed")
def _findings_closed_wrongly(facts: Facts) -> Iterator[Noticed]:
    for inspection in facts.build.inspections:
        for found in inspection.findings:
            closed, entry = found.closed_on, facts.entries.get(found.closed_by or "")
            by = entry.date if entry else None
            if closed and closed < inspection.date:
                wrong = f"on {say_date(closed)}, before it was found"
            elif closed and closed > facts.today:
                wrong = f"on {say_date(closed)}, which is still to come"
            elif by and by < inspection.date:
                wrong = f"by the entry of {say_date(by)}, which is older than the finding"
            elif closed and by and by != closed:
                wrong = f"on {say_date(closed)} by an entry of {say_date(by)}"
            else:
                continue
            message = f"finding {found.id} of {say_date(inspection.date)} is put right {wrong}"
            yield Noticed(inspection, message, steps=inspection.steps, place=found.where)


@rule("checked-alone")
def _checked_alone(facts: Facts) -> Iterator[Noticed]:
    for measurement in facts.build.measurements:
        if measurement.checked_by and set(measurement.checked_by) <= set(measurement.people):
            yield Noticed(measurement, "checked by nobody but those who measured")
    for inspection in facts.build.inspections:
        for found in inspection.findings:
            if found.checked_by and set(found.checked_by) <= set(found.signed_by):
                message = f"finding {found.id} was checked by nobody but those who put it right"
                yield Noticed(inspection, message, steps=inspection.steps, place=found.where)
    for entry in facts.build.entries:
        for line in lines_of(entry) if len(entry.people) == 1 else ():
            if line.checked_by == entry.people:
                yield Noticed(entry, "hardware checked by nobody but the one who set it", place=line.where)


@of_each("wrench-missing")
def _wrench_missing(facts: Facts, entry: Entry) -> str:
    bare = [line.bolt for line in entry.torque if not line.wrench.strip()]
    return f"torque recorded and no wrench named: {say_few(bare)}" if bare else ""


@rule("weighing-lacks")
def _weighing_lacks(facts: Facts) -> Iterator[Noticed]:
    for measurement in facts.build.measurements:
        if weighing := measurement.weighing:
            parts = (
                (weighing.equipment, "an equipment list"),
                (weighing.limits, "limits"),
                (weighing.max_weight, "a maximum weight"),
                (len(weighing.cases) >= _LOADINGS, "the first flight and the forward and aft extreme loading"),
            )
            if lacks := ", ".join(name for there, name in parts if not there):
                yield Noticed(measurement, f"the weighing lacks: {lacks}")


@rule("bulletin-open")
def _bulletins_open(facts: Facts) -> Iterator[Noticed]:
    """An entry with a picture shows it, or a paper."""
    for bulletin in facts.build.bulletins:
        entries = [facts.entries[name] for name in bulletin.done_in if name in facts.entries]
        shown = any(not photo.facts.trouble for entry in entries for photo in entry.photos)
        lacks, mend = "no reason is told", ""
        if bulletin.state is BulletinState.DONE:
            lacks = "no entry with a picture and no paper shows it"
            mend = "name the entry in `done_in`, or the paper in `record`"
        if not (bulletin.record or shown if mend else bulletin.note):
            about = f"bulletin {bulletin.id} is put down as {bulletin.state.value}, and {lacks}"
            yield _at_bulletin(bulletin, about, mend)


def _at_bulletin(bulletin: Bulletin, message: str, mend: str = "") -> Noticed:
    row = Noticed(None, message, mend, bulletin.done_in, bulletin.steps, bulletin.assembly)
    return replace(row, place=bulletin.where, file=BULLETINS_FILE)


@rule("bulletin-early")
def _bulletins_early(facts: Facts) -> Iterator[Noticed]:
    for bulletin in facts.build.bulletins:
        days = [facts.entries[name].date for name in bulletin.done_in if name in facts.entries]
        if bulletin.date and days and max(days) < bulletin.date:
            said = f"bulletin {bulletin.id} of {say_date(bulletin.date)} is done by the entry of {say_date(max(days))}"
            yield _at_bulletin(bulletin, said)
