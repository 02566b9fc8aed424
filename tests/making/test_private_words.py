"""What must not leave, gathered: names and numbers, runs of words, originals. Each source by itself."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from marked_build import (
    BUILD,
    COST,
    DRAFT,
    HUSH_CLIP,
    HUSH_ENTRY,
    HUSH_INSPECTION,
    HUSH_PHOTO,
    OPEN_CLIP,
    OPEN_ENTRY,
    OPEN_INSPECTION,
    OPEN_PHOTO,
    PAGE,
    PAPER,
    SEALANT,
    SHELF,
    STEPS,
    TASK,
    journal_of,
)

from journal.base.model import Aircraft, Build, InspectionFinding, Person, Place, Role
from journal.making.private_words import (
    Private,
    Secret,
    gather_private,
    parts_of,
    pattern_of,
    runs_of,
    say_paths,
)

FULL, FAMILY, IDENT = "the full name of a person", "the family name of a person", "the ID of a person"
REGISTRATION, SERIAL = "the registration of the aircraft", "the serial of the aircraft"
PLACE, FOLDER = "the name of a place", "the folder of a private entry or a draft"
MACHINE = "a folder of this machine"

BARE = Build(
    aircraft=Aircraft(name="Tarn"),
    people=BUILD.people,
    assemblies=BUILD.assemblies,
    steps=STEPS,
    materials=BUILD.materials,
    places=BUILD.places,
    shows=frozenset({"places"}),
)


def private_of(build: Build, root: Path = Path("/nowhere at all")) -> Private:
    """What is gathered of a build in `root`."""
    return gather_private(replace(journal_of(build), root=root))


def secrets_of(build: Build) -> list[tuple[str, str, bool]]:
    """The secrets but for the folders of this machine."""
    return [(one.words, one.what, one.exact) for one in private_of(build).secrets if one.what != MACHINE]


def person(name: str, id: str = "x", shown_as: str | None = None, role: Role = Role.BUILDER) -> Person:
    """A person of build.yml."""
    return Person(id=id, name=name, role=role, shown_as=shown_as)


@pytest.mark.parametrize(
    ("people", "secrets"),
    [
        ([person("Ada Bergstrom", "ada", "Ada")], [("Ada Bergstrom", FULL), ("Bergstrom", FAMILY)]),
        ([person("Bo Lindqvist", "bo")], [("Bo Lindqvist", FULL), ("Lindqvist", FAMILY)]),
        ([person("Hanne Okafor", "hanne")], [("Hanne Okafor", FULL), ("Okafor", FAMILY), ("hanne", IDENT)]),
        ([person("Cherie", "abc")], [("abc", IDENT)]),
        ([person("Ada Bergstrom", "ada", "ada  BERGSTROM")], []),
        ([person("Al Ng")], [("Al Ng", FULL)]),
        ([person("Jo van der Berg")], [("Jo van der Berg", FULL), ("Berg", FAMILY)]),
        ([person("Ada Bergstrom", shown_as="A. Bergstrom")], [("Ada Bergstrom", FULL)]),
        ([person("Bob Builder", "builder")], [("Bob Builder", FULL)]),
        ([person("Bob Helper", "helper", "Bob")], [("Bob Helper", FULL)]),
        ([person("Pim Help", "pim", "Pim", Role.PAID)], [("Pim Help", FULL)]),
        (
            [person("Ida Lunden", "ida", "Ida"), person("Ida", "lund")],
            [("Ida Lunden", FULL), ("Lunden", FAMILY), ("lund", IDENT)],
        ),
    ],
)
def test_names_of_people(people: list[Person], secrets: list[tuple[str, str]]) -> None:
    """Full names, family names of four letters and more, IDs of three; never what is shown anyway.

    Families and IDs mind case: they may be words as well.
    """
    build = replace(BARE, people={str(number): one for number, one in enumerate(people)})
    assert secrets_of(build) == [(words, what, what != FULL) for words, what in secrets]


@pytest.mark.parametrize(
    ("aircraft", "shows", "secrets"),
    [
        (("ZZ-TRN", "T-0042"), (), [("ZZ-TRN", REGISTRATION), ("T-0042", SERIAL)]),
        (("ZZ-TRN", "T-0042"), ("registration",), [("T-0042", SERIAL)]),
        (("ZZ-TRN", "T-0042"), ("serial",), [("ZZ-TRN", REGISTRATION)]),
        (("ZZ1", "42 "), (), [("ZZ1", REGISTRATION)]),
        (("", "  "), (), []),
    ],
)
def test_numbers_of_the_aircraft(
    aircraft: tuple[str, str], shows: tuple[str, ...], secrets: list[tuple[str, str]]
) -> None:
    """Unless build.yml shows them; below three characters they could be anything."""
    build = replace(
        BARE,
        people={},
        aircraft=Aircraft(name="Tarn", registration=aircraft[0], serial=aircraft[1]),
        shows=frozenset({"places", *shows}),
    )
    assert secrets_of(build) == [(words, what, False) for words, what in secrets]


@pytest.mark.parametrize(
    ("id", "name", "words"),
    [
        ("barn", "the old barn at Ostrander", ["the old barn at Ostrander"]),
        ("ostrander", "Ostrander", ["Ostrander", "ostrander"]),
        ("home", "home workshop", []),
        ("home", "Our Garage in the big house", []),
        ("Xy", "Xy", []),
        ("kiln", "kiln", ["kiln"]),
        ("h1", "hangar 17", ["hangar 17"]),
    ],
)
def test_names_of_places(id: str, name: str, words: list[str]) -> None:
    """By name and ID; a place that is called nothing but "home workshop" tells nobody where it is."""
    build = replace(BARE, people={}, shows=frozenset(), places={id: Place(id=id, name=name)})
    assert secrets_of(build) == [(one, PLACE, False) for one in words]
    assert secrets_of(replace(build, shows=frozenset({"places"}))) == []


EVERYDAY = (
    "home workshop shop garage hangar barn cellar basement shed house room airfield airport machine paint the my our "
    "your at in of and a left right big small old new main"
)


@pytest.mark.parametrize("word", EVERYDAY.split())
def test_a_place_of_everyday_words_is_no_secret(word: str) -> None:
    """Alone and beside another one; beside a name it is."""
    build = replace(BARE, people={}, shows=frozenset())
    for name, told in ((word, []), (f"{word.title()} hangar", []), (f"{word} Ostrander", [f"{word} Ostrander"])):
        places = {"barn": Place(id="barn", name=name)}
        assert [one for one, _, _ in secrets_of(replace(build, places=places))] == told


def test_folders_of_what_is_hidden() -> None:
    """Private entries, drafts and private inspections; in that order."""
    build = replace(
        BARE,
        people={},
        entries=(OPEN_ENTRY, HUSH_ENTRY),
        drafts=(DRAFT,),
        inspections=(OPEN_INSPECTION, HUSH_INSPECTION),
    )
    people = replace(build, people=BUILD.people)
    folders = [row for row in secrets_of(people) if row[1] == FOLDER]
    assert folders == [("2026-hush", FOLDER, True), ("later", FOLDER, True), ("hush-look", FOLDER, True)]


def test_folders_of_this_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the build lies, and the home of whoever is at work; a path of five signs is no name."""
    for home, root, told in (
        ("/home/bo", "/data/tarn", ["/data/tarn", "/home/bo"]),
        ("/root", "/build", ["/build"]),
        ("/roots", "/data", ["/roots"]),
    ):
        monkeypatch.setattr(Path, "home", lambda home=home: Path(home))
        secrets = private_of(replace(BARE, people={}), Path(root)).secrets
        assert secrets == tuple(Secret(words=words, what=MACHINE, exact=True) for words in told)


