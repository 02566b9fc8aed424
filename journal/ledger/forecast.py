"""Where the build stands: the work left, the pace, and an honest range for the month it may be done.

Work is measured in planned minutes: a step is worth its assembly's planned hours divided by its steps
(the average worth where an assembly has no plan; one where there is no plan at all). A week of the
log thus has a worth earned, and that already holds the builder's own hours and how far the plan was off.

The range comes from resampling those weeks: a two-level circular block bootstrap with a fixed seed
(blocks of eight weeks keep holidays and spurts together, Politis and Romano 1992; the outer level, a
resampled log for each run, stands for not knowing the true pace from so few weeks, Efron 1979).
In every run each assembly's remaining work is also stretched or shrunk by a chance factor of mean one, as
plans are off by different amounts, and so is the whole, as the pace was measured on only a few assemblies.
How much plans are off is taken from the assemblies that are at least half done.
How often such a range holds on simulated builds is measured by benchmarks/forecast_backtest.py.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from random import Random

from journal.base.formatting import say_count
from journal.base.model import Assembly, State, Step, StepProgress

PACE_WEEKS = 13
LEAST_WORKED_WEEKS = 8
WINDOW_WEEKS = 104
BLOCK_WEEKS = 8
RUNS = 1000
SEED = 20260110
LIMIT_WEEKS = 30 * 52
USUAL_SPREAD = 0.3
"""Standard deviation of the logarithm of actual to planned hours between assemblies where the log cannot
tell: a plan is off by about a third either way (assumed, no source).
"""
SPREAD_WEIGHT = 4
"""The assumed spread counts as much as that many assemblies seen."""
LOW, HIGH = Fraction(1, 10), Fraction(9, 10)


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkLeft:
    """Steps and planned minutes of the assemblies that count and have steps.

    `planned_minutes` and `planned_minutes_left` are None where no assembly has planned hours; the
    part left of an assembly is its planned time times its share of steps not done. `unplanned` are
    assemblies with steps and no plan, `without_steps` those of which no step says how far they are.
    """

    steps: int
    steps_left: int
    planned_minutes: int | None
    planned_minutes_left: int | None
    unplanned: tuple[str, ...]
    without_steps: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """Where the build stands at the end of `as_of`, and when it may be done.

    `pace_minutes` and `pace_steps` are per week over the last `pace_weeks` whole weeks (at most 13).
    `earliest`, `middle` and `latest` are first days of months: the range holds in about 8 of 10 cases
    of the simulated back-test. They are None where `no_range` says why there is no figure; `latest` alone
    is None where more than one run in ten is not done in thirty years.
    """

    as_of: date
    left: WorkLeft
    worked_weeks: int
    pace_weeks: int
    pace_minutes: Fraction
    pace_steps: Fraction
    earliest: date | None
    middle: date | None
    latest: date | None
    no_range: str
    assumptions: tuple[str, ...]


def work_left(
    assemblies: Mapping[str, Assembly], steps: Mapping[str, Step], progress: Mapping[str, StepProgress]
) -> WorkLeft:
    """What is still to do, by steps and by planned hours."""
    counted = {step.id: step for step in steps.values() if assemblies[step.assembly].counts}
    left = [step for step in counted.values() if progress[step.id].state is not State.DONE]
    stepped = {step.assembly for step in counted.values()}
    planned = {
        name: assembly.planned_minutes
        for name, assembly in assemblies.items()
        if name in stepped and assembly.planned_minutes is not None
    }
    worth = _worth(assemblies, counted)
    return WorkLeft(
        steps=len(counted),
        steps_left=len(left),
        planned_minutes=sum(planned.values()) if planned else None,
        planned_minutes_left=round(sum((worth[step.id] for step in left if step.assembly in planned), Fraction(0)))
        if planned
        else None,
        unplanned=tuple(name for name in assemblies if name in stepped and name not in planned),
        without_steps=tuple(name for name, assembly in assemblies.items() if assembly.counts and name not in stepped),
    )


def _worth(assemblies: Mapping[str, Assembly], counted: Mapping[str, Step]) -> dict[str, Fraction]:
    """Step ID -> planned minutes; see the head of this module."""
    number = Counter(step.assembly for step in counted.values())
    planned = {
        name: Fraction(minutes, count)
        for name, count in number.items()
        if (minutes := assemblies[name].planned_minutes) is not None
    }
    weight = sum(number[name] for name in planned)
    average = sum((planned[name] * number[name] for name in planned), Fraction(0)) / weight if weight else Fraction(1)
    return {step.id: planned.get(step.assembly, average) for step in counted.values()}


def forecast(
    *,
    assemblies: Mapping[str, Assembly],
    steps: Mapping[str, Step],
    progress: Mapping[str, StepProgress],
    minutes_on: Mapping[date, int],
    minutes_by_assembly: Mapping[str, int],
    as_of: date,
) -> Forecast:
    """Where the build stands at the end of `as_of`; same input, same figures.

    `minutes_on` holds the person-minutes of every worked day on assemblies that count,
    `minutes_by_assembly` those worked on each assembly so far. Weeks run from
    Monday to Sunday; the week of `as_of` is left out unless `as_of` is its Sunday, as it is not over.
    """
    counted = {step.id: step for step in steps.values() if assemblies[step.assembly].counts}
    worth = _worth(assemblies, counted)
    left = work_left(assemblies, steps, progress)
    worked = [day for day in minutes_on if day <= as_of]
    first = _monday(min(worked, default=as_of))
    weeks = max(0, (_monday(as_of + timedelta(days=1)) - first).days // 7)
    earned = [Fraction(0)] * weeks
    done = [0] * weeks
    for name in counted:
        done_on = progress[name].first_done_on
        if progress[name].state is State.DONE and done_on is not None:
            week = (done_on - first).days // 7
            if 0 <= week < weeks:
                earned[week] += worth[name]
                done[week] += 1
    minutes = [0] * weeks
    worked_in = set()
    for day in worked:
        week = (day - first).days // 7
        worked_in.add(week)
        if week < weeks:
            minutes[week] += minutes_on[day]
    worked_weeks = sum(week in worked_in for week in range(weeks))
    pace_weeks = min(PACE_WEEKS, weeks)

    remaining: dict[str, Fraction] = defaultdict(Fraction)
    finished: dict[str, Fraction] = defaultdict(Fraction)
    for step in counted.values():
        (finished if progress[step.id].state is State.DONE else remaining)[step.assembly] += worth[step.id]
    no_range = _why_no_range(left, worked_weeks, earned[-WINDOW_WEEKS:])
    months: list[date | None] = [None, None, None]
    if not no_range:
        durations = resample(
            [float(week) for week in earned[-WINDOW_WEEKS:]],
            [float(work) for work in remaining.values()],
            [float(work) for work in finished.values()],
            plan_spread(assemblies, counted, progress, minutes_by_assembly),
        )
        said = [durations[int(share * (RUNS - 1))] for share in (LOW, Fraction(1, 2), HIGH)]
        if said[0] is None:
            no_range = "at the pace of the log so far no end is in sight within thirty years"
        else:
            months = [_month_after(as_of, run) for run in said]
    return Forecast(
        as_of=as_of,
        left=left,
        worked_weeks=worked_weeks,
        pace_weeks=pace_weeks,
        pace_minutes=Fraction(sum(minutes[-PACE_WEEKS:]), pace_weeks) if pace_weeks else Fraction(0),
        pace_steps=Fraction(sum(done[-PACE_WEEKS:]), pace_weeks) if pace_weeks else Fraction(0),
        earliest=months[0],
        middle=months[1],
        latest=months[2],
        no_range=no_range,
        assumptions=_assumptions(assemblies, left, min(weeks, WINDOW_WEEKS)),
    )


def _why_no_range(left: WorkLeft, worked_weeks: int, earned: Sequence[Fraction]) -> str:
    if not left.steps:
        return "no steps are listed, so nothing says how much is left"
    if not left.steps_left:
        return "every step is done"
    if worked_weeks < LEAST_WORKED_WEEKS:
        return (
            f"{say_count(worked_weeks, 'whole week')} with work so far; "
            f"a range is shown from {LEAST_WORKED_WEEKS} on, as fewer say too little"
        )
    if not any(earned):
        return "no step was finished in the weeks looked at"
    return ""


def plan_spread(
    assemblies: Mapping[str, Assembly],
    steps: Mapping[str, Step],
    progress: Mapping[str, StepProgress],
    minutes_by_assembly: Mapping[str, int],
) -> float:
    """How differently assemblies keep to their plan: standard deviation of log(actual / planned) over
    those at least half done, drawn towards `USUAL_SPREAD` while they are few.
    """
    logs = []
    for name, assembly in assemblies.items():
        own = [step.id for step in steps.values() if step.assembly == name]
        done = sum(progress[step].state is State.DONE for step in own)
        worked = minutes_by_assembly.get(name, 0)
        if own and assembly.planned_minutes and worked and 2 * done >= len(own):
            logs.append(math.log(worked * len(own) / (assembly.planned_minutes * done)))
    middle = sum(logs) / len(logs) if logs else 0.0
    squares = sum((each - middle) ** 2 for each in logs)
    # One assembly tells nothing of a spread, so one is taken off as usual.
    seen = max(0, len(logs) - 1)
    return math.sqrt((SPREAD_WEIGHT * USUAL_SPREAD**2 + squares) / (SPREAD_WEIGHT + seen))


def resample(
    earned: Sequence[float], remaining: Sequence[float], finished: Sequence[float], spread: float
) -> list[float | None]:
    """Weeks until all `remaining` work is earned, sorted, one for each of `RUNS` runs; None (at the end) where
    a run takes more than `LIMIT_WEEKS`.

    `earned` is the worth of each past week, oldest first; `remaining` and `finished` the worth left and
    earned in each assembly; `spread` how differently assemblies keep to their plan (`plan_spread`).
    """
    random = Random(SEED)
    count = len(earned)
    block = max(1, min(BLOCK_WEEKS, count // 4))
    # The pace is an average over the assemblies worked on: the fewer, the more their plans colour it.
    whole = spread * math.hypot(*finished) / sum(finished)
    durations: list[float | None] = []
    for _run in range(RUNS):
        world: list[float] = []
        while len(world) < count:
            start = random.randrange(count)
            world.extend(earned[(start + offset) % count] for offset in range(block))
        del world[count:]
        left = sum(work * _factor(random, spread) for work in remaining) * _factor(random, whole)
        durations.append(_play(world, block, left, random))
    return sorted(durations, key=lambda weeks: (weeks is None, weeks or 0.0))


def _factor(random: Random, spread: float) -> float:
    """A chance factor of mean one."""
    return math.exp(random.gauss(-spread * spread / 2, spread))


def _play(world: Sequence[float], block: int, remaining: float, random: Random) -> float | None:
    """Weeks until `remaining` is earned by blocks of weeks drawn from `world`."""
    if not any(world):
        return None
    count = len(world)
    total, weeks = 0.0, 0
    while weeks < LIMIT_WEEKS:
        start = random.randrange(count)
        for offset in range(block):
            week = world[(start + offset) % count]
            if total + week >= remaining:
                return weeks + (remaining - total) / week if week else float(weeks)
            total += week
            weeks += 1
    return None


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def _month_after(as_of: date, weeks: float | None) -> date | None:
    return None if weeks is None else (as_of + timedelta(days=round(weeks * 7))).replace(day=1)


def _assumptions(assemblies: Mapping[str, Assembly], left: WorkLeft, weeks: int) -> tuple[str, ...]:
    """What the range takes for granted, in words to stand beside it."""
    said = [
        f"the weeks to come are like the last {say_count(weeks, 'whole week')} of this log, "
        "holidays and lulls included",
        "steps count by the planned hours of their assembly, divided evenly over its steps"
        if left.planned_minutes is not None
        else "no assembly has planned hours, so every step counts the same",
        "the list of steps is complete, and reopened or repeated work stays as rare as it was",
    ]
    if left.planned_minutes is not None and left.unplanned:
        titles = ", ".join(assemblies[name].title for name in left.unplanned)
        said.append(f"without planned hours, so counted with the average step: {titles}")
    if left.without_steps:
        titles = ", ".join(assemblies[name].title for name in left.without_steps)
        said.append(f"without steps, so not in it at all: {titles}")
    return tuple(said)
