"""What an audience may see: the allow-list, applied once, at one border.

The public site, its feeds, open data and search index, the binder, the tables and the offline site are made
from a `View` and from nothing else. `open_view` puts into it what a rule lets through (docs/format.md); what
it leaves out cannot leak further down, because it is not there.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Set
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from enum import Enum
from fractions import Fraction
from functools import cached_property
from typing import TYPE_CHECKING, Any, TypeVar

from journal.base.addresses import fold_name
from journal.base.model import (
    Aircraft,
    Airframe,
    Assembly,
    AssemblyProgress,
    AuthorityRules,
    Build,
    Bulletin,
    CalibratedTool,
    Clip,
    Construction,
    Cost,
    DatedText,
    Entry,
    FastenerSet,
    FreePage,
    Inspection,
    InspectionFinding,
    InventoryItem,
    Material,
    Measurement,
    Outcome,
    Photo,
    PhotoFacts,
    PhotoSettings,
    Record,
    Role,
    State,
    Step,
    StepProgress,
    Task,
    Term,
    TorqueSetting,
    Units,
    Weighing,
    WriteUp,
    named,
)
from journal.base.private_passages import cut_private, without_pictures
from journal.base.problems import Problem
from journal.ledger.callouts import CallOutTrace, trace_callouts
from journal.ledger.checks import compared_tables
from journal.ledger.closings import Closing, trace_closings
from journal.ledger.costs import Converted, Costs, Spent, add_up_costs
from journal.ledger.evidence import RULES, Evidence
from journal.ledger.forecast import HELD, Forecast, forecast
from journal.ledger.gaps import Gap, weight_of
from journal.ledger.hours import EntryTotals
from journal.ledger.inventory import Hardware, Stock, StockLine, keep_hardware, take_stock
from journal.ledger.materials import MaterialTrace, trace_materials
from journal.ledger.picture_times import without_doubted_times
from journal.ledger.tally import TaskEvidence, behind_tasks
from journal.trade.figures import TradeTable
from journal.trade.measured import measured_table

if TYPE_CHECKING:
    from journal.ledger.journal import Journal

__all__ = [
    "HELD",
    "RULES",
    "CallOutTrace",
    "Converted",
    "Costs",
    "Evidence",
    "Forecast",
    "Gap",
    "Hardware",
    "MaterialTrace",
    "Spent",
    "Stock",
    "StockLine",
    "weight_of",
]
"""What the rooms above may know of the ledger, beside what is defined here."""


K = TypeVar("K")
Line = TypeVar("Line", FastenerSet, TorqueSetting)


class Audience(Enum):
    """Who will read: followers, the builder while writing (drafts shown), or the inspector."""

    PUBLIC = "public"
    PREVIEW = "preview"
    ARCHIVE = "archive"


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownEntry(DatedText):
    """One entry as an audience sees it. People are names as shown, never IDs.

    `day`, `minutes_to_date` and `assembly_minutes_to_date` come from the ledger; a draft has
    day 0 and no totals. `states` is the state of every assembly at the end of that day.
    `time` is (name, minutes) per person. `answers` is empty but in the archive. `tables` hold rivets, bolts
    and, in the archive, materials against published figures.
    """

    day: int
    assembly: Assembly
    steps: tuple[Step, ...]
    begun: tuple[Step, ...]
    redone: tuple[Step, ...]
    minutes: int
    minutes_to_date: int
    assembly_minutes_to_date: int
    people: tuple[str, ...]
    time: tuple[tuple[str, int], ...]
    place: str
    tools: tuple[str, ...]
    methods: tuple[str, ...]
    clips: tuple[Clip, ...]
    fasteners: tuple[FastenerSet, ...]
    torque: tuple[TorqueSetting, ...]
    materials: tuple[Material, ...]
    answers: Mapping[str, str]
    videos: tuple[str, ...]
    draft: bool
    states: Mapping[str, State]
    tables: tuple[TradeTable, ...]

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
class ShownWriteUp(DatedText):
    """An inspection or a measurement as an audience sees it; `people` are those who looked or measured, by their
    names as shown.
    """

    assembly: Assembly | None
    steps: tuple[Step, ...]
    people: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownInspection(ShownWriteUp):
    """One inspection as an audience sees it. Those who signed a finding stand there by their names as shown; its
    `closed_by` is None where the audience does not see that entry.
    """

    stage: str
    outcome: Outcome
    findings: tuple[InspectionFinding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownMeasurement(ShownWriteUp):
    """One measurement as an audience sees it; `checked_by` are names as shown, and `table` holds
    the results against what is called for.
    """

    kind: str
    instrument: str
    checked_by: tuple[str, ...]
    table: TradeTable
    weighing: Weighing | None


Told = ShownEntry | ShownWriteUp
"""What has a text and pictures."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownTask:
    """A line of the checklist and what stands behind it; people are names as shown, `paid` those of them who were
    paid, `photos` the number of pictures that may be of the task, `steps_shown` its steps that are done and pictured.
    """

    task: Task
    entries: tuple[ShownEntry, ...]
    photos: int
    people: tuple[str, ...]
    paid: tuple[str, ...]
    paid_entries: tuple[ShownEntry, ...]
    steps_shown: tuple[str, ...]

    @property
    def line(self) -> tuple[Task, Fraction]:
        """The task with the share of its steps that is shown, for the sums."""
        steps = len(self.task.steps)
        return self.task, Fraction(len(self.steps_shown), steps) if steps else Fraction(0)


