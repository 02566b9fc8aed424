"""A structure that is closed for good, on one sheet: what somebody needs who cannot open it. For site and binder.

The tables are words and the things told that they lead to; a page makes links of these, the binder places.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from journal.base.formatting import say_count, say_date, say_signed
from journal.base.model import Photo, State, TorqueSetting
from journal.ledger.closings import Closing
from journal.ledger.gaps import Weight
from journal.trade.figures import Figure, Standing, TradeTable
from journal.view.view import Gap, ShownEntry, ShownInspection, ShownMeasurement, Told, View

SheetCell = str | tuple[Told, ...]
"""Words, or what is told elsewhere."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetTable:
    """Rows under a heading; `wide` is the column that takes the room that is left, `narrow` says that two such tables
    fit side by side.
    """

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[SheetCell, ...], ...]
    wide: int = 1
    narrow: bool = False
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Dossier:
    """One closing with all that is behind it. `block` is (label, value), `gaps` what an inspector would ask, the
    heaviest first and the answered last (the archive alone has them), `pictures` those of the inside.
    """

    closing: Closing
    title: str
    block: tuple[tuple[str, str], ...]
    gaps: tuple[Gap, ...]
    steps: SheetTable
    tables: tuple[SheetTable, ...]
    pictures: tuple[tuple[Told, Photo], ...]

    @property
    def open_gaps(self) -> int:
        """How many of the gaps have no answer."""
        return sum(gap.answered_in is None for gap in self.gaps)


def dossiers(view: View) -> tuple[Dossier, ...]:
    """One for each structure that is closed or under way, in the manual's order; none for the public."""
    shown = {photo.src_uri: (told, photo) for told in view.told for photo in told.photos} if view.closings else {}
    entries = {entry.id: entry for entry in view.entries}
    return tuple(_dossier(view, closing, entries, shown) for closing in view.closings if closing.entries)


def _dossier(
    view: View, closing: Closing, entries: Mapping[str, ShownEntry], shown: Mapping[str, tuple[Told, Photo]]
) -> Dossier:
    step, inside = closing.step, {*closing.hides, closing.step.id, *closing.tested_by}
    behind = [entries[name] for name in closing.entries if name in entries]
    looks = [
        look
        for look in view.inspections
        if (look.assembly and look.assembly.id == step.assembly) or any(one.id in inside for one in look.steps)
    ]
    tests = [test for test in view.measurements if test.id in closing.measurements]
    closed_in = entries.get(view.step_progress[step.id].done_in or "") if closing.closed_on else None
    pictures = tuple(shown[uri] for uri in closing.pictures if uri in shown)
    before = [look for look in looks if look.id in closing.inspections]
    torque = list(_torque(behind, inside))
    people = dict.fromkeys(name for entry in behind for name in entry.people)
    gaps = _gaps(view, closing, inside, {told.src_uri for told in (*looks, *tests)})
    return Dossier(
        closing=closing,
        title=f"{step.closed_part[:1].upper()}{step.closed_part[1:]}",
        block=(
            ("Closed on", say_date(closing.closed_on) if closing.closed_on else "still open"),
            ("By step", f"{step.id}, page {step.page}" if step.page else step.id),
            ("Closed by", ", ".join(closed_in.people) if closed_in else "—"),
            ("Where", (closed_in.place if closed_in else "") or "—"),
            ("Steps behind it", _say_steps(closing)),
            ("Last look before", f"{before[-1].outcome.value}, {say_date(before[-1].date)}" if before else "none"),
            ("Pictures of the inside", str(len(pictures)) if pictures else "none"),
            ("Who worked on it", ", ".join(people) or "—"),
        ),
        gaps=gaps,
        steps=SheetTable(
            title="What is behind it",
            columns=("Step", "What", "State", "Entries", "Pictures"),
            rows=tuple(_step_rows(view, closing, behind)),
        ),
        tables=(
            SheetTable(
                title="Looked at by others",
                columns=("Day", "By", "Stage and outcome", "Found", "Put right", "Entry"),
                rows=tuple(row for look in looks for row in _look_rows(look, entries)),
                wide=3,
            ),
            SheetTable(
                title="Tests and measurements",
                columns=("Day", "What", "Measured", "Called for", "Stands", "By, with"),
                rows=tuple(row for test in tests for row in _test_rows(test)),
            ),
            SheetTable(
                title="Torque",
                columns=("Bolt and nut", "Number", "Wrench shows", "Called for", "Stands", "Wrench", "Locked", "Entry"),
                rows=tuple(row for line in torque for row in [_torque_row(*line)]),
                wide=3,
                note="; ".join(dict.fromkeys(filter(None, (_say_wrench(line, table) for _, line, table in torque)))),
            ),
            SheetTable(
                title="Rivets, screws and nutplates",
                columns=("Part", "Number", "Stand", "Entries"),
                rows=tuple(_rivet_rows(behind, inside)),
                wide=2,
                narrow=True,
            ),
            SheetTable(
                title="Sealant, primer and other materials",
                columns=("Material", "Batch", "Good until", "Entries"),
                rows=tuple(_material_rows(behind)),
                wide=0,
                narrow=True,
            ),
        ),
        pictures=pictures,
    )


def _say_steps(closing: Closing) -> str:
    said = say_count(len(closing.hides), "step")
    if not closing.left_open:
        return f"{said}, all done"
    return f"{said}, {len(closing.left_open)} not done {'on that day' if closing.closed_on else 'yet'}"


