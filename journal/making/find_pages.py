"""The Find page and the scripts behind it, for the site and the archive alike."""

from __future__ import annotations

import posixpath
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from journal.base.addresses import FIND
from journal.base.fingerprints import code_digest
from journal.base.formatting import say_count
from journal.base.words import _
from journal.finding.cards import answer_cards
from journal.finding.documents import Document, documents, term_groups
from journal.finding.index import Analysed, analyse, build_index, digest
from journal.finding.rules import shipped_rules
from journal.finding.scripts import Thumb, render_scripts
from journal.finding.tokens import Tokenizer
from journal.making.incremental import Kept
from journal.site.site_context import Extras, SiteContext
from journal.view.page_addresses import ENTRIES, METHODS, STEPS, TOOLS
from journal.view.page_parts import Group, Link, PageRecord


@dataclass(frozen=True, slots=True, kw_only=True)
class FindPage:
    """What only the template `find.html` knows. A filter's `anchor` is its name in the address, its `words` those for
    no choice; its `items` are groups of choices, each a link from its words to what the address carries. `examples`
    are questions that this journal can answer.
    """

    version: str
    filters: tuple[Group, ...]
    examples: tuple[Link, ...]


def find_extras(site: SiteContext, keep: Path) -> Extras:
    """The Find page and its files, made from the view of `site` and nothing else.

    `keep` is a folder to keep the index in for the next build, and to take it from where every document and every
    picture is the same; where some are, those are not read again, word by word.
    """
    found = documents(site.view, site.addresses)
    thumbs = [_thumbs(document, site) for document in found]
    groups = term_groups(site.view)
    key = digest([code_digest().hex(), [document.plain for document in found], thumbs, groups, site.order])
    whole, words = (Kept(keep / f"{kind}-{site.view.audience.value}") for kind in ("site", "words"))

    def make() -> tuple[str, list[tuple[str, str]]]:
        tokenizer = Tokenizer(shipped_rules().with_names(groups))
        analysed = _analysed(found, words, tokenizer)
        index = build_index(found, analysed, site.addresses.mirrored, tokenizer)
        return render_scripts(index, answer_cards(found, analysed, site.order), thumbs, tokenizer.rules)

    version, files = whole.find_or_make(key, make)
    whole.write()
    return Extras(pages=(_page(site, found, version),), files=tuple((name, text.encode()) for name, text in files))


def _analysed(found: Sequence[Document], kept: Kept, tokenizer: Tokenizer) -> list[Analysed]:
    """The words of each document, from `kept` where its text is the same."""
    code = digest([code_digest().hex(), tokenizer.rules.plain["kin"]])
    rows = [kept.find_or_make(digest([code, one.passages]), partial(analyse, one, tokenizer)) for one in found]
    kept.write()
    return [Analysed(*row) for row in rows]


def _thumbs(document: Document, site: SiteContext) -> dict[int, Thumb]:
    """The smallest published form of each picture, by its place."""
    thumbs: dict[int, Thumb] = {}
    for place, src_uri in enumerate(document.photos):
        picture = site.pictures.get(src_uri)
        if picture and picture.renditions:
            smallest = picture.renditions[0]
            shown = (smallest.name, smallest.width_px, smallest.height_px)
            thumbs[place] = (*shown, posixpath.basename(src_uri)) if site.everything else shown
    return thumbs


def _page(site: SiteContext, found: Sequence[Document], version: str) -> PageRecord:
    entries, view = [document for document in found if document.kind.dated], site.view
    lists = (
        (_("steps"), STEPS, view.steps),
        (_("tools"), TOOLS, view.tools),
        (_("methods"), METHODS, view.methods),
    )
    return site.page(
        FIND,
        "find.html",
        _("Find"),
        _("Search {site_name}: words, steps, parts, tools.", site_name=site.site_name),
        heading=_("Find how it was done"),
        intro=(
            _(
                "{entries} and all lists. Ask in your own words, or type a step, a part, a drill, a torque.",
                entries=say_count(len(entries), "entry", "entries"),
            )
        ),
        onward=(
            Link(text=_("all entries"), address=ENTRIES),
            *(Link(text=text, address=address) for text, address, there in lists if there),
        ),
        record=FindPage(version=version, filters=_filters(site, entries), examples=_examples(site, entries)),
    )


def _filters(site: SiteContext, entries: Sequence[Document]) -> tuple[Group, ...]:
    view = site.view
    named = {entry.assembly for entry in entries}
    assemblies = ((id_, one.title) for id_, one in view.assemblies.items() if id_ in named)
    steps = {step for entry in entries for step in entry.steps}
    by_assembly = (
        (assembly.title, [step for step in site.addresses.steps_of[assembly.id] if step in steps])
        for assembly in view.assemblies.values()
    )
    of_steps = tuple(
        Group(title=title, items=tuple(Link(text=f"{id_} {view.steps[id_].title}", address=id_) for id_ in ids))
        for title, ids in by_assembly
        if ids
    )
    people = dict.fromkeys(person for entry in entries for person in entry.people)
    years = sorted({entry.date.year for entry in entries if entry.date})
    filters = (
        _filter("assembly", _("Assembly"), _("any assembly"), assemblies),
        Group(title=_("Step"), anchor="step", words=_("any step"), items=of_steps),
        _filter("tool", _("Tool"), _("any tool"), _names(view.tools, (entry.tools for entry in entries))),
        _filter("method", _("Method"), _("any method"), _names(view.methods, (entry.methods for entry in entries))),
        _filter("person", _("Person"), _("anybody"), ((person, person) for person in people)),
        _filter("year", _("Year"), _("any year"), ((str(year), str(year)) for year in years)),
    )
    return tuple(one for one in filters if one.items)


def _filter(key: str, title: str, none: str, pairs: Iterable[tuple[str, str]]) -> Group:
    """A filter whose choices, (value, words), stand in one group."""
    choices = Group(items=tuple(Link(text=text, address=value) for value, text in pairs))
    return Group(title=title, anchor=key, words=none, items=(choices,) if choices.items else ())


def _names(forms: Mapping[str, str], used: Iterable[Sequence[str]]) -> Iterator[tuple[str, str]]:
    there = {name for names in used for name in names}
    return ((folded, form) for folded, form in sorted(forms.items()) if folded in there)


def _examples(site: SiteContext, entries: Sequence[Document]) -> tuple[Link, ...]:
    """Questions out of this very journal: its newest step and rivet, the tool used most."""
    examples: list[str] = []
    newest = list(reversed(entries))
    if step := next((entry.steps[-1] for entry in newest if entry.steps), None):
        examples.append(_("step {step}", step=step))
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
