"""Notes and photos of earlier years as entries: planned row by row, proved with the reader, then landed.

Running it again adds only what is new: a row is known by its content (a comment in the entry made
from it carries its mark), a photo by its digest.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from enum import Enum
from hashlib import sha256
from pathlib import Path, PurePosixPath

from journal.base.addresses import fold_name
from journal.base.formatting import say_date
from journal.base.model import Build, Role
from journal.base.problems import Grade, Problem, did_you_mean
from journal.base.safe_write import staged
from journal.base.text_files import one_line, yaml_figure, yaml_key, yaml_list, yaml_text
from journal.commands.intake.enter import (
    Draft,
    Placed,
    bring_photos,
    entry_folders,
    folder_name,
    land_entry,
    place_names,
)
from journal.commands.intake.incoming_media import Arrival
from journal.commands.intake.lenient_parsing import (
    DateOrder,
    date_in_name,
    first_words,
    parse_loose_date,
    parse_loose_hours,
    split_steps,
    split_words,
)
from journal.commands.intake.spreadsheet import SheetRow, Spreadsheet
from journal.ledger.journal import CACHE
from journal.reading.build import read_build
from journal.reading.hours import parse_amount
from journal.reading.text import Notes
from journal.reading.tree import Items, Scalar

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

LONGEST_TITLE = 70
_MARK = re.compile(r"^# adopted: ([0-9a-f]{16})\s*$", re.MULTILINE)


class HoursAre(Enum):
    """What a figure in the table counts: each person's time, or that of all together."""

    EACH = "each"
    TOTAL = "total"


