"""Lengths and torques: what people write, what comes out, and the conversions against `pint`."""

from decimal import ROUND_HALF_UP, Decimal, localcontext
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.base.quantities import (
    KG_PER_POUND,
    MM_PER_INCH,
    NM_PER_IN_LB,
    Dimension,
    Quantity,
    metric_first,
    parse_head,
    parse_length,
    parse_limit,
    parse_quantity,
    parse_torque,
    say_decimal,
    say_figure,
    say_fraction,
    say_least,
    say_least_millimetres,
    say_length,
    say_millimetres,
    say_torque,
)


def worth(quantity: Quantity | None) -> Fraction | None:
    """The exact value in the base unit."""
    return quantity.value if quantity else None


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("0.125 in", Fraction(1, 8)),
        ("1/8 in", Fraction(1, 8)),
        ('1/8"', Fraction(1, 8)),
        ("1/8″", Fraction(1, 8)),
        ("⅛ in", Fraction(1, 8)),
        ("1½ in", Fraction(3, 2)),
        ("1-1/8 inches", Fraction(9, 8)),
        ("1 1/8", Fraction(9, 8)),
        ("3.2 mm", Fraction(16, 127)),
        ("3.2MM", Fraction(16, 127)),
        ("0.19", Fraction(19, 100)),
        (".19in.", Fraction(19, 100)),
        ("  0.19   in ", Fraction(19, 100)),
    ],
)
def test_a_length_is_read_exactly(text: str, inches: Fraction) -> None:
    """Every way of writing a length in the shop gives the exact inches."""
    assert worth(parse_length(text)) == inches


@pytest.mark.parametrize(
    "text",
    [
        "",
        "in",
        "-1 in",
        "0",
        "0 mm",
        "1/0",
        "3,2 mm",
        "5 furlongs",
        "1/8/2",
        "1 2",
        "9" * 5000,
        "٣ in",
        "nan",
        "1e3",
    ],
)
def test_what_is_no_length_is_not_guessed(text: str) -> None:
    """Nought, signs, decimal commas, unknown units and endless digits give None, never a guess."""
    assert parse_length(text) is None


@pytest.mark.parametrize(
    ("text", "head"),
    [
        ("0.19 in x 0.06 in", (Fraction(19, 100), Fraction(3, 50))),
        ("0.19 x 0.06 in", (Fraction(19, 100), Fraction(3, 50))),
        ("0.19 in × 0.06", (Fraction(19, 100), Fraction(3, 50))),
        ("0.19x0.06", (Fraction(19, 100), Fraction(3, 50))),
        ("4.8 × 1.6 mm", (Fraction(24, 127), Fraction(8, 127))),
        ("3/16 by 1/16 in", (Fraction(3, 16), Fraction(1, 16))),
        ("0.19", None),
        ("0.19 x 0.06 x 0.1", None),
        ("0.19 in x", None),
        ("0 x 0.06 in", None),
        ("0.19 kg x 0.06 in", None),
    ],
)
def test_a_shop_head_is_width_and_height(text: str, head: tuple[Fraction, Fraction] | None) -> None:
    """Two figures make a head, one unit may stand for both; anything else is None."""
    read = parse_head(text)
    assert (read and (read[0].value, read[1].value)) == head


@pytest.mark.parametrize(
    ("text", "in_lb"),
    [
        ("62 in-lb", Fraction(62)),
        ("62 in-lbs", Fraction(62)),
        ("62 in.-lb.", Fraction(62)),
        ("62 lbf·in", Fraction(62)),
        ("62 inch-pounds", Fraction(62)),
        ("5 ft-lb", Fraction(60)),
        ("5 ft lbs", Fraction(60)),
        ("5 lb-ft", Fraction(60)),
        ("0 in-lb", Fraction(0)),
        ("62", None),
        ("62 kg", None),
        ("1,500 in-lb", None),
        ("", None),
    ],
)
def test_a_torque_needs_its_unit(text: str, in_lb: Fraction | None) -> None:
    """In-lb and ft-lb are read in every spelling; a bare number is refused, for the factor of twelve."""
    assert worth(parse_torque(text)) == in_lb


@pytest.mark.parametrize("text", ["7.0 N m", "7 Nm", "7 N·m", "7.00 n-m", "7 newton metres"])
def test_newton_metres_are_read_in_every_spelling(text: str) -> None:
    """7 N m is 7 over the exact factor."""
    assert worth(parse_torque(text)) == 7 / NM_PER_IN_LB


