"""The packing list as checked: what is short, damaged or unchecked, and where a part is."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import Enum

from journal.base.model import InventoryItem

_SOUND = frozenset({"", "ok", "okay", "good", "new", "fine", "sound", "intact", "as new", "undamaged", "complete"})
"""What the column `condition` may begin with (up to a comma, semicolon or colon) where nothing is wrong, as in
`good; two came later`; anything else is shown as damage.
"""


class Stock(Enum):
    """What the list says of a line; the value is the word shown."""

    UNCHECKED = "unchecked"
    SHORT = "short"
    DAMAGED = "damaged"
    OVER = "over"
    COMPLETE = "complete"


@dataclass(frozen=True, slots=True, kw_only=True)
class StockLine:
    """One line of inventory.csv and what is wrong with it, worst first; `missing` is how many are short
    (0 where none is, or the counts are not known).
    """

    item: InventoryItem
    states: tuple[Stock, ...]
    missing: int = 0

    @property
    def state(self) -> Stock:
        """The word that stands first."""
        return self.states[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class StockTaking:
    """Every line of the list in its order, and those that want something done."""

    lines: tuple[StockLine, ...]

    def of(self, state: Stock) -> tuple[StockLine, ...]:
        """The lines of which `state` is true; a line may be both short and damaged."""
        return tuple(line for line in self.lines if state in line.states)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartMention:
    """A part named in a text: offsets of the words, and the part as inventory.csv writes it."""

    start: int
    end: int
    part: str


def take_stock(items: Iterable[InventoryItem]) -> StockTaking:
    """What each line of inventory.csv says."""
    return StockTaking(lines=tuple(_line(item) for item in items))


def _line(item: InventoryItem) -> StockLine:
    states: list[Stock] = []
    missing = 0
    if item.found is not None and item.listed is not None and item.found < item.listed:
        states.append(Stock.SHORT)
        missing = item.listed - item.found
    opening = re.split(r"[,;:]", item.condition, maxsplit=1)[0]
    if " ".join(opening.casefold().split()) not in _SOUND:
        states.append(Stock.DAMAGED)
    if item.found is None:
        states.append(Stock.UNCHECKED)
    if item.found is not None and item.listed is not None and item.found > item.listed:
        states.append(Stock.OVER)
    return StockLine(item=item, states=tuple(states or [Stock.COMPLETE]), missing=missing)


def where_is(part: str, items: Iterable[InventoryItem]) -> tuple[InventoryItem, ...]:
    """The lines of a part, without regard to case; each says its crate and where it is kept."""
    return tuple(item for item in items if item.part.casefold() == part.casefold())


_TOKEN = re.compile(r"\w+(?:[-.]\w+)*")


class PartFinder:
    """Finds the parts of an inventory named in texts, without regard to case.

    A number within a longer one is another part: `W-1007` is not found in `W-1007-L` nor in `W-10071`.
    Only what looks like a part number is looked for (a digit, a letter or hyphen, three characters
    at least): a part called `screw` would light up every other sentence.
    """

    def __init__(self, items: Iterable[InventoryItem]) -> None:
        parts: dict[str, str] = {}
        for item in items:
            if _telling(item.part):
                parts.setdefault(item.part.casefold(), item.part)
        # A word of the text is looked up whole; only the rare part written with other signs needs a search.
        self._words = {folded: part for folded, part in parts.items() if _TOKEN.fullmatch(part)}
        self._others = {folded: part for folded, part in parts.items() if folded not in self._words}
        names = "|".join(re.escape(name) for name in sorted(self._others, key=len, reverse=True))
        self._pattern = re.compile(rf"(?<![\w])(?:{names})(?![\w])", re.IGNORECASE) if names else None

    def find(self, text: str) -> Iterator[PartMention]:
        """Every mention in `text`, in order, none within another."""
        mentions = [
            PartMention(start=word.start(), end=word.end(), part=part)
            for word in _TOKEN.finditer(text)
            if (part := self._words.get(word[0].casefold()))
        ]
        if self._pattern:
            mentions += [
                PartMention(start=found.start(), end=found.end(), part=part)
                for found in self._pattern.finditer(text)
                if (part := self._others.get(found[0].casefold()))
            ]
        end = 0
        for mention in sorted(mentions, key=lambda mention: (mention.start, -mention.end)):
            if mention.start >= end:
                yield mention
                end = mention.end


def find_parts(text: str, items: Iterable[InventoryItem]) -> Iterator[PartMention]:
    """Every part of `items` named in `text`; for many texts keep a `PartFinder`."""
    return PartFinder(items).find(text)


def _telling(part: str) -> bool:
    return len(part) >= 3 and any(c.isdigit() for c in part) and any(c.isalpha() or c == "-" for c in part)
