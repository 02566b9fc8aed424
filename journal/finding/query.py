"""Reading a question: which words count, and what else each of them may be called.

A question becomes *slots*, one for each place that counts, each with *alternatives*: terms of the index with a weight.
What is known here is only the lexicon; postings are fetched afterwards, and only those named by an alternative.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cached_property
from itertools import pairwise
from typing import Any

from journal.finding.rules import Rules
from journal.finding.tokens import (
    DATE,
    DRILL,
    JOINED,
    NUMBER,
    PART,
    PHRASE,
    QUANTITY,
    STOP,
    WORD,
    Token,
    Tokenizer,
    normal_chunk,
    part_form,
)

_FIGURE = re.compile("[0-9]")
_QUANTITY = re.compile(r"=(.*?)(-?[0-9]+)~([0-9]+)")


@dataclass(slots=True)
class Slot:
    """One place of the question; `alternatives` are terms and what finding them is worth (0 to 1). A `firm` one names
    a day, a step, a part or a page, and what does not tell of it answers something else.
    """

    surface: str
    firm: bool = False
    alternatives: dict[str, float] = field(default_factory=dict)

    def add(self, term: str, weight: float) -> None:
        """Take a term in, at the greater of two weights."""
        if weight > self.alternatives.get(term, 0.0):
            self.alternatives[term] = weight


@dataclass(slots=True)
class Plan:
    """A question ready to be answered. `unknown` are words of it that the index lacks, `asks` the kind of document that
    it asks for, empty for any.
    """

    slots: list[Slot]
    unknown: list[str]
    asks: str = ""

    @property
    def terms(self) -> list[str]:
        """Everything in the index that answers any word of the question."""
        return list(dict.fromkeys(term for slot in self.slots for term in slot.alternatives))


class Lexicon:
    """The words of an index, ready to be asked. `plain` is `Index.lexicon`."""

    def __init__(self, plain: Mapping[str, Any], tokenizer: Tokenizer) -> None:
        self.plain = plain
        self.tokenizer = tokenizer
        self.rules: Rules = tokenizer.rules
        self.terms: Sequence[str] = plain["terms"]
        self.words: Sequence[str] = plain["words"]
        self.twins: Mapping[str, Sequence[str]] = plain["twins"]
        self.newest: str = max(plain["dates"], default="")
        self._numbers = {term: number for number, term in enumerate(self.terms)}
        self._groups: dict[str, list[tuple[str, Sequence[str]]]] = {}
        for how, terms in self.rules.groups:
            for term in terms:
                self._groups.setdefault(term, []).append((how, terms))

    def has(self, term: str) -> bool:
        """Whether the index knows `term`."""
        return term in self._numbers

    def count(self, term: str) -> int:
        """In how many documents `term` stands."""
        number = self._numbers.get(term)
        count: int = 0 if number is None else self.plain["counts"][number]
        return count

    def has_word(self, word: str) -> bool:
        """Whether `word` stands in the index as written."""
        place = bisect_left(self.words, word)
        return place < len(self.words) and self.words[place] == word

    def others(self, term: str) -> Iterator[tuple[str, str]]:
        """(how, other name) of what `term` names."""
        for how, terms in self._groups.get(term, ()):
            yield from ((how, other) for other in terms if other != term)

    @cached_property
    def parts(self) -> Sequence[str]:
        """The part numbers of the index: what holds a hyphen and a figure, and is no date and no quantity."""
        return [term for term in self.terms if "-" in term and term[0] not in "=@" and _FIGURE.search(term)]

    @cached_property
    def quantities(self) -> Mapping[str, Sequence[tuple[int, int, str]]]:
        """(value, half of the last place, term) of every quantity, by dimension."""
        found: dict[str, list[tuple[int, int, str]]] = {}
        for term in starting(self.terms, "="):
            if read := _QUANTITY.fullmatch(term):
                found.setdefault(read[1], []).append((int(read[2]), int(read[3]), term))
        return found


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


def read_query(text: str, lexicon: Lexicon) -> Plan:
    """The plan of the question `text`; of one that is longer than any question its beginning is read."""
    return _Reader(text[: lexicon.rules.plain["longest_question"]], lexicon).plan()


class _Reader:
    def __init__(self, text: str, lexicon: Lexicon) -> None:
        self.lexicon = lexicon
        self.rules = lexicon.rules
        self.weights = lexicon.rules.weights
        self.tokens = lexicon.tokenizer.tokens(text)
        said = normal_chunk(" ".join(text.split()).replace("'", "").replace(" ", "_"))
        found = ((kind, pattern.search(said)) for kind, pattern in self.rules.asking.items())
        nothing: tuple[str, re.Match[str] | None] = ("", None)
        kind, match = next((one for one in found if one[1]), nothing)
        self.asks, self.asking = kind, match[0].split("_") if match else []

    def plan(self) -> Plan:
        places: dict[int, list[Token]] = {}
        for token in self.tokens:
            if token.kind != STOP:
                places.setdefault(token.position, []).append(token)
        counted = self._counted(places)
        slots = {place: Slot(places[place][0].surface) for place in counted}
        for place, slot in slots.items():
            self._fill(slot, places[place], places)
        self._fill_spans(slots)
        for place, following in pairwise(counted):
            self._join(places[place][0], places[following][0], slots[place], slots[following])
        unknown = [slot.surface for slot in slots.values() if not slot.alternatives]
        return Plan(list(slots.values()), unknown, self.asks)

    def _counted(self, places: Mapping[int, Sequence[Token]]) -> list[int]:
        """The places that become slots: none of the words that only ask, none that a quantity has taken in."""
        quantities = [token for token in self.tokens if token.kind == QUANTITY]
        kept: list[int] = []
        for place, (first, *_) in places.items():
            inside = any(
                one.start <= first.start and first.end <= one.end and place > one.position for one in quantities
            )
            only_asks = first.surface in self.rules.question_words or first.surface in self.asking
            denied = place - 1 in places and places[place - 1][0].surface in self.rules.negations
            relative = first.surface in (*self.rules.last, *self.rules.this) and self._relative(place, places)
            if not (inside or self._names(place, places) or relative or (only_asks and not denied)):
                kept.append(place)
        return (kept or list(places))[: self.rules.plain["most_words"]]

    def _names(self, place: int, places: Mapping[int, Sequence[Token]]) -> bool:
        """Whether a word only says what its number is: `step 7.10`, `page 7-09` (and then also `the manual`)."""
        word, following = places[place][0].surface, places.get(place + 1, [None])[0]
        of_page = word in self.rules.page_words
        if following and following.kind in (NUMBER, PART) and (of_page or word in self.rules.step_words):
            self.asks = "step" if of_page else self.asks
            return True
        return of_page and self.asks == "step"

    def _fill(self, slot: Slot, tokens: Sequence[Token], places: Mapping[int, Sequence[Token]]) -> None:
        """Everything that the tokens of one place may be called in the index."""
        kinds = {token.kind for token in tokens}
        months = self._relative(tokens[0].position - 1, places)
        for term in months or [token.term for token in tokens if token.kind == DATE][:1]:
            self._add(slot, term, 1.0)
        measured = self._has_unit(tokens)
        for token in tokens if not months else ():
            if token.kind == WORD:
                self._fill_word(slot, token)
            elif token.kind == PART:
                self._fill_part(slot, token.term)
            elif token.kind == QUANTITY:
                self._fill_quantity(slot, token.term)
            elif token.kind == NUMBER and measured:
                self._add(slot, token.term, self.weights["figure"])
            elif token.kind == NUMBER and DRILL not in kinds:
                self._fill_number(slot, token)
            elif token.kind not in (DATE, PHRASE):
                self._add(slot, token.term, 1.0 if token.kind != JOINED else self.weights["joined"])
        if measured:
            slot.firm = any(term.startswith("=") for term in slot.alternatives)
        else:
            named = NUMBER in kinds and "." in tokens[0].term[1:]
            slot.firm = bool(months) or named or not kinds.isdisjoint((DATE, PART))

    def _has_unit(self, tokens: Sequence[Token]) -> bool:
        """Whether a figure is one with its unit: then it is that quantity, and not the step or page of that number."""
        quantity = next((token for token in tokens if token.kind == QUANTITY), None)
        return quantity is not None and any(
            token.position > quantity.position and quantity.start <= token.start and token.end <= quantity.end
            for token in self.tokens
        )

    def _add(self, slot: Slot, term: str, weight: float) -> None:
        if self.lexicon.has(term):
            slot.add(term, weight)

    # --- words ---------------------------------------------------------------------------------

    def _fill_word(self, slot: Slot, token: Token) -> None:
        word, stem = token.surface, token.term
        stems = {stem: 1.0}
        if not self.lexicon.has(stem) and not any(self.lexicon.others(stem)):
            stems = self._guesses(word)
        for one, share in stems.items():
            self._add(slot, one, share)
            for how, other in self.lexicon.others(one):
                self._add(slot, other, share * self.weights["synonym" if how == "same" else "kin"])

    def _guesses(self, word: str) -> dict[str, float]:
        """Stems that a word which nobody knows here may be the beginning of, or a slip of the finger for."""
        lexicon, weights, stem = self.lexicon, self.weights, self.rules.stem
        guesses: dict[str, float] = {}
        if len(word) >= 3:
            for longer in starting(lexicon.words, word):
                guesses.setdefault(stem(longer), weights["prefix"])
        for cut in range(3, len(word) - 2):
            if lexicon.has_word(word[:cut]) and lexicon.has_word(word[cut:]):
                guesses |= {stem(word[:cut]): weights["joined"], stem(word[cut:]): weights["joined"]}
        # A figure is taken at its word: the 12th is not the 11th.
        if len(word) >= 4 and word[0] > "9":
            for known in lexicon.words:
                if one_slip(word, known) and len(known) >= 3:
                    guesses.setdefault(stem(known), weights["slip"])
        ranked = sorted(guesses, key=lambda guess: (-guesses[guess], -lexicon.count(guess), guess))
        return {guess: guesses[guess] for guess in ranked[: self.rules.plain["most_alternatives"]]}

    def _fill_spans(self, slots: Mapping[int, Slot]) -> None:
        """A phrase stands for every word in it, and so does what else it is called."""
        for phrase in (token for token in self.tokens if token.kind == PHRASE):
            for token in self.tokens:
                if phrase.start <= token.start and token.end <= phrase.end and token.position in slots:
                    self._add(slots[token.position], phrase.term, self.weights["synonym"])
                    for how, other in self.lexicon.others(phrase.term):
                        self._add(slots[token.position], other, self.weights["synonym" if how == "same" else "kin"])

    def _join(self, one: Token, other: Token, first: Slot, second: Slot) -> None:
        """`nut plate` may be written `nutplate`, `F 2055` and `AN 470 AD4-5` are part numbers."""
        if other.position - one.position > 1:
            return
        if one.kind == other.kind == WORD:
            joined = self.rules.stem(one.surface + other.surface)
            terms = {joined: self.weights["joined"]} if self.lexicon.has(joined) else {}
        else:
            form = part_form(f"{one.surface}-{other.surface}")
            starts = starting(self.lexicon.terms, form + "-") if one.kind == WORD else ()
            terms = {form: 1.0, **dict.fromkeys(starts, self.weights["part_start"])}
        for term, weight in terms.items():
            self._add(first, term, weight)
            self._add(second, term, weight)

    # --- figures -------------------------------------------------------------------------------

    def _fill_number(self, slot: Slot, token: Token) -> None:
        number, weights = token.term, self.weights
        self._add(slot, number, 1.0)
        for twin in self.lexicon.twins.get(number, ()):
            self._add(slot, twin, weights["twin"])
        before = {other.surface for other in self.tokens if other.position == token.position - 1}
        if number.isdigit() and not before.isdisjoint(self.rules.step_words):
            for term in starting(self.lexicon.terms, number + "."):
                self._add(slot, term, weights["part_piece"])
        if len(number) >= 3:
            for part in self._with_piece(part_form(number)):
                self._add(slot, part, weights["part_piece"])

    def _fill_quantity(self, slot: Slot, term: str) -> None:
        """Every quantity of the index that this one may be: no further off than half of a last place."""
        read = _QUANTITY.fullmatch(term)
        assert read
        value, half = int(read[2]), int(read[3])
        for other, other_half, known in self.lexicon.quantities.get(read[1], ()):
            room = max(half, other_half, abs(value) // 250) + 1
            away = abs(value - other)
            if away <= room:
                self._add(slot, known, self.weights["value"] * (1.0 - 0.3 * away / room))

    def _relative(self, place: int, places: Mapping[int, Sequence[Token]]) -> list[str]:
        """`last summer`, `this month`, `last week`, where they begin at `place`: dates, seen from the newest."""
        lead, named = places.get(place, [None])[0], places.get(place + 1, [None])[0]
        if lead is None or named is None or not self.lexicon.newest:
            return []
        back = 1 if lead.surface in self.rules.last else 0 if lead.surface in self.rules.this else None
        return [] if back is None else relative_dates(named, back, date.fromisoformat(self.lexicon.newest), self.rules)

    # --- parts ---------------------------------------------------------------------------------

    def _with_piece(self, piece: str) -> list[str]:
        """The part numbers that hold `piece` between hyphens."""
        return [part for part in self.lexicon.parts if f"-{piece}-" in f"-{part}-"]

    def _fill_part(self, slot: Slot, part: str) -> None:
        """Part numbers that `part` names, begins or is a piece of; they count for half where it is known itself."""
        weights = self.weights
        forms = [part]
        for one, other in self.rules.same_parts:
            for a, b in ((one, other), (other, one)):
                if part == a or part.startswith(a + "-"):
                    forms.append(b + part[len(a) :])
        for form in forms:
            share = 1.0 if form == part else weights["synonym"]
            self._add(slot, form, share)
            rest = share * (0.5 if self.lexicon.has(form) else 1.0)
            for other in self._with_piece(form) if len(form.replace("-", "")) >= 3 else ():
                start = f"{other}-".startswith(form + "-")
                self._add(slot, other, rest * weights["part_start" if start else "part_piece"])


def relative_dates(named: Token, back: int, newest: date, rules: Rules) -> list[str]:
    """The dates of `last` (`back` 1) or `this` (0) week, month, year, season or June, as terms; none for others."""
    if named.kind == DATE and named.term[1:] in rules.seasons:
        months = rules.seasons[named.term[1:]]
    elif named.kind == DATE and len(named.term) == 3:
        months = [int(named.term[1:])]
    elif named.surface in rules.span_words:
        return _span_before(rules.span_words[named.surface], back, newest)
    else:
        return []
    # The last one is over; this one has begun.
    edge = months[-1] if back else months[0]
    year = newest.year if (newest.month > edge if back else newest.month >= edge) else newest.year - 1
    first_year = year - 1 if back and months[0] > months[-1] else year
    return [f"@{first_year + (month < months[0])}-{month:02d}" for month in months]


def _span_before(span: str, back: int, newest: date) -> list[str]:
    if span == "year":
        return [str(newest.year - back)]
    if span == "month":
        month = newest.year * 12 + newest.month - 1 - back
        return [f"@{month // 12}-{month % 12 + 1:02d}"]
    monday = newest - timedelta(days=newest.weekday() + 7 * back)
    return [f"@{monday + timedelta(days=day)}" for day in range(7)]
