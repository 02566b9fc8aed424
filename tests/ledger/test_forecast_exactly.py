"""The forecast to the last figure: the same log gives the same range on every machine (a fixed seed, no clock)."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

import pytest
from test_forecast import MONDAY, after_weeks

from journal.base.model import Assembly, State, Step, StepProgress
from journal.ledger.forecast import (
    Forecast,
    Rhythm,
    WorkLeft,
    WorkToDo,
    _assumptions,
    _rhythm,
    _worth,
    forecast,
    play,
    work_left,
    work_to_do,
)

ALIKE = (
    "the weeks to come go at the pace of the last {} outside breaks, and breaks come as they did, or about once in two "
    "years where none did"
)
EVENLY = (
    "steps count by the planned hours of their assembly, divided evenly over its steps, and the hours left are as far "
    "off the plan as those worked"
)
COMPLETE = (
    "the list of steps is complete; some work is done over, and the last fifth takes longer than planned (assumed, no "
    "source)"
)


def told(weeks: int, **how: int) -> Forecast:
    """A log of that many weeks."""
    return after_weeks(weeks, **how)  # type: ignore[arg-type]


def test_a_forecast_field_by_field() -> None:
    """Twenty weeks with a step and 200 minutes each, sixty steps in all."""
    assert told(20) == Forecast(
        as_of=date(2026, 5, 24),
        left=WorkLeft(
            steps=60,
            steps_left=40,
            planned_minutes=12000,
            planned_minutes_left=8000,
            unplanned=(),
            without_steps=(),
        ),
        worked_weeks=20,
        pace_weeks=13,
        pace_minutes=Fraction(200),
        pace_steps=Fraction(1),
        earliest=told(20).earliest,
        middle=told(20).middle,
        latest=told(20).latest,
        no_range="",
        assumptions=(ALIKE.format("20 whole weeks"), EVENLY, COMPLETE),
    )


@pytest.mark.parametrize(
    ("weeks", "a_week", "months"),
    [
        (8, 1, ("2026-10", "2027-05", "2028-06")),
        (20, 1, ("2026-11", "2027-04", "2028-01")),
        (20, 2, ("2026-07", "2026-08", "2026-11")),
        (40, 1, ("2027-01", "2027-04", "2027-10")),
    ],
)
def test_the_months_of_a_steady_log(weeks: int, a_week: int, months: tuple[str, str, str]) -> None:
    """Gone over against the plain quotient, steps left over steps a week: it lies in the range, before its middle, as
    a slow end and a break or two are part of it.
    """
    made = told(weeks, a_week=a_week)
    assert made.earliest is not None
    assert made.middle is not None
    assert made.latest is not None
    found = tuple(f"{day:%Y-%m}" for day in (made.earliest, made.middle, made.latest))
    left = made.left.steps_left / a_week
    plain = made.as_of + timedelta(weeks=left)
    assert made.earliest <= plain.replace(day=1) <= made.middle
    assert found == months


@pytest.mark.parametrize(
    ("weeks", "reason"),
    [
        (0, "0 whole weeks with work so far; a range is shown from 8 on, as fewer say too little"),
        (1, "1 whole week with work so far; a range is shown from 8 on, as fewer say too little"),
        (7, "7 whole weeks with work so far; a range is shown from 8 on, as fewer say too little"),
        (60, "every step is done"),
    ],
)
def test_why_there_is_no_range(weeks: int, reason: str) -> None:
    """In words; then no month is told."""
    made = told(weeks)
    assert made.no_range == reason
    assert (made.earliest, made.middle, made.latest) == (None, None, None)


PARTS = {
    "shop": Assembly(id="shop", title="Shop", counts=False, planned_minutes=999),
    "wing": Assembly(id="wing", title="Wing", planned_minutes=100),
    "tail": Assembly(id="tail", title="Tail"),
    "gear": Assembly(id="gear", title="Gear", planned_minutes=50),
}
STEPS = {
    step.id: step
    for step in (
        *(Step(id=f"w{n}", assembly="wing", title="") for n in range(3)),
        *(Step(id=f"t{n}", assembly="tail", title="") for n in range(2)),
        Step(id="s", assembly="shop", title=""),
    )
}


def stands(*done: str) -> dict[str, StepProgress]:
    """These steps are done."""
    return {step: StepProgress(state=State.DONE if step in done else State.UNDER_WAY) for step in STEPS}


def test_the_work_left_field_by_field() -> None:
    """A third of a plan, rounded; parts without plan, without steps, and what does not count."""
    assert work_left(PARTS, STEPS, stands("w0", "t1", "s")) == WorkLeft(
        steps=5,
        steps_left=3,
        planned_minutes=100,
        planned_minutes_left=67,
        unplanned=("tail",),
        without_steps=("gear",),
    )
    bare = {name: replace(part, planned_minutes=None) for name, part in PARTS.items()}
    assert work_left(bare, STEPS, stands()) == WorkLeft(
        steps=5,
        steps_left=5,
        planned_minutes=None,
        planned_minutes_left=None,
        unplanned=("wing", "tail"),
        without_steps=("gear",),
    )


def made_of(parts: dict[str, Assembly], *, as_of: date, days: dict[date, int], done: dict[str, date]) -> Forecast:
    """The forecast of a log."""
    progress = {
        step: StepProgress(state=State.DONE, first_done_on=done[step]) if step in done else StepProgress()
        for step in STEPS
    }
    return forecast(
        assemblies=parts,
        steps=STEPS,
        progress=progress,
        minutes_on=days,
        minutes_by_assembly={},
        as_of=as_of,
    )


def test_assumptions_in_words() -> None:
    """What is not planned and what has no steps, by title."""
    made = made_of(PARTS, as_of=MONDAY + timedelta(days=13), days={MONDAY: 60}, done={})
    assert made.assumptions == (
        ALIKE.format("2 whole weeks"),
        EVENLY,
        COMPLETE,
        "without planned hours, so counted with the average step: Tail",
        "without steps, so not in it at all: Gear",
    )
    bare = {name: replace(part, planned_minutes=None) for name, part in PARTS.items()}
    assert made_of(bare, as_of=MONDAY + timedelta(days=6), days={MONDAY: 60}, done={}).assumptions == (
        ALIKE.format("1 whole week"),
        "no assembly has planned hours, so every step counts the same",
        COMPLETE,
        "without steps, so not in it at all: Gear",
    )


def test_a_step_that_was_opened_again_is_none_of_the_pace() -> None:
    """It was done once, and is left to do."""
    again = {step: StepProgress() for step in STEPS} | {"w0": StepProgress(first_done_on=MONDAY)}
    made = forecast(
        assemblies=PARTS,
        steps=STEPS,
        progress=again,
        minutes_on={MONDAY: 60},
        minutes_by_assembly={},
        as_of=MONDAY + timedelta(days=6),
    )
    assert (made.pace_weeks, made.pace_steps, made.left.steps_left) == (1, 0, 5)


def test_what_a_step_is_worth() -> None:
    """Its share of the plan of its part; without a plan the average of all that have one; without any plan one."""
    steps = STEPS | {"g": Step(id="g", assembly="gear", title="")}
    share = Fraction(100, 3)
    assert _worth(PARTS, {name: step for name, step in steps.items() if name != "s"}) == {
        **dict.fromkeys(("w0", "w1", "w2"), share),
        **dict.fromkeys(("t0", "t1"), Fraction(150, 4)),
        "g": Fraction(50),
    }
    assert _worth(PARTS, {"t0": steps["t0"]}) == {"t0": 1}


def test_parts_are_named_one_after_another() -> None:
    """Those without a plan, and those without steps, by title; a silence is told where it is a break."""
    left = WorkLeft(
        steps=1,
        steps_left=1,
        planned_minutes=1,
        planned_minutes_left=1,
        unplanned=("tail", "gear"),
        without_steps=("wing", "shop"),
    )
    said = _assumptions(PARTS, left, Rhythm(weeks=(1.0,) * 105, breaks=(), silent=4))
    assert said == (
        ALIKE.format("104 whole weeks"),
        EVENLY,
        COMPLETE,
        "no work is written down for the last 4 weeks, which is taken for a break that has not ended",
        "without planned hours, so counted with the average step: Tail, Gear",
        "without steps, so not in it at all: Wing, Shop",
    )
    assert _assumptions(PARTS, left, Rhythm(weeks=(1.0,), breaks=(), silent=3))[3].startswith("without planned hours")


@pytest.mark.parametrize(
    ("days_on", "weeks", "minutes", "steps"),
    [
        (5, 0, Fraction(0), Fraction(0)),
        (6, 1, Fraction(60), Fraction(1)),
        (7, 1, Fraction(60), Fraction(1)),
        (12, 1, Fraction(60), Fraction(1)),
        (13, 2, Fraction(60), Fraction(1)),
        (20, 3, Fraction(40), Fraction(2, 3)),
    ],
)
def test_weeks_run_from_monday_to_sunday(days_on: int, weeks: int, minutes: Fraction, steps: Fraction) -> None:
    """A week counts from its Sunday on; what is later than the day of the forecast does not."""
    made = made_of(
        PARTS,
        as_of=MONDAY + timedelta(days=days_on),
        days={
            MONDAY: 20,
            MONDAY + timedelta(days=2): 40,
            MONDAY + timedelta(days=7): 60,
            MONDAY + timedelta(days=99): 9,
        },
        done={"w0": MONDAY, "w1": MONDAY + timedelta(days=7), "s": MONDAY},
    )
    assert (made.pace_weeks, made.pace_minutes, made.pace_steps) == (weeks, minutes, steps)
    assert made.worked_weeks == min(weeks, 2)


def test_the_day_itself_is_part_of_its_week() -> None:
    """A Sunday on which the forecast is asked for counts; what is written down for later does not."""
    days = {MONDAY: 20, MONDAY + timedelta(days=6): 40, MONDAY + timedelta(days=7): 60}
    made = made_of(PARTS, as_of=MONDAY + timedelta(days=6), days=days, done={})
    assert (made.pace_weeks, made.pace_minutes) == (1, Fraction(60))


def test_the_range_is_from_the_tenth_part_of_the_runs_to_nine_tenths(monkeypatch: pytest.MonkeyPatch) -> None:
    """The middle is the half; where more than one run in ten has no end there is no latest month."""
    runs: list[float | None] = [5.0 * number for number in range(1000)]
    monkeypatch.setattr("journal.ledger.forecast.play", lambda rhythm, work: runs)
    made = told(20)
    assert [made.earliest, made.middle, made.latest] == [
        (made.as_of + timedelta(weeks=5 * number)).replace(day=1) for number in (99, 499, 899)
    ]
    runs[899:] = [None] * 101
    assert (told(20).latest, told(20).no_range) == (None, "")
    runs[99:] = [None] * 901
    assert told(20).no_range == "at the pace of the journal so far no end is in sight within thirty years"


def test_the_work_to_do_by_its_definition() -> None:
    """Parts at least half done tell how far off their plan is: a half more and a fifth less than planned. Standard
    deviation of the logarithms, with four usual ones beside them. 550 minutes were worked for 350 of worth.
    """
    done = {"a": 100.0, "b": 100.0, "c": 50.0, "d": 100.0}
    left = {"b": 100.0, "c": 150.0, "e": 70.0}
    logs = [math.log(1.5), math.log(0.8)]
    middle = sum(logs) / 2
    spread = math.sqrt((4 * 0.09 + sum((one - middle) ** 2 for one in logs)) / 5)
    made = work_to_do(left, done, {"a": 150, "b": 80, "c": 999, "d": 0}, 550.0)
    pace = 550 / 350
    assert made.parts == (
        # b is half done: half of its own way is taken, and half of the doubt is gone.
        pytest.approx((100 * pace * math.exp((logs[1] - middle) / 2), spread * math.sqrt(0.5))),
        pytest.approx((150 * pace, spread)),
        pytest.approx((70 * pace, spread)),
    )
    assert made.together == pytest.approx(math.hypot(0.15, spread * math.sqrt(100**2 * 3 + 50**2) / 350))
    # The last fifth of 670 is 134 of the 320 left; nearer the end all that is left belongs to it.
    assert made.end == pytest.approx(134 / 320)
    assert work_to_do({"b": 9.0}, done, {}, 550.0).end == 1
    # One part tells nothing of a spread.
    assert work_to_do(left, done, {"a": 150}, 550.0).parts[0][1] == pytest.approx(0.3)


def test_runs_come_sorted_and_never_ending_ones_last() -> None:
    """A thousand, in order; half as much work, or breaks that are seen, move them as they should."""
    steady = Rhythm(weeks=(60.0,) * 52, breaks=(), silent=0)
    work = WorkToDo(parts=((2400.0, 0.0),), together=0.0, end=0.0)

    def middle(rhythm: Rhythm, work: WorkToDo) -> float:
        runs = play(rhythm, work)
        assert len(runs) == 1000
        assert runs == sorted(runs, key=lambda run: (run is None, run or 0.0))
        assert runs[500] is not None
        return runs[500]

    # Forty weeks of work; half of the runs have no break, as half a one in a year counts as seen.
    assert 38 <= middle(steady, work) <= 46
    assert middle(steady, replace(work, parts=((1200.0, 0.0),))) < 0.6 * middle(steady, work)
    assert middle(steady, replace(work, end=1.0)) > 1.3 * middle(steady, work)
    assert middle(replace(steady, breaks=(26, 26)), work) > middle(steady, work) + 10
    # A break that lasted 20 weeks lasts 8 more in the middle, 20 * (sqrt(2) - 1); more with the other sums beside it.
    assert 8 <= middle(replace(steady, silent=20), work) - middle(steady, work) <= 14
    assert middle(replace(steady, silent=3), work) == middle(steady, work)
    assert play(steady, replace(work, parts=((1e6, 0.0),))) == [None] * 1000


@pytest.mark.parametrize(
    ("minutes", "weeks", "breaks", "silent"),
    [
        ([], (), (), 0),
        ([9.0], (9.0,), (), 0),
        ([9.0, 0.0, 0.0, 0.0, 8.0], (9.0, 0.0, 0.0, 0.0, 8.0), (), 0),
        ([9.0, 0.0, 0.0, 0.0, 0.0, 8.0], (9.0, 8.0), (4,), 0),
        ([9.0, 0.0, 0.0], (9.0, 0.0, 0.0), (), 2),
        ([*[0.0] * 5, 9.0, *[0.0] * 4], (9.0,), (5, 4), 4),
    ],
)
def test_four_weeks_without_work_are_a_break(
    minutes: list[float], weeks: tuple[float, ...], breaks: tuple[int, ...], silent: int
) -> None:
    """Shorter lulls belong to the pace; what has not ended is told beside."""
    assert _rhythm(minutes) == Rhythm(weeks=weeks, breaks=breaks, silent=silent)


USUAL = Rhythm(weeks=(60.0, 120.0, 0.0, 90.0) * 5, breaks=(5, 8), silent=0)
LONG = WorkToDo(parts=((2400.0, 0.3), (900.0, 0.1)), together=0.2, end=0.4)


@pytest.mark.parametrize(
    ("rhythm", "work", "runs"),
    [
        (USUAL, LONG, [15.687034, 38.529084, 73.589356, 151.541651, 431.252803]),
        (replace(USUAL, silent=4), LONG, [16.682923, 39.570683, 78.830906, 159.208714, 750.183862]),
        (
            replace(USUAL, weeks=(60.0,) * 30 + (120.0,) * 104, breaks=()),
            replace(LONG, end=1.0),
            [11.429714, 22.900853, 38.313021, 83.41934, 247.272765],
        ),
        (USUAL, replace(LONG, parts=((70000.0, 0.1),)), [366.836498, 879.067617, None, None, None]),
    ],
)
def test_chance_runs_to_the_figure(rhythm: Rhythm, work: WorkToDo, runs: list[float | None]) -> None:
    """First, tenth part, middle, nine tenths and last as last accepted: whoever changes them measures `HELD` anew."""
    made = play(rhythm, work)
    assert [run and round(run, 6) for run in (made[0], made[100], made[500], made[900], made[999])] == runs
