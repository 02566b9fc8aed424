"""The rules of evidence on days, hours, people and places."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Hashable, Iterator, Mapping
from itertools import pairwise

from journal.base.formatting import say_count, say_date, say_minutes
from journal.base.grouping import grouped
from journal.base.model import Build, Entry, Role
from journal.ledger.gaps import Facts, Noticed, dated, named_in, of_each, rule, words_in

LONG_DAY_MINUTES = 16 * 60
LONG_GAP_DAYS = 60
TOOLS_FILE = "content/tools.csv"
_FEWEST_WORDS, _MANY_WORDS = 12, 40
"""Words of a text that say something: of two entries alike in all else; and of two that share nothing but the text."""
_SHARE_ALIKE = 0.9
_EARLIER = 8  # so many entries a copy is held against, where many are alike


@rule("long-day")
def _long_days(facts: Facts) -> Iterator[Noticed]:
    """Over all entries of that day."""
    for day, entries in grouped(facts.build.entries, lambda entry: [entry.date]).items():
        worked = Counter[str]()
        for time in (time for entry in entries for time in entry.time):
            worked[time.person] += time.minutes
        names = [
            f"{facts.build.people[person].name} {say_minutes(minutes)}"
            for person, minutes in worked.items()
            if minutes > LONG_DAY_MINUTES
        ]
        if names:
            message = f"more than 16 h on {say_date(day)}: {', '.join(names)}"
            yield Noticed(entries[-1], message, entries=tuple(entry.id for entry in reversed(entries)))


@rule("future-date")
def _future_dates(facts: Facts) -> Iterator[Noticed]:
    for told in dated(facts.build):
        if told.date > facts.today:
            yield Noticed(told, f"dated {say_date(told.date)}, which is still to come")
    for tool in facts.build.calibrated_tools:
        if tool.checked_on and tool.checked_on > facts.today:
            message = f'"{tool.name}" is checked on {say_date(tool.checked_on)}, which is still to come'
            yield Noticed(None, message, place=tool.where, file=TOOLS_FILE)


@rule("folder-date")
def _folders_of_other_days(facts: Facts) -> Iterator[Noticed]:
    for told in dated(facts.build):
        found = re.match(r"\d{4}-\d\d-\d\d(?!\d)", told.id)
        if found and found[0] != told.date.isoformat():
            yield Noticed(told, f"dated {say_date(told.date)}, and the folder says {found[0]}")


@rule("before-begun")
def _dates_before_the_build(facts: Facts) -> Iterator[Noticed]:
    begun = facts.build.begun
    for told in dated(facts.build):
        if begun and told.date < begun:
            yield Noticed(told, f"dated {say_date(told.date)}, before the build began ({say_date(begun)})")


@rule("long-gap")
def _long_gaps(facts: Facts) -> Iterator[Noticed]:
    entries = grouped(facts.build.entries, lambda entry: [entry.date])
    for before, after in pairwise(facts.ledger.worked_days):
        if (days := (after - before).days) > LONG_GAP_DAYS:
            message = f"nothing is told of the {days} days since {say_date(before)}"
            answering = tuple(entry.id for day in (after, before) for entry in entries[day])
            yield Noticed(entries[after][0], message, entries=answering)


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
        words = [Counter(re.findall(r"\w+", entry.body.casefold())) for entry in group if len(group) > 1]
        for at, entry in enumerate(group[1:], 1):
            for number, earlier in enumerate(group[:at][:_EARLIER]):
                least = _FEWEST_WORDS if earlier.date == entry.date else _MANY_WORDS
                longer = max(words[at].total(), words[number].total())
                if (words[at] & words[number]).total() >= max(least, _SHARE_ALIKE * longer):
                    copies.setdefault(entry.id, earlier.id)
    return copies


@rule("day-copied")
def _days_copied(facts: Facts) -> Iterator[Noticed]:
    for copy, other in facts.copies.items():
        yield Noticed(facts.entries[copy], f"tells the same as {other}, nearly word for word", entries=(copy, other))


@rule("hours-twice")
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
                times = " to ".join(f"{at // 60 % 24:02d}:{at % 60:02d}" for at in (start, min(until, end)))
                twice[min(before, number), max(before, number)].append(f"{build.people[person].name} {times}")
            furthest = max(furthest, (end, number))
    for (first, second), people in twice.items():
        earlier, entry = build.entries[first], build.entries[second]
        if facts.copies.get(entry.id) != earlier.id:
            places = [build.places[one.place].name for one in (earlier, entry) if one.place]
            apart = f", one in {places[0]} and one in {places[1]}" if len({*places}) > 1 else ""
            message = f"the same time stands in {earlier.id}{apart}: {', '.join(people)}"
            yield Noticed(entry, message, entries=(entry.id, earlier.id))


def _lacking(lacking: list[Entry], message: str, in_general: tuple[str, str] | None) -> Iterator[Noticed]:
    """Each entry that lacks something; where build.yml has none at all it is told once, `in_general`."""
    if lacking and in_general:
        told = f"{in_general[0]} for {say_count(len(lacking), 'entry', 'entries')}"
        yield Noticed(None, told, in_general[1], entries=tuple(entry.id for entry in lacking))
    else:
        yield from (Noticed(entry, message) for entry in lacking)


@rule("no-place")
def _places_missing(facts: Facts) -> Iterator[Noticed]:
    lacking = [entry for entry in facts.build.entries if entry.place is None]
    hint = "name the workshop under `places`; the first place stands for every entry without one"
    in_general = None if facts.build.places else ("no place is told", hint)
    return _lacking(lacking, "the place of the work is not told", in_general)


@rule("no-people")
def _people_missing(facts: Facts) -> Iterator[Noticed]:
    lacking = [entry for entry in facts.build.entries if not entry.people]
    builders = any(person.role is Role.BUILDER for person in facts.build.people.values())
    hint = "name the builders under `people`; they stand for every entry that names nobody"
    return _lacking(lacking, "nobody is named for this work", None if builders else ("nobody is named", hint))


@of_each("paid-help")
def _paid_help_untold(facts: Facts, entry: Entry) -> str:
    """Neither text nor captions name it."""
    people = (facts.build.people[person] for person in entry.people)
    if not (paid := [person for person in people if person.role is Role.PAID]):
        return ""
    captions = " ".join(photo.caption for photo in entry.photos)
    told = words_in(f"{entry.title} {entry.body} {captions}")
    silent = ", ".join(person.name for person in paid if not named_in(person, told))
    return f"paid help took part ({silent}), but the entry does not say what it did" if silent else ""
