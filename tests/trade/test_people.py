"""What each person did, told apart."""

from __future__ import annotations

from building import broken, build, entry, photo
from hypothesis import given
from hypothesis import strategies as st
from making import view_of

from journal.ledger.hours import build_ledger
from journal.view.people import gather_people


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
