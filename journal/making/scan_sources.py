"""Where in the files of a build something comes from that was found on its site: the line to mend.

The site repeats a line on many pages. Of all the lines that hold what was found the one is meant that has the same
words around it as on the page; of lines alike the one whose folder the page goes by, else the first.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import unescape
from itertools import takewhile

from journal.base.prose import plain, without_accents
from journal.making.private_words import words_of

_AROUND = 6
"""How many words before and behind are compared."""

_NEAR = 120
"""In how many letters they are looked for."""

_LETTERS = re.compile(r"[^\W_]+")


Around = tuple[Sequence[str], Sequence[str]]
"""The words before, the nearest first, and the words behind."""


@dataclass(frozen=True, slots=True)
class _Place:
    where: str
    folder: str
    near: Around


class Sources:
    """`texts` are (file, what it says), those that everybody may read first."""

    def __init__(self, texts: Iterable[tuple[str, str]]) -> None:
        self._texts = [(name, _folded(text)) for name, text in texts]
        self._places: dict[str, tuple[list[_Place], list[_Place]]] = {}

    def line_of(self, found: str, page: str, near: Around = ((), ()), *, but: str = "") -> str:
        """`FILE:LINE` where `found` stands, which a page has between the words `near`; "" where it stands nowhere.
        `but` is the line that is meant only if there is no other.
        """
        in_lines, _ = self._found(found)
        likely = [one for one in in_lines if one.where != but] or in_lines

        def likeness(one: _Place) -> tuple[int, bool]:
            return sum(map(_alike, near, one.near)), one.folder in page

        # Of several alike `max` takes the first.
        return max(likely, key=likeness).where if likely else ""

    def file_of(self, found: str, page: str) -> str:
        """The file or folder that gives a page an address with `found` in it; "" where none does."""
        return next((one.where for one in self._found(found)[1] if one.folder in page), "")

    def _found(self, found: str) -> tuple[list[_Place], list[_Place]]:
        """The lines, and the names of files, with these words in them, whatever stands between the words."""
        words = _LETTERS.findall(_folded(found))
        if (key := " ".join(words)) not in self._places:
            pattern = re.compile(r"(?<![^\W_])" + r"[\W_]{0,40}?".join(words) + r"(?![^\W_])")
            near = [(name, text) for name, text in self._texts if words and all(word in text for word in words)]
            lines = [_place(name, text, *one.span()) for name, text in near for one in pattern.finditer(text)]
            names = [
                _Place(name, _folder(name), ((), ()))
                for name, _ in self._texts
                if words and pattern.search(_folded(name))
            ]
            self._places[key] = (lines, names)
        return self._places[key]


def around(text: str, start: int, end: int) -> Around:
    """The words around a piece of a text."""
    before, after = _folded(text[max(0, start - _NEAR) : start]), _folded(text[end : end + _NEAR])
    return words_of(before)[: -_AROUND - 1 : -1], words_of(after)[:_AROUND]


def _place(name: str, text: str, start: int, end: int) -> _Place:
    return _Place(f"{name}:{text.count(chr(10), 0, start) + 1}", _folder(name), around(text, start, end))


def _folder(name: str) -> str:
    """What the pages of a file go by."""
    return name.rpartition("/")[0].rpartition("/")[2]


def _alike(one: Sequence[str], other: Sequence[str]) -> int:
    """How many words outward are the same."""
    return len([*takewhile(lambda pair: pair[0] == pair[1], zip(one, other, strict=False))])


def _folded(text: str) -> str:
    return without_accents(unescape(plain(text))).casefold()
