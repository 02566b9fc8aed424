"""`journal site`: the public site, built beside the old one."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from journal.base.formatting import say_count, say_minutes
from journal.base.problems import has_errors, sort_problems
from journal.commands.telling import folder_days, tell_problems
from journal.commands.terminal import EXIT_ERRORS, Bar, build_option, open_build, sum_up


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
    from journal.making.host import load_settings, site_options, write_site
    from journal.making.lay_site import lay_site, site_problems
    from journal.view.view import Audience

    settings = load_settings(root, out=out)
    journal = open_build(root)
    build, ledger, days = journal.build, journal.ledger, folder_days(journal.build)
    problems = sort_problems((*journal.problems, *site_problems(settings.site_url, build.photo_settings.watermark)))
    if has_errors(problems) or (strict and problems):
        tell_problems(problems, days)
        click.echo(f"No site was made: {sum_up(problems)}.", err=True)
        sys.exit(EXIT_ERRORS)
    with Bar("photos") as photos, Bar("making films (seconds)") as films:
        options = site_options(settings, Audience.PUBLIC)
        laid = lay_site(journal, options, on_photos=photos.tell, on_films=films.tell)
    folder = write_site(laid, settings)
    tell_problems(laid.problems, days, late=laid.late)
    click.echo(
        f"{say_count(len(build.entries), 'entry', 'entries')} on {say_count(ledger.days, 'day')}, "
        f"{say_minutes(ledger.minutes)} to date, "
        f"{say_count(sum(len(entry.photos) for entry in build.entries), 'photo')}; {sum_up(laid.problems)}."
    )
    click.echo(f"The site is in {folder}; open {folder / 'index.html'}")
