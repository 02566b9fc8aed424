"""Entries, inspections, lists and pages: what is read, and what is said of slips in them."""

from __future__ import annotations

import os
import unicodedata
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from making import BUILD_YML, MakeBuild, entry, read, words

from journal.base.model import Construction, Outcome, PhotoFacts, Units
from journal.base.problems import Grade, Problem
from journal.media.photos import Examined
from journal.reading.build import read_build

LOOK = """\
---
date: 2026-03-14
assembly: flaps
stage: closing
inspector: insp
outcome: passed with findings
findings:
  - {id: F1, text: a burr in bay 3, closed_on: 2026-03-15, closed_by: a}
  - {text: shop head 12 is low}
---
All bays seen.
"""


TASK, NO_PAPER = "\nW,1,Ribs,3,0,3,4", "\nx.pdf,2026-01-01,invoice,Kit"
"""A row of tasks.csv; one of records.csv whose paper is not there."""


def only(problems: tuple[Problem, ...], file: str) -> list[str]:
    """The words told of one file."""
    return [problem.word for problem in problems if problem.file == f"content/{file}"]


def test_everything_an_entry_can_say(make_build: MakeBuild) -> None:
    """Each key arrives typed: exact fractions, enumerations, IDs, flags."""
    matter = """
title: Skeletons
people: [ada, hanne]
place: hangar
tools: [C-frame,  c-FRAME , No. 30 drill]
methods: [dimpling]
fasteners:
  - {rivet: AN470AD4-5, grip: 0.125 in, count: 48, shop_head: 0.19 in x 0.06 in, edge: 0.28 in}
torque: [{bolt: AN4-10A, nut: tension, value: 62 in-lb, drag: 8 in-lb, wrench: W1}]
video: https://video.example.org/1
answers: {no-photo: The camera was away.}
private: yes
"""
    build, problems = read(make_build({"entries/a/index.md": entry(matter)}))
    told = build.entries[0]
    assert words(problems) == []
    assert (told.people, told.place, told.private) == (("ada", "hanne"), "hangar", True)
    assert told.tools == ("C-frame", "No. 30 drill")
    rivets = told.fasteners[0]
    figures = [one and one.value for one in (rivets.grip, rivets.shop_head_width, rivets.edge)]
    assert figures == [Fraction(1, 8), Fraction(19, 100), Fraction(7, 25)]
    setting = told.torque[0]
    assert (setting.nut, setting.value.value, setting.drag and setting.drag.value) == ("tension", 62, 8)
    assert told.answers == {"no-photo": "The camera was away."}
    assert told.where["answers.no-photo"] == (11, 11)


def test_defaults_of_an_entry(make_build: MakeBuild) -> None:
    """Everyone with role builder worked, at the first place, under a title from heading or folder."""
    files = {
        "entries/2026-02-07-flap-skeletons/index.md": entry(""),
        "entries/2026-02-08-x/index.md": entry("date: 2026-02-08", "# Ribs at last\n\nText."),
    }
    build, _ = read(make_build(files))
    first, second = build.entries
    assert (first.people, first.place, first.title) == (("ada", "bo"), "home", "Flap skeletons")
    assert second.title == "Ribs at last"
    assert "Ribs at last" not in second.body


@pytest.mark.parametrize(
    ("matter", "word", "grade"),
    [
        ("steps: [5.9]", "unknown-step", "error"),
        ("steps: [5.3 to 5.1]", "range-backwards", "error"),
        ("steps: [7.1]", "step-elsewhere", "finding"),
        ("people: [hanna]", "unknown-person", "error"),
        ("place: hangr", "unknown-place", "error"),
        ("materials: [pr-1]", "unknown-material", "error"),
        ("photos: {IMG_1.jpg: x}", "photo-missing", "error"),
        ("video: ftp://x", "bad-video", "error"),
        ("video: javascript:alert(1)", "bad-video", "error"),
        ("fasteners: [{grip: 1}]", "key-missing", "error"),
        ("fasteners: [{rivet: AN470AD4-5, grip: thick}]", "bad-length", "error"),
        ("torque: [{bolt: AN4, nut: tension, value: 62}]", "bad-torque", "error"),
        ("torque: [{bolt: AN4, nut: loose, value: 62 in-lb}]", "bad-nut", "error"),
        ("answers: {no-photo: ''}", "answer-empty", "error"),
        ("hours:", "no-hours", "finding"),
        ("draft: maybe", "bad-flag", "error"),
        ("steps: {5.1: x}", "not-a-list", "error"),
        ("tools: [drill, [reamer]]", "not-text", "error"),
        ("fasteners: [AN470AD4-5]", "not-a-mapping", "error"),
        ("fasteners: [{rivet: AN470AD4-5, called_for: [a, b]}]", "not-a-mapping", "error"),
        ("fasteners: [{rivet: AN470AD4-5, called_for: {value: 0.3 in, page: 5-1}}]", "bad-call-out", "error"),
        ("fasteners: [{rivet: AN470AD4-5, called_for: {part: AN470AD4-5, tolerance: 3}}]", "bad-call-out", "finding"),
        ("video: 'https://[x'", "bad-video", "error"),
        ("photos: [[IMG_1.jpg]]", "not-text", "error"),
        ("Title: Ribs\ntitle: Spar", "key-twice", "error"),
        ('title: "C:\\Users"', "yaml-escape", "error"),
    ],
)
def test_a_slip_in_an_entry(make_build: MakeBuild, matter: str, word: str, grade: str) -> None:
    """Each has its code word, its grade and a way out; errors keep the entry from being used."""
    build, problems = read(make_build({"entries/a/index.md": entry(matter)}))
    assert [(p.word, p.grade.value) for p in problems] == [(word, grade)]
    assert problems[0].hint
    assert len(build.entries) == (grade == "finding")


