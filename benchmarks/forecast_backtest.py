"""How often the finishing range holds: simulated builds, stopped half-way, asked, and then played to the end.

    python benchmarks/forecast_backtest.py [--builds 150] [--seed 1] [--plan-spread 0.25]

Each simulated build has assemblies whose true hours differ from the plan (the plan as a whole and each
assembly by itself), steps of very unequal size, and a builder of one of five kinds: steady, seasonal,
with long breaks, slowly losing or gaining pace, or all of these together. Every build is asked when 20, 35, 50,
65 and 80 % of its planned worth is done. The forecast sees only what a journal would hold at that day.

Printed: for each kind and each stage the share of true finishing months within the range, the
median width of the range, and how often the truth lies before and after it. The aim is 70 to 90 %
over all; the exit code is 1 outside it.
"""

from __future__ import annotations

import argparse
import math
import statistics
import sys
import time
from dataclasses import dataclass
from datetime import date, timedelta
from random import Random

from journal.base.model import Assembly, State, Step, StepProgress
from journal.ledger.forecast import forecast

KINDS = ("steady", "seasonal", "breaks", "drifting", "everything")
STAGES = (0.20, 0.35, 0.50, 0.65, 0.80)
BEGUN = date(2020, 1, 6)
LEAST, MOST = 0.70, 0.90


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedBuild:
    """A whole build as it truly went: minutes by day, in all and for each assembly, and the day on which
    each step was finished.
    """

    assemblies: dict[str, Assembly]
    steps: dict[str, Step]
    minutes_on: dict[date, int]
    minutes_at: dict[str, dict[date, int]]
    done_on: dict[str, date]

    @property
    def finished(self) -> date:
        """The day of the last step."""
        return max(self.done_on.values())


def simulate(kind: str, random: Random, plan_spread: float) -> SimulatedBuild:
    """Play one build of a builder of `kind` from the first step to the last."""
    assemblies: dict[str, Assembly] = {}
    steps: dict[str, Step] = {}
    true_minutes: dict[str, float] = {}
    plan_off = random.lognormvariate(0.0, 0.25)
    for number in range(random.randint(6, 12)):
        name = f"a{number}"
        planned = random.randint(30, 260)
        assemblies[name] = Assembly(id=name, title=name, planned_minutes=planned * 60)
        count = random.randint(12, 60)
        sizes = [random.lognormvariate(0.0, 0.7) for _ in range(count)]
        factor = plan_off * random.lognormvariate(0.0, plan_spread) * planned * 60 / sum(sizes)
        for index, size in enumerate(sizes):
            step = f"{number}.{index}"
            steps[step] = Step(id=step, assembly=name, title=step)
            true_minutes[step] = size * factor

    hours_a_week = random.uniform(5, 16)
    seasonal = random.uniform(0.2, 0.6) if kind in ("seasonal", "everything") else 0.0
    phase = random.uniform(0, 2 * math.pi)
    stop, resume = {
        "steady": (0.04, 0.8),
        "seasonal": (0.05, 0.7),
        "breaks": (0.05, 0.18),
        "drifting": (0.05, 0.6),
        "everything": (0.06, 0.3),
    }[kind]
    drift = random.gauss(0.0, 0.0015) if kind in ("drifting", "everything") else 0.0
    wander = 0.03 if kind in ("drifting", "everything") else 0.0

    minutes_on: dict[date, int] = {}
    done_on: dict[str, date] = {}
    minutes_at: dict[str, dict[date, int]] = {name: {} for name in assemblies}

    def book(step: str, day: date, minutes: float) -> None:
        at = minutes_at[steps[step].assembly]
        at[day] = at.get(day, 0) + round(minutes)

    waiting = iter(true_minutes.items())
    step, need = next(waiting)
    working, level, week = True, 0.0, 0
    while True:
        working = random.random() >= stop if working else random.random() < resume
        level += drift + random.gauss(0.0, wander)
        season = 1 + seasonal * math.sin(2 * math.pi * week / 52 + phase)
        if working and week < 4000:
            hours = random.gammavariate(2.5, hours_a_week / 2.5) * season * math.exp(level)
            days = sorted(random.sample(range(7), random.randint(1, 4)))
            for day in days:
                today = BEGUN + timedelta(weeks=week, days=day)
                left = hours * 60 / len(days)
                minutes_on[today] = round(left)
                while left >= need:
                    left -= need
                    book(step, today, need)
                    done_on[step] = today
                    following = next(waiting, None)
                    if following is None:
                        return SimulatedBuild(
                            assemblies=assemblies,
                            steps=steps,
                            minutes_on=minutes_on,
                            minutes_at=minutes_at,
                            done_on=done_on,
                        )
                    step, need = following
                need -= left
                book(step, today, left)
        week += 1
        if week >= 4000:
            return simulate(
                kind, random, plan_spread
            )  # a builder who gives up never finishes, so nothing can be checked


