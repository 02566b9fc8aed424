"""`journal bench`: one page in the home network, on which a phone at the bench writes into the build."""

from __future__ import annotations

import json
from collections.abc import Awaitable, Callable
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import click

from journal.base.formatting import say_date
from journal.base.safe_write import write_whole
from journal.commands.bench.arrivals import PIECE
from journal.commands.bench.sent import RefusedError, is_key, read_sent
from journal.commands.bench.state import state_of, today_for
from journal.commands.bench.taking import Bench
from journal.commands.intake.asking import open_for_entries
from journal.commands.network.options import listening_options, telling_why
from journal.commands.terminal import EXIT_USE, build_option, fail
from journal.commands.written import AT_DESK, NotTakenBackError
from journal.ledger.journal import CACHE
from journal.ledger.today import say_clocks
from journal.making.host import theme_dir
from journal.reading.plan import read_plan
from journal.reading.text import Notes

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.types import ASGIApp

    from journal.commands.network.letting_in import Doorkeeper

PORT = 8766
"""Always the same: a browser keeps what is not yet sent under the address with its port."""
LONGEST_SENT = 64 * 1024
Told = dict[str, Any]


def bench_app(bench: Bench, doorkeeper: Doorkeeper, hosts: frozenset[str], *, https: bool = False) -> ASGIApp:
    """The page and what it asks for, for devices that were let in."""
    from starlette.concurrency import run_in_threadpool
    from starlette.responses import JSONResponse, Response
    from starlette.routing import BaseRoute, Route

    from journal.commands.network.guard import bounded_body, guarded

    pages: dict[str, str] = {}

    def file(data: bytes, kind: str) -> Callable[[Request], Response]:
        return lambda request: Response(data, media_type=kind)

    def answering(does: Callable[[Request, bytes], Told], limit: int = 0) -> Callable[[Request], Awaitable[Response]]:
        async def answer(request: Request) -> Response:
            body = await bounded_body(request, limit) if request.method == "POST" else b""
            try:
                if request.method == "POST" and request.url.path != "/page" and not this_page(request):
                    return JSONResponse({"message": "This page is open a second time on this phone."}, 409)
                return JSONResponse(await run_in_threadpool(does, request, body))
            except RefusedError as refused:
                return JSONResponse({"message": str(refused), "asks": refused.asks}, 422)
            except NotTakenBackError as refused:
                return JSONResponse({"message": f"Not taken back: {refused}", "asks": ""}, 422)
            except OSError as trouble:
                where = f" ({trouble.filename})" if trouble.filename else ""
                click.echo(f"Not written: {trouble.strerror or trouble}{where}", err=True)
                return JSONResponse({"message": f"The computer says: {trouble.strerror or trouble}"}, 503)

        return answer

    def this_page(request: Request) -> bool:
        """Whether this is the page that the device opened last; after a new start, whichever sends first."""
        page = request.headers.get("x-page", "")
        return pages.setdefault(request.state.device.id, page) == page

    def open_page(request: Request, body: bytes) -> Told:
        pages[request.state.device.id] = request.headers.get("x-page", "")
        return {}

    def take(request: Request, body: bytes) -> Told:
        now, zone = datetime.now(UTC), zone_of(bench)
        done = bench.take(read_sent(read_json(body), now, zone), request.state.device.name)
        click.echo(f"{request.state.device.name}: {done.said}")
        return {"said": done.said, "told": done.told}

    def take_back(request: Request, body: bytes) -> Told:
        told = read_json(body)
        if not isinstance(told, dict) or not is_key(told.get("key")):
            raise RefusedError("This was not sent by the page.")
        written = bench.written.find(told["key"])
        if written is None or written.by in AT_DESK:
            raise RefusedError("A phone takes back what phones wrote; the rest is taken back at the desk.")
        done = bench.written.take_back(written.key)
        click.echo(f"{request.state.device.name}: {done}")
        return {"said": done}

    def arrived(request: Request, body: bytes) -> Told:
        key, offset = request.path_params["key"], request.query_params.get("offset", "")
        bench.arrivals.path(key)
        if request.method == "POST" and offset.isdecimal() and len(offset) < 15:
            return {"size": bench.arrivals.add(key, int(offset), body)}
        return {"size": bench.arrivals.size(key)}

    def today(request: Request, body: bytes) -> Told:
        return {"parts": today_for(bench, private=request.query_params.get("private") == "yes")}

    def state(request: Request, body: bytes) -> Told:
        return state_of(bench, datetime.now(UTC).astimezone(zone_of(bench)).replace(tzinfo=None))

    assets = theme_dir() / "assets"
    routes: list[BaseRoute] = [
        Route("/", file(_own("bench.html"), "text/html")),
        Route("/bench.css", file(_own("bench.css"), "text/css")),
        Route("/bench.js", file(_own("bench.js"), "text/javascript")),
        Route("/label.woff2", file((assets / "fonts/barlow-condensed-600.woff2").read_bytes(), "font/woff2")),
        Route("/mark.svg", file((assets / "mark.svg").read_bytes(), "image/svg+xml")),
        Route("/state", answering(state)),
        Route("/today", answering(today)),
        Route("/page", answering(open_page, LONGEST_SENT), methods=["POST"]),
        Route("/sent", answering(take, LONGEST_SENT), methods=["POST"]),
        Route("/take-back", answering(take_back, LONGEST_SENT), methods=["POST"]),
        Route("/arriving/{key}", answering(arrived, PIECE), methods=["GET", "POST"]),
    ]
    return guarded(routes, hosts=hosts, doorkeeper=doorkeeper, https=https, title="At the bench")


