"""A build in which everything private carries the word `hush`, made of records directly."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

from journal.base.model import (
    Aircraft,
    Assembly,
    AuthorityRule,
    AuthorityRules,
    BalanceLimit,
    Build,
    Bulletin,
    CalibratedTool,
    Clip,
    Corner,
    Cost,
    Entry,
    FastenerSet,
    FreePage,
    Inspection,
    InspectionFinding,
    InventoryItem,
    Load,
    Material,
    MeasuredResult,
    Measurement,
    Outcome,
    Person,
    Photo,
    PhotoFacts,
    PhotoSettings,
    Place,
    Record,
    Role,
    Step,
    Task,
    Term,
    TorqueSetting,
    Weighing,
    WorkedTime,
)
from journal.base.quantities import Dimension, Quantity
from journal.ledger.evidence import find_gaps
from journal.ledger.hours import build_ledger
from journal.ledger.journal import Journal
from journal.ledger.progress import replay
from journal.view.view import Audience, View, open_view

MARKER = "hush"
TODAY = date(2026, 7, 1)

PEOPLE = {
    person.id: person
    for person in (
        Person(id="hush-ada", name="Ada Hush", role=Role.BUILDER, shown_as="Ada"),
        Person(id="hush-bo", name="Bo Hush", role=Role.BUILDER),
        Person(id="hush-cy", name="Cy Hush", role=Role.BUILDER),
        Person(id="hush-pim", name="Pim Hush", role=Role.PAID),
        Person(id="hush-ines", name="Ines Hush", role=Role.INSPECTOR),
    )
}
"""Bo and Cy are both shown as "builder"."""

ASSEMBLIES = {
    "shop": Assembly(id="shop", title="Workshop", counts=False),
    "flaps": Assembly(id="flaps", title="Flaps", planned_minutes=3600),
    "wing": Assembly(id="wing", title="Wing"),
}
STEPS = {
    step.id: step
    for step in (
        Step(id="5.1", assembly="flaps", title="Deburr", page="5-1"),
        Step(id="5.2", assembly="flaps", title="Close", page="5-2", closes="yes"),
        Step(id="7.1", assembly="wing", title="Spar", same_as="5.1"),
    )
}

FULL_FACTS = PhotoFacts(
    kind="JPEG hush",
    width=4000,
    height=3000,
    bytes=4_321_987,
    taken=datetime(2026, 2, 7, 21, 34, 56),
    offset="+01:00",
    camera="Hushcam 9",
)
"""What a camera writes. The hour is late, so that a clock time cannot pass for a day."""

DAY_FACTS = PhotoFacts(width=4000, height=3000, taken=datetime(2026, 2, 7))
"""What followers may know of it."""

OPEN_PHOTO = Photo(
    name="one.jpg",
    src_uri="content/entries/open/one.jpg",
    caption="A rib",
    private_caption="hush rib",
    step="5.1",
    people=("hush-bo", "hush-ada", "hush-cy"),
    inside=True,
    cover=True,
    sha256="ab12",
    facts=FULL_FACTS,
)
HUSH_PHOTO = replace(
    OPEN_PHOTO, name="hush.jpg", src_uri="content/entries/open/hush.jpg", caption="hush", private=True, cover=False
)
OPEN_CLIP = Clip(
    name="a.mov",
    src_uri="content/entries/open/a.mov",
    bytes=12,
    caption="A film",
    private_caption="hush film",
)
HUSH_CLIP = Clip(name="hush.mov", src_uri="content/entries/open/hush.mov", caption="hush", private=True)

EIGHTH = Quantity(value=Fraction(1, 8), dimension=Dimension.LENGTH, text="1/8 in")
SIXTY_TWO = Quantity(value=Fraction(62), dimension=Dimension.TORQUE, text="62 in-lb")
RIVETS = FastenerSet(rivet="AN470AD4-5", grip=EIGHTH, count=48, where=(9, 3))
BOLT = TorqueSetting(bolt="AN4-10A", nut="tension", value=SIXTY_TWO, wrench="Beam wrench", where=(10, 3))
SEALANT = Material(
    id="seal", name="Tank sealant", batch="hush-118", expires=date(2026, 1, 1), record="hush.pdf", where=(2, 1)
)
PAPER = Record(file="hush.pdf", date=date(2026, 1, 5), kind="invoice", title="hush", note="hush", where=(2, 1))
WRENCH = CalibratedTool(name="Beam wrench", checked_on=date(2020, 1, 1), check_every_months=12, where=(2, 1))
SHELF = InventoryItem(
    crate="1",
    part="W-1007",
    description="Rib",
    listed=2,
    found=1,
    condition="good",
    kept_in="rack",
    checked_on=date(2026, 1, 11),
    by="hush-ada",
    where=(2, 1),
)
COST = Cost(
    date=date(2026, 1, 5), assembly="flaps", what="hush", amount=Decimal("12.50"), currency="EUR", record="hush.pdf"
)
TASK = Task(
    section="Wing", task="1", name="hush task", maker=0, paid=2, assembly=4, fabrication=4, steps=("5.1",), note="hush"
)

BODY = """\
Deburred the ribs. <!-- hush: call the neighbour -->

