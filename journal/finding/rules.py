"""The rules of finding, read from data files that the browser is given too.

find_rules.json holds what a token is and what counts how much; spellings.csv folds British and
American spelling and irregular forms; synonyms.csv holds what a thing is also called.
"""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Callable, Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

DATA = Path(__file__).parent.parent / "data"

FIELDS = (
    "title",
    "step",
    "step_title",
    "manual",
    "tool",
    "method",
    "hardware",
    "people",
    "assembly",
    "when",
    "caption",
    "text",
    "material",
)
"""The fields of a document in the order in which their words are numbered."""

TITLE, STEP, STEP_TITLE, MANUAL, TOOL, METHOD, HARDWARE, PEOPLE, ASSEMBLY, WHEN, CAPTION, TEXT, MATERIAL = range(
    len(FIELDS)
)


class Rules:
    """The data files, ready for use. `plain` is what the browser is given, word for word."""

    def __init__(self, plain: Mapping[str, Any]) -> None:
        self.plain = plain
        words = plain["word_characters"]
        self.chunk = re.compile(plain["chunk"].replace("[W]", f"[{words}]"))
        # The same for plain text, where a short class of characters is three times as fast.
        self.ascii_chunk = re.compile(plain["chunk"].replace("[W]", "[0-9A-Za-z]"))
        self.stop_words = frozenset(plain["stop_words"].split())
        self.question_words = frozenset(plain["question_words"].split())
        self.step_words = frozenset(plain["step_words"].split())
        self.number_words = frozenset(plain["number_words"].split())
        self.drill_words: tuple[str, ...] = tuple(plain["drill_words"].split())
        self.units: dict[str, str] = {
            written: unit for unit, forms in plain["units"].items() for written in forms.split()
        }
        self.glued_units = frozenset(plain["glued_units"].split())
        self.words: dict[str, str] = dict(plain["spellings"]["word"])
        self.starts: tuple[tuple[str, str], ...] = tuple((a, b) for a, b in plain["spellings"]["start"])
        self.endings = tuple(
            (re.compile(pattern), re.sub(r"\$(\d)", r"\\\1", into)) for pattern, into in plain["endings"]
        )
        self.undouble = re.compile(plain["undouble"])
        self.same_parts: tuple[tuple[str, str], ...] = tuple((a, b) for a, b in plain["same_parts"])
        self.field_weights: tuple[float, ...] = tuple(plain["fields"][name] for name in FIELDS)
        self.weights: dict[str, float] = dict(plain["alternatives"])
        self._stems: dict[str, str] = {}
        self._stem: Callable[[str], str] | None = None

    def fold(self, word: str) -> str:
        """`word` (lower case) in the one spelling that is used inside: `colours` -> `colors`."""
        if folded := self.words.get(word):
            return folded
        for written, read_as in self.starts:
            if word.startswith(written):
                word = read_as + word[len(written) :]
                break
        for pattern, into in self.endings:
            folded, changed = pattern.subn(into, word, count=1)
            if changed:
                # JavaScript puts nothing where a group took no part; so does Python since 3.5.
                return folded
        return word

    def stem(self, word: str) -> str:
        """What the forms of a word share: `dimpling`, `dimpled`, `dimples` -> `dimpl`."""
        known = self._stems.get(word)
        if known is not None:
            return known
        if self._stem is None:
            # Imported late: a question at the terminal must not wait for two dozen languages
            # when all its words are known. Never the C library: its version may differ from the browser's.
            from snowballstemmer.english_stemmer import EnglishStemmer

            self._stem = EnglishStemmer().stemWord
        stem: str = word if len(word) < 3 else self.undouble.sub(r"\1", self._stem(self.fold(word)))
        self._stems[word] = stem
        return stem


@lru_cache(maxsize=1)
def shipped_rules() -> Rules:
    """The rules that come with the program."""
    plain = json.loads((DATA / "find_rules.json").read_text("utf-8"))
    spellings: dict[str, list[tuple[str, str]]] = {"word": [], "start": []}
    for row in _rows("spellings.csv"):
        spellings[row["how"]].append((row["written"], row["read_as"]))
    plain["spellings"] = spellings
    plain["synonyms"] = [
        [row["how"], [words.strip() for words in row["words"].split(";")]] for row in _rows("synonyms.csv")
    ]
    return Rules(plain)


def _rows(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
