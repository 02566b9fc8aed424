"""`journal begin`: a few answers become a build folder that can be checked and built at once."""

from __future__ import annotations

import csv
import io
import json
import re
import sys
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from enum import Enum
from importlib import metadata
from importlib.resources import files as package_files
from itertools import chain, count
from pathlib import Path
from typing import Any, TypeVar

import click

from journal.base.addresses import fold_name, slug
from journal.base.formatting import say_count
from journal.base.model import Airframe, Assembly, EnginePlace, Person, Role, TailShape, Wheels, WingPlace, named
from journal.base.problems import Problem, has_errors, render_problem
from journal.base.safe_write import InTheWayError, in_the_way, land_folder
from journal.base.text_files import one_line, yaml_key, yaml_row, yaml_text
from journal.commands.intake.asking import AnswerError, Asker, map_option, parse_address, parse_zone
from journal.commands.intake.spreadsheet import Spreadsheet, read_spreadsheet
from journal.commands.terminal import CAUTION, EXIT_ERRORS, EXIT_USE, Day, fail, print_problems, today
from journal.reading import lists
from journal.reading.table import parse_table
from journal.reading.text import Notes

STEP_COLUMNS = {
    "assembly": ("section", "part"),
    "step": ("number", "no", "no.", "id", "nr"),
    "title": ("description", "text", "task", "what"),
    "page": ("manual page",),
    "closes": (),
    "same_as": ("same as", "mirrors"),
    "shape": ("shapes",),
}
"""Columns of a table of steps, and other words they go by."""

E = TypeVar("E", bound=Enum)

FOLDERS = ("content/entries",)
NO_MARK = "-"
DEFAULT_PLACE = "home workshop"
LEFT_AS_THEY_ARE = (".gitignore",)
"""Files that a folder may hold already without being in the way."""

WORKFLOW = ".github/workflows/site.yml"

_GITIGNORE = """\
# Made by `journal`; all of it can be made again.
/site/
/site.*/
/.journal/
/cards/
/films/
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What a new build is to be. `steps_csv` is the text of steps.csv, or empty.

    `requirement` is what the forge's workflow installs the program from; None writes no workflow.
    """

    aircraft: str
    kind: str = ""
    builders: tuple[Person, ...] = ()
    begun: date | None = None
    zone: str = ""
    place: str = DEFAULT_PLACE
    assemblies: tuple[Assembly, ...] = ()
    airframe: Airframe = field(default_factory=Airframe)
    watermark: str = ""
    site_url: str = ""
    steps_csv: str = ""
    requirement: str | None = None

    @property
    def named_builders(self) -> tuple[Person, ...]:
        """The builders; one without a name of their own where nobody was named."""
        return self.builders or (Person(id="builder", name="Builder", role=Role.BUILDER),)


def _one_of(kind: type[Enum]) -> str:
    *words, last = (str(one.value) for one in kind)
    return f"{', '.join(words)} or {last}"


