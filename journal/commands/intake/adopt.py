"""`journal adopt`: notes and photos of earlier years become entries: planned, proved with the reader, then written.

Running it again adds only what is new: a row is known by its content (a comment in the entry made
from it carries its mark), a photo by its digest.
"""

from __future__ import annotations

import re
import sys
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from enum import Enum
from hashlib import sha256
from pathlib import Path, PurePosixPath
from typing import Any

import click

from journal.base.addresses import fold_name
from journal.base.byte_progress import say_bytes
from journal.base.formatting import say_count, say_date
from journal.base.model import Build, Role
from journal.base.problems import Problem, did_you_mean, render_problem
from journal.base.safe_write import staged
from journal.base.text_files import one_line
from journal.commands.intake.asking import (
    AnswerError,
    check_given,
    guess_assembly,
    known_ids,
    map_option,
    mapping_of,
    names_option,
    open_for_entries,
)
from journal.commands.intake.incoming_media import Found, Incoming, examine_media, say_media
from journal.commands.intake.lenient_parsing import (
    LONGEST_TITLE,
    DateOrder,
    date_in_name,
    first_words,
    parse_any_date,
    parse_any_hours,
    plain_markdown,
    split_steps,
    split_words,
)
from journal.commands.intake.new_entries import (
    ENTRIES,
    Draft,
    folder_name,
    place_names,
    render_entry,
    taken_names,
    write_entries,
)
from journal.commands.intake.notes import begins_as_notes, read_notes
from journal.commands.intake.proof import prove_entries
from journal.commands.intake.spreadsheet import SheetRow, Spreadsheet, read_spreadsheet
from journal.commands.terminal import EXIT_ERRORS, build_option, fail, print_problems
from journal.ledger.journal import CACHE, Journal
from journal.reading.build import told_below
from journal.reading.hours import parse_amount
from journal.reading.text import Notes, read_bytes
from journal.reading.tree import Items, Scalar

TABLES = frozenset({".csv", ".tsv", ".txt"})

COLUMNS: Mapping[str, tuple[str, ...]] = {
    "date": ("day", "when"),
    "assembly": ("section", "part", "area"),
    "hours": ("time", "duration", "hrs", "time spent"),
    "title": ("subject", "heading"),
    "text": ("description", "notes", "note", "work", "work done", "comment", "comments", "details", "what"),
    "steps": ("step", "manual steps", "steps finished"),
    "begun": ("steps begun", "started"),
    "redone": ("steps redone", "rework"),
    "people": ("person", "who", "by", "builder", "builders"),
    "place": ("where", "location"),
    "tools": ("tool",),
    "methods": ("method",),
}
"""Columns of a table of work days, and other words they go by."""

_MARK = re.compile(r"^# adopted: ([0-9a-f]{16})\s*$", re.MULTILINE)


class Fate(Enum):
    """What becomes of a row or a day of photos; the value is the word in the report."""

    NEW = "new"
    HERE = "here already"
    TWIN = "twice in the table"
    BESIDE = "day already written"
    FAULTY = "cannot be read"
    LEFT_OUT = "left out"


COLOURS = {Fate.NEW: "green", Fate.FAULTY: "red", Fate.BESIDE: "yellow", Fate.TWIN: "yellow", Fate.LEFT_OUT: "yellow"}


@dataclass(frozen=True, slots=True, kw_only=True)
class AdoptionWishes:
    """How the table is to be understood. `means` maps words of the table to IDs of the build; `hours_are` tells
    whether a figure is the time of `each` person or the `total` of all.
    """

    order: DateOrder = DateOrder.ISO
    hours_are: str = "each"
    means: Mapping[str, str] = field(default_factory=dict)
    assembly: str | None = None
    people: tuple[str, ...] = ()
    beside: bool = False
    keep_twins: bool = False
    only_rows: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class AdoptionPlan:
    """One line of the report: a row or a day of photos, its fate, and the entry it becomes or is.

    `row` is None for a day that only photos tell of. `mark` is sixteen digits that stand for the content of the row.
    `guess` tells which assembly is taken, and why, where the row names none.
    """

    row: int | None
    fate: Fate
    said: str = ""
    draft: Draft | None = None
    mark: str = ""
    problems: tuple[Problem, ...] = ()
    guess: str = ""
    unit: str = "row"

    @property
    def new(self) -> Draft | None:
        """The entry that is to be written, or what comes into one that is there."""
        return self.draft if self.fate is Fate.NEW else None


