"""The drawing of the aircraft: each assembly a shape, coloured by its state, each shape a link.

A builder brings any SVG in which a shape or group with `data-assembly="ID"` stands for that
assembly (docs/format.md). It comes from outside, so it is taken apart by an allow-list of
elements and attributes and put together again: nothing that runs, loads or refers elsewhere is
left. Colours are CSS custom properties with a fallback, so one drawing is right in every theme
and needs no style sheet; `raster` uses take a palette of plain colours instead.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from xml.parsers import expat

from journal.base.model import Assembly, State
from journal.base.problems import Problem, did_you_mean, finding
from journal.base.words import _

SVG = "http://www.w3.org/2000/svg"
ASSEMBLY = "data-assembly"
SOLID = "data-solid"
"""Marks what is no assembly and yet hides what is behind it."""

# Bounds on what a builder may bring: a page carries the drawing, and serialising is recursive.
MOST_BYTES = 400_000
MOST_ELEMENTS = 6_000
DEEPEST = 60

_SHAPES = frozenset({"path", "rect", "circle", "ellipse", "line", "polyline", "polygon"})
_KEPT = _SHAPES | {"svg", "g", "defs", "clipPath", "text", "tspan"}
_RUNS = frozenset({"script", "foreignObject", "iframe", "object", "embed", "handler", "listener"})
_PAINT = frozenset(
    {"fill", "fill-opacity", "fill-rule", "stroke", "stroke-width", "stroke-dasharray", "stroke-linecap"}
    | {"stroke-linejoin", "stroke-miterlimit", "stroke-opacity", "opacity", "clip-path", "clip-rule"}
    | {"display", "visibility", "font-size", "font-weight", "text-anchor"}
)
_GEOMETRY = frozenset(
    {"id", "d", "x", "y", "x1", "y1", "x2", "y2", "cx", "cy", "r", "rx", "ry", "width", "height", "points"}
    | {"transform", "viewBox", "clipPathUnits", "pathLength"}
)
_HERE = re.compile(r"url\(\s*['\"]?#([^'\")\s]+)['\"]?\s*\)")
_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnAssembly:
    """An assembly as the drawing shows it; `href` may be empty where the shape is no link."""

    id: str
    title: str
    state: State
    href: str

    @property
    def name(self) -> str:
        """What a screen reader says, and the hint under a pointer: `Left wing: under way`."""
        return _("{title}: {state}", title=self.title, state=_(self.state.value))


@dataclass(frozen=True, slots=True, kw_only=True)
class Palette:
    """The colours of a drawing, each any SVG paint. `hatch` are the stripes over `under_way`."""

    ink: str = "var(--ink, #17242e)"
    paper: str = "var(--paper, #fbf9f4)"
    done: str = "var(--done, #0f766e)"
    under_way: str = "var(--under-way, #f0b232)"
    hatch: str = "var(--hatch, #7d5208)"
    on_done: str = "var(--on-done, #d5f0ec)"
    picked: str = "var(--picked, #b93a0b)"


ON_THE_PAGE = Palette()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Parsed:
    """A drawing read: its tree, its view box, where each assembly is first named, and what was refused.

    `root` is None where the text cannot be used, and `trouble` then says why.
    """

    root: ET.Element | None = None
    box: tuple[float, float, float, float] = (0, 0, 0, 0)
    named: Mapping[str, tuple[int, int]] = field(default_factory=dict)
    unsafe: tuple[tuple[str, tuple[int, int]], ...] = ()
    trouble: str = ""
    where: tuple[int, int] | None = None


def check_drawing(svg: str, assemblies: Mapping[str, Assembly], file: str) -> tuple[Problem, ...]:
    """What is wrong with a drawing, as findings: it never stops a build.

    `drawing-unreadable`: not usable as a drawing, and the site goes without one.
    `drawing-unsafe`: holds something that runs or loads from elsewhere, which is left out.
    `drawing-unknown`: names an assembly that build.yml does not have.
    `drawing-lacks`: an assembly of build.yml that counts has no shape.
    """
    parsed = _parse(svg)
    if parsed.root is None:
        said = f"the drawing cannot be used: {parsed.trouble}"
        hint = "save it as plain SVG; the site is built without a drawing until then"
        return (finding(file, parsed.where, "drawing-unreadable", said, hint),)
    found = []
    for what, where in parsed.unsafe:
        hint = "save it as plain SVG, without scripts and without anything from elsewhere"
        found.append(finding(file, where, "drawing-unsafe", f"the drawing holds {what}, which is left out", hint))
    for name in [name for name in parsed.named if name not in assemblies]:
        said = f'the drawing names the assembly "{name}", which build.yml does not have'
        found.append(finding(file, parsed.named[name], "drawing-unknown", said, did_you_mean(name, assemblies)))
    for name in [one.id for one in assemblies.values() if one.counts and one.id not in parsed.named]:
        said = f'the drawing has no shape for the assembly "{name}"'
        hint = f'give the shape that stands for it {ASSEMBLY}="{name}"'
        found.append(finding(file, None, "drawing-lacks", said, hint))
    return tuple(found)


def render_drawing(
    svg: str,
    drawn: Sequence[DrawnAssembly],
    *,
    picked: str | Collection[str] | None,
    uid: str,
    palette: Palette = ON_THE_PAGE,
    label: str = "",
) -> str:
    """The drawing as inline `<svg>`: shapes in their state's colours, links with names.

    `picked` is the ID of the assembly to bring out, or several. `uid` keeps the IDs inside apart
    from those of another drawing on the same page. Empty where the drawing cannot be used.
    """
    parsed = _parse(svg)
    if parsed.root is None:
        return ""
    box, own = parsed.box, _paint_of(parsed.root)
    by_id = {assembly.id: assembly for assembly in drawn}
    chosen = frozenset([picked] if isinstance(picked, str) else picked or ())
    pencil = _Pencil(drawn=by_id, picked=chosen, uid=uid, palette=palette, line=box[2] / 500)
    root = ET.Element(
        "svg",
        {
            "xmlns": SVG,
            "class": "drawing",
            "viewBox": " ".join(_say(number) for number in box),
            "width": _say(box[2]),
            "height": _say(box[3]),
            "role": "list",
            "aria-label": label or _("The aircraft, assembly by assembly"),
            "stroke-linejoin": "round",
            "stroke-linecap": "round",
            "stroke-width": _say(pencil.line),
            **{key: value for key, value in own.items() if key.startswith("stroke-")},
        },
    )
    root.append(_hatch(uid, palette, size=box[2] / 80))
    for child in parsed.root:
        pencil.copy(child, root, {**_INITIAL, **own}, None)
    return ET.tostring(root, encoding="unicode", short_empty_elements=True)


def _hatch(uid: str, palette: Palette, size: float) -> ET.Element:
    """Amber with diagonal stripes, as a pattern of its own for each drawing on a page."""
    defs, side = ET.Element("defs"), _say(size)
    shape = {"id": f"{uid}-hatch", "width": side, "height": side}
    turned = {"patternUnits": "userSpaceOnUse", "patternTransform": "rotate(45)"}
    pattern = ET.SubElement(defs, "pattern", shape | turned)
    ET.SubElement(pattern, "rect", {"width": side, "height": side, "fill": palette.under_way})
    stripe = {"d": f"M0 0V{side}", "stroke": palette.hatch, "stroke-width": _say(size * 0.34)}
    ET.SubElement(pattern, "path", stripe)
    return defs


# --- taking the builder's SVG apart -----------------------------------------------------------


class _RefusedError(Exception):
    """Raised inside the parser's call-backs to stop it; never leaves this module."""


