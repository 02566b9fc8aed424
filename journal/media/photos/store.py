"""The originals of a build and the pictures made from them, kept so that nothing is done twice.

Two things lie in the cache folder: the index of originals (`originals.py`) and the renditions (`cache.py`).
The whole folder may be deleted at any moment.
"""

from __future__ import annotations

import contextlib
import gc
import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

import PIL
import pillow_heif

from journal.base.byte_progress import Progress, silent
from journal.base.digests import in_threads
from journal.base.model import RAW_ENDINGS, UNEDITED, Edits, PhotoFacts, PhotoSettings
from journal.media.photos import kinds
from journal.media.photos.cache import CacheFolder, Picture, Rendition, Shelf, still_there
from journal.media.photos.facts import FACTS_VERSION, facts_in_row, row_of_facts
from journal.media.photos.originals import OriginalsIndex, Row, print_of
from journal.media.photos.rendition import Recipe, make_recipe, picture_key
from journal.media.photos.service import SERVICE
from journal.media.photos.work import Examine, Render

Item = TypeVar("Item")
Result = TypeVar("Result")


@dataclass(frozen=True, slots=True, kw_only=True)
class Examined:
    """An original as it is now: its digest (empty where it cannot be read at all) and its facts."""

    sha256: str
    facts: PhotoFacts


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureJob:
    """One picture to publish: which original, in which state, with which words and settings."""

    src_uri: str
    sha256: str
    caption: str
    credit: str
    settings: PhotoSettings
    edits: Edits = UNEDITED


_IN_PART = RAW_ENDINGS | {".psd"}
"""Endings of which not every file can be shown, told by its format; of others, one that is not is no such file."""

_VERSION = [FACTS_VERSION, PIL.__version__, pillow_heif.__version__]
_COLUMNS = 18
_LASTING = {kinds.EMPTY, kinds.CUT_SHORT, kinds.UNKNOWN, kinds.TOO_LARGE, kinds.DAMAGED}
_LASTING |= {kinds.HOLLOW, kinds.NO_MEMORY, kinds.TOO_LONG, kinds.CRASHED}
"""Troubles that lie in the file and will be the same next time; a disk that fails may not."""


