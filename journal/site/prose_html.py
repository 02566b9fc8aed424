"""Bodies of entries and pages as HTML: Markdown with figures, checked links and explained terms.

Raw HTML is shown as text. Pictures become figures, pictures of other hosts become links: no page
asks anything of another host. What comes out is safe to place in a page as it is.
"""

from __future__ import annotations

import re
import unicodedata
import xml.etree.ElementTree as ET
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from html import unescape
from typing import Any

from journal.base.model import Term
from journal.base.prose import block_anchor, is_elsewhere
from journal.base.prose_tree import (
    PICTURE,
    PICTURE_CLOSE,
    PICTURE_OPEN,
    new_markdown,
    parse_tree,
    stashed,
    take_images,
    unstash,
)
from journal.base.words import _
from journal.view.page_links import Linker, is_kept_elsewhere, resolve
from journal.view.shown_pictures import PictureBox
from journal.view.terms import TermMarker

_STASH = re.compile("\x02[^\x03]*\x03")
_SPACE = re.compile(r"\s+")
_IDS = re.compile(r' id="[^"]*"')
_HEADINGS = ("h1", "h2", "h3", "h4", "h5", "h6")
_HEADING_TAG = re.compile(r"<(/?)h[2-6]>")
_HOLDS_BLOCKS = frozenset({"div", "li", "td", "th", "blockquote"})
_BLOCKS = frozenset({"p", "li", "tr", "pre", *_HEADINGS})
"""What says something of its own, and can be led to."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prose:
    """A body rendered. `text` is its words alone; `lead` the first paragraph's words, for cards
    and descriptions; `terms` the trade words it uses; `placed` the names of photos shown in it.
    `passages` is the text in HTML by top-level block without pictures, ids and tips, for pages
    that quote it, each with the number of its characters.
    """

    html: str
    text: str
    lead: str
    terms: tuple[Term, ...]
    placed: frozenset[str]
    passages: tuple[tuple[str, int], ...]


EMPTY = Prose(html="", text="", lead="", terms=(), placed=frozenset(), passages=())


@dataclass(frozen=True, slots=True, kw_only=True)
class ProseRules:
    """What, beside a body itself, decides how it comes out: what prose may link to, the trade words by headword, and
    for which kind of site it is, and the languages of interface and texts.
    """

    addresses: Mapping[str, str]
    terms: Mapping[str, Term]
    offline: bool
    everything: bool
    spoken: tuple[str, str]


KeptBodies = Callable[[ProseRules, tuple[object, ...], Callable[[], Prose]], Prose]
"""What comes of the facts given under these rules: kept from an earlier build, or else rendered by the call given."""


def prose_as_json(prose: Prose) -> list[Any]:
    """`prose` for a cache; terms go by their headwords."""
    names = [term.name for term in prose.terms]
    return [prose.html, prose.text, prose.lead, names, sorted(prose.placed), [list(one) for one in prose.passages]]


def prose_from_json(row: list[Any], terms: Mapping[str, Term]) -> Prose:
    """The prose that `prose_as_json` wrote down; `terms` are the terms by headword."""
    html, text, lead, names, placed, passages = row
    return Prose(
        html=html,
        text=text,
        lead=lead,
        terms=tuple([terms[name] for name in names]),
        placed=frozenset(placed),
        passages=tuple([(passage, int(length)) for passage, length in passages]),
    )


class ProseRenderer:
    """Renders bodies one after another (the Markdown machinery is set up once: it is slow to make).

    `figure` turns a picture into the HTML of its figure for one page, told whether it stands there
    for the first time, and whether it is the first of all (then it is fetched at once);
    `addresses` is what prose may link to.
    """

    def __init__(
        self,
        *,
        addresses: Mapping[str, str],
        figure: Callable[[PictureBox, Linker, bool, bool], str],
        marker: TermMarker,
        term_address: Callable[[Term], str],
    ) -> None:
        self._addresses = addresses
        self._figure = figure
        self._marker = marker
        self._term_address = term_address
        self._markdown = new_markdown()

    def render(
        self,
        body: str,
        *,
        src_uri: str,
        title: str,
        linker: Linker,
        boxes: Mapping[str, PictureBox],
        explain: bool = True,
        anchored: bool = True,
    ) -> Prose:
        """`body` for the page that `linker` belongs to; `boxes` are the photos that it may place, by name.

        `explain` puts the tips of terms in, and gives each block the id that finding leads to; a feed has no use for
        either. `anchored` gives pictures the ids that they have on the page of their own entry.
        """
        if not body.strip():
            return EMPTY
        source, targets = take_images(body)
        names = [_meant(target, boxes) for target in targets]
        # A name that no photo has is the reader's error; a private photo is simply not here.
        source = PICTURE.sub(lambda found: found[0] if names[int(found[1])] in boxes else "", source)
        tree = parse_tree(self._markdown, source)
        self._drop_title(tree, title)
        _level_headings(tree)
        self._mend(tree, src_uri, linker)
        blocks = [(child, self._words(child)) for child in tree]
        passages = tuple(
            (_as_passage(self._serialize(child, {})), len(words))
            for child, words in blocks
            if words and child.get("class") != "footnote"
        )
        lead = next((words for child, words in blocks if child.tag == "p" and words), "")
        text = " ".join(words for _, words in blocks if words)
        self._lift_figures(tree)
        terms: tuple[Term, ...] = ()
        if explain:
            self._anchor_blocks(tree)
            terms = self._marker.mark(tree, lambda term: linker.to(self._term_address(term)))
        # A picture shown twice has its id once.
        figures = {
            number: self._figure(boxes[name], linker, anchored and name not in names[:number], anchored and not number)
            for number, name in enumerate(names)
            if name in boxes
        }
        html = self._serialize(tree, figures)
        self._markdown.reset()
        return Prose(
            html=html,
            text=text,
            lead=lead,
            terms=terms,
            placed=frozenset(name for name in names if name in boxes),
            passages=passages,
        )

    def _serialize(self, element: ET.Element, figures: Mapping[int, str]) -> str:
        output = self._markdown.serializer(element)
        if element.tag == self._markdown.doc_tag:
            output = output[output.index(">") + 1 : output.rindex("<")]
        for postprocessor in self._markdown.postprocessors:
            output = postprocessor.run(output)
        return PICTURE.sub(lambda found: figures.get(int(found[1]), ""), output).strip()

    def _anchor_blocks(self, tree: ET.Element) -> None:
        """Each block of `tree` with the id by its words; of several alike the first has it. A heading keeps the id
        that it has, and holds the other.
        """
        taken: set[str] = set()
        blocks = [(parent, child) for parent in tree.iter() for child in parent if child.tag in _BLOCKS]
        for parent, block in blocks:
            code = stashed(self._markdown, block.text or "")
            anchor = block_anchor(PICTURE.sub(" ", self._own_words(block)))
            if not anchor or anchor in taken:
                continue
            taken.add(anchor)
            if code:
                # What is stashed takes the place of its whole paragraph.
                holder = ET.Element("div", {"id": anchor})
                parent[list(parent).index(block)] = holder
                holder.append(block)
                holder.tail, block.tail = block.tail, None
            elif "id" in block.attrib:
                mark = ET.Element("span", {"id": anchor})
                mark.tail, block.text = block.text, None
                block.insert(0, mark)
            else:
                block.set("id", anchor)

    def _drop_title(self, tree: ET.Element, title: str) -> None:
        """The first heading is often the title, which the page already carries."""
        if len(tree) and tree[0].tag in ("h1", "h2") and self._words(tree[0]).casefold() == title.casefold():
            tree.remove(tree[0])

    def _lift_figures(self, tree: ET.Element) -> None:
        """A figure may not stand inside a paragraph: tokens move out, behind the block that held them.

        A paragraph of pictures alone becomes a strip of figures in its place.
        """
        for parent in list(tree.iter()):
            for place, child in reversed(list(enumerate(parent))):
                if any(nested.tag in _HOLDS_BLOCKS for nested in child.iter()):
                    continue
                tokens = [number for text in child.itertext() for number in PICTURE.findall(text)]
                if not tokens:
                    continue
                alone = not self._words(child)
                _strip_tokens(child)
                strip = ET.Element("div", {"class": "figures" if len(tokens) > 1 else "figures one"})
                strip.text = "".join(f"{PICTURE_OPEN}{number}{PICTURE_CLOSE}" for number in tokens)
                strip.tail = child.tail
                child.tail = "\n"
                parent.insert(place + 1, strip)
                if alone:
                    parent.remove(child)

    def _own_words(self, element: ET.Element, *, whole: bool = False) -> str:
        """The words of a block without those of the blocks within, unless it is asked for as a `whole`; a footnote's
        number is none of them.
        """
        fenced = whole and stashed(self._markdown, element.text or "")
        words = "" if fenced else unstash(self._markdown, element.text or "")
        if element.tag == "code":
            words = unescape(words)
        for child in element:
            if (whole or child.tag not in _BLOCKS) and not child.get("id", "").startswith("fnref"):
                words += self._own_words(child, whole=whole)
            words += unstash(self._markdown, child.tail or "")
        return words

    def _words(self, element: ET.Element) -> str:
        """All that an element says to a reader, on one line, but for what stands in a fence of code."""
        said = _STASH.sub(" ", self._own_words(element, whole=True))  # the way back from a footnote
        return _SPACE.sub(" ", PICTURE.sub(" ", said)).strip()

    def _mend(self, tree: ET.Element, src_uri: str, linker: Linker) -> None:
        """Links resolved, leftover pictures of other hosts as their words."""
        for element in tree.iter():
            if element.tag == "a":
                self._mend_link(element, src_uri, linker)
            elif element.tag == "img":
                words = element.get("alt") or _("picture")
                element.tag, element.attrib, element.text = "span", {}, words
            elif element.tag in ("td", "th") and "style" in element.attrib:
                # A strict content policy forbids inline styles; the alignment is told by a class.
                element.set("class", "at-" + element.attrib.pop("style").rpartition(":")[2].strip(" ;"))
            elif element.tag == "table":
                element.set("class", "prose-table")

    def _mend_link(self, link: ET.Element, src_uri: str, linker: Linker) -> None:
        # Mail addresses come as stashed character references (a habit of Markdown to hide them).
        target = unstash(self._markdown, link.get("href", ""))
        if target.startswith("#"):
            return
        if is_elsewhere(target):
            if is_kept_elsewhere(target):
                link.set("rel", "noopener")
                return
        elif address := resolve(target, src_uri, self._addresses):
            link.set("href", linker.to(address))
            return
        link.tag = "span"
        link.attrib = {}


def _meant(target: str, names: Collection[str]) -> str:
    """The photo that is meant, as the reader finds it: by its very name, else by the same name in
    another Unicode form.
    """
    if target in names:
        return target
    form = unicodedata.normalize("NFC", target)
    alike = [name for name in names if unicodedata.normalize("NFC", name) == form]
    return alike[0] if len(alike) == 1 else target


def _level_headings(tree: ET.Element) -> None:
    """Headings start at the second level, under the page's title, and none skips a level on the way down."""
    headings = [element for element in tree.iter() if element.tag in _HEADINGS]
    if not headings:
        return
    levels = [_HEADINGS.index(heading.tag) for heading in headings]
    highest = min(levels)
    before = 0
    for heading, level in zip(headings, levels, strict=True):
        before = min(level - highest + 1, before + 1, len(_HEADINGS) - 1)
        heading.tag = _HEADINGS[before]


def _as_passage(html: str) -> str:
    """A block for a page that quotes it: no IDs that could meet others, headings as bold lines."""
    return _HEADING_TAG.sub(lambda found: f"<{found[1]}p>" if found[1] else '<p class="subhead">', _IDS.sub("", html))


def _strip_tokens(element: ET.Element) -> None:
    for part in element.iter():
        part.text = PICTURE.sub("", part.text) if part.text else part.text
        if part is not element and part.tail:
            part.tail = PICTURE.sub("", part.tail)
