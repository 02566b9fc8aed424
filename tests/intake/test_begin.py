"""`journal begin`: a new build that passes check, and nothing that was there before is touched."""

from __future__ import annotations

import json
import os
from datetime import date
from importlib.metadata import PackageNotFoundError
from pathlib import Path
from types import SimpleNamespace

import pytest
import yaml
from click.testing import CliRunner, Result
from hypothesis import given, settings
from hypothesis import strategies as st
from making import read
from mkdocs.utils import yaml_load

from journal.base import safe_write
from journal.base.drawing import check_drawing
from journal.base.model import Airframe, TailShape, Wheels, WingPlace
from journal.base.problems import has_errors
from journal.base.text_files import one_line
from journal.commands.intake.asking import parse_zone
from journal.commands.intake.begin import (
    FOLDERS,
    Wishes,
    first_entry,
    guess_zone,
    installed_from,
    parse_assemblies,
    parse_builders,
    plan_build,
    ready_assemblies,
)
from journal.commands.main import main

TODAY = date(2026, 2, 7)


def run(*arguments: object, **options: object) -> Result:
    """`journal` with these arguments."""
    return CliRunner().invoke(main, [str(argument) for argument in arguments], **options)  # type: ignore[arg-type]


def names_below(folder: Path) -> set[str]:
    """Every file below `folder`, relative."""
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}


def test_a_new_build_passes_check_without_a_single_finding(tmp_path: Path) -> None:
    """What `begin --yes` makes has nothing that `check --strict` objects to, but for an address nobody gave."""
    made = run("begin", tmp_path / "tarn", "--yes")
    assert made.exit_code == 0, made.output
    checked = run("check", "--json", "--build", tmp_path / "tarn")
    assert [row["word"] for row in json.loads(checked.output)] == ["no-site-url"]
    assert run("begin", tmp_path / "fen", "--yes", "--site-url", "https://fen.example").exit_code == 0
    checked = run("check", "--strict", "--build", tmp_path / "fen")
    assert checked.exit_code == 0, checked.output
    assert names_below(tmp_path / "fen") == names_below(tmp_path / "tarn")
    assert names_below(tmp_path / "tarn") == {
        ".gitignore",
        "content/build.yml",
        "content/steps.csv",
        "first-entry.md",
        "mkdocs.yml",
    }
    assert (tmp_path / "tarn/content/entries").is_dir()


def test_answers_land_where_they_belong(tmp_path: Path) -> None:
    """Every option is found again in what the reader makes of the build."""
    made = run(
        *("begin", tmp_path / "b", "--yes", "--aircraft", "Tarn: the second", "--kind", "two-seat #2"),
        *("--builder", "Maren Oltwick=Maren", "--builder", "Maren Harstvell", "--begun", "2026-01-10"),
        *(
            "--zone",
            "Europe/Zurich",
            "--place",
            "Garage, left",
            "--watermark",
            "© Maren: all",
            "--assembly",
            "left wing",
        ),
        *("--assembly", "Floats & skis", "--site-url", "https://tarn.example/journal"),
    )
    assert made.exit_code == 0, made.output
    build, problems = read(tmp_path / "b")
    assert problems == ()
    assert (build.aircraft.name, build.aircraft.kind) == ("Tarn: the second", "two-seat #2")
    assert [(person.id, person.name, person.shown_as) for person in build.people.values()] == [
        ("maren", "Maren Oltwick", "Maren"),
        ("maren-harstvell", "Maren Harstvell", None),
    ]
    assert (build.begun, build.zone) == (date(2026, 1, 10), "Europe/Zurich")
    assert [place.name for place in build.places.values()] == ["Garage, left"]
    assert [(one.id, one.title) for one in build.assemblies.values()] == [
        ("left-wing", "Left wing"),
        ("floats-skis", "Floats & skis"),
    ]
    assert build.photo_settings.watermark == "© Maren: all"
    settings = yaml_load((tmp_path / "b/mkdocs.yml").read_text("utf-8"))
    assert settings == {
        "site_name": "Tarn: the second build journal",
        "site_url": "https://tarn.example/journal/",
        "docs_dir": "content",
        "theme": {"name": "material", "font": False},
        "plugins": ["search", "journal"],
        "extra": {"quiet": "quiet"},
    }


