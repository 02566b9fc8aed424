"""What a table adds up itself, held against its rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from journal.base.formatting import say_count
from journal.commands.intake.columns import TOTAL
from journal.commands.intake.lenient_parsing import exact_hours, parse_any_hours
from journal.commands.intake.spreadsheet import SheetRow, Spreadsheet, TotalRow

Figures = Mapping[str, Fraction]
"""Hours that a row tells, by column of the table; under the empty text what the row tells in all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reckoned:
    """How many totals of a table were held against its rows, and where they differ, each a sentence."""

    held: int
    differences: tuple[str, ...]


def say_hours(hours: Fraction) -> str:
    """Hours and minutes as they are written: `37:30`."""
    minutes = round(hours * 60)
    return f"{minutes // 60:,}:{minutes % 60:02d}"


def reckon(sheet: Spreadsheet, figures: Mapping[int, Figures]) -> Reckoned:
    """Hold every subtotal, total and running total of a table against its rows; `figures` goes by number of the row.

    A figure that is no whole number of minutes was rounded where it stands, and may be off by half of its last place.
    """
    held, differences = 0, []
    for rows, totals in sheet.totals:
        for total in totals:
            for column, text in total.cells.items():
                held += 1
                if said := _difference(total, column, text, rows, figures):
                    differences.append(said)
        in_rows, wrong = _row_totals(rows, figures)
        held += in_rows
        differences += wrong
    return Reckoned(held=held, differences=tuple(differences))


def _difference(
    total: TotalRow, column: str, text: str, rows: Sequence[SheetRow], figures: Mapping[int, Figures]
) -> str:
    """What a total says against its rows, or nothing where it is the sum of all above it or of those since the last."""
    told = _exact(text)
    sums = []
    for begun in (total.since, 0):
        of_rows = [figures.get(row.number, {}) for row in rows[begun : total.above]]
        key = column if any(column in one for one in of_rows) else ""
        sums.append(sum((one.get(key, Fraction()) for one in of_rows), Fraction()))
        slack = sum((rounding(row.text(column)) for row in rows[begun : total.above]), rounding(text))
        if told is not None and abs(told - sums[-1]) <= slack:
            return ""
    name = f'"{total.label}"' if total.label else "the total"
    return f"line {total.line}: {name} says {text}, and the rows above it add up to {say_hours(sums[0])}"


def _row_totals(rows: Sequence[SheetRow], figures: Mapping[int, Figures]) -> tuple[int, list[str]]:
    """(how many rows tell a total of their own or up to their day, the first that differs)."""
    told = [(row, _exact(row.text(TOTAL))) for row in rows if row.text(TOTAL)]
    wrong: dict[str, list[str]] = {"row": [], "running": []}
    running, slack = Fraction(), Fraction()
    ends = {row.number: figure for row, figure in told}
    for row in rows:
        own = figures.get(row.number, {}).get("", Fraction())
        running += own
        slack += rounding(row.text("hours"))
        figure = ends.get(row.number)
        if figure is None:
            continue
        for kind, fits, spare in (("row", own, rounding(row.text("hours"))), ("running", running, slack)):
            if abs(figure - fits) > spare + rounding(row.text(TOTAL)):
                what = "the row" if kind == "row" else "the rows up to there"
                wrong[kind].append(f"line {row.line}: the total says {row.text(TOTAL)}, {what} {say_hours(fits)}")
    fewest = min(wrong.values(), key=len)
    more = f" (and {say_count(len(fewest) - 1, 'row')} more)" if len(fewest) > 1 else ""
    return len(ends), [f"{fewest[0]}{more}"] if fewest else []


def _exact(text: str) -> Fraction | None:
    parts = parse_any_hours(text)
    return exact_hours(parts) if parts else None


def rounding(text: str) -> Fraction:
    """By how much a figure may be off because it was rounded, in hours."""
    exact = _exact(text) if text else None
    if exact is None or (exact * 60).denominator == 1:
        return Fraction()
    places = len(text.replace(",", ".").rpartition(".")[2].rstrip(" hHrRsS.tdTD"))
    return Fraction(1, 2 * 10**places)
