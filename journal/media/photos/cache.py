"""The cache folder: pictures and films that may be deleted, cut short or left half-written at any moment.

Each file lies under a name that tells all there is to know about it, so there is no second book that could
disagree with the files, and builds that run side by side cannot spoil each other's work.
"""

from __future__ import annotations

import atexit
import contextlib
import os
import re
import shutil
import tempfile
import threading
import time
from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from journal.base.safe_write import write_whole
from journal.media.photos.rendition import Encoded


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
_PICTURE = re.compile(rf"{_KEY}\.(\d)of(\d)\.(\d+)x(\d+)\.(\d+)\.jpg")
"""A rendition in the cache: key, which of how many, width, height, length in bytes."""

_MADE = re.compile(rf"{_KEY}\..*\.(?:jpg|mp4)")
_TROUBLE = re.compile(rf"({_KEY})\.trouble")
_UNFINISHED = ".part"
_UNFINISHED_FOR_S = 3600


class CacheFolder:
    """A folder for what can be made again. Where it cannot be written, a spare one takes over that goes
    when the program ends. What goes by a key lies in the subfolder that `place` names for it (a format).
    """

    def __init__(self, folder: Path, place: str = "") -> None:
        self._folder = folder
        self._place = place
        self._spare: Path | None = None
        self._lock = threading.Lock()

    def folders(self) -> list[Path]:
        """Where to look, in this order."""
        return [self._folder] if self._spare is None else [self._folder, self._spare]

    def write(self, name: str, data: bytes) -> Path:
        """Write a file whole or not at all; where it now is. OSError where not even the spare folder
        can be written.
        """
        if self._spare is None:
            try:
                return write_whole(self._folder / name, data, cache=True)
            except OSError:
                with self._lock:
                    if self._spare is None:
                        self._spare = Path(tempfile.mkdtemp(prefix="journal-photos-"))
                        atexit.register(shutil.rmtree, self._spare, ignore_errors=True)
        return write_whole(self._spare / name, data, cache=True)

    def write_keyed(self, key: str, rest: str, data: bytes) -> Path:
        """`write` of what goes by a key; the name goes on with `rest`."""
        return self.write(f"{self.place(key)}{key}.{rest}", data)

    def place(self, key: str) -> str:
        """The subfolder for a key, with `/` at its end, or nothing."""
        return self._place.format(key)

    def keep(self, key: str, made: Sequence[Encoded]) -> Picture:
        """Write the renditions of a picture, smallest first."""
        renditions = []
        for number, ((width, height), data) in enumerate(made, 1):
            path = self.write_keyed(key, f"{number}of{len(made)}.{width}x{height}.{len(data)}.jpg", data)
            renditions.append(_rendition(key, width, height, path, len(data)))
        return Picture(renditions=tuple(renditions))

    def prune(self, kept_files: Collection[str], kept_troubles: Collection[str] | None = None) -> int:
        """Remove all that was made but what has these file names, all troubles but those of these keys (None:
        all are kept), and what a stopped build left half-written long ago; how many files.
        """
        removed = 0
        for folder in self.folders():
            for path in [Path(place, name) for place, _, names in os.walk(folder) for name in names]:
                if _MADE.fullmatch(path.name):
                    unused = path.name not in kept_files
                elif named := _TROUBLE.fullmatch(path.name):
                    unused = kept_troubles is not None and named[1] not in kept_troubles
                else:
                    unused = _abandoned(path)
                if unused:
                    with contextlib.suppress(OSError):
                        path.unlink()
                        removed += 1
        return removed


class Shelf:
    """What lies in a cache folder now, each subfolder listed once and only when needed."""

    def __init__(self, cache: CacheFolder) -> None:
        self._cache = cache
        self._seen: dict[Path, dict[str, list[os.DirEntry[str]]]] = {}

    def entries(self, key: str) -> Iterator[list[os.DirEntry[str]]]:
        """The files under a key, folder by folder."""
        for folder in self._cache.folders():
            place = folder / self._cache.place(key)
            if place not in self._seen:
                self._seen[place] = _listed(place)
            yield self._seen[place].get(key, [])

    def find(self, key: str) -> Picture | None:
        """The whole picture, or None where any of its files is missing or not as long as its name says."""
        return next((picture for entries in self.entries(key) if (picture := _complete(key, entries))), None)


def still_there(picture: Picture) -> bool:
    """Whether the files of a picture are as they were; one without files is asked about anew."""
    with contextlib.suppress(OSError):
        sizes = [os.stat(one.path).st_size for one in picture.renditions]  # noqa: PTH116 (tens of thousands of them)
        return bool(sizes) and sizes == [one.bytes for one in picture.renditions]
    return False


def length_of(entry: os.DirEntry[str]) -> int:
    """Length in bytes, -1 where nobody can tell."""
    try:
        return entry.stat(follow_symlinks=False).st_size
    except OSError:
        return -1


def _listed(place: Path) -> dict[str, list[os.DirEntry[str]]]:
    """The entries of a folder by the key their names begin with."""
    files: dict[str, list[os.DirEntry[str]]] = defaultdict(list)
    with contextlib.suppress(OSError), os.scandir(place) as entries:
        for entry in entries:
            files[entry.name.partition(".")[0]].append(entry)
    return files


def _complete(key: str, entries: Sequence[os.DirEntry[str]]) -> Picture | None:
    found: dict[int, Rendition] = {}
    count = 0
    for entry in entries:
        if _TROUBLE.fullmatch(entry.name):
            with contextlib.suppress(OSError, ValueError):
                return Picture(trouble=Path(entry.path).read_text(encoding="utf-8"))
        named = _PICTURE.fullmatch(entry.name)
        if named and length_of(entry) == int(named[5]):
            number, count, width, height, length = map(int, named.groups())
            found[number] = _rendition(key, width, height, Path(entry.path), length)
    if not count or sorted(found) != list(range(1, count + 1)):
        return None
    return Picture(renditions=tuple(found[number] for number in sorted(found)))


def _rendition(key: str, width: int, height: int, path: Path, length: int) -> Rendition:
    name = f"{key}-{max(width, height)}.jpg"
    return Rendition(width_px=width, height_px=height, name=name, path=path, bytes=length)


def _abandoned(path: Path) -> bool:
    with contextlib.suppress(OSError):
        return path.name.endswith(_UNFINISHED) and time.time() - path.stat().st_mtime > _UNFINISHED_FOR_S
    return False
