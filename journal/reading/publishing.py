"""content/publishing.yml: where the site is sent, and what may be seen on it. The program writes into it as well, and
leaves comments, order and whatever else stands there as they are.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from pathlib import Path

from journal.base.safe_write import write_whole
from journal.base.text_files import yaml_figure
from journal.reading.edits import BY_HAND, EditRefusedError, add_pair, read_as_it_is, set_value
from journal.reading.form import Form
from journal.reading.text import Notes, read_text
from journal.reading.tree import Scalar, parse_yaml

FILE = "content/publishing.yml"
TARGETS = ("folder", "git", "sftp")
_KEYS = (*TARGETS, "branch", "port", "host_key", "key")

Publishing = tuple[frozenset[str], Mapping[str, str]]
"""What passes the search before publishing, and the keys that name a target."""

NONE: Publishing = (frozenset(), {})

_RULE = re.compile(r"---[ \t]*\r?\n")


def read_publishing(path: Path, notes: Notes) -> Publishing:
    """`allow: {WORDS: reason}`, of which one without a reason is a finding and passes nothing, and one target with what
    belongs to it; of several the last is meant.
    """
    text = read_text(path, notes)
    return _parse(text, notes) if text is not None else NONE


def _parse(text: str, notes: Notes) -> Publishing:
    form = Form(parse_yaml(text, notes), notes, ("allow", *_KEYS))
    allow = form.fields_under("allow")
    let_pass = set()
    for words, reason in allow.pairs if allow else ():
        if isinstance(reason, Scalar) and reason.text.strip():
            let_pass.add(words.text)
        else:
            hint = f'write `"{words.text}": why it may be seen`'
            notes.finding(words.where, "no-reason", f'"{words.text}" has no reason and is not let pass', hint)
    form.parsed("port", parse_port, "bad-port", "a port", "write a number from 1 to 65535")
    told = {key: scalar.text for key in _KEYS if (scalar := form.scalar(key)) and scalar.text.strip()}
    meant = max((key for key in TARGETS if key in told), key=form.place, default="")
    return frozenset(let_pass), {key: value for key, value in told.items() if key == meant or key not in TARGETS}


def parse_port(text: str) -> int | None:
    """The number of a port."""
    return int(text) if re.fullmatch(r"[0-9]{1,5}", text) and 0 < int(text) < 65536 else None


def keep_target(root: Path, target: Mapping[str, str]) -> bool:
    """Write down where the site was sent, in the place of what was told before; whether anything was otherwise.
    Raises EditRefusedError, OSError.
    """

    def change(text: str) -> str:
        for key in _KEYS:
            text = set_value(text, key, yaml_figure(target[key]) if key in target else "")
        return text

    return _edit(root, change, lambda before, after: after == (before[0], target))


def keep_allowed(root: Path, words: str, reason: str) -> None:
    """Write down that `words` may be seen, and why. Raises EditRefusedError, OSError."""

    def change(text: str) -> str:
        return add_pair(text, "allow", words, yaml_figure(reason))

    _edit(root, change, lambda before, after: after == (before[0] | {words}, before[1]))


def _edit(root: Path, change: Callable[[str], str], holds: Callable[[Publishing, Publishing], bool]) -> bool:
    """Change the text of the file as if it were a front matter, and read it again before it is written."""
    path = root / FILE
    before = read_as_it_is(path, "it") if path.is_file() else ""
    newline = "\r\n" if "\r\n" in before else "\n"
    rule = f"---{newline}"
    head = found[0] if (found := _RULE.match(before)) else ""
    body = before.removeprefix(head)
    gap = newline if body and not body.endswith("\n") else ""
    after = head + change(f"{rule}{body}{gap}{rule}").removeprefix(rule).removesuffix(rule)
    was, now = (_parse(text.replace("\r\n", "\n"), Notes(FILE)) for text in (before, after))
    if not holds(was, now):
        raise EditRefusedError(f"it cannot be changed by itself; {BY_HAND}")
    if after == before:
        return False
    write_whole(path, after.encode())
    return True