@lru_cache(maxsize=8)
def _parse(svg: str) -> _Parsed:
    """The same drawing stands on every page: it is read once, and nobody changes what is returned."""
    if len(svg.encode("utf-8", "surrogatepass")) > MOST_BYTES:
        return _Parsed(trouble=f"it is larger than {MOST_BYTES // 1000} KB")
    reader = _Reader()
    try:
        reader.read(svg)
    except _RefusedError as refusal:
        return _Parsed(trouble=str(refusal), where=reader.here())
    except expat.ExpatError as trouble:
        return _Parsed(
            trouble=f"it is not well-formed XML ({expat.ErrorString(trouble.code)})",
            where=(trouble.lineno, trouble.offset + 1),
        )
    root = reader.root
    if root is None or root.tag != f"{{{SVG}}}svg":
        return _Parsed(trouble="its outermost element is not an SVG drawing", where=(1, 1))
    box = _view_box(root)
    if box is None:
        return _Parsed(trouble="it says neither viewBox nor width and height", where=(1, 1))
    return _Parsed(root=root, box=box, named=reader.named, unsafe=tuple(reader.unsafe))


class _Reader:
    """One pass of the XML parser: no DTD, no entities, bounded depth and size, places kept."""

    def __init__(self) -> None:
        self._tree = ET.TreeBuilder()
        self._parser = expat.ParserCreate(namespace_separator="}")
        self._parser.buffer_text = True
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end
        self._parser.CharacterDataHandler = self._tree.data
        self._parser.StartDoctypeDeclHandler = self._doctype
        self._depth = self._elements = 0
        self._inside: str | None = None
        self._inside_depth = 0
        self.root: ET.Element | None = None
        self.named: dict[str, tuple[int, int]] = {}
        self.unsafe: list[tuple[str, tuple[int, int]]] = []

    def read(self, svg: str) -> None:
        self._parser.Parse(svg, True)
        self.root = self._tree.close()

    def here(self) -> tuple[int, int]:
        return self._parser.CurrentLineNumber, self._parser.CurrentColumnNumber + 1

    def _doctype(self, *_: object) -> None:
        raise _RefusedError("it has a DOCTYPE, which may declare entities")

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        self._depth += 1
        self._elements += 1
        if self._depth > DEEPEST:
            raise _RefusedError(f"its groups are nested more than {DEEPEST} deep")
        if self._elements > MOST_ELEMENTS:
            raise _RefusedError(f"it has more than {MOST_ELEMENTS:,} elements")
        self._note_unsafe(name, attributes)
        if self._inside is None and self._depth > 1 and (assembly := attributes.get(ASSEMBLY)) is not None:
            self._inside, self._inside_depth = assembly, self._depth
            self.named.setdefault(assembly, self.here())
        self._tree.start(_braced(name), {_braced(key): value for key, value in attributes.items()})

    def _end(self, name: str) -> None:
        if self._inside is not None and self._depth == self._inside_depth:
            self._inside = None
        self._depth -= 1
        self._tree.end(_braced(name))

    def _note_unsafe(self, name: str, attributes: Mapping[str, str]) -> None:
        tag = name.rpartition("}")[2]
        if tag in _RUNS:
            self.unsafe.append((f"a <{tag}>", self.here()))
        for key, value in attributes.items():
            local = key.rpartition("}")[2]
            if local.lower().startswith("on"):
                self.unsafe.append((f'the script attribute "{local}"', self.here()))
            elif local == "href" and not value.strip().startswith("#"):
                self.unsafe.append(("a link or picture from elsewhere", self.here()))
            elif "url(" in _HERE.sub("", value):
                self.unsafe.append(("a reference to another file", self.here()))


