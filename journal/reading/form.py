"""Typing the text of a YAML mapping, key by key, with every mistake noted where it stands."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Mapping
from datetime import date
from decimal import Decimal, InvalidOperation
from enum import Enum
from typing import TypeVar

from journal.base.model import Where
from journal.base.problems import did_you_mean, nearest
from journal.reading.text import Notes
from journal.reading.tree import Fields, Items, Node, Scalar

E = TypeVar("E", bound=Enum)
T = TypeVar("T")

YES = frozenset({"true", "yes", "y", "on"})
NO = frozenset({"false", "no", "n", "off", ""})


def parse_date(text: str, where: Where, notes: Notes) -> date | None:
    """An ISO 8601 calendar date `2026-02-07`, or None with an error."""
    if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text):
        try:
            return date.fromisoformat(text)
        except ValueError:
            notes.error(where, "no-such-date", f'there is no day "{text}"', "look at the calendar")
            return None
    notes.error(where, "bad-date", f'"{text}" is not a date', "write year-month-day, like 2026-02-07")
    return None


def parse_flag(text: str, where: Where, notes: Notes) -> bool:
    """`true` or `false` in the words people use; anything else is an error and counts as false."""
    folded = text.strip().casefold()
    if folded in YES:
        return True
    if folded not in NO:
        notes.error(where, "bad-flag", f'"{text}" is neither true nor false', "write true or false")
    return False


class Form:
    """A mapping being read: known keys are taken by the getters, the rest is reported."""

    def __init__(self, fields: Fields, notes: Notes, known: Collection[str], what: str = "key") -> None:
        self.fields = fields
        self.notes = notes
        self.values: dict[str, Node] = {}
        for key, value in fields.pairs:
            if key.text not in known:
                notes.error(key.where, "unknown-key", f'unknown {what} "{key.text}"', did_you_mean(key.text, known))
            else:
                self.values[key.text] = value
        self.places: Mapping[str, Where] = {key.text: key.where for key, _ in fields.pairs}

    def inner_places(self, *keys: str) -> dict[str, Where]:
        """Places of the keys one level down, as `photos.IMG_1.jpg`, beside those of this mapping."""
        places = dict(self.places)
        for key in keys:
            inner = self.values.get(key)
            if isinstance(inner, Fields):
                places.update({f"{key}.{name.text}": name.where for name, _ in inner.pairs})
        return places

    def place(self, key: str) -> Where:
        """Where the key stands, or where the mapping begins."""
        return self.places.get(key, self.fields.where)

    def scalar(self, key: str) -> Scalar | None:
        """The single text under `key`, or None where it is missing, empty or (an error) not text."""
        node = self.values.get(key)
        if node is None:
            return None
        if not isinstance(node, Scalar):
            self.notes.error(node.where, "not-text", f'"{key}" takes one text', f"write `{key}: …` on one line")
            return None
        return node if node.text.strip() else None

    def text(self, key: str, default: str = "") -> str:
        """The text under `key`, trimmed."""
        scalar = self.scalar(key)
        return scalar.text.strip() if scalar else default

    def required(self, key: str) -> Scalar | None:
        """The text under `key`; its absence is an error."""
        with self.notes.watching() as watch:
            scalar = self.scalar(key)
        if scalar is None and not watch.failed and not self.fields.lost(key):
            where = self.places.get(key, self.fields.where)
            self.notes.error(where, "key-missing", f'"{key}" is missing', f"add `{key}: …`")
        return scalar

    def flag(self, key: str, *, default: bool = False) -> bool:
        """True or false under `key`."""
        scalar = self.scalar(key)
        return parse_flag(scalar.text, scalar.where, self.notes) if scalar else default

    def date(self, key: str) -> date | None:
        """The date under `key`."""
        scalar = self.scalar(key)
        return parse_date(scalar.text.strip(), scalar.where, self.notes) if scalar else None

    def decimal(self, key: str, least: Decimal, most: Decimal) -> Decimal | None:
        """The number under `key`, within bounds."""
        scalar = self.scalar(key)
        if scalar is None:
            return None
        try:
            number = Decimal(scalar.text.strip())
        except InvalidOperation:
            number = Decimal("NaN")
        if not number.is_finite() or not least <= number <= most:
            self.notes.error(scalar.where, "bad-number", f'"{scalar.text}" is not a number from {least} to {most}')
            return None
        return number

    def choice(self, key: str, kind: type[E], default: E | None = None) -> E | None:
        """One of the words of an enumeration under `key`."""
        scalar = self.scalar(key)
        return parse_choice(scalar, key, kind, self.notes) or default if scalar else default

    def texts(self, key: str) -> tuple[Scalar, ...]:
        """A list of texts under `key`; a single text is a list of one, an empty item an error."""
        node = self.values.get(key)
        if node is None or (isinstance(node, Scalar) and not node.text.strip()):
            return ()
        if isinstance(node, Scalar):
            return (node,)
        if isinstance(node, Fields):
            self.notes.error(node.where, "not-a-list", f'"{key}" takes a list', f"write `{key}: [one, two]`")
            return ()
        texts = []
        for item in node.nodes:
            if not isinstance(item, Scalar):
                self.notes.error(item.where, "not-text", f'an item of "{key}" is not plain text', "put it in quotes")
            elif not item.text.strip():
                if any(problem.line == item.where[0] for problem in self.notes.problems):
                    continue  # `- #40 drill`: what emptied it is told already
                self.notes.error(item.where, "empty-item", f'an item of "{key}" is empty', "write it, or take it out")
            else:
                texts.append(item)
        return tuple(texts)

    def fields_under(self, key: str) -> Fields | None:
        """The mapping under `key`."""
        node = self.values.get(key)
        if node is None or (isinstance(node, Scalar) and not node.text.strip()):
            return None
        if not isinstance(node, Fields):
            self.notes.error(
                node.where, "not-a-mapping", f'"{key}" takes lines of `name: value`', "indent them below it"
            )
            return None
        return node

    def rows(self, key: str) -> tuple[Fields, ...]:
        """A list of mappings under `key`; a single mapping is a list of one."""
        node = self.values.get(key)
        if node is None or (isinstance(node, Scalar) and not node.text.strip()):
            return ()
        nodes = node.nodes if isinstance(node, Items) else (node,)
        rows = []
        for item in nodes:
            if isinstance(item, Fields):
                rows.append(item)
            else:
                self.notes.error(
                    item.where,
                    "not-a-mapping",
                    f'"{key}" takes rows',
                    f"write `- {{name: value, …}}` below `{key}:`",
                )
        return tuple(rows)


def parse_choice(scalar: Scalar, key: str, kind: type[E], notes: Notes) -> E | None:
    """The member of `kind` whose value the text is (no case, single spaces), or None with an error."""
    folded = " ".join(scalar.text.casefold().split())
    for member in kind:
        if folded == member.value:
            return member
    words = [str(member.value) for member in kind]
    guess = nearest(scalar.text, words)
    notes.error(
        scalar.where,
        f"bad-{key.replace('_', '-')}",
        f'"{scalar.text}" is not a known {key.replace("_", " ")}',
        f'did you mean "{guess}"?' if guess else f"write one of: {', '.join(words)}",
    )
    return None


def known_id(scalar: Scalar, kind: str, known: Mapping[str, T] | None, notes: Notes) -> str | None:
    """The ID if it is known (or cannot be checked: `known` is None), else None with an error."""
    text = scalar.text.strip()
    if known is None or text in known:
        return text
    notes.error(scalar.where, f"unknown-{kind}", f'unknown {kind} "{text}"', did_you_mean(text, known))
    return None


def known_ids(scalars: Iterable[Scalar], kind: str, known: Mapping[str, T] | None, notes: Notes) -> tuple[str, ...]:
    """The IDs that are known, each once, in the order written."""
    found = (known_id(scalar, kind, known, notes) for scalar in scalars)
    return tuple(dict.fromkeys(one for one in found if one is not None))


def parsed(
    scalar: Scalar | None, parse: Callable[[str], T | None], word: str, what: str, example: str, notes: Notes
) -> T | None:
    """`parse` of the text; None from it becomes an error that says what is meant."""
    if scalar is None:
        return None
    value = parse(scalar.text.strip())
    if value is None:
        notes.error(scalar.where, word, f'"{scalar.text}" is not {what}', f"write it like {example}")
    return value
