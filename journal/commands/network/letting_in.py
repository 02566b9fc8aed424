"""Who is let in: a secret of one use for a new device, and a token for each that was let in.

Of tokens only the SHA-256 is kept (FIPS 180-4), so that nobody who reads the file gets in by it.
"""

from __future__ import annotations

import json
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import date, datetime
from hmac import compare_digest
from pathlib import Path

from journal.base.digests import sha256_of
from journal.base.safe_write import write_whole

LETTERS = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
"""No 0 and O, no 1, I and L, no U beside V."""
SECRET_LETTERS, GROUP = 12, 4
SECRET_SECONDS = 600
MOST_WRONG = 10
LONGEST_DELAY = 60
LONGEST_NAME = 60


@dataclass(frozen=True, slots=True)
class Device:
    """A device that was let in."""

    id: str
    name: str
    let_in_on: date


class Doorkeeper:
    """Lets devices into what is served for the build folder `root`. Safe to ask from several threads.

    `kind` parts those let into one command from those let into another; `now` gives seconds. `tell` hears what the
    person at the terminal should know.
    """

    def __init__(
        self,
        root: Path,
        now: Callable[[], float] = time.time,
        *,
        kind: str = "bench",
        tell: Callable[[str], None] = lambda words: None,
    ) -> None:
        self.tell = tell
        self._file = root / ".journal" / kind / "devices.json"
        self._now = now
        self._lock = threading.Lock()
        self._secret = ""
        self._until = 0.0
        self._wrong: dict[str, int] = {}
        self._closed_until: dict[str, float] = {}
        self._seen: tuple[int, ...] | None = None
        self._devices: dict[str, Device] = {}

    def new_secret(self) -> str:
        """`K7QM-2XDP-9RTV`: lets one device in, within ten minutes; the one before is dead."""
        with self._lock:
            self._secret = "".join(secrets.choice(LETTERS) for _ in range(SECRET_LETTERS))
            self._until = self._now() + SECRET_SECONDS
            self._wrong.clear()
            return "-".join(self._secret[at : at + GROUP] for at in range(0, SECRET_LETTERS, GROUP))

    def seconds_to_wait(self, address: str = "") -> float:
        """How long no secret from this network address is looked at, after wrong ones."""
        until = max(self._closed_until.get(who, 0) for who in (address, "everybody"))
        return max(0.0, until - self._now())

    def let_in(self, secret: str, name: str, address: str = "") -> str | None:
        """A token for the device of this name; None where the secret is wrong, used, too old, or comes too soon.

        Raises OSError where it cannot be kept.
        """
        tried = "".join(letter for letter in secret.upper() if letter.isalnum())
        with self._lock:
            if self.seconds_to_wait(address):
                return None
            right = compare_digest(sha256_of(tried.encode("utf-8", "replace")), sha256_of(self._secret.encode()))
            if not (right and self._secret) or self._now() > self._until:
                self._count_wrong(address)
                self.tell(f"A secret that is wrong, used or too old was tried{f' from {address}' if address else ''}.")
                return None
            token = secrets.token_urlsafe(32)
            told = "".join(letter for letter in name if letter.isprintable()).strip()[:LONGEST_NAME] or "a phone"
            names = {device.name for device in self._read().values()}
            told = next(name for name in (told, *(f"{told} {number}" for number in range(2, 999))) if name not in names)
            device = Device(secrets.token_hex(4), told, datetime.fromtimestamp(self._now()).date())
            self._change(lambda kept: {**kept, sha256_of(token.encode()): device})
            self._secret = ""
        self.tell(f"{told} was let in.")
        return token

    def _count_wrong(self, address: str) -> None:
        if not self._secret:
            return  # there is nothing to guess
        for who, slower in ((address, 1.0), ("everybody", 0.25)):
            self._wrong[who] = self._wrong.get(who, 0) + 1
            delay = slower * min(2.0 ** (self._wrong[who] - 1), LONGEST_DELAY)
            self._closed_until[who] = self._now() + delay
        if self._wrong["everybody"] >= MOST_WRONG:
            self._secret = ""
            self._wrong.clear()
            self._closed_until.clear()
            self.tell(f"{MOST_WRONG} wrong secrets in a row: this secret lets nobody in any more.")

    def device(self, token: str) -> Device | None:
        """The device that has this token; None once it is forgotten, by whichever program."""
        digest = sha256_of(token.encode("utf-8", "replace")).encode()
        return next((device for kept, device in self._read().items() if compare_digest(kept.encode(), digest)), None)

    def devices(self) -> tuple[Device, ...]:
        """Those let in, the first one first."""
        return tuple(self._read().values())

    def forget(self, name: str | None = None) -> tuple[Device, ...]:
        """Let the devices of this name in no more, or all of them; gives those. Raises OSError."""
        gone = tuple(device for device in self.devices() if name in {None, device.name})
        if gone:
            self._change(lambda kept: {key: device for key, device in kept.items() if device not in gone})
        return gone

    def _change(self, changed: Callable[[dict[str, Device]], dict[str, Device]]) -> None:
        import filelock

        self._file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with filelock.FileLock(self._file.with_suffix(".lock"), timeout=10):
            rows = [
                {**asdict(device), "let_in_on": device.let_in_on.isoformat(), "token_sha256": digest}
                for digest, device in changed(self._read()).items()
            ]
            if not self._file.exists():
                self._file.touch(0o600)
            self._file.chmod(0o600)
            write_whole(self._file, (json.dumps(rows, indent=1) + "\n").encode())

    def _read(self) -> dict[str, Device]:
        """Digest -> device. A file that is missing or broken lets nobody in."""
        try:
            facts = self._file.stat()
            seen = (facts.st_mtime_ns, facts.st_ctime_ns, facts.st_size, facts.st_ino)
            if seen != self._seen:
                self._devices = {
                    str(row["token_sha256"]): Device(
                        str(row["id"]), str(row["name"]), date.fromisoformat(row["let_in_on"])
                    )
                    for row in json.loads(self._file.read_bytes())
                }
                self._seen = seen
        except (OSError, ValueError, TypeError, KeyError, RecursionError):
            self._seen, self._devices = None, {}
        return self._devices
