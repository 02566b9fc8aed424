"""Inspections: a folder for each look by somebody else. Source: docs/format.md."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from journal.base.model import Inspection, InspectionFinding, Outcome
from journal.reading.entries import Known, read_step_ids
from journal.reading.folders import Examine, Folder, check_private_blocks, read_photos, split_front_matter, title_of
from journal.reading.form import Form, known_id
from journal.reading.text import Notes, read_text
from journal.reading.tree import Fields

KEYS = ("title", "date", "assembly", "steps", "stage", "inspector", "outcome", "findings", "photos", "private")


def read_inspection(
    root: Path,
    folder: Folder,
    known: Known,
    entries: Mapping[str, object] | None,
    examine: Examine,
    notes: Notes,
) -> Inspection | None:
    """One inspection, or None where errors (in `notes`) make it unusable.

    `entries` are the IDs that `closed_by` may name, None where they cannot be checked.
    """
    with notes.watching() as watch:
        text = read_text(root / folder.uri / "index.md", notes)
        split = split_front_matter(text, notes) if text is not None else None
        if split is None:
            return None
        form = Form(split.fields, notes, KEYS)
        plan = known.plan
        day = form.date("date") if form.required("date") else None
        assembly_scalar = form.scalar("assembly")
        assembly = (
            known_id(assembly_scalar, "assembly", plan.assemblies if plan.whole else None, notes)
            if assembly_scalar
            else None
        )
        steps = read_step_ids(form.texts("steps"), known, notes)
        if assembly_scalar is None and "steps" not in form.values:
            notes.error(
                split.fields.where,
                "key-missing",
                "neither `assembly` nor `steps` says what was looked at",
                "add one of them",
            )
        inspector_scalar = form.required("inspector")
        inspector = known_id(inspector_scalar, "person", known.people, notes) if inspector_scalar else None
        outcome = form.choice("outcome", Outcome) if form.required("outcome") else None
        findings = _findings(form, entries, notes)
        title, body = title_of(form, split, folder.id)
        photos, _ = read_photos(
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
        private = form.flag("private")
    if watch.failed or day is None or outcome is None or inspector is None or inspector not in plan.people:
        return None
    if assembly is not None and assembly not in plan.assemblies:
        return None
    return Inspection(
        id=folder.id,
        src_uri=f"{folder.uri}/index.md",
        date=day,
        title=title,
        assembly=assembly,
        steps=steps,
        stage=form.text("stage"),
        inspector=inspector,
        outcome=outcome,
        findings=findings,
        photos=photos,
        private=private,
        body=body,
        body_line=split.body_line,
        where=form.inner_places("photos"),
    )


def _findings(form: Form, entries: Mapping[str, object] | None, notes: Notes) -> tuple[InspectionFinding, ...]:
    findings: dict[str, InspectionFinding] = {}
    for number, fields in enumerate(form.rows("findings"), start=1):
        found = _finding(fields, number, entries, notes)
        if found.id in findings:
            notes.error(fields.where, "finding-twice", f'finding "{found.id}" is there twice', "number it anew")
        findings.setdefault(found.id, found)
    return tuple(findings.values())


def _finding(fields: Fields, number: int, entries: Mapping[str, object] | None, notes: Notes) -> InspectionFinding:
    form = Form(fields, notes, ("id", "text", "closed_on", "closed_by"))
    text = form.required("text")
    closed_by = form.scalar("closed_by")
    return InspectionFinding(
        id=form.text("id", str(number)),
        text=text.text.strip() if text else "",
        closed_on=form.date("closed_on"),
        closed_by=known_id(closed_by, "entry", entries, notes) if closed_by else None,
        where=fields.where,
    )
