"""Feeds for followers: Atom (RFC 4287) and JSON Feed 1.1, with pictures and absolute addresses.

An entry's ID is its address, which its folder name fixes. Its time stamp is noon UTC of its day
and a second more for each sheet of the same day: the journal tells days, and a stamp that
depended on when the site was built would bring old news to every reader.
"""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import dataclass
from html import escape

from journal.site.site_context import Desk
from journal.site.figures import render_figure
from journal.site.frame import absolute
from journal.view.page_links import Linker
from journal.view.view import Sheet

IN_FEED = 20
ATOM = "http://www.w3.org/2005/Atom"


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedItem:
    """One sheet as both feeds tell it."""

    url: str
    title: str
    stamp: str
    summary: str
    html: str
    picture: str
    people: tuple[str, ...]
    tags: tuple[str, ...]


def feed_items(desk: Desk, site_url: str) -> tuple[FeedItem, ...]:
    """The newest sheets, newest first; drafts are never told."""
    sheets = [sheet for sheet in desk.view.sheets if not sheet.draft]
    stamps = dict(_stamps(sheets))
    return tuple(_item(desk, site_url, sheet, stamps[sheet.id]) for sheet in reversed(sheets[-IN_FEED:]))


def _stamps(sheets: list[Sheet]) -> Iterator[tuple[str, str]]:
    day, number = None, 0
    for sheet in sheets:
        day, number = (sheet.date, number + 1 if sheet.date == day else 0)
        yield sheet.id, f"{sheet.date.isoformat()}T12:{number // 60 % 60:02d}:{number % 60:02d}Z"


def _item(desk: Desk, site_url: str, sheet: Sheet, stamp: str) -> FeedItem:
    linker = Linker(root=site_url)
    boxes = desk.boxes(sheet)
    prose = desk.render_body(
        sheet.body,
        src_uri=sheet.src_uri,
        title=sheet.title,
        linker=linker,
        boxes={photo.name: box for photo, box in zip(sheet.photos, boxes, strict=True)},
        explain=False,
    )
    card = desk.card(sheet)
    facts = " · ".join(
        filter(None, (card.day, sheet.assembly.title, f"steps {card.steps}" if card.steps else "", card.hours))
    )
    left_over = "".join(
        render_figure(box, linker)
        for photo, box in zip(sheet.photos, boxes, strict=True)
        if photo.name not in prose.placed and box.usable
    )
    cover = desk.cover(sheet)
    return FeedItem(
        url=absolute(site_url, card.address),
        title=f"{card.day}: {sheet.title}",
        stamp=stamp,
        summary=card.lead or facts,
        html=f"<p>{escape(facts)}; {escape(card.to_date)} to date</p>\n{prose.html}\n{left_over}".strip(),
        picture=absolute(site_url, cover.middle.address) if cover else "",
        people=sheet.people,
        tags=(sheet.assembly.title, *sheet.methods),
    )


def render_atom(desk: Desk, site_url: str) -> bytes:
    """feed.xml."""
    items = feed_items(desk, site_url)
    ET.register_namespace("", ATOM)
    feed = ET.Element(f"{{{ATOM}}}feed", {"{http://www.w3.org/XML/1998/namespace}lang": "en"})
    _text(feed, "id", site_url)
    _text(feed, "title", desk.site_name)
    _text(feed, "updated", items[0].stamp if items else _begun(desk))
    ET.SubElement(
        feed, f"{{{ATOM}}}link", {"rel": "self", "type": "application/atom+xml", "href": f"{site_url}feed.xml"}
    )
    ET.SubElement(feed, f"{{{ATOM}}}link", {"rel": "alternate", "type": "text/html", "href": site_url})
    author = ET.SubElement(feed, f"{{{ATOM}}}author")
    _text(author, "name", desk.site_name)
    for item in items:
        entry = ET.SubElement(feed, f"{{{ATOM}}}entry")
        _text(entry, "id", item.url)
        _text(entry, "title", item.title)
        _text(entry, "updated", item.stamp)
        _text(entry, "published", item.stamp)
        ET.SubElement(entry, f"{{{ATOM}}}link", {"rel": "alternate", "type": "text/html", "href": item.url})
        for person in item.people:
            _text(ET.SubElement(entry, f"{{{ATOM}}}author"), "name", person)
        for tag in item.tags:
            ET.SubElement(entry, f"{{{ATOM}}}category", {"term": tag})
        _text(entry, "summary", item.summary)
        content = _text(entry, "content", item.html)
        content.set("type", "html")
    ET.indent(feed)
    return f'<?xml version="1.0" encoding="utf-8"?>\n{ET.tostring(feed, encoding="unicode")}\n'.encode()


def _begun(desk: Desk) -> str:
    day = desk.view.begun.isoformat() if desk.view.begun else "1970-01-01"
    return f"{day}T12:00:00Z"


def _text(parent: ET.Element, name: str, text: str) -> ET.Element:
    element = ET.SubElement(parent, f"{{{ATOM}}}{name}")
    element.text = "".join(char for char in text if char in "\n\t" or char >= " ")
    return element


def render_json_feed(desk: Desk, site_url: str) -> bytes:
    """feed.json."""
    feed = {
        "version": "https://jsonfeed.org/version/1.1",
        "title": desk.site_name,
        "home_page_url": site_url,
        "feed_url": f"{site_url}feed.json",
        "language": "en",
        "items": [
            {
                "id": item.url,
                "url": item.url,
                "title": item.title,
                "content_html": item.html,
                "summary": item.summary,
                "date_published": item.stamp,
                "date_modified": item.stamp,
                "tags": list(item.tags),
                **({"authors": [{"name": person} for person in item.people]} if item.people else {}),
                **({"image": item.picture, "banner_image": item.picture} if item.picture else {}),
            }
            for item in feed_items(desk, site_url)
        ],
    }
    return (json.dumps(feed, ensure_ascii=False, indent=1) + "\n").encode()
