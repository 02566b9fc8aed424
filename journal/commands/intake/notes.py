"""Notes of work days as they are dictated or scribbled: a text file in which each day begins with its date.

They come out in the shape of a table, a row for each day, so that whatever takes over a table takes over notes.
No word is lost: what fills no field is text.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from journal.base.addresses import fold_name
from journal.base.formatting import WEEKDAYS, say_few
from journal.commands.intake.grids import read_any_text
from journal.commands.intake.lenient_parsing import (
    DateOrder,
    first_words,
    parse_any_date,
    parse_any_hours,
    split_words,
)
from journal.commands.intake.spreadsheet import SheetRow, Spreadsheet
from journal.reading.dates import is_day, parse_date
from journal.reading.form import KnownIds
from journal.reading.text import Notes
from journal.reading.tree import Scalar

ONCE = frozenset({"date", "assembly", "title", "place"})
"""Fields that a day tells once; others may be told in several lines."""

LONGEST_DAY = 40
"""Letters that a day takes at most, with its day of the week."""

_ORDERS = (DateOrder.DAY_FIRST, DateOrder.MONTH_FIRST)
_BULLET = re.compile(r"^(?:[-*•]|#+)\s+")
_OF_DATE = re.compile(r"^(?:date|day|when)\s*:\s*(?=\S)", re.IGNORECASE)
_SIGN = re.compile(r"\s*([:.,;–—-]?)\s*")
_AFTER_DAY = re.compile(r"(?=[\s:.,;–—-]|$)")
_FIELD = re.compile(r"(?:[-*•]\s+)?(?P<word>[^\W\d_][\w -]*?)\s*:\s*(?P<value>\S.*)")
_FIELD_ENDS = re.compile(r"[,;.](?=\s|$)|\s(?=[–—-]\s)|$")
_WORD_BEFORE = re.compile(r"(?P<word>hours?|time|steps?)\b:?\s*(?P<value>\S.*)", re.IGNORECASE)
_YEAR_OF_TWO = re.compile(r"\d{1,2}([./-])\d{1,2}\1\d{2}(?!\d)")
_MONTH = re.compile(r"[^\W\d_]{3}")
_BEGUN_BY = (":", "–", "—", "-", "")
"""What follows a day, beside fields, where one begins in the middle of a paragraph: these signs, or the line's end."""


@dataclass(slots=True)
class _Day:
    """One day being read: the line on which it begins, what is wrong, the sign behind its date, what its fields and its
    text hold so far.
    """

    line: int
    notes: Notes
    sign: str = ""
    cells: dict[str, list[str]] = field(default_factory=dict)
    text: list[str] = field(default_factory=list)
    written: list[str] = field(default_factory=list)

    def fill(self, column: str, value: str, line: int) -> None:
        """One more value of a field."""
        told = self.cells.setdefault(column, [])
        if told and column in ONCE:
            said = f'the {column} is told twice, "{told[0]}" and "{value}"'
            self.notes.error((line, 1), "told-twice", said, "keep one of them")
        told.append(value)

    def row(self, number: int) -> SheetRow:
        """What is told as the row of a table."""
        cells = {column: ("\n".join(values),) for column, values in self.cells.items()}
        if text := "\n".join(self.text).strip():
            cells["text"] = (text,)
        if not set(cells) - {"date"}:
            self.notes.error((self.line, 1), "note-empty", "nothing is told of this day", "write it, or take it out")
        raw, problems = "\n".join(self.written).strip(), tuple(self.notes.problems)
        return SheetRow(number=number, line=self.line, cells=cells, problems=problems, raw=raw)


def days_told(text: str) -> list[str]:
    """The days with which lines of a text begin, as they are written, in any order of day and month."""
    told = (_begun(_bare(line), _ORDERS) for line in text.split("\n"))
    return [one[0].strip() for one in told if one and len(one[0]) > 5]


def begins_as_notes(text: str) -> bool:
    """Whether the first line of a text begins with a day, as no heading of a table does."""
    line = next((line for line in text.split("\n") if line.strip()), "")
    return bool(days_told(line)) or lacks_year(_bare(line))


def _begun(line: str, orders: Sequence[DateOrder]) -> tuple[str, str, str] | None:
    return next(filter(None, (split_day(line, order) for order in orders)), None)


