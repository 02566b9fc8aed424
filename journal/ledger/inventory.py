"""The packing list as checked (what is short, damaged or unchecked), and the hardware in it: received, set, left, and
what the call-outs of the steps to come still take.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from enum import Enum

from journal.base.formatting import say_few
from journal.base.grouping import grouped
from journal.base.model import Build, InventoryItem, State
from journal.base.problems import Problem, finding
from journal.ledger.callouts import lines_of, parts_used, steps_of
from journal.ledger.progress import Progress
from journal.trade.callouts import say_place
from journal.trade.hardware import read_part, same_part

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
    def wanting(self) -> bool:
        """Whether it is short, damaged or unchecked."""
        return bool({Stock.SHORT, Stock.DAMAGED, Stock.UNCHECKED} & {*self.states})

    @property
    def claim(self) -> bool:
        """Whether the maker still owes something: short or damaged, and nothing has arrived for it."""
        return bool({Stock.SHORT, Stock.DAMAGED} & {*self.states}) and self.item.arrived_on is None


def take_stock(item: InventoryItem, today: date | None = None) -> StockLine:
    """What a line of inventory.csv says, as of `today`."""
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """What one step that is not done still takes of a part by a call-out."""

    step: str
    place: str
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Hardware:
    """One part number in its one spelling, in pieces. `items` are its rows of inventory.csv; `received` is None where
    none of them was counted, and `uncounted` how many were not. `set` is what the entries tell, drafts apart, of which
    `replaced` took the place of what was drilled out; `untold` lines tell no count.
    """

    number: str
    items: tuple[InventoryItem, ...]
    received: int | None
    uncounted: int
    set: int
    untold: int
    replaced: int
    needs: tuple[Need, ...]

    @property
    def left(self) -> int | None:
        """Received and not set; below nought where more were set than the list tells of."""
        return None if self.received is None else self.received - self.set

    @property
    def needed(self) -> int:
        """What the steps to come still take."""
        return sum(need.count for need in self.needs)

    @property
    def short(self) -> int:
        """How many are missing for the steps to come; 0 where the rows are not all counted."""
        return max(0, self.needed - max(0, self.left)) if self.left is not None and not self.uncounted else 0


def keep_hardware(build: Build, progress: Progress) -> tuple[Hardware, ...]:
    """The hardware of a build: what is on the packing list, in its order, then what was set or is called for beside."""
    items = grouped(build.inventory, lambda item: [read_part(item.part).number])
    made: Counter[str] = Counter()
    anew: Counter[str] = Counter()
    untold: Counter[str] = Counter()
    in_step: Counter[tuple[str, str]] = Counter()
    for entry in build.entries:
        for line, part in ((told, part) for told in lines_of(entry) for part in parts_used(told)):
            number, count = read_part(part).number, line.count or 0
            made[number] += count
            untold[number] += line.count is None
            if line.drilled_out:
                anew[number] += count
            elif len(steps := steps_of(entry, line)) == 1:
                in_step[steps[0], number] += count
    needs: dict[str, list[Need]] = defaultdict(list)
    for called in build.callouts:
        if not called.part or not called.count:
            continue
        listed = [number for number in items if same_part(called.part, number)]
        number = listed[0] if len(listed) == 1 else read_part(called.part).number
        for step in called.steps:
            done = min(in_step[step, number], called.count)
            in_step[step, number] -= done
            if progress.steps[step].state is not State.DONE and called.count > done:
                needs[number].append(Need(step=step, place=say_place(called), count=called.count - done))
    kept = []
    for number in dict.fromkeys((*items, *made, *needs)):
        rows = items[number]
        counted = [row for row in rows if row.found is not None]
        if read_part(number).family or number in made or number in needs:
            kept.append(
                Hardware(
                    number=number,
                    items=rows,
                    received=sum(map(_received, counted)) if counted else None,
                    uncounted=len(rows) - len(counted),
                    set=made[number],
                    untold=untold[number],
                    replaced=anew[number],
                    needs=tuple(needs[number]),
                )
            )
    return tuple(kept)


def _received(item: InventoryItem) -> int:
    """What was found; once what was short has arrived, what is listed."""
    found, listed = item.found or 0, item.listed or 0
    return max(found, listed) if item.arrived_on else found


def check_hardware(build: Build, progress: Progress) -> Iterator[Problem]:
    """`hardware-short` at the row of each part of which fewer are left than the steps to come take."""
    for part in keep_hardware(build, progress) if build.callouts and build.inventory else ():
        if part.items and part.short:
            places = say_few([f"step {need.step} ({need.place}) takes {need.count:,}" for need in part.needs])
            said = f"{part.number}: {part.short:,} too few for the steps to come: {part.received:,} received, "
            said, hint = (
                f"{said}{part.set:,} set; {places}",
                "order more, or write down what came later in a row of its own",
            )
            yield finding("content/inventory.csv", part.items[0].where, "hardware-short", said, hint)
