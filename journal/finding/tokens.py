r"""What a word is, to finding: one definition, used here and (engine.js) in the browser.

A text is cut into *chunks* (a run of word characters with inner hyphens, dots, slashes) and each
chunk is read as what the trade writes:

====================  ==============================  ================================
written               token                           kind
====================  ==============================  ================================
`dimpling`, `held`    `dimpl`, `hold`                 word (folded, stemmed)
`back-riveting`       `back` `rivet`, `backrivet`     words, and both as one
`temporary fastener`  `temporari` … and `temporari+fasten`  words, and a phrase of the rules
`7.10`                `7.10` (never `7.1`)            number
`0.032`, `.0320`      `.032` and `=in320~5`           number, and a length
`3/32`, `1-1/2`       `3/32`; `1` `1/2`               fraction, and a length
`#40`, `No. 40`       `#40`, `40` and its diameter    drill
`AN426AD3-3.5`        `an-426-ad-3-3-5`               part
`W-1007-L`, `W1007L`  `w-1007-l`                      part
`62 in-lb`, `7 N m`   `62` `inlb` and `=in-lb620000~5000`  number, unit, and a quantity
`14 June 2026`        `@2026-06-14`, `@2026-06` …     date, the whole first
====================  ==============================  ================================

A quantity is its dimension, its value and half of its last written place, both in ten-thousandths of the base unit of
that dimension (`journal.base.quantities`), so that figures meet in whatever unit they were written.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Sequence
from typing import NamedTuple

from journal.finding.rules import Rules

WORD, NUMBER, PART, FRACTION, DRILL, DATE, STOP, JOINED = "w", "n", "p", "f", "d", "t", "s", "j"
QUANTITY, PHRASE = "q", "g"
SCALE = 10_000
"""A quantity is told in these parts of its base unit."""


class Token(NamedTuple):
    """One term at one place. `surface` is the word as read (lower case), `position` counts words
    from 0, `start` and `end` are offsets in the text: of the chunk, or of all that make the quantity, date or phrase.
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


Chunk = tuple[str, int, int]
"""A chunk in its normal form, and where it starts and ends."""

_HYPHENS = re.compile("[\u2010-\u2013\u2212]")
_VULGAR = re.compile("[\u00bc-\u00be\u2150-\u215e]")
_MARKS = re.compile("[\u0300-\u036f]")
_DRILL = re.compile(r"#([0-9]{1,3})")
_THOUSANDS = re.compile(r"[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?")
_MIXED = re.compile(r"([0-9]+)-([0-9]+/[0-9]+)")
_FRACTION = re.compile(r"[0-9]+/[0-9]+")
_RANGE = re.compile(r"([0-9]+\.[0-9]+)-([0-9]+\.[0-9]+)")
_NUMBER = re.compile(r"[0-9]*\.?[0-9]+(?:\.[0-9]+)*")
_GLUED = re.compile(r"([0-9]*\.?[0-9]+|[0-9]+/[0-9]+)-?([a-z][a-z.-]*)")
_TIMES = re.compile(r"([0-9][0-9./]*)x([0-9][0-9./]*)")
_ORDINAL = re.compile(r"([0-9]+)(?:st|nd|rd|th)")
_DIGIT = re.compile(r"[0-9]")
_PART_PIECE = re.compile(r"[0-9]+|[^0-9.'-]+")
_PAGE = re.compile(r"([0-9]{1,2})-0?([1-9][0-9]?)")
_LONG_WORD = re.compile(r"[^0-9]{4,}")
_SMALL = re.compile(r"0*\.([0-9]*[1-9])0*")
_FIGURE = re.compile(r"([0-9]{0,9})(?:\.([0-9]{1,9}))?")
_BELOW_ONE = re.compile(r"0?\.[0-9]{2,5}|0[0-9]{2}")
_UNIT_GAP = re.compile("[ .\u00a0\u202f\u00b7\u22c5\u00b0\u00ba-]{0,3}")
_WORD_GAP = re.compile("[ .,\u00a0]{1,2}")
_INCH_MARK = re.compile('["\u2033]')
_DRILL_GAP = re.compile("[ .\u00a0]{0,2}")
_DRILL_NUMBER = re.compile(r"[0-9]{1,2}")
_ISO = re.compile(r"([12][0-9]{3})-([01]?[0-9])(?:-([0-3]?[0-9]))?")
_DOTTED = re.compile(r"([0-3]?[0-9])[./]([01]?[0-9])[./]((?:[12][0-9])?[0-9]{2})")
_DAY = re.compile(r"([0-3]?[0-9])(?:st|nd|rd|th)?")
_YEAR = re.compile(r"[12][0-9]{3}")


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
    """A part number with its pieces hyphenated: letters and digits apart, so that `W1007L`, `W-1007-L` and `w 1007 l`
    are one; of a page of the manual without the nought of `7-09`.
    """
    page = _PAGE.fullmatch(text)
    return f"{page[1]}-{page[2]}" if page else "-".join(_PART_PIECE.findall(text))