def test_questions_are_asked_one_by_one_and_a_slip_is_explained(tmp_path: Path) -> None:
    """Typed answers count, Enter takes the suggestion, a wrong zone is asked again with the nearest."""
    (tmp_path / "manual.csv").write_text("assembly,step,title\nflaps,5.1,Deburr\n")
    answers = ["Tarn", "Maren Oltwick, Tobin Harstvell", "Maren", "", "Europe/Zurch", "Europe/Zurich", "", ""]
    answers += ["shoulder", "high", "V", "floats", "", "-", ""]
    answers += [str(tmp_path / "nowhere.csv"), str(tmp_path / "manual.csv")]
    made = run("begin", tmp_path / "b", input="\n".join(answers) + "\n")
    assert made.exit_code == 0, made.output
    assert 'Did you mean "Europe/Zurich"?' in made.output
    assert "nowhere.csv: there is no such file" in made.output
    build, problems = read(tmp_path / "b")
    assert problems == ()
    assert [person.shown_as for person in build.people.values()] == ["Maren", None]
    assert list(build.steps) == ["5.1"]
    assert build.zone == "Europe/Zurich"
    assert tuple(build.assemblies.values()) == ready_assemblies()
    assert build.photo_settings.watermark == ""
    assert '"shoulder" is not known here' in made.output
    assert build.airframe == Airframe(wing=WingPlace.HIGH, tail=TailShape.V, wheels=Wheels.FLOATS)


def test_questions_nobody_answers_write_nothing(tmp_path: Path) -> None:
    """Where input ends in the middle of the questions, it says how to do without, and leaves nothing."""
    made = run("begin", tmp_path / "b", input="Tarn\n")
    assert made.exit_code == 2
    assert "--yes" in made.output
    assert list(tmp_path.iterdir()) == []


def test_what_is_in_the_way_is_listed_and_left_alone(tmp_path: Path) -> None:
    """A folder with a build, or with a file of the same name, is refused with code 2 and not touched."""
    (tmp_path / "content").mkdir()
    (tmp_path / "content/mine.txt").write_text("mine")
    (tmp_path / "mkdocs.yml").write_text("site_name: mine")
    before = names_below(tmp_path)
    made = run("begin", tmp_path, "--yes")
    assert made.exit_code == 2
    assert f"{tmp_path / 'mkdocs.yml'}" in made.output
    assert f"{tmp_path / 'content'}/" in made.output
    assert names_below(tmp_path) == before
    file = tmp_path / "file"
    file.write_text("x")
    assert run("begin", file, "--yes").exit_code == 2
    assert file.read_text() == "x"


def test_a_folder_with_other_things_in_it_keeps_them(tmp_path: Path) -> None:
    """A repository just made is no obstacle: its files, a .gitignore among them, stay as they are."""
    (tmp_path / ".git").mkdir()
    (tmp_path / ".gitignore").write_text("mine\n")
    made = run("begin", tmp_path, "--yes")
    assert made.exit_code == 0, made.output
    assert (tmp_path / ".gitignore").read_text() == "mine\n"
    assert (tmp_path / "content/build.yml").is_file()
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".journal-begin")]


@pytest.mark.parametrize("there", [False, True], ids=["new folder", "folder that is there"])
def test_a_full_disk_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, there: bool) -> None:
    """When the disk fills up half-way the command says so with code 3, and no file of it remains."""
    place = tmp_path / "tarn"
    if there:
        place.mkdir()
    written = []

    def full(path: Path, data: bytes) -> None:
        if len(written) == 3:
            raise OSError(28, os.strerror(28), str(path))
        written.append(path)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)

    monkeypatch.setattr(safe_write, "write_new", full)
    made = run("begin", place, "--yes")
    assert made.exit_code == 3
    assert os.strerror(28) in made.output
    assert names_below(tmp_path) == set()
    assert place.exists() is there


def test_a_move_that_fails_half_way_is_taken_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """In a folder that is there, several names are moved in; where one cannot be, the others go again."""
    (tmp_path / "mine").write_text("mine")
    real = Path.rename

    def rename(self: Path, target: Path) -> Path:
        if target.name == "content":
            raise OSError(5, os.strerror(5), str(target))
        return real(self, target)

    monkeypatch.setattr(Path, "rename", rename)
    assert run("begin", tmp_path, "--yes").exit_code == 3
    assert names_below(tmp_path) == {"mine"}


