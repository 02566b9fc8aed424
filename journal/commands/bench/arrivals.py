"""Pictures and films on their way from a phone, piece by piece, so that a break costs one piece and no picture."""

from __future__ import annotations

import os
import time
from dataclasses import dataclass
from pathlib import Path

from filelock import FileLock

from journal.base.byte_progress import say_bytes
from journal.base.safe_write import free_bytes
from journal.commands.bench.sent import RefusedError, is_key
from journal.commands.intake.new_entries import SPARE_BYTES
from journal.ledger.journal import CACHE
from journal.media.clips import clip_facts, sniff_container
from journal.media.clips.look import Container
from journal.media.photos.kinds import FileKind, sniff

PIECE = 1 << 20
"""Bytes that are sent at a time; a request may hold no more."""
MOST_BYTES = 4 << 30
MOST_FILES = 400
OLDEST_SECONDS = 60 * 86400

_ENDINGS = {
    FileKind.JPEG: ".jpg",
    FileKind.HEIC: ".heic",
    FileKind.PNG: ".png",
    FileKind.WEBP: ".webp",
    FileKind.TIFF: ".tif",
    FileKind.AVIF: ".avif",
    FileKind.GIF: ".gif",
    FileKind.BMP: ".bmp",
    FileKind.JPEG_XL: ".jxl",
    FileKind.RAW: ".dng",
}
_FILM_ENDINGS = {
    Container.BOXES: ".mp4",
    Container.MATROSKA: ".mkv",
    Container.TRANSPORT: ".mts",
    Container.PROGRAM: ".mpg",
    Container.AVI: ".avi",
    Container.ASF: ".wmv",
}


@dataclass(frozen=True, slots=True)
class Arrivals:
    """What has come of each file in the build folder `root`, under its key."""

    root: Path

    @property
    def folder(self) -> Path:
        """Where pieces are put together, on the disk of the cache."""
        return self.root / CACHE / "bench" / "arriving"

    def path(self, key: str) -> Path:
        """Where the file of a key lies. Raises RefusedError for what is none."""
        if not is_key(key):
            raise RefusedError("This was not sent by the page.")
        return self.folder / f"{key}.part"

    def size(self, key: str) -> int:
        """How many bytes have come."""
        try:
            return self.path(key).stat().st_size
        except OSError:
            return 0

    def add(self, key: str, offset: int, piece: bytes) -> int:
        """Put a piece behind what has come, if it begins there, and tell how much there is now. Raises RefusedError
        where it would be too much, OSError.
        """
        path = self.path(key)
        self.folder.mkdir(parents=True, exist_ok=True)
        with FileLock(self.folder / "lock"):  # the same piece may come twice at once, where the first was slow
            return self._add(path, self.size(key), offset, piece)

    def _add(self, path: Path, size: int, offset: int, piece: bytes) -> int:
        if offset != size:
            return size
        if size + len(piece) > MOST_BYTES:
            raise RefusedError(f"This is longer than the {say_bytes(MOST_BYTES)} that one film may have.")
        if not size and sum(1 for _ in self.folder.glob("*.part")) >= MOST_FILES:
            raise RefusedError(f"{MOST_FILES} files are on their way already; let them come through first.")
        if free_bytes(self.folder) < len(piece) + SPARE_BYTES:
            raise RefusedError("The disk of the computer is full; make room there, and it is sent again.")
        with path.open("ab") as sink:
            sink.write(piece)
            sink.flush()
            os.fsync(sink.fileno())
        return size + len(piece)

    def ending(self, key: str) -> str:
        """The ending of the name that its content asks for. Raises RefusedError for what is no picture and no film."""
        with self.path(key).open("rb") as source:
            kind = sniff(source)
            if kind:
                return _ENDINGS[kind]
            container = sniff_container(source)
            source.seek(8)
            quicktime = source.read(4) == b"qt  "
        trouble = clip_facts(self.path(key)).trouble if container else "it is no picture and no film that is read here"
        if trouble or container is None:
            raise RefusedError(f"This cannot be taken: {trouble}.")
        return ".mov" if quicktime else _FILM_ENDINGS[container]

    def tidy(self) -> None:
        """Take away what began to come long ago and never went on."""
        for path in self.folder.glob("*.part"):
            if time.time() - path.stat().st_mtime > OLDEST_SECONDS:
                path.unlink(missing_ok=True)
