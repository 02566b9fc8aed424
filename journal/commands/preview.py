"""A preview while writing: save a file, and the browser shows the page again.

Nothing is built. A page is made when it is asked for, from the journal as it stands on disk; so a
save costs one reading of the content and one page, however large the journal has grown.
"""

from __future__ import annotations

import asyncio
import base64
import contextlib
import hashlib
import mimetypes
import os
import re
import threading
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

import click
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route

from journal.base.addresses import is_of
from journal.base.model import UNEDITED
from journal.base.problems import SiteError, render_problem
from journal.base.prose import find_images
from journal.base.text_files import yaml_key, yaml_text
from journal.base.words import speak
from journal.commands.moving.pictures import said_pairs
from journal.commands.network.guard import guarded, page_file
from journal.commands.network.invitation import print_invitation, wait_inviting
from journal.commands.network.letting_in import Doorkeeper
from journal.commands.network.options import listening_options, telling_why
from journal.commands.network.server import addresses_here, names_here, serving_app
from journal.commands.telling import folder_days, tell_problems
from journal.commands.terminal import build_option, today
from journal.commands.today import TODAY, tell_today, today_page
from journal.ledger.journal import Journal, open_journal, remembered_in
from journal.making.host import load_settings, set_up_environment, site_options, use_own_theme
from journal.making.lay_site import SETTINGS, LaidSite, lay_site
from journal.reading.picture_edits import edit_pairs
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
RELOAD = "/preview-reload.js"
PICTURE, PICTURE_TOOL = "/preview-picture", ("/preview-pictures.css", "/preview-pictures.js")
"""Where the page asks what is said of a picture, and the style and script with which a rectangle is drawn on it."""
WAIT_SECONDS = 20.0
POLICY = (
    "default-src 'none'; script-src {scripts}; style-src 'self' 'unsafe-inline'; img-src 'self' data:; "
    "media-src 'self'; font-src 'self'; connect-src 'self'; frame-src https:; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
"""What a page of the site may load: its own files, of scripts in the page those that our templates put there, and a
film in a frame of its host once the reader presses.
"""


@dataclass(slots=True)
class _Shown:
    """Everything made from one state of the content: a laid site, and of its pages and files those asked for so far."""

    version: int
    journal: Journal
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

    def __init__(self, root: Path, *, shared: bool = False) -> None:
        self.root = root
        self.shared = shared
        self.version = 1
        self._waiting: set[Callable[[], None]] = set()
        self._ended = False
        self._making = threading.Lock()
        self._shown: _Shown | None = None
        self._remembered = remembered_in(root)

    def touch(self) -> None:
        """Something under the build folder was saved."""
        self.version += 1
        self._wake()

    def end(self) -> None:
        """Whoever waits is answered, as there will be nothing newer."""
        self._ended = True
        self._wake()

    def _wake(self) -> None:
        for wake in tuple(self._waiting):
            wake()

    async def wait(self, seen: int, seconds: float) -> int:
        """The version, once it differs from `seen`, or after so many seconds."""
        woken, loop = asyncio.Event(), asyncio.get_running_loop()

        def wake() -> None:
            loop.call_soon_threadsafe(woken.set)

        self._waiting.add(wake)
        try:
            if self.version == seen and not self._ended:
                await asyncio.wait_for(woken.wait(), seconds)
        except TimeoutError:
            pass
        finally:
            self._waiting.discard(wake)
        return self.version

    def answer(self, path: str) -> Response:
        """The answer to a request for `path` (unquoted, without the query)."""
        try:
            with self._making:
                return self._find(self._current(), path.removeprefix("/"))
        except (SiteError, OSError) as trouble:  # files that go while they are read come back, or the next save tells
            return self._plain("The preview cannot start", [str(trouble)], 500)

    def laid(self) -> LaidSite:
        """The site as the content stands."""
        with self._making:
            return self._current().laid

    def picture(self, shown: str, page: str) -> dict[str, Any]:
        """What is said of the picture at the address `shown` on a page, for the line that says more; {} for none. In a
        preview that others see it is its file and how it is shown, and nothing else.
        """
        with self._making:
            current = self._current()
        laid, build = current.laid, current.journal.build
        name, found = shown.rpartition("/")[2], []
        for one in (*build.entries, *build.drafts, *build.write_ups):
            for photo in one.photos:
                made = laid.pictures.get(photo.src_uri)
                if made and any(rendition.name == name for rendition in made.renditions):
                    found.append((f"/{one.id}/" not in page, one, photo))
        if not found:
            return {}
        _, one, photo = min(found, key=lambda owned: owned[0])
        placed = [image.caption for image in find_images(one.body) if image.target == photo.name]
        caption = "" if photo.caption in placed else yaml_text(photo.caption) if photo.caption else ""
        pairs = said_pairs(replace(photo, edits=UNEDITED), private=photo.private)
        said = {"caption": caption, **pairs, "cover": "true" if photo.cover else ""}
        return {
            "file": one.src_uri,
            "name": yaml_key(photo.name),
            "whole": not self.shared,
            "caption": "" if self.shared else caption,
            "said": [] if self.shared else [f"{key}: {value}" for key, value in said.items() if value],
            "edits": edit_pairs(photo.edits),
        }

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
            journal=journal,
            laid=lay_site(journal, site_options(config, Audience.PREVIEW)),
            config=config,
            environment=set_up_environment(config.theme.get_env(), self.root),
            folders=tuple(folder for folder in folders if "material/templates" not in folder.as_posix()),
        )
        return self._shown

    def _find(self, shown: _Shown, address: str) -> Response:
        laid = shown.laid
        speak(laid.frame.language)  # each answer has a thread, and so a context, of its own
        if address == TODAY:
            return self._page(shown, today_page(*tell_today(shown.journal), private=not self.shared))
        if address in laid.linked:
            return _read(laid.linked[address])
        if served := self._static(shown, address):
            return _read(served)
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
                return _file(file, shown.files[file])
        if not address.endswith("/") and address + "/" in shown.whole:
            return Response(status_code=301, headers={"Location": f"/{quote(address)}/"})
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
            with contextlib.suppress(OSError, ValueError, RuntimeError):  # no name that a file can have
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
        style, script = PICTURE_TOOL
        tool = f'<link rel="stylesheet" href="{style}"><script src="{script}" defer></script></head>'
        return self._alive(html.replace("</head>", tool, 1), shown.version)

    def _alive(self, html: str, version: int, status: int = 200) -> Response:
        script = f'<script src="{RELOAD}" data-seen="{version}"></script>\n'
        head, mark, tail = html.rpartition("</body>")
        html = head + script + mark + tail if mark else html + script
        return _file("index.html", html.encode("utf-8", "replace"), status)

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


