"""Entries about to be written: shown, asked about, written and noted, so that they can be taken back."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from journal.base.byte_progress import say_bytes
from journal.base.safe_write import staged
from journal.commands.intake.adopt import read_days, report
from journal.commands.intake.adoption import AdoptionWishes, Fate, plan_days
from journal.commands.intake.asking import Asker, check_given, meant_id
from journal.commands.intake.incoming_media import examine_media, say_media
from journal.commands.intake.new_entries import ENTRIES, Draft, render_entry, write_entries
from journal.commands.intake.proof import prove_entries
from journal.commands.terminal import EXIT_ERRORS, EXIT_USE, fail, print_problems
from journal.ledger.journal import CACHE, Journal
from journal.record.damage import printable

LISTED = 8


def show_entry(draft: Draft) -> None:
    """Everything that is about to be written, before it is."""
    size = say_bytes(sum(one.bytes for one in draft.placed))
    click.echo(f"\n{ENTRIES}/{draft.folder}/{f' with {say_media(draft.placed)}, {size}' if draft.placed else ''}:")
    for one in draft.placed:
        if one.name != one.path.name:
            click.echo(f"  {printable(one.path.name)} is kept as {one.name}")
    lines = [] if draft.into else render_entry(draft).rstrip("\n").split("\n")
    photos = [number for number, line in enumerate(lines) if line.startswith("  ") and ': ""' in line]
    for number, line in enumerate(lines):
        if number in photos[LISTED // 2 : -1]:
            if number == photos[LISTED // 2]:
                click.echo(f"  |   … {len(photos) - LISTED // 2 - 1} more …")
            continue
        click.echo(f"  | {line}".rstrip())


def write_shown(root: Path, ask: Asker, drafts: Sequence[Draft], *, dry_run: bool) -> bool:
    """Write what was shown, if the builder says so; whether it was written."""
    if dry_run:
        click.echo("Nothing was written (--dry-run).")
        return False
    if not ask.yes("Write it?" if len(drafts) == 1 else f"Write these {len(drafts)} entries?"):
        click.echo("Nothing was written.")
        return False
    write_entries(root, drafts)
    for draft in drafts:
        click.echo(f"Written: {ENTRIES}/{draft.folder}{'' if draft.into else '/index.md'}")
    return True


def check_with_reader(root: Path, drafts: Sequence[Draft]) -> None:
    """End the command where the reader would object to an entry as it is about to be written."""
    texts = {draft.file: (render_entry(draft), [one.name for one in draft.placed]) for draft in drafts}
    if problems := [problem for found in prove_entries(root, texts)[1].values() for problem in found]:
        print_problems(problems)
        fail("nothing was written", EXIT_ERRORS)


def enter_notes(
    journal: Journal,
    ask: Asker,
    file: Path,
    photos: Sequence[Path],
    *,
    assembly: str | None,
    people: tuple[str, ...] | None,
    dry_run: bool,
) -> None:
    """Write up the days of a text file, each with the photos taken on it; what was written before is left out."""
    assembly = meant_id(journal.build, "assembly", assembly)
    check_given(journal.build, assembly=[assembly], person=people)
    if not file.is_file():
        fail(f"there is no file {file}", EXIT_USE)
    wishes = AdoptionWishes(assembly=assembly, people=people or ())
    sheet = read_days(file, {}, wishes, journal.build, as_notes=True)
    with staged(journal.root / CACHE, "unpacked") as scratch:
        found = examine_media(journal, photos, scratch)
        days = {row.text("date") for row in sheet.rows}
        of_days = [one for one in found.fresh if one.day and one.day.isoformat() in days]
        if len(of_days) < len(found.fresh):
            others = [one for one in found.fresh if one not in of_days]
            click.echo(f"Of no day in the notes, left out: {say_media(others)}.")
        plans = plan_days(journal, sheet, of_days, wishes, file)
        new = [(plan.new, plan.guess) for plan in plans if plan.new]
        for draft, guess in new:
            show_entry(draft)
            if guess:
                click.echo(f"  {guess}")
        if len(new) < len(plans) or found.media:
            report([plan for plan in plans if not plan.new], sheet, found)
        if any("--" in f"{plan.said} {[one.hint for one in plan.problems]}" for plan in plans):
            click.echo(f"These options are those of `journal adopt {file}`, which reads the same notes.")
        if any(plan.fate is Fate.FAULTY for plan in plans):
            fail("nothing was written; mend the notes first", EXIT_ERRORS)
        if new:
            write_shown(journal.root, ask, [draft for draft, _ in new], dry_run=dry_run)
        else:
            click.echo("There is nothing to write.")
