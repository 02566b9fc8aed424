"""build.yml and steps.csv: what is being built, by whom, in which steps."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from pathlib import Path
from types import MappingProxyType
from zoneinfo import ZoneInfo, available_timezones

from journal.base.model import (
    Aircraft,
    Assembly,
    ClosingInspections,
    Corner,
    Person,
    PhotoSettings,
    Place,
    Role,
    Step,
)
from journal.base.problems import did_you_mean
from journal.reading.form import Form
from journal.reading.hours import parse_duration
from journal.reading.table import read_table
from journal.reading.text import Notes, read_text
from journal.reading.tree import Fields, Scalar, parse_yaml

CLIP_BUDGET_BYTES = 50_000_000
"""What the clips of one entry may weigh on the site where build.yml says nothing."""

KEYS = (
    *("aircraft", "begun", "zone", "closing_inspections", "show"),
    *("people", "places", "assemblies", "photos", "clips"),
)
SHOWABLE = ("places", "registration", "serial")


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """build.yml, checked. `whole` is False where a list of IDs could not be read in full: then
    IDs elsewhere are not held against it, or one slip would be told a hundred times."""

    aircraft: Aircraft
    begun: date | None = None
    zone: ZoneInfo | None = None
    closing_inspections: ClosingInspections = ClosingInspections.RECOMMENDED
    shows: frozenset[str] = frozenset()
    people: Mapping[str, Person] = field(default_factory=lambda: MappingProxyType({}))
    places: Mapping[str, Place] = field(default_factory=lambda: MappingProxyType({}))
    assemblies: Mapping[str, Assembly] = field(default_factory=lambda: MappingProxyType({}))
    photo_settings: PhotoSettings = field(default_factory=PhotoSettings)
    clip_budget_bytes: int = CLIP_BUDGET_BYTES
    whole: bool = True


def read_plan(path: Path, notes: Notes) -> Plan:
    """Read build.yml; every mistake becomes an error in `notes`."""
    with notes.watching() as watch:
        text = read_text(path, notes)
        if text is None:
            return Plan(aircraft=Aircraft(name=""), whole=False)
        form = Form(parse_yaml(text, notes), notes, KEYS)
        people = _people(form, notes)
        assemblies = _assemblies(form, notes)
        places = _places(form, notes)
    return Plan(
        aircraft=_aircraft(form, notes),
        begun=form.date("begun"),
        zone=_zone(form, notes),
        closing_inspections=form.choice("closing_inspections", ClosingInspections, ClosingInspections.RECOMMENDED)
        or ClosingInspections.RECOMMENDED,
        shows=_shows(form, notes),
        people=people,
        places=places,
        assemblies=assemblies,
        photo_settings=_photo_settings(form, notes),
        clip_budget_bytes=_clip_budget(form, notes),
        whole=not watch.failed,
    )


def _aircraft(form: Form, notes: Notes) -> Aircraft:
    fields = form.fields_under("aircraft")
    if fields is None:
        if "aircraft" not in form.values and not form.fields.lost("aircraft"):
            notes.error(form.place("aircraft"), "key-missing", '"aircraft" is missing', "add `aircraft: {name: …}`")
        return Aircraft(name="")
    inner = Form(fields, notes, ("name", "kind", "registration", "serial"))
    name = inner.required("name")
    return Aircraft(
        name=name.text.strip() if name else "",
        kind=inner.text("kind"),
        registration=inner.text("registration"),
        serial=inner.text("serial"),
    )


def _zone(form: Form, notes: Notes) -> ZoneInfo | None:
    scalar = form.scalar("zone")
    if scalar is None:
        return None
    name = scalar.text.strip()
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        # ZoneInfoNotFoundError is a KeyError; odd names raise the others while looking for a file.
        hint = did_you_mean(name, sorted(available_timezones()))
        notes.error(
            scalar.where,
            "unknown-zone",
            f'"{name}" is no IANA time zone',
            hint if hint.startswith("did") else "write one like Europe/Zurich",
        )
        return None


def _shows(form: Form, notes: Notes) -> frozenset[str]:
    shows = set()
    for scalar in form.texts("show"):
        if scalar.text.strip() in SHOWABLE:
            shows.add(scalar.text.strip())
        else:
            notes.error(
                scalar.where,
                "bad-show",
                f'"{scalar.text}" is nothing that can be shown',
                did_you_mean(scalar.text, SHOWABLE),
            )
    return frozenset(shows)


def _inner_forms(form: Form, notes: Notes, key: str, known: tuple[str, ...], short: str) -> list[tuple[str, Form]]:
    """(ID, form) for each row of a mapping ID -> {…}; a bare text is taken for its `short` key."""
    fields = form.fields_under(key)
    rows: list[tuple[str, Form]] = []
    for name, node in fields.pairs if fields else ():
        if not name.text.strip():
            notes.error(name.where, "id-missing", f'an ID in "{key}" is empty', "give it a short name")
            continue
        if isinstance(node, Scalar):
            title = Scalar(text=short, where=node.where)
            pairs = ((title, node),) if node.text.strip() else ()
            node = Fields(pairs=pairs, where=node.where)
        if not isinstance(node, Fields):
            notes.error(node.where, "not-a-mapping", f'"{name.text}" takes `{{{short}: …}}`', "write it in braces")
            continue
        rows.append((name.text.strip(), Form(node, notes, known)))
    return rows


def _people(form: Form, notes: Notes) -> Mapping[str, Person]:
    people = {}
    for identifier, inner in _inner_forms(form, notes, "people", ("name", "shown_as", "role"), "name"):
        role = inner.choice("role", Role, Role.BUILDER)
        people[identifier] = Person(
            id=identifier,
            name=inner.text("name", identifier),
            role=role or Role.BUILDER,
            shown_as=inner.text("shown_as") or None,
        )
    if (
        not any(person.role is Role.BUILDER for person in people.values())
        and "people" not in form.values
        and not form.fields.lost("people")
    ):
        notes.error(
            form.place("people"),
            "key-missing",
            '"people" is missing',
            "add `people: {ID: {name: …, role: builder}}`",
        )
    return MappingProxyType(people)


def _places(form: Form, notes: Notes) -> Mapping[str, Place]:
    return MappingProxyType(
        {
            identifier: Place(id=identifier, name=inner.text("name", identifier))
            for identifier, inner in _inner_forms(form, notes, "places", ("name",), "name")
        }
    )


def _assemblies(form: Form, notes: Notes) -> Mapping[str, Assembly]:
    assemblies = {}
    for identifier, inner in _inner_forms(form, notes, "assemblies", ("title", "planned_hours", "counts"), "title"):
        planned = inner.scalar("planned_hours")
        minutes = parse_duration(planned.text.strip()) if planned else None
        if planned and minutes is None:
            notes.error(planned.where, "bad-hours", f'"{planned.text}" is not a number of hours', "write 60 or 62:30")
        assemblies[identifier] = Assembly(
            id=identifier,
            title=inner.text("title", identifier),
            planned_minutes=minutes,
            counts=inner.flag("counts", default=True),
        )
    if not isinstance(form.values.get("assemblies"), Fields) and not form.fields.lost("assemblies"):
        notes.error(
            form.place("assemblies"),
            "key-missing",
            '"assemblies" is missing',
            "add `assemblies: {ID: {title: …}}`",
        )
    return MappingProxyType(assemblies)


def _photo_settings(form: Form, notes: Notes) -> PhotoSettings:
    fields = form.fields_under("photos")
    if fields is None:
        return PhotoSettings()
    inner = Form(fields, notes, ("watermark", "corner", "opacity"))
    opacity = inner.decimal("opacity", Decimal(0), Decimal(1))
    return PhotoSettings(
        watermark=inner.text("watermark"),
        corner=inner.choice("corner", Corner, Corner.LOWER_RIGHT) or Corner.LOWER_RIGHT,
        opacity=PhotoSettings().opacity if opacity is None else opacity,
    )


def _clip_budget(form: Form, notes: Notes) -> int:
    fields = form.fields_under("clips")
    scalar = Form(fields, notes, ("budget",)).scalar("budget") if fields else None
    if scalar is None:
        return CLIP_BUDGET_BYTES
    match = re.fullmatch(r"([0-9]{1,6})\s*MB", scalar.text.strip(), re.IGNORECASE)
    if match is None:
        notes.error(scalar.where, "bad-budget", f'"{scalar.text}" is not a size', "write it like 50 MB")
        return CLIP_BUDGET_BYTES
    return int(match[1]) * 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    """steps.csv, checked; `damaged` are IDs whose row had an error (told once, there)."""

    steps: Mapping[str, Step]
    damaged: frozenset[str] = frozenset()
    whole: bool = True


def read_steps(path: Path, plan: Plan, notes: Notes) -> Steps:
    """Read steps.csv; a build without the file has no steps."""
    if not path.exists():
        return Steps(steps={})
    table = read_table(path, ("assembly", "step", "title"), ("page", "closes", "same_as"), notes)
    steps: dict[str, Step] = {}
    damaged: set[str] = set()
    mirrors = []
    for row in table:
        identifier = table.required(row, "step")
        if identifier is None:
            continue
        with notes.watching() as watch:
            assembly = table.required(row, "assembly")
            title = table.required(row, "title")
            if assembly and assembly not in plan.assemblies and plan.whole:
                hint = did_you_mean(assembly, plan.assemblies)
                table.error(row, "assembly", "unknown-assembly", f'unknown assembly "{assembly}"', hint)
            if identifier in steps:
                table.error(
                    row,
                    "step",
                    "duplicate-step",
                    f'step "{identifier}" is there twice',
                    "give each step one ID",
                )
            if re.search(r"\s+to\s+|[,;]", identifier):
                table.error(
                    row,
                    "step",
                    "bad-step",
                    f'"{identifier}" cannot be a step ID',
                    "leave out ` to `, `,` and `;`",
                )
        if watch.failed or assembly not in plan.assemblies:
            damaged.add(identifier)
            continue
        closes = row.text("closes")
        mirrors.append((row, row.text("same_as")))
        steps[identifier] = Step(
            id=identifier,
            assembly=assembly or "",
            title=title or "",
            page=row.text("page"),
            closes="" if closes.casefold() in {"no", "false", "0", "-", "n"} else closes,
            same_as=row.text("same_as") or None,
        )
    for row, same_as in mirrors:
        if same_as and same_as not in steps and same_as not in damaged:
            table.error(row, "same_as", "unknown-step", f'unknown step "{same_as}"', did_you_mean(same_as, steps))
    return Steps(steps=MappingProxyType(steps), damaged=frozenset(damaged), whole=not notes.errors)
