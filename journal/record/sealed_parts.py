"""What seals fix part by part: the rows of lists and the settings of build.yml, cut from the bytes of the files alone.

A row is its cells by column, so that what parts them, their order, an empty column and a new row amend nothing. A
setting is its lines without comments. Standard library alone: the small verifier in an archive cuts them, too.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from journal.base.digests import sha256_of
from journal.base.table_text import UnreadableError, column_key, in_utf8, parted_by, read_fields
from journal.record.chain import Contents, Kind, Seal

SETTINGS = "content/build.yml"
NOT_SEALED = frozenset({"photos", "clips", "show", "about", "write_to", "units", "language", "drawing"})
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
_ORDERED = re.compile(rf"steps\.csv|build\.yml (?:{'|'.join(sorted(BY_ID))})(?= )")
_COMMENT = re.compile(r"\s+#.*\Z")
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


def cut_look(data: bytes) -> Iterator[SealedPart]:
    """The settings of a build.yml that are not sealed."""
    return _settings(data, sealed=False)


def stem(name: str) -> str:
    """The name of a part without the mark that tells rows of one name apart."""
    return _MARK.sub("", name)


def file_of(name: str) -> str:
    """The file in the name of a part: `steps.csv` of `steps.csv 5.3`."""
    return name.partition(" ")[0]


def out_of_place(seals: Iterable[Seal], parts: Sequence[SealedPart]) -> tuple[Seal, ...]:
    """Those of the seals in force whose parts no longer stand in the order in which they were sealed together: steps,
    people, places and assemblies mean something by their order. As few as explain it.
    """
    place = {(file_of(part.id), part.text): number for number, part in enumerate(parts)}
    together: dict[tuple[str, object], list[Seal]] = {}
    for seal in sorted(seals, key=lambda seal: seal.line):
        ordered = _ORDERED.match(seal.id) if seal.kind.is_cut and seal.amends is None else None
        if ordered and (file_of(seal.id), seal.text) in place:
            together.setdefault((ordered[0], seal.sealed_at), []).append(seal)
    moved: list[Seal] = []
    for group in together.values():
        kept = _longest_rise([place[file_of(seal.id), seal.text] for seal in group])
        moved += [seal for number, seal in enumerate(group) if number not in kept]
    return tuple(moved)


def _longest_rise(places: Sequence[int]) -> set[int]:
    """The indexes of a longest rising run of `places` (one at least), by patience."""
    tops: list[int] = []
    ends: list[int] = []
    before: list[int | None] = []
    for number, place in enumerate(places):
        pile = bisect_left(tops, place)
        before.append(ends[pile - 1] if pile else None)
        tops[pile : pile + 1], ends[pile : pile + 1] = [place], [number]
    kept: set[int] = set()
    at: int | None = ends[-1]
    while at is not None:
        kept.add(at)
        at = before[at]
    return kept


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
                names = [column_key(field) for field in fields]
                heading = names if any(names) else None
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


def _settings(data: bytes, *, sealed: bool = True) -> Iterator[SealedPart]:
    for key, line, lines in blocks(_text(data).split("\n")):
        name = key.casefold().replace("-", "_").replace(" ", "_")
        if (name in NOT_SEALED) is sealed:
            continue
        inner = said_lines(lines[1:]) if name in BY_ID else []
        margin = min((len(one) - len(one.lstrip()) for one in inner), default=0)
        inner = [one[margin:] if said_lines([one]) else "" for one in lines[1:]] if inner else []
        by_id = [*blocks(inner, line + 1)]
        if by_id and all(one for one, _, _ in by_id):
            for one, at, told in by_id:
                words = "\n".join([f"{name}:", *said_lines(told)])
                yield _part(Kind.SETTING, f"build.yml {name} {one}", words, SETTINGS, at)
        elif words := "\n".join(said_lines(lines)):
            yield _part(Kind.SETTING, f"build.yml {name}".strip(), words, SETTINGS, line)


def blocks(lines: list[str], first: int = 1) -> Iterator[tuple[str, int, list[str]]]:
    """(key, number of its line, lines) of each key that begins a line; "" for what stands above the first."""
    key, at, block = "", first, list[str]()
    for number, line in enumerate(lines, start=first):
        if match := _KEY.match(line):
            if key or said_lines(block):
                yield key, at, block
            key, at, block = match["key"].strip(), number, []
        block.append(line)
    if key or said_lines(block):
        yield key, at, block


def said_lines(lines: list[str]) -> list[str]:
    """The lines that say something: neither blank, nor a comment, nor the mark of a document."""
    # A sign of quotation may hold a `#`, which is then no comment.
    kept = (line.rstrip() if '"' in line or "'" in line else _COMMENT.sub("", line).rstrip() for line in lines)
    return [line for line in kept if line and line not in ("---", "...") and not line.lstrip().startswith("#")]
