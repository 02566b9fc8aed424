"""The addresses of one view: which page stands at which address, and what refers to what.

Computed once for a site, so that no page has to search: 2,000 entries must not cost 2,000 times 2,000.
"""

from __future__ import annotations

import posixpath
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from journal.base.addresses import address_words, fold_name, slugs
from journal.base.model import Photo
from journal.view.view import Audience, ShownEntry, ShownInspection, View

ENTRIES = "entries/"
ASSEMBLIES = "assemblies/"
STEPS = "steps/"
TOOLS = "tools/"
METHODS = "methods/"
INSPECTIONS = "inspections/"

K = TypeVar("K")


@dataclass(frozen=True, slots=True, kw_only=True)
class Neighbours:
    """The entries before and after one, or None at the ends."""

    before: ShownEntry | None = None
    after: ShownEntry | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PageAddresses:
    """Addresses by ID (tools and methods by folded name), and cross references in journal order.

    `linkable` maps what prose may link to (paths from the build folder) to addresses. `rank` is
    a step's place in the manual.
    """

    view: View
    entry_address: Mapping[str, str]
    assembly_address: Mapping[str, str]
    step_address: Mapping[str, str]
    tool_address: Mapping[str, str]
    method_address: Mapping[str, str]
    inspection_address: Mapping[str, str]
    page_address: Mapping[str, str]
    linkable: Mapping[str, str]
    entries: Mapping[str, ShownEntry]
    by_assembly: Mapping[str, tuple[ShownEntry, ...]]
    by_step: Mapping[str, tuple[ShownEntry, ...]]
    by_tool: Mapping[str, tuple[ShownEntry, ...]]
    by_method: Mapping[str, tuple[ShownEntry, ...]]
    by_year: Mapping[int, tuple[ShownEntry, ...]]
    inspections_by_assembly: Mapping[str, tuple[ShownInspection, ...]]
    inspections_by_step: Mapping[str, tuple[ShownInspection, ...]]
    steps_of: Mapping[str, tuple[str, ...]]
    mirrored: Mapping[str, tuple[str, ...]]
    in_journal: Mapping[str, Neighbours]
    in_assembly: Mapping[str, Neighbours]
    rank: Mapping[str, int]

    @property
    def everything(self) -> bool:
        """Whether this is the inspector's archive, where nothing is held back."""
        return self.view.audience is Audience.ARCHIVE

    def year_address(self, base: str, year: int) -> str:
        """The address of one year's page under `base`; under `entries/` it steps aside for a folder
        of that name.
        """
        if base == ENTRIES:
            words = address_words([*self.entry_address, f"year-{year}"])
            return f"{base}{words[f'year-{year}']}/"
        return f"{base}{year}/"


def open_addresses(view: View) -> PageAddresses:
    """Look through `view` once."""
    entries = _addresses(ENTRIES, (entry.id for entry in view.entries))
    inspections = _addresses(INSPECTIONS, (inspection.id for inspection in view.inspections))
    pages = _addresses("pages/", (page.id for page in view.pages))
    linkable: dict[str, str] = {}
    for entry in view.entries:
        _link(linkable, entry.src_uri, entries[entry.id], entry.photos)
    for inspection in view.inspections:
        _link(linkable, inspection.src_uri, inspections[inspection.id], inspection.photos)
    for page in view.pages:
        linkable[page.src_uri] = pages[page.id]

    steps_of: dict[str, list[str]] = {assembly: [] for assembly in view.assemblies}
    mirrored: dict[str, list[str]] = defaultdict(list)
    for step in view.steps.values():
        steps_of[step.assembly].append(step.id)
        if step.same_as:
            mirrored[step.id].append(step.same_as)
            mirrored[step.same_as].append(step.id)

    inspections_by_assembly: dict[str, list[ShownInspection]] = defaultdict(list)
    inspections_by_step: dict[str, list[ShownInspection]] = defaultdict(list)
    for inspection in view.inspections:
        touched = [inspection.assembly.id] if inspection.assembly else []
        touched += [step.assembly for step in inspection.steps]
        for assembly in dict.fromkeys(touched):
            inspections_by_assembly[assembly].append(inspection)
        for step in inspection.steps:
            inspections_by_step[step.id].append(inspection)

    by_assembly = _group(view.entries, lambda entry: [entry.assembly.id])
    return PageAddresses(
        view=view,
        entry_address=entries,
        assembly_address=_addresses(ASSEMBLIES, view.assemblies),
        step_address=_addresses(STEPS, view.steps),
        tool_address=_named(TOOLS, view.tools),
        method_address=_named(METHODS, view.methods),
        inspection_address=inspections,
        page_address=pages,
        linkable=linkable,
        entries={entry.id: entry for entry in view.entries},
        by_assembly=by_assembly,
        by_step=_group(view.entries, lambda entry: [step.id for step in entry.all_steps]),
        by_tool=_group(view.entries, lambda entry: dict.fromkeys(map(fold_name, entry.tools))),
        by_method=_group(view.entries, lambda entry: dict.fromkeys(map(fold_name, entry.methods))),
        by_year=_group(view.entries, lambda entry: [entry.date.year]),
        inspections_by_assembly={key: tuple(value) for key, value in inspections_by_assembly.items()},
        inspections_by_step={key: tuple(value) for key, value in inspections_by_step.items()},
        steps_of={key: tuple(value) for key, value in steps_of.items()},
        mirrored={key: tuple(dict.fromkeys(value)) for key, value in mirrored.items()},
        in_journal=_neighbours(view.entries),
        in_assembly={id_: between for group in by_assembly.values() for id_, between in _neighbours(group).items()},
        rank={step: number for number, step in enumerate(view.steps)},
    )


def _addresses(base: str, ids: Iterable[str]) -> dict[str, str]:
    return {id_: f"{base}{word}/" for id_, word in address_words(ids).items()}


def _named(base: str, forms: Mapping[str, str]) -> dict[str, str]:
    return {folded: f"{base}{word}/" for folded, word in slugs(forms).items()}


def _link(linkable: dict[str, str], src_uri: str, address: str, photos: Sequence[Photo]) -> None:
    linkable[src_uri] = linkable[posixpath.dirname(src_uri)] = address
    for number, photo in enumerate(photos, start=1):
        linkable[photo.src_uri] = f"{address}#photo-{number}"


def _group(
    entries: Iterable[ShownEntry], keys_of: Callable[[ShownEntry], Iterable[K]]
) -> dict[K, tuple[ShownEntry, ...]]:
    groups: dict[K, list[ShownEntry]] = defaultdict(list)
    for entry in entries:
        for key in keys_of(entry):
            groups[key].append(entry)
    return {key: tuple(group) for key, group in groups.items()}


def _neighbours(entries: Sequence[ShownEntry]) -> dict[str, Neighbours]:
    return {
        entry.id: Neighbours(
            before=entries[place - 1] if place else None,
            after=entries[place + 1] if place + 1 < len(entries) else None,
        )
        for place, entry in enumerate(entries)
    }
