"""What must not leave, gathered from the files themselves: names and numbers, runs of words, originals."""

from __future__ import annotations

import re
from collections.abc import Container
from itertools import count
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from journal.making.private_words import (
    ENDING,
    Private,
    Secret,
    gather_private,
    pattern_of,
    runs_of,
    spellings,
    words_of,
)

FULL, FAMILY, FIRST = "the full name of a person", "the family name of a person", "the name of a person"
IDENT, PLACE, PART = "the ID of a person", "the name of a place", "part of the name of a place"
FOLDER, MACHINE = "the folder of a private entry or a draft", "a folder of this machine"

HEAD = "---\ndate: 2026-02-07\nassembly: flaps\n"
TEXT = "the spar was bent by the man who came on Tuesday with his trailer"
FIRST_RUN = "the spar was bent by the man who"


def gathered(root: Path, files: dict[str, str], ours: Container[str] = ()) -> Private:
    """What is gathered of a build folder of these files."""
    for name, text in files.items():
        (root / "content" / name).parent.mkdir(parents=True, exist_ok=True)
        (root / "content" / name).write_text(text, "utf-8")
    return gather_private(root, ours)


def secrets(root: Path, build_yml: str, **files: str) -> list[tuple[str, str]]:
    """The secrets of a build.yml but for the folders of this machine."""
    found = gathered(root, {"build.yml": build_yml, **files}).secrets
    return [(one.words, one.what) for one in found if one.what != MACHINE]


def runs(root: Path, body: str, head: str = "", name: str = "entries/a/index.md") -> dict[str, str]:
    """The runs of one entry."""
    return dict(gathered(root, {name: f"{HEAD}{head}---\n\n{body}\n"}).runs)


@pytest.mark.parametrize(
    ("person", "found"),
    [
        ("ada: {name: Ada Bergstrom, shown_as: Ada}", [("Ada Bergstrom", FULL), ("Bergstrom", FAMILY)]),
        ("bo: {name: Bo Lindqvist}", [("Bo Lindqvist", FULL), ("Bo", FIRST), ("Lindqvist", FAMILY)]),
        ("lind-bo: {name: Bo Ek, shown_as: Bo E}", [("Bo Ek", FULL), ("Ek", FAMILY), ("lind-bo", IDENT)]),
        ("x: {name: Ada, shown_as: Ada}", []),
        ("ada: {name: Ada B Bergstrom, shown_as: Ada}", [("Ada B Bergstrom", FULL), ("Bergstrom", FAMILY)]),
        ("lin: {name: helper}", [("lin", IDENT)]),
        ("li: {name: helper}", []),
        ("ada: {name: Ada Bergstrom, shown_as: Ada B}", [("Ada Bergstrom", FULL), ("Bergstrom", FAMILY)]),
        (
            "ada-b: {name: Ada Bergstrom, shown_as: Ada-B}",
            [("Ada Bergstrom", FULL), ("Ada", FIRST), ("Bergstrom", FAMILY)],
        ),
        ("x: {name: Ada Berg, shown_as: Ada Berg}", []),
        ("x: {name: helper}", []),
        ("x: {name: Bo the Great}", [("Bo the Great", FULL), ("Bo", FIRST), ("Great", FAMILY)]),
        (
            "x: {name: Ida van der Moor-Tann, shown_as: Ida}",
            [("Ida van der Moor-Tann", FULL), ("Moor", FAMILY), ("Tann", FAMILY)],
        ),
        ("x: {}", []),
        ("x: Ada", [("Ada", FIRST)]),
        ("lind-bo: bo lindqvist", [("bo lindqvist", FULL), ("bo", FIRST), ("lindqvist", FAMILY), ("lind-bo", IDENT)]),
    ],
)
def test_names_of_people(tmp_path: Path, person: str, found: list[tuple[str, str]]) -> None:
    """All but what `shown_as` shows of anybody; words of one letter are initials."""
    assert secrets(tmp_path, f"people:\n  {person}\n") == found


@pytest.mark.parametrize(
    ("place", "show", "found"),
    [
        ("home: {name: home workshop}", "", []),
        ("home: Ostrindel", "", [("Ostrindel", PLACE)]),
        (
            "xy: {name: TANNMOORSTRASSE 14}",
            "show: serial, registration\n",
            [("TANNMOORSTRASSE 14", PLACE), ("TANNMOOR", PART)],
        ),
        ("home: {name: Garage at Ostrindel}", "show: serial,places\n", []),
        ("home: {name: Garage at Ostrindel}", "", [("Garage at Ostrindel", PLACE), ("Ostrindel", PART)]),
        ("home: {name: Garage at Ostrindel}", "show: [places]\n", []),
        ("home: {name: Garage at Ostrindel}", "show: places\n", []),
        (
            "shed: {name: 'Tannmoorstrasse 14b, 84001 Ostrindel'}",
            "",
            [("Tannmoorstrasse 14b, 84001 Ostrindel", PLACE), ("Tannmoor", PART), ("84001", PART), ("Ostrindel", PART)],
        ),
    ],
)
def test_names_of_places(tmp_path: Path, place: str, show: str, found: list[tuple[str, str]]) -> None:
    """The whole, and of an address each word that is no everyday one; of a street its own part."""
    assert secrets(tmp_path, f"{show}places:\n  {place}\n") == found


