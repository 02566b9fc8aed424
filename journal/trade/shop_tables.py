"""The published tables laid out for the shop wall: rivets, lengths by grip, drills, torque.

Each is one sheet of paper. Every column says where its figures come from; what two publications
give differently is shown side by side and never blended.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from journal.base.model import Nut
from journal.base.quantities import MM_PER_INCH, say_decimal, say_fraction, say_least
from journal.trade.caution import CAUTION
from journal.trade.fasteners import SIXTEENTH, say_dash
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
    return (rivets_table(), rivet_lengths_table(), drills_table(), torque_table())


def _sheet(
    *,
    id: str,
    title: str,
    how: str,
    columns: Iterable[ShopColumn],
    rows: Iterable[tuple[str, ...]],
    notes: Iterable[str],
) -> ShopTable:
    columns, notes = tuple(columns), tuple(notes)
    return ShopTable(
        id=id,
        title=title,
        how=how,
        columns=columns,
        rows=tuple(rows),
        notes=notes,
        sources=sources_named([how, *(column.source for column in columns), *notes]),
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
    return _sheet(
        id="rivets",
        title="Solid rivets",
        how="D is the diameter of the shank, all figures in inches. A part number such as AN470AD4-5 reads: head "
        "(470 universal, 426 countersunk 100°), alloy letters, D in 32nds (-4 = 1/8), length in 16ths (-5 = 5/16; "
        f"half sizes .5). Letters, from memory: {letters}.",
        columns=(
            ShopColumn(name="Dash", source="AC 43.13-1B p. 4-16; course text"),
            ShopColumn(name="D", source="the dash number itself", numeric=True),
            ShopColumn(name="Drill", source=_by_source((size, size.source_drill) for size in sizes)),
            ShopColumn(name="Hole", source="drill code table", numeric=True),
            ShopColumn(name="Or drill", source=_by_source((size, size.source_drill_alternative) for size in sizes)),
            ShopColumn(
                name="Temporary fastener",
                source=_by_source((size, size.source_colour) for size in sizes)
                + " (a hint: the colour varies by maker)",
            ),
            ShopColumn(name="Edge ≥ 2 D", source=rule["edge_protruding"].source, numeric=True),
            ShopColumn(name="Edge flush ≥ 2.5 D", source=rule["edge_flush"].source, numeric=True),
            ShopColumn(name="Spacing ≥ 3 D", source=rule["spacing"].source, numeric=True),
            ShopColumn(name="Shop head ≥", source=_by_source((size, size.source_head) for size in sizes), numeric=True),
            ShopColumn(name="Shop head 1.5 D", source=rule["head_nominal_width"].source, numeric=True),
            ShopColumn(name="High 0.5 D", source=rule["head_nominal_height"].source, numeric=True),
            ShopColumn(
                name="High within",
                source=_by_source((size, size.source_head) for size in sizes if size.head_most_height),
            ),
        ),
        rows=(
            (
                f"-{size.dash}",
                f"{size.diameter} = {say_decimal(size.diameter, 5, 3)}",
                size.drill.name,
                say_decimal(size.drill.diameter, 4, 3),
                _drill(size.drill_alternative),
                size.fastener_colour,
                *(
                    say_least(rule[name].of(size.diameter)).removesuffix(" in")
                    for name in ("edge_protruding", "edge_flush", "spacing")
                ),
                say_least(size.head_least_width or rule["head_least_width"].of(size.diameter)).removesuffix(" in"),
                say_decimal(rule["head_nominal_width"].of(size.diameter), 4, 3),
                say_decimal(rule["head_nominal_height"].of(size.diameter), 4, 3),
                _limits(size),
            )
            for size in sizes
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
    return _sheet(
        id="rivet-lengths",
        title="Rivet length by grip",
        how="Grip is the total thickness of the sheets. Find the column of the diameter, then the row whose range "
        "holds the grip: that length is the nearest to grip + 1.5 D. Protruding heads are measured from under the "
        "head, flush ones over all (rivet article). Half sizes are not stocked everywhere: then take the whole size "
        "next to it and prove it on a scrap stack of the same thickness.",
        columns=(
            ShopColumn(name="Length", source="part number in 16ths of an inch: AC 43.13-1B p. 4-16"),
            ShopColumn(name="Inches", source="computed", numeric=True),
            *(ShopColumn(name=f"-{size.dash} ({size.diameter})", source=source, numeric=True) for size in sizes),
        ),
        rows=(
            (
                say_dash(length),
                say_fraction(length * SIXTEENTH).removesuffix(" in"),
                *(_say_grips(grips_for(length, size)) for size in sizes),
            )
            for length in LENGTHS
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


def _say_grips(grips: tuple[Fraction, Fraction] | None) -> str:
    if grips is None:
        return ""
    low, high = (say_decimal(grip, 3, 3) for grip in grips)
    return f"{low} – {high}"


def drills_table() -> ShopTable:
    """Number, letter and fraction drills, smallest first."""
    wanted: dict[str, list[str]] = {}
    for size in rivet_sizes().values():
        for drill in (size.drill, size.drill_alternative):
            if drill:
                wanted.setdefault(drill.name, []).append(f"-{size.dash}")
    return _sheet(
        id="drills",
        title="Twist drills",
        how="Number, letter and fraction drills from 1/16 to 1/2 in, smallest first, in inches and millimetres.",
        columns=(
            ShopColumn(name="Drill", source=_drill_sources()),
            ShopColumn(name="Inch", source="drill code table; fractions are computed", numeric=True),
            ShopColumn(name="mm", source="computed, 1 in = 25.4 mm exactly", numeric=True),
            ShopColumn(name="Rivet", source="see the sheet of solid rivets"),
        ),
        rows=(
            (
                drill.name,
                say_decimal(drill.diameter, 4, 4),
                say_decimal(drill.diameter * MM_PER_INCH, 3, 3),
                ", ".join(wanted.get(drill.name, ())),
            )
            for drill in drills().values()
        ),
        notes=("Measure the drill: a worn or mixed-up drill is found with calipers, not by its place in the box.",),
    )


def _drill_sources() -> str:
    """The sources of number and letter drills, each once; fractions are computed."""
    held: dict[str, int] = {}
    for drill in drills().values():
        if drill.series != "fraction":
            held[drill.source] = held.get(drill.source, 0) + 1
    return "; ".join(f"{source} ({count} sizes)" for source, count in held.items())


def torque_table() -> ShopTable:
    """Bolt torque by thread and kind of nut: the band to install within, and the maximum allowable."""
    rows = list(torque_rows().values())
    main = rows[0].source
    return _sheet(
        id="torque",
        title="Bolt torque",
        how="in-lb, threads dry and free of oil, cadmium-plated steel. Wrench setting = table torque + friction drag, "
        "measured as a self-locking nut is run down (AC 43.13-1B par. 7-40). Tension nuts: MS20365, AN310; shear nuts: "
        "MS20364, AN320. Only where the maker gives no torque.",
        columns=(
            ShopColumn(name="Thread", source=main),
            ShopColumn(name="Series", source=main),
            ShopColumn(name="AN bolt", source="from memory"),
            ShopColumn(name="Tension nut", source=main, numeric=True),
            ShopColumn(name="Shear nut", source=main, numeric=True),
            ShopColumn(name="Max. tension", source=main, numeric=True),
            ShopColumn(name="Max. shear", source=main, numeric=True),
            ShopColumn(name="Elsewhere", source=_other_sources(rows)),
        ),
        rows=(
            (
                row.thread,
                row.series,
                row.an_bolt,
                _band(row, Nut.TENSION),
                _band(row, Nut.SHEAR),
                f"{row.maximum[Nut.TENSION]}",
                f"{row.maximum[Nut.SHEAR]}" + ("*" if row.estimated == "shear" else ""),
                "; ".join(_others(row)),
            )
            for row in rows
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


def _others(row: TorqueRow) -> Iterator[str]:
    for nut, bands in row.others.items():
        for band in bands:
            yield f"{nut.value} {band.least}–{band.most}"


def _other_sources(rows: Iterable[TorqueRow]) -> str:
    return "; ".join(dict.fromkeys(band.source for row in rows for bands in row.others.values() for band in bands))


def say_column_sources(table: ShopTable) -> tuple[str, ...]:
    """`Drill: …`, one for each column; columns of one source are drawn together."""
    grouped: dict[str, list[str]] = {}
    for column in table.columns:
        grouped.setdefault(column.source, []).append(column.name)
    return tuple(f"{', '.join(names)}: {source}" for source, names in grouped.items())
