"""What is wrong with the clips of a build, as findings: too heavy for the site, or not to be shown."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from journal.base.model import Build, Entry
from journal.base.problems import Problem, finding
from journal.media.clips import ClipStore, Film


def check_films(entries: Iterable[Entry], films: Mapping[str, Film], budget_bytes: int) -> tuple[Problem, ...]:
    """Findings on the entries whose clips are among `films` (by `src_uri`).

    `clips-heavy`: what an entry's films weigh on the site, posters apart, is over the budget that
    build.yml states under `clips`. `clip-unreadable`: there is no film, and why.
    """
    problems = []
    for entry in entries:
        here = {clip.name: films[clip.src_uri] for clip in entry.clips if clip.src_uri in films}
        weight = sum(film.bytes for film in here.values())
        if weight > budget_bytes:
            said = f"the films of this entry weigh {-(-weight // 10**6)} MB on the site, "
            said += f"{budget_bytes // 10**6} MB are allowed"
            hint = "cut them shorter, make some private, or raise `clips: {budget: …}` in build.yml"
            problems.append(finding(entry.src_uri, entry.where.get("date"), "clips-heavy", said, hint))
        for name, film in here.items():
            if film.trouble:
                place = entry.where.get(f"photos.{name}")
                problems.append(unreadable(entry.src_uri, place, "clip-unreadable", name, film.trouble))
    return tuple(problems)


def unreadable(file: str, place: tuple[int, int] | None, word: str, name: str, trouble: str) -> Problem:
    """The finding on a picture or clip that is called `name` in `file`, and why it cannot be shown."""
    return finding(file, place, word, f'"{name}" cannot be shown: {trouble}', "put a good copy in its place")


def check_made_films(root: Path, cache: Path, build: Build) -> tuple[Problem, ...]:
    """`check_films` of what is made already: weights are known once a site was made, and reading makes none."""
    entries = (*build.entries, *build.drafts)
    public = [clip for entry in entries for clip in entry.clips if not (clip.private or entry.private)]
    films = ClipStore(root, cache, build.photo_settings).shelved(public)
    return check_films(entries, films, build.clip_budget_bytes)