@dataclass(frozen=True, kw_only=True)
class View:
    """Everything one audience may know. All totals are the ledger's, private work included.

    `today` is the day on which it is made. `entries` are in journal order. `by_person` maps a shown name to
    person-minutes: people shown alike are added together; `roles` maps a shown name to its role, in the order of
    build.yml. `tools` and `methods` map the folded name to the form written first. `problems` is empty for the public.

    For the archive alone, and empty for everybody else: `evidence` (None), `tasks`, `materials`,
    `bulletins`, `calibrated_tools`, `costs`, `spent` (None), `stock`, `hardware`. They name people, papers,
    money and private work. `callouts`, `closings`, `rules`, `records` and `manual_edition` are for the builder and the
    inspector: the manual is its maker's.
    """

    audience: Audience
    today: date
    aircraft: Aircraft
    begun: date | None
    zone: str | None
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
    roles: Mapping[str, Role]
    assemblies: Mapping[str, Assembly]
    assembly_progress: Mapping[str, AssemblyProgress]
    steps: Mapping[str, Step]
    step_progress: Mapping[str, StepProgress]
    steps_done: int
    steps_done_on: Mapping[date, int]
    states_on: Mapping[date, Mapping[str, State]]
    entries: tuple[ShownEntry, ...]
    inspections: tuple[ShownInspection, ...]
    measurements: tuple[ShownMeasurement, ...]
    inventory: tuple[InventoryItem, ...]
    terms: tuple[Term, ...]
    pages: tuple[FreePage, ...]
    tools: Mapping[str, str]
    methods: Mapping[str, str]
    drawing: str | None
    airframe: Airframe | None = None
    about: str = ""
    write_to: str = ""
    construction: frozenset[Construction] = frozenset({Construction.METAL})
    units: Units = Units.INCHES
    language: str = ""
    manual_edition: str = ""
    photo_settings: PhotoSettings = field(default_factory=PhotoSettings)
    problems: tuple[Problem, ...] = ()
    rules: AuthorityRules = field(default_factory=AuthorityRules)
    evidence: Evidence | None = None
    tasks: tuple[ShownTask, ...] = ()
    materials: tuple[MaterialTrace, ...] = ()
    records: tuple[Record, ...] = ()
    bulletins: tuple[Bulletin, ...] = ()
    callouts: tuple[CallOutTrace, ...] = ()
    closings: tuple[Closing, ...] = ()
    calibrated_tools: tuple[CalibratedTool, ...] = ()
    costs: tuple[Cost, ...] = ()
    spent: Costs | None = None
    stock: tuple[StockLine, ...] = ()
    hardware: tuple[Hardware, ...] = ()

    @property
    def everything(self) -> bool:
        """Whether this is the inspector's, where nothing is held back."""
        return self.audience is Audience.ARCHIVE

    @property
    def metal(self) -> bool:
        """Whether what the trade knows of riveted sheet is of use here."""
        return Construction.METAL in self.construction

    @property
    def builders(self) -> tuple[str, ...]:
        """Shown names of those who build, in the order of build.yml."""
        return tuple(name for name, role in self.roles.items() if role is Role.BUILDER)

    @property
    def write_ups(self) -> tuple[ShownWriteUp, ...]:
        """What is written up beside the entries: inspections, then measurements."""
        return (*self.inspections, *self.measurements)

    @property
    def told(self) -> tuple[Told, ...]:
        """Everything that has a text and pictures: the entries, the inspections, the measurements."""
        return (*self.entries, *self.write_ups)

    @property
    def photos(self) -> tuple[Photo, ...]:
        """Every picture, in the order of `told`."""
        return tuple(photo for told in self.told for photo in told.photos)

    @cached_property
    def forecast(self) -> Forecast | None:
        """Work left and pace as of the day on which this is made, or the last day worked where that is later; None
        where nothing is dated.
        """
        if self.last_day is None and self.begun is None:
            return None
        return forecast(
            assemblies=self.assemblies,
            steps=self.steps,
            progress=self.step_progress,
            minutes_on=self.by_day,
            minutes_by_assembly=self.by_assembly,
            as_of=max(self.today, self.last_day or self.today),
        )


