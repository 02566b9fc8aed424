"""The record as CSV tables, for programs that come after this one.

RFC 4180: UTF-8 without a byte-order mark, comma, CRLF, a header line, quotes where needed. Every
row of a table has the same columns; what they mean stands in `TABLES`. Times are whole minutes,
dates ISO 8601, yes and no are written out, an empty cell means that nothing was told. Where a cell
holds several values they are parted by `; `; `trace.csv` holds the same threads one to a row.

Formulas. A spreadsheet runs a cell that begins with `=`, `+`, `-` or `@`, and text here comes from
files that anybody may have written. Such a cell gets one apostrophe in front, and so does one that
begins with an apostrophe itself: taking one leading apostrophe away gives back exactly what was
written. Nothing is lost and nothing is altered beyond that. Figures made here never
begin with any of these characters.
"""

from __future__ import annotations

import csv
import io
import json
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import Enum
from operator import attrgetter
from typing import Any, Generic, NamedTuple, TypeVar

from journal.base.formatting import say_steps
from journal.base.model import Assembly, Bulletin, FreePage, InspectionFinding, Photo, Record, State, Task
from journal.base.quantities import Quantity
from journal.record.trace import PhotoTrace, StepTrace, Trace, capture_time, entry_marks, gather_trace, role_of
from journal.trade.figures import Figure
from journal.view.people import PersonWork
from journal.view.view import (
    RULES,
    Evidence,
    Gap,
    Hardware,
    MaterialTrace,
    ShownEntry,
    ShownInspection,
    ShownMeasurement,
    ShownTask,
    ShownWriteUp,
    StockLine,
    View,
)

# The full-width forms are formulas to some spreadsheets too (OWASP, "CSV Injection").
_RUNS = "=+-@\N{FULLWIDTH EQUALS SIGN}\N{FULLWIDTH PLUS SIGN}\N{FULLWIDTH HYPHEN-MINUS}\N{FULLWIDTH COMMERCIAL AT}"


def guard(text: str) -> str:
    """A cell that no spreadsheet runs: an apostrophe in front where it would, or where one stands already."""
    bare = text.lstrip()
    return "'" + text if text[:1] == "'" or bare[:1] in tuple(_RUNS) else text


