"""What `turn`, `crop` and `blur` make of a decoded picture. Nothing of what they hide is in a pixel that is left.

Filled with one grey, whatever lay there: what is smeared or made of large squares can be brought back where it is known
what it may have been (a plate, a face), and so can less from a mean.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil, floor

from PIL import Image

from journal.base.model import Edits, Part, PictureTurn
from journal.media.photos.decode import Size
from journal.media.photos.kinds import NOTHING_LEFT, UnusableError

FILL = (128, 128, 128)

_TURNS = {
    PictureTurn.LEFT: Image.Transpose.ROTATE_90,
    PictureTurn.RIGHT: Image.Transpose.ROTATE_270,
    PictureTurn.HALF: Image.Transpose.ROTATE_180,
}

# The size of a decoder's picture is rounded up, so that a place in it is off by less than a pixel; and a decoder draws
# colour out by one, from samples that lie twice as far apart.
_OFF_PX = 2
# What is coded together (ITU-T T.81, A.2: 16 by 16 pixels where colour is kept at half) tells a little of each other.
_BLOCK_PX = 16


def long_edge_needed(upright: Size, edits: Edits, long_edge: int) -> int:
    """How large to decode an original of this size so that what is left of it has that longer side, if it can."""
    if edits.crop is None:
        return long_edge
    left, top, right, bottom = edits.crop
    kept = max((right - left) * upright[0], (bottom - top) * upright[1])
    return min(max(upright), ceil((long_edge + 4 * _OFF_PX) * max(upright) / kept))


def edited(image: Image.Image, size: Size, edits: Edits) -> tuple[Image.Image, Size]:
    """(the picture as it is shown, the size to plan by) of a decoded one, which is drawn on, and its original's upright
    size. Raises `UnusableError` where nothing is left.
    """
    for part in edits.blur:
        image.paste(FILL, _around(part, image.size, size))
    if edits.crop is not None:
        image = image.crop(_within(edits.crop, image.size))
        size = image.size
    if edits.turn is not None:
        image = image.transpose(_TURNS[edits.turn])
        size = size if edits.turn is PictureTurn.HALF else (size[1], size[0])
    return image, size


def _around(part: Part, there: Size, original: Size) -> tuple[int, int, int, int]:
    """Every pixel of a picture of the size `there` that has anything of `part` in it."""
    more = _OFF_PX + ceil(Fraction(_BLOCK_PX * max(there), max(original)))
    left, top, right, bottom = (edge * there[at % 2] for at, edge in enumerate(part))
    return (
        max(floor(left) - more, 0),
        max(floor(top) - more, 0),
        min(ceil(right) + more, there[0]),
        min(ceil(bottom) + more, there[1]),
    )


def _within(part: Part, there: Size) -> tuple[int, int, int, int]:
    """The pixels that have nothing but `part` in them."""
    left, top = (ceil(edge * side) + _OFF_PX if edge else 0 for edge, side in zip(part[:2], there, strict=True))
    right, bottom = (
        floor(edge * side) - _OFF_PX if edge < 1 else side for edge, side in zip(part[2:], there, strict=True)
    )
    if left >= right or top >= bottom:
        raise UnusableError(NOTHING_LEFT)
    return left, top, right, bottom
