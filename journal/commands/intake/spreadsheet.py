"""A table as spreadsheet programs save it: any separator, any column order, headings in any words.

The build's own CSV files are read strictly (`journal.reading.table`); this reader is for what
comes from elsewhere and is about to be brought into their form.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from journal.base.addresses import fold_name
from journal.base.problems import Problem, did_you_mean
from journal.reading.table import read_records
from journal.reading.text import MAX_FILE_BYTES, Notes, decode_text

SEPARATORS = (",", ";", "\t", "|")


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRow:
    """One data row: `number` counts from 1, `line` is where it begins in the file, from 1.

    `cells` maps a column of ours to the texts found for it: several where several headings of the
    file were mapped to it, in the order of the file. Empty cells are left out. `problems` are those that its reader
    found already.
    """

    number: int
    line: int
    cells: Mapping[str, tuple[str, ...]]
    problems: tuple[Problem, ...] = ()

    def text(self, column: str) -> str:
        """The first text of a column, or an empty one."""
        return next(iter(self.cells.get(column, ())), "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Spreadsheet:
    """The rows that could be read, and the headings that nothing was made of. `unit` is what one row is called."""

    rows: tuple[SheetRow, ...] = ()
    unused: tuple[str, ...] = ()
    unit: str = "row"


def read_spreadsheet(
    path: Path,
    columns: Mapping[str, Sequence[str]],
    required: Sequence[str],
    mapping: Mapping[str, str],
    notes: Notes,
) -> Spreadsheet | None:
    """The rows of a table with a heading line, or None with errors noted.

    `columns` maps each column of ours to other words it goes by; `mapping` maps headings of this
    file to columns of ours and wins. A column of the form `hours:ada` is known where `hours` is.
    Understood: UTF-8 with or without a byte-order mark, UTF-16 with one, and, with a finding,
    Windows-1252; commas, semicolons, tabs or bars; `sep=;` on the first line; quoted line breaks.
    """
    text = read_any_text(path, notes)
    if text is None:
        return None
    said = re.match(r"sep=([^\w\s\"]|\t)[ \t]*(?=\n|\Z)", text, re.IGNORECASE)
    # Else the one that stands most often in the heading, outside quotes.
    bare = "".join(next((line for line in text.split("\n") if line.strip()), "").split('"')[::2])
    separator = said[1] if said else max(SEPARATORS, key=bare.count)
    told: list[tuple[int, list[str]]] = []
    with notes.watching() as watch:
        for line, fields, _ in read_records(text[said.end() :] if said else text, separator, notes):
            if any(field.strip() for field in fields):
                told.append((line, [field.strip() for field in fields]))
    if watch.failed:
        return None
    if not told:
        notes.error((1, 1), "no-heading", "the table is empty", f"its first line names columns: {', '.join(columns)}")
        return None
    heading = [" ".join(field.split()) for field in told[0][1]]
    wanted = _place_headings(heading, columns, required, mapping, told[0][0], notes)
    if wanted is None:
        return None
    rows = []
    for number, (line, fields) in enumerate(told[1:], start=1):
        cells: dict[str, tuple[str, ...]] = {}
        for column, field in zip(wanted, fields, strict=False):
            if column is not None and field:
                cells[column] = (*cells.get(column, ()), field)
        rows.append(SheetRow(number=number, line=line, cells=cells))
    unused = tuple(name for name, column in zip(heading, wanted, strict=True) if column is None and name)
    return Spreadsheet(rows=tuple(rows), unused=unused)


def read_any_text(path: Path, notes: Notes) -> str | None:
    """A text in UTF-8, UTF-16 or, with a finding, Windows-1252; None with an error."""
    try:
        if path.stat().st_size > MAX_FILE_BYTES:
            notes.error(None, "file-too-large", "larger than 16 MiB", "name a table, saved as CSV")
            return None
        data = path.read_bytes()
    except OSError as trouble:
        notes.error(None, "file-unreadable", f"cannot be read: {trouble.strerror or trouble}")
        return None
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return decode_text(data.decode("utf-16", "replace").encode(), notes)
    if b"\x00" in data:
        hint = "save the table as CSV; a spreadsheet's own format is not read"
        notes.error(None, "not-text", "holds NUL bytes", hint)
        return None
    try:
        data.decode()
    except UnicodeDecodeError as trouble:
        where = (data.count(b"\n", 0, trouble.start) + 1, 1)
        hint = "check that the accented letters are right"
        notes.finding(where, "not-utf8", "not UTF-8; read as Windows-1252", hint)
        data = data.decode("cp1252", "replace").encode()
    return decode_text(data, notes)


def _place_headings(
    heading: Sequence[str],
    columns: Mapping[str, Sequence[str]],
    required: Sequence[str],
    mapping: Mapping[str, str],
    line: int,
    notes: Notes,
) -> list[str | None] | None:
    """The column of ours for each heading, None for one that is not used; None where it cannot work."""
    own = {fold_name(name): column for name, column in mapping.items()}
    by_word = {fold_name(word): column for column, words in columns.items() for word in (column, *words)}
    before = notes.errors
    for name, column in mapping.items():
        if fold_name(name) not in {fold_name(found) for found in heading}:
            notes.error((line, 1), "unknown-column", f'there is no column "{name}"', did_you_mean(name, heading))
        if column.partition(":")[0] not in columns:
            notes.error((line, 1), "unknown-column", f'"{column}" is no column here', did_you_mean(column, columns))
    taken = set(own.values())
    placed: list[str | None] = []
    for folded in map(fold_name, heading):
        guess = by_word.get(folded)
        placed.append(own.get(folded) or (guess if guess not in taken else None))
        taken.add(placed[-1] or "")
    for column in [column for column in required if column not in placed]:
        message = f'no column for "{column}" among: {", ".join(filter(None, heading)) or "nothing"}'
        notes.error((line, 1), "column-missing", message, f'say which it is with --map "HEADING={column}"')
    return placed if notes.errors == before else None
