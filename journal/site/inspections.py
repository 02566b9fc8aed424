"""Inspections: a look by somebody else, what they found, and how it was put right."""

from __future__ import annotations

from dataclasses import dataclass

from journal.base.formatting import say_count, say_date, say_weekday
from journal.base.model import InspectionFinding, Outcome
from journal.site.section_pages import rule_groups
from journal.site.site_context import NOTHING, SiteContext, shorten
from journal.view.page_addresses import INSPECTIONS
from journal.view.page_parts import Cell, Group, InspectionCard, Link, Mark, PageRecord
from journal.view.view import ShownInspection

OUTCOME_KINDS = {
    Outcome.PASSED: "passed",
    Outcome.PASSED_WITH_FINDINGS: "passed-with-findings",
    Outcome.NOT_PASSED: "not-passed",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingLine:
    """One thing an inspection found."""

    id: str
    text: str
    mark: Mark
    closed: str
    closed_by: Link | None


def inspection_card(site: SiteContext, inspection: ShownInspection) -> InspectionCard:
    """The card of `inspection`."""
    still_open = sum(found.open for found in inspection.findings)
    findings = say_count(len(inspection.findings), "finding") if inspection.findings else "no findings"
    if inspection.findings:
        findings += f", {still_open} open" if still_open else ", all put right"
    return InspectionCard(
        title=inspection.title,
        address=site.addresses.inspection_address[inspection.id],
        date=say_date(inspection.date),
        iso=inspection.date.isoformat(),
        stage=inspection.stage,
        at=inspection.assembly.title if inspection.assembly else f"steps {site.say_steps(inspection.steps)}",
        inspector=inspection.inspector,
        outcome=Mark(kind=OUTCOME_KINDS[inspection.outcome], word=inspection.outcome.value),
        findings=findings,
    )


def inspections_page(site: SiteContext) -> PageRecord:
    """All inspections, newest first."""
    inspections = sorted(site.view.inspections, key=lambda inspection: inspection.date, reverse=True)
    cards = tuple(inspection_card(site, inspection) for inspection in inspections)
    return site.page(
        INSPECTIONS,
        "inspections.html",
        "Inspections",
        f"{say_count(len(inspections), 'inspection')} of {site.view.aircraft.name}, what was found and how "
        "it was put right.",
        intro="A look by somebody else, what they found, and the entry that put it right.",
        groups=(
            Group(items=cards),
            *rule_groups(site.view.rules, "inspections", "signatures", "papers"),
        ),
        updated=inspections[0].date.isoformat() if inspections else "",
    )


def inspection_page(site: SiteContext, inspection: ShownInspection) -> PageRecord:
    """The page of one inspection."""
    address = site.addresses.inspection_address[inspection.id]
    card = inspection_card(site, inspection)
    prose = site.prose(inspection)
    assembly = (
        inspection.assembly.id if inspection.assembly else (inspection.steps[0].assembly if inspection.steps else None)
    )
    on_that_day = [day for day in site.view.states_on if day <= inspection.date]
    states = site.view.states_on[max(on_that_day)] if on_that_day else {}
    found = inspection.findings
    still_open = sum(one.open for one in found)
    return site.page(
        address,
        "inspection.html",
        inspection.title,
        shorten(f"{card.date}: {card.at}, {card.outcome.word}. {prose.lead}".strip(), 180),
        label="Inspection",
        badge="private, in the archive alone" if inspection.private else "",
        block=(
            Cell(label="Date", value=f"{say_weekday(inspection.date)[:3]} {card.date}", strong=True, span=2),
            Cell(label="Stage", value=inspection.stage or NOTHING),
            Cell(
                label="Looked at",
                value="" if inspection.assembly else card.at,
                links=(site.assembly_link(inspection.assembly.id),) if inspection.assembly else (),
                span=2,
            ),
            Cell(
                label="Findings",
                value=f"{len(inspection.findings)}, {still_open} open" if inspection.findings else "none",
            ),
            Cell(label="Outcome", mark=card.outcome, strong=True, span=3),
            Cell(label="By", value=inspection.inspector, span=3),
        ),
        drawing=site.drawing(
            address, f"The aircraft at the end of {card.date}, what was looked at picked out.", assembly, states
        ),
        steps=Group(
            title="Steps looked at", anchor="steps", steps=tuple(site.step_line(step) for step in inspection.steps)
        ),
        groups=(
            Group(title="What was found", anchor="found", items=tuple(_finding(site, one) for one in found)),
            Group(title="Pictures", anchor="pictures", pictures=site.not_placed(inspection, prose)),
            *site.extras.panels.get(address, ()),
        ),
        section=INSPECTIONS,
        cover=next(iter(site.usable_boxes(inspection)), None),
        html=prose.html,
        updated=inspection.date.isoformat(),
        kind="article",
    )


def _finding(site: SiteContext, found: InspectionFinding) -> FindingLine:
    by = site.addresses.entries.get(found.closed_by or "")
    return FindingLine(
        id=found.id,
        text=found.text,
        mark=Mark(kind="open", word="open") if found.open else Mark(kind="done", word="put right"),
        closed=say_date(found.closed_on) if found.closed_on else "",
        closed_by=site.entry_link(by) if by else None,
    )
