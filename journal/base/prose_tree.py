"""Markdown read into a tree: one set of rules for the site and for the printed binder.

Raw HTML is text here: nothing that a builder pastes becomes markup anywhere.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from html import unescape
from typing import Any

import markdown
from markdown.extensions.toc import slugify_unicode

from journal.base.prose import COMMENT, find_images

EXTENSIONS = (
    *("tables", "fenced_code", "admonition", "footnotes", "sane_lists", "toc"),
    *("pymdownx.magiclink", "pymdownx.tilde"),
)
"""What bodies may hold beside plain Markdown (docs/format.md)."""

PICTURE_OPEN, PICTURE_CLOSE = "\ue0f0", "\ue0f1"
"""Private-use characters that stand around a picture's number while Markdown is read; a body that
holds them loses them.
"""

PICTURE = re.compile(f"{PICTURE_OPEN}(\\d+){PICTURE_CLOSE}")

_TASK = re.compile(r"\s*\[([ xX])\]\s+(?=\S)(.*)", re.DOTALL)
_STASHED = re.compile("\x02wzxhzdk:(\\d+)\x03")
_HIDDEN = re.compile("\x02amp\x03#(\\d{1,6});")
_ESCAPED = re.compile("\x02(\\d+)\x03")


def new_markdown() -> markdown.Markdown:
    """The Markdown machinery, set up; slow to make, so make one and use it for many bodies."""
    machine = markdown.Markdown(
        extensions=list(EXTENSIONS),
        extension_configs={
            "toc": {"slugify": slugify_unicode},
            # Footnotes stand at the end: where a text said otherwise, its paragraph would lose all other words.
            "footnotes": {"BACKLINK_TITLE": "Back to the text", "PLACE_MARKER": "\x02\x03"},
            "pymdownx.tilde": {"subscript": False},
        },
        output_format="html",
    )
    # Raw HTML is what a stranger's page could smuggle in, and what closes our tags: shown as text.
    machine.preprocessors.deregister("html_block")
    machine.inlinePatterns.deregister("html")
    # A bare address of a page is a link; one of a person is left as it stands.
    machine.inlinePatterns.deregister("magic-mail")
    keep_drills(machine)
    return machine


def keep_drills(machine: markdown.Markdown) -> None:
    """`#40 wandered` at the beginning of a line is of a drill, and no heading without its sign."""
    heading: Any = machine.parser.blockprocessors["hashheader"]
    heading.RE = re.compile(heading.RE.pattern.replace("#{1,6}", r"#{1,6}(?![#\d])", 1))


def parse_tree(machine: markdown.Markdown, source: str) -> ET.Element:
    """The element tree of `source`; stashed pieces stay with `machine` until its next use (`unstash`)."""
    machine.reset()
    # A text too deeply nested (RecursionError) leaves these in the middle of a list.
    machine.parser.state.clear()
    machine.parser.blockprocessors["admonition"].current_sibling = None  # type: ignore[attr-defined]
    lines = source.split("\n")
    for preprocessor in machine.preprocessors:
        lines = preprocessor.run(lines)
    tree = machine.parser.parseDocument(lines).getroot()
    assert tree is not None
    for treeprocessor in machine.treeprocessors:
        replaced = treeprocessor.run(tree)
        tree = tree if replaced is None else replaced
    _mark_tasks(tree)
    return tree


def _mark_tasks(tree: ET.Element) -> None:
    """`- [ ] …` and `- [x] …` as items of a list of tasks: a `span` of class `task` holds the bracket as written.

    The extension for it stashes raw HTML, which nothing of ours lets through.
    """
    for item in tree.iter("li"):
        holder = item[0] if len(item) and item[0].tag == "p" and not (item.text or "").strip() else item
        found = _TASK.match(holder.text or "")
        if found:
            done = found[1] != " "
            item.set("class", "task-list-item")
            sign = ET.Element("span", {"class": "task done" if done else "task"})
            sign.text, sign.tail = f"[{found[1]}]", " " + found[2]
            holder.text = ""
            holder.insert(0, sign)


def take_images(body: str) -> tuple[str, tuple[str, ...]]:
    """(`body` with comments cut and a numbered token for each picture of its folder, their names).

    A picture of another host becomes a link on its caption, or within a link its caption.
    """
    body = COMMENT.sub("", body).replace(PICTURE_OPEN, "").replace(PICTURE_CLOSE, "")
    names: list[str] = []
    text, position = "", 0
    for image in find_images(body):
        text += body[position : image.start]
        position = image.end
        if image.elsewhere:
            words = (image.caption or "picture").replace("[", "").replace("]", "")
            linked = re.search(r"\[[^\[\]]*$", text) and re.match(r"[^\[\]]*\]\(", body[position:])
            text += words if linked or re.search(r"[\s<>]", image.target) else f"[{words}](<{image.target}>)"
        else:
            text += f"{PICTURE_OPEN}{len(names)}{PICTURE_CLOSE}"
            names.append(image.target)
    return text + body[position:], tuple(names)


def stashed(machine: markdown.Markdown, text: str) -> str | None:
    """The raw piece that `text` alone stands for (a fenced code block as HTML), or None."""
    found = _STASHED.fullmatch(text.strip())
    return _raw(machine, found[1]) if found else None


def unstash(machine: markdown.Markdown, text: str) -> str:
    """`text` with character references, escaped characters and hidden addresses as they read."""
    if "\x02" not in text:
        return text
    text = _STASHED.sub(lambda found: unescape(_raw(machine, found[1])), text)
    # Mail addresses are hidden as character references (a habit of Markdown).
    text = _HIDDEN.sub(lambda found: chr(int(found[1])), text).replace("\x02amp\x03", "&")
    return _ESCAPED.sub(lambda found: chr(int(found[1])), text)


def _raw(machine: markdown.Markdown, number: str) -> str:
    blocks = machine.htmlStash.rawHtmlBlocks
    raw = blocks[int(number)] if int(number) < len(blocks) else ""
    return raw if isinstance(raw, str) else "".join(raw.itertext())
