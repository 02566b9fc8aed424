"""A rectangle drawn on a picture of the preview: the line that is given shows the picture so."""

from __future__ import annotations

import io
import re
import shutil
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from making import MakeBuild, entry
from PIL import Image
from playwright.sync_api import Browser, Page, expect

from journal.commands.preview import serving

pytestmark = pytest.mark.browser
ENTRY = "entries/2026-02-07-flaps/index.md"
RED = (0.60, 0.40, 0.66, 0.48)
"""What is to be hidden in the picture, in fractions of it."""


def picture() -> bytes:
    """White, with a red patch."""
    image, out = Image.new("RGB", (1600, 1200), "white"), io.BytesIO()
    left, top, right, bottom = (round(edge * side) for edge, side in zip(RED, (1600, 1200) * 2, strict=True))
    image.paste((255, 0, 0), (left, top, right, bottom))
    image.save(out, "PNG")
    return out.getvalue()


@pytest.fixture
def served(make_build: MakeBuild) -> Iterator[tuple[Path, str]]:
    """(its text, address of its page) of an entry with a picture that is turned and cropped already."""
    matter = "title: Flaps\nphotos:\n  A.png: {caption: A rib, step: 5.1, turn: right, crop: 0.2 0.1 0.9 0.9}"
    root = make_build({ENTRY: entry(matter), "entries/2026-02-07-flaps/A.png": picture()})
    shutil.copy(Path(__file__).parents[1] / "builds/first-weeks/mkdocs.yml", root)
    with serving(root) as (_, port):
        yield root / "content" / ENTRY, f"http://127.0.0.1:{port}/entries/2026-02-07-flaps/"


def reds(page: Page) -> int:
    """Pixels of the picture as it is shown that have something of the patch."""
    address = page.locator("a.photo").evaluate("link => link.href")
    with urllib.request.urlopen(address) as answer:
        image = Image.open(io.BytesIO(answer.read())).convert("RGB")
    return sum(count for count, (red, green, _) in image.getcolors(1 << 24) if red - green > 40)


def draw(page: Page, *, finger: bool) -> None:
    """A rectangle over the patch, where it is seen now: cut out of the picture and turned to the right."""
    box = page.locator("dialog canvas").bounding_box()
    assert box
    left, top, right, bottom = RED[0] - 0.02, RED[1] - 0.02, RED[2] + 0.02, RED[3] + 0.02
    ways = [(1 - (y - 0.1) / 0.8, (x - 0.2) / 0.7) for x, y in ((left, top), (right, bottom))]
    (x, y), (to_x, to_y) = [(box["x"] + u * box["width"], box["y"] + v * box["height"]) for u, v in ways]
    if not finger:
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(to_x, to_y, steps=3)
        page.mouse.up()
        return
    touches = page.context.new_cdp_session(page)
    for kind, points in (("Start", [(x, y)]), ("Move", [(to_x, y)]), ("Move", [(to_x, to_y)]), ("End", [])):
        at = [{"x": across, "y": down} for across, down in points]
        touches.send("Input.dispatchTouchEvent", {"type": f"touch{kind}", "touchPoints": at})


@pytest.mark.slow
@pytest.mark.parametrize(("width", "scheme"), [(390, "dark"), (1280, "light")], ids=["phone", "desk"])
def test_what_is_drawn_is_what_the_line_hides(
    browser: Browser, served: tuple[Path, str], width: int, scheme: str
) -> None:
    """With finger or mouse, on a picture that is turned and cropped; by fields as well; WCAG 2.2 A and AA by axe."""
    text, address = served
    context = browser.new_context(
        viewport={"width": width, "height": 844},
        has_touch=width < 600,
        color_scheme=scheme,  # type: ignore[arg-type]
    )
    page = context.new_page()
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.goto(address)
    assert reds(page) > 1000
    page.get_by_role("button", name=re.compile("^Crop, fill in or turn")).click()
    line = page.get_by_role("textbox")
    assert line.input_value() == "A.png: {caption: A rib, step: 5.1, turn: right, crop: 0.2 0.1 0.9 0.9}"
    draw(page, finger=width < 600)
    expect(page.locator("dialog li")).to_have_count(2)
    assert Axe().run(page).response["violations"] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    found = re.fullmatch(r"A\.png: \{caption: A rib, .*, blur: (\S+ \S+ \S+ \S+)\}", line.input_value())
    assert found
    drawn = [float(edge) for edge in found[1].split()]
    assert all(abs(one - wanted) < 0.03 for one, wanted in zip(drawn, RED, strict=True))
    text.write_text(re.sub(r"A\.png: .*", line.input_value(), text.read_text()))
    with page.expect_navigation():  # a save waits for what is being drawn
        page.get_by_role("button", name="Close").click()
    assert reds(page) == 0

    page.get_by_role("button", name=re.compile("^Crop, fill in or turn")).click()
    page.get_by_role("radio", name="Crop").check()
    for field, value in (("Left", "0.3"), ("Top", "0.25"), ("Right", "0.75"), ("Bottom", "1")):
        page.get_by_role("spinbutton", name=field).fill(value)
    page.get_by_role("button", name="Add this rectangle").press("Enter")
    page.get_by_role("combobox", name="Turn").select_option("half")
    page.get_by_role("button", name=re.compile("Take out: Fill in")).press("Enter")
    assert line.input_value() == "A.png: {caption: A rib, step: 5.1, turn: half, crop: 0.3 0.25 0.75 1}"
    context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.get_by_role("button", name="Copy").click()
    expect(page.get_by_role("status")).to_have_text("Copied.")
    assert page.evaluate("navigator.clipboard.readText()") == line.input_value()
    context.close()
    assert wrong == []