@pytest.mark.parametrize(
    ("photos", "word"),
    [("{IMG_1.jpg: [a burr]}", "not-text"), ("[{file: IMG_1.jpg, caption: a}, {file: img_1.jpg}]", "key-twice")],
)
def test_a_slip_under_photos(make_build: MakeBuild, photos: str, word: str) -> None:
    """A caption is a text, and a picture has one: each is an error with a way out."""
    files = {"entries/a/index.md": entry(f"photos: {photos}"), "entries/a/IMG_1.jpg": b"x"}
    build, problems = read(make_build(files))
    assert [(p.word, p.line, bool(p.hint)) for p in problems if p.grade is Grade.ERROR] == [(word, 2, True)]
    assert build.entries == ()


def test_a_line_behind_a_private_passage_is_told(make_build: MakeBuild) -> None:
    """Without a blank line before it, it is private as well, and its writer may not know."""
    text = entry("", "!!! private\n    Not for all.\nFor all?")
    build, problems = read(make_build({"entries/a/index.md": text}))
    assert [(p.word, p.line) for p in problems] == [("private-unindented", 9)]
    assert len(build.entries) == 1


@pytest.mark.parametrize("there", ["entries", "records"])
def test_a_folder_too_far_down_is_an_error(make_build: MakeBuild, there: str) -> None:
    """What lies in it is not read, and that is said."""
    folders = "/".join("abcdefghijklmnopqr")
    _, problems = read(make_build({f"{there}/{folders}/index.md": entry("")}))
    assert "folder-too-deep" in words(problems)


def test_a_file_too_large_for_a_text_is_told(make_build: MakeBuild) -> None:
    """It is named and not read."""
    root = make_build({"terms.md": "| term | meaning |\n"})
    os.truncate(root / "content/terms.md", 17 * 2**20)
    _, problems = read(root)
    assert [(p.file, p.word) for p in problems] == [("content/terms.md", "file-too-large")]


def test_missing_date_and_assembly_are_errors(make_build: MakeBuild) -> None:
    """Without them an entry stands nowhere."""
    build, problems = read(make_build({"entries/a/index.md": "---\nhours: 1:00\n---\nText\n"}))
    assert (words(problems), build.entries) == (["key-missing", "key-missing"], ())


def test_a_private_mark_that_hides_nothing_is_an_error(make_build: MakeBuild) -> None:
    """Text after `!!! private` that is not indented would be published: it stops the build."""
    _, problems = read(make_build({"entries/a/index.md": entry("", "!!! private\nour address")}))
    assert words(problems) == ["private-empty"]
    _, problems = read(make_build({"entries/a/index.md": entry("", "!!! private\n    our address\n\nnext")}))
    assert words(problems) == []


@pytest.mark.parametrize(
    ("body", "word", "line"),
    [
        ("!!! private\nour address", "private-empty", 1),
        ("One.\n\nTwo.\n\n!!! private\nour address", "private-empty", 5),
        ("One.\n\n!!! private\n    our address\nnext", "private-unindented", 5),
    ],
)
@pytest.mark.parametrize("more", ["", "title: Ribs\npeople: [ada]"])
def test_a_mark_is_told_at_its_line_of_the_file(
    make_build: MakeBuild, body: str, word: str, line: int, more: str
) -> None:
    """The front matter is counted, in an entry as on a page."""
    text = entry(more, body)
    above = text.index(body)
    _, problems = read(make_build({"entries/a/index.md": text}))
    assert [(one.word, one.line) for one in problems] == [(word, text.count("\n", 0, above) + line)]
    build, problems = read(
        make_build({"entries/a/index.md": entry(""), "pages/house.md": f"---\ntitle: House\n---\n{body}\n"})
    )
    assert [(one.word, one.line) for one in problems] == [(word, 3 + line)]
    assert all(page.body_line == 4 for page in build.pages)


# ------------------------------------------------------------------------------------------ photos


def with_photos(root: Path, names: dict[str, PhotoFacts]) -> tuple[object, tuple[Problem, ...]]:
    """Read `root` with files of these names in entry a, whose facts are as given."""
    folder = root / "content/entries/a"
    for name in names:
        (folder / name).write_bytes(name.encode())

    def examine(uris: object) -> dict[str, Examined]:
        return {f"content/entries/a/{name}": Examined(sha256=name, facts=facts) for name, facts in names.items()}

    return read_build(root, examine)


def shot(hour: int, year: int = 2026) -> PhotoFacts:
    """A picture taken on 7 February at this hour."""
    return PhotoFacts(kind="JPEG", width=4, height=3, taken=datetime(year, 2, 7, hour))


def test_photos_stand_in_capture_order(make_build: MakeBuild) -> None:
    """By the camera's time; a picture without a trustworthy one follows its neighbour by name."""
    root = make_build({"entries/a/index.md": entry("")})
    facts = {"IMG_9.jpg": shot(9), "IMG_10.jpg": shot(1, 1980), "IMG_11.jpg": shot(8), "IMG_2.jpg": PhotoFacts()}
    build, _ = with_photos(root, facts)
    assert [p.name for p in build.entries[0].photos] == ["IMG_2.jpg", "IMG_11.jpg", "IMG_9.jpg", "IMG_10.jpg"]


