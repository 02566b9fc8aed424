"""The data files against figures written down here a second time, and a source for every value."""

from __future__ import annotations

import csv
from fractions import Fraction
from importlib.resources import files
from pathlib import Path

import pytest

from journal.base.model import Nut
from journal.base.quantities import MM_PER_INCH
from journal.trade.shop_tables import say_column_sources, shop_tables
from journal.trade.tables import alloys, drills, rivet_sizes, rules, sources, sources_named, torque_rows

TABLE_7_1 = """\
8-36 12-15 7-9 20 12
10-32 20-25 12-15 40 25
1/4-28 50-70 30-40 100 60
5/16-24 100-140 60-85 225 140
3/8-24 160-190 95-110 390 240
7/16-20 450-500 270-300 840 500
1/2-20 480-690 290-410 1100 660
9/16-18 800-1000 480-600 1600 960
5/8-18 1100-1300 600-780 2400 1400
3/4-16 2300-2500 1300-1500 5000 3000
7/8-14 2500-3000 1500-1800 7000 4200
1-14 3700-5500 2200-3300 10000 6000
1-1/8-12 5000-7000 3000-4200 15000 9000
1-1/4-12 9000-11000 5400-6600 25000 15000
8-32 12-15 7-9 20 12
10-24 20-25 12-15 35 21
1/4-20 40-50 25-30 75 45
5/16-18 80-90 48-55 160 100
3/8-16 160-185 95-100 275 170
7/16-14 235-255 140-155 475 280
1/2-13 400-480 240-290 880 520
9/16-12 500-700 300-420 1100 650
5/8-11 700-900 420-540 1500 900
3/4-10 1150-1600 700-950 2500 1500
7/8-9 2200-3000 1300-1800 4600 2700
"""
"""AC 43.13-1B (1998-09-08), Table 7-1, set with par. 7-44: thread, recommended band for tension-type and
shear-type nuts, maximum allowable for both, in-lb; fine threads, then coarse."""

AN_BOLTS = {
    "AN3": "10-32",
    "AN4": "1/4-28",
    "AN5": "5/16-24",
    "AN6": "3/8-24",
    "AN7": "7/16-20",
    "AN8": "1/2-20",
    "AN9": "9/16-18",
    "AN10": "5/8-18",
    "AN12": "3/4-16",
    "AN14": "7/8-14",
    "AN16": "1-14",
    "AN18": "1-1/8-12",
    "AN20": "1-1/4-12",
}
"""From memory: AN3 is No. 10, the others are sixteenths of an inch."""

DATA = (
    *("alloys", "blind_rivets", "drags", "drills", "flush", "hardware", "rivets", "rules", "torque"),
    "torque_differences",
)


