"""Edits of front matter: what is asked for is there, and every other sign stays as it was."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from journal.reading.edits import (
    EditRefusedError,
    add_comment,
    add_former_names,
    add_items,
    add_pair,
    add_paragraph,
    add_row,
    add_time,
    comments_and_body,
    drop_comment,
    drop_key,
    drop_photo,
    name_hours,
    read_rows,
    set_caption,
    set_value,
)
from journal.reading.text import Notes
from journal.reading.tree import Fields, Items, Scalar, parse_yaml

ENTRY = """---
title: "Flap skeletons"   # the first ones
date: 2026-02-07
assembly: flaps
# hours: 18:32-20:10
steps: [5.3, 5.4]    # both halves
people:
  - ada   # she
  - bo

# next time
photos:    # what each one shows
  IMG_1.jpg: ""    # 18:32
  IMG_2.jpg: {caption: "Ribs", step: 5.3}
draft: yes
---
The words.
"""


def keys_of(text: str) -> Fields:
    """The front matter as it reads."""
    matter = re.split(r"^---\s*$", text.replace("\r\n", "\n").lstrip("\ufeff"), maxsplit=2, flags=re.MULTILINE)[1]
    return parse_yaml(matter, Notes(""))


def changed(before: str, after: str) -> tuple[list[str], list[str]]:
    """Lines that only one of them has, in order."""
    old, new = before.splitlines(keepends=True), after.splitlines(keepends=True)
    while old and new and old[0] == new[0]:
        del old[0], new[0]
    while old and new and old[-1] == new[-1]:
        del old[-1], new[-1]
    return [line.rstrip() for line in old], [line.rstrip() for line in new]


@pytest.mark.parametrize(
    ("edit", "old", "new"),
    [
        (
            lambda t: set_value(t, "title", '"Two"'),
            ['title: "Flap skeletons"   # the first ones'],
            ['title: "Two"   # the first ones'],
        ),
        (lambda t: set_value(t, "hours", "1:15"), [], ["hours: 1:15"]),
        (lambda t: set_value(t, "place", "shed"), [], ["place: shed"]),
        (
            lambda t: add_items(t, "steps", ["5.10", "5.4"]),
            ["steps: [5.3, 5.4]    # both halves"],
            ["steps: [5.3, 5.4, 5.10]    # both halves"],
        ),
        (lambda t: add_items(t, "people", ["cy"]), [], ["  - cy"]),
        (lambda t: add_items(t, "begun", ["5.5"]), [], ["begun: [5.5]"]),
        (
            lambda t: add_row(t, "torque", {"bolt": "AN4-10A", "value": "62 in-lb"}),
            [],
            ["torque:", '- {bolt: AN4-10A, value: "62 in-lb"}'],
        ),
        (
            lambda t: set_caption(t, "IMG_1.jpg", "A: #1"),
            ['  IMG_1.jpg: ""    # 18:32'],
            ['  IMG_1.jpg: "A: #1"    # 18:32'],
        ),
        (
            lambda t: set_caption(t, "IMG_2.jpg", "Two"),
            ['  IMG_2.jpg: {caption: "Ribs", step: 5.3}'],
            ["  IMG_2.jpg: {caption: Two, step: 5.3}"],
        ),
        (
            lambda t: set_caption(t, "IMG_1.jpg", "Ribs"),
            ['  IMG_1.jpg: ""    # 18:32'],
            ['  IMG_1.jpg: "Ribs"    # 18:32'],
        ),
        (lambda t: set_caption(t, "IMG_3.jpg", "Three"), [], ["  IMG_3.jpg: Three"]),
        (lambda t: drop_key(t, "draft"), ["draft: yes"], []),
        (lambda t: add_comment(t, "clock: ada since 18:30"), [], ["# clock: ada since 18:30"]),
        (lambda t: drop_comment(t, "next time"), ["# next time"], []),
        (lambda t: add_paragraph(t, "More."), [], ["", "More."]),
    ],
)
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_an_edit_changes_its_lines_and_no_other(edit, old: list[str], new: list[str], newline: str) -> None:  # type: ignore[no-untyped-def]
    """Whatever stands around it stays, sign for sign, with the line ends that the file has."""
    before = ENTRY.replace("\n", newline)
    after = edit(before)
    assert changed(before, after) == (old, new)
    assert after.count("\r\n") == (after.count("\n") if newline == "\r\n" else 0)


@pytest.mark.parametrize(
    ("was", "item", "now"),
    [
        ("steps: 5.3", "5.4", "steps: [5.3, 5.4]"),
        ("steps: 5.3 to 5.5, 5.7", "5.9", "steps: 5.3 to 5.5, 5.7, 5.9"),
        ("steps: none", "5.4", "steps: [5.4]"),
        ("Steps:", "5.4", "Steps: [5.4]"),
        ("steps:   # later", "5.4", "steps: [5.4]   # later"),
        ("steps: []", "5.4", "steps: [5.4]"),
        ("steps: [5.3, ]", "5.4", "steps: [5.3, 5.4, ]"),
        ("steps: [5.3,\n  5.5]   # x", "5.4", "steps: [5.3,\n  5.5, 5.4]   # x"),
        ("steps:\n- 5.3 # a\n# b", "5.4", "steps:\n- 5.3 # a\n- 5.4\n# b"),
        ("steps:\n   - 5.3", "5.4", "steps:\n   - 5.3\n   - 5.4"),
        ('steps: "5.3"', "5.4", 'steps: ["5.3", 5.4]'),
        ("steps: 5.4", "5.4", "steps: 5.4"),
        ("Steps: [5.3]", "5.4", "Steps: [5.3, 5.4]"),
        ("title: |\n  Ribs\n\nbegun:\n- 5.3", "5.4", "title: |\n  Ribs\nsteps: [5.4]\n\nbegun:\n- 5.3"),
    ],
)
def test_a_list_takes_one_more_in_whatever_form_it_is(was: str, item: str, now: str) -> None:
    """Brackets, dashes, a text, nothing: each keeps its form."""
    text = f"---\ndate: 2026-02-07\n{was}\n# end\n---\n"
    assert add_items(text, "steps", [item]) == text.replace(was, now)


@pytest.mark.parametrize(
    "was",
    [
        "photos: [IMG_1.jpg, IMG_2.jpg]",
        "photos:\n- IMG_1.jpg\n- IMG_2.jpg: old",
        "photos:\n- {file: IMG_1.jpg, step: 5.3}\n",
        "photos: {IMG_1.jpg: old}",
        "photos:",
        "photos: {}",
        "photos:\n- File: img_1.JPG\n  Caption: old",
        "Photos: {img_1.JPG: {Caption: old}}",
        "x: 1",
    ],
)
@pytest.mark.parametrize("name", ["IMG_1.jpg", "a b, c.jpg"])
def test_a_caption_goes_to_its_photo_in_whatever_form(was: str, name: str) -> None:
    """A list of names, of pairs, of mappings, one mapping, nothing."""
    text = f"---\ndate: 2026-02-07\n{was}\n---\n"
    after = set_caption(text, name, "Now: it's #1")
    assert "Now: it's #1" in after
    assert after.startswith("---\ndate: 2026-02-07\n")
    assert after.casefold().count("img_1.jpg") == max(was.casefold().count("img_1.jpg"), name == "IMG_1.jpg")


@pytest.mark.parametrize(
    ("text", "edit"),
    [
        ("no front matter", lambda t: set_value(t, "title", "x")),
        ("---\ntitle: [open\n---\n", lambda t: set_value(t, "title", "x")),
        ("---\n- a\n---\n", lambda t: set_value(t, "title", "x")),
        ("---\n{title: x}\n---\n", lambda t: set_value(t, "title", "x")),
        ("---\ntitle: a\ntitle: b\n---\n", lambda t: set_value(t, "hours", "x")),
        ("---\nhours: # each\n  ada: 1\n  # bo\n  bo: 2\n---\n", lambda t: set_value(t, "hours", "3")),
        ("---\ntools: rivet gun, bar\n---\n", lambda t: add_items(t, "tools", ["drill"])),
        ("---\nphotos: IMG_1.jpg, IMG_2.jpg\n---\n", lambda t: set_caption(t, "IMG_1.jpg", "x")),
        ("---\ntitle: a\n---\n```\ncode\n", lambda t: add_paragraph(t, "x")),
        ("---\ntitle: a\n---\n", lambda t: set_value(t, "title", "a: b: c")),
        ("---\ntitle: a\n---\n", lambda t: set_value(t, "title", "x\ndraft: true")),
    ],
)
def test_what_cannot_be_changed_by_itself_is_refused(text: str, edit) -> None:  # type: ignore[no-untyped-def]
    """Better nothing than something beside it."""
    with pytest.raises(EditRefusedError):
        edit(text)


def test_line_ends_of_old_machines_are_named() -> None:
    """The reader takes them, so the front matter is there; what to do is said."""
    with pytest.raises(EditRefusedError, match="CR alone"):
        set_value(ENTRY.replace("\n", "\r"), "title", "x")


@pytest.mark.parametrize("comment", ["", "# later", "  # later: the photos"])
def test_a_comment_behind_a_key_outlives_it(comment: str) -> None:
    """`draft: true  # until the photos are in`: the reason is the builder's."""
    kept = f"{comment.strip()}\n" if comment else ""
    assert drop_key(f"---\ntitle: a\ndraft: yes {comment}\n---\n", "draft") == f"---\ntitle: a\n{kept}---\n"


