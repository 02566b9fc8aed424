"""Inspections: a look by somebody else, what they found, and how it was put right."""

from __future__ import annotations

from dataclasses import dataclass

from journal.base.model import Outcome
from journal.view.page_addresses import INSPECTIONS
from journal.site.site_context import NOTHING, Desk, shorten
from journal.view.shown_pictures import PictureBox
from journal.view.page_parts import Cell, Drawing, Link, Mark, PageRecord, Panel, StepLine
from journal.view.view import Look
from journal.base.formatting import say_count, say_date, say_weekday

OUTCOME_KINDS = {
    Outcome.PASSED: "passed",
    Outcome.PASSED_WITH_FINDINGS: "passed-with-findings",
    Outcome.NOT_PASSED: "not-passed",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class LookCard:
    """An inspection as other pages show it."""

    title: str
    address: str
    date: str
    iso: str
    stage: str
    at: str
    inspector: str
    outcome: Mark
    findings: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingLine:
    """One thing an inspection found."""

    id: str
    text: str
    mark: Mark
    closed: str
    closed_by: Link | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LookPage:
    """What the template `inspection.html` places."""

    title: str
    block: tuple[Cell, ...]
    drawing: Drawing
    steps: tuple[StepLine, ...]
    findings: tuple[FindingLine, ...]
    findings_heading: str
    gallery: tuple[PictureBox, ...]
    panels: tuple[Panel, ...]
    private: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LooksPage:
    """What the template `inspections.html` places."""

    title: str
    intro: str
    looks: tuple[LookCard, ...]


def look_card(desk: Desk, look: Look) -> LookCard:
    """The card of `look`."""
    inspection = look.inspection
    still_open = sum(found.open for found in inspection.findings)
    findings = say_count(len(inspection.findings), "finding") if inspection.findings else "no findings"
    if inspection.findings:
        findings += f", {still_open} open" if still_open else ", all put right"
    return LookCard(
        title=inspection.title,
        address=desk.atlas.look_address[inspection.id],
        date=say_date(inspection.date),
        iso=inspection.date.isoformat(),
        stage=inspection.stage,
        at=look.assembly.title if look.assembly else f"steps {desk.say_steps(look.steps)}",
        inspector=look.inspector,
        outcome=Mark(kind=OUTCOME_KINDS[inspection.outcome], word=inspection.outcome.value),
        findings=findings,
    )


def looks_page(desk: Desk) -> PageRecord:
    """All inspections, newest first."""
    looks = sorted(desk.view.looks, key=lambda look: look.inspection.date, reverse=True)
    return PageRecord(
        address=INSPECTIONS,
        template="inspections.html",
        title="Inspections",
        description=f"{say_count(len(looks), 'inspection')} of {desk.view.aircraft.name}, what was found and how "
        "it was put right.",
        html="",
        record=LooksPage(
            title="Inspections",
            intro="A look by somebody else, what they found, and the sheet that put it right.",
            looks=tuple(look_card(desk, look) for look in looks),
        ),
        section=INSPECTIONS,
        updated=looks[0].inspection.date.isoformat() if looks else "",
    )


def look_page(desk: Desk, look: Look) -> PageRecord:
    """The page of one inspection."""
    inspection = look.inspection
    address = desk.atlas.look_address[inspection.id]
    card = look_card(desk, look)
    boxes = desk.look_boxes(look)
    prose = desk.render_body(
        look.body,
        src_uri=inspection.src_uri,
        title=inspection.title,
        linker=desk.linker(address),
        boxes={photo.name: box for photo, box in zip(look.photos, boxes, strict=True)},
    )
    assembly = look.assembly.id if look.assembly else (look.steps[0].assembly if look.steps else None)
    on_that_day = [day for day in desk.view.states_on if day <= inspection.date]
    states = desk.view.states_on[max(on_that_day)] if on_that_day else {}
    still_open = sum(found.open for found in inspection.findings)
    first = next((box for box in boxes if box.usable), None)
    return PageRecord(
        address=address,
        template="inspection.html",
        title=inspection.title,
        description=shorten(f"{card.date}: {card.at}, {card.outcome.word}. {prose.lead}".strip(), 180),
        html=prose.html,
        record=LookPage(
            title=inspection.title,
            block=(
                Cell(label="Date", value=f"{say_weekday(inspection.date)[:3]} {card.date}", strong=True, span=2),
                Cell(label="Stage", value=inspection.stage or NOTHING),
                Cell(
                    label="Looked at",
                    value="" if look.assembly else f"steps {desk.say_steps(look.steps)}",
                    links=(desk.assembly_link(look.assembly.id),) if look.assembly else (),
                    span=2,
                ),
                Cell(
                    label="Findings",
                    value=f"{len(inspection.findings)}, {still_open} open" if inspection.findings else "none",
                ),
                Cell(label="Outcome", mark=card.outcome, strong=True, span=3),
                Cell(label="By", value=look.inspector, span=3),
            ),
            drawing=desk.drawing(
                states,
                picked=assembly,
                address=address,
                caption=f"The aircraft at the end of {card.date}, what was looked at picked out.",
            ),
            steps=tuple(desk.step_line(step) for step in look.steps),
            findings=tuple(
                FindingLine(
                    id=found.id,
                    text=found.text,
                    mark=Mark(kind="open", word="open") if found.open else Mark(kind="done", word="put right"),
                    closed=say_date(found.closed_on) if found.closed_on else "",
                    closed_by=Link(
                        text=desk.atlas.sheets[found.closed_by].title,
                        address=desk.atlas.entry_address[found.closed_by],
                    )
                    if found.closed_by in desk.atlas.sheets and found.closed_by
                    else None,
                )
                for found in inspection.findings
            ),
            findings_heading="What was found" if inspection.findings else "",
            gallery=tuple(box for photo, box in zip(look.photos, boxes, strict=True) if photo.name not in prose.placed),
            panels=desk.extras.look_panels.get(inspection.id, ()),
            private=inspection.private,
        ),
        section=INSPECTIONS,
        picture=first.middle.address if first else "",
        picture_alt=first.alt if first else "",
        updated=inspection.date.isoformat(),
        kind="article",
    )
