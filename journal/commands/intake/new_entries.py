"""New entries in their place: their names, the lines they share, and how they are written whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path, PurePosixPath

from journal.base.addresses import slug
from journal.base.byte_progress import say_bytes
from journal.base.digests import copy_with_sha256
from journal.base.safe_write import move_new, staged, sync_folder, umask, write_new
from journal.base.text_files import yaml_figure, yaml_key, yaml_list, yaml_text
from journal.commands.intake.incoming_media import Incoming, free_bytes, safe_name
from journal.ledger.journal import CACHE

SPARE_BYTES = 20_000_000
"""What must stay free on the disk after the photos are copied."""

LONGEST_SLUG = 60


class NotWrittenError(Exception):
    """Nothing was written; the message says why, and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A photo or clip under the name it gets in the entry's folder."""

    item: Incoming
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """An entry about to be written. IDs are of this build. `hours` maps a person's ID to texts in the form of
    `hours`; under the empty text stands what counts for each. `suggestions` are lines that count for nothing.
    """

    date: date
    assembly: str
    folder: str = ""
    title: str = ""
    hours: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    steps: tuple[str, ...] = ()
    begun: tuple[str, ...] = ()
    redone: tuple[str, ...] = ()
    people: tuple[str, ...] = ()
    place: str = ""
    tools: tuple[str, ...] = ()
    methods: tuple[str, ...] = ()
    body: str = ""
    draft: bool = False
    placed: tuple[Placed, ...] = ()
    suggestions: tuple[str, ...] = ()


def place_names(incoming: Iterable[Incoming], taken: Iterable[str] = ()) -> tuple[Placed, ...]:
    """A name for each in one folder that holds `taken` already; its own wherever that can be.

    Names that differ only in case or in the form of their accents are one name on many disks, so the
    later gets `-2`.
    """
    held: set[str] = {"index.md", *map(_folded, taken)}
    placed = []
    for item in incoming:
        path = PurePosixPath(safe_name(item.name))
        name = _untaken(path.stem, path.suffix, held)
        held.add(_folded(name))
        placed.append(Placed(item=item, name=name))
    return tuple(placed)


def folder_name(day: date, words: str, taken: Iterable[str]) -> str:
    """`2026-02-07-flap-skeletons`, with `-2` where such a folder is there, whatever its case."""
    word = slug(words)
    if len(word) > LONGEST_SLUG:
        word = word[:LONGEST_SLUG].rpartition("-")[0] or word[:LONGEST_SLUG]
    return _untaken(f"{day.isoformat()}-{word}" if word != "-" else day.isoformat(), "", set(map(_folded, taken)))


def _untaken(stem: str, ending: str, held: set[str]) -> str:
    name, number = stem + ending, 1
    while _folded(name) in held:
        number += 1
        name = f"{stem}-{number}{ending}"
    return name


def _folded(name: str) -> str:
    return unicodedata.normalize("NFC", name).casefold()


def entry_folders(root: Path) -> list[str]:
    """Names of everything in content/entries, whatever it holds."""
    base = root / "content" / "entries"
    return sorted(item.name for item in base.iterdir()) if base.is_dir() else []


def head_lines(draft: Draft) -> list[str]:
    """The first lines of an entry."""
    said = yaml_text(draft.title) if draft.title else '""'
    return [f"title: {said}", f"date: {draft.date.isoformat()}", f"assembly: {yaml_text(draft.assembly)}"]


def hours_lines(hours: Mapping[str, tuple[str, ...]]) -> list[str]:
    """What each worked, or one line for all."""

    def said(parts: tuple[str, ...]) -> str:
        return yaml_figure(parts[0]) if len(parts) == 1 else yaml_list(parts)

    if set(hours) == {""}:
        return [f"hours: {said(hours[''])}"]
    named = [f"  {yaml_key(person)}: {said(parts)}" for person, parts in hours.items() if person]
    return ["hours:", *named] if hours else []


def list_lines(draft: Draft, *keys: str) -> list[str]:
    """`key: [one, two]` for each of its lists that holds anything."""
    return [f"{key}: {yaml_list(items)}" for key in keys if (items := getattr(draft, key))]


