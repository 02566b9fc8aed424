"""Putting new files in their place: whole or not at all, and never over anything that is there."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path


class InTheWayError(Exception):
    """Something stands where a new file belongs; `names` are the places, as the user wrote them."""

    def __init__(self, names: Sequence[str]) -> None:
        super().__init__(", ".join(names))
        self.names = tuple(names)


@contextmanager
def staged(parent: Path, name: str) -> Iterator[Path]:
    """An empty folder in `parent`, gone again at the end with whatever is still in it.

    Its name begins with a dot, so that no reading command takes it for content should the
    machine be switched off meanwhile.
    """
    parent.mkdir(parents=True, exist_ok=True)
    folder = Path(tempfile.mkdtemp(prefix=f".{name}-", dir=parent))
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def write_new(path: Path, data: bytes) -> None:
    """Write a file that must not be there yet, down to the disk. Raises FileExistsError, OSError."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("xb") as out:
        out.write(data)
        out.flush()
        os.fsync(out.fileno())


def land_folder(files: Mapping[str, bytes], folders: Sequence[str], place: Path, may_stay: Sequence[str] = ()) -> None:
    """Make `files` (paths relative to `place`) and empty `folders` below `place`.

    Where `place` does not exist it appears in one move with everything in it. Where it does, only
    names are added, and every name of its first level that is there already is in the way
    (`InTheWayError`, nothing is written), but for those of `may_stay`, which are left as they are.
    """
    tops = list(dict.fromkeys(name.split("/")[0] for name in (*files, *folders)))
    staying = {top for top in tops if top in may_stay and os.path.lexists(place / top)}
    if os.path.lexists(place):
        if not place.is_dir():
            raise InTheWayError([str(place)])
        taken = [top for top in tops if top not in staying and os.path.lexists(place / top)]
        if taken:
            raise InTheWayError([f"{place / top}{'/' if (place / top).is_dir() else ''}" for top in taken])
    inside = place.is_dir()
    parent = place if inside else _nearest_folder(place)
    with staged(parent, "journal-begin") as beside:
        for name in folders:
            (beside / name).mkdir(parents=True, exist_ok=True)
        for name, data in files.items():
            if name.split("/")[0] not in staying:
                write_new(beside / name, data)
        if not inside:
            place.parent.mkdir(parents=True, exist_ok=True)
            beside.chmod(0o777 & ~umask())
            beside.rename(place)
            return
        moved: list[Path] = []
        try:
            # The folder last: until it is there, what came before it is a settings file without a build.
            for top in sorted(set(tops) - staying, key=lambda top: (beside / top).is_dir()):
                (beside / top).rename(place / top)
                moved.append(place / top)
        except BaseException:
            for path in moved:
                with contextlib.suppress(OSError):
                    shutil.rmtree(path) if path.is_dir() else path.unlink()
            raise


def _nearest_folder(place: Path) -> Path:
    """The first folder above `place` that is there: staging there makes the final move a rename."""
    parent = place.absolute().parent
    while not parent.is_dir():
        parent = parent.parent
    return parent


def umask() -> int:
    """What this process takes away from the permissions of new files."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
