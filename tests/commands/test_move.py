"""`journal move`, `journal undo`: what is renamed, split and joined keeps every total and every byte not named."""

from __future__ import annotations

import os
import random
import re
import shutil
import signal
import subprocess
import sys
from dataclasses import fields, is_dataclass
from datetime import date
from difflib import unified_diff
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from cameras import photo_bytes
from click.testing import CliRunner, Result
from making import BUILD_YML, STEPS_CSV, MakeBuild, entry, slow_rows

from journal.base.model import Build
from journal.commands.main import main
from journal.commands.moving.plan import Move, NotMovedError, held, read_named, totals
from journal.commands.written import WrittenList
from journal.ledger.journal import open_journal
from journal.ledger.links import check_links
from journal.reading.closing import listed_in, references
from journal.reading.text import Naming
from journal.view.view import Audience, open_view

TEXTS: dict[str, Any] = {
    "build.yml": BUILD_YML.encode().replace(b"\n", b"\r\n"),
    "steps.csv": STEPS_CSV.replace("closes\n", "closes,same_as\n").replace("5-3,\n", '"5-3, or\n5-4",,7.2\n'),
    "callouts.csv": "step;what;part;value;page;edition\n5.1 to 5.3;torque;AN4;62 in-lb;5-3;B\n"
    "7.10;gap;;max 0.02 in;7-9;B\n",
    "tasks.csv": 'section,task,name,maker,paid,assembly,fabrication,steps,note\nA,1,Ribs,0,0,5,5,"5.1, 5.3; 7.10",\n',
    "costs.csv": "date,assembly,what,amount,currency\n2026-02-07,flaps,rivets,12.50,EUR\n",
    "bulletins.csv": "id,date,title,concerns,state,done_in\n"
    "SB-1,2026-01-20,Hinge,flaps,done,2026-02-07-flaps\nSB-2,2026-01-21,Spar,7.1; 7.2,open,\n",
    "aircraft.svg": '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><path data-assembly="flaps" d="M0 0h9"/>'
    "<path data-assembly='left-wing' d=\"M0 0v9\"/></svg>",
    "entries/2026-02-07-flaps/index.md": entry(
        "title: Ribs\nsteps: [5.1 to 5.2, '5.3']\npeople: Ada and bo\n"
        "hours: {Ada: [18:30-20:00, 0:30], bo: 1:15}\nplace: home\n"
        "tools: [reamer]   # a good one\nfasteners:\n- {rivet: AN470AD4-5, count: 4, step: 5.3, checked_by: bo}\n"
        "- {rivet: AN470AD4-6, count: 2, step: 5.1}\nphotos:\n"
        '  A.jpg: {caption: Rib, step: 5.1, people: [ada], inside: 5.4}   # 18:40\n  B.jpg: "Spar"\n  c.jpg: ""',
        "First words.\n\n![Rib](A.jpg) and [the wing](../2026-02-08-wing/index.md#x).\n\n"
        "Then the spar.\n\n![Spar](B.jpg)\n\n"
        "!!! private\n    ![](c.jpg)\n    Not for all.",
    ),
    "entries/2026-02-07-flaps/A.jpg": photo_bytes(shade=1),
    "entries/2026-02-07-flaps/B.jpg": photo_bytes(shade=2),
    "entries/2026-02-07-flaps/c.jpg": photo_bytes(shade=3),
    "entries/2026-02-07-again/index.md": entry(
        "title: Again\nhours: 0:45\nbegun: 5.4\nplace: home\nmethods: [dimpling]\n"
        "# adopted: 0123456789abcdef\nphotos:\n- A.jpg: Hinge",
        "A second session.\n\nSee ![the hinge](A.jpg).",
    ).replace("\n", "\r\n"),
    "entries/2026-02-07-again/A.jpg": photo_bytes(shade=4),
    "entries/2026/2026-02-08-wing/index.md": entry(
        "title: Wing\ndate: 2026-02-08\nassembly: Left wing\nhours: {ada: '20:00-1:15'}\n"
        "steps: 7.1, step 7.2\nplace: hangar\n"
        "torque:\n  - bolt: AN4-10A\n    value: 62 in-lb\n    step: 7.1\n"
        "    checked_by: [bo]\n    drilled_out: 2026-02-07-flaps",
        "Back to [the flaps](../../2026-02-07-flaps/index.md) and [its rib](../../2026-02-07-flaps/A.jpg).",
    ),
    "entries/2026-02-09-draft/index.md": entry(
        "title: ''\ndate: 2026-02-09\ndraft: true\nhours: ''\npeople: [ada]\n# clock: ada since 2026-02-09 18:30"
    ),
    "entries/2026-02-10-quiet/index.md": entry(
        "title: Quiet\ndate: 2026-02-10\nprivate: true\nhours: 2:00\nplace: home"
    ),
    "inspections/2026-02-20-flap/index.md": "---\ndate: 2026-02-20\nassembly: flaps\nsteps: [5.4]\ninspector: insp\n"
    "outcome: passed with findings\nfindings:\n- {id: F1, text: A burr, closed_on: 2026-02-21, "
    "closed_by: 2026-02-07-flaps, "
    "signed_by: ada, checked_by: [insp]}\n---\nLooked at.\n",
    "measurements/2026-02-22-leak/index.md": "---\ntitle: Leak\ndate: 2026-02-22\nsteps: [7.10]\nkind: leak test\n"
    "measured_by: ada\nchecked_by: [bo]\nresults:\n- {what: leak test, value: none}\n---\nDry.\n",
    "pages/about.md": "---\ntitle: About\n---\n[First](../entries/2026-02-07-flaps/index.md) "
    "![](../entries/2026-02-07-flaps/B.jpg)\n",
}


@pytest.fixture
def root(make_build: MakeBuild) -> Path:
    """A small build in which everything is named by something, in many forms."""
    return make_build(TEXTS)


def run(root: Path, *words: str, answers: str = "") -> Result:
    """A command in the build."""
    return CliRunner().invoke(main, [words[0], *words[1:], "--build", str(root)], input=answers)


def move(root: Path, *words: str) -> str:
    """A move that is done; what it said."""
    result = run(root, "move", *words)
    assert result.exit_code == 0, result.output
    return result.output


def contents(root: Path) -> dict[str, bytes]:
    """Every file under content/."""
    files = (path for path in (root / "content").rglob("*") if path.is_file())
    return {path.relative_to(root).as_posix(): path.read_bytes() for path in files}


def told(root: Path, file: str) -> str:
    """The text of a file below content/."""
    return (root / "content" / file).read_bytes().decode()


