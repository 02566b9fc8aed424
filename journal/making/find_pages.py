"""The Find page and the scripts behind it, for the site and the archive alike."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from journal.base.addresses import FIND
from journal.base.formatting import say_count, say_steps
from journal.finding.cache import keep_scripts, kept_scripts
from journal.finding.cards import answer_card
from journal.finding.documents import Document, documents, term_groups
from journal.finding.index import Analysed, analyse, build_index, digest
from journal.finding.rules import shipped_rules
from journal.finding.scripts import render_scripts
from journal.finding.tokens import Tokenizer
from journal.making.incremental import Kept, code_digest
from journal.site.site_context import Extras, SiteContext
from journal.view.page_addresses import ENTRIES, METHODS, STEPS, TOOLS
from journal.view.page_parts import Link, PageRecord


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One choice of a filter: what the address carries, and the words for it."""

    value: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OptionGroup:
    """Choices under a heading of their own (steps of one assembly); no heading: no group."""

    title: str
    options: tuple[Option, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Filter:
    """One way to narrow the answers. `key` is its name in the address, `none` the words for no choice."""

    key: str
    label: str
    none: str
    groups: tuple[OptionGroup, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FindPage:
    """What the template `find.html` places. `examples` are questions that this journal can answer."""

    title: str
    intro: str
    version: str
    filters: tuple[Filter, ...]
    examples: tuple[Link, ...]
    lists: tuple[Link, ...]


def find_extras(site: SiteContext, keep: Path | None = None) -> Extras:
    """The Find page and its files, made from the view of `site` and nothing else.

    `keep` is a folder to keep the index in for the next build, and to take it from where every document and every
    picture is the same; where some are, those are not read again, word by word.
    """
    found = documents(site.view, site.addresses)
    thumbs = [_thumbs(document, site) for document in found]
    groups = term_groups(site.view)
    if keep is None:
        version, files = _scripts(site, found, thumbs, groups, [analyse(one, _tokenizer()) for one in found])
    else:
        whole, parts = (keep / f"{kind}-{site.view.audience.value}" for kind in ("site", "words"))
        key = digest([code_digest().hex(), [document.plain for document in found], thumbs, groups, site.order])
        kept = kept_scripts(whole, key)
        version, files = kept or _scripts(site, found, thumbs, groups, _analysed(found, Kept(parts)))
        if kept is None:
            keep_scripts(whole, key, version, files)
    return Extras(pages=(_page(site, found, version),), files=files)


def _scripts(
    site: SiteContext,
    found: Sequence[Document],
    thumbs: Sequence[Mapping[int, tuple[str, int, int]]],
    groups: Sequence[Sequence[str]],
    analysed: Sequence[Analysed],
) -> tuple[str, tuple[tuple[str, bytes], ...]]:
    tokenizer = _tokenizer()
    index = build_index(found, analysed, groups, tokenizer)
    order = site.order
    cards = [
        answer_card(document, one, lambda steps: say_steps(steps, order))
        for document, one in zip(found, analysed, strict=True)
    ]
    return render_scripts(index, cards, thumbs, tokenizer.rules)


@lru_cache(maxsize=1)
def _tokenizer() -> Tokenizer:
    return Tokenizer(shipped_rules())


def _analysed(found: Sequence[Document], kept: Kept) -> list[Analysed]:
    """The words of each document, from `kept` where its text is the same."""
    analysed = []
    for document in found:
        key = digest([code_digest().hex(), document.passages])
        row = kept.find(key)
        one = Analysed(*row) if row else analyse(document, _tokenizer())
        if not row:
            kept.put(key, one)
        analysed.append(one)
    kept.write()
    return analysed


def _thumbs(document: Document, site: SiteContext) -> dict[int, tuple[str, int, int]]:
    """(name, width, height) of the smallest published form of each picture, by its place."""
    thumbs: dict[int, tuple[str, int, int]] = {}
    for place, photo in enumerate(document.photos):
        picture = site.pictures.get(photo.src_uri)
        if picture and picture.renditions:
            smallest = picture.renditions[0]
            thumbs[place] = (smallest.name, smallest.width_px, smallest.height_px)
    return thumbs


def _page(site: SiteContext, found: Sequence[Document], version: str) -> PageRecord:
    entries = [document for document in found if document.kind.is_entry]
    return site.page(
        FIND,
        "find.html",
        "Find",
        f"Search {site.site_name}: words, steps, parts, tools.",
        FindPage(
            title="Find how it was done",
            intro=(
                f"{say_count(len(entries), 'entry', 'entries')} and all lists. "
                "Ask in your own words, or type a step, a part, a drill, a torque."
            ),
            version=version,
            filters=_filters(site, entries),
            examples=_examples(site, entries),
            lists=(
                Link(text="all entries", address=ENTRIES),
                *([Link(text="steps", address=STEPS)] if site.view.steps else []),
                *([Link(text="tools", address=TOOLS)] if site.view.tools else []),
                *([Link(text="methods", address=METHODS)] if site.view.methods else []),
            ),
        ),
    )


def _filters(site: SiteContext, entries: Sequence[Document]) -> tuple[Filter, ...]:
    view = site.view
    named = {entry.assembly for entry in entries}
    assemblies = ((id_, one.title) for id_, one in view.assemblies.items() if id_ in named)
    steps = {step for entry in entries for step in entry.steps}
    by_assembly = (
        (assembly.title, [step for step in site.addresses.steps_of[assembly.id] if step in steps])
        for assembly in view.assemblies.values()
    )
    of_steps = tuple(
        OptionGroup(title=title, options=tuple(Option(value=id_, text=f"{id_} {view.steps[id_].title}") for id_ in ids))
        for title, ids in by_assembly
        if ids
    )
    people = dict.fromkeys(person for entry in entries for person in entry.people)
    years = sorted({entry.date.year for entry in entries if entry.date})
    filters = (
        _filter("assembly", "any assembly", assemblies),
        Filter(key="step", label="Step", none="any step", groups=of_steps),
        _filter("tool", "any tool", _names(view.tools, (entry.tools for entry in entries))),
        _filter("method", "any method", _names(view.methods, (entry.methods for entry in entries))),
        _filter("person", "anybody", ((person, person) for person in people)),
        _filter("year", "any year", ((str(year), str(year)) for year in years)),
    )
    return tuple(one for one in filters if one.groups)


def _filter(key: str, none: str, pairs: Iterable[tuple[str, str]]) -> Filter:
    """A filter whose choices, (value, words), stand in one group."""
    options = tuple(Option(value=value, text=text) for value, text in pairs)
    groups = (OptionGroup(title="", options=options),) if options else ()
    return Filter(key=key, label=key.capitalize(), none=none, groups=groups)


def _names(forms: Mapping[str, str], used: Iterable[Sequence[str]]) -> Iterator[tuple[str, str]]:
    there = {name for names in used for name in names}
    return ((folded, form) for folded, form in sorted(forms.items()) if folded in there)


def _examples(site: SiteContext, entries: Sequence[Document]) -> tuple[Link, ...]:
    """Questions out of this very journal: its newest step and rivet, the tool used most."""
    examples: list[str] = []
    newest = list(reversed(entries))
    if step := next((entry.steps[-1] for entry in newest if entry.steps), None):
        examples.append(f"step {step}")
    rivets: Iterable[Any] = (
        passage.text.split(",")[0].removeprefix("rivet ")
        for entry in newest
        for passage in entry.passages
        if passage.text.startswith("rivet ") and passage.text[6:8].isupper()
    )
    if rivet := next(iter(rivets), None):
        examples.append(rivet)
    tools = Counter(tool for entry in entries for tool in entry.tools)
    if tools:
        examples.append(site.view.tools[min(tools, key=lambda tool: (-tools[tool], tool))])
    return tuple(Link(text=example) for example in dict.fromkeys(examples))
