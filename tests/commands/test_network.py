"""What listens on a network lets nobody else in: the attacks we know of, each tried."""

from __future__ import annotations

import asyncio
import contextlib
import datetime
import http.client
import json
import os
import socket
import ssl
import stat
import time
from collections.abc import AsyncIterator, Coroutine, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from types import SimpleNamespace
from typing import Any, Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from playwright.sync_api import Browser
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from journal.base.problems import SiteError
from journal.commands.network import guard, server
from journal.commands.network.guard import bounded_body, cookie_name, guarded
from journal.commands.network.invitation import print_invitation
from journal.commands.network.letting_in import LETTERS, Doorkeeper
from journal.commands.network.server import addresses_here, names_here, serving_app

Answer = tuple[int, http.client.HTTPMessage, str]
LIMIT = 1000


@dataclass
class Bench:
    """Something served, with its clock, what the terminal heard, and what was saved."""

    doorkeeper: Doorkeeper
    told: list[str]
    clock: list[float]
    saved: list[bytes] = field(default_factory=list)
    port: int = 0
    cookie: str = ""

    @property
    def origin(self) -> str:
        """The address as browsers name it."""
        return f"http://127.0.0.1:{self.port}"

    def ask(self, method: str, path: str, body: bytes | str | None = None, **headers: str) -> Answer:
        """(status, headers, body); underscores in names of headers are hyphens."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        connection.request(method, path, body, {name.replace("_", "-"): value for name, value in headers.items()})
        response = connection.getresponse()
        answer = response.status, response.msg, response.read().decode("utf-8", "replace")
        connection.close()
        return answer

    def try_secret(self, secret: str, name: str = "Ada's phone", **headers: str) -> Answer:
        """The form of the page that lets in, sent."""
        return self.ask("POST", "/let-in", f"secret={secret}&name={name}", Origin=self.origin, **headers)

    def send(self, data: bytes) -> bytes:
        """What comes back for these bytes, until the other side has no more or closes."""
        with socket.create_connection(("127.0.0.1", self.port), timeout=30) as connection:
            connection.sendall(data)
            return connection.recv(65536)

    def still_answers(self) -> bool:
        """Whether Ada's phone is served as ever."""
        return self.ask("GET", "/", Cookie=self.cookie)[2] == "Hello, Ada's phone"


def make_app(bench: Bench) -> guard.ASGIApp:
    """A page, and something to save."""

    def home(request: Request) -> PlainTextResponse:
        return PlainTextResponse(f"Hello, {request.state.device.name}")

    async def save(request: Request) -> PlainTextResponse:
        bench.saved.append(await bounded_body(request, LIMIT))
        return PlainTextResponse("saved")

    routes = [Route("/", home), Route("/save", save, methods=["POST"]), Route("/files/{path:path}", home)]
    return guarded(
        routes, hosts=frozenset({"tarn.example"}), doorkeeper=bench.doorkeeper, https=False, title="Bench & <more>"
    )


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    """A bench with Ada's phone let in."""
    clock, told = [1_790_000_000.0], list[str]()
    made = Bench(Doorkeeper(tmp_path, now=lambda: clock[0], tell=told.append), told, clock)
    token = made.doorkeeper.let_in(made.doorkeeper.new_secret(), "Ada's phone")
    with serving_app(make_app(made), port=0, share=False) as made.port:
        made.cookie = f"{cookie_name(made.port, False)}={token}"
        yield made


def test_only_printed_names_are_answered(bench: Bench) -> None:
    """Another name that is pointed here (DNS rebinding) gets nothing, even with the cookie; nor does another port."""
    for host in (f"127.0.0.1:{bench.port}", f"LOCALHOST:{bench.port}", f"tarn.example:{bench.port}"):
        assert bench.ask("GET", "/", Host=host, Cookie=bench.cookie)[0] == 200
    for host in (
        "evil.example",
        f"evil.example:{bench.port}",
        f"127.0.0.1.evil.example:{bench.port}",
        f"tarn.example.:{bench.port}",
        "127.0.0.1",
        "127.0.0.1:80",
        f"tarn.example:{bench.port}@evil.example",
        "",
    ):
        status, _, body = bench.ask("GET", "/", Host=host, Cookie=bench.cookie)
        assert (status, "Hello" in body) == (403, False), host