def open_view(journal: Journal, audience: Audience) -> View:
    """Let through what `audience` may know of `journal`."""
    everything = audience is Audience.ARCHIVE
    if not everything:
        journal = replace(journal, build=without_doubted_times(journal.build, journal.today))
    build, ledger, progress = journal.build, journal.ledger, journal.progress
    names = {person.id: person.name if everything else person.public_name for person in build.people.values()}
    written = [entry for entry in build.entries if everything or not entry.private]
    if audience is Audience.PREVIEW:
        written += [entry for entry in build.drafts if not entry.private]
        written.sort(key=lambda entry: entry.date)
    seen = {entry.id for entry in written}
    entries = tuple(_entry(journal, entry, everything, names, seen) for entry in written)
    visible = {entry.id for entry in entries if not entry.draft}
    roles: dict[str, Role] = {}
    for one in build.people.values():
        roles.setdefault(names[one.id], one.role)
    shown = View(
        audience=audience,
        today=journal.today,
        aircraft=build.aircraft
        if everything
        else replace(
            build.aircraft,
            registration=build.aircraft.registration if "registration" in build.shows else "",
            serial=build.aircraft.serial if "serial" in build.shows else "",
        ),
        **named(build, "begun", "zone", "assemblies", "steps", "terms", "drawing", "photo_settings"),
        **named(build, "airframe", "about", "write_to", "construction", "units", "language"),
        last_day=ledger.worked_days[-1] if ledger.worked_days else None,
        **named(ledger, "minutes", "minutes_not_counted", "elapsed_minutes", "days"),
        **named(ledger, "by_assembly", "by_month", "by_day"),
        by_person=_summed((names[person], minutes) for person, minutes in ledger.by_person.items()),
        by_person_and_assembly=_summed(
            ((names[person], assembly), minutes)
            for (person, assembly), minutes in ledger.by_person_and_assembly.items()
        ),
        roles=roles,
        assembly_progress=progress.assemblies,
        step_progress={
            step: replace(
                stands,
                entries=tuple(entry for entry in stands.entries if entry in visible),
                done_in=stands.done_in if stands.done_in in visible else None,
            )
            for step, stands in progress.steps.items()
        },
        **named(progress, "steps_done", "steps_done_on", "states_on"),
        entries=entries,
        inspections=tuple(
            _inspection(build, inspection, everything, names, visible)
            for inspection in build.inspections
            if everything or not inspection.private
        ),
        measurements=tuple(
            _measurement(build, measurement, everything, names)
            for measurement in build.measurements
            if everything or not measurement.private
        ),
        inventory=tuple(item if everything else _public_item(item, names) for item in build.inventory),
        pages=tuple(page if everything else replace(page, body=cut_private(page.body)) for page in build.pages),
        tools=_first_forms(name for entry in entries for name in entry.tools),
        methods=_first_forms(name for entry in entries for name in entry.methods),
    )
    if audience is not Audience.PUBLIC:
        shown = replace(
            shown,
            problems=journal.problems,
            callouts=trace_callouts(build, progress),
            closings=trace_closings(build, progress),
            **named(build, "rules", "records", "manual_edition"),
        )
    if not everything:
        return shown
    by_id = {entry.id: entry for entry in entries}
    return replace(
        shown,
        evidence=journal.evidence,
        tasks=tuple(_task(behind, by_id, names, progress.steps) for behind in behind_tasks(build)),
        materials=trace_materials(build),
        **named(build, "bulletins", "calibrated_tools", "costs"),
        spent=add_up_costs(build.costs, build.assemblies, build.rates),
        stock=tuple(take_stock(item, journal.today) for item in build.inventory),
        hardware=keep_hardware(build, journal.progress),
    )


