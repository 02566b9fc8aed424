"""What becomes of every row of a table, every day of notes, every post and every photo of earlier years.

A row is known by its content: a comment in the entry made from it carries its mark, and a second one that of the row as
it stands, so that a row which was understood otherwise before is known too. A photo is known by its digest.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from enum import Enum
from fractions import Fraction
from hashlib import sha256
from pathlib import Path, PurePosixPath
from urllib.parse import quote
from zoneinfo import ZoneInfo

from journal.base.addresses import fold_name
from journal.base.formatting import WEEKDAYS, say_date, say_few
from journal.base.model import Build, Entry, Role
from journal.base.problems import Problem, error
from journal.base.text_files import one_line
from journal.commands.intake.asking import guess_assembly, known_ids
from journal.commands.intake.columns import BREAK
from journal.commands.intake.incoming_media import Found, Incoming
from journal.commands.intake.lenient_parsing import (
    LONGEST_TITLE,
    DateOrder,
    date_in_name,
    exact_hours,
    first_words,
    parse_any_date,
    parse_any_hours,
    plain_markdown,
    split_steps,
    split_words,
    wrong_weekday,
)
from journal.commands.intake.new_entries import ENTRIES, Draft, folder_name, place_names, render_entry, taken_names
from journal.commands.intake.proof import prove_entries
from journal.commands.intake.reckoning import rounding, say_hours
from journal.commands.intake.spreadsheet import CLOCK, SheetRow, Spreadsheet
from journal.commands.terminal import today
from journal.ledger.journal import Journal
from journal.reading.build import told_below
from journal.reading.hours import DAY, parse_amount, parse_span
from journal.reading.text import Notes, read_bytes
from journal.reading.tree import Items, Scalar

_MARK = re.compile(r"^# adopted(?: as it stands)?: ([0-9a-f]{16})\s*$", re.MULTILINE)
_PICTURE_SIGN = re.compile("\ue000([0-9]+)\ue001")


def lacks_assembly(problem: Problem) -> bool:
    """Whether a row is refused because it tells no assembly."""
    return any(problem.message.endswith(f": {said}") for said, _ in _NO_ASSEMBLY.values())


_NO_ASSEMBLY = {
    "row": ("no assembly", "fill it in, or name one for all with --assembly"),
    "note": ("no assembly", "add a line like `assembly: flaps`, or name one with --assembly"),
    "post": (
        "no category, tag or folder of it is named like an assembly",
        "say which a word of it means, with --means WORD=ID, or name one for all with --assembly",
    ),
}


class Fate(Enum):
    """What becomes of a row or a day of photos; the value is the word in the report."""

    NEW = "new"
    HERE = "here already"
    OTHERWISE = "here, understood otherwise"
    TWIN = "twice in the table"
    BESIDE = "day already written"
    FAULTY = "cannot be read"
    LEFT_OUT = "left out"


@dataclass(frozen=True, slots=True, kw_only=True)
class AdoptionWishes:
    """How the table is to be understood. `means` maps words of the table to IDs of the build; `hours_are` tells
    whether a figure is the time of `each` person or the `total` of all. `beside` tells whether a row of a day that has
    an entry is added or left out, `keep_twins` the same of one that repeats another; None where nobody said.
    """

    order: DateOrder = DateOrder.ISO
    hours_are: str = "each"
    means: Mapping[str, str] = field(default_factory=dict)
    assembly: str | None = None
    people: tuple[str, ...] = ()
    beside: bool | None = None
    keep_twins: bool | None = None
    only_rows: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class AdoptionPlan:
    """One line of the report: a row or a day of photos, its fate, and the entry it becomes or is.

    `row` is None for a day that only photos tell of. `marks` are sixteen digits each that stand for the content of the
    row, the first as it is told now, others as before; `raw` for the row as it stands. `guess` tells which assembly is
    taken, and why, where the row names none. `figures` are hours by column of the table (under the empty text all of
    them), `minutes` what they come to. `entry` is the entry as the reader reads it.
    """

    row: int | None
    fate: Fate
    said: str = ""
    draft: Draft | None = None
    marks: tuple[str, ...] = ()
    raw: str = ""
    problems: tuple[Problem, ...] = ()
    guess: str = ""
    unit: str = "row"
    remarks: tuple[str, ...] = ()
    figures: Mapping[str, Fraction] = field(default_factory=dict)
    minutes: int = 0
    entry: Entry | None = None

    @property
    def new(self) -> Draft | None:
        """The entry that is to be written, or what comes into one that is there."""
        return self.draft if self.fate is Fate.NEW else None


def read_plans(build: Build, sheet: Spreadsheet, wishes: AdoptionWishes, file: Path) -> list[AdoptionPlan]:
    """Every row as the entry that it tells of, or as a faulty line; nothing is held against the build's entries yet."""
    reader = _RowReader(build, wishes, file, sheet.unit)
    return _within_a_day([reader.read(row) for row in sheet.rows], build, file, sheet)


