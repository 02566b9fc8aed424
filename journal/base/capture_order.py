"""Pictures in the order in which they were taken: the one rule for pages and films."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

from journal.base.model import Photo

_FAR = timedelta(days=5 * 366)


def in_capture_order(photos: Sequence[Photo]) -> tuple[Photo, ...]:
    """`photos`, which come in the order of their names, by capture time; one without a trustworthy time stays
    behind its neighbour by file name.

    Cameras count their files up, so the name places a picture whose clock was never set
    (common practice, no source). Nor is a time trusted that is years away from most of the others.
    """
    place = {photo.name: number for number, photo in enumerate(photos)}
    taken = {photo.name: photo.facts.taken for photo in photos if photo.facts.clock_set and photo.facts.taken}
    times = sorted(taken.values())
    trusted = {name for name, time in taken.items() if abs(time - times[len(times) // 2]) < _FAR}
    order = sorted(
        (photo for photo in photos if photo.name in trusted), key=lambda photo: (taken[photo.name], place[photo.name])
    )
    timed = {photo.name for photo in order}
    for photo in photos:
        if photo.name not in timed:
            before = [
                (place[other.name], at) for at, other in enumerate(order) if place[other.name] < place[photo.name]
            ]
            order.insert(max(before)[1] + 1 if before else 0, photo)
    return tuple(order)
