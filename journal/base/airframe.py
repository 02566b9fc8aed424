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
from journal.base.solids import Detail, Point, Ring, Solid

SPAN, LENGTH = 8.6, 6.7
"""Metres, where build.yml does not say."""
Station = tuple[float, float, float, float]
"""A section of a body: x, half of its width, z of its foot and of its top."""

_ROUND = 32
_NOTHING = Point(0, 0, 0)
_FORWARD, _LEFT, _UPWARD = Point(-1, 0, 0), Point(0, 1, 0), Point(0, 0, 1)


def has_roof(airframe: Airframe) -> bool:
    """Whether the cabin has a roof; a wing above it makes one."""
    if airframe.wing is WingPlace.HIGH:
        return True
    return airframe.cabin is Cabin.DOORS


def has_struts(airframe: Airframe) -> bool:
    """Whether struts hold the wing: as told, else those of a high wing and of two wings."""
    return airframe.wing in (WingPlace.HIGH, WingPlace.TWO) if airframe.struts is None else airframe.struts


# --- bodies -------------------------------------------------------------------------------------


def _smooth(stations: Sequence[Station], per: int) -> list[Station]:
    """More stations between some, on a curve through them (Catmull and Rom)."""
    made = []
    padded = [stations[0], *stations, stations[-1]]
    for before, one, other, after in zip(padded, padded[1:], padded[2:], padded[3:], strict=False):
        for step in range(per):
            t = step / per
            made.append(
                tuple(
                    0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)
                    for a, b, c, d in zip(before, one, other, after, strict=True)
                )
            )
    return [*made, stations[-1]]  # type: ignore[list-item]


def _oval(station: Station, power: float = 2.5, y: float = 0) -> Ring:
    """A section: an ellipse, the squarer the higher `power`."""
    x, wide, foot, top = station
    ring = []
    for number in range(_ROUND):
        cos, sin = math.cos(2 * math.pi * number / _ROUND), math.sin(2 * math.pi * number / _ROUND)
        across, up = (math.copysign(abs(one) ** (2 / power), one) for one in (cos, sin))
        ring.append(Point(x, y + wide * across, (foot + top) / 2 + (top - foot) / 2 * up))
    return tuple(ring)


def _round_bar(start: Point, end: Point, radius: float, thick: float = 1) -> tuple[Ring, ...]:
    """A bar from one point to another, `thick` times as high as it is wide."""
    way = end.plus(start, -1)
    length = math.dist(start, end)
    side = Point(-way.y, way.x, 0) if math.hypot(way.x, way.y) > 1e-6 * length else Point(1, 0, 0)
    size = math.hypot(side.x, side.y)
    side = Point(side.x / size, side.y / size, 0)
    up = Point(
        (way.y * side.z - way.z * side.y) / length,
        (way.z * side.x - way.x * side.z) / length,
        (way.x * side.y - way.y * side.x) / length,
    )
    turns = [2 * math.pi * number / 14 for number in range(14)]
    return tuple(
        tuple(middle.plus(side, radius * math.cos(turn)).plus(up, radius * thick * math.sin(turn)) for turn in turns)
        for middle in (start, end)
    )


def _disc(middle: Point, profile: Iterable[tuple[float, float]], axis: Point) -> tuple[Ring, ...]:
    """A turned body along x or y: (way along the axis, radius) pairs."""
    rings = []
    for along, radius in profile:
        ring = []
        for number in range(_ROUND):
            turn = 2 * math.pi * number / _ROUND
            around = (
                Point(0, radius * math.cos(turn), radius * math.sin(turn))
                if axis.x
                else Point(radius * math.cos(turn), 0, radius * math.sin(turn))
            )
            ring.append(middle.plus(axis, along).plus(around))
        rings.append(tuple(ring))
    return tuple(rings)


def _box(low: Point, high: Point) -> tuple[Ring, ...]:
    """A box along x."""
    return tuple(
        (Point(x, low.y, low.z), Point(x, high.y, low.z), Point(x, high.y, high.z), Point(x, low.y, high.z))
        for x in (low.x, high.x)
    )


def _shell(rows: Iterable[Sequence[Point]], thick: Point) -> tuple[Ring, ...]:
    """A sheet through rows of points, as thick as told."""
    return tuple((*row, *(point.plus(thick) for point in reversed(row))) for row in rows)


# --- wings and tails ----------------------------------------------------------------------------


