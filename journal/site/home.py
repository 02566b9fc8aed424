"""Home: what this is, how far it has come, what happened last."""

from __future__ import annotations

from collections.abc import Sequence

from journal.base.addresses import FOLLOW, HOME
from journal.base.formatting import say_all, say_count, say_date, say_minutes
from journal.site.following import following_page
from journal.site.site_context import SiteContext
from journal.view.page_addresses import ENTRIES
from journal.view.page_parts import MARKS, Bar, Cell, Group, Link, PageRecord, only_told, say_share, share

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
        words=f"{say_share(view.steps_done, steps)} of the manual’s steps done", tenths=share(view.steps_done, steps)
    )
    how_far = f", {view.steps_done} of {say_count(steps, 'step')} done" if steps else ""
    description = (
        f"{name}{', ' + view.aircraft.kind if view.aircraft.kind else ''}: {say_minutes(view.minutes)} on "
        f"{say_count(view.days, 'day')}{how_far}."
    )
    return site.page(
        HOME,
        "home.html",
        site.site_name,
        description,
        heading=view.aircraft.name,
        label="Build journal",
        intro=view.aircraft.kind,
        remark=f"Built by {say_all(view.builders)}" if view.builders else "",
        block=tuple(_home_block(site)),
        record=view.about,
        bar=bar if steps else None,
        drawing=site.drawing(HOME, "The aircraft as it stands now."),
        groups=(
            Group(
                title="Newest entry",
                anchor="newest",
                items=(site.card(newest),) if newest else (),
            ),
            Group(title="Before that", anchor="before", items=site.cards(reversed(following))),
            Group(title="How far each part has come", anchor="shares", items=assembly_shares(site) if steps else ()),
        ),
        onward=(
            Link(text=f"All {say_count(len(view.entries), 'entry', 'entries')}", address=ENTRIES),
            *((Link(text="Follow this build", address=FOLLOW),) if following_page(site) else ()),
        ),
        picture=site.extras.cards.get(HOME) or (cover.middle if cover else ""),
        picture_alt=description,
    )


def _home_block(site: SiteContext) -> Sequence[Cell]:
    view = site.view
    steps = f"{view.steps_done:,} of {len(view.steps):,}" if view.steps else ""
    return only_told(
        Cell(label="Hours to date", value=say_minutes(view.minutes), strong=True),
        Cell(label="Days", value=f"{view.days:,}", strong=True),
        Cell(label="Steps done", value=steps, strong=True),
        Cell(label="Begun", value=say_date(view.begun) if view.begun else ""),
        Cell(label="Last worked", value=say_date(view.last_day) if view.last_day else ""),
        Cell(label="Registration", value=view.aircraft.registration or ""),
        Cell(label="Serial", value=view.aircraft.serial or ""),
    )


def assembly_shares(site: SiteContext) -> tuple[Group, ...]:
    """Every assembly with state, steps, hours and the share of its steps that are done."""
    view = site.view
    lines = []
    for assembly in view.assemblies.values():
        progress = view.assembly_progress[assembly.id]
        minutes = view.by_assembly.get(assembly.id, 0)
        planned = assembly.planned_minutes
        lines.append(
            Group(
                title=assembly.title,
                address=site.addresses.assembly_address[assembly.id],
                mark=MARKS[progress.state],
                bar=Bar(tenths=share(progress.steps_done, progress.steps)),
                words=f"{progress.steps_done} of {say_count(progress.steps, 'step')}" if progress.steps else "no steps",
                note=say_minutes(minutes)
                + (f" of {say_minutes(planned)} planned" if planned else "")
                + ("" if assembly.counts else ", kept apart"),
            )
        )
    return tuple(lines)
