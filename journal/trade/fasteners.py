"""Solid rivets: part numbers read, and every recorded set held against the published rules.

D is the shank diameter. A part number gives the head style, letters for the alloy, D in 32nds and
the length in 16ths of an inch (source: AC 43.13-1B p. 4-16; half sizes are written `.5`). A protruding
head is measured from under the head, a flush one over all; the rule grip + 1.5 D serves both.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from functools import cache, lru_cache
from typing import Any

from journal.base.formatting import say_count
from journal.base.model import FastenerSet
from journal.base.quantities import (
    say_decimal,
    say_fraction,
    say_least,
    say_least_millimetres,
    say_length,
    say_millimetres,
)
from journal.trade.figures import NOT_GIVEN, Figure, Standing, TradeTable, unread
from journal.trade.tables import Alloy, RivetSize, alloys, rivet_sizes, rules


class RivetHead(Enum):
    """Head style of a solid rivet; the value is how it is said."""

    UNIVERSAL = "universal head"
    COUNTERSUNK = "countersunk head, 100 degrees"


_SERIES = {"470": RivetHead.UNIVERSAL, "426": RivetHead.COUNTERSUNK}

_PART = re.compile(
    r"(?:AN|MS ?20) ?-?(?P<series>470|426) ?-?(?P<letters>[A-Z]*) ?-?(?P<dash>[0-9]{1,2})"
    r"(?: ?- ?(?P<whole>[0-9]{1,2})(?P<half>\.5|½)?)?"
)

SIXTEENTH = Fraction(1, 16)

READ_HINT = "solid rivets are read as AN470AD4-5 or MS20426AD3-3.5; anything else is kept and not checked"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rivet:
    """A part number understood. `length_16ths` is in sixteenths of an inch (7/2 for -3.5)."""

    part: str
    head: RivetHead
    alloy: Alloy
    size: RivetSize
    length_16ths: Fraction

    @property
    def length(self) -> Fraction:
        """Inches: from under a protruding head, over all for a flush one."""
        return self.length_16ths * SIXTEENTH

    @property
    def flush(self) -> bool:
        """Whether the head lies level with the skin."""
        return self.head is RivetHead.COUNTERSUNK


@dataclass(frozen=True, slots=True, kw_only=True)
class Length:
    """The length a grip asks for, in sixteenths, and how the rivet used compares.

    `wanted_16ths` is exact; `nearest_16ths` the nearest whole or half size (the longer of two equally
    near); `excess_16ths` is used minus wanted; `proud` the shank left to upset, in inches.
    """

    wanted_16ths: Fraction
    nearest_16ths: Fraction
    excess_16ths: Fraction
    proud: Fraction

    @property
    def standing(self) -> Standing:
        """Within a quarter of a sixteenth it is the nearest size; within a half the nearest
        whole size, which is all that may be stocked: noted. Further off is outside the rule.
        """
        off = abs(self.excess_16ths)
        if off <= Fraction(1, 4):
            return Standing.WITHIN
        return Standing.NOTE if off <= Fraction(1, 2) else Standing.OUTSIDE


def parse_rivet(text: str) -> tuple[Rivet | None, str]:
    """(the rivet, "") or (None, why it cannot be read) of a part number.

    Read: AN470 and MS20470 (universal), AN426 and MS20426 (countersunk), in any case, with or without
    spaces and hyphens between the groups.
    """
    part = " ".join(re.sub("[‐‑–−]", "-", text).upper().split())
    found = _PART.fullmatch(part)
    if not found:
        return None, "is not one of a solid rivet known here"
    if found["letters"] not in alloys():
        known = ", ".join(alloys())
        letters = found["letters"]
        return None, (
            f"has the alloy letters {letters}, which are not known here ({known} are)"
            if letters
            else f"has no alloy letters before the diameter (one of {known})"
        )
    size = rivet_sizes().get(int(found["dash"]))
    if size is None:
        known = ", ".join(f"-{dash}" for dash in rivet_sizes())
        return None, f"has the diameter -{int(found['dash'])}, for which there is no table here ({known})"
    if found["whole"] is None:
        return None, "has no length after the diameter"
    length = int(found["whole"]) + (Fraction(1, 2) if found["half"] else Fraction(0))
    if not length:
        return None, "has a length of nothing"
    rivet = Rivet(
        part=part.replace(" ", ""),
        head=_SERIES[found["series"]],
        alloy=alloys()[found["letters"]],
        size=size,
        length_16ths=length,
    )
    return rivet, ""


def say_dash(length_16ths: Fraction) -> str:
    """`-5`, `-3.5`: a length as a part number has it."""
    return f"-{say_decimal(length_16ths, 1)}"


def wanted_length(grip: Fraction, size: RivetSize) -> Fraction:
    """Sixteenths of an inch, exact: grip + 1.5 D. Source: the rule `allowance`."""
    return (grip + rules()["allowance"].of(size.diameter)) / SIXTEENTH


def nearest_size(wanted_16ths: Fraction) -> Fraction:
    """The nearest length made, whole or half sixteenths; of two equally near the longer, since a
    short shank makes too small a head.
    """
    halves, rest = divmod(wanted_16ths * 2, 1)
    return Fraction(int(halves) + (rest >= Fraction(1, 2)), 2)


def compare_length(rivet: Rivet, grip: Fraction) -> Length:
    """The length `grip` (inches) asks for against the rivet used."""
    wanted = wanted_length(grip, rivet.size)
    return Length(
        wanted_16ths=wanted,
        nearest_16ths=nearest_size(wanted),
        excess_16ths=rivet.length_16ths - wanted,
        proud=rivet.length - grip,
    )


# Asked for by the check and by every page of the set, and again at each save of a preview.
@lru_cache(maxsize=20_000)
def rivet_table(fasteners: FastenerSet) -> TradeTable:
    """The small table of one recorded set: every limit with its source, recorded figures beside.

    Findings that may come of it: unknown-rivet, rivet-length, edge-distance, shop-head.
    """
    counted = f" · {say_count(fasteners.count, 'rivet')}" if fasteners.count is not None else ""
    rivet, why = parse_rivet(fasteners.rivet)
    if rivet is None:
        remark = f"the part number {why}, so nothing about this set is checked"
        figure = unread("part number", fasteners.rivet, remark, word="unknown-rivet", hint=READ_HINT)
        return TradeTable(kind="rivets", title=f"{fasteners.rivet}{counted}", lead="", figures=(figure,))
    size = rivet.size
    return TradeTable(
        kind="rivets",
        title=f"{rivet.part}{counted}",
        lead=f"{rivet.head.value}, {rivet.alloy.name}, {say_fraction(size.diameter)} x {say_fraction(rivet.length)}",
        figures=(
            _length(rivet, fasteners.grip),
            _hole(size.dash),
            Figure(
                what="temporary fastener",
                recorded="",
                table=f"{size.fastener_colour}: a hint only, the colour varies by maker",
                source=size.source_colour,
            ),
            _edge(rivet, fasteners.edge),
            _spacing(size.dash),
            _head_width(size, fasteners.shop_head_width),
            _head_height(size, fasteners.shop_head_height),
            *([Figure(what="this size", recorded="", table=size.note, source=size.source_note)] if size.note else []),
        ),
    )


def _both(inches: Fraction) -> str:
    return f"{say_length(inches)} ({say_millimetres(inches)})"


def _least(inches: Fraction) -> str:
    return f"{say_least(inches)} ({say_least_millimetres(inches)})"


def _in_diameters(inches: Fraction, size: RivetSize) -> str:
    return f"{say_decimal(inches / size.diameter, 2)} D"


def _gap(inches: Fraction) -> str:
    """How far off a limit, never said as nothing."""
    return say_length(inches) if inches >= Fraction(1, 10000) else "less than 0.0001 in"


def _length(rivet: Rivet, grip: Fraction | None) -> Figure:
    rule = rules()["allowance"]
    used = f"{say_dash(rivet.length_16ths)} = {say_fraction(rivet.length)}"
    if grip is None:
        return Figure(
            what="length",
            recorded=used,
            table="grip + 1.5 D",
            source=rule.source,
            remark="grip not given: length not compared",
        )
    length = compare_length(rivet, grip)
    wanted = length.wanted_16ths * SIXTEENTH
    nearest = say_dash(length.nearest_16ths)
    asked = f"grip {say_length(grip)} + 1.5 D = {say_length(wanted)}"
    if length.proud <= 0:
        remark = f"{used} is no longer than the grip of {say_length(grip)}: no shank is left for a shop head"
    else:
        direction = "long" if length.excess_16ths > 0 else "short"
        off = _gap(abs(length.excess_16ths) * SIXTEENTH)
        proud = f"{say_length(length.proud)} = {_in_diameters(length.proud, rivet.size)} is left to upset"
        whole = rivet.length_16ths.denominator == 1
        remark = {
            Standing.WITHIN: proud,
            Standing.NOTE: f"the nearest whole size; the half size {nearest} is nearer if stocked; {proud}"
            if whole
            else f"{off} {direction} of what is asked; {nearest} is nearer; {proud}",
            Standing.OUTSIDE: f"{used} is {off} too {direction} for {asked}; nearest size {nearest}; {proud}",
        }[length.standing]
        if rivet.flush and length.standing is not Standing.OUTSIDE:
            remark += "; dimples nest, so test it"
    return Figure(
        what="length",
        recorded=used,
        table=f"{asked}: {nearest}",
        source=rule.source,
        standing=length.standing,
        remark=remark,
        word="rivet-length",
        hint="prove the length on a scrap stack of the same thickness",
    )


@cache
def _hole(dash: int) -> Figure:
    size = rivet_sizes()[dash]
    table = f"drill {size.drill.name}, {_both(size.drill.diameter)}"
    source = size.source_drill
    if size.drill_alternative:
        table += f"; or {size.drill_alternative.name}, {_both(size.drill_alternative.diameter)}"
        source = f"{size.drill.name}: {source}; {size.drill_alternative.name}: {size.source_drill_alternative}"
    clearance = size.drill.diameter - size.diameter
    return Figure(
        what="hole",
        recorded="",
        table=table,
        source=source,
        remark=f"{size.drill.name} leaves {say_length(clearance)} round the shank (computed)"
        + ("; the sources disagree, both are shown" if size.drill_alternative else ""),
    )


def _edge(rivet: Rivet, edge: Fraction | None) -> Figure:
    rule = rules()["edge_flush" if rivet.flush else "edge_protruding"]
    least, said = rule.of(rivet.size.diameter), f"{say_decimal(rule.times_diameter, 1)} D"
    outside = edge is not None and edge < least
    return _measured(
        "edge distance",
        edge,
        table=f"at least {said} = {_least(least)}",
        source=rule.source,
        standing=Standing.OUTSIDE if outside else Standing.WITHIN,
        remark=f"edge distance {say_length(edge)} is {_gap(least - edge)} under {said} = {say_least(least)}"
        if edge is not None and outside
        else "",
        word="edge-distance",
        hint="show it to your adviser or ask the kit's maker before going on",
    )


def _measured(what: str, recorded: Fraction | None, *, table: str, source: str, **compared: Any) -> Figure:
    """What was measured and how it compares; what was not is shown beside the table's figure."""
    if recorded is None:
        return Figure(what=what, recorded=NOT_GIVEN, table=table, source=source)
    return Figure(what=what, recorded=_both(recorded), table=table, source=source, **compared)