@pytest.mark.parametrize(
    ("said", "found"),
    [
        ("", []),
        ("Ada Green and Bo Green primed the green side of the lane.", []),
        ("Mr Green came by, and Green's dog.", [("Green", FAMILY)]),
        ("A parcel from Long Lane.", [("Long", PART)]),
        ("Asked mark.", []),
    ],
)
def test_a_name_that_is_an_ordinary_word(tmp_path: Path, said: str, found: list[tuple[str, str]]) -> None:
    """It is looked for as it is written, where the build says it elsewhere than in a full name; its ID never is."""
    people = "people:\n  mark: {name: Ada Green, shown_as: Ada}\n  bo: {name: Bo Green, shown_as: Bo}\n"
    build = f"{people}places:\n  longlane: {{name: 5 Long Lane}}\n"
    gathered(tmp_path, {"build.yml": build, "entries/a/index.md": f"{HEAD}people: [mark]\n---\n\n{said}\n"})
    kept = gather_private(tmp_path, {"green", "mark", "long"}).secrets
    whole = {("Ada Green", FULL), ("Bo Green", FULL), ("5 Long Lane", PLACE), ("longlane", PLACE)}
    told = {(one.words, one.what) for one in kept if one.what != MACHINE}
    assert told == whole | {*found}
    assert all(one.exact for one in kept if (one.words, one.what) in found)
    assert {("mark", IDENT), ("Green", FAMILY), ("Long", PART)} <= {
        (one.words, one.what) for one in gather_private(tmp_path).secrets
    }


STREETS = (
    *("strasse", "straße", "str", "gasse", "weg", "platz", "allee", "street", "road", "avenue", "lane", "drive"),
    *("way", "vej", "vägen", "straat", "rue"),
)


@pytest.mark.parametrize("street", STREETS)
def test_a_street_is_found_however_it_is_written(tmp_path: Path, street: str) -> None:
    """In full, in short with its stop, and without its last part; of its sisters and of longer words nothing."""
    build = {"build.yml": f"places:\n  xy: {{name: Tannmoor{street} 14}}\n"}
    (part,) = (one for one in gathered(tmp_path, build).secrets if one.what == PART)
    texts = [f"at Tannmoor{street}, again", "at Tannmoorstr. 3", "Tannmoor St", "tannmoor rd.", "the Tannmoor itself"]
    found = [re.search(pattern_of(part), text, re.IGNORECASE) for text in (*texts, "Tannmoorish", "a Moorweg")]
    assert [bool(one) for one in found] == [*(True for _ in texts), False, False]


@pytest.mark.parametrize(
    "small",
    [
        *("van", "de", "der", "den", "von", "zu", "zur", "la", "le", "du", "des", "di", "da", "del", "della"),
        *("dos", "af", "av", "ter", "ten", "el", "al", "bin", "ibn", "und", "and", "the", "of"),
    ],
)
def test_a_small_word_in_a_name_is_no_name(tmp_path: Path, small: str) -> None:
    """Else every page that says `the` or `di` would be held back."""
    found = secrets(tmp_path, f"people:\n  nb: {{name: Nora {small} Bergstrom, shown_as: Nora}}\n")
    assert found == [(f"Nora {small} Bergstrom", FULL), ("Bergstrom", FAMILY)]


EVERYDAY = (
    *("home", "workshop", "shop", "garage", "hangar", "barn", "cellar", "basement", "shed", "house", "room"),
    *("airfield", "airport", "machine", "paint", "the", "my", "our", "your", "at", "in", "of", "and", "a", "left"),
    *("right", "big", "small", "old", "new", "main", "near", "behind", "street", "road", "avenue", "lane", "drive"),
    *("north", "south", "east", "west", "unit", "hall", "building", "from", "with", "for", "side", "upper", "lower"),
)


@pytest.mark.parametrize("word", EVERYDAY)
def test_an_everyday_word_tells_no_place(tmp_path: Path, word: str) -> None:
    """Alone, and beside a word that does."""
    assert secrets(tmp_path, f"places:\n  xy: {{name: {word} barn}}\n") == []
    parts = [words for words, what in secrets(tmp_path, f"places:\n  xy: {{name: {word} Ostrindel}}\n") if what == PART]
    assert parts == ["Ostrindel"]


@pytest.mark.parametrize(("words", "told"), [("QX", False), ("QXT", True)])
def test_a_registration_of_two_letters_is_none(tmp_path: Path, words: str, told: bool) -> None:
    """It would be found in every other word."""
    assert bool(secrets(tmp_path, f"aircraft: {{registration: {words}}}\n")) is told


def test_registration_and_serial(tmp_path: Path) -> None:
    """Unless build.yml shows them; each with its line."""
    build = "aircraft:\n  name: Tarn\n  registration: QX-TRN\n  serial: T-0042\n"
    found = [one for one in gathered(tmp_path, {"build.yml": build}).secrets if one.what != MACHINE]
    assert [(one.words, one.where) for one in found] == [
        ("QX-TRN", "content/build.yml:3"),
        ("T-0042", "content/build.yml:4"),
    ]
    assert secrets(tmp_path, build + "show: [registration, serial]\n") == []


