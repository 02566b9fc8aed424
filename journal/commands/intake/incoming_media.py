"""What comes from a phone: photos and clips looked at where they lie, told apart from what the journal has, by day.

Originals are opened for reading only. A zip is unpacked into a scratch folder first; one with a path
that climbs out of it is refused whole.
"""

from __future__ import annotations

import os
import re
import shutil
import stat
import zipfile
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from itertools import combinations, groupby
from pathlib import Path, PurePosixPath
from typing import Any, Generic, TypeVar
from zoneinfo import ZoneInfo

from journal.base.byte_progress import Progress, say_bytes
from journal.base.digests import file_sha256
from journal.base.formatting import say_count
from journal.base.model import CLIP_ENDINGS, PICTURE_ENDINGS, PhotoFacts
from journal.base.problems import Problem, error, finding, has_errors
from journal.base.safe_write import free_bytes
from journal.commands.terminal import EXIT_USE, ProgressBar, fail, print_problems
from journal.ledger.journal import CACHE, Journal, photo_store
from journal.ledger.picture_times import first_day, why_impossible
from journal.media.clips.facts import ClipFacts, clip_facts
from journal.media.photos import PhotoStore
from journal.reading.build import told_below
from journal.reading.folders import file_size, natural_key

T = TypeVar("T")

NIGHT_ENDS = time(4)
EVENING_BEGINS = time(17)
NIGHT_GAP = timedelta(hours=2)
"""Pictures before four in the morning that follow an evening's last one within two hours look like the
same session (a guess, always shown and never taken without a word)."""

_PIECE = 1 << 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Incoming:
    """A photo or clip that could be brought in. `shown` names it to the user, `name` is what it is called in the folder
    of its entry: its own name wherever that can be.

    `taken` is local time by the camera; None where it says none, `doubt` why that cannot be. `sha256` is empty for a
    clip.
    """

    path: Path
    shown: str
    name: str
    bytes: int
    clip: bool = False
    sha256: str = ""
    taken: datetime | None = None
    offset: str | None = None
    camera: str = ""
    live: bool = False
    trouble: str = ""
    damage: str = ""
    doubt: str = ""

    @property
    def ours(self) -> bool:
        """Whether it was unpacked here, and may be moved instead of copied."""
        return self.shown != str(self.path)

    @property
    def clock_set(self) -> bool:
        """Whether the camera's clock was ever set."""
        return PhotoFacts(taken=self.taken).clock_set

    @property
    def day(self) -> date | None:
        """The day of capture, None where nobody can say."""
        return self.taken.date() if self.taken and self.clock_set and not self.doubt else None

    def say_taken(self, day: date) -> str:
        """When it was taken, to a reader who has `day` before him."""
        said = f"{self.taken:%Y-%m-%d %H:%M}" if self.taken else "no capture time"
        if self.taken and not self.clock_set:
            said = f"camera clock never set ({said})"
        elif self.doubt:
            said = self.doubt
        elif self.taken and 0 <= (self.taken.date() - day).days <= 1:
            said = f"{self.taken:%H:%M}" + (" the next morning" if self.taken.date() > day else "")
        return said + (", clip" if self.clip else "")


@dataclass(slots=True)
class Found:
    """Everything under the paths that were named, told apart.

    `media` are all photos and clips; of them `fresh` are to be brought in, `here` are in the journal already, each
    with where; `twins` have the content of another that arrived with them; `live` are the moving parts of still
    pictures. `passed_over` are other files, `files` what is still to be looked at, each with its shown name.
    """

    media: list[Incoming] = field(default_factory=list)
    fresh: list[Incoming] = field(default_factory=list)
    here: list[tuple[Incoming, str]] = field(default_factory=list)
    twins: list[tuple[Incoming, Incoming]] = field(default_factory=list)
    live: list[Incoming] = field(default_factory=list)
    passed_over: list[str] = field(default_factory=list)
    files: dict[Path, str] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    def take(self, path: Path, shown: str = "") -> None:
        """Sort one file by the ending of its name."""
        if path.suffix.casefold() in PICTURE_ENDINGS | CLIP_ENDINGS:
            self.files[path] = shown or str(path)
        else:
            self.passed_over.append(shown or str(path))

    def refuse(self, path: Path, word: str, message: str, hint: str = "") -> None:
        """Note an error about a path that was named."""
        self.problems.append(error(str(path), None, word, message, hint))


