"""The page of hours, and its charts of hours and steps as SVG, drawn at build time; every figure comes from the `View`.

A chart has no size of its own: places across are percentages and places down are pixels, so it
fills whatever column it stands in and its lettering keeps one size on a phone and on a wide
screen. Curves stand in an inner drawing that stretches. Colours are CSS custom properties with a
fallback, so a chart is right in both themes, in print and without a style sheet; nothing is told
by colour alone. What was tried before drawing them ourselves is in DEVELOPERS.md.
"""

from __future__ import annotations

import bisect
from calendar import monthrange
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from html import escape
from itertools import accumulate

from journal.base.addresses import HOURS
from journal.base.formatting import month_of, say_count, say_date, say_minutes, say_month, say_number, say_short_month
from journal.base.words import N_, _
from journal.site.site_context import SiteContext
from journal.view.page_parts import Cell, Group, PageRecord, Table, say_part, say_share
from journal.view.view import View

INK = "var(--ink, #17242e)"
SOFT = "var(--ink-soft, #4a5a66)"
RULE = "var(--rule, #c3c8c8)"
PAPER = "var(--paper, #fbf9f4)"
BAR = "var(--bar, #2f5d8a)"
OVER = "var(--over, #b93a0b)"

# The narrowest column a chart meets: 360 px of screen less the margins. Lettering is laid out for it.
NARROWEST_PX = 320
MOST_POINTS = 260


def burn_up(view: View) -> Group:
    """Hours to date and steps done over time, each towards what is planned."""
    months = _months(view)
    totals = accumulate(view.by_month.get(month, 0) for month in months)
    rows = [
        (say_month(month), say_minutes(view.by_month.get(month, 0)), say_minutes(total), say_number(steps))
        for month, total, steps in zip(months, totals, _steps_by_month(view, months), strict=True)
    ]
    title = _("Hours and steps over time")
    columns = (_("Month"), _("Hours in the month"), _("Hours to date"), _("Steps done by its end"))
    if view.last_day is None:
        return _chart(title, "over-time", columns, [], "", _("no work recorded yet"))
    first = min(day for day in (view.begun, *view.steps_done_on) if day)
    span = _Span(first, view.last_day)
    hours = {entry.date: entry.minutes_to_date for entry in view.entries if not entry.draft}
    hours = {first: 0, **hours, view.last_day: view.minutes}
    steps = {first: 0, **view.steps_done_on, view.last_day: view.steps_done}
    planned = _planned(view)
    top = _panel(
        span,
        label=_("Hours to date"),
        at_px=0,
        height_px=200,
        points=sorted(hours.items()),
        goal=planned,
        goal_words=_("{time} planned", time=say_minutes(planned)) if planned else "",
        unit=60,
        unit_word="h",
        end_words=say_minutes(view.minutes),
        stepped=False,
    )
    bottom = _panel(
        span,
        label=_("Steps done"),
        at_px=236,
        height_px=130,
        points=sorted(steps.items()),
        goal=len(view.steps) or None,
        goal_words=_("{steps} in all", steps=say_count(len(view.steps), "step")),
        unit=1,
        unit_word="",
        end_words=say_number(view.steps_done),
        stepped=True,
    )
    words = N_("{time} by {date} of {planned} planned; {done} of {steps} done.")
    told = _(
        words if planned else N_("{time} by {date}; {done} of {steps} done."),
        time=say_minutes(view.minutes),
        date=say_date(view.last_day),
        planned=say_minutes(planned or 0),
        done=say_number(view.steps_done),
        steps=say_count(len(view.steps), "step"),
    )
    parts = [top, bottom, _time_axis(span, at_px=366)]
    return _chart(title, "over-time", columns, rows, _frame("burn-up", title, told, 400, parts))


