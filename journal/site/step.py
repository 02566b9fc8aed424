"""The page of a step: how it was done, every entry that names it, its twin on the other side."""

from __future__ import annotations

from dataclasses import replace

from journal.base.formatting import say_count, say_minutes
from journal.base.model import State, Step, StepProgress
from journal.base.words import N_, _
from journal.site.callout_pages import callouts_of_step
from journal.site.entry import written_tables
from journal.site.measurements import write_up_card
from journal.site.site_context import NOTHING, SiteContext, shorten
from journal.view.page_addresses import STEPS
from journal.view.page_parts import Cell, Group, Link, PageRecord, StepLine, Telling, Turn, only_told
from journal.view.view import ShownEntry

QUOTED = 1600
"""Characters of an entry's text quoted on a step's page before the rest is left to the entry."""
ENTRIES_QUOTED = 25
"""Entries quoted in full on one step's page; further ones are listed."""
TWINS_QUOTED = 5
"""Entries of the same step on the other side that are quoted where it is still to come."""
PICTURES = 8


def step_page(site: SiteContext, step: Step) -> PageRecord:
    """How `step` was done: every entry that names it, oldest first."""
    view = site.view
    address = site.addresses.step_address[step.id]
    entries = site.addresses.by_step.get(step.id, ())
    line = site.step_line(step)
    of_assembly = site.addresses.steps_of[step.assembly]
    place = of_assembly.index(step.id)
    before = _turn_to(site, of_assembly[place - 1]) if place else None
    after = _turn_to(site, of_assembly[place + 1]) if place + 1 < len(of_assembly) else None
    tellings = tuple(_telling(site, entry, step) for entry in entries[:ENTRIES_QUOTED])
    tools = (site.tool_link(tool) for entry in entries for tool in entry.tools)
    methods = (site.method_link(method) for entry in entries for method in entry.methods)
    told = say_count(len(entries), "entry", "entries") if entries else _("no entry yet")
    assembly = view.assemblies[step.assembly].title
    mirrored = tuple(view.steps[other] for other in site.addresses.mirrored.get(step.id, ()) if other in view.steps)
    # Where this step is still to come, how its twin went is the answer to the question.
    done = view.step_progress.get(step.id, StepProgress()).state is State.DONE
    ahead = tuple(other for other in mirrored if site.addresses.by_step.get(other.id) and not done)
    write_ups = site.addresses.write_ups_by_step.get(step.id, ())
    cover = next((picture for telling in tellings for picture in telling.pictures), None)
    cards = (site.extras.cards.get(site.addresses.entry_address[entry.id]) for entry in reversed(entries))
    card = next(filter(None, cards), "")
    return site.page(
        address,
        "step.html",
        _("Step {id}: {title}", id=step.id, title=step.title),
        shorten(
            _(
                "How step {id} of {assembly}, {title}, was done: {state}, {told}.",
                id=step.id,
                assembly=assembly,
                title=step.title,
                state=line.mark.word,
                told=told,
            ),
            200,
        ),
        heading=step.title,
        label=_("How a step was done"),
        block=_block(site, step, line, entries),
        drawing=site.drawing(
            address, _("{assembly}, to which this step belongs, picked out.", assembly=assembly), step.assembly
        ),
        close_up=site.close_up(address, step.assembly, step) if step.shapes else None,
        remark=_(step.closed_part),
        groups=(
            callouts_of_step(site, step.id),
            Group(title=_("How it was done here, oldest first"), items=tellings),
            Group(items=site.cards(entries[ENTRIES_QUOTED:])),
            Group(items=tuple(write_up_card(site, told) for told in write_ups)),
        ),
        record=tuple(_ahead(site, other) for other in ahead),
        asides=only_told(
            Cell(label=_("Tools"), links=tuple(dict.fromkeys(tools))),
            Cell(label=_("Methods"), links=tuple(dict.fromkeys(methods))),
        ),
        after=tuple(
            Group(
                title=_("The same on {title}", title=view.assemblies[other.assembly].title),
                steps=(site.step_line(other),),
                items=site.cards(site.addresses.by_step.get(other.id, ())),
            )
            for other in mirrored
            if other not in ahead
        ),
        turns=(
            Turn(
                order=Link(text=_("In the manual")),
                first=_("The first of this part"),
                last=_("The last of this part"),
                before=before,
                after=after,
            ),
        ),
        section=STEPS,
        entries=entries,
        cover=cover,
        # Where no picture shows the step, the card of an entry on it stands in.
        **({"picture": card} if card and cover is None else {}),
        kind="article",
    )


def _ahead(site: SiteContext, twin: Step) -> Group:
    """How the same was done on the other side, where that came first; of many entries the last."""
    entries = site.addresses.by_step[twin.id]
    line, left = site.step_line(twin), len(entries) - TWINS_QUOTED
    words = N_("The same on {title}: step {step}")
    if line.when:
        words = N_("The same on {title}: step {step}, done on {day}")
    title = site.view.assemblies[twin.assembly].title
    return Group(
        title=_(words, title=title, step=twin.id, day=line.when),
        address=line.address,
        mark=None if line.when else line.mark,
        items=tuple(_telling(site, entry, twin) for entry in entries[-TWINS_QUOTED:]),
        note=_("and {entries}", entries=say_count(left, "other entry", "other entries")) if left > 0 else "",
    )


def _turn_to(site: SiteContext, step: str) -> Link:
    return Link(text=site.view.steps[step].title, address=site.addresses.step_address[step], note=step)


def _block(site: SiteContext, step: Step, line: StepLine, entries: tuple[ShownEntry, ...]) -> tuple[Cell, ...]:
    progress = site.view.step_progress.get(step.id, StepProgress())
    minutes = sum(entry.minutes for entry in entries)
    times = progress.times_done_over
    never = _("never") if progress.state is State.DONE else NOTHING
    return (
        Cell(label=_("Step"), value=step.id, strong=True),
        Cell(label=_("Assembly"), links=(site.assembly_link(step.assembly),)),
        *([Cell(label=_("Number before"), value=", ".join(step.earlier))] if step.earlier else []),
        Cell(label=_("Manual page"), value=step.page or NOTHING),
        Cell(label=_("State"), mark=line.mark, strong=True),
        Cell(
            label=_("Done on"),
            value="" if line.when_address else (line.when or NOTHING),
            links=(Link(text=line.when, address=line.when_address),) if line.when and line.when_address else (),
        ),
        Cell(label=_("Done over"), value=say_count(times, "time") if times else never),
        Cell(
            label=_("Hours of its entries"),
            value=_(
                "{time} on {entries}", time=say_minutes(minutes), entries=say_count(len(entries), "entry", "entries")
            )
            if entries
            else NOTHING,
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
        html="\n".join(html),
        cut=len(html) < len(prose.passages),
        pictures=tuple(fitting[:PICTURES]),
        more_pictures=_("{pictures} in the entry", pictures=say_count(len(fitting) - PICTURES, "more picture"))
        if len(fitting) > PICTURES
        else "",
        tables=tuple(replace(table, ids=()) for table in written_tables(entry)),
    )