def named_in(build: Any, found: set[tuple[str, str]]) -> None:
    """Gather (list, ID) of every reference that the records of a build hold."""
    for reference in references(type(build)):
        value = getattr(build, reference.field)
        found.update((reference.listed, one) for one in (value if isinstance(value, tuple) else (value,)) if one)
    for field in fields(build):
        value = getattr(build, field.name)
        for one in (*value.values(),) if hasattr(value, "values") else value if isinstance(value, tuple) else (value,):
            if is_dataclass(one) and not isinstance(one, type):
                named_in(one, found)


KIND_OF = {"people": "person", "places": "place", "assemblies": "assembly", "steps": "step", "materials": "material"}


@pytest.mark.parametrize("folder", ["made", "tests/builds/first-weeks", "."])
def test_every_reference_is_seen_where_it_is_read(root: Path, folder: str, pytestconfig: pytest.Config) -> None:
    """Law: what a record refers to stands in the list of what its file names; a new field cannot be forgotten."""
    of = read_named(root if folder == "made" else pytestconfig.rootpath / folder)
    found: set[tuple[str, str]] = set()
    named_in(of.build, found)
    seen = {(one.kind, one.id) for namings in of.named.values() for one in namings}
    usual = {("people", one) for one in of.build.people} | {("places", one) for one in of.build.places}
    assert {(KIND_OF.get(listed, "entry"), one) for listed, one in found - usual} <= seen
    assert {listed for listed, _ in found} <= {*listed_in(Build(aircraft=of.build.aircraft))}
    for file, namings in of.named.items():
        lines = (of.root / file).read_text("utf-8").split("\n")
        for one in namings:
            assert isinstance(one, Naming)
            assert one.where[0] <= len(lines)


@pytest.mark.parametrize(
    ("kind", "old", "new"),
    [
        ("assembly", "left-wing", "lw"),
        ("person", "bo", "bodil"),
        ("person", "insp", "ines"),
        ("place", "hangar", "h2"),
        ("step", "5.1", "5.10"),
        ("step", "7.10", "W-10"),
        *slow_rows(
            ("assembly", "flaps", "wing-flaps"),
            ("person", "ada", "a.b"),
            ("place", "home", "garage"),
            ("step", "5.3", "6.1"),
            ("step", "7.1", "7.11"),
        ),
    ],
)
def test_an_id_is_renamed_wherever_it_is_named(root: Path, kind: str, old: str, new: str) -> None:
    """No file names the old one afterwards but as a former name; undo gives back every byte."""
    before = contents(root)
    errors, findings = (
        sum(one.grade.value == grade for one in read_named(root).problems) for grade in ("error", "finding")
    )
    move(root, kind, old, new)
    after = read_named(root)
    seen = {(one.kind, one.id) for namings in after.named.values() for one in namings}
    assert (kind, old) not in seen
    assert (kind, new) in seen
    assert not errors
    assert sum(one.grade.value == "finding" for one in after.problems) == findings
    if kind in ("assembly", "step"):
        record = (after.build.assemblies if kind == "assembly" else after.build.steps)[new]
        assert record.formerly == (old,)  # type: ignore[attr-defined]
    if kind == "assembly":
        assert f'data-assembly="{old}"' not in told(root, "aircraft.svg").replace("'", '"')
    if kind == "person" and old == "ada":
        assert "# clock: a.b since" in told(root, "entries/2026-02-09-draft/index.md")
    run(root, "undo")
    assert contents(root) == before


def test_an_entry_is_renamed_with_all_that_leads_to_it(root: Path) -> None:
    """Links, pictures of a page, findings, bulletins, rivets that were drilled out; its address leads on."""
    broken = [one.word for one in check_links(read_named(root).build)]
    move(root, "entry", "2026-02-07-flaps", "2026-02-07-ribs")
    assert "closed_by: 2026-02-07-ribs" in told(root, "inspections/2026-02-20-flap/index.md")
    assert "done,2026-02-07-ribs" in told(root, "bulletins.csv")
    wing = told(root, "entries/2026/2026-02-08-wing/index.md")
    assert "drilled_out: 2026-02-07-ribs" in wing
    assert "(../../2026-02-07-ribs/index.md) and [its rib](../../2026-02-07-ribs/A.jpg)" in wing
    assert "../entries/2026-02-07-ribs/B.jpg" in told(root, "pages/about.md")
    assert 'formerly: "2026-02-07-flaps"\n' in told(root, "entries/2026-02-07-ribs/index.md")
    assert [one.word for one in check_links(read_named(root).build)] == broken
    move(root, "entry", "2026-02-07-ribs", "2026-02-07-ribs-of-the-flap")
    assert 'formerly: ["2026-02-07-ribs", "2026-02-07-flaps"]\n' in told(
        root, "entries/2026-02-07-ribs-of-the-flap/index.md"
    )


def test_a_picture_goes_to_another_entry_with_what_is_said_of_it(root: Path) -> None:
    """Its place in the text becomes a link; what was private stays private."""
    move(root, "picture", "2026-02-07-flaps/A.jpg", "2026-02-08-wing/rib 4.jpg")
    flaps, wing = told(root, "entries/2026-02-07-flaps/index.md"), told(root, "entries/2026/2026-02-08-wing/index.md")
    assert "[Rib](../2026/2026-02-08-wing/rib%204.jpg) and [the wing]" in flaps
    assert "A.jpg" not in flaps
    assert "rib 4.jpg: {caption: Rib, step: 5.1, people: [ada], inside: 5.4}" in wing
    assert "[its rib](rib%204.jpg)" in wing
    move(root, "picture", "2026-02-07-flaps/c.jpg", "2026-02-08-wing")
    build = read_named(root).build
    photos = {photo.name: photo for one in build.entries for photo in one.photos}
    assert photos["c.jpg"].private
    assert not photos["rib 4.jpg"].private


def test_a_picture_or_film_takes_along_how_it_is_shown(root: Path) -> None:
    """What is hidden stays hidden; a film keeps its cut and its step."""
    flaps = root / "content/entries/2026-02-07-flaps"
    (flaps / "a.mp4").write_bytes(b"")
    cut = "{turn: half, step: 5.1, from: '1:05', to: 70.5, poster: 66, sound: yes}"
    text = (
        (flaps / "index.md")
        .read_text()
        .replace('  B.jpg: "Spar"', f"  B.jpg: {{caption: Spar, {HIDES}}}\n  a.mp4: {cut}")
    )
    (flaps / "index.md").write_text(text)
    before = {item.name: (item.edits, item.step) for one in read_named(root).build.entries for item in held(one)}
    for name in ("B.jpg", "a.mp4"):
        move(root, "picture", f"2026-02-07-flaps/{name}", "2026-02-08-wing")
    wing = told(root, "entries/2026/2026-02-08-wing/index.md")
    assert "B.jpg: {caption: Spar, turn: left, crop: 0.1 0 0.9 1, blur: 0.1 0.2 0.3 0.4; 0.5 0.5 0.6 0.625}" in wing
    assert "step: 5.1, turn: half, from: 65, to: 70.5, poster: 66, sound: true}" in wing
    assert before == {
        item.name: (item.edits, item.step) for one in read_named(root).build.entries for item in held(one)
    }


