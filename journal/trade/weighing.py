"""Weight and balance: the arithmetic of a weighing, exact in pounds, inches aft of the datum and inch-pounds.

The moment of a weight is the weight times its arm, the centre of gravity of several the sum of their moments over
the sum of their weights (AC 43.13-1B, 1998-09-08, ch. 10 par. 10-2, read in part; its figures 10-10, 10-11 and 10-13
are worked examples, and the tests compute them). Tare is taken off the reading of its scale (par. 10-2 r). Between
two rows of the limits a straight line is drawn: common practice, no source.

The limits are those that the builder wrote down; nothing here knows those of an aircraft.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from journal.base.model import BalanceLimit, Load, LoadCase, Weighing
from journal.base.quantities import KG_PER_POUND, MM_PER_INCH, say_decimal
from journal.base.words import N_
from journal.trade.figures import Figure, Standing

OUTSIDE_LIMITS = "outside-limits"
"""The code word of a loading outside the limits as written."""

BALANCE_CAUTION = N_(
    "Arithmetic over what the builder wrote: scales, arms, loads and limits are the builder's. The kit's manual and "
    "its weight and balance instructions come first, then the authority's rules, then a licensed inspector. Inside "
    "these limits does not mean that an aircraft may fly."
)

BALANCE_SOURCES = (
    "Moments, centre of gravity, tare, the extreme loadings: AC 43.13-1B ch. 10.",
    "A straight line between two rows of the limits: common practice, no source.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """A sum of weights (pounds) and of their moments (inch-pounds)."""

    weight: Fraction
    moment: Fraction

    @property
    def arm(self) -> Fraction | None:
        """The centre of gravity in inches aft of the datum; None where there is no weight."""
        return self.moment / self.weight if self.weight > 0 else None

    def __add__(self, other: Balance) -> Balance:
        return Balance(weight=self.weight + other.weight, moment=self.moment + other.moment)


def balance_of(loads: Iterable[Load]) -> Balance:
    """The sum of `loads`, each without its tare."""
    nets = [(load.weight - load.tare, load.arm) for load in loads]
    return Balance(weight=sum((net for net, _ in nets), Fraction(0)), moment=sum((w * a for w, a in nets), Fraction(0)))


def empty_balance(weighing: Weighing) -> Balance:
    """What the scales read, and the corrections to it."""
    return balance_of((*weighing.scales, *weighing.corrections))


def case_balance(weighing: Weighing, case: LoadCase) -> Balance:
    """The empty aircraft with what a case adds."""
    return empty_balance(weighing) + balance_of(case.loads)


def limits_at(limits: tuple[BalanceLimit, ...], weight: Fraction) -> tuple[Fraction, Fraction] | None:
    """(forward, aft) at a weight, on the straight line between the two rows about it; None beside all of them.
    One row alone holds at every weight.
    """
    if len(limits) == 1:
        return limits[0].forward, limits[0].aft
    for low, high in pairwise(limits):
        if low.weight is None or high.weight is None or low.weight == high.weight:
            continue  # a step: at its weight the row below it holds
        part = (weight - low.weight) / (high.weight - low.weight)
        if 0 <= part <= 1:
            return low.forward + part * (high.forward - low.forward), low.aft + part * (high.aft - low.aft)
    return None


def stands_outside(weighing: Weighing, balance: Balance) -> tuple[str, ...]:
    """By how much a loading lies outside the limits as written, each in words; none where it lies inside, or where
    no limits are written.
    """
    told = []
    if weighing.max_weight is not None and balance.weight > weighing.max_weight:
        over = say_weight(_told(balance.weight - weighing.max_weight))
        told.append(f"{over} above the maximum of {say_weight(weighing.max_weight)}")
    if not weighing.limits or balance.arm is None:
        return (*told, *(["no weight is left"] if balance.arm is None else []))
    limits = limits_at(weighing.limits, balance.weight)
    if limits is None:
        told.append(f"no limits are written for a weight of {say_weight(balance.weight)}")
    elif balance.arm < limits[0]:
        told.append(f"{say_arm(_told(limits[0] - balance.arm))} forward of the forward limit, {say_arm(limits[0])}")
    elif balance.arm > limits[1]:
        told.append(f"{say_arm(_told(balance.arm - limits[1]))} aft of the aft limit, {say_arm(limits[1])}")
    return tuple(told)


def say_standing(weighing: Weighing, balance: Balance) -> str:
    """How a loading stands to the limits that the builder wrote down."""
    if outside := "; ".join(stands_outside(weighing, balance)):
        return f"outside: {outside}"
    return "inside the limits as the builder wrote them" if weighing.limits else "no limits are written to compare with"


def weighing_figures(weighing: Weighing) -> Iterator[Figure]:
    """What a weighing gives, computed, and how each loading stands to the limits as written."""
    empty = empty_balance(weighing)
    yield Figure(what="Empty weight", recorded=say_weight(empty.weight))
    if empty.arm is not None:
        yield Figure(what="Empty centre of gravity", recorded=say_arm(empty.arm))
    for case in weighing.cases:
        whole = case_balance(weighing, case)
        outside = stands_outside(weighing, whole)
        limits = limits_at(weighing.limits, whole.weight)
        yield Figure(
            what=case.name,
            recorded=say_weight(whole.weight) + ("" if whole.arm is None else f" at {say_arm(whole.arm)}"),
            called_for=f"{say_arm(limits[0])} to {say_arm(limits[1])}" if limits else "",
            standing=Standing.OUTSIDE if outside else Standing.SHOWN,
            remark=say_standing(weighing, whole),
            word=OUTSIDE_LIMITS if outside else "",
            hint="go over scales, arms, loads and limits" if outside else "",
        )


def say_weight(pounds: Fraction) -> str:
    """`1,169 lb (530.25 kg)`."""
    return f"{_grouped(pounds, 2)} lb ({_grouped(pounds * KG_PER_POUND, 2)} kg)"


def say_arm(inches: Fraction) -> str:
    """`10.6 in (269.2 mm)`."""
    return f"{_grouped(inches, 2)} in ({_grouped(inches * MM_PER_INCH, 1)} mm)"


def say_moment(inch_pounds: Fraction) -> str:
    """`12,391.4 in-lb (142.76 kg m)`."""
    kilogram_metres = inch_pounds * KG_PER_POUND * MM_PER_INCH / 1000
    return f"{_grouped(inch_pounds, 1)} in-lb ({_grouped(kilogram_metres, 2)} kg m)"


def _told(difference: Fraction) -> Fraction:
    """However little is outside, it is told as more than nothing."""
    return max(difference, Fraction(1, 100))


def _grouped(value: Fraction, most: int) -> str:
    whole, point, rest = say_decimal(value, most).partition(".")
    return f"{int(whole):,}{point}{rest}" if abs(int(whole)) > 999 else f"{whole}{point}{rest}"
