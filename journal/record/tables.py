"""The record as CSV tables, for programs that come after this one.

RFC 4180: UTF-8 without a byte-order mark, comma, CRLF, a header line, quotes where needed. Every
row of a table has the same columns; what they mean stands in `TABLES`. Times are whole minutes,
dates ISO 8601, yes and no are written out, an empty cell means that nothing was told. Where a cell
holds several values they are parted by `; `; `trace.csv` holds the same threads one to a row.

Formulas. A spreadsheet runs a cell that begins with `=`, `+`, `-` or `@`, and text here comes from
files that anybody may have written. Such a cell gets one apostrophe in front, and so does one that
begins with an apostrophe itself: taking one leading apostrophe away gives back exactly what was
written (`unguard`). Nothing is lost and nothing is altered beyond that. Figures made here never
begin with any of these characters.
"""

from __future__ import annotations

import csv
import io
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from journal.base.formatting import say_steps
from journal.base.model import State, Task
from journal.record.trace import PhotoTrace, Trace, capture_time, entry_marks, gather_trace
from journal.view.people import PersonWork
from journal.view.view import RULES, Evidence, Gap, View

Row = tuple[str, ...]

# The full-width forms are formulas to some spreadsheets too (OWASP, "CSV Injection").
_RUNS = "=+-@\N{FULLWIDTH EQUALS SIGN}\N{FULLWIDTH PLUS SIGN}\N{FULLWIDTH HYPHEN-MINUS}\N{FULLWIDTH COMMERCIAL AT}"


def guard(text: str) -> str:
    """A cell that no spreadsheet runs: an apostrophe in front where it would, or where one stands already."""
    bare = text.lstrip()
    return "'" + text if text[:1] == "'" or bare[:1] in tuple(_RUNS) else text


def unguard(cell: str) -> str:
    """What was written: one leading apostrophe taken away."""
    return cell.removeprefix("'")


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table: its name without ending, what a row is, its columns with their meaning, its rows."""

    name: str
    row: str
    columns: Mapping[str, str]
    rows: Callable[[Known], Iterator[Row]]


def archive_tables(view: View) -> Iterator[tuple[str, bytes]]:
    """(`tables/NAME.csv`, bytes) for every table, in the order of `TABLES`: what the audience of `view` may know."""
    known = Known(view=view, trace=gather_trace(view), evidence=view.evidence or Evidence())
    for table in TABLES:
        yield f"tables/{table.name}.csv", render_csv(tuple(table.columns), table.rows(known))


def tables_guide() -> str:
    """What every table and column means, as plain text for the archive's README."""
    lines = [
        "Tables (tables/*.csv): UTF-8, comma, CRLF, one header line (RFC 4180).",
        "A cell that begins with an apostrophe had one put in front so that no spreadsheet runs it as a",
        "formula: take one apostrophe away to get the text as it was written.",
    ]
    for table in TABLES:
        lines += ["", f"{table.name}.csv: one row for each {table.row}"]
        lines += [f"  {column}: {meaning}" for column, meaning in table.columns.items()]
    return "\n".join(lines) + "\n"


# ---------------------------------------------------------------- rows


def _hours(known: Known) -> Iterator[Row]:
    for entry in known.view.entries:
        minutes_of = dict(entry.time)
        for name in entry.people:
            minutes = minutes_of.get(name)
            yield (
                entry.date.isoformat(),
                str(entry.day),
                entry.id,
                entry.assembly.id,
                _yes(entry.assembly.counts),
                name,
                _role(known, name),
                "" if minutes is None else str(minutes),
                str(entry.minutes) if entry.time else "",
                str(entry.minutes_to_date),
                entry.place,
                _yes(entry.private),
                entry.title,
            )


