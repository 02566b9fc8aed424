"""Charts: every figure is the view's, told in words as well, at any size of build."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.base.formatting import say_minutes, say_month
from journal.base.model import Aircraft, Assembly, Build, Entry, Person, Role, Step, WorkedTime, sort_entries
from journal.ledger.evidence import find_gaps
from journal.ledger.hours import build_ledger
from journal.ledger.journal import Journal
from journal.ledger.progress import replay
from journal.site.charts import burn_up, by_assembly, by_month, by_person
from journal.view.page_parts import Group
from journal.view.view import Audience, View, open_view

SVG = "{http://www.w3.org/2000/svg}"
EVERY: tuple[Callable[[View], Group], ...] = (burn_up, by_month, by_assembly, by_person)
ASSEMBLIES = {
    "workshop": Assembly(id="workshop", title="Workshop", counts=False),
    "flaps": Assembly(id="flaps", title="Flaps <& co>", planned_minutes=60 * 60),
    "left-wing": Assembly(id="left-wing", title="Left wing", planned_minutes=220 * 60),
}
STEPS = {
    f"{chapter}.{number}": Step(id=f"{chapter}.{number}", assembly=assembly, title="A step")
    for chapter, assembly in ((5, "flaps"), (7, "left-wing"))
    for number in range(1, 11)
}
PEOPLE = {
    "ada": Person(id="ada", name="Ada Example", role=Role.BUILDER, shown_as="Ada"),
    "bo": Person(id="bo", name="Bo Example", role=Role.HELPER),
}


def worked(
    number: int, day: date, assembly: str, minutes: int, steps: Sequence[str] = (), *, private: bool = False
) -> Entry:
    """An evening of Ada's on an assembly."""
    return Entry(
        id=f"e{number}",
        src_uri=f"content/entries/e{number}/index.md",
        date=day,
        title="An evening",
        assembly=assembly,
        steps=tuple(steps),
        people=("ada",),
        time=(WorkedTime(person="ada", minutes=minutes),),
        elapsed_minutes=minutes,
        private=private,
    )


def view_of(entries: Sequence[Entry], assemblies: dict[str, Assembly] = ASSEMBLIES, begun: date | None = None) -> View:
    """What the public may see of a build with these entries."""
    build = Build(
        aircraft=Aircraft(name="Tarn"),
        begun=begun,
        assemblies=assemblies,
        steps=STEPS,
        people=PEOPLE,
        entries=sort_entries(list(entries)),
    )
    ledger, progress, today = build_ledger(build), replay(build), date(2050, 1, 1)
    evidence = find_gaps(build, ledger, progress, today, others=())
    return open_view(
        Journal(root=Path(), today=today, build=build, ledger=ledger, progress=progress, evidence=evidence),
        Audience.PUBLIC,
    )


SMALL = [
    worked(1, date(2026, 1, 10), "workshop", 120),
    worked(2, date(2026, 1, 20), "flaps", 195, ["5.1", "5.2"]),
    worked(3, date(2026, 3, 1), "flaps", 61, ["5.3"], private=True),
    worked(4, date(2026, 3, 2), "left-wing", 244, ["7.1"]),
]


def drawn(chart: Group) -> ET.Element:
    """The chart as a tree, checked for what every chart has to be."""
    root = ET.fromstring(chart.html.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1))
    assert root.get("role") == "img"
    title, desc = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None
    assert desc is not None
    assert title.text
    assert desc.text
    assert root.get("aria-labelledby") == f"{title.get('id')} {desc.get('id')}"
    assert "script" not in chart.html
    assert "href" not in chart.html
    assert "http" not in chart.html
    ids = re.findall(r' id="([^"]+)"', chart.html)
    assert len(ids) == len(set(ids))
    return root


def share(element: ET.Element, key: str) -> float:
    """A place across, 0 to 100."""
    return float(element.get(key, "0").removesuffix("%"))


def test_burn_up_says_hours_and_steps_month_by_month() -> None:
    """Months without work stand in the table; private work counts, the workshop does not."""
    chart = burn_up(view_of(SMALL))
    assert chart.tables[0].rows == (
        ("January 2026", "3 h 15 min", "3 h 15 min", "2"),
        ("February 2026", "0 min", "3 h 15 min", "2"),
        ("March 2026", "5 h 05 min", "8 h 20 min", "4"),
    )
    told = drawn(chart).find(f"{SVG}desc")
    assert told is not None
    assert told.text == "8 h 20 min by 2 March 2026 of 280 h planned; 4 of 20 steps done."
    assert "280 h planned" in chart.html
    assert "20 steps in all" in chart.html


def test_a_plan_for_half_the_assemblies_is_no_goal() -> None:
    """Without a plan for every assembly that counts no planned total is drawn."""
    some = {**ASSEMBLIES, "engine": Assembly(id="engine", title="Engine")}
    assert "planned" not in burn_up(view_of(SMALL, some)).html


def test_months_are_bars_in_proportion() -> None:
    """Each month with work is a bar with its figure; heights are to each other as the minutes."""
    chart = by_month(view_of(SMALL))
    assert chart.tables[0].rows == (
        ("January 2026", "3 h 15 min"),
        ("February 2026", "0 min"),
        ("March 2026", "5 h 05 min"),
    )
    bars = drawn(chart).findall(f"{SVG}rect")
    assert [bar.findtext(f"{SVG}title") for bar in bars] == ["January 2026: 3 h 15 min", "March 2026: 5 h 05 min"]
    first, second = (float(bar.get("height", "0")) for bar in bars)
    assert first / second == pytest.approx(195 / 305, rel=0.01)


