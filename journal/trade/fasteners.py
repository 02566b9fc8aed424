"""Rivets: every recorded set beside what the kit's manual asks for and what the handbooks say.

D is the shank diameter. The part number of a solid rivet gives the head style, letters for the alloy, D in 32nds and
the length in 16ths of an inch (source: AC 43.13-1B p. 4-16; half sizes are written `.5`). A protruding
head is measured from under the head, a flush one over all; the rule grip + 1.5 D serves both.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from fractions import Fraction
from functools import cache, lru_cache

from journal.base.callout_words import EDGE, FASTENERS, GRIP, HEAD_HEIGHT, HEAD_WIDTH, HOLE
from journal.base.formatting import say_count
from journal.base.model import CallOut, FastenerSet
from journal.base.quantities import (
    Dimension,
    Limit,
    Quantity,
    parse_length,
    say_decimal,
    say_figure,
    say_fraction,
    say_gap,
    say_least,
    say_least_millimetres,
    say_length,
    say_millimetres,
)
from journal.trade.callouts import Judged, about, judge_figure, judge_part
from journal.trade.figures import NOT_GIVEN, Figure, Standing, TradeTable
from journal.trade.hardware import read_part
from journal.trade.tables import Alloy, RivetSize, alloys, drills, rivet_sizes, rules


class RivetHead(Enum):
    """Head style of a solid rivet; the value is how it is said."""

    UNIVERSAL = "universal head"
    COUNTERSUNK = "countersunk head, 100 degrees"


_PART = re.compile(
    r"(?P<series>AN470|AN426|NAS1097)(?P<letters>[A-Z]*)(?P<dash>[0-9]{1,2})"
    r"(?:-(?P<length>[0-9]{1,2}(?:\.5)?)(?P<suffix>[A-Z]{0,2})|-[0-9.]+)?"
)

SIXTEENTH = Fraction(1, 16)


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


def parse_rivet(text: str) -> tuple[Rivet | None, str]:
    """(the solid rivet, "") or (None, why no table speaks of it) of a part number in any usual spelling.

    Read: AN470 and MS20470 (universal), AN426 and MS20426 (countersunk), NAS1097 (countersunk, reduced head).
    """
    part = read_part(text)
    if part.kind != "rivet":
        return None, f"is a {part.kind}" if part.kind else "is not a standard number known here"
    found = _PART.fullmatch(part.number)
    if not found:
        return None, "is a solid rivet for which there is no table here"
    letters, size = found["letters"], rivet_sizes().get(int(found["dash"]))
    if letters not in alloys():
        known = ", ".join(alloys())
        return None, (
            f"has the alloy letters {letters}, which are not known here ({known} are)"
            if letters
            else f"has no alloy letters before the diameter (one of {known})"
        )
    if size is None:
        known = ", ".join(f"-{dash}" for dash in rivet_sizes())
        return None, f"has the diameter -{int(found['dash'])}, for which there is no table here ({known})"
    if not found["length"] or not Fraction(found["length"]):
        return None, "has no length after the diameter"
    return Rivet(
        part=part.number,
        head=RivetHead.UNIVERSAL if found["series"] == "AN470" else RivetHead.COUNTERSUNK,
        alloy=alloys()[letters],
        size=size,
        length_16ths=Fraction(found["length"]),
    ), ""


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


# Asked for by the check and by every page of the set, and again at each save of a preview.
@lru_cache(maxsize=20_000)
def rivet_table(fasteners: FastenerSet, callouts: tuple[CallOut, ...] = ()) -> TradeTable:
    """The small table of one recorded set: what `callouts` (those that bear upon it) ask, and what handbooks say.

    Findings that may come of it: not-as-called-for; where no call-out speaks of the figure, and every source calls
    it unsafe, rivet-length, edge-distance, shop-head.
    """
    counted = f" · {say_count(fasteners.count, 'piece')}" if fasteners.count is not None else ""
    rivet, why = parse_rivet(fasteners.rivet)
    title = f"{rivet.part if rivet else fasteners.rivet}{counted}"
    lead = family_says(fasteners.rivet)
    if rivet:
        lead = f"{rivet.head.value}, {rivet.alloy.name}, {say_fraction(rivet.size.diameter)} x "
        lead += say_fraction(rivet.length)
    part = judge_part(fasteners.rivet, about(callouts, FASTENERS))
    figures = []
    if part.asked or why:
        figures.append(as_judged("part", fasteners.rivet, part, f"{why}: not compared with handbooks" if why else ""))
    hints = _hints(rivet.size.dash) if rivet else ()
    if rivet:
        kit = part.standing is not Standing.SHOWN or bool(fasteners.source)
        figures += [_length(rivet, fasteners.grip, judged=kit), _hole(rivet, fasteners, callouts), *hints[:1]]
    elif fasteners.hole or about(callouts, HOLE):
        figures.append(_hole(None, fasteners, callouts))
    free = not fasteners.source and not part.standing.found
    figures += [*_measured_figures(rivet, fasteners, callouts, free=free), *hints[1:]]
    if fasteners.source:
        figures.append(Figure(what="source", recorded=fasteners.source))
    return TradeTable(title=title, lead=lead, figures=tuple(figures))


DEPARTS = "not-as-called-for"
"""The code word of whatever is otherwise than the kit's manual asks."""

