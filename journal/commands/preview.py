"""A preview while writing: save a file, and the browser shows the page again.

Nothing is built. A page is made when it is asked for, from the journal as it stands on disk; so a
save costs one reading of the content and one page, however large the journal has grown.
"""

from __future__ import annotations

import contextlib
import json
import mimetypes
import os
import socket
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial
from html import escape
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qs, unquote, urlsplit

import click

from journal.base.addresses import is_of
from journal.base.problems import SiteError, render_problem
from journal.base.words import speak
from journal.commands.telling import folder_days, tell_problems
from journal.commands.terminal import EXIT_USE, build_option, fail, today
from journal.ledger.journal import open_journal
from journal.making.host import load_settings, set_up_environment, site_options, use_own_theme
from journal.making.lay_site import SETTINGS, LaidSite, lay_site
from journal.reading.build import Remembered
from journal.site.frame import page_context
from journal.view.page_addresses import ENTRIES
from journal.view.page_parts import PageRecord
from journal.view.view import Audience

if TYPE_CHECKING:
    import jinja2
    from mkdocs.config.defaults import MkDocsConfig
    from watchdog.events import FileSystemEvent


WAIT = "/preview-wait"
"""Where an open page asks whether there is something newer; answered when there is, or after a while."""
WAIT_SECONDS = 20.0
LOCAL = frozenset({"localhost", "127.0.0.1", "[::1]"})

_RELOAD = """<script>
(function () {
  var seen = %d;
  function ask() {
    fetch("%s?seen=" + seen).then(function (answer) { return answer.json(); }).then(function (told) {
      if (told.version !== seen) { location.reload(); } else { ask(); }
    }).catch(function () { setTimeout(ask, 1000); });
  }
  ask();
})();
</script>
"""


@dataclass(frozen=True, slots=True)
class Response:
    """What goes back to the browser; `location` is set for a redirect."""

    status: int
    kind: str
    body: bytes
    location: str = ""


@dataclass(slots=True)
class _Shown:
    """Everything made from one state of the content: a laid site, and of its pages and files those asked for so far."""

    version: int
    laid: LaidSite
    config: MkDocsConfig
    environment: jinja2.Environment
    folders: tuple[Path, ...]
    files: dict[str, bytes] | None = None
    whole: dict[str, PageRecord] = field(default_factory=dict)


