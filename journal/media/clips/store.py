"""The clips of a build and the films made from them, kept so that nothing is encoded twice.

As with photos: a film lies in the cache under a name that tells all there is to know about it, and
the folder may be deleted at any moment.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from hashlib import sha256
from pathlib import Path

from journal.base.model import PhotoSettings
from journal.media.clips.encode import ENCODE_VERSION, FilmError, OnSecond, encode_film, encoder_version
from journal.media.clips.facts import ClipFacts, read_clip_facts
from journal.media.photos import Picture, Rendition
from journal.media.photos.rendition import Recipe, make_recipe, picture_key, planned_sizes, render_renditions

Progress = Callable[[int, int], None]
"""Told (seconds of film done, seconds in all): films take long, and one may take longer than all others."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipJob:
    """One clip to publish: which original, and with which settings."""

    src_uri: str
    settings: PhotoSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class Film:
    """A clip as the site shows it: `name` is what the file is called in `clips/`, `path` where it lies now.

    `poster` is a picture of it in the photos' sizes. `trouble` says why there is no film; then `path`
    is None and `poster` empty.
    """

    name: str = ""
    path: Path | None = None
    width_px: int = 0
    height_px: int = 0
    bytes: int = 0
    seconds: int = 0
    poster: Picture = field(default_factory=Picture)
    trouble: str = ""


UNREADABLE = "the file cannot be read"

_KEY = "[0-9a-f]{32}"
_FILM = re.compile(rf"({_KEY})\.(\d+)x(\d+)\.(\d+)s\.(\d+)\.mp4")
_POSTER = re.compile(rf"({_KEY})\.(\d)of(\d)\.(\d+)x(\d+)\.(\d+)\.jpg")
_TROUBLE = re.compile(rf"({_KEY})\.trouble")
_INDEX = "originals.json"