PART_HINT = "name the line's `step` where it belongs to another; else ask the kit's maker before going on"


def as_judged(what: str, recorded: str, judged: Judged, remark: str = "") -> Figure:
    """What was recorded beside what was asked of it; `remark` where judging had none."""
    return Figure(
        what=what,
        recorded=recorded,
        called_for=judged.asked,
        standing=judged.standing,
        remark=judged.remark or remark,
        word=DEPARTS,
        hint=PART_HINT,
    )


def family_says(text: str) -> str:
    """What a standard number is, in words; empty where it is not known here."""
    family = read_part(text).family
    return f"{family.kind}, {family.says}" if family else ""


def _least(inches: Fraction) -> str:
    return f"{say_least(inches)} ({say_least_millimetres(inches)})"


def _length(rivet: Rivet, grip: Quantity | None, *, judged: bool) -> Figure:
    """The length beside what two allowances ask for the grip. Beyond every source: less shank left than the shorter
    one, or more than half a sixteenth longer than the longer one asks, as only whole sizes may be stocked.
    """
    rule, shorter = rules()["allowance"], rules()["allowance_shorter"]
    used = f"{say_dash(rivet.length_16ths)} = {say_fraction(rivet.length)}"
    sources = f"{rule.source}; shorter: {shorter.source}"
    if grip is None:
        table = f"grip + 1.5 D; shorter allowances, about {say_decimal(shorter.times_diameter, 2)} D, are printed too"
        remark = "grip not given: length not compared"
        return Figure(what="length", recorded=used, table=table, source=sources, remark=remark)
    wanted = wanted_length(grip.value, rivet.size)
    nearest, excess = say_dash(nearest_size(wanted)), (rivet.length_16ths - wanted) * SIXTEENTH
    proud, least = rivet.length - grip.value, shorter.of(rivet.size.diameter)
    asked = f"grip {say_length(grip.value)} + 1.5 D = {say_length(wanted * SIXTEENTH)}"
    table = f"{asked}: {nearest}; by a shorter allowance {say_length(grip.value + least)}"
    in_diameters = say_decimal(proud / rivet.size.diameter, 2)
    left = f"{say_length(proud)} = {in_diameters} D is left to upset"
    standing, remark = Standing.SHOWN, left
    if proud <= 0:
        remark = f"{used} is no longer than the grip of {say_length(grip.value)}: no shank is left for a shop head"
        standing = Standing.BEYOND
    elif proud + grip.half < least:
        short = say_gap(least - proud, grip.dimension)
        remark = f"{used} is {short} too short for {asked}, even by the shorter allowance; nearest size "
        remark += f"{nearest}; {left}"
        standing = Standing.BEYOND
    elif excess - grip.half > SIXTEENTH / 2:
        remark = f"{used} is {say_gap(excess, grip.dimension)} too long for {asked}; nearest size {nearest}; {left}"
        standing = Standing.BEYOND
    elif rivet.flush:
        remark += "; dimples nest, so test it"
    return Figure(
        what="length",
        recorded=used,
        table=table,
        source=sources,
        standing=Standing.SHOWN if judged else standing,
        remark=remark,
        word="rivet-length",
        hint="prove the length on a scrap stack of the same thickness",
    )