def _in_units(table: TradeTable, build: Build) -> TradeTable:
    return table.metric_first if build.units is Units.METRIC else table


def _public_item(item: InventoryItem, names: Mapping[str, str]) -> InventoryItem:
    """A line of the packing list without what is between builder and maker."""
    return replace(
        item, by=names.get(item.by, ""), claimed_on=None, promised_for=None, arrived_on=None, replacement_note=""
    )


def _summed(minutes_of: Iterable[tuple[K, int]]) -> dict[K, int]:
    """Minutes by key; people shown alike are added together."""
    totals: dict[K, int] = {}
    for key, minutes in minutes_of:
        totals[key] = totals.get(key, 0) + minutes
    return totals


def _task(
    behind: TaskEvidence,
    entries: Mapping[str, ShownEntry],
    names: Mapping[str, str],
    steps: Mapping[str, StepProgress],
) -> ShownTask:
    return ShownTask(
        task=behind.task,
        entries=tuple(entries[entry.id] for entry in behind.entries),
        photos=len(behind.photos),
        people=_people(behind.people, names),
        paid=_people(behind.paid, names),
        paid_entries=tuple(entries[entry.id] for entry in behind.paid_entries),
        steps_shown=tuple(step for step in behind.pictured if steps[step].state is State.DONE),
    )


def _first_forms(names: Iterable[str]) -> dict[str, str]:
    """Folded name -> the form in which it was written first."""
    forms: dict[str, str] = {}
    for name in names:
        forms.setdefault(fold_name(name), name)
    return forms


