"""The short album: the 24 to 42 pictures that an inspector leafs through, chosen by rule. Pure.

Inspectors look first for the builder at work and for structure before it is closed (practice).
The rules, in this order:

1. a builder at work, up to 16 pictures;
2. the inside of something closed later, up to 12;
3. pictures that stand for their entry, up to 12;
4. any others, until the last sheet is full and there are at least 24.

Within each rule the assembly with the fewest pictures in the album comes first, and of its pictures
the one farthest in days from those it already has there; equals in the order of the journal. A
picture counts once however many copies there are. A build with fewer usable pictures shows them all.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from datetime import date
from enum import Enum

from journal.base.model import Photo
from journal.record.trace import PhotoTrace, photo_traces
from journal.view.view import ShownEntry, View

LEAST, MOST, TO_A_SHEET = 24, 42, 6


class Reason(Enum):
    """Why a picture is in the album; the value is what stands beside it."""

    AT_WORK = "builder at work"
    INSIDE = "inside, before closing"
    COVER = "stands for its entry"
    SPREAD = "for the spread over time"


LIMITS = {Reason.AT_WORK: 16, Reason.INSIDE: 12, Reason.COVER: 12}


@dataclass(frozen=True, slots=True, kw_only=True)
class AlbumPicture(PhotoTrace):
    """A picture of the album and why it is there."""

    reason: Reason


@dataclass(slots=True, kw_only=True, eq=False)
class _Candidate:
    """A picture that may be chosen. `nearest` is the number of days to the nearest picture of its
    assembly in the album so far; `place` its place in the journal.
    """

    traced: PhotoTrace
    place: tuple[date, int]
    reasons: frozenset[Reason]
    nearest: int
    reason: Reason = Reason.SPREAD

    @property
    def assembly(self) -> str:
        return self.traced.told.assembly.id if self.traced.told.assembly else ""


_FAR = 1_000_000


def choose_album(view: View, builders: Collection[str], usable: Callable[[Photo], bool]) -> tuple[AlbumPicture, ...]:
    """The album of `view`, in the order of the journal.

    `builders` are the names, as the view shows them, of people who are builders; `usable` tells
    whether there is a picture to print.
    """
    left = list(_candidates(view, builders, usable))
    chosen: list[_Candidate] = []
    per_assembly: Counter[str] = Counter()

    def choose(reason: Reason, pool: list[_Candidate], want: int) -> None:
        while pool and want > 0:
            best = min(pool, key=lambda one: (per_assembly[one.assembly], -one.nearest, one.place))
            pool.remove(best)
            if pool is not left:
                left.remove(best)
            best.reason = reason
            chosen.append(best)
            per_assembly[best.assembly] += 1
            want -= 1
            for other in left:
                if other.assembly == best.assembly:
                    other.nearest = min(other.nearest, abs((other.traced.day - best.traced.day).days))

    for reason, limit in LIMITS.items():
        choose(reason, [one for one in left if reason in one.reasons], limit)
    full_sheets = -(-max(LEAST, len(chosen)) // TO_A_SHEET) * TO_A_SHEET
    choose(Reason.SPREAD, left, full_sheets - len(chosen))
    return tuple(
        AlbumPicture(photo=one.traced.photo, told=one.traced.told, reason=one.reason)
        for one in sorted(chosen, key=lambda one: one.place)
    )


def _candidates(view: View, builders: Collection[str], usable: Callable[[Photo], bool]) -> Iterator[_Candidate]:
    seen: set[str] = set()
    for number, traced in enumerate(photo_traces(view)):
        photo = traced.photo
        if photo.sha256 in seen or not usable(photo):
            continue
        if photo.sha256:
            seen.add(photo.sha256)
        reasons = frozenset(_reasons(traced, builders))
        yield _Candidate(traced=traced, place=(traced.told.date, number), reasons=reasons, nearest=_FAR)


def _reasons(traced: PhotoTrace, builders: Collection[str]) -> Iterator[Reason]:
    photo, told = traced.photo, traced.told
    if photo.inside:
        yield Reason.INSIDE
    if isinstance(told, ShownEntry):
        if any(name in builders for name in photo.people):
            yield Reason.AT_WORK
        if told.cover is not None and told.cover.src_uri == photo.src_uri:
            yield Reason.COVER
