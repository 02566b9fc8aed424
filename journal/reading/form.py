"""Typing the text of a YAML mapping, key by key, with every mistake noted where it stands."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from enum import Enum
from typing import TypeVar
from zoneinfo import ZoneInfo

from journal.base.addresses import address_word, fold_name
from journal.base.model import Person, Step, Where
from journal.base.problems import known_here, nearest
from journal.reading.dates import parse_date
from journal.reading.text import Notes
from journal.reading.tree import Fields, Items, Node, Scalar

E = TypeVar("E", bound=Enum)
T = TypeVar("T")

YES = frozenset({"true", "yes", "y", "on"})
NO = frozenset({"false", "no", "n", "off"})

NOTHING = frozenset({"none", "nothing", "n/a", "-", "--"})

PROSE = frozenset({"body", "comment", "comments", "description", "note", "notes", "remarks", "text"})
"""Keys for what is no key at all: it belongs into the text of the entry."""

MEANT_BY: Mapping[str, str | None] = {
    **dict.fromkeys(PROSE),
    **dict.fromkeys(("time", "times", "duration", "worked", "hrs"), "hours"),
    **dict.fromkeys(("who", "person", "builder", "builders", "helpers", "by"), "people"),
    **dict.fromkeys(("where", "location", "workshop"), "place"),
    **dict.fromkeys(("pictures", "images", "image", "picture", "pics"), "photos"),
    **dict.fromkeys(("day", "when"), "date"),
    **dict.fromkeys(("section", "part"), "assembly"),
    **dict.fromkeys(("heading", "name", "subject"), "title"),
    **dict.fromkeys(("started",), "begun"),
    **dict.fromkeys(("rework", "reworked"), "redone"),
}
"""Words that people write for a key, where the nearest in letters would be another one (`time` is no `title`)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownIds:
    """What IDs are held against: `lists` by kind (`person`, `step` …), None for a list that could not be read in
    full, for then one slip would be told a hundred times (`closing` takes out what is left).

    `steps` are those of steps.csv that could be read, in its order; `damaged` are IDs whose row had an
    error (told once, there). `builders` worked, and `place` is where, if an entry does not say; `edition` is that of
    the kit's manual.
    """

    lists: Mapping[str, Mapping[str, object] | None]
    steps: Mapping[str, Step]
    damaged: frozenset[str]
    builders: tuple[str, ...] = ()
    place: str | None = None
    zone: ZoneInfo | None = None
    edition: str = ""
    _names: dict[str, Mapping[str, list[str]]] = field(default_factory=dict, compare=False, repr=False)

    def meant(self, text: str, kind: str) -> list[str]:
        """The IDs of a list that `text` can mean (see `meant_ids`)."""
        known = self.steps if kind == "step" else self.lists[kind] or {}
        if text not in known and kind not in self._names:
            self._names[kind] = folded_names(known)
        return meant_ids(text, known, self._names.get(kind))

    def id(self, scalar: Scalar, kind: str, notes: Notes) -> str | None:
        """The ID if it is known (or cannot be checked), by itself or by a name; else None with an error."""
        text, known = scalar.text.strip(), self.lists[kind]
        meant = self.meant(text, kind)
        if len(meant) == 1 or known is None:
            found = meant[0] if len(meant) == 1 else text
            notes.name(kind, found, text, scalar.where)
            return found
        note_unknown(scalar, kind, known, meant, notes)
        return None

    def ids(self, scalars: Iterable[Scalar], kind: str, notes: Notes) -> tuple[str, ...]:
        """The IDs that are known, each once, in the order written; `ada, bo` in one text are two."""
        pieces = (piece for scalar in scalars for piece in self._pieces(scalar, kind))
        return tuple(dict.fromkeys(one for piece in pieces if (one := self.id(piece, kind, notes)) is not None))

    def step_ids(self, scalars: Iterable[Scalar], notes: Notes) -> tuple[str, ...]:
        """Step IDs from IDs and ranges `5.3 to 5.6` in the order of steps.csv, each once, as written."""
        found: list[str] = []
        for piece, ends in (told for scalar in scalars for told in self.step_ranges(scalar)):
            if self.damaged.intersection(end.text for end in ends):
                continue
            read = [self.id(end, "step", notes) for end in ends]
            steps = [step for step in read if step is not None and step in self.steps]
            if len(steps) == len(ends) == 2:
                found += self._range(steps[0], steps[1], piece, notes)
            elif len(steps) == len(ends):
                found += steps
        return tuple(dict.fromkeys(found))

    def step_ranges(self, scalar: Scalar) -> Iterator[tuple[Scalar, list[Scalar]]]:
        """Each piece of a text that tells steps, with the two ends of its range or its one step; `none` tells none."""
        for piece in self._pieces(scalar, "step"):
            if piece.text.casefold() not in NOTHING or self.meant(piece.text, "step"):
                yield piece, self._ends(piece)

    def _pieces(self, scalar: Scalar, kind: str) -> list[Scalar]:
        """The names that one text holds, parted by commas, `and` and the like: one where the whole of it is known."""
        if (self.lists[kind] is None and kind != "step") or self.meant(scalar.text.strip(), kind):
            return [scalar]
        cuts = [(0, 0), *(match.span() for match in _APART.finditer(scalar.text)), (len(scalar.text),) * 2]
        pieces = [_part(scalar, before[1], cut[0]) for before, cut in itertools.pairwise(cuts)]
        return [piece for piece in pieces if piece.text]

    def _ends(self, piece: Scalar) -> list[Scalar]:
        """The two ends of a range of steps, or the one step: `7.1-7.5` is a range where a step stands at either side,
        `wing-7 to wing-9` where that is so of one dash or word only.
        """
        if word := _STEP_WORD.match(piece.text):
            piece = _part(piece, word.end(), len(piece.text))
        if self.meant(piece.text, "step"):
            return [piece]
        cuts = [match.span() for match in _TO.finditer(piece.text) if match.start() and match.end() < len(piece.text)]
        ranges = [[_part(piece, 0, start), _part(piece, end, len(piece.text))] for start, end in cuts]
        sides = [sum(bool(self.meant(end.text, "step")) for end in ends) for ends in ranges]
        best = max(sides, default=0)
        spaced = [ends for ends, (start, _) in zip(ranges, cuts, strict=True) if piece.text[start].isspace()]
        if best and sides.count(best) == 1:
            return ranges[sides.index(best)]
        return spaced[0] if spaced else [piece]

    def _range(self, first: str, last: str, piece: Scalar, notes: Notes) -> list[str]:
        order = list(self.steps)
        start, stop = order.index(first), order.index(last)
        if stop < start:
            said = f'"{piece.text}" runs backwards in the order of steps.csv'
            turned = f"{last} to {first}"
            notes.error(piece.where, "range-backwards", said, f"write {turned}", (piece.text, turned))
        return order[start : stop + 1]


