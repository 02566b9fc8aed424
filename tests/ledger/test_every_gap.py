"""Every word of the gaps: one build for each thing that can be missing, on and beside each limit.

Held against gaps.golden.txt beside this file, which was gone over by hand. `--rewrite-goldens` stores what is said
now; read the difference like code.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime, timedelta
from fractions import Fraction
from pathlib import Path

import pytest
from ledger.test_planted import PLANTED
from test_evidence import DAY, PEOPLE, STEPS, TODAY, built, entry, picture, taken

from journal.base.model import (
    BalanceLimit,
    Build,
    Bulletin,
    BulletinState,
    ClosingInspections,
    Entry,
    FastenerSet,
    Inspection,
    InspectionFinding,
    Load,
    LoadCase,
    Measurement,
    Outcome,
    Person,
    PhotoFacts,
    Role,
    Weighing,
    WorkedTime,
)
from journal.base.problems import error, finding
from journal.ledger.evidence import RULES, Gap, entry_text, find_gaps
from journal.ledger.hours import build_ledger
from journal.ledger.progress import replay

GOLDEN = Path(__file__).parent / "gaps.golden.txt"
BROKEN = PhotoFacts(trouble="empty file")
CLOSED = date(2026, 3, 10)
UNSET = PhotoFacts(kind="JPEG", taken=datetime(2000, 1, 1, 0, 3))


def days(number: int) -> date:
    """So many days after DAY."""
    return DAY + timedelta(days=number)


def look(name: str = "look", **changes: object) -> Inspection:
    """A passed inspection of the flaps before closing, on DAY."""
    values: dict[str, object] = {
        "id": name,
        "src_uri": f"content/inspections/{name}/index.md",
        "date": DAY,
        "title": name,
        "assembly": "flaps",
        "stage": "closing",
        "people": ("ins",),
        "outcome": Outcome.PASSED,
        "where": {"date": (2, 1), "findings": (5, 1)},
    }
    return Inspection(**values | changes)  # type: ignore[arg-type]


def scales(name: str, **changes: object) -> Measurement:
    """A measurement on DAY by ada."""
    values: dict[str, object] = {
        "id": name,
        "src_uri": f"content/measurements/{name}/index.md",
        "date": DAY,
        "title": name,
        "kind": "weighing",
        "people": ("ada",),
        "where": {"checked_by": (6, 1), "scales": (8, 1)},
    }
    return Measurement(**values | changes)  # type: ignore[arg-type]


def hours(*worked: tuple[str, int]) -> tuple[WorkedTime, ...]:
    """(person, minutes) as an entry has it."""
    return tuple(WorkedTime(person=person, minutes=minutes) for person, minutes in worked)


def closing(**changes: object) -> Entry:
    """The entry that closes the flap, three days after DAY."""
    return entry(
        "close",
        date=CLOSED,
        steps=("5.1", "5.2", "5.3", "5.4"),
        **{"photos": (picture("close.jpg", facts=taken(CLOSED)),), **changes},
    )


F = Fraction
RADIO = Load(what="radio", weight=F(3), arm=F(10))
WEIGHED = Weighing(datum="nose", scales=(RADIO,))
LIMITS = (BalanceLimit(weight=None, forward=F(8), aft=F(22)),)
CASES = tuple(LoadCase(name=name, loads=(RADIO,)) for name in ("first flight", "most forward", "most aft"))
INSIDE = picture("in.jpg", inside=True)
LONG = "The second rib from the left has a burr along the lightening hole that must be taken off at once."

BUILDS: dict[str, Build] = {
    "nothing is missing": built(entry(steps=("5.1",))),
    "no text": built(
        entry(steps=("5.1", "5.2"), redone=("5.2", "5.3"), body="![a](one.jpg)\n\n# Head\n\n!!! note\n<!-- x -->"),
        entry("two", redone=("6.1",), body="", photos=(picture("two.jpg", step="6.1"),), where={"redone": (11, 2)}),
        entry("three", begun=("5.1",), body=""),
    ),
    "no photo": built(
        entry(steps=("5.1", "5.3", "6.1"), photos=()),
        entry("two", date=days(1), steps=("5.2",), photos=(picture("x.jpg", step="5.1", facts=taken(days(1))),)),
        entry("three", date=days(2), begun=("6.1",), photos=(picture("y.jpg", facts=BROKEN),)),
    ),
    "a photo of an inspection shows the step it names": built(
        entry(steps=("5.1", "5.2"), photos=()),
        inspections=(
            look(photos=(picture("z.jpg", step="5.1"), picture("w.jpg"), picture("v.jpg", step="5.2", facts=BROKEN))),
        ),
    ),
    "done twice": built(
        entry(steps=("5.1", "5.2", "5.3")),
        entry("two", date=days(1), steps=("5.1",), photos=(picture("b.jpg", facts=taken(days(1))),)),
        entry(
            "three",
            date=days(2),
            steps=("5.1", "5.2"),
            redone=("5.3",),
            photos=(picture("c.jpg", facts=taken(days(2))),),
        ),
        entry(
            "four", date=days(3), begun=("5.1",), steps=("5.1", "5.1"), photos=(picture("d.jpg", facts=taken(days(3))),)
        ),
    ),
    "days of pictures": built(
        entry(photos=tuple(picture(f"{n}.jpg", facts=taken(days(n))) for n in (-2, -1, 0, 1, 2))),
        entry(
            "many",
            photos=tuple(picture(f"m{n}.jpg", facts=taken(days(n))) for n in (5, 6, 7, 8)),
            where={"photos.m5.jpg": (12, 3), "photos": (11, 1)},
        ),
        entry("bare", photos=(picture("q.jpg", facts=taken(days(9))),), where={}),
    ),
    "cameras": built(
        entry(
            photos=(picture("u.jpg", facts=UNSET), picture("v.jpg", facts=replace(UNSET, taken=datetime(1980, 1, 1))))
        ),
        entry("none", photos=tuple(picture(f"n{n}.jpg", facts=PhotoFacts(kind="JPEG")) for n in range(3))),
        entry("four", photos=tuple(picture(f"f{n}.jpg", facts=PhotoFacts(kind="JPEG")) for n in range(4))),
        entry("broken", photos=(picture("p.jpg", facts=BROKEN),), people=("bo",)),
    ),
    "the same picture": built(
        entry(photos=(picture("a.jpg", sha256="1"), picture("b.jpg", sha256="1"), picture("c.jpg", sha256="2"))),
        entry("two", photos=(picture("d.jpg", sha256="2"), picture("e.jpg", sha256="3"), picture("f.jpg", sha256=""))),
        entry(
            "three", photos=(picture("g.jpg", sha256="3"), picture("h.jpg", sha256="2"), picture("i.jpg", sha256=""))
        ),
    ),
    "nobody at work": built(
        entry(photos=(picture("a.jpg", people=()), picture("b.jpg", people=(), facts=BROKEN))),
        entry("two", assembly="wing", photos=(picture("c.jpg", people=("bo",)), picture("d.jpg", people=()))),
        entry("three", assembly="wing", date=days(1), photos=(), where={"assembly": (3, 1)}),
        entry("four", assembly="shop", photos=(picture("e.jpg", people=()),)),
    ),
    "nobody at work, no picture": built(entry(photos=())),
    **{
        f"closed, inspections {rule.value}, {name}": built(
            entry(photos=(picture("one.jpg"), *((INSIDE,) if "photo" in name else ()))),
            closing(),
            closing_inspections=rule,
            inspections=(look(),) if "look" in name else (),
        )
        for rule in ClosingInspections
        for name in ("unseen", "photo", "look", "photo and look")
    },
    **{
        f"closed after a look: {name}": built(entry(), closing(), inspections=(look(**changes),))
        for name, changes in {
            "on the day": {"date": CLOSED},
            "a day late": {"date": CLOSED + timedelta(days=1)},
            "passed with findings": {"outcome": Outcome.PASSED_WITH_FINDINGS},
            "not passed": {"outcome": Outcome.NOT_PASSED},
            "spelt otherwise": {"stage": "  CLOSING "},
            "another stage": {"stage": "pre-closing"},
            "of this step": {"assembly": None, "steps": ("5.4",)},
            "of another closing step": {"assembly": None, "steps": ("5.5",)},
            "of a step that closes nothing": {"assembly": None, "steps": ("5.1",)},
            "of another part": {"assembly": "wing"},
            "of a step of another part": {"assembly": None, "steps": ("6.1",)},
            "with a picture of the inside": {
                "outcome": Outcome.NOT_PASSED,
                "photos": (picture("l.jpg", inside=True),),
            },
            "with a picture that cannot be used": {
                "outcome": Outcome.NOT_PASSED,
                "photos": (picture("l.jpg", inside=True, facts=BROKEN),),
            },
            "with a picture of this step": {
                "outcome": Outcome.NOT_PASSED,
                "assembly": "wing",
                "photos": (picture("l.jpg", inside=True, step="5.4"),),
            },
        }.items()
    },
    "closed, opened, closed again": built(
        entry(steps=("5.4",), photos=(INSIDE,)),
        entry("open", date=days(1), begun=("5.4",), photos=(picture("o.jpg", facts=taken(days(1))),)),
        closing(),
    ),
    "closed by doing it over": built(
        entry(steps=("5.4",), photos=(picture("one.jpg"),)),
        replace(closing(), steps=(), redone=("5.4",), where={"redone": (14, 3)}),
    ),
    "closed and open again": built(entry(steps=("5.4",)), entry("open", date=days(1), begun=("5.4",), photos=())),
    "findings of inspections": built(
        entry(),
        inspections=(
            look(
                assembly=None,
                steps=("5.1", "5.2"),
                findings=(
                    InspectionFinding(id="F1", text=LONG, where=(6, 5)),
                    InspectionFinding(id="F2", text="Short\n and  wrapped"),
                    InspectionFinding(id="F3", text="Closed", closed_on=days(1)),
                    InspectionFinding(id="F4", text="x" * 80),
                    InspectionFinding(id="F5", text="x" * 78 + " yz"),
                ),
            ),
            look("bare", findings=(InspectionFinding(id="F6", text="y"),), where={}),
        ),
    ),
    "long days": built(
        entry(time=hours(("ana", 960), ("bo", 961)), people=("ana", "bo")),
        entry(
            "two",
            time=hours(
                ("ana", 1),
            ),
        ),
        entry("next", date=days(1), time=hours(("ana", 960)), photos=(picture("n.jpg", facts=taken(days(1))),)),
    ),
    "days to come and before": built(
        entry("today", date=TODAY, photos=(picture("t.jpg", facts=taken(TODAY)),)),
        entry("later", date=TODAY + timedelta(days=1), photos=(picture("l.jpg", facts=taken(TODAY)),)),
        entry("first", date=date(2026, 1, 10), photos=(picture("f.jpg", facts=taken(date(2026, 1, 10))),)),
        entry("early", date=date(2026, 1, 9), photos=(picture("e.jpg", facts=taken(date(2026, 1, 9))),)),
        inspections=(look("late", date=date(2027, 1, 1)), look("soon", date=date(2026, 1, 9), where={})),
    ),
    "no beginning told": built(entry(), begun=None),
    "long gaps": built(
        entry(),
        entry("b", date=days(60), photos=(picture("b.jpg", facts=taken(days(60))),)),
        entry("c", date=days(60), photos=(picture("c.jpg", facts=taken(days(60))),)),
        entry("d", date=days(121), photos=(picture("d.jpg", facts=taken(days(121))),)),
        entry("e", date=days(121), photos=(picture("e.jpg", facts=taken(days(121))),)),
    ),
    "no place": built(entry(place=None), entry("two", place=None, where={})),
    "no places at all": built(entry(place=None), entry("two", place=None), places={}),
    "one without a place": built(entry(place=None), places={}),
    "nobody named": built(entry(people=(), time=())),
    "no builders at all": built(
        entry(people=(), time=()), entry("two", people=("bo",)), people={"bo": PEOPLE["bo"], "ana": PEOPLE["bo"]}
    ),
    **{
        f"paid help, told as: {told}": built(entry(people=("ana", "cy"), body=told))
        for told in ("Nothing of it.", "Cyril painted.", "ALDOUS helped.", "cy held.", "The shop did it.", "the, of, a")
    },
    "paid help, two of them": built(
        entry(
            people=("cy", "ana", "di"),
            title="Paint",
            body="x",
            photos=(picture("p.jpg", caption="Drilling"),),
            where={"hours": (5, 1)},
        ),
        entry("two", people=("cy",), title="Cyril", photos=(picture("r.jpg", people=("ana",)),)),
        entry("three", people=("cy",), body="x", photos=(picture("s.jpg", caption="Aldous"), picture("t.jpg"))),
        people={**PEOPLE, "di": Person(id="di", name="D. Paid Help & Co", role=Role.PAID)},
    ),
    "checked by nobody else": built(
        entry(),
        entry("both", people=("ana", "bo"), fasteners=(FastenerSet(rivet="a", checked_by=("ana", "bo")),)),
        entry("nobody", people=(), fasteners=(FastenerSet(rivet="a"),)),
        entry("alone", people=("ana",), fasteners=(FastenerSet(rivet="a", checked_by=("ana",), where=(9, 3)),)),
        measurements=(
            scales("alone", people=("ada", "bo"), checked_by=("bo",)),
            scales("two", checked_by=("ada", "bo")),
            scales("unchecked"),
        ),
        inspections=(
            look(
                findings=(
                    InspectionFinding(
                        id="1", text="x", closed_on=DAY, signed_by=("bo",), checked_by=("bo",), where=(7, 3)
                    ),
                    InspectionFinding(id="2", text="x", closed_on=DAY, signed_by=("bo",), checked_by=("ada",)),
                    InspectionFinding(id="3", text="x", closed_on=DAY, checked_by=("ada",)),
                )
            ),
        ),
    ),
    "weighings": built(
        entry(),
        measurements=(
            scales("bare", weighing=WEIGHED),
            scales("whole", weighing=replace(WEIGHED, equipment=(RADIO,), limits=LIMITS, max_weight=F(9), cases=CASES)),
            scales("two cases", weighing=replace(WEIGHED, equipment=(RADIO,), limits=LIMITS, cases=CASES[:2])),
        ),
    ),
    "bulletins": built(
        entry(),
        entry("bare", photos=(picture("x.jpg", facts=BROKEN),)),
        bulletins=(
            *(
                Bulletin(id=f"B{n}", date=DAY, title="x", state=state, where=(n, 1))
                for n, state in enumerate(BulletinState)
            ),
            Bulletin(id="gone", date=DAY, title="x", state=BulletinState.DONE, done_in=("gone",)),
            Bulletin(id="reason", date=DAY, title="x", note="waiting for parts"),
            Bulletin(id="told", date=DAY, title="x", state=BulletinState.DONE, done_in=("bare",), steps=("5.1",)),
            Bulletin(id="shown", date=DAY, title="x", state=BulletinState.DONE, done_in=("bare", "one")),
            Bulletin(id="paper", date=DAY, title="x", state=BulletinState.DONE, record="kit.txt", assembly="flaps"),
        ),
    ),
    "a picture of a measurement shows its steps": built(
        entry(steps=("5.1", "5.2", "5.3"), photos=()),
        measurements=(scales("m", steps=("5.1", "5.2"), photos=(picture("m.jpg"), picture("n.jpg", step="5.3"))),),
    ),
    "answers": built(
        entry(
            "one",
            place=None,
            answers={"no-place": "At a friend's.", "no-photo": "   ", "no-txt": "?", "of-another": "x"},
            where={"answers.no-txt": (9, 3), "answers": (8, 1), "place": (4, 1)},
        ),
        entry(
            "two",
            place=None,
            date=days(90),
            answers={"long-gap": "Winter."},
            photos=(picture("t.jpg", facts=taken(days(90))),),
        ),
        entry("three", answers={"photo-shared": "x"}),
    ),
}


def gaps_told(gaps: Iterable[Gap]) -> list[str]:
    """Each gap in one line."""
    lines = []
    for gap in gaps:
        problem = gap.problem
        about = [*gap.entries, "|", *gap.steps, "|", str(gap.assembly)]
        answer = f" = {gap.answer} ({gap.answered_in})" if gap.answered_in else ""
        where = f"{problem.file.removeprefix('content/')}:{problem.line}:{problem.column}"
        lines.append(f"{where} {problem.word}: {problem.message}; {problem.hint} [{' '.join(about)}]{answer}")
    return lines


def told() -> str:
    """The gaps of every build."""
    texts = []
    for name, build in BUILDS.items():
        evidence = find_gaps(build, build_ledger(build), replay(build), TODAY)
        texts.append("\n".join([name, *(f"  {line}" for line in gaps_told((*evidence.gaps, *evidence.answered)))]))
    return "\n\n".join(texts) + "\n"


def test_every_word_of_the_gaps(pytestconfig: pytest.Config) -> None:
    """Place, word, message, hint, and what each is about."""
    if pytestconfig.getoption("--rewrite-goldens"):
        GOLDEN.write_text(told(), "utf-8", newline="\n")
    assert told() == GOLDEN.read_text("utf-8")


def test_every_rule_speaks_in_the_text() -> None:
    """No rule is without a case."""
    planted = {word for word, _ in PLANTED.values()} | {"closing-next"}
    assert {rule.word for rule in RULES} - planted <= {word.rstrip(":") for word in told().split()}


def test_findings_of_others_take_part() -> None:
    """Those of an entry may be answered there, those of other files stand open; errors are not among them."""
    one = entry(answers={"torque-low": "Seen by the adviser.", "torque-hi": "x"})
    others = [
        finding(one.src_uri, (20, 3), "torque-low", "too low", "check"),
        finding(one.src_uri, (21, 3), "torque-high", "too high", "check"),
        finding("content/tasks.csv", (2, 1), "task-no-photo", "no picture", "put one"),
        finding("content/tasks.csv", None, "task-worked", "worked", ""),
        error(one.src_uri, (1, 1), "unknown-assembly", "no such", ""),
    ]
    build = built(one)
    evidence = find_gaps(build, build_ledger(build), replay(build), TODAY, others=others)
    assert gaps_told(evidence.answered) == [
        "entries/one/index.md:20:3 torque-low: too low; check [one | | None] = Seen by the adviser. (one)"
    ]
    assert gaps_told(evidence.gaps) == [
        'entries/one/index.md:9:1 answer-unused: "answers" speaks of "torque-hi", but there is no such finding on this '
        'entry; did you mean "torque-high"? [one | | None]',
        "entries/one/index.md:21:3 torque-high: too high; check [one | | None]",
        "tasks.csv:None:None task-worked: worked;  [| | None]",
        "tasks.csv:2:1 task-no-photo: no picture; put one [| | None]",
    ]
    assert [gap.problem.word for gap in evidence.gaps_of("one")] == ["answer-unused", "torque-high", "torque-low"]
    assert evidence.gaps_of("two") == ()
    assert {gap.answer for gap in evidence.gaps} == {""}
    anew = find_gaps(build, build_ledger(build), replay(build), TODAY, others=others, set_anew={others[1]: "later"})
    put_right = [(gap.answer, gap.answered_in) for gap in anew.answered if gap.problem == others[1]]
    assert put_right == [("drilled out and set anew", "later")]
    heaviest = ["task-worked", "task-no-photo", "answer-unused", "torque-high"]
    assert [gap.problem.word for gap in evidence.heaviest] == heaviest
    build = built(entry(answers={"no-photo": "x"}))
    unused = find_gaps(build, build_ledger(build), replay(build), TODAY)
    assert [gap.problem.hint for gap in unused.gaps] == ["leave the line out"]
    alone = find_gaps(built(one), build_ledger(built(one)), replay(built(one)), TODAY)
    assert (alone.gaps, alone.answered) == ((), ())


@pytest.mark.parametrize("word", ["a", "and", "by", "co", "help", "of", "our", "paid", "the", "d"])
def test_words_of_every_name_name_nobody(word: str) -> None:
    """`our paid help` is told by no `our`, and an initial is no name."""
    person = Person(id="x", name=f"{word} Quillon", role=Role.PAID, shown_as=f"{word} shop")
    for text, silent in ((word, True), ("quillon", False), ("SHOP", False)):
        build = built(entry(people=("ana", "x"), title="-", body=f"- {text} -"), people={**PEOPLE, "x": person})
        evidence = find_gaps(build, build_ledger(build), replay(build), TODAY)
        assert [gap.problem.word for gap in evidence.gaps] == (["paid-help"] if silent else [])


@pytest.mark.parametrize(
    ("body", "text"),
    [
        ("", ""),
        ("Deburred  the\n ribs.", "Deburred the ribs."),
        ("![a rib](a.jpg)", ""),
        ("a ![x](a.jpg) b ![y](b.jpg) c", "a b c"),
        ("# Head\n\ntext", "text"),
        ("   ###### Head\ntext", "text"),
        ("####### seven", "####### seven"),
        ("#no heading", "#no heading"),
        ("a <!-- b --> c", "a c"),
        ("a <!-- b", "a"),
        ("!!! note\n    text", "text"),
        ("??? private", ""),
        ("---", ""),
        ("...", ""),
        ("`x`", "`x`"),
        ("\u00fc", "\u00fc"),
    ],
)
def test_the_text_of_an_entry(body: str, text: str) -> None:
    """Its words without pictures, headings, comments and marks of notes."""
    assert entry_text(entry(body=body)) == text


def test_steps_are_of_the_fixture() -> None:
    """The builds above name steps that there are."""
    assert {"5.1", "5.2", "5.3", "5.4", "5.5", "6.1"} == set(STEPS)


@pytest.mark.parametrize(("step", "bare"), [(None, []), ("5.1", ["5.2"]), ("6.1", ["5.1", "5.2"])])
def test_a_picture_of_a_measurement_shows_the_step_that_it_names_or_all(step: str | None, bare: list[str]) -> None:
    """Of those whose work was measured."""
    told_ = entry(steps=("5.1", "5.2"), photos=())
    measured = scales("gap", kind="gap", people=("ana",), steps=("5.1", "5.2"), photos=(picture("m.jpg", step=step),))
    build = built(told_, measurements=(measured,))
    gaps = find_gaps(build, build_ledger(build), replay(build), TODAY).gaps
    assert [step for gap in gaps if gap.problem.word == "no-photo" for step in gap.steps] == bare
