"""What each person did, told apart."""

from __future__ import annotations

from datetime import timedelta

from building import DAY, broken, build, entry, photo
from hypothesis import given
from hypothesis import strategies as st
from making import view_of

from journal.base.model import Inspection, Outcome
from journal.ledger.hours import build_ledger
from journal.view.people import PersonWork, gather_people


def test_hours_pictures_and_methods_of_each_person() -> None:
    """Two builders in one entry each have their own time; pictures count for who is seen at work in them."""
    journal = build(
        entry("bench", assembly="workshop", people=("ada",), minutes=30, methods=("Sawing",)),
        entry(
            "ribs",
            day=1,
            people=("ada", "bo"),
            minutes=90,
            steps=("5.2",),
            methods=("deburring", "Dimpling"),
            photos=(photo("a.jpg", people=("bo",)), photo("b.jpg", people=("ada", "bo")), broken("c.jpg")),
        ),
        entry("spar", day=2, assembly="left-wing", people=("bo",), minutes=60, begun=("7.1",), methods=("Deburring ",)),
        entry("told", day=2, people=("bo",), minutes=0),
    )
    work = gather_people(view_of(journal))
    ada, bo = work["Ada Bergstrom"], work["Bo Lindqvist"]
    assert (ada.minutes, ada.minutes_not_counted, len(ada.days)) == (90, 30, 2)
    assert (bo.minutes, bo.minutes_not_counted, len(bo.days), bo.without_hours) == (150, 0, 2, 1)
    assert ada.by_assembly == {"workshop": 30, "flaps": 90}
    assert bo.by_assembly == {"flaps": 90, "left-wing": 60}
    assert list(bo.by_method.items()) == [("deburring", 150), ("Dimpling", 90)]
    assert [p.name for _, p in bo.at_work] == ["a.jpg", "b.jpg"]
    assert len(ada.pictures) == 1
    assert bo.steps == ("5.2", "7.1")
    assert (ada.days[0], ada.days[-1]) == (journal.entries[0].date, journal.entries[1].date)
    assert set(work) == {"Ada Bergstrom", "Bo Lindqvist"}


@given(
    st.lists(
        st.tuples(
            st.lists(st.sampled_from(["ada", "bo", "hanne"]), min_size=1, max_size=3, unique=True),
            st.integers(0, 600),
            st.sampled_from(["workshop", "flaps", "left-wing"]),
        ),
        max_size=12,
    )
)
def test_people_agree_with_the_ledger(rows: list[tuple[list[str], int, str]]) -> None:
    """Each person's minutes are those of the ledger, and together they are the build's."""
    journal = build(
        *(
            entry(f"e{n}", day=n, people=people, minutes=minutes, assembly=assembly)
            for n, (people, minutes, assembly) in enumerate(rows)
        )
    )
    ledger = build_ledger(journal)
    work = gather_people(view_of(journal)).values()
    ids = {person.name: person.id for person in journal.people.values()}
    assert sum(w.minutes for w in work) == ledger.minutes
    assert sum(w.minutes_not_counted for w in work) == ledger.minutes_not_counted
    for w in work:
        assert w.minutes == ledger.by_person.get(ids[w.name], 0)
        assert sum(w.by_assembly.values()) == w.minutes + w.minutes_not_counted


def test_everything_about_everybody_field_by_field() -> None:
    """A builder, a helper seen in a picture alone and an inspector, in the order of occurrence."""
    shown = photo("look.jpg", people=("hanne", "ada"))
    journal = build(
        entry("spar", day=1, assembly="left-wing", people=("ada",), minutes=40, steps=("7.2", "7.1"), redone=("7.1",)),
        entry("same day", day=1, people=("ada",), minutes=20, begun=("5.2",), methods=("sawing", "Sawing", "filing")),
        entry("bench", day=2, assembly="workshop", people=("ada",), minutes=5, methods=("Sawing",)),
        entry("no time", day=3, people=("ada",), minutes=0, photos=(photo("seen.jpg", people=("hanne",)),)),
        inspections=(
            Inspection(
                id="look",
                src_uri="content/inspections/look/index.md",
                date=DAY,
                title="A look",
                people=("bo",),
                outcome=Outcome.PASSED,
                photos=(shown,),
            ),
        ),
    )
    view = view_of(journal)
    work = gather_people(view)
    spar, same_day, bench, no_time = view.entries
    (look,) = view.inspections
    day = [DAY + timedelta(days=number) for number in range(4)]
    assert list(work) == ["Ada Bergstrom", "Hanne Okafor", "Bo Lindqvist"]
    assert work["Ada Bergstrom"] == PersonWork(
        name="Ada Bergstrom",
        entries=(spar, same_day, bench, no_time),
        days=(day[1], day[2], day[3]),
        minutes=60,
        minutes_not_counted=5,
        without_hours=1,
        by_assembly={"workshop": 5, "flaps": 20, "left-wing": 40},
        by_method={"sawing": 25, "filing": 20},
        pictures=((look, look.photos[0]),),
        steps=("5.2", "7.1", "7.2"),
    )
    assert list(work["Ada Bergstrom"].by_assembly) == ["workshop", "flaps", "left-wing"]
    assert list(work["Ada Bergstrom"].by_method) == ["sawing", "filing"]
    assert work["Ada Bergstrom"].at_work == ()
    assert work["Hanne Okafor"] == PersonWork(
        name="Hanne Okafor", pictures=((no_time, no_time.photos[0]), (look, look.photos[0]))
    )
    assert work["Hanne Okafor"].at_work == ((no_time, no_time.photos[0]),)
    assert work["Bo Lindqvist"] == PersonWork(name="Bo Lindqvist", inspections=("look",))


def test_methods_with_as_many_minutes_stand_by_the_alphabet() -> None:
    """More minutes first, then without regard to case."""
    journal = build(
        entry("a", minutes=10, methods=("beading", "Adjusting", "Zinc", "apex")),
        entry("b", day=1, minutes=5, methods=("zinc",)),
    )
    work = gather_people(view_of(journal))["Ada Bergstrom"]
    assert list(work.by_method.items()) == [("Zinc", 15), ("Adjusting", 10), ("apex", 10), ("beading", 10)]


def test_nobody_is_there_where_nothing_is_told() -> None:
    """People of build.yml who did nothing are not listed."""
    assert gather_people(view_of(build())) == {}
