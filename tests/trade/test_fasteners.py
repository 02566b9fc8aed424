"""Part numbers of solid rivets, and every recorded set against the published rules."""

from __future__ import annotations

from fractions import Fraction

import pytest
from building import inches
from hypothesis import given
from hypothesis import strategies as st

from journal.base.model import FastenerSet
from journal.base.quantities import parse_length
from journal.trade.fasteners import (
    RivetHead,
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
        ("LP4-3", "not a standard number"),
        ("MS20604AD4W3", "is a blind rivet"),
        ("MS24693-S52", "is a screw"),
        ("AN430AD4-5", "no table"),
        ("AN470 4-5", "no alloy letters"),
        ("AN470XY4-5", "XY"),
        ("AN470AD7-5", "diameter -7"),
        ("AN470AD4", "no length"),
        ("AN470AD4-0", "no length"),
        ("AN470AD4-5.3", "no length"),
        ("", "not a standard number"),
        ("AN470AD4-5 AN470AD4-5", "no table"),
    ],
)
def test_what_cannot_be_read_says_why(text: str, part_of_reason: str) -> None:
    """What no table speaks of is not compared, and no finding."""
    rivet, why = parse_rivet(text)
    assert rivet is None
    assert part_of_reason in why
    fasteners = FastenerSet(rivet=text, grip=inches(9), edge=inches(F(1, 1000)))
    assert words(fasteners) == []
    assert "not compared" in figure(rivet_table(fasteners), "part").remark


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


def test_what_handbooks_say_stands_beside_with_its_source() -> None:
    """The example of the format document gives no finding, and its table names every limit with a source."""
    fasteners = FastenerSet(
        rivet="AN470AD4-5",
        grip=inches("1/8"),
        count=48,
        shop_head_width=inches("0.19"),
        shop_head_height=inches("0.06"),
        edge=inches("0.28"),
    )
    table = rivet_table(fasteners)
    assert words(fasteners) == []
    assert table.title == "AN470AD4-5 · 48 pieces"
    assert table.lead == "universal head, 2117 aluminium alloy, 1/8 in x 5/16 in"
    assert all(row.source for row in table.figures)
    assert {row.standing for row in table.figures} == {Standing.SHOWN}
    assert figure(table, "hole").table == "drill #30, 0.1285 in (3.26 mm)"
    assert figure(table, "temporary fastener").table.startswith("copper")
    assert figure(table, "edge distance").table.startswith("at least 2 D = 0.250 in (6.35 mm)")
    assert figure(table, "spacing in the row").table == "at least 3 D = 0.375 in (9.53 mm)"
    assert "0.163 in" in figure(table, "shop head across").table
    assert "0.1875 in" in figure(table, "shop head across").table
    assert "0.050 to 0.070 in" in figure(table, "shop head high").table


def test_a_wrong_set_says_by_how_much() -> None:
    """Short rivet, narrow and flat head, hole near the edge: one finding each, with figures, source and caution."""
    fasteners = FastenerSet(
        rivet="AN470AD4-4",
        grip=inches("1/8"),
        shop_head_width=inches("0.16"),
        shop_head_height=inches("0.04"),
        edge=inches("0.18"),
    )
    problems = findings_of(rivet_table(fasteners), "content/entries/x/index.md", (7, 5))
    assert [problem.word for problem in problems] == ["rivet-length", "edge-distance", "shop-head", "shop-head"]
    length, edge, width, height = (problem.message for problem in problems)
    assert "0.0208 in (0.53 mm) too short" in length
    assert "nearest size -5" in length
    assert "NAVEDTRA 14018" in length
    assert "0.0075 in (0.19 mm) under the least that any source gives, 1.5 D = 0.1875 in" in edge
    assert "0.0025 in (0.06 mm) under the least that any source gives, 0.1625 in" in width
    assert "0.010 in (0.25 mm) under the least that any source gives, 0.050 to 0.070 in" in height
    assert all("the kit's manual and drawings come first" in problem.hint for problem in problems)
    assert {(problem.file, problem.line, problem.column) for problem in problems} == {
        ("content/entries/x/index.md", 7, 5)
    }


