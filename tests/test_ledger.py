"""The ledger: no minute is lost, none is counted twice."""

from __future__ import annotations

from datetime import date, timedelta
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st
from making import BUILD_YML, MakeBuild, entry, read

from journal.base.formatting import month_of
from journal.base.model import Aircraft, Assembly, Build, Entry, Person, Role, WorkedTime, sort_entries
from journal.ledger.hours import build_ledger

ASSEMBLIES = {
    "workshop": Assembly(id="workshop", title="Workshop", counts=False),
    "flaps": Assembly(id="flaps", title="Flaps"),
    "wing": Assembly(id="wing", title="Wing"),
}
PEOPLE = {name: Person(id=name, name=name.title(), role=Role.BUILDER) for name in ("ada", "bo", "cy")}


@st.composite
def entries(draw: st.DrawFn) -> tuple[Entry, ...]:
    """Up to 25 entries over a year, in journal order."""
    made = []
    for number in range(draw(st.integers(0, 25))):
        people = draw(st.lists(st.sampled_from(sorted(PEOPLE)), unique=True, max_size=3))
        time = tuple(WorkedTime(person=person, minutes=draw(st.integers(0, 1000))) for person in people)
        made.append(
            Entry(
                id=f"e{number:02d}",
                src_uri="",
                date=date(2026, 1, 1) + timedelta(days=draw(st.integers(0, 364))),
                title="",
                assembly=draw(st.sampled_from(sorted(ASSEMBLIES))),
                time=time,
                elapsed_minutes=max((worked.minutes for worked in time), default=0),
                starts_at=draw(st.none() | st.integers(0, 1439)),
                people=tuple(people),
                private=draw(st.booleans()),
            )
        )
    return sort_entries(made)


def build_of(told: tuple[Entry, ...]) -> Build:
    """A build with these entries."""
    return Build(aircraft=Aircraft(name="Tarn"), assemblies=ASSEMBLIES, people=PEOPLE, entries=told)


@settings(max_examples=30)
@given(entries())
def test_every_minute_lands_on_one_assembly(told: tuple[Entry, ...]) -> None:
    """The assemblies' minutes add up to those of all entries; counted and not counted part them."""
    ledger = build_ledger(build_of(told))
    everything = sum(entry.minutes for entry in told)
    assert sum(ledger.by_assembly.values()) == everything
    assert ledger.minutes + ledger.minutes_not_counted == everything
    assert ledger.minutes_not_counted == ledger.by_assembly["workshop"]
    assert sum(ledger.by_person_and_assembly.values()) == everything


@settings(max_examples=30)
@given(entries())
def test_months_and_people_add_up_to_what_counts(told: tuple[Entry, ...]) -> None:
    """By month and by person are two cuts of the same total."""
    ledger = build_ledger(build_of(told))
    assert sum(ledger.by_month.values()) == sum(ledger.by_person.values()) == ledger.minutes
    assert list(ledger.by_month) == sorted(ledger.by_month)


@settings(max_examples=30)
@given(entries())
def test_hours_to_date_never_fall_and_end_at_the_total(told: tuple[Entry, ...]) -> None:
    """Each entry's running total is the sum up to and with it; what does not count leaves it alone."""
    ledger = build_ledger(build_of(told))
    running = 0
    for entry_ in told:
        running += entry_.minutes if ASSEMBLIES[entry_.assembly].counts else 0
        assert ledger.entries[entry_.id].minutes_to_date == running
    assert running == ledger.minutes


@settings(max_examples=30)
@given(entries())
def test_days_are_numbered_by_the_dates_worked(told: tuple[Entry, ...]) -> None:
    """Day N counts dates, not entries; two entries of a date share it."""
    ledger = build_ledger(build_of(told))
    days = sorted({entry_.date for entry_ in told})
    assert [ledger.entries[entry_.id].day for entry_ in told] == [days.index(e.date) + 1 for e in told]
    assert ledger.days == len(days)


@settings(max_examples=30)
@given(entries(), st.randoms())
def test_the_order_of_reading_does_not_matter(told: tuple[Entry, ...], random: Random) -> None:
    """Shuffled and sorted again, the journal is the same."""
    shuffled = list(told)
    random.shuffle(shuffled)
    assert sort_entries(shuffled) == told


def test_two_people_for_3_15_are_6_30(make_build: MakeBuild) -> None:
    """Totals count person-hours; how long the session lasted is told beside them."""
    build, _ = read(make_build({"entries/a/index.md": entry("hours: 3:15")}))
    ledger = build_ledger(build)
    assert (ledger.minutes, ledger.elapsed_minutes, ledger.days) == (390, 195, 1)


def test_private_entries_count_and_drafts_do_not(make_build: MakeBuild) -> None:
    """What followers cannot see is still work; what is not finished is not."""
    files = {
        "entries/a/index.md": entry("hours: {ada: 1:00}\nprivate: true"),
        "entries/b/index.md": entry("date: 2026-02-08\nhours: {ada: 2:00}\ndraft: true"),
        "entries/c/index.md": entry("date: 2026-02-09\nhours: {ada: 4:00}"),
    }
    build, _ = read(make_build(files))
    ledger = build_ledger(build)
    assert (ledger.minutes, ledger.days) == (300, 2)
    assert ledger.entries["c"].minutes_to_date == 300
    assert [draft.id for draft in build.drafts] == ["b"]


def test_order_within_a_day(make_build: MakeBuild) -> None:
    """First clock time first; entries without one come after, by folder name."""
    files = {
        "entries/2026-02-07-a/index.md": entry("hours: 1:00"),
        "entries/2026-02-07-b/index.md": entry("hours: 20:00-21:00"),
        "entries/2026-02-07-c/index.md": entry("hours: {ada: [8:00-9:00, 22:00-23:00]}"),
        "entries/2026-02-06-z/index.md": entry("date: 2026-02-06\nhours: 2"),
    }
    build, _ = read(make_build(files))
    assert [e.id[-1] for e in build.entries] == ["z", "c", "b", "a"]


def test_an_assembly_that_does_not_count_shows_the_total_unchanged(make_build: MakeBuild) -> None:
    """Workshop hours stand apart; the entry still says how far the build has come."""
    files = {
        "entries/a/index.md": entry("hours: {ada: 2:00}"),
        "entries/b/index.md": entry("date: 2026-02-08\nassembly: workshop\nhours: {ada: 5:00}"),
    }
    build, _ = read(make_build(files))
    ledger = build_ledger(build)
    assert ledger.entries["b"].minutes_to_date == 120
    assert ledger.entries["b"].assembly_minutes_to_date == 300
    assert ledger.by_month == {"2026-02": 120}


def test_build_yml_may_say_which_assemblies_count() -> None:
    """The fixture says so for the workshop; a month's key is ISO 8601."""
    assert "counts: false" in BUILD_YML
    assert month_of(date(2026, 2, 7)) == date(2026, 2, 7).isoformat()[:7]
