"""Figures as people write them, read to exact fractions with the precision they were written at, and said again.

Inside the project every figure is a `Fraction` in the base unit of its kind (inches, inch-pounds, pounds …):
no float takes part, so a value on a limit is on the limit. Conversion factors are exact by definition:
1 in = 25.4 mm (international yard and pound agreement, 1959), 1 lbf = 4.4482216152605 N
(0.45359237 kg x 9.80665 m/s2), 1 bar = 100,000 Pa (NIST Special Publication 811, appendix B), and one US gallon is
231 cubic inches (NIST Handbook 44, appendix C).

A comma is never read as a decimal point: `1,500` is fifteen hundred to one reader and one and a
half to another, and a torque must not be guessed.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import Enum
from fractions import Fraction

MM_PER_INCH = Fraction("25.4")
NEWTON_PER_POUND = Fraction("4.4482216152605")
NM_PER_IN_LB = NEWTON_PER_POUND * MM_PER_INCH / 1000
IN_LB_PER_FT_LB = Fraction(12)
KG_PER_POUND = Fraction("0.45359237")
PASCAL_PER_PSI = NEWTON_PER_POUND / (MM_PER_INCH / 1000) ** 2
LITRES_PER_GALLON = 231 * (MM_PER_INCH / 100) ** 3

LENGTH_HINT = "write a length as 0.125 in, 1/8 in or 3.2 mm, with a point and not a comma (no unit: inches)"
HEAD_HINT = "write width x height of the shop head, as 0.19 in x 0.06 in or 4.8 x 1.6 mm"
TORQUE_HINT = "write a torque with its unit, as 62 in-lb, 5 ft-lb or 7.0 N m, with a point and not a comma"
LIMIT_HINT = "write it with its unit, as 62 in-lb, 60 to 65 in-lb, 62 ±3 in-lb, at least 0.25 in or at most 20 N"


class Dimension(Enum):
    """What a figure measures; the value is its base unit. A weight and a force are one: scales show both."""

    LENGTH = "in"
    TORQUE = "in-lb"
    WEIGHT = "lb"
    ANGLE = "°"
    PRESSURE = "psi"
    VOLUME = "gal"
    FLOW = "gal/h"
    TIME = "min"
    RESISTANCE = "ohm"
    VOLTAGE = "V"
    CURRENT = "A"
    SPEED = "rpm"
    TEMPERATURE = "°C"
    SHARE = "%"
    NUMBER = "pieces"


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A figure: exact, in the base unit of its dimension. `half` is half of the last place it was written to (0 for
    a fraction such as 3/16), `text` what was written.
    """

    value: Fraction
    dimension: Dimension
    half: Fraction = Fraction(0)
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """What a figure shall be: from `least` to `most`, either None where there is no such end; the same twice for one
    figure without a tolerance, which then counts at the precision it was written at (`half`).
    """

    least: Fraction | None
    most: Fraction | None
    dimension: Dimension
    half: Fraction = Fraction(0)
    text: str = ""

    def off(self, figure: Quantity, more: Fraction = Fraction(0)) -> Fraction:
        """How far `figure` lies outside, in the base unit: below nought for too little, nought inside. Judged at the
        precision the figure was written at. `more` is added to both ends.
        """
        room = max(figure.half, self.half)
        if self.least is not None and figure.value + room < self.least + more:
            return figure.value - self.least - more
        if self.most is not None and figure.value - room > self.most + more:
            return figure.value - self.most - more
        return Fraction(0)


# Nine digits are more than any shop measures and keep hostile input cheap.
_NUMBER = (
    r"(?:(?:(?P<whole>[0-9]{1,9})[ -])?(?P<over>[0-9]{1,9})/(?P<under>[0-9]{1,9})"
    r"|(?P<decimal>[0-9]{1,9}(?:\.[0-9]{0,20})?|\.[0-9]{1,20}))"
)
_QUANTITY = re.compile(rf"(?P<sign>[-+]?){_NUMBER}\s*(?P<unit>[^0-9\s].*)?")
_CROSS = re.compile(r"\s*[x×*]\s*|\s+by\s+", re.IGNORECASE)


