"""Values as people write them in spreadsheets, brought into the form of docs/format.md.

Nothing is guessed: what could be meant in two ways is refused, and the caller says so.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from datetime import date
from enum import Enum

from journal.base.formatting import MONTHS

_MONTH_WORDS = {month[:3].casefold(): number for number, month in enumerate(MONTHS, start=1)}
_CLOCK = r"([01]?[0-9]|2[0-4]):([0-5][0-9])"
_SPAN = re.compile(rf"{_CLOCK}\s*(?:-|\N{{EN DASH}}|\N{{EM DASH}}|to)\s*{_CLOCK}", re.IGNORECASE)
_H_AND_MIN = re.compile(
    r"(?:([0-9]{1,4})\s*h(?:ou)?r?s?)?\s*(?:([0-9]{1,4})\s*(?:m|min|mins|minutes)?)?\.?", re.IGNORECASE
)
_IN_FILE_NAMES = re.compile(r"(?<!\d)((?:19|20)\d\d)[-_.]?(0[1-9]|1[0-2])[-_.]?(0[1-9]|[12]\d|3[01])(?!\d)")


class DateOrder(Enum):
    """How dates are written in a table; the value is what the option says."""

    ISO = "iso"
    DAY_FIRST = "dmy"
    MONTH_FIRST = "mdy"


def parse_any_date(text: str, order: DateOrder) -> date | None:
    """A day, or None. ISO dates (with or without a time behind) are read in every order.

    `7.2.2026`, `07/02/26`, `7 Feb 2026` where the order is told. Years of two digits: 70 to 99 are
    of the last century (POSIX, strptime %y).
    """
    text = text.strip()
    if found := re.match(r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})(?:[T ].*)?$", text):
        return _day(int(found[1]), int(found[2]), int(found[3]))
    if order is DateOrder.ISO:
        return None
    parts = [part for part in re.split(r"[\s./,-]+", text) if part]
    if len(parts) != 3:
        return None
    first, second, year = parts
    day, month = (first, second) if order is DateOrder.DAY_FIRST else (second, first)
    if not re.fullmatch(r"[0-9]{2}|[0-9]{4}", year) or not re.fullmatch(r"[0-9]{1,2}", day):
        return None
    number = _MONTH_WORDS.get(month[:3].casefold()) if month[:1].isalpha() else None
    if number is None:
        if not re.fullmatch(r"[0-9]{1,2}", month):
            return None
        number = int(month)
    whole_year = int(year) + (0 if len(year) == 4 else 1900 if int(year) >= 70 else 2000)
    return _day(whole_year, number, int(day))


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def date_in_name(name: str) -> date | None:
    """The day that a file or folder name tells, as `2019-05-04 wing` and `IMG_20190504_1.jpg` do."""
    found = _IN_FILE_NAMES.search(name)
    return _day(int(found[1]), int(found[2]), int(found[3])) if found else None


def parse_any_hours(text: str) -> tuple[str, ...] | None:
    """Durations and spans in the form of `hours`, or None: `3,5` -> `3.5`, `3 h 15` -> `3:15`,
    `18:30 – 21:45` -> `18:30-21:45`; several parted by `;`, `+` or line breaks.
    """
    parts = [part.strip() for part in re.split(r"[;+\n]", text) if part.strip()]
    read = [_hours(part) for part in parts]
    return tuple(one for one in read if one is not None) if parts and None not in read else None


def _hours(text: str) -> str | None:
    if found := _SPAN.fullmatch(text):
        return f"{int(found[1])}:{found[2]}-{int(found[3])}:{found[4]}"
    if found := re.fullmatch(r"([0-9]{1,4}):([0-5][0-9])(?::00)?\s*h?", text):
        return f"{int(found[1])}:{found[2]}"
    if found := re.fullmatch(r"([0-9]{0,4})[.,]([0-9]{1,4})\s*(?:h|hrs?|hours?)?\.?", text, re.IGNORECASE):
        return f"{int(found[1] or 0)}.{found[2]}"
    if re.fullmatch(r"[0-9]{1,4}", text):
        return str(int(text))
    found = _H_AND_MIN.fullmatch(text)
    if not found or not (found[1] or found[2]):
        return None
    hours, rest = divmod(int(found[1] or 0) * 60 + int(found[2] or 0), 60)
    return f"{hours}:{rest:02d}"


def split_words(text: str) -> tuple[str, ...]:
    """Names in one cell: parted by commas, semicolons, `/`, `&`, `+`, `and` or line breaks."""
    parts = re.split(r"[,;/&+\n]|\band\b", text)
    return tuple(dict.fromkeys(" ".join(part.split()) for part in parts if part.strip()))


def split_steps(text: str, known: Collection[str]) -> tuple[str, ...]:
    """Step IDs and ranges in one cell; `5.3-5.6` is a range where both ends are steps and the whole is none."""
    found: list[str] = []
    for part in (part.strip() for part in re.split(r"[,;\n]", text)):
        if not part:
            continue
        ends = re.split(r"\s*(?:-|–|—)\s*|\s+to\s+", part)
        if part not in known and len(ends) == 2 and all(end in known for end in ends):
            found.append(f"{ends[0]} to {ends[1]}")
        else:
            found.append(part)
    return tuple(dict.fromkeys(found))


def first_words(text: str, longest: int) -> str:
    """The first sentence of a text, or as many of its words as fit."""
    line = next((line.strip() for line in text.split("\n") if line.strip()), "")
    sentence = re.split(r"(?<=[.!?;:])\s", line)[0].rstrip(".;:, ")
    if len(sentence) <= longest:
        return sentence
    return sentence[: longest + 1].rpartition(" ")[0].rstrip(" ,;:-–—") or sentence[:longest]
