"""What a table adds up itself, held against its rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from journal.commands.intake.columns import TOTAL
from journal.commands.intake.lenient_parsing import exact_hours
from journal.commands.intake.spreadsheet import SheetRow, Spreadsheet, TotalRow

Figures = Mapping[str, Fraction]
"""Hours that a row tells, by column of the table; under the empty text what the row tells in all."""


def say_hours(hours: Fraction) -> str:
    """Hours and minutes as they are written: `37:30`."""
    minutes = round(hours * 60)
    return f"{minutes // 60:,}:{minutes % 60:02d}"


def reckon(sheet: Spreadsheet, figures: Mapping[int, Figures]) -> tuple[int, list[str]]:
    """(how many subtotals, totals and running totals of a table were held against its rows, where they differ).
    `figures` goes by number of the row.

    A figure that is no whole number of minutes was rounded where it stands, and may be off by half of its last place.
    """
    held = 0
    differences: list[str] = []
    for rows, totals in sheet.totals:
        of_rows, begun = [], 0
        for place, row in enumerate(rows, start=1):
            if text := row.text(TOTAL):
                of_rows.append(TotalRow(line=row.line, label="", cells={TOTAL: text}, above=place, since=begun))
                begun = place
        carried = sum(exact_hours(text) or 0 for one in totals if not one.above for text in one.cells.values())
        for total in (one for one in (*totals, *of_rows) if one.above):
            held += len(total.cells)
            differences += filter(None, (_difference(total, key, rows, figures, carried) for key in total.cells))
    return held, differences


def _difference(
    total: TotalRow, column: str, rows: Sequence[SheetRow], figures: Mapping[int, Figures], carried: Fraction | int
) -> str:
    """What a total says against its rows, or nothing where it is the sum of those since the last one or of all above
    it, with what was `carried` over from elsewhere.
    """
    text = total.cells[column]
    told, sums = exact_hours(text), []
    for begun in (total.since, 0):
        of_rows = [figures.get(row.number, {}) for row in rows[begun : total.above]]
        key = column if any(column in one for one in of_rows) else ""
        sums.append(sum((one.get(key, Fraction()) for one in of_rows), Fraction()))
        slack = sum((rounding(row.text(column)) for row in rows[begun : total.above]), rounding(text))
        if told is not None and min(abs(told - sums[-1]), abs(told - sums[-1] - carried)) <= slack:
            return ""
    name = f'"{total.label}"' if total.label else "the total"
    return f"line {total.line}: {name} says {text}, and the rows above it add up to {say_hours(sums[0])}"


def rounding(text: str) -> Fraction:
    """By how much a figure may be off because it was rounded, in hours."""
    exact = exact_hours(text) if text else None
    if exact is None or (exact * 60).denominator == 1:
        return Fraction()
    places = len(text.replace(",", ".").rpartition(".")[2].rstrip(" hHrRsS.tdTD"))
    return Fraction(1, 2 * 10**places)
