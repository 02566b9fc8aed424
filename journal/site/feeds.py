"""What other programs read: feeds for followers (Atom, RFC 4287, and JSON Feed 1.1) and the open data.

An entry's ID in the feeds is the address under its oldest name, so that a renamed folder is no news. Its time stamp is
noon UTC of its day and a second more for each entry of the same day: the journal tells days, and a stamp that
depended on when the site was built would bring old news to every reader. One that was amended is dated by that day.
"""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from datetime import date
from html import escape
from typing import Any

from journal.base.formatting import say_date
from journal.base.model import named
from journal.base.words import _
from journal.site.figures import render_figure
from journal.site.frame import absolute
from journal.site.site_context import SiteContext
from journal.view.page_addresses import ENTRIES, former_address
from journal.view.page_links import Linker
from journal.view.view import ShownEntry

IN_FEED = 20
ATOM = "http://www.w3.org/2005/Atom"


def feed_items(site: SiteContext, site_url: str) -> list[dict[str, Any]]:
    """The newest entries and, of those before them, the ones amended since (as many at most), newest first, as JSON
    Feed 1.1 names their parts; drafts are never told.
    """
    entries = [entry for entry in site.view.entries if not entry.draft]
    newest, numbers = entries[-IN_FEED:], dict(_numbers(entries))
    amended = [
        (told[-1][0], entry.id)
        for entry in entries[:-IN_FEED]
        if (told := site.extras.amended.get(entry.id)) and told[-1][0] >= newest[0].date
    ]
    chosen = {entry.id for entry in newest} | {id_ for _, id_ in sorted(amended)[-IN_FEED:]}
    return [_item(site, site_url, entry, numbers[entry.id]) for entry in reversed(entries) if entry.id in chosen]


def _numbers(entries: list[ShownEntry]) -> Iterator[tuple[str, int]]:
    """Of each entry how many of the same day stand before it."""
    day, number = None, 0
    for entry in entries:
        day, number = (entry.date, number + 1 if entry.date == day else 0)
        yield entry.id, number


def _stamp(day: date, seconds: int) -> str:
    return f"{day.isoformat()}T12:{seconds // 60 % 60:02d}:{seconds % 60:02d}Z"


def _item(site: SiteContext, site_url: str, entry: ShownEntry, number: int) -> dict[str, Any]:
    linker = Linker(root=site_url)
    prose = site.render_body(
        entry.body,
        src_uri=entry.src_uri,
        title=entry.title,
        linker=linker,
        boxes=site.boxes_by_name(entry),
        explain=False,
    )
    card = site.card(entry)
    facts = " · ".join(
        filter(
            None,
            (card.day, entry.assembly.title, _("steps {steps}", steps=card.steps) if card.steps else "", card.hours),
        )
    )
    left_over = "".join(render_figure(box, linker) for box in site.not_placed(entry, prose) if box.usable)
    cover = site.cover(entry)
    picture = absolute(site_url, cover.middle) if cover else ""
    url = absolute(site_url, card.address)
    amended = site.extras.amended.get(entry.id, ())
    told = (_("Amended on {day}: {what}.", day=say_date(day), what=what) for day, what in reversed(amended))
    notes = (f"<p>{escape(words)}</p>\n" for words in told)
    to_date = _("{hours} to date", hours=card.to_date)
    head = f"{''.join(notes)}<p>{escape(facts)}; {escape(to_date)}</p>"
    published = _stamp(entry.date, number)
    # A second later for each, so that two amendments of one day are two, and one of the day itself is seen.
    modified = max(published, _stamp(amended[-1][0], number + len(amended))) if amended else published
    return {
        "id": absolute(site_url, former_address(ENTRIES, entry.formerly[-1])) if entry.formerly else url,
        "url": url,
        "title": f"{card.day}: {entry.title}",
        "content_html": f"{head}\n{prose.html}\n{left_over}".strip(),
        "summary": card.lead or facts,
        "date_published": published,
        "date_modified": modified,
        "tags": [entry.assembly.title, *entry.methods],
        **({"authors": [{"name": person} for person in entry.people]} if entry.people else {}),
        **({"image": picture, "banner_image": picture} if picture else {}),
    }