def folded_names(known: Mapping[str, object]) -> dict[str, list[str]]:
    """What IDs go by but for capitals and spaces: folded ID, else folded name, title or `shown_as` -> IDs."""
    ids: dict[str, list[str]] = {}
    names: dict[str, list[str]] = {}
    for one, record in known.items():
        ids.setdefault(fold_name(one), []).append(one)
        said = {fold_name(getattr(record, name, None) or "") for name in ("name", "title", "shown_as")}
        if isinstance(record, Person):
            # The given name: how friends are called.
            said.add(fold_name(record.name).partition(" ")[0])
        for name in said - {""}:
            names.setdefault(name, []).append(one)
    return names | ids


def meant_ids(text: str, known: Mapping[str, object], names: Mapping[str, Sequence[str]] | None = None) -> list[str]:
    """The IDs that `text` can mean: itself, else those that differ in capitals, else those whose name it is.
    `names` are the `folded_names` of `known`, where they are at hand.
    """
    if text in known:
        return [text]
    return [*(folded_names(known) if names is None else names).get(fold_name(text), ())]


def note_unknown(scalar: Scalar, kind: str, known: Mapping[str, object], meant: Sequence[str], notes: Notes) -> None:
    """Note that a text means none of the `known`, or several: those `meant`. What would lose a word is not offered."""
    text = scalar.text.strip()
    guess = None if meant or text.casefold() in NOTHING else nearest(text, known)
    if meant or (len(_APART.split(text)) > 1 and all(meant_ids(one, known) for one in _APART.split(text))):
        hint = f"write one of: {', '.join(meant or _APART.split(text))}"
        hint += "; an entry has one assembly, so make two entries" if kind == "assembly" and not meant else ""
    elif renamed := next((one for one, record in known.items() if text in getattr(record, "formerly", ())), None):
        guess, hint = renamed, f'it is called "{renamed}" now'
    else:
        hint = f'did you mean "{guess}"?' if guess else known_here([*known])
    said = f'"{text}" can be more than one {kind}' if meant else f'unknown {kind} "{text}"'
    notes.error(scalar.where, f"unknown-{kind}", said, hint, (text, guess) if guess else None)


def check_former_names(
    told: Iterable[tuple[str, Sequence[str], Callable[[str, str, str], None]]], listed: Iterable[str]
) -> None:
    """Note former names that lead to two pages: those of something that is `listed` still, and those claimed twice.
    `told` are (ID, its former names, what notes a word, a message and a hint at their place), all of one kind.
    """
    living = {address_word(one).casefold(): one for one in listed}
    claimed: dict[str, str] = {}
    for identifier, names, note in told:
        for name in names:
            word = address_word(name).casefold()
            if other := living.get(word):
                said = f'"{name}" cannot be a former name: "{other}" has its address today'
                note("former-name", said, "take it out, or rename that one")
            elif claimed.setdefault(word, identifier) != identifier:
                said = f'"{name}" is a former name of "{claimed[word]}" as well'
                note("former-name", said, "keep it where its readers should be led")


