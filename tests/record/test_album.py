"""The short album: chosen by the stated rules, spread over assemblies and time, the same every time."""

from __future__ import annotations

from collections import Counter
from datetime import date, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

from journal.base.model import (
    Aircraft,
    Assembly,
    Build,
    Entry,
    Inspection,
    Outcome,
    Person,
    Photo,
    PhotoFacts,
    Role,
    sort_entries,
)
from journal.ledger.evidence import Evidence
from journal.ledger.hours import build_ledger
from journal.ledger.journal import Journal
from journal.ledger.progress import replay
from journal.record.album import AlbumPicture, Reason, choose_album
from journal.view.view import Audience, View, open_view

BUILDERS = {"Ada Bergstrom"}
FIRST = date(2026, 1, 1)
NUMBERS = iter(range(10**9))


def photo(day: date = FIRST, **changes: Any) -> Photo:
    """A usable picture with bytes of its own, taken on `day`."""
    number = next(NUMBERS)
    values: dict[str, Any] = {
        "name": f"{number}.jpg",
        "src_uri": f"content/{number}.jpg",
        "sha256": f"{number:064x}",
        "facts": PhotoFacts(kind="JPEG", taken=datetime(day.year, day.month, day.day, 9)),
    }
    return Photo(**values | changes)


def view_of(*days_of_work: tuple[str, int, list[Photo]], inspections: tuple[Inspection, ...] = ()) -> View:
    """The archive's view of entries given as (assembly, days after the first, pictures)."""
    entries = [
        Entry(
            id=f"e{number}",
            src_uri=f"content/entries/e{number}/index.md",
            date=FIRST + timedelta(days=days),
            title="",
            assembly=assembly,
            photos=tuple(photos),
        )
        for number, (assembly, days, photos) in enumerate(days_of_work)
    ]
    build = Build(
        aircraft=Aircraft(name="Tarn"),
        people={
            "ada": Person(id="ada", name="Ada Bergstrom", role=Role.BUILDER),
            "bo": Person(id="bo", name="Bo Hale", role=Role.HELPER),
        },
        assemblies={name: Assembly(id=name, title=name) for name in ("flaps", "wing", "tail")},
        entries=sort_entries(entries),
        inspections=inspections,
    )
    journal = Journal(
        root=Path(),
        today=FIRST,
        build=build,
        ledger=build_ledger(build),
        progress=replay(build),
        evidence=Evidence(),
    )
    return open_view(journal, Audience.ARCHIVE)


def album(view: View) -> tuple[AlbumPicture, ...]:
    """The album with every picture usable."""
    return choose_album(view, BUILDERS, lambda one: not one.facts.trouble)


def many(assembly: str, number: int, **changes: Any) -> list[tuple[str, int, list[Photo]]]:
    """`number` entries a week apart with one picture each."""
    return [(assembly, 7 * n, [photo(FIRST + timedelta(days=7 * n), **changes)]) for n in range(number)]


def test_a_small_build_shows_all_it_has():
    """Fewer than 24 pictures: every one of them, in the order of the journal."""
    view = view_of(*many("flaps", 10))
    assert [one.photo for one in album(view)] == [entry.photos[0] for entry in view.entries]


def test_the_last_sheet_is_full_and_the_album_short():
    """However many pictures there are, 24 to 42 are shown and a multiple of six."""
    for number in (24, 27, 60, 300):
        assert len(album(view_of(*many("flaps", number)))) in (24, 30, 36, 42)
    full = view_of(*many("flaps", 90, people=("ada",)), *many("wing", 90, inside=True), *many("tail", 90))
    assert len(album(full)) == 42


def test_builders_at_work_come_first():
    """Sixteen of many pictures of a builder at work are in, and say why; a helper alone does not count."""
    view = view_of(*many("flaps", 60), ("flaps", 3, [photo(people=("ada",)) for _ in range(30)]))
    reasons = Counter(one.reason for one in album(view))
    assert reasons[Reason.AT_WORK] == 16
    helper = view_of(("flaps", 0, [photo(people=("bo",))]))
    assert [one.reason for one in album(helper)] == [Reason.COVER]


def test_the_inside_is_shown():
    """The one picture of the inside among three hundred is in the album."""
    hidden = photo(FIRST, inside=True)
    view = view_of(*many("flaps", 300), ("flaps", 1000, [photo(), photo(), hidden]))
    assert [one.photo for one in album(view) if one.reason is Reason.INSIDE] == [hidden]


def test_pictures_of_inspections_take_part():
    """A picture of the inside that belongs to an inspection leads to the inspection."""
    inspection = Inspection(
        id="look",
        src_uri="content/inspections/look/index.md",
        date=FIRST,
        title="Look",
        assembly="flaps",
        people=("bo",),
        outcome=Outcome.PASSED,
        photos=(photo(inside=True),),
    )
    (one,) = album(view_of(inspections=(inspection,)))
    assert (one.inspection, one.entry, one.reason) == ("look", None, Reason.INSIDE)


def test_covers_are_chosen_before_others():
    """Where an entry marks a picture to stand for it, that one is taken."""
    marked = [photo(cover=True) for _ in range(12)]
    view = view_of(*[("flaps", n, [photo(), photo(), photo(), cover]) for n, cover in enumerate(marked)])
    assert {one.photo for one in album(view) if one.reason is Reason.COVER} == set(marked)


def test_assemblies_share_the_album():
    """Three assemblies with plenty of pictures get equal room, whatever their numbers."""
    view = view_of(*many("flaps", 200), *many("wing", 40), *many("tail", 12))
    counts = Counter(one.told.assembly.id for one in album(view) if one.told.assembly)
    assert max(counts.values()) - min(counts.values()) <= 1


def test_pictures_are_spread_over_time():
    """Of a hundred weeks of one assembly no stretch longer than a fifth of them is left out."""
    view = view_of(*many("flaps", 100))
    days = sorted((one.day - FIRST).days for one in album(view))
    gaps = [after - before for before, after in pairwise(days)]
    assert max(gaps) <= 140
    assert days[0] == 0
    assert days[-1] == 693


def test_a_picture_counts_once_and_only_where_it_can_be_shown():
    """Copies are one picture; a file that cannot be used is none."""
    one = photo()
    copy = photo(sha256=one.sha256)
    broken = photo(facts=PhotoFacts(trouble="cut short"))
    assert [found.photo for found in album(view_of(("flaps", 0, [one, broken]), ("wing", 5, [copy])))] == [one]


def test_the_choice_is_the_same_every_time_and_in_order():
    """Same view, same album; in the order of the journal."""
    view = view_of(*many("flaps", 80), *many("wing", 80, people=("ada",)))
    chosen = album(view)
    assert chosen == album(view)
    order = {entry.id: number for number, entry in enumerate(view.entries)}
    ranks = [order[one.entry] for one in chosen if one.entry]
    assert ranks == sorted(ranks)


def test_a_picture_without_time_stands_on_its_entrys_day():
    """A camera that told nothing does not move the picture elsewhere."""
    (one,) = album(view_of(("flaps", 9, [photo(facts=PhotoFacts(kind="PNG"))])))
    assert one.day == FIRST + timedelta(days=9)
