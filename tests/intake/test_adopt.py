"""`journal adopt`: tables of work days and folders of old photos become entries; twice is once."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import pytest
from cameras import take
from click.testing import CliRunner, Result
from hypothesis import given, settings
from hypothesis import strategies as st
from making import MakeBuild, entry, read

from journal.base.model import Step
from journal.base.problems import has_errors
from journal.commands.intake.lenient_parsing import (
    DateOrder,
    date_in_name,
    parse_any_date,
    parse_any_hours,
    plain_markdown,
    split_steps,
)
from journal.commands.main import main
from journal.ledger.hours import build_ledger
from journal.reading.form import KnownIds
from journal.reading.text import Notes

TABLE = """\
hours,Assembly,when,notes,step,who
3:15,Flaps,2019-02-07,Deburred the ribs. Slow.,5.1,Ada Bergstrom
"2.5",left-wing,2019-02-08,"Spar, cleaned",7.1,"ada, Hanne Okafor"
"""


def run(root: Path, *arguments: object, each: bool = True) -> Result:
    """`journal adopt` in the build folder `root`, in which figures are those of each unless it is said otherwise."""
    answer = ["--hours-are", "each"] if each and "--hours-are" not in arguments else []
    return CliRunner().invoke(main, ["adopt", "--build", str(root), *map(str, arguments), *answer])


def table(folder: Path, text: str | bytes, name: str = "days.csv") -> Path:
    """A table beside the build."""
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def fates(result: Result) -> list[str]:
    """What the report says of each row: the words between its number and its day."""
    return [line[10:].split("  ")[0].strip() for line in result.output.split("\n") if line.startswith("row ")]


def entries(root: Path) -> list[str]:
    """Folders of entries."""
    base = root / "content/entries"
    return sorted(path.name for path in base.iterdir()) if base.is_dir() else []


def test_without_write_nothing_is_written(make_build: MakeBuild, tmp_path: Path) -> None:
    """The dry run is the default: it reports row by row and leaves content/ alone."""
    root = make_build()
    result = run(root, table(tmp_path, TABLE))
    assert result.exit_code == 0, result.output
    assert fates(result) == ["new", "new"]
    assert "2019-02-07-deburred-the-ribs" in result.output
    assert "Nothing was written" in result.output
    assert entries(root) == []


def test_rows_become_entries_that_the_reader_accepts(make_build: MakeBuild, tmp_path: Path) -> None:
    """Columns in any order and by everyday names arrive where they belong; hours add up to the minute."""
    root = make_build()
    result = run(root, table(tmp_path, TABLE), "--write")
    assert result.exit_code == 0, result.output
    build, problems = read(root)
    assert problems == ()
    first, second = build.entries
    assert (first.date, first.assembly, first.title) == (date(2019, 2, 7), "flaps", "Deburred the ribs")
    assert (first.steps, first.people, first.minutes) == (("5.1",), ("ada",), 195)
    assert first.body.strip() == "Deburred the ribs. Slow."
    assert (second.people, second.minutes) == (("ada", "hanne"), 300)
    assert build_ledger(build).minutes == 495


def test_running_it_again_adds_only_what_is_new(make_build: MakeBuild, tmp_path: Path) -> None:
    """Rows are known by content, wherever they stand in the table and however the entry was edited since."""
    root = make_build()
    run(root, table(tmp_path, TABLE), "--write")
    edited = root / "content/entries/2019-02-07-deburred-the-ribs/index.md"
    edited.write_text(edited.read_text().replace("Slow.", "Slow, but good."))
    edited.parent.rename(edited.parent.with_name("renamed"))
    lines = TABLE.splitlines()
    result = run(
        root, table(tmp_path, "\n".join([lines[0], "1,flaps,2019-03-01,Third,,ada", *lines[:0:-1]])), "--write"
    )
    assert fates(result) == ["new", "here already", "here already"]
    assert "Written: 1 entry." in result.output
    assert entries(root) == ["2019-02-08-spar-cleaned", "2019-03-01-third", "renamed"]
    again = run(root, tmp_path / "days.csv", "--write")
    assert "Written: 0 entries." in again.output


@pytest.mark.parametrize(
    "place", ["2019/{}/index.md", "2019/02/{}/Index.md", "{}.md", "2019/{}.md", "2019/{}/entry.MD"]
)
def test_an_entry_that_was_moved_since_is_known(make_build: MakeBuild, tmp_path: Path, place: str) -> None:
    """Wherever the reader finds an entry, its row is there already, its photo is known and its name is taken."""
    root = make_build()
    days, folder = table(tmp_path, TABLE.replace("Slow.", "![the rib](IMG_1.jpg)")), root / "content/entries"
    take(tmp_path / "album/IMG_1.jpg", "2019-02-07 18:00:00", shade=1)
    run(root, days, tmp_path / "album", "--write")
    name = "2019-02-07-deburred-the-ribs"
    moved = folder / place.format(name)
    moved.parent.mkdir(parents=True, exist_ok=True)
    (folder / name / "index.md").rename(tmp_path / "index.md")
    (folder / name / "IMG_1.jpg").rename(tmp_path / "IMG_1.jpg")
    if (folder / name) != moved.parent:
        (folder / name).rmdir()
    (tmp_path / "index.md").rename(moved)
    (tmp_path / "IMG_1.jpg").rename(moved.with_name("IMG_1.jpg"))
    assert [one.name for one in read(root)[0].entries[0].photos] == ["IMG_1.jpg"]
    before = sorted(folder.rglob("*"))
    again = run(root, days, tmp_path / "album", "--write")
    assert fates(again) == ["here already", "here already"]
    assert "In the journal already, left out: 1 photo." in again.output
    assert sorted(folder.rglob("*")) == before
    other = table(tmp_path, "date,assembly,title\n2019-02-07,left-wing,Deburred the ribs\n", "other.csv")
    assert f"{name}-2" in run(root, other, "--write").output
    build, problems = read(root)
    assert [one.id for one in build.entries].count(name) == 1
    assert not has_errors(problems)


@pytest.mark.parametrize("newline", [b"\r\n", b"\r"])
def test_a_mark_is_known_in_a_text_that_cannot_be_read(make_build: MakeBuild, tmp_path: Path, newline: bytes) -> None:
    """Bytes of an old encoding, line ends of another machine: the row was adopted all the same."""
    root = make_build()
    run(root, table(tmp_path, TABLE), "--write")
    text = root / "content/entries/2019-02-08-spar-cleaned/index.md"
    text.write_bytes(text.read_bytes().replace(b"Spar", "Flügel".encode("latin-1")).replace(b"\n", newline))
    assert fates(run(root, tmp_path / "days.csv")) == ["here already", "here already"]


def test_a_row_changed_since_does_not_count_twice(make_build: MakeBuild, tmp_path: Path) -> None:
    """A corrected row meets the entry of its day: it is reported and not added beside it unless told so."""
    root = make_build()
    run(root, table(tmp_path, TABLE), "--write")
    changed = table(tmp_path, TABLE.replace("3:15", "4:15"))
    result = run(root, changed, "--write")
    assert fates(result) == ["day already written", "here already"]
    assert len(entries(root)) == 2
    result = run(root, changed, "--write", "--beside")
    assert fates(result) == ["new", "here already"]
    assert len(entries(root)) == 3


def test_a_row_that_stands_there_twice_is_pointed_out(make_build: MakeBuild, tmp_path: Path) -> None:
    """Two equal rows are one until --keep-twins says otherwise, and then they stay two when run again."""
    root = make_build()
    doubled = table(tmp_path, TABLE + TABLE.splitlines()[1] + "\n")
    result = run(root, doubled)
    assert fates(result) == ["new", "new", "twice in the table"]
    assert "the same as row 1" in result.output
    assert run(root, doubled, "--write").exit_code == 1
    assert entries(root) == []
    assert run(root, doubled, "--drop-twins").exit_code == 0
    run(root, doubled, "--write", "--keep-twins")
    assert len(entries(root)) == 3
    assert "Written: 0 entries." in run(root, doubled, "--write", "--keep-twins").output


def test_a_spreadsheet_of_another_country_is_understood(make_build: MakeBuild, tmp_path: Path) -> None:
    """Byte-order mark, semicolons, decimal commas, dates with points, foreign headings and words."""
    root = make_build()
    foreign = table(
        tmp_path,
        "\ufeffDatum;Baugruppe;Stunden;Tätigkeit\r\n7.2.2019;Klappen;3,25;Rippen\r\n08.02.19;flaps;0,5 h;Holme\r\n",
    )
    options = [
        "--map",
        "Datum=date",
        "--map",
        "Baugruppe=assembly",
        "--map",
        "Stunden=hours",
        "--map",
        "Tätigkeit=text",
    ]
    result = run(root, foreign, *options, "--means", "Klappen=flaps", "--dates", "dmy", "--person", "ada", "--write")
    assert result.exit_code == 0, result.output
    build, problems = read(root)
    assert problems == ()
    assert [(one.date.isoformat(), one.minutes, one.title) for one in build.entries] == [
        ("2019-02-07", 195, "Rippen"),
        ("2019-02-08", 30, "Holme"),
    ]


def test_tables_in_other_encodings(make_build: MakeBuild, tmp_path: Path) -> None:
    """UTF-16 with a mark is read; bytes that are no UTF-8 are read as Windows-1252 and that is said."""
    root = make_build()
    text = "date\tassembly\ttext\n2019-02-07\tflaps\tFlügel\n"
    assert fates(run(root, table(tmp_path, text.encode("utf-16")))) == ["new"]
    result = run(root, table(tmp_path, text.encode("cp1252")), "--write")
    assert "read as Windows-1252" in result.output
    assert read(root)[0].entries[0].title == "Flügel"


def test_quotes_that_would_swallow_words_stop_the_table(make_build: MakeBuild, tmp_path: Path) -> None:
    """A quotation mark that never closes, or closes too soon, is told at its line: no word of a cell goes unseen."""
    root = make_build()
    head = "sep=;\ndate;assembly;text\n2019-02-07;flaps;good\n"
    for line in (
        '2019-02-08;flaps;"never closed\n2019-02-09;flaps;swallowed\n',
        '2019-02-08;flaps;"Drilled 1/8" holes"\n',
    ):
        result = run(root, table(tmp_path, head + line), "--write")
        assert result.exit_code == 1
        assert "cannot be read from line 4 on: a double quote stands where none can be" in result.output
    assert entries(root) == []


@pytest.mark.parametrize("sign", [",", ";", "\t", "|"])
def test_the_sign_that_a_table_names_parts_its_fields(make_build: MakeBuild, tmp_path: Path, sign: str) -> None:
    """`sep=` on the first line, as spreadsheets write it; lines are counted from the top all the same."""
    text = "sep=,\ndate,assembly,text\n2019-02-07,flaps,a;b\n2019-02-08,flapz,c\n".replace(",", sign)
    result = run(make_build(), table(tmp_path, text))
    assert fates(result) == ["new", "cannot be read"]
    assert "days.csv:4:1: row 2" in result.output


def test_every_faulty_row_is_told_and_stops_the_writing(make_build: MakeBuild, tmp_path: Path) -> None:
    """Each mistake names its row, its line and the way out; the good rows wait until it is settled."""
    root = make_build()
    faulty = table(
        tmp_path,
        "date,assembly,hours,steps,people\n,flaps,1,,\n2019-02-30,flaps,1,,\n7.2.2019,flaps,1,,\n2019-02-07,flapz,1,,\n"
        "2019-02-07,flaps,long,,\n2019-02-07,flaps,1,5.9,\n2019-02-07,flaps,1,,Bob\n2019-02-08,flaps,1,,\n",
    )
    result = run(root, faulty, "--write")
    assert result.exit_code == 1
    assert fates(result) == [*["cannot be read"] * 7, "new"]
    for said in (
        "row 1: no date",
        f'{faulty}:3:1: row 2: "2019-02-30" is not a date',
        f'{faulty}:4:1: row 3: "7.2.2019" can be 7 February 2019 or 2 July 2019; '
        "say how dates are written: --dates dmy or --dates mdy",
        'row 4: unknown assembly "flapz"; did you mean "flaps"?',
        'row 5: "long" is not a time worked',
        'row 6: unknown step "5.9"',
        'row 7: unknown person "Bob"',
    ):
        assert said in result.output
    assert entries(root) == []
    assert run(root, faulty, "--write", "--skip-faulty").exit_code == 0
    assert entries(root) == ["2019-02-08-flaps"]


def test_a_total_is_shared_out_to_the_minute(make_build: MakeBuild, tmp_path: Path) -> None:
    """Hours of all together come out as that total, however many they were; without an answer nothing is counted."""
    root = make_build()
    days = table(tmp_path, "date,assembly,hours,people\n2019-02-07,flaps,5:01,ada/bo\n")
    asked = run(root, days, "--write", each=False)
    assert asked.exit_code == 1
    assert "one figure stands for several people (5:01 for Ada Bergstrom and Bo Lindqvist); say with" in asked.output
    assert entries(root) == []
    run(root, days, "--write", "--hours-are", "total")
    build, problems = read(root)
    assert problems == ()
    assert [(one.person, one.minutes) for one in build.entries[0].time] == [("ada", 151), ("bo", 150)]


def test_a_column_for_each_person(make_build: MakeBuild, tmp_path: Path) -> None:
    """Hours kept in columns of their own stay with their person."""
    root = make_build()
    days = table(tmp_path, "date,assembly,A,B\n2019-02-07,flaps,2,\n2019-02-08,flaps,1,3:30\n")
    run(root, days, "--map", "A=hours:ada", "--map", "B=hours:bo", "--write")
    build, problems = read(root)
    assert problems == ()
    assert [{one.person: one.minutes for one in entry.time} for entry in build.entries] == [
        {"ada": 120},
        {"ada": 60, "bo": 210},
    ]


def test_an_entry_of_that_day_is_not_counted_again(make_build: MakeBuild, tmp_path: Path) -> None:
    """A day written up by hand is not added a second time from the table."""
    root = make_build({"entries/mine/index.md": entry("date: 2019-02-07")})
    result = run(root, table(tmp_path, TABLE), "--write")
    assert fates(result) == ["day already written", "new"]
    assert "mine; --beside adds the row" in result.output


def test_old_photos_join_their_rows_and_make_days_of_their_own(make_build: MakeBuild, tmp_path: Path) -> None:
    """Photos go to the row of their day and assembly; a day that only photos tell of becomes an entry
    of the assembly its folder is named after; what has no day at all is told and left.
    """
    root = make_build()
    album = tmp_path / "album"
    take(album / "2019 Flaps/IMG_1.jpg", "2019-02-07 18:00:00", shade=1)
    take(album / "IMG_2.jpg", "2019-02-08 18:00:00", shade=2)
    take(album / "Left wing, summer/IMG_3.jpg", "2019-07-01 18:00:00", shade=3)
    take(album / "Flaps/IMG_20190702_101112.jpg", shade=4)
    take(album / "scan.jpg", shade=5)
    take(album / "loose.jpg", "2019-09-09 10:00:00", shade=6)
    result = run(root, table(tmp_path, TABLE), album, "--write", "--skip-faulty")
    assert result.exit_code == 0, result.output
    assert "no day is known of: scan.jpg" in result.output
    assert "no folder is named after an assembly" in result.output
    build, problems = read(root)
    assert not has_errors(problems)
    assert [(one.id, one.assembly, [photo.name for photo in one.photos]) for one in build.entries] == [
        ("2019-02-07-deburred-the-ribs", "flaps", ["IMG_1.jpg"]),
        ("2019-02-08-spar-cleaned", "left-wing", ["IMG_2.jpg"]),
        ("2019-07-01-pictures-of-left-wing", "left-wing", ["IMG_3.jpg"]),
        ("2019-07-02-pictures-of-flaps", "flaps", ["IMG_20190702_101112.jpg"]),
    ]
    text = (root / "content/entries/2019-07-01-pictures-of-left-wing/index.md").read_text("utf-8")
    assert '  IMG_3.jpg: ""    # 18:00\n' in text
    assert "# Brought in from a folder of photos; hours were not recorded.\n" in text
    again = run(root, table(tmp_path, TABLE), album, album, "--write", "--skip-faulty")
    assert "Written: 0 entries." in again.output


def test_photos_found_later_join_the_entry_that_is_there(make_build: MakeBuild, tmp_path: Path) -> None:
    """Its text and its other files stay as they were; a name that is taken gives way."""
    mine = entry("date: 2019-02-07\ntitle: Mine")
    root = make_build({"entries/mine/index.md": mine, "entries/mine/IMG_1.jpg": b"\xff\xd8 mine"})
    take(tmp_path / "album/img_1.JPG", "2019-02-07 18:00:00", shade=1)
    result = run(root, tmp_path / "album", "--write")
    assert result.exit_code == 0, result.output
    folder = root / "content/entries/mine"
    assert (folder / "index.md").read_text() == mine
    assert (folder / "IMG_1.jpg").read_bytes() == b"\xff\xd8 mine"
    assert (folder / "img_1-2.JPG").read_bytes() == (tmp_path / "album/img_1.JPG").read_bytes()


def test_photos_found_later_go_where_their_entry_lies(make_build: MakeBuild, tmp_path: Path) -> None:
    """Into a folder of a year; an entry that is a single file has no place for them, and is left alone."""
    year, lone = entry("date: 2019-02-07"), entry("date: 2019-02-08")
    root = make_build({"entries/2019/mine/index.md": year, "entries/alone.md": lone})
    take(tmp_path / "album/IMG_1.jpg", "2019-02-07 18:00:00", shade=1)
    take(tmp_path / "album/IMG_2.jpg", "2019-02-08 18:00:00", shade=2)
    result = run(root, tmp_path / "album", "--write")
    assert result.exit_code == 0, result.output
    assert "content/entries/alone.md has no folder for photos; make it alone/index.md" in result.output
    assert sorted(
        path.relative_to(root / "content/entries").as_posix() for path in root.rglob("*.*") if "entries" in path.parts
    ) == ["2019/mine/IMG_1.jpg", "2019/mine/index.md", "alone.md"]
    assert [[photo.name for photo in one.photos] for one in read(root)[0].entries] == [["IMG_1.jpg"], []]


def test_only_the_rows_asked_for(make_build: MakeBuild, tmp_path: Path) -> None:
    """--row takes single rows, by the number the report shows."""
    root = make_build()
    run(root, table(tmp_path, TABLE), "--row", "2", "--write")
    assert entries(root) == ["2019-02-08-spar-cleaned"]


def test_a_wrong_option_names_the_nearest(make_build: MakeBuild, tmp_path: Path) -> None:
    """IDs in options are held against the build."""
    root, days = make_build(), table(tmp_path, TABLE)
    for options, said in (
        (["--assembly", "flapz"], 'did you mean "flaps"?'),
        (["--person", "adda"], 'did you mean "ada"?'),
        (["--means", "Klappen=flapps"], 'did you mean "flaps"?'),
        (["--map", "Datum=date"], 'there is no column "Datum"'),
    ):
        result = run(root, days, *options)
        assert result.exit_code in (1, 2)
        assert said in result.output


def test_words_of_the_table_mean_what_the_reader_takes_them_for(make_build: MakeBuild, tmp_path: Path) -> None:
    """IDs in any capitals, titles, names, steps with a word before them; what can be two is refused, until told."""
    root = make_build()
    plan = root / "content/build.yml"
    names = (("bo: {", "bo: {shown_as: Pip, "), ("hanne: {", "hanne: {shown_as: Pip, "))
    text = plan.read_text()
    for old, new in names:
        text = text.replace(old, new)
    plan.write_text(text)
    rows = ("2019-02-07,LEFT WING,3h30,BO,step 7.1 through 7.2", "2019-02-08,flaps,1,Pip,")
    days = table(tmp_path, "\n".join(["date,assembly,hours,people,steps", *rows]))
    result = run(root, days)
    assert fates(result) == ["new", "cannot be read"]
    assert '"Pip" can be more than one person; write one of: ' in result.output
    assert '--means "WORD=ID"' in result.output
    assert fates(run(root, days, "--means", "Pip=bo", "--write")) == ["new", "new"]
    first, second = read(root)[0].entries
    assert (first.assembly, first.people, first.minutes, first.steps) == ("left-wing", ("bo",), 210, ("7.1", "7.2"))
    assert second.people == ("bo",)


def test_the_mark_of_a_row_stays_what_it_was(make_build: MakeBuild, tmp_path: Path) -> None:
    """Rows adopted by earlier versions are known by their marks: the forms that go into one may not change."""
    root = make_build()
    days = table(
        tmp_path,
        "date,assembly,hours,steps,people\n2019-02-07,Flaps,08:30 – 10:00; 3 h 15,5.1-5.3,ada/Bo Lindqvist\n"
        '2019-02-08 18:00,flaps,"1 + 2,50 h","5.1, 5.2",Ada\n',
    )
    run(root, days, "--write")
    marks = [
        path.read_text("utf-8").partition("adopted: ")[2][:16] for path in sorted(root.glob("content/*/*/index.md"))
    ]
    assert marks == ["8a3a159fd29bd84a", "4e11c600731b9385"]


@pytest.mark.parametrize(
    ("text", "order", "day"),
    [
        ("2019-02-07", "iso", (2019, 2, 7)),
        ("2019-2-7 18:30", "iso", (2019, 2, 7)),
        ("2019-02-07T23:30:00Z", "iso", (2019, 2, 7)),
        ("2019-02-07 (Thu) 6:30 pm", "iso", (2019, 2, 7)),
        ("2019-02-07 went home", "iso", None),
        ("2019-02-07 went home", "dmy", None),
        ("2019-02-30", "iso", None),
        ("7.2.2019", "iso", None),
        ("7.2.2019", "dmy", (2019, 2, 7)),
        ("07/02/19", "dmy", (2019, 2, 7)),
        ("07/02/19", "mdy", (2019, 7, 2)),
        ("7. Feb. 2019", "dmy", (2019, 2, 7)),
        ("February 7, 2019", "mdy", (2019, 2, 7)),
        ("31/12/70", "dmy", (1970, 12, 31)),
        ("13/13/2019", "dmy", None),
        ("43503", "dmy", None),
        ("20190207", "iso", (2019, 2, 7)),
        ("7 February 2019", "iso", (2019, 2, 7)),
        ("7-Feb-19", "iso", None),
        ("7-Feb-19", "dmy", (2019, 2, 7)),
        ("7. Juni 2019", "dmy", (2019, 6, 7)),
        ("Thursday, 7 February 2019", "iso", (2019, 2, 7)),
        ("Friday, 7 February 2019", "iso", None),
    ],
)
def test_dates_as_people_write_them(text: str, order: str, day: tuple[int, int, int] | None) -> None:
    """ISO always; other forms only when their order is told; nothing is guessed."""
    assert parse_any_date(text, DateOrder(order)) == (date(*day) if day else None)


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("3,5", ("3.5",)),
        (",75", ("0.75",)),
        ("3:15", ("3:15",)),
        ("03:15:00", ("3:15",)),
        ("3h15", ("3:15",)),
        ("3 h 15 min", ("3:15",)),
        ("195 min", ("3:15",)),
        ("90min", ("1:30",)),
        ("2h", ("2:00",)),
        ("3 hours", ("3:00",)),
        ("18:30 – 21:45", ("18:30-21:45",)),
        ("18:30-20:00; 21:00-22:00", ("18:30-20:00", "21:00-22:00")),
        ("1 + 2,5", ("1", "2.5")),
        ("08:30 to 9:15", ("8:30-9:15",)),
        ("20:00-24:00", ("20:00-24:00",)),
        ("22:00-0:30", ("22:00-0:30",)),
        ("6:30pm until 9:45 pm", ("6:30pm-9:45 pm",)),
        ("18:30-20:00, 21:00-22:00", ("18:30-20:00", "21:00-22:00")),
        ("3.5 h", ("3.5",)),
        ("2 1/2 h", ("2:30",)),
        ("½", ("0:30",)),
        ("18:30-21", ("18:30-21",)),
        ("1,5, 2,5", None),
        ("1,234.5", None),
        ("1.234,5", None),
        ("about two", None),
        ("", None),
        ("-2", None),
    ],
)
def test_hours_as_people_write_them(text: str, parts: Sequence[str] | None) -> None:
    """Brought into the form of `hours`, or refused."""
    assert parse_any_hours(text) == parts


def test_steps_and_ranges_in_one_cell() -> None:
    """A dash makes a range only between two steps, and never where the whole is a step itself."""
    steps = {one: Step(id=one, assembly="flaps", title="") for one in ("5.1", "5.2", "5.3", "A-1", "A", "1")}
    known, notes = KnownIds(lists={"step": steps}, steps=steps, damaged=frozenset()), Notes("")
    assert split_steps("5.1-5.3, A-1; 5.2", known, notes) == ("5.1 to 5.3", "A-1", "5.2")
    assert split_steps("-", known, notes) == split_steps("none", known, notes) == ()
    assert not notes.problems


@pytest.mark.parametrize(
    ("name", "day"),
    [
        ("IMG_20190702_101112.jpg", (2019, 7, 2)),
        ("2019-05-04 left wing", (2019, 5, 4)),
        ("IMG-20190504-WA0001.jpg", (2019, 5, 4)),
        ("DSC_4711.jpg", None),
        ("120190504.jpg", None),
        ("20191304.jpg", None),
    ],
)
def test_days_that_names_tell(name: str, day: tuple[int, int, int] | None) -> None:
    """Names as phones and orderly people give them."""
    assert date_in_name(name) == (date(*day) if day else None)


def test_the_words_of_a_cell_stay_words() -> None:
    """A line that begins with a drill number is no heading, a rule no rule, and lines stay apart."""
    assert (
        plain_markdown("#40 drill broke\n---\nNext: ribs\n\nDone") == "\\#40 drill broke  \n\\---  \nNext: ribs\n\nDone"
    )


@settings(max_examples=25)
@given(st.text(max_size=60), st.text(max_size=30))
def test_no_table_makes_it_stumble(text: str, hours: str) -> None:
    """Whatever stands in a cell, values come out in form or as None."""
    parts = parse_any_hours(hours)
    assert parts is None or all(unicodedata.normalize("NFC", part).isascii() for part in parts)
    for order in DateOrder:
        parse_any_date(text, order)
    date_in_name(text)
