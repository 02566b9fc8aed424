"""Money spent, exact to the cent, currencies side by side. For the record only: never public."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from journal.base.formatting import month_of
from journal.base.model import Cost


@dataclass(frozen=True, slots=True, kw_only=True)
class Spent:
    """One line of the table: `key` is an assembly ID, a month `2026-02`, or "" where the cost names none.

    `amounts` holds one sum for each currency of the whole build, nought included. Nothing is
    converted: the rate of the day is not known, and a wrong total is worse than two right ones.
    """

    key: str
    amounts: Mapping[str, Decimal]


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """All that was spent. `currencies` in order of the alphabet; `by_assembly` in the order of build.yml with
    what belongs to none last; `by_month` in order of time with undated last.
    """

    currencies: tuple[str, ...]
    total: Mapping[str, Decimal]
    by_assembly: tuple[Spent, ...]
    by_month: tuple[Spent, ...]


def add_up_costs(costs: Iterable[Cost], assemblies: Iterable[str]) -> Costs:
    """Sum `costs`; `assemblies` are the IDs in the order of build.yml. A refund is a negative amount."""
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
    )


def _sums(currencies: tuple[str, ...], keyed: Iterable[tuple[str, Cost]]) -> dict[str, dict[str, Decimal]]:
    sums: dict[str, dict[str, Decimal]] = defaultdict(lambda: dict.fromkeys(currencies, Decimal(0)))
    for key, cost in keyed:
        sums[key][cost.currency] += cost.amount
    return dict(sums)