@pytest.mark.parametrize("year", [1999, 2099])
def test_a_time_years_away_from_the_others_orders_nothing(make_build: MakeBuild, year: int) -> None:
    """A clock that was set wrong would bring its picture to the head of the entry, or to its end."""
    root = make_build({"entries/a/index.md": entry("")})
    facts = {"IMG_1.jpg": shot(8), "IMG_2.jpg": shot(7, year), "IMG_3.jpg": shot(9), "IMG_4.jpg": shot(7, 2024)}
    build, _ = with_photos(root, facts)
    assert [p.name for p in build.entries[0].photos] == ["IMG_4.jpg", "IMG_1.jpg", "IMG_2.jpg", "IMG_3.jpg"]


def test_captions_front_matter_wins(make_build: MakeBuild) -> None:
    """Both are the same thing; when they differ the front matter wins and a finding says so."""
    text = entry("photos: {IMG_1.jpg: from above}", "![from below](IMG_1.jpg)\n\n![aside](<IMG (2).jpg>)")
    build, problems = with_photos(
        make_build({"entries/a/index.md": text}), {"IMG_1.jpg": shot(9), "IMG (2).jpg": shot(10), "IMG_3.jpg": shot(11)}
    )
    photos = {photo.name: photo for photo in build.entries[0].photos}
    assert words(problems) == ["caption-twice"]
    assert (photos["IMG_1.jpg"].caption, photos["IMG (2).jpg"].caption) == ("from above", "aside")


SAYS: dict[str, tuple[dict[str, object], list[str]]] = {
    "Ribs in place": ({"caption": "Ribs in place"}, []),
    "{caption: Ribs, step: 5.1, people: [Ada, bo]}": ({"caption": "Ribs", "step": "5.1", "people": ("ada", "bo")}, []),
    "{inside: yes}": ({"inside": True, "shut_by": None}, []),
    "{inside: 5.4}": ({"inside": True, "shut_by": "5.4"}, []),
    "{inside: no, cover: yes}": ({"inside": False, "cover": True, "private": False}, []),
    "{private: yes}": ({"private": True, "identity": False}, []),
    "{identity: yes}": ({"private": True, "identity": True}, []),
    # A slip: what a picture may show is not known then, so it is held back where that could matter.
    "{step: 5.9}": ({}, ["unknown-step"]),
    "{people: ivo}": ({}, ["unknown-person"]),
    "{private: perhaps}": ({}, ["bad-flag"]),
    "private": ({}, ["bad-flag"]),
    "[a, b]": ({}, ["not-text"]),
    "{captoin: Ribs}": ({}, ["unknown-key"]),
    "{poster: 3}": ({}, ["unknown-key"]),
    "{turn: 45}": ({}, ["bad-turn"]),
}


@pytest.mark.parametrize("said", SAYS)
def test_everything_that_can_be_said_of_a_photo(make_build: MakeBuild, said: str) -> None:
    """As a caption alone, or each thing under its key; a slip is an error of one line."""
    told, slips = SAYS[said]
    root = make_build({"entries/a/index.md": entry(f"photos: {{IMG_1.jpg: {said}}}")})
    build, problems = with_photos(root, {"IMG_1.jpg": shot(9)})
    assert words(problems) == slips
    if not slips:
        (photo,) = build.entries[0].photos
        assert {name: getattr(photo, name) for name in told} == told


def test_a_photo_placed_only_in_private_is_private(make_build: MakeBuild) -> None:
    """Placed in public as well, it is public."""
    body = "!!! private\n    ![one](IMG_1.jpg)\n    ![two](IMG_2.jpg)\n\n![two](IMG_2.jpg)"
    build, _ = with_photos(
        make_build({"entries/a/index.md": entry("photos: {IMG_3.jpg: {private: true}}", body)}),
        {"IMG_1.jpg": shot(9), "IMG_2.jpg": shot(10), "IMG_3.jpg": shot(11)},
    )
    photos = build.entries[0].photos
    assert [photo.private for photo in photos] == [True, False, True]
    assert [(photo.caption, photo.private_caption) for photo in photos] == [("", "one"), ("two", ""), ("", "")]


def test_an_unreadable_photo_is_a_finding(make_build: MakeBuild) -> None:
    """The build goes on with a placeholder."""
    root = make_build({"entries/a/index.md": entry("")})
    build, problems = with_photos(root, {"IMG_1.jpg": PhotoFacts(trouble="the file is cut short")})
    assert [(p.word, p.grade.value) for p in problems] == [("photo-unreadable", "finding")]
    assert build.entries[0].photos[0].facts.trouble


def test_names_in_another_unicode_form_are_found(make_build: MakeBuild) -> None:
    """A name typed composed finds the file that a disk keeps decomposed."""
    name = unicodedata.normalize("NFD", "Flügel.jpg")
    root = make_build({"entries/a/index.md": entry('photos: {"Flügel.jpg": wing}')})
    build, problems = with_photos(root, {name: shot(9)})
    assert (words(problems), build.entries[0].photos[0].caption) == ([], "wing")


