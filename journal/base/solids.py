"""Solids and how they are drawn: lofts through rings of points, seen from the front, the left and above, as line work.

x runs aft, y to the left wing tip, z up, all in metres. A solid shows its outline and its sharp edges in ink, frames
and ribs in fine lines. Solids are drawn back to front, so what is behind is hidden. Same solids, same text.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple


class Point(NamedTuple):
    """A place in space, or a way from one to another."""

    x: float
    y: float
    z: float

    def plus(self, way: Point, times: float = 1) -> Point:
        """The place that lies `times` a way from here."""
        return Point(self.x + way.x * times, self.y + way.y * times, self.z + way.z * times)

    def towards(self, other: Point, share: float) -> Point:
        """The place at a share of the way to another."""
        return self.plus(other.plus(self, -1), share)


Ring = tuple[Point, ...]
Flat = tuple[float, float]
"""A place on the sheet: to the right and down, in its units."""

Box = tuple[float, float, float, float]
"""Left, top, right and bottom on the sheet."""
Triangle = tuple[Box, tuple[tuple[Flat, float], ...]]
"""A box on the sheet, and three corners: where on the sheet, how near to us."""

_TURN, _TILT = math.radians(40), math.radians(31)
RIGHT = Point(math.cos(_TURN), math.sin(_TURN), 0)
UP = Point(math.sin(_TURN) * math.sin(_TILT), -math.cos(_TURN) * math.sin(_TILT), math.cos(_TILT))
NEAR = Point(-math.sin(_TURN) * math.cos(_TILT), math.cos(_TURN) * math.cos(_TILT), math.sin(_TILT))
SCALE = 100
"""Units of the sheet for a metre."""
_SHARP = math.cos(math.radians(32))


def dot(one: Point, other: Point) -> float:
    """The length of one along the other."""
    return one.x * other.x + one.y * other.y + one.z * other.z


def flat(point: Point) -> Flat:
    """Where a place in space stands on the sheet."""
    return SCALE * dot(point, RIGHT), -SCALE * dot(point, UP)


@dataclass(frozen=True, slots=True, kw_only=True)
class Detail:
    """Something on the surface of a solid: a line, or a `shade`, a patch seen where its outline runs round the way a
    clock does not, as seen from outside.
    """

    points: Ring
    shade: bool = False


@dataclass(frozen=True, eq=False)
class Solid:
    """A closed loft. `frames` are rings, and `stringers` points of every ring, that fine lines run along; `axis` is the
    line along which it was taken from its place. `part` is its name, `words` are what it answers to.
    """

    part: str
    words: frozenset[str]
    rings: tuple[Ring, ...]
    frames: frozenset[int] = frozenset()
    stringers: frozenset[int] = frozenset()
    details: tuple[Detail, ...] = ()
    axis: tuple[Point, ...] = ()

    def changed(self, change: Callable[[Point], Point]) -> Solid:
        """The solid with every point of it changed."""

        def all_of(points: Iterable[Point]) -> Ring:
            return tuple(change(point) for point in points)

        details = tuple(replace(one, points=all_of(one.points)) for one in self.details)
        return replace(self, rings=tuple(map(all_of, self.rings)), details=details, axis=all_of(self.axis))

    def moved(self, way: Point, start: Point | None = None) -> Solid:
        """The solid taken along a way; the axis begins at `start`, or in the middle of the solid."""
        there = self.shifted(way)
        start = start or self.middle
        return replace(there, axis=(*self.axis[:1], start.plus(way)) if self.axis else (start, start.plus(way)))

    def mirrored(self) -> Solid:
        """Its twin on the right."""
        twin = self.changed(lambda point: Point(point.x, -point.y, point.z))
        details = tuple(replace(one, points=one.points[::-1]) for one in twin.details)
        words = frozenset("right" if word == "left" else word for word in self.words)
        return replace(twin, details=details, words=words, part=self.part.replace("left", "right"))

    def cut(self, pieces: int) -> tuple[Solid, ...]:
        """The solid cut across into pieces of one length, in order; small gaps stand between them."""
        middles = [middle(ring) for ring in self.rings]
        along = [0.0]
        for one, other in pairwise(middles):
            along.append(along[-1] + math.dist(one, other))
        gap = along[-1] / pieces * 0.04

        def at(length: float) -> Ring:
            place = max(1, min(sum(one < length for one in along), len(along) - 1))
            span = along[place] - along[place - 1]
            share = (length - along[place - 1]) / span if span else 0
            pairs = zip(self.rings[place - 1], self.rings[place], strict=True)
            return tuple(one.towards(other, share) for one, other in pairs)

        made = []
        for number in range(pieces):
            first = along[-1] * number / pieces + (gap if number else 0)
            last = along[-1] * (number + 1) / pieces - (gap if number + 1 < pieces else 0)
            inner = [place for place, length in enumerate(along) if first < length < last]
            rings = (at(first), *(self.rings[place] for place in inner), at(last))
            frames = frozenset(where + 1 for where, place in enumerate(inner) if place in self.frames)
            part = f"{self.part} {number + 1} of {pieces}"
            details = self.details if number == 0 and not any(one.shade for one in self.details) else ()
            made.append(replace(self, part=part, rings=rings, frames=frames, details=details))
        return tuple(made)

    def shifted(self, way: Point) -> Solid:
        """The solid in another place, its axis with it."""
        return self.changed(lambda point: point.plus(way))

    @cached_property
    def middle(self) -> Point:
        """The middle of its rings."""
        return middle([middle(ring) for ring in self.rings])

    @cached_property
    def box(self) -> tuple[Point, Point]:
        """Its least and its greatest of each of x, y and z."""
        x, y, z = zip(*(point for ring in self.rings for point in ring), strict=True)
        return Point(min(x), min(y), min(z)), Point(max(x), max(y), max(z))

    @cached_property
    def _faces(self) -> list[tuple[tuple[tuple[int, int], ...], Point, bool]]:
        """(corners as ring and place, area as a way outwards, whether it looks our way) of every face."""
        count = len(self.rings[0])
        corners: list[tuple[tuple[int, int], ...]] = [
            ((row, place), (row, (place + 1) % count), (row + 1, (place + 1) % count), (row + 1, place))
            for row in range(len(self.rings) - 1)
            for place in range(count)
        ]
        last = len(self.rings) - 1
        corners.append(tuple((0, place) for place in reversed(range(count))))
        corners.append(tuple((last, place) for place in range(count)))
        areas = [_area_of([self.rings[row][place] for row, place in face]) for face in corners]
        # The faces of a closed body look outwards where its volume comes out above nought.
        rings = self.rings
        if sum(dot(rings[face[0][0]][face[0][1]], area) for face, area in zip(corners, areas, strict=True)) < 0:
            corners = [face[::-1] for face in corners]
            areas = [Point(-one.x, -one.y, -one.z) for one in areas]
        return [(face, area, dot(area, NEAR) > 1e-9) for face, area in zip(corners, areas, strict=True)]

    @cached_property
    def _flat_rings(self) -> list[list[Flat]]:
        return [[flat(point) for point in ring] for ring in self.rings]

    @cached_property
    def flat_box(self) -> Box:
        """Left, top, right and bottom on the sheet."""
        return flat_box([point for ring in self._flat_rings for point in ring])

    @cached_property
    def triangles(self) -> list[Triangle]:
        """The faces that look our way in triangles: (box on the sheet, three of place and nearness)."""
        made: list[Triangle] = []
        for face, _, seen in self._faces:
            if seen:
                spots = [(self._flat_rings[row][at], dot(self.rings[row][at], NEAR)) for row, at in face]
                hub = spots[0]
                for one, other in pairwise(spots[1:]):
                    corners = (hub, one, other)
                    made.append((flat_box([spot for spot, _ in corners]), corners))
        return made

    def lines(self) -> tuple[list[list[Flat]], ...]:
        """(closed outlines, patches, fine lines, sharp edges) as they are seen. The outlines, filled by the rule
        `nonzero`, are all that is seen of the solid.
        """
        owner: dict[tuple[tuple[int, int], tuple[int, int]], Point] = {}
        for face, area, seen in self._faces:
            if seen:
                for one, other in zip(face, (*face[1:], face[0]), strict=True):
                    owner[one, other] = area
        at = self._flat_rings
        outline = {edge: None for edge in owner if edge[::-1] not in owner}
        sharp, frames, stringers = [], [], []
        for (one, other), area in owner.items():
            beyond = owner.get((other, one))
            if beyond is None or one > other:
                continue
            ends = [at[one[0]][one[1]], at[other[0]][other[1]]]
            if dot(area, beyond) < _SHARP * math.sqrt(dot(area, area) * dot(beyond, beyond)):
                sharp.append(ends)
            elif one[0] == other[0] and one[0] in self.frames:
                frames.append(ends)
            elif one[0] != other[0] and one[1] in self.stringers:
                stringers.append(ends)
        loops = [[at[row][place] for row, place in loop] for loop in _loops(outline)]
        fine = [*_joined(frames), *_joined(stringers)]
        shades = []
        for detail in self.details:
            points = [flat(point) for point in detail.points]
            if not detail.shade:
                fine.append(points)
            elif _area(points) < 0:
                shades.append(points)
                fine.append([*points, points[0]])
        return loops, shades, fine, _joined(sharp)


def middle(points: Sequence[Point]) -> Point:
    """The middle of some places."""
    x, y, z = (sum(axis) / len(points) for axis in zip(*points, strict=True))
    return Point(x, y, z)


def _area_of(points: Sequence[Point]) -> Point:
    """The way in which a face looks, as long as twice its area (Newell)."""
    x = y = z = 0.0
    for one, other in zip(points, (*points[1:], points[0]), strict=True):
        x += (one.y - other.y) * (one.z + other.z)
        y += (one.z - other.z) * (one.x + other.x)
        z += (one.x - other.x) * (one.y + other.y)
    return Point(x, y, z)


def _area(points: Sequence[Flat]) -> float:
    pairs = zip(points, (*points[1:], points[0]), strict=True)
    return sum(one[0] * other[1] - other[0] * one[1] for one, other in pairs)


def flat_box(points: Sequence[Flat]) -> Box:
    """Left, top, right and bottom of some places on the sheet."""
    right, down = zip(*points, strict=True)
    return min(right), min(down), max(right), max(down)


def _loops(edges: Iterable[tuple[tuple[int, int], tuple[int, int]]]) -> Iterator[list[tuple[int, int]]]:
    """Directed edges, as many into each corner as out of it, joined to closed loops."""
    onward: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for one, other in edges:
        onward.setdefault(one, []).append(other)
    for start in sorted(onward):
        while onward[start]:
            loop = [start]
            while (here := onward[loop[-1]].pop()) != start:
                loop.append(here)
            yield loop


def _joined(segments: Iterable[Sequence[Flat]]) -> list[list[Flat]]:
    """Segments joined to lines where two of them meet."""
    lines: list[list[Flat]] = []
    ends: dict[Flat, list[Flat]] = {}
    for one, other in segments:
        before, after = ends.pop(one, None), ends.pop(other, None)
        if before is not None and before is after:
            before.append(other if before[-1] == one else one)
            continue
        line = [one, other]
        if before is not None:
            line = [*(before if before[-1] == one else before[::-1]), other]
            lines.remove(before)
        if after is not None:
            line += (after if after[0] == other else after[::-1])[1:]
            lines.remove(after)
        lines.append(line)
        ends[line[0]] = ends[line[-1]] = line
    return lines


# --- which is in front of which -----------------------------------------------------------------


def back_to_front(solids: Sequence[Solid]) -> list[Solid]:
    """The solids in an order in which nothing is drawn over what is in front of it."""
    order = sorted(range(len(solids)), key=lambda one: (dot(solids[one].middle, NEAR), one))
    behind: dict[int, set[int]] = {one: set() for one in order}
    for place, one in enumerate(order):
        for other in order[place + 1 :]:
            nearer = _nearer(solids[one], solids[other])
            if nearer > 0:
                behind[one].add(other)
            elif nearer < 0:
                behind[other].add(one)
    drawn: list[int] = []
    while order:
        # A ring of solids that lie on each other in turn is opened at the farthest.
        free = next((one for one in order if not behind[one].intersection(order)), order[0])
        order.remove(free)
        drawn.append(free)
    return [solids[one] for one in drawn]


def _nearer(one: Solid, other: Solid) -> float:
    """Above nought where `one` is in front of `other` as seen by us, below where behind, nought where neither
    hides anything of the other.
    """
    left, top, right, bottom = (
        choose(mine, yours)
        for choose, mine, yours in zip((max, max, min, min), one.flat_box, other.flat_box, strict=True)
    )
    if left >= right or top >= bottom:
        return 0
    (least, most), (other_least, other_most) = one.box, other.box
    for axis, near in enumerate(NEAR):
        if most[axis] <= other_least[axis] + 1e-6:
            return -near
        if other_most[axis] <= least[axis] + 1e-6:
            return near
    mine, yours = (
        [
            corners
            for box, corners in solid.triangles
            if box[0] <= right and box[2] >= left and box[1] <= bottom and box[3] >= top
        ]
        for solid in (one, other)
    )
    steps = 9
    found = 0.0
    for row in range(1, steps):
        for column in range(1, steps):
            spot = (left + (right - left) * column / steps, top + (bottom - top) * row / steps)
            ours, theirs = nearness(mine, spot), nearness(yours, spot)
            if ours is not None and theirs is not None and abs(ours - theirs) > abs(found):
                found = ours - theirs
    return found


def nearness(triangles: Sequence[tuple[tuple[Flat, float], ...]], spot: Flat) -> float | None:
    """How near the surface is to us at a place on the sheet, None where there is none."""
    found = None
    for (a, a_near), (b, b_near), (c, c_near) in triangles:
        whole = (b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1])
        if abs(whole) < 1e-9:
            continue
        of_b = ((spot[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (spot[1] - a[1])) / whole
        of_c = ((b[0] - a[0]) * (spot[1] - a[1]) - (spot[0] - a[0]) * (b[1] - a[1])) / whole
        if of_b >= 0 and of_c >= 0 and of_b + of_c <= 1:
            near = a_near + of_b * (b_near - a_near) + of_c * (c_near - a_near)
            found = near if found is None else max(found, near)
    return found


# --- the text -----------------------------------------------------------------------------------


def draw_solids(
    solids: Sequence[Solid], owners: Sequence[str | None], title: str, beside: Iterable[Collection[int]] = ()
) -> str:
    """The solids as SVG, each in a group for its owner; one without an owner takes no colour. `beside` are groups of
    places whose solids are put wherever there is room beside the others.
    """
    ways = _shifted(solids, [tuple(group) for group in beside])
    solids = [solid.shifted(ways[at]) if at in ways else solid for at, solid in enumerate(solids)]
    of = {id(solid): owner for solid, owner in zip(solids, owners, strict=True)}
    axes = [[flat(point) for point in solid.axis] for solid in solids if solid.axis]
    boxes = [solid.flat_box for solid in solids] + [flat_box(line) for line in axes]
    left, top = min(box[0] for box in boxes) - 12, min(box[1] for box in boxes) - 12
    right, bottom = max(box[2] for box in boxes) + 12, max(box[3] for box in boxes) + 12
    scale = 1000 / max(right - left, (bottom - top) * 1.35)

    def path(lines: Iterable[Sequence[Flat]], *, closed: bool = False) -> str:
        said = []
        for line in lines:
            thin = _thinned(line, 0.28 / scale, closed=closed)
            spots = [((one[0] - left) * scale, (one[1] - top) * scale) for one in thin]
            said.append("M" + "L".join(f"{_say(x)} {_say(y)}" for x, y in spots) + ("Z" if closed else ""))
        return "".join(said)

    from xml.sax.saxutils import quoteattr  # late: it brings the network along

    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_say((right - left) * scale)} '
        f'{_say((bottom - top) * scale)}" fill="none" stroke="#17242e" stroke-width="2" stroke-linejoin="round" '
        'stroke-linecap="round">',
        f"  <title>{title}</title>",
        '  <!-- Every group with data-assembly="ID" stands for that assembly of build.yml.',
        '       Shapes with fill="#fff" take the colour of its state; the others are line work. -->',
    ]
    if axes:
        out.append(f'  <path stroke-width="1" stroke-dasharray="12 4 2 4" d="{path(axes)}"/>')
    last: str | None = ""
    for solid in back_to_front(solids):
        owner = of[id(solid)]
        if owner != last:
            out += ["  </g>"] if last != "" else []
            nobody = 'data-solid="" stroke-width="1"'
            out.append(f"  <g {nobody if owner is None else f'data-assembly={quoteattr(owner)}'}>")
            last = owner
        outline, shades, fine, sharp = solid.lines()
        out.append(f'    <path fill="#fff" d="{path(outline, closed=True)}"/>')
        if shades:
            out.append(f'    <path fill="#17242e" fill-opacity="0.14" d="{path(shades, closed=True)}"/>')
        if fine:
            out.append(f'    <path stroke-width="0.9" d="{path(fine)}"/>')
        if sharp:
            out.append(f'    <path d="{path(sharp)}"/>')
    return "\n".join([*out, *(["  </g>"] if last != "" else []), "</svg>", ""])


def _say(number: float) -> str:
    return f"{round(number, 1) + 0:.1f}".removesuffix(".0")


def _thinned(line: Sequence[Flat], room: float, *, closed: bool = False) -> Sequence[Flat]:
    """A line without the places that lie within `room` of it all the same (Douglas and Peucker)."""
    if closed:
        start = min(range(len(line)), key=lambda at: line[at])
        turned = [*line[start:], *line[:start]]
        far = max(range(len(turned)), key=lambda at: math.dist(turned[0], turned[at]))
        return [*_thinned(turned[: far + 1], room)[:-1], *_thinned([*turned[far:], turned[0]], room)[:-1]]
    if len(line) < 3:
        return line
    first, last = line[0], line[-1]
    length = math.dist(first, last)

    def off(spot: Flat) -> float:
        if not length:
            return math.dist(first, spot)
        across = (last[0] - first[0]) * (spot[1] - first[1]) - (last[1] - first[1]) * (spot[0] - first[0])
        return abs(across) / length

    far = max(range(1, len(line) - 1), key=lambda at: off(line[at]))
    if off(line[far]) <= room:
        return [first, last]
    return [*_thinned(line[: far + 1], room)[:-1], *_thinned(line[far:], room)]


_CELLS = 36


def _shifted(solids: Sequence[Solid], groups: Sequence[Collection[int]]) -> dict[int, Point]:
    """Ways that take groups of solids, told by their places, to room by the lower right corner of the others."""
    apart = {at for group in groups for at in group}
    others = [solid for at, solid in enumerate(solids) if at not in apart]
    if not groups or not others:
        return {at: Point(0, 0, 0).plus(RIGHT, 1.1 * number) for number, group in enumerate(groups) for at in group}
    boxes = [box for solid in others for box, _ in solid.triangles]
    boxes += [flat_box([flat(point) for point in solid.axis]) for solid in others if solid.axis]
    left, top, right, bottom = flat_box([spot for box in boxes for spot in _corners(box)])
    cell = (right - left) / _CELLS
    taken: set[tuple[int, int]] = set()

    def cells(box: Box, margin: float) -> Iterator[tuple[int, int]]:
        first, last = int((box[0] - left - margin) // cell), int((box[2] - left + margin) // cell)
        for column in range(first, last + 1):
            for row in range(int((box[1] - top - margin) // cell), int((box[3] - top + margin) // cell) + 1):
                yield column, row

    for box in boxes:
        taken.update(cells(box, cell * 0.4))
    wide, tall = _CELLS, math.ceil((bottom - top) / cell)
    corners = [(column, row) for column in range(wide + 1) for row in range(tall // 3, tall * 4)]
    corners.sort(key=lambda at: (max(0, at[1] - tall) * 9 + (wide - at[0]) + abs(tall - at[1]) * 0.9, at))
    ways: dict[int, Point] = {}
    for group in groups:
        box = flat_box([spot for at in group for spot in _corners(solids[at].flat_box)])
        for column, row in corners:
            # The box stands with its lower right corner in this cell.
            way = (left + column * cell - box[2], top + row * cell - box[3])
            there = (box[0] + way[0], box[1] + way[1], box[2] + way[0], box[3] + way[1])
            if there[0] >= left and not taken.intersection(cells(there, 0)):
                taken.update(cells(there, cell * 0.2))
                on_sheet = Point(0, 0, 0).plus(RIGHT, way[0] / SCALE).plus(UP, -way[1] / SCALE)
                ways.update(dict.fromkeys(group, on_sheet))
                break
    return ways


def _corners(box: Box) -> tuple[Flat, Flat]:
    return (box[0], box[1]), (box[2], box[3])
