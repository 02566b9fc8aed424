"""Entries: one folder a session of work. Source: docs/format.md, Entry front matter."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from pathlib import Path
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

from journal.base.addresses import fold_name
from journal.base.model import Entry, FastenerSet, Material, Nut, Person, Role, Step, TorqueSetting, WorkedTime
from journal.base.quantities import HEAD_HINT, LENGTH_HINT, TORQUE_HINT, parse_head, parse_length, parse_torque
from journal.reading.folders import (
    Examine,
    Folder,
    check_private_blocks,
    read_photos,
    split_front_matter,
    title_of,
)
from journal.reading.form import Form, known_id, known_ids
from journal.reading.hours import elapsed_minutes, first_clock, parse_hours
from journal.reading.plan import Plan, Steps
from journal.reading.table import parse_whole
from journal.reading.text import Notes, read_text
from journal.reading.tree import Fields, Scalar

KEYS = (
    "title",
    "date",
    "assembly",
    "steps",
    "begun",
    "redone",
    "hours",
    "people",
    "place",
    "tools",
    "methods",
    "photos",
    "fasteners",
    "torque",
    "materials",
    "answers",
    "video",
    "private",
    "draft",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What IDs in an entry are held against; None where a list could not be read in full."""

    plan: Plan
    steps: Steps
    materials: Mapping[str, Material] | None

    @property
    def people(self) -> Mapping[str, Person] | None:
        """People by ID."""
        return self.plan.people if self.plan.whole else None

    @property
    def step_ids(self) -> Mapping[str, Step] | None:
        """Steps by ID."""
        return self.steps.steps if self.steps.whole and self.plan.whole else None

    @property
    def builders(self) -> tuple[str, ...]:
        """Everyone with role builder: who worked where an entry does not say."""
        return tuple(person.id for person in self.plan.people.values() if person.role is Role.BUILDER)


def read_entry(root: Path, folder: Folder, known: Known, examine: Examine, notes: Notes) -> Entry | None:
    """One entry, or None where errors (in `notes`) make it unusable."""
    with notes.watching() as watch:
        text = read_text(root / folder.uri / "index.md", notes)
        split = split_front_matter(text, notes) if text is not None else None
        if split is None:
            return None
        form = Form(split.fields, notes, KEYS)
        plan = known.plan
        day_scalar = form.required("date")
        day = form.date("date") if day_scalar else None
        assembly_scalar = form.required("assembly")
        assembly = (
            known_id(assembly_scalar, "assembly", plan.assemblies if plan.whole else None, notes)
            if assembly_scalar
            else None
        )
        title, body = title_of(form, split, folder.id)
        steps, begun, redone = (read_step_ids(form.texts(key), known, notes) for key in ("steps", "begun", "redone"))
        _check_assembly(form, known, assembly, {"steps": steps, "begun": begun, "redone": redone}, notes)
        people, time, elapsed = _people_and_time(form, known, day, plan.zone, notes)
        place_scalar = form.scalar("place")
        place = (
            known_id(place_scalar, "place", plan.places if plan.whole else None, notes)
            if place_scalar
            else next(iter(plan.places), None)
        )
        photos, clips = read_photos(
            form,
            folder,
            body,
            split.body_line,
            known.people,
            known.step_ids,
            examine([f"{folder.uri}/{name}" for name in folder.photos]),
            notes,
            root,
        )
        check_private_blocks(body, split.body_line, notes)
        fasteners = tuple(_fastener_set(fields, notes) for fields in form.rows("fasteners"))
        torque = tuple(_torque_setting(fields, notes) for fields in form.rows("torque"))
        materials = known_ids(form.texts("materials"), "material", known.materials, notes)
        answers = _answers(form, notes)
        videos = _videos(form, notes)
        tools, methods = _names(form, "tools"), _names(form, "methods")
        private, draft = form.flag("private"), form.flag("draft")
    if watch.failed or day is None or assembly is None or assembly not in plan.assemblies:
        return None
    return Entry(
        id=folder.id,
        src_uri=f"{folder.uri}/index.md",
        date=day,
        title=title,
        assembly=assembly,
        steps=steps,
        begun=begun,
        redone=redone,
        time=time,
        elapsed_minutes=elapsed,
        starts_at=first_clock(time),
        people=people,
        place=place,
        tools=tools,
        methods=methods,
        photos=photos,
        clips=clips,
        fasteners=tuple(row for row in fasteners if row is not None),
        torque=tuple(row for row in torque if row is not None),
        materials=materials,
        answers=answers,
        videos=videos,
        private=private,
        draft=draft,
        body=body,
        body_line=split.body_line,
        where=form.inner_places("photos", "answers"),
    )


