"""SHA-256 of files, one read each; also while they are copied.

SHA-256 is that of FIPS 180-4 as `hashlib` has it.
"""

from __future__ import annotations

import hashlib
import os
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Protocol, TypeVar

from journal.base.byte_progress import Progress

CHUNK = 1 << 20
THREADS = 2
"""hashlib lets other threads run while it works; more than two readers only tire a turning disk."""

T = TypeVar("T")
R = TypeVar("R")


def sha256_of(data: bytes) -> str:
    """The digest in lower-case hexadecimal."""
    return hashlib.sha256(data).hexdigest()


class Source(Protocol):
    """Anything that reads bytes into a buffer."""

    def readinto(self, buffer: memoryview, /) -> int | None: ...  # noqa: D102


class Sink(Protocol):
    """Anything that takes all the bytes it is given."""

    def write(self, data: memoryview, /) -> object: ...  # noqa: D102


def digest_stream(source: Source, target: Sink | None = None) -> tuple[str, int]:
    """(SHA-256, bytes) of everything left in `source`, written to `target` on the way if there is one."""
    digest, buffer, total = hashlib.sha256(), _buffer(), 0
    while count := source.readinto(buffer):
        digest.update(buffer[:count])
        total += count
        if target is not None:
            target.write(buffer[:count])
    return digest.hexdigest(), total


_OF_THREAD = threading.local()


def _buffer() -> memoryview:
    """One buffer for each thread: a new one for each of 60,000 small files costs more than reading them."""
    buffer: memoryview | None = getattr(_OF_THREAD, "buffer", None)
    if buffer is None:
        buffer = _OF_THREAD.buffer = memoryview(bytearray(CHUNK))
    return buffer


def file_sha256(path: Path) -> tuple[str, int]:
    """(SHA-256, bytes) of a file."""
    with path.open("rb", buffering=0) as source:
        return digest_stream(source)


def copy_with_sha256(path: Path, target: Path) -> tuple[str, int]:
    """Copy `path` to the new file `target`, its time included; (SHA-256, bytes) of what was copied.

    Raises `ChangedError` where somebody wrote to `path` meanwhile.
    """
    with path.open("rb", buffering=0) as source, target.open("xb") as sink:
        before = os.fstat(source.fileno())
        found = digest_stream(source, sink)
        after = os.fstat(source.fileno())
    if (before.st_size, before.st_mtime_ns) != (after.st_size, after.st_mtime_ns) or found[1] != after.st_size:
        raise ChangedError(path)
    os.utime(target, ns=(after.st_atime_ns, after.st_mtime_ns))
    return found


class ChangedError(Exception):
    """A file was written to while it was being copied; its first argument is the path."""


def in_threads(
    work: Callable[[T], R], items: Sequence[T], threads: int = THREADS, stop: Callable[[], None] = lambda: None
) -> Iterator[R]:
    """`work` of each item, in order, so many at a time. When one fails or the builder stops it, what is not begun is
    dropped, and `stop` is called, which may put an end to what is.
    """
    pool = ThreadPoolExecutor(threads)
    try:
        yield from pool.map(work, items)
    except BaseException:
        pool.shutdown(wait=False, cancel_futures=True)
        stop()
        raise
    finally:
        pool.shutdown()


def largest_first(work: Callable[[T], R], sizes: Mapping[T, int], progress: Progress) -> Iterator[tuple[T, R]]:
    """(item, `work` of it) for all of `sizes` (item -> bytes), as in `in_threads`; `progress` is told the bytes done.

    The largest come first, so that no thread is left with a long film at the end.
    """
    items = sorted(sizes, key=lambda item: -sizes[item])
    done, total = 0, sum(sizes.values())
    for item, result in zip(items, in_threads(work, items), strict=True):
        yield item, result
        done += sizes[item]
        progress(done, total)