HIDES = "turn: left, crop: 10% 0 .9 1, blur: [[0.1, 0.2, 0.3, 0.4], [0.5, 0.5, 0.6, 0.625]]"


def test_a_picture_gets_another_name_in_its_entry(root: Path) -> None:
    """In the front matter, in the text and wherever it is shown."""
    move(root, "picture", "2026-02-07-flaps/B.jpg", "spar.jpg")
    flaps = told(root, "entries/2026-02-07-flaps/index.md")
    assert '  spar.jpg: "Spar"\n' in flaps
    assert "![Spar](spar.jpg)" in flaps
    assert "../entries/2026-02-07-flaps/spar.jpg" in told(root, "pages/about.md")


def test_an_entry_is_split(root: Path) -> None:
    """Steps with their rivets, pictures, words and hours go; all that there was is there once."""
    before = totals(read_named(root).build)
    refused = run(root, "move", "split", "2026-02-07-flaps", "--title", "Spar", "--step", "5.3")
    assert refused.exit_code == 2
    assert "Say how the hours divide (ada 2 h, bo 1 h 15 min)" in refused.output
    options = (
        "--title",
        "The spar",
        "--step",
        "5.3",
        "--from",
        "Then the",
        "--hours",
        "ada=1:00",
        "--hours",
        "bo=1:15",
    )
    move(root, "split", "2026-02-07-flaps", *options, "--tool", "reamer")
    old, new = told(root, "entries/2026-02-07-flaps/index.md"), told(root, "entries/2026-02-07-the-spar/index.md")
    assert "hours: [18:30-19:30]" in old or "hours: 18:30-19:30" in old
    assert "people: [ada]" in old
    assert "steps: [5.1, 5.2]" in old
    assert "AN470AD4-6" in old
    assert "AN470AD4-5" in new
    assert "steps: [5.3]" in new
    assert "ada: [19:30-20:00, 0:30]" in new
    assert old.rstrip().endswith("[the wing](../2026/2026-02-08-wing/index.md#x).") or "Then the spar" not in old
    assert "Then the spar.\n\n![Spar](B.jpg)\n\n!!! private\n    ![](c.jpg)\n    Not for all.\n" in new
    assert sorted(path.name for path in (root / "content/entries/2026-02-07-the-spar").iterdir()) == [
        "B.jpg",
        "c.jpg",
        "index.md",
    ]
    assert totals(read_named(root).build) == before


def test_tools_methods_and_materials_go_where_they_are_sent(root: Path) -> None:
    """Each of them from the list of the one entry to that of the other; what is not named stays."""
    text = entry("hours: 1:00\ntools: [reamer, saw]\nmethods: [dimpling]\nmaterials: [M-1, M-2]")
    (root / "content/materials.csv").write_text(
        "id,name,batch,expires,record\nM-1,sealant,,,\nM-2,primer,,,\n", "utf-8"
    )
    (root / "content/entries/2026-02-07-again/index.md").write_text(text, "utf-8")
    options = ("--tool", "saw", "--method", "dimpling", "--material", "M-2")
    move(root, "split", "2026-02-07-again", "--title", "Part", "--hours", "0", *options)
    old, new = told(root, "entries/2026-02-07-again/index.md"), told(root, "entries/2026-02-07-part/index.md")
    for line in ("tools: [reamer]", "materials: [M-1]"):
        assert line in old
    for line in ("tools: [saw]", "methods: [dimpling]", "materials: [M-2]"):
        assert line in new
    assert "methods" not in old


def test_a_move_after_which_a_link_leads_nowhere_is_not_done(root: Path) -> None:
    """Whichever text it stands in."""
    of = Move(read_named(root), "x")
    of.texts["content/pages/about.md"] = told(root, "pages/about.md") + "[gone](../entries/gone/index.md)\n"
    with pytest.raises(NotMovedError, match="a link would lead to nothing afterwards"):
        of.prove()


def test_a_move_after_which_a_file_cannot_be_read_is_not_done(root: Path) -> None:
    """What the reader would object to is said with its mend."""
    of = Move(read_named(root), "x")
    of.texts["content/costs.csv"] = "date,assembly,what,amount,currency\nsoon,flapz,rivets,1,EUR\n"
    said = (
        r'^then content/costs.csv could not be read: .*"soon" is not a date; write year-month-day, like 2026-02-07\.$'
    )
    with pytest.raises(NotMovedError, match=said):
        of.prove()


def test_links_of_a_draft_lead_on_too(root: Path) -> None:
    """Nobody reads them yet, and they are written all the same."""
    draft = root / "content/entries/2026-02-11-note/index.md"
    draft.parent.mkdir()
    draft.write_text(entry("date: 2026-02-11\ndraft: true", "As [then](../2026-02-07-flaps/index.md)."), "utf-8")
    move(root, "entry", "2026-02-07-flaps", "2026-02-07-skins")
    assert "As [then](../2026-02-07-skins/index.md)." in draft.read_text("utf-8")


@pytest.mark.parametrize(("step", "key"), [("5.1", "steps"), ("5.2", "begun"), ("5.3", "redone")])
def test_a_step_goes_in_the_sense_in_which_it_was_told(root: Path, step: str, key: str) -> None:
    """Done, begun or done again; the others stay as they are."""
    said = {"steps": "[5.1]", "begun": "[5.2]", "redone": "[5.3]"}
    lines = [f"{one}: {steps}" for one, steps in said.items()]
    (root / "content/entries/2026-02-07-again/index.md").write_text(entry("\n".join(["hours: 1:00", *lines])), "utf-8")
    move(root, "split", "2026-02-07-again", "--title", "Part", "--hours", "0", "--step", step)
    old, new = told(root, "entries/2026-02-07-again/index.md"), told(root, "entries/2026-02-07-part/index.md")
    for one, line in zip(said, lines, strict=True):
        assert (line in new, line in old) == (one == key, one != key)
        assert (one + ":" in new) is (one == key)


def test_a_move_brings_no_name_into_a_file_that_had_none(root: Path) -> None:
    """What would name more than before is not done, in whatever file."""
    named = str(TEXTS["costs.csv"])
    (root / "content/costs.csv").write_text(named.splitlines()[0] + "\n", "utf-8")
    of = Move(read_named(root), "x")
    of.texts["content/costs.csv"] = named
    with pytest.raises(NotMovedError, match=r"costs\.csv would name something else than now"):
        of.prove()