def render_csv(header: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    """The bytes of one table; every cell is guarded, the header is ours."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(header)
    writer.writerows([guard(cell) for cell in row] for row in rows)
    return out.getvalue().encode("utf-8", errors="backslashreplace")


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What the tables are made from; `evidence` is empty where the audience may not know it."""

    view: View
    trace: Trace
    evidence: Evidence

    @property
    def day_only(self) -> bool:
        """Whether the audience sees the days of pictures and not the times."""
        return not self.view.everything


R = TypeVar("R")
Columns = tuple[tuple[str, str, Callable[[R], object]], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordTable(Generic[R]):
    """One table: its name without ending, what a row is, its rows, and its columns.

    A column is (name, meaning, what stands in it). A meaning that ends in a semicolon is that of a column of
    several values. A cell may hold anything that `_cell` can write.
    """

    name: str
    row: str
    rows: Callable[[Known], Iterable[R]]
    columns: Columns[R]


def _cell(value: object) -> str:
    """How a value is written: nothing as nothing, yes and no in full, ISO 8601 days, several parted by `; `."""
    if value is None or isinstance(value, str):
        return value or ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Enum):
        return str(value.value)
    if isinstance(value, Quantity):
        return value.text
    return "; ".join(map(_cell, value)) if isinstance(value, Iterable) else str(value)


def archive_tables(view: View) -> Iterator[tuple[str, bytes]]:
    """(`tables/NAME.csv`, bytes) for every table, in the order of `TABLES`: what the audience of `view` may know."""
    known = Known(view=view, trace=gather_trace(view), evidence=view.evidence or Evidence())
    for table in TABLES:
        rows = ([_cell(cell(row)) for _, _, cell in table.columns] for row in table.rows(known))
        yield f"tables/{table.name}.csv", render_csv([name for name, _, _ in table.columns], rows)


def tables_described() -> Iterator[tuple[str, bytes]]:
    """(path, bytes) of what the tables are, for programs and for people; it lies beside them."""
    yield "tables/csv-metadata.json", csv_metadata()
    yield "tables/README.txt", tables_guide().encode()


def tables_guide() -> str:
    """What every table and column means, as plain text for the archive's README."""
    lines = [
        "Tables (tables/*.csv): UTF-8, comma, CRLF, one header line (RFC 4180).",
        "A cell that begins with an apostrophe had one put in front so that no spreadsheet runs it as a",
        "formula: take one apostrophe away to get the text as it was written.",
    ]
    for table in TABLES:
        lines += ["", f"{table.name}.csv: one row for each {table.row}"]
        for column, meaning, _ in table.columns:
            lines.append(f"  {column}: {meaning}{_SEVERAL if meaning.endswith(';') else ''}")
    return "\n".join(lines) + "\n"


_SEVERAL = " several are parted by '; '"
_ENTRY = "folder of the entry under content/entries/"
_INSPECTION = "folder of the inspection under content/inspections/"
_MEASUREMENT = "folder of the measurement under content/measurements/"
_ROLE = "builder, helper, paid or inspector"
_TENTHS = "tenths of credit, or n/a"
_OF_STEP = "inspections of the step or its assembly;"
_SIGNED, _CHECKED = "who put it right;", "who looked at what the others did;"

# ---------------------------------------------------------------- hours


class _Worker(NamedTuple):
    entry: ShownEntry
    name: str
    role: str
    minutes: int | None
    all_minutes: int | None


def _workers(known: Known) -> Iterator[_Worker]:
    for entry in known.view.entries:
        for name in entry.people:
            minutes, all_minutes = dict(entry.time).get(name), entry.minutes if entry.time else None
            yield _Worker(entry, name, role_of(known.view, name), minutes, all_minutes)


_HOURS = RecordTable(
    name="hours",
    row="person of an entry",
    rows=_workers,
    columns=(
        ("date", "day of the work", lambda row: row.entry.date),
        ("day", "running number of the worked days", lambda row: row.entry.day),
        ("entry", _ENTRY, lambda row: row.entry.id),
        ("assembly", "ID of the assembly", lambda row: row.entry.assembly.id),
        ("counts", "whether its hours count for the build", lambda row: row.entry.assembly.counts),
        ("person", "name", lambda row: row.name),
        ("role", _ROLE, lambda row: row.role),
        ("minutes", "minutes this person worked; empty where no hours were told", lambda row: row.minutes),
        ("entry_minutes", "person-minutes of the entry: everybody's added up", lambda row: row.all_minutes),
        (
            "minutes_to_date",
            "person-minutes of the build up to and with this entry, assemblies that count",
            lambda row: row.entry.minutes_to_date,
        ),
        ("place", "where the work was done", lambda row: row.entry.place),
        ("private", "whether the entry is kept off the public site", lambda row: row.entry.private),
        ("title", "title of the entry", lambda row: row.entry.title),
    ),
)

# ---------------------------------------------------------------- steps


class _StepRow(NamedTuple):
    traced: StepTrace
    assembly: Assembly
    open_gaps: Iterable[str]
    answered_gaps: Iterable[str]

    @property
    def days(self) -> Iterable[date]:
        return dict.fromkeys(entry.date for entry, _ in self.traced.marks)

    @property
    def people(self) -> Iterable[str]:
        return dict.fromkeys(name for entry, _ in self.traced.marks for name in entry.people)


def _steps(known: Known) -> Iterator[_StepRow]:
    open_words, answered_words = _words_by_step(known.evidence.gaps), _words_by_step(known.evidence.answered)
    for traced in known.trace.steps.values():
        step = traced.step
        yield _StepRow(traced, known.view.assemblies[step.assembly], open_words[step.id], answered_words[step.id])


def _words_by_step(gaps: Iterable[Gap]) -> Mapping[str, dict[str, None]]:
    words: dict[str, dict[str, None]] = defaultdict(dict)
    for gap in gaps:
        for step in gap.steps:
            words[step][gap.problem.word] = None
    return words


_STEPS = RecordTable(
    name="steps",
    row="step of the manual",
    rows=_steps,
    columns=(
        ("step", "number of the step", lambda row: row.traced.step.id),
        ("assembly", "ID of the assembly", lambda row: row.assembly.id),
        ("assembly_title", "its name", lambda row: row.assembly.title),
        ("title", "what the step is", lambda row: row.traced.step.title),
        ("page", "page of the manual", lambda row: row.traced.step.page),
        ("closes", "what it closes for good; empty for most", lambda row: row.traced.step.closes),
        ("same_as", "the same step on the mirrored assembly", lambda row: row.traced.step.same_as),
        ("earlier", "its numbers in earlier editions of the manual;", lambda row: row.traced.step.earlier),
        ("state", "not begun, under way, reopened, done or done over", lambda row: row.traced.progress.word),
        ("times_done_over", "how often it was done over", lambda row: row.traced.progress.times_done_over),
        ("first_done_on", "day it was first done", lambda row: row.traced.progress.first_done_on),
        ("done_on", "day it was last done", lambda row: row.traced.progress.done_on),
        ("done_in", "entry that last finished it", lambda row: row.traced.progress.done_in),
        ("entries", "entries that name it;", lambda row: row.traced.entries),
        ("days", "days on which it was worked;", lambda row: row.days),
        ("people", "who took part in these entries;", lambda row: row.people),
        ("photos", "number of pictures that show it", lambda row: len(row.traced.photos)),
        ("inspections", _OF_STEP, lambda row: [inspection.id for inspection in row.traced.inspections]),
        ("open_gaps", "code words of findings still open;", lambda row: row.open_gaps),
        ("answered_gaps", "code words of findings the builder answered;", lambda row: row.answered_gaps),
        ("measurements", "those of the step or its assembly;", lambda row: [one.id for one in row.traced.measurements]),
    ),
)

# ---------------------------------------------------------------- photos


class _PhotoRow(NamedTuple):
    traced: PhotoTrace
    day_only: bool

    @property
    def photo(self) -> Photo:
        return self.traced.photo

    @property
    def clock(self) -> str:
        facts = self.photo.facts
        if self.day_only:
            return ""
        if facts.taken is None:
            return "no time in the file"
        if not facts.clock_set:
            return "never set"
        return "offset recorded" if facts.offset else "offset not recorded"


_PHOTOS = RecordTable(
    name="photos",
    row="original picture",
    rows=lambda known: (_PhotoRow(traced, known.day_only) for traced in known.trace.photos),
    columns=(
        ("file", "original, as kept under source/", lambda row: row.photo.src_uri),
        ("sha256", "SHA-256 of the original (FIPS 180-4)", lambda row: row.photo.sha256),
        ("bytes", "its size", lambda row: row.photo.facts.bytes or None),
        ("kind", "file format by content", lambda row: row.photo.facts.kind),
        ("width", "pixels of the upright picture", lambda row: row.photo.facts.width or None),
        ("height", "pixels of the upright picture", lambda row: row.photo.facts.height or None),
        (
            "taken",
            "capture time by the camera, RFC 3339, without the offset where none was recorded; or 'not recorded'",
            lambda row: capture_time(row.photo.facts, day_only=row.day_only),
        ),
        ("clock", "offset recorded, offset not recorded, never set, or no time in the file", lambda row: row.clock),
        ("camera", "as the file says", lambda row: row.photo.facts.camera),
        ("entry", _ENTRY, lambda row: row.traced.entry),
        ("inspection", _INSPECTION, lambda row: row.traced.inspection),
        ("date", "day of the entry or inspection", lambda row: row.traced.told.date),
        ("assembly", "ID of the assembly", lambda row: row.traced.told.assembly and row.traced.told.assembly.id),
        ("steps", "steps it shows: the one named, else all of its entry;", lambda row: row.traced.steps),
        ("step_named", "the step named at the picture", lambda row: row.photo.step),
        ("at_work", "who is seen at work;", lambda row: row.photo.people),
        ("inside", "whether it shows the inside of something closed later", lambda row: row.photo.inside),
        ("identity", "whether it identifies the aircraft", lambda row: row.photo.identity),
        ("private", "whether it is kept off the public site", lambda row: row.photo.private),
        ("caption", "as written", lambda row: row.photo.caption),
        ("trouble", "why the file cannot be used as a picture", lambda row: row.photo.facts.trouble),
        ("measurement", _MEASUREMENT, lambda row: row.traced.measurement),
    ),
)

# ---------------------------------------------------------------- people


class _PersonRow(NamedTuple):
    work: PersonWork
    role: str


def _people(known: Known) -> Iterator[_PersonRow]:
    for name in dict.fromkeys((*known.view.roles, *known.trace.people)):
        yield _PersonRow(known.trace.people.get(name) or PersonWork(name=name), role_of(known.view, name))


_PEOPLE = RecordTable(
    name="people",
    row="person",
    rows=_people,
    columns=(
        ("person", "name", lambda row: row.work.name),
        ("role", _ROLE, lambda row: row.role),
        ("minutes", "person's minutes on assemblies that count", lambda row: row.work.minutes),
        ("minutes_not_counted", "person's minutes on the others", lambda row: row.work.minutes_not_counted),
        ("entries", "number of entries that name the person", lambda row: len(row.work.entries)),
        ("entries_without_hours", "those of them that tell no hours", lambda row: row.work.without_hours),
        ("days", "number of days", lambda row: len(row.work.days)),
        ("first_day", "first of them", lambda row: row.work.days[:1]),
        ("last_day", "last of them", lambda row: row.work.days[-1:]),
        ("steps", "number of steps named by these entries", lambda row: len(row.work.steps)),
        ("photos_at_work", "number of pictures that show the person at work", lambda row: len(row.work.pictures)),
        ("inspections", "number of inspections made", lambda row: len(row.work.inspections)),
        ("measurements", "number of measurements made or checked", lambda row: len(row.work.measurements)),
    ),
)

# ---------------------------------------------------------------- inspections


class _FindingRow(NamedTuple):
    inspection: ShownInspection
    found: InspectionFinding | None


_INSPECTIONS = RecordTable(
    name="inspections",
    row="finding of an inspection, or inspection without findings",
    rows=lambda known: (
        _FindingRow(look, found) for look in known.view.inspections for found in look.findings or (None,)
    ),
    columns=(
        ("inspection", _INSPECTION, lambda row: row.inspection.id),
        ("date", "day of the inspection", lambda row: row.inspection.date),
        ("title", "its title", lambda row: row.inspection.title),
        ("assembly", "ID of the assembly looked at", lambda row: (of := row.inspection.assembly) and of.id),
        ("steps", "steps looked at;", lambda row: [step.id for step in row.inspection.steps]),
        ("stage", "as written; closing: before closing", lambda row: row.inspection.stage),
        ("inspector", "who looked;", lambda row: row.inspection.people),
        ("outcome", "passed, passed with findings, or not passed", lambda row: row.inspection.outcome),
        ("photos", "number of pictures", lambda row: len(row.inspection.photos)),
        ("finding", "its number", lambda row: row.found and row.found.id),
        ("text", "what was found", lambda row: row.found and row.found.text),
        ("state", "open or closed", lambda row: row.found and ("open" if row.found.open else "closed")),
        ("closed_on", "day it was put right", lambda row: row.found and row.found.closed_on),
        ("closed_by", "entry that tells how", lambda row: row.found and row.found.closed_by),
        ("signed_by", _SIGNED, lambda row: row.found and row.found.signed_by),
        ("checked_by", _CHECKED, lambda row: row.found and row.found.checked_by),
    ),
)

# ---------------------------------------------------------------- measurements and bulletins


class _FigureRow(NamedTuple):
    told: ShownMeasurement
    figure: Figure | None


_MEASUREMENTS = RecordTable(
    name="measurements",
    row="figure of a measurement, or measurement without figures",
    rows=lambda known: (
        _FigureRow(told, figure) for told in known.view.measurements for figure in told.table.figures or (None,)
    ),
    columns=(
        ("measurement", _MEASUREMENT, lambda row: row.told.id),
        ("date", "day of the measurement", lambda row: row.told.date),
        ("kind", "as written", lambda row: row.told.kind),
        ("title", "its title", lambda row: row.told.title),
        ("assembly", "ID of the assembly measured", lambda row: row.told.assembly and row.told.assembly.id),
        ("steps", "steps concerned;", lambda row: [step.id for step in row.told.steps]),
        ("instrument", "as written", lambda row: row.told.instrument),
        ("measured_by", "who measured;", lambda row: row.told.people),
        ("checked_by", _CHECKED, lambda row: row.told.checked_by),
        ("what", "what was measured", lambda row: row.figure and row.figure.what),
        ("value", "as written; what a weighing gives is computed", lambda row: row.figure and row.figure.recorded),
        ("called_for", "with page and edition; limits of a loading", lambda row: row.figure and row.figure.called_for),
        ("standing", "how it stands; empty: not judged", lambda row: row.figure and row.figure.standing),
        ("remark", "by how much, and the note", lambda row: row.figure and row.figure.remark),
        ("photos", "number of pictures", lambda row: len(row.told.photos)),
        ("private", "whether it is kept off the public site", lambda row: row.told.private),
    ),
)

_BULLETINS: RecordTable[Bulletin] = RecordTable(
    name="bulletins",
    row="service bulletin",
    rows=lambda known: known.view.bulletins,
    columns=(
        ("id", "its number", lambda row: row.id),
        ("date", "its day", lambda row: row.date),
        ("title", "what it is", lambda row: row.title),
        ("assembly", "ID of the assembly concerned", lambda row: row.assembly),
        ("steps", "steps concerned, the whole aircraft where neither is told;", lambda row: row.steps),
        ("state", "open, done, not applicable or later", lambda row: row.state),
        ("done_in", "entries that tell how;", lambda row: row.done_in),
        ("record", "paper kept of it", lambda row: row.record),
        ("note", "as written", lambda row: row.note),
    ),
)

# ---------------------------------------------------------------- tasks


class _TaskRow(NamedTuple):
    task: Task
    behind: ShownTask
    view: View

    def tenths(self, share: int | None) -> str:
        return str(share or 0) if self.task.applies else "n/a"

    @property
    def steps_done(self) -> int:
        return sum(self.view.step_progress[step].state is State.DONE for step in self.task.steps)


_TASKS = RecordTable(
    name="tasks",
    row="line of the builder's checklist",
    rows=lambda known: (_TaskRow(behind.task, behind, known.view) for behind in known.view.tasks),
    columns=(
        ("section", "section of the list", lambda row: row.task.section),
        ("task", "number of the task", lambda row: row.task.task),
        ("name", "what it is", lambda row: row.task.name),
        ("maker", _TENTHS, lambda row: row.tenths(row.task.maker)),
        ("paid", _TENTHS, lambda row: row.tenths(row.task.paid)),
        ("assembly", _TENTHS, lambda row: row.tenths(row.task.assembly)),
        ("fabrication", _TENTHS, lambda row: row.tenths(row.task.fabrication)),
        ("steps", "steps of the manual behind it", lambda row: say_steps(row.task.steps, tuple(row.view.steps))),
        ("steps_listed", "number of them", lambda row: len(row.task.steps)),
        ("steps_done", "number of them done now", lambda row: row.steps_done),
        ("entries", "entries that name these steps;", lambda row: [entry.id for entry in row.behind.entries]),
        ("photos", "number of pictures of these steps", lambda row: row.behind.photos),
        ("people", "who took part;", lambda row: row.behind.people),
        ("paid_help", "who of them was paid;", lambda row: row.behind.paid),
        ("note", "as written", lambda row: row.task.note),
        (
            "steps_shown",
            "number of them done now, with an entry and a picture",
            lambda row: len(row.behind.steps_shown),
        ),
    ),
)

# ---------------------------------------------------------------- findings

_FINDS = {rule.word: rule.finds for rule in RULES}

_FINDINGS: RecordTable[Gap] = RecordTable(
    name="findings",
    row="finding, open ones first, answered ones after them",
    rows=lambda known: (*known.evidence.gaps, *known.evidence.answered),
    columns=(
        ("state", "open or answered", lambda gap: "open" if gap.answered_in is None else "answered"),
        ("word", "code word", lambda gap: gap.problem.word),
        ("file", "where it was found", lambda gap: gap.problem.file),
        ("line", "line in the file, from 1", lambda gap: gap.problem.line),
        ("column", "column, from 1", lambda gap: gap.problem.column),
        ("message", "what was found", lambda gap: gap.problem.message),
        ("answer", "the builder's reason", lambda gap: gap.answer),
        ("answered_in", "entry that holds it", lambda gap: gap.answered_in),
        ("entries", "entries concerned;", lambda gap: gap.entries),
        ("steps", "steps concerned;", lambda gap: gap.steps),
        ("assembly", "assembly concerned", lambda gap: gap.assembly),
        (
            "rule",
            "the rule of evidence behind the code word, where it is one",
            lambda gap: _FINDS.get(gap.problem.word),
        ),
    ),
)

# ---------------------------------------------------------------- trace


class _Thread(NamedTuple):
    entry: ShownEntry
    step: StepTrace
    mark: str
    photo: Photo | None
    taken: str


def _threads(known: Known) -> Iterator[_Thread]:
    for entry in known.view.entries:
        for step, mark in entry_marks(entry):
            traced = known.trace.steps[step.id]
            photos = [one.photo for one in traced.photos if one.entry == entry.id]
            for photo in photos or (None,):
                taken = capture_time(photo.facts, day_only=known.day_only) if photo else ""
                yield _Thread(entry, traced, mark, photo, taken)


_TRACE = RecordTable(
    name="trace",
    row="picture of a step in an entry, or step of an entry without a picture",
    rows=_threads,
    columns=(
        ("assembly", "ID of the assembly", lambda row: row.step.step.assembly),
        ("step", "number of the step", lambda row: row.step.step.id),
        ("mark", "begun, done or done over", lambda row: row.mark),
        ("entry", _ENTRY, lambda row: row.entry.id),
        ("date", "day of the work", lambda row: row.entry.date),
        ("people", "who took part;", lambda row: row.entry.people),
        ("place", "where", lambda row: row.entry.place),
        ("photo", "original, as kept under source/", lambda row: row.photo and row.photo.src_uri),
        ("sha256", "SHA-256 of the original", lambda row: row.photo and row.photo.sha256),
        ("taken", "capture time, as in photos.csv", lambda row: row.taken),
        ("at_work", "who is seen at work in it;", lambda row: row.photo and row.photo.people),
        ("inspections", _OF_STEP, lambda row: [inspection.id for inspection in row.step.inspections]),
    ),
)

_CALLOUTS = RecordTable(
    name="callouts",
    row="thing that the kit's manual asks for (callouts.csv)",
    rows=lambda known: known.view.callouts,
    columns=(
        ("steps", "steps of the manual;", lambda one: one.called.steps),
        ("what", "what is asked for", lambda one: one.called.what),
        ("part", "part number as written", lambda one: one.called.part),
        ("value", "figure or words as written", lambda one: one.called.value),
        ("drag", "friction drag as written", lambda one: one.called.drag),
        ("count", "how many each step takes", lambda one: one.called.count),
        ("page", "page of the manual", lambda one: one.called.page),
        ("edition", "edition of the manual", lambda one: one.called.edition),
        ("stands", "how what was done stands to it", lambda one: one.state),
        ("entries", "folders of the entries whose lines it bears upon;", lambda one: one.entries),
        ("measurements", "those of whose results it speaks;", lambda one: one.measurements),
    ),
)

# ---------------------------------------------------------------- supplies

_HARDWARE: RecordTable[Hardware] = RecordTable(
    name="hardware",
    row="part number of hardware",
    rows=lambda known: known.view.hardware,
    columns=(
        ("part", "its number in one spelling", lambda part: part.number),
        ("received", "found, or listed once the rest has arrived; empty: not counted", lambda part: part.received),
        ("uncounted", "rows of inventory.csv that are not counted", lambda part: part.uncounted),
        ("set", "by the entries", lambda part: part.set),
        ("untold", "lines of entries without a count", lambda part: part.untold),
        ("replaced", "of those set, in place of drilled-out ones", lambda part: part.replaced),
        ("left", "received and not set", lambda part: part.left),
        ("needed", "by call-outs of steps not done", lambda part: part.needed),
        ("short", "too few for them", lambda part: part.short),
        ("steps", "steps that take them;", lambda part: [need.step for need in part.needs]),
    ),
)

_MISSING: RecordTable[StockLine] = RecordTable(
    name="missing",
    row="line of the packing list that is short, damaged or unchecked",
    rows=lambda known: (line for line in known.view.stock if line.wanting),
    columns=(
        ("part", "as on the packing list", lambda line: line.item.part),
        ("description", "as on the packing list", lambda line: line.item.description),
        ("crate", "where it came", lambda line: line.item.crate),
        ("states", "short, damaged, unchecked;", lambda line: line.states),
        ("missing", "pieces that are short", lambda line: line.missing),
        ("condition", "as written", lambda line: line.item.condition),
        ("claimed_on", "day it was claimed", lambda line: line.item.claimed_on),
        ("promised_for", "day it was promised for", lambda line: line.item.promised_for),
        ("arrived_on", "day the replacement arrived", lambda line: line.item.arrived_on),
        ("note", "of the replacement, as written", lambda line: line.item.replacement_note),
    ),
)

# ---------------------------------------------------------------- texts, papers, materials, hardware as set

_ENTRIES: RecordTable[ShownEntry] = RecordTable(
    name="entries",
    row="entry",
    rows=lambda known: known.view.entries,
    columns=(
        ("entry", _ENTRY, lambda entry: entry.id),
        ("date", "day of the work", lambda entry: entry.date),
        ("title", "its title", lambda entry: entry.title),
        ("steps", "steps finished;", lambda entry: [step.id for step in entry.steps]),
        ("begun", "steps begun;", lambda entry: [step.id for step in entry.begun]),
        ("redone", "steps done over;", lambda entry: [step.id for step in entry.redone]),
        ("tools", "as written;", lambda entry: entry.tools),
        ("methods", "as written;", lambda entry: entry.methods),
        ("materials", "IDs of batches;", lambda entry: [one.id for one in entry.materials]),
        ("text", "as written, in Markdown, without the front matter", lambda entry: entry.body),
    ),
)

_TEXTS: RecordTable[ShownWriteUp | FreePage] = RecordTable(
    name="texts",
    row="text of an inspection, a measurement or a page",
    rows=lambda known: (*known.view.write_ups, *known.view.pages),
    columns=(
        ("file", "the text, as kept under source/", lambda told: told.src_uri),
        ("date", "its day; empty for a page", lambda told: None if isinstance(told, FreePage) else told.date),
        ("title", "its title", lambda told: told.title),
        ("text", "as written, in Markdown, without the front matter", lambda told: told.body),
    ),
)

_RECORDS: RecordTable[Record] = RecordTable(
    name="records",
    row="paper kept (records.csv)",
    rows=lambda known: known.view.records,
    columns=(
        ("file", "below source/content/records/", lambda record: record.file),
        ("date", "its day", lambda record: record.date),
        ("kind", "as written", lambda record: record.kind),
        ("title", "what it is", lambda record: record.title),
        ("note", "as written", lambda record: record.note),
    ),
)

_MATERIALS: RecordTable[MaterialTrace] = RecordTable(
    name="materials",
    row="batch of a material (materials.csv)",
    rows=lambda known: known.view.materials,
    columns=(
        ("id", "its ID", lambda traced: traced.material.id),
        ("name", "what it is", lambda traced: traced.material.name),
        ("batch", "as written", lambda traced: traced.material.batch),
        ("expires", "last day of its shelf life", lambda traced: traced.material.expires),
        ("mix", "ratio by the maker, as written", lambda traced: traced.material.mix),
        ("work_life", "minutes that a mixed lot can be worked", lambda traced: traced.material.work_life_minutes),
        ("used_up", "whether it is used up", lambda traced: traced.material.used_up),
        ("record", "paper that came with it", lambda traced: traced.record and traced.record.file),
        ("entries", "entries that used it;", lambda traced: [entry.id for entry in traced.entries]),
        ("late", "those of them dated after its shelf life;", lambda traced: [entry.id for entry in traced.late]),
    ),
)


class _Set(NamedTuple):
    """A line of hardware and the entry that tells it."""

    entry: ShownEntry
    line: Any


def _set_columns(*own: tuple[str, str, str]) -> Columns[_Set]:
    """What every line of hardware tells, its `own` columns (name, meaning, attribute) first; figures as written."""
    every = (
        ("count", "how many", "count"),
        ("grip", "as written", "grip"),
        ("step", "step of the manual, where the entry names one for it", "step"),
        ("source", "whose figure it is, as written", "source"),
        ("checked_by", _CHECKED, "checked_by"),
        ("drilled_out", "entry whose hardware this replaces", "drilled_out"),
    )
    return (
        ("entry", _ENTRY, lambda row: row.entry.id),
        ("date", "day of the work", lambda row: row.entry.date),
        *((name, meaning, attrgetter(f"line.{attribute}")) for name, meaning, attribute in (*own, *every)),
    )


_FASTENERS: RecordTable[_Set] = RecordTable(
    name="fasteners",
    row="line of rivets, screws or nutplates of an entry",
    rows=lambda known: (_Set(entry, line) for entry in known.view.entries for line in entry.fasteners),
    columns=_set_columns(
        ("part", "as written", "rivet"),
        ("shop_head_width", "as written", "shop_head_width"),
        ("shop_head_height", "as written", "shop_head_height"),
        ("edge", "distance to the edge, as written", "edge"),
        ("hole", "drill or length, as written", "hole"),
    ),
)

_TORQUE: RecordTable[_Set] = RecordTable(
    name="torque",
    row="line of bolts, screws or fittings of an entry",
    rows=lambda known: (_Set(entry, line) for entry in known.view.entries for line in entry.torque),
    columns=_set_columns(
        ("part", "bolt, screw, fitting or thread as written", "bolt"),
        ("nut", "as written", "nut"),
        ("value", "wrench setting, drag included, as written", "value"),
        ("drag", "friction drag of the nut, as written", "drag"),
        ("wrench", "as written", "wrench"),
        ("threads", "that show beyond the nut, as written", "threads"),
        ("locked", "how it is locked, as written", "locked"),
    ),
)

TABLES: tuple[RecordTable[Any], ...] = (
    *(_HOURS, _STEPS, _PHOTOS, _PEOPLE, _INSPECTIONS, _TASKS, _FINDINGS, _TRACE),
    *(_CALLOUTS, _HARDWARE, _MISSING, _MEASUREMENTS, _BULLETINS),
    *(_ENTRIES, _TEXTS, _RECORDS, _MATERIALS, _FASTENERS, _TORQUE),
)
"""Every table of the archive, in the order in which they are written."""

# ---------------------------------------------------------------- what the tables are, for programs

_INTEGERS = """
    hours.day hours.minutes hours.entry_minutes hours.minutes_to_date steps.times_done_over steps.photos photos.bytes
    photos.width photos.height people.minutes people.minutes_not_counted people.entries people.entries_without_hours
    people.days people.steps people.photos_at_work people.inspections people.measurements inspections.photos
    measurements.photos tasks.steps_listed tasks.steps_done tasks.photos tasks.steps_shown findings.line findings.column
    callouts.count hardware.received hardware.uncounted hardware.set hardware.untold hardware.replaced hardware.left
    hardware.needed hardware.short missing.missing materials.work_life fasteners.count torque.count
"""
_DATES = """
    hours.date steps.first_done_on steps.done_on photos.date people.first_day people.last_day inspections.date
    inspections.closed_on measurements.date bulletins.date trace.date missing.claimed_on missing.promised_for
    missing.arrived_on entries.date texts.date records.date materials.expires fasteners.date torque.date
"""
_YES_OR_NO = (
    "hours.counts hours.private photos.inside photos.identity photos.private measurements.private materials.used_up"
)
_DATATYPES: Mapping[str, object] = {
    **dict.fromkeys(_INTEGERS.split(), "integer"),
    **dict.fromkeys(_DATES.split(), "date"),
    **{place: {"base": "boolean", "format": "yes|no"} for place in _YES_OR_NO.split()},
    **{place: {"base": "string", "format": "[0-9a-f]{64}"} for place in ("photos.sha256", "trace.sha256")},
}
"""Of every column that is more than a string."""

_KEYS: Mapping[str, str] = {
    **{"hours": "entry person", "steps": "step", "photos": "file", "people": "person"},
    **{
        "bulletins": "id",
        "hardware": "part",
        "entries": "entry",
        "texts": "file",
        "records": "file",
        "materials": "id",
    },
}
_LEADS_TO = {
    **dict.fromkeys(("hours.entry", "trace.entry", "fasteners.entry", "torque.entry"), "entries.entry"),
    **{"hours.person": "people.person", "trace.step": "steps.step"},
}
"""Columns that lead into another table; only those that are never empty, for an empty one leads nowhere."""


def csv_metadata() -> bytes:
    """What the tables and their columns are, for programs (W3C Recommendation of 2015-12-17, "Metadata Vocabulary for
    Tabular Data"): titles, datatypes, what parts several values, keys.
    """

    def column(table: str, name: str, meaning: str) -> dict[str, object]:
        told: dict[str, object] = {"name": name, "titles": name, "dc:description": meaning.removesuffix(";")}
        told["datatype"] = _DATATYPES.get(f"{table}.{name}", "string")
        return told | ({"separator": "; "} if meaning.endswith(";") else {})

    def lead(name: str, to: str) -> dict[str, object]:
        resource, _, target = to.partition(".")
        return {"columnReference": name, "reference": {"resource": f"{resource}.csv", "columnReference": target}}

    def schema(table: RecordTable[Any]) -> dict[str, object]:
        names = [name for name, *_ in table.columns]
        leads = [lead(name, to) for name in names if (to := _LEADS_TO.get(f"{table.name}.{name}"))]
        return {
            "columns": [column(table.name, name, meaning) for name, meaning, _ in table.columns],
            **({"primaryKey": _KEYS[table.name].split()} if table.name in _KEYS else {}),
            **({"foreignKeys": leads} if leads else {}),
        }

    described = {
        "@context": ["http://www.w3.org/ns/csvw", {"@language": "en"}],
        "dc:description": "A text that begins with an apostrophe had one put in front: take one away.",
        "dialect": {"encoding": "utf-8", "header": True, "delimiter": ",", "lineTerminators": ["\r\n"]},
        "tables": [
            {"url": f"{one.name}.csv", "dc:description": f"one row for each {one.row}", "tableSchema": schema(one)}
            for one in TABLES
        ],
    }
    return json.dumps(described, indent=1, ensure_ascii=False).encode() + b"\n"
