"""Another edition of the kit's manual: steps get new numbers by a table, and everything that names them follows."""

from __future__ import annotations

import re
from pathlib import Path

from journal.base.formatting import say_few
from journal.base.problems import Problem, did_you_mean
from journal.commands.moving.plan import STEPS, Move, Named
from journal.commands.moving.renaming import is_plain
from journal.reading.edits import former_names
from journal.reading.respelling import edit_steps
from journal.reading.table import read_table
from journal.reading.text import Notes

COLUMNS = (("old", "new"), ("title", "page"))
"""Those that the table of an edition must have, and those it may have."""

SAID = 12
"""Numbers that are named where the whole is told in a line."""

Cells = dict[str, dict[str, str]]


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
            cells[new] = {key: text for key in COLUMNS[1] if (text := row.text(key))}
    for row in rows:
        new = numbers.get(row.text("old"), "")
        if new in steps and new not in numbers:
            said = f'"{new}" is the number of a step that the table does not name'
            row.error("new", "duplicate-step", said, "name that one, too, with its own new number")
    return numbers, cells, tuple(left), tuple(notes.problems)


def renumber(named: Named, numbers: dict[str, str], cells: Cells) -> Move:
    """Every step of `numbers` under its new number; what it was called stands in the column `earlier`, with the
    edition of before, and under `formerly` where nothing else has that number now. Raises NotMovedError.
    """
    edition = " ".join(re.split(r"[,;\s]+", named.build.manual_edition))
    changed = {old: new for old, new in numbers.items() if old != new}
    today = {changed.get(step, step) for step in named.build.steps}
    told = [f"{old} is {new}" for old, new in changed.items()]
    move = Move(named, f"numbers of another edition of the manual: {say_few(told, SAID)}")
    move.names.update({("step", old): new for old, new in changed.items()})
    move.respell()
    for old, new in changed.items():
        step = named.build.steps[old]
        cells[new]["earlier"] = "; ".join((f"{old} (edition {edition})" if edition else old, *step.earlier))
        if old not in today or today.intersection(step.formerly):
            cells[new]["formerly"] = "; ".join(former_names((old, *step.formerly), today))
    rows = {new: row for new, row in cells.items() if row}
    move.edit(STEPS, lambda text: edit_steps(text, rows))
    return move