def test_what_lies_beside_the_photos(make_build: MakeBuild) -> None:
    """Clips are taken; hidden files passed over; anything else is pointed out."""
    files = {
        "entries/a/index.md": entry(""),
        "entries/a/film.MOV": b"x" * 7,
        "entries/a/.DS_Store": b"",
        "entries/a/notes.pdf": b"",
        "entries/a/more/IMG_1.jpg": b"",
        "entries/b/IMG_1.jpg": b"",
        "entries/stray.md": "x",
        "step.csv": "x",
    }
    build, problems = read(make_build(files))
    assert [(clip.name, clip.bytes) for clip in build.entries[0].clips] == [("film.MOV", 7)]
    assert sorted(words(problems)) == ["folder-passed-over", "no-index", "stray-file", "unknown-file", "unknown-file"]
    assert 'did you mean "steps.csv"?' in [problem.hint for problem in problems]


# ------------------------------------------------------------------------------------- inspections


def test_an_inspection(make_build: MakeBuild) -> None:
    """Outcome, stage, and findings with how they were closed; a finding without ID is numbered."""
    files = {"inspections/2026-03-14-look/index.md": LOOK, "entries/a/index.md": entry("")}
    build, problems = read(make_build(files))
    inspection = build.inspections[0]
    assert words(problems) == []
    assert (inspection.outcome, inspection.stage, inspection.title) == (Outcome.PASSED_WITH_FINDINGS, "closing", "Look")
    assert [(f.id, f.open, f.closed_by) for f in inspection.findings] == [("F1", False, "a"), ("2", True, None)]


@pytest.mark.parametrize(
    ("old", "new", "word"),
    [
        ("closed_by: a", "closed_by: aa", "unknown-entry"),
        ("inspector: insp", "inspector: inspo", "unknown-person"),
        ("passed with findings", "passd", "bad-outcome"),
        ("assembly: flaps\n", "", "key-missing"),
        ("text: shop head 12 is low", "id: F1, text: twice", "finding-twice"),
        ("id: F1, text: a burr in bay 3", "id: F1", "key-missing"),
    ],
)
def test_slips_in_an_inspection(make_build: MakeBuild, old: str, new: str, word: str) -> None:
    """Each is an error at its place."""
    files = {"inspections/x/index.md": LOOK.replace(old, new), "entries/a/index.md": entry("")}
    build, problems = read(make_build(files))
    assert (words(problems), build.inspections) == ([word], ())


# ------------------------------------------------------------------------------------------- lists


def test_csv_as_rfc_4180_has_it(make_build: MakeBuild) -> None:
    """Quoted commas, doubled quotes, line breaks in fields, CRLF (RFC 4180 section 2, rules 1 to 7)."""
    text = 'part,description,crate,listed,found,where\r\n"W-1007-L","rib, ""nose""",1,12,12,"shelf\r\ntwo"\r\n'
    build, problems = read(make_build({"inventory.csv": b"\xef\xbb\xbf" + text.encode()}))
    item = build.inventory[0]
    assert words(problems) == []
    assert (item.description, item.kept_in, item.listed) == ('rib, "nose"', "shelf\ntwo", 12)


