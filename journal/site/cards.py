"""Picture cards in our own look: the title block and the drawing on one picture, as raster.

`render_link_card` makes the card that stands for an entry where its address is shared. The
pieces serve at any size: `draw_title_block` rules a title block onto an image, `paste_drawing` puts
the aircraft with its states on it.

Lettering is fitted: it shrinks, then takes a shorter form, then is cut; it never runs over.
"""

from __future__ import annotations

import hashlib
import io
import itertools
import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, fields, replace
from datetime import date
from enum import Enum
from functools import lru_cache
from importlib.resources import files
from pathlib import Path

import typst
from PIL import Image, ImageDraw, ImageFont, ImageOps

from journal.base.drawing import DrawnAssembly, Palette, render_drawing
from journal.base.formatting import say_count, say_date, say_minutes, say_steps

CARD_SIZE = (1200, 630)
CARD_SUFFIX = ".jpg"
MOST_CARD_BYTES = 150_000

SOFT = "#aebfce"
"""Labels, quieter than the figures."""

Box = tuple[int, int, int, int]
"""Left, top, right, bottom in pixels."""

CODE_VERSION = 3
"""Part of a card's key: raise it when a change here changes what a card looks like."""

BLUEPRINT = Palette(
    ink="#e6eef5",
    paper="#0d2137",
    done="#1f9d8f",
    under_way="#f2b544",
    hatch="#6b4400",
    on_done="#e2fbf7",
    picked="#ff9a62",
)


class Face(Enum):
    """The type we ship for pictures (data/fonts)."""

    LABEL = "barlow-condensed-600.ttf"
    FIGURE = "barlow-condensed-500.ttf"
    TEXT = "literata-400.ttf"


@dataclass(frozen=True, slots=True, kw_only=True)
class CardCell:
    """One field of a title block; `values` are ways to say the same, the fullest first."""

    label: str
    values: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkCard:
    """Everything that shapes the card of an entry, or, where `told` is given, of a page about all of them, whose title
    block it is. Minutes are person-minutes.

    `day` 0 stands for a draft. `steps` and `step_order` are IDs. `picture` is a rendition on
    disk, known by its content through its name, or None. `drawing` may be empty.
    """

    title: str
    day: int
    date: date
    assembly: str
    steps: tuple[str, ...]
    step_order: tuple[str, ...]
    minutes: int
    minutes_to_date: int
    aircraft: str
    picture: Path | None
    drawing: str
    drawn: tuple[DrawnAssembly, ...]
    picked: str | None
    told: tuple[CardCell, ...] = ()

    @property
    def key(self) -> str:
        """Changes whenever the picture would: a card made once is good until then."""
        said = {one.name: getattr(self, one.name) for one in fields(self)} | {
            "told": [asdict(cell) for cell in self.told],
            "picture": self.picture.name if self.picture else None,
            "step_order": condense_steps(self.steps, self.step_order),
            "drawn": [(assembly.id, assembly.state.value) for assembly in self.drawn],
            "code": CODE_VERSION,
        }
        return hashlib.sha256(json.dumps(said, sort_keys=True, default=str).encode()).hexdigest()[:24]

    @property
    def cells(self) -> tuple[CardCell, ...]:
        """The fields of the title block in their order, as on the entry's page."""
        if self.told:
            return self.told
        said = say_date(self.date)
        short = re.sub(r" (\w{3})\w+ ", r" \1 ", said)
        return (
            CardCell(label="Day", values=(f"{self.day:,}" if self.day else "draft",)),
            CardCell(label="Date", values=tuple(dict.fromkeys((said, short)))),
            CardCell(label="Assembly", values=(self.assembly,)),
            CardCell(label="Steps", values=condense_steps(self.steps, self.step_order)),
            CardCell(label="Hours", values=(say_minutes(self.minutes) if self.minutes else "not told",)),
            CardCell(label="Hours to date", values=(say_minutes(self.minutes_to_date),)),
        )


