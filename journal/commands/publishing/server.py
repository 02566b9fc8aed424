"""A folder on a server, reached by SFTP: most people's webspace.

Every file is written under another name and moved over its place, so whatever breaks, what stands there is whole. Who
the server is tells its host key; it is asked about once and remembered. No wait for it is without an end.
"""

from __future__ import annotations

import asyncio
import errno
import logging
import posixpath
import re
import stat
import threading
from collections.abc import Awaitable, Callable, Iterator, Mapping
from contextlib import suppress
from hashlib import sha256
from io import BytesIO
from pathlib import Path, PurePosixPath
from socket import gaierror
from typing import TYPE_CHECKING, Any, TypeVar

import click

from journal.base.byte_progress import Progress, silent
from journal.commands.publishing.targets import Mirror, NotSentError, Stands, words_from_outside
from journal.commands.terminal import on_terminal
from journal.making.last_kept import Changes

if TYPE_CHECKING:
    import asyncssh

T = TypeVar("T")

WAIT_S = 30.0
"""How long any one answer of a server is waited for (common practice, no source)."""

PIECE_BYTES = 1 << 18
"""What is sent, or read, within one wait."""

TRIES = 3

_ADDRESS = re.compile(r"(?P<user>[^:/\s]+)@(?P<host>\[[^\]\s]+\]|[^@:/\[\]\s]+):(?P<path>.+)")
_USUAL_KEYS = ("id_ed25519", "id_ecdsa", "id_rsa")


