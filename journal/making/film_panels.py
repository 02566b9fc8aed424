"""Short films beside the pictures of an entry: a poster that loads late, and the film when somebody presses it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path

from markupsafe import escape

from journal.base.formatting import say_count
from journal.base.model import Clip
from journal.ledger.films import clip_jobs
from journal.ledger.journal import CACHE, Journal
from journal.media.clips import ClipStore, Film
from journal.site.site_context import Extras, SiteContext
from journal.view.page_links import Linker
from journal.view.page_parts import Group
from journal.view.shown_pictures import PICTURES
from journal.view.view import Audience, ShownEntry

CLIPS = "clips/"
STYLE, SCRIPT = "assets/films.css", "assets/films.js"


OnFilms = Callable[[int, int], None]
"""Told (seconds of film made, seconds in all) while films are made."""


def add_clips(site: SiteContext, root: Path, *, on_films: OnFilms | None = None) -> Extras:
    """A panel of films for every entry that has clips.

    Films are made for the public and the inspector; a preview shows those that are made already.
    """
    view = site.view
    entries = [entry for entry in view.entries if entry.clips]
    if not entries:
        return Extras()
    store = ClipStore(root, root / CACHE / "clips")
    jobs = clip_jobs((clip for entry in entries for clip in entry.clips), view.photo_settings)
    if view.audience is Audience.PREVIEW:
        made = store.shelved(list(jobs.values()))
    else:
        made = store.render(list(jobs.values()), on_films)
    films = {src_uri: made[job] for src_uri, job in jobs.items() if job in made}
    return Extras(
        panels={entry.id: (_panel(site, entry, films),) for entry in entries},
        linked=_linked(films.values()),
    )


def keep_films(journal: Journal) -> None:
    """Drop films that no entry has any more. Those of private entries and drafts stay: what only the archive shows
    must not be made anew for each one.
    """
    build = journal.build
    store = ClipStore(journal.root, journal.root / CACHE / "clips")
    clips = (clip for entry in (*build.entries, *build.drafts) for clip in entry.clips)
    if jobs := clip_jobs(clips, build.photo_settings):
        store.prune(list(store.shelved(list(jobs.values())).values()))


def _linked(films: Iterable[Film]) -> dict[str, Path]:
    linked: dict[str, Path] = {}
    for film in films:
        if film.path is not None:
            linked[CLIPS + film.name] = film.path
        linked.update({PICTURES + one.name: one.path for one in film.poster.renditions})
    return linked


def _panel(site: SiteContext, entry: ShownEntry, films: Mapping[str, Film]) -> Group:
    linker = site.linker(site.addresses.entry_address[entry.id])
    figures = [
        _figure(clip, films.get(clip.src_uri), entry, number, linker, original=site.everything)
        for number, clip in enumerate(entry.clips, start=1)
    ]
    html = (
        f'<link rel="stylesheet" href="{linker.root}{STYLE}"><div class="gallery">{"".join(figures)}</div>'
        f'<script src="{linker.root}{SCRIPT}" defer></script>'
    )
    return Group(title="Films" if len(figures) > 1 else "Film", html=html)


def _figure(clip: Clip, film: Film | None, entry: ShownEntry, number: int, linker: Linker, *, original: bool) -> str:
    """A link to the film under its poster: without scripts the browser opens it, with them it plays in its place."""
    name = clip.caption or f"Film {number} of “{entry.title}”"
    facts = []
    if film is None or film.path is None:
        words = film.trouble if film else "made with the site"
        shown = (
            f'<span class="no-picture" role="img" aria-label="{escape(name)}"><span>Film: {escape(words)}</span></span>'
        )
    else:
        facts = [_say_length(film.seconds), f"{max(film.bytes / 1e6, 0.1):.1f} MB"]
        shown = (
            f'<a class="clip" href="{linker.root}{CLIPS}{film.name}" type="video/mp4">{_poster(film, name, linker)}'
            '<span class="play" aria-hidden="true"></span></a>'
        )
    if original:
        facts.append(f'<a class="original" href="{linker.to(f"source/{clip.src_uri}")}">original</a>')
    caption = f'<span class="caption">{escape(clip.caption)}</span>' if clip.caption else ""
    told = f'<span class="facts">{" · ".join(facts)}</span>' if facts else ""
    figcaption = f"<figcaption>{caption}{told}</figcaption>" if caption or told else ""
    return f'<figure class="shot">{shown}{figcaption}</figure>'


def _poster(film: Film, name: str, linker: Linker) -> str:
    poster: Sequence[tuple[str, int]] = [(PICTURES + one.name, one.width_px) for one in film.poster.renditions]
    srcset = ", ".join(f"{linker.root}{address} {width}w" for address, width in poster)
    return (
        f'<img src="{linker.root}{poster[0][0]}" srcset="{srcset}" sizes="(min-width: 40rem) 22rem, 92vw" '
        f'width="{film.width_px}" height="{film.height_px}" alt="Film: {escape(name)}" loading="lazy" decoding="async">'
    )


def _say_length(seconds: int) -> str:
    """`1 min 05 s`."""
    minutes, rest = divmod(seconds, 60)
    return f"{minutes} min {rest:02d} s" if minutes else say_count(max(rest, 1), "second")