units = pint.UnitRegistry(non_int_type=Fraction)


@pytest.mark.parametrize(
    ("text", "pint_text", "unit"),
    [
        ("3.2 mm", "3.2 mm", "inch"),
        ("1.6 cm", "1.6 cm", "inch"),
        ("0.19 in", "0.19 inch", "inch"),
    ],
)
def test_lengths_agree_with_pint(text: str, pint_text: str, unit: str) -> None:
    """Source outside: the unit definitions of the `pint` library, in exact fractions."""
    number, name = pint_text.split()
    wanted = units.Quantity(Fraction(number), name).to(unit).magnitude
    assert worth(parse_length(text)) == wanted


@pytest.mark.parametrize(
    ("text", "number", "unit"),
    [
        ("7.0 N m", "7.0", units.newton * units.meter),
        ("5 ft-lb", "5", units.foot * units.force_pound),
        ("62 in-lb", "62", units.inch * units.force_pound),
    ],
)
def test_torques_agree_with_pint(text: str, number: str, unit: pint.Unit) -> None:
    """Source outside: the unit definitions of the `pint` library, in exact fractions."""
    wanted = units.Quantity(Fraction(number), unit).to(units.inch * units.force_pound).magnitude
    assert worth(parse_torque(text)) == wanted


def test_the_factor_agrees_with_the_handbook_figure() -> None:
    """in-lb to N m is 0.112985 to six figures, as shop references print it (from memory)."""
    assert say_decimal(NM_PER_IN_LB, 6) == "0.112985"
    assert Fraction(254, 10) == MM_PER_INCH


def test_what_is_said() -> None:
    """Lengths keep thousandths, fractions go to 64ths, torque leaves out a nought behind the point."""
    assert say_length(Fraction(1, 8)) == "0.125 in"
    assert say_length(Fraction(13, 64)) == "0.2031 in"
    assert say_least(Fraction(9, 32)) == "0.2813 in"
    assert say_least(Fraction(1, 4)) == "0.250 in"
    assert say_least_millimetres(Fraction(9, 32)) == "7.15 mm"
    assert say_fraction(Fraction(1, 8)) == "1/8 in"
    assert say_fraction(Fraction(17, 16)) == "1 1/16 in"
    assert say_fraction(Fraction(2)) == "2 in"
    assert say_fraction(Fraction(1, 3)) == "0.3333 in"
    assert say_millimetres(Fraction(1, 8)) == "3.18 mm"
    assert say_torque(Fraction(62)) == "62 in-lb"
    assert say_torque(Fraction(125, 2)) == "62.5 in-lb"
    assert say_figure(Fraction(62), Dimension.TORQUE).partition("(")[2].startswith("7.01 N m, ")
    assert say_decimal(Fraction(-1, 8), 2) == "-0.13"
    assert say_decimal(Fraction(5, 2), 0) == "3"
    assert say_figure(Fraction(1, 2000), Dimension.RESISTANCE) == "0.5 mohm"
    assert say_figure(15 / KG_PER_POUND / 1000, Dimension.WEIGHT) == "0.033 lb (15 g)"


@given(st.fractions(min_value=Fraction(1, 64), max_value=100, max_denominator=64))
def test_what_is_said_in_fractions_reads_back(inches: Fraction) -> None:
    """A length on a 64th is said and read again without loss."""
    if 64 % inches.denominator == 0:
        assert worth(parse_length(say_fraction(inches))) == inches


@given(st.text(max_size=40))
def test_no_text_breaks_the_readers(text: str) -> None:
    """Whatever is written, the readers answer with a positive fraction or None."""
    length, torque, head = parse_length(text), parse_torque(text), parse_head(text)
    limit = parse_limit(text)
    assert length is None or length.value > 0
    assert torque is None or torque.value >= 0
    assert head is None or min(side.value for side in head) > 0
    assert limit is None or limit.least is None or limit.most is None or limit.least <= limit.most


VALUES = st.fractions(min_value=-1000, max_value=1000, max_denominator=3200)


