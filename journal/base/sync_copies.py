"""Copies that a synchronising program leaves beside a file that two people wrote at once."""

from __future__ import annotations

import re
from collections.abc import Collection

# Names as such programs make them; common practice, no source.
_SAYS_SO = re.compile(
    r"(.+?)(?: *[(\[](?:[^)\]]*\bconflicted\b|(?=[^)\]]*[ck]op(?:y|i[ae]))[^)\]]*[ck]onfli[ck]?t)[^)\]]*[)\]].*"
    r"|[._](?:sync-)?conflict-[0-9]{8}-[0-9]{6}.*)",
    re.IGNORECASE,
)
_NUMBERED = re.compile(
    r"(.+?)(?: ?\([0-9]{1,2}\)|(?: -)? copy(?: \(?[0-9]{1,2}\)?)?|-(?-i:DESKTOP|LAPTOP|WIN)-\w+)", re.IGNORECASE
)
_BY_MACHINE = re.compile(r"(.+?)(?:-[\w-]*[A-Z][\w-]*| [2-9])")
_TEXTS = frozenset({"md", "markdown", "yml", "yaml", "csv", "json", "jsonl", "svg"})
_OF_ONE_NAME = frozenset({"index", "build", "steps", "seals", "head", "callouts", "inventory", "records", "tasks"})
"""Names that the program gives: what stands behind one of them with a hyphen is no part of a name of one's own."""


def copy_of(name: str, names: Collection[str]) -> str | None:
    """The name of what `name` is a copy of; None for any other. `names` are all that lie in its folder.

    `index (conflicted copy 2026-11-27).md` is one wherever it lies; `index (1).md`, a text, only beside `index.md`, and
    `index-DESKTOP-4F.md` only beside one of the names that every build has.
    """
    stem, dot, ending = name.rpartition(".")
    if "onfli" in name.casefold() and (said := _SAYS_SO.fullmatch(stem or name)):
        return f"{said[1]}{dot}{ending}" if stem else said[1]
    for form in (_NUMBERED, _BY_MACHINE) if ending.casefold() in _TEXTS else ():
        like = form.fullmatch(stem)
        if like and f"{like[1]}.{ending}" in names and (form is _NUMBERED or like[1] in _OF_ONE_NAME):
            return f"{like[1]}.{ending}"
    return None
