"""`formerly`: what was renamed keeps its old address, as a page that leads on."""

from __future__ import annotations

import re

import pytest
from making import BUILD_YML, STEPS_CSV, MakeBuild, entry, read

from journal.base.problems import render_problem

LOOK = "---\ndate: 2026-03-14\nassembly: flaps\ninspector: insp\noutcome: passed\nformerly: {}\n---\nSeen.\n"
TAIL = "\n---\n\nWords.\n"


def test_every_kind_of_page_tells_its_former_names(make_build: MakeBuild) -> None:
    """One name or a list, the newest first; in steps.csv parted by a semicolon or a comma."""
    files = {
        "entries/a/index.md": entry("formerly: [before, first]"),
        "inspections/look/index.md": LOOK.format("looked"),
        "measurements/m/index.md": LOOK.format("[m1]")
        .replace("inspector", "measured_by")
        .replace("outcome: passed", "results: [{what: gap, value: 1 mm}]"),
        "pages/about.md": "---\nformerly: [who, us]" + TAIL,
        "build.yml": BUILD_YML.replace("planned_hours: 60}", "planned_hours: 60, formerly: flap}"),
        "steps.csv": STEPS_CSV.replace("page,closes", "page,closes,formerly").replace(",5-1,", ",5-1,,5.0; 5-A"),
    }
    build, problems = read(make_build(files))
    assert [render_problem(one) for one in problems] == []
    named = (build.entries[0], build.inspections[0], build.measurements[0], build.pages[0])
    assert [one.formerly for one in named] == [("before", "first"), ("looked",), ("m1",), ("who", "us")]
    assert build.assemblies["flaps"].formerly == ("flap",)
    assert build.steps["5.1"].formerly == ("5.0", "5-A")


@pytest.mark.parametrize(
    ("files", "told"),
    [
        (
            {"entries/a/index.md": entry("formerly: B"), "entries/b/index.md": entry("hours: 2:00")},
            'entries/a/index.md:2:1: "B" cannot be a former name: "b" has its address today',
        ),
        (
            {"entries/a/index.md": entry("formerly: x y"), "entries/b/index.md": entry("formerly: [w, x-y]")},
            'entries/b/index.md:2:1: "x-y" is a former name of "a" as well',
        ),
        (
            {"entries/a/index.md": entry("formerly: b"), "entries/b/index.md": entry("draft: true")},
            'entries/a/index.md:2:1: "b" cannot be a former name: "b" has its address today',
        ),
        (
            {"steps.csv": STEPS_CSV.replace("page,closes", "page,closes,formerly").replace(",5-1,", ",5-1,,5.2")},
            'steps.csv:2:32: row 1, column "formerly": "5.2" cannot be a former name: "5.2" has its address today',
        ),
        (
            {"build.yml": BUILD_YML.replace("planned_hours: 60}", "formerly: workshop}")},
            'build.yml:14:25: "workshop" cannot be a former name: "workshop" has its address today',
        ),
        (
            {"pages/a.md": "---\nformerly: a" + TAIL},
            'pages/a.md: "a" cannot be a former name: "a" has its address today',
        ),
    ],
)
def test_a_former_name_leads_to_one_page(make_build: MakeBuild, files: dict[str, str], told: str) -> None:
    """A name that something goes by today, or that two claim, is an error where it stands."""
    _, problems = read(make_build(files))
    errors = [render_problem(one) for one in problems if one.word == "former-name"]
    assert [re.sub("; .*", "", one) for one in errors] == [f"content/{told}"]


def test_a_step_that_was_renamed_is_told_by_its_new_name(make_build: MakeBuild) -> None:
    """The old ID in an entry stays an error; its hint and its mend say what the step is called now."""
    steps = STEPS_CSV.replace("page,closes", "page,closes,formerly").replace(
        "5.1,Deburr the ribs,5-1,", "5.1a,Deburr,5-1,,5.1"
    )
    _, problems = read(make_build({"steps.csv": steps, "entries/a/index.md": entry("steps: [5.1]")}))
    (problem,) = problems
    assert (problem.word, problem.hint, problem.mend) == ("unknown-step", 'it is called "5.1a" now', ("5.1", "5.1a"))