def stage_days(build: SimulatedBuild) -> list[date]:
    """The days on which the build has earned 20, 35 … % of its planned worth."""
    worth = {
        step.id: (build.assemblies[step.assembly].planned_minutes or 0)
        / sum(other.assembly == step.assembly for other in build.steps.values())
        for step in build.steps.values()
    }
    total, earned, days = sum(worth.values()), 0.0, []
    stages = list(STAGES)
    for step, day in sorted(build.done_on.items(), key=lambda pair: pair[1]):
        earned += worth[step]
        while stages and earned >= stages[0] * total:
            stages.pop(0)
            days.append(day)
    return days


def held(build: SimulatedBuild, as_of: date) -> tuple[str, float] | None:
    """(`within`, `early` or `late`, width of the range in months), or None where no range is given."""
    progress = {
        step: StepProgress(state=State.DONE, first_done_on=build.done_on[step])
        if build.done_on[step] <= as_of
        else StepProgress()
        for step in build.steps
    }
    said = forecast(
        assemblies=build.assemblies,
        steps=build.steps,
        progress=progress,
        minutes_on={day: minutes for day, minutes in build.minutes_on.items() if day <= as_of},
        minutes_by_assembly={
            name: sum(minutes for day, minutes in at.items() if day <= as_of) for name, at in build.minutes_at.items()
        },
        as_of=as_of,
    )
    if said.earliest is None:
        return None
    month = build.finished.replace(day=1)
    latest = said.latest or date(9999, 1, 1)
    width = (latest.year - said.earliest.year) * 12 + latest.month - said.earliest.month + 1
    return ("early" if month < said.earliest else "late" if month > latest else "within"), width


def main() -> int:
    """Run the back-test and print its tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--builds", type=int, default=150, help="simulated builds, spread over the five kinds")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--plan-spread", type=float, default=0.25, help="how differently assemblies keep to plan (log)")
    options = parser.parse_args()
    random = Random(options.seed)
    started = time.perf_counter()
    answers: dict[tuple[str, float], list[tuple[str, float]]] = {}
    silent = 0
    for number in range(options.builds):
        kind = KINDS[number % len(KINDS)]
        build = simulate(kind, random, options.plan_spread)
        for stage, day in zip(STAGES, stage_days(build), strict=True):
            answer = held(build, day)
            if answer is None:
                silent += 1
            else:
                answers.setdefault((kind, stage), []).append(answer)
    print(
        f"{options.builds} builds, seed {options.seed}, {time.perf_counter() - started:.0f} s; {silent} without a range"
    )
    print(f"{'':12}{'held':>8}{'early':>8}{'late':>8}{'width':>14}{'n':>6}")
    groups = {kind: [key for key in answers if key[0] == kind] for kind in KINDS}
    groups |= {f"{stage:.0%} done": [key for key in answers if key[1] == stage] for stage in STAGES}
    groups["all"] = list(answers)
    share = 0.0
    for name, keys in groups.items():
        found = [answer for key in keys for answer in answers[key]]
        if not found:
            continue
        share, early, late = (
            sum(word == wanted for word, _ in found) / len(found) for wanted in ("within", "early", "late")
        )
        width = statistics.median(months for _, months in found)
        print(f"{name:12}{share:8.1%}{early:8.1%}{late:8.1%}{width:7.0f} months{len(found):6}")
    print(f"an 80 % range should hold {LEAST:.0%} to {MOST:.0%} of the time: it held {share:.1%}")
    return 0 if LEAST <= share <= MOST else 1


if __name__ == "__main__":
    sys.exit(main())
