"""The page at the bench in a browser of a phone's size: an evening, cut lines, a killed server, pictures."""

from __future__ import annotations

import contextlib
import json
import re
import shutil
import subprocess
import threading
import time
from collections.abc import Iterator
from datetime import date, timedelta
from http.client import HTTPException
from importlib import resources
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from bench_server import Server
from cameras import photo_bytes
from making import MakeBuild, entry, slow
from playwright.sync_api import Browser, BrowserContext, Page, expect

from journal.base.digests import file_sha256
from journal.commands.written import ENTER, WrittenList
from journal.ledger.journal import open_journal

LISTS = {
    "callouts.csv": "step,what,part,value,page,edition\n7.1,torque,AN4-10A,62 in-lb,7-1,3\n7.1,primer,,Wash,7-1,3\n",
    "materials.csv": "id,name,batch,expires\np1,Wash,22,2040-01-01\n",
}
pytestmark = pytest.mark.browser
ALL_SENT = re.compile("^All is written down")


@pytest.fixture
def server(make_build: MakeBuild) -> Iterator[Server]:
    """A bench of a small build."""
    served = Server(make_build(LISTS))
    served.start()
    yield served
    served.kill()


@pytest.fixture
def phone(browser: Browser, server: Server) -> Iterator[BrowserContext]:
    """A phone of 360 px that was let in."""
    context = browser.new_context(viewport={"width": 360, "height": 740}, has_touch=True)
    context.set_default_timeout(20_000)
    page = context.new_page()
    page.goto(f"{server.address}/let-in#{server.secret}")
    page.get_by_label("Name of this device").fill("Ada's phone")
    page.get_by_role("button").click()
    page.wait_for_url(f"{server.address}/")
    page.close()
    yield context
    context.close()


def opened(phone: BrowserContext, server: Server, wrong: list[str] | None = None) -> Page:
    """The page, drawn."""
    page = phone.new_page()
    if wrong is not None:
        page.on("pageerror", lambda error: wrong.append(str(error)))
    page.goto(server.address)
    expect(page.locator("#link")).to_have_text(ALL_SENT)
    return page


def text_of(server: Server) -> str:
    """The one entry that there is."""
    (file,) = (server.root / "content/entries").glob("*/index.md")
    return file.read_text("utf-8")


def note(page: Page, words: str) -> None:
    """Write it down, at the top of the page."""
    page.locator("#note").fill(words)
    page.locator("#write").click()


def test_an_evening_on_a_phone(phone: BrowserContext, server: Server, tmp_path: Path) -> None:
    """From the clock to the finished entry, with the line cut twice and the server killed once: each thing once."""
    wrong: list[str] = []
    page = opened(phone, server, wrong)
    page.locator("#assembly").select_option("left-wing")
    page.get_by_role("button", name=re.compile("^Ada")).click()
    expect(page.get_by_role("button", name=re.compile("^Ada.*Stop"))).to_be_visible()
    expect(page.locator("#link")).to_contain_text("Ada: the clock runs from")

    phone.set_offline(True)
    page.locator("summary", has_text="Prepare the spar").click()
    page.get_by_role("button", name="Done", exact=True).click()
    note(page, "Deburred the spar")
    expect(page.locator("#link")).to_contain_text("2 kept here")
    expect(page.locator("#steps .state").first).to_have_text("done")
    phone.set_offline(False)
    expect(page.locator("#link")).to_have_text(ALL_SENT)

    server.kill()
    picture = tmp_path / "IMG 1.JPG"
    picture.write_bytes(photo_bytes())
    page.locator("#caption").fill("The spar, deburred")
    page.locator("#gallery").set_input_files(picture)
    note(page, "Written while the computer was off")
    expect(page.locator("#link")).to_contain_text("2 kept here")
    server.start()
    expect(page.locator("#link")).to_have_text(ALL_SENT)

    page.locator("summary", has_text="The manual asks: torque AN4-10A 62 in-lb").click()
    page.get_by_label("What the wrench shows, with its unit").first.fill("72 in-lb")
    phone.set_offline(True)
    page.get_by_role("button", name="Write it down").locator("visible=true").nth(2).click()
    expect(page.locator("#link")).to_contain_text("1 kept here")
    phone.set_offline(False)
    expect(page.locator("#outcome")).to_contain_text("over 62 in-lb (page 7-1, edition 3)")
    expect(page.locator("#outcome")).to_contain_text("The kit’s manual and drawings come first")

    page.locator("#drafts input[id^=title-]").fill("The spar is ready")
    page.locator("#drafts input[type=checkbox]").check()
    page.get_by_role("button", name="I have read it").click()
    page.locator("#close").click()
    expect(page.locator("#link")).to_contain_text("counts from now on")
    text = text_of(server)
    for words in (
        "Deburred the spar",
        "Written while the computer was off",
        "The spar, deburred",
        "72 in-lb",
        "title: The spar",
    ):
        assert text.count(words) == 1, words
    assert "steps: [7.1]\n" in text
    assert "clock" not in text
    (entry,) = open_journal(server.root, date.today()).build.entries
    assert len(entry.photos) == 1
    assert wrong == []


