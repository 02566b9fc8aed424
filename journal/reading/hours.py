"""Hours as the builder writes them, in whole minutes. Source: docs/format.md, Durations and spans.

`3.25`, `3:15` and `3 h 15 min` are durations; `18:30-21:45` and `6:30pm-9:45pm` are spans and may pass
midnight. Where build.yml names a zone, a span over a change of clock counts the time that passed (IANA zone
data); without one, clock times are taken as written, on every machine alike.
"""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from journal.base.model import Where, WorkedTime
from journal.reading.form import KnownIds
from journal.reading.text import Notes
from journal.reading.tree import Fields, Items, Node, Scalar

DAY = 24 * 60
EXAMPLES = "write 3:15, 3.25 or 18:30-21:45"

_DURATION = re.compile(
    r"(?:(?P<hours>[0-9]{1,5}|[0-9]{0,5}\.[0-9]{1,6})\s*h(?:ou)?(?:rs?)?\.?)?"
    r"(?:[\s,]*(?:and\s+)?(?P<minutes>[0-9]{1,4})\s*(?P<unit>m(?:ins?|inutes?)?\.?)?)?",
    re.IGNORECASE,
)
UNTIL = re.compile(r"\s*(?:[-\N{FIGURE DASH}-\N{EM DASH}\N{MINUS SIGN}]|\b(?:to|until|till)\b)\s*", re.IGNORECASE)
_CLOCK = re.compile(
    r"(?P<hour>[0-9]{1,2})(?:[:h.](?P<minute>[0-5][0-9])|(?P<h>\s?h)|(?<=[0-9]{2})(?P<tight>[0-5][0-9]))?"
    r"(?:\s*(?P<half>[ap])\.?m\.?)?",
    re.IGNORECASE,
)
_APART = re.compile(r"\s*(?:(?:[,;]\s*)?\b(?:and\s+then|and|then)\b|[,;+&])\s*|\s+/\s+", re.IGNORECASE)
_FRACTION = re.compile(r"(?:(\d{1,5})(?:\s+|-)?)??(½|¼|¾|1/2|1/4|3/4)\s*(?:h(?:ou)?(?:rs?)?\.?)?", re.IGNORECASE)
_FRACTIONS = {"½": 30, "1/2": 30, "¼": 15, "1/4": 15, "¾": 45, "3/4": 45}
_OF_PERSON = re.compile(r"(?P<who>[^\d:]+?)\s*:?\s+(?P<time>(?:from\s+)?[\d½¼¾].*)", re.IGNORECASE | re.DOTALL)


def parse_duration(text: str) -> int | None:
    """Whole minutes from `3:15`, `3.25` (hours), `3h30` or `90 min`, or None. Fractions are rounded to the minute."""
    if match := re.fullmatch(r"([0-9]{1,5}):([0-5][0-9])(?:\s*(?:h|hours?))?", text):
        return int(match[1]) * 60 + int(match[2])
    if re.fullmatch(r"[0-9]{1,5}(\.[0-9]{1,6})?|\.[0-9]{1,6}", text):
        return round(Decimal(text) * 60)
    if match := _FRACTION.fullmatch(text):
        return int(match[1] or 0) * 60 + _FRACTIONS[match[2]]
    match = _DURATION.fullmatch(text)
    if match is None or not (match["hours"] or match["unit"]):
        return None
    hours, minutes = Decimal(match["hours"] or 0), int(match["minutes"] or 0)
    if match["hours"] and match["minutes"] and (minutes > 59 or "." in match["hours"]):
        return None
    return round(hours * 60) + minutes


def parse_span(text: str) -> tuple[int, int] | None:
    """(start, end) in minutes after midnight from `18:30-21:45`, `6:30pm-9:45pm`, `18h30 to 21h45` or `9-11:30 am`,
    the end on the next day where it is not after the start; None for anything else.
    """
    text = re.sub(r"^midnight", "0:00", text.casefold().removeprefix("from ").strip())
    parts = UNTIL.split(text.replace("noon", "12:00").replace("midnight", "24:00"))
    told = [_CLOCK.fullmatch(part) for part in parts]
    if len(told) != 2 or not told[0] or not told[1]:
        return None
    # Beside a time that tells its minutes, `15` is three o'clock.
    clear = bool(re.search(r"\d[:.h]\d", text)) and not (told[0]["half"] or told[1]["half"])
    starts, ends = _instants(told[0], told[1]["half"], clear), _instants(told[1], None, clear)
    if not starts or not ends:
        return None
    end = ends[0]
    # `11:00-1:30pm`: the half of the day that is told counts for both, unless it would run backwards.
    start = next((start for start in starts if start < end), starts[0])
    return None if start == end else (start, end if end > start else end + DAY)