def test_a_part_of_another_assembly_is_split_off(root: Path) -> None:
    """Its hours go to that assembly; people and days have what they had."""
    before = totals(read_named(root).build)
    said = move(root, "split", "2026-02-07-flaps", "--title", "Spar", "--assembly", "Left wing", "--hours", "0:20")
    assert "left-wing has 40 min more, and every other total stays the same" in said
    after = totals(read_named(root).build)
    assert before - after == {"of flaps": 40}
    assert after - before == {"of left-wing": 40}


def test_two_entries_become_one(root: Path) -> None:
    """Everything of the second stands in the first, its marks among it; what named it names the first."""
    before, files = totals(read_named(root).build), contents(root)
    move(root, "join", "2026-02-07-flaps", "2026-02-07-again")
    text = told(root, "entries/2026-02-07-flaps/index.md")
    assert "hours: {ada: [18:30-20:00, 0:30, 0:45], bo: [1:15, 0:45]}" in text
    for words in ("begun: [5.4]", "methods: [dimpling]", "# adopted: 0123456789abcdef", 'formerly: "2026-02-07-again"'):
        assert words in text
    assert "A-2.jpg: Hinge" in text
    assert "## Again\n\nA second session.\n\nSee ![the hinge](A-2.jpg)." in text
    assert not (root / "content/entries/2026-02-07-again").exists()
    assert totals(read_named(root).build) == before
    run(root, "undo")
    assert contents(root) == files


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("join", "2026-02-07-flaps", "2026-02-08-wing"), "are of different days"),
        (("entry", "2026-02-07-flaps", "2026-02-07-again"), 'There is an entry "2026-02-07-again" already'),
        (("entry", "2026-02-07-flaps", "a: b"), "cannot be the ID"),
        (("entry", "2026-02-07-flaps", "2026-02-07-" + 99 * "x"), "take at most 80 letters"),
        (("entry", "2026-02-07-flop", "x"), 'did you mean "2026-02-07-flaps"?'),
        (("person", "ada", "BO"), 'There is a person "BO" already'),
        (("step", "5.9", "5.8"), 'There is no step "5.9"'),
        (("picture", "2026-02-07-flaps/Z.jpg", "x.jpg"), 'There is no picture "Z.jpg"'),
        (("picture", "A.jpg", "x.jpg"), '"A.jpg" is no picture of an entry; write ENTRY/PICTURE'),
        (("split", "2026-02-07-flaps", "--title", " ", "--hours", "0"), "Say what the new entry is called"),
        (("picture", "2026-02-07-flaps/A.jpg", "x.png"), "keep the ending"),
        (("picture", "2026-02-07-flaps/A.jpg", "b.JPG"), 'There is a file "b.JPG"'),
        (("split", "2026-02-07-flaps", "--title", "X", "--hours", "9:00"), "no more can go"),
        (
            ("split", "2026-02-07-flaps", "--title", "X", "--hours", "0", "--step", "5.4"),
            '"5.4" is not among the steps',
        ),
        (
            ("split", "2026-02-07-flaps", "--title", "X", "--hours", "0", "--tool", "saw"),
            '"saw" is not among the tools',
        ),
        (("split", "2026-02-07-flaps", "--title", "X", "--hours", "0", "--picture", "D.jpg"), 'no picture "D.jpg"'),
        (("split", "2026-02-07-flaps", "--title", "X", "--assembly", "tail"), 'There is no assembly "tail"'),
        (("split", "2026-02-07-flaps", "--title", "X", "--step", "5.9"), 'There is no step "5.9"'),
        (("split", "2026-02-07-flaps", "--title", "X", "--hours", "0", "--from", "Nothing"), "No paragraph begins"),
        (("split", "2026-02-07-flaps", "--title", "X", "--hours", "soon"), '"soon" is not a length of time'),
        (("split", "2026-02-07-flaps", "--title", "X", "--hours", "hanne=1:00"), '"hanne" has no hours in'),
        (("split", "2026-02-07-flaps", "--title", "X", "--hours", "0", "--picture", "Z.jpg"), 'no picture "Z.jpg"'),
        (
            ("split", "2026-02-07-flaps", "--title", "X", "--hours", "0", "--step", "7.1"),
            '"7.1" is not among the steps',
        ),
        (("split", "2026-02-20-flap", "--title", "X", "--hours", "0"), "is no entry; only entries are split"),
        (("entry", "2026-02-07-flaps", "2026-02-07-flaps"), 'It is called "2026-02-07-flaps" already'),
        (("picture", "2026-02-07-flaps/A.jpg", "A.jpg"), "It is 2026-02-07-flaps/A.jpg already"),
        (("person", "ada", "ada"), 'It is called "ada" already'),
    ],
)
def test_what_cannot_be_moved_is_said_and_nothing_is_touched(root: Path, words: tuple[str, ...], said: str) -> None:
    """Each with what to do instead; no traceback."""
    before = contents(root)
    result = run(root, "move", *words)
    assert result.exit_code in (1, 2), result.output
    assert said in result.output
    assert "Traceback" not in result.output
    assert contents(root) == before


def test_code_at_the_beginning_of_a_joined_text_stays_code(root: Path) -> None:
    """Four blanks before the first words mean something."""
    file = root / "content/entries/2026-02-07-again/index.md"
    head = "---\ntitle: Again\nassembly: flaps\nplace: home\n---\n"
    file.write_text(f"{head}\n  \n    AN470AD4-5  12\n\nThen words.\n\n\n")
    move(root, "join", "2026-02-07-flaps", "2026-02-07-again")
    assert told(root, "entries/2026-02-07-flaps/index.md").endswith(
        "Not for all.\n\n## Again\n\n    AN470AD4-5  12\n\nThen words.\n"
    )


def test_what_is_written_in_no_usual_form_is_not_joined(root: Path) -> None:
    """The reader takes keys in one pair of brackets; the program does not edit them, and says so."""
    file = root / "content/entries/2026-02-07-again/index.md"
    file.write_text(
        "---\n{title: Again, date: 2026-02-07, assembly: flaps, hours: 0:45, place: home, people: ada}\n---\n"
    )
    before = contents(root)
    result = run(root, "move", "join", "2026-02-07-flaps", "2026-02-07-again")
    assert (result.exit_code, type(result.exception)) == (1, SystemExit)
    assert "2026-02-07-again/index.md: the front matter cannot be read" in result.output
    assert contents(root) == before


