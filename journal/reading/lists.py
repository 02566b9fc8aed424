"""The CSV lists beside the entries: records, inventory, tasks, materials, tools, costs."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from pathlib import Path

from journal.base.model import Assembly, CalibratedTool, Cost, InventoryItem, Material, Record, Task
from journal.base.problems import did_you_mean
from journal.reading.entries import Known, read_step_ids
from journal.reading.table import Row, Table, parse_whole, read_table
from journal.reading.text import Notes
from journal.reading.tree import Scalar


def read_records(path: Path, folder: Path, notes: Notes) -> tuple[Record, ...]:
    """records.csv; a record that is named but missing is an error, one that is not listed a finding."""
    table = read_table(path, ("file", "date", "kind", "title"), ("note",), notes)
    records: dict[str, Record] = {}
    for row in table:
        file = table.required(row, "file")
        if file is None:
            continue
        if file in records:
            table.error(row, "file", "record-twice", f'"{file}" is listed twice', "keep one row")
            continue
        outside = Path(file).is_absolute() or ".." in Path(file).parts
        if outside or not _is_there(folder / file):
            names = [found.name for found in folder.iterdir()] if folder.is_dir() else []
            hint = did_you_mean(file, names)
            table.error(
                row,
                "file",
                "record-missing",
                f'there is no file "{file}" in content/records',
                hint if hint.startswith("did") else "copy it there",
            )
        records[file] = Record(
            file=file,
            date=table.date(row, "date"),
            kind=row.text("kind"),
            title=row.text("title") or file,
            note=row.text("note"),
            where=row.where,
        )
    return tuple(records.values())


def _is_there(path: Path) -> bool:
    """Whether a file lies there; a name that no disk takes lies nowhere."""
    try:
        return path.is_file()
    except OSError:
        return False


def unlisted_records(folder: Path, records: tuple[Record, ...], notes: Notes) -> None:
    """Note the files of content/records/ that records.csv does not list."""
    listed = {record.file for record in records}
    found = sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
    for name in found:
        if name not in listed and name != "records.csv" and not any(part.startswith(".") for part in name.split("/")):
            notes.finding(
                None,
                "record-unlisted",
                f'"{name}" is not listed in records.csv',
                "add a row for it",
            )


def read_inventory(path: Path, notes: Notes) -> tuple[InventoryItem, ...]:
    """inventory.csv."""
    table = read_table(
        path,
        ("crate", "part", "description", "listed", "found"),
        ("condition", "where", "checked_on", "by"),
        notes,
    )
    items = []
    for row in table:
        part = table.required(row, "part")
        if part is None:
            continue
        items.append(
            InventoryItem(
                crate=row.text("crate"),
                part=part,
                description=row.text("description"),
                listed=_whole(table, row, "listed"),
                found=_whole(table, row, "found"),
                condition=row.text("condition"),
                kept_in=row.text("where"),
                checked_on=table.date(row, "checked_on"),
                by=row.text("by"),
                where=row.where,
            )
        )
    return tuple(items)


def _whole(table: Table, row: Row, column: str) -> int | None:
    return table.parsed(row, column, parse_whole, "bad-number", "a whole number", "12")


SHARES = ("maker", "paid", "assembly", "fabrication")


def read_tasks(path: Path, known: Known, notes: Notes) -> tuple[Task, ...]:
    """tasks.csv: shares in whole tenths that add up to 10, or n/a in all four."""
    table = read_table(path, ("section", "task", "name", *SHARES), ("steps", "note"), notes)
    tasks: list[Task] = []
    seen: set[tuple[str, str]] = set()
    for row in table:
        task = table.required(row, "task")
        if task is None:
            continue
        if (row.text("section"), task) in seen:
            table.error(row, "task", "task-twice", f'task "{task}" is there twice in its section', "keep one row")
            continue
        seen.add((row.text("section"), task))
        shares = _shares(table, row)
        if shares is None:
            continue
        cell = row.cells["steps"]
        pieces = [piece.strip() for piece in re.split(r"[;,]", cell.text) if piece.strip()]
        steps = read_step_ids(tuple(Scalar(text=piece, where=cell.where) for piece in pieces), known, notes)
        maker, paid, assembly, fabrication = shares
        tasks.append(
            Task(
                section=row.text("section"),
                task=task,
                name=row.text("name") or task,
                maker=maker,
                paid=paid,
                assembly=assembly,
                fabrication=fabrication,
                steps=steps,
                note=row.text("note"),
                where=row.where,
            )
        )
    return tuple(tasks)


def _shares(table: Table, row: Row) -> tuple[int | None, int | None, int | None, int | None] | None:
    """The four shares, all None for n/a, or None with an error."""
    texts = [row.text(column).casefold() for column in SHARES]
    absent = [text in {"n/a", "na"} for text in texts]
    if all(absent):
        return (None, None, None, None)
    if any(absent):
        table.error(
            row, "maker", "tenths-mixed", "n/a stands in some of the four shares only", "write n/a in all four or none"
        )
        return None
    shares: list[int] = []
    for column, text in zip(SHARES, texts, strict=True):
        share = 0 if not text else parse_whole(text)
        if share is None or share > 10:
            table.error(
                row, column, "bad-tenths", f'"{text}" is not a number of tenths', "write a whole number from 0 to 10"
            )
            return None
        shares.append(share)
    if sum(shares) != 10:
        table.error(
            row, "maker", "tenths-sum", f"the four shares make {sum(shares)} tenths, not 10", "one task is ten tenths"
        )
        return None
    return (shares[0], shares[1], shares[2], shares[3])


def read_materials(path: Path, records: tuple[Record, ...], notes: Notes) -> dict[str, Material]:
    """materials.csv by ID."""
    table = read_table(path, ("id", "name"), ("batch", "expires", "record"), notes)
    materials: dict[str, Material] = {}
    for row in table:
        identifier = table.required(row, "id")
        if identifier is None:
            continue
        if identifier in materials:
            table.error(row, "id", "material-twice", f'material "{identifier}" is there twice', "give it another ID")
            continue
        _check_record(table, row, records)
        materials[identifier] = Material(
            id=identifier,
            name=row.text("name") or identifier,
            batch=row.text("batch"),
            expires=table.date(row, "expires"),
            record=row.text("record"),
            where=row.where,
        )
    return materials


def _check_record(table: Table, row: Row, records: tuple[Record, ...]) -> None:
    name = row.text("record")
    known = [record.file for record in records]
    if name and name not in known:
        table.finding(
            row, "record", "unknown-record", f'"{name}" is not listed in records.csv', did_you_mean(name, known)
        )


def read_calibrated_tools(path: Path, notes: Notes) -> tuple[CalibratedTool, ...]:
    """tools.csv."""
    table = read_table(path, ("name", "checked_on", "check_every_months"), (), notes)
    return tuple(
        CalibratedTool(
            name=row.text("name"),
            checked_on=table.date(row, "checked_on"),
            check_every_months=_whole(table, row, "check_every_months"),
            where=row.where,
        )
        for row in table
        if table.required(row, "name")
    )


def parse_amount_of_money(text: str) -> Decimal | None:
    """A finite decimal number with a point and no grouping, or None."""
    if not re.fullmatch(r"-?[0-9]{1,12}(\.[0-9]{1,4})?", text):
        return None
    try:
        return Decimal(text)
    except InvalidOperation:
        return None


def read_costs(
    path: Path,
    assemblies: Mapping[str, Assembly],
    records: tuple[Record, ...],
    notes: Notes,
) -> tuple[Cost, ...]:
    """costs.csv; never public."""
    table = read_table(path, ("date", "assembly", "what", "amount", "currency"), ("record",), notes)
    costs = []
    for row in table:
        amount = (
            table.parsed(row, "amount", parse_amount_of_money, "bad-amount", "an amount of money", "129.90")
            if table.required(row, "amount")
            else None
        )
        assembly = row.text("assembly") or None
        if assembly and assembly not in assemblies:
            hint = did_you_mean(assembly, assemblies)
            table.error(row, "assembly", "unknown-assembly", f'unknown assembly "{assembly}"', hint)
            assembly = None
        currency = row.text("currency").upper()
        if not re.fullmatch(r"[A-Z]{3}", currency):
            table.error(row, "currency", "bad-currency", f'"{currency}" is not an ISO 4217 code', "write it like EUR")
        _check_record(table, row, records)
        if amount is not None:
            costs.append(
                Cost(
                    date=table.date(row, "date"),
                    assembly=assembly,
                    what=row.text("what"),
                    amount=amount,
                    currency=currency,
                    record=row.text("record"),
                    where=row.where,
                )
            )
    return tuple(costs)
