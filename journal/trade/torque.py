"""Bolts: thread and nut found in the published table, and the recorded setting held against its band.

Source of the rules: AC 43.13-1B par. 7-40 (wrench setting = table torque + friction drag; a wrench
is checked once a year at least), Table 7-1 with par. 7-44 (bands and maximum allowable). That AN3 is No. 10
and AN4 to AN20 are sixteenths of an inch, and what the letters after the number mean, is from memory.
"""

from __future__ import annotations

import re
from calendar import monthrange
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from functools import lru_cache
from typing import Any

from journal.base.addresses import fold_name
from journal.base.formatting import say_count, say_date
from journal.base.model import CalibratedTool, TorqueSetting
from journal.base.quantities import say_decimal, say_newton_metres, say_torque
from journal.trade.figures import NOT_GIVEN, Figure, Standing, TradeTable, unread
from journal.trade.tables import Band, TorqueRow, torque_rows

DRAG_SOURCE = "AC 43.13-1B par. 7-40"
CALIBRATION_SOURCE = "AC 43.13-1B par. 7-40 as two works quote it"
USUAL_MONTHS = 12
"""How often a wrench is checked where tools.csv does not say: once a year at least (par. 7-40)."""

WRENCH_WORDS = frozenset({"wrench-unlisted", "wrench-overdue"})

READ_HINT = "bolts are read as AN4-10A or by their thread, as 1/4-28 or 10-32; anything else is kept and not checked"

_AN_BOLT = re.compile(
    r"AN ?-?(?P<number>[0-9]{1,2})(?P<material>DD|C)?(?P<drilled>H)?(?:(?: ?- ?| |(?<=[A-Z]))[0-9]{1,3}[A-Z]{0,2})?"
)
_THREAD = re.compile(r"(?:NO\.? ?|# ?)?(?P<size>[0-9]{1,2}|[0-9]/[0-9]{1,2}|1-1/[0-9]) ?- ?(?P<per_inch>[0-9]{1,2})")


@dataclass(frozen=True, slots=True, kw_only=True)
class Bolt:
    """A bolt or thread understood: its row of the table, and what is to be said of its material."""

    row: TorqueRow
    remark: str = ""


def parse_bolt(text: str) -> tuple[Bolt | None, str]:
    """(the bolt, "") or (None, why it cannot be read) of `AN4-10A`, `AN3`, `1/4-28`, `No. 10-32`."""
    written = " ".join(re.sub("[‐‑–−]", "-", text).upper().split())
    if found := _THREAD.fullmatch(written):
        row = torque_rows().get(f"{found['size']}-{found['per_inch']}")
        return (Bolt(row=row), "") if row else (None, "is a thread for which there is no table here")
    found = _AN_BOLT.fullmatch(written)
    if not found:
        return None, "is not a bolt or thread known here"
    rows = [row for row in torque_rows().values() if row.an_bolt == f"AN{int(found['number'])}"]
    if not rows:
        return None, "is not a bolt of the AN3 to AN20 series for which there is a table here"
    if found["material"] == "DD":
        return None, "is an aluminium-alloy bolt (DD, from memory), and the table read here is for steel"
    remark = (
        "AN number "
        + rows[0].source_bolt
        + (
            "; corrosion-resistant steel (C, from memory): the table is for cadmium-plated threads"
            if found["material"] == "C"
            else ""
        )
    )
    return Bolt(row=rows[0], remark=remark), ""


@lru_cache(maxsize=20_000)
def torque_table(
    setting: TorqueSetting, used_on: date, calibrated: tuple[CalibratedTool, ...] | None = None
) -> TradeTable:
    """The small table of one recorded torque; `calibrated` is tools.csv, None where it may not be shown.

    Findings that may come of it: unknown-bolt, torque-low, torque-high, torque-over-maximum,
    wrench-unlisted, wrench-overdue.
    """
    bolt, why = parse_bolt(setting.bolt)
    wrench = (_wrench(setting.wrench, used_on, calibrated),) if setting.wrench and calibrated is not None else ()
    title = f"{setting.bolt}, {setting.nut.value} nut"
    if bolt is None:
        remark = f"the bolt {why}, so its torque of {say_torque(setting.value)} is not checked"
        figure = unread("bolt", setting.bolt, remark, word="unknown-bolt", hint=READ_HINT)
        return TradeTable(kind="torque", title=title, lead="", figures=(figure, *wrench))
    lead = f"thread {bolt.row.thread}, {bolt.row.series}" + (f"; {bolt.remark}" if bolt.remark else "")
    return TradeTable(
        kind="torque",
        title=title,
        lead=lead,
        figures=(_band(setting, bolt), _maximum(setting, bolt), _drag(setting), *wrench),
    )


def _say_band(band: Band) -> str:
    return f"{band.least} to {band.most} in-lb"