def plan_days(
    journal: Journal, sheet: Spreadsheet, found: Found | Sequence[Incoming], wishes: AdoptionWishes, file: Path = Path()
) -> list[AdoptionPlan]:
    """What becomes of every row of the table `file` and of every photo, proved with the reader."""
    build, taken = journal.build, taken_names(journal.root)
    fresh = list(found.fresh) if isinstance(found, Found) else list(found)
    rows = read_plans(build, sheet, wishes, file)
    if isinstance(found, Found) and any(row.pictures for row in sheet.rows):
        rows, fresh = _with_pictures(rows, sheet, found)
    adopted = read_adopted(journal.root)
    plans = plan_rows(rows, build, adopted, taken, wishes)
    plans = [plan for plan in plans if not wishes.only_rows or plan.row in wishes.only_rows]
    return prove(journal.root, plan_photos(fresh, plans, build, taken, wishes))


def builders_of(build: Build) -> tuple[str, ...]:
    """Who worked where an entry does not say."""
    return tuple(one.id for one in build.people.values() if one.role is Role.BUILDER)


# -- reading rows ----------------------------------------------------------------------------------


class _RowReader:
    """Reads the rows of a table with the words of the build, as the reader knows them, and what `--means` says."""

    def __init__(self, build: Build, wishes: AdoptionWishes, file: Path, unit: str) -> None:
        self.build, self.wishes, self.file, self.unit = build, wishes, file, unit
        self.last = ("", "")
        if build.entries and unit == "note":
            self.last = (build.entries[-1].assembly, "as in the last entry")
        self.known = known_ids(build)
        self.zone = ZoneInfo(build.zone) if build.zone else None
        self.means = {fold_name(word): identifier for word, identifier in wishes.means.items()}
        self.figures: dict[str, Fraction] = {}
        self.marked: dict[str, tuple[str, ...]] = {}

    def read(self, row: SheetRow) -> AdoptionPlan:
        """The entry that a row tells of, or a faulty line of the plan with its problems."""
        last = self.last
        plan = self._plan(row)
        if plan.draft and row.earlier is not None:
            after, self.last = self.last, last
            older = self._plan(replace(row, cells=row.earlier, earlier=None))
            self.last = after
            plan = replace(plan, marks=plan.marks + older.marks)
        return plan

    def _plan(self, row: SheetRow) -> AdoptionPlan:
        self.row, self.notes, self.guess, self.clock = row, Notes(row.file or str(self.file)), "", ""
        self.figures, self.marked, self.minutes = {}, {}, 0
        draft = self._read()
        raw = _digest(row.raw or "\x1f".join(f"{key} {one}" for key, told in row.cells.items() for one in told))
        plan = AdoptionPlan(row=row.number, fate=Fate.FAULTY, raw=raw, unit=self.unit, remarks=row.remarks)
        plan = replace(plan, figures=self.figures, minutes=self.minutes, guess=self.guess)
        if draft is None or self.notes.errors or row.problems:
            return replace(plan, problems=(*row.problems, *map(self._of_row, self.notes.problems)))
        usual = self.build.assemblies[draft.assembly].title
        title = draft.title or first_words(_PICTURE_SIGN.sub("", draft.body), LONGEST_TITLE) or usual
        from_file = one_line(row.file or self.file.name)
        origin = f"From {from_file}{'' if row.file else f', {self.unit} {row.number}'}."
        body = draft.body if self.unit == "post" else plain_markdown(draft.body, comments=self.unit == "row")
        # A guess may come out otherwise another time; the same words are the same row all the same.
        told = replace(draft, hours=self.marked, body=_PICTURE_SIGN.sub("", draft.body))
        mark = _mark_of(replace(told, assembly="") if self.guess else told)
        entry = replace(draft, title=title, body=body, origin=(origin, *filter(None, [self.clock])))
        return replace(plan, fate=Fate.NEW, marks=(mark,), draft=entry)

    def _of_row(self, problem: Problem) -> Problem:
        """A problem at the line of the row, and with its number."""
        unknown = problem.word in ("unknown-assembly", "unknown-person", "unknown-place")
        hint = f'{problem.hint} (or say what it means, with --means "WORD=ID")' if unknown else problem.hint
        message = f"{self.unit} {self.row.number}: {problem.message}"
        return replace(problem, line=self.row.line, column=1, message=message, hint=hint)

    def _read(self) -> Draft | None:
        row, wishes = self.row, self.wishes
        day = self._date()
        assembly = wishes.assembly or ""
        if named := row.text("assembly"):
            assembly = self._id("assembly", named)
            self.last = (assembly, "as in the note before") if self.unit == "note" else self.last
        people = tuple(self._id("person", word) for word in split_words(row.text("people"))) or wishes.people
        steps, begun, redone = (self._steps(key) for key in ("steps", "begun", "redone"))
        if not assembly and not named:
            assembly = self._guess_assembly((*steps, *begun, *redone))
        hours = self._hours(people, day)
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
            draft=row.draft,
        )

    def _guess_assembly(self, steps: Sequence[str]) -> str:
        assembly, why = guess_assembly(self.build, steps, self.last)
        said, hint = _NO_ASSEMBLY[self.unit]
        if assembly:
            self.guess = f"Assembly: {assembly} ({why})"
            self.last = (assembly, "as in the note before") if self.unit == "note" else self.last
        elif self.unit == "row" or not self.notes.errors:
            self.notes.error(None, "cell-empty", said, hint)
        return assembly

    def _date(self) -> date | None:
        text = self.row.text("date")
        if not text and not self.row.problems:
            self.notes.error(None, "cell-empty", "no date", "fill it in, or take the row out")
        day = parse_any_date(text, self.wishes.order)
        others = {one: other for one in DateOrder if (other := parse_any_date(text, one))}
        days = [day] if day else list(dict.fromkeys(others.values()))
        hint = f"say how dates are written: {' or '.join(f'--dates {one.value}' for one in others)}"
        if days and all(one > today() for one in days):
            self.notes.error(
                None, "future-date", f'"{text}" has not come yet', "look at its year; work to come is no entry"
            )
        elif len(days) > 1:
            self.notes.error(None, "bad-date", f'"{text}" can be {" or ".join(map(say_date, days))}', hint)
        elif re.fullmatch(r"[0-9]{5}(\.0)?", text):
            hint = "show that column as dates, and save it again"
            self.notes.error(None, "bad-date", f'"{text}" is a number by which spreadsheets count days', hint)
        elif told := wrong_weekday(text):
            self.notes.error(
                None, "bad-date", f"{say_date(told)} was a {WEEKDAYS[told.weekday()]}", "correct one of the two"
            )
        elif text and not day:
            self.notes.error(None, "bad-date", f'"{text}" is not a date', hint if days else "write it like 2026-02-07")
        return day

    def _id(self, kind: str, word: str) -> str:
        means = self.means.get(fold_name(word))
        text = means if means is not None and means in (self.known.lists[kind] or {}) else word
        return self.known.id(Scalar(text=text, where=(1, 1)), kind, self.notes) or ""

    def _steps(self, key: str) -> tuple[str, ...]:
        return split_steps("\n".join(self.row.cells.get(key, ())), self.known, self.notes)

    def _hours(self, people: tuple[str, ...], day: date | None) -> dict[str, tuple[str, ...]]:
        hours: dict[str, tuple[str, ...]] = {}
        for column in [column for column in self.row.cells if column.partition(":")[0] == "hours"]:
            who, text = column.partition(":")[2], self.row.text(column)
            person = self._id("person", who) if who else ""
            parts = parse_any_hours(text) or ()
            if parts and _minutes(parts) <= DAY:
                hours[person], self.figures[column] = parts, self._figure(text, day)
            elif parts:
                hint = "correct it (90 minutes are written 90 min), or give each day a row of its own"
                self.notes.error(None, "too-many-hours", f'"{text}" is more hours than a day has', hint)
            else:
                self._not_hours(text)
        self.marked = dict(hours)
        if "" in hours and len(hours) > 1:
            del hours[""], self.figures["hours"]
            self._agree(self.row.text("hours"), sum(self.figures.values(), Fraction()))
        for text in self.row.cells.get("same", ()):
            parts = parse_any_hours(text) or ()
            if parts and "hours" in self.figures:
                self._agree(text, self.figures["hours"])
            elif parts and not hours:
                hours[""], self.figures["hours"] = parts, self._figure(text, day)
            elif not hours and CLOCK not in self.row.cells:
                self._not_hours(text)
        if spans := self.row.cells.get(CLOCK):
            self._clock_times(spans, hours, day)
        self.figures[""] = sum(self.figures.values(), Fraction())
        self.minutes = sum(_minutes(parts, day, self.zone) for parts in hours.values())
        if self.wishes.hours_are == "total" and "" in hours:
            hours = {**_shared_out(hours.pop(""), people or builders_of(self.build)), **hours}
            self.marked = hours
        return hours

    def _not_hours(self, text: str) -> None:
        said, hint = "is not a time worked", "write 3:15, 3.25, 3,25 or 18:30-21:45"
        if re.search(r"\d\s*[ap]\.?m\.?$", text, re.IGNORECASE):
            said, hint = "is a time of the day and no time worked", "write 14:30-17:00, or how long, like 2:30"
        self.notes.error(None, "bad-hours", f'"{text}" {said}', hint)

    def _figure(self, text: str, day: date | None = None) -> Fraction:
        exact = exact_hours(text)
        return Fraction(_minutes(parse_any_hours(text) or (), day, self.zone), 60) if exact is None else exact

    def _agree(self, text: str, figure: Fraction) -> bool:
        """Two columns that say how long was worked say the same; figures may be rounded in their last place."""
        agree = abs(self._figure(text) - figure) <= rounding(text) + rounding(self.row.text("hours"))
        if not agree:
            hint = 'mend the one that is wrong, or leave its column out with --map "HEADING=-"'
            self.notes.error(None, "hours-differ", f"one column says {text}, the other {say_hours(figure)}", hint)
        return agree

    def _clock_times(self, spans: tuple[str, ...], hours: dict[str, tuple[str, ...]], day: date | None) -> None:
        """Hours from beginnings, ends and breaks, held against the hours that the row tells beside them."""
        parts = parse_any_hours("; ".join(spans))
        if parts is None:
            hint = "write clock times like 18:30 or 6:30pm"
            self.notes.error(None, "bad-hours", f'"{"; ".join(spans)}" is not from when to when', hint)
            return
        for part in parts:
            start, end = parse_span(part) or (0, 0)
            if end > DAY and start < DAY // 2 and not re.search("[ap]", part):
                hint = "write the hours of the afternoon as 13 to 24, or with am and pm"
                self.notes.error(None, "bad-hours", f"{part} would go on through the night", hint)
                return
        pauses = [re.sub(r"^([5-9]|[0-9]{2,3})$", r"\1 min", one) for one in self.row.cells.get(BREAK, ())]
        for unread in (one for one in pauses if not parse_any_hours(one)):
            self._not_hours(unread)
        pause = sum(_minutes(parse_any_hours(one) or ()) for one in pauses)
        worked = _minutes(parts, day, self.zone) - pause
        self.clock = f"At work {', '.join(parts)}, less {say_hours(Fraction(pause, 60))}." if pause else ""
        if worked <= 0:
            self.notes.error(None, "bad-hours", f"the break is as long as the time from {parts[0]}", "mend one of them")
        elif hours:
            figure = self.row.text("hours") or self.row.text("same")
            agrees = "" in hours and self._agree(figure, Fraction(worked, 60))
            if agrees and not pause and self.figures["hours"] * 60 == worked:
                hours[""] = parts
            self.clock = self.clock or f"At work {', '.join(parts)}."
        else:
            hours[""] = parts if not pause else (f"{worked // 60}:{worked % 60:02d}",)
            self.marked = dict(hours)
            self.figures["hours"] = Fraction(worked, 60)