@pytest.mark.parametrize(
    "yml",
    [
        "people: [",
        "people: 3",
        "- a",
        "",
        "\x00",
        "people: {a: {name: [x]}}",
        "a: &b [*b]",
        '"\\U00110000"',
        '"\\UFFFFFFFF"',
        "[" * 3000,
    ],
)
def test_a_build_yml_that_cannot_be_read_names_nobody(tmp_path: Path, yml: str) -> None:
    """Its errors stop publishing before; here nothing may fall over."""
    assert secrets(tmp_path, yml) == []


@pytest.mark.parametrize(
    ("words", "options", "text", "found"),
    [
        ("Bo Lindqvist", {"ending": ENDING}, "BO LINDQVIST", True),
        ("Bo Lindqvist", {"ending": ENDING}, "bo-lindqvists", True),
        ("Bo Lindqvist", {"ending": ENDING}, "Bo%20Lindqvist’s", True),
        ("Lindqvist", {"ending": ENDING}, "xLindqvist", False),
        ("Lindqvist", {"ending": ENDING}, "Lindqvister", False),
        ("tannmoor", {"ending": "(?:str|strasse)?"}, "Tannmoorstr. 14", True),
        ("Ek", {"exact": True}, "Ek", True),
        ("Ek", {"exact": True}, "ek", False),
        ("Ek", {"exact": True}, "Eks", False),
    ],
)
def test_the_forms_of_a_name(words: str, options: dict[str, str], text: str, found: bool) -> None:
    """Any case, what stands between its words, a genitive, the short form of a street."""
    secret = Secret(words=words, what="x", **options)  # type: ignore[arg-type]
    flags = 0 if secret.exact else re.IGNORECASE
    assert bool(re.search(pattern_of(secret), text, flags)) is found


def test_letters_with_marks_are_written_in_three_ways() -> None:
    """As they are, bare, and with two letters (common practice in German and the Nordic languages)."""
    assert spellings(Secret(words="Öberg Gruß", what="x")) == ("Öberg Gruß", "Oberg Gruß", "Oeberg Gruss")
    assert spellings(Secret(words="Berg", what="x")) == ("Berg",)
    written = spellings(Secret(words="ä ö ü å ø æ ß Ä Ö Ü Å Ø Æ", what="x"))[-1]
    assert written == "ae oe ue aa oe ae ss Ae Oe Ue Aa Oe Ae"


@pytest.mark.parametrize(
    "flag",
    [
        "private: true",
        "private:",
        "private: # yes",
        "Private: true",
        "prviate: yes",
        "draft: true",
        "darft: true",
        '"private": on',
        "private: [x]",
    ],
)
def test_a_file_that_is_kept_back_is_private_as_a_whole(tmp_path: Path, flag: str) -> None:
    """Title, captions and text; whatever is no clear no counts."""
    found = runs(tmp_path, TEXT, f"title: We paid too much\n{flag}\nphotos:\n  IMG_1.jpg: the dent nobody may see\n")
    assert found["we paid too much"] == "content/entries/a/index.md:4"
    assert found[FIRST_RUN].startswith("content/entries/a/index.md:")
    assert "the dent nobody may see" in found
    folders = [one for one in gather_private(tmp_path).secrets if one.what == FOLDER]
    assert [(one.words, one.exact) for one in folders] == [("a", True)]


@pytest.mark.parametrize(
    ("file", "ids"),
    [
        ("entries/what-it-cost/index.md", ["what-it-cost"]),
        ("entries/2026/what-it-cost/Entry.md", ["what-it-cost"]),
        ("entries/2026-01-02-what-it-cost.md", ["2026-01-02-what-it-cost"]),
        ("entries/2026/01/what-it-cost.md", ["what-it-cost"]),
        ("entries/what-it-cost/text.md", ["text", "what-it-cost"]),
        ("inspections/2026-01-02-rudder.md", ["2026-01-02-rudder"]),
        ("measurements/2026-01-02-rudder.md", ["2026-01-02-rudder"]),
        ("pages/rudder.md", ["rudder"]),
        ("entries/202/index.md", ["202"]),
    ],
)
def test_the_name_of_a_private_entry(tmp_path: Path, file: str, ids: list[str]) -> None:
    """Its folder or its file, whichever way it lies."""
    found = gathered(tmp_path, {file: f"{HEAD}private: true\n---\n\nx\n"}).secrets
    assert [one.words for one in found if one.what == FOLDER] == ids


@pytest.mark.parametrize("flag", ["", "private: no", "private: false", "draft: off", "title: private"])
def test_a_file_that_is_not_kept_back(tmp_path: Path, flag: str) -> None:
    """Nothing of it is private."""
    assert runs(tmp_path, TEXT, f"{flag}\n") == {}


@pytest.mark.parametrize(
    "key",
    [
        *("date", "assembly", "steps", "begun", "redone", "place", "tools", "methods", "people", "hours"),
        *("outcome", "stage", "inspector", "kind", "measured_by", "checked_by", "signed_by"),
    ],
)
def test_what_a_private_entry_shares_with_others_is_no_passage(tmp_path: Path, key: str) -> None:
    """Days, steps and tools are in lists that everybody may read."""
    found = runs(tmp_path, "x", f"private: true\n{key}: the long bucking bar of steel\n")
    assert "the long bucking bar of steel" not in found
    assert "the long bucking bar of steel" in runs(
        tmp_path, "x", "private: true\nanswer: the long bucking bar of steel\n"
    )


