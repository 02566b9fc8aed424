"""The preview: pages on demand, problems in their place, nobody else's eyes."""

from __future__ import annotations

import base64
import hashlib
import http.client
import json
import re
import shutil
import threading
import time
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from journal.commands.network.letting_in import Doorkeeper
from journal.commands.preview import WAIT, LivePages, serving
from journal.ledger.journal import open_journal
from journal.making.host import load_settings, site_options
from journal.making.lay_site import lay_site
from journal.view.view import Audience

BUILD = Path(__file__).parent / "builds" / "first-weeks"
SPAR = "content/entries/2026-01-25-spar/index.md"


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A copy of tests/builds/first-weeks to write in."""
    return Path(shutil.copytree(BUILD, tmp_path / "build"))


@pytest.fixture
def preview(root: Path) -> Iterator[tuple[LivePages, int]]:
    """A running preview of it."""
    with serving(root) as running:
        yield running


def get(port: int, path: str, host: str | None = None) -> tuple[int, str]:
    """(status, body) of a request."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    connection.request("GET", path, headers={"Host": host} if host else {})
    response = connection.getresponse()
    return response.status, response.read().decode("utf-8", "replace")


def change(root: Path, name: str, old: str, new: str) -> None:
    """Save a file with a change."""
    text = (root / name).read_text("utf-8")
    assert old in text
    (root / name).write_text(text.replace(old, new), "utf-8")


def soon(port: int, path: str, words: str) -> str:
    """The page, once it holds `words`."""
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline:
        _, page = get(port, path)
        if words in page:
            return page
        time.sleep(0.1)
    pytest.fail(f"{words!r} did not appear on {path}")


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("/", "Tarn"),
        ("/entries/2026-01-17-ribs/", "Ribs: all six"),
        ("/entries/2026-01-26-draft/", "draft"),
        ("/steps/5.2/", "Drill the skeleton"),
        ("/assemblies/left-wing/", "Left wing"),
        ("/calendar/", "January"),
        ("/hours/", "Hours"),
        ("/find/", "Find"),
        ("/shop/rivets/", "rivets"),
        ("/feed.json", "First weeks"),
        ("/journal.json", "minutes_to_date"),
        ("/assets/journal.css", "{"),
    ],
)
def test_every_kind_of_page_is_made_when_asked_for(preview: tuple[LivePages, int], path: str, words: str) -> None:
    """Pages, drafts, pages by year, the find page, feeds, styles."""
    status, page = get(preview[1], path)
    assert status == 200
    assert words in page


def test_pictures_are_served_as_renditions_only(preview: tuple[LivePages, int], root: Path) -> None:
    """What the page names is there; originals and private photos are not to be had."""
    _, page = get(preview[1], "/entries/2026-01-17-ribs/")
    name = page.split("pictures/")[1].split(".jpg")[0] + ".jpg"
    assert get(preview[1], f"/pictures/{name}")[0] == 200
    for path in (
        "/content/entries/2026-01-17-ribs/ribs.jpg",
        "/entries/2026-01-17-ribs/ribs.jpg",
        "/entries/2026-01-17-ribs/secret.png",
        "/assets/../../content/build.yml",
        "/assets/%2e%2e/%2e%2e/pyproject.toml",
        "/assets/..%2f..%2fcontent%2fbuild.yml",
        "/main.html",
    ):
        status, body = get(preview[1], path)
        assert status == 404, path
        assert "Bergstrom" not in body


def test_private_entries_stay_hidden(preview: tuple[LivePages, int]) -> None:
    """The preview shows what followers will see, and drafts."""
    status, page = get(preview[1], "/entries/2026-01-18-quiet/")
    assert status == 404
    assert "needs to know" not in page


def test_a_save_is_shown_and_open_pages_are_told(preview: tuple[LivePages, int], root: Path) -> None:
    """The page that waits hears of the save; asked again, it shows the new text."""
    studio, port = preview
    assert "on its stands" in get(port, "/entries/2026-01-25-spar/")[1]
    told: list[int] = []
    seen = studio.version
    waiting = threading.Thread(target=lambda: told.append(json.loads(get(port, f"{WAIT}?seen={seen}")[1])["version"]))
    waiting.start()
    change(root, SPAR, "on its stands", "on the long bench")
    waiting.join(20)
    assert told
    assert told[0] > seen
    soon(port, "/entries/2026-01-25-spar/", "on the long bench")


