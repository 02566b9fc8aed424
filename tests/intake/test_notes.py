"""Notes of work days in a text file: each day a row, no word lost, for `enter --notes` and `adopt` alike."""

from __future__ import annotations

import re
from collections import Counter
from datetime import date
from pathlib import Path

import pytest
from cameras import take
from click.testing import CliRunner, Result
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from making import MakeBuild, entry, read

from journal.base.model import Assembly, Person, Role, Step
from journal.commands.intake.adopt import COLUMNS
from journal.commands.intake.lenient_parsing import DateOrder
from journal.commands.intake.notes import begins_as_notes, leading_fields, read_notes, split_day
from journal.commands.main import main
from journal.reading.form import KnownIds
from journal.reading.text import Notes

NOTES = """\
7 February 2026, 2 h 15, steps 7.1 to 7.2
Deburred the ribs. The #40 drill wandered
at rib 4, so we stopped.

!!! Second thoughts: <!-- it was --> the bit.

Sunday 8 February 2026: Riveted the skeleton.
hours: 18:30 – 21:45
Steps: 5.2, 5.3
people: Ada and Hanne
note: ordered rivets
2026-02-09 - cleaned up
assembly: Workshop
time: 1 h
"""

KNOWN = KnownIds(
    lists={
        "step": {},
        "person": {"ada": Person(id="ada", name="Ada Bergstrom", role=Role.BUILDER)},
        "assembly": {"flaps": Assembly(id="flaps", title="Flaps")},
        "place": {},
    },
    steps={one: Step(id=one, assembly="flaps", title=one) for one in ("7.1", "7.2", "7.3", "7.10")},
    damaged=frozenset(),
)


def run(command: str, root: Path, *arguments: object, **options: object) -> Result:
    """A command in the build folder `root`."""
    return CliRunner().invoke(main, [command, "--build", str(root), *map(str, arguments)], **options)  # type: ignore[arg-type]


def notes(folder: Path, text: str, name: str = "evenings.txt") -> Path:
    """Notes beside the build."""
    (folder / name).write_text(text, "utf-8")
    return folder / name


def entries(root: Path) -> list[str]:
    """Folders of entries."""
    return sorted(path.name for path in (root / "content/entries").glob("*"))


def test_days_become_entries_with_their_fields_and_words(make_build: MakeBuild, tmp_path: Path) -> None:
    """Fields come from the first line and from lines of their own; all else is text, and the assembly is guessed."""
    root = make_build()
    result = run("enter", root, "--notes", notes(tmp_path, NOTES), input="y\n")
    assert result.exit_code == 0, result.output
    assert "Write these 3 entries?" in result.output
    assert "Assembly: left-wing (from step 7.1)" in result.output
    build, problems = read(root)
    assert [problem.word for problem in problems] == []
    first, second, third = build.entries
    assert (first.date, first.assembly, first.steps) == (date(2026, 2, 7), "left-wing", ("7.1", "7.2"))
    assert (first.minutes, first.title) == (2 * 135, "Deburred the ribs")
    assert [line.strip() for line in first.body.strip().split("\n")] == [
        *("Deburred the ribs. The #40 drill wandered", "at rib 4, so we stopped.", ""),
        r"\!!! Second thoughts: <\!-- it was --> the bit.",
    ]
    assert (second.assembly, second.steps, second.people) == ("flaps", ("5.2", "5.3"), ("ada", "hanne"))
    assert second.minutes == 2 * 195
    assert second.body.split("\n")[0].strip() == "Riveted the skeleton."
    assert "note: ordered rivets" in second.body
    assert (third.date, third.assembly, third.minutes) == (date(2026, 2, 9), "workshop", 120)


def test_running_it_again_adds_only_what_is_new(make_build: MakeBuild, tmp_path: Path) -> None:
    """Known by their words, whichever command wrote them, and though the guess of an assembly comes out otherwise."""
    root = make_build({"entries/2026-02-01-spar/index.md": entry("date: 2026-02-01\nassembly: left-wing")})
    file = notes(tmp_path, "2026-02-02: no step told\n")
    assert run("enter", root, "--notes", file, "--yes").exit_code == 0
    later = root / "content/entries/2026-02-05-flap"
    later.mkdir()
    (later / "index.md").write_text(entry("date: 2026-02-05\nassembly: flaps"))
    notes(tmp_path, "2026-02-02: no step told\n\n2026-02-03. steps 5.1. Deburred.\n")
    assert "here already" in run("adopt", root, file, "--write").output
    again = run("enter", root, "--notes", file, "--yes")
    assert "There is nothing to write." in again.output
    assert len(entries(root)) == 4


