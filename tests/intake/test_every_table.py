# ruff: noqa: E501 (lines of files as people keep them)
"""What is understood of tables and notes in every shape we thought of, cell for cell: `every_table.golden.txt`.

For each the lines that are told, the columns, the rows with their cells, sums and remarks, and what becomes of each row;
`--rewrite-goldens` accepts a change.
"""

from __future__ import annotations

from dataclasses import asdict
from functools import partial
from pathlib import Path

import pytest
from making import BUILD_YML, MakeBuild, entry, read

from journal.base.problems import render_problem
from journal.commands.intake.adopt import COLUMNS
from journal.commands.intake.adoption import AdoptionWishes, read_plans
from journal.commands.intake.asking import known_ids
from journal.commands.intake.grids import read_grids
from journal.commands.intake.lenient_parsing import DateOrder
from journal.commands.intake.notes import begins_as_notes, days_told, lacks_year, leading_fields, read_notes, split_day
from journal.commands.intake.spreadsheet import Spreadsheet, heading_score, read_tables
from journal.reading.text import Notes

GOLDEN = Path(__file__).with_name("every_table.golden.txt")

TABLES: list[tuple[str, dict[str, str]]] = [
    ("", {}),
    ("a,b\n1,2\n", {}),
    ("date,hours\n2019-02-07,1\n", {"Datum": "date", "hours": "stunden"}),
    (
        "My workshop\n\nDate,Hours (min),What,,Cost\n7.2.2019,90,Deburred the ribs,loose,3.50\n8.2.2019,45 ,Cleaned,,\n",
        {},
    ),
    (
        "Date,Time,,Work\n,From,To,\n2019-02-07,18:30,20:00:00,Ribs and spar\n2019-02-08,18,,Alone\n2019-02-09,,20:00,Alone\n",
        {},
    ),
    (
        "Date,Start,Finish,Start,Finish,Break,Hours,Text\n2019-02-07,8:00,9:00,10:00,11:30,15,2.25,Two spans of one day\n"
        "2019-02-08,8,9,,,nil,1,One span alone\n2019-02-09,6:30pm,9pm,,,,,With am and pm\n",
        {},
    ),
    ("Date,Hours,Minutes,Text\n2019-02-07,2,15,Hours and minutes\n2019-02-08,,30,Minutes alone here\n", {}),
    ("Date,Ada,Bo,Text\n2019-02-07,2,1,Both of us worked\n2019-02-08,-,1:30,Bo alone worked\n", {}),
    ("Date,Ada,Zoe,Text\n2019-02-07,2,1,Both of us worked\n", {}),
    ("Date,Total hours\n2019-02-07,2\n2019-02-08,3\n2019-02-09,5\n", {}),
    ("Date,Total hours\n2019-02-07,2\n2019-02-08,1\n2019-02-09,5\n", {}),
    ("Date,Hours,Net hours,Text\n2019-02-07,2,2:00,The same in two\n2019-02-08,3,3:10,Not the same\n", {}),
    ("Day,Date,Hours,Note,Remarks\nThu,2019-02-07,2,short,A remark of words\n", {}),
    ("Date,Assembly,Place,Place,Hours\n2019-02-07,flaps,home,hangar,1\n", {}),
    (
        "Date,Assembly,Hours,Work\nFlaps\n2019-02-07,,1,Ribs\n,,2,Ribs again\n,,,More words of it\nChristmas\nLeft wing,,,\n"
        "2019-02-08,,3,Spar\nTotal,,6,\nDate,Assembly,Hours,Work\n2019-02-09,,1,Ribs\n2019-02-10,,1,\nSum,,8,\n",
        {},
    ),
    ("Date,Hours\nCarried over,100\n2019-02-07,1\n2019-02-08,2\n,3\n2019-02-09,4\n,7\nMonth total: 12,\n", {}),
    ("Date,Hours\n2019-02-07,1.15\n2019-02-08,2.30\n2019-02-09,4.45\n", {}),
    ("Date,Start,Finish,Hours\n2019-02-07,18:00,20:00,\n2019-02-08,18:00,20:00,\n", {}),
    ("Date,Duration,Hours\n2019-02-07,,\n", {}),
    ("Date,Hours,Hours,Cost of rivets\n2019-02-07,1,18:00,5\n2019-02-08,2,19:00,6\n", {"Cost of rivets": "text"}),
    (
        'when,Baugruppe,Stunden,Tätigkeit,wer,Schritt,Werkzeug,Ort\n2019-02-07,Klappen,"1,5",Rippen entgratet,Ada und Bo,5.1,Feile,home\n',
        {},
    ),
    (
        "Date,Assembly,Title,Tools,Methods,Begun,Redone,Steps,People,Place,Hours\n2019-02-07,klappen,Ribs,file; saw,dimpling,5.2,5.1,5.3-5.4,Zoe and ada,Hangar,1\n"
        "2019-02-08,,,,,5.2,7.1,,nobody,attic,\n2019-02-09,,,,,,,5.9,,,\n2019-02-10,,,,,,7.2,,,,\n",
        {},
    ),
    (f"Date,Hours,Text\n2019-02-07,1,{'x' * 20_001}\n", {}),
    ('Date,Hours,Text\n2019-02-07,1,"a\nb"\n2019-02-07,1,"a b"\n', {"Text": "-"}),
]

