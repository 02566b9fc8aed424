"""The calendar: months as a calendar has them, each worked day with its assembly, hours and picture."""

from __future__ import annotations

import calendar as months
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from journal.base.addresses import CALENDAR
from journal.base.formatting import month_of, say_count, say_date, say_minutes, say_month
from journal.site.site_context import SiteContext
from journal.view.page_parts import Card, Link, PageRecord
from journal.view.shown_pictures import PictureBox
from journal.view.view import ShownEntry

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


def calendar_pages(site: SiteContext) -> list[PageRecord]:
    """The newest year at `calendar/`, every other year on a page of its own."""
    years = sorted(site.addresses.by_year, reverse=True)
    links = tuple(
        Link(
            text=str(year),
            address=CALENDAR if number == 0 else site.addresses.year_address(CALENDAR, year),
            note=say_count(len({entry.date for entry in site.addresses.by_year[year]}), "day"),
        )
        for number, year in enumerate(years)
    )
    if not years:
        return [_page(site, CALENDAR, "", (), ())]
    return [
        _page(site, link.address, str(year), site.addresses.by_year[year], links if len(links) > 1 else ())
        for year, link in zip(years, links, strict=True)
    ]


def _page(
    site: SiteContext, address: str, year: str, entries: Sequence[ShownEntry], years: tuple[Link, ...]
) -> PageRecord:
    by_month: dict[str, list[ShownEntry]] = {}
    for entry in entries:
        by_month.setdefault(month_of(entry.date), []).append(entry)
    title = f"Calendar {year}".strip()
    return PageRecord(
        address=address,
        template="calendar.html",
        title=title,
        description=f"{title} of {site.site_name}: the days worked, with assembly and hours.",
        html="",
        record=CalendarPage(
            title=title,
            week=WEEK,
            months=tuple(_month(site, month, by_month[month]) for month in sorted(by_month, reverse=True)),
            years=years,
            year=year,
        ),
        section=CALENDAR,
        updated=entries[-1].date.isoformat() if entries else "",
    )


def _month(site: SiteContext, month: str, entries: Sequence[ShownEntry]) -> CalendarMonth:
    year, number = (int(part) for part in month.split("-"))
    by_day: dict[int, list[ShownEntry]] = {}
    for entry in entries:
        by_day.setdefault(entry.date.day, []).append(entry)
    return CalendarMonth(
        title=say_month(month),
        words=f"{say_count(len(by_day), 'day')}, {say_minutes(site.view.by_month.get(month, 0))}",
        anchor=f"month-{month}",
        weeks=tuple(
            tuple(_day(site, year, number, day, by_day.get(day, ())) for day in week)
            for week in months.Calendar().monthdayscalendar(year, number)
        ),
    )


def _day(site: SiteContext, year: int, month: int, day: int, entries: Sequence[ShownEntry]) -> DayCell:
    if not day:
        return DayCell(number=0)
    on = date(year, month, day)
    if not entries:
        return DayCell(number=day, iso=on.isoformat(), says=say_date(on))
    return DayCell(
        number=day,
        iso=on.isoformat(),
        says=say_date(on),
        day=site.say_day(entries[0]),
        hours=say_minutes(sum(entry.minutes for entry in entries)),
        cards=site.cards(entries),
        picture=next((box for entry in entries if (box := site.cover(entry))), None),
    )
