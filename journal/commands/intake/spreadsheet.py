"""What a table of work days says: which row is its heading, which column is what, which rows are work and which totals.

The build's own CSV files are read strictly (`journal.reading.table`); this reader is for what comes from elsewhere, in
rows of cells (`grids`), and is about to be brought into their form.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from journal.base.addresses import fold_name
from journal.base.formatting import cut_short, say_all, say_count, say_few
from journal.base.problems import Problem, did_you_mean
from journal.commands.intake.columns import BREAK, COLUMNS, FINISH, START, TOTAL, bare_heading, column_of, in_minutes
from journal.commands.intake.grids import Grid, read_grids
from journal.commands.intake.lenient_parsing import DateOrder, exact_hours, parse_any_date, parse_any_hours
from journal.reading.form import KnownIds
from journal.reading.text import Notes

ABOVE = 40
"""Rows among which the heading is looked for."""

LONGEST_CELL = 20_000

CLOCK = "clock"
"""The spans that columns of beginnings and ends tell of a row, like `18:30-21:45`."""

MINUTES = "minutes"
"""A column of the minutes that come to whole hours in another."""

UNUSED = "-"
"""The column of `--map "HEADING=-"`: nothing is made of it."""

SEVERAL = frozenset({"text", "steps", "begun", "redone", "same", START, FINISH, BREAK, TOTAL, UNUSED})
"""Columns that a table may have several of; of any other all but one would be lost."""

ALL_COLUMNS = (*COLUMNS, START, FINISH, BREAK, TOTAL)

_SURE_HOURS = re.compile(r"\b(?:hours?|hrs|st(?:un)?d|stunden|heures?)\b")
_NOTHING = frozenset({"-", "–", "—", "n/a", "none", "nil", "k.a.", "./."})
_TOTAL_WORD = re.compile(
    r"\b(?:(?:sub|grand)?[ -]?totals?|total g[eé]n[eé]ral|sum|(?:zwischen|gesamt|monats|jahres|end)?summe|gesamt|"
    r"insgesamt|(?:sous-)?total|somme|[üu]bertrag|carried forward|brought forward|to date|cumul)\b|"
    r"^(?:[àa] )?report(?:er)?$|^[Σ∑]",
    re.IGNORECASE,
)

_OF_MONEY = re.compile(
    r"cost|price|paid|invoice|supplier|vendor|order|mail|phone|address|preis|betrag|kosten|rechnung|lieferant|bestell|"
    r"prix|co[uû]t|facture|fournisseur|commande|adresse",
    re.IGNORECASE,
)
"""Columns that are no story of the work, and of which none is made one because it is long."""
_FIGURE_BEHIND = re.compile(r"[:=]\s*([\d.,:½¼¾]+(?:\s*[^\W\d_]+\.?)?)\s*$")


@dataclass(frozen=True, slots=True, kw_only=True)
class PostPicture:
    """A picture that a post shows: where it lies, and what stands below it."""

    path: Path
    caption: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRow:
    """One data row: `number` counts from 1, `line` is where it begins in the file, from 1.

    `cells` maps a column of ours to the texts found for it: several where several headings of the
    file were mapped to it, in the order of the file. Empty cells are left out. `earlier` are the cells as versions
    before would have told them, where they differ. `raw` is the row as it stands. `problems` are those that its reader
    found already, `remarks` what else is to be said of it. `pictures` belong to a post, at the signs that stand for
    them in its text; `file` is where it comes from, where several files make one table.
    """

    number: int
    line: int
    cells: Mapping[str, tuple[str, ...]]
    problems: tuple[Problem, ...] = ()
    earlier: Mapping[str, tuple[str, ...]] | None = None
    raw: str = ""
    remarks: tuple[str, ...] = ()
    pictures: tuple[PostPicture, ...] = ()
    file: str = ""
    draft: bool = False

    def text(self, column: str) -> str:
        """The first text of a column, or an empty one."""
        return next(iter(self.cells.get(column, ())), "")


@dataclass(frozen=True, slots=True, kw_only=True)
class TotalRow:
    """A row in which a table adds up itself: what it is called, the figures under their columns, and how many rows of
    the table stood above it.
    """

    line: int
    label: str
    cells: Mapping[str, str]
    above: int
    since: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Spreadsheet:
    """The rows that could be read, and the headings that nothing was made of. `unit` is what one row is called. `told`
    are lines on what was understood of the table as a whole; `totals` belong to a table each. `files` are
    those of posts.
    """

    rows: tuple[SheetRow, ...] = ()
    unused: tuple[str, ...] = ()
    unit: str = "row"
    told: tuple[str, ...] = ()
    totals: tuple[tuple[tuple[SheetRow, ...], tuple[TotalRow, ...]], ...] = ()
    files: tuple[Path, ...] = ()


def heading_score(grid: Grid, mapping: Mapping[str, str] | None = None) -> int:
    """How much of a table's best heading is understood."""
    return max((_score(cells, _own(mapping or {})) for _, cells in grid.rows[:ABOVE]), default=0)