def _gaps(view: View, closing: Closing, inside: set[str], files: set[str]) -> tuple[Gap, ...]:
    evidence = view.evidence
    found = [*evidence.gaps, *evidence.answered] if evidence else []
    about = [
        gap
        for gap in found
        if inside.intersection(gap.steps)
        or gap.problem.file in files
        or (not gap.steps and gap.weight >= Weight.SAFETY and set(closing.entries).intersection(gap.entries))
    ]
    return tuple(sorted(about, key=lambda gap: (gap.answered_in is not None, -gap.weight)))


def _step_rows(view: View, closing: Closing, entries: Iterable[ShownEntry]) -> Iterator[tuple[SheetCell, ...]]:
    naming: dict[str, list[ShownEntry]] = defaultdict(list)
    for entry in entries:
        for step in entry.all_steps:
            naming[step.id].append(entry)
    for name in (*closing.hides, closing.step.id, *closing.tested_by):
        stands, step = view.step_progress[name], view.steps[name]
        day = f" {say_date(stands.done_on)}" if stands.done_on and stands.state is State.DONE else ""
        late = name in closing.left_open and closing.closed_on is not None
        pictures = [
            photo
            for entry in naming[name]
            for photo in entry.photos
            if photo.step in (None, name) and not photo.facts.trouble
        ]
        said = f"{stands.word}{day}{', not on the day of closing' if late else ''}"
        yield name, step.title, said, tuple(naming[name]), str(len(pictures) or "none")


def _look_rows(look: ShownInspection, entries: Mapping[str, ShownEntry]) -> Iterator[tuple[SheetCell, ...]]:
    head: tuple[SheetCell, ...] = ((look,), ", ".join(look.people), f"{look.stage or 'a look'}: {look.outcome.value}")
    for found in look.findings:
        signed = say_signed(found.signed_by, found.checked_by, "signed")
        by = entries.get(found.closed_by or "")
        state = f"{say_date(found.closed_on)}{f'; {signed}' if signed else ''}" if found.closed_on else "open"
        yield (*head, f"{found.id}: {' '.join(found.text.split())}", state, (by,) if by else "")
        head = ("", "", "")
    if not look.findings:
        yield (*head, "nothing", "—", "")


def _test_rows(test: ShownMeasurement) -> Iterator[tuple[SheetCell, ...]]:
    people = ", ".join(test.people) + (f"; checked by {', '.join(test.checked_by)}" if test.checked_by else "")
    by = f"{people}{f'; {test.instrument}' if test.instrument else ''}"
    for figure in test.table.figures or (Figure(what=test.kind, recorded="see the write-up"),):
        yield (test,), figure.what, figure.recorded, figure.called_for or "—", figure.standing.value or "—", by


def _belongs(entry: ShownEntry, step: str | None, inside: set[str]) -> bool:
    """Whether a line of hardware is of the inside: by the step it names, else by those of its entry."""
    return step in inside if step else any(one.id in inside for one in entry.all_steps)


TorqueTold = tuple[ShownEntry, TorqueSetting, TradeTable]


def _torque(entries: Iterable[ShownEntry], inside: set[str]) -> Iterator[TorqueTold]:
    for entry in entries:
        for line, table in zip(entry.torque, entry.tables[len(entry.fasteners) :], strict=False):
            if _belongs(entry, line.step, inside):
                yield entry, line, table


def _torque_row(entry: ShownEntry, line: TorqueSetting, table: TradeTable) -> tuple[SheetCell, ...]:
    setting = next((figure for figure in table.figures if figure.what == "wrench setting"), None)
    called = setting.called_for if setting else ""
    return (
        f"{line.bolt}{f', {line.nut}' if line.nut else ''}",
        "—" if line.count is None else f"{line.count:,}",
        f"{line.value.text}{f', drag {line.drag.text}' if line.drag else ''}",
        called or "no torque written down",
        _standing(table) if called else _standing(table).replace("as", "the part as", 1),
        line.wrench or "not named",
        line.locked or "—",
        (entry,),
    )


def _say_wrench(line: TorqueSetting, table: TradeTable) -> str:
    """Whether the wrench of a line was in date."""
    found = next((figure for figure in table.figures if figure.what == "torque wrench"), None)
    said = (found.remark or found.table) if found else ""
    return f"{line.wrench}: {said}" if said else ""


def _standing(*tables: TradeTable) -> str:
    """How lines of hardware stand, the worst first."""
    standings = {figure.standing for table in tables for figure in table.figures}
    for standing in (Standing.DEPARTS, Standing.BEYOND, Standing.LATE, Standing.AS_CALLED_FOR):
        if standing in standings:
            return str(standing.value)
    return "—"


def _rivet_rows(entries: Iterable[ShownEntry], inside: set[str]) -> Iterator[tuple[SheetCell, ...]]:
    count: Counter[str] = Counter()
    used: dict[str, list[ShownEntry]] = defaultdict(list)
    tables: dict[str, list[TradeTable]] = defaultdict(list)
    for entry in entries:
        for line, table in zip(entry.fasteners, entry.tables, strict=False):
            if _belongs(entry, line.step, inside):
                count[line.rivet] += line.count or 0
                tables[line.rivet].append(table)
                if entry not in used[line.rivet]:
                    used[line.rivet].append(entry)
    for part, lines in tables.items():
        yield part, f"{count[part]:,}" if count[part] else "—", _standing(*lines), tuple(used[part])


def _material_rows(entries: Iterable[ShownEntry]) -> Iterator[tuple[SheetCell, ...]]:
    used: dict[str, list[ShownEntry]] = defaultdict(list)
    materials = {material.id: material for entry in entries for material in entry.materials}
    for entry in entries:
        for material in entry.materials:
            used[material.id].append(entry)
    for name, material in materials.items():
        expires = say_date(material.expires) if material.expires else "not recorded"
        yield material.name, material.batch or "not recorded", expires, tuple(used[name])
