"""The child process that decodes: takes one piece of work after another, and keeps to its limits.

It reads pickled work from its input, since that comes from the parent, and answers in JSON and plain bytes, since what
a hostile file makes of it must not reach further. It ends when its input does.
"""

from __future__ import annotations

import contextlib
import json
import math
import os
import pickle
import signal
import sys
import threading
import time
import warnings
from pathlib import Path
from typing import BinaryIO

import pillow_heif
from PIL import AvifImagePlugin, Image

from journal.media.photos.work import Said

try:
    import resource
except ImportError:  # Windows, where the parent's clock alone limits a child
    resource = None  # type: ignore[assignment]

FLOOR_S, A_MEGAPIXEL_S = 20, 0.5
"""Processor seconds for one piece of work: so many, and so many more for each megapixel. The slowest kind met, HEIC,
takes about 0.05 s a megapixel here."""

HEADROOM = 256_000_000
"""Bytes beside what a picture of its kind and size is known to take."""

STAYS_UP_TO = 200_000_000
"""After a picture that needs more, the child ends: decoders and allocator would keep what they took."""

_KEPT_BLOCKS = 64  # of 1 MB


def serve() -> None:
    """Work until the input ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent is asked to stop, and then ends this
    source, answers = sys.stdin.buffer, os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # should a library print something, it is no answer
    warnings.simplefilter("ignore")
    # Pillow keeps the memory of one picture for the next: giving it back and asking for it again, page by page, costs a
    # tenth of the time. One thread for each picture: there are as many children as processors.
    Image.core.set_blocks_max(_KEPT_BLOCKS)  # type: ignore[attr-defined]  # in Pillow's reference, "Block allocator"
    pillow_heif.options.DECODE_THREADS = AvifImagePlugin.DEFAULT_MAX_THREADS = 1
    if resource:
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    threading.Thread(target=_end_with, args=(os.getppid(),), daemon=True).start()
    with contextlib.suppress(EOFError, BrokenPipeError):
        while _one(source, answers):
            pass


def _end_with(parent: int) -> None:
    """A parent that is killed cannot end this, and its clock is gone with it."""
    while os.getppid() == parent:
        time.sleep(1)
    os._exit(1)


def _one(source: BinaryIO, answers: BinaryIO) -> bool:
    """Take, do and answer one piece of work; whether there may be another."""
    work = pickle.load(source)
    _answer(answers, {"begun": True})
    most = 0

    def tell(said: Said) -> None:
        _answer(answers, said)

    def allow(bytes_needed: int, size: tuple[int, int]) -> None:
        """Wait until the parent lets so much memory be taken, and move the limits up to it."""
        nonlocal most
        most = max(most, bytes_needed)
        megapixels = size[0] * size[1] / 1_000_000
        _answer(answers, {"needs": bytes_needed, "megapixels": megapixels})
        source.readline()
        _limit(FLOOR_S + A_MEGAPIXEL_S * megapixels, bytes_needed)

    _limit(FLOOR_S, HEADROOM)
    said, parts = work.run(tell, allow)
    _limit(FLOOR_S, HEADROOM)
    stays = most <= STAYS_UP_TO
    _answer(answers, {**said, "stays": stays, "parts": [len(part) for part in parts]})
    for part in parts:
        answers.write(part)
    answers.flush()
    return stays


def _answer(answers: BinaryIO, said: Said) -> None:
    answers.write(json.dumps(said).encode() + b"\n")
    answers.flush()


def _limit(seconds: float, bytes_more: int) -> None:
    """So much processor time from now on, and so much more memory than is taken now."""
    if resource is None:
        return
    used = time.process_time()
    resource.setrlimit(resource.RLIMIT_CPU, (math.ceil(used + seconds), resource.RLIM_INFINITY))
    with contextlib.suppress(OSError, ValueError, IndexError):  # no /proc, no limit of memory
        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[5])
        taken = pages * resource.getpagesize()
        resource.setrlimit(resource.RLIMIT_DATA, (taken + bytes_more + HEADROOM, resource.RLIM_INFINITY))