def _band(setting: TorqueSetting, bolt: Bolt) -> Figure:
    row, nut, drag = bolt.row, setting.nut, setting.drag or 0
    band = row.bands[nut]
    low, high = band.least + drag, band.most + drag
    with_drag = f" + drag {say_torque(setting.drag)}" if setting.drag else ""
    said = f"{_say_band(band)}{with_drag}"
    table = said
    if setting.drag:
        table += f" = {say_decimal(low, 1)} to {say_torque(high)}"
    table += f" ({say_newton_metres(low).removesuffix(' N m')} to {say_newton_metres(high)})"
    table += "".join(f"; another publication: {_say_band(other)}" for other in row.others[nut])
    source = "; ".join([band.source, *(other.source for other in row.others[nut])])
    standing, remark, word = Standing.WITHIN, "", ""
    if setting.value < low:
        standing, word = Standing.OUTSIDE, "torque-low"
        remark = f"{say_torque(setting.value)} is {_gap(low - setting.value)} under the band {said}"
    elif setting.value > high:
        standing, word = Standing.OUTSIDE, "torque-high"
        remark = f"{say_torque(setting.value)} is {_gap(setting.value - high)} over the band {said}"
    elif any(not other.least + drag <= setting.value <= other.most + drag for other in row.others[nut]):
        standing, remark = Standing.NOTE, "within the band kept here, outside that of another publication"
    hint = ""
    if word and setting.drag is None:
        hint = "the drag is not given: with a self-locking nut measure it and record it"
    notes = [remark, row.note if row.note and row.estimated in ("", nut.value) else ""]
    return Figure(
        what="wrench setting",
        recorded=f"{say_torque(setting.value)} ({say_newton_metres(setting.value)})",
        table=table,
        source=source,
        standing=standing,
        remark="; ".join(note for note in notes if note),
        word=word,
        hint=hint or "check the unit, the nut and the drag, and the torque that the kit's manual gives",
    )


def _maximum(setting: TorqueSetting, bolt: Bolt) -> Figure:
    """The maximum allowable is held against the setting less the drag, as the table knows no drag."""
    most = bolt.row.maximum[setting.nut]
    over = setting.value - (setting.drag or 0) - most
    return Figure(
        what="maximum allowable",
        recorded="",
        table=f"{say_torque(most)} ({say_newton_metres(most)}) without drag: a limit, not a target",
        source=bolt.row.source,
        standing=Standing.OUTSIDE if over > 0 else Standing.WITHIN,
        remark=f"{say_torque(setting.value)}"
        + (f" less the drag of {say_torque(setting.drag)}" if setting.drag else "")
        + f" is {_gap(over)} over the maximum allowable of {say_torque(most)}"
        if over > 0
        else "",
        word="torque-over-maximum",
        hint="show bolt, nut and threads to your adviser before they are used any further",
    )


def _drag(setting: TorqueSetting) -> Figure:
    given = setting.drag is not None
    return Figure(
        what="friction drag",
        recorded=say_torque(setting.drag) if setting.drag is not None else NOT_GIVEN,
        table="wrench setting = table torque + drag, measured as the nut is run down",
        source=DRAG_SOURCE,
        remark="" if given else "compared as if there were none; a self-locking nut has drag",
    )


def _gap(in_lb: Fraction) -> str:
    """How far off a limit, never said as nothing."""
    return say_torque(in_lb) if in_lb >= Fraction(1, 10) else "less than 0.1 in-lb"


def due_after(checked_on: date, months: int) -> date:
    """The last day on which a tool checked on `checked_on` is in date: `months` later, the same day of
    the month or the month's last.
    """
    year, month = divmod(checked_on.year * 12 + checked_on.month - 1 + months, 12)
    return date(year, month + 1, min(checked_on.day, monthrange(year, month + 1)[1]))


def _checks_before(
    name: str, used_on: date, calibrated: Sequence[CalibratedTool]
) -> tuple[bool, list[date], date | None]:
    """(whether tools.csv has the tool, the days of its checks, the last good day of the check that held on
    `used_on`, if any did). Several rows of one tool are its checks, one after another; the last on or before
    the day of use holds.
    """
    rows = [tool for tool in calibrated if fold_name(tool.name) == fold_name(name)]
    checks = sorted((tool.checked_on, tool.check_every_months or USUAL_MONTHS) for tool in rows if tool.checked_on)
    before = [check for check in checks if check[0] <= used_on]
    return bool(rows), [day for day, _ in before or checks], due_after(*before[-1]) if before else None


def _wrench(name: str, used_on: date, calibrated: Sequence[CalibratedTool]) -> Figure:
    """Whether the wrench was in date when it was used."""
    listed, checks, due = _checks_before(name, used_on, calibrated)
    told: dict[str, Any] = {"table": "checked once a year at least", "source": CALIBRATION_SOURCE}
    if not listed:
        told |= {
            "standing": Standing.OUTSIDE,
            "remark": f'wrench "{name}" is not in tools.csv, so nothing shows that it was in calibration',
            "word": "wrench-unlisted",
            "hint": "add it to content/tools.csv with the day it was last checked",
        }
    elif due is None:
        told |= {
            "standing": Standing.NOTE,
            "remark": f"checked on {say_date(checks[0])}, after this use; an earlier check is not recorded"
            if checks
            else "the day of its check is not recorded",
        }
    else:
        late = (used_on - due).days
        told = {
            "table": f"checked on {say_date(checks[-1])}, good to {say_date(due)}",
            "source": f"tools.csv; {CALIBRATION_SOURCE}",
            "standing": Standing.OUTSIDE if late > 0 else Standing.WITHIN,
            "remark": f'wrench "{name}" was due for its check on {say_date(due)}, '
            f"{say_count(late, 'day')} before this use"
            if late > 0
            else "",
            "word": "wrench-overdue",
            "hint": "have it checked; if it reads false, go over what was torqued with it",
        }
    return Figure(what="torque wrench", recorded=name, **told)


def overdue_since(name: str, used_on: date, calibrated: Sequence[CalibratedTool]) -> date | None:
    """The day on which the check of a tool of tools.csv ran out before `used_on`; None where it was in
    date, has no check before that day, or is not in the list.
    """
    _, _, due = _checks_before(name, used_on, calibrated)
    return due if due is not None and due < used_on else None
