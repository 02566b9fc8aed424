"""`journal adopt` on the terminal: what becomes of each row and each day of photos, and then, if asked, does it."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import click

from journal.base.byte_progress import say_bytes
from journal.base.formatting import say_count
from journal.base.model import Build, Role
from journal.base.problems import did_you_mean, has_errors, render_problem
from journal.base.safe_write import staged
from journal.commands.intake.adopt import (
    COLUMNS,
    Fate,
    HoursAre,
    Plan,
    Wishes,
    adopted_marks,
    land,
    plan_photos,
    plan_rows,
    prove,
    read_rows,
)
from journal.commands.intake.asking import AnswerError
from journal.commands.intake.enter import NotWrittenError, entry_folders, say_trouble
from journal.commands.intake.incoming_media import Sifted, gather, read_shelf, say_arrivals, sift
from journal.commands.intake.spreadsheet import Spreadsheet, read_spreadsheet
from journal.commands.terminal import EXIT_DISK, EXIT_ERRORS, EXIT_USE, Bar, fail, open_build, print_problems
from journal.ledger.journal import CACHE, Journal, photo_store
from journal.reading.text import Notes

TABLES = frozenset({".csv", ".tsv", ".txt"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """The options of `journal adopt`."""

    paths: tuple[Path, ...]
    mapping: Mapping[str, str]
    wishes: Wishes
    write: bool
    skip_faulty: bool


def adopt_work(root: Path, given: Given) -> None:
    """Report what would be written; write it where `given.write` says so. Raises AnswerError for a wrong option."""
    journal = open_build(root)
    build = journal.build
    if not build.assemblies:
        fail("content/build.yml names no assembly yet; entries belong to one", EXIT_ERRORS)
    _check_wishes(build, given.wishes)
    tables = [path for path in given.paths if path.suffix.casefold() in TABLES and path.is_file()]
    if len(tables) > 1:
        raise AnswerError("One table at a time, so that each row can be told apart.")
    sheet = _read_table(tables[0], given) if tables else Spreadsheet()
    cache = root / CACHE
    cache.mkdir(exist_ok=True)
    with staged(cache, "unpacked") as scratch:
        sifted = _look(journal, [path for path in given.paths if path not in tables], scratch)
        source = tables[0].name if tables else "photos"
        plans = _plan(journal, sheet, sifted, given.wishes, source, str(tables[0]) if tables else "")
        _report(plans, sheet, sifted)
        _say_hours_rule(build, plans, given.wishes)
        faulty = sum(plan.fate is Fate.FAULTY for plan in plans)
        new = [plan for plan in plans if plan.fate is Fate.NEW]
        if not given.write:
            click.echo("\nNothing was written: this only shows what would be. Add --write to do it." if new else "")
            sys.exit(EXIT_ERRORS if faulty else 0)
        if faulty and not given.skip_faulty:
            fail(
                f"{say_count(faulty, 'line')} cannot be read, so nothing was written; mend them, or leave them "
                "out with --skip-faulty",
                EXIT_ERRORS,
            )
        _write(root, plans, build, source)


def _check_wishes(build: Build, wishes: Wishes) -> None:
    if wishes.assembly is not None and wishes.assembly not in build.assemblies:
        hint = did_you_mean(wishes.assembly, build.assemblies)
        raise AnswerError(f'There is no assembly "{wishes.assembly}" in this build; {hint}')
    for person in wishes.people:
        if person not in build.people:
            raise AnswerError(f'There is nobody "{person}" in this build; {did_you_mean(person, build.people)}')
    known = {*build.assemblies, *build.people, *build.places}
    for word, identifier in wishes.means.items():
        if identifier not in known:
            raise AnswerError(f'--means "{word}={identifier}": {did_you_mean(identifier, known)}')


def _read_table(path: Path, given: Given) -> Spreadsheet:
    notes = Notes(str(path))
    required = ["date"] if given.wishes.assembly else ["date", "assembly"]
    sheet = read_spreadsheet(path, COLUMNS, required, given.mapping, notes)
    print_problems(notes.problems)
    if sheet is None:
        fail("nothing was written", EXIT_ERRORS)
    return sheet


def _look(journal: Journal, paths: Sequence[Path], scratch: Path) -> Sifted:
    if not paths:
        return Sifted()
    with Bar("looking at photos") as bar:
        harvest = gather(
            paths,
            zone=journal.build.zone,
            scratch=scratch,
            cache=journal.root / CACHE / "arrivals",
            on_photos=bar.tell,
        )
    print_problems(harvest.problems)
    if has_errors(harvest.problems):
        fail("nothing was written", EXIT_USE)
    return sift(harvest.arrivals, read_shelf(journal.root, photo_store(journal.root)))


def _plan(journal: Journal, sheet: Spreadsheet, sifted: Sifted, wishes: Wishes, source: str, file: str) -> list[Plan]:
    build, taken = journal.build, entry_folders(journal.root)
    rows = read_rows(sheet, build, wishes, file)
    plans = plan_rows(rows, build, adopted_marks(journal.root), taken, wishes)
    plans = plan_photos(sifted.fresh, plans, build, taken, wishes)
    return prove(journal.root, plans, build, source)


# -- the report ------------------------------------------------------------------------------------


def _report(plans: Sequence[Plan], sheet: Spreadsheet, sifted: Sifted) -> None:
    """A line for each row and each day of photos; what is wrong stands below its line."""
    width = max((len(plan.fate.value) for plan in plans), default=0)
    for plan in plans:
        where = f"row {plan.row:>4}" if plan.row is not None else "photos  "
        day = plan.day.isoformat() if plan.day else ""
        photos = f", {say_arrivals([one.arrival for one in plan.photos])}" if plan.photos else ""
        line = f"{where}  {plan.fate.value:<{width}}  {day}  {plan.said}{photos}".rstrip(" ,")
        click.echo(_coloured(line, plan.fate))
        for problem in plan.problems:
            click.echo(f"    {render_problem(problem)}")
    for name in sheet.unused:
        click.echo(f'Column "{name}" is not used; --map "{name}=text" would add it to the text.')
    if sifted.here:
        click.echo(f"In the journal already, left out: {say_arrivals([one for one, _ in sifted.here])}.")
    for one, other in sifted.twins:
        click.echo(f"{one.shown} is the same picture as {other.shown}; left out.")
    counts = Counter(plan.fate for plan in plans)
    said = ", ".join(f"{counts[fate]:,} {fate.value}" for fate in Fate if counts[fate])
    size = sum(one.arrival.bytes for plan in plans if plan.fate is Fate.NEW for one in plan.photos)
    click.echo(f"\n{said or 'Nothing found'}{f'; {say_bytes(size)} of photos' if size else ''}.")


def _coloured(line: str, fate: Fate) -> str:
    colours = {
        Fate.NEW: "green",
        Fate.FAULTY: "red",
        Fate.BESIDE: "yellow",
        Fate.TWIN: "yellow",
        Fate.LEFT_OUT: "yellow",
    }
    return click.style(line, fg=colours[fate]) if fate in colours else line


def _say_hours_rule(build: Build, plans: Sequence[Plan], wishes: Wishes) -> None:
    """One figure for several people can be meant in two ways, and the totals hang on it."""
    builders = [one.name for one in build.people.values() if one.role is Role.BUILDER]
    each = [
        plan
        for plan in plans
        if plan.fate is Fate.NEW and plan.found and "" in plan.found.hours and len(plan.found.people or builders) > 1
    ]
    if each and wishes.hours_are is HoursAre.EACH:
        click.echo(
            f"In {say_count(len(each), 'row')} the hours are those of several people, and count for each of them.\n"
            "If they are the total of all, add --hours-are total; if one person worked alone, --person ID."
        )


def _write(root: Path, plans: Sequence[Plan], build: Build, source: str) -> None:
    try:
        with Bar("writing entries") as bar:
            written = land(root, plans, build, source, bar.tell)
    except NotWrittenError as trouble:
        fail(f"{trouble} What was written before stays; running this again adds the rest.", EXIT_DISK)
    except OSError as trouble:
        fail(
            f"{say_trouble(trouble)}; the entries written before stay, and running this again adds the rest",
            EXIT_DISK,
        )
    click.echo(f"Written: {say_count(len(written), 'entry', 'entries')}. `journal check` tells what they lack.")
