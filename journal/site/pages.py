"""All pages and files of a site: which there are, and what makes each."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from functools import partial
from html import escape
from urllib.parse import urlsplit

from journal.base.addresses import FOLLOW, HOME, HOURS, INVENTORY, TERMS
from journal.base.words import _, spoken
from journal.site.assembly import assemblies_page, assembly_pages
from journal.site.charts import hours_page
from journal.site.entry import entry_page, own_page
from journal.site.feeds import render_atom, render_json_feed, render_open_data
from journal.site.following import following_page
from journal.site.frame import absolute
from journal.site.home import home_page
from journal.site.inspections import inspection_page, inspections_page
from journal.site.lists import inventory_page, list_pages, register_pages, steps_page, terms_page
from journal.site.measurements import measurement_page, measurements_page
from journal.site.site_context import SiteContext
from journal.site.step import step_page
from journal.view.page_addresses import ASSEMBLIES, INSPECTIONS, MEASUREMENTS, STEPS
from journal.view.page_parts import PageRecord
from journal.view.view import Audience


def context_pages(site: SiteContext) -> Iterator[PageRecord]:
    """Every page of the site's own, home first; what other parts add comes after them."""
    yield from (make() for make in single_pages(site).values())
    yield from register_pages(site)
    for assembly in site.view.assemblies.values():
        yield from assembly_pages(site, assembly)
    yield from list_pages(site)


def single_pages(site: SiteContext) -> dict[str, Callable[[], PageRecord]]:
    """Address -> what makes that page, for pages that stand alone: a preview makes only the one asked for."""
    view, addresses = site.view, site.addresses
    pages: dict[str, Callable[[], PageRecord]] = {HOME: partial(home_page, site)}
    for entry in view.entries:
        pages[addresses.entry_address[entry.id]] = partial(entry_page, site, entry)
    pages[ASSEMBLIES] = partial(assemblies_page, site)
    if view.steps:
        pages[STEPS] = partial(steps_page, site)
    for step in view.steps.values():
        pages[addresses.step_address[step.id]] = partial(step_page, site, step)
    pages[HOURS] = partial(hours_page, site)
    if view.inspections or not {"inspections", "signatures", "papers"}.isdisjoint(view.rules.lines):
        pages[INSPECTIONS] = partial(inspections_page, site)
    for inspection in view.inspections:
        pages[addresses.inspection_address[inspection.id]] = partial(inspection_page, site, inspection)
    if view.measurements:
        pages[MEASUREMENTS] = partial(measurements_page, site)
    for measurement in view.measurements:
        pages[addresses.measurement_address[measurement.id]] = partial(measurement_page, site, measurement)
    if view.inventory:
        pages[INVENTORY] = partial(inventory_page, site)
    for page in view.pages:
        pages[addresses.page_address[page.id]] = partial(own_page, site, page)
    pages[TERMS] = partial(terms_page, site)
    if followed := following_page(site):
        pages[FOLLOW] = lambda: followed
    return pages


def context_files(site: SiteContext, *, site_url: str, language: str = "en") -> Iterator[tuple[str, bytes]]:
    """(address, bytes) of every file made for `site`; without `site_url` there are no feeds."""
    for former, address in site.addresses.redirects.items():
        yield f"{former}index.html", render_redirect(site, former, address, site_url)
    if not site.offline:
        yield "journal.json", render_open_data(site, site_url)
        if site_url:
            yield "feed.xml", render_atom(site, site_url, language)
            yield "feed.json", render_json_feed(site, site_url, language)
            if robots := render_robots(site_url, hidden=site.view.audience is not Audience.PUBLIC):
                yield "robots.txt", robots


def render_redirect(site: SiteContext, former: str, address: str, site_url: str) -> bytes:
    """The page at a `former` address: it leads on to `address` with a script or without, also from a file address."""
    to = site.linker(former).to
    there = escape(to(address))
    canonical = f'<link rel="canonical" href="{escape(absolute(site_url, address))}">' if site_url else ""
    # A script keeps what stands behind the `#`, and a folder of files has no page of its own.
    page = "index.html" if there.endswith("/") else ""
    script = f'location.replace({json.dumps(to(address))}+(location.protocol=="file:"?"{page}":"")+location.hash)'
    moved = escape(_("This page has moved"))
    return (
        f'<!doctype html>\n<html lang="{spoken().interface}">\n<meta charset="utf-8">\n<title>{moved}</title>\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n<meta name="robots" content="noindex">\n'
        f"{canonical}\n<script>{script}</script>\n"
        f'<noscript><meta http-equiv="refresh" content="0; url={there}"></noscript>\n'
        f'<p>{moved}: <a href="{there}">{escape(_("go to where it is now"))}</a>.</p>\n</html>\n'
    ).encode()


def render_robots(site_url: str, *, hidden: bool) -> bytes | None:
    """robots.txt, which counts only at the root of a host: elsewhere there is none."""
    if urlsplit(site_url).path not in ("", "/"):
        return None
    rule = "Disallow: /" if hidden else "Allow: /"
    return f"User-agent: *\n{rule}\n\nSitemap: {site_url}sitemap.xml\n".encode()
