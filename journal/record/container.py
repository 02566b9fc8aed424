"""The two things a bag lies in: a folder, and a zip that depends on its content alone."""

from __future__ import annotations

import io
import os
import re
import stat
import threading
import zipfile
from abc import ABC, abstractmethod
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, cast

from journal.base.digests import Source, digest_stream
from journal.record.damage import Damage, DamageKind, damaged

BAGIT = "bagit.txt"
"""The file that makes a folder a bag (RFC 8493, 2.1.1)."""


def is_safe(path: str) -> bool:
    """Whether a path stays inside the folder it is put in, on any system."""
    if not path or "\0" in path or path.startswith(("~", "\\")) or re.match("[A-Za-z]:", path):
        return False
    return not {"..", ".", ""} & set(path.split("/")) and ".." not in path.replace("\\", "/").split("/")


_NOT_ON_WINDOWS = re.compile(
    r'[<>:"\\|?*\x00-\x1f]|[. ]\Z|\A(?:CON|PRN|AUX|NUL|CONIN\$|CONOUT\$|(?:COM|LPT)[0-9\u00b9\u00b2\u00b3]) *(?:\.|\Z)',
    re.IGNORECASE,
)


def kept_on_windows(path: str) -> bool:
    """Whether Windows keeps every name of a path: no sign that it reserves (a backslash would part it, a colon begins a
    drive or a stream), no device, no full stop or blank at the end.

    Source: Microsoft, "Naming Files, Paths, and Namespaces", Naming Conventions; the names of the console from memory.
    """
    return not any(_NOT_ON_WINDOWS.search(part) for part in path.split("/"))


class OpenBag(ABC):
    """A bag in a folder or a zip: what files it has, and their bytes.

    `files` maps the path in the bag to its size, `damage` holds what can be no file of a bag.
    """

    def __init__(self) -> None:
        self.files: dict[str, int] = {}
        self.empty_folders: list[str] = []
        self.damage: list[Damage] = []

    def _note(self, kind: DamageKind, path: str, message: str) -> None:
        self.damage.append(damaged(kind, path, message))

    @abstractmethod
    def open(self, path: str) -> AbstractContextManager[Source]:
        """The bytes of one of `files`; OSError where they cannot be read."""


@contextmanager
def open_bag(path: Path) -> Iterator[OpenBag]:
    """The bag in the folder or zip at `path`. Raises `NotAZipError` and OSError."""
    if path.is_dir():
        yield FolderBag(path)
        return
    bag = ZipBag(path)
    try:
        yield bag
    finally:
        bag.close()


class FolderBag(OpenBag):
    """A bag in a folder. Links are not followed: what they lead to is not in the bag."""

    def __init__(self, root: Path) -> None:
        super().__init__()
        self.root = root
        waiting = [""]
        while waiting:
            folder = waiting.pop()
            try:
                found = list(os.scandir(root / folder))
            except OSError as trouble:
                self._note(DamageKind.UNREADABLE, folder, f"cannot be opened: {trouble.strerror}")
                continue
            if not found:
                self.empty_folders.append(folder)
            for item in found:
                path = f"{folder}{item.name}"
                try:
                    state = item.stat(follow_symlinks=False)
                except OSError as trouble:
                    self._note(DamageKind.UNREADABLE, path, f"cannot be looked at: {trouble.strerror}")
                    continue
                if stat.S_ISDIR(state.st_mode):
                    waiting.append(f"{path}/")
                elif stat.S_ISREG(state.st_mode):
                    self.files[path] = state.st_size
                else:
                    what = "a link" if stat.S_ISLNK(state.st_mode) else "no ordinary file"
                    self._note(DamageKind.STRUCTURE, path, f"is {what}; nothing behind it is in the archive")

    def open(self, path: str) -> AbstractContextManager[Source]:
        """The file's bytes."""
        return (self.root / path).open("rb", buffering=0)