@given(VALUES, st.integers(0, 5), st.integers(0, 5))
def test_decimals_are_those_of_the_decimal_module(value: Fraction, most: int, least: int) -> None:
    """A half goes away from nought (ROUND_HALF_UP of Python's decimal); closing noughts are cut down to `least`."""
    least = min(least, most)
    with localcontext() as context:
        context.prec = 80
        context.rounding = ROUND_HALF_UP
        # 3,200 divides no power of ten in all cases: forty digits tell every half from what is beside it.
        exact = Decimal(value.numerator) / Decimal(value.denominator)
        whole, _, digits = f"{exact.quantize(Decimal(1).scaleb(-most)):f}".partition(".")
    digits = digits.rstrip("0").ljust(least, "0")
    expected = f"{whole}.{digits}" if digits else whole
    nought = not expected.strip("-0.")
    assert say_decimal(value, most, least) == (expected.removeprefix("-") if nought else expected)


@given(st.fractions(min_value=0, max_value=50, max_denominator=10_000))
def test_a_least_length_is_never_said_under_itself(inches: Fraction) -> None:
    """What is shown is at least the limit, and by less than a ten-thousandth (a hundredth of a millimetre) more."""
    said = Fraction(say_least(inches).removesuffix(" in"))
    assert inches <= said < inches + Fraction(1, 10_000)
    metric = Fraction(say_least_millimetres(inches).removesuffix(" mm"))
    assert inches * Fraction("25.4") <= metric < inches * Fraction("25.4") + Fraction(1, 100)


@pytest.mark.parametrize(
    ("inches", "said"),
    [
        (Fraction(1, 64), "1/64 in"),
        (Fraction(1, 32), "1/32 in"),
        (Fraction(1, 2), "1/2 in"),
        (Fraction(1, 128), "0.0078 in"),
        (Fraction(65, 64), "1 1/64 in"),
        (Fraction(0), "0 in"),
        (Fraction(3), "3 in"),
        (Fraction(1, 5), "0.200 in"),
    ],
)
def test_fractions_of_a_rule(inches: Fraction, said: str) -> None:
    """To 64ths, else decimals."""
    assert say_fraction(inches) == said


F = Fraction


@pytest.mark.parametrize(
    ("text", "least", "most", "dimension"),
    [
        ("62 in-lb", F(62), F(62), Dimension.TORQUE),
        ("60 to 65 in-lb", F(60), F(65), Dimension.TORQUE),
        ("60-65 in-lb", F(60), F(65), Dimension.TORQUE),
        ("60 in-lb to 65 in-lb", F(60), F(65), Dimension.TORQUE),
        ("5 ft-lb - 6 ft-lb", F(60), F(72), Dimension.TORQUE),
        ("62 ±3 in-lb", F(59), F(65), Dimension.TORQUE),
        ("62 in-lb +/- 3", F(59), F(65), Dimension.TORQUE),
        ("60 in-lb ±5 %", F(57), F(63), Dimension.TORQUE),
        ("0.19 +0.01 -0 in", F("0.19"), F("0.20"), Dimension.LENGTH),
        ("0.19 in -0.02/+0.01", F("0.17"), F("0.20"), Dimension.LENGTH),
        ("at least 1/4 in", F(1, 4), None, Dimension.LENGTH),
        ("0.25 in min", F(1, 4), None, Dimension.LENGTH),
        ("≥ 6.35 mm", F(1, 4), None, Dimension.LENGTH),
        ("no more than 0.020 in", None, F("0.02"), Dimension.LENGTH),
        ("between 24 and 26 degrees", F(24), F(26), Dimension.ANGLE),
        ("25° ± 1°", F(24), F(26), Dimension.ANGLE),
        ("from 1/8 to 1/4 in", F(1, 8), F(1, 4), Dimension.LENGTH),
        ("1/8-1/4 in", F(1, 8), F(1, 4), Dimension.LENGTH),
        ("1-1/8 in", F(9, 8), F(9, 8), Dimension.LENGTH),
        ("24 h", F(1440), F(1440), Dimension.TIME),
        ("-10 to 0°", F(-10), F(0), Dimension.ANGLE),
        ("\N{MINUS SIGN}2 ±0.5 °", F("-2.5"), F("-1.5"), Dimension.ANGLE),
        ("at least -1/8 in", F(-1, 8), None, Dimension.LENGTH),
        ("max 2.5 mΩ", None, F("0.0025"), Dimension.RESISTANCE),
        ("max 2.5 M\N{OHM SIGN}", None, F(2_500_000), Dimension.RESISTANCE),
    ],
)
def test_a_limit_in_every_way_of_writing_it(
    text: str, least: Fraction | None, most: Fraction | None, dimension: Dimension
) -> None:
    """One figure, a range, a tolerance, one end: the unit that only one figure has is that of all."""
    limit = parse_limit(text)
    assert limit is not None
    assert (limit.least, limit.most, limit.dimension) == (least, most, dimension)


