"""What follows from the files, field by field: hours, states, tasks, costs, materials."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from building import DAY, broken, build, entry, in_lb, photo, task
from hypothesis import given
from hypothesis import strategies as st

from journal.base.model import (
    AssemblyProgress,
    Build,
    CalibratedTool,
    Cost,
    Entry,
    FastenerSet,
    Material,
    PhotoFacts,
    Record,
    State,
    StepProgress,
    TorqueSetting,
    WorkedTime,
    photo_day,
)
from journal.base.problems import Grade, Problem
from journal.ledger.checks import check_trade, compared_tables
from journal.ledger.costs import Costs, Spent, add_up_costs
from journal.ledger.hours import EntryTotals, Ledger, build_ledger
from journal.ledger.materials import MaterialTrace, trace_materials
from journal.ledger.progress import Progress, replay, step_marks
from journal.ledger.tally import TaskEvidence, behind_tasks, check_tasks
from journal.trade.tally import Tally, add_up, add_up_sections, say_percent, say_tenths

NOT_BEGUN, UNDER_WAY, DONE = State.NOT_BEGUN, State.UNDER_WAY, State.DONE


def days(number: int) -> date:
    """So many days after the first."""
    return DAY + timedelta(days=number)


def test_the_ledger_field_by_field() -> None:
    """Two entries of a day, an assembly that does not count, one without hours, over the end of a month."""
    first = replace(entry("a", people=("ada", "bo"), minutes=90), elapsed_minutes=100)
    second = replace(entry("b", assembly="left-wing", minutes=30), elapsed_minutes=30)
    bench = replace(entry("c", day=1, assembly="workshop", people=("bo",), minutes=45), elapsed_minutes=45)
    later = replace(
        entry("d", day=22, people=("ada", "bo"), minutes=0),
        time=(WorkedTime(person="ada", minutes=10), WorkedTime(person="bo", minutes=20)),
        elapsed_minutes=20,
    )
    silent = entry("e", day=40, people=("ada",), minutes=0)
    march = date(2026, 3, 1)
    assert build_ledger(build(first, second, bench, later, silent)) == Ledger(
        minutes=240,
        minutes_not_counted=45,
        elapsed_minutes=150,
        worked_days=(DAY, days(1), march, days(40)),
        by_assembly={"workshop": 45, "flaps": 210, "left-wing": 30},
        by_person={"ada": 130, "bo": 110},
        by_month={"2026-02": 210, "2026-03": 30},
        by_day={DAY: 210, march: 30, days(40): 0},
        by_person_and_assembly={
            ("ada", "flaps"): 100,
            ("bo", "flaps"): 110,
            ("ada", "left-wing"): 30,
            ("bo", "workshop"): 45,
        },
        entries={
            "a": EntryTotals(day=1, minutes=180, minutes_to_date=180, assembly_minutes_to_date=180),
            "b": EntryTotals(day=1, minutes=30, minutes_to_date=210, assembly_minutes_to_date=30),
            "c": EntryTotals(day=2, minutes=45, minutes_to_date=210, assembly_minutes_to_date=45),
            "d": EntryTotals(day=3, minutes=30, minutes_to_date=240, assembly_minutes_to_date=210),
            "e": EntryTotals(day=4, minutes=0, minutes_to_date=240, assembly_minutes_to_date=210),
        },
    )
    assert build_ledger(build()) == Ledger(
        minutes=0,
        minutes_not_counted=0,
        elapsed_minutes=0,
        worked_days=(),
        by_assembly={"workshop": 0, "flaps": 0, "left-wing": 0},
        by_person={},
        by_month={},
        by_day={},
        by_person_and_assembly={},
        entries={},
    )
    assert build_ledger(build(first, second, bench, later)).days == 3


def test_progress_field_by_field() -> None:
    """Begun, done, reopened, done over, over several days; one entry that does two things to a step."""
    entries = (
        entry("a", begun=("5.1",)),
        entry("b", begun=("5.2",), steps=("5.1", "5.2")),
        entry("c", day=1, assembly="workshop"),
        entry("d", day=2, begun=("5.1",), assembly="left-wing"),
        entry("e", day=2, begun=("5.1",), redone=("5.2",)),
        entry("f", day=3, redone=("5.1", "5.2"), steps=("7.1",)),
    )
    progress = replay(build(*entries))
    assert progress == Progress(
        steps={
            "5.1": StepProgress(
                state=DONE,
                times_done_over=1,
                entries=("a", "b", "d", "e", "f"),
                done_in="f",
                done_on=days(3),
                first_done_on=DAY,
            ),
            "5.2": StepProgress(
                state=DONE,
                times_done_over=2,
                entries=("b", "e", "f"),
                done_in="f",
                done_on=days(3),
                first_done_on=DAY,
            ),
            "7.1": StepProgress(state=DONE, entries=("f",), done_in="f", done_on=days(3), first_done_on=days(3)),
            "7.2": StepProgress(),
        },
        assemblies={
            "workshop": AssemblyProgress(state=UNDER_WAY),
            "flaps": AssemblyProgress(state=DONE, steps_done=2, steps=2),
            "left-wing": AssemblyProgress(state=UNDER_WAY, steps_done=1, steps=2),
        },
        states_on={
            DAY: {"workshop": NOT_BEGUN, "flaps": DONE, "left-wing": NOT_BEGUN},
            days(1): {"workshop": UNDER_WAY, "flaps": DONE, "left-wing": NOT_BEGUN},
            days(2): {"workshop": UNDER_WAY, "flaps": UNDER_WAY, "left-wing": UNDER_WAY},
            days(3): {"workshop": UNDER_WAY, "flaps": DONE, "left-wing": UNDER_WAY},
        },
        steps_done_on={DAY: 2, days(1): 2, days(2): 1, days(3): 3},
    )
    assert progress.steps_done == 3
    reopened = replay(build(*entries[:4])).steps["5.1"]
    assert reopened == StepProgress(
        state=UNDER_WAY, reopened=True, entries=("a", "b", "d"), done_in="b", done_on=DAY, first_done_on=DAY
    )
    assert [reopened.word, progress.steps["5.1"].word, progress.steps["7.1"].word] == ["reopened", "done over", "done"]
    assert replay(build(*entries[:5])).steps["5.1"].reopened
    assert replay(build()).assemblies["flaps"] == AssemblyProgress(steps=2)


def test_a_step_named_on_another_part_s_entry_touches_its_own_part() -> None:
    """What an entry of the flaps does to a step of the wing moves the wing."""
    progress = replay(build(entry("a", begun=("7.1",))))
    assert progress.states_on[DAY] == {"workshop": NOT_BEGUN, "flaps": UNDER_WAY, "left-wing": UNDER_WAY}
    assert list(step_marks(entry("a", steps=("5.1",), begun=("5.2", "7.1"), redone=("7.2",)))) == [
        ("5.2", "begun"),
        ("7.1", "begun"),
        ("5.1", "steps"),
        ("7.2", "redone"),
    ]


STORY = st.lists(
    st.tuples(
        st.integers(0, 3),
        st.sampled_from(["workshop", "flaps", "left-wing"]),
        st.dictionaries(
            st.sampled_from(["5.1", "5.2", "7.1"]), st.sampled_from(["begun", "steps", "redone"]), max_size=3
        ),
    ),
    max_size=8,
)


@given(STORY)
def test_days_and_parts_agree_with_the_steps(story: list[tuple[int, str, dict[str, str]]]) -> None:
    """Law: the count of a part is that of its steps done; the last day told is the state now."""
    entries: list[Entry] = []
    for number, (day, assembly, marks) in enumerate(sorted(story, key=lambda row: row[0])):
        keys = {key: tuple(step for step, mark in marks.items() if mark == key) for key in ("begun", "steps", "redone")}
        entries.append(entry(f"e{number}", day=day, assembly=assembly, **keys))
    whole = build(*entries)
    progress = replay(whole)
    for name, part in progress.assemblies.items():
        steps = [progress.steps[step.id] for step in whole.steps_of(name)]
        assert part.steps == len(steps)
        assert part.steps_done == sum(step.state is DONE for step in steps)
        touched = any(one.assembly == name for one in entries) or any(step.entries for step in steps)
        assert part.state is (DONE if steps and part.steps_done == part.steps else UNDER_WAY if touched else NOT_BEGUN)
    assert list(progress.states_on) == sorted({one.date for one in entries})
    if entries:
        assert progress.states_on[entries[-1].date] == {name: one.state for name, one in progress.assemblies.items()}
        assert progress.steps_done_on[entries[-1].date] == progress.steps_done


# ------------------------------------------------------------------------------------------ tasks

WORKED = (
    entry("a", people=("ada", "pim"), steps=("5.1",), photos=(photo("1.jpg", step="5.1"), photo("2.jpg"))),
    entry("b", day=1, people=("bo",), begun=("5.1", "5.2"), photos=(photo("3.jpg", step="5.2"), broken("4.jpg"))),
    entry("c", day=2, people=("pim", "bo"), redone=("7.1",), steps=("7.1",)),
)


def tasked(*tasks_: object) -> Build:
    """The three entries and these lines of tasks.csv."""
    return build(*WORKED, tasks=tasks_)


def test_what_stands_behind_a_task() -> None:
    """Entries in the order of the journal whatever the order of steps; pictures of its steps or of none."""
    lines = (
        task("1", (0, 0, 5, 5), steps=("7.1", "5.1")),
        task("2", (0, 0, 5, 5), steps=("5.2",)),
        task("3", None, steps=("7.2",)),
    )
    a, b, c = WORKED
    assert behind_tasks(tasked(*lines)) == (
        TaskEvidence(
            task=lines[0],
            entries=(a, b, c),
            photos=((a, a.photos[0]), (a, a.photos[1])),
            people=("ada", "pim", "bo"),
            paid=("pim",),
            paid_entries=(a, c),
            pictured=("5.1",),
        ),
        TaskEvidence(
            task=lines[1],
            entries=(b,),
            photos=((b, b.photos[0]),),
            people=("bo",),
            paid=(),
            paid_entries=(),
            pictured=("5.2",),
        ),
        TaskEvidence(task=lines[2], entries=(), photos=(), people=(), paid=(), paid_entries=(), pictured=()),
    )
    assert [bool(behind.photos) for behind in behind_tasks(tasked(*lines))] == [True, True, False]


def said(problem: Problem) -> tuple[str, int | None, int | None, str, str, str]:
    """All of a finding but its grade, which is that of advice."""
    assert problem.grade is Grade.FINDING
    return problem.file, problem.line, problem.column, problem.word, problem.message, problem.hint


def test_findings_of_tasks_word_for_word() -> None:
    """Each at its line."""
    found = check_tasks(
        tasked(
            task("1", (0, 0, 5, 5), steps=("7.1", "5.1"), where=(2, 1)),
            task("2", (0, 1, 5, 4), steps=("7.1",), where=(3, 1)),
            task("3", None, steps=("5.2",), where=(4, 1)),
            task("4", (10, 0, 0, 0), steps=("7.2",), where=(5, 1)),
        )
    )
    file = "content/tasks.csv"
    assert list(map(said, found)) == [
        (
            file,
            2,
            1,
            "paid-not-counted",
            'task 1 "task 1" shows no paid help, but pim (paid) worked on it in a, c',
            "give the tenths that were paid for, or name in the entry only the steps they did not work on",
        ),
        (
            file,
            3,
            1,
            "task-no-photo",
            'task 2 "task 2" has 1 entry and no picture',
            "put a picture of the work into one of them",
        ),
        (
            file,
            4,
            1,
            "task-worked",
            'task 3 "task 3" is marked n/a, but b worked on its steps',
            "give its tenths, or correct its steps",
        ),
    ]


def test_long_lists_in_findings_of_tasks_are_cut() -> None:
    """Three are named, the rest counted."""
    entries = tuple(entry(f"e{n}", day=n, steps=("5.1",)) for n in range(5))
    (none,) = check_tasks(build(*entries[:3], tasks=(task("1", None, steps=("5.1",)),)))
    assert "but e0, e1, e2 worked" in none.message
    found = list(
        check_tasks(build(*entries, tasks=(task("1", None, steps=("5.1",)), task("2", (10, 0, 0, 0), steps=("5.1",)))))
    )
    assert "but e0, e1, e2 and 2 more worked" in found[0].message
    assert "has 5 entries and no picture" in found[1].message


@pytest.mark.parametrize(
    ("builder", "share"),
    [((0, 0), "0.0 %"), ((5, 4), "45.0 %"), ((5, 5), "50.0 %"), ((6, 5), "55.0 %"), ((10, 10), "100.0 %")],
)
def test_the_builders_share(builder: tuple[int, int], share: str) -> None:
    """Assembly and fabrication of all that applies, and half of it shown."""
    tally = add_up(
        [
            (task("1", (10 - builder[0], 0, builder[0], 0)), Fraction(1, 2)),
            (task("2", (0, 10 - builder[1], 0, builder[1])), Fraction(1, 2)),
            (task("3", None), Fraction(1)),
        ]
    )
    assert tally == Tally(
        tasks=2,
        not_applicable=1,
        maker=10 - builder[0],
        paid=10 - builder[1],
        assembly=builder[0],
        fabrication=builder[1],
        paid_shown=Fraction(10 - builder[1], 2),
        assembly_shown=Fraction(builder[0], 2),
        fabrication_shown=Fraction(builder[1], 2),
    )
    assert (tally.tenths, tally.builder, tally.builder_shown) == (20, sum(builder), Fraction(sum(builder), 2))
    assert tally.builder_share is not None
    assert tally.shown_share == tally.builder_share / 2
    assert say_percent(tally.builder_share) == share
    assert tally.share_after_paying(99) == 0
    assert tally.share_after_paying(0) == tally.builder_share


def test_a_tally_of_nothing() -> None:
    """No share, no step of one task."""
    tally = add_up([(task("1", None), Fraction(1))])
    assert (tally.builder_share, tally.one_task, tally.share_after_paying(1), tally.tenths) == (None, None, None, 0)
    assert tally.shown_share is None
    assert add_up_sections([]) == {}


@pytest.mark.parametrize(
    ("tenths", "words"),
    [
        *((0, "0.0"), (7, "0.7"), (10, "1.0"), (123, "12.3"), (Fraction(10, 3), "0.33"), (Fraction(25, 2), "1.25")),
        *(
            (Fraction(2999, 1000), "0.29"),
            (Fraction(20, 2), "1.0"),
            (Fraction(1, 99), "0.00"),
            (Fraction(302, 30), "1.00"),
        ),
    ],
)
def test_tenths_are_said_as_the_checklist_writes_them(tenths: int | Fraction, words: str) -> None:
    """With one decimal; where a part of a tenth is shown with two, cut off and never rounded up."""
    assert say_tenths(tenths) == words


def test_sections_in_the_order_of_the_file() -> None:
    """Lines of one section need not stand together."""
    sections = add_up_sections(
        [
            (task("1", (1, 2, 3, 4), section="Wing"), Fraction(0)),
            (task("2", (0, 0, 10, 0), section="Fuselage"), Fraction(0)),
            (task("3", (1, 1, 1, 7), section="Wing"), Fraction(0)),
        ]
    )
    assert list(sections.items()) == [
        ("Wing", Tally(tasks=2, not_applicable=0, maker=2, paid=3, assembly=4, fabrication=11)),
        ("Fuselage", Tally(tasks=1, not_applicable=0, maker=0, paid=0, assembly=10, fabrication=0)),
    ]


# ------------------------------------------------------------------------------------------ money, materials, tools


def cost(amount: str, currency: str = "EUR", assembly: str | None = "flaps", on: date | None = DAY) -> Cost:
    """A line of costs.csv."""
    return Cost(date=on, assembly=assembly, what="x", amount=Decimal(amount), currency=currency)


def test_costs_field_by_field() -> None:
    """Currencies by the alphabet, each in every sum; no part and no date come last; a refund is taken off."""
    zero = Decimal(0)
    rows = (
        cost("10.10", on=date(2026, 3, 1)),
        cost("5", "CHF", None, None),
        cost("0.90"),
        cost("-1.00", assembly="workshop"),
        cost("2.50", "CHF", "unknown"),
    )
    assert add_up_costs(iter(rows), ["workshop", "flaps", "left-wing"]) == Costs(
        currencies=("CHF", "EUR"),
        total={"CHF": Decimal("7.50"), "EUR": Decimal("10.00")},
        by_assembly=(
            Spent(key="workshop", amounts={"CHF": zero, "EUR": Decimal("-1.00")}),
            Spent(key="flaps", amounts={"CHF": zero, "EUR": Decimal("11.00")}),
            Spent(key="", amounts={"CHF": Decimal(5), "EUR": zero}),
        ),
        by_month=(
            Spent(key="2026-02", amounts={"CHF": Decimal("2.50"), "EUR": Decimal("-0.10")}),
            Spent(key="2026-03", amounts={"CHF": zero, "EUR": Decimal("10.10")}),
            Spent(key="", amounts={"CHF": Decimal(5), "EUR": zero}),
        ),
    )
    assert add_up_costs([], ["flaps"]) == Costs(currencies=(), total={}, by_assembly=(), by_month=())


def test_materials_traced_field_by_field() -> None:
    """Used or not, each once an entry; late is after the printed day."""
    seal = Material(id="seal", name="Sealant", expires=days(1), record="a.pdf")
    lime = Material(id="lime", name="Primer", record="b.pdf")
    paper = Record(file="a.pdf", date=None, kind="", title="")
    entries = tuple(entry(f"e{n}", day=n, materials=("seal", "seal")) for n in range(3))
    whole = build(*entries, materials={"seal": seal, "lime": lime}, records=(paper,))
    assert trace_materials(whole) == (
        MaterialTrace(material=seal, entries=entries, record=paper, late=entries[2:]),
        MaterialTrace(material=lime, entries=(), record=None, late=()),
    )


BOLT = TorqueSetting(bolt="AN4", nut="tension", value=in_lb(60), drag=in_lb(0), wrench="Beam Wrench", where=(9, 3))
TOOLS = (
    CalibratedTool(name="beam wrench", checked_on=date(2024, 1, 1), check_every_months=12),
    CalibratedTool(name="Caliper", checked_on=date(2025, 2, 5), check_every_months=12),
)


def test_findings_of_the_trade_word_for_word() -> None:
    """A wrench is told once an entry whatever hangs on it, and not again as a tool; sorted by place."""
    one = entry(
        "one",
        tools=("Caliper", "BEAM  wrench", "hammer"),
        fasteners=(FastenerSet(rivet="x", where=(20, 3)),),
        torque=(BOLT, replace(BOLT, where=(10, 3)), replace(BOLT, value=in_lb(500), where=(11, 3))),
        materials=("seal",),
        where={"tools": (5, 1), "materials": (6, 1)},
    )
    two = entry("two", torque=(BOLT,), tools=("caliper",))
    seal = Material(id="seal", name="Sealant", expires=days(-1))
    whole = build(one, two, materials={"seal": seal}, calibrated_tools=TOOLS)
    found = [(p.file[16:19], p.line, p.column, p.word) for p in check_trade(whole, replay(whole))[0]]
    assert found == [
        ("one", 5, 1, "tool-overdue"),
        ("one", 6, 1, "material-expired"),
        ("one", 9, 3, "wrench-overdue"),
        ("one", 11, 3, "torque-over-maximum"),
        ("two", None, None, "tool-overdue"),
        ("two", 9, 3, "wrench-overdue"),
    ]
    unlisted = replace(whole, calibrated_tools=())
    told = check_trade(unlisted, replay(unlisted))[0]
    assert [(p.file[16:19], p.line, p.word) for p in told if p.word == "wrench-unlisted"] == [
        ("one", 9, "wrench-unlisted"),
        ("two", 9, "wrench-unlisted"),
    ]
    assert said(check_trade(whole, replay(whole))[0][0]) == (
        "content/entries/one/index.md",
        5,
        1,
        "tool-overdue",
        '"Caliper" was due for its check on 5 February 2026, 2 days before this use (tools.csv)',
        "have it checked; if it reads false, go over what was measured with it",
    )
    public, private = (
        [table.title.split(", ")[0].split(" ")[0] for table in compared_tables(one, whole, everything=flag)]
        for flag in (False, True)
    )
    assert private == [*public, "Sealant"]
    assert public == ["x", "AN4", "AN4", "AN4"]
    rows = [len(compared_tables(one, whole, everything=flag)[1].figures) for flag in (False, True)]
    assert rows == [3, 4]


def test_a_picture_is_of_the_day_its_camera_tells() -> None:
    """Without a time, and with a clock that was never set, it is of its entry's day."""
    days_of = {None: DAY, datetime(2000, 1, 1): DAY, datetime(2026, 1, 2, 23, 59): date(2026, 1, 2)}
    for taken, day in days_of.items():
        assert photo_day(photo("a.jpg", facts=PhotoFacts(taken=taken)), DAY) == day