def test_a_dry_run_and_a_no_write_nothing(make_build: MakeBuild, tmp_path: Path) -> None:
    """All is shown, and nothing is there afterwards."""
    root, file = make_build(), notes(tmp_path, NOTES)
    shown = run("enter", root, "--notes", file, "--dry-run")
    assert "steps: [7.1 to 7.2]" in shown.output
    run("enter", root, "--notes", file, input="n\n")
    assert entries(root) == []


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("Deburred.\n", 1, '"Deburred" begins with no day'),
        ("2026-02-07: x\n\nFebruary 8: y\n", 3, "begins with no day, or with one without its year"),
        ("2026-02-07: x\nSaturday: y\n", 2, "begins with no day, or with one without its year"),
        ("2026-02-07: x\n\n8/2/26: y\n", 3, "begins with no day, or with one without its year"),
        ("\n\nMonday 7 February 2026: x\n", 3, "was a Saturday"),
        ("3/1/2026 x\n", 1, "write 2026-03-01 or 2026-01-03"),
        ("31 February 2026: x\n", 1, "there is no day"),
        ("2026-02-07: steps 5.1\ntitle: a\ntitle: b\n", 3, 'the title is told twice, "a" and "b"'),
        ("2026-02-07: x\nhours: two\n", 1, '"two" is not a time worked'),
        ("2026-02-07, steps 5.99\n", 1, 'unknown step "5.99"'),
        ("2026-02-07: x\n", 1, "add a line like `assembly: flaps`"),
        ("2026-02-07\n\n2026-02-08: steps 5.1\n", 1, "nothing is told of this day"),
        ("2026-02-07, steps 5.1\n!!! private\nsecret\n", 10, "nothing is indented under"),
        ("", 1, "nothing is written in it"),
    ],
)
def test_what_cannot_be_read_is_told_with_its_line(
    make_build: MakeBuild, tmp_path: Path, text: str, line: int, words: str
) -> None:
    """Nothing is written until it is mended, not even with --yes."""
    root = make_build()
    result = run("enter", root, "--notes", notes(tmp_path, text), "--yes")
    assert result.exit_code == 1, result.output
    assert re.search(rf"(evenings\.txt|index\.md):{line}:1: .*{re.escape(words)}", result.output), result.output
    assert entries(root) == []


def test_photos_come_to_their_days(make_build: MakeBuild, tmp_path: Path) -> None:
    """With --photos each day has its pictures, as in adopt."""
    root = make_build()
    take(tmp_path / "phone/IMG_1.jpg", "2026-02-08 18:30:00", shade=1)
    take(tmp_path / "phone/IMG_2.jpg", "2026-01-08 18:30:00", shade=2)
    file, folder = notes(tmp_path, NOTES), root / "content/entries/2026-02-08-riveted-the-skeleton"
    result = run("enter", root, "--notes", file, "--photos", tmp_path / "phone", "--yes")
    assert result.exit_code == 0, result.output
    assert "Of no day in the notes, left out: 1 photo." in result.output
    assert (folder / "IMG_1.jpg").is_file()
    take(tmp_path / "phone/IMG_3.jpg", "2026-02-08 19:30:00", shade=3)
    again = run("enter", root, "--notes", file, "--photos", tmp_path / "phone", "--yes")
    assert "Written: content/entries/2026-02-08-riveted-the-skeleton\n" in again.output
    assert (folder / "IMG_3.jpg").is_file()
    assert len(entries(root)) == 3


def test_adopt_tells_notes_from_tables_by_their_first_line(make_build: MakeBuild, tmp_path: Path) -> None:
    """A .txt that begins with a day holds notes; any other is a table, as it was before."""
    root = make_build()
    result = run("adopt", root, notes(tmp_path, "\n" + NOTES))
    assert "note    1  new  2026-02-07  2026-02-07-deburred-the-ribs" in result.output
    table = notes(tmp_path, "date\tassembly\ttext\n2026-02-07\tflaps\tRibs\n", "days.txt")
    assert "row    1  new  2026-02-07  2026-02-07-ribs" in run("adopt", root, table).output
    lost = run("adopt", root, notes(tmp_path, "Deburred ribs\n", "lost.txt"))
    assert "If these are notes and no table, begin each day with its date" in lost.output
    assert not begins_as_notes("day,hours\n2026-02-07,3\n")


@pytest.mark.parametrize(
    ("line", "order", "told"),
    [
        ("2026-02-07: x", DateOrder.ISO, ("2026-02-07", ":", "x")),
        ("7.2.2026 - x", DateOrder.ISO, ("7.2.2026 ", "-", "x")),
        ("the 7th of February 2026. Then", DateOrder.ISO, ("the 7th of February 2026", ".", "Then")),
        ("Saturday, 7 Feb 2026", DateOrder.ISO, ("Saturday, 7 Feb 2026", "", "")),
        ("7/2/26: x", DateOrder.DAY_FIRST, ("7/2/26", ":", "x")),
        ("7/2/26: x", DateOrder.ISO, None),
        ("5.1, 10 ribs", DateOrder.DAY_FIRST, None),
        ("7.12: drilled", DateOrder.ISO, None),
        ("7 Feb 2026, 18:30 - 21:45. x", DateOrder.DAY_FIRST, ("7 Feb 2026", ",", "18:30 - 21:45. x")),
        ("7 Feb 26 18:30 - 21:45. x", DateOrder.DAY_FIRST, ("7 Feb 26", " ", "18:30 - 21:45. x")),
        ("2026-02-07 went home: x", DateOrder.MONTH_FIRST, ("2026-02-07", " ", "went home: x")),
        ("2026-02-07 Sat 2 h 15", DateOrder.DAY_FIRST, ("2026-02-07", " ", "Sat 2 h 15")),
    ],
)
def test_a_day_at_the_beginning_of_a_line(line: str, order: DateOrder, told: tuple[str, str, str] | None) -> None:
    """Any form of the reader, the longest that fits."""
    assert split_day(line, order) == told