def _minutes(parts: tuple[str, ...], day: date | None = None, zone: ZoneInfo | None = None) -> int:
    """What times in the form of `hours` come to, as the reader counts them."""
    items = Items(nodes=tuple(Scalar(text=part, where=(1, 1)) for part in parts), where=(1, 1))
    amount = parse_amount(items, day or date(2000, 1, 15), zone, Notes(""))
    return amount.minutes if amount else 0


def _shared_out(parts: tuple[str, ...], people: tuple[str, ...]) -> dict[str, tuple[str, ...]]:
    """A total of all, shared out evenly to the minute; what is left over goes to the first."""
    each, over = divmod(_minutes(parts), max(len(people), 1))
    return {
        person: (f"{(each + (number < over)) // 60}:{(each + (number < over)) % 60:02d}",)
        for number, person in enumerate(people)
    }


def _within_a_day(plans: Sequence[AdoptionPlan], build: Build, file: Path, sheet: Spreadsheet) -> list[AdoptionPlan]:
    """The plans; those that together let a person work more than 24 hours on a day are faulty."""
    worked: dict[tuple[date, str], list[tuple[int, int]]] = defaultdict(list)
    for place, plan in enumerate(plans):
        for who, parts in (plan.draft.hours if plan.draft else {}).items():
            assert plan.draft
            for person in (who,) if who else plan.draft.people or builders_of(build):
                worked[plan.draft.date, person].append((place, _minutes(parts)))
    result = list(plans)
    for (day, _), told in worked.items():
        if (total := sum(minutes for _, minutes in told)) <= DAY:
            continue
        rows = say_few([str(plans[place].row) for place, _ in told], 6)
        said = f"{plans[0].unit}s {rows} come to {say_hours(Fraction(total, 60))} hours on {say_date(day)}"
        hint = "a day has 24 for each person; correct them, or the date of one"
        for place in (place for place, _ in told if result[place].fate is not Fate.FAULTY):
            row = sheet.rows[place]
            problem = error(row.file or str(file), (row.line, 1), "too-many-hours", said, hint)
            result[place] = replace(plans[place], fate=Fate.FAULTY, problems=(problem,))
    return result


