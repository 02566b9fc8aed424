"""The border: for each audience, field by field, what it gets. What may be published is docs/format.md's to say."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from marked_build import (
    ASSEMBLIES,
    BODY,
    BOLT,
    BUILD,
    BULLETIN,
    COST,
    DAY_FACTS,
    DRAFT,
    FULL_FACTS,
    HUSH_CLIP,
    HUSH_DRAFT,
    HUSH_ENTRY,
    HUSH_INSPECTION,
    HUSH_PHOTO,
    MARKER,
    OPEN_CLIP,
    OPEN_ENTRY,
    OPEN_INSPECTION,
    OPEN_MEASUREMENT,
    OPEN_PHOTO,
    PAGE,
    PAPER,
    PEOPLE,
    RIVETS,
    SEALANT,
    SHELF,
    SHOWN_BODY,
    STEPS,
    TASK,
    TERM,
    TODAY,
    WEIGHING,
    WORKSHOP_ENTRY,
    WRENCH,
    journal_of,
    told,
    view_of,
)

from journal.base.model import (
    UNEDITED,
    Aircraft,
    AssemblyProgress,
    AuthorityRules,
    Build,
    Clip,
    Construction,
    Entry,
    Inspection,
    InspectionFinding,
    Material,
    Outcome,
    Photo,
    PhotoFacts,
    Role,
    State,
    StepProgress,
    Units,
)
from journal.ledger.closings import trace_closings
from journal.ledger.inventory import keep_hardware, take_stock
from journal.ledger.materials import MaterialTrace, material_table
from journal.trade.fasteners import rivet_table
from journal.trade.measured import measured_table
from journal.trade.torque import torque_table
from journal.view.view import Audience, Costs, ShownTask, Spent, View

UNSIGNED: dict[str, Any] = {"signed_by": (), "checked_by": ()}
FEB_7, FEB_8, MAR_1 = date(2026, 2, 7), date(2026, 2, 8), date(2026, 3, 1)
OPEN_TO_ALL = (Audience.PUBLIC, Audience.PREVIEW)
EVERYBODY = pytest.mark.parametrize("audience", Audience)
FOLLOWERS = pytest.mark.parametrize("audience", OPEN_TO_ALL)

NOT_BEGUN, UNDER_WAY, DONE = State.NOT_BEGUN, State.UNDER_WAY, State.DONE
AFTER_FEB_7 = {"shop": NOT_BEGUN, "flaps": UNDER_WAY, "wing": DONE}
AFTER_MAR_1 = {"shop": UNDER_WAY, "flaps": UNDER_WAY, "wing": DONE}


def shown(photo: Photo, audience: Audience) -> dict[str, Any]:
    """The picture `photo`, the one that anybody may see, as `audience` gets it."""
    everything = audience is Audience.ARCHIVE
    return {
        "name": photo.name,
        "src_uri": photo.src_uri,
        "caption": photo.caption,
        "private_caption": "",
        "step": "5.1",
        "people": ("Bo Hush", "Ada Hush", "Cy Hush") if everything else ("builder", "Ada"),
        "inside": True,
        "identity": False,
        "shut_by": photo.shut_by if everything else None,
        "private": photo.private,
        "cover": photo.cover,
        "sha256": "ab12",
        "facts": FULL_FACTS if everything else DAY_FACTS,
        "edits": UNEDITED,
    }


def shown_pictures(audience: Audience) -> list[dict[str, Any]]:
    """What an audience gets of a folder with an open and a private picture."""
    both = audience is Audience.ARCHIVE
    return [shown(OPEN_PHOTO, audience), *([shown(HUSH_PHOTO, audience)] if both else [])]


@EVERYBODY
def test_an_entry_field_by_field(audience: Audience) -> None:
    """Names as shown, the public form of text, pictures and materials; the inspector gets all."""
    everything = audience is Audience.ARCHIVE
    entry = view_of(BUILD, audience).entries[0]
    said = dict(told(entry))
    assert list(map(told, said.pop("photos"))) == shown_pictures(audience)
    assert list(map(told, said.pop("clips"))) == [
        told(replace(clip, private_caption="")) for clip in (OPEN_CLIP, HUSH_CLIP) if everything or clip is OPEN_CLIP
    ]
    assert said == {
        "id": "open",
        "src_uri": "content/entries/open/index.md",
        "date": FEB_7,
        "day": 1,
        "title": "Ribs",
        "assembly": ASSEMBLIES["flaps"],
        "steps": (STEPS["5.1"],),
        "begun": (STEPS["5.2"],),
        "redone": (STEPS["7.1"],),
        "minutes": 155,
        "minutes_to_date": 155,
        "assembly_minutes_to_date": 155,
        "people": ("Bo Hush", "Ada Hush", "Cy Hush") if everything else ("builder", "Ada"),
        "time": (("Bo Hush", 60), ("Ada Hush", 90), ("Cy Hush", 5)) if everything else (("builder", 65), ("Ada", 90)),
        "place": "hush garden" if everything else "",
        "tools": ("Deburring tool",),
        "methods": ("Deburring", "deburring "),
        "fasteners": (RIVETS,),
        "torque": (BOLT,),
        "materials": (SEALANT if everything else Material(id="seal", name="Tank sealant"),),
        "answers": {"camera-clock": "hush"} if everything else {},
        "videos": ("https://example.org/film",),
        "private": False,
        "formerly": (),
        "draft": False,
        "body": BODY if everything else SHOWN_BODY,
        "states": AFTER_FEB_7,
        "tables": (
            rivet_table(RIVETS),
            torque_table(BOLT, FEB_7, (WRENCH,)),
            material_table(SEALANT, FEB_7, (PAPER,)),
        )
        if everything
        else (rivet_table(RIVETS), torque_table(BOLT, FEB_7, None)),
    }


@EVERYBODY
def test_an_inspection_field_by_field(audience: Audience) -> None:
    """Who inspected as shown; what put a finding right is named only where that entry is seen."""
    everything = audience is Audience.ARCHIVE
    build = replace(
        BUILD,
        inspections=(
            replace(
                OPEN_INSPECTION,
                findings=(
                    *OPEN_INSPECTION.findings,
                    InspectionFinding(id="F4", text="A gap", closed_on=FEB_8, closed_by="later"),
                ),
            ),
        ),
    )
    (inspection,) = view_of(build, audience).inspections
    said = dict(told(inspection))
    assert list(map(told, said.pop("photos"))) == shown_pictures(audience)
    assert list(map(told, said.pop("findings"))) == [
        {
            "id": "F1",
            "text": "A burr",
            "closed_on": date(2026, 3, 4),
            "closed_by": "open",
            "signed_by": ("Bo Hush", "Cy Hush") if everything else ("builder",),
            "checked_by": ("Ines Hush",) if everything else ("the inspector",),
            "where": (9, 1),
        },
        UNSIGNED
        | {
            "id": "F2",
            "text": "A dent",
            "closed_on": date(2026, 3, 5),
            "closed_by": "2026-hush" if everything else None,
            "where": None,
        },
        UNSIGNED | {"id": "F3", "text": "No picture", "closed_on": None, "closed_by": None, "where": None},
        UNSIGNED
        | {
            "id": "F4",
            "text": "A gap",
            "closed_on": FEB_8,
            "closed_by": "later" if everything else None,
            "where": None,
        },
    ]
    assert said == {
        "id": "look",
        "src_uri": "content/inspections/look/index.md",
        "date": date(2026, 3, 3),
        "title": "A look",
        "assembly": ASSEMBLIES["flaps"],
        "steps": (STEPS["5.1"], STEPS["5.2"]),
        "stage": "closing",
        "people": ("Ines Hush",) if everything else ("the inspector",),
        "outcome": Outcome.PASSED_WITH_FINDINGS,
        "private": False,
        "formerly": (),
        "body": BODY if everything else SHOWN_BODY,
    }


@EVERYBODY
def test_a_measurement_field_by_field(audience: Audience) -> None:
    """Who measured and who checked as shown; instrument, results and weighing for everybody."""
    everything = audience is Audience.ARCHIVE
    said = dict(told(view_of(BUILD, audience).measurements[0]))
    assert list(map(told, said.pop("photos"))) == shown_pictures(audience)
    assert said == {
        "id": "scales",
        "src_uri": "content/measurements/scales/index.md",
        "date": date(2026, 3, 4),
        "title": "On the scales",
        "assembly": None,
        "steps": (),
        "kind": "weighing",
        "instrument": "bench scale",
        "people": ("Ada Hush", "Bo Hush", "Cy Hush") if everything else ("Ada", "builder"),
        "checked_by": ("Ines Hush",) if everything else ("the inspector",),
        "table": measured_table(OPEN_MEASUREMENT, ()),
        "weighing": WEIGHING,
        "private": False,
        "formerly": (),
        "body": BODY if everything else SHOWN_BODY,
    }


@EVERYBODY
def test_the_whole_view_field_by_field(audience: Audience) -> None:
    """Totals are the same for everybody; names, papers, money and private work are the inspector's alone."""
    everything = audience is Audience.ARCHIVE
    journal = journal_of(BUILD)
    view = view_of(BUILD, audience)
    said = dict(told(view))
    visible = {"public": ["open", "bench"], "preview": ["open", "later", "bench"]}
    assert [entry.id for entry in said.pop("entries")] == visible.get(audience.value, ["open", "2026-hush", "bench"])
    assert [one.id for one in said.pop("inspections")] == (["look", "hush-look"] if everything else ["look"])
    measured = ["scales", "hush-scales"] if everything else ["scales"]
    assert [one.id for one in said.pop("measurements")] == measured
    by_person = {"builder": 65, "Ada": 90, "paid help": 30}
    at_work = {("builder", "flaps"): 65, ("Ada", "flaps"): 90, ("paid help", "wing"): 30, ("Ada", "shop"): 20}
    full = {"Bo Hush": 60, "Ada Hush": 90, "Cy Hush": 5, "Pim Hush": 30}
    full_at_work = {
        ("Bo Hush", "flaps"): 60,
        ("Ada Hush", "flaps"): 90,
        ("Cy Hush", "flaps"): 5,
        ("Pim Hush", "wing"): 30,
        ("Ada Hush", "shop"): 20,
    }
    roles = {"Ada": Role.BUILDER, "builder": Role.BUILDER, "paid help": Role.PAID, "the inspector": Role.INSPECTOR}
    full_roles = {
        "Ada Hush": Role.BUILDER,
        "Bo Hush": Role.BUILDER,
        "Cy Hush": Role.BUILDER,
        "Pim Hush": Role.PAID,
        "Ines Hush": Role.INSPECTOR,
    }
    amount = {"EUR": Decimal("12.50")}
    assert list(said["roles"]) == list(full_roles if everything else roles)
    shown_entries = {entry.id: entry for entry in view.entries}
    assert said == {
        "audience": audience,
        "today": journal.today,
        "aircraft": BUILD.aircraft if everything else Aircraft(name="Tarn", kind="two-seat"),
        "begun": date(2026, 1, 10),
        "zone": "Europe/Zurich",
        "construction": frozenset({Construction.METAL}),
        "units": Units.INCHES,
        "language": "",
        "last_day": MAR_1,
        "minutes": 185,
        "minutes_not_counted": 20,
        "elapsed_minutes": 120,
        "days": 3,
        "by_assembly": {"shop": 20, "flaps": 155, "wing": 30},
        "by_month": {"2026-02": 185},
        "by_day": {FEB_7: 155, FEB_8: 30},
        "by_person": full if everything else by_person,
        "by_person_and_assembly": full_at_work if everything else at_work,
        "roles": full_roles if everything else roles,
        "assemblies": ASSEMBLIES,
        "assembly_progress": {
            "shop": AssemblyProgress(state=UNDER_WAY),
            "flaps": AssemblyProgress(state=UNDER_WAY, steps_done=1, steps=2),
            "wing": AssemblyProgress(state=DONE, steps_done=1, steps=1),
        },
        "steps": STEPS,
        "step_progress": {
            "5.1": StepProgress(
                state=DONE,
                entries=("open", "2026-hush") if everything else ("open",),
                done_in="2026-hush" if everything else None,
                done_on=FEB_8,
                first_done_on=FEB_7,
            ),
            "5.2": StepProgress(state=UNDER_WAY, entries=("open",)),
            "7.1": StepProgress(
                state=DONE,
                times_done_over=1,
                entries=("open", "2026-hush") if everything else ("open",),
                done_in="2026-hush" if everything else None,
                done_on=FEB_8,
                first_done_on=FEB_7,
            ),
        },
        "steps_done": 2,
        "steps_done_on": {FEB_7: 2, FEB_8: 2, MAR_1: 2},
        "states_on": {FEB_7: AFTER_FEB_7, FEB_8: AFTER_FEB_7, MAR_1: AFTER_MAR_1},
        "inventory": (SHELF if everything else replace(SHELF, by="Ada"),),
        "terms": (TERM,),
        "pages": (PAGE if everything else replace(PAGE, body=SHOWN_BODY),),
        "tools": {"deburring tool": "Deburring tool", "saw": "Saw"}
        | ({"hush tool": "Hush tool"} if everything else {}),
        "methods": {"deburring": "Deburring"} | ({"hush method": "hush method"} if everything else {}),
        "drawing": "<svg/>",
        "airframe": None,
        "photo_settings": BUILD.photo_settings,
        "about": "why it is built",
        "write_to": "write@tarn.example",
        "problems": () if audience is Audience.PUBLIC else journal.problems,
        "rules": AuthorityRules() if audience is Audience.PUBLIC else BUILD.rules,
        "manual_edition": "" if audience is Audience.PUBLIC else BUILD.manual_edition,
        "evidence": journal.evidence if everything else None,
        "tasks": (
            ShownTask(
                task=TASK,
                entries=(shown_entries["open"], shown_entries["2026-hush"]),
                photos=3,
                people=("Bo Hush", "Ada Hush", "Cy Hush", "Pim Hush"),
                paid=("Pim Hush",),
                paid_entries=(shown_entries["2026-hush"],),
                steps_shown=("5.1",),
            ),
        )
        if everything
        else (),
        "materials": (MaterialTrace(material=SEALANT, entries=(OPEN_ENTRY,), record=PAPER, late=(OPEN_ENTRY,)),)
        if everything
        else (),
        "records": () if audience is Audience.PUBLIC else (PAPER,),
        "bulletins": (BULLETIN,) if everything else (),
        "callouts": (),
        "closings": trace_closings(BUILD, journal.progress) if audience is not Audience.PUBLIC else (),
        "calibrated_tools": (WRENCH,) if everything else (),
        "costs": (COST,) if everything else (),
        "stock": (take_stock(SHELF, TODAY),) if everything else (),
        "hardware": keep_hardware(BUILD, journal.progress) if everything else (),
        "spent": Costs(
            currencies=("EUR",),
            total=amount,
            by_assembly=(Spent(key="flaps", amounts=amount),),
            by_month=(Spent(key="2026-01", amounts=amount),),
        )
        if everything
        else None,
    }
    assert view.everything is everything
    assert len(journal.problems) > 0
    assert journal.evidence.gaps


