"""Bodies as plain nodes for the binder: the Markdown tree as lists and dicts that hold text, never markup.

Blocks: `{"k": "p", "c": [inline]}`, `h` (with `level`: from 1, none skipped), `ul` and `ol` (`items`: lists of blocks,
`start`), `quote` (`b`: blocks), `pre` (`text`), `note` (`kind`, `title`, `b`), `table` (`align`, `head`, `rows`),
`rule`, `pictures` (`names`). Inlines: `{"t": text}`, `{"k": "em" | "strong" | "code" | "br" | "sup" | "del"}`,
`a` (with `to`),
`fn` (with `id`; the first use carries the note's blocks in `b`).
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterator, Mapping
from html import unescape
from itertools import dropwhile
from typing import Any

from markdown import Markdown

from journal.base.prose_tree import PICTURE, parse_tree, stashed, take_images, unstash

Node = dict[str, Any]
Resolve = Callable[[str], Mapping[str, Any] | None]
"""What a link's target leads to in the binder (`{"url": …}` or `{"label": …}`), or None: words alone."""

_SPACE = re.compile(r"\s+")
_BACKLINK_SPACE = re.compile("\x02qq\\d+zz\x03")
_PRE = re.compile(r"<pre\b[^>]*>\s*(?:<code\b[^>]*>)?(.*?)(?:</code>)?\s*</pre>", re.DOTALL)
_INLINE = frozenset({"em", "strong", "code", "a", "br", "img", "span", "sup", "sub", "del", "abbr"})
_DEEPEST = 8
"""Blocks nested more deeply are shown at this depth: the page is no wider, and recursion ends."""


def body_nodes(machine: Markdown, body: str, *, title: str, resolve: Resolve) -> list[Node]:
    """The blocks of `body`; a first heading that repeats `title` is left out. `machine` comes from `new_markdown`."""
    source, names = take_images(body)
    try:
        tree = parse_tree(machine, source)
        found = _Reading(machine, names, resolve).blocks(tree, 0)
    except RecursionError:  # quotes in quotes without end: what was written is still shown
        return [{"k": "pre", "text": body}]
    if found and found[0]["k"] == "h" and plain_words(found[0]["c"]).casefold() == title.casefold():
        found = found[1:]
    open_levels: list[int] = []
    for heading in _headings(found):
        while open_levels and open_levels[-1] >= heading["level"]:
            open_levels.pop()
        open_levels.append(heading["level"])
        heading["level"] = len(open_levels)
    return found


def _headings(nodes: list[Node]) -> Iterator[Node]:
    """Every heading, however deep it stands, in the order of the text."""
    for node in nodes:
        if node.get("k") == "h":
            yield node
        for inner in (node.get("b", []), *node.get("items", [])):
            yield from _headings(inner)


