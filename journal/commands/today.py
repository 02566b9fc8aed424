"""`journal today`: what is going on in the build, in one look."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path

import click

from journal.base.formatting import say_count, say_date, say_near
from journal.base.problems import Grade
from journal.commands.terminal import build_option, fit_terminal, open_build, say_unread
from journal.ledger.journal import Journal
from journal.ledger.today import TodayLine, TodayPart, today_of
from journal.making.last_kept import ARCHIVED, PUBLISHED, fingerprints, last_sealed, read_kept, say_since
from journal.reading.text import is_there
from journal.record.chain import Chain, Kind, read_chain
from journal.site.section_pages import private_page
from journal.view.page_parts import Group, PageRecord
from journal.view.view import Audience, open_view

TODAY = "today/"


@click.command()
@build_option
@click.option("--json", "as_json", is_flag=True, help="Print the same parts as JSON.")
def today(root: Path, as_json: bool) -> None:
    """Tell what is going on: under way, unfinished, about to expire, next, and what was kept last.

    A part stands only where it has something to say; the last line is the one thing to do next.
    Nothing is changed.

    \b
    Example:
      journal today
      journal today --json | jq '.parts[].heading'
    """
    journal = open_build(root)
    parts, do_next = tell_today(journal)
    files = {entry.id: entry.src_uri for entry in (*journal.build.entries, *journal.build.drafts)}
    if as_json:
        told = {"parts": [asdict(part) for part in parts], "next": do_next}
        click.echo(json.dumps(told, indent=2, ensure_ascii=False))
    else:
        _print(parts, files)
        click.echo(fit_terminal(f"Next: {do_next}"))
    if errors := sum(problem.grade is Grade.ERROR for problem in journal.problems):
        say_unread(errors, "told of here")


def _print(parts: Sequence[TodayPart], files: Mapping[str, str]) -> None:
    for part in parts:
        click.echo(click.style(part.heading, bold=True))
        before = TodayLine("")
        for line in part.lines:
            indent = 4 if part.key == "next-steps" and line.step and line.step == before.step else 2
            file = f" ({files[line.entry]})" if line.entry in files and line.entry != before.entry else ""
            before = line
            click.echo(f"{' ' * indent}{fit_terminal(line.text + file, indent)}")
        click.echo()


def today_page(parts: Sequence[TodayPart], do_next: str, *, private: bool = False) -> PageRecord:
    """The same as a page for the preview, at `today/`; lines that tell of private things only if `private`. It is part
    of no site and of no archive.
    """
    groups = [
        Group(title=part.heading, anchor=part.key, points=points)
        for part in parts
        if (points := shown_lines(part, private=private))
    ]
    said = "What is under way, unfinished, about to expire and next."
    intro = f"Next: {do_next.replace('`', '')}"
    label = "In the preview alone"
    return private_page(TODAY, "Today", said, label=label, caution="", intro=intro, groups=tuple(groups))


def shown_lines(part: TodayPart, *, private: bool) -> tuple[str, ...]:
    """What a page shows of a part: without signs of code, and lines that tell of private things only if `private`."""
    return tuple(line.text.replace("`", "") for line in part.lines if private or not line.private)


def tell_today(journal: Journal) -> tuple[tuple[TodayPart, ...], str]:
    """All parts, and the one thing to do next; the last part (`kept`) tells of seal, archive and publication."""
    chain = read_chain(journal.root)
    sealed = {name for kind, name in chain.current if kind is Kind.ENTRY}
    parts = today_of(journal, sealed)
    errors = sum(problem.grade is Grade.ERROR for problem in journal.problems)
    if errors:
        do_next = f"`journal check` lists {say_count(errors, 'error')}; till then no site, archive or seal is made."
    elif not journal.build.entries and not journal.build.drafts:
        do_next = "`journal enter --photos FOLDER` makes the first entry of a day’s photos; `journal adopt` takes over "
        do_next += "what was written down before."
    elif any(gap.problem.word == "closing-next" for gap in journal.evidence.gaps):
        do_next = "see to what is missing before a structure is closed for good; nobody can look into it afterwards."
    elif any(part.key == "unfinished" for part in parts):
        do_next = "`journal enter --unfinished` goes through what is unfinished."
    else:
        do_next = "`journal enter`, when there is something to tell."
    if journal.build.entries:
        kept, command = _kept(journal, chain)
        parts = (*parts, TodayPart("Kept", kept, "kept"))
        if command and do_next.startswith("`journal enter`,"):
            do_next = f"`journal {command}`, for what is new or changed."
    return parts, do_next


def _kept(journal: Journal, chain: Chain) -> tuple[tuple[TodayLine, ...], str]:
    """A line each for the last seal, archive and publication, and the command that is due, if one is."""
    build = journal.build
    now = fingerprints(journal.root, open_view(journal, Audience.ARCHIVE))
    public = {entry.id: now[entry.id] for entry in build.entries if not entry.private}
    archive, sent = (read_kept(journal.root, what) for what in (ARCHIVED, PUBLISHED))
    never = {
        "seal": "Nothing is sealed yet: `journal seal` fixes what is written, so that later changes show",
        "archive": "No archive made on this computer is known: `journal archive` makes the record, which is the backup",
    }
    if chain.fault:
        never["seal"] = "The chain of seals is broken: `journal check` says where"
    lines, due = [], []
    for command, said, kept, there in (
        ("seal", "Sealed last on {}", None if chain.fault else last_sealed(chain), now),
        ("archive", "Archive made here last on {}, in {}", archive, now),
        ("publish", "Published last on {}, to {}", sent, public),
    ):
        if kept is None:
            lines += [TodayLine(never[command])] if command in never else []
            due += [command] if command in never else []
            continue
        since, private = say_since(kept, there, build)
        due += [command] if since else []
        day = kept.at.astimezone().date()
        said = said.format(f"{say_date(day)} ({say_near(day, journal.today)})", kept.where)
        if command == "archive" and not is_there(Path(kept.where)):
            said += ", which is not there now"
        said += f": {since or 'no entry has changed since'}"
        lines.append(TodayLine(said, private=private or command == "archive"))
    return tuple(lines), next(iter(due), "")
