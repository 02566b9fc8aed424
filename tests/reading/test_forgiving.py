"""What anybody would understand is understood; what can be meant in two ways is refused with both."""

from __future__ import annotations

import pytest
from making import BUILD_YML, STEPS_CSV, MakeBuild, entry, read, words

from journal.base.problems import Grade, has_errors
from journal.reading.dates import parse_date
from journal.reading.hours import parse_duration, parse_span
from journal.reading.text import Notes

DURATIONS = {
    "3h": 180, "3 h": 180, "3h30": 210, "3h30m": 210, "3.5h": 210, "3 h 30 min": 210, "3 hours 30 minutes": 210,
    "1 hour and 20 minutes": 80, "1 h, 30 min": 90, "90min": 90, "90 minutes": 90, "45 m": 45, "2 hrs": 120,
    "3 1/2 hours": 210, "3½": 210, "1/2 h": 30, "¾ h": 45, "3 1/3 h": None,
    "3:15 h": 195, ".5h": 30, "3h70": None, "3.5h 20": None, "h": None, "min": None, "3,5h": None, "3 Std": None,
}  # fmt: skip
SPANS = {
    "6:30pm-9:45pm": (1110, 1305), "6:30-9:45 pm": (1110, 1305), "11-1pm": (660, 780), "9-5pm": (540, 1020),
    "9am-17:00": (540, 1020), "9 a.m. to 11:30 a.m.": (540, 690), "11pm-1am": (1380, 1500), "12am-1am": (0, 60),
    "12pm-1pm": (720, 780), "18h30-21h45": (1110, 1305), "18h-21h": (1080, 1260), "18.30-21.45": (1110, 1305),
    "1830-2145": (1110, 1305), "from 18:30 to 21:45": (1110, 1305), "18:30 until 21:45": (1110, 1305),
    "18:30\N{EM DASH}21:45": (1110, 1305), "7pm to midnight": (1140, 1440), "noon-1pm": (720, 780),
    "midnight - 2am": (0, 120), "13-17.30": (780, 1050),
    "12:30-15": (750, 900), "9:00-17": (540, 1020), "9-12": None,
    "18-21": None, "9am-5": None, "13pm-14pm": None, "18:30-18:30": None,
    "25:00-26:00": None, "24:30-25:00": None, "930-1130": None,
}  # fmt: skip
DAYS = {
    "2025-03-01": "2025-03-01", "2025-3-1": "2025-03-01", "2025/03/01": "2025-03-01", "20250301": "2025-03-01",
    "1 March 2025": "2025-03-01", "1st of March 2025": "2025-03-01", "1-Mar-2025": "2025-03-01",
    "March 1, 2025": "2025-03-01", "Sept 5 2025": "2025-09-05", "Saturday, March 1, 2025": "2025-03-01",
    "Friday the 13th of February 2026": "2026-02-13",
    "1.3.2025": "2025-03-01", "1. 3. 2025": "2025-03-01", "31/12/2025": "2025-12-31", "12/31/2025": "2025-12-31",
    "3/3/2025": "2025-03-03", "2025\N{NON-BREAKING HYPHEN}03\N{NON-BREAKING HYPHEN}01": "2025-03-01",
    "3/1/2025": "bad-date", "1/3/25": "bad-date", "yesterday": "bad-date", "Sun 1 March 2025": "bad-date",
    "1 ma 2025": "bad-date", "13/13/2025": "no-such-date", "29.2.2025": "no-such-date", "0025-03-02": "far-date",
    "2205-01-01": "far-date", "9999-12-31": "far-date", "1900-01-01": "1900-01-01", "2100-12-31": "2100-12-31",
}  # fmt: skip


@pytest.mark.parametrize("text", DURATIONS)
def test_durations_as_people_write_them(text: str) -> None:
    """Whole minutes, or none."""
    assert parse_duration(text) == DURATIONS[text]


@pytest.mark.parametrize("text", SPANS)
def test_spans_as_people_write_them(text: str) -> None:
    """Minutes after midnight, or none."""
    assert parse_span(text) == SPANS[text]


