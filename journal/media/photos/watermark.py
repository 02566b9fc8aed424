"""The builder's mark in a corner of every published picture.

White letters with a dark outline, so that they stand out from any ground: at the usual opacity of
0.6 the letters keep a contrast of at least 4.5 to 1 against their outline on white, grey and black.
All measures are shares of the longer side, so the mark looks the same at every size.
"""

from __future__ import annotations

import unicodedata
from decimal import Decimal
from functools import lru_cache
from hashlib import sha256
from pathlib import Path

from PIL import Image, ImageDraw, ImageFilter, ImageFont

from journal.base.model import Corner

_LETTERS = 0.026  # height of the type over the longer side
_MARGIN = 0.016
_SMALLEST_TYPE = 8  # pixels: below this a longer text is cut rather than made smaller
_OVERSAMPLING = 4  # drawn larger and reduced: outlines of a fraction of a pixel come out even
_LONGEST_TEXT = 200

_FACE = Path(__file__).with_name("DejaVuSans-Bold.ttf")
"""Latin, Greek, Cyrillic, Armenian, Georgian, Hebrew, Arabic; licence beside it."""


@lru_cache(maxsize=1)
def face_sha256() -> str:
    """Part of every recipe: other letters make another picture."""
    return sha256(_FACE.read_bytes()).hexdigest()


@lru_cache(maxsize=64)
def clean_mark(text: str) -> str:
    """The mark as it can be drawn: one line, one Unicode form, only letters the typeface has.

    An accented letter that is missing falls back to its plain one; what cannot be drawn at all is
    left out (`missing_letters` tells which, so that somebody can be told).
    """
    text = " ".join(unicodedata.normalize("NFC", text).split())
    drawn = "".join(char if _has(char) else _plain(char) for char in text)
    return " ".join(drawn.split())[:_LONGEST_TEXT].strip()


def missing_letters(text: str) -> str:
    """The letters of `text` that the mark will lack, each once, in order; empty where all is well."""
    missing = (
        char
        for char in unicodedata.normalize("NFC", text)
        if not _has(char) and not _plain(char) and unicodedata.category(char)[0] not in "CZ"
    )
    return "".join(dict.fromkeys(missing))


def _plain(char: str) -> str:
    return "".join(part for part in unicodedata.normalize("NFKD", char) if _has(part))


def _has(char: str) -> bool:
    return char == " " or (unicodedata.category(char)[0] != "C" and _drawn(char) != _drawn("\uffff"))


@lru_cache(maxsize=4096)
def _drawn(char: str) -> tuple[tuple[int, int], bytes]:
    """How one character looks; what the typeface lacks looks like the noncharacter U+FFFF."""
    mask = _font(24).getmask(char)
    return mask.size, bytes(mask)


@lru_cache(maxsize=64)
def _font(pixels: int) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(_FACE, pixels)


def draw_mark(image: Image.Image, text: str, corner: Corner, opacity: Decimal) -> None:
    """Put `text` (cleaned) into the corner of an RGB picture, in place. Nothing for an empty text, nor
    on a picture that is smaller than the smallest mark.
    """
    strength = min(max(opacity, Decimal(0)), Decimal(1))
    if not text or not strength:
        return
    letters, cover = _stamp(text, max(image.size), image.width)
    width, height = cover.size
    margin = _margin(max(image.size))
    if width + margin > image.width or height + margin > image.height:
        return  # a picture of a few pixels has no room for it
    left = margin if corner in {Corner.UPPER_LEFT, Corner.LOWER_LEFT} else image.width - margin - width
    top = margin if corner in {Corner.UPPER_LEFT, Corner.UPPER_RIGHT} else image.height - margin - height
    image.paste(letters, (left, top), cover.point(lambda value: value * float(strength)))


def _margin(longer_side: int) -> int:
    return round(longer_side * _MARGIN)


@lru_cache(maxsize=64)
def _stamp(text: str, longer_side: int, width: int) -> tuple[Image.Image, Image.Image]:
    """The mark for one size of picture: white letters on black, and where it covers how much."""
    pixels = max(_SMALLEST_TYPE * _OVERSAMPLING, round(longer_side * _LETTERS * _OVERSAMPLING))
    widest = (width - 3 * _margin(longer_side)) * _OVERSAMPLING
    length = _font(pixels).getlength(text)
    if length > widest:
        pixels = max(_SMALLEST_TYPE * _OVERSAMPLING, int(pixels * max(widest, 0) / length))
    font = _font(pixels)
    if font.getlength(text) > widest:
        text = _cut(text, font, widest)
    outline = max(1, round(pixels * 0.09))
    glow = pixels * 0.05
    edge = outline + round(3 * glow)
    left, _, right, _ = font.getbbox(text)
    ascent, descent = font.getmetrics()
    # The height of the line, not of these letters: marks of different texts stand on one line.
    box = (-(-int(right - left + 2 * edge) // _OVERSAMPLING), -(-(ascent + descent + 2 * edge) // _OVERSAMPLING))
    large = (box[0] * _OVERSAMPLING, box[1] * _OVERSAMPLING)
    letters = Image.new("L", large)
    ImageDraw.Draw(letters).text((edge - left, edge), text, fill=255, font=font)
    outlined = Image.new("L", large)
    ImageDraw.Draw(outlined).text((edge - left, edge), text, fill=255, font=font, stroke_width=outline, stroke_fill=255)
    soft = outlined.filter(ImageFilter.GaussianBlur(glow)).point(lambda value: value * 0.7)
    cover = Image.composite(outlined, soft, outlined)
    small = letters.reduce(_OVERSAMPLING)
    return Image.merge("RGB", (small, small, small)), cover.reduce(_OVERSAMPLING)


def _cut(text: str, font: ImageFont.FreeTypeFont, widest: float) -> str:
    """As many letters as there is room for, and an ellipsis; at least one letter."""
    for letters in range(len(text) - 1, 1, -1):
        if font.getlength(cut := text[:letters].rstrip() + "…") <= widest:
            return cut
    return text[:1]
