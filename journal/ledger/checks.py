"""The trade's checks in one place: all findings over a build, and the small tables of one entry."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from journal.base.addresses import fold_name
from journal.base.formatting import say_count, say_date
from journal.base.model import SOFT, Build, CalibratedTool, Entry, FastenerSet, Measurement
from journal.base.problems import Problem, finding, sort_problems
from journal.ledger.callouts import callouts_for, check_callouts, lines_of, replaced_by
from journal.ledger.materials import material_table
from journal.ledger.progress import Progress
from journal.ledger.tally import check_tasks
from journal.trade.fasteners import rivet_table
from journal.trade.figures import TradeTable, findings_of
from journal.trade.measured import measured_findings
from journal.trade.torque import WRENCH_WORDS, overdue_since, torque_table


def check_trade(build: Build, progress: Progress) -> tuple[tuple[Problem, ...], Mapping[Problem, str]]:
    """(everything that is not as called for, unsafe by every source, out of date, and every gap in materials and tasks,
    sorted; those of them that were drilled out and set anew -> the entry that did it). All are findings.

    Words: not-as-called-for, call-out-unusual; rivet-length, edge-distance, shop-head; drag-missing, drag-unusual,
    torque-low, torque-over-maximum; wrench-unlisted, wrench-overdue, tool-overdue; material-expired; paid-not-counted,
    task-no-photo, task-worked; outside-limits.
    """
    replaced = replaced_by(build)
    anew: dict[Problem, str] = {}
    problems = [*check_callouts(build, progress), *check_tasks(build), *_measured(build)]
    for entry in build.entries:
        wrenches: set[str] = set()
        for line, table in zip(lines_of(entry), _line_tables(entry, build, build.calibrated_tools), strict=True):
            for problem in findings_of(table, entry.src_uri, line.where):
                # One wrench, one word about it: ten bolts on it are not ten mistakes.
                if problem.word in WRENCH_WORDS and fold_name(getattr(line, "wrench", "")) in wrenches:
                    continue
                problems.append(problem)
                # Metal that was drilled away has no edge to come back.
                if (entry.id, line) in replaced and "edge distance" not in problem.message:
                    anew[problem] = replaced[entry.id, line]
            wrenches.add(fold_name(getattr(line, "wrench", "")))
        problems += _overdue_tools(entry, "tools", entry.tools, build, wrenches)
        for material in entry.materials:
            table = material_table(build.materials[material], entry.date, build.records)
            problems += findings_of(table, entry.src_uri, entry.where.get("materials"))
    return sort_problems(problems), anew


def _measured(build: Build) -> Iterator[Problem]:
    for told in build.measurements:
        yield from measured_findings(told, build.callouts)
        instruments = re.split(r"[,;](?=\s|$)", told.instrument)
        yield from _overdue_tools(told, "instrument", instruments, build, set())


def _line_tables(entry: Entry, build: Build, wrenches: tuple[CalibratedTool, ...] | None) -> Iterator[TradeTable]:
    soft = not SOFT.isdisjoint(build.construction)
    for line in lines_of(entry):
        callouts = callouts_for(entry, line, build)
        if isinstance(line, FastenerSet):
            yield rivet_table(line, callouts)
        else:
            yield torque_table(line, entry.date, wrenches, callouts, soft=soft)


def _overdue_tools(
    used: Entry | Measurement, key: str, names: Iterable[str], build: Build, told: set[str]
) -> Iterator[Problem]:
    """Tools that need calibration (tools.csv), used under `key` after their check had run out."""
    for name in map(str.strip, names):
        due = overdue_since(name, used.date, build.calibrated_tools)
        if due is not None and fold_name(name) not in told:
            late = say_count((used.date - due).days, "day")
            said = f'"{name}" was due for its check on {say_date(due)}, {late} before this use (tools.csv)'
            hint = "have it checked; if it reads false, go over what was measured with it"
            yield finding(used.src_uri, used.where.get(key), "tool-overdue", said, hint)


def compared_tables(entry: Entry, build: Build, *, everything: bool) -> tuple[TradeTable, ...]:
    """The small tables of one entry in the order written: rivets and bolts for anybody; `everything` adds the
    wrench's calibration, the materials and their papers, which belong to the record.
    """
    wrenches = build.calibrated_tools if everything else None
    if not everything and (entry.fasteners or entry.torque):
        # What is asked of the steps of an entry kept back would tell of it.
        hidden = {None, *(other.id for other in build.entries if other.private or other.draft)}
        rivets = (replace(one, drilled_out=None) if one.drilled_out in hidden else one for one in entry.fasteners)
        bolts = (replace(one, drilled_out=None) if one.drilled_out in hidden else one for one in entry.torque)
        entry = replace(entry, fasteners=tuple(rivets), torque=tuple(bolts))
    materials = entry.materials if everything else ()
    return (
        *_line_tables(entry, build, wrenches),
        *(material_table(build.materials[name], entry.date, build.records) for name in materials),
    )
