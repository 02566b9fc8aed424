"""A build is closed: whatever is done to its files, every ID in it names a record, and nothing above breaks.

`-m slow` tries 1,000; after a change of weight: `CLOSED_MUTATIONS=10000 CLOSED_SEED=7 pytest -m slow -s` on this file.
"""

from __future__ import annotations

import dataclasses
import os
import re
import shutil
import string
from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from datetime import date
from pathlib import Path
from random import Random
from typing import get_args, get_type_hints

import pytest
from click.testing import CliRunner
from making import BUILD_YML, STEPS_CSV, MakeBuild, entry, read
from PIL import Image

from journal.base.model import Build
from journal.base.problems import has_errors, render_problem
from journal.commands.main import main
from journal.ledger.forecast import work_left
from journal.ledger.journal import Journal, open_journal
from journal.ledger.materials import trace_materials
from journal.ledger.today import today_of
from journal.making.find_pages import find_extras
from journal.reading.closing import close_build, references
from journal.record.tables import archive_tables
from journal.site.pages import context_files, context_pages
from journal.site.site_context import SiteContext
from journal.view.people import gather_people
from journal.view.view import Audience, open_view

TODAY = date(2026, 6, 1)
FIRST_WEEKS = Path(__file__).parent.parent / "builds" / "first-weeks" / "content"

RIBS = entry(
    """steps: [5.1, 5.2 to 5.3]
begun: [5.4]
redone: 5.1
hours: {ada: 3:15, hanne: [18:30-21:45]}
people: [ada, hanne]
place: hangar
tools: [drill, W1]
photos:
  IMG_1.png: {caption: one, step: 5.1, people: [ada], inside: true}
  film.mp4: turning it over
fasteners:
  - {rivet: AN470AD4-5, grip: 0.125 in, count: 48, shop_head: 0.19 in x 0.06 in}
  - {part: MS20604B4W2, hole: '#30', step: 5.1, checked_by: hanne, drilled_out: b, source: kit letter}
torque:
  - {bolt: AN4-10A, nut: tension, value: 62 in-lb, wrench: W1, called_for: {value: 62 ±3 in-lb, page: 5-9}}
materials: [p1]
answers: {no-photo: The camera was away.}
video: https://video.example.org/1
""",
    "# Ribs\n\n![a](IMG_1.png) [b](../b/index.md)\n\n!!! private\n    hidden\n",
)
LOOK = """\
---
date: 2026-03-14
steps: [5.3, 5.4]
stage: closing
inspector: insp
outcome: passed with findings
findings: [{id: F1, text: a burr, closed_on: 2026-03-15, closed_by: a}, {text: head 12 is low}]
---
Seen.
"""
WEIGHED = """\
---
date: 2026-05-20
kind: weighing
measured_by: [ada, bo]
checked_by: insp
instrument: W1
results: [{what: level, value: 0.1 °, called_for: {value: at most 0.2 °, page: 9-2, edition: B}}]
datum: leading edge
scales: [{at: left, weight: 402 lb, tare: 2 lb, arm: 22 in}, {at: nose, weight: 90.5 kg, arm: -49 in}]
corrections: [{what: oil, weight: 17 lb, arm: -49 in}]
equipment: [{what: radio, weight: 3 lb, arm: 10 in, fitted: no}]
limits: [{weight: 400 lb, forward: 8.5 in, aft: 21.9 in}, {weight: 2100 lb, forward: 9 in, aft: 21.9 in}]
max_weight: 2100 lb
cases: [{name: first flight, add: [{what: pilot, weight: 80 kg, arm: 16 in}]}]
---
Weighed.
"""
TINY: Mapping[str, str | bytes] = {
    "build.yml": BUILD_YML
    + "show: [places]\nabout: It is time\nwrite_to: bo@tarn.example\nmanual: {edition: 3}\n"
    + "language: en-GB\ndrawing: {}\n",
    "steps.csv": STEPS_CSV.replace("closes\n", "closes,same_as\n").replace("7-1,", "7-1,,5.1"),
    "callouts.csv": "step,what,part,value,tolerance,drag,count,page,edition,answer\n"
    '5.1,rivet,AN470AD4-5,,,,48,5-3,,\n"5.1; 5.3",edge,,at least 0.25 in,,,,5-3,2,\n'
    ",bolt,AN4,62 in-lb,3,added,,1-9,,\n5.2,primer,Primer,,,,,5-4,,\n5.1,shop head,,0.19 x 0.06 in,,,,5-3,,yes\n",
    "aircraft.svg": '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9">'
    '<rect width="4" height="4" data-assembly="flaps"/><rect width="9" height="4" data-assembly="left-wing"/></svg>',
    "entries/a/index.md": RIBS,
    "entries/a/film.mp4": b"\0\0\0\x10ftypisom\0\0\0\0",
    "entries/b/index.md": entry("date: 2026-02-08\nassembly: left-wing\nsteps: 7.1\nprivate: true\nhours: 18:00-20:00"),
    "entries/c/index.md": entry("date: 2026-02-09\ndraft: true\npeople: [bo]\nsteps: 5.4\nhours: 2.5"),
    "inspections/x/index.md": LOOK,
    "inspections/y/index.md": LOOK.replace("steps: [5.3, 5.4]", "assembly: left-wing"),
    "measurements/w/index.md": WEIGHED,
    "bulletins.csv": "id,date,title,concerns,state,done_in,record,note\n"
    "SB-1,2026-01-05,Horns,flaps,done,a,kit.txt,\nSB-2,,Spar,5.1 to 5.3,,,,waiting for the kit\n",
    "records/records.csv": "file,date,kind,title,note\nkit.txt,2026-01-02,invoice,Kit,\n",
    "records/kit.txt": "paid",
    "inventory.csv": "crate,part,description,listed,found,condition,where,checked_on,by\n"
    '1,W-1,"rib, nose",12,12,,shelf,2026-01-11,bo\n',
    "tasks.csv": "section,task,name,maker,paid,assembly,fabrication,steps,note\n"
    'W,1,Ribs,3,0,3,4,"5.1 to 5.3; 7.1",\nW,2,Floats,n/a,n/a,n/a,n/a,,\n',
    "materials.csv": "id,name,batch,expires,record\np1,Primer,B7,2026-12-31,kit.txt\n",
    "tools.csv": "name,checked_on,check_every_months\nW1,2026-01-01,12\n",
    "rates.csv": "date,currency,to,rate,source\n2026-01-01,EUR,CHF,0.94,bank\n",
    "costs.csv": "date,assembly,what,amount,currency,record\n2026-02-01,flaps,kit,1200.50,EUR,kit.txt\n",
    "terms.md": "| term | meaning | source |\n|---|---|---|\n| dolly, bar | a block | practice |\n",
    "publishing.yml": "allow:\n  Ada Bergstrom: she asked for it\nfolder: /media/stick/tarn\n",
    "pages/about.md": "# About\n\nHello.\n",
}