def _with_pictures(
    plans: Sequence[AdoptionPlan], sheet: Spreadsheet, found: Found
) -> tuple[list[AdoptionPlan], list[Incoming]]:
    """(the plans with the pictures of posts at their places in the text, the pictures that no post shows)."""
    known = {item.path: item for item in found.media}
    elsewhere = {item.path: place for item, place in found.here}
    shown = {known[picture.path].sha256 for row in sheet.rows for picture in row.pictures if picture.path in known}
    result = []
    for plan, row in zip(plans, sheet.rows, strict=True):
        taken = [known[one.path] for one in row.pictures if one.path in known and one.path not in elsewhere]
        placed = place_names({item.sha256 or item.path: item for item in taken}.values())
        names = {item.sha256 or item.path: item.name for item in placed}
        remarks, signs = list(plan.remarks), []
        for one in row.pictures:
            item = known.get(one.path)
            name = names.get(item.sha256 or item.path) if item else None
            signs.append(f"![{one.caption}]({quote(name)})" if name else one.caption)
            if not name:
                why = f"is in the journal already, in {elsewhere[one.path]}" if item else "cannot be read"
                remarks.append(f"the picture {one.path.name} {why}")
        if draft := plan.draft:
            body = _PICTURE_SIGN.sub(lambda sign, signs=signs: signs[int(sign[1])], draft.body)  # type: ignore[misc]
            draft = replace(draft, body=body, placed=placed)
        result.append(replace(plan, draft=draft, remarks=tuple(remarks)))
    return result, [item for item in found.fresh if item.sha256 not in shown or not item.sha256]


