"""New IDs: of an entry, a step, an assembly, a person, a place."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterable
from pathlib import PurePosixPath

from journal.base.model import Entry, WriteUp
from journal.base.problems import did_you_mean
from journal.commands.intake.asking import AnswerError
from journal.commands.intake.new_entries import taken_names
from journal.commands.moving.plan import BUILD, STEPS, Move, Named
from journal.reading.edits import add_former_names, former_names
from journal.reading.plan import LISTED
from journal.reading.respelling import edit_steps

LISTS = {kind: key for key, kind in LISTED.items()} | {"step": "steps"}
"""The list of the build that each kind stands in."""

_PLAIN = re.compile(r"[^\W_](?:[\w.-]{0,78}\w)?")


def is_plain(name: str) -> bool:
    """Whether an ID needs quotes nowhere and keeps its address."""
    return bool(_PLAIN.fullmatch(name))


def check_new(new: str, taken: Iterable[str], what: str) -> None:
    """Raise AnswerError for a name that cannot be given: it needs quotes somewhere, or something has it."""
    if not is_plain(new):
        raise AnswerError(f'"{new}" cannot be the ID of {what}; take at most 80 letters, digits, `.`, `_` and `-`.')
    if new.casefold() in {one.casefold() for one in taken}:
        raise AnswerError(f'There is {what} "{new}" already; names differ in more than capitals.')


def check_address(old: str, new: str) -> None:
    """Raise AnswerError where the old name is no other address than the new one on many disks."""
    if not former_names([old], [new]):
        raise AnswerError(
            f'On many disks "{old}" and "{new}" are one name, so that nothing could lead from one to the other; '
            "take a name that differs in more than capitals."
        )


def find_told(named: Named, name: str) -> Entry | WriteUp:
    """The entry, inspection or measurement of that name, or whose folder it is. Raises AnswerError."""
    build = named.build
    every: list[Entry | WriteUp] = [*build.measurements, *build.inspections, *build.drafts, *build.entries]
    told = {one.id: one for one in every}
    bare = PurePosixPath(name.rstrip("/").removesuffix("/index.md")).name
    if one := told.get(bare) or told.get(bare.removesuffix(".md")):
        return one
    raise AnswerError(f'There is no entry "{name}"; {did_you_mean(bare, told)}')


def folder_of(one: Entry | WriteUp) -> str:
    """The folder of its own in which an entry lies; empty for one that is a file beside others."""
    file = PurePosixPath(one.src_uri)
    return str(file.parent) if file.parent.name == one.id else ""


def rename_entry(named: Named, old: str, new: str) -> Move:
    """Another name for an entry, an inspection or a measurement. Raises AnswerError, NotMovedError."""
    one = find_told(named, old)
    kind = one.src_uri.split("/")[1]
    lying = [posixpath.splitext(path.name)[0] for path in (named.root / one.src_uri).parent.parent.iterdir()]
    others = taken_names(named.root) if kind == "entries" else lying
    check_new(new, [other for other in others if other.casefold() != one.id.casefold()], "an entry")
    if new == one.id:
        raise AnswerError(f'It is called "{new}" already.')
    check_address(one.id, new)
    if "date" not in one.where and not new.startswith(f"{one.date}"):
        raise AnswerError(f"Its date is told by its name alone; begin the new one with {one.date}, or write `date:`.")
    move = Move(named, f"{one.id} is called {new} now")
    folder, parent = folder_of(one), posixpath.dirname(one.src_uri)
    if folder:
        move.paths[folder] = posixpath.join(posixpath.dirname(folder), new)
    else:
        move.paths[one.src_uri] = posixpath.join(parent, new + posixpath.splitext(one.src_uri)[1])
    if isinstance(one, Entry):
        move.names["entry", one.id] = new
    move.respell()
    if not (isinstance(one, Entry) and one.draft):  # nobody ever had the address of a draft
        move.edit(one.src_uri, lambda text: add_former_names(text, [one.id], new))
    return move


def rename_id(named: Named, kind: str, old: str, new: str) -> Move:
    """Another ID for a step, assembly, person or place (`kind`). Raises AnswerError, NotMovedError."""
    listed: dict[str, object] = {**getattr(named.build, LISTS[kind])}
    old = next((one for one in listed if one.casefold() == old.casefold()), old)
    what = f"{'an' if kind == 'assembly' else 'a'} {kind}"
    if old not in listed:
        raise AnswerError(f'There is no {kind} "{old}" in this build; {did_you_mean(old, listed)}')
    check_new(new, {one for one in listed if one != old}, what)
    if old == new:
        raise AnswerError(f'It is called "{new}" already.')
    if kind in ("assembly", "step"):
        check_address(old, new)
    move = Move(named, f"the {kind} {old} is called {new} now")
    move.names[kind, old] = new
    move.respell()
    if kind == "assembly":
        move.edit(BUILD, lambda text: add_former_names(text, [old], new, "assemblies"))
    elif kind == "step":
        older = named.build.steps[old].formerly
        cells = {new: {"formerly": "; ".join(former_names((old, *older), {new}))}}
        move.edit(STEPS, lambda text: edit_steps(text, cells))
    return move