_RANGE = re.compile(r"(.+?)\s+(?:to|–|—)\s+(.+)", re.IGNORECASE)


def read_step_ids(scalars: tuple[Scalar, ...], known: Known, notes: Notes) -> tuple[str, ...]:
    """Step IDs from IDs and ranges `5.3 to 5.6` in the order of steps.csv, each once, as written."""
    steps, damaged = known.step_ids, known.steps.damaged
    found: list[str] = []
    for scalar in scalars:
        for text in _pieces(scalar.text, steps):
            piece = Scalar(text=text, where=scalar.where)
            if (match := _RANGE.fullmatch(text)) and not (steps and text in steps):
                found += _range(match[1], match[2], piece, known, notes)
            elif text in damaged:
                continue
            elif (step := known_id(piece, "step", steps, notes)) and step in known.steps.steps:
                found.append(step)
    return tuple(dict.fromkeys(found))


def _pieces(text: str, steps: Mapping[str, Step] | None) -> list[str]:
    """`5.3, 5.4` written as one text is two IDs, unless a step goes by that very name."""
    text = text.strip()
    if steps and text in steps:
        return [text]
    return [piece.strip() for piece in text.split(",") if piece.strip()]


def _range(first: str, last: str, scalar: Scalar, known: Known, notes: Notes) -> list[str]:
    steps, damaged = known.step_ids, known.steps.damaged
    ends = []
    for end in (first.strip(), last.strip()):
        if end in damaged:
            return []
        ends.append(known_id(Scalar(text=end, where=scalar.where), "step", steps, notes))
    order = list(known.steps.steps)
    if ends[0] not in known.steps.steps or ends[1] not in known.steps.steps:
        return []
    start, stop = order.index(str(ends[0])), order.index(str(ends[1]))
    if stop < start:
        notes.error(
            scalar.where,
            "range-backwards",
            f'"{scalar.text}" runs backwards in the order of steps.csv',
            f"write {last} to {first}",
        )
        return []
    return order[start : stop + 1]


def _check_assembly(
    form: Form, known: Known, assembly: str | None, steps: Mapping[str, tuple[str, ...]], notes: Notes
) -> None:
    for key, ids in steps.items():
        for step in ids:
            owner = known.steps.steps[step].assembly
            if assembly is not None and owner != assembly:
                notes.finding(
                    form.place(key),
                    "step-elsewhere",
                    f'step {step} belongs to "{owner}", this entry to "{assembly}"',
                    "two assemblies on a day are two entries",
                )


def _people_and_time(
    form: Form, known: Known, day: date | None, zone: ZoneInfo | None, notes: Notes
) -> tuple[tuple[str, ...], tuple[WorkedTime, ...], int]:
    given = (
        known_ids(form.texts("people"), "person", known.people, notes)
        if form.values.get("people") is not None
        else None
    )
    people = given if given is not None else known.builders
    node = form.values.get("hours")
    if node is None or (isinstance(node, Scalar) and not node.text.strip()):
        if form.fields.lost("hours"):
            return people, (), 0
        notes.finding(
            form.places.get("hours") or form.place("date"),
            "no-hours",
            "no hours are given; the entry adds nothing to the totals",
            "add `hours: 3:15` or `hours: 18:30-21:45`",
        )
        return people, (), 0
    allowed = frozenset(known.plan.people) if known.plan.whole else None
    read = parse_hours(node, day, zone, given, known.builders, allowed, notes)
    if read is None or day is None:
        return people, (), 0
    time, people = read
    return people, time, elapsed_minutes(day, time, zone)