def _entry(journal: Journal, entry: Entry, everything: bool, names: Mapping[str, str], seen: Set[str]) -> ShownEntry:
    build = journal.build
    totals = journal.ledger.entries.get(entry.id) or EntryTotals(
        day=0, minutes=entry.minutes, minutes_to_date=0, assembly_minutes_to_date=0
    )
    states = journal.progress.states_on.get(entry.date) or {
        assembly: progress.state for assembly, progress in journal.progress.assemblies.items()
    }
    shows_place = everything or "places" in build.shows
    return ShownEntry(
        **_told(build, entry, everything, names),
        **named(entry, "minutes", "tools", "methods", "videos", "draft"),
        **named(totals, "day", "minutes_to_date", "assembly_minutes_to_date"),
        begun=tuple(build.steps[step] for step in entry.begun),
        redone=tuple(build.steps[step] for step in entry.redone),
        time=tuple(_summed((names[worked.person], worked.minutes) for worked in entry.time).items()),
        place=build.places[entry.place].name if entry.place and shows_place else "",
        clips=tuple(
            replace(clip, caption=_caption(clip, everything), private_caption="")
            for clip in entry.clips
            if everything or not clip.private
        ),
        fasteners=_lines(entry.fasteners, names, seen),
        torque=_lines(entry.torque, names, seen),
        materials=tuple(
            build.materials[material] if everything else _public_material(build.materials[material])
            for material in entry.materials
        ),
        answers=entry.answers if everything else {},
        states=states,
        tables=tuple(_in_units(one, build) for one in compared_tables(entry, build, everything=everything)),
    )


def _told(build: Build, told: Entry | WriteUp, everything: bool, names: Mapping[str, str]) -> dict[str, Any]:
    """What entries, inspections and measurements all show, by field."""
    return {
        **named(told, "id", "src_uri", "date", "title", "private", "formerly"),
        "assembly": build.assemblies[told.assembly] if told.assembly else None,
        "steps": tuple(build.steps[step] for step in told.steps),
        "people": _people(told.people, names),
        "photos": _photos(told.photos, everything, names),
        "body": told.body if everything else _public_body(told),
    }


def _lines(lines: tuple[Line, ...], names: Mapping[str, str], visible: Set[str]) -> tuple[Line, ...]:
    """Lines of hardware, with the names that may be said and no entry that may not be seen."""
    return tuple(
        replace(
            line,
            checked_by=_people(line.checked_by, names),
            drilled_out=line.drilled_out if line.drilled_out in visible else None,
        )
        for line in lines
    )


def _inspection(
    build: Build, inspection: Inspection, everything: bool, names: Mapping[str, str], visible: set[str]
) -> ShownInspection:
    return ShownInspection(
        **_told(build, inspection, everything, names),
        **named(inspection, "stage", "outcome"),
        findings=tuple(
            replace(
                found,
                closed_by=found.closed_by if everything or found.closed_by in visible else None,
                signed_by=_people(found.signed_by, names),
                checked_by=_people(found.checked_by, names),
            )
            for found in inspection.findings
        ),
    )


def _measurement(
    build: Build, measurement: Measurement, everything: bool, names: Mapping[str, str]
) -> ShownMeasurement:
    return ShownMeasurement(
        **_told(build, measurement, everything, names),
        **named(measurement, "kind", "instrument", "weighing"),
        checked_by=_people(measurement.checked_by, names),
        table=_in_units(measured_table(measurement, build.callouts), build),
    )


def _people(people: Iterable[str], names: Mapping[str, str]) -> tuple[str, ...]:
    """People by their names as shown; those who are shown alike stand once."""
    return tuple(dict.fromkeys(names[person] for person in people))


def _photos(photos: tuple[Photo, ...], everything: bool, names: Mapping[str, str]) -> tuple[Photo, ...]:
    shown = [photo for photo in photos if everything or not photo.private]
    return tuple(
        replace(
            photo,
            caption=_caption(photo, everything),
            private_caption="",
            people=_people(photo.people, names),
            shut_by=photo.shut_by if everything else None,
            facts=photo.facts if everything else _public_facts(photo.facts),
        )
        for photo in shown
    )


def _public_body(told: Entry | WriteUp) -> str:
    return without_pictures(cut_private(told.body), [photo.name for photo in told.photos if photo.private])


def _caption(thing: Photo | Clip, everything: bool) -> str:
    """What the audience may read under a photo or clip."""
    return thing.caption or thing.private_caption if everything else thing.caption


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
