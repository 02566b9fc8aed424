"""The published tables laid out for the shop wall: rivets, lengths by grip, drills, fractions, torque.

Each is one sheet of paper. Every column says where its figures come from; what two publications
give differently is shown side by side and never blended.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial
from itertools import chain
from typing import TypeVar

from journal.base.grouping import grouped
from journal.base.model import Nut
from journal.base.quantities import IN_LB_PER_FT_LB, MM_PER_INCH, NM_PER_IN_LB, say_decimal, say_fraction
from journal.base.words import N_
from journal.trade.fasteners import SIXTEENTH, say_dash
from journal.trade.figures import CAUTION
from journal.trade.tables import (
    BlindRivet,
    Drill,
    FlushRule,
    Publication,
    RivetSize,
    TorqueRow,
    alloys,
    blind_rivets,
    drills,
    flush_rules,
    rivet_sizes,
    rules,
    sources_named,
    torque_rows,
)
from journal.trade.torque import JOINTS_OF_METAL

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


def shop_tables(*, metal: bool = True, metric_first: bool = False, soft: bool = False) -> tuple[ShopTable, ...]:
    """All sheets, in the order in which they are offered: those of riveted sheet where `metal` is built; `soft` where
    bolts may go through wood or composite.
    """
    of_sheet = (rivets_table(), rivet_lengths_table(), blind_rivets_table(), flush_table()) if metal else ()
    tables = (*of_sheet, drills_table(rivets=metal), fractions_table(), bolts_table(soft=soft))
    return tuple(_metric_first(table) for table in tables) if metric_first else tables


_METRIC_UNITS = frozenset({"mm", "N m"})


def _metric_first(table: ShopTable) -> ShopTable:
    """The same with the metric one first of what stands in several units, be it in columns or in rows."""
    names = [column.name.rpartition(", ") for column in table.columns]
    # "Inch" and "mm" are a pair as "Hole, in" and "Hole, mm" are.
    pairs = [name or {"Inch": "mm"}.get(unit, unit) for name, _, unit in names]
    order = sorted(
        range(len(names)), key=lambda place: (pairs.index(pairs[place]), names[place][2] not in _METRIC_UNITS)
    )
    rows = table.rows
    if "Unit" in pairs:
        rows = tuple(row for pair in zip(rows[1::2], rows[::2], strict=True) for row in pair)
    return replace(
        table,
        columns=tuple(table.columns[place] for place in order),
        rows=tuple(tuple(row[place] for place in order) for row in rows),
    )


@dataclass(frozen=True, slots=True)
class _Unit:
    """A unit figures are printed in, with the most and least decimals. A limit is rounded so that what is
    shown never leaves it: a least figure up, a most figure down.
    """

    name: str
    factor: Fraction
    places: int
    least_places: int

    def say(self, value: Fraction) -> str:
        return say_decimal(value * self.factor, self.places, self.least_places)

    def say_at_most(self, value: Fraction) -> str:
        scale = 10**self.places
        return say_decimal(Fraction(value * self.factor * scale // 1, scale), self.places, self.least_places)

    def say_at_least(self, value: Fraction) -> str:
        return self.say_at_most(-value).removeprefix("-")


INCH = _Unit("in", Fraction(1), 4, 3)
MM = _Unit("mm", MM_PER_INCH, 2, 2)
METRIC = "computed, 1 in = 25.4 mm exactly"


Column = tuple[ShopColumn, Callable[[T], str]]
"""A column, and what stands in it of each row's thing."""


def _column(name: str, source: str, say: Callable[[T], str], *, numeric: bool = False) -> Column[T]:
    return ShopColumn(name=name, source=source, numeric=numeric), say


def _number(name: str, source: str, say: Callable[[T], str]) -> Column[T]:
    return _column(name, source, say, numeric=True)