def test_the_first_key_of_empty_front_matter() -> None:
    """Nothing between the rules is a place too."""
    assert set_value("---\n---\nBody\n", "title", "x") == "---\ntitle: x\n---\nBody\n"
    assert add_paragraph("---\n---\n", "x") == "---\n---\nx\n"
    assert add_paragraph("---\n---", "x") == "---\n---\nx\n"


@pytest.mark.parametrize(
    "row",
    [
        "{rivet: AN470AD4-5, count: 7, step: 7.10}",
        '{bolt: AN4-10A, value: "62 in-lb", "a: b": [1, two]}',
        "{file: IMG_1.jpg, people: [ada, bo], blur: [[1, 2, 3, 4], [5, 6, 7, 8]]}",
        '"7.10"',
    ],
)
def test_a_line_taken_from_one_entry_reads_the_same_in_another(row: str) -> None:
    """Lists and mappings within lines, figures, quotes."""
    (line,) = read_rows(f"---\nfasteners:\n- {row}\n---\n", "fasteners")
    assert add_row("---\ntitle: a\n---\n", "fasteners", line) == f"---\ntitle: a\nfasteners:\n- {row}\n---\n"
    assert list(map(plain, read_rows(f"---\nfasteners: {row}\n---\n", "fasteners"))) == [plain(line)] * row.startswith(
        "{"
    )


