"""Reading: the files of a build folder become checked records, and problems with places.

The only part of the project that knows YAML, CSV and front matter.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TypeVar
from zoneinfo import ZoneInfo

from journal.base.model import (
    Build,
    Entry,
    FastenerSet,
    FreePage,
    Inspection,
    Measurement,
    Record,
    Role,
    TorqueSetting,
    sort_entries,
)
from journal.base.problems import Grade, Problem, did_you_mean, sort_problems
from journal.reading.callouts import read_callouts
from journal.reading.closing import close_build
from journal.reading.entries import read_entry
from journal.reading.folders import (
    ExaminedPhoto,
    Folder,
    FolderItem,
    file_size,
    index_of,
    list_folder,
    lone_entry,
    look_into,
    read_page,
)
from journal.reading.form import YES, KnownIds, check_former_names
from journal.reading.lists import (
    read_bulletins,
    read_calibrated_tools,
    read_costs,
    read_inventory,
    read_materials,
    read_rates,
    read_records,
    read_steps,
    read_tasks,
    read_terms,
    unlisted_records,
)
from journal.reading.plan import read_plan
from journal.reading.publishing import NONE, read_publishing
from journal.reading.remembered import EntryRead, Remembered
from journal.reading.text import Naming, Notes, is_there, read_bytes, read_text
from journal.reading.write_ups import read_inspection, read_measurement

T = TypeVar("T")
W = TypeVar("W", Inspection, Measurement)

__all__ = ["ExaminedPhoto", "read_build", "told_below"]

MAX_FOLDERS = 16
"""How many folders may lie in one another below entries/, pages/ or records/."""

TOP_LEVEL = frozenset(
    {"build.yml", "steps.csv", "aircraft.svg", "entries", "inspections", "records", "records.csv", "inventory.csv"}
    | {"tasks.csv", "materials.csv", "tools.csv", "costs.csv", "terms.md", "pages", "seals.jsonl", "seals"}
    | {"publishing.yml", "callouts.csv", "rates.csv", "measurements", "bulletins.csv"}
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
        return read(self.root / uri, self.notes(uri)) if is_there(self.root / uri) else default

    def look_into(self, uri: str, few: Collection[str] | None = None) -> list[FolderItem]:
        """What lies in a folder, of it what goes by the `few` names; nothing where there is none, with an error where a
        file stands in its place.
        """
        path = self.root / uri
        if not is_there(path):
            return []
        if not path.is_dir():
            self.notes(uri).error(None, "not-a-folder", "a folder is expected here, and this is none", "rename it")
            return []
        return look_into(path, self.notes(uri), few)

    def files_below(self, uri: str, depth: int = MAX_FOLDERS) -> list[FolderItem]:
        """The files below a folder, named by their path from it; deeper ones than `depth` folders are an error."""
        files = []
        for item in self.look_into(uri):
            if not item.is_folder:
                files.append(item)
            elif depth:
                inner = self.files_below(f"{uri}/{item.name}", depth - 1)
                files += [replace(one, name=f"{item.name}/{one.name}") for one in inner]
            else:
                self.too_deep(f"{uri}/{item.name}")
        return files

    def too_deep(self, uri: str) -> None:
        """Note a folder too far down."""
        self.notes(uri).error(None, "folder-too-deep", "this folder lies too deep and is not read", "move it up")


def read_build(
    root: Path,
    examine: Callable[[Sequence[str]], Mapping[str, ExaminedPhoto]],
    remembered: Remembered | None = None,
    named: dict[str, list[Naming]] | None = None,
    few: Collection[str] | None = None,
    beside: Collection[str] = (),
) -> tuple[Build, tuple[Problem, ...]]:
    """Everything under `root`/content, and every problem in it, sorted.

    `examine` gives digest and facts of the photos named by their `src_uri`; it is asked once for
    all of them. What an error names is left out of the `Build`, so that the rest holds together.
    Nothing under `root` is written. `remembered` spares reading entries again that are as they were. `named` is filled
    with what each file names, in the order of reading; not with it what is remembered. `few` are the folders right
    below content/entries that alone are read, beside the lists; `beside` the names of the other entries.
    """
    content = _Content(root, [])
    plan, whole = read_plan(root / "content/build.yml", content.notes("content/build.yml"), content.notes)
    assemblies = plan.assemblies if whole else None
    notes = content.notes("content/steps.csv")
    steps, damaged = read_steps(root / notes.file, assemblies, notes)
    steps_whole = whole and not notes.errors
    records_uri = "content/records/records.csv"
    if not is_there(root / records_uri):
        records_uri = "content/records.csv"
    elif is_there(root / "content/records.csv"):
        said = "this list is not read beside records/records.csv"
        content.notes("content/records.csv").finding(None, "unknown-file", said, "move its rows there")
    record_folder = root / "content/records"
    records: tuple[Record, ...] = content.optional(
        records_uri, lambda path, notes: read_records(path, record_folder, notes), ()
    )
    unlisted_records(content.files_below("content/records"), records, content.notes("content/records"))
    notes = content.notes("content/materials.csv")
    path = root / notes.file
    materials = read_materials(path, records, notes) if is_there(path) else {}

    entry_folders = _folders(content, "content/entries", few)
    inspection_folders = _folders(content, "content/inspections") if few is None else []
    measurement_folders = _folders(content, "content/measurements") if few is None else []
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
        edition=plan.manual_edition,
    )
    folders = (*entry_folders, *inspection_folders, *measurement_folders)
    examined = examine([f"{folder.uri}/{name}" for folder in folders for name in folder.photos])

    kept = remembered or Remembered()
    kept.hold_against(known)
    entries = [
        entry
        for folder in entry_folders
        if (entry := _entry(root, folder, known, examined, kept, content.notes(folder.file)))
    ]
    kept.write()
    errors = {notes.file for notes in content.noted if notes.errors}
    read = {entry.id for entry in entries}
    # An entry that could not be read is known, or an inspection would be told that it is not; a spared draft is not.
    there = (folder.id for folder in entry_folders if folder.id in read or folder.file in errors)
    listed = dict.fromkeys((*beside, *there))
    known = replace(known, lists={**known.lists, "entry": listed})
    for entry in entries:
        _note_unknown_entries(entry, listed, content.notes(entry.src_uri))

    def written_up(folders: Sequence[Folder], read: Callable[..., W | None]) -> tuple[W, ...]:
        told = (read(root, folder, known, examined, content.notes(folder.file)) for folder in folders)
        return tuple(sorted(filter(None, told), key=lambda one: (one.date, one.id)))

    inspections = written_up(inspection_folders, read_inspection)
    measurements = written_up(measurement_folders, read_measurement)
    pages = _pages(content) if few is None else ()
    kinds = ((entries, entry_folders), (inspections, inspection_folders), (measurements, measurement_folders))
    for told, known_folders in kinds:
        renamed = []
        for one in told:
            if one.formerly:
                notes = content.notes(one.src_uri)
                note = notes.finding if isinstance(one, Entry) and one.draft else notes.error
                renamed.append((one.id, one.formerly, partial(note, one.where.get("formerly"))))
        check_former_names(renamed, (folder.id for folder in known_folders))
    _strangers(content)
    let_pass, send_to = content.optional("content/publishing.yml", read_publishing, NONE)

    build = replace(
        plan,
        steps=steps,
        callouts=content.optional(
            "content/callouts.csv", lambda path, notes: read_callouts(path, known, plan.manual_edition, notes), ()
        ),
        entries=sort_entries([entry for entry in entries if not entry.draft]),
        drafts=sort_entries([entry for entry in entries if entry.draft]),
        inspections=inspections,
        measurements=measurements,
        bulletins=content.optional(
            "content/bulletins.csv", lambda path, notes: read_bulletins(path, known, records, notes), ()
        ),
        records=records,
        inventory=content.optional("content/inventory.csv", read_inventory, ()),
        tasks=content.optional("content/tasks.csv", lambda path, notes: read_tasks(path, known, notes), ()),
        materials=materials,
        calibrated_tools=content.optional("content/tools.csv", read_calibrated_tools, ()),
        costs=content.optional("content/costs.csv", lambda path, notes: read_costs(path, known, records, notes), ()),
        rates=content.optional("content/rates.csv", read_rates, ()),
        terms=content.optional("content/terms.md", read_terms, ()),
        pages=pages,
        drawing=content.optional("content/aircraft.svg", read_text, None),
        let_pass=let_pass,
        send_to=send_to,
    )
    for notes in content.noted:
        if named is not None and notes.named:
            named.setdefault(notes.file, []).extend(notes.named)
    return close_build(build, beside), sort_problems(problem for notes in content.noted for problem in notes.problems)


def _entry(
    root: Path,
    folder: Folder,
    known: KnownIds,
    examined: Mapping[str, ExaminedPhoto],
    kept: Remembered,
    notes: Notes,
) -> Entry | None:
    """The entry of a folder, from `kept` where nothing that shapes it has changed."""
    data = read_bytes(root / folder.file, Notes(folder.file))  # the reader will say why there are none
    seen = (
        data,
        folder,
        tuple(examined.get(f"{folder.uri}/{name}") for name in folder.photos),
        tuple(file_size(root / folder.uri / name) for name in folder.clips),
    )

    def read() -> EntryRead:
        noted = replace(notes, problems=[])
        entry = read_entry(root, folder, known, examined, noted)
        _spare_draft(data, noted)
        return EntryRead(seen, entry, tuple(noted.problems))

    told = read() if data is None else kept.find_or_read(folder.file, seen, read)
    notes.problems.extend(told.problems)
    return told.entry


def _note_unknown_entries(entry: Entry, listed: Collection[str], notes: Notes) -> None:
    """Note the entries that `drilled_out` names and nobody knows: while an entry is read the others are not."""
    note = notes.finding if entry.draft else notes.error
    rows: tuple[FastenerSet | TorqueSetting, ...] = (*entry.fasteners, *entry.torque)
    for row in rows:
        if (name := row.drilled_out) and name not in listed:
            note(row.where, "unknown-entry", f'unknown entry "{name}"', did_you_mean(name, listed))


_ONE_OF = {"entries": "entry", "inspections": "inspection", "measurements": "measurement"}
_DRAFT = re.compile(rf"^draft[ \t]*:[ \t]*['\"]?(?:{'|'.join(YES)})['\"]?[ \t]*(?:#.*)?$", re.MULTILINE | re.IGNORECASE)


def _spare_draft(data: bytes | None, notes: Notes) -> None:
    """Make findings of the errors in a text that says it is a draft: nothing is made from it but its preview."""
    head = re.split(
        r"^---", (data or b"").decode("utf-8", "replace").replace("\r", "\n"), maxsplit=2, flags=re.MULTILINE
    )
    if _DRAFT.search("".join(head[:2])):
        notes.problems[:] = [replace(problem, grade=Grade.FINDING) for problem in notes.problems]


def _folders(content: _Content, uri: str, few: Collection[str] | None = None) -> list[Folder]:
    """The entries or inspections below `uri`, each once by its ID, in order."""
    folders: dict[str, Folder] = {}
    for folder in _folders_in(content, uri, MAX_FOLDERS, few):
        if folder.id in folders:
            said = f'this goes by the name "{folder.id}" as does {folders[folder.id].file}, and is not read'
            content.notes(folder.file).error(None, "name-twice", said, "give one of them another name")
        folders.setdefault(folder.id, folder)
    return [folders[one] for one in sorted(folders)]


def told_below(root: Path, uri: str) -> tuple[list[Folder], list[FolderItem]]:
    """The entries or inspections below the folder `uri`, whether or not they can be read and also where two go by one
    name, and all files there, named by their path from it.
    """
    content = _Content(root, [])
    return [*_folders_in(content, uri, MAX_FOLDERS)], content.files_below(uri)


def _folders_in(content: _Content, uri: str, depth: int, few: Collection[str] | None = None) -> Iterator[Folder]:
    """What is told in folders (perhaps within those of a year) and in files of their own. Everything else that lies
    here is named in a finding.
    """
    found = content.look_into(uri, few)
    lone: list[Folder] = []
    for item in found:
        here = f"{uri}/{item.name}"
        if item.is_folder and not depth:
            content.too_deep(here)
        elif item.is_folder:
            inside = content.look_into(here)
            if index := index_of(content.root / here, inside):
                yield list_folder(here, index, inside, content.notes(f"{here}/{index}"))
                continue
            before = len(content.noted)
            inner = [*_folders_in(content, here, depth - 1)]
            yield from inner
            if not inner and not any(notes.errors for notes in content.noted[before:]):
                del content.noted[before:]
                said = "the folder has no index.md and is not shown"
                if inside:
                    content.notes(here).finding(None, "no-index", said, "write its index.md")
        elif item.is_text and (told := lone_entry(content.root, here, found)):
            lone.append(told)
        elif not item.is_media:
            said = f"a file lies here where a folder for each {_ONE_OF[uri.split('/')[1]]}"
            content.notes(here).finding(None, "stray-file", f"{said} is expected", "make it FOLDER/index.md")
    yield from lone
    named = {name for told in lone for name in (*told.photos, *told.clips)}
    for item in found:
        if item.is_media and item.name not in named:
            said = "nothing that is told in this folder names this picture"
            content.notes(f"{uri}/{item.name}").finding(None, "stray-file", said, "move it into its entry's folder")


def _pages(content: _Content) -> tuple[FreePage, ...]:
    """The free pages; what else lies in their folder is named in a finding."""
    pages: dict[str, FreePage] = {}
    for item in content.files_below("content/pages"):
        uri = f"content/pages/{item.name}"
        notes = content.notes(uri)
        if not item.is_text:
            notes.finding(None, "unknown-file", "this is no page of text and is not shown", "pages are pages/NAME.md")
        elif item.name.rpartition(".")[0] in pages:
            notes.error(None, "name-twice", "another page goes by this name", "give one of them another name")
        elif page := read_page(content.root / uri, uri, notes):
            pages[page.id] = page
        elif notes.errors:
            _spare_draft(read_bytes(content.root / uri, Notes(uri)), notes)
    check_former_names(
        ((page.id, page.formerly, partial(content.notes(page.src_uri).error, None)) for page in pages.values()), pages
    )
    return tuple(pages.values())


def _strangers(content: _Content) -> None:
    """Names directly under content/ that nothing reads: most often a slip of the finger."""
    read = {notes.file for notes in content.noted}
    for item in content.look_into("content"):
        name, expected = item.name, item.name.casefold()
        if name in TOP_LEVEL or f"content/{name}" in read:
            continue
        notes = content.notes(f"content/{name}")
        if expected in TOP_LEVEL and not is_there(content.root / "content" / expected):
            said = f'nothing reads this: the name is "{expected}" in small letters'
            notes.error(None, "name-capitals", said, f"rename it {expected}")
            continue
        hint = did_you_mean(name, TOP_LEVEL, "take it out, or see the list of files in docs/format.md")
        notes.finding(None, "unknown-file", "nothing reads this file", hint)
    for item in content.files_below("content/seals"):
        known = r"head\.json\Z|branch-[0-9a-f]{8}\.jsonl\Z|.*\.(tsr|tsq|pem)\Z|texts/[0-9a-f]{64}\.md\Z"
        if not re.match(known, item.name):
            said = "nothing reads this file among the seals"
            content.notes(f"content/seals/{item.name}").finding(None, "unknown-file", said, "take it out")
