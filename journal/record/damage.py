"""What can be wrong with an archive, as typed findings in a fixed order."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum


class DamageKind(Enum):
    """Kinds of damage, in the order in which they are told; the value stands in the JSON."""

    NOT_AN_ARCHIVE = "not-an-archive"
    STRUCTURE = "structure"
    MANIFEST = "manifest"
    COUNTS = "counts"
    MISSING = "missing"
    UNLISTED = "unlisted"
    RENAMED = "renamed"
    LETTER_CASE = "letter-case"
    UNICODE_FORM = "unicode-form"
    UNREADABLE = "unreadable"
    LINE_ENDS = "line-ends"
    ALTERED = "altered"
    CUT_SHORT = "cut-short"
    SWAPPED = "swapped"
    SEAL_CHAIN = "seal-chain"
    SEALED_TEXT = "sealed-text"
    SEALED_PHOTO = "sealed-photo"
    SEALED_PART = "sealed-part"
    SITE = "site"
    BINDER = "binder"
    SOURCE = "source"
    TIME_STAMP = "time-stamp"
    TIMES = "times"
    FINGERPRINT = "fingerprint"
    HEAD = "head"
    NOT_FROM_SOURCE = "not-from-source"


_RANK = {kind: rank for rank, kind in enumerate(DamageKind)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Damage:
    """One thing found wrong: its kind, the path in the bag ("" for the whole), and a sentence."""

    kind: DamageKind
    path: str
    message: str


def sort_damage(damage: Iterable[Damage]) -> tuple[Damage, ...]:
    """In the fixed order of the report: kind, then path."""
    return tuple(sorted(set(damage), key=lambda d: (_RANK[d.kind], d.path, d.message)))


def printable(path: str) -> str:
    """A path as it may be shown: bytes that are no UTF-8 and control characters as escapes."""
    try:
        text = path.encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")
    except UnicodeEncodeError:
        text = path.encode("utf-8", "backslashreplace").decode()
    return "".join(char if char.isprintable() else char.encode("unicode_escape").decode() for char in text)


def damaged(kind: DamageKind, path: str, message: str) -> Damage:
    """A damage whose path may be shown."""
    return Damage(kind=kind, path=printable(path), message=message)
