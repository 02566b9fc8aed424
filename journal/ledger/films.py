"""What is wrong with the clips of a build, as findings: too heavy for the site, damaged, or not to be shown."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from journal.base.formatting import say_count
from journal.base.model import Build, Clip, Entry
from journal.base.problems import Problem, finding
from journal.media.clips import ClipStore, Film
from journal.media.clips.program import hint_for

Place = tuple[int, int] | None
"""Line and column, where they are known."""


def check_films(entries: Iterable[Entry], films: Mapping[str, Film], budget_bytes: int) -> tuple[Problem, ...]:
    """Findings on the entries whose clips are among `films` (by `src_uri`).

    `clips-heavy`: what an entry's films weigh on the site, posters apart, is over the budget that
    build.yml states under `clips`. `clip-unreadable`: there is no film, and why. `clip-damaged`: there is one, and
    part of it is amiss. `moment-outside`: `to` or `poster` lies where nothing is shown.
    """
    problems = []
    for entry in entries:
        here = [(clip, films[clip.src_uri]) for clip in entry.clips if clip.src_uri in films]
        weight = sum(film.bytes for clip, film in here if not (clip.private or entry.private))
        if weight > budget_bytes:
            said = f"the films of this entry weigh {-(-weight // 10**6)} MB on the site, "
            said += f"{budget_bytes // 10**6} MB are allowed"
            hint = "cut them shorter, make some private, or raise `clips: {budget: …}` in build.yml"
            problems.append(finding(entry.src_uri, entry.where.get("date"), "clips-heavy", said, hint))
        for clip, film in here:
            problems += _of_film(entry, clip, film)
    return tuple(problems)


def _of_film(entry: Entry, clip: Clip, film: Film) -> Iterator[Problem]:
    at, cut = f"photos.{clip.name}", clip.cut

    def told(word: str, said: str, hint: str, key: str = "") -> Problem:
        place = entry.where.get(f"{at}.{key}") or entry.where.get(at)
        return finding(entry.src_uri, place, word, f'"{clip.name}" {said}', hint)

    if film.trouble:
        place = entry.where.get(f"{at}.from") if "`from`" in film.trouble else None
        yield clip_unreadable(entry.src_uri, clip.name, film.trouble, place or entry.where.get(at))
        return
    if film.seconds_amiss:
        yield clip_damaged(entry.src_uri, clip.name, film.seconds_amiss, entry.where.get(at))
    start = cut.start or 0
    # The store tells whole seconds.
    end = min(cut.end or 10**6, start + film.seconds + 1) if film.seconds else cut.end or 10**6
    if cut.end and end < cut.end:
        yield told(
            "moment-outside", f"ends before {cut.end} s", "`to` does nothing here: mend it, or take it out", "to"
        )
    if cut.poster is not None and not start <= cut.poster <= end:
        said = f"does not show what it holds at {cut.poster} s, where `poster` is"
        yield told("moment-outside", said, "the nearest moment that is shown is taken; name one of those", "poster")


def clip_damaged(file: str, name: str, seconds: int, place: Place = None) -> Problem:
    """The finding that so many seconds of the clip `name` of `file` are missing or amiss."""
    said = f'"{name}" is damaged: {say_count(seconds, "second")} of it missing or amiss'
    hint = "copy it again from the phone or camera; what is left of it is shown"
    return finding(file, place, "clip-damaged", said, hint)


def clip_unreadable(file: str, name: str, trouble: str, place: Place = None) -> Problem:
    """The finding that the clip `name` of `file` cannot be shown, and why."""
    return finding(file, place, "clip-unreadable", f'"{name}" cannot be shown: {trouble}', hint_for(trouble))


def check_made_films(root: Path, cache: Path, build: Build) -> tuple[Problem, ...]:
    """`check_films` of what is made already: weights are known once a site was made, and reading makes none."""
    entries = (*build.entries, *build.drafts)
    store = ClipStore(root, cache, build.photo_settings)
    films = store.shelved([clip for entry in entries for clip in entry.clips])
    return check_films(entries, films, build.clip_budget_bytes)
