"""The Find page and its scripts: what is in them, and what is not."""

from __future__ import annotations

import json
import os
import re
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from making import anchors_missing

from journal.finding.scripts import FOLDER, front
from journal.ledger.journal import Journal
from journal.making.find_pages import FindPage, find_extras
from journal.site.site_context import Extras, SiteContext
from journal.view.view import Audience, View, open_view

SECRETS = ("mortgage", "zinc cupboard", "hardener", "Oldani", "Haldi", "Stamm", "garage at home", "money-talk")


@dataclass(frozen=True)
class _Rendition:
    width_px: int = 480
    height_px: int = 320
    name: str = "abc-480.jpg"


@dataclass(frozen=True)
class _Picture:
    renditions: tuple[_Rendition, ...] = (_Rendition(),)
    trouble: str = ""


@pytest.fixture(scope="module")
def extras(view: View) -> Extras:
    """The public Find page and its files, every photo published."""
    pictures = {photo.src_uri: _Picture() for entry in view.entries for photo in entry.photos}
    return find_extras(SiteContext(view, pictures), Path(os.devnull))


def value(data: bytes) -> object:
    """What a script of the index hands over."""
    return json.loads(data.decode().removeprefix("journalFind(").removesuffix(");\n").split(",", 2)[2])


def test_nothing_private_is_in_a_public_index(extras: Extras, journal: Journal) -> None:
    """No byte of a private entry, passage, place or full name; the archive's index has them."""
    public = b"".join(data for _, data in extras.files).decode() + repr(extras.pages)
    assert not [secret for secret in SECRETS if secret in public]
    archive = find_extras(SiteContext(open_view(journal, Audience.ARCHIVE), {}), Path(os.devnull))
    everything = b"".join(data for _, data in archive.files).decode()
    assert [secret for secret in SECRETS if secret not in everything] == ["garage at home"]


def test_the_same_view_gives_the_same_bytes(extras: Extras, view: View) -> None:
    """Twice made, twice the same; a changed word gives another version in every part."""
    pictures = {photo.src_uri: _Picture() for entry in view.entries for photo in entry.photos}
    assert find_extras(SiteContext(view, pictures), Path(os.devnull)).files == extras.files
    changed = replace(view, entries=(replace(view.entries[0], title="Another title"), *view.entries[1:]))
    versions = {
        data.decode().split(",")[1] for _, data in find_extras(SiteContext(changed, pictures), Path(os.devnull)).files
    }
    assert len(versions) == 1
    assert versions.isdisjoint(data.decode().split(",")[1] for _, data in extras.files)


@pytest.mark.slow
def test_the_index_is_kept_for_the_next_build(view: View, tmp_path: Path) -> None:
    """The kept index is taken where nothing changed, and never where something did or the file is damaged."""
    keep = tmp_path / "find"
    view = replace(view, entries=view.entries[:12], terms=(), inspections=())
    pictures = {photo.src_uri: _Picture() for entry in view.entries for photo in entry.photos}
    first = find_extras(SiteContext(view, pictures), keep)
    assert first == find_extras(SiteContext(view, pictures), Path(os.devnull))
    kept = {file: file.read_bytes() for file in (keep / "site-public", keep / "words-public")}
    assert find_extras(SiteContext(view, pictures), keep) == first
    fewer = replace(view, entries=view.entries[1:])
    assert (
        find_extras(SiteContext(fewer, pictures), keep).files
        == find_extras(SiteContext(fewer, pictures), Path(os.devnull)).files
    )
    for file, whole in kept.items():
        for damaged in (whole[:-10], whole.replace(b"birch", b"beech"), b"", b"{}\n"):
            (keep / "site-public").unlink(missing_ok=True)
            file.write_bytes(damaged)
            assert find_extras(SiteContext(view, pictures), keep) == first
    assert list(keep.glob("*.part")) == []


def test_the_page_offers_what_the_entries_hold(extras: Extras) -> None:
    """Filters list assemblies, steps by assembly, tools, methods, shown people and years; examples are real."""
    (page,) = extras.pages
    record = page.record
    assert isinstance(record, FindPage)
    filters = {one.anchor: one for one in record.filters}
    assert list(filters) == ["assembly", "step", "tool", "method", "person", "year"]
    people = {option.address for option in filters["person"].items[0].items}  # type: ignore[attr-defined]
    assert people == {"Mira", "Jonas", "Pete", "the inspector"}
    assert filters["step"].items[0].title == "Flaps"
    assert filters["year"].items[0].items[0].address == "2025"
    assert (page.address, page.template) == ("find/", "find.html")
    assert [link.text for link in record.examples] == ["step 9.14", "AN426AD4-4", "rivet gun"]


def test_a_large_journal_is_parted(extras: Extras) -> None:
    """Cards and postings come in parts, so that a question loads few of them."""
    names = [name for name, _ in extras.files]
    assert names[0] == f"{FOLDER}lexicon.js"
    assert sum("cards-" in name for name in names) > 3
    lexicon = value(extras.files[0][1])
    assert isinstance(lexicon, dict)
    cards = [row for name, data in extras.files if "cards-" in name for row in value(data)]  # type: ignore[attr-defined]
    assert len(cards) == lexicon["documents"]


@settings(deadline=None)
@given(st.lists(st.text(alphabet="abcdé-.#1", min_size=1, max_size=50)))
def test_front_coded_words_come_back(words: list[str]) -> None:
    """What a browser undoes (engine.js, unfront) is undone here the same way."""
    words = sorted(set(words))
    before, undone = "", []
    for coded in filter(None, front(words).split("|")):
        before = before[: ord(coded[0]) - 0x250] + coded[1:]
        undone.append(before)
    assert undone == words
    assert not re.search(r"\bwise", front(["clock", "clockwise", "otherwise"]))


@pytest.mark.parametrize("audience", [Audience.PUBLIC, Audience.ARCHIVE])
def test_every_answer_leads_to_what_says_it(
    request: pytest.FixtureRequest, journal: Journal, audience: Audience
) -> None:
    """Each anchor of a document stands on its page, and no page has an id twice."""
    site = request.getfixturevalue("site" if audience is Audience.PUBLIC else "archive_site")
    assert anchors_missing(site, open_view(journal, audience)) == []
