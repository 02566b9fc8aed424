"""The binder: the whole record as one printable document, `record.pdf`. Pure.

`plan_binder` says what stands on every sheet, as plain values; `journal.record.setting` has them set.
Everything from the builder's files reaches the template (binder.typ) as text in a JSON file and is
never read as markup there.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date

from journal.base.formatting import (
    month_of,
    say_count,
    say_date,
    say_minutes,
    say_month,
    say_signed,
    say_steps,
    say_weekday,
)
from journal.base.model import FreePage, InspectionFinding
from journal.media.photos import Picture
from journal.record.album import LIMITS, TO_A_SHEET, AlbumPicture, Reason, choose_album
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
    iso,
    mark,
    named,
    say_findings,
    say_span,
)
from journal.record.chain import Chain, Kind
from journal.record.readme import RECORD_CAUTION
from journal.record.setting import Binder, Json, render_binder
from journal.record.trace import StepTrace, role_of
from journal.trade.figures import CAUTION, NOT_GIVEN, TALLY_CAUTION, TradeTable
from journal.trade.measured import MEASURED_CAUTION
from journal.trade.tally import SHOWN_RULE, add_up, say_exact, say_percent, say_tenths
from journal.trade.weighing import BALANCE_CAUTION
from journal.view.people import PersonWork
from journal.view.view import (
    RULES,
    Gap,
    ShownEntry,
    ShownInspection,
    ShownMeasurement,
    ShownTask,
    ShownWriteUp,
    View,
)
from journal.view.weighing_parts import draw_limits, weighing_tables

__all__ = ["Binder", "plan_binder", "render_binder"]

_SHEET_MM = (210.0, 297.0)  # ISO 216 A4
_MARGIN_MM = 42.0  # left and right of the text together
_ON_SUMMARY, _WORDS_ON_SUMMARY = 6, 12  # people and inspections, code words: the summary is one sheet
_MONTH_ROW_MM = 7.4  # a row of a month's list where its title fits a line
_LEFT_OUT = "Left out of this copy, which was made without private things."


def plan_binder(
    view: View,
    pictures: Mapping[str, Picture],
    *,
    made_on: date,
    chain: Chain | None = None,
) -> Binder:
    """What stands on every sheet.

    `pictures` maps the `src_uri` of a photo to its picture; `made_on` is printed at the foot of every
    sheet; `chain` is the chain of seals.
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
    front: Json = {
        "drawing": of.drawing({name: stands.state for name, stands in view.assembly_progress.items()}, None),
        "summary": _summary(of),
        "hours": _hours(of),
        "gaps": _gaps(of),
        "album": _album(of),
        "calendar": list(_calendar(of)),
        "closings": plan_closings(of),
        "inspections": [_inspection(of, inspection) for inspection in view.inspections],
        "measurements": [_measurement(of, number, told) for number, told in enumerate(view.measurements, 1)],
        "tasks": _tasks(of),
        "papers": _papers(of),
    }
    back: Json = {
        "pages": [_page(of, page) for page in view.pages],
        "index": {
            "steps": list(_step_index(of)),
            "people": [_indexed_person(of, work) for work in of.trace.people.values()],
        },
        "rules": [
            {"title": f"{heading.capitalize()}: {view.rules.country}", "lines": said}
            for heading, said in view.rules.lines.items()
        ],
        "private": any(entry.private for entry in view.entries),
    }
    entries = tuple(_entries(of))
    return Binder(common=common, front=front, entries=entries, back=back, pictures=of.boxes.used, drawings=of.drawings)


# ---------------------------------------------------------------- summary and hours


def _summary(of: Shared) -> Json:
    view, aircraft, people = of.view, of.view.aircraft, of.trace.people
    begun = view.begun or (view.entries[0].date if view.entries else None)
    last = view.entries[-1].date if view.entries else None
    return {
        **named(aircraft, "name", "kind"),
        "block": block(
            ("Registration", aircraft.registration),
            ("Serial number", aircraft.serial),
            ("Begun", say_date(begun) if begun else ""),
            ("Last day worked", say_date(last) if last else ""),
            ("Span", say_span(begun, last)),
            ("Built by", ", ".join(view.builders)),
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
            "words": _gap_words(of)[:_WORDS_ON_SUMMARY],
        },
        "apart": say_minutes(view.minutes_not_counted) if view.minutes_not_counted else "",
        "elapsed": say_minutes(view.elapsed_minutes),
        "seal": _seal_head(of.chain),
    }