@pytest.mark.slow
def test_what_is_typed_outlives_the_page(phone: BrowserContext, server: Server) -> None:
    """A phone that slept, a page that was reloaded: what was begun and what waits is still there."""
    page = opened(phone, server)
    page.locator("#assembly").select_option("flaps")
    page.locator("#note").fill("Half a sent")
    server.kill()
    page.locator("summary", has_text="Deburr the ribs").click()
    page.get_by_role("button", name="Begun").click()
    expect(page.locator("#link")).to_contain_text("1 kept here")
    server.start()
    page = phone.new_page()
    page.goto(server.address)
    expect(page.locator("#note")).to_have_value("Half a sent")
    expect(page.locator("#link")).to_have_text(ALL_SENT)
    assert "begun: [5.1]" in text_of(server)


@pytest.mark.slow
def test_private_stays_ticked_and_says_so(phone: BrowserContext, server: Server) -> None:
    """Over a page that was thrown away, and for pictures as for notes, until it is taken away."""
    page = opened(phone, server)
    page.locator("#private").check()
    page.locator("#note").fill("Zebra words")
    page.reload()
    expect(page.locator("#private")).to_be_checked()
    expect(page.locator("#secrecy")).to_be_visible()
    page.locator("#write").click()
    expect(page.locator("#link")).to_contain_text("A private note, 2 words")
    assert "!!! private\n    Zebra words" in text_of(server)


@pytest.mark.slow
def test_a_forgotten_clock_asks_when_it_ended(phone: BrowserContext, server: Server) -> None:
    """In the place of its button, next morning."""
    page = opened(phone, server)
    page.get_by_role("button", name=re.compile("^Ada")).click()
    expect(page.locator("#link")).to_contain_text("the clock runs from")
    (file,) = (server.root / "content/entries").glob("*/index.md")
    text = file.read_text("utf-8")
    day = date.today() - timedelta(days=2)
    file.write_text(re.sub(r"since \S+ \S+", f"since {day} 18:40", text), "utf-8")
    page.reload()
    page.get_by_label("When did it end?").fill("21:15")
    page.get_by_role("button", name="It ended then").click()
    expect(page.locator("#link")).to_contain_text("Ada 2 h 35 min")
    assert "ada: [18:40-21:15]" in text_of(server)


@pytest.mark.slow
def test_what_was_refused_stays_until_it_is_put_right(phone: BrowserContext, server: Server) -> None:
    """It is never thrown away by the page; everything else goes on."""
    page = opened(phone, server)
    page.locator("#assembly").select_option("left-wing")
    page.locator("summary", has_text="Prepare the spar").click()
    page.locator("summary", has_text="The manual asks: torque").click()
    page.get_by_label("What the wrench shows, with its unit").first.fill("seventy")
    page.get_by_role("button", name="Write it down").locator("visible=true").nth(2).click()
    expect(page.locator("#waiting")).to_contain_text('"seventy" is not a torque')
    note(page, "The next thing")
    expect(page.locator("#written")).to_contain_text("A note, 3 words")
    expect(page.locator("#waiting li")).to_have_count(1)
    page.on("dialog", lambda dialog: dialog.accept())
    page.locator("#waiting").get_by_role("button", name="Take it out").click()
    expect(page.locator("#link")).to_have_text(ALL_SENT)
    page.locator("#written").get_by_role("button", name="Take back").first.click()
    expect(page.locator("#link")).to_contain_text("Taken back")
    assert "The next thing" not in text_of(server)


@pytest.mark.slow
def test_one_page_of_a_phone_writes(phone: BrowserContext, server: Server) -> None:
    """Opened a second time, the first says so, keeps what is written, and can be gone on with."""
    first = opened(phone, server)
    opened(phone, server)
    note(first, "From the first")
    expect(first.locator("#outcome")).to_contain_text("open a second time on this phone")
    expect(first.locator("#link")).to_contain_text("1 not yet sent")
    first.get_by_role("button", name="Go on here").click()
    expect(first.locator("#link")).to_have_text(ALL_SENT)
    assert text_of(server).count("From the first") == 1


@pytest.mark.parametrize("scheme", ["light", *slow("dark")])
def test_for_a_thumb_and_for_everybody(phone: BrowserContext, server: Server, scheme: str) -> None:
    """WCAG 2.2 A and AA by axe; nothing sideways at 360 px; what is pressed is 44 px and more (WCAG 2.2, 2.5.5)."""
    page = opened(phone, server)
    page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
    page.locator("#assembly").select_option("left-wing")
    for summary in ("Prepare the spar", "The manual asks: torque", "Other rivets set"):
        page.locator("summary", has_text=summary).click()
    note(page, "Words")
    expect(page.locator("#written")).to_contain_text("A note")
    page.locator("#private").focus()
    assert Axe().run(page).response["violations"] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    low = page.evaluate(
        """() => [...document.querySelectorAll("button, select, summary, textarea, .press, input:not(.press input)")]
        .filter(one => one.checkVisibility() && one.type !== "checkbox" && one.getBoundingClientRect().height < 44)
        .map(one => one.outerHTML.slice(0, 80))"""
    )
    assert low == []