def test_a_new_edition_renumbers_in_a_circle(root: Path) -> None:
    """Old numbers that others have now are kept under `earlier` and found; the rest also lead on."""
    before = totals(read_named(root).build)
    table = root / "c.csv"
    table.write_text("old,new,page\n5.1,5.2,5-9\n5.2,5.3,\n5.3,5.1,\n7.10,7.3,7-1\n,5.5,\n", "utf-8")
    said = move(root, "edition", str(table))
    assert "5.5 is new: add its row to steps.csv" in said
    build = read_named(root).build
    assert {step.id: step.earlier for step in build.steps.values() if step.earlier} == {
        "5.2": ("5.1",),
        "5.3": ("5.2",),
        "5.1": ("5.3",),
        "7.3": ("7.10",),
    }
    assert build.steps["7.3"].formerly == ("7.10",)
    assert (build.steps["5.2"].title, build.steps["5.2"].page) == ("Deburr the ribs", "5-9")
    flaps = told(root, "entries/2026-02-07-flaps/index.md")
    assert "steps: [5.2 to 5.3, '5.1']" in flaps
    assert "step: 5.1, checked_by: bo" in flaps
    assert '"5.2, 5.1; 7.3"' in told(root, "tasks.csv")
    assert totals(build) == before
    assert "Deburr the ribs" in run(root, "find", "5.1").output
    table.write_text("old,new\n5.1,5.4\n5.9,6\n", "utf-8")
    result = run(root, "move", "edition", str(table))
    assert result.exit_code == 1
    assert 'c.csv:2:5: row 1, column "new": "5.4" is the number of a step that the table does not name' in result.output
    assert 'c.csv:3:1: row 2, column "old": unknown step "5.9"' in result.output


def any_move(chance: random.Random, root: Path) -> list[str]:
    """Some move, perhaps one that cannot be."""
    build = read_named(root).build
    one = chance.choice([*build.entries, *build.drafts])
    new = f"n{chance.randrange(10**6)}"
    pictures = [f"{each.id}/{photo.name}" for each in build.entries for photo in each.photos]
    kinds = {
        "entry": [one.id, f"{one.date}-{new}"],
        "assembly": [chance.choice([*build.assemblies]), new],
        "person": [chance.choice([*build.people]), new],
        "place": [chance.choice([*build.places]), new],
        "step": [chance.choice([*build.steps]), f"{chance.randrange(1, 9)}.{chance.randrange(1, 99)}"],
        "picture": [chance.choice(pictures), chance.choice([f"{new}.jpg", chance.choice(build.entries).id])],
        "join": [one.id, chance.choice([each.id for each in build.entries if each.date == one.date] or [one.id])],
        "split": [one.id, "--title", new, "--hours", chance.choice(["0", "0:10", "0:45", "1:00", "2:00"])],
    }
    kind = chance.choice([*kinds])
    if kind == "split":
        kinds[kind] += [word for step in one.steps if chance.random() < 0.5 for word in ("--step", step)]
        kinds[kind] += [word for photo in one.photos if chance.random() < 0.5 for word in ("--picture", photo.name)]
        words = [line for line in one.body.split("\n\n") if line[:1].strip()]
        kinds[kind] += ["--from", chance.choice(words).split("\n")[0]] if words and chance.random() < 0.5 else []
    return ["move", kind, *kinds[kind]]


def play(root: Path, seed: int, moves: int) -> tuple[int, int]:
    """Law: after every move and undo the totals stand, files that it does not name are the same bytes, the build reads
    without a new error; at the end everything goes back to the byte. How many were done and refused.
    """
    chance = random.Random(seed)
    first = contents(root)
    done = refused = 0
    for _ in range(moves):
        before, was = contents(root), read_named(root)
        names: dict[tuple[str, str], str] = {}
        words = ["undo"] if done and chance.random() < 0.25 else any_move(chance, root)
        result = run(root, *words)
        assert result.exception is None or isinstance(result.exception, SystemExit), (seed, words, result.output)
        if words[0] == "move" and words[1] in ("assembly", "person"):
            names[words[1], words[2]] = words[3]
        now, after = read_named(root), contents(root)
        if result.exit_code:
            assert after == before, (seed, words)
            refused += 1
            continue
        newest = WrittenList(root).newest()
        if words == ["undo"]:
            done -= 1
            continue
        done += 1
        assert totals(was.build, names) == totals(now.build), (seed, words)
        changed = {file for file in before.keys() | after.keys() if before.get(file) != after.get(file)}
        touched = newest[0].files
        assert all(any(f"{file}/".startswith(f"{path}/") for path in touched) for file in changed), (seed, words)
        assert sum(map(len, before.values())) <= sum(map(len, after.values())) + 4000
        errors = [one for one in now.problems if one.grade.value == "error"]
        assert not errors, (seed, words, errors)
    for _ in range(done):
        result = run(root, "undo")
        assert result.exit_code == 0, (seed, result.output)
    assert contents(root) == first, seed
    return done, refused


def test_moves_and_undos_keep_everything(root: Path) -> None:
    """A few of the law; many in the slow one."""
    done, _ = play(root, 1, 10)
    assert done >= 3


