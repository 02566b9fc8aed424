"""Bolts: what the kit's manual asks of a recorded setting, and what the published table says beside it.

Source of the rules: AC 43.13-1B par. 7-40 (wrench setting = table torque + friction drag; a wrench
is checked once a year at least), Table 7-1 with par. 7-44 (bands and maximum allowable). That AN3 is No. 10
and AN4 to AN20 are sixteenths of an inch, and what the letters after the number mean, is from memory.
"""

from __future__ import annotations

import re
from calendar import monthrange
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from functools import lru_cache
from typing import Any

from journal.base.addresses import fold_name
from journal.base.callout_words import GRIP, LOCK, THREADS, TORQUED
from journal.base.formatting import say_count, say_date
from journal.base.model import CalibratedTool, CallOut, Nut, TorqueSetting
from journal.base.quantities import Dimension, Limit, Quantity, parse_quantity, say_figure, say_gap, say_torque
from journal.trade.callouts import ADDED, Judged, about, judge_figure, judge_part, judge_words, say_place
from journal.trade.fasteners import DEPARTS, as_judged
from journal.trade.figures import NOT_GIVEN, Figure, Standing, TradeTable
from journal.trade.hardware import read_part, same_part
from journal.trade.tables import TorqueRow, least_drags, torque_rows

DRAG_SOURCE = "AC 43.13-1B par. 7-40"
CALIBRATION_SOURCE = "AC 43.13-1B par. 7-40 as two works quote it"
USUAL_MONTHS = 12
"""How often a wrench is checked where tools.csv does not say: once a year at least (par. 7-40)."""

WRENCH_WORDS = frozenset({"wrench-unlisted", "wrench-overdue"})

_AN_BOLT = re.compile(
    r"AN(?P<number>[0-9]{1,2})(?P<material>DD|C)?(?P<drilled>H)?(?:(?:-|(?<=[A-Z]))[0-9]{1,3}[A-Z]{0,2})?"
)
_THREAD = re.compile(r"(?:NO\.? ?|# ?)?(?P<size>[0-9]{1,2}|[0-9]/[0-9]{1,2}|1-1/[0-9]) ?- ?(?P<per_inch>[0-9]{1,2})")


@dataclass(frozen=True, slots=True, kw_only=True)
class Bolt:
    """A bolt or thread understood: its row of the table, and what is to be said of its material."""

    row: TorqueRow
    remark: str = ""


def parse_bolt(text: str) -> tuple[Bolt | None, str]:
    """(the bolt, "") or (None, why no table speaks of it) of `AN4-10A`, `AN3`, `1/4-28`, `No. 10-32`."""
    written = " ".join(re.sub("[‐‑–—−]", "-", text).upper().split())
    if found := _THREAD.fullmatch(written):
        row = torque_rows().get(f"{found['size']}-{found['per_inch']}")
        return (Bolt(row=row), "") if row else (None, "is a thread for which there is no table here")
    part = read_part(text)
    found = _AN_BOLT.fullmatch(part.number)
    if not found:
        return (
            None,
            f"is a {part.kind} for which there is no table here" if part.kind else "is not a bolt or thread known here",
        )
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


@dataclass(frozen=True, slots=True, kw_only=True)
class NutUsed:
    """What is known of a nut: the columns of the table that may be meant, and whether it locks by itself (None where
    that is not told).
    """

    loads: tuple[Nut, ...]
    locks: bool | None
    part: bool = False

    def fits(self, asked: NutUsed) -> bool:
        """Whether nothing that is known of either speaks against it; two parts are compared by their numbers."""
        same_lock = None in (self.locks, asked.locks) or self.locks == asked.locks
        return not (self.part and asked.part) and same_lock and not set(self.loads).isdisjoint(asked.loads)


def read_nut(text: str) -> NutUsed:
    """A nut by its part number (MS20365-428, AN310-4), or by words: tension, shear, castle, plain, self-locking …"""
    family = read_part(text).family
    if family and family.kind in ("nut", "nutplate"):
        return NutUsed(loads=(family.load,) if family.load else tuple(Nut), locks=family.locks, part=True)
    folded = re.sub("self[ -]?lock", "lock", text.casefold())
    loads = [
        load for load, words in ((Nut.SHEAR, ("shear", "thin")), (Nut.TENSION, ("tension",))) if _any(words, folded)
    ]
    plain = _any(("castle", "castellated", "slotted", "plain", "check", "jam", "wing", "none"), folded)
    locks = True if "lock" in folded else False if plain else None
    return NutUsed(loads=tuple(loads) or tuple(Nut), locks=locks, part=bool(re.search("[0-9]", text)))