def _read(path: Path) -> Response:
    with contextlib.suppress(OSError):
        return _file(path.name, path.read_bytes())
    return Response("gone", 404)


def _file(name: str, data: bytes, status: int = 200) -> Response:
    kind = mimetypes.guess_type(name)[0] or "application/octet-stream"
    headers = {"Content-Security-Policy": _policy(data)} if kind == "text/html" else {}
    return Response(data, status, headers, kind)


def _routes(live: LivePages) -> list[BaseRoute]:
    """What the preview answers. A route beside the pages of the site stands before the last one."""

    async def wait(request: Request) -> Response:
        seen = request.query_params.get("seen", "")
        version = await live.wait(int(seen) if re.fullmatch("[0-9]{1,9}", seen) else 0, WAIT_SECONDS)
        return JSONResponse({"version": version})

    def page(request: Request) -> Response:
        return live.answer(request.scope["path"])

    def picture(request: Request) -> Response:
        shown, page = (request.query_params.get(key, "") for key in ("shown", "page"))
        with contextlib.suppress(SiteError, OSError):  # the page itself says what is wrong, or the next save does
            return JSONResponse(live.picture(shown, page))
        return JSONResponse({})

    def own(address: str, name: str) -> Route:
        return Route(address, lambda request: _file(name, page_file(name).encode()))

    return [
        Route(WAIT, wait),
        Route(PICTURE, picture),
        own(RELOAD, "reload.js"),
        *(own(address, address.removeprefix("/preview-")) for address in PICTURE_TOOL),
        Route("/{path:path}", page),
    ]


def _policy(page: bytes = b"") -> str:
    """The policy for a page, which names its scripts by their digests (W3C Content Security Policy Level 3)."""
    scripts = re.findall(rb"<script>(.*?)</script>", page, re.DOTALL)
    digests = {base64.b64encode(hashlib.sha256(script).digest()).decode() for script in scripts}
    return POLICY.format(scripts=" ".join(["'self'", *(f"'sha256-{digest}'" for digest in sorted(digests))]))