def test_front_matter_is_no_body(tmp_path: Path) -> None:
    """A mark in it opens nothing, and what stands right behind it is the body's."""
    assert runs(tmp_path, TEXT, "title: '!!! private'\n") == {}
    assert runs(tmp_path, "private: no man knows the way to the hangar in the fog") == {}
    bare = "---\ndate: 2026-02-07\n---\ndraft: the man who came on Tuesday with his trailer\n"
    assert gathered(tmp_path, {"entries/c/index.md": bare}).runs == {}
    assert gathered(tmp_path, {"entries/d/index.md": "# The man who came on Tuesday\n\nWords.\n"}).runs == {}
    text = f"---\ndate: 2026-02-07\n---\n!!! private\n    {TEXT}\n"
    assert FIRST_RUN in gathered(tmp_path, {"entries/b/index.md": text}).runs


@pytest.mark.parametrize(
    "head",
    [
        "photos:\n  a.jpg: {private: true, caption: the big dent}\n",
        "photos:\n  a.jpg:\n    caption: the big dent\n    private: yes\n",
        "photos: {a.jpg: {private, caption: the big dent}}\n",
        "answers: {no-photo: the big dent}\n",
        "# the big dent\n",
    ],
)
def test_a_few_private_words_of_a_public_entry_are_no_public_ones(tmp_path: Path, head: str) -> None:
    """That they stand in their own file makes no habit of them."""
    assert "the big dent" in runs(tmp_path, "Public words.", head)


def test_a_few_words_of_a_private_passage_are_no_public_ones(tmp_path: Path) -> None:
    """They stand in the same file as what everybody may read."""
    assert "we paid too much" in runs(tmp_path, "Riveted.\n\n!!! private\n    We paid too much\n\nPrimed.")


def test_each_private_text_has_its_line(tmp_path: Path) -> None:
    """As an editor counts, whatever kind it is of."""
    words = [f"{letter * 3} {letter * 4} {letter * 5} {letter * 6} said" for letter in "bcdfghj"]
    text = (
        f"---\ndate: 2026-02-07\nanswers:\n  no-photo: {words[0]}\nphotos:\n  a.jpg: {words[6]}\n"
        f"  b.jpg:\n    private: true\n    caption: {words[1]}\n# {words[2]}\n---\n\npublic\n\n"
        f"!!! private {words[3]}\n    {words[4]}\n\n<!--\n{words[5]} -->\n"
    )
    found = gathered(tmp_path, {"entries/a/index.md": text}).runs
    places = [int(found[one].rpartition(":")[2]) if one in found else 0 for one in words]
    assert places == [4, 7, 10, 15, 16, 18, 0]
    build = "aircraft:\n  name: Tarn\n\n  serial: T-0042\n"
    (told,) = (
        one for one in gathered(tmp_path, {"build.yml": build}).secrets if one.what != MACHINE and "serial" in one.what
    )
    assert told.where == "content/build.yml:4"


def test_an_empty_file_is_no_original(tmp_path: Path) -> None:
    """Every empty file is alike, and a folder is none."""
    found = gathered(tmp_path, {"entries/a/empty.jpg": "", "entries/a/one.jpg": "x"}).originals
    assert [path.name for paths in found.values() for path in paths] == ["one.jpg"]


@pytest.mark.parametrize(
    "body",
    [
        f"!!! private\n    {TEXT}",
        f"!!! private\n{TEXT}",
        f"!!! private\n    One.\n{TEXT}",
        f"> !!! private\n>     {TEXT}",
        f"- !!! private\n    {TEXT}",
        f"1. !!! private\n    {TEXT}",
        f"??? private\n    {TEXT}",
        f"!!! note private\n    {TEXT}",
        f"!! private\n    {TEXT}",
        f"!!! privat\n    {TEXT}",
        f"！！！ private\n    {TEXT}",
        f"<!-- {TEXT} -->",
        f"<!-- {TEXT}",
        f"text\n\n!!! private\n\n    One.\n\n    {TEXT}",
        f"!!! private {TEXT}",
        f"```\n!!! private\n    {TEXT}\n```",
    ],
)
def test_private_passages(tmp_path: Path, body: str) -> None:
    """In every form in which somebody may have meant to hide; each with its line."""
    found = runs(tmp_path, f"Public words.\n\n{body}\n\nMore public words that everybody may read here.")
    assert FIRST_RUN in found
    assert re.fullmatch(r"content/entries/a/index\.md:\d+", found[FIRST_RUN])
    assert not any("everybody" in run for run in found if "<!--" not in body)


@pytest.mark.parametrize(
    "head",
    [
        f"answers:\n  no-photo: {TEXT}\n",
        f"answers: {{no-photo: {TEXT}}}\n",
        f"photos:\n  IMG_1.jpg: {{private: true, caption: {TEXT}}}\n",
        f"photos:\n  IMG_1.jpg: {{private, caption: {TEXT}}}\n",
        f"photos:\n  IMG_0.jpg: Public\n  IMG_1.jpg:\n    caption: {TEXT}\n    private: yes\n",
        f"# {TEXT}\n",
    ],
)
def test_private_things_of_a_front_matter(tmp_path: Path, head: str) -> None:
    """Answers, captions of private pictures, remarks."""
    assert FIRST_RUN in runs(tmp_path, "Public words.", head)


