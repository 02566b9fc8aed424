"""Every kind of page of the demonstration site, as a reader meets it."""

from __future__ import annotations

import gzip
import re
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from urllib.parse import urlsplit

import pikepdf
import pytest
from axe_playwright_python.sync_playwright import Axe
from making import anchors_missing, slow
from playwright.sync_api import Browser, BrowserContext, Page

from journal.ledger.journal import open_journal
from journal.site.pages import render_redirect
from journal.trade.shop_tables import shop_tables
from journal.view.page_links import linker_for
from journal.view.view import Audience, open_view

pytestmark = pytest.mark.browser

ROOT, TODAY = Path(__file__).parents[2], date(2026, 7, 1)
Serve = Callable[[Path], AbstractContextManager[str]]

PAGES = [
    "",
    "entries/",
    "entries/2026-02-21-dimpled-skins/",
    "entries/2026-02-28-shop-heads/",
    "entries/2026-05-09-conduit/",
    "assemblies/",
    "assemblies/left-wing/",
    "steps/",
    "steps/5.11/",
    "calendar/",
    "hours/",
    "photos/",
    "tools/",
    "tools/c-frame/",
    "methods/dimpling/",
    "terms/",
    "inspections/",
    "inspections/2026-06-08-left-wing-closing/",
    "inventory/",
    "pages/about/",
    "find/",
    "measurements/2026-04-11-aileron-balance/",
    "shop/",
    "stands/",
    "follow/",
]
ENTRY = "entries/2026-02-21-dimpled-skins/"
# WCAG 2.2 levels A and AA, as axe-core names its rules.
RULES = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
}
# Styles of the journal that every first visit fetches, and what comes with them (bytes, compressed).
BEFORE_PICTURES = 150_000


Screen = Callable[..., BrowserContext]


@contextmanager
def opened(
    browser: Browser, url: str, width: int = 1280, height: int = 800, **more: object
) -> Iterator[tuple[Page, list[str]]]:
    """A page and everything that went wrong on it: console errors, failed and off-site requests."""
    context = browser.new_context(viewport={"width": width, "height": height}, **more)  # type: ignore[arg-type]
    with watched(context, url) as seen:
        yield seen
    context.close()


