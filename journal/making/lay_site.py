"""One making of a site: from a journal and options to pages, files and findings.

`site`, `preview`, `archive`, `publish`, `card` and plain `mkdocs build` all take what they show from here, so
they say the same. Nothing here knows the host: `journal.making.host` carries a laid site into it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from functools import cache, cached_property, partial
from pathlib import Path
from typing import Any

from journal.base.byte_progress import Begin, quietly
from journal.base.model import Photo, PhotoSettings
from journal.base.problems import Grade, Problem, finding, render_problem, sort_problems
from journal.base.words import speak
from journal.ledger.films import check_made_films
from journal.ledger.journal import CACHE, Journal, photo_store
from journal.making.amendments import add_amendments
from journal.making.film_panels import add_clips, keep_films
from journal.making.find_pages import find_extras
from journal.making.incremental import KeptProse
from journal.making.link_cards import add_cards
from journal.making.published import check_published, read_published
from journal.media.photos import Picture, PictureJob, Rendition, missing_letters
from journal.media.photos.kinds import mend_of
from journal.site.frame import Frame, SiteOptions, plan_frame
from journal.site.pages import context_files, context_pages, single_pages
from journal.site.site_context import Extras, SiteContext
from journal.site.trade_pages import trade_extras
from journal.view.page_addresses import PageAddresses
from journal.view.page_parts import PageRecord
from journal.view.shown_pictures import PICTURES
from journal.view.view import Audience, View, open_view

SETTINGS = "mkdocs.yml"

Contributor = Callable[[SiteContext, Path], Extras]
"""Adds pages, files and panels to a site of the build folder given."""


@dataclass(frozen=True, kw_only=True)
class LaidSite:
    """A site as it will stand: `site` holds the view and what pages share, `frame` what stands around every page.

    `problems` are those of the content, as far as the audience may see them, and those of the site; `late` those
    among them that came to light only while pictures and films were made. `pictures` go by `src_uri`. Pages are
    made when they are asked for.
    """

    site: SiteContext
    frame: Frame
    problems: tuple[Problem, ...]
    late: tuple[Problem, ...]
    pictures: Mapping[str, Picture]
    find: Callable[[], Extras]
    kept_prose: KeptProse = field(repr=False)

    @property
    def view(self) -> View:
        """What the audience may know."""
        return self.site.view

    @property
    def linked(self) -> Mapping[str, Path]:
        """Address -> file on disk that the site holds as it is: pictures, films, cards."""
        return self.site.extras.linked

    @cached_property
    def single_pages(self) -> Mapping[str, Callable[[], PageRecord]]:
        """Address -> what makes that page, for pages that stand alone: a preview makes only the one asked for."""
        own = {page.address: lambda page=page: page for page in self.site.extras.pages}
        return {**single_pages(self.site), **own}

    def pages(self) -> Iterator[PageRecord]:
        """Every page, home first."""
        yield from context_pages(self.site)
        yield from self.find().pages
        yield from self.site.extras.pages
        self.kept_prose.write()

    def files(self) -> Iterator[tuple[str, bytes]]:
        """(address, bytes) of every file made beside the pages."""
        yield from context_files(self.site, site_url=self.frame.site_url, language=self.frame.language)
        yield from self.find().files
        yield from self.site.extras.files


def lay_site(
    journal: Journal,
    options: SiteOptions,
    *,
    view: View | None = None,
    contributors: Sequence[Contributor] = (),
    begin: Begin = quietly,
) -> LaidSite:
    """The site of `journal` as `options` want it; pictures and films are made, pages not yet.

    `view` is that of the audience, where it is open already; `contributors` add to what belongs to every site.
    Raises OSError where the cache cannot be written.
    """
    root, audience = journal.root, options.audience
    options = replace(options, language=journal.build.language or options.language)
    speak(options.language)
    view = view or open_view(journal, audience)
    pictures, renditions = render_pictures(root, view, view.photo_settings, credit=options.site_name, begin=begin)
    kept = KeptProse(root / CACHE / f"prose-{audience.value}.json")
    site = SiteContext(
        view,
        pictures,
        offline=options.offline,
        site_name=options.site_name,
        site_url=options.site_url,
        assets=options.assets,
        kept_prose=kept,
    )
    site.extras = Extras(linked={PICTURES + one.name: one.path for one in renditions})
    # A card is of use only where its address can be told, and so are feeds.
    cards = (add_amendments, add_cards) if options.site_url and audience is Audience.PUBLIC else ()
    for contribute in (
        partial(add_clips, begin=begin),
        lambda site, _: trade_extras(site),
        *contributors,
        *cards,
    ):
        site.extras = _merged(site.extras, contribute(site, root))
    if audience is Audience.PUBLIC:
        keep_films(journal)
    told = journal.problems
    if audience is not Audience.ARCHIVE:
        told = (*told, *site_problems(journal, options.site_url, view))
    known = {*told, *(gap.problem for gap in journal.evidence.answered)}
    films = check_made_films(root, root / CACHE / "clips", journal.build)
    late = [one for one in (*picture_problems(view, pictures), *films) if one not in known]
    problems = sort_problems((*told, *late))
    errors = [render_problem(one) for one in problems if one.grade is Grade.ERROR]
    frame = plan_frame(site, options, tuple(errors) if audience is Audience.PREVIEW else ())
    return LaidSite(
        site=site,
        frame=frame,
        problems=problems,
        late=sort_problems(late),
        pictures=pictures,
        find=cache(partial(find_extras, site, root / CACHE / "find")),
        kept_prose=kept,
    )


def site_problems(journal: Journal, site_url: str | None, view: View | None = None) -> tuple[Problem, ...]:
    """Findings that concern the site alone: an address that is missing, a mark that cannot be written whole, pages
    that were published and would vanish. `view` is that of its audience, where it is open.
    """
    problems = []
    if not site_url:
        message = "site_url is missing, so the site has no feeds and its link previews no pictures"
        hint = "write the address where the site will stand, as site_url: https://…/"
        problems.append(finding(SETTINGS, None, "no-site-url", message, hint))
    if missing := missing_letters(journal.build.photo_settings.watermark):
        message = f'the watermark\'s letters "{missing}" are not in the typeface and are left out'
        problems.append(finding("content/build.yml", None, "watermark-letters", message, "write it with other letters"))
    if known := read_published(journal.root):
        problems += check_published(known, PageAddresses(view or open_view(journal, Audience.PUBLIC)))
    return tuple(problems)


def picture_problems(view: View, pictures: Mapping[str, Picture]) -> Iterator[Problem]:
    """Photos whose damage came to light only when they were made into pictures; a placeholder stands for them."""
    for told in view.told:
        for photo in told.photos:
            picture = pictures.get(photo.src_uri)
            if picture and picture.trouble and not photo.facts.trouble:
                yield picture_unreadable(told.src_uri, photo.name, picture.trouble)


def picture_unreadable(file: str, name: str, trouble: str) -> Problem:
    """The finding that the picture `name` of `file` cannot be shown, and why."""
    message = f'"{name}" cannot be shown: {trouble}'
    return finding(file, None, "photo-unreadable", message, mend_of(trouble))


def render_pictures(
    root: Path, view: View, settings: PhotoSettings, *, credit: str, begin: Begin
) -> tuple[Mapping[str, Picture], tuple[Rendition, ...]]:
    """(picture by `src_uri`, all renditions) of every photo that `view` shows, made as `settings` want."""
    jobs = {photo.src_uri: picture_job(photo, settings, credit) for photo in view.photos if photo.sha256}
    store = photo_store(root)
    with begin("photos") as progress:
        made = store.render(list(jobs.values()), progress)
    pictures = {src_uri: made[job] for src_uri, job in jobs.items()}
    renditions = {rendition.name: rendition for picture in pictures.values() for rendition in picture.renditions}
    if view.audience is Audience.PUBLIC:
        store.prune(renditions.values())
    return pictures, tuple(renditions.values())


def picture_job(photo: Photo, settings: PhotoSettings, credit: str) -> PictureJob:
    """A photo as it is shown; site and film ask for the same, so that it is made once."""
    return PictureJob(
        src_uri=photo.src_uri,
        sha256=photo.sha256,
        caption=photo.caption,
        credit=credit,
        settings=settings,
        edits=photo.edits,
    )


def _merged(one: Extras, other: Extras) -> Extras:
    """Both together; of two panels on one page the first comes first."""
    both: dict[str, Any] = {}
    for part in fields(Extras):
        mine, more = getattr(one, part.name), getattr(other, part.name)
        if part.name == "panels":
            both[part.name] = {key: (*mine.get(key, ()), *more.get(key, ())) for key in {**mine, **more}}
        else:
            both[part.name] = (*mine, *more) if isinstance(mine, tuple) else {**mine, **more}
    return Extras(**both)
