"""The lists beside the entries: steps, records, inventory, tasks, materials, tools, costs, rates, terms."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from datetime import date
from decimal import Decimal
from functools import partial
from pathlib import Path
from types import MappingProxyType

from journal.base.model import (
    Bulletin,
    BulletinState,
    CalibratedTool,
    Cost,
    InventoryItem,
    Material,
    Rate,
    Record,
    Step,
    Task,
    Term,
    Where,
)
from journal.base.private_passages import private_lines
from journal.base.problems import did_you_mean, nearest
from journal.base.prose import COMMENT
from journal.reading.folders import FolderItem
from journal.reading.form import NO, YES, KnownIds, check_former_names, meant_ids, note_unknown
from journal.reading.hours import parse_duration
from journal.reading.plan import read_shapes
from journal.reading.table import Row, parse_whole, read_table
from journal.reading.text import Notes, is_there, read_text
from journal.reading.tree import Scalar

STEP_COLUMNS = (("assembly", "step", "title"), ("page", "closes", "same_as", "formerly", "shape", "earlier"))
"""Those that steps.csv must have, and those it may have."""


def read_steps(
    path: Path, assemblies: Mapping[str, object] | None, notes: Notes
) -> tuple[Mapping[str, Step], frozenset[str]]:
    """(steps of steps.csv, IDs whose row had an error); a build without the file has no steps."""
    steps: dict[str, Step] = {}
    damaged: set[str] = set()
    mirrors = []
    for row in read_table(path, *STEP_COLUMNS, notes) if is_there(path) else ():
        with notes.watching() as watch:
            identifier = check_step(row, steps)
            assembly = _assembly(row, assemblies)
            shapes = _shapes(row)
        if identifier is None:
            continue
        row.name("step", "step", identifier)
        if watch.failed:
            damaged.add(identifier)
            continue
        mirrors.append(row)
        closes = "" if row.text("closes").casefold() in {"no", "false", "0", "-", "n"} else row.text("closes")
        same_as = row.text("same_as") or None
        formerly, earlier = (
            tuple(name.strip() for name in re.split("[,;]", row.text(column)) if name.strip())
            for column in ("formerly", "earlier")
        )
        steps[identifier] = row.record(
            Step,
            id=identifier,
            assembly=assembly,
            closes=closes,
            same_as=same_as,
            formerly=formerly,
            earlier=earlier,
            shapes=shapes,
        )
    for row in mirrors:
        same_as = row.text("same_as")
        if same_as:
            row.name("same_as", "step", same_as)
        if same_as and same_as not in steps and same_as not in damaged:
            row.error("same_as", "unknown-step", f'unknown step "{same_as}"', did_you_mean(same_as, steps))
    renamed = [
        (step, steps[step].formerly, partial(row.error, "formerly")) for row in mirrors if (step := row.text("step"))
    ]
    check_former_names(renamed, steps)
    return MappingProxyType(steps), frozenset(damaged)


def _shapes(row: Row) -> tuple[str, ...]:
    """The shapes in a row, parted by `;`. An unknown one is a finding: the column was once anybody's own."""
    text, where = row.cells["shape"]
    trial = Notes(row.notes.file)
    pieces = (Scalar(text=piece.strip(), where=where) for piece in text.split(";") if piece.strip())
    shapes = read_shapes(pieces, trial.finding)
    row.take(trial, "shape")
    return shapes


def _assembly(row: Row, known: Mapping[str, object] | None) -> str:
    """The ID of the assembly in a row; `known` is None where the assemblies could not be read in full."""
    text, where = row.cells["assembly"]
    meant = meant_ids(text, known) if text and known is not None else [text]
    if len(meant) == 1:
        row.name("assembly", "assembly", meant[0])
        return meant[0]
    trial = Notes(row.notes.file)
    note_unknown(Scalar(text=text, where=where), "assembly", known or {}, meant, trial)
    row.take(trial, "assembly")
    return text