def test_where_sources_differ_only_what_fails_all_of_them_is_told() -> None:
    """2 D, 2.5 D for a flush head (from memory), a floor of 1.5 D: 1.7 D is no finding, and all of them stand there."""
    for rivet in ("AN470AD4-4", "AN426AD4-4"):
        assert words(FastenerSet(rivet=rivet, edge=inches(F("0.2125")))) == []
        assert words(FastenerSet(rivet=rivet, edge=inches(F("0.187")))) == ["edge-distance"]
    flush = figure(rivet_table(FastenerSet(rivet="AN426AD4-4", edge=inches(F(1, 4)))), "edge distance")
    assert "2.5 D" in flush.table
    assert "1.5 D" in flush.table
    assert "from memory" in flush.source
    assert "NASA RP 1228" in flush.source


@pytest.mark.parametrize(
    ("length", "found"), [("-4", True), ("-4.5", False), ("-5", False), ("-5.5", False), ("-6", True)]
)
def test_how_far_off_a_length_may_be(length: str, found: bool) -> None:
    """Grip 1/8 with a 1/8 rivet asks for -5, by the shorter allowance for 0.2708 in, which -4.5 has."""
    assert words(FastenerSet(rivet=f"AN470AD4{length}", grip=inches("1/8"))) == (["rivet-length"] if found else [])


def test_a_nearest_whole_size_is_never_found_fault_with() -> None:
    """.188 asks for 7.51 sixteenths: -7.5 fits, -8 is what may be stocked, -7 has 1.33 D left; -6.5 is too short."""
    found = {size: words(FastenerSet(rivet=f"AN470AD6{size}", grip=inches("0.188"))) for size in ("-7", "-7.5", "-8")}
    assert not any(found.values())
    assert words(FastenerSet(rivet="AN470AD6-6.5", grip=inches("0.188"))) == ["rivet-length"]


def test_a_rivet_shorter_than_the_stack() -> None:
    """Nothing is left to make a head of, and the finding says so."""
    (problem,) = findings_of(rivet_table(FastenerSet(rivet="AN470AD4-3", grip=inches("1/4"))), "x", None)
    assert "no shank is left" in problem.message


@pytest.mark.parametrize(
    ("rivet", "what", "text", "found"),
    [
        ("AN470AD5-5", "shop_head_width", "0.203", False),
        ("AN470AD5-5", "shop_head_width", "0.202", True),
        ("AN470AD4-5", "shop_head_width", "4.14 mm", False),
        ("AN470AD4-5", "shop_head_width", "4.11 mm", True),
        ("AN470AD3-5", "edge", "0.140", True),
        ("AN470AD3-5", "edge", "0.141", False),
        ("AN470AD3-5", "edge", "9/64", False),
        ("AN470AD3-5", "edge", "0.14", False),
    ],
)
def test_a_figure_is_compared_at_the_precision_it_was_written_at(rivet: str, what: str, text: str, found: bool) -> None:
    """1.3 D of 5/32 is .203125 and .203 is what a caliper shows of it; 1.5 D of 3/32 is .140625."""
    assert bool(words(FastenerSet(rivet=rivet, **{what: parse_length(text)}))) == found  # type: ignore[arg-type]


def test_heights_are_checked_only_where_limits_were_read() -> None:
    """5/32 has no quoted height band: the nominal is shown and nothing is judged."""
    table = rivet_table(FastenerSet(rivet="AN470AD5-5", shop_head_height=inches("0.2")))
    row = figure(table, "shop head high")
    assert row.standing is Standing.SHOWN
    assert "no limits were read" in row.table
    assert words(FastenerSet(rivet="AN470AD3-4", shop_head_height=inches("0.051"))) == ["shop-head"]


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
    assert words(FastenerSet(rivet=f"AN470AD{dash}{say_dash(nearest)}", grip=inches(grip))) == []


@given(st.text(max_size=30))
def test_no_text_breaks_the_reader(text: str) -> None:
    """Any text is a rivet or a reason."""
    rivet, why = parse_rivet(text)
    assert (rivet is None) == bool(why)
