"""How commands tell what is wrong and what is missing: `check` all of it, the others the newest."""

from __future__ import annotations

import json
import re
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner, Result
from making import BUILD_YML, MakeBuild, entry, read

from journal.base.problems import Problem, error, finding
from journal.commands.main import main
from journal.commands.telling import day_of, folder_days, tell_problems

HINT = "put a picture into the entry's folder, or name the step at the picture that shows it"


def gap(number: int, word: str = "no-photo", hint: str = HINT) -> Problem:
    """A finding on the entry of the day so many days after New Year 2026."""
    day = date(2026, 1, 1) + timedelta(days=number)
    return finding(f"content/entries/{day.isoformat()}-work/index.md", (4, 1), word, f"message {number}", hint)


def told(capsys: pytest.CaptureFixture[str], problems: list[Problem], **how: Any) -> list[str]:
    """The lines that are printed."""
    tell_problems(problems, {}, **how)
    return capsys.readouterr().out.splitlines()


def run(root: Path, *arguments: str) -> Result:
    """A command on a build folder."""
    return CliRunner().invoke(main, [arguments[0], "--build", str(root), *arguments[1:]])


@pytest.fixture
def untidy(make_build: MakeBuild) -> Path:
    """Six entries of February and March 2026, five of which finish a step that no picture shows."""
    files = {
        f"entries/2026-0{month}-0{day}-work/index.md": entry(
            f"date: 2026-0{month}-0{day}\nsteps: [5.{day}]\nplace: home"
        )
        for month in (2, 3)
        for day in (1, 2, 3)
    }
    return make_build(files)


def test_errors_stand_in_full_before_everything(capsys: pytest.CaptureFixture[str]) -> None:
    """However many findings there are, each error has its own line with hint and code word."""
    wrong = error("content/build.yml", (3, 2), "unknown-key", 'unknown key "zoen"', 'did you mean "zone"?')
    for everything in (False, True):
        lines = told(capsys, [*map(gap, range(40)), wrong], all_findings=everything)
        assert lines[0] == ('content/build.yml:3:2: unknown key "zoen"; did you mean "zone"? [error unknown-key]')
        assert sum("[error" in line for line in lines) == 1


def test_a_summary_counts_kinds_and_tells_the_newest(capsys: pytest.CaptureFixture[str]) -> None:
    """Kinds by how many there are, three findings by the day of their entry, and where all are listed."""
    lines = told(capsys, [*map(gap, range(1000)), *(gap(number, "no-text") for number in range(20))])
    assert lines == [
        "1,020 findings; `journal check` lists them all, with how to mend them:",
        "  1,000  no-photo",
        "     20  no-text",
        "The newest:",
        "  content/entries/2028-09-26-work/index.md:4:1: message 999 [no-photo]",
        "  content/entries/2028-09-25-work/index.md:4:1: message 998 [no-photo]",
        "  content/entries/2028-09-24-work/index.md:4:1: message 997 [no-photo]",
    ]


def test_a_summary_stays_on_one_screen(capsys: pytest.CaptureFixture[str]) -> None:
    """Of forty kinds twelve are counted one by one, the others together."""
    lines = told(capsys, [gap(number, f"kind-{number % 40}") for number in range(1000)])
    assert len(lines) <= 20
    assert "  700  of 28 other kinds" in lines


def test_few_findings_stand_in_full(capsys: pytest.CaptureFixture[str]) -> None:
    """Up to three findings are told as they are, with how to mend them."""
    lines = told(capsys, [gap(1), gap(2), finding("content/tasks.csv", None, "task-no-photo", "no picture")])
    assert lines == [
        f"content/entries/2026-01-03-work/index.md:4:1: message 2; {HINT} [finding no-photo]",
        f"content/entries/2026-01-02-work/index.md:4:1: message 1; {HINT} [finding no-photo]",
        "content/tasks.csv: no picture [finding task-no-photo]",
    ]


def test_what_only_the_making_shows_is_told_in_full(capsys: pytest.CaptureFixture[str]) -> None:
    """`journal check` cannot list it, so a summary that names the newest would keep it to itself."""
    late = gap(0, "photo-unreadable", "put a good copy in its place")
    lines = told(capsys, [*map(gap, range(1, 9)), late], late=[late])
    assert lines[0].endswith("message 0; put a good copy in its place [finding photo-unreadable]")
    assert "  1  photo-unreadable" in lines


