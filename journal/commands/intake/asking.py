"""Questions on a terminal: one at a time, the answer that Enter gives in brackets, a slip explained.

`AnswerError` also carries what is wrong with an option, which is an answer given in advance.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import IO, Any, TypeVar

import click

from journal.base.model import Build
from journal.base.problems import did_you_mean
from journal.base.text_files import one_line
from journal.commands.intake.lenient_parsing import DateOrder, parse_any_date, split_steps
from journal.commands.terminal import EXIT_ERRORS, EXIT_USE, fail, open_build, print_problems, today
from journal.ledger.journal import Journal
from journal.reading.dates import parse_date
from journal.reading.form import KnownIds
from journal.reading.hours import parse_hours
from journal.reading.text import Notes
from journal.reading.tree import Scalar

T = TypeVar("T")


class AnswerError(click.UsageError):
    """An answer that cannot be used; the message says why and what to type instead. Where nobody can be asked
    again it ends the command.
    """

    def show(self, file: IO[Any] | None = None) -> None:
        """Say it as every command says what stops it."""
        click.echo(f"journal: {self.message}", err=True)


def parse_day(text: str) -> date:
    """A day in any form of the reader, or `today` or `yesterday`."""
    if text.casefold() in ("today", "yesterday"):
        return today() - timedelta(days=text.casefold() == "yesterday")
    if (day := parse_any_date(text, DateOrder.ISO) or parse_date(text.strip(), (1, 1), Notes(""))) is None:
        raise AnswerError(f'"{text}" is not a date; write year-month-day, like 2026-02-07.')
    return day


def parse_zone(text: str) -> str:
    """The name of an IANA time zone, or an empty text."""
    from zoneinfo import ZoneInfo, available_timezones

    if not text:
        return ""
    try:
        return ZoneInfo(text).key
    except (KeyError, ValueError, OSError):
        hint = did_you_mean(text, sorted(available_timezones()))
        more = hint[0].upper() + hint[1:] if hint.startswith("did") else "Write one like Europe/Zurich."
        raise AnswerError(f'"{text}" is no time zone. {more}') from None


def parse_address(text: str) -> str:
    """The address of a site, with a `/` at its end, or an empty text."""
    if text and not re.fullmatch(r"https?://[^\s/#?\"']+(/[^\s#?\"']*)?", text):
        raise AnswerError(f'"{text}" is no address of a site; write it from https:// on.')
    return text if not text or text.endswith("/") else f"{text}/"


@dataclass(frozen=True, slots=True, kw_only=True)
class Asker:
    """Asks, or, with `silent`, takes what Enter would give. `stopped` is what holds where no answer comes."""

    silent: bool
    stopped: str = "nothing was written"

    def text(self, question: str, default: str = "", given: str | None = None) -> str:
        """What the builder types, on one line."""
        return self.parsed(question, default, one_line, given)

    def parsed(self, question: str, default: str, parse: Callable[[str], T], given: str | None = None) -> T:
        """What the builder types, through `parse`; asked again where that raises `AnswerError`. What an option gives
        already is not asked.
        """
        if given is not None or self.silent:
            return parse(default if given is None else given)

        def checked(answer: str) -> T:
            return parse(answer.strip() or default)

        return self._answered(lambda: click.prompt(question, default, value_proc=checked, show_default=bool(default)))

    def yes(self, question: str, *, default: bool = True) -> bool:
        """Yes or no."""
        return default if self.silent else self._answered(lambda: click.confirm(question, default))

    def one_of(self, question: str, choices: Sequence[str], default: int = 0) -> int:
        """A place in `choices`, shown numbered from 1; a choice may also be typed by how it begins."""
        for number, choice in enumerate(choices, start=1):
            click.echo(f"  {number:>3}  {choice}")

        def parse(answer: str) -> int:
            if answer.isdecimal() and 1 <= int(answer) <= len(choices):
                return int(answer) - 1
            named = [place for place, choice in enumerate(choices) if choice.casefold().startswith(answer.casefold())]
            if len(named) == 1:
                return named[0]
            raise AnswerError(f"Type a number from 1 to {len(choices)}.")

        return self.parsed(question, str(default + 1), parse)

    def _answered(self, ask: Callable[[], T]) -> T:
        """What is answered. Where nothing is, the command ends."""
        try:
            return ask()
        except click.Abort:
            click.echo()
            if sys.stdin.isatty():
                click.echo(f"{self.stopped[0].upper()}{self.stopped[1:]}.")
                raise
            fail(f"no answer came, and {self.stopped}; with --yes nothing is asked", EXIT_USE)


def mapping_of(context: click.Context, parameter: click.Parameter, value: Sequence[str]) -> dict[str, str]:
    """`ONE=OTHER` pairs of a repeated option; the last `=` parts them."""
    mapping = {}
    for pair in value:
        name, sign, other = pair.rpartition("=")
        if not sign or not name.strip() or not other.strip():
            raise click.BadParameter(f'"{pair}" is not of the form {parameter.metavar}')
        mapping[name.strip()] = other.strip()
    return mapping


def map_option(help: str) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """`--map HEADING=COLUMN`, for a table whose headings are others than ours."""
    return click.option(
        "--map",
        "mapping",
        multiple=True,
        callback=mapping_of,
        metavar="HEADING=COLUMN",
        help=f"{help} May be repeated.",
    )


def _given_names(context: click.Context, parameter: click.Parameter, value: Sequence[str]) -> tuple[str, ...] | None:
    if not value:
        return None
    return tuple(name.strip() for text in value for name in text.split(",") if name.strip() not in ("", "-"))


def names_option(*names: str, help: str, metavar: str = "ID") -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """A repeated option for names, several parted by commas: None where it is not given, `-` for none."""
    help = f"{help} May be repeated."
    return click.option(*names, multiple=True, callback=_given_names, metavar=metavar, help=help)


def check_given(build: Build, **given: Iterable[str | None] | None) -> None:
    """Raise AnswerError where an option names what the build does not have; steps may be ranges (`5.3 to 5.6`)."""
    for kind, names in given.items():
        known = known_ids(build).lists[kind] or {}
        for name in (name for name in names or () if name is not None):
            for end in map(str.strip, name.split(" to ") if kind == "step" else (name,)):
                if end not in known:
                    hint = did_you_mean(end, known) if known else "the manual's steps go into content/steps.csv"
                    raise AnswerError(f'There is no {kind} "{end}" in this build; {hint}')


def meant_id(build: Build, kind: str, name: str | None) -> str | None:
    """The ID of what is named by its ID, title or name where that is one alone; else the name as it is."""
    meant = known_ids(build).meant(name, kind) if name else ()
    return meant[0] if len(meant) == 1 else name


def known_ids(build: Build) -> KnownIds:
    """What entries of the build can name, as the reader holds it against them."""
    lists = {"assembly": build.assemblies, "person": build.people, "place": build.places, "step": build.steps}
    return KnownIds(lists=lists, steps=build.steps, damaged=frozenset())


def parse_worked(text: str, build: Build, people: tuple[str, ...] | None = None) -> str:
    """A time worked as it may stand in an entry, or an empty text; `people` are those that the entry names."""
    notes = Notes("")
    if text:
        parse_hours(Scalar(text=text, where=(1, 1)), None, people, known_ids(build), notes)
    _explain(notes)
    return text


def parse_steps(text: str, known: KnownIds) -> tuple[str, ...]:
    """Steps and ranges of steps as they may stand in an entry."""
    notes = Notes("")
    steps = split_steps(text, known, notes)
    known.step_ids([Scalar(text=step, where=(1, 1)) for step in steps if not notes.errors], notes)
    _explain(notes)
    return steps


def _explain(notes: Notes) -> None:
    """Raise AnswerError where the reader would object."""
    if notes.errors:
        raise AnswerError("; ".join(f"{problem.message}; {problem.hint}" for problem in notes.problems))


def guess_assembly(build: Build, steps: Sequence[str], last: tuple[str, str]) -> tuple[str, str]:
    """(the assembly that is likely meant, why): that of the `steps` (IDs and ranges), where they are all of one, else
    the only one of the build, else `last`, which tells both.
    """
    meant = known_ids(build).step_ids([Scalar(text=step, where=(1, 1)) for step in steps], Notes(""))
    owners = {build.steps[step].assembly for step in meant}
    if len(owners) == 1:
        return owners.pop(), f"from step {meant[0]}"
    return (next(iter(build.assemblies)), "the only one") if len(build.assemblies) == 1 else last


def open_for_entries(root: Path) -> Journal:
    """The journal of a build that entries can be added to; the command ends where it has nothing to belong to."""
    journal = open_build(root)
    if not journal.build.assemblies:
        print_problems([problem for problem in journal.problems if problem.file == "content/build.yml"])
        fail("content/build.yml names no assembly yet; an entry belongs to one", EXIT_ERRORS)
    return journal
