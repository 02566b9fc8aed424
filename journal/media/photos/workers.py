"""Working on several pictures at a time."""

from __future__ import annotations

import contextlib
import gc
import os
from collections.abc import Callable, Iterator, Sequence
from typing import TypeVar

from journal.base.byte_progress import Progress
from journal.base.digests import in_threads
from journal.media.photos.service import SERVICE

Item = TypeVar("Item")
Result = TypeVar("Result")


def each(items: Sequence[Item], work: Callable[[Item], Result], progress: Progress) -> Iterator[Result]:
    """The result of `work` for each item, in order, with as many threads as there are processors, each of which asks a
    child process of its own (`service.py`). Stopped in the middle, it waits for no picture.
    """
    processors = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    if not items:
        return
    for done, result in enumerate(in_threads(work, items, processors, SERVICE.stop), 1):
        progress(done, len(items))
        yield result


@contextlib.contextmanager
def uncollected() -> Iterator[None]:
    """Leave Python's collector of circles out of it: among tens of thousands of new records there are
    none, and looking for them again and again takes three quarters of the time.
    """
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()
