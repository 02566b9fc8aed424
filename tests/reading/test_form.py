"""One mapping being read: keys in any dress, flags, names, steps; whatever is otherwise is told with what to write."""

from __future__ import annotations

from enum import Enum

import pytest

from journal.base.model import Assembly, Person, Role, Step
from journal.reading.form import Form, KnownIds, check_former_names
from journal.reading.text import Notes
from journal.reading.tree import Scalar, parse_yaml

KEYS = ("title", "date", "people", "hours", "place", "photos", "assembly", "begun", "redone", "private", "shop_head")
ORDER = ("5.1", "5.2", "5.3", "wing-7", "wing-8", "wing-9", "7-1", "7-2")


class Kind(Enum):
    """Words of a closed list."""

    LEAK = "leak test"
    WEIGHT = "weighing"


def known() -> KnownIds:
    """Two people, two assemblies, some steps."""
    people = {
        "ada": Person(id="ada", name="Ada Bergstrom", shown_as="Addie", role=Role.BUILDER),
        "bo": Person(id="bo", name="Bo Lindqvist", role=Role.BUILDER),
        "ada2": Person(id="ada2", name="Ada Okafor", role=Role.HELPER),
    }
    assemblies = {
        "flaps": Assembly(id="flaps", title="Flap pair", formerly=("flap-old",)),
        "left-wing": Assembly(id="left-wing", title="Left wing"),
    }
    steps = {one: Step(id=one, assembly="flaps", title=one, closes=False) for one in ORDER}
    return KnownIds(
        lists={"person": people, "assembly": assemblies, "step": steps, "material": None},
        steps=steps,
        damaged=frozenset({"5.9"}),
    )


def form(text: str, allowed: tuple[str, ...] = KEYS) -> tuple[Form, Notes]:
    """A mapping, with what was noted of it."""
    notes = Notes("index.md")
    return Form(parse_yaml(text, notes), notes, allowed, known()), notes


def told(notes: Notes) -> list[tuple[str, str, str]]:
    """(code word, message, hint) of everything."""
    return [(one.word, one.message, one.hint) for one in notes.problems]


@pytest.mark.parametrize("key", ["shop_head", "Shop Head", "SHOP-HEAD", " shop  head "])
def test_a_key_is_known_in_any_dress(key: str) -> None:
    """Capitals, hyphens and spaces."""
    made, notes = form(f'"{key}": x')
    assert (made.text("shop_head"), told(notes)) == ("x", [])


MEANT = {
    "hours": ("time", "times", "duration", "worked", "hrs", "Hours worked"),
    "people": ("who", "person", "builder", "builders", "helpers", "by", "poeple"),
    "place": ("where", "location", "workshop", "Plcae"),
    "photos": ("pictures", "images", "image", "picture", "pics", "photo"),
    "date": ("day", "when", "dates"),
    "assembly": ("section", "part", "assembley"),
    "title": ("heading", "name", "subject", "tittle"),
    "begun": ("started",),
    "redone": ("rework", "reworked"),
}


@pytest.mark.parametrize(("meant", "key"), [(meant, key) for meant, keys in MEANT.items() for key in keys])
def test_the_key_that_is_meant_is_offered(meant: str, key: str) -> None:
    """Words that people write for it, and slips; not where that one stands there too."""
    _, notes = form(f"{key}: x")
    if key == "Hours worked":
        assert told(notes)[0][2].startswith("known here: ")
        return
    assert told(notes) == [("unknown-key", f'unknown key "{key}"', f'did you mean "{meant}"?')]
    assert notes.problems[0].mend == (key, meant)
    _, notes = form(f"{key}: x\n{meant}: y")
    assert notes.problems[0].mend is None


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        *((f"{key}: x", "write it below the closing `---`") for key in ("body", "comment", "comments", "description")),
        *((f"{key}: x", "write it below the closing `---`") for key in ("note", "notes", "remarks", "text", "Notes")),
        ('"and a spar":', "is it part of a text with a comma? Such a text goes in quotes"),
        ("quokka: x", "known here: " + ", ".join(KEYS)),
    ],
)
def test_what_is_no_key_is_told_where_it_belongs(text: str, hint: str) -> None:
    """Words into the text, a part of a text into quotes; else what is known here."""
    _, notes = form(text)
    assert [one[2] for one in told(notes)] == [hint]


@pytest.mark.parametrize(
    ("word", "flag"),
    [
        *((word, True) for word in ("true", "yes", "y", "on", "Yes", "TRUE", '" on "')),
        *((word, False) for word in ("false", "no", "n", "off", "No", "FALSE")),
        ("perhaps", None),
        ("1", None),
    ],
)
def test_yes_and_no_in_the_words_of_people(word: str, flag: bool | None) -> None:
    """Anything else is an error: false as a flag, but what may be private is kept back."""
    made, notes = form(f"private: {word}")
    assert made.flag("private", default=True) is bool(flag)
    assert made.held_back("private") is (flag is not False)
    assert [one[0] for one in told(notes)] == ([] if flag is not None else ["bad-flag", "bad-flag"])


