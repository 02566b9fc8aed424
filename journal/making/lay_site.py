"""The host of the site: a journal in, a finished folder out.

mkdocs reads mkdocs.yml, keeps the theme and writes the pages; what they say comes from
`journal.site`. This module is all that `plugin.py` and the command line need to know of it.
"""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import journal.quiet  # noqa: F401  (first: it keeps the theme's notice away)
from journal.base.problems import Problem, SiteError, finding
from journal.ledger.journal import CACHE, Journal, OnPhotos, photo_store
from journal.making.film_panels import add_clips
from journal.making.find_pages import add_find
from journal.making.incremental import KeptProse
from journal.making.link_cards import CARDS, add_cards
from journal.making.theme import theme_dir
from journal.media.photos import Picture, PictureJob, Rendition, missing_letters
from journal.site.site_context import NO_EXTRAS, Desk, Extras
from journal.site.trade_pages import trade_extras
from journal.view.shown_pictures import PICTURES
from journal.view.view import Audience, View, open_view

if TYPE_CHECKING:
    import jinja2
    from mkdocs.config.defaults import MkDocsConfig

SETTINGS = "mkdocs.yml"

Contributor = Callable[[Journal, Desk], Extras]
"""Adds pages, files and panels to a site; called once the desk stands."""


CONTRIBUTORS: tuple[Contributor, ...] = (add_find, add_clips, trade_extras)
"""What belongs to every site beside its own pages; more may be given with an `Order`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What site is wanted. `journal` is one that is open already, else the plugin opens it."""

    audience: Audience = Audience.PUBLIC
    offline: bool = False
    journal: Journal | None = None
    on_photos: OnPhotos | None = None
    contributors: tuple[Contributor, ...] = ()
    quiet: bool = False
    on_problems: Callable[[Sequence[Problem]], None] | None = None


def build_site(
    journal: Journal,
    *,
    out: Path | None = None,
    audience: Audience = Audience.PUBLIC,
    offline: bool = False,
    on_photos: OnPhotos | None = None,
    contributors: Sequence[Contributor] = (),
    on_problems: Callable[[Sequence[Problem]], None] | None = None,
) -> Path:
    """Make the site of `journal` and put it in its place; the folder where it is.

    `out` defaults to what mkdocs.yml says (`site/`). `offline` makes plain files that open from a
    file address. `on_problems` is told of photos that could not be made into pictures. Raises SiteError
    for what the user can mend, OSError where nothing can be written.
    The journal must be sound.
    """
    from mkdocs.commands.build import build
    from mkdocs.exceptions import MkDocsException

    with _host_words() as words:
        try:
            config = load_settings(journal.root, out=out, offline=offline)
            plugin: Any = config.plugins["journal"]
            plugin.order = Order(
                audience=audience,
                offline=offline,
                journal=journal,
                on_photos=on_photos,
                contributors=tuple(contributors),
                quiet=True,
                on_problems=on_problems,
            )
            config.plugins.on_startup(command="build", dirty=False)
            try:
                build(config)
            finally:
                config.plugins.on_shutdown()
        except (MkDocsException, SystemExit) as trouble:
            raise SiteError("; ".join(words) or str(trouble)) from trouble
    return Path(config.site_dir)


def load_settings(root: Path, *, out: Path | None = None, offline: bool = False) -> MkDocsConfig:
    """mkdocs.yml of the build folder, with the journal's plugin among its plugins.

    Raises SiteError where there is none or it cannot be used.
    """
    from mkdocs.config import load_config
    from mkdocs.exceptions import MkDocsException

    file = root / SETTINGS
    if not file.is_file():
        raise SiteError(f"{SETTINGS}: not found in {root}; `journal begin` writes one")
    options: dict[str, Any] = {}
    if out is not None:
        options["site_dir"] = os.fspath(out.absolute())
    if offline:
        options["use_directory_urls"] = False
    with _host_words() as words:
        try:
            config = load_config(os.fspath(file), **options)
        except MkDocsException as trouble:
            raise SiteError(f"{SETTINGS}: {'; '.join(words) or trouble}") from trouble
    if "journal" not in config.plugins:
        raise SiteError(f"{SETTINGS}: the list of plugins lacks `journal`; write `plugins: [search, journal]`")
    if offline:
        # What has no address on the network cannot have a canonical one.
        config.site_url = None
    return config


