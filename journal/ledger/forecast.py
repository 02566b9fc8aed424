"""Where the build stands: the work left, the pace, and an honest range for the month it may be done.

Work is measured in planned minutes: a step is worth its assembly's planned hours divided by its steps
(the average worth where an assembly has no plan; one where there is no plan at all).

The range comes from chance runs with a fixed seed. Hours left: the worth left in each assembly, times hours
worked for a planned hour so far; an assembly goes its own way as far as it is done, and the way of all as far as it
is not (shrunk towards all). Weeks: those hours by the pace of the weeks outside breaks. Breaks, four weeks or more
without work, come as often and last as long as those seen and a few assumed ones. What a journal cannot tell before it
happens, rework and a slow end, is assumed. Silence up to the day is a break that has not ended.
"""

from __future__ import annotations

import itertools
import math
import statistics
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from random import Random

from journal.base.formatting import say_count
from journal.base.model import Assembly, State, Step, StepProgress

HELD = {"calm": (86, 92), "harsh": (75, 88)}
"""Per cent of simulated builds whose end lay in the range: the least and the most of those asked at 25, 50 and
75 % done. Measured by benchmarks/forecast_backtest.py with seed 20261201; after a change measure them anew, and write
them here and in docs/trade.md.
"""
PACE_WEEKS = 13
LEAST_WORKED_WEEKS = 8
WINDOW_WEEKS = 104
BREAK_WEEKS = 4
"""So many weeks in a row without work are a break; shorter lulls belong to the pace."""
LONGEST_SILENCE = 52
"""Weeks without work after which no range is told."""
RUNS = 1000
SEED = 20260110
LIMIT_WEEKS = 30 * 52
LOW, HIGH = Fraction(1, 10), Fraction(9, 10)

