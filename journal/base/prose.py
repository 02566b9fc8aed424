"""The body of an entry as text: where its photos stand, and what of it is code.

Positions are found here once; the reader (to check names) and the renderers (to place pictures)
use the same answers.
"""

from __future__ import annotations

import re
import unicodedata
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from urllib.parse import unquote

BODIES = 8192
"""How many bodies are remembered: reader, rules, checks and pages ask the same of each, and a preview again
after every save."""

_FENCE = re.compile(r"^[ \t]*(`{3,}|~{3,})")
_CODE_SPAN = re.compile(r"(?<!`)(`+)(?!`)(?:(?!\n[ \t]*\n).)+?(?<!`)\1(?!`)", re.DOTALL)
"""Within a paragraph, as Markdown has it: two stray marks pages apart are no code."""
COMMENT = re.compile(r"<!--.*?(?:-->|\Z)", re.DOTALL)


_UNSEEN = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\xad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180b-\u180f\u200b-\u200f\u202a-\u202e"
    "\u2060-\u206f\u3164\ufe00-\ufe0f\ufeff\uffa0\ufff9-\ufffb\U000e0000-\U000e0fff]+"
)
"""Control characters and what Unicode calls ignorable by default: nobody sees them, a search would stumble."""


def without_unseen(text: str) -> str:
    """`text` without characters that nobody sees; tabs and line ends stay."""
    return _UNSEEN.sub("", text)


def plain(text: str) -> str:
    """`text` without characters that nobody sees, each of the others in its usual form (Unicode NFKC)."""
    return without_unseen(text if text.isascii() else unicodedata.normalize("NFKC", text))


def without_accents(text: str) -> str:
    """`text` with its letters bare of accents and dots (Unicode NFKD without combining marks)."""
    if text.isascii():
        return text
    return "".join(one for one in unicodedata.normalize("NFKD", text) if not unicodedata.combining(one))


_NEVER_SAID = re.compile(r"</?[a-zA-Z][^<>\n]*>|\{:?[^{}\n]*\}|[a-zA-Z][a-zA-Z0-9+.-]*://[^\s<>]*|[^\s<>]+@[^\s<>]+")
"""Tags, attributes and addresses: Markdown and HTML write them differently."""
_BETWEEN_LETTERS = re.compile(r"[\W_]+")
_SIGNS = bytes(sign for sign in range(128) if not chr(sign).isalnum())
"""The same of ASCII, for which no pattern is needed."""


def block_anchor(words: str) -> str:
    """The id of a paragraph, list item or heading by its words (letters and figures alone, so that Markdown and HTML
    say the same): `said-1a2b3c4d`; empty where it holds none.
    """
    if "@" in words or "<" in words or "{" in words or "://" in words:  # few do, and to look for each takes long
        words = _NEVER_SAID.sub("", words)
    words = without_accents(words).casefold()
    bare = words.encode().translate(None, _SIGNS) if words.isascii() else _BETWEEN_LETTERS.sub("", words).encode()
    return f"said-{zlib.crc32(bare):08x}" if bare else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ImageReference:
    """`![caption](target)` in a body: `start` and `end` are offsets into the text, `line` and
    `column` count from 1 within it.
    """

    caption: str
    target: str
    start: int
    end: int
    line: int
    column: int

    @property
    def elsewhere(self) -> bool:
        """Whether the target is an address on another host rather than a file of the folder."""
        return is_elsewhere(self.target)


def is_elsewhere(target: str) -> bool:
    """Whether a link or picture in prose leads out of the build folder: it names a scheme or a host."""
    return bool(re.match(r"[a-zA-Z][a-zA-Z0-9+.-]*:|//", target))


@lru_cache(maxsize=BODIES)
def blank_code(body: str) -> str:
    """`body` with the insides of code blocks and code spans as spaces: same length, same lines."""
    if "`" not in body and "~~~" not in body:
        return body
    lines = body.split("\n")
    fence: str | None = None
    for number, line in enumerate(lines):
        mark = _FENCE.match(line)
        if fence or mark:
            lines[number] = " " * len(line)
        if fence is None:
            fence = mark[1] if mark else None
        elif mark and mark[1].startswith(fence):
            fence = None
    return _CODE_SPAN.sub(lambda m: re.sub(r"[^\n]", " ", m[0]), "\n".join(lines))


@lru_cache(maxsize=BODIES)
def find_images(body: str) -> tuple[ImageReference, ...]:
    """Every image of `body`, in order. Names with spaces and balanced brackets are understood,
    as phones write them: `![caption](IMG (1).jpg)`.
    """
    return tuple(_images(body))


def _images(body: str) -> Iterator[ImageReference]:
    text = blank_code(body)
    position = 0
    while (start := text.find("![", position)) >= 0:
        position = start + 2
        caption_end = _closing(text, start + 1, "[", "]")
        if caption_end is None or text[caption_end + 1 : caption_end + 2] != "(":
            continue
        end = _closing(text, caption_end + 1, "(", ")")
        if end is None:
            continue
        line = text.count("\n", 0, start)
        yield ImageReference(
            caption=" ".join(body[start + 2 : caption_end].split()),
            target=_target(body[caption_end + 2 : end]),
            start=start,
            end=end + 1,
            line=line + 1,
            column=start - text.rfind("\n", 0, start),
        )
        position = end + 1


def _closing(text: str, opening: int, open_char: str, close_char: str) -> int | None:
    """Offset of the bracket that closes the one at `opening`, within the same paragraph."""
    depth = 0
    for found in re.compile(rf"[\{open_char}\{close_char}]|\n(?=\n)").finditer(text, opening, opening + 4000):
        if found[0] == "\n":
            break
        depth += 1 if found[0] == open_char else -1
        if not depth:
            return found.start()
    return None


def _target(inside: str) -> str:
    inside = inside.strip()
    if titled := re.match(r"^(.*?)\s+[\"'].*[\"']$", inside, re.DOTALL):
        inside = titled[1]
    if inside.startswith("<") and inside.endswith(">"):
        inside = inside[1:-1]
    return unquote(inside).removeprefix("./")
