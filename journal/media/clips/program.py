"""ffmpeg, in the build that the wheel `imageio-ffmpeg` carries, run with care.

It is given one film, no network, and the reader of the one container that the film was found to be: a file that
pretends to be a film cannot make it open others. Its processor time and memory are bounded, so that a hostile one
neither runs for ever nor takes the machine with it.
"""

from __future__ import annotations

import contextlib
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

LONGEST_S = 3600
"""Of the clock, for one film; of processor time it gets as much as is said each time."""

MOST_MEMORY = 6_000_000_000
"""Bytes; a 4K film took 0.64 thousand million with two processors, and takes more with more of them."""

MOST_BYTES = 4_000_000_000
"""Of any file that it writes."""

_MOST_COMPLAINTS = 4_000_000
DAMAGED = "the film is damaged, or of a kind that cannot be read here"
TOO_LONG = "making its film takes more time or memory than any film of its length should"
NO_FFMPEG = "the program that makes films for the site (ffmpeg) is not installed"
UNREADABLE = "the file cannot be read"
NOT_A_CLIP = "not a short film that can be read here"
SOUND_ALONE = "it holds sound alone, no picture"
UNKNOWN_CODE = "its pictures are packed in a way that cannot be read here"
NOT_SO_LONG = "it has ended before {start} s, where `from` is"

_EXPORT = "export it as MP4 (H.264) and put that in its place"
_HINTS = {
    NO_FFMPEG: "install ffmpeg on this machine",
    NOT_A_CLIP: _EXPORT,
    UNKNOWN_CODE: _EXPORT,
    TOO_LONG: _EXPORT,
    SOUND_ALONE: "put the film in its place, or take it out of the folder",
}
_CAREFULLY = ("-hide_banner", "-nostdin", "-y", "-protocol_whitelist", "file,pipe")

OnSecond = Callable[[int], None]


class FilmError(Exception):
    """The film could not be made; the message says why in plain words."""


def hint_for(trouble: str) -> str:
    """How to mend what keeps a film from being shown."""
    if trouble.endswith(NOT_SO_LONG.partition("}")[2]):
        return "name a moment within it, in seconds or as 1:05"
    return _HINTS.get(trouble, "copy it again from the phone or camera and put that in its place")


@lru_cache(maxsize=1)
def find_ffmpeg() -> str | None:
    """The program, or None where the wheel did not bring one."""
    try:
        import imageio_ffmpeg

        return str(imageio_ffmpeg.get_ffmpeg_exe())
    except (ImportError, RuntimeError):
        return None


@lru_cache(maxsize=1)
def encoder_version() -> str:
    """Part of every key: another encoder makes another film."""
    program = find_ffmpeg()
    if program is None:
        return ""
    done = subprocess.run([program, "-version"], capture_output=True, text=True, check=False)
    return done.stdout.partition("\n")[0]


def run_ffmpeg(
    folder: Path, *arguments: Sequence[str], processor_s: int, on_second: OnSecond | None = None
) -> tuple[str, ...]:
    """Let the program do as told in `folder`, for so many seconds of processor time and an hour at most; the lines that
    its decoders complain with. Its report on how far it is becomes whole seconds of film. FilmError where it fails.
    """
    words = [word for some in arguments for word in some]
    limit = time.monotonic() + LONGEST_S
    with tempfile.TemporaryFile() as complaints:
        progress = ("-loglevel", "repeat+warning", "-nostats", "-progress", "pipe:1")
        with _started([*progress, *words], processor_s, stderr=complaints, cwd=folder, text=True) as running:
            for line in running.stdout or ():
                if time.monotonic() > limit:
                    raise FilmError(TOO_LONG)
                name, _, value = line.strip().partition("=")
                if on_second and name == "out_time_us" and value.isdecimal():
                    on_second(int(value) // 1_000_000)
        if running.returncode:
            raise FilmError(TOO_LONG if _out_of_time(running) else DAMAGED)
        complaints.seek(0)
        return tuple(complaints.read(_MOST_COMPLAINTS).decode("utf-8", "replace").splitlines())


def ask_ffmpeg(
    *arguments: str, folder: Path | None = None, processor_s: int = 60, passed: Sequence[int] = ()
) -> tuple[bytes, str]:
    """(what the program writes of a film, what it says of it). That it ends in failure is no error here: it always
    does where nothing is to be written. `passed` are open files that it reads, as `/dev/fd/NUMBER`.
    """
    with _started(arguments, processor_s, stderr=subprocess.PIPE, cwd=folder, pass_fds=passed) as running:
        try:
            written, said = running.communicate(timeout=LONGEST_S / 6)
        except subprocess.TimeoutExpired:
            raise FilmError(TOO_LONG) from None
    if _out_of_time(running):
        raise FilmError(TOO_LONG)
    return written, said.decode("utf-8", "replace")


@contextlib.contextmanager
def _started(arguments: Sequence[str], processor_s: int, **how: Any) -> Iterator[subprocess.Popen[Any]]:
    program = find_ffmpeg()
    if program is None:
        raise FilmError(NO_FFMPEG)
    command = [program, *_CAREFULLY, *arguments]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stdin=subprocess.DEVNULL, **how) as running:
        try:
            _bound(running.pid, processor_s)
            yield running
        except BaseException:
            running.kill()
            raise


def _bound(pid: int, processor_s: int) -> None:
    """From outside, where the system lets one: what runs between fork and exec is not safe beside threads."""
    if sys.platform != "linux":
        return
    import resource

    bounds = (
        (resource.RLIMIT_CPU, processor_s),
        (resource.RLIMIT_DATA, MOST_MEMORY),
        (resource.RLIMIT_FSIZE, MOST_BYTES),
    )
    for what, most in bounds:
        with contextlib.suppress(OSError):  # it has ended already
            _, hard = resource.prlimit(pid, what)
            bound = most if hard == resource.RLIM_INFINITY else min(most, hard)
            resource.prlimit(pid, what, (bound, bound))  # the program takes the softer warning for a wish to end well


def _out_of_time(running: subprocess.Popen[Any]) -> bool:
    return running.returncode == -getattr(signal, "SIGKILL", 0) < 0
