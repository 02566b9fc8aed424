"""A new entry from an evening's photos: what it will say, and how it lands in its folder, whole or not at all."""

from __future__ import annotations

import errno
import os
import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path, PurePosixPath

from journal.base.addresses import slug
from journal.base.byte_progress import say_bytes
from journal.base.digests import copy_with_sha256, sync_folder
from journal.base.model import Build, Entry, State, Step
from journal.base.safe_write import staged, umask
from journal.base.text_files import one_line, yaml_figure, yaml_key, yaml_list, yaml_text
from journal.commands.intake.incoming_media import Arrival, CameraSpan, camera_spans, free_bytes, safe_name
from journal.ledger.journal import CACHE, Journal

STEPS_SUGGESTED = 6
SPARE_BYTES = 20_000_000
"""What must stay free on the disk after the photos are copied."""

LONGEST_SLUG = 60


class NotWrittenError(Exception):
    """Nothing was written; the message says why, and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """An arrival under the name it gets in the entry's folder."""

    arrival: Arrival
    name: str

    @property
    def renamed(self) -> bool:
        """Whether it could not keep its own name."""
        return self.name != self.arrival.name


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """An entry about to be written. IDs are of this build; `hours` is what the builder said, or empty.

    `next_steps` and `spans` are suggestions: they are written as comments and count for nothing.
    """

    folder: str
    date: date
    assembly: str
    title: str = ""
    hours: str = ""
    steps: tuple[str, ...] = ()
    begun: tuple[str, ...] = ()
    people: tuple[str, ...] = ()
    place: str = ""
    tools: tuple[str, ...] = ()
    methods: tuple[str, ...] = ()
    body: str = ""
    draft: bool = False
    placed: tuple[Placed, ...] = ()
    next_steps: tuple[tuple[Step, bool], ...] = ()
    spans: tuple[CameraSpan, ...] = ()

    @property
    def bytes(self) -> int:
        """What its photos and clips weigh."""
        return sum(placed.arrival.bytes for placed in self.placed)


# -- planning --------------------------------------------------------------------------------------


def last_entry(build: Build) -> Entry | None:
    """The entry written last, whose people, place and tools are likely to be tonight's."""
    return build.entries[-1] if build.entries else None


def likely_people(build: Build) -> tuple[str, ...]:
    """Who worked last; empty where that is everyone who builds, which an entry need not say."""
    last = last_entry(build)
    builders = tuple(person.id for person in build.people.values() if person.role.value == "builder")
    return last.people if last and set(last.people) != set(builders) else ()


def likely_tools(build: Build, assembly: str) -> tuple[str, ...]:
    """The tools of the last entry on this assembly, else of the last entry."""
    same = [entry for entry in build.entries if entry.assembly == assembly]
    last = same[-1] if same else last_entry(build)
    return last.tools if last else ()


def next_steps(journal: Journal, assembly: str) -> tuple[tuple[Step, bool], ...]:
    """(step, whether it is under way): the first few of the assembly that are not done, in the manual's order."""
    waiting = []
    for step in journal.build.steps_of(assembly):
        progress = journal.progress.steps.get(step.id)
        if progress is None or progress.state is not State.DONE:
            waiting.append((step, progress is not None and progress.state is State.UNDER_WAY))
    return tuple(waiting[:STEPS_SUGGESTED])


def place_names(arrivals: Iterable[Arrival], taken: Iterable[str] = ()) -> tuple[Placed, ...]:
    """A name for each in one folder that holds `taken` already; its own wherever that can be.

    Names that differ only in case or in the form of their accents are one name on many disks, so the
    later gets `-2`.
    """
    held: set[str] = {"index.md", *map(_folded, taken)}
    placed = []
    for arrival in arrivals:
        name = safe_name(arrival.name)
        path = PurePosixPath(name)
        number = 1
        while _folded(name) in held:
            number += 1
            name = f"{path.stem}-{number}{path.suffix}"
        held.add(_folded(name))
        placed.append(Placed(arrival=arrival, name=name))
    return tuple(placed)


def _folded(name: str) -> str:
    return unicodedata.normalize("NFC", name).casefold()


def folder_name(day: date, words: str, taken: Iterable[str]) -> str:
    """`2026-02-07-flap-skeletons`, with `-2` where such a folder is there, whatever its case."""
    word = slug(words)
    if len(word) > LONGEST_SLUG:
        word = word[:LONGEST_SLUG].rpartition("-")[0] or word[:LONGEST_SLUG]
    name = first = f"{day.isoformat()}-{word}" if word != "-" else day.isoformat()
    held = {_folded(one) for one in taken}
    number = 1
    while _folded(name) in held:
        number += 1
        name = f"{first}-{number}"
    return name


