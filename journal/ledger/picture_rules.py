"""The rules of evidence on pictures: when they were taken, which are one and the same, and who is at work in them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from journal.base.formatting import say_count, say_date, say_few
from journal.base.grouping import grouped
from journal.base.model import Role
from journal.ledger.alike import Owned, same_pictures
from journal.ledger.gaps import Facts, Noticed, dated, named_in, rule, usable, words_in


def _tell_times(word: str, message: str) -> None:
    """The rule on pictures of which this is the verdict, told once for each entry where the first of them is named."""

    def check(facts: Facts) -> Iterator[Noticed]:
        for told in dated(facts.build) if word == "photo-time" else facts.build.entries:
            judged = [(photo, facts.times.get(photo.src_uri, ("", ""))) for photo in told.photos]
            if shown := [(photo.name, said) for photo, (verdict, said) in judged if verdict == word]:
                words = say_few([name + said for name, said in shown])
                yield Noticed(told, f"{message.format(day=say_date(told.date))} {words}", at=f"photos.{shown[0][0]}")

    rule(word)(check)


_tell_times("photo-time", "a capture time that is in doubt:")
_tell_times("photo-date", "taken on another day than the entry's ({day}):")
_tell_times("camera-clock", "the camera's clock was never set:")
_tell_times("no-capture-time", "no capture time in")


@rule("photo-shared")
def _photos_used_twice(facts: Facts) -> Iterator[Noticed]:
    """Told once per set of entries."""
    by_entries: dict[tuple[str, ...], list[list[Owned]]] = defaultdict(list)
    for group in same_pictures([(entry.id, photo) for entry in facts.build.entries for photo in entry.photos]):
        by_entries[tuple(dict.fromkeys(entry for entry, _ in group))].append(group)
    for ids, groups in by_entries.items():
        here = facts.entries[ids[-1]]
        first = next(photo.name for entry, photo in groups[0] if entry == here.id)
        message = f"the same picture more than once: {say_few([_same_picture(group, here.id) for group in groups])}"
        yield Noticed(here, message, entries=(here.id, *ids[:-1]), at=f"photos.{first}")


_NAMED = 6


def _same_picture(group: Sequence[Owned], here: str) -> str:
    own = [photo.name for entry, photo in group if entry == here]
    elsewhere = [f"{photo.name} in {entry}" for entry, photo in group if entry != here]
    anew = " (saved anew)" if len({photo.sha256 for _, photo in group}) > 1 else ""
    names = [*own, *elsewhere]
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    return " = ".join(names[:_NAMED]) + more + anew


@rule("nobody-at-work")
def _nobody_at_work(facts: Facts) -> Iterator[Noticed]:
    """Of assemblies that count. Pointed at in its newest entry: a sealed one would need an amendment."""
    builders = {person.id for person in facts.build.people.values() if person.role is Role.BUILDER}
    entries = grouped(facts.build.entries, lambda entry: [entry.assembly])
    for assembly in facts.build.assemblies.values():
        pictures = [photo for entry in entries[assembly.id] for photo in usable(entry.photos)]
        seen = {person for photo in pictures for person in photo.people}
        if assembly.counts and entries[assembly.id] and not seen & builders:
            message = (
                f"{'no builder is' if seen else 'nobody is'} seen at work in the pictures of {assembly.title} "
                f"({say_count(len(pictures), 'picture') if pictures else 'none'})"
            )
            answering = tuple(entry.id for entry in reversed(entries[assembly.id]))
            yield Noticed(entries[assembly.id][-1], message, entries=answering, assembly=assembly.id)


def _tell_unlisted(word: str, message: str, *, paid: bool) -> None:
    """The rule on people at work in a picture of an entry that does not count them among its own; of paid help also
    those who are named under the picture.
    """

    def check(facts: Facts) -> Iterator[Noticed]:
        working = [one for one in facts.build.people.values() if one.role is not Role.INSPECTOR]
        people = [one for one in working if (one.role is Role.PAID) == paid]
        for entry in facts.build.entries:
            others = [one for one in people if entry.people and one.id not in entry.people]
            seen = [
                (photo.name, one.name)
                for photo in (usable(entry.photos) if others else ())
                for one in others
                if one.id in photo.people or (paid and photo.caption and named_in(one, words_in(photo.caption)))
            ]
            if seen:
                who = say_few([f"{name} in {photo}" for photo, name in seen])
                yield Noticed(entry, f"{message} {who}", at=f"photos.{seen[0][0]}")

    rule(word)(check)


_tell_unlisted("paid-unlisted", "paid help is seen at work and not among the people of the entry:", paid=True)
_tell_unlisted("worker-unlisted", "somebody is seen at work and not among the people of the entry:", paid=False)
