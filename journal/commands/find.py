"""`journal find` on the terminal. With a warm index nothing of the journal is opened.

Imports of what an answer does not need stand inside functions: the whole process has 0.3 s.
"""

from __future__ import annotations

import contextlib
import functools
import gc
import json
import os
import re
import shutil
import sys
import textwrap
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from journal.base.formatting import say_count, say_date
from journal.base.problems import did_you_mean
from journal.base.text_files import printable_line
from journal.commands.terminal import CAUTION, Day, build_option, open_build, say_unread, today

if TYPE_CHECKING:
    from journal.finding.cache import WarmIndex
    from journal.finding.ranking import Hit
    from journal.ledger.journal import Journal

_CACHE = ".journal"
_UNKNOWN_TOLD = 4
_LONGEST, _LONGEST_TOLD = 2000, 80
"""Letters of a question that are looked at, and of what was not found that are told again."""
_WIDEST = 100

_FILES = {
    **{"step": "steps.csv", "part": "inventory.csv", "term": "terms.md"},
    **{"call-out": "callouts.csv", "task": "tasks.csv", "material": "materials.csv", "bulletin": "bulletins.csv"},
    **{"record": "records/records.csv", "cost": "costs.csv", "tool": "tools.csv"},
}
"""The list that a line stands in, by its kind."""

_UNSEEN = ("call-out", "task", "material", "bulletin", "record", "cost", "tool")
"""Kinds of which followers see nothing."""

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
    question = printable_line(" ".join(words), _LONGEST)
    values = {facet: printable_line(value, _LONGEST) for facet, value in named.items() if value is not None}
    if not question.strip() and not (values or since or until or with_photos):
        raise click.UsageError("nothing to look for; write some words or a filter, as in: journal find nose ribs")
    narrow = functools.partial(_filters, values=values, since=since, until=until, with_photos=with_photos)
    gc.disable()  # a sixth of an answer's time, to find nothing
    try:
        answer, told = _ask(root, question, narrow, limit, everything=private)
    finally:
        gc.enable()
    answer.tell(told, as_json=as_json)
    if open_first and told:
        answer.open(told[0])


def _ask(
    root: Path, question: str, narrow: Callable[[WarmIndex], Sequence[Passes]], limit: int, *, everything: bool
) -> tuple[_Answer, list[_Told]]:
    """The answer to a question, and the first answers ready to be told."""
    import sqlite3

    with contextlib.closing(_warm_index(root, everything=everything)) as index, contextlib.suppress(sqlite3.Error):
        answer = _Answer(root, index, question, narrow(index))
        return answer, answer.told(limit)
    # The file is damaged somewhere behind its beginning.
    with contextlib.suppress(OSError):
        index.file.unlink()
    with contextlib.closing(_warm_index(root, everything=everything)) as index:
        answer = _Answer(root, index, question, narrow(index))
        return answer, answer.told(limit)


def _filters(
    index: WarmIndex, *, values: Mapping[str, str], since: date | None, until: date | None, with_photos: bool
) -> list[Passes]:
    dates, photos = index.lexicon["dates"], index.lexicon["photos"]
    filters = [_name_filter(index, facet, value) for facet, value in values.items()]
    if since is not None:
        filters.append(lambda number: dates[number] >= since.isoformat())
    if until is not None:
        filters.append(lambda number: dates[number] <= until.isoformat())
    if with_photos:
        filters.append(lambda number: photos[number] > 0)
    return filters


def _warm_index(root: Path, *, everything: bool) -> WarmIndex:
    """The index in its file, brought up to date first where the content changed."""
    from journal.finding.cache import FOLDER, code_stamp, content_stamps, open_warm

    code = code_stamp()
    stamps = content_stamps(root, code)
    file = root / _CACHE / FOLDER / ("everything.sqlite" if everything else "public.sqlite")
    index = open_warm(file)
    if index is None or index.key != stamps.key:
        from journal.making.warm_index import make_warm

        with contextlib.ExitStack() as stack:
            if index:
                stack.enter_context(contextlib.closing(index))
            with contextlib.suppress(OSError):
                file.parent.mkdir(parents=True, exist_ok=True)
            if not file.parent.is_dir() or not os.access(file.parent, os.W_OK):
                import tempfile

                # A build on a medium that cannot be written is searched all the same, more slowly.
                file = Path(stack.enter_context(tempfile.TemporaryDirectory())) / file.name
            whole = functools.partial(_open_whole, root)
            make_warm(whole, file, stamps, code=code, root=root, today=today(), old=index, everything=everything)
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


