"""Another edition of the kit's manual: steps get new numbers by a table, and everything that names them follows."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

from journal.base.problems import Problem, did_you_mean
from journal.commands.moving.plan import STEPS, Move, Named
from journal.commands.moving.renaming import is_plain, said_formerly
from journal.reading.respelling import edit_steps
from journal.reading.table import read_table
from journal.reading.text import Notes

COLUMNS = (("old", "new"), ("title", "page"))
"""Those that the table of an edition must have, and those it may have."""

Cells = dict[str, dict[str, Callable[[str], str]]]


def read_edition(table: Path, named: Named) -> tuple[dict[str, str], Cells, tuple[str, ...], tuple[Problem, ...]]:
    """(old number -> new one, other cells of the new numbers, what the table holds that is not done, errors)."""
    notes, steps = Notes(str(table)), named.build.steps
    numbers: dict[str, str] = {}
    cells: Cells = {}
    left: list[str] = []
    rows = read_table(table, *COLUMNS, notes)
    for row in rows:
        old, new = row.text("old"), row.text("new")
        if not old:
            left.append(f"{new or 'a row without numbers'} is new: add its row to steps.csv")
        elif old not in steps:
            row.error("old", "unknown-step", f'unknown step "{old}"', did_you_mean(old, steps))
        elif not new:
            left.append(f"{old} is no longer in the manual: it stays as it is")
        elif not is_plain(new):
            row.error("new", "bad-step", f'"{new}" cannot be a step ID', "take letters, digits, `.`, `_` and `-`")
        elif old in numbers:
            row.error("old", "duplicate-step", f'step "{old}" is there twice', "keep one row")
        elif new in numbers.values():
            row.error("new", "duplicate-step", f'step "{new}" is there twice', "give each step a number of its own")
        else:
            numbers[old] = new
            cells[new] = {key: partial(_replaced, text) for key in COLUMNS[1] if (text := row.text(key))}
    for row in rows:
        new = numbers.get(row.text("old"), "")
        if new in steps and new not in numbers:
            said = f'"{new}" is the number of a step that the table does not name'
            row.error("new", "duplicate-step", said, "name that one, too, with its own new number")
    return numbers, cells, tuple(left), tuple(notes.problems)


def _replaced(new: str, older: str) -> str:
    return new


def renumber(named: Named, numbers: dict[str, str], cells: Cells) -> Move:
    """Every step of `numbers` under its new number; what it was called stands in the column `earlier`, with the
    edition of before, and under `formerly` where nothing else has that number now. Raises NotMovedError.
    """
    edition = named.build.manual_edition
    changed = {old: new for old, new in numbers.items() if old != new}
    today = {changed.get(step, step) for step in named.build.steps}
    move = Move(named, f"{len(changed)} steps have other numbers in another edition of the manual")
    move.names.update({("step", old): new for old, new in changed.items()})
    move.respell()
    for old, new in changed.items():
        was = f"{'edition ' if edition[:1].isdigit() else ''}{edition} {old}".strip()
        cells[new]["earlier"] = partial(_before, was)
        older = named.build.steps[old].formerly
        if old not in today or today.intersection(older):
            cells[new]["formerly"] = partial(_formerly, [old], today=today)
    told = {new: row for new, row in cells.items() if row}
    if told:
        move.edit(STEPS, lambda text: edit_steps(text, told))
    return move


def _before(new: str, older: str) -> str:
    return f"{new}; {older}" if older else new


def _formerly(names: list[str], older: str, *, today: set[str]) -> str:
    return said_formerly(names, older, today)
