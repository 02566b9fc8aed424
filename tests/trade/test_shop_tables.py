"""The sheets for the wall: whole, sourced, and in agreement with the checks."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.trade.fasteners import nearest_size, wanted_length
from journal.trade.shop_tables import (
    LENGTHS,
    ShopTable,
    bolts_table,
    drills_table,
    grips_for,
    rivet_lengths_table,
    rivets_table,
    shop_tables,
)
from journal.trade.tables import rivet_sizes

SHEETS = pytest.mark.parametrize("entry", shop_tables(), ids=lambda entry: entry.id)


@SHEETS
def test_every_column_has_a_source_and_every_row_its_cells(entry: ShopTable) -> None:
    """No figure stands on a sheet without saying where it comes from, and the caution is on each."""
    assert all(column.source for column in entry.columns)
    assert all(len(row) == len(entry.columns) for row in entry.rows)
    assert entry.sources
    assert "licensed inspector" in entry.caution


def test_the_sheets_are_whole() -> None:
    """Six rivet sizes, 107 drills, 25 threads, lengths from -2.5 to -16."""
    assert [len(entry.rows) for entry in shop_tables()] == [6, len(LENGTHS), 107, 25]
    assert len({entry.id for entry in shop_tables()}) == 4


def test_rows_read_as_the_published_ones() -> None:
    """A row of each sheet by hand."""
    assert rivets_table().rows[2] == (
        "-4", "1/8 = 0.125", "#30", "0.1285", "", "copper",
        "0.250", "0.3125", "0.375", "0.163", "0.1875", "0.0625", "0.050 to 0.070",
    )  # fmt: skip
    assert ("#40", "0.0980", "2.489", "-3") in drills_table().rows
    assert ("1/4-28", "fine", "AN4", "50–70", "30–40", "100", "60", "") in bolts_table().rows
    assert ("5/8-18", "fine", "AN10", "1100–1300", "600–780", "2400", "1400", "shear 660–780") in bolts_table().rows
    assert ("1-14", "fine", "AN16", "3700–5500", "2200–3300*", "10000", "6000*", "") in bolts_table().rows
    assert rivet_lengths_table().rows[5][:4] == ("-5", "5/16", "0.156 – 0.188", "0.109 – 0.141")


@given(st.sampled_from([3, 4, 5, 6, 8]), st.fractions(min_value=0, max_value=Fraction(3, 5), max_denominator=4000))
def test_the_length_sheet_agrees_with_the_check(dash: int, grip: Fraction) -> None:
    """A grip lies in exactly one range of its column, and that is the nearest size of the rule."""
    size = rivet_sizes()[dash]
    rows = [length for length in LENGTHS if (found := grips_for(length, size)) and found[0] <= grip < found[1]]
    assert rows == [nearest_size(wanted_length(grip, size))]
