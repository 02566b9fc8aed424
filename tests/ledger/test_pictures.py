"""What one picture says of its time, and when two are one and the same, on and beside each limit."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from fractions import Fraction
from typing import Any

import pytest
from ledger.test_planted import ENTRIES, SOUND, changed, facts, photo

from journal.base.model import UNEDITED, Edits, Part, Photo, PictureTurn
from journal.base.problems import Problem
from journal.ledger.alike import check_undone, same_pictures
from journal.ledger.picture_times import judge_times, why_impossible, without_doubted_times

TODAY = date(2026, 12, 31)
NOON = datetime(2026, 2, 7, 12, 0)
LOOK = int("5a" * 32, 16)


def looks(bits: int, **changes: Any) -> Photo:
    """A picture that differs from LOOK in so many bits."""
    flipped = sum(1 << (bit * 12 + bit // 21) for bit in range(bits))
    return facts(photo(1, NOON.date()), likeness=f"{LOOK ^ flipped:064x}", **changes)


def one_and_the_same(one: Photo, other: Photo, *, elsewhere: bool = True) -> bool:
    """Whether two pictures, of two entries or of one, are told as one; bytes apart."""
    owned = [("a", replace(one, sha256="1")), ("b" if elsewhere else "a", replace(other, sha256="2"))]
    return bool(same_pictures(owned))


MINUTE, A_DAY = timedelta(minutes=1), timedelta(days=1)


@pytest.mark.parametrize(
    ("bits", "changes", "elsewhere", "told"),
    [
        (20, {"taken": NOON + A_DAY}, True, True),
        (21, {"taken": NOON + A_DAY}, True, False),
        (0, {"taken": NOON + MINUTE}, True, False),
        (0, {"taken": NOON + MINUTE}, False, False),
        (20, {"taken": NOON}, False, True),
        (21, {"taken": NOON}, False, False),
        (32, {"taken": NOON, "width": 2000}, True, True),
        (32, {"taken": NOON, "height": 1500}, True, True),
        (33, {"taken": NOON, "width": 2000}, True, False),
        (20, {"taken": None}, False, True),
        (21, {"taken": None}, True, False),
        (20, {"taken": datetime(2000, 1, 1, 12, 0)}, True, True),
        (0, {"taken": None, "likeness": ""}, True, False),
    ],
)
def test_when_two_pictures_are_one(bits: int, changes: dict[str, Any], elsewhere: bool, told: bool) -> None:
    """By bits that differ, capture times, sizes and entries; the other way round as well."""
    other = looks(bits)
    other = replace(other, facts=replace(other.facts, **changes))
    for one, two in ((looks(0), other), (other, looks(0))):
        assert one_and_the_same(one, two, elsewhere=elsewhere) is told


@pytest.mark.parametrize(("bits", "elsewhere", "told"), [(12, False, True), (13, False, False), (20, True, True)])
def test_two_that_lost_their_time_on_the_way(bits: int, elsewhere: bool, told: bool) -> None:
    """Of one entry they have to be nearer."""
    assert one_and_the_same(looks(0, taken=None), looks(bits, taken=None), elsewhere=elsewhere) is told


def test_a_raw_file_and_its_picture_are_two_files_of_one_shot() -> None:
    """Cameras write both at once: nothing is told twice there; in another entry it is."""
    raw = replace(looks(1, taken=NOON), name="IMG_1.DNG", src_uri="r")
    raw = replace(raw, facts=replace(raw.facts, kind="raw"))
    shown = replace(looks(0, taken=NOON), name="IMG_1.jpg", src_uri="s")
    assert not one_and_the_same(raw, shown, elsewhere=False)
    assert one_and_the_same(raw, shown)
    assert one_and_the_same(raw, replace(shown, name="IMG_2.jpg"), elsewhere=False)


def test_a_row_of_one_bench_is_not_joined_by_a_copy_of_one() -> None:
    """Three of one evening, and the first of them again in May: that one and its copy."""
    row = [
        ("a", replace(looks(bits, taken=NOON + bits * MINUTE), sha256=f"{bits}", name=f"{bits}"))
        for bits in (0, 15, 30)
    ]
    copy = ("b", replace(looks(0, taken=NOON + 90 * A_DAY), sha256="x", name="x"))
    assert same_pictures(row) == []
    (group,) = same_pictures([row[0], row[2], copy])
    assert [one.name for _, one in group] == ["0", "x"]


def verdict(changes: dict[str, Any]) -> tuple[str, str]:
    """What is said of the second picture of the first entry with another file."""
    second = facts(ENTRIES[0].photos[1], **changes)
    told = judge_times(changed(0, photos=(ENTRIES[0].photos[0], second)), TODAY)
    return told.get(second.src_uri, ("", ""))


@pytest.mark.parametrize(
    ("offset", "fix", "against"),
    [
        ("+01:00", datetime(2026, 2, 7, 11, 15), False),
        ("+01:00", datetime(2026, 2, 7, 11, 16), True),
        ("+01:00", datetime(2026, 2, 7, 5, 0), False),
        ("+01:00", datetime(2026, 2, 7, 4, 59), True),
        ("-03:30", datetime(2026, 2, 7, 15, 30), False),
        ("-03:30", datetime(2026, 2, 7, 15, 46), True),
        (None, datetime(2026, 2, 8, 0, 15), False),
        (None, datetime(2026, 2, 8, 0, 16), True),
        (None, datetime(2026, 2, 6, 16, 0), False),
        (None, datetime(2026, 2, 6, 15, 59), True),
    ],
)
def test_the_satellite_against_the_camera(offset: str | None, fix: datetime, against: bool) -> None:
    """A fix may be a quarter of an hour ahead and six hours old; without an offset any zone on Earth may be meant."""
    word, said = verdict({"offset": offset, "positioned": fix})
    assert word == ("photo-time" if against else "")
    if against:
        zone = f" {offset}" if offset else ""
        assert said.startswith(f" (by its camera 7 February 2026 12:00{zone}, by satellite ")


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"taken": datetime(2099, 5, 1, 12)}, "which is yet to come"),
        ({"taken": datetime.combine(TODAY, time(12)) + timedelta(days=2)}, "which is yet to come"),
        (
            {"taken": datetime(1999, 5, 25, 12), "exif_version": "0232"},
            "before such a camera was made: it writes Exif 2.32 of 2019",
        ),
        ({"taken": datetime(2009, 5, 25, 12), "exif_version": "0230"}, "it writes Exif 2.3 of 2010"),
        ({"positioned": None, "positioned_on": date(2026, 2, 9)}, "by satellite 9 February 2026"),
    ],
)
def test_times_that_cannot_be(changes: dict[str, Any], said: str) -> None:
    """Named, and for followers the picture has no time at all."""
    word, told = verdict({"positioned": None, **changes})
    assert word == "photo-time"
    assert said in told
    second = facts(ENTRIES[0].photos[1], **{"positioned": None, **changes})
    shown = without_doubted_times(changed(0, photos=(ENTRIES[0].photos[0], second)), TODAY)
    assert [one.facts.taken is None for one in shown.entries[0].photos] == [False, True]


@pytest.mark.parametrize(
    "changes",
    [
        {"taken": datetime(2016, 2, 7, 12), "exif_version": "0231"},
        {"taken": datetime(2026, 2, 7, 12), "exif_version": "0232"},
        {"positioned": None, "positioned_on": date(2026, 2, 8)},
    ],
)
def test_times_that_can_be(changes: dict[str, Any]) -> None:
    """The year of the standard itself, today's camera, the other side of midnight."""
    one = facts(ENTRIES[0].photos[1], **{"positioned": None, **changes}).facts
    assert why_impossible(one, TODAY, date(2026, 1, 10)) == ""
    assert verdict({"positioned": None, **changes, "taken": NOON})[0] == ""