def nut_thread(text: str) -> str:
    """The thread of a nut's part number, by its dash: -428 is 1/4-28, -1032 is 10-32, -5 goes on an AN5 (from memory);
    empty where it does not tell.
    """
    found = re.search(r"-([0-9]{1,4})[A-Z]*$", read_part(text).number)
    dash = found[1].lstrip("0") if found else ""
    for row in torque_rows().values():
        size, _, per_inch = row.thread.rpartition("-")
        if dash and dash in (row.an_bolt[2:], row.an_bolt[2:] + per_inch, size + per_inch):
            return row.thread
    return ""


def _any(words: Sequence[str], text: str) -> bool:
    return any(word in text for word in words)


JOINTS_OF_METAL = (
    "from memory: these bands are for joints of metal; a bolt through wood or composite can crush it below them, and "
    "the plans’ own figure holds"
)


@lru_cache(maxsize=20_000)
def torque_table(
    setting: TorqueSetting,
    used_on: date,
    calibrated: tuple[CalibratedTool, ...] | None = None,
    callouts: tuple[CallOut, ...] = (),
    *,
    soft: bool = False,
) -> TradeTable:
    """The small table of one recorded torque: what `callouts` (those that bear upon it) ask, and what the published
    table says beside; `calibrated` is tools.csv, None where it may not be shown. `soft`: the bolt may go through wood
    or composite, so that too little by the table is no finding.

    Findings that may come of it: not-as-called-for; call-out-unrecorded; drag-missing; where no call-out speaks,
    torque-low and torque-over-maximum, for what every source calls unsafe; drag-unusual, wrench-unlisted,
    wrench-overdue.
    """
    bolt, why = parse_bolt(setting.bolt)
    nut = read_nut(setting.nut)
    asked = [called for called in about(callouts, TORQUED) if speaks_of(called.part, setting)]
    kit = [called for called in asked if called.judges and called.limit]
    needed = any(called.drag == ADDED or called.drag_limit for called in kit)
    lacking = setting.drag is None and (needed or (nut.locks is True and not kit and not setting.source))
    judged = judge_figure(setting.value, asked, setting.drag.value if setting.drag else None)
    if lacking and any(called.drag == ADDED for called in kit):
        judged = Judged(asked=judged.asked, remark="not compared: the drag is not recorded")
    part = _part(setting.bolt, callouts, why)
    used = [row for row in (part, nut_figure(setting, callouts)) if row.called_for or row.remark]
    free = not kit and not setting.source and not lacking and not part.standing.found
    figures = [*used, _setting(setting, bolt, nut, judged, free=free, soft=soft)]
    if bolt:
        figures.append(_maximum(setting, bolt, nut, free=free))
    figures.append(_drag(setting, bolt, nut, asked, lacking=lacking))
    figures += _locking(setting, about(callouts, LOCK))
    for what, said, figure, words in (
        ("grip", setting.grip.text if setting.grip else "", setting.grip, GRIP),
        ("threads showing", setting.threads, parse_quantity(setting.threads, Dimension.NUMBER), THREADS),
        ("source", setting.source, None, frozenset[str]()),
    ):
        held = judge_figure(figure, about(callouts, words), named=what)
        if said or held.asked:
            figures.append(as_judged(what, said or NOT_GIVEN, held))
    if setting.wrench and calibrated is not None:
        figures.append(_wrench(setting.wrench, used_on, calibrated))
    lead = f"thread {bolt.row.thread}, {bolt.row.series}; {bolt.remark}".removesuffix("; ") if bolt else ""
    nut_words = setting.nut and not re.search("nut|[0-9]", setting.nut.casefold())
    said = ", ".join(filter(None, (setting.bolt, f"{setting.nut} nut" if nut_words else setting.nut)))
    counted = f" · {say_count(setting.count, 'piece')}" if setting.count is not None else ""
    return TradeTable(title=said + counted, lead=lead, figures=tuple(figures))


def _locking(setting: TorqueSetting, asked: Sequence[CallOut]) -> Iterator[Figure]:
    """How the bolt is locked; told where the manual asks for a lock and none is written down."""
    locking = judge_words(setting.locked, asked)
    if setting.locked:
        yield as_judged("locked by", setting.locked, locking)
    elif locking.asked:
        missing = any(called.judges for called in asked)
        yield Figure(
            what="locked by",
            recorded=NOT_GIVEN,
            called_for=locking.asked,
            standing=Standing.LATE if missing else Standing.SHOWN,
            remark=f"{locking.asked} is called for, and no lock is recorded" if missing else "",
            word=UNRECORDED,
            hint="look whether it is there and write `locked: …`",
        )


UNRECORDED = "call-out-unrecorded"
"""The code word of what the kit's manual asks for and nothing tells of."""