@pytest.mark.parametrize(
    ("text", "fields", "rest"),
    [
        ("2 h 15, steps 7.1 to 7.3", [("hours", "2 h 15"), ("steps", "7.1 to 7.3")], ""),
        ("18:30 - 21:45 - steps 7.1, 7.2. Done", [("hours", "18:30 - 21:45"), ("steps", "7.1, 7.2")], "Done"),
        ("hours 2:15. Ada. Flaps", [("hours", "2:15"), ("people", "Ada"), ("assembly", "Flaps")], ""),
        ("2:15, x", [], "2:15, x"),
        ("3 ribs", [], "3 ribs"),
        ("7.1 to 7.3", [], "7.1 to 7.3"),
        ("steps taken, 2 h", [], "steps taken, 2 h"),
        ("deburred, 2 h", [], "deburred, 2 h"),
    ],
)
def test_only_what_can_be_meant_in_one_way_is_a_field(text: str, fields: list[tuple[str, str]], rest: str) -> None:
    """A bare figure, and a clock time that could be one of the day, stay words."""
    assert leading_fields(text, KNOWN) == (fields, rest)


_PIECES = st.sampled_from(
    (
        *(
            "2026-02-07",
            "8 February 2026",
            "February 9",
            "3/1/2026",
            "7 Feb 26",
            "Saturday",
            "date: ",
            " 18:30 - 20:00",
        ),
        *(":", " - ", ", ", ". ", "\n", "\n\n", " ", "\r\n", "#40", "!!!", "ribs", "Ada", "flaps", "- one", "2:15"),
        *("2 h 15", "hours: 3", "steps 7.1 to 7.3", "steps: 7.9", "title: rib", "note: the bit", "text: words"),
        *("what: for", "part: spar"),
    )
)
_KEYS = re.compile(r"^\s*(?:[-*•]\s+)?[^\W\d_][\w -]*?\s*:", re.MULTILINE)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=100)
@example(pieces=["2026-02-07", ":", "2 h 15", " - ", "title: rib"], order=DateOrder.ISO)
@example(pieces=["2026-02-07", ":", "2 h 15", " - ", "part: spar"], order=DateOrder.ISO)
@example(pieces=["2026-02-07", ":", "2 h 15", " - ", "text: words"], order=DateOrder.ISO)
@example(pieces=["2026-02-07", ":", "2 h 15", " - ", "note: the bit"], order=DateOrder.ISO)
@example(pieces=["2026-02-07", ":", "2 h 15", " - ", "what: for"], order=DateOrder.ISO)
@example(pieces=["2026-02-07", " ", "ribs", ": ", "steps"], order=None)
@example(pieces=["8 February 2026", ",", " 18:30 - 20:00", ". ", "ribs"], order=None)
@given(pieces=st.lists(_PIECES, max_size=14), order=st.sampled_from([*DateOrder, None]))
def test_no_word_of_the_notes_is_lost(tmp_path: Path, pieces: list[str], order: DateOrder | None) -> None:
    """Every word is in a field or in the text of a day, or its day tells that it cannot be read; the words of a day
    itself and those that name fields apart.
    """
    file = notes(tmp_path, "".join(pieces))
    sheet = read_notes(file, COLUMNS, KNOWN, order, Notes(""))
    rows = sheet.rows if sheet else ()
    written = file.read_text("utf-8").split("\n")
    assert rows or not "".join(written).strip()
    ends = [*(row.line for row in rows), len(written) + 1][1:]
    for row, after in zip(rows, ends, strict=True):
        lines = written[row.line - 1 : after - 1]
        bare = re.sub(r"^(?:(?:[-*•]|#+)\s+)?(?:(?:date|day|when)\s*:\s*(?=\S))?", "", lines[0].strip())
        orders = [order] if order else [DateOrder.DAY_FIRST, DateOrder.MONTH_FIRST]
        begun = next(filter(None, (split_day(bare, one) for one in orders)), None)
        # What stands as the day itself holds no other words.
        cells = {**row.cells, "date": tuple("\n".join(row.cells.get("date", ())).split("\n")[bool(begun) :])}
        told = Counter(re.findall(r"\w+", " ".join(" ".join(cell) for cell in cells.values())))
        first = begun[2] if begun and not any(one.word == "note-without-day" for one in row.problems) else lines[0]
        wanted = Counter(re.findall(r"\w+", _KEYS.sub("", "\n".join([first, *lines[1:]]))))
        wanted -= Counter({"hours": 9, "hour": 9, "time": 9, "steps": 9, "step": 9})
        # A field may be named behind the day and its hours, too.
        wanted -= Counter(re.findall(r"\b(title|what|note|text|part)\s*:", "\n".join([first, *lines[1:]])))
        assert not wanted - told, (wanted - told, row)