def _instants(clock: re.Match[str], other_half: str | None, clear: bool) -> list[int]:
    """The minutes after midnight that a clock time can mean, the likeliest first. One without minutes or half of
    the day (`9`) is none but beside a time that tells its half (`9-11 am`) or its minutes (`clear`).
    """
    hour, minute = int(clock["hour"]), int(clock["minute"] or clock["tight"] or 0)
    half, bare = clock["half"], not (clock["minute"] or clock["tight"] or clock["h"])
    if half or (other_half and 1 <= hour <= 12):
        halves = [half] if half else [other_half, "a" if other_half == "p" else "p"]
        return [(hour % 12 + 12 * (one == "p")) * 60 + minute for one in halves] if 1 <= hour <= 12 else []
    return [] if (bare and not clear) or hour * 60 + minute > DAY else [hour * 60 + minute]


def time_parts(text: str) -> list[str]:
    """The times that one text tells: `18:00-19:00, 20:15-21:00` are two. `3,25` stays in one piece: nobody can say
    whether its comma parts two times or a fraction.
    """
    parts = _APART.split(text)
    whole = parse_span(text) or parse_duration(text) is not None or any(not part or part.isdigit() for part in parts)
    return [text] if whole else parts


def passed_minutes(day: date, start: int, end: int, zone: ZoneInfo | None) -> int:
    """Minutes that pass between two clock times, given in minutes after midnight of `day`.

    Without a zone that is their difference. With one, both are looked up in the zone's rules:
    a clock time that occurs twice counts as its first occurrence (PEP 495, fold=0), one that is
    skipped as the time the old offset would give; where that puts the start behind the end, no time passed.
    """
    if zone is None:
        return end - start
    try:
        began, ended = (_local(day, clock, zone).astimezone(UTC) for clock in (start, end))
    except OverflowError:  # before the first year or after the last
        return end - start
    return max(0, int((ended - began).total_seconds()) // 60)


def _local(day: date, clock: int, zone: ZoneInfo) -> datetime:
    days, minute = divmod(clock, DAY)
    return datetime.combine(day + timedelta(days=days), time(minute // 60, minute % 60), tzinfo=zone)


def _odd_clock(day: date, clock: int, zone: ZoneInfo) -> str | None:
    """Why a clock time is not one instant on that day, or None."""
    local = _local(day, clock, zone)
    first, second = local.utcoffset(), local.replace(fold=1).utcoffset()
    if first is None or second is None or first == second:
        return None
    # PEP 495: in a gap the offset for fold=1 is the larger, in a fold the smaller one.
    return "does not exist" if second > first else "occurs twice"


def parse_amount(node: Node, day: date | None, zone: ZoneInfo | None, notes: Notes) -> WorkedTime | None:
    """The time of one person, who is not named yet: a duration, a span, or a list of them. None, with an error,
    otherwise.
    """
    if isinstance(node, Fields):
        notes.error(node.where, "bad-hours", "hours of one person cannot be a mapping", EXAMPLES)
        return None
    minutes = 0
    spans: list[tuple[int, int, Where]] = []
    with notes.watching() as watch:
        for part in node.nodes if isinstance(node, Items) else (node,):
            if not isinstance(part, Scalar):
                notes.error(part.where, "bad-hours", "an item of hours is not plain text", EXAMPLES)
                continue
            for text in time_parts(part.text.strip()):
                if span := parse_span(text):
                    spans.append((*span, part.where))
                    if day is not None:
                        _note_odd_clocks(day, span, zone, part.where, notes)
                        minutes += passed_minutes(day, *span, zone)
                elif (duration := parse_duration(text)) is not None:
                    minutes += duration
                else:
                    comma = re.fullmatch(r"[0-9]+,[0-9]+(\s*h(ours?)?)?", text)
                    mended = text.replace(",", ".")
                    hint, mend = (f"write {mended} with a point", (text, mended)) if comma else (EXAMPLES, None)
                    if hours := re.fullmatch(r"([0-9]{1,2}) *- *([0-9]{1,2})", text):
                        hint = f"write {hours[1]}:00-{hours[2]}:00, or the time worked like 3:15"
                    notes.error(part.where, "bad-hours", f'"{text}" is not a time worked', hint, mend)
        spans.sort()
        for (_, before, _), (start, _, where) in itertools.pairwise(spans):
            if start < before:
                notes.error(where, "hours-overlap", "two spans of one person overlap", "write them as one span")
    if watch.failed:
        return None
    return WorkedTime(person="", minutes=minutes, spans=tuple((start, end) for start, end, _ in spans))


def _note_odd_clocks(day: date, clocks: tuple[int, int], zone: ZoneInfo | None, where: Where, notes: Notes) -> None:
    for clock in clocks if zone else ():
        assert zone is not None
        if oddity := _odd_clock(day, clock, zone):
            shown = f"{clock % DAY // 60:02d}:{clock % 60:02d}"
            said = f"{shown} {oddity} on this day: the clocks change in {zone.key}"
            hint = "write the time worked as a duration, like 3:15, if the total is not what you mean"
            notes.finding(where, "clock-change", said, hint)


def parse_hours(
    node: Node, day: date | None, people: tuple[str, ...] | None, known: KnownIds, notes: Notes
) -> tuple[tuple[WorkedTime, ...], tuple[str, ...]] | None:
    """(time per person, people) from `hours`; None with errors where it cannot be read.

    `people` is what the entry says, None where it says nothing: then everyone named in a mapping
    worked, or the builders for a single figure. A mapping that leaves out one of `people`
    or names one of them twice (`ada` and `Ada`: the last counts) is a finding; one that names somebody else an error.
    """
    node = _by_person(node, known)
    if not isinstance(node, Fields):
        amount = parse_amount(node, day, known.zone, notes)
        who = people if people is not None else known.builders
        return None if amount is None else (tuple(replace(amount, person=person) for person in who), who)
    times: dict[str, WorkedTime] = {}
    with notes.watching() as watch:
        for key, value in node.pairs:
            person = known.id(key, "person", notes)
            if person is not None and people is not None and person not in people:
                said = f'"{person}" has hours but is not among `people`'
                notes.error(key.where, "hours-of-nobody", said, "add them there")
                continue
            if person in times:
                said = f'hours of "{person}" are given twice, and these alone count'
                notes.finding(key.where, "hours-twice", said, "write them as one list")
            if person is not None and (amount := parse_amount(value, day, known.zone, notes)):
                times[person] = replace(amount, person=person)
    if watch.failed:
        return None
    who = people if people is not None else tuple(times)
    for person in who:
        if person not in times:
            hint = f"add `{person}: 3:15` or the like"
            notes.finding(node.where, "no-hours", f'no hours are given for "{person}"', hint)
    return tuple(times[person] for person in who if person in times), who


def _by_person(node: Node, known: KnownIds) -> Node:
    """`Ada 3h, Bo 90 min` as the mapping that it means; anything else as it is."""
    if not isinstance(node, Scalar):
        return node
    found = [_OF_PERSON.fullmatch(part) for part in _APART.split(node.text.strip())]
    if not all(one and known.meant(one["who"], "person") for one in found):
        return node
    pairs = [(replace(node, text=one["who"]), replace(node, text=one["time"])) for one in found if one]
    return Fields(pairs=tuple(pairs), where=node.where)


def elapsed_minutes(day: date, times: tuple[WorkedTime, ...], zone: ZoneInfo | None) -> int:
    """How long a session lasted, however many worked: all spans laid over one another, or the
    longest single time where that is more (somebody told a duration only)."""
    spans = sorted({span for worked in times for span in worked.spans})
    total = 0
    reached: int | None = None
    for start, end in spans:
        begin = start if reached is None else max(start, reached)
        if end > begin:
            total += passed_minutes(day, begin, end, zone)
            reached = end
    return max([total, *(worked.minutes for worked in times)])
