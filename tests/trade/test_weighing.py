"""Weight and balance, exact: a published worked example, laws, and sums done by hand.

Source outside: AC 43.13-1B (1998-09-08), ch. 10, figures 10-10 (most forward), 10-11 (most rearward; its last line was
not in the copy that was read, so its quotient is worked by hand) and 10-13, as reproduced on landseaskyspace.com; it
rounds each moment to the pound. Figures 10-5 to 10-9 (scales and tare) and FAA-H-8083-1 could not be read beyond a
sentence; the tail of one example of FAA-H-8083-1 was read as retold on flight-study.com.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from journal.base.model import BalanceLimit, Load, LoadCase, Weighing
from journal.trade.figures import Standing
from journal.trade.weighing import (
    Balance,
    balance_of,
    case_balance,
    empty_balance,
    limits_at,
    say_arm,
    say_moment,
    say_standing,
    say_weight,
    stands_outside,
    weighing_figures,
)

F = Fraction


def load(weight: float | str, arm: float | str, what: str = "x", **more: Fraction) -> Load:
    """So many pounds at so many inches."""
    return Load(what=what, weight=F(str(weight)), arm=F(str(arm)), **more)


EMPTY = load(1169, 10.6)
OIL, PILOT, FRONT, REAR = load(17, -49), load(170, 16), load(170, 16), load(340, 48)
PUBLISHED = Weighing(
    datum="not told in the pages read",
    scales=(EMPTY,),
    limits=(BalanceLimit(weight=None, forward=F("8.5"), aft=F("21.9")),),
    max_weight=F(2100),
    cases=(
        LoadCase(name="most forward", loads=(OIL, PILOT, load(83, 22))),
        LoadCase(name="most rearward", loads=(OIL, PILOT, REAR, load(240, 22), load(100, 75.5))),
        LoadCase(name="all seats, fuel for the rest", loads=(OIL, PILOT, FRONT, REAR, load(234, 22))),
    ),
)


@pytest.mark.parametrize(
    ("case", "weight", "moment", "arm"),
    [(0, 1439, 16104, "11.2"), (1, 2036, 43428, "21.3"), (2, 2100, 38466, "18.3")],
)
def test_the_published_examples_come_out(case: int, weight: int, moment: int, arm: str) -> None:
    """Figures 10-10, 10-11 and 10-13: weights to the pound, moments within their rounding, inside the limits.

    Figure 10-13 as copied prints 18.6 as the quotient of 38466 and 2100, which is 18.3: a misprint; both are inside.
    """
    sums = case_balance(PUBLISHED, PUBLISHED.cases[case])
    assert sums.weight == weight
    assert abs(sums.moment - moment) < 1  # 1169 x 10.6 is 12391.4, printed 12391
    assert sums.arm is not None
    assert round(sums.arm * 10) == int(arm.replace(".", ""))
    assert stands_outside(PUBLISHED, sums) == ()
    assert say_standing(PUBLISHED, sums) == "inside the limits as the builder wrote them"


def test_the_example_of_the_handbook_as_retold() -> None:
    """FAA-H-8083-1 by way of flight-study.com: 340 lb on the nose 78 in ahead of the main wheels, 2,006 lb in all:
    13.2 in ahead of them.
    """
    arm = balance_of([load(340, -78), load(2006 - 340, 0)]).arm
    assert arm is not None
    assert round(arm * 10) == -132


BY_HAND = Weighing(
    datum="the firewall",
    scales=(load(402, 22, tare=F(2)), load(400, 22), load("202.5", -40, tare=F("2.5"))),
    corrections=(load(15, -30, "oil, drained when weighed"), load(-12, 30, "fuel left in the tank")),
    limits=(
        BalanceLimit(weight=F(900), forward=F(6), aft=F(16)),
        BalanceLimit(weight=F(1300), forward=F(10), aft=F(16)),
    ),
    max_weight=F(1250),
)


def test_scales_less_tare_and_corrections_by_hand() -> None:
    """By hand: 400 + 400 + 200 + 15 - 12 = 1003 lb; 8800 + 8800 - 8000 - 450 - 360 = 8790 in-lb."""
    assert empty_balance(BY_HAND) == Balance(weight=F(1003), moment=F(8790))
    words = [(one.what, one.recorded) for one in weighing_figures(BY_HAND)]
    assert words == [
        ("Empty weight", "1,003 lb (454.95 kg)"),
        ("Empty centre of gravity", "8.76 in (222.6 mm)"),
    ]


@pytest.mark.parametrize(
    ("weight", "forward"), [(900, "6"), (1000, "7"), (1100, "8"), (1300, "10"), (899, None), (1301, None)]
)
def test_a_straight_line_between_two_rows(weight: int, forward: str | None) -> None:
    """By hand: an inch for each hundred pounds; beside the rows nothing is said."""
    limits = limits_at(BY_HAND.limits, F(weight))
    assert limits == (None if forward is None else (F(forward), F(16)))


def test_a_step_in_the_limits() -> None:
    """Two rows for one weight: at it the lower part holds, above it the other."""
    rows = tuple(
        BalanceLimit(weight=F(w), forward=F(f), aft=F(16)) for w, f in ((900, 6), (1000, 6), (1000, 9), (1300, 9))
    )
    assert [limits_at(rows, F(w)) for w in (1000, 1001)] == [(6, 16), (9, 16)]


@pytest.mark.parametrize(
    ("weight", "arm", "told"),
    [
        (1000, "7", "inside the limits as the builder wrote them"),
        (1000, "16", "inside the limits as the builder wrote them"),
        (1000, "6.9999", "outside: 0.01 in (0.3 mm) forward of the forward limit, 7 in (177.8 mm)"),
        (1000, "16.8", "outside: 0.8 in (20.3 mm) aft of the aft limit, 16 in (406.4 mm)"),
        (
            1260,
            "17",
            "outside: 10 lb (4.54 kg) above the maximum of 1,250 lb (566.99 kg); "
            "1 in (25.4 mm) aft of the aft limit, 16 in (406.4 mm)",
        ),
        (800, "7", "outside: no limits are written for a weight of 800 lb (362.87 kg)"),
    ],
)
def test_inside_or_outside_by_how_much(weight: int, arm: str, told: str) -> None:
    """A loading on a limit is on it; however little is outside is told as more than nothing."""
    assert say_standing(BY_HAND, Balance(weight=F(weight), moment=weight * F(arm))) == told


def test_each_loading_stands_beside_its_limits() -> None:
    """By hand: 97 lb at 30 in make 1,100 lb and 11,700 in-lb of the 1,003 and 8,790 empty; 200 at 60, 20,790 in-lb."""
    cases = (LoadCase(name="one", loads=(load(97, 30),)), LoadCase(name="two", loads=(load(200, 60), load(97, 0))))
    empty, arm, one, two = weighing_figures(replace(BY_HAND, cases=cases))
    assert {empty.standing, arm.standing, one.standing} == {Standing.SHOWN}
    assert (one.what, one.recorded) == ("one", "1,100 lb (498.95 kg) at 10.64 in (270.2 mm)")
    assert (one.called_for, one.remark) == (
        "8 in (203.2 mm) to 16 in (406.4 mm)",
        "inside the limits as the builder wrote them",
    )
    assert (one.word, one.hint) == ("", "")
    assert (two.what, two.recorded) == ("two", "1,300 lb (589.67 kg) at 15.99 in (406.2 mm)")
    assert two.called_for == "10 in (254 mm) to 16 in (406.4 mm)"
    assert two.remark == "outside: 50 lb (22.68 kg) above the maximum of 1,250 lb (566.99 kg)"
    assert (two.standing, two.word) == (Standing.OUTSIDE, "outside-limits")
    assert two.hint == "go over scales, arms, loads and limits"
    nothing = replace(BY_HAND, scales=(), corrections=(), cases=(LoadCase(name="x", loads=()),), limits=())
    assert [(figure.what, figure.recorded, figure.called_for) for figure in weighing_figures(nothing)] == [
        ("Empty weight", "0 lb (0 kg)", ""),
        ("x", "0 lb (0 kg)", ""),
    ]
    # 1 in-lb is 0.45359237 kg x 0.0254 m (NIST SP 811, B.8).
    assert say_moment(F("12391.44")) == "12,391.4 in-lb (142.76 kg m)"


def test_without_limits_nothing_is_compared() -> None:
    """No limits, no judgement; no weight, no centre of gravity."""
    bare = replace(BY_HAND, limits=(), max_weight=None)
    assert say_standing(bare, Balance(weight=F(1), moment=F(1))) == "no limits are written to compare with"
    assert say_standing(bare, Balance(weight=F(0), moment=F(1))) == "outside: no weight is left"


LOADS = st.lists(
    st.tuples(st.fractions(1, 3000, max_denominator=1000), st.fractions(-200, 300, max_denominator=1000)),
    min_size=1,
    max_size=6,
).map(lambda rows: [Load(what="x", weight=weight, arm=arm) for weight, arm in rows])


@settings(max_examples=25)
@given(LOADS, st.fractions(-500, 500, max_denominator=1000))
def test_a_shift_of_the_datum_shifts_the_arm_and_nothing_else(loads: list[Load], shift: Fraction) -> None:
    """Law: every arm measured from elsewhere moves the centre of gravity by as much; the weight stays."""
    here, there = balance_of(loads), balance_of([replace(one, arm=one.arm + shift) for one in loads])
    assert here.arm is not None
    assert there.arm is not None
    assert (there.weight, there.arm) == (here.weight, here.arm + shift)


@settings(max_examples=25)
@given(LOADS, LOADS)
def test_sums_of_parts_are_the_sum(some: list[Load], others: list[Load]) -> None:
    """Law: moments add up in any order and grouping, and no centre of gravity lies beyond its outermost load."""
    both = balance_of([*some, *others])
    assert both == balance_of(some) + balance_of(others) == balance_of([*reversed(others), *some])
    arms = [one.arm for one in (*some, *others)]
    assert both.arm is not None
    assert min(arms) <= both.arm <= max(arms)


units = pint.UnitRegistry(non_int_type=Fraction)


def test_the_other_unit_agrees_with_pint() -> None:
    """Source outside: the unit definitions of the `pint` library, in exact fractions."""
    kilograms = units.Quantity(F("402.5"), "pound").to("kilogram").magnitude
    assert say_weight(F("402.5")) == f"402.5 lb ({float(kilograms):.2f} kg)"
    millimetres = units.Quantity(F("22.3"), "inch").to("millimeter").magnitude
    assert say_arm(F("22.3")) == f"22.3 in ({float(millimetres):.1f} mm)"
