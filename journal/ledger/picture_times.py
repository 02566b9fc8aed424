"""When a picture was taken, by everything that its file says: one verdict for each, with its reason. Pure."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, TypeVar

from journal.base.formatting import say_date
from journal.base.model import Build, Entry, Inspection, Measurement, Photo, PhotoFacts

if TYPE_CHECKING:
    from journal.media.clips.facts import ClipFacts

Told = TypeVar("Told", Entry, Inspection, Measurement)

PHOTO_DAYS = 1
"""A picture may be a day off: work passes midnight, and cameras travel without changing zone."""

_FIX_LATE, _FIX_OLD = timedelta(minutes=15), timedelta(hours=6)
"""How far a satellite's time may lie after the camera's, and before it, for a fix may be old (common practice, no
source)."""
_SCREEN_PX = 640
_WEST, _EAST = timedelta(hours=-12), timedelta(hours=14)
_NAMED_DAY = re.compile(r"(?:IMG|PXL|MVIMG|PANO|DSC)?[_-]?(20\d\d)(\d\d)(\d\d)[_-]\d{6}", re.ASCII)
_NUMBERED = re.compile(r"(.{4})(\d{4})\.[^.]+", re.ASCII)
"""Four signs and a number from 0001 to 9999: names that cameras give by the rule for their cards (DCF, from memory)."""
_FEWEST, _OUT_OF_LINE, _BESIDE = 8, 20, 20
"""Numbers tell something only of a camera with so many pictures of which at most one in so many is out of line, and
only of a picture whose neighbours' numbers lie so near: two cameras of one make have numbers of their own."""


_TOMORROW = timedelta(days=1)
_STANDARDS = {"0220": 2002, "0221": 2003, "0230": 2010, "0231": 2016, "0232": 2019, "0300": 2023}
"""The versions of Exif that files name, and the year in which each was published (CIPA DC-008, from memory)."""


def why_impossible(facts: PhotoFacts | ClipFacts, today: date, begun: date | None) -> str:
    """Why a file's capture time cannot be: it is yet to come, or is of before its camera was made, which writes by a
    standard of later. Programs that save an old picture anew name theirs, so that counts only of a time before the
    build was begun. Empty where nothing speaks against it.
    """
    taken = facts.taken
    if taken is None or not PhotoFacts(taken=taken).clock_set:
        return ""
    if taken.date() > today + _TOMORROW:
        return f"by its camera {say_date(taken)}, which is yet to come"
    version = getattr(facts, "exif_version", "")
    made = _STANDARDS.get(version, 0)
    if taken.year < made and begun is not None and taken.date() < begun:
        said = f"Exif {int(version[:2])}.{version[2:].rstrip('0') or 0}"
        return f"by its camera {say_date(taken)}, before such a camera was made: it writes {said} of {made}"
    return ""


def first_day(build: Build) -> date | None:
    """The day on which a build was begun: as build.yml says, else that of its first entry."""
    return build.begun or min((entry.date for entry in build.entries), default=None)


def without_doubted_times(build: Build, today: date) -> Build:
    """`build` with no capture time that is in doubt, for followers: they are not told as facts what cannot be one."""
    doubted = {uri for uri, (word, _) in judge_times(build, today).items() if word == "photo-time"}
    if not doubted:
        return build

    def told(one: Told) -> Told:
        photos = tuple(
            replace(photo, facts=replace(photo.facts, taken=None)) if photo.src_uri in doubted else photo
            for photo in one.photos
        )
        return replace(one, photos=photos)

    return replace(
        build,
        entries=tuple(map(told, build.entries)),
        inspections=tuple(map(told, build.inspections)),
        measurements=tuple(map(told, build.measurements)),
    )