class _Told(NamedTuple):
    """An answer as it is told: the card of its document, the passage shown with the marks in it, the id of what says it
    on its page, and its picture as (file, caption, id on the page).
    """

    card: Mapping[str, Any]
    score: float
    field: int
    text: str
    marks: Sequence[tuple[int, int]]
    anchor: str
    picture: tuple[str, str, str] | None

    @property
    def written(self) -> str:
        """What stands in its file, as far as that is told here."""
        id_, title = self.card["id"], self.card["title"]
        return self.text or title if self.card["file"] else " ".join(dict.fromkeys((id_, title)))

    @property
    def address(self) -> str:
        """Where it stands on the site, from its first page on."""
        return self.on_page(self.anchor)

    def on_page(self, anchor: str) -> str:
        """The address of what has an id on the page."""
        page, _, own = str(self.card["address"]).partition("#")
        return page + (f"#{anchor or own}" if anchor or own else "")

    @property
    def file(self) -> str:
        """The file that tells it, from the build folder on; of a line the list that it stands in."""
        return self.card["file"] or f"content/{_FILES[self.card['kind']]}"


class _Answer:
    """One question on the terminal, from the words to what is printed; `hits` are of every kind, best first."""

    def __init__(self, root: Path, index: WarmIndex, question: str, filters: Sequence[Passes]) -> None:
        from journal.finding.query import Lexicon, read_query
        from journal.finding.ranking import Hit, Ranker
        from journal.finding.rules import shipped_rules
        from journal.finding.tokens import Tokenizer

        dated = index.lexicon["dated"]

        def passes(number: int) -> bool:
            return not filters or (number < dated and all(test(number) for test in filters))

        self.root = root
        self.index = index
        self.question = question
        self.filtered = bool(filters)
        self.tokenizer = Tokenizer(shipped_rules().with_kin(index.lexicon["kin"]))
        self.lexicon = Lexicon(index.lexicon, self.tokenizer)
        self.plan = read_query(question, self.lexicon)
        self.rarity: Sequence[float] = ()
        self.hits: Sequence[Hit] = ()
        if self.plan.slots:
            answer = Ranker(self.lexicon, index.postings).answer(self.plan, passes)
            self.hits, self.rarity = answer.hits, answer.rarity
        elif not question.strip():
            self.hits = [Hit(number, 0.0, {}) for number in range(dated - 1, -1, -1) if passes(number)]

    def told(self, limit: int) -> list[_Told]:
        """The first answers, ready to be printed."""
        return [self._told(hit) for hit in self.hits[:limit]]

    def _told(self, hit: Hit) -> _Told:
        from journal.finding.cards import best_picture, mark_words, shown_passage, weigh_passages

        card = self.index.card(hit.document)
        passages = card["passages"]
        worth = weigh_passages(passages, hit.mentions, self.rarity)
        number = shown_passage(card, worth)
        field, _, said, place, anchor = passages[number] if number is not None else (-1, 0, "", None, "")
        place = best_picture(passages, worth, card["cover"]) if place is None else place
        captions = {one[3]: one[2] for one in passages if one[3] is not None}
        picture = None if place is None else (card["pictures"][place], captions.get(place, ""), f"photo-{place + 1}")
        return _Told(card, hit.score, field, *mark_words(said, self.plan, self.tokenizer), anchor, picture)

    def tell(self, told: Sequence[_Told], *, as_json: bool) -> None:
        """Print answers and, on the error stream, words that no entry has."""
        from journal.finding.query import nearest_word

        if as_json:
            click.echo(json.dumps(list(map(self._json, told)), indent=2, ensure_ascii=False))
        else:
            self._print(told)
        for word in self.plan.unknown[:_UNKNOWN_TOLD]:
            guess = nearest_word(word, self.lexicon)
            click.echo(f'No entry has "{_short(word)}"' + (f'; did you mean "{guess}"?' if guess else "."), err=True)

    def open(self, one: _Told) -> None:
        """Open the page of an answer where it is said, or its file where no site was made."""
        page, _, anchor = one.address.partition("#")
        site = self.root / str(self.settings.get("site_dir") or "site") / page / "index.html"
        target = site if site.is_file() else self.root / one.file
        click.echo(f"Opening {target}{f'#{anchor}' if anchor and target == site else ''}", err=True)
        if target == site and anchor:
            target = _leading_to(f"{site.as_uri()}#{anchor}")
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

    def _url(self, one: _Told) -> str | None:
        """The address for everybody; None of what followers do not see."""
        if one.card["private"] or one.card["draft"] or one.card["kind"] in _UNSEEN:
            return None
        site_url = str(self.settings.get("site_url") or "")
        return f"{site_url}{'/' if site_url and not site_url.endswith('/') else ''}{one.address}"

    def _json(self, one: _Told) -> dict[str, Any]:
        card, dated = one.card, bool(one.card["date"])
        file, caption, place = one.picture or ("", "", "")
        return {
            "entry": card["id"] if dated else None,
            "date": card["date"] or None,
            "assembly": card["assembly"] or None,
            "steps": card["steps"],
            "snippet": one.text,
            "url": self._url(one),
            "score": one.score,
            "kind": card["kind"],
            "title": card["title"],
            "id": card["id"],
            "day": card["day"] or None,
            "photos": card["photos"],
            "file": one.file if (self.root / one.file).is_file() else None,
            "address": one.address,
            "picture": {"file": file, "caption": caption, "address": one.on_page(place)} if file else None,
            "marks": one.marks,
        }

    def _print(self, told: Sequence[_Told]) -> None:
        from journal.finding.cards import mark_words

        for number, one in enumerate(told, start=1):
            click.echo(f"{number:>2}. " + " · ".join(filter(None, _facts(one.card))))
            _echo_lines("    ", *mark_words(one.card["title"], self.plan, self.tokenizer))
            if one.text:
                _echo_lines("      ", one.text, one.marks)
            if one.picture:
                name, caption = Path(one.picture[0]).name, one.picture[1]
                _echo_lines("      ", name if not caption or caption == one.text else f"{name}: {caption}", ())
            if (file := self.root / one.file).is_file():
                click.echo(f"    {one.file}{_line_of(file, one.written)}")
            if self.settings.get("site_url") and (url := self._url(one)):
                click.echo(f"    {url}")
        total = len(self.hits)
        if total > len(told):
            first = "the first is shown" if len(told) == 1 else f"the first {len(told)} are shown"
            click.echo(f"{say_count(total, 'answer')}; {first} (--limit {total} shows all).")
        elif not total:
            click.echo(self._nothing())
        if any(self._tells_a_figure(one) for one in told):
            click.echo(CAUTION)

    def _tells_a_figure(self, one: _Told) -> bool:
        """Whether a rivet, a torque or a call-out is shown: figures that somebody might build by."""
        from journal.finding.rules import HARDWARE

        torque = any(token.term.startswith("=in-lb") for token in self.tokenizer.tokens(one.text))
        return one.field == HARDWARE or one.card["kind"] == "call-out" or torque

    def _nothing(self) -> str:
        if not self.question.strip():
            return "No entry passes these filters."
        if not self.plan.slots:
            return f'Nothing found for "{_short(self.question)}": its words are too common. Add one that says more.'
        filtered = " among the entries that pass the filters" if self.filtered else ""
        return f'Nothing found for "{_short(self.question)}"{filtered}.'


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST_TOLD else f"{text[:_LONGEST_TOLD]}…"