def speaks_of(part: str, setting: TorqueSetting) -> bool:
    """Whether a call-out for `part` speaks of this setting: of its bolt, its thread or its nut; of no part, of any."""
    if not part or same_part(part, setting.bolt) or same_part(part, setting.nut):
        return True
    (asked, _), (bolt, _) = parse_bolt(part), parse_bolt(setting.bolt)
    return bool(_THREAD.fullmatch(part.strip()) and asked and bolt and asked.row is bolt.row)


def torque_limits(row: TorqueRow, drag: Limit | None) -> Limit:
    """From the lowest band to the highest maximum allowable of any source and nut, with the drag a call-out gives."""
    lowest = min(band.least for load in Nut for band in (row.bands[load], *row.others[load]))
    most = max(row.maximum.values()) + (drag.most if drag and drag.most else 0)
    return Limit(least=lowest, most=most, dimension=Dimension.TORQUE)


def _part(used: str, callouts: Sequence[CallOut], why: str) -> Figure:
    """The bolt against those asked for. Threads and nuts are no bolts to compare with."""
    named = [
        called
        for called in about(callouts, TORQUED - {"nut"})
        if not _THREAD.fullmatch(called.part.strip()) and read_part(called.part).kind != "nut"
    ]
    thread = _THREAD.fullmatch(" ".join(used.upper().split()))
    judged = Judged() if thread else judge_part(used, named)
    return as_judged("bolt", used, judged, f"{why}: not compared with handbooks" if why else "")


def nut_figure(setting: TorqueSetting, callouts: Sequence[CallOut]) -> Figure:
    """The nut against those asked for of its size: by its part, or where one of the two is told in words by what these
    say.
    """
    bolt, nut = parse_bolt(setting.bolt)[0], read_nut(setting.nut)
    named = [
        called
        for called in about(callouts, TORQUED)
        if called.part and (called.what == "nut" or read_part(called.part).kind == "nut")
        if bolt is None or nut_thread(called.part) in ("", bolt.row.thread)
    ]
    fits = [called for called in named if nut.fits(read_nut(called.part)) or same_part(called.part, setting.nut)]
    judged = Judged(asked="; ".join(one.part for one in named))
    if setting.nut and named:
        judged = judge_part(fits[0].part if fits else setting.nut, fits or named)
    return as_judged("nut", setting.nut or NOT_GIVEN, judged)


def _setting(
    setting: TorqueSetting, bolt: Bolt | None, nut: NutUsed, judged: Judged, *, free: bool, soft: bool
) -> Figure:
    """The wrench setting; without a call-out it is told where it lies under the lowest band of all, drag added."""
    drag = setting.drag.value if setting.drag else Fraction(0)
    table = source = ""
    standing, remark, word = judged.standing, judged.remark, DEPARTS
    if bolt:
        said, sources, lowest = _bands(bolt.row, nut)
        added = f" + drag {say_figure(drag, Dimension.TORQUE)}" if drag else ""
        table, source = f"{said}{added}", "; ".join(dict.fromkeys(sources))
        low = lowest + drag - setting.value.value
        if free and not soft and low - setting.value.half - (setting.drag.half if setting.drag else 0) > 0:
            standing, word = Standing.BEYOND, "torque-low"
            remark = f"{setting.value.text} is {say_gap(low, Dimension.TORQUE)} under the lowest band, {table}"
        note = bolt.row.note if bolt.row.estimated in ("", *(load.value for load in nut.loads)) else ""
        remark = "; ".join(filter(None, (remark, note, JOINTS_OF_METAL if soft else "")))
    return Figure(
        what="wrench setting",
        recorded=_both(setting.value),
        table=table,
        source=source,
        called_for=judged.asked,
        standing=standing,
        remark=remark,
        word=word,
        hint="check the unit, the nut and the drag, and the torque that the kit's manual gives"
        + ("; where its value is without drag, write `added` under drag in callouts.csv" if word is DEPARTS else ""),
    )


def _bands(row: TorqueRow, nut: NutUsed) -> tuple[str, list[str], Fraction]:
    """(the bands of every source for this nut in words, their sources, the lowest of all)."""
    said, sources, lowest = [], [], []
    for load in nut.loads:
        for band in (row.bands[load], *row.others[load]):
            kind = f"{load.value} nut " if len(nut.loads) > 1 else ""
            least, most = (
                say_figure(Fraction(end), Dimension.TORQUE).partition(" (")[2][:-1] for end in (band.least, band.most)
            )
            metric = f"{least.split(',')[0].removesuffix(' N m')} to {most.split(',')[0]}"
            said.append(f"{kind}{band.least} to {band.most} in-lb ({metric})")
            sources.append(band.source)
            lowest.append(band.least)
    return "; ".join(said), sources, min(lowest)


