"""Tables as they stand in files, in rows of cells: CSV of every dialect, workbooks, tables in Markdown and HTML.

What the cells mean is not asked here (`spreadsheet`).
"""

from __future__ import annotations

import contextlib
import json
import re
import subprocess
import sys
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from journal.reading.table import read_records
from journal.reading.text import Notes, decode_text, read_bytes

WORKBOOKS = frozenset({".xlsx", ".xlsm", ".ods", ".xls", ".xlsb"})
HTML, MARKDOWN = frozenset({".html", ".htm", ".xhtml"}), frozenset({".md", ".markdown"})
FEEDS = frozenset({".xml", ".atom", ".rss", ".rdf"})

SEPARATORS = (",", ";", "\t", "|")

MAX_UNPACKED_BYTES = 256 << 20
"""What a workbook, which is a zip, may hold at most."""

MAX_MEMORY_BYTES = 4 << 30

MAX_ROWS = 50_000

_RULE = re.compile(r"\|?\s*:?-+:?\s*(?:\|\s*:?-+:?\s*)*\|?")
"""The line below the heading of a table in Markdown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """A table as it stands: each row with the line of the file, or the row of the sheet, on which it begins (from 1).
    `name` is that of its sheet, empty where the file has but one.
    """

    rows: tuple[tuple[int, tuple[str, ...]], ...]
    name: str = ""


def read_grids(path: Path, judge: Callable[[Grid], int], notes: Notes) -> list[Grid]:
    """The tables of a file of any kind; nothing, with errors noted, where it cannot be read. Of the signs that can part
    its fields that one does of which `judge` makes most.
    """
    ending = path.suffix.casefold()
    if ending in WORKBOOKS:
        return _workbook(path, notes)
    if (text := read_any_text(path, notes)) is None:
        return []
    if ending in HTML:
        from bs4 import BeautifulSoup

        return _html_tables(BeautifulSoup(text, "lxml"))
    return _pipe_tables(text) or ([] if ending in MARKDOWN else _separated(text, judge, notes))


def read_any_text(path: Path, notes: Notes) -> str | None:
    """A text in UTF-8, UTF-16 or, with a finding, Windows-1252; None with an error."""
    data = read_bytes(path, notes)
    if data is None:
        return None
    try:
        data = data.decode("utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8").encode()
    except UnicodeDecodeError as trouble:
        where = (data.count(b"\n", 0, trouble.start) + 1, 1)
        notes.finding(where, "not-utf8", "not UTF-8; read as Windows-1252", "check that the accented letters are right")
        data = data.decode("cp1252", "replace").encode()
    return decode_text(data, notes)


def _separated(text: str, judge: Callable[[Grid], int], notes: Notes) -> list[Grid]:
    """The one table of a text whose fields are parted by a sign; the one that it names (`sep=;`) wins."""
    said = re.match(r"sep=([^\w\s\"]|\t)[ \t]*(?=\n|\Z)", text, re.IGNORECASE)
    text = text[said.end() :] if said else text
    # The one that stands most often in the first line, outside quotes, comes first.
    bare = "".join(next((line for line in text.split("\n") if line.strip()), "").split('"')[::2])
    signs = [said[1]] if said else sorted(SEPARATORS, key=bare.count, reverse=True)
    sign = max(signs, key=lambda one: judge(_records(text, one, Notes("")))) if len(signs) > 1 else signs[0]
    with notes.watching() as watch:
        grid = _records(text, sign, notes)
    return [] if watch.failed else [grid]


def _records(text: str, sign: str, notes: Notes) -> Grid:
    told = [(line, _stripped(fields)) for line, fields, _ in read_records(text, sign, notes)]
    return Grid(rows=tuple(row for row in told if any(row[1])))


def _stripped(fields: list[str]) -> tuple[str, ...]:
    return tuple(field.replace("\N{NO-BREAK SPACE}", " ").strip() for field in fields)


def _pipe_tables(text: str) -> list[Grid]:
    """The tables of a text in Markdown: lines of cells between bars, a rule below the first."""
    grids, lines = [], text.split("\n")
    for below in [
        number for number, line in enumerate(lines) if number and "|" in line and _RULE.fullmatch(line.strip())
    ]:
        after = next((number for number in range(below, len(lines)) if "|" not in lines[number]), len(lines))
        rows = [(number + 1, _bars(lines[number])) for number in (below - 1, *range(below + 1, after))]
        grids.append(Grid(rows=tuple(row for row in rows if any(row[1])), name=f"table on line {below}"))
    return grids


def _bars(line: str) -> tuple[str, ...]:
    cells = re.split(r"(?<!\\)\|", line.strip().removeprefix("|"))
    cells = cells[:-1] if len(cells) > 1 and not cells[-1].strip() else cells
    cells = [re.sub(r"^\s*(\*\*|__|\*|_|`)(.+)\1\s*$", r"\2", cell) for cell in cells]  # emphasis
    return _stripped([re.sub(r"<br\s*/?>", "\n", cell).replace("\\|", "|") for cell in cells])


def _html_tables(soup: Any) -> list[Grid]:
    """The tables of a page, taken apart by Beautiful Soup; what spans several rows stands in the first of them."""
    grids = []
    for number, table in enumerate(soup.find_all("table"), start=1):
        covered: set[tuple[int, int]] = set()
        rows = []
        for down, row in enumerate(one for one in table.find_all("tr") if one.find_parent("table") is table):
            cells: dict[int, str] = {}
            across = 0
            for cell in row.find_all(["td", "th"], recursive=False):
                while (down, across) in covered:
                    across += 1
                wide, high = (_span(cell.get(name)) for name in ("colspan", "rowspan"))
                covered |= {(down + one, across + other) for one in range(high) for other in range(wide)}
                for line_break in cell.find_all("br"):
                    line_break.replace_with("\n")
                cells[across] = "\n".join(" ".join(line.split()) for line in cell.get_text().split("\n")).strip()
                across += wide
            told = _stripped([cells.get(place, "") for place in range(max(cells, default=-1) + 1)])
            rows.append((int(row.sourceline or down + 1), told))
        grids.append(Grid(rows=tuple(row for row in rows if any(row[1])), name=f"table {number}"))
    return grids


def _span(text: str | None) -> int:
    return min(max(int(text), 1), 200) if text and text.isdecimal() else 1


def _workbook(path: Path, notes: Notes) -> list[Grid]:
    """The sheets of a workbook; nothing, with an error, where it cannot be read.

    A process of its own reads it: one cell far out makes the library ask for more memory than there is, and end.
    """
    if read_bytes(path, notes) is None:
        return []
    command = "import sys; from journal.commands.intake.grids import print_sheets; print_sheets(sys.argv[1])"
    done = subprocess.run([sys.executable, "-c", command, str(path)], capture_output=True, check=False)
    if done.returncode == 0:
        sheets = json.loads(done.stdout)
        return [Grid(name=name, rows=tuple((line, tuple(cells)) for line, cells in rows)) for name, rows in sheets]
    said = done.stderr.decode("utf-8", "replace").strip() if done.returncode == 2 else "its cells lie too far apart"
    hint = "open it in a spreadsheet program and save the sheet of work days as CSV"
    notes.error(None, "workbook-unreadable", f"cannot be read: {said}", hint)
    return []


def print_sheets(path: str) -> None:
    """Print the sheets of a workbook as JSON; what is wrong with it goes to the other stream, with exit code 2."""
    from python_calamine import CalamineError, CalamineWorkbook

    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MAX_MEMORY_BYTES, MAX_MEMORY_BYTES))
    try:
        if zipfile.is_zipfile(path):
            with zipfile.ZipFile(path) as packed:
                if sum(one.file_size for one in packed.infolist()) > MAX_UNPACKED_BYTES:
                    raise ValueError("it is larger than any table of work days")
        sheets = []
        book = CalamineWorkbook.from_path(path)
        for name in book.sheet_names:
            sheet = book.get_sheet_by_name(name)
            rows = list(_rows(sheet.to_python(), (sheet.start or (0, 0))[0] + 1))
            if len(rows) > MAX_ROWS:
                raise ValueError(f'the sheet "{name}" has more than {MAX_ROWS:,} rows')
            sheets.append((name, rows))
        print(json.dumps(sheets))
    except (CalamineError, zipfile.BadZipFile, ValueError, OSError, KeyError, MemoryError) as trouble:
        print(trouble or "its cells lie too far apart", file=sys.stderr)
        sys.exit(2)


def _rows(rows: list[list[Any]], first: int) -> Iterator[tuple[int, tuple[str, ...]]]:
    for line, row in enumerate(rows, start=first):
        cells = _stripped([_shown(value) for value in row])
        if any(cells):
            yield line, cells


def _shown(value: Any) -> str:
    """A cell as it would be typed: days as 2019-03-14, times as 18:30, spans of time as 26:30, figures as 2.5."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.10g}" if abs(value) < 1e10 else str(value)
    # A time above 24 hours comes as a day at the beginning of the calendar of spreadsheets.
    if isinstance(value, datetime) and value.year <= 1900:
        value = value - datetime(1899, 12, 31 if value < datetime(1900, 3, 1) and value.year == 1900 else 30)
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else f"{value:%Y-%m-%d %H:%M}"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, time):
        value = timedelta(hours=value.hour, minutes=value.minute, seconds=value.second, microseconds=value.microsecond)
    if isinstance(value, timedelta):
        minutes = round(value.total_seconds() / 60)
        return f"{minutes // 60}:{minutes % 60:02d}"
    return str(value)
