"""The Find page in Chromium: the same answers as the terminal, addresses, files, keyboard, no network."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from asking import Asker
from axe_playwright_python.sync_playwright import Axe
from collecting import judged
from playwright.sync_api import Browser, BrowserContext, Page

pytestmark = pytest.mark.browser

ASSETS = Path(__file__).parents[2] / "theme_overrides" / "assets" / "find"
RULES = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}}
ODD = (
    "AN426AD3-3.5 W-1007-L W1007L an 470 ad4–5, No. 40 number 30 #21 62in-lb 7 N·m 3/32in 1½ 5.3–5.6 1,250 2x4 2nd",
    "Zürich naïve façade Æther straße ÅNGSTRÖM don't builder's well-known e.g. 2024-T3 10-32 0.032 .0320 7.10.2",
    "½-inch ⅛ 3⁄32 “quoted” ‘single’ — dash… 2026-02-07 20-gauge 100-degree R&D a/b/c 日本語 кириллица عربى 🙂 x",
)


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    """A fresh reader, with nothing in the cache."""
    opened = browser.new_context(viewport={"width": 1280, "height": 900})
    yield opened
    opened.close()


@pytest.fixture
def page(context: BrowserContext) -> Iterator[Page]:
    """A page of it; anything said on the console or thrown fails the test."""
    said: list[str] = []
    opened = context.new_page()
    opened.on("console", lambda message: said.append(message.text) if message.type == "error" else None)
    opened.on("pageerror", lambda error: said.append(str(error)))
    yield opened
    assert said == []


def settle(page: Page) -> None:
    """Until the answers stand."""
    page.wait_for_function(
        "() => !document.querySelector('#ask-answers[aria-busy], .answer.waiting') "
        "&& document.getElementById('ask-count').textContent"
    )


def shown(page: Page) -> list[str]:
    """The answers, in order."""
    settle(page)
    return [str(item.get_attribute("data-id")) for item in page.query_selector_all(".answer")]


def visit(page: Page, address: str, **question: str) -> list[str]:
    """Open the Find page with a question in its address; the answers."""
    page.goto(f"{address}?{urlencode(question)}")
    return shown(page)


@pytest.mark.slow
def test_the_page_answers_as_python_does(page: Page, address: str, ask: Asker) -> None:
    """All judged questions on the page: the same first five, and as good."""
    page.goto(f"{address}find/")
    questions = judged()
    same = 0
    places: list[int | None] = []
    for question in questions:
        page.fill("#ask-q", question.query)
        on_page = shown(page)[:5]
        in_python = [ask.documents[hit.document].id for hit in ask(question.query).answer.hits[:5]]
        same += on_page == in_python
        places.append(next((n for n, id_ in enumerate(on_page, start=1) if id_ in question.wanted), None))
    assert same == len(questions)
    assert sum(1 / place for place in places if place) / len(places) >= 0.90
    assert sum(place is not None and place <= 3 for place in places) / len(places) >= 0.95


def test_an_answer_has_day_title_and_picture_with_its_marked_words(page: Page, address: str) -> None:
    """Number and date, title as a link, assembly, steps, photos; the picture whose caption answers."""
    assert visit(page, f"{address}find/", q="tungsten bar behind flange")[0] == "2025-06-14-rivets-nose-ribs-left"
    first = page.locator(".answer").first
    assert first.locator(".strip-line").inner_text().split() == ["DAY", "44", "14", "June", "2025"]
    assert first.locator("h2 a").get_attribute("href") == "../entries/2025-06-14-rivets-nose-ribs-left/"
    assert first.locator(".answer-words .facts").inner_text() == "Left wing · step 7.10 · 2 photos"
    picture = first.get_by_role("link", name="Small tungsten bar behind the flange of nose rib 4")
    assert picture.locator("mark").all_inner_texts() == ["tungsten", "bar", "behind", "flange"]
    assert picture.locator("img").evaluate("image => image.decode().then(() => image.naturalWidth > 0)")
    # What is said under the picture is not said beside it again.
    assert first.inner_text().count("Small tungsten bar") == 1
    assert re.fullmatch(r"\d+ answers", page.locator("#ask-count").inner_text())
    picture.click()
    page.wait_for_url("**/entries/2025-06-14-rivets-nose-ribs-left/#photo-*")
    marked = page.locator(":target .caption").inner_text()
    assert marked == "Small tungsten bar behind the flange of nose rib 4"


@pytest.mark.parametrize("archive", [False, True])
def test_a_sentence_leads_to_where_it_stands(browser: Browser, address: str, archive_site: Path, archive: bool) -> None:
    """Its block is marked and in view; a browser that knows text directives marks the very words."""
    page = browser.new_page(viewport={"width": 390, "height": 844})
    find = (archive_site / "find/index.html").as_uri() if archive else f"{address}find/"
    assert visit(page, find, q="filed off and primed again")
    sentence = page.locator(".said-there a").first
    assert re.search(r"/(index\.html)?#said-[0-9a-f]{8}:~:text=[^#]+$", str(sentence.get_attribute("href")))
    words = sentence.inner_text()
    sentence.click()
    page.wait_for_selector(":target")
    block = page.locator(":target")
    assert words in " ".join(str(block.text_content()).split()) or block.get_by_text(words[:12]).count()
    page.wait_for_function("document.querySelector(':target').getBoundingClientRect().top < innerHeight")
    assert block.evaluate("block => getComputedStyle(block).boxShadow") != "none"
    page.close()


@pytest.mark.parametrize(("width", "height"), [(360, 740), pytest.param(390, 844, marks=pytest.mark.slow)])
def test_the_first_answer_is_on_the_first_screen_of_a_phone(
    browser: Browser, address: str, width: int, height: int
) -> None:
    """Its title, its day and what is said of it; while one types nothing moves but the answers."""
    page = browser.new_page(viewport={"width": width, "height": height})
    page.goto(f"{address}find/")
    page.evaluate(
        """() => { window.moved = []; new PerformanceObserver(list => list.getEntries().forEach(one =>
             one.sources.forEach(source => moved.push(source.node && (source.node.id || source.node.className)))))
             .observe({ type: "layout-shift", buffered: true }); }"""
    )
    before = page.locator("#ask-q").bounding_box()
    page.type("#ask-q", "tungsten bar behind the flange", delay=20)
    assert shown(page)
    assert page.locator("#ask-q").bounding_box() == before
    title, sentence = page.locator(".answer h2").first, page.locator(".answer").first.locator("img, .said-there").first
    assert title.evaluate("title => title.getBoundingClientRect().bottom") < height / 2
    assert sentence.evaluate("said => said.getBoundingClientRect().top") < height
    assert not {"ask", "ask-words", "ask-narrow"} & set(page.evaluate("moved"))
    page.close()


def test_one_message_says_how_many_and_what_else(page: Page, address: str) -> None:
    """A screen reader hears the count together with the word that is meant, and no other message for one question."""
    page.route("**/postings-*.js*", lambda route: (page.wait_for_timeout(300), route.continue_()))
    page.goto(f"{address}find/")
    page.evaluate(
        """() => { window.heard = []; const said = document.querySelector("[role=status]");
             new MutationObserver(() => heard.push(said.textContent)).observe(said, { childList: true }); }"""
    )
    page.fill("#ask-q", "kauntersinkk spar")
    page.wait_for_function("window.heard.length")
    page.wait_for_timeout(900)
    (heard,) = page.evaluate("heard")
    assert re.fullmatch(r"\d+ answers\. Nothing here says “kauntersinkk”\. Did you mean countersink\?", heard)


def test_a_search_is_an_address(page: Page, address: str) -> None:
    """Words and filters stand in the address; opening it, going back and forward give the same answers."""
    found = visit(page, f"{address}find/", q="nose ribs", assembly="right-wing", person="Jonas")
    assert found[0] == "2025-08-24-right-nose-ribs"
    assert page.input_value("#ask-q") == "nose ribs"
    assert page.input_value("#ask-assembly") == "right-wing"
    assert page.locator(".ask-filter.picked").count() == 2
    page.select_option("#ask-step", "9.10")
    assert shown(page) == ["2025-09-06-right-nose-rivets"]
    assert "step=9.10" in page.url
    page.fill("#ask-q", "tungsten")
    page.press("#ask-q", "Enter")
    assert "q=tungsten" in page.url
    page.go_back()
    assert page.input_value("#ask-q") == "nose ribs"
    assert shown(page) == ["2025-09-06-right-nose-rivets"]
    page.go_back()
    assert page.input_value("#ask-step") == ""
    assert shown(page) == found
    page.go_forward()
    assert shown(page) == ["2025-09-06-right-nose-rivets"]
    page.click("#ask-clear")
    assert page.url.endswith("find/?q=nose+ribs")
    assert len(shown(page)) == 10


@pytest.mark.slow
def test_typing_becomes_an_address_after_a_pause(page: Page, address: str) -> None:
    """No letter makes a page of the history, a pause does."""
    page.goto(f"{address}find/")
    before = page.evaluate("history.length")
    page.type("#ask-q", "longerons", delay=30)
    settle(page)
    assert page.url.endswith("find/")
    page.wait_for_url("**/find/?q=longerons")
    assert page.evaluate("history.length") == before + 1


@pytest.mark.parametrize(
    ("key", "value", "count"),
    [
        ("tool", "microstop cage", 2),
        *(
            pytest.param(*more, marks=pytest.mark.slow)
            for more in (("assembly", "tail", 8), ("method", "leak testing", 2), ("year", "2025", 10))
        ),
    ],
)
def test_a_filter_alone_lists_its_entries_newest_first(
    page: Page, address: str, key: str, value: str, count: int
) -> None:
    """Without words everything that passes is listed."""
    found = visit(page, f"{address}find/", **{key: value})
    assert len(found) == count
    assert found == sorted(found, reverse=True)


def test_the_head_of_every_page_leads_to_the_search(page: Page, address: str) -> None:
    """A question typed into any page's head arrives on the Find page."""
    page.goto(f"{address}hours/")
    page.fill("#seek", "tungsten bar")
    page.press("#seek", "Enter")
    page.wait_for_url("**/find/?q=tungsten+bar")
    assert shown(page)


