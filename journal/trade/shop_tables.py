"""The published tables laid out for the shop wall: rivets, lengths by grip, drills, torque.

Each is one sheet of paper. Every column says where its figures come from; what two publications
give differently is shown side by side and never blended.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from typing import TypeVar

from journal.base.model import Nut
from journal.base.quantities import MM_PER_INCH, say_decimal, say_fraction, say_least
from journal.trade.fasteners import SIXTEENTH, say_dash
from journal.trade.figures import CAUTION
from journal.trade.tables import (
    Drill,
    Publication,
    RivetSize,
    TorqueRow,
    alloys,
    drills,
    rivet_sizes,
    rules,
    sources_named,
    torque_rows,
)

T = TypeVar("T")

LEAST_STRUCTURAL_DASH = 3
"""Lengths by grip leave out the 1/16 in rivet: it is kept out of structure (NAVEDTRA 14018)."""

LENGTHS = tuple(Fraction(halves, 2) for halves in range(5, 33))
"""-2.5 to -16 in half sizes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopColumn:
    """A heading and where the figures under it come from."""

    name: str
    source: str
    numeric: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopTable:
    """One sheet for the wall. `id` stands in its address (`shop/ID/`); `how` says how to use it; `notes` what
    differs or is doubtful. `sources` are the publications behind it with what was read of each.
    """

    id: str
    title: str
    how: str
    columns: tuple[ShopColumn, ...]
    rows: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...]
    sources: tuple[Publication, ...]
    caution: str = CAUTION


def shop_tables() -> tuple[ShopTable, ...]:
    """All sheets, in the order in which they are offered."""
    return (rivets_table(), rivet_lengths_table(), drills_table(), bolts_table())


Column = tuple[ShopColumn, Callable[[T], str]]
"""A column, and what stands in it of each row's thing."""


def _column(name: str, source: str, say: Callable[[T], str], *, numeric: bool = False) -> Column[T]:
    return ShopColumn(name=name, source=source, numeric=numeric), say


def _number(name: str, source: str, say: Callable[[T], str]) -> Column[T]:
    return _column(name, source, say, numeric=True)


def _table(
    id: str, title: str, how: str, of: Iterable[T], columns: Sequence[Column[T]], notes: Sequence[str]
) -> ShopTable:
    return ShopTable(
        id=id,
        title=title,
        how=how,
        columns=tuple(column for column, _ in columns),
        rows=tuple(tuple(say(one) for _, say in columns) for one in of),
        notes=tuple(notes),
        sources=sources_named([how, *(column.source for column, _ in columns), *notes]),
    )


def _by_source(told: Iterable[tuple[RivetSize, str]]) -> str:
    """The sources of one column, with the diameters they hold for where they differ."""
    held: dict[str, list[str]] = {}
    for size, source in told:
        if source:
            held.setdefault(source, []).append(f"-{size.dash}")
    if len(held) == 1:
        return next(iter(held))
    return "; ".join(f"{', '.join(dashes)}: {source}" for source, dashes in held.items())


