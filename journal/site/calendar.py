"""The calendar: months as a calendar has them, each worked day with its assembly, hours and picture."""

from __future__ import annotations

import calendar as months
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from journal.base.addresses import CALENDAR
from journal.ledger.hours import month_of
from journal.site.site_context import Desk
from journal.view.shown_pictures import PictureBox
from journal.view.page_parts import Card, Link, PageRecord
from journal.view.view import Sheet
from journal.base.formatting import say_count, say_date, say_minutes, say_month

WEEK = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


@dataclass(frozen=True, slots=True, kw_only=True)
class DayCell:
    """One day of a month; `number` 0 is an empty place before the first or after the last."""

    number: int
    iso: str = ""
    says: str = ""
    day: str = ""
    hours: str = ""
    cards: tuple[Card, ...] = ()
    picture: PictureBox | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CalendarMonth:
    """A month in weeks from Monday to Sunday."""

    title: str
    words: str
    anchor: str
    weeks: tuple[tuple[DayCell, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CalendarPage:
    """What the template `calendar.html` places."""

    title: str
    week: tuple[str, ...]
    months: tuple[CalendarMonth, ...]
    years: tuple[Link, ...]
    year: str


def calendar_pages(desk: Desk) -> list[PageRecord]:
    """The newest year at `calendar/`, every other year on a page of its own."""
    years = sorted(desk.atlas.by_year, reverse=True)
    links = tuple(
        Link(
            text=str(year),
            address=CALENDAR if number == 0 else desk.atlas.year_address(CALENDAR, year),
            note=say_count(len({sheet.date for sheet in desk.atlas.by_year[year]}), "day"),
        )
        for number, year in enumerate(years)
    )
    if not years:
        return [_page(desk, CALENDAR, "", (), ())]
    return [
        _page(desk, link.address, str(year), desk.atlas.by_year[year], links if len(links) > 1 else ())
        for year, link in zip(years, links, strict=True)
    ]


def _page(desk: Desk, address: str, year: str, sheets: Sequence[Sheet], years: tuple[Link, ...]) -> PageRecord:
    by_month: dict[str, list[Sheet]] = {}
    for sheet in sheets:
        by_month.setdefault(month_of(sheet.date), []).append(sheet)
    title = f"Calendar {year}".strip()
    return PageRecord(
        address=address,
        template="calendar.html",
        title=title,
        description=f"{title} of {desk.site_name}: the days worked, with assembly and hours.",
        html="",
        record=CalendarPage(
            title=title,
            week=WEEK,
            months=tuple(_month(desk, month, by_month[month]) for month in sorted(by_month, reverse=True)),
            years=years,
            year=year,
        ),
        section=CALENDAR,
        updated=sheets[-1].date.isoformat() if sheets else "",
    )


def _month(desk: Desk, month: str, sheets: Sequence[Sheet]) -> CalendarMonth:
    year, number = (int(part) for part in month.split("-"))
    by_day: dict[int, list[Sheet]] = {}
    for sheet in sheets:
        by_day.setdefault(sheet.date.day, []).append(sheet)
    return CalendarMonth(
        title=say_month(month),
        words=f"{say_count(len(by_day), 'day')}, {say_minutes(desk.view.by_month.get(month, 0))}",
        anchor=f"month-{month}",
        weeks=tuple(
            tuple(_day(desk, year, number, day, by_day.get(day, ())) for day in week)
            for week in months.Calendar().monthdayscalendar(year, number)
        ),
    )


def _day(desk: Desk, year: int, month: int, day: int, sheets: Sequence[Sheet]) -> DayCell:
    if not day:
        return DayCell(number=0)
    on = date(year, month, day)
    if not sheets:
        return DayCell(number=day, iso=on.isoformat(), says=say_date(on))
    return DayCell(
        number=day,
        iso=on.isoformat(),
        says=say_date(on),
        day=desk.say_day(sheets[0]),
        hours=say_minutes(sum(sheet.minutes for sheet in sheets)),
        cards=desk.cards(sheets),
        picture=next((box for sheet in sheets if (box := desk.cover(sheet))), None),
    )
