"""What an inspector reads in tables, told once for page and binder: the inspection pack (papers, identity, closings,
paid help, weighing, signatures, what comes after the certificate), tasks, people, batches, bulletins, tools. A cell is
words, or what it leads to. Pure.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from journal.base.addresses import fold_name
from journal.base.formatting import say_count, say_date, say_minutes, say_steps
from journal.base.model import (
    ROLE_WORDS,
    Assembly,
    AuthorityRule,
    AuthorityRules,
    Bulletin,
    Outcome,
    Photo,
    Record,
    Role,
    Step,
    Task,
)
from journal.ledger.closings import Closing
from journal.trade.tally import TENTHS, Tally, add_up, add_up_sections, say_exact, say_percent, say_tenths
from journal.view.dossier import mark_builders, say_measured
from journal.view.people import PersonWork, gather_people
from journal.view.shown_pictures import say_edits
from journal.view.view import RULES, Evidence, Gap, MaterialTrace, ShownEntry, ShownInspection, ShownTask, Told, View

Place = Told | Record | Assembly | Step
"""What a cell may lead to: an entry, an inspection, a measurement, a paper kept; an assembly or a step."""
Cell = str | tuple[Place, ...]
Row = tuple[Cell, ...]

THIS_RECORD = "this record"
CERTIFICATES = ("airworthiness certificate", "permit to fly")
"""Kinds of paper (records.csv) from whose day on an aircraft flies."""
CONDITION = "condition"
"""What the stage of the yearly inspections begins with."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PackPart:
    """A heading with words, pictures and a table; `columns` are their names and their shares of the width. `by_hand`
    leaves room to write in every row; the columns numbered in `figures` are set flush right; `sums` is the last row.
    """

    title: str
    words: tuple[str, ...] = ()
    photos: tuple[tuple[Photo, Told], ...] = ()
    columns: Mapping[str, int] = field(default_factory=dict)
    rows: tuple[Row, ...] = ()
    sums: Row = ()
    figures: frozenset[int] = frozenset()
    by_hand: bool = False


def inspection_pack(view: View) -> tuple[PackPart, ...]:
    """The parts of the pack; nothing for an audience that may know none of it."""
    if view.rules == AuthorityRules():
        return ()
    parts = (_identity(view), _papers(view))
    if not view.everything:
        return parts
    return (
        *parts,
        _closings(view),
        _weighing(view),
        _paid_help(view),
        _signatures(view),
        _afterwards(view),
        *_otherwise(view),
    )


def _identity(view: View) -> PackPart:
    aircraft = view.aircraft
    photos = tuple((photo, told) for told in view.told for photo in told.photos if photo.identity)
    unknown = "not written down"
    kept_back = unknown if view.everything else "told in the archive alone, where it is written down"
    return PackPart(
        title="Identity of the aircraft",
        words=()
        if photos or not view.everything
        else ("No picture is marked as one that identifies the aircraft, as of its data plate.",),
        photos=photos,
        columns={"What": 1, "As written": 3},
        rows=(
            ("Aircraft", ", ".join(filter(None, (aircraft.name, aircraft.kind)))),
            ("Registration", aircraft.registration or kept_back),
            ("Serial number", aircraft.serial or kept_back),
            ("Built by", ", ".join(view.builders) or "nobody is named"),
            ("Edition of the kit’s manual", view.manual_edition or unknown),
            ("Rules chosen", view.rules.country or "none: common practice alone"),
        ),
    )


def asked_papers(rules: AuthorityRules) -> Iterator[AuthorityRule]:
    """The papers that the rules chosen ask for, then those of common practice of which they say nothing."""
    yield from rules.papers
    named = {fold_name(rule.kind) for rule in rules.papers}
    yield from (rule for rule in rules.practice if fold_name(rule.kind) not in named)


def _papers(view: View) -> PackPart:
    def row(rule: AuthorityRule) -> Row:
        kind = fold_name(rule.kind)
        kept = tuple(one for one in view.records if kind and fold_name(one.kind) == kind)
        measured = tuple(one for one in view.measurements if kind and fold_name(one.kind) == kind)
        came_out = ", ".join(filter(None, ("measured", say_measured(measured)))) if measured else ""
        state = "kept" if kept else came_out or (rule.kind if kind == THIS_RECORD else "not kept")
        return rule.says, state, (*kept, *measured), rule.source

    rows = tuple(map(row, asked_papers(view.rules)))
    lacking = sum(state == "not kept" for _, state, *_ in rows)
    return PackPart(
        title="Papers asked for",
        words=(
            f"{say_count(len(rows), 'paper')} asked for, {lacking} not kept with this record. What is not kept here "
            "may still exist: ask for it. An authority’s own list decides.",
        ),
        columns={"Asked for": 6, "State": 2, "Kept as": 5, "By": 5},
        rows=rows,
    )


