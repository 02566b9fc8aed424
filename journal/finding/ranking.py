"""The order of answers: one formula, here and (engine.js) in the browser, figure for figure.

For each slot of the question a document gets a *weight of mentions*: every mention counts the
weight of its alternative times the weight of its field, less in long texts. Mentions saturate, and
a slot counts by how rare it is (BM25F: Robertson, Zaragoza and Taylor, "Simple BM25 extension to
multiple weighted fields", 2004). To that comes nearness: for two neighbouring slots, the smallest distance
between mentions of one and the other. The sum counts less where a firm slot (a day, a step, a part, a page) is not
told of, and is multiplied by what the kind of document is worth to this question. Only sums, products, quotients and
one rounded logarithm are used, in a fixed order, so that both languages come to the same figure.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import accumulate
from typing import Any

from journal.finding.index import unpack
from journal.finding.query import Lexicon, Plan
from journal.finding.rules import FIELD_GAP, FIELDS


@dataclass(slots=True)
class Mentions:
    """What a document says to one slot: summed weight, and each mention as (position, weight of its alternative)."""

    sum: float = 0.0
    told: list[tuple[int, float]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Hit:
    """A document that answers. `mentions` by slot; slots that it does not mention are left out."""

    document: int
    score: float
    mentions: Mapping[int, Mentions]


@dataclass(frozen=True, slots=True)
class Ranked:
    """Answers of every kind, best first, and how rare each slot is."""

    hits: tuple[Hit, ...]
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
        self.fetch = fetch
        self.documents: int = plain["documents"]
        self.lengths: Sequence[Sequence[int]] = plain["lengths"]
        self.average: Sequence[float] = plain["average"]
        self.kinds: Sequence[str] = plain["kinds"]
        self.worth = rules.kinds
        self.asked: float = rules.plain["asked_kind"]
        self.field_weights = rules.field_weights
        self.length_share: float = rules.plain["length_share"]
        self.saturation: float = rules.plain["saturation"]
        self.near: Mapping[str, float] = rules.plain["near"]
        self.off: float = rules.plain["off"]
        self.tail: float = rules.plain["tail"]
        self._postings: dict[str, dict[int, list[int]]] = {}
        self._fields: dict[int, tuple[list[int], list[float]]] = {}

    def answer(self, plan: Plan, allowed: Callable[[int], bool]) -> Ranked:
        """Everything that answers `plan` among the documents that are `allowed`."""
        by_slot = [self._mentions(slot.alternatives) for slot in plan.slots]
        rarity = tuple(self._rarity(len(mentions)) for mentions in by_slot)
        firm = frozenset(number for number, slot in enumerate(plan.slots) if slot.firm and by_slot[number])
        documents = sorted({document for mentions in by_slot for document in mentions})
        asked = {plan.asks: self.worth.get(plan.asks, self.worth["line"]) * self.asked} if plan.asks else {}
        worth = {**self.worth, **asked}
        hits = [self._hit(document, by_slot, rarity, firm, worth) for document in documents if allowed(document)]
        hits.sort(key=lambda hit: (-hit.score, -hit.document))
        least = hits[0].score * self.tail if hits else 0.0
        return Ranked(tuple(hit for hit in hits if hit.score >= least), rarity)

    def _occurrences(self, term: str) -> dict[int, list[int]]:
        found = self._postings.get(term)
        if found is None:
            packed = self.fetch(term)
            found = self._postings[term] = read_postings(packed) if packed else {}
        return found

    def _mentions(self, alternatives: Mapping[str, float]) -> dict[int, Mentions]:
        """What each document says to one slot."""
        by_document: dict[int, Mentions] = {}
        for term, weight in alternatives.items():
            for document, positions in self._occurrences(term).items():
                starts, factors = self._field_factors(document)
                mentions = by_document.get(document)
                if mentions is None:
                    mentions = by_document[document] = Mentions()
                for position in positions:
                    mentions.sum += weight * factors[bisect_right(starts, position) - 1]
                    mentions.told.append((position, weight))
        return by_document

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
                start += length + FIELD_GAP
            known = self._fields[document] = (starts, factors)
        return known

    def _rarity(self, count: int) -> float:
        return rounded(math.log(1.0 + (self.documents - count + 0.5) / (count + 0.5))) if count else 0.0

    def _hit(
        self,
        document: int,
        by_slot: Sequence[Mapping[int, Mentions]],
        rarity: Sequence[float],
        firm: Iterable[int],
        worth: Mapping[str, float],
    ) -> Hit:
        mentions: dict[int, Mentions] = {}
        score = nearness = 0.0
        before = -1
        for number, of_slot in enumerate(by_slot):
            one = of_slot.get(document)
            if one is None:
                continue
            one.told.sort()
            mentions[number] = one
            score += rarity[number] * one.sum * (1.0 + self.saturation) / (one.sum + self.saturation)
            if before >= 0:
                away = _distance(mentions[before].told, one.told)
                if away < self.near["reach"]:
                    rarer = min(rarity[before], rarity[number])
                    nearness += rarer / (1.0 + (away - 1) / self.near["ease"])
            before = number
        score += self.near["weight"] * nearness
        for _ in set(firm) - mentions.keys():
            score *= self.off
        return Hit(document, rounded(score * worth.get(self.kinds[document], worth["line"])), mentions)


def _distance(ones: Sequence[tuple[int, float]], others: Sequence[tuple[int, float]]) -> int:
    """The smallest distance between two ascending lists of mentions, 1 at least."""
    least = 1 << 30
    i = j = 0
    while i < len(ones) and j < len(others):
        away = ones[i][0] - others[j][0]
        least = min(least, abs(away))
        i, j = (i + 1, j) if away < 0 else (i, j + 1)
    return max(least, 1)