def condense_steps(steps: Sequence[str], order: Sequence[str]) -> tuple[str, ...]:
    """Ways to say a list of steps, the fullest first: every run, then how many between which."""
    if not steps:
        return ("none",)
    rank = {step: number for number, step in enumerate(order)}
    known = sorted(dict.fromkeys(steps), key=lambda step: rank.get(step, len(rank)))
    ways = [say_steps(known, order)]
    if len(known) > 2:
        count = say_count(len(known), "step")
        ways += [f"{count}, {known[0]} … {known[-1]}", count]
    return tuple(dict.fromkeys(ways))


def render_link_card(card: LinkCard) -> bytes:
    """The card of an entry: a JPEG of 1200 x 630 pixels, at most 150 KB; same input, same bytes."""
    palette = BLUEPRINT
    width, height = CARD_SIZE
    entry = Image.new("RGB", CARD_SIZE, palette.paper)
    draw = ImageDraw.Draw(entry)
    inset, foot = 22, 382
    picture = _open_picture(card.picture, (690 - inset, foot - inset))
    if picture is not None:
        entry.paste(picture, (inset, inset))
        draw.line([(690, inset), (690, foot)], fill=palette.ink, width=2)
        place = (708, inset + 12, width - inset - 16, foot - 12)
    else:
        place = (inset + 40, inset + 12, width - inset - 40, foot - 12)
    paste_drawing(entry, place, card, palette)
    draw.line([(inset, foot), (width - inset, foot)], fill=palette.ink, width=2)
    draw.rectangle((inset, inset, width - inset - 1, height - inset - 1), outline=palette.ink, width=3)
    left, right = inset + 24, width - inset - 24
    draw_line(entry, (left, foot + 10, right, foot + 38), card.aircraft.upper(), Face.LABEL, SOFT)
    draw_line(entry, (left, foot + 36, right, foot + 104), card.title or card.assembly, Face.LABEL, palette.ink)
    draw_title_block(entry, (inset, foot + 118, width - inset - 1, height - inset - 1), card.cells)
    return _as_jpeg(entry)


def draw_title_block(image: Image.Image, box: Box, cells: Sequence[CardCell]) -> None:
    """Rule a title block of `cells` into `box` (left, top, right, bottom) of `image`.

    The cells flow into as many rows as let the figures be largest. A cell whose value is too long
    takes its shorter forms before the figures become small.
    """
    left, top, right, bottom = box
    ink = BLUEPRINT.ink
    layout = _lay_out(cells, right - left, bottom - top)
    draw = ImageDraw.Draw(image)
    rule = max(1, round((bottom - top) / layout.rows / 50))
    draw.rectangle(box, outline=ink, width=rule)
    tall = (bottom - top) / layout.rows
    for row, line in enumerate(layout.lines):
        y = top + row * tall
        if row:
            draw.line([(left, round(y)), (right, round(y))], fill=ink, width=rule)
        x = float(left)
        for cell, wide in line:
            if x > left:
                draw.line([(round(x), round(y)), (round(x), round(y + tall))], fill=ink, width=rule)
            pad = layout.pad
            inner = (x + pad, y + tall * 0.10, x + wide - pad, y + tall * 0.34)
            draw_line(image, inner, cell.label.upper(), Face.LABEL, SOFT, most_px=layout.label_px)
            inner = (x + pad, y + tall * 0.36, x + wide - pad, y + tall * 0.94)
            draw_line(image, inner, cell.values[0], Face.FIGURE, ink, most_px=layout.value_px)
            x += wide


def draw_line(
    image: Image.Image,
    box: tuple[float, float, float, float],
    words: str,
    face: Face,
    colour: str,
    most_px: int | None = None,
) -> None:
    """Set one line of `words` at the left of `box`, centred in its height, as large as fits."""
    left, top, right, bottom = box
    font, words = fit_line(words, face, right - left, min(most_px or 10_000, int(bottom - top)))
    # A letter may reach out to the left of where it begins, as a j does.
    out = min(0, font.getbbox(words, anchor="lm")[0]) if words else 0
    ImageDraw.Draw(image).text((left - out, (top + bottom) / 2), words, font=font, fill=colour, anchor="lm")


