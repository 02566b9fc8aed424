"""What stands around every page: name, navigation, footer, and the words of the head."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any
from urllib.parse import quote

from journal.base.addresses import CALENDAR, FIND, HOME, HOURS, INVENTORY, PHOTOS, TERMS
from journal.base.formatting import WHO_DECIDES
from journal.site.figures import IN_CARD, IN_STRIP, IN_TILE, LEADING, markup, render_figure, render_image, render_thumb
from journal.site.site_context import SiteContext
from journal.view.page_addresses import ASSEMBLIES, ENTRIES, INSPECTIONS, METHODS, STEPS, TOOLS
from journal.view.page_links import Linker, linker_for
from journal.view.page_parts import Link, PageRecord
from journal.view.shown_pictures import PictureBox
from journal.view.view import Audience

CAUTION = f"{WHO_DECIDES}. This journal records what was done and advises; it decides nothing."


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """The same on every page of a site. `site_url` ends in `/`, or is empty (then no feeds)."""

    name: str
    aircraft: str
    nav: tuple[Link, ...]
    more: tuple[Link, ...]
    caution: str
    notice: str
    copyright: str
    site_url: str
    feeds: tuple[Link, ...]
    alternates: tuple[Link, ...]
    find: str
    audience: str
    offline: bool
    description: str
    language: str
    problems: tuple[str, ...] = ()


def plan_frame(
    site: SiteContext,
    *,
    site_url: str = "",
    notice: str = "",
    copyright_words: str = "",
    description: str = "",
    language: str = "en",
    problems: tuple[str, ...] = (),
) -> Frame:
    """The frame of the site made at `context`."""
    view = site.view
    nav = [
        Link(text="Home", address=HOME),
        Link(text="Entries", address=ENTRIES),
        Link(text="Assemblies", address=ASSEMBLIES),
        *([Link(text="Steps", address=STEPS)] if view.steps else []),
        Link(text="Calendar", address=CALENDAR),
        Link(text="Hours", address=HOURS),
        Link(text="Photos", address=PHOTOS),
    ]
    more = [
        *([Link(text="Inspections", address=INSPECTIONS)] if view.inspections else []),
        *([Link(text="Tools", address=TOOLS)] if view.tools else []),
        *([Link(text="Methods", address=METHODS)] if view.methods else []),
        *([Link(text="Inventory", address=INVENTORY)] if view.inventory else []),
        Link(text="Terms", address=TERMS),
        *(Link(text=page.title, address=site.addresses.page_address[page.id]) for page in view.pages),
        *site.extras.nav,
    ]
    feeds = (
        (Link(text="Atom feed", address="feed.xml"), Link(text="JSON feed", address="feed.json")) if site_url else ()
    )
    return Frame(
        name=site.site_name,
        aircraft=view.aircraft.name,
        nav=tuple(nav),
        more=tuple(more),
        caution=CAUTION,
        notice=notice,
        copyright=copyright_words,
        site_url=site_url,
        feeds=(*feeds, *(() if site.offline else (Link(text="Open data", address="journal.json"),))),
        alternates=tuple(
            Link(text=f"{site.site_name}: {link.text}", address=link.address, note=kind)
            for link, kind in zip(feeds, ("application/atom+xml", "application/feed+json"), strict=False)
        ),
        find=FIND,
        audience=view.audience.value,
        offline=site.offline,
        description=description,
        language=language,
        problems=problems,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """The words of a page's head. Absolute addresses are empty where the site's own is not known."""

    title: str
    description: str
    canonical: str
    picture: str
    picture_alt: str
    kind: str
    robots: str


def plan_head(frame: Frame, page: PageRecord) -> Head:
    """Title, canonical link and link preview of `page`."""
    title = page.title if page.address == HOME else f"{page.title} · {frame.name}"
    return Head(
        title=title,
        description=page.description or frame.description,
        canonical=absolute(frame.site_url, page.address),
        picture=absolute(frame.site_url, page.picture) if page.picture else "",
        picture_alt=page.picture_alt,
        kind=page.kind,
        robots="noindex" if page.hidden or frame.audience != Audience.PUBLIC.value else "",
    )


def absolute(site_url: str, address: str) -> str:
    """`address` with the site's own in front, or nothing where that is not known."""
    return site_url + quote(address, safe="/#") if site_url else ""


def page_context(frame: Frame, page: PageRecord, *, offline: bool, root: str | None = None) -> dict[str, Any]:
    """What a template gets. `root` overrides the relative way to the root (the page for wrong addresses)."""
    linker = linker_for(page.address, offline=offline) if root is None else Linker(root=root, offline=offline)
    return {
        "frame": frame,
        "head": plan_head(frame, page),
        "record": page.record,
        "made": page,
        "body": markup(page.html),
        "to": linker.to,
        **picture_functions(linker),
    }


def picture_functions(linker: Linker) -> Mapping[str, Callable[..., str]]:
    """Functions that place pictures on one page."""

    def strip(box: PictureBox) -> str:
        return markup(render_figure(box, linker, sizes=IN_STRIP))

    def tile(box: PictureBox) -> str:
        return markup(render_figure(box, linker, sizes=IN_TILE))

    def own(box: PictureBox) -> str:
        return markup(render_figure(box, linker, sizes=IN_STRIP, anchored=True))

    def image(box: PictureBox, *, leading: bool = False) -> str:
        return markup(render_image(box, linker, sizes=LEADING if leading else IN_CARD, alt=None if leading else ""))

    return {"own": own, "strip": strip, "tile": tile, "image": image, "thumb": partial(_thumb, linker)}


def _thumb(linker: Linker, box: PictureBox) -> str:
    return markup(render_thumb(box, linker))
