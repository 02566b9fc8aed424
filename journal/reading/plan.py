"""build.yml: what is being built, by whom, where, in which assemblies."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from decimal import Decimal, InvalidOperation
from functools import partial
from importlib.resources import files
from pathlib import Path
from types import MappingProxyType
from zoneinfo import ZoneInfo, available_timezones

from babel import Locale, UnknownLocaleError
from babel.localedata import locale_identifiers

from journal.base.model import (
    Aircraft,
    Airframe,
    Assembly,
    AuthorityRule,
    AuthorityRules,
    Build,
    Cabin,
    ClosingInspections,
    Construction,
    Corner,
    EnginePlace,
    Person,
    PhotoSettings,
    Place,
    Role,
    Seats,
    TailShape,
    Units,
    Wheels,
    WingPlace,
)
from journal.base.problems import did_you_mean
from journal.base.quantities import LENGTH_HINT, MM_PER_INCH, parse_length
from journal.reading.form import NO, Form, check_former_names
from journal.reading.hours import parse_duration
from journal.reading.text import Notes, read_text
from journal.reading.tree import Fields, Scalar, parse_yaml

KEYS = (
    "rules",
    *("aircraft", "begun", "zone", "closing_inspections", "show", "write_to", "about"),
    *("construction", "units", "language"),
    *("people", "places", "assemblies", "photos", "clips", "manual", "drawing"),
)
SHOWABLE = ("places", "registration", "serial")
CONSTRUCTIONS = tuple(way.value for way in Construction)


def read_plan(path: Path, notes: Notes, notes_of: Callable[[str], Notes]) -> tuple[Build, bool]:
    """(a build with nothing but what build.yml says, whether its lists of IDs could be read in full). `notes_of`
    gives the notes of another file that it names.
    """
    with notes.watching() as watch:
        text = read_text(path, notes)
        if text is None:
            return Build(aircraft=Aircraft(name="")), False
        form = Form(parse_yaml(text, notes), notes, KEYS)
        people = {identifier: _person(identifier, inner) for identifier, inner in _listed(form, "people", "name")}
        places = {
            identifier: Place(id=identifier, name=inner.text("name", identifier))
            for identifier, inner in _listed(form, "places", "name")
        }
        assembly_forms = dict(_listed(form, "assemblies", "title"))
        assemblies = {identifier: _assembly(identifier, inner) for identifier, inner in assembly_forms.items()}
        check_former_names(
            (
                (one.id, one.formerly, partial(notes.error, assembly_forms[one.id].place("formerly")))
                for one in assemblies.values()
            ),
            assemblies,
        )
        if "people" not in form.values:
            form.lacks("people", "add `people: {ID: {name: …, role: builder}}`")
        if not isinstance(form.values.get("assemblies"), Fields):
            form.lacks("assemblies", "add `assemblies: {ID: {title: …}}`")
    rules = _rules(form, path.parent, notes_of)
    plan = Build(
        aircraft=_aircraft(form),
        begun=form.date("begun"),
        zone=_zone(form),
        closing_inspections=form.choice("closing_inspections", ClosingInspections)
        or ClosingInspections(rules.closing.says if rules.closing else "recommended"),
        rules=rules,
        about=form.text("about"),
        write_to=form.parsed("write_to", _parse_address, "bad-write-to", "an address", _ADDRESS_HINT) or "",
        shows=frozenset(_chosen(form, "show", SHOWABLE)),
        construction=frozenset(map(Construction, _chosen(form, "construction", CONSTRUCTIONS)))
        or frozenset({Construction.METAL}),
        units=form.choice("units", Units) or Units.INCHES,
        language=_language(form),
        people=MappingProxyType(people),
        places=MappingProxyType(places),
        assemblies=MappingProxyType(assemblies),
        photo_settings=_photo_settings(form),
        clip_budget_bytes=_clip_budget(form),
        airframe=_airframe(form),
        manual_edition=_manual_edition(form),
    )
    return plan, not watch.failed


def _manual_edition(form: Form) -> str:
    """The edition of the kit's manual: `manual: {edition: 3}`, or the bare text."""
    if isinstance(form.value("manual"), Scalar):
        return form.text("manual")
    fields = form.fields_under("manual")
    return form.inner(fields, "edition").text("edition") if fields else ""


LISTED = {"people": "person", "places": "place", "assemblies": "assembly"}
"""The lists of build.yml, and what one of each is called."""

_LISTED = {
    "people": ("name", "shown_as", "role"),
    "places": ("name",),
    "assemblies": ("title", "planned_hours", "counts", "formerly", "shape"),
}


def _listed(form: Form, key: str, short: str) -> Iterator[tuple[str, Form]]:
    """(ID, form) for each row of a mapping ID -> {…}; a bare text is taken for its `short` key."""
    fields = form.fields_under(key)
    for name, node in fields.pairs if fields else ():
        if not name.text.strip():
            form.notes.error(name.where, "id-missing", f'an ID in "{key}" is empty', "give it a short name")
            continue
        form.notes.name(LISTED[key], name.text.strip(), name.text.strip(), name.where)
        if isinstance(node, Scalar):
            pairs = ((Scalar(text=short, where=node.where), node),) if node.text.strip() else ()
            node = Fields(pairs=pairs, where=node.where)
        if isinstance(node, Fields):
            yield name.text.strip(), form.inner(node, *_LISTED[key])
        else:
            said = f'"{name.text}" takes `{{{short}: …}}`'
            form.notes.error(node.where, "not-a-mapping", said, "write it in braces")