NOTES = [
    "2026-02-07",
    "- 2026-02-07: x\n- 2026-02-08: y\n",
    "# 7 February 2026\n\nDeburred.\n\n## Sunday, 8 February 2026\nRiveted, 2 h.\n",
    "Date: 2026-02-07\nhours: 2\nhours: 1:15\nassembly: flaps\nplace: hangar\nplace: home\n",
    "day: 7/2/2026 - flaps - 18:30 to 20:00 - Ada, Bo - hangar. Then words, 3 h.\nstep 5.1\nsteps: 5.2, 5.3\n\nmore: words\n",
    "When: 2026-02-07; time 2 h; step 5.1 to 5.2; hours 1:00\nSat: x\nThe 40 bit\n7 Feb: y\n1/2/26: z\nMonday,\n",
    "2026-02-07. Ribs 5.1. 2:15, done\n2026-02-08 went home early\n\n2026-02-08 again here\n2026-02-09 - and\n2026-02-10 fields, 2 h\n",
    "13/2/2026: x\n2/13/2026: y\n2/3/26 z\n31 February 2026: w\n",
    "Title above\n\n2026-02-07: text: x\ntext: y\nnote : z\n* steps: 5.9\npeople: zoe\n",
]

LINES = [
    *(
        "2026-02-07",
        "2026-02-07:x",
        "2026-02-07 , x",
        "2026-02-07x",
        "7.2.26: x",
        "Sat 7 Feb 2026 - x",
        "Saturday: x",
        "Sat",
        "Sa: x",
    ),
    *(
        "Saturday, x",
        "February 7",
        "7 February: x",
        "7 February x",
        "7/2/26",
        "7/2/26 ribs",
        "7/2/267: x",
        "30 February 2026: x",
        "x",
        "",
    ),
    *(
        "the 7th of February 2026; x",
        f"{'x' * 30} 2026-02-07",
        "Saturday the 7th of the month of February 2026: x",
        "5 March",
        "12 ribs",
    ),
]

FIELDS = [
    *(
        "2 h",
        "2:15",
        "hours 2:15",
        "time: 2:15, x",
        "2 h, 3 h",
        "Ada",
        "ada and bo",
        "Ada and zoe",
        "Flaps",
        "flaps; home",
        "home workshop - x",
    ),
    *(
        "step 5.1",
        "steps 5.1 to 5.3 and 7.1. Done",
        "steps taken",
        "step",
        "5.1",
        "1/2",
        "½ h",
        "x, 2 h",
        "2 h x",
        "18:30-20:00, flaps, x",
    ),
]


