"""Text for the files a builder will edit: YAML that reads well and means what it says."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable, Mapping

# Plain only where no reader of YAML, ours or another's, could take it for anything but these letters.
_PLAIN = re.compile(r"[^\W\d_](?:[\w .()/&+'·-]*[\w.)'])?")
_NO_TEXT = frozenset({"Cc", "Cs", "Cn"})
_WORDS_OF_YAML = frozenset({"true", "false", "yes", "no", "on", "off", "y", "n", "null"})
_FIGURE = re.compile(r"[0-9]+(\.[0-9]+)*|[0-9]{4}-[0-9]{2}-[0-9]{2}|[0-9]{1,2}:[0-5][0-9](-[0-9]{1,2}:[0-5][0-9])?")
_RANGE = re.compile(r"[0-9]+(\.[0-9]+)* to [0-9]+(\.[0-9]+)*")
_NAME = re.compile(r"[\w][\w.()-]*(?: [\w.()-]+)*")


def one_line(text: str) -> str:
    """`text` with single spaces and without what no text file should hold: control characters, halves of
    surrogate pairs, code points that are none. What joins letters in many scripts stays.
    """
    return " ".join("".join(" " if unicodedata.category(char) in _NO_TEXT else char for char in text).split())


def printable_line(text: str, longest: int) -> str:
    """`text` on one line of printable characters, at most `longest` of them: for what a file says of itself, and for
    what is written into one.
    """
    if not text.isprintable():
        text = "".join(char if char.isprintable() else " " for char in text)
    return " ".join(text.split())[:longest].strip()


def yaml_text(text: str) -> str:
    """`text` on one line as a YAML scalar: plain where that is safe, else in double quotes."""
    text = one_line(text)
    if _PLAIN.fullmatch(text) and text.casefold() not in _WORDS_OF_YAML:
        return text
    return json.dumps(text, ensure_ascii=False)


def yaml_figure(text: str) -> str:
    """A step ID or range of them, a date or time, which our reader takes as text: plain where it looks like one."""
    return text if _FIGURE.fullmatch(text) or _RANGE.fullmatch(text) else yaml_text(text)


def yaml_key(name: str) -> str:
    """A file name or ID as a key. Unlike other text it may begin with a digit, and keeps every space."""
    if _NAME.fullmatch(name) and name.casefold() not in _WORDS_OF_YAML:
        return name
    return json.dumps(name, ensure_ascii=False)


def yaml_list(items: Iterable[str]) -> str:
    """`[one, two]`."""
    return "[" + ", ".join(yaml_figure(item) for item in items) + "]"


def yaml_row(pairs: Mapping[str, str]) -> str:
    """`{name: Ada, role: builder}`; pairs without a value are left out. Values are quoted here."""
    return "{" + ", ".join(f"{key}: {yaml_text(value)}" for key, value in pairs.items() if value) + "}"