def _score(cells: Sequence[str], own: Mapping[str, str]) -> int:
    meant = {own.get(fold_name(cell)) or column_of(cell) for cell in cells if cell and len(cell) <= 60} - {None}
    return len(meant) if "date" in meant else 0


def _own(mapping: Mapping[str, str]) -> dict[str, str]:
    return {fold_name(name): column for name, column in mapping.items()}


def read_tables(
    path: Path,
    grids: Sequence[Grid],
    mapping: Mapping[str, str],
    known: KnownIds,
    notes: Notes,
    sheets: Sequence[str],
    *,
    has_assembly: bool,
) -> Spreadsheet | None:
    """The rows of all tables of a file that hold work days, or None with errors noted; the others are told.

    `mapping` maps headings of this file to columns of ours and wins. A column of the form `hours:ada` is known where
    `hours` is. Where nothing but the table can tell an assembly (`has_assembly` is not said), it must have a column.
    """
    names = [grid.name for grid in grids]
    for name in [name for name in sheets if name not in names]:
        notes.error(None, "unknown-sheet", f'there is no sheet "{name}"', did_you_mean(name, names))
    if sheets and notes.errors:
        return None
    wanted = [grid for grid in grids if (grid.name in sheets if sheets else heading_score(grid, mapping) > 1)]
    best = sorted(grids, key=lambda grid: -heading_score(grid, mapping))[:1]
    tables = [_Table(path, grid, mapping, known) for grid in wanted or best]
    if not sheets and any(table.has_hours for table in tables):
        tables = [table for table in tables if table.has_hours]
    headings = [name for table in tables for name in table.heading]
    if not _check_heading(tables[0].line if tables else 1, headings, mapping, ALL_COLUMNS, notes):
        return None
    read: list[SheetRow] = []
    for table in tables:
        table.check(notes, has_assembly=has_assembly)
        table.read(len(read))
        read += table.rows
    if notes.errors:
        return None
    told = [line for table in tables for line in table.told()]
    others = [name for name in names if name not in [table.grid.name for table in tables]]
    told += [f'"{name}" holds no work days with hours, and is left out; --sheet "{name}" takes it.' for name in others]
    unused = dict.fromkeys(name for table in tables for name in table.unused)
    totals = tuple((tuple(table.rows), tuple(table.totals)) for table in tables)
    return Spreadsheet(rows=tuple(read), unused=tuple(unused), told=tuple(told), totals=totals)


def read_spreadsheet(
    path: Path,
    columns: Mapping[str, Sequence[str]],
    required: Sequence[str],
    mapping: Mapping[str, str],
    notes: Notes,
) -> Spreadsheet | None:
    """The rows of a table whose first row names `columns`, each with other words it goes by; None with errors noted."""
    grids = read_grids(path, lambda grid: 0, notes)
    line, first = (grids[0].rows or ((1, ()),))[0] if grids else (1, ())
    heading = [" ".join(field.split()) for field in first]
    if notes.errors or not _check_heading(line, heading, mapping, [*columns], notes):
        return None
    placed = _exactly(heading, columns, mapping)
    for column in [column for column in required if column not in placed]:
        _lacking(column, heading, line, f'say which it is with --map "HEADING={column}"', notes)
    if notes.errors:
        return None
    rows = [
        SheetRow(
            number=number,
            line=line,
            cells={one: (cell,) for one, cell in zip(placed, told, strict=False) if one and cell},
        )
        for number, (line, told) in enumerate(grids[0].rows[1:], start=1)
    ]
    unused = tuple(name for name, column in zip(heading, placed, strict=True) if column is None and name)
    return Spreadsheet(rows=tuple(rows), unused=unused)


