"""How work that takes long tells how far it is."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext

from journal.base.formatting import say_count

Progress = Callable[[int, int], None]
"""Told (done, in all): bytes, or whatever the work is counted in, from the thread that asked for it."""

Begin = Callable[[str], AbstractContextManager[Progress]]
"""Told the name of a piece of work that begins ("copying originals"); gives what is to be told of its progress."""


def silent(done: int, total: int) -> None:
    """A progress that is shown nowhere."""


def quietly(what: str) -> AbstractContextManager[Progress]:
    """Work whose progress is shown nowhere."""
    return nullcontext(silent)


def say_bytes(count: int) -> str:
    """`4.2 GB`, in powers of ten as disks are sold."""
    for unit, size in (("GB", 10**9), ("MB", 10**6), ("kB", 10**3)):
        if count >= size:
            return f"{count / size:.1f} {unit}"
    return say_count(count, "byte")
