"""Home: what this is, how far it has come, what happened last."""

from __future__ import annotations

from collections.abc import Sequence

from journal.base.addresses import FOLLOW, HOME
from journal.base.formatting import say_all, say_count, say_date, say_minutes, say_number
from journal.base.words import N_, _
from journal.site.following import following_page
from journal.site.site_context import SiteContext
from journal.view.page_addresses import ENTRIES
from journal.view.page_parts import Bar, Cell, Group, Link, PageRecord, mark_of, only_told, say_part, say_share, share

ON_HOME = 12
"""Cards under the newest entry: what a phone shows in a few flicks."""


def home_page(site: SiteContext) -> PageRecord:
    """The front page."""
    view = site.view
    newest = view.entries[-1] if view.entries else None
    following = view.entries[-1 - ON_HOME : -1]
    cover = site.cover(newest) if newest else None
    name, steps = view.aircraft.name, len(view.steps)
    bar = Bar(
        words=_("{share} of the manual’s steps done", share=say_share(view.steps_done, steps)),
        tenths=share(view.steps_done, steps),
    )
    words = N_("{name}: {time} on {days}, {done} of {steps} done.")
    if not view.entries:
        words = N_("{name}: the first entry is still to come.")
    elif not view.steps_done:
        words = N_("{name}: {time} on {days}.")
    description = _(
        words,
        name=", ".join(filter(None, (name, view.aircraft.kind))),
        time=say_minutes(view.minutes),
        days=say_count(view.days, "day"),
        done=view.steps_done,
        steps=say_count(steps, "step"),
    )
    return site.page(
        HOME,
        "home.html",
        site.site_name,
        description,
        heading=view.aircraft.name,
        label=_("Build journal"),
        intro=view.aircraft.kind,
        remark=_("Built by {names}", names=say_all(site.builders)) if site.builders else "",
        block=tuple(_home_block(site)),
        record=view.about,
        bar=bar if view.steps_done else None,
        drawing=site.drawing(HOME, _("The aircraft as it stands now.")),
        groups=(
            Group(
                title=_("Newest entry"),
                anchor="newest",
                items=(site.card(newest),) if newest else (),
            ),
            Group(title=_("Before that"), anchor="before", items=site.cards(reversed(following))),
            Group(
                title=_("How far each part has come"),
                anchor="shares",
                items=assembly_shares(site) if view.steps_done else (),
            ),
        ),
        onward=(
            Link(text=_("All {entries}", entries=say_count(len(view.entries), "entry", "entries")), address=ENTRIES),
            *((Link(text=_("Follow this build"), address=FOLLOW),) if following_page(site) else ()),
        ),
        picture=site.extras.cards.get(HOME) or (cover.middle if cover else ""),
        picture_alt=description,
    )


def _home_block(site: SiteContext) -> Sequence[Cell]:
    view = site.view
    steps = say_part(view.steps_done, len(view.steps)) if view.steps_done else ""
    return only_told(
        Cell(label=_("Hours to date"), value=say_minutes(view.minutes) if view.entries else "", strong=True),
        Cell(label=_("Days"), value=say_number(view.days) if view.entries else "", strong=True),
        Cell(label=_("Steps done"), value=steps, strong=True),
        Cell(label=_("Begun"), value=say_date(view.begun) if view.begun else ""),
        Cell(label=_("Last worked"), value=say_date(view.last_day) if view.last_day else ""),
        Cell(label=_("Registration"), value=view.aircraft.registration or ""),
        Cell(label=_("Serial"), value=view.aircraft.serial or ""),
    )


def assembly_shares(site: SiteContext) -> tuple[Group, ...]:
    """Every assembly with state, steps, hours and the share of its steps that are done."""
    view = site.view
    lines = []
    for assembly in view.assemblies.values():
        progress = view.assembly_progress[assembly.id]
        minutes = view.by_assembly.get(assembly.id, 0)
        planned = assembly.planned_minutes
        hours = say_minutes(minutes)
        if planned:
            hours = _("{time} of {planned} planned", time=hours, planned=say_minutes(planned))
        lines.append(
            Group(
                title=assembly.title,
                address=site.addresses.assembly_address[assembly.id],
                mark=mark_of(progress.state),
                bar=Bar(tenths=share(progress.steps_done, progress.steps)),
                words=_("{done} of {steps}", done=progress.steps_done, steps=say_count(progress.steps, "step"))
                if progress.steps
                else _("no steps"),
                note=hours if assembly.counts else _("{time}, kept apart", time=hours),
            )
        )
    return tuple(lines)