@cache
def _spacing(dash: int) -> Figure:
    size = rivet_sizes()[dash]
    rule = rules()["spacing"]
    return Figure(
        what="spacing in the row",
        recorded="",
        table=f"at least 3 D = {_least(rule.of(size.diameter))}",
        source=rule.source,
    )


_HEAD_HINT = "measure again, and show it to your adviser before the next row"


def _head_width(size: RivetSize, width: Fraction | None) -> Figure:
    least_rule, nominal_rule = rules()["head_least_width"], rules()["head_nominal_width"]
    least = size.head_least_width or least_rule.of(size.diameter)
    nominal = nominal_rule.of(size.diameter)
    least_source = size.source_head if size.head_least_width else least_rule.source
    standing, remark = Standing.WITHIN, ""
    if width is not None and width < least:
        standing, gap = Standing.OUTSIDE, _gap(least - width)
        remark = f"shop head {say_length(width)} across is {gap} under the least of {say_least(least)} (1.3 D)"
    elif width is not None and width < nominal:
        standing = Standing.NOTE
        remark = f"over the least, {_gap(nominal - width)} under the nominal 1.5 D that a two-ended gauge shows"
    return _measured(
        "shop head across",
        width,
        table=f"at least {_least(least)}, 1.3 D; nominal 1.5 D = {_both(nominal)}",
        source=f"least: {least_source}; nominal: {nominal_rule.source}",
        standing=standing,
        remark=remark,
        word="shop-head",
        hint=_HEAD_HINT,
        limit_source=least_source,
    )


def _head_height(size: RivetSize, height: Fraction | None) -> Figure:
    rule = rules()["head_nominal_height"]
    nominal = f"nominal 0.5 D = {_both(rule.of(size.diameter))}"
    least, most = size.head_least_height, size.head_most_height
    if least is None or most is None:
        table = f"{nominal}; no limits were read for this size"
        return _measured("shop head high", height, table=table, source=rule.source)
    inches = f"{say_length(least).removesuffix(' in')} to {say_length(most)}"
    remark = ""
    if height is not None and height < least:
        remark = f"shop head {say_length(height)} high is {_gap(least - height)} under the least of {say_length(least)}"
    elif height is not None and height > most:
        remark = f"shop head {say_length(height)} high is {_gap(height - most)} over the most of {say_length(most)}"
    return _measured(
        "shop head high",
        height,
        table=f"{inches} ({say_millimetres(least).removesuffix(' mm')} to {say_millimetres(most)}); {nominal}",
        source=f"limits: {size.source_head}; nominal: {rule.source}",
        standing=Standing.OUTSIDE if remark else Standing.WITHIN,
        remark=remark,
        word="shop-head",
        hint=_HEAD_HINT,
        limit_source=size.source_head,
    )
