"""How long work tells how far it is: stages by name, each with its progress in bytes."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext

from journal.base.formatting import say_count

Progress = Callable[[int, int], None]
"""Told (bytes done, bytes in all)."""

Stage = Callable[[str], AbstractContextManager[Progress]]
"""Opens a stage of the work by its name ("copying originals"); its progress is in bytes."""


def quietly(what: str) -> AbstractContextManager[Progress]:
    """Nobody watches."""
    return nullcontext(silent)


def silent(done: int, total: int) -> None:
    """Nobody watches."""


def say_bytes(count: int) -> str:
    """`4.2 GB`, in powers of ten as disks are sold."""
    for unit, size in (("GB", 10**9), ("MB", 10**6), ("kB", 10**3)):
        if count >= size:
            return f"{count / size:.1f} {unit}"
    return say_count(count, "byte")
