"""How a command tells what is wrong and what is missing, however much of it there is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import click

from journal.base.addresses import is_of
from journal.base.formatting import say_count
from journal.base.problems import Grade, Problem, render_problem, sort_problems
from journal.commands.terminal import fit_terminal, print_problems
from journal.ledger.gaps import weight_of

if TYPE_CHECKING:
    from journal.base.model import Build, Entry, WriteUp
    from journal.view.view import Told, View

NEWEST = 3
"""Findings that a summary tells one by one."""

LONG_HINT = 60
"""Letters from which on a hint stands above the findings of its kind instead of behind each."""

MOST_LATE = 10
"""Findings seen only while something was made that a summary tells one by one."""

MOST_KINDS = 12
"""Kinds that a summary counts one by one: with its other lines it stays on one screen."""


def folder_days(build: Build | View) -> dict[str, date]:
    """The day of each entry, draft and write-up by its file, and by its folder (`content/entries/ID`)."""
    told: list[Entry | WriteUp | Told] = [*build.entries, *build.write_ups]
    told += getattr(build, "drafts", ())
    days = {one.src_uri: one.date for one in told}
    return days | {folder: one.date for one in told if is_of(folder := one.src_uri.rpartition("/")[0], one.id)}


def day_of(problem: Problem, days: Mapping[str, date]) -> date | None:
    """The day of the entry or inspection that a problem concerns; where it could not be read, that in its
    folder's name. None for all other files.
    """
    from journal.commands.intake.lenient_parsing import date_in_name  # brings the reader, which need not be there

    for place in (problem.file, problem.file.rpartition("/")[0]):
        if place in days:
            return days[place]
    return date_in_name(problem.file) if problem.file.startswith("content/entries/") else None


def tell_problems(
    problems: Iterable[Problem],
    days: Mapping[str, date],
    *,
    late: Sequence[Problem] = (),
    all_findings: bool = False,
) -> None:
    """Print errors in full; of findings how many there are of each kind, and the newest few.

    `days` is what `folder_days` gives. `late` are those of `problems` that `journal check` cannot know: they are
    told in full too. With `all_findings` each is listed under its kind, the newest first; those that share
    a long hint stand together under it, the others before them.
    """
    problems = sort_problems(problems)
    errors = [problem for problem in problems if problem.grade is Grade.ERROR]
    findings = sorted(
        (problem for problem in problems if problem.grade is Grade.FINDING),
        key=lambda one: -(day_of(one, days) or date.min).toordinal(),
    )
    print_problems(errors)
    if all_findings:
        for number, (word, _) in enumerate(_kinds(findings)):
            if number or errors:
                click.echo()
            _tell_kind(word, [problem for problem in findings if problem.word == word])
    elif len(findings) <= NEWEST:
        print_problems(findings)
    else:
        print_problems(late[:MOST_LATE])
        _tell_summary(findings)


def _kinds(findings: Sequence[Problem]) -> list[tuple[str, int]]:
    """(code word, how many) by weight, the commonest first within one."""
    counted = Counter(problem.word for problem in findings).most_common()
    return sorted(counted, key=lambda kind: -weight_of(kind[0]))


def _tell_kind(word: str, findings: Sequence[Problem]) -> None:
    hints = Counter(problem.hint for problem in findings)
    above = [hint for hint, count in hints.items() if len(hint) > LONG_HINT and (count > 1 or len(hints) == 1)]
    click.echo(f"{click.style(word, fg='yellow', bold=True)}: {say_count(len(findings), 'finding')}")
    for problem in findings:
        if problem.hint not in above:
            click.echo(fit_terminal(render_problem(problem)))
    for hint in above:
        click.echo(f"  {fit_terminal(f'To mend: {hint}', 2)}")
        for problem in findings:
            if problem.hint == hint:
                click.echo(fit_terminal(render_problem(replace(problem, hint=""))))


def _tell_summary(findings: Sequence[Problem]) -> None:
    kinds = _kinds(findings)
    total = say_count(len(findings), "finding")
    click.echo(fit_terminal(f"{total}; `journal check` lists them all, with how to mend them:"))
    width = len(f"{max(count for _, count in kinds):,}")
    for word, count in kinds[:MOST_KINDS]:
        click.echo(f"  {count:>{width},}  {click.style(word, fg='yellow')}")
    if more := kinds[MOST_KINDS:]:
        click.echo(f"  {sum(count for _, count in more):>{width},}  of {say_count(len(more), 'other kind')}")
    click.echo("The newest:")
    for problem in findings[:NEWEST]:
        line = f"{render_problem(replace(problem, hint=''))} [{problem.word}]"
        click.echo(f"  {fit_terminal(line, 2)}")
