"""What `enter` and the bench wrote into the build, a record for each change: written down before the change is made, so
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
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from difflib import SequenceMatcher
from pathlib import Path

from filelock import FileLock

from journal.base.safe_write import move_over, write_whole
from journal.ledger.journal import CACHE
from journal.reading.edits import EditRefusedError

AT_DESK = "enter"
"""By whom a change is that no phone made."""

KEPT = 500
"""Records; older ones go, and what they tell of stays."""

TRIES = 5
"""How often a text that is changed meanwhile is edited anew."""

_PENDING, _DONE, _BACK = ".pending.json", ".json", ".taken-back.json"


class NotTakenBackError(Exception):
    """It cannot be taken back by the program; the message says why and what to do. `words` are those that were written,
    which may be private.
    """

    def __init__(self, message: str, words: str = "") -> None:
        super().__init__(message)
        self.words = words


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """One change. `key` tells it from every other, `by` is `enter` or the name of a phone, `said` tells it in words.

    `file` is the text it concerns, from the build folder, `before` and `after` that text; None for one that was not
    there, and `after` is None where the text was not touched. `moved` are (where from, where to) of pictures and films,
    from the build folder.
    """

    key: str
    at: str
    by: str
    said: str
    file: str
    before: str | None = None
    after: str | None = None
    moved: tuple[tuple[str, str], ...] = ()
    taken_back: bool = False


class WrittenList:
    """The changes made in a build folder, safe between threads and programs."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.folder = root / CACHE / "written"

    @contextlib.contextmanager
    def lock(self) -> Iterator[None]:
        """Nobody else changes the build by way of this list; what was stopped in the middle is finished first."""
        self.folder.mkdir(parents=True, exist_ok=True)
        with FileLock(self.folder / "lock"):
            for path in sorted(self.folder.glob(f"*{_PENDING}")):
                self._finish(path)
            yield

    def find(self, key: str) -> Written | None:
        """The change of that key, taken back or not."""
        return next((change for path in self.folder.glob(f"*-{key}.*") if (change := _read(path))), None)

    def newest(self, count: int = KEPT) -> list[Written]:
        """The last changes, the newest first; those taken back are marked."""
        paths = [path for path in self.folder.glob("*.json") if not path.name.endswith(_PENDING)]
        found = (_read(path) for path in sorted(paths, key=lambda path: path.name, reverse=True)[:count])
        return [change for change in found if change]

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
            for _ in range(TRIES):
                before = self._text(file)
                after = edit(before or "")
                made = Written(
                    key=key or secrets.token_hex(8),
                    at=datetime.now().astimezone().isoformat(timespec="microseconds"),
                    by=by,
                    said=said,
                    file=file,
                    before=before,
                    after=after,
                    moved=tuple(moves),
                )
                if self._finish(self._note(made, _PENDING)):  # an editor may have saved the file meanwhile
                    return made
            raise OSError(errno.EBUSY, "another program changes the file all the time", str(self.root / file))

    def note(self, file: str, photos: Sequence[str], *, by: str, said: str, new: bool) -> Written:
        """Note what is written already: a new entry with its photos, or photos that came into one that was there."""
        with self.lock():
            text = self._text(file) if new else None
            at = datetime.now().astimezone().isoformat(timespec="microseconds")
            moved = tuple(("", photo) for photo in photos)
            made = Written(key=secrets.token_hex(8), at=at, by=by, said=said, file=file, after=text, moved=moved)
            self._note(made, _DONE)
            return made

    def take_back(self, key: str) -> str:
        """Undo one change, and say what was done. Raises NotTakenBackError where files have changed since in the same
        place; then nothing is touched.
        """
        with self.lock():
            path = next(iter(self.folder.glob(f"*-{key}{_DONE}")), None)
            change = _read(path) if path else None
            if path is None or change is None:
                raise NotTakenBackError("it is taken back already, or no longer in the list.")
            place = self.root / change.file
            try:
                now = self._text(change.file)
            except EditRefusedError as trouble:
                raise NotTakenBackError(f"{trouble}.") from None
            if now is None and change.before is not None:
                raise NotTakenBackError(f"{change.file} is not there any more; mend it by hand where its text is now.")
            kept = self.root / CACHE / "taken-back" / path.name.removesuffix(_DONE)
            back = _without(change, now) if change.after is not None and now is not None else now
            for _, photo in change.moved:
                if (self.root / photo).exists():
                    _put_away(self.root / photo, kept / photo)
            if change.before is None and change.after is not None and now is not None:
                _put_away(place, kept / change.file)
                with contextlib.suppress(OSError):  # something else has come into it
                    place.parent.rmdir()
            elif back is not None and back != now:
                write_whole(place, back.encode())
            path.rename(path.with_name(path.name.removesuffix(_DONE) + _BACK))
            return f"Taken back: {change.said}" + (f" (kept in {CACHE}/taken-back)" if kept.exists() else "")

    def _text(self, file: str) -> str | None:
        """The text of a file with its own line ends; None where there is none. Raises EditRefusedError, OSError."""
        place = self.root / file
        try:
            return place.read_bytes().decode("utf-8") if place.exists() else None
        except UnicodeDecodeError:
            raise EditRefusedError(f"{file} is not written as UTF-8; save it so") from None

    def _note(self, change: Written, ending: str) -> Path:
        self.folder.mkdir(parents=True, exist_ok=True)
        stamp = re.sub(r"[^0-9]", "", change.at[:26])
        path = self.folder / f"{stamp}-{change.key}{ending}"
        write_whole(path, json.dumps(asdict(change), ensure_ascii=False).encode())
        old = sorted((one for one in self.folder.glob("*.json")), key=lambda one: one.name)[:-KEPT]
        for one in old:
            one.unlink(missing_ok=True)
        return path

    def _finish(self, path: Path) -> bool:
        """Make a change that is noted, or the rest of it, and tell whether it is made; where the text was changed by
        hand since, and what was to come is not in it, it comes again from where it came the first time.
        """
        change = _read(path)
        if change is None:  # the machine stopped while it was noted: nothing was done
            path.unlink(missing_ok=True)
            return False
        place = self.root / change.file
        try:
            now = self._text(change.file)
        except EditRefusedError:
            now = ""
        undone = now == change.before
        if not undone and now != change.after and not (now and _holds(change, now)):
            path.unlink()
            return False
        place.parent.mkdir(parents=True, exist_ok=True)
        for source, target in change.moved:
            if (self.root / source).exists():
                move_over(self.root / source, self.root / target)
        if undone and change.after is not None:
            write_whole(place, change.after.encode())
        path.rename(path.with_name(path.name.removesuffix(_PENDING) + _DONE))
        return True


