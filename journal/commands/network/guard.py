"""What every request must be, and what every answer says, before a page is asked for anything."""

from __future__ import annotations

import asyncio
import contextlib
import math
import re
import time
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from importlib import resources
from string import Template
from urllib.parse import parse_qs

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from journal.base.formatting import say_count
from journal.commands.network.letting_in import Doorkeeper
from journal.commands.network.server import HERE, LONGEST_HEAD

STRICT = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; media-src 'self' blob:; "
    "font-src 'self'; connect-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
"""W3C Content Security Policy Level 3: scripts and styles in files of our own, and nothing from anywhere else."""
METHODS = frozenset({"GET", "HEAD", "POST"})
LET_IN = "/let-in"
COOKIE_SECONDS = 400 * 24 * 3600
"""The longest that browsers keep one (RFC 6265bis)."""
CHUNK_SECONDS = 20
SLOWEST_BYTES_A_SECOND = 8 * 1024
"""An upload that is slower than this, after its first twenty seconds, is given up."""


def page_file(name: str) -> str:
    """A page, style or script of ours that is no part of a site."""
    return resources.files("journal").joinpath("data", "network", name).read_text("utf-8")


async def bounded_body(request: Request, limit: int) -> bytes:
    """What was sent with a request, of so many bytes at most. Raises HTTPException: 413 where it is more, 408 where it
    comes too slowly, 400 where the sender went away.
    """
    told = request.headers.get("content-length", "")
    if told.isdecimal() and int(told) > limit:
        raise HTTPException(413, f"More than {limit:,} bytes.")
    begun, taken = time.monotonic(), bytearray()
    stream = aiter(request.stream())
    while True:
        try:
            taken += await asyncio.wait_for(anext(stream), CHUNK_SECONDS)
        except StopAsyncIteration:
            return bytes(taken)
        except TimeoutError:
            raise HTTPException(408, "Nothing came any more.") from None
        except ClientDisconnect:
            raise HTTPException(400, "The sender went away.") from None
        if len(taken) > limit:
            raise HTTPException(413, f"More than {limit:,} bytes.")
        if time.monotonic() - begun > CHUNK_SECONDS + len(taken) / SLOWEST_BYTES_A_SECOND:
            raise HTTPException(408, "Too slow.")


def guarded(
    routes: Sequence[BaseRoute],
    *,
    hosts: frozenset[str],
    doorkeeper: Doorkeeper | None,
    https: bool,
    title: str,
    policy: str = STRICT,
    trust_here: bool = False,
) -> ASGIApp:
    """These routes, for nobody but those who may.

    `hosts` are the names printed for this machine (`names_here`; those of the machine to itself are added): a request
    must name one of them and the port that is served. GET, HEAD and POST are answered, POST for pages of our own alone.
    With a doorkeeper every request needs the cookie of a device that was let in, which handlers find as
    `request.state.device`; `trust_here` spares this machine that. `title` says on the page that lets in what is behind
    it. An answer that brings a Content-Security-Policy of its own keeps it, all others have `policy`.
    """
    own = _letting_in(doorkeeper, https, title) if doorkeeper else []
    app = Starlette(routes=[*own, *routes])
    app.router.redirect_slashes = False  # it would name the host that the request named
    return _Guard(app, hosts | frozenset(HERE), doorkeeper, https, policy, trust_here)


