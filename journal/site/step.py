"""The page of a step: how it was done, every entry that names it, its twin on the other side."""

from __future__ import annotations

from dataclasses import dataclass

from journal.base.formatting import say_count, say_minutes
from journal.base.model import State, Step, StepProgress
from journal.site.entry import written_tables
from journal.site.figures import markup
from journal.site.inspections import InspectionCard, inspection_card
from journal.site.site_context import NOTHING, SiteContext, shorten
from journal.view.page_addresses import STEPS
from journal.view.page_parts import Card, Cell, Drawing, Link, Mark, PageRecord, StepLine, Table
from journal.view.shown_pictures import PictureBox
from journal.view.view import ShownEntry

QUOTED = 1600
"""Characters of an entry's text quoted on a step's page before the rest is left to the entry."""
ENTRIES_QUOTED = 25
"""Entries quoted in full on one step's page; further ones are listed."""
PICTURES = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Telling:
    """One entry as a step's page quotes it: what it did to the step, its text, its pictures."""

    card: Card
    mark: Mark
    html: str
    cut: bool
    pictures: tuple[PictureBox, ...]
    more_pictures: str
    tables: tuple[Table, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MirroredStep:
    """The same step on the other side."""

    line: StepLine
    assembly: str
    cards: tuple[Card, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StepPage:
    """What the template `step.html` places."""

    id: str
    title: str
    block: tuple[Cell, ...]
    drawing: Drawing
    closes: str
    tellings: tuple[Telling, ...]
    listed: tuple[Card, ...]
    tools: tuple[Link, ...]
    methods: tuple[Link, ...]
    mirrored: tuple[MirroredStep, ...]
    inspections: tuple[InspectionCard, ...]
    before: StepLine | None
    after: StepLine | None


def step_page(site: SiteContext, step: Step) -> PageRecord:
    """How `step` was done: every entry that names it, oldest first."""
    view = site.view
    address = site.addresses.step_address[step.id]
    entries = site.addresses.by_step.get(step.id, ())
    line = site.step_line(step)
    of_assembly = site.addresses.steps_of[step.assembly]
    place = of_assembly.index(step.id)
    quoted = entries[:ENTRIES_QUOTED]
    tellings = tuple(_telling(site, entry, step) for entry in quoted)
    cover = next((picture for telling in tellings for picture in telling.pictures), None)
    tools = dict.fromkeys(site.tool_link(tool) for entry in entries for tool in entry.tools)
    methods = dict.fromkeys(site.method_link(method) for entry in entries for method in entry.methods)
    states = site.states_now()
    return site.page(
        address,
        "step.html",
        f"Step {step.id}: {step.title}",
        shorten(
            f"How step {step.id} of {view.assemblies[step.assembly].title}, {step.title}, was done: "
            f"{line.mark.word}, {line.entries or 'no entry yet'}.",
            200,
        ),
        StepPage(
            id=step.id,
            title=step.title,
            block=_block(site, step, line, entries),
            drawing=site.drawing(
                states,
                picked=step.assembly,
                address=address,
                caption=f"{view.assemblies[step.assembly].title}, to which this step belongs, picked out.",
            ),
            closes=step.closed_part,
            tellings=tellings,
            listed=site.cards(entries[ENTRIES_QUOTED:]),
            tools=tuple(tools),
            methods=tuple(methods),
            mirrored=tuple(
                MirroredStep(
                    line=site.step_line(view.steps[other]),
                    assembly=view.assemblies[view.steps[other].assembly].title,
                    cards=site.cards(site.addresses.by_step.get(other, ())),
                )
                for other in site.addresses.mirrored.get(step.id, ())
                if other in view.steps
            ),
            inspections=tuple(
                inspection_card(site, inspection) for inspection in site.addresses.inspections_by_step.get(step.id, ())
            ),
            before=site.step_line(view.steps[of_assembly[place - 1]]) if place else None,
            after=site.step_line(view.steps[of_assembly[place + 1]]) if place + 1 < len(of_assembly) else None,
        ),
        section=STEPS,
        entries=entries,
        cover=cover,
        kind="article",
    )


def _block(site: SiteContext, step: Step, line: StepLine, entries: tuple[ShownEntry, ...]) -> tuple[Cell, ...]:
    progress = site.view.step_progress.get(step.id, StepProgress())
    done = progress.state is State.DONE
    minutes = sum(entry.minutes for entry in entries)
    return (
        Cell(label="Step", value=step.id, strong=True),
        Cell(label="Assembly", links=(site.assembly_link(step.assembly),), span=2),
        Cell(label="Manual page", value=step.page or NOTHING),
        Cell(label="State", mark=line.mark, strong=True, span=2),
        Cell(
            label="Done on",
            value="" if line.when_address else (line.when or NOTHING),
            links=(Link(text=line.when, address=line.when_address),) if line.when and line.when_address else (),
            span=2,
        ),
        Cell(label="Done over", value=line.times_over or ("never" if done else NOTHING)),
        Cell(
            label="Hours of its entries",
            value=f"{say_minutes(minutes)} on {say_count(len(entries), 'entry', 'entries')}" if entries else NOTHING,
            span=3,
        ),
    )


def _telling(site: SiteContext, entry: ShownEntry, step: Step) -> Telling:
    prose = site.prose(entry)
    html: list[str] = []
    length = 0
    for passage, characters in prose.passages:
        if length and length + characters > QUOTED:
            break
        html.append(passage)
        length += characters
    boxes = site.usable_boxes(entry)
    # Pictures that name a step belong to it alone; the others may show any step of the entry.
    fitting = [box for box in boxes if box.step == step.id] or [box for box in boxes if not box.step]
    mark = next(line.mark for line in site.entry_steps(entry) if line.id == step.id)
    return Telling(
        card=site.card(entry),
        mark=mark,
        html=markup("\n".join(html)),
        cut=len(html) < len(prose.passages),
        pictures=tuple(fitting[:PICTURES]),
        more_pictures=f"{say_count(len(fitting) - PICTURES, 'more picture')} in the entry"
        if len(fitting) > PICTURES
        else "",
        tables=written_tables(entry),
    )