class Fate(Enum):
    """What becomes of a row or a day of photos; the value is the word in the report."""

    NEW = "new"
    HERE = "here already"
    TWIN = "twice in the table"
    BESIDE = "day already written"
    FAULTY = "cannot be read"
    LEFT_OUT = "left out"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """How the table is to be understood. `means` maps words of the table to IDs of the build."""

    order: DateOrder = DateOrder.ISO
    hours_are: HoursAre = HoursAre.EACH
    means: Mapping[str, str] = field(default_factory=dict)
    assembly: str | None = None
    people: tuple[str, ...] = ()
    beside: bool = False
    keep_twins: bool = False
    only_rows: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A row of the table, read. `hours` maps a person's ID to texts in the form of `hours`; under the
    empty text stands what counts for each of `people`.
    """

    row: int
    line: int
    date: date
    assembly: str
    title: str
    text: str
    hours: Mapping[str, tuple[str, ...]]
    steps: tuple[str, ...]
    begun: tuple[str, ...]
    redone: tuple[str, ...]
    people: tuple[str, ...]
    place: str
    tools: tuple[str, ...]
    methods: tuple[str, ...]

    @property
    def mark(self) -> str:
        """Sixteen digits that stand for the content of the row."""
        told = [self.date.isoformat(), self.assembly, self.title, self.text, *map(str, sorted(self.hours.items()))]
        told += [",".join(items) for items in (self.steps, self.begun, self.redone, self.people, self.tools)]
        return sha256("\x1f".join([*told, ",".join(self.methods), self.place]).encode()).hexdigest()[:16]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """One line of the report: a row or a day of photos, its fate, and the entry it becomes or is.

    `row` is None for a day that only photos tell of. `photos` come into the entry's folder; where
    `into` is set that is an entry which is there already, and its text is left alone.
    """

    row: int | None
    line: int | None
    fate: Fate
    said: str = ""
    found: Found | None = None
    mark: str = ""
    day: date | None = None
    assembly: str = ""
    folder: str = ""
    into: bool = False
    photos: tuple[Placed, ...] = ()
    problems: tuple[Problem, ...] = ()


# -- reading rows ----------------------------------------------------------------------------------


def read_rows(sheet: Spreadsheet, build: Build, wishes: Wishes, file: str) -> list[Found | Plan]:
    """Each row as what it says, or as a faulty line of the plan with its problems."""
    words = _Words(build, wishes)
    read: list[Found | Plan] = []
    for row in sheet.rows:
        if wishes.only_rows and row.number not in wishes.only_rows:
            continue
        notes = Notes(file)
        found = _read_row(row, build, wishes, words, notes)
        if found is None or notes.errors:
            read.append(Plan(row=row.number, line=row.line, fate=Fate.FAULTY, problems=tuple(notes.problems)))
        else:
            read.append(found)
    return read


class _Words:
    """The words of the table for what the build knows: IDs, titles, names, and what `--means` says."""

    def __init__(self, build: Build, wishes: Wishes) -> None:
        means = {fold_name(word): identifier for word, identifier in wishes.means.items()}
        self.assemblies = {fold_name(word): one.id for one in build.assemblies.values() for word in (one.id, one.title)}
        self.people = {
            fold_name(word): one.id
            for one in build.people.values()
            for word in (one.id, one.name, one.shown_as or one.id)
        }
        self.places = {fold_name(word): one.id for one in build.places.values() for word in (one.id, one.name)}
        for known, table in (
            (build.assemblies, self.assemblies),
            (build.people, self.people),
            (build.places, self.places),
        ):
            table.update({word: identifier for word, identifier in means.items() if identifier in known})


def _read_row(row: SheetRow, build: Build, wishes: Wishes, words: _Words, notes: Notes) -> Found | None:
    where = (row.line, 1)
    said = f"row {row.number}"
    day = _read_date(row, wishes, notes)
    assembly = wishes.assembly or ""
    if named := row.text("assembly"):
        assembly = _known(named, "assembly", words.assemblies, build.assemblies, row, notes)
    elif not assembly:
        notes.error(where, "cell-empty", f"{said}: no assembly", "fill it in, or name one for all with --assembly")
    people = tuple(
        _known(word, "person", words.people, build.people, row, notes) for word in split_words(row.text("people"))
    )
    place = row.text("place")
    steps = {key: _read_steps(key, row, build, notes) for key in ("steps", "begun", "redone")}
    text = "\n\n".join(row.cells.get("text", ()))
    return (
        Found(
            row=row.number,
            line=row.line,
            date=day,
            assembly=assembly,
            title=one_line(row.text("title")),
            text=text,
            hours=_read_hours(row, build, wishes, words, people or wishes.people, notes),
            steps=steps["steps"],
            begun=steps["begun"],
            redone=steps["redone"],
            people=people or wishes.people,
            place=_known(place, "place", words.places, build.places, row, notes) if place else "",
            tools=split_words(row.text("tools")),
            methods=split_words(row.text("methods")),
        )
        if day is not None
        else None
    )


def _read_date(row: SheetRow, wishes: Wishes, notes: Notes) -> date | None:
    text = row.text("date")
    where = (row.line, 1)
    if not text:
        notes.error(where, "cell-empty", f"row {row.number}: no date", "fill it in, or take the row out")
        return None
    day = parse_loose_date(text, wishes.order)
    if day is None:
        orders = [order for order in DateOrder if order is not wishes.order and parse_loose_date(text, order)]
        hint = f"say how dates are written: {' or '.join(f'--dates {order.value}' for order in orders)}"
        notes.error(
            where,
            "bad-date",
            f'row {row.number}: "{text}" is not a date',
            hint if orders else "write it like 2026-02-07",
        )
    return day


def _known(word: str, kind: str, words: Mapping[str, str], known: Iterable[str], row: SheetRow, notes: Notes) -> str:
    found = words.get(fold_name(word))
    if found is None:
        hint = did_you_mean(word, [*known, *words])
        notes.error(
            (row.line, 1),
            f"unknown-{kind}",
            f'row {row.number}: unknown {kind} "{word}"',
            f'{hint} Say what it means with --means "{word}=ID"' if hint.startswith("did") else hint,
        )
        return ""
    return found


def _read_steps(key: str, row: SheetRow, build: Build, notes: Notes) -> tuple[str, ...]:
    steps = split_steps("\n".join(row.cells.get(key, ())), build.steps)
    for step in steps:
        for end in step.split(" to "):
            if end not in build.steps:
                notes.error(
                    (row.line, 1),
                    "unknown-step",
                    f'row {row.number}: unknown step "{end}"',
                    did_you_mean(end, build.steps),
                )
    return steps


def _read_hours(
    row: SheetRow, build: Build, wishes: Wishes, words: _Words, people: tuple[str, ...], notes: Notes
) -> dict[str, tuple[str, ...]]:
    hours: dict[str, tuple[str, ...]] = {}
    for column in row.cells:
        name, _, who = column.partition(":")
        if name != "hours":
            continue
        person = _known(who, "person", words.people, build.people, row, notes) if who else ""
        text = row.text(column)
        parts = parse_loose_hours(text)
        if parts is None:
            notes.error(
                (row.line, 1),
                "bad-hours",
                f'row {row.number}: "{text}" is not a time worked',
                "write 3:15, 3.25, 3,25 or 18:30-21:45",
            )
            continue
        hours[person] = parts
    if wishes.hours_are is HoursAre.TOTAL and "" in hours:
        builders = tuple(one.id for one in build.people.values() if one.role is Role.BUILDER)
        hours = {**_shared_out(hours.pop(""), people or builders), **hours}
    return hours


def _shared_out(parts: tuple[str, ...], people: tuple[str, ...]) -> dict[str, tuple[str, ...]]:
    """A total of all, shared out evenly to the minute; what is left over goes to the first."""
    total = _minutes(parts)
    each, over = divmod(total, max(len(people), 1))
    return {
        person: (f"{(each + (number < over)) // 60}:{(each + (number < over)) % 60:02d}",)
        for number, person in enumerate(people)
    }


def _minutes(parts: tuple[str, ...]) -> int:
    items = Items(nodes=tuple(Scalar(text=part, where=(1, 1)) for part in parts), where=(1, 1))
    amount = parse_amount(items, date(2000, 1, 15), None, Notes(""))
    return amount.minutes if amount else 0


# -- planning --------------------------------------------------------------------------------------


def adopted_marks(root: Path) -> dict[str, str]:
    """Mark -> folder of every entry that was made from a row, whether or not it can be read."""
    marks: dict[str, str] = {}
    for name in entry_folders(root):
        try:
            text = (root / "content/entries" / name / "index.md").read_text("utf-8", "replace")
        except OSError:
            continue
        for mark in _MARK.findall(text.partition("\n---")[0] + "\n"):
            marks.setdefault(mark, name)
    return marks


def plan_rows(
    read: Sequence[Found | Plan], build: Build, marks: Mapping[str, str], taken: Sequence[str], wishes: Wishes
) -> list[Plan]:
    """What becomes of each row. `taken` are names of folders that are there."""
    there: dict[tuple[date, str], str] = {}
    for entry in (*build.entries, *build.drafts):
        there.setdefault((entry.date, entry.assembly), entry.id)
    names = list(taken)
    first: dict[str, int] = {}
    seen: dict[str, int] = {}
    plans: list[Plan] = []
    for one in read:
        if isinstance(one, Plan):
            plans.append(one)
            continue
        number = seen[one.mark] = seen.get(one.mark, 0) + 1
        mark = one.mark if number == 1 else sha256(f"{one.mark} {number}".encode()).hexdigest()[:16]
        base = Plan(
            row=one.row, line=one.line, fate=Fate.NEW, found=one, mark=mark, day=one.date, assembly=one.assembly
        )
        if mark in marks:
            plans.append(replace(base, fate=Fate.HERE, folder=marks[mark], said=marks[mark]))
        elif number > 1 and not wishes.keep_twins:
            said = f"the same as row {first[one.mark]}; --keep-twins adds it all the same"
            plans.append(replace(base, fate=Fate.TWIN, said=said))
        elif (one.date, one.assembly) in there and not wishes.beside:
            other = there[one.date, one.assembly]
            plans.append(replace(base, fate=Fate.BESIDE, said=f"{other}; --beside adds the row beside it"))
        else:
            folder = folder_name(one.date, _title(one, build), names)
            names.append(folder)
            plans.append(replace(base, folder=folder, said=folder))
        first.setdefault(one.mark, one.row)
    return plans


def _title(found: Found, build: Build) -> str:
    return found.title or first_words(found.text, LONGEST_TITLE) or build.assemblies[found.assembly].title


def plan_photos(
    arrivals: Sequence[Arrival], plans: Sequence[Plan], build: Build, taken: Sequence[str], wishes: Wishes
) -> list[Plan]:
    """The plans with photos put to their days, and plans of their own for days that no row tells of.

    The day is that of capture, else the one that the file's or a folder's name tells. The assembly
    is the one that a folder is named after, else that of the only row of the day, else `--assembly`.
    """
    result = list(plans)
    groups: dict[tuple[date, str], list[Arrival]] = {}
    undated: list[Arrival] = []
    for arrival in arrivals:
        day = arrival.day or _named_day(arrival)
        if day is None:
            undated.append(arrival)
        else:
            groups.setdefault((day, _named_assembly(arrival, build)), []).append(arrival)
    names = [*taken, *(plan.folder for plan in plans if plan.fate is Fate.NEW)]
    for (day, assembly), photos in sorted(groups.items(), key=lambda item: item[0]):
        place = _place_for(day, assembly, result)
        if place is not None:
            result[place] = _with_photos(result[place], photos)
            continue
        own = _own_day(day, assembly or wishes.assembly or "", photos, build, names)
        names.append(own.folder)
        result.append(own)
    if undated:
        result.append(
            Plan(
                row=None,
                line=None,
                fate=Fate.LEFT_OUT,
                said=f"no day is known of: {', '.join(one.name for one in undated)}",
            )
        )
    return result


def _with_photos(plan: Plan, photos: Sequence[Arrival]) -> Plan:
    return replace(plan, photos=place_names([*(one.arrival for one in plan.photos), *photos]))


def _place_for(day: date, assembly: str, plans: Sequence[Plan]) -> int | None:
    """Which plan takes the photos of a day: that of the assembly, else the only one of the day."""
    same = [number for number, plan in enumerate(plans) if plan.fate is Fate.NEW and plan.day == day]
    fitting = [number for number in same if plans[number].assembly == assembly]
    if fitting:
        return fitting[0]
    return same[0] if len(same) == 1 and not assembly else None


def _own_day(day: date, assembly: str, photos: Sequence[Arrival], build: Build, names: Sequence[str]) -> Plan:
    base = Plan(row=None, line=None, fate=Fate.NEW, day=day, assembly=assembly, photos=place_names(photos))
    entries = [
        entry
        for entry in (*build.entries, *build.drafts)
        if entry.date == day and (not assembly or entry.assembly == assembly)
    ]
    if len(entries) == 1:
        held = [photo.name for photo in entries[0].photos] + [clip.name for clip in entries[0].clips]
        return replace(
            base,
            assembly=entries[0].assembly,
            folder=entries[0].id,
            into=True,
            photos=place_names(photos, taken=held),
            said=f"into {entries[0].id}, whose text is left alone",
        )
    if assembly not in build.assemblies:
        said = "no folder is named after an assembly; name one for all with --assembly"
        return replace(base, fate=Fate.FAULTY, said=said)
    folder = folder_name(day, f"pictures of {assembly}", names)
    return replace(base, folder=folder, said=folder)


def _named_day(arrival: Arrival) -> date | None:
    """The day that names tell: the file's own first, then its folders' from the inside out."""
    for name in _names_of(arrival):
        if day := date_in_name(name):
            return day
    return None


def _named_assembly(arrival: Arrival, build: Build) -> str:
    """The assembly that one of the folders is named after; the longest title wins, the nearest folder first."""
    for name in _names_of(arrival)[1:]:
        bare = f" {fold_name(re.sub(r'[-_.,0-9]+', ' ', name))} "
        fitting = [
            assembly
            for assembly in build.assemblies.values()
            if f" {fold_name(assembly.title)} " in bare or f" {fold_name(assembly.id.replace('-', ' '))} " in bare
        ]
        if fitting:
            return max(fitting, key=lambda assembly: len(assembly.title)).id
    return ""


def _names_of(arrival: Arrival) -> list[str]:
    inside = arrival.shown.partition(" » ")
    path = PurePosixPath((inside[2] or arrival.shown).replace("\\", "/"))
    return [path.name, *(parent.name for parent in path.parents if parent.name), *([inside[0]] if inside[2] else [])]


# -- the text --------------------------------------------------------------------------------------


def render_adopted(plan: Plan, build: Build, source: str) -> str:
    """index.md of an entry that does not exist yet."""
    found, day = plan.found, plan.day
    assert day is not None
    if found is None:
        lines = [f"title: Pictures of {say_date(day)}", f"date: {day.isoformat()}"]
        lines += [
            f"assembly: {yaml_text(plan.assembly)}",
            "# Brought in from a folder of photos; hours were not recorded.",
        ]
        body = ""
    else:
        lines = [f"title: {yaml_text(_title(found, build))}", f"date: {day.isoformat()}"]
        lines.append(f"assembly: {yaml_text(found.assembly)}")
        lines += [
            f"{key}: {yaml_list(items)}"
            for key, items in (("steps", found.steps), ("begun", found.begun), ("redone", found.redone))
            if items
        ]
        lines += _hours_lines(found.hours)
        lines += [
            f"{key}: {yaml_list(items)}"
            for key, items in (("people", found.people), ("tools", found.tools), ("methods", found.methods))
            if items
        ]
        if found.place:
            lines.append(f"place: {yaml_text(found.place)}")
        lines += [f"# From {one_line(source)}, row {found.row}.", f"# adopted: {plan.mark}"]
        body = plain_markdown(found.text)
    if plan.photos:
        lines.append("photos:")
        lines += [f'  {yaml_key(photo.name)}: ""' for photo in plan.photos]
    return "\n".join(["---", *lines, "---", body, ""])


def _hours_lines(hours: Mapping[str, tuple[str, ...]]) -> list[str]:
    def said(parts: tuple[str, ...]) -> str:
        return yaml_figure(parts[0]) if len(parts) == 1 else yaml_list(parts)

    if set(hours) == {""}:
        return [f"hours: {said(hours[''])}"]
    if not hours:
        return []
    return ["hours:", *(f"  {yaml_key(person)}: {said(parts)}" for person, parts in hours.items() if person)]


def plain_markdown(text: str) -> str:
    """The words of a cell as a body: `#40` at the beginning of a line is no heading, and lines stay lines."""
    lines = [line.strip() for line in text.split("\n")]
    kept = [re.sub(r"^(#|---)", r"\\\1", line) for line in lines]
    return "  \n".join(kept).replace("  \n  \n", "\n\n").replace("\n  \n", "\n\n").strip()


# -- proof and landing -----------------------------------------------------------------------------


def prove(root: Path, plans: Sequence[Plan], build: Build, source: str) -> list[Plan]:
    """The plans with what the reader itself objects to: new entries are read in a folder of their own first."""
    new = {plan.folder: plan for plan in plans if plan.fate is Fate.NEW and not plan.into}
    cache = root / CACHE
    cache.mkdir(exist_ok=True)
    with staged(cache, "trial") as trial:
        (trial / "content/entries").mkdir(parents=True)
        for name in ("build.yml", "steps.csv"):
            if (root / "content" / name).exists():
                shutil.copyfile(root / "content" / name, trial / "content" / name)
        for folder, plan in new.items():
            place = trial / "content/entries" / folder
            place.mkdir()
            (place / "index.md").write_text(render_adopted(plan, build, source), "utf-8")
            for photo in plan.photos:
                (place / photo.name).touch()
        _, problems = read_build(trial, lambda src_uris: {})
    objections: dict[str, list[Problem]] = {}
    for problem in problems:
        parts = problem.file.split("/")
        if problem.grade is Grade.ERROR and parts[1:2] == ["entries"]:
            objections.setdefault(parts[2], []).append(problem)
    return [
        replace(plan, fate=Fate.FAULTY, problems=tuple(objections[plan.folder]))
        if not plan.into and plan.folder in objections
        else plan
        for plan in plans
    ]


def land(
    root: Path, plans: Sequence[Plan], build: Build, source: str, on_entry: Callable[[int, int], None] | None = None
) -> list[str]:
    """Write every new entry, each whole or not at all; the folders that are there now.

    Raises NotWrittenError or OSError with what was written so far in place: running again adds the rest.
    """
    new = [plan for plan in plans if plan.fate is Fate.NEW]
    written = []
    for number, plan in enumerate(new, start=1):
        if plan.into:
            bring_photos(root, plan.folder, plan.photos)
        else:
            assert plan.day is not None
            draft = Draft(folder=plan.folder, date=plan.day, assembly=plan.assembly, placed=plan.photos)
            land_entry(root, draft, render_adopted(plan, build, source))
        written.append(plan.folder)
        if on_entry is not None:
            on_entry(number, len(new))
    return written
