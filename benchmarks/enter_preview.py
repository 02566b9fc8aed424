"""Saved entry to changed page in the browser, against the bare host's serve on the same Markdown.

`python benchmarks/enter_preview.py [--entries 1000]` starts `journal preview` and, after it, bare
`mkdocs serve`, opens the same entry in Chromium, saves a change and takes the time until the browser
shows it, several times each. Exit code 1 where the median is above a second.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Page, sync_playwright
from site_against_bare import write_bare
from synthetic import write_build

LIMIT_S = 1.0
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update"]


def free_port() -> int:
    """A port nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def served(command: list[str], folder: Path, port: int) -> Iterator[None]:
    """A server while the block runs, once it answers."""
    env = {**os.environ, "NO_MKDOCS_2_WARNING": "true"}
    running = subprocess.Popen(command, cwd=folder, env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        for _ in range(600):
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.2)
        yield
    finally:
        running.terminate()
        running.wait()


def save_to_page(page: Page, file: Path, runs: int) -> list[float]:
    """Seconds from the save to the words in the browser."""
    times = []
    for number in range(runs):
        words = f"Saved for the {number}th time at {time.time_ns()}"
        before = file.read_text("utf-8")
        text = re.sub(r"\n*Saved for the .*\n", "\n", before).rstrip("\n") + f"\n\n{words}\n"
        begun = time.perf_counter()
        file.write_text(text, "utf-8")
        page.wait_for_function("words => document.body.innerText.includes(words)", arg=words, timeout=120_000)
        times.append(time.perf_counter() - begun)
        time.sleep(1.5)
    return times


def main() -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--entries", type=int, default=1000)
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--chromium", default=shutil.which("chromium"))
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name, sync_playwright() as playwright:
        journal, bare = Path(name) / "journal", Path(name) / "bare"
        write_build(journal, entries=options.entries, photos=options.entries * 2, size=(640, 480))
        write_bare(bare, journal)
        entry = sorted((journal / "content/entries").iterdir())[options.entries // 2].name
        browser = playwright.chromium.launch(executable_path=options.chromium, args=FLAGS)
        page = browser.new_page()
        found: dict[str, float] = {}
        for what, folder, words, file in (
            (
                "journal preview",
                journal,
                ["-m", "journal.commands.main", "preview", "--port"],
                journal / "content/entries" / entry,
            ),
            ("bare mkdocs serve", bare, ["-m", "mkdocs", "serve", "-q", "-a"], bare / "docs/entries" / entry),
        ):
            port = free_port()
            where = str(port) if "preview" in words else f"127.0.0.1:{port}"
            with served([sys.executable, *words, where], folder, port):
                page.goto(f"http://127.0.0.1:{port}/entries/{entry}/", timeout=300_000)
                save_to_page(page, file / "index.md", 1)
                times = save_to_page(page, file / "index.md", options.runs)
            found[what] = statistics.median(times)
            print(f"{what}: {found[what]:.2f} s (from {min(times):.2f} to {max(times):.2f})", flush=True)
        browser.close()
    ours, theirs = found.values()
    print(
        f"{options.entries:,} entries: {ours / theirs:.2f} of the bare host's time; {ours / LIMIT_S:.2f} of the limit"
    )
    return 0 if ours <= LIMIT_S else 1


if __name__ == "__main__":
    sys.exit(main())