def test_a_list_goes_by_kind_and_says_a_long_hint_once(capsys: pytest.CaptureFixture[str]) -> None:
    """The commonest kind first, the newest first within it; a short hint stays behind its finding."""
    short = [gap(number, "no-place", "add a place") for number in (4, 5)]
    lines = told(capsys, [gap(1), gap(3), gap(2), *short], all_findings=True)
    assert lines == [
        "no-photo: 3 findings",
        f"  To mend: {HINT}",
        "content/entries/2026-01-04-work/index.md:4:1: message 3",
        "content/entries/2026-01-03-work/index.md:4:1: message 2",
        "content/entries/2026-01-02-work/index.md:4:1: message 1",
        "",
        "no-place: 2 findings",
        "content/entries/2026-01-06-work/index.md:4:1: message 5; add a place",
        "content/entries/2026-01-05-work/index.md:4:1: message 4; add a place",
    ]


def test_findings_stand_under_the_hint_that_they_share(capsys: pytest.CaptureFixture[str]) -> None:
    """Two ways to mend one kind: each finding is under its own, and those with a short hint come first."""
    other = f"{HINT}, once it is there"
    hints = [HINT, other, "add one", HINT, other]
    lines = told(capsys, [gap(number, hint=hint) for number, hint in enumerate(hints)], all_findings=True)
    assert [line.split("message ")[-1] for line in lines[1:]] == [
        "2; add one",
        f"  To mend: {other}",
        *"41",
        f"  To mend: {HINT}",
        *"30",
    ]


def test_hints_that_differ_stay_with_their_findings(capsys: pytest.CaptureFixture[str]) -> None:
    """A long hint of one finding among others of its kind cannot stand above them all."""
    other = f"{HINT}, once it is there"
    lines = told(capsys, [gap(1), gap(2, hint=other)], all_findings=True)
    assert lines[1:] == [
        f"content/entries/2026-01-03-work/index.md:4:1: message 2; {other}",
        f"content/entries/2026-01-02-work/index.md:4:1: message 1; {HINT}",
    ]


def test_the_day_of_a_problem(make_build: MakeBuild) -> None:
    """That of the entry, else that in the folder's name; other files have none."""
    root = make_build({"entries/flap-work/index.md": entry("date: 2026-02-09")})
    days = folder_days(read(root)[0])
    assert day_of(finding("content/entries/flap-work/index.md", None, "w", "m"), days) == date(2026, 2, 9)
    assert day_of(gap(3), days) == date(2026, 1, 4)
    assert day_of(finding("content/tasks.csv", None, "w", "m"), days) is None


def test_check_lists_all_and_filters(untidy: Path) -> None:
    """--kind, --entry and --since choose what is listed; the last line says of how much."""
    everything = run(untidy, "check")
    assert everything.exit_code == 0
    assert re.search(r"^no-photo: \d findings$", everything.output, re.MULTILINE)
    one = run(untidy, "check", "--kind", "step-twice", "--since", "2026-03-02")
    assert [line[:37] for line in one.output.splitlines() if line.startswith("content/")] == [
        "content/entries/2026-03-03-work/index",
        "content/entries/2026-03-02-work/index",
    ]
    assert "; 2 listed." in one.output
    for name in ("2026-03-01-work", "content/entries/2026-03-01-work/", "2026-03-01-work/index.md"):
        here = run(untidy, "check", "--entry", name)
        places = [line for line in here.output.splitlines() if line.startswith("content/")]
        assert places
        assert all(line.startswith("content/entries/2026-03-01-work/") for line in places)


def test_filters_go_for_json_and_strict_too(untidy: Path) -> None:
    """The rows keep their shape; --strict fails where something is listed."""
    rows = json.loads(run(untidy, "check", "--json", "--kind", "no-photo").output)
    assert {row["word"] for row in rows} == {"no-photo"}
    assert list(rows[0]) == ["file", "line", "column", "grade", "word", "message", "hint"]
    whole = json.loads(run(untidy, "check", "--json").output)
    assert [row for row in whole if row["word"] == "no-photo"] == rows
    assert run(untidy, "check", "--strict", "--kind", "no-photo").exit_code == 1
    assert run(untidy, "check", "--strict", "--since", "2030").exit_code == 0