def check_step(row: Row, seen: Collection[str]) -> str | None:
    """The step ID of a row, None where there is none; what is wrong with the row in itself is noted."""
    identifier = row.required("step")
    if identifier is None:
        return None
    row.required("assembly")
    row.required("title")
    if identifier in seen:
        hint = "give each step one ID"
        if re.fullmatch(r"[0-9]+\.[0-9]", identifier):
            hint += f"; a spreadsheet makes {identifier} of {identifier}0, so set its column to text"
        row.error("step", "duplicate-step", f'step "{identifier}" is there twice', hint)
    if re.search(r"\s+to\s+|[,;]", identifier):
        row.error("step", "bad-step", f'"{identifier}" cannot be a step ID', "leave out ` to `, `,` and `;`")
    return identifier


def read_records(path: Path, folder: Path, notes: Notes) -> tuple[Record, ...]:
    """records.csv; a record that is named but missing is an error, one that is not listed a finding."""
    records: dict[str, Record] = {}
    for row in read_table(path, ("file", "date", "kind", "title"), ("note",), notes):
        file = row.required("file")
        if file is None:
            continue
        if file in records:
            row.error("file", "record-twice", f'"{file}" is listed twice', "keep one row")
            continue
        outside = Path(file).is_absolute() or ".." in Path(file).parts
        if outside or not (is_there(folder / file) and (folder / file).is_file()):
            names = [found.name for found in folder.iterdir()] if folder.is_dir() else []
            hint = did_you_mean(file, names, "copy it there")
            row.error("file", "record-missing", f'there is no file "{file}" in content/records', hint)
        records[file] = row.record(Record, title=row.text("title") or file)
    return tuple(records.values())


def unlisted_records(found: Sequence[FolderItem], records: Sequence[Record], notes: Notes) -> None:
    """Note the files found below content/records/ that records.csv does not list."""
    listed = {record.file for record in records} | {"records.csv"}
    for item in found:
        if item.name not in listed:
            notes.finding(None, "record-unlisted", f'"{item.name}" is not listed in records.csv', "add a row for it")


def read_inventory(path: Path, notes: Notes) -> tuple[InventoryItem, ...]:
    """inventory.csv."""
    required = ("crate", "part", "description", "listed", "found")
    replacement = ("claimed_on", "promised_for", "arrived_on", "replacement_note")
    rows = read_table(path, required, ("condition", "where", "checked_on", "by", *replacement), notes)
    return tuple(row.record(InventoryItem, kept_in=row.text("where")) for row in rows if row.required("part"))


SHARES = ("maker", "paid", "assembly", "fabrication")


def read_tasks(path: Path, known: KnownIds, notes: Notes) -> tuple[Task, ...]:
    """tasks.csv: shares in whole tenths that add up to 10, or n/a in all four."""
    tasks: list[Task] = []
    seen: set[tuple[str, str]] = set()
    for row in read_table(path, ("section", "task", "name", *SHARES), ("steps", "note"), notes):
        task = row.required("task")
        if task is None:
            continue
        if (row.text("section"), task) in seen:
            row.error("task", "task-twice", f'task "{task}" is there twice in its section', "keep one row")
            continue
        seen.add((row.text("section"), task))
        shares = _shares(row)
        if shares is None:
            continue
        text, where = row.cells["steps"]
        steps = known.step_ids([Scalar(text=text, where=where, quoted=True)], notes)
        tasks.append(row.record(Task, name=row.text("name") or task, steps=steps, **shares))
    return tuple(tasks)


def _shares(row: Row) -> dict[str, int | None] | None:
    """The four shares, all None for n/a, or None with an error."""
    texts = {column: row.text(column).casefold() for column in SHARES}
    absent = [text in {"n/a", "na"} for text in texts.values()]
    if all(absent):
        return dict.fromkeys(SHARES)
    if any(absent):
        row.error("maker", "tenths-mixed", "only some of the four shares are n/a", "write n/a in all four or none")
        return None
    shares: dict[str, int | None] = {}
    total = 0
    for column, text in texts.items():
        share = parse_whole(text or "0")
        if share is None or share > 10:
            hint = "write a whole number from 0 to 10"
            row.error(column, "bad-tenths", f'"{text}" is not a number of tenths', hint)
            return None
        shares[column] = share
        total += share
    if total != 10:
        row.error("maker", "tenths-sum", f"the four shares make {total} tenths, not 10", "one task is ten tenths")
        return None
    return shares


