"""What finding at the terminal keeps beside content/, all of it free to be deleted at any moment.

The terminal's warm index is a database with an index and its cards, keyed by what the content
looked like when it was made: size and time of every file that an answer depends on, and the
version of the code. Where the key still fits, a question is answered without opening the journal.
Where it does not, the journal is opened and the index made anew. A damaged or foreign file counts as none.
"""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Mapping, Sequence
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

from journal import __version__
from journal.base.safe_write import scratch_beside
from journal.finding.index import FORMAT, Index, digest

FOLDER = "find"
_LISTS = ("build.yml", "steps.csv", "inventory.csv", "materials.csv", "terms.md")


def code_stamp() -> str:
    """The version of the code and rules that an index is made by: sizes and times of their files."""
    package = Path(__file__).parents[1]
    files = [file for kind in ("*.py", "*.csv", "*.json") for file in package.rglob(kind)]
    return digest([__version__, sorted((file.name, *_stamp(file)) for file in files)])


def content_key(root: Path, code: str) -> str:
    """What the content of the build folder `root` looks like from outside, as a short name.

    Entries, inspections and measurements are told by their folder's time (a photo came or went) and their
    text's size and time, in other forms than ID/index.md by those of every file; of the other
    files only those count that an answer depends on. `code` is the version of the program.
    """
    content = root / "content"
    seen: list[object] = [FORMAT, code]
    seen.extend((path.name, *_stamp(path)) for path in (root / "mkdocs.yml", *(content / name for name in _LISTS)))
    for kind in ("entries", "inspections", "measurements"):
        folders: list[tuple[str, int, int, int]] = []
        with suppress(OSError), os.scandir(content / kind) as found:
            for folder in found:
                size, written = _stamp(f"{folder.path}/index.md")
                folders.append((folder.name, folder.stat().st_mtime_ns, size, written))
                if size < 0:  # a single file, a text of another name, or the folder of a year with others in it
                    below = [Path(folder.path), *sorted(Path(folder.path).rglob("*"))]
                    folders += [(str(path), 0, *_stamp(path)) for path in below]
        seen.append((kind, sorted(folders)))
    return digest(seen)


def _stamp(path: str | Path) -> tuple[int, int]:
    try:
        # Thousands of them: a Path for each would cost more than the call.
        found = os.stat(path)  # noqa: PTH116
    except OSError:
        return (-1, -1)
    return (found.st_size, found.st_mtime_ns)


class WarmIndex:
    """An index at rest in a file. Opened only where its key fits; see `open_warm`."""

    def __init__(self, database: sqlite3.Connection) -> None:
        self._database = database
        self.lexicon: Mapping[str, Any] = json.loads(self._one("SELECT value FROM facts WHERE name = 'lexicon'"))
        self.about: Mapping[str, Any] = json.loads(self._one("SELECT value FROM facts WHERE name = 'about'"))

    def _one(self, question: str, *values: object) -> str:
        row = self._database.execute(question, values).fetchone()
        if row is None:
            raise sqlite3.DatabaseError("incomplete")
        return str(row[0])

    def postings(self, term: str) -> str | None:
        """The packed postings of `term`."""
        row = self._database.execute("SELECT packed FROM postings WHERE term = ?", (term,)).fetchone()
        return row[0] if row else None

    def card(self, document: int) -> dict[str, Any]:
        """The card of a document."""
        found: dict[str, Any] = json.loads(self._one("SELECT card FROM cards WHERE document = ?", document))
        return found

    def close(self) -> None:
        """Let go of the file."""
        self._database.close()


def open_warm(file: Path, key: str) -> WarmIndex | None:
    """The index in `file` if it was made for `key` and can be read, else None."""
    if not file.is_file():
        return None
    # Never written to once it is in place, so no lock is needed and a read-only folder will do.
    database = sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro&immutable=1", uri=True)
    with suppress(sqlite3.Error, ValueError):
        row = database.execute("SELECT value FROM facts WHERE name = 'key'").fetchone()
        if row is not None and row[0] == key:
            return WarmIndex(database)
    database.close()
    return None


def write_warm(
    file: Path,
    *,
    key: str,
    about: Mapping[str, Any],
    index: Index,
    cards: Sequence[Mapping[str, Any]],
) -> None:
    """Put an index into `file`, whole or not at all. Raises OSError where it cannot be written."""
    with scratch_beside(file, shared=True) as scratch:
        try:
            with closing(sqlite3.connect(scratch, isolation_level=None)) as database:
                database.executescript(
                    "PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF; BEGIN;"
                    "CREATE TABLE facts (name TEXT PRIMARY KEY, value TEXT) WITHOUT ROWID;"
                    "CREATE TABLE postings (term TEXT PRIMARY KEY, packed TEXT) WITHOUT ROWID;"
                    "CREATE TABLE cards (document INTEGER PRIMARY KEY, card TEXT);"
                )
                database.executemany("INSERT INTO postings VALUES (?, ?)", index.postings.items())
                database.executemany("INSERT INTO cards VALUES (?, ?)", enumerate(map(_json, cards)))
                facts = {"lexicon": _json(index.lexicon), "about": _json(about), "key": key}
                database.executemany("INSERT INTO facts VALUES (?, ?)", facts.items())
                database.execute("COMMIT")
        except sqlite3.Error as trouble:
            raise OSError(None, str(trouble), str(file)) from trouble
        scratch.replace(file)


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))