def test_other_pages_load_nothing_of_the_search(context: BrowserContext, address: str) -> None:
    """Neither index nor scripts of the search are fetched before the reader turns to it."""
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    for place in ("", "entries/2025-06-14-rivets-nose-ribs-left/", "steps/7.10/"):
        page.goto(address + place, wait_until="load")
    page.wait_for_timeout(300)
    assert not [url for url in asked if "/find/" in url]
    assert all(url.startswith(address) for url in asked)


def test_only_the_parts_that_are_needed_are_loaded(context: BrowserContext, address: str) -> None:
    """Turning to the search loads the lexicon; a question loads postings and only the cards it shows."""
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url.partition("?")[0].rpartition("/")[2]))
    page.goto(f"{address}find/")
    page.wait_for_timeout(300)
    assert [name for name in asked if "postings" in name or "cards" in name] == []
    assert asked.count("lexicon.js") == 1
    page.fill("#ask-q", "champagne")
    assert shown(page) == ["2025-11-15-right-wing-closed"]
    assert len([name for name in asked if "postings" in name]) == 1
    assert len([name for name in asked if "cards" in name]) == 1


def test_the_archive_searches_from_files_without_a_network(context: BrowserContext, archive_site: Path) -> None:
    """Opened from a file address with the network off, private entries included; links lead to files."""
    context.set_offline(True)
    page = context.new_page()
    requests: list[str] = []
    page.on("request", lambda request: requests.append(request.url))
    start = (archive_site / "index.html").as_uri()
    page.goto(start)
    page.fill("#seek", "how did we hold the nose ribs for dimpling?")
    page.press("#seek", "Enter")
    page.wait_for_url("**/find/index.html?q=*")
    assert shown(page)[0] == "2025-02-08-flap-dimpling-nose-ribs"
    page.fill("#ask-q", "mortgage")
    page.wait_for_timeout(50)
    assert shown(page) == ["2025-11-23-money-talk"]
    assert "private" in page.locator(".answer .facts").first.inner_text()
    page.select_option("#ask-assembly", "workshop")
    assert "assembly=workshop" in page.url
    page.click(".answer h2 a")
    page.wait_for_url("**/entries/2025-11-23-money-talk/index.html")
    assert all(url.startswith("file:") for url in requests)