def test_a_form_of_another_page_saves_nothing(bench: Bench) -> None:
    """Its origin must be our own, whole; where browsers say whence they ask, that is believed as well."""
    assert bench.ask("POST", "/save", "ours", Cookie=bench.cookie, Origin=bench.origin)[2] == "saved"
    for origin in (
        "http://evil.example",
        "null",
        "",
        f"https://127.0.0.1:{bench.port}",
        f"http://localhost:{bench.port}",
        "http://127.0.0.1:1",
        f"{bench.origin}.evil.example",
    ):
        assert bench.ask("POST", "/save", "forged", Cookie=bench.cookie, Origin=origin)[0] == 403, origin
    assert bench.ask("POST", "/save", "forged", Cookie=bench.cookie)[0] == 403
    for site in ("cross-site", "same-site"):
        for method, path in (("POST", "/save"), ("GET", "/")):
            told = {"Cookie": bench.cookie, "Origin": bench.origin, "Sec_Fetch_Site": site, "Sec_Fetch_Mode": "no-cors"}
            assert bench.ask(method, path, None, **told)[0] == 403
    assert bench.saved == [b"ours"]


def test_who_was_not_let_in_gets_nothing(bench: Bench) -> None:
    """A page leads to the page that lets in, anything else is refused; nothing below that page is a way round."""
    status, headers, _ = bench.ask("GET", "/", Accept="text/html,*/*;q=0.8")
    assert (status, headers["Location"]) == (303, "/let-in")
    for cookie in ("", "x=y", f"{cookie_name(bench.port, False)}=guessed", bench.cookie.replace(str(bench.port), "1")):
        assert bench.ask("GET", "/", Cookie=cookie)[::2] == (401, "This device was not let in.")
        assert bench.ask("HEAD", "/", Cookie=cookie)[0] == 401
        assert bench.ask("POST", "/save", "x", Cookie=cookie, Origin=bench.origin)[0] == 401
    for path in ("/let-in/../", "/let-in/%2e%2e/", "/let-in/", "/let-in/other", "/let-in%2f..%2f"):
        assert bench.ask("GET", path)[0] == 404, path
    assert bench.ask("GET", "/let-in.")[0] == 401
    _, headers, page = bench.ask("GET", "/let-in")
    assert "Bench &amp; &lt;more&gt;" in page
    assert headers["Retry-After"] is None
    assert not bench.saved


def test_a_secret_lets_one_device_in(bench: Bench) -> None:
    """Typed in any capitals, with or without hyphens; once; never after ten minutes. The cookie is for us alone."""
    secret = bench.doorkeeper.new_secret()
    assert [len(group) for group in secret.split("-")] == [4, 4, 4]
    assert set(secret) <= {*LETTERS, "-"}
    status, headers, _ = bench.try_secret(secret.lower().replace("-", "+"), "Bo%1b[2Jb's+tablet")
    assert (status, headers["Location"]) == (303, "/")
    cookie = headers["Set-Cookie"]
    for words in ("HttpOnly", "SameSite=strict", "Path=/", f"Max-Age={400 * 86400}"):
        assert words in cookie
    assert "Secure" not in cookie
    assert bench.ask("GET", "/", Cookie=cookie.split(";")[0])[2] == "Hello, Bo[2Jb's tablet"
    assert bench.told[-1] == "Bo[2Jb's tablet was let in."
    assert bench.try_secret(secret)[0] == 403, "a secret that was used and overheard"
    late = bench.doorkeeper.new_secret()
    bench.clock[0] += 601
    assert bench.try_secret(late)[0] == 403
    assert bench.ask("POST", "/let-in", f"secret={late}&name=x", Origin="http://evil.example")[0] == 403
    assert bench.ask("POST", "/let-in", "&".join("a=b" for _ in range(9)), Origin=bench.origin)[0] == 400
    assert bench.ask("POST", "/let-in", "a" * 5000, Origin=bench.origin)[0] == 413
    assert len(bench.doorkeeper.devices()) == 2