_APART = re.compile(r"\s*(?:[,;+&\n]|\band\b)\s*", re.IGNORECASE)
_STEP_WORD = re.compile(r"steps?\s+", re.IGNORECASE)
_DASH = r"[-\N{FIGURE DASH}-\N{EM DASH}\N{MINUS SIGN}]"
_TO = re.compile(rf"\s*(?:{_DASH}|\.\.+|\b(?:to|through|thru|until)\b)\s*", re.IGNORECASE)


def _part(scalar: Scalar, start: int, end: int) -> Scalar:
    """A piece of a text, trimmed, with its own place where that can be told."""
    text = scalar.text[start:end]
    start += len(text) - len(text.lstrip())
    moved = 0 if scalar.quoted or "\n" in scalar.text else start
    return replace(scalar, text=text.strip(), where=(scalar.where[0], scalar.where[1] + moved))


def folded_key(key: str) -> str:
    """A key that is written in any capitals, with `-` or a space for `_`, as the reader knows it."""
    return re.sub(r"[\s-]+", "_", key.strip().casefold())


class Form:
    """A mapping being read: the keys `allowed` are taken by the getters, the rest is reported."""

    def __init__(self, fields: Fields, notes: Notes, allowed: Collection[str], known: KnownIds | None = None) -> None:
        self.fields = fields
        self.notes = notes
        self._known = known
        self.values: dict[str, Node] = {}
        self.places: dict[str, Where] = {}
        for key, value in fields.pairs:
            name = key.text if key.text in allowed else folded_key(key.text)
            if name not in allowed:
                self._note_unknown_key(key, value, allowed)
            elif name in self.values:
                notes.error(key.where, "key-twice", f'"{name}" is given twice', "keep one of them")
            else:
                self.values[name] = value
                self.places[name] = key.where

    def _note_unknown_key(self, key: Scalar, value: Node, allowed: Collection[str]) -> None:
        """Note a key that nobody reads, and the one that is meant where that is sure enough."""
        text, folded = key.text, key.text.strip().casefold()
        known = [*allowed]
        guess = MEANT_BY.get(folded)
        if folded not in MEANT_BY:
            guess = nearest(text, known, likeness=0.75)
        guess = guess if guess in known and guess not in (one.text for one, _ in self.fields.pairs) else None
        if folded in PROSE and "date" in known:
            hint = "write it below the closing `---`"
        elif " " in text.strip() and isinstance(value, Scalar) and not value.text:
            hint = "is it part of a text with a comma? Such a text goes in quotes"
        else:
            hint = f'did you mean "{guess}"?' if guess else known_here(known)
        self.notes.error(key.where, "unknown-key", f'unknown key "{text}"', hint, (text, guess) if guess else None)

    @property
    def known(self) -> KnownIds:
        """What the IDs of this form are held against."""
        assert self._known is not None, "a form without IDs"
        return self._known

    def inner(self, fields: Fields, *allowed: str) -> Form:
        """The form of a mapping inside this one."""
        return Form(fields, self.notes, allowed, self._known)

    def inner_places(self, *keys: str) -> dict[str, Where]:
        """Places of the keys one and two levels down, as `photos.IMG_1.jpg`, beside those of this mapping."""
        places = dict(self.places)
        for key in keys:
            inner = self.values.get(key)
            if isinstance(inner, Fields):
                for name, node in inner.pairs:
                    below = node.pairs if isinstance(node, Fields) else ()
                    told = ((name.text, name.where), *((f"{name.text}.{one.text}", one.where) for one, _ in below))
                    places.update({f"{key}.{path}": where for path, where in told})
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
            mend = (scalar.text, guess) if guess else None
            self.notes.error(scalar.where, word, f'"{scalar.text}" is not a known {name}', hint, mend)
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
            if isinstance(item, Fields) and len(item.pairs) == 1 and isinstance(said := item.pairs[0][1], Scalar):
                # `- respirator: the good one` is a text to those who write it.
                item = replace(item.pairs[0][0], text=f"{item.pairs[0][0].text}: {said.text}")
            if not isinstance(item, Scalar):
                self.notes.error(item.where, "not-text", f'an item of "{key}" is not plain text', "put it in quotes")
            elif item.text.strip():
                texts.append(item)
            elif all(problem.line != item.where[0] for problem in self.notes.problems):
                # `- #40 drill`: what emptied that one is told already.
                self.notes.error(item.where, "empty-item", f'an item of "{key}" is empty', "write it, or take it out")
        return tuple(texts)

    def former_names(self) -> tuple[str, ...]:
        """What stands under `formerly`: names that this went by, the newest first."""
        return tuple(dict.fromkeys(scalar.text.strip() for scalar in self.texts("formerly")))

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