@click.command()
@build_option
@click.argument("paths", metavar="PATH...", nargs=-1, required=True, type=click.Path(path_type=Path))
@map_option("Which column is which, like Datum=date; hours:ID for one person's.")
@click.option(
    "--means",
    multiple=True,
    callback=mapping_of,
    metavar="WORD=ID",
    help="Which ID of the build a word of the table means.",
)
@click.option(
    "--dates", "order", type=click.Choice(["iso", "dmy", "mdy"]), default="iso", help="How dates are written."
)
@click.option(
    "--hours-are",
    type=click.Choice(["each", "total"]),
    default="each",
    help="Whether a figure is the time of each person or the total of all.",
)
@click.option("--assembly", metavar="ID", help="The assembly of rows that name none.")
@names_option("--person", "people", help="Who worked, for rows that do not say.")
@click.option("--row", "only_rows", multiple=True, type=int, metavar="N", help="Only this row. May be repeated.")
@click.option("--beside", is_flag=True, help="Also add rows of days that have an entry already.")
@click.option("--keep-twins", is_flag=True, help="Also add rows that repeat an earlier one.")
@click.option("--skip-faulty", is_flag=True, help="Leave out lines that cannot be read, and write the rest.")
@click.option("--write", is_flag=True, help="Write the entries; without it nothing is written.")
def adopt(
    root: Path,
    paths: tuple[Path, ...],
    mapping: dict[str, str],
    order: str,
    people: tuple[str, ...] | None,
    skip_faulty: bool,
    write: bool,
    **wishes: Any,
) -> None:
    """Take over earlier years: a table, notes, old photos.

    Shows row by row what would become of it, and writes nothing until --write is added. Running it
    again adds only what is new.

    \b
    Columns (in any order; others are named with --map):
      date, assembly, hours, title, text, steps, begun, redone, people, place, tools, methods
    Notes: each day begins with its date; lines `hours: 2:15`, `steps: 5.3` and so on fill these columns.

    \b
    Example:
      journal adopt workdays.csv
      journal adopt workdays.csv old-photos/ --dates dmy --map "Stunden=hours" --means "Klappen=flaps" --write
    """
    journal = open_for_entries(root)
    told = AdoptionWishes(order=DateOrder(order), people=people or (), **wishes)
    _check_wishes(journal.build, told)
    tables = [path for path in paths if path.suffix.casefold() in TABLES and path.is_file()]
    if len(tables) > 1:
        raise AnswerError("One table at a time, so that each row can be told apart.")
    sheet = Spreadsheet()
    if tables:
        as_notes = tables[0].suffix.casefold() == ".txt" and begins_as_notes(tables[0])
        sheet = read_days(tables[0], mapping, told, journal.build, as_notes=as_notes)
    with staged(root / CACHE, "unpacked") as scratch:
        found = examine_media(journal, [path for path in paths if path not in tables], scratch)
        plans = plan_days(journal, sheet, found.fresh, told, *tables)
        report(plans, sheet, found)
        new = [plan.new for plan in plans if plan.new]
        _say_hours_rule(journal.build, new, told)
        faulty = sum(plan.fate is Fate.FAULTY for plan in plans)
        if not write:
            click.echo("\nNothing was written: this only shows what would be. Add --write to do it." if new else "")
            sys.exit(EXIT_ERRORS if faulty else 0)
        if faulty and not skip_faulty:
            hint = "mend them, or leave them out with --skip-faulty"
            fail(f"{say_count(faulty, 'line')} cannot be read, so nothing was written; {hint}", EXIT_ERRORS)
        write_entries(root, new)
    click.echo(f"Written: {say_count(len(new), 'entry', 'entries')}. `journal check` tells what they lack.")


def _check_wishes(build: Build, wishes: AdoptionWishes) -> None:
    check_given(build, assembly=[wishes.assembly], person=wishes.people)
    known = {*build.assemblies, *build.people, *build.places}
    for word, identifier in wishes.means.items():
        if identifier not in known:
            raise AnswerError(f'--means "{word}={identifier}": {did_you_mean(identifier, known)}')


