"""The published tables: data files with a source for every value, read once into records.

Which publication was read, and how much of it, stands in data/sources.csv; a source text here names
it by the short name of that file, or says "from memory", "computed" or "common practice".
Lengths are inches and torques in-lb, all exact.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib.resources import files
from io import StringIO
from types import MappingProxyType
from typing import Any

from journal.base.model import Nut


@dataclass(frozen=True, slots=True, kw_only=True)
class Publication:
    """A publication: the short name used beside figures, its full title, and what of it was read."""

    name: str
    document: str
    read: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Drill:
    """One size of twist drill: series is `number`, `letter` or `fraction`."""

    series: str
    name: str
    diameter: Fraction
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DiameterRule:
    """A limit given in rivet diameters: `times_diameter` x D."""

    rule: str
    times_diameter: Fraction
    says: str
    source: str

    def of(self, diameter: Fraction) -> Fraction:
        """The limit in inches for a shank of `diameter` inches."""
        return self.times_diameter * diameter


@dataclass(frozen=True, slots=True, kw_only=True)
class RivetSize:
    """What the tables say of one shank diameter; `dash` is the diameter in 32nds of an inch.

    `drill_alternative` is None where only one drill was found. The three head limits are figures
    quoted from the specification, None where none was read: then only the rules in D hold.
    """

    dash: int
    diameter: Fraction
    drill: Drill
    drill_alternative: Drill | None
    fastener_colour: str
    head_least_width: Fraction | None
    head_least_height: Fraction | None
    head_most_height: Fraction | None
    source_drill: str
    source_drill_alternative: str
    source_colour: str
    source_head: str
    note: str
    source_note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Alloy:
    """What the letters in a rivet's part number stand for."""

    letters: str
    name: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Least and most of one table for one nut, without drag, in in-lb."""

    least: Fraction
    most: Fraction
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TorqueRow:
    """One thread: the band to install within and the maximum allowable, for each kind of nut.

    `others` are bands that another publication gives for the same thread and nut and that differ;
    `repeated_by` names the one that gives the same least and most. `estimated` is the nut whose figures the
    table itself stars as estimated, or empty.
    """

    thread: str
    series: str
    an_bolt: str
    bands: Mapping[Nut, Band]
    maximum: Mapping[Nut, Fraction]
    others: Mapping[Nut, tuple[Band, ...]]
    estimated: str
    source: str
    repeated_by: str
    source_bolt: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BlindRivet:
    """One blind rivet of the published chart: hole, grips and length under the head in inches. `dash` is the diameter
    in 32nds; `number` is the chart's own, empty where the copies that were read have lost it.
    """

    dash: int
    diameter: Fraction
    drill: Drill
    hole_least: Fraction
    hole_most: Fraction
    number: str
    grip_least: Fraction
    grip_most: Fraction
    length: Fraction
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FlushRule:
    """What one source says of dimple and countersink by thickness of sheet, in inches; None where it gives no figure.
    `rivet` is a diameter or `any`.
    """

    rivet: str
    dimple_most: Fraction | None
    countersink_least: Fraction | None
    says: str
    source: str


def rows_of(name: str) -> list[dict[str, Any]]:
    """The rows of a data file. Columns that end in `_in` or `_in_lb` hold exact figures (None where empty) and go
    by their name without that ending.
    """
    text = files("journal.trade").joinpath("data", f"{name}.csv").read_text(encoding="utf-8")
    return [dict(_typed(*pair) for pair in row.items()) for row in csv.DictReader(StringIO(text))]


def _typed(column: str, text: str) -> tuple[str, str | Fraction | None]:
    name, unit, _ = column.partition("_in")
    return (name, Fraction(text) if text else None) if unit else (column, text)


@cache
def sources() -> tuple[Publication, ...]:
    """Every publication, in the order of the file."""
    return tuple(Publication(**row) for row in rows_of("sources"))


def sources_named(texts: Iterable[str]) -> tuple[Publication, ...]:
    """The publications whose short name occurs in any of the source texts."""
    joined = "\n".join(texts)
    return tuple(source for source in sources() if source.name in joined)


@cache
def drills() -> Mapping[str, Drill]:
    """Name -> drill, smallest first."""
    return MappingProxyType({row["name"]: Drill(**row) for row in rows_of("drills")})


@cache
def rules() -> Mapping[str, DiameterRule]:
    """Name -> limit in diameters: allowance, edge_protruding, edge_flush, spacing, head_…"""
    rows = rows_of("rules")
    made = (DiameterRule(**row | {"times_diameter": Fraction(row["times_diameter"])}) for row in rows)
    return MappingProxyType({rule.rule: rule for rule in made})


@cache
def rivet_sizes() -> Mapping[int, RivetSize]:
    """Diameter in 32nds -> what the tables say of it."""
    sizes = (
        RivetSize(
            **row
            | {
                "dash": int(row["dash"]),
                "drill": drills()[row["drill"]],
                "drill_alternative": drills().get(row["drill_alternative"]),
            }
        )
        for row in rows_of("rivets")
    )
    return MappingProxyType({size.dash: size for size in sizes})


@cache
def blind_rivets() -> tuple[BlindRivet, ...]:
    """The chart of blind rivets, by diameter and grip."""
    rows = rows_of("blind_rivets")
    return tuple(BlindRivet(**row | {"dash": int(row["dash"]), "drill": drills()[row["drill"]]}) for row in rows)


@cache
def flush_rules() -> tuple[FlushRule, ...]:
    """Dimple or countersink, source by source."""
    return tuple(FlushRule(**row) for row in rows_of("flush"))


@cache
def alloys() -> Mapping[str, Alloy]:
    """Letters of a rivet's part number -> alloy."""
    return MappingProxyType({row["letters"]: Alloy(name=row.pop("alloy"), **row) for row in rows_of("alloys")})


@cache
def least_drags() -> Mapping[str, tuple[Band, ...]]:
    """Thread -> the least drag of a self-locking nut, by each source; nothing was read of a greatest."""
    least: dict[str, tuple[Band, ...]] = {}
    for row in rows_of("drags"):
        band = Band(least=row["least"], most=row["least"], source=row["source"])
        least[row["thread"]] = (*least.get(row["thread"], ()), band)
    return MappingProxyType(least)


@cache
def torque_rows() -> Mapping[str, TorqueRow]:
    """Thread -> torque, in the order of the published table: fine threads, then coarse."""
    others: dict[tuple[str, Nut], tuple[Band, ...]] = {}
    for row in rows_of("torque_differences"):
        key = row.pop("thread"), Nut(row.pop("nut"))
        others[key] = (*others.get(key, ()), Band(**row))
    rows = {}
    for row in rows_of("torque"):
        figures = {nut: [row.pop(f"{nut.value}_{which}") for which in ("least", "most", "maximum")] for nut in Nut}
        rows[row["thread"]] = TorqueRow(
            bands={
                nut: Band(least=least, most=most, source=row["source"]) for nut, (least, most, _) in figures.items()
            },
            maximum={nut: most for nut, (_, _, most) in figures.items()},
            others={nut: others.get((row["thread"], nut), ()) for nut in Nut},
            **row,
        )
    return MappingProxyType(rows)
