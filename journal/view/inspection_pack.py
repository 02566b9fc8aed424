"""What inspections ask for beside the entries: papers, identity, closings, paid help, weighing, signatures, and what
comes after the certificate. Told once, for the page and for the binder; a cell is words or what it leads to. Pure.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from journal.base.addresses import fold_name
from journal.base.formatting import say_count, say_date
from journal.base.model import ROLE_WORDS, AuthorityRule, AuthorityRules, Outcome, Photo, Record, Role, Step
from journal.trade.tally import add_up, say_exact
from journal.view.view import ShownEntry, ShownInspection, Told, View

Place = Told | Record
"""What a cell may lead to: an entry, an inspection, a measurement, or a paper kept."""
Cell = str | tuple[Place, ...]

THIS_RECORD = "this record"
CERTIFICATES = ("airworthiness certificate", "permit to fly")
"""Kinds of paper (records.csv) from whose day on an aircraft flies."""
CONDITION = "condition"
"""What the stage of the yearly inspections begins with."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PackPart:
    """A heading of the pack: words, pictures, and a table whose columns share the width as `shares` say."""

    title: str
    anchor: str
    words: tuple[str, ...] = ()
    photos: tuple[tuple[Photo, Told], ...] = ()
    columns: tuple[str, ...] = ()
    shares: tuple[int, ...] = ()
    rows: tuple[tuple[Cell, ...], ...] = ()


def inspection_pack(view: View) -> tuple[PackPart, ...]:
    """The parts of the pack; nothing for an audience that may know none of it."""
    if view.rules == AuthorityRules():
        return ()
    parts = [_identity(view), _papers(view)]
    if view.everything:
        parts += [_closings(view), _weighing(view), _paid_help(view), _signatures(view), _afterwards(view)]
    return tuple(parts)


def _identity(view: View) -> PackPart:
    aircraft = view.aircraft
    said = (
        ("Aircraft", ", ".join(filter(None, (aircraft.name, aircraft.kind)))),
        ("Registration", aircraft.registration or "not written down"),
        ("Serial number", aircraft.serial or "not written down"),
        ("Built by", ", ".join(view.builders) or "nobody is named"),
        ("Edition of the kit’s manual", view.manual_edition or "not written down"),
        ("Rules chosen", view.rules.country or "none: common practice alone"),
    )
    photos = tuple((photo, told) for told in view.told for photo in told.photos if photo.identity)
    words = () if photos else ("No picture is marked as one that identifies the aircraft, as of its data plate.",)
    return PackPart(
        title="Identity of the aircraft",
        anchor="identity",
        words=words,
        photos=photos,
        columns=("What", "As written"),
        shares=(1, 3),
        rows=said,
    )


def asked_papers(rules: AuthorityRules) -> Iterator[AuthorityRule]:
    """The papers that the rules chosen ask for, then those of common practice of which they say nothing."""
    yield from rules.papers
    named = {fold_name(rule.kind) for rule in rules.papers}
    yield from (rule for rule in rules.practice if fold_name(rule.kind) not in named)


def _papers(view: View) -> PackPart:
    rows: list[tuple[Cell, ...]] = []
    lacking = 0
    for rule in asked_papers(view.rules):
        kind = fold_name(rule.kind)
        kept: tuple[Place, ...] = tuple(one for one in view.records if rule.kind and fold_name(one.kind) == kind)
        measured = tuple(one for one in view.measurements if rule.kind and fold_name(one.kind) == kind)
        state = "kept" if kept else "measured" if measured else rule.kind if rule.kind == THIS_RECORD else "not kept"
        lacking += state == "not kept"
        rows.append((rule.says, rule.source, state, (*kept, *measured)))
    return PackPart(
        title="Papers asked for",
        anchor="asked",
        words=(
            f"{say_count(len(rows), 'paper')} asked for, {lacking} not kept with this record. What is not kept here "
            "may still exist: ask for it. An authority’s own list decides.",
        ),
        columns=("Asked for", "By", "State", "Kept as"),
        shares=(6, 5, 2, 5),
        rows=tuple(rows),
    )


def _closings(view: View) -> PackPart:
    """Every structure that a step closes: what was seen of its inside, and by whom."""
    rows = []
    for step in view.steps.values():
        if not step.closes:
            continue
        stands = view.step_progress[step.id]
        until = stands.done_on or date.max
        inside = [
            told
            for told in view.told
            for photo in told.photos
            if photo.inside and told.date <= until and (photo.step == step.id or _covers(told, step))
        ]
        looks = [one for one in view.inspections if one.date <= until and _covers(one, step)]
        opened = sum(found.open for one in looks for found in one.findings)
        passed = [one for one in looks if one.outcome is not Outcome.NOT_PASSED]
        seen: Cell = (
            "nobody" if not looks else "; ".join(f"{', '.join(one.people)}: {one.outcome.value}" for one in looks)
        )
        rows.append(
            (
                f"{step.closed_part} (step {step.id})",
                f"{stands.word}, {say_date(stands.done_on)}" if stands.done_on else stands.word,
                f"{say_count(len(inside), 'picture')}" if inside else "none",
                tuple({one.src_uri: one for one in inside}.values()),
                seen,
                tuple(looks),
                f"{opened} open" if opened else "none open" if passed else "–",
            )
        )
    return PackPart(
        title="Looks before closing",
        anchor="closings",
        words=() if rows else ("steps.csv names no step that closes a structure.",),
        columns=("Structure", "Closing step", "Inside, until then", "Shown in", "Looked at by", "On", "Findings"),
        shares=(5, 4, 3, 4, 5, 4, 2),
        rows=tuple(rows),
    )