def as_figure(text: str) -> tuple[float, float] | None:
    """A number or fraction and half of its last written place (0 for a fraction); None where it is neither, or too long
    for any shop.
    """
    if _FRACTION.fullmatch(text):
        over, _, under = text.partition("/")
        return (int(over) / int(under), 0.0) if len(text) <= 9 and int(under) else None
    found = _FIGURE.fullmatch(text)
    if not found or text in ("", "."):
        return None
    return float(text), 0.5 / float(10 ** len(found[2] or ""))


def quantity_term(value: float, half: float, unit: Sequence[float | str]) -> str:
    """The term of a figure in a unit, which is (dimension, factor, what is added before)."""
    dimension, factor, offset = unit[:3]
    base = (value + float(offset)) * float(factor)
    return f"={dimension}{math.floor(base * SCALE + 0.5)}~{math.floor(half * float(factor) * SCALE + 0.5)}"


def date_terms(year: int, month: int, day: int, season: str, rules: Rules) -> list[str]:
    """A day, month or season as terms, the most telling first; 0 and "" stand for what is not told."""
    terms: list[str] = []
    if month:
        season = next(name for name, months in rules.seasons.items() if month in months)
    if day:
        terms += [f"@{year}-{month:02d}-{day:02d}"] if year else []
        terms += [f"@{month:02d}-{day:02d}"]
    if month:
        terms += [f"@{year}-{month:02d}"] if year else []
        terms += [f"@{month:02d}"]
    if season and year:
        first = rules.seasons[season][0]
        began = year - 1 if month and month < first else year
        # A winter is called by the year in which it begins or ends.
        terms += [f"@{began}-{season}", *([f"@{began + 1}-{season}"] if month and first == 12 else [])]
    return [*terms, *([f"@{season}"] if season else []), *([str(year)] if year else [])]


