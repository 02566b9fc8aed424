"""Sites of every kind of build, looked at by script: nothing broken, narrow, hidden, overlapping or moving.

Every build meets every width, theme and text size, each page a share of them in turn; `MATRIX_WHOLE=1` looks at all.
`worst/` holds pictures of the ten worst pages of these builds as they once were: what is measured here keeps each away.
"""

from __future__ import annotations

import functools
import http.server
import os
import threading
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from making import build_site
from matrix import Kind, many_builds, write_many
from measure import ON_THE_FIRST_SCREEN, WATCH_SHIFT, wrong_on
from playwright.sync_api import Browser
from test_site import RULES

from journal.ledger.journal import open_journal

pytestmark = [pytest.mark.browser, pytest.mark.slow]

KINDS = many_builds()
# Width, theme, and what else the reader asks for.
SHAPES = (
    *((360, "light", ""), (390, "dark", ""), (768, "light", ""), (1024, "light", ""), (1280, "dark", "")),
    *(
        (1920, "light", ""),
        (390, "light", "large text"),
        (1280, "light", "large text"),
        (1280, "dark", "forced colours"),
    ),
)
LARGE_TEXT = "addEventListener('DOMContentLoaded', () => { document.documentElement.style.fontSize = '212.5%' })"
WHOLE = bool(os.environ.get("MATRIX_WHOLE"))
FIRST_SCREEN = 0.95


@pytest.fixture(scope="module")
def site_of(tmp_path_factory: pytest.TempPathFactory) -> Iterator[functools._lru_cache_wrapper[tuple[str, Path]]]:
    """Where the site of a kind answers, and its folder; each is built when first asked for."""
    root = tmp_path_factory.mktemp("matrix")
    handler = functools.partial(_Silent, directory=str(root))
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()

    @functools.cache
    def site(kind: Kind) -> tuple[str, Path]:
        build = write_many(root / "builds" / kind.label, kind)
        site = build_site(open_journal(build, date(2026, 7, 1)), out=root / kind.label)
        return f"http://127.0.0.1:{server.server_port}/{kind.label}/", site

    yield site
    server.shutdown()


class _Silent(http.server.SimpleHTTPRequestHandler):
    def log_message(self, *arguments: object) -> None:
        """Nothing on the terminal."""


def pages_of(site: Path) -> list[str]:
    """Each kind of page once, the newest, the first and a middle entry among them."""
    entries = sorted(one.parent.name for one in site.glob("entries/*-day-*/index.html"))
    told = dict.fromkeys((entries[-1], entries[0], entries[len(entries) // 2]))
    others = ("assemblies/part-1/", "assemblies/part-2/", "steps/", "steps/1.1/", "tools/drill/", "find/", "follow/")
    return [
        *("", "entries/", "assemblies/", "hours/", "photos/", "calendar/", "tools/"),
        *(f"entries/{one}/" for one in told),
        *(one for one in others if (site / one / "index.html").is_file()),
    ]


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.label)
def test_the_design_holds(
    browser: Browser, site_of: functools._lru_cache_wrapper[tuple[str, Path]], kind: Kind
) -> None:
    """No word broken inside, no value narrower than twelve characters, no row hidden, nothing over another, no
    sideways scroll; axe finds nothing (WCAG 2.2 A and AA).
    """
    address, site = site_of(kind)
    wrong: list[str] = []
    for number, (width, scheme, asked) in enumerate(SHAPES):
        colours = {"forced_colors": "active"} if asked == "forced colours" else {}
        context = browser.new_context(viewport={"width": width, "height": 844}, color_scheme=scheme, **colours)  # type: ignore[arg-type]
        page = context.new_page()
        if asked == "large text":
            page.add_init_script(LARGE_TEXT)
        for place, where in enumerate(pages_of(site)):
            if not WHOLE and (place + number + KINDS.index(kind)) % 3:
                continue
            page.goto(address + where)
            wrong += [f"{where or 'home'} at {width} {scheme} {asked}: {one}" for one in wrong_on(page)]
            if not asked and (place + number) % 9 == 0:
                found = Axe().run(page, options=RULES).response["violations"]
                wrong += [
                    f"{where or 'home'} at {width} {scheme}: {one['id']} {one['nodes'][0]['html']}" for one in found
                ]
        context.close()
    assert wrong == []


def test_words_and_a_picture_stand_on_the_first_screen(
    browser: Browser, site_of: functools._lru_cache_wrapper[tuple[str, Path]]
) -> None:
    """On 95 of 100 entries of all builds, on a phone of 390 by 844 px."""
    seen = []
    page = browser.new_page(viewport={"width": 390, "height": 844})
    for kind in KINDS:
        address, site = site_of(kind)
        for entry in sorted(site.glob("entries/*-day-*"))[:: 1 if WHOLE else 11]:
            page.goto(f"{address}entries/{entry.name}/")
            first = page.evaluate(ON_THE_FIRST_SCREEN)
            seen.append((first["words"] and first["picture"], f"{kind.label}/{entry.name}: {first}"))
    page.close()
    missed = [words for there, words in seen if not there]
    assert len(missed) <= (1 - FIRST_SCREEN) * len(seen), missed


@pytest.mark.parametrize("kind", KINDS[:: 1 if WHOLE else 6], ids=lambda kind: kind.label)
def test_nothing_moves_whatever_type_the_reader_has(
    browser: Browser, site_of: functools._lru_cache_wrapper[tuple[str, Path]], kind: Kind
) -> None:
    """Shift under 0.05 while pictures and type arrive late, and none of the stand-ins for our type is found."""
    address, site = site_of(kind)
    context = browser.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.set_default_timeout(120_000)
    page.add_init_script(WATCH_SHIFT)
    page.route("**/parts*.css", lambda route: route.fulfill(body=_without_local_type(route.fetch().text())))
    session = context.new_cdp_session(page)
    session.send("Network.enable")
    slow = {"offline": False, "latency": 150, "downloadThroughput": 200_000, "uploadThroughput": 90_000}
    session.send("Network.emulateNetworkConditions", slow)
    for where in pages_of(site):
        page.goto(address + where, wait_until="networkidle")
        page.mouse.wheel(0, 1500)
        page.wait_for_timeout(300)
        assert page.evaluate("window.shift") < 0.05, where
    context.close()


def _without_local_type(css: str) -> str:
    return css.replace("local(", "local(missing-").replace('local(missing-"', 'local("missing ')
