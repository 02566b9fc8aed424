"""SFTP servers for tests: OpenSSH's own on loopback, the library's, and a wire that can be cut."""

from __future__ import annotations

import asyncio
import os
import pwd
import shutil
import socket
import subprocess
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import asyncssh
import pytest

SSHD = shutil.which("sshd") or ("/usr/sbin/sshd" if Path("/usr/sbin/sshd").exists() else None)


@dataclass(kw_only=True)
class Running:
    """A server: `place` is the folder that it opens, `key` a key that it knows."""

    user: str
    host: str
    port: int
    place: Path
    key: Path
    host_key: str

    @property
    def options(self) -> list[str]:
        """What `journal publish` needs to reach it without a question, but for the address."""
        return ["--port", str(self.port), "--key", str(self.key), "--host-key", self.host_key]

    def address(self, path: str = "htdocs/tarn") -> str:
        """USER@HOST:PATH."""
        return f"{self.user}@{self.host}:{path}"


def free_port() -> int:
    """A port of this machine that nobody listens at."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def make_key(path: Path, passphrase: str = "") -> str:
    """A key pair at `path` and `path.pub`; its fingerprint."""
    key = asyncssh.generate_private_key("ssh-ed25519")
    key.write_private_key(path, passphrase=passphrase or None, **({"rounds": 10} if passphrase else {}))
    path.chmod(0o600)
    key.write_public_key(f"{path}.pub")
    return key.get_fingerprint()


@contextmanager
def openssh(more: str = "") -> Iterator[Running]:
    """OpenSSH's server as a process without privileges, with a host key, a port and a user's key of its own."""
    if SSHD is None:
        pytest.skip("OpenSSH's server is not installed (openssh-server)")
    who = pwd.getpwnam("games") if os.getuid() == 0 else pwd.getpwuid(os.getuid())
    base = Path(tempfile.mkdtemp(prefix="journal-sshd-"))
    (base / "home/htdocs").mkdir(parents=True)
    host_key = make_key(base / "host")
    make_key(base / "user")
    port = free_port()
    (base / "sshd_config").write_text(
        f"Port {port}\nListenAddress 127.0.0.1\nHostKey {base}/host\nPidFile none\nStrictModes no\nUsePAM no\n"
        f"PasswordAuthentication no\nKbdInteractiveAuthentication no\nAuthorizedKeysFile {base}/user.pub\n"
        f"MaxStartups 100\nSubsystem sftp internal-sftp\nForceCommand internal-sftp -d {base}/home\n{more}"
    )
    for path in (base, *base.rglob("*")):
        os.chown(path, who.pw_uid, who.pw_gid)
    asked = {"user": who.pw_uid, "group": who.pw_gid, "extra_groups": []} if os.getuid() == 0 else {}
    with (base / "log").open("wb") as log:
        server: Any = subprocess.Popen([SSHD, "-D", "-e", "-f", str(base / "sshd_config")], stderr=log, **asked)
    try:
        for _ in range(200):
            with suppress(OSError), socket.create_connection(("127.0.0.1", port), 1):
                break
            if server.poll() is not None:
                pytest.skip(f"OpenSSH's server does not start here: {(base / 'log').read_text()}")
            time.sleep(0.05)
        key = base / "key"
        shutil.copyfile(base / "user", key)
        key.chmod(0o600)
        yield Running(user=who.pw_name, host="127.0.0.1", port=port, place=base / "home", key=key, host_key=host_key)
    finally:
        server.terminate()
        server.wait(10)
        shutil.rmtree(base, ignore_errors=True)


class _Door(asyncssh.SSHServer):
    """Lets `maren` in with the password or a key of `keys`."""

    def __init__(self, password: str, key: str) -> None:
        self.password, self.key = password, key

    def connection_made(self, conn: asyncssh.SSHServerConnection) -> None:
        self.connection = conn

    def begin_auth(self, username: str) -> bool:
        if username == "maren":
            self.connection.set_authorized_keys(asyncssh.import_authorized_keys(self.key))
        return True

    def password_auth_supported(self) -> bool:
        return bool(self.password)

    def validate_password(self, username: str, password: str) -> bool:
        return (username, password) == ("maren", self.password)


class Disk(asyncssh.SFTPServer):
    """The files below one folder; subclasses refuse or break."""


class OldDisk(Disk):
    """A server that cannot rename over a file that is there."""

    def posix_rename(self, oldpath: bytes, newpath: bytes) -> None:
        """Refused."""
        raise asyncssh.SFTPOpUnsupported("no such request")


@contextmanager
def library_server(
    base: Path, *, password: str = "", disk: type[Disk] = Disk, host_key: asyncssh.SSHKey | None = None
) -> Iterator[Running]:
    """The library's own server in a thread: `base/home` is all that it shows."""
    (base / "home/htdocs").mkdir(parents=True, exist_ok=True)
    host_key = host_key or asyncssh.generate_private_key("ssh-ed25519")
    if not (base / "user").exists():
        make_key(base / "user")
    public = (base / "user.pub").read_text()
    loop, port = asyncio.new_event_loop(), free_port()
    loop.set_exception_handler(lambda *_: None)

    def serving(channel: asyncssh.SSHServerChannel[bytes]) -> asyncssh.SFTPServer:
        return disk(channel, chroot=str(base / "home"))

    listening = asyncssh.listen(
        "127.0.0.1",
        port,
        server_factory=lambda: _Door(password, public),
        server_host_keys=[host_key],
        sftp_factory=serving,
    )
    thread = threading.Thread(target=loop.run_forever, daemon=True)
    thread.start()

    async def listen() -> asyncssh.SSHAcceptor:
        return await listening

    acceptor = asyncio.run_coroutine_threadsafe(listen(), loop).result(10)
    try:
        yield Running(
            user="maren",
            host="127.0.0.1",
            port=port,
            place=base / "home",
            key=base / "user",
            host_key=f"{host_key.get_algorithm()} {host_key.get_fingerprint()}",
        )
    finally:

        async def end() -> None:
            acceptor.close()
            for task in (others := asyncio.all_tasks() - {asyncio.current_task()}):
                task.cancel()
            await asyncio.gather(*others, return_exceptions=True)

        with suppress(TimeoutError):
            asyncio.run_coroutine_threadsafe(end(), loop).result(5)
        loop.call_soon_threadsafe(loop.stop)
        thread.join(10)


