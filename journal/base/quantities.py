"""Lengths and torques as people write them, read to exact fractions and said again.

Inside the project every length is inches and every torque inch-pounds, as `Fraction`: no float
takes part, so a value on a limit is on the limit. Conversion factors are exact by definition:
1 in = 25.4 mm (international yard and pound agreement, 1959) and 1 lbf = 4.4482216152605 N
(0.45359237 kg x 9.80665 m/s2; NIST Special Publication 811, appendix B).

A comma is never read as a decimal point: `1,500` is fifteen hundred to one reader and one and a
half to another, and a torque must not be guessed.
"""

from __future__ import annotations

import re
import unicodedata
from fractions import Fraction

MM_PER_INCH = Fraction("25.4")
NEWTON_PER_POUND = Fraction("4.4482216152605")
NM_PER_IN_LB = NEWTON_PER_POUND * MM_PER_INCH / 1000
IN_LB_PER_FT_LB = Fraction(12)

LENGTH_HINT = "write a length as 0.125 in, 1/8 in or 3.2 mm, with a point and not a comma (no unit: inches)"
HEAD_HINT = "write width x height of the shop head, as 0.19 in x 0.06 in or 4.8 x 1.6 mm"
TORQUE_HINT = "write a torque with its unit, as 62 in-lb, 5 ft-lb or 7.0 N m, with a point and not a comma"

# Nine digits are more than any shop measures and keep hostile input cheap.
_FRACTION = r"(?:(?P<whole>[0-9]{1,9})[ -])?(?P<over>[0-9]{1,9})/(?P<under>[0-9]{1,9})"
_DECIMAL = r"(?P<decimal>[0-9]{1,9}(?:\.[0-9]{0,20})?|\.[0-9]{1,20})"
_QUANTITY = re.compile(rf"(?:{_FRACTION}|{_DECIMAL})\s*(?P<unit>[^0-9\s].*)?")
_CROSS = re.compile(r"\s*[x×*]\s*|\s+by\s+", re.IGNORECASE)

_LENGTH_UNITS = {
    **dict.fromkeys(("in", "in.", "inch", "inches", '"', "″", "”", "''"), Fraction(1)),
    **dict.fromkeys(("mm", "mm.", "millimetre", "millimetres", "millimeter", "millimeters"), 1 / MM_PER_INCH),
    **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), 10 / MM_PER_INCH),
}

_INCH = {"in", "inch", "inches"}
_FOOT = {"ft", "foot", "feet"}
_POUND = {"lb", "lbs", "lbf", "pound", "pounds"}
_TORQUE_UNITS = {
    **{
        join.join(pair): factor
        for lever, factor in ((_INCH, Fraction(1)), (_FOOT, IN_LB_PER_FT_LB))
        for a in lever
        for b in _POUND
        for pair in ((a, b), (b, a))
        for join in ("", " ")
    },
    **dict.fromkeys(("nm", "n m", "newton metre", "newton metres", "newton meter", "newton meters"), 1 / NM_PER_IN_LB),
}


def parse_length(text: str) -> Fraction | None:
    """Inches, exact, of `0.125 in`, `1/8 in`, `1/8"`, `1-1/8`, `3.2 mm`; no unit means inches.

    None where `text` is not a length above nought.
    """
    number, unit = _split(text)
    factor = Fraction(1) if not unit else _LENGTH_UNITS.get(unit)
    return number * factor if number and factor else None


def parse_head(text: str) -> tuple[Fraction, Fraction] | None:
    """(width, height) in inches, exact, of a shop head: `0.19 in x 0.06 in`, `4.8 × 1.6 mm`.

    A unit given once stands for both figures. None where `text` is anything else.
    """
    sides = _CROSS.split(_plain(text))
    if len(sides) != 2:
        return None
    (width, width_unit), (height, height_unit) = map(_split, sides)
    width_factor = _LENGTH_UNITS.get(width_unit or height_unit or "in")
    height_factor = _LENGTH_UNITS.get(height_unit or width_unit or "in")
    if not width or not height or width_factor is None or height_factor is None:
        return None
    return width * width_factor, height * height_factor


def parse_torque(text: str) -> Fraction | None:
    """Inch-pounds, exact, of `62 in-lb`, `5 ft-lb`, `7.0 N m`; 0 is a torque (a drag of nothing).

    None without a unit: in-lb taken for ft-lb is wrong by a factor of twelve.
    """
    number, unit = _split(text)
    factor = _TORQUE_UNITS.get(" ".join(re.split(r"[\s·⋅*.-]+", unit.strip(".")))) if unit else None
    return number * factor if number is not None and factor else None


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


def say_newton_metres(in_lb: Fraction) -> str:
    """`7.01 N m`."""
    return f"{say_decimal(in_lb * NM_PER_IN_LB, 2)} N m"


def _plain(text: str) -> str:
    """One spelling: small letters, single spaces, `⅛` as ` 1/8`."""
    spelt = "".join(
        " " + unicodedata.normalize("NFKC", char) if unicodedata.category(char) == "No" else char for char in text
    )
    return " ".join(spelt.replace("\N{FRACTION SLASH}", "/").casefold().split())


def _split(text: str) -> tuple[Fraction | None, str]:
    """(number, unit) of a quantity, both folded; (None, "") where there is no number."""
    found = _QUANTITY.fullmatch(_plain(text))
    if not found:
        return None, ""
    unit = found["unit"] or ""
    if found["decimal"]:
        return Fraction(found["decimal"]), unit
    if int(found["under"]) == 0:
        return None, ""
    return int(found["whole"] or 0) + Fraction(int(found["over"]), int(found["under"])), unit