def fit_line(words: str, face: Face, width: float, most_px: int) -> tuple[ImageFont.FreeTypeFont, str]:
    """The largest size up to `most_px` at which `words` are no wider than `width`; below 45 % of
    it they are cut instead, with an ellipsis.
    """
    words = _drawable(words, face)
    least_px = max(6, int(most_px * 0.45))
    # Width grows with size, so one measurement says how far to go down; hinting may cost a pixel more.
    px = max(most_px, 1)
    while px > least_px and _width(words, face, px) > width:
        px = max(least_px, min(px - 1, int(px * width / _width(words, face, px))))
    while words and _width(words, face, px) > width:
        words = words[:-2].rstrip() + "…" if len(words) > 2 else ""
    return _font(face, px), words


def paste_drawing(image: Image.Image, box: Box, card: LinkCard, palette: Palette) -> bool:
    """Put the drawing of `card` into the middle of `box`, as large as it fits; False where there is none to show."""
    left, top, right, bottom = box
    plain = tuple(replace(assembly, href="") for assembly in card.drawn)
    png = _rasterised(card.drawing, plain, card.picked, right - left, palette)
    if not png:
        return False
    shape = Image.open(io.BytesIO(png)).convert("RGBA")
    shape.thumbnail((right - left, bottom - top), Image.Resampling.LANCZOS)
    spot = (left + (right - left - shape.width) // 2, top + (bottom - top - shape.height) // 2)
    if image.mode == "RGBA":
        image.alpha_composite(shape, spot)
    else:
        image.paste(shape, spot, shape)
    return True


@lru_cache(maxsize=64)
def _rasterised(
    drawing: str, drawn: tuple[DrawnAssembly, ...], picked: str | None, width_px: int, palette: Palette
) -> bytes:
    """PNG bytes, `width_px` wide and transparent, empty where there is no drawing; entries of one evening share
    their states, so the last few are kept.
    """
    svg = render_drawing(drawing, drawn, picked=picked, uid="d", palette=palette)
    if not svg:
        return b""
    page = (
        "#set page(width: 720pt, height: auto, margin: 0pt, fill: none)\n"
        '#image(bytes(sys.inputs.drawing), format: "svg", width: 720pt)'
    )
    try:
        return typst.compile(
            page.encode(),
            format="png",
            ppi=width_px / 10,
            sys_inputs={"drawing": svg},
            ignore_system_fonts=True,
        )
    except typst.TypstError:
        # The site shows this drawing, but the rasteriser is stricter: the card does without.
        return b""


# --- pieces -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    lines: tuple[tuple[tuple[CardCell, float], ...], ...]
    value_px: int
    label_px: int
    pad: float

    @property
    def rows(self) -> int:
        return len(self.lines)


def _lay_out(cells: Sequence[CardCell], width: int, height: int) -> _Layout:
    """Rows of cells with their widths, figures as large as they can be.

    Full words are kept while they cost no more than a quarter of the size that the shortest would
    have; then the value that saves most takes its next shorter form.
    """
    shortest = [CardCell(label=cell.label, values=cell.values[-1:]) for cell in cells]
    wanted_px = _best_rows(shortest, width, height).value_px * 0.75
    best = _best_rows(cells, width, height)
    while best.value_px < wanted_px:
        longest = max((cell for cell in cells if len(cell.values) > 1), key=_saved, default=None)
        if longest is None:
            break
        cells = [CardCell(label=cell.label, values=cell.values[1:]) if cell is longest else cell for cell in cells]
        best = _best_rows(cells, width, height)
    return best


def _saved(cell: CardCell) -> float:
    """How much room the next shorter form of a value saves."""
    return _width(cell.values[0], Face.FIGURE, 40) - _width(cell.values[1], Face.FIGURE, 40)


def _best_rows(cells: Sequence[CardCell], width: int, height: int) -> _Layout:
    return max(
        (_rows(lines, width, height) for lines in _partitions(cells)),
        key=lambda layout: (layout.value_px, -layout.rows),
    )


def _partitions(cells: Sequence[CardCell]) -> Iterator[list[Sequence[CardCell]]]:
    """Every way to break the cells into rows without changing their order."""
    gaps = range(1, len(cells))
    for count in range(len(cells)):
        for cuts in itertools.combinations(gaps, count):
            edges = [0, *cuts, len(cells)]
            yield [cells[start:end] for start, end in itertools.pairwise(edges)]


def _rows(lines: Sequence[Sequence[CardCell]], width: int, height: int) -> _Layout:
    tall = height / len(lines)
    px = tall * 0.56
    pad = tall * 0.14
    label_px = int(tall * 0.22)
    sizes = []
    for line in lines:
        room = width - 2 * pad * len(line)
        asked = sum(_width(cell.values[0], Face.FIGURE, 100) for cell in line) / 100
        sizes.append(min(px, max(room, 1) / max(asked, 1e-6)))
    value_px = max(6, int(min(sizes)))
    placed = []
    for line in lines:
        natural = [
            max(_width(cell.values[0], Face.FIGURE, value_px), _width(cell.label.upper(), Face.LABEL, label_px))
            + 2 * pad
            for cell in line
        ]
        spare = (width - sum(natural)) / len(line)
        # Room left over is shared out evenly; what is missing is taken in proportion.
        wide = [each + spare for each in natural] if spare >= 0 else [each * width / sum(natural) for each in natural]
        placed.append(tuple(zip(line, wide, strict=True)))
    return _Layout(lines=tuple(placed), value_px=value_px, label_px=label_px, pad=pad)


@lru_cache(maxsize=256)
def _font(face: Face, px: int) -> ImageFont.FreeTypeFont:
    # The basic layout engine is in every Pillow; the other one depends on the machine.
    return ImageFont.truetype(io.BytesIO(_font_bytes(face)), px, layout_engine=ImageFont.Layout.BASIC)


@lru_cache(maxsize=8)
def _font_bytes(face: Face) -> bytes:
    return files("journal").joinpath("data", "fonts", face.value).read_bytes()


@lru_cache(maxsize=8192)
def _width(words: str, face: Face, px: int) -> float:
    return ink_width(_font(face, px), words)


def ink_width(font: ImageFont.FreeTypeFont, words: str) -> float:
    """The room that `words` take: letters may reach out beyond where they begin and end, as a j and an î do."""
    if not words:
        return 0.0
    left, _, right, _ = font.getbbox(words, anchor="ls")
    return max(font.getlength(words), right - min(0, left))


@lru_cache(maxsize=4096)
def _has_glyph(char: str, face: Face) -> bool:
    font = _font(face, 32)
    nothing = font.getmask("\uffff")
    return char == " " or bytes(font.getmask(char)) != bytes(nothing)


def _drawable(words: str, face: Face) -> str:
    """`words` without what the face cannot draw: better a gap than a row of boxes."""
    return " ".join("".join(char for char in " ".join(words.split()) if _has_glyph(char, face)).split())


def _open_picture(path: Path | None, size: tuple[int, int]) -> Image.Image | None:
    """The picture cut to `size`, or None where there is none that can be read."""
    if path is None:
        return None
    try:
        with Image.open(path) as picture:
            picture.draft("RGB", (size[0], size[1]))
            return ImageOps.fit(picture.convert("RGB"), size, Image.Resampling.LANCZOS, centering=(0.5, 0.4))
    except (OSError, ValueError, SyntaxError):
        return None


def _as_jpeg(entry: Image.Image) -> bytes:
    """Quality steps down until the card is small enough; lettering keeps its full colour."""
    for quality in (82, 72, 60, 45):
        out = io.BytesIO()
        entry.save(out, "JPEG", quality=quality, subsampling=0, optimize=True)
        if out.tell() <= MOST_CARD_BYTES:
            break
    return out.getvalue()
