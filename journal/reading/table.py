"""CSV files (RFC 4180, and what spreadsheets make of it) as rows of texts with places."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any, TypeVar, get_type_hints

from journal.base.model import Where
from journal.base.problems import did_you_mean
from journal.base.table_text import UnreadableError, column_name, in_utf8, parted_by, read_fields
from journal.reading.dates import parse_date
from journal.reading.text import Notes, decode_text, read_bytes

T = TypeVar("T")

_hints = cache(get_type_hints)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One data row; `number` counts data rows from 1, `where` is where it begins. `cells` hold for every known
    column the text, trimmed, and its place; a missing field is an empty text. Problems name row and column.
    """

    number: int
    where: Where
    cells: Mapping[str, tuple[str, Where]]
    notes: Notes

    def text(self, column: str) -> str:
        """The text in a column."""
        return self.cells[column][0]

    def error(self, column: str, word: str, message: str, hint: str = "") -> None:
        """Note an error in a cell."""
        self.notes.error(self.cells[column][1], word, self._said(column, message), hint)

    def finding(self, column: str, word: str, message: str, hint: str = "") -> None:
        """Note a finding in a cell."""
        self.notes.finding(self.cells[column][1], word, self._said(column, message), hint)

    def _said(self, column: str, message: str) -> str:
        return f'row {self.number}, column "{column}": {message}'

    def name(self, column: str, kind: str, identifier: str) -> None:
        """Note that a cell names something, or lists it."""
        self.notes.name(kind, identifier, *self.cells[column])

    def required(self, column: str) -> str | None:
        """The text, or None with an error where it is empty."""
        if text := self.text(column):
            return text
        self.error(column, "cell-empty", "this cell is empty", "fill it in")
        return None

    def date(self, column: str) -> date | None:
        """The date, or None (with an error where it is not one)."""
        if not self.text(column):
            return None
        trial = Notes(self.notes.file)
        day = parse_date(*self.cells[column], trial)
        self.take(trial, column)
        return day

    def take(self, trial: Notes, column: str) -> None:
        """Note the problems of `trial`, which are those of a cell, as problems of this row."""
        for problem in trial.problems:
            self.notes.problems.append(replace(problem, message=self._said(column, problem.message)))

    def parsed(self, column: str, parse: Callable[[str], T | None], word: str, what: str, example: str) -> T | None:
        """`parse` of the text; None for an empty cell, None with an error for one it cannot read."""
        text = self.text(column)
        value = parse(text) if text else None
        if text and value is None:
            self.error(column, word, f'"{text}" is not {what}', f"write it like {example}")
        return value

    def whole(self, column: str) -> int | None:
        """The whole number, or None (with an error where it is not one)."""
        return self.parsed(column, parse_whole, "bad-number", "a whole number", "12")

    def record(self, kind: type[T], **given: Any) -> T:
        """The record of this row: a field that goes by the name of a column is read as its type has it (a
        text, a date or a whole number), `where` is the row's place, and what is `given` is given.
        """
        annotated: type = kind
        for field, hint in _hints(annotated).items():
            if field == "where":
                given[field] = self.where
            elif field in self.cells and field not in given:
                read = self.whole if hint == int | None else self.date if hint == date | None else self.text
                given[field] = read(field)
        return kind(**given)


def parse_whole(text: str) -> int | None:
    """A whole number of at most nine digits, or None."""
    return int(text) if re.fullmatch("[0-9]{1,9}", text) else None


def read_table(path: Path, required: Sequence[str], optional: Sequence[str], notes: Notes) -> Sequence[Row]:
    """The rows of a CSV file whose heading names `required` and perhaps `optional` columns.

    None of them, with errors noted, where the file cannot be read or the heading lacks a required
    column. A row with too many fields is an error; blank rows are passed over.
    """
    data = read_bytes(path, notes)
    if data is None:
        return ()
    data, as_latin_1 = in_utf8(data)
    if as_latin_1:
        notes.finding((1, 1), "old-encoding", "this table was read as Latin-1", "save it as UTF-8 (CSV UTF-8)")
    text = decode_text(data, notes)
    return () if text is None else parse_table(text, required, optional, notes)