def test_assemblies_stand_planned_against_actual() -> None:
    """Planned, actual, difference and steps of each assembly; what does not count says so."""
    chart = by_assembly(view_of([*SMALL, worked(5, date(2026, 3, 3), "flaps", 60 * 60)]))
    assert chart.tables[0].columns == ("Assembly", "Planned", "Actual", "Difference", "Steps done")
    assert chart.tables[0].rows == (
        ("Flaps <& co>", "60 h", "64 h 16 min", "4 h 16 min over", "3 of 10"),
        ("Left wing", "220 h", "4 h 04 min", "215 h 56 min left", "1 of 10"),
        ("Workshop (not counted)", "not planned", "2 h", "", "no steps"),
    )
    rects = drawn(chart).findall(f"{SVG}rect")
    # Flaps: within the plan, over it (hatched), the plan's outline; all on one scale to 220 h.
    within, over, plan = rects[:3]
    assert share(within, "width") == pytest.approx(100 * 60 / 220, abs=0.01)
    assert over.get("fill") == "url(#chart-by-assembly-over)"
    assert share(over, "x") == share(within, "width")
    assert share(over, "width") == pytest.approx(100 * 256 / (220 * 60), abs=0.01)
    assert plan.get("stroke-dasharray")
    assert "over plan" in chart.html


def test_people_are_named_as_shown_and_most_comes_first() -> None:
    """Names are those the view shows; shares are whole per cent and never nought for someone."""
    entry = worked(6, date(2026, 3, 4), "flaps", 0)
    both = Entry(
        id="e7",
        src_uri="x",
        date=date(2026, 3, 5),
        title="Two",
        assembly="flaps",
        people=("ada", "bo"),
        time=(WorkedTime(person="ada", minutes=6000), WorkedTime(person="bo", minutes=20)),
    )
    chart = by_person(view_of([entry, both]))
    assert chart.tables[0].rows == (("Ada", "100 h", "100 %"), ("helper", "20 min", "under 1 %"))
    assert "Example" not in chart.html
    assert len(drawn(chart).findall(f"{SVG}rect")) == 2


@pytest.mark.parametrize("make", EVERY)
def test_a_build_without_work_has_words_instead_of_a_chart(make: Callable[[View], Group]) -> None:
    """An empty build draws nothing and says why; planned hours alone are still shown."""
    unplanned = {name: replace(assembly, planned_minutes=None) for name, assembly in ASSEMBLIES.items()}
    chart = make(view_of([], unplanned))
    assert chart.html == ""
    assert chart.note.endswith("yet")
    planned = make(view_of([]))
    assert bool(planned.html) == (make is by_assembly)


@pytest.mark.parametrize("make", EVERY)
def test_one_entry_is_a_whole_chart(make: Callable[[View], Group]) -> None:
    """One evening is enough for every chart, and on the first day of the build too."""
    for begun in (None, date(2026, 2, 7), date(2026, 1, 1)):
        chart = make(view_of([worked(1, date(2026, 2, 7), "flaps", 45, ["5.1"])], begun=begun))
        drawn(chart)
        assert "nan" not in chart.html
        assert "inf" not in chart.html
        assert any("45 min" in row for row in chart.tables[0].rows)


def test_ten_years_stay_light_and_legible() -> None:
    """Two thousand entries make charts under 25 KB whose marks do not run into each other."""
    entries = [
        worked(number, date(2026, 1, 3) + timedelta(days=number * 365 // 200), "flaps", 90 + number % 200)
        for number in range(2000)
    ]
    view = view_of(entries)
    for make in EVERY:
        chart = make(view)
        drawn(chart)
        assert len(chart.html) < 25_000
    for make in (burn_up, by_month):
        marks = [
            share(text, "x")
            for text in drawn(make(view)).findall(f"{SVG}text")
            if re.fullmatch(r"20\d\d", text.text or "")
        ]
        assert len(marks) >= 3
        # 40 px of room each on the narrowest column.
        assert all(later - earlier >= 100 * 40 / 320 for earlier, later in pairwise(marks))


DAYS = st.dates(date(2024, 1, 1), date(2034, 12, 31))
EVENINGS = st.lists(
    st.tuples(DAYS, st.sampled_from(sorted(ASSEMBLIES)), st.integers(0, 900), st.sets(st.sampled_from(sorted(STEPS)))),
    max_size=12,
)


@given(EVENINGS)
def test_tables_add_up_to_the_ledger(evenings: list[tuple[date, str, int, set[str]]]) -> None:
    """For any build: the last row of the burn-up is the total, and nothing leaves its scale."""
    view = view_of([worked(number, *evening) for number, evening in enumerate(evenings)])
    rows = burn_up(view).tables[0].rows
    if evenings:
        assert rows[-1][2] == say_minutes(view.minutes)
        assert rows[-1][3] == str(view.steps_done)
        assert rows[0][0] == say_month(f"{min(evenings)[0]:%Y-%m}")
    month_rows = by_month(view).tables[0].rows
    assert {(month, figure) for month, figure in month_rows if figure != "0 min"} == {
        (say_month(month), say_minutes(minutes)) for month, minutes in view.by_month.items() if minutes
    }
    for make in EVERY:
        chart = make(view)
        assert all(len(row) == len(chart.tables[0].columns) for row in chart.tables[0].rows)
        if not chart.html:
            continue
        for element in drawn(chart).iter():
            for key in ("x", "cx", "x1", "x2", "width"):
                value = element.get(key, "0")
                if value.endswith("%"):
                    assert -0.01 <= float(value[:-1]) <= 100.01
            if element.tag == f"{SVG}rect":
                assert float(element.get("height", "0").removesuffix("%")) >= 0
                assert share(element, "x") + share(element, "width") <= 100.05 or element.get("width") == "28"
