"""Runs that are stopped at any moment: what stands is the old or the new whole, and the next run needs no help.

Each case runs in a process of its own, in which the n-th of all calls that change the disk or open something fails or
is the last. `STOPPED_EVERY=1 pytest -m slow -s tests/record/test_stopped.py` tries every n and prints how many.
"""

from __future__ import annotations

import builtins
import errno
import io
import os
import shutil
import traceback
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from archiving import ENTRY, MADE_AT, opened, plain_parts, tree, write_build
from making import entry

from journal.base import digests, replace_folder
from journal.base.problems import has_errors
from journal.record.archive import ArchivePlace, write_archive
from journal.record.chain import CHAIN, HEAD
from journal.record.forks import join_chains
from journal.record.seals import seal
from journal.record.source import restore_source
from journal.record.verify import verify
from journal.view.view import View

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a process that can be copied")

CHANGES = ("rename", "replace", "unlink", "remove", "rmdir", "mkdir", "link", "fsync", "utime", "chmod")
OPENS = ("open", "scandir", "listdir")
COPY = "content/seals (conflicted copy 2026-11-27).jsonl"
NEEDS_ROOM = ("write", "mkdir", "link", "fsync", "create")

Raise = Callable[[], BaseException]


@dataclass(frozen=True)
class Stop:
    """How the n-th call ends: only calls of `kinds` fail, `on` and on or once; without `trouble` the process dies."""

    name: str
    trouble: Raise | None = None
    kinds: tuple[str, ...] = ()
    on: bool = False


def fails(number: int) -> Raise:
    """The disk or the system refuses."""
    return lambda: OSError(number, os.strerror(number))


STOPS = (
    Stop("killed"),
    Stop("disk fails once", fails(errno.EIO)),
    Stop("disk fails from here on", fails(errno.EIO), on=True),
    Stop("disk full", fails(errno.ENOSPC), NEEDS_ROOM, on=True),
    Stop("no more handles", fails(errno.EMFILE), (*OPENS, "create"), on=True),
    Stop("Ctrl-C", KeyboardInterrupt),
    Stop("told to end", lambda: SystemExit(143)),
)