def test_reading_does_not_count_as_saving(preview: tuple[LivePages, int]) -> None:
    """Pages asked for do not reload one another for ever."""
    studio, port = preview
    get(port, "/")
    get(port, "/entries/2026-01-25-spar/")
    seen = studio.version
    time.sleep(0.5)
    get(port, "/")
    time.sleep(0.5)
    assert studio.version == seen


def test_a_mistake_stands_in_the_place_of_the_page(preview: tuple[LivePages, int], root: Path) -> None:
    """With file, line and mend; the rest of the site goes on; mended, the page is back."""
    port = preview[1]
    change(root, SPAR, "assembly: left wing", "assembly: left wimg")
    page = soon(port, "/entries/2026-01-25-spar/", "unknown assembly")
    assert f"{SPAR}:3:11" in page
    assert "did you mean &quot;left wing&quot;?" in page
    assert "unknown assembly" in get(port, "/")[1]
    change(root, SPAR, "left wimg", "left wing")
    soon(port, "/entries/2026-01-25-spar/", "on its stands")


def test_a_broken_mkdocs_yml_is_told_and_mended(preview: tuple[LivePages, int], root: Path) -> None:
    """The server lives on and says what is wrong."""
    port = preview[1]
    change(root, "mkdocs.yml", "plugins: [search, journal]", "plugins: [search]")
    soon(port, "/", "lacks")
    change(root, "mkdocs.yml", "plugins: [search]", "plugins: [search, journal]")
    soon(port, "/", "Steps done")


def test_only_this_machine_is_answered(preview: tuple[LivePages, int], root: Path) -> None:
    """A page elsewhere cannot read drafts by pointing a name of its own here, shared or not."""
    with serving(root, share=True) as shared:
        for _, port in (preview, shared):
            for host in ("evil.example", f"evil.example:{port}", "localhost:80", f"localhost:{port}.evil.example"):
                assert get(port, "/", host=host)[0] == 403, host
            assert get(port, "/", host=f"localhost:{port}")[0] == 200