@pytest.mark.parametrize("text", DAYS)
def test_days_as_people_write_them(text: str) -> None:
    """A day, or the word of the error."""
    notes = Notes("x")
    day = parse_date(text, (1, 1), notes)
    assert (str(day) if day else notes.problems[0].word) == DAYS[text]
    assert len(notes.problems) == (day is None)


def test_a_day_of_two_readings_is_refused_with_both() -> None:
    """Neither is taken, both are offered."""
    notes = Notes("x")
    assert parse_date("3/1/2025", (1, 1), notes) is None
    assert notes.problems[0].message == '"3/1/2025" can be 1 March 2025 or 3 January 2025'
    assert notes.problems[0].hint == "write 2025-03-01 or 2025-01-03"


# A line of front matter as it may be written, and one of docs/format.md that means the same.
SAME = [
    ("hours: 18:00-19:00, 20:15-21:00", "hours: [18:00-19:00, 20:15-21:00]"),
    ("hours: 18:00-19:00 and 1h", "hours: [18:00-19:00, 1:00]"),
    ("hours: {Ada: 3h, Bo Lindqvist: 90 min}", "hours: {ada: 3:00, bo: 1:30}"),
    ("date: 1 March 2026\nTITLE: Ribs\nPlace: hangar", "date: 2026-03-01\ntitle: Ribs\nplace: hangar"),
    ("people: Ada, Bo", "people: [ada, bo]"),
    ("people: Ada Bergstrom and hanne", "people: [ada, hanne]"),
    ("people: [ada & bo]", "people: [ada, bo]"),
    ("assembly: Left wing\nsteps: 7.1-7.10", "assembly: left-wing\nsteps: [7.1 to 7.10]"),
    ("assembly: LEFT-WING\nsteps: 7.1 and 7.2", "assembly: left-wing\nsteps: [7.1, 7.2]"),
    ("place: Home Workshop", "place: home"),
    ("steps: 5.1\N{EN DASH}5.3", "steps: [5.1 to 5.3]"),
    ("steps: step 5.1 through 5.2; 5.3", "steps: [5.1, 5.2, 5.3]"),
    ("steps: [5.1 & 5.2]", "steps: [5.1, 5.2]"),
    ("tools: rivet gun, bucking bar", "tools: [rivet gun, bucking bar]"),
    ("methods: dimpling; riveting", "methods: [dimpling, riveting]"),
    ("photos: [IMG_1.jpg]", "photos: {IMG_1.jpg: }"),
    ("photos: IMG_1.jpg, IMG_2.jpg", "photos: {IMG_1.jpg: , IMG_2.jpg: }"),
    ("photos:\n  - img_1.JPG: one\n  - IMG_2.jpg", "photos: {IMG_1.jpg: one, IMG_2.jpg: }"),
    ("hours: Ada 3h, Bo 90 min", "hours: {ada: 3:00, bo: 1:30}"),
    ("hours: Ada 18:00-19:00 and Hanne 1h", "hours: {ada: 18:00-19:00, hanne: 1:00}"),
    ("hours: from 6:30 pm to 8 pm, then 8:15 to 10 pm", "hours: [18:30-20:00, 20:15-22:00]"),
    ("hours: 8:30-11:45 / 12:30-15", "hours: [8:30-11:45, 12:30-15:00]"),
    ("people: Hanne and Bo", "people: [hanne, bo]"),
    ("steps: none", "steps: []"),
    ("tools:\n  - respirator: the good one\n  - drill", 'tools: ["respirator: the good one", drill]'),
    ("photos: [{file: IMG_1.jpg, caption: one}]", "photos: {IMG_1.jpg: {caption: one}}"),
]


