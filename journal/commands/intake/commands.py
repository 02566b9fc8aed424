"""The commands that bring work in: `begin`, `enter`, `adopt`. Options to calls."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

import click

from journal.commands.intake.asking import AnswerError, Asker, parse_day
from journal.commands.terminal import EXIT_USE, build_option, fail, today


def mapping_of(context: click.Context, parameter: click.Parameter, value: Sequence[str]) -> dict[str, str]:
    """`ONE=OTHER` pairs of a repeated option; the last `=` parts them."""
    mapping = {}
    for pair in value:
        name, sign, other = pair.rpartition("=")
        if not sign or not name.strip() or not other.strip():
            raise click.BadParameter(f'"{pair}" is not of the form {parameter.metavar}')
        mapping[name.strip()] = other.strip()
    return mapping


def day_of(context: click.Context, parameter: click.Parameter, value: str | None) -> date | None:
    """An ISO date of an option."""
    try:
        return parse_day(value) if value is not None else None
    except AnswerError as trouble:
        raise click.BadParameter(str(trouble)) from None


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--aircraft", metavar="NAME", help="What the aircraft is called.")
@click.option("--kind", metavar="WORDS", help="What kind of aircraft it is.")
@click.option(
    "--builder",
    "builders",
    multiple=True,
    metavar="NAME[=SHOWN]",
    help="A builder's full name and, after =, what the site may show of it. May be repeated.",
)
@click.option("--begun", callback=day_of, metavar="DATE", help="The day of the first work, like 2026-01-10.")
@click.option("--zone", metavar="ZONE", help="Time zone of the workshop, like Europe/Zurich.")
@click.option("--place", metavar="NAME", help="What the workshop is called; not shown on the site.")
@click.option("--assembly", "assemblies", multiple=True, metavar="TITLE", help="An assembly. May be repeated.")
@click.option("--watermark", metavar="WORDS", help="Words in a corner of every picture; - for none.")
@click.option("--site-url", metavar="ADDRESS", help="Where the site will stand.")
@click.option("--steps", type=click.Path(path_type=Path), metavar="CSV", help="A table of the manual's steps.")
@click.option(
    "--map",
    "mapping",
    multiple=True,
    callback=mapping_of,
    metavar="HEADING=COLUMN",
    help="Which column of the table of steps is which. May be repeated.",
)
@click.option("--ci", is_flag=True, help="Add a workflow with which a forge makes the site at every push.")
@click.option(
    "--from-archive", type=click.Path(path_type=Path), metavar="PATH", help="Take the build out of an archive instead."
)
@click.option("--yes", is_flag=True, help="Ask nothing and take what Enter would give.")
def begin(
    folder: Path, steps: Path | None, mapping: dict[str, str], from_archive: Path | None, yes: bool, **given: Any
) -> None:
    """Make a new build folder in DIR.

    Asks a few questions; what an option answers is not asked. Nothing that is there already is
    touched: where something is in the way, nothing is made.

    \b
    Example:
      journal begin tarn
      journal begin tarn --yes --builder "Maren Oltwick=Maren" --steps manual.csv
      journal begin tarn-again --from-archive /media/stick/tarn-archive
    """
    from journal.commands.intake.begin_talk import Given, begin_build, begin_from_archive

    try:
        if from_archive is not None:
            begin_from_archive(from_archive, folder)
            return
        begin_build(folder, Given(**given), steps, mapping, today(), Asker(silent=yes))
    except AnswerError as trouble:
        fail(str(trouble), EXIT_USE)


def names_of(context: click.Context, parameter: click.Parameter, value: Sequence[str]) -> tuple[str, ...] | None:
    """Names of a repeated option, several parted by commas; None where it is not given, `-` for none."""
    if not value:
        return None
    return tuple(name.strip() for text in value for name in text.split(",") if name.strip() not in ("", "-"))


@click.command()
@build_option
@click.argument("photos_too", metavar="[PHOTOS]...", nargs=-1, type=click.Path(path_type=Path))
@click.option(
    "--photos",
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="PATH",
    help="A folder, a zip, or single photos and clips. May be repeated.",
)
@click.option(
    "--day",
    "days",
    multiple=True,
    metavar="DATE",
    help="The day to write up, or `all` of those waiting. May be repeated.",
)
@click.option("--between", metavar="HH:MM-HH:MM", help="Only what was taken between these times.")
@click.option("--assembly", metavar="ID", help="The assembly that was worked on.")
@click.option("--title", metavar="WORDS", help="What was done; names the folder too.")
@click.option("--hours", metavar="TIME", help="What each worked: 2:45, 2.75 or 18:30-21:15.")
@click.option(
    "--step", "steps", multiple=True, callback=names_of, metavar="ID", help="A step finished. May be repeated."
)
@click.option("--begun", multiple=True, callback=names_of, metavar="ID", help="A step begun. May be repeated.")
@click.option("--person", "people", multiple=True, callback=names_of, metavar="ID", help="Who worked. May be repeated.")
@click.option("--place", metavar="ID", help="Where, if not in the first place of build.yml.")
@click.option("--tool", "tools", multiple=True, callback=names_of, metavar="NAME", help="A tool; - for none.")
@click.option("--method", "methods", multiple=True, callback=names_of, metavar="NAME", help="A method.")
@click.option("--with-undated", is_flag=True, help="Take along what has no date or a clock never set.")
@click.option("--with-night", is_flag=True, help="Take along what follows after midnight.")
@click.option("--live", is_flag=True, help="Bring in the moving parts of still pictures too.")
@click.option("--draft", is_flag=True, help="Mark the entry as a draft: it counts nowhere yet.")
@click.option("--no-edit", "edit", flag_value=False, default=True, help="Do not open the editor.")
@click.option("--dry-run", is_flag=True, help="Only show what would be written.")
@click.option("--yes", is_flag=True, help="Ask nothing: options, and else what Enter would give.")
def enter(
    root: Path,
    photos: tuple[Path, ...],
    photos_too: tuple[Path, ...],
    between: str | None,
    yes: bool,
    **given: Any,
) -> None:
    """Write up an evening: a new entry from the photos of a phone.

    Photos are sorted by the day on which they were taken and copied, never moved; those that the
    journal has already are left out. What is about to be written is shown first. Lines that only
    suggest something begin with # and count for nothing until you take the # away.

    \b
    Example:
      journal enter --photos /media/phone/DCIM
      journal enter --photos evening.zip --day 2026-02-07 --assembly flaps --title "Two flap skeletons" --yes
      journal enter
    """
    from journal.commands.intake.enter_talk import Given, enter_work, parse_between

    lists = {key: given[key] or () for key in ("steps", "begun", "methods")}
    try:
        enter_work(
            root,
            Given(
                **(given | lists),
                photos=(*photos, *photos_too),
                between=parse_between(between) if between is not None else None,
            ),
            today(),
            Asker(silent=yes),
        )
    except AnswerError as trouble:
        fail(str(trouble), EXIT_USE)


@click.command()
@build_option
@click.argument("paths", metavar="PATH...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--map",
    "mapping",
    multiple=True,
    callback=mapping_of,
    metavar="HEADING=COLUMN",
    help="Which column is which, like Datum=date; hours:ID for one person's. May be repeated.",
)
@click.option(
    "--means",
    multiple=True,
    callback=mapping_of,
    metavar="WORD=ID",
    help="What a word of the table means in the build.",
)
@click.option("--dates", type=click.Choice(["iso", "dmy", "mdy"]), default="iso", help="How dates are written.")
@click.option(
    "--hours-are",
    type=click.Choice(["each", "total"]),
    default="each",
    help="What a figure counts where several worked.",
)
@click.option("--assembly", metavar="ID", help="The assembly where nothing else names one.")
@click.option(
    "--person", "people", multiple=True, callback=names_of, metavar="ID", help="Who worked where no row says."
)
@click.option("--row", "rows", multiple=True, type=int, metavar="N", help="Only this row. May be repeated.")
@click.option("--beside", is_flag=True, help="Add rows of days on which an entry is there already.")
@click.option("--keep-twins", is_flag=True, help="Add a row that is the same as an earlier one.")
@click.option("--skip-faulty", is_flag=True, help="Write the rest where some lines cannot be read.")
@click.option("--write", is_flag=True, help="Write the entries; without it nothing is written.")
def adopt(
    root: Path,
    paths: tuple[Path, ...],
    mapping: dict[str, str],
    means: dict[str, str],
    dates: str,
    hours_are: str,
    assembly: str | None,
    people: tuple[str, ...] | None,
    rows: tuple[int, ...],
    beside: bool,
    keep_twins: bool,
    skip_faulty: bool,
    write: bool,
) -> None:
    """Take over earlier years: a table of work days, folders of old photos.

    Shows row by row what would become of it, and writes nothing until --write is added. Running it
    again adds only what is new.

    \b
    Columns (in any order; others are named with --map):
      date, assembly, hours, title, text, steps, begun, redone, people, place, tools, methods

    \b
    Example:
      journal adopt workdays.csv
      journal adopt workdays.csv old-photos/ --dates dmy --map "Stunden=hours" --means "Klappen=flaps" --write
    """
    from journal.commands.intake.adopt import HoursAre, Wishes
    from journal.commands.intake.adopt_talk import Given, adopt_work
    from journal.commands.intake.lenient_parsing import DateOrder

    wishes = Wishes(
        order=DateOrder(dates),
        hours_are=HoursAre(hours_are),
        means=means,
        assembly=assembly,
        people=people or (),
        beside=beside,
        keep_twins=keep_twins,
        only_rows=frozenset(rows),
    )
    try:
        adopt_work(root, Given(paths=paths, mapping=mapping, wishes=wishes, write=write, skip_faulty=skip_faulty))
    except AnswerError as trouble:
        fail(str(trouble), EXIT_USE)