@pytest.mark.slow
def test_five_hundred_moves_and_undos(root: Path, tmp_path: Path) -> None:
    """`MOVES=500` by hand, a fifth here; seeds of their own."""
    moves, seed = int(os.environ.get("MOVES", "100")), int(os.environ.get("MOVE_SEED", "7"))
    for number in range(moves // 20):
        folder = tmp_path / str(number)
        shutil.copytree(root / "content", folder / "content")
        play(folder, seed + number, 20)


def test_what_was_sealed_since_is_not_undone_and_becomes_an_amendment(root: Path) -> None:
    """The amendments name old and new; the chain holds, and a change by hand is asked about."""
    assert run(root, "seal").exit_code == 0
    move(root, "step", "5.3", "6.1")
    said = move(root, "entry", "2026-02-07-flaps", "2026-02-07-ribs")
    assert "Sealed already: " in said
    result = run(root, "seal")
    assert result.exit_code == 0, result.output
    chain = (root / "content/seals.jsonl").read_text("utf-8")
    assert "the step 5.3 is called 6.1 now; 2026-02-07-flaps is called 2026-02-07-ribs now" in chain
    refused = run(root, "undo")
    assert refused.exit_code == 1
    assert "was sealed since, and what is sealed is not taken back" in refused.output
    move(root, "person", "bo", "bodil")
    path = root / "content/entries/2026-02-07-ribs/index.md"
    path.write_text(path.read_text("utf-8").replace("First words", "Other words"), "utf-8")
    assert run(root, "seal").exit_code == 1
    assert run(root, "check").exit_code == 0, run(root, "check").output


KILLED = """
import os, sys
left = [int(sys.argv[1])]
def killing(whole):
    def call(*args, **more):
        left[0] -= 1
        if left[0] < 0:
            os.kill(os.getpid(), 9)
        return whole(*args, **more)
    return call
from journal.commands.main import main
for name in ("link", "rename", "replace", "unlink", "mkdir", "rmdir"):
    setattr(os, name, killing(getattr(os, name)))
main(sys.argv[2:])
"""


def kill(root: Path, at: int, *words: str) -> int:
    """Run a command that is killed when it changes something for the `at`-th time; its exit code."""
    command = [sys.executable, "-c", KILLED, str(at), *words, "--build", str(root)]
    return subprocess.run(command, capture_output=True, check=False, timeout=60).returncode


ADOPTED = (
    "date,assembly,hours,title\n2025-02-07,flaps,1:15,One\n2025-02-08,flaps,2:00,Two\n2025-02-09,left-wing,3:00,Three\n"
)


@pytest.mark.slow
@pytest.mark.parametrize(
    "words",
    [
        ("move", "assembly", "flaps", "wing-flaps"),
        ("move", "join", "2026-02-07-flaps", "2026-02-07-again"),
        ("undo", "of a join"),
        ("adopt", "TABLE", "--person", "ada", "--write"),
        ("undo", "of an adoption"),
    ],
    ids=lambda words: "-".join(words[:2]),
)
def test_killed_at_any_moment_it_is_done_or_not(root: Path, words: tuple[str, ...], tmp_path: Path) -> None:
    """Whenever the machine stops, the next command finds all of it or nothing; nothing lies about afterwards.
    `KILLED_EVERY=1` by hand, a quarter of the moments here.
    """
    table = tmp_path / "days.csv"
    table.write_text(ADOPTED, "utf-8")
    adopting = ("adopt", str(table), "--person", "ada", "--write")
    if words == ("undo", "of a join"):
        move(root, "join", "2026-02-07-flaps", "2026-02-07-again")
    elif words == ("undo", "of an adoption"):
        assert run(root, *adopting).exit_code == 0
    command = adopting if words[0] == "adopt" else words if words[0] == "move" else ("undo",)
    states = []
    for at in range(0, 400, int(os.environ.get("KILLED_EVERY", "4"))):
        copy = tmp_path / str(at)
        shutil.copytree(root, copy)
        code = kill(copy, at, *command)
        run(copy, "hours")
        states.append(contents(copy))
        left = [path.name for path in (copy / ".journal").iterdir() if path.name.startswith(".")]
        assert not left, at
        shutil.rmtree(copy)
        if code == 0:
            break
        assert code == -signal.SIGKILL
    assert code == 0, "more moments than were looked at"
    assert len(states) > 5
    first, last = contents(root), states[-1]
    assert [number for number, state in enumerate(states) if state not in (first, last)] == []
    assert states[0] == first


def test_undo_tells_what_stands_in_the_way(root: Path) -> None:
    """A text changed since in the same place, and a folder that something came to."""
    move(root, "step", "5.3", "6.1")
    path = root / "content/entries/2026-02-07-flaps/index.md"
    path.write_bytes(path.read_bytes().replace(b"'6.1'", b"'5.4'"))
    before = contents(root)
    result = run(root, "undo")
    assert result.exit_code == 1
    assert "not taken back: content/entries/2026-02-07-flaps/index.md was changed since" in result.output
    assert contents(root) == before
    assert f"{date.today()}" in run(root, "undo", "--list").output
    assert "The list holds 1 change;" in run(root, "undo", "7").output


def test_undo_of_an_earlier_move_names_what_came_later(root: Path) -> None:
    """The folder goes by another name since: that is to be taken back first."""
    move(root, "step", "5.3", "6.1")
    move(root, "entry", "2026-02-07-flaps", "2026-02-07-ribs")
    said = run(root, "undo", "2").output
    assert "take back first what came later: 2026-02-07-flaps is called 2026-02-07-ribs now" in said


def add(root: Path, texts: dict[str, str | bytes]) -> None:
    """More files below content/."""
    for file, text in texts.items():
        place = root / "content" / file
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(text if isinstance(text, bytes) else text.encode())


def refused(root: Path, *words: str) -> str:
    """A move that is refused, and touches nothing; what it said."""
    before = contents(root)
    result = run(root, "move", *words)
    assert result.exit_code in (1, 2), result.output
    assert contents(root) == before
    return result.output


KEPT_BACK = {
    "named by a label": ({"n.jpg": 7}, "!!! private\n    ![x][one]\n\n    [one]: n.jpg", "n.jpg"),
    "the same bytes": ({"n.jpg": 7, "p.jpg": 7}, "!!! private\n    ![x](n.jpg)", "n.jpg"),
    "the film of a picture": ({"n.jpg": 7, "n.mov": 8}, "!!! private\n    ![x](n.jpg)", "n.jpg"),
    "a copy": ({"n.jpg": 7, "n (1).jpg": 8}, "!!! private\n    ![x](n.jpg)", "n.jpg"),
}


@pytest.mark.parametrize("to", ["other.jpg", "2026-02-07-again"])
@pytest.mark.parametrize("how", KEPT_BACK)
def test_what_was_private_by_its_neighbours_does_not_come_to_light(root: Path, how: str, to: str) -> None:
    """It is moved and stays private, or the move is refused and says what to write."""
    files, body, name = KEPT_BACK[how]
    add(root, {f"entries/2026-02-07-near/{file}": photo_bytes(shade=shade) for file, shade in files.items()})
    add(root, {"entries/2026-02-07-near/index.md": entry("title: Near\nplace: home", f"Words.\n\n{body}")})
    result = run(root, "move", "picture", f"2026-02-07-near/{name}", to)
    if result.exit_code:
        assert (
            "would no longer be private afterwards; write `private: true` of it under `photos` first" in result.output
        )
    journal = open_journal(root, date(2026, 6, 1))
    shown = {photo.src_uri for photo in open_view(journal, Audience.PUBLIC).photos}
    films = [clip for one in journal.build.entries for clip in one.clips]
    assert all(photo_bytes(shade=shade) not in {(root / uri).read_bytes() for uri in shown} for shade in (7, 8))
    assert all(clip.private for clip in films)


def test_words_that_go_to_another_folder_keep_their_links(root: Path) -> None:
    """Of an entry without a folder of its own, in two and in one; labels that both texts tell stay apart."""
    body = "One[^1].\n\n[^1]: First.\n\nTwo [wing](2026/2026-02-08-wing/index.md), [it][a][^2].\n\n"
    body += "[a]: 2026-02-07-flaps/A.jpg\n"
    add(root, {"entries/2026-02-07-lone.md": entry("title: Lone\nplace: home", f"{body}[^2]: Second.")})
    move(root, "split", "2026-02-07-lone", "--title", "Part", "--hours", "0", "--from", "Two [wing]")
    part = told(root, "entries/2026-02-07-part/index.md")
    assert "Two [wing](../2026/2026-02-08-wing/index.md), [it][a][^2].\n\n[a]: ../2026-02-07-flaps/A.jpg" in part
    again = "Three[^2] and [a].\n\n[^2]: Third.\n[a]: 2026-02-07-again/index.md\n"
    add(root, {"entries/2026-02-07-more.md": entry("title: More\nplace: home", again)})
    move(root, "join", "2026-02-07-part", "2026-02-07-more")
    part = told(root, "entries/2026-02-07-part/index.md")
    assert "Three[^2-2] and [a][a-2].\n\n[^2-2]: Third.\n[a-2]: ../2026-02-07-again/index.md" in part
    add(root, {"entries/2026-02-07-note.md": entry("title: Note", "One[^1].\n\nTwo.\n\n[^1]: Far.\n")})
    said = refused(root, "split", "2026-02-07-note", "--title", "X", "--hours", "0", "--from", "Two.")
    assert "[^1] stands in one part of the text, and what it leads to in the other" in said


def test_a_picture_is_found_whatever_stands_around_it(root: Path) -> None:
    """Its name as its caption, written in two ways, in one text, in other capitals; comments and titles stay."""
    words = '![A b.jpg](A%20b.jpg "A title")\n\n![A b.jpg](A b.jpg)'
    add(root, {f"entries/2026-02-07-near/{name}": photo_bytes(shade=9) for name in ("A b.jpg", "c.jpg")})
    file = "entries/2026-02-07-near/index.md"
    add(root, {file: entry("title: Near\nplace: home   # not the hangar\nphotos: a B.JPG, c.jpg", words)})
    move(root, "picture", "2026-02-07-near/A b.jpg", "d.jpg")
    assert '![A b.jpg](d.jpg "A title")\n\n![A b.jpg](d.jpg)' in told(root, file)
    assert "photos: d.jpg, c.jpg" in told(root, file)
    move(root, "picture", "2026-02-07-near/d.jpg", "2026-02-07-again")
    assert '[A b.jpg](../2026-02-07-again/d.jpg "A title")' in told(root, file)
    assert "photos: c.jpg\n" in told(root, file)
    move(root, "join", "2026-02-07-flaps", "2026-02-07-near")
    assert "# not the hangar" in told(root, "entries/2026-02-07-flaps/index.md")
    assert "name that differs in more than capitals" in refused(root, "picture", "2026-02-07-flaps/A.jpg", "a.jpg")
    assert "name that differs in more than capitals" in refused(root, "assembly", "flaps", "Flaps")
    move(root, "picture", "2026-02-07-flaps/B.jpg", "2026-02-07-again")
    assert "# 18:40" in told(root, "entries/2026-02-07-flaps/index.md")


@pytest.mark.slow
def test_moves_one_after_the_other_are_one_amendment(root: Path) -> None:
    """What went by other names since its seal is sealed anew without a question, also in the same second."""
    add(
        root,
        {"entries/2026-02-07-lone.md": entry("title: L\nphotos: L.jpg", ""), "entries/L.jpg": photo_bytes(shade=5)},
    )
    for number in (1, 2):
        assert run(root, "seal").exit_code == 0
        move(root, "entry", "2026-02-07-flaps" if number == 1 else "2026-02-07-x1", f"2026-02-07-x{number}")
        said = move(root, "picture", f"2026-02-07-x{number}/{'AB'[number - 1]}.jpg", "2026-02-08-wing")
        assert f"Sealed already: 2026-02-07-x{number} and 2026-02-08-wing." in said
        move(root, "person", ("bo", "bob")[number - 1], ("bob", "bodo")[number - 1])
    move(root, "split", "2026-02-07-lone", "--title", "M", "--hours", "0", "--picture", "L.jpg")
    result = run(root, "seal")
    assert result.exit_code == 0, result.output
    assert run(root, "check").exit_code == 0


def test_what_an_editor_saves_meanwhile_is_not_put_away(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The entry that is joined was saved after it was read: nothing is done."""
    path = root / "content/entries/2026-02-07-again/index.md"
    prove = Move.prove

    def saved(self: Move) -> Any:
        path.write_bytes(path.read_bytes() + b"\r\nMore.\r\n")
        return prove(self)

    monkeypatch.setattr(Move, "prove", saved)
    result = run(root, "move", "join", "2026-02-07-flaps", "2026-02-07-again")
    assert result.exit_code == 1
    assert "content/entries/2026-02-07-again/index.md was changed meanwhile; try again" in result.output
    assert path.read_bytes().endswith(b"\r\nMore.\r\n")
    assert not (root / "content/entries/2026-02-07-flaps/A-2.jpg").exists()


def test_undo_says_what_it_leaves_behind(root: Path) -> None:
    """An entry written since names what goes by its old name again."""
    move(root, "step", "5.3", "6.1")
    add(root, {"entries/2026-02-12-new/index.md": entry("title: New\ndate: 2026-02-12\nsteps: 6.1")})
    said = run(root, "undo").output
    assert "Taken back: the step 5.3 is called 6.1 now" in said
    assert '1 error in the build now (content/entries/2026-02-12-new/index.md: unknown step "6.1"' in said


def test_every_slip_in_the_table_of_an_edition_is_told(root: Path) -> None:
    """By its row, and nothing is touched; a table that changes no number is no edition."""
    table, before = root / "c.csv", contents(root)
    table.write_text("old,new\n5.1,a b\n5.2,6.2\n5.2,6.3\n5.3,6.2\n", "utf-8")
    said = refused(root, "edition", str(table))
    assert '2:5: row 1, column "new": "a b" cannot be a step ID' in said
    assert '4:1: row 3, column "old": step "5.2" is there twice' in said
    assert '5:5: row 4, column "new": step "6.2" is there twice' in said
    table.write_text("old,new\n5.1,5.1\n", "utf-8")
    assert "gives no step another number" in refused(root, "edition", str(table))
    table.write_text("old,new\n5.1,6.1\n7.10,\n", "utf-8")
    said = move(root, "edition", str(table), "--dry-run")
    assert "7.10 is no longer in the manual: it stays as it is" in said
    assert "Nothing was moved (--dry-run)." in said
    assert contents(root) == before


def test_answers_go_along_where_two_entries_become_one(root: Path) -> None:
    """Of the same question once; where they differ, one has to go first."""
    again, flaps = (f"entries/2026-02-07-{name}/index.md" for name in ("again", "flaps"))
    rows = "\nanswers: {no-photo: No light., people: Alone.}"
    add(root, {again: told(root, again).replace("\r\n", "\n").replace("\nbegun:", f"{rows}\nbegun:")})
    with_own = told(root, flaps).replace("\nplace:", "\nanswers: {people: Two of us.}\nplace:")
    add(root, {flaps: with_own})
    said = refused(root, "join", "2026-02-07-flaps", "2026-02-07-again")
    assert 'both answer "people", each otherwise; keep one of the answers first' in said
    add(root, {flaps: with_own.replace("Two of us.", "Alone.")})
    move(root, "join", "2026-02-07-flaps", "2026-02-07-again")
    assert read_named(root).build.entries[0].answers == {"people": "Alone.", "no-photo": "No light."}
    assert told(root, flaps).count("Alone.") == 1


def test_an_edition_adds_its_column_behind_an_empty_cell(root: Path) -> None:
    """What is written into the last cell of a row does not run into what is added behind it."""
    file, rows = "steps.csv", STEPS_CSV.replace("closes\n", "closes,formerly\n").replace(",\n", ",,\n")
    add(root, {file: rows.replace(",yes\n", ",yes,\n")})
    table = root / "c.csv"
    table.write_text("old,new\n5.2,6.2\n7.10,7.11\n", "utf-8")
    move(root, "edition", str(table))
    assert "flaps,6.2,Drill the skeleton,5-2,,5.2,5.2\n" in told(root, file)
    assert "left-wing,7.11,Close the wing,7-9,yes,7.10,7.10\n" in told(root, file)
    assert "flaps,5.1,Deburr the ribs,5-1,,\n" in told(root, file)


def test_a_text_that_ends_within_code_takes_in_no_other(root: Path) -> None:
    """What comes behind it would be code, a private passage among it."""
    add(root, {"entries/2026-02-07-near/index.md": entry("title: Near\nplace: home", "```\nnever closed")})
    said = refused(root, "join", "2026-02-07-near", "2026-02-07-flaps")
    assert "2026-02-07-near/index.md: the text ends within code; close it first" in said


MOVES: list[tuple[list[str], str]] = [
    (["entry", "2026-02-07-flaps", "2026-02-07-ribs", "--dry-run"], ""),
    (["entry", "2026-02-07-flaps/", "2026-02-07-ribs"], ""),
    (["entry", "2026-02-07-alone", "lone"], ""),
    (["entry", "2026-02-07-alone.md", "2026-02-07-lone"], ""),
    (
        ["split", "2026-02-07-ribs", "--assembly", "Left wing", "--step", "5.3", "--from", "then  THE"],
        "Spar\nx\n0:50\n0\n",
    ),
    (["picture", "2026-02-07-ribs/A.jpg", "2026-02-07-lone"], ""),
    (["picture", "2026-02-07-ribs/A.jpg", "2026-02-08-wing/rib 4.jpg"], ""),
    (["picture", "2026-02-07-spar/b.JPG", "spar.jpg"], ""),
    (["entry", "2026-02-08-wing", "2026-02-08-wings"], ""),
    (["person", "Ada", "a.b"], ""),
    (["assembly", "flaps", "fl"], ""),
    (["place", "home", "garage"], ""),
    (["step", "5.3", "6.1"], ""),
    (["join", "2026-02-07-lone", "2026-02-07-again"], ""),
    (["split", "2026-02-07-again", "--title", "Hinge", "--hours", "a.b=0:10", "--from", "See"], ""),
    (["join", "2026-02-07-ribs", "2026-02-07-spar"], ""),
    (["join", "2026-02-07-ribs", "2026-02-07-again"], ""),
    (["join", "2026-02-07-ribs", "2026-02-07-again"], ""),
    (["split", "2026-02-07-spar", "--title", "Pin", "--hours", "0", "--from", "[Spar]"], ""),
    (["edition", "c.csv"], ""),
    (["join", "2026-02-07-ribs", "2026-02-07-lone"], ""),
    *((["join", "2026-03-01-a", f"2026-03-01-{other}"], "") for other in "abcde"),
    (["edition", "same.csv"], ""),
    (["split", "2026-03-01-d", "--title", "Half a draft", "--hours", "0:10"], ""),
    (["split", "2026-03-01-c", "--title", "Half in private", "--hours", "0"], ""),
]


def test_what_each_move_says_and_writes(
    root: Path, monkeypatch: pytest.MonkeyPatch, pytestconfig: pytest.Config
) -> None:
    """Word for word, one move after the other in a sealed build; `--rewrite-goldens` accepts a change."""
    golden = Path(__file__).with_name("moves.golden.txt")
    (root / "content/entries/2026-02-07-alone.md").write_text(
        "---\nassembly: flaps\nhours: 0:30\n---\n\n\n[wing](2026/2026-02-08-wing/index.md)\n```\nAlone.\n```\n"
    )
    (root / "content/entries/2026-02-07-again/x.txt").write_text("x")
    for name, matter, body in (
        *(("a", "place: home", "See [pic]."), ("b", "place: hangar", "b"), ("c", "place: home\nprivate: true", "c")),
        *(("d", "place: home\ndraft: true", "d"), ("e", "place: home\npeople: [hanne]", "[pic]: ../x.md")),
    ):
        told_in = root / f"content/entries/2026-03-01-{name}/index.md"
        told_in.parent.mkdir()
        told_in.write_text(entry(f"date: 2026-03-01\n{matter}", body))
    (told_in.parent / "p.jpg").write_bytes(photo_bytes(shade=9))
    with (root / "content/build.yml").open("ab") as plan:
        plan.write(b"manual: B\r\n")
    (root / "same.csv").write_text("old,new\n5.4,5.4\n")
    table = root / "c.csv"
    table.write_text("old,new,title,page\n5.1,5.2,,5-9\n5.2,5.1,Drill,\n7.10,7.3,,\n,5.5,,\n,,New,\n7.2,,,\n", "utf-8")
    assert run(root, "seal").exit_code == 0
    terminal = SimpleNamespace(stdin=SimpleNamespace(isatty=lambda: True))
    monkeypatch.setattr("journal.commands.moving.move.sys", terminal)
    told: list[str] = []
    for words, answers in MOVES:
        before = contents(root)
        said = run(
            root, "move", *(str(root / word) if word.endswith(".csv") else word for word in words), answers=answers
        )
        told += [f"$ journal move {' '.join(words)}", f"{said.output}[{said.exit_code}]"]
        after = contents(root)
        told += [f"- {file}" for file in sorted(before.keys() - after.keys())]
        told += [f"+ {file}" for file in sorted(after.keys() - before.keys())]
        for file in sorted(one for one in after if one.endswith((".md", ".csv", ".yml", ".svg"))):
            old = before.get(file, b"").decode().split("\n")
            told += [f"  {line!r}" for line in unified_diff(old, after[file].decode().split("\n"), file, file, n=0)]
        if "x.txt too" in said.output:
            (root / "content/entries/2026-02-07-again/x.txt").unlink()
    kinds = [[], *([kind] for kind in dict.fromkeys(words[0] for words, _ in MOVES))]
    told += [CliRunner().invoke(main, ["move", *kind, "--help"]).output for kind in kinds]
    text = re.sub(r"put-away-[0-9a-f]{8}", "put-away", "\n".join(told).replace(str(root), "BUILD")) + "\n"
    if pytestconfig.getoption("--rewrite-goldens"):
        golden.write_text(text, "utf-8", newline="\n")
    assert text == golden.read_text("utf-8")