@pytest.mark.parametrize(("written", "meant"), SAME)
def test_natural_forms_mean_what_they_say(make_build: MakeBuild, written: str, meant: str) -> None:
    """The same entry, and nothing is told of it."""
    entries = []
    for number, matter in enumerate((written, meant)):
        name = f"e{number}"
        root = make_build({f"entries/{name}/index.md": entry(matter), f"entries/{name}/IMG_1.jpg": b""})
        (root / f"content/entries/{name}/IMG_2.jpg").write_bytes(b"")
        build, problems = read(root)
        assert not has_errors(problems), problems
        told = next(one for one in build.entries if one.id == name)
        photos = [(photo.name, photo.caption) for photo in told.photos]
        entries.append((told.date, told.people, told.time, told.assembly, told.steps, told.place, told.tools, photos))
    assert entries[0] == entries[1]


def test_the_date_may_stand_in_the_name(make_build: MakeBuild) -> None:
    """Where front matter tells none, and only there."""
    matter = "---\nassembly: flaps\nhours: 1:00\n{}---\n\nx\n"
    root = make_build(
        {
            "entries/2026-02-15-a/index.md": matter.format(""),
            "entries/2026-02-15-b/index.md": matter.format("date: 2026-02-16\n"),
            "entries/2026-02-17.md": matter.format("date:\n"),
            "entries/c/index.md": matter.format(""),
            "entries/2026-02-30-d/index.md": matter.format(""),
        }
    )
    build, problems = read(root)
    assert [str(one.date) for one in build.entries] == ["2026-02-15", "2026-02-16", "2026-02-17"]
    assert sorted(problem.word for problem in problems if problem.grade is Grade.ERROR) == [
        "key-missing",
        "no-such-date",
    ]


def test_two_assemblies_are_two_entries(make_build: MakeBuild) -> None:
    """The message says so."""
    _, problems = read(make_build({"entries/a/index.md": entry("assembly: Flaps, Left wing")}))
    (told,) = (problem for problem in problems if problem.word == "unknown-assembly")
    assert told.hint == "write one of: Flaps, Left wing; an entry has one assembly, so make two entries"


def test_commas_stay_where_they_are_meant(make_build: MakeBuild) -> None:
    """An item of a list, and a text in quotes, are one tool whatever is in them."""
    matter = 'tools: ["bar, small", drill]\nmethods: "primed, then painted"'
    build, problems = read(make_build({"entries/a/index.md": entry(matter)}))
    assert words(problems) == []
    assert (build.entries[0].tools, build.entries[0].methods) == (("bar, small", "drill"), ("primed, then painted",))


REFUSED = [
    ("steps: 7.101", "unknown-step", "7.11"),
    ("steps: 5.1-5.9", "unknown-step", "5.1?"),
    ("time: 3:15", "unknown-key", "title"),
    ("notes: bent a rib", "unknown-key", "steps"),
    ("people: adda, bo", "unknown-person", '"bo"'),
    ("assembly: flaps, left-wing", "unknown-assembly", "left-wing"),
    ("hours: 18-21", "bad-hours", "?"),
    ("photos: [IMG_8.jpg]", "photo-missing", "IMG_1"),
]


@pytest.mark.parametrize(("matter", "word", "never"), REFUSED)
def test_no_mend_does_harm(make_build: MakeBuild, matter: str, word: str, never: str) -> None:
    """What would lose something, or is another thing, is not offered."""
    files = {
        "steps.csv": STEPS_CSV + "left-wing,7.11,Paint,7-9,\n",
        "entries/a/index.md": entry(matter),
        "entries/a/IMG_1.jpg": b"",
    }
    _, problems = read(make_build(files))
    told = [problem for problem in problems if problem.grade is Grade.ERROR]
    assert [problem.word for problem in told] == [word]
    assert not (told[0].hint.startswith("did you mean") and never in told[0].hint)


def test_time_is_hours_and_notes_belong_below(make_build: MakeBuild) -> None:
    """Words that people use for a key lead to it, where there is one."""
    matter = "date: 2026-02-07\nassembly: flaps\ntime: 3:15\nnotes: bent a rib"
    _, problems = read(make_build({"entries/a/index.md": f"---\n{matter}\n---\n"}))
    hints = [problem.hint for problem in problems if problem.word == "unknown-key"]
    assert hints == ['did you mean "hours"?', "write it below the closing `---`"]


