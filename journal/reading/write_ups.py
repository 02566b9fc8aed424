"""What is written up beside the entries: inspections and measurements, a folder for each. Source: docs/format.md,
Inspection front matter and Measurement front matter.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

from journal.base.addresses import fold_name
from journal.base.model import (
    BalanceLimit,
    Inspection,
    InspectionFinding,
    Load,
    LoadCase,
    MeasuredResult,
    Measurement,
    Outcome,
    Weighing,
)
from journal.base.quantities import Dimension, parse_quantity
from journal.reading.callouts import read_called_for
from journal.reading.entries import Examined, said_by_all
from journal.reading.folders import Folder, Told, read_photos, read_told
from journal.reading.form import Form, KnownIds
from journal.reading.text import Notes
from journal.reading.tree import Fields

_SAID_BY_BOTH = ("title", "date", "assembly", "steps", "photos", "private", "formerly")
INSPECTION_KEYS = (*_SAID_BY_BOTH, "stage", "inspector", "outcome", "findings")
WEIGHING_KEYS = ("datum", "scales", "corrections", "equipment", "limits", "max_weight", "cases")
MEASUREMENT_KEYS = (*_SAID_BY_BOTH, "kind", "instrument", "measured_by", "checked_by", "results", *WEIGHING_KEYS)


def read_inspection(root: Path, folder: Folder, known: KnownIds, examined: Examined, notes: Notes) -> Inspection | None:
    """One inspection, or None where errors (in `notes`) make it unusable."""
    with notes.watching() as watch:
        told = read_told(root / folder.file, folder.id, notes, INSPECTION_KEYS, known)
        if told is None:
            return None
        form = told.form
        if form.value("assembly") is None and "steps" not in form.values:
            said = "neither `assembly` nor `steps` says what was inspected"
            notes.error(form.fields.where, "key-missing", said, "add one of them")
        # Where it is missing an error is noted, and the inspection is not used.
        outcome: Any = form.choice("outcome", Outcome) if form.required("outcome") else None
        inspection = Inspection(
            **_said_by_both(told, folder, examined, root, "inspector"),
            outcome=outcome,
            stage=form.text("stage"),
            findings=_findings(form),
        )
    return None if watch.failed else inspection


def read_measurement(
    root: Path, folder: Folder, known: KnownIds, examined: Examined, notes: Notes
) -> Measurement | None:
    """One measurement, or None where errors (in `notes`) make it unusable."""
    with notes.watching() as watch:
        told = read_told(root / folder.file, folder.id, notes, MEASUREMENT_KEYS, known)
        if told is None:
            return None
        form = told.form
        weighed = any(form.value(key) is not None for key in WEIGHING_KEYS)
        if not weighed and form.value("results") is None:
            form.lacks("results", "add rows: `- {what: …, value: …}`")
        measurement = Measurement(
            **_said_by_both(told, folder, examined, root, "measured_by"),
            kind=form.text("kind", "weighing" if weighed else "measurement"),
            instrument=form.text("instrument"),
            checked_by=form.ids("checked_by", "person"),
            results=tuple(_result(form, fields) for fields in form.rows("results")),
            weighing=_weighing(form) if weighed else None,
        )
    return None if watch.failed else measurement


def _said_by_both(told: Told, folder: Folder, examined: Examined, root: Path, signed: str) -> dict[str, Any]:
    """What inspections and measurements both say, by field; `signed` is the key of those who answer for it."""
    form = told.form
    photos, clips = read_photos(told, folder, examined, root)
    what = "an inspection" if signed == "inspector" else "a measurement"
    for clip in clips:
        said = f'"{clip.name}" is a film, and {what} shows none'
        form.notes.finding(None, "unknown-file", said, "put it into the folder of an entry")
    if form.value(signed) is None:
        form.lacks(signed, f"add `{signed}: …`")
    return {**said_by_all(told, folder, photos), "people": form.ids(signed, "person")}


def _findings(form: Form) -> tuple[InspectionFinding, ...]:
    findings: dict[str, InspectionFinding] = {}
    for number, fields in enumerate(form.rows("findings"), start=1):
        inner = form.inner(fields, "id", "text", "closed_on", "closed_by", "signed_by", "checked_by")
        inner.required("text")
        found = InspectionFinding(
            id=inner.text("id", str(number)),
            text=inner.text("text"),
            closed_on=inner.date("closed_on"),
            closed_by=inner.id("closed_by", "entry"),
            signed_by=inner.ids("signed_by", "person"),
            checked_by=inner.ids("checked_by", "person"),
            where=fields.where,
        )
        if found.id in findings:
            form.notes.error(fields.where, "finding-twice", f'finding "{found.id}" is there twice', "number it anew")
        findings.setdefault(found.id, found)
    return tuple(findings.values())


def _result(form: Form, fields: Fields) -> MeasuredResult:
    inner = form.inner(fields, "what", "value", "called_for", "note")
    what, value = inner.required("what"), inner.required("value")
    name = fold_name(what.text) if what else ""
    return MeasuredResult(
        what=what.text.strip() if what else "",
        value=value.text.strip() if value else "",
        called_for=read_called_for(inner, name, form.known.edition),
        note=inner.text("note"),
        where=fields.where,
    )


# ---------------------------------------------------------------- weighing


def _weighing(form: Form) -> Weighing:
    form.required("datum")
    if form.value("scales") is None:
        form.lacks("scales", "add rows: `- {at: left main wheel, weight: 402 lb, arm: 22 in}`")
    return Weighing(
        datum=form.text("datum"),
        scales=tuple(_load(form, fields, "at", "tare") for fields in form.rows("scales")),
        corrections=tuple(_load(form, fields) for fields in form.rows("corrections")),
        equipment=tuple(_load(form, fields, "what", "fitted") for fields in form.rows("equipment")),
        limits=_limits(form),
        max_weight=_figure(form, "max_weight", Dimension.WEIGHT),
        cases=tuple(_case(form, fields) for fields in form.rows("cases")),
    )


def _case(form: Form, fields: Fields) -> LoadCase:
    inner = form.inner(fields, "name", "add")
    inner.required("name")
    loads = tuple(_load(inner, load) for load in inner.rows("add"))
    return LoadCase(name=inner.text("name"), loads=loads, where=fields.where)


def _load(form: Form, fields: Fields, name: str = "what", *more: str) -> Load:
    """A weight at an arm; nought stands for what is missing, with an error."""
    inner = form.inner(fields, name, "weight", "arm", *more)
    for key in (name, "weight", "arm"):
        inner.required(key)
    return Load(
        what=inner.text(name),
        weight=_figure(inner, "weight", Dimension.WEIGHT) or Fraction(0),
        arm=_figure(inner, "arm", Dimension.LENGTH) or Fraction(0),
        tare=_figure(inner, "tare", Dimension.WEIGHT) or Fraction(0),
        fitted=inner.flag("fitted", default=True),
    )


def _limits(form: Form) -> tuple[BalanceLimit, ...]:
    """The rows of the limits by weight; with several each needs its own weight."""
    rows = form.rows("limits")
    limits = []
    for fields in rows:
        inner = form.inner(fields, "weight", "forward", "aft")
        for key in ("forward", "aft", *(["weight"] if len(rows) > 1 else [])):
            inner.required(key)
        weight = _figure(inner, "weight", Dimension.WEIGHT)
        forward, aft = (_figure(inner, key, Dimension.LENGTH) for key in ("forward", "aft"))
        if forward is not None and aft is not None:
            limits.append(BalanceLimit(weight=weight, forward=forward, aft=aft))
            if forward > aft:
                said = "the forward limit lies aft of the aft limit"
                form.notes.error(fields.where, "limits-crossed", said, "exchange the two")
    return tuple(sorted(limits, key=lambda limit: limit.weight or 0))


_UNITS = {
    Dimension.WEIGHT: ("bad-weight", "a weight", "write a weight with its unit, as 402 lb or 182.5 kg"),
    Dimension.LENGTH: ("bad-arm", "an arm", "write an arm with its unit, as 22 in, -3.5 in or 560 mm"),
}


def _figure(form: Form, key: str, dimension: Dimension) -> Fraction | None:
    """A weight in pounds or an arm in inches, perhaps below nought; no unit is an error, since both are told in two."""

    def parse(text: str) -> Fraction | None:
        sign = -1 if text[:1] in ("-", "\N{MINUS SIGN}") else 1
        figure = parse_quantity(text.lstrip("+-\N{MINUS SIGN} "))
        return sign * figure.value if figure and figure.dimension is dimension else None

    return form.parsed(key, parse, *_UNITS[dimension])