def test_wrong_secrets_are_slowed_and_then_end_it(bench: Bench) -> None:
    """Each makes the next wait longer, the right one too; after ten the secret is dead and the terminal says so."""
    secret = bench.doorkeeper.new_secret()
    waits = []
    for number in range(10):
        assert bench.try_secret(f"WRONG{number}")[0] == 403
        waits.append(bench.doorkeeper.seconds_to_wait("127.0.0.1"))
        if number < 9:
            status, headers, page = bench.try_secret(secret)
            assert (status, headers["Retry-After"]) == (429, str(round(waits[-1])))
            assert "was let in" not in page
            assert bench.doorkeeper.let_in(secret, "x", "127.0.0.1") is None
        bench.clock[0] += waits[-1] + 0.01
    assert waits == [1, 2, 4, 8, 16, 32, 60, 60, 60, 0]
    assert "10 wrong secrets in a row" in bench.told[-2]
    assert bench.told[-1] == "A secret that is wrong, used or too old was tried from 127.0.0.1."
    assert bench.try_secret(secret)[0] == 403
    assert bench.try_secret(bench.doorkeeper.new_secret())[0] == 303


def test_all_addresses_together_are_slowed(tmp_path: Path) -> None:
    """Who guesses from many addresses waits as well."""
    doorkeeper = Doorkeeper(tmp_path, now=lambda: 0.0)
    doorkeeper.new_secret()
    assert doorkeeper.let_in("WRONG", "x", "192.0.2.1") is None
    assert doorkeeper.seconds_to_wait("192.0.2.2") == 0.25


@pytest.mark.parametrize(("seconds", "let_in"), [(0, True), (600, True), (600.1, False)])
def test_a_secret_holds_for_ten_minutes(tmp_path: Path, seconds: float, let_in: bool) -> None:
    """A token of 256 bits for it (43 letters of base64), and one name for each device."""
    clock = [1_790_000_000.0]
    doorkeeper = Doorkeeper(tmp_path, now=lambda: clock[0])
    for name in ("", "a phone", "x" * 61, "x" * 60):
        secret = doorkeeper.new_secret()
        clock[0] += seconds
        token = doorkeeper.let_in(secret, name)
        assert (len(token or "") == 43) is let_in
        clock[0] += 3600
    names = ["a phone", "a phone 2", "x" * 60, "x" * 60 + " 2"]
    assert [one.name for one in doorkeeper.devices()] == (names if let_in else [])


class Slow:
    """A request whose pieces come at the seconds given, by a clock of its own."""

    def __init__(self, pieces: list[tuple[float, bytes]], **headers: str) -> None:
        self.headers = {name.replace("_", "-"): value for name, value in headers.items()}
        self.pieces = pieces
        self.now = 100.0

    async def stream(self) -> AsyncIterator[bytes]:
        """What comes, each at its time."""
        for seconds, piece in self.pieces:
            self.now = 100.0 + seconds
            if not piece:
                raise ClientDisconnect
            yield piece


def alone(reading: Coroutine[Any, Any, bytes]) -> bytes:
    """What comes of it, in a thread of its own: in this one the loop of the browser may run."""
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(asyncio.run, reading).result()


@pytest.mark.parametrize(
    ("pieces", "status"),
    [
        ([(0, b"ab"), (1, b"cd")], 0),
        ([(19, b"ab"), (20, b"cd")], 0),
        ([(19, b"ab"), (20.1, b"cd")], 408),
        ([(0, b"x" * 8192), (20.9, b"x")], 0),
        ([(0, b"x" * 8192), (21.1, b"x")], 408),
        ([(0, b"x" * 8193), (1, b"x" * 8191)], 0),
        ([(0, b"x" * 8193), (1, b"x" * 8192)], 413),
        ([(0, b"ab"), (1, b"")], 400),
    ],
)
def test_what_is_sent_comes_fast_enough_and_is_not_too_much(
    monkeypatch: pytest.MonkeyPatch, pieces: list[tuple[float, bytes]], status: int
) -> None:
    """Twenty seconds, and a second more for every 8 KB; what is told of the length is believed where it is more."""
    request: Any = Slow(pieces)
    monkeypatch.setattr(guard, "time", SimpleNamespace(monotonic=lambda: request.now))
    if not status:
        assert alone(bounded_body(request, 16_384)) == b"".join(piece for _, piece in pieces)
    else:
        with pytest.raises(HTTPException) as refused:
            alone(bounded_body(request, 16_384))
        assert refused.value.status_code == status
    for told, taken in (("16384", True), ("16385", False), ("many", True)):
        lengthy: Any = Slow([], content_length=told)
        with contextlib.nullcontext() if taken else pytest.raises(HTTPException):
            assert alone(bounded_body(lengthy, 16_384)) == b""