def _closings(view: View) -> PackPart:
    """Every structure that a step closes: what was seen of its inside until then, and by whom."""

    def row(closing: Closing) -> Row:
        step, stands = closing.step, closing.stands
        inside = [told for told in view.told if any(photo.src_uri in closing.pictures for photo in told.photos)]
        looks = tuple(one for one in view.inspections if one.id in closing.inspections)
        findings = [found for one in looks for found in one.findings]
        then, now = len(closing.open_when_closed(findings)), sum(found.open for found in findings)
        opened = [f"{then} open at the closing"] * bool(then) + [f"{now} still open"] * bool(now)
        passed = any(one.outcome is not Outcome.NOT_PASSED for one in looks)
        return (
            f"{step.closed_part} (step {step.id})",
            f"{stands.word}, {say_date(stands.done_on)}" if stands.done_on else stands.word,
            say_count(len(closing.pictures), "picture") if closing.pictures else "none",
            tuple(inside),
            "; ".join(f"{mark_builders(view, one.people)}: {one.outcome.value}" for one in looks) or "nobody",
            looks,
            ", ".join(opened) or ("none open" if passed else "–"),
        )

    rows = tuple(map(row, view.closings))
    return PackPart(
        title="Looks before closing",
        words=() if rows else ("steps.csv names no step that closes a structure.",),
        columns={
            **{"Structure": 5, "Closing step": 4, "Inside, until then": 3, "Shown in": 4},
            **{"Looked at by": 5, "On": 4, "Findings": 2},
        },
        rows=rows,
    )


def _weighing(view: View) -> PackPart:
    weighed = [one for one in view.measurements if one.weighing]
    if not weighed:
        return PackPart(title="Weighing", words=("No weighing is written up.",))
    newest = weighed[-1]
    return PackPart(
        title="Weighing",
        words=(
            f"Weighed on {say_date(newest.date)} with {newest.instrument or 'scales that are not named'} by "
            f"{', '.join(newest.people)}; checked by {', '.join(newest.checked_by) or 'nobody else'}. "
            f"{say_count(len(weighed), 'weighing')} in all; the limits are the builder’s words.",
        ),
        columns={"What": 4, "Result": 4, "Limits as written": 5, "How it stands": 4, "Told in": 3},
        rows=tuple(
            (one.what, one.recorded, one.called_for, one.remark or one.standing.value, () if number else (newest,))
            for number, one in enumerate(newest.table.figures)
        ),
    )


def _paid_help(view: View) -> PackPart:
    """Every task with tenths for paid help or somebody paid in its entries; paid days and pictures beside these."""
    lines = [line for line in view.tasks if line.task.paid or line.paid]
    told = {entry.id for line in lines for entry in line.paid_entries}
    paid = {name for name, role in view.roles.items() if role is Role.PAID}
    rows: list[Row] = []
    for line in lines:
        shown = say_exact(add_up([line.line]).paid_shown)
        claimed = "n/a" if line.task.paid is None else f"{line.task.paid} of 10, {shown} shown"
        rows.append((f"{line.task.task} {line.task.name}", claimed, ", ".join(line.paid) or "–", line.paid_entries))
    rows += [
        ("no task names its steps", "–", ", ".join(name for name in entry.people if name in paid), (entry,))
        for entry in view.entries
        if entry.id not in told and paid & set(entry.people)
    ]
    rows += [
        ("seen in a picture, not named in what it shows", "–", ", ".join(seen), (told,))
        for told in view.told
        if (seen := dict.fromkeys(one for photo in told.photos for one in photo.people if one in paid - {*told.people}))
    ]
    invoices = tuple(one for one in view.records if fold_name(one.kind) == "invoice")
    if invoices and rows:
        rows.append(("Invoices among the papers", "", "", invoices))
    return PackPart(
        title="Paid help",
        words=() if rows else ("No paid help is told on any task or day.",),
        columns={"Task": 6, "Tenths": 3, "Who was paid": 4, "Told in": 6},
        rows=tuple(rows),
    )