def _person(identifier: str, form: Form) -> Person:
    return Person(
        id=identifier,
        name=form.text("name", identifier),
        role=form.choice("role", Role) or Role.BUILDER,
        shown_as=form.text("shown_as") or None,
    )


def _assembly(identifier: str, form: Form) -> Assembly:
    return Assembly(
        id=identifier,
        title=form.text("title", identifier),
        planned_minutes=form.parsed(
            "planned_hours", parse_duration, "bad-hours", "a number of hours", "write 60 or 62:30"
        ),
        counts=form.flag("counts", default=True),
        formerly=form.former_names(),
        shapes=read_shapes(form.texts("shape"), form.notes.error),
    )


def read_shapes(texts: Iterable[Scalar], note: Callable[..., None]) -> tuple[str, ...]:
    """The shapes that are named; one that names nothing known is noted with `note`."""
    shapes = []
    for scalar in texts:
        from journal.base.shapes import shape_trouble  # late: most builds name none

        if hint := shape_trouble(scalar.text):
            note(scalar.where, "unknown-shape", f'"{scalar.text}" names no part of a drawn aircraft', hint)
        else:
            shapes.append(scalar.text.strip())
    return tuple(shapes)


SHORTEST, LONGEST = 2, 100
"""Metres of a span or a length that are taken for one."""


def _airframe(form: Form) -> Airframe | None:
    """What the aircraft is drawn as: `drawing:`, perhaps with nothing behind it; None where it is not there."""
    if "drawing" not in form.values:
        return None
    fields = form.fields_under("drawing")
    if fields is None:
        return Airframe()
    inner = form.inner(fields, "wing", "struts", "tail", "wheels", "engine", "seats", "cabin", "span", "length")

    def metres(key: str) -> float:
        read = inner.parsed(key, parse_length, "bad-length", "a length", LENGTH_HINT)
        told = float(read.value * MM_PER_INCH / 1000) if read else 0.0
        if read and not SHORTEST <= told <= LONGEST:
            said = f'"{inner.text(key)}" is not the {key} of an aircraft'
            hint = f"write {SHORTEST} to {LONGEST} m, such as `{key}: 8.4 m` or `27 ft`"
            form.notes.error(inner.place(key), "bad-length", said, hint)
        return told if SHORTEST <= told <= LONGEST else 0.0

    return Airframe(
        wing=inner.choice("wing", WingPlace) or WingPlace.LOW,
        struts=inner.flag("struts") if "struts" in inner.values else None,
        tail=inner.choice("tail", TailShape) or TailShape.PLAIN,
        wheels=inner.choice("wheels", Wheels) or Wheels.FRONT,
        engine=inner.choice("engine", EnginePlace) or EnginePlace.FRONT,
        seats=inner.choice("seats", Seats) or Seats.BESIDE,
        cabin=inner.choice("cabin", Cabin),
        span=metres("span"),
        length=metres("length"),
    )


def _aircraft(form: Form) -> Aircraft:
    fields = form.fields_under("aircraft")
    if fields is None:
        if "aircraft" not in form.values:
            form.lacks("aircraft", "add `aircraft: {name: …}`")
        return Aircraft(name="")
    inner = form.inner(fields, "name", "kind", "registration", "serial")
    inner.required("name")
    return Aircraft(**{key: inner.text(key) for key in ("name", "kind", "registration", "serial")})


COUNTRIES = ("us", "ca", "uk", "au", "eu")
_SHIPPED = Path(str(files("journal"))) / "data/rules"
_STATED = ("tally", "people", "inspections", "signatures", "papers")


def _rules(form: Form, content: Path, notes_of: Callable[[str], Notes]) -> AuthorityRules:
    """The rules that build.yml names: those of a country that come with the journal, or a file in content/."""
    notes = Notes("practice")
    text = read_text(_SHIPPED / "practice.yml", notes)
    practice = _stated(Form(parse_yaml(text or "", notes), notes, ("papers",)), "papers")
    scalar = form.scalar("rules")
    name = scalar.text.strip() if scalar else ""
    if scalar is None or name.casefold() in NO:
        return AuthorityRules(practice=practice)
    if name.casefold() in COUNTRIES:
        path, notes = _SHIPPED / f"{name.casefold()}.yml", Notes(name)
    elif name == Path(name).name and (content / name).is_file():
        path, notes = content / name, notes_of(f"content/{name}")
    else:
        said = f'"{name}" is neither a country known here nor a file in content/'
        form.notes.error(scalar.where, "bad-rules", said, f"write {', '.join(COUNTRIES)}, or a file like rules.yml")
        return AuthorityRules(practice=practice)
    text = read_text(path, notes)
    if text is None:
        return AuthorityRules(practice=practice)
    told = Form(parse_yaml(text, notes), notes, ("country", "share", "closing_inspections", *_STATED))
    share, closing = _stated(told, "share"), _stated(told, "closing_inspections")
    kinds = [kind.value for kind in ClosingInspections]
    if closing and closing[0].says not in kinds:
        said = f'"{closing[0].says}" says nothing known of closing inspections'
        notes.error(told.place("closing_inspections"), "bad-rules", said, f"write one of: {', '.join(kinds)}")
        closing = ()
    return AuthorityRules(
        country=told.text("country", name),
        share=share[0] if share else None,
        closing=closing[0] if closing else None,
        practice=practice,
        **{key: _stated(told, key) for key in _STATED},
    )