class LivePages:
    """The journal of a build folder as pages on demand; `version` counts the saves seen. Safe to ask from several
    threads.
    """

    def __init__(self, root: Path) -> None:
        self.root = root
        self.version = 1
        self._changed = threading.Condition()
        self._making = threading.Lock()
        self._shown: _Shown | None = None
        self._remembered = Remembered()

    def touch(self) -> None:
        """Something under the build folder was saved."""
        with self._changed:
            self.version += 1
            self._changed.notify_all()

    def wait(self, seen: int, seconds: float) -> int:
        """The version, once it differs from `seen`, or after so many seconds."""
        with self._changed:
            self._changed.wait_for(lambda: self.version != seen, seconds)
            return self.version

    def answer(self, path: str) -> Response:
        """The answer to a request for `path` (unquoted, without the query)."""
        try:
            with self._making:
                return self._find(self._current(), path.removeprefix("/"))
        except SiteError as trouble:
            return self._plain("The preview cannot start", [str(trouble)], 500)

    def laid(self) -> LaidSite:
        """The site as the content stands."""
        with self._making:
            return self._current().laid

    def _current(self) -> _Shown:
        version = self.version
        if self._shown is not None and self._shown.version == version:
            return self._shown
        config = load_settings(self.root)
        use_own_theme(config)
        journal = open_journal(self.root, today(), remembered=self._remembered)
        folders = (Path(folder) for folder in config.theme.dirs)
        self._shown = _Shown(
            version=version,
            laid=lay_site(journal, site_options(config, Audience.PREVIEW)),
            config=config,
            environment=set_up_environment(config.theme.get_env(), self.root),
            folders=tuple(folder for folder in folders if "material/templates" not in folder.as_posix()),
        )
        return self._shown

    def _find(self, shown: _Shown, address: str) -> Response:
        laid = shown.laid
        speak(laid.frame.language)  # each answer has a thread, and so a context, of its own
        if address in laid.linked:
            return _file(laid.linked[address])
        if served := self._static(shown, address):
            return _file(served)
        if make := laid.single_pages.get(address):
            return self._page(shown, make())
        if address.startswith(ENTRIES) and (told := self._untold(shown, address)):
            return told
        if shown.files is None:
            # Find, feeds, and pages that are parted by year or month: everything, once one of them is asked for.
            shown.whole = {page.address: page for page in laid.pages()}
            shown.files = dict(laid.files())
        if address in shown.whole:
            return self._page(shown, shown.whole[address])
        for file in (address, f"{address}index.html"):
            # A former address has a page of its own that leads on.
            if file in shown.files:
                return Response(200, _kind_of(file), shown.files[file])
        if not address.endswith("/") and address + "/" in shown.whole:
            return Response(301, "text/plain", b"", location=f"/{address}/")
        return self._plain("Nothing is at this address", [f"/{address}"], 404)

    def _static(self, shown: _Shown, address: str) -> Path | None:
        """The file of the theme, or the one that mkdocs.yml names, for an address: nothing else is handed out."""
        if address in {str(path) for path in (*shown.config.extra_css, *shown.config.extra_javascript)}:
            bounds = (self.root / "content", *shown.folders)
        elif address.startswith("assets/"):
            bounds = tuple(folder / "assets" for folder in shown.folders)
            address = address.removeprefix("assets/")
        else:
            return None
        for folder in bounds:
            place = (folder / address).resolve()
            if place.is_relative_to(folder.resolve()) and place.is_file():
                return place
        return None

    def _untold(self, shown: _Shown, address: str) -> Response | None:
        """An entry that is there but cannot be shown: what is wrong with it, in the place of its page."""
        folder = address.removeprefix(ENTRIES).strip("/")
        lines = [render_problem(one) for one in shown.laid.problems if is_of(one.file, folder)]
        return self._plain(f"{folder} cannot be shown yet", lines, 200) if folder and lines else None

    def _page(self, shown: _Shown, page: PageRecord) -> Response:
        root = "../" * page.address.count("/")
        html = shown.environment.get_template(page.template).render(
            **page_context(shown.laid.frame, page),
            config=shown.config,
            extra_css=[root + str(path) for path in shown.config.extra_css],
            extra_javascript=[root + str(path) for path in shown.config.extra_javascript],
            base_url=root or ".",
        )
        return self._alive(html, shown.version)

    def _alive(self, html: str, version: int, status: int = 200) -> Response:
        script = _RELOAD % (version, WAIT)
        head, mark, tail = html.rpartition("</body>")
        html = head + script + mark + tail if mark else html + script
        return Response(status, "text/html; charset=utf-8", html.encode("utf-8", "replace"))

    def _plain(self, heading: str, lines: list[str], status: int) -> Response:
        told = "".join(f"<li><code>{escape(line)}</code></li>" for line in lines)
        html = (
            '<!doctype html><html lang="en"><meta charset="utf-8"><title>Preview</title>'
            '<meta name="viewport" content="width=device-width, initial-scale=1">'
            '<link rel="stylesheet" href="/assets/parts.css"><link rel="stylesheet" href="/assets/journal.css">'
            f'<body><main class="trouble"><h1>{escape(heading)}</h1><ul>{told}</ul>'
            '<p>Save the file, and this page shows it.</p><p><a href="/">Home</a></p></main></body></html>'
        )
        return self._alive(html, self.version, status)


def _file(path: Path) -> Response:
    with contextlib.suppress(OSError):
        return Response(200, _kind_of(path.name), path.read_bytes())
    return Response(404, "text/plain", b"gone")


def _kind_of(name: str) -> str:
    return mimetypes.guess_type(name)[0] or "application/octet-stream"