def _spelt(names: Iterable[str], factor: Fraction) -> dict[str, Fraction]:
    return dict.fromkeys(names, factor)


def _joined(heads: Iterable[str], tails: Iterable[str], factor: Fraction) -> dict[str, Fraction]:
    """Two units in one word or two, either first."""
    return {
        join.join(pair): factor
        for head in heads
        for tail in tails
        for pair in ((head, tail), (tail, head))
        for join in ("", " ")
    }


_INCH = ("in", "inch", "inches")
_FOOT = ("ft", "foot", "feet")
_POUND = ("lb", "lbs", "lbf", "pound", "pounds")
_PER_MINUTE, _PER_HOUR = ("/min", " per minute", "/minute"), ("/h", "/hr", "/hour", " per hour")
_GALLON, _LITRE = ("gal", "gallon", "gallons", "us gal"), ("l", "litre", "litres", "liter", "liters")

_UNITS: Mapping[Dimension, Mapping[str, Fraction]] = {
    Dimension.LENGTH: {
        **_spelt((*_INCH, '"', "″", "”", "''"), Fraction(1)),
        **_spelt(_FOOT, Fraction(12)),
        **_spelt(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), 1 / MM_PER_INCH),
        **_spelt(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), 10 / MM_PER_INCH),
        **_spelt(("m", "metre", "metres", "meter", "meters"), 1000 / MM_PER_INCH),
        **_spelt(("thou", "thous", "mil", "mils", "thousandth", "thousandths"), Fraction(1, 1000)),
    },
    Dimension.TORQUE: {
        **_joined(_INCH, _POUND, Fraction(1)),
        **_joined(_FOOT, _POUND, IN_LB_PER_FT_LB),
        **_spelt(("nm", "n m", "newton metre", "newton metres", "newton meter", "newton meters"), 1 / NM_PER_IN_LB),
        **_spelt(("kgm", "kg m", "kgf m", "mkg"), Fraction("9.80665") / NM_PER_IN_LB),
    },
    Dimension.WEIGHT: {
        **_spelt(_POUND, Fraction(1)),
        **_spelt(("kg", "kgf", "kilogram", "kilograms"), 1 / KG_PER_POUND),
        **_spelt(("g", "gram", "grams"), 1 / KG_PER_POUND / 1000),
        **_spelt(("oz", "ounce", "ounces"), Fraction(1, 16)),
        **_spelt(("n", "newton", "newtons"), 1 / NEWTON_PER_POUND),
        **_spelt(("dan",), 10 / NEWTON_PER_POUND),
    },
    Dimension.ANGLE: {**_spelt(("°", "deg", "degree", "degrees"), Fraction(1)), **_spelt(("'",), Fraction(1, 60))},
    Dimension.PRESSURE: {
        **_spelt(("psi",), Fraction(1)),
        **_spelt(("pa",), 1 / PASCAL_PER_PSI),
        **_spelt(("kpa",), 1000 / PASCAL_PER_PSI),
        **_spelt(("bar",), 100_000 / PASCAL_PER_PSI),
        **_spelt(("mbar", "hpa"), 100 / PASCAL_PER_PSI),
    },
    Dimension.VOLUME: {**_spelt(_GALLON, Fraction(1)), **_spelt(_LITRE, 1 / LITRES_PER_GALLON)},
    Dimension.FLOW: {
        **_spelt([unit + per for unit in _GALLON for per in _PER_HOUR] + ["gph"], Fraction(1)),
        **_spelt([unit + per for unit in _GALLON for per in _PER_MINUTE] + ["gpm"], Fraction(60)),
        **_spelt([unit + per for unit in _LITRE for per in _PER_HOUR], 1 / LITRES_PER_GALLON),
        **_spelt([unit + per for unit in _LITRE for per in _PER_MINUTE], 60 / LITRES_PER_GALLON),
    },
    Dimension.TIME: {
        **_spelt(("min", "minute", "minutes"), Fraction(1)),
        **_spelt(("h", "hr", "hour", "hours"), Fraction(60)),
        **_spelt(("d", "day", "days"), Fraction(24 * 60)),
        **_spelt(("week", "weeks"), Fraction(7 * 24 * 60)),
        **_spelt(("s", "sec", "second", "seconds"), Fraction(1, 60)),
    },
    Dimension.RESISTANCE: {
        **_spelt(("ohm", "ohms", "ω"), Fraction(1)),
        **_spelt(("mohm", "milliohm", "milliohms", "mω"), Fraction(1, 1000)),
        **_spelt(("kohm", "kω"), Fraction(1000)),
        **_spelt(("megohm", "megohms", "megω"), Fraction(1_000_000)),
    },
    Dimension.VOLTAGE: {**_spelt(("v", "volt", "volts"), Fraction(1)), **_spelt(("mv",), Fraction(1, 1000))},
    Dimension.CURRENT: {**_spelt(("a", "amp", "amps", "ampere"), Fraction(1)), **_spelt(("ma",), Fraction(1, 1000))},
    Dimension.SPEED: _spelt(("rpm", "1/min", "u/min"), Fraction(1)),
    Dimension.TEMPERATURE: _spelt(("°c", "deg c", "degrees c", "celsius"), Fraction(1)),
    Dimension.SHARE: {**_spelt(("%", "percent", "per cent"), Fraction(1))},
}
_BY_NAME = {name: (dimension, factor) for dimension, units in _UNITS.items() for name, factor in units.items()}