def test_an_error_left_out_of_the_list_still_fails(untidy: Path) -> None:
    """Exit code 1 means that the content has errors, whatever is listed."""
    (untidy / "content/entries/2026-02-01-work/index.md").write_text(entry("assembly: flapz"), "utf-8")
    result = run(untidy, "check", "--since", "2026-03-01")
    assert result.exit_code == 1
    assert "[error" not in result.output
    assert "1 error," in result.output


def test_a_filter_that_names_nothing_is_told(untidy: Path) -> None:
    """A folder that is not there is wrong use; a kind that was not found is only said."""
    result = run(untidy, "check", "--entry", "2026-02-01-wrok")
    assert result.exit_code == 2
    assert 'did you mean "2026-02-01-work"?' in " ".join(result.output.split())
    result = run(untidy, "check", "--kind", "no-foto")
    assert result.exit_code == 0
    assert 'Nothing of the kind "no-foto" was found; did you mean "no-photo"?' in result.output


def test_check_tells_what_a_site_would(untidy: Path) -> None:
    """A missing site_url, letters that the watermark's typeface lacks, settings that cannot be used."""
    (untidy / "content/build.yml").write_text(BUILD_YML + "photos: {watermark: \u98db}\n", "utf-8")
    settings = untidy / "mkdocs.yml"
    settings.write_text("site_name: T\ndocs_dir: content\ntheme: {name: material}\nplugins: [journal]\n", "utf-8")
    output = run(untidy, "check").output
    assert "mkdocs.yml: site_url is missing" in output
    assert "watermark-letters: 1 finding" in output
    settings.write_text("site_name: T\ndocs_dir: content\ntheme: {name: material}\nplugins: []\n", "utf-8")
    assert "mkdocs.yml: no site can be made: the list of plugins lacks `journal`" in run(untidy, "check").output
    settings.unlink()
    assert "mkdocs.yml" not in run(untidy, "check").output


def test_site_tells_the_newest_at_its_end(untidy: Path) -> None:
    """One summary after the making, then where the site is; --strict makes none."""
    (untidy / "mkdocs.yml").write_text(
        "site_name: T\nsite_url: https://t.example/\ndocs_dir: content\n"
        "theme: {name: material, font: false}\nplugins: [journal]\n",
        "utf-8",
    )
    refused = run(untidy, "site", "--strict")
    assert (refused.exit_code, (untidy / "site").exists()) == (1, False)
    assert "The newest:" in refused.output
    assert "No site was made: 0 errors, " in refused.output
    made = run(untidy, "site")
    assert made.exit_code == 0
    lines = made.output.splitlines()
    assert re.fullmatch(r"\d+ findings; `journal check` lists them all, with how to mend them:", lines[0])
    assert "The newest:" in lines
    assert lines[-1].startswith("The site is in ")


@pytest.mark.parametrize(("no_color", "coloured"), [("", True), ("1", False)])
def test_no_color_is_heeded(untidy: Path, no_color: str, coloured: bool) -> None:
    """Words of a grade are coloured on a terminal, but not with NO_COLOR (no-color.org)."""
    runner = CliRunner(env={"NO_COLOR": no_color})
    output = runner.invoke(main, ["check", "--build", str(untidy)], color=True).output
    assert ("\x1b[" in output) is coloured


@pytest.mark.parametrize("columns", [60, 80, 120])
def test_a_terminal_breaks_between_words(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, columns: int
) -> None:
    """No line is wider than the terminal, further lines are set in, and not one word is lost."""
    wrong = error("content/build.yml", (3, 2), "unknown-key", f"there is no such key {'here ' * 8}", HINT)
    findings = [wrong, gap(1), gap(2), gap(3), gap(4, "no-text", "write a sentence")]
    plain = {everything: told(capsys, findings, all_findings=everything) for everything in (True, False)}
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    monkeypatch.setenv("COLUMNS", str(columns))
    for everything, lines in plain.items():
        broken = [click.unstyle(line) for line in told(capsys, findings, all_findings=everything)]
        assert max(map(len, broken)) <= columns
        assert " ".join(broken).split() == " ".join(lines).split()
        assert len(broken) > len(lines)