# -- planning --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Adopted:
    """Rows that were adopted before: where the entry of each mark lies, and the marks in a file of content/entries."""

    places: Mapping[str, str] = field(default_factory=dict)
    files: Mapping[str, frozenset[str]] = field(default_factory=dict)


def _digest(text: str) -> str:
    return sha256(text.encode()).hexdigest()[:16]


def _mark_of(row: Draft) -> str:
    told = [row.date.isoformat(), row.assembly, row.title, row.body, *map(str, sorted(row.hours.items()))]
    told += [",".join(items) for items in (row.steps, row.begun, row.redone, row.people, row.tools, row.methods)]
    return _digest("\x1f".join([*told, row.place]))


def read_adopted(root: Path) -> Adopted:
    """What was adopted before, under any name and in any folder, whether or not its text can be read."""
    places: dict[str, str] = {}
    files: dict[str, frozenset[str]] = {}
    for item in (item for item in told_below(root, ENTRIES)[1] if item.is_text):
        text = (read_bytes(root / ENTRIES / item.name, Notes("")) or b"").decode("utf-8", "replace").replace("\r", "\n")
        told = _MARK.findall(text.partition("\n---")[0] + "\n")
        places = {**dict.fromkeys(told, item.name.removesuffix("/index.md")), **places}
        files[f"{ENTRIES}/{item.name}"] = frozenset(told)
    return Adopted(places=places, files=files)


