"""Entries that lack something, gone through one after the other: each answer is written at once, and nothing else."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

import click

from journal.base.formatting import say_all, say_count, say_date, say_weekday
from journal.base.model import Clip, Entry, Photo, State
from journal.base.problems import Problem
from journal.base.text_files import one_line, yaml_figure, yaml_list, yaml_text
from journal.commands.intake.asking import AnswerError, Asker, known_ids, parse_steps, parse_worked
from journal.commands.intake.lenient_parsing import LONGEST_TITLE, first_words
from journal.commands.intake.proof import prove_entries
from journal.commands.intake.written import WrittenList
from journal.commands.terminal import print_problems
from journal.ledger.journal import Journal
from journal.reading.edits import EditRefusedError, drop_key, set_caption, set_value
from journal.reading.form import NO, NOTHING, YES
from journal.record.chain import Kind, read_chain

T = TypeVar("T")

SHOWN = 6
"""Pictures named, and steps suggested."""


class _NextEntryError(Exception):
    """The builder goes on to the next entry, or has to."""


class _StopError(Exception):
    """The builder stops."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lack:
    """What an entry lacks. `said` tells it in a word or two; of a picture, `photo` is its name in the entry."""

    key: str
    said: str
    photo: str = ""


def finish_entries(journal: Journal, ask: Asker) -> None:
    """Ask for what entries lack, the newest first, and write each answer into the entry. Where nothing shall be asked,
    only tell what each lacks.
    """
    build, root = journal.build, journal.root
    texts = {one.id: (root / one.src_uri).read_bytes().decode() for one in (*build.entries, *build.drafts)}
    newest = sorted((*build.entries, *build.drafts), key=lambda one: (one.date, one.id), reverse=True)
    told = [(entry, [*_lacks(journal, entry)]) for entry in newest]
    told = [(entry, lacks) for entry, lacks in told if lacks or entry.draft]
    sealed = {key[1] for key in read_chain(root).current if key[0] is Kind.ENTRY}
    if over := [entry.id for entry, _ in told if entry.id in sealed]:
        more = f" and {len(over) - SHOWN} more" if len(over) > SHOWN else ""
        click.echo(f"Sealed and passed over, though something is missing: {', '.join(over[:SHOWN])}{more}.")
    told = [(entry, lacks) for entry, lacks in told if entry.id not in sealed]
    if not told:
        click.echo("No entry is unfinished.")
        return
    click.echo(f"{say_count(len(told), 'entry lacks', 'entries lack')} something.")
    if not ask.silent:
        click.echo("Enter leaves a thing as it is, s goes on to the next entry, q stops.")
    for number, (entry, lacks) in enumerate(told, start=1):
        click.echo(f"\n{number} of {len(told)}: {_say_entry(journal, entry, lacks)}")
        if ask.silent:
            continue
        try:
            _Finishing(journal, ask, entry, texts[entry.id]).ask_for(lacks)
        except _NextEntryError:
            continue
        except _StopError:
            break


def _lacks(journal: Journal, entry: Entry) -> Iterator[_Lack]:
    if not entry.time:
        yield _Lack(key="hours", said="hours")
    if not entry.titled:
        yield _Lack(key="title", said="a title")
    steps = entry.steps or entry.begun or entry.redone or "steps" in entry.where
    if not steps and journal.build.steps_of(entry.assembly):
        yield _Lack(key="steps", said="steps")
    names = {name.removeprefix("photos.").casefold(): name.removeprefix("photos.") for name in entry.where}
    for one in _pictures(entry):
        if not one.caption and not one.private_caption:
            yield _Lack(key="photos", said="captions", photo=names.get(one.name.casefold(), one.name))


def _pictures(entry: Entry) -> tuple[Photo | Clip, ...]:
    return (*entry.photos, *entry.clips)


def _say_picture(one: Photo | Clip) -> str:
    taken = one.facts.taken if isinstance(one, Photo) else None
    return f"{one.name} ({taken:%H:%M})" if taken else one.name