def _more(number: int, section: str) -> str:
    """What the summary leaves out to stay one sheet."""
    return f"and {number - _ON_SUMMARY} more under {section}" if number > _ON_SUMMARY else ""


def _gap_words(of: Shared) -> list[Json]:
    """How many gaps of each code word are open and answered, most open first."""
    opened, answered = (Counter(gap.problem.word for gap in gaps) for gaps in (of.evidence.gaps, of.evidence.answered))
    words = sorted(opened | answered, key=lambda word: (-opened[word], -answered[word], word))
    return [{"word": word, "open": opened[word], "answered": answered[word]} for word in words]


def _seal_head(chain: Chain) -> Json:
    if chain.fault:
        return {"digest": "", "words": f"The chain of seals is broken: {chain.fault.message}."}
    if not chain.seals:
        return {"digest": "", "words": "Nothing has been sealed yet: entries carry no proof against later change."}
    sealed = sum(seal.amends is None for seal in chain.seals)
    amended = len(chain.seals) - sealed
    return {
        "digest": chain.head,
        "words": f"Head of the chain of seals, line {len(chain.seals)}, written "
        f"{chain.seals[-1].sealed_at:%Y-%m-%d %H:%M} UTC: {say_count(sealed, 'seal')}, "
        f"{say_count(amended, 'amendment')}. It fixes every sealed entry, inspection and picture; it does not prove "
        "the clock.",
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


# ---------------------------------------------------------------- gaps, album


def _gaps(of: Shared) -> Json:
    def rows(gaps: Iterable[Gap]) -> list[Json]:
        return [{**_gap(gap), **of.place_of_gap(gap)} for gap in gaps]

    return {
        "left_out": "" if of.view.evidence else _LEFT_OUT,
        "open": rows(of.evidence.heaviest),
        "answered": rows(of.evidence.answered),
        "rules": [named(rule, "word", "finds", "why") for rule in RULES],
    }


def _gap(gap: Gap) -> Json:
    return {**named(gap.problem, "word", "message"), "answer": gap.answer}


def _album(of: Shared) -> Json:
    def placed(one: AlbumPicture) -> Json:
        label = of.labels[one.told.src_uri]
        where = mark(one.told) if isinstance(one.told, ShownEntry) else label.partition("-")[0].capitalize()
        assembly = one.told.assembly.title if one.told.assembly else ""
        where = " · ".join(filter(None, (where, assembly)))
        return {**of.boxes.box(one.photo), "reason": one.reason.value, **of.place(one.told, where)}

    chosen = choose_album(of.view, set(of.view.builders), of.boxes.usable)
    return {
        "sheets": [[placed(one) for one in four] for four in groups(chosen, TO_A_SHEET)],
        "rules": f"Chosen by rule, not by hand: up to {LIMITS[Reason.AT_WORK]} of a builder at work, up to "
        f"{LIMITS[Reason.INSIDE]} of the inside of something closed later, up to {LIMITS[Reason.COVER]} that stand for "
        "their entry, then others until there are at least 24 and the last sheet is full; spread over the assemblies "
        "and over time. At most 40.",
    }


# ---------------------------------------------------------------- calendar


def _calendar(of: Shared) -> Iterator[Json]:
    """Every month with work, and one line for a run of months without."""
    months: dict[str, list[ShownEntry]] = defaultdict(list)
    for entry in of.view.entries:
        months[month_of(entry.date)].append(entry)
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
    drawing = f"month-{month}.svg"
    of.drawings[drawing] = draw_month(year, number, {day.day: clock(told) for day, told in minutes.items()})
    return {
        "month": say_month(month),
        "days": say_count(len(minutes), "day"),
        "hours": clock(sum(minutes.values())),
        "drawing": drawing,
        "short": max(0.0, month_height_mm(year, number) - _MONTH_ROW_MM * (len(entries) + 0.5)),
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
        "signed": say_signed(found.signed_by, found.checked_by, "signed"),
        **(of.place(closing, mark(closing)) if closing else {"label": "", "where": ""}),
    }


def _tasks(of: Shared) -> Json:
    tasks = of.view.tasks
    if not tasks:
        words = "No list of tasks has been entered." if of.view.everything else _LEFT_OUT
        return {"rows": [], "tally": {}, "words": words}
    tally = add_up(behind.line for behind in tasks)
    words = f"{SHOWN_RULE} {say_count(tally.tasks, 'task')} apply, {tally.not_applicable} n/a. "
    if tally.builder_share is not None:
        share = say_percent(tally.builder_share)
        words += f"Builder, claimed: {tally.builder} of {tally.tenths} tenths, {share}, by what tasks.csv says. "
        shown = f"{say_tenths(tally.builder_shown)} of {say_tenths(tally.tenths)} tasks"
        words += f"Builder, shown: {shown}, {say_percent(tally.builder_shown / tally.tenths)}. {tally.fabrication_note}"
    credits = {**named(tally, "maker", "paid", "assembly", "fabrication"), "shown": tally.builder_shown}
    return {
        "rows": [_task(of, behind) for behind in tasks],
        "tally": {**{whose: say_tenths(tenths) for whose, tenths in credits.items()}, "words": words},
    }


def _task(of: Shared, behind: ShownTask) -> Json:
    task = behind.task
    shares = (task.maker, task.paid, task.assembly, task.fabrication)
    return {
        **named(task, "section", "task", "name", "applies", "note"),
        "shares": [
            *(str(share or 0) if task.applies else "n/a" for share in shares),
            say_exact(add_up([behind.line]).builder_shown) if task.applies else "n/a",
        ],
        "steps": say_steps(task.steps, tuple(of.view.steps)),
        "entries": [of.place(entry) for entry in behind.entries],
        "photos": str(behind.photos),
        "people": ", ".join(behind.people),
        "paid": ", ".join(behind.paid),
    }


def _papers(of: Shared) -> Json:
    view = of.view
    materials = [trace.material for trace in view.materials]
    return {
        "records": [{"date": iso(kept.date), **named(kept, "kind", "title", "file", "note")} for kept in view.records],
        "materials": [{"expires": iso(one.expires), **named(one, "name", "batch", "record")} for one in materials],
        "bulletins": [
            {
                **named(one, "id", "title", "record", "note"),
                "state": one.state.value,
                "done_in": [of.place(of.entries[entry], mark(of.entries[entry])) for entry in one.done_in],
            }
            for one in view.bulletins
        ],
        "tools": [
            {
                "name": tool.name,
                "checked": iso(tool.checked_on),
                "every": f"{tool.check_every_months} months" if tool.check_every_months else "",
            }
            for tool in view.calibrated_tools
        ],
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
            {**_gap(gap), "state": "answered" if gap.answered_in else "open"} for gap in of.gaps_at[entry.src_uri]
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
    inspections = [inspection for inspection in traced.inspections if step in inspection.steps]
    measurements = [measurement for measurement in traced.measurements if step in measurement.steps]
    return {
        "step": step.id,
        "title": step.title,
        "closes": step.closed_part,
        "state": traced.progress.word,
        "done": iso(traced.progress.done_on),
        "entries": [of.place(of.entries[entry]) for entry in traced.entries],
        "photos": str(len(traced.photos) or "–"),
        "inspections": [
            *(of.place(inspection, "insp.") for inspection in inspections),
            *(of.place(measurement, "meas.") for measurement in measurements),
        ],
    }


def _indexed_person(of: Shared, work: PersonWork) -> Json:
    at_work = {told.id: told for told, _ in work.pictures if isinstance(told, ShownEntry)}
    return {
        "name": work.name,
        "role": role_of(of.view, work.name),
        "hours": clock_or_dash(work.minutes),
        "days": str(len(work.days)),
        "steps": say_steps(work.steps, tuple(of.view.steps)),
        "entries": [of.place(entry) for entry in work.entries],
        "at_work": [of.place(entry) for entry in at_work.values()],
        "inspections": [of.place(of.inspections[name]) for name in work.inspections],
        "measurements": [of.place(of.measurements[name]) for name in work.measurements],
    }
