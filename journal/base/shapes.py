"""Which part of a drawn aircraft an assembly or a step means, by the words of its title; the drawings made of it."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from journal.base.addresses import fold_name
from journal.base.airframe import stand_beside, take_apart
from journal.base.model import Airframe, Assembly
from journal.base.problems import did_you_mean
from journal.base.solids import Solid, draw_solids

Words = frozenset[str]
"""What a part answers to: `left`, `wing`, `spar`."""

_SAID: tuple[tuple[str, str], ...] = (
    (r"tail ?wheels?", "tailwheel"),
    (r"tail ?(?:cone|boom)s?|(?:rear|aft|back) (?:fuselage|body)", "cone"),
    (r"horizontal|tail ?planes?", "horizontal"),
    (r"fire ?wall forward", "engine"),
    (r"nose ?(?:wheel|gear|leg)s?", "nose"),
    (r"control surfaces?", "flap aileron elevator rudder"),
    (
        r"(?:instrument )?panels?|instruments?|avionics?|electric\w*|electronics?|wiring|battery|radios?|lights?",
        "panel",
    ),
    (r"cabin (?:top|roof)|canop(?:y|ies)|bubbles?", "canopy"),
    (r"wind(?:screens?|shields?)|windows?|glazing", "windscreen"),
    (r"doors?|hatch(?:es)?", "door"),
    (r"(?:under ?carriage|(?:landing )?gears?|chassis)", "gear"),
    (r"main (?:gears?|wheels?|legs?)", "main"),
    (r"wheels?|tyres?|tires?|brakes?", "wheel"),
    (r"legs?", "leg"),
    (r"float(?:s|plane)?|pontoons?|skis?|hulls?", "floats"),
    (r"port|left(?: hand)?|lh", "left"),
    (r"starboard|right(?: hand)?|rh", "right"),
    (r"upper|top", "upper"),
    (r"lower|bottom", "lower"),
    (r"fore?ward|front|cockpit", "forward"),
    (r"centre|center|centre section|cabin|mid", "centre"),
    (r"fuselage|body|hull", "fuselage"),
    (r"fire ?walls?", "firewall"),
    (r"seats?|interior|upholstery|harness(?:es)?|belts?", "seat"),
    (r"controls?|sticks?|pedals?|yokes?|push ?rods?|linkages?", "controls"),
    (r"main ?planes?|wings?", "wing"),
    (r"spars?", "spar"),
    (r"ribs?", "ribs"),
    (r"skins?|covering", "skins"),
    (r"(?:wing ?)?tips?", "tip"),
    (r"flaps?", "flap"),
    (r"ailerons?", "aileron"),
    (r"tanks?|fuel\w*", "tank"),
    (r"struts?", "strut"),
    (r"empennage|tails?", "tail"),
    (r"vertical", "vertical"),
    (r"stabili[sz]ers?|stabilators?", "stabiliser"),
    (r"elevators?", "elevator"),
    (r"ruddervators?", "elevator rudder"),
    (r"fins?", "fin"),
    (r"rudders?", "rudder"),
    (r"engines?|motors?|power ?plants?|nacelles?", "engine"),
    (r"cowl(?:ing)?s?", "cowling"),
    (r"exhausts?|cooling|carburett?ors?|ignition|oil", "block"),
    (r"prop(?:eller)?s?", "propeller"),
    (r"spinners?", "spinner"),
    (r"work ?shops?|bench(?:es)?|tools?|jigs?|practice", "bench"),
    (r"inventory|unpacking|crates?|kits?|deliver(?:y|ies)", "crate"),
    (r"paint(?:ing)?|finish(?:ing)?|primer|priming", "tin"),
    (r"(?:whole )?(?:aircraft|air ?frame|aero ?plane|air ?plane|plane)|everything", "everything"),
)
"""What people write, as a pattern of whole words, and the words that parts answer to (common practice, no source)."""

SHAPES = (
    *("left wing", "right wing", "left wing spar", "left wing ribs", "left wing skins", "left wing tip", "left flap"),
    *("left aileron", "left tank", "left strut", "upper wing", "lower wing", "fuselage", "forward fuselage"),
    *(
        "centre fuselage",
        "tail cone",
        "firewall",
        "canopy",
        "door",
        "windscreen",
        "instrument panel",
        "seats",
        "controls",
    ),
    *("tail", "horizontal tail", "stabiliser", "elevator", "vertical tail", "fin", "rudder", "engine", "cowling"),
    *("propeller", "spinner", "landing gear", "main gear", "nose wheel", "tail wheel", "wheels", "floats", "workshop"),
    *("crate", "paint", "aircraft"),
)
"""Examples of what may be written for a shape; `right` goes wherever `left` does."""

_PLACED = frozenset(
    {"left", "right", "upper", "lower", "forward", "centre", "cone", "main", "horizontal", "vertical", "wheel"}
)
"""Words that may stand beside others; of several different parts each is meant."""
INSIDE = frozenset(
    {
        "spar",
        "ribs",
        "skins",
        "tip",
        "tank",
        "seat",
        "controls",
        "firewall",
        "windscreen",
        "panel",
        "forward",
        "centre",
        "cone",
    }
)
"""Words of parts that show only where they are meant."""
BESIDE = ("bench", "crate", "tin")
_PATTERN = re.compile("|".join(f"(?P<w{number}>{said})" for number, (said, _) in enumerate(_SAID)))
_CALLED = re.compile(r"\b(?:" + _PATTERN.pattern + r")\b")
_AND = re.compile(r"\band\b|\bor\b|[&+/,;]")
_FILLING = frozenset({"of", "the", "a", "for", "with", "in", "on", "side"})


def meant_parts(text: str) -> tuple[Words, ...]:
    """The parts that a title means, each as the words that it answers to: `Left flap and aileron` are two. Nothing
    where no word of it is known.
    """
    text = re.sub(r"[-_]+", " ", fold_name(text))
    found: list[set[str]] = []
    for piece in _AND.split(text):
        words = {
            word for match in _CALLED.finditer(piece) for word in _SAID[int((match.lastgroup or "w0")[1:])][1].split()
        }
        if words and (not found or (words - _PLACED and found[-1] - _PLACED)):
            found.append(words)
        elif words:
            found[-1] |= words
    sides = set().union(*found) & {"left", "right"}
    one_side = sides if len(sides) == 1 else set()
    return tuple(frozenset(words - {"left", "right"} | one_side) for words in found)


def means(text: str, words: Words) -> bool:
    """Whether what is written for a shape means a part that answers to `words`."""
    return any(part <= words for part in meant_parts(text))


def shape_trouble(text: str) -> str:
    """What is to be written in place of a text that names no shape; empty where it names one."""
    folded = re.sub(r"[-_]+", " ", fold_name(text))
    left = [word for word in re.findall(r"[^\W\d_]+", _AND.sub(" ", _CALLED.sub(" ", folded))) if word not in _FILLING]
    return (
        ""
        if meant_parts(text) and not left
        else did_you_mean(text, SHAPES, f"write words like {', '.join(SHAPES[:9])}")
    )


def _claims(assemblies: Iterable[Assembly], solids: Sequence[Solid]) -> list[tuple[str, Words]]:
    """(assembly, words of parts that it takes): as build.yml says, else as its title or ID means on this aircraft."""
    made = []
    for one in assemblies:
        texts = one.shapes or (one.title, one.id)
        for text in texts:
            words = [fitting for part in meant_parts(text) for fitting in _fitting(part, solids)]
            made += [(one.id, part) for part in dict.fromkeys(words)]
            if words and not one.shapes:
                break
    return made


def _fitting(words: Words, solids: Sequence[Solid]) -> list[Words]:
    """Words of a title as parts of this aircraft answer to them: all together, else each part named by itself."""
    if "tin" in words or words <= {*BESIDE}:
        return [words & {*BESIDE}]
    words -= {*BESIDE}
    if words <= {"everything"}:
        return [frozenset()]
    words -= {"everything"}
    if any(words <= solid.words for solid in solids):
        return [words]
    placed = words & {"left", "right", "upper", "lower"}
    for kept in (placed, frozenset[str]()):
        alone = [frozenset({word}) | kept for word in sorted(words - placed)]
        if found := [one for one in alone if any(one <= solid.words for solid in solids)]:
            return found
    return []


@dataclass(frozen=True, slots=True, kw_only=True)
class _Laid:
    """An aircraft taken apart, each solid with the assembly it belongs to; `beside` are places of things beside it."""

    solids: tuple[Solid, ...]
    owners: tuple[str | None, ...]
    beside: tuple[tuple[int, ...], ...] = ()


@lru_cache(maxsize=8)
def _lay_out(airframe: Airframe, assemblies: tuple[Assembly, ...], everything: bool) -> _Laid:
    """The aircraft with every assembly somewhere: a solid goes to whoever names it most closely; where several name it
    alike it is cut. Who names nothing known gets something beside the aircraft.
    """
    claims = _claims(assemblies, take_apart(airframe, INSIDE))
    wanted = INSIDE if everything else frozenset[str](word for _, words in claims for word in words) & INSIDE
    solids: list[Solid] = []
    owners: list[str | None] = []
    apart = take_apart(airframe, wanted)
    # The fewer parts somebody names, the more closely each is named.
    wide = {words: len({one.part for one in apart if words <= one.words}) for _, words in claims}
    size = {solid: math.dist(*solid.box) for solid in apart}
    shared: dict[Solid, tuple[str, ...]] = {}
    for solid in apart:
        fitting = [(wide[words], assembly) for assembly, words in claims if words <= solid.words]
        least = min(fitting, default=(0, ""))[0]
        shared[solid] = tuple(dict.fromkeys(assembly for count, assembly in fitting if count == least))
    for solid, takers in shared.items():
        # The largest is cut; what hangs on it goes to the first.
        largest = max(size[other] for other, same in shared.items() if same == takers)
        pieces = solid.cut(len(takers)) if len(takers) > 1 and size[solid] > 0.9 * largest else (solid,)
        solids += pieces
        owners += takers[: len(pieces)] or (None,)
    said = {assembly: words for assembly, words in claims if words & {*BESIDE}}
    lost = [one for one in assemblies if one.id not in owners]
    beside = []
    for number, one in enumerate(lost):
        kind = next(iter(sorted(said.get(one.id, ()))), "chest" if number % 2 else "crate")
        made = stand_beside(kind, one.title, 1 if len(lost) < 7 else 0.62)
        beside.append(tuple(range(len(solids), len(solids) + len(made))))
        solids += made
        owners += [one.id] * len(made)
    return _Laid(solids=tuple(solids), owners=tuple(owners), beside=tuple(beside))


@lru_cache(maxsize=8)
def draw_aircraft(airframe: Airframe, assemblies: tuple[Assembly, ...]) -> str:
    """The aircraft as an exploded view, SVG text in which every assembly has a shape."""
    laid = _lay_out(airframe, assemblies, False)
    return draw_solids(laid.solids, laid.owners, "Exploded view of the aircraft", laid.beside)


def drawn_parts(airframe: Airframe, assemblies: tuple[Assembly, ...], assembly: str) -> Mapping[str, Words]:
    """The parts of an assembly by name, each with the words it answers to."""
    laid = _lay_out(airframe, assemblies, True)
    parts: dict[str, Words] = {}
    for solid, owner in zip(laid.solids, laid.owners, strict=True):
        if owner == assembly:
            parts[solid.part] = parts.get(solid.part, frozenset()) | solid.words
    return parts


@lru_cache(maxsize=64)
def draw_parts(airframe: Airframe, assemblies: tuple[Assembly, ...], assembly: str) -> str:
    """An assembly alone, taken further apart: SVG text with a shape for each of `drawn_parts`."""
    laid = _lay_out(airframe, assemblies, True)
    own = [replace(solid, axis=()) for solid, owner in zip(laid.solids, laid.owners, strict=True) if owner == assembly]
    return draw_solids(own, [solid.part for solid in own], "The parts of an assembly") if own else ""