def use_own_theme(config: MkDocsConfig) -> None:
    """Put our templates under the builder's own and above the host's."""
    ours = os.fspath(theme_dir())
    if ours not in config.theme.dirs:
        config.theme.dirs.insert(1 if config.theme.custom_dir else 0, ours)


def set_up_environment(env: jinja2.Environment) -> jinja2.Environment:
    """Records hold text, which templates may place without a second thought."""
    env.autoescape = True
    env.trim_blocks = env.lstrip_blocks = True
    return env


def draw_environment(config: MkDocsConfig) -> jinja2.Environment:
    """The templates of `config`, ready to draw pages without the host."""
    return set_up_environment(config.theme.get_env())


@contextlib.contextmanager
def _host_words() -> Iterator[list[str]]:
    """What the host says of warnings and errors while it works under us, instead of on the terminal."""
    import logging

    words: list[str] = []

    class Collect(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            words.append(record.getMessage())

    logger = logging.getLogger("mkdocs")
    handler = Collect(level=logging.ERROR)
    propagate = logger.propagate
    logger.addHandler(handler)
    logger.propagate = False
    try:
        yield words
    finally:
        logger.removeHandler(handler)
        logger.propagate = propagate


def site_problems(site_url: str | None, watermark: str = "") -> tuple[Problem, ...]:
    """Findings that concern the site alone: an address that is missing, a mark that cannot be written whole."""
    problems = []
    if not site_url:
        problems.append(
            finding(
                SETTINGS,
                None,
                "no-site-url",
                "site_url is missing, so the site has no feeds and its link previews no pictures",
                "write the address where the site will stand, as site_url: https://…/",
            )
        )
    if missing := missing_letters(watermark):
        problems.append(
            finding(
                "content/build.yml",
                None,
                "watermark-letters",
                f'the watermark\'s letters "{missing}" are not in the typeface and are left out',
                "write it with other letters",
            )
        )
    return tuple(problems)


def picture_problems(desk: Desk) -> tuple[Problem, ...]:
    """Photos whose damage came to light only when they were made into pictures; a placeholder stands for them."""
    owners = [(sheet.src_uri, sheet.photos) for sheet in desk.view.sheets]
    owners += [(look.inspection.src_uri, look.photos) for look in desk.view.looks]
    return tuple(
        finding(
            src_uri,
            None,
            "photo-unreadable",
            f'"{photo.name}" cannot be shown: {picture.trouble}',
            "put a good copy in its place",
        )
        for src_uri, photos in owners
        for photo in photos
        if (picture := desk.pictures.get(photo.src_uri)) and picture.trouble and not photo.facts.trouble
    )


def lay_desk(
    journal: Journal,
    audience: Audience,
    *,
    offline: bool,
    site_name: str,
    site_url: str = "",
    on_photos: OnPhotos | None = None,
    contributors: Sequence[Contributor] = (),
) -> Desk:
    """The desk for `audience`, pictures rendered, what other parts add gathered."""
    view = open_view(journal, audience)
    pictures, renditions = render_pictures(journal, view, credit=site_name, on_photos=on_photos)
    kept = KeptProse(journal.root / CACHE / f"prose-{audience.value}.json")
    desk = Desk(view, pictures, offline=offline, site_name=site_name, kept_prose=kept)
    desk.extras = replace(NO_EXTRAS, linked={PICTURES + one.name: one.path for one in renditions})
    # A card is of use only where its address can be told.
    cards = (add_cards,) if site_url and audience is Audience.PUBLIC else ()
    for contribute in (*CONTRIBUTORS, *contributors, *cards):
        desk.extras = merge_extras(desk.extras, contribute(journal, desk))
    for sheet in view.sheets:
        desk.prose(sheet)
    kept.write()
    return desk


def render_pictures(
    journal: Journal, view: View, *, credit: str, on_photos: OnPhotos | None = None
) -> tuple[Mapping[str, Picture], tuple[Rendition, ...]]:
    """(picture by `src_uri`, all renditions) of every photo that `view` shows."""
    photos = [photo for sheet in view.sheets for photo in sheet.photos]
    photos += [photo for look in view.looks for photo in look.photos]
    jobs = {
        photo.src_uri: PictureJob(
            src_uri=photo.src_uri,
            sha256=photo.sha256,
            caption=photo.caption,
            credit=credit,
            settings=journal.build.photo_settings,
        )
        for photo in photos
        if photo.sha256
    }
    store = photo_store(journal.root)
    made = store.render(list(jobs.values()), on_photos)
    pictures = {src_uri: made[job] for src_uri, job in jobs.items()}
    renditions = tuple(
        {rendition.name: rendition for picture in pictures.values() for rendition in picture.renditions}.values()
    )
    if view.audience is Audience.PUBLIC:
        store.prune(renditions)
    return pictures, renditions


def merge_extras(one: Extras, other: Extras) -> Extras:
    """Both together; of two panels for one sheet the first comes first."""
    return replace(
        one,
        pages=(*one.pages, *other.pages),
        files=(*one.files, *other.files),
        panels=_joined(one.panels, other.panels),
        look_panels=_joined(one.look_panels, other.look_panels),
        nav=(*one.nav, *other.nav),
        cards={**one.cards, **other.cards},
        linked={**one.linked, **other.linked},
    )


def _joined(one: Mapping[str, tuple[Any, ...]], other: Mapping[str, tuple[Any, ...]]) -> dict[str, tuple[Any, ...]]:
    return {key: (*one.get(key, ()), *other.get(key, ())) for key in {**one, **other}}


def place_linked(linked: Mapping[str, Path], site: Path, folders: Iterable[str]) -> None:
    """Put every file of `linked` (name below the site -> where it lies) in its place: the same file under
    a second name, else a copy. In `folders` whatever is not wanted goes; what is there already stays
    (names there stand for contents).
    """
    there: set[str] = set()
    root = os.fspath(site)
    for folder in folders:
        if not (site / folder).is_dir() and not any(name.startswith(folder) for name in linked):
            continue
        (site / folder).mkdir(parents=True, exist_ok=True)
        for name in os.listdir(site / folder):  # noqa: PTH208  (thirty thousand names)
            if folder + name in linked:
                there.add(folder + name)
            else:
                os.unlink(f"{root}/{folder}{name}")  # noqa: PTH108
    for name, path in linked.items():
        if name in there:
            continue
        target = f"{root}/{name}"
        try:
            os.link(path, target)
        except FileNotFoundError:
            Path(target).parent.mkdir(parents=True, exist_ok=True)
            _copy_whole(path, target)
        except OSError:
            _copy_whole(path, target)


def _copy_whole(path: Path, target: str) -> None:
    """A copy that is there whole or not at all."""
    scratch = f"{target}.part"
    shutil.copyfile(path, scratch)
    os.replace(scratch, target)  # noqa: PTH105


def place_files(files: Iterable[tuple[str, bytes]], site: Path) -> None:
    """Write the files that are made beside the pages."""
    for address, data in files:
        target = site / address
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)


__all__ = [
    "CARDS",
    "NO_EXTRAS",
    "Contributor",
    "Extras",
    "Order",
    "SiteError",
    "build_site",
    "lay_desk",
    "load_settings",
    "picture_problems",
    "place_files",
    "place_linked",
    "site_problems",
]
