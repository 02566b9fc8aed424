"""Cards laid over a film: the title block and the aircraft with its states, in the film's own size.

Every card is as large as the frame, so that it is laid over it without being placed by hand. The
strip is transparent but for the foot; the title card covers the frame.
"""

from __future__ import annotations

import io
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from PIL import Image, ImageColor, ImageDraw, ImageOps

from journal.base.model import State
from journal.site.cards import (
    BLUEPRINT,
    SOFT,
    Box,
    Face,
    LinkCard,
    draw_line,
    draw_title_block,
    fit_line,
    ink_width,
    paste_drawing,
)

_BOUNDLESS = 1e9
DRAWN = replace(BLUEPRINT, ink="#86a0b8", picked="#ffffff")
"""The drawing steps back behind the one assembly that is picked out: at this size a halo alone is missed."""

PANEL_OPACITY = 0.88
"""Of the strip's ground: the film shows through, and white letters keep 7 to 1 even over a white wall."""


SHAPES = {"1080p": (1920, 1080), "4k": (3840, 2160), "square": (1080, 1080), "upright": (1080, 1920)}
"""The frames that films are made in, in pixels, by what options call them."""

Size = tuple[int, int]


def strip_panel(size: Size) -> Box:
    """Where the strip's panel lies in a frame. It keeps clear of the outer 5 % of the frame, and of the lowest sixth of
    an upright one, where players lay their own signs (common practice, no source).
    """
    width, height = size
    side = round(width * 0.05)
    foot = height - round(height * (0.165 if height > width else 0.05))
    tall = round((264 if width > height else 480) * min(size) / 1080)
    return side, foot - tall, width - side, foot


def above_strip(size: Size) -> Box:
    """The part of a frame that the strip leaves free, but for a narrow edge; on even pixels, as films need them."""
    edge = min(size) // 120 * 2
    return edge, edge, size[0] - edge, (strip_panel(size)[1] - edge) // 2 * 2


