"""Feeds and open data, held against their standards."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from datetime import date, datetime
from typing import Any

import feedparser
import pytest
from laying import LayContext
from making import entry

from journal.site.feeds import IN_FEED, render_atom, render_json_feed, render_open_data
from journal.site.pages import context_files, render_robots
from journal.site.site_context import Extras

SITE = "https://tarn.example/journal/"
ATOM = "{http://www.w3.org/2005/Atom}"


def test_atom_has_what_rfc_4287_requires(lay: LayContext) -> None:
    """RFC 4287, 4.1.1 and 4.1.2: id, title, updated once each; an author; a link to itself; content."""
    feed = ET.fromstring(render_atom(lay(), SITE))
    assert feed.tag == f"{ATOM}feed"
    for name in ("id", "title", "updated"):
        assert len(feed.findall(f"{ATOM}{name}")) == 1
    assert [link.get("href") for link in feed.findall(f"{ATOM}link") if link.get("rel") == "self"] == [
        f"{SITE}feed.xml"
    ]
    assert feed.find(f"{ATOM}author/{ATOM}name") is not None
    entries = feed.findall(f"{ATOM}entry")
    assert len(entries) == 4
    ids = [one.findtext(f"{ATOM}id") for one in entries]
    assert len(set(ids)) == 4
    for one in entries:
        for name in ("id", "title", "updated"):
            assert len(one.findall(f"{ATOM}{name}")) == 1
        # RFC 3339 with a zone
        stamp = datetime.fromisoformat(one.findtext(f"{ATOM}updated", "").replace("Z", "+00:00"))
        assert stamp.tzinfo is not None
        content = one.find(f"{ATOM}content")
        assert content is not None
        assert content.get("type") == "html"
        alternates = [link for link in one.findall(f"{ATOM}link") if link.get("rel") == "alternate"]
        assert len(alternates) == 1
    assert feed.findtext(f"{ATOM}updated") == max(one.findtext(f"{ATOM}updated", "") for one in entries)


def test_feedparser_reads_it_without_complaint(lay: LayContext) -> None:
    """A reader that has seen every feed there is finds nothing odd."""
    parsed: Any = feedparser.parse(render_atom(lay(), SITE))
    assert not parsed.bozo
    assert parsed.version == "atom10"
    assert [one.title for one in parsed.entries] == [
        "Day 5: Spar",
        "Day 4: Done over",
        "Day 2: Deburring the rest",
        "Day 1: First ribs",
    ]
    assert parsed.entries[2].link == f"{SITE}entries/2026-02-07-second/"
    assert f'src="{SITE}pictures/one-960.jpg"' in parsed.entries[2].content[0].value


def test_every_address_in_a_feed_is_absolute(lay: LayContext) -> None:
    """A feed is read far from its site."""
    for text in (render_atom(lay(), SITE).decode(), render_json_feed(lay(), SITE).decode()):
        assert "../" not in text
        assert "popover" not in text


def test_nothing_private_is_in_the_feeds(lay: LayContext) -> None:
    """Private entries, passages and photos, drafts, names."""
    for data in (render_atom(lay(), SITE), render_json_feed(lay(), SITE), render_open_data(lay(), SITE)):
        text = data.decode()
        for secret in ("hidden", "neighbour", "three-480", "Not yet", "Lindqvist", "ZZ-TRN", "home workshop"):
            assert secret not in text


def test_json_feed_has_what_version_1_1_requires(lay: LayContext) -> None:
    """JSON Feed 1.1: version and title at the top; id and content in each item; dates as RFC 3339."""
    feed = json.loads(render_json_feed(lay(), SITE))
    assert feed["version"] == "https://jsonfeed.org/version/1.1"
    assert feed["title"]
    assert feed["feed_url"] == f"{SITE}feed.json"
    for item in feed["items"]:
        assert isinstance(item["id"], str)
        assert item["content_html"]
        assert item["url"].startswith(SITE)
        assert datetime.fromisoformat(item["date_published"].replace("Z", "+00:00")).tzinfo
    assert feed["items"][2]["image"] == f"{SITE}pictures/one-960.jpg"
    assert feed["items"][2]["authors"] == [{"name": "Ada"}, {"name": "builder"}]


def test_stamps_follow_the_journal_s_order(lay: LayContext) -> None:
    """Two entries of one day keep their order, and no stamp depends on when the feed was made."""
    files = {
        "entries/2026-04-01-a/index.md": entry("title: A\ndate: 2026-04-01\nhours: 18:00-19:00"),
        "entries/2026-04-01-b/index.md": entry("title: B\ndate: 2026-04-01\nhours: 20:00-21:00"),
    }
    feed = json.loads(render_json_feed(lay(files), SITE))
    told = {item["title"].partition(": ")[2]: item["date_published"] for item in feed["items"]}
    assert told["A"] == "2026-04-01T12:00:00Z"
    assert told["B"] == "2026-04-01T12:00:01Z"


def test_feeds_hold_the_newest_alone(lay: LayContext) -> None:
    """A feed of ten years would be megabytes at every visit of every reader."""
    files = {f"entries/e{number:03}/index.md": entry(f"date: 2026-04-{number % 30 + 1:02}") for number in range(60)}
    assert len(json.loads(render_json_feed(lay(files), SITE))["items"]) == IN_FEED


def test_open_data_has_the_shape_of_the_format(lay: LayContext) -> None:
    """docs/format.md fixes the keys; figures are the ledger's."""
    data = json.loads(render_open_data(lay(), SITE))
    assert list(data) == ["aircraft", "days", "minutes", "entries", "assemblies", "months"]
    assert data["aircraft"] == {"name": "Tarn", "kind": "two-seat low-wing"}
    assert (data["days"], data["minutes"]) == (5, 1125)
    second = data["entries"][1]
    assert list(second) == [
        *("id", "date", "day", "title", "assembly", "steps", "begun", "redone", "minutes", "minutes_to_date"),
        *("people", "tools", "methods", "photos", "url"),
    ]
    assert (second["id"], second["day"], second["minutes"], second["minutes_to_date"]) == (
        "2026-02-07-second",
        2,
        390,
        510,
    )
    assert second["url"] == f"{SITE}entries/2026-02-07-second/"
    assert data["assemblies"][1] == {
        "id": "flaps",
        "title": "Flaps",
        "state": "under way",
        "minutes": 645,
        "steps_done": 2,
        "steps": 4,
    }
    assert data["months"] == [{"month": "2026-02", "minutes": 600}, {"month": "2026-03", "minutes": 525}]