class _Surface:
    """A lifting surface from its root outwards: `angle` is 0 for one that lies, 90 degrees for one that stands.

    `chords` are those of root and tip, `sweep` how far aft the tip begins, `thick` a share of the chord.
    """

    _UPPER = (1.0, 0.85, 0.7, 0.55, 0.4, 0.28, 0.18, 0.1, 0.05, 0.018, 0.0)

    def __init__(
        self, root: Point, span: float, chords: tuple[float, float], sweep: float, angle: float, thick: float
    ) -> None:
        self.root, self.span, self.chords, self.sweep, self.thick = root, span, chords, sweep, thick
        self._across, self._up = math.cos(math.radians(angle)), math.sin(math.radians(angle))

    def at(self, share: float, aft: float, height: float = 0, size: float = 1) -> Point:
        """The point at a share of span and chord; `height` is in chords, `size` makes the section smaller."""
        chord = self.chords[0] + (self.chords[1] - self.chords[0]) * share
        x = self.root.x + self.sweep * share + chord * (0.5 + (aft - 0.5) * size)
        out, up = self.span * share, chord * height * size
        return Point(
            x, self.root.y + out * self._across - up * self._up, self.root.z + out * self._up + up * self._across
        )

    def half(self, aft: float) -> float:
        """Half of the thickness in chords (the four-digit section)."""
        root = 0.2969 * math.sqrt(aft) - 0.126 * aft - 0.3516 * aft**2 + 0.2843 * aft**3 - 0.1036 * aft**4
        return 5 * self.thick * root

    def section(self, share: float, first: float, last: float, size: float = 1, flatness: float = 1) -> Ring:
        """The section at a share of the span, from one share of the chord to another."""
        span = [first + (last - first) * one for one in self._UPPER]
        upper = [self.at(share, aft, self.half(aft) * flatness, size) for aft in span]
        lower = [self.at(share, aft, -0.8 * self.half(aft) * flatness, size) for aft in reversed(span)]
        return (*upper, *lower)

    def body(self, part: str, words: frozenset[str], hinge: float, notch: float, ribs: int) -> Solid:
        """The closed surface: from its nose to `hinge` as far as `notch` (a share of the span), whole beyond it."""
        rings: list[Ring] = []
        frames = set()
        for number in range(ribs + 1):
            if number and number < ribs:
                frames.add(len(rings))
            rings.append(self.section(notch * number / ribs, 0, hinge))
        if notch < 1:
            rings.append(self.section(notch, 0, 1))
            frames.add(len(rings) - 1)
        tip = 1 - min(0.1, 0.3 * self.chords[1] / self.span)
        for share, size, flatness in ((0, 1, 1), (0.45, 0.96, 0.85), (0.8, 0.85, 0.6), (1, 0.62, 0.12)):
            where = max(tip, notch) + (1 - max(tip, notch)) * share
            rings.append(self.section(where, 0, 1 if notch < 1 else hinge, size, flatness))
        return Solid(part=part, words=words, rings=tuple(rings), frames=frozenset(frames), stringers=frozenset({5}))

    def control(self, part: str, words: frozenset[str], hinge: float, first: float, last: float, ribs: int) -> Solid:
        """A flap, aileron, elevator or rudder behind the hinge."""
        rings = []
        for number in range(ribs + 1):
            share = first + (last - first) * number / ribs
            high = self.half(hinge)
            nose = [self.at(share, hinge + 0.025, high), self.at(share, hinge, high * 0.3)]
            foot = [self.at(share, hinge, -high * 0.3), self.at(share, hinge + 0.025, -0.8 * high)]
            rings.append((self.at(share, 1), *nose, *foot))
        return Solid(part=part, words=words, rings=tuple(rings), frames=frozenset(range(1, ribs)))

    def spar(self, part: str, words: frozenset[str], hinge: float) -> Iterator[Solid]:
        """The main spar, which reaches inboard of the root, and a rear spar."""
        for aft, inner in ((0.28, -0.1), (hinge - 0.02, 0.0)):
            high = self.half(aft) * 0.94
            rings = [
                (self.at(share, aft - 0.012, high), self.at(share, aft + 0.012, high),
                 self.at(share, aft + 0.012, -0.8 * high), self.at(share, aft - 0.012, -0.8 * high))
                for share in (inner, 0.96)
            ]  # fmt: skip
            yield Solid(part=part, words=words, rings=tuple(rings))

    def ribs(self, part: str, words: frozenset[str], hinge: float, count: int) -> Iterator[Solid]:
        """Ribs from root to tip, each a plate with two holes."""
        for number in range(count):
            share = (number + 0.5) / count
            rings = (self.section(share, 0, hinge), self.section(share + 0.008, 0, hinge))
            holes = []
            for aft, size in ((0.17, 0.028), (0.45, 0.034)):
                turns = [2 * math.pi * one / 12 for one in range(13)]
                hole = [self.at(share + 0.008, aft + size * math.cos(turn), size * math.sin(turn)) for turn in turns]
                holes.append(Detail(points=tuple(hole), always=True))
            yield Solid(part=part, words=words, rings=rings, details=tuple(holes))

    def skin(self, part: str, words: frozenset[str], hinge: float, side: int) -> Solid:
        """The upper (`side` 1) or lower (-0.8) skin as a thin shell."""
        span = [hinge * one for one in self._UPPER[:-1]]
        rows = [[self.at(share / 10, aft, side * self.half(aft)) for aft in span] for share in range(11)]
        thick = self.at(0, 0, -0.012).plus(self.at(0, 0), -1)
        return Solid(part=part, words=words, rings=_shell(rows, thick), frames=frozenset({2, 4, 6, 8}))


# --- the aircraft -------------------------------------------------------------------------------


def take_apart(airframe: Airframe, wanted: Collection[str]) -> tuple[Solid, ...]:
    """The solids of an aircraft, each moved out of its place. What lies inside (spars, seats, tanks …) is there where
    one of its `words` is `wanted`; a wing is then open.
    """
    craft = _Craft(airframe, frozenset(wanted))
    craft.fuselage()
    craft.cabin()
    craft.wings()
    craft.tail()
    craft.engines()
    craft.gear()
    return tuple(craft.solids)