def _facts(card: Mapping[str, Any]) -> list[str]:
    kind, id_ = card["kind"], card["id"]
    named = not card["date"] and kind != "page" and id_ != card["title"]
    told = "" if kind == "step" else f"{'step' if len(card['steps']) == 1 else 'steps'} {card['said_steps']}"
    return [
        f"Day {card['day']}" if card["day"] else kind.capitalize() + (f" {id_}" if named else ""),
        say_date(date.fromisoformat(card["date"])) if card["date"] else "",
        card["assembly_title"],
        told if card["steps"] else "",
        say_count(card["photos"], "photo") if card["photos"] else "",
        "done over" if card["redone"] else "",
        "private" if card["private"] else "",
    ]


def _line_of(file: Path, text: str) -> str:
    """`:` and the number of the line of `file` on which `text` begins; empty where it is not there, or more than once,
    as words: marks of Markdown may stand between them.
    """
    words = re.findall(r"\w+", text.removeprefix("… "))[:8]
    try:
        whole = file.read_text("utf-8")
    except (OSError, ValueError):
        return ""
    found = [match.start() for match in re.finditer(r"[\W_]+".join(words), whole)] if words else []
    return f":{whole.count(chr(10), 0, found[0]) + 1}" if len(found) == 1 else ""


def _leading_to(url: str) -> Path:
    """A page that leads to `url`: what opens a file address on the desktop drops what stands behind its `#`."""
    import html
    import tempfile

    page = Path(tempfile.mkdtemp(prefix="journal-find-")) / "answer.html"
    target = html.escape(url)
    lead = f'<meta http-equiv="refresh" content="0; url={target}">'
    page.write_text(f'<!doctype html><meta charset="utf-8">{lead}<a href="{target}">{target}</a>\n', "utf-8")
    return page


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