def by_month(view: View) -> Group:
    """Person-hours of each month, months without work included."""
    months = _months(view)
    columns = (_("Month"), _("Hours"))
    if not any(view.by_month.values()):
        return _chart(_("Hours by month"), "by-month", columns, [], "", _("no hours that count yet"))
    figures = [view.by_month.get(month, 0) for month in months]
    most = max(figures)
    ticks = _ticks(most / 60)
    scale = max(most, ticks[-1] * 60) or 1
    top, base = 26, 196
    parts = [_grid(ticks, 60, scale, "h", top, base)]
    starts = [date(int(month[:4]), int(month[5:]), 1) for month in months]
    ends = [*starts[1:], starts[-1] + timedelta(days=monthrange(starts[-1].year, starts[-1].month)[1])]
    span = _Span(starts[0], ends[-1])
    for start, end, month, minutes in zip(starts, ends, months, figures, strict=True):
        if not minutes:
            continue
        tall = (base - top) * minutes / scale
        left, right = 100 * span.share(start), 100 * span.share(end)
        gap = (right - left) * (0.3 if len(months) <= 24 else 0.14)
        parts.append(
            f'<rect x="{_say(left + gap / 2)}%" y="{_say(base - tall)}" width="{_say(right - left - gap)}%" '
            f'height="{_say(tall)}" fill="{BAR}"><title>{say_month(month)}: {say_minutes(minutes)}</title></rect>'
        )
        if len(months) <= 7:
            clock = f"{minutes // 60}:{minutes % 60:02d}"  # short: a chart has little room
            parts.append(_text((left + right) / 2, base - tall - 6, clock, anchor="middle", strong=True))
    parts.append(_line(0, 100, base, INK))
    parts.append(_time_axis(span, base))
    busiest = months[figures.index(most)]
    told = _(
        "{months}, {first} to {last}; most in {busiest}: {time}.",
        months=say_count(len(months), "month"),
        first=say_month(months[0]),
        last=say_month(months[-1]),
        busiest=say_month(busiest),
        time=say_minutes(most),
    )
    rows = [(say_month(month), say_minutes(minutes)) for month, minutes in zip(months, figures, strict=True)]
    svg = _frame("by-month", _("Hours by month"), told, base + 34, parts)
    return _chart(_("Hours by month"), "by-month", columns, rows, svg)


def by_assembly(view: View) -> Group:
    """Actual hours of each assembly against those planned, in the order of the build."""
    bars, rows = [], []
    for assembly in sorted(view.assemblies.values(), key=lambda a: not a.counts):
        actual = view.by_assembly.get(assembly.id, 0)
        planned = assembly.planned_minutes
        progress = view.assembly_progress[assembly.id]
        title = assembly.title
        rows.append(
            (
                title if assembly.counts else _("{title} (not counted)", title=title),
                say_minutes(planned) if planned is not None else _("not planned"),
                say_minutes(actual),
                _difference(actual, planned),
                say_part(progress.steps_done, progress.steps, _("no steps")),
            )
        )
        if actual or planned:
            words = say_minutes(actual)
            if planned:
                words = _("{time} of {planned}", time=words, planned=say_minutes(planned))
            words = words if assembly.counts else _("not counted: {words}", words=words)
            bars.append(_Bar(title, actual, planned or 0, words))
    key = [
        (_("worked"), f'<rect width="100%" height="100%" fill="{BAR}"/>'),
        (_("planned"), f'<rect x="1" y="1" width="28" height="10" fill="none" stroke="{INK}" stroke-dasharray="4 3"/>'),
    ]
    if any(bar.planned and bar.actual > bar.planned for bar in bars):
        key.append((_("over plan"), '<rect width="100%" height="100%" fill="url(#chart-by-assembly-over)"/>'))
    svg = _bars("by-assembly", _("Hours by assembly, planned against actual"), bars, key)
    columns = (_("Assembly"), _("Planned"), _("Actual"), _("Difference"), _("Steps done"))
    chart = _chart(_("Hours by assembly"), "by-assembly", columns, rows, svg, _("none planned, none worked yet"))
    return replace(chart, note=_("Hours by assembly, planned against actual")) if svg else chart


def by_person(view: View) -> Group:
    """Person-hours of everyone, on assemblies that count, most first."""
    people = sorted(view.by_person.items(), key=lambda row: (-row[1], row[0]))
    people = [(name, minutes) for name, minutes in people if minutes]
    total = sum(minutes for __, minutes in people)
    svg = _bars("by-person", _("Hours by person"), [_Bar(name, of, 0, say_minutes(of)) for name, of in people], [])
    rows = [(name, say_minutes(minutes), _share(minutes, total)) for name, minutes in people]
    return _chart(
        _("Hours by person"), "by-person", (_("Person"), _("Hours"), _("Share")), rows, svg, _("no work recorded yet")
    )


def _chart(
    title: str, anchor: str, columns: tuple[str, ...], rows: Sequence[tuple[str, ...]], svg: str, nothing: str = ""
) -> Group:
    """A chart, the words under it, and the table that stands beside it; `nothing` is said where nothing can be drawn
    yet.
    """
    table = Table(caption=title, columns=columns, rows=tuple(rows))
    return Group(
        title=title,
        anchor=anchor,
        html=svg,
        note=title if svg else _("{title}: {nothing}", title=title, nothing=nothing),
        tables=(table,),
    )


