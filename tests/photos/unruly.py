"""A child of the decoding service whose decoder does what the last bytes of a file say: crash, hang, take all memory.

    python unruly.py

Faults of real decoders come and go with their versions; these stay. `in_facts` in front of a fault plays it while facts
are read, else it is played while the picture is made.
"""

from __future__ import annotations

import ctypes
import os
import signal
import sys
import time
from collections.abc import Callable
from typing import Any

from journal.media.photos import child, facts, work


def spin() -> None:
    """Never come back, and work hard at it."""
    while True:
        pass


def take_memory() -> None:
    """More than any picture of this size needs."""
    taken = [bytearray(100_000_000) for _ in range(400)]
    raise AssertionError(len(taken))


FAULTS: dict[str, Callable[[], object]] = {
    "abort": os.abort,
    "segfault": lambda: ctypes.string_at(0),
    "quit": lambda: os._exit(0),
    "fail": lambda: os._exit(3),
    "sleep": lambda: time.sleep(3600),
    "spin": spin,
    "memory": take_memory,
    "print": lambda: os.write(1, b"a decoder that prints\n"),
    "killed": lambda: os.kill(os.getpid(), signal.SIGKILL),
}


def play(source: Any, before: str) -> None:
    """The fault that the file asks for, if any."""
    source.seek(-40, os.SEEK_END)
    words = source.read().rpartition(b"FAULT ")[2].decode("latin-1").split()
    if words[:1] == [before] and words[1:2] and words[1] in FAULTS:
        FAULTS[words[1]]()


def main() -> None:
    """Run the child with decoders that obey."""
    read_facts, open_stored = facts.read_facts, work.open_stored

    def unruly_facts(source: Any, allow: Any) -> Any:
        play(source, "in_facts")
        return read_facts(source, allow)

    def unruly_open(source: Any, allow: Any) -> Any:
        play(source, "in_picture")
        return open_stored(source, allow)

    work.read_facts, work.open_stored = unruly_facts, unruly_open  # type: ignore[attr-defined]
    # Quick enough for a test, and still far more than a picture of a few pixels takes.
    child.FLOOR_S = 2
    child.serve()


if __name__ == "__main__":
    sys.exit(main())