class _Handler(BaseHTTPRequestHandler):
    """GET and HEAD, from this machine only unless the preview is shared."""

    protocol_version = "HTTP/1.1"

    def __init__(self, live: LivePages, hosts: frozenset[str] | None, *arguments: Any) -> None:
        self.live = live
        self.hosts = hosts
        super().__init__(*arguments)

    def do_GET(self) -> None:
        """Answer a request."""
        host = self.headers.get("Host", "").rsplit(":", 1)[0]
        if self.hosts is not None and host not in self.hosts:
            # Another site's page must not read drafts through a name that it points here.
            self._send(Response(403, "text/plain", b"Use the address that the preview printed."))
            return
        parts = urlsplit(self.path)
        if parts.path == WAIT:
            seen = parse_qs(parts.query).get("seen", [""])[0]
            version = self.live.wait(int(seen) if seen.isdecimal() else 0, WAIT_SECONDS)
            self._send(Response(200, "application/json", json.dumps({"version": version}).encode()))
            return
        self._send(self.live.answer(unquote(parts.path)))

    do_HEAD = do_GET  # noqa: N815

    def _send(self, answer: Response) -> None:
        with contextlib.suppress(ConnectionError):
            self.send_response(answer.status)
            self.send_header("Content-Type", answer.kind)
            self.send_header("Content-Length", str(len(answer.body)))
            self.send_header("Cache-Control", "no-store")
            if answer.location:
                self.send_header("Location", answer.location)
            self.end_headers()
            if self.command != "HEAD":
                self.wfile.write(answer.body)

    def log_message(self, format: str, *arguments: Any) -> None:
        """A preview tells of problems, not of requests."""


@contextlib.contextmanager
def serving(root: Path, *, port: int = 0, share: bool = False) -> Iterator[tuple[LivePages, int]]:
    """A preview of `root` while the block runs: (live, port). `port` 0 takes any free one.

    Reachable from this machine only, unless `share`. Raises OSError where the port is taken.
    """
    live = LivePages(root)
    handler = partial(_Handler, live, None if share else LOCAL)
    server = ThreadingHTTPServer(("0.0.0.0" if share else "127.0.0.1", port), handler)
    server.daemon_threads = True
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        with _watching(root, live.touch):
            yield live, server.server_port
    finally:
        server.shutdown()
        server.server_close()


@contextlib.contextmanager
def _watching(root: Path, touch: Callable[[], None]) -> Iterator[None]:
    """Call `touch` after each save under content/ or of mkdocs.yml."""
    from watchdog.events import FileSystemEventHandler
    from watchdog.observers import Observer
    from watchdog.observers.polling import PollingObserver

    class Saved(FileSystemEventHandler):
        def on_any_event(self, event: FileSystemEvent) -> None:
            # Reading opens and closes files as well; only what changes them counts.
            if event.event_type not in {"created", "modified", "deleted", "moved"} or event.is_directory:
                return
            paths = [Path(os.fsdecode(name)) for name in (event.src_path, event.dest_path) if name]
            if any(path == root / SETTINGS or path.is_relative_to(root / "content") for path in paths):
                touch()

    def watched(observer: Any) -> Any:
        observer.schedule(Saved(), os.fspath(root / "content"), recursive=True)
        observer.schedule(Saved(), os.fspath(root), recursive=False)
        observer.start()
        return observer

    try:
        observer = watched(Observer())
    except OSError:
        # The system watches only so many folders; looking at them in turn always works.
        observer = watched(PollingObserver(timeout=1))
    try:
        yield
    finally:
        observer.stop()
        observer.join()


def _address_here() -> str:
    """The address of this machine on its network, found without sending anything."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # RFC 5737: an address for documentation
            return str(probe.getsockname()[0])
        except OSError:
            return "127.0.0.1"


@click.command()
@build_option
@click.option("--port", type=click.IntRange(1, 65535), default=8765, show_default=True, help="Where to listen.")
@click.option("--share", is_flag=True, help="Let other devices on this network see it, drafts too.")
def preview(root: Path, port: int, share: bool) -> None:
    """Show the site while you write: save a file, and the browser shows it again.

    Drafts are shown, marked as such. Mistakes stand on the page they concern, with line and mend. Only
    this machine can see it unless you share it.

    \b
    Example:
      journal preview
      journal preview --share      # look at it on the phone
    """
    try:
        with serving(root, port=port, share=share) as (live, port):
            laid = live.laid()
            tell_problems(laid.problems, folder_days(laid.view), late=laid.late)
            click.echo(f"The preview is at http://127.0.0.1:{port}/   (Ctrl-C ends it)")
            if share:
                click.echo(
                    f"On this network: http://{_address_here()}:{port}/   Anyone on it can read along, drafts too."
                )
            if laid.problems:
                click.echo("What is wrong in an entry stands on its page.")
            with contextlib.suppress(KeyboardInterrupt):
                threading.Event().wait()
    except SiteError as trouble:
        fail(str(trouble), EXIT_USE)
    except OSError as trouble:
        if trouble.errno is None or trouble.filename:
            raise
        fail(f"port {port}: {trouble.strerror}; choose another with --port", EXIT_USE)
