"""`journal begin` on the terminal: its questions, and what it says when the build is there."""

from __future__ import annotations

import re
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import click

from journal.base.formatting import say_count
from journal.base.model import Assembly, Person
from journal.base.problems import Problem, has_errors, render_problem
from journal.base.safe_write import InTheWayError, land_folder
from journal.base.text_files import one_line
from journal.commands.intake.asking import AnswerError, Asker, parse_address, parse_zone
from journal.commands.intake.begin import (
    FOLDERS,
    LEFT_AS_THEY_ARE,
    STEP_COLUMNS,
    WORKFLOW,
    Wishes,
    convert_steps,
    given_name,
    guess_zone,
    installed_from,
    parse_assemblies,
    parse_builders,
    plan_build,
    ready_assemblies,
)
from journal.commands.intake.spreadsheet import read_spreadsheet
from journal.commands.terminal import CAUTION, EXIT_ERRORS, EXIT_USE, fail, print_problems
from journal.reading.text import Notes

NO_MARK = "-"
DEFAULT_PLACE = "home workshop"


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """What the options of `journal begin` answer in advance; None or empty where they do not."""

    aircraft: str | None
    kind: str | None
    builders: tuple[str, ...]
    begun: date | None
    zone: str | None
    place: str | None
    assemblies: tuple[str, ...]
    watermark: str | None
    site_url: str | None
    ci: bool


def begin_build(
    folder: Path, given: Given, steps: Path | None, mapping: Mapping[str, str], today: date, ask: Asker
) -> None:
    """Ask, make the build, say what comes next. Raises AnswerError for an option that cannot be used."""
    _stop_if_in_the_way(folder)
    if not ask.silent:
        click.echo(
            f"A new build in {folder}. Enter takes what stands in brackets. Nothing is written before the\n"
            "last question, and everything can be changed later.\n"
        )
    wishes = _ask_wishes(folder, given, ask)
    if steps is not None:
        wishes, problems = _with_steps(wishes, steps, mapping)
        print_problems(problems)
        if has_errors(problems):
            fail("nothing was made; mend the table of steps first", EXIT_ERRORS)
    elif not ask.silent:
        wishes = _ask_steps(wishes, mapping, ask)
    try:
        land_folder(plan_build(wishes, today), FOLDERS, folder, may_stay=LEFT_AS_THEY_ARE)
    except InTheWayError as trouble:
        _say_in_the_way(trouble.names)
    _say_begun(folder, wishes)


def begin_from_archive(archive: Path, folder: Path) -> None:
    """Copy a build back out of an archive, verified first."""
    from journal.base.byte_progress import say_bytes
    from journal.commands.record import bar_of_bytes
    from journal.record.restore import restore_source

    if not archive.exists():
        raise AnswerError(f"{archive} is not there.")
    if folder.is_dir() and any(folder.iterdir()):
        _say_in_the_way(sorted(f"{path}/" if path.is_dir() else str(path) for path in folder.iterdir()))
    restored, _, problems = restore_source(archive, folder, begin=bar_of_bytes)
    print_problems(problems)
    if restored is None:
        fail("nothing was made", EXIT_ERRORS)
    click.echo(
        f"The build is in {restored.folder}: {say_count(restored.files, 'file')}, {say_bytes(restored.bytes)}, "
        "each as the archive lists it.\n\nNext:\n"
        f"  cd {folder}\n"
        f"  journal check\n"
        f"  journal site"
    )


def _stop_if_in_the_way(folder: Path) -> None:
    """Before anybody answers questions in vain."""
    if folder.exists() and not folder.is_dir():
        _say_in_the_way([str(folder)])
    names = [folder / name for name in ("mkdocs.yml", "content", "first-entry.md")]
    taken = [f"{path}/" if path.is_dir() else str(path) for path in names if path.exists()]
    if taken:
        _say_in_the_way(taken)


def _say_in_the_way(names: Sequence[str]) -> None:
    click.echo("journal: nothing was made, because this is there already:", err=True)
    for name in names:
        click.echo(f"  {name}", err=True)
    click.echo("Name another folder, or move these away first.", err=True)
    sys.exit(EXIT_USE)


