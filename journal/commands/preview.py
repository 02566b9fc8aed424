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
from dataclasses import dataclass, replace
from functools import partial
from html import escape
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qs, unquote, urlsplit

import click

from journal.base.addresses import FIND
from journal.base.formatting import say_count
from journal.base.problems import Grade, Problem, render_problem, sort_problems
from journal.commands.terminal import EXIT_USE, build_option, fail, today
from journal.ledger.journal import CACHE, open_journal
from journal.making.film_panels import add_clips
from journal.making.incremental import KeptProse
from journal.making.lay_site import (
    CONTRIBUTORS,
    SETTINGS,
    SiteError,
    draw_environment,
    load_settings,
    merge_extras,
    render_pictures,
    site_problems,
    use_own_theme,
)
from journal.reading.build import Remembered
from journal.site.files import desk_files
from journal.site.frame import Frame, page_context, plan_frame
from journal.site.pages import desk_pages, single_pages
from journal.site.site_context import Desk
from journal.site.trade_pages import trade_extras
from journal.view.page_addresses import ENTRIES
from journal.view.page_parts import PageRecord
from journal.view.shown_pictures import PICTURES
from journal.view.view import Audience, open_view

if TYPE_CHECKING:
    import jinja2
    from mkdocs.config.defaults import MkDocsConfig
    from watchdog.events import FileSystemEvent

    from journal.ledger.journal import Journal

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
class Answer:
    """What goes back to the browser; `location` is set for a redirect."""

    status: int
    kind: str
    body: bytes
    location: str = ""


@dataclass(slots=True)
class _Scene:
    """Everything made from one state of the content. `pages` are made one by one, the rest when first needed."""

    version: int
    journal: Journal
    desk: Desk
    frame: Frame
    config: MkDocsConfig
    environment: jinja2.Environment
    problems: tuple[Problem, ...]
    pages: dict[str, Callable[[], PageRecord]]
    pictures: dict[str, Path]
    files: dict[str, bytes] | None = None
    whole: dict[str, PageRecord] | None = None
    folders: tuple[Path, ...] = ()