@pytest.mark.parametrize(
    ("was", "now"),
    [
        ("photos: {a.jpg: A, b.jpg: B}", "photos: {a.jpg: A}"),
        ("photos: {b.jpg: B, a.jpg: A}", "photos: {a.jpg: A}"),
        ("photos: {c.jpg: C, B.JPG: B, a.jpg: A}", "photos: {c.jpg: C, a.jpg: A}"),
        ("photos: [a.jpg, b.jpg]", "photos: [a.jpg]"),
        ("photos: [{b.jpg: B}, {file: a.jpg, caption: A}]", "photos: [{file: a.jpg, caption: A}]"),
        ("photos:\n  a.jpg: A\n  b.jpg: B\n  c.jpg: C", "photos:\n  a.jpg: A\n  c.jpg: C"),
        ("photos:\n  a.jpg: A\n  b.jpg:\n    caption: B\n    turn: 90", "photos:\n  a.jpg: A"),
        ("photos:\n- a.jpg\n- b.jpg: B", "photos:\n- a.jpg"),
        ("photos:\n- File: b.jpg\n  caption: B\n- a.jpg", "photos:\n- a.jpg"),
        ("photos:\n  b.jpg: B   # why\n  a.jpg: A", "photos:\n# why\n  a.jpg: A"),
        ("photos: a.jpg, b.jpg; c.jpg", "photos: a.jpg, c.jpg"),
        ("photos: a.jpg, c.jpg", "photos: a.jpg, c.jpg"),
        ("photos: {a.jpg: A}", "photos: {a.jpg: A}"),
        ("photos: {b.jpg: B}", None),
        ("photos: b.jpg", None),
        ("photos:\n- b.jpg", None),
    ],
)
def test_what_is_said_of_one_photo_goes_and_the_rest_stays(was: str, now: str | None) -> None:
    """Each form of `photos`; the last one takes the key along, a comment stays on a line of its own."""
    text = "---\ntitle: a\n{}date: 2026-02-07\n---\n"
    assert drop_photo(text.format(f"{was}\n"), "b.jpg") == text.format(f"{now}\n" if now else "")


