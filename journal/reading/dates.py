"""Days as people write them: `2026-02-07` and every other form that can mean but one day."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date

from journal.base.formatting import MONTHS, WEEKDAYS, say_date
from journal.base.model import Where
from journal.reading.text import Notes

FIRST_YEAR, LAST_YEAR = 1900, 2100
"""Days outside these years are slips of the finger (0025, 2205), and refused."""

HINT = "write year-month-day, like 2026-02-07"

_WEEKDAY = re.compile(r"([a-z]{3,})\.?,?\s+(?=.*[0-9].*[0-9]{4})")

_MONTH = r"(?P<name>[a-z]{3,9})"
_FORMS = tuple(
    re.compile(form)
    for form in (
        r"(?P<y>[0-9]{4})(?P<sep>[-/. ])(?P<m>[0-9]{1,2})(?P=sep)(?P<d>[0-9]{1,2})",  # 2026-2-7
        r"(?P<y>[0-9]{4})(?P<m>[0-9]{2})(?P<d>[0-9]{2})",
        rf"(?:the )?(?P<d>[0-9]{{1,2}})(?:st|nd|rd|th|\.)?[ -]*(?:of )?{_MONTH}[.,]?[ -]*(?P<y>[0-9]{{4}})",
        rf"{_MONTH}\.? *(?P<d>[0-9]{{1,2}})(?:st|nd|rd|th)?,? +(?P<y>[0-9]{{4}})",  # February 7, 2026
        rf"(?P<y>[0-9]{{4}})[ -]{_MONTH}[ -](?P<d>[0-9]{{1,2}})",
        # Where points are written the day comes first (common practice, no source).
        r"(?P<d>[0-9]{1,2})\. ?(?P<m>[0-9]{1,2})\. ?(?P<y>[0-9]{4})",
        r"(?P<d>[0-9]{1,2})(?P<either>[/-])(?P<m>[0-9]{1,2})(?P=either)(?P<y>[0-9]{4})",  # in either order
    )
)


def parse_date(text: str, where: Where, notes: Notes) -> date | None:
    """The one day that `text` means, or None with an error: no day, a day of two readings (`3/1/2026`; both are
    offered), one that the calendar does not have, a year outside 1900 to 2100.
    """
    day_of_week, readings = _told(text)
    if readings is None:
        notes.error(where, "bad-date", f'"{text}" is not a date', HINT)
        return None
    days = sorted({day for one in readings if (day := _day(*one))})
    if len(days) > 1:
        said = f'"{text}" can be {say_date(days[1])} or {say_date(days[0])}'
        notes.error(where, "bad-date", said, f"write {days[1]} or {days[0]}")
    elif not days:
        notes.error(where, "no-such-date", f'there is no day "{text}"', "look at the calendar")
    elif not FIRST_YEAR <= days[0].year <= LAST_YEAR:
        said = f"the year {days[0].year:04d} lies outside {FIRST_YEAR} to {LAST_YEAR}"
        notes.error(where, "far-date", said, HINT)
    elif day_of_week not in (None, days[0].weekday()):
        said = f'"{text}" was a {WEEKDAYS[days[0].weekday()]}'
        notes.error(where, "bad-date", said, f"write {days[0]}, or the day that you mean")
    else:
        return days[0]
    return None


def is_day(text: str) -> bool:
    """Whether `text` has the form of a day, be it in the calendar or not."""
    return _told(text)[1] is not None


def _told(text: str) -> tuple[int | None, list[tuple[int, int, int]] | None]:
    """(day of the week, what `text` can mean), None for what is not told."""
    folded = re.sub(r"[\N{HYPHEN}-\N{EM DASH}\N{MINUS SIGN}]", "-", " ".join(text.casefold().split()))
    weekday = _WEEKDAY.match(folded)
    day_of_week = _beginning(WEEKDAYS, weekday[1]) if weekday else None
    if weekday and day_of_week is not None:
        folded = folded[weekday.end() :]
    found = next((match for form in _FORMS if (match := form.fullmatch(folded))), None)
    return day_of_week, _readings(found.groupdict()) if found else None


def _readings(parts: dict[str, str | None]) -> list[tuple[int, int, int]] | None:
    """(year, month, day) as the parts can be meant; None where a word is no month."""
    year, day = int(parts["y"] or 0), int(parts["d"] or 0)
    if name := parts.get("name"):
        month = _beginning(MONTHS, name)
        return None if month is None else [(year, month + 1, day)]
    month = int(parts["m"] or 0)
    return [(year, month, day), *([(year, day, month)] if parts.get("either") else [])]


def _beginning(words: Sequence[str], start: str) -> int | None:
    """Which of `words` begins so, as `sept` does."""
    return next((number for number, word in enumerate(words) if word.casefold().startswith(start)), None)


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None