def plan_rows(
    read: Sequence[AdoptionPlan], build: Build, adopted: Adopted, taken: Sequence[str], wishes: AdoptionWishes
) -> list[AdoptionPlan]:
    """What becomes of each row. `taken` are names of folders that are there."""
    there: dict[tuple[date, str], list[Entry]] = defaultdict(list)
    for entry in (*build.entries, *build.drafts):
        there[entry.date, entry.assembly].append(entry)
    alike: dict[str, list[int | None]] = defaultdict(list)
    plans, firsts, names = [], {}, list(taken)
    for plan in read:
        alike[plan.raw].append(plan.row)
        plan = replace(plan, raw=_numbered(plan.raw, len(alike[plan.raw])))
        if plan.fate is not Fate.FAULTY:
            alike[plan.marks[0]].append(plan.row)
            firsts[plan.row], count = alike[plan.marks[0]][0], len(alike[plan.marks[0]])
            plan = replace(plan, marks=tuple(_numbered(one, count) for one in plan.marks))
        plans.append(plan)
    ours = {one for plan in plans for one in (*plan.marks, plan.raw)}
    for place, plan in enumerate(plans):
        if (draft := plan.draft) is None or plan.fate is Fate.FAULTY:
            continue
        # An entry that came from another row of this table says nothing against this one.
        there_already = there[draft.date, draft.assembly]
        strange = [entry for entry in there_already if not adopted.files.get(entry.src_uri, frozenset()) & ours]
        known = [adopted.places[one] for one in plan.marks if one in adopted.places]
        fate, said, folder = Fate.NEW, "", known[0] if known else ""
        if known:
            fate = Fate.HERE
        elif plan.raw in adopted.places:
            fate, said = Fate.OTHERWISE, adopted.places[plan.raw]
        elif firsts[plan.row] != plan.row and not wishes.keep_twins:
            fate, said = Fate.TWIN, f"the same as {plan.unit} {firsts[plan.row]}; --keep-twins adds it all the same"
        elif strange and not wishes.beside:
            hint = f"--beside adds the {plan.unit} beside it, --not-beside leaves it out"
            fate, said = Fate.BESIDE, f"{strange[0].id}; {hint}"
        else:
            folder = folder_name(draft.date, draft.title, names)
            names.append(folder)
        origin = (*draft.origin, f"adopted: {plan.marks[0]}", f"adopted as it stands: {plan.raw}")
        plans[place] = replace(plan, fate=fate, said=folder or said, draft=replace(draft, folder=folder, origin=origin))
    return plans


