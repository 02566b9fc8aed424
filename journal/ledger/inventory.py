"""The packing list as checked: what is short, damaged or unchecked, and where a part is."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
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
    (0 where none is, or the counts are not known). `late`: promised for a day that is over, and not arrived.
    """

    item: InventoryItem
    states: tuple[Stock, ...]
    missing: int = 0
    late: bool = False

    @property
    def state(self) -> Stock:
        """The word that stands first."""
        return self.states[0]

    @property
    def claim(self) -> bool:
        """Whether the maker still owes something: short or damaged, and nothing has arrived for it."""
        return bool({Stock.SHORT, Stock.DAMAGED} & {*self.states}) and self.item.arrived_on is None


@dataclass(frozen=True, slots=True, kw_only=True)
class StockTaking:
    """Every line of the list in its order, and those that want something done."""

    lines: tuple[StockLine, ...]

    def of(self, state: Stock) -> tuple[StockLine, ...]:
        """The lines of which `state` is true; a line may be both short and damaged."""
        return tuple(line for line in self.lines if state in line.states)


def take_stock(items: Iterable[InventoryItem], today: date | None = None) -> StockTaking:
    """What each line of inventory.csv says, as of `today`."""
    return StockTaking(lines=tuple(_line(item, today) for item in items))


def _line(item: InventoryItem, today: date | None) -> StockLine:
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
    promised = item.promised_for if item.arrived_on is None else None
    late = today is not None and promised is not None and promised < today
    return StockLine(item=item, states=tuple(states or [Stock.COMPLETE]), missing=missing, late=late)