def parse_table(text: str, required: Sequence[str], optional: Sequence[str], notes: Notes) -> Sequence[Row]:
    """`read_table` for text already in memory. Fields may be parted by semicolons or tabs, as spreadsheets do."""
    columns = (*required, *optional)
    rows: list[Row] = []
    heading: list[str] | None = None
    text, parted = parted_by(text, columns)
    for line, fields, starts in read_records(text, parted, notes):
        if not any(field.strip() for field in fields):
            continue
        if heading is None:
            heading = [column_name(field, columns) for field in fields]
            if not _check_heading(heading, starts, line, columns, required, notes):
                return ()
            continue
        number = len(rows) + 1
        if any(field.strip() for field in fields[len(heading) :]):
            said = f"row {number} has {len(fields)} fields, the heading {len(heading)}"
            hint = "put a field that holds a comma in double quotes"
            notes.error(starts[len(heading)], "too-many-fields", said, hint)
            continue
        cells = dict.fromkeys(columns, ("", (starts[-1][0], starts[-1][1] + len(fields[-1]))))
        for column, field, start in zip(heading, fields, starts, strict=False):
            if column in cells:
                cells[column] = (field.strip(), start)
            elif field.strip() and not column:
                said = f'row {number}: "{field.strip()}" stands under no heading and is not read'
                notes.finding(start, "unknown-column", said, "name the column, or take it out")
        rows.append(Row(number=number, where=(line, 1), cells=cells, notes=notes))
    if heading is None:
        notes.error((1, 1), "no-heading", "the table is empty", f"the first line is: {','.join(columns)}")
    return rows


def _check_heading(
    heading: list[str], starts: list[Where], line: int, columns: Sequence[str], required: Sequence[str], notes: Notes
) -> bool:
    """Whether the table can be read under this heading; what is wrong with it is noted."""
    for column, start in zip(heading, starts, strict=True):
        if column and column not in columns:
            hint = did_you_mean(column, columns)
            notes.finding(start, "unknown-column", f'column "{column}" is not read', hint)
        elif column and heading.count(column) > 1:
            notes.error(start, "column-twice", f'column "{column}" is there twice', "keep one")
            return False
    missing = [column for column in required if column not in heading]
    for column in missing:
        hint = f"the heading is: {','.join(columns)}"
        notes.error((line, 1), "column-missing", f'column "{column}" is missing', hint)
    return not missing


def read_records(text: str, parted: str, notes: Notes) -> Iterator[tuple[int, list[str], list[Where]]]:
    """(line, fields, where each field begins) of each record; what cannot be read is noted."""
    lines = text.split("\n")
    try:
        for line, fields in read_fields(text, parted):
            yield line, fields, _starts(lines, line, parted, len(fields))
    except UnreadableError as trouble:
        hint = 'a field with a double quote in it goes in double quotes, the quote doubled: "1/8"" rivet"'
        why = "a field is too long" if "limit" in str(trouble) else "a double quote stands where none can be"
        notes.error((trouble.met, 1), "csv-syntax", f"cannot be read from line {trouble.line} on: {why}", hint)


def _starts(lines: Sequence[str], line: int, parted: str, count: int) -> list[Where]:
    """Where the `count` fields of the record that begins in `line` begin; a field in quotes may go on over several."""
    starts = [(line, 1)]
    quoted = False
    for number, told in enumerate(lines[line - 1 :], start=line):
        for offset, char in enumerate(told):
            if char == '"':
                # In the middle of a field without quotes it is a sign like any other (RFC 4180, 2.5).
                quoted = not quoted and (
                    quoted or starts[-1] == (number, offset + 1) or told[offset - 1 : offset] == '"'
                )
            elif char == parted and not quoted:
                starts.append((number, offset + 2))
        if not quoted or len(starts) >= count:
            break
    starts += [starts[-1]] * (count - len(starts))
    return starts[:count] or [(line, 1)]
