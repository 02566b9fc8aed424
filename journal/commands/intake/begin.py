"""A new build folder: a few answers become files that can be checked and built at once."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from importlib import metadata
from importlib.resources import files as package_files

from journal.base.addresses import fold_name, slug
from journal.base.model import Assembly, Person, Role
from journal.base.problems import Problem
from journal.base.text_files import one_line, yaml_key, yaml_row, yaml_text
from journal.commands.intake.spreadsheet import Spreadsheet
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
}
"""Columns of a table of steps, and other words they go by."""

FOLDERS = ("content/entries",)
LEFT_AS_THEY_ARE = (".gitignore",)
"""Files that a folder may hold already without being in the way."""

WORKFLOW = ".github/workflows/site.yml"

_GITIGNORE = """\
# Made by `journal`; all of it can be made again.
/site/
/site.*/
/.journal/
/cards/
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
    place: str = "home workshop"
    assemblies: tuple[Assembly, ...] = ()
    watermark: str = ""
    site_url: str = ""
    steps_csv: str = ""
    requirement: str | None = None

    @property
    def named_builders(self) -> tuple[Person, ...]:
        """The builders; one without a name of their own where nobody was named."""
        return self.builders or (Person(id="builder", name="Builder", role=Role.BUILDER),)


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
    """Assemblies by title or ID; those of the ready list keep its IDs, so that the drawing fits them."""
    ready = {fold_name(key): assembly for assembly in ready_assemblies() for key in (assembly.id, assembly.title)}
    found: dict[str, Assembly] = {}
    for title in map(one_line, titles):
        if not title:
            continue
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
        identifier = _person_id(name, people)
        people[identifier] = Person(id=identifier, name=name, role=Role.BUILDER, shown_as=shown or None)
    return tuple(people.values())


def given_name(name: str) -> str:
    """The first word of a name, which is how friends are called on a site."""
    return name.split()[0]


def _person_id(name: str, taken: Iterable[str]) -> str:
    taken = set(taken)
    for candidate in (slug(given_name(name)), slug(name)):
        if candidate not in taken:
            return candidate
    return next(f"{slug(name)}-{number}" for number in range(2, 10_000) if f"{slug(name)}-{number}" not in taken)


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


def convert_steps(
    sheet: Spreadsheet, assemblies: Sequence[Assembly], file: str
) -> tuple[str, tuple[Assembly, ...], tuple[Problem, ...]]:
    """(text of steps.csv, assemblies with those that only the table names, problems).

    The assembly of a row may be an ID or a title; an unknown one is added at the end of the list.
    Problems point at the lines of the table as it was given, `file` names it.
    """
    by_word = {fold_name(key): assembly.id for assembly in assemblies for key in (assembly.id, assembly.title)}
    whole = list(assemblies)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(STEP_COLUMNS)
    for row in sheet.rows:
        named = row.text("assembly")
        if named and fold_name(named) not in by_word:
            (added,) = parse_assemblies([named])
            by_word[fold_name(named)] = added.id
            if added.id not in {assembly.id for assembly in whole}:
                whole.append(added)
        cells = {column: one_line(row.text(column)) for column in STEP_COLUMNS}
        cells["assembly"] = by_word.get(fold_name(named), "")
        writer.writerow(cells[column] for column in STEP_COLUMNS)
    text = out.getvalue()
    return text, tuple(whole), _step_problems(text, sheet, file)


def _step_problems(text: str, sheet: Spreadsheet, file: str) -> tuple[Problem, ...]:
    """What the strict reader says of the converted table, at the lines of the table as given."""
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
        "content/aircraft.svg": fit_drawing(read_starter("aircraft.svg"), wishes.assemblies),
        "first-entry.md": first_entry(wishes, today),
        ".gitignore": _GITIGNORE,
    }
    if wishes.requirement is not None:
        planned[WORKFLOW] = read_starter("site.yml").replace("{requirement}", json.dumps(wishes.requirement))
    return {name: text.encode() for name, text in planned.items()}


def fit_drawing(svg: str, assemblies: Sequence[Assembly]) -> str:
    """The starter's drawing with the shapes of assemblies that this build does not have as plain shapes."""
    known = {assembly.id for assembly in assemblies}
    return re.sub(
        r'\s+data-assembly="([^"]+)"', lambda found: found[0] if found[1] in known or found[1] == "ID" else "", svg
    )


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
        "",
        "people:    # role: builder, helper, paid or inspector",
    ]
    for person in wishes.named_builders:
        row = {"name": person.name, "shown_as": person.shown_as or "", "role": person.role.value}
        lines.append(f"  {yaml_key(person.id)}: {yaml_row(row)}")
    lines += ["", "places:", f"  {yaml_key(slug(wishes.place))}: {yaml_row({'name': wishes.place})}"]
    lines += ["", "assemblies:    # in the order of the build; planned_hours: 60 may be added to any"]
    for assembly in wishes.assemblies:
        row = {"title": assembly.title, "counts": "" if assembly.counts else "false"}
        text = (
            yaml_row({"title": assembly.title})
            if assembly.counts
            else f"{{title: {yaml_text(row['title'])}, counts: false}}"
        )
        lines.append(f"  {yaml_key(assembly.id)}: {text}")
    mark = yaml_text(wishes.watermark) if wishes.watermark else '""'
    lines += ["", f"photos: {{watermark: {mark}, corner: lower right, opacity: 0.6}}", ""]
    return "\n".join(lines)