@pytest.mark.parametrize(
    ("version", "named", "year"),
    [
        ("0220", "2.2", 2002),
        ("0221", "2.21", 2003),
        ("0230", "2.3", 2010),
        ("0231", "2.31", 2016),
        ("0232", "2.32", 2019),
        ("0300", "3.0", 2023),
    ],
)
def test_a_picture_is_no_older_than_the_standard_it_is_written_by(version: str, named: str, year: int) -> None:
    """Each edition of Exif from 2.2 on, by the year on its title page (from memory)."""
    told = [
        why_impossible(replace(at(0), taken=datetime(taken, 5, 25, 12), exif_version=version), TODAY, TODAY)
        for taken in (year - 1, year)
    ]
    assert told == [
        f"by its camera 25 May {year - 1}, before such a camera was made: it writes Exif {named} of {year}",
        "",
    ]


def numbered(numbers: list[int], days: list[int]) -> list[str]:
    """The names whose number runs against the order of days."""
    photos = tuple(
        replace(photo(number, date(2026, 1, 1) + timedelta(days=after)), facts=at(after))
        for number, after in zip(numbers, days, strict=True)
    )
    told = judge_times(replace(SOUND, entries=(replace(ENTRIES[0], photos=photos),), inspections=()), TODAY)
    return [one.name for one in photos if told.get(one.src_uri, ("",))[0] == "photo-time"]


def at(after: int) -> Any:
    """The file of a picture so many days into the year, without a satellite."""
    base = photo(1, date(2026, 1, 1)).facts
    return replace(base, taken=datetime(2026, 1, 1, 12, 0) + timedelta(days=after), positioned=None)