def _signatures(view: View) -> PackPart:
    """Who put a name to what, and room for the hand."""
    signed: dict[str, dict[str, Told]] = defaultdict(dict)
    for one in view.inspections:
        for name in (*one.people, *(name for found in one.findings for name in (*found.signed_by, *found.checked_by))):
            signed[name][one.src_uri] = one
    for measured in view.measurements:
        for name in (*measured.people, *measured.checked_by):
            signed[name][measured.src_uri] = measured
    people = [name for name, role in view.roles.items() if role is Role.BUILDER or name in signed]
    return PackPart(
        title="Signatures",
        words=("Names as they were written down under inspections and measurements; the last column is for the hand.",),
        columns={"Who": 4, "As": 2, "Put a name to": 6, "Day and signature": 6},
        rows=tuple((name, ROLE_WORDS[view.roles[name]], tuple(signed[name].values()), "") for name in people),
        by_hand=True,
    )


def _afterwards(view: View) -> PackPart:
    days = [one.date for one in view.records if fold_name(one.kind) in CERTIFICATES and one.date]
    since = min(days, default=None)

    def row(one: Told) -> Row:
        what, defects = f"work, {one.assembly.title}" if isinstance(one, ShownEntry) and one.assembly else "", "–"
        if isinstance(one, ShownInspection):
            what, opened = one.stage, sum(found.open for found in one.findings)
            defects = f"{say_count(len(one.findings), 'defect')}, {opened} open" if one.findings else "none found"
        return say_date(one.date), what, ", ".join(one.people), defects, (one,)

    def belongs(one: Told) -> bool:
        yearly = isinstance(one, ShownInspection) and fold_name(one.stage).startswith(CONDITION)
        return yearly or bool(since and one.date >= since)

    rows = tuple(map(row, sorted(filter(belongs, view.told), key=lambda one: one.date)))
    begun = f"A certificate is dated {say_date(since)}." if since else ""
    not_begun = f"No paper is kept that says {' or '.join(CERTIFICATES)}: what comes after it has not begun."
    return PackPart(
        title="After the certificate",
        words=(begun or not_begun, *(() if rows else ("No condition inspection is written up.",))),
        columns={"Day": 3, "What": 4, "By": 4, "Defects": 3, "Told in": 4},
        rows=rows,
    )


def _otherwise(view: View) -> Iterator[PackPart]:
    """Only where there are any."""
    rows = tuple(
        (photo.name, said, photo.sha256, (told,))
        for told in view.told
        for photo in told.photos
        if (said := say_edits(photo.edits))
    )
    if rows:
        yield PackPart(
            title="Pictures shown otherwise than taken",
            words=(
                f"{say_count(len(rows), 'picture')}. The originals lie under data/source as the camera wrote them; "
                "what is cropped away or filled in can be seen there and nowhere else.",
            ),
            columns={"Original": 4, "How": 4, "SHA-256 of the original": 8, "Told in": 4},
            rows=rows,
        )


# -- gaps ----------------------------------------------------------------------------------------


def gap_parts(view: View, evidence: Evidence) -> Iterator[PackPart]:
    """What the record does not show: open gaps, the weightiest first, those that the builder answered, the rules."""
    told = {one.src_uri: one for one in view.told}
    entries = {entry.id: entry for entry in view.entries}

    def where(gap: Gap) -> Cell:
        named: list[Place] = [entries[one] for one in gap.entries if one in entries]
        if not named and gap.problem.file in told:
            named = [told[gap.problem.file]]
        named = named or [view.steps[one] for one in gap.steps if one in view.steps]
        if not named and (assembly := view.assemblies.get(gap.assembly or "")):
            named = [assembly]
        return tuple(named[:3]) or gap.problem.file.removeprefix("content/")

    def rows(gaps: Iterable[Gap], *, answered: bool) -> tuple[Row, ...]:
        return tuple(
            (where(gap), gap.problem.word, gap.problem.message, *([gap.answer] if answered else [])) for gap in gaps
        )

    columns = {"Where": 4, "Finding": 4, "What is missing": 10}
    yield PackPart(
        title="Open",
        words=() if evidence.gaps else ("None of the rules finds a gap.",),
        columns=columns,
        rows=rows(evidence.heaviest, answered=False),
    )
    if evidence.answered:
        yield PackPart(
            title="Answered by the builder",
            words=("These gaps are still there; the builder says why.",),
            columns=columns | {"The builder’s answer": 8},
            rows=rows(evidence.answered, answered=True),
        )
    opened, answered = (Counter(gap.problem.word for gap in found) for found in (evidence.gaps, evidence.answered))
    yield PackPart(
        title="The rules",
        words=("Each is applied to the whole record. An answer stands in the front matter of an entry.",),
        columns={"Finding": 4, "Finds": 8, "Why it is asked": 8, "Open": 2, "Answered": 2},
        rows=tuple(
            (rule.word, rule.finds, rule.why, f"{opened[rule.word]:,}", f"{answered[rule.word]:,}") for rule in RULES
        ),
        figures=frozenset({3, 4}),
    )