def rivets_table() -> ShopTable:
    """Solid rivets by diameter: drill, hole, temporary fastener, edge distance, spacing, shop head."""
    sizes = list(rivet_sizes().values())
    rule = rules()
    letters = ", ".join(f"{alloy.letters} {alloy.name}" for alloy in alloys().values())
    heads = _by_source((size, size.source_head) for size in sizes)

    def least(name: str) -> Callable[[RivetSize], str]:
        return lambda size: say_least(rule[name].of(size.diameter)).removesuffix(" in")

    def nominal(name: str) -> Callable[[RivetSize], str]:
        return lambda size: say_decimal(rule[name].of(size.diameter), 4, 3)

    def least_head(size: RivetSize) -> str:
        return say_least(size.head_least_width or rule["head_least_width"].of(size.diameter)).removesuffix(" in")

    return _table(
        id="rivets",
        title="Solid rivets",
        how="D is the diameter of the shank, all figures in inches. A part number such as AN470AD4-5 reads: head "
        "(470 universal, 426 countersunk 100°), alloy letters, D in 32nds (-4 = 1/8), length in 16ths (-5 = 5/16; "
        f"half sizes .5). Letters, from memory: {letters}.",
        of=sizes,
        columns=(
            _column("Dash", "AC 43.13-1B p. 4-16; course text", lambda size: f"-{size.dash}"),
            _number(
                "D",
                "the dash number itself",
                lambda size: f"{size.diameter} = {say_decimal(size.diameter, 5, 3)}",
            ),
            _column("Drill", _by_source((size, size.source_drill) for size in sizes), lambda size: size.drill.name),
            _number("Hole", "drill code table", lambda size: say_decimal(size.drill.diameter, 4, 3)),
            _column(
                "Or drill",
                _by_source((size, size.source_drill_alternative) for size in sizes),
                lambda size: _drill(size.drill_alternative),
            ),
            _column(
                "Temporary fastener",
                _by_source((size, size.source_colour) for size in sizes) + " (a hint: the colour varies by maker)",
                lambda size: size.fastener_colour,
            ),
            _number("Edge ≥ 2 D", rule["edge_protruding"].source, least("edge_protruding")),
            _number("Edge flush ≥ 2.5 D", rule["edge_flush"].source, least("edge_flush")),
            _number("Spacing ≥ 3 D", rule["spacing"].source, least("spacing")),
            _number("Shop head ≥", heads, least_head),
            _number("Shop head 1.5 D", rule["head_nominal_width"].source, nominal("head_nominal_width")),
            _number("High 0.5 D", rule["head_nominal_height"].source, nominal("head_nominal_height")),
            _column(
                "High within", _by_source((size, size.source_head) for size in sizes if size.head_most_height), _limits
            ),
        ),
        notes=(
            "Where two drills are given, the sources disagree; the second is from the 1940s repair manual.",
            "Shop head: 1.3 D is the least as builders quote MIL-R-47196A; 1.5 D x 0.5 D is the nominal that the usual "
            "two-ended gauge shows. A head between the two can be good although the gauge says no.",
            *(f"-{size.dash}: {size.note} ({size.source_note})." for size in sizes if size.note),
            "Countersink or dimple: the sources do not agree from what thickness on. Follow the kit and "
            "record what was done.",
        ),
    )


def _drill(drill: Drill | None) -> str:
    return f"{drill.name} ({say_decimal(drill.diameter, 4, 3)})" if drill else ""


def _limits(size: RivetSize) -> str:
    if size.head_least_height is None or size.head_most_height is None:
        return "not read"
    return f"{say_decimal(size.head_least_height, 4, 3)} to {say_decimal(size.head_most_height, 4, 3)}"


def rivet_lengths_table() -> ShopTable:
    """For every length the grips for which it is the nearest size, by diameter."""
    sizes = [size for size in rivet_sizes().values() if size.dash >= LEAST_STRUCTURAL_DASH]
    source = f"grip + 1.5 D: {rules()['allowance'].source}; the ranges are computed"
    return _table(
        id="rivet-lengths",
        title="Rivet length by grip",
        how="Grip is the total thickness of the sheets. Find the column of the diameter, then the row whose range "
        "holds the grip: that length is the nearest to grip + 1.5 D. Protruding heads are measured from under the "
        "head, flush ones over all (rivet article). Half sizes are not stocked everywhere: then take the whole size "
        "next to it and prove it on a scrap stack of the same thickness.",
        of=LENGTHS,
        columns=(
            _column("Length", "part number in 16ths of an inch: AC 43.13-1B p. 4-16", say_dash),
            _number("Inches", "computed", lambda length: say_fraction(length * SIXTEENTH).removesuffix(" in")),
            *(_number(f"-{size.dash} ({size.diameter})", source, partial(_say_grips, size=size)) for size in sizes),
        ),
        notes=(
            "The ends of the ranges are rounded to a thousandth of an inch.",
            "The 1940s repair manual allows about 1.2 D for 5/32 and 3/16 and gets a good head; another text prints "
            "1/2 diameter, probably a misprint. Kept here: 1.5 D.",
            "The 1/16 in rivet is left out: it is kept out of structure (NAVEDTRA 14018).",
        ),
    )


def grips_for(length_16ths: Fraction, size: RivetSize) -> tuple[Fraction, Fraction] | None:
    """(from, to) in inches: the grips for which this is the nearest half size (`nearest_size`: of two equally
    near the longer), or None where that would be less than nothing. `to` itself belongs to the next.
    """
    allowance = rules()["allowance"].of(size.diameter)
    low = (length_16ths - Fraction(1, 4)) * SIXTEENTH - allowance
    high = (length_16ths + Fraction(1, 4)) * SIXTEENTH - allowance
    return (max(low, Fraction(0)), high) if high > 0 else None


