"""A structure that is closed for good, on one sheet: what somebody needs who cannot open it. For site and binder.

The tables are words and the things told that they lead to; a page makes links of these, the binder places.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from journal.base.formatting import say_count, say_date, say_signed
from journal.base.grouping import grouped
from journal.base.model import Outcome, Photo, Role, State
from journal.base.words import _
from journal.ledger.closings import Closing
from journal.trade.figures import Figure, Standing, TradeTable
from journal.view.view import Gap, ShownEntry, ShownInspection, ShownMeasurement, Told, View

SheetCell = str | tuple[Told, ...]
"""Words, or what is told elsewhere."""
Row = tuple[SheetCell, ...]
NO_TORQUE = "no torque written down"


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetTable:
    """Rows under a heading; `wide` is the column that takes the room that is left."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    wide: int = 1
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Dossier:
    """One closing with all that is behind it. `block` is (label, value), `gaps` what an inspector would ask, the
    heaviest first and the answered last (the archive alone has them), `asked` the same in words, (what, the builder's
    answer) and what no rule asks, the open first; `pictures` those of the inside; the first of
    `tables` are its steps.
    """

    closing: Closing
    title: str
    block: Mapping[str, str]
    gaps: tuple[Gap, ...]
    asked: tuple[tuple[str, str], ...]
    tables: tuple[SheetTable, ...]
    pictures: tuple[Photo, ...]


def dossiers(view: View) -> Iterator[Dossier]:
    """One for each structure that is closed or under way, in the manual's order; none for the public."""
    pictures = {photo.src_uri: photo for photo in view.photos} if view.closings else {}
    entries = {entry.id: entry for entry in view.entries}
    for closing in view.closings:
        if behind := [entries[name] for name in closing.entries if name in entries]:
            shown = tuple(pictures[uri] for uri in closing.pictures if uri in pictures)
            yield _dossier(view, closing, behind, shown)


def mark_builders(view: View, names: Iterable[str]) -> str:
    """Those who looked, by name, and of which it has to be known that they are builders."""
    return ", ".join(f"{name} (a builder)" if view.roles.get(name) is Role.BUILDER else name for name in names)


def _dossier(view: View, closing: Closing, behind: list[ShownEntry], pictures: tuple[Photo, ...]) -> Dossier:
    step, inside = closing.step, {*closing.hides, closing.step.id, *closing.tested_by}
    whole = view.assemblies[step.assembly]
    looks = [one for one in view.inspections if one.assembly == whole or any(of.id in inside for of in one.steps)]
    tests = [test for test in view.measurements if test.id in closing.measurements]
    before = [look for look in looks if look.id in closing.inspections]
    shut = next((one for one in behind if one.id == closing.stands.done_in and closing.closed_on), None)
    undone = f"{len(closing.left_open)} not done {'on that day' if closing.closed_on else 'yet'}"
    again = len({name for _, name in closing.reworked})
    later = f"; {again} worked on after the closing" if again else ""
    seen = [
        (told, one)
        for told in view.told
        for one in told.photos
        if (one.step in inside if one.step else told.id in closing.entries) and not one.facts.trouble
    ]
    told_in = {*closing.entries, *(told.id for told, _ in seen)}
    gaps = _gaps(view, inside, told_in, {told.src_uri for told in (*looks, *tests)})
    asked = [(gap.problem.message, gap.answer or "open") for gap in gaps]
    workers = [name for entry in view.entries if _is_of(entry, closing) for name in entry.people]
    workers += [name for _, photo in seen for name in photo.people if view.roles.get(name) is not Role.INSPECTOR]
    lines = [line for entry in behind for line in _lines(entry, inside)]
    return Dossier(
        closing=closing,
        title=f"{step.closed_part[:1].upper()}{step.closed_part[1:]}",
        block={
            "Closed on": say_date(closing.closed_on) if closing.closed_on else "still open",
            "By step": f"{step.id}, page {step.page}" if step.page else step.id,
            "Closed by": ", ".join(shut.people) if shut else "—",
            "Where": (shut.place if shut else "") or "—",
            "Steps behind it": f"{len(closing.hides)}, {undone if closing.left_open else 'all done'}{later}",
            "Last look before": f"{before[-1].outcome.value}, {say_date(before[-1].date)}" if before else "none",
            "Pictures of the inside": str(len(pictures) or "none"),
            "Who worked on it": ", ".join(dict.fromkeys(workers)) or "—",
        },
        gaps=gaps,
        asked=tuple(sorted((*_also_asked(view, closing, before), *asked), key=lambda one: one[1] != "open")),
        tables=(
            SheetTable(
                title="What is behind it",
                columns=("Step", "What", "State", "Entries", "Pictures"),
                rows=tuple(_step_rows(view, closing, behind)),
                note=f"{say_count(len(closing.hides), 'step')} behind it, then what closes it",
            ),
            SheetTable(
                title="Looked at by others",
                columns=("Day", "By", "Stage and outcome", "Found", "Put right", "Entry"),
                rows=tuple(row for look in looks for row in _look_rows(view, look, behind)),
                wide=3,
            ),
            SheetTable(
                title="Tests and measurements",
                columns=("Day", "What", "Measured", "Called for", "Stands", "By, with"),
                rows=tuple(row for test in tests for row in _test_rows(test)),
            ),
            SheetTable(
                title="Bolts, rivets and materials",
                columns=("What", "Number", "As set", "Called for", "Stands", "Entries"),
                rows=tuple(_line_rows(lines)),
                wide=2,
                note="; ".join(dict.fromkeys(filter(None, (_say_wrench(line.table) for line in lines)))),
            ),
        ),
        pictures=pictures,
    )