def parse_hole(text: str) -> Quantity | None:
    """A hole by its drill (`#30`, `No. 30`, `F`) or as a length; None where it is neither."""
    # A bare `30` is the drill: nobody drills thirty inches.
    plain = " ".join(text.upper().split())
    name = re.sub(r"^(?:N[OR]\.?|NUMBER|DRILL|#)\s*(?=[0-9])|^(?=[0-9]{2}$)", "#", plain)
    drill = drills().get(name)
    return Quantity(value=drill.diameter, dimension=_INCHES, text=name) if drill else parse_length(text)


def with_drill(called: CallOut) -> CallOut:
    """A call-out for a hole with its limit, where it names a drill."""
    hole = parse_hole(called.value) if called.limit is None else None
    if hole is None:
        return called
    limit = Limit(least=hole.value, most=hole.value, dimension=hole.dimension, half=hole.half)
    return replace(called, limit=limit)


def _hole(rivet: Rivet | None, fasteners: FastenerSet, callouts: Sequence[CallOut]) -> Figure:
    """The hole beside the drills that sources name; a call-out may name a drill, too."""
    size = rivet.size if rivet else None
    asked = [with_drill(called) for called in about(callouts, HOLE)]
    figure = parse_hole(fasteners.hole)
    judged = judge_figure(figure, asked, named="hole")
    table = source = remark = ""
    if size:
        named = [(size.drill, size.source_drill)]
        if size.drill_alternative:
            named.append((size.drill_alternative, size.source_drill_alternative))
        table = "; or ".join(f"drill {drill.name}, {say_figure(drill.diameter, _INCHES)}" for drill, _ in named)
        source = "; ".join(f"{drill.name}: {source}" for drill, source in named) if len(named) > 1 else named[0][1]
        remark = (
            f"{size.drill.name} leaves {say_length(size.drill.diameter - size.diameter)} round the shank (computed)"
        )
    if fasteners.hole and figure is None:
        remark = "neither a drill nor a length known here: not compared"
    return Figure(
        what="hole",
        recorded=fasteners.hole or (NOT_GIVEN if judged.asked else ""),
        table=table,
        source=source,
        called_for=judged.asked,
        standing=judged.standing,
        remark=judged.remark or remark,
        word=DEPARTS,
        hint=MEASURED_HINT,
    )


_INCHES = Dimension.LENGTH


@cache
def _hints(dash: int) -> tuple[Figure, ...]:
    """What the tables say of a size and nobody records: the temporary fastener, then the spacing and any note."""
    size, rule = rivet_sizes()[dash], rules()["spacing"]
    said = (
        ("temporary fastener", f"{size.fastener_colour}: a hint only, the colour varies by maker", size.source_colour),
        ("spacing in the row", f"at least 3 D = {_least(rule.of(size.diameter))}", rule.source),
        ("this size", size.note, size.source_note),
    )
    return tuple(Figure(what=what, recorded="", table=table, source=source) for what, table, source in said if table)


MEASURED_HINT = "measure again, and show it to your adviser or ask the kit's maker before going on"


def _measured_figures(
    rivet: Rivet | None, fasteners: FastenerSet, callouts: Sequence[CallOut], *, free: bool
) -> Iterator[Figure]:
    """Edge distance and shop head: of a rivet with a table always, of others where recorded or asked for. Handbooks
    judge only where they are `free` to, and no call-out does.
    """
    size = rivet.size if rivet else None
    for what, recorded, words, word, handbook in (
        ("grip", fasteners.grip, GRIP, "", None),
        ("edge distance", fasteners.edge, EDGE, "edge-distance", _edge(rivet) if rivet else None),
        ("shop head across", fasteners.shop_head_width, HEAD_WIDTH, "shop-head", _head_width(size) if size else None),
        ("shop head high", fasteners.shop_head_height, HEAD_HEIGHT, "shop-head", _head_height(size) if size else None),
    ):
        judged = judge_figure(recorded, about(callouts, words), named=what)
        if not (handbook or judged.asked or (recorded and what != "grip")):
            continue
        standing, remark = judged.standing, judged.remark
        unjudged = free and standing is Standing.SHOWN
        if recorded and handbook and handbook.limit and unjudged and (off := handbook.limit.off(recorded)):
            standing = Standing.BEYOND
            remark = (
                f"{what} {recorded.text} is {say_gap(off, recorded.dimension)} "
                f"{'over the most' if off > 0 else 'under the least'} that any source gives, {handbook.limit.text}"
            )
        yield Figure(
            what=what,
            recorded=f"{recorded.text} ({_other_unit(recorded)})" if recorded else NOT_GIVEN,
            table=handbook.says if handbook else "",
            source=handbook.source if handbook else "",
            called_for=judged.asked,
            standing=standing,
            remark=remark,
            word=DEPARTS if standing is Standing.DEPARTS else word,
            hint=MEASURED_HINT,
            limit_source=handbook.limit_source if handbook else "",
        )


