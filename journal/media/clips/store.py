"""The clips of a build and the films made from them, kept so that nothing is encoded twice.

As with photos: a film lies in the cache under a name that tells all there is to know about it, and
the folder may be deleted at any moment.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from hashlib import sha256
from pathlib import Path

from journal.base.byte_progress import Progress, silent
from journal.base.model import PhotoSettings
from journal.media.clips.encode import ENCODE_VERSION, FilmError, OnSecond, encode_film, encoder_version
from journal.media.clips.facts import ClipFacts, read_clip_facts
from journal.media.photos import Picture
from journal.media.photos.cache import CacheFolder, Shelf, length_of
from journal.media.photos.kinds import UnusableError
from journal.media.photos.originals import OriginalsIndex, opened, print_of
from journal.media.photos.rendition import Recipe, make_recipe, picture_key, planned_sizes, render_renditions


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

_FILM = re.compile(r"[0-9a-f]{32}\.(\d+)x(\d+)\.(\d+)s\.(\d+)\.mp4")


class ClipStore:
    """The films of one build. `root` is the build folder, `cache` its folder for what can be made again; `settings` say
    how pictures and films are marked.
    """

    def __init__(self, root: Path, cache: Path, settings: PhotoSettings) -> None:
        self._root = root
        self._cache = CacheFolder(cache)
        self._recipe = make_recipe(settings)
        self._index = OriginalsIndex(self._cache, "originals.index", [ENCODE_VERSION], 5)

    def digest(self, src_uri: str) -> str:
        """SHA-256 of an original, read only if it has changed since; empty where it cannot be read."""
        path = self._root / src_uri
        try:
            if row := self._index.known(src_uri, print_of(path.stat())):
                return str(row[4])
            with opened(path) as original:
                digest = original.sha256()
                original.check_unchanged()
        except (OSError, ValueError, UnusableError):
            return ""
        if original.settled:
            self._index.rows[src_uri] = [*original.print, digest]
            self._index.write()
        return digest

    def facts(self, src_uri: str) -> ClipFacts:
        """What an original says of itself."""
        try:
            with (self._root / src_uri).open("rb") as source:
                return read_clip_facts(source)
        except OSError:
            return ClipFacts(trouble=UNREADABLE)

    def render(self, src_uris: Sequence[str], progress: Progress | None = None) -> dict[str, Film]:
        """The film of each clip, from the cache or made now, one after another: each uses all processors.

        `progress` is told seconds of film, since one may take longer than all others. Never raises for what an original
        holds (`Film.trouble` says it); OSError where nothing can be written.
        """
        films = self.shelved(src_uris)
        facts = {src_uri: self.facts(src_uri) for src_uri in src_uris if src_uri not in films}
        total = sum(max(one.seconds, 1) for one in facts.values())
        begun, told = 0, progress or silent
        for src_uri, known in facts.items():
            length = max(known.seconds, 1)

            def tell(seconds: int, begun: int = begun, length: int = length) -> None:
                told(begun + min(seconds, length), total)

            films[src_uri] = self._film(src_uri, known, tell)
            begun += length
            tell(length)
        return films

    def shelved(self, src_uris: Sequence[str]) -> dict[str, Film]:
        """The films that are made already, and the reasons that are known; nothing is encoded."""
        shelf = Shelf(self._cache)
        found = {}
        for src_uri in src_uris:
            digest = self.digest(src_uri)
            film = _on(shelf, film_key(digest, self._recipe)) if digest else Film(trouble=UNREADABLE)
            if film is not None:
                found[src_uri] = film
        return found

    def prune(self, keep: Iterable[Film]) -> int:
        """Remove films and posters that are not among `keep`, and what was left half-written; how many files."""
        films = list(keep)
        posters = {rendition.path.name for film in films for rendition in film.poster.renditions}
        return self._cache.prune({film.name for film in films} | posters)

    def _film(self, src_uri: str, facts: ClipFacts, on_second: OnSecond) -> Film:
        if facts.trouble:
            return Film(trouble=facts.trouble)
        key = film_key(self.digest(src_uri), self._recipe)
        try:
            data, frame = encode_film(self._root / src_uri, facts.seconds, self._recipe, on_second)
        except FilmError as trouble:
            self._cache.write_keyed(key, "trouble", str(trouble).encode())
            return Film(trouble=str(trouble))
        size = frame.size
        poster = self._cache.keep(key, render_renditions(frame, planned_sizes(size), self._recipe))
        # The film last: while it is missing the clip counts as not made.
        rest = f"{size[0]}x{size[1]}.{facts.seconds}s.{len(data)}.mp4"
        return _film_of(self._cache.write_keyed(key, rest, data), poster)


def _on(shelf: Shelf, key: str) -> Film | None:
    """The film under this key with its poster, or None where anything is missing or of another length."""
    poster = shelf.find(key)
    if poster is None or poster.trouble:
        return Film(trouble=poster.trouble) if poster else None
    for entries in shelf.entries(key):
        for entry in entries:
            if (named := _FILM.fullmatch(entry.name)) and length_of(entry) == int(named[4]):
                return _film_of(Path(entry.path), poster)
    return None


def _film_of(path: Path, poster: Picture) -> Film:
    """The film in this file, as its name tells; its posters go by the names they have here."""
    named = _FILM.fullmatch(path.name)
    assert named is not None, path
    width, height, seconds, length = map(int, named.groups())
    return Film(
        name=path.name,
        path=path,
        width_px=width,
        height_px=height,
        bytes=length,
        seconds=seconds,
        poster=Picture(renditions=tuple(replace(one, name=one.path.name) for one in poster.renditions)),
    )


def film_key(original_sha256: str, recipe: Recipe) -> str:
    """The name a film goes by: 32 digits from the original, the recipe, the code and the encoder. The recipe is the
    photos' own: the mark is that of the photos, and posters are pictures like any other.
    """
    text = json.dumps([picture_key(original_sha256, recipe), ENCODE_VERSION, encoder_version()])
    return sha256(text.encode()).hexdigest()[:32]