def test_a_name_of_two_is_refused_with_both(make_build: MakeBuild) -> None:
    """Two places of one name: neither is taken."""
    yml = BUILD_YML.replace("  hangar: {name: hangar}", "  home2: {name: Home workshop}")
    _, problems = read(make_build({"build.yml": yml, "entries/a/index.md": entry("place: home workshop")}))
    assert [(p.word, p.hint) for p in problems] == [("unknown-place", "write one of: home, home2")]


@pytest.mark.parametrize("flag", ["private:", "private: # true", "draft:"])
def test_a_flag_with_nothing_behind_it_is_an_error(make_build: MakeBuild, flag: str) -> None:
    """Who wrote it may have meant to hide something."""
    build, problems = read(make_build({"entries/a/index.md": entry(flag)}))
    assert (words(problems), build.entries) == (["bad-flag"], ())


def test_the_first_heading_is_the_title_wherever_it_stands(make_build: MakeBuild) -> None:
    """Later than the first paragraph it stays in the text; one in code, a comment or a secret is none."""
    hidden = "Worked.\n\n```\n# code\n```\n\n<!--\n# note\n-->\n\n!!! private\n\n    # secret\n\n"
    for body, title in [("# Ribs at last", "Ribs at last"), ("Skin\n====", "Skin"), ("## Not one", "A")]:
        build, problems = read(make_build({"entries/a/index.md": entry("", f"{hidden}{body}\n\nmore")}))
        assert words(problems) == []
        assert build.entries[0].title == title
        assert body in build.entries[0].body


# ---------------------------------------------------------------------------------- lists of spreadsheets

TABLE = 'assembly,step,title\nflaps,5.1,"Rib, naïve ½ turn"\nLeft Wing,7.1,Spar\n'
SAVED = {
    "commas": TABLE.encode(),
    "semicolons": TABLE.replace(",", ";").replace('"Rib; naïve ½ turn"', "Rib, naïve ½ turn").encode(),
    "tabs": TABLE.replace(",", "\t").replace("Rib\t", "Rib,").encode(),
    "a mark for spreadsheets": b"sep=,\r\n" + TABLE.encode(),
    "Latin-1": TABLE.encode("latin-1"),
    "UTF-16": TABLE.encode("utf-16"),
    "UTF-8 with a mark": b"\xef\xbb\xbf" + TABLE.encode(),
}  # fmt: skip


@pytest.mark.parametrize("way", SAVED)
def test_a_table_as_a_spreadsheet_saves_it(make_build: MakeBuild, way: str) -> None:
    """Read alike; where the encoding had to be recognised, that is said."""
    build, problems = read(make_build({"steps.csv": SAVED[way]}))
    assert words(problems) == (["old-encoding"] if way == "Latin-1" else [])
    assert [(s.assembly, s.id, s.title) for s in build.steps.values()] == [
        ("flaps", "5.1", "Rib, naïve ½ turn"),
        ("left-wing", "7.1", "Spar"),
    ]


def test_a_table_in_an_encoding_nobody_can_be_sure_of_is_told(make_build: MakeBuild) -> None:
    """0x9f is a letter in one old encoding and another in the next."""
    _, problems = read(make_build({"steps.csv": TABLE.encode("latin-1").replace(b"\xef", b"\x9f")}))
    assert words(problems) == ["not-utf8"]


# ------------------------------------------------------------------------------------ what was to be kept back


@pytest.mark.parametrize(
    "said",
    [
        "private",
        "Private",
        "private true",
        "private=true",
        "'!!! private'",
        '"x, private: true"',
        "{caption: x, private: }",
    ],
)
def test_words_that_were_to_hide_a_picture_are_no_caption(make_build: MakeBuild, said: str) -> None:
    """An error, and the picture is kept back until it is mended."""
    root = make_build({"entries/a/index.md": entry(f"photos:\n  IMG_1.jpg: {said}"), "entries/a/IMG_1.jpg": b""})
    _, problems = read(root)
    assert "bad-flag" in words(problems)


