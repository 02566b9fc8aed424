"""Money to the cent, currencies side by side."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.base.formatting import say_money
from journal.base.model import Cost, Rate
from journal.ledger.costs import add_up_costs


def cost(amount: str, currency: str = "EUR", assembly: str | None = "flaps", day: date | None = None) -> Cost:
    """A row of costs.csv."""
    return Cost(date=day, assembly=assembly, what="rivets", amount=Decimal(amount), currency=currency)


def test_by_assembly_and_month_with_currencies_side_by_side() -> None:
    """Order of build.yml, months in order of time, what belongs nowhere last; nothing is converted."""
    costs = add_up_costs(
        [
            cost("0.10", day=date(2026, 3, 1)),
            cost("0.20", day=date(2026, 1, 9)),
            cost("99.95", "CHF", "left-wing", date(2026, 1, 31)),
            cost("5", "CHF", None),
            cost("-0.05", day=date(2026, 3, 30)),
        ],
        ["left-wing", "flaps", "tail"],
    )
    assert costs.currencies == ("CHF", "EUR")
    assert costs.total == {"CHF": Decimal("104.95"), "EUR": Decimal("0.25")}
    assert [(line.key, line.amounts) for line in costs.by_assembly] == [
        ("left-wing", {"CHF": Decimal("99.95"), "EUR": Decimal(0)}),
        ("flaps", {"CHF": Decimal(0), "EUR": Decimal("0.25")}),
        ("", {"CHF": Decimal(5), "EUR": Decimal(0)}),
    ]
    assert [line.key for line in costs.by_month] == ["2026-01", "2026-03", ""]
    assert costs.by_month[1].amounts["EUR"] == Decimal("0.05")


def test_nothing_spent() -> None:
    """No rows, no currencies, no sums."""
    costs = add_up_costs([], ["flaps"])
    assert (costs.currencies, costs.total, costs.by_assembly, costs.by_month) == ((), {}, (), ())


@pytest.mark.parametrize(
    ("amount", "said"),
    [
        ("1299.9", "1,299.90"),
        ("0", "0.00"),
        ("5", "5.00"),
        ("-0.05", "-0.05"),
        ("0.1250", "0.125"),
        ("1E+3", "1,000.00"),
    ],
)
def test_amounts_are_said_with_two_places_at_least(amount: str, said: str) -> None:
    """Thousands apart, no place lost."""
    assert say_money(Decimal(amount)) == said


@given(
    st.lists(
        st.tuples(
            st.decimals(-10_000, 10_000, places=2), st.sampled_from(["EUR", "CHF"]), st.sampled_from(["flaps", None])
        ),
        max_size=30,
    )
)
def test_every_cent_lands_on_one_assembly_and_one_month(rows: list[tuple[Decimal, str, str | None]]) -> None:
    """The sums by assembly and by month are both the total, exactly."""
    costs = add_up_costs([cost(str(a), c, s, date(2026, 1 + n % 12, 1)) for n, (a, c, s) in enumerate(rows)], ["flaps"])
    for currency in costs.currencies:
        assert sum((line.amounts[currency] for line in costs.by_assembly), Decimal(0)) == costs.total[currency]
        assert sum((line.amounts[currency] for line in costs.by_month), Decimal(0)) == costs.total[currency]


def rate(day: date, of: str, to: str = "CHF") -> Rate:
    """A row of rates.csv for euros."""
    return Rate(date=day, currency="EUR", to=to, rate=Decimal(of), source="bank")


def test_only_a_dated_row_converts_and_exactly() -> None:
    """By the last rate on or before the day; without one, or without a day, an amount stays as it is."""
    spent = [
        cost("100.01", day=date(2026, 1, 31)),
        cost("100.01", day=date(2026, 2, 1)),
        cost("5", "CHF", "left-wing", date(2025, 1, 1)),
        cost("7", day=date(2025, 11, 30)),
        cost("8"),
        cost("999999999999.9999", day=date(2026, 3, 1)),
    ]
    rates = [rate(date(2025, 12, 1), "0.9400"), rate(date(2026, 2, 1), "0.9512345678")]
    (chf,) = add_up_costs(spent, ["left-wing", "flaps"], rates).converted
    assert [(line.amount, line.rate) for line in chf.lines] == [
        (Decimal("94.0094"), rates[0]),
        (Decimal("95.132969125678"), rates[1]),
        (Decimal(5), None),
        (Decimal("951234567799.99990487654322"), rates[1]),
    ]
    assert chf.left == (spent[3], spent[4])
    assert (chf.total("left-wing"), chf.total("")) == (Decimal(5), Decimal(0))
    assert chf.total() == Decimal("951234567799.99990487654322") + Decimal("194.142369125678")
    assert add_up_costs(spent, []).converted == ()
