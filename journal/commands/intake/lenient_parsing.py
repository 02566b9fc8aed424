"""Values as people write them in spreadsheets, brought into the form of docs/format.md.

Nothing is guessed: what could be meant in two ways is refused, and the caller says so.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import Enum
from fractions import Fraction
from functools import cache

from journal.base.formatting import MONTHS, WEEKDAYS
from journal.base.prose import without_accents
from journal.reading.dates import parse_date
from journal.reading.form import KnownIds
from journal.reading.hours import UNTIL, parse_duration, parse_span, time_parts
from journal.reading.text import Notes
from journal.reading.tree import Scalar

_IN_FILE_NAMES = re.compile(r"(?<!\d)((?:19|20)\d\d)[-_.]?(0[1-9]|1[0-2])[-_.]?(0[1-9]|[12]\d|3[01])(?!\d)")
_YEAR_LAST = re.compile(r"([0-9]{1,2}|[^\W\d_]+)[\s./,-]+([0-9]{1,2}|[^\W\d_]+)[\s./,-]+'?([0-9]{2}|[0-9]{4})")
_YEAR_FIRST = re.compile(r"([0-9]{2})-([0-9]{1,2})-([0-9]{1,2})")
_CLOCK_BEHIND = re.compile(r"[,\s]+[0-9]{1,2}:[0-9]{2}(:[0-9]{2})?(\s*[ap]\.?m\.?)?$", re.IGNORECASE)
_OF_MOMENTS = frozenset({"t", "z", "utc", "gmt", "am", "pm", "a", "p", "m", "h", "uhr"})
_WORD = re.compile(r"[^\W\d_]+")
_WORD_CUT = re.compile(r"([^\W\d_]+)(?:\.(?=[\s,]))?")
_FRACTION = re.compile(r"(?:([0-9]{1,4})(?:\s+|-)?)?(?:([1-7])\s?[/\N{FRACTION SLASH}]\s?([2-8])|([¼-¾⅐-⅞]))\s*h?")
_HOUR_WORD = re.compile(r"(?<![^\W\d_])(?:stunden?|stdn?|st|heures?)(?![^\W\d_])\.?", re.IGNORECASE)
_MINUTE_WORD = re.compile(r"(?<![^\W\d_])(?:minuten?|mn)(?![^\W\d_])\.?", re.IGNORECASE)

_SIGNS = re.compile(r"^((?:(?:[-*+>]|\d+[.)])\s+|>)*)(#|---|[-=]+$|[!?]{3}|```|~~~|\[[^\]]*\]:)")
"""What would make of a line in Markdown, or of an item of a list, something else than its words."""

LONGEST_TITLE = 70


class DateOrder(Enum):
    """How dates are written in a table; the value is what the option says."""

    ISO = "iso"
    DAY_FIRST = "dmy"
    MONTH_FIRST = "mdy"
    YEAR_FIRST = "ymd"


ORDERS: Mapping[DateOrder, str] = {
    DateOrder.ISO: "year-month-day",
    DateOrder.DAY_FIRST: "the day before the month",
    DateOrder.MONTH_FIRST: "the month before the day",
    DateOrder.YEAR_FIRST: "the year first, in two figures",
}
"""What each is called in a sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderFound:
    """How the dates of a column are written: `order`, None where the column cannot tell; then `fits` are the orders
    that are left. `by` is the date that decided, empty where nothing had to be decided.
    """

    order: DateOrder | None
    by: str = ""
    fits: tuple[DateOrder, ...] = ()
    mixed: tuple[str, str] | None = None


def find_order(texts: Sequence[str], latest: date) -> OrderFound:
    """The one order in which all dates of a column can be read; none of them lies after `latest`. Two dates of which
    neither can be read in the other's order are `mixed`.
    """
    either = re.compile(r"[0-9]{1,2}([/-])[0-9]{1,2}\1[0-9]{4}")
    told = [text for text in dict.fromkeys(texts) if either.fullmatch(text) or not parse_any_date(text, DateOrder.ISO)]
    orders = [order for order in DateOrder if order is not DateOrder.ISO]
    days = {text: {order: day for order in orders if (day := _past(text, order, latest))} for text in told}
    days = {text: read for text, read in days.items() if read}
    if not days:
        return OrderFound(order=DateOrder.ISO)
    fits = tuple(order for order in orders if all(order in read for read in days.values()))
    surest = min(days, key=lambda text: len(days[text]))
    if not fits:
        other = next((text for text, read in days.items() if not read.keys() & days[surest].keys()), surest)
        return OrderFound(order=None, mixed=(surest, other))
    open_ones = [text for text, read in days.items() if len({read[order] for order in fits}) > 1]
    return OrderFound(order=None if open_ones else fits[0], by=(open_ones or [surest])[0], fits=fits)


def _past(text: str, order: DateOrder, latest: date) -> date | None:
    day = parse_any_date(text, order)
    return day if day and day <= latest else None


