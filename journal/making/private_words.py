"""What of a build must not leave: names, places, numbers, passages, files. Gathered from everything there
is, so that the search through a finished site is a second opinion and not the first one repeated.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from journal.base.addresses import fold_name
from journal.base.model import ROLE_WORDS, Build, Clip, Entry, Inspection, Photo
from journal.base.prose import cut_private, private_lines
from journal.ledger.journal import Journal

RUN = 8
"""Words in a row that make a passage recognisable; shorter texts count as a whole from four words on."""

_LEAST_RUN = 4
_WORD = re.compile(r"\w+")
_MARK = re.compile(r"\s*[!?]{3}\+?\s*private\b", re.IGNORECASE)
_COMMENT = re.compile(r"<!--(.*?)(?:-->|\Z)", re.DOTALL)
_EVERYDAY = frozenset(
    {"home", "workshop", "shop", "garage", "hangar", "barn", "cellar", "basement", "shed", "house", "room", "airfield"}
    | {"airport", "machine", "paint", "the", "my", "our", "your", "at", "in", "of", "and", "a", "left", "right"}
    | {"big", "small", "old", "new", "main"}
)
"""A place that is called nothing but this tells nobody where it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Secret:
    """Words that must not be found, and what they are. `exact` minds case, for names that are also words."""

    words: str
    what: str
    exact: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Private:
    """Everything that must not leave. `runs` maps words in a row (folded, single spaces) to where they stand;
    `originals` maps sizes in bytes to the files of that size whose very bytes must not be sent.
    """

    secrets: tuple[Secret, ...] = ()
    runs: Mapping[str, str] = field(default_factory=dict)
    originals: Mapping[int, tuple[Path, ...]] = field(default_factory=dict)


def gather_private(journal: Journal) -> Private:
    """Everything private of a build, drafts and records included."""
    build = journal.build
    return Private(
        secrets=tuple(_secrets(build, journal.root)),
        runs=_runs(journal),
        originals=_originals(journal.root),
    )


# -- names and numbers -----------------------------------------------------------------------------


def _secrets(build: Build, root: Path) -> Iterator[Secret]:
    shown = {fold_name(person.public_name) for person in build.people.values()}
    shown |= {fold_name(word) for word in ROLE_WORDS.values()}
    shown_words = {word for name in shown for word in name.split()}
    for person in build.people.values():
        if fold_name(person.name) not in shown and " " in person.name.strip():
            yield Secret(words=person.name, what="the full name of a person")
        for word in person.name.split()[1:]:
            if len(word) > 3 and fold_name(word) not in shown_words:
                yield Secret(words=word, what="the family name of a person", exact=True)
        if len(person.id) > 2 and fold_name(person.id) not in shown | shown_words:
            yield Secret(words=person.id, what="the ID of a person", exact=True)
    for key, words in (("registration", build.aircraft.registration), ("serial", build.aircraft.serial)):
        if key not in build.shows and len(words.strip()) > 2:
            yield Secret(words=words, what=f"the {key} of the aircraft")
    if "places" not in build.shows:
        for place in build.places.values():
            for words in dict.fromkeys((place.name, place.id)):
                if not set(_WORD.findall(fold_name(words))) <= _EVERYDAY and len(words) > 2:
                    yield Secret(words=words, what="the name of a place")
    for owner in _owners(build):
        if _hidden(owner):
            yield Secret(words=owner.id, what="the folder of a private entry or a draft", exact=True)
    for folder in (root, Path.home()):
        if len(str(folder)) > 5:
            yield Secret(words=str(folder), what="a folder of this machine", exact=True)


def parts_of(secret: Secret) -> list[str]:
    """The words of a secret, without what stands between them."""
    return [part for part in re.split(r"[\s_\-]+", secret.words.strip()) if part]


def pattern_of(secret: Secret) -> str:
    """A regular expression for the words in every form in which an address or a page may hold them."""
    parts = [re.escape(part) for part in parts_of(secret)]
    return r"(?<![^\W_])" + r"(?:[\s_\-+]|%20|&nbsp;|&#160;)*".join(parts) + r"(?![^\W_])"


# -- passages --------------------------------------------------------------------------------------


