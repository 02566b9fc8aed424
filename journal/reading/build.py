"""Reading: the files of a build folder become checked records, and problems with places.

The only part of the project that knows YAML, CSV and front matter.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

from journal.base.model import Build, Entry, FreePage, Inspection, Material, Record
from journal.base.problems import Problem, nearest, sort_problems
from journal.ledger.hours import sort_entries
from journal.reading.closing import close_build
from journal.reading.entries import Known, read_entry
from journal.reading.folders import Examine, ExaminedPhoto, Folder, file_size, list_folder
from journal.reading.inspections import read_inspection
from journal.reading.lists import (
    read_calibrated_tools,
    read_costs,
    read_inventory,
    read_materials,
    read_records,
    read_tasks,
    unlisted_records,
)
from journal.reading.pages import read_page, read_terms
from journal.reading.plan import read_plan, read_steps
from journal.reading.text import Notes, read_text

T = TypeVar("T")

__all__ = ["Examine", "ExaminedPhoto", "Remembered", "read_build"]

TOP_LEVEL = frozenset(
    {
        "build.yml",
        "steps.csv",
        "aircraft.svg",
        "entries",
        "inspections",
        "records",
        "records.csv",
        "inventory.csv",
        "tasks.csv",
        "materials.csv",
        "tools.csv",
        "costs.csv",
        "terms.md",
        "pages",
        "seals.jsonl",
        "seals",
    }
)


@dataclass(slots=True)
class _Desk:
    """The build folder on the desk: where it is, and the problems found so far."""

    root: Path
    sheets: list[Notes]

    def notes(self, uri: str) -> Notes:
        """A fresh sheet for the problems of one file."""
        self.sheets.append(Notes(uri))
        return self.sheets[-1]

    def path(self, uri: str) -> Path:
        return self.root / uri

    def optional(self, uri: str, read: Callable[[Path, Notes], T], default: T) -> T:
        """`read` of a file that a build may do without, else `default`."""
        path = self.path(uri)
        return read(path, self.notes(uri)) if path.exists() else default


@dataclass(frozen=True, slots=True)
class _Read:
    """An entry as it was read from these bytes, photos and clips, and what was wrong with it."""

    data: bytes | None
    folder: Folder
    examined: tuple[ExaminedPhoto | None, ...]
    clip_bytes: tuple[int, ...]
    entry: Entry | None
    problems: tuple[Problem, ...]


@dataclass(slots=True)
class Remembered:
    """Entries as they were last read, for a preview that reads after every save: what has not changed, and
    is held against the same lists, comes out the same.
    """

    known: Known | None = None
    entries: dict[str, _Read] = field(default_factory=dict)


def read_build(
    root: Path,
    examine: Callable[[Sequence[str]], Mapping[str, ExaminedPhoto]],
    remembered: Remembered | None = None,
) -> tuple[Build, tuple[Problem, ...]]:
    """Everything under `root`/content, and every problem in it, sorted.

    `examine` gives digest and facts of the photos named by their `src_uri`; it is asked once for
    all of them. What an error names is left out of the `Build`, so that the rest holds together.
    Nothing under `root` is written. `remembered` spares reading entries again that are as they were.
    """
    desk = _Desk(root, [])
    plan = read_plan(desk.path("content/build.yml"), desk.notes("content/build.yml"))
    steps = read_steps(desk.path("content/steps.csv"), plan, desk.notes("content/steps.csv"))
    records_uri = "content/records/records.csv"
    if not desk.path(records_uri).exists():
        records_uri = "content/records.csv"
    record_folder = desk.path("content/records")
    records: tuple[Record, ...] = desk.optional(
        records_uri, lambda path, notes: read_records(path, record_folder, notes), ()
    )
    if record_folder.is_dir():
        unlisted_records(record_folder, records, desk.notes("content/records"))
    with desk.notes("content/materials.csv").watching() as watch:
        materials: dict[str, Material] = desk.optional(
            "content/materials.csv", lambda path, notes: read_materials(path, records, notes), {}
        )

    entry_folders = _folders(desk, "content/entries")
    look_folders = _folders(desk, "content/inspections")
    page_uris = _pages(desk)
    known = Known(plan=plan, steps=steps, materials=None if watch.failed else materials)
    examined = examine([f"{folder.uri}/{name}" for folder in (*entry_folders, *look_folders) for name in folder.photos])

    def at_hand(uris: Sequence[str]) -> Mapping[str, ExaminedPhoto]:
        return examined

    entries: list[Entry] = []
    kept = remembered or Remembered()
    if kept.known != known:
        kept.known, kept.entries = known, {}
    for folder in entry_folders:
        entry = _entry(root, folder, known, examined, kept.entries, desk.notes(f"{folder.uri}/index.md"))
        if entry is not None:
            entries.append(entry)
    named = {folder.id: folder for folder in entry_folders}
    inspections: list[Inspection] = []
    for folder in look_folders:
        notes = desk.notes(f"{folder.uri}/index.md")
        inspection = read_inspection(root, folder, known, named, at_hand, notes)
        if inspection is not None:
            inspections.append(inspection)
    pages: list[FreePage] = []
    for uri in page_uris:
        page = read_page(desk.path(uri), uri, desk.notes(uri))
        if page is not None:
            pages.append(page)
    _strangers(desk)

    build = Build(
        aircraft=plan.aircraft,
        begun=plan.begun,
        zone=plan.zone.key if plan.zone else None,
        closing_inspections=plan.closing_inspections,
        shows=plan.shows,
        people=plan.people,
        places=plan.places,
        assemblies=plan.assemblies,
        photo_settings=plan.photo_settings,
        clip_budget_bytes=plan.clip_budget_bytes,
        steps=steps.steps,
        entries=sort_entries([entry for entry in entries if not entry.draft]),
        drafts=sort_entries([entry for entry in entries if entry.draft]),
        inspections=tuple(sorted(inspections, key=lambda look: (look.date, look.id))),
        records=records,
        inventory=desk.optional("content/inventory.csv", read_inventory, ()),
        tasks=desk.optional("content/tasks.csv", lambda path, notes: read_tasks(path, known, notes), ()),
        materials=materials,
        calibrated_tools=desk.optional("content/tools.csv", read_calibrated_tools, ()),
        costs=desk.optional(
            "content/costs.csv", lambda path, notes: read_costs(path, plan.assemblies, records, notes), ()
        ),
        terms=desk.optional("content/terms.md", read_terms, ()),
        pages=tuple(pages),
        drawing=desk.optional("content/aircraft.svg", read_text, None),
    )
    return close_build(build), sort_problems(problem for notes in desk.sheets for problem in notes.problems)


def _entry(
    root: Path,
    folder: Folder,
    known: Known,
    examined: Mapping[str, ExaminedPhoto],
    kept: dict[str, _Read],
    notes: Notes,
) -> Entry | None:
    """The entry of a folder, from `kept` where nothing that shapes it has changed."""
    photos = tuple(examined.get(f"{folder.uri}/{name}") for name in folder.photos)
    clips = tuple(file_size(root / folder.uri / name) for name in folder.clips)
    try:
        data = (root / folder.uri / "index.md").read_bytes()
    except OSError:
        data = None  # the reader will say why
    last = kept.get(folder.uri)
    if (
        last
        and data is not None
        and (last.data, last.folder, last.examined, last.clip_bytes)
        == (
            data,
            folder,
            photos,
            clips,
        )
    ):
        notes.problems.extend(last.problems)
        return last.entry
    entry = read_entry(root, folder, known, lambda uris: examined, notes)
    kept[folder.uri] = _Read(data, folder, photos, clips, entry, tuple(notes.problems))
    return entry


def _folders(desk: _Desk, uri: str) -> list[Folder]:
    """The folders below `uri` that hold an index.md, in order of name."""
    base = desk.path(uri)
    if not base.is_dir():
        return []
    folders = []
    for path in sorted(base.iterdir(), key=lambda item: item.name):
        if path.name.startswith("."):
            continue
        here = f"{uri}/{path.name}"
        if not path.is_dir():
            desk.notes(here).finding(
                None, "stray-file", "a file stands where folders are meant", "make it FOLDER/index.md"
            )
        elif not (path / "index.md").exists():
            if any(item for item in path.iterdir() if not item.name.startswith(".")):
                desk.notes(here).finding(
                    None, "no-index", "the folder has no index.md and is not shown", "write its index.md"
                )
        else:
            folders.append(list_folder(path, here, desk.notes(f"{here}/index.md")))
    return folders


def _pages(desk: _Desk) -> list[str]:
    base = desk.path("content/pages")
    if not base.is_dir():
        return []
    return sorted(
        f"content/pages/{path.name}"
        for path in base.iterdir()
        if path.suffix == ".md" and not path.name.startswith(".")
    )


def _strangers(desk: _Desk) -> None:
    """Names directly under content/ that nothing reads: most often a slip of the finger."""
    base = desk.path("content")
    if not base.is_dir():
        return
    for path in sorted(base.iterdir(), key=lambda item: item.name):
        name = path.name
        if name in TOP_LEVEL or name.startswith(".") or name.casefold() in {"thumbs.db", "desktop.ini"}:
            continue
        guess = nearest(name, TOP_LEVEL)
        desk.notes(f"content/{name}").finding(
            None,
            "unknown-file",
            "nothing reads this file",
            f'did you mean "{guess}"?' if guess else "take it out, or see the list of files in the format",
        )
