"""The demonstration site in Chromium: built once, served from this machine alone."""

from __future__ import annotations

import contextlib
import functools
import http.server
import threading
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

import pytest
from making import build_site

from journal.ledger.journal import open_journal
from journal.view.view import Audience

ROOT = Path(__file__).parents[2]
TODAY = date(2026, 7, 1)


@pytest.fixture(scope="session")
def demo_site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The public site of the demonstration build."""
    return build_site(open_journal(ROOT, TODAY), out=tmp_path_factory.mktemp("demo") / "site")


@pytest.fixture(scope="session")
def offline_site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same for the archive, opened from a file address."""
    out = tmp_path_factory.mktemp("offline") / "site"
    return build_site(open_journal(ROOT, TODAY), out=out, audience=Audience.ARCHIVE, offline=True)


class _Silent(http.server.SimpleHTTPRequestHandler):
    def log_message(self, *arguments: object) -> None:
        """Nothing on the terminal."""


@pytest.fixture(scope="session")
def address(demo_site: Path) -> Iterator[str]:
    """Where the public site answers, below a path as on a host of pages."""
    below = demo_site.parent / "served"
    below.mkdir()
    (below / "journal").symlink_to(demo_site)
    with serving(below) as served:
        yield f"{served}journal/"


@pytest.fixture(scope="session")
def serve() -> Callable[[Path], contextlib.AbstractContextManager[str]]:
    """Serves any folder while a block runs."""
    return serving


@contextlib.contextmanager
def serving(folder: Path) -> Iterator[str]:
    """The address at which `folder` is served, from this machine alone."""
    handler = functools.partial(_Silent, directory=str(folder))
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}/"
    server.shutdown()