def _braced(name: str) -> str:
    return "{" + name if "}" in name else name


def _view_box(root: ET.Element) -> tuple[float, float, float, float] | None:
    numbers = [float(text) for text in _NUMBER.findall(root.get("viewBox", ""))]
    if len(numbers) == 4 and numbers[2] > 0 and numbers[3] > 0:
        return numbers[0], numbers[1], numbers[2], numbers[3]
    sizes = [re.fullmatch(rf"({_NUMBER.pattern})(?:px)?", root.get(key, "")) for key in ("width", "height")]
    width, height = (float(size[1]) if size else 0.0 for size in sizes)
    return (0.0, 0.0, width, height) if width > 0 and height > 0 else None


def _say(number: float) -> str:
    """A number as short as it can be said: `12`, `12.5`."""
    return f"{number:.2f}".rstrip("0").rstrip(".")


# --- putting it together again ----------------------------------------------------------------

_INITIAL: Mapping[str, str] = {"fill": "black", "stroke": "none", "fill-opacity": "1"}


def _paint_of(element: ET.Element) -> dict[str, str]:
    """The paint an element sets itself: attributes, over them what its `style` says."""
    said = {key: value for key, value in element.attrib.items() if key in _PAINT}
    for declaration in element.get("style", "").split(";"):
        key, colon, value = declaration.partition(":")
        if colon and key.strip() in _PAINT:
            said[key.strip()] = value.replace("!important", "").strip()
    return {key: value for key, value in said.items() if "url(" not in _HERE.sub("", value)}


