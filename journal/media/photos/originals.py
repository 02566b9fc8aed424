"""Opening an original, for reading only and never trusting that it is a file at all, and what is known of those
that have not changed since they were last read.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import stat
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from journal.base.digests import digest_stream, sha256_of
from journal.media.photos import kinds
from journal.media.photos.cache import CacheFolder
from journal.media.photos.kinds import UnusableError

_IN_MEMORY = 64_000_000  # bytes: a larger file is read where it lies
_FRESH_NS = 100_000_000  # a file changed this shortly before it was read could change again unnoticed


Print = tuple[int, int, int, int]
"""Length, time of change, time of change of the file's record (both in ns), and number of a file: as long
as these stay the same, so does the content. The third is among them, since programs that mend a
date put the second back.
"""


def print_of(found: os.stat_result) -> Print:
    """The part of a stat result that would change with the content."""
    return found.st_size, found.st_mtime_ns, found.st_ctime_ns, found.st_ino


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """An original held open: `source` can be read and sought, `print` is as it was at opening. Of one that is not
    `settled` nothing should be noted down: it was changed a moment before.
    """

    source: io.BytesIO | io.BufferedReader
    print: Print
    settled: bool
    file: io.BufferedReader

    def sha256(self) -> str:
        """Digest of the content, in lower-case hexadecimal."""
        self.source.seek(0)
        return digest_stream(self.source)[0]

    def check_unchanged(self) -> None:
        """Raise `UnusableError` where somebody wrote to the file since it was opened."""
        if print_of(os.fstat(self.file.fileno())) != self.print:
            raise UnusableError(kinds.CHANGED)


@contextmanager
def opened(path: Path) -> Iterator[Opened]:
    """Open for reading only and read once. `UnusableError` for anything but a plain file; OSError from the disk.

    A pipe would keep a build waiting for ever, so it is opened without waiting and sent away.
    """
    begun_ns = time.time_ns()
    try:
        mode = path.stat().st_mode
    except ValueError:  # a name that no disk can hold
        raise UnusableError(kinds.MISSING) from None
    if not stat.S_ISREG(mode):
        raise UnusableError(kinds.NOT_A_FILE)
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0) | getattr(os, "O_CLOEXEC", 0)
    with os.fdopen(os.open(path, flags), "rb") as file:
        found = os.fstat(file.fileno())
        if not stat.S_ISREG(found.st_mode):
            raise UnusableError(kinds.NOT_A_FILE)
        source: io.BytesIO | io.BufferedReader = file
        if found.st_size <= _IN_MEMORY:
            source = io.BytesIO(file.read(found.st_size + 1))
        settled = begun_ns - found.st_ctime_ns > _FRESH_NS
        if kinds.size_of(source) != found.st_size:
            raise UnusableError(kinds.CHANGED)
        yield Opened(source=source, print=print_of(found), settled=settled, file=file)


Row = list[Any]
"""One original as the index holds it: the four values of its print when it was examined, then what came
out. A plain list, since 20,000 of them are read before every build.
"""


class OriginalsIndex:
    """What is known of originals, by `src_uri`: one file in the cache, a digest, then JSON.

    It is only ever replaced whole; damaged, of another version or gone, it is as good as empty, and the
    originals are read again.
    """

    def __init__(self, cache: CacheFolder, name: str, version: list[Any], columns: int) -> None:
        self._cache = cache
        self._name = name
        self._version = version
        self._columns = columns

    @cached_property
    def rows(self) -> dict[str, Row]:
        """All rows; those of the spare folder count before others. Ask first from one thread."""
        rows: dict[str, Row] = {}
        for folder in self._cache.folders():
            with contextlib.suppress(OSError):
                rows |= self._parsed((folder / self._name).read_bytes())
        return rows

    def _parsed(self, data: bytes) -> dict[str, Row]:
        """Empty for anything but the exact bytes that `write` once made."""
        digest, _, body = data.partition(b"\n")
        if sha256_of(body).encode() != digest:
            return {}
        try:
            told = json.loads(body)
            rows: dict[str, Row] = told["originals"]
            right = told["version"] == self._version and all(len(row) == self._columns for row in rows.values())
        except (ValueError, TypeError, KeyError, AttributeError):  # whole, but of a program that knew other columns
            return {}
        return rows if right else {}

    def known(self, src_uri: str, seen: Print) -> Row | None:
        """The row of a file that has this print now, where it is still the one that was examined."""
        row = self.rows.get(src_uri)
        return row if row is not None and tuple(row[:4]) == seen else None

    def write(self) -> None:
        """Put the rows as they are now on disk; where that fails the next build takes longer, no more."""
        body = json.dumps({"version": self._version, "originals": self.rows}, separators=(",", ":")).encode()
        with contextlib.suppress(OSError):
            self._cache.write(self._name, sha256_of(body).encode() + b"\n" + body)
