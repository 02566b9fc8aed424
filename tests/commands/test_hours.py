"""`journal hours`: every line of it, and its JSON."""

from __future__ import annotations

import json

from click.testing import CliRunner
from making import BUILD_YML, MakeBuild, entry

from journal.commands.main import main

FILES = {
    "entries/a/index.md": entry("steps: [5.1]\nhours: {ada: 3:15, bo: 1:00}"),
    "entries/b/index.md": entry("date: 2026-03-01\nassembly: workshop\nhours: {hanne: 0:45}"),
    "entries/c/index.md": entry("date: 2026-03-02\nassembly: left-wing\nhours: {ada: 2:00}\nprivate: true"),
}


def test_where_the_hours_went(make_build: MakeBuild) -> None:
    """By assembly with its plan and steps, by month, by person with the full name, then in all."""
    result = CliRunner().invoke(main, ["hours", "--build", str(make_build(FILES))])
    assert result.exit_code == 0
    assert result.output == (
        "Assembly                    Hours  Planned  Steps done\n"
        "Workshop (kept apart)      45 min                     \n"
        "Flaps                  4 h 15 min     60 h      1 of 4\n"
        "Left wing                     2 h    200 h      0 of 3\n\n"
        "Month               Hours\nFebruary 2026  4 h 15 min\nMarch 2026            2 h\n\n"
        "Person              Hours\nAda Bergstrom  5 h 15 min\nBo Lindqvist          1 h\n\n"
        "Hours to date: 6 h 15 min (person-hours) on 3 days; sessions lasted 5 h 15 min.\nKept apart: 45 min.\n"
    )


def test_names_are_told_as_they_are_written(make_build: MakeBuild) -> None:
    """Whatever signs they hold, and figures without colour; in JSON as text, not as escapes."""
    terms = BUILD_YML.replace("flaps: {title: Flaps", "flügel: {title: '[red]12[/red]'")
    path, text = "entries/a/index.md", entry("assembly: flügel")
    root = make_build({"build.yml": terms, "steps.csv": None, path: text})
    shown = CliRunner().invoke(main, ["hours", "--build", str(root)], env={"FORCE_COLOR": "1"})
    assert "\n[red]12[/red]  " in shown.output
    assert "\nHours to date: 2 h (person-hours) on 1 day; sessions lasted 1 h.\n" in shown.output
    assert '"flügel": 120' in CliRunner().invoke(main, ["hours", "--json", "--build", str(root)]).output


def test_hours_as_json(make_build: MakeBuild) -> None:
    """Whole minutes, by ID (docs/format.md)."""
    result = CliRunner().invoke(main, ["hours", "--json", "--build", str(make_build(FILES))])
    assert result.exit_code == 0
    assert json.loads(result.output) == {
        "minutes": 375,
        "minutes_not_counted": 45,
        "minutes_elapsed": 315,
        "days": 3,
        "by_assembly": {"workshop": 45, "flaps": 255, "left-wing": 120},
        "by_person": {"ada": 315, "bo": 60},
        "by_month": {"2026-02": 255, "2026-03": 120},
    }
    assert result.output.startswith('{\n  "minutes": 375,\n')


def test_hours_of_a_build_with_errors(make_build: MakeBuild) -> None:
    """What can be read is told, and that it is not all; exit code 1."""
    root = make_build({**FILES, "entries/d/index.md": entry("assembly: flapz"), "entries/b/index.md": None})
    result = CliRunner().invoke(main, ["hours", "--build", str(root)])
    assert result.exit_code == 1
    assert "Kept apart" not in result.output
    assert result.output.endswith(
        "1 error in the content: entries that could not be read are not counted; see `journal check`.\n"
    )
