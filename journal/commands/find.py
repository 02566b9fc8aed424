"""`journal find` on the terminal. With a warm index nothing of the journal is opened.

Imports of what an answer does not need stand inside functions: the whole process has 0.3 s.
"""

from __future__ import annotations

import contextlib
import functools
import gc
import json
import os
import shutil
import sys
import textwrap
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from journal.base.formatting import say_count, say_date
from journal.base.problems import did_you_mean
from journal.commands.terminal import Day, build_option, open_build, say_unread, today

if TYPE_CHECKING:
    from journal.finding.cache import WarmIndex
    from journal.finding.ranking import Hit
    from journal.ledger.journal import Journal

_CACHE = ".journal"
_LINES_SHOWN = 4
_WIDEST = 100

Passes = Callable[[int], bool]
"""Whether an entry or inspection, by its number in the index, passes a filter."""


@click.command()
@build_option
@click.argument("words", nargs=-1)
@click.option("--assembly", metavar="ID", help="Only entries on this assembly.")
@click.option("--step", metavar="ID", help="Only entries that name this step.")
@click.option("--tool", metavar="NAME", help="Only entries that list this tool.")
@click.option("--method", metavar="NAME", help="Only entries that list this method.")
@click.option("--person", metavar="ID", help="Only entries on which this person worked.")
@click.option("--since", type=Day(last=False), help="Only entries from this day on (2026-02-07, 2026-02, 2026).")
@click.option("--until", type=Day(last=True), help="Only entries up to this day, month or year.")
@click.option("--with-photos", is_flag=True, help="Only entries that have photos.")
@click.option("--private", is_flag=True, help="Search private entries and passages too.")
@click.option("--limit", type=click.IntRange(min=1), default=10, show_default=True, help="Show at most this many.")
@click.option("--json", "as_json", is_flag=True, help="Print a JSON list, best first.")
@click.option("--open", "open_first", is_flag=True, help="Open the first answer: its page, or its file.")
def find(
    root: Path,
    words: tuple[str, ...],
    since: date | None,
    until: date | None,
    with_photos: bool,
    private: bool,
    limit: int,
    as_json: bool,
    open_first: bool,
    **named: str | None,
) -> None:
    """Find again how something was done.

    Words may be a question, a step (7.10), a part number or its beginning (AN470AD4, W-1007), a
    drill (#40), a size (3/32), a torque (62 in-lb). One slip of the finger in a word is forgiven.
    Without words the entries and inspections that pass the filters are listed, newest first.

    \b
    Example:
      journal find how did we hold the nose ribs for dimpling
      journal find rivets step 7.10
      journal find "#30 drill" --assembly left-wing --since 2026-03
    """
    gc.disable()  # a sixth of an answer's time, to find nothing
    try:
        index = _warm_index(root, everything=private)
        dates, photos = index.lexicon["dates"], index.lexicon["photos"]
        filters = [_name_filter(index, facet, value) for facet, value in named.items() if value is not None]
        if since is not None:
            filters.append(lambda number: dates[number] >= since.isoformat())
        if until is not None:
            filters.append(lambda number: dates[number] <= until.isoformat())
        if with_photos:
            filters.append(lambda number: photos[number] > 0)
        question = " ".join(words)
        if not question.strip() and not filters:
            raise click.UsageError("nothing to look for; write some words or a filter, as in: journal find nose ribs")
        answer = _Answer(root, index, question, filters)
        answer.tell(limit, as_json=as_json)
        if open_first and answer.hits:
            answer.open_first()
        index.close()
    finally:
        gc.enable()


def _warm_index(root: Path, *, everything: bool) -> WarmIndex:
    """The index in its file, brought up to date first where the content changed."""
    from journal.finding.cache import FOLDER, code_stamp, content_stamps, open_warm

    code = code_stamp()
    stamps = content_stamps(root, code)
    file = root / _CACHE / FOLDER / ("everything.sqlite" if everything else "public.sqlite")
    index = open_warm(file)
    if index is None or index.key != stamps.key:
        import tempfile

        from journal.ledger.journal import open_few
        from journal.making.warm_index import make_warm

        with contextlib.ExitStack() as stack:
            if index:
                stack.enter_context(contextlib.closing(index))
            with contextlib.suppress(OSError):
                file.parent.mkdir(parents=True, exist_ok=True)
            if not file.parent.is_dir() or not os.access(file.parent, os.W_OK):
                # A build on a medium that cannot be written is searched all the same, more slowly.
                file = Path(stack.enter_context(tempfile.TemporaryDirectory())) / file.name
            few = functools.partial(open_few, root, today())
            make_warm(
                functools.partial(_open_whole, root), file, stamps, code=code, few=few, old=index, everything=everything
            )
            index = open_warm(file)
            if index is None:
                raise OSError(None, "the index of words could not be kept", str(file))
    if errors := index.about["errors"]:
        say_unread(errors, "searched")
    return index


