"""The clips of a build and the films made from them, kept so that nothing is encoded twice.

As with photos: a film lies in the cache under a name that tells all there is to know about it, and
the folder may be deleted at any moment.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from hashlib import sha256
from pathlib import Path

from journal.base.byte_progress import Progress, silent
from journal.base.model import UNEDITED, WHOLE, Clip, PhotoSettings
from journal.media.clips.encode import ENCODE_VERSION, Shown, encode_film
from journal.media.clips.facts import clip_facts
from journal.media.clips.look import look_at
from journal.media.clips.program import (
    DAMAGED,
    NOT_SO_LONG,
    UNREADABLE,
    FilmError,
    OnSecond,
    ask_ffmpeg,
    encoder_version,
    find_ffmpeg,
)
from journal.media.photos import Picture
from journal.media.photos.cache import CacheFolder, Shelf, length_of
from journal.media.photos.kinds import UnusableError
from journal.media.photos.originals import OriginalsIndex, opened, print_of
from journal.media.photos.rendition import make_recipe, picture_key, planned_sizes, render_renditions


@dataclass(frozen=True, slots=True, kw_only=True)
class Film:
    """A clip as the site shows it: `name` is what the file is called in `clips/`, `path` where it lies now.

    `seconds` is its length, of which `seconds_amiss` are damaged in the original. `poster` is a picture of it in the
    photos' sizes. `trouble` says why there is no film; then `path` is None and `poster` empty.
    """

    name: str = ""
    path: Path | None = None
    width_px: int = 0
    height_px: int = 0
    bytes: int = 0
    seconds: int = 0
    seconds_amiss: int = 0
    poster: Picture = field(default_factory=Picture)
    trouble: str = ""


_FILM = re.compile(r"[0-9a-f]{32}\.(\d+)x(\d+)\.(\d+)s(?:-(\d+))?\.(\d+)\.mp4")
"""Width, height, seconds, seconds amiss where there are any, length in bytes."""


class ClipStore:
    """The films of one build. `root` is the build folder, `cache` its folder for what can be made again; `settings` say
    how pictures and films are marked.
    """

    def __init__(self, root: Path, cache: Path, settings: PhotoSettings) -> None:
        self._root = root
        self._cache = CacheFolder(cache)
        self._recipe = make_recipe(settings)

    @cached_property
    def _index(self) -> OriginalsIndex:
        """What `examine` found; asked for late, since to ask ffmpeg for its version takes a moment."""
        return OriginalsIndex(self._cache, "originals.index", [ENCODE_VERSION, encoder_version()], 7)

    def examine(self, src_uri: str) -> tuple[str, int, str]:
        """(SHA-256, seconds, trouble) of an original, looked at only if it has changed since: its structure, and
        whether a first picture can be decoded. Without a digest it cannot be read at all.
        """
        path = self._root / src_uri
        try:
            if row := self._index.known(src_uri, print_of(path.stat())):
                return str(row[4]), int(row[5]), str(row[6])
            with opened(path) as original:
                digest = original.sha256()
                facts = clip_facts(path)
                told = (digest, facts.seconds, facts.trouble or _undecodable(path))
                original.check_unchanged()
        except (OSError, ValueError, UnusableError):
            return "", 0, UNREADABLE
        if original.settled:
            self._index.rows[src_uri] = [*original.print, *told]
            self._index.write()
        return told

    def render(self, clips: Sequence[Clip], progress: Progress | None = None) -> dict[str, Film]:
        """The film of each clip by its `src_uri`, from the cache or made now, one after another: each uses all
        processors.

        `progress` is told seconds of film, since one may take longer than all others. Never raises for what an original
        holds (`Film.trouble` says it); OSError where nothing can be written.
        """
        films = self.shelved(clips)
        lengths = {clip: max(self.examine(clip.src_uri)[1], 1) for clip in clips if clip.src_uri not in films}
        total = sum(lengths.values())
        begun, told = 0, progress or silent
        for clip, length in lengths.items():

            def tell(seconds: int, begun: int = begun, length: int = length) -> None:
                told(begun + min(seconds, length), total)

            films[clip.src_uri] = self._film(clip, tell)
            begun += length
            tell(length)
        return films

    def shelved(self, clips: Sequence[Clip]) -> dict[str, Film]:
        """The films that are made already, by `src_uri`, and the reasons why others cannot be; nothing is encoded."""
        shelf = Shelf(self._cache)
        found = {}
        for clip in clips:
            digest, seconds, trouble = self.examine(clip.src_uri)
            if not trouble and clip.cut.start and seconds and clip.cut.start >= seconds + 1:
                trouble = NOT_SO_LONG.format(start=clip.cut.start)
            film = Film(trouble=trouble) if trouble else _on(shelf, film_key(digest, self._shown(clip)))
            if film is not None:
                found[clip.src_uri] = film
        return found

    def _shown(self, clip: Clip) -> Shown:
        return Shown(recipe=self._recipe, edits=clip.edits, cut=replace(clip.cut, sound=False))

    def prune(self, keep: Iterable[Film]) -> int:
        """Remove films and posters that are not among `keep`, and what was left half-written; how many files."""
        films = list(keep)
        posters = {rendition.path.name for film in films for rendition in film.poster.renditions}
        return self._cache.prune({film.name for film in films} | posters)

    def _film(self, clip: Clip, on_second: OnSecond) -> Film:
        shown = self._shown(clip)
        key = film_key(self.examine(clip.src_uri)[0], shown)
        try:
            made = encode_film(self._root / clip.src_uri, shown, on_second)
        except FilmError as trouble:
            self._cache.write_keyed(key, "trouble", str(trouble).encode())
            return Film(trouble=str(trouble))
        width, height = made.frame.size
        poster = self._cache.keep(key, render_renditions(made.frame, planned_sizes(made.frame.size), self._recipe))
        # The film last: while it is missing the clip counts as not made.
        amiss = f"-{made.seconds_amiss}" if made.seconds_amiss else ""
        rest = f"{width}x{height}.{made.seconds}s{amiss}.{len(made.data)}.mp4"
        return _film_of(self._cache.write_keyed(key, rest, made.data), poster)


def _undecodable(path: Path) -> str:
    """Why not even one picture of a film can be decoded; empty where one can, or where nobody can tell."""
    if find_ffmpeg() is None:
        return ""
    try:
        look = look_at(path)
        _, said = ask_ffmpeg(
            "-loglevel", "info", *look.source, "-map", look.pictures, "-frames:v", "1", "-f", "null", "-"
        )
    except FilmError as trouble:
        return str(trouble)
    return "" if re.search(r"^frame= *[1-9]", said, re.MULTILINE) else DAMAGED


def _on(shelf: Shelf, key: str) -> Film | None:
    """The film under this key with its poster, or None where anything is missing or of another length."""
    poster = shelf.find(key)
    if poster is None or poster.trouble:
        return Film(trouble=poster.trouble) if poster else None
    for entries in shelf.entries(key):
        for entry in entries:
            if (named := _FILM.fullmatch(entry.name)) and length_of(entry) == int(named[5]):
                return _film_of(Path(entry.path), poster)
    return None


def _film_of(path: Path, poster: Picture) -> Film:
    """The film in this file, as its name tells; its posters go by the names they have here."""
    named = _FILM.fullmatch(path.name)
    assert named is not None, path
    width, height, seconds, amiss, length = (int(number or 0) for number in named.groups())
    return Film(
        name=path.name,
        path=path,
        width_px=width,
        height_px=height,
        bytes=length,
        seconds=seconds,
        seconds_amiss=amiss,
        poster=Picture(renditions=tuple(replace(one, name=one.path.name) for one in poster.renditions)),
    )


def film_key(original_sha256: str, shown: Shown) -> str:
    """The name a film goes by: 32 digits from the original, how it is shown, the code and the encoder. The recipe is
    the photos' own: the mark is that of the photos, and posters are pictures like any other.
    """
    text = [picture_key(original_sha256, shown.recipe), ENCODE_VERSION, encoder_version()]
    text += [] if (shown.edits, shown.cut) == (UNEDITED, WHOLE) else [repr(shown.edits), repr(shown.cut)]
    return sha256(json.dumps(text).encode()).hexdigest()[:32]
