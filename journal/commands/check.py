"""`journal check`: everything that is wrong or missing, errors first, then kind by kind."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

import click

from journal.base.addresses import is_of
from journal.base.formatting import say_count
from journal.base.problems import Grade, Problem, SiteError, did_you_mean, finding, has_errors, sort_problems
from journal.base.safe_write import write_whole
from journal.commands.telling import day_of, folder_days, tell_problems
from journal.commands.terminal import CAUTION, EXIT_ERRORS, Day, build_option, open_build, sum_up, today

if TYPE_CHECKING:
    from journal.ledger.journal import Journal
    from journal.view.view import View

_KEEPS_BACK = re.compile(r"priv|draft", re.IGNORECASE)
_BREAK = re.compile(r"(\r\n|\r|\n)")


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
    from journal.record.seals import check_seals, find_decayed
    from journal.record.setting import check_letters
    from journal.view.view import Audience, open_view

    named = _named(root, entry) if entry is not None else None

    def chosen(problem: Problem) -> bool:
        return (not kinds or problem.word in kinds) and (named is None or is_of(problem.file, named))

    if (mend and as_json) or (yes and not mend):
        raise click.UsageError("--mend goes without --json, and --yes with --mend")
    if mend:
        _mend_build(root, chosen, yes=yes)
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


def mend_line(line: str, column: int, mend: tuple[str, str]) -> str | None:
    """`line` with what stands at `column` (from 1), or else once in it, put right; None where it is not there."""
    old, new = mend
    at = column - 1 if line.startswith(old, column - 1) else line.find(old) if line.count(old) == 1 else -1
    return None if at < 0 else line[:at] + new + line[at + len(old) :]


def _mend_build(root: Path, wanted: Callable[[Problem], bool], *, yes: bool) -> None:
    """Offer every mend of what is `wanted`, one after another, and write those that are agreed to (all with `yes`).

    After each the build is read again: where the problem is still there the file is put back as it was.
    """
    from journal.ledger.journal import open_journal, remembered_in

    remembered, passed_over, written = remembered_in(root), set[Problem](), 0
    problems = open_build(root).problems
    while problem := next((one for one in problems if one.mend and wanted(one) and one not in passed_over), None):
        passed_over.add(problem)
        path, column = root / problem.file, problem.column or 1
        data = path.read_bytes()
        lines = _lines_of(data)
        place = 2 * ((problem.line or 1) - 1)  # every other piece is a line ending
        before = lines[place] if lines and place < len(lines) else ""
        after = mend_line(before, column, problem.mend) if problem.mend else None
        if after is None or _KEEPS_BACK.search(before):
            continue  # a mend could make words of what was to hide something
        click.echo(f"{problem.file}:{problem.line}: {problem.message}")
        click.secho(f"  - {before}", fg="red")
        click.secho(f"  + {after}", fg="green")
        if not yes and not click.confirm("Write this?"):
            continue
        if path.read_bytes() != data:
            click.echo("The file was saved meanwhile, and is left as it is.")
            continue
        lines[place] = after
        mark = b"\xef\xbb\xbf" if data.startswith(b"\xef\xbb\xbf") else b""
        write_whole(path, mark + "".join(lines).encode())
        now = open_journal(root, today(), remembered=remembered).problems
        if any((one.file, one.line, one.word) == (problem.file, problem.line, problem.word) for one in now) and (
            sum(one.file == problem.file for one in now) >= sum(one.file == problem.file for one in problems)
        ):
            write_whole(path, data)
            click.echo("This did not help; the line is as it was.")
            continue
        problems, written = now, written + 1
    click.echo(f"{say_count(written, 'mend')} written.\n")


def _lines_of(data: bytes) -> list[str]:
    """Lines and their endings in turns; nothing for what is not UTF-8."""
    try:
        return _BREAK.split(data.decode("utf-8-sig"))
    except UnicodeDecodeError:
        return []
