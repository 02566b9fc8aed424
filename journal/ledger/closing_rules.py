"""The rules of evidence on what nobody can look into any more, and on inspections, tests and bulletins."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from journal.base.formatting import say_count, say_date, say_few
from journal.base.model import (
    BulletinState,
    ClosingInspections,
    Entry,
    Inspection,
    InspectionFinding,
    Outcome,
    Role,
    State,
    Step,
)
from journal.ledger.callouts import lines_of
from journal.ledger.closings import Closing, is_leak_test
from journal.ledger.gaps import Facts, Noticed, rule, say_steps_are, usable

AT_REST_DAYS = 60
"""An assembly nobody has worked on for so long is not about to be closed."""

_PASSED = (Outcome.PASSED, Outcome.PASSED_WITH_FINDINGS)
_INSPECTION_HINTS = {
    ClosingInspections.REQUIRED: "write up the inspection with `stage: closing` (required by build.yml); "
    "if there was none, ask the authority before going on",
    ClosingInspections.RECOMMENDED: "write up the inspection with `stage: closing` (recommended by build.yml)",
    ClosingInspections.NONE: "a look by somebody else, if there was one, is written up with `stage: closing`",
}


def _looks(facts: Facts, closing: Closing) -> list[Inspection]:
    """The inspections before closing that speak for it, by day."""
    of = {one.id: one for one in facts.build.inspections}
    return [of[name] for name in closing.inspections]


def _passed(facts: Facts, closing: Closing) -> bool:
    return any(look.outcome in _PASSED for look in _looks(facts, closing))


def _failed(facts: Facts, closing: Closing) -> bool:
    """Whether the last look before the closing did not let it be closed."""
    looks = _looks(facts, closing)
    return bool(looks) and looks[-1].outcome is Outcome.NOT_PASSED


def _closed(facts: Facts) -> Iterator[Closing]:
    return (closing for closing in facts.closings if closing.closed_on)


def _at_closing(facts: Facts, closing: Closing, said: str, hint: str) -> Noticed:
    """What is said of a closing, at the entry that did it."""
    stands, step = closing.stands, closing.step
    assert stands.done_on is not None
    return Noticed(
        next(entry for entry in facts.build.entries if entry.id == stands.done_in),
        ("steps", "redone"),
        f"step {step.id} closed {step.closed_part} on {say_date(stands.done_on)}{said}",
        hint,
        entries=stands.entries[::-1],
        steps=(step.id,),
        assembly=step.assembly,
    )


@rule(
    "closed-not-passed",
    "Structures closed though the last inspection before closing was not passed.",
    "What an inspector would not have closed, nobody can look into any more.",
)
def _closed_not_passed(facts: Facts) -> Iterator[Noticed]:
    hint = "write up the inspection that passed it; if there was none, ask the inspector before going on"
    for closing in _closed(facts):
        if _failed(facts, closing):
            look = _looks(facts, closing)[-1]
            yield _at_closing(facts, closing, f"; the inspection of {say_date(look.date)} was not passed", hint)


@rule(
    "closed-findings-open",
    "Structures closed before the findings of their inspection were put right.",
    "A finding inside a closed structure stays inside.",
)
def _closed_findings_open(facts: Facts) -> Iterator[Noticed]:
    hint = "write into the inspection when and by which entry each was put right; if they were not, open it again"
    for closing, found in _open_at_closing(facts):
        said = f" with {say_few([one.id for one in found])} of its inspection open: {_brief(found[0].text)}"
        yield _at_closing(facts, closing, said, hint)


def _brief(text: str) -> str:
    text = " ".join(text.split())
    return text if len(text) <= 80 else text[:79].rstrip() + "…"


def _open_at_closing(facts: Facts) -> Iterator[tuple[Closing, list[InspectionFinding]]]:
    for closing in _closed(facts):
        day = closing.closed_on
        found = [
            one
            for look in _looks(facts, closing)
            for one in look.findings
            if day and (one.closed_on is None or one.closed_on > day)
        ]
        if found:
            yield closing, found


@rule(
    "closed-steps-open",
    "Structures closed while a step or a test behind them was not done.",
    "It cannot be done afterwards, or the structure has to be opened again.",
)
def _closed_steps_open(facts: Facts) -> Iterator[Noticed]:
    for closing in _closed(facts):
        if closing.left_open:
            steps = sorted(closing.left_open, key=lambda name: not is_leak_test(facts.build.steps[name]))
            named = say_few([f"{name} ({facts.build.steps[name].title})" for name in steps])
            hint = "name the steps in the entries that did them; if they were not done, open it again"
            yield _at_closing(facts, closing, f" before these were done: {named}", hint)


@rule(
    "leak-test-open",
    "Leak tests passed over: later steps are done, and the test is not.",
    "A leak that is found later is found in a tank that is closed in.",
)
def _leak_tests_open(facts: Facts) -> Iterator[Noticed]:
    told = {name for closing in _closed(facts) for name in closing.left_open}
    for test, _, after in _leak_tests(facts):
        later = [step for step in after if facts.progress.steps[step.id].done_in]
        if facts.progress.steps[test.id].state is State.DONE or test.id in told or not later:
            continue
        entries = {entry.id: entry for entry in facts.build.entries}
        yield Noticed(
            entries[facts.progress.steps[later[0].id].done_in or ""],
            ("steps", "redone"),
            f"step {later[0].id} is done, and the test before it is not: {test.id} ({test.title})",
            f"name {test.id} in the entry that did it; else test before anything else is built over it",
            steps=(test.id,),
            assembly=test.assembly,
        )


def _leak_tests(facts: Facts) -> Iterator[tuple[Step, Sequence[Step], Sequence[Step]]]:
    """(the test, the steps of its assembly before it, those after it)."""
    for step in facts.build.steps.values():
        if is_leak_test(step):
            steps = facts.build.steps_of(step.assembly)
            at = steps.index(step)
            yield step, steps[:at], steps[at + 1 :]


@rule(
    "leak-test-early",
    "Leak tests of something that was closed only afterwards.",
    "An open tank holds no pressure: one of the two days is wrong.",
)
def _leak_tests_early(facts: Facts) -> Iterator[Noticed]:
    entries = {entry.id: entry for entry in facts.build.entries}
    for test, before, _ in _leak_tests(facts):
        tested, closed = facts.progress.steps[test.id], facts.progress.steps.get(before[-1].id) if before else None
        days = tested.done_on, closed.first_done_on if closed and before[-1].closes else None
        if days[0] and days[1] and days[0] < days[1]:
            message = f"step {test.id} is done on {say_date(days[0])}, and {before[-1].closed_part} was closed only on "
            hint = "mend the day of one of them, or test again"
            about, message = entries[tested.done_in or ""], message + say_date(days[1])
            yield Noticed(about, ("steps", "redone"), message, hint, steps=(test.id,))


@rule(
    "closed-unseen",
    "Structures closed for good without a picture of the inside or a passed closing inspection.",
    "Nobody can look inside afterwards; a picture vouches for the closing that it was taken before, and for no other.",
)
def _closed_unseen(facts: Facts) -> Iterator[Noticed]:
    hint = f"mark a picture of the inside with `inside: true`; {_INSPECTION_HINTS[facts.build.closing_inspections]}"
    lacks = "; no picture of the inside and no passed inspection from that day or before"
    for closing in _closed(facts):
        if not (closing.pictures or _passed(facts, closing) or _failed(facts, closing)):
            yield _at_closing(facts, closing, lacks, hint)


@rule(
    "closed-uninspected",
    "Structures closed without a passed closing inspection where build.yml says it is required.",
    "Some authorities want to see the inside themselves; ask yours.",
)
def _closed_uninspected(facts: Facts) -> Iterator[Noticed]:
    asked = facts.build.closing_inspections
    lacks = " without a passed inspection from that day or before, which is required"
    for closing in _closed(facts) if asked is ClosingInspections.REQUIRED else ():
        if closing.pictures and not (_passed(facts, closing) or _failed(facts, closing)):
            yield _at_closing(facts, closing, lacks, _INSPECTION_HINTS[asked])


@rule(
    "inspected-alone",
    "Structures whose only inspection before closing is by those who built them.",
    "An inspection is a look by somebody else.",
)
def _inspected_alone(facts: Facts) -> Iterator[Noticed]:
    """Where build.yml requires or recommends one."""
    builders = {person.id for person in facts.build.people.values() if person.role is Role.BUILDER}
    hint = "have somebody else look and write that up; if somebody did, name them under `inspector`"
    told: set[str] = set()
    for closing in facts.closings if facts.build.closing_inspections is not ClosingInspections.NONE else ():
        worked = {one for entry in facts.build.entries if entry.id in closing.entries for one in entry.people}
        looks = [look for look in _looks(facts, closing) if look.outcome in _PASSED]
        if looks and all(set(look.people) <= builders | worked for look in looks) and looks[-1].id not in told:
            told.add(looks[-1].id)
            who = say_few([facts.build.people[one].name for one in looks[-1].people])
            message = f"inspected before closing by nobody but those who built it: {who}"
            yield Noticed(looks[-1], ("inspector",), message, hint, steps=(closing.step.id,))


@rule(
    "inspected-early",
    "Structures inspected before steps behind them were done.",
    "What was not there yet the inspector cannot have seen.",
)
def _inspected_early(facts: Facts) -> Iterator[Noticed]:
    """What is done on the day of the closing itself, with the skin in hand, is left aside."""
    for closing in _closed(facts):
        looks = [look.date for look in _looks(facts, closing) if look.outcome in _PASSED]
        done = {name: facts.progress.steps[name].first_done_on for name in closing.hides}
        later = tuple(name for name, day in done.items() if looks and day and looks[-1] < day < closing.closed_on)  # type: ignore[operator]
        if later:
            said = f"; behind it, {say_steps_are(facts, later)} done after the inspection of {say_date(looks[-1])}"
            yield _at_closing(facts, closing, said, "have it looked at again, or mend the day of one of them")


@rule(
    "inside-late",
    "Pictures of the inside taken when the structure was closed already.",
    "A picture of the inside is of a day on which it stood open.",
)
def _inside_late(facts: Facts) -> Iterator[Noticed]:
    late = {uri: closing for closing in facts.closings for uri in closing.late}
    told: Iterable[Entry | Inspection] = (*facts.build.entries, *facts.build.inspections) if late else ()
    for one in told:
        for photo in usable(one.photos):
            if (closing := late.get(photo.src_uri)) and closing.closed_on and photo.facts.taken:
                yield Noticed(
                    one,
                    (f"photos.{photo.name}", "photos"),
                    f"{photo.name} is of the inside of {closing.step.closed_part} and was taken on "
                    f"{say_date(photo.facts.taken)}; it is closed since {say_date(closing.closed_on)}",
                    "take `inside` out, or say how the inside could be seen",
                    steps=(closing.step.id,),
                )


@rule(
    "closing-next",
    "Structures that are closed next, while something is missing that cannot be had afterwards.",
    "The last day on which a picture, a look or a test is still possible.",
)
def _closing_next(facts: Facts) -> Iterator[Noticed]:
    """Only while somebody is at it: where one step at most is left before the closing, and the assembly was worked on
    within the last two months.
    """
    asked = facts.build.closing_inspections
    for closing in facts.closings:
        step, entries = closing.step, [entry for entry in facts.build.entries if entry.id in closing.entries]
        if closing.closed_on or not entries or len(closing.left_open) > 1:
            continue
        if (facts.today - entries[-1].date).days > AT_REST_DAYS:
            continue
        looks = _looks(facts, closing)
        open_findings = [one.id for look in looks for one in look.findings if one.open]
        lacks = [
            *(f"{name} ({facts.build.steps[name].title})" for name in closing.left_open),
            *([] if closing.pictures else ["a picture of the inside"]),
            *(
                []
                if _passed(facts, closing) or asked is ClosingInspections.NONE
                else [f"an inspection ({asked.value})"]
            ),
            *(f"finding {name} put right" for name in open_findings),
        ]
        if lacks[len(closing.left_open) :]:
            yield Noticed(
                entries[-1],
                ("steps", "begun", "assembly"),
                f"step {step.id} will close {step.closed_part} for good and hide "
                f"{say_count(len(closing.hides), 'step')}; still missing: {', '.join(lacks)}",
                "do it before closing: `inside: true` at a picture, `stage: closing` in an inspection",
                steps=(step.id,),
                assembly=step.assembly,
            )


@rule(
    "finding-open",
    "Findings of inspections that are not yet put right.",
    "Each finding belongs to the record together with how it was put right.",
)
def _inspection_findings_open(facts: Facts) -> Iterator[Noticed]:
    told = {one for _, found in _open_at_closing(facts) for one in found}
    for inspection in facts.build.inspections:
        for found in inspection.findings:
            if found.open and found not in told:
                yield Noticed(
                    inspection,
                    ("findings",),
                    f"finding {found.id} of {say_date(inspection.date)} is open: {_brief(found.text)}",
                    "once it is put right, add `closed_on` and `closed_by` (the entry that tells how)",
                    steps=inspection.steps,
                    place=found.where,
                )


@rule(
    "finding-closed",
    "Findings of inspections put right before they were found, in the future, or by an entry of another time.",
    "What is put right has a day after the finding, and an entry of that day or before it that tells how.",
)
def _findings_closed_wrongly(facts: Facts) -> Iterator[Noticed]:
    days = {entry.id: entry.date for entry in facts.build.entries}
    for inspection in facts.build.inspections:
        for found in inspection.findings:
            closed, by = found.closed_on, days.get(found.closed_by or "")
            if closed and closed < inspection.date:
                wrong = f"on {say_date(closed)}, before it was found"
            elif closed and closed > facts.today:
                wrong = f"on {say_date(closed)}, which is still to come"
            elif by and by < inspection.date:
                wrong = f"by the entry of {say_date(by)}, which is older than the finding"
            elif closed and by and by > closed:
                wrong = f"on {say_date(closed)} by an entry of {say_date(by)}"
            else:
                continue
            message = f"finding {found.id} of {say_date(inspection.date)} is put right {wrong}"
            hint = "mend `closed_on`, or name under `closed_by` the entry that tells how"
            yield Noticed(inspection, ("findings",), message, hint, steps=inspection.steps, place=found.where)


@rule(
    "checked-alone",
    "Measurements and corrections checked by nobody but those who made them.",
    "A second signature is that of somebody else.",
)
def _checked_alone(facts: Facts) -> Iterator[Noticed]:
    hint = "name under `checked_by` who else looked, or take it out"
    for measurement in facts.build.measurements:
        if measurement.checked_by and set(measurement.checked_by) <= set(measurement.people):
            yield Noticed(measurement, ("checked_by",), "checked by nobody but those who measured", hint)
    for inspection in facts.build.inspections:
        for found in inspection.findings:
            if found.checked_by and set(found.checked_by) <= set(found.signed_by):
                message = f"finding {found.id} was checked by nobody but those who put it right"
                yield Noticed(inspection, ("findings",), message, hint, steps=inspection.steps, place=found.where)
    for entry in facts.build.entries:
        for line in lines_of(entry):
            if line.checked_by and set(line.checked_by) == set(entry.people):
                message = "hardware checked by nobody but the one who set it"
                if len(entry.people) == 1:
                    yield Noticed(entry, ("fasteners", "torque"), message, hint, place=line.where)


@rule(
    "wrench-missing",
    "Torque recorded without the wrench that set it.",
    "A torque is as good as the check of the wrench.",
)
def _wrench_missing(facts: Facts) -> Iterator[Noticed]:
    hint = "add `wrench: NAME`, and the wrench to content/tools.csv with the day of its check"
    for entry in facts.build.entries:
        if bare := [line for line in entry.torque if not line.wrench.strip()]:
            message = f"torque recorded and no wrench named: {say_few([line.bolt for line in bare])}"
            yield Noticed(entry, ("torque",), message, hint, place=bare[0].where)


@rule(
    "weighing-lacks",
    "Weighings without equipment list, limits, or the loadings that are asked for.",
    "Inspectors ask for the equipment list, the forward and aft extreme loading and that of the first flight.",
)
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
                hint = "write `equipment`, `limits`, `max_weight` and `cases` (docs/format.md)"
                yield Noticed(measurement, ("scales",), f"the weighing lacks: {lacks}", hint)


_LOADINGS = 3
BULLETINS_FILE = "content/bulletins.csv"


@rule(
    "bulletin-open",
    "Service bulletins not done and no reason told, or said to be done and nothing that shows it.",
    "What the maker asks for is done and shown like any other work, or the record says why not.",
)
def _bulletins_open(facts: Facts) -> Iterator[Noticed]:
    """An entry with a picture shows it, or a paper."""
    pictured = {entry.id for entry in facts.build.entries if any(usable(entry.photos))}
    for bulletin in facts.build.bulletins:
        if bulletin.state is BulletinState.DONE:
            settled = bulletin.record or pictured.intersection(bulletin.done_in)
            lacks = "no entry with a picture and no paper shows it"
            hint = "name the entry in `done_in`, or the paper in `record`"
        else:
            settled, lacks = bulletin.note, "no reason is told"
            hint = "do it and name the entry in `done_in`, or write the reason into `note`"
        if not settled:
            yield Noticed(
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


@rule(
    "bulletin-early",
    "Service bulletins done by an entry older than the bulletin.",
    "Nobody can have worked by a paper that was not written yet.",
)
def _bulletins_early(facts: Facts) -> Iterator[Noticed]:
    days = {entry.id: entry.date for entry in facts.build.entries}
    for bulletin in facts.build.bulletins:
        issued = bulletin.date
        early = [days[name] for name in bulletin.done_in if name in days and issued and days[name] < issued]
        if early and issued and len(early) == len(bulletin.done_in):
            yield Noticed(
                about=None,
                keys=(),
                message=f"bulletin {bulletin.id} of {say_date(issued)} is done by the entry of {say_date(early[0])}",
                hint="mend `date`, or name under `done_in` the entry that did it",
                entries=bulletin.done_in,
                place=bulletin.where,
                file=BULLETINS_FILE,
            )
