"""`journal site`: the public site, built beside the old one."""

from __future__ import annotations

import gc
import shlex
import shutil
import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from journal.base.formatting import say_count, say_minutes
from journal.base.problems import Problem, has_errors, sort_problems
from journal.commands.telling import folder_days, tell_problems
from journal.commands.terminal import EXIT_ERRORS, ProgressBar, build_option, open_build, sum_up

if TYPE_CHECKING:
    from journal.making.unchanged import Inputs


@click.command()
@build_option
@click.option(
    "--out", type=click.Path(path_type=Path), help="Where the site goes (default: site/ in the build folder)."
)
@click.option("--strict", is_flag=True, help="Treat findings as errors: make no site.")
def site(root: Path, out: Path | None, strict: bool) -> None:
    """Make the public site.

    The site is built beside the old one and put in its place when it is whole. Errors are told in full and
    make no site; of findings the newest are told, and `journal check` lists all.

    \b
    Example:
      journal site
      journal site --out /mnt/stick/journal
    """
    from journal.making.unchanged import digest_inputs, recall

    inputs = digest_inputs(root)
    told = recall(root, out, inputs)
    if told is None or (strict and told["problems"]):
        told = _make(root, out, inputs, strict=strict)
    days = {folder: date.fromisoformat(day) for folder, day in told["days"].items()}
    tell_problems(map(Problem.from_json, told["problems"]), days, late=[*map(Problem.from_json, told["late"])])
    click.echo(told["words"])
    folder, here = Path(told["folder"]), Path.cwd()
    where = "" if here.is_relative_to(root.resolve()) else f" --build {shlex.quote(str(root))}"
    # Where it was called by its path, as README.md does, the bare name may not be found.
    program = "journal" if shutil.which("journal") else sys.argv[0]
    page = shlex.quote(str(folder / "index.html"))
    click.echo(f"The site is in {folder}. Look at it: {shlex.quote(program)} preview{where} (or open {page})")


def _make(root: Path, out: Path | None, inputs: Inputs, *, strict: bool) -> dict[str, Any]:
    """Make the site; what there is to tell of it, as plain JSON. Ends the program where none can be made."""
    from journal.making.host import load_settings, settled_by, site_options, write_site
    from journal.making.lay_site import lay_site, site_problems
    from journal.making.unchanged import digest_files, forget, remember
    from journal.media.photos.kinds import TRY_AGAIN
    from journal.view.view import Audience, open_view

    gc.disable()  # what is made here is needed to the end: to search it again and again takes a tenth of the time
    click.get_current_context().call_on_close(gc.enable)
    settings = load_settings(root, out=out)
    others = settled_by(settings)
    beside = digest_files(map(Path, others or ()))
    journal = open_build(root)
    build, ledger, days = journal.build, journal.ledger, folder_days(journal.build)
    view = open_view(journal, Audience.PUBLIC)
    problems = sort_problems((*journal.problems, *site_problems(journal, settings.site_url, view)))
    if has_errors(problems) or (strict and problems):
        tell_problems(problems, days)
        click.echo(f"No site was made: {sum_up(problems)}.", err=True)
        sys.exit(EXIT_ERRORS)
    forget(root)
    laid = lay_site(journal, site_options(settings, Audience.PUBLIC), view=view, begin=ProgressBar)
    folder = write_site(laid, settings)
    told = {
        "problems": [problem.as_json() for problem in laid.problems],
        "late": [problem.as_json() for problem in laid.late],
        "days": {folder: day.isoformat() for folder, day in days.items()},
        "words": f"{say_count(len(build.entries), 'entry', 'entries')} on {say_count(ledger.days, 'day')}, "
        f"{say_minutes(ledger.minutes)} to date, "
        f"{say_count(sum(len(entry.photos) for entry in build.entries), 'photo')}; {sum_up(laid.problems)}.",
        "folder": str(folder),
    }
    # What was stopped from outside is tried again by the next run, as its finding says.
    if others is not None and all(one.hint != TRY_AGAIN for one in laid.problems):
        remember(root, inputs, beside, place=out, folder=folder, told=told)
    return told