def place_lines(draft: Draft) -> list[str]:
    """Where, if that is said."""
    return [f"place: {yaml_text(draft.place)}"] if draft.place else []


def render_index(lines: Iterable[str], body: str) -> str:
    """index.md from the lines of its front matter and its text."""
    return "\n".join(["---", *lines, "---", body, ""])


def write_entry(root: Path, draft: Draft, text: str, on_copied: Callable[[int, int], None] | None = None) -> Path:
    """Put an entry in its place: photos copied bit for bit and compared, then all of it moved in one step.

    Stopped at any moment it leaves the entry whole or nothing of it. Raises NotWrittenError where the
    disk has no room or fails, a photo changed meanwhile or the folder is there by now.
    """
    entries, folder = root / "content" / "entries", draft.folder
    with _written_beside(root, draft.placed) as beside:
        _bring(draft.placed, beside, on_copied)
        write_new(beside / "index.md", text.encode())
        sync_folder(beside)
        beside.chmod(0o777 & ~umask())
        try:
            move_new(beside, entries / folder)
        except FileExistsError:
            told = f"content/entries/{folder} is there by now; nothing was written. Try again."
            raise NotWrittenError(told) from None
    return entries / folder


def add_photos(root: Path, draft: Draft) -> None:
    """Add photos to an entry that is there; its text and its other files are left alone.

    All of them are added, or none. Raises NotWrittenError as `write_entry` does.
    """
    folder, placed = draft.folder, draft.placed
    place = root / "content" / "entries" / folder
    added: list[Path] = []
    with _written_beside(root, placed) as beside:
        _bring(placed, beside)
        try:
            for one in placed:
                move_new(beside / one.name, place / one.name)
                added.append(place / one.name)
        except BaseException as trouble:
            for path in added:
                path.unlink(missing_ok=True)
            if isinstance(trouble, FileExistsError):
                told = f"{one.name} is in {folder} by now; nothing was written. Try again."
                raise NotWrittenError(told) from None
            raise


@contextlib.contextmanager
def _written_beside(root: Path, placed: Sequence[Placed]) -> Iterator[Path]:
    """A folder on the disk of the entries in which to put things together, out of sight of everything that reads
    content/. The room on the disk is looked at first, and what the disk says becomes a NotWrittenError.
    """
    copied = sum(one.item.bytes for one in placed if not one.item.ours)
    room = free_bytes(root)
    if copied + SPARE_BYTES > room:
        raise NotWrittenError(
            f"the photos need {say_bytes(copied)}, and the disk has {say_bytes(room)} free, of which "
            f"{say_bytes(SPARE_BYTES)} must stay free; nothing was written. Make room and try again."
        )
    try:
        entries, cache = root / "content" / "entries", root / CACHE
        for folder in (entries, cache):
            folder.mkdir(parents=True, exist_ok=True)
        with staged(cache if cache.stat().st_dev == entries.stat().st_dev else entries, "incoming") as beside:
            yield beside
    except OSError as trouble:
        where = f"{trouble.filename}: " if trouble.filename else ""
        said = f"{where}{trouble.strerror or trouble}"
        full = trouble.errno in (errno.ENOSPC, errno.EDQUOT)
        said = f"the disk is full ({said})" if full else said
        raise NotWrittenError(f"{said}; nothing of this entry was written.") from trouble


def _bring(placed: Sequence[Placed], folder: Path, on_copied: Callable[[int, int], None] | None = None) -> None:
    for number, one in enumerate(placed, start=1):
        item, target = one.item, folder / one.name
        if item.ours and item.path.stat().st_dev == folder.stat().st_dev:
            item.path.rename(target)  # unpacked here a moment ago, for nobody else
        else:
            digest, _ = copy_with_sha256(item.path, target)
            if item.sha256 and digest != item.sha256:
                raise NotWrittenError(
                    f"{item.shown} changed while it was being copied; nothing was written. Try again."
                )
        with target.open("rb") as written:
            os.fsync(written.fileno())
        if on_copied is not None:
            on_copied(number, len(placed))