def _stated(form: Form, key: str) -> tuple[AuthorityRule, ...]:
    """The statements under `key`; one without a source is a finding, and is not listed."""
    rules = []
    for row in form.rows(key):
        inner = form.inner(row, "says", "source", "kind")
        says, source = inner.required("says"), inner.text("source")
        if says and source:
            rules.append(AuthorityRule(says=says.text.strip(), source=source, kind=inner.text("kind")))
        elif says:
            said, hint = f'"{says.text}" has no source and is not listed', "add `source: …`, what it was read in"
            form.notes.finding(says.where, "no-source", said, hint)
    return tuple(rules)


def _zone(form: Form) -> str | None:
    scalar = form.scalar("zone")
    if scalar is None:
        return None
    name = scalar.text.strip()
    try:
        return ZoneInfo(name).key
    except (KeyError, ValueError, OSError):
        # ZoneInfoNotFoundError is a KeyError; odd names raise the others while looking for a file.
        hint = did_you_mean(name, sorted(available_timezones()), "write one like Europe/Zurich")
        form.notes.error(scalar.where, "unknown-zone", f'"{name}" is not the name of a time zone', hint)
        return None


def _language(form: Form) -> str:
    """The language that the builder writes in, as a BCP 47 tag in its usual spelling; empty where none is told."""
    scalar = form.scalar("language")
    if scalar is None:
        return ""
    name = scalar.text.strip().replace("_", "-")
    try:
        return str(Locale.parse(name, sep="-")).replace("_", "-")
    except (ValueError, UnknownLocaleError):
        known = [identifier.replace("_", "-") for identifier in locale_identifiers()]
        hint = did_you_mean(name, sorted(known), "write a tag such as de, pl or en-GB")
        form.notes.error(scalar.where, "bad-language", f'"{name}" is not the tag of a language', hint)
        return ""


def _chosen(form: Form, key: str, words: Sequence[str]) -> tuple[str, ...]:
    """Those of a closed list of words that stand under `key`; another word is an error."""
    chosen = []
    for scalar in form.texts(key):
        name = " ".join(scalar.text.casefold().split())
        if name in words:
            chosen.append(name)
        else:
            said = f'"{scalar.text}" is not among the words for "{key}"'
            form.notes.error(scalar.where, f"bad-{key}", said, did_you_mean(name, words))
    return tuple(chosen)


_ADDRESS_HINT = "write a mail address (name@example.org), or one that begins with https://"


def _parse_address(text: str) -> str | None:
    """A mail address, or one of the web; RFC 5321 lets no more than 254 letters through."""
    mail = re.fullmatch(r"[^\s@<>\"',;:()]+@[\w-]+(?:\.[\w-]+)+", text)
    web = re.fullmatch(r"https://[\w-]+(?:\.[\w-]+)+(?::[0-9]+)?(?:[/?#][^\s<>\"]*)?", text)
    return text if (mail and len(text) <= 254) or web else None


def _photo_settings(form: Form) -> PhotoSettings:
    fields = form.fields_under("photos")
    if fields is None:
        return PhotoSettings()
    inner = form.inner(fields, "watermark", "corner", "opacity")
    opacity = inner.parsed("opacity", _parse_share, "bad-number", "a number from 0 to 1", "write it like 0.6")
    return PhotoSettings(
        watermark=inner.text("watermark"),
        corner=inner.choice("corner", Corner) or Corner.LOWER_RIGHT,
        opacity=PhotoSettings().opacity if opacity is None else opacity,
    )


def _parse_share(text: str) -> Decimal | None:
    try:
        share = Decimal(text)
    except InvalidOperation:
        return None
    return share if share.is_finite() and 0 <= share <= 1 else None


def _clip_budget(form: Form) -> int:
    """What the clips of one entry may weigh on the site."""
    fields = form.fields_under("clips")
    inner = form.inner(fields, "budget") if fields else None
    budget = inner.parsed("budget", _parse_megabytes, "bad-budget", "a size", "write it like 50 MB") if inner else None
    return 50_000_000 if budget is None else budget


def _parse_megabytes(text: str) -> int | None:
    match = re.fullmatch(r"([0-9]{1,6})\s*MB", text, re.IGNORECASE)
    return int(match[1]) * 1_000_000 if match else None