def test_steps_come_in_from_any_spreadsheet(tmp_path: Path) -> None:
    """A semicolon table with a byte-order mark, other headings and an assembly of its own is taken whole."""
    table = tmp_path / "manual.csv"
    table.write_bytes(
        '\ufeffNr;Baugruppe;Bezeichnung;Seite\r\n5.1;Flaps;Deburr ribs;5-1\r\n5.10;Flaps;"Rivet; close";\r\n'
        "9.1;Floats;Fit the floats;9-1\r\n".encode()
    )
    made = run(
        *("begin", tmp_path / "b", "--yes", "--steps", table, "--map", "Nr=step", "--map", "Baugruppe=assembly"),
        *("--map", "Bezeichnung=title", "--map", "Seite=page"),
    )
    assert made.exit_code == 0, made.output
    build, problems = read(tmp_path / "b")
    assert problems == ()
    assert [(step.id, step.assembly, step.title, step.page) for step in build.steps.values()] == [
        ("5.1", "flaps", "Deburr ribs", "5-1"),
        ("5.10", "flaps", "Rivet; close", ""),
        ("9.1", "floats", "Fit the floats", "9-1"),
    ]
    assert list(build.assemblies)[-1] == "floats"


def test_a_faulty_table_of_steps_is_told_line_by_line_and_makes_nothing(tmp_path: Path) -> None:
    """Each mistake names the line of the table as given; no build is made."""
    table = tmp_path / "manual.csv"
    table.write_text("assembly,step,title\nflaps,5.1,Deburr\n\nflaps,5.1,Again\nflaps,5.2,\n")
    made = run("begin", tmp_path / "b", "--yes", "--steps", table)
    assert made.exit_code == 1
    assert f"{table}:4: " in made.output
    assert 'step "5.1" is there twice' in made.output
    assert f"{table}:5: " in made.output
    assert not (tmp_path / "b").exists()


def test_a_table_without_the_columns_says_how_to_name_them(tmp_path: Path) -> None:
    """A heading that is not understood ends in the option that helps."""
    table = tmp_path / "manual.csv"
    table.write_text("Teil,Nummer,Was\nx,1,y\n")
    made = run("begin", tmp_path / "b", "--yes", "--steps", table)
    assert made.exit_code == 1
    assert '--map "HEADING=assembly"' in made.output


def test_the_workflow_is_yaml_that_runs_commands_which_exist(tmp_path: Path) -> None:
    """`--ci` writes a workflow whose own steps are commands of this program."""
    made = run("begin", tmp_path / "b", "--yes", "--ci")
    assert made.exit_code == 0, made.output
    workflow = yaml.safe_load((tmp_path / "b/.github/workflows/site.yml").read_text("utf-8"))
    assert workflow["env"]["JOURNAL"]
    steps = workflow["jobs"]["site"]["steps"]
    ours = [step["run"].split()[1] for step in steps if step.get("run", "").startswith("journal ")]
    assert ours == ["check", "site"]
    assert all(name in main.list_commands(None) for name in ours)
    assert next(step for step in steps if "upload" in step.get("uses", ""))["with"]["path"] == "site"


