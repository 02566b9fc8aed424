"""The addresses of pages, in one place: `entries/FOLDER/`, `steps/ID/` … (docs/format.md).

An address here is relative to the root of the site, ends in `/` for a page, and uses `/` only.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Hashable, Iterable
from typing import TypeVar

HOME = ""
CALENDAR = "calendar/"
HOURS = "hours/"
PHOTOS = "photos/"
TERMS = "terms/"
FIND = "find/"
FOLLOW = "follow/"
INVENTORY = "inventory/"
TALLY = "tally/"
PEOPLE = "people/"
MATERIALS = "materials/"
COSTS = "costs/"
BULLETINS = "bulletins/"
PACK = "pack/"
CALLOUTS = "callouts/"
WRITTEN = ("rivets", "bolts", "materials")
"""The rows of an entry's tables have ids by these: `rivets-1`."""

_Named = TypeVar("_Named", bound=Hashable)


def composed(name: str) -> str:
    """A name in one Unicode form (NFC): texts may write another than the disk."""
    return unicodedata.normalize("NFC", name)


def address_word(identifier: str) -> str:
    """An ID as it stands in an address: letters, digits, `.`, `_`, `-` stay, the rest becomes `-`."""
    kept = re.sub(r"[^\w.-]", "-", composed(identifier))
    # A name of dots alone would climb out of its folder.
    return kept if kept.strip(".") else "-"


def address_words(identifiers: Iterable[str]) -> dict[str, str]:
    """An address word for each ID; those that would meet get `-2`, `-3` in the order given.

    Meeting is judged without regard to case: the site may be served from a disk that has none.
    """
    return _kept_apart(identifiers, address_word)


def is_of(file: str, name: str) -> bool:
    """Whether a path leads to what goes by `name`: to its folder, into it, or to its file (`NAME.md`)."""
    parts = file.split("/")
    return name in parts or parts[-1].rpartition(".")[0] == name


def fold_name(name: str) -> str:
    """The form in which tools and methods are the same: no case, single spaces, one Unicode form."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def slug(name: str) -> str:
    """A tool's or method's address word: folded, runs of anything else become one `-`."""
    word = "".join(char if char.isalnum() or char in "._" else "-" for char in fold_name(name))
    word = "-".join(part for part in word.split("-") if part)
    return word if word.strip(".") else "-"


def slugs(names: Iterable[str]) -> dict[str, str]:
    """A slug for each name (names already grouped by `fold_name`), kept apart as `address_words` does."""
    return _kept_apart(names, slug)


def row_ids(kind: str, names: Iterable[str]) -> tuple[str, ...]:
    """The ids of a list's rows on its page, by their names: `part-f-514`, and `part-f-514-2` where it comes again."""
    return tuple(f"{kind}-{word}" for word in _kept_apart(enumerate(names), lambda row: slug(row[1])).values())


def _kept_apart(names: Iterable[_Named], word_of: Callable[[_Named], str]) -> dict[_Named, str]:
    taken: set[str] = set()
    words: dict[_Named, str] = {}
    for name in names:
        word = first = word_of(name)
        number = 1
        while word.casefold() in taken:
            number += 1
            word = f"{first}-{number}"
        taken.add(word.casefold())
        words[name] = word
    return words
