"""A folder made beside the one it replaces, then put in its place in one move.

A build that is stopped at any moment leaves the previous folder whole: until the move nothing of
it has been touched, and the move itself is one rename (an exchange, where the system knows it).
The folder that was replaced may be kept as a spare, from which the next build takes what has not
changed (`journal.making.incremental` knows what that is): making and removing 20,000 links is most of a build.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import os
import re
import shutil
import sys
from dataclasses import dataclass
from pathlib import Path

from journal.base.safe_write import clear_folder, sync_folder

_AT_FDCWD = -100
_RENAME_EXCHANGE = 2
_MADE_BY = re.compile(rb'<meta name="generator" content="(?:build-journal|mkdocs)', re.IGNORECASE)


class NotOursError(Exception):
    """The folder to be replaced holds something else than a site; the message says so to the user."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HalfMade:
    """`building` is being filled, `place` is where it will stand; `previous` is where what stands there now waits for
    a moment, on systems that cannot exchange the two in one step.
    """

    building: Path
    place: Path
    previous: Path


def prepare(place: Path, spare: Path | None = None) -> HalfMade:
    """A folder beside `place`: the spare one where there is one, else empty. Leavings of builds that
    were stopped are cleared away first, and an exchange that was stopped half-way is undone.

    Raises NotOursError where `place` is no site and no empty folder, OSError where nothing can be written.
    """
    place = place.resolve()
    building = place.with_name(f"{place.name}.building-{os.getpid()}")
    half_made = HalfMade(building=building, place=place, previous=place.with_name(f"{place.name}.previous"))
    undo_stopped(half_made)
    _check_ours(place)
    for left in place.parent.glob(f"{place.name}.building-*"):
        if not _alive(left.name.rpartition("-")[2]):
            shutil.rmtree(left, ignore_errors=True)
    if spare is None or not _taken(spare, building):
        building.mkdir(parents=True)
    return half_made


def undo_stopped(half_made: HalfMade) -> None:
    """Put back what a change of places that was stopped half-way left aside; drop it where the new folder came in, and
    what was half made.
    """
    previous, place, building = half_made.previous, half_made.place, half_made.building
    clear_folder(building)
    if previous.is_dir() and place.exists():
        # Under the name of what is half made: a folder half removed is never taken for a whole one.
        clear_folder(previous.rename(building))
    elif previous.is_dir():
        previous.rename(place)


def finish(half_made: HalfMade, spare: Path | None = None) -> None:
    """Put the new folder in its place; the old one becomes the spare or is removed. Names that begin
    with a dot (a repository, a host's settings) move over from the old one.
    """
    place = half_made.place
    if not place.exists():
        half_made.building.rename(place)
        return
    old = change_places(half_made)
    for kept in list(old.iterdir()):
        if kept.name.startswith(".") and not (place / kept.name).exists():
            kept.rename(place / kept.name)
    if spare is None or spare.exists() or not _taken(old, spare):
        shutil.rmtree(old)


def _taken(folder: Path, to: Path) -> bool:
    """Move a folder, if it is there and the move is one rename; of two builds at once one gets it."""
    try:
        to.parent.mkdir(parents=True, exist_ok=True)
        folder.rename(to)
    except OSError:
        return False
    return True


def abandon(half_made: HalfMade) -> None:
    """Drop the half-made folder."""
    shutil.rmtree(half_made.building, ignore_errors=True)


def change_places(half_made: HalfMade) -> Path:
    """Let the new folder stand where the old one does; where that lies afterwards. OSError where both stay."""
    building, place, previous = half_made.building, half_made.place, half_made.previous
    old = building
    if not _exchange(building, place):
        try:
            old = place.rename(previous)
            building.rename(place)
        except BaseException:
            if not place.exists() and previous.exists():
                previous.rename(place)
            raise
    sync_folder(place.parent)
    return old


def _exchange(one: Path, other: Path) -> bool:
    """Let two folders change names in one step; False where the system or the disk cannot."""
    if not sys.platform.startswith("linux"):
        return False
    try:
        renameat2 = ctypes.CDLL(None, use_errno=True).renameat2
    except (OSError, AttributeError):
        return False
    if renameat2(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other), _RENAME_EXCHANGE) == 0:
        return True
    number = ctypes.get_errno()
    if number in (errno.ENOSYS, errno.EINVAL, errno.ENOTSUP):
        return False
    raise OSError(number, os.strerror(number), str(other))


def _check_ours(place: Path) -> None:
    """A slip in `--out` must not cost anybody their documents."""
    if not place.exists():
        return
    if not place.is_dir():
        raise NotOursError(f"{place} is a file; name a folder for the site")
    if all(found.name.startswith(".") for found in place.iterdir()):
        return
    head = b""
    with contextlib.suppress(OSError), (place / "index.html").open("rb") as index:
        head = index.read(8192)
    if not _MADE_BY.search(head):
        raise NotOursError(
            f"{place} holds other things than a site, and all of it would be replaced; name an empty one"
        )


def _alive(pid: str) -> bool:
    if not pid.isdigit():
        return False
    try:
        os.kill(int(pid), 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return int(pid) != os.getpid()