# What names what, told a second time and by hand: the reader takes it from the types.
NAMED = {
    "CallOut": {"steps": "steps"},
    "FastenerSet": {"step": "steps", "checked_by": "people", "drilled_out": "entries"},
    "TorqueSetting": {"step": "steps", "checked_by": "people", "drilled_out": "entries"},
    "Step": {"assembly": "assemblies", "same_as": "steps"},
    "Photo": {"step": "steps", "shut_by": "steps", "people": "people"},
    "Clip": {"step": "steps"},
    "WorkedTime": {"person": "people"},
    "Entry": {
        "assembly": "assemblies",
        "steps": "steps",
        "begun": "steps",
        "redone": "steps",
        "people": "people",
        "place": "places",
        "materials": "materials",
    },
    "InspectionFinding": {"closed_by": "entries", "signed_by": "people", "checked_by": "people"},
    "Inspection": {"assembly": "assemblies", "steps": "steps", "people": "people"},
    "Measurement": {"assembly": "assemblies", "steps": "steps", "people": "people", "checked_by": "people"},
    "Bulletin": {"assembly": "assemblies", "steps": "steps", "done_in": "entries"},
    "Task": {"steps": "steps"},
    "Cost": {"assembly": "assemblies"},
}
# Fields that hold words, or the record's own name; a `by`, `record` or `wrench` may name what no list holds.
WORDS = {
    "Aircraft": "name kind registration serial",
    "Assembly": "id title formerly shapes",
    "Build": "language zone shows about write_to manual_edition drawing let_pass send_to",
    "Bulletin": "id title record note",
    "CalibratedTool": "name",
    "Clip": "name src_uri caption private_caption",
    "Cost": "what currency record",
    "Entry": "id src_uri title tools methods answers videos body where formerly",
    "CallOut": "what part value drag page edition answer",
    "FastenerSet": "rivet hole source",
    "FreePage": "id src_uri title body formerly",
    "Inspection": "id src_uri title stage body where formerly",
    "InspectionFinding": "id text",
    "InventoryItem": "crate part description condition kept_in by replacement_note",
    "Load": "what",
    "LoadCase": "name",
    "Material": "id name batch record mix",
    "MeasuredResult": "what value note",
    "Measurement": "id src_uri title body where kind instrument formerly",
    "Person": "id name shown_as",
    "Photo": "name src_uri caption private_caption sha256",
    "PhotoFacts": "kind offset camera likeness trouble",
    "PhotoSettings": "watermark",
    "Place": "id name",
    "Rate": "currency to source",
    "Record": "file kind title note",
    "Step": "id title page closes earlier formerly shapes",
    "Task": "section task name note",
    "Term": "names meaning source unsure near not_near",
    "Limit": "text",
    "Quantity": "text",
    "TorqueSetting": "bolt nut wrench threads locked source",
    "Weighing": "datum",
}