@click.command()
@click.argument("folder", metavar="DIR", required=False, type=click.Path(path_type=Path))
@click.option("--aircraft", metavar="NAME", help="What the aircraft is called.")
@click.option("--kind", metavar="WORDS", help="What kind of aircraft it is.")
@click.option(
    "--builder",
    "builders",
    multiple=True,
    metavar="NAME[=SHOWN]",
    help="A builder's full name and, after =, what the site may show of it. May be repeated.",
)
@click.option("--begun", type=Day(last=False), metavar="DATE", help="The day of the first work, like 2026-01-10.")
@click.option("--zone", metavar="ZONE", help="Time zone of the workshop, like Europe/Zurich.")
@click.option("--place", metavar="NAME", help="What the workshop is called; not shown on the site.")
@click.option("--assembly", "assemblies", multiple=True, metavar="TITLE", help="An assembly. May be repeated.")
@click.option("--wing", metavar="WORD", help=f"Where the wing is: {_one_of(WingPlace)}.")
@click.option("--tail", metavar="WORD", help=f"What the tail is like: {_one_of(TailShape)}.")
@click.option("--wheels", metavar="WORDS", help=f"Where the third wheel is: {_one_of(Wheels)}.")
@click.option("--engine", metavar="WORDS", help=f"Where the engine is: {_one_of(EnginePlace)}.")
@click.option("--watermark", metavar="WORDS", help="Words in a corner of every picture; - for none.")
@click.option("--site-url", metavar="ADDRESS", help="Where the site will stand.")
@click.option("--steps", type=click.Path(path_type=Path), metavar="CSV", help="A table of the manual's steps.")
@map_option("Which column of the table of steps is which.")
@click.option("--ci", is_flag=True, help="Add a workflow with which a forge makes the site at every push.")
@click.option(
    "--from-archive", type=click.Path(path_type=Path), metavar="PATH", help="Take the build out of an archive instead."
)
@click.option("--yes", is_flag=True, help="Ask nothing; take what Enter alone would give.")
def begin(
    folder: Path | None, steps: Path | None, mapping: dict[str, str], from_archive: Path | None, yes: bool, **given: Any
) -> None:
    """Make a new build folder in DIR.

    Asks a few questions; options answer them in advance. Nothing that is there already is touched:
    where something is in the way, nothing is made.

    \b
    Example:
      journal begin tarn
      journal begin tarn --yes --builder "Maren Oltwick=Maren" --steps manual.csv
      journal begin tarn-again --from-archive /media/stick/tarn-archive
    """
    ask = Asker(silent=yes)
    if folder is None:
        raise AnswerError("Name the folder to be made, like: journal begin tarn")
    if from_archive is not None:
        _begin_from_archive(from_archive, folder)
        return
    _stop_where(in_the_way(folder, ("mkdocs.yml", "content", "first-entry.md")))  # before anybody answers in vain
    if not yes:
        click.echo(
            f"A new build in {folder}. Enter takes what stands in brackets. Nothing is written before the\n"
            "last question, and everything can be changed later.\n"
        )
    wishes = _ask_wishes(folder, ask, given)
    if steps is not None:
        wishes, problems = _with_steps(wishes, steps, mapping)
        print_problems(problems)
        if has_errors(problems):
            fail("nothing was made; mend the table of steps first", EXIT_ERRORS)
    elif not yes:
        wishes = _ask_steps(wishes, mapping, ask)
    try:
        land_folder(plan_build(wishes, today()), FOLDERS, folder, may_stay=LEFT_AS_THEY_ARE)
    except InTheWayError as taken:
        _stop_where(taken.names)
    _say_begun(folder, wishes)


def _begin_from_archive(archive: Path, folder: Path) -> None:
    """Copy what is whole of a build back out of an archive, verified first."""
    from journal.base.byte_progress import say_bytes
    from journal.commands.record import bar_of_bytes
    from journal.record.source import restore_source
    from journal.record.verify import find_archive

    if not find_archive(archive).exists():
        raise AnswerError(f"{archive} is not there.")
    _stop_where(in_the_way(folder, ()))
    restored, problems = restore_source(archive, folder, begin=bar_of_bytes)
    if any(problem.word == "restore-not-empty" for problem in problems):
        _stop_where(in_the_way(folder, sorted(path.name for path in folder.iterdir())))
    print_problems(problems)
    if restored is None:
        fail("nothing was made", EXIT_ERRORS)
    files, size = restored
    click.echo(
        f"The build is in {folder.resolve()}: {say_count(files, 'file')}, {say_bytes(size)}, "
        "each as the archive lists it."
    )
    if has_errors(problems):
        fail("not all of the build came back: see above", EXIT_ERRORS)
    click.echo(f"\nNext: `cd {folder}`, then `journal check` tells how it stands.")


# -- asking and telling ------------------------------------------------------------------------------


def _stop_where(names: Sequence[str]) -> None:
    """End the command where anything is in the way."""
    if names:
        click.echo("journal: nothing was made, because this is there already:", err=True)
        for name in names:
            click.echo(f"  {name}", err=True)
        click.echo("Name another folder, or move these away first.", err=True)
        sys.exit(EXIT_USE)


