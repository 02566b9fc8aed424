"""Reading a question: which words count, and what else each of them may be called.

A question becomes *slots*, one for each word that counts, each with *alternatives*: terms (or
runs of terms) of the index with a weight. What is known here is only the lexicon; postings are
fetched afterwards, and only those named by an alternative.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from typing import Any

from journal.finding.rules import Rules
from journal.finding.tokens import (
    DRILL,
    FRACTION,
    JOINED,
    NUMBER,
    PART,
    STOP,
    WORD,
    Token,
    Tokenizer,
    normal_chunk,
    part_form,
    plain_number,
)

_FIGURE = re.compile("[0-9]")
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")


@dataclass(slots=True)
class Alternative:
    """Terms that stand one after the other in a text, and what finding them is worth (0 to 1)."""

    weight: float
    terms: tuple[str, ...]


@dataclass(slots=True)
class Slot:
    """One word of the question. `stems` are what synonyms are looked up by: the word itself where
    the index or a synonym knows it, else what it was most likely meant to be.
    """

    surface: str
    kind: str
    term: str
    stems: tuple[str, ...] = ()
    alternatives: list[Alternative] = field(default_factory=list)


@dataclass(slots=True)
class Span:
    """An alternative for several slots at once, from `first` to `last`: a synonym of two words."""

    first: int
    last: int
    alternative: Alternative


@dataclass(slots=True)
class QueryPlan:
    """A question ready to be answered. `unknown` are words of it that the index lacks."""

    slots: list[Slot]
    spans: list[Span]
    unknown: list[str]


class Lexicon:
    """The words of an index, ready to be asked. `plain` is `Index.lexicon`."""

    def __init__(self, plain: Mapping[str, Any], tokenizer: Tokenizer) -> None:
        self.plain = plain
        self.tokenizer = tokenizer
        self.rules: Rules = tokenizer.rules
        self.terms: Sequence[str] = plain["terms"]
        self.words: Sequence[str] = plain["words"]
        self.groups: Sequence[tuple[str, Sequence[Sequence[str]]]] = plain["groups"]
        self.group_words: Mapping[str, str] = plain["group_words"]
        self.group_stems = frozenset(self.group_words.values())
        self._numbers = {term: number for number, term in enumerate(self.terms)}
        self._groups_by_term: dict[str, dict[int, None]] = {}
        for number, (_, phrases) in enumerate(self.groups):
            for phrase in phrases:
                self._groups_by_term.setdefault(phrase[0], {})[number] = None

    def has(self, term: str) -> bool:
        """Whether the index knows `term`."""
        return term in self._numbers

    def count(self, term: str) -> int:
        """In how many sheets `term` stands."""
        number = self._numbers.get(term)
        count: int = 0 if number is None else self.plain["counts"][number]
        return count

    def has_word(self, word: str) -> bool:
        """Whether `word` stands in the index as written."""
        place = bisect_left(self.words, word)
        return place < len(self.words) and self.words[place] == word

    def groups_of(self, term: str) -> Iterator[tuple[str, Sequence[Sequence[str]]]]:
        """The groups of synonyms that have a phrase beginning with `term`."""
        for number in self._groups_by_term.get(term, ()):
            yield self.groups[number]


def starting(words: Sequence[str], start: str) -> Iterator[str]:
    """Those of sorted `words` that begin with `start`."""
    place = bisect_left(words, start)
    while place < len(words) and words[place].startswith(start):
        yield words[place]
        place += 1


def one_slip(a: str, b: str) -> bool:
    """Whether one letter more, less, wrong, or two exchanged turn `a` into `b` (and they differ):
    a Damerau-Levenshtein distance of exactly 1.
    """
    if abs(len(a) - len(b)) > 1 or a == b:
        return False
    short = min(len(a), len(b))
    start = 0
    while start < short and a[start] == b[start]:
        start += 1
    if len(a) == len(b):
        if a[start + 1 :] == b[start + 1 :]:
            return True
        return a[start : start + 2] == b[start : start + 2][::-1] and a[start + 2 :] == b[start + 2 :]
    longer, shorter = (a, b) if len(a) > len(b) else (b, a)
    return longer[start + 1 :] == shorter[start:]


def distance(a: str, b: str, most: int) -> int:
    """Damerau-Levenshtein distance (adjacent letters exchanged count one); `most` + 1 if it is more."""
    if abs(len(a) - len(b)) > most:
        return most + 1
    before: list[int] = []
    row = list(range(len(b) + 1))
    for i in range(1, len(a) + 1):
        earlier, before, row = before, row, [i]
        for j in range(1, len(b) + 1):
            cost = min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (a[i - 1] != b[j - 1]))
            if i > 1 and j > 1 and a[i - 1] == b[j - 2] and a[i - 2] == b[j - 1]:
                cost = min(cost, earlier[j - 2] + 1)
            row.append(cost)
        if min(row) > most:
            return most + 1
    return min(row[len(b)], most + 1)


def nearest_word(word: str, lexicon: Lexicon) -> str | None:
    """The word of the index that `word` was most likely meant to be, or None."""
    most = max(1, min(3, len(word) // 3))
    away = {known: distance(word, known, most) for known in lexicon.words if len(known) >= 3}
    near = (known for known in away if away[known] <= most)
    return min(near, key=lambda known: (away[known], -lexicon.count(lexicon.rules.stem(known)), known), default=None)


def read_query(text: str, lexicon: Lexicon) -> QueryPlan:
    """The plan of the question `text`."""
    return _Reader(text, lexicon).plan()


class _Reader:
    def __init__(self, text: str, lexicon: Lexicon) -> None:
        self.text = text
        self.lexicon = lexicon
        self.rules = lexicon.rules
        self.weights = lexicon.rules.weights
        self.tokens = lexicon.tokenizer.tokens(text)

    def plan(self) -> QueryPlan:
        counted = self._counted()
        slots = [Slot(token.surface, token.kind, token.term) for token in counted]
        for slot, token in zip(slots, counted, strict=True):
            self._fill(slot, token)
        spans = [*self._synonym_spans(slots), *self._joined_words(slots, counted)]
        for first, last, alternative in self._joined_parts(counted):
            if first == last:
                slots[first].alternatives.append(alternative)
            else:
                spans.append(Span(first, last, alternative))
        for slot in slots:
            slot.alternatives = self._kept(slot.alternatives)
        covered = {number for span in spans for number in range(span.first, span.last + 1)}
        unknown = [slot.surface for number, slot in enumerate(slots) if not slot.alternatives and number not in covered]
        return QueryPlan(slots, spans, unknown)

    def _counted(self) -> list[Token]:
        """The tokens that become slots: no stop words, and none of the words that only ask."""
        tokens = [token for token in self.tokens if token.kind not in (STOP, JOINED)]
        kept: list[Token] = []
        for number, token in enumerate(tokens):
            # `#40` is told twice at one place; the drill stands for both.
            if kept and kept[-1].position == token.position:
                continue
            following = tokens[number + 1] if number + 1 < len(tokens) else None
            names_a_step = (
                token.surface in self.rules.step_words
                and following is not None
                and following.position == token.position + 1
                and following.kind in (NUMBER, PART)
            )
            if names_a_step or token.surface in self.rules.question_words:
                continue
            kept.append(token)
        return kept or tokens

    def _fill(self, slot: Slot, token: Token) -> None:
        if slot.kind == WORD:
            self._fill_word(slot)
        elif slot.kind == PART:
            self._fill_part(slot)
        else:
            self._add(slot, 1.0, slot.term)
        if slot.kind == NUMBER:
            self._fill_number(slot, token)
        elif slot.kind == FRACTION:
            self._fill_fraction(slot)
        elif slot.kind == DRILL:
            self._fill_drill(slot)

    def _add(self, slot: Slot, weight: float, *terms: str) -> None:
        if all(self.lexicon.has(term) for term in terms):
            slot.alternatives.append(Alternative(weight, terms))

    # --- words ---------------------------------------------------------------------------------

    def _fill_word(self, slot: Slot) -> None:
        lexicon, weights = self.lexicon, self.weights
        word, stem = slot.surface, slot.term
        known = lexicon.has(stem)
        self._add(slot, 1.0, stem)
        if known or stem in lexicon.group_stems:
            slot.stems = (stem,)
        else:
            guesses: dict[str, float] = {}
            if len(word) >= 3:
                for longer in starting(lexicon.words, word):
                    guesses.setdefault(self.rules.stem(longer), weights["prefix"])
            # A figure is taken at its word: the 12th is not the 11th.
            if len(word) >= 4 and word[0] > "9":
                for other, weight in self._slips(word, stem):
                    guesses.setdefault(other, weight)
            ranked = sorted(guesses, key=lambda guess: (-guesses[guess], -lexicon.count(guess), guess))
            slot.stems = tuple(ranked[: self.rules.plain["most_alternatives"]])
            for other in slot.stems:
                self._add(slot, guesses[other], other)
        if len(word) >= 6:
            for cut in range(3, len(word) - 2):
                if lexicon.has_word(word[:cut]) and lexicon.has_word(word[cut:]):
                    self._add(slot, weights["joined"], self.rules.stem(word[:cut]), self.rules.stem(word[cut:]))
        for stem in slot.stems:
            share = 1.0 if stem == slot.term else weights["slip"]
            for how, phrases in lexicon.groups_of(stem):
                if [stem] in phrases:
                    for phrase in phrases:
                        if phrase != [stem]:
                            weight = weights["synonym" if how == "same" else "kin"] * share
                            self._add(slot, weight, *phrase)

    def _slips(self, word: str, stem: str) -> Iterator[tuple[str, float]]:
        """Stems that one slip of the finger away from `word` there would be, with their weight."""

        def weight(other: str) -> float:
            return self.weights["slip" if other[0] == word[0] else "slip_first"]

        for known in self.lexicon.words:
            if len(known) >= 3 and one_slip(word, known):
                yield self.rules.stem(known), weight(known)
        for known, known_stem in self.lexicon.group_words.items():
            if len(known) >= 3 and one_slip(word, known):
                yield known_stem, weight(known)
        for written, read_as in (*self.rules.starts, *self.rules.words.items()):
            if len(written) >= 4 and one_slip(word, written):
                yield self.rules.stem(read_as), weight(written)
        if len(stem) >= 4:
            for term in self.lexicon.terms:
                # Terms that begin with a figure are no words.
                if term[0] > "9" and one_slip(stem, term) and "-" not in term:
                    yield term, weight(term)

    def _synonym_spans(self, slots: Sequence[Slot]) -> Iterator[Span]:
        lexicon, weights = self.lexicon, self.weights
        for first, slot in enumerate(slots):
            for stem in slot.stems:
                for how, phrases in lexicon.groups_of(stem):
                    for phrase in phrases:
                        last = first + len(phrase) - 1
                        if len(phrase) < 2 or phrase[0] != stem or last >= len(slots):
                            continue
                        if not all(
                            term in other.stems or term == other.term
                            for term, other in zip(phrase, slots[first : last + 1], strict=True)
                        ):
                            continue
                        for other_phrase in phrases:
                            if other_phrase != phrase and all(map(lexicon.has, other_phrase)):
                                weight = weights["synonym" if how == "same" else "kin"]
                                yield Span(first, last, Alternative(weight, tuple(other_phrase)))

    def _joined_words(self, slots: Sequence[Slot], counted: Sequence[Token]) -> Iterator[Span]:
        """`nut plate` may be written `nutplate`."""
        for first in range(len(slots) - 1):
            one, two = slots[first], slots[first + 1]
            if one.kind == two.kind == WORD and counted[first].position + 1 == counted[first + 1].position:
                joined = self.rules.stem(one.surface + two.surface)
                if self.lexicon.has(joined):
                    yield Span(first, first + 1, Alternative(self.weights["joined"], (joined,)))

    # --- figures -------------------------------------------------------------------------------

    def _fill_number(self, slot: Slot, token: Token) -> None:
        number, weights, lexicon = slot.term, self.weights, self.lexicon
        if number.startswith("."):
            for fraction in _fractions_near(number):
                self._add(slot, weights["same_figure"], fraction)
            self._add(slot, weights["same_figure"], number[1:].ljust(3, "0"))
        elif len(number) == 3 and number.isdigit() and number[0] == "0":
            self._add(slot, weights["same_figure"], plain_number("0." + number))
        before = {other.surface for other in self.tokens if other.position == token.position - 1}
        if number.isdigit() and not before.isdisjoint(self.rules.step_words):
            for term in starting(self.lexicon.terms, number + "."):
                self._add(slot, weights["part_piece"], term)
        pieces: list[str] = []
        if number.isdigit() and len(number) >= 3:
            pieces = self._with_piece(number)
        elif not lexicon.has(number) and "." in number.strip("."):
            pieces = self._with_piece(part_form(number))
        for part in pieces:
            self._add(slot, weights["part_piece"], part)

    def _fill_fraction(self, slot: Slot) -> None:
        over, under = (int(figure) for figure in slot.term.split("/"))
        if 0 < over < under:
            for decimal in _decimals_of(over, under):
                self._add(slot, self.weights["same_figure"], decimal)

    def _fill_drill(self, slot: Slot) -> None:
        number = slot.term[1:]
        for word in self.rules.drill_words:
            stem = self.rules.stem(word)
            self._add(slot, self.weights["same_figure"], number, stem)
            self._add(slot, self.weights["same_figure"], stem, number)

    # --- parts ---------------------------------------------------------------------------------

    @cached_property
    def _parts(self) -> Sequence[str]:
        """The part numbers of the index: what holds a hyphen and a figure, and is no date."""
        return [
            term for term in self.lexicon.terms if "-" in term and _FIGURE.search(term) and not _DATE.fullmatch(term)
        ]

    def _with_piece(self, piece: str) -> list[str]:
        """The part numbers that hold `piece` between hyphens."""
        return [part for part in self._parts if f"-{piece}-" in f"-{part}-"]

    def _fill_part(self, slot: Slot) -> None:
        for weight, part in self._part_alternatives(slot.term):
            self._add(slot, weight, part)
        for piece in slot.term.split("-"):
            if piece.isdigit() and len(piece) >= 3:
                self._add(slot, self.weights["part_other"], piece)

    def _part_alternatives(self, part: str) -> list[tuple[float, str]]:
        """Part numbers that `part` names, begins, is a piece of, or goes on from."""
        weights = self.weights
        forms = [part]
        for one, other in self.rules.same_parts:
            for a, b in ((one, other), (other, one)):
                if part == a or part.startswith(a + "-"):
                    forms.append(b + part[len(a) :])
        found: list[tuple[float, str]] = []
        for number, form in enumerate(forms):
            share = 1.0 if number == 0 else weights["synonym"]
            exact = self.lexicon.has(form)
            if exact:
                found.append((share, form))
            # Where the very number is known, its relatives count for half.
            rest = share * (0.5 if exact else 1.0)
            starts = [other for other in self._parts if other.startswith(form + "-")]
            pieces = [other for other in self._with_piece(form) if not f"{other}-".startswith(form + "-")]
            found += [(rest * weights["part_start"], other) for other in starts]
            if len(form.replace("-", "")) >= 3:
                found += [(rest * weights["part_piece"], other) for other in pieces]
            if not exact and not starts and not pieces:
                others = starting(self.lexicon.terms, form)
                found += [(rest * weights["part_other"], other) for other in others if "-" in other]
            longer = form
            while longer.count("-") >= 2:
                longer = longer.rpartition("-")[0]
                if self.lexicon.has(longer):
                    found.append((rest * weights["part_longer"], longer))
        return found

    def _joined_parts(self, counted: Sequence[Token]) -> Iterator[tuple[int, int, Alternative]]:
        """`F 2055`, `AN 470 AD4-5`: a part number written with spaces, as (first slot, last slot, part)."""
        chunks: list[tuple[int, int]] = []
        for token in self.tokens:
            if not chunks or chunks[-1] != (token.start, token.end):
                chunks.append((token.start, token.end))
        slot_at: dict[tuple[int, int], list[int]] = {}
        for number, token in enumerate(counted):
            slot_at.setdefault((token.start, token.end), []).append(number)
        for first in range(len(chunks)):
            for last in range(first + 1, min(first + 4, len(chunks))):
                raw = [self.text[start:end] for start, end in chunks[first : last + 1]]
                whole = part_form("-".join(normal_chunk(chunk) for chunk in raw))
                slots = [number for chunk in chunks[first : last + 1] for number in slot_at.get(chunk, ())]
                if not slots or whole[0].isdigit() or not _FIGURE.search(whole):
                    continue
                if self.lexicon.has(whole):
                    yield slots[0], slots[-1], Alternative(1.0, (whole,))
                for part in starting(self.lexicon.terms, whole + "-"):
                    yield slots[0], slots[-1], Alternative(self.weights["part_start"], (part,))

    def _kept(self, alternatives: list[Alternative]) -> list[Alternative]:
        """Each run of terms once, with its greatest weight; the heaviest first."""
        best: dict[tuple[str, ...], float] = {}
        for alternative in alternatives:
            best[alternative.terms] = max(best.get(alternative.terms, 0.0), alternative.weight)
        ranked = sorted(best.items(), key=lambda item: (-item[1], item[0]))
        return [Alternative(weight, terms) for terms, weight in ranked]


def _decimals_of(over: int, under: int) -> list[str]:
    """`3/32` -> `.0938`, `.094` and, where it ends, `.09375`."""
    found: list[str] = []
    for places in (5, 4, 3):
        scaled = 10**places * over
        rounded = (2 * scaled + under) // (2 * under)
        if places < 5 or scaled % under == 0:
            text = "." + str(rounded).rjust(places, "0").rstrip("0")
            if text not in found and text != ".":
                found.append(text)
    return found


def _fractions_near(decimal: str) -> list[str]:
    """`.094` -> `3/32`: the fraction in 64ths that is said so, if there is one."""
    digits = decimal[1:]
    if len(digits) > 5:
        return []
    sixtyfourths = (2 * 64 * int(digits) + 10 ** len(digits)) // (2 * 10 ** len(digits))
    if not 0 < sixtyfourths < 64:
        return []
    over, under = Fraction(sixtyfourths, 64).as_integer_ratio()
    return [f"{over}/{under}"] if decimal in _decimals_of(over, under) else []
