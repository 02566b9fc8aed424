"""Money spent, exact to the cent, currencies side by side and converted by dated rates alone. Never public."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Context, Decimal
from functools import reduce

from journal.base.formatting import month_of
from journal.base.model import Cost, Rate


@dataclass(frozen=True, slots=True, kw_only=True)
class Spent:
    """One line of the table: `key` is an assembly ID, a month `2026-02`, or "" where the cost names none.

    `amounts` holds one sum for each currency of the whole build, nought included. Nothing is
    converted here: a wrong total is worse than two right ones.
    """

    key: str
    amounts: Mapping[str, Decimal]


@dataclass(frozen=True, slots=True, kw_only=True)
class ConvertedCost:
    """One cost in another currency, exact; `rate` is None where it was spent in that currency."""

    cost: Cost
    amount: Decimal
    rate: Rate | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Converted:
    """What was spent, in the one currency `to`. `left` are the costs that stay as they are: rates.csv holds no rate on
    or before their day, or they have none.
    """

    to: str
    lines: tuple[ConvertedCost, ...]
    left: tuple[Cost, ...]

    def total(self, assembly: str | None = None) -> Decimal:
        """The sum of the lines; of those of one assembly ID (or with "" of none) where it is given."""
        wanted = (line for line in self.lines if assembly is None or (line.cost.assembly or "") == assembly)
        return reduce(_EXACT.add, (line.amount for line in wanted), Decimal(0))


_EXACT = Context(prec=100)
"""Room for every digit of any amount times any rate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """All that was spent. `currencies` in order of the alphabet; `by_assembly` in the order of build.yml with
    what belongs to none last; `by_month` in order of time with undated last. `converted` holds the whole once more for
    each currency that rates.csv converts to.
    """

    currencies: tuple[str, ...]
    total: Mapping[str, Decimal]
    by_assembly: tuple[Spent, ...]
    by_month: tuple[Spent, ...]
    converted: tuple[Converted, ...] = ()


def add_up_costs(costs: Iterable[Cost], assemblies: Iterable[str], rates: Sequence[Rate] = ()) -> Costs:
    """Sum `costs`; `assemblies` are the IDs in the order of build.yml, `rates` are in order of time. A refund is a
    negative amount.
    """
    costs = tuple(costs)
    currencies = tuple(sorted({cost.currency for cost in costs}))
    by_assembly = _sums(currencies, ((cost.assembly or "", cost) for cost in costs))
    by_month = _sums(currencies, ((month_of(cost.date) if cost.date else "", cost) for cost in costs))
    return Costs(
        currencies=currencies,
        total=_sums(currencies, (("", cost) for cost in costs)).get("", {}),
        by_assembly=tuple(Spent(key=key, amounts=by_assembly[key]) for key in (*assemblies, "") if key in by_assembly),
        by_month=tuple(
            Spent(key=key, amounts=by_month[key]) for key in sorted(by_month, key=lambda month: (not month, month))
        ),
        converted=tuple(_convert(costs, to, rates) for to in sorted({rate.to for rate in rates})),
    )


def _convert(costs: Sequence[Cost], to: str, rates: Sequence[Rate]) -> Converted:
    lines, left = [], []
    for cost in costs:
        pair = [
            rate
            for rate in rates
            if (rate.currency, rate.to) == (cost.currency, to) and cost.date is not None and rate.date <= cost.date
        ]
        if cost.currency == to:
            lines.append(ConvertedCost(cost=cost, amount=cost.amount, rate=None))
        elif pair:
            amount = _EXACT.multiply(cost.amount, pair[-1].rate)
            lines.append(ConvertedCost(cost=cost, amount=amount, rate=pair[-1]))
        else:
            left.append(cost)
    return Converted(to=to, lines=tuple(lines), left=tuple(left))


def _sums(currencies: tuple[str, ...], keyed: Iterable[tuple[str, Cost]]) -> dict[str, dict[str, Decimal]]:
    sums: dict[str, dict[str, Decimal]] = defaultdict(lambda: dict.fromkeys(currencies, Decimal(0)))
    for key, cost in keyed:
        sums[key][cost.currency] += cost.amount
    return dict(sums)