def test_only_what_stands_with_a_private_picture_is_private(tmp_path: Path) -> None:
    """In a list, on one line, with words like it in a caption."""
    for head in (
        f"photos:\n  - {{file: a.jpg, caption: {TEXT}}}\n  - {{file: b.jpg, private: true}}\n",
        f"photos: {{a.jpg: {TEXT}, b.jpg: {{private: true}}}}\n",
        f"photos:\n  b.jpg: {{private: true}}\n  a.jpg: {TEXT}\n",
        "photos:\n  a.jpg: A visit to a private airstrip in the hills\n",
        "photos:\n  a.jpg: \"Opened hole # 30 in the rib to the next size\"\ntitle: 'Rib # 3 of the left flap'\n",
    ):
        assert runs(tmp_path, "Finally!! My private pilot licence has come in the post.", head) == {}
    found = runs(tmp_path, "x", f"photos: {{a.jpg: public, b.jpg: {{caption: {TEXT}, private: true}}}}\n")
    assert FIRST_RUN in found
    assert "public" not in " ".join(found)


@pytest.mark.parametrize(
    "head",
    ["{date: 2026-02-07, private: true}", "{private, date: 2026-02-07}", "  date: 2026-02-07\n  private: yes"],
)
def test_front_matter_in_other_forms(tmp_path: Path, head: str) -> None:
    """In braces, or indented."""
    text = f"---\n{head}\n---\n\n{TEXT}\n"
    assert FIRST_RUN in gathered(tmp_path, {"entries/a/index.markdown": text}).runs
    assert gathered(tmp_path, {"entries/a/index.markdown": text.replace("true", "no").replace("yes", "no")}).runs == (
        {} if "private, " not in head else gathered(tmp_path, {"entries/a/index.markdown": text}).runs
    )


@pytest.mark.parametrize(
    "text",
    [
        "Date,What ,amount\n2026-01-01,{},3\n",
        "sep=;\ndate;what;amount\n2026-01-01;{};3\n",
        "date\twhat\tamount\n2026-01-01\t{}\t3\n",
        "date, what, amount\n2026-01-01, {}, 3\n",
        'date, what, amount\n2026-01-01, "a loan, from Karl", 3\n',
    ],
)
def test_tables_as_spreadsheets_save_them(tmp_path: Path, text: str) -> None:
    """Headings in capitals, other signs between, another encoding; short words as well."""
    assert "a loan from karl" in gathered(tmp_path, {"costs.csv": text.format("a loan from Karl")}).runs
    (tmp_path / "content/costs.csv").write_bytes(text.format("a loan from Karl").encode("utf-16"))
    assert "a loan from karl" in gather_private(tmp_path).runs


def test_papers_and_notes_make_no_habit(tmp_path: Path) -> None:
    """Only what everybody reads can."""
    private = f"{HEAD}private: true\n---\n\n{TEXT}\n"
    files = {"entries/p/index.md": private, **{f"records/{n}.txt": TEXT for n in range(4)}}
    assert FIRST_RUN in gathered(tmp_path, files).runs


def test_keys_in_capitals_are_keys(tmp_path: Path) -> None:
    """As the reader takes them; what `Shown as` shows is shown."""
    build = "People:\n  ada: {Name: Ada Bergstrom, Shown as: Ada}\nAircraft: {Registration: QX-TRN}\nShow: [places]\n"
    assert secrets(tmp_path, build + "Places: {x: Ostrindel}\n") == [
        ("Ada Bergstrom", FULL),
        ("Bergstrom", FAMILY),
        ("QX-TRN", "the registration of the aircraft"),
    ]
    for word in ("tbd", "TBA", "pending", "none", "unknown", "n/a", "reserved", "applied for", "later", "not yet"):
        assert secrets(tmp_path, f"aircraft: {{registration: {word}, serial: {word}}}\n") == []
    assert secrets(tmp_path, "aircraft: {serial: '750'}\n") == []


@pytest.mark.parametrize(
    ("name", "text", "found"),
    [
        ("Long", "a longer spar", False),
        ("Long", "Long’s spar", True),
        ("Bergstrom", "Bergstroms", True),
        ("mill", "one millimetre", False),
        ("QX-ONE", "QX\u2013ONE", True),
        ("QX-ONE", "QX.ONE", True),
    ],
)
def test_a_name_is_no_part_of_a_word(name: str, text: str, found: bool) -> None:
    """Cases and dashes of all kinds, but no comparison and no other word."""
    pattern = pattern_of(Secret(words=name, what="x", ending=ENDING))
    assert bool(re.search(pattern, text, re.IGNORECASE)) is found


def test_a_caption_is_public_unless_it_says_private(tmp_path: Path) -> None:
    """`private: false` is a clear no."""
    assert (
        runs(tmp_path, "x", f"photos:\n  IMG_1.jpg: {TEXT}\n  IMG_2.jpg: {{private: false, caption: {TEXT}}}\n") == {}
    )


