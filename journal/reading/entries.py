"""Entries: a folder for each. Source: docs/format.md, Entry front matter."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from journal.base.addresses import fold_name
from journal.base.model import Entry, FastenerSet, Photo, TorqueSetting, WorkedTime
from journal.base.problems import nearest
from journal.base.quantities import (
    HEAD_HINT,
    LENGTH_HINT,
    TORQUE_HINT,
    Quantity,
    parse_head,
    parse_length,
    parse_torque,
)
from journal.reading.callouts import read_called_for
from journal.reading.dates import parse_date
from journal.reading.folders import ExaminedPhoto, Folder, Told, read_photos, read_told
from journal.reading.form import Form, KnownIds
from journal.reading.hours import elapsed_minutes, parse_hours
from journal.reading.table import parse_whole
from journal.reading.text import Notes
from journal.reading.tree import Fields, Scalar

ENTRY_KEYS = (
    *("title", "date", "assembly", "steps", "begun", "redone", "hours", "people", "place", "tools", "methods"),
    *("photos", "fasteners", "torque", "materials", "answers", "video", "private", "draft", "formerly"),
)

Examined = Mapping[str, ExaminedPhoto]


def read_entry(root: Path, folder: Folder, known: KnownIds, examined: Examined, notes: Notes) -> Entry | None:
    """One entry, or None where errors (in `notes`) make it unusable."""
    with notes.watching() as watch:
        told = read_told(root / folder.file, folder.id, notes, ENTRY_KEYS, known)
        if told is None:
            return None
        form = told.form
        form.required("assembly")
        photos, clips = read_photos(told, folder, examined, root)
        said = said_by_all(told, folder, photos)
        people, time, elapsed = _people_and_time(form, said["date"])
        entry = Entry(
            **said,
            begun=form.steps("begun"),
            redone=form.steps("redone"),
            time=time,
            elapsed_minutes=elapsed,
            starts_at=min((start for worked in time for start, _ in worked.spans), default=None),
            people=people,
            place=form.id("place", "place") if form.scalar("place") else known.place,
            tools=_names(form, "tools"),
            methods=_names(form, "methods"),
            clips=clips,
            fasteners=tuple(_fastener_set(form, fields) for fields in form.rows("fasteners")),
            torque=tuple(row for fields in form.rows("torque") if (row := _torque_setting(form, fields))),
            materials=form.ids("materials", "material"),
            answers=_answers(form),
            videos=tuple(scalar.text.strip() for scalar in form.texts("video") if _is_address(scalar, notes)),
            draft=form.held_back("draft"),
            titled=told.titled,
        )
        _check_assembly(form, entry)
    return None if watch.failed else entry


def _day(form: Form, folder: Folder) -> date | None:
    """The date, or the one that the folder's name begins with; None with an error."""
    named = re.match(r"\d{4}-\d{2}-\d{2}(?!\d)", folder.id)
    if named and form.value("date") is None and not form.fields.lost("date"):
        return parse_date(named[0], form.place("date"), form.notes)
    return form.date("date") if form.required("date") else None


def said_by_all(told: Told, folder: Folder, photos: tuple[Photo, ...]) -> dict[str, Any]:
    """What entries, inspections and measurements all say, by field. None under `date` only where an error is noted."""
    form = told.form
    return {
        "id": folder.id,
        "src_uri": folder.file,
        "date": _day(form, folder),
        "title": told.title,
        "assembly": form.id("assembly", "assembly"),
        "steps": form.steps("steps"),
        "photos": photos,
        "private": form.held_back("private"),
        "formerly": form.former_names(),
        "body": told.body,
        "body_line": told.body_line,
        "where": form.inner_places("photos", "answers"),
    }


def _check_assembly(form: Form, entry: Entry) -> None:
    for key, ids in (("steps", entry.steps), ("begun", entry.begun), ("redone", entry.redone)):
        for step in ids:
            owner = form.known.steps[step].assembly
            if entry.assembly is not None and owner != entry.assembly:
                said = f'step {step} belongs to "{owner}", this entry to "{entry.assembly}"'
                hint = "two assemblies on a day are two entries"
                form.notes.finding(form.place(key), "step-elsewhere", said, hint)


def _people_and_time(form: Form, day: date | None) -> tuple[tuple[str, ...], tuple[WorkedTime, ...], int]:
    """Who worked, how long each of them, and how long the session lasted."""
    known = form.known
    given = form.ids("people", "person") if form.values.get("people") is not None else None
    people = given if given is not None else known.builders
    node = form.value("hours")
    if node is None:
        if not form.fields.lost("hours"):
            said = "no hours are given; the entry adds nothing to the totals"
            hint = "add `hours: 3:15` or `hours: 18:30-21:45`"
            form.notes.finding(form.places.get("hours") or form.place("date"), "no-hours", said, hint)
        return people, (), 0
    read = parse_hours(node, day, given, known, form.notes)
    if read is None or day is None:
        return people, (), 0
    time, people = read
    return people, time, elapsed_minutes(day, time, known.zone)