def _of(sheet: Spreadsheet | None, notes: Notes) -> list[str]:
    """A table as it was understood."""
    told = [f"  {render_problem(one)} [{one.word}]" for one in notes.problems]
    if sheet is None:
        return [*told, "  nothing"]
    told += [f"  {line}" for line in sheet.told] + [f"  unused: {sheet.unused}"] * bool(sheet.unused)
    for row in sheet.rows:
        cells = {column: [f"{text[:60]}" for text in texts] for column, texts in row.cells.items()}
        told.append(f"  {row.number} on {row.line}: {cells} | {row.raw[:80]!r}")
        told += (
            [f"    as before: {dict(row.earlier)}"] if row.earlier is not None and len(str(row.earlier)) < 200 else []
        )
        told += [f"    {render_problem(one)} [{one.word}]" for one in row.problems]
    return told + [f"  sum {one}" for _, totals in sheet.totals for one in totals]


def test_every_shape_is_understood_as_it_was(
    make_build: MakeBuild, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, pytestconfig: pytest.Config
) -> None:
    """Tables by their headings and cells, notes by their days and fields, single lines by their parts."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1770940800")  # 2026-02-13T00:00:00Z
    monkeypatch.chdir(tmp_path)
    build, _ = read(make_build({"build.yml": BUILD_YML, "entries/a/index.md": entry("date: 2019-01-01")}))
    known, said, path = known_ids(build), [], Path("days.csv")
    for text, mapping in TABLES:
        path.write_text(text, "utf-8")
        notes = Notes(str(path))
        grids = read_grids(path, partial(heading_score, mapping=mapping), notes)
        sheet = read_tables(path, grids, mapping, known, notes, (), has_assembly="Assembly" not in text)
        said += [f"== {text[:200]!r} {mapping or ''}", *_of(sheet, notes)]
        assembly = "flaps" if "Assembly" not in text else None
        wishes = AdoptionWishes(
            order=DateOrder.DAY_FIRST, assembly=assembly, means={"KLAPPEN": "flaps", "Zoe": "bo", "5.9": "5.1"}
        )
        for plan in read_plans(build, sheet, wishes, path) if sheet else ():
            hours = {**plan.draft.hours} if plan.draft else {}
            figures = {column: str(figure) for column, figure in plan.figures.items()}
            said.append(
                f"  {plan.row} {plan.fate.value} {plan.said} {hours} {figures} {plan.minutes} {plan.guess}".rstrip()
            )
            said += [f"    {render_problem(one)} [{one.word}]" for one in plan.problems]
            told = asdict(plan.draft) if plan.draft else {}
            said.append(
                f"    {', '.join(f'{name} {one}' for name, one in told.items() if one and name not in ('date', 'hours'))}".rstrip()
            )
    path = Path("evenings.txt")
    for text in NOTES:
        path.write_text(text, "utf-8")
        said.append(f"== {text!r} {begins_as_notes(text)} {days_told(text)}")
        for order in (DateOrder.ISO, DateOrder.MONTH_FIRST, None):
            notes = Notes(str(path))
            sheet = read_notes(path, COLUMNS, known, order, notes)
            said += [f" {order}", *_of(sheet, notes)]
            for plan in read_plans(build, sheet, AdoptionWishes(order=order or DateOrder.ISO), path) if sheet else ():
                told = asdict(plan.draft) if plan.draft else {}
                said.append(
                    f"  {plan.row} {plan.fate.value} { {name: one for name, one in told.items() if one} } {plan.guess}".rstrip()
                )
                said += [f"    {render_problem(one)} [{one.word}]" for one in plan.problems]
    for line in LINES:
        parts = [split_day(line, order) for order in DateOrder]
        said.append(f"{line!r}: {parts} {lacks_year(line)} {lacks_year(line, anywhere=True)}")
    said += [f"{text!r}: {leading_fields(text, known)}" for text in FIELDS]
    whole = "\n".join(said) + "\n"
    if pytestconfig.getoption("--rewrite-goldens"):
        GOLDEN.write_text(whole, "utf-8", newline="\n")
    assert whole == GOLDEN.read_text("utf-8")
