"""Positions, telephone and account numbers and e-mail addresses in a text: what looks like one, to be looked at."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import phonenumbers
from stdnum import iban, luhn

from journal.base.prose import without_unseen

_DEGREES = (
    r"\d{1,3}(?:[.,]\d+)?\s*(?:°|º|deg)?\s*(?:\d{1,2}(?:[.,]\d+)?\s*['′’]?\s*)?(?:\d{1,2}(?:[.,]\d+)?\s*[\"″”]?)?"
)
_PAIR = re.compile(r"(?<![\d.])(-?\d{1,2}\.\d{4,})\s*[,;/ ]\s*(-?\d{1,3}\.\d{4,})(?![\d.])")
_NOTATIONS = (
    re.compile(rf"(?<![^\W\d_])[NS]\s*{_DEGREES}[\s,;/]*(?<![^\W\d_])[EWO]\s*{_DEGREES}"),
    re.compile(rf"(?<![\d.]){_DEGREES}\s*[NS](?![^\W_])[\s,;/]*{_DEGREES}\s*[EWO](?![^\W_])"),
    re.compile(r"\d{1,3}\s*°\s*\d{1,2}(?:\.\d+)?\s*['′]\s*(?:\d{1,2}(?:\.\d+)?\s*[\"″]\s*)?[NSEW]\b"),
    re.compile(r"(?<![\d.])\d{1,3}[.,]\d{3,}\s*°\s*[NSEWO]?"),
    # Universal Transverse Mercator and the grid of NATO; Open Location Code; the Swiss grid of 1995.
    re.compile(r"(?<!\w)\d{1,2}\s?[C-HJ-NP-X]\s+\d{6}(?:\.\d+)?\s?m?\s*E?[\s,]+\d{7}(?:\.\d+)?\s?m?\s*N?(?!\w)"),
    re.compile(r"(?<!\w)\d{1,2}[C-HJ-NP-X]\s?[A-HJ-NP-Z]{2}\s?(?:\d{4}\s\d{4}|\d{5}\s\d{5}|\d{8}|\d{10})(?!\w)"),
    re.compile(r"(?<!\w)(?:[23456789CFGHJMPQRVWX]{8}|[23456789CFGHJMPQRVWX]{4,6})\+[23456789CFGHJMPQRVWX]{2,3}(?!\w)"),
    re.compile(r"(?<!\d)2[ '’]?[4-8]\d{2}[ '’]?\d{3}(?:\.\d+)?\s*[,/;]?\s*1[ '’]?[0-3]\d{2}[ '’]?\d{3}(?!\d)"),
)
_WORDS = re.compile(
    r"\blat(?:itude)?\W{1,3}-?\d{1,2}[.,]\d{3,}.{1,16}?\blon(?:g|gitude)?\W{1,3}-?\d{1,3}[.,]\d{3,}"
    r"|maps\.app\.goo\.gl/\w+|goo\.gl/maps/\w+|what3words\.com/\w+|w3w\.co/\w+|!3d-?\d+\.\d+!4d|mlat=-?\d+\.\d+"
    r"|GPS(?:Latitude|Longitude|Position|Coordinates)|\bgeo:-?\d|///[a-z]+\.[a-z]+\.[a-z]+\b",
    re.IGNORECASE,
)
_MAIL = re.compile(
    r"(?<![\w.+-])[\w.+-]{1,64}\s?(?:@|[(\[{]\s?(?:at|a)\s?[)\]}])\s?[\w-]+"
    r"(?:(?:\.|\s?[(\[{]\s?(?:dot|punkt)\s?[)\]}]\s?)[\w-]+)*(?:\.|\s?[(\[{]\s?(?:dot|punkt)\s?[)\]}]\s?)[a-z]{2,}(?!\w)",
    re.IGNORECASE,
)
_SPOKEN_MAIL = re.compile(r"(?<![\w.-])[\w.-]{1,64} at [\w-]+ dot (?:[\w-]+ dot )?[a-z]{2,4}(?!\w)", re.IGNORECASE)
_FILES = (".png", ".jpg", ".jpeg", ".webp", ".svg", ".css", ".js")
_TELEPHONE = re.compile(r"(?<![\w.,])[+(]?\d[\d ()/.\-\u2010-\u2013\u00a0]{5,22}\d(?![\w])")
_ACCOUNT = re.compile(
    r"(?<!\w)[A-Z]{2}\d{2}(?:[ \u00a0]?[A-Z0-9]{4}){2,7}(?:[ \u00a0]?[A-Z0-9]{1,4})?(?!\w)", re.IGNORECASE
)
_CARD = re.compile(r"(?<![\w.])\d{4}(?:[ -]?\d{4}){2,3}[ -]?\d{1,4}(?![\w.])")


@dataclass(frozen=True, slots=True)
class Look:
    """`text` as it stands, what it looks like, and the key under which other spellings of it meet."""

    what: str
    text: str

    @property
    def key(self) -> str:
        """Letters and digits alone."""
        return "".join(one for one in self.text.casefold() if one.isalnum())


def looks_in(text: str, region: str = "") -> Iterator[Look]:
    """Everything in `text` that looks like a position, a telephone or account number or an e-mail address.

    `region` (ISO 3166, two letters) is the country in which a number without a country's code may be dialled.
    """
    text = without_unseen(text)
    for found in _WORDS.finditer(text):
        yield Look("words of a position", found[0])
    for found in _PAIR.finditer(text):
        if _could_be_a_position(float(found[1]), float(found[2])):
            yield Look("what looks like a position", f"{found[1]}, {found[2]}")
    seen: list[re.Match[str]] = []
    for found in (found for pattern in _NOTATIONS for found in pattern.finditer(text)):
        # A letter and a figure (N 12) are a bolt or a page; half of a pair is told with it.
        figures = sum(one.isalnum() for one in found[0])
        if figures > 4 and not any(one.start() <= found.start() and found.end() <= one.end() for one in seen):
            seen.append(found)
            yield Look("what looks like a position", " ".join(found[0].split()))
    for found in (*_MAIL.finditer(text), *_SPOKEN_MAIL.finditer(text)):
        if not found[0].casefold().endswith(_FILES):
            yield Look("what looks like an e-mail address", found[0])
    for found in _ACCOUNT.finditer(text):
        if iban.is_valid(found[0]):
            yield Look("what looks like an account number", found[0])
    for found in _CARD.finditer(text):
        digits = re.sub(r"\D", "", found[0])
        if len(digits) <= 19 and luhn.is_valid(digits) and len(set(digits)) > 3:
            yield Look("what looks like a card number", found[0])
    for found in _TELEPHONE.finditer(text):
        if _is_telephone(found[0], region):
            yield Look("what looks like a telephone number", found[0])


@lru_cache(maxsize=65_536)
def _is_telephone(text: str, region: str) -> bool:
    return any(phonenumbers.PhoneNumberMatcher(text, region or None, leniency=phonenumbers.Leniency.VALID))


def _could_be_a_position(latitude: float, longitude: float) -> bool:
    """On the globe, and no pair of lengths: those below one inch, or both of whole 64ths of it."""
    if abs(latitude) > 90 or abs(longitude) > 180 or max(abs(latitude), abs(longitude)) < 1:
        return False
    return any(abs(figure * 64 - round(figure * 64)) > 0.004 for figure in (latitude, longitude))