@pytest.mark.parametrize(
    ("site_url", "names"), [(SITE, {"journal.json", "feed.xml", "feed.json"}), ("", {"journal.json"})]
)
def test_feeds_need_an_address(lay: LayContext, site_url: str, names: set[str]) -> None:
    """Without `site_url` nothing in a feed could be absolute: there are none."""
    assert {name for name, _ in context_files(lay(), site_url=site_url)} == names


def test_robots_txt_stands_at_the_root_of_a_host_alone() -> None:
    """Elsewhere nobody reads it."""
    assert render_robots("https://tarn.example/", hidden=False) == (
        b"User-agent: *\nAllow: /\n\nSitemap: https://tarn.example/sitemap.xml\n"
    )
    assert render_robots(SITE, hidden=False) is None


def test_an_id_is_the_address_under_the_oldest_name(lay: LayContext) -> None:
    """RFC 4287, 4.2.6: an ID must not change when the entry is relocated; JSON Feed 1.1: nor over time."""
    files = {"entries/2026-04-01-new/index.md": entry("date: 2026-04-01\nformerly: [2026-04-01-mid, 2026-04-01 old]")}
    site = lay(files)
    newest = json.loads(render_json_feed(site, SITE))["items"][0]
    assert newest["id"] == f"{SITE}entries/2026-04-01-old/"
    assert newest["url"] == f"{SITE}entries/2026-04-01-new/"
    assert ET.fromstring(render_atom(site, SITE)).findtext(f"{ATOM}entry/{ATOM}id") == newest["id"]
    # Without former names the ID is what it always was.
    rest = json.loads(render_json_feed(site, SITE))["items"][1:]
    assert [item["id"] for item in rest] == [item["url"] for item in rest]


