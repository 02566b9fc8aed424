"""The sheets for the wall: whole, sourced, and in agreement with the checks."""

from __future__ import annotations

import re
from fractions import Fraction
from itertools import chain
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.base.quantities import NM_PER_IN_LB
from journal.trade.fasteners import nearest_size, wanted_length
from journal.trade.shop_tables import (
    LENGTHS,
    ShopTable,
    blind_rivets_table,
    bolts_table,
    drills_table,
    flush_table,
    fractions_table,
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
    assert entry.sources or all(column.source.startswith("computed") for column in entry.columns)
    assert "licensed inspector" in entry.caution


def test_the_sheets_are_whole() -> None:
    """Six rivet sizes in two units, lengths from -2.5 to -16, 24 blind rivets, 107 drills, every 64th, 25 threads."""
    assert [len(entry.rows) for entry in shop_tables()] == [12, len(LENGTHS), 24, 9, 107, 64, 25]
    assert len({entry.id for entry in shop_tables()}) == 7


def test_sheets_of_riveted_sheet_are_for_metal_alone() -> None:
    """Elsewhere drills, fractions and bolts are left, and of rivets nothing is said."""
    left = shop_tables(metal=False, soft=True)
    assert [table.id for table in left] == ["drills", "fractions", "torque"]
    assert "rivet" not in " ".join(chain.from_iterable(chain.from_iterable(left_rows(one) for one in left))).casefold()
    assert "crush" in left[-1].notes[0]
    assert "crush" not in bolts_table().notes[0]


def left_rows(table: ShopTable) -> list[tuple[str, ...]]:
    """All that a sheet says above its notes."""
    return [(table.title, table.how), tuple(one.name for one in table.columns), *table.rows]


def test_metric_units_may_stand_first() -> None:
    """Columns and rows that tell one thing in several units change places, and nothing else does."""
    inches, metric = shop_tables(), shop_tables(metric_first=True)
    for one, other in zip(inches, metric, strict=True):
        assert sorted(column.name for column in one.columns) == sorted(column.name for column in other.columns)
        assert one.columns[0] == other.columns[0]
        assert {frozenset(row) for row in one.rows} == {frozenset(row) for row in other.rows}
    names = {table.id: [column.name for column in table.columns] for table in metric}
    assert metric[0].rows[4][:3] == ("-4", "mm", "3.18")
    assert names["drills"] == ["Drill", "mm", "Inch", "Rivet"]
    assert names["fractions"] == ["Fraction", "mm", "Inch"]
    assert names["blind-rivets"][2:5] == ["Hole, mm", "Hole, in", "Drill is, in"]
    assert names["torque"][3:6] == ["Tension nut, N m", "Tension nut, in-lb", "Tension nut, ft-lb"]


def test_rows_read_as_the_published_ones() -> None:
    """A row of each sheet by hand."""
    assert rivets_table().rows[4:6] == (
        ("-4", "in", "1/8 = 0.125", "#30", "0.1285", "", "copper",
         "0.250", "0.3125", "0.375", "0.163", "0.1875", "0.0625", "0.050 to 0.070"),
        ("-4", "mm", "3.18", "#30", "3.26", "", "copper",
         "6.35", "7.94", "9.53", "4.15", "4.76", "1.59", "1.27 to 1.77"),
    )  # fmt: skip
    assert ("#40", "0.0980", "2.489", "-3") in drills_table().rows
    assert ("1/4-28", "fine", "AN4", "50–70", "5.7–7.9", "4.2–5.8", "30–40", "3.4–4.5", "2.5–3.3",
            "100", "11.2", "8.3", "60", "6.7", "5.0", "") in bolts_table().rows  # fmt: skip
    by_thread = {row[0]: row for row in bolts_table().rows}
    assert by_thread["5/8-18"][-1] == "shear 660–780"
    assert by_thread["1-14"][6:15:3] == ("2200–3300*", "10000", "6000*")
    assert rivet_lengths_table().rows[5][:4] == ("-5", "5/16", "0.156–0.188", "3.97–4.76")
    assert blind_rivets_table().rows[2] == (
        "1/8", "#30", "0.128–0.132", "3.26–3.35", "0.1285", "41", "0.020–0.062", "0.51–1.57", "0.170", "4.32"
    )  # fmt: skip
    assert fractions_table().rows[0] == ("1/64", "0.015625", "0.397")
    assert fractions_table().rows[-1] == ("1", "1.000", "25.400")


def test_no_figure_in_another_unit_leaves_the_limit() -> None:
    """Every N m and ft-lb shown, turned back into in-lb, lies within the published band (NIST SP 811 factor)."""
    numbers = [
        [[Fraction(text) for text in re.findall(r"[0-9.]+", cell)] for cell in row[3:15]] for row in bolts_table().rows
    ]
    for row in numbers:
        for place in range(0, 12, 3):
            published, metric, feet = row[place : place + 3]
            for factor, said in ((NM_PER_IN_LB, metric), (Fraction(1, 12), feet)):
                assert said[-1] / factor <= published[-1] < (said[-1] + Fraction(1, 10)) / factor
                assert place >= 6 or published[0] <= said[0] / factor < published[0] + Fraction(1, 10) / factor


def test_sources_that_disagree_on_flush_rivets_stand_side_by_side() -> None:
    """Each as read, in inches and millimetres; no row blends two of them and none is called the right one."""
    rows = flush_table().rows
    assert [(row[1], row[4]) for row in rows if row[0].startswith("TM")] == [
        ("3/32", "0.040"), ("1/8", "0.050"), ("5/32", "0.064"), ("3/16", "0.072"), ("1/4", "0.072")
    ]  # fmt: skip
    told = {row[0]: row[2:6] for row in rows[5:]}
    assert told == {
        "NAVEDTRA 14315": ("", "", "0.064", "1.63"),
        "1940s repair manual": ("0.051", "1.30", "0.051", "1.30"),
        "AC 65-15A as quoted": ("0.040", "1.02", "", ""),
        "MIL-HDBK-5F as quoted": ("", "", "", ""),
    }


@given(st.sampled_from([3, 4, 5, 6, 8]), st.fractions(min_value=0, max_value=Fraction(3, 5), max_denominator=4000))
def test_the_length_sheet_agrees_with_the_check(dash: int, grip: Fraction) -> None:
    """A grip lies in exactly one range of its column, and that is the nearest size of the rule."""
    size = rivet_sizes()[dash]
    rows = [length for length in LENGTHS if (found := grips_for(length, size)) and found[0] <= grip < found[1]]
    assert rows == [nearest_size(wanted_length(grip, size))]


def test_every_word_of_the_sheets(pytestconfig: pytest.Config) -> None:
    """Title, use, headings with their sources, rows and notes, in inches; `--rewrite-goldens` accepts a change."""
    golden, lines = Path(__file__).with_name("shop_tables.golden.txt"), []
    for table in (*shop_tables(), *shop_tables(metal=False, soft=True)[-1:]):
        lines += [f"== {table.id}: {table.title}", table.how]
        lines += [f"  {one.name} ({one.source}){' #' * one.numeric}" for one in table.columns]
        lines += [f"  {' | '.join(cells)}" for cells in table.rows]
        lines += [*table.notes, *(f"  {source}" for source in table.sources)]
    lines += [f"  {one.id}: {[column.name for column in one.columns]}" for one in shop_tables(metric_first=True)]
    text = "\n".join(lines) + "\n"
    if pytestconfig.getoption("--rewrite-goldens"):
        golden.write_text(text, "utf-8", newline="\n")
    assert text == golden.read_text("utf-8")