def held_by(kind: type) -> Iterator[type]:
    """`kind` and every record that it can hold."""
    yield kind
    for hint in get_type_hints(kind).values():
        for part in get_args(hint):
            if dataclasses.is_dataclass(part) and isinstance(part, type):
                yield from held_by(part)


def test_every_field_with_text_is_judged() -> None:
    """A new field of text is either typed as an ID, and then closed, or listed here as words."""
    for kind in set(held_by(Build)):
        found = {reference.field: reference.listed for reference in references(kind)}
        assert found == NAMED.get(kind.__name__, {}), kind
        texts = {
            name
            for name, hint in get_type_hints(kind).items()
            if hint is str or (str in get_args(hint) and not any(map(dataclasses.is_dataclass, get_args(hint))))
        }
        assert texts == {*found, *WORDS.get(kind.__name__, "").split()}, kind


def open_ends(record: object, build: Build) -> Iterator[str]:
    """Every ID below `record` that names nothing in `build`."""
    entries = {told.id for told in (*build.entries, *build.drafts)}
    if isinstance(record, tuple | Mapping):
        for one in record.values() if isinstance(record, Mapping) else record:
            yield from open_ends(one, build)
    if not dataclasses.is_dataclass(record):
        return
    for name in (field.name for field in dataclasses.fields(record)):
        value = getattr(record, name)
        if listed := NAMED.get(type(record).__name__, {}).get(name):
            known = entries if listed == "entries" else getattr(build, listed)
            for one in value if isinstance(value, tuple) else (value,):
                if one is not None and one not in known:
                    yield f"{type(record).__name__}.{name}: {one}"
        else:
            yield from open_ends(value, build)


# ---------------------------------------------------------------------------------- known ways to break one

LATIN = "Flügel"
WAYS: dict[str, tuple[str, str, str]] = {
    "people misspelt": ("build.yml", "people:", "peeple:"),
    "places misspelt": ("build.yml", "places:", "plases:"),
    "assemblies misspelt": ("build.yml", "assemblies:", "asemblies:"),
    "a date in words": ("build.yml", "begun: 2026-01-10", "begun: yesterday"),
    "a person misspelt": ("build.yml", "  hanne: {name: Hanne", "  hannah: {name: Hannah"),
    "a tab in people": ("build.yml", "  bo:", "\tbo:"),
    "a colon in people": ("build.yml", "{name: Ada Bergstrom", "{name: Ada: Bergstrom"),
    "the inspector gone": ("build.yml", "  insp: {name: Ines Petrov, role: inspector}\n", ""),
    "an assembly in pieces": ("build.yml", "  flaps: {title: Flaps, planned_hours: 60}", "  flaps: [Flaps]"),
    "a heading misspelt": ("steps.csv", "step,title", "stp,title"),
    "bars": ("steps.csv", ",", "|"),
    "a table in an unknown encoding": ("steps.csv", "Deburr", "Deb\0urr"),
    "a step in an assembly that is not there": ("steps.csv", "flaps,5.1", "flapz,5.1"),
    "a batch without its ID": ("materials.csv", "p1,", ","),
    "an entry refused": ("entries/a/index.md", "date: 2026-02-07", "date: 2026-02-31"),
}