def hours_page(site: SiteContext) -> PageRecord:
    """All sums of the ledger."""
    view = site.view
    cells = [
        Cell(label=_("Hours to date"), value=say_minutes(view.minutes), strong=True),
        Cell(label=_("Days worked"), value=say_number(view.days), strong=True),
        Cell(label=_("Time that passed"), value=say_minutes(view.elapsed_minutes)),
    ]
    if view.minutes_not_counted:
        cells.append(Cell(label=_("Kept apart"), value=say_minutes(view.minutes_not_counted)))
    done = say_share(view.steps_done, len(view.steps))
    if view.steps:
        done = f"{say_part(view.steps_done, len(view.steps))} ({done})"
    cells.append(Cell(label=_("Steps done"), value=done))
    return site.page(
        HOURS,
        "hours.html",
        _("Hours"),
        _(
            "{time} on {days}, by month, assembly and person.",
            time=say_minutes(view.minutes),
            days=say_count(view.days, "day"),
        ),
        label=_("Ledger"),
        block=tuple(cells),
        intro=_(
            "Hours are person-hours: two people at work for three hours are six. “Time that passed” "
            "counts such a session once."
        ),
        groups=(burn_up(view), by_month(view), by_assembly(view), by_person(view)),
    )


# --- figures ----------------------------------------------------------------------------------


def _months(view: View) -> list[str]:
    """Every month from the first with work to the last, those without work included."""
    worked = [month for month, minutes in view.by_month.items() if minutes]
    if view.last_day is not None:
        worked += [month_of(view.last_day)]
        worked += [month_of(day) for day in view.steps_done_on]
    if not worked:
        return []
    year, month = (int(part) for part in min(worked).split("-"))
    months = []
    while (key := f"{year:04d}-{month:02d}") <= max(worked):
        months.append(key)
        year, month = (year, month + 1) if month < 12 else (year + 1, 1)
    return months


def _steps_by_month(view: View, months: Sequence[str]) -> list[int]:
    """Steps done at the end of each month: as they stood after the last worked day up to then."""
    days = sorted(view.steps_done_on)
    worked = [month_of(day) for day in days]
    ends = [bisect.bisect_right(worked, month) for month in months]
    return [view.steps_done_on[days[end - 1]] if end else 0 for end in ends]


def _planned(view: View) -> int | None:
    """The planned total, where every assembly that counts has a plan: half a plan is no goal."""
    plans = [assembly.planned_minutes for assembly in view.assemblies.values() if assembly.counts]
    known = [plan for plan in plans if plan is not None]
    return sum(known) if known and len(known) == len(plans) else None


def _difference(actual: int, planned: int | None) -> str:
    if planned is None:
        return ""
    if actual > planned:
        return _("{time} over", time=say_minutes(actual - planned))
    return _("{time} left", time=say_minutes(planned - actual)) if planned > actual else _("as planned")


