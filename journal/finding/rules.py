"""The rules of finding, read from data files that the browser is given too.

find_rules.json holds what a token is and what counts how much; spellings.csv folds British and
American spelling and irregular forms; synonyms.csv holds what a thing is also called. Units come from
`journal.base.quantities`, drills from the trade's table.
"""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Any

from journal.base.quantities import units_by_name

PACKAGE = Path(__file__).parent.parent
DATA = PACKAGE / "data"

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

LONGEST = 240
"""Letters of a passage and of what is shown of it: the sentences of a paragraph stand together as long as they fit, and
one that is longer is cut round its first mark.
"""

FIELD_GAP = 30
"""Places between two fields of a document: more than any nearness reaches."""

_FAHRENHEIT = (5 / 9, -32.0)
"""Degrees Celsius of a degree Fahrenheit, and what is added before (by definition: water freezes at 32 °F)."""


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
        self.page_words = frozenset(plain["page_words"].split())
        self.negations = frozenset(plain["negations"].split())
        self.drill_leads = frozenset(plain["drill_leads"].split())
        self.units: Mapping[str, Sequence[float | str]] = plain["units"]
        self.drills: Mapping[str, float] = plain["drills"]
        self.figures: Mapping[str, float] = plain["figures"]
        self.between_figures = frozenset(plain["between_figures"].split())
        self.between_halves = frozenset(plain["between_halves"].split())
        months = plain["months"].split()
        self.sure_months = frozenset(months) - frozenset(plain["unsure_months"].split())
        short = {**{name[:3]: number for number, name in enumerate(months, start=1)}, "sept": 9}
        self.months = {**short, **{name: number for number, name in enumerate(months, start=1)}}
        self.seasons: Mapping[str, Sequence[int]] = plain["seasons"]
        self.before_dates = frozenset(plain["before_dates"].split())
        self.last, self.this = plain["last_words"].split(), plain["this_words"].split()
        self.span_words = {word: span for span, words in plain["spans"].items() for word in words.split()}
        self.asking = {kind: re.compile(pattern) for kind, pattern in plain["asking"].items()}
        self.words: dict[str, str] = dict(plain["spellings"]["word"])
        self.starts: tuple[tuple[str, str], ...] = tuple((a, b) for a, b in plain["spellings"]["start"])
        self.endings = tuple(
            (re.compile(pattern), re.sub(r"\$(\d)", r"\\\1", into)) for pattern, into in plain["endings"]
        )
        self.undouble = re.compile(plain["undouble"])
        self.same_parts: tuple[tuple[str, str], ...] = tuple((a, b) for a, b in plain["same_parts"])
        self.field_weights = [plain["fields"].get(name, 1.0) for name in plain["field_names"]]
        self.weights: dict[str, float] = dict(plain["alternatives"])
        self.kinds: Mapping[str, float] = dict.fromkeys(plain["whole_kinds"].split(), 1.0) | plain["kinds"]
        self._stems: dict[str, str] = {}
        self._stem: Callable[[str], str] | None = None
        self.groups: list[tuple[str, list[str]]] = [*plain["groups"], *plain["kin"]]
        self.phrases: dict[str, list[Sequence[str]]] = {}
        for phrase in dict.fromkeys(term for _, terms in self.groups for term in terms if "+" in term):
            stems = phrase.split("+")
            self.phrases.setdefault(stems[0], []).append(stems)

    def with_kin(self, kin: Sequence[tuple[str, list[str]]]) -> Rules:
        """These rules where terms of a journal are kin as well: [("kin", [term, …]), …], as in an index's lexicon."""
        return Rules({**self.plain, "kin": kin})

    def with_names(self, names: Iterable[Sequence[str]]) -> Rules:
        """These rules where the `names` of one thing, as a journal calls it, are kin."""
        stemmed = map(self.stemmed, names)
        return self.with_kin([("kin", stems) for stems in stemmed if len(stems) > 1])

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

    def stemmed(self, names: Iterable[str]) -> list[str]:
        """`skin pin`, `cleco` -> `skin+pin`, `cleco`: each name as one term."""
        kept = ([word for word in name.split() if word not in self.stop_words] for name in names)
        return list(dict.fromkeys("+".join(map(self.stem, name)) for name in kept if name))


@lru_cache(maxsize=1)
def shipped_rules() -> Rules:
    """The rules that come with the program."""
    plain = json.loads((DATA / "find_rules.json").read_text("utf-8"))
    spellings: dict[str, list[tuple[str, str]]] = {"word": [], "start": []}
    for row in _rows(DATA / "spellings.csv"):
        spellings[row["how"]].append((row["written"], row["read_as"]))
    # What only the units are made of is not sent to the browser.
    of_units = {name: plain.pop(name) for name in ("unit_spellings", "fahrenheit", "no_units", "other_units")}
    plain |= {
        "spellings": spellings,
        "units": _units(of_units),
        "drills": _drills(),
        "groups": [],
        "kin": [],
        "field_names": FIELDS,
        "field_gap": FIELD_GAP,
    }
    bare = Rules(plain)
    rows = _rows(DATA / "synonyms.csv")
    plain["groups"] = [[row["how"], bare.stemmed(row["words"].split(";"))] for row in rows]
    return Rules(plain)


def _units(plain: Mapping[str, Any]) -> dict[str, list[float | str]]:
    """Each spelling of a unit -> dimension, factor to its base, what is added before, and the term of the bare word."""
    units: dict[str, list[float | str]] = {}
    terms: dict[tuple[str, Fraction], str] = {}
    for name, (dimension, factor) in units_by_name().items():
        spelling = name.replace(" ", "-").strip("°")
        if spelling in plain["no_units"].split() or not spelling[:1].isalnum():
            continue
        term = terms.setdefault((dimension, factor), spelling)
        units[spelling] = [dimension, float(factor), 0.0, term]
    for known, others in plain["unit_spellings"].items():
        units |= dict.fromkeys(others.split(), units[known])
    celsius = units["celsius"]
    units |= {name: [celsius[0], *_FAHRENHEIT, "fahrenheit"] for name in plain["fahrenheit"].split()}
    for term, others in plain["other_units"].items():
        units |= {other: [term, 1.0, 0.0, term] for other in others.split()}
    return units


def _drills() -> dict[str, float]:
    """Number of a twist drill -> its diameter in inches."""
    rows = _rows(PACKAGE / "trade/data/drills.csv")
    return {row["name"].lstrip("#"): float(row["diameter_in"]) for row in rows if row["series"] == "number"}


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