def _names(form: Form, key: str) -> tuple[str, ...]:
    """Short names, each once by `fold_name`, as first written."""
    names: dict[str, str] = {}
    for scalar in form.texts(key):
        text = " ".join(scalar.text.split())
        names.setdefault(fold_name(text), text)
    return tuple(names.values())


def _length(form: Form, key: str, notes: Notes) -> Fraction | None:
    scalar = form.scalar(key)
    if scalar is None:
        return None
    length = parse_length(scalar.text.strip())
    if length is None:
        notes.error(scalar.where, "bad-length", f'"{scalar.text}" is not a length', LENGTH_HINT)
    return length


def _fastener_set(fields: Fields, notes: Notes) -> FastenerSet | None:
    form = Form(fields, notes, ("rivet", "grip", "count", "shop_head", "edge"))
    rivet = form.required("rivet")
    grip, edge = _length(form, "grip", notes), _length(form, "edge", notes)
    head = form.scalar("shop_head")
    size = parse_head(head.text.strip()) if head else None
    if head and size is None:
        notes.error(head.where, "bad-length", f'"{head.text}" is not the size of a shop head', HEAD_HINT)
    count = form.scalar("count")
    number = parse_whole(count.text.strip()) if count else None
    if count and number is None:
        notes.error(count.where, "bad-number", f'"{count.text}" is not a whole number', "write it like 48")
    if rivet is None:
        return None
    return FastenerSet(
        rivet=rivet.text.strip(),
        grip=grip,
        count=number,
        shop_head_width=size[0] if size else None,
        shop_head_height=size[1] if size else None,
        edge=edge,
        where=rivet.where,
    )


def _torque_setting(fields: Fields, notes: Notes) -> TorqueSetting | None:
    form = Form(fields, notes, ("bolt", "nut", "value", "drag", "wrench"))
    bolt, value = form.required("bolt"), form.required("value")
    nut = form.choice("nut", Nut) if form.required("nut") else None
    drag = form.scalar("drag")
    amounts: list[Fraction | None] = []
    for scalar in (value, drag):
        amount = parse_torque(scalar.text.strip()) if scalar else None
        if scalar and amount is None:
            notes.error(scalar.where, "bad-torque", f'"{scalar.text}" is not a torque', TORQUE_HINT)
        amounts.append(amount)
    if bolt is None or amounts[0] is None or nut is None:
        return None
    return TorqueSetting(
        bolt=bolt.text.strip(),
        nut=nut,
        value=amounts[0],
        drag=amounts[1],
        wrench=form.text("wrench"),
        where=bolt.where,
    )


def _answers(form: Form, notes: Notes) -> dict[str, str]:
    fields = form.fields_under("answers")
    answers = {}
    for key, node in fields.pairs if fields else ():
        if isinstance(node, Scalar) and node.text.strip():
            answers[key.text.strip()] = " ".join(node.text.split())
        else:
            notes.error(
                node.where, "answer-empty", f'the answer to "{key.text}" is missing', "say in a sentence why it is so"
            )
    return answers


def _videos(form: Form, notes: Notes) -> tuple[str, ...]:
    videos = []
    for scalar in form.texts("video"):
        address = scalar.text.strip()
        try:
            parts = urlsplit(address)
            good = parts.scheme in ("http", "https") and bool(parts.hostname) and not re.search(r"\s", address)
        except ValueError:
            good = False
        if good:
            videos.append(address)
        else:
            notes.error(
                scalar.where, "bad-video", f'"{address}" is not an address of a video', "write it from https:// on"
            )
    return tuple(videos)
