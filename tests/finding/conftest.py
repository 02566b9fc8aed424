"""The judged collection, opened once for all tests of finding."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from datetime import date
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest
from asking import Asker, asker
from collecting import lay_collection
from making import build_site

from journal.base.problems import has_errors
from journal.ledger.journal import Journal, open_journal
from journal.view.view import Audience, View, open_view


@pytest.fixture(scope="session")
def collection(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The collection as a build folder."""
    return lay_collection(tmp_path_factory.mktemp("collection") / "build")


@pytest.fixture(scope="session")
def journal(collection: Path) -> Journal:
    """The collection, opened; it must be sound."""
    opened = open_journal(collection, date(2025, 12, 31))
    assert not has_errors(opened.problems), opened.problems
    return opened


@pytest.fixture(scope="session")
def view(journal: Journal) -> View:
    """What followers may see of it."""
    return open_view(journal, Audience.PUBLIC)


@pytest.fixture(scope="session")
def ask(view: View) -> Asker:
    """Ask the collection a question, in Python."""
    return asker(view)


@pytest.fixture(scope="session")
def site(journal: Journal, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The collection's public site as a folder."""
    return build_site(journal, out=tmp_path_factory.mktemp("public") / "site")


@pytest.fixture(scope="session")
def archive_site(journal: Journal, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The collection's site as the archive holds it: everything, opened from files."""
    out = tmp_path_factory.mktemp("archive") / "site"
    return build_site(journal, out=out, audience=Audience.ARCHIVE, offline=True)


class _Silent(SimpleHTTPRequestHandler):
    def log_message(self, *_: object) -> None:
        """Nothing."""


@pytest.fixture(scope="session")
def address(site: Path) -> Iterator[str]:
    """The address of the public site, served."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(_Silent, directory=str(site)))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}/"
    server.shutdown()
