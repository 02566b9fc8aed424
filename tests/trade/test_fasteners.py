"""Part numbers of solid rivets, and every recorded set against the published rules."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.base.model import FastenerSet
from journal.trade.fasteners import (
    RivetHead,
    compare_length,
    nearest_size,
    parse_rivet,
    rivet_table,
    say_dash,
    wanted_length,
)
from journal.trade.figures import Figure, Standing, TradeTable, findings_of
from journal.trade.tables import rivet_sizes

F = Fraction


def figure(table: TradeTable, what: str) -> Figure:
    """The row of a table by its heading."""
    return next(row for row in table.figures if row.what == what)


def words(fasteners: FastenerSet) -> list[str]:
    """The code words of the findings that a set gives."""
    return [problem.word for problem in findings_of(rivet_table(fasteners), "x/index.md", (5, 3))]


@pytest.mark.parametrize(
    ("text", "head", "alloy", "dash", "length"),
    [
        ("AN470AD4-5", RivetHead.UNIVERSAL, "AD", 4, F(5)),
        ("MS20470AD4-6", RivetHead.UNIVERSAL, "AD", 4, F(6)),
        ("AN426AD3-3.5", RivetHead.COUNTERSUNK, "AD", 3, F(7, 2)),
        ("MS20426AD3-3½", RivetHead.COUNTERSUNK, "AD", 3, F(7, 2)),
        ("ms20426ad3-3", RivetHead.COUNTERSUNK, "AD", 3, F(3)),
        ("AN470AD-4-5", RivetHead.UNIVERSAL, "AD", 4, F(5)),
        ("AN470 AD 4-5", RivetHead.UNIVERSAL, "AD", 4, F(5)),
        ("AN470AD4–5", RivetHead.UNIVERSAL, "AD", 4, F(5)),
        ("AN426A3-4", RivetHead.COUNTERSUNK, "A", 3, F(4)),
        ("AN470DD6-10", RivetHead.UNIVERSAL, "DD", 6, F(10)),
        ("AN470D8-12.5", RivetHead.UNIVERSAL, "D", 8, F(25, 2)),
        ("AN470B5-5", RivetHead.UNIVERSAL, "B", 5, F(5)),
        ("MS20470M4-4", RivetHead.UNIVERSAL, "M", 4, F(4)),
    ],
)
def test_part_numbers(text: str, head: RivetHead, alloy: str, dash: int, length: Fraction) -> None:
    """Head, alloy, diameter and length are read in every usual spelling."""
    rivet, why = parse_rivet(text)
    assert why == ""
    assert rivet is not None
    assert (rivet.head, rivet.alloy.letters, rivet.size.dash, rivet.length_16ths) == (head, alloy, dash, length)


def test_the_published_decode_example() -> None:
    """Source: a course text decodes -4-6 as 1/8 in thick and 3/8 in long."""
    rivet, _ = parse_rivet("AN470AD4-6")
    assert rivet is not None
    assert rivet.size.diameter == F(1, 8)
    assert rivet.length == F(3, 8)


@pytest.mark.parametrize(
    ("text", "part_of_reason"),
    [
        ("CR3213-4-2", "not one of a solid rivet"),
        ("AN4704-5", "no alloy letters"),
        ("AN470XY4-5", "XY"),
        ("AN470AD7-5", "diameter -7"),
        ("AN470AD4", "no length"),
        ("AN470AD4-0", "length of nothing"),
        ("AN470AD4-5.3", "not one of a solid rivet"),
        ("", "not one of a solid rivet"),
        ("AN470AD4-5 AN470AD4-5", "not one of a solid rivet"),
    ],
)
def test_what_cannot_be_read_says_why(text: str, part_of_reason: str) -> None:
    """An unknown part number becomes a finding with its reason, and nothing of the set is checked."""
    rivet, why = parse_rivet(text)
    assert rivet is None
    assert part_of_reason in why
    assert words(FastenerSet(rivet=text, grip=F(9), edge=F(1, 1000))) == ["unknown-rivet"]


@pytest.mark.parametrize(
    ("grip", "dash", "wanted", "choice", "proud"),
    [
        ("0.064", 4, "0.2515", "-4", "1.49"),
        ("0.065", 3, "0.2056", "-3.5", "1.64"),
        ("0.188", 6, "0.4693", "-7.5", "1.50"),
        ("0.143", 4, "0.3305", "-5.5", "1.61"),
        ("0.045", 3, "0.1856", "-3", "1.52"),
    ],
)
def test_worked_lengths(grip: str, dash: int, wanted: str, choice: str, proud: str) -> None:
    """Five stacks worked by hand from the rule grip + 1.5 D (NAVEDTRA 14018, FAA-H-8083-31)."""
    size = rivet_sizes()[dash]
    length = wanted_length(F(grip), size)
    assert abs(length / 16 - F(wanted)) <= F(1, 10000)
    assert say_dash(nearest_size(length)) == choice
    left = (nearest_size(length) / 16 - F(grip)) / size.diameter
    assert abs(left - F(proud)) <= F(1, 100)


def test_of_two_lengths_equally_near_the_longer_is_taken() -> None:
    """A short shank makes too small a head."""
    assert nearest_size(F(13, 4)) == F(7, 2)
    assert nearest_size(F(15, 4)) == F(4)
    assert nearest_size(F(4)) == F(4)


def test_a_right_set_is_within_every_limit() -> None:
    """The example of the format document gives no finding, and its table names every limit with a source."""
    fasteners = FastenerSet(
        rivet="AN470AD4-5",
        grip=F(1, 8),
        count=48,
        shop_head_width=F("0.19"),
        shop_head_height=F("0.06"),
        edge=F("0.28"),
    )
    table = rivet_table(fasteners)
    assert words(fasteners) == []
    assert table.title == "AN470AD4-5 · 48 rivets"
    assert table.lead == "universal head, 2117 aluminium alloy, 1/8 in x 5/16 in"
    assert all(row.source for row in table.figures)
    assert figure(table, "hole").table == "drill #30, 0.1285 in (3.26 mm)"
    assert figure(table, "temporary fastener").table.startswith("copper")
    assert figure(table, "edge distance").table == "at least 2 D = 0.250 in (6.35 mm)"
    assert figure(table, "spacing in the row").table == "at least 3 D = 0.375 in (9.53 mm)"
    assert "0.163 in" in figure(table, "shop head across").table
    assert "0.1875 in" in figure(table, "shop head across").table
    assert "0.050 to 0.070 in" in figure(table, "shop head high").table


def test_a_wrong_set_says_by_how_much() -> None:
    """Short rivet, narrow and flat head, hole near the edge: one finding each, with figures, source and caution."""
    fasteners = FastenerSet(
        rivet="AN470AD4-4",
        grip=F(1, 8),
        shop_head_width=F("0.16"),
        shop_head_height=F("0.04"),
        edge=F("0.2"),
    )
    problems = findings_of(rivet_table(fasteners), "content/entries/x/index.md", (7, 5))
    assert [problem.word for problem in problems] == ["rivet-length", "edge-distance", "shop-head", "shop-head"]
    length, edge, width, height = (problem.message for problem in problems)
    assert "0.0625 in too short" in length
    assert "nearest size -5" in length
    assert "NAVEDTRA 14018" in length
    assert "0.050 in under 2 D = 0.250 in" in edge
    assert "0.003 in under the least of 0.163 in" in width
    assert "0.010 in under the least of 0.050 in" in height
    assert all("the kit's manual and drawings come first" in problem.hint for problem in problems)
    assert {(problem.file, problem.line, problem.column) for problem in problems} == {
        ("content/entries/x/index.md", 7, 5)
    }


def test_flush_heads_need_more_edge_and_say_that_it_is_remembered() -> None:
    """2.5 D for a flush head, from memory; 0.25 in is enough for a 1/8 in protruding head and not for a flush one."""
    assert words(FastenerSet(rivet="AN470AD4-4", edge=F(1, 4))) == []
    flush = FastenerSet(rivet="AN426AD4-4", edge=F(1, 4))
    assert words(flush) == ["edge-distance"]
    assert "from memory" in figure(rivet_table(flush), "edge distance").source


@pytest.mark.parametrize(
    ("length", "standing"),
    [("-5", Standing.WITHIN), ("-5.5", Standing.NOTE), ("-4.5", Standing.NOTE), ("-6", Standing.OUTSIDE)],
)
def test_how_far_off_a_length_may_be(length: str, standing: Standing) -> None:
    """Grip 1/8 with a 1/8 rivet asks for exactly -5: half a sixteenth off is noted, a whole one is a finding."""
    rivet, _ = parse_rivet(f"AN470AD4{length}")
    assert rivet is not None
    assert compare_length(rivet, F(1, 8)).standing is standing


def test_a_nearest_whole_size_is_noted_and_not_found_fault_with() -> None:
    """.188 asks for 7.51 sixteenths: -7.5 fits, -8 is what may be stocked, -7 is too short."""
    grip = F("0.188")
    assert figure(rivet_table(FastenerSet(rivet="AN470AD6-7.5", grip=grip)), "length").standing is Standing.WITHIN
    assert figure(rivet_table(FastenerSet(rivet="AN470AD6-8", grip=grip)), "length").standing is Standing.NOTE
    assert words(FastenerSet(rivet="AN470AD6-7", grip=grip)) == ["rivet-length"]


def test_a_rivet_shorter_than_the_stack() -> None:
    """Nothing is left to make a head of, and the finding says so."""
    (problem,) = findings_of(rivet_table(FastenerSet(rivet="AN470AD4-3", grip=F(1, 4))), "x", None)
    assert "no shank is left" in problem.message


def test_a_head_between_least_and_nominal_is_a_note() -> None:
    """Between 1.3 D and 1.5 D the gauge says no and the limit says yes: noted, not found fault with."""
    table = rivet_table(FastenerSet(rivet="AN470AD5-5", shop_head_width=F("0.21")))
    row = figure(table, "shop head across")
    assert row.standing is Standing.NOTE
    assert "gauge" in row.remark
    assert words(FastenerSet(rivet="AN470AD5-5", shop_head_width=F("0.2031"))) == ["shop-head"]
    assert words(FastenerSet(rivet="AN470AD5-5", shop_head_width=F("0.203125"))) == []


def test_a_value_on_the_limit_is_within_and_a_hair_under_is_not() -> None:
    """Fractions are exact: 2.5 D of 3/32 is 15/64, and 6.35 mm is a quarter of an inch."""
    assert words(FastenerSet(rivet="AN426AD3-3", edge=F(15, 64))) == []
    assert words(FastenerSet(rivet="AN426AD3-3", edge=F(15, 64) - F(1, 10**9))) == ["edge-distance"]
    (problem,) = findings_of(rivet_table(FastenerSet(rivet="AN426AD3-3", edge=F(15, 64) - F(1, 10**9))), "x", None)
    assert "less than 0.0001 in under" in problem.message


def test_heights_are_checked_only_where_limits_were_read() -> None:
    """5/32 has no quoted height band: the nominal is shown and nothing is judged."""
    table = rivet_table(FastenerSet(rivet="AN470AD5-5", shop_head_height=F("0.2")))
    row = figure(table, "shop head high")
    assert row.standing is Standing.SHOWN
    assert "no limits were read" in row.table
    assert words(FastenerSet(rivet="AN470AD3-4", shop_head_height=F("0.051"))) == ["shop-head"]


def test_where_sources_disagree_both_drills_are_shown() -> None:
    """3/32: #40 from memory, #41 from a 1940s manual; each with its own source."""
    row = figure(rivet_table(FastenerSet(rivet="AN470AD3-4")), "hole")
    assert "#40" in row.table
    assert "#41" in row.table
    assert "#40: from memory" in row.source
    assert "#41: 1940s repair manual" in row.source


def test_thin_rivets_say_that_they_are_kept_out_of_structure() -> None:
    """Source: NAVEDTRA 14018."""
    row = figure(rivet_table(FastenerSet(rivet="AN470A2-3")), "this size")
    assert "kept out of structure" in row.table


@given(
    st.sampled_from([3, 4, 5, 6, 8]),
    st.fractions(min_value=F(1, 64), max_value=F(1), max_denominator=1000),
)
def test_the_nearest_size_is_never_found_fault_with(dash: int, grip: Fraction) -> None:
    """Whatever the grip, the size that the table names is within its own rule."""
    nearest = nearest_size(wanted_length(grip, rivet_sizes()[dash]))
    rivet, _ = parse_rivet(f"AN470AD{dash}{say_dash(nearest)}")
    assert rivet is not None
    assert compare_length(rivet, grip).standing is Standing.WITHIN


@given(st.text(max_size=30))
def test_no_text_breaks_the_reader(text: str) -> None:
    """Any text is a rivet or a reason."""
    rivet, why = parse_rivet(text)
    assert (rivet is None) == bool(why)
