"""The order of answers: one formula, here and (engine.js) in the browser, figure for figure.

For each slot of the question a document gets a *weight of mentions*: every mention counts the
weight of its alternative times the weight of its field, less in long texts. Mentions saturate, and
a slot counts by how rare it is (BM25F: Robertson, Zaragoza and Taylor, "Simple BM25 extension to
multiple weighted fields", 2004). To that comes nearness: for two slots, the smallest distance
between mentions of one and the other. The sum is multiplied by how much of the question the
document covers, and a little by rework: an entry that did a step over outranks the one it corrects,
the newer the more. Only sums, products, quotients and one rounded logarithm are used, in a fixed
order, so that both languages come to the same figure.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import accumulate
from typing import Any

from journal.finding.index import unpack
from journal.finding.query import Alternative, Lexicon, QueryPlan
from journal.finding.rules import FIELDS, HARDWARE, STEP, TITLE
from journal.finding.tokens import NUMBER, PART

Postings = Mapping[int, Sequence[int]]
"""Document number -> positions, ascending."""


@dataclass(slots=True)
class Mentions:
    """What a document says to one slot: summed weight, weight of the best alternative, where."""

    sum: float = 0.0
    best: float = 0.0
    positions: list[int] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Hit:
    """A document that answers. `mentions` by slot; slots that it does not mention are left out.

    `named` tells that a step or part number of the question is this line's own, `titled` that a
    word of the question stands in its name.
    """

    document: int
    score: float
    coverage: float
    named: bool
    titled: bool
    mentions: Mapping[int, Mentions]


@dataclass(frozen=True, slots=True)
class Ranked:
    """Entries best first, lines (steps, parts, terms) best first, and how rare each slot is."""

    entries: tuple[Hit, ...]
    lines: tuple[Hit, ...]
    rarity: tuple[float, ...]


def read_postings(packed: str) -> dict[int, list[int]]:
    """Document number -> positions, from what `build_index` packed."""
    found: dict[int, list[int]] = {}
    figures = unpack(packed)
    document, at = -1, 0
    while at < len(figures):
        document += figures[at] + 1
        end = at + 2 + figures[at + 1]
        found[document] = list(accumulate(figures[at + 2 : end]))
        at = end
    return found


def rounded(value: float) -> float:
    """To a millionth, the same way in both languages."""
    return math.floor(value * 1e6 + 0.5) / 1e6


class Ranker:
    """Ranks documents of one index. `fetch` gives the packed postings of a term, or None."""

    def __init__(self, lexicon: Lexicon, fetch: Callable[[str], str | None]) -> None:
        plain: Mapping[str, Any] = lexicon.plain
        rules = lexicon.rules
        self.lexicon = lexicon
        self.fetch = fetch
        self.entries: int = plain["sheets"]
        self.lengths: Sequence[Sequence[int]] = plain["lengths"]
        self.average: Sequence[float] = plain["average"]
        self.redone = frozenset(plain["redone"])
        self.field_weights = rules.field_weights
        self.length_share: float = rules.plain["length_share"]
        self.gap: int = rules.plain["gap"]["field"]
        self.saturation: float = rules.plain["saturation"]
        self.near: Mapping[str, float] = rules.plain["near"]
        self.coverage_least: float = rules.plain["coverage_least"]
        self.rework: Mapping[str, float] = rules.plain["rework"]
        self.tail: float = rules.plain["tail"]
        self.least_counted: float = rules.weights["least_counted"]
        self._postings: dict[str, dict[int, list[int]]] = {}
        self._fields: dict[int, tuple[list[int], list[float]]] = {}

    def answer(self, plan: QueryPlan, allowed: Callable[[int], bool]) -> Ranked:
        """Everything that answers `plan` among the sheets that are `allowed` (lines always are)."""
        by_slot: list[dict[int, Mentions]] = [{} for _ in plan.slots]
        for number, slot in enumerate(plan.slots):
            for alternative in slot.alternatives:
                self._collect(by_slot[number], alternative, 0)
        for span in plan.spans:
            for number in range(span.first, span.last + 1):
                # Mentions of the other words lie side by side, as the words of the question do.
                self._collect(by_slot[number], span.alternative, number - span.first)
        rarity = tuple(self._rarity(mentions) for mentions in by_slot)
        whole = sum(rarity)
        told = sum(bool(mentions) for mentions in by_slot)
        entries: list[Hit] = []
        lines: list[Hit] = []
        documents = sorted({document for mentions in by_slot for document in mentions})
        for document in documents:
            if document >= self.entries or allowed(document):
                hit = self._hit(document, by_slot, rarity, whole, plan)
                (lines if document >= self.entries else entries).append(hit)
        entries.sort(key=lambda hit: (-hit.score, -hit.document))
        lines.sort(key=lambda hit: (-hit.score, hit.document))
        least = entries[0].score * self.tail if entries else 0.0
        return Ranked(
            tuple(hit for hit in entries if hit.score >= least),
            tuple(
                hit for hit in lines if hit.named or (hit.titled and hit.coverage > 0.55 and len(hit.mentions) == told)
            ),
            rarity,
        )

    def _occurrences(self, term: str) -> dict[int, list[int]]:
        found = self._postings.get(term)
        if found is None:
            packed = self.fetch(term)
            found = self._postings[term] = read_postings(packed) if packed else {}
        return found

    def _phrase(self, terms: Sequence[str]) -> Postings:
        """Where `terms` stand one after the other, a word between two of them allowed."""
        found: dict[int, list[int]] = self._occurrences(terms[0])
        ends: dict[int, list[tuple[int, int]]] = {
            document: [(position, position) for position in positions] for document, positions in found.items()
        }
        for term in terms[1:]:
            following = self._occurrences(term)
            kept: dict[int, list[tuple[int, int]]] = {}
            for document, runs in ends.items():
                positions = following.get(document)
                if positions is None:
                    continue
                there = set(positions)
                longer = [
                    (start, end + 1 if end + 1 in there else end + 2)
                    for start, end in runs
                    if end + 1 in there or end + 2 in there
                ]
                if longer:
                    kept[document] = longer
            ends = kept
        return {document: [start for start, _ in runs] for document, runs in ends.items()}

    def _collect(self, into: dict[int, Mentions], alternative: Alternative, shift: int) -> None:
        terms = alternative.terms
        found = self._occurrences(terms[0]) if len(terms) == 1 else self._phrase(terms)
        for document, positions in found.items():
            starts, factors = self._field_factors(document)
            mentions = into.get(document)
            if mentions is None:
                mentions = into[document] = Mentions()
            total = mentions.sum
            for position in positions:
                total += alternative.weight * factors[bisect_right(starts, position) - 1]
                mentions.positions.append(position + shift)
            mentions.sum = total
            if alternative.weight > mentions.best:
                mentions.best = alternative.weight

    def _field_factors(self, document: int) -> tuple[list[int], list[float]]:
        """First position of each field of `document`, and what a mention there is worth."""
        known = self._fields.get(document)
        if known is None:
            starts: list[int] = []
            factors: list[float] = []
            start = 0
            for number in range(len(FIELDS)):
                length = self.lengths[document][number]
                starts.append(start)
                average = self.average[number]
                share = 1.0
                if average > 0:
                    share = 1.0 - self.length_share + self.length_share * length / average
                factors.append(self.field_weights[number] / share)
                start += length + self.gap
            known = self._fields[document] = (starts, factors)
        return known

    def _rarity(self, mentions: Mapping[int, Mentions]) -> float:
        count = sum(document < self.entries and one.best >= self.least_counted for document, one in mentions.items())
        if not mentions:
            return 0.0
        return rounded(math.log(1.0 + (self.entries - count + 0.5) / (count + 0.5)))

    def _hit(
        self,
        document: int,
        by_slot: Sequence[Mapping[int, Mentions]],
        rarity: Sequence[float],
        whole: float,
        plan: QueryPlan,
    ) -> Hit:
        mentions: dict[int, Mentions] = {}
        score = 0.0
        covered = 0.0
        named = titled = False
        before: int | None = None
        nearness = 0.0
        for number, slot in enumerate(plan.slots):
            one = by_slot[number].get(document)
            if one is None:
                continue
            one.positions.sort()
            mentions[number] = one
            share = one.sum / (one.sum + self.saturation)
            score += rarity[number] * share * (1.0 + self.saturation)
            covered += rarity[number] * one.best
            if before is not None:
                away = _distance(mentions[before].positions, one.positions)
                if away < self.near["reach"]:
                    rarer = min(rarity[before], rarity[number])
                    nearness += rarer / (1.0 + (away - 1) / self.near["ease"])
            before = number
            if document >= self.entries:
                starts, _ = self._field_factors(document)
                fields = {bisect_right(starts, position) - 1 for position in one.positions}
                titled = titled or TITLE in fields
                if slot.kind in (NUMBER, PART) and one.best >= 0.35:
                    named = named or STEP in fields or HARDWARE in fields
        score += self.near["weight"] * nearness
        coverage = covered / whole if whole > 0 else 0.0
        score *= self.coverage_least + (1.0 - self.coverage_least) * coverage * coverage
        if document in self.redone:
            newest = document / (self.entries - 1) if self.entries > 1 else 1.0
            score *= 1.0 + self.rework["redone"] + self.rework["newest"] * newest
        return Hit(document, rounded(score), coverage, named, titled, mentions)


def _distance(ones: Sequence[int], others: Sequence[int]) -> int:
    """The smallest distance between two ascending lists of positions, 1 at least."""
    least = 1 << 30
    i = j = 0
    while i < len(ones) and j < len(others):
        away = ones[i] - others[j]
        least = min(least, abs(away))
        i, j = (i + 1, j) if away < 0 else (i, j + 1)
    return max(least, 1)