def _ask_wishes(folder: Path, ask: Asker, given: Mapping[str, Any]) -> Wishes:
    """What the options in `given` do not answer is asked; without questions Enter's answer is taken."""
    guess = one_line(re.sub(r"[-_]+", " ", folder.absolute().name)) or "Aircraft"
    aircraft = ask.text("What is the aircraft called?", guess[0].upper() + guess[1:], given["aircraft"] or None)
    people = parse_builders(given["builders"])
    if not people and not ask.silent:
        people = _ask_builders(ask)
    zone = ask.parsed("Which time zone is the workshop in?", guess_zone(), parse_zone, given["zone"])
    question = "What do you call the workshop? (never on the site unless you ask)"
    place = ask.text(question, DEFAULT_PLACE, given["place"] or None)
    whole = parse_assemblies(given["assemblies"])
    if not whole:
        whole = ready_assemblies() if ask.silent else _ask_assemblies(ask)
    airframe = _ask_airframe(ask, given)
    question = f"Words in a corner of every picture ({NO_MARK} for none)"
    watermark = ask.text(question, f"{aircraft} build journal", given["watermark"])
    return Wishes(
        aircraft=aircraft,
        kind=one_line(given["kind"] or ""),
        builders=people,
        begun=given["begun"],
        zone=zone,
        place=place or DEFAULT_PLACE,
        assemblies=whole,
        airframe=airframe,
        watermark="" if watermark == NO_MARK else watermark,
        site_url=ask.parsed("Address of the site, if you have one already", "", parse_address, given["site_url"]),
        requirement=installed_from() if given["ci"] else None,
    )