def examine_media(journal: Journal, paths: Sequence[Path], scratch: Path, *, live: bool = False) -> Found:
    """Look at every photo and clip under `paths`: folders (with what is in them), files and zips, unpacked into
    `scratch`. `live` brings in the moving parts of still pictures too.

    What cannot be used is told; a path that is not there, or a zip that is damaged or refused, ends the command.
    """
    found = Found()
    for path in paths:
        if path.is_dir():
            _walk(path, found)
        elif not path.exists():
            found.refuse(path, "file-missing", "there is no such file or folder")
        elif path.suffix.casefold() == ".zip":
            _unpack(path, scratch, found)
        else:
            found.take(path)
    if found.files:
        with ProgressBar("looking at photos") as bar:
            _examine(found, journal, bar)
    print_problems(found.problems)
    if has_errors(found.problems):
        fail("nothing was written", EXIT_USE)
    if found.media:
        _tell_apart(found, read_known(journal.root), live=live)
    return found


def _in_order(item: Incoming) -> tuple[object, ...]:
    return (item.day is None, item.taken or datetime.max, natural_key(item.name), item.shown)


def _walk(folder: Path, found: Found) -> None:
    def unreadable(trouble: OSError) -> None:
        message = f"cannot be read: {trouble.strerror}"
        found.problems.append(finding(str(trouble.filename), None, "file-unreadable", message))

    for here, folders, names in os.walk(folder, onerror=unreadable):
        folders[:] = sorted((name for name in folders if not name.startswith(".")), key=natural_key)
        for name in sorted(names, key=natural_key):
            if not name.startswith("."):
                found.take(Path(here, name))


# -- zips ------------------------------------------------------------------------------------------


def _unpack(path: Path, scratch: Path, found: Found) -> None:
    """Photos and clips of a zip into `scratch`, each in a folder of its own: names in a zip may meet."""
    try:
        with zipfile.ZipFile(path) as packed:
            members = [member for member in packed.infolist() if not member.is_dir()]
            for member in members:
                if reason := _refusal(member):
                    found.refuse(path, "zip-refused", reason, "unpack it yourself and look")
                    return
            wanted = [member for member in members if not _hidden(member.filename)]
            needed = sum(member.file_size for member in wanted)
            room = free_bytes(scratch)
            if needed > room:
                said = f"unpacked it needs {say_bytes(needed)}, and {say_bytes(room)} are free"
                found.refuse(path, "disk-full", said, "make room, or unpack it elsewhere and name the folder")
                return
            for number, member in enumerate(wanted, start=1):
                _unpack_one(packed, member, path, scratch / f"{len(found.files)}-{number}", found)
    except (zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, EOFError) as trouble:
        found.refuse(path, "zip-damaged", f"the zip cannot be read: {trouble}", "copy it from the phone again")
    except (NotImplementedError, RuntimeError) as trouble:
        # zipfile says so of methods it does not know and of passwords.
        found.refuse(path, "zip-refused", str(trouble), "unpack it with another program")


def _unpack_one(packed: zipfile.ZipFile, member: zipfile.ZipInfo, zip_path: Path, folder: Path, found: Found) -> None:
    name = PurePosixPath(member.filename.replace("\\", "/")).name
    shown = f"{zip_path} » {member.filename}"
    target = folder / safe_name(name)
    found.take(target, shown)
    if target in found.files:
        folder.mkdir(parents=True)
        with packed.open(member) as source, target.open("xb") as out:
            shutil.copyfileobj(source, out, _PIECE)


def _hidden(name: str) -> bool:
    return any(part.startswith(".") or part == "__MACOSX" for part in name.replace("\\", "/").split("/"))


def _refusal(member: zipfile.ZipInfo) -> str:
    """Why a zip with such a member is not unpacked, or an empty text."""
    name = member.filename.replace("\\", "/")
    if name.startswith("/") or ".." in name.split("/") or re.match(r"[A-Za-z]:", name):
        return f'it holds the path "{member.filename}", which leads out of the folder; nothing was taken from it'
    if stat.S_ISLNK(member.external_attr >> 16):
        return f'it holds the link "{member.filename}" instead of a file; nothing was taken from it'
    if member.flag_bits & 0x1:
        return "it is locked with a password"
    return ""


# -- looking at the files --------------------------------------------------------------------------


