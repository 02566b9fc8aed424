"""What ffmpeg does to a film so that it is shown as its entry says: cropped, filled in, turned, in plain range."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from journal.base.model import Edits, PictureTurn
from journal.media.high_range import HighRange

FILL = "0x808080"
_MARGIN_PX = 4
"""A scaler mixes what lies two pixels apart, four in the planes of colour: so much more is filled in on every side."""

_TURNS = {
    PictureTurn.LEFT: ("transpose=cclock",),
    PictureTurn.RIGHT: ("transpose=clock",),
    PictureTurn.HALF: ("hflip", "vflip"),
}


def shown_filters(edits: Edits, between: Sequence[str] = ()) -> list[str]:
    """What `Edits` says, as filters of an upright frame of any size: it is cut down to `crop`, then comes `between`
    (scaling, plain range: the smaller the frame the cheaper), then what lies in `blur` is filled in for good, and it
    is turned. Nothing that is hidden passes: a crop rounds inward, a fill outward and a little beyond.

    Sizes are worked out by ffmpeg as it reads each frame, so that no wrong word of the container uncovers anything.
    """
    filters = list(between)
    left, top, right, bottom = edits.crop or (0, 0, 1, 1)
    wide, tall = right - left, bottom - top
    if edits.crop is not None:
        x, w = _inside("iw", left, right)
        y, h = _inside("ih", top, bottom)
        filters.insert(0, f"crop=w='{w}':h='{h}':x='{x}':y='{y}'")
    for part in edits.blur:
        x, w = _around("iw", (part[0] - left) / wide, (part[2] - left) / wide)
        y, h = _around("ih", (part[1] - top) / tall, (part[3] - top) / tall)
        filters.append(f"drawbox=x='{x}':y='{y}':w='{w}':h='{h}':color={FILL}:t=fill")
    return filters + list(_TURNS[edits.turn] if edits.turn else ())


def _inside(side: str, low: object, high: object) -> tuple[str, str]:
    """(first pixel, number of pixels) of the part of `side` that lies whole between; both even, at least two."""
    first = f"min(ceil({side}*({low})/2)*2,{side}-2)"
    return first, f"max(floor({side}*({high})/2)*2-{first},2)"


def _around(side: str, low: object, high: object) -> tuple[str, str]:
    first = f"max(floor({side}*({low}))-{_MARGIN_PX},0)"
    return first, f"max(min(ceil({side}*({high}))+{_MARGIN_PX},{side})-{first},1)"


def to_sdr_filters(range_: HighRange | None, folder: Path) -> list[str]:
    """Filters that bring a film of this range to plain range, none for one that is in it; they read a table that is
    put into `folder`, in which ffmpeg has to run. Dear by the pixel, so they belong behind the scaling.
    """
    if range_ is None:
        return []
    from journal.media.plain_range import table_text  # with numpy, which most commands can do without

    name = f"{range_.name}.cube"
    (folder / name).write_text(table_text(range_), encoding="ascii")
    # With 16 bits a channel lut3d is twice as fast as with 10 or 12.
    to_table = f"scale=in_color_matrix=bt2020,format=gbrp16,lut3d={name}"
    return [
        to_table,
        "scale=out_color_matrix=bt709:out_range=tv,format=yuv420p",
        "setparams=color_primaries=bt709:color_trc=bt709:colorspace=bt709:range=tv",
    ]