def _table(
    id: str, title: str, how: str, of: Iterable[T], columns: Sequence[Column[T]], notes: Sequence[str]
) -> ShopTable:
    rows = tuple(tuple(say(one) for _, say in columns) for one in of)
    return ShopTable(
        id=id,
        title=title,
        how=how,
        columns=tuple(column for column, _ in columns),
        rows=rows,
        notes=tuple(notes),
        sources=sources_named([how, *(column.source for column, _ in columns), *notes, *chain.from_iterable(rows)]),
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

    def least(name: str) -> Callable[[tuple[RivetSize, _Unit]], str]:
        return lambda row: row[1].say_at_least(rule[name].of(row[0].diameter))

    def nominal(name: str) -> Callable[[tuple[RivetSize, _Unit]], str]:
        return lambda row: row[1].say(rule[name].of(row[0].diameter))

    def least_head(row: tuple[RivetSize, _Unit]) -> str:
        size, unit = row
        return unit.say_at_least(size.head_least_width or rule["head_least_width"].of(size.diameter))

    return _table(
        id="rivets",
        title=N_("Solid rivets"),
        how="D is the diameter of the shank; each has a line in inches and one in millimetres. A part number such "
        "as AN470AD4-5 reads: head (470 universal, 426 countersunk 100°), alloy letters, D in 32nds (-4 = 1/8), length "
        f"in 16ths (-5 = 5/16; half sizes .5). Letters, from memory: {letters}.",
        of=[(size, unit) for size in sizes for unit in (INCH, MM)],
        columns=(
            _column("Dash", "AC 43.13-1B p. 4-16; course text", lambda row: f"-{row[0].dash}"),
            _column("Unit", f"millimetres are {METRIC}, limits rounded to the safe side", lambda row: row[1].name),
            _column("D", "the dash number itself", _diameter),
            _column("Drill", _by_source((size, size.source_drill) for size in sizes), lambda row: row[0].drill.name),
            _number("Hole", "drill code table", lambda row: row[1].say(row[0].drill.diameter)),
            _column(
                "Or drill",
                _by_source((size, size.source_drill_alternative) for size in sizes),
                lambda row: _drill(row[0].drill_alternative, row[1]),
            ),
            _column(
                "Temporary fastener",
                _by_source((size, size.source_colour) for size in sizes) + " (a hint: the colour varies by maker)",
                lambda row: row[0].fastener_colour,
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
            "Countersink or dimple: the sources do not agree from what thickness on; see the sheet of its own.",
        ),
    )


def _diameter(row: tuple[RivetSize, _Unit]) -> str:
    size, unit = row
    return f"{size.diameter} = {say_decimal(size.diameter, 5, 3)}" if unit is INCH else unit.say(size.diameter)


def _drill(drill: Drill | None, unit: _Unit) -> str:
    return f"{drill.name} ({unit.say(drill.diameter)})" if drill else ""


def _limits(row: tuple[RivetSize, _Unit]) -> str:
    size, unit = row
    if size.head_least_height is None or size.head_most_height is None:
        return "not read"
    return f"{unit.say_at_least(size.head_least_height)} to {unit.say_at_most(size.head_most_height)}"


def rivet_lengths_table() -> ShopTable:
    """For every length the grips for which it is the nearest size, by diameter."""
    sizes = [size for size in rivet_sizes().values() if size.dash >= LEAST_STRUCTURAL_DASH]
    source = f"grip + 1.5 D: {rules()['allowance'].source}; the ranges are computed"
    return _table(
        id="rivet-lengths",
        title=N_("Rivet length by grip"),
        how="Grip is the total thickness of the sheets. Find the column of the diameter, then the row whose range "
        "holds the grip: that length is the nearest to grip + 1.5 D. Protruding heads are measured from under the "
        "head, flush ones over all (rivet article). Half sizes are not stocked everywhere: then take the whole size "
        "next to it and prove it on a scrap stack of the same thickness.",
        of=LENGTHS,
        columns=(
            _column("Length", "part number in 16ths of an inch: AC 43.13-1B p. 4-16", say_dash),
            _number("Inches", "computed", lambda length: say_fraction(length * SIXTEENTH).removesuffix(" in")),
            *(
                _number(
                    f"-{size.dash} ({size.diameter}), {unit.name}", source, partial(_say_grips, size=size, unit=unit)
                )
                for size in sizes
                for unit in (replace(INCH, places=3), MM)
            ),
        ),
        notes=(
            "The ends of the ranges are rounded to a thousandth of an inch and a hundredth of a millimetre.",
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


def _say_grips(length_16ths: Fraction, size: RivetSize, unit: _Unit) -> str:
    grips = grips_for(length_16ths, size)
    return "–".join(unit.say(grip) for grip in grips) if grips else ""


def blind_rivets_table() -> ShopTable:
    """Blind rivets by diameter and grip, as one published chart has them."""
    rivets = blind_rivets()
    source = "; ".join(dict.fromkeys(rivet.source for rivet in rivets))

    def band(name: str, unit: _Unit) -> Callable[[BlindRivet], str]:
        def say(rivet: BlindRivet) -> str:
            least, most = getattr(rivet, f"{name}_least"), getattr(rivet, f"{name}_most")
            return f"{unit.say_at_least(least)}–{unit.say_at_most(most)}"

        return say

    return _table(
        id="blind-rivets",
        title=N_("Blind rivets"),
        how="Grip is the total thickness of the sheets; the rivet’s grip range has to hold it. The chart is that of "
        "one military kind with a stem that locks. Every make has its own: the maker’s sheet for the rivet in your "
        "kit comes before this one.",
        of=rivets,
        columns=(
            _column("D", source, lambda rivet: f"{rivet.diameter}"),
            _column("Drill", source, lambda rivet: rivet.drill.name),
            _number("Hole, in", source, band("hole", INCH)),
            _number("Hole, mm", METRIC, band("hole", MM)),
            _number("Drill is, in", "drill code table", lambda rivet: INCH.say(rivet.drill.diameter)),
            _column("Rivet", source, lambda rivet: rivet.number or "not read"),
            _number("Grip, in", source, band("grip", INCH)),
            _number("Grip, mm", METRIC, band("grip", MM)),
            _number("Length, in", source, lambda rivet: INCH.say(rivet.length)),
            _number("Length, mm", METRIC, lambda rivet: MM.say(rivet.length)),
        ),
        notes=(
            "The chart names #11 (0.1910) for a hole of at least 0.192, and F (0.2570) and #41 (0.0960) for holes that "
            "begin just there; it is shown as printed. Measure the hole.",
            "A hole too large does not hold the stem, one too small does not let it in (TM 10-5410-223-24).",
            "The length of such a rivet fits thicknesses within 1/16 in only; for sheets that are both dimpled add the "
            "height of the head (TM 9-2320-363-34-2).",
            "Pull-type rivets made for other trades are not approved on certificated structure (AC 43.13-1B p. 4-24).",
            "Colours, stems and strengths of other kinds: not read.",
        ),
    )


def flush_table() -> ShopTable:
    """Least thickness for dimple and countersink: each source beside the others, without a verdict."""
    per_row = "the source in each row"

    def thickness(words: str, name: str, unit: _Unit) -> Column[FlushRule]:
        def say(rule: FlushRule) -> str:
            value = getattr(rule, name)
            return "" if value is None else unit.say(value)

        return _number(f"{words}, {unit.name}", per_row if unit is INCH else METRIC, say)

    return _table(
        id="flush",
        title=N_("Dimple or countersink"),
        how="How thick a sheet has to be for a machine countersink, and up to what thickness it is dimpled. The "
        "sources disagree, so each stands here for itself and none is preferred: follow the kit’s drawing, try it on "
        "scrap and write down the sheet, the method and the instruction that was followed.",
        of=flush_rules(),
        columns=(
            _column("Source", per_row, lambda rule: rule.source),
            _column("Rivet", per_row, lambda rule: rule.rivet),
            *(thickness("Dimple up to", "dimple_most", unit) for unit in (INCH, MM)),
            *(thickness("Countersink from", "countersink_least", unit) for unit in (INCH, MM)),
            _column("It says", per_row, lambda rule: rule.says),
        ),
        notes=(
            "A least thickness for a dimple: in no source that was read.",
            "The army’s table is for 100° blind rivets in vehicle bodies, not for aircraft; TM 9-2320-387-24-2 table "
            "33-4 prints the same.",
            "A countersink so deep that the rim of the hole is sharp is a knife edge.",
        ),
    )


def drills_table(*, rivets: bool = True) -> ShopTable:
    """Number, letter and fraction drills, smallest first, and for which `rivets` they are."""
    wanted: dict[str, list[str]] = {}
    for size in rivet_sizes().values():
        for drill in (size.drill, size.drill_alternative):
            if drill:
                wanted.setdefault(drill.name, []).append(f"-{size.dash}")
    for_rivets: Column[Drill] = _column(
        "Rivet", "see the sheet of solid rivets", lambda drill: ", ".join(wanted.get(drill.name, ()))
    )
    return _table(
        id="drills",
        title=N_("Twist drills"),
        how="Number, letter and fraction drills from 1/16 to 1/2 in, smallest first, in inches and millimetres.",
        of=drills().values(),
        columns=(
            _column("Drill", _drill_sources(), lambda drill: drill.name),
            _number(
                "Inch",
                "drill code table; fractions are computed",
                lambda drill: say_decimal(drill.diameter, 4, 4),
            ),
            _number("mm", METRIC, lambda drill: say_decimal(drill.diameter * MM_PER_INCH, 3, 3)),
            *([for_rivets] if rivets else []),
        ),
        notes=("Measure the drill: a worn or mixed-up drill is found with calipers, not by its place in the box.",),
    )


def fractions_table() -> ShopTable:
    """Every 64th of an inch up to one: fraction, decimals, millimetres."""
    return _table(
        id="fractions",
        title=N_("Fractions, decimals, millimetres"),
        how="Every 64th of an inch. Decimals are exact; millimetres are rounded to a thousandth.",
        of=[Fraction(number, 64) for number in range(1, 65)],
        columns=(
            _number("Fraction", "computed", lambda inches: say_fraction(inches).removesuffix(" in")),
            _number("Inch", "computed", lambda inches: say_decimal(inches, 6, 3)),
            _number("mm", METRIC, lambda inches: say_decimal(inches * MM_PER_INCH, 3, 3)),
        ),
        notes=("Sheet is often called by its thousandths: 0.032 is thirty-two thousandths, and no 64th.",),
    )


def _drill_sources() -> str:
    """The sources of number and letter drills, each once; fractions are computed."""
    held = Counter(drill.source for drill in drills().values() if drill.series != "fraction")
    return "; ".join(f"{source} ({count} sizes)" for source, count in held.items())


def bolts_table(*, soft: bool = False) -> ShopTable:
    """Bolt torque by thread and kind of nut: the band to install within, and the maximum allowable."""
    rows = list(torque_rows().values())
    main, elsewhere = rows[0].source, (band.source for row in rows for one in row.others.values() for band in one)
    return _table(
        id="torque",
        title=N_("Bolt torque"),
        how="Threads dry and free of oil, cadmium-plated steel. Wrench setting = table torque + friction drag, "
        "measured as a self-locking nut is run down (AC 43.13-1B par. 7-40). Tension nuts: MS20365, AN310; shear nuts: "
        "MS20364, AN320. Only where the maker gives no torque.",
        of=rows,
        columns=(
            _column("Thread", main, lambda row: row.thread),
            _column("Series", main, lambda row: row.series),
            _column("AN bolt", "from memory", lambda row: row.an_bolt),
            *(
                _number(f"{name}, {unit.name}", main if unit is IN_LB else COMPUTED_TORQUE, partial(say, unit, nut))
                for name, say, nut in (
                    ("Tension nut", _band, Nut.TENSION),
                    ("Shear nut", _band, Nut.SHEAR),
                    ("Max. tension", _maximum, Nut.TENSION),
                    ("Max. shear", _maximum, Nut.SHEAR),
                )
                for unit in (IN_LB, NEWTON_METRES, FOOT_POUNDS)
            ),
            _column("Elsewhere, in-lb", "; ".join(dict.fromkeys(elsewhere)), _others),
        ),
        notes=(
            *([f"{JOINTS_OF_METAL}."] if soft else []),
            "* starred as estimated in the table itself.",
            "N m and ft-lb are rounded towards the middle of the band, and the maximum down, so that no figure here "
            "leaves the table’s own.",
            "The maximum allowable is a limit, not a target.",
            *(f"{row.thread}: {row.note}." for row in rows if row.note and not row.estimated),
            "The 2005 maintenance manual repeats least and most of most rows; where it differs its figures stand under "
            "“Elsewhere” and the first table is kept.",
            "Lubricant, plating and washers change the clamping force for the same torque: a dry value is not for wet "
            "threads.",
        ),
    )


IN_LB = _Unit("in-lb", Fraction(1), 0, 0)
NEWTON_METRES = _Unit("N m", NM_PER_IN_LB, 1, 1)
FOOT_POUNDS = _Unit("ft-lb", 1 / IN_LB_PER_FT_LB, 1, 1)
COMPUTED_TORQUE = "computed from the in-lb: 1 lbf = 4.4482216152605 N, 12 in-lb = 1 ft-lb, both exact"


def _band(unit: _Unit, nut: Nut, row: TorqueRow) -> str:
    band = row.bands[nut]
    return f"{unit.say_at_least(band.least)}–{unit.say_at_most(band.most)}" + _star(row, nut)


def _maximum(unit: _Unit, nut: Nut, row: TorqueRow) -> str:
    return unit.say_at_most(row.maximum[nut]) + _star(row, nut)


def _star(row: TorqueRow, nut: Nut) -> str:
    return "*" if row.estimated == nut.value else ""


def _others(row: TorqueRow) -> str:
    return "; ".join(f"{nut.value} {band.least}–{band.most}" for nut, bands in row.others.items() for band in bands)


def say_column_sources(table: ShopTable) -> tuple[str, ...]:
    """`Drill: …`, one for each column; columns of one source are drawn together."""
    by_source = grouped(table.columns, lambda column: [column.source])
    return tuple(f"{', '.join(one.name for one in columns)}: {source}" for source, columns in by_source.items())