@pytest.mark.parametrize(
    ("file", "text", "word", "line", "column"),
    [
        ("inventory.csv", "crate,part,description,listed,found\n1,W-1,rib,a dozen,2\n", "bad-number", 2, 11),
        ("inventory.csv", "crate|part|description|listed|found\n1|W-1|rib|1|2\n", "column-missing", 1, 1),
        ("inventory.csv", "crate,part,listed,found\n", "column-missing", 1, 1),
        ("inventory.csv", "crate,part,description,listed,found,condtion\n", "unknown-column", 1, 37),
        ("inventory.csv", 'crate,part,description,listed,found\n1,"W"-1,rib,1,1\n', "csv-syntax", 2, 1),
        ("inventory.csv", "crate,part,description,listed,found\n1,W-1,rib,nose,1,1,1\n", "too-many-fields", 2, 18),
        ("inventory.csv", "", "no-heading", 1, 1),
        ("tasks.csv", "section,task,name,maker,paid,assembly,fabrication\nW,1,Ribs,3,0,3,3\n", "tenths-sum", 2, 10),
        ("tasks.csv", "section,task,name,maker,paid,assembly,fabrication\nW,1,Ribs,n/a,0,5,5\n", "tenths-mixed", 2, 10),
        ("tasks.csv", "section,task,name,maker,paid,assembly,fabrication\nW,1,Ribs,0.5,0,5,5\n", "bad-tenths", 2, 10),
        ("costs.csv", 'date,assembly,what,amount,currency\n2026-02-30,flaps,kit,"1,50",EUR\n', "bad-amount", 2, 22),
        ("costs.csv", "date,assembly,what,amount,currency\n2026-02-01,flapz,kit,1.50,EUR\n", "unknown-assembly", 2, 12),
        ("costs.csv", "date,assembly,what,amount,currency\n2026-02-01,flaps,kit,1.50,euro\n", "bad-currency", 2, 27),
        ("records/records.csv", "file,date,kind,title\nx.pdf,2026-01-01,invoice,Kit\n", "record-missing", 2, 1),
        (
            "records/records.csv",
            f"file,date,kind,title\n{'9' * 400}.pdf,2026-01-01,invoice,Kit\n",
            "record-missing",
            2,
            1,
        ),
        ("materials.csv", "id,name,work_life\np1,Sealant,long\n", "bad-work-life", 2, 12),
        ("materials.csv", "id,name,used_up\np1,Sealant,nearly\n", "bad-date", 2, 12),
        ("inventory.csv", "crate,part,description,listed,found,claimed_on\n1,W-1,rib,2,1,soon\n", "bad-date", 2, 15),
        ("rates.csv", "date,currency,to,rate,source\n2026-02-01,EUR,CHF,0,bank\n", "bad-rate", 2, 20),
        ("rates.csv", "date,currency,to,rate,source\n,EUR,CHF,0.95,bank\n", "cell-empty", 2, 1),
        ("rates.csv", "date,currency,to,rate,source\n2026-02-01,EUR,CHF,0.95,\n", "cell-empty", 2, 25),
        ("rates.csv", "date,currency,to,rate,source\n2026-02-01,EUR,francs,0.95,bank\n", "bad-currency", 2, 16),
        (
            "rates.csv",
            "date,currency,to,rate,source\n2026-02-01,EUR,CHF,0.95,bank\n2026-02-01,EUR,CHF,0.96,bank\n",
            "rate-twice",
            3,
            1,
        ),
        ("materials.csv", "id,name,expires\np1,Primer,03/12/2026\n", "bad-date", 2, 11),
        ("materials.csv", "id,name,record\np1,Primer,invoice.pdf\n", "unknown-record", 2, 11),
        ("tools.csv", "name,checked_on,check_every_months\nW1,2026-01-01,yearly\n", "bad-number", 2, 15),
        ("steps.csv", "assembly,step,title\nflaps,5.1,Ribs\nflaps,5.1,Ribs\n", "duplicate-step", 3, 7),
        ("steps.csv", "assembly,step,title,same_as\nflaps,5.1,Ribs,5.2\n", "unknown-step", 2, 16),
        ("terms.md", "| word | meaning |\n|---|---|\n| a | b |\n", "terms-heading", 1, 1),
        ("terms.md", "| term | meaning |\n|---|---|\n| a |\n", "term-empty", 3, 1),
        ("terms.md", "| term | meaning |\n|---|---|\n| a | b |\n| a | c |\n", "term-twice", 4, 1),
        ("steps.csv", "assembly,step,title\nflaps,,Ribs\n", "cell-empty", 2, 7),
        ("steps.csv", 'assembly,step,title\nflaps,"5,1",Ribs\n', "bad-step", 2, 7),
        ("steps.csv", "assembly,step,title\nflaps,5.10,Ribs\nflaps,5.10,Ribs\n", "duplicate-step", 3, 7),
        ("records/records.csv", "file,date,kind,title\n,2026-01-01,invoice,Kit\n", "cell-empty", 2, 1),
        ("records/records.csv", f"file,date,kind,title{2 * NO_PAPER}\n", "record-twice", 3, 1),
        ("tasks.csv", "section,task,name,maker,paid,assembly,fabrication\nW,,Ribs,3,0,3,4\n", "cell-empty", 2, 3),
        ("tasks.csv", f"section,task,name,maker,paid,assembly,fabrication{2 * TASK}\n", "task-twice", 3, 3),
        ("materials.csv", "id,name\np1,Primer\np1,Primer\n", "material-twice", 3, 1),
        ("bulletins.csv", "id,date,title,concerns,state\n,2026-01-01,Hinges,,\n", "cell-empty", 2, 1),
        ("inventory.csv", "crate,part,description,listed,found,part\n", "column-twice", 1, 7),
    ],
)
def test_a_slip_in_a_list(make_build: MakeBuild, file: str, text: str, word: str, line: int, column: int) -> None:
    """A CSV problem names its row and column and points at the field."""
    _, problems = read(make_build({file: text}))
    told = [(p.word, p.line, p.column) for p in problems if p.file == f"content/{file}"]
    assert (word, line, column) in told
    if file.endswith(".csv") and line > 1 and word not in ("csv-syntax", "too-many-fields"):
        assert 'column "' in next(p for p in problems if p.word == word).message


def test_lists_arrive_typed(make_build: MakeBuild) -> None:
    """Tenths, money, batches and records."""
    files = {
        "tasks.csv": (
            "section,task,name,maker,paid,assembly,fabrication,steps,note\n"
            'Wing,W1,Ribs,3,0,3,4,"5.1 to 5.3; 7.1",\nWing,W2,Floats,n/a,n/a,n/a,n/a,,\n'
        ),
        "costs.csv": "date,assembly,what,amount,currency\n2026-02-01,flaps,kit,1200.50,eur\n",
        "records/records.csv": "file,date,kind,title\nkit.txt,2026-01-02,invoice,Kit\n",
        "records/kit.txt": "x",
        "records/loose.txt": "x",
        "materials.csv": "id,name,batch,expires,record\np1,Primer,B7,2026-12-31,kit.txt\n",
        "terms.md": "| term | meaning | source |\n|---|---|---|\n| dolly, bar | a block \\| anvil | practice |\n",
        "pages/about.md": "# About us\n\nHello.",
    }
    build, problems = read(make_build(files))
    assert words(problems) == ["record-unlisted"]
    assert build.tasks[0].steps == ("5.1", "5.2", "5.3", "7.1")
    assert [task.applies for task in build.tasks] == [True, False]
    assert (build.costs[0].amount, build.costs[0].currency) == (Decimal("1200.50"), "EUR")
    assert build.materials["p1"].expires == date(2026, 12, 31)
    assert (build.terms[0].names, build.terms[0].meaning) == (("dolly", "bar"), "a block | anvil")
    assert (build.pages[0].title, build.pages[0].body.strip()) == ("About us", "Hello.")


# --------------------------------------------------------------------------------------- build.yml


