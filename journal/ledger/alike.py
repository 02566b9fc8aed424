"""Which pictures are one and the same, also where it was saved anew, smaller or under another name. Pure.

Told only where it is sure: a row of pictures of one bench, seconds apart, is no picture told twice. Two of one capture
time may differ most; of two of one day with times apart nothing is said, however alike they are.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Iterator, Sequence
from datetime import datetime
from fractions import Fraction
from itertools import combinations, pairwise, product

from journal.base.model import Build, Edits, Entry, Part, Photo, WriteUp
from journal.base.problems import Problem, finding

Owned = tuple[str, Photo]
"""A picture, and the entry that it lies in."""

_NEAR, _CROPPED, _SENT_ON = 20, 32, 12
"""Bits of 256 that may differ (see `likeness_of`): in general; where capture times are the same and sizes are not; and
of two in one entry that both lost their time on the way."""
_BANDS = _NEAR + 1  # of two that differ in 20 bits one band of 21 is the same in both
_MASKS = tuple(sum(1 << bit for bit in range(band, 256, _BANDS)) for band in range(_BANDS))
_TOO_MANY = 200
"""A band that so many share is a flat wall, and no mark of any picture."""


def same_pictures(photos: Sequence[Owned]) -> list[list[Owned]]:
    """The pictures that are told more than once, each with all its names, in the order given."""
    leader = list(range(len(photos)))

    def lead(at: int) -> int:
        while leader[at] != at:
            leader[at] = leader[leader[at]]
            at = leader[at]
        return at

    for one, other in _pairs(photos):
        first, second = sorted((lead(one), lead(other)))
        leader[second] = first
    groups: dict[int, list[Owned]] = defaultdict(list)
    for at, owned in enumerate(photos):
        groups[lead(at)].append(owned)
    return [group for group in groups.values() if len(group) > 1]


def _pairs(photos: Sequence[Owned]) -> Iterator[tuple[int, int]]:
    """Positions of two that are the same; enough of them to join all that are."""
    for group in _grouped((photo.sha256, at) for at, (_, photo) in enumerate(photos)):
        yield from pairwise(group)
    bits = {at: int(photo.facts.likeness, 16) for at, (_, photo) in enumerate(photos) if photo.facts.likeness}

    def same(pair: tuple[int, int]) -> bool:
        one, other = pair
        return (bits[one] ^ bits[other]).bit_count() <= _may_differ(photos[one], photos[other])

    for group in _grouped((_time(photos[at][1]), at) for at in bits):
        yield from filter(same, combinations(group[:_TOO_MANY], 2))
    alike = _grouped(((look, at) for at, look in bits.items()), least=1)
    for group in alike:
        yield from filter(same, pairwise(sorted(group, key=lambda at: str(_time(photos[at][1]) or ""))))
    for mask in _MASKS:
        for near in _grouped((bits[group[0]] & mask, number) for number, group in enumerate(alike)):
            for one, other in combinations(near, 2) if len(near) <= _TOO_MANY else ():
                if (bits[alike[one][0]] ^ bits[alike[other][0]]).bit_count() <= _NEAR:
                    yield from filter(same, product(alike[one][:_SENT_ON], alike[other][:_SENT_ON]))


def _grouped(items: Iterable[tuple[Hashable, int]], least: int = 2) -> list[list[int]]:
    """Those of one key together, where there are `least` of them; what has an empty key stands alone."""
    groups: dict[Hashable, list[int]] = defaultdict(list)
    for key, item in items:
        if key not in (None, ""):
            groups[key].append(item)
    return [group for group in groups.values() if len(group) >= least]


def _time(photo: Photo) -> datetime | None:
    return photo.facts.taken if photo.facts.clock_set else None


def _may_differ(one: Owned, other: Owned) -> int:
    """In how many bits two pictures may differ and still be the same; -1 where nothing is said of them."""
    (here, first), (there, second) = one, other
    if here == there and _is_raw_beside(first, second):
        return -1
    taken, again = _time(first), _time(second)
    if not taken or not again:
        return _NEAR if here != there or taken or again else _SENT_ON
    if taken == again:
        resized = (first.facts.width, first.facts.height) != (second.facts.width, second.facts.height)
        return _CROPPED if resized else _NEAR
    return _NEAR if taken.date() != again.date() else -1


def _is_raw_beside(one: Photo, other: Photo) -> bool:
    """Whether a camera wrote both at once: the raw file and a picture of the same name."""
    raws = [photo.facts.kind == "raw" for photo in (one, other)]
    stems = {photo.name.rpartition(".")[0].casefold() for photo in (one, other)}
    return len(stems) == 1 and raws[0] != raws[1]


def check_undone(build: Build) -> tuple[Problem, ...]:
    """Findings `blur-undone`: a picture that everybody sees shows what is hidden of the same picture elsewhere."""
    told: list[Entry | WriteUp] = [*build.entries, *build.write_ups]
    if not any(photo.edits.hides for one in told for photo in one.photos):
        return ()
    of = {photo.src_uri: one for one in told for photo in one.photos}
    problems = []
    for group in same_pictures([(photo.src_uri, photo) for one in told for photo in one.photos]):
        for uri, photo in group:
            here = of[uri]
            hidden = [owned for owned in group if owned[0] != uri and _shows(photo.edits, owned[1].edits)]
            if hidden and not (photo.private or here.private):
                there, other = of[hidden[0][0]], hidden[0][1]
                said = (
                    f'"{photo.name}" is the same picture as "{other.name}" in {there.id}, which is cropped or filled '
                )
                said += "in there: what is hidden there shows here"
                hint = "write the same `crop` and `blur` of it here, or `private: true`"
                problems.append(
                    finding(here.src_uri, here.where.get(f"photos.{photo.name}"), "blur-undone", said, hint)
                )
    return tuple(problems)


def _shows(here: Edits, there: Edits) -> bool:
    """Whether anything that `there` hides is shown `here`."""
    kept = here.crop or _WHOLE
    parts = [_both(part, kept) for part in there.blur]
    return (there.crop is not None and not _within(kept, there.crop)) or any(
        left < right and top < bottom and not any(_within((left, top, right, bottom), part) for part in here.blur)
        for left, top, right, bottom in parts
    )


_WHOLE: Part = (Fraction(0), Fraction(0), Fraction(1), Fraction(1))


def _both(one: Part, other: Part) -> Part:
    """What lies in both; its edges are the wrong way round where nothing does."""
    (left, top, right, bottom), (west, north, east, south) = one, other
    return max(left, west), max(top, north), min(right, east), min(bottom, south)


def _within(part: Part, other: Part) -> bool:
    return _both(part, other) == part
