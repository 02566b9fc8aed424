"""Things by what they have in common."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TypeVar

K = TypeVar("K")
T = TypeVar("T")


class Groups(dict[K, tuple[T, ...]]):
    """Things by key; under a key that none of them has there is nothing."""

    def __missing__(self, key: K) -> tuple[T, ...]:
        return ()


def grouped(things: Iterable[T], keys_of: Callable[[T], Iterable[K]]) -> Groups[K, T]:
    """Things by each of their keys, in the order in which keys and things come."""
    groups: dict[K, list[T]] = {}
    for thing in things:
        for key in keys_of(thing):
            groups.setdefault(key, []).append(thing)
    return Groups((key, tuple(group)) for key, group in groups.items())
