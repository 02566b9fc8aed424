"""The aircraft as solids, taken apart: from a few words (`Airframe`) to wings, fuselage, tail, engine and gear.

Proportions are those of a light two-seat aircraft (common practice, no source), and the drawing is a picture of the
kind, not of the type: nothing is measured off it.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from journal.base.model import Airframe, Cabin, EnginePlace, Seats, TailShape, Wheels, WingPlace
from journal.base.solids import Detail, Point, Solid

SPAN, LENGTH = 8.6, 6.7
"""Metres, where build.yml does not say."""
Station = tuple[float, float, float, float]
"""A section of a body: x, half of its width, z of its foot and of its top."""

_ROUND = 32
_NOWHERE, _AFT, _LEFT, _UPWARD = Point(0, 0, 0), Point(1, 0, 0), Point(0, 1, 0), Point(0, 0, 1)


def _made(
    part: str,
    words: str,
    rings: Iterable[Iterable[Point]],
    *details: Detail,
    frames: Iterable[int] = (),
    stringers: Iterable[int] = (),
) -> Solid:
    """A solid that answers to `words`."""
    shape = tuple(tuple(ring) for ring in rings)
    return Solid(part, frozenset(words.split()), shape, frozenset(frames), frozenset(stringers), details)


def _turns(count: int) -> list[tuple[float, float]]:
    """Cosine and sine once round."""
    return [(math.cos(2 * math.pi * one / count), math.sin(2 * math.pi * one / count)) for one in range(count)]


def _smooth(stations: Sequence[Station], per: int) -> list[Station]:
    """More stations between some, on a curve through them (Catmull and Rom)."""
    made = []
    padded = [stations[0], *stations, stations[-1]]
    for four in zip(padded, padded[1:], padded[2:], padded[3:], strict=False):
        for t in (step / per for step in range(per)):
            x, wide, foot, top = (
                b + 0.5 * t * (c - a + t * (2 * a - 5 * b + 4 * c - d + t * (3 * b - a - 3 * c + d)))
                for a, b, c, d in zip(*four, strict=True)
            )
            made.append((x, wide, foot, top))
    return [*made, stations[-1]]


def _oval(station: Station, power: float) -> Iterator[Point]:
    """A section: an ellipse, the squarer the higher `power`."""
    x, wide, foot, top = station
    for cos, sin in _turns(_ROUND):
        across, up = (math.copysign(abs(one) ** (2 / power), one) for one in (cos, sin))
        yield Point(x, wide * across, (foot + top) / 2 + (top - foot) / 2 * up)


def _bar(start: Point, end: Point, radius: float, thick: float = 1) -> list[list[Point]]:
    """A round bar from one point to another, `thick` times as deep as it is wide."""
    way = end.plus(start, -1)
    side = Point(-way.y, way.x, 0) if math.hypot(way.x, way.y) > 1e-6 else _LEFT
    side = _NOWHERE.plus(side, radius / math.hypot(side.x, side.y))
    up = Point(way.y * side.z - way.z * side.y, way.z * side.x - way.x * side.z, way.x * side.y - way.y * side.x)
    up = _NOWHERE.plus(up, thick / math.dist(start, end))
    return [[at.plus(side, cos).plus(up, sin) for cos, sin in _turns(14)] for at in (start, end)]


def _turned(middle: Point, profile: Iterable[tuple[float, float]], axis: Point) -> list[list[Point]]:
    """A body turned round an axis along x or y: (way along the axis, radius) pairs."""
    side = _LEFT if axis.x else _AFT
    return [
        [middle.plus(axis, along).plus(side, radius * cos).plus(_UPWARD, radius * sin) for cos, sin in _turns(_ROUND)]
        for along, radius in profile
    ]


def _box(low: Point, high: Point) -> list[list[Point]]:
    """A box from its least to its greatest corner."""
    corners = ((low.y, low.z), (high.y, low.z), (high.y, high.z), (low.y, high.z))
    return [[Point(x, y, z) for y, z in corners] for x in (low.x, high.x)]


def _shell(rows: Iterable[Sequence[Point]], thick: Point) -> list[list[Point]]:
    """A sheet through rows of points, as thick as told."""
    return [[*row, *(point.plus(thick) for point in reversed(row))] for row in rows]


class _Surface:
    """A lifting surface from its root outwards: `angle` is 0 for one that lies, 90 degrees for one that stands.

    `chords` are those of root and tip, `sweep` is how far aft the tip begins, `thick` a share of the chord, `hinge` the
    share of the chord behind which flaps or rudders hang.
    """

    _ALONG = (1.0, 0.85, 0.7, 0.55, 0.4, 0.28, 0.18, 0.1, 0.05, 0.018, 0.0)

    def __init__(
        self,
        root: Point,
        span: float,
        chords: tuple[float, float],
        sweep: float,
        angle: float,
        thick: float,
        hinge: float,
    ) -> None:
        self.root, self.span, self.chords, self.sweep, self.thick, self.hinge = root, span, chords, sweep, thick, hinge
        self._out = Point(0, math.cos(math.radians(angle)), math.sin(math.radians(angle)))
        self.up = Point(0, -self._out.z, self._out.y)

    def at(self, share: float, aft: float, height: float = 0, size: float = 1) -> Point:
        """The point at a share of span and chord; `height` is in chords, `size` makes the section smaller."""
        chord = self.chords[0] + (self.chords[1] - self.chords[0]) * share
        nose = self.root.plus(self._out, self.span * share).plus(_AFT, self.sweep * share)
        return nose.plus(_AFT, chord * (0.5 + (aft - 0.5) * size)).plus(self.up, chord * height * size)

    def half(self, aft: float) -> float:
        """Half of the thickness in chords (the four-digit section)."""
        root = 0.2969 * math.sqrt(aft) - 0.126 * aft - 0.3516 * aft**2 + 0.2843 * aft**3 - 0.1036 * aft**4
        return 5 * self.thick * root

    def section(self, share: float, last: float, size: float = 1, flatness: float = 1) -> list[Point]:
        """The section at a share of the span, as far aft as `last`."""
        along = [last * one for one in self._ALONG]
        upper = [self.at(share, aft, self.half(aft) * flatness, size) for aft in along]
        return upper + [self.at(share, aft, -0.8 * self.half(aft) * flatness, size) for aft in reversed(along)]

    def body(self, part: str, words: str, notch: float = 1, ribs: int = 4) -> Solid:
        """The closed surface: from its nose to the hinge as far as `notch` (a share of the span), whole beyond it."""
        last = 1 if notch < 1 else self.hinge
        rings = [self.section(notch * number / ribs, self.hinge) for number in range(ribs + 1)]
        rings += [self.section(notch, last)] if notch < 1 else []
        first = max(notch if notch < 1 else 0, 1 - min(0.1, 0.3 * self.chords[1] / self.span))
        rings = [ring for ring in rings if notch < 1 or ring is not rings[-1]]
        for share, size, flatness in ((0, 1, 1), (0.45, 0.96, 0.85), (0.8, 0.85, 0.6), (1, 0.62, 0.12)):
            rings.append(self.section(first + (1 - first) * share, last, size, flatness))
        return _made(part, words, rings, frames={*range(1, ribs), *([ribs + 1] if notch < 1 else [])}, stringers={5})

    def control(self, part: str, words: str, first: float, last: float) -> Solid:
        """A flap, aileron, elevator or rudder behind the hinge, over a part of the span."""
        high, hinge = self.half(self.hinge), self.hinge
        nose = hinge + 0.025
        outline = ((1, 0.0), (nose, high), (hinge, high * 0.3), (hinge, -high * 0.3), (nose, -high * 0.8))
        shares = [first + (last - first) * number / 4 for number in range(5)]
        return _made(part, words, [[self.at(one, *spot) for spot in outline] for one in shares], frames={1, 2, 3})

    def spars(self, part: str, words: str) -> Iterator[Solid]:
        """The main spar, which reaches inboard of the root, and a rear spar."""
        for aft, inner in ((0.28, -0.1), (self.hinge - 0.02, 0.0)):
            high = self.half(aft) * 0.94
            spots = ((aft - 0.012, high), (aft + 0.012, high), (aft + 0.012, -0.8 * high), (aft - 0.012, -0.8 * high))
            yield _made(part, words, [[self.at(share, *spot) for spot in spots] for share in (inner, 0.96)])

    def ribs(self, part: str, words: str) -> Iterator[Solid]:
        """Nine ribs from root to tip, each a plate with two holes."""
        for share in ((number + 0.5) / 9 for number in range(9)):
            holes = []
            for aft, size in ((0.17, 0.028), (0.45, 0.034)):
                round_it = (*_turns(12), (1.0, 0.0))
                hole = tuple(self.at(share + 0.008, aft + size * cos, size * sin) for cos, sin in round_it)
                holes.append(Detail(points=hole))
            yield _made(part, words, [self.section(one, self.hinge) for one in (share, share + 0.008)], *holes)

    def skin(self, part: str, words: str, side: float) -> Solid:
        """The upper (`side` 1) or lower (-0.8) skin, a thin shell."""
        along = [self.hinge * one for one in self._ALONG[:-1]]
        rows = [[self.at(share / 10, aft, side * self.half(aft)) for aft in along] for share in range(11)]
        return _made(part, words, _shell(rows, _NOWHERE.plus(self.up, -0.012)), frames={2, 4, 6, 8})


# --- the aircraft -------------------------------------------------------------------------------


def take_apart(airframe: Airframe, wanted: Collection[str]) -> tuple[Solid, ...]:
    """The solids of an aircraft, each moved out of its place. What lies inside (spars, seats, tanks …) is there where
    one of its words is `wanted`; a wing is then open, a fuselage in three.
    """
    craft = _Craft(airframe, frozenset(wanted))
    for lay in (craft.fuselage, craft.cabin, craft.inside, craft.wings, craft.tail, craft.engines, craft.gear):
        lay()
    return tuple(craft.solids)


class _Craft:
    """An aircraft being laid out: x is 0 at the firewall, z at the middle of the fuselage."""

    def __init__(self, airframe: Airframe, wanted: frozenset[str]) -> None:
        self.airframe, self.wanted = airframe, wanted
        self.solids: list[Solid] = []
        # A wing above the cabin makes a roof.
        self.roof = airframe.wing is WingPlace.HIGH or airframe.cabin is Cabin.DOORS
        self.power = 3.2 if self.roof else 2.6
        self.wide = 0.57 if airframe.seats is Seats.BESIDE else 0.42
        self.more = {Seats.BESIDE: 0.0, Seats.TANDEM: 0.55, Seats.ONE: -0.25}[airframe.seats]
        length = airframe.length or LENGTH
        span = airframe.span or SPAN * length / LENGTH
        self.half_span = min(max(span / length * LENGTH, 5.6), 15) / 2
        self.out = 0.62 + self.half_span * 0.09
        self.nose_engine = airframe.engine is EnginePlace.FRONT
        self.stations = _smooth(self._stations(), 6)
        self.apart = 0.5 if wanted.intersection(("forward", "centre", "cone")) else 0.0

    def add(
        self,
        solid: Solid,
        *way: float,
        start: Point | None = None,
        only: str = "",
        both: bool = False,
        axis: bool = True,
    ) -> None:
        """Take a solid along a way, and with `both` its twin on the right; what is `only` inside where it is wanted."""
        if only and only not in self.wanted:
            return
        solid = solid.moved(Point(*way), start) if way else solid
        solid = solid if axis else replace(solid, axis=())
        self.solids += [solid, solid.mirrored()] if both else [solid]

    # -- the body --------------------------------------------------------------------------

    def _stations(self) -> list[Station]:
        wide, more, roof = self.wide, self.more, 0.97 if self.roof else 0.5
        nose: list[Station] = [(-1.15, 0.07, -0.2, -0.04), (-1.05, 0.2, -0.31, 0.06), (-0.75, wide * 0.64, -0.42, 0.2)]
        return [
            *([] if self.nose_engine else nose),
            (0, wide * 0.88, -0.46, 0.36),
            (0.42, wide * 0.95, -0.53, 0.43),
            (1.05, wide, -0.56, roof if self.roof else 0.47),
            (1.95 + more, wide * 0.97, -0.54, roof),
            (2.75 + more, wide * 0.76, -0.44, roof * 0.72 + 0.13),
            (3.75, wide * 0.45, -0.2, 0.44),
            (4.7, wide * 0.22, 0.0, 0.37),
            (5.3, 0.05, 0.14, 0.3),
        ]

    def station(self, x: float) -> Station:
        """The section of the fuselage at a place along it."""
        x = min(max(x, self.stations[0][0]), self.stations[-1][0])
        one, other = next(pair for pair in pairwise(self.stations) if x <= pair[1][0])
        share = (x - one[0]) / (other[0] - one[0])
        _, wide, foot, top = (a + (b - a) * share for a, b in zip(one, other, strict=True))
        return x, wide, foot, top

    def side_at(self, x: float, z: float) -> Point:
        """The point on the left side of the fuselage at a height."""
        _, wide, foot, top = self.station(x)
        up = min(max((z - (foot + top) / 2) / ((top - foot) / 2), -1), 1)
        return Point(x, wide * (1 - abs(up) ** self.power) ** (1 / self.power), z)

    def top_at(self, x: float, share: float) -> Point:
        """The point on the top of the fuselage at a share of its half width."""
        _, wide, foot, top = self.station(x)
        up = (1 - share**self.power) ** (1 / self.power)
        return Point(x, wide * share, (foot + top) / 2 + (top - foot) / 2 * up)

    def fuselage(self) -> None:
        """In one, or where that is wanted in three."""
        behind = 2.7 + self.more
        pieces = [("forward fuselage", "forward", -2, 0.95, -0.55), ("centre fuselage", "centre", 0.95, behind, 0.0)]
        pieces += [("tail cone", "cone", behind, 9, 0.45)]
        if not self.apart:
            pieces = [("fuselage", "forward centre cone", -2, 9, 0.0)]
        for part, words, first, last, way in pieces:
            ends = self.station(first), self.station(last)
            stations = [ends[0], *(one for one in self.stations if ends[0][0] < one[0] < ends[1][0]), ends[1]]
            frames = [
                number
                for number, (x, *_) in enumerate(stations[1:-1], 1)
                if any(abs(x - at) < 0.07 for at in (0.42, 1.05, 3.3, 4.05, 4.7))
            ]
            rings = [_oval(one, self.power) for one in stations]
            panes = [Detail(points=tuple(pane), shade=True) for pane in self._panes(ends[0][0], ends[1][0])]
            solid = _made(part, f"fuselage {words}", rings, *panes, frames=frames, stringers={0, _ROUND * 13 // 16})
            self.add(solid, *((way, 0, 0) if way else ()))
        if self.nose_engine:
            _, wide, foot, top = self.station(0)
            plate = [_oval((x, wide, foot, top), self.power) for x in (-0.02, 0)]
            self.add(_made("firewall", "fuselage firewall", plate), -0.3 - self.apart, 0, 0, only="firewall")

    def _panes(self, first: float, last: float) -> Iterator[Sequence[Point]]:
        """Windows of a cabin, or the opening under a canopy, where they lie between two places."""
        more, wide = self.more, self.wide
        if not self.roof:
            xs = [0.75 + (1.75 + more) * number / 16 for number in range(17)]
            shares = [0.84 * abs(math.sin(math.pi * number / 16)) ** 0.35 for number in range(17)]
            left = [self.top_at(x, share) for x, share in zip(xs, shares, strict=True)]
            panes = [[*left, *(Point(one.x, -one.y, one.z) for one in reversed(left[1:-1]))]]
        else:
            front = [(0.95, 0.44), (0.98, 0.84), (1.5, 0.86), (1.5, 0.44)]
            back = [(1.62, 0.44), (1.62, 0.86), (2.05 + more, 0.84), (2.45 + more, 0.62), (2.3 + more, 0.46)]
            panes = [[self.side_at(*spot) for spot in pane] for pane in (front, back)]
            sill = [Point(0.47, wide * y, 0.43 - 0.08 * y**2) for y in (0.8, 0.4, 0, -0.4, -0.8)]
            head = [Point(0.93, one.y * 0.92, 0.86 - 0.06 * (one.y / wide) ** 2) for one in reversed(sill)]
            panes += [[Point(one.x, -one.y, one.z) for one in reversed(pane)] for pane in panes] + [[*sill, *head]]
        yield from (pane for pane in panes if all(first < one.x < last for one in pane))

    def cabin(self) -> None:
        """Canopy, or doors and windscreen."""
        more, wide = self.more, self.wide
        if self.roof:
            heights = [-0.3 + 0.14 * step for step in range(9)]
            rows = [[self.side_at(x, z) for z in heights] for x in (0.98, 1.1, 1.25, 1.4, 1.55)]
            spots = ((1.48, 0.4), (1.48, 0.76), (1.06, 0.76), (1.05, 0.4))
            glass = tuple(self.side_at(*spot).plus(_LEFT, 0.03) for spot in spots)
            pane = Detail(points=glass, shade=True)
            door = _made("left door", "fuselage canopy door left", _shell(rows, Point(0, 0.03, 0)), pane)
            self.add(door, 0, 0.5, -0.12, both=True)
            shares = [0.9 * step / 6 for step in range(-6, 7)]
            ends = ((0.44, 0.45), (0.98, 0.93))
            rows = [[Point(x + 0.05 * y * y, wide * y, z - 0.07 * y * y) for x, z in ends] for y in shares]
            screen = _made("windscreen", "fuselage canopy windscreen", _shell(rows, Point(0.03, 0, -0.02)))
            self.add(screen, -0.35, 0, 0.55, only="windscreen")
            return
        stations = [
            (0.62, wide * 0.66, 0.4, 0.45),
            (0.9, wide * 0.83, 0.42, 0.74),
            (1.4 + more * 0.4, wide * 0.87, 0.44, 0.97),
            (2.05 + more, wide * 0.74, 0.44, 0.92),
            (2.6 + more, wide * 0.42, 0.45, 0.7),
            (2.95 + more, wide * 0.1, 0.46, 0.53),
        ]
        arc = [(math.cos(math.pi * step / 18), math.sin(math.pi * step / 18) ** 0.8) for step in range(19)]
        arc += [(step / 3 - 1, 0.0) for step in (1, 2, 3, 4, 5)]
        bows = [
            [Point(x, half * y, low + (top - low) * z) for y, z in arc] for x, half, low, top in _smooth(stations, 5)
        ]
        canopy = _made("canopy", "fuselage canopy door windscreen", bows, frames={7}, stringers={1})
        self.add(canopy, 0.1, 0, 1.0, start=Point(1.5, 0, 0.45))

    def inside(self) -> None:
        """Panel, seats and controls, above the fuselage."""
        wide, lift = self.wide, 0.72 if self.roof else 0.0
        half = [math.pi * step / 12 for step in range(13)]
        arch = [Point(0.6, wide * 0.82 * math.cos(turn), 0.1 + 0.3 * math.sin(turn) ** 0.7) for turn in half]
        dials = [
            Detail(points=tuple(Point(0.6, (y + 0.13 * c) * wide, 0.24 + 0.07 * s) for c, s in _turns(13)))
            for y in (-0.5, -0.17, 0.17, 0.5)
        ]
        panel = _made("instrument panel", "fuselage panel", [arch, [one.plus(_AFT, 0.05) for one in arch]], *dials)
        self.add(panel, -1.0, 0, 0.8, only="panel")
        places: dict[Seats, list[tuple[float, float]]] = {
            Seats.BESIDE: [(0, 0.5), (0, -0.5)],
            Seats.TANDEM: [(-0.2, 0), (0.7, 0)],
            Seats.ONE: [(0, 0)],
        }
        profile = ((1.35, -0.25), (1.8, -0.3), (2.0, 0.3), (1.9, 0.32), (1.72, -0.2), (1.36, -0.15))
        for x, y in places[self.airframe.seats]:
            chair = [[Point(x + at, y * wide + side, z) for at, z in profile] for side in (-0.2, 0.2)]
            self.add(_made("seats", "fuselage seat", chair), 0.2, 0, 0.82 + lift, only="seat")
        stick = _bar(Point(1.2, 0, -0.35), Point(1.1, 0, 0.2), 0.03)
        self.add(_made("controls", "fuselage controls", stick), -0.3, 0, 0.7 + lift, only="controls")

    # -- wings -----------------------------------------------------------------------------

    def wings(self) -> None:
        """The wing, or a lower and an upper one, and what holds them."""
        place = self.airframe.wing
        chord = 1.32 * (SPAN / 2 / self.half_span) ** 0.4
        chords = (chord, chord * (0.7 if self.half_span > 5.5 else 0.82))
        high = {WingPlace.MID: 0.0, WingPlace.HIGH: 1.0}.get(place, -0.4)
        angle = {WingPlace.LOW: 5.0, WingPlace.TWO: 3.0}.get(place, 2.0)
        root = Point(0.72, self.wide * 0.55 if place is WingPlace.HIGH else self.side_at(1.2, high).y, high)
        lower = _Surface(root, self.half_span - root.y, chords, 0.1, angle, 0.15, 0.74)
        way = Point(0, self.out, 0.65 if place is WingPlace.HIGH else -0.12)
        if place is not WingPlace.TWO:
            self._wing(lower, way, "left wing", "wing left", flaps=True)
            self._struts(lower, way)
            return
        upper = _Surface(Point(0.42, 0.06, 1.42), self.half_span - 0.06, chords, 0.1, 2, 0.14, 0.74)
        lift = Point(0, self.out * 0.75, 0.75)
        self._wing(lower, way, "left lower wing", "wing left lower", flaps=True)
        self._wing(upper, lift, "left upper wing", "wing left upper", flaps=False)
        if self.airframe.struts is not False:
            for x, aft in ((0.5, 0.15), (1.3, 0.6)):
                self._strut(lower.at(0.66, aft, lower.half(aft)).plus(way), upper.at(0.66, aft).plus(lift))
                self._strut(Point(x, self.wide * 0.6, 0.5), upper.at(0.06, aft).plus(lift, 0.85))

    def _wing(self, surface: _Surface, way: Point, name: str, words: str, *, flaps: bool) -> None:
        notch, start = 0.93, surface.at(0, 0.35)
        if self.wanted.intersection(("spar", "ribs", "skins", "tip")):
            for spar in surface.spars(f"{name} spar", f"{words} spar"):
                self.add(spar, *way, start=start, both=True)
            for rib in surface.ribs(f"{name} ribs", f"{words} ribs"):
                self.add(rib, *way, both=True, axis=False)
            for side, lift in ((1, 0.75), (-0.8, -0.75)):
                skin = surface.skin(f"{name} skins", f"{words} skins", side)
                self.add(skin, *way.plus(surface.up, lift), both=True, axis=False)
            tip = surface.body(f"{name} tip", f"{words} tip", notch, 2)
            tip = replace(tip, rings=tip.rings[3:], frames=frozenset())
            self.add(tip, *way.plus(_LEFT, 0.3), both=True, axis=False)
        else:
            self.add(surface.body(name, f"{words} spar ribs skins tip", notch, 9), *way, start=start, both=True)
        if flaps:
            self._hang(surface, "left flap", f"{words} flap", (0.02, 0.5), way, 0.55, both=True)
        aileron = f"{name} aileron".replace("left wing", "left")
        self._hang(surface, aileron, f"{words} aileron", (0.52 if flaps else 0.4, notch - 0.005), way, 0.55, both=True)
        nose = [surface.section(share, 0.26, 1, 0.9) for share in (0.08, 0.25, 0.42)]
        tank = _made(f"{name} tank", f"{words} tank", nose, frames={1})
        self.add(tank, *way.plus(_AFT, -0.6), only="tank", both=True, axis=False)

    def _hang(
        self, of: _Surface, part: str, words: str, ends: tuple[float, float], way: Point, aft: float, *, both: bool
    ) -> None:
        """What hangs on the hinge of a surface, moved with it and further aft; its axis runs between the two."""
        middle = sum(ends) / 2
        moved = of.control(part, words, *ends).moved(way.plus(_AFT, aft))
        axis = (of.at(middle, of.hinge).plus(way), of.at(middle, of.hinge + 0.06).plus(way).plus(_AFT, aft))
        self.add(replace(moved, axis=axis), both=both)

    def _struts(self, surface: _Surface, way: Point) -> None:
        high = self.airframe.wing is WingPlace.HIGH
        if self.airframe.struts or (high and self.airframe.struts is None):
            for x, aft in ((0.95, 0.25), (1.35, 0.62)) if high else ((1.15, 0.3),):
                foot = self.side_at(x, -0.38 if high else 0.88 if self.roof else 0.38)
                self._strut(foot, surface.at(0.52, aft, (-0.8 if high else 1) * surface.half(aft)).plus(way))

    def _strut(self, start: Point, end: Point) -> None:
        """A strut from what holds to what is held, wherever they were moved, with a little air at either end."""
        bar = _bar(start.towards(end, 0.05), start.towards(end, 0.95), 0.065, 0.7)
        self.add(replace(_made("left strut", "wing strut left", bar), axis=(start, end)), both=True)

    # -- the tail --------------------------------------------------------------------------

    def tail(self) -> None:
        """Fin and stabiliser, the latter perhaps on top of the former; or two surfaces in a V."""
        shape, aft = self.airframe.tail, 1.0 + self.apart
        foot = self.station(4.5)[3] - 0.02
        if shape is TailShape.V:
            half = _Surface(Point(4.25, 0.06, foot), 1.5, (0.95, 0.62), 0.3, 53, 0.1, 0.6)
            way, words = Point(aft, 0.28, 0.42), "tail horizontal vertical left"
            body = half.body("left V tail", f"{words} stabiliser fin")
            self.add(body, *way, start=half.at(0, 0.4), both=True)
            self._hang(half, "left ruddervator", f"{words} elevator rudder", (0.02, 0.95), way, 0.4, both=True)
            return
        fin = _Surface(Point(4.05, 0, foot), 1.2, (1.2, 0.62), 0.62, 90, 0.09, 0.62)
        way = Point(aft - 0.1, 0, 0.95)
        self.add(fin.body("fin", "tail vertical fin"), *way, start=fin.at(0, 0.45))
        self._hang(fin, "rudder", "tail vertical rudder", (0.0, 0.97), way, 0.35, both=False)
        on_top = shape is TailShape.T
        root = Point(4.78, 0, foot + 1.23) if on_top else Point(4.2, 0, 0.3)
        way = way.plus(Point(0.25, 0, 0.5)) if on_top else Point(aft + 0.05, 0, 0.12)
        half = _Surface(root, max(1.2, self.half_span * 0.3), (0.88, 0.62), 0.16, 0, 0.09, 0.6)
        left = half.body("stabiliser", "tail horizontal stabiliser")
        count = len(left.rings) - 1
        frames = frozenset(count + sign * one for one in left.frames for sign in (-1, 1))
        whole = replace(left, rings=(*left.mirrored().rings[:0:-1], *left.rings), frames=frames)
        self.add(whole, *way, start=root.plus(_AFT, 0.4))
        self._hang(half, "left elevator", "tail horizontal elevator left", (0.03, 0.95), way, 0.4, both=True)

    # -- engines ---------------------------------------------------------------------------

    def engines(self) -> None:
        """One in the nose, one behind the seats that drives a propeller behind the tail, or two on the wings."""
        where = self.airframe.engine
        if where is EnginePlace.TWO:
            high = {WingPlace.HIGH: (0.95, 0.65), WingPlace.MID: (0.0, -0.12)}.get(self.airframe.wing, (-0.28, -0.12))
            place = Point(0.4, self.half_span * 0.36 + self.out, sum(high))
            kept = len(self.solids)
            self._engine(place, -1, place.plus(_AFT, -0.1), "left ", 0.8)
            made, self.solids = self.solids[kept:], self.solids[:kept]
            for solid in made:
                self.add(replace(solid, words=solid.words | {"left"}), both=True)
        elif where is EnginePlace.FRONT:
            place = Point(-self.apart, 0, -0.06)
            self._engine(place, -1, place.plus(_AFT, -0.44), "", 1)
        else:
            block = Point(3.0 + self.more, 0, 1.35 if self.roof else 1.05)
            self._engine(Point(5.9 + self.apart, 0, 0.22), 1, block, "", 1)

    def _engine(self, place: Point, side: int, block: Point, name: str, size: float) -> None:
        """An engine at `block`; before a place (`side` -1) its cowling, before or behind it the propeller."""
        way, covered = Point(side, 0, 0), side < 0
        core = ((0, 0.17), (0.05, 0.2), (0.55, 0.2), (0.6, 0.12), (0.72, 0.07))
        body = _turned(block, [(along * size, radius * size) for along, radius in core], way)
        self.add(
            replace(
                _made(f"{name}engine", "engine block", body), axis=(place, block.plus(way, size)) if covered else ()
            )
        )
        fins = [(0.05 * step, 0.11 if step % 2 else 0.12) for step in range(6)]
        for along, left in ((0.14, -1), (0.14, 1), (0.4, -1), (0.4, 1)):
            head = block.plus(way, along * size).plus(Point(0, left * 0.14 * size, 0.02))
            barrel = _turned(head, [(at * left * size, radius * size) for at, radius in fins], _LEFT)
            self.add(_made(f"{name}engine", "engine block", barrel, frames={1, 2, 3, 4}))
        hub = place.plus(way, 2.75 * size if covered else 0.0)
        if covered:
            self._cowling(place.plus(way, 1.25 * size), 1.08 * size, name, 0.3 if name else self.wide * 0.88)
        nose = ((0.02, 0.17), (0.08, 0.175), (0.2, 0.14), (0.3, 0.08), (0.36, 0.0))
        spinner = _made(f"{name}spinner", "engine propeller spinner", _turned(hub, nose, way), frames={1})
        self.add(replace(spinner, axis=(place, hub.plus(way, 0.6))))
        blade = ((0.15, 0.05, 60), (0.3, 0.085, 50), (0.55, 0.09, 35), (0.8, 0.065, 26), (0.93, 0.01, 24))
        for turn in (math.radians(68), math.radians(248)):
            out, across = Point(0, math.cos(turn), math.sin(turn)), Point(0, -math.sin(turn), math.cos(turn))
            rings = []
            for far, chord, twist in blade:
                cos, sin = math.cos(math.radians(twist)), math.sin(math.radians(twist))
                middle = hub.plus(way, 0.1).plus(out, far * math.sqrt(size))
                spots = [(chord * one, chord * 0.16 * other) for one, other in _turns(10)]
                rings.append([middle.plus(across, a * cos - b * sin).plus(way, a * sin + b * cos) for a, b in spots])
            self.add(_made(f"{name}propeller", "engine propeller", rings))

    def _cowling(self, place: Point, length: float, name: str, wide: float) -> None:
        """The cowling before a place, with two openings beside the propeller."""
        foot, top, drop, size = (-0.3, 0.28, 0.0, 0.5) if name else (-0.4, 0.42, 0.1, 1.0)
        profile = ((0, 1.0, 1.0), (0.25, 1.0, 0.98), (0.6, 0.93, 0.9), (0.85, 0.78, 0.72), (1.0, 0.45, 0.36))
        stations = [(-length * at, wide * w, foot * high, top * high - drop * at) for at, w, high in profile]
        inlets = []
        for side in (-1, 1):
            middle = Point(-length * 0.985, side * wide * 0.42, -0.9 * drop)
            spots = [(0.08 * size * cos, 0.05 * size * sin) for cos, sin in _turns(14)]
            round_it = [middle.plus(_LEFT, y).plus(_UPWARD, z) for y, z in spots]
            inlets.append(Detail(points=tuple(round_it), shade=True))
        rings = [_oval(one, 2.6) for one in _smooth(stations, 4)]
        cowling = _made(f"{name}cowling", "engine cowling", rings, *inlets, frames={7}, stringers={0})
        self.add(cowling.shifted(place))

    # -- what it stands on -------------------------------------------------------------------

    def gear(self) -> None:
        """Main wheels and a third one, or floats."""
        kind = self.airframe.wheels
        if kind is Wheels.FLOATS:
            self._floats()
            return
        ground = -1.12 - (0.28 if self.airframe.engine is EnginePlace.BEHIND else 0)
        x = 1.65 if kind is Wheels.FRONT else 0.42
        top, hub = Point(x, 0.3, -0.5), Point(x + 0.05, 1.0, ground)
        leg = _made("left gear leg", "gear main left leg", _bar(top, hub, 0.075, 0.45))
        self.add(leg, 0, 0.05, -0.62, start=top, both=True)
        self._wheel("left main wheel", "gear main left wheel", hub.plus(Point(0, 0.15, -0.62)), 0.22, both=True)
        if kind is Wheels.FRONT:
            top = Point((-0.62 if self.nose_engine else -0.5) - 0.8 * self.apart, 0, -0.36)
            name, hub, size, drop = "nose", Point(top.x - 0.08, 0, ground), 0.19, -0.75
        else:
            top = Point(4.75 + self.apart, 0, 0.02)
            name, hub, size, drop = "tail", Point(top.x + 0.25, 0, ground + 0.8), 0.1, -0.4
        words = f"gear {'nose' if name == 'nose' else 'tailwheel'}"
        leg = _made(f"{name} gear leg", f"{words} leg", _bar(top, hub, 0.045))
        self.add(leg, 0, 0, drop, start=top)
        self._wheel(f"{name} wheel", f"{words} wheel", hub.plus(_UPWARD, drop), size, both=False)

    def _wheel(self, part: str, words: str, hub: Point, size: float, *, both: bool) -> None:
        tyre = ((-0.28, 0.55), (-0.3, 0.8), (-0.2, 0.96), (0, 1.0), (0.2, 0.96), (0.3, 0.8), (0.28, 0.55))
        rings = _turned(hub, [(at * size, radius * size) for at, radius in tyre], _LEFT)
        face = hub.plus(_LEFT, 0.29 * size)
        circle = [face.plus(_AFT, 0.25 * size * cos).plus(_UPWARD, 0.25 * size * sin) for cos, sin in _turns(16)]
        cap = Detail(points=(*circle, circle[0]))
        self.add(_made(part, words, rings, cap, frames={1, 5}), both=both)

    def _floats(self) -> None:
        stations = [
            (-1.35, 0.06, 0.12, 0.2),
            (-1.1, 0.2, -0.02, 0.24),
            (-0.3, 0.28, -0.22, 0.26),
            (1.5, 0.28, -0.28, 0.26),
            (1.58, 0.27, -0.16, 0.25),
            (2.6, 0.22, -0.04, 0.22),
            (3.5, 0.1, 0.08, 0.18),
        ]
        side, deep = 1.1, -1.95
        section = ((0, 0.0), (1, 0.55), (0.8, 1.0), (0, 1.0), (-0.8, 1.0), (-1, 0.55))
        rings = [
            [Point(x, side + wide * y, deep + foot + (top - foot) * z) for y, z in section]
            for x, wide, foot, top in _smooth(stations, 3)
        ]
        self.add(_made("left float", "gear floats left", rings, frames={6, 9, 12, 15}), both=True)
        for x in (0.1, 1.9):
            start, end = Point(x, self.wide * 0.7, -0.5), Point(x - 0.1, side, deep + 0.26)
            bar = _bar(start.towards(end, 0.08), start.towards(end, 0.95), 0.06, 0.7)
            self.add(_made("left float strut", "gear floats left leg", bar), both=True)
            across = _bar(Point(end.x, -side, end.z), end, 0.045)
            self.add(_made("spreader bar", "gear floats leg", across))


# --- what stands beside it ----------------------------------------------------------------------


def stand_beside(kind: str, name: str, size: float) -> tuple[Solid, ...]:
    """What stands beside an aircraft for work on no part of it: a `bench`, a `tin` of paint, a `crate`, a `chest`."""
    if kind == "bench":
        legs = [((x, y, 0.0), (x + 0.1, y + 0.1, 0.6)) for x in (0.0, 0.95) for y in (0.0, 0.45)]
        boards = [((0.05, 0.03, 0.18), (1.0, 0.52, 0.22)), ((-0.05, -0.05, 0.6), (1.1, 0.6, 0.68))]
        vice = [((0.1, 0.2, 0.68), (0.2, 0.36, 0.84)), ((0.28, 0.2, 0.68), (0.36, 0.36, 0.84))]
        made = [_made(name, kind, _box(Point(*low), Point(*high))) for low, high in (*legs, *boards, *vice)]
    elif kind == "tin":
        radii = ((0, 0.26), (0.08, 0.26), (0.44, 0.26), (0.5, 0.26), (0.5, 0.23), (0.53, 0.23))
        rings = [[Point(radius * cos, radius * sin, z) for cos, sin in _turns(_ROUND)] for z, radius in radii]
        made = [_made(name, kind, rings, frames={1, 2})]
    else:
        x, y, z = (0.85, 0.5, 0.5) if kind == "crate" else (0.6, 0.6, 0.42)
        boards = [((0, y, z * one / 3), (x, y, z * one / 3)) for one in (1, 2)]
        boards += [((0, 0, z * one / 3), (0, y, z * one / 3)) for one in (1, 2)]
        boards += [((x * one, y, 0), (x * one, y, z)) for one in (0.1, 0.9)]
        boards += [((0, y * one / 3, z), (x, y * one / 3, z)) for one in (1, 2)]
        boards += [((x * 0.1, y, 0), (x * 0.9, y, z))] if kind == "crate" else []
        lines = [Detail(points=(Point(*one), Point(*other))) for one, other in boards]
        made = [_made(name, kind, _box(_NOWHERE, Point(x, y, z)), *lines)]
    return tuple(one.changed(lambda point: _NOWHERE.plus(point, size)) for one in made)
