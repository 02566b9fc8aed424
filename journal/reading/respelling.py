"""The names in a file written otherwise, where the reader found them, and not a letter besides."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import accumulate
from urllib.parse import quote

from journal.base.addresses import composed, fold_name
from journal.base.model import Where
from journal.base.table_text import column_name, parted_by
from journal.reading.edits import BY_HAND, EditRefusedError
from journal.reading.lists import STEP_COLUMNS
from journal.reading.table import read_records
from journal.reading.text import Naming, Notes

Piece = tuple[int, int, str]
"""(start, end) of a piece of a text, and what comes in its place."""


def respell(
    text: str,
    namings: Iterable[Naming],
    new: Callable[[Naming], str | None],
    more: Callable[[str], list[Piece]] = lambda text: [],
) -> str:
    """`text`, a file as it lies on disk, with what `new` gives in the place of each name that the reader found in it
    (None leaves one as it is), and `more` pieces changed. Raises EditRefusedError where a name cannot be found again.
    """
    starts = line_starts(text)
    pieces = more(text)
    reached = 0
    # Several names in one quoted text have one place, and come in their order; sorting keeps it.
    for naming in sorted(namings, key=lambda naming: naming.where):
        start, end = _find(text, naming.text, max(offset_of(starts, naming.where), reached))
        reached = end
        wanted = new(naming)
        if wanted is not None:
            pieces.append((start, end, wanted if text[start:end] == naming.text else quote(wanted)))
    return put_pieces(text, pieces)


def put_pieces(text: str, pieces: Iterable[Piece]) -> str:
    """`text` with other words in the place of pieces that do not overlap; those of one place stand in their order."""
    for start, end, wanted in sorted(pieces, key=lambda piece: piece[:2])[::-1]:
        text = text[:start] + wanted + text[end:]
    return text


def is_spelled(naming: Naming) -> bool:
    """Whether something is named by its ID, and not by its title or the name of a person, which stay as they are."""
    return naming.kind in ("photo", "link") or fold_name(naming.text) == fold_name(naming.id)


def line_starts(text: str) -> list[int]:
    """Offsets of the lines as the reader counts them, without a byte-order mark. Raises EditRefusedError."""
    if "\r" in text.replace("\r\n", ""):
        raise EditRefusedError("lines end in an old way (CR alone); save it with the line ends of today")
    starts = [0, *accumulate(len(line) + 1 for line in text.split("\n"))]
    starts[0] += text.startswith("\ufeff")
    return starts


def offset_of(starts: Sequence[int], where: Where) -> int:
    """The offset of a place in a file whose lines begin at `starts`."""
    return starts[where[0] - 1] + where[1] - 1


def _find(text: str, name: str, at: int) -> tuple[int, int]:
    """Where a name stands, at an offset or soon behind it: that of a quoted text or a picture is where it begins."""
    if text.startswith(name, at):
        return at, at + len(name)
    if text.startswith("![", at):
        at = text.find("](", at) + 1  # what a picture is called may stand in its caption, too
    forms = sorted((name, composed(name), quote(name), name.replace("'", "''")), key=len, reverse=True)
    anyhow = "|".join(map(re.escape, forms))
    if found := re.compile(rf"(?<!\w)(?<!\w\.)(?:{anyhow})(?!\w|\.\w)").search(text, at):
        return found.start(), found.end()
    raise EditRefusedError(f'"{name}" is not found where it was read; {BY_HAND}')


# -- steps.csv -------------------------------------------------------------------------------------


def edit_steps(text: str, cells: Mapping[str, Mapping[str, str]]) -> str:
    """`text` of steps.csv with what `cells` tells for steps and their columns; a column that is lacking is added to the
    heading. Raises EditRefusedError.
    """
    columns = [one for group in STEP_COLUMNS for one in group]
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    newline = "\r\n" if "\r\n" in text else "\n"
    body, sign = parted_by(text.removeprefix(mark).replace("\r\n", "\n"), columns)
    lead = text.removeprefix(mark).replace("\r\n", "\n").removesuffix(body)  # a line `sep=;`, for spreadsheets
    records = [one for one in read_records(body, sign, Notes("")) if any(map(str.strip, one[1]))]
    heading = [column_name(field, columns) for field in records[0][1]] if records else []
    wanted = dict.fromkeys(column for row in cells.values() for column in row if column not in heading)
    if "step" not in heading:
        raise EditRefusedError(f"steps.csv has no heading; {BY_HAND}")
    place, starts = heading.index("step"), line_starts(body)
    rows = {"".join(fields[place : place + 1]).strip(): (fields, wheres) for _, fields, wheres in records[1:]}
    if unknown := [step for step in cells if step not in rows]:
        raise EditRefusedError(f'the row of step "{unknown[0]}" is not found; {BY_HAND}')
    cell = re.compile(rf'"(?:[^"]|"")*"|[^{re.escape(sign)}\n]*')

    def span(where: Where) -> tuple[int, int]:
        found = cell.match(body, offset_of(starts, where))
        assert found
        return found.span()

    heads = [*heading, *wanted]
    pieces: list[Piece] = [(end := span(records[0][2][-1])[1], end, "".join(sign + one for one in wanted))]
    for step, row in cells.items():
        fields, wheres = rows[step]
        more = [""] * (max(heads.index(column) for column in row) + 1 - len(fields))
        for column, said in row.items():
            at = heads.index(column)
            said = f'"{said}"' if sign in said else said
            if at >= len(fields):
                more[at - len(fields)] = said
                continue
            pieces.append((*span(wheres[at]), said))
        if more:
            end = span(wheres[-1])[1]
            pieces.append((end, end, "".join(sign + one for one in more)))
    return mark + (lead + put_pieces(body, [piece for piece in pieces if piece[0] < piece[1] or piece[2]])).replace(
        "\n", newline
    )