def _own(name: str) -> bytes:
    return resources.files("journal").joinpath("data", "bench", name).read_bytes()


def zone_of(bench: Bench) -> ZoneInfo | None:
    """The zone of the build; None is that of this machine. Asked for each thing sent, so build.yml alone is read."""
    file = "content/build.yml"
    zone = read_plan(bench.root / file, Notes(file), Notes)[0].zone
    return ZoneInfo(zone) if zone else None


def read_json(body: bytes) -> Any:
    """What was sent. Raises RefusedError."""
    try:
        return json.loads(body)
    except (ValueError, RecursionError):
        raise RefusedError("This was not sent by the page.") from None


@click.command()
@build_option
@listening_options(PORT)
@click.option("--forget", metavar="NAME", help="Let this phone in no more (`all` for every one), and end.")
def bench(root: Path, port: int, forget: str | None, certificate: Path | None, key: Path | None) -> None:
    """Let your phone write at the bench: clock, steps, notes, figures and pictures become lines of draft entries.

    Shows a code for the phone's camera. A phone that was let in stays let in until you forget it.

    \b
    Example:
      journal bench
      journal bench --forget "Ada's phone"
    """
    from journal.commands.network.letting_in import Doorkeeper

    doorkeeper = Doorkeeper(root, tell=click.echo)
    if forget is not None:
        gone = doorkeeper.forget(None if forget == "all" else forget)
        names = ", ".join(device.name for device in doorkeeper.devices()) or "none"
        if not gone:
            fail(f'no phone called "{forget}" was let in; those let in: {names}', EXIT_USE)
        click.echo(f"Let in no more: {', '.join(device.name for device in gone)}.")
        return
    open_for_entries(root)
    with telling_why(port):
        _serve(Bench(root), doorkeeper, port, certificate, key)


def _serve(bench: Bench, doorkeeper: Doorkeeper, port: int, certificate: Path | None, key: Path | None) -> None:
    from journal.commands.network.invitation import print_invitation, wait_inviting
    from journal.commands.network.server import addresses_here, names_here, serving_app

    bench.arrivals.tidy()
    with bench.written.lock():
        pass  # what was stopped in the middle the last time is finished
    app = bench_app(bench, doorkeeper, frozenset(names_here(certificate)), https=certificate is not None)
    with serving_app(app, port=port, share=True, certificate=certificate, key=key) as port:
        addresses = addresses_here(port, certificate)
        click.echo(f"The bench is at {', '.join(f'{one}/' for one in addresses) or 'no network'}   (Ctrl-C ends it)")
        _tell_moved(bench.root / CACHE / "bench" / "address", addresses)
        for line in say_clocks(bench.journal()):
            click.echo(line.text)
        devices = doorkeeper.devices()
        for device in devices:
            click.echo(f"Let in: {device.name}, on {say_date(device.let_in_on)}.")
        if devices:
            click.echo("Press Enter to let another phone in.")
        else:
            print_invitation(addresses, doorkeeper.new_secret())
        wait_inviting(doorkeeper, addresses)


def _tell_moved(file: Path, addresses: tuple[str, ...]) -> None:
    """Say so where phones knew another address: what they have not sent waits under that one."""
    before = file.read_text("utf-8", "replace").split() if file.exists() else []
    if before and addresses and before[0] not in addresses:
        click.echo(
            f"The last time it was at {before[0]}/. Phones that were let in there open the new address, and are let in "
            "anew; what they did not send waits in their page at the old one."
        )
    if addresses:
        write_whole(file, "\n".join(addresses).encode(), cache=True)
