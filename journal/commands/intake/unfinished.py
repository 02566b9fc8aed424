"""Entries that lack something, gone through one after the other: each answer is written at once, and nothing else."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

import click

from journal.base.formatting import say_all, say_count, say_date, say_weekday
from journal.base.model import Clip, Entry, Photo, State
from journal.base.private_passages import find_passages
from journal.base.problems import Problem
from journal.base.text_files import one_line, yaml_figure, yaml_list, yaml_text
from journal.commands.intake.asking import AnswerError, Asker, known_ids, parse_steps, parse_worked
from journal.commands.intake.lenient_parsing import LONGEST_TITLE, first_words
from journal.commands.intake.proof import prove_entries
from journal.commands.terminal import print_problems
from journal.commands.written import ENTER, WrittenList
from journal.ledger.journal import Journal
from journal.ledger.today import what_lacks
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
    question: str
    photo: str = ""


def finish_entries(journal: Journal, ask: Asker) -> None:
    """Ask for what entries lack, the newest first, and write each answer into the entry. Where nothing shall be asked,
    only tell what each lacks.
    """
    build, root = journal.build, journal.root
    newest = sorted((*build.entries, *build.drafts), key=lambda one: (one.date, one.id), reverse=True)
    told = [(entry, lacks) for entry in newest if (lacks := [*_lacks(journal, entry)]) or entry.draft]
    texts = {entry.id: (root / entry.src_uri).read_bytes().decode() for entry, _ in told}
    sealed = {key[1] for key in read_chain(root).current if key[0] is Kind.ENTRY}
    if over := [entry.id for entry, _ in told if entry.id in sealed]:
        more = f" and {len(over) - SHOWN} more" if len(over) > SHOWN else ""
        click.echo(f"Sealed and passed over, though something is missing: {', '.join(over[:SHOWN])}{more}.")
    told = [(entry, lacks) for entry, lacks in told if entry.id not in sealed]
    if not told:
        click.echo("No entry is unfinished.")
        return
    click.echo(f"{say_count(len(told), 'entry is', 'entries are')} unfinished.")
    if not ask.silent:
        click.echo("Enter leaves a thing as it is, s goes on to the next entry, q stops.")
    for number, (entry, lacks) in enumerate(told, start=1):
        click.echo(f"\n{number} of {len(told)}: {_say_entry(journal, entry, lacks)}")
        if ask.silent:
            continue
        try:
            _Finishing(journal, ask, entry, texts[entry.id], texts[entry.id]).ask_for(lacks)
        except _NextEntryError:
            continue
        except _StopError:
            break


def _lacks(journal: Journal, entry: Entry) -> Iterator[_Lack]:
    lacks = what_lacks(journal, entry)
    if lacks.hours:
        question = "How long did each of you work? Like 2:45 or 18:30-21:15"
        yield _Lack(key="hours", said="hours", question=question)
    if lacks.title:
        yield _Lack(key="title", said="a title", question="What was done? A few words for the title")
    if lacks.steps:
        question = "Which steps were finished? Like 5.3 or 5.3 to 5.6 (none: none)"
        yield _Lack(key="steps", said="steps", question=question)
    for one in lacks.captions:
        yield _Lack(key="photos", said="captions", question=f"What does {_say_picture(one)} show?", photo=one.name)


def _pictures(entry: Entry) -> tuple[Photo | Clip, ...]:
    return (*entry.photos, *entry.clips)


def _say_picture(one: Photo | Clip) -> str:
    taken = one.facts.taken if isinstance(one, Photo) else None
    return f"{one.name} ({taken:%H:%M})" if taken else one.name


def _say_entry(journal: Journal, entry: Entry, lacks: list[_Lack]) -> str:
    pictures = [_say_picture(one) for one in _pictures(entry)]
    more = [f"and {len(pictures) - SHOWN} more"] if len(pictures) > SHOWN else []
    words = first_words(find_passages(entry.body).public, LONGEST_TITLE)
    draft = ", a draft" if entry.draft else ""
    said = f"{say_weekday(entry.date)} {say_date(entry.date)}, {journal.build.assemblies[entry.assembly].title}{draft}"
    lines = [f"{said}: {entry.title}", entry.src_uri, ", ".join([*pictures[:SHOWN], *more]), words]
    lines += [f"It lacks {say_all(list(dict.fromkeys(one.said for one in lacks)))}."] if lacks else []
    return "\n  ".join(filter(None, lines))


@dataclass(slots=True)
class _Finishing:
    """One entry being finished. `read` is the text of its file as it was read, `text` as it was last written here."""

    journal: Journal
    ask: Asker
    entry: Entry
    read: str
    text: str

    def ask_for(self, lacks: list[_Lack]) -> None:
        """Ask for each thing, and at the end of a draft whether it is finished."""
        parsers = {"hours": self._parse_hours, "title": yaml_text, "steps": self._parse_steps, "photos": one_line}
        for lack in lacks:
            if lack.key == "steps":
                self._suggest_steps()
            if value := self._answer(lack.question, parsers[lack.key], ""):
                edit = partial(set_value, key=lack.key, value=value)
                if lack.photo:
                    edit = partial(set_caption, photo=lack.photo, caption=value)
                self._write(f"caption of {lack.photo}" if lack.photo else lack.key, edit)
        finished = "Finished? It counts from now on: y or n (Enter: not yet)"
        if self.entry.draft and not self._stays_draft() and self._answer(finished, _parse_yes, False):
            self._write("no draft any more", partial(drop_key, key="draft"))

    def _answer(self, question: str, parse: Callable[[str], T], nothing: T) -> T:
        def parsed(answer: str) -> T:
            if answer.casefold() in ("s", "q"):
                raise _NextEntryError if answer.casefold() == "s" else _StopError
            return parse(answer) if answer else nothing

        return self.ask.parsed(question, "", parsed)

    def _parse_hours(self, answer: str) -> str:
        people = self.entry.people if "people" in self.entry.where else None
        return yaml_figure(parse_worked(answer, self.journal.build, people))

    def _parse_steps(self, answer: str) -> str:
        known = known_ids(self.journal.build)
        return "none" if answer.casefold() in NOTHING else yaml_list(parse_steps(answer, known))

    def _suggest_steps(self) -> None:
        states = self.journal.progress.steps
        steps = self.journal.build.steps_of(self.entry.assembly)
        for step in [step for step in steps if states[step.id].state is not State.DONE][:SHOWN]:
            click.echo(f"  {step.id}  {one_line(step.title)}")

    def _write(self, what: str, edit: Callable[[str], str]) -> None:
        """Make one edit; not in a file that was changed meanwhile, and none that the reader would object to."""

        def checked(text: str) -> str:
            if text != self.text:
                click.echo("  Not written: the file was changed meanwhile; the next run looks at it anew.")
                raise _NextEntryError
            edited = edit(text)
            if found := self._objections(drop_key(edited, "draft")):
                raise EditRefusedError("; ".join(f"{one.message}; {one.hint}" for one in found))
            return edited

        file, said = self.entry.src_uri, f"{what} in {self.entry.id}"
        try:
            self.text = WrittenList(self.journal.root).change(file, checked, by=ENTER, said=said).after or ""
        except EditRefusedError as trouble:
            click.echo(f"  Not written: {trouble}.")

    def _objections(self, text: str) -> list[Problem]:
        """What the reader would object to in a text of the entry, read by itself, but for what only the lack of other
        entries makes an error.
        """
        file, names = self.entry.src_uri, [one.name for one in _pictures(self.entry)]
        texts = (text, drop_key(self.read, "draft"))
        told = [prove_entries(self.journal.root, {file: (one, names)})[1].get(file, []) for one in texts]
        known = {one.message for one in self.journal.problems if one.file == file}
        before = {one.message for one in told[1]} - known
        return [one for one in told[0] if one.message not in before]

    def _stays_draft(self) -> bool:
        """Whether something speaks against counting the entry; it is told."""
        try:
            found = self._objections(drop_key(self.text, "draft"))
        except EditRefusedError as trouble:
            click.echo(f"  It stays a draft: {trouble}.")
            return True
        print_problems(found)
        if found:
            click.echo("  It stays a draft until this is mended.")
        return bool(found)


def _parse_yes(answer: str) -> bool:
    if answer.casefold() not in YES | NO:
        raise AnswerError("Type y or n.")
    return answer.casefold() in YES
