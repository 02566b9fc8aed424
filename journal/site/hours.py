"""The hours page: what was worked, by month, assembly and person, and where the build stands."""

from __future__ import annotations

from dataclasses import dataclass

from journal.base.addresses import HOURS
from journal.base.formatting import say_count, say_minutes
from journal.site import charts
from journal.site.charts import Chart
from journal.site.site_context import SiteContext
from journal.view.page_parts import Cell, PageRecord, say_share


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartSection:
    """A chart with its heading; the table of the same figures stands beside it."""

    heading: str
    anchor: str
    chart: Chart


@dataclass(frozen=True, slots=True, kw_only=True)
class HoursPage:
    """What the template `hours.html` places."""

    title: str
    block: tuple[Cell, ...]
    intro: str
    sections: tuple[ChartSection, ...]


def hours_page(site: SiteContext) -> PageRecord:
    """All sums of the ledger."""
    view = site.view
    cells = [
        Cell(label="Hours to date", value=say_minutes(view.minutes), strong=True, span=2),
        Cell(label="Days worked", value=f"{view.days:,}", strong=True),
        Cell(label="Time that passed", value=say_minutes(view.elapsed_minutes), span=2),
    ]
    if view.minutes_not_counted:
        cells.append(Cell(label="Kept apart", value=say_minutes(view.minutes_not_counted)))
    done = f"{view.steps_done:,} of {len(view.steps):,} ({say_share(view.steps_done, len(view.steps))})"
    cells.append(Cell(label="Steps done", value=done, span=3 if view.minutes_not_counted else 1))
    return site.page(
        HOURS,
        "hours.html",
        "Hours",
        f"{say_minutes(view.minutes)} on {say_count(view.days, 'day')}, by month, assembly and person.",
        HoursPage(
            title="Hours",
            block=tuple(cells),
            intro="Hours are person-hours: two people at work for three hours are six. “Time that passed” counts "
            "such a session once.",
            sections=(
                ChartSection(heading="Hours and steps over time", anchor="over-time", chart=charts.burn_up(view)),
                ChartSection(heading="Hours by month", anchor="by-month", chart=charts.by_month(view)),
                ChartSection(heading="Hours by assembly", anchor="by-assembly", chart=charts.by_assembly(view)),
                ChartSection(heading="Hours by person", anchor="by-person", chart=charts.by_person(view)),
            ),
        ),
    )
