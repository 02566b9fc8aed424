"""Sealant, primer, adhesive: in date when used, and each batch traced to its entries and its paper."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from journal.base.formatting import say_count, say_date, say_near
from journal.base.model import Build, Entry, Material, Record
from journal.base.problems import Problem, finding
from journal.trade.figures import NOT_GIVEN, Figure, Standing, TradeTable


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialTrace:
    """One batch: the entries that used it (journal order) and the record that came with it.

    `record` is None where materials.csv names none, or one that records.csv does not hold;
    `late` are the entries dated after the day it expired.
    """

    material: Material
    entries: tuple[Entry, ...]
    record: Record | None
    late: tuple[Entry, ...]


def trace_materials(build: Build) -> tuple[MaterialTrace, ...]:
    """Every material of materials.csv in its order, used or not."""
    papers = {record.file: record for record in build.records}
    used: dict[str, list[Entry]] = {material: [] for material in build.materials}
    for entry in build.entries:
        for material in dict.fromkeys(entry.materials):
            used[material].append(entry)
    return tuple(
        MaterialTrace(
            material=material,
            entries=tuple(used[material.id]),
            record=papers.get(material.record),
            # The printed day is the last good one (common practice, no source).
            late=tuple(entry for entry in used[material.id] if material.expires and entry.date > material.expires),
        )
        for material in build.materials.values()
    )


TOLD_AHEAD = timedelta(days=60)
"""How long before it runs out a shelf life is told."""


def check_shelf_lives(build: Build, today: date) -> Iterator[Problem]:
    """`material-expiring` for each batch that runs out within `TOLD_AHEAD` and is not used up."""
    for material in build.materials.values():
        if material.expires is None or material.used_up or not today <= material.expires <= today + TOLD_AHEAD:
            continue
        hint = "use it in time or order another; write yes or the day under used_up once it is used up"
        said = say_shelf_life(material, today)
        yield finding("content/materials.csv", material.where, "material-expiring", said, hint)


def say_shelf_life(material: Material, today: date) -> str:
    """`Sealant, batch B131 expires on 30 June 2027, in 214 days`: the printed day is the last good one."""
    batch = f", batch {material.batch}" if material.batch else ""
    if material.expires is None:
        return f"{material.name}{batch}: expiry not given"
    expires = "expires" if material.expires >= today else "expired"
    return f"{material.name}{batch} {expires} on {say_date(material.expires)}, {say_near(material.expires, today)}"


def material_table(material: Material, used_on: date, records: Sequence[Record] | None = None) -> TradeTable:
    """The small table of one material in an entry; `records` is records.csv, None where papers may not be
    shown. Findings that may come of it: material-expired.
    """
    return TradeTable(
        title=material.name,
        lead=f"batch {material.batch}" if material.batch else "batch not recorded",
        figures=(_shelf_life(material, used_on), *_paper(material, records)),
    )


def _shelf_life(material: Material, used_on: date) -> Figure:
    used = f"used {say_date(used_on)}"
    if material.expires is None:
        return Figure(what="shelf life", recorded=used, table=f"expiry {NOT_GIVEN}", source="materials.csv")
    late = (used_on - material.expires).days
    expires = say_date(material.expires)
    return Figure(
        what="shelf life",
        recorded=used,
        table=f"expires {expires}",
        source="materials.csv",
        standing=Standing.LATE if late > 0 else Standing.IN_DATE,
        remark=f"used {say_count(late, 'day')} after it expired on {expires}" if late > 0 else "",
        word="material-expired",
        hint="test it and write how, or do the work over with a fresh batch; the maker's sheet decides",
    )


def _paper(material: Material, records: Iterable[Record] | None) -> tuple[Figure, ...]:
    if records is None:
        return ()
    lost = bool(material.record) and all(record.file != material.record for record in records)
    stands = Standing.NOTE if lost else Standing.SHOWN
    remark = "not in records.csv" if lost else ""
    paper = material.record or NOT_GIVEN
    return (Figure(what="paper", recorded=paper, source="materials.csv", standing=stands, remark=remark),)