def test_the_script_is_of_2021() -> None:
    """Nothing of the language, or of what comes with it, that is newer (ECMA-262, 12th edition): phones at benches are
    old. esbuild rewrites what is newer; what it leaves alone is not.
    """
    program = shutil.which("esbuild")
    if program is None:
        pytest.skip("esbuild is not installed")
    for script in ("bench/bench.js", "network/let-in.js"):
        source = resources.files("journal").joinpath("data", script).read_text("utf-8")
        told = [
            subprocess.run([program, f"--target={of}"], input=source, capture_output=True, text=True, check=True).stdout
            for of in ("es2021", "esnext")
        ]
        assert told[0] == told[1]
        newer = r"\.at\(|structuredClone|hasOwn\b|findLast|\.to(?:Sorted|Reversed)|groupBy|withResolvers|AbortSignal\."
        assert re.findall(newer, source) == []


ATTACKS: list[tuple[str, bytes | None, dict[str, str]]] = [
    ("/", None, {}),
    ("/state", None, {}),
    ("/today?private=yes", None, {}),
    ("/bench.js", None, {"Cookie": "journal-1=x"}),
    ("/sent", b'{"key": "aaaaaaaaaaaaaaaaaaaaaaaa", "kind": "note", "text": "Intruder", "at": 1, "now": 1}', {}),
    ("/sent", b"Intruder", {"Origin": "http://evil.example"}),
    ("/sent", b"Intruder" * 10_000, {"Host": "evil.example"}),
    ("/take-back", b'{"key": "aaaaaaaaaaaaaaaaaaaaaaaa"}', {}),
    ("/arriving/aaaaaaaaaaaaaaaaaaaaaaaa?offset=0", b"Intruder", {}),
    ("/arriving/..%2f..%2f..%2fcontent%2fbuild.yml?offset=0", b"Intruder", {}),
    ("/arriving/%00", b"Intruder", {}),
    ("/../content/build.yml", None, {}),
    ("/let-in", b"secret=2222-2222-2222&name=x", {"Content-Type": "application/x-www-form-urlencoded"}),
    ("/page", b"{}", {"Cookie": "x" * 8000}),
]


def test_a_stranger_beside_the_phone(phone: BrowserContext, server: Server) -> None:
    """Whoever else is on the network gets nothing and writes nothing, and does not keep the phone from its work."""
    over, answers = threading.Event(), list[tuple[int, bytes]]()

    def attack() -> None:
        while not over.is_set():
            for path, body, headers in ATTACKS:
                with contextlib.suppress(OSError, HTTPException):
                    status, told, _ = server.ask(path, body, **headers)
                    answers.append((status, told))

    strangers = [threading.Thread(target=attack) for _ in range(3)]
    for one in strangers:
        one.start()
    try:
        page = opened(phone, server)
        note(page, "Our own words")
        expect(page.locator("#written")).to_contain_text("A note, 3 words")
    finally:
        over.set()
        for one in strangers:
            one.join()
    assert len(answers) > len(ATTACKS)
    assert {status for status, _ in answers} <= {400, 401, 403, 404, 413, 429, 431}
    assert not any(word in told for _, told in answers for word in (b"Tarn", b"Lindqvist", b"Prepare", b"Intruder"))
    assert "Intruder" not in "".join(path.read_text("utf-8") for path in server.root.rglob("content/**/*.*"))
    assert text_of(server).endswith("Our own words\n")


def test_a_phone_takes_back_what_phones_wrote(server: Server) -> None:
    """What the desk wrote is not in its list, and asked for by its key it stays."""
    cookie = server.let_in()
    at_desk = WrittenList(server.root).change("content/entries/x/index.md", lambda text: entry(""), by=ENTER, said="x")
    for key in (at_desk.key, "a" * 24):
        status, told, _ = server.ask("/take-back", json.dumps({"key": key}).encode(), cookie)
        assert (status, b"taken back at the desk" in told) == (422, True)
    assert at_desk.key.encode() not in server.ask("/state", cookie=cookie)[1]
    assert text_of(server) == entry("")


@pytest.mark.slow
def test_sixty_pictures_through_a_bad_line(phone: BrowserContext, server: Server, tmp_path: Path) -> None:
    """60 pictures of 5 MB, the server killed five times meanwhile: all there, whole, each once."""
    pictures = []
    for number in range(60):
        data = photo_bytes() + bytes([number])
        pictures.append(tmp_path / f"IMG_{number}.jpg")
        pictures[-1].write_bytes(data + bytes(5_000_000 - len(data)))
    page = opened(phone, server)
    page.locator("#gallery").set_input_files(pictures)
    for _ in range(5):
        time.sleep(2)
        server.kill()
        time.sleep(0.5)
        server.start()
        page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(page.locator("#link")).to_have_text(ALL_SENT, timeout=240_000)
    (folder,) = (server.root / "content/entries").iterdir()
    come = sorted(file_sha256(path)[0] for path in folder.glob("*.jpg"))
    assert come == sorted(file_sha256(path)[0] for path in pictures)
    assert not list((server.root / ".journal/bench/arriving").glob("*.part"))
