"""A first visit on a phone: `python benchmarks/first_visit.py site [ADDRESS…]`.

Chromium's own timeline, 390 px wide at three dots to the pixel, processor slowed four times, a
connection of 1.6 Mbit/s with 150 ms of delay (the usual "slow 4G"): largest paint, layout shift,
and what was fetched, before and with the pictures in view. Pages are served compressed, as hosts do.
"""

from __future__ import annotations

import argparse
import gzip
import http.server
import shutil
import threading
from functools import partial
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from playwright.sync_api import Browser, sync_playwright

PAGES = ("", "entries/2026-02-28-shop-heads/", "assemblies/left-wing/", "hours/", "photos/")
WATCH = """
window.paint = 0; window.shift = 0;
new PerformanceObserver(list => { for (const one of list.getEntries()) window.paint = one.startTime; })
  .observe({type: "largest-contentful-paint", buffered: true});
new PerformanceObserver(list => { for (const one of list.getEntries())
  if (!one.hadRecentInput) window.shift += one.value; })
  .observe({type: "layout-shift", buffered: true});
"""
SLOW = {"offline": False, "latency": 150, "downloadThroughput": 200_000, "uploadThroughput": 90_000}


class Handler(http.server.SimpleHTTPRequestHandler):
    """Serves text compressed."""

    def do_GET(self) -> None:
        """A file, compressed where that helps."""
        path = Path(self.translate_path(self.path))
        path = path / "index.html" if path.is_dir() else path
        if path.suffix not in (".html", ".css", ".js", ".json", ".svg") or not path.is_file():
            super().do_GET()
            return
        data = gzip.compress(path.read_bytes(), 6)
        self.send_response(200)
        self.send_header("Content-Type", self.guess_type(str(path)))
        self.send_header("Content-Encoding", "gzip")
        self.send_header("Content-Length", str(len(data)))
        self.end_headers()
        self.wfile.write(data)

    def log_message(self, *arguments: object) -> None:
        """Nothing on the terminal."""


def visit(browser: Browser, url: str) -> dict[str, Any]:
    """One first visit, nothing cached."""
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, device_scale_factor=3, is_mobile=True, has_touch=True
    )
    page = context.new_page()
    page.add_init_script(WATCH)
    session = context.new_cdp_session(page)
    session.send("Network.enable")
    session.send("Network.emulateNetworkConditions", SLOW)
    session.send("Emulation.setCPUThrottlingRate", {"rate": 4})
    fetched: dict[str, int] = {}
    names: dict[str, str] = {}
    session.on("Network.requestWillBeSent", lambda said: names.update({said["requestId"]: said["request"]["url"]}))
    session.on(
        "Network.loadingFinished", lambda said: fetched.update({said["requestId"]: int(said["encodedDataLength"])})
    )
    page.goto(url, wait_until="networkidle")
    page.wait_for_timeout(500)
    pictures = sum(size for id_, size in fetched.items() if urlsplit(names.get(id_, "")).path.endswith(".jpg"))
    told = {
        "largest paint s": page.evaluate("window.paint") / 1000,
        "layout shift": page.evaluate("window.shift"),
        "KB before pictures": (sum(fetched.values()) - pictures) / 1000,
        "KB with pictures in view": sum(fetched.values()) / 1000,
    }
    context.close()
    return told


def main() -> None:
    """Print one line a page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("site", type=Path)
    parser.add_argument("addresses", nargs="*", default=PAGES)
    arguments = parser.parse_args()
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), partial(Handler, directory=str(arguments.site)))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"),
            args=["--no-sandbox", "--disable-gpu", "--disable-background-networking"],
        )
        for address in arguments.addresses:
            told = visit(browser, f"http://127.0.0.1:{server.server_port}/{address}")
            print(f"/{address}: " + ", ".join(f"{name} {value:.3g}" for name, value in told.items()))
        browser.close()


if __name__ == "__main__":
    main()