def _ask_wishes(folder: Path, given: Given, ask: Asker) -> Wishes:
    guess = one_line(re.sub(r"[-_]+", " ", folder.absolute().name)) or "Aircraft"
    aircraft = given.aircraft or ask.text("What is the aircraft called?", guess[0].upper() + guess[1:])
    builders = parse_builders(given.builders)
    if not builders and not ask.silent:
        builders = _ask_builders(ask)
    zone = (
        parse_zone(given.zone)
        if given.zone is not None
        else ask.parsed("Which time zone is the workshop in?", guess_zone(), parse_zone)
    )
    place = given.place or ask.text("What do you call the workshop? (never on the site unless you ask)", DEFAULT_PLACE)
    assemblies = parse_assemblies(given.assemblies)
    if not assemblies:
        assemblies = ready_assemblies() if ask.silent else _ask_assemblies(ask)
    watermark = (
        given.watermark
        if given.watermark is not None
        else ask.text(f"Words in a corner of every picture ({NO_MARK} for none)", f"{aircraft} build journal")
    )
    site_url = (
        parse_address(given.site_url)
        if given.site_url is not None
        else ask.parsed("Address of the site, if you have one already", "", parse_address)
    )
    return Wishes(
        aircraft=one_line(aircraft),
        kind=one_line(given.kind or ""),
        builders=builders,
        begun=given.begun,
        zone=zone,
        place=one_line(place) or DEFAULT_PLACE,
        assemblies=assemblies,
        watermark="" if one_line(watermark) == NO_MARK else one_line(watermark),
        site_url=site_url,
        requirement=installed_from() if given.ci else None,
    )


def _ask_builders(ask: Asker) -> tuple[Person, ...]:
    names = ask.text("Who builds it? Full names, with commas between them")
    people = []
    for person in parse_builders(names.split(",")):
        shown = ask.text(
            f'  What may the site call {person.name}? For example "{given_name(person.name)}"; Enter for only "builder"'
        )
        people.append(replace(person, shown_as=shown or None))
    return tuple(people)


def _ask_assemblies(ask: Asker) -> tuple[Assembly, ...]:
    ready = ready_assemblies()
    click.echo("Assemblies of a two-seat metal aircraft, in the order of the build:")
    for assembly in ready:
        click.echo(f"    {assembly.title}{'' if assembly.counts else '  (its hours are kept apart)'}")
    answer = ask.text("Enter takes this list; or type your own, with commas between them")
    return parse_assemblies(answer.split(",")) or ready


def _ask_steps(wishes: Wishes, mapping: Mapping[str, str], ask: Asker) -> Wishes:
    def parse(answer: str) -> Wishes:
        if not answer:
            return wishes
        taken, problems = _with_steps(wishes, Path(answer.strip("'\"")).expanduser(), mapping)
        if has_errors(problems):
            told = "\n  ".join(render_problem(problem) for problem in problems)
            raise AnswerError(f"{told}\n  Name another file, or Enter to do it later.")
        return taken

    return ask.parsed("A table of the manual's steps as CSV, if you have one (Enter: later)", "", parse)


def _with_steps(wishes: Wishes, table: Path, mapping: Mapping[str, str]) -> tuple[Wishes, tuple[Problem, ...]]:
    """The wishes with the steps of a table, and what is wrong with it."""
    notes = Notes(str(table))
    sheet = read_spreadsheet(table, STEP_COLUMNS, ("assembly", "step", "title"), mapping, notes)
    if sheet is None:
        return wishes, tuple(notes.problems)
    text, assemblies, found = convert_steps(sheet, wishes.assemblies, str(table))
    return replace(wishes, steps_csv=text, assemblies=assemblies), (*notes.problems, *found)


def _say_begun(folder: Path, wishes: Wishes) -> None:
    steps = max(wishes.steps_csv.count("\n") - 1, 0)
    click.echo(
        f"The build is in {folder}: {say_count(len(wishes.assemblies), 'assembly', 'assemblies')}, "
        f"{say_count(steps, 'step')}, time zone {wishes.zone or 'not set'}."
    )
    if not wishes.builders:
        click.echo("No builder has a name yet: write the names into content/build.yml.")
    if not steps:
        click.echo("The manual's steps are not in yet: put them into content/steps.csv when you find the time.")
    if wishes.requirement is not None:
        click.echo(f"The workflow for a forge is {WORKFLOW}; read its first lines before you push anything.")
    click.echo(
        f"\nNext:\n"
        f"  cd {folder}\n"
        f"  journal enter --photos FOLDER    write up the first evening\n"
        f"  journal preview                  see the site as you write\n"
        f"The file first-entry.md there tells more.\n\n{click.wrap_text(CAUTION, 90)}"
    )
