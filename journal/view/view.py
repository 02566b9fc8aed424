"""What an audience may see: the allow-list, applied once, at one border.

The public site, its feeds, open data and search index are made from a `View` and from nothing
else. `open_view` puts into it what a rule lets through (docs/format.md, "What becomes public");
what it leaves out cannot leak further down, because it is not there.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from enum import Enum

from journal.base.addresses import fold_name
from journal.base.model import (
    Aircraft,
    Assembly,
    Build,
    Clip,
    Entry,
    FastenerSet,
    FreePage,
    Inspection,
    InventoryItem,
    Material,
    Photo,
    PhotoFacts,
    State,
    Step,
    Term,
    TorqueSetting,
)
from journal.base.problems import Problem
from journal.base.prose import cut_private
from journal.ledger.hours import EntryTotals
from journal.ledger.journal import Journal
from journal.ledger.progress import AssemblyProgress, StepProgress


class Audience(Enum):
    """Who will read: followers, the builder while writing (drafts shown), or the inspector."""

    PUBLIC = "public"
    PREVIEW = "preview"
    ARCHIVE = "archive"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One entry as an audience sees it. People are names as shown, never IDs.

    `day`, `minutes_to_date` and `assembly_minutes_to_date` come from the ledger; a draft has
    day 0 and no totals. `states` is the state of every assembly at the end of that day.
    `time` is (name, minutes) per person. `answers` is empty but in the archive.
    """

    id: str
    src_uri: str
    date: date
    day: int
    title: str
    assembly: Assembly
    steps: tuple[Step, ...]
    begun: tuple[Step, ...]
    redone: tuple[Step, ...]
    minutes: int
    elapsed_minutes: int
    minutes_to_date: int
    assembly_minutes_to_date: int
    people: tuple[str, ...]
    time: tuple[tuple[str, int], ...]
    place: str
    tools: tuple[str, ...]
    methods: tuple[str, ...]
    photos: tuple[Photo, ...]
    clips: tuple[Clip, ...]
    fasteners: tuple[FastenerSet, ...]
    torque: tuple[TorqueSetting, ...]
    materials: tuple[Material, ...]
    answers: Mapping[str, str]
    videos: tuple[str, ...]
    private: bool
    draft: bool
    body: str
    body_line: int
    states: Mapping[str, State]

    @property
    def all_steps(self) -> tuple[Step, ...]:
        """Every step the entry names, each once: finished, started, done over."""
        return tuple({step.id: step for step in (*self.steps, *self.begun, *self.redone)}.values())

    @property
    def cover(self) -> Photo | None:
        """The picture that stands for the entry: the one marked, else the first usable one."""
        usable = [photo for photo in self.photos if not photo.facts.trouble]
        marked = [photo for photo in usable if photo.cover]
        return next(iter(marked or usable), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """One inspection as an audience sees it; `inspector` is the name as shown."""

    inspection: Inspection
    inspector: str
    assembly: Assembly | None
    steps: tuple[Step, ...]
    photos: tuple[Photo, ...]
    body: str


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """Everything one audience may see. All totals are the ledger's, private work included.

    `sheets` are in journal order. `by_person` maps a shown name to person-minutes: people shown
    alike are added together. `tools` and `methods` map the folded name to the form written first.
    `problems` is empty for the public.
    """

    audience: Audience
    aircraft: Aircraft
    begun: date | None
    last_day: date | None
    minutes: int
    minutes_not_counted: int
    elapsed_minutes: int
    days: int
    by_assembly: Mapping[str, int]
    by_month: Mapping[str, int]
    by_day: Mapping[date, int]
    by_person: Mapping[str, int]
    by_person_and_assembly: Mapping[tuple[str, str], int]
    assemblies: Mapping[str, Assembly]
    assembly_progress: Mapping[str, AssemblyProgress]
    steps: Mapping[str, Step]
    step_progress: Mapping[str, StepProgress]
    steps_done: int
    steps_done_on: Mapping[date, int]
    states_on: Mapping[date, Mapping[str, State]]
    sheets: tuple[Sheet, ...]
    looks: tuple[Look, ...]
    inventory: tuple[InventoryItem, ...]
    terms: tuple[Term, ...]
    pages: tuple[FreePage, ...]
    tools: Mapping[str, str]
    methods: Mapping[str, str]
    drawing: str | None
    problems: tuple[Problem, ...] = field(default=())

    def sheets_of(self, assembly: str) -> tuple[Sheet, ...]:
        """The sheets of one assembly in journal order."""
        return tuple(sheet for sheet in self.sheets if sheet.assembly.id == assembly)


def open_view(journal: Journal, audience: Audience) -> View:
    """Let through what `audience` may see of `journal`."""
    build = journal.build
    everything = audience is Audience.ARCHIVE
    names = {person.id: person.name if everything else person.public_name for person in build.people.values()}
    shown_entries = [entry for entry in build.entries if everything or not entry.private]
    sheets = [_sheet(journal, entry, audience, names) for entry in shown_entries]
    if audience is Audience.PREVIEW:
        drafts = [entry for entry in build.drafts if not entry.private]
        sheets += [_sheet(journal, entry, audience, names) for entry in drafts]
        sheets.sort(key=lambda sheet: sheet.date)
    visible = {entry.id for entry in shown_entries}
    by_person: dict[str, int] = {}
    for person, minutes in journal.ledger.by_person.items():
        by_person[names[person]] = by_person.get(names[person], 0) + minutes
    by_person_and_assembly: dict[tuple[str, str], int] = {}
    for (person, assembly), minutes in journal.ledger.by_person_and_assembly.items():
        key = (names[person], assembly)
        by_person_and_assembly[key] = by_person_and_assembly.get(key, 0) + minutes
    return View(
        audience=audience,
        aircraft=build.aircraft
        if everything
        else replace(
            build.aircraft,
            registration=build.aircraft.registration if "registration" in build.shows else "",
            serial=build.aircraft.serial if "serial" in build.shows else "",
        ),
        begun=build.begun,
        last_day=journal.ledger.worked_days[-1] if journal.ledger.worked_days else None,
        minutes=journal.ledger.minutes,
        minutes_not_counted=journal.ledger.minutes_not_counted,
        elapsed_minutes=journal.ledger.elapsed_minutes,
        days=journal.ledger.days,
        by_assembly=journal.ledger.by_assembly,
        by_month=journal.ledger.by_month,
        by_day=journal.ledger.by_day,
        by_person=by_person,
        by_person_and_assembly=by_person_and_assembly,
        assemblies=build.assemblies,
        assembly_progress=journal.progress.assemblies,
        steps=build.steps,
        step_progress={
            step: replace(
                progress,
                entries=tuple(entry for entry in progress.entries if entry in visible),
                done_in=progress.done_in if progress.done_in in visible else None,
            )
            for step, progress in journal.progress.steps.items()
        },
        steps_done=journal.progress.steps_done,
        steps_done_on=journal.progress.steps_done_on,
        states_on=journal.progress.states_on,
        sheets=tuple(sheets),
        looks=tuple(
            _look(build, inspection, audience, names, visible)
            for inspection in build.inspections
            if everything or not inspection.private
        ),
        inventory=tuple(item if everything else replace(item, by=names.get(item.by, "")) for item in build.inventory),
        terms=build.terms,
        pages=tuple(page if everything else replace(page, body=cut_private(page.body)) for page in build.pages),
        tools=_first_forms(name for sheet in sheets for name in sheet.tools),
        methods=_first_forms(name for sheet in sheets for name in sheet.methods),
        drawing=build.drawing,
        problems=() if audience is Audience.PUBLIC else journal.problems,
    )


def _first_forms(names: Iterable[str]) -> dict[str, str]:
    """Folded name -> the form in which it was written first."""
    forms: dict[str, str] = {}
    for name in names:
        forms.setdefault(fold_name(name), name)
    return forms


def _sheet(journal: Journal, entry: Entry, audience: Audience, names: Mapping[str, str]) -> Sheet:
    build = journal.build
    everything = audience is Audience.ARCHIVE
    totals = journal.ledger.entries.get(entry.id) or EntryTotals(
        day=0, minutes=entry.minutes, minutes_to_date=0, assembly_minutes_to_date=0
    )
    states = journal.progress.states_on.get(entry.date) or {
        assembly: progress.state for assembly, progress in journal.progress.assemblies.items()
    }
    shows_place = everything or "places" in build.shows
    time: dict[str, int] = {}
    for worked in entry.time:
        time[names[worked.person]] = time.get(names[worked.person], 0) + worked.minutes
    return Sheet(
        id=entry.id,
        src_uri=entry.src_uri,
        date=entry.date,
        day=totals.day,
        title=entry.title,
        assembly=build.assemblies[entry.assembly],
        steps=tuple(build.steps[step] for step in entry.steps),
        begun=tuple(build.steps[step] for step in entry.begun),
        redone=tuple(build.steps[step] for step in entry.redone),
        minutes=entry.minutes,
        elapsed_minutes=entry.elapsed_minutes,
        minutes_to_date=totals.minutes_to_date,
        assembly_minutes_to_date=totals.assembly_minutes_to_date,
        people=tuple(dict.fromkeys(names[person] for person in entry.people)),
        time=tuple(time.items()),
        place=build.places[entry.place].name if entry.place and shows_place else "",
        tools=entry.tools,
        methods=entry.methods,
        photos=_photos(entry.photos, everything, names),
        clips=tuple(clip for clip in entry.clips if everything or not clip.private),
        fasteners=entry.fasteners,
        torque=entry.torque,
        materials=tuple(
            build.materials[material] if everything else _public_material(build.materials[material])
            for material in entry.materials
        ),
        answers=entry.answers if everything else {},
        videos=entry.videos,
        private=entry.private,
        draft=entry.draft,
        body=entry.body if everything else cut_private(entry.body),
        body_line=entry.body_line,
        states=states,
    )


def _look(
    build: Build, inspection: Inspection, audience: Audience, names: Mapping[str, str], visible: set[str]
) -> Look:
    everything = audience is Audience.ARCHIVE
    findings = tuple(
        found if everything or found.closed_by in visible else replace(found, closed_by=None)
        for found in inspection.findings
    )
    return Look(
        inspection=replace(inspection, findings=findings, inspector="", photos=(), body=""),
        inspector=names[inspection.inspector],
        assembly=build.assemblies[inspection.assembly] if inspection.assembly else None,
        steps=tuple(build.steps[step] for step in inspection.steps),
        photos=_photos(inspection.photos, everything, names),
        body=inspection.body if everything else cut_private(inspection.body),
    )


def _photos(photos: tuple[Photo, ...], everything: bool, names: Mapping[str, str]) -> tuple[Photo, ...]:
    shown = [photo for photo in photos if everything or not photo.private]
    return tuple(
        replace(
            photo,
            people=tuple(dict.fromkeys(names[person] for person in photo.people)),
            facts=photo.facts if everything else _public_facts(photo.facts),
        )
        for photo in shown
    )


def _public_material(material: Material) -> Material:
    """Which material was used; batch, shelf life and the invoice behind it are for the record."""
    return Material(id=material.id, name=material.name)


def _public_facts(facts: PhotoFacts) -> PhotoFacts:
    """Shape and day only: the day of capture is shown to followers, clock time and camera are not."""
    day = facts.taken if facts.clock_set else None
    return PhotoFacts(
        width=facts.width,
        height=facts.height,
        taken=datetime(day.year, day.month, day.day) if day else None,
        trouble=facts.trouble,
    )
