"""The trade's checks in one place: all findings over a build, and the small tables of one entry."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from journal.base.addresses import fold_name
from journal.base.formatting import say_count, say_date
from journal.base.model import Build, Entry, Measurement
from journal.base.problems import Problem, finding, sort_problems
from journal.ledger.materials import material_table
from journal.ledger.tally import check_tasks
from journal.trade.fasteners import rivet_table
from journal.trade.figures import TradeTable, findings_of
from journal.trade.measured import measured_findings
from journal.trade.torque import WRENCH_WORDS, overdue_since, torque_table


def check_trade(build: Build) -> tuple[Problem, ...]:
    """Everything outside a published limit, and every gap in materials and tasks, sorted. All are findings.

    Words: unknown-rivet, rivet-length, edge-distance, shop-head; unknown-bolt, torque-low, torque-high,
    torque-over-maximum; wrench-unlisted, wrench-overdue, tool-overdue; material-expired; paid-not-counted,
    task-no-photo, task-worked; not-as-called-for, outside-limits.
    """
    return sort_problems([*_entry_findings(build), *_measured_findings(build), *check_tasks(build)])


def _measured_findings(build: Build) -> Iterator[Problem]:
    for told in build.measurements:
        yield from measured_findings(told)
        instruments = re.split(r"[,;](?=\s|$)", told.instrument)
        yield from _overdue_tools(told, "instrument", instruments, build, set())


def _entry_findings(build: Build) -> Iterator[Problem]:
    for entry in build.entries:
        for fasteners in entry.fasteners:
            yield from findings_of(rivet_table(fasteners), entry.src_uri, fasteners.where)
        wrenches: set[str] = set()
        for setting in entry.torque:
            table = torque_table(setting, entry.date, build.calibrated_tools)
            for problem in findings_of(table, entry.src_uri, setting.where):
                # One wrench, one word about it: ten bolts on it are not ten mistakes.
                if problem.word not in WRENCH_WORDS or fold_name(setting.wrench) not in wrenches:
                    yield problem
            wrenches.add(fold_name(setting.wrench))
        yield from _overdue_tools(entry, "tools", entry.tools, build, wrenches)
        for material in entry.materials:
            table = material_table(build.materials[material], entry.date, build.records)
            yield from findings_of(table, entry.src_uri, entry.where.get("materials"))


def _overdue_tools(
    used: Entry | Measurement, key: str, names: Iterable[str], build: Build, told: set[str]
) -> Iterator[Problem]:
    """Tools that need calibration (tools.csv), used under `key` after their check had run out."""
    for name in map(str.strip, names):
        due = overdue_since(name, used.date, build.calibrated_tools)
        if due is not None and fold_name(name) not in told:
            yield finding(
                used.src_uri,
                used.where.get(key),
                "tool-overdue",
                f'"{name}" was due for its check on {say_date(due)}, '
                f"{say_count((used.date - due).days, 'day')} before this use (tools.csv)",
                "have it checked; if it reads false, go over what was measured with it",
            )


def compared_tables(entry: Entry, build: Build, *, everything: bool) -> tuple[TradeTable, ...]:
    """The small tables of one entry in the order written: rivets and bolts for anybody; `everything` adds the
    wrench's calibration, the materials and their papers, which belong to the record.
    """
    wrenches = build.calibrated_tools if everything else None
    materials = entry.materials if everything else ()
    return (
        *(rivet_table(fasteners) for fasteners in entry.fasteners),
        *(torque_table(setting, entry.date, wrenches) for setting in entry.torque),
        *(material_table(build.materials[name], entry.date, build.records) for name in materials),
    )
