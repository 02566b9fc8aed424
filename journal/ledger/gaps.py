"""What every rule of evidence speaks in: what it judges, what it found, and how much that weighs. Pure."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from journal.base.formatting import say_steps
from journal.base.model import Build, Entry, Person, Photo, Where, WriteUp
from journal.base.problems import Problem, finding
from journal.base.prose import find_images
from journal.ledger.closings import Closing
from journal.ledger.hours import Ledger
from journal.ledger.progress import Progress
from journal.ledger.weights import Weight, weight_of

BUILD_FILE = "content/build.yml"


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


@dataclass(frozen=True, slots=True)
class Noticed:
    """What a rule found, to be told at the first of `keys` that the front matter of `about` has (at `place` where
    that is known better), in `file` where it is about no folder in particular. `entries` are those that may
    answer it, `about` itself unless told.
    """

    about: Entry | WriteUp | None
    keys: tuple[str, ...]
    message: str
    hint: str
    entries: tuple[str, ...] | None = None
    steps: tuple[str, ...] = ()
    assembly: str | None = None
    place: Where | None = None
    file: str = BUILD_FILE

    def as_gap(self, word: str) -> Gap:
        """The gap that it is, under the word of its rule."""
        about, entries, hint = self.about, self.entries, self.hint
        if about is None:
            problem = finding(self.file, self.place, word, self.message, hint)
            return Gap(problem=problem, entries=entries or (), steps=self.steps, assembly=self.assembly)
        if entries is None:
            entries = (about.id,) if isinstance(about, Entry) else ()
        if entries:
            hint += f"; or say why it is so: `answers: {{{word}: reason}}`"
        return Gap(
            problem=finding(about.src_uri, self.place or place_of(about, *self.keys), word, self.message, hint),
            entries=entries,
            steps=self.steps,
            assembly=self.assembly or about.assembly,
        )


Check = Callable[[Facts], Iterator[Noticed]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A rule of evidence: its stable code word, what it finds, and why anybody asks."""

    word: str
    finds: str
    why: str
    check: Check


RULES: list[Rule] = []
"""Every rule, each put here by its own module."""


def rule(word: str, finds: str, why: str) -> Callable[[Check], Check]:
    """Put the function below among the rules."""

    def put(check: Check) -> Check:
        RULES.append(Rule(word=word, finds=finds, why=why, check=check))
        return check

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
