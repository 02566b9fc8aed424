"""Short films beside the pictures of an entry: a poster that loads late, and the film when somebody presses it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from journal.base.byte_progress import Begin, quietly
from journal.base.formatting import say_count
from journal.base.model import Clip
from journal.base.words import _
from journal.ledger.journal import CACHE, Journal
from journal.media.clips import ClipStore, Film
from journal.site.figures import IN_STRIP, render_figure
from journal.site.site_context import Extras, SiteContext
from journal.view.page_parts import Group
from journal.view.shown_pictures import PICTURES, PictureBox
from journal.view.view import Audience, ShownEntry

CLIPS = "clips/"
STYLE, SCRIPT = "assets/films.css", "assets/films.js"


def add_clips(site: SiteContext, root: Path, *, begin: Begin = quietly) -> Extras:
    """A panel of films for every entry that has clips.

    Films are made for the public and the inspector; a preview shows those that are made already.
    """
    view = site.view
    entries = [entry for entry in view.entries if entry.clips]
    if not entries:
        return Extras()
    store = ClipStore(root, root / CACHE / "clips", view.photo_settings)
    clips = [clip for entry in entries for clip in entry.clips]
    with begin("making films (seconds)") as progress:
        films = store.shelved(clips) if view.audience is Audience.PREVIEW else store.render(clips, progress)
    panels = {site.addresses.entry_address[entry.id]: _panel(site, entry, films) for entry in entries}
    return Extras(
        panels={address: (panel,) for address, panel in panels.items() if panel},
        linked={CLIPS + film.name: film.path for film in films.values() if film.path}
        | {PICTURES + one.name: one.path for film in films.values() for one in film.poster.renditions},
    )


def keep_films(journal: Journal) -> None:
    """Drop films that no entry has any more. Those of private entries and drafts stay: what only the archive shows
    must not be made anew for each one.
    """
    build = journal.build
    store = ClipStore(journal.root, journal.root / CACHE / "clips", build.photo_settings)
    if clips := [clip for entry in (*build.entries, *build.drafts) for clip in entry.clips]:
        store.prune(store.shelved(clips).values())


def _panel(site: SiteContext, entry: ShownEntry, films: Mapping[str, Film]) -> Group | None:
    """The films of an entry. One that cannot be shown is told to the builder and the inspector, who can do something
    about it; followers see those that can, and where there is none no panel.
    """
    linker = site.linker(site.addresses.entry_address[entry.id])
    boxes = [
        _box(
            clip,
            films.get(clip.src_uri),
            clip.caption or _("Film {number} of “{title}”", number=number, title=entry.title),
            f"film-{number}",
            site,
        )
        for number, clip in enumerate(entry.clips, start=1)
    ]
    if site.view.audience is Audience.PUBLIC:
        boxes = [box for box in boxes if box.film]
    if not boxes:
        return None
    figures = "".join(render_figure(box, linker, sizes=IN_STRIP, anchored=True) for box in boxes)
    html = (
        f'<link rel="stylesheet" href="{linker.to(site.assets.get(STYLE, STYLE))}">'
        f'<div class="gallery">{figures}</div>'
        f'<script src="{linker.to(site.assets.get(SCRIPT, SCRIPT))}" defer></script>'
    )
    return Group(title=_("Films") if len(boxes) > 1 else _("Film"), html=html)


def _box(clip: Clip, film: Film | None, name: str, anchor: str, site: SiteContext) -> PictureBox:
    """The poster of a film, with its length and weight; words where there is none to show."""
    original = f"source/{clip.src_uri}" if site.everything else ""
    if film is None or film.path is None:
        trouble = f"Film: {film.trouble if film else 'made with the site'}"
        return PictureBox(alt=name, caption=clip.caption, anchor=anchor, original=original, trouble=trouble)
    return PictureBox(
        addresses=tuple(PICTURES + one.name for one in film.poster.renditions),
        widths=tuple(one.width_px for one in film.poster.renditions),
        width=film.width_px,
        height=film.height_px,
        alt=f"Film: {name}",
        caption=clip.caption,
        anchor=anchor,
        when=f"{say_duration(film.seconds)} · {max(film.bytes / 1_000_000, 0.1):.1f} MB",
        original=original,
        film=CLIPS + film.name,
    )


def say_duration(seconds: int) -> str:
    """`1 min 05 s`."""
    minutes, rest = divmod(seconds, 60)
    return (
        _("{minutes} min {seconds} s", minutes=minutes, seconds=f"{rest:02d}")
        if minutes
        else say_count(max(rest, 1), "second")
    )
