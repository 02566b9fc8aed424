"""A folder of this machine: a stick, a mounted disk, what a web server shows."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from journal.base.digests import file_sha256
from journal.base.safe_write import copy_whole, write_whole
from journal.commands.publishing.targets import Mirror, NotSentError, Stands


class FolderTarget(Mirror):
    """A folder that a site is mirrored into; messages call it `said`."""

    def __init__(self, folder: Path, said: str = "") -> None:
        if folder.exists() and not folder.is_dir():
            raise NotSentError(f"{folder} is a file; name a folder")
        self._folder = folder
        self.said, self.kept_as = said or str(folder), str(folder)
        self.settings = {"folder": self.kept_as}

    def look(self, name: str) -> Stands | None:
        """What stands there."""
        path = self._folder / name
        if is_link(path):
            return Stands.LINK
        return Stands.FOLDER if path.is_dir() else Stands.FILE if path.exists() else None

    def digest_of(self, name: str) -> str | None:
        """Read and reckoned."""
        path = self._folder / name
        if path.is_file() and not path.is_symlink():
            return file_sha256(path)[0]
        return "" if os.path.lexists(path) else None

    def read(self, name: str) -> bytes:
        """The whole file."""
        with suppress(OSError):
            return (self._folder / name).read_bytes()
        return b""

    def put(self, name: str, data: Path | bytes) -> list[int]:
        """By a scratch file beside it; what it is here tells its digest, so nothing else is noted."""
        if isinstance(data, bytes):
            write_whole(self._folder / name, data)
        else:
            copy_whole(data, self._folder / name)
        return []

    def make_folder(self, name: str) -> None:
        """With all that it lies in."""
        (self._folder / name).mkdir(parents=True, exist_ok=True)

    def drop(self, name: str) -> None:
        """A folder only if it is empty."""
        path = self._folder / name
        if self.look(name) is Stands.FOLDER:
            with suppress(OSError):
                path.rmdir()
        else:
            path.unlink(missing_ok=True)


def free_folder(root: Path, folder: Path, *, remembered: bool) -> Path:
    """Where `folder` truly lies. Raises NotSentError where that is in a build, holds the build `root`, where the
    folder is itself a link, or is `remembered` and not there.
    """
    if remembered and not folder.is_dir():
        # A stick that is not plugged in must not become a folder of the machine's own disk.
        raise NotSentError(f"{folder} is not there now; if it shall be made, say so: --folder {folder}")
    if is_link(folder):
        raise NotSentError(f"{folder} is a link to {folder.resolve()}; name that folder itself if you mean it")
    # Without `..` and links: what would be made on the way to them could lie in the build.
    place = folder.resolve()
    for above in (place, *place.parents):
        if _same(above, root) or (above / "content/build.yml").is_file():
            raise NotSentError(
                f"{folder} lies in the build folder {above}, between its sources; name a folder outside of it"
            )
    if any(_same(place, above) for above in root.resolve().parents):
        raise NotSentError(f"{folder} holds the build folder {root}; name a folder of its own for the site")
    return place


def _same(one: Path, other: Path) -> bool:
    """Whether both are one folder, however it is spelled: disks may not mind case."""
    try:
        return one.samefile(other)
    except OSError:
        return False


def is_link(path: Path) -> bool:
    """Whether a link stands there: a symbolic one, or on Windows a junction."""
    return path.is_symlink() or getattr(os.path, "isjunction", os.path.islink)(path)