def _names(form: Form, key: str) -> tuple[str, ...]:
    """Short names, each once by `fold_name`, as first written."""
    names: dict[str, str] = {}
    in_one = isinstance(form.value(key), Scalar)
    for scalar in form.texts(key):
        # `rivet gun, bucking bar` on the key's own line are two; an item of a list, and text in quotes, keep commas.
        apart = in_one and not scalar.quoted
        for name in re.split(r"[,;](?=\s|$)", scalar.text) if apart else [scalar.text]:
            if text := " ".join(name.split()):
                names.setdefault(fold_name(text), text)
    return tuple(names.values())


def _hardware(
    form: Form, fields: Fields, names: tuple[str, ...], *keys: str
) -> tuple[Form, Scalar | None, dict[str, Any]]:
    """(the form of a row, its part by any of `names`, what rivets and bolts both say)."""
    both = ("grip", "count", "step", "called_for", "source", "checked_by", "drilled_out")
    inner = form.inner(fields, *names, *keys, *both)
    name = next((name for name in names if inner.value(name) is not None), names[0])
    part = inner.required(name)
    return (
        inner,
        part,
        {
            "grip": _length(inner, "grip"),
            "count": inner.parsed("count", parse_whole, "bad-number", "a whole number", "write it like 48"),
            "step": inner.id("step", "step"),
            "called_for": read_called_for(inner, names[0], form.known.edition),
            "source": inner.text("source"),
            "checked_by": inner.ids("checked_by", "person"),
            "drilled_out": _drilled_out(inner),
            "where": part.where if part else None,
        },
    )


def _drilled_out(form: Form) -> str | None:
    """The entry that a row names: whether there is one is not known while entries are read."""
    scalar = form.scalar("drilled_out")
    name = scalar.text.strip() if scalar else ""
    if scalar and name:
        form.notes.name("entry", name, name, scalar.where)
    return name or None


def _length(form: Form, key: str) -> Quantity | None:
    return form.parsed(key, parse_length, "bad-length", "a length", LENGTH_HINT)


def _fastener_set(form: Form, fields: Fields) -> FastenerSet:
    inner, part, both = _hardware(form, fields, RIVET_NAMES, "shop_head", "edge", "hole")
    head = inner.parsed("shop_head", parse_head, "bad-length", "the size of a shop head", HEAD_HINT)
    return FastenerSet(
        **both,
        rivet=part.text.strip() if part else "",
        shop_head_width=head[0] if head else None,
        shop_head_height=head[1] if head else None,
        edge=_length(inner, "edge"),
        hole=inner.text("hole"),
    )


def _torque_setting(form: Form, fields: Fields) -> TorqueSetting | None:
    inner, bolt, both = _hardware(form, fields, BOLT_NAMES, "nut", "value", "drag", "wrench", "locked", "threads")
    inner.required("value")
    value, drag = (inner.parsed(key, parse_torque, "bad-torque", "a torque", TORQUE_HINT) for key in ("value", "drag"))
    nut = inner.scalar("nut")
    if nut and (odd := odd_nut_word(nut.text)):
        guess = nearest(odd, NUT_WORDS)
        hint = f'did you mean "{guess}"?' if guess else f"write its part number, or of: {', '.join(sorted(NUT_WORDS))}"
        mend = (odd, guess) if guess else None
        form.notes.error(nut.where, "bad-nut", f'"{nut.text}" is not a known nut', hint, mend)
    if bolt is None or value is None:
        return None
    both |= {key: inner.text(key) for key in ("nut", "wrench", "locked", "threads")}
    return TorqueSetting(**both, bolt=bolt.text.strip(), value=value, drag=drag)


RIVET_NAMES, BOLT_NAMES = ("rivet", "part", "screw", "nutplate"), ("bolt", "part", "screw", "fitting")
"""The keys that may name the part of a row."""

NUT_WORDS = frozenset(
    {"tension", "shear", "castle", "castellated", "slotted", "plain", "self-locking", "locking", "thin", "nutplate"}
    | {"clinch", "check", "jam", "wing", "none"}
)


def odd_nut_word(text: str) -> str:
    """The first word of a nut that nobody knows; empty where all are known, or it is a part number (with a figure)."""
    if re.search(r"[0-9]", text):
        return ""
    folded = re.sub(r"\bself[ -]?lock(?:ing)?\b", "self-locking", text.casefold())
    words = re.split(r"[\s,;]+", re.sub(r"\b(?:nut plate|anchor nut|plate nut)\b", "nutplate", folded).strip())
    return next((word for word in words if word not in NUT_WORDS | {"nut", "and", "with", "a", "pin"}), "")


def _answers(form: Form) -> dict[str, str]:
    fields = form.fields_under("answers")
    answers = {}
    for key, node in fields.pairs if fields else ():
        if isinstance(node, Scalar) and node.text.strip():
            answers[key.text.strip()] = " ".join(node.text.split())
        else:
            said = f'the answer to "{key.text}" is missing'
            form.notes.error(node.where, "answer-empty", said, "say in a sentence why it is so")
    return answers


def _is_address(scalar: Scalar, notes: Notes) -> bool:
    """Whether this is the address of a video; an error says if not."""
    address = scalar.text.strip()
    try:
        parts = urlsplit(address)
        good = parts.scheme in ("http", "https") and bool(parts.hostname) and not re.search(r"\s", address)
    except ValueError:
        good = False
    if not good:
        said = f'"{address}" is not the address of a video'
        notes.error(scalar.where, "bad-video", said, "write it from https:// on")
    return good
