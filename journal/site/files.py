"""What the site holds beside its pages: feeds, open data, robots.txt, and what other parts add."""

from __future__ import annotations

from collections.abc import Iterator
from urllib.parse import urlsplit

from journal.site.feeds import render_atom, render_json_feed
from journal.site.opendata import render_open_data
from journal.site.site_context import SiteContext
from journal.view.view import Audience


def context_files(site: SiteContext, *, site_url: str) -> Iterator[tuple[str, bytes]]:
    """(address, bytes) of every file made for `site`; without `site_url` there are no feeds."""
    if not site.offline:
        yield "journal.json", render_open_data(site, site_url)
        if site_url:
            yield "feed.xml", render_atom(site, site_url)
            yield "feed.json", render_json_feed(site, site_url)
            if robots := render_robots(site_url, hidden=site.view.audience is not Audience.PUBLIC):
                yield "robots.txt", robots


def render_robots(site_url: str, *, hidden: bool) -> bytes | None:
    """robots.txt, which counts only at the root of a host: elsewhere there is none."""
    if urlsplit(site_url).path not in ("", "/"):
        return None
    rule = "Disallow: /" if hidden else "Allow: /"
    return f"User-agent: *\n{rule}\n\nSitemap: {site_url}sitemap.xml\n".encode()
