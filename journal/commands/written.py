"""What commands and the bench wrote into the build, a record for each run: written down before anything is changed, so
that a machine that stops in the middle neither loses nor doubles it, and kept so that it can be taken back.

The list lies in the cache of the build folder and may be deleted: then nothing can be taken back, and no more is lost.
Taking back deletes nothing: what goes comes to `.journal/taken-back`.
"""

from __future__ import annotations

import contextlib
import errno
import json
import os
import re
import secrets
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from datetime import datetime
from difflib import SequenceMatcher
from pathlib import Path, PurePosixPath

from filelock import FileLock, Timeout

from journal.base.digests import file_sha256
from journal.base.safe_write import left_scratch, move_new, move_over, sweep_staged, write_whole
from journal.ledger.journal import CACHE
from journal.reading.edits import EditRefusedError, read_as_it_is
from journal.record.chain import CHAIN, read_chain, touches

ENTER, ADOPT, MOVE = "enter", "adopt", "move"
AT_DESK = frozenset({ENTER, ADOPT, MOVE})
"""By what a change is that no phone made."""

KEPT = 500
"""Records; older ones go, and what they tell of stays."""

TRIES = 5
"""How often a text that is changed meanwhile is edited anew."""

STAGED = ("incoming", "unpacked", "trial", "arriving")
"""What folders are called in which commands put things together; one that a stopped run left is removed."""

_PENDING, _DONE, _BACK = ".pending.json", ".json", ".taken-back.json"


class NotTakenBackError(Exception):
    """It cannot be taken back by the program; the message says why and what to do. `words` are those that were written,
    which may be private.
    """

    def __init__(self, message: str, words: str = "") -> None:
        super().__init__(message)
        self.words = words


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """One act of a change, at a path from the build folder: a text written at `file` (`before`, None where there was
    none, became `after`), or, where there is a `source`, the file or folder there moved to `file` (a text only while it
    is as `before`, where that is told).
    """

    file: str
    before: str | None = None
    after: str = ""
    source: str = ""

    @property
    def brings(self) -> bool:
        """Whether it brings something new, from out of sight, into the content."""
        return self.source.startswith(".") or "/." in self.source


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """One change. `key` tells it from every other, `by` is `enter` or the name of a phone, `said` tells it in words.

    `acts` are done in their order. `came` are the files that are new with it, and their SHA-256, where that is noted;
    `reason` is what a seal may say of it; `lines` is how long the chain of seals was. `undoes` is the key of a change
    that this one takes back.
    """

    key: str
    at: str
    by: str
    said: str
    acts: tuple[Act, ...]
    came: Mapping[str, str] = field(default_factory=dict)
    reason: str = ""
    lines: int = 0
    undoes: str = ""
    taken_back: bool = False

    @property
    def after(self) -> str:
        """The last text that it wrote."""
        return next((act.after for act in reversed(self.acts) if not act.source), "")

    @property
    def files(self) -> frozenset[str]:
        """Every path that it touched."""
        return frozenset(path for act in self.acts for path in (act.file, act.source) if path)


