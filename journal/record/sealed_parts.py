"""What seals fix part by part: the rows of lists and the settings of build.yml, cut from the bytes of the files alone.

A row is its cells by column, so that what parts them, their order, an empty column and a new row amend nothing. A
setting is its lines without comments. Standard library alone: the small verifier in an archive cuts them, too.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from journal.base.digests import sha256_of
from journal.base.table_text import UnreadableError, column_name, in_utf8, parted_by, read_fields
from journal.record.chain import Contents, Kind

SETTINGS = "content/build.yml"
NOT_SEALED = frozenset({"photos", "clips", "show"})
"""Settings of look and of publishing: a new watermark is no amendment."""
BY_ID = frozenset({"people", "places", "assemblies"})
"""Settings that list things by ID: each of them is a part of its own."""

LISTS: Mapping[str, tuple[str, ...]] = {
    "content/steps.csv": ("step",),
    "content/callouts.csv": ("step", "what", "part"),
    "content/tasks.csv": ("section", "task"),
    "content/tools.csv": ("name", "checked_on"),
    "content/materials.csv": ("id",),
    "content/bulletins.csv": ("id",),
    "content/records.csv": ("file",),
    "content/records/records.csv": ("file",),
}
"""The lists that are sealed, each with the columns that name a row."""

_KEY = re.compile(r"""(['"]?)(?P<key>[^'"\s#&*!|>%@`{}\[\],-][^'"#{}\[\],]*?)\1[ \t]*:(?=[ \t]|$)""")
_MARK = re.compile(r" \([0-9a-f]{8}\)\Z")


@dataclass(frozen=True, slots=True, kw_only=True)
class SealedPart(Contents):
    """A row or a setting: `file` and `line` say where it begins, `words` what it says."""

    file: str
    line: int


def cut_parts(read: Callable[[str], bytes | None]) -> tuple[SealedPart, ...]:
    """The parts of a build, in the order of its files; `read` gives the bytes of one (None: not there).

    What cannot be read as a table or as text holds no parts; the reader of builds says why.
    """
    parts: list[SealedPart] = []
    for file, named_by in LISTS.items():
        if (data := read(file)) is not None:
            parts += _rows(file, data, named_by)
    return (*_settings(read(SETTINGS) or b""), *parts)


def stem(name: str) -> str:
    """The name of a part without the mark that tells rows of one name apart."""
    return _MARK.sub("", name)


def file_of(name: str) -> str:
    """The file in the name of a part: `steps.csv` of `steps.csv 5.3`."""
    return name.partition(" ")[0]


def _text(data: bytes) -> str:
    return data.removeprefix(b"\xef\xbb\xbf").decode("utf-8", "replace").replace("\r\n", "\n").replace("\r", "\n")


def _part(kind: Kind, name: str, words: str, file: str, line: int) -> SealedPart:
    return SealedPart(kind=kind, id=name, text=sha256_of(words.encode()), words=words, file=file, line=line)


def _rows(file: str, data: bytes, named_by: tuple[str, ...]) -> list[SealedPart]:
    text, parted = parted_by(_text(in_utf8(data)[0]), named_by)
    heading: list[str] | None = None
    rows: list[SealedPart] = []
    try:
        for line, fields in read_fields(text, parted):
            if heading is None:
                heading = [column_name(field, named_by) for field in fields] if any(map(str.strip, fields)) else None
                continue
            cells = {column: field.strip() for column, field in zip(heading, fields, strict=False) if field.strip()}
            name = " ".join([file.rpartition("/")[2], *(cells[column] for column in named_by if column in cells)])
            # A line break in a cell goes on further in, so that no cell can look like another one.
            words = "\n".join(f"{column}: {cells[column]}".replace("\n", "\n  ") for column in sorted(cells))
            if words:
                rows.append(_part(Kind.ROW, name, words, file, line))
    except UnreadableError:
        return []
    often = Counter(row.id for row in rows)
    marked = (f"{row.id} ({row.text[:8]})" if often[row.id] > 1 else row.id for row in rows)
    return [_part(row.kind, name, row.words, file, row.line) for row, name in zip(rows, marked, strict=True)]


def _settings(data: bytes) -> Iterator[SealedPart]:
    for key, line, lines in _blocks(_text(data).split("\n"), 1):
        name = key.casefold().replace("-", "_").replace(" ", "_")
        if name in NOT_SEALED:
            continue
        inner = _said(lines[1:]) if name in BY_ID else []
        margin = min((len(one) - len(one.lstrip()) for one in inner), default=0)
        inner = [one[margin:] if _said([one]) else "" for one in lines[1:]] if inner else []
        by_id = [*_blocks(inner, line + 1)]
        if by_id and all(one for one, _, _ in by_id):
            for one, at, told in by_id:
                words = "\n".join([f"{name}:", *_said(told)])
                yield _part(Kind.SETTING, f"build.yml {name} {one}", words, SETTINGS, at)
        elif words := "\n".join(_said(lines)):
            yield _part(Kind.SETTING, f"build.yml {name}".strip(), words, SETTINGS, line)


def _blocks(lines: list[str], first: int) -> Iterator[tuple[str, int, list[str]]]:
    """(key, number of its line, lines) of each key that begins a line; "" for what stands above the first."""
    key, at, block = "", first, list[str]()
    for number, line in enumerate(lines, start=first):
        if match := _KEY.match(line):
            if key or _said(block):
                yield key, at, block
            key, at, block = match["key"].strip(), number, []
        block.append(line)
    if key or _said(block):
        yield key, at, block


def _said(lines: list[str]) -> list[str]:
    """The lines that say something: neither blank, nor a comment, nor the mark of a document."""
    kept = (line.rstrip() for line in lines)
    return [line for line in kept if line and line not in ("---", "...") and not line.lstrip().startswith("#")]