def render_atom(site: SiteContext, site_url: str, language: str = "en") -> bytes:
    """feed.xml; `language` is that of the site."""
    items = feed_items(site, site_url)
    ET.register_namespace("", ATOM)
    feed = ET.Element(f"{{{ATOM}}}feed", {"{http://www.w3.org/XML/1998/namespace}lang": language})
    _text(feed, "id", site_url)
    _text(feed, "title", site.site_name)
    empty = f"{site.view.begun or '1970-01-01'}T12:00:00Z"
    _text(feed, "updated", max((item["date_modified"] for item in items), default=empty))
    ET.SubElement(
        feed, f"{{{ATOM}}}link", {"rel": "self", "type": "application/atom+xml", "href": f"{site_url}feed.xml"}
    )
    ET.SubElement(feed, f"{{{ATOM}}}link", {"rel": "alternate", "type": "text/html", "href": site_url})
    author = ET.SubElement(feed, f"{{{ATOM}}}author")
    _text(author, "name", site.site_name)
    for item in items:
        entry = ET.SubElement(feed, f"{{{ATOM}}}entry")
        _text(entry, "id", item["id"])
        _text(entry, "title", item["title"])
        _text(entry, "updated", item["date_modified"])
        _text(entry, "published", item["date_published"])
        ET.SubElement(entry, f"{{{ATOM}}}link", {"rel": "alternate", "type": "text/html", "href": item["url"]})
        for person in item.get("authors", ()):
            _text(ET.SubElement(entry, f"{{{ATOM}}}author"), "name", person["name"])
        for tag in item["tags"]:
            ET.SubElement(entry, f"{{{ATOM}}}category", {"term": tag})
        _text(entry, "summary", item["summary"])
        content = _text(entry, "content", item["content_html"])
        content.set("type", "html")
    ET.indent(feed)
    return f'<?xml version="1.0" encoding="utf-8"?>\n{ET.tostring(feed, encoding="unicode")}\n'.encode()


def _text(parent: ET.Element, name: str, text: str) -> ET.Element:
    element = ET.SubElement(parent, f"{{{ATOM}}}{name}")
    element.text = "".join(char for char in text if char in "\n\t" or char >= " ")
    return element


def render_json_feed(site: SiteContext, site_url: str, language: str = "en") -> bytes:
    """feed.json, likewise."""
    feed = {
        "version": "https://jsonfeed.org/version/1.1",
        "title": site.site_name,
        "home_page_url": site_url,
        "feed_url": f"{site_url}feed.json",
        "language": language,
        "items": feed_items(site, site_url),
    }
    return (json.dumps(feed, ensure_ascii=False, indent=1) + "\n").encode()


def render_open_data(site: SiteContext, site_url: str) -> bytes:
    """journal.json. `url`s are absolute where the site's own address is known, else relative to its root."""
    view, addresses = site.view, site.addresses

    def url(address: str) -> str:
        return absolute(site_url, address) or address

    data: dict[str, Any] = {
        "aircraft": {
            key: value for key in ("name", "kind", "registration", "serial") if (value := getattr(view.aircraft, key))
        },
        **named(view, "days", "minutes"),
        "entries": [
            {
                "id": entry.id,
                "date": entry.date.isoformat(),
                **named(entry, "day", "title"),
                "assembly": entry.assembly.id,
                "steps": [step.id for step in entry.steps],
                "begun": [step.id for step in entry.begun],
                "redone": [step.id for step in entry.redone],
                **named(entry, "minutes", "minutes_to_date", "people", "tools", "methods"),
                "photos": [
                    {"url": url(box.largest), "caption": box.caption, "width": box.width, "height": box.height}
                    for box in site.usable_boxes(entry)
                ],
                "url": url(addresses.entry_address[entry.id]),
            }
            for entry in view.entries
            if not entry.draft
        ],
        "assemblies": [
            {
                **named(assembly, "id", "title"),
                "state": view.assembly_progress[assembly.id].state.value,
                "minutes": view.by_assembly.get(assembly.id, 0),
                **named(view.assembly_progress[assembly.id], "steps_done", "steps"),
            }
            for assembly in view.assemblies.values()
        ],
        "months": [{"month": month, "minutes": minutes} for month, minutes in sorted(view.by_month.items())],
    }
    return (json.dumps(data, ensure_ascii=False, indent=1) + "\n").encode()
