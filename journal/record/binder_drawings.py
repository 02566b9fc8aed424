"""The drawings on the binder's sheets: the frame with its strip, and the months. Pure.

Drawn as SVG because each stands as one piece on the sheet: set as text and rules, the frames of a
thousand sheets and the grids of ten years take more memory than all the rest.
"""

from __future__ import annotations

import calendar
from collections.abc import Iterator, Mapping, Sequence
from html import escape

from journal.base.formatting import cut_short

INK, SOFT, RULE, WORKED = "#17242e", "#4a5a66", "#8b979e", "#d9ece9"
FILING_MM, EDGE_MM, STRIP_MM = 20.0, 10.0, 11.0
"""The frame of a drawing sheet: 20 mm to file it by and 10 mm around (ISO 5457), and its strip."""

MONTH_WIDTH_MM = 68.0

_PT = 25.4 / 72
_SHARES = (1.3, 2.2, 1.2, 1.1)
_NUMBER_MM = 19.0
_FACE = 'font-family="Barlow" font-stretch="condensed"'
_HEAD_MM, _WEEK_MM = 4.0, 9.4


def draw_frame(sheet_mm: tuple[float, float], items: Sequence[tuple[str, str]]) -> str:
    """The frame of a sheet of this size and the strip at its foot: (label, value) four times, and room
    for the sheet's number.
    """
    width, height = sheet_mm
    left, right, bottom = FILING_MM, width - EDGE_MM, height - EDGE_MM
    top_of_strip = bottom - STRIP_MM
    parts = [
        f'<rect x="{left}" y="{EDGE_MM}" width="{right - left:.2f}" height="{height - 2 * EDGE_MM:.2f}" fill="none" '
        f'stroke="{INK}" stroke-width="{0.8 * _PT:.3f}"/>',
        f'<path d="M{left} {top_of_strip:.2f}H{right:.2f}" stroke="{INK}" stroke-width="{0.8 * _PT:.3f}"/>',
    ]
    room = right - left - _NUMBER_MM
    at = left
    for (label, value), share in zip((*items, ("Sheet", "")), (*_SHARES, 0.0), strict=True):
        if at > left:
            parts.append(
                f'<path d="M{at:.2f} {top_of_strip:.2f}V{bottom:.2f}" stroke="{RULE}" stroke-width="{0.4 * _PT:.3f}"/>'
            )
        parts.append(_text(at + 2, top_of_strip + 3.4, label.upper(), 5.6, SOFT, 500, ' letter-spacing="0.1"'))
        own = room * share / sum(_SHARES)
        if value:
            # A character of 8.6 pt in the condensed face is about 1.35 mm wide.
            parts.append(_text(at + 2, top_of_strip + 8.0, cut_short(value, int((own - 4) / 1.35)), 8.6, INK, 600))
        at += own
    return _svg(width, height, parts)


def month_height_mm(year: int, month: int) -> float:
    """How tall the drawing of a month is: 4 to 6 weeks."""
    return _HEAD_MM + _WEEK_MM * len(calendar.monthcalendar(year, month)) + 0.2


def months_between(first: str, last: str) -> Iterator[str]:
    """Every month from `2026-02` to another, both included."""
    year, month = map(int, first.split("-"))
    while (current := f"{year:04d}-{month:02d}") <= last:
        yield current
        year, month = (year, month + 1) if month < 12 else (year + 1, 1)


def draw_month(year: int, month: int, worked: Mapping[int, str]) -> str:
    """A month as calendars show it, Monday first (ISO 8601): `worked` maps days to the hours in them."""
    weeks = calendar.Calendar().monthdayscalendar(year, month)
    cell = (MONTH_WIDTH_MM - 0.2) / 7
    parts = [
        _text((column + 0.5) * cell, 2.9, name, 6, SOFT, 500, ' text-anchor="middle"')
        for column, name in enumerate(("MO", "TU", "WE", "TH", "FR", "SA", "SU"))
    ]
    numbers: list[str] = []
    for row, week in enumerate(weeks):
        for column, day in enumerate(week):
            x, y = 0.1 + column * cell, _HEAD_MM + row * _WEEK_MM
            hours = worked.get(day) if day else None
            parts.append(
                f'<rect x="{x:.2f}" y="{y:.2f}" width="{cell:.2f}" height="{_WEEK_MM}" '
                f'fill="{WORKED if hours else "none"}" stroke="{RULE}" stroke-width="{0.4 * _PT:.3f}"/>'
            )
            if day:
                ink, weight = (INK, 600) if hours else (SOFT, 500)
                numbers.append(_text(x + 0.9, y + 2.9, str(day), 6.6, ink, weight))
            if hours:
                numbers.append(_text(x + cell - 0.9, y + 8.2, hours, 8.4, INK, 600, ' text-anchor="end"'))
    return _svg(MONTH_WIDTH_MM, month_height_mm(year, month), [*parts, *numbers])


def _text(x: float, y: float, text: str, size_pt: float, fill: str, weight: int, more: str = "") -> str:
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" {_FACE} font-weight="{weight}" font-size="{size_pt * _PT:.3f}" '
        f'fill="{fill}"{more}>{escape(text)}</text>'
    )


def _svg(width: float, height: float, parts: Sequence[str]) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.2f}mm" height="{height:.2f}mm" '
        f'viewBox="0 0 {width:.2f} {height:.2f}">{"".join(parts)}</svg>'
    )