@pytest.mark.parametrize(
    ("old", "new", "word"),
    [
        ("zone: Europe/Zurich", "zone: Europe/Zurick", "unknown-zone"),
        ("zone: Europe/Zurich", "zone: Europe", "unknown-zone"),
        ("zone: Europe/Zurich", "zone: ../../etc/passwd", "unknown-zone"),
        ("role: helper", "role: halper", "bad-role"),
        ("planned_hours: 60", "planned_hours: sixty", "bad-hours"),
        ("counts: false", "counts: nope", "bad-flag"),
        ("name: Tarn, ", "", "key-missing"),
        ("begun: 2026-01-10", "begun: 10/1/2026", "bad-date"),
        ("begun:", "begin:", "unknown-key"),
        ("begun: 2026-01-10", "begun: 2026-01-10\nshow: [address]", "bad-show"),
        ("begun: 2026-01-10", "begun: 2026-01-10\nphotos: {opacity: 2}", "bad-number"),
        ("begun: 2026-01-10", "begun: 2026-01-10\nphotos: {corner: middle}", "bad-corner"),
        ("begun: 2026-01-10", "begun: 2026-01-10\nclosing_inspections: maybe", "bad-closing-inspections"),
        ("begun: 2026-01-10", "begun: 2026-01-10\nrules: atlantis", "bad-rules"),
        ("begun: 2026-01-10", "begun: 2026-01-10\nrules: ../content/build.yml", "bad-rules"),
        ("begun: 2026-01-10", "begun: 2026-01-10\nclips: {budget: plenty}", "bad-budget"),
        ("begun: 2026-01-10", "begun: 2026-01-10\nconstruction: [wood, fabrik]", "bad-construction"),
        ("begun: 2026-01-10", "begun: 2026-01-10\nunits: meters", "bad-units"),
        ("begun: 2026-01-10", "begun: 2026-01-10\nlanguage: german", "bad-language"),
        ("  home: {name", "  '': {name: nowhere}\n  home: {name", "id-missing"),
        ("begun: 2026-01-10", "begun: 2026-01-10\nphotos: {opacity: half}", "bad-number"),
        (
            "aircraft: {name: Tarn, kind: two-seat low-wing, registration: ZZ-TRN, serial: T-0042}",
            "aircraft: Tarn",
            "not-a-mapping",
        ),
    ],
)
def test_a_slip_in_build_yml(make_build: MakeBuild, old: str, new: str, word: str) -> None:
    """Told once, with a way out, and not again for every entry that depends on it."""
    files = {"build.yml": BUILD_YML.replace(old, new), "entries/a/index.md": entry("people: [hanne]")}
    _, problems = read(make_build(files))
    assert [(p.file, p.word) for p in problems] == [("content/build.yml", word)]


def test_how_it_is_built_and_told(make_build: MakeBuild) -> None:
    """Ways of building, units and the builder's language are read in any capitals; without them it is as it was."""
    said = BUILD_YML + "construction: [Wood, fabric]\nunits: Metric\nlanguage: de_at\n"
    (told, problems), (silent, _) = read(make_build({"build.yml": said})), read(make_build())
    assert (told.construction, told.units, told.language) == (
        {Construction.WOOD, Construction.FABRIC},
        Units.METRIC,
        "de-AT",
    )
    assert not problems
    assert (silent.construction, silent.units, silent.language) == ({Construction.METAL}, Units.INCHES, "")


def test_a_slip_in_a_closed_list_is_guessed_at(make_build: MakeBuild) -> None:
    """The nearest word is offered, for a way of building as for units."""
    said = BUILD_YML + "construction: [fabrik]\nunits: metrik\n"
    _, problems = read(make_build({"build.yml": said}))
    assert [problem.hint for problem in problems] == ['did you mean "fabric"?', 'did you mean "metric"?']


def test_without_build_yml_the_rest_is_still_read(make_build: MakeBuild) -> None:
    """One error for the missing file, and the mistakes of the entries beside it."""
    _, problems = read(make_build({"build.yml": None, "entries/a/index.md": entry("hours: 2;45")}))
    assert [(p.file, p.word) for p in problems] == [
        ("content/build.yml", "file-missing"),
        ("content/entries/a/index.md", "bad-hours"),
    ]


def test_reading_writes_nothing(make_build: MakeBuild) -> None:
    """The folder is byte for byte and file for file what it was."""
    root = make_build({"entries/a/index.md": entry("steps: [5.1]"), "inspections/x/index.md": LOOK})

    def state() -> list[tuple[str, int, bytes]]:
        return sorted(
            (str(path), path.stat().st_mtime_ns, path.read_bytes()) for path in root.rglob("*") if path.is_file()
        )

    before = state()
    read(root)
    assert state() == before


def test_an_unreadable_file_is_told(make_build: MakeBuild, monkeypatch: pytest.MonkeyPatch) -> None:
    """Permission denied is a problem with a name, not a crash."""
    root = make_build({"entries/a/index.md": entry("")})
    plain = Path.read_bytes

    def refuse(path: Path) -> bytes:
        if path.name == "index.md":
            raise PermissionError(13, "Permission denied", str(path))
        return plain(path)

    monkeypatch.setattr(Path, "read_bytes", refuse)
    _, problems = read(root)
    assert [(p.word, p.message) for p in problems] == [("file-unreadable", "cannot be read: Permission denied")]


# --------------------------------------------------------------------------------------------- drafts

HALF_WRITTEN = ["title: Flaps: day two", "date: soon", "steps: [5.9]", "private: perhaps", "hours: 3,25", "colour: red"]