def test_an_amendment_reaches_subscribers(lay: LayContext) -> None:
    """RFC 4287, 4.2.15: `updated` tells of a change that matters, `published` (4.2.9) stays; JSON Feed 1.1 likewise.
    An entry long out of the feed is in it again, and what was amended before the oldest of the newest is not.
    """
    files: dict[str, str] = {
        f"entries/e{number:02}/index.md": entry(f"title: E{number}\ndate: 2026-04-{number + 1:02}")
        for number in range(30)
    }
    told = {"e03": date(2026, 5, 2), "e04": date(2026, 4, 9), "e28": date(2026, 4, 29)}
    site = lay(files, extras=Extras(amended={id_: ((day, "the hours <b>"),) for id_, day in told.items()}))
    items = {item["url"].split("/")[-2]: item for item in json.loads(render_json_feed(site, SITE))["items"]}
    assert list(items) == [*(f"e{number}" for number in range(29, 9, -1)), "e03"]
    assert items["e03"]["date_published"] == "2026-04-04T12:00:00Z"
    assert items["e03"]["date_modified"] == "2026-05-02T12:00:01Z"
    assert items["e03"]["content_html"].startswith("<p>Amended on 2 May 2026: the hours &lt;b&gt;.</p>\n<p>Day ")
    # Amended on its own day it is newer than it was, and what was not amended is dated as before.
    assert items["e28"]["date_modified"] == "2026-04-29T12:00:01Z" > items["e28"]["date_published"]
    assert items["e29"]["date_modified"] == items["e29"]["date_published"]
    feed = ET.fromstring(render_atom(site, SITE))
    stamps = {one.findtext(f"{ATOM}id"): one.findtext(f"{ATOM}updated") for one in feed.findall(f"{ATOM}entry")}
    assert stamps == {item["id"]: item["date_modified"] for item in items.values()}
    # RFC 4287, 4.1.1 and 4.2.15: the feed is as new as the newest change in it.
    assert feed.findtext(f"{ATOM}updated") == "2026-05-02T12:00:01Z"


def test_feeds_speak_the_language_of_the_site(lay: LayContext) -> None:
    """RFC 4287, 2: xml:lang; JSON Feed 1.1: `language`, both as RFC 5646 writes it."""
    files = dict(context_files(lay(), site_url=SITE, language="de-CH"))
    assert json.loads(files["feed.json"])["language"] == "de-CH"
    assert b'xml:lang="de-CH"' in files["feed.xml"]


@pytest.mark.parametrize("offline", [False, True])
def test_a_former_address_leads_on(lay: LayContext, offline: bool) -> None:
    """With a script or without, and no engine keeps it; the way is relative, so it holds from a file address too."""
    old = {"entries/2026-04-01-new/index.md": entry("date: 2026-04-01\nformerly: a & b")}
    files = dict(context_files(lay(old, offline=offline), site_url="" if offline else SITE))
    html = files["entries/a---b/index.html"].decode()
    there = "../../entries/2026-04-01-new/" + ("index.html" if offline else "")
    assert f'<noscript><meta http-equiv="refresh" content="0; url={there}"></noscript>' in html
    assert f'<a href="{there}">' in html
    assert f'location.replace("{there}"+' in html
    assert '<meta name="robots" content="noindex">' in html
    assert (f'rel="canonical" href="{SITE}entries/2026-04-01-new/"' in html) is not offline


def test_the_former_name_of_a_private_entry_is_nowhere(lay: LayContext) -> None:
    """What is not shown had no address that anybody could miss."""
    site = lay({"entries/hush/index.md": entry("private: true\nformerly: hushed")})
    assert not site.addresses.redirects
    assert not [name for name, data in context_files(site, site_url=SITE) if "hush" in name or b"hush" in data]