@EVERYBODY
def test_what_a_view_puts_together(audience: Audience) -> None:
    """Builders by name, texts in order, pictures in order, work left as of the day on which this is made."""
    everything = audience is Audience.ARCHIVE
    view = view_of(BUILD, audience)
    assert view.builders == (("Ada Hush", "Bo Hush", "Cy Hush") if everything else ("Ada", "builder"))
    assert view.told == (*view.entries, *view.inspections, *view.measurements)
    names = ["one.jpg", "hush.jpg"] if everything else ["one.jpg"]
    both = ["one.jpg", "hush.jpg"]
    hidden = ["hush.jpg", *names, *both * 3] if everything else names * 2
    assert [photo.name for photo in view.photos] == [*names, *hidden]
    assert view.forecast is not None
    assert view.forecast.as_of == view.today
    earlier = replace(view, today=MAR_1 - timedelta(days=400)).forecast
    assert earlier is not None
    assert earlier.as_of == MAR_1  # no month in the past, whatever SOURCE_DATE_EPOCH says
    assert replace(view, last_day=None).forecast is not None
    assert replace(view, last_day=None, begun=None).forecast is None


@pytest.mark.parametrize(
    "shows", [(), ("places",), ("registration",), ("serial",), ("places", "registration", "serial")]
)
@FOLLOWERS
def test_place_registration_and_serial_are_shown_where_build_yml_says(
    shows: tuple[str, ...], audience: Audience
) -> None:
    """Each is let through by its own word."""
    view = view_of(replace(BUILD, shows=frozenset(shows)), audience)
    assert view.aircraft == Aircraft(
        name="Tarn",
        kind="two-seat",
        registration="ZZ-HUSH" if "registration" in shows else "",
        serial="HUSH-42" if "serial" in shows else "",
    )
    assert view.entries[0].place == ("hush garden" if "places" in shows else "")
    assert view.entries[-1].place == ""


