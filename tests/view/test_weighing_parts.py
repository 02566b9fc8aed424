"""Weighings as tables and drawn: every word, figure and place as they were last accepted, and what a drawing must hold.

`weighing_parts.golden.txt` holds them; `--rewrite-goldens` accepts a change. The figures are invented.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from journal.base.drawing import Palette
from journal.base.model import BalanceLimit, Load, LoadCase, Weighing
from journal.view.weighing_parts import _Scale, draw_limits, weighing_tables

GOLDEN = Path(__file__).with_name("weighing_parts.golden.txt")


def load(what: str, weight: int, arm: int, **more: Fraction | bool) -> Load:
    """So many pounds at so many inches."""
    return Load(what=what, weight=Fraction(weight), arm=Fraction(arm), **more)  # type: ignore[arg-type]


def limit(weight: int | None, forward: int, aft: int) -> BalanceLimit:
    """At so many pounds, or at every weight."""
    return BalanceLimit(
        weight=None if weight is None else Fraction(weight), forward=Fraction(forward), aft=Fraction(aft)
    )


BARE = Weighing(datum="the spinner", scales=(load("left", 400, 22), load("nose", 203, -49, tare=Fraction(3))))
WHOLE = replace(
    BARE,
    corrections=(load("seat", 12, 30), load("ballast", -25, 8)),
    equipment=(load("radio", 4, 11), load("spats", 9, 25, fitted=False)),
    limits=(limit(500, -6, 14), limit(900, -2, 14)),
    max_weight=Fraction(950),
    cases=(
        LoadCase(name="first <flight>", loads=(load("pilot", 170, 16), load("fuel", 60, 20))),
        LoadCase(name="most aft", loads=(load("baggage", 250, 75),)),
        LoadCase(name="nothing", loads=()),
    ),
)
ONE = replace(WHOLE, limits=(limit(None, -4, 12),))
WEIGHINGS = {
    "bare": BARE,
    "whole": WHOLE,
    "one limit": ONE,
    "one limit, no maximum": replace(ONE, max_weight=None),
    "a limit with its weight alone": replace(WHOLE, limits=(limit(700, -4, 12),), cases=()),
    "limits close by": Weighing(
        datum="the firewall",
        scales=(replace(load("all", 6, 0), arm=Fraction(3, 10)),),
        limits=(BalanceLimit(weight=None, forward=Fraction(1, 4), aft=Fraction(2, 5)),),
    ),
    "a maximum alone": replace(BARE, max_weight=Fraction(950)),
    "nothing weighed": replace(ONE, scales=(load("left", 0, 22),), corrections=()),
}


def test_every_word_and_place_as_it_was_last_accepted(pytestconfig: pytest.Config) -> None:
    """Each part that a weighing may have or lack, on the page and in the colours of a printed sheet."""
    told = []
    for name, weighing in WEIGHINGS.items():
        tables = (
            "\n".join([one.caption, *(" | ".join(row) for row in (one.columns, *one.rows, one.sums)), one.note])
            for one in weighing_tables(weighing)
        )
        told.append("\n\n".join([f"# {name}", *tables, draw_limits(weighing)]))
    told.append(draw_limits(WHOLE, palette=Palette(ink="a", done="b"), face="c"))
    whole = "\n\n".join(told).replace("><", ">\n<") + "\n"
    if pytestconfig.getoption("--rewrite-goldens"):
        GOLDEN.write_text(whole, "utf-8")
    assert whole == GOLDEN.read_text("utf-8")


@settings(max_examples=30)
@given(st.lists(st.fractions(-2000, 2000, max_denominator=64), min_size=2, max_size=6, unique=True))
def test_a_drawing_holds_all_figures_between_its_edges(figures: list[Fraction]) -> None:
    """Law: in their order, with some room; the figures that are named are round, a few in even steps."""
    scale = _Scale(figures, 100, 400)
    places = [scale.at(figure) for figure in sorted(figures)]
    assert places == sorted(places)
    assert places[0] > 100
    assert places[-1] < 400
    steps = {later - earlier for earlier, later in zip(scale.ticks, scale.ticks[1:], strict=False)}
    assert len(steps) == 1
    assert len(scale.ticks) in range(2, 9)
    assert scale.ticks[0] <= min(figures)
    assert max(figures) <= scale.ticks[-1]
    (step,) = steps
    assert str(step * 100).rstrip("0") in ("1", "2", "5")
    assert all((tick / step).denominator == 1 for tick in scale.ticks)