@pytest.mark.parametrize("matter", HALF_WRITTEN)
def test_a_half_written_draft_stops_nothing(make_build: MakeBuild, matter: str) -> None:
    """What is wrong with it is told as a finding; the rest of the build is sound."""
    files = {
        "entries/a/index.md": entry(""),
        "entries/b/index.md": entry(f"{matter}\ndraft: yes  # still writing"),
        "pages/p.md": f"---\ndraft: true\n{matter}\n---\n",
    }
    build, problems = read(make_build(files))
    assert [one.id for one in build.entries] == ["a"]
    assert {problem.file for problem in problems} >= {"content/entries/b/index.md"}
    assert {problem.grade.value for problem in problems} == {"finding"}


def test_a_draft_without_its_closing_line_stops_nothing(make_build: MakeBuild) -> None:
    """Even where the front matter could not be read."""
    _, problems = read(make_build({"entries/b/index.md": "---\ndraft: true\ndate: 2026-02-07\n"}))
    assert [(p.word, p.grade.value) for p in problems] == [("front-matter-open", "finding")]


def test_draft_in_the_text_is_no_draft(make_build: MakeBuild) -> None:
    """Only the front matter says so."""
    _, problems = read(make_build({"entries/b/index.md": entry("colour: red", "draft: true")}))
    assert [(p.word, p.grade.value) for p in problems] == [("unknown-key", "error")]


def test_an_inspection_that_names_a_broken_draft_is_told(make_build: MakeBuild) -> None:
    """What is in no record closes no finding."""
    files = {"entries/a/index.md": entry("draft: true\ncolour: red"), "inspections/x/index.md": LOOK}
    _, problems = read(make_build(files))
    assert [(p.word, p.grade.value) for p in problems] == [("unknown-key", "finding"), ("unknown-entry", "error")]


# -------------------------------------------------------------------- entries in other places, and what is no entry


def test_entries_in_the_forms_that_people_give_them(make_build: MakeBuild) -> None:
    """Other capitals, another name, the folder of a year, a file without a folder: each is read, by a stable name."""
    files: dict[str, object] = {
        "entries/a/Index.md": entry("date: 2026-02-01"),
        "entries/b/INDEX.MD": entry("date: 2026-02-02"),
        "entries/c/entry.md": entry("date: 2026-02-03"),
        "entries/d/what-i-did.md": entry("date: 2026-02-04"),
        "entries/2025/2025-12-30-e/index.md": entry("date: 2026-02-05"),
        "entries/2025/12/f/index.md": entry("date: 2026-02-06"),
        "entries/2025/g.md": entry("date: 2026-02-07"),
        "entries/2025-03-02-spar-work.md": entry(
            "date: 2026-02-08\nphotos: {IMG_1.jpg: one}", "![two](IMG%202.jpg)\n\n![three](<IMG 2.jpg>)"
        ),
        "entries/IMG_1.jpg": b"",
        "entries/IMG 2.jpg": b"",
        "entries/IMG_3.jpg": b"",
        "inspections/2026/x.md": LOOK,
        "pages/sub/x.md": "# X\n",
        "pages/y.MD": "# Y\n",
    }
    build, problems = read(make_build(files))
    assert [one.id for one in build.entries] == ["a", "b", "c", "d", "2025-12-30-e", "f", "g", "2025-03-02-spar-work"]
    assert build.entries[-1].title == "Spar work"
    assert {photo.src_uri for photo in build.entries[-1].photos} == {
        "content/entries/IMG_1.jpg",
        "content/entries/IMG 2.jpg",
    }
    assert [one.id for one in build.inspections] == ["x"]
    assert [page.id for page in build.pages] == ["sub/x", "y"]
    told = [(p.file, p.word) for p in problems if p.word != "photo-unreadable"]
    assert told == [("content/entries/IMG_3.jpg", "stray-file")]


def test_a_text_without_front_matter_is_no_entry(make_build: MakeBuild) -> None:
    """Notes that lie about stop nothing: they are named, and the rest is read."""
    files = {"entries/read.md": "x", "entries/scraps/notes.md": "x", "entries/2025/more.md": "x"}
    build, problems = read(make_build(files))
    assert (build.entries, [p.word for p in problems]) == ((), ["no-index", "stray-file", "no-index"])


def test_two_entries_of_one_name_are_an_error(make_build: MakeBuild) -> None:
    """An address, a seal and a link name one entry: the second is told, and not read."""
    files = {"entries/a/index.md": entry(""), "entries/2025/a.md": entry(""), "pages/p.md": "x", "pages/p.MD": "y"}
    build, problems = read(make_build(files))
    assert sorted((p.word, p.grade.value) for p in problems) == [("name-twice", "error")] * 2
    assert len(build.entries) == 1


def test_what_is_not_read_is_named(make_build: MakeBuild) -> None:
    """Files in place of folders, names in other capitals, second lists, pages that are none, files among the seals."""
    root = make_build(
        {
            "entries": "x",
            "Costs.csv": "x",
            "pages/logo.png": b"",
            "records/records.csv": "file,date,kind,title\n",
            "records.csv": "file,date,kind,title\n",
            "seals/notes.txt": "x",
            "inspections/x/index.md": LOOK.replace("closed_by: a", "").replace(", }", "}"),
            "inspections/x/more.md": "x",
        }
    )
    _, problems = read(root)
    assert {(p.file.removeprefix("content/"), p.word, p.grade.value) for p in problems} >= {
        ("entries", "not-a-folder", "error"),
        ("Costs.csv", "name-capitals", "error"),
        ("pages/logo.png", "unknown-file", "finding"),
        ("records.csv", "unknown-file", "finding"),
        ("seals/notes.txt", "unknown-file", "finding"),
        ("inspections/x/index.md", "unknown-file", "finding"),
    }