def _exactly(
    heading: Sequence[str], columns: Mapping[str, Sequence[str]], mapping: Mapping[str, str]
) -> list[str | None]:
    """The column for each heading that is one of its words; the first of several."""
    own = _own(mapping)
    by_word = {fold_name(word): column for column, words in columns.items() for word in (column, *words)}
    taken = set(own.values())
    placed: list[str | None] = []
    for folded in map(fold_name, heading):
        guess = by_word.get(folded)
        placed.append(own.get(folded) or (guess if guess not in taken else None))
        taken.add(placed[-1] or "")
    return placed


def _lacking(column: str, heading: Sequence[str], line: int, hint: str, notes: Notes) -> None:
    message = f'no column for "{column}" among: {", ".join(filter(None, heading)) or "nothing"}'
    notes.error((line, 1), "column-missing", message, hint)


def _check_heading(
    line: int, heading: Sequence[str], mapping: Mapping[str, str], columns: Sequence[str], notes: Notes
) -> bool:
    """Whether there is a heading at all; an error for what `mapping` names and is not there, or is no column."""
    if not heading:
        notes.error((1, 1), "no-heading", "the table is empty", f"its first line names columns: {', '.join(columns)}")
    for name, column in mapping.items() if heading else ():
        if fold_name(name) not in set(map(fold_name, heading)):
            notes.error((line, 1), "unknown-column", f'there is no column "{name}"', did_you_mean(name, heading))
        if column.partition(":")[0] not in (*columns, UNUSED):
            notes.error((line, 1), "unknown-column", f'"{column}" is no column here', did_you_mean(column, columns))
    return bool(heading)


