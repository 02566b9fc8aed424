"""The decoding service: child processes that read and make pictures, so that a file which makes a decoder crash, hang
or take all memory costs that one picture, by name.

A child has as much processor time and memory as its picture may need (`child.py`); this side counts the time on the
clock, and how much memory all of them take at one time. Why processes of our own and no pool of a library: the pools
tell that a worker died, not over which file, and leave workers behind when their parent is killed. These end with it,
since their input does.
"""

from __future__ import annotations

import atexit
import contextlib
import json
import os
import pickle
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any

import journal
from journal.media.photos.kinds import CRASHED, NOT_STARTED, STOPPED, TOO_LONG
from journal.media.photos.work import Said, Work

COMMAND = (sys.executable, "-c", "from journal.media.photos.child import serve; serve()")
WAIT_S, WAIT_A_MEGAPIXEL_S = 60.0, 2.0
"""Seconds on the clock for one piece of work, and for each megapixel: several times the processor time it may take."""

MEMORY = 512_000_000
"""Bytes that all pictures being decoded at one time may take together; one that needs more goes alone."""


_FROM_OUTSIDE = {getattr(signal, name, None) for name in ("SIGKILL", "SIGTERM", "SIGHUP")}


class Allowance:
    """Memory that may be taken at one time: small pictures go side by side, a huge one alone."""

    def __init__(self, total: int) -> None:
        self._total = total
        self._used = 0
        self._changed = threading.Condition()

    @contextlib.contextmanager
    def taken(self) -> Iterator[Any]:
        """A function that waits until so many bytes are free, or nothing else is going on; all are given back after."""
        mine = 0

        def take(amount: int) -> None:
            nonlocal mine
            with self._changed:
                self._used -= mine
                mine = 0
                self._changed.notify_all()
                self._changed.wait_for(lambda: self._used + amount <= self._total or not self._used)
                mine = amount
                self._used += amount

        try:
            yield take
        finally:
            with self._changed:
                self._used -= mine
                self._changed.notify_all()


class Child:
    """One child process, and what it is asked."""

    def __init__(self) -> None:
        # The program as it runs here, wherever that was found.
        path = os.pathsep.join([str(Path(journal.__file__).parents[1]), os.environ.get("PYTHONPATH", "")])
        self.process = subprocess.Popen(
            COMMAND,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": path.rstrip(os.pathsep), "OPENBLAS_NUM_THREADS": "1"},
        )

    def ask(self, work: Work, allowance: Allowance) -> tuple[Said, list[bytes], bool]:
        """(answer, its bytes, whether this child can be asked again). The answer of one that dies has its `trouble`,
        and what it told before.
        """
        stdin: IO[bytes] = self.process.stdin  # type: ignore[assignment]  # a pipe was asked for
        said: Said = {"begun": False}
        overdue = threading.Event()
        clock = self._clock(WAIT_S, overdue)
        with allowance.taken() as take:
            try:
                stdin.write(pickle.dumps(work))
                stdin.flush()
                while "parts" not in said:
                    said |= self._read()
                    if (needs := said.pop("needs", None)) is not None:
                        clock.cancel()
                        take(int(needs))
                        clock = self._clock(WAIT_S + WAIT_A_MEGAPIXEL_S * said.pop("megapixels"), overdue)
                        stdin.write(b"go on\n")
                        stdin.flush()
                parts = [self._exactly(length) for length in said.pop("parts")]
                return said, parts, said.pop("stays")
            except (OSError, ValueError, EOFError):
                begun = said.pop("begun")
                return {**said, "trouble": self._why(overdue) if begun else NOT_STARTED}, [], False
            finally:
                clock.cancel()

    def _clock(self, seconds: float, overdue: threading.Event) -> threading.Timer:
        def end() -> None:
            overdue.set()
            self.process.kill()

        clock = threading.Timer(seconds, end)
        clock.daemon = True
        clock.start()
        return clock

    def _read(self) -> Said:
        stdout: IO[bytes] = self.process.stdout  # type: ignore[assignment]  # a pipe was asked for
        line = stdout.readline()
        if not line.endswith(b"\n"):
            raise EOFError
        said: Said = json.loads(line)
        return said

    def _exactly(self, length: int) -> bytes:
        stdout: IO[bytes] = self.process.stdout  # type: ignore[assignment]  # as above
        data = stdout.read(length)
        if len(data) != length:
            raise EOFError
        return data

    def _why(self, overdue: threading.Event) -> str:
        """Why a child that gives no answer is dead, or will be now."""
        with contextlib.suppress(subprocess.TimeoutExpired):
            self.process.wait(1)
        self.end()
        died = -(self.process.returncode or 0)
        if overdue.is_set() or died == getattr(signal, "SIGXCPU", None):
            return TOO_LONG
        return STOPPED if died in _FROM_OUTSIDE else CRASHED

    def end(self) -> None:
        """End it now, and wait until it has."""
        self.process.kill()
        self.process.wait()
        for pipe in (self.process.stdin, self.process.stdout):
            if pipe:
                with contextlib.suppress(OSError):
                    pipe.close()


class Service:
    """As many children as work is asked for at one time; each is begun when it is needed and asked again and again."""

    def __init__(self) -> None:
        self._idle: list[Child] = []
        self._busy: set[Child] = set()
        self._lock = threading.Lock()
        self._allowance = Allowance(MEMORY)
        self._owner = os.getpid()

    def ask(self, work: Work) -> tuple[Said, list[bytes]]:
        """The answer to one piece of work and its bytes; never raises for what a file holds. OSError where no process
        can be begun.
        """
        with self._lock:
            child = self._idle.pop() if self._idle and self._owner == os.getpid() else None
        if child is not None and child.process.poll() is not None:
            child.end()
            child = None
        child = child or Child()
        done = False
        self._busy.add(child)
        try:
            said, parts, stays = child.ask(work, self._allowance)
            done = True
        finally:
            self._busy.discard(child)
            if not done:  # stopped in the middle of an answer
                child.end()
        if stays:
            with self._lock:
                self._idle.append(child)
        else:
            child.end()
        return said, parts

    def stop(self) -> None:
        """Kill all children that are at work: each of those pictures has its `trouble`, which does not last."""
        for child in list(self._busy):
            child.process.kill()

    def close(self) -> None:
        """End all children that are idle."""
        with self._lock:
            children, self._idle = self._idle, []
        if self._owner == os.getpid():
            for child in children:
                child.end()


SERVICE = Service()
"""One for the program: stores come and go with each build that a preview makes."""

atexit.register(SERVICE.close)
