"""What a word is: the trade's tokens, folded spelling, stems."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from journal.finding.rules import shipped_rules
from journal.finding.tokens import DATE, PHRASE, QUANTITY, SCALE, STOP, Tokenizer

TOKENIZER = Tokenizer(shipped_rules())


def terms(text: str) -> list[str]:
    """The terms of a text without its stop words, quantities, phrases and dates."""
    return [one.term for one in TOKENIZER.tokens(text) if one.kind not in (STOP, QUANTITY, PHRASE, DATE)]


def quantity(text: str) -> tuple[str, float, float]:
    """Base unit, value and half of the last place of the first quantity."""
    term = next(token.term for token in TOKENIZER.tokens(text) if token.kind == QUANTITY)
    unit, value, half = re.fullmatch(r"=(.*?)(-?[0-9]+)~([0-9]+)", term).groups()  # type: ignore[union-attr]
    return unit, int(value) / SCALE, int(half) / SCALE


@pytest.mark.parametrize(
    ("text", "unit", "value", "half"),
    [
        # NIST Special Publication 811, appendix B.8: 1 lbf in = 0.1129848 N m, 1 lbf ft = 1.355818 N m.
        ("2.5 N m", "in-lb", 2.5 / 0.1129848, 0.05 / 0.1129848),
        ("7 Nm", "in-lb", 7 / 0.1129848, 0.5 / 0.1129848),
        ("5 ft-lb", "in-lb", 5 * 1.355818 / 0.1129848, 6),
        ("62 inch pounds", "in-lb", 62, 0.5),
        # 1 in = 25.4 mm, 1 mil (thou) = 0.001 in, exactly (the same).
        ("4.8 mm", "in", 4.8 / 25.4, 0.05 / 25.4),
        ("40 thou", "in", 0.04, 0.0005),
        ("3/32 in", "in", 3 / 32, 0),
        ('1/8"', "in", 1 / 8, 0),
        ("1-1/2 in", "in", 1.5, 0),
        ("half a millimetre", "in", 0.5 / 25.4, 0.125 / 25.4),
        ("a quarter of an inch", "in", 0.25, 0.0625),
        ("0.032", "in", 0.032, 0.0005),
        ("032", "in", 0.032, 0.0005),
        # Diameter of drill No. 40: the drill table of trade/data/drills.csv.
        ("No. 40", "in", 0.098, 0),
        # 1 psi = 6.894757 kPa, 1 bar = 100 kPa; 1 lb = 0.45359237 kg; t/°C = (t/°F - 32)/1.8 (the same).
        ("5.5 bar", "psi", 550 / 6.894757, 5 / 6.894757),
        ("38 to 42 psi", "psi", 38, 0.5),
        ("41 kg", "lb", 41 / 0.45359237, 0.5 / 0.45359237),
        ("63°F", "°C", 31 / 1.8, 0.5 / 1.8),
        ("22 degrees C", "°C", 22, 0.5),
        ("1.5 h", "min", 90, 3),
        ("62in-lb", "in-lb", 62, 0.5),
        ("1,250 mm", "in", 1250 / 25.4, 0.5 / 25.4),
    ],
)
def test_a_figure_with_its_unit_is_a_value(text: str, unit: str, value: float, half: float) -> None:
    """In one unit for each dimension, with the precision it was written at."""
    told = quantity(text)
    assert told[0] == unit
    assert told[1:] == pytest.approx((value, half), abs=2e-4, rel=2e-6)


@pytest.mark.parametrize(
    "text", ["2 wings", "AN470AD4-5", "7.10", "step 7.10", "9/0", "99999999999 mm", "W-1007-L", "1" * 5000 + "/3"]
)
def test_what_is_no_quantity(text: str) -> None:
    """Counts, parts, steps, and figures that no shop measures."""
    assert not [token for token in TOKENIZER.tokens(text) if token.kind == QUANTITY]


@pytest.mark.parametrize(
    ("text", "first"),
    [
        # ISO 8601 calendar dates; a day first as most of the world writes it, unless that cannot be.
        *((text, "@2026-06-14") for text in ("2026-06-14", "14.06.2026", "14/6/26", "06/14/2026", "14 June 2026")),
        *((text, "@2026-06-14") for text in ("June 14th, 2026", "14th of Jun 2026", "Jun 14 2026")),
        *((text, "@06-14") for text in ("14 June", "June 14th", "14th of June")),
        *((text, "@2026-06") for text in ("June 2026", "2026-06", "in jun 2026")),
        *((text, "@06") for text in ("June", "in June", "in jun")),
        *((text, "@2026-spring") for text in ("spring 2026", "in spring 2026")),
        ("last summer", "@summer"),
        ("in May", "@05"),
    ],
)
def test_dates_in_the_usual_spellings(text: str, first: str) -> None:
    """The most telling term first."""
    assert next(token.term for token in TOKENIZER.tokens(text) if token.kind == DATE) == first


@pytest.mark.parametrize(
    "text",
    [
        "14 of",
        "the 14th of",
        "may we",
        "march the ribs",
        "a spring",
        "31.13.2026",
        "may 3 mm",
        "the fall of it",
        "14",
        "2026",
    ],
)
def test_what_is_no_date(text: str) -> None:
    """Words that are months elsewhere, and figures alone."""
    assert not [token for token in TOKENIZER.tokens(text) if token.kind == DATE]


def test_a_day_is_found_by_month_season_and_year() -> None:
    """A winter by the year in which it begins and by that in which it ends."""
    told = [token.term for token in TOKENIZER.tokens("2026-01-05")]
    assert told == ["@2026-01-05", "@01-05", "@2026-01", "@01", "@2025-winter", "@2026-winter", "@winter", "2026"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("7.1", ["7.1"]),
        ("7.10", ["7.10"]),
        ("step 7.10.2", ["step", "7.10.2"]),
        ("0.032", [".032"]),
        (".0320", [".032"]),
        ("0.5", [".5"]),
        ("1.50", ["1.50"]),
        ("1,250", ["1250"]),
        ("7.10,7.11", ["7.10", "7.11"]),
        ("3/32", ["3/32"]),
        ('1/8"', ["1/8"]),
        ("1-1/2", ["1", "1/2"]),
        ("1½", ["1", "1/2"]),
        ("3⁄32", ["3/32"]),
        ("#40", ["#40", "40"]),
        ("No. 40", ["#40", "40"]),
        ("no 30", ["#30", "30"]),
        ("number 21", ["#21", "21"]),
        ("AN426AD3-3.5", ["an-426-ad-3-3-5"]),
        ("an426ad3-3.5,", ["an-426-ad-3-3-5"]),
        ("AN470AD4‑5", ["an-470-ad-4-5"]),
        ("AN470AD4–5", ["an-470-ad-4-5"]),
        ("W-1007-L", ["w-1007-l"]),
        ("W1007L", ["w-1007-l"]),
        ("W-1007-left", ["w-1007", "left"]),
        ("2024-T3", ["2024-t-3"]),
        ("10-32", ["10-32"]),
        ("62 in-lb", ["62", "inlb"]),
        ("62in-lb", ["62", "inlb"]),
        ("62 inch pounds", ["62", "inlb"]),
        ("62 in lb", ["62", "inlb"]),
        ("7 N·m", ["7", "nm"]),
        ("7 Nm", ["7", "nm"]),
        ("5 ft-lbs", ["5", "ftlb"]),
        ("3mm", ["3", "mm"]),
        ("20-gauge", ["20", "gauge"]),
        ("5.3–5.6", ["5.3", "5.6"]),
        ("2x4", ["2", "4"]),
        ("back-riveting", ["back", "rivet", "backrivet"]),
        ("builder's", ["builder"]),
        ("2nd", ["second"]),
    ],
)
def test_the_trade_writes_so(text: str, expected: list[str]) -> None:
    """Each way of writing comes out as one known token."""
    assert terms(text) == expected


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("aluminium", "aluminum"),
        ("moulding", "molding"),
        ("colours", "color"),
        ("tyres", "tire"),
        ("grey", "gray"),
        ("centre", "center"),
        ("anodised", "anodized"),
        ("labelled", "labeled"),
        ("vice", "vise"),
        ("dimpling", "dimples"),
        ("dimpled", "dimple"),
        ("deburr", "deburring"),
        ("burr", "burred"),
        ("held", "hold"),
        ("countersunk", "countersinking"),
        ("riveted", "rivets"),
        ("rivetted", "rivet"),
        ("drove", "drive"),
        ("Zürich", "zurich"),
        ("naïve", "naive"),
    ],
)
def test_two_spellings_one_word(one: str, other: str) -> None:
    """British and American spelling, irregular forms, endings and accents make no difference."""
    assert terms(one) == terms(other)


@pytest.mark.parametrize(("one", "other"), [("7.1", "7.10"), ("3/32", "3/16"), ("rib", "ribbon"), ("AN3", "AN30")])
def test_two_things_two_words(one: str, other: str) -> None:
    """What differs in the shop differs in the index."""
    assert terms(one) != terms(other)


@settings(deadline=None)
@given(st.text(max_size=200))
def test_any_text_is_cut_into_tokens_that_lie_in_it(text: str) -> None:
    """No text is refused; tokens lie within it, in order, and their positions never go back."""
    tokens = TOKENIZER.tokens(text)
    assert all(0 <= token.start < token.end <= len(text) and token.term for token in tokens)
    assert [token.start for token in tokens] == sorted(token.start for token in tokens)
    chunks: dict[tuple[int, int], list[int]] = {}
    for token in tokens:
        if token.kind not in (QUANTITY, PHRASE):  # these reach over several chunks
            chunks.setdefault((token.start, token.end), []).append(token.position)
    spans = [(min(positions), max(positions)) for positions in chunks.values()]
    assert all(before[1] < after[0] for before, after in pairwise(spans))


@settings(deadline=None)
@given(st.from_regex(r"[A-Za-z]{1,3}-?[0-9]{2,5}(-[A-Z0-9]{1,2})?", fullmatch=True))
def test_a_part_number_is_the_same_with_and_without_hyphens(part: str) -> None:
    """However a drawing hyphenates a part number between letters and figures, it is one term."""
    pieces = terms(part)
    if len(pieces) == 1 and "-" in pieces[0]:
        assert terms(part.lower()) == pieces
        assert terms(pieces[0]) == pieces


@pytest.mark.parametrize(
    ("text", "places"),
    [
        ("skin/rib/spar/#40", {"skin": 0, "rib": 1, "spar": 2, "#40": 3, "40": 3, "=in980~0": 3}),
        ("ribs,spars,#40", {"rib": 0, "spar": 1, "#40": 2, "40": 2, "=in980~0": 2}),
        ("spring 2026 rib", {"@2026-spring": 0, "@spring": 0, "2026": 0, "rib": 1}),
        ("14 June 2026, rib", {"@2026-06-14": 0, "2026": 0, "rib": 1}),
        ("skin/rib/#40/#30", {"skin": 0, "rib": 1, "#40": 2, "40": 2, "#30": 3, "30": 3, "=in1285~0": 3}),
    ],
)
def test_what_a_figure_means_stands_where_it_is_written(text: str, places: dict[str, int]) -> None:
    """A drill with its number and diameter, a season with its year: one place, so that words beside it are near."""
    found = {one.term: one.position for one in TOKENIZER.tokens(text)}
    assert {term: found.get(term) for term in places} == places