@pytest.mark.parametrize(
    ("words", "parts"),
    [
        ("Bo Lindqvist", ["Bo", "Lindqvist"]),
        ("  ZZ-TRN_4 ", ["ZZ", "TRN", "4"]),
        ("a/b.c", ["a/b.c"]),
        ("--", []),
    ],
)
def test_parts_of_a_secret(words: str, parts: list[str]) -> None:
    """Without what stands between them."""
    assert parts_of(Secret(words=words, what="")) == parts


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Bo Lindqvist", True),
        ("xx (Bo Lindqvist), yy", True),
        ("bo-lindqvist", True),
        ("bo_lindqvist/", True),
        ("BoLindqvist", True),
        ("Bo%20Lindqvist", True),
        ("Bo+Lindqvist", True),
        ("Bo&nbsp;Lindqvist", True),
        ("Bo&#160;Lindqvist", True),
        ("Bo \n - Lindqvist", True),
        ("_Bo Lindqvist_", True),
        ("Bob Lindqvist", False),
        ("xBo Lindqvist", False),
        ("4Bo Lindqvist", False),
        ("Bo Lindqvists", False),
        ("Bo Lindqvist4", False),
        ("Bo, Lindqvist", False),
        ("Lindqvist Bo", False),
    ],
)
def test_the_forms_in_which_a_name_is_found(text: str, found: bool) -> None:
    """As pages, addresses and file names write it, and never within a longer word."""
    pattern = re.compile(pattern_of(Secret(words="Bo Lindqvist", what="")), re.IGNORECASE)
    assert bool(pattern.search(text)) is found