@pytest.fixture
def tiny(make_build: MakeBuild) -> Path:
    """A build with every kind of file."""
    root = make_build(TINY)
    Image.new("RGB", (32, 24), "grey").save(root / "content/entries/a/IMG_1.png")
    return root


def look_into(root: Path) -> Journal:
    """Open the build, look at it as each audience, and ask everything that follows from it."""
    opened = open_journal(root, TODAY)
    for audience in Audience:
        gather_people(open_view(opened, audience))
    trace_materials(opened.build)
    today_of(opened)
    work_left(opened.build.assemblies, opened.build.steps, opened.progress.steps)
    for problem in opened.problems:
        assert len(render_problem(problem).splitlines()) == 1
        assert problem.file.isprintable()
    for worked in (worked for told in opened.build.entries for worked in told.time):
        assert worked.minutes >= 0
    assert list(open_ends(opened.build, opened.build)) == []
    return opened


def test_the_tiny_build_is_sound(tiny: Path) -> None:
    """Nothing is wrong with it, nothing is taken from it, and every list has something in it."""
    opened = look_into(tiny)
    assert not has_errors(opened.problems), opened.problems
    assert close_build(opened.build) is opened.build
    assert all(getattr(opened.build, field.name) for field in dataclasses.fields(Build))


@pytest.mark.parametrize("way", WAYS)
def test_what_was_refused_is_named_nowhere(tiny: Path, way: str) -> None:
    """Each of these broke a command with a traceback once."""
    file, old, new = WAYS[way]
    path = tiny / "content" / file
    assert old in path.read_text("utf-8")
    path.write_text(path.read_text("utf-8").replace(old, new), "utf-8")
    assert has_errors(look_into(tiny).problems)


def test_what_may_be_missing_goes_and_the_rest_stays(tiny: Path) -> None:
    """A person who is not listed loses the time worked; the entry, its other people and its length stay."""
    path = tiny / "content/build.yml"
    path.write_text(path.read_text("utf-8").replace("  hanne:", "  hannah:").replace("zone:", "zoen:"), "utf-8")
    build, problems = read(tiny)
    told = next(one for one in build.entries if one.id == "a")
    assert has_errors(problems)
    assert (told.people, [worked.person for worked in told.time]) == (("ada",), ["ada"])
    assert told.elapsed_minutes == 195


def test_what_stands_on_nothing_goes_with_all_that_hangs_on_it(tiny: Path) -> None:
    """Without an assembly its steps go, with them an inspection of these steps, and the finding's entry."""
    path = tiny / "content/build.yml"
    text = path.read_text("utf-8").replace("  flaps: {title: Flaps, planned_hours: 60}", "  flaps: [Flaps]")
    path.write_text(text, "utf-8")
    build, problems = read(tiny)
    assert has_errors(problems)
    assert set(build.steps) == {"7.1", "7.2", "7.10"}
    assert build.steps["7.1"].same_as is None
    assert ([one.id for one in build.entries], [one.id for one in build.inspections]) == (["b"], ["y"])
    assert [found.closed_by for found in build.inspections[0].findings] == [None, None]
    assert (build.tasks[0].steps, build.costs[0].assembly) == (("7.1",), None)


def test_one_mistake_in_build_yml_hides_no_other(tiny: Path) -> None:
    """A date that is none leaves the list of people whole: a person misspelt elsewhere is told beside it."""
    for file, old, new in [
        ("build.yml", "begun: 2026-01-10", "begun: yesterday"),
        ("entries/a/index.md", "people: [ada, hanne]", "people: [ada, hannah]"),
    ]:
        path = tiny / "content" / file
        path.write_text(path.read_text("utf-8").replace(old, new), "utf-8")
    _, problems = read(tiny)
    assert {"bad-date", "unknown-person"} <= {problem.word for problem in problems}


# ---------------------------------------------------------------------------------------- the law

NASTY = ["\0", "\t", "\x85\u2028", ": ", " #x", "- ", "&a ", "*a", "\n---\n", "[", "{", '"', "9" * 40, "\ufeff", "۳"]