def units_by_name() -> dict[str, tuple[str, Fraction]]:
    """Every spelling of a unit that is read, with its base unit and how many of that it is."""
    return {name: (dimension.value, factor) for name, (dimension, factor) in _BY_NAME.items()}


def parse_quantity(text: str, bare: Dimension | None = None) -> Quantity | None:
    """The figure in `text`, perhaps nought or below it; `bare` is what one without a unit measures, in the base unit.

    None where `text` is no figure, or one without a unit where none is agreed.
    """
    number, half, unit = _split(text)
    if number is None:
        return None
    known = _unit(unit) if unit else (bare, Fraction(1)) if bare else None
    if known is None or known[0] is None:
        return None
    dimension, factor = known
    return Quantity(value=number * factor, dimension=dimension, half=half * factor, text=" ".join(text.split()))


def parse_length(text: str) -> Quantity | None:
    """Inches, exact, of `0.125 in`, `1/8 in`, `1/8"`, `1-1/8`, `3.2 mm`; no unit means inches.

    None where `text` is not a length above nought.
    """
    length = parse_quantity(text, Dimension.LENGTH)
    return length if length and length.value > 0 and length.dimension is Dimension.LENGTH else None


def parse_head(text: str) -> tuple[Quantity, Quantity] | None:
    """(width, height) of a shop head: `0.19 in x 0.06 in`, `4.8 × 1.6 mm`.

    A unit given once stands for both figures. None where `text` is anything else.
    """
    sides = _CROSS.split(_plain(text))
    if len(sides) != 2:
        return None
    units = [_split(side)[2] for side in sides]
    width, height = (
        parse_length(side if unit else f"{side} {other}".strip())
        for side, unit, other in zip(sides, units, reversed(units), strict=True)
    )
    return (width, height) if width and height else None


def parse_torque(text: str) -> Quantity | None:
    """Inch-pounds, exact, of `62 in-lb`, `5 ft-lb`, `7.0 N m`; 0 is a torque (a drag of nothing).

    None without a unit: in-lb taken for ft-lb is wrong by a factor of twelve.
    """
    torque = parse_quantity(text)
    return torque if torque and torque.value >= 0 and torque.dimension is Dimension.TORQUE else None