def _examine(found: Found, journal: Journal, on_photos: Progress) -> None:
    """Read what each file says of itself."""
    pictures: dict[str, Path] = {}
    for path, shown in found.files.items():
        if path.suffix.casefold() not in CLIP_ENDINGS:
            pictures[path.absolute().as_posix()] = path
        elif clip := _clip(path, shown, journal):
            found.media.append(clip)
        else:
            found.problems.append(finding(shown, None, "clip-unreadable", "not taken: cannot be read, or empty"))
    # What arrived last is remembered: an unchanged phone is read once.
    store = PhotoStore(journal.root, journal.root / CACHE / "arrivals")
    for uri, examined in store.examine(list(pictures), on_photos).items():
        path, facts = pictures[uri], examined.facts
        shown = found.files[path]
        if not examined.sha256 or not facts.bytes:
            found.problems.append(finding(shown, None, "photo-unreadable", f"not taken: {facts.trouble}"))
        else:
            found.media.append(_incoming(path, shown, facts, journal, bytes=facts.bytes, sha256=examined.sha256))
    store.prune(())
    found.media.sort(key=_in_order)


def _clip(path: Path, shown: str, journal: Journal) -> Incoming | None:
    facts, size = clip_facts(path), file_size(path)
    clip, zone = _incoming(path, shown, facts, journal, bytes=size, clip=True, live=facts.live), journal.build.zone
    if facts.taken is None and facts.taken_utc is not None and zone:
        # The container tells UTC.
        clip = replace(clip, taken=facts.taken_utc.astimezone(ZoneInfo(zone)).replace(tzinfo=None), offset=None)
    return clip if size else None


def _incoming(path: Path, shown: str, facts: PhotoFacts | ClipFacts, journal: Journal, **known: Any) -> Incoming:
    """One with what its file says of itself."""
    told: dict[str, Any] = {
        name: getattr(facts, name, "") for name in ("taken", "offset", "camera", "trouble", "damage")
    }
    doubt = why_impossible(facts, journal.today, first_day(journal.build))
    return Incoming(path=path, shown=shown, name=path.name, doubt=doubt, **told, **known)


# -- against the journal, and one another ----------------------------------------------------------


class KnownContent(Generic[T]):
    """Things known by content: photos by digest; clips, which are large, by size, and read only where sizes agree."""

    def __init__(self) -> None:
        self._alike: dict[str | int, list[tuple[Path, T]]] = {}

    def add(self, digest_or_size: str | int, path: Path, thing: T) -> None:
        """A photo or clip that lies at `path`; the first of the same content is found."""
        self._alike.setdefault(digest_or_size, []).append((path, thing))

    def find(self, item: Incoming) -> T | None:
        """What has the same content, or None."""
        alike = self._alike.get(item.sha256 or item.bytes, ())
        digest = file_sha256(item.path)[0] if alike and item.clip else ""
        return next((thing for path, thing in alike if not item.clip or file_sha256(path)[0] == digest), None)


def read_known(root: Path) -> KnownContent[str]:
    """The `src_uri` of all photos and clips of entries and inspections, whether or not their text can be read."""
    known: KnownContent[str] = KnownContent()
    media: set[str] = set()
    for uri in ("content/entries", "content/inspections", "content/measurements"):
        told, files = told_below(root, uri)
        # What lies loose among the folders is in the journal only where an entry names it.
        media |= {f"{uri}/{item.name}" for item in files if item.is_media and "/" in item.name}
        media |= {f"{folder.uri}/{name}" for folder in told for name in (*folder.photos, *folder.clips)}
    pictures = sorted(one for one in media if PurePosixPath(one).suffix.casefold() in PICTURE_ENDINGS)
    for src_uri in sorted(media.difference(pictures)):
        known.add((root / src_uri).stat().st_size, root / src_uri, src_uri)
    for src_uri, examined in photo_store(root).examine(pictures).items():
        if examined.sha256:
            known.add(examined.sha256, root / src_uri, src_uri)
    return known


def _tell_apart(found: Found, known: KnownContent[str], *, live: bool) -> None:
    stills = {_stem(item) for item in found.media if not item.clip}
    arrived: KnownContent[Incoming] = KnownContent()
    for item in sorted(found.media, key=lambda one: (natural_key(one.name), one.shown)):
        if item.clip and item.live and not live and _stem(item) in stills:
            found.live.append(item)
        elif place := known.find(item):
            found.here.append((item, place))
        elif twin := arrived.find(item):
            found.twins.append((item, twin))
        else:
            found.fresh.append(item)
            arrived.add(item.sha256 or item.bytes, item.path, item)
    found.fresh.sort(key=_in_order)


def _stem(item: Incoming) -> str:
    return f"{item.path.parent}/{item.path.stem.casefold()}"


