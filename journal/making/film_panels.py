"""Short films beside the pictures of a sheet: a poster that loads late, and the film when somebody presses it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from markupsafe import escape

from journal.base.formatting import say_count
from journal.base.model import Clip
from journal.commands.terminal import Bar
from journal.ledger.journal import CACHE, Journal
from journal.media.clips import ClipJob, ClipStore, Film
from journal.site.site_context import Desk, Extras
from journal.view.page_links import Linker
from journal.view.page_parts import Panel
from journal.view.shown_pictures import PICTURES
from journal.view.view import Audience, Sheet

CLIPS = "clips/"
STYLE, SCRIPT = "assets/films.css", "assets/films.js"


def clip_store(root: Path) -> ClipStore:
    """The store of films of the build folder `root`."""
    return ClipStore(root, root / CACHE / "clips")


def add_clips(journal: Journal, desk: Desk) -> Extras:
    """A panel of films for every sheet that has clips. A contributor (`journal.making.lay_site`).

    Films are made for the public and the inspector; a preview shows those that are made already.
    """
    sheets = [sheet for sheet in desk.view.sheets if sheet.clips]
    if not sheets:
        return Extras()
    store, settings = clip_store(journal.root), journal.build.photo_settings
    jobs = {clip.src_uri: ClipJob(src_uri=clip.src_uri, settings=settings) for sheet in sheets for clip in sheet.clips}
    if desk.view.audience is Audience.PREVIEW:
        made = store.shelved(list(jobs.values()))
    else:
        with Bar("making films (seconds)") as bar:
            made = store.render(list(jobs.values()), bar.tell)
    films = {src_uri: made[job] for src_uri, job in jobs.items() if job in made}
    if desk.view.audience is Audience.PUBLIC:
        store.prune(_in_use(journal, store, films))
    return Extras(
        panels={sheet.id: (_panel(desk, sheet, films),) for sheet in sheets},
        linked=_linked(films.values()),
    )


def film_files(journal: Journal, sheets: Iterable[Sheet]) -> frozenset[str]:
    """Names of the films of these sheets, and of their posters, as far as they are made."""
    settings = journal.build.photo_settings
    jobs = [ClipJob(src_uri=clip.src_uri, settings=settings) for sheet in sheets for clip in sheet.clips]
    made = clip_store(journal.root).shelved(jobs).values()
    return frozenset(name.rpartition("/")[2] for name in _linked(made))


def _in_use(journal: Journal, store: ClipStore, films: Mapping[str, Film]) -> list[Film]:
    """Films of the whole build: what only the archive shows must not be made anew for each one."""
    entries = (*journal.build.entries, *journal.build.drafts)
    others = [
        ClipJob(src_uri=clip.src_uri, settings=journal.build.photo_settings)
        for entry in entries
        for clip in entry.clips
        if clip.src_uri not in films
    ]
    return [*films.values(), *store.shelved(others).values()]


def _linked(films: Iterable[Film]) -> dict[str, Path]:
    linked: dict[str, Path] = {}
    for film in films:
        if film.path is not None:
            linked[CLIPS + film.name] = film.path
        linked.update({PICTURES + one.name: one.path for one in film.poster.renditions})
    return linked


def _panel(desk: Desk, sheet: Sheet, films: Mapping[str, Film]) -> Panel:
    linker = desk.linker(desk.atlas.entry_address[sheet.id])
    figures = [
        _figure(clip, films.get(clip.src_uri), sheet, number, linker, original=desk.everything)
        for number, clip in enumerate(sheet.clips, start=1)
    ]
    html = (
        f'<link rel="stylesheet" href="{linker.root}{STYLE}"><div class="gallery">{"".join(figures)}</div>'
        f'<script src="{linker.root}{SCRIPT}" defer></script>'
    )
    return Panel(heading="Films" if len(figures) > 1 else "Film", html=html)


def _figure(clip: Clip, film: Film | None, sheet: Sheet, number: int, linker: Linker, *, original: bool) -> str:
    """A link to the film under its poster: without scripts the browser opens it, with them it plays in its place."""
    name = clip.caption or f"Film {number} of “{sheet.title}”"
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