def test_a_shared_preview_is_for_those_let_in(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Drafts are shown to this machine and to who has the secret, to nobody else."""
    monkeypatch.setattr("journal.commands.preview.names_here", lambda certificate: ("tarn.example",))
    doorkeeper = Doorkeeper(root, kind="preview")
    with serving(root, share=True, doorkeeper=doorkeeper) as (_, port):
        host = f"tarn.example:{port}"
        for path in ("/", "/entries/2026-01-26-draft/", WAIT, "/feed.json", "/assets/journal.css"):
            assert get(port, path, host)[0] == 401
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        form = f"secret={doorkeeper.new_secret()}&name=Ada"
        connection.request("POST", "/let-in", form, {"Host": host, "Origin": f"http://{host}"})
        answer = connection.getresponse()
        answer.read()
        connection.request("GET", "/", headers={"Host": host, "Cookie": answer.headers["Set-Cookie"].split(";")[0]})
        assert connection.getresponse().status == 200
        connection.close()
        assert get(port, "/")[0] == 200


def test_no_odd_path_is_a_traceback(preview: tuple[LivePages, int], capfd: pytest.CaptureFixture[str]) -> None:
    """Null bytes, names no disk takes, loops of links: nothing is at these addresses."""
    odd = ("%00", "a%00.css", "a" * 300, "a/" * 3000, "%5c..%5cx", "%ff", "..", "%2e%2e", "C:%5cx", "CON", "~", "%")
    for folder in ("/", "/assets/", "/entries/", "/pictures/", "/steps/"):
        for name in odd:
            assert get(preview[1], folder + name)[0] == 404, folder + name
    assert get(preview[1], f"{WAIT}?seen=%00")[0] == 200
    assert get(preview[1], f"{WAIT}?seen={'9' * 5000}")[0] == 200
    assert capfd.readouterr().err == ""


def test_a_page_runs_the_scripts_that_our_templates_put_there(preview: tuple[LivePages, int]) -> None:
    """Each script in a page is named by its digest; any other, and whatever is from elsewhere, is not run."""
    for path in ("/", "/find/", "/no/such/"):
        connection = http.client.HTTPConnection("127.0.0.1", preview[1], timeout=30)
        connection.request("GET", path)
        response = connection.getresponse()
        scripts = re.findall(
            rb"<script(?! type=.application/json|[^>]* src=)[^>]*>(.*?)</script>", response.read(), re.DOTALL
        )
        digests = {base64.b64encode(hashlib.sha256(script).digest()).decode() for script in scripts}
        scripts_told = response.headers["Content-Security-Policy"].split("script-src ")[1].split(";")[0].split()
        assert "frame-src https:;" in response.headers["Content-Security-Policy"], "films at their hosts"
        assert set(scripts_told) == {"'self'", *(f"'sha256-{digest}'" for digest in digests)}
        connection.close()


@pytest.mark.parametrize("moved", [False, True])
def test_content_taken_away_and_put_back(
    preview: tuple[LivePages, int], root: Path, moved: bool, capfd: pytest.CaptureFixture[str]
) -> None:
    """The next save is seen as ever, and meanwhile there is an answer."""
    port = preview[1]
    assert "on its stands" in get(port, "/entries/2026-01-25-spar/")[1]
    if moved:
        (root / "content").rename(root / "away")
        soon(port, "/", "content")
        (root / "away").rename(root / "content")
    else:
        copy = shutil.copytree(root / "content", root.parent / "copy")
        shutil.rmtree(root / "content")
        soon(port, "/", "content")
        shutil.copytree(copy, root / "content")
    soon(port, "/entries/2026-01-25-spar/", "on its stands")
    change(root, SPAR, "on its stands", "on the long bench")
    soon(port, "/entries/2026-01-25-spar/", "on the long bench")
    assert capfd.readouterr().err == ""


def test_a_preview_tells_what_a_site_tells(root: Path) -> None:
    """One making: every finding of `site` is one of `preview`, those of settings, watermark and broken pictures too."""
    photo = root / "content/entries/2026-01-17-ribs/ribs.jpg"
    data = photo.read_bytes()
    photo.write_bytes(data[: len(data) // 2] + bytes(len(data) - len(data) // 2))
    change(root, "mkdocs.yml", "site_url:", "# site_url:")
    change(root, "content/build.yml", "first weeks,", "\u98db first weeks,")
    config = load_settings(root)
    journal = open_journal(root, date(2026, 3, 1))
    site, preview = (
        {(one.word, one.file) for one in lay_site(journal, site_options(config, audience)).problems}
        for audience in (Audience.PUBLIC, Audience.PREVIEW)
    )
    assert site == preview
    assert {"no-site-url", "watermark-letters", "photo-unreadable", "no-photo"} <= {word for word, _ in preview}


def asked(port: int, page: str) -> dict[str, object]:
    """What the preview says of the first picture of a page."""
    shown = re.search(r'<a class="photo" href="([^"]+)"', get(port, page)[1])
    assert shown
    status, answer = get(port, f"/preview-picture?shown={shown[1]}&page={page}")
    assert status == 200
    told: dict[str, object] = json.loads(answer)
    return told


def test_what_is_said_of_a_picture_is_told_for_the_line_that_says_more(root: Path) -> None:
    """As it would stand on one line; nobody who is shown the preview hears of it, and of a private picture nobody."""
    page, ribs = "/entries/2026-01-17-ribs/", "content/entries/2026-01-17-ribs/index.md"
    change(root, ribs, "cover: true", "cover: true, crop: 0 0 1 90%, blur: [[0.1, 0.2, 0.3, 0.4], 0 0 1 0.05]")
    edits = {"crop": "0 0 1 0.9", "blur": "0.1 0.2 0.3 0.4; 0 0 1 0.05"}
    caption = '"Six <ribs> & a burr"'
    said = [f"caption: {caption}", "step: 5.1", "people: [ada-bergstrom]", "cover: true"]
    with serving(root) as (_, port):
        assert asked(port, page) == {
            **{"file": ribs, "name": "ribs.jpg", "whole": True, "caption": caption, "said": said, "edits": edits}
        }
        assert get(port, f"/preview-picture?shown=secret.png&page={page}") == (200, "{}")
        change(root, ribs, "Deburred the ribs", "![Six <ribs> & a burr](ribs.jpg) Deburred the ribs")
        soon(port, page, "Deburred the ribs")
    live = LivePages(root, shared=True)
    shown = re.search(r'<a class="photo" href="([^"]+)"', bytes(live.answer(page).body).decode())
    assert shown
    told = live.picture(shown[1], page)
    assert (told["said"], told["caption"], told["edits"], told["whole"]) == ([], "", edits, False)
    alone = LivePages(root).picture(shown[1], page)
    assert alone["said"] == said[1:]  # the text itself says the caption
