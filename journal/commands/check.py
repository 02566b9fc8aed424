"""`journal check`: everything that is wrong or missing, errors first, then kind by kind."""

from __future__ import annotations

import json
import sys
from datetime import date
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

import click

from journal.base.addresses import is_of
from journal.base.formatting import say_count
from journal.base.problems import Grade, Problem, SiteError, did_you_mean, finding, has_errors, sort_problems
from journal.commands.telling import day_of, folder_days, tell_problems
from journal.commands.terminal import CAUTION, EXIT_ERRORS, Day, build_option, open_build, sum_up

if TYPE_CHECKING:
    from journal.ledger.journal import Journal
    from journal.view.view import View


@click.command()
@build_option
@click.option("--kind", "kinds", multiple=True, metavar="WORD", help="List only this kind. May be repeated.")
@click.option("--entry", metavar="FOLDER", help="List only what concerns this entry or inspection.")
@click.option(
    "--since",
    type=Day(last=False),
    help="List only what concerns entries and inspections from this day on (2026-02-07, 2026-02, 2026).",
)
@click.option("--json", "as_json", is_flag=True, help="Print a JSON list, one object for each problem.")
@click.option("--mend", is_flag=True, help="Offer what can be mended: the line before and after; then read again.")
@click.option("--yes", is_flag=True, help="With --mend: ask nothing; write every mend.")
@click.option("--strict", is_flag=True, help="Treat findings as errors: exit code 1 where any is listed.")
def check(
    root: Path,
    kinds: tuple[str, ...],
    entry: str | None,
    since: date | None,
    as_json: bool,
    mend: bool,
    yes: bool,
    strict: bool,
) -> None:
    """Read everything and list what is wrong and what is missing.

    Each line is file:line:column: what is wrong; how to mend it. Errors come first; they stop a site, an
    archive and a seal. Findings are advice and stop nothing; they are listed by kind, the newest first, and
    how to mend them stands above them where it is the same for several. Nothing is changed but by --mend.

    Errors give exit code 1 even where a filter leaves them out of the list.

    \b
    Example:
      journal check
      journal check --kind no-photo --since 2026-03
      journal check --entry 2026-02-07-flap-skeletons
      journal check --mend
      journal check --json | jq '.[].word'
    """
    from journal.commands.mend import mend_build
    from journal.record.seals import check_seals, find_decayed
    from journal.record.setting import check_letters
    from journal.view.view import Audience, open_view

    named = _named(root, entry) if entry is not None else None

    def chosen(problem: Problem) -> bool:
        return (not kinds or problem.word in kinds) and (named is None or is_of(problem.file, named))

    if (mend and as_json) or (yes and not mend):
        raise click.UsageError("--mend goes without --json, and --yes with --mend")
    if mend:
        mend_build(root, chosen, yes=yes)
    journal = open_build(root)
    view = open_view(journal, Audience.ARCHIVE)
    found = (
        *journal.problems,
        *check_seals(root, view),
        *find_decayed(root, view),
        *check_letters(view),
        *_known_problems(journal, view),
        *_site_problems(journal),
    )
    problems = sort_problems(found)
    days = folder_days(journal.build)
    listed = [
        problem
        for problem in problems
        if chosen(problem) and (since is None or (day_of(problem, days) or date.min) >= since)
    ]
    if as_json:
        click.echo(json.dumps([problem.as_json() for problem in listed], indent=2, ensure_ascii=False))
    else:
        tell_problems(listed, days, all_findings=True)
        filtered = f"; {len(listed):,} listed" if kinds or entry or since else ""
        if listed:
            click.echo()
        unread = {one.file for one in problems if one.grade is Grade.ERROR and one.file.startswith("content/entries/")}
        not_read = f", {len(unread):,} not" if unread else ""
        entries = say_count(len(journal.build.entries), "entry", "entries")
        click.echo(f"{entries} read{not_read}: {sum_up(problems)}{filtered}.")
        if listed:
            click.echo(CAUTION)
    for kind in kinds:
        if all(problem.word != kind for problem in problems):
            hint = did_you_mean(kind, sorted({problem.word for problem in problems}))
            click.echo(f'Nothing of the kind "{kind}" was found; {hint}', err=True)
    if has_errors(problems) or (strict and listed):
        sys.exit(EXIT_ERRORS)


def _known_problems(journal: Journal, view: View) -> tuple[Problem, ...]:
    """Pictures that none could be made of when a site or an archive was made last."""
    from journal.ledger.journal import photo_store
    from journal.making.lay_site import picture_problems
    from journal.media.photos import Picture

    digests = {photo.src_uri: photo.sha256 for told in view.told for photo in told.photos if photo.sha256}
    troubles = photo_store(journal.root).known_troubles(digests.values())
    return tuple(
        picture_problems(view, {uri: Picture(trouble=troubles[one]) for uri, one in digests.items() if one in troubles})
    )


def _site_problems(journal: Journal) -> tuple[Problem, ...]:
    """What `journal site` would say beyond this; a build folder without mkdocs.yml wants no site."""
    from journal.ledger.films import check_made_films
    from journal.ledger.journal import CACHE
    from journal.making.host import load_settings
    from journal.making.lay_site import SETTINGS, site_problems

    root = journal.root
    if not (root / SETTINGS).is_file():
        return ()
    films = check_made_films(root, root / CACHE / "clips", journal.build)
    try:
        return (*films, *site_problems(journal, load_settings(root).site_url))
    except SiteError as trouble:
        message = str(trouble).removeprefix(f"{SETTINGS}: ")
        return (*films, finding(SETTINGS, None, "no-site", f"no site can be made: {message}"))


def _named(root: Path, name: str) -> str:
    """The name of the entry or inspection that `--entry` means, by its name or by a path to it."""
    path = PurePosixPath(name.replace("\\", "/").removesuffix("/index.md").rstrip("/"))
    content = root / "content"
    below = [
        one.relative_to(content).as_posix()
        for kind in ("entries", "inspections", "measurements")
        for one in content.glob(f"{kind}/**/*")
    ]
    for wanted in (path.name, path.stem):
        if wanted and any(is_of(one, wanted) for one in below):
            return wanted
    there = [PurePosixPath(one).name for one in below if one.count("/") == 1]
    raise click.BadParameter(
        f'no entry or inspection "{name}"; {did_you_mean(path.name, sorted(there))}', param_hint="--entry"
    )
