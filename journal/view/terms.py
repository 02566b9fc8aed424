"""Trade terms: the list that ships, and the marker that explains a term where a reader meets it.

A term's first use in a document becomes a button that opens a small note (the `popover`
attribute of HTML): it opens by click, touch and keyboard, closes with Escape or a press
elsewhere, is read aloud in its place, and needs no script.

A word that means other things as well ("frame", "yoke") is a term only where its own sentence makes
the sense sure; data/terms.csv marks it with a question mark and lists the words that decide.
"""

from __future__ import annotations

import csv
import itertools
import re
import unicodedata
import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from importlib.resources import files

from journal.base.addresses import slugs
from journal.base.model import Term
from journal.base.words import ENGLISH, _, language_of, spoken

# A word is a run of letters and digits with their accents; what joins words is looked at apart.
_WORD = re.compile(r"(?:[^\W_][\u0300-\u036f]*)+")
_JOINT = re.compile(r"[\s\u00a0-]+")
# What makes a longer word, a part number, a file name or an address of what it touches.
_GLUE = frozenset("-_/@#\\\N{NON-BREAKING HYPHEN}\N{HYPHEN}")
# Where a sentence ends, and how many characters of it are looked at to either side of a word.
_SENTENCE = 400
_STOP = re.compile(r"[.!?;](?=\s|$)|\n\s*\n")
_PARTICLES = frozenset({"out", "up", "off", "in", "down"})

_NEVER_READ = frozenset({"code", "pre", "kbd", "samp", "script", "style", "svg", "math", "template"})
_NEVER_MARKED = frozenset({"a", "button", "summary", "label", "option", "textarea", "h1", "h2", "h3", "h4", "h5", "h6"})
_INLINE = frozenset(
    {"a", "abbr", "b", "button", "cite", "code", "del", "dfn", "em", "i", "ins", "kbd", "mark", "q", "s"}
    | {"samp", "small", "span", "strong", "sub", "sup", "u", "var"}
)


