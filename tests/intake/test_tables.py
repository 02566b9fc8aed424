"""Tables as spreadsheets hold them: what they say is read as it was meant, what they do not say is asked for."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from fractions import Fraction
from itertools import groupby
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from making import BUILD_YML, MakeBuild, entry, read
from workbooks import write_workbook

from journal.commands.intake.adopt import read_days
from journal.commands.intake.adoption import AdoptionWishes, named_assembly, read_plans
from journal.commands.intake.columns import column_of
from journal.commands.intake.grids import _shown
from journal.commands.intake.lenient_parsing import DateOrder, find_order, parse_any_date, parse_any_hours
from journal.commands.intake.spreadsheet import _exactly
from journal.commands.main import main
from journal.reading.build import read_build

ONE = BUILD_YML.replace("role: builder}\n  hanne", "role: helper}\n  hanne")
"""A build of one builder: nobody has to be asked whose hours a figure tells."""

HEAD = "Date,Assembly,Hours,Work\n"


def adopt(root: Path, text: str | Path, *options: str, name: str = "days.csv") -> Result:
    """`journal adopt` of a table beside the build."""
    path = root.parent / name if isinstance(text, str) else text
    if isinstance(text, str):
        path.write_text(text, "utf-8")
    return CliRunner().invoke(main, ["adopt", "--build", str(root), str(path), *options])


@pytest.fixture
def root(make_build: MakeBuild) -> Path:
    """A build of one builder, without entries."""
    return make_build({"build.yml": ONE})


def minutes(root: Path) -> list[tuple[str, str, int]]:
    """(day, assembly, minutes) of all entries."""
    return [(one.date.isoformat(), one.assembly, one.minutes) for one in read(root)[0].entries]


@pytest.mark.parametrize(
    ("heading", "column"),
    [
        ("Datum", "date"),
        ("Durée (h) :", "hours"),
        ("Hours worked", "hours"),
        ("Std.", "hours"),
        ("Ausgeführte Arbeiten", "text"),
        ("Description of work", "text"),
        ("Von", "start"),
        ("À", "finish"),
        ("Pause (min)", "break"),
        ("Total hours", "total"),
        ("Baugruppe", "assembly"),
        ("Remaining", None),
        ("Part No.", None),
        ("Cost", None),
    ],
)
def test_headings_of_three_languages(heading: str, column: str | None) -> None:
    """Known words, alone or among words that say no more; nothing else is guessed."""
    assert column_of(heading) == column


@pytest.mark.parametrize(
    ("texts", "order", "by"),
    [
        (["3/14/19", "3/5/19"], "mdy", "3/14/19"),
        (["5.3.19", "14.03.19"], "dmy", "14.03.19"),
        (["19-03-14", "19-03-28"], "ymd", "19-03-28"),
        (["14-Mar-19", "5-Apr-19"], "dmy", "14-Mar-19"),
        (["Tue 5/3/2019", "1/2/2019"], "dmy", "Tue 5/3/2019"),
        (["Sun 5/3/2020", "1/2/2019"], "mdy", "Sun 5/3/2020"),
        (["2019-03-14", "14 mars 2019"], "iso", ""),
        (["3/4/2019", "5/6/2019"], None, "3/4/2019"),
        (["3/14/2019", "14/3/2019"], None, ""),
        (["1/2/2031"], "iso", ""),
        (["1/12/2026", "2/1/2026"], "mdy", "1/12/2026"),
    ],
)
def test_the_order_of_dates_is_that_in_which_all_can_be_read(texts: list[str], order: str | None, by: str) -> None:
    """A figure above 12, a year, a day of the week or a day that has not come yet decides; else nobody does."""
    found = find_order(texts, date(2026, 11, 28))
    assert (found.order.value if found.order else None) == order
    assert order is None or found.by == by


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("Do., 14. März 2019", "2019-03-14"),
        ("mar. 5 mars 2019", "2019-03-05"),
        ("le 1er août 2019", "2019-08-01"),
        ("Mi 13. Feb. 2019", "2019-02-13"),
        ("jeudi 15 mars 2019", None),
        ("Tue Mar 5, 2019", "2019-03-05"),
    ],
)
def test_days_in_german_and_french(text: str, day: str | None) -> None:
    """Names of months and days of the week, in full and cut short; a day of the week is held against the calendar."""
    read_day = parse_any_date(text, DateOrder.ISO)
    assert (read_day.isoformat() if read_day else None) == day


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("1 1/2", ("1:30",)),
        ("2½", ("2:30",)),
        ("2 1/3", ("2:20",)),
        ("2.5 std", ("2.5",)),
        ("1 Std. 30 Min.", ("1:30",)),
        ("2 heures 30", ("2:30",)),
        ("90 Minuten", ("1:30",)),
        ("2:30 PM", None),
        ("1/8", None),
    ],
)
def test_hours_in_other_words(text: str, parts: tuple[str, ...] | None) -> None:
    """Fractions and units of other languages; a time of the day is no time worked."""
    assert parse_any_hours(text) == parts


def test_beginnings_ends_and_breaks_make_hours(root: Path) -> None:
    """A pair of clock times is a span, with a break a duration; beside hours both have to say the same."""
    told = (
        "Datum;Baugruppe;Von;Bis;Pause;Stunden;Was\n14.3.19;Flaps;18:30;21:30;30;2,5;a\n15.3.19;Flaps;22:30;0:15;;;b\n"
    )
    assert adopt(root, told, "--write").exit_code == 0
    assert minutes(root) == [("2019-03-14", "flaps", 150), ("2019-03-15", "flaps", 105)]
    text = (root / "content/entries/2019-03-14-a/index.md").read_text("utf-8")
    assert "# At work 18:30-21:30, less 0:30.\n" in text
    rows = "2019-04-14,Flaps,18:30,21:00,3.5\n2019-04-15,Flaps,9:00,5:00,\n2019-04-16,Flaps,9:00,,\n"
    refused = adopt(root, f"Date,Assembly,From,To,Hours\n{rows}")
    for said in (
        "row 1: one column says 3.5, the other 2:30",
        "row 2: 9:00-5:00 would go on through the night",
        "the beginning at 9:00 stands alone",
    ):
        assert said in refused.output
    assert refused.exit_code == 1


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("14 March 2031,Flaps,1,x", '"14 March 2031" has not come yet'),
        ("2019-03-14,Flaps,26:00,x", '"26:00" is more hours than a day has'),
        ("2019-03-14,Flaps,90,x", '"90" is more hours than a day has'),
        ("2019-03-14,Flaps,2:30 PM,x", '"2:30 PM" is a time of the day and no time worked'),
        ("2019-03-14,,1,x", "row 1: no assembly; fill it in, or name one for all with --assembly"),
        ("43538,Flaps,1,x", "a number by which spreadsheets count days"),
        ("Sat 3/15/19,Flaps,1,x", "15 March 2019 was a Friday"),
        (
            "2019-03-14,Flaps,13,x\n2019-03-14,Ailerons left,12,y".replace("Ailerons left", "left-wing"),
            "come to 25:00 hours",
        ),
        ("2019-03-14,Flaps,1," + "x " * 60_000, "a cell holds 119,999 letters"),
    ],
)
def test_what_cannot_be_is_refused_by_row(root: Path, row: str, said: str) -> None:
    """With what to change; nothing is written."""
    result = adopt(root, f"{HEAD}{row}\n2019-04-14,Flaps,1,good\n", "--write")
    assert result.exit_code == 1
    assert said in result.output
    assert minutes(root) == []


def test_sums_of_the_table_are_held_against_its_rows(root: Path) -> None:
    """Subtotals, the total and running totals; a difference stops the writing until it is said to go on."""
    table = f"{HEAD}2019-03-14,Flaps,2.5,a\n,,3,b\nMarch total,,5.5,\n2019-04-14,Flaps,1,c\nTotal: 6.5 h,,,\n"
    right = adopt(root, table)
    assert "The table adds up: 2 totals compared with its rows." in right.output
    assert "1 row without a date: of the day above." in right.output
    wrong = adopt(root, table.replace("March total,,5.5", "March total,,6"), "--write")
    assert wrong.exit_code == 1
    assert 'line 4: "March total" says 6, and the rows above it add up to 5:30' in wrong.output
    assert minutes(root) == []
    running = "Date,Assembly,Hours,Total,Work\n2019-03-14,Flaps,2,2,a\n2019-03-15,Flaps,3,5,b\n2019-03-16,Flaps,1,7,c\n"
    assert "line 4: the total says 7, and the rows above it add up to 1:00" in adopt(root, running).output
    assert adopt(root, running, "--write", "--ignore-totals").exit_code == 0
    assert sum(worked for *_, worked in minutes(root)) == 360


def test_a_workbook_of_several_sheets(root: Path, tmp_path: Path) -> None:
    """Typed cells, title rows, days told once, a sheet named like an assembly; sheets without work days are told."""
    sheets = {
        "Flaps": [
            ["Work on the flaps"],
            [],
            ["Date", "Hours", "What"],
            [date(2019, 3, 14), timedelta(hours=2, minutes=30), "a"],
            [None, 1.25, "b"],
            ["Total", timedelta(hours=27, minutes=45)],
        ],
        "Shopping": [["Date", "Item", "Cost"], [date(2019, 3, 14), "Clecos", 12.5]],
        "Left wing": [["Date", "Hours", "What"], [date(2019, 4, 1), timedelta(hours=3), "c"]],
    }
    book = write_workbook(tmp_path / "years.xlsx", sheets)
    refused = adopt(root, book, "--write")
    assert '"Total" says 27:45, and the rows above it add up to 3:45' in refused.output
    sheets["Flaps"][-1][1] = 3.75
    result = adopt(root, write_workbook(book, sheets), "--write")
    assert result.exit_code == 0, result.output
    assert '"Shopping" holds no work days with hours, and is left out; --sheet "Shopping" takes it.' in result.output
    assert minutes(root) == [
        ("2019-03-14", "flaps", 150),
        ("2019-03-14", "flaps", 75),
        ("2019-04-01", "left-wing", 180),
    ]


def test_cells_under_no_heading_are_told(root: Path) -> None:
    """They are left out, and never in silence."""
    result = adopt(root, "Date,Part,Hours,Notes,\n3/14/2019,Flaps,2,Ribs,and more\n")
    assert "Under no heading, left out: and more." in result.output


def test_a_row_that_speaks_of_a_report_is_no_sum(root: Path) -> None:
    """Though its hours are as many as those above it."""
    assert adopt(root, f"{HEAD}2019-03-14,Flaps,1,a\n,,1,Report written\n", "--write").exit_code == 0
    assert [worked for *_, worked in minutes(root)] == [60, 60]


def test_a_text_with_a_table_of_bare_bars_holds_no_notes(root: Path) -> None:
    """Each of its lines begins with a day; one line that does makes no notes of a post either."""
    table = "Date | Part | Hours\n---|---|---\n14 March 2019 | Flaps | 2\n15 March 2019 | Flaps | 1\n"
    assert adopt(root, table, "--write", name="days.md").exit_code == 0
    assert [worked for *_, worked in minutes(root)] == [120, 60]
    post = adopt(root, "14 May 2019\n\nRibs\n\nHours: 2\n", "--assembly", "flaps", name="post.md")
    assert "post    1  new  2019-05-14" in post.output


def test_words_come_from_the_column_of_prose(root: Path) -> None:
    """Whatever it is called; but never from one of money, and what is not used is told."""
    head = "Date,Part,Hours,Story so far,Supplier of it all"
    result = adopt(root, f"{head}\n3/14/2019,Flaps,2,Drilled all ribs,A very long name of a shop\n", "--write")
    assert "Story so far is text." in result.output
    assert 'Column "Supplier of it all" is not used' in result.output
    assert [one.body.strip() for one in read(root)[0].entries] == ["Drilled all ribs"]


@pytest.mark.parametrize(
    ("table", "said"),
    [
        (
            "Date,Part,Ada,Bob\n3/14/2019,Flaps,1,2",
            'nobody can say whose hours "Bob" are; say it with --map "Bob=hours:ID"',
        ),
        ("Date,Part,Hours Bob\n3/14/2019,Flaps,1", 'nobody can say whose hours "Hours Bob" are'),
        (
            "Date,Part,Total hours\n3/14/2019,Flaps,1\n3/15/2019,Flaps,3\n3/16/2019,Flaps,4",
            '"Total hours" grows from row to row: it may be the sum up to each day',
        ),
        ("Date,Part,Ada,Ada hours\n3/14/2019,Flaps,1,2", "several columns are hours:ada: Ada and Ada hours; leave out"),
        ("Date,Part,From,To,Break\n3/14/2019,Flaps,9:00,12:00,lunch", '"lunch" is not a time worked'),
        ("Date,Part,Hours,Time\n3/14/2019,Flaps,,two\n3/15/2019,Flaps,1,1", '"two" is not a time worked'),
    ],
)
def test_hours_that_can_be_meant_otherwise_are_a_question(root: Path, table: str, said: str) -> None:
    """A column of somebody unknown, a sum that grows: nothing is left out or counted in silence."""
    result = adopt(root, table, "--write")
    assert result.exit_code == 1
    assert said in result.output


def test_a_cell_far_out_of_a_workbook_is_told(root: Path, tmp_path: Path) -> None:
    """Whatever the library that reads it does then."""
    book = write_workbook(tmp_path / "far.xlsx", {"Log": [["Date", "Hours"], ["2019-03-14", 1.0]]})
    with zipfile.ZipFile(book) as packed:
        parts = {name: packed.read(name) for name in packed.namelist()}
    far = b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData>'
    with zipfile.ZipFile(book, "w") as packed:
        for name, part in parts.items():
            packed.writestr(name, part.replace(b"</sheetData>", far))
    result = adopt(root, book)
    assert result.exit_code == 1
    assert "cannot be read: its cells lie too far apart; open it in a spreadsheet program" in result.output


@pytest.mark.parametrize(
    ("table", "worked"),
    [
        ("Day,Date,Part,Hrs\nThu,3/14/19,Flaps,1\nFri,3/15/19,Flaps,2", [60, 120]),
        ("Date,Time,Part,Hours\n3/14/19,18:30,Flaps,1\n3/15/19,19:00,Flaps,2", [60, 120]),
        ("Date,Part,Hours,Minutes\n3/14/19,Flaps,2,30\n3/15/19,Flaps,0,45", [150, 45]),
        ("Date,Part,Hours,Minutes\n3/14/19,Flaps,2.5,150\n3/15/19,Flaps,1,60", [150, 60]),
        ("Date,Part,Hours,Total\n3/14/19,Flaps,1,\n3/15/19,Flaps,2,3\n4/15/19,Flaps,2,2", [60, 120, 120]),
        ("Date,Part,Hours\nBrought forward,,120\n3/14/19,Flaps,1\nTotal,,121", [60]),
        ("Date,Hours,What\nFlaps,,\n3/14/19,2,x\n,1,y\nLeft wing,,\n3/15/19,2,z", [120, 60, 120]),
        ("My log, by me\nDate;Part;Hours;What\n14/3/19;Flaps;1,5;a, b, c, d\n", [90]),
        ("Date,Time,Part,Hours\n3/14/19,6:30 PM,Flaps,1", [60]),
        ("Date,Part,Ada hours,What\n3/14/19,Flaps,1,x", [60]),
        (",,Time,\nDate,Section,From,To\n3/14/19,Flaps,6:30 PM,8:00 PM", [90]),
        ("Date,Part,Time,\n,,From,To\n3/14/19,Flaps,6:30 PM,8:00 PM", [90]),
        ("Date,Part,Hours\n3/14/19,Flaps,1\nDate,Part,Hours\n3/15/19,Flaps,2", [60, 120]),
        ("Date,Part,Hours,What\n3/14/19,Flaps,1,Drilled\n,,,the ribs\n3/15/19,Flaps,2,x", [60, 120]),
        ("Date,Part,Hours\n3/14/19,Flaps,1\n3/15/19,Flaps,2\n,,3\n3/16/19,Flaps,2", [60, 120, 120]),
        ("Date,Part,Hours,Break\n3/14/19,Flaps,2,-\n3/15/19,Flaps,1,-", [120, 60]),
    ],
)
def test_columns_and_rows_as_people_lay_them_out(root: Path, table: str, worked: list[int]) -> None:
    """Two columns that look like one, hours and minutes apart, what was carried over, assemblies between the rows,
    headings of two lines or told again, words that go on in the next row, sums without a word.
    """
    result = adopt(root, table, "--write", *(["--assembly", "workshop"] if "Part" not in table else []))
    assert result.exit_code == 0, result.output
    assert [told for *_, told in minutes(root)] == worked


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("3/14/19,Flaps,18:00,19:00,1:00", "the break is as long as the time from 18:00-19:00; mend one of them"),
        ("3/14/19,Flaps,soon,19:00,", '"soon-19:00" is not from when to when; write clock times like 18:30 or 6:30pm'),
    ],
)
def test_times_that_are_none_are_refused_by_row(root: Path, row: str, said: str) -> None:
    """A break that leaves nothing, and words where a clock time belongs."""
    result = adopt(root, f"Date,Part,From,To,Break\n{row}\n", "--write")
    assert result.exit_code == 1
    assert f"row 1: {said}" in result.output
    assert minutes(root) == []


@pytest.mark.parametrize("name", ["days.md", "days.html"])
def test_tables_in_texts_and_pages(root: Path, name: str) -> None:
    """Bars in Markdown, cells that span rows in HTML."""
    pipes = "Log\n\n| Date | Part | Hours | What |\n|---|:-:|--:|---|\n"
    pipes += '| 3/14/2019 | Flaps | 2.5 | 1/8" drill |\n| | Flaps | **1** | b |\n'
    page = (
        "<nav>x</nav><table><tr><th>Date<th>Part<th>Hours<th>What</tr>"
        "<tr><td rowspan=2>3/14/2019<td>Flaps<td>2.5<td>a<br>b</tr>"
        "<tr><td>Flaps<td>1<td>c</tr><tr><td colspan=2>Total<td>3.5</tr></table>"
    )
    result = adopt(root, pipes if name.endswith("md") else page, "--write", name=name)
    assert result.exit_code == 0, result.output
    assert minutes(root) == [("2019-03-14", "flaps", 150), ("2019-03-14", "flaps", 60)]


def test_a_file_of_no_known_kind_is_told(root: Path, tmp_path: Path) -> None:
    """By its name, and nothing is written."""
    for name, said in (("plan.pdf", "plan.pdf cannot be taken over"), ("broken.xlsx", "broken.xlsx: cannot be read")):
        result = adopt(root, "junk", "--write", name=name)
        assert (result.exit_code, said in result.output) == (1, True), result.output
    (tmp_path / "nothing").mkdir()
    nothing = adopt(root, tmp_path / "nothing")
    assert nothing.exit_code == 1
    assert "nothing was found that could be taken over" in nothing.output


def test_rows_taken_before_and_understood_otherwise_are_not_doubled(root: Path) -> None:
    """Month and day exchanged: told, with the way out, and what is new waits."""
    table = f"{HEAD}3/4/2019,Flaps,2,a\n5/6/2019,Flaps,1,b\n"
    adopt(root, table, "--dates", "mdy", "--write")
    assert "Written: 0 entries." in adopt(root, table, "--write").output
    other = adopt(root, f"{table}7/8/2019,Flaps,1,c\n", "--dates", "dmy", "--write")
    assert other.exit_code == 1
    assert "row    1  here, understood otherwise  2019-04-03  2019-03-04-a" in other.output
    assert "2 rows were taken over before and understood otherwise; give the answers of then, or take" in other.output
    assert len(minutes(root)) == 2


def test_a_new_row_of_a_day_is_added_beside_those_of_its_table(root: Path) -> None:
    """Beside an entry from elsewhere it is a question, and nothing is written until it is answered."""
    table = f"{HEAD}2019-03-14,Flaps,2,a\n"
    adopt(root, table, "--write")
    assert adopt(root, f"{table}2019-03-14,Flaps,1,b\n", "--write").exit_code == 0
    assert len(minutes(root)) == 2
    mine = root / "content/entries/mine/index.md"
    mine.parent.mkdir()
    mine.write_text(entry("date: 2019-04-01"))
    more = f"{table}2019-04-01,Flaps,3,c\n2019-04-02,Flaps,1,d\n"
    asked = adopt(root, more, "--write")
    assert asked.exit_code == 1
    assert "1 day has an entry already that comes from elsewhere; --beside adds" in asked.output
    assert len(minutes(root)) == 3
    assert adopt(root, more, "--not-beside", "--write").exit_code == 0
    assert len(minutes(root)) == 4
    assert adopt(root, more, "--beside", "--write").exit_code == 0
    assert len(minutes(root)) == 5


def test_answers_are_remembered_for_the_next_table(root: Path) -> None:
    """They are said when they are used; options win, `--forget` leaves them out, a damaged memory is none."""
    table = "Wann;Stelle;Dauer;Werk\n3/4/2019;Klappen;2;a\n"
    options = [
        "--dates",
        "mdy",
        "--means",
        "Klappen=flaps",
        "--map",
        "Wann=date",
        "--map",
        "Stelle=assembly",
        "--map",
        "Werk=text",
    ]
    assert adopt(root, table, *options, "--write").exit_code == 0
    other = table.replace("3/4", "5/6").replace(";a", ";b")
    result = adopt(root, other)
    assert result.exit_code == 0, result.output
    assert "As for an earlier table: dates are written with the month before the day; the column" in result.output
    assert '"Klappen" is flaps' in result.output
    assert "new  2019-06-05" in adopt(root, other, "--dates", "dmy").output
    assert adopt(root, other, "--forget").exit_code == 1
    (root / ".journal/adopt.json").write_text("[1]")
    assert adopt(root, other).exit_code == 1


def test_each_or_together_is_asked_on_a_terminal(make_build: MakeBuild, monkeypatch: pytest.MonkeyPatch) -> None:
    """Before one figure counts for two people; the answer is remembered."""
    root = make_build()
    table = f"{HEAD}2019-03-14,Flaps,2,a\n"
    monkeypatch.setattr("journal.commands.intake.adopt.can_ask", lambda: True)
    path = root.parent / "days.csv"
    path.write_text(table)
    result = CliRunner().invoke(main, ["adopt", "--build", str(root), str(path), "--write"], input="2\n")
    assert "Each or together?" in result.output
    assert minutes(root) == [("2019-03-14", "flaps", 120)]


@pytest.mark.parametrize("table", ["date,hours,what\n2019-03-14,2,a\n", "3/14/19 - 2 hrs - drilled spar\n"])
def test_an_assembly_that_nothing_tells_is_asked_for(
    make_build: MakeBuild, monkeypatch: pytest.MonkeyPatch, table: str
) -> None:
    """On a terminal, once for all rows; elsewhere it is refused with the option."""
    root = make_build()
    path = root.parent / ("days.csv" if table.startswith("date") else "days.txt")
    path.write_text(table)
    words = ["adopt", "--build", str(root), str(path), "--write", "--person", "ada"]
    refused = CliRunner().invoke(main, words)
    assert refused.exit_code == 1
    assert "--assembly" in refused.output
    monkeypatch.setattr("journal.commands.intake.adopt.can_ask", lambda: True)
    result = CliRunner().invoke(main, words, input="Left\n")
    assert "Which one is it?" in result.output
    assert minutes(root) == [("2019-03-14", "left-wing", 120)]


# -- laws ------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Worked:
    """One row of work, as it is meant."""

    day: date
    assembly: str
    minutes: int
    words: str


_WORKED = st.builds(
    Worked,
    day=st.dates(date(2017, 1, 1), date(2026, 11, 20)),
    assembly=st.sampled_from(["Flaps", "left-wing", "Workshop"]),
    minutes=st.integers(1, 48).map(lambda quarters: quarters * 15),
    words=st.text(st.characters(codec="utf-8", categories=["L", "N", "P", "Zs"]), min_size=1, max_size=20)
    .map(lambda text: f"did {' '.join(text.split())}".strip())
    .filter(lambda text: not re.search("total|sum|gesamt|report|cumul", text, re.IGNORECASE)),
)
_DATES = {
    "iso": lambda day: day.isoformat(),
    "dmy": lambda day: f"{day.day}.{day.month}.{day:%y}",
    "mdy": lambda day: f"{day.month}/{day.day}/{day.year}",
    "words": lambda day: f"{day:%B} {day.day}, {day.year}",
}
_HOURS = {
    "point": lambda told: f"{told / 60:g}",
    "comma": lambda told: f"{told / 60:g}".replace(".", ","),
    "clock": lambda told: f"{told // 60}:{told % 60:02d}",
    "words": lambda told: f"{told // 60} h {told % 60} min",
}
_HEADINGS = [
    ["Date", "Assembly", "Hours", "Work done"],
    ["Datum", "Baugruppe", "Stunden", "Tätigkeit"],
    ["Date", "Ensemble", "Durée (h)", "Travaux effectués"],
]


@pytest.mark.slow
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150, deadline=None)
@given(
    worked=st.lists(_WORKED, min_size=1, max_size=12),
    sign=st.sampled_from(",;\t|"),
    dates=st.sampled_from(sorted(_DATES)),
    hours=st.sampled_from(sorted(_HOURS)),
    heading=st.sampled_from(_HEADINGS),
    titles=st.lists(st.sampled_from(["Build log", "Tarn", "kept by hand"]), max_size=3),
    merged=st.booleans(),
    subtotals=st.booleans(),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
    as_book=st.booleans(),
)
def test_a_table_in_any_dialect_gives_the_rows_that_were_meant(
    root: Path,
    worked: list[Worked],
    sign: str,
    dates: str,
    hours: str,
    heading: list[str],
    titles: list[str],
    merged: bool,
    subtotals: bool,
    encoding: str,
    as_book: bool,
) -> None:
    """Day, assembly, minutes and words of every row; hours in are hours out, and its own sums agree."""
    worked = sorted(worked, key=lambda one: one.day)
    rows: list[list[str]] = [*([title] for title in titles), heading]
    for month, of_month in groupby(worked, key=lambda one: (one.day.year, one.day.month)):
        last, told = None, list(of_month)
        for one in told:
            day = "" if merged and one.day == last else _DATES[dates](one.day)
            rows.append([day, one.assembly, _HOURS[hours](one.minutes), one.words])
            last = one.day
        if subtotals:
            rows.append([f"Total {month[1]}", "", _HOURS[hours](sum(one.minutes for one in told)), ""])
    path = root.parent / ("law.xlsx" if as_book else "law.csv")
    if as_book:
        write_workbook(path, {"Log": rows})
    else:
        out = io.StringIO()
        csv.writer(out, delimiter=sign, lineterminator="\r\n").writerows(rows)
        path.write_bytes(out.getvalue().encode(encoding))
    build = read_build(root, lambda uris: {})[0]
    sheet = read_days(path, {}, AdoptionWishes(), build, as_notes=False)
    found = find_order([row.text("date") for row in sheet.rows], date(2026, 11, 28))
    if found.order is None:
        assert all(one.day.day < 13 for one in worked)
        return
    plans = read_plans(build, sheet, AdoptionWishes(order=found.order), path)
    by_day = {day: sum(one.minutes for one in of_day) for day, of_day in groupby(worked, key=lambda one: one.day)}
    if max(by_day.values()) > 24 * 60:
        assert any(plan.problems for plan in plans)
        return
    assert [plan.problems for plan in plans] == [()] * len(worked)
    meant = [
        (one.day, {"Flaps": "flaps", "Workshop": "workshop"}.get(one.assembly, one.assembly), one.minutes)
        for one in worked
    ]
    assert [(plan.draft.date, plan.draft.assembly, plan.minutes) for plan in plans if plan.draft] == meant
    assert sum((plan.figures[""] for plan in plans), Fraction()) * 60 == sum(one.minutes for one in worked)
    assert sum(len(totals) for _, totals in sheet.totals) == (
        len({(d.day.year, d.day.month) for d in worked}) if subtotals else 0
    )


_HEADINGS_AND_CELLS = st.sampled_from(
    (
        *(
            "Date",
            "Hours",
            "Std",
            "Assembly",
            "Von",
            "Bis",
            "Pause",
            "Total",
            "Work",
            "Minutes",
            "Time",
            "Ada",
            "h",
            "À",
            "",
        ),
        *(
            "3/14/2019",
            "14.3.19",
            "5/6/2019",
            "19-03-14",
            "Flaps",
            "2.5",
            "1 1/2",
            "18:30",
            "9:00 PM",
            "18:30-21:00",
            "26:00",
        ),
        *(
            "March total",
            "TOTAL: 5",
            "Brought forward",
            "120",
            "Thu",
            "1e5",
            "٣",
            "7/0",
            "9" * 12,
            "4:5:6",
            "=1+1",
            "|",
            "\x0b",
        ),
    )
)


@pytest.mark.slow
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150, deadline=None)
@given(
    rows=st.lists(st.lists(_HEADINGS_AND_CELLS, max_size=8), max_size=9),
    ending=st.sampled_from(["csv", "txt", "md", "html"]),
)
def test_no_table_makes_it_stumble(root: Path, rows: list[list[str]], ending: str) -> None:
    """Whatever stands in it, every row has its fate, and hours that are to be written are those of their rows."""
    text = "\n".join(";".join(row) for row in rows)
    if ending == "md":
        text = "\n".join(f"| {' | '.join(row)} |" for row in [*rows[:1], ["---"], *rows[1:]])
    elif ending == "html":
        text = "<table>" + "".join(f"<tr><td colspan={len(row)}>{'<td>'.join(row)}" for row in rows)
    result = adopt(root, text, "--assembly", "flaps", "--forget", name=f"any.{ending}")
    assert result.exit_code in (0, 1)
    assert result.exception is None or isinstance(result.exception, SystemExit)
    assert "and their rows to" not in result.output


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (True, "yes"),
        (False, "no"),
        (2.0, "2"),
        (2.5, "2.5"),
        (0.1 + 0.2, "0.3"),
        (-1e10, "-10000000000.0"),
        (123456789012.5, "123456789012.5"),
        (7, "7"),
        ("7.10", "7.10"),
        (date(2019, 3, 14), "2019-03-14"),
        (datetime(2019, 3, 14), "2019-03-14"),
        (datetime(2019, 3, 14, 18, 30), "2019-03-14 18:30"),
        (datetime(1901, 1, 1), "1901-01-01"),
        (time(18, 30), "18:30"),
        (time(7, 5, 31), "7:06"),
        (time(0, 0, 29, 999_999), "0:00"),
        (timedelta(hours=26, minutes=30), "26:30"),
        # 26:30 as the days since the beginning of the calendar; 1900 is a leap year in it until March.
        (datetime(1900, 1, 1, 2, 30), "26:30"),
        (datetime(1900, 2, 28, 1), f"{59 * 24 + 1}:00"),
        (datetime(1900, 3, 1, 1), f"{61 * 24 + 1}:00"),
        (datetime(1899, 12, 31, 2, 30), "26:30"),
        (datetime(1899, 12, 30, 2, 30), "2:30"),
    ],
)
def test_a_cell_of_a_workbook_reads_as_it_would_be_typed(value: object, shown: str) -> None:
    """Figures, days, times, spans of time; ECMA-376 counts days from 1900 and takes that for a leap year."""
    assert _shown(value) == shown


@pytest.mark.parametrize("column", ["begun", "redone", "steps", "text"])
def test_of_these_a_table_may_have_several_columns(root: Path, column: str) -> None:
    """What stands in the second one is not lost."""
    given = ["5.1", "5.2"] if column != "text" else ["Drilled.", "Riveted."]
    told = f"date,assembly,hours,a,b\n2019-03-14,flaps,1,{','.join(given)}\n"
    result = adopt(root, told, "--map", f"a={column}", "--map", f"b={column}", "--write")
    assert result.exit_code == 0, result.output
    (made,) = read(root)[0].entries
    found = [one for one in made.body.split() if one.endswith(".")] if column == "text" else list(getattr(made, column))
    assert found == given


@pytest.mark.parametrize(
    ("words", "assembly"),
    [
        ("2019-03-14 Flaps_ribs", "flaps"),
        ("LEFT WING (inboard)", "left-wing"),
        ("left-wing", "left-wing"),
        ("the flap", "flaps"),
        ("flapset", ""),
        ("workshop and left wing", "left-wing"),
        ("the tail", ""),
        ("", ""),
    ],
)
def test_an_assembly_is_known_by_words_among_others(root: Path, words: str, assembly: str) -> None:
    """Its title, its ID, a word that was said to mean it; the longest that stands there whole."""
    means = {"flap": "flaps", "tail": "empennage"}
    assert named_assembly(words, read(root)[0], means) == assembly


@pytest.mark.parametrize(
    ("cells", "title"),
    [
        ("Ribs,Drilled all of them.", "Ribs"),
        (",Drilled all of them. And more.", "Drilled all of them"),
        (",", "Flaps"),
    ],
)
def test_an_entry_is_called_by_title_words_or_assembly(root: Path, cells: str, title: str) -> None:
    """Whichever there is first."""
    assert adopt(root, f"date,assembly,hours,title,text\n2019-03-14,flaps,1,{cells}\n", "--write").exit_code == 0
    assert [one.title for one in read(root)[0].entries] == [title]


def test_what_is_left_out_names_the_option_that_takes_it(root: Path) -> None:
    """A row that stands there twice, one of a day that has an entry: what would add it all the same."""
    assert adopt(root, f"{HEAD}2019-03-14,Flaps,1,x\n", "--write").exit_code == 0
    said = adopt(root, f"{HEAD}2019-04-14,Flaps,1,x\n2019-04-14,Flaps,1,x\n2019-03-14,Flaps,2,y\n", name="b.csv").output
    assert "the same as row 1; --keep-twins adds it all the same" in " ".join(said.split())
    assert "--beside adds the row beside it, --not-beside leaves it out" in " ".join(said.split())


def test_the_first_of_several_columns_is_the_one_that_was_taken_before() -> None:
    """How older programs read a table: by which rows that were taken then are known again."""
    columns = {"hours": ["time"], "text": ["work"], "title": []}
    assert _exactly(["Time", "hours", "WORK", "x", "title"], columns, {}) == ["hours", None, "text", None, "title"]
    assert _exactly(["Time", "x"], columns, {"X": "hours"}) == [None, "hours"]


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("2019-03-14,Flaps,2,2:00", ""),
        ("2019-03-14,Flaps,2.3,2:20", ""),
        ("2019-03-14,Flaps,,3:00", ""),
        ("2019-03-14,Flaps,23:59,", ""),
        ("2019-03-14,Flaps,24:01,", "is more hours than a day has"),
    ],
)
def test_two_columns_of_hours_say_the_same(root: Path, rows: str, said: str) -> None:
    """But for what their last place leaves open; where one is empty the other counts."""
    result = adopt(root, f"Date,Part,Hours,Time\n{rows}\n", "--write")
    assert (result.exit_code, said in " ".join(result.output.split())) == (1 if said else 0, True)


@pytest.mark.parametrize(
    ("folder", "name", "told"),
    [("", "b", ("2019-03-14-b",)), ("2019-03-14-x", "x", ("2019-03-14-x", "2019-03-14-x-2"))],
)
def test_a_folder_that_is_there_is_not_written_into(root: Path, folder: str, name: str, told: tuple[str, ...]) -> None:
    """An entry of another day by that name, or a folder of whatever kind."""
    if folder:
        (root / "content/entries" / folder).mkdir(parents=True)
        (root / "content/entries" / folder / "index.md").write_text(entry("date: 2019-05-01"), "utf-8")
    assert adopt(root, f"date,assembly,hours,text\n2019-03-14,flaps,1,{name}\n", "--write").exit_code == 0
    assert sorted(one.id for one in read(root)[0].entries) == sorted(told)


def test_hours_of_a_person_are_not_counted_beside_their_sum(root: Path) -> None:
    """A column for all and one for each: the row was worked once."""
    table = "date,assembly,hours,x\n2019-03-14,flaps,2,2\n"
    assert adopt(root, table, "--map", "x=hours:ada", "--write").exit_code == 0
    assert minutes(root) == [("2019-03-14", "flaps", 120)]
    refused = adopt(root, table.replace("2,2\n", "3,2\n").replace("14", "15"), "--map", "x=hours:ada", name="b.csv")
    assert "one column says 3, the other 2:00" in " ".join(refused.output.split())