def _say_grips(length_16ths: Fraction, size: RivetSize) -> str:
    grips = grips_for(length_16ths, size)
    return " – ".join(say_decimal(grip, 3, 3) for grip in grips) if grips else ""


def drills_table() -> ShopTable:
    """Number, letter and fraction drills, smallest first."""
    wanted: dict[str, list[str]] = {}
    for size in rivet_sizes().values():
        for drill in (size.drill, size.drill_alternative):
            if drill:
                wanted.setdefault(drill.name, []).append(f"-{size.dash}")
    return _table(
        id="drills",
        title="Twist drills",
        how="Number, letter and fraction drills from 1/16 to 1/2 in, smallest first, in inches and millimetres.",
        of=drills().values(),
        columns=(
            _column("Drill", _drill_sources(), lambda drill: drill.name),
            _number(
                "Inch",
                "drill code table; fractions are computed",
                lambda drill: say_decimal(drill.diameter, 4, 4),
            ),
            _number(
                "mm", "computed, 1 in = 25.4 mm exactly", lambda drill: say_decimal(drill.diameter * MM_PER_INCH, 3, 3)
            ),
            _column("Rivet", "see the sheet of solid rivets", lambda drill: ", ".join(wanted.get(drill.name, ()))),
        ),
        notes=("Measure the drill: a worn or mixed-up drill is found with calipers, not by its place in the box.",),
    )


def _drill_sources() -> str:
    """The sources of number and letter drills, each once; fractions are computed."""
    held = Counter(drill.source for drill in drills().values() if drill.series != "fraction")
    return "; ".join(f"{source} ({count} sizes)" for source, count in held.items())


def bolts_table() -> ShopTable:
    """Bolt torque by thread and kind of nut: the band to install within, and the maximum allowable."""
    rows = list(torque_rows().values())
    main = rows[0].source
    return _table(
        id="torque",
        title="Bolt torque",
        how="in-lb, threads dry and free of oil, cadmium-plated steel. Wrench setting = table torque + friction drag, "
        "measured as a self-locking nut is run down (AC 43.13-1B par. 7-40). Tension nuts: MS20365, AN310; shear nuts: "
        "MS20364, AN320. Only where the maker gives no torque.",
        of=rows,
        columns=(
            _column("Thread", main, lambda row: row.thread),
            _column("Series", main, lambda row: row.series),
            _column("AN bolt", "from memory", lambda row: row.an_bolt),
            _number("Tension nut", main, lambda row: _band(row, Nut.TENSION)),
            _number("Shear nut", main, lambda row: _band(row, Nut.SHEAR)),
            _number("Max. tension", main, lambda row: f"{row.maximum[Nut.TENSION]}"),
            _number(
                "Max. shear",
                main,
                lambda row: f"{row.maximum[Nut.SHEAR]}" + ("*" if row.estimated == "shear" else ""),
            ),
            _column("Elsewhere", _other_sources(rows), _others),
        ),
        notes=(
            "* starred as estimated in the table itself.",
            "The maximum allowable is a limit, not a target.",
            *(f"{row.thread}: {row.note}." for row in rows if row.note and not row.estimated),
            "The 2005 maintenance manual repeats least and most of most rows; where it differs its figures stand under "
            "“Elsewhere” and the first table is kept.",
            "Lubricant, plating and washers change the clamping force for the same torque: a dry value is not for wet "
            "threads.",
        ),
    )


def _band(row: TorqueRow, nut: Nut) -> str:
    band = row.bands[nut]
    return f"{band.least}–{band.most}" + ("*" if row.estimated == nut.value else "")


def _others(row: TorqueRow) -> str:
    return "; ".join(f"{nut.value} {band.least}–{band.most}" for nut, bands in row.others.items() for band in bands)


def _other_sources(rows: Iterable[TorqueRow]) -> str:
    return "; ".join(dict.fromkeys(band.source for row in rows for bands in row.others.values() for band in bands))


def say_column_sources(table: ShopTable) -> tuple[str, ...]:
    """`Drill: …`, one for each column; columns of one source are drawn together."""
    grouped: dict[str, list[str]] = {}
    for column in table.columns:
        grouped.setdefault(column.source, []).append(column.name)
    return tuple(f"{', '.join(names)}: {source}" for source, names in grouped.items())
