"""The rules of evidence on days, hours, people and places."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Hashable, Iterator, Mapping
from datetime import date
from itertools import pairwise

from journal.base.formatting import say_count, say_date, say_minutes
from journal.base.model import Build, Entry, Role
from journal.ledger.gaps import Facts, Noticed, dated, named_in, rule, words_in

LONG_DAY_MINUTES = 16 * 60
LONG_GAP_DAYS = 60
TOOLS_FILE = "content/tools.csv"
_FEWEST_WORDS, _MANY_WORDS = 12, 40
"""Words of a text that say something: of two entries alike in all else; and of two that share nothing but the text."""
_SHARE_ALIKE = 0.9


@rule(
    "long-day",
    "More than 16 hours of one person on one day.",
    "Usually the hours of two people or two days were added up.",
)
def _long_days(facts: Facts) -> Iterator[Noticed]:
    """Over all entries of that day."""
    worked: dict[tuple[date, str], int] = defaultdict(int)
    entries: dict[date, list[Entry]] = defaultdict(list)
    for entry in facts.build.entries:
        entries[entry.date].append(entry)
        for time in entry.time:
            worked[entry.date, time.person] += time.minutes
    too_long: dict[date, list[str]] = defaultdict(list)
    for (day, person), minutes in worked.items():
        if minutes > LONG_DAY_MINUTES:
            too_long[day].append(f"{facts.build.people[person].name} {say_minutes(minutes)}")
    for day, told in too_long.items():
        yield Noticed(
            entries[day][-1],
            ("hours",),
            f"more than 16 h on {say_date(day)}: {', '.join(told)}",
            "check `hours` in the entries of that day: it is the time each person worked",
            entries=tuple(entry.id for entry in reversed(entries[day])),
        )


@rule(
    "future-date",
    "Entries, inspections and measurements dated after the day of the check.",
    "Usually a slip in the year.",
)
def _future_dates(facts: Facts) -> Iterator[Noticed]:
    for told in dated(facts.build):
        if told.date > facts.today:
            message = f"dated {say_date(told.date)}, which is still to come"
            yield Noticed(told, ("date",), message, "check the day and the year")
    for tool in facts.build.calibrated_tools:
        if tool.checked_on and tool.checked_on > facts.today:
            message = f'"{tool.name}" is checked on {say_date(tool.checked_on)}, which is still to come'
            yield Noticed(None, (), message, "check the day and the year", place=tool.where, file=TOOLS_FILE)


@rule(
    "folder-date",
    "Entries, inspections and measurements whose folder begins with another day than their `date`.",
    "One of the two is a slip, and every list goes by `date`.",
)
def _folders_of_other_days(facts: Facts) -> Iterator[Noticed]:
    for told in dated(facts.build):
        found = re.match(r"(\d{4})-(\d\d)-(\d\d)(?!\d)", told.id)
        if found and "-".join(found.groups()) != told.date.isoformat():
            message = f"dated {say_date(told.date)}, and the folder says {found[0]}"
            yield Noticed(told, ("date",), message, "mend `date`, or name the folder after it")


def copied_entries(build: Build) -> Mapping[str, str]:
    """Entry -> the earlier one that tells the same: day, steps, hours and nearly every word, or a long text of which
    each word is the same.
    """
    copies: dict[str, str] = {}
    alike: dict[Hashable, list[Entry]] = defaultdict(list)
    for entry in build.entries:
        alike[entry.date, entry.steps, entry.begun, entry.redone, entry.time].append(entry)
        if len(entry.body) > _MANY_WORDS * 2:
            alike[" ".join(entry.body.split()).casefold()].append(entry)
    for group in alike.values():
        for at, entry in enumerate(group[1:], 1):
            words = Counter(re.findall(r"\w+", entry.body.casefold()))
            for earlier in group[:at][:_FEWEST_WORDS]:
                same = words & Counter(re.findall(r"\w+", earlier.body.casefold()))
                least = _FEWEST_WORDS if earlier.date == entry.date else _MANY_WORDS
                longer = max(words.total(), len(re.findall(r"\w+", earlier.body)))
                if same.total() >= max(least, _SHARE_ALIKE * longer):
                    copies.setdefault(entry.id, earlier.id)
    return copies


@rule(
    "day-copied",
    "Entries that tell what another one tells, word for word.",
    "The same day told twice counts twice; the same words for two days say nothing of the second.",
)
def _days_copied(facts: Facts) -> Iterator[Noticed]:
    for entry in facts.build.entries:
        if other := facts.copies.get(entry.id):
            yield Noticed(
                entry,
                ("date",),
                f"tells the same as {other}, nearly word for word",
                "keep one of them, or write what was done in each",
                entries=(entry.id, other),
            )


@rule(
    "hours-twice",
    "Hours of one person that two entries count, perhaps in two places.",
    "Nobody works in two places at once.",
)
def _hours_counted_twice(facts: Facts) -> Iterator[Noticed]:
    """Told once for each two entries; a copied day is told as such."""
    build = facts.build
    spans: dict[str, list[tuple[int, int, int]]] = defaultdict(list)
    for number, entry in enumerate(build.entries):
        midnight = entry.date.toordinal() * 1440
        for time in entry.time:
            spans[time.person] += ((midnight + start, midnight + end, number) for start, end in time.spans)
    twice: dict[tuple[int, int], list[str]] = defaultdict(list)
    for person, worked in spans.items():
        furthest = (0, -1)
        for start, end, number in sorted(worked):
            until, before = furthest
            if start < until and before != number:
                first, second = sorted((before, number))
                times = " to ".join(f"{at // 60 % 24:02d}:{at % 60:02d}" for at in (start, min(until, end)))
                twice[first, second].append(f"{build.people[person].name} {times}")
            furthest = max(furthest, (end, number))
    for (first, second), people in twice.items():
        earlier, entry = build.entries[first], build.entries[second]
        if facts.copies.get(entry.id) == earlier.id:
            continue
        places = [build.places[one.place].name for one in (earlier, entry) if one.place]
        apart = f", one in {places[0]} and one in {places[1]}" if len({*places}) > 1 else ""
        yield Noticed(
            entry,
            ("hours",),
            f"the same time stands in {earlier.id}{apart}: {', '.join(people)}",
            "write in each entry the hours of its own work",
            entries=(entry.id, earlier.id),
        )


@rule(
    "before-begun", "Entries, inspections and measurements dated before the build began.", "Usually a slip in the year."
)
def _dates_before_the_build(facts: Facts) -> Iterator[Noticed]:
    begun = facts.build.begun
    for told in dated(facts.build):
        if begun and told.date < begun:
            message = f"dated {say_date(told.date)}, before the build began ({say_date(begun)})"
            yield Noticed(told, ("date",), message, "check the day and the year, or `begun` in build.yml")


@rule(
    "long-gap",
    "More than 60 days without work between two worked days.",
    "The record should be continuous, with breaks explained.",
)
def _long_gaps(facts: Facts) -> Iterator[Noticed]:
    entries: dict[date, list[Entry]] = defaultdict(list)
    for entry in facts.build.entries:
        entries[entry.date].append(entry)
    for before, after in pairwise(facts.ledger.worked_days):
        days = (after - before).days
        if days > LONG_GAP_DAYS:
            yield Noticed(
                entries[after][0],
                ("date",),
                f"nothing is told of the {days} days since {say_date(before)}",
                "write up what is missing, or why nothing was done",
                entries=tuple(entry.id for day in (after, before) for entry in entries[day]),
            )


def _lacking(
    lacking: list[Entry], key: str, message: str, hint: str, *, in_general: tuple[str, str] | None
) -> Iterator[Noticed]:
    """Each entry that lacks something; where build.yml has none at all it is told once, `in_general`."""
    if lacking and in_general:
        said, mend = in_general
        told = f"{said} for {say_count(len(lacking), 'entry', 'entries')}"
        yield Noticed(None, (), told, mend, entries=tuple(entry.id for entry in lacking))
        return
    for entry in lacking:
        yield Noticed(entry, (key,), message, hint)


@rule(
    "no-place",
    "Entries that do not tell where the work was done.",
    "Where belongs to what every entry must show.",
)
def _places_missing(facts: Facts) -> Iterator[Noticed]:
    hint = "name the workshop under `places`; the first place stands for every entry without one"
    return _lacking(
        [entry for entry in facts.build.entries if entry.place is None],
        "place",
        "the place of the work is not told",
        "write `place: ID`",
        in_general=None if facts.build.places else ("no place is told", hint),
    )


@rule(
    "no-people",
    "Entries that do not tell who did the work.",
    "Who belongs to what every entry must show.",
)
def _people_missing(facts: Facts) -> Iterator[Noticed]:
    builders = any(person.role is Role.BUILDER for person in facts.build.people.values())
    hint = "name the builders under `people`; they stand for every entry that names nobody"
    return _lacking(
        [entry for entry in facts.build.entries if not entry.people],
        "people",
        "nobody is named for this work",
        "write `people: [ID]`",
        in_general=None if builders else ("nobody is named", hint),
    )


@rule(
    "paid-help",
    "Paid help in an entry that does not say what it did.",
    "Paid help is counted apart from the builder's own work.",
)
def _paid_help_untold(facts: Facts) -> Iterator[Noticed]:
    """Neither text nor captions name it."""
    paid = {person.id: person for person in facts.build.people.values() if person.role is Role.PAID}
    for entry in facts.build.entries:
        present = [paid[person] for person in entry.people if person in paid]
        if not present:
            continue
        captions = " ".join(photo.caption for photo in entry.photos)
        told = words_in(f"{entry.title} {entry.body} {captions}")
        silent = ", ".join(person.name for person in present if not named_in(person, told))
        if silent:
            yield Noticed(
                entry,
                ("people", "hours"),
                f"paid help took part ({silent}), but the entry does not say what it did",
                "write by name what was done by paid help and what by the builder",
            )