@lru_cache(maxsize=2)
def shipped_terms(*, metal: bool = True) -> tuple[Term, ...]:
    """The terms that come with the journal (data/terms.csv), in the order of the alphabet; those of riveted sheet
    where `metal` is built.
    """
    text = files("journal").joinpath("data/terms.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(text.splitlines())
    return _in_order(_shipped(row) for row in rows if metal or row["built"] != "metal")


def _shipped(row: dict[str, str]) -> Term:
    written = row["names"].split("|")
    return Term(
        names=tuple(name.removesuffix("?") for name in written),
        meaning=row["meaning"],
        source=row["source"],
        unsure=tuple(name[:-1] for name in written if name.endswith("?")),
        near=tuple(row["near"].split()),
        not_near=tuple(row["not_near"].split()),
    )


def all_terms(own: Sequence[Term], *, metal: bool = True) -> tuple[Term, ...]:
    """The shipped terms and the builder's own, in the order of the alphabet.

    A name that the builder explains is theirs: the shipped term loses it, and is left out
    altogether where that was its headword.
    """
    taken = {name.casefold() for term in own for name in term.names}
    kept = (
        replace(term, names=tuple(name for name in term.names if name.casefold() not in taken))
        for term in shipped_terms(metal=metal)
        if term.name.casefold() not in taken
    )
    return _in_order([*own, *kept])


def _in_order(terms: Iterable[Term]) -> tuple[Term, ...]:
    return tuple(sorted(terms, key=lambda term: (term.name.casefold(), term.name)))


@dataclass(frozen=True, slots=True)
class _Form:
    """One way a term is written: its words folded, what stands between, before and after them.

    An empty joint is any space or hyphen. `capitals` are the words, by number, that count only as
    written: "AN bolt" is no "an bolt". An `unsure` form is one only in a sentence that has one of the words
    `near` (where there are any) and none of `not_near`, folded.
    """

    words: tuple[str, ...]
    joints: tuple[str, ...]
    before: str
    after: str
    capitals: tuple[tuple[int, str], ...]
    term: int
    unsure: bool
    near: frozenset[str]
    not_near: frozenset[str]


@dataclass(frozen=True, slots=True)
class _Hit:
    start: int
    end: int
    term: int


@dataclass(slots=True)
class _Piece:
    """A piece of text in a document: the text or tail of `element`, and what may be done to it. `joined` tells
    whether nothing but inline markup stands between it and the piece before.
    """

    element: ET.Element
    parent: ET.Element | None
    tail: bool
    text: str
    read: bool
    mark: bool
    joined: bool


class TermMarker:
    """Finds terms in text and explains each at its first use in a document."""

    def __init__(self, terms: Sequence[Term]) -> None:
        self._terms = tuple(terms)
        self._ids = slugs(term.name for term in self._terms)
        self._forms: dict[str, list[_Form]] = {}
        for number, term in enumerate(self._terms):
            near = frozenset(form for word in term.near for form in _bent(_fold(word)))
            not_near = frozenset(form for word in term.not_near for form in (_fold(word), _fold(word) + "s"))
            for name in term.names:
                for form in _forms(name, number, name in term.unsure, near, not_near):
                    self._forms.setdefault(form.words[0], []).append(form)
        for forms in self._forms.values():
            # The longest is tried first, so "edge distance" is never read as "edge".
            forms.sort(key=lambda form: -len(form.words))

    def find(self, text: str) -> tuple[Term, ...]:
        """The terms used in plain text, in the order of their first use."""
        return tuple(self._terms[number] for number in dict.fromkeys(hit.term for hit in self._hits(text)))

    def mark(self, root: ET.Element, href: Callable[[Term], str]) -> tuple[Term, ...]:
        """Explain each term at its first use under `root`, in place; the terms used, in order.

        `href` gives the address of a term in the list of terms. The text itself is never changed.
        Code is not looked at; headings and links count as use but are not marked.
        """
        used: dict[int, None] = {}
        marked: set[int] = set()
        for piece, run, start in _placed(_pieces(root)):
            if not piece.read:
                continue
            hits = list(self._hits(run, start, start + len(piece.text)))
            used.update(dict.fromkeys(hit.term for hit in hits))
            first: list[_Hit] = []
            for hit in hits if piece.mark else ():
                if hit.term not in marked:
                    marked.add(hit.term)
                    first.append(hit)
            if first:
                self._explain(piece, start, first, href)
        return tuple(self._terms[number] for number in used)

    def _hits(self, text: str, start: int = 0, stop: int | None = None) -> Iterator[_Hit]:
        """Terms in `text` from `start` to `stop`, leftmost and longest, none overlapping; the rest of the text is what
        touches them, and the sentences that they stand in.
        """
        stop = len(text) if stop is None else stop
        words = list(_WORD.finditer(text, start, stop))
        keys = [_fold(word[0]) for word in words]
        at = 0
        for number, key in enumerate(keys):
            if number < at:
                continue
            for form in self._forms.get(key, ()):
                if hit := _fit(form, text, words, keys, number, (start, stop)):
                    yield hit
                    at = number + len(form.words)
                    break

    def _explain(self, piece: _Piece, at: int, hits: Sequence[_Hit], href: Callable[[Term], str]) -> None:
        made: list[ET.Element] = []
        for number, hit in enumerate(hits):
            term = self._terms[hit.term]
            ident = f"tip-{self._ids[term.name]}"
            button = ET.Element("button", {"type": "button", "class": "term", "popovertarget": ident})
            button.text = piece.text[hit.start - at : hit.end - at]
            tip = ET.Element("span", {"class": "term-tip", "id": ident, "popover": "auto", "role": "note"})
            ET.SubElement(tip, "b").text = term.name
            tip[-1].tail = f" {term.meaning} "
            if term.source:
                ET.SubElement(tip, "small").text = _("Source: {source}", source=term.source)
                tip[-1].tail = " "
            ET.SubElement(tip, "a", {"href": href(term)}).text = _("In the list of terms")
            # Ours are English, also among words in another language; label and link are the interface's.
            told, now = spoken().content if term.own else ENGLISH, spoken()
            for part, around in ((tip, now.content), *((child, told) for child in tip[1:])):
                said = told if part is tip else now.page
                if language_of(said) != language_of(around):
                    part.set("lang", said)
            end = hits[number + 1].start - at if number + 1 < len(hits) else len(piece.text)
            tip.tail = piece.text[hit.end - at : end]
            made += [button, tip]
        start = piece.text[: hits[0].start - at]
        if piece.tail:
            assert piece.parent is not None
            place = list(piece.parent).index(piece.element) + 1
            piece.element.tail = start
            piece.parent[place:place] = made
        else:
            piece.element.text = start
            piece.element[0:0] = made


def _fold(word: str) -> str:
    if word.isascii():
        return word.lower()
    return unicodedata.normalize("NFC", word).casefold()


def _fit(
    form: _Form, text: str, words: list[re.Match[str]], keys: list[str], at: int, within: tuple[int, int]
) -> _Hit | None:
    """The use of `form` that begins at the word `at`, between the two places `within` of the text, if it is one."""
    last = at + len(form.words) - 1
    if len(form.words) > 1 and tuple(keys[at : last + 1]) != form.words:
        return None
    for offset, joint in enumerate(form.joints):
        between = text[words[at + offset].end() : words[at + offset + 1].start()]
        if not (between == joint if joint else _JOINT.fullmatch(between)):
            return None
    if any(words[at + offset][0] != written for offset, written in form.capitals):
        return None
    start, end = words[at].start() - len(form.before), words[last].end() + len(form.after)
    if start < within[0] or text[start : words[at].start()] != form.before:
        return None
    if end > within[1] or text[words[last].end() : end] != form.after:
        return None
    previous, following = text[max(0, start - 2) : start], text[end : end + 2]
    if previous and (previous[-1] in _GLUE or _WORD.match(previous[-1])):
        return None
    if previous[1:] == "." and previous[0].isalnum():
        return None
    if following and (following[0] in _GLUE or _WORD.match(following[0])):
        return None
    # "rib." ends a sentence, "rib.jpg" and "rib.2" do not.
    if len(following) == 2 and following[0] in ".:" and following[1].isalnum():
        return None
    return _Hit(start, end, form.term) if not form.unsure or _sure(form, text, start, end) else None


def _sure(form: _Form, text: str, start: int, end: int) -> bool:
    """Whether the sentence round an unsure form settles what is meant."""
    left, right = text[max(0, start - _SENTENCE) : start], text[end : end + _SENTENCE]
    around = _STOP.split(left)[-1] + " " + _STOP.split(right, maxsplit=1)[0]
    said = {_fold(word[0]) for word in _WORD.finditer(around)}
    return (not form.near or not said.isdisjoint(form.near)) and said.isdisjoint(form.not_near)


def _placed(pieces: Iterable[_Piece]) -> Iterator[tuple[_Piece, str, int]]:
    """Each piece with the whole run of joined text that it belongs to, and where it begins in it."""
    runs: list[list[_Piece]] = []
    for piece in pieces:
        if piece.joined and runs:
            runs[-1].append(piece)
        else:
            runs.append([piece])
    for run in runs:
        text, start = "".join(piece.text for piece in run), 0
        for piece in run:
            yield piece, text, start
            start += len(piece.text)


def _forms(name: str, number: int, unsure: bool, near: frozenset[str], not_near: frozenset[str]) -> Iterator[_Form]:
    """Every way to write `name`: as it is, in the plural, and as a verb (-s, -ing, -ed)."""
    words = list(_WORD.finditer(name))
    if not words:
        return
    folded = [_fold(word[0]) for word in words]
    joints = []
    for left, right in itertools.pairwise(words):
        between = name[left.end() : right.start()]
        joints.append("" if _JOINT.fullmatch(between) else between)
    bends = 0 if len(folded) == 2 and folded[-1] in _PARTICLES else len(folded) - 1
    for bent in _bent(folded[bends]):
        yield _Form(
            words=(*folded[:bends], bent, *folded[bends + 1 :]),
            joints=tuple(joints),
            before=name[: words[0].start()],
            after=name[words[-1].end() :],
            capitals=tuple(
                (place, word[0])
                for place, word in enumerate(words)
                if len(word[0]) > 1 and word[0].isalpha() and word[0].isupper()
            ),
            term=number,
            unsure=unsure,
            near=near,
            not_near=not_near,
        )


def _bent(word: str) -> tuple[str, ...]:
    """`rib` -> rib, ribs, ribbing, ribbed; `dimple` -> dimple, dimples, dimpling, dimpled.

    A word that ends in -ing gets a plural only: taking the ending off would make "fair" of "fairing".
    """
    if len(word) < 3 or not word.isalpha():
        return (word,)
    if word.endswith("ing"):
        return word, word + "s"
    if word.endswith("y") and word[-2] not in "aeiou":
        stem = word[:-1]
        return word, stem + "ies", stem + "ied", word + "ing"
    if word.endswith(("s", "x", "z", "ch", "sh")):
        return word, word + "es", word + "ing", word + "ed"
    if word.endswith("e"):
        return word, word + "s", word[:-1] + "ing", word + "d"
    if re.fullmatch(r"[^aeiou]*[aeiou][^aeiouwxy]", word):
        # One short syllable: the last letter is doubled, and "spared" is no form of "spar".
        return word, word + "s", word + word[-1] + "ing", word + word[-1] + "ed"
    return word, word + "s", word + "ing", word + "ed"


def _pieces(root: ET.Element) -> Iterator[_Piece]:
    """The pieces of text under `root` in reading order."""
    joined = False

    def walk(element: ET.Element, read: bool, mark: bool) -> Iterator[_Piece]:
        nonlocal joined
        tag = element.tag if isinstance(element.tag, str) else ""
        read = read and tag not in _NEVER_READ and "popover" not in element.attrib and bool(tag)
        mark = mark and read and tag not in _NEVER_MARKED
        if tag not in _INLINE:
            joined = False
        if element.text:
            yield _Piece(element, None, False, element.text, read, mark, joined)
            joined = True
        for child in element:
            inline = child.tag in _INLINE
            yield from walk(child, read, mark)
            joined = joined and inline
            if child.tail:
                yield _Piece(child, element, True, child.tail, read, mark, joined)
                joined = True

    return walk(root, True, True)