@contextmanager
def watched(context: BrowserContext, url: str) -> Iterator[tuple[Page, list[str]]]:
    """The same in a context that is there; it keeps what pages share, so the next one comes sooner."""
    page = context.new_page()
    wrong: list[str] = []
    host = urlsplit(url).netloc
    page.on("console", lambda said: wrong.append(said.text) if said.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("requestfailed", lambda request: wrong.append(f"failed: {request.url}"))
    page.on(
        "request",
        lambda request: wrong.append(f"off the site: {request.url}")
        if urlsplit(request.url).netloc not in (host, "") else None,
    )  # fmt: skip
    page.goto(url)
    page.wait_for_load_state("load")
    yield page, wrong
    page.close()


@pytest.fixture(scope="module")
def screen(browser: Browser) -> Iterator[Screen]:
    """A context of each shape, for tests that leave nothing in it: `screen(390)`."""
    contexts: dict[object, BrowserContext] = {}

    def of(width: int = 1280, *, scripts: bool = True) -> BrowserContext:
        if (width, scripts) not in contexts:
            size, phone = {"width": width, "height": 800}, width < 700
            contexts[width, scripts] = browser.new_context(
                viewport=size,  # type: ignore[arg-type]
                is_mobile=phone,
                has_touch=phone,
                java_script_enabled=scripts,
            )
        return contexts[width, scripts]

    yield of
    for context in contexts.values():
        context.close()


SHAPES = [(390, "dark"), (1280, "light"), (390, "light"), (768, "light"), (768, "dark"), (1280, "dark")]
LIKE_OTHERS = {
    "entries/2026-02-28-shop-heads/",
    "entries/2026-05-09-conduit/",
    "assemblies/",
    "tools/",
    "inspections/",
    "measurements/2026-04-11-aileron-balance/",
    "shop/",
}
LIKE_OTHERS |= {
    "inspections/2026-06-08-left-wing-closing/",
    "tools/c-frame/",
    "methods/dimpling/",
    "pages/about/",
    "inventory/",
    "follow/",
    "stands/",
}
LONG = {"terms/", "calendar/", "photos/", "steps/", "entries/", "hours/"}
"""Pages that keep axe busy for long: they wait for the slow suite."""

EACH_KIND = [*(one for one in PAGES if one not in LIKE_OTHERS), *slow(*sorted(LIKE_OTHERS))]
"""Every page; those that are like others wait for the slow suite."""
WIDTHS = [390, 1280, *slow(360, 768)]


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("where", EACH_KIND)
def test_pages_fit_the_screen_and_run_without_complaint(screen: Screen, address: str, where: str, width: int) -> None:
    """No sideways scrolling, no console error, no request to another host."""
    with watched(screen(width), address + where) as (page, wrong):
        room = page.evaluate("document.documentElement.clientWidth")
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= room, f"{where} is {wide - room} px too wide at {width}"
        assert wrong == []


def looked_at() -> Iterator[object]:
    """Every page in every shape: each day on a phone by night those that are not like others; the rest is slow."""
    for where in PAGES:
        for shape in SHAPES:
            every_day = shape == SHAPES[0] and where not in LIKE_OTHERS | LONG
            yield pytest.param(where, *shape, marks=[] if every_day else pytest.mark.slow)


@pytest.mark.parametrize(("where", "width", "scheme"), list(looked_at()))
def test_axe_finds_nothing(browser: Browser, address: str, where: str, width: int, scheme: str) -> None:
    """axe-core, WCAG 2.2 A and AA and its best practices, by day and by night."""
    with opened(browser, address + where, width, color_scheme=scheme) as (page, _):
        found = Axe().run(page, options=RULES).response["violations"]
        told = [f"{one['id']}: {node['html'][:160]} {node['failureSummary']}" for one in found for node in one["nodes"]]
        assert told == []


@pytest.mark.parametrize("where", EACH_KIND)
def test_pages_read_without_scripts(screen: Screen, address: str, where: str) -> None:
    """Words, pictures and links are there; every picture that is near the fold has come."""
    with watched(screen(scripts=False), address + where) as (page, wrong):
        assert page.locator("h1").count() == 1
        assert len(page.locator("main").inner_text()) > 60
        assert wrong == []


def test_the_keyboard_reaches_everything(browser: Browser, address: str) -> None:
    """Pressing Tab walks through every link and button of an entry, in the order of the page, and shows where it is."""
    with opened(browser, address + ENTRY) as (page, _):
        wanted = page.evaluate(
            """() => [...document.querySelectorAll("a[href], button, input, [tabindex='0']")]
            .filter(one => one.checkVisibility({visibilityProperty: true}) && one.tabIndex >= 0).length"""
        )
        seen = page.evaluate("() => { window.seen = new Set(); return 0; }")
        for _turn in range(wanted + 5):
            page.keyboard.press("Tab")
            seen = page.evaluate(
                """() => { const at = document.activeElement;
                if (at === document.body) return window.seen.size;
                const style = getComputedStyle(at), inner = at.querySelector(".face");
                const shown = style.outlineStyle !== "none" || (inner && at.closest("svg"));
                if (!shown) throw new Error("focus not shown on " + at.outerHTML.slice(0, 120));
                window.seen.add(at); return window.seen.size; }"""
            )
        assert seen >= wanted


def test_the_first_stop_leads_past_the_navigation(browser: Browser, address: str) -> None:
    """A keyboard reader need not walk through the same links on every page."""
    with opened(browser, address) as (page, _):
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.textContent") == "To the content"
        page.keyboard.press("Enter")
        page.wait_for_url("**/#main")


def test_the_index_opens_by_key_and_closes_with_escape(browser: Browser, address: str) -> None:
    """On a phone all pages are one press away."""
    with opened(browser, address, 390) as (page, _):
        index = page.locator("#index")
        assert not index.is_visible()
        page.locator(".index-switch").focus()
        page.keyboard.press("Enter")
        assert index.is_visible()
        assert index.locator("a").count() > 12
        page.keyboard.press("Escape")
        assert not index.is_visible()


def test_light_and_dark_are_chosen_and_remembered(browser: Browser, address: str) -> None:
    """The system's wish counts until the reader says otherwise; the choice holds on the next page."""
    with opened(browser, address, color_scheme="dark") as (page, _):
        ground = "getComputedStyle(document.body).backgroundColor"
        dark = page.evaluate(ground)
        page.get_by_role("button", name="Light").click()
        light = page.evaluate(ground)
        assert light != dark
        page.goto(address + ENTRY)
        assert page.evaluate(ground) == light
        page.get_by_role("button", name="Dark").click()
        assert page.evaluate(ground) == dark


def test_a_trade_word_explains_itself(browser: Browser, address: str) -> None:
    """By press, by key; Escape closes; the note links to the list of terms."""
    with opened(browser, address + ENTRY) as (page, _):
        word = page.locator("button.term").first
        word.click()
        note = page.locator(".term-tip:popover-open")
        assert note.count() == 1
        note.locator("a").click()
        page.wait_for_url("**/terms/#term-*")
        assert page.locator("dt:target").count() == 1


def test_a_picture_is_enlarged_in_place(browser: Browser, address: str) -> None:
    """Caption and capture day are shown; Escape brings the reader back."""
    with opened(browser, address + ENTRY) as (page, wrong):
        page.locator("a.photo").first.click()
        page.wait_for_selector(".pswp[aria-modal=true]")
        page.wait_for_function("document.querySelector('.pswp').innerText.includes('21 February 2026')")
        page.keyboard.press("Escape")
        page.wait_for_selector(".pswp", state="detached")
        assert wrong == []


def test_a_film_asks_its_host_for_nothing_until_pressed(browser: Browser, address: str) -> None:
    """The panel is a link; where the host's frame is known, a press puts it in place."""
    with opened(browser, address + ENTRY) as (page, wrong):
        assert page.locator("iframe").count() == 0
        page.evaluate(
            """() => { const film = document.querySelector(".film");
            film.dataset.embed = "about:blank"; film.dataset.title = "Film"; }"""
        )
        assert wrong == []
        assert page.locator(".film a").get_attribute("href") == "https://video.example.org/tarn/dimpling-a-flap-skin"


@pytest.mark.parametrize("where", [ENTRY, *slow("")])
def test_nothing_moves_while_the_page_loads(browser: Browser, address: str, where: str) -> None:
    """Cumulative layout shift at most 0.02, with pictures and type arriving late."""
    with opened(browser, "about:blank", 390, 844) as (page, _):
        page.add_init_script(
            """window.shift = 0; new PerformanceObserver(list => { for (const one of list.getEntries())
            if (!one.hadRecentInput) window.shift += one.value; }).observe({type: "layout-shift", buffered: true});"""
        )
        session = page.context.new_cdp_session(page)
        session.send("Network.enable")
        session.send(
            "Network.emulateNetworkConditions",
            {"offline": False, "latency": 150, "downloadThroughput": 200_000, "uploadThroughput": 90_000},
        )
        page.goto(address + where, wait_until="networkidle")
        page.mouse.wheel(0, 1500)
        page.wait_for_timeout(800)
        assert page.evaluate("window.shift") <= 0.02


def test_motion_is_left_out_where_the_reader_asks(browser: Browser, address: str) -> None:
    """prefers-reduced-motion: nothing glides."""
    with opened(browser, address, reduced_motion="reduce") as (page, _):
        assert page.evaluate("getComputedStyle(document.documentElement).scrollBehavior") == "auto"
        moving = page.evaluate(
            """() => [...document.querySelectorAll("*")].filter(one => {
            const style = getComputedStyle(one);
            return style.animationName !== "none" || style.transitionDuration.split(",").some(t => parseFloat(t) > 0);
            }).length"""
        )
        assert moving == 0


def test_a_first_visit_is_light(browser: Browser, address: str, demo_site: Path) -> None:
    """What comes before any picture, compressed: page, styles, scripts, type."""
    fetched: list[str] = []
    with opened(browser, "about:blank", 390, 844) as (page, _):
        page.on("request", lambda request: fetched.append(request.url))
        page.goto(address + ENTRY, wait_until="networkidle")
    size = 0
    for url in fetched:
        path = demo_site / urlsplit(url).path.removeprefix("/journal/")
        path = path / "index.html" if path.is_dir() else path
        if path.suffix in (".jpg", ".png"):
            continue
        data = path.read_bytes()
        size += len(data) if path.suffix == ".woff2" else len(gzip.compress(data, 6))
    assert size <= BEFORE_PICTURES


def test_the_archive_opens_from_a_file(browser: Browser, offline_site: Path) -> None:
    """No server, no network: pages, pictures and links work."""
    context = browser.new_context(offline=True)
    page = context.new_page()
    wrong: list[str] = []
    page.on("console", lambda said: wrong.append(said.text) if said.type in ("error", "warning") else None)
    page.on("requestfailed", lambda request: wrong.append(f"failed: {request.url}"))
    page.goto((offline_site / "index.html").as_uri())
    page.locator(".newest h2 a").click()
    assert page.locator(".with-story > .cells .cell").count() > 5
    page.locator(".turn a.back").first.click()
    page.locator(".drawing a").first.focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/assemblies/*/index.html")
    assert page.locator("h1").count() == 1
    assert [one for one in wrong if "source/" not in one] == []
    context.close()


def test_the_public_site_opens_from_a_file_too(browser: Browser, demo_site: Path) -> None:
    """Its links lead to folders, as the web wants them; on a disk a script adds the page. By mouse, key and form."""
    page = browser.new_page()
    page.goto((demo_site / "index.html").as_uri())
    for way in (
        "nav.places a[href*=entries]",
        ".row a",
        "a.brand",
        "figure.aircraft svg a",
        "nav.places a[href*=follow]",
    ):
        page.locator(way).first.focus()
        with page.expect_navigation(url=re.compile(r"/index\.html$")):
            page.keyboard.press("Enter")
        assert page.locator("h1").count() == 1
    page.locator("#seek").fill("rivet")
    page.keyboard.press("Enter")
    page.wait_for_url("**/find/index.html?q=rivet")
    page.locator("main a[href*=entries]").first.click()
    page.wait_for_url("**/entries/*/index.html*")
    page.context.close()


@pytest.mark.parametrize("scripts", [True, False])
def test_a_former_address_leads_on_in_a_browser(browser: Browser, tmp_path: Path, serve: Serve, scripts: bool) -> None:
    """With scripts to the very picture and also on a disk, without them by the page itself."""
    where: Any = SimpleNamespace(linker=linker_for)
    for address, html in (
        ("entries/old/", render_redirect(where, "entries/old/", "entries/new/", "")),
        ("entries/new/", b"<title>New</title>"),
    ):
        (tmp_path / address).mkdir(parents=True)
        (tmp_path / address / "index.html").write_bytes(html)
    page = browser.new_context(java_script_enabled=scripts).new_page()
    with serve(tmp_path) as served:
        page.goto(f"{served}entries/old/#photo-3")
        page.wait_for_url(f"{served}entries/new/" + ("#photo-3" if scripts else ""))
    if scripts:
        page.goto((tmp_path / "entries/old/index.html").as_uri())
        page.wait_for_url("**/entries/new/index.html")
    page.context.close()


def test_printed_pages_hold_the_sheet_and_leave_out_the_rest(browser: Browser, address: str) -> None:
    """In print there is no navigation, and the ground is white."""
    with opened(browser, address + ENTRY, color_scheme="dark") as (page, _):
        page.emulate_media(media="print", color_scheme="dark")
        assert not page.locator(".top").is_visible()
        assert not page.locator(".turn").is_visible()
        assert page.locator(".with-story > .cells").is_visible()
        ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
        assert re.fullmatch(r"rgb\(255, 255, 255\)", ground)


@pytest.mark.parametrize("archive", [False, True])
def test_a_picture_that_the_address_leads_to_has_a_sheet_to_itself(
    browser: Browser, address: str, offline_site: Path, tmp_path: Path, archive: bool
) -> None:
    """It is marked, can be printed by one press, and is printed large with its words, day, title and address."""
    where = "entries/2026-02-28-shop-heads/"
    url = (offline_site / where / "index.html").as_uri() if archive else address + where
    with opened(browser, f"{url}#photo-2", width=390, height=844) as (page, _):
        assert page.locator("#photo-2").evaluate("figure => getComputedStyle(figure).boxShadow") != "none"
        page.evaluate("window.print = () => { window.printed = true; }")
        page.get_by_role("button", name="Print this picture").click()
        page.wait_for_function("window.printed")
        page.pdf(path=tmp_path / "picture.pdf", format="A4")
        page.set_viewport_size({"width": 688, "height": 970})  # what is left of A4 within the margins
        page.emulate_media(media="print")
        said = page.locator("main").inner_text()
        assert page.locator("#photo-2 img").evaluate("image => image.clientWidth") > 600
        assert not page.get_by_text("Print this picture").is_visible()
        page.goto(f"{url}#said-none")
        assert page.locator(".with-story > .cells").is_visible()
        assert page.get_by_text("Print this picture").count() == 0
    with pikepdf.open(tmp_path / "picture.pdf") as sheet:
        assert len(sheet.pages) == 1
    told = ("six rivets from the wrong bin", "28 February 2026", "under the 1/8 gauge", f"{where}#photo-2")
    assert [words for words in told if words not in said] == []
    assert "72 rivets" not in said


@pytest.mark.parametrize("archive", [False, True])
def test_every_answer_of_a_search_leads_to_what_says_it(demo_site: Path, offline_site: Path, archive: bool) -> None:
    """Each anchor that finding knows stands on its page, of lists and tables too."""
    view = open_view(open_journal(ROOT, TODAY), Audience.ARCHIVE if archive else Audience.PUBLIC)
    assert anchors_missing(offline_site if archive else demo_site, view) == []


@pytest.mark.slow
def test_each_sheet_for_the_wall_is_one_sheet_of_large_figures(browser: Browser, address: str, tmp_path: Path) -> None:
    """A4, one page, figures of 12 pt and more: 0.004 of the distance at arm's length (NUREG-0700 11.4.1.5-1)."""
    for table in shop_tables():
        with opened(browser, f"{address}shop/{table.id}/") as (page, _):
            printed = tmp_path / f"{table.id}.pdf"
            page.pdf(path=printed, prefer_css_page_size=True)
            page.emulate_media(media="print")
            size = page.eval_on_selector(".figures td", "cell => parseFloat(getComputedStyle(cell).fontSize)")
        with pikepdf.open(printed) as sheet:
            assert len(sheet.pages) == 1, table.id
        assert size >= 12 * 96 / 72 - 0.01, table.id
