"""The sheets of closed structures in the binder: one of A4 each, for somebody who cannot look inside."""

from __future__ import annotations

from journal.base.model import named
from journal.record.binder_parts import Shared, block
from journal.record.setting import Json
from journal.view.dossier import Dossier, SheetCell, SheetTable, dossiers

_GAPS, _ROWS, _PLACES, _PICTURES = 6, 22, 3, 4
"""What one sheet holds of each; the rest is counted, and stands in the entries and on the page of the archive."""
_PICTURE_MM = 25.0
_CELL_LETTERS = 120


def plan_closings(of: Shared) -> list[Json]:
    """One sheet for each structure that is closed, or about to be."""
    return [_sheet(of, number, dossier) for number, dossier in enumerate(dossiers(of.view), start=1)]


def _sheet(of: Shared, number: int, dossier: Dossier) -> Json:
    steps, *tables = dossier.tables
    return {
        "label": f"closing-{number}",
        "title": dossier.title,
        "block": block(*dossier.block.items()),
        "gaps": [
            {"message": _cut(message), "answer": _cut(answer), "open": answer == "open"}
            for message, answer in dossier.asked[:_GAPS]
        ],
        "more_gaps": _more(len(dossier.asked), _GAPS),
        "steps": [[_cell(of, cell) for cell in row] for row in steps.rows],
        "tables": [_table(of, table) for table in tables if table.rows],
        "lacks": ", ".join(table.title.lower() for table in tables if not table.rows),
        "pictures": [of.boxes.box(photo, _PICTURE_MM) for photo in dossier.pictures[:_PICTURES]],
        "more_pictures": _more(len(dossier.pictures), _PICTURES),
    }


def _table(of: Shared, table: SheetTable) -> Json:
    notes = (_more(len(table.rows), _ROWS), table.note)
    return {
        **named(table, "title", "columns", "wide"),
        "rows": [[_cell(of, cell) for cell in row] for row in table.rows[:_ROWS]],
        "note": "; ".join(filter(None, notes)),
    }


def _cell(of: Shared, cell: SheetCell) -> Json:
    if isinstance(cell, str):
        return {"words": _cut(cell), "places": [], "more": ""}
    return {"words": "", "places": [of.place(told) for told in cell[:_PLACES]], "more": " …" * (len(cell) > _PLACES)}


def _cut(words: str) -> str:
    """Words that a row holds; the whole of them stands where they were written."""
    return words if len(words) <= _CELL_LETTERS else words[: _CELL_LETTERS - 1].rsplit(" ", 1)[0] + " …"


def _more(number: int, shown: int) -> str:
    return f"and {number - shown} more in the entries" if number > shown else ""
