"""The binder: the whole record as one printable document, `record.pdf`. Pure.

`plan_binder` says what stands on every sheet, as plain values; `journal.record.setting` has them set.
Everything from the builder's files reaches the template (binder.typ) as text in a JSON file and is
never read as markup there.
"""

from __future__ import annotations

import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import TypeVar

from journal.base.drawing import DrawnAssembly, Palette, render_drawing
from journal.base.formatting import (
    month_of,
    say_count,
    say_date,
    say_minutes,
    say_month,
    say_steps,
    say_weekday,
)
from journal.base.model import AssemblyProgress, Material, Photo, State, Step
from journal.base.prose import find_images
from journal.media.photos import Picture, Rendition
from journal.record.album import LIMITS, TO_A_SHEET, Reason, choose_album
from journal.record.binder_drawings import draw_frame, draw_month, month_height_mm
from journal.record.prose_nodes import BodyNodes, Node, plain_words
from journal.record.readme import RECORD_CAUTION
from journal.record.seals import Chain, Kind, seal_story
from journal.record.setting import Binder, Json, render_binder
from journal.record.trace import Trace, gather_trace
from journal.trade.figures import CAUTION, NOT_GIVEN, TALLY_CAUTION, TradeTable
from journal.trade.tally import add_up, say_percent, say_tenths
from journal.view.page_links import is_kept_elsewhere, resolve
from journal.view.view import RULES, Evidence, Gap, ShownEntry, ShownInspection, ShownTask, View

Thing = TypeVar("Thing")

PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height in mm of the papers that can be chosen (ISO 216 A4; ANSI A)."""

PICTURE_BUDGET_BYTES = 300_000_000
"""Up to this much the entries' pictures are 960 px wide (287 dots to the inch as printed), beyond it 480:
the binder must still open on an inspector's tablet. The album is always 960.
"""

SHORT_HASH = 12
"""Digits of a SHA-256 printed beside a picture: enough to tell any two of 20,000 apart."""

_LARGE, _SMALL = 960, 480
_MARGIN_MM = 42.0  # left and right of the text together
_GUTTER_MM = 6.0
_TALLEST_MM = 68.0
_ALBUM_TALLEST_MM = 84.0
_ON_SUMMARY, _WORDS_ON_SUMMARY = 6, 12  # people and inspections, code words: the summary is one sheet
_LONG_CAPTION = 500  # letters: more may be taller than the picture it stands beside
_MONTH_ROW_MM = 7.4  # a row of a month's list where its title fits a line
_LEFT_OUT = "Left out of this copy, which was made without private things."
_INK = Palette(
    ink="#17242e",
    paper="#ffffff",
    done="#0f766e",
    under_way="#f0b232",
    hatch="#7a4a00",
    on_done="#ffffff",
    picked="#b93a0b",
)


def plan_binder(
    view: View,
    pictures: Mapping[str, Picture],
    *,
    made_on: date,
    chain: Chain | None = None,
    paper: str = "a4",
) -> Binder:
    """What stands on every sheet.

    `pictures` maps the `src_uri` of a photo to its picture; `made_on` is printed at the foot of every
    sheet; `chain` is the chain of seals; `paper` one of `PAPERS`.
    """
    return _Planner(view, pictures, chain or Chain(), made_on, paper).plan()


class _Planner:
    """The parts of one binder; each method returns what one kind of sheet says."""

    def __init__(
        self,
        view: View,
        pictures: Mapping[str, Picture],
        chain: Chain,
        made_on: date,
        paper: str,
    ) -> None:
        self.view = view
        self.chain = chain
        self.made_on = made_on
        self.paper = paper
        self.evidence = view.evidence or Evidence()
        self.trace: Trace = gather_trace(view)
        self.bodies = BodyNodes()
        self.order = tuple(view.steps)
        self.entry_labels = {entry.id: f"entry-{number}" for number, entry in enumerate(view.entries, 1)}
        self.inspection_labels = {
            inspection.id: f"inspection-{number}" for number, inspection in enumerate(view.inspections, 1)
        }
        self.page_labels = {page.src_uri: f"page-{number}" for number, page in enumerate(view.pages, 1)}
        self.entries = {entry.id: entry for entry in view.entries}
        self._label_words = {self.entry_labels[entry.id]: f"day {entry.day}" for entry in view.entries} | {
            self.inspection_labels[inspection.id]: f"inspection of {say_date(inspection.date)}"
            for inspection in view.inspections
        }
        self._places: dict[str, Json] = {
            entry.src_uri: {"label": self.entry_labels[entry.id], "where": self._mark(entry)} for entry in view.entries
        }
        for inspection in view.inspections:
            label, day = self.inspection_labels[inspection.id], say_date(inspection.date)
            self._places[inspection.src_uri] = {"label": label, "where": day}
        self._gaps_at: dict[str, list[Gap]] = defaultdict(list)
        for gap in (*self.evidence.gaps, *self.evidence.answered):
            self._gaps_at[gap.problem.file].append(gap)
        self.links = self._link_targets()
        self.width_mm = PAPERS[paper][0] - _MARGIN_MM
        self.boxes = _Boxes(pictures, _fitting_width(view, pictures), day_only=not view.everything)
        self.drawings: dict[str, str] = {}
        self._drawn: dict[tuple[object, ...], str] = {}

    def plan(self) -> Binder:
        """All sheets in their order."""
        aircraft = self.view.aircraft
        days = [entry.date for entry in self.view.entries]
        running = " · ".join(filter(None, (aircraft.name, aircraft.registration)))
        period = f"{say_date(days[0])} to {say_date(days[-1])}" if days else "no work yet"
        seal = self.chain.head[:SHORT_HASH] if self.chain.seals else "not sealed"
        self.drawings["frame.svg"] = draw_frame(
            PAPERS[self.paper],
            [("Aircraft", running), ("Build record", period), ("Made on", say_date(self.made_on)), ("Seal", seal)],
        )
        common: Json = {
            "paper": self.paper,
            "title": f"{aircraft.name}: build record",
            "authors": list(self.view.builders) or [aircraft.name],
            "aircraft": running,
            "cautions": {"record": RECORD_CAUTION, "figures": CAUTION, "tally": TALLY_CAUTION},
        }
        front: Json = {
            "drawing": self._drawing({name: progress.state for name, progress in self._progress().items()}, None),
            "summary": self._summary(),
            "hours": self._hours(),
            "gaps": self._gaps(),
            "album": self._album(),
            "calendar": list(self._calendar()),
            "inspections": [self._inspection(inspection) for inspection in self.view.inspections],
            "tasks": self._tasks(),
            "papers": self._papers(),
        }
        back: Json = {
            "pages": [self._page(number) for number in range(len(self.view.pages))],
            "index": {"steps": list(self._step_index()), "people": list(self._people_index())},
            "private": any(entry.private for entry in self.view.entries),
        }
        entries = tuple(self._entries())
        return Binder(
            common=common,
            front=front,
            entries=entries,
            back=back,
            pictures=self.boxes.used,
            drawings=self.drawings,
        )

    # ------------------------------------------------------------ first sheets

    def _summary(self) -> Json:
        view, aircraft = self.view, self.view.aircraft
        photos = len(self.trace.photos)
        steps = len(view.steps)
        begun = view.begun or (view.entries[0].date if view.entries else None)
        last = view.entries[-1].date if view.entries else None
        return {
            "name": aircraft.name,
            "kind": aircraft.kind,
            "block": [
                {"label": "Registration", "value": aircraft.registration or "—"},
                {"label": "Serial number", "value": aircraft.serial or "—"},
                {"label": "Begun", "value": say_date(begun) if begun else "—"},
                {"label": "Last day worked", "value": say_date(last) if last else "—"},
                {"label": "Span", "value": _span(begun, last)},
                {"label": "Built by", "value": ", ".join(self.view.builders) or "—"},
            ],
            "figures": [
                {"label": "Days worked", "value": f"{view.days:,}"},
                {"label": "Hours", "value": _hours_alone(view.minutes), "note": "person-hours"},
                {"label": "Steps done", "value": f"{view.steps_done} of {steps}"},
                {"label": "Entries", "value": f"{len(view.entries):,}"},
                {"label": "Pictures", "value": f"{photos:,}"},
                {"label": "Inspections", "value": f"{len(view.inspections):,}"},
            ],
            "assemblies": [
                {
                    "title": assembly.title,
                    "state": self._progress()[assembly.id].state.value,
                    "steps": f"{self._progress()[assembly.id].steps_done} of {self._progress()[assembly.id].steps}",
                    "hours": _clock(view.by_assembly[assembly.id]) if view.by_assembly[assembly.id] else "–",
                    "apart": not assembly.counts,
                }
                for assembly in view.assemblies.values()
            ],
            "people": [
                {
                    "name": traced.name,
                    "role": self._role(traced.name),
                    "hours": _clock(traced.minutes) if traced.minutes else "–",
                    "days": str(len(traced.days)) if traced.days else "–",
                    "at_work": str(len(traced.pictures)) if traced.pictures else "–",
                }
                for traced in sorted(self.trace.people.values(), key=lambda one: -one.minutes)[:_ON_SUMMARY]
            ],
            "more_people": self._more(len(self.trace.people), "Index of people"),
            "inspections": [
                {
                    "label": self.inspection_labels[inspection.id],
                    "date": say_date(inspection.date),
                    "what": self._looked_at(inspection),
                    "outcome": inspection.outcome.value,
                    "findings": self._say_findings(inspection),
                }
                for inspection in view.inspections[-_ON_SUMMARY:]
            ],
            "more_inspections": self._more(len(view.inspections), "Inspections"),
            "gaps": {
                "left_out": "" if view.evidence else _LEFT_OUT,
                "open": len(self.evidence.gaps),
                "answered": len(self.evidence.answered),
                "words": [
                    {"word": word, "open": opened, "answered": answered}
                    for word, opened, answered in _tally_words(self.evidence)[:_WORDS_ON_SUMMARY]
                ],
            },
            "apart": say_minutes(view.minutes_not_counted) if view.minutes_not_counted else "",
            "elapsed": say_minutes(view.elapsed_minutes),
            "seal": self._seal_head(),
        }

    @staticmethod
    def _more(number: int, section: str) -> str:
        """What the summary sheet leaves out to stay one sheet."""
        return f"and {number - _ON_SUMMARY} more under {section}" if number > _ON_SUMMARY else ""

    def _seal_head(self) -> Json:
        if self.chain.fault:
            return {"digest": "", "words": f"The chain of seals is broken: {self.chain.fault.message}."}
        if not self.chain.seals:
            return {"digest": "", "words": "Nothing has been sealed yet: entries carry no proof against later change."}
        sealed = sum(seal.amends is None for seal in self.chain.seals)
        amended = len(self.chain.seals) - sealed
        newest = self.chain.seals[-1].sealed_at
        return {
            "digest": self.chain.head,
            "words": f"Head of the chain of seals, line {len(self.chain.seals)}, written {newest:%Y-%m-%d %H:%M} UTC: "
            f"{say_count(sealed, 'seal')}, {say_count(amended, 'amendment')}. It fixes every sealed entry, "
            "inspection and picture; it does not prove the clock.",
        }

    def _hours(self) -> Json:
        view = self.view
        names = [
            name
            for name in self.trace.people
            if any(view.by_person_and_assembly.get((name, a)) for a in view.assemblies)
        ]
        rows = []
        for assembly in view.assemblies.values():
            if not view.by_assembly[assembly.id]:
                continue
            cells = [view.by_person_and_assembly.get((name, assembly.id), 0) for name in names]
            rows.append(
                {
                    "title": assembly.title,
                    "apart": not assembly.counts,
                    "planned": _clock(assembly.planned_minutes) if assembly.planned_minutes else "–",
                    "cells": [_clock(minutes) if minutes else "–" for minutes in cells],
                    "total": _clock(view.by_assembly[assembly.id]),
                }
            )
        return {
            "names": names,
            "rows": rows,
            "totals": [_clock(view.by_person.get(name, 0)) for name in names],
            "total": _clock(view.minutes),
            "months": [
                {"month": say_month(month), "hours": _clock(minutes)} for month, minutes in view.by_month.items()
            ],
        }

    def _gaps(self) -> Json:
        def row(gap: Gap) -> Json:
            return {
                "word": gap.problem.word,
                "message": gap.problem.message,
                "answer": gap.answer,
                **self._where(gap),
            }

        return {
            "left_out": "" if self.view.evidence else _LEFT_OUT,
            "open": [row(gap) for gap in self.evidence.gaps],
            "answered": [row(gap) for gap in self.evidence.answered],
            "rules": [{"word": rule.word, "finds": rule.finds, "why": rule.why} for rule in RULES],
        }

    def _where(self, gap: Gap) -> Json:
        """Where a gap was found: a sheet of the binder, or the file."""
        file = gap.problem.file
        if file in self._places:
            return self._places[file]
        return {"label": "", "where": file.removeprefix("content/")}

    def _album(self) -> Json:
        builders = set(self.view.builders)
        chosen = choose_album(self.view, builders, self.boxes.usable)
        entries = []
        for four in _groups(chosen, TO_A_SHEET):
            placed = []
            for one in four:
                box = self.boxes.box(one.photo, (self.width_mm - _GUTTER_MM) / 2, _ALBUM_TALLEST_MM, large=True)
                label = self.entry_labels[one.entry] if one.entry else self.inspection_labels[one.inspection or ""]
                where = self._mark(self.entries[one.entry]) if one.entry else "Inspection"
                box |= {
                    "reason": one.reason.value,
                    "label": label,
                    "where": " · ".join(filter(None, (where, one.assembly.title if one.assembly else ""))),
                }
                placed.append(box)
            entries.append(placed)
        limits = {reason.value: str(limit) for reason, limit in LIMITS.items()}
        return {
            "sheets": entries,
            "rules": (
                f"Chosen by rule, not by hand: up to {limits[Reason.AT_WORK.value]} of a builder at work, up to "
                f"{limits[Reason.INSIDE.value]} of the inside of something closed later, up to "
                f"{limits[Reason.COVER.value]} that stand for their entry, then others until there are at least 24 "
                "and the last sheet is full; spread over the assemblies and over time. At most 40."
            ),
        }

    def _calendar(self) -> Iterator[Json]:
        months: dict[str, list[ShownEntry]] = defaultdict(list)
        for entry in self.view.entries:
            months[month_of(entry.date)].append(entry)
        if not months:
            return
        quiet: list[str] = []
        for month in _months_between(min(months), max(months)):
            if month not in months:
                quiet.append(say_month(month))
                continue
            if quiet:
                yield {
                    "quiet": f"No work in {quiet[0]}."
                    if len(quiet) == 1
                    else f"No work from {quiet[0]} to {quiet[-1]}."
                }
                quiet = []
            yield self._month(month, months[month])

    def _month(self, month: str, entries: Sequence[ShownEntry]) -> Json:
        year, number = map(int, month.split("-"))
        minutes: dict[date, int] = defaultdict(int)
        for entry in entries:
            minutes[entry.date] += entry.minutes
        drawing = f"month-{month}.svg"
        self.drawings[drawing] = draw_month(year, number, {day.day: _clock(told) for day, told in minutes.items()})
        return {
            "month": say_month(month),
            "days": say_count(len(minutes), "day"),
            "hours": _clock(sum(minutes.values())),
            "drawing": drawing,
            "short": max(0.0, month_height_mm(year, number) - _MONTH_ROW_MM * (len(entries) + 0.5)),
            "alt": f"{say_month(month)}, worked on the {', '.join(str(day.day) for day in minutes)}",
            "rows": [
                {
                    "day": f"{say_weekday(entry.date)[:2]} {entry.date.day}",
                    "title": entry.title,
                    "words": " · ".join(filter(None, (entry.assembly.title, self._say_marks(entry)))),
                    "hours": _clock(entry.minutes) if entry.time else "–",
                    "label": self.entry_labels[entry.id],
                }
                for entry in entries
            ],
        }

    # ------------------------------------------------------------ inspections, tasks, papers

    def _inspection(self, inspection: ShownInspection) -> Json:
        return {
            "label": self.inspection_labels[inspection.id],
            "title": inspection.title,
            "block": [
                {"label": "Date", "value": say_date(inspection.date), "note": say_weekday(inspection.date)},
                {"label": "Looked at", "value": self._looked_at(inspection)},
                {"label": "Stage", "value": inspection.stage or "—"},
                {"label": "By", "value": inspection.inspector},
                {"label": "Outcome", "value": inspection.outcome.value},
            ],
            "seal": self._sealed(Kind.INSPECTION, inspection.id),
            "private": inspection.private,
            "body": self._body(inspection.body, inspection.title, inspection.photos, inspection.src_uri),
            "findings": [
                {
                    "number": found.id,
                    "text": found.text,
                    "state": "open" if found.open else f"put right on {say_date(found.closed_on)}",  # type: ignore[arg-type]
                    "open": found.open,
                    "label": self.entry_labels.get(found.closed_by or "", ""),
                    "where": self._mark(self.entries[found.closed_by]) if found.closed_by in self.entries else "",
                }
                for found in inspection.findings
            ],
            "rest": self._rows(self._unplaced(inspection.photos, inspection.body)),
        }

    def _tasks(self) -> Json:
        if not self.view.tasks:
            left_out = "" if self.view.everything else _LEFT_OUT
            return {"rows": [], "tally": {}, "words": left_out or "No list of tasks has been entered."}
        tally = add_up(behind.task for behind in self.view.tasks)
        return {
            "rows": [self._task(behind) for behind in self.view.tasks],
            "tally": {
                "maker": say_tenths(tally.maker),
                "paid": say_tenths(tally.paid),
                "assembly": say_tenths(tally.assembly),
                "fabrication": say_tenths(tally.fabrication),
                "words": f"{say_count(tally.tasks, 'task')} apply, {tally.not_applicable} n/a. "
                + (
                    f"Builder: {tally.builder} of {tally.tenths} tenths, {say_percent(tally.builder_share)}, by what "
                    "tasks.csv says."
                    if tally.builder_share is not None
                    else ""
                ),
            },
        }

    def _task(self, behind: ShownTask) -> Json:
        task = behind.task
        shares = (task.maker, task.paid, task.assembly, task.fabrication)
        return {
            "section": task.section,
            "task": task.task,
            "name": task.name,
            "shares": [str(share or 0) if task.applies else "n/a" for share in shares],
            "applies": task.applies,
            "steps": say_steps(task.steps, self.order),
            "entries": [
                {"label": self.entry_labels[entry.id], "where": self._mark_short(entry.id)} for entry in behind.entries
            ],
            "photos": str(behind.photos),
            "people": ", ".join(behind.people),
            "paid": ", ".join(behind.paid),
            "note": task.note,
        }

    def _papers(self) -> Json:
        view = self.view
        return {
            "records": [
                {
                    "date": _iso(record.date),
                    "kind": record.kind,
                    "title": record.title,
                    "file": record.file,
                    "note": record.note,
                }
                for record in view.records
            ],
            "materials": [_material(trace.material) for trace in view.materials],
            "tools": [
                {
                    "name": tool.name,
                    "checked": _iso(tool.checked_on),
                    "every": f"{tool.check_every_months} months" if tool.check_every_months else "",
                }
                for tool in view.calibrated_tools
            ],
        }

    # ------------------------------------------------------------ entries

    def _entries(self) -> Iterator[Json]:
        month = ""
        for entry in self.view.entries:
            this = month_of(entry.date)
            yield self._entry(entry, say_month(this), opens=this != month)
            month = this

    def _entry(self, entry: ShownEntry, month: str, *, opens: bool) -> Json:
        return {
            "month": month,
            "opens": opens,
            "label": self.entry_labels[entry.id],
            "mark": self._mark(entry),
            "title": entry.title,
            "head": f"{self._mark(entry)} · {say_date(entry.date)} · {entry.assembly.title}",
            "block": {
                "day": str(entry.day),
                "date": say_date(entry.date),
                "weekday": say_weekday(entry.date),
                "assembly": entry.assembly.title,
                "steps": self._say_marks(entry) or "—",
                "hours": _clock(entry.minutes) if entry.time else "—",
                "to_date": _clock(entry.minutes_to_date),
                "by": ", ".join(entry.people) or "—",
            },
            "drawing": self._drawing(entry.states, entry.assembly.id),
            "facts": [[label, value] for label, value in self._facts(entry) if value],
            "private": entry.private,
            "body": self._body(entry.body, entry.title, entry.photos, entry.src_uri),
            "tables": [_trade_table(table) for table in entry.tables],
            "gaps": [
                {
                    "word": gap.problem.word,
                    "message": gap.problem.message,
                    "answer": gap.answer,
                    "state": "answered" if gap.answered_in else "open",
                }
                for gap in self._gaps_at[entry.src_uri]
            ],
            "rest": self._rows(self._unplaced(entry.photos, entry.body)),
        }

    def _facts(self, entry: ShownEntry) -> Iterator[tuple[str, str]]:
        yield "Place", entry.place
        yield "Time", ", ".join(f"{name} {say_minutes(minutes)}" for name, minutes in entry.time)
        if entry.time:
            counted = "" if entry.assembly.counts else " (apart from the hours of the build)"
            yield "This assembly", f"{say_minutes(entry.assembly_minutes_to_date)} to date{counted}"
        yield "Tools", ", ".join(entry.tools)
        yield "Methods", ", ".join(entry.methods)
        yield (
            "Materials",
            ", ".join(f"{one.name}, batch {one.batch}" if one.batch else one.name for one in entry.materials),
        )
        yield "Films", ", ".join(clip.name for clip in entry.clips)
        yield "Videos", ", ".join(entry.videos)
        yield "Source", entry.src_uri
        yield "Seal", self._sealed(Kind.ENTRY, entry.id)

    def _page(self, number: int) -> Json:
        page = self.view.pages[number]
        return {
            "label": self.page_labels[page.src_uri],
            "title": page.title,
            "body": self._body(page.body, page.title, (), page.src_uri),
        }

    # ------------------------------------------------------------ indexes

    def _step_index(self) -> Iterator[Json]:
        inspections = self.inspection_labels
        for assembly in self.view.assemblies.values():
            rows = [
                {
                    "step": traced.step.id,
                    "title": traced.step.title,
                    "state": traced.progress.word,
                    "done": _iso(traced.progress.done_on),
                    "entries": [
                        {"label": self.entry_labels[entry], "where": self._mark_short(entry)}
                        for entry in traced.entries
                    ],
                    "photos": str(len(traced.photos)) if traced.photos else "–",
                    "inspections": [
                        {"label": inspections[name], "where": "insp."} for name in self._named_in(traced.step)
                    ],
                    "closes": traced.step.closes,
                }
                for traced in self.trace.steps.values()
                if traced.step.assembly == assembly.id
            ]
            if rows:
                yield {"title": assembly.title, "rows": rows}

    def _named_in(self, step: Step) -> Iterator[str]:
        """Inspections that name the step itself; those of its whole assembly would fill every row."""
        for inspection in self.view.inspections:
            if step in inspection.steps:
                yield inspection.id

    def _people_index(self) -> Iterator[Json]:
        for traced in self.trace.people.values():
            at_work = dict.fromkeys(told.id for told, _ in traced.pictures if isinstance(told, ShownEntry))
            yield {
                "name": traced.name,
                "role": self._role(traced.name),
                "hours": _clock(traced.minutes) if traced.minutes else "–",
                "days": str(len(traced.days)),
                "steps": say_steps(traced.steps, self.order),
                "entries": [
                    {"label": self.entry_labels[entry.id], "where": self._mark_short(entry.id)}
                    for entry in traced.entries
                ],
                "at_work": [{"label": self.entry_labels[name], "where": self._mark_short(name)} for name in at_work],
                "inspections": [
                    {"label": self.inspection_labels[name], "where": self._inspection_date(name)}
                    for name in traced.inspections
                ],
            }

    def _inspection_date(self, name: str) -> str:
        return next(say_date(inspection.date) for inspection in self.view.inspections if inspection.id == name)

    # ------------------------------------------------------------ text and pictures

    def _body(self, body: str, title: str, photos: Sequence[Photo], src_uri: str) -> list[Node]:
        if not body.strip():
            return []
        by_name = _by_name(photos)

        def resolved(target: str) -> Mapping[str, str] | None:
            if is_kept_elsewhere(target):
                return {"url": target} if _is_address(target) else None
            address = resolve(target, src_uri, self.links)
            if address is None:
                return None
            label = address.partition("#")[0]
            return {"label": label, "words": self._label_words.get(label, "")}

        nodes = self.bodies.nodes(body, title=title, resolve=resolved)
        return [self._with_boxes(node, by_name) for node in nodes]

    def _with_boxes(self, node: Node, photos: Mapping[str, Photo]) -> Node:
        """Picture names exchanged for rows of boxes, however deep they stand."""
        if node.get("k") == "pictures":
            shown = [photo for name in node["names"] if (photo := photos.get(unicodedata.normalize("NFC", name)))]
            return {"k": "pictures", "rows": self._rows(shown)}
        if node.get("k") == "a":
            # On paper a link is its address; where the words are the address it is not said twice.
            url = node["to"].get("url", "")
            said = plain_words(node["c"]) in (url, url.removeprefix("mailto:"))
            node = {**node, "address": "" if said else url}
        for key in ("b", "c"):
            if key in node:
                node = {**node, key: [self._with_boxes(inner, photos) for inner in node[key]]}
        if "items" in node:
            node = {**node, "items": [[self._with_boxes(inner, photos) for inner in item] for item in node["items"]]}
        return node

    def _unplaced(self, photos: Sequence[Photo], body: str) -> list[Photo]:
        """Pictures that the text shown here does not place, in capture order."""
        placed = {unicodedata.normalize("NFC", image.target) for image in find_images(body) if not image.elsewhere}
        return [photo for photo in photos if unicodedata.normalize("NFC", photo.name) not in placed]

    def _rows(self, photos: Sequence[Photo]) -> list[list[Json]]:
        """Two pictures to a row; one alone gets its words beside it."""
        width = (self.width_mm - _GUTTER_MM) / 2
        return [[self._box(photo, width) for photo in pair] for pair in _groups(photos, 2)]

    def _box(self, photo: Photo, width_mm: float) -> Json:
        return self.boxes.box(photo, width_mm, _TALLEST_MM, large=False)

    def _drawing(self, states: Mapping[str, State], picked: str | None) -> str:
        """The name of a drawing with these states, made once; empty where the build has none."""
        if not self.view.drawing:
            return ""
        key = (picked, tuple(states.items()))
        if key not in self._drawn:
            svg = render_drawing(
                self.view.drawing,
                [
                    DrawnAssembly(id=name, title=self.view.assemblies[name].title, state=state, href="")
                    for name, state in states.items()
                ],
                picked=picked,
                uid="d",
                palette=_INK,
            )
            name = f"drawing-{len(self.drawings) + 1}.svg" if svg else ""
            if svg:
                self.drawings[name] = svg
            self._drawn[key] = name
        return self._drawn[key]

    # ------------------------------------------------------------ words

    def _mark(self, entry: ShownEntry) -> str:
        return f"Day {entry.day}"

    def _mark_short(self, entry: str) -> str:
        return str(self.entries[entry].day)

    def _say_marks(self, entry: ShownEntry) -> str:
        parts = []
        for word, steps in (("", entry.steps), ("begun ", entry.begun), ("done over ", entry.redone)):
            if steps:
                parts.append(word + say_steps([step.id for step in steps], self.order))
        return " · ".join(parts)

    def _looked_at(self, inspection: ShownInspection) -> str:
        if inspection.assembly:
            return inspection.assembly.title
        named = say_steps([step.id for step in inspection.steps], self.order)
        return f"step {named}" if len(inspection.steps) == 1 else f"steps {named}"

    def _say_findings(self, inspection: ShownInspection) -> str:
        findings = inspection.findings
        if not findings:
            return "no findings"
        opened = sum(found.open for found in findings)
        return (
            f"{say_count(len(findings), 'finding')}, {opened} open"
            if opened
            else f"{say_count(len(findings), 'finding')}, all put right"
        )

    def _sealed(self, kind: Kind, name: str) -> str:
        return seal_story(self.chain, kind, name, self.view.zone).words if self.chain.seals else "not sealed"

    def _progress(self) -> Mapping[str, AssemblyProgress]:
        return self.view.assembly_progress

    def _role(self, name: str) -> str:
        role = self.view.roles.get(name)
        return role.value if role else ""

    def _link_targets(self) -> dict[str, str]:
        """What bodies may link to: entries, inspections and pages of this binder, by file and by folder."""
        targets: dict[str, str] = {}
        for entry in self.view.entries:
            label = self.entry_labels[entry.id]
            targets |= {entry.src_uri: label, entry.src_uri.rpartition("/")[0]: label}
            targets |= {photo.src_uri: label for photo in entry.photos}
        for inspection in self.view.inspections:
            uri, label = inspection.src_uri, self.inspection_labels[inspection.id]
            targets |= {uri: label, uri.rpartition("/")[0]: label}
        return targets | self.page_labels


class _Boxes:
    """Pictures as the template places them: size in mm, words, and the file behind each name."""

    def __init__(self, pictures: Mapping[str, Picture], width_px: int, *, day_only: bool) -> None:
        self._pictures = pictures
        self._day_only = day_only
        self._width_px = width_px
        self._names: dict[Path, str] = {}
        self.used: dict[str, Rendition] = {}

    def usable(self, photo: Photo) -> bool:
        """Whether there is something to print."""
        picture = self._pictures.get(photo.src_uri)
        return bool(picture and picture.renditions)

    def box(self, photo: Photo, width_mm: float, tallest_mm: float, *, large: bool) -> Json:
        """A picture fitted into `width_mm` x `tallest_mm`, or a placeholder with the reason."""
        picture = self._pictures.get(photo.src_uri)
        box: Json = {
            "caption": photo.caption,
            "alt": photo.caption or f"Picture {photo.name}",
            "words": " · ".join(_photo_words(photo, day_only=self._day_only)),
            "long": len(photo.caption) > _LONG_CAPTION,
            "image": "",
            "w": width_mm,
            "h": width_mm * 0.5,
        }
        if not picture or not picture.renditions:
            trouble = (picture.trouble if picture else "") or photo.facts.trouble or "no picture was made of it"
            return box | {"trouble": trouble}
        rendition = _nearest(picture.renditions, _LARGE if large else self._width_px)
        scale = min(width_mm / rendition.width_px, tallest_mm / rendition.height_px)
        if rendition.path not in self._names:
            self._names[rendition.path] = f"picture-{len(self._names) + 1}"
            self.used[self._names[rendition.path]] = rendition
        return box | {
            "image": self._names[rendition.path] + ".svg",
            "w": round(rendition.width_px * scale, 2),
            "h": round(rendition.height_px * scale, 2),
        }


def _fitting_width(view: View, pictures: Mapping[str, Picture]) -> int:
    """960 while all pictures of the entries stay within the budget, else 480."""
    whole = sum(
        _nearest(picture.renditions, _LARGE).bytes
        for photo in view.photos
        if (picture := pictures.get(photo.src_uri)) and picture.renditions
    )
    return _LARGE if whole <= PICTURE_BUDGET_BYTES else _SMALL


def _nearest(renditions: Sequence[Rendition], long_edge: int) -> Rendition:
    """The largest rendition whose long edge is at most `long_edge`, else the smallest there is."""
    fitting = [one for one in renditions if max(one.width_px, one.height_px) <= long_edge]
    return fitting[-1] if fitting else renditions[0]


def _groups(things: Sequence[Thing], size: int) -> Iterator[Sequence[Thing]]:
    """`things` in groups of `size`, the last one maybe smaller."""
    for start in range(0, len(things), size):
        yield things[start : start + size]


def _by_name(photos: Iterable[Photo]) -> dict[str, Photo]:
    """Photos by their name in one Unicode form, as bodies may write it."""
    return {unicodedata.normalize("NFC", photo.name): photo for photo in photos}


def _say_taken(photo: Photo, *, day_only: bool) -> str:
    facts = photo.facts
    if facts.taken is None:
        return "capture time not recorded"
    if not facts.clock_set:
        return "capture time not recorded (camera clock never set)"
    if day_only:
        return f"taken {say_date(facts.taken.date())}"
    offset = facts.offset or "offset not recorded"
    return f"taken {say_date(facts.taken.date())}, {facts.taken:%H:%M:%S} ({offset})"


def _photo_words(photo: Photo, *, day_only: bool) -> Iterator[str]:
    """What stands under a picture: capture time, what it shows, file and short digest."""
    yield _say_taken(photo, day_only=day_only)
    if photo.step:
        yield f"step {photo.step}"
    if photo.people:
        yield f"at work: {', '.join(photo.people)}"
    if photo.inside:
        yield "inside, before closing"
    if photo.private:
        yield "private"
    yield photo.name
    if photo.sha256:
        yield f"SHA-256 {photo.sha256[:SHORT_HASH]}…"


def _material(material: Material) -> Json:
    return {
        "name": material.name,
        "batch": material.batch,
        "expires": _iso(material.expires),
        "record": material.record,
    }


def _trade_table(table: TradeTable) -> Json:
    return {
        "title": table.title,
        "lead": table.lead,
        "rows": [
            {
                "what": figure.what,
                "recorded": figure.recorded,
                "table": figure.table,
                "standing": figure.standing.value,
                "remark": figure.remark,
                "source": figure.source,
            }
            for figure in table.figures
            # What the tables say of things nobody recorded is help for the bench, not record.
            if figure.recorded not in ("", NOT_GIVEN)
        ],
    }


def _tally_words(evidence: Evidence) -> list[tuple[str, int, int]]:
    """(code word, open, answered), most open first."""
    counts: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    for gap in evidence.gaps:
        counts[gap.problem.word][0] += 1
    for gap in evidence.answered:
        counts[gap.problem.word][1] += 1
    rows = [(word, opened, answered) for word, (opened, answered) in counts.items()]
    return sorted(rows, key=lambda row: (-row[1], -row[2], row[0]))


def _is_address(target: str) -> bool:
    """Whether a PDF link can hold it: no spaces, nothing unprintable."""
    return target.isprintable() and " " not in target


def _clock(minutes: int) -> str:
    """`6:30`: hours and minutes for a narrow column."""
    return f"{minutes // 60:,}:{minutes % 60:02d}"


def _hours_alone(minutes: int) -> str:
    return _clock(minutes)


def _iso(day: date | None) -> str:
    return day.isoformat() if day else ""


def _span(first: date | None, last: date | None) -> str:
    """`1 year 5 months`, in whole months begun."""
    if first is None or last is None:
        return "—"
    days = (last - first).days + 1
    if days < 61:
        return say_count(days, "day")
    months = (last.year - first.year) * 12 + last.month - first.month + (last.day >= first.day) - 1
    years, rest = divmod(max(months, 1), 12)
    parts = [say_count(years, "year")] if years else []
    return " ".join([*parts, say_count(rest, "month")] if rest else parts)


def _months_between(first: str, last: str) -> Iterator[str]:
    year, month = map(int, first.split("-"))
    while (current := f"{year:04d}-{month:02d}") <= last:
        yield current
        year, month = (year, month + 1) if month < 12 else (year + 1, 1)


__all__ = ["PAPERS", "Binder", "plan_binder", "render_binder"]
