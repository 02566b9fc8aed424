"""The binder: the whole record as one printable document, `record.pdf`. Pure.

`plan_binder` says what stands on every sheet, as plain values; `journal.record.setting` has them set.
Everything from the builder's files reaches the template (binder.typ) as text in a JSON file and is
never read as markup there.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from itertools import accumulate
from math import ceil
from mimetypes import guess_type
from textwrap import shorten

from journal.base.formatting import (
    month_of,
    say_count,
    say_date,
    say_few,
    say_minutes,
    say_month,
    say_signed,
    say_weekday,
)
from journal.base.grouping import grouped
from journal.base.model import FreePage, InspectionFinding, Record, Step, named
from journal.base.words import _
from journal.media.photos import Picture
from journal.record.album import LIMITS, AlbumPicture, Reason, choose_album
from journal.record.binder_closings import plan_closings
from journal.record.binder_drawings import draw_frame, draw_month, month_height_mm, months_between
from journal.record.binder_parts import (
    INK,
    SHORT_HASH,
    Shared,
    block,
    clock,
    clock_or_dash,
    groups,
    mark,
    say_findings,
    say_sealing,
    say_span,
    say_stamps,
)
from journal.record.chain import Chain, Kind
from journal.record.readme import RECORD_CAUTION
from journal.record.setting import Binder, Json, KeptPaper, render_binder
from journal.record.timestamps import Stamp
from journal.record.trace import StepTrace, role_of
from journal.trade.figures import CAUTION, NOT_GIVEN, TALLY_CAUTION, TradeTable
from journal.trade.measured import MEASURED_CAUTION
from journal.trade.tally import SHOWN_RULE, add_up
from journal.trade.weighing import BALANCE_CAUTION
from journal.view.inspector_parts import (
    Cell,
    PackPart,
    Place,
    batches,
    bulletins,
    calibrated_tools,
    gap_parts,
    inspection_pack,
    people_told,
    say_tally,
    task_sections,
)
from journal.view.view import RULES, ShownEntry, ShownInspection, ShownMeasurement, ShownWriteUp, View, weight_of
from journal.view.weighing_parts import draw_limits, weighing_tables

__all__ = ["Binder", "KeptPaper", "plan_binder", "render_binder"]

_SHEET_MM = (210.0, 297.0)  # ISO 216 A4
_MARGIN_MM = 42.0  # left and right of the text together
_ON_SUMMARY, _GAPS_ON_SUMMARY = 6, 7  # people and inspections, kinds of gaps: the summary is one sheet
_MONTH_ROW_MM = 7.4  # a row of a month's list where its title fits a line
_LEFT_OUT = "Left out of this copy, which was made without private things."


def plan_binder(
    view: View,
    pictures: Mapping[str, Picture],
    *,
    made_on: date,
    chain: Chain | None = None,
    stamps: Sequence[Stamp] = (),
    papers: Mapping[str, KeptPaper] | None = None,
) -> Binder:
    """What stands on every sheet.

    `pictures` maps the `src_uri` of a photo to its picture; `made_on` is printed at the foot of every
    sheet; `chain` is the chain of seals, `stamps` vouch for it; `papers` are the files behind the papers kept, by
    the names of records.csv: up to `ATTACHED_BYTES` together go into the document.
    """
    of = Shared(view, pictures, chain or Chain(), _SHEET_MM[0] - _MARGIN_MM)
    aircraft, days = view.aircraft, [entry.date for entry in view.entries]
    running = " · ".join(filter(None, (aircraft.name, aircraft.registration)))
    period = f"{say_date(days[0])} to {say_date(days[-1])}" if days else "no work yet"
    seal = of.chain.head[:SHORT_HASH] if of.chain.seals else "not sealed"
    of.drawings["frame.svg"] = draw_frame(
        _SHEET_MM,
        [("Aircraft", running), ("Build record", period), ("Made on", say_date(made_on)), ("Seal", seal)],
    )
    common: Json = {
        "title": f"{aircraft.name}: build record",
        "authors": list(view.builders) or [aircraft.name],
        "aircraft": running,
        "cautions": {"record": RECORD_CAUTION, "figures": CAUTION, "tally": TALLY_CAUTION},
    }
    attached = _attached(view.records, papers or {})
    front: Json = {
        "drawing": of.drawing({name: stands.state for name, stands in view.assembly_progress.items()}, None),
        "summary": _summary(of, stamps),
        "pack": [_pack_part(of, part) for part in inspection_pack(view)],
        "hours": _hours(of),
        "gaps": {
            "left_out": "" if view.evidence else _LEFT_OUT,
            "parts": [_pack_part(of, part) for part in gap_parts(view, of.evidence)] if view.evidence else [],
        },
        "album": _album(of),
        "calendar": list(_calendar(of)),
        "closings": plan_closings(of),
        "inspections": [_inspection(of, inspection) for inspection in view.inspections],
        "measurements": [_measurement(of, number, told) for number, told in enumerate(view.measurements, 1)],
        "tasks": _tasks(of),
        "papers": _papers(of, papers or {}, attached),
        "attached": [
            {"file": f"attached-{number}", "name": f"records/{one.file}", "title": one.title, "type": _media_type(one)}
            for number, one in enumerate(attached)
        ],
    }
    back: Json = {
        "pages": [_page(of, page) for page in view.pages],
        "index": {
            "steps": list(_step_index(of)),
            "people": [_pack_part(of, part) for part in people_told(view)],
        },
        "rules": [
            {"title": f"{heading.capitalize()}: {view.rules.country}", "lines": said}
            for heading, said in view.rules.lines.items()
        ],
        "private": any(entry.private for entry in view.entries),
    }
    entries = tuple(_entries(of))
    return Binder(
        common=common,
        front=front,
        entries=entries,
        back=back,
        pictures=of.boxes.used,
        drawings=of.drawings,
        files={f"attached-{number}": (papers or {})[one.file].path for number, one in enumerate(attached)},
    )


# ---------------------------------------------------------------- summary and hours


def _summary(of: Shared, stamps: Sequence[Stamp]) -> Json:
    view, aircraft, people = of.view, of.view.aircraft, of.trace.people
    begun = view.begun or (view.entries[0].date if view.entries else None)
    last = view.entries[-1].date if view.entries else None
    places = Counter(entry.place for entry in view.entries if entry.place)
    return {
        **named(aircraft, "name", "kind"),
        "block": block(
            ("Registration", aircraft.registration),
            ("Serial number", aircraft.serial),
            ("Begun", say_date(begun) if begun else ""),
            ("Last day worked", say_date(last) if last else ""),
            ("Span", say_span(begun, last)),
            ("Built by", ", ".join(view.builders)),
            ("Where", say_few([f"{place} ({days})" for place, days in places.most_common()]), "entries of each place"),
            ("Edition of the kit’s manual", view.manual_edition),
            ("Rules", view.rules.country or ("none chosen" if view.everything else "")),
        ),
        "figures": block(
            ("Days worked", f"{view.days:,}"),
            ("Hours", clock(view.minutes), "person-hours"),
            ("Steps done", f"{view.steps_done} of {len(view.steps)}"),
            ("Entries", f"{len(view.entries):,}"),
            ("Pictures", f"{len(of.trace.photos):,}"),
            ("Inspections", f"{len(view.inspections):,}"),
        ),
        "assemblies": [
            {
                "title": assembly.title,
                "state": view.assembly_progress[assembly.id].state.value,
                "steps": "{0.steps_done} of {0.steps}".format(view.assembly_progress[assembly.id]),
                "hours": clock_or_dash(view.by_assembly[assembly.id]),
                "apart": not assembly.counts,
            }
            for assembly in view.assemblies.values()
        ],
        "people": [
            {
                "name": work.name,
                "role": role_of(view, work.name),
                "hours": clock_or_dash(work.minutes),
                "days": str(len(work.days) or "–"),
                "at_work": str(len(work.pictures) or "–"),
            }
            for work in sorted(people.values(), key=lambda one: -one.minutes)[:_ON_SUMMARY]
        ],
        "more_people": _more(len(people), "Index of people"),
        "inspections": [
            {
                "label": of.labels[inspection.src_uri],
                "date": say_date(inspection.date),
                "what": of.say_looked_at(inspection),
                "outcome": inspection.outcome.value,
                "findings": say_findings(inspection),
            }
            for inspection in view.inspections[-_ON_SUMMARY:]
        ],
        "more_inspections": _more(len(view.inspections), "Inspections"),
        "gaps": {
            "left_out": "" if view.evidence else _LEFT_OUT,
            "open": len(of.evidence.gaps),
            "answered": len(of.evidence.answered),
            "words": _gap_words(of),
        },
        "apart": say_minutes(view.minutes_not_counted) if view.minutes_not_counted else "",
        "elapsed": say_minutes(view.elapsed_minutes),
        "seal": _seal_head(of, stamps),
    }


def _more(number: int, section: str) -> str:
    """What the summary leaves out to stay one sheet."""
    return f"and {number - _ON_SUMMARY} more under {section}" if number > _ON_SUMMARY else ""


def _gap_words(of: Shared) -> list[str]:
    """The open gaps in words, the weightiest kinds first; what finds no room on the summary is counted."""
    opened = Counter(gap.problem.word for gap in of.evidence.gaps)
    first = {gap.problem.word: gap.problem.message for gap in reversed(of.evidence.gaps)}
    finds = {rule.word: rule.finds for rule in RULES}
    words = sorted(opened, key=lambda word: (-weight_of(word), -opened[word], word))
    told = []
    for word in words[:_GAPS_ON_SUMMARY]:
        said = finds.get(word) or shorten(first[word], 90, placeholder=" …")
        told.append(f"{opened[word]} × {said.rstrip('.')} ({word})")
    if left := words[_GAPS_ON_SUMMARY:]:
        told.append(
            f"and {sum(opened[word] for word in left)} more of {say_count(len(left), 'kind')}: {', '.join(left)}"
        )
    return told


def _seal_head(of: Shared, stamps: Sequence[Stamp]) -> Json:
    chain = of.chain
    if not of.view.everything:
        return {"digest": "", "words": _LEFT_OUT}
    if chain.fault:
        return {"digest": "", "words": f"The chain of seals is broken: {chain.fault.message}."}
    if not chain.seals:
        return {"digest": "", "words": "Nothing has been sealed yet: entries carry no proof against later change."}
    amended = sum(seal.amends is not None for seal in chain.seals)
    return {
        "digest": chain.head,
        "words": f"{say_sealing(chain, of.view)} {say_count(amended, 'amendment')}. {say_stamps(stamps)} Above "
        "stands the head of the chain: it fixes every sealed text and picture; it does not prove the clock.",
    }


def _pack_part(of: Shared, part: PackPart) -> Json:
    def place(to: Place) -> Json:
        if isinstance(to, ShownEntry | ShownWriteUp):
            return of.place(to, of.name(to))
        return {"label": "", "where": to.id if isinstance(to, Step) else to.title}

    def cell(one: Cell) -> Json:
        if not isinstance(one, str) and one and isinstance(one[0], Step):
            return {"t": of.say_steps([step for step in one if isinstance(step, Step)])}
        return {"t": one} if isinstance(one, str) else {"to": [place(to) for to in one]}

    return {
        **named(part, "title", "words", "by_hand"),
        "columns": list(part.columns),
        "shares": list(part.columns.values()),
        "pictures": [[of.boxes.box(photo) for photo, _ in pair] for pair in groups(part.photos, 2)],
        "figures": sorted(part.figures),
        "rows": [[cell(one) for one in row] for row in (*part.rows, *([part.sums] * bool(part.sums)))],
    }


def _hours(of: Shared) -> Json:
    view, minutes = of.view, of.view.by_person_and_assembly
    names = [name for name in of.trace.people if any(minutes.get((name, assembly)) for assembly in view.assemblies)]
    return {
        "names": names,
        "rows": [
            {
                "title": assembly.title,
                "apart": not assembly.counts,
                "planned": clock_or_dash(assembly.planned_minutes or 0),
                "cells": [clock_or_dash(minutes.get((name, assembly.id), 0)) for name in names],
                "total": clock(view.by_assembly[assembly.id]),
            }
            for assembly in view.assemblies.values()
            if view.by_assembly[assembly.id]
        ],
        "totals": [clock(view.by_person.get(name, 0)) for name in names],
        "total": clock(view.minutes),
        "months": [{"month": say_month(month), "hours": clock(worked)} for month, worked in view.by_month.items()],
    }


# ---------------------------------------------------------------- album


def _album(of: Shared) -> Json:
    def placed(one: AlbumPicture) -> Json:
        label = of.labels[one.told.src_uri]
        where = mark(one.told) if isinstance(one.told, ShownEntry) else label.partition("-")[0].capitalize()
        assembly = one.told.assembly.title if one.told.assembly else ""
        where = " · ".join(filter(None, (where, assembly)))
        return {**of.boxes.box(one.photo), "reason": one.reason.value, **of.place(one.told, where)}

    chosen = choose_album(of.view, set(of.view.builders), of.boxes.usable)
    return {
        "rows": [[placed(one) for one in pair] for pair in groups(chosen, 2)],
        "rules": f"Chosen by rule, not by hand: up to {LIMITS[Reason.AT_WORK]} of a builder at work, up to "
        f"{LIMITS[Reason.INSIDE]} of the inside of something closed later, up to {LIMITS[Reason.COVER]} that stand for "
        "their entry, then others until there are at least 24 and the last sheet is full; spread over the assemblies "
        "and over time. At most 40.",
    }


# ---------------------------------------------------------------- calendar


def _calendar(of: Shared) -> Iterator[Json]:
    """Every month with work, and one line for a run of months without."""
    months = grouped(of.view.entries, lambda entry: [month_of(entry.date)])
    without: list[str] = []
    for month in months_between(min(months), max(months)) if months else ():
        if month not in months:
            without.append(say_month(month))
            continue
        if without:
            told = f"from {without[0]} to {without[-1]}" if len(without) > 1 else f"in {without[0]}"
            yield {"quiet": f"No work {told}."}
            without = []
        yield _month(of, month, months[month])


def _month(of: Shared, month: str, entries: Sequence[ShownEntry]) -> Json:
    year, number = map(int, month.split("-"))
    minutes: dict[date, int] = defaultdict(int)
    for entry in entries:
        minutes[entry.date] += entry.minutes
    drawing, height = f"month-{month}.svg", month_height_mm(year, number)
    of.drawings[drawing] = draw_month(year, number, {day.day: clock(told) for day, told in minutes.items()})
    return {
        "month": say_month(month),
        "days": say_count(len(minutes), "day"),
        "hours": clock(sum(minutes.values())),
        "drawing": drawing,
        "short": max(0.0, height - _MONTH_ROW_MM * (len(entries) + 0.5)),
        "beside": ceil(height / _MONTH_ROW_MM),
        "alt": f"{say_month(month)}, worked on the {', '.join(str(day.day) for day in minutes)}",
        "rows": [
            {
                "day": f"{say_weekday(entry.date)[:2]} {entry.date.day}",
                "title": entry.title,
                "words": " · ".join(filter(None, (entry.assembly.title, of.say_marks(entry)))),
                "hours": clock(entry.minutes) if entry.time else "–",
                "label": of.labels[entry.src_uri],
            }
            for entry in entries
        ],
    }


# ---------------------------------------------------------------- inspections, measurements, tasks, papers


def _written_up(of: Shared, told: ShownWriteUp, kind: Kind, *cells: tuple[str, ...]) -> Json:
    """What inspections and measurements both say; `cells` follow the date and what was looked at."""
    return {
        "label": of.labels[told.src_uri],
        **named(told, "title", "private"),
        "block": block(
            ("Date", say_date(told.date), say_weekday(told.date)), ("Looked at", of.say_looked_at(told)), *cells
        ),
        "seal": of.say_sealed(kind, told.id),
        "body": of.body(told.body, told.title, told.photos, told.src_uri),
        "rest": of.rest(told),
    }


def _inspection(of: Shared, inspection: ShownInspection) -> Json:
    return {
        **_written_up(
            of,
            inspection,
            Kind.INSPECTION,
            ("Stage", inspection.stage),
            ("By", ", ".join(inspection.people)),
            ("Outcome", inspection.outcome.value),
        ),
        "findings": [_finding(of, found) for found in inspection.findings],
    }


def _measurement(of: Shared, number: int, told: ShownMeasurement) -> Json:
    drawing = draw_limits(told.weighing, palette=INK, face="Barlow") if told.weighing else ""
    name = f"limits-{number}.svg" if drawing else ""
    if drawing:
        of.drawings[name] = drawing
    return {
        **_written_up(
            of,
            told,
            Kind.MEASUREMENT,
            ("Kind", told.kind, told.instrument),
            ("Measured by", ", ".join(told.people)),
            ("Checked by", ", ".join(told.checked_by)),
        ),
        "figures": _trade_table(told.table)["rows"],
        "tables": [
            {
                **named(table, "caption", "note"),
                "columns": table.columns,
                "rows": [*table.rows, *([table.sums] * bool(table.sums))],
            }
            for table in (weighing_tables(told.weighing) if told.weighing else ())
        ],
        "drawing": name,
        "caution": BALANCE_CAUTION if told.weighing else MEASURED_CAUTION,
    }


def _finding(of: Shared, found: InspectionFinding) -> Json:
    closing = of.entries.get(found.closed_by or "")
    return {
        "number": found.id,
        **named(found, "text", "open"),
        "state": f"put right on {say_date(found.closed_on)}" if found.closed_on else "open",
        "signed": say_signed(found.signed_by, found.checked_by, _("signed by {names}")),
        **(of.place(closing, mark(closing)) if closing else {"label": "", "where": ""}),
    }


def _tasks(of: Shared) -> Json:
    tasks = of.view.tasks
    if not tasks:
        return {"sections": [], "words": "No list of tasks has been entered." if of.view.everything else _LEFT_OUT}
    said = (SHOWN_RULE, *say_tally(add_up(behind.line for behind in tasks)))
    return {"sections": [_pack_part(of, part) for part in task_sections(of.view)], "words": " ".join(said)}


ATTACHED_BYTES = 50_000_000
"""Papers go into the document up to this much together, the smallest first; the others lie beside it."""


def _attached(records: Sequence[Record], papers: Mapping[str, KeptPaper]) -> list[Record]:
    """The papers that go into the document, in the order of records.csv."""
    there = sorted((one for one in records if one.file in papers), key=lambda one: papers[one.file].bytes)
    sums = accumulate(papers[one.file].bytes for one in there)
    fitting = {one.file for one, whole in zip(there, sums, strict=True) if whole <= ATTACHED_BYTES}
    return [one for one in records if one.file in fitting]


def _media_type(record: Record) -> str:
    return guess_type(record.file)[0] or "application/octet-stream"


def _papers(of: Shared, papers: Mapping[str, KeptPaper], attached: Sequence[Record]) -> Json:
    view = of.view
    return {
        "records": [
            {
                "date": str(kept.date or ""),
                **named(kept, "kind", "title", "file", "note"),
                "digest": papers[kept.file].sha256 if kept.file in papers else "",
                "where": "attached to this document" if kept in attached else "in data/source/content/records",
            }
            for kept in view.records
        ],
        "supplies": [_pack_part(of, part) for part in (batches(view), bulletins(view), calibrated_tools(view))],
    }


# ---------------------------------------------------------------- entries and pages


def _entries(of: Shared) -> Iterator[Json]:
    month = ""
    for entry in of.view.entries:
        this = say_month(month_of(entry.date))
        yield {"month": this, "opens": this != month, **_entry(of, entry)}
        month = this


def _entry(of: Shared, entry: ShownEntry) -> Json:
    return {
        "label": of.labels[entry.src_uri],
        "mark": mark(entry),
        **named(entry, "title", "private"),
        "head": f"{mark(entry)} · {say_date(entry.date)} · {entry.assembly.title}",
        "block": {
            "day": str(entry.day),
            "date": say_date(entry.date),
            "weekday": say_weekday(entry.date),
            "assembly": entry.assembly.title,
            "steps": of.say_marks(entry) or "—",
            "hours": clock(entry.minutes) if entry.time else "—",
            "to_date": clock(entry.minutes_to_date),
            "by": ", ".join(entry.people) or "—",
        },
        "drawing": of.drawing(entry.states, entry.assembly.id),
        "facts": [[label, value] for label, value in _facts(of, entry) if value],
        "body": of.body(entry.body, entry.title, entry.photos, entry.src_uri),
        "tables": [_trade_table(table) for table in entry.tables],
        "gaps": [
            {
                **named(gap.problem, "word", "message"),
                "answer": gap.answer,
                "state": "answered" if gap.answered_in else "open",
            }
            for gap in of.gaps_at[entry.src_uri]
        ],
        "rest": of.rest(entry),
    }


def _facts(of: Shared, entry: ShownEntry) -> Iterator[tuple[str, str]]:
    yield "Place", entry.place
    yield "Time", ", ".join(f"{name} {say_minutes(minutes)}" for name, minutes in entry.time)
    if entry.time:
        counted = "" if entry.assembly.counts else " (apart from the hours of the build)"
        yield "This assembly", f"{say_minutes(entry.assembly_minutes_to_date)} to date{counted}"
    yield "Tools", ", ".join(entry.tools)
    yield "Methods", ", ".join(entry.methods)
    yield "Materials", ", ".join(f"{one.name}, batch {one.batch}" if one.batch else one.name for one in entry.materials)
    yield "Films", ", ".join(clip.name for clip in entry.clips)
    yield "Videos", ", ".join(entry.videos)
    yield "Source", entry.src_uri
    yield "Seal", of.say_sealed(Kind.ENTRY, entry.id)


def _trade_table(table: TradeTable) -> Json:
    return {
        **named(table, "title", "lead"),
        "rows": [
            {
                **named(figure, "what", "recorded", "called_for", "table", "remark", "source"),
                "standing": figure.standing.value,
                "found": figure.standing.found,
            }
            for figure in table.figures
            # What the tables say of things nobody recorded is help for the bench, not record.
            if figure.recorded not in ("", NOT_GIVEN)
        ],
    }


def _page(of: Shared, page: FreePage) -> Json:
    body = of.body(page.body, page.title, (), page.src_uri)
    return {"label": of.labels[page.src_uri], "title": page.title, "body": body}


# ---------------------------------------------------------------- indexes


def _step_index(of: Shared) -> Iterator[Json]:
    for assembly in of.view.assemblies.values():
        traced = [one for one in of.trace.steps.values() if one.step.assembly == assembly.id]
        if traced:
            yield {"title": assembly.title, "rows": [_indexed_step(of, one) for one in traced]}


def _indexed_step(of: Shared, traced: StepTrace) -> Json:
    step = traced.step
    # Inspections of its whole assembly would fill every row.
    looks = [("insp.", one) for one in traced.inspections] + [("meas.", one) for one in traced.measurements]
    return {
        "step": step.id,
        "title": step.title,
        "closes": step.closed_part,
        "state": traced.progress.word,
        "done": str(traced.progress.done_on or ""),
        "entries": [of.place(of.entries[entry]) for entry in traced.entries],
        "photos": str(len(traced.photos) or "–"),
        "inspections": [of.place(told, where) for where, told in looks if step in told.steps],
    }
