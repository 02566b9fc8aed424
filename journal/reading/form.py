"""Typing the text of a YAML mapping, key by key, with every mistake noted where it stands."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from enum import Enum
from typing import TypeVar
from zoneinfo import ZoneInfo

from journal.base.model import Step, Where
from journal.base.problems import did_you_mean, nearest
from journal.reading.text import Notes
from journal.reading.tree import Fields, Items, Node, Scalar

E = TypeVar("E", bound=Enum)
T = TypeVar("T")

YES = frozenset({"true", "yes", "y", "on"})
NO = frozenset({"false", "no", "n", "off", ""})


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownIds:
    """What IDs are held against: `lists` by kind (`person`, `step` …), None for a list that could not be read in
    full, for then one slip would be told a hundred times (`closing` takes out what is left).

    `steps` are those of steps.csv that could be read, in its order; `damaged` are IDs whose row had an
    error (told once, there). `builders` worked, and `place` is where, if an entry does not say.
    """

    lists: Mapping[str, Mapping[str, object] | None]
    steps: Mapping[str, Step]
    damaged: frozenset[str]
    builders: tuple[str, ...] = ()
    place: str | None = None
    zone: ZoneInfo | None = None

    def id(self, scalar: Scalar, kind: str, notes: Notes) -> str | None:
        """The ID if it is known (or cannot be checked), else None with an error."""
        text, known = scalar.text.strip(), self.lists[kind]
        if known is None or text in known:
            return text
        notes.error(scalar.where, f"unknown-{kind}", f'unknown {kind} "{text}"', did_you_mean(text, known))
        return None

    def ids(self, scalars: Iterable[Scalar], kind: str, notes: Notes) -> tuple[str, ...]:
        """The IDs that are known, each once, in the order written."""
        found = (self.id(scalar, kind, notes) for scalar in scalars)
        return tuple(dict.fromkeys(one for one in found if one is not None))

    def step_ids(self, scalars: Iterable[Scalar], notes: Notes) -> tuple[str, ...]:
        """Step IDs from IDs and ranges `5.3 to 5.6` in the order of steps.csv, each once, as written."""
        found: list[str] = []
        for scalar in scalars:
            # `5.3, 5.4` written as one text is two IDs, unless a step goes by that very name.
            whole = scalar.text.strip()
            for text in [whole] if whole in self.steps else filter(None, map(str.strip, whole.split(","))):
                match = None if text in self.steps else _RANGE.fullmatch(text)
                ends = [end.strip() for end in match.groups()] if match else [text]
                if self.damaged.intersection(ends):
                    continue
                for end in ends:
                    self.id(Scalar(text=end, where=scalar.where), "step", notes)
                if all(end in self.steps for end in ends):
                    found += self._range(ends[0], ends[1], text, scalar.where, notes) if match else ends
        return tuple(dict.fromkeys(found))

    def _range(self, first: str, last: str, text: str, where: Where, notes: Notes) -> list[str]:
        order = list(self.steps)
        start, stop = order.index(first), order.index(last)
        if stop < start:
            said = f'"{text}" runs backwards in the order of steps.csv'
            notes.error(where, "range-backwards", said, f"write {last} to {first}")
        return order[start : stop + 1]


_RANGE = re.compile(r"(.+?)\s+(?:to|–|—)\s+(.+)", re.IGNORECASE)


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


class Form:
    """A mapping being read: the keys `allowed` are taken by the getters, the rest is reported."""

    def __init__(self, fields: Fields, notes: Notes, allowed: Collection[str], known: KnownIds | None = None) -> None:
        self.fields = fields
        self.notes = notes
        self._known = known
        self.values: dict[str, Node] = {}
        for key, value in fields.pairs:
            if key.text not in allowed:
                notes.error(key.where, "unknown-key", f'unknown key "{key.text}"', did_you_mean(key.text, allowed))
            else:
                self.values[key.text] = value
        self.places: Mapping[str, Where] = {key.text: key.where for key, _ in fields.pairs}

    @property
    def known(self) -> KnownIds:
        """What the IDs of this form are held against."""
        assert self._known is not None, "a form without IDs"
        return self._known

    def inner(self, fields: Fields, *allowed: str) -> Form:
        """The form of a mapping inside this one."""
        return Form(fields, self.notes, allowed, self._known)

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

    def value(self, key: str) -> Node | None:
        """What stands under `key`, or None where that is nothing or an empty text."""
        node = self.values.get(key)
        return None if isinstance(node, Scalar) and not node.text.strip() else node

    def lacks(self, key: str, hint: str) -> None:
        """Note that `key` is missing, but for a key that is there and could not be read: that is told already."""
        if not self.fields.lost(key):
            self.notes.error(self.place(key), "key-missing", f'"{key}" is missing', hint)

    def scalar(self, key: str) -> Scalar | None:
        """The single text under `key`, or None where it is missing, empty or (an error) not text."""
        node = self.value(key)
        if node is None or isinstance(node, Scalar):
            return node
        self.notes.error(node.where, "not-text", f'"{key}" takes one text', f"write `{key}: …` on one line")
        return None

    def text(self, key: str, default: str = "") -> str:
        """The text under `key`, trimmed."""
        scalar = self.scalar(key)
        return scalar.text.strip() if scalar else default

    def required(self, key: str) -> Scalar | None:
        """The text under `key`; its absence is an error."""
        if self.value(key) is None:
            self.lacks(key, f"add `{key}: …`")
        return self.scalar(key)

    def flag(self, key: str, *, default: bool = False) -> bool:
        """True or false under `key`, in the words people use; anything else is an error and counts as false."""
        scalar = self.scalar(key)
        if scalar is None:
            return default
        folded = scalar.text.strip().casefold()
        if folded not in YES | NO:
            said = f'"{scalar.text}" is neither true nor false'
            self.notes.error(scalar.where, "bad-flag", said, "write true or false")
        return folded in YES

    def held_back(self, key: str) -> bool:
        """Whether `private` or `draft` is said: anything but a clear no keeps back, and is an error where it is no
        clear yes either.
        """
        if key not in self.places:
            return False
        node = self.values.get(key)
        if isinstance(node, Scalar) and node.text.strip() and node.text.strip().casefold() in YES | NO:
            return node.text.strip().casefold() in YES
        said = f'"{key}" says neither true nor false; until it does, this is kept from the site'
        where = node.where if isinstance(node, Scalar) and node.text.strip() else self.place(key)
        self.notes.error(where, "bad-flag", said, f"write `{key}: true` or `{key}: false`")
        return True

    def date(self, key: str) -> date | None:
        """The date under `key`."""
        scalar = self.scalar(key)
        return parse_date(scalar.text.strip(), scalar.where, self.notes) if scalar else None

    def id(self, key: str, kind: str) -> str | None:
        """The known ID under `key`."""
        scalar = self.scalar(key)
        return self.known.id(scalar, kind, self.notes) if scalar else None

    def ids(self, key: str, kind: str) -> tuple[str, ...]:
        """The known IDs under `key`."""
        return self.known.ids(self.texts(key), kind, self.notes)

    def steps(self, key: str) -> tuple[str, ...]:
        """The known steps under `key`, IDs and ranges."""
        return self.known.step_ids(self.texts(key), self.notes)

    def parsed(self, key: str, parse: Callable[[str], T | None], word: str, what: str, hint: str) -> T | None:
        """`parse` of the text under `key`; None where there is none, None with an error where it cannot be read."""
        scalar = self.scalar(key)
        value = parse(scalar.text.strip()) if scalar else None
        if scalar and value is None:
            self.notes.error(scalar.where, word, f'"{scalar.text}" is not {what}', hint)
        return value

    def choice(self, key: str, kind: type[E]) -> E | None:
        """The member of `kind` whose value stands under `key` (no case, single spaces), or None, with an error
        for another word.
        """
        scalar = self.scalar(key)
        if scalar is None:
            return None
        words = {str(member.value): member for member in kind}
        member = words.get(" ".join(scalar.text.casefold().split()))
        if member is None:
            name, guess = key.replace("_", " "), nearest(scalar.text, words)
            hint = f'did you mean "{guess}"?' if guess else f"write one of: {', '.join(words)}"
            word = f"bad-{key.replace('_', '-')}"
            self.notes.error(scalar.where, word, f'"{scalar.text}" is not a known {name}', hint)
        return member

    def texts(self, key: str) -> tuple[Scalar, ...]:
        """A list of texts under `key`; a single text is a list of one, an empty item an error."""
        node = self.value(key)
        if node is None:
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
            elif item.text.strip():
                texts.append(item)
            elif all(problem.line != item.where[0] for problem in self.notes.problems):
                # `- #40 drill`: what emptied that one is told already.
                self.notes.error(item.where, "empty-item", f'an item of "{key}" is empty', "write it, or take it out")
        return tuple(texts)

    def fields_under(self, key: str) -> Fields | None:
        """The mapping under `key`."""
        node = self.value(key)
        if node is None or isinstance(node, Fields):
            return node
        said = f'"{key}" takes lines of `name: value`'
        self.notes.error(node.where, "not-a-mapping", said, "indent them below it")
        return None

    def rows(self, key: str) -> tuple[Fields, ...]:
        """A list of mappings under `key`; a single mapping is a list of one."""
        node = self.value(key)
        rows = []
        for item in node.nodes if isinstance(node, Items) else (node,) if node is not None else ():
            if isinstance(item, Fields):
                rows.append(item)
            else:
                hint = f"write `- {{name: value, …}}` below `{key}:`"
                self.notes.error(item.where, "not-a-mapping", f'"{key}" takes rows', hint)
        return tuple(rows)