_LEAST = re.compile(
    r"(?:at least|min(?:imum)?\.?|not (?:less|under|below)(?: than)?|no less than|from|over|above|>=?|≥)\s*(?P<a>.+)"
    r"|(?P<b>.+?)\s*(?:min(?:imum)?\.?|or (?:more|over|greater))"
)
_MOST = re.compile(
    r"(?:at most|max(?:imum)?\.?|not (?:more|over|above|exceeding)(?: than)?|no more than|up to|under|below|<=?|≤)"
    r"\s*(?P<a>.+)|(?P<b>.+?)\s*(?:max(?:imum)?\.?|or (?:less|under))"
)
_BETWEEN = re.compile(r"(?:between|from)\s+")
_TO = re.compile(r"\s*(?:\bto\b|\band\b|\.\.+|[-–—])\s*")
_ROOM = re.compile(r"(?P<a>.+?)\s*(?:±|\+/-|\+-|plus or minus)\s*(?P<b>.+)")
_UP_AND_DOWN = re.compile(r"(?P<a>.+?)\s*(?P<s>[+-])(?P<b>[^+-]+?)\s*[,/]?\s*(?P<t>[+-])(?P<c>[^+-]+)")


def parse_limit(text: str, bare: Dimension | None = None) -> Limit | None:
    """The limit in `62 in-lb`, `60 to 65 in-lb`, `62 ±3 in-lb`, `62 ±5 %`, `0.19 +0.01 -0 in`, `at least 0.25 in`,
    `max 20 N`. A unit that only the last figure has is that of all. None where it cannot be read, or holds nothing.
    """
    plain = _plain(text)
    for read in (_exact, _one_sided, _with_room, _two_sided):
        if limit := read(plain, bare):
            held = limit.least is None or limit.most is None or limit.least <= limit.most
            return replace(limit, text=" ".join(text.split())) if held else None
    return None


def _exact(plain: str, bare: Dimension | None) -> Limit | None:
    figure = parse_quantity(plain, bare)
    if figure is None:
        return None
    return Limit(least=figure.value, most=figure.value, dimension=figure.dimension, half=figure.half)


def _one_sided(plain: str, bare: Dimension | None) -> Limit | None:
    for pattern, is_least in ((_LEAST, True), (_MOST, False)):
        found = pattern.fullmatch(plain)
        if found and (figure := parse_quantity(found["a"] or found["b"], bare)):
            ends = (figure.value, None) if is_least else (None, figure.value)
            return Limit(least=ends[0], most=ends[1], dimension=figure.dimension)
    return None


def _two_sided(plain: str, bare: Dimension | None) -> Limit | None:
    plain = _BETWEEN.sub("", plain, count=1)
    for cut in _TO.finditer(plain):
        # The dash of `in-lb` parts nothing.
        if ends := _figures([plain[: cut.start()], plain[cut.end() :]], bare):
            return Limit(least=ends[0].value, most=ends[1].value, dimension=ends[0].dimension)
    return None


def _with_room(plain: str, bare: Dimension | None) -> Limit | None:
    """A figure with what it may be off: as much either way, a share of it, or another amount each way."""
    if found := _ROOM.fullmatch(plain):
        pieces, signs = [found["a"], found["b"], found["b"]], "+-"
    elif found := _UP_AND_DOWN.fullmatch(plain):
        pieces, signs = [found["a"], found["b"], found["c"]], found["s"] + found["t"]
    else:
        return None
    if signs not in ("+-", "-+"):
        return None
    share = parse_quantity(pieces[1])
    if share and share.dimension is Dimension.SHARE:
        middle, rooms = parse_quantity(pieces[0], bare), _figures(pieces[1:], None)
        scale = middle.value / 100 if middle else Fraction(0)
    else:
        figures = _figures(pieces, bare) or []
        middle, rooms, scale = next(iter(figures), None), figures[1:], Fraction(1)
    if not middle or not rooms:
        return None
    up, down = (room.value * scale for room in (rooms if signs == "+-" else reversed(rooms)))
    return Limit(least=middle.value - down, most=middle.value + up, dimension=middle.dimension)