def misspelt(random: Random, word: str) -> str:
    """One letter left out, doubled, swapped or changed."""
    at = random.randrange(len(word))
    changed = random.choice(string.ascii_lowercase + string.digits)
    return random.choice(
        [
            word[:at] + word[at + 1 :],
            word[:at] + word[at] + word[at:],
            word[:at] + word[at : at + 2][::-1] + word[at + 2 :],
            word[:at] + changed + word[at + 1 :],
            word.swapcase(),
        ]
    )


def change_text(random: Random, text: str, others: list[str]) -> str:
    """One slip of the hand in a file of text; `others` are words of the whole build."""
    lines = text.split("\n")
    one, two = random.randrange(len(lines)), random.randrange(len(lines))
    words = re.findall(r"[\w.-]+", text) or ["x"]
    word = random.choice(words)
    keys = re.findall(r"([\w-]+):", text) or words
    match random.randrange(13):
        case 0:
            key = random.choice(keys)
            return text.replace(f"{key}:", f"{misspelt(random, key)}:", random.choice([1, -1]))
        case 1:
            del lines[one]
        case 2:
            lines.insert(two, lines[one])
        case 3:
            lines[one], lines[two] = lines[two], lines[one]
        case 4:
            first, second = lines[one].partition(":"), lines[two].partition(":")
            lines[one], lines[two] = first[0] + first[1] + second[2], second[0] + second[1] + first[2]
        case 5:
            return re.sub(rf"(?<![\w.-]){re.escape(word)}(?![\w.-])", misspelt(random, word), text)
        case 6:
            return text.replace(word, misspelt(random, word), 1)
        case 7:
            return text.replace(word, random.choice(others), random.choice([1, -1]))
        case 8:
            return text.replace(",", random.choice([";", "\t", "", ", "]))
        case 9:
            return text[: random.randrange(len(text) + 1)]
        case 10:
            at = random.randrange(len(text) + 1)
            return text[:at] + random.choice(NASTY) + text[at:]
        case 11:
            cells = lines[0].split(",")
            cells[random.randrange(len(cells))] = random.choice(["", "x", misspelt(random, random.choice(words))])
            lines[0] = ",".join(cells)
        case 12:
            lines[one] = lines[one] + random.choice(["  ", " #", ":", "'", "]", LATIN])
    return "\n".join(lines)


def change_file(random: Random, path: Path, others: list[str]) -> str:
    """Damage one file in one way; what was done."""
    data = path.read_bytes()
    text = data.decode("utf-8", "replace")
    match random.randrange(14):
        case 12:
            return change_place(random, path)
        case 13 if path.suffix == ".md":
            path.write_bytes(data + random.choice(HOSTILE).encode())
            return "hostile text"
        case 0:
            path.unlink()
            return "removed"
        case 1:
            path.rename(path.with_name(misspelt(random, path.stem) + path.suffix))
            return "renamed"
        case 2:
            path.write_bytes(b"")
            return "emptied"
        case 3:
            coding = random.choice(["utf-16", "utf-16-le", "latin-1", "utf-8-sig"])
            path.write_bytes((text + LATIN).encode(coding, "replace"))
            return coding
        case 4:
            at = random.randrange(len(data) + 1)
            path.write_bytes(data[:at] + random.randbytes(random.randrange(1, 9)) + data[at + random.randrange(9) :])
            return "random bytes"
        case 5 if random.random() < 0.3:
            path.unlink()
            path.mkdir()
            return "a folder in its place"
        case 6 if random.random() < 0.3 and path.parent.name != "content":
            folder = path.parent
            shutil.rmtree(folder)
            folder.write_bytes(data)
            return "a file in place of its folder"
    for _ in range(random.choice([1, 1, 2, 4])):
        text = change_text(random, text, others)
    path.write_bytes(text.encode("utf-8", "replace"))
    return "changed"


# Bodies that no renderer holds, or that took for ever: told in one line.
HOSTILE = [
    *("![" * 100_000, "[" * 200_000, "` a" * 60_000, "<!--" * 50_000, "\n" + "> " * 300 + "x", "- " * 300 + "x"),
    "\n".join("  " * depth + "- x" for depth in range(300)),
]


