"""Aircraft drawn from a few words: each assembly has a shape, nothing is drawn that cannot be used."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from making import BUILD_YML, MakeBuild, read, slow

from journal.base.airframe import take_apart
from journal.base.drawing import DrawnAssembly, check_drawing, render_drawing
from journal.base.model import (
    Airframe,
    Assembly,
    Cabin,
    EnginePlace,
    Seats,
    State,
    TailShape,
    Wheels,
    WingPlace,
)
from journal.base.problems import Grade
from journal.base.shapes import (
    INSIDE,
    SHAPES,
    draw_aircraft,
    draw_parts,
    drawn_parts,
    means,
    meant_parts,
    shape_trouble,
)
from journal.base.solids import Box, Flat, Point, back_to_front, flat_box, nearness
from journal.commands.intake.begin import ready_assemblies
from journal.ledger.journal import open_journal

CHOICES: dict[str, tuple[Any, ...]] = {
    "wing": tuple(WingPlace),
    "struts": (False, True),
    "tail": tuple(TailShape),
    "wheels": tuple(Wheels),
    "engine": tuple(EnginePlace),
    "seats": tuple(Seats),
    "cabin": tuple(Cabin),
}
VARIED = [Airframe(**{key: kinds[number % len(kinds)] for key, kinds in CHOICES.items()}) for number in range(12)]
TITLES = (
    *(
        "Wings",
        "Left wing",
        "Right wing",
        "Left wing spar",
        "Wing ribs",
        "Wing skins",
        "Flaps",
        "Ailerons",
        "Fuel tanks",
    ),
    *(
        "Fuselage",
        "Forward fuselage",
        "Tail cone",
        "Empennage",
        "Horizontal tail",
        "Fin and rudder",
        "Elevators",
        "Tanks",
    ),
    *("Canopy", "Doors", "Windscreen", "Engine", "Cowling", "Propeller", "Firewall forward", "Landing gear"),
    *("Wheels and brakes", "Floats", "Struts", "Avionics", "Electrics", "Controls", "Interior", "Paint", "Workshop"),
    *("Unpacking", "Final assembly", "Tragwerk", "Πτέρυγα", "Paperwork", "Flight tests", "Left wing closing"),
)


def named(titles: Sequence[str]) -> tuple[Assembly, ...]:
    """Assemblies by these titles, their IDs telling nothing."""
    return tuple(Assembly(id=f"x{number}", title=title) for number, title in enumerate(titles))


def check(airframe: Airframe, assemblies: tuple[Assembly, ...], most: int = 60_000) -> None:
    """The drawing can be used, each assembly has a shape in it, and it is not heavy."""
    svg = draw_aircraft(airframe, assemblies)
    assert check_drawing(svg, {one.id: one for one in assemblies}, "x") == ()
    assert len(svg) < most


@pytest.mark.parametrize("airframe", VARIED[:4])
def test_each_assembly_of_the_ready_list_has_a_shape(airframe: Airframe) -> None:
    """On four aircraft that have each answer at least once."""
    check(airframe, ready_assemblies())


@pytest.mark.slow
def test_each_aircraft_that_can_be_told_is_drawn() -> None:
    """All answers in all combinations, and spans and lengths out of the common."""
    for answers in itertools.product(*CHOICES.values()):
        check(Airframe(**dict(zip(CHOICES, answers, strict=True))), ready_assemblies())
    for span, length in ((18, 6), (4, 9), (0, 5), (12, 0)):
        check(Airframe(span=span, length=length), ready_assemblies())


@pytest.mark.slow
@settings(max_examples=150)
@given(st.lists(st.sampled_from(TITLES), min_size=1, max_size=40, unique=True), st.sampled_from(VARIED))
def test_whatever_assemblies_are_called_each_has_a_shape(titles: list[str], airframe: Airframe) -> None:
    """One to forty of them, known words and unknown."""
    check(airframe, named(titles), 80_000)


@pytest.mark.parametrize("count", [1, 40])
def test_one_assembly_or_forty_of_one_name_each_have_a_shape(count: int) -> None:
    """What several claim is cut; what nobody knows stands beside the aircraft."""
    check(Airframe(), named(["Wings"] * count), 70_000)
    check(Airframe(), named(["Tragwerk"] * count))


def test_same_words_same_text() -> None:
    """A drawing is the same each time it is made."""
    first = draw_aircraft.__wrapped__(Airframe(), ready_assemblies())
    assert first == draw_aircraft.__wrapped__(Airframe(), ready_assemblies())


def test_an_id_of_odd_letters_is_an_id() -> None:
    """Quotes and angle brackets in an ID or title break no drawing."""
    odd = (Assembly(id='a"<b>&', title="Left wing"), Assembly(id="c'", title='"<i>'))
    check(Airframe(), odd)
    assert check_drawing(draw_parts(Airframe(), odd, odd[1].id), {'"<i>': Assembly(id='"<i>', title="")}, "x") == ()


@pytest.mark.parametrize("airframe", VARIED[:2])
def test_right_is_left_mirrored(airframe: Airframe) -> None:
    """Each solid on the left has its twin on the right, point for point."""

    def points(side: str, across: int) -> set[tuple[Point, ...]]:
        return {
            tuple(sorted(Point(round(x, 9), round(across * y, 9) + 0, round(z, 9)) for x, y, z in ring))
            for solid in take_apart(airframe, INSIDE)
            if side in solid.words
            for ring in solid.rings
        }

    assert points("left", 1) == points("right", -1) != set()


def spots_hidden_wrongly(airframe: Airframe) -> int:
    """In how many of 1,600 places the last solid drawn is behind another one by more than 2 cm."""
    solids = back_to_front(take_apart(airframe, ()))
    left, top, right, bottom = flat_box([solid.flat_box[at : at + 2] for solid in solids for at in (0, 2)])
    wrong = 0
    for x, y in itertools.product(range(40), repeat=2):
        spot = left + (right - left) * (x + 0.5) / 40, top + (bottom - top) * (y + 0.5) / 40
        near = [
            one
            for solid in solids
            if (one := nearness([corners for box, corners in solid.triangles if in_box(spot, box)], spot)) is not None
        ]
        wrong += bool(near) and max(near) - near[-1] > 0.02
    return wrong


def in_box(spot: Flat, box: Box) -> bool:
    """Whether a place on the sheet lies in a box."""
    return box[0] <= spot[0] <= box[2] and box[1] <= spot[1] <= box[3]


@pytest.mark.parametrize("airframe", [Airframe(), *slow(*VARIED)])
def test_nothing_is_drawn_over_what_is_in_front_of_it(airframe: Airframe) -> None:
    """But where two bodies touch, as cylinders and engine do."""
    assert spots_hidden_wrongly(airframe) <= 4


@pytest.mark.parametrize(
    ("title", "parts"),
    [
        ("Left wing", ["left wing"]),
        ("Wing, starboard", ["right wing"]),
        ("Left and right wing", ["wing"]),
        ("Flaps and ailerons", ["flap", "aileron"]),
        ("Left flap & aileron", ["flap left", "aileron left"]),
        ("Horizontal stabilizer", ["horizontal stabiliser"]),
        ("Tailplane", ["horizontal"]),
        ("Tail wheel", ["tailwheel"]),
        ("Tail cone", ["cone"]),
        ("Undercarriage", ["gear"]),
        ("Firewall forward", ["engine"]),
        ("Electrics", ["panel"]),
        ("left_wing-spar", ["left spar wing"]),
        ("Tragwerk", []),
    ],
)
def test_titles_mean_parts(title: str, parts: list[str]) -> None:
    """Plain words of the trade, in either spelling."""
    assert [" ".join(sorted(one)) for one in meant_parts(title)] == [" ".join(sorted(one.split())) for one in parts]


def test_what_is_said_of_shapes_is_known() -> None:
    """Each example of a shape can be written; a slip gets the nearest."""
    assert [shape for shape in SHAPES if shape_trouble(shape)] == []
    assert shape_trouble("left wing spra") == 'did you mean "left wing spar"?'
    assert means("left wing", frozenset({"left", "wing", "spar"}))
    assert not means("right wing", frozenset({"left", "wing", "spar"}))


def owners(svg: str) -> set[str]:
    """The assemblies that a drawing names."""
    return {piece.split('"')[0] for piece in svg.split('data-assembly="')[2:]}


def test_the_nearer_name_wins_and_shape_says_otherwise() -> None:
    """Flaps are not the wing's where they have a list of their own; `shape` in build.yml is heard first."""
    left, flaps = named(["Left wing", "Flaps"])
    assert "left flap" not in drawn_parts(Airframe(), (left, flaps), left.id)
    assert {"left flap", "right flap"} == drawn_parts(Airframe(), (left, flaps), flaps.id).keys()
    mine = Assembly(id="a", title="Hauptwerk", shapes=("left wing", "cowling"))
    assert {"left wing spar", "cowling"} <= drawn_parts(Airframe(), (mine,), "a").keys()
    assert "engine" not in drawn_parts(Airframe(), (mine,), "a")