def _ask_builders(ask: Asker) -> tuple[Person, ...]:
    names = ask.text("Who builds it? Full names, with commas between them")
    people = []
    for person in parse_builders(names.split(",")):
        shown = ask.text(
            f'  What may the site call {person.name}? For example "{person.name.split()[0]}"; Enter for only "builder"'
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


def _ask_airframe(ask: Asker, given: Mapping[str, Any]) -> Airframe:
    """The four words that tell most of how an aircraft looks; the rest can be added to build.yml."""

    def word(key: str, question: str, kind: type[E]) -> E:
        def parse(answer: str) -> E:
            told = " ".join(answer.casefold().split())
            for one in kind:
                if told == one.value:
                    return one
            raise AnswerError(f'"{answer}" is not known here. Write {_one_of(kind)}.')

        first = next(iter(kind))
        return ask.parsed(f"{question} ({_one_of(kind)})", str(first.value), parse, given[key])

    return Airframe(
        wing=word("wing", "For its drawing: where is the wing?", WingPlace),
        tail=word("tail", "  What is the tail like?", TailShape),
        wheels=word("wheels", "  Where is the third wheel, or has it floats?", Wheels),
        engine=word("engine", "  Where is the engine, or are there two?", EnginePlace),
    )


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
    text, assemblies = _convert_steps(sheet, wishes.assemblies)
    found = _step_problems(text, sheet, str(table))
    return replace(wishes, steps_csv=text, assemblies=assemblies), (*notes.problems, *found)


def _say_begun(folder: Path, wishes: Wishes) -> None:
    steps = max(wishes.steps_csv.count("\n") - 1, 0)
    click.echo(
        f"The build is in {folder}: {say_count(len(wishes.assemblies), 'assembly', 'assemblies')}, "
        f"{say_count(steps, 'step')}, time zone {wishes.zone or 'not set'}."
    )
    later = [] if wishes.builders else ["the builders' names into content/build.yml"]
    later += [] if steps else ["the manual's steps into content/steps.csv"]
    if later:
        click.echo(f"Still to be written, when you find the time: {', '.join(later)}.")
    if wishes.requirement is not None:
        click.echo(f"The workflow for a forge is {WORKFLOW}; read its first lines before you push anything.")
    click.echo(f"\n{click.wrap_text(CAUTION, 90)}\n")
    click.echo(
        f"Next: `cd {folder}`, then `journal enter` writes up the first evening; first-entry.md there tells how."
    )


# -- what is written ---------------------------------------------------------------------------------


def read_starter(name: str) -> str:
    """The text of a file that ships for new builds."""
    return package_files("journal").joinpath("data", "starter", name).read_text("utf-8")


def ready_assemblies() -> tuple[Assembly, ...]:
    """The list for a two-seat metal aircraft, in the order in which such kits are often built.

    Common practice, no source; every builder edits it to suit the manual.
    """
    rows = csv.DictReader(io.StringIO(read_starter("assemblies.csv")))
    return tuple(Assembly(id=row["assembly"], title=row["title"], counts=row["counts"] != "no") for row in rows)


def parse_assemblies(titles: Iterable[str]) -> tuple[Assembly, ...]:
    """Assemblies by title or ID; those of the ready list keep its IDs."""
    ready = {fold_name(key): assembly for assembly in ready_assemblies() for key in (assembly.id, assembly.title)}
    found: dict[str, Assembly] = {}
    for title in filter(None, map(one_line, titles)):
        assembly = ready.get(fold_name(title)) or Assembly(id=slug(title), title=title)
        found.setdefault(assembly.id, assembly)
    return tuple(found.values())


def parse_builders(names: Iterable[str]) -> tuple[Person, ...]:
    """`Ada Bergstrom` or `Ada Bergstrom=Ada`: what follows the sign is how the site shows the name."""
    people: dict[str, Person] = {}
    for text in names:
        name, _, shown = map(one_line, text.partition("="))
        if not name:
            continue
        # The first word of a name is how friends are called on a site.
        words = chain((slug(name.split()[0]), slug(name)), (f"{slug(name)}-{number}" for number in count(2)))
        identifier = next(word for word in words if word not in people)
        people[identifier] = Person(id=identifier, name=name, role=Role.BUILDER, shown_as=shown or None)
    return tuple(people.values())


def guess_zone() -> str:
    """The IANA name of this machine's zone, or an empty text where the machine does not tell."""
    import tzlocal

    try:
        return tzlocal.get_localzone_name() or ""
    except Exception:  # it reads whatever files and registry keys a machine has, and raises as they fail
        return ""


def installed_from() -> str:
    """What pip would install this very program from, as far as it knows (PEP 610), else name and version."""
    name = "build-journal"
    try:
        distribution = metadata.distribution(name)
    except metadata.PackageNotFoundError:
        return name
    origin = distribution.read_text("direct_url.json")
    if origin:
        told = json.loads(origin)
        if "vcs_info" in told:
            return f"{told['vcs_info']['vcs']}+{told['url']}@{told['vcs_info']['commit_id']}"
    return f"{name}=={distribution.version}"


def _convert_steps(sheet: Spreadsheet, assemblies: Sequence[Assembly]) -> tuple[str, tuple[Assembly, ...]]:
    """(text of steps.csv, assemblies with those that only the table names).

    The assembly of a row may be an ID or a title; an unknown one is added at the end of the list.
    """
    by_word = {fold_name(key): assembly for assembly in assemblies for key in (assembly.id, assembly.title)}
    whole = {assembly.id: assembly for assembly in assemblies}
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(STEP_COLUMNS)
    for row in sheet.rows:
        cells = {column: one_line(row.text(column)) for column in STEP_COLUMNS}
        if named := row.text("assembly"):
            assembly = by_word.get(fold_name(named)) or parse_assemblies([named])[0]
            by_word[fold_name(named)] = whole.setdefault(assembly.id, assembly)
            cells["assembly"] = assembly.id
        writer.writerow(cells.values())
    return out.getvalue(), tuple(whole.values())


def _step_problems(text: str, sheet: Spreadsheet, file: str) -> tuple[Problem, ...]:
    """What the strict reader says of the converted table, at the lines of the table `file` as given."""
    notes = Notes(file)
    table = parse_table(text, *lists.STEP_COLUMNS, notes)
    seen: set[str] = set()
    for row in table:
        if identifier := lists.check_step(row, seen):
            seen.add(identifier)
    for row in table:
        same_as = row.text("same_as")
        if same_as and same_as not in seen:
            row.error("same_as", "unknown-step", f'unknown step "{same_as}"', "name a step of this table")
    lines = {number + 2: row.line for number, row in enumerate(sheet.rows)}
    return tuple(
        replace(problem, line=lines.get(problem.line or 0, problem.line), column=None) for problem in notes.problems
    )


def plan_build(wishes: Wishes, today: date) -> dict[str, bytes]:
    """Every file of a new build, by its path in the folder."""
    planned = {
        "mkdocs.yml": _settings(wishes),
        "content/build.yml": _build_yml(wishes),
        "content/steps.csv": wishes.steps_csv or ",".join(STEP_COLUMNS) + "\n",
        "first-entry.md": first_entry(wishes, today),
        ".gitignore": _GITIGNORE,
    }
    if wishes.requirement is not None:
        planned[WORKFLOW] = read_starter("site.yml").replace("{requirement}", json.dumps(wishes.requirement))
    return {name: text.encode() for name, text in planned.items()}


def first_entry(wishes: Wishes, today: date) -> str:
    """The page that tells how to write the first entry, with the build's own names."""
    counting = [assembly for assembly in wishes.assemblies if assembly.counts] or list(wishes.assemblies)
    words = {
        "date": today.isoformat(),
        "assembly": counting[0].id,
        "assemblies": ", ".join(f"`{assembly.id}`" for assembly in wishes.assemblies),
        "people": ", ".join(person.id for person in wishes.named_builders),
    }
    return re.sub(r"\{(\w+)\}", lambda found: words.get(found[1], found[0]), read_starter("first-entry.md"))


def _settings(wishes: Wishes) -> str:
    # mkdocs reads this with a YAML of its own, so the name is quoted whatever it is.
    name = json.dumps(f"{wishes.aircraft} build journal", ensure_ascii=False)
    address = (
        f"site_url: {wishes.site_url}"
        if wishes.site_url
        else "# site_url: https://…/    # where the site will stand; feeds and link previews need it"
    )
    return f"""\
site_name: {name}
{address}
docs_dir: content
theme: {{name: material, font: false}}
plugins: [search, journal]
extra:
  quiet: !!python/name:journal.quiet.host  # spares you the notices of the program underneath
"""


def _build_yml(wishes: Wishes) -> str:
    aircraft = yaml_row({"name": wishes.aircraft, "kind": wishes.kind})
    lines = [
        "# The build. Names of people appear on the site only as `shown_as` says; places, registration and",
        "# serial number only where this file says `show: [places, registration, serial]`.",
        f"aircraft: {aircraft}",
        f"begun: {wishes.begun.isoformat()}" if wishes.begun else "# begun: 2026-01-10    # the day of the first work",
        f"zone: {wishes.zone}"
        if wishes.zone
        else "# zone: Europe/Zurich    # so that a change of clock is counted right",
        "closing_inspections: recommended    # required, recommended or none, as your authority has it",
        "# rules: us    # us, ca, uk, au, eu or a file of your own: what the authority wants, told in the archive",
        "",
        "people:    # role: builder, helper, paid or inspector",
    ]
    for person in wishes.named_builders:
        row = {"name": person.name, "shown_as": person.shown_as or "", "role": person.role.value}
        lines.append(f"  {yaml_key(person.id)}: {yaml_row(row)}")
    lines += ["", "places:", f"  {yaml_key(slug(wishes.place))}: {yaml_row({'name': wishes.place})}"]
    lines += ["", "assemblies:    # in the order of the build; planned_hours: 60 may be added to any"]
    for assembly in wishes.assemblies:
        counts = "" if assembly.counts else ", counts: false"
        lines.append(f"  {yaml_key(assembly.id)}: {{title: {yaml_text(assembly.title)}{counts}}}")
    told = {key: str(one.value) for key, one in named(wishes.airframe, "wing", "tail", "wheels", "engine").items()}
    lines += ["", "# The aircraft as the site draws it; struts, seats, cabin, span and length may be added:"]
    lines += [f"drawing: {yaml_row(told)}"]
    mark = yaml_text(wishes.watermark) if wishes.watermark else '""'
    lines += ["", f"photos: {{watermark: {mark}, corner: lower right, opacity: 0.6}}", ""]
    return "\n".join(lines)
