"""What every rule of evidence speaks in: what it judges, what it noticed, and what its word says and weighs. Pure.

The words of the rules stand in data/evidence.csv: `weight`, what a rule finds, why anybody asks, the key of the front
matter it is told at (`at`), and how to mend it. Words of findings made elsewhere have a weight there and no more.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from enum import IntEnum, auto
from functools import lru_cache
from importlib import resources

from journal.base.formatting import say_steps
from journal.base.model import Build, Entry, Person, Photo, Where, WriteUp
from journal.base.problems import Problem, finding
from journal.base.prose import find_images
from journal.ledger.closings import Closing
from journal.ledger.hours import Ledger
from journal.ledger.progress import Progress

BUILD_FILE = "content/build.yml"


class Weight(IntEnum):
    """From what can wait to what an inspector would stop at; the values are only an order."""

    NEATNESS = auto()
    NOT_SHOWN = auto()
    SPEAKS_AGAINST_ITSELF = auto()
    SAFETY = auto()
    CLOSED_STRUCTURE = auto()


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A rule of evidence: its stable code word, what it finds, and why anybody asks."""

    word: str
    weight: Weight
    finds: str
    why: str
    at: tuple[str, ...]
    mend: str


@lru_cache(maxsize=1)
def read_rules() -> Mapping[str, Rule]:
    """Code word -> its rule, in the order of the table."""
    text = resources.files("journal").joinpath("data", "evidence.csv").read_text("utf-8")
    return {
        row["word"]: Rule(
            **{name: row[name] for name in ("word", "finds", "why", "mend")},
            weight=Weight[row["weight"].replace(" ", "_").upper()],
            at=tuple(row["at"].split()),
        )
        for row in csv.DictReader(text.splitlines())
    }


def weight_of(word: str) -> Weight:
    """What a finding of this code word weighs; whatever has no place in the table is a matter of neatness."""
    rule = read_rules().get(word)
    return rule.weight if rule else Weight.NEATNESS


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """One thing the record does not show, as a `Problem`, with what it is about.

    `entries` are the IDs of the entries that may answer it; `steps` and `assembly` say what
    part of the build lacks evidence. `answer` is the builder's reason, from entry
    `answered_in`; empty while the gap is open.
    """

    problem: Problem
    entries: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()
    assembly: str | None = None
    answer: str = ""
    answered_in: str | None = None

    @property
    def weight(self) -> Weight:
        """How much it matters."""
        return weight_of(self.problem.word)


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What the rules judge. `copies` are entries that tell what an earlier one tells, by its ID; `times` what is
    in doubt of the time of a picture (`judge_times`). `today` comes from the caller; no rule reads a clock.
    """

    build: Build
    ledger: Ledger
    progress: Progress
    closings: tuple[Closing, ...]
    copies: Mapping[str, str]
    times: Mapping[str, tuple[str, str]]
    today: date
    entries: Mapping[str, Entry]


@dataclass(frozen=True, slots=True)
class Noticed:
    """What a rule noticed, told where its table says (at the key `at` where that is better, at `place` where that is
    known), in `file` where it is about no folder in particular. `entries` are those that may answer it, `about` itself
    unless told; `mend` comes in place of that of the table.
    """

    about: Entry | WriteUp | None
    message: str
    mend: str = ""
    entries: tuple[str, ...] | None = None
    steps: tuple[str, ...] = ()
    assembly: str | None = None
    at: str = ""
    place: Where | None = None
    file: str = BUILD_FILE

    def as_gap(self, rule: Rule) -> Gap:
        """The gap that it is, under the word of its rule."""
        about, entries, hint, word = self.about, self.entries, self.mend or rule.mend, rule.word
        if about is None:
            problem = finding(self.file, self.place, word, self.message, hint)
            return Gap(problem=problem, entries=entries or (), steps=self.steps, assembly=self.assembly)
        if entries is None:
            entries = (about.id,) if isinstance(about, Entry) else ()
        if entries:
            hint += f"; or say why it is so: `answers: {{{word}: reason}}`"
        where = self.place or place_of(about, *filter(None, (self.at, *rule.at)))
        problem = finding(about.src_uri, where, word, self.message, hint)
        return Gap(problem=problem, entries=entries, steps=self.steps, assembly=self.assembly or about.assembly)


Check = Callable[[Facts], Iterator[Noticed]]
CHECKS: dict[str, Check] = {}
"""Code word -> the rule itself, put here by its own module."""


def rule(word: str) -> Callable[[Check], Check]:
    """Make the function below the rule of this word."""

    def put(check: Check) -> Check:
        CHECKS[word] = check
        return check

    return put


def of_each(word: str) -> Callable[[Callable[[Facts, Entry], str]], None]:
    """Make the function below the rule of this word: what it says of one entry, "" for nothing."""

    def put(say: Callable[[Facts, Entry], str]) -> None:
        CHECKS[word] = lambda facts: (
            Noticed(entry, said) for entry in facts.build.entries if (said := say(facts, entry))
        )

    return put


def entry_text(entry: Entry) -> str:
    """The words of an entry's body without pictures, headings and comments; empty where it says nothing."""
    body = entry.body
    for image in reversed(list(find_images(body)) if "![" in body else []):
        body = body[: image.start] + body[image.end :]
    body = _NOT_TEXT.sub("", body)
    return " ".join(body.split()) if _WORD.search(body) else ""


_NOT_TEXT = re.compile(r"<!--(?:.|\n)*?(?:-->|\Z)|^[ \t]{0,3}#{1,6}[ \t][^\n]*$|^[ \t]*[!?]{3}[^\n]*$", re.MULTILINE)
_WORD = re.compile(r"\w")
_WORDS = re.compile(r"\w+")
_IN_EVERY_NAME = frozenset({"a", "and", "by", "co", "help", "of", "our", "paid", "the"})


def dated(build: Build) -> tuple[Entry | WriteUp, ...]:
    """Everything that has a day: entries, inspections, measurements."""
    return (*build.entries, *build.write_ups)


def usable(photos: Iterable[Photo]) -> Iterator[Photo]:
    """The pictures that show anything."""
    return (photo for photo in photos if not photo.facts.trouble)


def place_of(told: Entry | WriteUp, *keys: str) -> Where:
    """The first of `keys` that the front matter has, else the head of the file."""
    return next((told.where[key] for key in keys if key in told.where), (1, 1))


def say_steps_are(facts: Facts, steps: tuple[str, ...]) -> str:
    """`step 5.3 is`, `steps 5.3, 5.4 are`."""
    said = say_steps(steps, tuple(facts.build.steps))
    return f"step {said} is" if len(steps) == 1 else f"steps {said} are"


def words_in(text: str) -> set[str]:
    """The words of a text, without regard to case."""
    return {word.casefold() for word in _WORDS.findall(text)}


def named_in(person: Person, told: set[str]) -> bool:
    """Whether any word of the name, shown name or ID occurs, initials and words of every name aside."""
    names = words_in(f"{person.name} {person.shown_as or ''} {person.id}") - _IN_EVERY_NAME
    return bool({name for name in names if len(name) > 1} & told)