class WrittenList:
    """The changes made in a build folder, safe between threads and programs."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.folder = root / CACHE / "written"

    @contextlib.contextmanager
    def lock(self, timeout: float = -1) -> Iterator[None]:
        """Nobody else changes the build by way of this list; what was stopped in the middle is finished first. Raises
        filelock.Timeout.
        """
        self.folder.mkdir(parents=True, exist_ok=True)
        with FileLock(self.folder / "lock", timeout=timeout):
            for path in sorted(self.folder.glob(f"*{_PENDING}")):
                self._finish(path)
            for parent in (self.root / CACHE, self.root / "content/entries"):
                sweep_staged(parent, STAGED)
            yield

    def find(self, key: str) -> Written | None:
        """The change of that key, taken back or not."""
        # Only names that begin with a stamp: the scratch file of a record that was never noted is no change.
        paths = self.folder.glob(f"[0-9]*-{key}.*json")
        return next((change for path in paths if (change := _read(path))), None)

    def newest(self, count: int = KEPT) -> list[Written]:
        """The last changes, the newest first; those taken back are marked."""
        paths = [path for path in self.folder.glob("*.json") if not path.name.endswith(_PENDING)]
        found = (_read(path) for path in sorted(paths, key=lambda path: path.name, reverse=True))
        return [change for change in found if change and not change.undoes][:count]

    def change(
        self,
        file: str,
        edit: Callable[[str], str],
        *,
        by: str,
        said: str,
        key: str = "",
        moves: Sequence[tuple[str, str]] = (),
    ) -> Written:
        """Write what `edit` makes of the text of `file` (with its own line ends; empty where there is none yet), after
        the pictures of `moves` have come to their places. A key that is known is not written again. What `edit` raises
        passes through, and nothing is changed then; so does OSError.
        """
        with self.lock():
            if key and (known := self.find(key)):
                return known
            brought = tuple(Act(file=target, source=source) for source, target in moves)
            for _ in range(TRIES):
                before = self._text(file)
                act = Act(file=file, before=before, after=edit(before or ""))
                made = self._new((*brought, act), by=by, said=said, key=key)
                if self._finish(self._note(made, _PENDING)):  # an editor may have saved the file meanwhile
                    return made
            raise OSError(errno.EBUSY, "another program changes the file all the time", str(self.root / file))

    def carry_out(
        self, acts: Sequence[Act], *, by: str, said: str, came: Mapping[str, str] | None = None, reason: str = ""
    ) -> Written:
        """Do all the acts, or nothing. Raises FileExistsError where something stands in the way by now, OSError."""
        with self.lock():
            made = replace(self._new(tuple(acts), by=by, said=said), came=came or {}, reason=reason)
            if not self._finish(self._note(made, _PENDING)):
                raise FileExistsError(errno.EEXIST, "something was changed meanwhile; nothing was done", self._odd)
            return made

    def take_back(self, key: str) -> str:
        """Undo one change, and say what was done. Raises NotTakenBackError where files have changed since in the same
        place, or were sealed; then nothing is touched.
        """
        with self.lock():
            path = next(iter(self.folder.glob(f"*-{key}{_DONE}")), None)
            change = _read(path) if path else None
            if path is None or change is None:
                raise NotTakenBackError("it is taken back already, or no longer in the list.")
            self._check_seals(change)
            kept = f"{CACHE}/taken-back/{path.name.removesuffix(_DONE)}"
            acts = [back for act in reversed(change.acts) for back in self._backward(change, act, kept)]
            made = replace(self._new(tuple(acts), by=change.by, said=change.said), undoes=key)
            if not self._finish(self._note(made, _PENDING)):
                raise NotTakenBackError(f"{self._odd} was changed meanwhile; try again.")
            where = f" (kept in {CACHE}/taken-back)" if (self.root / kept).exists() else ""
            return f"Taken back: {change.said}{where}"

    # -- records -----------------------------------------------------------------------------------

    def _new(self, acts: tuple[Act, ...], *, by: str, said: str, key: str = "") -> Written:
        at = datetime.now().astimezone().isoformat(timespec="microseconds")
        chain = self.root / CHAIN
        lines = chain.read_bytes().count(b"\n") if chain.exists() else 0
        return Written(key=key or secrets.token_hex(8), at=at, by=by, said=said, acts=acts, lines=lines)

    def _note(self, change: Written, ending: str) -> Path:
        self.folder.mkdir(parents=True, exist_ok=True)
        stamp = re.sub(r"[^0-9]", "", change.at[:26])
        path = self.folder / f"{stamp}-{change.key}{ending}"
        write_whole(path, json.dumps(asdict(change), ensure_ascii=False).encode())
        for one in sorted(self.folder.glob("*.json"), key=lambda one: one.name)[:-KEPT]:
            one.unlink(missing_ok=True)
        return path

    def _text(self, file: str) -> str | None:
        """The text of a file with its own line ends; None where there is none. Raises EditRefusedError, OSError."""
        place = self.root / file
        return read_as_it_is(place, file) if place.exists() else None

    # -- doing -------------------------------------------------------------------------------------

    _odd = ""
    """What stood in the way last."""

    def _finish(self, path: Path) -> bool:
        """Do a change that is noted, or the rest of it, and tell whether it is done. Where something else has come to a
        place meanwhile, all of it goes back and the record with it; so it does where the disk fails, which is raised.
        """
        change = _read(path)
        if change is None:  # the machine stopped while it was noted: nothing was done
            path.unlink(missing_ok=True)
            return False
        done: list[Act] = []
        good = False
        try:
            for act in change.acts:
                done.append(act)
                if not self._do(act):
                    odd = done.pop()
                    self._odd = (odd.before is not None and odd.source) or odd.file
                    return False
            good = True
        finally:
            if not good:
                self._go_back(done)
                path.unlink()
        if change.undoes:
            for one in self.folder.glob(f"*-{change.undoes}{_DONE}"):
                one.rename(one.with_name(one.name.removesuffix(_DONE) + _BACK))
        path.rename(path.with_name(path.name.removesuffix(_PENDING) + _DONE))
        return True

    def _do(self, act: Act) -> bool:
        """Do one act unless it is done; False where what is there is neither as before nor as after it."""
        place = self.root / act.file
        try:
            now = self._text(act.source or act.file) if act.before is not None or not act.source else None
        except EditRefusedError:
            return False
        if not act.source:
            if now == act.before:
                place.parent.mkdir(parents=True, exist_ok=True)
                write_whole(place, act.after.encode())
                return True
            return now == act.after or bool(now and _holds(act, now))
        source = self.root / act.source
        if not os.path.lexists(source):
            return os.path.lexists(place)
        if now != act.before:
            return False
        if os.path.lexists(place):
            if source.is_dir() or not place.is_file() or file_sha256(source) != file_sha256(place):
                return False
            source.unlink()  # the machine stopped between a copy to another disk and this
            return True
        place.parent.mkdir(parents=True, exist_ok=True)
        if source.is_dir():
            move_new(source, place)
        else:
            move_over(source, place)
        if len(PurePosixPath(act.source).parts) > 3 and not act.brings:
            with contextlib.suppress(OSError):  # something else lies in it
                source.parent.rmdir()
        return True

    def _go_back(self, done: Sequence[Act]) -> None:
        """Undo acts that were done, or half done, a moment ago."""
        for act in reversed(done):
            place = self.root / act.file
            if not act.source:
                if self._text(act.file) != act.after:
                    continue
                if act.before is None:
                    place.unlink()
                else:
                    write_whole(place, act.before.encode())
            elif os.path.lexists(place) and not os.path.lexists(self.root / act.source):
                self._do(Act(file=act.source, source=act.file))

    # -- taking back -------------------------------------------------------------------------------

    def _check_seals(self, change: Written) -> None:
        """Raise NotTakenBackError where something that it wrote was sealed since."""
        for seal in read_chain(self.root).seals[change.lines :]:
            for file in sorted(change.files):
                if touches(file, seal.key):
                    raise NotTakenBackError(
                        f"{file} was sealed since, and what is sealed is not taken back. Change it as it should be; "
                        "the next `journal seal` makes an amendment of it."
                    )

    def _backward(self, change: Written, act: Act, kept: str) -> Iterator[Act]:
        """The acts that undo one. Raises NotTakenBackError."""
        place = self.root / act.file
        away = Act(file=f"{kept}/{act.file}", source=act.file)
        if not act.source:
            try:
                now = self._text(act.file)
            except EditRefusedError as trouble:
                raise NotTakenBackError(f"{trouble}.") from None
            if now is None and act.before is None:
                return
            if now is None:
                raise NotTakenBackError(self._not_there(change, act.file))
            back = _without(act, now)
            if act.before is None:
                yield away
            elif back != now:
                yield Act(file=act.file, before=now, after=back)
        elif act.brings:
            self._check_as_it_came(change, act.file)
            if os.path.lexists(place):
                yield away
        elif not os.path.lexists(place):
            raise NotTakenBackError(self._not_there(change, act.file))
        elif os.path.lexists(self.root / act.source):
            raise NotTakenBackError(f"something else is called {act.source} by now; move that away first.")
        else:
            yield Act(file=act.source, source=act.file)

    def _not_there(self, change: Written, file: str) -> str:
        since = [one for one in self.newest() if not one.taken_back and one.at > change.at]
        later = [one for one in since if any(f"{file}/".startswith(f"{path}/") for path in one.files)]
        hint = f"take back first what came later: {later[0].said}." if later else "mend it by hand where it is now."
        return f"{file} is not there any more; {hint}"

    def _check_as_it_came(self, change: Written, file: str) -> None:
        """Raise NotTakenBackError where what was brought is not as it came, or more lies beside it."""
        came = {path: digest for path, digest in change.came.items() if f"{path}/".startswith(f"{file}/")}
        if not came:
            return
        place = self.root / file
        there = {path.relative_to(self.root).as_posix() for path in place.rglob("*") if not path.is_dir()}
        there |= {file} if place.is_file() else set()
        for path in sorted(there | came.keys()):
            if path not in there:
                raise NotTakenBackError(self._not_there(change, path))
            if path not in came:
                raise NotTakenBackError(f"{path} has come to it since; move it away first, or keep all of it.")
            if file_sha256(self.root / path)[0] != came[path]:
                raise NotTakenBackError(f"{path} was changed since; take out by hand what should not stand there.")


def finish_stopped(root: Path) -> None:
    """Finish what a stopped run left half done, and remove what it left lying; quick where there is nothing."""
    written = WrittenList(root)
    left = [path for name in STAGED for path in (root / CACHE).glob(f".{name}-*")]
    if not left and not left_scratch(root / CACHE) and not any(written.folder.glob(f"*{_PENDING}")):
        return
    with contextlib.suppress(OSError, Timeout), written.lock(timeout=0):
        pass


def _read(path: Path) -> Written | None:
    try:
        told = json.loads(path.read_bytes())
        change = Written(**{**told, "acts": tuple(Act(**act) for act in told["acts"])})
        datetime.fromisoformat(change.at).astimezone()
    except (OSError, ValueError, TypeError, KeyError):
        return None
    words = [change.key, change.by, change.said, change.reason, change.undoes]
    words += [word or "" for act in change.acts for word in (act.file, act.before, act.after, act.source)]
    if not all(isinstance(one, str) for one in words) or not isinstance(change.lines, int):
        return None
    return replace(change, taken_back=path.name.endswith(_BACK)) if isinstance(change.came, dict) else None


def _pieces(act: Act) -> list[tuple[list[str], list[str]]]:
    """What a text lost and got, as runs of lines."""
    old, new = ((text or "").splitlines(keepends=True) for text in (act.before, act.after))
    codes = SequenceMatcher(None, old, new, autojunk=False).get_opcodes()
    return [(old[a:b], new[c:d]) for kind, a, b, c, d in codes if kind != "equal"]


def _holds(act: Act, now: str) -> bool:
    """Whether what was put in stands in a text that was changed by hand since."""
    put_in = [new for _, new in _pieces(act) if new]
    return bool(put_in) and all(_places(now.splitlines(keepends=True), new) for new in put_in)


def _places(lines: list[str], piece: list[str]) -> list[int]:
    return [at for at in range(len(lines)) if lines[at : at + len(piece)] == piece]


def _without(act: Act, now: str) -> str:
    """The text as it is `now` without what was written."""
    if now == act.after:
        return act.before or ""
    lines = now.splitlines(keepends=True)
    if act.before is None:
        raise NotTakenBackError(f"{act.file} was changed since; take out by hand what should not stand there.")
    for old, new in _pieces(act):
        places = _places(lines, new) if new else []
        if len(places) != 1:
            words = "".join(new).strip() or "".join(old).strip()
            raise NotTakenBackError(f"{act.file} was changed since; mend it by hand.", words)
        lines[places[0] : places[0] + len(new)] = old
    return "".join(lines)