@pytest.mark.parametrize(
    ("facts", "public"),
    [
        (FULL_FACTS, DAY_FACTS),
        (replace(FULL_FACTS, taken=None), replace(DAY_FACTS, taken=None)),
        (replace(FULL_FACTS, taken=datetime(2000, 1, 1, 0, 3)), replace(DAY_FACTS, taken=None)),
        (replace(FULL_FACTS, taken=datetime(2000, 1, 3, 23, 59)), replace(DAY_FACTS, taken=datetime(2000, 1, 3))),
        (replace(FULL_FACTS, taken=datetime(1989, 12, 31, 1)), replace(DAY_FACTS, taken=None)),
        (replace(FULL_FACTS, taken=datetime(1990, 1, 1, 1)), replace(DAY_FACTS, taken=datetime(1990, 1, 1))),
        (replace(FULL_FACTS, taken=datetime(1999, 12, 31, 1)), replace(DAY_FACTS, taken=datetime(1999, 12, 31))),
        (replace(FULL_FACTS, taken=datetime(2000, 1, 2, 1)), replace(DAY_FACTS, taken=None)),
        (PhotoFacts(trouble="empty file", kind="hush"), PhotoFacts(trouble="empty file")),
    ],
)
@FOLLOWERS
def test_followers_get_shape_and_day_of_a_picture(facts: PhotoFacts, public: PhotoFacts, audience: Audience) -> None:
    """No clock time, camera, size in bytes or kind; a clock that was never set tells no day."""
    photo = replace(OPEN_PHOTO, facts=facts)
    view = view_of(replace(BUILD, entries=(replace(OPEN_ENTRY, photos=(photo,)),)), audience)
    assert told(view.photos[0].facts) == told(public)


