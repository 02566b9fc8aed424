"""content/publishing.yml: what the builder lets pass the search before publishing, each with a reason."""

from __future__ import annotations

from pathlib import Path

from journal.base.problems import Problem
from journal.reading.form import Form
from journal.reading.text import Notes, read_text
from journal.reading.tree import Scalar, parse_yaml

PUBLISHING = "content/publishing.yml"


def read_allowances(root: Path) -> tuple[frozenset[str], tuple[Problem, ...]]:
    """(words that may be seen, problems). Without the file there are none; one without a reason is an error."""
    notes = Notes(PUBLISHING)
    text = read_text(root / PUBLISHING, notes) if (root / PUBLISHING).exists() else None
    if text is None:
        return frozenset(), tuple(notes.problems)
    allow = Form(parse_yaml(text, notes), notes, ("allow",)).fields_under("allow")
    pairs = allow.pairs if allow else ()
    for words, reason in pairs:
        if not (isinstance(reason, Scalar) and reason.text.strip()):
            hint = f'write `"{words.text}": why it may be seen`'
            notes.error(words.where, "no-reason", f'"{words.text}" is let pass without a reason', hint)
    return frozenset(words.text for words, _ in pairs), tuple(notes.problems)