def _figures(pieces: list[str], bare: Dimension | None) -> list[Quantity] | None:
    """The figures of one limit: the last unit stands for those without one, and all measure the same."""
    units = [unit for piece in pieces if (unit := _split(piece)[2])]
    figures = [
        parse_quantity(piece if _split(piece)[2] or not units else f"{piece} {units[-1]}", bare) for piece in pieces
    ]
    read = [figure for figure in figures if figure]
    same = len(read) == len(pieces) and len({figure.dimension for figure in read}) == 1
    return read if same else None


def say_decimal(value: Fraction, most: int, least: int = 0) -> str:
    """`value` to at most `most` decimals, a half rounded away from nought as trade tables do, closing noughts
    cut down to `least`.
    """
    # In whole numbers: this is asked for every figure of every page, and Fraction arithmetic is slow.
    over, under = abs(value.numerator), value.denominator
    scaled = (2 * over * 10**most + under) // (2 * under)
    whole, rest = divmod(scaled, 10**most)
    digits = f"{rest:0{most}d}".rstrip("0").ljust(least, "0") if most else ""
    sign = "-" if value < 0 and scaled else ""
    return f"{sign}{whole}.{digits}" if digits else f"{sign}{whole}"


def say_length(inches: Fraction) -> str:
    """`0.203 in`: thousandths as the shop says them, ten-thousandths where they matter."""
    return f"{say_decimal(inches, 4, 3)} in"


def say_least(inches: Fraction) -> str:
    """`0.2813 in`: a least length, rounded up, so that what is shown is never under the limit itself."""
    return say_length(_up(inches, 4))


def say_least_millimetres(inches: Fraction) -> str:
    """`7.15 mm`: likewise."""
    return f"{say_decimal(_up(inches * MM_PER_INCH, 2), 2)} mm"