def test_signs_in_a_secret_are_themselves() -> None:
    """A dot is a dot."""
    pattern = re.compile(pattern_of(Secret(words="No. 4 (b)", what="")))
    assert pattern.search("at No. 4 (b), there")
    assert not pattern.search("at Nox 4 (b)")


def words(count: int) -> str:
    """`w1 w2 …`."""
    return " ".join(f"w{number}" for number in range(1, count + 1))


@pytest.mark.parametrize(
    ("count", "shortest", "runs"),
    [
        (0, 4, []),
        (3, 4, []),
        (4, 4, [words(4)]),
        (7, 4, [words(7)]),
        (7, 8, []),
        (8, 4, [words(8)]),
        (8, 8, [words(8)]),
        (9, 4, [words(8), "w2 w3 w4 w5 w6 w7 w8 w9"]),
    ],
)
def test_runs_of_words(count: int, shortest: int, runs: list[str]) -> None:
    """Eight in a row; a shorter text as a whole, from `shortest` on."""
    assert list(runs_of(words(count), shortest=shortest)) == runs
    if shortest == 8:
        assert list(runs_of(words(count))) == runs


def test_runs_are_told_without_case_and_signs() -> None:
    """Line ends and punctuation part words and no more."""
    assert list(runs_of("The Neighbour,\n  came-by (TODAY)!", shortest=4)) == ["the neighbour came by today"]


@given(st.lists(st.sampled_from(["a", "b", "C,", "d.", "\n"]), max_size=14))
def test_every_run_stands_in_its_text(parts: list[str]) -> None:
    """And of a text of n words there are n - 7."""
    said = re.findall(r"\w+", " ".join(parts).casefold())
    runs = list(runs_of(" ".join(parts)))
    assert len(runs) == max(0, len(said) - 7)
    assert all(f" {run} " in f" {' '.join(said)} " for run in runs)


TEXT = "the bent flange was never mended"
FOUND = InspectionFinding(id="F1", text=TEXT)
IN_NOTE = "Said.\n\n!!! private\n    The bent flange was\n    never mended!\n\nDone.\n"
ENTRY_FILE, INSPECTION_FILE = "content/entries/open/index.md", "content/inspections/look/index.md"
HUSH_FILE, DRAFT_FILE = "content/entries/2026-hush/index.md", "content/entries/later/index.md"

