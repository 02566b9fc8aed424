"""Opening an original: for reading only, and never trusting that it is a file at all."""

from __future__ import annotations

import io
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import BinaryIO

from journal.media.photos import kinds
from journal.media.photos.kinds import UnusableError

_IN_MEMORY = 64_000_000  # bytes: a larger file is read where it lies
_PIECE = 1 << 20


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
    """An original held open: `source` can be read and sought, `print` and `changed_ns` (the time of change
    of its record) are as they were at opening.
    """

    source: BinaryIO
    print: Print
    changed_ns: int
    file: BinaryIO

    def sha256(self) -> str:
        """Digest of the content, in lower-case hexadecimal."""
        self.source.seek(0)
        if isinstance(self.source, io.BytesIO):
            return sha256(self.source.getbuffer()).hexdigest()
        digest = sha256()
        while piece := self.source.read(_PIECE):
            digest.update(piece)
        return digest.hexdigest()

    def check_unchanged(self) -> None:
        """Raise `UnusableError` where somebody wrote to the file since it was opened."""
        if print_of(os.fstat(self.file.fileno())) != self.print:
            raise UnusableError(kinds.CHANGED)


@contextmanager
def opened(path: Path) -> Iterator[Opened]:
    """Open for reading only and read once. `UnusableError` for anything but a plain file; OSError from the disk.

    A pipe would keep a build waiting for ever, so it is opened without waiting and sent away.
    """
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
        source: BinaryIO = file
        if found.st_size <= _IN_MEMORY:
            source = io.BytesIO(file.read(found.st_size + 1))
        held = Opened(source=source, print=print_of(found), changed_ns=found.st_ctime_ns, file=file)
        if kinds.size_of(source) != found.st_size:
            raise UnusableError(kinds.CHANGED)
        yield held
