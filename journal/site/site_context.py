"""What all makers of pages share for one site, each thing made once and kept.

Made from a `View` and nothing else of the journal. No file is opened and no clock is read here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Any

from journal.base.addresses import TERMS, fold_name, slugs
from journal.base.drawing import DrawnAssembly, render_drawing
from journal.base.formatting import say_count, say_date, say_minutes, say_short_date, say_steps, say_weekday
from journal.base.model import State, Step, StepProgress, Term, Units
from journal.base.shapes import draw_parts, drawn_parts, means
from journal.base.words import _, spoken
from journal.site.figures import render_figure
from journal.site.prose_html import KeptBodies, Prose, ProseRenderer, ProseRules
from journal.view.page_addresses import PageAddresses
from journal.view.page_links import Linker, linker_for
from journal.view.page_parts import (
    Card,
    Cell,
    Drawing,
    Group,
    Link,
    Mark,
    PageRecord,
    StepLine,
    mark_of,
    metric_table,
)
from journal.view.shown_pictures import PictureBox, PictureLike, plan_picture
from journal.view.terms import TermMarker, all_terms
from journal.view.view import Audience, ShownEntry, Told, View

NOTHING = "—"
LEAD_LENGTH = 240


@dataclass(frozen=True, slots=True, kw_only=True)
class Extras:
    """What other parts of the program add to a site: whole pages, files, and sections of entries.

    `panels` and `cards` (pictures for link previews) go by the address of their page. `nav` are further links of the
    navigation. `linked` maps addresses to files on disk that the site holds as they are. `amended` are by the ID of an
    entry the days on which it was amended, oldest first, and what of it.
    """

    pages: tuple[PageRecord, ...] = ()
    files: tuple[tuple[str, bytes], ...] = ()
    panels: Mapping[str, tuple[Group, ...]] = field(default_factory=dict)
    nav: tuple[Link, ...] = ()
    cards: Mapping[str, str] = field(default_factory=dict)
    linked: Mapping[str, Path] = field(default_factory=dict)
    amended: Mapping[str, tuple[tuple[date, str], ...]] = field(default_factory=dict)


class SiteContext:
    """One site being made: a view, its addresses, its pictures, and what has been prepared from them.

    `pictures` maps `src_uri`s to published pictures. Everything is prepared when first asked for,
    so a preview that shows one page prepares little.
    """

    def __init__(
        self,
        view: View,
        pictures: Mapping[str, PictureLike],
        *,
        offline: bool = False,
        site_name: str = "",
        site_url: str = "",
        extras: Extras | None = None,
        assets: Mapping[str, str] | None = None,
        kept_prose: KeptBodies | None = None,
    ) -> None:
        self.view = view
        self.addresses = PageAddresses(view)
        self.pictures = pictures
        self.offline = offline
        self.extras = extras or Extras()
        self.assets = assets or {}
        self.site_name = site_name or _("{name} build journal", name=view.aircraft.name)
        self.site_url = "" if offline else site_url
        self.everything = view.audience is Audience.ARCHIVE
        self.order = tuple(view.steps)
        self.terms: tuple[Term, ...] = all_terms(view.terms, metal=view.metal)
        self.term_anchor = {name: f"term-{word}" for name, word in slugs(term.name for term in self.terms).items()}
        self.render_body = ProseRenderer(
            addresses=self.addresses.linkable,
            figure=lambda box, linker, own, early: render_figure(box, linker, anchored=own, early=early),
            marker=TermMarker(self.terms),
            term_address=self.term_address,
        ).render
        self._kept_prose = kept_prose or (lambda rules, facts, render: render())
        self._prose_rules = ProseRules(
            addresses=dict(sorted(self.addresses.linkable.items())),
            terms={term.name: term for term in self.terms},
            offline=offline,
            everything=self.everything,
            spoken=(spoken().interface, spoken().content),
        )
        self._boxes: dict[str, tuple[PictureBox, ...]] = {}
        self._prose: dict[str, Prose] = {}
        self._cards: dict[str, Card] = {}
        self._drawings: dict[tuple[object, ...], Drawing] = {}

    @property
    def builders(self) -> tuple[str, ...]:
        """Those who build, where they are shown by name and not by their role alone."""
        return tuple(name for name in self.view.builders if name != _("builder"))

    # -- links -----------------------------------------------------------------------------

    def linker(self, address: str) -> Linker:
        """The linker of the page at `address`."""
        return linker_for(address, offline=self.offline)

    def term_address(self, term: Term) -> str:
        """Where a term is explained."""
        return f"{TERMS}#{self.term_anchor[term.name]}"

    def assembly_link(self, assembly: str) -> Link:
        """An assembly by its title."""
        return Link(text=self.view.assemblies[assembly].title, address=self.addresses.assembly_address[assembly])

    def tool_link(self, name: str) -> Link:
        """A tool, in the form in which it was written first."""
        folded = fold_name(name)
        return Link(text=self.view.tools[folded], address=self.addresses.tool_address[folded])

    def method_link(self, name: str) -> Link:
        """A method, likewise."""
        folded = fold_name(name)
        return Link(text=self.view.methods[folded], address=self.addresses.method_address[folded])

    def entry_link(self, entry: ShownEntry) -> Link:
        """An entry by its title and day."""
        return Link(text=entry.title, address=self.addresses.entry_address[entry.id], note=self.say_day(entry))

    def page(
        self,
        address: str,
        template: str,
        title: str,
        description: str,
        *,
        section: str | None = None,
        entries: Sequence[ShownEntry] | None = None,
        cover: PictureBox | None = None,
        **more: Any,
    ) -> PageRecord:
        """A page: `section` is its own address unless told; it is dated by the last of its `entries`, or by the last
        day worked where it is about all of them. `more` are fields of the page's record.
        """
        if self.view.units is Units.METRIC:
            groups = more.get("groups", ())
            more["groups"] = tuple(replace(one, tables=tuple(map(metric_table, one.tables))) for one in groups)
        last = self.view.last_day if entries is None else entries[-1].date if entries else None
        return PageRecord(
            address=address,
            template=template,
            title=title,
            description=description,
            section=address if section is None else section,
            **{
                "updated": last.isoformat() if last else "",
                "picture": self.extras.cards.get(address) or (cover.middle if cover else ""),
                "picture_alt": cover.alt if cover else title if address in self.extras.cards else "",
                **more,
            },
        )

    # -- pictures and prose ----------------------------------------------------------------

    def boxes(self, told: Told) -> tuple[PictureBox, ...]:
        """The pictures of what is told, in capture order."""
        if told.src_uri not in self._boxes:
            self._boxes[told.src_uri] = tuple(
                plan_picture(
                    photo,
                    self.pictures,
                    number=number,
                    of=told.title,
                    everything=self.everything,
                    step_addresses=self.addresses.step_address,
                )
                for number, photo in enumerate(told.photos, start=1)
            )
        return self._boxes[told.src_uri]

    def usable_boxes(self, told: Told) -> list[PictureBox]:
        """Those that there is something to see of."""
        return [box for box in self.boxes(told) if box.usable]

    def boxes_by_name(self, told: Told) -> dict[str, PictureBox]:
        """The pictures by the names of their files, as prose places them."""
        return {photo.name: box for photo, box in zip(told.photos, self.boxes(told), strict=True)}

    def box_at(self, src_uri: str) -> PictureBox | None:
        """The picture of a file, whatever it belongs to."""
        return self._box_of_file.get(src_uri)

    @cached_property
    def _box_of_file(self) -> Mapping[str, PictureBox]:
        return {
            photo.src_uri: box
            for told in self.view.told
            for photo, box in zip(told.photos, self.boxes(told), strict=True)
        }

    def cover(self, entry: ShownEntry) -> PictureBox | None:
        """The picture that stands for an entry, or None where it has no usable one."""
        photo = entry.cover
        if photo is None:
            return None
        box = self.boxes(entry)[entry.photos.index(photo)]
        return box if box.usable else next(iter(self.usable_boxes(entry)), None)

    def prose(self, told: Told) -> Prose:
        """A body as it stands on its own page."""
        if told.src_uri not in self._prose:
            self._prose[told.src_uri] = self._kept_prose(
                self._prose_rules,
                (told.body, told.title, told.src_uri, self.boxes(told)),
                lambda: self.render_body(
                    told.body,
                    src_uri=told.src_uri,
                    title=told.title,
                    linker=self.linker(self.addresses.linkable[told.src_uri]),
                    boxes=self.boxes_by_name(told),
                ),
            )
        return self._prose[told.src_uri]

    def not_placed(self, told: Told, prose: Prose) -> tuple[PictureBox, ...]:
        """The pictures that do not stand in the text. Followers are shown no empty box for one of which nothing can be
        seen and nothing is said.
        """
        boxes = ((name, box) for name, box in self.boxes_by_name(told).items() if name not in prose.placed)
        public = self.view.audience is Audience.PUBLIC
        return tuple(box for _, box in boxes if box.usable or box.caption or not public)

    # -- entries ----------------------------------------------------------------------------

    def card(self, entry: ShownEntry) -> Card:
        """An entry as other pages show it."""
        if entry.id in self._cards:
            return self._cards[entry.id]
        usable = len(self.usable_boxes(entry))
        lead = shorten(self.prose(entry).lead, LEAD_LENGTH)
        self._cards[entry.id] = Card(
            address=self.addresses.entry_address[entry.id],
            title=entry.title,
            day=self.say_day(entry),
            number="" if entry.draft else str(entry.day),
            date=say_date(entry.date),
            short_date=say_short_date(entry.date),
            iso=entry.date.isoformat(),
            assembly=self.assembly_link(entry.assembly.id),
            steps=self.say_steps(entry.all_steps),
            hours=say_minutes(entry.minutes) if entry.time else _("hours not told"),
            to_date=NOTHING if entry.draft else say_minutes(entry.minutes_to_date),
            by=", ".join(entry.people),
            # A row of a table is often one sentence, which is the title already.
            lead="" if fold_name(lead).rstrip(".") == fold_name(entry.title).rstrip(".") else lead,
            pictures=say_count(usable, "picture") if usable else "",
            cover=self.cover(entry),
            draft=entry.draft,
            private=entry.private,
            redone=self.say_steps(entry.redone),
        )
        return self._cards[entry.id]

    def cards(self, entries: Iterable[ShownEntry]) -> tuple[Card, ...]:
        """Cards in the order given."""
        return tuple(self.card(entry) for entry in entries)

    def say_day(self, entry: ShownEntry) -> str:
        """`Day 12`, or `Draft`: a draft has no number yet."""
        return _("Draft") if entry.draft else _("Day {day}", day=entry.day)

    def say_steps(self, steps: Sequence[Step]) -> str:
        """Step IDs, runs drawn together."""
        return say_steps([step.id for step in steps], self.order)

    def block(self, entry: ShownEntry) -> tuple[Cell, ...]:
        """The title block of an entry (docs/format.md): DAY · DATE · ASSEMBLY · STEPS · HOURS · HOURS TO DATE · BY."""
        minutes = say_minutes(entry.minutes) if entry.time else _("not told")
        return (
            Cell(label=_("Day"), value=_("Draft") if entry.draft else str(entry.day), strong=True),
            Cell(label=_("Date"), value=f"{say_weekday(entry.date, short=True)} {say_date(entry.date)}"),
            Cell(label=_("Assembly"), links=(self.assembly_link(entry.assembly.id),)),
            Cell(label=_("Steps"), value=self.say_steps(entry.all_steps) or NOTHING),
            Cell(label=_("Hours"), value=minutes, strong=True),
            Cell(
                label=_("Hours to date"),
                value=_("not counted yet") if entry.draft else say_minutes(entry.minutes_to_date),
                strong=True,
            ),
            Cell(label=_("By"), value=", ".join(entry.people) or NOTHING),
        )

    # -- steps -----------------------------------------------------------------------------

    def step_mark(self, progress: StepProgress) -> Mark:
        """Where a step stands, with its qualifier (`reopened`, `done over`)."""
        kind = mark_of(progress.state).kind
        if progress.reopened:
            kind = "reopened"
        elif progress.state is State.DONE and progress.times_done_over:
            kind = "redone"
        return Mark(kind=kind, word=_(progress.word))

    def step_line(self, step: Step) -> StepLine:
        """A step as it stands now."""
        progress = self.view.step_progress.get(step.id, StepProgress())
        return self._step_line(
            step,
            self.step_mark(progress),
            when=say_date(progress.done_on) if progress.done_on and progress.state is State.DONE else "",
            when_address=self.addresses.entry_address.get(progress.done_in or "", ""),
        )

    def _step_line(self, step: Step, mark: Mark, when: str = "", when_address: str = "") -> StepLine:
        return StepLine(
            id=step.id,
            title=step.title,
            address=self.addresses.step_address[step.id],
            mark=mark,
            closes=_(step.closed_part),
            when=when,
            when_address=when_address,
        )

    def entry_steps(self, entry: ShownEntry) -> tuple[StepLine, ...]:
        """What an entry did to each of its steps, in the manual's order."""
        marks = {
            **{step.id: Mark(kind=mark_of(State.UNDER_WAY).kind, word=_("begun")) for step in entry.begun},
            **{step.id: Mark(kind=mark_of(State.DONE).kind, word=_("done")) for step in entry.steps},
            **{step.id: Mark(kind="redone", word=_("done over")) for step in entry.redone},
        }
        ordered = sorted(entry.all_steps, key=lambda step: self.addresses.rank[step.id])
        return tuple(self._step_line(step, marks[step.id]) for step in ordered)

    # -- the drawing -----------------------------------------------------------------------

    def drawing(
        self, address: str, caption: str, picked: str | None = None, states: Mapping[str, State] | None = None
    ) -> Drawing:
        """The aircraft with each assembly in its state (of today unless told), for the page at `address`."""
        linker = self.linker(address)
        if states is None:
            states = {assembly: progress.state for assembly, progress in self.view.assembly_progress.items()}
        drawn = {assembly: states.get(assembly, State.NOT_BEGUN) for assembly in self.view.assemblies}
        key = (tuple(drawn.values()), picked, linker.root)
        if key not in self._drawings:
            self._drawings[key] = self._draw(drawn, picked, linker)
        return replace(self._drawings[key], caption=caption)

    def _draw(self, drawn: Mapping[str, State], picked: str | None, linker: Linker) -> Drawing:
        at = self.addresses.assembly_address
        svg = ""
        if self.view.drawing is not None:
            shapes = self.shapes(drawn, {id_: linker.to(address) for id_, address in at.items()})
            svg = render_drawing(self.view.drawing, shapes, picked=picked, uid="aircraft")
        return Drawing(
            svg=svg,
            caption="",
            legend=_legend([*drawn.values()]),
            picked=replace(self.assembly_link(picked), mark=mark_of(drawn[picked])) if picked else None,
        )

    def close_up(self, address: str, assembly: str, step: Step | None = None) -> Drawing | None:
        """An assembly alone, part by part, with what `step` touches picked out; None where it has no drawn parts of
        its own. Parts are in the state of the steps that name them: where none does, in that of the assembly.
        """
        airframe, title = self.view.airframe, self.view.assemblies[assembly].title
        if airframe is None:
            return None
        known = tuple(self.view.assemblies.values())
        parts = drawn_parts(airframe, known, assembly)
        if len(parts) < 2:
            return None
        of_assembly = [self.view.steps[id_] for id_ in self.addresses.steps_of[assembly]]
        touching = {
            part: [one for one in of_assembly if any(means(shape, words) for shape in one.shapes)]
            for part, words in parts.items()
        }
        linker, whole = self.linker(address), self.view.assembly_progress[assembly].state
        drawn = []
        for part, steps in touching.items():
            states = {self.view.step_progress.get(one.id, StepProgress()).state for one in steps} or {whole}
            if steps or not any(touching.values()):
                at = self.addresses.step_address[steps[0].id] if len(steps) == 1 else ""
                at = at or f"{self.addresses.assembly_address[assembly]}#steps"
                state = states.pop() if len(states) == 1 else State.UNDER_WAY
                drawn.append(DrawnAssembly(id=part, title=part[0].upper() + part[1:], state=state, href=linker.to(at)))
        picked = {part for part, steps in touching.items() if step in steps}
        svg = render_drawing(
            draw_parts(airframe, known, assembly),
            drawn,
            picked=picked,
            uid="parts",
            label=_("{title}, part by part", title=title),
        )
        if step and picked:
            caption = _("{title} alone: what step {step} touches picked out.", title=title, step=step.id)
        elif any(touching.values()):
            caption = _("{title} alone: its parts in the state of the steps that name them.", title=title)
        else:
            caption = _("{title} alone: part by part.", title=title)
        told = [one.state for one in drawn]
        return Drawing(svg=svg, caption=caption, legend=_legend(told), picked=None)

    def shapes(self, states: Mapping[str, State], hrefs: Mapping[str, str]) -> tuple[DrawnAssembly, ...]:
        """The assemblies as a drawing shows them; without `hrefs` they are no links."""
        return tuple(
            DrawnAssembly(id=id_, title=one.title, state=states.get(id_, State.NOT_BEGUN), href=hrefs.get(id_, ""))
            for id_, one in self.view.assemblies.items()
        )


def _legend(states: Sequence[State]) -> tuple[Link, ...]:
    """How many are in each state; of none the sign alone."""
    return tuple(Link(text=str(states.count(state) or ""), mark=mark_of(state)) for state in State)


def shorten(text: str, length: int) -> str:
    """`text` cut at a word within `length` characters, with `…` where something is missing."""
    if len(text) <= length:
        return text
    cut = text[: length - 1].rsplit(" ", 1)[0].rstrip(" ,;:–—-")
    return f"{cut} …"