def read_days(
    path: Path, mapping: Mapping[str, str], wishes: AdoptionWishes, build: Build, *, as_notes: bool
) -> Spreadsheet:
    """The rows of a table, or the days of notes; the command ends where it cannot be read at all."""
    notes = Notes(str(path))
    if as_notes:
        columns = {key: (*words, *(name for name in mapping if mapping[name] == key)) for key, words in COLUMNS.items()}
        sheet = read_notes(path, columns, known_ids(build), wishes.order, notes)
    else:
        required = ["date"] if wishes.assembly else ["date", "assembly"]
        sheet = read_spreadsheet(path, COLUMNS, required, mapping, notes)
    print_problems(notes.problems)
    if sheet is None:
        fail("nothing was written", EXIT_ERRORS)
    return sheet


def plan_days(
    journal: Journal, sheet: Spreadsheet, incoming: Sequence[Incoming], wishes: AdoptionWishes, file: Path = Path()
) -> list[AdoptionPlan]:
    """What becomes of every row of the table `file` and of every photo, proved with the reader."""
    build, taken = journal.build, taken_names(journal.root)
    reader = _RowReader(build, wishes, file, sheet.unit)
    rows = [reader.read(row) for row in sheet.rows if not wishes.only_rows or row.number in wishes.only_rows]
    plans = plan_rows(rows, build, adopted_marks(journal.root), taken, wishes)
    return prove(journal.root, plan_photos(incoming, plans, build, taken, wishes))


# -- reading rows ----------------------------------------------------------------------------------


class _RowReader:
    """Reads the rows of a table with the words of the build, as the reader knows them, and what `--means` says."""

    def __init__(self, build: Build, wishes: AdoptionWishes, file: Path, unit: str) -> None:
        self.build = build
        self.wishes = wishes
        self.file = file
        self.unit = unit
        self.last = ("", "")
        if build.entries:
            self.last = (build.entries[-1].assembly, "as in the last entry")
        self.known = known_ids(build)
        self.means = {fold_name(word): identifier for word, identifier in wishes.means.items()}

    def read(self, row: SheetRow) -> AdoptionPlan:
        """The entry that a row tells of, or a faulty line of the plan with its problems."""
        self.row, self.notes, self.guess = row, Notes(str(self.file)), ""
        draft = self._read()
        if draft is None or self.notes.errors or row.problems:
            problems = (*row.problems, *map(self._of_row, self.notes.problems))
            return AdoptionPlan(row=row.number, fate=Fate.FAULTY, problems=problems, unit=self.unit)
        usual = self.build.assemblies[draft.assembly].title
        title = draft.title or first_words(draft.body, LONGEST_TITLE) or usual
        origin = f"From {one_line(self.file.name)}, {self.unit} {row.number}."
        body = plain_markdown(draft.body, comments=self.unit == "row")
        # A guess may come out otherwise another time; the same words are the same row all the same.
        mark = _mark_of(replace(draft, assembly="") if self.guess else draft)
        entry = replace(draft, title=title, body=body, origin=(origin,))
        number, guess, unit = row.number, self.guess, self.unit
        return AdoptionPlan(row=number, fate=Fate.NEW, mark=mark, draft=entry, guess=guess, unit=unit)

    def _of_row(self, problem: Problem) -> Problem:
        """A problem at the line of the row, and with its number."""
        unknown = problem.word in ("unknown-assembly", "unknown-person", "unknown-place")
        hint = f'{problem.hint} (or say what it means, with --means "WORD=ID")' if unknown else problem.hint
        message = f"{self.unit} {self.row.number}: {problem.message}"
        return replace(problem, line=self.row.line, column=1, message=message, hint=hint)

    def _error(self, word: str, message: str, hint: str) -> None:
        self.notes.error(None, word, message, hint)

    def _read(self) -> Draft | None:
        row, wishes = self.row, self.wishes
        day = self._date()
        assembly = wishes.assembly or ""
        if named := row.text("assembly"):
            assembly = self._id("assembly", named)
            self.last = assembly, "as in the note before"
        elif not assembly and self.unit == "row":
            self._error("cell-empty", "no assembly", "fill it in, or name one for all with --assembly")
        people = tuple(self._id("person", word) for word in split_words(row.text("people"))) or wishes.people
        steps, begun, redone = (self._steps(key) for key in ("steps", "begun", "redone"))
        if not assembly and self.unit != "row":
            assembly = self._guess_assembly((*steps, *begun, *redone))
        hours = self._hours(people)
        place = self._id("place", row.text("place")) if row.text("place") else ""
        if day is None:
            return None
        return Draft(
            date=day,
            assembly=assembly,
            title=one_line(row.text("title")),
            body="\n\n".join(row.cells.get("text", ())),
            hours=hours,
            steps=steps,
            begun=begun,
            redone=redone,
            people=people,
            place=place,
            tools=split_words(row.text("tools")),
            methods=split_words(row.text("methods")),
        )

    def _guess_assembly(self, steps: Sequence[str]) -> str:
        assembly, why = guess_assembly(self.build, steps, self.last)
        if assembly:
            self.last, self.guess = (assembly, "as in the note before"), f"Assembly: {assembly} ({why})"
        elif not self.notes.errors:
            self._error("cell-empty", "no assembly", "add a line like `assembly: flaps`, or name one with --assembly")
        return assembly

    def _date(self) -> date | None:
        text, order = self.row.text("date"), self.wishes.order
        if not text and self.row.problems:
            return None
        if not text:
            self._error("cell-empty", "no date", "fill it in, or take the row out")
            return None
        day = parse_any_date(text, order)
        if day is None:
            orders = [f"--dates {one.value}" for one in DateOrder if one is not order and parse_any_date(text, one)]
            hint = f"say how dates are written: {' or '.join(orders)}" if orders else "write it like 2026-02-07"
            self._error("bad-date", f'"{text}" is not a date', hint)
        return day

    def _id(self, kind: str, word: str) -> str:
        means = self.means.get(fold_name(word))
        text = means if means is not None and means in (self.known.lists[kind] or {}) else word
        return self.known.id(Scalar(text=text, where=(1, 1)), kind, self.notes) or ""

    def _steps(self, key: str) -> tuple[str, ...]:
        return split_steps("\n".join(self.row.cells.get(key, ())), self.known, self.notes)

    def _hours(self, people: tuple[str, ...]) -> dict[str, tuple[str, ...]]:
        hours: dict[str, tuple[str, ...]] = {}
        for column in [column for column in self.row.cells if column.partition(":")[0] == "hours"]:
            who, text = column.partition(":")[2], self.row.text(column)
            person = self._id("person", who) if who else ""
            if parts := parse_any_hours(text):
                hours[person] = parts
            else:
                self._error("bad-hours", f'"{text}" is not a time worked', "write 3:15, 3.25, 3,25 or 18:30-21:45")
        if self.wishes.hours_are == "total" and "" in hours:
            builders = tuple(one.id for one in self.build.people.values() if one.role is Role.BUILDER)
            hours = {**_shared_out(hours.pop(""), people or builders), **hours}
        return hours