def test_an_index_of_another_build_is_noticed(context: BrowserContext, address: str, site: Path) -> None:
    """Parts that do not belong together are not mixed: the page asks to be loaded again."""
    page = context.new_page()
    page.route("**/postings-*", lambda route: route.fulfill(body='journalFind("postings","other",[]);'))
    page.goto(f"{address}find/?q=rivets")
    page.wait_for_function("() => document.getElementById('ask-note').textContent.includes('made anew')")
    assert page.locator(".answer").count() == 0


def test_what_is_not_there_is_said(page: Page, address: str) -> None:
    """An unknown word is named with the nearest, which is a link that asks again."""
    page.goto(f"{address}find/?q=kauntersinkk+spar")
    settle(page)
    assert "Nothing here says “kauntersinkk”. Did you mean countersink?" in page.locator("#ask-note").inner_text()
    page.click("#ask-note a")
    page.wait_for_url("**/find/?q=countersink+spar")
    assert shown(page)[0] in ("2025-04-13-tailplane-countersink", "2025-06-08-spar-countersink")
    assert visit(page, f"{address}find/", q="qqqqq") == []
    assert page.locator("#ask-count").inner_text() == "Nothing found"


def test_a_part_is_an_answer_among_the_others(page: Page, address: str) -> None:
    """Its number, what it is and where it lies; it leads to its row of the inventory."""
    visit(page, f"{address}find/", q="where is W-1007-L?")
    part = page.locator(".answer:not(:has(time))").filter(has_text="W-1007-L").first
    said = [line for line in part.inner_text().split("\n") if line]
    assert said == ["PART W-1007-L", "Nose rib, left wing", "crate 1; shelf A2; found 9, listed 9; good"]
    part.locator("h2 a").click()
    page.wait_for_url("**/inventory/#part-w-1007-l")
    assert page.locator("tr:target").inner_text().startswith("W-1007-L")