class _Craft:
    """An aircraft being laid out: x is 0 at the firewall, z at the middle of the fuselage."""

    def __init__(self, airframe: Airframe, wanted: frozenset[str]) -> None:
        self.airframe, self.wanted = airframe, wanted
        self.solids: list[Solid] = []
        self.roof = has_roof(airframe)
        self.wide = 0.57 if airframe.seats is Seats.BESIDE else 0.42
        self.long = 0.55 if airframe.seats is Seats.TANDEM else -0.25 if airframe.seats is Seats.ONE else 0.0
        ratio = (airframe.span or SPAN * (airframe.length or LENGTH) / LENGTH) / (airframe.length or LENGTH)
        self.half_span = min(max(ratio * LENGTH, 5.6), 15) / 2
        self.nose_engine = airframe.engine is EnginePlace.FRONT
        self.stations = _smooth(self._stations(), 6)

    def add(self, solid: Solid, *ways: Point, only: Collection[str] = (), start: Point | None = None) -> None:
        """Take a solid along; of what lies inside only what is wanted."""
        if only and not self.wanted.intersection(only):
            return
        for way in ways:
            solid = solid.moved(way, start)
        self.solids.append(solid)

    def pair(self, solid: Solid, *ways: Point, only: Collection[str] = (), start: Point | None = None) -> None:
        """Take a solid on the left and its twin on the right along."""
        kept = len(self.solids)
        self.add(solid, *ways, only=only, start=start)
        self.solids += [one.mirrored() for one in self.solids[kept:]]

    # -- the body --------------------------------------------------------------------------

    def _stations(self) -> list[Station]:
        wide, more = self.wide, self.long
        roof = 0.97 if self.roof else 0.5
        nose: list[Station] = [(0, wide * 0.88, -0.46, 0.36)]
        if not self.nose_engine:
            nose = [(-1.15, 0.07, -0.2, -0.04), (-1.05, 0.2, -0.31, 0.06), (-0.75, wide * 0.64, -0.42, 0.2), *nose]
        cabin: list[Station] = [
            (0.42, wide * 0.95, -0.53, 0.43),
            (1.05, wide, -0.56, roof if self.roof else 0.47),
            (1.95 + more, wide * 0.97, -0.54, roof),
            (2.75 + more, wide * 0.76, -0.44, roof * 0.72 + 0.13),
        ]
        return [*nose, *cabin, (3.75, wide * 0.45, -0.2, 0.44), (4.7, wide * 0.22, 0.0, 0.37), (5.3, 0.05, 0.14, 0.3)]

    def station(self, x: float) -> Station:
        """The section of the fuselage at a place along it."""
        for one, other in pairwise(self.stations):
            if one[0] <= x <= other[0]:
                share = (x - one[0]) / (other[0] - one[0])
                return tuple(a + (b - a) * share for a, b in zip(one, other, strict=True))  # type: ignore[return-value]
        return self.stations[0 if x < 0 else -1]

    def skin_at(self, x: float, height: float) -> Point:
        """The point on the left side of the fuselage at a height (z) between foot and top."""
        _, wide, foot, top = self.station(x)
        up = min(max((height - (foot + top) / 2) / ((top - foot) / 2), -1), 1)
        return Point(x, wide * (1 - abs(up) ** self.power) ** (1 / self.power), height)

    @property
    def power(self) -> float:
        """How square the fuselage is."""
        return 3.2 if self.roof else 2.6

    def fuselage(self) -> None:
        parts: tuple[tuple[str, float, float], ...] = (
            ("forward", -2.0, 0.95),
            ("centre", 0.95, 2.7 + self.long),
            ("cone", 2.7 + self.long, 9.0),
        )
        names = {"forward": "forward fuselage", "centre": "centre fuselage", "cone": "tail cone"}
        ways = {"forward": Point(-0.55, 0, 0), "centre": _NOTHING, "cone": Point(0.45, 0, 0)}
        self.apart = bool(self.wanted.intersection(names))
        if not self.apart:
            parts = (("fuselage", -2.0, 9.0),)
        for word, first, last in parts:
            stations = [one for one in self.stations if first < one[0] < last]
            stations = [self.station(max(first, self.stations[0][0])), *stations]
            stations.append(self.station(min(last, self.stations[-1][0])))
            stations = [one for one, after in zip(stations, [*stations[1:], None], strict=True) if after != one]
            rings = tuple(_oval(one, self.power) for one in stations)
            frames = {
                number
                for number, one in enumerate(stations)
                if 0 < number < len(stations) - 1
                and any(abs(one[0] - at) < 0.07 for at in (0.42, 1.05, 3.3, 4.05, 4.7))
            }
            words = {"fuselage", word} if self.apart else {"fuselage", *names}
            solid = Solid(
                part=names.get(word, word), words=frozenset(words), rings=rings,
                frames=frozenset(frames), stringers=frozenset({0, _ROUND * 13 // 16}),
                details=tuple(self._openings(first, last)),
            )  # fmt: skip
            self.add(solid, *([ways[word]] if self.apart and word != "centre" else []))
        foot, top = self.station(0)[2:]
        plate = (
            _oval((-0.02, self.wide * 0.87, foot, top), self.power),
            _oval((0, self.wide * 0.87, foot, top), self.power),
        )
        if self.nose_engine:
            shift = Point(-0.75 if self.apart else -0.3, 0, 0)
            self.add(
                Solid(part="firewall", words=frozenset({"fuselage", "firewall"}), rings=plate),
                shift,
                only=("firewall",),
            )

    def _openings(self, first: float, last: float) -> Iterator[Detail]:
        """Windows of a cabin, or the opening under a canopy, where they lie between two places."""
        more = self.long
        if not self.roof:
            if first > 1 or last < 2.7 + more:
                return
            xs = [0.75 + (1.75 + more) * number / 16 for number in range(17)]
            left = []
            for number, x in enumerate(xs):
                _, wide, foot, top = self.station(x)
                across = wide * 0.84 * math.sin(math.pi * min(1, max(0.0, number / 16))) ** 0.35
                up = (1 - min(across / wide, 1) ** self.power) ** (1 / self.power)
                left.append(Point(x, across, (foot + top) / 2 + (top - foot) / 2 * up))
            right = [Point(one.x, -one.y, one.z) for one in left]
            outline = (*left, *reversed(right[1:-1]))
            yield Detail(points=outline, shade=True)
            yield Detail(points=(*outline, outline[0]))
            return
        window = [(0.95, 0.44), (0.98, 0.84), (1.5, 0.86), (1.5, 0.44)]
        behind = [(1.62, 0.44), (1.62, 0.86), (2.05 + more, 0.84), (2.45 + more, 0.62), (2.3 + more, 0.46)]
        for pane in (window, behind):
            if first < pane[0][0] < last and first < pane[-1][0] < last:
                points = tuple(self.skin_at(x, z) for x, z in pane)
                for one in (points, tuple(Point(point.x, -point.y, point.z) for point in reversed(points))):
                    yield Detail(points=one, shade=True)
                    yield Detail(points=(*one, one[0]))
        if first < 0.5 < last:
            sill = [Point(0.45, y, 0.43 - 0.08 * abs(y / self.wide) ** 2) for y in (0.8, 0.4, 0, -0.4, -0.8)]
            sill = [Point(0.47, one.y * self.wide, one.z) for one in sill]
            head = [Point(0.93, one.y * 0.92, 0.86 - 0.06 * abs(one.y / self.wide) ** 2) for one in reversed(sill)]
            points = (*sill, *head)
            yield Detail(points=points, shade=True)
            yield Detail(points=(*points, points[0]))

    def cabin(self) -> None:
        """Canopy or doors, panel, seats, controls."""
        more, wide = self.long, self.wide
        if self.roof:
            low, high = -0.3, 0.86
            rows = [
                [self.skin_at(x, low + (high - low) * step / 8) for step in range(9)]
                for x in (0.72, 0.95, 1.2, 1.45, 1.6)
            ]
            door = Solid(
                part="left door",
                words=frozenset({"fuselage", "canopy", "door", "left"}),
                rings=_shell(rows, Point(0, 0.03, 0)),
            )
            glass = [
                self.skin_at(x, z).plus(Point(0, 0.03, 0))
                for x, z in ((0.95, 0.42), (1.0, 0.8), (1.5, 0.8), (1.5, 0.42))
            ]
            door = replace(door, details=(Detail(points=tuple(glass), shade=True), Detail(points=(*glass, glass[0]))))
            self.pair(door, Point(0, 0.5, -0.12))
            foot, head = (0.44, 0.45), (0.98, 0.93)
            ys = [wide * 0.9 * step / 6 for step in range(-6, 7)]
            rows = [
                [Point(x + 0.16 * (y / wide) ** 2, y, z - 0.07 * (y / wide) ** 2) for x, z in (foot, head)] for y in ys
            ]
            screen = Solid(
                part="windscreen",
                words=frozenset({"fuselage", "canopy", "windscreen"}),
                rings=_shell(rows, Point(0.03, 0, -0.02)),
            )
            self.add(screen, Point(-0.35, 0, 0.55), only=("windscreen",))
        else:
            stations = [
                (0.62, wide * 0.66, 0.4, 0.45),
                (0.9, wide * 0.83, 0.42, 0.74),
                (1.4 + more * 0.4, wide * 0.87, 0.44, 0.97),
                (2.05 + more, wide * 0.74, 0.44, 0.92),
                (2.6 + more, wide * 0.42, 0.45, 0.7),
                (2.95 + more, wide * 0.1, 0.46, 0.53),
            ]
            rings = []
            for x, half, base, top in _smooth(stations, 5):
                arc = [math.pi * step / 18 for step in range(19)]
                bow = [Point(x, half * math.cos(turn), base + (top - base) * math.sin(turn) ** 0.8) for turn in arc]
                rings.append((*bow, *(Point(x, half * (step / 3 - 1), base) for step in (1, 2, 3, 4, 5))))
            canopy = Solid(
                part="canopy", words=frozenset({"fuselage", "canopy", "door", "windscreen"}), rings=tuple(rings),
                frames=frozenset({7}), stringers=frozenset({1}),
            )  # fmt: skip
            self.add(canopy, Point(0.1, 0, 1.0), start=Point(1.5, 0, 0.45))
        arch = [
            Point(0.6, wide * 0.82 * math.cos(math.pi * step / 12), 0.1 + 0.3 * math.sin(math.pi * step / 12) ** 0.7)
            for step in range(13)
        ]
        dials = []
        for y in (-0.5, -0.17, 0.17, 0.5):
            turns = [2 * math.pi * step / 12 for step in range(13)]
            dial = [Point(0.6, (y + 0.13 * math.cos(turn)) * wide, 0.24 + 0.07 * math.sin(turn)) for turn in turns]
            dials.append(Detail(points=tuple(dial), always=True))
        panel = Solid(
            part="instrument panel", words=frozenset({"fuselage", "panel"}), details=tuple(dials),
            rings=(tuple(arch), tuple(point.plus(Point(0.05, 0, 0)) for point in arch)),
        )  # fmt: skip
        self.add(panel, Point(-0.95, 0, 0.95) if not self.roof else Point(-1.1, 0, 0.75), only=("panel",))
        seats = (
            [(0.0, 0.5 * wide), (0.0, -0.5 * wide)]
            if self.airframe.seats is Seats.BESIDE
            else [(-0.2, 0.0), (0.7, 0.0)]
        )
        for x, y in seats if self.airframe.seats is not Seats.ONE else [(0.0, 0.0)]:
            profile = ((1.35, -0.25), (1.8, -0.3), (2.0, 0.3), (1.9, 0.32), (1.72, -0.2), (1.36, -0.15))
            chair = tuple(tuple(Point(x + at, y + side * 0.2, z) for at, z in profile) for side in (-1, 1))
            self.add(
                Solid(part="seats", words=frozenset({"fuselage", "seat"}), rings=chair),
                Point(0.2, 0, 0.62 if not self.roof else 1.35),
                only=("seat",),
            )
        stick = _round_bar(Point(1.2, 0, -0.35), Point(1.1, 0, 0.2), 0.03)
        self.add(
            Solid(part="controls", words=frozenset({"fuselage", "controls"}), rings=stick),
            Point(-0.3, 0, 0.7 if not self.roof else 1.4),
            only=("controls",),
        )

    # -- wings -----------------------------------------------------------------------------

    def wings(self) -> None:
        place = self.airframe.wing
        chord = 1.32 * (SPAN / 2 / self.half_span) ** 0.4
        chords = (chord, chord * (0.7 if self.half_span > 5.5 else 0.82))
        low = {WingPlace.LOW: -0.4, WingPlace.MID: 0.0, WingPlace.HIGH: 1.0, WingPlace.TWO: -0.42}[place]
        root = Point(0.72, self.skin_at(1.2, min(low, 0.5)).y if place is not WingPlace.HIGH else self.wide * 0.55, low)
        angle = {WingPlace.LOW: 5, WingPlace.MID: 2, WingPlace.HIGH: 1.5, WingPlace.TWO: 3}[place]
        out = 0.62 + self.half_span * 0.09
        way = {WingPlace.HIGH: Point(0, out, 0.65)}.get(place, Point(0, out, -0.12))
        lower = _Surface(root, self.half_span - root.y, chords, 0.1, angle, 0.15)
        surfaces = [(lower, way, frozenset({"wing", "left"}), "left wing")]
        if place is WingPlace.TWO:
            head = Point(0.42, 0.06, 1.42)
            upper = _Surface(head, self.half_span - 0.06, chords, 0.1, 2, 0.14)
            surfaces = [
                (lower, way, frozenset({"wing", "left", "lower"}), "left lower wing"),
                (upper, Point(0, out * 0.75, 0.75), frozenset({"wing", "left", "upper"}), "left upper wing"),
            ]
        for surface, moved, words, name in surfaces:
            self._wing(surface, moved, words, name, flaps="upper" not in words)
        self._struts(surfaces)

    def _wing(self, surface: _Surface, way: Point, words: frozenset[str], name: str, *, flaps: bool) -> None:
        hinge, notch = (0.74, 0.93)
        start = surface.at(0, 0.35)
        tilt = Point(0, -surface._up, surface._across)
        opened = self.wanted.intersection({"spar", "ribs", "skins"})
        if opened:
            for spar in surface.spar(f"{name} spar", words | {"spar"}, hinge):
                self.pair(spar, way, start=start)
            for rib in surface.ribs(f"{name} ribs", words | {"ribs"}, hinge, 9):
                self.pair(replace(rib.moved(way), axis=()))
            lift = way.plus(tilt, 0.5)
            self.pair(replace(surface.skin(f"{name} skins", words | {"skins"}, hinge, 1).moved(lift), axis=()))
            under = way.plus(tilt, -0.45)
            self.pair(replace(surface.skin(f"{name} skins", words | {"skins"}, hinge, -1).moved(under), axis=()))
            tip = surface.body(f"{name} tip", words | {"tip"}, hinge, notch, 2)
            tip = replace(tip, rings=tip.rings[3:], frames=frozenset())
            self.pair(tip, way.plus(Point(0, 0.3, 0)))
        else:
            self.pair(surface.body(name, words | {"spar", "ribs", "skins", "tip"}, hinge, notch, 9), way, start=start)
        aft = way.plus(Point(0.55, 0, 0))
        if flaps:
            flap = surface.control("left flap", words | {"flap"}, hinge, 0.02, 0.5, 4)
            self.pair(
                replace(flap.moved(aft), axis=(surface.at(0.25, 0.74).plus(way), surface.at(0.25, 0.8).plus(aft)))
            )
        first = 0.52 if flaps else 0.4
        aileron = surface.control(
            f"{name} aileron".replace("left wing", "left"), words | {"aileron"}, hinge, first, notch - 0.005, 4
        )
        self.pair(replace(aileron.moved(aft), axis=(surface.at(0.7, 0.74).plus(way), surface.at(0.7, 0.8).plus(aft))))
        rings = tuple(surface.section(share, 0.0, 0.26, 1, 0.9) for share in (0.08, 0.25, 0.42))
        tank = Solid(part=f"{name} tank", words=words | {"tank"}, rings=rings, frames=frozenset({1}))
        self.pair(tank, way.plus(Point(-0.6, 0, 0.0)), only=("tank",), start=surface.at(0.25, 0.1).plus(way))

    def _struts(self, surfaces: Sequence[tuple[_Surface, Point, frozenset[str], str]]) -> None:
        """Struts from where they are held to where they hold, with a little air at either end."""
        if not has_struts(self.airframe):
            return
        surface, way, *_ = surfaces[-1]
        if len(surfaces) == 2:
            lower, lower_way, *_ = surfaces[0]
            ends = [
                (lower.at(0.66, aft, lower.half(aft)).plus(lower_way), surface.at(0.66, aft).plus(way))
                for aft in (0.15, 0.6)
            ]
            ends += [
                (Point(x, self.wide * 0.6, 0.5), surface.at(0.0, aft).plus(way, 0.8).plus(Point(0, 0.25, 0)))
                for x, aft in ((0.5, 0.12), (1.3, 0.6))
            ]
        elif self.airframe.wing is WingPlace.HIGH:
            ends = [
                (Point(x, self.wide * 0.98, -0.38), surface.at(0.52, aft, -0.05).plus(way))
                for x, aft in ((0.95, 0.25), (1.35, 0.62))
            ]
        else:
            top = 0.88 if self.roof else 0.38
            ends = [(self.skin_at(1.15, top), surface.at(0.52, 0.3, surface.half(0.3)).plus(way))]
        for start, end in ends:
            bar = _round_bar(start.towards(end, 0.05), start.towards(end, 0.95), 0.055, 0.5)
            self.pair(
                Solid(part="left strut", words=frozenset({"wing", "strut", "left"}), rings=bar, axis=(start, end))
            )

    # -- the tail --------------------------------------------------------------------------

    def tail(self) -> None:
        shape = self.airframe.tail
        back = Point(1.05 + (0.45 if self.apart else 0), 0, 0.12)
        if shape is TailShape.V:
            surface = _Surface(Point(4.25, 0.06, 0.36), 1.5, (0.95, 0.62), 0.3, 53, 0.1)
            words = frozenset({"tail", "horizontal", "vertical", "left"})
            way = Point(1.0 + back.x - 1.05, 0.28, 0.42)
            body = surface.body("left V tail", words | {"stabiliser", "fin"}, 0.6, 1, 4)
            self.pair(body, way, start=surface.at(0, 0.4))
            control = surface.control("left ruddervator", words | {"elevator", "rudder"}, 0.6, 0.02, 0.95, 4)
            self.pair(replace(control.moved(way.plus(Point(0.4, 0, 0))), axis=()))
            return
        words = frozenset({"tail", "vertical"})
        high = 1.2
        foot = self.station(4.5)[3] - 0.02
        fin = _Surface(Point(4.05, 0, foot), high, (1.2, 0.62), 0.62, 90, 0.09)
        fin_way = Point(back.x - 0.15, 0, 0.95)
        self.add(fin.body("fin", words | {"fin"}, 0.62, 1, 4), fin_way, start=fin.at(0, 0.45))
        rudder = fin.control("rudder", words | {"rudder"}, 0.62, 0.0, 0.97, 4)
        rudder_way = fin_way.plus(Point(0.35, 0, 0))
        self.add(
            replace(rudder.moved(rudder_way), axis=(fin.at(0.5, 0.62).plus(fin_way), fin.at(0.5, 0.7).plus(rudder_way)))
        )
        span = max(1.2, self.half_span * 0.3)
        on_top = shape is TailShape.T
        root = Point(4.78, 0, foot + high + 0.03) if on_top else Point(4.2, 0, 0.3)
        way = fin_way.plus(Point(0.25, 0, 0.5)) if on_top else back
        left = _Surface(root, span, (0.88, 0.62), 0.16, 0, 0.09)
        words = frozenset({"tail", "horizontal"})
        body = left.body("stabiliser", words | {"stabiliser"}, 0.6, 1, 4)
        twin = body.mirrored()
        frames = {len(body.rings) - 1 - one for one in body.frames} | {len(body.rings) - 1 + one for one in body.frames}
        whole = replace(body, rings=(*twin.rings[:0:-1], *body.rings), frames=frozenset(frames))
        self.add(whole, way, start=root.plus(Point(0.4, 0, 0)))
        elevator = left.control("left elevator", words | {"elevator", "left"}, 0.6, 0.03, 0.95, 4)
        elevator_way = way.plus(Point(0.4, 0, 0))
        self.pair(
            replace(
                elevator.moved(elevator_way), axis=(left.at(0.5, 0.6).plus(way), left.at(0.5, 0.7).plus(elevator_way))
            )
        )

    # -- engines ---------------------------------------------------------------------------

    def engines(self) -> None:
        where = self.airframe.engine
        if where is EnginePlace.FRONT:
            shift = Point(-0.55 if self.apart else 0, 0, 0)
            self._engine(Point(0, 0, -0.06), -1, shift, "", cowl=True)
        elif where is EnginePlace.TWO:
            z = {WingPlace.HIGH: 0.95, WingPlace.MID: 0.0}.get(self.airframe.wing, -0.28)
            out = 0.62 + self.half_span * 0.09
            way = Point(-0.35, out, 0.65 if self.airframe.wing is WingPlace.HIGH else -0.12)
            before = len(self.solids)
            self._engine(Point(0.75, 0, z), -1, _NOTHING, "left ", cowl=True)
            made, self.solids = self.solids[before:], self.solids[:before]
            for solid in made:
                side = Point(way.x, self.half_span * 0.36 + way.y, way.z)
                there = solid.changed(lambda point, side=side: point.plus(side))  # type: ignore[misc]
                self.pair(replace(there, words=there.words | {"left"}))
        else:
            self._engine(Point(5.3, 0, 0.22), 1, Point(0.6 + (0.45 if self.apart else 0), 0, 0), "", cowl=False)

    def _engine(self, place: Point, side: int, shift: Point, name: str, *, cowl: bool) -> None:
        """An engine before (`side` -1) or behind a place, cowling, propeller and spinner along its axis."""
        way = Point(side, 0, 0)
        small = 0.8 if name else 1.0
        block_at = place.plus(way, 0.12) if cowl else Point(2.9 + self.long, 0, 0.1)
        block_way = shift.plus(way, 0.32) if cowl else Point(0.1, 0, 0.95 if not self.roof else 1.25)
        words = frozenset({"engine", "block"})
        core = _disc(
            block_at,
            (
                (0, 0.17 * small),
                (0.05, 0.2 * small),
                (0.55 * small, 0.2 * small),
                (0.6 * small, 0.1),
                (0.72 * small, 0.07),
            ),
            way,
        )
        self.add(Solid(part=f"{name}engine", words=words, rings=core), block_way)
        for at in (0.14, 0.4):
            for across in (-1, 1):
                head = block_at.plus(way, at * small).plus(Point(0, across * 0.14 * small, 0.02))
                barrel = _disc(
                    head,
                    tuple((0.05 * step * across * small, (0.11 if step % 2 else 0.12) * small) for step in range(6)),
                    _LEFT,
                )
                self.add(
                    replace(
                        Solid(part=f"{name}engine", words=words, rings=barrel, frames=frozenset({1, 2, 3, 4})).moved(
                            block_way
                        ),
                        axis=(),
                    )
                )
        length = 1.08 * small
        if cowl:
            wide, foot, top = (0.3, -0.3, 0.28) if name else (self.wide * 0.88, -0.4, 0.42)
            profile = (
                (0, 1.0, 1.0),
                (0.25, 1.0, 0.98),
                (0.6, 0.93, 0.9),
                (0.85, 0.78, 0.72),
                (0.97, 0.6, 0.5),
                (1.0, 0.45, 0.36),
            )
            stations = [
                (
                    place.x + side * length * at,
                    wide * w,
                    place.z + foot * h,
                    place.z + top * h - 0.1 * at * bool(not name),
                )
                for at, w, h in profile
            ]
            rings = tuple(_oval(one, 2.6) for one in _smooth(stations, 4))
            cowling = Solid(
                part=f"{name}cowling",
                words=frozenset({"engine", "cowling"}),
                rings=rings,
                frames=frozenset({7}),
                stringers=frozenset({0}),
                details=tuple(self._inlets(place, length, wide, name)),
            )
            self.add(cowling, shift.plus(way, 1.25 * small))
        hub = place.plus(way, length if cowl else 0.05)
        disc_way = shift.plus(way, 1.65 * small if cowl else 0.0)
        nose = ((0.02, 0.17), (0.08, 0.175), (0.2, 0.14), (0.3, 0.08), (0.36, 0.0))
        spinner = Solid(
            part=f"{name}spinner",
            words=frozenset({"engine", "propeller", "spinner"}),
            rings=_disc(hub, nose, way),
            frames=frozenset({1}),
        )
        self.add(spinner, disc_way, start=hub.plus(way, -0.3))
        for turn in (68.0, 248.0):
            blade = []
            out = Point(0, math.cos(math.radians(turn)), math.sin(math.radians(turn)))
            flat_way = Point(0, -out.z, out.y)
            for far, chord, twist in (
                (0.15, 0.05, 60),
                (0.3, 0.085, 50),
                (0.55, 0.09, 35),
                (0.8, 0.065, 26),
                (0.9, 0.03, 24),
                (0.93, 0.01, 24),
            ):
                middle = hub.plus(way, 0.1).plus(out, far * (small**0.5))
                cos, sin = math.cos(math.radians(twist)), math.sin(math.radians(twist))
                ring = []
                for step in range(10):
                    angle = 2 * math.pi * step / 10
                    along, through = chord * math.cos(angle), chord * 0.16 * math.sin(angle)
                    ring.append(
                        middle.plus(flat_way, along * cos - through * sin).plus(way, along * sin + through * cos)
                    )
                blade.append(tuple(ring))
            self.add(
                replace(
                    Solid(part=f"{name}propeller", words=frozenset({"engine", "propeller"}), rings=tuple(blade)).moved(
                        disc_way
                    ),
                    axis=(),
                )
            )

    def _inlets(self, place: Point, length: float, wide: float, name: str) -> Iterator[Detail]:
        """Two openings in the front of a cowling, beside the propeller."""
        for side in (-1, 1):
            turns = [2 * math.pi * step / 14 for step in range(14)]
            size = 0.5 if name else 1
            points = [
                Point(
                    place.x - length * 0.985,
                    side * wide * 0.42 + 0.08 * size * math.cos(turn),
                    place.z - 0.09 * bool(not name) + 0.05 * size * math.sin(turn),
                )
                for turn in turns
            ]
            yield Detail(points=tuple(reversed(points)), shade=True)

    # -- what it stands on -------------------------------------------------------------------

    def gear(self) -> None:
        kind = self.airframe.wheels
        down = Point(0, 0.05, -0.62)
        if kind is Wheels.FLOATS:
            self._floats()
            return
        tall = 0.28 if self.airframe.engine is EnginePlace.BEHIND else 0
        x = 1.65 if kind is Wheels.FRONT else 0.42
        leg_start, leg_end = Point(x, 0.3, -0.5), Point(x + 0.05, 1.0, -1.12 - tall)
        words = frozenset({"gear", "main", "left"})
        self.pair(
            Solid(part="left gear leg", words=words | {"leg"}, rings=_round_bar(leg_start, leg_end, 0.075, 0.45)),
            down,
            start=leg_start,
        )
        self._wheel("left main wheel", words, leg_end.plus(_LEFT, 0.1), 0.22, down)
        if kind is Wheels.FRONT:
            at = Point(-0.62 if self.nose_engine else -0.5, 0, -0.36)
            words, name, size, end = frozenset({"gear", "nose"}), "nose", 0.19, Point(at.x - 0.08, 0, -1.12 - tall)
            if self.nose_engine and self.apart:
                at, end = at.plus(_FORWARD, 0.4), end.plus(_FORWARD, 0.4)
        else:
            at = Point(4.75 + (0.45 if self.apart else 0), 0, 0.02)
            words, name, size, end = frozenset({"gear", "tailwheel"}), "tail", 0.1, Point(at.x + 0.25, 0, -0.32 - tall)
        lower = Point(0, 0, -0.75 if name == "nose" else -0.4)
        leg = Solid(part=f"{name} gear leg", words=words | {"leg"}, rings=_round_bar(at, end, 0.045))
        self.add(leg, lower, start=at)
        self._wheel(f"{name} wheel", words, end, size, lower)

    def _wheel(self, part: str, words: frozenset[str], hub: Point, size: float, way: Point) -> None:
        tyre = ((-0.28, 0.55), (-0.3, 0.8), (-0.2, 0.96), (0, 1.0), (0.2, 0.96), (0.3, 0.8), (0.28, 0.55))
        rings = _disc(hub, tuple((at * size, radius * size) for at, radius in tyre), _LEFT)
        circle = tuple(
            hub.plus(
                Point(
                    0.25 * size * math.cos(math.pi * step / 8), 0.29 * size, 0.25 * size * math.sin(math.pi * step / 8)
                )
            )
            for step in range(17)
        )
        solid = Solid(
            part=part,
            words=words | {"wheel"},
            rings=rings,
            frames=frozenset({1, 5}),
            details=(Detail(points=circle, always=True),),
        )
        solid = replace(solid.moved(way), axis=())
        if "left" in words:
            self.pair(solid)
        else:
            self.add(solid)

    def _floats(self) -> None:
        words, side, z = frozenset({"gear", "floats", "left"}), 1.0, -1.5
        way = Point(0, 0.1, -0.45)
        rings = []
        for x, wide, foot, top in _smooth(
            [(-1.35, 0.06, 0.12, 0.2), (-1.1, 0.2, -0.02, 0.24), (-0.3, 0.28, -0.22, 0.26), (1.5, 0.28, -0.28, 0.26),
             (1.58, 0.27, -0.16, 0.25), (2.6, 0.22, -0.04, 0.22), (3.5, 0.1, 0.08, 0.18)], 3
        ):  # fmt: skip
            rings.append(
                tuple(
                    Point(x, side + wide * y, z + (foot if low else top if not edge else (foot + top) / 2 + 0.03))
                    for y, low, edge in (
                        (0, True, False),
                        (1, False, True),
                        (0.8, False, False),
                        (0, False, False),
                        (-0.8, False, False),
                        (-1, False, True),
                    )
                )
            )
        self.pair(
            Solid(
                part="left float",
                words=words,
                rings=tuple(rings),
                frames=frozenset({6, 9, 12, 15}),
                stringers=frozenset(),
            ),
            way,
            start=Point(1.0, side, z + 0.2),
        )
        for x in (0.1, 1.9):
            start, end = Point(x, self.wide * 0.7, -0.5), Point(x - 0.1, side, z + 0.26).plus(way)
            bar = _round_bar(start.towards(end, 0.08), start.towards(end, 0.95), 0.05, 0.6)
            self.pair(Solid(part="left float strut", words=words | {"leg"}, rings=bar))
            across = end.plus(Point(0, -0.1, -0.02))
            self.add(
                Solid(
                    part="spreader bar",
                    words=words - {"left"} | {"leg"},
                    rings=_round_bar(Point(across.x, -across.y, across.z), across, 0.035),
                )
            )


# --- what stands beside it ----------------------------------------------------------------------


def bench_of(kind: str, name: str, *, small: bool) -> tuple[Solid, ...]:
    """What stands beside an aircraft for work on no part of it: a `bench`, a `tin` of paint, a `crate`, a `chest`."""
    boxes: list[tuple[Ring, ...]] = []
    frames: frozenset[int] = frozenset()
    if kind == "bench":
        boxes = [_box(Point(x, y, 0), Point(x + 0.1, y + 0.1, 0.6)) for x in (0, 0.95) for y in (0, 0.45)]
        boxes += [
            _box(Point(0.05, 0.03, 0.18), Point(1.0, 0.52, 0.22)),
            _box(Point(-0.05, -0.05, 0.6), Point(1.1, 0.6, 0.68)),
        ]
        boxes += [
            _box(Point(0.1, 0.2, 0.68), Point(0.2, 0.36, 0.84)),
            _box(Point(0.28, 0.2, 0.68), Point(0.36, 0.36, 0.84)),
        ]
    elif kind == "tin":
        turns = [2 * math.pi * step / _ROUND for step in range(_ROUND)]
        radii = ((0, 0.26), (0.08, 0.26), (0.44, 0.26), (0.5, 0.26), (0.5, 0.23), (0.53, 0.23))
        boxes = [tuple(tuple(Point(r * math.cos(turn), r * math.sin(turn), z) for turn in turns) for z, r in radii)]
        frames = frozenset({1, 2})
    else:
        long, deep, high = (0.85, 0.5, 0.5) if kind == "crate" else (0.6, 0.6, 0.42)
        boxes = [_box(_NOTHING, Point(long, deep, high))]
        boards = [(Point(0, deep, high * one / 3), Point(long, deep, high * one / 3)) for one in (1, 2)]
        boards += [(Point(0, 0, high * one / 3), Point(0, deep, high * one / 3)) for one in (1, 2)]
        boards += [(Point(long * one, deep, 0), Point(long * one, deep, high)) for one in (0.1, 0.9)]
        boards += [(Point(long * 0.1, deep, 0), Point(long * 0.9, deep, high))] if kind == "crate" else []
        boards += [(Point(0, deep * one / 3, high), Point(long, deep * one / 3, high)) for one in (1, 2)]
        details = tuple(Detail(points=ends, always=True) for ends in boards)
        return (_sized(Solid(part=name, words=frozenset({kind}), rings=boxes[0], details=details), small),)
    return tuple(_sized(Solid(part=name, words=frozenset({kind}), rings=box, frames=frames), small) for box in boxes)


def _sized(solid: Solid, small: bool) -> Solid:
    size = 0.62 if small else 1.0
    return solid.changed(lambda point: Point(point.x * size, point.y * size, point.z * size))
