"""The addresses of one view: which page stands at which address, and what refers to what.

Computed once for a site, so that no page has to search: 2,000 entries must not cost 2,000 times 2,000.
"""

from __future__ import annotations

import posixpath
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

from journal.base.addresses import address_word, address_words, fold_name, slugs
from journal.base.grouping import grouped as grouped
from journal.base.model import Assembly, FreePage, Step
from journal.view.view import ShownEntry, ShownWriteUp, Told, View

ENTRIES = "entries/"
ASSEMBLIES = "assemblies/"
STEPS = "steps/"
TOOLS = "tools/"
METHODS = "methods/"
INSPECTIONS = "inspections/"
MEASUREMENTS = "measurements/"
PAGES = "pages/"

Named = Told | Assembly | Step | FreePage
"""What has a page under its own name."""

Neighbours = tuple[ShownEntry | None, ShownEntry | None]
"""The entries before and after one, or None at the ends."""


class PageAddresses:
    """Addresses by ID (tools and methods by folded name), and cross references in journal order.

    `linkable` maps what prose may link to (paths from the build folder) to addresses. `rank` is
    a step's place in the manual.
    """

    def __init__(self, view: View) -> None:
        self.view = view
        self.entry_address = _addresses(ENTRIES, (entry.id for entry in view.entries))
        self.assembly_address = _addresses(ASSEMBLIES, view.assemblies)
        self.step_address = _addresses(STEPS, view.steps)
        self.tool_address = _addresses(TOOLS, view.tools, slugs)
        self.method_address = _addresses(METHODS, view.methods, slugs)
        self.inspection_address = _addresses(INSPECTIONS, (inspection.id for inspection in view.inspections))
        self.measurement_address = _addresses(MEASUREMENTS, (measurement.id for measurement in view.measurements))
        self.page_address = _addresses(PAGES, (page.id for page in view.pages))
        self.redirects = self._redirects()
        self.linkable = self._linkable()
        self.entries = {entry.id: entry for entry in view.entries}
        self.by_assembly = grouped(view.entries, lambda entry: [entry.assembly.id])
        self.by_step = grouped(view.entries, lambda entry: [step.id for step in entry.all_steps])
        self.by_tool = grouped(view.entries, lambda entry: dict.fromkeys(map(fold_name, entry.tools)))
        self.by_method = grouped(view.entries, lambda entry: dict.fromkeys(map(fold_name, entry.methods)))
        self.by_year = grouped(view.entries, lambda entry: [entry.date.year])
        self.write_ups_by_assembly = grouped(view.write_ups, _assemblies_of)
        self.write_ups_by_step = grouped(view.write_ups, lambda one: [step.id for step in one.steps])
        steps_of = grouped(view.steps, lambda step: [view.steps[step].assembly])
        self.steps_of = {assembly: steps_of.get(assembly, ()) for assembly in view.assemblies}
        self.mirrored = _mirrored(view.steps.values())
        self.in_journal = _neighbours(view.entries)
        self.in_assembly = {
            id_: between for group in self.by_assembly.values() for id_, between in _neighbours(group).items()
        }
        self.rank = {step: number for number, step in enumerate(view.steps)}

    bases = (ENTRIES, ASSEMBLIES, STEPS, INSPECTIONS, MEASUREMENTS, PAGES)
    """Where what has a page under its own name stands."""

    def named_pages(self) -> Iterator[tuple[str, str, Named]]:
        """(base, address, what stands there) of everything that has a page under its own name."""
        view = self.view
        kinds: tuple[tuple[str, Mapping[str, str], Iterable[Named]], ...] = (
            (ENTRIES, self.entry_address, view.entries),
            (ASSEMBLIES, self.assembly_address, view.assemblies.values()),
            (STEPS, self.step_address, view.steps.values()),
            (INSPECTIONS, self.inspection_address, view.inspections),
            (MEASUREMENTS, self.measurement_address, view.measurements),
            (PAGES, self.page_address, view.pages),
        )
        for base, addresses, named in kinds:
            yield from ((base, addresses[one.id], one) for one in named)

    def _redirects(self) -> dict[str, str]:
        """Former address -> address; what stands at an address today comes first, then who claims it first."""
        redirects: dict[str, str] = {}
        taken = {address.casefold() for _, address, _ in self.named_pages()}
        for base, address, one in self.named_pages():
            for name in one.formerly:
                former = former_address(base, name)
                if former.casefold() not in taken:
                    taken.add(former.casefold())
                    redirects[former] = address
        return redirects

    def _linkable(self) -> dict[str, str]:
        linkable: dict[str, str] = {}
        kinds: tuple[tuple[dict[str, str], Sequence[Told]], ...] = (
            (self.entry_address, self.view.entries),
            (self.inspection_address, self.view.inspections),
            (self.measurement_address, self.view.measurements),
        )
        for address, told in ((pages[told.id], told) for pages, tellings in kinds for told in tellings):
            linkable[told.src_uri] = linkable[posixpath.dirname(told.src_uri)] = address
            for number, photo in enumerate(told.photos, start=1):
                linkable[photo.src_uri] = f"{address}#photo-{number}"
        return linkable | {page.src_uri: self.page_address[page.id] for page in self.view.pages}

    def year_address(self, base: str, year: int) -> str:
        """The address of one year's page under `base`; under `entries/` it steps aside for a folder
        of that name.
        """
        if base == ENTRIES:
            former = (name for entry in self.view.entries for name in entry.formerly)
            words = address_words([*self.entry_address, *former, f"year-{year}"])
            return f"{base}{words[f'year-{year}']}/"
        return f"{base}{year}/"


def former_address(base: str, name: str) -> str:
    """Where what went by `name` stood."""
    return f"{base}{address_word(name)}/"


def _assemblies_of(told: ShownWriteUp) -> Iterable[str]:
    whole = [told.assembly.id] if told.assembly else []
    return dict.fromkeys([*whole, *(step.assembly for step in told.steps)])


def _mirrored(steps: Iterable[Step]) -> dict[str, tuple[str, ...]]:
    """Each step's twins on the other side."""
    mirrored: dict[str, dict[str, None]] = defaultdict(dict)
    for step in steps:
        if step.same_as:
            mirrored[step.id][step.same_as] = mirrored[step.same_as][step.id] = None
    return {step: tuple(others) for step, others in mirrored.items()}


def _addresses(base: str, ids: Iterable[str], words: Callable[..., dict[str, str]] = address_words) -> dict[str, str]:
    return {id_: f"{base}{word}/" for id_, word in words(ids).items()}


def _neighbours(entries: Sequence[ShownEntry]) -> dict[str, Neighbours]:
    beside = zip((None, *entries), (*entries[1:], None), strict=False)
    return {entry.id: between for entry, between in zip(entries, beside, strict=False)}