@contextmanager
def wire(
    port: int, cut_after: int | None = None, stall_after: int | None = None
) -> Iterator[tuple[int, Callable[[], int]]]:
    """A port that leads on to `port`, and what tells how many bytes went towards it. After `cut_after` of them it
    breaks, after `stall_after` it carries nothing more.
    """
    went, ends = 0, threading.Event()
    listener = socket.create_server(("127.0.0.1", 0))
    listener.settimeout(0.1)
    sockets: list[socket.socket] = [listener]

    def carry(source: socket.socket, sink: socket.socket, *, counted: bool) -> None:
        nonlocal went
        with suppress(OSError):
            while data := source.recv(4096):
                if counted:
                    went += len(data)
                    if cut_after is not None and went > cut_after:
                        break
                    if stall_after is not None and went > stall_after:
                        ends.wait()
                        break
                sink.sendall(data)
        for one in (source, sink):
            with suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)

    def accept() -> None:
        while not ends.is_set():
            with suppress(OSError):
                near, _ = listener.accept()
                near.settimeout(None)
                far = socket.create_connection(("127.0.0.1", port))
                for one in (near, far):
                    one.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
                sockets.extend([near, far])
                for source, sink, counted in ((near, far, True), (far, near, False)):
                    threading.Thread(
                        target=carry, args=(source, sink), kwargs={"counted": counted}, daemon=True
                    ).start()

    threading.Thread(target=accept, daemon=True).start()
    try:
        yield listener.getsockname()[1], lambda: went
    finally:
        ends.set()
        for one in sockets:
            with suppress(OSError):
                one.close()