@pytest.mark.parametrize(
    ("numbers", "days", "told"),
    [
        ([1, 2, 3, 4, 5, 6, 7, 8], [0, 1, 2, 90, 4, 5, 6, 7], ["IMG_0004.jpg"]),
        ([1, 2, 3, 4, 5, 6, 7, 8], [10, 11, 12, 0, 14, 15, 16, 17], ["IMG_0004.jpg"]),
        ([1, 2, 3, 4, 5, 6, 7], [0, 1, 2, 90, 4, 5, 6], []),
        ([1, 2, 3, 4, 5, 6, 7, 8], [0, 1, 2, 5, 4, 5, 6, 7], []),
        ([1, 2, 3, 4, 5, 6, 7, 8], [0, 1, 2, 6, 4, 5, 6, 7], ["IMG_0004.jpg"]),
        ([1, 2, 3, 23, 43, 44, 45, 46], [0, 1, 2, 90, 4, 5, 6, 7], ["IMG_0023.jpg"]),
        ([1, 2, 3, 24, 43, 44, 45, 46], [0, 1, 2, 90, 4, 5, 6, 7], []),
        ([1, 2, 3, 4, 5, 6, 7, 8, 9, 10], [0, 1, 90, 3, 4, 80, 6, 7, 8, 9], []),
        ([9997, 9998, 9999, 1, 2, 3, 4, 5], [0, 1, 2, 3, 4, 5, 6, 7], []),
        ([1, 2, 2, 3, 4, 5, 6, 7], [0, 1, 90, 3, 4, 5, 6, 7], []),
    ],
)
def test_numbers_against_days(numbers: list[int], days: list[int], told: list[str]) -> None:
    """Told where both neighbours are near and in order; not where a phone began again, or two of one make meet."""
    assert numbered(numbers, days) == told


@pytest.mark.parametrize(
    ("name", "against"),
    [
        ("IMG_20260207_120000.jpg", False),
        ("PXL_20260208_120000123.jpg", False),
        ("20260209_120000.jpg", True),
        ("IMG_20260205_120000.jpg", True),
        ("IMG-20260105-WA0004.jpg", False),
        ("IMG_20261307_120000.jpg", False),
        ("plan_20250207_120000.jpg", False),
    ],
)
def test_the_name_against_the_camera(name: str, against: bool) -> None:
    """Names that cameras give with the day in them; a day off is none; what a messenger names is the day of sending."""
    shot = replace(ENTRIES[0].photos[1], name=name, src_uri=name)
    told = judge_times(changed(0, photos=(ENTRIES[0].photos[0], shot)), TODAY)
    assert (name in told) is against


def part(*edges: str) -> Part:
    """A rectangle as it is written."""
    left, top, right, bottom = map(Fraction, edges)
    return left, top, right, bottom


LEFT_HALF, RIGHT_HALF, MIDDLE = part("0", "0", "0.5", "1"), part("0.5", "0", "1", "1"), part("0.4", "0", "0.6", "1")


@pytest.mark.parametrize(
    ("here", "there", "told"),
    [
        (UNEDITED, Edits(blur=(MIDDLE,)), True),
        (UNEDITED, Edits(crop=LEFT_HALF), True),
        (UNEDITED, Edits(turn=PictureTurn.LEFT), False),
        (Edits(turn=PictureTurn.LEFT, crop=LEFT_HALF), Edits(crop=LEFT_HALF), False),
        (Edits(crop=MIDDLE), Edits(crop=LEFT_HALF), True),
        (Edits(crop=LEFT_HALF), Edits(blur=(RIGHT_HALF,)), False),
        (Edits(crop=LEFT_HALF), Edits(blur=(MIDDLE,)), True),
        (Edits(crop=LEFT_HALF, blur=(MIDDLE,)), Edits(blur=(MIDDLE,)), False),
        (Edits(blur=(LEFT_HALF, RIGHT_HALF)), Edits(blur=(RIGHT_HALF,)), False),
        (Edits(blur=(LEFT_HALF,)), Edits(blur=(RIGHT_HALF,)), True),
    ],
)
def test_what_is_hidden_in_one_place_and_shown_in_another_is_told(here: Edits, there: Edits, told: bool) -> None:
    """At the one that shows it, unless nobody sees that one."""

    def found(*photos: Photo, private: bool = False) -> list[Problem]:
        entries = [replace(one, photos=(picture,)) for one, picture in zip(ENTRIES, photos, strict=False)]
        entries[0] = replace(entries[0], private=private)
        return [one for one in check_undone(replace(SOUND, entries=tuple(entries))) if one.file == entries[0].src_uri]

    one, other = (replace(photo(at, NOON.date()), sha256="same", edits=said) for at, said in ((1, here), (2, there)))
    assert [problem.word for problem in found(one, other)] == ["blur-undone"] * told
    assert found(replace(one, private=True), other) == found(one, other, private=True) == []