@pytest.mark.skipif("archive" not in main.list_commands(None), reason="needs the command that makes archives")
def test_a_build_comes_back_out_of_its_archive(tmp_path: Path) -> None:
    """Archived and restored it is the same build; onto something that is there it is not restored at all."""
    run("begin", tmp_path / "b", "--yes", "--site-url", "https://b.example")
    made = run("archive", "--build", tmp_path / "b", "--out", tmp_path / "a")
    assert made.exit_code == 0, made.output
    back = run("begin", tmp_path / "c", "--from-archive", tmp_path / "a")
    assert back.exit_code == 0, back.output
    for name in ("content/build.yml", "mkdocs.yml"):
        assert (tmp_path / "c" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()
    assert run("check", "--strict", "--build", tmp_path / "c").exit_code == 0
    again = run("begin", tmp_path / "c", "--from-archive", tmp_path / "a")
    assert again.exit_code == 2
    assert f"{tmp_path / 'c/content'}/" in again.output
    assert run("begin", tmp_path / "d", "--from-archive", tmp_path / "nowhere").exit_code == 2
    (tmp_path / "a").rename(tmp_path / ".a.old")
    assert run("verify", tmp_path / "a").exit_code == 0
    assert run("begin", tmp_path / "d", "--from-archive", tmp_path / "a").exit_code == 0
    (tmp_path / ".a.old/data/source/content/steps.csv").write_text("damaged")
    part = run("begin", tmp_path / "e", "--from-archive", tmp_path / "a")
    assert part.exit_code == 1
    assert "content/steps.csv: did not come back" in part.output
    assert "not all of the build came back: see above" in part.output
    assert (tmp_path / "e/damaged/content/steps.csv").read_text() == "damaged"


def test_four_words_are_drawn_and_the_drawing_can_be_had_for_editing(tmp_path: Path) -> None:
    """The words go to build.yml; each assembly of the ready list has a shape; the drawing is saved once and kept."""
    made = run("begin", tmp_path / "b", "--yes", "--wing", "High", "--tail", "T", "--wheels", "behind")
    assert made.exit_code == 0, made.output
    build, _ = read(tmp_path / "b")
    assert build.airframe == Airframe(wing=WingPlace.HIGH, tail=TailShape.T, wheels=Wheels.BEHIND)
    saved = run("card", "--drawing", "--build", tmp_path / "b")
    assert saved.exit_code == 0, saved.output
    svg = (tmp_path / "b/content/aircraft.svg").read_text("utf-8")
    assert check_drawing(svg, build.assemblies, "aircraft.svg") == ()
    again = run("card", "--drawing", "--build", tmp_path / "b")
    assert (again.exit_code, again.output.count("is there already")) == (2, 1)
    wrong = run("begin", tmp_path / "c", "--yes", "--wing", "middle")
    assert wrong.exit_code == 2
    assert "Write low, mid, high or two" in wrong.output
    assert not (tmp_path / "c").exists()


def test_the_page_in_the_documentation_is_the_one_that_new_builds_get() -> None:
    """docs/first-entry.md is the starter's page with the demonstration's names, word for word."""
    wishes = Wishes(aircraft="Tarn", assemblies=ready_assemblies(), builders=parse_builders(["Maren Oltwick"]))
    page = Path(__file__).parents[2] / "docs/first-entry.md"
    assert page.read_text("utf-8") == first_entry(wishes, TODAY)


def test_the_zone_that_is_guessed_is_one_that_exists() -> None:
    """Whatever this machine says of its zone, the suggestion can be taken."""
    assert parse_zone(guess_zone()) == guess_zone()


words = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)


@pytest.mark.slow
@settings(deadline=None)
@given(
    aircraft=words.filter(lambda text: text.strip()),
    names=st.lists(words, max_size=3),
    place=words.filter(lambda text: text.strip()),
    titles=st.lists(words, max_size=4),
    watermark=words,
)
def test_whatever_is_typed_makes_a_build_that_reads_back(
    tmp_path_factory: pytest.TempPathFactory,
    aircraft: str,
    names: list[str],
    place: str,
    titles: list[str],
    watermark: str,
) -> None:
    """No answer, however odd, makes a build.yml that the reader objects to or understands otherwise."""
    folder = tmp_path_factory.mktemp("typed") / "b"
    wishes = Wishes(
        aircraft=one_line(aircraft) or "x",
        builders=parse_builders(names),
        place=one_line(place) or "x",
        assemblies=parse_assemblies(titles) or ready_assemblies(),
        watermark=one_line(watermark),
    )
    safe_write.land_folder(plan_build(wishes, TODAY), FOLDERS, folder)
    build, problems = read(folder)
    assert not has_errors(problems), problems
    assert build.aircraft.name == wishes.aircraft
    assert [person.name for person in build.people.values()] == [person.name for person in wishes.named_builders]
    assert tuple(build.assemblies.values()) == wishes.assemblies
    assert build.photo_settings.watermark == wishes.watermark


def test_the_last_line_is_the_one_thing_to_do_next(tmp_path: Path) -> None:
    """Whoever reads nothing else finds the way into the folder and to the first entry."""
    result = CliRunner().invoke(main, ["begin", str(tmp_path / "tarn"), "--yes"])
    last = result.output.strip().split("\n")[-1]
    assert last.startswith(f"Next: `cd {tmp_path / 'tarn'}`, then `journal enter`")
    assert "Still to be written, when you find the time: the builders' names" in result.output


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["entr"], 'there is no command "entr"; did you mean "enter"?'),
        (["begin"], "Name the folder to be made, like: journal begin tarn"),
        (["check"], "no build folder here, but there is one below: cd tarn"),
    ],
)
def test_a_slip_of_the_first_hour_is_answered(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], words: str
) -> None:
    """A mistyped command, a missing name and the folder above the build."""
    (tmp_path / "tarn/content").mkdir(parents=True)
    (tmp_path / "tarn/content/build.yml").touch()
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(main, arguments)
    assert (result.exit_code, words in result.output) == (2, True), result.output