def test_what_no_file_is_hangs_nothing(make_build: MakeBuild) -> None:
    """Pipes, devices, links in a circle and names in an old encoding: each is told, the rest is read."""
    root = make_build({"entries/a/index.md": entry(""), "entries/p/IMG_1.jpg": b"", "records/x.txt": "x"})
    content = root / "content"
    for name in ("entries/pipe", "entries/p/index.md", "entries/a/IMG_1.jpg", "costs.csv"):
        os.mkfifo(content / name)
    (content / "entries/circle").symlink_to("circle")
    (content / "records/up").symlink_to("..")
    (content / "tasks.csv").symlink_to("/dev/zero")
    (content / os.fsdecode(b"entries/a/Fl\xfcgel.jpg")).write_bytes(b"x")
    build, problems = read(root)
    assert [one.id for one in build.entries] == ["a"]
    assert sorted((p.file.removeprefix("content"), p.word) for p in problems) == sorted(
        [
            *[("", "not-a-file")] * 2,
            *[("/entries", "not-a-file")] * 2,
            *[("/entries/a", "name-unreadable"), ("/entries/a", "not-a-file"), ("/entries/p", "not-a-file")],
            *[("/entries/p", "no-index"), ("/records", "not-a-file"), ("/records", "record-unlisted")],
            *[("/costs.csv", "file-unreadable"), ("/tasks.csv", "file-unreadable")],
        ]
    )


def test_a_folder_that_may_not_be_read_is_told(make_build: MakeBuild, monkeypatch: pytest.MonkeyPatch) -> None:
    """The others are read."""
    root = make_build({"entries/a/index.md": entry(""), "entries/b/index.md": entry("")})
    plain = os.scandir

    def refuse(path: Path) -> object:
        if Path(path).name == "b":
            raise PermissionError(13, "Permission denied", str(path))
        return plain(path)

    monkeypatch.setattr(os, "scandir", refuse)
    build, problems = read(root)
    assert [one.id for one in build.entries] == ["a"]
    assert [(p.file, p.word, p.grade.value) for p in problems] == [("content/entries/b", "file-unreadable", "error")]


BODIES = {
    "<!-- a note\n\nthe rest": ("comment-open", 7),
    "`<!--` in code": None,
    "<!-- a note -->": None,
    "\n".join("  " * depth + "- x" for depth in range(300)): ("text-too-deep", 47),
    "> " * 300 + "x": ("text-too-deep", 7),
    "> " * 20 + "x": None,
    "![" * 100_000: ("too-many-pictures", 7),
}


@pytest.mark.parametrize("body", BODIES, ids=range(len(BODIES)))
def test_a_body_that_could_not_be_shown_is_told(make_build: MakeBuild, body: str) -> None:
    """In one line, for an entry and for a page."""
    _, problems = read(make_build({"entries/a/index.md": entry("", body), "pages/x.md": body}))
    told = [(p.word, p.line) for p in problems if p.file == "content/entries/a/index.md"]
    assert told == ([BODIES[body]] if BODIES[body] else [])
    assert len(problems) == 2 * len(told)


def test_terms_beside_the_table_and_cells_under_no_heading_are_told(make_build: MakeBuild) -> None:
    """Words that nothing reads are named."""
    files = {
        "terms.md": "# Terms\n\nMy own words.\n\n| term | meaning | source |\n|---|---|---|\n| rib | part | | more |\n",
        "inventory.csv": "crate,part,description,listed,found,\n1,W-1,rib,1,1,bent\n1,W-2,rib,1,1,\n",
    }
    _, problems = read(make_build(files))
    assert [(p.word, p.line) for p in problems] == [("unknown-column", 2), ("terms-beside", 3), ("terms-beside", 7)]


def test_what_the_lists_of_supplies_may_say(make_build: MakeBuild) -> None:
    """Claims and replacements, mix, work life and the end of a batch, rates in order of time."""
    build, problems = read(
        make_build(
            {
                "inventory.csv": "crate,part,description,listed,found,claimed_on,promised_for,replacement_note\n"
                "1,W-1,rib,2,1,2026-01-03,1 March 2026,by mail\n",
                "materials.csv": "id,name,mix,work_life,used_up\na,Sealant,10 to 1,2 h,\nb,B,,,2026-02-01\nc,C,,,yes\n"
                "d,D,,,no\n",
                "rates.csv": "date,currency,to,rate,source\n2026-02-01,eur,CHF,0.9512,bank\n"
                "2025-12-01,EUR,CHF,0.94,bank\n",
            }
        )
    )
    assert words(problems) == []
    item = build.inventory[0]
    assert (item.claimed_on, item.promised_for, item.arrived_on) == (date(2026, 1, 3), date(2026, 3, 1), None)
    assert item.replacement_note == "by mail"
    assert [(one.mix, one.work_life_minutes, one.used_up) for one in build.materials.values()] == [
        ("10 to 1", 120, False), ("", None, True), ("", None, True), ("", None, False)
    ]  # fmt: skip
    assert [(rate.date.month, rate.currency, str(rate.rate)) for rate in build.rates] == [
        (12, "EUR", "0.94"), (2, "EUR", "0.9512")
    ]  # fmt: skip