# What the journal cannot tell, or tells too late: assumed, no source, and tried on simulated builds.
USUAL_SPREAD = 0.3
"""Standard deviation of the logarithm of actual to planned hours between assemblies."""
SPREAD_WEIGHT = 4
"""It counts as much as that many assemblies seen."""
USUAL_BREAKS = (4, 6, 9, 13, 20, 30)
"""Weeks that breaks last."""
USUAL_BREAKS_SEEN = (0.5, 52)
"""Half a break in a year counts as seen before the journal begins."""
DRIFT = 0.15
"""Standard deviation of the logarithm of a pace against the same a year later."""
REWORK = 0.15
"""Likewise of the hours left: work done over, forgotten or not needed."""
END_SHARE, SLOW_END, NO_SLOW_END = 0.2, 0.8, 0.15
"""The last fifth of the work takes longer: not at all in one run of six, in the middle 0.4 times, seldom far more."""


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
    `earliest`, `middle` and `latest` are first days of months, none before the month of `as_of`; how often they
    held is in `HELD`. They are None where `no_range` says why there is no figure; `latest` alone is None where more
    than one run in ten is not done in thirty years.
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
        if (minutes := assemblies[name].planned_minutes)
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

    `minutes_on` holds the person-minutes of every worked day on assemblies that count (0 where no hours are told),
    `minutes_by_assembly` those worked on each assembly so far. Weeks run from
    Monday to Sunday; the week of `as_of` is left out unless `as_of` is its Sunday, as it is not over.
    """
    counted = {step.id: step for step in steps.values() if assemblies[step.assembly].counts}
    worth = _worth(assemblies, counted)
    left = work_left(assemblies, steps, progress)
    worked = {day: spent for day, spent in minutes_on.items() if day <= as_of}
    # A day without hours is worth as much as the others.
    usual = statistics.fmean(filter(None, worked.values())) if any(worked.values()) else 60.0
    first = _monday(min(worked, default=as_of))
    weeks = (_monday(as_of + timedelta(days=1)) - first).days // 7
    minutes, filled, done = Counter[int](), [0.0] * (weeks + 1), Counter[int]()
    for day, spent in worked.items():
        minutes[(day - first).days // 7] += spent
        filled[(day - first).days // 7] += spent or usual
    remaining: dict[str, float] = defaultdict(float)
    finished: dict[str, float] = defaultdict(float)
    for step in counted.values():
        stands = progress[step.id]
        (finished if stands.state is State.DONE else remaining)[step.assembly] += float(worth[step.id])
        if stands.state is State.DONE and stands.first_done_on:
            done[(stands.first_done_on - first).days // 7] += 1
    worked_weeks = sum(map(bool, filled[:weeks]))
    pace_weeks = min(PACE_WEEKS, weeks)
    recent = range(weeks - pace_weeks, weeks)
    rhythm = _rhythm(filled[: weeks + bool(filled[weeks])])
    no_range = _why_no_range(left, worked_weeks, bool(finished), rhythm)
    months: list[date | None] = [None, None, None]
    if not no_range:
        work = work_to_do(remaining, finished, minutes_by_assembly, sum(filled))
        durations = play(rhythm, work)
        said = [durations[int(share * (RUNS - 1))] for share in (LOW, Fraction(1, 2), HIGH)]
        if said[0] is None:
            no_range = "at the pace of the journal so far no end is in sight within thirty years"
        else:
            months = [_month_after(as_of, run) for run in said]
    return Forecast(
        as_of=as_of,
        left=left,
        worked_weeks=worked_weeks,
        pace_weeks=pace_weeks,
        pace_minutes=Fraction(sum(minutes[week] for week in recent), pace_weeks) if pace_weeks else Fraction(0),
        pace_steps=Fraction(sum(done[week] for week in recent), pace_weeks) if pace_weeks else Fraction(0),
        earliest=months[0],
        middle=months[1],
        latest=months[2],
        no_range=no_range,
        assumptions=_assumptions(assemblies, left, rhythm),
    )


def _why_no_range(left: WorkLeft, worked_weeks: int, begun: bool, rhythm: Rhythm) -> str:
    if not left.steps:
        return "no steps are listed, so nothing says how much is left"
    if not left.steps_left:
        return "every step is done"
    if worked_weeks < LEAST_WORKED_WEEKS:
        return (
            f"{say_count(worked_weeks, 'whole week')} with work so far; "
            f"a range is shown from {LEAST_WORKED_WEEKS} on, as fewer say too little"
        )
    if rhythm.silent > LONGEST_SILENCE:
        return (
            f"no work on the build is written down for the last {say_count(rhythm.silent, 'week')}, and whether it "
            "goes on no journal can tell; a range is shown again once there is some"
        )
    if not begun:
        return "no step is finished, so nothing says how fast the work goes"
    return ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rhythm:
    """How the weeks went: minutes of each week outside breaks, oldest first, the length of each break
    in weeks, and the weeks without work up to now.
    """

    weeks: tuple[float, ...]
    breaks: tuple[int, ...]
    silent: int


def _rhythm(minutes: Sequence[float]) -> Rhythm:
    runs = [(works, list(run)) for works, run in itertools.groupby(minutes, bool)]
    breaks = [len(run) for works, run in runs if not works and len(run) >= BREAK_WEEKS]
    weeks = [week for works, run in runs if works or len(run) < BREAK_WEEKS for week in run]
    worked, last = runs[-1] if runs else (True, [])
    return Rhythm(weeks=tuple(weeks), breaks=tuple(breaks), silent=0 if worked else len(last))


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkToDo:
    """What is left: of each assembly its likely minutes with the spread of their logarithm, the spread of all of them
    together, and the share of them that belongs to the end of the build.
    """

    parts: tuple[tuple[float, float], ...]
    together: float
    end: float


def work_to_do(
    remaining: Mapping[str, float], finished: Mapping[str, float], minutes_at: Mapping[str, int], minutes: float
) -> WorkToDo:
    """From the worth left and done in each assembly, the minutes worked there, and all `minutes` worked.

    An assembly at least half done tells how far its plan is off, and all of them how differently plans are.
    """
    done, left = sum(finished.values()), sum(remaining.values())
    share = {name: part / (part + remaining.get(name, 0.0)) for name, part in finished.items()}
    off = {
        name: math.log(minutes_at[name] / finished[name])
        for name, known in share.items()
        if known >= 0.5 and minutes_at.get(name)
    }
    middle = statistics.fmean(off.values()) if off else 0.0
    squares = sum((each - middle) ** 2 for each in off.values())
    # One assembly tells nothing of a spread, so one is taken off as usual.
    spread = math.sqrt((SPREAD_WEIGHT * USUAL_SPREAD**2 + squares) / (SPREAD_WEIGHT + max(0, len(off) - 1)))
    parts = []
    for name, part in remaining.items():
        known = share[name] if name in off else 0.0
        own = math.exp(known * (off[name] - middle)) if name in off else 1.0
        parts.append((part * minutes / done * own, spread * math.sqrt(1 - known)))
    # The fewer assemblies were worked on, the more their plans colour the whole.
    together = math.hypot(REWORK, spread * math.hypot(*finished.values()) / done)
    return WorkToDo(parts=tuple(parts), together=together, end=min(1.0, END_SHARE * (done + left) / left))


def play(rhythm: Rhythm, work: WorkToDo) -> list[float | None]:
    """Weeks until the work is done, sorted, one for each of `RUNS` runs; None (at the end) where a run takes more
    than `LIMIT_WEEKS`.
    """
    random = Random(SEED)
    weeks = rhythm.weeks[-WINDOW_WEEKS:]
    pace = statistics.fmean(weeks)
    # Good and bad weeks come in spells, so the mean of few of them is known half as well as of independent ones.
    wobble = 2 * statistics.pstdev(weeks) / pace / math.sqrt(len(weeks))
    seen = USUAL_BREAKS_SEEN[0] + len(rhythm.breaks), USUAL_BREAKS_SEEN[1] + len(rhythm.weeks)
    durations: list[float | None] = []
    for _run in range(RUNS):
        minutes = _about(random, sum(_about(random, *part) for part in work.parts), work.together)
        slower = max(0.0, random.expovariate(1 / SLOW_END) - NO_SLOW_END)
        busy = minutes * (1 + work.end * slower) / pace
        busy *= math.exp(random.gauss(0.0, math.hypot(wobble, DRIFT * min(1.5, math.sqrt(busy / 52)))))
        # A break under way lasts the longer, the longer it lasted.
        total = busy + (rhythm.silent * (random.random() ** -0.5 - 1) if rhythm.silent >= BREAK_WEEKS else 0.0)
        often = random.gammavariate(seen[0], 1 / seen[1])
        after = random.expovariate(often)
        while after < busy and total <= LIMIT_WEEKS:
            known = random.random() * (len(rhythm.breaks) + 2) < len(rhythm.breaks)
            total += random.choice(rhythm.breaks if known else USUAL_BREAKS)
            after += random.expovariate(often)
        durations.append(total if total <= LIMIT_WEEKS else None)
    return sorted(durations, key=lambda run: (run is None, run or 0.0))


def _about(random: Random, likely: float, spread: float) -> float:
    """`likely` times a chance factor of mean one."""
    return likely * math.exp(random.gauss(-spread * spread / 2, spread))


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def _month_after(as_of: date, weeks: float | None) -> date | None:
    return None if weeks is None else (as_of + timedelta(days=round(weeks * 7))).replace(day=1)


def _assumptions(assemblies: Mapping[str, Assembly], left: WorkLeft, rhythm: Rhythm) -> tuple[str, ...]:
    """What the range takes for granted, in words to stand beside it."""
    weeks = min(len(rhythm.weeks), WINDOW_WEEKS)
    said = [
        f"the weeks to come go at the pace of the last {say_count(weeks, 'whole week')} outside breaks, "
        "and breaks come as they did, or about once in two years where none did",
        "steps count by the planned hours of their assembly, divided evenly over its steps, and the hours left are as "
        "far off the plan as those worked"
        if left.planned_minutes is not None
        else "no assembly has planned hours, so every step counts the same",
        "the list of steps is complete; some work is done over, and the last fifth takes longer than planned "
        "(assumed, no source)",
    ]
    if rhythm.silent >= BREAK_WEEKS:
        silent = say_count(rhythm.silent, "week")
        said.append(f"no work is written down for the last {silent}, which is taken for a break that has not ended")
    if left.planned_minutes is not None and left.unplanned:
        titles = ", ".join(assemblies[name].title for name in left.unplanned)
        said.append(f"without planned hours, so counted with the average step: {titles}")
    if left.without_steps:
        titles = ", ".join(assemblies[name].title for name in left.without_steps)
        said.append(f"without steps, so not in it at all: {titles}")
    return tuple(said)