def _steps(known: Known) -> Iterator[Row]:
    open_words, answered_words = _words_by_step(known.evidence.gaps), _words_by_step(known.evidence.answered)
    for traced in known.trace.steps.values():
        step, progress = traced.step, traced.progress
        yield (
            step.id,
            step.assembly,
            known.view.assemblies[step.assembly].title,
            step.title,
            step.page,
            step.closes,
            step.same_as or "",
            progress.word,
            str(progress.times_done_over),
            _day(progress.first_done_on),
            _day(progress.done_on),
            progress.done_in or "",
            _several(traced.entries),
            _several(day.isoformat() for day in traced.days),
            _several(traced.people),
            str(len(traced.photos)),
            _several(traced.inspections),
            _several(open_words.get(step.id, ())),
            _several(answered_words.get(step.id, ())),
        )


def _photos(known: Known) -> Iterator[Row]:
    for traced in known.trace.photos:
        photo, facts = traced.photo, traced.photo.facts
        yield (
            photo.src_uri,
            photo.sha256,
            str(facts.bytes) if facts.bytes else "",
            facts.kind,
            str(facts.width) if facts.width else "",
            str(facts.height) if facts.height else "",
            capture_time(facts, day_only=known.day_only),
            _clock(traced, day_only=known.day_only),
            facts.camera,
            traced.entry or "",
            traced.inspection or "",
            traced.day.isoformat(),
            traced.assembly.id if traced.assembly else "",
            _several(traced.steps),
            photo.step or "",
            _several(photo.people),
            _yes(photo.inside),
            _yes(photo.private),
            photo.caption,
            facts.trouble,
        )


def _people(known: Known) -> Iterator[Row]:
    for name in dict.fromkeys((*known.view.roles, *known.trace.people)):
        work = known.trace.people.get(name) or PersonWork(name=name)
        yield (
            name,
            _role(known, name),
            str(work.minutes),
            str(work.minutes_not_counted),
            str(len(work.entries)),
            str(work.without_hours),
            str(len(work.days)),
            work.days[0].isoformat() if work.days else "",
            work.days[-1].isoformat() if work.days else "",
            str(len(work.steps)),
            str(len(work.pictures)),
            str(len(work.inspections)),
        )


def _inspections(known: Known) -> Iterator[Row]:
    for inspection in known.view.inspections:
        head = (
            inspection.id,
            inspection.date.isoformat(),
            inspection.title,
            inspection.assembly.id if inspection.assembly else "",
            _several(step.id for step in inspection.steps),
            inspection.stage,
            inspection.inspector,
            inspection.outcome.value,
            str(len(inspection.photos)),
        )
        if not inspection.findings:
            yield (*head, "", "", "", "", "")
        for found in inspection.findings:
            state = "open" if found.open else "closed"
            yield (*head, found.id, found.text, state, _day(found.closed_on), found.closed_by or "")


def _tasks(known: Known) -> Iterator[Row]:
    for behind in known.view.tasks:
        task = behind.task
        done = [step for step in task.steps if known.view.step_progress[step].state is State.DONE]
        yield (
            task.section,
            task.task,
            task.name,
            *_shares(task),
            say_steps(task.steps, tuple(known.view.steps)),
            str(len(task.steps)),
            str(len(done)),
            _several(entry.id for entry in behind.entries),
            str(behind.photos),
            _several(behind.people),
            _several(behind.paid),
            task.note,
        )


def _findings(known: Known) -> Iterator[Row]:
    finds = {rule.word: rule.finds for rule in RULES}
    for state, gaps in (("open", known.evidence.gaps), ("answered", known.evidence.answered)):
        for gap in gaps:
            problem = gap.problem
            yield (
                state,
                problem.word,
                problem.file,
                "" if problem.line is None else str(problem.line),
                "" if problem.column is None else str(problem.column),
                problem.message,
                problem.hint,
                gap.answer,
                gap.answered_in or "",
                _several(gap.entries),
                _several(gap.steps),
                gap.assembly or "",
                finds.get(problem.word, ""),
            )