class ServerTarget(Mirror):
    """A folder on a server that a site is mirrored into.

    `address` is USER@HOST:PATH, a path from the folder that the server opens unless it begins with `/`. `host_key`
    is `KIND SHA256:…` as it was shown and remembered, or the fingerprint alone; "" where it is not known yet.
    """

    at_once = 8
    """So that a server far away is not waited for a file at a time."""

    def __init__(self, address: str, port: int = 0, host_key: str = "", key: str = "") -> None:
        found = _ADDRESS.fullmatch(address)
        if not found:  # not shown: whoever writes a password into it shall not find it in a log
            raise NotSentError("--sftp takes USER@HOST:PATH (a password is asked for, a port is --port)")
        try:
            import asyncssh  # noqa: F401
        except ImportError:
            raise NotSentError("to reach a server, install one thing more: pip install 'build-journal[sftp]'") from None
        self._user, self._host = found["user"], found["host"].strip("[]")
        self._path = found["path"].removeprefix("~/") or "."
        self._port, self._host_key = port, host_key
        self._key = str(Path(key).expanduser().absolute()) if key else ""
        self.said = self.kept_as = address
        for name in ("asyncio", "asyncssh"):  # what they remark upon is told in our words
            logging.getLogger(name).addHandler(logging.NullHandler())
        self._loop = asyncio.new_event_loop()
        threading.Thread(target=self._loop.run_forever, daemon=True).start()
        self._sftp: asyncssh.SFTPClient
        self._opened = False
        self._base = ""

    def plan(self, site: Path, digests: Mapping[str, str], progress: Progress = silent) -> Changes:
        """Log in, and see what would change there."""
        self._log_in()
        port = str(self._port) if self._port else ""
        told = {"sftp": self.said, "port": port, "host_key": self._host_key, "key": self._key}
        self.settings = {name: value for name, value in told.items() if value}
        self._base = self._path
        with suppress(FileNotFoundError):
            self._base = self._ask("to show where it is", self._sftp.realpath(self._path))
        above = posixpath.dirname(self._base) or "."
        if self._kind_at(above, follow=True) is not Stands.FOLDER:
            raise NotSentError(f"there is no folder {above} on {self._host}; look at the path behind the colon")
        if self._kind_at(self._base, follow=True) not in (Stands.FOLDER, None):
            raise NotSentError(f"{self._base} on {self._host} is a file; name a folder")
        changes = super().plan(site, digests, progress)
        if not (changes.to_send or changes.gone) and self.listed.files == digests:
            self.settled = "The folder there holds this very site already; nothing to send."
        return changes

    def close(self) -> None:
        """A server that does not say good-bye is left."""

        async def part() -> None:
            for task in (others := asyncio.all_tasks() - {asyncio.current_task()}):
                task.cancel()
            await asyncio.wait(others)

        with suppress(TimeoutError, ValueError):  # where nothing was open there is nothing to wait for
            asyncio.run_coroutine_threadsafe(part(), self._loop).result(2)
        self._loop.call_soon_threadsafe(self._loop.stop)

    # -- getting in --------------------------------------------------------------------------------

    def _log_in(self) -> None:
        import asyncssh

        kind = self._host_key.partition(" ")[0]
        first = {"ssh-rsa": "^rsa-sha2-512,rsa-sha2-256"}.get(kind, f"^{kind}" if " " in self._host_key else ())
        where: dict[str, Any] = {"host": self._host, "port": self._port or ()}
        host_key = self._ask("to show its host key", asyncssh.get_server_host_key(**where, server_host_key_algs=first))
        if host_key is None:
            raise NotSentError(f"{self._host} shows no host key", unreachable=True)
        self._know(f"{host_key.get_algorithm()} {host_key.get_fingerprint()}")
        where |= {"username": self._user, "known_hosts": ([host_key], [], [])}
        asks_password = False

        class Asked(asyncssh.SSHClient):
            """Notices whether the server would take a password."""

            def password_auth_requested(self) -> None:
                nonlocal asks_password
                asks_password = True

            kbdint_auth_requested = password_auth_requested

        for way in self._ways_in(lambda: asks_password):
            how: dict[str, Any] = {"client_factory": Asked} if "password" not in way else {}
            with suppress(PermissionError):
                connection = self._ask("to let you in", asyncssh.connect(**where, **how, **way))
                self._sftp = self._ask("to open SFTP", connection.start_sftp_client())
                return
        tried = f"the key {self._key}" if self._key else "a password or a key" if asks_password else "a key"
        more = "; a password can only be asked for on a terminal" if asks_password and not on_terminal() else ""
        said = f"{self._host} does not let {self._user} in with {tried} that was offered{more}"
        raise NotSentError(said, unreachable=True)

    def _ways_in(self, asks_password: Callable[[], bool]) -> Iterator[dict[str, Any]]:
        """What to show the server, one thing after the other: keys, then what the user is asked for."""
        import asyncssh

        if self._key:
            yield {"client_keys": [self._unlocked(Path(self._key))], "agent_path": None}
            return
        yield {}  # the agent, and the usual keys that have no passphrase
        if not on_terminal():
            return
        for file in (Path.home() / ".ssh" / name for name in _USUAL_KEYS):
            with suppress(OSError, asyncssh.KeyImportError, NotSentError):
                if _is_locked(file):
                    yield {"client_keys": [self._unlocked(file)], "agent_path": None}
        for _ in range(TRIES if asks_password() else 0):
            words = click.prompt(f"Password of {self._user} at {self._host}", hide_input=True, err=True)
            yield {"password": words, "client_keys": None, "agent_path": None}

    def _unlocked(self, file: Path) -> Any:
        """The key in `file`, its passphrase asked for where it has one."""
        import asyncssh

        try:
            if not _is_locked(file):
                return asyncssh.read_private_key(file)
            for _ in range(TRIES if on_terminal() else 0):
                asked = f"Passphrase of {file} (Enter alone: not this key)"
                words = click.prompt(asked, default="", show_default=False, hide_input=True, err=True)
                if not words:
                    break
                with suppress(asyncssh.KeyEncryptionError):
                    return asyncssh.read_private_key(file, words)
        except asyncssh.KeyImportError as trouble:
            raise NotSentError(f"the key {file} cannot be used: {trouble}") from None
        except OSError as trouble:
            raise NotSentError(f"the key {file} cannot be read: {trouble.strerror}") from None
        why = "that was not its passphrase" if on_terminal() else "its passphrase can only be asked for on a terminal"
        raise NotSentError(f"the key {file} cannot be opened: {why}")

    def _know(self, shown: str) -> None:
        """Hold the host key that the server shows against the one that is known; ask where none is."""
        if self._host_key and self._host_key.rpartition(" ")[2] != shown.rpartition(" ")[2]:
            raise NotSentError(
                f"the host key of {self._host} is not the one that is known. Somebody may stand between you and the "
                "server, or it was set up anew: ask whoever runs it. Nothing was sent.\n"
                f"  known: {self._host_key}\n  shown: {shown}\n"
                "If the new one is right, give it once with --host-key"
            )
        if not self._host_key:
            click.echo(f"{self._host} is not known yet. It shows the host key\n  {shown}", err=True)
            if not on_terminal():
                raise NotSentError(
                    "nobody can be asked here whether that is the right server; if it is, give the fingerprint with "
                    "--host-key"
                )
            if not click.confirm("Is that the one that its provider tells? It is asked once", err=True):
                raise NotSentError("nothing was sent: the server is not the one you mean")
        self._host_key = shown

    def _ask(self, what: str, answer: Awaitable[T]) -> T:
        """The answer of the server to being asked `what` ("to take index.html"), or one NotSentError; FileNotFoundError
        where nothing is there, PermissionError where it does not let the user in.
        """
        import asyncssh

        async def awaited() -> T:
            return await answer

        waited = asyncio.run_coroutine_threadsafe(awaited(), self._loop)
        whole = "; every page there is whole, and the next `journal publish` completes it" if self._opened else ""
        try:
            return waited.result(WAIT_S)
        except TimeoutError:
            waited.cancel()
            said = f"{self._host} did not answer for {WAIT_S:.0f} seconds when it was asked {what}{whole}"
        except asyncssh.PermissionDenied as denied:
            raise PermissionError(errno.EACCES, denied.reason) from None
        except (asyncssh.SFTPNoSuchFile, asyncssh.SFTPNoSuchPath, asyncssh.SFTPNotADirectory) as missing:
            said = f"{self._host} was asked {what} and said: {words_from_outside(missing.reason)}"
            raise FileNotFoundError(errno.ENOENT, said) from None
        except ConnectionRefusedError:
            said = f"{self._host} does not answer on port {self._port or 22}; is that the right one?"
        except (asyncssh.ConnectionLost, asyncssh.SFTPConnectionLost, asyncssh.SFTPNoConnection, ConnectionError):
            said = f"the connection to {self._host} broke when it was asked {what}{whole}"
        except gaierror:
            said = f"there is no server by the name {self._host}, or the network is down"
        except asyncssh.SFTPOpUnsupported:
            raise
        except asyncssh.Error as trouble:
            vague = isinstance(trouble, asyncssh.SFTPFailure)
            hint = " (a full disk, or a quota used up, is told like that as well)" if vague else ""
            words = words_from_outside(trouble.reason) or type(trouble).__name__
            said = f"{self._host} was asked {what} and said: {words}{hint}{whole}"
        except (OSError, ValueError) as trouble:
            said = f"{self._host} was asked {what} and did not: {words_from_outside(str(trouble))}{whole}"
        raise NotSentError(said, unreachable=True)

    # -- looking -----------------------------------------------------------------------------------

    def _at(self, name: str) -> str:
        return posixpath.join(self._base, name) if name else self._base

    def _attributes(self, path: str, *, follow: bool = False) -> asyncssh.SFTPAttrs | None:
        with suppress(FileNotFoundError):
            return self._ask(f"to show {path}", (self._sftp.stat if follow else self._sftp.lstat)(path))
        return None

    def _kind_at(self, path: str, *, follow: bool = False) -> Stands | None:
        attributes = self._attributes(path, follow=follow)
        return None if attributes is None else _kind(attributes)

    def look(self, name: str) -> Stands | None:
        """What stands there."""
        return self._kind_at(self._at(name))

    def digest_of(self, name: str) -> str | None:
        """What has the size and time that the server told when it had come is what we sent; what has the size of what
        would be sent is read; of anything else it is not known.
        """
        attributes = self._attributes(self._at(name))
        if attributes is None or _kind(attributes) is not Stands.FILE:
            return None if attributes is None else ""
        known, seen = self.listed.files.get(name, ""), self.listed.seen
        if known and seen.get(name) == _seen(attributes):
            return known
        if name in self.digests and attributes.size == (self.site / name).stat().st_size:
            seen[name] = _seen(attributes)
            return sha256(self.read(name)).hexdigest()
        return ""

    def read(self, name: str) -> bytes:
        """Piece by piece."""
        pieces = []
        with suppress(FileNotFoundError):
            file: Any = self._ask(f"for {name}", self._sftp.open(self._at(name), "rb"))
            while piece := self._ask(f"for {name}", file.read(PIECE_BYTES)):
                pieces.append(bytes(piece))
            self._ask(f"for {name}", file.close())
        return b"".join(pieces)

    # -- sending -----------------------------------------------------------------------------------

    def put(self, name: str, data: Path | bytes) -> list[int]:
        """Under another name first, then moved over its place."""
        import asyncssh

        self._opened = True
        half, place, what = f".{PurePosixPath(name).name}.part", self._at(name), f"to take {name}"
        half = posixpath.join(posixpath.dirname(place), half)
        self._remove(half)  # through a link by that name it would be written somewhere else
        file = self._ask(what, self._sftp.open(half, "xb"))
        with BytesIO(data) if isinstance(data, bytes) else data.open("rb") as source:
            while piece := source.read(PIECE_BYTES):
                self._ask(what, file.write(piece))
            size = source.tell()
        self._ask(what, file.close())
        attributes = self._attributes(half)
        if attributes is None or attributes.size != size:
            raise NotSentError(f"{self._host} kept only a part of {name}; is its disk full?", unreachable=True)
        try:
            self._ask(what, self._sftp.posix_rename(half, place))
        except asyncssh.SFTPOpUnsupported:
            self._remove(place)  # for a moment there is no such page, but never a half one
            self._ask(what, self._sftp.rename(half, place))
        return _seen(attributes)

    def make_folder(self, name: str) -> None:
        """In the folder above it."""
        if self._kind_at(self._at(name), follow=not name) is not Stands.FOLDER:
            self._ask(f"to make the folder {self._at(name)}", self._sftp.mkdir(self._at(name)))

    def drop(self, name: str) -> None:
        """A folder only if it is empty."""
        if self.look(name) is not Stands.FOLDER:
            self._remove(self._at(name))
        else:
            with suppress(FileNotFoundError, NotSentError):
                self._ask(f"to remove {name}", self._sftp.rmdir(self._at(name)))

    def _remove(self, path: str) -> None:
        with suppress(FileNotFoundError):
            self._ask(f"to remove {path}", self._sftp.remove(path))


def same_server(one: Mapping[str, str], other: Mapping[str, str]) -> bool:
    """Whether two settings name the same user of the same server, whatever the folder."""
    found = [_ADDRESS.fullmatch(settings.get("sftp", "")) for settings in (one, other)]
    return None not in found and len({match and match.group("user", "host") for match in found}) == 1


def _seen(attributes: asyncssh.SFTPAttrs) -> list[int]:
    return [attributes.size or 0, attributes.mtime or 0]


def _kind(attributes: asyncssh.SFTPAttrs) -> Stands:
    mode = attributes.permissions or 0
    return Stands.LINK if stat.S_ISLNK(mode) else Stands.FOLDER if stat.S_ISDIR(mode) else Stands.FILE


def _is_locked(file: Path) -> bool:
    """Whether a key needs a passphrase."""
    import asyncssh

    try:
        asyncssh.read_private_key(file)
    except asyncssh.KeyImportError as trouble:
        if str(trouble).startswith("Passphrase"):
            return True
        raise
    return False
