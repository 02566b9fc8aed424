"""How figures and dates are said to a reader, once for every door."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from functools import lru_cache

WHO_DECIDES = (
    "The kit’s manual and drawings come first, then the rules of the authority, then the word of a licensed inspector"
)
"""The caution that stands wherever something is said of the work; each door ends it in its own words."""

MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
WEEKDAYS = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]


def say_minutes(minutes: int) -> str:
    """`390` -> `6 h 30 min`; whole hours and short times leave out what is nought."""
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest:02d} min" if rest else f"{hours} h"


def say_date(day: date) -> str:
    """`7 February 2026`: spelt out, the same for every reader."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def say_weekday(day: date) -> str:
    """`Saturday`."""
    return WEEKDAYS[day.weekday()]


def say_month(month: str) -> str:
    """`2026-02` -> `February 2026`."""
    year, number = month.split("-")
    return f"{MONTHS[int(number) - 1]} {year}"


def say_signed(by: Iterable[str], checked_by: Iterable[str], done: str) -> str:
    """`signed by Maren · checked by the inspector`; nothing where nobody signed."""
    signed = ((f"{done} by", ", ".join(by)), ("checked by", ", ".join(checked_by)))
    return " · ".join(f"{word} {names}" for word, names in signed if names)


def say_count(number: int, one: str, many: str | None = None) -> str:
    """`1 entry`, `2 entries`: `many` where adding an s will not do."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def say_all(names: Sequence[str]) -> str:
    """`a, b and c`."""
    return " and ".join(filter(None, (", ".join(names[:-1]), *names[-1:])))


def say_few(names: Sequence[str], most: int = 3) -> str:
    """`a, b, c and 2 more`."""
    return ", ".join(names[:most]) + (f" and {len(names) - most} more" if len(names) > most else "")


def cut_short(text: str, longest: int) -> str:
    """At most `longest` letters of a text, the last of them an ellipsis where there are more."""
    return text if len(text) <= longest else text[: longest - 1].rstrip() + "…"


def say_steps(steps: Sequence[str], order: Sequence[str]) -> str:
    """Step IDs with runs drawn together as the front matter writes them: `5.3 to 5.6, 5.9`.

    `order` is all step IDs in the order of steps.csv; only neighbours there make a run, and a
    run of two stays `5.3, 5.4`.
    """
    rank = _ranks(tuple(order))
    runs: list[list[str]] = []
    for step in sorted(steps, key=lambda s: rank.get(s, len(rank))):
        if runs and rank.get(step, -1) == rank.get(runs[-1][-1], -3) + 1:
            runs[-1].append(step)
        else:
            runs.append([step])
    return ", ".join(f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(run) for run in runs)


@lru_cache(maxsize=4)
def _ranks(order: tuple[str, ...]) -> dict[str, int]:
    """Each step's place, asked for with the same order on every page of a site."""
    return {step: number for number, step in enumerate(order)}


def month_of(day: date) -> str:
    """`2026-02`, the key of a month."""
    return f"{day.year:04d}-{day.month:02d}"


def say_money(amount: Decimal) -> str:
    """`1,299.90`: thousands apart, at least two decimals, as many as were written."""
    places = max(2, -int(amount.normalize().as_tuple().exponent)) if amount else 2
    return f"{amount:,.{places}f}"