@pytest.mark.parametrize(
    ("was", "now"),
    [
        ("hours: 1:15", "hours: {ada: [1:15, 18:30-20:10], bo: [1:15]}"),
        ("hours: [1:15, 18:00-18:20]", "hours: {ada: [1:15, 18:00-18:20, 18:30-20:10], bo: [1:15, 18:00-18:20]}"),
        ("hours: 9:00-10:00", "hours: {ada: [9:00-10:00, 18:30-20:10], bo: [9:00-10:00]}"),
        ("hours: {ada: 1:15}", "hours: {ada: [1:15, 18:30-20:10]}"),
        ("hours: {bo: 1:15}", "hours: {bo: 1:15, ada: [18:30-20:10]}"),
        ("hours:\n  Ada B: 1:15  # x", "hours:\n  Ada B: [1:15, 18:30-20:10]  # x"),
        ("hours:\n  ada: [1:15]\n  bo: 2", "hours:\n  ada: [1:15, 18:30-20:10]\n  bo: 2"),
        ("hours:\n  ada:\n  - 1:15\n  bo: 2", "hours:\n  ada:\n  - 1:15\n  - 18:30-20:10\n  bo: 2"),
        ("hours:", "hours:\n  ada: [18:30-20:10]"),
        ("hours: none", "hours: {ada: [18:30-20:10]}"),
        ("title: a", "title: a\nhours:\n  ada: [18:30-20:10]"),
    ],
)
def test_one_more_time_goes_to_its_person(was: str, now: str) -> None:
    """Hours of all in one, by person, under another name of the person, none: what was told stays told."""
    text = add_time(f"---\n{was}\n---\n", "ada", "18:30-20:10", ["ada", "bo"], ["ada b"])
    assert text == f"---\n{now}\n---\n"


def test_the_time_of_each_stands_under_their_names() -> None:
    """Told for both at once, under each; told by person, or not at all, it stays; of two in one text it is refused."""
    said = "---\nhours: {}\n---\n".format
    assert plain(keys_of(name_hours(said("1:15"), ["ada", "Bo L"]))) == {"hours": {"ada": ["1:15"], "Bo L": ["1:15"]}}
    for stays in ("{ada: 1:15}", "", "none"):
        assert name_hours(said(stays), ["ada"]) == said(stays)
    with pytest.raises(EditRefusedError, match="several people"):
        name_hours(said("ada 1:15 bo 2:00"), ["ada", "bo"])


BUILD = "assemblies:\n  flaps: {title: Flaps}\n  tail:\n    title: Tail\n    formerly: fin\n  spar: Main spar\n"


@pytest.mark.parametrize(
    ("of", "today", "was", "names", "now"),
    [
        ("", "c", "---\ntitle: a\n---\n", ["b"], "---\ntitle: a\nformerly: b\n---\n"),
        ("", "c", "---\ntitle: a\n---\n", ["b", "a"], "---\ntitle: a\nformerly: [b, a]\n---\n"),
        ("", "c", "---\nformerly: a\n---\n", ["b"], "---\nformerly: [b, a]\n---\n"),
        ("", "a", "---\nformerly: a\n---\n", ["b"], "---\nformerly: b\n---\n"),
        ("", "B", "---\ntitle: a\n---\n", ["b"], "---\ntitle: a\n---\n"),
        ("assemblies", "flaps", "{title: Flaps}", ["flap"], "{title: Flaps, formerly: flap}"),
        ("assemblies", "flaps", "{title: Flaps}", ["flap", "f"], "{title: Flaps, formerly: [flap, f]}"),
        ("assemblies", "tail", "formerly: fin", ["rudder"], "formerly: [rudder, fin]"),
        ("assemblies", "spar", "Main spar", ["beam"], "{title: Main spar, formerly: beam}"),
    ],
)
def test_former_names_stand_newest_first(of: str, today: str, was: str, names: list[str], now: str) -> None:
    """Each once, without the name of today; in an entry, and of an assembly in whatever form it is given."""
    text = BUILD if of else was
    assert add_former_names(text, names, today, of) == text.replace(was, now)


