"""All pages of a site: which there are, and each one's record."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import partial

from journal.base.addresses import HOME, HOURS, INVENTORY, TERMS
from journal.site.album import album_pages
from journal.site.assembly import assemblies_page, assembly_pages
from journal.view.page_addresses import ASSEMBLIES, INSPECTIONS, STEPS
from journal.site.calendar import calendar_pages
from journal.site.site_context import NO_EXTRAS, Desk, Extras
from journal.site.entry import entry_page
from journal.site.glossary import own_page, terms_page
from journal.site.home import home_page, register_pages
from journal.site.hours import hours_page
from journal.site.tools_and_inventory import inventory_page, methods_pages, tools_pages
from journal.site.inspections import look_page, looks_page
from journal.view.shown_pictures import PictureLike
from journal.view.page_parts import PageRecord
from journal.site.step import follow_page, step_page
from journal.view.view import View

__all__ = ["Desk", "Extras", "PageRecord", "desk_pages", "single_pages", "site_pages"]


def site_pages(
    view: View,
    pictures: Mapping[str, PictureLike],
    *,
    offline: bool = False,
    site_name: str = "",
    extras: Extras = NO_EXTRAS,
) -> Iterator[PageRecord]:
    """Every page of the site of `view`. `pictures` maps `src_uri`s to published pictures."""
    yield from desk_pages(Desk(view, pictures, offline=offline, site_name=site_name, extras=extras))


def desk_pages(desk: Desk) -> Iterator[PageRecord]:
    """Every page that can be made at `desk`, home first."""
    yield from (make() for make in single_pages(desk).values())
    for make_several in _series(desk):
        yield from make_several()
    yield from desk.extras.pages


def single_pages(desk: Desk) -> dict[str, Callable[[], PageRecord]]:
    """Address -> what makes that page, for pages that stand alone: a preview makes only the one asked for."""
    view, atlas = desk.view, desk.atlas
    pages: dict[str, Callable[[], PageRecord]] = {HOME: partial(home_page, desk)}
    for sheet in view.sheets:
        pages[atlas.entry_address[sheet.id]] = partial(entry_page, desk, sheet)
    pages[ASSEMBLIES] = partial(assemblies_page, desk)
    if view.steps:
        pages[STEPS] = partial(follow_page, desk)
    for step in view.steps.values():
        pages[atlas.step_address[step.id]] = partial(step_page, desk, step)
    pages[HOURS] = partial(hours_page, desk)
    if view.looks:
        pages[INSPECTIONS] = partial(looks_page, desk)
    for look in view.looks:
        pages[atlas.look_address[look.inspection.id]] = partial(look_page, desk, look)
    if view.inventory:
        pages[INVENTORY] = partial(inventory_page, desk)
    for page in view.pages:
        pages[atlas.page_address[page.id]] = partial(own_page, desk, page)
    pages[TERMS] = partial(terms_page, desk)
    return pages


def _series(desk: Desk) -> Iterator[Callable[[], list[PageRecord]]]:
    """Makers of pages that are parted by year or month where they grow long."""
    yield partial(register_pages, desk)
    for assembly in desk.view.assemblies.values():
        yield partial(assembly_pages, desk, assembly)
    yield partial(calendar_pages, desk)
    yield partial(album_pages, desk)
    if desk.view.tools:
        yield partial(tools_pages, desk)
    if desk.view.methods:
        yield partial(methods_pages, desk)
