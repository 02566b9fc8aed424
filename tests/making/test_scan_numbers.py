"""Numbers of people and places: positions in the usual notations, telephone, account and card numbers, addresses.

Positions: RFC 5870 (`geo:`), ISO 6709 Annex D and the notations that receivers offer (degrees; degrees and minutes;
degrees, minutes and seconds), the grids UTM and MGRS, Open Location Code, the Swiss grid LV95. Telephone numbers are
judged by the `phonenumbers` library, account numbers by `stdnum` (ISO 13616), card numbers by ISO/IEC 7812 (Luhn).
The samples are invented or the standards' own.
"""

from __future__ import annotations

import pytest

from journal.making.scan_numbers import Look, looks_in

POSITION, TELEPHONE = "what looks like a position", "what looks like a telephone number"
MAIL, ACCOUNT, CARD = (
    "what looks like an e-mail address",
    "what looks like an account number",
    "what looks like a card number",
)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("N47 29.995 E8 43.448", POSITION),
        ("N 47° 29.995' E 008° 43.448'", POSITION),
        ("47° 29.995' N, 8° 43.448' E", POSITION),
        ("47°29'59.7\"N 8°43'26.9\"E", POSITION),
        ("47.49992 N 8.72413 E", POSITION),
        ("47,4999° N, 8,7241° O", POSITION),
        ("47.4999°", POSITION),
        ("N47 E8", POSITION),
        ("47.49992, 8.72413", POSITION),
        ("8FVC9G8F+6X", POSITION),
        ("32T 464000 5260000", POSITION),
        ("32T MT 64000 59000", POSITION),
        ("2'697'000 / 1'261'000", POSITION),
        ("2697000, 1261000", POSITION),
        ("geo:47.4,8.7", "words of a position"),
        ("///filled.count.soap", "words of a position"),
        ("lat 47.3769, lon 8.5417", "words of a position"),
        ("Latitude: 47.376 and longitude: 8.541", "words of a position"),
        ("https://maps.app.goo.gl/abc", "words of a position"),
        ("what3words.com/filled.count.soap", "words of a position"),
        ("ada at tarn dot com", MAIL),
        ("079 123 45 67", TELEPHONE),
        ("+41 79 123 45 67", TELEPHONE),
        ("0041791234567", TELEPHONE),
        ("(044) 668 18 00", TELEPHONE),
        ("+49 30 901820", TELEPHONE),
        ("ada@tarn.example", MAIL),
        ("ada.b+x@mail.tarn.example", MAIL),
        ("ada (at) tarn (dot) example", MAIL),
        ("ada[at]tarn[dot]example", MAIL),
        ("CH93 0076 2011 6238 5295 7", ACCOUNT),
        ("gb82west12345698765432", ACCOUNT),
        ("4539 1488 0343 6467", CARD),
        ("4539 1488 0343 3", CARD),
        ("4539 1488 0343 6467 008", CARD),
        ("0\u200b79 123 45\u00ad 67", TELEPHONE),
    ],
)
def test_what_is_to_be_looked_at(text: str, what: str) -> None:
    """Each of them once, alone and in a sentence."""
    assert [look.what for look in looks_in(text, "CH")] == [what]
    assert [look.what for look in looks_in(f"Call or come: {text} (evenings).", "CH")] == [what]


@pytest.mark.parametrize(
    "text",
    [
        "AN470AD4-5, 48 of them, grip 0.125 in",
        "edge 0.28 in, 0.2500 0.3125",
        "N12 and E4, 90° bend of 12'",
        "N5 E4",
        "62 in-lb, 7.0 N m, S 4",
        "2026-02-07 18:30-21:45",
        "7.10 to 7.15, 1/8 3/32 5/32",
        "IMG_20260207_183000.jpg, a@2x.png",
        "Invoice 20260207, serial TARN-0417, 1,234,567",
        "CH94 0076 2011 6238 5295 7",
        "4539 1488 0343 6468 is no card, 1111 1111 1111 1111 neither",
        "4539 1488 0343 6467 0000 is of 20 digits",
        "see 12345678 and 0.040 0.032 0.025 0.020",
        "rev. 2.0.0.1 of 3.11.2026",
        *(f"one@2x{ending}" for ending in (".png", ".jpg", ".JPEG", ".webp", ".svg", ".css", ".js")),
    ],
)
def test_figures_of_the_trade_are_none(text: str) -> None:
    """Part numbers, lengths, dates, steps, checks that fail."""
    assert list(looks_in(text, "CH")) == []


def test_spellings_meet() -> None:
    """By letters and digits alone, so that the line of the source is found."""
    assert Look("x", "079 123-45 67").key == Look("x", "(079) 123 45 67").key == "0791234567"