def _runs(journal: Journal) -> dict[str, str]:
    """Runs of words of private texts, less those that stand in a public text as well."""
    private: dict[str, str] = {}
    for where, text in _private_texts(journal.build):
        for run in runs_of(text, shortest=_LEAST_RUN):
            private.setdefault(run, where)
    if not private:
        return private
    # A run of seven words is looked for among runs of seven.
    lengths = {run.count(" ") + 1 for run in private}
    for text in _public_texts(journal.build):
        for length in lengths:
            for run in _of_length(_words(text), length):
                private.pop(run, None)
    return private


def runs_of(text: str, *, shortest: int = RUN) -> Iterator[str]:
    """Every `RUN` words in a row, the whole where there are fewer, nothing below `shortest`."""
    words = _words(text)
    if shortest <= len(words) < RUN:
        yield " ".join(words)
    yield from _of_length(words, RUN)


def _of_length(words: list[str], length: int) -> Iterator[str]:
    for start in range(len(words) - length + 1):
        yield " ".join(words[start : start + length])


def _words(text: str) -> list[str]:
    return _WORD.findall(text.casefold())


Owner = Entry | Inspection


def _owners(build: Build) -> tuple[Owner, ...]:
    return (*build.entries, *build.drafts, *build.inspections)


def _hidden(owner: Owner) -> bool:
    return owner.private or (isinstance(owner, Entry) and owner.draft)


def _things(owner: Owner) -> tuple[Photo | Clip, ...]:
    return (*owner.photos, *owner.clips) if isinstance(owner, Entry) else owner.photos


def _private_texts(build: Build) -> Iterator[tuple[str, str]]:
    """(where, text) of everything in words that is not public."""
    for owner in _owners(build):
        if _hidden(owner):
            yield owner.src_uri, owner.title
            yield owner.src_uri, owner.body
        else:
            yield from ((owner.src_uri, passage) for passage in _private_passages(owner.body))
        for thing in _things(owner):
            if _hidden(owner) or thing.private:
                yield owner.src_uri, thing.caption
        if isinstance(owner, Entry):
            for answer in owner.answers.values():
                yield owner.src_uri, answer
        elif owner.private:
            for found in owner.findings:
                yield owner.src_uri, found.text
    for page in build.pages:
        yield from ((page.src_uri, passage) for passage in _private_passages(page.body))
    for record in build.records:
        for text in (record.title, record.note, record.file):
            yield "content/records", text
    for cost in build.costs:
        yield "content/costs.csv", cost.what


def _private_passages(body: str) -> Iterator[str]:
    """Each private passage by itself without the mark that opens it, and each comment: what a follower could
    meet of a short one is its own words and no others.
    """
    passage: list[str] = []
    for line, hidden in zip((*body.split("\n"), ""), (*private_lines(body), False), strict=True):
        if passage and (not hidden or _MARK.match(line)):
            yield "\n".join(passage)
            passage = []
        if hidden:
            passage.append(_MARK.sub("", line))
    yield from _COMMENT.findall(body)


def _public_texts(build: Build) -> Iterator[str]:
    """What followers read anyway: a private text may say the same in places."""
    for owner in _owners(build):
        if not _hidden(owner):
            yield owner.title
            yield cut_private(owner.body)
            yield from (thing.caption for thing in _things(owner) if not thing.private)
            if isinstance(owner, Inspection):
                yield from (found.text for found in owner.findings)
    yield from (cut_private(page.body) for page in build.pages)
    yield from (step.title for step in build.steps.values())
    for task in build.tasks:
        yield task.name
        yield task.note
    yield from (item.description for item in build.inventory)
    yield from (material.name for material in build.materials.values())


def _originals(root: Path) -> dict[int, tuple[Path, ...]]:
    """Photos, clips and records by size: whatever of content/ is not text that pages are made from."""
    by_size: dict[int, list[Path]] = {}
    for folder in ("entries", "inspections", "records"):
        base = root / "content" / folder
        for path in sorted(base.rglob("*")) if base.is_dir() else ():
            if path.is_file() and path.stat().st_size:
                by_size.setdefault(path.stat().st_size, []).append(path)
    return {size: tuple(paths) for size, paths in by_size.items()}


def say_paths(paths: Iterable[Path], root: Path) -> str:
    """Where originals lie, for a message."""
    return ", ".join(path.relative_to(root).as_posix() for path in paths)