# -- by day ----------------------------------------------------------------------------------------


Days = Mapping[date | None, tuple[Incoming, ...]]
"""Arrivals by day of capture, oldest first; under None those whose day no camera tells."""


def group_by_day(incoming: Sequence[Incoming]) -> Days:
    """By the camera's local time."""
    return {day: tuple(taken) for day, taken in groupby(sorted(incoming, key=_in_order), lambda item: item.day)}


def night_after(days: Days, day: date) -> tuple[Incoming, ...]:
    """Those of the next morning that look like the same session (see NIGHT_GAP)."""
    evening = days.get(day, ())
    if not evening or (last := evening[-1].taken) is None or last.time() < EVENING_BEGINS:
        return ()
    night = []
    for item in days.get(day + timedelta(days=1), ()):
        if item.taken is None or item.taken.time() >= NIGHT_ENDS or item.taken - last > NIGHT_GAP:
            break
        night.append(item)
        last = item.taken
    return tuple(night)


@dataclass(frozen=True, slots=True, kw_only=True)
class CameraSpan:
    """One camera's share of a day: what it took, first and last capture by its own clock, offsets from UTC."""

    camera: str
    first: datetime
    last: datetime
    incoming: tuple[Incoming, ...]
    offsets: tuple[str, ...]

    @property
    def times(self) -> str:
        """`18:30-21:15`, as an entry tells its hours."""
        return f"{self.first:%H:%M}-{self.last:%H:%M}"


def camera_spans(incoming: Sequence[Incoming]) -> tuple[CameraSpan, ...]:
    """Each camera by itself, the one with most pictures first: two clocks are never mixed in silence.

    Many phones name themselves in photos but not in clips: where one camera took all the photos, clips of nobody
    count as its own.
    """
    named = {item.camera for item in incoming if not item.clip}
    only = named.pop() if len(named) == 1 else ""
    by_camera: dict[str, list[tuple[datetime, Incoming]]] = {}
    for item in incoming:
        if item.taken is not None and item.day:
            camera = item.camera or (only if item.clip else "") or "camera not named"
            by_camera.setdefault(camera, []).append((item.taken, item))
    spans = [
        CameraSpan(
            camera=camera,
            first=min(time for time, _ in taken),
            last=max(time for time, _ in taken),
            incoming=tuple(item for _, item in taken),
            offsets=tuple(sorted({item.offset for _, item in taken if item.offset})),
        )
        for camera, taken in by_camera.items()
    ]
    return tuple(sorted(spans, key=lambda span: (-len(span.incoming), span.camera)))


def clock_doubts(spans: Sequence[CameraSpan]) -> tuple[str, ...]:
    """What is odd about several clocks, in words; nothing is shifted because of it."""
    doubts = []
    offsets = {offset for span in spans for offset in span.offsets}
    if len(offsets) > 1:
        doubts.append(f"The clocks were set to different zones ({', '.join(sorted(offsets))} from UTC).")
    for one, other in combinations(spans, 2):
        gaps = (other.first - one.first, other.last - one.last)
        about_an_hour = all(timedelta(minutes=45) <= abs(gap) <= timedelta(minutes=75) for gap in gaps)
        if about_an_hour and abs(gaps[0] - gaps[1]) <= timedelta(minutes=20):
            named = f"{one.camera} and {other.camera}"
            doubts.append(f"{named} are about an hour apart from first to last: one of the two clocks may be wrong.")
    return tuple(doubts)


# -- small words -----------------------------------------------------------------------------------


def say_media(incoming: Sequence[Incoming]) -> str:
    """`23 photos and 1 clip`."""
    photos, clips = sum(not one.clip for one in incoming), sum(one.clip for one in incoming)
    said = [say_count(photos, "photo")] if photos or not clips else []
    return " and ".join(said + ([say_count(clips, "clip")] if clips else []))


_UNSAFE = re.compile(r'[<>:"/\\|?*]')
_TAKEN_BY_WINDOWS = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\.|$)", re.IGNORECASE)


def safe_name(name: str) -> str:
    """A file name that every disk takes; the same name wherever that is possible."""
    kept = "".join(char if char.isprintable() else "-" for char in _UNSAFE.sub("-", name)).rstrip(". ")
    stem, dot, ending = kept.rpartition(".")
    kept = f"{stem.lstrip('. ') or 'photo'}.{ending}" if dot else kept.lstrip() or "photo"
    return f"_{kept}" if _TAKEN_BY_WINDOWS.match(kept) else kept
