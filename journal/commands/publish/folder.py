"""Sending a site to a folder: a stick, a mounted disk, what a web server shows.

Like a mirror that knows its own work: what it wrote is in a list beside it, and only what is on the
list is ever changed or removed.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from journal.base.byte_progress import Progress, silent
from journal.base.digests import file_sha256
from journal.base.safe_write import copy_whole, drop_file, write_whole

LIST = ".journal-published.json"
_ABOUT = "Written by journal publish; the files below are its own and are replaced or removed with the site."


class NotSentError(Exception):
    """Nothing was sent; the message says why, `names` what is to blame. `unreachable` tells that the target
    could not be read or written, rather than that it was the wrong one.
    """

    def __init__(self, message: str, names: tuple[str, ...] = (), *, unreachable: bool = False) -> None:
        super().__init__(message)
        self.names = names
        self.unreachable = unreachable


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """What sending would do, by path. `kept` were written by us, changed by somebody since, and are no
    longer part of the site: they are left where they are.
    """

    new: tuple[str, ...] = ()
    changed: tuple[str, ...] = ()
    same: tuple[str, ...] = ()
    gone: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()

    @property
    def to_send(self) -> tuple[str, ...]:
        """Paths whose bytes have to be sent."""
        return (*self.new, *self.changed)


def read_list(folder: Path) -> dict[str, str]:
    """Path -> SHA-256 of what we wrote into `folder`; nothing where there is no list or it makes no sense."""
    try:
        told = json.loads((folder / LIST).read_bytes())
        files = told["files"]
    except (OSError, ValueError, KeyError, TypeError):
        return {}
    good = isinstance(files, dict) and all(isinstance(digest, str) and _inside(name) for name, digest in files.items())
    return files if good else {}


def _inside(name: str) -> bool:
    """Whether a path of the list stays below its folder."""
    parts = name.replace("\\", "/").split("/")
    return bool(name) and not name.startswith("/") and ":" not in parts[0] and ".." not in parts


def plan_folder(digests: Mapping[str, str], folder: Path) -> Changes:
    """What sending the files of `digests` (path -> SHA-256) to `folder` would do.

    Raises NotSentError where a file that is not ours stands in the way.
    """
    if folder.exists() and not folder.is_dir():
        raise NotSentError(f"{folder} is a file; name a folder")
    listed = read_list(folder)
    new, changed, same, strangers = [], [], [], []
    for name, digest in sorted(digests.items()):
        there = folder / name
        if not os.path.lexists(there):
            new.append(name)
            continue
        found = _digest(there)
        if found == digest:
            same.append(name)
        elif name in listed:
            changed.append(name)
        else:
            strangers.append(name)
    if strangers:
        raise NotSentError(
            f"{folder} holds files of the same names that were not published from here; nothing was sent. "
            "Name an empty folder, or move them away first",
            tuple(strangers),
        )
    gone = [name for name in sorted(listed.keys() - digests.keys()) if os.path.lexists(folder / name)]
    kept = tuple(name for name in gone if _digest(folder / name) != listed[name])
    return Changes(
        new=tuple(new),
        changed=tuple(changed),
        same=tuple(same),
        gone=tuple(name for name in gone if name not in kept),
        kept=kept,
    )


def send_to_folder(
    site: Path, digests: Mapping[str, str], folder: Path, changes: Changes, progress: Progress = silent
) -> None:
    """Do what `plan_folder` planned. Pictures and styles come before the pages that show them, what is
    gone goes last; every file lands whole. OSError from the disk leaves a list that knows what is ours.
    """
    folder.mkdir(parents=True, exist_ok=True)
    before = read_list(folder)
    # Until all is done the list holds both, so that a stopped run is cleaned up by the next one.
    _write_list(folder, {**before, **digests})
    order = sorted(changes.to_send, key=lambda name: (name.endswith((".html", ".xml", ".json")), name))
    for number, name in enumerate(order, start=1):
        copy_whole(site / name, folder / name)
        progress(number, len(order))
    for name in changes.gone:
        drop_file(folder, name)
    _write_list(folder, dict(digests))


def _write_list(folder: Path, digests: Mapping[str, str]) -> None:
    data = json.dumps({"about": _ABOUT, "files": dict(sorted(digests.items()))}, indent=1).encode()
    write_whole(folder / LIST, data)


def _digest(path: Path) -> str:
    return "" if path.is_symlink() or not path.is_file() else file_sha256(path)[0]