class Calls:
    """Counts the calls of this process that a stop concerns, and stops at number `at` (0: never)."""

    def __init__(self, stop: Stop, at: int, exchange: bool) -> None:
        self.stop, self.at, self.count = stop, at, 0
        for name in CHANGES + OPENS:
            setattr(os, name, self.watched(name, getattr(os, name)))
        self.open = io.open
        io.open = builtins.open = self.opened  # type: ignore[assignment]
        real = replace_folder._exchange
        replace_folder._exchange = self.watched("rename", real if exchange else lambda one, other: False)
        os.sync = lambda: None  # the whole machine would wait
        digests.THREADS = 1  # type: ignore[misc]  # the n-th call is the same one every time

    def hit(self, kind: str, before_death: Callable[[], object] = lambda: None) -> None:
        """One more call."""
        if self.stop.kinds and kind not in self.stop.kinds:
            return
        self.count += 1
        if self.at and (self.count == self.at or (self.stop.on and self.count > self.at)):
            if self.stop.trouble is None:
                before_death()
                os._exit(9)
            raise self.stop.trouble()

    def watched(self, kind: str, real: Callable[..., Any]) -> Callable[..., Any]:
        """`real`, counted."""

        def call(*arguments: Any, **more: Any) -> Any:
            self.hit(kind)
            return real(*arguments, **more)

        return call

    def opened(self, file: Any, mode: str = "r", *arguments: Any, **more: Any) -> Any:
        """As `open`, with every write counted."""
        if isinstance(file, int) or not set(mode) & set("wxa+"):
            self.hit("open")
            return self.open(file, mode, *arguments, **more)
        self.hit("create")
        calls = self

        class Watched(io.FileIO):
            def write(self, data: Any) -> int:
                calls.hit("write", lambda: super(Watched, self).write(bytes(data)[: len(data) // 2]))
                return super().write(data)

        raw = Watched(file, mode.replace("b", ""))
        whole: Any = io.BufferedRandom(raw) if "+" in mode else io.BufferedWriter(raw)
        return whole if "b" in mode else io.TextIOWrapper(whole, encoding="utf-8")


def run(work: Callable[[], bool], stop: Stop = STOPS[0], at: int = 0, *, exchange: bool = True) -> tuple[int, int]:
    """(exit code of a process that does `work`: 0 where it says that it did, how many calls it made)."""
    back, out = os.pipe()
    child = os.fork()
    if not child:
        code = 7
        try:
            calls = Calls(stop, at, exchange)
            try:
                code = 0 if work() else 1
            except OSError:
                code = 3
            except (KeyboardInterrupt, SystemExit):
                code = 5
            except BaseException:
                traceback.print_exc()
            os.write(out, calls.count.to_bytes(4, "big"))
        finally:
            os._exit(code)
    os.close(out)
    count = int.from_bytes(os.read(back, 4), "big")
    os.close(back)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), count


# --- what is stopped -----------------------------------------------------------------------------


def names_in(folder: Path) -> set[str]:
    """What lies in a folder, hidden or not."""
    return {item.name for item in folder.iterdir()}


@dataclass
class Case:
    """`prepared` is copied and `work` done in the copy; `states` are what may stand there after a stop, `new` last."""

    prepared: Path
    work: Callable[[Path], bool]
    look: Callable[[Path], object]
    exchange: bool = True

    def try_all(self, folder: Path, stop: Stop, every: int, offset: int) -> tuple[int, int]:
        """Stop at every n-th call; (calls, stops tried)."""
        old, names = self.look(self.prepared), names_in(self.prepared)
        fresh = shutil.copytree(self.prepared, folder / "whole", symlinks=True)
        code, calls = run(lambda: self.work(fresh), stop, exchange=self.exchange)
        assert code == 0
        new, after = self.look(fresh), names_in(fresh)
        assert new != old
        assert not [name for name in after - names if name.startswith(".")]
        tried = 0
        for at in range(1 + offset % every, calls + 1, every):
            here = shutil.copytree(self.prepared, folder / f"{at}", symlinks=True)
            told = f"{stop.name} at call {at} of {calls}"
            code, _ = run(lambda here=here: self.work(here), stop, at, exchange=self.exchange)  # type: ignore[misc]
            assert code != 7, told
            stands = self.look(here)
            if code == 1 and isinstance(stands, dict) and isinstance(new, dict) and not old:
                # A file of the archive that could not be read is told by name, and the rest of the build is there.
                whole = {name: data for name, data in stands.items() if not name.startswith("damaged/")}
                assert whole.items() <= new.items(), told
                continue
            assert stands in (old, new), told
            assert code != 0 or stands == new, told
            code, _ = run(lambda here=here: self.work(here), exchange=self.exchange)  # type: ignore[misc]
            assert code == 0 or stands == new, told
            assert self.look(here) == new, told
            assert names_in(here) == after, told
            shutil.rmtree(here)
            tried += 1
        return calls, tried


def archiving(folder: Path, *, second: bool, zipped: bool) -> tuple[Path, Callable[[Path], bool], View]:
    """A folder with a build of ten files, sealed, and perhaps an earlier archive of it; and the run that archives."""
    root = write_build(folder / "build")
    seal(root, opened(root), now=MADE_AT, ask=lambda change: "a reason")
    name = "out.zip" if zipped else "out"

    def work(here: Path, view: View, days: int) -> bool:
        place = ArchivePlace(path=here / name, zipped=zipped)
        made_at = MADE_AT + timedelta(days=days)
        return write_archive(here / "build", view, place, plain_parts(), made_at=made_at)[0] is not None

    if second:
        assert work(folder, opened(root), 0)
        (root / f"content/entries/{ENTRY}/IMG_2.jpg").write_bytes(b"another picture altogether")
        seal(root, opened(root), now=MADE_AT, ask=lambda change: "a reason")
    view = opened(root)
    return folder, lambda here: work(here, view, 1), view


def archive_there(here: Path) -> object:
    """The archive at its place as `journal verify` finds it: whole, or none."""
    path = here / ("out.zip" if (here / "out.zip").exists() else "out")
    if not path.exists() and not (here / ".out.old").exists():
        return None
    assert verify(path).ok
    found = path if path.exists() else here / ".out.old"
    return found.read_bytes() if found.is_file() else tree(found)


def cases(folder: Path, what: str) -> Case:
    """What is named in CASES."""
    if what.startswith(("archive", "zip")):
        zipped, second = what.startswith("zip"), "second" in what
        prepared, work, _ = archiving(folder / "prepared", second=second, zipped=zipped)
        return Case(prepared, work, archive_there, exchange="two renames" not in what)
    if what == "seal":
        root = write_build(folder / "prepared/build")
        seal(root, opened(root), now=MADE_AT, ask=lambda change: "a reason")
        (root / f"content/entries/{ENTRY}/IMG_2.jpg").write_bytes(b"another picture altogether")
        view = opened(root)

        def put(here: Path) -> bool:
            return seal(here / "build", view, now=MADE_AT, ask=lambda change: "a reason")[0] is not None

        def chain(here: Path) -> object:
            # The head may be that of the line before until the next run.
            return (here / "build/content/seals.jsonl").read_bytes()

        return Case(root.parent, put, chain)
    if what == "join":
        root = write_build(folder / "prepared/build")
        seal(root, opened(root), now=MADE_AT, ask=lambda change: "a reason")
        (folder / "prepared/build/content/entries/2026-03-01-x").mkdir()
        (root / "content/entries/2026-03-01-x/index.md").write_text(entry("date: 2026-03-01"))
        seal(root, opened(root), now=MADE_AT, ask=lambda change: "a reason")
        shutil.copy(root / CHAIN, root / COPY)
        (root / CHAIN).write_bytes(b"".join((root / CHAIN).read_bytes().splitlines(keepends=True)[:1]))
        (root / HEAD).unlink()
        seal(root, opened(root), now=MADE_AT + timedelta(days=1), ask=lambda change: "a reason")

        def join(here: Path) -> bool:
            build = here / "build"
            return not (build / COPY).exists() or not join_chains(build, build / COPY)[1]

        def lines(here: Path) -> object:
            """Every line of both, wherever it stands; and the files once it is joined."""
            seals = tree(here / "build/content")
            held = {line for name, data in seals.items() if name.endswith("jsonl") for line in data.splitlines()}
            return held, None if (here / "build" / COPY).exists() else seals

        return Case(root.parent, join, lines)
    prepared, work, _ = archiving(folder / "prepared", second=False, zipped="zip" in what)
    assert work(prepared)
    shutil.rmtree(prepared / "build")
    if "empty" in what:
        (prepared / "again").mkdir()

    def restore(here: Path) -> bool:
        restored, problems = restore_source(here / ("out.zip" if "zip" in what else "out"), here / "again")
        return restored is not None and not has_errors(problems)

    def build(here: Path) -> object:
        """Nothing that a command would take for a build, or all of it."""
        return tree(here / "again") if (here / "again/content").exists() else None

    return Case(prepared, restore, build)


def test_records_that_cannot_be_looked_at_are_not_gone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that fails for a moment takes nothing out of the chain."""
    root = write_build(tmp_path / "build")
    seal(root, opened(root), now=MADE_AT, ask=lambda change: "a reason")
    before, view, scandir = (root / CHAIN).read_bytes(), opened(root), os.scandir

    def failing(path: Any = ".") -> Any:
        if str(path).endswith("records"):
            raise fails(errno.EIO)()
        return scandir(path)

    monkeypatch.setattr(os, "scandir", failing)
    with pytest.raises(OSError, match=os.strerror(errno.EIO)):
        seal(root, view, now=MADE_AT, ask=lambda change: "a reason")
    assert (root / CHAIN).read_bytes() == before


CASES = (
    "archive, first", "archive, second", "archive, second, two renames", "zip, first", "zip, second", "seal", "join",
    "restore", "restore from a zip", "restore into an empty folder",
)  # fmt: skip
EVERY = int(os.environ.get("STOPPED_EVERY", "10"))


@pytest.fixture(autouse=True)
def _room(tmp_path: Path) -> Iterator[None]:
    yield
    shutil.rmtree(tmp_path, ignore_errors=True)


@pytest.mark.slow
@pytest.mark.parametrize("stop", STOPS, ids=lambda stop: stop.name)
@pytest.mark.parametrize("what", CASES)
def test_a_stop_at_any_call_leaves_old_or_new(tmp_path: Path, what: str, stop: Stop) -> None:
    """The old archive, chain or folder, or the new one; the run after it ends well and nothing is left over."""
    calls, tried = cases(tmp_path, what).try_all(tmp_path, stop, EVERY, len(what) + len(stop.name))
    print(f"\n{what}: {stop.name}: {calls} calls, {tried} stops")
