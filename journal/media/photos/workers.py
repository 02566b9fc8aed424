"""Working on several pictures at a time, within the memory there is."""

from __future__ import annotations

import contextlib
import gc
import os
import threading
import warnings
from collections.abc import Callable, Iterator, Sequence
from typing import TypeVar

from PIL import Image

from journal.base.byte_progress import Progress
from journal.base.digests import in_threads

Item = TypeVar("Item")
Result = TypeVar("Result")


def each(items: Sequence[Item], work: Callable[[Item], Result], progress: Progress) -> Iterator[Result]:
    """The result of `work` for each item, in order, with as many threads as there are processors: the
    decoders, the resizing, the encoding and the hashing all run outside Python's lock.
    """
    processors = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    if not items:
        return
    with _at_work:
        for done, result in enumerate(in_threads(work, items, processors), 1):
            progress(done, len(items))
            yield result


class Allowance:
    """Memory that may be taken at one time: small pictures go side by side, a huge one alone."""

    def __init__(self, total: int) -> None:
        self._total = total
        self._used = 0
        self._changed = threading.Condition()

    @contextlib.contextmanager
    def taken(self, amount: int) -> Iterator[None]:
        """Wait until `amount` bytes are free, or until nothing else is going on."""
        with self._changed:
            self._changed.wait_for(lambda: self._used + amount <= self._total or not self._used)
            self._used += amount
        try:
            yield
        finally:
            with self._changed:
                self._used -= amount
                self._changed.notify_all()


_KEPT_BLOCKS = 64  # of 1 MB


class _AtWork:
    """What holds for the whole program while pictures are read or made, and is put back by the last
    store that does so.

    Decoders warn of odd Exif on the error stream; what matters of it becomes `trouble`. And Pillow
    keeps the memory of one picture for the next: giving it back and asking for it again, page by page,
    costs a tenth of the time. Pixels do not change.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._stores = 0
        self._undo = contextlib.ExitStack()

    def __enter__(self) -> None:
        with self._lock:
            self._stores += 1
            if self._stores > 1:
                return
            self._undo.enter_context(warnings.catch_warnings())
            warnings.simplefilter("ignore")
            allocator = Image.core  # type: ignore[attr-defined]  # named in Pillow's reference, "Block allocator"
            before = allocator.get_blocks_max()
            self._undo.callback(allocator.set_blocks_max, before)
            allocator.set_blocks_max(max(before, _KEPT_BLOCKS))

    def __exit__(self, *_: object) -> None:
        with self._lock:
            self._stores -= 1
            if not self._stores:
                self._undo.close()


_at_work = _AtWork()


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