def _shared_out(parts: tuple[str, ...], people: tuple[str, ...]) -> dict[str, tuple[str, ...]]:
    """A total of all, shared out evenly to the minute; what is left over goes to the first."""
    items = Items(nodes=tuple(Scalar(text=part, where=(1, 1)) for part in parts), where=(1, 1))
    amount = parse_amount(items, date(2000, 1, 15), None, Notes(""))
    total = amount.minutes if amount else 0
    each, over = divmod(total, max(len(people), 1))
    return {
        person: (f"{(each + (number < over)) // 60}:{(each + (number < over)) % 60:02d}",)
        for number, person in enumerate(people)
    }


# -- planning --------------------------------------------------------------------------------------


def _mark_of(row: Draft) -> str:
    told = [row.date.isoformat(), row.assembly, row.title, row.body, *map(str, sorted(row.hours.items()))]
    told += [",".join(items) for items in (row.steps, row.begun, row.redone, row.people, row.tools, row.methods)]
    return sha256("\x1f".join([*told, row.place]).encode()).hexdigest()[:16]


def adopted_marks(root: Path) -> dict[str, str]:
    """Mark -> where the entry made from a row lies, under any name and in any folder, whether or not it can be read."""
    marks: dict[str, str] = {}
    for item in (item for item in told_below(root, ENTRIES)[1] if item.is_text):
        text = (read_bytes(root / ENTRIES / item.name, Notes("")) or b"").decode("utf-8", "replace").replace("\r", "\n")
        for mark in _MARK.findall(text.partition("\n---")[0] + "\n"):
            marks.setdefault(mark, item.name.removesuffix("/index.md"))
    return marks