def entry_folders(root: Path) -> list[str]:
    """Names of everything in content/entries, whatever it holds."""
    base = root / "content" / "entries"
    return sorted(item.name for item in base.iterdir()) if base.is_dir() else []


# -- the text --------------------------------------------------------------------------------------


def render_entry(draft: Draft) -> str:
    """The text of index.md. What the builder has not said stands behind `#`, ready to be taken out of it."""
    lines = [f"title: {yaml_text(draft.title)}" if draft.title else 'title: ""']
    lines += [f"date: {draft.date.isoformat()}", f"assembly: {yaml_text(draft.assembly)}"]
    if draft.hours:
        lines.append(f"hours: {yaml_figure(draft.hours)}")
    if draft.steps:
        lines.append(f"steps: {yaml_list(draft.steps)}")
    if draft.begun:
        lines.append(f"begun: {yaml_list(draft.begun)}")
    lines += _suggestions(draft)
    for key, items in (("people", draft.people), ("tools", draft.tools), ("methods", draft.methods)):
        if items:
            lines.append(f"{key}: {yaml_list(items)}")
    if draft.place:
        lines.append(f"place: {yaml_text(draft.place)}")
    if draft.draft:
        lines.append("draft: true")
    lines += _photo_lines(draft.placed, draft.date)
    return "\n".join(["---", *lines, "---", draft.body.rstrip(), ""])


def _suggestions(draft: Draft) -> list[str]:
    spans = [] if draft.hours else [span for span in draft.spans if span.first != span.last]
    steps = [] if draft.steps or draft.begun else list(draft.next_steps)
    lines = []
    if not draft.hours and not spans:
        lines.append('hours: ""    # what each of you worked: 2:45, 2.75 or 18:30-21:15')
    if spans or steps:
        lines.append("# Lines that begin with # are suggestions and count for nothing until you take the # away.")
    for span in spans:
        lines.append(f"# From the first to the last picture of {one_line(span.camera)}; write what each of you worked:")
        lines.append(f"# hours: {span.first:%H:%M}-{span.last:%H:%M}")
    if steps:
        lines.append("# Next in the manual; keep what you finished:")
        lines.append(f"# steps: {yaml_list(step.id for step, _ in steps)}")
        width = max(len(step.id) for step, _ in steps)
        lines += [
            f"#    {step.id:<{width}}  {one_line(step.title)}{' (under way)' if begun else ''}" for step, begun in steps
        ]
    return lines


def _photo_lines(placed: Sequence[Placed], day: date) -> list[str]:
    """`IMG_0142.jpg: ""    # 18:32`: a place for the caption, and when it was taken."""
    if not placed:
        return []
    lines = ["photos:    # what each one shows, between the quotes"]
    keys = [yaml_key(one.name) for one in placed]
    width = max(len(key) for key in keys)
    for key, one in zip(keys, placed, strict=True):
        said = _say_taken(one.arrival, day)
        lines.append(f'  {key}: ""{" " * (width - len(key))}    # {said}')
    return lines


def _say_taken(arrival: Arrival, day: date) -> str:
    if arrival.taken is None:
        said = "no capture time"
    elif not arrival.clock_set:
        said = f"camera clock never set ({arrival.taken:%Y-%m-%d %H:%M})"
    elif arrival.taken.date() == day:
        said = f"{arrival.taken:%H:%M}"
    elif arrival.taken.date() == day + timedelta(days=1):
        said = f"{arrival.taken:%H:%M} the next morning"
    else:
        said = f"{arrival.taken:%Y-%m-%d %H:%M}"
    return said + (", clip" if arrival.clip else "")


# -- landing ---------------------------------------------------------------------------------------