def test_former_names_of_nothing_are_refused() -> None:
    """An assembly that build.yml does not tell."""
    with pytest.raises(EditRefusedError, match='"wing" is not found under `assemblies`'):
        add_former_names(BUILD, ["w"], "wing", "assemblies")


@pytest.mark.parametrize(
    ("was", "now"),
    [
        ("title: a", "title: a\nanswers:\n  no-photo: Away"),
        ("answers:", "answers:\n  no-photo: Away"),
        ("answers: {}", "answers: {no-photo: Away}"),
        ("answers: {x: y}", "answers: {x: y, no-photo: Away}"),
        ("answers:\n   x: y # z", "answers:\n   x: y # z\n   no-photo: Away"),
        ("answers:\n  no-photo: Old # z", 'answers:\n  no-photo: "Away" # z'),
    ],
)
def test_one_more_answer_stands_under_its_key(was: str, now: str) -> None:
    """In a new mapping, one on one line, one on many, and in the place of what was said."""
    assert add_pair(f"---\n{was}\n---\n", "answers", "no-photo", "Away") == f"---\n{now}\n---\n"


def test_comments_are_told_apart_from_words() -> None:
    """What begins with # in quotes or in a text of several lines is none; they come without sign, in order."""
    text = "---\n# one\ntitle: '# no'  # two\nanswers:\n  a: |\n    # no\n  b: x#y\n#three\n---\n# Heading\nWords\n"
    assert comments_and_body(text) == (["one", "two", "three"], "# Heading\nWords\n")


WORD = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1, max_size=6)
STEP = st.from_regex(r"[1-9]\.[1-9][0-9]?", fullmatch=True)
LINES = st.lists(
    st.sampled_from(
        [
            "title: Ribs  # words",
            'place: "a: b"',
            "hours:\n  ada: 1:30\n  bo: [18:30-19:00, 20:00-21:00]",
            "tools: [a, 'b, c']",
            "",
            "# a line",
            "methods:\n- one\n- two  # x",
            "video: https://example.org/#a",
            "answers:\n  no-photo: |\n    Because.\n    # not a comment\n",
        ]
    ),
    unique=True,
)
HELD = st.one_of(
    st.none(),
    st.lists(STEP, max_size=4).map(lambda x: f"steps: [{', '.join(x)}]"),
    st.lists(STEP, min_size=1, max_size=4).map(lambda x: "steps:\n" + "\n".join(f"  - {one}" for one in x)),
    STEP.map(lambda x: f"steps: {x}"),
    st.lists(STEP, min_size=2, max_size=3).map(lambda x: f"steps: {', '.join(x)}"),
)


@settings(max_examples=50)
@given(LINES, HELD, LINES, STEP, st.sampled_from(["\n", "\r\n"]), st.booleans(), WORD)
def test_whatever_stands_around_it(
    before: list[str], held: str | None, after: list[str], step: str, newline: str, mark: bool, word: str
) -> None:
    """Law: the list holds one more, every other key reads as before."""
    lines = [*before, *([held] if held else []), *(line for line in after if line not in before or line == "")]
    text = ("\ufeff" if mark else "") + newline.join(["---", *lines, "---", f"Body {word}", ""]).replace(
        "\r\n", "\n"
    ).replace("\n", newline)
    new = add_items(text, "steps", [step])
    was, now = keys_of(text), keys_of(new)
    had, has = names_in(was), names_in(now)
    assert has == (had if step in had else [*had, step])
    assert new.endswith(f"---{newline}Body {word}{newline}")
    assert re.findall(r"#.*", new) == re.findall(r"#.*", text)
    others = {key.text: plain(node) for key, node in was.pairs if key.text != "steps"}
    assert {key.text: plain(node) for key, node in now.pairs if key.text != "steps"} == others


def names_in(fields: Fields) -> list[str]:
    """The steps, from a list or from a text parted by commas."""
    node = fields.get("steps")
    if isinstance(node, Items):
        return [one.text for one in node.nodes if isinstance(one, Scalar)]
    return node.text.split(", ") if isinstance(node, Scalar) and node.text else []


def plain(node: object) -> object:
    """A value without its places."""
    if isinstance(node, Items):
        return [plain(one) for one in node.nodes]
    if isinstance(node, Fields):
        return {key.text: plain(one) for key, one in node.pairs}
    return node.text if isinstance(node, Scalar) else node