class _Reading:
    """One body being turned: which pictures wait to be placed, which notes were told."""

    def __init__(self, machine: Markdown, names: tuple[str, ...], resolve: Resolve) -> None:
        self._machine = machine
        self._names = names
        self._resolve = resolve
        self._notes: dict[str, ET.Element] = {}
        self._told: set[str] = set()
        self._waiting: list[str] = []

    def blocks(self, parent: ET.Element, depth: int) -> list[Node]:
        """The blocks inside `parent`; loose text becomes a paragraph, pictures stand behind their block."""
        if depth == 0:
            self._notes = {
                item.get("id", ""): item
                for div in parent.iter("div")
                if div.get("class") == "footnote"
                for item in div.iter("li")
            }
        found: list[Node] = []
        loose: list[Node] = self._of_text(parent.text)
        for child in parent:
            if child.tag in _INLINE:
                loose += self._inline(child, depth)
            else:
                self._settle(found, loose)
                loose = []
                for block in self._block(child, depth):
                    self._add(found, block)
                self._place_waiting(found)
            loose += self._of_text(child.tail)
        self._settle(found, loose)
        return found

    def _settle(self, found: list[Node], inlines: list[Node]) -> None:
        inlines = _trimmed(inlines)
        if inlines:
            found.append({"k": "p", "c": inlines})
        self._place_waiting(found)

    def _place_waiting(self, found: list[Node]) -> None:
        if self._waiting:
            self._add(found, {"k": "pictures", "names": self._waiting})
            self._waiting = []

    @staticmethod
    def _add(found: list[Node], block: Node) -> None:
        if block["k"] == "pictures" and found and found[-1]["k"] == "pictures":
            found[-1] = {"k": "pictures", "names": [*found[-1]["names"], *block["names"]]}
        else:
            found.append(block)

    def _block(self, element: ET.Element, depth: int) -> Iterator[Node]:
        tag = element.tag
        if depth >= _DEEPEST and tag in ("ul", "ol", "blockquote", "div", "table"):
            if words := _trimmed(self._of_text(" ".join(element.itertext()))):
                yield {"k": "p", "c": words}
        elif tag == "p" and not len(element) and (code := self._code_block(element.text or "")) is not None:
            yield {"k": "pre", "text": code}
        elif tag == "p" or re.fullmatch("h[1-6]", tag):
            if inlines := _trimmed(self._inlines(element, depth)):
                yield {"k": "p", "c": inlines} if tag == "p" else {"k": "h", "level": int(tag[1]), "c": inlines}
        elif tag in ("ul", "ol"):
            items = [self.blocks(item, depth + 1) for item in element if item.tag == "li"]
            yield {"k": tag, "items": items, "start": _number(element.get("start"))}
        elif tag == "blockquote":
            yield {"k": "quote", "b": self.blocks(element, depth + 1)}
        elif tag == "pre":
            yield {"k": "pre", "text": unescape("".join(element.itertext())).rstrip("\n")}
        elif tag == "hr":
            yield {"k": "rule"}
        elif tag == "table":
            yield self._table(element, depth)
        elif tag == "div" and "admonition" in element.get("class", "").split():
            yield self._note(element, depth)
        elif tag == "div" and element.get("class") == "footnote":
            return
        else:
            yield from self.blocks(element, depth + 1)

    def _note(self, element: ET.Element, depth: int) -> Node:
        kinds = [word for word in element.get("class", "").split() if word != "admonition"]
        title: list[Node] = []
        inner = ET.Element("div")
        for child in element:
            if child.get("class") == "admonition-title":
                title = _trimmed(self._inlines(child, depth))
            else:
                inner.append(child)
        return {"k": "note", "kind": kinds[0] if kinds else "note", "title": title, "b": self.blocks(inner, depth + 1)}

    def _table(self, element: ET.Element, depth: int) -> Node:
        head = [cell for row in element.iterfind("thead/tr") for cell in row]
        rows = [list(row) for row in element.iterfind("tbody/tr")]
        return {
            "k": "table",
            "align": [cell.get("style", "").rpartition(":")[2].strip(" ;") or "left" for cell in head],
            "head": [_trimmed(self._inlines(cell, depth)) for cell in head],
            "rows": [[_trimmed(self._inlines(cell, depth)) for cell in row] for row in rows],
        }

    def _inlines(self, element: ET.Element, depth: int) -> list[Node]:
        found = self._of_text(element.text)
        for child in element:
            found += self._inline(child, depth)
            found += self._of_text(child.tail)
        return found

    def _of_text(self, raw: str | None) -> list[Node]:
        """The words of a piece of text; pictures in it wait for the end of their block."""
        text = self._words(raw)
        self._waiting += [self._names[int(number)] for number in PICTURE.findall(text)]
        words = _SPACE.sub(" ", PICTURE.sub("", text))
        return [{"t": words}] if words else []

    def _words(self, raw: str | None) -> str:
        """Text as it reads, spaces and line ends as one space each."""
        return _SPACE.sub(" ", unstash(self._machine, _BACKLINK_SPACE.sub("", raw or "")))

    def _code_block(self, text: str) -> str | None:
        """The content of a fenced block that `text` alone stands for."""
        raw = stashed(self._machine, text)
        found = _PRE.fullmatch(raw.strip()) if raw else None
        return unescape(found[1]).rstrip("\n") if found else None

    def _inline(self, element: ET.Element, depth: int) -> list[Node]:
        tag = element.tag
        if tag == "br":
            return [{"k": "br"}]
        if tag == "img":
            return self._of_text(element.get("alt") or "picture")
        if tag == "code":
            return [{"k": "code", "c": [{"t": unescape(unstash(self._machine, "".join(element.itertext())))}]}]
        if tag == "a":
            return self._link(element, depth)
        if tag == "sup" and len(element) == 1 and element[0].get("class") == "footnote-ref":
            return self._footnote(element[0].get("href", "").removeprefix("#"), depth)
        inner = self._inlines(element, depth)
        return [{"k": tag, "c": inner}] if tag in ("em", "strong", "sup", "sub", "del") else inner

    def _link(self, element: ET.Element, depth: int) -> list[Node]:
        if element.get("class") == "footnote-backref":
            return []
        inner = self._inlines(element, depth)
        to = self._resolve(self._words(element.get("href")))
        return [{"k": "a", "to": dict(to), "c": inner}] if to and inner else inner

    def _footnote(self, name: str, depth: int) -> list[Node]:
        if name not in self._notes:
            return []
        if name in self._told:
            return [{"k": "fn", "id": name}]
        self._told.add(name)
        waiting, self._waiting = self._waiting, []
        blocks = self.blocks(self._notes[name], max(depth, 0) + 1)
        self._waiting = waiting
        return [{"k": "fn", "id": name, "b": blocks}]


def plain_words(inlines: list[Node]) -> str:
    """The words of inlines without their dress."""
    return "".join(node["t"] if "t" in node else plain_words(node.get("c", [])) for node in inlines).strip()


def _trimmed(inlines: list[Node]) -> list[Node]:
    """Without space at either end, and nothing where there are no words and no notes."""
    kept = list(dropwhile(lambda node: not node.get("t", "x").strip(), inlines))
    while kept and (kept[-1].get("k") == "br" or not kept[-1].get("t", "x").strip()):
        kept.pop()
    if kept and "t" in kept[0]:
        kept[0] = {"t": kept[0]["t"].lstrip()}
    if kept and "t" in kept[-1]:
        kept[-1] = {"t": kept[-1]["t"].rstrip()}
    return kept


def _number(text: str | None) -> int:
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 7 else 1
