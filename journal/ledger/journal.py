"""The conductor: open a build folder, get everything that is known about it. All doors use it."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from journal.base.model import Build, Entry, sort_entries
from journal.base.problems import Grade, Problem, sort_problems
from journal.ledger.alike import check_undone
from journal.ledger.checks import check_trade
from journal.ledger.evidence import Evidence, find_gaps
from journal.ledger.hours import Ledger, build_ledger
from journal.ledger.inventory import check_hardware
from journal.ledger.links import check_links
from journal.ledger.materials import check_shelf_lives
from journal.ledger.progress import Progress, replay
from journal.reading.build import ExaminedPhoto as ExaminedPhoto
from journal.reading.build import read_build
from journal.reading.remembered import Remembered

if TYPE_CHECKING:
    from journal.media.photos import PhotoStore

CACHE = ".journal"
"""Folder beside content/ for everything that may be deleted at any time."""

OnPhotos = Callable[[int, int], None]
"""Told (photos examined, photos in all) while originals are read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Journal:
    """A build folder read, checked and added up.

    `root` is the folder that holds mkdocs.yml and content/. `today` is the day the journal was
    opened, given by the caller. Where `problems` hold errors, `build` lacks what they name and
    nothing may be published from it. `problems` are all errors and the findings without an answer;
    `evidence` holds the answered ones as well.
    """

    root: Path
    today: date
    build: Build
    ledger: Ledger
    progress: Progress
    evidence: Evidence
    problems: tuple[Problem, ...] = ()


@lru_cache(maxsize=8)
def photo_store(root: Path) -> PhotoStore:
    """The store of renditions and photo facts of the build folder `root`; a preview asks the same one again."""
    from journal.media.photos import PhotoStore

    return PhotoStore(root, root / CACHE / "photos")


def remembered_in(root: Path) -> Remembered:
    """What the last run that opened the build folder `root` read."""
    return Remembered(root / CACHE / "entries.pickle")


def open_journal(
    root: Path, today: date, on_photos: OnPhotos | None = None, remembered: Remembered | None = None
) -> Journal:
    """Read, check and add up the build folder `root`; nothing under content/ is written.

    Every mistake is in the result's `problems`; no exception stands for one. `remembered` is for those who
    open the same folder again and again; others remember from one run to the next.
    """
    from journal.base.drawing import check_drawing
    from journal.base.shapes import draw_aircraft
    from journal.ledger.films import check_made_films

    store = photo_store(root)

    def examine(src_uris: Sequence[str]) -> Mapping[str, ExaminedPhoto]:
        return store.examine(src_uris, on_photos)

    build, problems = read_build(root, examine, remembered or remembered_in(root))
    ledger, progress = build_ledger(build), replay(build)
    of_trade, set_anew = check_trade(build, progress)
    supplies = (*check_shelf_lives(build, today), *check_hardware(build, progress))
    found = (*problems, *check_links(build), *check_undone(build), *of_trade, *supplies)
    if build.drawing is not None:
        found += check_drawing(build.drawing, build.assemblies, "content/aircraft.svg")
    elif build.airframe is not None:
        build = replace(build, drawing=draw_aircraft(build.airframe, tuple(build.assemblies.values())))
    found += check_made_films(root, root / CACHE / "clips", build)
    evidence = find_gaps(build, ledger, progress, today, others=found, set_anew=set_anew)
    errors = [problem for problem in found if problem.grade is Grade.ERROR]
    return Journal(
        root=root,
        today=today,
        build=build,
        ledger=ledger,
        progress=progress,
        evidence=evidence,
        problems=sort_problems((*errors, *evidence.problems)),
    )


Examine = Callable[[Sequence[str]], Mapping[str, ExaminedPhoto]]


def open_few(root: Path, today: date, few: Collection[str], beside: Sequence[Entry], examine: Examine) -> Journal:
    """The lists of the build folder `root` and the entries of the folders `few`, read alone: its `build` holds no more.

    `beside` are all other entries, in which only what hours and progress ask for needs to be told: both are those of
    the whole journal. Nothing is checked but what was read, and that against the lists and the names of the others.
    """
    build, problems = read_build(root, examine, few=few, beside=[entry.id for entry in beside])
    told = [entry for entry in (*beside, *build.entries) if not entry.draft]
    whole = replace(build, entries=sort_entries(told))
    return Journal(
        root=root,
        today=today,
        build=build,
        ledger=build_ledger(whole),
        progress=replay(whole),
        evidence=Evidence(),
        problems=problems,
    )