def _open_whole(root: Path) -> Journal:
    gc.enable()
    return open_build(root)


def _name_filter(index: WarmIndex, facet: str, value: str) -> Passes:
    """What passes `--assembly`, `--step`, `--tool`, `--method` or `--person`, by any name of what is meant.

    A value that the journal does not know ends the command with the nearest that it knows.
    """
    from journal.base.addresses import fold_name

    about, values = index.about, index.lexicon["facets"][facet]["values"]
    known: Sequence[Sequence[str]] = {
        "assembly": about["assemblies"],
        "step": [[step] for step in about["steps"]],
        "person": about["people"],
    }.get(facet) or [[name] for name in values]
    wanted = {names[0] for names in known if fold_name(value) in map(fold_name, names)}
    if not wanted:
        offered: dict[str, str] = {}
        for names in known:
            for name in names if facet == "person" else names[:1]:
                offered.setdefault(fold_name(name), name)
        hint = did_you_mean(value, offered.values())
        raise click.BadParameter(f'unknown {facet} "{value}"; {hint}', param_hint=f"--{facet}")
    if facet == "person":
        people = about["people_of"]
        return lambda number: not wanted.isdisjoint(people[number])
    places = {place for place, name in enumerate(values) if name in wanted}
    rows = index.lexicon["facets"][facet]["rows"]
    return lambda number: not places.isdisjoint(rows[number])


