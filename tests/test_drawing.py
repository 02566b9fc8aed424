"""The aircraft drawing: what is refused, what is found, what is drawn."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.base.drawing import (
    MOST_BYTES,
    SVG,
    DrawnAssembly,
    Palette,
    check_drawing,
    render_drawing,
)
from journal.base.model import Assembly, State
from journal.base.problems import Grade, Problem

ROOT = Path(__file__).parents[1]
OURS = (ROOT / "content" / "aircraft.svg").read_text(encoding="utf-8")
ASSEMBLIES = (
    *("workshop", "inventory", "flaps", "ailerons", "left-wing", "right-wing", "horizontal-tail"),
    *("vertical-tail", "fuselage", "canopy", "landing-gear", "engine", "avionics"),
)
HEAD = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 10">'


def assemblies(names: Sequence[str]) -> dict[str, Assembly]:
    """The assemblies of a build.yml with these IDs."""
    return {name: Assembly(id=name, title=name.capitalize()) for name in names}


def drawn(state: State = State.UNDER_WAY, names: Sequence[str] = ASSEMBLIES) -> list[DrawnAssembly]:
    """Assemblies as a page hands them to the drawing, all in one state."""
    return [
        DrawnAssembly(id=name, title=name.capitalize(), state=state, href=f"../assemblies/{name}/") for name in names
    ]


def one(problems: Sequence[Problem]) -> Problem:
    """The only problem."""
    assert len(problems) == 1, problems
    return problems[0]


def test_our_drawing_has_a_shape_for_every_assembly_and_no_other() -> None:
    """Nothing is found wrong with our own drawing for the assemblies of a two-seat aircraft."""
    assert check_drawing(OURS, assemblies(ASSEMBLIES), "content/aircraft.svg") == ()


def test_our_drawing_is_plain() -> None:
    """Our drawing holds groups, paths, a title and nothing else; no style, no reference."""
    root = ET.fromstring(OURS)
    assert {element.tag.removeprefix(f"{{{SVG}}}") for element in root.iter()} == {"svg", "title", "g", "path"}
    assert "href" not in OURS
    assert "style" not in OURS
    assert len(OURS) < 20_000


def test_an_assembly_without_a_shape_is_found() -> None:
    """A drawing that lacks an assembly says which, and what to write."""
    problem = one(check_drawing(OURS, assemblies([*ASSEMBLIES, "floats"]), "content/aircraft.svg"))
    assert (problem.word, problem.grade, problem.line) == ("drawing-lacks", Grade.FINDING, None)
    assert '"floats"' in problem.message
    assert 'data-assembly="floats"' in problem.hint


def test_an_unknown_assembly_is_found_with_its_line_and_the_nearest_name() -> None:
    """A shape that names an assembly that does not exist is pointed at."""
    flaps = '<g data-assembly="flaps"><path d="M0 0H5V5Z"/></g>'
    svg = f'{HEAD}\n  {flaps}\n  <path data-assembly="flapz" d="M0 0H1"/></svg>'
    problem = one(check_drawing(svg, assemblies(["flaps"]), "content/aircraft.svg"))
    assert (problem.word, problem.line, problem.column) == ("drawing-unknown", 3, 3)
    assert problem.hint == 'did you mean "flaps"?'


@pytest.mark.parametrize(
    ("svg", "line", "says"),
    [
        ("", 1, "not well-formed"),
        ("<svg", 1, "not well-formed"),
        (f"{HEAD}\n\n  <g></svg>", 3, "not well-formed"),
        ("just words", 1, "not well-formed"),
        ("<html/>", 1, "not an SVG"),
        ('<svg viewBox="0 0 1 1"/>', 1, "not an SVG"),
        ('<svg xmlns="http://www.w3.org/2000/svg"/>', 1, "viewBox"),
        ('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 0 5"/>', 1, "viewBox"),
        ("<!DOCTYPE svg>\n" + HEAD + "</svg>", 1, "DOCTYPE"),
        ('<!DOCTYPE svg [<!ENTITY a "aaaa">]>\n' + HEAD + "&a;</svg>", 1, "DOCTYPE"),
        (HEAD + "<g>" * 100 + "</g>" * 100 + "</svg>", 1, "nested"),
        (HEAD + "<g/>" * 7000 + "</svg>", 1, "elements"),
        (HEAD + "\x00</svg>", 1, "not well-formed"),
    ],
)
def test_what_is_no_drawing_is_one_finding(svg: str, line: int, says: str) -> None:
    """Anything that cannot be used is told once, with its line, and draws nothing."""
    problem = one(check_drawing(svg, assemblies(["flaps"]), "content/aircraft.svg"))
    assert (problem.word, problem.grade, problem.line) == ("drawing-unreadable", Grade.FINDING, line)
    assert says in problem.message
    assert render_drawing(svg, drawn(), picked=None, uid="a") == ""


def test_a_drawing_beyond_the_size_limit_is_refused() -> None:
    """A page carries the drawing, so it has a largest size."""
    svg = f'{HEAD}<path d="{"M0 0" * (MOST_BYTES // 4)}"/></svg>'
    problem = one(check_drawing(svg, {}, "content/aircraft.svg"))
    assert problem.word == "drawing-unreadable"
    assert "400 KB" in problem.message


UNSAFE = [
    "<script>alert(1)</script>",
    '<g onclick="alert(1)"/>',
    '<a href="https://example.org/"><path d="M0 0"/></a>',
    '<a xmlns:xlink="http://www.w3.org/1999/xlink" xlink:href="javascript:alert(1)"><path d="M0 0"/></a>',
    '<image href="https://example.org/a.png"/>',
    '<use href="other.svg#a"/>',
    "<foreignObject><p xmlns='http://www.w3.org/1999/xhtml'>hi</p></foreignObject>",
    '<path d="M0 0" fill="url(https://example.org/#a)"/>',
    '<path d="M0 0" style="fill: url(//example.org/#a)"/>',
]


@pytest.mark.parametrize("part", UNSAFE)
def test_what_runs_or_loads_is_found_and_left_out(part: str) -> None:
    """Scripts, handlers and anything from elsewhere never reach a page, and are told with a line."""
    svg = f'{HEAD}\n<g data-assembly="flaps"><path d="M0 0H5V5Z"/>{part}</g></svg>'
    problem = one(check_drawing(svg, assemblies(["flaps"]), "content/aircraft.svg"))
    assert (problem.word, problem.line) == ("drawing-unsafe", 2)
    out = render_drawing(svg, drawn(names=["flaps"]), picked="flaps", uid="a")
    root = ET.fromstring(out)
    for element in root.iter():
        assert element.tag.removeprefix(f"{{{SVG}}}") in {"svg", "defs", "pattern", "rect", "path", "g", "a", "title"}
        for key, value in element.attrib.items():
            assert not key.lower().startswith("on")
            assert "example.org" not in value
            assert "javascript" not in value
    assert "alert" not in out


def test_every_shape_is_a_link_with_its_name_and_state() -> None:
    """A reader hears `Flaps: under way` for each assembly, as items of one list."""
    root = ET.fromstring(render_drawing(OURS, drawn(), picked="left-wing", uid="a"))
    links = root.findall(f".//{{{SVG}}}a")
    assert root.get("role") == "list"
    assert {link.get("aria-label"): link.get("href") for link in links} == {
        f"{name.capitalize()}: under way": f"../assemblies/{name}/" for name in ASSEMBLIES
    }
    items = root.findall(f".//{{{SVG}}}g[@role='listitem']")
    assert len(items) == len(ASSEMBLIES)
    assert [link.get("aria-label") for link in links if link.get("aria-current")] == ["Left-wing: under way"]


@pytest.mark.parametrize(
    ("state", "fill", "word"),
    [
        (State.NOT_BEGUN, "#paper", "state-not-begun"),
        (State.UNDER_WAY, "url(#x-hatch)", "state-under-way"),
        (State.DONE, "#done", "state-done"),
    ],
)
def test_states_differ_in_fill_and_class(state: State, fill: str, word: str) -> None:
    """Not begun is bare, under way is hatched, done is solid."""
    palette = Palette(paper="#paper", done="#done")
    out = render_drawing(OURS, drawn(state), picked=None, uid="x", palette=palette)
    root = ET.fromstring(out)
    faces = [shape for shape in root.iter() if shape.get("class") == "face"]
    assert len(faces) > len(ASSEMBLIES)
    assert {shape.get("fill") for shape in faces} == {fill}
    assert out.count(f'class="{word}"') == len(ASSEMBLIES)


def test_two_drawings_on_one_page_share_no_id() -> None:
    """Every ID, and every reference to one, carries the drawing's own prefix."""
    clip = '<clipPath id="c"><rect width="5" height="5"/></clipPath>'
    svg = f'{HEAD}{clip}<g data-assembly="flaps" clip-path="url(#c)"><path d="M0 0H9V9Z"/></g></svg>'
    ids = []
    for uid in ("one", "two"):
        root = ET.fromstring(render_drawing(svg, drawn(names=["flaps"]), picked=None, uid=uid))
        ids.append({element.get("id") for element in root.iter() if element.get("id")})
        assert root.find(f".//{{{SVG}}}g[@clip-path='url(#{uid}-c)']") is not None
    assert ids == [{"one-hatch", "one-c"}, {"two-hatch", "two-c"}]


