"""Threads of the record, field by field: which pictures, entries and inspections belong to a step, and back."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime

import pytest
from marked_build import (
    BUILD,
    FULL_FACTS,
    HUSH_ENTRY,
    OPEN_ENTRY,
    OPEN_INSPECTION,
    OPEN_MEASUREMENT,
    OPEN_PHOTO,
    STEPS,
    WORKSHOP_ENTRY,
    view_of,
)

from journal.base.model import PhotoFacts
from journal.record.trace import (
    PhotoTrace,
    StepTrace,
    capture_time,
    concerning,
    entry_marks,
    gather_trace,
    photo_traces,
    role_of,
)
from journal.view.people import gather_people
from journal.view.view import Audience

ANY = replace(OPEN_PHOTO, name="any.jpg", step=None)
THREE = replace(
    BUILD,
    entries=(
        replace(OPEN_ENTRY, steps=("5.1", "5.1"), photos=(OPEN_PHOTO, ANY)),
        replace(HUSH_ENTRY, photos=(ANY,)),
        replace(WORKSHOP_ENTRY, photos=()),
    ),
    inspections=(
        replace(OPEN_INSPECTION, photos=(ANY, replace(OPEN_PHOTO, step="7.1"))),
        replace(OPEN_INSPECTION, id="steps", assembly=None, steps=("7.1",), photos=()),
        replace(OPEN_INSPECTION, id="wing", assembly="wing", steps=(), photos=()),
    ),
    measurements=(replace(OPEN_MEASUREMENT, steps=("7.1",), photos=(ANY,)),),
)


def test_a_step_s_threads_field_by_field() -> None:
    """Marks in the order of the journal, pictures that name it or nothing, inspections of it and of its part."""
    view = view_of(THREE, Audience.ARCHIVE)
    first, second, _ = view.entries
    look, steps, wing = view.inspections
    one, other = (PhotoTrace(photo=photo, told=first) for photo in first.photos)
    (hush,) = (PhotoTrace(photo=photo, told=second) for photo in second.photos)
    seen, named = (PhotoTrace(photo=photo, told=look) for photo in look.photos)
    (scales,) = view.measurements
    weighed = PhotoTrace(photo=scales.photos[0], told=scales)
    trace = gather_trace(view)
    assert trace.steps == {
        "5.1": StepTrace(
            step=STEPS["5.1"],
            progress=view.step_progress["5.1"],
            marks=((first, "done"), (second, "done")),
            photos=(one, other, hush, seen),
            inspections=(look,),
        ),
        "5.2": StepTrace(
            step=STEPS["5.2"],
            progress=view.step_progress["5.2"],
            marks=((first, "begun"),),
            photos=(other, seen),
            inspections=(look,),
        ),
        "7.1": StepTrace(
            step=STEPS["7.1"],
            progress=view.step_progress["7.1"],
            marks=((first, "done over"), (second, "done")),
            photos=(other, hush, named, weighed),
            inspections=(steps, wing),
            measurements=(scales,),
        ),
    }
    assert trace.photos == photo_traces(view) == (one, other, hush, seen, named, weighed)
    assert trace.people == gather_people(view)
    assert trace.steps["5.1"].entries == ("open", "2026-hush")
    assert concerning(STEPS["7.1"], view.inspections) == (steps, wing)


def test_where_a_picture_leads() -> None:
    """To its entry, inspection or measurement; to the step it names, else to all; to the day the camera tells."""
    view = view_of(THREE, Audience.ARCHIVE)
    one, other, hush, seen, named, weighed = photo_traces(view)
    assert (weighed.measurement, weighed.inspection, weighed.entry, weighed.steps) == ("scales", None, None, ("7.1",))
    assert seen.measurement is None
    assert [(t.entry, t.inspection) for t in (one, hush, seen)] == [("open", None), ("2026-hush", None), (None, "look")]
    assert [t.steps for t in (one, other, hush, seen, named)] == [
        ("5.1",),
        ("5.1", "5.2", "7.1"),
        ("7.1", "5.1"),
        ("5.1", "5.2"),
        ("7.1",),
    ]
    assert one.day == hush.day == date(2026, 2, 7)
    unset = replace(hush, photo=replace(ANY, facts=PhotoFacts(taken=datetime(2000, 1, 1))))
    assert unset.day == date(2026, 2, 8)


def test_marks_of_an_entry() -> None:
    """Work started first, then done, then done over; each once."""
    entry = view_of(THREE, Audience.ARCHIVE).entries[0]
    assert [(step.id, mark) for step, mark in entry_marks(entry)] == [
        ("5.2", "begun"),
        ("5.1", "done"),
        ("7.1", "done over"),
    ]


def test_an_entry_that_marks_a_step_twice_is_named_once() -> None:
    """Begun and done in one."""
    build = replace(THREE, entries=(replace(OPEN_ENTRY, begun=("5.1",)),))
    trace = gather_trace(view_of(build, Audience.ARCHIVE)).steps["5.1"]
    assert [mark for _, mark in trace.marks] == ["begun", "done"]
    assert trace.entries == ("open",)


def test_roles() -> None:
    """By the name that the view shows."""
    archive, public = view_of(THREE, Audience.ARCHIVE), view_of(THREE, Audience.PUBLIC)
    assert [role_of(archive, name) for name in ("Ada Hush", "Pim Hush", "Ines Hush", "Ada")] == [
        "builder",
        "paid",
        "inspector",
        "",
    ]
    assert role_of(public, "Ada") == "builder"


@pytest.mark.parametrize(
    ("facts", "full", "day"),
    [
        (FULL_FACTS, "2026-02-07T21:34:56+01:00", "2026-02-07"),
        (replace(FULL_FACTS, offset=None), "2026-02-07T21:34:56", "2026-02-07"),
        (replace(FULL_FACTS, taken=datetime(1999, 3, 4, 5, 6, 7)), "1999-03-04T05:06:07+01:00", "1999-03-04"),
        (replace(FULL_FACTS, taken=None), "not recorded", "not recorded"),
        (replace(FULL_FACTS, taken=datetime(2000, 1, 2)), "not recorded", "not recorded"),
    ],
)
def test_capture_times(facts: PhotoFacts, full: str, day: str) -> None:
    """RFC 3339 as far as the camera told it."""
    assert (capture_time(facts), capture_time(facts, day_only=True)) == (full, day)