def render_strip(card: LinkCard, size: Size) -> bytes:
    """A PNG of the frame's size, transparent but for a panel at its foot. Same input, same bytes."""
    width, height = size
    unit = min(width, height) / 1080
    image = Image.new("RGBA", size, (0, 0, 0, 0))
    panel = strip_panel(size)
    ground = (*ImageColor.getrgb(BLUEPRINT.paper)[:3], round(255 * PANEL_OPACITY))
    draw = ImageDraw.Draw(image)
    draw.rectangle(panel, fill=ground, outline=BLUEPRINT.ink, width=max(2, round(3 * unit)))
    pad = round(16 * unit)
    left, top, right, bottom = panel
    if width > height:
        picture: Box = (left + pad, top + pad, left + round(340 * unit), bottom - pad)
        words = picture[2] + 2 * pad
        inside = bottom - top - 2 * pad
        middle = top + pad + round(inside * 0.46)
        head: Box = (words, top + pad, right - pad, middle - inside // 20)
        block: Box = (words, middle, right - pad, bottom - pad)
    else:
        picture = (left + pad, top + pad, left + round(330 * unit), top + round(250 * unit))
        head = (picture[2] + pad, top + pad, right - pad, picture[3])
        block = (left + pad, picture[3] + pad, right - pad, bottom - pad)
    _draw_aircraft(image, picture, card, unit)
    _draw_head(image, head, card, unit, lines=2 if width > height else 4)
    draw_title_block(image, block, card.cells)
    return _png(image)


def render_title_card(card: LinkCard, size: Size) -> bytes:
    """A PNG that covers the frame: drawing, aircraft, title, title block."""
    width, height = size
    unit = min(width, height) / 1080
    image = Image.new("RGB", size, BLUEPRINT.paper)
    draw = ImageDraw.Draw(image)
    inset = round(40 * unit)
    rule = max(2, round(4 * unit))
    pad = round(40 * unit)
    frame = (inset, inset, width - inset - 1, height - inset - 1)
    # An upright frame has room to spare, a square one has not: there the drawing needs all it can get.
    shape = (width > height) - (width < height)
    block_tall = round({1: 210, 0: 250, -1: 400}[shape] * unit)
    head_tall = round({1: 220, 0: 250, -1: 330}[shape] * unit)
    block = (frame[0], frame[3] - block_tall, frame[2], frame[3])
    head = (frame[0] + pad, block[1] - head_tall, frame[2] - pad, block[1] - pad // 2)
    picture = (frame[0] + pad, frame[1] + pad, frame[2] - pad, head[1] - pad)
    _draw_aircraft(image, picture, card, unit * 1.35)
    draw.line([(frame[0], head[1] - pad // 2), (frame[2], head[1] - pad // 2)], fill=BLUEPRINT.ink, width=rule)
    _draw_head(image, head, card, unit * 1.3, lines=2 if width > height else 3)
    draw_title_block(image, block, card.cells)
    draw.rectangle(frame, outline=BLUEPRINT.ink, width=rule + 1)
    return _png(image)


def render_still(picture: Path | None, strip: bytes, size: Size) -> bytes:
    """A PNG that covers the frame: the whole of a picture above the strip, on plain ground; the ground and the strip
    alone where there is no picture. Raises OSError where it cannot be read.
    """
    image = Image.new("RGB", size, BLUEPRINT.paper)
    if picture is not None:
        left, top, right, bottom = above_strip(size)
        with Image.open(picture) as opened:
            fitted = ImageOps.contain(opened.convert("RGB"), (right - left, bottom - top), Image.Resampling.LANCZOS)
        image.paste(fitted, ((left + right - fitted.width) // 2, (top + bottom - fitted.height) // 2))
    with Image.open(io.BytesIO(strip)) as laid:
        image.paste(laid, (0, 0), laid)
    return _png(image)


# -- pieces ----------------------------------------------------------------------------------------


def _draw_head(image: Image.Image, box: Box, card: LinkCard, unit: float, *, lines: int) -> None:
    """The aircraft's name small, the title below it in as many lines as make it largest."""
    left, top, right, bottom = box
    small = round(30 * unit)
    draw_line(image, (left, top, right, top + small), card.aircraft.upper(), Face.LABEL, SOFT)
    below = (left, top + small, right, bottom)
    draw_paragraph(image, below, card.title or card.assembly, most_lines=lines, least_px=round(22 * unit))


def draw_paragraph(image: Image.Image, box: Box, words: str, *, most_lines: int, least_px: int) -> None:
    """Words in up to `most_lines` lines, as large as the box lets them be; what does not even fit at
    `least_px` is cut with `…`.
    """
    left, top, right, bottom = box
    width, tall = right - left, bottom - top
    px, lines = 0, [words]
    for count in range(1, most_lines + 1):
        broken = _broken(words, count)
        fitting = _largest(broken, width, int(tall / len(broken) / 1.12), least_px)
        if fitting > px:
            px, lines = fitting, broken
    if not px:
        px, lines = least_px, _filled(words, width, least_px, most_lines)
    step = min(tall / len(lines), px * 1.12)
    first = top + (tall - step * len(lines)) / 2
    for number, line in enumerate(lines):
        place = (left, first + number * step, right, first + (number + 1) * step)
        draw_line(image, place, line, Face.LABEL, BLUEPRINT.ink, most_px=px)


def _largest(lines: Sequence[str], width: int, most_px: int, least_px: int) -> int:
    """The largest size at which every line is whole, 0 where there is none down to `least_px`."""
    sizes = range(least_px, most_px + 1)
    fitting = bisect_left(sizes, True, key=lambda px: not all(_fits(line, width, px) for line in lines))
    return sizes[fitting - 1] if fitting else 0


def _fits(line: str, width: int, px: int) -> bool:
    font, drawable = fit_line(line, Face.LABEL, _BOUNDLESS, px)
    return ink_width(font, drawable) <= width


def _filled(words: str, width: int, px: int, most_lines: int) -> list[str]:
    """As many words as fit a line, line after line; the last takes the rest and is cut where it is drawn."""
    lines: list[str] = [""]
    for word in words.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and len(lines) < most_lines and not _fits(longer, width, px):
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def _broken(words: str, count: int) -> list[str]:
    """`words` in up to `count` lines whose lengths differ as little as whole words allow."""
    parts = words.split()
    lines: list[str] = []
    for left_over in range(count, 0, -1):
        share = len(" ".join(parts)) / left_over
        taken = len(parts) if left_over == 1 else 1
        while taken < len(parts) and len(" ".join(parts[: taken + 1])) <= share * 1.12:
            taken += 1
        lines.append(" ".join(parts[:taken]))
        parts = parts[taken:]
    return [line for line in lines if line] or [""]


def _draw_aircraft(image: Image.Image, box: Box, card: LinkCard, unit: float) -> None:
    """The drawing with the entry's assembly picked out; under it how many assemblies stand in each state."""
    left, top, right, bottom = box
    legend = round(26 * unit)
    _draw_legend(image, (left, bottom - legend, right, bottom), card)
    place = (left, top, right, bottom - legend - round(8 * unit))
    if not paste_drawing(image, place, card, DRAWN):
        draw_line(image, place, card.assembly, Face.LABEL, BLUEPRINT.ink)


def _draw_legend(image: Image.Image, box: Box, card: LinkCard) -> None:
    """`■ 2 done  ▨ 3 under way  □ 8 not begun`: a sign, a count and the word for each state."""
    left, top, right, bottom = box
    states = [assembly.state for assembly in card.drawn]
    parts = [(state, f"{states.count(state)} {state.value}") for state in reversed(State)]
    tall = bottom - top
    sign, gap = round(tall * 0.62), round(tall * 0.28)
    extra = len(parts) * (sign + gap) + (len(parts) - 1) * 2 * gap
    font, _ = fit_line("".join(words for _, words in parts), Face.FIGURE, right - left - extra, round(tall * 0.86))
    px = int(font.size)
    total = sum(font.getlength(words) for _, words in parts) + extra
    x = left + max(0, (right - left - total) / 2)
    for state, words in parts:
        y = top + (tall - sign) // 2
        draw_sign(image, (round(x), y, round(x) + sign, y + sign), state)
        x += sign + gap
        wide = font.getlength(words)
        draw_line(image, (x, top, x + wide + 2, bottom), words, Face.FIGURE, BLUEPRINT.ink, most_px=px)
        x += wide + 2 * gap


def draw_sign(image: Image.Image, box: Box, state: State) -> None:
    """The sign of a state: outline, amber with a diagonal hatch, solid."""
    draw = ImageDraw.Draw(image)
    left, top, right, bottom = box
    rule = max(1, (right - left) // 10)
    fill = {State.DONE: BLUEPRINT.done, State.UNDER_WAY: BLUEPRINT.under_way, State.NOT_BEGUN: BLUEPRINT.paper}[state]
    draw.rectangle(box, fill=fill)
    if state is State.UNDER_WAY:
        tile = Image.new("RGB", (right - left, bottom - top), BLUEPRINT.under_way)
        pen = ImageDraw.Draw(tile)
        for start in range(-(bottom - top), right - left, max(3, (right - left) // 3)):
            pen.line([(start, bottom - top), (start + bottom - top, 0)], fill=BLUEPRINT.hatch, width=rule)
        image.paste(tile, (left, top))
    draw.rectangle(box, outline=BLUEPRINT.ink, width=rule)


def _png(image: Image.Image) -> bytes:
    out = io.BytesIO()
    image.save(out, "PNG", compress_level=7)
    return out.getvalue()
