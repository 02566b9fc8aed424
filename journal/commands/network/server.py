"""The one way this program listens: how many may be connected, how long they may take, over http or https."""

from __future__ import annotations

import asyncio
import contextlib
import os
import socket
import ssl
import threading
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from hypercorn.asyncio import serve
from hypercorn.config import Config, Sockets
from hypercorn.protocol.h11 import H11Protocol

from journal.base.problems import SiteError

MOST_OPEN = 400
"""Connections held at once: Python on Windows waits on 512 at most."""
MOST_COMING = 256
"""And so many more that come in at once."""
MOST_FILES = MOST_OPEN + MOST_COMING + 150
HEADERS_SECONDS = 10
"""How long a connection may say nothing, and how long the head of a request may take."""
READ_SECONDS = 60
"""How long nothing may come in. An answer that takes longer to make is never seen, so this is no shorter."""
LONGEST_HEAD = 16 * 1024
HERE = ("localhost", "127.0.0.1")
SAID = {
    # Not no-referrer: with that a form tells no origin either, and we could not know it for our own.
    "Referrer-Policy": "same-origin",
    "X-Content-Type-Options": "nosniff",
    "Cache-Control": "no-store",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
}
"""Headers of every answer."""


class _Door(socket.socket):
    """A listening socket that holds so many connections. One more, and the oldest of the address that has most of them
    goes: whoever holds a thousand open shuts out himself, and a phone that comes anew is answered.
    """

    def __init__(self) -> None:
        super().__init__(socket.AF_INET, socket.SOCK_STREAM)
        self._held: list[tuple[str, socket.socket]] = []

    def accept(self) -> tuple[socket.socket, Any]:
        connection, address = super().accept()
        self._held = [(who, held) for who, held in self._held if held.fileno() != -1]
        if len(self._held) >= MOST_OPEN:
            ((fullest, _),) = Counter(who for who, _ in self._held).most_common(1)
            self.let_go(next(held for who, held in self._held if who == fullest))
        self._held.append((address[0], connection))
        return connection, address

    def let_go(self, *connections: socket.socket) -> None:
        """End these connections, or all: who serves one hears of it, and closes it."""
        for held in connections or [held for _, held in self._held]:
            with contextlib.suppress(OSError):
                held.shutdown(socket.SHUT_RDWR)
        self._held = [one for one in self._held if connections and one[1] not in connections]


class _Settings(Config):
    """How the server behaves."""

    alpn_protocols = ["http/1.1"]  # noqa: RUF012
    backlog = MOST_COMING
    h11_max_incomplete_size = LONGEST_HEAD
    keep_alive_timeout = HEADERS_SECONDS
    ssl_handshake_timeout = HEADERS_SECONDS
    read_timeout = READ_SECONDS
    graceful_timeout = 1
    include_server_header = False
    loglevel = "ERROR"  # addresses asked for are written nowhere

    def __init__(self, door: _Door, certificate: Path | None, key: Path | None) -> None:
        self._door = door
        self.certfile = str(certificate) if certificate else None
        self.keyfile = str(key) if key else None
        try:
            self._secured = super().create_ssl_context()
        except (OSError, ValueError) as trouble:
            raise _unusable(f"{certificate} and {key}", trouble) from None

    def response_headers(self, protocol: str) -> list[tuple[bytes, bytes]]:
        said = [(name.lower().encode(), value.encode()) for name, value in SAID.items()]
        return [*super().response_headers(protocol), *said]

    def create_ssl_context(self) -> ssl.SSLContext | None:
        return self._secured

    def create_sockets(self) -> Sockets:
        mine = [self._door]
        return Sockets(mine, [], []) if self._secured else Sockets([], mine, [])  # type: ignore[arg-type]


def _unusable(what: str, trouble: Exception) -> SiteError:
    return SiteError(f"{what} cannot be used for https: {getattr(trouble, 'strerror', '') or trouble}")


async def _stay(protocol: H11Protocol, request: object) -> None:
    """Hypercorn goes over to HTTP/2 for whoever asks in clear text, whatever its settings say; we never do."""


H11Protocol._check_protocol = _stay  # type: ignore[method-assign, assignment]


@contextlib.contextmanager
def serving_app(
    app: Any, *, port: int, share: bool, certificate: Path | None = None, key: Path | None = None
) -> Iterator[int]:
    """Serve an ASGI application while the block runs, and give the port; `port` 0 takes a free one.

    This machine alone reaches it, unless `share`; over https where there are a certificate and its key. Raises OSError
    where the port is taken, SiteError where the certificate cannot be used.
    """
    if bool(certificate) != bool(key):
        raise SiteError("https needs a certificate and its key: give both --certificate and --key")
    _allow_files()
    with _Door() as door:
        if os.name == "posix":  # Windows would take it for leave to share the port with whoever has it
            door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        door.bind(("0.0.0.0" if share else "127.0.0.1", port))
        door.listen(MOST_COMING)  # from now on who comes waits for an answer
        door.setblocking(False)
        port = door.getsockname()[1]
        settings = _Settings(door, certificate, key)
        loop, ended = asyncio.SelectorEventLoop(), asyncio.Event()
        # Connections that break are no news; what breaks in our own code the server tells by itself.
        loop.set_exception_handler(lambda _loop, _trouble: None)

        def run() -> None:
            with asyncio.Runner(loop_factory=lambda: loop) as runner, contextlib.suppress(asyncio.CancelledError):
                runner.run(serve(app, settings, shutdown_trigger=ended.wait))

        thread = threading.Thread(target=run, daemon=True)
        thread.start()
        try:
            yield port
        finally:
            with contextlib.suppress(RuntimeError):  # it has ended by itself
                loop.call_soon_threadsafe(ended.set)
            thread.join(1)
            door.let_go()  # Python from 3.12 on waits for an upload that has stopped
            thread.join(4)


def _allow_files() -> None:
    """Raise this program's limit of open files as far as is needed, where the system has one and allows that."""
    with contextlib.suppress(ImportError, OSError, ValueError):
        import resource

        limit, highest = resource.getrlimit(resource.RLIMIT_NOFILE)
        if limit not in {resource.RLIM_INFINITY, highest} and limit < MOST_FILES:
            resource.setrlimit(resource.RLIMIT_NOFILE, (MOST_FILES, highest))


def names_here(certificate: Path | None = None) -> tuple[str, ...]:
    """What this machine goes by on its network: names and addresses of the certificate, else its own addresses.

    Nothing is sent. Raises SiteError where the certificate cannot be read.
    """
    found: list[str] = []
    if certificate is None:
        for far in ("192.0.2.1", "224.0.0.251"):  # RFC 5737: for documentation; RFC 6762: all on this network
            with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
                probe.connect((far, 9))
                found.append(str(probe.getsockname()[0]))
        return tuple(dict.fromkeys(one for one in found if not one.startswith(("127.", "0."))))
    from cryptography import x509

    try:
        read = x509.load_pem_x509_certificate(certificate.read_bytes())
        names = read.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (OSError, ValueError, x509.ExtensionNotFound) as trouble:
        raise _unusable(str(certificate), trouble) from None
    found = [*names.get_values_for_type(x509.DNSName), *map(str, names.get_values_for_type(x509.IPAddress))]
    return tuple(name.lower() for name in found if "*" not in name and ":" not in name)


def addresses_here(port: int, certificate: Path | None = None) -> tuple[str, ...]:
    """`http://192.168.1.20:8765`: where other devices on this network find this machine."""
    kind = "https" if certificate else "http"
    return tuple(f"{kind}://{name}:{port}" for name in names_here(certificate) if name not in HERE)