def test_a_title_of_several_parts_takes_each_and_everything_takes_all() -> None:
    """Words that no one part has are parts by themselves, on the side that is told."""
    several, everything = named(["Left aileron flap", "Everything"])
    assert drawn_parts(Airframe(), (several,), several.id).keys() == {"left aileron", "left flap"}
    assert {"cowling", "left flap", "right wing spar"} <= drawn_parts(Airframe(), (everything,), everything.id).keys()


def test_an_assembly_alone_names_its_parts_and_parts_of_nobody_hide_what_is_behind() -> None:
    """The close-up is a drawing like any other; a part without an assembly is paper, not glass."""
    ready = ready_assemblies()
    svg = draw_parts(Airframe(), ready, "left-wing")
    assert owners(svg) == set(drawn_parts(Airframe(), ready, "left-wing"))
    shapes = [DrawnAssembly(id="left wing spar", title="Left wing spar", state=State.DONE, href="#steps")]
    out = render_drawing(svg, shapes, picked={"left wing spar"}, uid="p", label="Left wing, part by part")
    assert 'aria-label="Left wing spar: done"' in out
    assert 'aria-label="Left wing, part by part"' in out
    alone = draw_aircraft(Airframe(), named(["Left wing"]))
    drawn = render_drawing(alone, [], picked=None, uid="p")
    assert 'class="ground" fill="var(--paper' in drawn