@pytest.mark.parametrize(
    "text",
    ["", "62", "-5", "- 5 in", "65 to 60 in-lb", "60 in to 65 in-lb", "62 +3 in-lb", "1,5 in", "about 5 in", "#30"],
)
def test_what_is_no_limit(text: str) -> None:
    """Without a unit, backwards, of two kinds: nothing is guessed."""
    assert parse_limit(text) is None


@pytest.mark.parametrize(
    ("limit", "figure", "off"),
    [
        ("at least 0.234375 in", "0.234 in", "0"),
        ("at least 0.234375 in", "0.233 in", "-0.001375"),
        ("at least 0.203125 in", ".203", "0"),
        ("at least 0.163 in", "4.14 mm", "0"),
        ("at least 3/16 in", "0.187", "0"),
        ("at least 3/16 in", "0.18", "-0.0075"),
        ("at least 3/16 in", "11/64 in", "-0.015625"),
        ("62 in-lb", "7.0 N m", "0"),
        ("62 in-lb", "63 in-lb", "1"),
        ("62 in-lb", "64 in-lb", "2"),
        ("60 to 65 in-lb", "65.5 in-lb", "0.5"),
        ("25 degrees", "25.4 degrees", "0"),
    ],
)
def test_a_figure_counts_at_the_precision_it_was_written_at(limit: str, figure: str, off: str) -> None:
    """Half of the last place is room: .234 stands for 2.5 D of 3/32, which is .234375; a fraction is exact."""
    asked, measured = parse_limit(limit), parse_quantity(figure, Dimension.LENGTH)
    assert asked is not None
    assert measured is not None
    assert asked.off(measured) == F(off)


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        *(("3.5 kg", "pound"), ("12 oz", "pound"), ("20 kgf", "force_pound"), ("45 N", "force_pound")),
        *(("250 mbar", "psi"), ("3 bar", "psi"), ("40 l", "US_liquid_gallon")),
        *((text, "US_liquid_gallon/hour") for text in ("95 l/h", "2 gal/min")),
    ],
)
def test_other_units_agree_with_pint(text: str, unit: str) -> None:
    """Source outside: the unit definitions of the `pint` library, in exact fractions."""
    number, name = text.split()
    spelt = {"oz": "ounce", "kgf": "kilogram_force", "l/h": "liter/hour", "l": "liter"}
    spelt["gal/min"] = "US_liquid_gallon/minute"
    wanted = units.Quantity(Fraction(number), spelt.get(name, name)).to(unit).magnitude
    assert worth(parse_quantity(text)) == wanted


SPELT = {
    "inch": "in|inch|inches|\"|″|”|''",
    "foot": "ft|foot|feet",
    "millimeter": "mm|millimetre|millimetres|millimeter|millimeters",
    "centimeter": "cm|centimetre|centimetres|centimeter|centimeters",
    "meter": "m|metre|metres|meter|meters",
    "newton*meter": "nm|n m|newton metre|newton metres|newton meter|newton meters|N·m|N-m",
    "kilogram_force*meter": "kgm|kg m|kgf m|mkg",
    "inch*force_pound": "in-lb|in lb|inlb|in-lbs|lb-in|lbf in|inch pounds|inches lb|pound inch",
    "foot*force_pound": "ft-lb|ft lbs|ftlb|lb-ft|lbf ft|foot pounds|feet lb",
    "pound": "lb|lbs|lbf|pound|pounds",
    "kilogram": "kg|kgf|kilogram|kilograms",
    "gram": "g|gram|grams",
    "ounce": "oz|ounce|ounces",
    "force_newton": "n|newton|newtons",
    "force_decanewton": "daN",
    "degree": "°|deg|degree|degrees",
    "arcminute": "'",
    "psi": "psi",
    "pascal": "Pa",
    "kilopascal": "kPa",
    "bar": "bar",
    "hectopascal": "mbar|hPa",
    "US_liquid_gallon": "gal|gallon|gallons|US gal",
    "liter": "l|litre|litres|liter|liters",
    "US_liquid_gallon/hour": "gal/h|gallons per hour|gph|gal/hr|gallon/hour",
    "US_liquid_gallon/minute": "gal/min|gpm|gallons per minute|gallon/minute",
    "liter/hour": "l/h|litres per hour|l/hr|litre/hour",
    "liter/minute": "l/min|litres per minute|liter/minute",
    "minute": "min|minute|minutes",
    "hour": "h|hr|hour|hours",
    "day": "d|day|days",
    "second": "s|sec|second|seconds",
    "ohm": "ohm|ohms|Ω",
    "milliohm": "mohm|milliohm|milliohms|mΩ",
    "kiloohm": "kohm|kΩ",
    "volt": "V|volt|volts",
    "millivolt": "mV",
    "megaohm": "megohm|megohms|megΩ",
    "ampere": "A|amp|amps|ampere",
    "milliampere": "mA",
}
IN_BASE = {
    Dimension.LENGTH: "inch",
    Dimension.TORQUE: "inch*force_pound",
    Dimension.ANGLE: "degree",
    Dimension.PRESSURE: "psi",
    Dimension.VOLUME: "US_liquid_gallon",
    Dimension.FLOW: "US_liquid_gallon/hour",
    Dimension.TIME: "minute",
    Dimension.RESISTANCE: "ohm",
    Dimension.VOLTAGE: "volt",
    Dimension.CURRENT: "ampere",
}


