"""Where the build stands: work left, pace, and a range that is the same every time and told only when earned."""

from __future__ import annotations

import sys
from datetime import date, timedelta
from fractions import Fraction
from pathlib import Path
from random import Random

import pytest

from journal.base.model import Assembly, State, Step, StepProgress
from journal.ledger.forecast import (
    HELD,
    LEAST_WORKED_WEEKS,
    RUNS,
    USUAL_SPREAD,
    Forecast,
    Rhythm,
    forecast,
    play,
    work_left,
    work_to_do,
)

MONDAY = date(2026, 1, 5)
STEPS = 60


def assemblies(planned: int | None = 6000) -> dict[str, Assembly]:
    """Two assemblies that count and one that does not."""
    return {
        "shop": Assembly(id="shop", title="Shop", counts=False),
        "wing": Assembly(id="wing", title="Wing", planned_minutes=planned),
        "tail": Assembly(id="tail", title="Tail", planned_minutes=planned),
    }


def steps() -> dict[str, Step]:
    """Thirty steps each on wing and tail, one in the shop."""
    found = {f"{n}": Step(id=f"{n}", assembly="wing" if n < STEPS // 2 else "tail", title="x") for n in range(STEPS)}
    return {"s1": Step(id="s1", assembly="shop", title="x"), **found}


def after_weeks(weeks: int, *, a_week: int = 1, planned: int | None = 6000, as_of: date | None = None) -> Forecast:
    """What is said after `weeks` weeks with `a_week` steps and 200 minutes each, as of the last Sunday."""
    every = steps()
    progress = {step: StepProgress() for step in every}
    minutes_on: dict[date, int] = {}
    for week in range(weeks):
        saturday = MONDAY + timedelta(weeks=week, days=5)
        minutes_on[saturday] = 200
        for step in list(every)[1 + week * a_week : 1 + (week + 1) * a_week]:
            progress[step] = StepProgress(state=State.DONE, first_done_on=saturday)
    return forecast(
        assemblies=assemblies(planned),
        steps=every,
        progress=progress,
        minutes_on=minutes_on,
        minutes_by_assembly={"wing": 200 * weeks},
        as_of=as_of or MONDAY + timedelta(weeks=weeks, days=-1),
    )


def test_work_left_by_steps_and_planned_hours() -> None:
    """Ten of sixty steps done; planned minutes go down with the share of steps; the shop takes no part."""
    left = after_weeks(10).left
    assert (left.steps, left.steps_left) == (60, 50)
    assert (left.planned_minutes, left.planned_minutes_left) == (12000, 10000)
    assert left.unplanned == ()
    assert left.without_steps == ()


def test_assemblies_without_plan_or_steps_are_named() -> None:
    """What the figures do not cover is told, not passed over."""
    them = {**assemblies(), "engine": Assembly(id="engine", title="Engine", planned_minutes=900)}
    them["tail"] = Assembly(id="tail", title="Tail")
    every = steps()
    left = work_left(them, every, {step: StepProgress() for step in every})
    assert left.unplanned == ("tail",)
    assert left.without_steps == ("engine",)
    assert left.planned_minutes == 6000


def test_pace_is_that_of_the_last_thirteen_whole_weeks() -> None:
    """200 minutes and one step a week; fewer weeks are said as they are."""
    said = after_weeks(20)
    assert (said.pace_weeks, said.pace_minutes, said.pace_steps) == (13, Fraction(200), Fraction(1))
    assert after_weeks(5).pace_weeks == 5


def test_a_week_that_is_not_over_is_left_out_of_the_pace() -> None:
    """As of a Wednesday the running week, still without work, does not drag the pace down; on its Sunday it does."""
    sunday = MONDAY + timedelta(weeks=20, days=-1)
    assert after_weeks(20, as_of=sunday + timedelta(days=3)).pace_minutes == 200
    assert after_weeks(20, as_of=sunday + timedelta(days=7)).pace_minutes == Fraction(200 * 12, 13)


@pytest.mark.parametrize("weeks", range(LEAST_WORKED_WEEKS))
def test_no_range_below_eight_worked_weeks(weeks: int) -> None:
    """Fewer weeks say too little: no month, and a reason."""
    said = after_weeks(weeks)
    assert (said.earliest, said.middle, said.latest) == (None, None, None)
    assert "8" in said.no_range


def test_a_steady_builder_is_done_when_the_steps_are() -> None:
    """One step a week and forty to go: the middle lies ten months on, give or take the plan."""
    said = after_weeks(20)
    assert said.no_range == ""
    assert said.earliest is not None
    assert said.middle is not None
    assert said.latest is not None
    assert said.earliest <= said.middle <= said.latest
    expected = said.as_of + timedelta(weeks=40)
    # A slow end and a break or two are part of it, so the plain quotient lies in the range before its middle.
    assert said.earliest <= expected.replace(day=1) <= said.middle <= expected + timedelta(weeks=20)
    assert said.earliest < said.latest
    assert {day.day for day in (said.earliest, said.middle, said.latest)} == {1}


def test_twice_the_pace_is_done_sooner() -> None:
    """The range follows the builder's own weeks."""
    slow, fast = after_weeks(12), after_weeks(12, a_week=2)
    assert slow.middle is not None
    assert fast.middle is not None
    assert fast.middle < slow.middle


def test_the_same_log_gives_the_same_range() -> None:
    """The seed is fixed: nothing about it changes between runs."""
    assert after_weeks(15) == after_weeks(15)


def test_without_plans_every_step_counts_the_same() -> None:
    """A range is still given, and what it assumes is told."""
    said = after_weeks(20, planned=None)
    assert said.left.planned_minutes is None
    assert said.earliest is not None
    assert any("every step counts the same" in words for words in said.assumptions)


def test_nothing_left_and_nothing_listed() -> None:
    """A finished build and one without steps get words instead of a month."""
    assert after_weeks(60).no_range == "every step is done"
    nothing = forecast(
        assemblies=assemblies(), steps={}, progress={}, minutes_on={}, minutes_by_assembly={}, as_of=MONDAY
    )
    assert "no steps are listed" in nothing.no_range


def test_hours_without_steps_give_no_month() -> None:
    """Ten worked weeks and no finished step: no pace towards the end is known."""
    every = steps()
    said = forecast(
        assemblies=assemblies(),
        steps=every,
        progress={step: StepProgress() for step in every},
        minutes_on={MONDAY + timedelta(weeks=week): 60 for week in range(10)},
        minutes_by_assembly={},
        as_of=MONDAY + timedelta(weeks=10, days=-1),
    )
    assert said.no_range == "no step is finished, so nothing says how fast the work goes"


def test_a_reopened_step_is_work_left() -> None:
    """Done once and under way again is not done."""
    every = steps()
    progress = {step: StepProgress() for step in every}
    progress["1"] = StepProgress(state=State.UNDER_WAY, reopened=True, first_done_on=MONDAY)
    assert work_left(assemblies(), every, progress).steps_left == STEPS


def test_silence_counts_as_pace() -> None:
    """The same log, asked later and later: the pace falls, the range moves on, and no month lies in the past."""
    last = MONDAY + timedelta(weeks=20, days=-1)
    asked = [after_weeks(20, as_of=last + timedelta(weeks=weeks)) for weeks in (0, 3, 8, 26, 52)]
    paces = [said.pace_minutes for said in asked]
    assert paces == sorted(paces, reverse=True)
    assert paces[-1] == 0
    latest = []
    for said in asked:
        assert said.earliest is not None
        assert said.middle is not None
        assert said.latest is not None
        assert said.as_of.replace(day=1) <= said.earliest
        latest.append(said.latest)
        silent = (said.as_of - last).days // 7
        told = f"no work is written down for the last {silent} weeks, which is taken for a break that has not ended"
        assert (told in said.assumptions) == (silent >= 4)
    assert latest == sorted(latest)
    # A break under way makes the way to the end longer than the silence alone.
    assert latest[3] - latest[0] > timedelta(weeks=26)


@pytest.mark.parametrize("weeks", [53, 8 * 52])
def test_after_a_year_of_silence_no_month_is_told(weeks: int) -> None:
    """Eight years of silence: words instead of a month; once somebody works again there is a range."""
    asked_on = MONDAY + timedelta(weeks=20 + weeks, days=-1)
    said = after_weeks(20, as_of=asked_on)
    assert (said.earliest, said.middle, said.latest) == (None, None, None)
    assert said.no_range.startswith(f"no work on the build is written down for the last {weeks} weeks")
    every = steps()
    worked = {MONDAY + timedelta(weeks=week, days=5): 200 for week in range(20)} | {asked_on + timedelta(days=1): 60}
    again = forecast(
        assemblies=assemblies(),
        steps=every,
        progress={
            step: StepProgress(state=State.DONE, first_done_on=MONDAY) if int(step[-1]) % 2 else StepProgress()
            for step in every
        },
        minutes_on=worked,
        minutes_by_assembly={"wing": 4060},
        as_of=asked_on + timedelta(days=2),
    )
    assert again.earliest is not None
    assert again.as_of.replace(day=1) <= again.earliest


def test_a_log_without_hours_goes_by_its_days() -> None:
    """Who writes no hours gets a range too: every day worked is worth the same."""
    every = steps()
    progress = {step: StepProgress() for step in every}
    for number in range(20):
        progress[f"{number}"] = StepProgress(state=State.DONE, first_done_on=MONDAY + timedelta(weeks=number))
    said = forecast(
        assemblies=assemblies(),
        steps=every,
        progress=progress,
        minutes_on={MONDAY + timedelta(weeks=week): 0 for week in range(20)},
        minutes_by_assembly={},
        as_of=MONDAY + timedelta(weeks=20, days=-1),
    )
    assert said.pace_minutes == 0
    assert said.earliest is not None


def test_how_differently_assemblies_keep_to_their_plan() -> None:
    """Without a log the assumed spread holds; assemblies all off alike narrow it, unlike ones widen it."""
    done, left = {"wing": 100.0, "tail": 100.0}, {"gear": 100.0}

    def spread(**minutes: int) -> float:
        return work_to_do(left, done, minutes, 400.0).parts[0][1]

    assert spread() == pytest.approx(USUAL_SPREAD)
    assert spread(wing=200, tail=200) < USUAL_SPREAD < spread(wing=50, tail=350)


def test_runs_that_never_end_come_last_and_are_told_as_none() -> None:
    """A log with one good week in a hundred and a mountain of work: some runs find no end in thirty years."""
    work = work_to_do({"wing": 13.0}, {"tail": 1.0}, {}, 100.0)
    durations = play(Rhythm(weeks=(0.0, 0.0, 0.0, 4.0) * 25, breaks=(), silent=0), work)
    assert len(durations) == RUNS
    assert durations[-1] is None
    known = [weeks for weeks in durations if weeks is not None]
    assert known == sorted(known)


def test_a_range_without_end_says_so() -> None:
    """At one step in two years no month is named."""
    every = steps()
    progress = {step: StepProgress() for step in every}
    progress["1"] = StepProgress(state=State.DONE, first_done_on=MONDAY)
    said = forecast(
        assemblies=assemblies(),
        steps=every,
        progress=progress,
        minutes_on={MONDAY + timedelta(weeks=week): 5 for week in range(104)},
        minutes_by_assembly={"wing": 520},
        as_of=MONDAY + timedelta(weeks=104, days=-1),
    )
    assert said.earliest is None
    assert "thirty years" in said.no_range


def test_a_few_simulated_builds_fall_into_their_range() -> None:
    """The back-test in small: of 30 questions to builds of each simulator most hold (the whole one, with its limits,
    is in benchmarks/).
    """
    sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))
    import forecast_backtest as backtest

    for kinds in backtest.SIMULATORS.values():
        random = Random(4)
        made = [backtest.simulate(kinds[number % len(kinds)], random) for number in range(10)]
        answers = [backtest.held(build, day) for build in made for day in backtest.stage_days(build)]
        told = [answer for answer in answers if answer is not None]
        assert len(told) >= 28
        assert sum(word == "within" for word, _ in told) / len(told) >= 0.6


def test_what_is_claimed_is_what_was_measured() -> None:
    """The figures that pages tell are those of docs/trade.md, and they keep the limits of the back-test."""
    said = (Path(__file__).parents[2] / "docs" / "trade.md").read_text(encoding="utf-8")
    for name, (least, most) in HELD.items():
        assert f"| {name} | {least} to {most} % |" in said
    assert HELD["harsh"][0] >= 70
    assert HELD["calm"][1] <= 95