class Studio:
    """The journal of a build folder as pages on demand. Safe to ask from several threads."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self._version = 1
        self._changed = threading.Condition()
        self._making = threading.Lock()
        self._scene: _Scene | None = None
        self._remembered = Remembered()

    @property
    def version(self) -> int:
        """Counts the saves seen."""
        return self._version

    def touch(self) -> None:
        """Something under the build folder was saved."""
        with self._changed:
            self._version += 1
            self._changed.notify_all()

    def wait(self, seen: int, seconds: float) -> int:
        """The version, once it differs from `seen`, or after so many seconds."""
        with self._changed:
            self._changed.wait_for(lambda: self._version != seen, seconds)
            return self._version

    def answer(self, path: str) -> Answer:
        """The answer to a request for `path` (unquoted, without the query)."""
        address = path.removeprefix("/")
        try:
            with self._making:
                scene = self._current()
                return self._find(scene, address)
        except SiteError as trouble:
            return self._plain("The preview cannot start", [str(trouble)], 500)

    def problems(self) -> tuple[Problem, ...]:
        """What is wrong and missing as the content stands."""
        with self._making:
            return self._current().problems

    def _current(self) -> _Scene:
        version = self._version
        if self._scene is None or self._scene.version != version:
            self._scene = self._set(version)
        return self._scene

    def _set(self, version: int) -> _Scene:
        config = load_settings(self.root)
        use_own_theme(config)
        journal = open_journal(self.root, today(), remembered=self._remembered)
        view = open_view(journal, Audience.PREVIEW)
        pictures, renditions = render_pictures(journal, view, credit=config.site_name)
        kept = KeptProse(self.root / CACHE / "prose-preview.json")
        desk = Desk(view, pictures, site_name=config.site_name, kept_prose=kept)
        # The panels beside a sheet come now; the find page and its index when somebody turns to it.
        desk.extras = merge_extras(add_clips(journal, desk), trade_extras(journal, desk))
        problems = sort_problems((*journal.problems, *site_problems(config.site_url)))
        frame = plan_frame(
            desk,
            site_url=config.site_url or "",
            notice=config.plugins["journal"].config["notice"],
            copyright_words=config.copyright or "",
            description=config.site_description or "",
            language=str(config.theme.get("language") or "en"),
            problems=tuple(render_problem(one) for one in problems if one.grade is Grade.ERROR),
        )
        return _Scene(
            version=version,
            journal=journal,
            desk=desk,
            frame=replace(frame, find=FIND),
            config=config,
            environment=draw_environment(config),
            problems=problems,
            pages={**single_pages(desk), **{page.address: partial(_given, page) for page in desk.extras.pages}},
            pictures={**{PICTURES + one.name: one.path for one in renditions}, **desk.extras.linked},
            folders=tuple(
                Path(folder) for folder in config.theme.dirs if "material/templates" not in Path(folder).as_posix()
            ),
        )

    def _complete(self, scene: _Scene) -> None:
        """Find, feeds, and pages that are parted by year or month: everything, once it is asked for."""
        if scene.whole is not None:
            return
        trade = scene.desk.extras
        for contribute in CONTRIBUTORS:
            if contribute not in (trade_extras, add_clips):
                scene.desk.extras = merge_extras(scene.desk.extras, contribute(scene.journal, scene.desk))
        scene.whole = {page.address: page for page in desk_pages(scene.desk)}
        scene.files = dict(desk_files(scene.desk, site_url=scene.frame.site_url))
        scene.desk.extras = trade

    def _find(self, scene: _Scene, address: str) -> Answer:
        if address in scene.pictures:
            return _file(scene.pictures[address])
        if served := self._static(scene, address):
            return _file(served)
        if make := scene.pages.get(address):
            return self._page(scene, make())
        if address.startswith(f"{ENTRIES}") and (told := self._untold(scene, address)):
            return told
        self._complete(scene)
        if scene.whole is not None and address in scene.whole:
            return self._page(scene, scene.whole[address])
        if scene.files is not None and address in scene.files:
            kind = mimetypes.guess_type(address)[0] or "application/octet-stream"
            return Answer(200, kind, scene.files[address])
        if not address.endswith("/") and (address + "/" in scene.pages or address + "/" in (scene.whole or {})):
            return Answer(301, "text/plain", b"", location=f"/{address}/")
        return self._plain("Nothing is at this address", [f"/{address}"], 404)

    def _static(self, scene: _Scene, address: str) -> Path | None:
        """The file of the theme, or the one that mkdocs.yml names, for an address: nothing else is handed out."""
        if address in {str(path) for path in (*scene.config.extra_css, *scene.config.extra_javascript)}:
            bounds = (self.root / "content", *scene.folders)
        elif address.startswith("assets/"):
            bounds = tuple(folder / "assets" for folder in scene.folders)
            address = address.removeprefix("assets/")
        else:
            return None
        for folder in bounds:
            place = (folder / address).resolve()
            if place.is_relative_to(folder.resolve()) and place.is_file():
                return place
        return None

    def _untold(self, scene: _Scene, address: str) -> Answer | None:
        """An entry that is there but cannot be shown: what is wrong with it, in the place of its page."""
        folder = address.removeprefix(ENTRIES).strip("/")
        file = f"content/entries/{folder}/index.md"
        lines = [render_problem(one) for one in scene.problems if one.file == file]
        return self._plain(f"{folder} cannot be shown yet", lines, 200) if folder and lines else None

    def _page(self, scene: _Scene, page: PageRecord) -> Answer:
        context = {
            **page_context(scene.frame, page, offline=False),
            "config": scene.config,
            "extra_css": [],
            "extra_javascript": [],
            "base_url": "../" * page.address.count("/") or ".",
        }
        root = "../" * page.address.count("/")
        context["extra_css"] = [root + str(path) for path in scene.config.extra_css]
        context["extra_javascript"] = [root + str(path) for path in scene.config.extra_javascript]
        html = scene.environment.get_template(page.template).render(context)
        return self._alive(html, scene.version)

    def _alive(self, html: str, version: int, status: int = 200) -> Answer:
        script = _RELOAD % (version, WAIT)
        head, mark, tail = html.rpartition("</body>")
        html = head + script + mark + tail if mark else html + script
        return Answer(status, "text/html; charset=utf-8", html.encode("utf-8", "replace"))

    def _plain(self, heading: str, lines: list[str], status: int) -> Answer:
        told = "".join(f"<li><code>{escape(line)}</code></li>" for line in lines)
        html = (
            '<!doctype html><html lang="en"><meta charset="utf-8"><title>Preview</title>'
            '<meta name="viewport" content="width=device-width, initial-scale=1">'
            '<link rel="stylesheet" href="/assets/parts.css"><link rel="stylesheet" href="/assets/journal.css">'
            f'<body><main class="trouble"><h1>{escape(heading)}</h1><ul>{told}</ul>'
            '<p>Save the file, and this page shows it.</p><p><a href="/">Home</a></p></main></body></html>'
        )
        return self._alive(html, self._version, status)


def _given(page: PageRecord) -> PageRecord:
    return page


def _file(path: Path) -> Answer:
    try:
        data = path.read_bytes()
    except OSError:
        return Answer(404, "text/plain", b"gone")
    return Answer(200, mimetypes.guess_type(path.name)[0] or "application/octet-stream", data)


class _Handler(BaseHTTPRequestHandler):
    """GET and HEAD, from this machine only unless the preview is shared."""

    protocol_version = "HTTP/1.1"

    def __init__(self, studio: Studio, hosts: frozenset[str] | None, *arguments: Any) -> None:
        self.studio = studio
        self.hosts = hosts
        super().__init__(*arguments)

    def do_GET(self) -> None:
        """Answer a request."""
        host = self.headers.get("Host", "").rsplit(":", 1)[0]
        if self.hosts is not None and host not in self.hosts:
            # Another site's page must not read drafts through a name that it points here.
            self._send(Answer(403, "text/plain", b"Use the address that the preview printed."))
            return
        parts = urlsplit(self.path)
        if parts.path == WAIT:
            seen = parse_qs(parts.query).get("seen", [""])[0]
            version = self.studio.wait(int(seen) if seen.isdecimal() else 0, WAIT_SECONDS)
            self._send(Answer(200, "application/json", json.dumps({"version": version}).encode()))
            return
        self._send(self.studio.answer(unquote(parts.path)))

    do_HEAD = do_GET  # noqa: N815

    def _send(self, answer: Answer) -> None:
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
def serving(root: Path, *, port: int = 0, share: bool = False) -> Iterator[tuple[Studio, int]]:
    """A preview of `root` while the block runs: (studio, port). `port` 0 takes any free one.

    Reachable from this machine only, unless `share`. Raises OSError where the port is taken.
    """
    studio = Studio(root)
    handler = partial(_Handler, studio, None if share else LOCAL)
    server = ThreadingHTTPServer(("0.0.0.0" if share else "127.0.0.1", port), handler)
    server.daemon_threads = True
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        with _watching(root, studio.touch):
            yield studio, server.server_port
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
            names = [os.fsdecode(event.src_path), os.fsdecode(event.dest_path)]
            if any(_matters(Path(name), root) for name in names if name):
                touch()

    observer: Any = Observer()
    try:
        _schedule(observer, Saved(), root)
    except OSError:
        # The system watches only so many folders; looking at them in turn always works.
        observer = PollingObserver(timeout=1)
        _schedule(observer, Saved(), root)
    try:
        yield
    finally:
        observer.stop()
        observer.join()


def _schedule(observer: Any, handler: Any, root: Path) -> None:
    observer.schedule(handler, os.fspath(root / "content"), recursive=True)
    observer.schedule(handler, os.fspath(root), recursive=False)
    observer.start()


def _matters(path: Path, root: Path) -> bool:
    return path == root / SETTINGS or path.is_relative_to(root / "content")


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
        with serving(root, port=port, share=share) as (studio, port):
            problems = studio.problems()
            click.echo(f"The preview is at http://127.0.0.1:{port}/   (Ctrl-C ends it)")
            if share:
                click.echo(
                    f"On this network: http://{_address_here()}:{port}/   Anyone on it can read along, drafts too."
                )
            if problems:
                click.echo(
                    f"{say_count(len(problems), 'problem')}: they stand on the pages, and `journal check` lists them."
                )
            with contextlib.suppress(KeyboardInterrupt):
                threading.Event().wait()
    except SiteError as trouble:
        fail(str(trouble), EXIT_USE)
    except OSError as trouble:
        if trouble.errno is None or trouble.filename:
            raise
        fail(f"port {port}: {trouble.strerror}; choose another with --port", EXIT_USE)
