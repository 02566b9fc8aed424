"""Where in the files of a build something comes from that was found on its site: the line to mend.

The site repeats a line on many pages. Of all the lines that hold what was found the one is meant that has the same
words around it as on the page; of lines alike the one whose folder the page goes by, else the first.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from html import unescape
from itertools import takewhile

from journal.base.prose import plain, without_accents
from journal.making.private_words import words_of

AROUND = 6
"""How many words before and behind are compared."""

_CLOSER = 200
"""How many lines with the same words on a side are compared on both."""

_NEAR = 120
"""In how many letters they are looked for."""

_LETTERS = re.compile(r"[^\W_]+")


Around = tuple[Sequence[str], Sequence[str]]
"""The words before, the nearest first, and the words behind."""


@dataclass(frozen=True, slots=True)
class _Place:
    number: int
    where: str
    folder: str
    near: Around


@dataclass(frozen=True, slots=True)
class _Known:
    """Where some words stand: the lines, those among them by the words that are next to the words there (0: before, 1:
    behind), and the files with the words in their names.
    """

    lines: list[_Place]
    beside: dict[tuple[int, tuple[str, ...]], list[_Place]]
    names: list[_Place]

    def sharing(self, side: int, words: Sequence[str]) -> Sequence[_Place]:
        """The lines that share most of `words` on a side, as many as are worth a closer look."""
        keys = ((side, (*words[:most],)) for most in range(len(words), 0, -1))
        return next((self.beside[key] for key in keys if key in self.beside), [])[:_CLOSER]


class Sources:
    """`texts` are (file, what it says), those that everybody may read first."""

    def __init__(self, texts: Sequence[tuple[str, str]]) -> None:
        self._given = texts
        self._known: dict[str, _Known] = {}

    @cached_property
    def _texts(self) -> list[tuple[str, str]]:
        return [(name, _folded(text)) for name, text in self._given]

    def line_of(self, found: str, page: str, near: Around = ((), ()), *, but: str = "") -> str:
        """`FILE:LINE` where `found` stands, which a page has between the words `near`; "" where it stands nowhere.
        `but` is the line that is meant only if there is no other.
        """
        known = self._found(found)
        # A name may stand in thousands of lines: on each side those are enough that share most words with the page.
        beside = [one for side, words in enumerate(near) for one in known.sharing(side, words)]
        likely = [one for one in beside or known.lines if one.where != but]

        def likeness(one: _Place) -> tuple[int, bool, int]:
            return sum(map(_alike, near, one.near)), one.folder in page, -one.number

        return max(likely or known.lines, key=likeness).where if known.lines else ""

    def file_of(self, found: str, page: str) -> str:
        """The file or folder that gives a page an address with `found` in it; "" where none does."""
        return next((one.where for one in self._found(found).names if one.folder in page), "")

    def _found(self, found: str) -> _Known:
        """Where these words stand, whatever is between them."""
        words = _LETTERS.findall(_folded(found))
        if (key := " ".join(words)) not in self._known:
            pattern = re.compile(r"(?<![^\W_])" + r"[\W_]{0,40}?".join(words) + r"(?![^\W_])")
            here = [(name, text) for name, text in self._texts if words and all(word in text for word in words)]
            spans = [(name, text, *one.span()) for name, text in here for one in pattern.finditer(text)]
            lines = [_place(number, *span) for number, span in enumerate(spans)]
            beside: dict[tuple[int, tuple[str, ...]], list[_Place]] = {}
            for one in lines:
                for side, next_to in enumerate(one.near):
                    for most in range(1, len(next_to) + 1):
                        beside.setdefault((side, (*next_to[:most],)), []).append(one)
            named = [name for name, _ in self._texts if words and pattern.search(_folded(name))]
            self._known[key] = _Known(lines, beside, [_Place(0, name, _folder(name), ((), ())) for name in named])
        return self._known[key]


def around(text: str, start: int, end: int) -> Around:
    """The words around a piece of a text."""
    before, after = _folded(text[max(0, start - _NEAR) : start]), _folded(text[end : end + _NEAR])
    return words_of(before)[: -AROUND - 1 : -1], words_of(after)[:AROUND]


def _place(number: int, name: str, text: str, start: int, end: int) -> _Place:
    return _Place(number, f"{name}:{text.count(chr(10), 0, start) + 1}", _folder(name), around(text, start, end))


def _folder(name: str) -> str:
    """What the pages of a file go by."""
    return name.rpartition("/")[0].rpartition("/")[2]


def _alike(one: Sequence[str], other: Sequence[str]) -> int:
    """How many words outward are the same."""
    return len([*takewhile(lambda pair: pair[0] == pair[1], zip(one, other, strict=False))])


def _folded(text: str) -> str:
    return without_accents(unescape(plain(text))).casefold()