# -- tasks and people ----------------------------------------------------------------------------


def task_sections(view: View) -> Iterator[PackPart]:
    """The lines of each section of the checklist with what stands behind each, and their sums."""
    sums = add_up_sections(line.line for line in view.tasks)
    for section, tally in sums.items():
        lines = [line for line in view.tasks if line.task.section == section]
        yield PackPart(
            title=f"{section or 'Without a section'}: {say_count(tally.tasks, 'task')}",
            words=(tally.fabrication_note,) if tally.builder and tally.fabrication_note else (),
            columns={
                **{"Task": 6, "Maker": 2, "Paid": 2, "Assembly": 2, "Fabrication": 3, "Claimed": 2, "Shown": 2},
                **{"Steps": 4, "Entries": 4, "What stands behind it": 5},
            },
            rows=tuple(_task_row(line, view.steps) for line in lines),
            sums=("Sum", *_shares(tally), say_tenths(tally.builder), say_tenths(tally.builder_shown), "", "", ""),
            figures=frozenset(range(1, 7)),
        )


def say_tally(tally: Tally) -> Iterator[str]:
    """The arithmetic in sentences, as one would show it to somebody with a pencil."""
    share, one = tally.builder_share, tally.one_task
    if share is None or one is None:
        yield "No task applies, so there is nothing to add up."
        return
    yield (
        f"{say_count(tally.tasks, 'task')} of ten tenths each make {tally.tenths:,} tenths; "
        f"{say_count(tally.not_applicable, 'line')} marked n/a take no part."
    )
    yield (
        f"Claimed: {tally.assembly} tenths of assembly and {tally.fabrication} of fabrication are {tally.builder} of "
        f"{tally.tenths:,} = {share} = {say_percent(share)}, cut off and not rounded."
    )
    yield (
        f"Shown: {say_exact(tally.assembly_shown)} of the {tally.assembly} tenths of assembly and "
        f"{say_exact(tally.fabrication_shown)} of the {tally.fabrication} of fabrication are "
        f"{say_exact(tally.builder_shown)} of {tally.tenths:,} = {say_percent(tally.builder_shown / tally.tenths)}."
    )
    yield (
        f"Others: {tally.maker} tenths by the maker and {tally.paid} by paid help, {say_exact(tally.paid_shown)} of "
        f"these shown, are {tally.maker + tally.paid}."
    )
    after = tally.share_after_paying(TENTHS)
    yield (
        f"One task is {one} of the whole, {say_percent(one)}. Were one more task of the builder’s paid for entirely, "
        f"the share claimed would be {say_percent(after) if after is not None else '–'}."
    )
    if tally.fabrication_note:
        yield tally.fabrication_note


def _shares(of: Task | Tally) -> tuple[str, ...]:
    return tuple(
        "n/a" if share is None else say_tenths(share) for share in (of.maker, of.paid, of.assembly, of.fabrication)
    )


def _task_row(line: ShownTask, steps: Mapping[str, Step]) -> Row:
    task, one = line.task, add_up([line.line])
    people = ", ".join(name for name in line.people if name not in line.paid)
    facts = [say_count(line.photos, "picture") if line.photos else "no picture", people]
    facts.append(f"paid: {', '.join(line.paid)}" if line.paid else "")
    facts = facts if line.entries else []
    if task.steps and task.applies:
        facts = [f"{len(line.steps_shown)} of {say_count(len(task.steps), 'step')} shown", *facts]
    remarks = ["; ".join(filter(None, facts)) + "."] if facts else []
    if line.paid and task.paid == 0:
        remarks.append("Paid help worked on it and no tenths are given to paid help.")
    if not task.applies and line.entries:
        remarks.append("Marked n/a, and yet worked on.")
    return (
        task.line,
        *_shares(task),
        *((say_tenths(one.builder), say_tenths(one.builder_shown)) if task.applies else ("n/a", "n/a")),
        *(tuple(steps[step] for step in task.steps) or "No steps named", line.entries, " ".join(remarks)),
    )


def people_told(view: View) -> Iterator[PackPart]:
    """What each person did, in the order of build.yml: by assembly, by kind of work, and what they put a name to."""
    everybody = gather_people(view)
    for name in dict.fromkeys((*view.roles, *everybody)):
        work = everybody.get(name)
        if work and (work.entries or work.pictures or work.inspections or work.measurements):
            yield _person(view, work)


