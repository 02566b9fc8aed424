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
from journal.view.view import Audience, ShownEntry, ShownInspection, View

ENTRIES = "entries/"
ASSEMBLIES = "assemblies/"
STEPS = "steps/"
TOOLS = "tools/"
METHODS = "methods/"
INSPECTIONS = "inspections/"

K = TypeVar("K")
T = TypeVar("T")


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
    for told in view.told:
        address = (entries if isinstance(told, ShownEntry) else inspections)[told.id]
        linkable[told.src_uri] = linkable[posixpath.dirname(told.src_uri)] = address
        for number, photo in enumerate(told.photos, start=1):
            linkable[photo.src_uri] = f"{address}#photo-{number}"
    for page in view.pages:
        linkable[page.src_uri] = pages[page.id]

    steps_of = _group(view.steps, lambda step: [view.steps[step].assembly])
    pairs = [(step.id, step.same_as) for step in view.steps.values() if step.same_as]
    mirrored: dict[str, dict[str, None]] = defaultdict(dict)
    for one, other in pairs:
        mirrored[one][other] = mirrored[other][one] = None

    def assemblies_inspected(inspection: ShownInspection) -> Iterable[str]:
        whole = [inspection.assembly.id] if inspection.assembly else []
        return dict.fromkeys([*whole, *(step.assembly for step in inspection.steps)])

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
        inspections_by_assembly=_group(view.inspections, assemblies_inspected),
        inspections_by_step=_group(view.inspections, lambda inspection: [step.id for step in inspection.steps]),
        steps_of={assembly: steps_of.get(assembly, ()) for assembly in view.assemblies},
        mirrored={step: tuple(others) for step, others in mirrored.items()},
        in_journal=_neighbours(view.entries),
        in_assembly={id_: between for group in by_assembly.values() for id_, between in _neighbours(group).items()},
        rank={step: number for number, step in enumerate(view.steps)},
    )


def _addresses(base: str, ids: Iterable[str]) -> dict[str, str]:
    return {id_: f"{base}{word}/" for id_, word in address_words(ids).items()}


def _named(base: str, forms: Mapping[str, str]) -> dict[str, str]:
    return {folded: f"{base}{word}/" for folded, word in slugs(forms).items()}


def _group(things: Iterable[T], keys_of: Callable[[T], Iterable[K]]) -> dict[K, tuple[T, ...]]:
    groups: dict[K, list[T]] = defaultdict(list)
    for thing in things:
        for key in keys_of(thing):
            groups[key].append(thing)
    return {key: tuple(group) for key, group in groups.items()}


def _neighbours(entries: Sequence[ShownEntry]) -> dict[str, Neighbours]:
    return {
        entry.id: Neighbours(
            before=entries[place - 1] if place else None,
            after=entries[place + 1] if place + 1 < len(entries) else None,
        )
        for place, entry in enumerate(entries)
    }