PRIVATE_SOURCES: dict[str, tuple[str, Callable[[], Build]]] = {
    "title of a private entry": (HUSH_FILE, lambda: replace(BARE, entries=(replace(HUSH_ENTRY, title=TEXT),))),
    "text of a private entry": (HUSH_FILE, lambda: replace(BARE, entries=(replace(HUSH_ENTRY, body=TEXT),))),
    "caption in a private entry": (
        HUSH_FILE,
        lambda: replace(BARE, entries=(replace(HUSH_ENTRY, photos=(replace(OPEN_PHOTO, caption=TEXT),)),)),
    ),
    "text of a draft": (DRAFT_FILE, lambda: replace(BARE, drafts=(replace(DRAFT, body=TEXT),))),
    "passage of an entry": (ENTRY_FILE, lambda: replace(BARE, entries=(replace(OPEN_ENTRY, body=IN_NOTE),))),
    "private photo": (
        ENTRY_FILE,
        lambda: replace(BARE, entries=(replace(OPEN_ENTRY, photos=(replace(HUSH_PHOTO, caption=TEXT),)),)),
    ),
    "private clip": (
        ENTRY_FILE,
        lambda: replace(BARE, entries=(replace(OPEN_ENTRY, clips=(replace(HUSH_CLIP, caption=TEXT),)),)),
    ),
    "answer": (ENTRY_FILE, lambda: replace(BARE, entries=(replace(OPEN_ENTRY, answers={"no-photo": TEXT}),))),
    "answer in a private entry": (
        HUSH_FILE,
        lambda: replace(BARE, entries=(replace(HUSH_ENTRY, answers={"no-photo": TEXT}),)),
    ),
    "comment": (ENTRY_FILE, lambda: replace(BARE, entries=(replace(OPEN_ENTRY, body=f"a <!-- {TEXT} --> b"),))),
    "finding of a private inspection": (
        "content/inspections/hush-look/index.md",
        lambda: replace(BARE, inspections=(replace(HUSH_INSPECTION, findings=(FOUND,)),)),
    ),
    "private inspection": (
        "content/inspections/hush-look/index.md",
        lambda: replace(BARE, inspections=(replace(HUSH_INSPECTION, body=TEXT),)),
    ),
    "passage of an inspection": (
        INSPECTION_FILE,
        lambda: replace(BARE, inspections=(replace(OPEN_INSPECTION, body=IN_NOTE, photos=()),)),
    ),
    "private photo of an inspection": (
        INSPECTION_FILE,
        lambda: replace(
            BARE, inspections=(replace(OPEN_INSPECTION, body="", photos=(replace(HUSH_PHOTO, caption=TEXT),)),)
        ),
    ),
    "passage of a page": ("content/pages/about.md", lambda: replace(BARE, pages=(replace(PAGE, body=IN_NOTE),))),
    "title of a record": ("content/records", lambda: replace(BARE, records=(replace(PAPER, title=TEXT),))),
    "note of a record": ("content/records", lambda: replace(BARE, records=(replace(PAPER, note=TEXT),))),
    "file of a record": ("content/records", lambda: replace(BARE, records=(replace(PAPER, file=TEXT),))),
    "cost": ("content/costs.csv", lambda: replace(BARE, costs=(replace(COST, what=TEXT),))),
}

PUBLIC_SOURCES: dict[str, Callable[[Build], Build]] = {
    "title": lambda build: replace(build, entries=(*build.entries, replace(OPEN_ENTRY, title=TEXT))),
    "text": lambda build: replace(build, entries=(*build.entries, replace(OPEN_ENTRY, body=f"So: {TEXT}."))),
    "caption": lambda build: replace(
        build, entries=(*build.entries, replace(OPEN_ENTRY, photos=(replace(OPEN_PHOTO, caption=TEXT),)))
    ),
    "clip": lambda build: replace(
        build, entries=(*build.entries, replace(OPEN_ENTRY, clips=(replace(OPEN_CLIP, caption=TEXT),)))
    ),
    "inspection": lambda build: replace(build, inspections=(*build.inspections, replace(OPEN_INSPECTION, body=TEXT))),
    "title of an inspection": lambda build: replace(
        build, inspections=(*build.inspections, replace(OPEN_INSPECTION, title=TEXT))
    ),
    "finding": lambda build: replace(
        build, inspections=(*build.inspections, replace(OPEN_INSPECTION, findings=(FOUND,)))
    ),
    "page": lambda build: replace(build, pages=(*build.pages, replace(PAGE, body=TEXT))),
    "step": lambda build: replace(build, steps={**STEPS, "5.1": replace(STEPS["5.1"], title=TEXT)}),
    "task": lambda build: replace(build, tasks=(replace(TASK, name=TEXT),)),
    "note of a task": lambda build: replace(build, tasks=(replace(TASK, note=TEXT),)),
    "part": lambda build: replace(build, inventory=(replace(SHELF, description=TEXT),)),
    "material": lambda build: replace(build, materials={"seal": replace(SEALANT, name=TEXT)}),
}
STILL_PRIVATE: dict[str, Callable[[Build], Build]] = {
    "another private entry": lambda build: replace(build, entries=(*build.entries, replace(HUSH_ENTRY, body=TEXT))),
    "a private passage": lambda build: replace(build, pages=(*build.pages, replace(PAGE, body=IN_NOTE))),
    "a comment": lambda build: replace(build, pages=(*build.pages, replace(PAGE, body=f"<!-- {TEXT} -->"))),
    "a private caption": lambda build: replace(
        build, entries=(*build.entries, replace(OPEN_ENTRY, photos=(replace(HUSH_PHOTO, caption=TEXT),)))
    ),
    "words among others": lambda build: replace(build, pages=(*build.pages, replace(PAGE, body="The bent flange was"))),
}