@pytest.mark.parametrize("audience", Audience)
@pytest.mark.parametrize("caption", ["", "A rib"])
def test_what_a_private_passage_says_of_a_picture_is_for_the_record(caption: str, audience: Audience) -> None:
    """Of a film as of a picture, and only where nothing public is said; followers read the public words or none."""
    shown = replace(
        OPEN_ENTRY,
        photos=(replace(OPEN_PHOTO, caption=caption),),
        clips=(replace(OPEN_CLIP, caption=caption),),
    )
    (entry,) = view_of(replace(BUILD, entries=(shown,)), audience).entries[:1]
    read = [one.caption for one in (*entry.photos, *entry.clips)]
    hushed = not caption and audience is Audience.ARCHIVE
    assert read == (["hush rib", "hush film"] if hushed else [caption, caption])
    assert [one.private_caption for one in (*entry.photos, *entry.clips)] == ["", ""]


def test_a_draft_is_shown_in_the_preview_alone_and_counts_nothing() -> None:
    """It has no day and no totals; a private draft is shown nowhere."""
    quiet_day = replace(DRAFT, id="quiet", date=date(2026, 2, 20))
    view = view_of(replace(BUILD, drafts=(DRAFT, quiet_day, HUSH_DRAFT)), Audience.PREVIEW)
    drafts = [entry for entry in view.entries if entry.draft]
    assert [entry.id for entry in view.entries] == ["open", "later", "quiet", "bench"]
    for draft in drafts:
        totals = (draft.day, draft.minutes, draft.minutes_to_date, draft.assembly_minutes_to_date)
        assert totals == (0, 45, 0, 0)
        assert draft.people == ("Ada",)
    assert drafts[0].states == AFTER_FEB_7  # a day on which something was worked
    assert drafts[1].states == AFTER_MAR_1  # as it stands now
    for audience in (Audience.PUBLIC, Audience.ARCHIVE):
        assert not [entry for entry in view_of(BUILD, audience).entries if entry.draft]