class ZipBag(OpenBag):
    """A bag in a zip, under one folder or at its top. Raises `NotAZipError` where it is none."""

    def __init__(self, path: Path) -> None:
        super().__init__()
        self._path = path
        self._local = threading.local()
        self._handles: list[zipfile.ZipFile] = []
        self._members: dict[str, zipfile.ZipInfo] = {}
        with path.open("rb"):
            pass  # a file that cannot be opened at all is an OSError, not a bad zip
        try:
            archive = self._archive()
            infos, comment = archive.infolist(), archive.comment
            if wrong := _wrong_framing(path, infos, comment):
                self._note(DamageKind.STRUCTURE, "", wrong)
        except Exception as trouble:
            # A damaged directory makes zipfile raise BadZipFile, NotImplementedError, struct.error,
            # UnicodeDecodeError, RuntimeError, OSError (a seek to nowhere) … All of it says the same.
            self.close()
            raise NotAZipError(str(trouble)) from trouble
        self.top = _top_folder(infos)
        for info in infos:
            name = info.filename.removeprefix(self.top)
            if info.is_dir():
                if is_safe(name.rstrip("/")):
                    self.empty_folders.append(name.rstrip("/"))
            elif not info.filename.startswith(self.top):
                self._note(DamageKind.UNLISTED, info.filename, "lies beside the bag's own folder in the zip")
            elif not is_safe(info.filename):
                self._note(DamageKind.STRUCTURE, name, "is a path that leads out of the archive")
            elif stat.S_ISLNK(info.external_attr >> 16):
                self._note(DamageKind.STRUCTURE, name, "is a link; nothing behind it is in the archive")
            elif name in self._members:
                self._note(DamageKind.STRUCTURE, name, "is in the zip twice")
            else:
                self._members[name] = info
                self.files[name] = info.file_size

    def _archive(self) -> zipfile.ZipFile:
        """The zip opened for this thread: two threads on one handle would wait for each other."""
        archive: zipfile.ZipFile | None = getattr(self._local, "archive", None)
        if archive is None:
            archive = self._local.archive = zipfile.ZipFile(self._path)
            self._handles.append(archive)
        return archive

    @contextmanager
    def open(self, path: str) -> Iterator[Source]:
        """The file's bytes, unpacked where it is packed; OSError where the zip does not give them."""
        info = self._members[path]
        try:
            if info.compress_type == zipfile.ZIP_STORED and not info.flag_bits & 1:
                with self._path.open("rb", buffering=0) as whole:
                    start = _data_start(whole, info)
                    yield _Parts(whole, [(start, start + info.compress_size)])
            else:
                with self._archive().open(info) as member:
                    yield cast(Source, member)
        except OSError:
            raise
        except Exception as trouble:
            raise OSError(0, str(trouble) or type(trouble).__name__) from trouble

    def close(self) -> None:
        """Let go of the file."""
        for archive in self._handles:
            archive.close()


class NotAZipError(Exception):
    """The file is not a zip that can be read."""


class _Parts(io.RawIOBase):
    """Stretches of a file, each from its first byte to before its last, as one."""

    def __init__(self, whole: io.RawIOBase | BinaryIO, parts: Sequence[tuple[int, int]]) -> None:
        self._whole, self._parts = whole, list(reversed(parts))

    def readinto(self, buffer: memoryview, /) -> int:  # type: ignore[override]
        while self._parts:
            start, end = self._parts.pop()
            self._whole.seek(start)
            count = self._whole.readinto(buffer[: end - start]) or 0  # type: ignore[union-attr]
            if count:
                self._parts.append((start + count, end))
                return count
        return 0


def _top_folder(infos: Sequence[zipfile.ZipInfo]) -> str:
    """`NAME/` where a bag lies under that folder of the zip, as RFC 8493, 4 has it; else ""."""
    names = [info.filename for info in infos]
    if BAGIT in names:
        return ""
    counts = Counter(name.split("/", 1)[0] + "/" for name in names if "/" in name)
    with_bag = [top for top in counts if f"{top}{BAGIT}" in names]
    return min(with_bag or counts, key=lambda top: (-counts[top], top), default="")


