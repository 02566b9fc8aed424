"""Twenty aircraft on one page, to be looked at: `python tests/airframes.py OUT.html`."""

from __future__ import annotations

import sys
from pathlib import Path

from journal.base.drawing import DrawnAssembly, render_drawing
from journal.base.model import Airframe, Cabin, EnginePlace, Seats, State, TailShape, Wheels, WingPlace
from journal.base.shapes import draw_aircraft
from journal.commands.intake.begin import parse_assemblies, ready_assemblies

LOW, MID, HIGH, TWO = WingPlace
PLAIN, T, V = TailShape
FRONT, BEHIND, FLOATS = Wheels
PULLING, PUSHING, PAIR = EnginePlace
BESIDE, TANDEM, ONE = Seats
TWENTY = (
    Airframe(),
    Airframe(wheels=BEHIND),
    Airframe(wheels=BEHIND, seats=TANDEM),
    Airframe(wheels=BEHIND, seats=ONE, span=6.2, length=5.6),
    Airframe(tail=T, span=15, length=6.6),
    Airframe(cabin=Cabin.DOORS, tail=V),
    Airframe(engine=PAIR, cabin=Cabin.DOORS),
    Airframe(struts=True, seats=ONE, wheels=BEHIND),
    Airframe(wing=MID, seats=TANDEM, wheels=BEHIND),
    Airframe(wing=MID, tail=V, engine=PUSHING),
    Airframe(wing=MID, tail=T, seats=ONE, span=12),
    Airframe(wing=HIGH),
    Airframe(wing=HIGH, wheels=BEHIND, seats=TANDEM),
    Airframe(wing=HIGH, wheels=FLOATS),
    Airframe(wing=HIGH, struts=False, engine=PAIR, tail=T),
    Airframe(wing=HIGH, engine=PUSHING, tail=V),
    Airframe(wing=TWO, wheels=BEHIND, seats=TANDEM, span=7, length=6),
    Airframe(wing=TWO, wheels=BEHIND, cabin=Cabin.DOORS),
    Airframe(wing=TWO, wheels=FLOATS, seats=ONE),
    Airframe(engine=PUSHING, tail=T, seats=TANDEM),
)
PLACES = ("Workshop", "Crates", "Empennage", "Left wing", "Right wing", "Fuselage", "Landing gear", "Engine", "Paint")
"""Another list of assemblies, for every second aircraft."""


def page() -> str:
    """The twenty, each with states, so that colours, hatches and hidden edges are seen."""
    figures = []
    for number, airframe in enumerate(TWENTY):
        assemblies = parse_assemblies(PLACES) if number % 2 else ready_assemblies()
        states = list(State)
        drawn = [
            DrawnAssembly(id=one.id, title=one.title, state=states[(place + number) % 3], href="#")
            for place, one in enumerate(assemblies)
        ]
        svg = render_drawing(draw_aircraft(airframe, assemblies), drawn, picked=None, uid=f"a{number}")
        figures.append(f"<figure>{svg}<figcaption>{number + 1}</figcaption></figure>")
    style = "body{display:grid;grid-template-columns:repeat(4,1fr)}figure{margin:6px}svg{width:100%;height:auto}"
    return f"<!doctype html><meta charset=utf-8><style>{style}</style>{''.join(figures)}"


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(page(), "utf-8")
