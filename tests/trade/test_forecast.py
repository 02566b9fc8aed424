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
    LEAST_WORKED_WEEKS,
    RUNS,
    USUAL_SPREAD,
    Forecast,
    forecast,
    plan_spread,
    resample,
    work_left,
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
    assert abs((said.middle - expected.replace(day=1)).days) <= 62
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
    assert said.no_range == "no step was finished in the weeks looked at"


def test_a_reopened_step_is_work_left() -> None:
    """Done once and under way again is not done."""
    every = steps()
    progress = {step: StepProgress() for step in every}
    progress["1"] = StepProgress(state=State.UNDER_WAY, reopened=True, first_done_on=MONDAY)
    assert work_left(assemblies(), every, progress).steps_left == STEPS


def test_how_differently_assemblies_keep_to_their_plan() -> None:
    """Without a log the assumed spread holds; assemblies all off alike narrow it, unlike ones widen it."""
    every, them = steps(), assemblies()
    done = {step: StepProgress(state=State.DONE, first_done_on=MONDAY) for step in every}
    nothing = {step: StepProgress() for step in every}
    assert plan_spread(them, every, nothing, {}) == pytest.approx(USUAL_SPREAD)
    alike = plan_spread(them, every, done, {"wing": 9000, "tail": 9000})
    unlike = plan_spread(them, every, done, {"wing": 3000, "tail": 12000})
    assert alike < USUAL_SPREAD < unlike


def test_runs_that_never_end_come_last_and_are_told_as_none() -> None:
    """A log with one good week in a hundred and a mountain of work: some runs find no end in thirty years."""
    durations = resample([0.0] * 99 + [1.0], [10_000.0], [1.0], 0.3)
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
    """The back-test in small: of 50 questions to simulated builds between 60 and 100 % hold (the whole one, with
    its narrower aim of 70 to 90 %, is in benchmarks/).
    """
    sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))
    import forecast_backtest as backtest

    random = Random(4)
    answers = []
    for number in range(10):
        made = backtest.simulate(backtest.KINDS[number % 5], random, 0.25)
        answers += [backtest.held(made, day) for day in backtest.stage_days(made)]
    told = [answer for answer in answers if answer is not None]
    assert len(told) >= 45
    assert 0.6 <= sum(word == "within" for word, _ in told) / len(told) <= 1.0