class ClipStore:
    """The films of one build. `root` is the build folder, `cache` its folder for what can be made again."""

    def __init__(self, root: Path, cache: Path) -> None:
        self._root = root
        self._cache = cache

    def digest(self, src_uri: str) -> str:
        """SHA-256 of an original, read only if it has changed since; empty where it cannot be read."""
        path = self._root / src_uri
        try:
            found = path.stat()
            told = [found.st_size, found.st_mtime_ns, found.st_ino, found.st_ctime_ns]
            known = self._index().get(src_uri)
            if known is not None and known[:4] == told:
                return str(known[4])
            digest = _file_sha256(path)
        except OSError:
            return ""
        with contextlib.suppress(OSError):
            rows = self._index() | {src_uri: [*told, digest]}
            _write_whole(self._cache / _INDEX, json.dumps(rows, sort_keys=True).encode())
        return digest

    def facts(self, src_uri: str) -> ClipFacts:
        """What an original says of itself."""
        try:
            with (self._root / src_uri).open("rb") as source:
                return read_clip_facts(source)
        except OSError:
            return ClipFacts(trouble=UNREADABLE)

    def render(self, jobs: Sequence[ClipJob], progress: Progress | None = None) -> dict[ClipJob, Film]:
        """The film for each job, from the cache or made now, one after another: each uses all processors.

        Never raises for what an original holds (`Film.trouble` says it); OSError where nothing can be written.
        """
        films = self.shelved(jobs)
        waiting = [job for job in dict.fromkeys(jobs) if job not in films]
        facts = {job: self.facts(job.src_uri) for job in waiting}
        total = sum(max(one.seconds, 1) for one in facts.values())
        begun = 0
        for job in waiting:
            length = max(facts[job].seconds, 1)

            def tell(seconds: int, begun: int = begun, length: int = length) -> None:
                if progress is not None:
                    progress(begun + min(seconds, length), total)

            films[job] = self._film(job, facts[job], tell)
            begun += length
            tell(length)
        return films

    def shelved(self, jobs: Sequence[ClipJob]) -> dict[ClipJob, Film]:
        """The films that are made already, and the reasons that are known; nothing is encoded."""
        found = {}
        for job in jobs:
            digest = self.digest(job.src_uri)
            film = self._on_shelf(film_key(digest, _recipe(job))) if digest else Film(trouble=UNREADABLE)
            if film is not None:
                found[job] = film
        return found

    def prune(self, keep: Iterable[Film]) -> int:
        """Remove films and posters that are not among `keep`, and what was left half-written; how many files."""
        kept = {name for film in keep for name in _names(film)}
        removed = 0
        if not self._cache.is_dir():
            return 0
        for path in list(self._cache.iterdir()):
            ours = any(pattern.fullmatch(path.name) for pattern in (_FILM, _POSTER))
            if (ours and path.name not in kept) or path.suffix == ".part":
                with contextlib.suppress(OSError):
                    path.unlink()
                    removed += 1
        return removed

    # -- one film --------------------------------------------------------------------------------

    def _film(self, job: ClipJob, facts: ClipFacts, on_second: OnSecond) -> Film:
        if facts.trouble:
            return Film(trouble=facts.trouble)
        recipe = _recipe(job)
        key = film_key(self.digest(job.src_uri), recipe)
        try:
            made = encode_film(self._root / job.src_uri, facts.seconds, recipe, on_second)
        except FilmError as trouble:
            _write_whole(self._cache / f"{key}.trouble", str(trouble).encode())
            return Film(trouble=str(trouble))
        width, height = made.frame.size
        renditions = []
        posters = render_renditions(made.frame, planned_sizes(made.frame.size), recipe)
        for number, (size, data) in enumerate(posters, start=1):
            name = f"{key}.{number}of{len(posters)}.{size[0]}x{size[1]}.{len(data)}.jpg"
            path = _write_whole(self._cache / name, data)
            renditions.append(Rendition(width_px=size[0], height_px=size[1], name=name, path=path, bytes=len(data)))
        # The film last: while it is missing the clip counts as not made.
        name = f"{key}.{width}x{height}.{made.seconds}s.{len(made.data)}.mp4"
        path = _write_whole(self._cache / name, made.data)
        return Film(
            name=name,
            path=path,
            width_px=width,
            height_px=height,
            bytes=len(made.data),
            seconds=made.seconds,
            poster=Picture(renditions=tuple(renditions)),
        )

    def _on_shelf(self, key: str) -> Film | None:
        """The film under this key with its poster, or None where anything is missing or of another length."""
        film: Film | None = None
        posters: dict[int, Rendition] = {}
        count = 0
        for path in self._cache.glob(f"{key}.*") if self._cache.is_dir() else ():
            try:
                length = path.stat().st_size
            except OSError:
                continue
            if _TROUBLE.fullmatch(path.name):
                return Film(trouble=path.read_text("utf-8"))
            if (named := _FILM.fullmatch(path.name)) and int(named[5]) == length:
                film = Film(
                    name=path.name,
                    path=path,
                    width_px=int(named[2]),
                    height_px=int(named[3]),
                    seconds=int(named[4]),
                    bytes=length,
                )
            elif (named := _POSTER.fullmatch(path.name)) and int(named[6]) == length:
                count = int(named[3])
                posters[int(named[2])] = Rendition(
                    width_px=int(named[4]), height_px=int(named[5]), name=path.name, path=path, bytes=length
                )
        if film is None or not count or sorted(posters) != list(range(1, count + 1)):
            return None
        return replace(film, poster=Picture(renditions=tuple(posters[number] for number in sorted(posters))))

    def _index(self) -> dict[str, list[int | str]]:
        try:
            rows = json.loads((self._cache / _INDEX).read_bytes())
        except (OSError, ValueError):
            return {}
        return rows if isinstance(rows, dict) and all(len(row) == 5 for row in rows.values()) else {}


def _recipe(job: ClipJob) -> Recipe:
    """The photos' own: the mark is that of the photos, and posters are pictures like any other."""
    return make_recipe(
        watermark=job.settings.watermark,
        corner=job.settings.corner,
        opacity=job.settings.opacity,
        caption="",
        credit="",
    )


def film_key(original_sha256: str, recipe: Recipe) -> str:
    """The name a film goes by: 32 digits from the original, the recipe, the code and the encoder."""
    text = json.dumps([picture_key(original_sha256, recipe), ENCODE_VERSION, encoder_version()])
    return sha256(text.encode()).hexdigest()[:32]


def _names(film: Film) -> list[str]:
    return [film.name, *(rendition.name for rendition in film.poster.renditions)]


def _file_sha256(path: Path) -> str:
    digest = sha256()
    with path.open("rb") as source:
        while piece := source.read(1 << 20):
            digest.update(piece)
    return digest.hexdigest()


def _write_whole(path: Path, data: bytes) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    # Not by `tempfile`: its files are private to this user, and a web server must read these.
    unfinished = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        unfinished.write_bytes(data)
        unfinished.replace(path)
    except BaseException:
        unfinished.unlink(missing_ok=True)
        raise
    return path
