"""Names and cells in a file written otherwise, and not a letter besides."""

from __future__ import annotations

import pytest

from journal.reading.edits import EditRefusedError
from journal.reading.respelling import edit_steps, is_spelled, line_starts, offset_of, put_pieces, respell
from journal.reading.text import Naming

STEPS = 'assembly,step,title,page\nflaps,5.1,Deburr,5-1\nflaps,5.2,"Drill, ream",5-2\n\nflaps,5.3\n'


@pytest.mark.parametrize(
    ("cells", "changed"),
    [
        ({"5.1": {"title": "File"}}, [("Deburr", "File")]),
        ({"5.1": {"title": "File, ream"}}, [("Deburr", '"File, ream"')]),
        ({"5.2": {"title": "Drill"}}, [('"Drill, ream"', "Drill")]),
        ({"5.2": {"step": "5.9", "page": "6-1"}}, [("5.2,", "5.9,"), (",5-2\n", ",6-1\n")]),
        ({"5.3": {"page": "5-3"}}, [("flaps,5.3\n", "flaps,5.3,,5-3\n")]),
        ({"5.3": {"title": "Rivet"}}, [("flaps,5.3\n", "flaps,5.3,Rivet\n")]),
        ({"5.1": {"earlier": "4.1"}}, [("title,page", "title,page,earlier"), (",5-1\n", ",5-1,4.1\n")]),
        (
            {"5.1": {"formerly": "a"}, "5.3": {"earlier": "b"}},
            [
                ("title,page", "title,page,formerly,earlier"),
                (",5-1\n", ",5-1,a\n"),
                ("flaps,5.3\n", "flaps,5.3,,,,b\n"),
            ],
        ),
        ({}, []),
    ],
)
@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
@pytest.mark.parametrize("lead", ["", "sep=,\n"])
def test_cells_of_steps_are_written_and_no_other(
    cells: dict[str, dict[str, str]], changed: list[tuple[str, str]], mark: str, newline: str, lead: str
) -> None:
    """Quotes where they are needed, columns that are lacking, rows that are short, marks and line ends as they are."""
    wanted = STEPS
    for old, new in changed:
        assert wanted.count(old) == 1
        wanted = wanted.replace(old, new)
    text, wanted = (mark + (lead + one).replace("\n", newline) for one in (STEPS, wanted))
    assert edit_steps(text, cells) == wanted


def test_the_sign_between_cells_is_that_of_the_file() -> None:
    """A comma needs no quotes where semicolons part."""
    text = "assembly;step;title\nflaps;5.1;Deburr\n"
    assert edit_steps(text, {"5.1": {"title": "A, b", "page": "a;b"}}) == (
        'assembly;step;title;page\nflaps;5.1;A, b;"a;b"\n'
    )


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "has no heading"),
        ("assembly,title\nflaps,Deburr\n", "has no heading"),
        (STEPS.replace("5.1,", "5.4,"), 'the row of step "5.1" is not found'),
    ],
)
def test_what_is_not_there_is_told(text: str, said: str) -> None:
    """No heading, no such step."""
    with pytest.raises(EditRefusedError, match=said):
        edit_steps(text, {"5.1": {"title": "x"}})


def named(name: str, line: int, column: int, kind: str = "step") -> Naming:
    """A name where the reader found it."""
    return Naming(kind=kind, id=name, text=name, where=(line, column))


@pytest.mark.parametrize(
    ("text", "namings", "now"),
    [
        ("steps: [5.1, 5.2]\n", [named("5.1", 1, 9)], "steps: [X, 5.2]\n"),
        ("\ufeffsteps: 5.1\n", [named("5.1", 1, 8)], "\ufeffsteps: X\n"),
        ("a\r\nsteps: 5.1\r\n", [named("5.1", 2, 8)], "a\r\nsteps: X\r\n"),
        ('steps: "5.1, 5.1"\n', [named("5.1", 1, 8), named("5.1", 1, 8)], 'steps: "X, X"\n'),
        ("steps: '15.1 5.1.2 5.1'\n", [named("5.1", 1, 8)], "steps: '15.1 5.1.2 X'\n"),
        ("![a.jpg](a.jpg)\n", [named("a.jpg", 1, 1, "photo")], "![a.jpg](X)\n"),
        ("![r](a%20b.jpg)\n", [named("a b.jpg", 1, 1, "photo")], "![r](X)\n"),
        ("![r](Flu\u0308gel.jpg)\n", [named("Flu\u0308gel.jpg", 1, 1, "photo")], "![r](X)\n"),
        ("steps: 'it''s'\n", [named("it's", 1, 8)], "steps: 'X'\n"),
    ],
)
def test_a_name_is_written_otherwise_where_it_was_read(text: str, namings: list[Naming], now: str) -> None:
    """Alone, in quotes, twice in one text, in the address of a picture and not in its words."""
    assert respell(text, namings, lambda naming: "X") == now
    assert respell(text, namings, lambda naming: None) == text


def test_a_new_name_keeps_the_form_of_the_old() -> None:
    """In an address it is written as addresses are."""
    text = "![r](a%20b.jpg) a b.jpg"
    assert respell(text, [named("a b.jpg", 1, 1, "photo")], lambda _: "c d.jpg") == "![r](c%20d.jpg) a b.jpg"


def test_a_name_that_is_not_there_is_told() -> None:
    """The file was changed meanwhile, or holds it in a form that nobody knows."""
    with pytest.raises(EditRefusedError, match=r'"5\.1" is not found where it was read'):
        respell("steps: 15.1", [named("5.1", 1, 8)], lambda _: "X")
    with pytest.raises(EditRefusedError, match="CR alone"):
        line_starts("a\rb")


def test_pieces_of_one_place_stand_in_their_order() -> None:
    """Whatever order they come in otherwise."""
    assert put_pieces("abcdef", [(4, 5, "E"), (1, 1, "1"), (1, 1, "2"), (1, 2, "B")]) == "a12BcdEf"
    assert [offset_of(line_starts("\ufeffab\nc"), where) for where in ((1, 1), (1, 2), (2, 1))] == [1, 2, 4]


@pytest.mark.parametrize(
    ("kind", "text", "spelled"),
    [
        ("step", "5.1", True),
        ("person", "ADA", True),
        ("person", "Ada B", False),
        ("photo", "x", True),
        ("link", "x", True),
    ],
)
def test_a_title_is_no_spelling_of_an_id(kind: str, text: str, spelled: bool) -> None:
    """It stays as it is when the ID becomes another."""
    assert is_spelled(Naming(kind=kind, id="5.1" if kind == "step" else "ada", text=text, where=(1, 1))) is spelled