@dataclass(slots=True)
class _Table:
    """One table being read: its rows so far, the totals between them, and what stands there beside both."""

    path: Path
    grid: Grid
    mapping: Mapping[str, str]
    known: KnownIds
    line: int = 1
    heading: list[str] = field(default_factory=list)
    placed: list[str | None] = field(default_factory=list)
    earlier: list[str | None] = field(default_factory=list)
    first: int = 0
    unclear: list[tuple[str, str]] = field(default_factory=list)
    rows: list[SheetRow] = field(default_factory=list)
    totals: list[TotalRow] = field(default_factory=list)
    between: list[str] = field(default_factory=list)
    sections: list[str] = field(default_factory=list)
    nameless: list[str] = field(default_factory=list)
    filled: int = 0

    def __post_init__(self) -> None:
        rows = self.grid.rows
        if not rows:
            return
        scores = [_score(cells, _own(self.mapping)) for _, cells in rows[:ABOVE]]
        place = scores.index(max(scores))
        self.line, told, self.first = rows[place][0], rows[place][1], place + 1
        below = rows[self.first][1] if self.first < len(rows) and max(scores) else ()
        named = [cell for cell in below if cell]
        if len(named) > 1 and all(len(cell) < 40 and column_of(cell) for cell in named):
            # A heading of two lines: `Time` over `From` and `To`.
            told = tuple(low or high for high, low in itertools.zip_longest(told, below, fillvalue=""))
            self.first += 1
        self.heading = [" ".join(cell.split()) for cell in told]
        self._place()

    # -- which column is what

    def _place(self) -> None:
        """The column of ours for each heading, None for one that is not used."""
        own = _own(self.mapping)
        self.earlier = _exactly(self.heading, COLUMNS, self.mapping)
        self.placed = [own.get(fold_name(name)) or self._guess(place) for place, name in enumerate(self.heading)]
        by_person = any(one and ":" in one for one in self.placed)
        for place in self._free():
            name = self.heading[place]
            if name and (self._sure(place) or (by_person and self._holds_hours(place))):
                hint = f'say it with --map "{name}=hours:ID", or leave it out with --map "{name}=-"'
                self.unclear.append((f'nobody can say whose hours "{name}" are', hint))
        both = START in self.placed and FINISH in self.placed
        if TOTAL in self.placed and not both and not any(one and one.startswith("hours") for one in self.placed):
            self._take_total(self.placed.index(TOTAL))
        # Of several columns of hours the one that says so comes first, and the others have to agree with it.
        hours = sorted(self._places("hours"), key=lambda place: not self._sure(place))
        for place in hours[1:] if "hours" not in own.values() else ():
            self.placed[place] = self._beside_hours(place, hours[0])
        for once in set(COLUMNS) - {"text", "hours"}:
            # Of `Day` and `Date` the one that holds days.
            days = sorted(self._places(once), key=lambda place: -sum(map(_is_day, self._column(place))))
            for place in (days if once == "date" else self._places(once))[1:]:
                self.placed[place] = own.get(fold_name(self.heading[place]))
        longest = max(self._free(), key=self._prose, default=None)
        if "text" not in self.placed and longest is not None and self._prose(longest):
            self.placed[longest] = "text"
        for column in sorted({one for one in self.placed if one and self.placed.count(one) > 1} - SEVERAL):
            said = f"several columns are {column}: {say_all([self.heading[place] for place in self._places(column)])}"
            self.unclear.append((said, 'leave out all but one, with --map "HEADING=-"'))
        if not both:
            self.placed = [None if one in (START, FINISH, BREAK) else one for one in self.placed]

    def _guess(self, place: int) -> str | None:
        name = self.heading[place]
        column = column_of(name) if name else None
        if column is None and name:
            bare = re.sub(r"\b(?:h|time|zeit)\b", " ", _SURE_HOURS.sub(" ", bare_heading(name)))
            meant = self.known.meant(" ".join(bare.split()), "person")
            column = f"hours:{meant[0]}" if len(meant) == 1 and self._holds_hours(place) else None
        return None if column in self.mapping.values() and column not in ("text", "hours") else column

    def _take_total(self, place: int) -> None:
        """The hours of rows are called a total, and nothing else tells them."""
        name, told = self.heading[place], [exact_hours(cell) or 0 for cell in self._column(place) if cell]
        self.placed[place] = "hours"
        if len(told) > 2 and told == sorted(told):
            hint = f'if each row tells its own, say it with --map "{name}=hours"; else write the hours of each row'
            self.unclear.append((f'"{name}" grows from row to row: it may be the sum up to each day', hint))

    def _beside_hours(self, place: int, hours: int) -> str | None:
        """What a further column of hours is: the same once more, the minutes to whole hours, or when work began."""
        pairs = [pair for pair in zip(self._column(place), self._column(hours), strict=True) if all(pair)]
        if all(re.fullmatch("[0-5]?[0-9]", one) and other.isdecimal() for one, other in pairs) and pairs:
            return MINUTES if in_minutes(self.heading[place]) else "same"
        clocks = all(re.fullmatch(r"[0-9]{1,2}:[0-9]{2}(?:\s*[ap]m)?", one, re.IGNORECASE) for one, _ in pairs)
        return None if clocks and all(exact_hours(one) != exact_hours(other) for one, other in pairs) else "same"

    @property
    def since(self) -> int:
        """How many rows stood above the last total."""
        return self.totals[-1].above if self.totals else 0

    def _places(self, column: str | None) -> list[int]:
        return [place for place, one in enumerate(self.placed) if one == column]

    def _free(self) -> list[int]:
        return [place for place in self._places(None) if not _OF_MONEY.search(self.heading[place])]

    def _column(self, place: int) -> list[str]:
        return [cells[place] if place < len(cells) else "" for _, cells in self.grid.rows[self.first :]]

    def _sure(self, place: int) -> bool:
        return bool(_SURE_HOURS.search(bare_heading(self.heading[place])))

    def _holds_hours(self, place: int) -> bool:
        cells = list(filter(None, self._column(place)))
        return bool(cells) and all(parse_any_hours(cell) or cell in _NOTHING for cell in cells)

    def _prose(self, place: int) -> int:
        """How much prose a column holds: letters in cells of several words."""
        return sum(len(cell) for cell in self._column(place) if len(re.findall(r"[^\W\d_]{2,}", cell)) > 1)

    @property
    def has_hours(self) -> bool:
        """Whether a column tells how long was worked."""
        return START in self.placed or any(one and one.startswith("hours") for one in self.placed)

    @property
    def unused(self) -> list[str]:
        """Headings of which nothing is made."""
        return [self.heading[place] for place in self._places(None) if self.heading[place]]

    def check(self, notes: Notes, *, has_assembly: bool) -> None:
        """Note an error for a column that must be there and is not, and for one that can be meant in several ways."""
        if "date" not in self.placed:
            _lacking("date", self.heading, self.line, 'say which it is with --map "HEADING=date"', notes)
        if "assembly" not in self.placed and not has_assembly and not self._assembly(self.grid.name):
            hint = 'say which it is with --map "HEADING=assembly", or name one for all with --assembly'
            _lacking("assembly", self.heading, self.line, hint, notes)
        for said, hint in self.unclear:
            notes.error((self.line, 1), "column-unclear", said, hint)

    def _assembly(self, name: str) -> str:
        """The assembly that a sheet, or a line between the days, is named after."""
        meant = self.known.meant(name, "assembly") if name else []
        return meant[0] if len(meant) == 1 else ""

    # -- which row is what

    def read(self, before: int) -> None:
        """Read the rows of work; `before` is how many the file had in other tables."""
        section = self._assembly(self.grid.name)
        heading = [name.casefold() for name in self.heading if name]
        for number, (line, fields) in enumerate(self.grid.rows[self.first :], start=before + 1):
            told, cells = [cell for cell in fields if cell], self._cells(fields, self.placed)
            if [cell.casefold() for cell in told] == heading:
                continue  # repeated at the head of a sheet of paper
            if total := self._total(line, fields, cells):
                self.totals.append(total)
            elif len(told) == 1 and set(cells) <= {"date", "assembly"} and not _is_day(told[0]):
                section = self._assembly(told[0]) or section
                (self.sections if self._assembly(told[0]) else self.between).append(told[0])
            elif self.rows and set(cells) == {"text"} and "assembly" in self.placed:
                last = self.rows[-1]
                more = {**last.cells, "text": (*last.cells.get("text", ()), *cells["text"])}
                self.rows[-1] = replace(last, cells=more, raw="\x1f".join([last.raw, *told]))
            else:
                self.rows.append(self._row(number, line, fields, cells, section))

    def _cells(self, fields: Sequence[str], placed: Sequence[str | None]) -> dict[str, tuple[str, ...]]:
        cells: dict[str, tuple[str, ...]] = {}
        for place, (column, cell) in enumerate(zip(placed, fields, strict=False)):
            if column in (None, UNUSED, START, FINISH) or not cell:
                continue
            assert column
            if column.partition(":")[0] in ("hours", "same", BREAK, TOTAL):
                if cell.casefold() in _NOTHING:
                    continue
                if placed is self.placed and in_minutes(self.heading[place]) and re.fullmatch(r"[0-9]+", cell):
                    cell = f"{cell} min"
            cells[column] = (*cells.get(column, ()), cell)
        if minutes := cells.pop(MINUTES, ()):
            cells["hours"] = (f"{cells.get('hours', ('0',))[0]}:{int(minutes[0]):02d}",)
        return cells

    def _row(
        self, number: int, line: int, fields: tuple[str, ...], cells: dict[str, tuple[str, ...]], section: str
    ) -> SheetRow:
        notes, earlier = Notes(str(self.path)), self._cells(fields, self.earlier)
        raw = [self.grid.name, *fields]
        before = self.rows[-1].cells if self.rows else {}
        if "date" not in cells and "date" in before and set(cells) - {"assembly"}:
            cells["date"] = before["date"]
            raw.append(before["date"][0])
            self.filled += 1
            if "assembly" in self.placed and "assembly" in before:
                cells.setdefault("assembly", before["assembly"])
        if section:
            cells.setdefault("assembly", (section,))
        names = itertools.zip_longest(fields, self.heading, self.placed, fillvalue="")
        self.nameless += [cell for cell, name, column in names if cell and not name and not column]
        if spans := self._spans(fields):
            cells[CLOCK] = tuple("-".join(ends) for ends in spans if all(ends))
            for start, end in (ends for ends in spans if not all(ends)):
                said = f"the {'beginning at ' + start if start else 'end at ' + end} stands alone"
                notes.error((line, 1), "clock-open", said, "fill in the other time, or empty both")
        for cell in (one for one in fields if len(one) > LONGEST_CELL):
            hint = f"no more than {LONGEST_CELL:,} are taken; divide it, or empty it"
            said = f'a cell holds {len(cell):,} letters: "{cut_short(cell, 30)}"'
            notes.error((line, 1), "cell-too-long", said, hint)
        row = SheetRow(number=number, line=line, cells=cells, problems=tuple(notes.problems))
        return replace(row, earlier=earlier if earlier != cells else None, raw="\x1f".join(filter(None, raw)))

    def _spans(self, fields: Sequence[str]) -> list[tuple[str, str]]:
        """The beginnings and ends of a row, in pairs as the columns stand."""
        ends: dict[str | None, list[str]] = {START: [], FINISH: []}
        for column, cell in zip(self.placed, fields, strict=False):
            whole = re.sub(r"^([0-9]{1,2})$", r"\1:00", "" if cell in _NOTHING else cell)
            ends.get(column, []).append(re.sub(r"^([0-9]+:[0-9]+):[0-9]{2}\b", r"\1", whole))
        return [pair for pair in itertools.zip_longest(ends[START], ends[FINISH], fillvalue="") if any(pair)]

    def _total(self, line: int, fields: Sequence[str], cells: Mapping[str, tuple[str, ...]]) -> TotalRow | None:
        """The total that a row is, or None: no day, a word that says so or none, and figures."""
        if any(_is_day(text) for text in cells.get("date", ())):
            return None
        words = [cell for cell in fields if cell and not parse_any_hours(cell) and not re.search(r"^[\d.,:\s]+$", cell)]
        named = [word for word in words if _TOTAL_WORD.search(word) and len(word.split()) <= 4]
        figures = {
            column: told[0]
            for column, told in cells.items()
            if column.partition(":")[0] in ("hours", "same", TOTAL) and parse_any_hours(told[0])
        }
        behind = [found[1] for word in named if (found := _FIGURE_BEHIND.search(word))]
        if not figures and named and (told := [cell for cell in (*behind, *fields) if parse_any_hours(cell)]):
            figures = {"hours": told[-1]}
        if not figures or len(words) > len(named) + bool(named) or any(self._spans(fields)):
            return None
        if not named and (words or "date" in cells or not self._adds_up(*next(iter(figures.items())))):
            return None
        return TotalRow(line=line, label=" ".join(words), cells=figures, above=len(self.rows), since=self.since)

    def _adds_up(self, column: str, figure: str) -> bool:
        """Whether a row of figures alone is the sum of those above it, all of them or since the last such row."""
        above = [exact_hours(row.text(column)) or 0 for row in self.rows]
        return len(above) - self.since > 1 and exact_hours(figure) in (sum(above), sum(above[self.since :]))

    def told(self) -> list[str]:
        """What was understood of the table, line by line."""
        sheet = f', "{self.grid.name}"' if self.grid.name else ""
        pairs = [
            f"{name} is {column}{', in minutes' if column == 'hours' and in_minutes(name) else ''}"
            for name, column in zip(self.heading, self.placed, strict=True)
            if name and column
        ]
        above = [cell for _, cells in self.grid.rows[: self.first - 1] for cell in cells if cell]
        above = [cut_short(one, 60).rstrip(".") for one in above if one not in self.heading]
        carried = [f'"{one.label} {next(iter(one.cells.values()))}"' for one in self.totals if not one.above]
        sums = [f'"{total.label}" {", ".join(total.cells.values())}' for total in self.totals if total.above]
        figures = [cell for place in self._places("hours") for cell in self._column(place) if cell]
        parts = len(figures) > 2 and all(re.search(r"[.,](?:00|15|30|45)$", cell) for cell in figures)
        between, nameless = ([cut_short(one, 40) for one in told] for told in (self.between, self.nameless))
        said: list[tuple[Any, str]] = [
            (pairs, f"{self.path.name}{sheet}, heading on line {self.line}: {', '.join(pairs)}."),
            (above, f"Above the heading, left out: {say_few(above)}."),
            (self.sections, f"Lines between the days, the assembly of the rows below: {say_few(self.sections)}."),
            (nameless, f"Under no heading, left out: {say_few(nameless)}."),
            (between, f"Lines between the days, left out: {say_few(between)}."),
            (carried, f"Before the first day stands {say_few(carried)}; it is no work of a day, and no entry."),
            (sums, f"{say_count(len(sums), 'total')} of its own: {say_few(sums)}."),
            (
                self._places("hours") and not figures,
                "Its column of hours holds nothing; where it is reckoned, save the table anew, with its figures.",
            ),
            (
                parts,
                f"Hours like {''.join(figures[:1])} are parts of an hour; if they are hours and minutes, write them "
                "with `:`.",
            ),
            (self.filled, f"{say_count(self.filled, 'row')} without a date: of the day above."),
        ]
        return [text for fits, text in said if fits]


def _is_day(text: str) -> bool:
    return any(parse_any_date(text, order) for order in DateOrder)