def test_a_private_entry_counts_and_is_the_inspector_s() -> None:
    """Day, minutes and running totals of the archive; the next entry's totals hold it for everybody."""
    private = view_of(BUILD, Audience.ARCHIVE).entries[1]
    assert (private.id, private.private, private.day, private.minutes_to_date) == ("2026-hush", True, 2, 185)
    assert (private.assembly_minutes_to_date, private.people) == (30, ("Pim Hush",))
    for audience in Audience:
        bench = view_of(BUILD, audience).entries[-1]
        assert (bench.day, bench.minutes_to_date, bench.assembly_minutes_to_date) == (3, 185, 20)


def test_somebody_unknown_checked_a_crate() -> None:
    """A name in inventory.csv that is no person of the build could be anybody's: it stays in."""
    build = replace(BUILD, inventory=(replace(SHELF, by="hush neighbour"), replace(SHELF, by="")))
    for audience in OPEN_TO_ALL:
        assert [item.by for item in view_of(build, audience).inventory] == ["", ""]
    assert [item.by for item in view_of(build, Audience.ARCHIVE).inventory] == ["hush neighbour", ""]


def test_an_inspection_of_steps_or_of_an_assembly() -> None:
    """Either may be missing."""
    whole = view_of(BUILD, Audience.ARCHIVE).inspections
    assert [one.assembly and one.assembly.id for one in whole] == ["flaps", None]
    assert whole[1].private