def _both(torque: Quantity) -> str:
    """As written, with the other units beside."""
    said = say_figure(torque.value, Dimension.TORQUE)
    return said if said.startswith(torque.text) else f"{torque.text} = {said}"


def _maximum(setting: TorqueSetting, bolt: Bolt, nut: NutUsed, *, free: bool) -> Figure:
    """The maximum allowable, the highest that any source gives, is held against the setting less the drag."""
    most = max(bolt.row.maximum[load] for load in nut.loads)
    drag = setting.drag
    over = setting.value.value - (drag.value if drag else 0) - most
    beyond = free and over - setting.value.half - (drag.half if drag else 0) > 0
    return Figure(
        what="maximum allowable",
        recorded="",
        table=f"{say_figure(most, Dimension.TORQUE)} without drag: a limit, not a target",
        source=bolt.row.source,
        standing=Standing.BEYOND if beyond else Standing.SHOWN,
        remark=f"{setting.value.text}"
        + (f" less the drag of {drag.text}" if drag else "")
        + f" is {say_gap(over, Dimension.TORQUE)} over the maximum allowable of {say_torque(most)}"
        if beyond
        else "",
        word="torque-over-maximum",
        hint="show bolt, nut and threads to your adviser before they are used any further",
    )


def _drag(
    setting: TorqueSetting, bolt: Bolt | None, nut: NutUsed, asked: Sequence[CallOut], *, lacking: bool
) -> Figure:
    """The friction drag: as the manual has it; asked for where the nut locks by itself; told where it is larger than
    the highest band itself, or under the least that any source gives for a self-locking nut of that size.
    """
    with_limit = [
        CallOut(what="drag", value=called.drag, limit=called.drag_limit, page=called.page, edition=called.edition)
        for called in asked
        if called.drag_limit
    ]
    judged = judge_figure(setting.drag, with_limit, named="drag")
    told: dict[str, Any] = {"standing": judged.standing, "remark": judged.remark, "word": DEPARTS}
    row, drag = bolt.row if bolt else None, setting.drag
    source = DRAG_SOURCE
    if lacking:
        why = "a self-locking nut has drag"
        for called in asked:
            if called.drag:
                added = called.drag == ADDED
                why = "the manual's value is without drag" if added else f"a drag of {called.drag} is called for"
                why += f" ({say_place(called)})"
        said = f"{why}, and none is recorded, so the setting is not compared"
        told = {"standing": Standing.LATE, "word": "drag-missing", "remark": said}
    elif row and drag and judged.standing is Standing.SHOWN:
        most = max(band.most for load in nut.loads for band in (row.bands[load], *row.others[load]))
        least = min(least_drags().get(row.thread, ()), key=lambda band: band.least, default=None)
        if drag.value - drag.half > most:
            said = f"a drag of {drag.text} is larger than the highest band itself, {say_torque(most)}"
            told = {"standing": Standing.BEYOND, "remark": said, "word": "drag-unusual"}
        elif least and nut.locks and drag.value + drag.half < least.least:
            said = f"a drag of {drag.text} is under the {say_torque(least.least)}"
            said, source = f"{said} that a self-locking nut of this size has", least.source
            told = {"standing": Standing.BEYOND, "remark": said, "word": "drag-unusual"}
    elif drag is None and nut.locks is None and not judged.asked:
        told["remark"] = "compared as if there were none; a self-locking nut has drag"
    return Figure(
        what="friction drag",
        recorded=_both(drag) if drag else NOT_GIVEN,
        table="wrench setting = table torque + drag, measured as the nut is run down",
        source=DRAG_SOURCE,
        called_for=judged.asked,
        hint="measure it as the nut is run down and write `drag: …`; a nut with too little of it is replaced",
        limit_source=source,
        **told,
    )


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
    listed, checks, due = _checks_before(name, used_on, calibrated)
    told: dict[str, Any] = {"table": "checked once a year at least", "source": CALIBRATION_SOURCE}
    if not listed:
        told |= {
            "standing": Standing.LATE,
            "remark": f'wrench "{name}" is not in tools.csv, so nothing shows that it was in calibration',
            "word": "wrench-unlisted",
            "hint": "add it to content/tools.csv with the day it was last checked",
        }
    elif due is None:
        after = f"checked on {say_date(checks[0])}, after this use; an earlier check is not" if checks else ""
        told |= {"standing": Standing.NOTE, "remark": f"{after or 'the day of its check is not'} recorded"}
    else:
        late = (used_on - due).days
        told = {
            "table": f"checked on {say_date(checks[-1])}, good to {say_date(due)}",
            "source": f"tools.csv; {CALIBRATION_SOURCE}",
            "standing": Standing.LATE if late > 0 else Standing.IN_DATE,
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