def read_materials(path: Path, records: Sequence[Record], notes: Notes) -> dict[str, Material]:
    """materials.csv by ID."""
    materials: dict[str, Material] = {}
    for row in read_table(path, ("id", "name"), ("batch", "expires", "record", "mix", "work_life", "used_up"), notes):
        identifier = row.required("id")
        if identifier is None:
            continue
        if identifier in materials:
            row.error("id", "material-twice", f'material "{identifier}" is there twice', "give it another ID")
            continue
        _check_record(row, records)
        work_life = row.parsed("work_life", parse_duration, "bad-work-life", "a length of time", "2 h or 30 min")
        materials[identifier] = row.record(
            Material, name=row.text("name") or identifier, work_life_minutes=work_life, used_up=_used_up(row)
        )
    return materials


def _used_up(row: Row) -> bool:
    """Whether a batch is used up: `yes`, or the day on which it was."""
    said = row.text("used_up").casefold()
    return said in YES or (said not in NO and row.date("used_up") is not None)


def _check_record(row: Row, records: Sequence[Record]) -> None:
    name, known = row.text("record"), [record.file for record in records]
    if name and name not in known:
        row.finding("record", "unknown-record", f'"{name}" is not listed in records.csv', did_you_mean(name, known))


def read_calibrated_tools(path: Path, notes: Notes) -> tuple[CalibratedTool, ...]:
    """tools.csv."""
    rows = read_table(path, ("name", "checked_on", "check_every_months"), (), notes)
    return tuple(row.record(CalibratedTool) for row in rows if row.required("name"))


def parse_amount_of_money(text: str) -> Decimal | None:
    """A finite decimal number with a point and no grouping, or None."""
    return Decimal(text) if re.fullmatch(r"-?[0-9]{1,12}(\.[0-9]{1,4})?", text) else None


def read_costs(path: Path, known: KnownIds, records: Sequence[Record], notes: Notes) -> tuple[Cost, ...]:
    """costs.csv; never public."""
    costs = []
    for row in read_table(path, ("date", "assembly", "what", "amount", "currency"), ("record",), notes):
        row.required("amount")
        amount = row.parsed("amount", parse_amount_of_money, "bad-amount", "an amount of money", "129.90")
        assembly = _assembly(row, known.lists["assembly"])
        currency = _currency(row, "currency")
        _check_record(row, records)
        if amount is not None:
            costs.append(row.record(Cost, assembly=assembly or None, amount=amount, currency=currency))
    return tuple(costs)


def _currency(row: Row, column: str) -> str:
    currency = row.text(column).upper()
    if not re.fullmatch(r"[A-Z]{3}", currency):
        row.error(column, "bad-currency", f'"{currency}" is not an ISO 4217 code', "write it like EUR")
    return currency


def parse_rate(text: str) -> Decimal | None:
    """A decimal number above nought with a point and no grouping, or None."""
    rate = Decimal(text) if re.fullmatch(r"[0-9]{1,9}(\.[0-9]{1,10})?", text) else None
    return rate or None


def read_rates(path: Path, notes: Notes) -> tuple[Rate, ...]:
    """rates.csv, in order of time: the only figures by which costs are converted."""
    rates: dict[tuple[date, str, str], Rate] = {}
    for row in read_table(path, ("date", "currency", "to", "rate", "source"), (), notes):
        empty = [column for column in ("date", "rate", "source") if row.required(column) is None]
        day, rate = row.date("date"), row.parsed("rate", parse_rate, "bad-rate", "a rate of exchange", "1.0642")
        currency, to = _currency(row, "currency"), _currency(row, "to")
        if empty or day is None or rate is None:
            continue
        if (day, currency, to) in rates:
            row.error("date", "rate-twice", f"there are two rates from {currency} to {to} for this day", "keep one row")
        rates[day, currency, to] = row.record(Rate, date=day, currency=currency, to=to, rate=rate)
    return tuple(rates[key] for key in sorted(rates))


