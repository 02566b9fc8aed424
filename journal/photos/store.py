"""The originals of a build and the pictures made from them, kept so that nothing is done twice.

Two things lie in the cache folder: the index of originals (`index.py`), and the renditions, each
under a name that tells all there is to know about it. So there is no second book that could
disagree with the files, builds that run side by side cannot spoil each other's work, and the
whole folder may be deleted at any moment.
"""

from __future__ import annotations

import atexit
import contextlib
import gc
import os
import re
import shutil
import tempfile
import threading
import time
import warnings
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from PIL import Image

from journal.model import PhotoFacts, PhotoSettings
from journal.photos import kinds
from journal.photos.decode import check_whole, decode, memory_needed, open_picture, plain_words, read_exif, why_unusable
from journal.photos.facts import read_facts
from journal.photos.index import Examined, Row, examined_in, read_index, render_index, row_of, still_true
from journal.photos.kinds import HEAD_BYTES, UnusableError
from journal.photos.originals import Opened, opened, print_of
from journal.photos.rendition import (
    LONG_EDGES,
    Encoded,
    Recipe,
    make_recipe,
    picture_key,
    planned_sizes,
    render_renditions,
)

Item = TypeVar("Item")
Result = TypeVar("Result")

Progress = Callable[[int, int], None]
"""Called with how many of how many are done, from the thread that asked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureJob:
    """One picture to publish: which original, in which state, with which words and settings."""

    src_uri: str
    sha256: str
    caption: str
    credit: str
    settings: PhotoSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class Rendition:
    """One size of a picture, on disk at `path`; `name` is what it is called on the site."""

    width_px: int
    height_px: int
    name: str
    path: Path
    bytes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """All sizes of a picture, narrowest first; or none, and in `trouble` why."""

    renditions: tuple[Rendition, ...] = ()
    trouble: str = ""


_KEY = "[0-9a-f]{32}"
_FILE = re.compile(rf"({_KEY})\.(\d)of(\d)\.(\d+)x(\d+)\.(\d+)\.jpg")
"""A rendition in the cache: key, which of how many, width, height, length in bytes."""

_TROUBLE_FILE = re.compile(rf"({_KEY})\.trouble")
_INDEX = "originals.index"
_RENDITIONS = "renditions"
_UNFINISHED = ".part"
_UNFINISHED_FOR_S = 3600

_LASTING = {kinds.EMPTY, kinds.CUT_SHORT, kinds.UNKNOWN, kinds.TOO_LARGE, kinds.DAMAGED}
"""Troubles that lie in the file and will be the same next time; a disk that fails may not."""

_MEMORY = 512_000_000  # bytes that all pictures being decoded at one time may take together
_FRESH_NS = 100_000_000  # a file changed this shortly before it was read could change again unnoticed


class PhotoStore:
    """The photos of one build. `root` is the build folder, `cache` its folder for what can be made again."""

    def __init__(self, root: Path, cache: Path) -> None:
        self._root = root
        self._cache = cache
        self._spare: Path | None = None
        self._index: dict[str, Row] | None = None
        self._memory = _Allowance(_MEMORY)
        self._lock = threading.Lock()
        self._asked: set[str] = set()
        self._told: set[str] = set()
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
            index = self._load_index()
            found = self._unchanged(index, src_uris)
        to_read = [src_uri for src_uri in dict.fromkeys(src_uris) if src_uri not in found]
        fresh = False
        for src_uri, row, examined in self._each(to_read, self._examine_one, progress):
            found[src_uri] = examined
            if row is not None:
                index[src_uri] = row
                fresh = True
            elif index.pop(src_uri, None):
                fresh = True
        if fresh:
            self._write_file(Path(_INDEX), render_index(index))
        return {src_uri: found[src_uri] for src_uri in src_uris}

    def _unchanged(self, index: Mapping[str, Row], src_uris: Sequence[str]) -> dict[str, Examined]:
        """What the index knows of files that are as they were."""
        root = os.fspath(self._root)
        found: dict[str, Examined] = {}
        for src_uri in src_uris:
            row = index.get(src_uri)
            try:
                # A Path for each of 20,000 would cost more than asking the disk.
                if row is not None and still_true(row, print_of(os.stat(f"{root}/{src_uri}"))):  # noqa: PTH116
                    found[src_uri] = examined_in(row)
            except (OSError, ValueError):
                continue
        return found

    def _examine_one(self, src_uri: str) -> tuple[str, Row | None, Examined]:
        """(`src_uri`, what to note down or None, what was found)."""
        begun_ns = time.time_ns()
        digest, facts = "", PhotoFacts()
        try:
            with opened(self._root / src_uri) as original:
                digest, facts = original.sha256(), read_facts(original.source)
                original.check_unchanged()
                examined = Examined(sha256=digest, facts=facts)
                settled = begun_ns - original.changed_ns > _FRESH_NS
                return src_uri, row_of(original.print, examined) if settled else None, examined
        except (OSError, ValueError, MemoryError, UnusableError) as error:
            return src_uri, None, Examined(sha256="", facts=PhotoFacts(trouble=plain_words(error)))

    def _load_index(self) -> dict[str, Row]:
        if self._index is None:
            self._index = {}
            for folder in self._folders():
                self._index |= read_index(folder / _INDEX)
        return self._index

    # -- renditions --------------------------------------------------------------------------

    def render(self, jobs: Sequence[PictureJob], progress: Progress | None = None) -> dict[PictureJob, Picture]:
        """The picture for each job, from the cache or made now; a picture wanted twice is made once.

        Never raises for what an original holds (`Picture.trouble` says it); OSError where nothing
        can be written anywhere. A store that is kept from build to build answers from memory what it
        has answered before, as long as the files are still there.
        """
        known = {job: picture for job in jobs if (picture := self._rendered.get(job)) and _still_there(picture)}
        fresh = [job for job in dict.fromkeys(jobs) if job not in known]
        if fresh:
            known |= self._found_or_made(fresh, progress)
        self._rendered = {job: known[job] for job in jobs}
        return dict(self._rendered)

    def _found_or_made(self, jobs: Sequence[PictureJob], progress: Progress | None) -> dict[PictureJob, Picture]:
        # What could not even be read has no digest and goes by its name.
        keys = {job: picture_key(job.sha256, _recipe(job)) if job.sha256 else job.src_uri for job in jobs}
        self._load_index()  # before there are threads that want it
        shelf = _Shelf(self._folders())
        pictures: dict[str, Picture] = {}
        to_make: dict[str, PictureJob] = {}
        for job, key in keys.items():
            if key in pictures or key in to_make:
                continue
            if not job.sha256:
                pictures[key] = Picture(trouble=self._why_not(job))
            elif picture := shelf.find(key):
                pictures[key] = picture
            else:
                to_make[key] = job
        pictures |= dict(self._each(list(to_make.items()), self._make, progress))
        self._told.update(f"{key}.trouble" for key, picture in pictures.items() if picture.trouble)
        return {job: pictures[key] for job, key in keys.items()}

    def _make(self, item: tuple[str, PictureJob]) -> tuple[str, Picture]:
        key, job = item
        try:
            with opened(self._root / job.src_uri) as original:
                self._check_is(original, job)
                made = self._made(original, _recipe(job))
                original.check_unchanged()
        except (OSError, ValueError, MemoryError, UnusableError) as error:
            return key, Picture(trouble=plain_words(error))
        if isinstance(made, str):
            if made in _LASTING:
                self._write_file(_place(key) / f"{key}.trouble", made.encode())
            return key, Picture(trouble=made)
        return key, Picture(renditions=tuple(self._kept(key, made)))

    def _check_is(self, original: Opened, job: PictureJob) -> None:
        """Raise `UnusableError` where this is no longer the content that the job names: what is made from
        it would be kept under the wrong key for ever.
        """
        row = self._load_index().get(job.src_uri)
        known = examined_in(row).sha256 if row is not None and still_true(row, original.print) else original.sha256()
        if known != job.sha256:
            raise UnusableError(kinds.CHANGED)

    def _made(self, original: Opened, recipe: Recipe) -> list[Encoded] | str:
        """The renditions, or why there are none."""
        source = original.source
        source.seek(0)
        head = source.read(HEAD_BYTES)
        kind = kinds.sniff(head)
        if kind is None:
            return kinds.UNKNOWN if head else kinds.EMPTY
        try:
            picture = open_picture(kind, source)
            exif = read_exif(kind, picture, source)
            check_whole(kind, picture, source)
            with self._memory.taken(memory_needed(kind, picture, LONG_EDGES[-1])):
                image, size = decode(kind, picture, exif, LONG_EDGES[-1])
                del picture
                return render_renditions(image, planned_sizes(size), recipe)
        except Exception as error:  # a decoder may raise anything at all; see decode.py
            return why_unusable(kind, source, error)

    def _kept(self, key: str, made: Sequence[Encoded]) -> Iterator[Rendition]:
        for number, ((width, height), data) in enumerate(made, 1):
            name = f"{key}.{number}of{len(made)}.{width}x{height}.{len(data)}.jpg"
            path = self._write_file(_place(key) / name, data)
            yield _rendition(key, width, height, path, len(data))

    def _why_not(self, job: PictureJob) -> str:
        return self._examine_one(job.src_uri)[2].facts.trouble or kinds.CHANGED

    # -- the cache folder --------------------------------------------------------------------

    def prune(self, keep: Iterable[Rendition]) -> int:
        """Remove what is not among `keep`, and what a stopped build left half-written; how many files.

        What the index knows of originals that nobody asked this store about goes too. Call it
        after `render`, with every rendition in use.
        """
        kept = {rendition.path.name for rendition in keep} | self._told
        removed = 0
        for folder in self._folders():
            for path in list(_files_below(folder)):
                ours = _FILE.fullmatch(path.name) or _TROUBLE_FILE.fullmatch(path.name)
                if (ours and path.name not in kept) or _abandoned(path):
                    with contextlib.suppress(OSError):
                        path.unlink()
                        removed += 1
        index = self._load_index()
        unasked = index.keys() - self._asked
        if self._asked and unasked:
            for src_uri in unasked:
                del index[src_uri]
            self._write_file(Path(_INDEX), render_index(index))
        return removed

    def _folders(self) -> list[Path]:
        return [self._cache] if self._spare is None else [self._cache, self._spare]

    def _write_file(self, name: Path, data: bytes) -> Path:
        """Write below the cache folder, whole or not at all; into a spare folder, gone at the end of
        the program, where the cache cannot be written.
        """
        if self._spare is None:
            try:
                return _write_whole(self._cache / name, data)
            except OSError:
                with self._lock:
                    if self._spare is None:
                        self._spare = Path(tempfile.mkdtemp(prefix="journal-photos-"))
                        atexit.register(shutil.rmtree, self._spare, ignore_errors=True)
        return _write_whole(self._spare / name, data)

    # -- working on several at a time --------------------------------------------------------

    def _each(
        self, items: Sequence[Item], work: Callable[[Item], Result], progress: Progress | None
    ) -> Iterator[Result]:
        """The result of `work` for each item as it comes, with as many threads as there are processors:
        the decoders, the resizing and the hashing all run outside Python's lock.
        """
        if not items:
            return
        pool = ThreadPoolExecutor(max_workers=min(_processors(), len(items)))
        with _at_work:
            try:
                futures = [pool.submit(work, item) for item in items]
                for done, future in enumerate(as_completed(futures), 1):
                    result = future.result()
                    if progress is not None:
                        progress(done, len(items))
                    yield result
            finally:
                pool.shutdown(cancel_futures=True)


class _Shelf:
    """The renditions that lie in the cache folders, each folder listed once and only when needed."""

    def __init__(self, folders: Sequence[Path]) -> None:
        self._folders = folders
        self._seen: dict[Path, dict[str, list[os.DirEntry[str]]]] = {}

    def find(self, key: str) -> Picture | None:
        """The whole picture, or None where any of its files is missing or not as long as its name says."""
        for folder in self._folders:
            place = folder / _place(key)
            if place not in self._seen:
                self._seen[place] = _listed(place)
            if picture := _complete(key, self._seen[place].get(key, [])):
                return picture
        return None


def _listed(place: Path) -> dict[str, list[os.DirEntry[str]]]:
    files: dict[str, list[os.DirEntry[str]]] = defaultdict(list)
    with contextlib.suppress(OSError), os.scandir(place) as entries:
        for entry in entries:
            files[entry.name.partition(".")[0]].append(entry)
    return files


def _complete(key: str, entries: Sequence[os.DirEntry[str]]) -> Picture | None:
    found: dict[int, Rendition] = {}
    count = 0
    for entry in entries:
        try:
            length = entry.stat(follow_symlinks=False).st_size
            if _TROUBLE_FILE.fullmatch(entry.name) and length:
                return Picture(trouble=Path(entry.path).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            continue
        named = _FILE.fullmatch(entry.name)
        if named and length == int(named[6]):
            count = int(named[3])
            found[int(named[2])] = _rendition(key, int(named[4]), int(named[5]), Path(entry.path), length)
    if not count or sorted(found) != list(range(1, count + 1)):
        return None
    return Picture(renditions=tuple(found[number] for number in sorted(found)))


def _still_there(picture: Picture) -> bool:
    """Whether the files of a picture are as they were; one without files is asked about anew."""
    try:
        return bool(picture.renditions) and all(
            os.stat(rendition.path).st_size == rendition.bytes  # noqa: PTH116 (see `_unchanged`)
            for rendition in picture.renditions
        )
    except OSError:
        return False


def _rendition(key: str, width: int, height: int, path: Path, length: int) -> Rendition:
    name = f"{key}-{max(width, height)}.jpg"
    return Rendition(width_px=width, height_px=height, name=name, path=path, bytes=length)


def _recipe(job: PictureJob) -> Recipe:
    return make_recipe(
        watermark=job.settings.watermark,
        corner=job.settings.corner,
        opacity=job.settings.opacity,
        caption=job.caption,
        credit=job.credit,
    )


def _place(key: str) -> Path:
    return Path(_RENDITIONS, key[:2])


def _write_whole(path: Path, data: bytes) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    # Not by `tempfile`: its files are private to this user, and a web server must read these.
    unfinished = path.with_name(f"{path.name}.{os.getpid()}-{threading.get_ident()}{_UNFINISHED}")
    try:
        unfinished.write_bytes(data)
        unfinished.replace(path)
    except OSError:
        with contextlib.suppress(OSError):
            unfinished.unlink()
        raise
    return path


def _files_below(folder: Path) -> Iterator[Path]:
    for place, _, names in os.walk(folder):
        for name in names:
            yield Path(place, name)


def _abandoned(path: Path) -> bool:
    if not path.name.endswith(_UNFINISHED):
        return False
    try:
        return time.time() - path.stat().st_mtime > _UNFINISHED_FOR_S
    except OSError:
        return False


def _processors() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


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


_KEPT_BLOCKS = 64  # of 1 MB


class _AtWork:
    """What holds for the whole program while pictures are read or made, and is put back by the last
    store that does so.

    Decoders warn of odd Exif on the error stream; what matters of it becomes `trouble`. And Pillow
    keeps the memory of one picture for the next: giving it back and asking for it again, page by page,
    costs a tenth of the time. Pixels do not change.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._stores = 0
        self._undo = contextlib.ExitStack()

    def __enter__(self) -> None:
        with self._lock:
            self._stores += 1
            if self._stores > 1:
                return
            self._undo.enter_context(warnings.catch_warnings())
            warnings.simplefilter("ignore")
            allocator = Image.core  # type: ignore[attr-defined]  # named in Pillow's reference, "Block allocator"
            before = allocator.get_blocks_max()
            self._undo.callback(allocator.set_blocks_max, before)
            allocator.set_blocks_max(max(before, _KEPT_BLOCKS))

    def __exit__(self, *_: object) -> None:
        with self._lock:
            self._stores -= 1
            if not self._stores:
                self._undo.close()


_at_work = _AtWork()


class _Allowance:
    """Memory that may be taken at one time: small pictures go side by side, a huge one alone."""

    def __init__(self, total: int) -> None:
        self._total = total
        self._used = 0
        self._changed = threading.Condition()

    @contextlib.contextmanager
    def taken(self, amount: int) -> Iterator[None]:
        """Wait until `amount` bytes are free, or until nothing else is going on."""
        with self._changed:
            self._changed.wait_for(lambda: self._used + amount <= self._total or not self._used)
            self._used += amount
        try:
            yield
        finally:
            with self._changed:
                self._used -= amount
                self._changed.notify_all()