def parse_any_date(text: str, order: DateOrder) -> date | None:
    """A day in any form of the reader, also with a time behind, in English, German or French, or None.

    `7.2.2026`, `07/02/26`, `7 Feb 26` are read where the order is told, and never else. Years of two digits: 70 to 99
    are of the last century (POSIX, strptime %y). A day of the week before it is held against the calendar. Behind it
    no other words may stand: they would be lost.
    """
    text = text.strip()
    if (moment := re.match(r"([0-9]{4}-[0-9]{1,2}-[0-9]{1,2})[T ](.*)", text)) and (
        {_folded(word) for word in _WORD.findall(moment[2])} <= _OF_MOMENTS | _words_of_dates()[1].keys()
    ):
        text = moment[1] + text[moment.end() :]
    weekday, text = _in_english(_CLOCK_BEHIND.sub("", text))
    if order is DateOrder.YEAR_FIRST and (found := _YEAR_FIRST.fullmatch(text)):
        text = f"{_century(found[1])}{found[1]}-{found[2]}-{found[3]}"
    elif found := _YEAR_LAST.fullmatch(text):
        first, second, year = found.groups()
        figures = first.isdecimal() and second.isdecimal()
        if order in (DateOrder.ISO, DateOrder.YEAR_FIRST) and (figures or len(year) == 2):
            return None
        swapped = order is DateOrder.MONTH_FIRST if figures else second.isdecimal()
        day, month = (second, first) if swapped else (first, second)
        text = f"{'' if len(year) == 4 else _century(year)}{year}-{month[:3]}-{day}"
    read = parse_date(text, (1, 1), Notes(""))
    return read if read is None or weekday in (None, read.weekday()) else None


def _century(year: str) -> str:
    return "19" if int(year) >= 70 else "20"


def wrong_weekday(text: str) -> date | None:
    """The day of a text that tells another day of the week than the calendar."""
    weekday, bare = _in_english(text)
    days = [day for order in DateOrder if weekday is not None and (day := parse_any_date(bare, order))]
    return None if not days or weekday in [day.weekday() for day in days] else days[0]


def _in_english(text: str) -> tuple[int | None, str]:
    """(the day of the week from 0 on, or None, the rest) of a date: `jeu. 1er août 2019` -> (3, `1 August 2019`)."""
    text = re.sub(r"^(?:le|den|der|am|on)\s+", "", text, flags=re.IGNORECASE)
    text = re.sub(r"(?<=\b1)er\b", "", text, flags=re.IGNORECASE)
    months, days = _words_of_dates()
    first, weekday = _WORD.match(text), None
    rest = text[first.end() :].lstrip(" .,") if first else ""
    # `mar. 5 mars`: where a month follows, or figures alone tell the day, the first word is a day of the week.
    if first and _folded(first[0]) in days and (_WORD.search(rest) or len(re.findall("[0-9]+", rest)) > 2):
        weekday, text = days[_folded(first[0])], rest
    return weekday, _WORD_CUT.sub(lambda word: months.get(_folded(word[1]), word[1]), text)


@cache
def _words_of_dates() -> tuple[Mapping[str, str], Mapping[str, int]]:
    """(months in German and French -> English, days of the week in three languages), in full and cut short; those in
    English anywhere from two letters on. Source: CLDR.
    """
    from babel.dates import get_day_names, get_month_names

    months = {"marz": "March", "mrz": "March", "janner": "January", "fev": "February"}
    days = {name[:size].casefold(): day for day, name in enumerate(WEEKDAYS) for size in range(2, len(name) + 1)}
    for language in ("de", "fr"):
        for width in ("wide", "abbreviated"):
            of_year, of_week = (get(width, locale=language) for get in (get_month_names, get_day_names))
            months |= {_folded(of_year[number]): name for number, name in enumerate(MONTHS, start=1)}
            days |= {_folded(of_week[number]): number for number in range(7)}
    return months, days


def _folded(name: str) -> str:
    return without_accents(name).casefold().rstrip(".")


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
    text = _MINUTE_WORD.sub("min", _HOUR_WORD.sub("h", text))
    minutes = parse_duration(text)
    if minutes is None and (told := _FRACTION.fullmatch(text)):
        part = (
            Fraction(int(told[2]), int(told[3]))
            if told[2]
            else Fraction(unicodedata.numeric(told[4])).limit_denominator(9)
        )
        whole = (int(told[1] or 0) + part) * 60
        minutes = int(whole) if whole.denominator == 1 and part < 1 else None
    if minutes is None:
        return None
    figure = re.match(r"([0-9]*)(\.[0-9]+|$)", text)
    return f"{int(figure[1] or 0)}{figure[2]}" if figure else f"{minutes // 60}:{minutes % 60:02d}"


def exact_hours(text: str) -> Fraction | None:
    """Hours that a text tells as durations, to the last place written; None where it tells none, or a span."""
    parts = parse_any_hours(text) or ()
    if not parts or any(map(parse_span, parts)):
        return None
    return sum((Fraction(parse_duration(one) or 0, 60) if ":" in one else Fraction(one) for one in parts), Fraction())


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