BULLETIN_COLUMNS = (("id", "date", "title", "concerns", "state"), ("done_in", "record", "note"))
_STATES = {"": BulletinState.OPEN, "n/a": BulletinState.NOT_APPLICABLE} | {one.value: one for one in BulletinState}


def read_bulletins(path: Path, known: KnownIds, records: Sequence[Record], notes: Notes) -> tuple[Bulletin, ...]:
    """bulletins.csv; an empty `concerns` is the whole aircraft, an empty `state` open. Never public."""
    bulletins: dict[str, Bulletin] = {}
    for row in read_table(path, *BULLETIN_COLUMNS, notes):
        identifier = row.required("id")
        if identifier is None:
            continue
        if identifier in bulletins:
            row.error("id", "bulletin-twice", f'bulletin "{identifier}" is there twice', "keep one row")
            continue
        concerns, done_in = (
            [Scalar(text=text, where=where)] if text else []
            for text, where in (row.cells["concerns"], row.cells["done_in"])
        )
        assemblies = known.lists["assembly"] or {}
        named = [one for one in concerns if known.meant(one.text, "assembly") or nearest(one.text, assemblies)]
        state = row.parsed(
            "state",
            lambda text: _STATES.get(" ".join(text.casefold().split())),
            "bad-state",
            "a state of a bulletin",
            ", ".join(one.value for one in BulletinState),
        )
        _check_record(row, records)
        bulletins[identifier] = row.record(
            Bulletin,
            title=row.text("title") or identifier,
            assembly=known.id(named[0], "assembly", notes) if named else None,
            steps=() if named else known.step_ids(concerns, notes),
            state=state or BulletinState.OPEN,
            done_in=known.ids(done_in, "entry", notes),
        )
    return tuple(bulletins.values())


_CELL = re.compile(r"(?<!\\)\|")


def read_terms(path: Path, notes: Notes) -> tuple[Term, ...]:
    """The rows of the Markdown table `| term | meaning | source |` in terms.md.

    A term cell may hold several words, parted by commas: the first is the headword.
    """
    text = read_text(path, notes) or ""
    terms: dict[str, Term] = {}
    columns = 0
    hidden = private_lines(text)
    for number, line in enumerate(COMMENT.sub(lambda found: "\n" * found[0].count("\n"), text).split("\n"), start=1):
        if hidden[number - 1] or not line.lstrip().startswith("|"):
            columns = 0
            if line.strip() and not line.startswith("#"):
                said, hint = "what stands outside the table is not read", "write terms into the table"
                notes.finding((number, 1), "terms-beside", said, f"{hint} | term | meaning | source |")
            continue
        cells = [cell.strip().replace("\\|", "|") for cell in _CELL.split(line.strip().strip("|"))]
        if all(re.fullmatch(r":?-+:?", cell) for cell in cells):
            continue
        if columns:
            _add_term(terms, cells, (number, 1), notes)
            continue
        columns = len(cells)
        if [cell.casefold() for cell in cells[:2]] != ["term", "meaning"]:
            said = "this is not the heading of a table of terms"
            notes.error((number, 1), "terms-heading", said, "write | term | meaning | source |")
            return ()
    if text is not None and not terms and text.strip():
        notes.finding((1, 1), "terms-empty", "no table of terms is here", "write | term | meaning | source |")
    return tuple(terms.values())


def _add_term(terms: dict[str, Term], cells: list[str], where: Where, notes: Notes) -> None:
    names = tuple(name.strip() for name in cells[0].split(",") if name.strip())
    meaning = cells[1] if len(cells) > 1 else ""
    if not names or not meaning:
        notes.error(where, "term-empty", "a term or its meaning is missing", "fill in both cells")
    elif names[0].casefold() in terms:
        notes.error(where, "term-twice", f'the term "{names[0]}" is there twice', "keep one row")
    else:
        source = cells[2] if len(cells) > 2 else ""
        if any(cells[3:]):
            notes.finding(where, "terms-beside", f'"{cells[3]}" stands in a fourth cell and is not read', "take it out")
        terms[names[0].casefold()] = Term(names=names, meaning=meaning, source=source, own=True)