def _numbered(mark: str, count: int) -> str:
    return mark if count == 1 else _digest(f"{mark} {count}")


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
            assembly = next(filter(None, (named_assembly(name, build) for name in _names_of(item)[1:])), "")
            groups.setdefault((day, assembly), []).append(item)
    names = [*taken, *(plan.new.folder for plan in plans if plan.new)]
    for (day, assembly), photos in sorted(groups.items(), key=lambda item: item[0]):
        same = {number: plan.new.assembly for number, plan in enumerate(result) if plan.new and plan.new.date == day}
        fitting = [number for number, its in same.items() if its == assembly or (len(same) == 1 and not assembly)]
        if fitting and (draft := result[fitting[0]].draft):
            draft = replace(draft, placed=place_names([*draft.placed, *photos]))
            result[fitting[0]] = replace(result[fitting[0]], draft=draft)
            continue
        result.append(_own_day(day, assembly or wishes.assembly or "", photos, build, names))
        if draft := result[-1].draft:
            names.append(draft.folder)
    if undated:
        said = f"no day is known of: {', '.join(one.name for one in undated)}"
        result.append(AdoptionPlan(row=None, fate=Fate.LEFT_OUT, said=said))
    return result


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


def named_assembly(text: str, build: Build, means: Mapping[str, str] | None = None) -> str:
    """The assembly that a few words name by its title, its ID or a word that `means` it, the longest of them; or an
    empty text.
    """
    bare = f" {fold_name(re.sub(r'[-_.,:;()/0-9]+', ' ', text))} "
    names = {
        fold_name(word): identifier for word, identifier in (means or {}).items() if identifier in build.assemblies
    }
    for one in build.assemblies.values():
        names = {fold_name(one.title): one.id, one.id.replace("-", " "): one.id, **names}
    return names[max(fitting, key=len)] if (fitting := [name for name in names if f" {name} " in bare]) else ""


def _names_of(item: Incoming) -> list[str]:
    inside = item.shown.partition(" » ")
    path = PurePosixPath((inside[2] or item.shown).replace("\\", "/"))
    return [path.name, *(parent.name for parent in path.parents if parent.name), *([inside[0]] if inside[2] else [])]


# -- proof -----------------------------------------------------------------------------------------


def prove(root: Path, plans: Sequence[AdoptionPlan]) -> list[AdoptionPlan]:
    """The plans with what the reader itself makes of new entries, which are read in a folder of their own first: the
    entry, or what it objects to.
    """
    new = [plan.new for plan in plans if plan.new and not plan.new.into]
    texts = {draft.file: (render_entry(draft), [one.name for one in draft.placed]) for draft in new}
    entries, objections = prove_entries(root, texts)
    result = []
    for plan in plans:
        if plan.new and not plan.new.into:
            found = tuple(objections.get(plan.new.file, ()))
            fate, problems = (Fate.FAULTY, found) if found else (plan.fate, plan.problems)
            plan = replace(plan, entry=entries.get(plan.new.file), fate=fate, problems=problems)
        result.append(plan)
    return result