def _threads(known: Known) -> Iterator[Row]:
    photos: dict[tuple[str, str], list[PhotoTrace]] = defaultdict(list)
    for traced in known.trace.photos:
        for step_id in traced.steps:
            if traced.entry:
                photos[traced.entry, step_id].append(traced)
    for entry in known.view.entries:
        for step, mark in entry_marks(entry):
            head = (
                step.assembly,
                step.id,
                mark,
                entry.id,
                entry.date.isoformat(),
                _several(entry.people),
                entry.place,
            )
            shown = photos.get((entry.id, step.id), ())
            tail = (_several(known.trace.steps[step.id].inspections),)
            if not shown:
                yield (*head, "", "", "", "", *tail)
            for traced in shown:
                photo = traced.photo
                yield (
                    *head,
                    photo.src_uri,
                    photo.sha256,
                    capture_time(photo.facts, day_only=known.day_only),
                    _several(photo.people),
                    *tail,
                )


# ---------------------------------------------------------------- cells


def _yes(flag: bool) -> str:
    return "yes" if flag else "no"


def _day(day: object) -> str:
    return "" if day is None else str(day)


def _several(values: Iterable[str]) -> str:
    return "; ".join(values)


def _clock(traced: PhotoTrace, *, day_only: bool) -> str:
    facts = traced.photo.facts
    if day_only:
        return ""
    if facts.taken is None:
        return "no time in the file"
    if not facts.clock_set:
        return "never set"
    return "offset recorded" if facts.offset else "offset not recorded"


def _shares(task: Task) -> Row:
    if not task.applies:
        return ("n/a",) * 4
    return tuple(str(share or 0) for share in (task.maker, task.paid, task.assembly, task.fabrication))


def _role(known: Known, name: str) -> str:
    role = known.view.roles.get(name)
    return role.value if role else ""


def _words_by_step(gaps: Iterable[Gap]) -> dict[str, tuple[str, ...]]:
    words: dict[str, dict[str, None]] = defaultdict(dict)
    for gap in gaps:
        for step in gap.steps:
            words[step][gap.problem.word] = None
    return {step: tuple(found) for step, found in words.items()}


_ENTRY = "folder of the entry under content/entries/"
_SEVERAL = "several are parted by '; '"