@pytest.mark.parametrize(
    ("name", "text", "line"),
    [
        ("records/records.csv", f"file,date,kind,title,note\nx.txt,2026-01-01,bill,{TEXT},\n", 2),
        ("records.csv", f"file;date;kind;title;note\nx.txt;2026-01-01;bill;A;{TEXT}\n", 2),
        ("costs.csv", f"date,assembly,what,amount\n2026-01-01,flaps,{TEXT},3\n", 2),
        ("tasks.csv", f"section,task,name,note\na,1,what everybody reads,{TEXT}\n", 2),
        ("inventory.csv", f"crate,part,replacement_note\n1,W-1,{TEXT}\n", 2),
        ("Materials.CSV", f"sep=,\nname,batch\nx,{TEXT}\n", 3),
        ("bulletins.csv", f"id,title,note\nb1,{TEXT},\n", 2),
        ("bulletins.csv", f"id,title,note\nb1,x,\nb2,{TEXT},\nb3,,y\nb4,x,{TEXT}\n", 3),
        ("bulletins.csv", f"id,title,note\nb1,x\nb2,x,{TEXT}\n", 3),
        ("records.csv", f"note\n{TEXT}\n", 2),
    ],
)
def test_private_columns_of_tables(tmp_path: Path, name: str, text: str, line: int) -> None:
    """Papers, money, remarks on tasks and replacements."""
    found = gathered(tmp_path, {name: text}).runs
    assert found[FIRST_RUN] == f"content/{name}:{line}"
    assert "what everybody reads" not in found


def test_what_also_stands_in_public_is_told_all_the_same(tmp_path: Path) -> None:
    """One copy of a private passage in a public entry is a leak and no excuse; words in three files are a habit."""
    private = {"entries/p/index.md": f"{HEAD}private: true\n---\n\n{TEXT}\n"}
    copies = {f"entries/{n}/index.md": f"{HEAD}---\n\n{TEXT}\n" for n in range(2)}
    assert FIRST_RUN in gathered(tmp_path, {**private, **copies}).runs
    copies = {f"entries/{n}/index.md": f"{HEAD}---\n\n{TEXT}\n" for n in range(3)}
    assert FIRST_RUN not in gathered(tmp_path, copies).runs


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("", []),
        ("a b", []),
        ("a b c", ["a b c"]),
        ("a b c d e f g h i", ["a b c d e f g h", "b c d e f g h i"]),
        (
            "One two three four five. Six seven eight nine.",
            [
                "one two three four five",
                *("one two three four five six seven eight", "two three four five six seven eight nine"),
            ],
        ),
    ],
)
def test_runs_of_a_passage(text: str, found: list[str]) -> None:
    """Eight words in a row; a short passage as a whole, a sentence of five to seven words as well."""
    assert list(runs_of(text)) == found


@given(st.lists(st.sampled_from("abcdefgh"), min_size=8, max_size=20))
def test_every_eight_words_in_a_row_are_a_run(words: list[str]) -> None:
    """Law: as slices of the list say."""
    found = list(runs_of(" ".join(words)))
    assert found == [" ".join(words[at : at + 8]) for at in range(len(words) - 7)]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("The *sp*ar, `was` [bent](../x/index.md)!", ["the", "spar", "was", "bent"]),
        ("pri\u00advate &amp; ＢＩＧ", ["private", "big"]),
        ("a_b", ["a", "b"]),
        ("two [rib](../x/index.md)s", ["two", "ribs"]),
    ],
)
def test_words_as_they_are_read(text: str, words: list[str]) -> None:
    """Without marks of Markdown, addresses and characters that nobody sees."""
    assert words_of(text) == words


def test_originals_and_numbers(tmp_path: Path) -> None:
    """Files by size, wherever a builder keeps them; the country follows from the zone."""
    found = gathered(
        tmp_path,
        {
            "build.yml": "zone: Europe/Zurich\n",
            "entries/a/index.md": f"{HEAD}---\n\nCall 079 123 45 67.\n",
            "entries/a/IMG_1.jpg": "abc",
            "records/bill.txt": "abcd",
            "inspections/b/c/two.jpg": "12345",
            "measurements/d/three.jpg": "67890",
            "terms/four.jpg": "abc",
        },
    )
    assert found.region == "CH"
    assert dict(found.texts)["content/entries/a/index.md"].split("\n")[5] == "Call 079 123 45 67."
    assert {size: [path.name for path in paths] for size, paths in found.originals.items() if size < 9} == {
        3: ["IMG_1.jpg"],
        4: ["bill.txt"],
        5: ["two.jpg", "three.jpg"],
    }


def test_the_texts_in_which_a_leak_may_stand(tmp_path: Path) -> None:
    """Whatever holds words, by its ending in any case; no picture, no folder that is called like a text."""
    named = ["a.md", "b.Markdown", "build.yml", "c.yaml", "d.CSV", "e.txt"]
    gathered(tmp_path, dict.fromkeys([*named, "f.jpg", "g", "h.md/i.jpg"], "x"))
    (tmp_path / "mkdocs.yml").write_text("site_name: x")
    found = gather_private(tmp_path).texts
    assert [name for name, _ in found] == [*(f"content/{name}" for name in named), "mkdocs.yml"]


@pytest.mark.parametrize(
    ("counts", "said"),
    [
        ((1, 1, 1, 1), "1 form of a name, 1 place, number or folder, 1 private passage, 1 original"),
        ((2, 3, 4, 5), "2 forms of names, 3 places, numbers and folders, 4 private passages, 5 originals"),
        ((0, 0, 0, 0), ""),
    ],
)
def test_what_was_looked_for_is_said(counts: tuple[int, int, int, int], said: str) -> None:
    """So that nobody takes a search for a promise; of nothing nothing is said, passages are counted by their places."""
    names, others, passages, files = counts
    private = Private(
        secrets=(Secret(words="x", what=FULL),) * names + (Secret(words="y", what=PLACE),) * others,
        runs={f"{number} {word}": f"f:{number}" for number in range(passages) for word in "ab"},
        originals={3: (Path("a"),) * files},
    )
    assert str(private) == said


