"""`journal find`: the terminal's door. With a warm index nothing of the journal is opened.

Imports of what an answer does not need stand inside functions: the whole process has 0.3 s.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from journal.base.formatting import say_count, say_date
from journal.base.problems import did_you_mean
from journal.commands.terminal import build_option, open_build

if TYPE_CHECKING:
    from journal.finding.cache import WarmIndex
    from journal.finding.query import Plan
    from journal.finding.ranking import Hit

_CACHE = ".journal"
_LINES_SHOWN = 4
_WIDEST = 100


class _When(click.ParamType[date]):
    """A day, month or year of ISO 8601; `last` reads a month or year as its last day."""

    name = "date"

    def __init__(self, *, last: bool) -> None:
        self.last = last

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> date:
        if isinstance(value, date):
            return value
        try:
            if re.fullmatch(r"[0-9]{4}", value):
                return date(int(value), 12, 31) if self.last else date(int(value), 1, 1)
            if match := re.fullmatch(r"([0-9]{4})-([0-9]{2})", value):
                year, month = int(match[1]), int(match[2])
                if not self.last:
                    return date(year, month, 1)
                following = date(year + month // 12, month % 12 + 1, 1)
                return date.fromordinal(following.toordinal() - 1)
            return date.fromisoformat(value)
        except ValueError:
            self.fail(f'"{value}" is no date; write 2026-02-07, 2026-02 or 2026', param, ctx)


@click.command()
@build_option
@click.argument("words", nargs=-1)
@click.option("--assembly", metavar="ID", help="Only sheets on this assembly.")
@click.option("--step", metavar="ID", help="Only sheets that name this step.")
@click.option("--tool", metavar="NAME", help="Only sheets that list this tool.")
@click.option("--method", metavar="NAME", help="Only sheets that list this method.")
@click.option("--person", metavar="ID", help="Only sheets on which this person worked.")
@click.option("--since", type=_When(last=False), help="Only sheets from this day on (2026-02-07, 2026-02, 2026).")
@click.option("--until", type=_When(last=True), help="Only sheets up to this day, month or year.")
@click.option("--with-photos", is_flag=True, help="Only sheets that have photos.")
@click.option("--private", is_flag=True, help="Search private entries and passages too.")
@click.option("--limit", type=click.IntRange(min=1), default=10, show_default=True, help="Show at most this many.")
@click.option("--json", "as_json", is_flag=True, help="Print a JSON list, best first.")
@click.option("--open", "open_first", is_flag=True, help="Open the first answer: its page, or its file.")
def find(
    root: Path,
    words: tuple[str, ...],
    assembly: str | None,
    step: str | None,
    tool: str | None,
    method: str | None,
    person: str | None,
    since: date | None,
    until: date | None,
    with_photos: bool,
    private: bool,
    limit: int,
    as_json: bool,
    open_first: bool,
) -> None:
    """Find again how something was done.

    Words may be a question, a step (7.10), a part number or its beginning (AN470AD4, W-1007), a
    drill (#40), a size (3/32), a torque (62 in-lb). One slip of the finger in a word is forgiven.
    Without words the sheets that pass the filters are listed, newest first.

    \b
    Example:
      journal find how did we hold the nose ribs for dimpling
      journal find rivets step 7.10
      journal find "#30 drill" --assembly left-wing --since 2026-03
    """
    from journal.finding.rules import shipped_rules
    from journal.finding.tokens import Tokenizer

    index = _warm_index(root, everything=private)
    try:
        filters = _Filters(index)
        filters.assembly(assembly)
        filters.step(step)
        filters.name("tool", tool)
        filters.name("method", method)
        filters.person(person)
        filters.dates(since, until)
        if with_photos:
            filters.photos()
        question = " ".join(words)
        if not question.strip() and not filters.tests:
            raise click.UsageError("nothing to look for; write some words or a filter, as in: journal find nose ribs")
        _Door(root, index, Tokenizer(shipped_rules()), question, filters, limit).answer(
            as_json=as_json, open_first=open_first
        )
    finally:
        index.close()


def _warm_index(root: Path, *, everything: bool) -> WarmIndex:
    """The index in its file, made anew first where the content changed."""
    from journal.finding.cache import FOLDER, code_stamp, content_key, open_warm

    code = code_stamp()
    key = content_key(root, code)
    file = root / _CACHE / FOLDER / ("everything.sqlite" if everything else "public.sqlite")
    index = open_warm(file, key)
    if index is None:
        import tempfile

        from journal.making.find_warm import make_warm

        with contextlib.ExitStack() as stack:
            if not _can_hold(file):
                # A build on a medium that cannot be written is searched all the same, more slowly.
                file = Path(stack.enter_context(tempfile.TemporaryDirectory())) / file.name
            make_warm(lambda: open_build(root), file, key=key, code=code, everything=everything)
            index = open_warm(file, key)
            if index is None:
                raise OSError(None, "the index of words could not be kept", str(file))
    if errors := index.about["errors"]:
        click.echo(
            f"{say_count(errors, 'error')} in the content: what they name is not searched; see `journal check`.",
            err=True,
        )
    return index


def _can_hold(file: Path) -> bool:
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
    except OSError:
        return False
    return os.access(file.parent, os.W_OK)


class _Filters:
    """What the answers must hold to: each test says of a sheet (by its number) whether it passes.

    A value that the journal does not know ends the command with the nearest that it knows.
    """

    def __init__(self, index: WarmIndex) -> None:
        self.lexicon = index.lexicon
        self.about = index.about
        self.tests: list[Callable[[int], bool]] = []

    def passes(self, sheet: int) -> bool:
        """Whether a sheet passes all filters."""
        return all(test(sheet) for test in self.tests)

    def assembly(self, value: str | None) -> None:
        if value is None:
            return
        known = self.about["assemblies"]
        wanted = {id_ for id_, title in known if _plain(value) in (_plain(id_), _plain(title))}
        if not wanted:
            _refuse("--assembly", "assembly", value, [id_ for id_, _ in known])
        self._facet("assembly", wanted)

    def step(self, value: str | None) -> None:
        if value is None:
            return
        wanted = {step for step in self.about["steps"] if _plain(step) == _plain(value)}
        if not wanted:
            _refuse("--step", "step", value, self.about["steps"])
        self._facet("step", wanted)

    def name(self, facet: str, value: str | None) -> None:
        if value is None:
            return
        known = self.lexicon["facets"][facet]["values"]
        if _plain(value) not in known:
            _refuse(f"--{facet}", facet, value, known)
        self._facet(facet, {_plain(value)})

    def person(self, value: str | None) -> None:
        if value is None:
            return
        people = self.about["people"]
        wanted = {names[0] for names in people if _plain(value) in map(_plain, names)}
        if not wanted:
            by_plain: dict[str, str] = {}
            for names in people:
                for name in names:
                    by_plain.setdefault(_plain(name), name)
            _refuse("--person", "person", value, list(by_plain.values()))
        rows = self.about["people_of"]
        self.tests.append(lambda sheet: not wanted.isdisjoint(rows[sheet]))

    def dates(self, since: date | None, until: date | None) -> None:
        dates = self.lexicon["dates"]
        if since is not None:
            first = since.isoformat()
            self.tests.append(lambda sheet: dates[sheet] >= first)
        if until is not None:
            last = until.isoformat()
            self.tests.append(lambda sheet: dates[sheet] <= last)

    def photos(self) -> None:
        photos = self.lexicon["photos"]
        self.tests.append(lambda sheet: photos[sheet] > 0)

    def _facet(self, facet: str, wanted: set[str]) -> None:
        told = self.lexicon["facets"][facet]
        numbers = {number for number, value in enumerate(told["values"]) if value in wanted}
        self.tests.append(lambda sheet: not numbers.isdisjoint(told["rows"][sheet]))


def _plain(name: str) -> str:
    from journal.base.addresses import fold_name

    return fold_name(name)


def _refuse(option: str, kind: str, value: str, known: Sequence[str]) -> None:
    raise click.BadParameter(f'unknown {kind} "{value}"; {did_you_mean(value, known)}', param_hint=option)


class _Door:
    """One question at the terminal, from the words to what is printed."""

    def __init__(
        self, root: Path, index: WarmIndex, tokenizer: Any, question: str, filters: _Filters, limit: int
    ) -> None:
        from journal.finding.query import Lexicon, read_query
        from journal.finding.ranking import Ranker

        self.root = root
        self.index = index
        self.tokenizer = tokenizer
        self.question = question
        self.filters = filters
        self.limit = limit
        self.lexicon = Lexicon(index.lexicon, tokenizer)
        self.plan: Plan = read_query(question, self.lexicon)
        self.rarity: Sequence[float] = ()
        self.sheets: Sequence[Hit] = ()
        self.lines: Sequence[Hit] = ()
        if self.plan.slots:
            answer = Ranker(self.lexicon, index.postings).answer(self.plan, filters.passes)
            self.sheets, self.rarity = answer.entries, answer.rarity
            self.lines = () if filters.tests else answer.lines[:_LINES_SHOWN]
        elif not question.strip():
            self.sheets = _newest_first(index, filters)

    def answer(self, *, as_json: bool, open_first: bool) -> None:
        shown = self.sheets[: self.limit]
        if as_json:
            rows = [self._json_sheet(hit) for hit in shown] or [self._json_line(hit) for hit in self.lines]
            click.echo(json.dumps(rows, indent=2, ensure_ascii=False))
        else:
            self._print(shown)
        self._print_unknown()
        if open_first and shown:
            self._open(self.index.card(shown[0].document))

    # --- JSON ------------------------------------------------------------------------------------

    def _json_sheet(self, hit: Hit) -> dict[str, Any]:
        card = self.index.card(hit.document)
        text, _ = self._snippet(hit, card)
        return {
            "entry": card["id"],
            "date": card["date"],
            "assembly": card["assembly"] or None,
            "steps": card["steps"],
            "snippet": text,
            "url": None if card["private"] else self.site_url + card["address"],
            "score": hit.score,
            "kind": card["kind"],
            "title": card["title"],
            "day": card["day"] or None,
            "photos": card["photos"],
        }

    def _json_line(self, hit: Hit) -> dict[str, Any]:
        card = self.index.card(hit.document)
        return {
            "entry": None,
            "date": None,
            "assembly": card["assembly"] or None,
            "steps": card["steps"],
            "snippet": _line_words(card),
            "url": self.site_url + card["address"],
            "score": hit.score,
            "kind": card["kind"],
            "title": card["title"],
            "id": card["id"],
        }

    @property
    def site_url(self) -> str:
        """Where the site stands (mkdocs.yml), ending in `/`; empty where it is not said."""
        url = str(self._settings().get("site_url") or "")
        return url if not url or url.endswith("/") else url + "/"

    def _settings(self) -> Mapping[str, Any]:
        known: Mapping[str, Any] | None = getattr(self, "_known_settings", None)
        if known is None:
            known = self._known_settings = _site_settings(self.root / "mkdocs.yml")
        return known

    # --- words -----------------------------------------------------------------------------------

    def _snippet(self, hit: Hit, card: Mapping[str, Any]) -> tuple[str, Sequence[tuple[int, int]]]:
        from journal.finding.cards import first_sentence
        from journal.finding.snippets import best_passage, mark, marked_terms

        passages = card["passages"]
        best = best_passage([p[0] for p in passages], [p[1] for p in passages], hit.mentions, self.rarity)
        text = passages[best][2] if best is not None else first_sentence(passages)
        snippet = mark(text, marked_terms(self.plan), self.tokenizer)
        return snippet.text, snippet.marks

    def _print(self, shown: Sequence[Hit]) -> None:
        from journal.finding.snippets import mark, marked_terms

        width = min(_terminal_width(), _WIDEST) if sys.stdout.isatty() else _WIDEST
        bold = _bold_allowed()
        terms = marked_terms(self.plan)
        for hit in self.lines:
            card = self.index.card(hit.document)
            name = card["title"] if card["kind"] == "term" else f"{card['id']} {card['title']}"
            snippet = mark(f"{name} — {_line_words(card)}".rstrip(" —"), terms, self.tokenizer)
            _echo_lines(card["kind"].capitalize() + ": ", snippet.text, snippet.marks, width, bold)
        if self.lines:
            click.echo()
        for number, hit in enumerate(shown, start=1):
            card = self.index.card(hit.document)
            facts = [
                "Inspection" if card["kind"] == "inspection" else f"Day {card['day']}",
                say_date(date.fromisoformat(card["date"])),
                card["assembly_title"],
                _say_steps(card),
                say_count(card["photos"], "photo") if card["photos"] else "",
                "done over" if card["redone"] else "",
                "private" if card["private"] else "",
            ]
            click.echo(f"{number:>2}. " + " · ".join(filter(None, facts)))
            title = mark(card["title"], terms, self.tokenizer)
            _echo_lines("    ", title.text, title.marks, width, bold)
            text, marks = self._snippet(hit, card)
            if text:
                _echo_lines("      ", text, marks, width, bold)
            click.echo(f"    content/{'entries' if card['kind'] == 'entry' else 'inspections'}/{card['id']}")
        total = len(self.sheets)
        if total > len(shown):
            first = "the first is shown" if len(shown) == 1 else f"the first {len(shown)} are shown"
            click.echo(f"{say_count(total, 'sheet')}; {first} (--limit {total} shows all).")
        elif not total and not self.lines:
            click.echo(self._nothing())

    def _nothing(self) -> str:
        if not self.question.strip():
            return "No sheet passes these filters."
        if not self.plan.slots:
            return f'Nothing found for "{self.question}": all its words stand everywhere. Add one that tells more.'
        filtered = " among the sheets that pass the filters" if self.filters.tests else ""
        return f'Nothing found for "{self.question}"{filtered}.'

    def _print_unknown(self) -> None:
        from journal.finding.query import nearest_word

        for word in self.plan.unknown:
            guess = nearest_word(word, self.lexicon)
            click.echo(f'No sheet has "{word}"' + (f'; did you mean "{guess}"?' if guess else "."), err=True)

    def _open(self, card: Mapping[str, Any]) -> None:
        page = self.root / str(self._settings().get("site_dir") or "site") / card["address"] / "index.html"
        folder = "entries" if card["kind"] == "entry" else "inspections"
        target = page if page.is_file() else self.root / "content" / folder / card["id"] / "index.md"
        click.echo(f"Opening {target}", err=True)
        click.launch(os.fspath(target))


def _newest_first(index: WarmIndex, filters: _Filters) -> list[Hit]:
    from journal.finding.ranking import Hit

    sheets = range(index.lexicon["sheets"] - 1, -1, -1)
    return [Hit(sheet, 0.0, 0.0, False, False, {}) for sheet in sheets if filters.passes(sheet)]


def _say_steps(card: Mapping[str, Any]) -> str:
    if not card["steps"]:
        return ""
    return f"{'step' if len(card['steps']) == 1 else 'steps'} {card['said_steps']}"


def _line_words(card: Mapping[str, Any]) -> str:
    from journal.finding.rules import TEXT

    return " ".join(passage[2] for passage in card["passages"] if passage[0] == TEXT)


def _site_settings(file: Path) -> Mapping[str, Any]:
    """`site_url` and `site_dir` of mkdocs.yml, other tags than plain ones left as text."""
    import yaml

    try:
        # BaseLoader makes nothing but text, lists and mappings, whatever tags a setting carries.
        settings = yaml.load(file.read_text("utf-8"), Loader=yaml.BaseLoader)
    except (OSError, ValueError, yaml.YAMLError):
        return {}
    return settings if isinstance(settings, dict) else {}


def _bold_allowed() -> bool:
    return sys.stdout.isatty() and not os.environ.get("NO_COLOR")


def _terminal_width() -> int:
    import shutil

    return max(40, shutil.get_terminal_size().columns)


def _echo_lines(lead: str, text: str, marks: Sequence[tuple[int, int]], width: int, bold: bool) -> None:
    """`text` after `lead`, broken at spaces to `width`, marked letters in bold where that is allowed."""
    indent = " " * len(lead)
    for number, (start, end) in enumerate(_broken(text, max(20, width - len(lead)))):
        line = _styled(text, start, end, marks) if bold else text[start:end]
        click.echo((lead if number == 0 else indent) + line)


def _broken(text: str, width: int) -> Iterator[tuple[int, int]]:
    """Offsets of lines of at most `width` letters, broken at spaces; a longer word has its own line."""
    start = 0
    while len(text) - start > width:
        end = text.rfind(" ", start + 1, start + width + 1)
        if end < 0:
            end = text.find(" ", start + width)
            if end < 0:
                break
        yield start, end
        start = end + 1
    yield start, len(text)


def _styled(text: str, start: int, end: int, marks: Sequence[tuple[int, int]]) -> str:
    out: list[str] = []
    at = start
    for first, last in marks:
        first, last = max(first, at), min(last, end)
        if first < last:
            out += (text[at:first], click.style(text[first:last], bold=True))
            at = last
    return "".join([*out, text[at:end]])