def _person(view: View, work: PersonWork) -> PackPart:
    role = ROLE_WORDS[view.roles[work.name]].capitalize() if work.name in view.roles else "No role"
    first, last = (say_date(work.days[0]), say_date(work.days[-1])) if work.days else ("", "")
    said = f"{role}."
    if work.entries:
        said += (
            f" {say_count(len(work.entries), 'entry', 'entries')} on {say_count(len(work.days), 'day')}"
            + (f" from {first} to {last}" if first != last else f", {last}")
            + f"; {say_minutes(work.minutes)} on the build"
            + (f" and {say_minutes(work.minutes_not_counted)} kept apart" if work.minutes_not_counted else "")
            + f"; seen at work in {say_count(len(work.at_work), 'picture')}."
        )
    if work.steps:
        said += f" Took part in step{'s' * (len(work.steps) > 1)} {say_steps(work.steps, tuple(view.steps))}."
    if work.without_hours:
        said += f" {say_count(work.without_hours, 'entry tells', 'entries tell')} no hours."
    kinds = "; ".join(f"{name} {say_minutes(minutes)}" for name, minutes in work.by_method.items())
    seen = Counter(entry.assembly.id for entry, _ in work.at_work)
    looked = [told for told in view.inspections if told.id in work.inspections]
    measured = [told for told in view.measurements if told.id in work.measurements]
    rows: list[Row] = [
        (
            (view.assemblies[assembly],),
            say_minutes(minutes),
            f"{seen[assembly]:,}",
            tuple(entry for entry in work.entries if entry.assembly.id == assembly),
        )
        for assembly, minutes in work.by_assembly.items()
    ]
    if pictured := tuple({told.src_uri: told for told, _ in work.pictures}.values()):
        rows.append(("seen at work", "", f"{len(work.pictures):,}", pictured))
    if looked or measured:
        rows.append(("put a name to", "", "", (*looked, *measured)))
    return PackPart(
        title=work.name,
        words=(
            said,
            *([f"By kind of work: {kinds}. An entry that names several counts in full under each."] * bool(kinds)),
        ),
        columns={"Of": 5, "Worked": 3, "Pictures at work": 2, "Told in": 8},
        rows=tuple(rows),
        figures=frozenset({1, 2}),
    )


# -- supplies ------------------------------------------------------------------------------------


def batches(view: View) -> PackPart:
    """Every batch with the work that it went into and the paper that came with it."""

    def shown(entries: Iterable[object]) -> tuple[ShownEntry, ...]:
        named = {getattr(entry, "id", "") for entry in entries}
        return tuple(entry for entry in view.entries if entry.id in named)

    def row(trace: MaterialTrace) -> Row:
        one, unknown = trace.material, "not recorded"
        expires = say_date(one.expires) if one.expires else unknown
        return (
            *(one.name, one.batch or unknown, one.mix or "–"),
            "–" if one.work_life_minutes is None else say_minutes(one.work_life_minutes),
            f"{expires}, used up" if one.used_up else expires,
            *(shown(trace.entries), shown(trace.late), (trace.record,) if trace.record else "no paper"),
        )

    return PackPart(
        title="Batches",
        columns={
            **{"Material": 5, "Batch": 3, "Mix": 3, "Work life": 2, "Use by": 4},
            **{"Used in": 4, "Used after that day": 3, "Paper": 4},
        },
        rows=tuple(map(row, view.materials)),
    )


def bulletins(view: View) -> PackPart:
    """Every service bulletin, what became of it, and what shows that."""
    papers = {record.file: record for record in view.records}
    entries = {entry.id: entry for entry in view.entries}

    def row(one: Bulletin) -> Row:
        concerned = view.assemblies[one.assembly].title if one.assembly else say_steps(one.steps, tuple(view.steps))
        done: list[Place] = [entries[name] for name in one.done_in]
        paper = [papers[one.record]] if one.record in papers else []
        return (
            *(one.id, say_date(one.date) if one.date else "–", one.title, concerned or "the whole aircraft"),
            *(one.state.value, (*done, *paper), one.note or "–"),
        )

    return PackPart(
        title="Service bulletins",
        columns={
            **{"Bulletin": 3, "Day": 3, "What it is": 6, "Concerns": 3},
            **{"State": 2, "Shown by": 4, "Note": 4},
        },
        rows=tuple(map(row, view.bulletins)),
    )


def calibrated_tools(view: View) -> PackPart:
    """Every check of a tool that tools.csv lists."""
    return PackPart(
        title="Calibrated tools",
        columns={"Tool": 6, "Checked on": 3, "Every": 3},
        rows=tuple(
            (
                one.name,
                say_date(one.checked_on) if one.checked_on else "–",
                f"{one.check_every_months} months" if one.check_every_months else "–",
            )
            for one in view.calibrated_tools
        ),
    )
