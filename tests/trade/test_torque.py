"""Bolts and threads read, wrench settings against the band, and the wrench's own calibration."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.base.model import CalibratedTool, Nut, TorqueSetting
from journal.base.quantities import parse_torque
from journal.trade.figures import Figure, Standing, TradeTable, findings_of
from journal.trade.tables import torque_rows
from journal.trade.torque import due_after, parse_bolt, torque_table

F = Fraction
DAY = date(2026, 3, 7)


def setting(
    bolt: str = "AN4-10A", nut: Nut = Nut.TENSION, value: int | Fraction = 62, drag: int | None = 8, wrench: str = ""
) -> TorqueSetting:
    """A recorded torque; the default is the example of the format document."""
    return TorqueSetting(bolt=bolt, nut=nut, value=F(value), drag=None if drag is None else F(drag), wrench=wrench)


def words(torque: TorqueSetting, tools: tuple[CalibratedTool, ...] = ()) -> list[str]:
    """The code words of the findings that a setting gives."""
    return [problem.word for problem in findings_of(torque_table(torque, DAY, tools), "x", None)]


def figure(table: TradeTable, what: str) -> Figure:
    """The row of a table by its heading."""
    return next(row for row in table.figures if row.what == what)


@pytest.mark.parametrize(
    ("text", "thread"),
    [
        ("AN3-5A", "10-32"),
        ("AN4-10A", "1/4-28"),
        ("an4-10a", "1/4-28"),
        ("AN4", "1/4-28"),
        ("AN4H-10A", "1/4-28"),
        ("AN4H10A", "1/4-28"),
        ("AN4C10A", "1/4-28"),
        ("AN20-40", "1-1/4-12"),
        ("1/4-28", "1/4-28"),
        ("1/4-20", "1/4-20"),
        ("10-32", "10-32"),
        ("#10-32", "10-32"),
        ("No. 10-32", "10-32"),
        ("1-1/8-12", "1-1/8-12"),
    ],
)
def test_bolts_and_threads(text: str, thread: str) -> None:
    """AN numbers and plain threads find their row of the table."""
    bolt, why = parse_bolt(text)
    assert why == ""
    assert bolt is not None
    assert bolt.row.thread == thread


@pytest.mark.parametrize(
    "text", ["AN310-5", "AN365-1032A", "AN105", "AN42B-5", "AN11-5", "1/4-27", "NAS6604-5", "", "AN"]
)
def test_other_parts_are_not_taken_for_bolts(text: str) -> None:
    """Nuts, eye bolts and threads outside the table are unknown, and their torque is not judged."""
    assert parse_bolt(text)[0] is None
    assert words(setting(bolt=text, value=100_000)) == ["unknown-bolt"]


def test_an_aluminium_bolt_is_not_held_against_the_steel_table() -> None:
    """DD is an aluminium alloy (from memory); the table read is for steel."""
    assert words(setting(bolt="AN4DD-10A")) == ["unknown-bolt"]


def test_a_setting_within_the_band_with_drag() -> None:
    """Worked in the reference: 1/4-28, tension nut, band 50 to 70; with 15 in-lb of drag 65 to 85."""
    for value, found in ((64, ["torque-low"]), (65, []), (85, []), (86, ["torque-high"])):
        assert words(setting(value=value, drag=15)) == found
    row = figure(torque_table(setting(value=65, drag=15), DAY), "wrench setting")
    assert "= 65 to 85 in-lb" in row.table
    assert row.source.startswith("AC 43.13-1B Table 7-1")


def test_too_low_and_too_high_say_by_how_much() -> None:
    """The finding names the setting, the distance, the band and the source."""
    low = findings_of(torque_table(setting(value=40), DAY), "x", None)[0]
    assert "40 in-lb is 18 in-lb under the band 50 to 70 in-lb + drag 8 in-lb" in low.message
    assert "Table 7-1" in low.message
    assert "the kit's manual and drawings come first" in low.hint


def test_over_the_maximum_is_a_finding_of_its_own() -> None:
    """100 in-lb is the maximum of a 1/4-28 with a tension nut: without drag 101 is over, and above the band too."""
    assert words(setting(value=100, drag=None)) == ["torque-high"]
    assert words(setting(value=101, drag=None)) == ["torque-high", "torque-over-maximum"]
    assert words(setting(value=108, drag=8)) == ["torque-high"]
    assert words(setting(value=109, drag=8)) == ["torque-high", "torque-over-maximum"]


def test_a_shear_nut_has_its_own_band() -> None:
    """62 in-lb is right for a tension nut and over the maximum of 60 for a shear nut without drag."""
    assert words(setting(drag=None)) == []
    assert words(setting(nut=Nut.SHEAR, drag=None)) == ["torque-high", "torque-over-maximum"]


def test_without_drag_the_reader_is_told_what_that_means() -> None:
    """The table says that it compared as if there were none; the finding asks for the drag."""
    table = torque_table(setting(value=75, drag=None), DAY)
    assert "as if there were none" in figure(table, "friction drag").remark
    assert "measure it" in findings_of(table, "x", None)[0].hint


def test_between_two_publications() -> None:
    """5/8-18 with a shear nut: 620 is within 600 to 780 and under the other manual's 660; both are shown."""
    table = torque_table(setting(bolt="AN10-20", nut=Nut.SHEAR, value=620, drag=None), DAY)
    row = figure(table, "wrench setting")
    assert row.standing is Standing.NOTE
    assert "600 to 780" in row.table
    assert "660 to 780" in row.table
    assert "2005 maintenance manual" in row.source
    assert words(setting(bolt="AN10-20", nut=Nut.SHEAR, value=700, drag=None)) == []


