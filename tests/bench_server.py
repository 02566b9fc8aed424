"""The bench as a program of its own, to be killed at any moment: `python bench_server.py BUILD PORT`.

The first line it prints is its port, the second the secret that lets a phone in.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from http.client import HTTPConnection
from pathlib import Path
from typing import Any
from urllib.parse import urlencode


def serve(root: Path, port: int) -> None:
    """Serve until somebody kills us."""
    from journal.commands.bench.serve import bench_app
    from journal.commands.bench.taking import Bench
    from journal.commands.network.letting_in import Doorkeeper
    from journal.commands.network.server import serving_app

    doorkeeper = Doorkeeper(root)
    with serving_app(bench_app(Bench(root), doorkeeper, frozenset()), port=port, share=False) as served:
        print(served, flush=True)
        print(doorkeeper.new_secret(), flush=True)
        threading.Event().wait()


class Server:
    """A running one. Killed without a word, and started again on the same port."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.port = 0
        self.secret = ""
        self.process: subprocess.Popen[str] | None = None

    def start(self) -> None:
        """Come back when it answers."""
        command = [sys.executable, __file__, str(self.root), str(self.port)]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=os.environ | {"TZ": "UTC"})
        assert self.process.stdout
        self.port = int(self.process.stdout.readline())
        self.secret = self.process.stdout.readline().strip()

    def kill(self) -> None:
        """As when the plug is pulled."""
        if self.process:
            self.process.send_signal(signal.SIGKILL)
            self.process.wait()
            assert self.process.stdout
            self.process.stdout.close()
            self.process = None

    @property
    def address(self) -> str:
        """Where it is."""
        return f"http://127.0.0.1:{self.port}"

    def ask(self, path: str, body: bytes | None = None, cookie: str = "", **headers: str) -> tuple[int, bytes, Any]:
        """One request on a connection of its own: (status, what came, its headers). Raises OSError, HTTPException."""
        connection = HTTPConnection("127.0.0.1", self.port, timeout=20)
        told = {"Cookie": cookie, "Origin": self.address, "X-Page": "test"} | headers
        try:
            connection.request("GET" if body is None else "POST", path, body, told)
            answer = connection.getresponse()
            return answer.status, answer.read(), answer.headers
        finally:
            connection.close()

    def let_in(self, name: str = "Ada's phone") -> str:
        """The cookie of a phone that was let in."""
        form = urlencode({"secret": self.secret, "name": name}).encode()
        status, _, headers = self.ask("/let-in", form, **{"Content-Type": "application/x-www-form-urlencoded"})
        assert status == 303
        return str(headers["Set-Cookie"]).partition(";")[0]


if __name__ == "__main__":
    serve(Path(sys.argv[1]), int(sys.argv[2]))