!!! private
    The neighbour came by, hush,
    and stayed.

![A rib](one.jpg)
"""
SHOWN_BODY = "Deburred the ribs. \n\n![A rib](one.jpg)\n"

OPEN_ENTRY = Entry(
    id="open",
    src_uri="content/entries/open/index.md",
    date=date(2026, 2, 7),
    title="Ribs",
    assembly="flaps",
    steps=("5.1",),
    begun=("5.2",),
    redone=("7.1",),
    time=(
        WorkedTime(person="hush-bo", minutes=60),
        WorkedTime(person="hush-ada", minutes=90),
        WorkedTime(person="hush-cy", minutes=5),
    ),
    elapsed_minutes=90,
    starts_at=1111,
    people=("hush-bo", "hush-ada", "hush-cy"),
    place="home",
    tools=("Deburring tool",),
    methods=("Deburring", "deburring "),
    photos=(OPEN_PHOTO, HUSH_PHOTO),
    clips=(OPEN_CLIP, HUSH_CLIP),
    fasteners=(RIVETS,),
    torque=(BOLT,),
    materials=("seal",),
    answers={"camera-clock": "hush"},
    videos=("https://example.org/film",),
    body=BODY,
    body_line=31,
    where={"title": (2, 1)},
)
HUSH_ENTRY = Entry(
    id="2026-hush",
    src_uri="content/entries/2026-hush/index.md",
    date=date(2026, 2, 8),
    title="The hush day",
    assembly="wing",
    steps=("7.1", "5.1"),
    time=(WorkedTime(person="hush-pim", minutes=30),),
    elapsed_minutes=30,
    people=("hush-pim",),
    tools=("Hush tool",),
    methods=("hush method",),
    photos=(HUSH_PHOTO,),
    private=True,
    body="hush",
)
WORKSHOP_ENTRY = Entry(
    id="bench",
    src_uri="content/entries/bench/index.md",
    date=date(2026, 3, 1),
    title="Bench",
    assembly="shop",
    time=(WorkedTime(person="hush-ada", minutes=20),),
    elapsed_minutes=20,
    people=("hush-ada",),
    tools=("deburring  TOOL", "Saw"),
)
DRAFT = Entry(
    id="later",
    src_uri="content/entries/later/index.md",
    date=date(2026, 2, 8),
    title="hush, not finished",
    assembly="flaps",
    steps=("5.2",),
    time=(WorkedTime(person="hush-ada", minutes=45),),
    people=("hush-ada",),
    draft=True,
    body="hush",
)
HUSH_DRAFT = replace(DRAFT, id="hush-later", src_uri="content/entries/hush-later/index.md", private=True)

OPEN_INSPECTION = Inspection(
    id="look",
    src_uri="content/inspections/look/index.md",
    date=date(2026, 3, 3),
    title="A look",
    assembly="flaps",
    steps=("5.1", "5.2"),
    stage="closing",
    people=("hush-ines",),
    outcome=Outcome.PASSED_WITH_FINDINGS,
    findings=(
        InspectionFinding(
            id="F1",
            text="A burr",
            closed_on=date(2026, 3, 4),
            closed_by="open",
            signed_by=("hush-bo", "hush-cy"),
            checked_by=("hush-ines",),
            where=(9, 1),
        ),
        InspectionFinding(id="F2", text="A dent", closed_on=date(2026, 3, 5), closed_by="2026-hush"),
        InspectionFinding(id="F3", text="No picture"),
    ),
    photos=(OPEN_PHOTO, HUSH_PHOTO),
    body=BODY,
    body_line=12,
    where={"date": (2, 1)},
)
HUSH_INSPECTION = replace(
    OPEN_INSPECTION,
    id="hush-look",
    src_uri="content/inspections/hush-look/index.md",
    title="hush",
    assembly=None,
    private=True,
)

LIMITS = (BalanceLimit(weight=None, forward=Fraction(8), aft=Fraction(22)),)
WEIGHING = Weighing(
    datum="leading edge", scales=(Load(what="left", weight=Fraction(402), arm=Fraction(22)),), limits=LIMITS
)
OPEN_MEASUREMENT = Measurement(
    id="scales",
    src_uri="content/measurements/scales/index.md",
    date=date(2026, 3, 4),
    title="On the scales",
    kind="weighing",
    instrument="bench scale",
    people=("hush-ada", "hush-bo", "hush-cy"),
    checked_by=("hush-ines",),
    results=(MeasuredResult(what="Level", value="0.1 degrees", where=(8, 3)),),
    weighing=WEIGHING,
    photos=(OPEN_PHOTO, HUSH_PHOTO),
    body=BODY,
    body_line=12,
)
HUSH_MEASUREMENT = replace(
    OPEN_MEASUREMENT, id="hush-scales", src_uri="content/measurements/hush-scales/index.md", title="hush", private=True
)
BULLETIN = Bulletin(id="SB-1", date=None, title="hush", note="hush")

PAGE = FreePage(id="about", src_uri="content/pages/about.md", title="About", body=BODY, body_line=3)
TERM = Term(names=("bucking bar", "bar"), meaning="a block of steel", source="common", own=True)

BUILD = Build(
    aircraft=Aircraft(name="Tarn", kind="two-seat", registration="ZZ-HUSH", serial="HUSH-42"),
    begun=date(2026, 1, 10),
    zone="Europe/Zurich",
    about="why it is built",
    write_to="write@tarn.example",
    rules=AuthorityRules(country="Hush", papers=(AuthorityRule(says="hush paper", source="hush book"),)),
    people=PEOPLE,
    places={"home": Place(id="home", name="hush garden")},
    assemblies=ASSEMBLIES,
    photo_settings=PhotoSettings(watermark="first weeks", corner=Corner.UPPER_LEFT, opacity=Decimal("0.7")),
    clip_budget_bytes=77,
    steps=STEPS,
    entries=(OPEN_ENTRY, HUSH_ENTRY, WORKSHOP_ENTRY),
    drafts=(DRAFT, HUSH_DRAFT),
    inspections=(OPEN_INSPECTION, HUSH_INSPECTION),
    measurements=(OPEN_MEASUREMENT, HUSH_MEASUREMENT),
    bulletins=(BULLETIN,),
    records=(PAPER,),
    inventory=(SHELF,),
    tasks=(TASK,),
    materials={"seal": SEALANT},
    calibrated_tools=(WRENCH,),
    costs=(COST,),
    terms=(TERM,),
    pages=(PAGE,),
    drawing="<svg/>",
)


def journal_of(build: Build) -> Journal:
    """The journal of a build made of records, with the problems that the rules find."""
    ledger, progress = build_ledger(build), replay(build)
    evidence = find_gaps(build, ledger, progress, TODAY)
    return Journal(
        root=Path(),
        today=TODAY,
        build=build,
        ledger=ledger,
        progress=progress,
        evidence=evidence,
        problems=evidence.problems,
    )


def view_of(build: Build, audience: Audience) -> View:
    """What `audience` sees of `build`."""
    return open_view(journal_of(build), audience)


def told(record: Any) -> Mapping[str, Any]:
    """Every field of a record by name: a new one is missing in the expected table until somebody says who sees it."""
    return (
        {field.name: getattr(record, field.name) for field in fields(record)} if is_dataclass(record) else vars(record)
    )