TABLES: tuple[Table, ...] = (
    Table(
        name="hours",
        row="person of an entry",
        columns={
            "date": "day of the work",
            "day": "running number of the worked days",
            "entry": _ENTRY,
            "assembly": "ID of the assembly",
            "counts": "whether its hours count for the build",
            "person": "name",
            "role": "builder, helper, paid or inspector",
            "minutes": "minutes this person worked; empty where no hours were told",
            "entry_minutes": "person-minutes of the entry: everybody's added up",
            "minutes_to_date": "person-minutes of the build up to and with this entry, assemblies that count",
            "place": "where the work was done",
            "private": "whether the entry is kept off the public site",
            "title": "title of the entry",
        },
        rows=_hours,
    ),
    Table(
        name="steps",
        row="step of the manual",
        columns={
            "step": "number of the step",
            "assembly": "ID of the assembly",
            "assembly_title": "its name",
            "title": "what the step is",
            "page": "page of the manual",
            "closes": "what it closes for good; empty for most",
            "same_as": "the same step on the mirrored assembly",
            "state": "not begun, under way, reopened, done or done over",
            "times_done_over": "how often it was done over",
            "first_done_on": "day it was first done",
            "done_on": "day it was last done",
            "done_in": "entry that last finished it",
            "entries": f"entries that name it; {_SEVERAL}",
            "days": f"days on which it was worked; {_SEVERAL}",
            "people": f"who took part in these entries; {_SEVERAL}",
            "photos": "number of pictures that show it",
            "inspections": f"inspections of the step or its assembly; {_SEVERAL}",
            "open_gaps": f"code words of findings still open; {_SEVERAL}",
            "answered_gaps": f"code words of findings the builder answered; {_SEVERAL}",
        },
        rows=_steps,
    ),
    Table(
        name="photos",
        row="original picture",
        columns={
            "file": "original, as kept under source/",
            "sha256": "SHA-256 of the original (FIPS 180-4)",
            "bytes": "its size",
            "kind": "file format by content",
            "width": "pixels of the upright picture",
            "height": "pixels of the upright picture",
            "taken": "capture time by the camera, RFC 3339, without the offset where none was recorded; "
            "or 'not recorded'",
            "clock": "offset recorded, offset not recorded, never set, or no time in the file",
            "camera": "as the file says",
            "entry": _ENTRY,
            "inspection": "folder of the inspection under content/inspections/",
            "date": "day of the entry or inspection",
            "assembly": "ID of the assembly",
            "steps": f"steps it shows: the one named, else all of its entry; {_SEVERAL}",
            "step_named": "the step named at the picture",
            "at_work": f"who is seen at work; {_SEVERAL}",
            "inside": "whether it shows the inside of something closed later",
            "private": "whether it is kept off the public site",
            "caption": "as written",
            "trouble": "why the file cannot be used as a picture",
        },
        rows=_photos,
    ),
    Table(
        name="people",
        row="person",
        columns={
            "person": "name",
            "role": "builder, helper, paid or inspector",
            "minutes": "person's minutes on assemblies that count",
            "minutes_not_counted": "person's minutes on the others",
            "entries": "number of entries that name the person",
            "entries_without_hours": "those of them that tell no hours",
            "days": "number of days",
            "first_day": "first of them",
            "last_day": "last of them",
            "steps": "number of steps named by these entries",
            "photos_at_work": "number of pictures that show the person at work",
            "inspections": "number of inspections made",
        },
        rows=_people,
    ),
    Table(
        name="inspections",
        row="finding of an inspection, or inspection without findings",
        columns={
            "inspection": "folder of the inspection under content/inspections/",
            "date": "day of the inspection",
            "title": "its title",
            "assembly": "ID of the assembly looked at",
            "steps": f"steps looked at; {_SEVERAL}",
            "stage": "as written; closing: before closing",
            "inspector": "name",
            "outcome": "passed, passed with findings, or not passed",
            "photos": "number of pictures",
            "finding": "its number",
            "text": "what was found",
            "state": "open or closed",
            "closed_on": "day it was put right",
            "closed_by": "entry that tells how",
        },
        rows=_inspections,
    ),
    Table(
        name="tasks",
        row="line of the builder's checklist",
        columns={
            "section": "section of the list",
            "task": "number of the task",
            "name": "what it is",
            "maker": "tenths of credit, or n/a",
            "paid": "tenths of credit, or n/a",
            "assembly": "tenths of credit, or n/a",
            "fabrication": "tenths of credit, or n/a",
            "steps": "steps of the manual behind it",
            "steps_listed": "number of them",
            "steps_done": "number of them done now",
            "entries": f"entries that name these steps; {_SEVERAL}",
            "photos": "number of pictures of these steps",
            "people": f"who took part; {_SEVERAL}",
            "paid_help": f"who of them was paid; {_SEVERAL}",
            "note": "as written",
        },
        rows=_tasks,
    ),
    Table(
        name="findings",
        row="finding, open ones first, answered ones after them",
        columns={
            "state": "open or answered",
            "word": "code word",
            "file": "where it was found",
            "line": "line in the file, from 1",
            "column": "column, from 1",
            "message": "what was found",
            "hint": "what to do about it",
            "answer": "the builder's reason",
            "answered_in": "entry that holds it",
            "entries": f"entries concerned; {_SEVERAL}",
            "steps": f"steps concerned; {_SEVERAL}",
            "assembly": "assembly concerned",
            "rule": "the rule of evidence behind the code word, where it is one",
        },
        rows=_findings,
    ),
    Table(
        name="trace",
        row="picture of a step in an entry, or step of an entry without a picture",
        columns={
            "assembly": "ID of the assembly",
            "step": "number of the step",
            "mark": "begun, done or done over",
            "entry": _ENTRY,
            "date": "day of the work",
            "people": f"who took part; {_SEVERAL}",
            "place": "where",
            "photo": "original, as kept under source/",
            "sha256": "SHA-256 of the original",
            "taken": "capture time, as in photos.csv",
            "at_work": f"who is seen at work in it; {_SEVERAL}",
            "inspections": f"inspections of the step or its assembly; {_SEVERAL}",
        },
        rows=_threads,
    ),
)
"""Every table of the archive, in the order in which they are written."""
