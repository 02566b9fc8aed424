"""New entries in their place: their names, their text, and how they are written whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path, PurePosixPath

from journal.base.addresses import slug
from journal.base.byte_progress import Progress, say_bytes, silent
from journal.base.digests import copy_with_sha256, file_sha256, sha256_of
from journal.base.formatting import say_count
from journal.base.model import Build
from journal.base.safe_write import free_bytes, staged, sync_folder, umask, write_new
from journal.base.text_files import yaml_figure, yaml_key, yaml_list, yaml_text
from journal.commands.intake.incoming_media import Incoming, safe_name, say_media
from journal.commands.terminal import EXIT_DISK, ProgressBar, fail
from journal.commands.written import ENTER, Act, WrittenList
from journal.ledger.journal import CACHE
from journal.reading.build import told_below

ENTRIES = "content/entries"

SPARE_BYTES = 20_000_000
"""What must stay free on the disk after the photos are copied."""

LONGEST_SLUG = 60


class NotWrittenError(Exception):
    """Nothing was written; the message says why, and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """An entry about to be written. IDs are of this build. `hours` maps a person's ID to texts in the form of
    `hours`; under the empty text stands what counts for each. `suggestions` are lines that count for nothing,
    `origin` tells where the entry comes from. With `into` it is there already, and only photos come to it. `folder` is
    its path from content/entries.
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
    placed: tuple[Incoming, ...] = ()
    suggestions: tuple[str, ...] = ()
    origin: tuple[str, ...] = ()
    into: bool = False

    @property
    def file(self) -> str:
        """Its text, from the build folder."""
        return f"{ENTRIES}/{self.folder}/index.md"


def place_names(incoming: Iterable[Incoming], taken: Iterable[str] = ()) -> tuple[Incoming, ...]:
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
        placed.append(replace(item, name=name))
    return tuple(placed)


def folder_name(day: date, words: str, taken: Iterable[str]) -> str:
    """`2026-02-07-flap-skeletons`, with `-2` where such a folder is there, whatever its case."""
    word = slug(words)
    if len(word) > LONGEST_SLUG:
        word = word[:LONGEST_SLUG].rpartition("-")[0] or word[:LONGEST_SLUG]
    return free_name(f"{day.isoformat()}-{word}" if word != "-" else day.isoformat(), "", taken)


def free_name(stem: str, ending: str, held: Iterable[str]) -> str:
    """`stem` and `ending`, with `-2` and so on where such a name is held, whatever its capitals."""
    return _untaken(stem, ending, set(map(_folded, held)))


def _untaken(stem: str, ending: str, held: set[str]) -> str:
    name, number = stem + ending, 1
    while _folded(name) in held:
        number += 1
        name = f"{stem}-{number}{ending}"
    return name


def _folded(name: str) -> str:
    return unicodedata.normalize("NFC", name).casefold()


def taken_names(root: Path) -> list[str]:
    """Names that no new entry may have: of every entry, wherever it lies, and of whatever lies in content/entries."""
    base = root / ENTRIES
    lying = {item.name for item in base.iterdir()} if base.is_dir() else set()
    return sorted(lying | {folder.id for folder in told_below(root, ENTRIES)[0]})


def usual_place(build: Build) -> str:
    """The place of the last entry, where it is not the first of build.yml, which an entry need not name."""
    last = build.entries[-1].place if build.entries else None
    return last if last and last != next(iter(build.places), None) else ""


# -- the text --------------------------------------------------------------------------------------


def render_entry(draft: Draft) -> str:
    """The text of index.md. What the builder has not said stands behind `#`, ready to be taken out of it."""
    title = yaml_text(draft.title) if draft.title else '""'
    lines = [f"title: {title}", f"date: {draft.date.isoformat()}", f"assembly: {yaml_text(draft.assembly)}"]
    lines += [*_hours_lines(draft.hours), *_list_lines(draft, "steps", "begun", "redone"), *draft.suggestions]
    lines += _list_lines(draft, "people", "tools", "methods")
    lines += [f"place: {yaml_text(draft.place)}"] if draft.place else []
    lines += ["draft: true"] if draft.draft else []
    lines += [f"# {origin}" for origin in draft.origin]
    return "\n".join(["---", *lines, *_photo_lines(draft.placed, draft.date), "---", draft.body, ""])


def _hours_lines(hours: Mapping[str, tuple[str, ...]]) -> list[str]:
    """What each worked, or one line for all."""
    said = {person: yaml_figure(parts[0]) if len(parts) == 1 else yaml_list(parts) for person, parts in hours.items()}
    if said.keys() == {""}:
        return [f"hours: {said['']}"]
    named = [f"  {yaml_key(person)}: {parts}" for person, parts in said.items() if person]
    return ["hours:", *named] if hours else []


def _list_lines(draft: Draft, *keys: str) -> list[str]:
    """`key: [one, two]` for each of its lists that holds anything."""
    return [f"{key}: {yaml_list(items)}" for key in keys if (items := getattr(draft, key))]


def _photo_lines(placed: Sequence[Incoming], day: date) -> list[str]:
    """`IMG_0142.jpg: ""    # 18:32`: a place for the caption, and when it was taken."""
    if not placed:
        return []
    captions = [f'  {yaml_key(one.name)}: ""' for one in placed]
    width = max(map(len, captions))
    lines = [f"{text:<{width}}    # {one.say_taken(day)}" for text, one in zip(captions, placed, strict=True)]
    return ["photos:    # what each one shows, between the quotes", *lines]


# -- writing ---------------------------------------------------------------------------------------


def write_entries(root: Path, drafts: Sequence[Draft], *, by: str = ENTER) -> None:
    """Put entries in their places, all or none, noted in the list of what was written; where that cannot be the command
    ends. Photos are copied bit for bit and compared; of an entry that is there the text and other files are left alone.
    """
    if not drafts:
        return
    try:
        with ProgressBar("writing entries" if len(drafts) > 1 else "copying photos") as bar:
            _write_all(root, drafts, by, bar)
    except NotWrittenError as trouble:
        fail(str(trouble), EXIT_DISK)


def _write_all(root: Path, drafts: Sequence[Draft], by: str, on_copied: Progress) -> None:
    """Raises NotWrittenError where the disk has no room or fails, a photo changed meanwhile or something of such a name
    is there by now; then, and also if it is stopped at any moment, nothing of it stays.
    """
    with _written_beside(root, [one for draft in drafts for one in draft.placed]) as beside:
        acts: list[Act] = []
        came: dict[str, str] = {}
        for number, draft in enumerate(drafts, start=1):
            folder = beside / str(number)
            folder.mkdir()
            brought = _bring(draft.placed, folder, on_copied if len(drafts) == 1 else silent)
            if not draft.into:
                text = render_entry(draft).encode()
                write_new(folder / "index.md", text)
                brought["index.md"] = sha256_of(text)
                folder.chmod(0o777 & ~umask())
            sync_folder(folder)
            place, staging = f"{ENTRIES}/{draft.folder}", folder.relative_to(root).as_posix()
            if draft.into:
                acts += [Act(file=f"{place}/{name}", source=f"{staging}/{name}") for name in brought]
            else:
                acts.append(Act(file=place, source=staging))
            came |= {f"{place}/{name}": digest for name, digest in brought.items()}
            if len(drafts) > 1:
                on_copied(number, len(drafts))
        try:
            WrittenList(root).carry_out(acts, by=by, said=_say_drafts(drafts), came=came)
        except FileExistsError as taken:
            raise NotWrittenError(f"{taken.filename} is there by now; nothing was written. Try again.") from None


def _say_drafts(drafts: Sequence[Draft]) -> str:
    """What is written, in words."""
    draft, photos = drafts[0], say_media([one for draft in drafts for one in draft.placed])
    if len(drafts) > 1:
        said = say_count(len(drafts), "entry", "entries")
    elif draft.into:
        return f"{photos} into {draft.folder}"
    else:
        words = f'"{draft.title}", {draft.date.isoformat()}' if draft.title else draft.folder
        said = f"the entry {words}"
    return f"{said} with {photos}" if any(draft.placed for draft in drafts) else said


@contextlib.contextmanager
def _written_beside(root: Path, placed: Sequence[Incoming]) -> Iterator[Path]:
    """A folder on the disk of the entries in which to put things together, out of sight of everything that reads
    content/. The room on the disk is looked at first, and what the disk says becomes a NotWrittenError.
    """
    copied = sum(one.bytes for one in placed if not one.ours)
    room = free_bytes(root)
    if copied + SPARE_BYTES > room:
        raise NotWrittenError(
            f"the photos need {say_bytes(copied)}, and the disk has {say_bytes(room)} free, of which "
            f"{say_bytes(SPARE_BYTES)} must stay free; nothing was written. Make room and try again."
        )
    try:
        entries, cache = root / ENTRIES, root / CACHE
        for folder in (entries, cache):
            folder.mkdir(parents=True, exist_ok=True)
        with staged(cache if cache.stat().st_dev == entries.stat().st_dev else entries, "incoming") as beside:
            yield beside
    except OSError as trouble:
        said = (f"{trouble.filename}: " if trouble.filename else "") + (trouble.strerror or str(trouble))
        said = f"the disk is full ({said})" if trouble.errno in (errno.ENOSPC, errno.EDQUOT) else said
        raise NotWrittenError(f"{said}; nothing was written.") from trouble


def _bring(placed: Sequence[Incoming], folder: Path, on_copied: Progress) -> dict[str, str]:
    """Copy photos into a folder: name -> SHA-256."""
    brought: dict[str, str] = {}
    for number, item in enumerate(placed, start=1):
        target = folder / item.name
        if item.ours and item.path.stat().st_dev == folder.stat().st_dev:
            item.path.rename(target)  # unpacked here a moment ago, for nobody else
            digest = item.sha256 or file_sha256(target)[0]
        else:
            digest, _ = copy_with_sha256(item.path, target)
            if item.sha256 and digest != item.sha256:
                message = f"{item.shown} changed while it was being copied; nothing was written. Try again."
                raise NotWrittenError(message)
        brought[item.name] = digest
        with target.open("rb") as written:
            os.fsync(written.fileno())
        on_copied(number, len(placed))
    return brought
