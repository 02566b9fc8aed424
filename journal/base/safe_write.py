"""The one way files and folders come to their places: whole or not at all.

Whatever stops us half-way, a place holds what it held before or the whole of what is new. Until then the new
bytes lie in a scratch file beside it, hidden and never part of an archive.
"""

from __future__ import annotations

import contextlib
import errno
import itertools
import os
import re
import shutil
import threading
import time
import zlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

from journal.base.byte_progress import say_bytes

# -- a file --------------------------------------------------------------------------------------


def write_whole(path: Path, data: bytes, *, cache: bool = False) -> Path:
    """Put `data` at `path`, in the place of a file that is there, whose permissions it keeps; gives back `path`.

    It survives a power cut at any moment. `cache` is for what can be made again and may be written by several
    programs or threads at once: it does not wait for the disk. Raises OSError, and `path` is as it was.
    """
    with scratch_beside(path, shared=cache) as scratch:
        _fill(scratch, data, wait=not cache)
        with contextlib.suppress(OSError):  # there was none; or the disk knows no permissions
            shutil.copymode(path, scratch)
        scratch.replace(path)
    if not cache:
        sync_folder(path.parent)
    return path


def write_new(path: Path, data: bytes) -> None:
    """Write a file that must not be there yet, down to the disk. Raises FileExistsError, OSError."""
    with scratch_beside(path) as scratch:
        _fill(scratch, data, wait=True)
        try:
            os.link(scratch, path)  # a rename would put it in the place of what is there
        except OSError:
            if os.path.lexists(path):
                raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path)) from None
            scratch.rename(path)  # the disk has no such links


def copy_whole(source: Path, path: Path) -> None:
    """Put a copy of the file `source` at `path`, in the place of a file that is there. Raises OSError."""
    with scratch_beside(path) as scratch:
        shutil.copyfile(source, scratch)
        scratch.replace(path)


def move_over(source: Path, path: Path) -> None:
    """Move a file to `path`, on whatever disk, in the place of one that is there. Raises OSError."""
    try:
        source.replace(path)
    except OSError as trouble:
        if trouble.errno != errno.EXDEV:
            raise
        with scratch_beside(path) as scratch:
            with source.open("rb") as whole, scratch.open("wb") as sink:
                shutil.copyfileobj(whole, sink, 1 << 20)
                sink.flush()
                os.fsync(sink.fileno())
            scratch.replace(path)
        source.unlink()
    sync_folder(path.parent)


def link_or_copy(source: Path, path: Path | str) -> None:
    """The file `source` under a second name, or a copy of it where the disk has no such links. Raises OSError."""
    try:
        os.link(source, path)
    except OSError:
        copy_whole(source, Path(path))


def scratch_of(path: Path) -> Path:
    """Where a file is written before it is put at `path`; one left by a stopped run is written over."""
    return path.with_name(f".{path.name}.part")


@contextmanager
def scratch_beside(path: Path, *, shared: bool = False) -> Iterator[Path]:
    """Where to write what is then moved to `path`, gone at the end however that comes. Where several may write it at
    once (`shared`), each has a scratch file of its own.
    """
    # Not by `tempfile`: its files are private to this user, and a web server must read what is made here.
    scratch = scratch_of(path)
    if shared:
        scratch = scratch.with_suffix(f".{os.getpid()}-{threading.get_ident()}.part")
    path.parent.mkdir(parents=True, exist_ok=True)
    scratch.unlink(missing_ok=True)  # left by a run that was stopped
    try:
        yield scratch
    finally:
        scratch.unlink(missing_ok=True)


def _fill(scratch: Path, data: bytes, *, wait: bool) -> None:
    try:
        with scratch.open("wb") as sink:
            sink.write(data)
            if wait:
                sink.flush()
                os.fsync(sink.fileno())
    except OSError as trouble:
        trouble.filename = os.fspath(scratch.parent)  # a disk that is full tells no name
        raise


def sync_folder(folder: Path) -> None:
    """Make a rename in `folder` last; systems that cannot open a folder have no such step."""
    with contextlib.suppress(OSError):  # some network disks refuse as well; the rename itself has happened
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


# -- a folder ------------------------------------------------------------------------------------


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
    import tempfile  # late: an answer from a warm index writes nothing

    parent.mkdir(parents=True, exist_ok=True)
    folder = Path(tempfile.mkdtemp(prefix=f".{name}-{_machine()}-{os.getpid()}-", dir=parent))
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def sweep_staged(parent: Path, names: Iterable[str]) -> None:
    """Remove the folders that `staged` made in `parent` under one of the `names`, and scratch files there of what can
    be made again, where a stopped run left them: its program is gone from this machine, or they are two days old.
    """
    for folder in (path for name in names for path in parent.glob(f".{name}-*")):
        made = re.fullmatch(r"\.[a-z-]+-([0-9a-f]{6})-([0-9]+)-[^-]*", folder.name)
        with contextlib.suppress(OSError):
            old = time.time() - folder.stat().st_mtime > _SWEPT_SECONDS
            if old or (made and made[1] == _machine() and not _runs(int(made[2]))):
                shutil.rmtree(folder, ignore_errors=True)
    for file in left_scratch(parent):
        with contextlib.suppress(OSError):
            file.unlink()