def read_notes(
    path: Path,
    columns: Mapping[str, Sequence[str]],
    known: KnownIds,
    order: DateOrder | None,
    notes: Notes,
) -> Spreadsheet | None:
    """The days of a text file as rows, or None with an error where it cannot be read or holds nothing.

    `columns` maps each field to other words it goes by. A day goes on until the next one begins: at the beginning of a
    paragraph, or of a line with fields, nothing, a colon, a dash or the sign of the day before behind it. What is wrong
    with a day stands in its row. Without an `order` days stay as they are written, and what stands above the first one
    is a title: left out, and told.
    """
    text = read_any_text(path, notes)
    if text is None:
        return None
    by_word = {fold_name(word): column for column, words in columns.items() for word in (column, *words)}
    days: list[_Day] = []
    first = True
    lines = text.split("\n")
    told_by = (order,) if order else _ORDERS
    heads = 0 if order else next((number for number, line in enumerate(lines) if days_told(line)), 0)
    for number, written in enumerate(lines, start=1):
        if number <= heads:
            continue
        rest, line = written.strip(), _bare(written)
        begun = _begun(line, told_by)
        fields, behind = leading_fields(begun[2], known) if begun else ([], rest)
        as_before = begun is not None and bool(days) and begun[1] == days[-1].sign
        if begun and (first or fields or as_before or begun[1] in _BEGUN_BY):
            days.append(_Day(number, Notes(str(path)), begun[1]))
            day = order and (parse_any_date(begun[0], order) or parse_date(begun[0], (number, 1), days[-1].notes))
            told = day.isoformat() if day else "" if order else begun[0].strip()
            rest = behind
            for column, value in [*([("date", told)] if told else []), *fields]:
                days[-1].fill(column, value, number)
        elif rest and (lacks_year(line, anywhere=not first) or not days):
            days.append(_Day(number, Notes(str(path))))
            said = f'"{first_words(rest, LONGEST_DAY)}" begins with no day, or with one without its year'
            hint = "begin it like 2026-02-07 or 7 February 2026"
            days[-1].notes.error((number, 1), "note-without-day", said, hint)
        if days:
            days[-1].written.append(written.strip())
            found = _FIELD.fullmatch(rest)
            column = by_word.get(fold_name(found["word"]), "text") if found else "text"
            if found and column != "text":
                days[-1].fill(column, found["value"], number)
            else:
                days[-1].text.append(found["value"] if found and fold_name(found["word"]) == "text" else rest)
        first = not written.strip()
    if not days:
        notes.error((1, 1), "no-notes", "nothing is written in it", "begin each day with its date, like 2026-02-07")
        return None
    above = [line.strip() for line in lines[:heads] if line.strip()]
    titles = (f"Above the first day, left out: {say_few(above)}.",) if above else ()
    return Spreadsheet(
        rows=tuple(day.row(number) for number, day in enumerate(days, start=1)), unit="note", told=titles
    )


def _bare(line: str) -> str:
    """A line without the sign of a list or heading, and without a word before its day."""
    return _OF_DATE.sub("", _BULLET.sub("", line.strip()))


def split_day(line: str, order: DateOrder) -> tuple[str, str, str] | None:
    """(the day, the sign behind it, the rest) of a line that begins with a day in any form, also one that the calendar
    does not have; else None.
    """
    for end in reversed(list(_ends(line))):
        told = line[:end]
        # A time of the day, and what else may stand behind a day in a table, is more than the day here.
        bare = order is not DateOrder.ISO and ":" not in told and not told[:4].isdecimal()
        told_order = bare and (_YEAR_OF_TWO.fullmatch(told) or _MONTH.search(told))
        if is_day(told) or (told_order and parse_any_date(told, order)):
            sign = _SIGN.match(line, end)
            assert sign
            return told, sign[1] or (" " if line[sign.end() :] else ""), line[sign.end() :]
    return None


def _ends(line: str) -> Iterator[int]:
    """Where a day at the beginning of a line can end."""
    return (found.start() for found in _AFTER_DAY.finditer(line) if 0 < found.start() <= LONGEST_DAY)


def lacks_year(line: str, *, anywhere: bool = False) -> bool:
    """Whether a line begins like a day that does not tell its year in full: `Saturday:`, `7 February`, `7/2/26`;
    `anywhere` in a paragraph only where a colon, a dash or nothing follows.
    """
    for end in _ends(line):
        told, sign = line[:end], _SIGN.match(line, end)
        assert sign
        follows = (sign[1] in _BEGUN_BY[:-1] and sign[1]) or not line[sign.end() :]
        weekday = len(told) > 2 and any(name.casefold().startswith(told.casefold()) for name in WEEKDAYS)
        if weekday and (follows or (sign[1] == "," and not anywhere)):
            return True
        yearless = is_day(f"{told} 2000") and _MONTH.search(told)
        if (yearless or _YEAR_OF_TWO.fullmatch(told)) and (follows or not anywhere):
            return True
    return False


def leading_fields(text: str, known: KnownIds) -> tuple[list[tuple[str, str]], str]:
    """(fields, the rest) of what stands behind a day: `2 h 15, steps 7.3 to 7.5. Deburred.` tells two. Only what can be
    meant in one way is a field.
    """
    fields: list[tuple[str, str]] = []
    while text:
        ends = [found.start() for found in _FIELD_ENDS.finditer(text)]
        told = next(((one, end) for end in reversed(ends) if (one := _field(text[:end].strip(), known))), None)
        if told is None:
            break
        fields.append(told[0])
        sign = _SIGN.match(text, told[1])
        text = text[sign.end() :] if sign else ""
    return fields, text


def _field(piece: str, known: KnownIds) -> tuple[str, str] | None:
    """The field that a few words tell, or None. A bare figure and a bare clock time can be meant in several ways."""
    named = _WORD_BEFORE.fullmatch(piece)
    if named and named["word"].casefold().startswith("step"):
        ends = [end.text for _, both in known.step_ranges(Scalar(text=named["value"], where=(1, 1))) for end in both]
        return ("steps", named["value"]) if ends and all(re.fullmatch(r"\S*\d\S*", end) for end in ends) else None
    value = named["value"] if named else piece
    if parse_any_hours(value) and (named or not re.fullmatch(r"[\d\s.,:;]+", piece)):
        return "hours", value
    people = split_words(piece)
    if people and all(len(known.meant(one, "person")) == 1 for one in people):
        return "people", piece
    return next(((kind, piece) for kind in ("assembly", "place") if len(known.meant(piece, kind)) == 1), None)
