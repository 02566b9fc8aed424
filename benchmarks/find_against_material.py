"""Our search beside the plain search of mkdocs-material, on the same entries and questions.

    python benchmarks/find_against_material.py [--demo]

The entries of the judged collection (or, with `--demo`, of the demonstration) become pages of a plain
mkdocs-material site: title, steps, tools, methods, fasteners, captions and text, everything our
own index has. Its search is asked in Chromium as a reader asks it, with its own settings. Printed
by kind of question: mean reciprocal rank, and the share answered among the first three.
"""

from __future__ import annotations

import argparse
import csv
import functools
import http.server
import shutil
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from journal.finding.documents import Document, documents
from journal.finding.rules import CAPTION, TEXT, TITLE
from journal.ledger.journal import Journal, open_journal
from journal.making.host import load_settings, site_options, write_site
from journal.making.lay_site import lay_site
from journal.view.page_addresses import PageAddresses
from journal.view.view import Audience, open_view

ROOT = Path(__file__).parent.parent
TESTS = ROOT / "tests" / "finding"
Question = tuple[str, str, frozenset[str]]


def main() -> None:
    """Build both sites, ask both, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--demo", action="store_true", help="ask the demonstration build")
    demo = parser.parse_args().demo
    with tempfile.TemporaryDirectory() as scratch:
        root = ROOT if demo else _collection(Path(scratch))
        journal = open_journal(root, date(2030, 1, 1))
        view = open_view(journal, Audience.PUBLIC)
        entries = [document for document in documents(view, PageAddresses(view)) if document.kind.dated]
        questions = _questions(TESTS / ("demo_queries.csv" if demo else "collection/queries.csv"))
        plain = _plain_site(entries, Path(scratch) / "plain")
        ours = _build(journal, Path(scratch) / "ours")
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(
                executable_path=shutil.which("chromium"),
                args=["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"],
            )
            theirs = _ask(browser.new_page(), plain, questions, _ask_plain)
            mine = _ask(browser.new_page(), ours, questions, _ask_ours)
            browser.close()
    print(f"{len(questions)} questions on {len(entries)} sheets")
    print(f"{'kind':<12}{'mkdocs-material':>24}{'this journal':>24}")
    print(f"{'':<12}{'MRR':>12}{'first 3':>12}{'MRR':>12}{'first 3':>12}")
    for kind in [*dict.fromkeys(question[0] for question in questions), "all"]:
        rows = [number for number, question in enumerate(questions) if kind in (question[0], "all")]
        print(f"{kind:<12}" + "".join(_said([places[row] for row in rows]) for places in (theirs, mine)))


def _said(places: Sequence[int | None]) -> str:
    reciprocal = sum(1 / place for place in places if place) / len(places)
    three = sum(place is not None and place <= 3 for place in places) / len(places)
    return f"{reciprocal:>12.2f}{three:>12.0%}"


def _collection(scratch: Path) -> Path:
    sys.path.insert(0, str(TESTS))
    from collecting import lay_collection

    return lay_collection(scratch / "build")


def _questions(file: Path) -> list[Question]:
    with file.open(encoding="utf-8", newline="") as rows:
        return [(row["kind"], row["query"], frozenset(row["wanted"].split(";"))) for row in csv.DictReader(rows)]


def _plain_site(entries: Sequence[Document], folder: Path) -> Path:
    docs = folder / "docs" / "entries"
    docs.mkdir(parents=True)
    for entry in entries:
        facts = [p.text for p in entry.passages if p.field not in (TITLE, CAPTION, TEXT)]
        captions = [p.text for p in entry.passages if p.field == CAPTION]
        text = " ".join(p.text for p in entry.passages if p.field == TEXT)
        lines = [f"# {entry.title}", text, *captions, *facts]
        (docs / f"{entry.id}.md").write_text("\n\n".join(lines).replace("#", "\\#").replace("\\#", "#", 1), "utf-8")
    (folder / "docs" / "index.md").write_text("# Journal\n", "utf-8")
    (folder / "mkdocs.yml").write_text(
        "site_name: plain\nsite_url: ''\ntheme: {name: material, font: false}\nplugins: [search]\n", "utf-8"
    )
    subprocess.run([sys.executable, "-m", "mkdocs", "build", "-q"], cwd=folder, check=True, stderr=subprocess.DEVNULL)
    return folder / "site"


class _Silent(http.server.SimpleHTTPRequestHandler):
    def log_message(self, *_: object) -> None:
        """Nothing."""


Asking = Callable[[Page, str], list[str]]


def _ask(page: Page, site: Path, questions: Sequence[Question], ask: Asking) -> list[int | None]:
    """The place of the first wanted sheet for each question, or None."""
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), functools.partial(_Silent, directory=str(site)))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    page.goto(f"http://127.0.0.1:{server.server_port}/{'find/' if ask is _ask_ours else ''}")
    places = []
    for _, question, wanted in questions:
        found = ask(page, question)
        places.append(next((place for place, id_ in enumerate(found, start=1) if id_ in wanted), None))
    server.shutdown()
    return places


def _ask_plain(page: Page, question: str) -> list[str]:
    field = page.locator("input.md-search__input")
    if not page.locator("#__search").is_checked():
        page.wait_for_timeout(1000)
        page.keyboard.press("f")
    # It listens to keys, and answers in a worker after a pause of its own.
    field.fill(question[:-1])
    page.keyboard.press("End")
    page.keyboard.type(question[-1])
    page.wait_for_timeout(1500)
    links = page.eval_on_selector_all(
        ".md-search-result__item > a.md-search-result__link", "links => links.map(link => link.getAttribute('href'))"
    )
    found = [str(link).partition("?")[0].partition("#")[0].rstrip("/").rpartition("/")[2] for link in links]
    return list(dict.fromkeys(found))


def _ask_ours(page: Page, question: str) -> list[str]:
    page.fill("#ask-q", question)
    page.wait_for_timeout(300)
    page.wait_for_function("() => !document.querySelector('#ask-answers[aria-busy], .answer.waiting')")
    return [str(id_) for id_ in page.eval_on_selector_all(".answer", "items => items.map(item => item.dataset.id)")]


def _build(journal: Journal, out: Path) -> Path:
    config = load_settings(journal.root, out=out)
    return write_site(lay_site(journal, site_options(config, Audience.PUBLIC)), config)


if __name__ == "__main__":
    main()