def left_scratch(parent: Path) -> list[Path]:
    """The scratch files in a folder, of what several may write at once, whose program runs no more on this machine."""
    told = ((file, re.fullmatch(r".*\.([0-9]+)-[0-9]+\.part", file.name)) for file in parent.glob(".*.part"))
    return [file for file, made in told if made and not _runs(int(made[1]))]


_SWEPT_SECONDS = 2 * 86400


def _machine() -> str:
    """Six digits for this machine: a build folder may lie on a disk that several share."""
    import platform

    return f"{zlib.crc32(platform.node().encode()) & 0xFFFFFF:06x}"


def _runs(process: int) -> bool:
    """Whether a program still runs; taken for yes where the system cannot be asked without harm."""
    if os.name != "posix":
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True


def clear_folder(folder: Path) -> None:
    """Remove a folder with all that is in it, if it is there. Raises OSError."""
    with contextlib.suppress(FileNotFoundError):
        shutil.rmtree(folder)


def drop_file(folder: Path, name: str) -> None:
    """Remove the file `name` below `folder`, if it is there, and the folders between that are empty then."""
    path = folder / name
    path.unlink(missing_ok=True)
    with contextlib.suppress(OSError):
        for between in itertools.takewhile(lambda above: above != folder, path.parents):
            between.rmdir()


def move_new(made: Path, place: Path) -> None:
    """Give a finished folder or file its place in one move. Raises FileExistsError where anything is there, OSError."""
    if os.path.lexists(place):
        raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(place))
    made.rename(place)
    sync_folder(place.parent)


def move_all(made: Path, place: Path, names: Iterable[str]) -> None:
    """Move what goes by `names` out of one folder into another, in this order: all of it or nothing.

    Raises FileExistsError where anything of such a name is there, OSError.
    """
    moved: list[Path] = []
    try:
        for name in names:
            move_new(made / name, place / name)
            moved.append(place / name)
    except BaseException:
        for path in moved:
            with contextlib.suppress(OSError):
                shutil.rmtree(path) if path.is_dir() else path.unlink()
        raise


def in_the_way(place: Path, names: Iterable[str]) -> list[str]:
    """What stands where `names` are to come to in the folder `place`, or in the place of that folder itself."""
    if os.path.lexists(place) and not place.is_dir():
        return [str(place)]
    there = [place / name for name in names if os.path.lexists(place / name)]
    return [f"{path}/" if path.is_dir() else str(path) for path in there]


def land_folder(files: Mapping[str, bytes], folders: Sequence[str], place: Path, may_stay: Sequence[str] = ()) -> None:
    """Make `files` (paths relative to `place`) and empty `folders` below `place`.

    Where `place` does not exist it appears in one move with everything in it. Where it does, only
    names are added, and every name of its first level that is there already is in the way
    (`InTheWayError`, nothing is written), but for those of `may_stay`, which are left as they are.
    """
    tops = list(dict.fromkeys(name.split("/")[0] for name in (*files, *folders)))
    coming = [top for top in tops if top not in may_stay or not os.path.lexists(place / top)]
    if taken := in_the_way(place, coming):
        raise InTheWayError(taken)
    inside = place.is_dir()
    with staged(place if inside else _nearest_folder(place), "journal-begin") as beside:
        for name in folders:
            (beside / name).mkdir(parents=True, exist_ok=True)
        for name, data in files.items():
            if name.split("/")[0] in coming:
                write_new(beside / name, data)
        if inside:
            # The folder last: until it is there, what came before it is a settings file without a build.
            move_all(beside, place, sorted(coming, key=lambda top: (beside / top).is_dir()))
        else:
            place.parent.mkdir(parents=True, exist_ok=True)
            beside.chmod(0o777 & ~umask())
            move_new(beside, place)


def _nearest_folder(place: Path) -> Path:
    """The first folder above `place` that is there: staging there makes the final move a rename."""
    parent = place.absolute().parent
    while not parent.is_dir():
        parent = parent.parent
    return parent


def free_bytes(folder: Path) -> int:
    """Room on the disk of a folder, which need not be there yet."""
    while not folder.is_dir():
        folder = folder.parent
    return shutil.disk_usage(folder).free


def check_room(folder: Path, sizes: Iterable[int], what: str, why: str = "") -> str:
    """How much room `what`, made of files of such sizes, takes on the disk of a folder, and how much is free, in words
    with `why` behind them; OSError with the same words where that is not enough.
    """
    # The shortest file takes a whole block, 128 kB on some memory sticks. What a disk calls its block is often another
    # figure (1 MB on network disks), so it is tried; 4 kB where the system does not tell, and NTFS is as usual.
    with scratch_beside(folder / "room") as scratch:
        _fill(scratch, b"x", wait=True)
        block = max(4096, 512 * getattr(scratch.stat(), "st_blocks", 0))
    needed, free = sum(-(-size // block) * block for size in sizes), free_bytes(folder)
    told = f"{what} needs about {say_bytes(needed)}, and {say_bytes(free)} are free{why}"
    if free < needed:
        raise OSError(errno.ENOSPC, f"{told}; make room there, or name another disk", str(folder.parent))
    return told


def umask() -> int:
    """What this process takes away from the permissions of new files."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
