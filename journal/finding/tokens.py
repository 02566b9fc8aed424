r"""What a word is, to finding: one definition, used here and (engine.js) in the browser.

A text is cut into *chunks* (a run of word characters with inner hyphens, dots, slashes) and each
chunk is read as what the trade writes:

====================  ============================  =============================
written               token                         kind
====================  ============================  =============================
`dimpling`, `held`    `dimpl`, `hold`               word (folded, stemmed)
`back-riveting`       `back` `rivet`, `backrivet`   words, and both as one
`7.10`                `7.10` (never `7.1`)          number
`0.032`, `.0320`      `.032`                        number
`3/32`, `1-1/2`       `3/32`; `1` `1/2`             fraction
`#40`, `No. 40`       `#40` and `40`                drill
`AN426AD3-3.5`        `an-426-ad-3-3-5`             part
`W-1007-L`, `W1007L`  `w-1007-l`                    part
`62 in-lb`            `62` `inlb`                   number, unit
`2026-02-07`          `2026-02-07`                  date
====================  ============================  =============================
"""

from __future__ import annotations

import re
import unicodedata
from typing import NamedTuple

from journal.finding.rules import Rules

WORD, NUMBER, PART, FRACTION, DRILL, DATE, STOP, JOINED = "w", "n", "p", "f", "d", "t", "s", "j"


class Token(NamedTuple):
    """One term at one place. `surface` is the word as read (lower case), `position` counts words
    from 0, `start` and `end` are offsets of the chunk in the text.
    """

    term: str
    kind: str
    surface: str
    position: int
    start: int
    end: int


class Piece(NamedTuple):
    """A token before it has a place; `at` is its position within the chunk."""

    term: str
    kind: str
    surface: str
    at: int


_HYPHENS = re.compile("[\u2010-\u2013\u2212]")
_VULGAR = re.compile("[\u00bc-\u00be\u2150-\u215e]")
_MARKS = re.compile("[\u0300-\u036f]")
_DRILL = re.compile(r"#([0-9]{1,3})")
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_THOUSANDS = re.compile(r"[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?")
_MIXED = re.compile(r"([0-9]+)-([0-9]+/[0-9]+)")
_FRACTION = re.compile(r"[0-9]+/[0-9]+")
_RANGE = re.compile(r"([0-9]+\.[0-9]+)-([0-9]+\.[0-9]+)")
_NUMBER = re.compile(r"[0-9]*\.?[0-9]+(?:\.[0-9]+)*")
_GLUED = re.compile(r"([0-9]*\.?[0-9]+|[0-9]+/[0-9]+)-?([a-z][a-z.-]*)")
_TIMES = re.compile(r"([0-9][0-9./]*)x([0-9][0-9./]*)")
_ORDINAL = re.compile(r"[0-9]+(?:st|nd|rd|th)")
_DIGIT = re.compile(r"[0-9]")
_PART_PIECE = re.compile(r"[0-9]+|[^0-9.'-]+")
_LONG_WORD = re.compile(r"[^0-9]{4,}")
_SMALL = re.compile(r"0*\.([0-9]*[1-9])0*")
_PAIR_GAP = re.compile("[ .\u00a0\u00b7\u22c5-]{1,3}")
_NUMBER_GAP = re.compile("[ .\u00a0]{0,2}")
_DRILL_NUMBER = re.compile(r"[0-9]{1,2}")


def normal_chunk(chunk: str) -> str:
    """A chunk in lower case without accents, with plain hyphens, slashes and fractions."""
    if chunk.isascii():
        return chunk.lower().replace(" ", "")
    chunk = _HYPHENS.sub("-", chunk).replace("\u2019", "'")
    chunk = _VULGAR.sub(lambda found: "-" + found[0], chunk)
    chunk = _MARKS.sub("", unicodedata.normalize("NFKD", chunk)).lower().replace(" ", "")
    return chunk.replace("\u2044", "/").lstrip("-")


def plain_number(text: str) -> str:
    """`0.032`, `.0320` -> `.032`; anything from 1 up stays as written, for 7.10 is not 7.1."""
    small = _SMALL.fullmatch(text)
    return "." + small[1] if small else text


def part_form(text: str) -> str:
    """A part number with its pieces hyphenated: letters and digits apart, so that
    `W1007L`, `W-1007-L` and `w 1007 l` are one.
    """
    return "-".join(_PART_PIECE.findall(text))


Run = tuple[tuple[Piece, ...], int, int, int]
"""A chunk of a text, or two that belong together (`No. 40`), as read: its pieces, its position, its start and end."""