def _local(element: ET.Element) -> str:
    """The SVG name of an element, or nothing for one of another vocabulary."""
    tag = element.tag
    return tag.removeprefix(f"{{{SVG}}}") if tag.startswith(f"{{{SVG}}}") else ""


def _shapes(element: ET.Element, paint: Mapping[str, str]) -> Iterator[tuple[ET.Element, Mapping[str, str]]]:
    """Every shape under (and with) `element`, each with the paint that reaches it."""
    paint = {**paint, **_paint_of(element)}
    if _local(element) in _SHAPES:
        yield element, paint
    for child in element:
        yield from _shapes(child, paint)


def _is_face(paint: Mapping[str, str]) -> bool:
    """Whether a shape is a surface that takes the state's colour: filled, and not as a mere shade."""
    return paint["fill"] not in ("none", "transparent") and _figure(paint["fill-opacity"], 1) >= 0.5


def _figure(text: str, otherwise: float) -> float:
    try:
        return float(text)
    except ValueError:
        return otherwise


@dataclass(slots=True, kw_only=True)
class _Pencil:
    """Copies the allowed parts of a drawing, giving assemblies their state and their link. `line` is the width of
    an outline, `told` the assemblies that have their name already.
    """

    drawn: Mapping[str, DrawnAssembly]
    picked: frozenset[str]
    uid: str
    palette: Palette
    line: float
    told: set[str] = field(default_factory=set)

    def copy(
        self,
        source: ET.Element,
        parent: ET.Element,
        paint: Mapping[str, str],
        state: State | None,
        within: str | None = None,
        every_shape: bool = False,
    ) -> None:
        """Copy `source` under `parent`; `within` is the assembly it stands in, if any."""
        tag = _local(source)
        if tag == "a":
            tag = "g"
        if tag not in _KEPT:
            return
        named = source.get(ASSEMBLY)
        if within is None and named is not None and tag != "svg":
            state, parent = self._open(source, parent, paint, named)
            every_shape = not any(_is_face(reached) for _, reached in _shapes(source, paint))
            within = named
        own = _paint_of(source)
        paint = {**paint, **own}
        if source.get(SOLID) is not None:
            paint[SOLID] = "yes"
        attributes = self._attributes(source, own)
        if tag in _SHAPES:
            attributes |= self._ink(paint, within, state, every_shape)
        elif tag in ("text", "tspan"):
            attributes["fill"] = self.palette.ink
        copy = ET.SubElement(parent, tag, attributes)
        if tag in ("text", "tspan"):
            copy.text = source.text
            copy.tail = source.tail
        for child in source:
            self.copy(child, copy, paint, state, within, every_shape)

    def _open(
        self, source: ET.Element, parent: ET.Element, paint: Mapping[str, str], named: str
    ) -> tuple[State | None, ET.Element]:
        """The list item and link that stand round an assembly's shapes, with the halo if picked."""
        assembly = self.drawn.get(named)
        if assembly is None:
            return None, parent
        classes = f"state-{assembly.state.value.replace(' ', '-')}" + (" picked" if named in self.picked else "")
        again = named in self.told
        self.told.add(named)
        item = ET.SubElement(parent, "g", {"class": classes, "role": "none" if again else "listitem"})
        inner = item
        if assembly.href:
            link = {"href": assembly.href}
            if again:
                # A second shape of the same assembly is there for the pointer only.
                link |= {"tabindex": "-1", "aria-hidden": "true"}
            else:
                link["aria-label"] = assembly.name
                if named in self.picked:
                    link["aria-current"] = "true"
            inner = ET.SubElement(item, "a", link)
        elif not again:
            item.set("aria-label", assembly.name)
        ET.SubElement(inner, "title").text = assembly.name
        if named in self.picked:
            stroke = {"stroke": self.palette.picked, "stroke-width": _say(self.line * 5)}
            halo = ET.SubElement(inner, "g", {"class": "halo", "fill": "none", **stroke})
            self._outline(source, halo, paint)
        return assembly.state, inner

    def _outline(self, source: ET.Element, parent: ET.Element, paint: Mapping[str, str]) -> None:
        """The surfaces under `source` once more as bare outlines."""
        faces = {id(shape) for shape, reached in _shapes(source, paint) if _is_face(reached)}
        every = not faces

        def copy(element: ET.Element, into: ET.Element) -> None:
            tag = _local(element)
            shape = tag in _SHAPES and (every or id(element) in faces)
            if not shape and tag not in ("g", "a", "svg"):
                return
            kept = {key: value for key, value in element.attrib.items() if key in _GEOMETRY and key not in ("id",)}
            made = ET.SubElement(into, tag if shape else "g", kept)
            for child in element:
                copy(child, made)

        copy(source, parent)

    def _attributes(self, source: ET.Element, own: Mapping[str, str]) -> dict[str, str]:
        kept = {
            key: value
            for key, value in source.attrib.items()
            if key in _GEOMETRY and "url(" not in _HERE.sub("", value)
        }
        # Fill and stroke are said on each shape, where the state is known.
        kept |= {key: value for key, value in own.items() if key not in ("fill", "fill-opacity", "stroke")}
        if "id" in kept:
            kept["id"] = f"{self.uid}-{kept['id']}"
        return {key: _HERE.sub(rf"url(#{self.uid}-\1)", value) for key, value in kept.items()}

    def _ink(
        self, paint: Mapping[str, str], within: str | None, state: State | None, every_shape: bool
    ) -> dict[str, str]:
        """Fill and stroke of one shape: by state on an assembly, ink and paper elsewhere."""
        palette = self.palette
        stroked = paint["stroke"] not in ("none", "transparent")
        if within is not None and (every_shape or _is_face(paint)):
            fills: dict[State | None, str] = {State.DONE: palette.done, State.UNDER_WAY: f"url(#{self.uid}-hatch)"}
            return {"class": "face", "fill": fills.get(state, palette.paper), "stroke": palette.ink}
        if _is_face(paint):
            return {
                "class": "ground",
                "fill": palette.paper if SOLID in paint else "none",
                "stroke": palette.ink if stroked else "none",
            }
        # Fine lines would drown in the solid colour; the outlines keep their ink.
        pale = state is State.DONE and _figure(paint.get("stroke-width", "1"), 0) < self.line * 2 / 3
        line = {"stroke": (palette.on_done if pale else palette.ink) if stroked else "none"}
        if paint["fill"] in ("none", "transparent"):
            return {"class": "line", "fill": "none", **line}
        return {"class": "shade", "fill": palette.ink, **line, "fill-opacity": paint["fill-opacity"]}
