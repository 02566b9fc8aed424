"""What stands around every page: name, navigation, footer, and the words of the head."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field
from typing import Any
from urllib.parse import quote

from markupsafe import Markup

from journal.base.addresses import CALENDAR, FIND, FOLLOW, HOME, HOURS, INVENTORY, PHOTOS, TERMS
from journal.base.formatting import WHO_DECIDES
from journal.base.words import _, spoken
from journal.site.figures import IN_CARD, IN_STRIP, IN_TILE, LEADING, render_figure, render_image, render_thumb
from journal.site.following import following_page
from journal.site.site_context import SiteContext
from journal.view.page_addresses import ASSEMBLIES, ENTRIES, INSPECTIONS, MEASUREMENTS, METHODS, STEPS, TOOLS
from journal.view.page_links import Linker, linker_for
from journal.view.page_parts import Link, PageRecord, letters_in
from journal.view.shown_pictures import PictureBox
from journal.view.view import Audience


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteOptions:
    """What is asked of a site, and what mkdocs.yml says of it. `site_url` ends in `/` or is empty (then no feeds);
    `offline` makes plain files that open from a file address; `language` is the one that the builder writes in.
    `assets` maps the address by which a template names a style or a script to that where it stands.
    """

    audience: Audience = Audience.PUBLIC
    offline: bool = False
    site_name: str = ""
    site_url: str = ""
    notice: str = ""
    copyright: str = ""
    description: str = ""
    language: str = "en"
    assets: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame(SiteOptions):
    """The same on every page of a site."""

    aircraft: str
    nav: tuple[Link, ...]
    more: tuple[Link, ...]
    feeds: tuple[Link, ...]
    alternates: tuple[Link, ...]
    problems: tuple[str, ...]
    page_language: str
    script_words: str
    caution: str
    find: str = FIND

    @property
    def letters(self) -> int:
        """For how many letters in one piece the aircraft's name needs room."""
        return letters_in(self.aircraft)


def plan_frame(site: SiteContext, options: SiteOptions, problems: tuple[str, ...] = ()) -> Frame:
    """The frame of `site`; `problems` are told at the head of every page."""
    view = site.view
    follow = (Link(text=_("Follow"), address=FOLLOW),) if following_page(site) else ()
    nav = [
        Link(text=_("Home"), address=HOME),
        Link(text=_("Entries"), address=ENTRIES),
        Link(text=_("Assemblies"), address=ASSEMBLIES),
        *([Link(text=_("Steps"), address=STEPS)] if view.steps else []),
        Link(text=_("Calendar"), address=CALENDAR),
        Link(text=_("Hours"), address=HOURS),
        Link(text=_("Photos"), address=PHOTOS),
        *follow,
    ]
    more = [
        *([Link(text=_("Inspections"), address=INSPECTIONS)] if view.inspections or view.rules.lines else []),
        *([Link(text=_("Measurements"), address=MEASUREMENTS)] if view.measurements else []),
        *([Link(text=_("Tools"), address=TOOLS)] if view.tools else []),
        *([Link(text=_("Methods"), address=METHODS)] if view.methods else []),
        *([Link(text=_("Inventory"), address=INVENTORY)] if view.inventory else []),
        Link(text=_("Terms"), address=TERMS),
        *(Link(text=page.title, address=site.addresses.page_address[page.id]) for page in view.pages),
        *site.extras.nav,
    ]
    feeds: tuple[Link, ...] = (
        Link(text=_("Atom feed"), address="feed.xml"),
        Link(text=_("JSON feed"), address="feed.json"),
    )
    if site.offline or not options.site_url:
        feeds = ()
    own = {
        "audience": view.audience,
        "offline": site.offline,
        "site_name": site.site_name,
        "site_url": "" if site.offline else options.site_url,
    }
    return Frame(
        **asdict(options) | own,
        aircraft=view.aircraft.name,
        nav=tuple(nav),
        more=tuple(more),
        # The feeds themselves stand on the page that tells what they are for.
        feeds=(
            *follow,
            *(() if site.offline else (Link(text=_("Open data"), address="journal.json"),)),
        ),
        alternates=tuple(
            Link(text=f"{site.site_name}: {link.text}", address=link.address, note=kind)
            for link, kind in zip(feeds, ("application/atom+xml", "application/feed+json"), strict=False)
        ),
        problems=problems,
        page_language=spoken().page,
        script_words=spoken().for_scripts,
        caution=_(
            "{who_decides}. This journal records what was done and advises; it decides nothing.",
            who_decides=_(WHO_DECIDES),
        ),
    )


def plan_head(frame: Frame, page: PageRecord) -> dict[str, str]:
    """Title, canonical link and link preview of `page`. Absolute addresses are empty where the site's own is not
    known.
    """
    return {
        "title": page.title if page.address == HOME else f"{page.title} · {frame.site_name}",
        "description": page.description or frame.description,
        "canonical": absolute(frame.site_url, page.address),
        "picture": absolute(frame.site_url, page.picture) if page.picture else "",
        "robots": "noindex" if page.hidden or frame.audience is not Audience.PUBLIC else "",
    }


def absolute(site_url: str, address: str) -> str:
    """`address` with the site's own in front, or nothing where that is not known."""
    return site_url + quote(address, safe="/#") if site_url else ""


def page_context(frame: Frame, page: PageRecord, *, root: str | None = None) -> dict[str, Any]:
    """What a template gets. `root` overrides the relative way to the root (the page for wrong addresses)."""
    offline = frame.offline
    linker = linker_for(page.address, offline=offline) if root is None else Linker(root=root, offline=offline)
    return {
        "frame": frame,
        "head": plan_head(frame, page),
        "made": page,
        "body": Markup(page.html),
        "to": lambda address: linker.to(frame.assets.get(address, address)),
        **picture_functions(linker),
    }


def picture_functions(linker: Linker) -> Mapping[str, Callable[..., str]]:
    """Functions that place pictures on one page."""

    def image(box: PictureBox, *, leading: bool = False) -> str:
        sizes = LEADING if leading else IN_CARD
        return Markup(render_image(box, linker, sizes=sizes, alt=None if leading else "", early=leading))

    return {
        "first": lambda box: Markup(render_figure(box, linker, sizes=LEADING, anchored=True, early=True)),
        "own": lambda box: Markup(render_figure(box, linker, sizes=IN_STRIP, anchored=True)),
        "strip": lambda box: Markup(render_figure(box, linker, sizes=IN_STRIP)),
        "tile": lambda box: Markup(render_figure(box, linker, sizes=IN_TILE)),
        "image": image,
        "thumb": lambda box: Markup(render_thumb(box, linker)),
    }