def test_nothing_lets_in_where_there_is_no_secret(tmp_path: Path) -> None:
    """Neither nothing at all nor what is in no alphabet."""
    doorkeeper = Doorkeeper(tmp_path)
    for secret in ("", "-", "----", "\ud800", "é" * 12):
        assert doorkeeper.let_in(secret, "x") is None
    assert doorkeeper.devices() == ()


def test_a_forgotten_device_is_out_at_once(bench: Bench, tmp_path: Path) -> None:
    """Another program forgets it, and its old cookie opens nothing; the others stay."""
    other = Doorkeeper(tmp_path)
    token = other.let_in(other.new_secret(), "Bob's tablet")
    assert token
    assert other.device(token)
    assert bench.still_answers()
    assert [device.name for device in other.forget("Ada's phone")] == ["Ada's phone"]
    assert bench.ask("GET", "/", Cookie=bench.cookie)[0] == 401
    assert bench.doorkeeper.device(token)
    assert len(other.forget()) == 1
    assert bench.doorkeeper.devices() == ()
    assert Doorkeeper(tmp_path, kind="preview").devices() == ()


def test_what_is_kept_opens_nothing(bench: Bench, tmp_path: Path) -> None:
    """Digests alone, for this user alone; what lets into one command lets into no other."""
    kept = tmp_path / ".journal/bench/devices.json"
    token = bench.cookie.partition("=")[2]
    assert token not in kept.read_text("utf-8")
    if os.name == "posix":
        assert stat.S_IMODE(kept.stat().st_mode) == 0o600
    assert bench.doorkeeper.device(token)
    assert bench.doorkeeper.device(json.loads(kept.read_text("utf-8"))[0]["token_sha256"]) is None
    assert Doorkeeper(tmp_path, kind="preview").device(token) is None


@pytest.mark.parametrize(
    "broken", [b"", b"{}", b"[1]", b"null", b'[{"id": 1}]', b"\xff\xfe", b"[" * 100_000, b'{"a": "b"}', None]
)
def test_a_broken_list_lets_nobody_in(bench: Bench, tmp_path: Path, broken: bytes | None) -> None:
    """And the next device is let in as ever."""
    kept = tmp_path / ".journal/bench/devices.json"
    kept.unlink()
    if broken is not None:
        kept.write_bytes(broken)
    assert bench.ask("GET", "/", Cookie=bench.cookie)[0] == 401
    assert bench.doorkeeper.forget() == ()
    assert bench.try_secret(bench.doorkeeper.new_secret())[0] == 303


def test_no_path_leads_astray(bench: Bench, capfd: pytest.CaptureFixture[str]) -> None:
    """Traversal in every spelling, null bytes, absolute names, addresses of others: refused before a handler hears."""
    for path in (
        "/files/../x",
        "/files/%2e%2e/x",
        "/files/.%2E/x",
        "/files/..%2fx",
        "/files/..",
        "/files/.",
        "/files/%00",
        "/files/a%0d%0ab",
        "/files/a%5c..%5cb",
        "/files/\\x",
        "http://evil.example/",
        "*",
        "//evil.example/..",
    ):
        status, headers, _ = bench.ask("GET", path, Host=f"127.0.0.1:{bench.port}", Cookie=bench.cookie)
        assert (status, headers["Location"]) == (404, None), path
    for path in ("//evil.example", "/%252e%252e/x", "/%ff", "/no/such"):
        status, headers, _ = bench.ask("GET", path, Host=f"127.0.0.1:{bench.port}", Cookie=bench.cookie)
        assert (status, headers["Location"]) == (404, None), path
    assert bench.still_answers()
    assert capfd.readouterr().err == ""