@pytest.mark.parametrize("text", ["private:", "private: [yes]", 'private: ""', "private: {a: b}"])
def test_what_may_be_private_is_kept_back(text: str) -> None:
    """Whatever stands there but a clear no; nothing where the key is not there."""
    made, notes = form(text)
    assert made.held_back("private")
    assert told(notes)[-1][0] == "bad-flag"
    assert not made.held_back("title")


@pytest.mark.parametrize(
    ("said", "kind", "found", "hint"),
    [
        ("ada", "person", ("ada",), ""),
        ("ADA", "person", ("ada",), ""),
        ("Bo", "person", ("bo",), ""),
        ("bo lindqvist", "person", ("bo",), ""),
        ("Addie", "person", ("ada",), ""),
        ("Ada Okafor", "person", ("ada2",), ""),
        ("ada, bo", "person", ("ada", "bo"), ""),
        ("ada and Bo & bo", "person", ("ada", "bo"), ""),
        ("[ada, bo]", "person", ("ada", "bo"), ""),
        ("adda", "person", (), 'did you mean "ada"?'),
        ("zoe", "person", (), "known here: ada, bo, ada2"),
        ("flap pair", "assembly", ("flaps",), ""),
        ("flap-old", "assembly", (), 'it is called "flaps" now'),
        ("whatever, it is", "material", ("whatever, it is",), ""),
    ],
)
def test_names_are_known_by_what_people_call_them(said: str, kind: str, found: tuple[str, ...], hint: str) -> None:
    """IDs in any capitals, names, given names, titles; several in one text; a list that could not be read takes all."""
    made, notes = form(f"people: {said}")
    assert made.ids("people", kind) == found
    assert [one[2] for one in told(notes)] == [hint] * bool(hint)


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("people: zoe", (1, 9)),
        ("people: ada,  zoe", (1, 15)),
        ("people: [ada, bo and zoe]", (1, 22)),
        ('people: "ada, zoe"', (1, 9)),
        ("people:\n- ada\n- bo; zoe", (3, 7)),
        ("title: x\npeople: >\n  ada,\n  zoe", (2, 9)),
    ],
)
def test_an_unknown_name_is_told_where_it_stands(text: str, place: tuple[int, int]) -> None:
    """Among others in one text too; in quotes and in folded lines at the beginning of the text."""
    made, notes = form(text)
    made.ids("people", "person")
    assert [(one.line, one.column) for one in notes.problems] == [place]


def test_one_name_of_two_is_asked_about() -> None:
    """An entry has one assembly; a given name of two people is nobody's."""
    made, notes = form("assembly: flaps and left wing")
    assert made.id("assembly", "assembly") is None
    assert told(notes)[0][2] == "write one of: flaps, left wing; an entry has one assembly, so make two entries"
    people = known().lists["person"]
    assert people
    both = KnownIds(lists={"person": {"x": people["ada"], "y": people["ada2"]}}, steps={}, damaged=frozenset())
    notes = Notes("index.md")
    assert Form(parse_yaml("people: Ada", notes), notes, KEYS, both).ids("people", "person") == ()
    assert told(notes) == [("unknown-person", '"Ada" can be more than one person', "write one of: x, y")]


@pytest.mark.parametrize(
    ("said", "steps", "words"),
    [
        ("5.1", ("5.1",), []),
        ("step 5.1", ("5.1",), []),
        ("steps 5.1, 5.3", ("5.1", "5.3"), []),
        ("5.1 to 5.3", ("5.1", "5.2", "5.3"), []),
        ("5.1-5.3", ("5.1", "5.2", "5.3"), []),
        ("5.1 – 5.3", ("5.1", "5.2", "5.3"), []),
        ("5.1..5.3", ("5.1", "5.2", "5.3"), []),
        ("5.1 through 5.2; wing-9", ("5.1", "5.2", "wing-9"), []),
        ("wing-7 to wing-9", ("wing-7", "wing-8", "wing-9"), []),
        ("wing-7-wing-8", ("wing-7", "wing-8"), []),
        ("7-1", ("7-1",), []),
        ("[5.1 to 5.2, 5.2]", ("5.1", "5.2"), []),
        ("5.2 to 5.2", ("5.2",), []),
        ("none", (), []),
        ("-", (), []),
        ("5.3 to 5.1", (), ["range-backwards"]),
        ("5.1 to 5.8", (), ["unknown-step"]),
        ("5.9", (), []),
        ("5.1 to 5.9", (), []),
        ("", (), []),
    ],
)
def test_steps_and_ranges_as_people_write_them(said: str, steps: tuple[str, ...], words: list[str]) -> None:
    """In the order of the manual; a step whose own row is damaged is told there."""
    made, notes = form(f'begun: "{said}"' if not said.startswith("[") else f"begun: {said}")
    assert (made.steps("begun"), [one[0] for one in told(notes)]) == (steps, words)