def rows_of(name: str) -> list[dict[str, str]]:
    """A shipped data file, raw."""
    text = files("journal.trade").joinpath("data", f"{name}.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


@pytest.mark.parametrize("line", TABLE_7_1.splitlines(), ids=lambda line: line.split()[0])
def test_every_row_of_the_torque_table(line: str) -> None:
    """Source: AC 43.13-1B (1998-09-08), Table 7-1, set with par. 7-44."""
    thread, tension, shear, most_tension, most_shear = line.split()
    row = torque_rows()[thread]
    for nut, band, most in ((Nut.TENSION, tension, most_tension), (Nut.SHEAR, shear, most_shear)):
        assert f"{row.bands[nut].least}-{row.bands[nut].most}" == band
        assert row.maximum[nut] == int(most)
    assert "Table 7-1" in row.source


def test_the_torque_table_has_the_published_rows_in_their_order() -> None:
    """14 fine and 11 coarse threads, none else."""
    assert list(torque_rows()) == [line.split()[0] for line in TABLE_7_1.splitlines()]
    assert [row.series for row in torque_rows().values()] == ["fine"] * 14 + ["coarse"] * 11


def test_bolt_numbers_are_marked_as_remembered() -> None:
    """AN numbers stand at fine threads only, and say that they come from memory."""
    assert {row.an_bolt: row.thread for row in torque_rows().values() if row.an_bolt} == AN_BOLTS
    assert all(row["source_bolt"] == "from memory" for row in rows_of("torque") if row["an_bolt"])


def test_what_another_publication_gives_is_kept_beside_and_not_blended() -> None:
    """Source: a light-aircraft maintenance manual of 2005, p. 43, which differs in two shear bands."""
    others = {
        (row.thread, nut): [(band.least, band.most, band.source) for band in bands]
        for row in torque_rows().values()
        for nut, bands in row.others.items()
        if bands
    }
    assert others == {
        ("5/8-18", Nut.SHEAR): [(660, 780, "2005 maintenance manual")],
        ("3/8-16", Nut.SHEAR): [(95, 110, "2005 maintenance manual")],
    }


def test_three_rows_are_starred_as_estimated() -> None:
    """Source: Table 7-1 itself stars the shear figures of the three largest fine threads."""
    starred = {row.thread: row.estimated for row in torque_rows().values() if row.estimated}
    assert starred == {"1-14": "shear", "1-1/8-12": "shear", "1-1/4-12": "shear"}


def test_bands_are_in_order_and_under_the_maximum() -> None:
    """Least below most, most not above the maximum allowable, tension above shear."""
    for row in torque_rows().values():
        for nut in Nut:
            assert 0 < row.bands[nut].least < row.bands[nut].most < row.maximum[nut]
        assert row.bands[Nut.SHEAR].most < row.bands[Nut.TENSION].most


def test_drills_agree_with_another_projects_table() -> None:
    """Outside check: every number and letter drill against a table of another project, to the places printed there."""
    path = Path(__file__).parent / "data" / "drill_sizes_elsewhere.csv"
    elsewhere = {row["size"]: row["diameter_in"] for row in csv.DictReader(path.read_text("utf-8").splitlines())}
    ours = {name: drill for name, drill in drills().items() if drill.series != "fraction"}
    assert len(ours) == 78
    rounded = []
    for name, drill in ours.items():
        there = Fraction(elsewhere[name])
        if drill.diameter != there:
            rounded.append(name)
            assert abs(drill.diameter - there) <= Fraction(5, 10000)
    assert sorted(rounded) == ["#10", "#18", "#25", "#28", "#5"]


@pytest.mark.parametrize(
    ("name", "inches", "millimetres"),
    [
        ("#52", "0.0635", "1.613"),
        ("#40", "0.0980", "2.489"),
        ("#41", "0.0960", "2.438"),
        ("#30", "0.1285", "3.264"),
        ("#21", "0.1590", "4.039"),
        ("#22", "0.1570", "3.988"),
        ("#11", "0.1910", "4.851"),
        ("#12", "0.1890", "4.801"),
        ("#10", "0.1935", "4.915"),
        ("#7", "0.2010", "5.105"),
        ("#1", "0.2280", "5.791"),
        ("A", "0.2340", "5.944"),
        ("F", "0.2570", "6.528"),
        ("Z", "0.4130", "10.490"),
    ],
)
def test_the_drills_of_the_trade(name: str, inches: str, millimetres: str) -> None:
    """Source: two public code tables of the standard series; #52, #41, #30, #22 and #12 also in a 1940s manual."""
    assert drills()[name].diameter == Fraction(inches)
    assert abs(drills()[name].diameter * MM_PER_INCH - Fraction(millimetres)) <= Fraction(1, 2000)


def test_fractions_are_what_they_say_and_the_table_ascends() -> None:
    """A fraction drill measures its own name; no drill is out of order."""
    for drill in drills().values():
        if drill.series == "fraction":
            assert drill.diameter == Fraction(drill.name)
    diameters = [drill.diameter for drill in drills().values()]
    assert diameters == sorted(diameters)
    assert len(diameters) == 107


@pytest.mark.parametrize(
    ("dash", "diameter", "drill", "alternative", "colour"),
    [
        (2, "1/16", "#52", None, "black"),
        (3, "3/32", "#40", "#41", "cadmium (silver)"),
        (4, "1/8", "#30", None, "copper"),
        (5, "5/32", "#21", "#22", "black"),
        (6, "3/16", "#11", "#12", "brass (gold)"),
        (8, "1/4", "F", "1/4", "green"),
    ],
)
def test_rivet_sizes(dash: int, diameter: str, drill: str, alternative: str | None, colour: str) -> None:
    """Colours: NAVEDTRA 14315 (silver for 3/32 and copper for 1/8 are common practice too); second drills: a 1940s
    manual.
    """
    size = rivet_sizes()[dash]
    assert size.diameter == Fraction(diameter) == Fraction(dash, 32)
    assert size.drill.name == drill
    assert (size.drill_alternative.name if size.drill_alternative else None) == alternative
    assert size.fastener_colour == colour
    assert size.drill.diameter > size.diameter


def test_shop_head_limits_as_quoted() -> None:
    """Source: MIL-R-47196A as builders quote it, for 3/32 and 1/8 only; they round the rule of 1.3 D up."""
    quoted = {
        dash: (size.head_least_width, size.head_least_height, size.head_most_height)
        for dash, size in rivet_sizes().items()
        if size.head_least_width
    }
    assert quoted == {
        3: (Fraction("0.122"), Fraction("0.038"), Fraction("0.050")),
        4: (Fraction("0.163"), Fraction("0.050"), Fraction("0.070")),
    }
    for dash, (width, _, _) in quoted.items():
        exact = rules()["head_least_width"].of(Fraction(dash, 32))
        assert width is not None
        assert 0 <= width - exact < Fraction(1, 1000)


def test_nominal_heads_as_printed() -> None:
    """Source: a 1940s manual prints .188 x .063 for 1/8, .234 x .078 for 5/32 and .281 x .093 for 3/16."""
    printed = {4: ("0.188", "0.063"), 5: ("0.234", "0.078"), 6: ("0.281", "0.093")}
    for dash, (width, height) in printed.items():
        diameter = Fraction(dash, 32)
        assert abs(rules()["head_nominal_width"].of(diameter) - Fraction(width)) <= Fraction(1, 1000)
        assert abs(rules()["head_nominal_height"].of(diameter) - Fraction(height)) <= Fraction(1, 1000)


def test_the_rules_in_diameters() -> None:
    """Sources beside each in the data file; 2.5 D for flush heads is from memory and says so."""
    assert {name: rule.times_diameter for name, rule in rules().items()} == {
        "allowance": Fraction(3, 2),
        "edge_protruding": 2,
        "edge_flush": Fraction(5, 2),
        "spacing": 3,
        "head_least_width": Fraction(13, 10),
        "allowance_shorter": Fraction(7, 6),
        "edge_floor": Fraction(3, 2),
        "head_nominal_width": Fraction(3, 2),
        "head_nominal_height": Fraction(1, 2),
    }
    assert "from memory" in rules()["edge_flush"].source


@pytest.mark.parametrize("name", DATA)
def test_no_figure_without_a_source(name: str) -> None:
    """Every row names a publication of sources.csv, or says that it is remembered, computed or practice."""
    for row in rows_of(name):
        for column, text in row.items():
            if column == "source" or (column.startswith("source_") and _stands_for(row, column)):
                assert text, f"{name}: {row} has nothing in {column}"
                marked = any(words in text for words in ("from memory", "computed", "common practice"))
                assert marked or sources_named([text]), f"{name}: {text!r} names no known source"


def _stands_for(row: dict[str, str], column: str) -> bool:
    figure = {
        "source_drill": "drill",
        "source_drill_alternative": "drill_alternative",
        "source_colour": "fastener_colour",
        "source_head": "diameter_in",
        "source_note": "note",
        "source_bolt": "an_bolt",
    }[column]
    return bool(row[figure])


def test_every_source_says_what_was_read_of_it() -> None:
    """A publication carries its full title and what of it was read, and is used somewhere."""
    used = "\n".join(text for name in DATA for row in rows_of(name) for text in row.values())
    used += "\n".join(line for table in shop_tables() for line in (table.how, *table.notes, *say_column_sources(table)))
    for source in sources():
        assert source.document
        assert source.read
        assert source.name in used
    assert alloys()["AD"].name.startswith("2117")