def test_the_whole_of_what_a_secret_is_called(tmp_path: Path) -> None:
    """Each kind in words, and a folder of the machine that builds."""
    (tmp_path / "content").mkdir()
    found = {one.what for one in gather_private(tmp_path).secrets}
    assert found == {MACHINE}
    told = secrets(tmp_path, "aircraft: {registration: QX-TRN, serial: T-0042}\n")
    assert told == [("QX-TRN", "the registration of the aircraft"), ("T-0042", "the serial of the aircraft")]


@pytest.mark.parametrize("mark", ["!!! private", "!!! Private", "!!! PRIVATE"])
def test_words_behind_a_mark_are_private_without_it(tmp_path: Path, mark: str) -> None:
    """Whatever its letters; further words like it belong to the text."""
    found = runs(tmp_path, f"{mark} the private loan was paid off")
    assert "the private loan was paid off" in found


PHOTOS = (
    "photos:\n  a.jpg: P\n  # S\n  b.jpg:\n    PRIVATE: Yes\n    caption: S-2\n  c.jpg: P",
    "pictures: {a.jpg: P, b.heic: {private, caption: S}, c.jpg: {private: off, caption: P}}",
    "images:\n- file: a.jpg\n  caption: P\n- file: b.jpg\n  caption: S-1\n  private: true",
)
IN_HEAD = (
    "title: P",
    "# S",
    "'answers':\n  no-photo: S\n  one-picture: S",
    "'title': 'P # P'  # S",
    "stage: Karl's P  # it's 'S' or \"S\"",
)
IN_BODY = (
    *("P", "P\n! P", "`!!! private` P", "- P\n\n    !!! privation\n        S", "??? private S\n\n    S\n\n  S"),
    *("!!! private\n    S", "<!-- S -->", "P <!--\nS-1 -->", "> !!! private\n>     S\n> S-1", "!!! private\nS\nS-1"),
    *("!!! private\n    S\n\n> P", "> !!! private\n>     S\n\n>     S", "!!! prviate S"),
)
"""What may stand in an entry: P for public words, S for private ones, S-1 where they are told with the line before."""


@settings(max_examples=30)
@given(st.sampled_from(PHOTOS), st.permutations(IN_HEAD), st.lists(st.sampled_from(IN_BODY), max_size=6))
def test_what_is_private_is_told_with_its_line(
    tmp_path_factory: pytest.TempPathFactory, photos: str, head: list[str], body: list[str]
) -> None:
    """Law: in whatever order private and public things stand, the private ones are gathered and nothing else is."""
    told, public, number = {}, set[str](), count()
    parts = ["---", "date: 2026-02-07", *head[:2], photos, *head[2:], "---", "", "\n\n".join(body)]
    lines = enumerate("\n".join(parts).split("\n"), 1)

    def words(found: re.Match[str], line: int) -> str:
        said = [f"wort{next(number)}" for _ in range(8)]
        if found[0] == "P":
            public.update(said)
        else:
            told[" ".join(said)] = f"content/entries/a/index.md:{line - int(found[1] or 0)}"
        return " ".join(said)

    text = [re.sub(r"\b(?:P|S(?:-(\d))?)\b", lambda found, at=at: words(found, at), one) for at, one in lines]
    runs = gathered(tmp_path_factory.mktemp("planted"), {"entries/a/index.md": "\n".join(text)}).runs
    assert {run: runs.get(run) for run in told} == told
    assert not [run for run in runs if public & {*run.split()}], text


@pytest.mark.parametrize(
    ("length", "said", "copies", "told"),
    [
        (5, ["0:5"], 3, False),
        (5, ["0:5"], 2, True),
        (5, ["0:4", "1:5"], 3, True),
        (6, ["0:5", "1:6"], 3, False),
        (8, ["0:7"], 3, False),
        (8, ["0:6"], 3, True),
        (8, ["0:5", "3:8"], 3, True),
        (4, ["0:4"], 1, False),
        (4, ["0:3", "1:4"], 9, True),
    ],
)
def test_what_is_a_habit_of_writing(tmp_path: Path, length: int, said: list[str], copies: int, told: bool) -> None:
    """Five words in a row that stand in three public files; of a shorter passage all of it, in one."""
    words = [f"wort{number}" for number in range(8)]
    slices = [words[int(one[0]) : int(one[2])] for one in said]
    body = "\n\n".join(" ".join(one) for one in slices)
    public = {f"entries/{n}/index.MD": f"{HEAD}---\n\n{body}\n" for n in range(copies)}
    private = {"entries/p/index.md": f"{HEAD}private: true\n---\n\n{' '.join(words[:length])}\n"}
    assert bool(gathered(tmp_path, public | private).runs) is told
    # A list that everybody reads is one file; a list of what was bought is none.
    assert bool(gathered(tmp_path / "steps", {"steps.csv": body, **private}).runs) is (told or length > 4)
    assert gathered(tmp_path / "bought", {"materials.csv": body, **private}).runs