class Tokenizer:
    """Cuts texts into tokens by `rules`; remembers chunks, for a journal repeats itself."""

    def __init__(self, rules: Rules) -> None:
        self.rules = rules
        self._chunks: dict[str, tuple[str, tuple[Piece, ...], int]] = {}
        # Only after these may two chunks belong together.
        self._leads = rules.number_words | {unit.partition("-")[0] for unit in rules.units if "-" in unit}

    def tokens(self, text: str) -> list[Token]:
        """The tokens of `text` in order; stop words are among them with kind `STOP`."""
        return [
            Token(term, kind, surface, position + at, start, end)
            for pieces, position, start, end in self.runs(text)
            for term, kind, surface, at in pieces
        ]

    def runs(self, text: str) -> list[Run]:
        """The same, chunk by chunk: what an index of thousands of texts is made from."""
        rules, known = self.rules, self._chunks
        chunk_of = rules.ascii_chunk if text.isascii() else rules.chunk
        found = [(match[0], match.start(), match.end()) for match in chunk_of.finditer(text)]
        runs: list[Run] = []
        position = number = 0
        while number < len(found):
            chunk, start, end = found[number]
            normal, pieces, width = known.get(chunk) or self._learn(chunk)
            number += 1
            if normal in self._leads and number < len(found):
                next_chunk, next_start, next_end = found[number]
                together = self._together(normal, text[end:next_start], normal_chunk(next_chunk))
                if together:
                    pieces, width, end = self._read(together), 1, next_end
                    number += 1
            runs.append((pieces, position, start, end))
            position += width
        return runs

    def _learn(self, chunk: str) -> tuple[str, tuple[Piece, ...], int]:
        normal = normal_chunk(chunk)
        pieces = self._read(normal)
        learnt = self._chunks[chunk] = (normal, pieces, 1 + max((piece.at for piece in pieces), default=-1))
        return learnt

    def _together(self, normal: str, gap: str, following: str) -> str:
        """`No. 40`, `in lb`: what two chunks make as one, or nothing."""
        if normal in self.rules.number_words:
            if _NUMBER_GAP.fullmatch(gap) and _DRILL_NUMBER.fullmatch(following):
                return "#" + following
        elif _PAIR_GAP.fullmatch(gap) and f"{normal}-{following}" in self.rules.units:
            return f"{normal}-{following}"
        return ""

    def _read(self, chunk: str) -> tuple[Piece, ...]:
        built: list[Piece] = []
        self._read_into(chunk, built)
        return tuple(built)

    def _add(self, built: list[Piece], term: str, kind: str, surface: str) -> None:
        built.append(Piece(term, kind, surface, built[-1].at + 1 if built else 0))

    def _read_into(self, chunk: str, built: list[Piece]) -> None:
        rules = self.rules
        if match := _DRILL.fullmatch(chunk):
            self._add(built, chunk, DRILL, chunk)
            built.append(Piece(match[1], NUMBER, match[1], built[-1].at))
        elif chunk in rules.units:
            self._add(built, rules.units[chunk], WORD, chunk)
        elif _DATE.fullmatch(chunk):
            self._add(built, chunk, DATE, chunk)
        elif "," in chunk:
            if _THOUSANDS.fullmatch(chunk):
                self._read_into(chunk.replace(",", ""), built)
            else:
                self._read_each(chunk.split(","), built)
        elif match := _MIXED.fullmatch(chunk):
            self._read_each((match[1], match[2]), built)
        elif _FRACTION.fullmatch(chunk):
            self._add(built, chunk, FRACTION, chunk)
        elif match := self._measure(chunk):
            self._read_each((match[1], match[2]), built)
        elif "/" in chunk or "#" in chunk:
            self._read_each(re.split("[/#]", chunk), built)
        elif match := _RANGE.fullmatch(chunk):
            self._read_each((match[1], match[2]), built)
        elif _NUMBER.fullmatch(chunk):
            number = plain_number(chunk)
            self._add(built, number, NUMBER, number)
        elif match := _TIMES.fullmatch(chunk):
            self._read_each((match[1], match[2]), built)
        elif _ORDINAL.fullmatch(chunk):
            self._word(chunk, built)
        elif _DIGIT.search(chunk):
            self._part(chunk, built)
        else:
            self._words(chunk, built)

    def _read_each(self, chunks: tuple[str, ...] | list[str], built: list[Piece]) -> None:
        for chunk in chunks:
            if chunk:
                self._read_into(chunk, built)

    def _measure(self, chunk: str) -> re.Match[str] | None:
        """`3mm`, `62in-lb`, `3/32in`, `20-gauge`, `100-degree`: a figure and what it counts."""
        match = _GLUED.fullmatch(chunk)
        if match is None:
            return None
        unit = match[2]
        if chunk[match.end(1)] == "-":
            counts = unit in self.rules.units or unit == "in" or len(unit) > 3
        else:
            counts = unit in self.rules.glued_units or ("-" in unit and unit in self.rules.units)
        return match if counts else None

    def _part(self, chunk: str, built: list[Piece]) -> None:
        # `W-1007-left` is W-1007 and "left": a long word is no piece of a number.
        run: list[str] = []
        for segment in chunk.split("-"):
            if _LONG_WORD.fullmatch(segment):
                self._close_part(run, built)
                self._words(segment, built)
            else:
                run.append(segment)
        self._close_part(run, built)

    def _close_part(self, run: list[str], built: list[Piece]) -> None:
        chunk = "-".join(run).strip("-.'")
        run.clear()
        if not chunk:
            return
        if not _DIGIT.search(chunk):
            self._words(chunk, built)
        elif _NUMBER.fullmatch(chunk):
            self._read_into(chunk, built)
        else:
            part = part_form(chunk)
            self._add(built, part, PART, part)

    def _words(self, chunk: str, built: list[Piece]) -> None:
        words = [word for word in (_possessive(part) for part in re.split("[-.]", chunk)) if word]
        first = len(built)
        for word in words:
            self._word(word, built)
        if len(words) > 1 and "-" in chunk:
            joined = "".join(words)
            built.append(Piece(self.rules.stem(joined), JOINED, joined, built[first].at))

    def _word(self, word: str, built: list[Piece]) -> None:
        if word in self.rules.units:
            self._add(built, self.rules.units[word], WORD, word)
        elif word in self.rules.stop_words or (len(word) == 1 and word.isascii()):
            self._add(built, word, STOP, word)
        else:
            self._add(built, self.rules.stem(word), WORD, word)


def _possessive(word: str) -> str:
    """`builder's` -> `builder`, `don't` -> `dont`."""
    if word.endswith("'s"):
        word = word[:-2]
    return word.replace("'", "")
