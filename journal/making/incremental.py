"""What the next build of a site may take over from an earlier one: pages that say the same, and pictures.

A page is taken over only if everything that shapes it is the same (its record, what stands around
every page, templates, settings, versions) and its file is still as it was written. What cannot be
proved unchanged is made anew; nothing that the new site does not name survives in it.
"""

from __future__ import annotations

import contextlib
import hashlib
import importlib.metadata
import json
import os
import pickle
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any, NamedTuple

import journal
from journal.base.fingerprints import code_digest, packed
from journal.base.safe_write import copy_whole, link_or_copy, write_whole
from journal.site.prose_html import Prose, ProseRules, prose_as_json, prose_from_json

PACKAGES = ("mkdocs", "jinja2", "markdown", "markupsafe")


class KeptPage(NamedTuple):
    """A page's file as it was written: what shaped it, its length and its time in nanoseconds."""

    fingerprint: str
    bytes: int
    mtime_ns: int


KeptPages = Mapping[str, KeptPage]
"""What a finished site folder is known to hold: pages by path below it."""


def read_pages(file: Path, folder: Path) -> KeptPages | None:
    """What `file` says of `folder`, or None: it speaks of another folder, or cannot be read."""
    try:
        said = json.loads(file.read_bytes())
        here = folder.stat()
        if said["folder"] != [here.st_dev, here.st_ino]:
            return None
        return {path: KeptPage(str(mark), int(size), int(time)) for path, (mark, size, time) in said["pages"].items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None


def write_pages(file: Path, folder: Path, fingerprints: Mapping[str, str]) -> None:
    """Note down the pages of `folder`; a note that cannot be written only costs time later."""
    with contextlib.suppress(OSError):
        here = folder.stat()
        pages = {}
        for path, fingerprint in fingerprints.items():
            page = os.stat(folder / path)  # noqa: PTH116  (a thousand times)
            pages[path] = [fingerprint, page.st_size, page.st_mtime_ns]
        write_whole(file, json.dumps({"folder": [here.st_dev, here.st_ino], "pages": pages}).encode(), cache=True)


def strip_to(folder: Path, pages: KeptPages, whole: Iterable[str]) -> KeptPages:
    """Remove from `folder` everything but the files that `pages` vouches for and the sub-folders `whole`; what is
    left of the pages.
    """
    kept: dict[str, KeptPage] = {}
    spared = set(whole)
    root = os.fspath(folder)
    for here, folders, files in os.walk(root):
        below = here.removeprefix(root).strip(os.sep)
        prefix = below.replace(os.sep, "/") + "/" if below else ""
        folders[:] = [name for name in folders if prefix + name not in spared]
        for name in files:
            page = pages.get(prefix + name)
            file = os.path.join(here, name)  # noqa: PTH118  (a thousand times)
            if page is not None:
                found = os.stat(file)  # noqa: PTH116
                if (found.st_size, found.st_mtime_ns) == (page.bytes, page.mtime_ns):
                    kept[prefix + name] = page
                    continue
            os.unlink(file)  # noqa: PTH108
    return kept


def take_over(page: KeptPage | None, fingerprint: str, source: Path, path: Path) -> bool:
    """Put a copy of the page `source` of a finished site at `path`, where `page` vouches that it is what
    `fingerprint` stands for; whether it did.
    """
    with contextlib.suppress(OSError):
        found = source.stat()
        if page == (fingerprint, found.st_size, found.st_mtime_ns):
            copy_whole(source, path)
            return True
    return False


def place_linked(linked: Mapping[str, Path], site: Path, folders: Iterable[str]) -> None:
    """Put every file of `linked` (name below the site -> where it lies) in its place: the same file under
    a second name, else a copy. In `folders` whatever is not wanted goes; what is there already stays
    (names there stand for contents).
    """
    there: set[str] = set()
    root = os.fspath(site)
    for folder in folders:
        if not (site / folder).is_dir() and not any(name.startswith(folder) for name in linked):
            continue
        (site / folder).mkdir(parents=True, exist_ok=True)
        for name in os.listdir(site / folder):  # noqa: PTH208  (thirty thousand names)
            if folder + name in linked:
                there.add(folder + name)
            else:
                os.unlink(f"{root}/{folder}{name}")  # noqa: PTH108
    for name in linked.keys() - there:
        link_or_copy(linked[name], f"{root}/{name}")


class Fingerprints:
    """Fingerprints of pages made under one set of circumstances."""

    def __init__(self, *, settings: Path, templates: Iterable[Path], around: object) -> None:
        digest = hashlib.sha256()
        digest.update(journal.__version__.encode())
        for package in PACKAGES:
            digest.update(f"{package} {importlib.metadata.version(package)}\n".encode())
        digest.update(code_digest())
        for file in (settings, *(file for folder in templates for file in sorted(folder.rglob("*.html")))):
            digest.update(file.name.encode())
            with contextlib.suppress(OSError):
                digest.update(file.read_bytes())
        digest.update(packed(around))
        self._circumstances = digest.digest()

    def of(self, page: object) -> str:
        """The fingerprint of a page's record; empty (never equal to a kept one) where it has none."""
        try:
            return hashlib.sha256(self._circumstances + packed(page)).hexdigest()
        except (pickle.PicklingError, TypeError, AttributeError):
            return ""


class Kept:
    """What was made at an earlier build, as rows of plain JSON by key; only what was asked for stays.

    A key tells all that a row comes of, the code among it. A damaged file counts as none.
    """

    def __init__(self, file: Path) -> None:
        self._file = file
        self._rows: dict[str, str] = {}
        self._used: dict[str, str] = {}
        self._fresh = False
        with contextlib.suppress(OSError, ValueError, TypeError):
            told, _, rows = file.read_bytes().partition(b"\n")
            if told.decode() == hashlib.sha256(rows).hexdigest():
                self._rows = dict(row.split(" ", 1) for row in rows.decode().split("\n"))

    def find_or_make(self, key: str, make: Callable[[], object]) -> Any:
        """The row of `key`; what `make` gives where none is kept, which is kept for the next build."""
        if (told := self._rows.get(key)) is not None:
            row = json.loads(told)
        else:
            self._fresh, row = True, make()
            told = json.dumps(row, ensure_ascii=False, separators=(",", ":"))
        self._used[key] = told
        return row

    def write(self) -> None:
        """Put down what was used; a cache that cannot be written only costs time later."""
        if not self._fresh and len(self._used) == len(self._rows):
            return
        with contextlib.suppress(OSError):
            rows = "\n".join([f"{key} {told}" for key, told in self._used.items()]).encode()
            write_whole(self._file, hashlib.sha256(rows).hexdigest().encode() + b"\n" + rows, cache=True)


class KeptProse(Kept):
    """Bodies rendered at an earlier build; called for each, it renders those that it does not know."""

    def __init__(self, file: Path) -> None:
        super().__init__(file)
        self._rules: object = None
        self._digest = b""

    def __call__(self, rules: ProseRules, facts: tuple[object, ...], render: Callable[[], Prose]) -> Prose:
        """What comes of `facts` under `rules` (the same object for a whole site) with the code as it is."""
        if self._rules is not rules:
            self._rules, self._digest = rules, code_digest() + hashlib.sha256(packed(rules)).digest()
        key = hashlib.sha256(self._digest + packed(facts)).hexdigest()[:32]
        row = self.find_or_make(key, lambda: prose_as_json(render()))
        return prose_from_json(row, rules.terms)
