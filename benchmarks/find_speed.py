"""How fast the search answers: `python benchmarks/find_speed.py [--entries 2000]`.

Measured with a build of invented entries (find_builds.py):

- the terminal, whole process, with a warm index, and in processor seconds above that after entries changed, came
  and went;
- the index for the site: time to make it, and its size as a server sends it (gzip);
- in Chromium: bytes transferred before the first answer of a first visit, and the time from a
  keystroke to the answers standing on the page.

Aims: terminal 0.3 s, 0.5 s of the processor more after a change, 250 KB before the first answer, 40 ms a keystroke.
Each line ends with the share of its aim.
"""

from __future__ import annotations

import argparse
import functools
import gzip
import http.server
import os
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from find_builds import write_build

from journal.finding.scripts import FOLDER
from journal.ledger.journal import Journal, open_journal
from journal.making.find_pages import find_extras
from journal.making.host import load_settings, site_options, write_site
from journal.making.lay_site import lay_site
from journal.site.site_context import SiteContext
from journal.view.view import Audience, open_view

QUESTIONS = (
    "how did we hold the nose ribs for dimpling",
    "rivit sqeezer",
    "AN470AD4-5 step 7.10",
    "second time drilled out",
    "#30 drill 3/32 silver",
)
CHANGE_SECONDS = 0.5
TERMINAL_SECONDS, FIRST_BYTES, KEY_SECONDS = 0.3, 250_000, 0.04


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--entries", type=int, default=2000)
    parser.add_argument("--build", type=Path, help="a build folder made before (find_builds.py)")
    parser.add_argument("--without-browser", action="store_true")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        root = arguments.build or write_build(Path(scratch) / "build", arguments.entries)
        _terminal(root)
        site = _site(root, Path(scratch))
        if not arguments.without_browser:
            _browser(site)


def _say(what: str, value: str, share: float | None = None) -> None:
    print(f"{what:<58} {value:>12}" + (f"  {share:6.2f} of the aim" if share is not None else ""), flush=True)