def plan_rows(
    read: Sequence[AdoptionPlan], build: Build, marks: Mapping[str, str], taken: Sequence[str], wishes: AdoptionWishes
) -> list[AdoptionPlan]:
    """What becomes of each row. `taken` are names of folders that are there."""
    there: dict[tuple[date, str], str] = {}
    for entry in (*build.entries, *build.drafts):
        there.setdefault((entry.date, entry.assembly), entry.id)
    names = list(taken)
    rows: dict[str, list[int | None]] = {}
    plans: list[AdoptionPlan] = []
    for plan in read:
        draft = plan.draft
        if draft is None:
            plans.append(plan)
            continue
        alike = rows.setdefault(plan.mark, [])
        alike.append(plan.row)
        mark = plan.mark if len(alike) == 1 else sha256(f"{plan.mark} {len(alike)}".encode()).hexdigest()[:16]
        fate, folder = Fate.NEW, ""
        if mark in marks:
            fate, folder = Fate.HERE, marks[mark]
        elif len(alike) > 1 and not wishes.keep_twins:
            fate, said = Fate.TWIN, f"the same as row {alike[0]}; --keep-twins adds it all the same"
        elif (draft.date, draft.assembly) in there and not wishes.beside:
            fate, said = Fate.BESIDE, f"{there[draft.date, draft.assembly]}; --beside adds the row beside it"
        else:
            folder = folder_name(draft.date, draft.title, names)
            names.append(folder)
        draft = replace(draft, folder=folder, origin=(*draft.origin, f"adopted: {mark}"))
        plans.append(replace(plan, fate=fate, mark=mark, said=folder or said, draft=draft))
    return plans


def plan_photos(
    incoming: Sequence[Incoming],
    plans: Sequence[AdoptionPlan],
    build: Build,
    taken: Sequence[str],
    wishes: AdoptionWishes,
) -> list[AdoptionPlan]:
    """The plans with photos put to their days, and plans of their own for days that no row tells of.

    The day is that of capture, else the one that the file's or a folder's name tells. The assembly
    is the one that a folder is named after, else that of the only row of the day, else `--assembly`.
    """
    result = list(plans)
    groups: dict[tuple[date, str], list[Incoming]] = {}
    undated: list[Incoming] = []
    for item in incoming:
        # The file's own name first, then its folders' from the inside out.
        day = item.day or next(filter(None, map(date_in_name, _names_of(item))), None)
        if day is None:
            undated.append(item)
        else:
            groups.setdefault((day, _named_assembly(item, build)), []).append(item)
    names = [*taken, *(plan.new.folder for plan in plans if plan.new)]
    for (day, assembly), photos in sorted(groups.items(), key=lambda item: item[0]):
        place = _place_for(day, assembly, result)
        if place is not None and (draft := result[place].draft):
            placed = place_names([*draft.placed, *photos])
            result[place] = replace(result[place], draft=replace(draft, placed=placed))
            continue
        result.append(_own_day(day, assembly or wishes.assembly or "", photos, build, names))
        if draft := result[-1].draft:
            names.append(draft.folder)
    if undated:
        said = f"no day is known of: {', '.join(one.name for one in undated)}"
        result.append(AdoptionPlan(row=None, fate=Fate.LEFT_OUT, said=said))
    return result


def _place_for(day: date, assembly: str, plans: Sequence[AdoptionPlan]) -> int | None:
    """Which plan takes the photos of a day: that of the assembly, else the only one of the day."""
    same = {number: plan.new.assembly for number, plan in enumerate(plans) if plan.new and plan.new.date == day}
    fitting = [number for number, its in same.items() if its == assembly]
    if fitting:
        return fitting[0]
    return next(iter(same)) if len(same) == 1 and not assembly else None


def _own_day(day: date, assembly: str, photos: Sequence[Incoming], build: Build, names: Sequence[str]) -> AdoptionPlan:
    draft = Draft(
        date=day,
        assembly=assembly,
        placed=place_names(photos),
        title=f"Pictures of {say_date(day)}",
        origin=("Brought in from a folder of photos; hours were not recorded.",),
    )
    there = [entry for entry in (*build.entries, *build.drafts) if entry.date == day]
    entries = [entry for entry in there if not assembly or entry.assembly == assembly]
    fate = Fate.NEW
    if len(entries) == 1:
        entry, file = entries[0], PurePosixPath(entries[0].src_uri)
        held = [*(photo.name for photo in entry.photos), *(clip.name for clip in entry.clips)]
        if file.parent.name == entry.id:
            folder, placed = file.parent.relative_to(ENTRIES).as_posix(), place_names(photos, held)
            draft = replace(draft, assembly=entry.assembly, folder=folder, placed=placed, into=True)
            said = f"into {entry.id}, whose text is left alone"
        else:
            fate = Fate.LEFT_OUT
            said = f"{file} has no folder for photos; make it {entry.id}/index.md, and run this again"
    elif assembly not in build.assemblies:
        fate, said = Fate.FAULTY, "no folder is named after an assembly; name one for all with --assembly"
    else:
        said = folder_name(day, f"pictures of {assembly}", names)
        draft = replace(draft, folder=said)
    return AdoptionPlan(row=None, fate=fate, draft=draft, said=said)