def _covers(one: Told, step: Step) -> bool:
    return step in one.steps or (one.assembly is not None and one.assembly.id == step.assembly)


def _weighing(view: View) -> PackPart:
    weighed = [one for one in view.measurements if one.weighing]
    if not weighed:
        return PackPart(title="Weighing", anchor="weighing", words=("No weighing is written up.",))
    newest = weighed[-1]
    return PackPart(
        title="Weighing",
        anchor="weighing",
        words=(
            f"Weighed on {say_date(newest.date)} with {newest.instrument or 'scales that are not named'} by "
            f"{', '.join(newest.people)}; checked by {', '.join(newest.checked_by) or 'nobody else'}. "
            f"{say_count(len(weighed), 'weighing')} in all; the limits are the builder’s words.",
        ),
        columns=("What", "Result", "Limits as written", "How it stands", "Told in"),
        shares=(4, 4, 5, 4, 3),
        rows=tuple(
            (one.what, one.recorded, one.called_for, one.remark or one.standing.value, () if number else (newest,))
            for number, one in enumerate(newest.table.figures)
        ),
    )


def _paid_help(view: View) -> PackPart:
    """Every task with tenths for paid help or with somebody paid in its entries, and paid days beside them."""
    rows: list[tuple[Cell, ...]] = []
    told: set[str] = set()
    for line in view.tasks:
        if line.task.paid or line.paid:
            told |= {entry.id for entry in line.paid_entries}
            shown = say_exact(add_up([line.line]).paid_shown)
            claimed = "n/a" if line.task.paid is None else f"{line.task.paid} of 10, {shown} shown"
            rows.append((f"{line.task.task} {line.task.name}", claimed, ", ".join(line.paid) or "–", line.paid_entries))
    paid = {name for name, role in view.roles.items() if role is Role.PAID}
    others = [entry for entry in view.entries if entry.id not in told and paid & set(entry.people)]
    rows += [
        ("no task names its steps", "–", ", ".join(name for name in one.people if name in paid), (one,))
        for one in others
    ]
    invoices = tuple(one for one in view.records if fold_name(one.kind) == "invoice")
    if invoices and rows:
        rows.append(("Invoices among the papers", "", "", invoices))
    return PackPart(
        title="Paid help",
        anchor="paid",
        words=() if rows else ("No paid help is told on any task or day.",),
        columns=("Task", "Tenths", "Who was paid", "Told in"),
        shares=(6, 3, 4, 6),
        rows=tuple(rows),
    )


def _signatures(view: View) -> PackPart:
    """Who put a name to what, and room for the hand."""
    signed: dict[str, dict[str, Told]] = defaultdict(dict)
    for one in view.inspections:
        by = [*one.people, *(name for found in one.findings for name in (*found.signed_by, *found.checked_by))]
        for name in by:
            signed[name][one.src_uri] = one
    for measured in view.measurements:
        for name in (*measured.people, *measured.checked_by):
            signed[name][measured.src_uri] = measured
    people = [name for name, role in view.roles.items() if role is Role.BUILDER or name in signed]
    return PackPart(
        title="Signatures",
        anchor="signatures",
        words=("Names as they were written down under inspections and measurements; the last column is for the hand.",),
        columns=("Who", "As", "Put a name to", "Day and signature"),
        shares=(4, 2, 6, 6),
        rows=tuple((name, ROLE_WORDS[view.roles[name]], tuple(signed[name].values()), "") for name in people),
    )


def certified_on(view: View) -> date | None:
    """The day of the first paper from which on the aircraft flies."""
    days = [one.date for one in view.records if fold_name(one.kind) in CERTIFICATES and one.date]
    return min(days, default=None)


def _afterwards(view: View) -> PackPart:
    since = certified_on(view)
    yearly = [one for one in view.inspections if fold_name(one.stage).startswith(CONDITION)]
    later: list[Told] = [one for one in view.told if since and one.date >= since]
    shown: dict[str, Told] = {one.src_uri: one for one in (*yearly, *later)}
    rows: list[tuple[Cell, ...]] = []
    for one in sorted(shown.values(), key=lambda told: told.date):
        defects = "–"
        if isinstance(one, ShownInspection):
            opened = sum(found.open for found in one.findings)
            defects = f"{say_count(len(one.findings), 'defect')}, {opened} open" if one.findings else "none found"
        what = f"work, {one.assembly.title}" if isinstance(one, ShownEntry) else getattr(one, "stage", "")
        rows.append((say_date(one.date), what, ", ".join(one.people), defects, (one,)))
    first = (
        f"A certificate is dated {say_date(since)}."
        if since
        else f"No paper is kept that says {' or '.join(CERTIFICATES)}: what comes after it has not begun."
    )
    return PackPart(
        title="After the certificate",
        anchor="afterwards",
        words=(first, *(() if rows else ("No condition inspection is written up.",))),
        columns=("Day", "What", "By", "Defects", "Told in"),
        shares=(3, 4, 4, 3, 4),
        rows=tuple(rows),
    )