@pytest.mark.parametrize("source", PRIVATE_SOURCES)
def test_words_of_private_texts(source: str) -> None:
    """Each source of private words is gathered, with the file that it stands in."""
    where, build = PRIVATE_SOURCES[source]
    assert private_of(build()).runs.get(TEXT) == where


@pytest.mark.parametrize("source", PUBLIC_SOURCES)
def test_words_that_stand_in_a_public_text_too_are_no_secret(source: str) -> None:
    """Whatever followers read anyway may be said in a private text as well."""
    hidden = replace(BARE, costs=(replace(COST, what=TEXT),))
    assert TEXT in private_of(hidden).runs
    assert TEXT not in private_of(PUBLIC_SOURCES[source](hidden)).runs


@pytest.mark.parametrize("source", STILL_PRIVATE)
def test_words_that_are_private_twice_stay_so(source: str) -> None:
    """Another private text lets nothing through."""
    hidden = replace(BARE, costs=(replace(COST, what=TEXT),))
    assert TEXT in private_of(STILL_PRIVATE[source](hidden)).runs


def test_of_a_long_text_only_what_is_public_is_taken_out() -> None:
    """Run by run."""
    long = words(10)
    hidden = replace(BARE, costs=(replace(COST, what=long),))
    said = replace(hidden, pages=(replace(PAGE, body=words(8)),))
    assert list(private_of(said).runs) == ["w2 w3 w4 w5 w6 w7 w8 w9", "w3 w4 w5 w6 w7 w8 w9 w10"]
    assert private_of(replace(BARE, pages=(replace(PAGE, body="Nothing private."),))).runs == {}


@pytest.mark.parametrize(
    ("body", "runs"),
    [
        (
            "Said.\n\n!!! private\n    one two three\n    four five\n    six seven eight nine\n",
            ["one two three four five six seven eight", "two three four five six seven eight nine"],
        ),
        ("!!! private\n    one two three four\nSaid.\n!!! private\n    five six seven", ["one two three four"]),
        (
            "!!! private\n    one two three four\n!!! Private\n    five six seven eight",
            ["one two three four", "five six seven eight"],
        ),
        ('!!! private "Ours alone"\n    one two\n', ["ours alone one two"]),
        ("???+ private\n\n    one two\n\n    three four\n\nsaid", ["one two three four"]),
        ("- a\n\n    !!!private\n        one two three four\n    said", ["one two three four"]),
        ("a <!-- one two\nthree four --> b <!-- five six seven eight", ["one two three four", "five six seven eight"]),
        ("one two three four", []),
    ],
)
def test_each_private_passage_is_a_text_of_its_own(body: str, runs: list[str]) -> None:
    """Editors wrap at some column, and the words run on; the mark that opens it is no word of it."""
    assert list(private_of(replace(BARE, pages=(replace(PAGE, body=body),))).runs) == runs
    entry = replace(OPEN_ENTRY, body=body, photos=(), clips=(), answers={})
    assert list(private_of(replace(BARE, entries=(entry,))).runs) == runs


def test_originals_are_known_by_size(tmp_path: Path) -> None:
    """Photos, papers and texts of entries, inspections and records, however deep; empty files tell nothing."""
    files = {
        "entries/a/one.jpg": b"123",
        "entries/a/deep/two.jpg": b"456",
        "inspections/b/c.jpg": b"12345",
        "records/bill.pdf": b"xyz",
        "records/empty.pdf": b"",
        "pages/about.md": b"abc",
        "build.yml": b"abc",
    }
    for name, data in files.items():
        path = tmp_path / "content" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    content = tmp_path / "content"
    originals = private_of(BARE, tmp_path).originals
    assert originals == {
        3: (content / "entries/a/deep/two.jpg", content / "entries/a/one.jpg", content / "records/bill.pdf"),
        5: (content / "inspections/b/c.jpg",),
    }
    assert say_paths(originals[3][:2], tmp_path) == "content/entries/a/deep/two.jpg, content/entries/a/one.jpg"
    assert private_of(BARE, tmp_path / "nothing").originals == {}