def _read(path: Path) -> Written | None:
    try:
        told = json.loads(path.read_bytes())
        change = Written(**{**told, "moved": tuple((str(one), str(other)) for one, other in told["moved"])})
        datetime.fromisoformat(change.at).astimezone()
    except (OSError, ValueError, TypeError, KeyError):
        return None
    words = (change.key, change.by, change.said, change.file, change.before or "", change.after or "")
    if not all(isinstance(one, str) for one in words):
        return None
    return replace(change, taken_back=path.name.endswith(_BACK))


def _put_away(path: Path, place: Path) -> None:
    place.parent.mkdir(parents=True, exist_ok=True)
    if not os.path.lexists(place):
        move_over(path, place)


def _pieces(change: Written) -> list[tuple[list[str], list[str]]]:
    """What the change took out and put in, as runs of lines."""
    old, new = ((text or "").splitlines(keepends=True) for text in (change.before, change.after))
    codes = SequenceMatcher(None, old, new, autojunk=False).get_opcodes()
    return [(old[a:b], new[c:d]) for kind, a, b, c, d in codes if kind != "equal"]


def _holds(change: Written, now: str) -> bool:
    """Whether what the change put in stands in a text that was changed by hand since."""
    put_in = [new for _, new in _pieces(change) if new]
    return bool(put_in) and all(_places(now.splitlines(keepends=True), new) for new in put_in)


def _places(lines: list[str], piece: list[str]) -> list[int]:
    return [at for at in range(len(lines) - len(piece) + 1) if lines[at : at + len(piece)] == piece]


def _without(change: Written, now: str) -> str:
    """The text as it is `now` without the change."""
    if now == change.after:
        return change.before or ""
    lines = now.splitlines(keepends=True)
    if change.before is None:
        raise NotTakenBackError(f"{change.file} was changed since; take out by hand what should not stand there.")
    for old, new in _pieces(change):
        places = _places(lines, new) if new else []
        if len(places) != 1:
            words = "".join(new).strip() or "".join(old).strip()
            raise NotTakenBackError(f"{change.file} was changed since; mend it by hand.", words)
        lines[places[0] : places[0] + len(new)] = old
    return "".join(lines)