def _is_of(entry: ShownEntry, closing: Closing) -> bool:
    """Whether it is of what is behind it, or names no step in its assembly up to the closing."""
    of_it = entry.assembly.id == closing.step.assembly and not entry.all_steps
    return entry.id in closing.entries or (of_it and (not closing.closed_on or entry.date <= closing.closed_on))


def _gaps(view: View, inside: set[str], entries: set[str], files: set[str]) -> tuple[Gap, ...]:
    """Those of its steps, of what looked at it, and those of its entries and pictures that name no step."""
    found = (*view.evidence.gaps, *view.evidence.answered) if view.evidence else ()
    about = [
        gap
        for gap in found
        if inside.intersection(gap.steps)
        or gap.problem.file in files
        or (not gap.steps and entries.intersection(gap.entries))
    ]
    return tuple(sorted(about, key=lambda gap: (gap.answered_in is not None, -gap.weight)))


def _also_asked(view: View, closing: Closing, looks: Iterable[ShownInspection]) -> Iterator[tuple[str, str]]:
    """Of which no rule asks: no picture where an inspection was passed, and what put a finding right afterwards."""
    passed = [say_date(look.date) for look in looks if look.outcome is not Outcome.NOT_PASSED]
    if closing.closed_on and passed and not closing.pictures:
        yield "no picture of the inside vouches for this closing", f"inspected and passed on {passed[-1]}"
    fixed = {found.closed_by for look in view.inspections for found in look.findings}
    days = {entry.id: say_date(entry.date) for entry in view.entries if entry.id in fixed}
    for name, step in closing.reworked:
        if name in days:
            yield f"step {step} was worked on again on {days[name]}, after the closing", "it put a finding right"


def _step_rows(view: View, closing: Closing, entries: Iterable[ShownEntry]) -> Iterator[Row]:
    """A picture shows the step it names, wherever it lies; without one, every step of its entry."""
    pictured = Counter(photo.step for photo in view.photos if photo.step and not photo.facts.trouble)
    naming = grouped(entries, lambda entry: [step.id for step in entry.all_steps])
    for name in (*closing.hides, closing.step.id, *closing.tested_by):
        stands = view.step_progress[name]
        day = f" {say_date(stands.done_on)}" if stands.done_on and stands.state is State.DONE else ""
        late = ", not on the day of closing" if closing.closed_on and name in closing.left_open else ""
        late += ", after the closing" if name in {step for _, step in closing.reworked} else ""
        what = {closing.step.id: " (closes it)", **dict.fromkeys(closing.tested_by, " (tests it)")}.get(name, "")
        unnamed = [photo for entry in naming[name] for photo in entry.photos if not (photo.step or photo.facts.trouble)]
        pictures = str(pictured[name] + len(unnamed) or "none")
        yield name, view.steps[name].title + what, f"{stands.word}{day}{late}", naming[name], pictures