@pytest.mark.parametrize(
    "lines", ["photos:\n  IMG_1.jpg: x, private: true", "photos:\n  IMG_1.jpg: x  # private", "title: x # draft"]
)
def test_no_mend_makes_words_of_a_flag(make_build: MakeBuild, lines: str) -> None:
    """What was to hide something would be published as text; the hint says how it is done."""
    root = make_build({"entries/a/index.md": entry(lines), "entries/a/IMG_1.jpg": b""})
    _, problems = read(root)
    told = [problem for problem in problems if problem.grade is Grade.ERROR]
    assert told
    assert all(problem.mend is None and "private: true" in problem.hint for problem in told)


@pytest.mark.parametrize("said", ["private: true", "blur: 0.1 0.2 0.3 0.4", "crop: 0 0 1 0.5"])
def test_what_belongs_to_a_private_picture_is_private_too(make_build: MakeBuild, said: str) -> None:
    """The film of a live photo, the same name in another format, a second copy; not what somebody speaks of."""
    names = ("IMG_1.jpg", "IMG_1.png", "IMG_1 (1).jpg", "IMG_1 copy.jpg", "IMG_2.jpg", "IMG_1.heic")
    files = {f"entries/a/{name}": b"" for name in names}
    matter = f"photos: {{IMG_1.jpg: {{{said}}}, IMG_1.heic: The same for all}}"
    build, _ = read(make_build({"entries/a/index.md": entry(matter), "entries/a/IMG_1.mov": b"", **files}))
    (told,) = build.entries
    shown = {"IMG_2.jpg", "IMG_1.heic", *(["IMG_1.jpg"] if "private" not in said else [])}
    assert {photo.name for photo in told.photos if not photo.private} == shown
    assert [clip.private for clip in told.clips] == [True]


def test_a_raw_file_is_the_original_of_the_picture_beside_it(make_build: MakeBuild) -> None:
    """As `enter` writes it, with no words; one that stands alone is shown, and so is one that somebody speaks of."""
    names = ("IMG_1.JPG", "IMG_1.DNG", "IMG_2.NEF", "IMG_3.jpg", "IMG_3.cr2", "IMG_4.heic", "IMG_4.dng")
    matter = 'photos: {IMG_1.JPG: "", IMG_1.DNG: "", IMG_2.NEF: "", IMG_3.cr2: "As the sensor saw it"}'
    files = {f"entries/a/{name}": b"" for name in names}
    build, _ = read(make_build({"entries/a/index.md": entry(matter, "![x](IMG_4.dng)"), **files}))
    (told,) = build.entries
    assert {photo.name for photo in told.photos if photo.private} == {"IMG_1.DNG"}


def test_a_lone_entry_has_the_pictures_that_it_names_and_no_others(make_build: MakeBuild) -> None:
    """1.jpg is no part of 11.jpg, and a remark in the front matter places nothing."""
    root = make_build(
        {
            "entries/2026-02-01-quiet.md": entry("private: true", "![x](1.jpg)"),
            "entries/2026-02-02-open.md": entry("# 2.jpg is private\ntitle: x", "![ribs](11.jpg)"),
            **{f"entries/{name}.jpg": b"" for name in ("1", "11", "2")},
        }
    )
    build, _ = read(root)
    assert [[photo.name for photo in one.photos] for one in build.entries] == [["1.jpg"], ["11.jpg"]]


def test_comments_in_headings_and_terms_are_no_words(make_build: MakeBuild) -> None:
    """Neither are private passages of terms.md."""
    terms = (
        "| term | meaning | source |\n|---|---|---|\n| rib | a <!-- x --> b | y |\n\n!!! private\n    | z | z | z |\n"
    )
    root = make_build({"entries/a/index.md": entry("", "# Ribs <!-- x --> all\n\ntext"), "terms.md": terms})
    build, _ = read(root)
    assert build.entries[0].title == "Ribs all"
    assert [(term.name, term.meaning) for term in build.terms] == [("rib", "a  b")]
