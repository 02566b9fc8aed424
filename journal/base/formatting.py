"""How figures and dates are said to a reader, once for every door."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from functools import lru_cache

from journal.base.words import ENGLISH, N_, _, ngettext, spoken

WHO_DECIDES = N_(
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
        return _("{minutes} min", minutes=rest)
    if not rest:
        return _("{hours} h", hours=hours)
    return _("{hours} h {minutes} min", hours=hours, minutes=f"{rest:02d}")


@lru_cache(maxsize=4000)
def _say_day(day: date, skeleton: str, interface: str) -> str:
    """A day in the language of the interface, by the skeletons of Unicode's CLDR; English as the whole journal has it,
    the day before its month.
    """
    if interface == ENGLISH:  # thousands of days, and babel takes long for each
        return _ENGLISH_DAYS[skeleton].format(day=day, month=MONTHS[day.month - 1], weekday=WEEKDAYS[day.weekday()])
    from babel.dates import format_date, format_skeleton

    locale = interface.replace("-", "_")
    if skeleton in ("ccc", "cccc", "LLL"):
        return format_date(day, skeleton, locale)
    return format_date(day, "long", locale) if skeleton == "yMMMMd" else format_skeleton(skeleton, day, locale=locale)


_ENGLISH_DAYS = {
    **{"yMMMMd": "{day.day} {month} {day.year}", "MMMMd": "{day.day} {month}", "MMMd": "{day.day} {month:.3}"},
    **{"yMMMM": "{month} {day.year}", "LLL": "{month:.3}", "cccc": "{weekday}", "ccc": "{weekday:.3}"},
}


def say_date(day: date) -> str:
    """`7 February 2026`: spelt out, the same for every reader."""
    return _say_day(day, "yMMMMd", spoken().interface)


def say_near(day: date, today: date) -> str:
    """How far off a day is: `today`, `in 3 days`, `1 day ago`."""
    days = (day - today).days
    return f"in {say_count(days, 'day')}" if days > 0 else f"{say_count(-days, 'day')} ago" if days else "today"


def say_short_date(day: date, *, spelt_out: bool = False) -> str:
    """`7 Feb`, or `7 February`: where the year stands beside."""
    return _say_day(day, "MMMMd" if spelt_out else "MMMd", spoken().interface)


def say_weekday(day: date, *, short: bool = False) -> str:
    """`Saturday`, or `Sat`."""
    return _say_day(day, "ccc" if short else "cccc", spoken().interface)


def say_month(month: str) -> str:
    """`2026-02` -> `February 2026`."""
    return _say_day(date.fromisoformat(f"{month}-01"), "yMMMM", spoken().interface)


def say_short_month(day: date) -> str:
    """`Feb`."""
    return _say_day(day, "LLL", spoken().interface)


def say_signed(by: Iterable[str], checked_by: Iterable[str], done: str) -> str:
    """`signed by Maren · checked by the inspector`, `done` being `signed by {names}`; nothing where nobody signed."""
    signed = ((done, ", ".join(by)), (_("checked by {names}"), ", ".join(checked_by)))
    return " · ".join(words.format(names=names) for words, names in signed if names)


def say_number(number: int) -> str:
    """`1,234`."""
    if spoken().interface == ENGLISH:
        return f"{number:,}"
    from babel.numbers import format_decimal

    return format_decimal(number, locale=spoken().interface.replace("-", "_"))


def say_count(number: int, one: str, many: str | None = None) -> str:
    """`1 entry`, `2 entries`: `many` where adding an s will not do. Messages: `{count} entry`, `{count} entries`."""
    return ngettext(f"{{count}} {one}", f"{{count}} {many or one + 's'}", number, count=say_number(number))


def say_all(names: Sequence[str]) -> str:
    """`a, b and c`."""
    if len(names) < 2:
        return "".join(names)
    return _("{names} and {last}", names=", ".join(names[:-1]), last=names[-1])


def say_few(names: Sequence[str], most: int = 3) -> str:
    """`a, b, c and 2 more`."""
    told = ", ".join(names[:most])
    return _("{names} and {number} more", names=told, number=len(names) - most) if len(names) > most else told


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
    said = _("{first} to {last}")
    return ", ".join(said.format(first=run[0], last=run[-1]) if len(run) > 2 else ", ".join(run) for run in runs)


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