def _say_entry(journal: Journal, entry: Entry, lacks: list[_Lack]) -> str:
    pictures = [_say_picture(one) for one in _pictures(entry)]
    more = [f"and {len(pictures) - SHOWN} more"] if len(pictures) > SHOWN else []
    words = first_words(entry.body, LONGEST_TITLE)
    draft = ", a draft" if entry.draft else ""
    said = f"{say_weekday(entry.date)} {say_date(entry.date)}, {journal.build.assemblies[entry.assembly].title}{draft}"
    lines = [f"{said}: {entry.title}", entry.src_uri, ", ".join([*pictures[:SHOWN], *more]), words]
    lines += [f"It lacks {say_all(list(dict.fromkeys(one.said for one in lacks)))}."] if lacks else []
    return "\n  ".join(filter(None, lines))


@dataclass(slots=True)
class _Finishing:
    """One entry being finished. `text` is that of its file as it was read, or as it was written here."""

    journal: Journal
    ask: Asker
    entry: Entry
    text: str

    def ask_for(self, lacks: list[_Lack]) -> None:
        """Ask for each thing, and at the end of a draft whether it is finished."""
        pictures = {one.name.casefold(): _say_picture(one) for one in _pictures(self.entry)}
        asked = {"hours": self._ask_hours, "title": self._ask_title, "steps": self._ask_steps}
        for lack in lacks:
            if lack.photo:
                caption = self._answer(f"What does {pictures[lack.photo.casefold()]} show?", one_line)
                if caption:
                    self._write(f"caption of {lack.photo}", partial(set_caption, photo=lack.photo, caption=caption))
            elif value := asked[lack.key]():
                self._write(lack.key, partial(set_value, key=lack.key, value=value))
        finished = "Finished? It counts from now on: y or n (Enter: not yet)"
        if self.entry.draft and not self._objections() and self._answer(finished, _parse_yes):
            self._write("no draft any more", partial(drop_key, key="draft"))

    def _answer(self, question: str, parse: Callable[[str], T]) -> T:
        def parsed(answer: str) -> T:
            if answer.casefold() in ("s", "q"):
                raise _NextEntryError if answer.casefold() == "s" else _StopError
            return parse(answer)

        return self.ask.parsed(question, "", parsed)

    def _ask_hours(self) -> str:
        question = "How long did each of you work? Like 2:45 or 18:30-21:15"
        return yaml_figure(self._answer(question, lambda text: parse_worked(text, self.journal.build)))

    def _ask_title(self) -> str:
        title = self._answer("What was done? A few words for the title", one_line)
        return yaml_text(title) if title else ""

    def _ask_steps(self) -> str:
        build, states = self.journal.build, self.journal.progress.steps
        steps = [step for step in build.steps_of(self.entry.assembly) if states[step.id].state is not State.DONE]
        for step in steps[:SHOWN]:
            click.echo(f"  {step.id}  {one_line(step.title)}")

        def parse(answer: str) -> str:
            if answer.casefold() in NOTHING:
                return "none"
            return yaml_list(parse_steps(answer, known_ids(build))) if answer else ""

        return self._answer("Which steps were finished? Like 5.3 or 5.3 to 5.6 (none: none)", parse)

    def _write(self, what: str, edit: Callable[[str], str]) -> None:
        def checked(text: str) -> str:
            if text != self.text:
                raise EditRefusedError("the file was changed meanwhile; the next run looks at it anew")
            return edit(text)

        file, said = self.entry.src_uri, f"{what} in {self.entry.id}"
        try:
            self.text = WrittenList(self.journal.root).change(file, checked, by="enter", said=said).after or ""
        except EditRefusedError as trouble:
            click.echo(f"  Not written: {trouble}.")

    def _objections(self) -> list[Problem]:
        """What the reader would object to if the entry were no draft; it is told."""
        names = [one.name for one in _pictures(self.entry)]
        try:
            text = drop_key(self.text, "draft")
        except EditRefusedError as trouble:
            click.echo(f"  It stays a draft: {trouble}.")
            raise _NextEntryError from None
        _, found = prove_entries(self.journal.root, {self.entry.src_uri: (text, names)})
        problems = found.get(self.entry.src_uri, [])
        if problems:
            print_problems(problems)
            click.echo("  It stays a draft until this is mended.")
        return problems


def _parse_yes(answer: str) -> bool:
    if answer and answer.casefold() not in YES | NO:
        raise AnswerError("Type y or n.")
    return answer.casefold() in YES
