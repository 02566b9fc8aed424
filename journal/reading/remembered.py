"""Entries as they were last read: what has not changed, and is held against the same lists, comes out the same.

They are remembered while a program runs, and from one run to the next in a file that may be deleted at any time.
"""

from __future__ import annotations

import io
import pickle
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, fields, is_dataclass
from datetime import date, datetime
from enum import Enum
from fractions import Fraction
from hashlib import sha256
from pathlib import Path

from journal.base.fingerprints import code_digest, packed
from journal.base.model import Entry
from journal.base.problems import Problem
from journal.base.safe_write import write_whole
from journal.reading.form import KnownIds


@dataclass(frozen=True, slots=True)
class EntryRead:
    """An entry as it was read from what was `seen` (its bytes, folder, photos, lengths of clips), and what was
    wrong with it.
    """

    seen: tuple[object, ...]
    entry: Entry | None
    problems: tuple[Problem, ...]


class Remembered:
    """`kept_at` is the file for the next run, None for this run alone; a damaged or foreign one counts as none."""

    def __init__(self, kept_at: Path | None = None) -> None:
        self._kept_at = kept_at
        self._lists = b""
        self._rows: dict[str, bytes] = {}
        self._read: dict[str, EntryRead] = {}
        self._asked: dict[str, None] = {}
        if kept_at is not None:
            with suppress(OSError, ValueError):
                digest, _, rest = kept_at.read_bytes().partition(b"\n")
                told = _loaded(rest) if digest.decode() == sha256(rest).hexdigest() else None
                match told:
                    case (bytes() as lists, dict() as rows):
                        self._lists, self._rows = lists, rows
        self._fresh = False

    def hold_against(self, known: KnownIds) -> None:
        """What follows is read against these lists; what was read against others is forgotten."""
        facts = (getattr(known, one.name) for one in fields(known) if one.compare)
        lists = sha256(code_digest() + packed([sorted(f) if isinstance(f, frozenset) else f for f in facts])).digest()
        if lists != self._lists:
            self._lists, self._rows, self._read = lists, {}, {}
        self._asked = {}

    def find_or_read(self, file: str, seen: tuple[object, ...], read: Callable[[], EntryRead]) -> EntryRead:
        """The entry of `file` as it was read from the same, else what `read` gives."""
        self._asked[file] = None
        if file not in self._read and file in self._rows and isinstance(row := _loaded(self._rows[file]), EntryRead):
            self._read[file] = row
        last = self._read.get(file)
        if last is None or last.seen != seen:
            self._fresh, last = True, read()
            self._read[file] = last
            self._rows.pop(file, None)
        return last

    def write(self) -> None:
        """Keep what was asked for last; a file that cannot be written only costs time later."""
        if self._kept_at is None or not (self._fresh or self._asked.keys() != self._rows.keys()):
            return
        self._rows = {
            file: self._rows.get(file) or pickle.dumps(self._read[file], pickle.HIGHEST_PROTOCOL)
            for file in self._asked
        }
        rest = pickle.dumps((self._lists, self._rows), pickle.HIGHEST_PROTOCOL)
        with suppress(OSError):
            write_whole(self._kept_at, sha256(rest).hexdigest().encode() + b"\n" + rest, cache=True)
        self._fresh = False


class _Loader(pickle.Unpickler):
    """Makes records, days and fractions and calls nothing else, whatever a foreign file asks for (the way that Python's
    documentation of `pickle` shows under "Restricting Globals").
    """

    def find_class(self, module: str, name: str) -> type:
        found = super().find_class(module, name) if module.startswith("journal.") else _PLAIN.get((module, name))
        if isinstance(found, type) and (is_dataclass(found) or issubclass(found, (Enum, date, Fraction))):
            return found
        raise pickle.UnpicklingError(f"{module}.{name} is no record")


_PLAIN = {(kind.__module__, kind.__name__): kind for kind in (date, datetime, Fraction)}


def _loaded(row: bytes) -> object:
    """What was pickled, or None: a foreign file may hold anything, and then nearly any exception comes of it."""
    with suppress(Exception):
        return _Loader(io.BytesIO(row)).load()
    return None