@pytest.mark.slow
@pytest.mark.parametrize(("width", "scheme"), [(390, "dark"), (1280, "light")])
def test_the_page_is_fit_for_every_reader(browser: Browser, address: str, width: int, scheme: Any) -> None:
    """No rule of WCAG 2.2 A and AA that axe knows is broken, nothing scrolls sideways."""
    context = browser.new_context(viewport={"width": width, "height": 844}, color_scheme=scheme)
    page = context.new_page()
    visit(page, f"{address}find/", q="where is W-1007 zzyzx", person="Jonas")
    results = Axe().run(page, options=RULES)
    assert results.violations_count == 0, results.generate_report()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.goto(f"{address}find/")
    assert page.locator("#ask-examples a").count() == 3
    assert page.locator(".ask-help").is_visible()
    assert Axe().run(page, options=RULES).violations_count == 0
    assert page.locator("#ask-narrow").evaluate("details => details.open") is (width > 640)
    context.close()


def test_the_keyboard_alone_is_enough(page: Page, address: str) -> None:
    """The field has the focus; tab leads through filters to the answers; more are asked for and reached."""
    page.goto(f"{address}find/")
    page.keyboard.type("rivets")
    assert len(shown(page)) == 10
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.matches('.answer h2 a')"):
            break
    assert page.evaluate("document.activeElement.closest('.answer') === document.querySelector('.answer')")
    page.focus("#ask-more")
    page.keyboard.press("Enter")
    assert len(shown(page)) == 20
    assert page.evaluate("[...document.querySelectorAll('.answer h2 a')].indexOf(document.activeElement)") == 10


def test_each_answer_is_shown_once_on_a_busy_machine(page: Page, address: str) -> None:
    """Cards that come before the page had time to show the rest of what it could show without them."""
    page.add_init_script("const later = setTimeout; window.setTimeout = (act, ms) => later(act, ms || 300)")
    assert len(visit(page, f"{address}find/", q="rivets")) == 10


def test_without_scripts_the_lists_are_offered(browser: Browser, address: str) -> None:
    """A reader without scripts is told so and led to the lists."""
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{address}find/?q=rib")
    assert "Searching needs scripts" in page.locator("noscript").first.inner_text()
    context.close()