def _named_assembly(item: Incoming, build: Build) -> str:
    """The assembly that one of the folders is named after; the longest title wins, the nearest folder first."""
    for name in _names_of(item)[1:]:
        bare = f" {fold_name(re.sub(r'[-_.,0-9]+', ' ', name))} "
        named = [(one, words) for one in build.assemblies.values() for words in (one.title, one.id.replace("-", " "))]
        if fitting := [one for one, words in named if f" {fold_name(words)} " in bare]:
            return max(fitting, key=lambda assembly: len(assembly.title)).id
    return ""


def _names_of(item: Incoming) -> list[str]:
    inside = item.shown.partition(" » ")
    path = PurePosixPath((inside[2] or item.shown).replace("\\", "/"))
    return [path.name, *(parent.name for parent in path.parents if parent.name), *([inside[0]] if inside[2] else [])]


# -- proof, report, writing --------------------------------------------------------------------------


def prove(root: Path, plans: Sequence[AdoptionPlan]) -> list[AdoptionPlan]:
    """The plans with what the reader itself objects to: new entries are read in a folder of their own first."""
    new = [plan.new for plan in plans if plan.new and not plan.new.into]
    texts = {draft.file: (render_entry(draft), [one.name for one in draft.placed]) for draft in new}
    _, objections = prove_entries(root, texts)
    return [
        replace(plan, fate=Fate.FAULTY, problems=tuple(found))
        if plan.new and not plan.new.into and (found := objections.get(plan.new.file))
        else plan
        for plan in plans
    ]


def report(plans: Sequence[AdoptionPlan], sheet: Spreadsheet, found: Found) -> None:
    """A line for each row and each day of photos; what is wrong stands below its line."""
    width = max((len(plan.fate.value) for plan in plans), default=0)
    for plan in plans:
        where = f"{plan.unit} {plan.row:>4}" if plan.row is not None else "photos  "
        day = plan.draft.date.isoformat() if plan.draft else ""
        placed = plan.draft.placed if plan.draft else ()
        photos = f", {say_media(placed)}" if placed else ""
        line = f"{where}  {plan.fate.value:<{width}}  {day}  {plan.said}{photos}".rstrip(" ,")
        click.echo(click.style(line, fg=COLOURS.get(plan.fate)))
        if plan.guess and plan.new:
            click.echo(f"    {plan.guess}")
        for problem in plan.problems:
            click.echo(f"    {render_problem(problem)}")
    for name in sheet.unused:
        click.echo(f'Column "{name}" is not used; --map "{name}=text" would add it to the text.')
    if found.here:
        click.echo(f"In the journal already, left out: {say_media([one for one, _ in found.here])}.")
    for one, other in found.twins:
        click.echo(f"{one.shown} is the same picture as {other.shown}; left out.")
    counts = Counter(plan.fate for plan in plans)
    said = ", ".join(f"{counts[fate]:,} {fate.value}" for fate in Fate if counts[fate])
    size = sum(one.bytes for plan in plans if plan.new for one in plan.new.placed)
    click.echo(f"\n{said or 'Nothing found'}{f'; {say_bytes(size)} of photos' if size else ''}.")


def _say_hours_rule(build: Build, new: Sequence[Draft], wishes: AdoptionWishes) -> None:
    """One figure for several people can be meant in two ways, and the totals hang on it."""
    builders = [one.name for one in build.people.values() if one.role is Role.BUILDER]
    each = [draft for draft in new if "" in draft.hours and len(draft.people or builders) > 1]
    if each and wishes.hours_are == "each":
        click.echo(
            f"In {say_count(len(each), 'row')} the hours are those of several people, and count for each of them.\n"
            "If they are the total of all, add --hours-are total; if one person worked alone, --person ID."
        )
