"""What finding at the terminal keeps beside content/, all of it free to be deleted at any moment.

The terminal's warm index is a database with an index and its cards, keyed by what the content
looked like when it was made: size and time of every file that an answer depends on, and the
version of the code. Where the key still fits, a question is answered without opening the journal.
Where it does not, single documents are taken out and put in if no more than single entries changed, else the index is
made anew. A damaged or foreign file counts as none.

A file is never written to once it is in place: whoever alters it alters a copy, in which nothing is left of what was
taken out, and puts that in its place.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import sqlite3
from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence
from contextlib import closing, suppress
from itertools import accumulate
from operator import sub
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from journal import __version__
from journal.base.safe_write import left_scratch, scratch_beside
from journal.finding.index import FORMAT, digest, pack, unpack

if TYPE_CHECKING:
    from journal.finding.index import Analysed

FOLDER = "find"
_BESIDE = ("entries", "seals", "seals.jsonl")
"""What lies in content/ and is told apart, or tells no answer anything."""


def code_stamp() -> str:
    """The version of the code and rules that an index is made by: sizes and times of their files."""
    package = Path(__file__).parents[1]
    files = [file for kind in ("*.py", "*.csv", "*.json", "*.yml") for file in package.rglob(kind)]
    return digest([__version__, sorted((file.name, *stamp(file)) for file in files)])


class Stamps(NamedTuple):
    """What the content of a build folder looks like from outside: `rest` stands for everything but the entries and for
    the code. `entries` goes by the hidden name of an entry: its folder's time (a photo came or went), size and time of
    its text; one word where it has another form than ID/index.md. `names` are those that are hidden.
    """

    rest: str
    entries: Mapping[str, list[int] | str]
    names: Mapping[str, str]

    @property
    def key(self) -> str:
        """All of it as a short name."""
        return digest([self.rest, sorted(self.entries.items(), key=lambda one: one[0])])


def content_stamps(root: Path, code: str) -> Stamps:
    """How the content of the build folder `root` looks now; `code` is the version of the program."""
    content = root / "content"
    rest: list[object] = [FORMAT, code, stamp(root / "mkdocs.yml")]
    others = (file for path in _look_in(content) if path.name not in _BESIDE for file in _files_below(path.path))
    rest += sorted((ascii(file), *stamp(file)) for file in others)
    entries: dict[str, list[int] | str] = {}
    names: dict[str, str] = {}
    for path in _look_in(content / "entries"):
        told = stamp(f"{path.path}/index.md")
        known = [path.name]
        if told[0] >= 0:
            entries[hidden(path.name)] = [stamp(path.path)[1], *told]
        else:  # a single file, a text of another name, or the folder of a year with others in it
            files = _files_below(path.path)
            entries[hidden(path.name)] = digest([(ascii(file), *stamp(file)) for file in files])
            known = [name for file in files for name in (Path(file).name, Path(file).stem)]
        names.update((hidden(name), name) for name in known)
    return Stamps(digest(rest), entries, names)


def hidden(name: str) -> str:
    """A word that stands for the name of an entry in a file that must not say it: some are private."""
    return hashlib.sha256(os.fsencode(name)).hexdigest()[:16]


def _look_in(folder: Path) -> list[os.DirEntry[str]]:
    with suppress(OSError), os.scandir(folder) as found:
        return list(found)
    return []


def _files_below(path: str) -> list[str]:
    """The file or folder `path` and all that lies below it, links to folders followed."""
    files, seen = [path], set()
    for here, folders, names in os.walk(path, followlinks=True):
        if (real := os.path.realpath(here)) in seen:
            folders.clear()
            continue
        seen.add(real)
        files += [f"{here}/{name}" for name in (*folders, *names)]
    return sorted(files)


def stamp(path: str | Path) -> tuple[int, int]:
    """Length and time of a file or folder; -1 for both where there is none."""
    try:
        # Thousands of them: a Path for each would cost more than the call.
        found = os.stat(path)  # noqa: PTH116
    except (OSError, ValueError):
        return (-1, -1)
    return (found.st_size, found.st_mtime_ns)


class WarmIndex:
    """An index at rest in a file; see `open_warm`. Documents have a number that stays in the file, and a place in the
    index, which is what everybody outside calls a document's number.
    """

    def __init__(self, database: sqlite3.Connection, file: Path) -> None:
        self._database = database
        self.file = file
        self.key: str = self.fact("key")
        self.lexicon: Mapping[str, Any] = self.fact("lexicon")
        self.about: Mapping[str, Any] = self.fact("about")
        self.numbers: Sequence[int] = self.fact("numbers")
        self._places = {number: place for place, number in enumerate(self.numbers)}

    def fact(self, name: str) -> Any:
        """What was laid down under a name."""
        return json.loads(self._row("SELECT value FROM facts WHERE name = ?", name)[0])

    def _row(self, question: str, *values: object) -> tuple[Any, ...]:
        row: tuple[Any, ...] | None = self._database.execute(question, values).fetchone()
        if row is None:
            raise sqlite3.DatabaseError("incomplete")
        return row

    def postings(self, term: str) -> str | None:
        """The packed postings of `term`."""
        rows = self._database.execute("SELECT document, packed FROM postings WHERE term = ?", (term,))
        parts: list[str] = []
        last = -1
        for place, packed in sorted((self._places[number], packed) for number, packed in rows):
            parts += (pack((place - last - 1,)), packed)
            last = place
        return "".join(parts) or None

    def card(self, place: int) -> dict[str, Any]:
        """The card of a document."""
        day, card = self._row("SELECT day, card FROM documents WHERE number = ?", self.numbers[place])
        return {**json.loads(card), "day": day}

    def pictures(self, entry: str) -> dict[str, Any]:
        """What is known of the pictures of an entry, by its hidden name."""
        row = self._database.execute("SELECT told FROM pictures WHERE entry = ?", (entry,)).fetchone()
        told: dict[str, Any] = json.loads(row[0]) if row else {}
        return told

    def words(self) -> dict[str, str]:
        """The words of every document, as JSON, by the key of its text."""
        return dict(self._database.execute("SELECT key, words FROM documents"))

    def close(self) -> None:
        """Let go of the file."""
        self._database.close()


def open_warm(file: Path) -> WarmIndex | None:
    """The index in `file`, of whatever content it is, else None."""
    if not file.is_file():
        return None
    # Never written to once it is in place, so no lock is needed and a read-only folder will do.
    database = sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro&immutable=1", uri=True)
    with suppress(sqlite3.Error, ValueError, TypeError):
        return WarmIndex(database, file)
    database.close()
    return None


class Laid(NamedTuple):
    """A document as it is laid into the file: its day's number, its card as JSON, and its words with the `key` of its
    text.
    """

    day: int
    card: str
    key: str
    words: Analysed


class MovedDay(NamedTuple):
    """A document whose day has another number now, which stands at the position `at` of its words."""

    at: int
    before: int
    now: int


_TABLES = (
    "facts (name TEXT PRIMARY KEY, value TEXT) WITHOUT ROWID",
    "documents (number INTEGER PRIMARY KEY, day INTEGER, card TEXT, key TEXT, words TEXT)",
    "postings (term TEXT, document INTEGER, packed TEXT, PRIMARY KEY (term, document)) WITHOUT ROWID",
    "pictures (entry TEXT PRIMARY KEY, told TEXT) WITHOUT ROWID",
    "spellings (word TEXT PRIMARY KEY, documents INTEGER) WITHOUT ROWID",
)


def write_warm(
    file: Path, facts: Mapping[str, object], documents: Sequence[Laid], pictures: Mapping[str, object]
) -> None:
    """Put an index into `file`, whole or not at all; `pictures` go by the hidden names of their entries. Raises OSError
    where it cannot be written.
    """

    def fill(database: sqlite3.Connection) -> None:
        for table in _TABLES:
            database.execute(f"CREATE TABLE {table}")
        told: dict[str, list[tuple[str, int, str]]] = defaultdict(list)
        for number, one in enumerate(documents):
            for term, packed in one.words.positions.items():
                told[term].append((term, number, packed))
        database.executemany(
            "INSERT INTO documents VALUES (?, ?, ?, ?, ?)", map(_row_of, range(len(documents)), documents)
        )
        database.executemany(
            "INSERT INTO postings VALUES (?, ?, ?)", (row for term in sorted(told) for row in told[term])
        )
        _put_pictures(database, pictures)
        spellings = Counter(word for one in documents for word in one.words.words)
        database.executemany("INSERT INTO spellings VALUES (?, ?)", sorted(spellings.items()))
        _state(database, {**facts, "numbers": range(len(documents))})

    _write(file, None, fill)


def alter_warm(
    index: WarmIndex,
    file: Path,
    *,
    facts: Mapping[str, Any],
    gone: Collection[int],
    put: Mapping[int, Laid],
    moved: Mapping[int, MovedDay],
    pictures: Mapping[str, object],
) -> None:
    """Put `index` into `file` with other numbers of days, then without the documents numbered `gone`, then with `put`
    in it, and with other `pictures` of entries (None takes them out). The lexicon among `facts` lacks `terms`, `counts`
    and `words`: they follow from this. Raises OSError where it cannot be written.
    """
    counts = dict(zip(index.lexicon["terms"], index.lexicon["counts"], strict=True))

    def fill(database: sqlite3.Connection) -> None:
        for number, (at, before, now) in moved.items():
            database.execute("UPDATE documents SET day = ? WHERE number = ?", (now, number))
            for term, here in ((str(before), False), (str(now), True)):
                counts[term] = counts.get(term, 0) + _mention(database, term, number, at, here=here)
        for number in gone:
            (words,) = database.execute("SELECT words FROM documents WHERE number = ?", (number,)).fetchone()
            terms, spellings = json.loads(words)[:2]
            for term in terms:
                counts[term] -= 1
            database.execute("DELETE FROM documents WHERE number = ?", (number,))
            database.executemany("DELETE FROM postings WHERE term = ? AND document = ?", ((t, number) for t in terms))
            database.executemany(
                "UPDATE spellings SET documents = documents - 1 WHERE word = ?", ((w,) for w in spellings)
            )
        for number, one in put.items():
            for term in one.words.positions:
                counts[term] = counts.get(term, 0) + 1
            database.execute("INSERT INTO documents VALUES (?, ?, ?, ?, ?)", _row_of(number, one))
            rows = ((term, number, packed) for term, packed in one.words.positions.items())
            database.executemany("INSERT INTO postings VALUES (?, ?, ?)", rows)
            database.executemany(
                "INSERT INTO spellings VALUES (?, 1) ON CONFLICT DO UPDATE SET documents = documents + 1",
                ((word,) for word in one.words.words),
            )
        _put_pictures(database, pictures)
        database.execute("DELETE FROM spellings WHERE documents = 0")
        words = [word for (word,) in database.execute("SELECT word FROM spellings ORDER BY word")]
        told = [term for term in sorted(counts) if counts[term]]
        lexicon = {**facts["lexicon"], "terms": told, "counts": [counts[term] for term in told], "words": words}
        _state(database, {**facts, "lexicon": lexicon})

    _write(file, index.file, fill)


def _mention(database: sqlite3.Connection, term: str, number: int, at: int, *, here: bool) -> int:
    """Put a mention of `term` into a document, or take it out; by how much more documents it is in then."""
    key = (term, number)
    row = database.execute("SELECT packed FROM postings WHERE term = ? AND document = ?", key).fetchone()
    before = set(accumulate(unpack(row[0])[1:])) if row else set()
    after = sorted(before | {at} if here else before - {at})
    database.execute("DELETE FROM postings WHERE term = ? AND document = ?", key)
    if after:
        packed = pack((len(after), *map(sub, after, (0, *after))))
        database.execute("INSERT INTO postings VALUES (?, ?, ?)", (*key, packed))
    return bool(after) - bool(before)


def _put_pictures(database: sqlite3.Connection, pictures: Mapping[str, object]) -> None:
    database.executemany("DELETE FROM pictures WHERE entry = ?", ((entry,) for entry in pictures))
    rows = ((entry, as_json(told)) for entry, told in pictures.items() if told)
    database.executemany("INSERT INTO pictures VALUES (?, ?)", rows)


def _row_of(number: int, one: Laid) -> tuple[object, ...]:
    return number, one.day, one.card, one.key, as_json(one.words)


def _state(database: sqlite3.Connection, facts: Mapping[str, object]) -> None:
    """Lay down facts."""
    rows = ((name, as_json(list(value) if isinstance(value, range) else value)) for name, value in facts.items())
    database.executemany("INSERT INTO facts VALUES (?, ?) ON CONFLICT DO UPDATE SET value = excluded.value", rows)


def _write(file: Path, source: Path | None, fill: Callable[[sqlite3.Connection], None]) -> None:
    """`fill` a database, empty or a copy of `source`, and put it in the place of `file`."""
    with scratch_beside(file, shared=True) as scratch:
        try:
            if source:
                shutil.copyfile(source, scratch)
            with closing(sqlite3.connect(scratch, isolation_level=None)) as database:
                database.executescript(
                    "PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF; PRAGMA secure_delete = ON; BEGIN;"
                )
                fill(database)
                database.execute("COMMIT")
        except sqlite3.Error as trouble:
            raise OSError(None, str(trouble), str(file)) from trouble
        scratch.replace(file)
    # Of runs that were stopped, and of earlier programs: whatever became private since still stands in them.
    for left in (*left_scratch(file.parent), *file.parent.glob("words-*")):
        with suppress(OSError):
            left.unlink()


def as_json(value: object) -> str:
    """Plain values in as few letters as hold them."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))