def test_the_drawing_of_build_yml_is_read_with_its_mistakes(make_build: MakeBuild) -> None:
    """Each word has a place; what is not told is common; mistakes are errors with a mend."""
    told = "drawing: {wing: HIGH, struts: no, tail: T, wheels: floats, seats: one, span: 8.4 m, length: 22 ft}\n"
    build, problems = read(make_build({"build.yml": BUILD_YML + told}))
    assert problems == ()
    assert build.airframe is not None
    assert (build.airframe.wing, build.airframe.struts, build.airframe.tail) == (WingPlace.HIGH, False, TailShape.T)
    assert (round(build.airframe.span, 2), round(build.airframe.length, 2)) == (8.4, 6.71)
    wrong = "drawing: {wing: hgih, tial: T, span: 8.4, length: long, struts: perhaps}\n"
    _, problems = read(make_build({"build.yml": BUILD_YML + wrong}))
    assert sorted(one.word for one in problems) == ["bad-flag", "bad-length", "bad-length", "bad-wing", "unknown-key"]
    assert all(one.grade is Grade.ERROR and one.line and one.hint for one in problems)
    for empty in ("drawing:\n", "drawing: {}\n"):
        build, problems = read(make_build({"build.yml": BUILD_YML + empty}))
        assert (build.airframe, problems) == (Airframe(), ())


def test_a_drawing_of_ones_own_comes_first(make_build: MakeBuild) -> None:
    """aircraft.svg is shown as it is; without `drawing:` and without it there is none."""
    svg = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"/>'
    root = make_build({"build.yml": BUILD_YML + "drawing: {}\n", "aircraft.svg": svg})
    assert open_journal(root, date(2026, 3, 1)).build.drawing == svg
    (root / "content/aircraft.svg").unlink()
    assert 'data-assembly="flaps"' in (open_journal(root, date(2026, 3, 1)).build.drawing or "")
    (root / "content/build.yml").write_text(BUILD_YML)
    assert open_journal(root, date(2026, 3, 1)).build.drawing is None


def test_shapes_of_steps_are_read_and_a_slip_stops_nothing(make_build: MakeBuild) -> None:
    """The column was once anybody's own, so an unknown word in it is a finding and the step stays."""
    steps = "assembly,step,title,shape\nflaps,5.1,Deburr,left flap; right flap\nflaps,5.2,Rivet,left flpa\n"
    build, problems = read(make_build({"steps.csv": steps}))
    assert [one.shapes for one in build.steps.values()] == [("left flap", "right flap"), ()]
    assert [(one.word, one.grade, one.line) for one in problems] == [("unknown-shape", Grade.FINDING, 3)]
