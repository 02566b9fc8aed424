"""Parts of the inventory named in texts."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from journal.base.model import InventoryItem

_TOKEN = re.compile(r"\b(?=[\w.-]*\d)\w+(?:[-.]\w+)*")
"""A word, or several with hyphens or points between, that holds a digit: others are no part that is looked for."""


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
        # Backwards, a longer name comes before the one that it begins with.
        names = "|".join(re.escape(name) for name in sorted(self._others, reverse=True))
        self._pattern = re.compile(rf"(?<![\w])(?:{names})(?![\w])", re.IGNORECASE) if names else None

    def find(self, text: str) -> Iterator[str]:
        """The part of every mention in `text`, as inventory.csv writes it, in order, none within another."""
        looked_up = [(word, self._words) for word in _TOKEN.finditer(text)]
        looked_up += [(found, self._others) for found in self._pattern.finditer(text)] if self._pattern else []
        mentions = [
            (found.start(), -found.end(), part)
            for found, parts in looked_up
            if (part := parts.get(found[0].casefold()))
        ]
        end = 0
        for start, end_below, part in sorted(mentions):
            if start >= end:
                yield part
                end = -end_below


def _telling(part: str) -> bool:
    return len(part) >= 3 and any(c.isdigit() for c in part) and any(c.isalpha() or c == "-" for c in part)
