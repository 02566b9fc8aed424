"""Take the two pictures in the README again: `python docs/screenshots/make.py`.

Builds the demonstration into a temporary folder and photographs it with Chromium, which must be
installed (`chromium` on the path); `pip install -e '.[test]'` brings the rest.
"""

from __future__ import annotations

import io
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import sync_playwright

HERE = Path(__file__).resolve().parent
PAGES = {"home": "index.html", "entry": "entries/2026-05-09-conduit/index.html"}


def main() -> None:
    """Write home.jpg and entry.jpg beside this file."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        sys.exit("no chromium on the path")
    with tempfile.TemporaryDirectory() as name, sync_playwright() as playwright:
        site = Path(name) / "site"
        command = [
            sys.executable,
            "-m",
            "journal.commands.main",
            "site",
            "--build",
            str(HERE.parents[1]),
            "--out",
            str(site),
        ]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        browser = playwright.chromium.launch(
            executable_path=chromium, args=["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
        )
        page = browser.new_page(viewport={"width": 1280, "height": 1000}, color_scheme="light")
        for picture, address in PAGES.items():
            page.goto((site / address).as_uri())
            page.reload()  # on a first visit the letters may come too late for the picture
            page.wait_for_load_state("networkidle")
            page.evaluate("document.fonts.ready")
            shot = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
            shot.save(HERE / f"{picture}.jpg", quality=88, subsampling=0, optimize=True)
        browser.close()


if __name__ == "__main__":
    main()
