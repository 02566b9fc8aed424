"""The visual parts in Chromium: notes of terms, picture viewer, drawing, charts; both themes."""

from __future__ import annotations

import shutil
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from making import slow
from PIL import Image
from playwright.sync_api import Browser, Page
from test_charts import SMALL, view_of
from test_drawing import ASSEMBLIES, OURS

from journal.base.drawing import DrawnAssembly, render_drawing
from journal.base.model import State
from journal.site.charts import burn_up, by_assembly, by_month, by_person
from journal.view.terms import TermMarker, shipped_terms

pytestmark = pytest.mark.browser

ASSETS = Path(__file__).parents[2] / "theme_overrides" / "assets"
# WCAG 2.2 levels A and AA, as axe-core names its rules.
# Style sheets cannot be fetched by script from a file address; axe does not need them for these rules.
RULES = {
    "preload": False,
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]},
}


@pytest.fixture(scope="module")
def entry(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A page with every part on it, opened from a file address as the archive is."""
    folder = tmp_path_factory.mktemp("parts")
    shutil.copytree(ASSETS, folder / "assets")
    for number, size in ((1, (1600, 1200)), (2, (900, 1200)), (3, (1200, 800))):
        Image.linear_gradient("L").resize(size).save(folder / f"{number}.jpg")
        Image.linear_gradient("L").resize((size[0] // 4, size[1] // 4)).save(folder / f"{number}-small.jpg")
    prose = ET.fromstring(
        "<div><p>We deburred every rib, dimpled the skin, and looked at the edge distance.</p>"
        "<p>At the very right of a long, long, long, long, long, long, long line stands a longeron.</p></div>"
    )
    TermMarker(shipped_terms()).mark(prose, lambda term: f"#{term.name}")
    states = (State.DONE, State.UNDER_WAY, State.NOT_BEGUN)
    shapes = [
        DrawnAssembly(id=name, title=name.capitalize(), state=states[number % 3], href=f"#{name}")
        for number, name in enumerate(ASSEMBLIES)
    ]
    view = view_of(SMALL, begun=date(2026, 1, 1))
    charts = [make(view) for make in (burn_up, by_month, by_assembly, by_person)]
    figures = "".join(
        f'<figure><a class="photo" href="{number}.jpg" data-pswp-width="{width}" data-pswp-height="{height}">'
        f'<img src="{number}-small.jpg" width="{width // 4}" height="{height // 4}" alt="Picture {number}"></a>'
        f"<figcaption>Caption {number} <time>7 February 2026</time></figcaption></figure>"
        for number, width, height in ((1, 1600, 1200), (2, 900, 1200), (3, 1200, 800))
    )
    page = folder / "index.html"
    page.write_text(
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Parts</title>'
        '<meta name="viewport" content="width=device-width"><link rel="stylesheet" href="assets/parts.css">'
        "<style>body{background:var(--paper);color:var(--ink);font:400 1.1rem/1.6 var(--text-face);margin:1rem}"
        "img{max-width:100%;height:auto} .away{position:absolute;left:-999px}</style></head><body>"
        f"<main><h1>Parts</h1>{ET.tostring(prose, encoding='unicode', method='html')}{figures}"
        f"{render_drawing(OURS, shapes, picked='left-wing', uid='d')}"
        f"{''.join(chart.html for chart in charts)}</main>"
        '<script src="assets/viewer/viewer.js" defer></script></body></html>',
        encoding="utf-8",
    )
    return page


@pytest.fixture(params=["light", *slow("dark")])
def page(request: pytest.FixtureRequest, browser: Browser, entry: Path) -> Iterator[Page]:
    """The page on a phone, in one of the themes; errors on the console fail the test."""
    context = browser.new_context(
        viewport={"width": 390, "height": 800}, color_scheme=request.param, reduced_motion="reduce"
    )
    opened = context.new_page()
    said: list[str] = []
    opened.on("console", lambda message: said.append(message.text) if message.type in ("error", "warning") else None)
    opened.on("pageerror", lambda error: said.append(str(error)))
    asked: list[str] = []
    opened.on("request", lambda request: asked.append(request.url))
    opened.goto(entry.as_uri())
    yield opened
    assert said == []
    assert [url for url in asked if not url.startswith(entry.parent.as_uri()) and not url.startswith("data:")] == []
    context.close()


def broken_rules(page: Page) -> list[str]:
    """What axe finds, as rule and element."""
    found = Axe().run(page, options=RULES).response["violations"]
    return [f"{rule['id']}: {node['html'][:200]}" for rule in found for node in rule["nodes"]]


def focused(page: Page) -> str:
    """The words of the element that has the focus."""
    words = page.evaluate("document.activeElement.getAttribute('aria-label') || document.activeElement.textContent")
    return str(words).strip()


def test_axe_finds_nothing(page: Page) -> None:
    """No rule of WCAG 2.2 A and AA that axe-core knows is broken, with a note open or not."""
    assert broken_rules(page) == []
    page.get_by_role("button", name="deburred").click()
    assert page.locator(".term-tip:popover-open").count() == 1
    assert broken_rules(page) == []


def test_nothing_is_wider_than_the_screen(page: Page) -> None:
    """No part makes a phone scroll sideways."""
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_a_note_opens_by_key_and_closes_by_escape(page: Page) -> None:
    """Tab to the word, Enter opens, Tab reaches the link inside, Escape closes and gives the focus back."""
    page.keyboard.press("Tab")
    assert focused(page) == "deburred"
    page.keyboard.press("Enter")
    note = page.locator(".term-tip:popover-open")
    assert note.count() == 1
    assert "raised rim" in note.inner_text()
    box = note.bounding_box()
    assert box is not None
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= 390
    assert box["y"] + box["height"] <= 800
    page.keyboard.press("Tab")
    assert focused(page) == "In the list of terms"
    page.keyboard.press("Escape")
    assert note.count() == 0
    assert focused(page) == "deburred"


def test_a_note_opens_by_touch_and_one_at_a_time(browser: Browser, entry: Path) -> None:
    """A tap opens a note, a tap on the next word closes the first, a tap elsewhere closes all."""
    context = browser.new_context(viewport={"width": 390, "height": 800}, has_touch=True, java_script_enabled=True)
    page = context.new_page()
    page.goto(entry.as_uri())
    page.get_by_role("button", name="rib").tap()
    assert page.locator(".term-tip:popover-open b").all_inner_texts() == ["RIB"]
    page.get_by_role("button", name="dimpled").tap()
    assert page.locator(".term-tip:popover-open b").all_inner_texts() == ["DIMPLING"]
    page.locator("h1").tap()
    assert page.locator(".term-tip:popover-open").count() == 0
    context.close()


def test_notes_need_no_scripts(browser: Browser, entry: Path) -> None:
    """With scripts off a word still opens its note, and a picture is a link to its largest size."""
    context = browser.new_context(viewport={"width": 1280, "height": 800}, java_script_enabled=False)
    page = context.new_page()
    page.goto(entry.as_uri())
    page.get_by_role("button", name="longeron").click()
    note = page.locator("#tip-longeron")
    assert note.is_visible()
    box = note.bounding_box()
    word = page.get_by_role("button", name="longeron").bounding_box()
    assert box is not None
    assert word is not None
    # On a wide screen the note stands by its word and inside the window.
    assert abs(box["y"] - (word["y"] + word["height"])) < 30
    assert box["x"] + box["width"] <= 1280
    assert page.get_by_role("link", name="Picture 1").get_attribute("href") == "1.jpg"
    context.close()


def test_pictures_enlarge_with_caption_and_keys(page: Page) -> None:
    """Enter opens the picture, arrows go on within the page, Escape closes; the focus comes back."""
    assert page.evaluate("typeof window.PhotoSwipe") == "undefined"
    page.get_by_role("link", name="Picture 1").focus()
    page.keyboard.press("Enter")
    viewer = page.locator(".pswp")
    viewer.wait_for()
    caption = page.locator(".pswp__caption")
    assert caption.inner_text() == "Caption 1 7 February 2026"
    page.wait_for_function("document.querySelector('.pswp').contains(document.activeElement)")
    assert broken_rules(page) == []
    page.keyboard.press("ArrowRight")
    assert caption.inner_text() == "Caption 2 7 February 2026"
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    assert caption.inner_text() == "Caption 3 7 February 2026"
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Escape")
    viewer.wait_for(state="detached")
    page.wait_for_function("document.activeElement.matches('a.photo')")
    assert page.evaluate("document.activeElement.getAttribute('href')") == "2.jpg"
    assert page.url.endswith("index.html")


def test_the_way_back_leaves_the_picture_not_the_page(page: Page) -> None:
    """The browser's Back closes an enlarged picture; the page stays where it was."""
    page.get_by_role("link", name="Picture 2").click()
    page.locator(".pswp").wait_for()
    page.go_back()
    page.locator(".pswp").wait_for(state="detached")
    assert page.url.endswith("index.html")
    assert page.get_by_role("heading", name="Parts").is_visible()


def test_a_swipe_goes_to_the_next_picture(browser: Browser, entry: Path) -> None:
    """A finger drawn to the left shows the next picture."""
    context = browser.new_context(viewport={"width": 390, "height": 800}, has_touch=True)
    page = context.new_page()
    page.goto(entry.as_uri())
    page.get_by_role("link", name="Picture 1").tap()
    page.locator(".pswp--open").wait_for()
    page.wait_for_timeout(500)
    wire = context.new_cdp_session(page)
    wire.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": 330, "y": 400}]})
    for x in range(320, 40, -20):
        wire.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [{"x": x, "y": 400}]})
    wire.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    page.wait_for_function("document.querySelector('.pswp__caption').textContent.startsWith('Caption 2')")
    context.close()


