"""The rules of evidence on pictures: when they were taken, which are one and the same, and who is at work in them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from journal.base.formatting import say_count, say_date, say_few
from journal.base.model import Entry, Person, Photo, Role, WriteUp
from journal.ledger.alike import Owned, same_pictures
from journal.ledger.gaps import Check, Facts, Noticed, dated, named_in, rule, usable, words_in


def _of_pictures(
    told: Entry | WriteUp, shown: Sequence[tuple[Photo, str]], message: str, hint: str
) -> Iterator[Noticed]:
    """`message` and the first few of `shown` after it, pointed at where the first picture is named."""
    if shown:
        words = say_few([f"{photo.name}{said}" for photo, said in shown])
        yield Noticed(told, (f"photos.{shown[0][0].name}", "photos"), f"{message} {words}", hint)


def _times(word: str, message: str, hint: str) -> Check:
    """The pictures of which this is the verdict, told once for each entry."""

    def check(facts: Facts) -> Iterator[Noticed]:
        for told in dated(facts.build) if word == "photo-time" else facts.build.entries:
            judged = [(photo, facts.times[photo.src_uri]) for photo in told.photos if photo.src_uri in facts.times]
            shown = [(photo, said) for photo, (verdict, said) in judged if verdict == word]
            yield from _of_pictures(told, shown, message.format(day=say_date(told.date)), hint)

    return check


rule(
    "photo-time",
    "Pictures whose file says two things of the time when it was taken.",
    "A time that speaks against the satellite, the number or the name of its own file proves nothing.",
)(
    _times(
        "photo-time",
        "two times for one picture:",
        "put the original from the camera in its place; or say since when its clock was wrong, and how far",
    )
)
rule(
    "photo-date",
    "Pictures taken more than a day before or after the entry's day.",
    "A picture supports the day on which it was taken.",
)(
    _times(
        "photo-date",
        "taken on another day than the entry's ({day}):",
        "put the picture into the entry of its day, or mend `date`",
    )
)
rule(
    "camera-clock",
    "Pictures from a camera whose clock was never set.",
    "The time in the file means nothing then, and the record does not repeat it.",
)(
    _times(
        "camera-clock",
        "the camera's clock was never set:",
        'set the clock of the camera; the record says "not recorded" for these pictures',
    )
)
rule(
    "no-capture-time",
    "Pictures without a capture time.",
    "Nothing but the entry then says when the picture was taken.",
)(
    _times(
        "no-capture-time",
        "no capture time in",
        "use the file as it came from the camera; programs that send pictures often drop the time",
    )
)


@rule(
    "photo-shared",
    "The same picture in two entries, or twice in one, also where it was saved anew.",
    "One picture cannot show the work of two days.",
)
def _photos_used_twice(facts: Facts) -> Iterator[Noticed]:
    """Told once per set of entries."""
    by_entries: dict[tuple[str, ...], list[list[Owned]]] = defaultdict(list)
    for group in same_pictures([(entry.id, photo) for entry in facts.build.entries for photo in entry.photos]):
        by_entries[tuple(dict.fromkeys(entry for entry, _ in group))].append(group)
    entries = {entry.id: entry for entry in facts.build.entries}
    for ids, groups in by_entries.items():
        here = entries[ids[-1]]
        first = next(photo.name for entry, photo in groups[0] if entry == here.id)
        yield Noticed(
            here,
            (f"photos.{first}", "photos"),
            f"the same picture more than once: {say_few([_same_picture(group, here.id) for group in groups])}",
            "keep it in the entry of the day on which it was taken",
            entries=(here.id, *ids[:-1]),
        )


def _same_picture(group: Sequence[Owned], here: str) -> str:
    own = [photo.name for entry, photo in group if entry == here]
    elsewhere = [f"{photo.name} in {entry}" for entry, photo in group if entry != here]
    anew = " (saved anew)" if len({photo.sha256 for _, photo in group}) > 1 else ""
    return " = ".join([*own, *elsewhere]) + anew


@rule(
    "nobody-at-work",
    "Assemblies without a picture of a builder at work.",
    "Inspectors give such pictures special weight: they show who did the work.",
)
def _nobody_at_work(facts: Facts) -> Iterator[Noticed]:
    """Of assemblies that count. Pointed at in its newest entry: a sealed one would need an amendment."""
    builders = {person.id for person in facts.build.people.values() if person.role is Role.BUILDER}
    entries: dict[str, list[Entry]] = defaultdict(list)
    for entry in facts.build.entries:
        entries[entry.assembly].append(entry)
    for assembly in facts.build.assemblies.values():
        pictures = [photo for entry in entries[assembly.id] for photo in usable(entry.photos)]
        seen = {person for photo in pictures for person in photo.people}
        if not assembly.counts or not entries[assembly.id] or seen & builders:
            continue
        yield Noticed(
            entries[assembly.id][-1],
            ("photos", "assembly"),
            f"{'no builder is' if seen else 'nobody is'} seen at work in the pictures of {assembly.title} "
            f"({say_count(len(pictures), 'picture') if pictures else 'none'})",
            "name who is at work under `photos: {FILE: {people: [ID]}}`, or take such a picture next time",
            entries=tuple(entry.id for entry in reversed(entries[assembly.id])),
            assembly=assembly.id,
        )


def _unlisted(facts: Facts, *, paid: bool) -> Iterator[tuple[Entry, Photo, Person]]:
    """Who is at work in a picture of an entry that does not count them among its people; of paid help also who is
    named under the picture.
    """
    people = [one for one in facts.build.people.values() if (one.role is Role.PAID) == paid]
    for entry in facts.build.entries:
        others = [one for one in people if one.id not in entry.people and one.role is not Role.INSPECTOR]
        for photo in usable(entry.photos) if entry.people and others else ():
            under = words_in(photo.caption) if paid else set()
            for person in others:
                if person.id in photo.people or (under and named_in(person, under)):
                    yield entry, photo, person


def _told_unlisted(facts: Facts, *, paid: bool) -> Iterator[Noticed]:
    seen: dict[str, list[tuple[Entry, Photo, Person]]] = defaultdict(list)
    for one in _unlisted(facts, paid=paid):
        seen[one[0].id].append(one)
    for told in seen.values():
        entry, first, _ = told[0]
        who = say_few([f"{person.name} in {photo.name}" for _, photo, person in told])
        yield Noticed(
            entry,
            (f"photos.{first.name}", "photos"),
            f"{'paid help' if paid else 'somebody'} is seen at work and not among the people of the entry: {who}",
            "add them to `people`, with their time and what they did, or mend what is said of the picture",
        )


@rule(
    "paid-unlisted",
    "Paid help that a picture shows or names, and the entry leaves out.",
    "Paid help is counted apart from the builder's own work, all of it.",
)
def _paid_unlisted(facts: Facts) -> Iterator[Noticed]:
    return _told_unlisted(facts, paid=True)


@rule(
    "worker-unlisted",
    "People seen at work in a picture of an entry that does not name them.",
    "Who did the work belongs to what every entry must show.",
)
def _workers_unlisted(facts: Facts) -> Iterator[Noticed]:
    return _told_unlisted(facts, paid=False)
