"""CSV as spreadsheets save it (RFC 4180 and its relatives): bytes to text, text to fields. Needs nothing else: the
small verifier of an archive reads tables with it, too.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Collection, Iterator

MAX_FIELD = 100_000
"""Letters that one field may hold."""

_LATIN_1 = frozenset(char for char in map(chr, range(0xA0, 0x100)) if char.isalpha() or char in "\xa0°±²³µ·×£§½¼¾«»")
"""What a table that is not UTF-8 may hold beside ASCII, to be taken for Latin-1: bytes below 0xA0 tell another one."""


def in_utf8(data: bytes) -> tuple[bytes, bool]:
    """(a table in UTF-8, whether it was taken for Latin-1): from UTF-16, and from Latin-1 where every byte that tells
    is a letter or sign that people write. As it is where nobody can be sure.
    """
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", "replace").encode(), False
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
        if {char for char in text if not char.isascii()} <= _LATIN_1:
            return text.encode(), True
    return data, False


def parted_by(text: str, columns: Collection[str]) -> tuple[str, str]:
    """(the text without a line `sep=;`, which is for spreadsheets, what parts its fields), told by which of `,`, `;`
    and tab makes most of the heading known.
    """
    text = re.sub(r"\A(\s*)sep=[,;\t][ \t]*(?=\n)", r"\1", text, flags=re.IGNORECASE)
    first = text.lstrip().partition("\n")[0].casefold()
    return text, max(",;\t", key=lambda sign: len({one.strip('" ') for one in first.split(sign)}.intersection(columns)))


def column_name(heading: str, columns: Collection[str]) -> str:
    """The column that a heading means, as keys are: `Checked on` is checked_on; an unknown one as it is written."""
    key = column_key(heading)
    return key if key in columns else heading.strip().casefold()


def column_key(heading: str) -> str:
    """A heading as keys are written: small letters, `_` for blanks and hyphens."""
    return re.sub("[ -]+", "_", heading.strip().casefold())


class UnreadableError(Exception):
    """A table that cannot be read from `line` on; what is wrong was met in line `met`. Its text is that of `csv`."""

    def __init__(self, trouble: csv.Error, line: int, met: int) -> None:
        super().__init__(str(trouble))
        self.line, self.met = line, met


def read_fields(text: str, parted: str) -> Iterator[tuple[int, list[str]]]:
    """(line, fields) of each record; `csv` does the parsing. Raises UnreadableError where it cannot go on."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=parted, strict=True)
    csv.field_size_limit(max(csv.field_size_limit(), MAX_FIELD))
    while True:
        line = reader.line_num + 1
        try:
            fields = next(reader)
        except StopIteration:
            return
        except csv.Error as trouble:
            raise UnreadableError(trouble, line, min(reader.line_num, text.count("\n") + 1) or 1) from None
        yield line, fields
