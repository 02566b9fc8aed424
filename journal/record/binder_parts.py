"""What several chapters of the binder share: where things stand in it, their words, bodies, pictures and drawings."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import TypeVar

from journal.base.addresses import composed
from journal.base.drawing import DrawnAssembly, Palette, render_drawing
from journal.base.formatting import say_count, say_date, say_steps
from journal.base.grouping import grouped
from journal.base.model import Photo, State, Step
from journal.base.prose import find_images
from journal.base.prose_tree import new_markdown
from journal.media.photos import Picture, Rendition
from journal.record.chain import Chain, Kind
from journal.record.prose_nodes import Node, body_nodes, plain_words
from journal.record.seals import seal_story
from journal.record.setting import Json
from journal.record.timestamps import Stamp
from journal.record.trace import gather_trace, photo_traces
from journal.view.page_links import is_kept_elsewhere, resolve
from journal.view.shown_pictures import say_edits
from journal.view.view import Evidence, ShownEntry, ShownInspection, ShownWriteUp, Told, View

T = TypeVar("T")

PICTURE_BUDGET_BYTES = 300_000_000
"""Up to this much the entries' pictures are 960 px wide (287 dots to the inch as printed), beyond it 480:
the binder must still open on an inspector's tablet. The album is always 960.
"""

SHORT_HASH = 12
"""Digits of a SHA-256 printed beside a picture: enough to tell any two of 20,000 apart."""

_LARGE, _SMALL = 960, 480
_GUTTER_MM = 6.0
_TALLEST_MM, ALBUM_TALLEST_MM = 68.0, 54.0
_LONG_CAPTION = 500  # letters: more may be taller than the picture it stands beside
INK = Palette(
    ink="#17242e",
    paper="#ffffff",
    done="#0f766e",
    under_way="#f0b232",
    hatch="#7a4a00",
    on_done="#ffffff",
    picked="#b93a0b",
)


class Shared:
    """A view as its binder tells it. `width_mm` is that of the text; `boxes` and `drawings` gather what was placed."""

    def __init__(self, view: View, pictures: Mapping[str, Picture], chain: Chain, width_mm: float) -> None:
        self.view = view
        self.chain = chain
        self.evidence = view.evidence or Evidence()
        self.trace = gather_trace(view)
        self.entries = {entry.id: entry for entry in view.entries}
        self.labels = {entry.src_uri: f"entry-{number}" for number, entry in enumerate(view.entries, 1)}
        self.labels |= {one.src_uri: f"inspection-{number}" for number, one in enumerate(view.inspections, 1)}
        self.labels |= {one.src_uri: f"measurement-{number}" for number, one in enumerate(view.measurements, 1)}
        self.labels |= {page.src_uri: f"page-{number}" for number, page in enumerate(view.pages, 1)}
        self.gaps_at = grouped((*self.evidence.gaps, *self.evidence.answered), lambda gap: [gap.problem.file])
        self.drawings: dict[str, str] = {}
        self.boxes = _Boxes(pictures, view, (width_mm - _GUTTER_MM) / 2)
        self._markdown = new_markdown()
        self._links, self._link_words = self._link_targets()
        self._drawn: dict[tuple[object, ...], str] = {}

    # ------------------------------------------------------------ places

    def place(self, told: Told, where: str = "") -> Json:
        """A reference that leads to what is told: `where`, else the number or date of its day."""
        short = str(told.day) if isinstance(told, ShownEntry) else say_date(told.date)
        return {"label": self.labels[told.src_uri], "where": where or short}

    def name(self, told: Told) -> str:
        """What it is called where entries and others stand side by side."""
        return (
            mark(told)
            if isinstance(told, ShownEntry)
            else f"{self.labels[told.src_uri].partition('-')[0]} of {say_date(told.date)}"
        )

    # ------------------------------------------------------------ words

    def say_steps(self, steps: Sequence[Step]) -> str:
        """Steps as the front matter writes them."""
        return say_steps([step.id for step in steps], tuple(self.view.steps))

    def say_marks(self, entry: ShownEntry) -> str:
        """What an entry did to steps: finished, begun, done over."""
        named = (("", entry.steps), ("begun ", entry.begun), ("done over ", entry.redone))
        return " · ".join(word + self.say_steps(steps) for word, steps in named if steps)

    def say_looked_at(self, told: ShownWriteUp) -> str:
        """The assembly or the steps that were inspected or measured."""
        if told.assembly:
            return told.assembly.title
        steps = f"step{'' if len(told.steps) == 1 else 's'} {self.say_steps(told.steps)}"
        return steps if told.steps else "the whole aircraft"

    def say_sealed(self, kind: Kind, name: str) -> str:
        """How an entry, inspection or measurement was sealed."""
        return seal_story(self.chain, kind, name, self.view.zone).words if self.chain.seals else "not sealed"

    # ------------------------------------------------------------ bodies

    def body(self, body: str, title: str, photos: Sequence[Photo], src_uri: str) -> list[Node]:
        """A text as nodes, its pictures placed in it and its links leading into the binder."""
        by_name = {composed(photo.name): photo for photo in photos}

        def resolved(target: str) -> Mapping[str, str] | None:
            if is_kept_elsewhere(target):
                return {"url": target} if _is_address(target) else None
            address = resolve(target, src_uri, self._links)
            if address is None:
                return None
            label = address.partition("#")[0]
            return {"label": label, "words": self._link_words.get(label, "")}

        nodes = body_nodes(self._markdown, body, title=title, resolve=resolved)
        return [self._with_boxes(node, by_name) for node in nodes]

    def _with_boxes(self, node: Node, photos: Mapping[str, Photo]) -> Node:
        """Picture names exchanged for rows of boxes, however deep they stand."""
        if node.get("k") == "pictures":
            shown = [photo for name in node["names"] if (photo := photos.get(composed(name)))]
            return {"k": "pictures", "rows": self.boxes.rows(shown)}
        if node.get("k") == "a":
            # On paper a link is its address; where the words are the address it is not said twice.
            url = node["to"].get("url", "")
            said = plain_words(node["c"]) in (url, url.removeprefix("mailto:"))
            node = {**node, "address": "" if said else url}
        for key in ("b", "c"):
            if key in node:
                node = {**node, key: [self._with_boxes(inner, photos) for inner in node[key]]}
        if "items" in node:
            node = {**node, "items": [[self._with_boxes(inner, photos) for inner in item] for item in node["items"]]}
        return node

    def rest(self, told: Told) -> list[list[Json]]:
        """Rows of the pictures that the text does not place, in capture order."""
        placed = {composed(image.target) for image in find_images(told.body) if not image.elsewhere}
        return self.boxes.rows([photo for photo in told.photos if composed(photo.name) not in placed])

    def _link_targets(self) -> tuple[dict[str, str], dict[str, str]]:
        """What texts may link to, by file and by folder, as labels; and the words that each label gets on paper."""
        targets: dict[str, str] = {}
        words: dict[str, str] = {}
        for told in self.view.told:
            label = self.labels[told.src_uri]
            targets |= {told.src_uri: label, told.src_uri.rpartition("/")[0]: label}
            if isinstance(told, ShownEntry):
                targets |= {photo.src_uri: label for photo in told.photos}
            words[label] = self.name(told).replace("Day", "day")
        return targets | {page.src_uri: self.labels[page.src_uri] for page in self.view.pages}, words

    # ------------------------------------------------------------ drawings

    def drawing(self, states: Mapping[str, State], picked: str | None) -> str:
        """The name of a drawing with these states, made once; empty where the build has none."""
        if not self.view.drawing:
            return ""
        key = (picked, tuple(states.items()))
        if key not in self._drawn:
            drawn = [
                DrawnAssembly(id=name, title=self.view.assemblies[name].title, state=state, href="")
                for name, state in states.items()
            ]
            svg = render_drawing(self.view.drawing, drawn, picked=picked, uid="d", palette=INK)
            name = f"drawing-{len(self.drawings) + 1}.svg" if svg else ""
            if svg:
                self.drawings[name] = svg
            self._drawn[key] = name
        return self._drawn[key]


class _Boxes:
    """Pictures as the template places them: size in mm, words, and the file behind each name."""

    def __init__(self, pictures: Mapping[str, Picture], view: View, width_mm: float) -> None:
        self._pictures = pictures
        self._day_only = not view.everything
        self._width_mm = width_mm
        self._width_px = _fitting_width(view, pictures)
        self._order = tuple(view.steps)
        self._traces = {traced.photo.src_uri: traced for traced in photo_traces(view)}
        self._names: dict[Path, str] = {}
        self.used: dict[str, Rendition] = {}

    def usable(self, photo: Photo) -> bool:
        """Whether there is something to print."""
        picture = self._pictures.get(photo.src_uri)
        return bool(picture and picture.renditions)

    def rows(self, photos: Sequence[Photo]) -> list[list[Json]]:
        """Two pictures to a row; one alone gets its words beside it."""
        return [[self.box(photo, _TALLEST_MM, self._width_px) for photo in pair] for pair in groups(photos, 2)]

    def box(self, photo: Photo, tallest_mm: float = ALBUM_TALLEST_MM, long_edge: int = _LARGE) -> Json:
        """A picture fitted into half the width of the text, or a placeholder with the reason; as it stands, one of the
        album, six to a sheet.
        """
        picture, width_mm = self._pictures.get(photo.src_uri), self._width_mm
        box: Json = {
            "caption": photo.caption,
            "alt": photo.caption or f"Picture {photo.name}",
            "words": " · ".join(self._words(photo)),
            "long": len(photo.caption) > _LONG_CAPTION,
            "image": "",
            "w": width_mm,
            "h": width_mm * 0.5,
        }
        if not picture or not picture.renditions:
            trouble = (picture.trouble if picture else "") or photo.facts.trouble or "no picture was made of it"
            return box | {"trouble": trouble}
        rendition = _nearest(picture.renditions, long_edge)
        scale = min(width_mm / rendition.width_px, tallest_mm / rendition.height_px)
        name = self._names.setdefault(rendition.path, f"picture-{len(self._names) + 1}")
        self.used[name] = rendition
        return box | {
            "image": f"{name}.svg",
            "w": round(rendition.width_px * scale, 2),
            "h": round(rendition.height_px * scale, 2),
        }

    def _words(self, photo: Photo) -> Iterator[str]:
        """What stands under a picture: day and hour, the step it shows or those of its entry, file, short digest."""
        facts, traced = photo.facts, self._traces[photo.src_uri]
        if facts.taken is None or not facts.clock_set:
            why = "" if facts.taken is None else " (camera clock never set)"
            yield f"capture time not recorded{why}, kept with {say_date(traced.told.date)}"
        else:
            offset = facts.offset or "offset not recorded"
            clock = "" if self._day_only else f", {facts.taken:%H:%M:%S} ({offset})"
            yield f"taken {say_date(facts.taken.date())}{clock}"
        if traced.steps:
            step = f"step{'' if len(traced.steps) == 1 else 's'} {say_steps(traced.steps, self._order)}"
            yield step if photo.step else f"of {step}"
        if photo.people:
            yield f"at work: {', '.join(photo.people)}"
        if photo.inside:
            yield "inside, before closing"
        if photo.private:
            yield "private"
        if how := say_edits(photo.edits):
            yield how
        yield f"original {photo.name}" if how else photo.name
        if photo.sha256:
            yield f"SHA-256 {photo.sha256[:SHORT_HASH]}…"


def _fitting_width(view: View, pictures: Mapping[str, Picture]) -> int:
    """960 while all pictures of the entries stay within the budget, else 480."""
    whole = sum(
        _nearest(picture.renditions, _LARGE).bytes
        for photo in view.photos
        if (picture := pictures.get(photo.src_uri)) and picture.renditions
    )
    return _LARGE if whole <= PICTURE_BUDGET_BYTES else _SMALL


def _nearest(renditions: Sequence[Rendition], long_edge: int) -> Rendition:
    """The largest rendition whose long edge is at most `long_edge`, else the smallest there is."""
    fitting = [one for one in renditions if max(one.width_px, one.height_px) <= long_edge]
    return fitting[-1] if fitting else renditions[0]


# ---------------------------------------------------------------- cells


def mark(entry: ShownEntry) -> str:
    """`Day 12`: what an entry is called on paper."""
    return f"Day {entry.day}"


def clock(minutes: int) -> str:
    """`6:30`: hours and minutes for a narrow column."""
    return f"{minutes // 60:,}:{minutes % 60:02d}"


def clock_or_dash(minutes: int) -> str:
    """The same; a dash for nothing."""
    return clock(minutes) if minutes else "–"


def block(*cells: tuple[str, ...]) -> list[Json]:
    """The cells of a title block from (label, value) or (label, value, note); a dash for no value."""
    return [
        dict(zip(("label", "value", "note"), (label, value or "—", *note), strict=False))
        for label, value, *note in cells
    ]


def say_span(first: date | None, last: date | None) -> str:
    """`1 year 5 months`, in whole months begun; empty where a day is not known."""
    if first is None or last is None:
        return ""
    days = (last - first).days + 1
    if days < 61:
        return say_count(days, "day")
    months = (last.year - first.year) * 12 + last.month - first.month + (last.day >= first.day) - 1
    years, rest = divmod(max(months, 1), 12)
    parts = [say_count(years, "year")] if years else []
    return " ".join([*parts, say_count(rest, "month")] if rest else parts)


def say_findings(inspection: ShownInspection) -> str:
    """`2 findings, 1 open`."""
    findings = inspection.findings
    if not findings:
        return "no findings"
    opened = sum(found.open for found in findings)
    return f"{say_count(len(findings), 'finding')}, {f'{opened} open' if opened else 'all put right'}"


def say_sealing(chain: Chain, view: View) -> str:
    """When the lines of the chain were written, against the days of the work: what a reader has to know of them."""
    first, last = chain.seals[0].sealed_at, chain.seals[-1].sealed_at
    lines = say_count(len(chain.seals), "line")
    kinds = ((Kind.ENTRY, view.entries), (Kind.INSPECTION, view.inspections), (Kind.MEASUREMENT, view.measurements))
    told = [seal_story(chain, kind, one.id, view.zone) for kind, shown in kinds for one in shown]
    lags = sorted(story.days_after for story in told if story.sealed_on)
    unsealed = len(told) - len(lags)
    minutes = Counter(seal.sealed_at.replace(second=0, microsecond=0) for seal in chain.seals)
    minute, most = max(minutes.items(), key=lambda one: one[1])
    late = f", up to {say_count(lags[-1], 'day')} after the work" if lags and lags[-1] > 0 else ""
    if most == len(chain.seals) > 1:
        said = (
            f"All {lines} were written in one minute, {minute:%Y-%m-%d %H:%M} UTC{late}: they fix the record as it "
            "stood then and tell nothing of the days before."
        )
    else:
        period = f"between {say_date(first.date())} and {say_date(last.date())}"
        said = f"{lines} written {period if first.date() != last.date() else f'on {say_date(first.date())}'}"
        if lags:
            half = max(0, lags[(len(lags) - 1) // 2])
            within = f"within {say_count(half, 'day')} of" if half else "on the day of"
            said += f"; half of what is sealed was sealed {within} the work, the last {max(0, lags[-1])} days after it"
        if most > max(3, len(chain.seals) // 5):
            said += f"; {most} in one minute, {minute:%Y-%m-%d %H:%M} UTC"
        said += "."
    return f"{said} {say_count(unsealed, 'text is', 'texts are')} not sealed." if unsealed else said


def say_stamps(stamps: Sequence[Stamp]) -> str:
    """What vouches for the chain beside the clock of the builder's machine."""
    if not stamps:
        return "No time-stamp vouches for the chain: its times are those of the builder’s clock."
    told = [f"{one.name}: worthless, {'; '.join(one.faults)}." if one.faults else one.tell() for one in stamps]
    return f"{say_count(len(stamps), 'time-stamp')}. {' '.join(told)}"


def groups(items: Sequence[T], size: int) -> Iterator[Sequence[T]]:
    """`items` in groups of `size`, the last one maybe smaller."""
    for start in range(0, len(items), size):
        yield items[start : start + size]


def _is_address(target: str) -> bool:
    """Whether a PDF link can hold it: no spaces, nothing unprintable."""
    return target.isprintable() and " " not in target