def test_the_steps_of_an_entry_once_each() -> None:
    """Finished, started, done over: in that order."""
    entry = replace(OPEN_ENTRY, steps=("5.1", "7.1"), begun=("5.2", "5.1"), redone=("7.1",))
    view = view_of(replace(BUILD, entries=(entry,)), Audience.PUBLIC)
    assert [step.id for step in view.entries[0].all_steps] == ["5.1", "7.1", "5.2"]


BROKEN = PhotoFacts(trouble="empty file")


@pytest.mark.parametrize(
    ("photos", "cover"),
    [
        ([], None),
        (["a", "b"], "a"),
        (["a", "b cover"], "b cover"),
        (["a broken", "b"], "b"),
        (["a", "b cover broken"], "a"),
        (["a broken cover"], None),
    ],
)
def test_the_cover_is_the_picture_marked_else_the_first_usable(photos: list[str], cover: str | None) -> None:
    """A picture that cannot be used stands for nothing."""
    made = tuple(
        replace(OPEN_PHOTO, name=name, cover="cover" in name, facts=BROKEN if "broken" in name else FULL_FACTS)
        for name in photos
    )
    (entry,) = view_of(replace(BUILD, entries=(replace(OPEN_ENTRY, photos=made),)), Audience.PUBLIC).entries
    assert (entry.cover and entry.cover.name) == cover


def leaves(value: object) -> Iterator[object]:
    """Every single value in a record and in what it holds, keys too."""
    if is_dataclass(value) and not isinstance(value, type):
        for field in fields(value):
            yield from leaves(getattr(value, field.name))
    elif isinstance(value, Mapping):
        for pair in value.items():
            yield from leaves(pair)
    elif isinstance(value, (tuple, list, frozenset, set)):
        for one in value:
            yield from leaves(one)
    else:
        yield value


def assert_nothing_private(view: View) -> None:
    """Law: no private word, no clock time and no size of an original stands anywhere in what followers get."""
    assert MARKER not in repr(view).casefold()
    for leaf in leaves(view):
        assert not (isinstance(leaf, str) and MARKER in leaf.casefold())
        if isinstance(leaf, datetime):
            assert leaf == datetime(leaf.year, leaf.month, leaf.day)
        assert leaf != FULL_FACTS.bytes
        assert not isinstance(leaf, Decimal) or leaf == BUILD.photo_settings.opacity


def test_nothing_private_is_in_the_public_view() -> None:
    """The build of which every private thing carries the word; the inspector's view is full of it."""
    assert_nothing_private(view_of(BUILD, Audience.PUBLIC))
    assert repr(view_of(BUILD, Audience.ARCHIVE)).casefold().count(MARKER) > 50


LINES = st.lists(
    st.sampled_from(
        [
            "Riveted the skeleton.",
            "",
            "!!! private\n    hush, said the neighbour\n\n    and hush again",
            '!!! Private "note"\n\n    hush',
            "- a list\n\n    !!! private\n        hush",
            "<!-- hush -->",
            "<!-- two lines\nhush --> and on",
            "![A rib](one.jpg)",
            "> said plainly",
        ]
    ),
    max_size=6,
)
BODIES = LINES.map(lambda lines: "\n\n".join(lines))


