"""The commands that keep the record: `seal`, `archive`, `verify`. Options to calls."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from journal.base.byte_progress import Progress, say_bytes
from journal.base.clock import now
from journal.base.formatting import say_count
from journal.base.problems import Problem
from journal.commands.telling import folder_days, tell_problems
from journal.commands.terminal import (
    EXIT_ERRORS,
    EXIT_USE,
    ProgressBar,
    build_option,
    on_terminal,
    open_build,
    print_problems,
    stop_at_errors,
)

if TYPE_CHECKING:
    from journal.commands.written import Written
    from journal.ledger.journal import Journal
    from journal.record.seals import Amendment


@contextmanager
def bar_of_bytes(what: str) -> Iterator[Progress]:
    """A progress bar in megabytes for a piece of work."""
    with ProgressBar(f"{what} (MB)") as bar:
        yield lambda done, total: bar(done // 1_000_000, total // 1_000_000)


@click.command()
@build_option
@click.option("--reason", metavar="TEXT", help="Why sealed entries were changed; asked for on a terminal.")
@click.option(
    "--request",
    metavar="FILE",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Also write a time-stamp request (RFC 3161) for the last line of the chain.",
)
@click.option(
    "--join",
    metavar="FILE",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="First join the chain with another copy of it, where two sealed at once.",
)
def seal(root: Path, reason: str | None, request: Path | None, join: Path | None) -> None:
    """Seal what is new: fix texts and photos by their digests, in order.

    Adds a line to content/seals.jsonl for every entry and inspection that is new or changed; nothing
    that stands there is ever touched. A change after sealing is an amendment and needs a reason.
    Drafts are not sealed. What seals prove and what not: docs/seals.md.

    \b
    Example:
      journal seal
      journal seal --reason "the date was mistyped"
      journal seal --request head.tsq
      journal seal --join "content/seals (conflicted copy).jsonl"
    """
    from journal.commands.written import WrittenList
    from journal.record.seals import find_decayed
    from journal.record.seals import seal as put_seals
    from journal.view.view import Audience, open_view

    if request is not None and request.exists():
        click.echo(f"{request}: is there already, and nothing is written over; name another file", err=True)
        sys.exit(EXIT_USE)
    journal = open_build(root)
    stop_at_errors(journal.problems, "Nothing was sealed")
    # Seals tell the real time, whatever SOURCE_DATE_EPOCH says.
    view = open_view(journal, Audience.ARCHIVE)
    print_problems(find_decayed(root, view))
    moves = [one for one in WrittenList(root).newest() if one.reason and not one.taken_back]
    done, problems = put_seals(
        root, view, now=datetime.now(UTC), ask=lambda changes: _ask(changes, reason, root, moves), join=join
    )
    stop_at_errors(problems, "Nothing was sealed")
    assert done  # a seal that is refused says why
    chain = done.chain
    if done.joined:
        click.echo(done.joined)
    if done.new or done.amendments:
        click.echo(f"Sealed: {say_count(done.new, 'line')} for what is new, {say_count(done.amendments, 'amendment')}.")
    else:
        click.echo("Nothing is new or changed since the last seal.")
    if not chain.seals:
        return
    click.echo(f"The chain has {say_count(len(chain.seals), 'line')}; its head is\n  {chain.head}")
    click.echo("Write the head down somewhere else (print it, mail it): docs/seals.md tells why.")
    if request is not None:
        _write_request(request, chain.head)


def _ask(changes: Sequence[Amendment], reason: str | None, root: Path, moves: Sequence[Written]) -> str | None:
    """Why something was changed: what an option says, or the moves that did all of it, else what the builder says."""
    if reason is not None:
        return reason
    from journal.commands.moving.reasons import reasons_of

    told = [reasons_of(root, change, moves) for change in changes]
    if all(told):
        return "; ".join(dict.fromkeys(one for of_change in told for one in of_change))
    if not on_terminal():
        return None
    for change in changes:
        click.echo(f"Changed after it was sealed: {change.tell()}", err=True)
    answer: str = click.prompt("Why? (Enter alone to stop)", default="", show_default=False, err=True)
    return answer


def _write_request(path: Path, head: str) -> None:
    from journal.base.safe_write import write_new
    from journal.record.timestamps import render_request

    write_new(path, render_request(head))
    name = path.stem
    click.echo(
        f"Wrote {path}. Send it to a time-stamping service and keep both files in content/seals/, for example\n"
        f"  curl -H 'Content-Type: application/timestamp-query' --data-binary @{path} ADDRESS -o "
        f"content/seals/{name}.tsr\n"
        f"  cp {path} content/seals/{name}.tsq"
    )


def _digest(context: click.Context, parameter: click.Parameter, value: str) -> str:
    from journal.record.verify import parse_digest

    digest = parse_digest(value)
    if digest is None:
        raise click.BadParameter(f'"{value}" is no digest: write its 64 hexadecimal digits')
    return digest


def _certificates(context: click.Context, parameter: click.Parameter, value: tuple[Path, ...]) -> dict[str, bytes]:
    from journal.record.timestamps import load_certificates

    found = {}
    for path in value:
        try:
            found[str(path)] = path.read_bytes()
            load_certificates(found[str(path)])
        except (OSError, ValueError) as trouble:
            raise click.BadParameter(f"{path} holds no certificate that can be read, PEM or DER") from trouble
    return found


@click.command()
@click.argument("path", type=click.Path(path_type=Path))
@click.option("--expect", metavar="FINGERPRINT", default="", callback=_digest, help="The fingerprint it must have.")
@click.option(
    "--head", metavar="DIGEST", default="", callback=_digest, help="The digest of a line its chain must hold."
)
@click.option(
    "--root",
    "roots",
    metavar="CERT",
    multiple=True,
    type=click.Path(path_type=Path, dir_okay=False),
    callback=_certificates,
    help="The certificate of a time-stamping service, from the service itself; may be repeated.",
)
@click.option("--again", is_flag=True, help="Also make site, binder and tables anew from the source, and compare.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def verify(path: Path, expect: str, head: str, roots: dict[str, bytes], again: bool, as_json: bool) -> None:
    """Verify an archive: a folder or a zip. Nothing but the archive is needed.

    Finds files changed, lost, added, renamed, swapped; seals edited, cut or put in another order;
    texts, photos, rows and settings that are not what was sealed; time-stamps and times that do not
    fit. Says what was not checked. Exit code 1 where anything is damaged.

    Against somebody who changes a file and all lists only what you know from elsewhere helps: give
    it with --expect, --head and --root. Nothing in an archive is run, whatever its mkdocs.yml says.

    \b
    Example:
      journal verify archive
      journal verify /media/stick/tarn-archive.zip --expect 3f1c… --json
      journal verify archive --head 9a71… --root service.pem --again
    """
    from journal.record.verify import Known
    from journal.record.verify import verify as verify_archive

    known = Known(fingerprint=expect, head=head, roots=roots)
    with bar_of_bytes("verifying") as progress:
        report = verify_archive(path, progress, known)
    if again:
        from journal.making.made_again import compare_again

        report = compare_again(report, begin=ProgressBar)
    if as_json:
        click.echo(json.dumps(report.as_json(), indent=2, ensure_ascii=False))
    else:
        for line in report.tell():
            click.echo(line)
    if not report.ok:
        sys.exit(EXIT_ERRORS)


@click.command()
@build_option
@click.option(
    "--out",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="Where it goes (default: archive/ in the build folder). A folder with other things gets it inside.",
)
@click.option("--zip", "zipped", is_flag=True, help="One zip file instead of a folder.")
@click.option(
    "--without-private",
    is_flag=True,
    help="For reading only: what the public site shows, without originals, records, costs. No backup.",
)
def archive(root: Path, out: Path | None, zipped: bool, without_private: bool) -> None:
    """Make the archive: offline site, binder, tables, and the whole build with every original.

    It opens in any browser without a network, verifies with common tools, and copied back it is
    the build again (journal begin --from-archive). A second archive to the same place copies only
    what changed, and the old one goes when the new one has proved good.

    \b
    Example:
      journal archive
      journal archive --out /media/stick
      journal archive --zip --out tarn.zip
    """
    from journal.making.archive_parts import make_parts, own_templates
    from journal.making.last_kept import ARCHIVED, Kept, fingerprints, note_kept
    from journal.record.archive import choose_place, write_archive
    from journal.view.view import Audience, open_view

    journal = open_build(root)
    stop_at_errors(journal.problems, "No archive was made")
    view = open_view(journal, Audience.ARCHIVE)
    place = choose_place(root, view, out, zipped=zipped)
    if isinstance(place, Problem):
        print_problems([place])
        sys.exit(EXIT_USE)
    if not without_private:
        _tell_private(journal)
    made_at, entries = now(), fingerprints(root, view)
    parts = make_parts(journal, made_at, view=None if without_private else view, begin=ProgressBar)
    made, problems = write_archive(
        root,
        view,
        place,
        parts,
        made_at=made_at,
        without_private=without_private,
        also=own_templates(root),
        begin=bar_of_bytes,
        say=lambda words: click.echo(words, err=True),
    )
    stop_at_errors(problems, "No archive was made")
    assert made  # an archive that is refused says why
    tell_problems((*journal.problems, *problems), folder_days(journal.build), late=problems)
    report = made.report
    click.echo(
        f"The archive is in {made.path}: {say_count(report.files, 'file')}, {say_bytes(report.bytes)}, verified."
    )
    if made.kept_files:
        click.echo(
            f"Of the originals {say_count(made.copied_files, 'file')} ({say_bytes(made.copied_bytes)}) copied, "
            f"{say_count(made.kept_files, 'file')} ({say_bytes(made.kept_bytes)}) kept from the archive before."
        )
    for note in report.notes:
        click.echo(note)
    click.echo(f"Fingerprint (SHA-256 of tagmanifest-sha256.txt): {report.fingerprint}")
    if report.complete:
        click.echo(f"Open {'index.html in it' if zipped else made.path / 'data' / 'index.html'}")
    if not without_private:
        note_kept(root, ARCHIVED, Kept(at=made_at, where=str(made.path.resolve()), entries=entries))


def _tell_private(journal: Journal) -> None:
    from journal.making.archive_parts import private_things

    told = private_things(journal)
    click.echo(
        "The archive is for you and the inspector. It holds every original, full names and places"
        + (f", and {told}" if told else "")
        + ". Use --without-private for one to hand around.",
        err=True,
    )