def _up(value: Fraction, places: int) -> Fraction:
    return Fraction(-(-value * 10**places // 1), 10**places)


def say_fraction(inches: Fraction) -> str:
    """`1/8 in`, `1 1/16 in` where it is a fraction a rule is marked in (to 64ths), else decimals."""
    if inches.denominator not in (1, 2, 4, 8, 16, 32, 64):
        return say_length(inches)
    whole, rest = divmod(inches, 1)
    parts = [str(whole)] if whole or not rest else []
    return " ".join([*parts, str(rest)] if rest else parts) + " in"


def say_millimetres(inches: Fraction) -> str:
    """`3.18 mm`."""
    return f"{say_decimal(inches * MM_PER_INCH, 2)} mm"


def say_torque(in_lb: Fraction) -> str:
    """`62 in-lb`, with one decimal where it is not whole."""
    return f"{say_decimal(in_lb, 1)} in-lb"


_METRIC = {
    Dimension.WEIGHT: (KG_PER_POUND, "kg"),
    Dimension.PRESSURE: (PASCAL_PER_PSI / 100, "mbar"),
    Dimension.VOLUME: (LITRES_PER_GALLON, "l"),
    Dimension.FLOW: (LITRES_PER_GALLON, "l/h"),
}


def say_figure(value: Fraction, dimension: Dimension) -> str:
    """`0.203 in (5.16 mm)`, `62 in-lb (7.01 N m, 5.17 ft-lb)`, `25°`: in the base unit and in metric beside it."""
    if dimension is Dimension.LENGTH:
        return f"{say_length(value)} ({say_millimetres(value)})"
    if dimension is Dimension.TORQUE:
        newton_metres, foot_pounds = say_decimal(value * NM_PER_IN_LB, 2), say_decimal(value / IN_LB_PER_FT_LB, 2)
        return f"{say_torque(value)} ({newton_metres} N m, {foot_pounds} ft-lb)"
    if dimension is Dimension.NUMBER:
        return say_decimal(value, 3)
    for whole, thousandth, by in ((Dimension.RESISTANCE, "mohm", 1), (Dimension.WEIGHT, "g", KG_PER_POUND)):
        if dimension is whole and 0 < abs(value * by) < 1:
            small = f"{say_decimal(value * by * 1000, 2)} {thousandth}"
            return small if by == 1 else f"{say_decimal(value, 3)} {dimension.value} ({small})"
    said = f"{say_decimal(value, 3)}{'' if dimension is Dimension.ANGLE else ' '}{dimension.value}"
    metric = _METRIC.get(dimension)
    return f"{said} ({say_decimal(value * metric[0], 2)} {metric[1]})" if metric else said


_TWICE = re.compile(
    r"(?P<base>-?[0-9][0-9.,/]*(?: to [0-9.,]+)? (?:in-lb|in|lb|psi|gal/h|gal)) "
    r"\((?P<metric>[-0-9.,to ]+? (?:mm|N m|kg m|kg|g|mbar|l/h|l))(?P<more>, [^()]+)?\)"
)


def metric_first(text: str) -> str:
    """`0.203 in (5.16 mm)` as `5.16 mm (0.203 in)`, and so for all that `text` says in both."""
    return _TWICE.sub(lambda said: f"{said['metric']} ({said['base']}{said['more'] or ''})", text)


def say_gap(value: Fraction, dimension: Dimension) -> str:
    """How far off a limit, as `say_figure` but never said as nothing."""
    leasts = {
        Dimension.LENGTH: Fraction(1, 10000),
        Dimension.TORQUE: Fraction(1, 10),
        Dimension.RESISTANCE: Fraction(1, 10**5),
    }
    least = leasts.get(dimension, Fraction(1, 1000))
    if abs(value) < least:
        return f"less than {say_decimal(least, 4)} {dimension.value}"
    return say_figure(abs(value), dimension)


def _plain(text: str) -> str:
    """One spelling: small letters, single spaces, `⅛` as ` 1/8`, `MΩ` as `megω`."""
    spelt = "".join(
        " " + unicodedata.normalize("NFKC", char) if unicodedata.category(char) == "No" else char for char in text
    )
    spelt = spelt.replace("\N{FRACTION SLASH}", "/").replace("\N{MINUS SIGN}", "-")
    spelt = re.sub(r"M(?=[Ω\N{OHM SIGN}]|(?i:ohm))", "meg", spelt)  # not milli, whose m is small
    return " ".join(spelt.casefold().split())


def _unit(text: str) -> tuple[Dimension, Fraction] | None:
    """What a unit measures and how much of the base unit it is; None where it is not known."""
    return _BY_NAME.get(text) or _BY_NAME.get(" ".join(re.split(r"[\s·⋅*.-]+", text.strip(". "))))


def _split(text: str) -> tuple[Fraction | None, Fraction, str]:
    """(number, half of its last place, unit) of a quantity, folded; (None, 0, "") where there is no number."""
    found = _QUANTITY.fullmatch(_plain(text))
    if not found:
        return None, Fraction(0), ""
    unit, sign = (found["unit"] or "").strip(), -1 if found["sign"] == "-" else 1
    if found["decimal"]:
        places = len(found["decimal"].partition(".")[2])
        return sign * Fraction(found["decimal"]), Fraction(1, 2 * 10**places), unit
    if int(found["under"]) == 0:
        return None, Fraction(0), ""
    return sign * (int(found["whole"] or 0) + Fraction(int(found["over"]), int(found["under"]))), Fraction(0), unit