# --- the zip's own bytes -------------------------------------------------------------------------
#
# The digests of a bag cover what lies in the members of a zip, not the headers around them: names
# twice over, dates, sizes. So a zip written here ends in a comment that holds their SHA-256.

_COMMENT = "journal archive; headers sha256 {}"
_COMMENT_FORM = re.compile(_COMMENT.format("([0-9a-f]{64})").encode())


class ZipWriter:
    """A zip whose bytes depend on its content alone: one time for all, nothing packed."""

    def __init__(self, path: Path, top: str, when: datetime) -> None:
        self._path = path
        self._top = top
        # The zip format cannot tell times before 1980.
        self._when = max(when, datetime(1980, 1, 1, tzinfo=when.tzinfo)).timetuple()[:6]
        self._archive = zipfile.ZipFile(path, "x", allowZip64=True)

    def __enter__(self) -> ZipWriter:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, trouble: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._archive.comment = _COMMENT.format("0" * 64).encode()
        self._archive.close()
        if kind is None:
            _sign_headers(self._path)

    def add(self, path: str, source: Source, size: int) -> tuple[str, int]:
        """Put a file in; (SHA-256, bytes) of what was put in."""
        info = self._info(path)
        info.file_size = size
        with self._archive.open(info, "w") as target:
            return digest_stream(source, target)

    def add_bytes(self, path: str, data: bytes) -> None:
        """Put bytes in as a file, or an empty folder where `path` ends in `/`."""
        self._archive.writestr(self._info(path), data)

    def _info(self, path: str) -> zipfile.ZipInfo:
        info = zipfile.ZipInfo(f"{self._top}{path}", self._when)
        info.create_system = 3
        info.external_attr = (0o040755 if path.endswith("/") else 0o100644) << 16
        return info


def _sign_headers(path: Path) -> None:
    with zipfile.ZipFile(path) as archive:
        infos = archive.infolist()
    length = len(_COMMENT.format("0" * 64))
    with path.open("r+b") as whole:
        digest = _headers_sha256(whole, infos, length)
        whole.seek(-length, os.SEEK_END)
        whole.write(_COMMENT.format(digest).encode())


def _headers_sha256(whole: BinaryIO, infos: Sequence[zipfile.ZipInfo], comment_bytes: int) -> str:
    """SHA-256 of all bytes of a zip that are neither a member's content nor the comment."""
    end = whole.seek(0, os.SEEK_END) - comment_bytes
    parts, at = [], 0
    for info in sorted(infos, key=lambda info: info.header_offset):
        start = _data_start(whole, info)
        if not at <= info.header_offset < start <= end:
            raise zipfile.BadZipFile("members overlap")
        parts.append((at, start))
        at = start + info.compress_size
    parts.append((at, end))
    digest, _ = digest_stream(_Parts(whole, parts))
    return digest


def _data_start(whole: BinaryIO | io.RawIOBase, info: zipfile.ZipInfo) -> int:
    """Where a member's bytes begin: after its local header (APPNOTE.TXT, 4.3.7)."""
    whole.seek(info.header_offset)
    header = whole.read(30)
    if header is None or len(header) < 30 or header[:4] != b"PK\3\4":
        raise zipfile.BadZipFile("a member has no header")
    return info.header_offset + 30 + int.from_bytes(header[26:28], "little") + int.from_bytes(header[28:30], "little")


def _wrong_framing(path: Path, infos: Sequence[zipfile.ZipInfo], comment: bytes) -> str:
    """What is wrong with the headers of a zip, or "". One packed anew by another program has no comment."""
    with path.open("rb") as whole:
        whole.seek(-(22 + len(comment)), os.SEEK_END)
        tail = whole.read()
        if tail[:4] != b"PK\5\6" or int.from_bytes(tail[20:22], "little") != len(comment):
            return "the end of the zip is damaged"
        if not comment:
            return ""
        form = _COMMENT_FORM.fullmatch(comment)
        if form is None or form[1].decode() != _headers_sha256(whole, infos, len(comment)):
            return "the zip's own headers were changed (names, sizes, dates, comment)"
    return ""