@pytest.mark.parametrize(("line", "held"), [(60, True), (61, False)])
def test_front_matter_without_an_end(tmp_path: Path, line: int, held: bool) -> None:
    """Sixty lines are taken for it, or all there are."""
    text = "\n".join(["---", *(f"key{number}: x" for number in range(line - 1)), "private: true", "", TEXT])
    gathered(tmp_path, {"entries/long/index.md": text, "entries/short/index.md": f"---\nprivate: true\n{TEXT}"})
    held_back = {one.words for one in gather_private(tmp_path).secrets if one.what == FOLDER}
    assert held_back == ({"long", "short"} if held else {"short"})


def test_which_forms_are_minded_exactly(tmp_path: Path) -> None:
    """Short names and IDs, since they are words as well; longer names in any case of letters and grammar."""
    build = "people: {bo-l: {name: Bo Lin Bergstrom}}\nplaces: {xy: Garage at Moo Moor 4711 12345}\n"
    told = gathered(tmp_path, {"build.yml": build}).secrets
    forms = {one.words: (one.exact, one.ending == ENDING) for one in told if one.what != MACHINE}
    short, name, whole = (True, False), (False, True), (False, False)
    place = {"Garage at Moo Moor 4711 12345": whole, "Moor": name, "12345": whole}
    assert forms == {"Bo Lin Bergstrom": name, "Bo": short, "Lin": short, "Bergstrom": name, "bo-l": short, **place}
    assert {one.where for one in told if one.what != MACHINE} == {"content/build.yml:1", "content/build.yml:2"}
    (name, *_) = gathered(tmp_path, {"build.yml": "people:\n  bo:\n    name: Bo\n      Lindqvist\n"}).secrets
    assert (name.words, name.where) == ("Bo Lindqvist", "content/build.yml")


@pytest.mark.parametrize(("home", "told"), [("/abcd", False), ("/abcde", True)])
def test_a_folder_of_this_machine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, home: str, told: bool) -> None:
    """The build's and the home of whoever builds, unless that is as good as nothing (`/root`)."""
    monkeypatch.setattr(Path, "home", lambda: Path(home))
    found = {one.words: one.exact for one in gather_private(tmp_path).secrets}
    assert found == {str(tmp_path): True, **({home: True} if told else {})}


def test_what_lies_where_no_folder_tells(tmp_path: Path) -> None:
    """A page kept back by itself, and a sealed copy under its digest: their words are private, their names are none."""
    text = f"{HEAD}private: true\n---\n\n{TEXT}\n"
    found = gathered(tmp_path, dict.fromkeys(["about.md", "seals/texts/ab12.md", "entries/x/index.md"], text))
    told = [(one.words, one.where, one.exact) for one in found.secrets if one.what == FOLDER]
    assert told == [("x", "content/entries/x/index.md", True)]
    assert [name for name, _ in found.texts if name.endswith("about.md")] == ["content/about.md"]


def test_where_a_leak_is_looked_for_first(tmp_path: Path) -> None:
    """In what everybody may read, then in lists and papers, last in what is kept back."""
    names = {"entries/a.md": "private: true\n", "records/b.csv": "", "entries/c.md": "", "d.yml": ""}
    found = gathered(tmp_path, {name: f"---\n{flag}---\n" for name, flag in names.items()})
    order = ["content/entries/c.md", "content/d.yml", "content/records/b.csv", "content/entries/a.md"]
    assert [name for name, _ in found.texts] == order


@pytest.mark.parametrize("no", ["no", "No", "false", "FALSE", "n", "off", "'no'", '"off"'])
def test_a_clear_no_keeps_nothing_back(tmp_path: Path, no: str) -> None:
    """Of an entry and of a picture, whatever stands behind it."""
    head = f"draft: {no}  # {no}\nphotos: {{a.jpg: {{private: {no}, caption: the big dent}}}}\n"
    found = gathered(tmp_path, {"entries/a/index.md": f"{HEAD}{head}---\n\n{TEXT}\n"})
    assert found.runs == {}
    assert not [one for one in found.secrets if one.what == FOLDER]


def test_a_table_that_cannot_be_read_is_private_as_a_whole(tmp_path: Path) -> None:
    """A quote that is never closed swallows more than a cell may hold; then no cell is told from another."""
    text = f'date,what\n2026-01-01,"{"x " * 70_000}\n{TEXT}\n'
    assert gathered(tmp_path, {"costs.csv": text}).runs[FIRST_RUN] == "content/costs.csv"
    assert gathered(tmp_path / "other", {"records/letter.txt": text}).runs == {}


@pytest.mark.parametrize(
    ("end", "coding", "mark"),
    [
        ("\r\n", "utf-8", b"\xef\xbb\xbf"),
        ("\r", "utf-16-le", b"\xff\xfe"),
        ("\n", "utf-16-be", b"\xfe\xff"),
        ("\n", "latin-1", b""),
    ],
)
def test_files_of_any_machine_are_read(tmp_path: Path, end: str, coding: str, mark: bytes) -> None:
    """Whatever ends their lines and stands for their letters; a line is told as an editor counts it."""
    text = f"{HEAD}---\n\n!!! private\n    {TEXT} übel\n".replace("\n", end)
    (tmp_path / "content/entries").mkdir(parents=True)
    (tmp_path / "content/entries/a.md").write_bytes(mark + text.encode(coding))
    assert gather_private(tmp_path).runs[FIRST_RUN] == "content/entries/a.md:7"