@contextlib.contextmanager
def serving(
    root: Path,
    *,
    port: int = 0,
    share: bool = False,
    doorkeeper: Doorkeeper | None = None,
    certificate: Path | None = None,
    key: Path | None = None,
) -> Iterator[tuple[LivePages, int]]:
    """A preview of `root` while the block runs: (live, port). `port` 0 takes any free one.

    Reachable from this machine only, unless `share`: then by devices that the doorkeeper let in. Raises OSError where
    the port is taken, SiteError where the certificate cannot be used.
    """
    live = LivePages(root, shared=share)
    app = guarded(
        _routes(live),
        hosts=frozenset(names_here(certificate) if share or certificate else ()),
        doorkeeper=(doorkeeper or Doorkeeper(root, kind="preview")) if share else None,
        https=certificate is not None,
        title="Preview",
        policy=_policy(),
        trust_here=True,
    )
    with (
        serving_app(app, port=port, share=share, certificate=certificate, key=key) as port,
        _watching(root, live.touch),
    ):
        try:
            yield live, port
        finally:
            live.end()


@contextlib.contextmanager
def _watching(root: Path, touch: Callable[[], None]) -> Iterator[None]:
    """Call `touch` after each save under content/ or of mkdocs.yml."""
    from watchdog.events import FileSystemEventHandler
    from watchdog.observers import Observer
    from watchdog.observers.polling import PollingObserver

    content = root / "content"
    # Folders that come while it looks through those above them it finds twice, and warns of that.
    warnings.filterwarnings("ignore", category=RuntimeWarning, module=r"watchdog\.")

    class Saved(FileSystemEventHandler):
        def on_any_event(self, event: FileSystemEvent) -> None:
            # Reading opens and closes files as well; only what changes them counts.
            if event.event_type not in {"created", "modified", "deleted", "moved"}:
                return
            paths = [Path(os.fsdecode(name)) for name in (event.src_path, event.dest_path) if name]
            if event.is_directory:
                # Taken away and put back it is another folder, of which the system tells nothing until asked anew.
                if content in paths and event.event_type != "modified":
                    watch_content()
                    touch()
            elif any(path == root / SETTINGS or path.is_relative_to(content) for path in paths):
                touch()

    saved = Saved()
    watches: list[Any] = []

    def watch_content() -> None:
        while watches:
            observer.unschedule(watches.pop())
        with contextlib.suppress(OSError):
            watches.append(observer.schedule(saved, os.fspath(content), recursive=True))

    def watched(made: Any) -> Any:
        watches[:] = [made.schedule(saved, os.fspath(content), recursive=True)]
        made.schedule(saved, os.fspath(root), recursive=False)
        made.start()
        return made

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


@click.command()
@build_option
@listening_options(8765)
@click.option("--share", is_flag=True, help="Let devices on this network see it that you let in, drafts too.")
def preview(root: Path, port: int, share: bool, certificate: Path | None, key: Path | None) -> None:
    """Show the site while you write: save a file, and the browser shows it again.

    Drafts are shown, marked as such. Mistakes stand on the page they concern, with line and mend. Only
    this machine can see it unless you share it: then a device shows the secret that stands in the terminal,
    and is let in until the preview ends.

    \b
    Example:
      journal preview
      journal preview --share      # look at it on the phone
    """
    doorkeeper = Doorkeeper(root, kind="preview", tell=click.echo) if share else None
    with telling_why(port):
        if doorkeeper:
            doorkeeper.forget()
        addresses = addresses_here(port, certificate) if share else ()
        https = {"certificate": certificate, "key": key}
        with serving(root, port=port, share=share, doorkeeper=doorkeeper, **https) as (live, port):
            laid = live.laid()
            tell_problems(laid.problems, folder_days(laid.view), late=laid.late)
            here = f"{'https' if certificate else 'http'}://127.0.0.1:{port}/"
            click.echo(f"The preview is at {here}   (Ctrl-C ends it)")
            click.echo(f"What is going on, and what to do next: {here}{TODAY}")
            if laid.problems:
                click.echo("What is wrong in an entry stands on its page.")
            if doorkeeper:
                print_invitation(addresses, doorkeeper.new_secret())
                click.echo("Whoever is let in reads along, drafts too, until the preview ends. Enter lets in another.")
            wait_inviting(doorkeeper, addresses)