@pytest.mark.parametrize(
    ("said", "kind", "hint"),
    [
        ("leak test", Kind.LEAK, ""),
        ("Leak  Test", Kind.LEAK, ""),
        ("leaktest", None, 'did you mean "leak test"?'),
        ("quokka", None, "write one of: leak test, weighing"),
    ],
)
def test_a_word_of_a_closed_list(said: str, kind: Kind | None, hint: str) -> None:
    """In any capitals; else the nearest, or all of them."""
    made, notes = form(f"shop_head: {said}")
    assert made.choice("shop_head", Kind) is kind
    assert told(notes) == ([("bad-shop-head", f'"{said}" is not a known shop head', hint)] if hint else [])


@pytest.mark.parametrize(
    ("text", "told_of"),
    [
        ("title: [a]", ("not-text", '"title" takes one text', "write `title: …` on one line")),
        ("people: {a: b}", ("not-a-list", '"people" takes a list', "write `people: [one, two]`")),
        ("people: [ada, '']", ("empty-item", 'an item of "people" is empty', "write it, or take it out")),
        ("people: [[ada]]", ("not-text", 'an item of "people" is not plain text', "put it in quotes")),
        ("photos: [a]", ("not-a-mapping", '"photos" takes rows', "write `- {name: value, …}` below `photos:`")),
        ("hours: [1]", ("not-a-mapping", '"hours" takes lines of `name: value`', "indent them below it")),
        ("title: a\nTitle: b", ("key-twice", '"title" is given twice', "keep one of them")),
    ],
)
def test_a_value_of_another_form_is_told(text: str, told_of: tuple[str, str, str]) -> None:
    """What it should be, and how that is written."""
    made, notes = form(text)
    made.text("title"), made.texts("people"), made.rows("photos"), made.fields_under("hours")
    assert told(notes) == [told_of]


def test_lists_and_rows_may_be_one() -> None:
    """A single text is a list of one, a single mapping one row; a text with a colon in a list stays a text."""
    made, _ = form("people: ada\nphotos: {a: b}\nhours: {ada: 1}\ntitle: ' x '\nredone: [a, b: c]")
    assert [one.text for one in made.texts("people")] == ["ada"]
    assert len(made.rows("photos")) == 1
    assert made.fields_under("hours") is not None
    assert (made.text("title"), made.text("place", "home")) == ("x", "home")
    assert [one.text for one in made.texts("redone")] == ["a", "b: c"]
    assert made.inner_places("photos", "hours")["hours.ada"] == (3, 9)


def test_what_is_missing_is_told_once() -> None:
    """With what to add; not where it is there and could not be read."""
    made, notes = form("date: 2026-02-07\nassembly:")
    assert made.required("assembly") is None
    assert told(notes) == [("key-missing", '"assembly" is missing', "add `assembly: …`")]
    assert notes.problems[0].line == 2
    broken, notes = form("date: 2026-02-07\ntitle: a: b")
    assert broken.required("title") is None
    assert [one[0] for one in told(notes)] == ["yaml-colon"]


def test_former_names_lead_to_one_page_each() -> None:
    """Not to what is called so today, in any capitals, and not to two."""
    said: list[tuple[str, str]] = []

    def note(word: str, message: str, hint: str) -> None:
        said.append((message, hint))

    rows = [("b", ("a", "A2"), note), ("c", ("a2", "C9"), note), ("d", ("d-old", "d-old"), note)]
    check_former_names(rows, ["A", "b", "c"])
    assert said == [
        ('"a" cannot be a former name: "A" has its address today', "take it out, or rename that one"),
        ('"a2" is a former name of "b" as well', "keep it where its readers should be led"),
    ]


@pytest.mark.parametrize(
    ("text", "steps"),
    [
        ("A-1", ("A-1",)),
        ("step A-1", ("A-1",)),
        ("A - 1", ("A", "B", "1")),
        ("A to 1", ("A", "B", "1")),
        ("A-1, B", ("A-1", "B")),
        ("W-10", ("W-10",)),
        ("W-10 to A-1", ("W-10", "A-1")),
    ],
)
def test_a_dash_within_a_step_makes_no_range(text: str, steps: tuple[str, ...]) -> None:
    """A step that is called so is meant before any range of others."""
    known = {one: Step(id=one, assembly="flaps", title="") for one in ("A", "B", "1", "W-10", "A-1")}
    notes = Notes("x.md")
    ids = KnownIds(lists={"step": known}, steps=known, damaged=frozenset())
    assert ids.step_ids([Scalar(text=text, where=(1, 1))], notes) == steps
    assert not notes.problems