@pytest.mark.parametrize(
    ("unit", "spelling"), [(unit, one) for unit, all_of in SPELT.items() for one in all_of.split("|")]
)
def test_every_spelling_of_every_unit_agrees_with_pint(unit: str, spelling: str) -> None:
    """Source outside: `pint`. A weight and the force it has are one here, so a newton is told in pounds of force."""
    figure = parse_quantity(f"3 {spelling}")
    assert figure is not None
    if figure.dimension is Dimension.WEIGHT:
        name = unit.removeprefix("force_")
        base = "force_pound" if unit != name else "pound"
    else:
        name, base = unit, IN_BASE[figure.dimension]
    pi = units.Quantity(Fraction(3), name).to(base).magnitude
    # An angle goes through pi in pint, which is no fraction.
    assert figure.value == pi or abs(float(figure.value) - float(pi)) < 1e-12


@pytest.mark.parametrize(
    ("value", "dimension", "said"),
    [
        (F(1, 8), Dimension.LENGTH, "0.125 in (3.18 mm)"),
        (F(62), Dimension.TORQUE, "62 in-lb (7.01 N m, 5.17 ft-lb)"),
        (F(100), Dimension.WEIGHT, "100 lb (45.36 kg)"),
        (F(25), Dimension.ANGLE, "25°"),
        (F(3), Dimension.PRESSURE, "3 psi (206.84 mbar)"),
        (F(20), Dimension.VOLUME, "20 gal (75.71 l)"),
        (F(20), Dimension.FLOW, "20 gal/h (75.71 l/h)"),
        (F(2), Dimension.RESISTANCE, "2 ohm"),
        (F(12), Dimension.VOLTAGE, "12 V"),
        (F(90), Dimension.TIME, "90 min"),
        (F(3), Dimension.NUMBER, "3"),
    ],
)
def test_a_figure_is_said_with_metric_beside_it(value: Fraction, dimension: Dimension, said: str) -> None:
    """Factors as `pint` has them, rounded to two places."""
    assert say_figure(value, dimension) == said


@pytest.mark.parametrize(
    ("inches_first", "turned"),
    [
        ("at least 2 D = 0.25 in (6.35 mm), nominal", "at least 2 D = 6.35 mm (0.25 in), nominal"),
        ("62 in-lb (7.01 N m, 5.17 ft-lb)", "7.01 N m (62 in-lb, 5.17 ft-lb)"),
        ("50 to 70 in-lb (5.65 to 7.91 N m)", "5.65 to 7.91 N m (50 to 70 in-lb)"),
        ("1,169 lb (530.25 kg) at 10.6 in (269.2 mm)", "530.25 kg (1,169 lb) at 269.2 mm (10.6 in)"),
        ("12,391.4 in-lb (142.77 kg m)", "142.77 kg m (12,391.4 in-lb)"),
        ("1/8 in, as the manual says (page 4)", "1/8 in, as the manual says (page 4)"),
    ],
)
def test_metric_may_stand_first(inches_first: str, turned: str) -> None:
    """What is told in both units is turned round; nothing else is touched."""
    assert metric_first(inches_first) == turned
    assert metric_first(turned) == turned