def _share(minutes: int, total: int) -> str:
    """Whole per cent, rounded to the nearest; what is there never shows as nothing."""
    if 200 * minutes < total:
        return _("under 1 %")
    return _("{percent} %", percent=(200 * minutes + total) // (2 * total))


# --- drawing ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Span:
    """The days a time axis covers; never empty."""

    first: date
    last: date

    def share(self, day: date) -> float:
        """Where a day stands, from 0; the last one leaves room for the dot that marks it."""
        whole = (self.last - self.first).days
        return 0.985 * ((day - self.first).days / whole if whole else 1.0)


@dataclass(frozen=True, slots=True)
class _Bar:
    title: str
    actual: int
    planned: int
    words: str


def _say(number: float) -> str:
    return f"{number:.2f}".rstrip("0").rstrip(".") or "0"


def _frame(name: str, title: str, told: str, height: int, parts: Iterable[str]) -> str:
    return (
        f'<svg class="chart chart-{name}" width="100%" height="{height}" role="img" '
        f'aria-labelledby="chart-{name}-title chart-{name}-desc" '
        f'font-family="var(--label-face, \'Arial Narrow\', sans-serif)" font-size="14" font-weight="500">'
        f'<title id="chart-{name}-title">{escape(title)}</title>'
        f'<desc id="chart-{name}-desc">{escape(told)}</desc>{"".join(parts)}</svg>'
    )


def _text(x: float, y: float, words: str, *, anchor: str = "start", strong: bool = False, soft: bool = False) -> str:
    """Lettering with a thin rim of paper, so that a line behind it does not run through it."""
    weight = ' font-weight="600"' if strong else ""
    return (
        f'<text x="{_say(x)}%" y="{_say(y)}" text-anchor="{anchor}"{weight} fill="{SOFT if soft else INK}" '
        f'stroke="{PAPER}" stroke-width="4" paint-order="stroke" stroke-linejoin="round">{escape(words)}</text>'
    )


def _line(x1: float, x2: float, y: float, colour: str, dashes: str = "", width: float = 1) -> str:
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return (
        f'<line x1="{_say(x1)}%" x2="{_say(x2)}%" y1="{_say(y)}" y2="{_say(y)}" '
        f'stroke="{colour}" stroke-width="{_say(width)}"{dashed}/>'
    )


def _ticks(most: float, count: int = 4) -> list[int]:
    """Round whole numbers from one step up, at most `count` and reaching past `most`: 50, 100, 150."""
    size = 1
    while True:
        for step in (size, 2 * size, 5 * size):
            if step * count >= most:
                return [step * number for number in range(1, max(1, -(-int(most + 0.999) // step)) + 1)]
        size *= 10


def _grid(
    ticks: Sequence[int],
    unit: int,
    scale: float,
    word: str,
    top: float,
    base: float,
    clear: float | None = None,
) -> str:
    """Lines of the scale; those off it, or too close to the height `clear`, are left out."""
    parts = []
    for tick in ticks:
        y = base - (base - top) * tick * unit / scale
        if y < top - 0.5 or (clear is not None and abs(y - clear) < 18):
            continue
        parts.append(_line(0, 100, y, RULE))
        parts.append(_text(0, y - 4, f"{tick:,} {word}".strip(), soft=True))
    return "".join(parts)


def _panel(
    span: _Span,
    *,
    label: str,
    at_px: int,
    height_px: int,
    points: Sequence[tuple[date, int]],
    goal: int | None,
    goal_words: str,
    unit: int,
    unit_word: str,
    end_words: str,
    stepped: bool,
) -> str:
    """One curve over time. `unit` is how much of the figure makes one on the scale (60 min, 1 step)."""
    most = max([figure for _, figure in points] + [goal or 0])
    ticks = _ticks(most / unit)
    # With a goal the goal is the top of the scale; without one the next round figure is.
    scale = (most if goal else max(most, ticks[-1] * unit)) or 1
    top, base = at_px + 34, at_px + height_px
    tall = base - top

    def place(day: date, figure: int) -> tuple[float, float]:
        return 1000 * span.share(day), tall * (1 - figure / scale)

    placed = _thinned([place(day, figure) for day, figure in points])
    path = f"M{_say(placed[0][0])} {_say(placed[0][1])}" + "".join(
        f"H{_say(x)}V{_say(y)}" if stepped else f"L{_say(x)} {_say(y)}" for x, y in placed[1:]
    )
    parts = [_text(0, at_px + 14, label, strong=True)]
    goal_y = base - tall * goal / scale if goal else None
    parts.append(_grid(ticks, unit, scale, unit_word, top, base, clear=goal_y))
    if goal_y is not None:
        parts.append(_line(0, 100, goal_y, INK, "7 4", 1.5))
        parts.append(_text(100, goal_y - 5, goal_words, anchor="end"))
    parts.append(
        f'<svg x="0" y="{_say(top)}" width="100%" height="{_say(tall)}" viewBox="0 0 1000 {_say(tall)}" '
        f'preserveAspectRatio="none" overflow="visible">'
        f'<path d="{path}V{_say(tall)}H{_say(placed[0][0])}Z" fill="{BAR}" fill-opacity="0.16"/>'
        f'<path d="{path}" fill="none" stroke="{BAR}" stroke-width="2.5" stroke-linejoin="round" '
        f'vector-effect="non-scaling-stroke"/></svg>'
    )
    end = placed[-1]
    parts.append(f'<circle cx="{_say(end[0] / 10)}%" cy="{_say(top + end[1])}" r="4" fill="{BAR}"/>')
    # The figure stands above the end of the curve, and below it where the goal's words are close.
    y = top + end[1] - 10
    if goal_y is not None and abs(y - (goal_y - 5)) < 16:
        y = min(top + end[1] + 22, base - 4)
    parts.append(_text(100, y, end_words, anchor="end", strong=True))
    parts.append(_line(0, 100, base, INK))
    return "".join(parts)


def _thinned(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """No more points than the eye can tell apart: of those that fall in one column the last."""
    if len(points) <= MOST_POINTS:
        return points
    columns = {round(x * MOST_POINTS / 1000): (x, y) for x, y in points}
    return list(dict.fromkeys([points[0], *columns.values()]))


def _time_axis(span: _Span, at_px: int) -> str:
    """Month or year marks under the panels, no more than fit on the narrowest column."""
    months = (span.last.year - span.first.year) * 12 + span.last.month - span.first.month
    every = next(step for step in (1, 2, 3, 6, 12, 24, 60, 120, 1200) if months / step <= 6)
    marks = []
    for number in range(span.first.year * 12 + span.first.month - 1, span.last.year * 12 + span.last.month):
        year, month = divmod(number, 12)
        day = date(year, month + 1, 1)
        if day >= span.first and number % every == 0 and (every < 120 or year % (every // 12) == 0):
            marks.append((span.share(day) * 100, day))
    if len(marks) < 2:
        # Less than two marks tell no scale: the first and the last day are named instead.
        ends = [_text(100, at_px + 22, say_date(span.last), anchor="end", soft=True)]
        if span.first != span.last:
            ends.append(_text(0, at_px + 22, say_date(span.first), soft=True))
        return "".join(ends)
    parts = []
    for number, (x, day) in enumerate(marks):
        parts.append(f'<line x1="{_say(x)}%" x2="{_say(x)}%" y1="{at_px}" y2="{at_px + 5}" stroke="{INK}"/>')
        words = str(day.year) if every >= 12 else say_short_month(day)
        if every < 12 and (number == 0 or day.month == 1):
            words += f" {day.year}"
        # Centred on its place, but never over the edge of the chart.
        anchor = "start" if x < 8 else "end" if x > 92 else "middle"
        parts.append(_text(x, at_px + 22, words, anchor=anchor, soft=True))
    return "".join(parts)


def _bars(name: str, title: str, bars: Sequence[_Bar], key: Sequence[tuple[str, str]]) -> str:
    """One bar under the other, its name and figure above it: names of any length have room; "" of none."""
    if not bars:
        return ""
    most = max(max(bar.actual, bar.planned) for bar in bars)
    parts = [
        f'<defs><pattern id="chart-{name}-over" width="7" height="7" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><rect width="7" height="7" fill="{PAPER}"/>'
        f'<path d="M0 0V7" stroke="{OVER}" stroke-width="7.5"/></pattern></defs>'
    ]
    y = 0
    for bar in bars:
        title_words = _fit(bar.title, NARROWEST_PX - 6 * len(bar.words) - 10)
        parts.append(_text(0, y + 15, title_words))
        parts.append(_text(100, y + 15, bar.words, anchor="end", strong=True))
        within = min(bar.actual, bar.planned) if bar.planned else bar.actual

        def rect(start: int, length: int, rest: str, y: int = y) -> str:
            x = f"{_say(100 * start / most)}%" if start else "0"
            return f'<rect x="{x}" y="{y + 22}" width="{_say(100 * length / most)}%" height="14" {rest}'

        if within:
            told = f"<title>{escape(bar.title)}: {escape(bar.words)}</title>"
            parts.append(rect(0, within, f'fill="{BAR}">{told}</rect>'))
        if bar.planned and bar.actual > bar.planned:
            over = f'fill="url(#chart-{name}-over)" stroke="{OVER}"/>'
            parts.append(rect(within, bar.actual - bar.planned, over))
        if bar.planned:
            parts.append(rect(0, bar.planned, f'fill="none" stroke="{INK}" stroke-dasharray="4 3"/>'))
        y += 48
    for number, (words, swatch) in enumerate(key):
        parts.append(f'<svg x="{number * 104}" y="{y + 4}" width="30" height="12" aria-hidden="true">{swatch}</svg>')
        parts.append(f'<text x="{number * 104 + 36}" y="{y + 15}" fill="{SOFT}">{escape(words)}</text>')
    told = "; ".join(f"{bar.title}: {bar.words}" for bar in bars) + "."
    return _frame(name, title, told, y + (24 if key else 0), parts)


def _fit(words: str, room_px: float) -> str:
    """`words`, cut at about six pixels a letter where they would run into the figure."""
    most = max(8, int(room_px / 6))
    return words if len(words) <= most else words[: most - 1].rstrip() + "…"