class PhotoStore:
    """The photos of one build. `root` is the build folder, `cache` its folder for what can be made again."""

    def __init__(self, root: Path, cache: Path) -> None:
        self._root = root
        self._cache = CacheFolder(cache, "renditions/{:.2}/")
        self._index = OriginalsIndex(self._cache, "originals.index", _VERSION, _COLUMNS)
        self._asked: set[str] = set()
        self._troubled: set[str] = set()
        self._rendered: dict[PictureJob, Picture] = {}

    # -- originals ---------------------------------------------------------------------------

    def examine(self, src_uris: Sequence[str], progress: Progress | None = None) -> dict[str, Examined]:
        """Digest and facts of each original, reading only those that are new or have changed.

        Never raises for what it finds: a file that is missing, no file at all or no picture has
        `facts.trouble`. Facts come from the header and the structure; damage inside the
        compressed data shows when the picture is rendered.
        """
        self._asked.update(src_uris)
        with _uncollected():
            found = self._unchanged(src_uris)
        unread = [src_uri for src_uri in dict.fromkeys(src_uris) if src_uri not in found]
        fresh: list[Row] = []
        for src_uri, row, examined in _each(unread, self._examine_one, progress or silent):
            found[src_uri] = examined
            fresh += filter(None, (row, self._index.rows.pop(src_uri, None)))
            self._index.rows |= {src_uri: row} if row else {}
        if fresh:
            self._index.write()
        return {src_uri: found[src_uri] for src_uri in src_uris}

    def _unchanged(self, src_uris: Sequence[str]) -> dict[str, Examined]:
        """What the index knows of files that are as they were."""
        root = os.fspath(self._root)
        found: dict[str, Examined] = {}
        for src_uri in src_uris:
            try:
                # A Path for each of 20,000 would cost more than asking the disk.
                row = self._index.known(src_uri, print_of(os.stat(os.path.join(root, src_uri))))  # noqa: PTH116, PTH118
            except (OSError, ValueError):
                continue
            if row is not None:
                found[src_uri] = Examined(sha256=row[4], facts=facts_in_row(row[5:], row[0]))
        return found

    def _examine_one(self, src_uri: str) -> tuple[str, Row | None, Examined]:
        return src_uri, *_examine(self._root / src_uri)

    # -- renditions --------------------------------------------------------------------------

    def render(self, jobs: Sequence[PictureJob], progress: Progress | None = None) -> dict[PictureJob, Picture]:
        """The picture for each job, from the cache or made now; a picture wanted twice is made once.

        Never raises for what an original holds (`Picture.trouble` says it); OSError where nothing
        can be written anywhere. A store that is kept from build to build answers from memory what it
        has answered before, as long as the files are still there.
        """
        known = {job: picture for job in jobs if (picture := self._rendered.get(job)) and still_there(picture)}
        fresh = [job for job in dict.fromkeys(jobs) if job not in known]
        if fresh:
            known |= self._found_or_made(fresh, progress or silent)
        self._rendered = {job: known[job] for job in jobs}
        return dict(self._rendered)

    def _found_or_made(self, jobs: Sequence[PictureJob], progress: Progress) -> dict[PictureJob, Picture]:
        # What could not even be read has no digest and goes by its name.
        keys = {job: picture_key(job.sha256, _recipe(job)) if job.sha256 else job.src_uri for job in jobs}
        _ = self._index.rows  # before there are threads that want them
        shelf = Shelf(self._cache)
        pictures: dict[str, Picture] = {}
        to_make: dict[str, PictureJob] = {}
        for job, key in keys.items():
            if key in pictures or key in to_make:
                continue
            if not job.sha256:
                trouble = self._examine_one(job.src_uri)[2].facts.trouble
                pictures[key] = Picture(trouble=trouble or kinds.CHANGED)
            elif trouble := _known_trouble(shelf, job.sha256):
                pictures[key] = Picture(trouble=trouble)
            elif (picture := shelf.find(key)) and not picture.trouble:
                pictures[key] = picture
            else:
                to_make[key] = job
        pictures |= dict(_each(list(to_make.items()), self._make, progress))
        self._troubled.update(_trouble_key(job.sha256) for job, key in keys.items() if pictures[key].trouble)
        return {job: pictures[key] for job, key in keys.items()}

    def _make(self, item: tuple[str, PictureJob]) -> tuple[str, Picture]:
        key, job = item
        row = self._index.rows.get(job.src_uri)
        seen = (row[0], row[1], row[2], row[3]) if row and row[4] == job.sha256 else None
        path = self._root / job.src_uri
        said, parts = SERVICE.ask(Render(path=path, sha256=job.sha256, seen=seen, recipe=_recipe(job)))
        if trouble := said.get("trouble"):
            if trouble in _LASTING:
                self._cache.write_keyed(_trouble_key(job.sha256), "trouble", trouble.encode())
            return key, Picture(trouble=trouble)
        return key, self._cache.keep(
            key, [(tuple(size), data) for size, data in zip(said["sizes"], parts, strict=True)]
        )

    def known_troubles(self, digests: Iterable[str]) -> dict[str, str]:
        """Digest -> why no picture could be made of that original when it was tried; nothing is tried now."""
        shelf = Shelf(self._cache)
        return {digest: trouble for digest in digests if (trouble := _known_trouble(shelf, digest))}

    def prune(self, keep: Iterable[Rendition]) -> int:
        """Remove what is not among `keep`, and what a stopped build left half-written; how many files.

        What the index knows of originals that nobody asked this store about goes too. Call it
        after `render`, with every rendition in use.
        """
        removed = self._cache.prune({rendition.path.name for rendition in keep}, self._troubled)
        if self._asked and (unasked := self._index.rows.keys() - self._asked):
            for src_uri in unasked:
                del self._index.rows[src_uri]
            self._index.write()
        return removed


def examine_file(path: Path) -> Examined:
    """Digest and facts of an original that belongs to no build yet; as with `PhotoStore.examine`."""
    return _examine(path)[1]


def _examine(path: Path) -> tuple[Row | None, Examined]:
    """(what to note down or None, what was found)."""
    said, _ = SERVICE.ask(Examine(path=path))
    print_, sha256 = said.get("print", (0,)), said.get("sha256", "")
    row = said.get("facts") or row_of_facts(PhotoFacts(trouble=said["trouble"]))
    if row[-1] == kinds.UNKNOWN and path.suffix.casefold() in _IN_PART:
        row[-1] += f" ({path.suffix[1:].upper()} file)"
    # Of a child that was stopped from outside nothing is noted down.
    lasts = said.get("settled") and ("facts" in said or said["trouble"] in _LASTING)
    return [*print_, sha256, *row] if lasts else None, Examined(sha256=sha256, facts=facts_in_row(row, print_[0]))


_ANY = make_recipe(PhotoSettings())


def _trouble_key(sha256: str) -> str:
    """What lies in the file is the same whatever is made of it."""
    return picture_key(sha256, _ANY)


def _known_trouble(shelf: Shelf, sha256: str) -> str:
    found = shelf.find(_trouble_key(sha256))
    return found.trouble if found and found.trouble in _LASTING else ""


def _recipe(job: PictureJob) -> Recipe:
    return make_recipe(job.settings, job.caption, job.credit, job.edits)


def _each(items: Sequence[Item], work: Callable[[Item], Result], progress: Progress) -> Iterator[Result]:
    """The result of `work` for each item, in order, with as many threads as there are processors, each of which asks a
    child process of its own (`service.py`). Stopped in the middle, it waits for no picture.
    """
    processors = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    if not items:
        return
    for done, result in enumerate(in_threads(work, items, processors, SERVICE.stop), 1):
        progress(done, len(items))
        yield result


@contextlib.contextmanager
def _uncollected() -> Iterator[None]:
    """Leave Python's collector of circles out of it: among tens of thousands of new records there are
    none, and looking for them again and again takes three quarters of the time.
    """
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()
