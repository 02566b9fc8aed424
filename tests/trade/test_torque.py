"""Bolts and threads read, wrench settings against the band, and the wrench's own calibration."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

import pytest
from building import in_lb
from hypothesis import given
from hypothesis import strategies as st

from journal.base.model import CalibratedTool, Nut, TorqueSetting
from journal.base.quantities import parse_torque
from journal.trade.figures import Figure, Standing, TradeTable, findings_of
from journal.trade.tables import torque_rows
from journal.trade.torque import due_after, parse_bolt, read_nut, torque_table

F = Fraction
DAY = date(2026, 3, 7)


def setting(
    bolt: str = "AN4-10A", nut: str = "tension", value: float | Fraction = 62, drag: float | None = 8, wrench: str = ""
) -> TorqueSetting:
    """A recorded torque; the default is the example of the format document."""
    return TorqueSetting(
        bolt=bolt, nut=nut, value=in_lb(value), drag=None if drag is None else in_lb(drag), wrench=wrench
    )


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
    """Nuts, eye bolts and threads outside the table are not compared, and no finding."""
    assert parse_bolt(text)[0] is None
    assert words(setting(bolt=text, value=100_000)) == []
    assert "not compared" in figure(torque_table(setting(bolt=text), DAY), "bolt").remark


def test_an_aluminium_bolt_is_not_held_against_the_steel_table() -> None:
    """DD is an aluminium alloy (from memory); the table read is for steel."""
    bolt, why = parse_bolt("AN4DD-10A")
    assert bolt is None
    assert "aluminium" in why


def test_only_what_every_source_calls_unsafe_is_told() -> None:
    """Worked in the reference: 1/4-28, tension nut, band 50 to 70, at most 100; with a drag of 15 from 65 to 115."""
    for value, found in ((64, ["torque-low"]), (65, []), (86, []), (115, []), (116, ["torque-over-maximum"])):
        assert words(setting(value=value, drag=15)) == found
    row = figure(torque_table(setting(value=65, drag=15), DAY), "wrench setting")
    assert row.standing is Standing.SHOWN
    assert "50 to 70 in-lb (5.65 to 7.91 N m) + drag 15 in-lb (1.69 N m, 1.25 ft-lb)" in row.table
    assert row.source.startswith("AC 43.13-1B Table 7-1")


def test_too_low_and_too_high_say_by_how_much() -> None:
    """The finding names the setting, the distance, the band and the source."""
    (low,) = findings_of(torque_table(setting(value=40), DAY), "x", None)
    assert "40 in-lb is 18 in-lb (2.03 N m, 1.5 ft-lb) under the lowest band, 50 to 70 in-lb" in low.message
    assert "Table 7-1" in low.message
    assert "the kit's manual and drawings come first" in low.hint
    (high,) = findings_of(torque_table(setting(value=120), DAY), "x", None)
    assert "120 in-lb less the drag of 8 in-lb is 12 in-lb" in high.message


def test_a_shear_nut_has_its_own_band() -> None:
    """62 in-lb is right for a tension nut and over the maximum of 60 for a shear nut without drag."""
    assert words(setting(drag=None)) == []
    assert words(setting(nut="shear", drag=None)) == ["torque-over-maximum"]
    # A castle nut may be either: only what fails both is told, and both bands stand there.
    assert words(setting(nut="castle", value=31, drag=None)) == []
    assert words(setting(nut="castle", value=29, drag=None)) == ["torque-low"]
    row = figure(torque_table(setting(nut="AN310-4", drag=None), DAY), "wrench setting")
    assert "shear" not in row.table
    assert "shear nut 30 to 40" in figure(torque_table(setting(nut="castle", drag=None), DAY), "wrench setting").table


@pytest.mark.parametrize(
    ("nut", "locks", "loads"),
    [
        ("tension", None, "tension"),
        ("shear", None, "shear"),
        ("", None, "tension shear"),
        ("castle", False, "tension shear"),
        ("castle nut with pin", False, "tension shear"),
        ("plain", False, "tension shear"),
        ("self-locking", True, "tension shear"),
        ("Self locking, thin", True, "shear"),
        ("self-locking shear", True, "shear"),
        ("AN365-428A", True, "tension"),
        ("MS20364-1032", True, "shear"),
        ("MS21042-4", True, "tension shear"),
        ("AN310-4", False, "tension"),
        ("an320-4", False, "shear"),
        ("MS21047-08", True, "tension shear"),
    ],
)
def test_nuts_as_they_are_written(nut: str, locks: bool | None, loads: str) -> None:
    """By words or by part: the columns of the table that may be meant, and whether it locks by itself."""
    read = read_nut(nut)
    assert read.locks is locks
    assert {load.value for load in read.loads} == set(loads.split())


def test_the_drag_of_a_self_locking_nut_is_asked_for() -> None:
    """Without it nothing is compared, however high; else it is held against the band and the least of any source."""
    assert words(setting(nut="self-locking", value=500, drag=None)) == ["drag-missing"]
    assert words(setting(nut="AN310-4", drag=None)) == []
    # "AN4-10A, tension, 150 in-lb, drag 100 in-lb": the drag is larger than the whole band of 50 to 70.
    assert words(setting(value=150, drag=100)) == ["drag-unusual"]
    # Least friction torque of a 1/4-28 is 3.5 in-lb: TM 55-1520-240-23-1 page 1-14.
    assert words(setting(nut="MS20365-428", drag=2)) == ["drag-unusual"]
    assert words(setting(nut="MS20365-428", drag=3.5)) == []
    assert words(setting(nut="castle", drag=0)) == []
    # 7/16-20: 8 in-lb by AC 43.13-1B Table 7-2, 14 by the other; only under both is told.
    assert words(setting(bolt="AN7-20", nut="MS20365-720", value=470, drag=9)) == []
    assert words(setting(bolt="AN7-20", nut="MS20365-720", value=470, drag=7)) == ["drag-unusual"]
    # No least was read for 10-24: nothing is told.
    assert words(setting(bolt="10-24", nut="self-locking", value=22, drag=0)) == []


def test_without_drag_the_reader_is_told_what_that_means() -> None:
    """Where nothing says whether the nut locks, it is compared as if there were none."""
    table = torque_table(setting(value=75, drag=None), DAY)
    assert "as if there were none" in figure(table, "friction drag").remark


def test_between_two_publications() -> None:
    """5/8-18 with a shear nut: 600 to 780 here, 660 to 780 in the other manual; both are shown, none is preferred."""
    table = torque_table(setting(bolt="AN10-20", nut="shear", value=620, drag=None), DAY)
    row = figure(table, "wrench setting")
    assert row.standing is Standing.SHOWN
    assert "600 to 780" in row.table
    assert "660 to 780" in row.table
    assert "2005 maintenance manual" in row.source


def test_newton_metres_are_held_at_their_own_precision() -> None:
    """5.6 N m stands for 49.1 to 50.0 in-lb and is not under a band that begins at 50; 5.5 is."""
    for text, found in (("5.6 N m", []), ("5.5 N m", ["torque-low"]), ("5.60 N m", ["torque-low"])):
        value = parse_torque(text)
        assert value is not None
        assert words(TorqueSetting(bolt="AN4-10A", nut="tension", value=value)) == found


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
    st.integers(min_value=0, max_value=5),
    st.fractions(min_value=0, max_value=1),
)
def test_from_the_lowest_band_to_the_highest_limit_nothing_is_found(
    thread: str, nut: Nut, drag: int, share: Fraction
) -> None:
    """Any setting between passes, one in-lb outside does not."""
    row = torque_rows()[thread]
    least = min(band.least for band in (row.bands[nut], *row.others[nut]))
    inside = least + (row.maximum[nut] - least) * share + drag
    assert words(setting(bolt=thread, nut=nut.value, value=inside, drag=drag)) == []
    assert words(setting(bolt=thread, nut=nut.value, value=least + drag - 1, drag=drag)) == ["torque-low"]
    beyond = row.maximum[nut] + drag + 1
    assert words(setting(bolt=thread, nut=nut.value, value=beyond, drag=drag)) == ["torque-over-maximum"]


@given(st.text(max_size=30))
def test_no_text_breaks_the_reader(text: str) -> None:
    """Any text is a bolt or a reason."""
    bolt, why = parse_bolt(text)
    assert (bolt is None) == bool(why)


def test_a_bolt_through_wood_is_not_called_too_loose() -> None:
    """The bands are for joints of metal: under them nothing is told where a bolt may crush what it goes through, and
    the row says why; over the maximum it is told all the same.
    """
    low, high = (torque_table(setting(value=value), DAY, soft=True) for value in (40, 120))
    assert not low.found
    assert "crush" in figure(low, "wrench setting").remark
    assert [one.word for one in high.found] == ["torque-over-maximum"]