@dataclass(frozen=True, slots=True)
class _Guard:
    app: ASGIApp
    hosts: frozenset[str]
    doorkeeper: Doorkeeper | None
    https: bool
    policy: str
    trust_here: bool

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close"})
            return

        async def say(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).setdefault("Content-Security-Policy", self.policy)
            await send(message)

        answer = self._refused(Request(scope)) or self.app
        with contextlib.suppress(ClientDisconnect):
            await answer(scope, receive, say)

    def _refused(self, request: Request) -> Response | None:
        """What is answered in the place of a page, if anything."""
        port, scheme = _port(request), "https" if self.https else "http"
        # Another site's page must not reach us through a name that it points here.
        host = request.headers.get("host", "").lower()
        usual = port == (443 if self.https else 80)
        addresses = {name if usual else f"{name}:{port}" for name in self.hosts}
        if request.scope["http_version"] not in {"1.0", "1.1"} or host not in addresses:
            return PlainTextResponse("Use the address that the program printed.", 403)
        if sum(len(name) + len(value) for name, value in request.headers.raw) > LONGEST_HEAD:
            return PlainTextResponse("Too much in the head of the request.", 431)
        if request.method not in METHODS:
            return PlainTextResponse("Not here.", 405, {"Allow": ", ".join(sorted(METHODS))})
        path = request.scope["path"]
        if not path.startswith("/") or re.search(r"[\x00-\x1f\x7f\\]|/\.{1,2}(/|$)", path):
            return PlainTextResponse("Nothing is at this address.", 404)
        # What browsers say of the page that asks: W3C Fetch Metadata. Over http to another machine they say nothing.
        site, mode = (request.headers.get(f"sec-fetch-{what}", "") for what in ("site", "mode"))
        asking = request.method != "POST"
        if site in {"cross-site", "same-site"} and not (asking and mode == "navigate"):
            return PlainTextResponse("Asked by another page.", 403)
        if not asking and request.headers.get("origin") != f"{scheme}://{host}":
            return PlainTextResponse("Sent by another page.", 403)
        if self.doorkeeper is None or path == LET_IN or path.startswith(f"{LET_IN}/"):
            return None
        device = self.doorkeeper.device(request.cookies.get(cookie_name(port, self.https), ""))
        if device is None and not (self.trust_here and _from_here(request, host)):
            if request.method == "GET" and "text/html" in request.headers.get("accept", ""):
                return RedirectResponse(LET_IN, 303)
            return PlainTextResponse("This device was not let in.", 401)
        request.state.device = device
        return None


def _port(request: Request) -> int:
    return int((request.scope.get("server") or ("", 0))[1])


def _from_here(request: Request, host: str) -> bool:
    """Whether this machine asks, by the name that it has for itself alone."""
    return request.client is not None and request.client.host == "127.0.0.1" and host.rpartition(":")[0] in HERE


def cookie_name(port: int, https: bool) -> str:
    """Browsers part cookies by host alone; RFC 6265bis: `__Host-` may not be set by anything beside this host."""
    return f"{'__Host-' if https else ''}journal-{port}"


def _letting_in(doorkeeper: Doorkeeper, https: bool, title: str) -> list[BaseRoute]:
    """The page on which a device is let in, with its style and script."""
    told = Template(page_file("let-in.html"))
    unencrypted = "" if https else "This network carries everything unencrypted, the secret too."

    def page(trouble: str = "", status: int = 200, wait: float = 0) -> Response:
        body = told.substitute(title=escape(title), trouble=escape(trouble), unencrypted=unencrypted)
        headers = {"Retry-After": str(math.ceil(wait))} if wait else {}
        return Response(body, status, headers, "text/html; charset=utf-8")

    def ask(request: Request) -> Response:
        return page()

    async def answer(request: Request) -> Response:
        try:
            fields = parse_qs((await bounded_body(request, 4096)).decode("utf-8", "replace"), max_num_fields=4)
        except ValueError:
            return page("What was sent cannot be read.", 400)
        secret, name = (fields.get(field, [""])[0] for field in ("secret", "name"))
        address = request.client.host if request.client else ""
        if wait := doorkeeper.seconds_to_wait(address):
            return page(f"Wait {say_count(math.ceil(wait), 'second')}, then try again.", 429, wait)
        try:
            token = await run_in_threadpool(doorkeeper.let_in, secret, name, address)
        except OSError as trouble:
            return page(f"This could not be written down: {trouble.strerror or trouble}.", 500)
        if token is None:
            return page("This is not the secret, or it was used already, or it is older than ten minutes.", 403)
        answer = RedirectResponse("/", 303)
        answer.set_cookie(
            cookie_name(_port(request), https),
            token,
            max_age=COOKIE_SECONDS,
            path="/",
            secure=https,
            httponly=True,
            samesite="strict",
        )
        return answer

    style, script = page_file("let-in.css"), page_file("let-in.js")
    return [
        Route(LET_IN, ask, methods=["GET"]),
        Route(LET_IN, answer, methods=["POST"]),
        Route(f"{LET_IN}/page.css", lambda request: Response(style, media_type="text/css")),
        Route(f"{LET_IN}/page.js", lambda request: Response(script, media_type="text/javascript")),
    ]