def test_still_for_those_who_ask_for_less_motion(page: Page) -> None:
    """With reduced motion asked for, nothing in the viewer moves by itself."""
    page.get_by_role("link", name="Picture 1").click()
    page.locator(".pswp--open").wait_for()
    moving = page.evaluate("document.getAnimations().filter(a => a.playState === 'running').length")
    assert moving == 0
    assert page.evaluate("getComputedStyle(document.querySelector('.pswp__bg')).transitionDuration") == "0s"


def test_every_assembly_is_reached_by_keyboard_with_its_state(page: Page) -> None:
    """Tab goes through the shapes one by one, each says its name and state, and shows it has the focus."""
    heard = []
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("!!document.activeElement.closest('.drawing')"):
            heard.append(focused(page))
            if len(heard) == 1:
                outline = page.evaluate("getComputedStyle(document.activeElement.querySelector('.face')).strokeWidth")
                assert outline == "4px"
        elif heard:
            break
    assert sorted(heard) == sorted(
        f"{name.capitalize()}: {('done', 'under way', 'not begun')[number % 3]}"
        for number, name in enumerate(ASSEMBLIES)
    )


def test_shapes_of_the_small_drawing_can_be_hit(page: Page) -> None:
    """At 390 px each shape's link measures at least 24 px both ways (WCAG 2.2, 2.5.8)."""
    for name in ASSEMBLIES:
        box = page.locator(f".drawing a[href='#{name}']").bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= 24, name


def test_lettering_of_charts_keeps_its_size(page: Page) -> None:
    """A chart on a phone has the same letters as on a wide screen, none outside the chart's width."""
    sizes = {}
    for width in (360, 1280):
        page.set_viewport_size({"width": width, "height": 800})
        page.wait_for_timeout(50)
        places = page.eval_on_selector_all(
            ".chart text",
            "texts => texts.map(t => { const b = t.getBoundingClientRect(); return [b.left, b.right, b.height] })",
        )
        assert len(places) > 20
        assert all(left >= 0 and right <= width for left, right, _ in places)
        sizes[width] = sorted({round(height, 1) for _, _, height in places})
    assert sizes[360] == sizes[1280]