def land_entry(root: Path, draft: Draft, text: str, on_copied: Callable[[int, int], None] | None = None) -> Path:
    """Put the entry in its place: photos copied bit for bit and compared, then all of it moved in one step.

    Stopped at any moment it leaves the entry whole or nothing of it. Raises NotWrittenError where the
    disk has no room, a photo changed meanwhile or the folder is there by now; OSError from the disk.
    """
    _check_room(root, draft.placed)
    entries = root / "content" / "entries"
    entries.mkdir(parents=True, exist_ok=True)
    with staged(_beside(root, entries), "arriving") as folder:
        for number, placed in enumerate(draft.placed, start=1):
            _bring(placed, folder / placed.name)
            if on_copied is not None:
                on_copied(number, len(draft.placed))
        with (folder / "index.md").open("x", encoding="utf-8", newline="\n") as out:
            out.write(text)
            out.flush()
            os.fsync(out.fileno())
        sync_folder(folder)
        folder.chmod(0o777 & ~umask())
        place = entries / draft.folder
        if os.path.lexists(place):
            raise NotWrittenError(f"content/entries/{draft.folder} is there by now; nothing was written. Try again.")
        folder.rename(place)
        sync_folder(entries)
    return place


def say_trouble(trouble: OSError) -> str:
    """What went wrong on the disk, for somebody who is to do something about it."""
    where = f"{trouble.filename}: " if trouble.filename else ""
    said = f"{where}{trouble.strerror or trouble}"
    return f"the disk is full ({said})" if trouble.errno in (errno.ENOSPC, errno.EDQUOT) else said


def bring_photos(root: Path, folder: str, placed: Sequence[Placed]) -> None:
    """Add photos to an entry that is there; its text and its other files are left alone.

    All of them land, or none. Raises NotWrittenError and OSError as `land_entry` does.
    """
    _check_room(root, placed)
    place = root / "content" / "entries" / folder
    landed: list[Path] = []
    with staged(_beside(root, place), "arriving") as beside:
        for one in placed:
            _bring(one, beside / one.name)
        try:
            for one in placed:
                if os.path.lexists(place / one.name):
                    raise NotWrittenError(f"{one.name} is in {folder} by now; nothing was written. Try again.")
                (beside / one.name).rename(place / one.name)
                landed.append(place / one.name)
        except BaseException:
            for path in landed:
                path.unlink(missing_ok=True)
            raise
    sync_folder(place)


def _check_room(root: Path, placed: Sequence[Placed]) -> None:
    copied = sum(one.arrival.bytes for one in placed if not one.arrival.ours)
    room = free_bytes(root)
    if copied + SPARE_BYTES > room:
        raise NotWrittenError(
            f"the photos need {say_bytes(copied)}, and the disk has {say_bytes(room)} free, of which "
            f"{say_bytes(SPARE_BYTES)} must stay free; nothing was written. Make room and try again."
        )


def _beside(root: Path, entries: Path) -> Path:
    """Where the entry is put together: out of sight of everything that reads content/, on the same disk."""
    cache = root / CACHE
    cache.mkdir(exist_ok=True)
    return cache if cache.stat().st_dev == entries.stat().st_dev else entries


def _bring(placed: Placed, target: Path) -> None:
    arrival = placed.arrival
    if arrival.ours and arrival.path.stat().st_dev == target.parent.stat().st_dev:
        arrival.path.rename(target)  # unpacked here a moment ago, for nobody else
    else:
        _copy(arrival, target)
    with target.open("rb") as written:
        os.fsync(written.fileno())


def _copy(arrival: Arrival, target: Path) -> None:
    digest, _ = copy_with_sha256(arrival.path, target)
    if arrival.sha256 and digest != arrival.sha256:
        raise NotWrittenError(f"{arrival.shown} changed while it was being copied; nothing was written. Try again.")


def make_draft(
    journal: Journal,
    *,
    day: date,
    assembly: str,
    arrivals: Sequence[Arrival],
    title: str = "",
    said: Mapping[str, tuple[str, ...]],
    hours: str = "",
    place: str = "",
    draft: bool = False,
    also_taken: Iterable[str] = (),
) -> Draft:
    """The entry of `day` with everything that follows from the journal and the photos.

    `said` holds what the builder gave for `steps`, `begun`, `people`, `tools`, `methods`. `also_taken` are
    folder names that will be there before this one is.
    """
    taken = (*entry_folders(journal.root), *also_taken)
    return Draft(
        folder=folder_name(day, title or assembly, taken),
        date=day,
        assembly=assembly,
        title=one_line(title),
        hours=hours,
        steps=said.get("steps", ()),
        begun=said.get("begun", ()),
        people=said.get("people", ()),
        place=place,
        tools=said.get("tools", ()),
        methods=said.get("methods", ()),
        draft=draft,
        placed=place_names(arrivals),
        next_steps=next_steps(journal, assembly),
        spans=camera_spans(arrivals),
    )
