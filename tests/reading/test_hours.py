"""Hours in every form, over midnight and over changes of clock."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from making import BUILD_YML, MakeBuild, entry, read, words

from journal.base.model import WorkedTime
from journal.reading.hours import elapsed_minutes, parse_duration, parse_span, passed_minutes


@pytest.mark.parametrize(
    ("text", "minutes"),
    [("3:15", 195), ("3.25", 195), ("0:05", 5), ("2", 120), ("0.1", 6), (".5", 30), ("12:00", 720), ("0.3333", 20)],
)
def test_a_duration_is_read_to_the_minute(text: str, minutes: int) -> None:
    """Hours and minutes or decimal hours give the same whole minutes."""
    assert parse_duration(text) == minutes


@pytest.mark.parametrize("text", ["3,25", "3:60", "3:5", "three", "", "-1", "1e3", "99999999", "\u0663"])
def test_what_is_not_a_duration_is_refused(text: str) -> None:
    """Nothing is guessed."""
    assert parse_duration(text) is None


@given(st.integers(0, 20_000))
def test_hours_and_minutes_round_trip(minutes: int) -> None:
    """Written as h:mm, every number of minutes is read back."""
    assert parse_duration(f"{minutes // 60}:{minutes % 60:02d}") == minutes


FORMS = {
    "3.25": {"ada": 195, "bo": 195},
    "2:45": {"ada": 165, "bo": 165},
    "18:30-21:45": {"ada": 195, "bo": 195},
    "21:50-00:40": {"ada": 170, "bo": 170},
    "[18:00-19:00, 20:15-21:00]": {"ada": 105, "bo": 105},
    "{ada: 3:15, bo: 18:00 - 19:30}": {"ada": 195, "bo": 90},
    "{ada: [9:00-12:00, 13:30-17:00]}": {"ada": 390},
    "{ada: 1.5, hanne: 2:00}": {"ada": 90, "hanne": 120},
    "08:00–24:00": {"ada": 960, "bo": 960},
}


@pytest.mark.parametrize("form", FORMS)
def test_every_form_of_hours(make_build: MakeBuild, form: str) -> None:
    """Each form in the format document gives each person's minutes."""
    build, problems = read(make_build({"entries/a/index.md": entry(f"hours: {form}")}))
    assert words(problems) == []
    assert {time.person: time.minutes for time in build.entries[0].time} == FORMS[form]


@pytest.mark.parametrize(
    ("hours", "word"),
    [
        ("2;45", "bad-hours"),
        ("3,25", "bad-hours"),
        ("18:30-18:30", "bad-hours"),
        ("25:00-26:00", "bad-hours"),
        ("[18:00-20:00, 19:00-21:00]", "hours-overlap"),
        ("{zoe: 3:15}", "unknown-person"),
        ("{ada: {bo: 1}}", "bad-hours"),
        ("[[1:00]]", "bad-hours"),
    ],
)
def test_hours_that_cannot_be_read(make_build: MakeBuild, hours: str, word: str) -> None:
    """A slip is an error with its place, and the entry is not counted with a guess."""
    build, problems = read(make_build({"entries/a/index.md": entry(f"hours: {hours}")}))
    assert words(problems) == [word]
    assert (problems[0].line, build.entries) == (2, ())


def test_a_person_with_hours_must_be_among_people(make_build: MakeBuild) -> None:
    """`people` and the mapping of `hours` must not contradict each other."""
    _, problems = read(make_build({"entries/a/index.md": entry("people: [ada]\nhours: {bo: 1:00}")}))
    assert words(problems) == ["hours-of-nobody"]
    _, problems = read(make_build({"entries/a/index.md": entry("people: [ada, bo]\nhours: {bo: 1:00}")}))
    assert words(problems) == ["no-hours"]