def change_place(random: Random, path: Path) -> str:
    """Put beside a file, or in its place, what is no file of ours."""
    beside = path.with_name(f"{random.randrange(9)}{path.suffix}")
    way = random.choice(["pipe", "pipe in its place", "link in a circle", "link up", "device", "Latin-1", "in small"])
    if way == "pipe in its place":
        path.unlink()
        beside = path
    if beside.exists() or beside.is_symlink():
        return "nothing"
    match way:
        case "pipe" | "pipe in its place":
            os.mkfifo(beside)
        case "link in a circle":
            beside.symlink_to(beside.name)
        case "link up":
            beside.symlink_to("..")
        case "device":
            beside.symlink_to("/dev/zero")
        case "Latin-1":
            Path(os.fsdecode(os.fsencode(path.parent) + b"/Fl\xfcgel" + path.suffix.encode())).write_bytes(b"x")
        case "in small":
            path.rename(path.with_name(path.name.swapcase()))
    return way


def draw_pages(opened: Journal) -> None:
    """Plan every page, feed and table for followers and for the inspector, without host and pictures."""
    for audience in (Audience.PUBLIC, Audience.ARCHIVE):
        view = open_view(opened, audience)
        site = SiteContext(view, {})
        pages = [*context_pages(site), *find_extras(site, Path(os.devnull)).pages]
        assert len({page.address for page in pages}) == len(pages)
        assert all(data for _, data in context_files(site, site_url="https://tarn.example/"))
        assert list(archive_tables(view))


def mutate_and_look(root: Path, mutations: int, seed: int, monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """Damage the build below `root`, look at it, put it back, over and over; how often what was found."""
    content, kept = root / "content", root / "kept"
    shutil.copytree(content, kept)
    files = sorted(path.relative_to(kept) for path in kept.rglob("*") if path.is_file())
    texts = [kept / file for file in files if file.suffix in (".md", ".yml", ".csv")]
    others = sorted({word for path in texts for word in re.findall(r"[\w.-]+", path.read_text("utf-8"))})
    others += ["9999-12-31", "0001-01-01", "23:30-00:30", "n/a", "5.1 to 5.3"]
    counted: Counter[str] = Counter()
    closings: list[bool] = []

    def closing(build: Build, beside: Collection[str] = ()) -> Build:
        closed = close_build(build, beside)
        closings.append(closed is not build)
        assert close_build(closed) is closed
        return closed

    monkeypatch.setattr("journal.reading.build.close_build", closing)
    for number in range(mutations):
        random = Random(f"{seed}-{number}")
        for _ in range(random.choice([1, 1, 1, 2, 3])):
            there = [content / file for file in files if (content / file).is_file()]
            counted[change_file(random, random.choice(there), others)] += 1
        try:
            opened = look_into(root)
            assert closings.pop() <= has_errors(opened.problems), "something was taken out without an error"
        except Exception as trouble:
            trouble.add_note(f"seed {seed}, mutation {number}")
            raise
        counted["with errors" if has_errors(opened.problems) else "sound"] += 1
        if number % 4 == 0:
            draw_pages(opened)
        if number % 10 == 0:
            for command in (["hours", "--json"], ["check", "--json"], ["today"]):
                result = CliRunner().invoke(main, [*command, "--build", str(root)])
                assert isinstance(result.exception, SystemExit | None), (seed, number, command)
        shutil.rmtree(content)
        shutil.copytree(kept, content)
    return counted


def tried(name: str, otherwise: int) -> int:
    """A number from the environment."""
    return int(os.environ.get(name, otherwise))


@pytest.mark.parametrize("which", ["tiny", pytest.param("first-weeks", marks=pytest.mark.slow)])
def test_no_mutation_opens_a_build(tiny: Path, which: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever is done to a file: three views and all rules, no traceback, no ID without its record."""
    if which == "first-weeks":
        shutil.rmtree(tiny / "content")
        shutil.copytree(FIRST_WEEKS, tiny / "content")
    mutate_and_look(tiny, 24, 11, monkeypatch)


@pytest.mark.slow
@pytest.mark.parametrize("which", ["tiny", "first-weeks"])
def test_no_mutation_of_many_opens_a_build(tiny: Path, which: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same, many times over; the seed and what was met are printed."""
    mutations, seed = tried("CLOSED_MUTATIONS", 1000) // 2, tried("CLOSED_SEED", 20261127)
    if which == "first-weeks":
        shutil.rmtree(tiny / "content")
        shutil.copytree(FIRST_WEEKS, tiny / "content")
    counted = mutate_and_look(tiny, mutations, seed, monkeypatch)
    print(f"\n{which}: {mutations} mutations, seed {seed}: {dict(counted)}")
