"""What a word is: the trade's tokens, folded spelling, stems."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from journal.finding.rules import shipped_rules
from journal.finding.tokens import STOP, Tokenizer

TOKENIZER = Tokenizer(shipped_rules())


def terms(text: str) -> list[str]:
    """The terms of a text without its stop words."""
    return [token.term for token in TOKENIZER.tokens(text) if token.kind != STOP]


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
        ("2026-02-07", ["2026-02-07"]),
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