def test_a_builders_drawing_with_styles_and_default_fills_takes_the_states() -> None:
    """Fills from `style` or from nowhere are surfaces; an outline stays one; colours give way."""
    svg = (
        f'{HEAD}<g data-assembly="flaps" style="fill:#ff0000;stroke:none"><path d="M0 0H5V5Z"/>'
        '<path style="fill:none;stroke:#00f" d="M1 1H2"/></g><rect data-assembly="canopy" width="3" height="3"/></svg>'
    )
    out = render_drawing(
        svg, drawn(State.DONE, ["flaps", "canopy"]), picked=None, uid="a", palette=Palette(done="#0a0")
    )
    root = ET.fromstring(out)
    assert [shape.get("fill") for shape in root.iter() if shape.get("class") == "face"] == ["#0a0", "#0a0"]
    assert [shape.get("fill") for shape in root.iter() if shape.get("class") == "line"] == ["none"]
    assert "#ff0000" not in out
    assert "#00f" not in out


def test_words_in_a_drawing_stay_and_take_our_ink() -> None:
    """A label is shown, whatever its colour was; a shade in percent, which is no figure here, is taken for whole."""
    svg = (
        f'{HEAD}<path data-assembly="flaps" fill-opacity="50%" d="M0 0H5V5Z"/>'
        '<text x="1" y="2" fill="red">Left <tspan>wing</tspan> &amp; more</text></svg>'
    )
    out = render_drawing(svg, drawn(State.DONE, ["flaps"]), picked=None, uid="a", palette=Palette(ink="#123"))
    assert 'fill="#123">Left <tspan fill="#123">wing</tspan> &amp; more</text>' in out
    assert [one.get("class") for one in ET.fromstring(out).iter() if one.tag.endswith("path")].count("face") == 1
    assert "red" not in out