def test_what_is_no_request_of_ours(bench: Bench, capfd: pytest.CaptureFixture[str]) -> None:
    """Other methods, floods of headers, HTTP/2, sockets, noise: refused, and nothing is said in the terminal."""
    for method in ("PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT", "PROPFIND", "JOURNAL"):
        assert bench.ask(method, "/", Cookie=bench.cookie, Origin=bench.origin)[0] == 405, method
    assert bench.ask("POST", "/", Cookie=bench.cookie, Origin=bench.origin)[0] == 405
    head = f"Host: 127.0.0.1:{bench.port}\r\nCookie: {bench.cookie}\r\n".encode()
    upgrade = b"Connection: Upgrade, HTTP2-Settings\r\nHTTP2-Settings: AAMAAABkAAQAAP__\r\nUpgrade: h2c\r\n"
    socket_ = b"Connection: Upgrade\r\nUpgrade: websocket\r\nSec-WebSocket-Version: 13\r\nSec-WebSocket-Key: eA==\r\n"
    for sent, status in (
        (b"GET / HTTP/1.1\r\n" + head + upgrade + b"\r\n", b"200"),
        (b"GET / HTTP/1.1\r\n" + head + socket_ + b"\r\n", b"403"),
        (b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n", b"403"),
        (b"GET / HTTP/1.1\r\n" + head + b"X: " + b"x" * 20_000 + b"\r\n\r\n", b"431"),
        (b"GET / HTTP/1.1\r\n" + head + b"X: y\r\n" * 9_000 + b"\r\n", b"431"),
        (b"GET / HTTP/1.1\r\n" + head + head + b"\r\n", b"400"),
        (b"GET / HTTP/1.1\r\n\r\n", b"400"),
        (b"GET / HTTP/1.0\r\n\r\n", b"403"),
        (b"GET  /\r\n\r\n", b"400"),
        (b"POST /save HTTP/1.1\r\nContent-Length: -5\r\n" + head + b"\r\n", b"400"),
        (b"\x16\x03\x01\x02\x00\x01\x00\r\n\r\n", b"400"),
    ):
        answer = bench.send(sent)
        assert answer.startswith(b"HTTP/1.1 " + status), sent[:60]
        assert b"Upgrade" not in answer
    assert bench.still_answers()
    assert capfd.readouterr().err == ""


def test_uploads_are_bounded(bench: Bench, capfd: pytest.CaptureFixture[str]) -> None:
    """Too much is refused by what is told or by what comes; a sender who goes away is no news."""
    ours = {"Cookie": bench.cookie, "Origin": bench.origin}
    assert bench.ask("POST", "/save", b"x" * LIMIT, **ours)[0] == 200
    assert bench.ask("POST", "/save", b"x" * (LIMIT + 1), **ours)[0] == 413
    lines = "".join(f"{name}: {value}\r\n" for name, value in ours.items())
    head = f"POST /save HTTP/1.1\r\nHost: 127.0.0.1:{bench.port}\r\n{lines}".encode()
    told = bench.send(head + b"Content-Length: 99999999999\r\n\r\n")
    chunked = bench.send(head + b"Transfer-Encoding: chunked\r\n\r\n7d0\r\n" + b"x" * 2000 + b"\r\n")
    assert [one.split()[1] for one in (told, chunked)] == [b"413", b"413"]
    with socket.create_connection(("127.0.0.1", bench.port)) as leaving:
        leaving.sendall(head + b"Content-Length: 500\r\n\r\nabc")
    assert bench.still_answers()
    assert bench.saved == [b"x" * LIMIT]
    assert capfd.readouterr().err == ""


def test_every_answer_says_what_browsers_must_not_do(bench: Bench) -> None:
    """Pages, refusals and what the server refuses by itself; neither name nor version of the server."""
    answers = [
        bench.ask("GET", "/", Cookie=bench.cookie)[1],
        bench.ask("GET", "/")[1],
        bench.ask("GET", "/let-in")[1],
        bench.ask("GET", "/", Host="evil.example")[1],
        bench.ask("GET", "/no/such", Cookie=bench.cookie)[1],
    ]
    for headers in answers:
        assert "default-src 'none'" in headers["Content-Security-Policy"]
        assert "frame-ancestors 'none'" in headers["Content-Security-Policy"]
        assert "unsafe" not in headers["Content-Security-Policy"]
        assert [headers.get_all(name) for name in server.SAID] == [[value] for value in server.SAID.values()]
        assert headers["Server"] is None
    refused = bench.send(b"GET / HTTP/1.1\r\n\r\n").lower()
    assert all(f"{name}: {value}\r\n".lower().encode() in refused for name, value in server.SAID.items())


def test_a_port_that_is_taken(bench: Bench) -> None:
    """OSError, as of any server."""
    with pytest.raises(OSError, match=r"."), serving_app(make_app(bench), port=bench.port, share=False):
        pass


def make_certificate(folder: Path, *names: str) -> tuple[Path, Path]:
    """A certificate for these names, signed by itself, and its key."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "tarn")])
    now = datetime.datetime.now(datetime.UTC)
    made = (
        x509.CertificateBuilder(name, name, key.public_key(), x509.random_serial_number())
        .not_valid_before(now - datetime.timedelta(days=1))
        .not_valid_after(now + datetime.timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName(name) for name in names]), critical=False)
        .sign(key, hashes.SHA256())
    )
    encoding, plain = serialization.Encoding.PEM, serialization.NoEncryption()
    (folder / "cert.pem").write_bytes(made.public_bytes(encoding))
    (folder / "key.pem").write_bytes(key.private_bytes(encoding, serialization.PrivateFormat.PKCS8, plain))
    return folder / "cert.pem", folder / "key.pem"


def test_https_with_a_certificate_of_the_builders(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """The names of the certificate are what is printed and answered; the cookie goes over https alone."""
    certificate, key = make_certificate(tmp_path, "workshop.example", "localhost", "*.other.example")
    assert names_here(certificate) == ("workshop.example", "localhost")
    assert addresses_here(8765, certificate) == ("https://workshop.example:8765",)
    doorkeeper = Doorkeeper(tmp_path)
    app = guarded([], hosts=frozenset(names_here(certificate)), doorkeeper=doorkeeper, https=True, title="Bench")
    with serving_app(app, port=0, share=False, certificate=certificate, key=key) as port:
        trusting = ssl.create_default_context(cafile=str(certificate))
        with socket.create_connection(("127.0.0.1", port), timeout=30) as plain:
            plain.sendall(b"GET / HTTP/1.1\r\n\r\n")
            assert b"HTTP" not in plain.recv(100)
        connection = http.client.HTTPSConnection("localhost", port, timeout=30, context=trusting)
        told = {"Host": f"workshop.example:{port}", "Origin": f"https://workshop.example:{port}"}
        connection.request("POST", "/let-in", f"secret={doorkeeper.new_secret()}&name=x", told)
        cookie = connection.getresponse().headers["Set-Cookie"]
        connection.close()
    assert cookie.startswith(f"__Host-journal-{port}=")
    assert "Secure" in cookie
    assert capfd.readouterr().err == ""


def test_a_certificate_that_cannot_be_used(tmp_path: Path) -> None:
    """Said in words: no certificate, the key of another, one without the other."""
    certificate, key = make_certificate(tmp_path, "workshop.example")
    (tmp_path / "other").mkdir()
    _, stranger = make_certificate(tmp_path / "other", "workshop.example")
    for pair in ((key, key), (certificate, stranger), (certificate, None), (None, key), (tmp_path / "no.pem", key)):
        with (
            pytest.raises(SiteError, match="https"),
            serving_app(None, port=0, share=False, certificate=pair[0], key=pair[1]),
        ):
            pass
    with pytest.raises(SiteError, match="cannot be used for https"):
        names_here(key)


def test_the_invitation_says_how_and_what_others_can_read(capsys: pytest.CaptureFixture[str]) -> None:
    """Address and secret, plain where there is no terminal; over https no warning; without a network that is said."""
    print_invitation(["http://192.0.2.7:8765", "http://192.0.2.8:8765"], "K7QM-2XDP-9RTV")
    told = capsys.readouterr().out
    assert "http://192.0.2.7:8765/let-in#K7QM-2XDP-9RTV\n" in told
    assert "http://192.0.2.8:8765/let-in#K7QM-2XDP-9RTV\n" in told
    assert "unencrypted" in told
    assert not {"\x1b", "█"} & set(told)
    print_invitation(["https://workshop.example:8765"], "K7QM-2XDP-9RTV")
    assert "unencrypted" not in capsys.readouterr().out
    print_invitation([], "K7QM-2XDP-9RTV")
    told = capsys.readouterr().out
    assert "no network" in told
    assert "K7QM" not in told


def test_a_flood_ends_its_own_connections_first(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """A phone at another address keeps the connection that it has, however many come from one."""
    monkeypatch.setattr(server, "MOST_OPEN", 10)
    phone = http.client.HTTPConnection("127.0.0.1", bench.port, timeout=30, source_address=("127.0.0.2", 0))
    try:
        phone.connect()
    except OSError:
        pytest.skip("this system has one address for itself")
    phone.auto_open = False
    flood = [socket.create_connection(("127.0.0.1", bench.port), timeout=30) for _ in range(30)]
    assert flood[0].recv(1) == b"", "the oldest is ended"
    phone.request("GET", "/", headers={"Cookie": bench.cookie})
    assert phone.getresponse().status == 200
    for one in (phone, *flood):
        one.close()


@pytest.mark.slow
def test_a_thousand_connections_shut_nobody_out(bench: Bench) -> None:
    """Who holds them loses the oldest; the phone is answered while they are held."""
    held = [socket.create_connection(("127.0.0.1", bench.port), timeout=30) for _ in range(1000)]
    try:
        begun = time.monotonic()
        assert bench.still_answers()
        assert time.monotonic() - begun < server.HEADERS_SECONDS, "not only because they were given up"
        for one in held[:100]:
            one.settimeout(30)
            assert one.recv(1) == b""
    finally:
        for one in held:
            one.close()


def given_up(port: int, first: bytes, drop: bytes) -> bool:
    """Whether a connection is closed that sends `first` and then a drop twenty times a second."""
    with socket.create_connection(("127.0.0.1", port), timeout=30) as slow:
        try:
            slow.sendall(first)
            for _ in range(400):
                slow.sendall(drop)
                time.sleep(0.05)
        except ConnectionError:
            return True
    return False


@pytest.mark.slow
def test_slow_heads_and_slow_uploads_are_given_up(
    tmp_path: Path, bench: Bench, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    """A head that never ends, an upload that stops, an upload that trickles."""
    monkeypatch.setattr(server._Settings, "keep_alive_timeout", 0.5)
    monkeypatch.setattr(guard, "CHUNK_SECONDS", 0.5)
    with serving_app(make_app(bench), port=0, share=False) as bench.port:
        cookie = f"{cookie_name(bench.port, False)}={bench.cookie.partition('=')[2]}"
        assert given_up(bench.port, b"", b"G")
        lines = {"Host": f"127.0.0.1:{bench.port}", "Origin": bench.origin, "Cookie": cookie, "Content-Length": 500}
        head = "".join(["POST /save HTTP/1.1\r\n", *(f"{name}: {told}\r\n" for name, told in lines.items()), "\r\n"])
        assert bench.send(head.encode() + b"abc").startswith(b"HTTP/1.1 408")
        assert given_up(bench.port, head.encode(), b"x")
    assert not bench.saved
    assert capfd.readouterr().err == ""


@pytest.mark.browser
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_page_that_lets_in_on_a_phone(bench: Bench, browser: Browser, scheme: Literal["light", "dark"]) -> None:
    """The secret of the address is in its field and no longer in the address bar; no request told it; all of it is for
    thumbs, and nobody is kept out by how they read.
    """
    secret = bench.doorkeeper.new_secret()
    page = browser.new_page(viewport={"width": 360, "height": 740}, color_scheme=scheme)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(f"{request.url} {request.headers.get('referer')}"))
    page.goto(f"{bench.origin}/let-in#{secret}")
    assert page.input_value("#secret") == secret
    assert page.url == f"{bench.origin}/let-in"
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    for part in ("#secret", "#name", "button"):
        box = page.locator(part).bounding_box()
        assert box
        assert box["height"] >= 44, part
    assert Axe().run(page).response["violations"] == []
    page.fill("#name", "Bo's phone")
    page.click("button")
    page.wait_for_url(f"{bench.origin}/")
    assert page.inner_text("body") == "Hello, Bo's phone"
    assert not any(secret in one for one in asked)
    page.close()
