"""`journal check --mend`: each mend is shown as the line before and after, written, and proved by reading again."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import click

from journal.base.formatting import say_count
from journal.base.problems import Problem
from journal.base.safe_write import write_whole
from journal.commands.terminal import open_build, today
from journal.ledger.journal import open_journal
from journal.reading.build import Remembered

_KEEPS_BACK = re.compile(r"priv|draft", re.IGNORECASE)
_BREAK = re.compile(r"(\r\n|\r|\n)")


def mend_line(line: str, column: int, mend: tuple[str, str]) -> str | None:
    """`line` with what stands at `column` (from 1), or else once in it, put right; None where it is not there."""
    old, new = mend
    at = column - 1 if line.startswith(old, column - 1) else line.find(old) if line.count(old) == 1 else -1
    return None if at < 0 else line[:at] + new + line[at + len(old) :]


def mend_build(root: Path, wanted: Callable[[Problem], bool], *, yes: bool) -> None:
    """Offer every mend of what is `wanted`, one after another, and write those that are agreed to (all with `yes`).

    After each the build is read again: where the problem is still there the file is put back as it was.
    """
    remembered, passed_over, written = Remembered(), set[Problem](), 0
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