def test_an_assembly_drawn_in_outline_only_still_shows_its_state() -> None:
    """Where no shape of an assembly is filled, all of them take the colour."""
    svg = f'{HEAD}<g data-assembly="flaps" fill="none" stroke="#000"><path d="M0 0H5V5Z"/></g></svg>'
    root = ET.fromstring(
        render_drawing(svg, drawn(State.DONE, ["flaps"]), picked=None, uid="a", palette=Palette(done="#0a0"))
    )
    assert [shape.get("fill") for shape in root.iter() if shape.get("class") == "face"] == ["#0a0"]


def test_an_assembly_in_several_places_is_one_stop_for_the_keyboard() -> None:
    """The second shape of an assembly is there for the pointer: no tab stop, not read out."""
    svg = f'{HEAD}<path data-assembly="flaps" d="M0 0H1V1Z"/><path data-assembly="flaps" d="M5 0H6V1Z"/></svg>'
    root = ET.fromstring(render_drawing(svg, drawn(names=["flaps"]), picked=None, uid="a"))
    first, second = root.findall(f".//{{{SVG}}}a")
    assert first.get("aria-label") == "Flaps: under way"
    assert (second.get("tabindex"), second.get("aria-hidden"), second.get("aria-label")) == ("-1", "true", None)


def test_titles_are_escaped() -> None:
    """A title with markup in it is text in the drawing."""
    name = DrawnAssembly(id="flaps", title='<b>"Flaps" & co</b>', state=State.DONE, href='a"b')
    out = render_drawing(OURS, [name], picked=None, uid="a")
    link = ET.fromstring(out).find(f".//{{{SVG}}}a")
    assert link is not None
    assert link.get("aria-label") == '<b>"Flaps" & co</b>: done'
    assert link.get("href") == 'a"b'
    assert "<b>" not in out


@given(st.text(alphabet=st.sampled_from(list("<>/='\"&;![]-svg {}data-assembly flaps\n\x00é")), max_size=200))
def test_no_text_breaks_the_drawing(text: str) -> None:
    """Whatever stands in aircraft.svg, checking and drawing answer; what is drawn is XML."""
    for svg in (text, f"{HEAD}{text}</svg>"):
        problems = check_drawing(svg, assemblies(["flaps"]), "content/aircraft.svg")
        out = render_drawing(svg, drawn(names=["flaps"]), picked="flaps", uid="a")
        assert bool(out) != any(problem.word == "drawing-unreadable" for problem in problems)
        if out:
            ET.fromstring(out)


def test_the_same_drawing_gives_the_same_bytes() -> None:
    """Rendering changes nothing that it shares: twice the same input is twice the same output."""
    first = render_drawing(OURS, drawn(), picked="flaps", uid="a")
    render_drawing(OURS, drawn(State.DONE), picked="canopy", uid="b")
    assert render_drawing(OURS, drawn(), picked="flaps", uid="a") == first
