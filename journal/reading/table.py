"""CSV files (RFC 4180, UTF-8) as rows of texts with places."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TypeVar

from journal.base.model import Where
from journal.base.problems import did_you_mean
from journal.reading.form import parse_date
from journal.reading.text import Notes, decode_text, read_text

T = TypeVar("T")

MAX_FIELD = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One field: its text, trimmed, and where it stands. A missing field is an empty text."""

    text: str
    where: Where
    column: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One data row; `number` counts data rows from 1, `where` is where it begins."""

    number: int
    where: Where
    cells: dict[str, Cell]

    def text(self, column: str) -> str:
        """The text in a column."""
        return self.cells[column].text


class Table:
    """A CSV file read against its known columns; problems name row and column."""

    def __init__(self, rows: Sequence[Row], notes: Notes) -> None:
        self.rows = rows
        self.notes = notes

    def __iter__(self) -> Iterator[Row]:
        return iter(self.rows)

    def error(self, row: Row, column: str, word: str, message: str, hint: str = "") -> None:
        """Note an error in a cell."""
        self.notes.error(row.cells[column].where, word, self._said(row, column, message), hint)

    def finding(self, row: Row, column: str, word: str, message: str, hint: str = "") -> None:
        """Note a finding in a cell."""
        self.notes.finding(row.cells[column].where, word, self._said(row, column, message), hint)

    @staticmethod
    def _said(row: Row, column: str, message: str) -> str:
        return f'row {row.number}, column "{column}": {message}'

    def required(self, row: Row, column: str) -> str | None:
        """The text, or None with an error where it is empty."""
        if text := row.text(column):
            return text
        self.error(row, column, "cell-empty", "nothing stands here", "fill it in")
        return None

    def date(self, row: Row, column: str) -> date | None:
        """The date, or None (with an error where it is not one)."""
        text = row.text(column)
        if not text:
            return None
        trial = Notes(self.notes.file)
        day = parse_date(text, row.cells[column].where, trial)
        for problem in trial.problems:
            self.error(row, column, problem.word, problem.message, problem.hint)
        return day

    def parsed(
        self, row: Row, column: str, parse: Callable[[str], T | None], word: str, what: str, example: str
    ) -> T | None:
        """`parse` of the text; None for an empty cell, None with an error for one it cannot read."""
        text = row.text(column)
        if not text:
            return None
        value = parse(text)
        if value is None:
            self.error(row, column, word, f'"{text}" is not {what}', f"write it like {example}")
        return value


def parse_whole(text: str) -> int | None:
    """A whole number of at most nine digits, or None."""
    return int(text) if text.isascii() and text.isdigit() and len(text) <= 9 else None


def read_table(path: Path, required: Sequence[str], optional: Sequence[str], notes: Notes) -> Table:
    """The rows of a CSV file whose heading names `required` and perhaps `optional` columns.

    An empty table, with errors noted, where the file cannot be read or the heading lacks a
    required column. A row with too many fields is an error; blank rows are passed over.
    """
    text = read_text(path, notes)
    return parse_table(text, required, optional, notes) if text is not None else Table((), notes)


def decode_table(data: bytes, required: Sequence[str], optional: Sequence[str], notes: Notes) -> Table:
    """`read_table` for bytes already in memory."""
    text = decode_text(data, notes)
    return parse_table(text, required, optional, notes) if text is not None else Table((), notes)


def parse_table(text: str, required: Sequence[str], optional: Sequence[str], notes: Notes) -> Table:
    """`read_table` for text already in memory."""
    columns = (*required, *optional)
    rows: list[Row] = []
    heading: list[str] | None = None
    for line, fields, starts in _records(text, notes):
        if not any(field.strip() for field in fields):
            continue
        if heading is None:
            heading = [field.strip().casefold() for field in fields]
            if not _check_heading(heading, starts, line, columns, required, notes):
                return Table((), notes)
            continue
        number = len(rows) + 1
        if len(fields) > len(heading) and any(field.strip() for field in fields[len(heading) :]):
            notes.error(
                (line, starts[len(heading)]),
                "too-many-fields",
                f"row {number} has {len(fields)} fields, the heading {len(heading)}",
                "put a field that holds a comma in double quotes",
            )
            continue
        cells = {column: Cell(text="", where=(line, starts[-1] + len(fields[-1])), column=column) for column in columns}
        for column, field, start in zip(heading, fields, starts, strict=False):
            if column in cells:
                cells[column] = Cell(text=field.strip(), where=(line, start), column=column)
        rows.append(Row(number=number, where=(line, 1), cells=cells))
    if heading is None:
        notes.error((1, 1), "no-heading", "the table is empty", f"the first line is: {','.join(columns)}")
    return Table(rows, notes)


def _check_heading(
    heading: list[str],
    starts: list[int],
    line: int,
    columns: Sequence[str],
    required: Sequence[str],
    notes: Notes,
) -> bool:
    if len(heading) == 1 and (";" in heading[0] or "\t" in heading[0]):
        notes.error(
            (line, 1),
            "not-commas",
            "the fields are not separated by commas",
            "save the table as CSV with commas (RFC 4180)",
        )
        return False
    for column, start in zip(heading, starts, strict=True):
        if column and column not in columns:
            notes.finding(
                (line, start),
                "unknown-column",
                f'column "{column}" is not read',
                did_you_mean(column, columns),
            )
        elif column and heading.count(column) > 1:
            notes.error((line, start), "column-twice", f'column "{column}" is there twice', "keep one")
            return False
    missing = [column for column in required if column not in heading]
    for column in missing:
        notes.error(
            (line, 1),
            "column-missing",
            f'column "{column}" is missing',
            f"the heading is: {','.join(columns)}",
        )
    return not missing


def _records(text: str, notes: Notes) -> Iterator[tuple[int, list[str], list[int]]]:
    """(line, fields, column where each field starts) of each record; `csv` does the parsing."""
    lines = text.split("\n")
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    csv.field_size_limit(max(csv.field_size_limit(), MAX_FIELD))
    while True:
        line = reader.line_num + 1
        try:
            fields = next(reader)
        except StopIteration:
            return
        except csv.Error as trouble:
            where = (min(reader.line_num, len(lines)) or 1, 1)
            hint = 'a field with a double quote in it goes in double quotes, the quote doubled: "1/8"" rivet"'
            notes.error(where, "csv-syntax", f"cannot be read from line {line} on: {trouble}", hint)
            return
        yield line, fields, _starts(lines[line - 1], len(fields))


def _starts(line: str, count: int) -> list[int]:
    """Columns (from 1) where the fields of a record begin; for one over several lines, as far as
    its first line tells."""
    starts = [1]
    quoted = False
    for offset, char in enumerate(line):
        if char == '"':
            quoted = not quoted
        elif char == "," and not quoted:
            starts.append(offset + 2)
    starts += [starts[-1]] * (count - len(starts))
    return starts[:count] or [1]