def _look_rows(view: View, look: ShownInspection, entries: Iterable[ShownEntry]) -> Iterator[Row]:
    head: Row = ((look,), mark_builders(view, look.people), f"{look.stage or 'a look'}: {look.outcome.value}")
    for found in look.findings:
        signed = say_signed(found.signed_by, found.checked_by, _("signed by {names}"))
        state = "; ".join(filter(None, (say_date(found.closed_on), signed))) if found.closed_on else "open"
        by = tuple(entry for entry in entries if entry.id == found.closed_by)
        yield (*head, f"{found.id}: {' '.join(found.text.split())}", state, by)
        head = ("", "", "")
    if not look.findings:
        yield (*head, "nothing", "—", "")


def _test_rows(test: ShownMeasurement) -> Iterator[Row]:
    checked = f"; checked by {', '.join(test.checked_by)}" if test.checked_by else ""
    by = f"{', '.join(test.people)}{checked}{f'; {test.instrument}' if test.instrument else ''}"
    for figure in test.table.figures or (Figure(what=test.kind, recorded="see the write-up"),):
        yield (test,), figure.what, figure.recorded, figure.called_for or "—", figure.standing.value or "—", by


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """A line of hardware or a material of the inside: what lines of one `key` say is told once."""

    key: tuple[str, str, str]
    count: int
    table: TradeTable
    entry: ShownEntry


def _lines(entry: ShownEntry, inside: set[str]) -> Iterator[_Line]:
    """Those that name a step of the inside or, where they name none, whose entry does."""
    here = any(step.id in inside for step in entry.all_steps)
    for rivet, table in zip(entry.fasteners, entry.tables, strict=False):
        if rivet.step in inside if rivet.step else here:
            yield _Line(key=(rivet.rivet, "", ""), count=rivet.count or 0, table=table, entry=entry)
    for bolt, table in zip(entry.torque, entry.tables[len(entry.fasteners) :], strict=False):
        if bolt.step in inside if bolt.step else here:
            asked = next((one.called_for for one in table.figures if one.what == "wrench setting"), "")
            drag = f", drag {bolt.drag.text}" if bolt.drag else ""
            lock = bolt.locked or "no lock written down"
            said = f"{bolt.value.text}{drag}; {bolt.wrench or 'no wrench named'}; {lock}"
            key = (", ".join(filter(None, (bolt.bolt, bolt.nut))), said, asked or NO_TORQUE)
            yield _Line(key=key, count=bolt.count or 0, table=table, entry=entry)
    for material in entry.materials if here else ():
        expires = f"good until {say_date(material.expires)}" if material.expires else "expiry not recorded"
        said = f"batch {material.batch or 'not recorded'}, {expires}"
        figures = next((one for one in entry.tables if one.title == material.name), None)
        if figures:
            yield _Line(key=(material.name, said, ""), count=0, table=figures, entry=entry)


_WORST_FIRST = (*(one for one in Standing if one.found), Standing.AS_CALLED_FOR, Standing.IN_DATE)


def say_measured(measured: Iterable[ShownMeasurement]) -> str:
    """How measurements came out: the newest of each thing, the worst of these; "" where nothing judges them."""
    newest = {(one.assembly, one.steps): one for one in sorted(measured, key=lambda one: one.date)}
    return _say_worst(one.table for one in newest.values())


def _say_worst(tables: Iterable[TradeTable]) -> str:
    standings = {figure.standing for table in tables for figure in table.figures}
    return next((one.value for one in _WORST_FIRST if one in standings), "")


def _line_rows(lines: Iterable[_Line]) -> Iterator[Row]:
    """Bolts, rivets, materials; lines that say the same are one row."""
    alike = grouped(lines, lambda line: [line.key])
    for (what, said, asked), same in sorted(alike.items(), key=lambda one: (not one[0][2], one[0][1] != "")):
        stands = _say_worst(line.table for line in same) or "—"
        stands = f"part {stands}" if asked == NO_TORQUE and stands == Standing.AS_CALLED_FOR.value else stands
        count = sum(line.count for line in same)
        entries = tuple({line.entry.id: line.entry for line in same}.values())
        yield what, f"{count:,}" if count else "—", said or "—", asked or "—", stands, entries


def _say_wrench(table: TradeTable) -> str:
    found = next((figure for figure in table.figures if figure.what == "torque wrench"), None)
    return f"{found.recorded}: {found.remark or found.table}" if found else ""