class Tokenizer:
    """Cuts texts into tokens by `rules`; remembers chunks, for a journal repeats itself."""

    def __init__(self, rules: Rules) -> None:
        self.rules = rules
        self._chunks: dict[str, tuple[str, tuple[Piece, ...], int]] = {}
        heads = {unit.partition("-")[0] for unit in rules.units if "-" in unit}
        # Only from these on may several chunks belong together; so they may from a figure.
        self._leads = rules.drill_leads | heads | rules.figures.keys() | rules.months.keys() | rules.seasons.keys()

    def tokens(self, text: str) -> list[Token]:
        """The tokens of `text` in order; stop words are among them with kind `STOP`."""
        chunk_of = self.rules.ascii_chunk if text.isascii() else self.rules.chunk
        known = self._chunks
        read = [(known.get(one[0]) or self._learn(one[0]), one.start(), one.end()) for one in chunk_of.finditer(text)]
        chunks = [(normal, start, end) for (normal, _, _), start, end in read]
        built: list[Token] = []
        position = number = 0
        while number < len(read):
            (normal, pieces, width), start, end = read[number]
            taken, more = 1, ""
            if normal in self._leads or normal[:1] in ".#0123456789":
                together, taken = self._together(text, chunks, number)
                if together:
                    pieces, width, end = together, 1, chunks[number + taken - 1][2]
                else:
                    more, far = self._quantity_at(text, chunks, number)
            for term, kind, surface, at in pieces:
                built.append(Token(term, kind, surface, position + at, start, end))
                if more:
                    built.append(Token(more, QUANTITY, surface, position + at, start, far))
                    more = ""
            position += width
            number += taken
        return self._with_phrases(built)

    def _learn(self, chunk: str) -> tuple[str, tuple[Piece, ...], int]:
        normal = normal_chunk(chunk)
        pieces = self._read(normal)
        learnt = self._chunks[chunk] = (normal, pieces, 1 + max((piece.at for piece in pieces), default=-1))
        return learnt

    # --- several chunks that are one ---------------------------------------------------------------

    def _together(self, text: str, chunks: Sequence[Chunk], number: int) -> tuple[tuple[Piece, ...], int]:
        """`No. 40`, `in lb`, `14 June 2026`: what several chunks make as one, and how many; else nothing."""
        normal, _, end = chunks[number]
        terms, taken = self._date_at(text, chunks, number)
        if terms:
            return tuple(Piece(term, DATE, term, 0) for term in terms), taken
        if number + 1 < len(chunks):
            following, start, _ = chunks[number + 1]
            gap = text[end:start]
            if normal in self.rules.drill_leads and _DRILL_GAP.fullmatch(gap) and _DRILL_NUMBER.fullmatch(following):
                return self._read("#" + following), 2
            if f"{normal}-{following}" in self.rules.units and _UNIT_GAP.fullmatch(gap):
                return self._read(f"{normal}-{following}"), 2
        return (), 1

    def _date_at(self, text: str, chunks: Sequence[Chunk], number: int) -> tuple[list[str], int]:
        """A date, month or season that begins with this chunk, as terms, and how many chunks it takes."""
        rules, normal = self.rules, chunks[number][0]
        if found := _ISO.fullmatch(normal):
            return self._dated(int(found[1]), int(found[2]), int(found[3] or 0)), 1
        if found := _DOTTED.fullmatch(normal):
            day, month, year = int(found[1]), int(found[2]), int(found[3])
            return self._dated(year if year > 99 else 2000 + year, *((day, month) if month > 12 else (month, day))), 1
        words = [chunks[number][0]]
        for (_, _, end), (following, start, _) in zip(chunks[number:], chunks[number + 1 : number + 4], strict=False):
            if not _WORD_GAP.fullmatch(text[end:start]):
                break
            words.append(following)
        if _DAY.fullmatch(normal) and len(words) > 1:
            return self._day_first(words)
        if month := rules.months.get(normal, 0):
            return self._month_first(words, month, chunks[number - 1][0] if number else "")
        if normal in rules.seasons:
            year = int(words[1]) if len(words) > 1 and _YEAR.fullmatch(words[1]) else 0
            if year or (number and chunks[number - 1][0] in rules.before_dates):
                return date_terms(year, 0, 0, normal, rules), 2 if year else 1
        return [], 1

    def _day_first(self, words: list[str]) -> tuple[list[str], int]:
        """`14 June 2026`, `14th of June`."""
        at = 2 if words[1] == "of" and len(words) > 2 else 1
        month, day = self.rules.months.get(words[at], 0), _DAY.fullmatch(words[0])
        if not month or day is None:
            return [], 1
        year = int(words[at + 1]) if len(words) > at + 1 and _YEAR.fullmatch(words[at + 1]) else 0
        return self._dated(year, month, int(day[1])), at + (2 if year else 1)

    def _month_first(self, words: list[str], month: int, before: str) -> tuple[list[str], int]:
        """`June 14th, 2026`, `June 2026`; `June` alone, and after a word such as `in` also `may` and `dec`."""
        rules = self.rules
        if len(words) > 1 and _YEAR.fullmatch(words[1]):
            return self._dated(int(words[1]), month, 0), 2
        if len(words) > 1 and (day := _DAY.fullmatch(words[1])) and not (len(words) > 2 and words[2] in rules.units):
            year = int(words[2]) if len(words) > 2 and _YEAR.fullmatch(words[2]) else 0
            return self._dated(year, month, int(day[1])), 3 if year else 2
        if before in rules.before_dates or words[0] in rules.sure_months:
            return self._dated(0, month, 0), 1
        return [], 1

    def _dated(self, year: int, month: int, day: int) -> list[str]:
        return date_terms(year, month, day, "", self.rules) if 1 <= month <= 12 and day <= 31 else []

    def _quantity_at(self, text: str, chunks: Sequence[Chunk], number: int) -> tuple[str, int]:
        """The quantity that begins with the figure of this chunk, and where it ends in the text; else nothing."""
        rules, (normal, _, end) = self.rules, chunks[number]
        mixed = _MIXED.fullmatch(normal)
        whole, rest = (float(mixed[1][:9]), mixed[2]) if mixed else (0.0, normal.replace(",", ""))
        spoken = rules.figures.get(normal)
        figure = (spoken, spoken / 4) if spoken else as_figure(rest)
        if figure is None:
            return "", 0
        unit, far = self._unit_after(text, chunks, number)
        if not unit and self._before_another(chunks, number):
            unit, far = self._unit_after(text, chunks, number + 2)[0], end
        if not unit and (_BELOW_ONE.fullmatch(normal) or (figure[1] == 0.0 and figure[0] < 1.0)):
            # Common practice, no source: a bare fraction, or a decimal below 1 with two places, is a length in inches.
            unit, far = rules.units["inch"], end
            figure = (figure[0] / 1000, 0.0005) if normal[0] == "0" and normal.isdigit() else figure
        return (quantity_term(whole + figure[0], figure[1], unit), far) if unit else ("", 0)

    def _before_another(self, chunks: Sequence[Chunk], number: int) -> bool:
        """Whether a figure has its unit from the one behind it: `38 to 42 psi`."""
        between, other = (one[0] for one in chunks[number + 1 : number + 3]) if number + 3 < len(chunks) else ("", "")
        return between in self.rules.between_figures and as_figure(other) is not None

    def _unit_after(self, text: str, chunks: Sequence[Chunk], number: int) -> tuple[Sequence[float | str] | None, int]:
        """The unit that stands behind a chunk, and where it ends."""
        rules, end = self.rules, chunks[number][2]
        if _INCH_MARK.match(text, end):
            return rules.units["inch"], end + 1
        ahead = chunks[number + 1 : number + 4]
        while ahead and chunks[number][0] in rules.figures and ahead[0][0] in rules.between_halves:
            end, ahead = ahead[0][2], ahead[1:]  # `half a millimetre`, `a quarter of an inch`
        if not ahead or not _UNIT_GAP.fullmatch(text[end : ahead[0][1]]):
            return None, 0
        first = unit_form(ahead[0][0])
        if len(ahead) > 1 and _UNIT_GAP.fullmatch(text[ahead[0][2] : ahead[1][1]]):
            both = rules.units.get(f"{first}-{unit_form(ahead[1][0])}")
            if both:
                return both, ahead[1][2]
        return rules.units.get(first), ahead[0][2]

    def _with_phrases(self, tokens: list[Token]) -> list[Token]:
        """The tokens, and behind the first word of each phrase that is a name or a synonym the phrase."""
        phrases = self.rules.phrases
        told: list[Token] = []
        for number, token in enumerate(tokens):
            told.append(token)
            for phrase in phrases.get(token.term, ()) if token.kind == WORD else ():
                if last := _phrase_end(tokens, number, phrase):
                    term = "+".join(phrase)
                    told.append(Token(term, PHRASE, term, token.position, token.start, last.end))
        return told

    # --- one chunk ------------------------------------------------------------------------------------

    def _read(self, chunk: str) -> tuple[Piece, ...]:
        built: list[Piece] = []
        self._read_into(chunk, built)
        return tuple(built)

    def _add(self, built: list[Piece], term: str, kind: str, surface: str) -> None:
        built.append(Piece(term, kind, surface, built[-1].at + 1 if built else 0))

    def _read_into(self, chunk: str, built: list[Piece]) -> None:
        if match := _DRILL.fullmatch(chunk):
            self._drill(match[1], built)
        elif "-" in chunk and (unit := self.rules.units.get(unit_form(chunk))):
            self._add(built, str(unit[3]), WORD, chunk)
        elif "," in chunk:
            self._read_each([chunk.replace(",", "")] if _THOUSANDS.fullmatch(chunk) else chunk.split(","), built)
        elif match := _MIXED.fullmatch(chunk):
            self._read_each((match[1], match[2]), built)
        elif _FRACTION.fullmatch(chunk):
            self._add(built, chunk, FRACTION, chunk)
        elif match := self._measure(chunk):
            figure, unit = as_figure(match[1]), self.rules.units[unit_form(match[2])]
            self._read_into(match[1], built)
            if figure:
                built.append(Piece(quantity_term(*figure, unit), QUANTITY, chunk, built[-1].at))
            self._read_into(match[2], built)
        elif "/" in chunk or "#" in chunk:
            self._read_each(re.split("[/#]", chunk), built)
        elif (match := _RANGE.fullmatch(chunk)) or (match := _TIMES.fullmatch(chunk)):
            self._read_each((match[1], match[2]), built)
        elif _NUMBER.fullmatch(chunk):
            number = plain_number(chunk)
            self._add(built, number, NUMBER, number)
        elif _ORDINAL.fullmatch(chunk):
            self._word(chunk, built)
        elif _DIGIT.search(chunk):
            self._part(chunk, built)
        else:
            self._words(chunk, built)

    def _read_each(self, chunks: Sequence[str], built: list[Piece]) -> None:
        for chunk in chunks:
            if chunk:
                self._read_into(chunk, built)

    def _drill(self, number: str, built: list[Piece]) -> None:
        self._add(built, "#" + number, DRILL, "#" + number)
        built.append(Piece(number, NUMBER, number, built[-1].at))
        if inches := self.rules.drills.get(number):
            built.append(Piece(quantity_term(inches, 0.0, self.rules.units["inch"]), QUANTITY, number, built[-1].at))

    def _measure(self, chunk: str) -> re.Match[str] | None:
        """`3mm`, `62in-lb`, `3/32in`, `20-gauge`, `100-degree`: a figure and what it counts."""
        match = _GLUED.fullmatch(chunk)
        unit = unit_form(match[2]) if match else ""
        return match if unit in self.rules.units and (len(unit) > 1 or unit in "mgh") else None

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
        if word in self.rules.stop_words or (len(word) == 1 and word.isascii()):
            self._add(built, word, STOP, word)
        elif unit := self.rules.units.get(word):
            self._add(built, str(unit[3]), WORD, word)
        else:
            self._add(built, self.rules.stem(word), WORD, word)


def unit_form(chunk: str) -> str:
    """`in.-lb`, `in.lb` -> `in-lb`, as units are looked up."""
    return chunk.replace(".-", "-").replace(".", "-").strip("-") if "." in chunk else chunk


def _phrase_end(tokens: Sequence[Token], first: int, phrase: Sequence[str]) -> Token | None:
    """The token that ends `phrase` where it begins at `first`, a word between two of it allowed; else None."""
    last = tokens[first]
    for term in phrase[1:]:
        for token in tokens[first + 1 : first + 8]:
            if token.term == term and 0 < token.position - last.position <= 2:
                last = token
                break
        else:
            return None
    return last


def _possessive(word: str) -> str:
    """`builder's` -> `builder`, `don't` -> `dont`."""
    if word.endswith("'s"):
        word = word[:-2]
    return word.replace("'", "")