def judge_times(build: Build, today: date) -> Mapping[str, tuple[str, str]]:
    """`src_uri` of each picture whose time is in doubt -> (code word, what is said after its name).

    Words: camera-clock, photo-time, photo-date, no-capture-time; the first that holds, and no other.
    """
    photos = [(photo, entry.date) for entry in build.entries for photo in entry.photos]
    photos += [(photo, told.date) for told in build.write_ups for photo in told.photos]
    begun = first_day(build)
    out_of_line = dict(_out_of_line(photo for photo, _ in photos))
    verdicts = {}
    for photo, day in photos:
        facts = photo.facts
        if facts.taken is None:
            if not facts.trouble and not _is_drawn(photo):
                verdicts[photo.src_uri] = ("no-capture-time", "")
        elif not facts.clock_set:
            verdicts[photo.src_uri] = ("camera-clock", f" says {say_date(facts.taken)}")
        elif (
            reason := why_impossible(facts, today, begun)
            or _against_satellite(facts, facts.taken)
            or _against_name(photo)
            or out_of_line.get(photo.src_uri)
        ):
            verdicts[photo.src_uri] = ("photo-time", f" ({reason})")
        elif abs((facts.taken.date() - day).days) > PHOTO_DAYS:
            verdicts[photo.src_uri] = ("photo-date", f" on {say_date(facts.taken)}")
    return verdicts


def _is_drawn(photo: Photo) -> bool:
    """A screenshot or a drawing was taken by no camera: cameras write no PNG (common practice, no source)."""
    facts = photo.facts
    return not facts.camera and (
        (facts.kind == "PNG" and max(facts.width, facts.height) >= _SCREEN_PX)
        or re.match(r"screen[ _-]?shot", photo.name, re.IGNORECASE) is not None
    )


def _against_satellite(facts: PhotoFacts, taken: datetime) -> str:
    if facts.positioned is None:
        # A day without a time: by zones and midnight it may be the one before or after.
        if facts.positioned_on is None or abs((taken.date() - facts.positioned_on).days) <= PHOTO_DAYS:
            return ""
        return f"by its camera {say_date(taken)}, by satellite {say_date(facts.positioned_on)}"
    ahead = taken - facts.positioned
    least, most = _WEST - _FIX_LATE, _EAST + _FIX_OLD
    if facts.offset:
        hours, minutes = int(facts.offset[1:3]), int(facts.offset[4:6])
        offset = timedelta(hours=hours, minutes=minutes) * (-1 if facts.offset[0] == "-" else 1)
        least, most = offset - _FIX_LATE, offset + _FIX_OLD
    if least <= ahead <= most:
        return ""
    clock = f"{say_date(taken)} {taken:%H:%M}{f' {facts.offset}' if facts.offset else ''}"
    return f"by its camera {clock}, by satellite {say_date(facts.positioned)} {facts.positioned:%H:%M} UTC"


def _against_name(photo: Photo) -> str:
    found, taken = _NAMED_DAY.match(photo.name), photo.facts.taken
    try:
        named = date(*map(int, found.groups())) if found else None
    except ValueError:
        return ""
    if named is None or taken is None or abs((taken.date() - named).days) <= PHOTO_DAYS:
        return ""
    return f"by its camera {say_date(taken)}, by its name {say_date(named)}"


def _out_of_line(photos: Iterable[Photo]) -> Iterator[tuple[str, str]]:
    """(`src_uri`, reason) of pictures whose number runs against the order in which their camera took them: the two
    next to it are in order, and it lies outside of both.
    """
    by_camera: dict[tuple[str, str], list[tuple[int, datetime, Photo]]] = defaultdict(list)
    for photo in photos:
        found, taken = _NUMBERED.fullmatch(photo.name), photo.facts.taken
        if found and taken and photo.facts.camera and photo.facts.clock_set:
            by_camera[photo.facts.camera, found[1].casefold()].append((int(found[2]), taken, photo))
    day = timedelta(days=PHOTO_DAYS)
    for shots in by_camera.values():
        shots.sort(key=lambda shot: shot[:2])
        against = []
        for (low, since, before), (number, taken, photo), (high, until, after) in zip(
            shots, shots[1:], shots[2:], strict=False
        ):
            beside = 0 < number - low <= _BESIDE and 0 < high - number <= _BESIDE
            if beside and since <= until and not since - day <= taken <= until + day:
                between = f"{before.name} of {say_date(since)} and {after.name} of {say_date(until)}"
                against.append((photo.src_uri, f"by its camera {say_date(taken)}, by its number between {between}"))
        if len(against) <= max(1, len(shots) // _OUT_OF_LINE) and len(shots) >= _FEWEST:
            yield from against
