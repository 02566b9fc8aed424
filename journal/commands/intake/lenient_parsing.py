"""Values as people write them in spreadsheets, brought into the form of docs/format.md.

Nothing is guessed: what could be meant in two ways is refused, and the caller says so.
"""

from __future__ import annotations

import re
from datetime import date
from enum import Enum

from journal.reading.dates import parse_date
from journal.reading.form import KnownIds
from journal.reading.hours import UNTIL, parse_duration, parse_span, time_parts
from journal.reading.text import Notes
from journal.reading.tree import Scalar

_IN_FILE_NAMES = re.compile(r"(?<!\d)((?:19|20)\d\d)[-_.]?(0[1-9]|1[0-2])[-_.]?(0[1-9]|[12]\d|3[01])(?!\d)")
_YEAR_LAST = re.compile(r"([0-9]{1,2}|[^\W\d_]+)[\s./,-]+([0-9]{1,2}|[^\W\d_]+)[\s./,-]+([0-9]{2}|[0-9]{4})")


_SIGNS = re.compile(r"^((?:(?:[-*+>]|\d+[.)])\s+|>)*)(#|---|[-=]+$|[!?]{3}|```|~~~|\[[^\]]*\]:)")
"""What would make of a line in Markdown, or of an item of a list, something else than its words."""

LONGEST_TITLE = 70


class DateOrder(Enum):
    """How dates are written in a table; the value is what the option says."""

    ISO = "iso"
    DAY_FIRST = "dmy"
    MONTH_FIRST = "mdy"


def parse_any_date(text: str, order: DateOrder) -> date | None:
    """A day in any form of the reader, ISO dates also with a time behind, or None.

    `7.2.2026`, `07/02/26`, `7 Feb 26` are read where the order is told, and never else. Years of two digits: 70 to 99
    are of the last century (POSIX, strptime %y).
    """
    text = re.sub(r"^([0-9]{4}-[0-9]{1,2}-[0-9]{1,2})[T ].*", r"\1", text.strip())
    if found := _YEAR_LAST.fullmatch(text):
        first, second, year = found.groups()
        figures = first.isdecimal() and second.isdecimal()
        if order is DateOrder.ISO and (figures or len(year) == 2):
            return None
        swapped = order is DateOrder.MONTH_FIRST if figures else second.isdecimal()
        day, month = (second, first) if swapped else (first, second)
        century = "" if len(year) == 4 else "19" if int(year) >= 70 else "20"
        text = f"{century}{year}-{month[:3]}-{day}"
    return parse_date(text, (1, 1), Notes(""))


def date_in_name(name: str) -> date | None:
    """The day that a file or folder name tells, as `2019-05-04 wing` and `IMG_20190504_1.jpg` do."""
    found = _IN_FILE_NAMES.search(name)
    return parse_date("-".join(found.groups()), (1, 1), Notes("")) if found else None


def parse_any_hours(text: str) -> tuple[str, ...] | None:
    """Durations and spans in the form of `hours`, or None: `3,5` -> `3.5`, `3 h 15` -> `3:15`,
    `18:30 – 21:45` -> `18:30-21:45`; several parted by `;`, `+`, line breaks or as the reader parts them.
    """
    parts = [part for line in re.split(r"[;+\n]", text) if line.strip() for part in time_parts(line.strip())]
    read = [_hours(" ".join(part.split())) for part in parts]
    return tuple(one for one in read if one is not None) if parts and None not in read else None


def _hours(text: str) -> str | None:
    if parse_span(text):
        return re.sub(r"\b0(?=[0-9]:)", "", UNTIL.sub("-", text))
    # A decimal comma, and the seconds that spreadsheets add.
    text = re.sub(r"^([0-9]*),(?=[0-9])", r"\1.", re.sub(r"^([0-9]+:[0-9]+):00\b", r"\1", text))
    minutes = parse_duration(text)
    if minutes is None:
        return None
    figure = re.match(r"([0-9]*)(\.[0-9]+|$)", text)
    return f"{int(figure[1] or 0)}{figure[2]}" if figure else f"{minutes // 60}:{minutes % 60:02d}"


def split_words(text: str) -> tuple[str, ...]:
    """Names in one cell: parted by commas, semicolons, `/`, `&`, `+`, `and` or line breaks."""
    parts = re.split(r"[,;/&+\n]|\band\b", text)
    return tuple(dict.fromkeys(" ".join(part.split()) for part in parts if part.strip()))


def split_steps(text: str, known: KnownIds, notes: Notes) -> tuple[str, ...]:
    """The steps and ranges of steps (`5.3 to 5.6`) in one cell, as the reader parts them; unknown ones are noted."""
    cell = Scalar(text=text, where=(1, 1))
    steps = [[known.id(end, "step", notes) or "" for end in ends] for _, ends in known.step_ranges(cell)]
    return tuple(dict.fromkeys(" to ".join(ends) for ends in steps))


def plain_markdown(text: str, *, comments: bool = False) -> str:
    """Plain words as a body: `#40` at the beginning of a line is no heading, nothing opens a box or hides, and lines
    stay lines. HTML `comments` stay what they are only where that is said.
    """
    lines = [_SIGNS.sub(r"\1\\\2", line.strip()) for line in text.split("\n")]
    told = "  \n".join(lines).replace("  \n  \n", "\n\n").replace("\n  \n", "\n\n").strip()
    return told if comments else told.replace("<!--", r"<\!--")


def first_words(text: str, longest: int) -> str:
    """The first sentence of a text, or as many of its words as fit."""
    line = next((line.strip() for line in text.split("\n") if line.strip()), "")
    sentence = re.split(r"(?<=[.!?;:])\s", line)[0].rstrip(".;:, ")
    if len(sentence) <= longest:
        return sentence
    return sentence[: longest + 1].rpartition(" ")[0].rstrip(" ,;:-–—") or sentence[:longest]