@st.composite
def builds(draw: st.DrawFn) -> Build:
    """Entries, drafts and inspections of which some are private, with pictures and clips of which some are."""

    def photo(number: int, private: bool) -> Photo:
        word = "hush" if private else "open"
        return replace(
            OPEN_PHOTO,
            name=f"{word}-{number}.jpg",
            src_uri=f"content/entries/x/{word}-{number}.jpg",
            caption=word,
            private=private,
            people=tuple(draw(st.lists(st.sampled_from(list(PEOPLE)), max_size=2))),
        )

    def clip(number: int, private: bool) -> Clip:
        word = "hush" if private else "open"
        return replace(
            OPEN_CLIP,
            name=f"{word}-{number}.mov",
            src_uri=f"{word}.mov",
            caption=word,
            private_caption="",
            private=private,
        )

    def entry(number: int, day: int, private: bool, draft: bool) -> Entry:
        base = HUSH_ENTRY if private else DRAFT if draft else draw(st.sampled_from([OPEN_ENTRY, WORKSHOP_ENTRY]))
        flags = draw(st.lists(st.booleans(), max_size=3))
        return replace(
            base,
            id=f"{'hush' if private or draft else 'open'}-{number}",
            src_uri=f"content/entries/{'hush' if private or draft else 'open'}-{number}/index.md",
            date=date(2026, 2, 1 + day),
            draft=draft,
            private=private,
            body=draw(BODIES),
            photos=tuple(photo(number, flag) for number, flag in enumerate(flags)),
            clips=tuple(clip(number, flag) for number, flag in enumerate(flags)),
        )

    def inspection(number: int, private: bool) -> Inspection:
        base = HUSH_INSPECTION if private else OPEN_INSPECTION
        by = draw(st.sampled_from([None, *(entry.id for entry in (*entries, *drafts))]))
        return replace(
            base,
            id=f"{base.id}-{number}",
            body=draw(BODIES),
            findings=(InspectionFinding(id="F1", text="A burr", closed_on=FEB_8, closed_by=by),),
            photos=tuple(photo(number, draw(st.booleans())) for number in range(2)),
        )

    entries = [entry(number, number, draw(st.booleans()), False) for number in range(draw(st.integers(0, 4)))]
    drafts = [entry(9 + number, 5 * number, draw(st.booleans()), True) for number in range(draw(st.integers(0, 2)))]
    return replace(
        BUILD,
        entries=tuple(entries),
        drafts=tuple(drafts),
        inspections=tuple(inspection(number, draw(st.booleans())) for number in range(draw(st.integers(0, 2)))),
        pages=(replace(PAGE, body=draw(BODIES)),),
    )


@settings(max_examples=30)
@given(builds())
def test_no_private_word_reaches_the_public_view(build: Build) -> None:
    """Whatever of it is private: the word is nowhere, the totals are the ledger's, all that is open is there."""
    view = view_of(build, Audience.PUBLIC)
    assert_nothing_private(view)
    assert view.minutes + view.minutes_not_counted == sum(entry.minutes for entry in build.entries)
    assert [entry.id for entry in view.entries] == [entry.id for entry in build.entries if not entry.private]
    assert [one.id for one in view.inspections] == [one.id for one in build.inspections if not one.private]
    for entry, written in zip(view.entries, (one for one in build.entries if not one.private), strict=True):
        assert [photo.name for photo in entry.photos] == [one.name for one in written.photos if not one.private]
        assert [one.name for one in entry.clips] == [one.name for one in written.clips if not one.private]


@settings(max_examples=30)
@given(builds())
def test_the_inspector_gets_everything_and_the_preview_the_public_and_drafts(build: Build) -> None:
    """The archive's texts are those written; a preview adds drafts that are not private, and nothing else."""
    archive = view_of(build, Audience.ARCHIVE)
    assert [(entry.id, entry.body) for entry in archive.entries] == [(one.id, one.body) for one in build.entries]
    assert [len(entry.photos) for entry in archive.entries] == [len(one.photos) for one in build.entries]
    public, preview = view_of(build, Audience.PUBLIC), view_of(build, Audience.PREVIEW)
    assert tuple(entry for entry in preview.entries if not entry.draft) == public.entries
    assert {entry.id for entry in preview.entries if entry.draft} == {one.id for one in build.drafts if not one.private}
    assert preview.inspections == public.inspections
    assert [entry.date for entry in preview.entries] == sorted(entry.date for entry in preview.entries)
