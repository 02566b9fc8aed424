"""`journal move`: what was written is renamed everywhere it is named; entries are split and joined."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from journal.base.formatting import say_all, say_count, say_minutes
from journal.base.model import Entry
from journal.base.problems import did_you_mean, has_errors
from journal.commands.intake.asking import AnswerError, Asker, check_given, known_ids, meant_id, names_option
from journal.commands.moving.dividing import Split, find_entry, join_entries, split_entry
from journal.commands.moving.edition import read_edition, renumber
from journal.commands.moving.pictures import move_picture
from journal.commands.moving.plan import Move, Named, NotMovedError, read_named
from journal.commands.moving.renaming import rename_entry, rename_id
from journal.commands.terminal import EXIT_ERRORS, build_option, fail, print_problems, stop_at_errors
from journal.commands.written import MOVE, WrittenList
from journal.reading.edits import EditRefusedError
from journal.reading.hours import parse_duration
from journal.reading.text import Notes
from journal.reading.tree import Scalar
from journal.record.chain import read_chain, touches, uri_of

SHOWN = 12
"""Files of a move that are named; more are counted."""


class _Moves(click.Group):
    def list_commands(self, ctx: click.Context) -> list[str]:
        """In the order of their use."""
        return list(self.commands)


@click.group(cls=_Moves)
def move() -> None:
    """Rename or move what was written, everywhere it is named.

    Entries, lists, links, pictures and the drawing follow, former addresses lead on, and the totals are the same
    before and after, or nothing is done. `journal undo` takes a move back until it is sealed; after a
    seal it becomes an amendment that names old and new.
    """


def _options(command: Callable[..., None]) -> Callable[..., None]:
    return build_option(click.option("--dry-run", is_flag=True, help="Only show what would change.")(command))


@move.command("entry")
@_options
@click.argument("old")
@click.argument("new")
def move_entry(root: Path, old: str, new: str, *, dry_run: bool) -> None:
    """Give the folder of an entry, inspection or measurement another name.

    \b
    Example:
      journal move entry 2026-02-08-flaps 2026-02-08-flap-skeletons
    """
    carry_out(root, lambda named: rename_entry(named, old, new), dry_run=dry_run)


@move.command("picture")
@_options
@click.argument("picture", metavar="ENTRY/PICTURE")
@click.argument("to", metavar="NEW")
def move_a_picture(root: Path, picture: str, to: str, *, dry_run: bool) -> None:
    """Give a picture or film another name, or move it to another entry with what is said of it.

    \b
    Example:
      journal move picture 2026-02-08-flaps/IMG_0110.jpg rib-4.jpg
      journal move picture 2026-02-08-flaps/IMG_0110.jpg 2026-02-09-flaps
    """
    carry_out(root, lambda named: move_picture(named, picture, to), dry_run=dry_run)


def _of_a_list(kind: str, what: str, example: str) -> None:
    def command(root: Path, old: str, new: str, *, dry_run: bool) -> None:
        carry_out(root, lambda named: rename_id(named, kind, old, new), dry_run=dry_run)

    command.__doc__ = f"Give {what} another ID.\n\n    \b\n    Example:\n      journal move {kind} {example}\n    "
    move.command(kind)(_options(click.argument("old")(click.argument("new")(command))))


_of_a_list("step", "a step of the manual", "7.12 7.13")
_of_a_list("assembly", "an assembly", "flap flaps")
_of_a_list("person", "a person", "bo bodil")
_of_a_list("place", "a place", "home garage")


@move.command("split")
@_options
@click.argument("entry")
@click.option("--title", metavar="WORDS", help="What the new entry is called.")
@click.option("--assembly", metavar="ID", help="Its assembly, where that is another one.")
@click.option(
    "--hours", multiple=True, metavar="TIME", help="What of each one's time goes, 1:15 or ada=1:15; 0 for none."
)
@names_option("--step", "steps", help="A step that goes, with its rivets and bolts.")
@names_option("--tool", "tools", metavar="NAME", help="A tool.")
@names_option("--method", "methods", metavar="NAME", help="A method.")
@names_option("--material", "materials", help="A material.")
@click.option("--picture", "pictures", multiple=True, metavar="FILE", help="A picture or film. May be repeated.")
@click.option("--from", "words", metavar="WORDS", help="The text from the paragraph on that begins with these words.")
def move_split(
    root: Path, entry: str, title: str | None, hours: tuple[str, ...], *, dry_run: bool, **goes: Any
) -> None:
    """Split an entry in two of the same day; asks how the hours divide.

    \b
    Example:
      journal move split 2026-02-08-flaps --title "Hinge brackets" --step 5.4 --hours 1:15 --from "In the evening"
    """
    ask = Asker(silent=not sys.stdin.isatty(), stopped="nothing was moved")

    def work(named: Named) -> Move:
        one = find_entry(named, entry)
        if not (title or "").strip() and (ask.silent or title is not None):
            raise AnswerError("Say what the new entry is called, with --title.")
        lists = {key: goes[key] or () for key in ("steps", "tools", "methods", "materials")}
        assembly = meant_id(named.build, "assembly", goes["assembly"])
        check_given(named.build, assembly=[assembly], step=lists["steps"])
        scalars = [Scalar(text=step, where=(1, 1)) for step in lists["steps"]]
        split = Split(
            title=ask.text("What is the new entry called?", given=title),
            assembly=assembly or "",
            minutes=_minutes(one, hours, ask, named),
            lists={**lists, "steps": known_ids(named.build).step_ids(scalars, Notes(""))},
            pictures=goes["pictures"],
            words=goes["words"] or "",
        )
        return split_entry(named, entry, split)

    carry_out(root, work, dry_run=dry_run)


def _minutes(one: Entry, hours: tuple[str, ...], ask: Asker, named: Named) -> dict[str, int]:
    """The minutes of each person that go to the new entry. Raises AnswerError."""

    def parsed(text: str) -> int:
        minutes = 0 if text.strip() in ("0", "none") else parse_duration(text.strip())
        if minutes is None:
            raise AnswerError(f'"{text}" is not a length of time; write it like 1:15, or 0.')
        return minutes

    told: dict[str, int] = {}
    worked = {time.person: time.minutes for time in one.time}
    for text in hours:
        person, sign, time = text.rpartition("=")
        if sign and person not in worked:
            raise AnswerError(f'"{person}" has no hours in {one.id}; {did_you_mean(person, worked)}')
        told |= dict.fromkeys([person] if sign else worked, parsed(time))
    if worked and not hours and ask.silent:
        said = ", ".join(f"{person} {say_minutes(minutes)}" for person, minutes in worked.items())
        raise AnswerError(f"Say how the hours divide ({said}): --hours 1:15 of each, --hours ID=1:15, or --hours 0.")
    for person, minutes in worked.items() if not hours else ():
        name = named.build.people[person].name
        question = f"How much of the {say_minutes(minutes)} of {name} goes to the new entry?"
        told[person] = ask.parsed(question, "0", parsed)
    return told


@move.command("join")
@_options
@click.argument("entry")
@click.argument("other")
def move_join(root: Path, entry: str, other: str, *, dry_run: bool) -> None:
    """Make OTHER a part of ENTRY; both are of one day and one assembly.

    \b
    Example:
      journal move join 2026-02-08-flaps 2026-02-08-flaps-2
    """
    carry_out(root, lambda named: join_entries(named, entry, other), dry_run=dry_run)


@move.command("edition")
@_options
@click.argument("table", type=click.Path(path_type=Path, exists=True, dir_okay=False))
def move_edition(root: Path, table: Path, *, dry_run: bool) -> None:
    """Give steps the numbers of another edition of the manual.

    TABLE is a CSV file with the columns old and new, perhaps title and page. Everything that names a step
    follows; its old number stands in steps.csv under `earlier` and is still found.

    \b
    Example:
      journal move edition edition-c.csv
    """

    def work(named: Named) -> Move:
        numbers, cells, left, problems = read_edition(table, named)
        print_problems(problems)
        if has_errors(problems):
            raise NotMovedError(f"mend {table} first.")
        if not any(old != new for old, new in numbers.items()) and not any(cells.values()):
            raise NotMovedError(f"{table} gives no step another number.")
        for line in left:
            click.echo(f"  {line}")
        bare = sum(not one.edition or one.edition == named.build.manual_edition for one in named.build.callouts)
        if bare:
            said = "call-outs are of the edition of before; look each one up before you change `manual:` in build.yml"
            click.echo(f"  {bare} {said}")
        return renumber(named, numbers, cells)

    carry_out(root, work, dry_run=dry_run)


def carry_out(root: Path, work: Callable[[Named], Move], *, dry_run: bool) -> None:
    """Work out a move, prove it, tell what it changes and do it; the command ends where that cannot be."""
    with WrittenList(root).lock():  # another one that is in the middle is waited for
        named = read_named(root)
    stop_at_errors(named.problems, "Nothing was moved")
    try:
        planned = work(named)
        planned.prove()
        acts = planned.acts()
    except (NotMovedError, EditRefusedError) as trouble:
        fail(f"nothing was moved: {trouble}", EXIT_ERRORS)
    texts = sum(not act.source for act in acts)
    for act in acts[:SHOWN]:
        click.echo(f"  {act.source} -> {act.file}" if act.source else f"  {act.file}")
    if len(acts) > SHOWN:
        click.echo(f"  and {len(acts) - SHOWN} more")
    shifted = [
        f"{assembly} has {say_minutes(minutes)} more" for assembly, minutes in planned.shifts.items() if minutes > 0
    ]
    stays = f"{shifted[0]}, and every other total stays" if shifted else "every total stays"
    click.echo(f"{say_count(texts, 'text')} to change; {stays} the same.")
    if sealed := _sealed(planned):
        click.echo(f"Sealed already: {say_all(sealed)}. The next `journal seal` makes amendments, for this reason:")
        click.echo(f"  {planned.said}")
    if dry_run:
        click.echo("Nothing was moved (--dry-run).")
        return
    try:
        WrittenList(root).carry_out(acts, by=MOVE, said=planned.said, reason=planned.said)
    except FileExistsError as trouble:
        fail(f"nothing was moved: {trouble.filename} was changed meanwhile; try again.", EXIT_ERRORS)
    click.echo(f"Done: {planned.said}. `journal undo` takes it back.")


def _sealed(planned: Move) -> list[str]:
    """What a seal in force speaks of and the move touches, in words."""
    touched, build = [*planned.texts, *planned.paths, *planned.away], planned.of.build
    now = {name: one.id for one in (*build.entries, *build.write_ups) for name in one.formerly}
    sealed = [(kind, now.get(name, name)) for kind, name in read_chain(planned.of.root).current]
    keys = [key for key in dict.fromkeys(sealed) if any(touches(path, key) for path in touched)]
    told = [key[1] for key in keys if not key[0].is_cut]
    lists = {uri_of(key) for key in keys if key[0].is_cut}
    entries = [say_count(len(told), "entry", "entries")] if len(told) > 3 else told
    return [*entries, *sorted(path.removeprefix("content/") for path in lists)]
