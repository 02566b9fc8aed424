"""What is wrong in the builder's files, as values: where, how bad, and how to mend it.

Nothing a person can write raises an exception in this project. Every stage returns its
problems; the doors (command line, plugin, preview) print them with `render_problem` and
choose the exit code with `has_errors`.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Any


class Grade(Enum):
    """How bad: an error stops build, archive and seal; a finding is advice."""

    ERROR = "error"
    FINDING = "finding"


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing to mend.

    `file` is relative to the build folder with `/`; `line` and `column` count from 1 and are
    None where there is no place to point at (a missing file, a whole folder). `word` is the
    stable code word (`unknown-assembly`). `message` says what is wrong, `hint` what to write. `mend` is, where the
    program could write it itself, (the text that stands at the place, the text to put there).
    """

    file: str
    line: int | None = None
    column: int | None = None
    grade: Grade
    word: str
    message: str
    hint: str = ""
    mend: tuple[str, str] | None = None

    def as_json(self) -> dict[str, Any]:
        """The row of `journal check --json`; its shape is fixed by docs/format.md."""
        row = {name: getattr(self, name) for name in self.__slots__ if name != "mend"}
        return row | {"grade": self.grade.value, "hint": self.hint or None}

    @classmethod
    def from_json(cls, row: Mapping[str, Any]) -> Problem:
        """The problem that `as_json` told."""
        return cls(**{**row, "grade": Grade(row["grade"]), "hint": row["hint"] or ""})


class SiteError(Exception):
    """No site could be made, for a reason that the user can mend; the message is for them."""


def error(file: str, where: tuple[int, int] | None, word: str, message: str, hint: str = "") -> Problem:
    """A problem that stops the build; `where` is (line, column) or None."""
    line, column = where or (None, None)
    return Problem(file=file, line=line, column=column, grade=Grade.ERROR, word=word, message=message, hint=hint)


def finding(file: str, where: tuple[int, int] | None, word: str, message: str, hint: str = "") -> Problem:
    """A piece of advice that stops nothing; `where` is (line, column) or None."""
    line, column = where or (None, None)
    return Problem(file=file, line=line, column=column, grade=Grade.FINDING, word=word, message=message, hint=hint)


def render_problem(problem: Problem) -> str:
    """One line: `file:line:column: message; hint`, leaving out what is not known."""
    place = [str(part) for part in (problem.file, problem.line, problem.column) if part is not None]
    text = f"{':'.join(place)}: {problem.message}" + (f"; {problem.hint}" if problem.hint else "")
    # A name or caption from a file may hold control characters; one problem is one line.
    return "".join(char if char.isprintable() else "\N{REPLACEMENT CHARACTER}" for char in text)


def sort_problems(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """In the order of file, line, column; told once each."""
    return tuple(
        sorted(
            set(problems),
            key=lambda p: (p.file, p.line or 0, p.column or 0, p.grade.value, p.word, p.message),
        )
    )


def has_errors(problems: Iterable[Problem]) -> bool:
    """Whether anything here stops a build, an archive or a seal."""
    return any(problem.grade is Grade.ERROR for problem in problems)


def nearest(word: str, known: Iterable[str], *, likeness: float = 0.6) -> str | None:
    """The known word that `word` was most likely meant to be, without regard to case, or None.

    `likeness` is the least ratio of difflib's matcher that counts, from 0 to 1. Other figures are never meant (7.101
    is no slip for 7.11), nor fewer words.
    """
    figures, words = _figures(word), _words(word)
    may_be = (one for one in known if _figures(one) == figures and _words(one) >= words)
    by_folded = {one.casefold(): one for one in may_be}
    close = difflib.get_close_matches(word.casefold(), by_folded, n=1, cutoff=likeness)
    return by_folded[close[0]] if close else None


def _words(text: str) -> int:
    return len(re.findall(r"[^\W_]+", text))


def _figures(text: str) -> list[str]:
    return [figure.lstrip("0") for figure in re.findall(r"[0-9]+", text)]


def did_you_mean(word: str, known: Iterable[str], otherwise: str = "") -> str:
    """A hint: the nearest known word, else `otherwise`, or the list of what is known."""
    known = list(known)
    guess = nearest(word, known)
    return f'did you mean "{guess}"?' if guess else otherwise or known_here(known)


def known_here(known: Sequence[str]) -> str:
    """A hint: the first twelve of what is known."""
    if not known:
        return "none is listed yet"
    listed = ", ".join(known[:12]) + (", …" if len(known) > 12 else "")
    return f"known here: {listed}"
