"""Whether anything that a site is made from differs from the last time; asked before the program is loaded.

What is looked at: every file under content/, mkdocs.yml, the builder's own templates, the program with all that
is installed beside it, the day, and the site itself as it stands. Files are told by size and times, as a build
tool does; one that was written within a few seconds of the look is told by its content as well, since a second
writing in the same tick of the clock would not show.
"""

from __future__ import annotations

import contextlib
import json
import os
import stat
import sys
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

from journal.base.clock import today
from journal.base.safe_write import write_whole

NOTE = Path(".journal/site-as-made.json")
"""Beside content/: what the last site was made from. It may be deleted at any time."""

PUBLISHED = Path(".journal/published.json")
"""Beside content/: the pages of the site that was sent last (`published`)."""

FRESH_SECONDS = 3
"""Some disks keep times to two seconds (FAT)."""

Row = tuple[str, int, int, int, int]
"""Path, size, time written and time changed in nanoseconds, number of the file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Inputs:
    """What the files and folders at `places` look like, as one digest; `fresh` maps files just written to their
    SHA-256.
    """

    places: tuple[str, ...]
    digest: str
    fresh: dict[str, str]


def digest_inputs(root: Path) -> Inputs:
    """What the build folder `root`, the program and the day look like now."""
    about = (today().isoformat(), os.environ.get("SOURCE_DATE_EPOCH", ""), sys.version, _program())
    return digest_files((root / "content", root / "mkdocs.yml", root / PUBLISHED), about)


def digest_files(places: Iterable[Path], about: object = None) -> Inputs:
    """What these files and folders look like now, and whatever else `about` tells."""
    now, places = time.time_ns(), tuple(places)
    rows = [row for place in places for row in _rows(place)]
    fresh = {}
    for path, _, written, changed, _ in rows:
        if max(written, changed) > now - FRESH_SECONDS * 10**9:
            with contextlib.suppress(OSError):
                fresh[path] = sha256(Path(path).read_bytes()).hexdigest()
    digest = sha256(repr((about, rows)).encode()).hexdigest()
    return Inputs(places=tuple(map(str, places)), digest=digest, fresh=fresh)


def recall(root: Path, place: Path | None, inputs: Inputs) -> dict[str, Any] | None:
    """What was told when the site that stands was made, if everything is as it was then; else None.

    `place` is where the site is wanted, None for where it was put last without being asked; `inputs` is how the build
    folder looks now.
    """
    try:
        note = json.loads((root / NOTE).read_bytes())
        if note["asked"] != _asked(place):
            return None
        # The site is looked through last: it has the most files.
        same = (
            inputs.digest == note["inputs"][0]
            and digest_files(map(Path, note["others"])).digest == note["inputs"][1]
            and {path: sha256(Path(path).read_bytes()).hexdigest() for path in note["fresh"]} == note["fresh"]
            and _site(Path(note["folder"])) == note["site"]
        )
        return dict(note["told"]) if same else None
    except (OSError, ValueError, KeyError, TypeError):
        return None


def remember(
    root: Path, inputs: Inputs, beside: Inputs, *, place: Path | None, folder: Path, told: dict[str, Any]
) -> None:
    """Note down that `folder` holds the site of `inputs` and of what lies `beside` them, as both looked before they
    were read, and what was `told`; a note that cannot be written only costs time later.
    """
    note = {
        "asked": _asked(place),
        "inputs": [inputs.digest, beside.digest],
        "fresh": inputs.fresh | beside.fresh,
        "others": beside.places,
        "folder": str(folder),
        "site": _site(folder),
        "told": told,
    }
    with contextlib.suppress(OSError):
        write_whole(root / NOTE, json.dumps(note).encode(), cache=True)


def forget(root: Path) -> None:
    """A site is being made: until it is whole nothing is known of it."""
    with contextlib.suppress(OSError):
        (root / NOTE).unlink(missing_ok=True)


def _asked(place: Path | None) -> str:
    return str(place.absolute()) if place else ""


def _program() -> str:
    """Every file of ours, and the names and versions of everything installed beside it."""
    package = Path(__file__).parents[1]
    ours = [row for folder in (package, package.parent / "theme_overrides") for row in _rows(folder)]
    installed = [
        name
        for folder in map(Path, sys.path)
        if folder.name.endswith("-packages") and folder.is_dir()
        for name in sorted(path.name for path in folder.iterdir())
    ]
    return sha256(repr((ours, installed)).encode()).hexdigest()


def _site(folder: Path) -> str:
    """The site as it stands: names, sizes and times written (a picture's other times change with its second name)."""
    rows = [(path, size, written) for path, size, written, _, _ in _rows(folder)]
    return sha256(repr(rows).encode()).hexdigest()


def _rows(place: Path) -> Iterator[Row]:
    """A row for each file at or below `place`, in order."""
    with contextlib.suppress(FileNotFoundError):
        if place.is_file():
            yield _row(str(place), place.stat())
            return
    folders, seen = [str(place)], set()
    while folders:
        with contextlib.suppress(FileNotFoundError, NotADirectoryError), os.scandir(folders.pop()) as found:
            for item in sorted(found, key=lambda item: item.name):
                told = item.stat()
                if not stat.S_ISDIR(told.st_mode):
                    yield _row(item.path, told)
                elif item.name != "__pycache__" and (told.st_dev, told.st_ino) not in seen:
                    # A link may lead back to a folder above it.
                    seen.add((told.st_dev, told.st_ino))
                    folders.append(item.path)


def _row(path: str, told: os.stat_result) -> Row:
    return path, told.st_size, told.st_mtime_ns, told.st_ctime_ns, told.st_ino
