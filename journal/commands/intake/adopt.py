"""`journal adopt`: tables, notes, posts and photos of earlier years become entries: shown, proved with the reader,
then written.

Running it again adds only what is new.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path

import click

from journal.base.addresses import fold_name
from journal.base.byte_progress import say_bytes
from journal.base.formatting import say_all, say_count, say_date, say_few
from journal.base.model import CLIP_ENDINGS, PICTURE_ENDINGS, Build
from journal.base.problems import did_you_mean, render_problem
from journal.base.safe_write import staged
from journal.commands.intake.adoption import (
    AdoptionPlan,
    AdoptionWishes,
    Fate,
    builders_of,
    lacks_assembly,
    plan_days,
    read_plans,
)
from journal.commands.intake.answers import Answers, keep_answers, kept_answers
from journal.commands.intake.asking import (
    AnswerError,
    Asker,
    check_given,
    known_ids,
    map_option,
    mapping_of,
    names_option,
    open_for_entries,
)
from journal.commands.intake.columns import COLUMNS
from journal.commands.intake.grids import FEEDS, HTML, MARKDOWN, WORKBOOKS, read_any_text, read_grids
from journal.commands.intake.incoming_media import Found, examine_media, say_media
from journal.commands.intake.lenient_parsing import ORDERS, DateOrder, find_order, parse_any_date
from journal.commands.intake.new_entries import write_entries
from journal.commands.intake.notes import begins_as_notes, days_told, read_notes
from journal.commands.intake.reckoning import reckon, say_hours
from journal.commands.intake.spreadsheet import Spreadsheet, heading_score, read_tables
from journal.commands.terminal import EXIT_ERRORS, build_option, fail, print_problems, today
from journal.commands.written import ADOPT
from journal.ledger.journal import CACHE, Journal
from journal.reading.text import Notes

TABLES = frozenset({".csv", ".tsv", ".txt", *WORKBOOKS})

LONG = 40
"""Rows above which only those that need looking at are shown."""

COLOURS = {
    Fate.NEW: "green",
    Fate.FAULTY: "red",
    **dict.fromkeys((Fate.BESIDE, Fate.TWIN, Fate.LEFT_OUT, Fate.OTHERWISE), "yellow"),
}

QUESTIONS = {
    Fate.FAULTY: ("line", "lines", "cannot be read; mend them, or leave them out with --skip-faulty"),
    Fate.BESIDE: (
        "day has",
        "days have",
        "an entry already that comes from elsewhere; --beside adds such rows beside it, --not-beside leaves them out",
    ),
    Fate.TWIN: (
        "row repeats",
        "rows repeat",
        "an earlier one; --keep-twins adds such rows, --drop-twins leaves them out",
    ),
    Fate.OTHERWISE: (
        "row was",
        "rows were",
        "taken over before and understood otherwise; give the answers of then, or take the entries back with "
        "`journal undo` and run this again",
    ),
}
"""What stops the writing until it is settled: how one and several are counted, and what to do."""


@click.command()
@build_option
@click.argument("paths", metavar="PATH...", nargs=-1, required=True, type=click.Path(path_type=Path))
@map_option("Which column is which, like Datum=date; hours:ID for one person's, - for one that is not used.")
@click.option(
    "--means",
    multiple=True,
    callback=mapping_of,
    metavar="WORD=ID",
    help="Which ID of the build a word of the table means.",
)
@click.option(
    "--dates",
    "order",
    type=click.Choice([order.value for order in DateOrder]),
    help="How dates are written, where their column cannot tell.",
)
@click.option(
    "--hours-are",
    type=click.Choice(["each", "total"]),
    help="Whether a figure is the time of each person or the total of all.",
)
@click.option("--assembly", metavar="ID", help="The assembly of rows that name none.")
@names_option("--person", "people", help="Who worked, for rows that do not say.")
@click.option("--sheet", "sheets", multiple=True, metavar="NAME", help="Only this sheet. May be repeated.")
@click.option("--row", "only_rows", multiple=True, type=int, metavar="N", help="Only this row. May be repeated.")
@click.option(
    "--beside/--not-beside", default=None, help="Add or leave out rows of days that have an entry from elsewhere."
)
@click.option("--keep-twins/--drop-twins", default=None, help="Add or leave out rows that repeat an earlier one.")
@click.option("--skip-faulty", is_flag=True, help="Leave out lines that cannot be read, and write the rest.")
@click.option("--ignore-totals", is_flag=True, help="Write although the table adds itself up otherwise.")
@click.option("--forget", is_flag=True, help="Use no answers that were given for earlier tables.")
@click.option("--all", "show_all", is_flag=True, help="Show every row, however many there are.")
@click.option("--write", is_flag=True, help="Write the entries; without it nothing is written.")
def adopt(
    root: Path,
    paths: tuple[Path, ...],
    mapping: dict[str, str],
    means: dict[str, str],
    order: str | None,
    hours_are: str | None,
    assembly: str | None,
    people: tuple[str, ...] | None,
    sheets: tuple[str, ...],
    forget: bool,
    beside: bool | None,
    keep_twins: bool | None,
    only_rows: tuple[int, ...],
    **options: bool,
) -> None:
    """Take over earlier years: tables, notes, posts, old photos.

    Shows what was understood and what would become of each row, and writes nothing until --write is added. Running it
    again adds only what is new.

    \b
    Tables: .xlsx, .ods, CSV, a table in a text or a saved page. Headings in English, German or French:
      date, assembly, hours (or start, finish, break), title, text, steps, begun, redone, people, place, tools, methods
    Notes: each day begins with its date; lines `hours: 2:15`, `steps: 5.3` and so on fill these columns.
    Posts: folders of pages in HTML or Markdown with their pictures; an Atom or RSS file.

    \b
    Example:
      journal adopt workdays.xlsx
      journal adopt workdays.csv old-photos/ --means "Klappen=flaps" --hours-are each --write
    """
    journal = open_for_entries(root)
    build = journal.build
    check_given(build, assembly=[assembly], person=people or ())
    known = {*build.assemblies, *build.people, *build.places}
    for word, identifier in ((word, one) for word, one in means.items() if one not in known):
        raise AnswerError(f'--means "{word}={identifier}": {did_you_mean(identifier, known)}')
    given = Answers(order or "", hours_are or "", assembly or "", people or (), mapping, means)
    older = Answers() if forget else kept_answers(root, build)
    table, posts, media = _sort_paths(paths)
    answers = given.with_older(older)
    wishes = AdoptionWishes(
        means=answers.means,
        assembly=answers.assembly or None,
        people=answers.people,
        beside=beside,
        keep_twins=keep_twins,
        only_rows=only_rows,
    )
    if table:
        as_notes = _is_notes(table)
        sheet = read_days(table, mapping, wishes, build, as_notes=as_notes, answers=answers, sheets=sheets)
    else:
        from journal.commands.intake.posts import read_posts

        sheet = read_posts(posts, [path for path in media if path.is_dir()], answers, build)
    _Adoption(journal, table or Path(), sheet, given, older, wishes).run(media, **options)


# -- what the paths hold ---------------------------------------------------------------------------


def _sort_paths(paths: Sequence[Path]) -> tuple[Path | None, list[Path], list[Path]]:
    """(the one table or file of notes, pages and feeds of posts, what may hold photos); the command ends where a file
    is of no known kind.
    """
    tables, posts, media, unknown = [], [], [], []
    for path in paths:
        ending = path.suffix.casefold()
        if path.is_dir() or not path.exists() or ending in PICTURE_ENDINGS | CLIP_ENDINGS | {".zip"}:
            media.append(path)
        elif ending in TABLES or (ending in HTML | MARKDOWN and (_holds_table(path) or _is_notes(path))):
            tables.append(path)
        elif ending in HTML | MARKDOWN | FEEDS:
            posts.append(path)
        else:
            unknown.append(path)
    if unknown:
        kinds = "tables (.xlsx, .ods, .csv), notes (.txt), posts (.html, .md, .atom, .rss) and photos can"
        named = say_all([path.name for path in unknown])
        fail(f"{named} cannot be taken over: {kinds}; nothing was written", EXIT_ERRORS)
    if len(tables) > 1:
        raise AnswerError("One table at a time, so that each row can be told apart.")
    if tables and posts:
        raise AnswerError(f"{tables[0].name} is a table and {posts[0].name} is a post; take them over one by one.")
    return next(iter(tables), None), posts, media


def _holds_table(path: Path) -> bool:
    """Whether a page or text holds a table of work days."""
    return any(heading_score(grid) > 1 for grid in read_grids(path, heading_score, Notes("")))


def _is_notes(path: Path) -> bool:
    """Whether a text holds days one after the other, and no table."""
    if path.suffix.casefold() not in MARKDOWN | {".txt"}:
        return False
    text, is_text = read_any_text(path, Notes("")) or "", path.suffix.casefold() == ".txt"
    if is_text and begins_as_notes(text):
        return True
    return len(days_told(text)) > 1 - is_text and not text.startswith(("---", "+++")) and not _holds_table(path)


def read_days(
    path: Path,
    mapping: Mapping[str, str],
    wishes: AdoptionWishes,
    build: Build,
    *,
    as_notes: bool,
    answers: Answers | None = None,
    sheets: Sequence[str] = (),
) -> Spreadsheet:
    """The rows of a table, or the days of notes; the command ends where it cannot be read at all. `answers` hold
    headings mapped before, for a table that has them; the order of dates is then found out later.
    """
    notes, known = Notes(str(path)), known_ids(build)
    if as_notes:
        columns = {key: (*words, *(name for name in mapping if mapping[name] == key)) for key, words in COLUMNS.items()}
        sheet = read_notes(path, columns, known, None if answers else wishes.order, notes)
    else:
        grids = read_grids(path, lambda grid: heading_score(grid, mapping), notes)
        said = {fold_name(cell) for grid in grids for _, cells in grid.rows for cell in cells}
        before = answers.headings.items() if answers else ()
        own = {**{name: column for name, column in before if fold_name(name) in said}, **mapping}
        has_assembly = bool(wishes.assembly) or len(build.assemblies) == 1 or can_ask()
        readable = grids or not notes.errors
        sheet = read_tables(path, grids, own, known, notes, sheets, has_assembly=has_assembly) if readable else None
    print_problems(notes.problems)
    if sheet is None and path.suffix.casefold() == ".txt" and not as_notes:
        click.echo("If these are notes and no table, begin each day with its date, like 2026-02-07.")
    if sheet is None:
        fail("nothing was written", EXIT_ERRORS)
    return sheet


# -- one adoption ----------------------------------------------------------------------------------


@dataclass(slots=True)
class _Adoption:
    """One adoption, from what was read to what is written. `reasons` are those for which nothing is."""

    journal: Journal
    file: Path
    sheet: Spreadsheet
    given: Answers
    older: Answers
    wishes: AdoptionWishes
    reasons: list[str] = field(default_factory=list)

    def run(
        self, media: Sequence[Path], *, write: bool, skip_faulty: bool, ignore_totals: bool, show_all: bool
    ) -> None:
        """Say what was understood, ask what has to be known, show what would be, and write where that is wished."""
        root = self.journal.root
        for line in self.sheet.told:
            click.echo(line)
        self._find_order()
        rows = read_plans(self.journal.build, self.sheet, self.wishes, self.file)
        if can_ask() and self._asked_for_assembly(rows):
            rows = read_plans(self.journal.build, self.sheet, self.wishes, self.file)
        self._each_or_together(rows)
        self._say_remembered()
        with staged(root / CACHE, "unpacked") as scratch:
            pictures = [one.path for row in self.sheet.rows for one in row.pictures]
            found = examine_media(self.journal, [*media, *dict.fromkeys(pictures)], scratch)
            plans = plan_days(self.journal, self.sheet, found, self.wishes, self.file)
            report(plans, self.sheet, found, everything=show_all)
            new = [plan.new for plan in plans if plan.new]
            self._hold_totals(rows, ignore=ignore_totals)
            self._say_hours(plans)
            self._stop_for(Counter(plan.fate for plan in plans), skip_faulty=skip_faulty)
            if not plans and not found.media:
                self.reasons.append("nothing was found that could be taken over")
            for reason in self.reasons:
                click.echo(f"journal: {reason}", err=True)
            if self.reasons:
                fail("nothing was written", EXIT_ERRORS)
            if not write:
                click.echo("\nNothing was written: this only shows what would be. Add --write to do it." if new else "")
                return
            write_entries(root, new, by=ADOPT)
        keep_answers(root, self.given.with_older(self.older))
        click.echo(f"Written: {say_count(len(new), 'entry', 'entries')}. `journal check` tells what they lack.")

    def _find_order(self) -> None:
        """How the dates are written, as the whole column tells it."""
        found = find_order([row.text("date") for row in self.sheet.rows if row.text("date")], today())
        known = [one for one in found.fits if one.value == self.older.dates]
        order = DateOrder(self.given.dates) if self.given.dates else found.order or next(iter(known), None)
        if order is None and found.mixed:
            said = f'"{found.mixed[0]}" and "{found.mixed[1]}" are written in two orders'
            self.reasons.append(f"{said}; write all dates in one, like 2026-02-07, or say which holds with --dates")
        elif order is None and can_ask():
            days = {one: parse_any_date(found.by, one) for one in found.fits}
            readings = [f"{ORDERS[one]}: {found.by} is {say_date(day)}" for one, day in days.items() if day]
            order = found.fits[Asker(silent=False).one_of("How are the dates written?", readings)]
            self.given = replace(self.given, dates=order.value)
        elif found.by and not self.given.dates and order is found.order and order is not None:
            click.echo(f"Dates: {ORDERS[order]}, as {found.by} tells.")
        self.wishes = replace(self.wishes, order=order or DateOrder.ISO)

    def _asked_for_assembly(self, rows: Sequence[AdoptionPlan]) -> bool:
        """Ask for the assembly of rows that tell none, and whether one was asked for."""
        lacking = [row for row in rows if any(lacks_assembly(problem) for problem in row.problems)]
        if not lacking or self.wishes.assembly:
            return False
        known = list(self.journal.build.assemblies.values())
        said = f"No assembly is told in {say_count(len(lacking), lacking[0].unit)}. Which one is it?"
        chosen = known[Asker(silent=False).one_of(said, [one.title for one in known])].id
        self.given, self.wishes = replace(self.given, assembly=chosen), replace(self.wishes, assembly=chosen)
        return True

    def _each_or_together(self, rows: Sequence[AdoptionPlan]) -> None:
        """One figure for several people can be meant in two ways, and the totals hang on it."""
        build, hours_are = self.journal.build, self.given.hours_are or self.older.hours_are
        told = [(plan, plan.draft) for plan in rows if plan.draft and "" in plan.draft.hours]
        several = [(plan, draft) for plan, draft in told if len(draft.people or builders_of(build)) > 1]
        if several and not hours_are:
            plan, draft = several[0]
            names = say_all([build.people[one].name for one in draft.people or builders_of(build)])
            figure = " and ".join(draft.hours[""])
            if can_ask():
                click.echo(f'{plan.unit.capitalize()} {plan.row} tells "{figure}" for {names}.')
                choices = ["each of them worked so long", "together, it is the sum of all"]
                hours_are = ("each", "total")[Asker(silent=False).one_of("Each or together?", choices)]
                self.given = replace(self.given, hours_are=hours_are)
            else:
                self.reasons.append(
                    f"in {say_count(len(several), plan.unit)} one figure stands for several people ({figure} for "
                    f"{names}); say with --hours-are each that everybody worked so long, with --hours-are total that "
                    "it is the sum, with --person ID who worked"
                )
        self.wishes = replace(self.wishes, hours_are=(several and hours_are) or "each")

    def _say_remembered(self) -> None:
        """Which answers to earlier tables hold for this one, where it does not say otherwise."""
        cells = {fold_name(cell) for row in self.sheet.rows for told in row.cells.values() for cell in told}
        headings, answers = " ".join(self.sheet.told), self.given.with_older(self.older)
        used = replace(
            answers,
            headings={one: column for one, column in answers.headings.items() if f"{one} is" in headings},
            means={one: meant for one, meant in answers.means.items() if fold_name(one) in cells},
        )
        if told := [one for one in used.told() if one not in self.given.told()]:
            said = "What this one tells itself wins; --forget leaves this out."
            click.echo(f"As for an earlier table: {'; '.join(told)}. {said}")

    def _hold_totals(self, rows: Sequence[AdoptionPlan], *, ignore: bool) -> None:
        """Whether the table adds up to what it says itself."""
        held, differences = reckon(self.sheet, {plan.row or 0: plan.figures for plan in rows})
        for difference in differences:
            click.echo(click.style(f"{self.file.name}, {difference}.", fg="yellow"))
        if held and not differences:
            click.echo(f"The table adds up: {say_count(held, 'total')} compared with its rows.")
        if differences and not ignore:
            self.reasons.append("the table adds up otherwise; mend it, or write all the same with --ignore-totals")

    def _say_hours(self, plans: Sequence[AdoptionPlan]) -> None:
        """Hours in the table and in the entries, and those of the build before and after."""
        told = sum((plan.figures.get("", Fraction()) for plan in plans if plan.draft), Fraction())
        if not told:
            return
        wanted = in_entries = worked = counted = 0
        for plan, draft, entry in ((plan, plan.new, plan.entry) for plan in plans):
            if draft and entry:
                wanted += plan.minutes
                in_entries += entry.time[0].minutes if "" in draft.hours and entry.time else entry.minutes
                worked += entry.minutes
                counts = not entry.draft and self.journal.build.assemblies[entry.assembly].counts
                counted += entry.minutes if counts else 0
        before = self.journal.ledger.minutes
        people = f" ({_say(worked)} for all people)" if worked != in_entries else ""
        apart = f" (and {_say(worked - counted)} that do not count for the build)" if worked != counted else ""
        click.echo(
            f"Hours: {say_hours(told)} in the rows, {_say(in_entries)} in the new entries{people}; "
            f"the build has {_say(before)} now and {_say(before + counted)} with them{apart}."
        )
        if wanted != in_entries:
            self.reasons.append(f"the new entries come to {_say(in_entries)}, and their rows to {_say(wanted)}")

    def _stop_for(self, counts: Mapping[Fate, int], *, skip_faulty: bool) -> None:
        """What has to be settled before anything is written."""
        settled = {
            Fate.FAULTY: skip_faulty,
            Fate.BESIDE: self.wishes.beside is not None,
            Fate.TWIN: self.wishes.keep_twins is not None,
        }
        for fate, (one, many, said) in QUESTIONS.items():
            if counts[fate] and not settled.get(fate):
                self.reasons.append(f"{say_count(counts[fate], one, many)} {said}")


def can_ask() -> bool:
    """Whether somebody sits at a terminal who could answer."""
    return sys.stdin.isatty()


def _say(minutes: int) -> str:
    return say_hours(Fraction(minutes, 60))


def report(plans: Sequence[AdoptionPlan], sheet: Spreadsheet, found: Found, *, everything: bool = True) -> None:
    """A line for each row and each day of photos; what is wrong stands below its line. Of long tables, unless
    `everything` is wished, only what needs looking at.
    """
    width = max((len(plan.fate.value) for plan in plans), default=0)
    few = everything or len(plans) <= LONG
    shown = [plan for plan in plans if few or plan.fate not in (Fate.NEW, Fate.HERE) or plan.guess or plan.remarks]
    for plan in shown:
        where = f"{plan.unit} {plan.row:>4}" if plan.row is not None else "photos  "
        day = plan.draft.date.isoformat() if plan.draft else ""
        placed = plan.draft.placed if plan.draft else ()
        photos = f", {say_media(placed)}" if placed else ""
        line = f"{where}  {plan.fate.value:<{width}}  {day}  {plan.said}{photos}".rstrip(" ,")
        click.echo(click.style(line, fg=COLOURS.get(plan.fate)))
        for said in [*([plan.guess] if plan.guess and plan.new else []), *plan.remarks]:
            click.echo(f"    {said}")
        for problem in plan.problems:
            click.echo(f"    {render_problem(problem)}")
    if quiet := len(plans) - len(shown):
        click.echo(f"{say_count(quiet, 'row')} with nothing to look at in them not shown; --all shows them.")
    for name in sheet.unused:
        click.echo(f'Column "{name}" is not used; --map "{name}=text" would add it to the text.')
    if found.here:
        click.echo(f"In the journal already, left out: {say_media([one for one, _ in found.here])}.")
    for one, other in found.twins:
        click.echo(f"{one.shown} is the same picture as {other.shown}; left out.")
    if others := [name for name in found.passed_over if Path(name) not in sheet.files]:
        names = say_few([Path(name).name for name in others], 5)
        click.echo(f"{say_count(len(others), 'other file')} passed over: {names}.")
    counts = Counter(plan.fate for plan in plans)
    said = ", ".join(f"{counts[fate]:,} {fate.value}" for fate in Fate if counts[fate])
    size = sum(one.bytes for plan in plans if plan.new for one in plan.new.placed)
    rows = [plan for plan in plans if plan.row is not None]
    of_rows = f"{say_count(len(rows), rows[0].unit)}: " if rows else ""
    click.echo(f"\n{of_rows}{said or 'Nothing found'}{f'; {say_bytes(size)} of photos' if size else ''}.")
