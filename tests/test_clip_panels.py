"""Films on sheets: what is linked, what is said, and what stays off the site."""

from __future__ import annotations

from datetime import date
from html.parser import HTMLParser
from pathlib import Path

import pytest
from making import MakeBuild, entry
from PIL import Image

from journal.base.model import Clip
from journal.ledger.journal import CACHE, Journal, open_journal
from journal.making.film_panels import CLIPS, add_clips, keep_films
from journal.media.clips import ClipStore, store
from journal.media.clips.encode import MadeFilm, Shown
from journal.media.clips.facts import ClipFacts
from journal.media.clips.program import FilmError, OnSecond
from journal.site.site_context import Extras, SiteContext
from journal.view.shown_pictures import PICTURES
from journal.view.view import Audience, open_view


@pytest.fixture
def root(make_build: MakeBuild, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A build with two public clips, one private, one in a private entry, one that cannot be read; films are
    made at once out of nothing.
    """

    def encode(path: Path, shown: Shown, on_second: OnSecond) -> MadeFilm:
        if path.name == "bad.mov":
            raise FilmError("the film is damaged")
        data = b"film of " + path.name.encode() + bytes(600_000)
        return MadeFilm(data=data, frame=Image.new("RGB", (640, 360)), seconds=75)

    monkeypatch.setattr(store, "encode_film", encode)
    monkeypatch.setattr(store, "clip_facts", lambda path: ClipFacts(seconds=75))
    monkeypatch.setattr(store, "_undecodable", lambda path: "")
    names = ("one.mov", "two.mp4", "mine.mov", "bad.mov")
    return make_build(
        {
            "entries/a/index.md": entry(
                'title: "Ribs & spars"\nphotos:\n  one.mov: "Squeezing <fast>"\n  mine.mov: {private: true}'
            ),
            **{f"entries/a/{name}": f"clip {name}".encode() for name in names},
            "entries/b/index.md": entry("date: 2026-02-08\nprivate: true"),
            "entries/b/hidden.mov": b"clip hidden",
        }
    )


def made_for(root: Path, audience: Audience) -> tuple[Journal, Extras]:
    """What the clips add to a site for that audience."""
    journal = open_journal(root, date(2026, 3, 1))
    extras = add_clips(SiteContext(open_view(journal, audience), {}), root)
    if audience is Audience.PUBLIC:
        keep_films(journal)
    return journal, extras


class _Tags(HTMLParser):
    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [told for name, told in self.tags if name == tag]


def test_a_sheet_shows_its_films_under_posters_that_load_late(root: Path) -> None:
    """Every picture carries its size and loads late; the film itself is fetched only when it is pressed."""
    _, extras = made_for(root, Audience.PUBLIC)
    (panel,) = extras.panels["entries/a/"]
    tags = _Tags(panel.html)
    assert panel.title == "Films"
    assert [image["loading"] for image in tags.all("img")] == ["lazy", "lazy"]
    assert {(image["width"], image["height"]) for image in tags.all("img")} == {("640", "360")}
    assert not tags.all("video")
    links = [link["href"] or "" for link in tags.all("a")]
    assert all(link.removeprefix("../../") in extras.linked for link in links)
    assert all(link.startswith(f"../../{CLIPS}") for link in links)
    assert "Squeezing &lt;fast&gt;" in panel.html
    assert "1 min 15 s · 0.6 MB" in panel.html
    assert "damaged" not in panel.html
    assert "no-picture" not in panel.html


def test_where_no_film_can_be_shown_followers_see_nothing(root: Path) -> None:
    """The builder and the inspector are told why, since they can do something about it."""
    folder = root / "content/entries/a"
    for name in ("one.mov", "two.mp4"):
        (folder / name).unlink()
    (folder / "index.md").write_text(entry(""))
    (folder / "mine.mov").unlink()
    assert "entries/a/" not in made_for(root, Audience.PUBLIC)[1].panels
    assert "Film: the film is damaged" in made_for(root, Audience.ARCHIVE)[1].panels["entries/a/"][0].html


def test_private_clips_are_nowhere_on_the_site(root: Path) -> None:
    """Neither a clip marked private nor one of a private entry is made, linked or named."""
    _, extras = made_for(root, Audience.PUBLIC)
    films = [path.read_bytes() for name, path in extras.linked.items() if name.startswith(CLIPS)]
    assert sorted(film.split(b"\0")[0] for film in films) == [b"film of one.mov", b"film of two.mp4"]
    assert "mine" not in extras.panels["entries/a/"][0].html
    assert set(extras.panels) == {"entries/a/"}


def test_the_archive_has_them_all_with_their_originals(root: Path) -> None:
    """The inspector sees private films too, each with a link to the untouched file."""
    _, extras = made_for(root, Audience.ARCHIVE)
    originals = [
        link["href"] for link in _Tags(extras.panels["entries/a/"][0].html).all("a") if link.get("class") == "original"
    ]
    names = ("bad.mov", "mine.mov", "one.mov", "two.mp4")
    assert originals == [f"../../source/content/entries/a/{name}" for name in names]
    assert "entries/b/" in extras.panels
    # The next public site does not throw the archive's films away: they took long to make.
    made_for(root, Audience.PUBLIC)
    settings = open_journal(root, date(2026, 3, 1)).build.photo_settings
    shelf = ClipStore(root, root / CACHE / "clips", settings)
    uris = ("content/entries/a/mine.mov", "content/entries/b/hidden.mov")
    wanted = [Clip(name=uri.rpartition("/")[2], src_uri=uri) for uri in uris]
    assert len(shelf.shelved(wanted)) == 2


def test_a_preview_waits_for_no_film(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is not made yet is said to come with the site; nothing is encoded while somebody writes."""
    monkeypatch.setattr(store, "encode_film", None)
    _, extras = made_for(root, Audience.PREVIEW)
    assert "Film: made with the site" in extras.panels["entries/a/"][0].html
    assert extras.linked == {}


def test_weights_over_the_budget_are_found_once_they_are_known(root: Path) -> None:
    """`check` encodes nothing; after the first site it tells which entry is too heavy, and what cannot be shown."""
    build_yml = root / "content/build.yml"
    build_yml.write_text(build_yml.read_text() + "clips: {budget: 1 MB}\n")
    before = open_journal(root, date(2026, 3, 1)).problems
    assert not any(problem.word.startswith("clip") for problem in before)
    made_for(root, Audience.PUBLIC)
    after = [problem for problem in open_journal(root, date(2026, 3, 1)).problems if problem.word.startswith("clip")]
    assert [(problem.word, problem.file) for problem in after] == [
        ("clip-unreadable", "content/entries/a/index.md"),
        ("clips-heavy", "content/entries/a/index.md"),
    ]


def test_a_film_that_is_no_longer_shown_is_cleared_away(root: Path) -> None:
    """A clip taken out of its entry leaves no film in the cache."""
    _, before = made_for(root, Audience.PUBLIC)
    (root / "content/entries/a/two.mp4").unlink()
    _, after = made_for(root, Audience.PUBLIC)
    gone = set(before.linked.values()) - set(after.linked.values())
    assert gone
    assert not any(path.exists() for path in gone)
    assert any(name.startswith(PICTURES) for name in after.linked)