def _other_unit(length: Quantity) -> str:
    return say_length(length.value) if "m" in length.text.casefold() else say_millimetres(length.value)


def handbook_limits(rivet: Rivet) -> dict[str, Limit]:
    """From the lowest to the highest that any source gives, by the word of a call-out; a hole is no less than D."""
    width, height = _head_width(rivet.size).limit, _head_height(rivet.size).limit
    limits = {
        EDGE: _edge(rivet).limit,
        HOLE: _bound(rivet.size.diameter, None, "D"),
        HEAD_WIDTH: width,
        HEAD_HEIGHT: height,
    }
    return {word: limit for words, limit in limits.items() if limit for word in words}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Handbook:
    """What the sources say of one figure, side by side; `limit` is what the furthest of them still allows."""

    says: str
    source: str
    limit: Limit | None = None
    limit_source: str = ""


def _edge(rivet: Rivet) -> _Handbook:
    rule, floor = rules()["edge_flush" if rivet.flush else "edge_protruding"], rules()["edge_floor"]
    least, lowest = rule.of(rivet.size.diameter), floor.of(rivet.size.diameter)
    return _Handbook(
        says=f"at least {say_decimal(rule.times_diameter, 1)} D = {_least(least)}; the lowest that is printed, "
        f"1.5 D = {_least(lowest)}",
        source=f"{rule.source}; lowest: {floor.source}",
        limit=_bound(lowest, None, f"1.5 D = {say_least(lowest)}"),
        limit_source=floor.source,
    )


def _bound(least: Fraction | None, most: Fraction | None, text: str) -> Limit:
    return Limit(least=least, most=most, dimension=_INCHES, text=text)


def _head_width(size: RivetSize) -> _Handbook:
    by_rule, nominal = rules()["head_least_width"], rules()["head_nominal_width"]
    in_diameters = by_rule.of(size.diameter)
    lowest = min(in_diameters, size.head_least_width or in_diameters)
    quoted = f"{_least(size.head_least_width)} quoted; " if size.head_least_width else ""
    source = size.source_head if size.head_least_width else by_rule.source
    return _Handbook(
        says=f"at least {quoted}1.3 D = {_least(in_diameters)}; nominal 1.5 D = "
        f"{say_figure(nominal.of(size.diameter), _INCHES)}, which a two-ended gauge shows",
        source=f"least: {source}; nominal: {nominal.source}",
        limit=_bound(lowest, None, say_least(lowest)),
        limit_source=source,
    )


def _head_height(size: RivetSize) -> _Handbook:
    rule = rules()["head_nominal_height"]
    nominal = f"nominal 0.5 D = {say_figure(rule.of(size.diameter), _INCHES)}"
    least, most = size.head_least_height, size.head_most_height
    if least is None or most is None:
        return _Handbook(says=f"{nominal}; no limits were read for this size", source=rule.source)
    inches = f"{say_length(least).removesuffix(' in')} to {say_length(most)}"
    return _Handbook(
        says=f"{inches} ({say_millimetres(least).removesuffix(' mm')} to {say_millimetres(most)}); {nominal}",
        source=f"limits: {size.source_head}; nominal: {rule.source}",
        limit=_bound(least, most, inches),
        limit_source=size.source_head,
    )