def test_every_word_and_every_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, pytestconfig: pytest.Config
) -> None:
    """Questions, answers and slips, and each file that comes of them; `--rewrite-goldens` accepts a change."""
    golden, told = Path(__file__).with_name("begin.golden.txt"), []
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1770480000")  # 2026-02-07T16:00:00Z
    monkeypatch.setattr("journal.commands.intake.begin.guess_zone", lambda: "")
    monkeypatch.setattr("journal.commands.intake.begin.installed_from", lambda: "build-journal==1")
    monkeypatch.chdir(tmp_path)
    (tmp_path / "manual.csv").write_text(
        "Section;Nr;What  is it;Same\nFlaps;5.1;Deburr;\nfloats;5.2;Fit;5.9\nFlaps;5.1;Twice;\n;5.3;;\n", "utf-8"
    )
    (tmp_path / "sound.csv").write_text("Section,Nr,What  is it\nFlaps,5.1,Deburr\nfloats,5.2,Fit\n", "utf-8")
    mapped = [word for one in ("Section=assembly", "Nr=step", "What is it=title") for word in ("--map", one)]
    asked = ["", "Maren Oltwick, Maren Harstvell, Maren Oltwick", "Maren", "", "", "Europe/Zurch", "", "", ""]
    asked += ["shoulder", "MID", "", "two floats", "floats", "", "-", "tarn.example", "https://tarn.example"]
    asked += ["nowhere.csv", "manual.csv", "'sound.csv'", ""]
    every = ["--aircraft", "Fen", "--kind", "two seats", "--builder", "Ada=A", "--begun", "2026-01-10", "--zone"]
    every += ["Europe/Zurich", "--place", "Shed", "--assembly", "Floats", "--assembly", "flaps", "--wing", "high"]
    every += ["--watermark", "Fen", "--site-url", "https://fen.example/j", "--steps", "sound.csv", "--ci", *mapped]
    for words, typed in (
        (["the-tarn_2", *mapped, "--map", "Same=same_as"], asked),
        (["fen", "--yes", *every], []),
        (["bare", "--yes"], []),
        (["bare", "--yes"], []),
        (["odd", "--yes", "--steps", "manual.csv", *mapped], []),
        (["odd", "--yes", "--tail", "none"], []),
        (["odd", "--from-archive", "gone"], []),
        (["--help"], []),
    ):
        made = run("begin", *words, input="\n".join(typed) + "\n" if typed else None)
        told.append(f"$ journal begin {' '.join(words)}\n{made.output}[{made.exit_code}]")
    made_files = sorted(path for path in tmp_path.rglob("*") if path.is_file() and path.suffix != ".csv")
    told += [f"== {path.relative_to(tmp_path)}\n{path.read_text('utf-8')}" for path in made_files]
    told += [path.read_text("utf-8") for path in sorted(tmp_path.glob("*/content/steps.csv"))]
    text = "\n".join(told) + "\n"
    if pytestconfig.getoption("--rewrite-goldens"):
        golden.write_text(text, "utf-8", newline="\n")
    assert text == golden.read_text("utf-8")


@pytest.mark.parametrize(
    ("origin", "said"),
    [
        (None, "build-journal==1.2"),
        ('{"url": "file:///x", "dir_info": {}}', "build-journal==1.2"),
        (
            '{"url": "https://forge.example/j", "vcs_info": {"vcs": "git", "commit_id": "c0ffee"}}',
            "git+https://forge.example/j@c0ffee",
        ),
    ],
)
def test_a_workflow_names_the_program_that_made_it(
    monkeypatch: pytest.MonkeyPatch, origin: str | None, said: str
) -> None:
    """What pip installed it from (PEP 610), else its version; its name alone where pip knows nothing of it."""
    known = SimpleNamespace(version="1.2", read_text={"direct_url.json": origin}.get)
    monkeypatch.setattr("importlib.metadata.distribution", {"build-journal": known}.__getitem__)
    assert installed_from() == said

    def unknown(name: str) -> None:
        raise PackageNotFoundError

    monkeypatch.setattr("importlib.metadata.distribution", unknown)
    assert installed_from() == "build-journal"
