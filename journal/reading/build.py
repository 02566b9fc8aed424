"""Reading: the files of a build folder become checked records, and problems with places.

The only part of the project that knows YAML, CSV and front matter.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TypeVar
from zoneinfo import ZoneInfo

from journal.base.model import Build, Entry, Record, Role, sort_entries
from journal.base.problems import Problem, nearest, sort_problems
from journal.reading.closing import close_build
from journal.reading.entries import read_entry, read_inspection
from journal.reading.folders import ExaminedPhoto, Folder, file_size, list_folder, read_page
from journal.reading.form import KnownIds
from journal.reading.lists import (
    read_calibrated_tools,
    read_costs,
    read_inventory,
    read_materials,
    read_records,
    read_steps,
    read_tasks,
    read_terms,
    unlisted_records,
)
from journal.reading.plan import read_plan
from journal.reading.text import Notes, read_text

T = TypeVar("T")

__all__ = ["ExaminedPhoto", "Remembered", "read_build"]

TOP_LEVEL = frozenset(
    {"build.yml", "steps.csv", "aircraft.svg", "entries", "inspections", "records", "records.csv", "inventory.csv"}
    | {"tasks.csv", "materials.csv", "tools.csv", "costs.csv", "terms.md", "pages", "seals.jsonl", "seals"}
)


@dataclass(slots=True)
class _Content:
    """The content folder being read: the build folder it lies in, and the problems found so far."""

    root: Path
    noted: list[Notes]

    def notes(self, uri: str) -> Notes:
        """A place for the problems of one file."""
        self.noted.append(Notes(uri))
        return self.noted[-1]

    def optional(self, uri: str, read: Callable[[Path, Notes], T], default: T) -> T:
        """`read` of a file that a build may do without, else `default`."""
        path = self.root / uri
        return read(path, self.notes(uri)) if path.exists() else default

    def names(self, uri: str) -> list[str]:
        """What lies in a folder, hidden names aside, in order; nothing where there is none."""
        folder = self.root / uri
        return sorted(path.name for path in folder.iterdir() if path.name[0] != ".") if folder.is_dir() else []


@dataclass(frozen=True, slots=True)
class _Read:
    """An entry as it was read from what was `seen` (its bytes, folder, photos, lengths of clips), and what was
    wrong with it.
    """

    seen: tuple[object, ...]
    entry: Entry | None
    problems: tuple[Problem, ...]


@dataclass(slots=True)
class Remembered:
    """Entries as they were last read, for a preview that reads after every save: what has not changed, and
    is held against the same lists, comes out the same.
    """

    known: KnownIds | None = None
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
    content = _Content(root, [])
    plan, whole = read_plan(root / "content/build.yml", content.notes("content/build.yml"))
    assemblies = plan.assemblies if whole else None
    notes = content.notes("content/steps.csv")
    steps, damaged = read_steps(root / notes.file, assemblies, notes)
    steps_whole = whole and not notes.errors
    records_uri = "content/records/records.csv"
    if not (root / records_uri).exists():
        records_uri = "content/records.csv"
    record_folder = root / "content/records"
    records: tuple[Record, ...] = content.optional(
        records_uri, lambda path, notes: read_records(path, record_folder, notes), ()
    )
    if record_folder.is_dir():
        unlisted_records(record_folder, records, content.notes("content/records"))
    notes = content.notes("content/materials.csv")
    path = root / notes.file
    materials = read_materials(path, records, notes) if path.exists() else {}

    entry_folders = _folders(content, "content/entries")
    inspection_folders = _folders(content, "content/inspections")
    known = KnownIds(
        lists={
            "person": plan.people if whole else None,
            "place": plan.places if whole else None,
            "assembly": assemblies,
            "step": steps if steps_whole else None,
            "material": None if notes.errors else materials,
        },
        steps=steps,
        damaged=damaged,
        builders=tuple(person.id for person in plan.people.values() if person.role is Role.BUILDER),
        place=next(iter(plan.places), None),
        zone=ZoneInfo(plan.zone) if plan.zone else None,
    )
    folders = (*entry_folders, *inspection_folders)
    examined = examine([f"{folder.uri}/{name}" for folder in folders for name in folder.photos])

    kept = remembered or Remembered()
    if kept.known != known:
        kept.known, kept.entries = known, {}
    entries = [
        entry
        for folder in entry_folders
        if (entry := _entry(root, folder, known, examined, kept.entries, content.notes(f"{folder.uri}/index.md")))
    ]
    known = replace(known, lists={**known.lists, "entry": {folder.id: folder for folder in entry_folders}})
    inspections = [
        inspection
        for folder in inspection_folders
        if (inspection := read_inspection(root, folder, known, examined, content.notes(f"{folder.uri}/index.md")))
    ]
    page_uris = [f"content/pages/{name}" for name in content.names("content/pages") if name.endswith(".md")]
    pages = [page for uri in page_uris if (page := read_page(root / uri, uri, content.notes(uri)))]
    _strangers(content)

    build = replace(
        plan,
        steps=steps,
        entries=sort_entries([entry for entry in entries if not entry.draft]),
        drafts=sort_entries([entry for entry in entries if entry.draft]),
        inspections=tuple(sorted(inspections, key=lambda inspection: (inspection.date, inspection.id))),
        records=records,
        inventory=content.optional("content/inventory.csv", read_inventory, ()),
        tasks=content.optional("content/tasks.csv", lambda path, notes: read_tasks(path, known, notes), ()),
        materials=materials,
        calibrated_tools=content.optional("content/tools.csv", read_calibrated_tools, ()),
        costs=content.optional("content/costs.csv", lambda path, notes: read_costs(path, known, records, notes), ()),
        terms=content.optional("content/terms.md", read_terms, ()),
        pages=tuple(pages),
        drawing=content.optional("content/aircraft.svg", read_text, None),
    )
    return close_build(build), sort_problems(problem for notes in content.noted for problem in notes.problems)


def _entry(
    root: Path,
    folder: Folder,
    known: KnownIds,
    examined: Mapping[str, ExaminedPhoto],
    kept: dict[str, _Read],
    notes: Notes,
) -> Entry | None:
    """The entry of a folder, from `kept` where nothing that shapes it has changed."""
    try:
        data = (root / folder.uri / "index.md").read_bytes()
    except OSError:
        data = None  # the reader will say why
    seen = (
        data,
        folder,
        tuple(examined.get(f"{folder.uri}/{name}") for name in folder.photos),
        tuple(file_size(root / folder.uri / name) for name in folder.clips),
    )
    last = kept.get(folder.uri)
    if last is None or data is None or last.seen != seen:
        entry = read_entry(root, folder, known, examined, notes)
        kept[folder.uri] = _Read(seen, entry, tuple(notes.problems))
        return entry
    notes.problems.extend(last.problems)
    return last.entry


def _folders(content: _Content, uri: str) -> list[Folder]:
    """The folders below `uri` that hold an index.md, in order of name."""
    folders = []
    for name in content.names(uri):
        here = f"{uri}/{name}"
        path = content.root / here
        if not path.is_dir():
            said = f"a file lies here where a folder for each {'entry' if uri.endswith('entries') else 'inspection'}"
            content.notes(here).finding(None, "stray-file", f"{said} is expected", "make it FOLDER/index.md")
        elif (path / "index.md").exists():
            folders.append(list_folder(path, here, content.notes(f"{here}/index.md")))
        elif content.names(here):
            said = "the folder has no index.md and is not shown"
            content.notes(here).finding(None, "no-index", said, "write its index.md")
    return folders


def _strangers(content: _Content) -> None:
    """Names directly under content/ that nothing reads: most often a slip of the finger."""
    for name in content.names("content"):
        if name in TOP_LEVEL or name.casefold() in {"thumbs.db", "desktop.ini"}:
            continue
        guess = nearest(name, TOP_LEVEL)
        hint = f'did you mean "{guess}"?' if guess else "take it out, or see the list of files in docs/format.md"
        content.notes(f"content/{name}").finding(None, "unknown-file", "nothing reads this file", hint)
