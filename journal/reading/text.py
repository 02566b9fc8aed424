"""From bytes to text with places: what editors do to files, survived or explained."""

from __future__ import annotations

import stat
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path

from journal.base.model import Where
from journal.base.problems import Problem, error, finding

MAX_FILE_BYTES = 16 * 2**20
"""A text file larger than this is no entry or table; it is refused before it is read."""


@dataclass(frozen=True, slots=True)
class Naming:
    """A place in a file where something is named, or listed, by `text`: the record `id` of a `kind` (`person`, `step`,
    `photo` …; of a photo its path). `where` is the place of the text, or where the value that it stands in begins.
    """

    kind: str
    id: str
    text: str
    where: Where


@dataclass(slots=True)
class Notes:
    """What is found in one file while it is read: problems, and what it names."""

    file: str
    problems: list[Problem] = field(default_factory=list)
    named: list[Naming] = field(default_factory=list)

    def name(self, kind: str, identifier: str, text: str, where: Where) -> None:
        """Note that the file names something here."""
        self.named.append(Naming(kind, identifier, text, where))

    def error(
        self, where: Where | None, word: str, message: str, hint: str = "", mend: tuple[str, str] | None = None
    ) -> None:
        """Note an error at `where`; `mend` as in `Problem`."""
        self.problems.append(replace(error(self.file, where, word, message, hint), mend=mend))

    def finding(self, where: Where | None, word: str, message: str, hint: str = "") -> None:
        """Note a finding at `where`."""
        self.problems.append(finding(self.file, where, word, message, hint))

    @property
    def errors(self) -> int:
        """How many errors there are so far."""
        return sum(problem.grade.value == "error" for problem in self.problems)

    @contextmanager
    def watching(self) -> Iterator[_Watch]:
        """Tell afterwards whether an error was noted inside the block."""
        before = self.errors
        watch = _Watch()
        yield watch
        watch.failed = self.errors > before


@dataclass(slots=True)
class _Watch:
    failed: bool = False


def is_there(path: Path) -> bool:
    """Whether anything lies there; what nobody may look at, and a name that no disk takes, lies nowhere."""
    try:
        return path.exists()
    except OSError:
        return False


def read_bytes(path: Path, notes: Notes) -> bytes | None:
    """The bytes of a file; None, with an error noted, for one that is missing, unreadable, no file or too large."""
    try:
        found = path.stat()
        if not stat.S_ISREG(found.st_mode) and not stat.S_ISDIR(found.st_mode):
            # Reading it could last for ever.
            notes.error(None, "file-unreadable", "this is a pipe or a device, and no file", "put a file in its place")
        elif found.st_size > MAX_FILE_BYTES:
            notes.error(None, "file-too-large", "the file is larger than 16 MiB", "a text file is expected here")
        else:
            return path.read_bytes()
    except FileNotFoundError:
        notes.error(None, "file-missing", "there is no such file", "write it, or take out what names it")
    except OSError as trouble:
        notes.error(None, "file-unreadable", f"cannot be read: {trouble.strerror or trouble}")
    return None


def read_text(path: Path, notes: Notes) -> str | None:
    """The text of a file with `\\n` line endings and without a byte-order mark.

    None, with an error noted, for a file that cannot be read (see `read_bytes`), is not UTF-8 or holds NUL. CRLF
    and a byte-order mark are what some editors write: accepted in silence.
    """
    data = read_bytes(path, notes)
    return None if data is None else decode_text(data, notes)


def decode_text(data: bytes, notes: Notes) -> str | None:
    """`data` as text (see `read_text`), or None with an error that points at the first bad byte."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        notes.error((1, 1), "not-utf8", "the file is written as UTF-16", "save the file as UTF-8")
        return None
    data = data.removeprefix(b"\xef\xbb\xbf")
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as trouble:
        before = data[: trouble.start]
        line = before.count(b"\n") + 1
        column = len(before[before.rfind(b"\n") + 1 :].decode("utf-8", "replace")) + 1
        guess = bytes([data[trouble.start]]).decode("latin-1")
        shown = f' (a Latin-1 "{guess}"?)' if guess.isprintable() else ""
        said = f"the byte 0x{data[trouble.start]:02x} is not UTF-8{shown}"
        notes.error((line, column), "not-utf8", said, "save the file as UTF-8")
        return None
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if "\x00" in text:
        line = text.count("\n", 0, text.index("\x00")) + 1
        notes.error((line, 1), "not-text", "the file holds NUL bytes", "a text file is expected here")
        return None
    return text