def test_newton_metres_are_held_exactly() -> None:
    """7.908938031933169 N m are 70 in-lb to the last place, the top of the band, and the next place is over it."""
    top, over = parse_torque("7.908938031933169 N m"), parse_torque("7.908938031933170 N m")
    assert top == 70
    assert over is not None
    assert words(setting(value=top, drag=None)) == []
    assert words(setting(value=over, drag=None)) == ["torque-high"]


WRENCH = "small wrench"


def tool(checked_on: date | None, months: int | None = 12, name: str = WRENCH) -> CalibratedTool:
    """A row of tools.csv."""
    return CalibratedTool(name=name, checked_on=checked_on, check_every_months=months)


@pytest.mark.parametrize(
    ("tools", "found"),
    [
        ((tool(date(2025, 3, 7)),), []),
        ((tool(date(2025, 3, 6)),), ["wrench-overdue"]),
        ((tool(date(2025, 3, 6), 24),), []),
        ((tool(date(2025, 3, 6), None),), ["wrench-overdue"]),
        ((tool(date(2025, 3, 6)), tool(date(2026, 1, 5))), []),
        ((tool(date(2024, 1, 5)), tool(date(2026, 4, 5))), ["wrench-overdue"]),
        ((tool(date(2026, 4, 5)),), []),
        ((tool(None),), []),
        ((tool(date(2026, 1, 5), name=" Small  WRENCH"),), []),
        ((tool(date(2026, 1, 5), name="large wrench"),), ["wrench-unlisted"]),
        ((), ["wrench-unlisted"]),
    ],
)
def test_the_wrench_is_in_date_or_not(tools: tuple[CalibratedTool, ...], found: list[str]) -> None:
    """A year at most where tools.csv does not say (par. 7-40); the last check before the use holds; a check
    after it, or without a day, is noted and not judged.
    """
    assert words(setting(wrench=WRENCH), tools) == found


def test_overdue_says_since_when() -> None:
    """The finding names the day and how many days late."""
    table = torque_table(setting(wrench=WRENCH), DAY, (tool(date(2025, 1, 31)),))
    (problem,) = findings_of(table, "x", None)
    assert "31 January 2026, 35 days before this use" in problem.message


def test_calibration_is_left_out_where_it_may_not_be_shown() -> None:
    """For the public no row tells of the wrench."""
    assert "torque wrench" not in [row.what for row in torque_table(setting(wrench=WRENCH), DAY).figures]


@pytest.mark.parametrize(
    ("checked", "months", "due"),
    [
        (date(2025, 1, 31), 1, date(2025, 2, 28)),
        (date(2024, 1, 31), 1, date(2024, 2, 29)),
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
        (date(2025, 11, 20), 12, date(2026, 11, 20)),
        (date(2025, 12, 31), 2, date(2026, 2, 28)),
    ],
)
def test_months_are_counted_as_calendars_do(checked: date, months: int, due: date) -> None:
    """The same day of a later month, or that month's last."""
    assert due_after(checked, months) == due


@given(
    st.sampled_from(sorted(torque_rows())),
    st.sampled_from(list(Nut)),
    st.integers(min_value=0, max_value=500),
    st.fractions(min_value=0, max_value=1),
)
def test_within_the_band_with_any_drag_nothing_is_found(thread: str, nut: Nut, drag: int, share: Fraction) -> None:
    """Band plus drag is the rule: any setting inside it passes, one in-lb outside does not."""
    band = torque_rows()[thread].bands[nut]
    inside = band.least + (band.most - band.least) * share + drag
    assert words(setting(bolt=thread, nut=nut, value=inside, drag=drag)) == []
    assert words(setting(bolt=thread, nut=nut, value=band.least + drag - 1, drag=drag)) == ["torque-low"]
    assert "torque-high" in words(setting(bolt=thread, nut=nut, value=band.most + drag + 1, drag=drag))


@given(st.text(max_size=30))
def test_no_text_breaks_the_reader(text: str) -> None:
    """Any text is a bolt or a reason."""
    bolt, why = parse_bolt(text)
    assert (bolt is None) == bool(why)
