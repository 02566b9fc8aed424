"""A structure that is closed for good, on one sheet: what somebody needs who cannot open it. For site and binder.

The tables are words and the things told that they lead to; a page makes links of these, the binder places.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from journal.base.formatting import say_date, say_signed
from journal.base.grouping import grouped
from journal.base.model import Photo, State
from journal.ledger.closings import Closing
from journal.ledger.gaps import Weight
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
    heaviest first and the answered last (the archive alone has them), `pictures` those of the inside; the first of
    `tables` are its steps.
    """

    closing: Closing
    title: str
    block: Mapping[str, str]
    gaps: tuple[Gap, ...]
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


def _dossier(view: View, closing: Closing, behind: list[ShownEntry], pictures: tuple[Photo, ...]) -> Dossier:
    step, inside = closing.step, {*closing.hides, closing.step.id, *closing.tested_by}
    whole = view.assemblies[step.assembly]
    looks = [one for one in view.inspections if one.assembly == whole or any(of.id in inside for of in one.steps)]
    tests = [test for test in view.measurements if test.id in closing.measurements]
    before = [look for look in looks if look.id in closing.inspections]
    shut = next((one for one in behind if one.id == closing.stands.done_in and closing.closed_on), None)
    undone = f"{len(closing.left_open)} not done {'on that day' if closing.closed_on else 'yet'}"
    lines = [line for entry in behind for line in _lines(entry, inside)]
    return Dossier(
        closing=closing,
        title=f"{step.closed_part[:1].upper()}{step.closed_part[1:]}",
        block={
            "Closed on": say_date(closing.closed_on) if closing.closed_on else "still open",
            "By step": f"{step.id}, page {step.page}" if step.page else step.id,
            "Closed by": ", ".join(shut.people) if shut else "—",
            "Where": (shut.place if shut else "") or "—",
            "Steps behind it": f"{len(closing.hides)}, {undone if closing.left_open else 'all done'}",
            "Last look before": f"{before[-1].outcome.value}, {say_date(before[-1].date)}" if before else "none",
            "Pictures of the inside": str(len(pictures) or "none"),
            "Who worked on it": ", ".join(dict.fromkeys(name for entry in behind for name in entry.people)) or "—",
        },
        gaps=_gaps(view, closing, inside, {told.src_uri for told in (*looks, *tests)}),
        tables=(
            SheetTable(
                title="What is behind it",
                columns=("Step", "What", "State", "Entries", "Pictures"),
                rows=tuple(_step_rows(view, closing, behind)),
            ),
            SheetTable(
                title="Looked at by others",
                columns=("Day", "By", "Stage and outcome", "Found", "Put right", "Entry"),
                rows=tuple(row for look in looks for row in _look_rows(look, behind)),
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


def _gaps(view: View, closing: Closing, inside: set[str], files: set[str]) -> tuple[Gap, ...]:
    """Those of its steps, of what looked at it, and whatever is a matter of safety in its entries."""
    found = (*view.evidence.gaps, *view.evidence.answered) if view.evidence else ()
    about = [
        gap
        for gap in found
        if inside.intersection(gap.steps)
        or gap.problem.file in files
        or (not gap.steps and gap.weight >= Weight.SAFETY and set(closing.entries).intersection(gap.entries))
    ]
    return tuple(sorted(about, key=lambda gap: (gap.answered_in is not None, -gap.weight)))


def _step_rows(view: View, closing: Closing, entries: Iterable[ShownEntry]) -> Iterator[Row]:
    """A picture shows the step it names, wherever it lies; without one, every step of its entry."""
    pictured = Counter(photo.step for photo in view.photos if photo.step and not photo.facts.trouble)
    naming = grouped(entries, lambda entry: [step.id for step in entry.all_steps])
    for name in (*closing.hides, closing.step.id, *closing.tested_by):
        stands = view.step_progress[name]
        day = f" {say_date(stands.done_on)}" if stands.done_on and stands.state is State.DONE else ""
        late = ", not on the day of closing" if closing.closed_on and name in closing.left_open else ""
        unnamed = [photo for entry in naming[name] for photo in entry.photos if not (photo.step or photo.facts.trouble)]
        pictures = str(pictured[name] + len(unnamed) or "none")
        yield name, view.steps[name].title, f"{stands.word}{day}{late}", naming[name], pictures


def _look_rows(look: ShownInspection, entries: Iterable[ShownEntry]) -> Iterator[Row]:
    head: Row = ((look,), ", ".join(look.people), f"{look.stage or 'a look'}: {look.outcome.value}")
    for found in look.findings:
        signed = say_signed(found.signed_by, found.checked_by, "signed")
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
        expires = say_date(material.expires) if material.expires else "not recorded"
        said = f"batch {material.batch or 'not recorded'}, good until {expires}"
        figures = next((one for one in entry.tables if one.title == material.name), None)
        if figures:
            yield _Line(key=(material.name, said, ""), count=0, table=figures, entry=entry)


_WORST_FIRST = (Standing.DEPARTS, Standing.BEYOND, Standing.LATE, Standing.AS_CALLED_FOR, Standing.IN_DATE)


def _line_rows(lines: Iterable[_Line]) -> Iterator[Row]:
    """Bolts, rivets, materials; lines that say the same are one row."""
    alike = grouped(lines, lambda line: [line.key])
    for (what, said, asked), same in sorted(alike.items(), key=lambda one: (not one[0][2], one[0][1] != "")):
        standings = {figure.standing for line in same for figure in line.table.figures}
        stands = next((one.value for one in _WORST_FIRST if one in standings), "—")
        stands = f"part {stands}" if asked == NO_TORQUE and stands == Standing.AS_CALLED_FOR.value else stands
        count = sum(line.count for line in same)
        entries = tuple({line.entry.id: line.entry for line in same}.values())
        yield what, f"{count:,}" if count else "—", said or "—", asked or "—", stands, entries


def _say_wrench(table: TradeTable) -> str:
    found = next((figure for figure in table.figures if figure.what == "torque wrench"), None)
    return f"{found.recorded}: {found.remark or found.table}" if found else ""
