"""The index: which words stand where in which documents, laid out for three doors.

Documents are numbered as `documents` gives them: what is dated first, in the order of their dates, then
the lines. Within a document the words are numbered through all fields, with a gap between fields,
between passages and between sentences, so that one number tells field and nearness. What a word
is told in is a string of figures (`pack`) that both Python and a browser read quickly and that
compresses well; the terminal keeps it in a database, the site in small scripts.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from operator import sub
from typing import TYPE_CHECKING, Any, NamedTuple

from journal.finding.rules import FIELD_GAP, FIELDS, TEXT
from journal.finding.tokens import JOINED, STOP, WORD, Tokenizer

if TYPE_CHECKING:
    from journal.finding.documents import Document

FORMAT = 1
"""Raised whenever an index made by older code must not be read by newer."""

_DIGITS = "".join(chr(code) for code in range(35, 127) if chr(code) not in "\\`<&")
"""Printable characters that need no escape in a script: the first half ends a figure, the second
half says that more follows."""
_BASE = len(_DIGITS) // 2
_VALUES = {char: value for value, char in enumerate(_DIGITS)}


def pack(figures: Iterable[int]) -> str:
    """Whole numbers from 0 as characters, small ones as one."""
    return "".join([_PACKED[figure] if figure < len(_PACKED) else _packed(figure) for figure in figures])


def _packed(figure: int) -> str:
    out = ""
    while figure >= _BASE:
        figure, low = divmod(figure, _BASE)
        out += _DIGITS[_BASE + low]
    return out + _DIGITS[figure]


_PACKED = [_packed(figure) for figure in range(2048)]


def unpack(text: str) -> list[int]:
    """The figures of `pack`, in order."""
    figures: list[int] = []
    figure, scale = 0, 1
    for value in map(_VALUES.__getitem__, text):
        if value >= _BASE:
            figure += (value - _BASE) * scale
            scale *= _BASE
        elif scale == 1:
            figures.append(value)
        else:
            figures.append(figure + value * scale)
            figure, scale = 0, 1
    return figures


class Analysed(NamedTuple):
    """A document as words: packed positions by term, the words as written, and where things stand.

    A term's positions are their number, the first, and the steps from each to the next; packed at
    once, for a journal holds a million of them. `lengths` is how many positions each field spans
    (fields follow each other with a gap); `passages` the first position of each passage. Plain
    values: it goes into the cache.
    """

    positions: dict[str, str]
    words: list[str]
    lengths: list[int]
    passages: list[int]


def analyse(document: Document, tokenizer: Tokenizer) -> Analysed:
    """Read the words of `document`; its passages must be in the order of the fields."""
    gap = tokenizer.rules.plain["gap"]
    positions: dict[str, list[int]] = {}
    words: set[str] = set()
    lengths = [0] * len(FIELDS)
    passages: list[int] = []
    start = position = 0
    field = 0
    for passage in document.passages:
        while field < passage.field:
            start += lengths[field] + FIELD_GAP
            position = start
            field += 1
        passages.append(position)
        last = position
        for term, kind, surface, within, _, _ in tokenizer.tokens(passage.text):
            at = position + within
            last = max(last, at + 1)
            if kind == STOP:
                continue
            there = positions.get(term)
            if there is None:
                positions[term] = [at]
            else:
                there.append(at)
            if kind in (WORD, JOINED):
                words.add(surface)
        lengths[field] = last - start
        position = last + gap["sentence" if field == TEXT else "passage"]
    return Analysed(
        {term: _pack_positions(there) for term, there in positions.items()}, sorted(words), lengths, passages
    )


def _pack_positions(positions: list[int]) -> str:
    if len(positions) == 1:
        return pack((1, positions[0]))
    # A compound is told after its pieces, and stands where the first of them does.
    positions.sort()
    return pack((len(positions), positions[0], *map(sub, positions[1:], positions)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Index:
    """An index at rest: `postings` goes by term; `lexicon`, plain JSON, the same for all doors, is what a question
    needs before it looks at a posting.

    `terms` sorted, `counts` the number of documents for each; `words` as written, for slips and
    beginnings; `lengths` how many positions each field of each document spans; `average` the mean
    of what is dated; `kin` the names of the journal's own terms as [how, [term, …]]; `twins` the steps that mirror a
    step; then, for what is dated, what it is filtered by.
    """

    lexicon: Mapping[str, Any]
    postings: Mapping[str, str]


def build_index(
    documents: Sequence[Document],
    analysed: Sequence[Analysed],
    twins: Mapping[str, Sequence[str]],
    tokenizer: Tokenizer,
) -> Index:
    """Lay out `analysed`, one for each of `documents`. `twins` are the steps that mirror a step."""
    entries = sum(document.kind.dated for document in documents)
    told: dict[str, list[str]] = {}
    last: dict[str, int] = {}
    count: dict[str, int] = {}
    words: set[str] = set()
    for number, one in enumerate(analysed):
        for term, packed in one.positions.items():
            parts = told.get(term)
            if parts is None:
                told[term] = [pack((number,)), packed]
                count[term] = 0
            else:
                parts += (pack((number - last[term] - 1,)), packed)
            last[term] = number
            count[term] += 1
        words.update(one.words)
    terms = sorted(told)
    lengths = [one.lengths for one in analysed]
    average = [
        # Rounded so that both languages read the same figure.
        round(sum(length[number] for length in lengths[:entries]) / entries, 3) if entries else 0
        for number in range(len(FIELDS))
    ]
    shown = documents[:entries]
    lexicon = {
        "format": FORMAT,
        "dated": entries,
        "documents": len(documents),
        "terms": terms,
        "counts": [count[term] for term in terms],
        "words": sorted(words),
        "lengths": lengths,
        "average": average,
        "kin": tokenizer.rules.plain["kin"],
        "twins": twins,
        "kinds": [document.kind.value for document in documents],
        "facets": {
            "assembly": _column([(document.assembly,) for document in shown]),
            "step": _column([document.steps for document in shown]),
            "tool": _column([document.tools for document in shown]),
            "method": _column([document.methods for document in shown]),
            "person": _column([document.people for document in shown]),
        },
        "dates": [document.date.isoformat() if document.date else "" for document in shown],
        "photos": [len(document.photos) for document in shown],
    }
    return Index(lexicon=lexicon, postings={term: "".join(told[term]) for term in terms})


def _column(rows: Sequence[Sequence[str]]) -> dict[str, Any]:
    """The values of a filter in the order met, and which of them each entry has."""
    numbers = {value: number for number, value in enumerate(dict.fromkeys(value for row in rows for value in row))}
    return {"values": list(numbers), "rows": [[numbers[value] for value in row] for row in rows]}


def digest(parts: Iterable[object]) -> str:
    """A short name for what `parts` say: the version of an index."""
    text = json.dumps(list(parts), sort_keys=True, ensure_ascii=False, separators=(",", ":"), default=str)
    return hashlib.sha256(text.encode()).hexdigest()[:16]
