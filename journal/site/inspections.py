"""Inspections: a look by somebody else, what they found, and how it was put right."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from journal.base.formatting import say_count, say_date, say_signed, say_weekday
from journal.base.model import InspectionFinding
from journal.base.words import N_, _
from journal.site.section_pages import rule_groups
from journal.site.site_context import NOTHING, SiteContext, shorten
from journal.view.page_addresses import INSPECTIONS
from journal.view.page_parts import Cell, Group, Link, Mark, PageRecord, WriteUpCard
from journal.view.view import ShownInspection, ShownWriteUp

WHOLE = N_("the whole aircraft")


_OUTCOMES = N_("passed"), N_("passed with findings"), N_("not passed")
"""What an inspection may come to, as its front matter says."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingLine:
    """One thing an inspection found."""

    id: str
    text: str
    mark: Mark
    closed: str
    signed: str
    closed_by: Link | None


def inspection_card(site: SiteContext, inspection: ShownInspection) -> WriteUpCard:
    """The card of `inspection`."""
    still_open = sum(found.open for found in inspection.findings)
    findings = say_count(len(inspection.findings), "finding") if inspection.findings else _("no findings")
    if inspection.findings:
        words = N_("{findings}, {number} open") if still_open else N_("{findings}, all put right")
        findings = _(words, findings=findings, number=still_open)
    outcome = inspection.outcome.value
    mark = Mark(kind=outcome.replace(" ", "-"), word=_(outcome))
    return card_of(site, inspection, _("Inspection"), mark, inspection.stage, ", ".join(inspection.people), findings)


def card_of(site: SiteContext, told: ShownWriteUp, label: str, mark: Mark, *facts: str) -> WriteUpCard:
    """The card of what is written up beside the entries; of its `facts` those that say something."""
    at = told.assembly.title if told.assembly else _("steps {steps}", steps=site.say_steps(told.steps))
    return WriteUpCard(
        label=label,
        title=told.title,
        address=site.addresses.linkable[told.src_uri],
        date=say_date(told.date),
        iso=told.date.isoformat(),
        mark=mark,
        at=at if told.assembly or told.steps else WHOLE,
        facts=tuple(filter(None, facts)),
    )


def inspections_page(site: SiteContext) -> PageRecord:
    """All inspections, newest first."""
    number = say_count(len(site.view.inspections), "inspection")
    return write_ups_page(
        site,
        INSPECTIONS,
        _("Inspections"),
        _("{number} of {name}, what was found and how it was put right.", number=number, name=site.view.aircraft.name),
        _("A look by somebody else, what they found, and the entry that put it right."),
        [inspection_card(site, inspection) for inspection in site.view.inspections],
        *rule_groups(site.view.rules, "inspections", "signatures", "papers"),
    )


def write_ups_page(
    site: SiteContext,
    address: str,
    title: str,
    description: str,
    intro: str,
    cards: Iterable[WriteUpCard],
    *groups: Group,
) -> PageRecord:
    """The list of what is written up beside the entries, newest first, before these `groups`."""
    newest_first = tuple(sorted(cards, key=lambda card: card.iso, reverse=True))
    return site.page(
        address,
        "inspections.html",
        title,
        description,
        intro=intro,
        groups=(Group(items=newest_first), *groups),
        updated=newest_first[0].iso if newest_first else "",
    )


def inspection_page(site: SiteContext, inspection: ShownInspection) -> PageRecord:
    """The page of one inspection."""
    card = inspection_card(site, inspection)
    found = inspection.findings
    still_open = sum(one.open for one in found)
    return write_up_page(
        site,
        inspection,
        card,
        INSPECTIONS,
        block=(
            Cell(label=_("Stage"), value=inspection.stage or NOTHING),
            looked_at(site, inspection, card),
            Cell(
                label=_("Findings"),
                value=_("{number}, {still_open} open", number=len(found), still_open=still_open)
                if found
                else _("none"),
            ),
            Cell(label=_("Outcome"), mark=card.mark, strong=True),
            Cell(label=_("By"), value=", ".join(inspection.people)),
        ),
        groups=(Group(title=_("What was found"), anchor="found", items=tuple(_finding(site, one) for one in found)),),
        remark=_(
            "An inspection is the inspector’s word on the day it was made. The authority’s rules and "
            "a licensed inspector decide; this journal records."
        ),
    )


def looked_at(site: SiteContext, told: ShownWriteUp, card: WriteUpCard) -> Cell:
    """What was looked at or measured."""
    links = (site.assembly_link(told.assembly.id),) if told.assembly else ()
    return Cell(label=_("Looked at"), value="" if told.assembly else card.at, links=links)


def write_up_page(
    site: SiteContext,
    told: ShownWriteUp,
    card: WriteUpCard,
    section: str,
    *,
    block: tuple[Cell, ...],
    groups: tuple[Group, ...],
    remark: str,
) -> PageRecord:
    """The page of what is written up beside the entries; `block` follows its date, its pictures follow `groups`."""
    address, prose = card.address, site.prose(told)
    assembly = told.assembly.id if told.assembly else next((step.assembly for step in told.steps), None)
    on_that_day = [day for day in site.view.states_on if day <= told.date]
    states = site.view.states_on[max(on_that_day)] if on_that_day else {}
    caption = N_("The aircraft at the end of {date}, what was looked at picked out.")
    caption = _(caption if assembly else N_("The aircraft at the end of {date}."), date=card.date)
    return site.page(
        address,
        "inspection.html",
        told.title,
        shorten(f"{card.date}: {card.at}, {card.mark.word}. {prose.lead}".strip(), 180),
        label=card.label,
        badge=_("private, in the archive alone") if told.private else "",
        block=(
            Cell(label=_("Date"), value=f"{say_weekday(told.date, short=True)} {card.date}", strong=True),
            *block,
        ),
        drawing=site.drawing(address, caption, assembly, states),
        steps=Group(
            title=_("Steps looked at"), anchor="steps", steps=tuple(site.step_line(step) for step in told.steps)
        ),
        groups=(
            *groups,
            Group(title=_("Pictures"), anchor="pictures", pictures=site.not_placed(told, prose)),
            *site.extras.panels.get(address, ()),
        ),
        remark=remark,
        section=section,
        cover=next(iter(site.usable_boxes(told)), None),
        html=prose.html,
        updated=told.date.isoformat(),
        kind="article",
    )


def _finding(site: SiteContext, found: InspectionFinding) -> FindingLine:
    by = site.addresses.entries.get(found.closed_by or "")
    return FindingLine(
        id=found.id,
        text=found.text,
        mark=Mark(kind="open", word=_("open")) if found.open else Mark(kind="done", word=_("put right")),
        closed=say_date(found.closed_on) if found.closed_on else "",
        signed=say_signed(found.signed_by, found.checked_by, _("signed by {names}")),
        closed_by=site.entry_link(by) if by else None,
    )
