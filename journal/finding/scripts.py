"""The index as small scripts for a browser.

A page opened from a file address may not fetch files, but it may load scripts; so each part of the
index is a script that hands itself over: `journalFind("lexicon", {…})`. The lexicon comes first;
of the postings and the cards only those parts are loaded that a question needs.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from itertools import groupby, pairwise, takewhile
from typing import Any

from journal.finding.index import Index, pack
from journal.finding.rules import Rules

FOLDER = "find/data/"

POSTINGS_BYTES = 9_000
CARDS_BYTES = 16_000
"""Aims, before compression: a part is closed before it would be larger, and what alone is larger is a part."""

Thumb = tuple[str, int, int] | tuple[str, int, int, str]
"""Name, width and height of a picture's smallest form; in the archive its own file's name too."""

_NONE_SHARED = 0x250
_PLACES = ("kind", "id", "address", "title", "date", "day", "assembly_title", "said_steps", "photos")


def front(words: Sequence[str]) -> str:
    """Sorted words, each as how many letters it shares with the one before, and its rest. The number is a letter with
    which no word is written (U+0250 is none): a rest by itself might be taken for a name by the search before
    publishing.
    """
    coded: list[str] = []
    before = ""
    for word in words:
        both = zip(before[:40], word, strict=False)
        shared = sum(1 for _ in takewhile(lambda letters: letters[0] == letters[1], both))
        coded.append(chr(_NONE_SHARED + shared) + word[shared:])
        before = word
    return "|".join(coded)


def render_scripts(
    index: Index,
    cards: Sequence[Mapping[str, Any]],
    thumbs: Sequence[Mapping[int, Thumb]],
    rules: Rules,
) -> tuple[str, list[tuple[str, str]]]:
    """The version of the index, and (address, text) of every script. `cards` and `thumbs` (by their places) go by
    document. The version is told by every part, so that a page notices a mixture of old and new.
    """
    lexicon = index.lexicon
    shelf = ((term, index.postings[term]) for term in _shelf_order(lexicon, rules))
    shards = list(_parts(shelf, POSTINGS_BYTES))
    decks = list(
        _parts(enumerate(_json(_compact(card, of)) for card, of in zip(cards, thumbs, strict=True)), CARDS_BYTES)
    )
    plain = {
        **{name: lexicon[name] for name in ("format", "dated", "documents", "average", "twins")},
        "kinds": [[kind, len([*run])] for kind, run in groupby(lexicon["kinds"])],
        "terms": front(lexicon["terms"]),
        "counts": pack(lexicon["counts"]),
        "words": front(lexicon["words"]),
        "lengths": pack(length for lengths in lexicon["lengths"] for length in lengths),
        **_dates(lexicon["dates"]),
        "photos": pack(lexicon["photos"]),
        "shards": pack(len(shard) for shard in shards),
        "decks": pack(len(deck) for deck in decks),
        "rules": rules.plain,
    }
    facets = {
        name: {
            "values": facet["values"],
            "rows": pack(figure for row in facet["rows"] for figure in (len(row), *row)),
        }
        for name, facet in lexicon["facets"].items()
    }
    parts = {
        "lexicon": _json(plain),
        "facets": _json(facets),
        **{f"postings-{number}": _json([packed for _, packed in shard]) for number, shard in enumerate(shards)},
        **{f"cards-{number}": f"[{','.join(row for _, row in deck)}]" for number, deck in enumerate(decks)},
    }
    version = hashlib.sha256("\n".join(parts.values()).encode()).hexdigest()[:16]
    return version, [
        (f"{FOLDER}{name}.js", f'journalFind("{name}","{version}",{text});\n') for name, text in parts.items()
    ]


def _shelf_order(lexicon: Mapping[str, Any], rules: Rules) -> Iterator[str]:
    """The terms in the order in which their postings are laid into parts: what goes by several names side by side,
    because a question asks for all of them; then the others as they are sorted. find.js says the same.
    """
    grouped = dict.fromkeys(term for _, terms in rules.groups for term in terms)
    terms = dict.fromkeys(lexicon["terms"])
    return iter({**{term: None for term in grouped if term in terms}, **terms})


def _json(value: object) -> str:
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"))
    # Two line ends of Unicode that old browsers do not allow in a string.
    return text.replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


def _parts(items: Iterable[tuple[object, str]], aim: int) -> Iterator[list[tuple[object, str]]]:
    part: list[tuple[object, str]] = []
    size = 0
    for key, value in items:
        if part and size + len(value) > aim:
            yield part
            part, size = [], 0
        part.append((key, value))
        size += len(value)
    if part:
        yield part


def _compact(card: Mapping[str, Any], thumbs: Mapping[int, Thumb]) -> list[Any]:
    """A card as a list; what its places mean is said in find.js."""
    told = {passage[3] for passage in card["passages"] if passage[3] is not None} | {card["cover"]}
    return [
        *(card[name] for name in _PLACES),
        int(card["private"]) + 2 * int(card["draft"]) + 4 * int(card["redone"]),
        card["cover"],
        list(_passages(card["passages"])),
        {place: thumb for place, thumb in thumbs.items() if place in told},
    ]


def _passages(passages: Iterable[Sequence[Any]]) -> Iterator[list[Any]]:
    """Each passage with where it stands: a caption the place of its picture, others an anchor (0: the same again)."""
    before = ""
    for number, start, text, photo, anchor in passages:
        where = photo if photo is not None else (0 if anchor and anchor == before else anchor.removeprefix("said-"))
        yield [number, start, text, where] if where != "" else [number, start, text]
        before = anchor


def _dates(dates: Sequence[str]) -> dict[str, Any]:
    """The first date, and from each of these documents to the next the days between."""
    days = [date.fromisoformat(day) for day in dates]
    return {
        "first_date": dates[0] if dates else "",
        "days": pack((later - earlier).days for earlier, later in pairwise(days)),
    }