# Expected values from the IANA rules for these zones (tzdata): the clocks of Europe/Zurich went
# from 02:00 to 03:00 on 2026-03-29 and from 03:00 to 02:00 on 2026-10-25; Australia/Lord_Howe
# changes by half an hour (02:00 to 01:30 on 2026-04-05).
CHANGES = [
    ("Europe/Zurich", date(2026, 3, 28), "22:00-04:00", 5 * 60),
    ("Europe/Zurich", date(2026, 3, 29), "01:00-04:00", 2 * 60),
    ("Europe/Zurich", date(2026, 10, 24), "22:00-04:00", 7 * 60),
    ("Europe/Zurich", date(2026, 10, 25), "01:00-04:00", 4 * 60),
    ("Europe/Zurich", date(2026, 7, 1), "22:00-04:00", 6 * 60),
    ("Australia/Lord_Howe", date(2026, 4, 5), "01:00-04:00", 3 * 60 + 30),
    ("America/St_Johns", date(2026, 3, 8), "01:00-04:00", 2 * 60),
]


@pytest.mark.parametrize(("zone", "day", "span", "minutes"), CHANGES)
def test_a_span_over_a_change_of_clock_counts_what_passed(
    make_build: MakeBuild, zone: str, day: date, span: str, minutes: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The zone of build.yml decides, whatever zone the machine is in."""
    monkeypatch.setenv("TZ", "Pacific/Auckland")
    files = {
        "build.yml": BUILD_YML.replace("Europe/Zurich", zone),
        "entries/a/index.md": entry(f"date: {day}\nhours: {{ada: {span}}}"),
    }
    build, _ = read(make_build(files))
    assert build.entries[0].minutes == build.entries[0].elapsed_minutes == minutes


def test_without_a_zone_clock_times_are_taken_as_written(make_build: MakeBuild) -> None:
    """No zone named: 01:00-04:00 is three hours on every day."""
    files = {
        "build.yml": BUILD_YML.replace("zone: Europe/Zurich\n", ""),
        "entries/a/index.md": entry("date: 2026-03-29\nhours: {ada: 01:00-04:00}"),
    }
    build, problems = read(make_build(files))
    assert (build.entries[0].minutes, words(problems)) == (180, [])


@pytest.mark.parametrize(
    ("day", "span", "said"),
    [("2026-03-29", "02:30-05:00", "does not exist"), ("2026-10-25", "02:30-05:00", "occurs twice")],
)
def test_a_clock_time_that_is_not_one_instant_is_told(make_build: MakeBuild, day: str, span: str, said: str) -> None:
    """A skipped or doubled clock time is counted by rule and pointed out."""
    _, problems = read(make_build({"entries/a/index.md": entry(f"date: {day}\nhours: {{ada: 02:30-05:00}}")}))
    assert words(problems) == ["clock-change"]
    assert said in problems[0].message


def test_no_time_is_negative(make_build: MakeBuild) -> None:
    """`02:30-03:00` on the night of the spring change: the start is put behind the end, so no time passed."""
    build, problems = read(make_build({"entries/a/index.md": entry("date: 2026-03-29\nhours: 02:30-03:00")}))
    assert [worked.minutes for worked in build.entries[0].time] == [0, 0]
    assert (build.entries[0].elapsed_minutes, words(problems)) == (0, ["clock-change"])


@given(
    st.sampled_from(["Europe/Zurich", "America/St_Johns", "Australia/Lord_Howe", "Asia/Kathmandu", "UTC"]),
    st.dates(date(1990, 1, 1), date(2035, 12, 31)),
    st.integers(0, 1439),
    st.integers(1, 1439),
)
def test_time_passed_agrees_with_the_zone_data(zone_name: str, day: date, start: int, length: int) -> None:
    """Against the standard library's own aware arithmetic in UTC."""
    zone = ZoneInfo(zone_name)
    midnight = datetime(day.year, day.month, day.day)
    local = [(midnight + timedelta(minutes=m)).replace(tzinfo=zone) for m in (start, start + length)]
    seconds = local[1].astimezone(UTC).timestamp() - local[0].astimezone(UTC).timestamp()
    assert passed_minutes(day, start, start + length, zone) == max(0, seconds // 60)


spans = st.tuples(st.integers(0, 1439), st.integers(1, 700)).map(lambda t: (t[0], t[0] + t[1]))


@given(st.lists(spans, min_size=1, max_size=6))
def test_a_session_lasts_as_long_as_somebody_is_there(told: list[tuple[int, int]]) -> None:
    """Elapsed minutes are the union of everybody's spans, counted minute by minute."""
    times = tuple(
        WorkedTime(person=str(number), minutes=end - start, spans=((start, end),))
        for number, (start, end) in enumerate(told)
    )
    there = {minute for start, end in told for minute in range(start, end)}
    assert elapsed_minutes(date(2026, 7, 1), times, None) == len(there)


@pytest.mark.parametrize("day", [date(9999, 12, 31), date(1, 1, 1)])
def test_the_first_and_the_last_day_there_are(day: date) -> None:
    """Where no calendar goes on, clock times are taken as written; nothing breaks."""
    assert passed_minutes(day, 23 * 60, 25 * 60, ZoneInfo("Europe/Zurich")) == 120
    assert passed_minutes(day, 0, 60, ZoneInfo("Asia/Tokyo")) == 60


ADA, BO = "ada", "bo"


@pytest.mark.parametrize(
    ("matter", "time", "elapsed", "starts"),
    [
        ("hours: 3:15", [(ADA, 195, ()), (BO, 195, ())], 195, None),
        ("hours: 18:30-21:45\npeople: [bo]", [(BO, 195, ((1110, 1305),))], 195, 1110),
        ("hours: 21:50 to 00:40\npeople: [bo]", [(BO, 170, ((1310, 1480),))], 170, 1310),
        ("hours: 9:00\u201410:00\npeople: [bo]", [(BO, 60, ((540, 600),))], 60, 540),
        ("hours: 24:00-1:00\npeople: [bo]", [(BO, 60, ((1440, 1500),))], 60, 1440),
        ("hours: 0:00-24:00\npeople: [bo]", [(BO, 1440, ((0, 1440),))], 1440, 0),
        ("hours: [20:00-21:00, 18:00-19:00, 0:30]\npeople: [bo]", [(BO, 150, ((1080, 1140), (1200, 1260)))], 150, 1080),
        ("hours: [18:00-19:00, 19:00-20:00]\npeople: [bo]", [(BO, 120, ((1080, 1140), (1140, 1200)))], 120, 1080),
        (
            "hours: {bo: 18:00-20:00, ada: 19:00-21:30}",
            [(BO, 120, ((1080, 1200),)), (ADA, 150, ((1140, 1290),))],
            210,
            1080,
        ),
        ("hours: {bo: 18:00-20:00, ada: 9:00}", [(BO, 120, ((1080, 1200),)), (ADA, 540, ())], 540, 1080),
        ("people: [bo, ada]\nhours: {ada: 1, bo: 2}", [(BO, 120, ()), (ADA, 60, ())], 120, None),
        ("hours: 0", [(ADA, 0, ()), (BO, 0, ())], 0, None),
    ],
)
def test_times_field_by_field(
    make_build: MakeBuild,
    matter: str,
    time: list[tuple[str, int, tuple[tuple[int, int], ...]]],
    elapsed: int,
    starts: int | None,
) -> None:
    """Per person in the order of `people`, spans in order; how long it lasted; when it began."""
    build, problems = read(make_build({"entries/a/index.md": entry(matter)}))
    assert problems == ()
    one = build.entries[0]
    assert [(worked.person, worked.minutes, worked.spans) for worked in one.time] == time
    assert (one.elapsed_minutes, one.starts_at) == (elapsed, starts)
    assert one.people == tuple(person for person, _, _ in time)


EXAMPLES = "write 3:15, 3.25 or 18:30-21:45"
CLOCKS = "the clocks change in Europe/Zurich"
DURATION = "write the time worked as a duration, like 3:15, if the total is not what you mean"


@pytest.mark.parametrize(
    ("matter", "told"),
    [
        ("hours: 2;45", [(2, 8, "bad-hours", '"2;45" is not a time worked', EXAMPLES)]),
        ("hours: 3,25", [(2, 8, "bad-hours", '"3,25" is not a time worked', "write 3.25 with a point")]),
        ("hours: 3,2,5", [(2, 8, "bad-hours", '"3,2,5" is not a time worked', EXAMPLES)]),
        ("hours: 18:30-18:30", [(2, 8, "bad-hours", '"18:30-18:30" is not a time worked', EXAMPLES)]),
        ("hours: [[1:00], 2x]", [
            (2, 9, "bad-hours", "an item of hours is not plain text", EXAMPLES),
            (2, 17, "bad-hours", '"2x" is not a time worked', EXAMPLES),
        ]),
        ("hours: {ada: {bo: 1}}", [(2, 14, "bad-hours", "hours of one person cannot be a mapping", EXAMPLES)]),
        ("hours: [19:00-21:00, 18:00-20:00]", [
            (2, 9, "hours-overlap", "two spans of one person overlap", "write them as one span")
        ]),
        ("people: [ada]\nhours: {bo: 1:00}", [
            (3, 9, "hours-of-nobody", '"bo" has hours but is not among `people`', "add them there")
        ]),
        ("hours: {ada: 1:00, bo: 1:00, Ada: 2:00}", [
            (2, 30, "hours-twice", 'hours of "ada" are given twice, and these alone count', "write them as one list")
        ]),
        ("hours: Bo 1 h, Ada 2 h, bo 1 h", [
            (2, 8, "hours-twice", 'hours of "bo" are given twice, and these alone count', "write them as one list")
        ]),
        ("people: [ada, bo]\nhours: {bo: 1:00}", [
            (3, 8, "no-hours", 'no hours are given for "ada"', "add `ada: 3:15` or the like")
        ]),
        ("date: 2026-03-29\nhours: {ada: 2:30-5:00}", [
            (3, 14, "clock-change", f"02:30 does not exist on this day: {CLOCKS}", DURATION)
        ]),
        ("date: 2026-10-24\nhours: {ada: 23:00-2:05}", [
            (3, 14, "clock-change", f"02:05 occurs twice on this day: {CLOCKS}", DURATION)
        ]),
        ("date: 2026-10-25\nhours: {ada: 1:00-3:00}", []),
    ],
)  # fmt: skip
def test_slips_word_for_word(make_build: MakeBuild, matter: str, told: list[tuple[int, int, str, str, str]]) -> None:
    """Place, word, message and hint."""
    _, problems = read(make_build({"entries/a/index.md": entry(matter)}))
    assert [(p.line, p.column, p.word, p.message, p.hint) for p in problems] == told


def test_of_hours_given_twice_the_last_count(make_build: MakeBuild) -> None:
    """As ever: totals of a build that reads stay."""
    build, _ = read(make_build({"entries/a/index.md": entry("hours: {ada: 1:00, bo: 1:00, Ada: 2:00}")}))
    assert [(worked.person, worked.minutes) for worked in build.entries[0].time] == [("ada", 120), ("bo", 60)]


def test_who_has_no_hours_has_no_row(make_build: MakeBuild) -> None:
    """The others' hours count; the entry names both."""
    build, _ = read(make_build({"entries/a/index.md": entry("people: [ada, bo]\nhours: {bo: 1:00}")}))
    assert [worked.person for worked in build.entries[0].time] == ["bo"]
    assert build.entries[0].people == ("ada", "bo")


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("0:00", 0),
        ("99999:59", 5_999_999),
        ("0.008333", 0),
        ("0.0084", 1),
        ("0.025", 2),
        ("0.041666", 2),
        ("0.0416667", None),
        ("1.", None),
        ("100000", None),
        ("100000:00", None),
        ("1:00 ", None),
        (".1234567", None),
    ],
)
def test_durations_at_their_limits(text: str, minutes: int | None) -> None:
    """Five digits of hours, six decimals; half a minute goes to the even one, as Decimal has it."""
    assert parse_duration(text) == minutes


@pytest.mark.parametrize(
    ("text", "span"),
    [
        ("10-12:30", (600, 750)),
        ("6-9:30pm", (1080, 1290)),
        ("11-1:30pm", (660, 810)),
        ("18:30-9pm", (1110, 1260)),
        ("6:30pm-9", None),
        ("11:00am-1", None),
        ("6-9", None),
        ("from noon to midnight", (720, 1440)),
        ("midnight-1:30", (0, 90)),
        ("13-2pm", None),
        ("0-1pm", None),
        ("24:01-1:00", None),
    ],
)
def test_a_clock_time_without_its_minutes_is_one_beside_what_makes_it_clear(
    text: str, span: tuple[int, int] | None
) -> None:
    """Beside minutes, or a half of the day behind both; the half of the beginning alone says nothing of a bare end."""
    assert parse_span(text) == span