class _Answer:
    """One question on the terminal, from the words to what is printed: `hits` are entries and inspections,
    `lines` steps, parts and terms.
    """

    def __init__(self, root: Path, index: WarmIndex, question: str, filters: Sequence[Passes]) -> None:
        from journal.finding.query import Lexicon, read_query
        from journal.finding.ranking import Hit, Ranker
        from journal.finding.rules import shipped_rules
        from journal.finding.tokens import Tokenizer

        def passes(number: int) -> bool:
            return all(test(number) for test in filters)

        self.root = root
        self.index = index
        self.question = question
        self.filtered = bool(filters)
        self.tokenizer = Tokenizer(shipped_rules())
        self.lexicon = Lexicon(index.lexicon, self.tokenizer)
        self.plan = read_query(question, self.lexicon)
        self.rarity: Sequence[float] = ()
        self.hits: Sequence[Hit] = ()
        self.lines: Sequence[Hit] = ()
        if self.plan.slots:
            answer = Ranker(self.lexicon, index.postings).answer(self.plan, passes)
            self.hits, self.rarity = answer.entries, answer.rarity
            self.lines = () if filters else answer.lines[:_LINES_SHOWN]
        elif not question.strip():
            newest_first = range(index.lexicon["sheets"] - 1, -1, -1)
            self.hits = [Hit(number, 0.0, 0.0, False, False, {}) for number in newest_first if passes(number)]

    def tell(self, limit: int, *, as_json: bool) -> None:
        """Print the answers and, on the error stream, words that no entry has."""
        from journal.finding.query import nearest_word

        shown = self.hits[:limit]
        if as_json:
            rows = [self._json(hit, line=False) for hit in shown] or [self._json(hit, line=True) for hit in self.lines]
            click.echo(json.dumps(rows, indent=2, ensure_ascii=False))
        else:
            self._print(shown)
        for word in self.plan.unknown:
            guess = nearest_word(word, self.lexicon)
            click.echo(f'No entry has "{word}"' + (f'; did you mean "{guess}"?' if guess else "."), err=True)

    def open_first(self) -> None:
        """Open the page of the first answer, or its file where no site was made."""
        card = self.index.card(self.hits[0].document)
        page = self.root / str(self.settings.get("site_dir") or "site") / card["address"] / "index.html"
        target = page if page.is_file() else self.root / card["file"]
        click.echo(f"Opening {target}", err=True)
        click.launch(os.fspath(target))

    @cached_property
    def settings(self) -> Mapping[str, Any]:
        """mkdocs.yml, with other tags than plain ones left as text."""
        import yaml

        try:
            # BaseLoader makes nothing but text, lists and mappings, whatever tags a setting carries.
            settings = yaml.load((self.root / "mkdocs.yml").read_text("utf-8"), Loader=yaml.BaseLoader)
        except (OSError, ValueError, yaml.YAMLError):
            return {}
        return settings if isinstance(settings, dict) else {}

    def _json(self, hit: Hit, *, line: bool) -> dict[str, Any]:
        card = self.index.card(hit.document)
        site_url = str(self.settings.get("site_url") or "")
        if site_url and not site_url.endswith("/"):
            site_url += "/"
        row = {
            "entry": None if line else card["id"],
            "date": None if line else card["date"],
            "assembly": card["assembly"] or None,
            "steps": card["steps"],
            "snippet": _line_words(card) if line else self._snippet(hit, card)[0],
            "url": None if card["private"] else site_url + card["address"],
            "score": hit.score,
            "kind": card["kind"],
            "title": card["title"],
        }
        if line:
            return row | {"id": card["id"]}
        return row | {"day": card["day"] or None, "photos": card["photos"], "file": card["file"]}

    def _snippet(self, hit: Hit, card: Mapping[str, Any]) -> tuple[str, Sequence[tuple[int, int]]]:
        from journal.finding.cards import best_passage, first_sentence

        passages = card["passages"]
        best = best_passage([p[0] for p in passages], [p[1] for p in passages], hit.mentions, self.rarity)
        return self._marked(passages[best][2] if best is not None else first_sentence(passages))

    def _marked(self, text: str) -> tuple[str, Sequence[tuple[int, int]]]:
        from journal.finding.cards import mark_words, marked_terms

        return mark_words(text, marked_terms(self.plan), self.tokenizer)

    def _print(self, shown: Sequence[Hit]) -> None:
        for hit in self.lines:
            card = self.index.card(hit.document)
            name = card["title"] if card["kind"] == "term" else f"{card['id']} {card['title']}"
            _echo_lines(card["kind"].capitalize() + ": ", *self._marked(f"{name} — {_line_words(card)}".rstrip(" —")))
        if self.lines:
            click.echo()
        for number, hit in enumerate(shown, start=1):
            card = self.index.card(hit.document)
            steps = "step" if len(card["steps"]) == 1 else "steps"
            facts = [
                f"Day {card['day']}" if card["kind"] == "entry" else card["kind"].capitalize(),
                say_date(date.fromisoformat(card["date"])),
                card["assembly_title"],
                f"{steps} {card['said_steps']}" if card["steps"] else "",
                say_count(card["photos"], "photo") if card["photos"] else "",
                "done over" if card["redone"] else "",
                "private" if card["private"] else "",
            ]
            click.echo(f"{number:>2}. " + " · ".join(filter(None, facts)))
            _echo_lines("    ", *self._marked(card["title"]))
            text, marks = self._snippet(hit, card)
            if text:
                _echo_lines("      ", text, marks)
            # The folder right under content/entries or content/inspections, else the file.
            file: str = card["file"]
            click.echo(f"    {file.removesuffix('/index.md') if file.count('/') == 3 else file}")
        total = len(self.hits)
        if total > len(shown):
            first = "the first is shown" if len(shown) == 1 else f"the first {len(shown)} are shown"
            click.echo(f"{say_count(total, 'answer')}; {first} (--limit {total} shows all).")
        elif not total and not self.lines:
            click.echo(self._nothing())

    def _nothing(self) -> str:
        if not self.question.strip():
            return "No entry passes these filters."
        if not self.plan.slots:
            return f'Nothing found for "{self.question}": its words are too common. Add one that says more.'
        filtered = " among the entries that pass the filters" if self.filtered else ""
        return f'Nothing found for "{self.question}"{filtered}.'


def _line_words(card: Mapping[str, Any]) -> str:
    from journal.finding.rules import TEXT

    return " ".join(passage[2] for passage in card["passages"] if passage[0] == TEXT)


def _echo_lines(lead: str, text: str, marks: Sequence[tuple[int, int]]) -> None:
    """`text` after `lead`, broken at spaces; on a terminal to its width and with the marked letters in bold."""
    tty = sys.stdout.isatty()
    width = min(max(40, shutil.get_terminal_size().columns), _WIDEST) if tty else _WIDEST
    bold = tty and not os.environ.get("NO_COLOR")
    start = 0
    room = max(20, width - len(lead))
    for line in textwrap.wrap(text, room, break_long_words=False, break_on_hyphens=False) or [""]:
        start = text.index(line, start)
        click.echo(lead + (_styled(text, start, start + len(line), marks) if bold else line))
        lead = " " * len(lead)


def _styled(text: str, start: int, end: int, marks: Sequence[tuple[int, int]]) -> str:
    out, at = "", start
    for first, last in marks:
        first, last = max(first, at), min(last, end)
        if first < last:
            out, at = out + text[at:first] + click.style(text[first:last], bold=True), last
    return out + text[at:end]