def _terminal(root: Path) -> None:
    def once(question: str) -> float:
        begun = time.perf_counter()
        subprocess.run(
            [sys.executable, "-m", "journal.commands.main", "find", "--build", str(root), "--json", question],
            check=True,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        return time.perf_counter() - begun

    shutil.rmtree(root / ".journal" / "find", ignore_errors=True)
    _say("terminal, no index yet", f"{once(QUESTIONS[0]):.2f} s")
    for question in QUESTIONS:
        seconds = statistics.median(once(question) for _ in range(7))
        _say(f"terminal, warm: {question}", f"{seconds:.3f} s", seconds / TERMINAL_SECONDS)

    def processor() -> float:
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        once(QUESTIONS[0])
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime

    warm = min(processor() for _ in range(5))
    for what, change in _changes(root / "content" / "entries"):
        above = []
        for turn in range(5):
            change(turn)
            above.append(processor() - warm)
        _say(f"terminal, processor, above a warm answer: {what}", f"{min(above):.2f} s", min(above) / CHANGE_SECONDS)


def _changes(entries: Path) -> Iterator[tuple[str, Callable[[int], None]]]:
    """What happens to entries, each to be done five times."""
    folders = sorted(folder for folder in entries.iterdir() if len(list(folder.glob("*.jpg"))) >= 5)
    middle = len(folders) // 2

    def rewrite(many: int, turn: int) -> None:
        for folder in folders[turn * many : turn * many + many]:
            file = folder / "index.md"
            file.write_text(f"{file.read_text('utf-8')}\nOne more sentence, the {turn}th.\n", "utf-8")

    def add(turn: int) -> None:
        folder = entries / f"2031-01-0{turn + 1}-new"
        folder.mkdir()
        for photo in sorted(folders[turn].glob("*.jpg"))[:5]:
            shutil.copy(photo, folder / photo.name)
        text = f"---\ndate: 2031-01-0{turn + 1}\nassembly: left-wing\nhours: 2\n---\nRivets set.\n"
        (folder / "index.md").write_text(text, "utf-8")

    for many in (1, 10, 50):
        yield f"{many} changed", functools.partial(rewrite, many)
    yield "one added, with five photos", add
    yield "one of the middle taken away", lambda turn: shutil.rmtree(folders[middle + turn])
    yield "one renamed", lambda turn: folders[-turn - 1].rename(entries / f"{folders[-turn - 1].name}-x") and None


def _site(root: Path, scratch: Path) -> Path:
    journal = open_journal(root, date(2030, 1, 1))
    view = open_view(journal, Audience.PUBLIC)
    begun = time.perf_counter()
    extras = find_extras(SiteContext(view, {}), Path(os.devnull))
    _say("index for the site, made in", f"{time.perf_counter() - begun:.2f} s")
    packed = {name: len(gzip.compress(data, 6)) for name, data in extras.files}
    lexicon = packed[f"{FOLDER}lexicon.js"]
    _say("lexicon, compressed", f"{lexicon / 1000:.0f} KB")
    for kind in ("postings", "cards"):
        sizes = [size for name, size in packed.items() if kind in name]
        _say(
            f"{kind}, compressed: {len(sizes)} parts, largest {max(sizes) / 1000:.0f} KB", f"{sum(sizes) / 1000:.0f} KB"
        )
    return _build(journal, scratch / "site")


@dataclass
class _Sent:
    """What a server has sent, by kind of file."""

    bytes: int = 0


class _Gzipped(http.server.SimpleHTTPRequestHandler):
    """Serves a folder as common hosts do, text compressed, and counts what it sends."""

    sent: _Sent

    def log_message(self, *_: object) -> None:
        """Nothing."""

    def do_GET(self) -> None:
        path = Path(self.translate_path(self.path))
        if path.is_dir():
            path /= "index.html"
        if not path.is_file():
            self.send_error(404)
            return
        data = path.read_bytes()
        self.send_response(200)
        self.send_header("Content-Type", self.guess_type(str(path)))
        if path.suffix in (".html", ".js", ".css", ".svg"):
            data = gzip.compress(data, 6)
            self.send_header("Content-Encoding", "gzip")
        self.send_header("Content-Length", str(len(data)))
        self.end_headers()
        self.wfile.write(data)
        if path.suffix != ".jpg":
            type(self).sent.bytes += len(data)


_WATCH = """
() => {
  const times = window.keyTimes = [], list = document.getElementById("ask-answers");
  let begun = 0;
  // Registered on the window in the capture phase: it runs before the page's own listener.
  window.addEventListener("input", () => { begun = performance.now(); }, true);
  const note = () => { if (begun) times.push(performance.now() - begun); begun = 0; };
  new MutationObserver(note).observe(list, { childList: true });
}
"""


def _browser(site: Path) -> None:
    from playwright.sync_api import sync_playwright

    handler = functools.partial(_Gzipped, directory=str(site))
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    address = f"http://127.0.0.1:{server.server_port}/find/"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"),
            args=["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"],
        )
        for question in QUESTIONS:
            _Gzipped.sent = _Sent()
            page = browser.new_context().new_page()
            page.goto(address + "?q=" + question.replace("#", "%23").replace(" ", "+"))
            page.wait_for_selector(".answer")
            _say(
                f"first visit, page and fonts and index: {question}",
                f"{_Gzipped.sent.bytes / 1000:.0f} KB",
                _Gzipped.sent.bytes / FIRST_BYTES,
            )
            page.close()
        times: list[float] = []
        for question in QUESTIONS:
            page = browser.new_context().new_page()
            page.goto(address)
            page.wait_for_timeout(500)
            page.evaluate(_WATCH)
            page.type("#ask-q", question, delay=90)
            page.wait_for_timeout(300)
            times += page.evaluate("window.keyTimes")
            page.close()
        times.sort()
        for name, place in (("median", 0.5), ("95 in 100", 0.95), ("slowest", 1.0)):
            milliseconds = times[min(len(times) - 1, int(len(times) * place))]
            _say(
                f"keystroke to answers, {name} of {len(times)}",
                f"{milliseconds:.1f} ms",
                milliseconds / 1000 / KEY_SECONDS,
            )
        browser.close()
    server.shutdown()


def _build(journal: Journal, out: Path) -> Path:
    config = load_settings(journal.root, out=out)
    return write_site(lay_site(journal, site_options(config, Audience.PUBLIC)), config)


if __name__ == "__main__":
    main()
