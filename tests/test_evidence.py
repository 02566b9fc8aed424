"""The rules of evidence: each fires where it should, stays silent where it should, and says what to do."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

import pytest

from journal.base.model import (
    Aircraft,
    Assembly,
    Build,
    ClosingInspections,
    Entry,
    Inspection,
    InspectionFinding,
    Outcome,
    Person,
    Photo,
    PhotoFacts,
    Place,
    Role,
    Step,
    WorkedTime,
    sort_entries,
)
from journal.base.problems import Grade, Problem, error, finding
from journal.ledger.evidence import RULES, entry_text, find_gaps
from journal.ledger.hours import build_ledger
from journal.ledger.progress import replay

TODAY = date(2026, 6, 30)
DAY = date(2026, 3, 7)

PEOPLE = {
    "ana": Person(id="ana", name="Ana Lindqvist", role=Role.BUILDER),
    "bo": Person(id="bo", name="Bo Hale", role=Role.HELPER),
    "cy": Person(id="cy", name="Cyril Aldous", role=Role.PAID, shown_as="the paint shop"),
    "ins": Person(id="ins", name="Dora Fenn", role=Role.INSPECTOR),
}
STEPS = {
    step.id: step
    for step in (
        Step(id="5.1", assembly="flaps", title="Deburr ribs"),
        Step(id="5.2", assembly="flaps", title="Dimple ribs"),
        Step(id="5.3", assembly="flaps", title="Rivet skeleton"),
        Step(id="5.4", assembly="flaps", title="Rivet top skin", closes="the flap"),
        Step(id="5.5", assembly="flaps", title="Rivet leading edge", closes="the nose"),
        Step(id="6.1", assembly="wing", title="Rivet ribs"),
    )
}


def picture(name: str = "a.jpg", **changes: Any) -> Photo:
    """A picture in order: taken on DAY, a builder at work, its own bytes."""
    facts = changes.pop("facts", PhotoFacts(kind="JPEG", taken=datetime(2026, 3, 7, 10, 0)))
    return Photo(
        **{
            "name": name,
            "src_uri": f"content/entries/x/{name}",
            "sha256": f"hash of {name}",
            "people": ("ana",),
            "facts": facts,
        }
        | changes
    )


def taken(day: date) -> PhotoFacts:
    """The facts of a picture taken at ten in the morning."""
    return PhotoFacts(kind="JPEG", taken=datetime(day.year, day.month, day.day, 10, 0))


def entry(name: str = "one", **changes: Any) -> Entry:
    """An entry in order: no rule has anything to say about it."""
    people = changes.get("people", ("ana",))
    values: dict[str, Any] = {
        "id": name,
        "src_uri": f"content/entries/{name}/index.md",
        "date": DAY,
        "title": name,
        "assembly": "flaps",
        "people": people,
        "time": tuple(WorkedTime(person=person, minutes=120) for person in people),
        "place": "home",
        "photos": (picture(f"{name}.jpg"),),
        "body": "Ribs deburred with the wheel, edges checked by thumb.",
        "where": {
            "date": (2, 1),
            "assembly": (3, 1),
            "steps": (4, 1),
            "hours": (5, 1),
            "people": (6, 1),
            "photos": (7, 1),
            "place": (8, 1),
            "answers": (9, 1),
        },
    }
    return Entry(**values | changes)


def built(*entries: Entry, **changes: Any) -> Build:
    """A build of these entries in journal order."""
    values: dict[str, Any] = {
        "aircraft": Aircraft(name="Tarn"),
        "begun": date(2026, 1, 10),
        "people": PEOPLE,
        "places": {"home": Place(id="home", name="home workshop")},
        "assemblies": {
            "flaps": Assembly(id="flaps", title="Flaps"),
            "wing": Assembly(id="wing", title="Left wing"),
            "shop": Assembly(id="shop", title="Workshop", counts=False),
        },
        "steps": STEPS,
        "entries": sort_entries(list(entries)),
    }
    return Build(**values | changes)


def check(build: Build, today: date = TODAY) -> tuple[Problem, ...]:
    """The open findings of a build."""
    return find_gaps(build, build_ledger(build), replay(build), today).problems


def words(*entries: Entry, **changes: Any) -> list[str]:
    """The code words found over these entries."""
    return [problem.word for problem in check(built(*entries, **changes))]


def only(word: str, *entries: Entry, **changes: Any) -> Problem:
    """The one finding over these entries, which must be `word`."""
    (problem,) = check(built(*entries, **changes))
    assert problem.word == word
    return problem


def closing_look(**changes: Any) -> Inspection:
    """A passed closing inspection of the flaps on DAY."""
    values: dict[str, Any] = {
        "id": "look",
        "src_uri": "content/inspections/look/index.md",
        "date": DAY,
        "title": "Look",
        "assembly": "flaps",
        "stage": "closing",
        "people": ("ins",),
        "outcome": Outcome.PASSED,
    }
    return Inspection(**values | changes)


def test_a_complete_record_has_no_gap():
    """Steps with text, picture, builder at work, place and people: no finding."""
    assert check(built(entry(steps=("5.1", "5.2")))) == ()


def test_every_rule_has_its_own_word_and_says_why():
    """The list of rules can be printed: words apart, each with what it finds and why."""
    assert len({rule.word for rule in RULES}) == len(RULES)
    assert all(rule.finds.endswith(".") and rule.why.endswith(".") for rule in RULES)


@pytest.mark.parametrize("body", ["", "  \n", "![Ribs](one.jpg)", "# Ribs\n", "<!-- later -->", "!!! private\n"])
def test_steps_without_text(body: str):
    """Pictures, headings and comments are not text."""
    problem = only("no-text", entry(steps=("5.1", "5.2", "5.3"), body=body))
    assert problem.message.startswith("steps 5.1 to 5.3 are done")
    assert (problem.line, problem.column) == (4, 1)
    assert "write below the front matter" in problem.hint


@pytest.mark.parametrize("body", ["Done.", "# Ribs\n\nDone.", "!!! private\n    Done.", "![Ribs](one.jpg) drilled"])
def test_steps_with_text(body: str):
    """Any word beyond pictures and headings counts, a private passage too."""
    assert words(entry(steps=("5.1",), body=body)) == []


def test_no_steps_need_no_text():
    """An entry that finishes nothing may be pictures alone."""
    assert words(entry(body="", begun=("5.1",))) == []


def test_text_ends_at_a_heading_line_only():
    """A heading does not swallow what follows it."""
    assert entry_text(entry(body="# One\ntwo\n\n## Three\nfour")) == "two four"


def test_steps_without_photo_are_told_once():
    """Three steps without a picture are one finding at the entry that finished them."""
    shown = entry("shown")
    problem = only("no-photo", shown, entry("bare", steps=("5.1", "5.2", "5.3"), photos=()))
    assert problem.file == "content/entries/bare/index.md"
    assert "steps 5.1 to 5.3" in problem.message


def test_a_photo_of_the_entry_shows_its_steps():
    """A picture without a step of its own shows every step of its entry, earlier ones too."""
    assert words(entry("one", begun=("5.1",)), entry("two", steps=("5.1",), photos=())) == []


def test_a_photo_of_another_step_shows_only_that_step():
    """A picture that names its step is no evidence for the entry's other steps."""
    problem = only("no-photo", entry(steps=("5.1", "5.2"), photos=(picture(step="5.1"),)))
    assert "step 5.2 is done" in problem.message


def test_a_photo_elsewhere_may_name_the_step():
    """A picture in another entry, or of an inspection, counts where it names the step."""
    assert words(entry("one", photos=(picture(step="5.1"),)), entry("two", steps=("5.1",), photos=())) == []
    inspection = closing_look(photos=(picture("look.jpg", step="5.1"),))
    assert words(entry("one"), entry("two", steps=("5.1",), photos=()), inspections=(inspection,)) == []


def test_an_unreadable_photo_shows_nothing():
    """A file that cannot be used as a picture is no evidence."""
    broken = picture("x.jpg", facts=PhotoFacts(trouble="the file is cut short"))
    assert words(entry("one"), entry("two", steps=("5.1",), photos=(broken,))) == ["no-photo"]


def test_a_reopened_step_needs_no_photo_yet():
    """A step that stands open again is not done."""
    assert words(entry("one"), entry("two", steps=("5.1",), photos=()), entry("w", begun=("5.1",), photos=())) == []


def test_step_done_twice():
    """A step finished again without `redone` names the earlier entry."""
    problem = only("step-twice", entry("one", steps=("5.1",)), entry("two", steps=("5.1", "5.2")))
    assert problem.message == "step 5.1 is done already in one"
    assert "redone" in problem.hint


def test_step_done_over_or_reopened_is_not_twice():
    """`redone`, or `begun` in between, makes it rework."""
    assert words(entry("one", steps=("5.1",)), entry("two", redone=("5.1",))) == []
    assert words(entry("one", steps=("5.1",)), entry("two", begun=("5.1",)), entry("z", steps=("5.1",))) == []
    assert words(entry("one", steps=("5.1",)), entry("two", begun=("5.1",), steps=("5.1",))) == []


def test_a_step_named_twice_in_one_entry_is_not_done_twice():
    """The reader sees to lists; the rule speaks of days."""
    assert words(entry("one", steps=("5.1", "5.1"))) == []


@pytest.mark.parametrize("days", [-2, 2, -300])
def test_photo_of_another_day(days: int):
    """More than one day off is told."""
    problem = only("photo-date", entry(photos=(picture(facts=taken(DAY + timedelta(days=days))),)))
    assert "a.jpg on " in problem.message


@pytest.mark.parametrize("days", [-1, 0, 1])
def test_photo_of_the_day(days: int):
    """One day off is the night between."""
    assert words(entry(photos=(picture(facts=taken(DAY + timedelta(days=days))),))) == []


def test_many_photos_of_another_day_are_one_finding():
    """Ten pictures: one finding that names three and counts the rest, at the first one's key if known."""
    off = tuple(picture(f"{n}.jpg", facts=taken(date(2026, 3, 1))) for n in range(10))
    here = entry(photos=off)
    problem = only("photo-date", replace(here, where={**here.where, "photos.0.jpg": (12, 3)}))
    assert "0.jpg on 1 March 2026, 1.jpg on 1 March 2026, 2.jpg on 1 March 2026 and 7 more" in problem.message
    assert (problem.line, problem.column) == (12, 3)


def test_camera_clock_never_set():
    """1980 is one finding, and not a picture of another day as well."""
    problem = only("camera-clock", entry(photos=(picture(facts=taken(date(1980, 1, 1))),)))
    assert "1 January 1980" in problem.message


def test_no_capture_time():
    """A readable picture without a time is told; an unreadable one or a screenshot is not."""
    bare = picture("bare.jpg", facts=PhotoFacts(kind="JPEG"))
    assert only("no-capture-time", entry(photos=(picture(), bare))).message == "no capture time in bare.jpg"
    for name, kind in (("plan.png", "PNG"), ("Screenshot 4.jpg", "JPEG")):
        assert (
            words(entry(photos=(picture(), picture(name, facts=PhotoFacts(kind=kind, width=1170, height=800))))) == []
        )
    small = PhotoFacts(kind="PNG", width=300, height=200)
    assert words(entry(photos=(picture(), picture("s.png", facts=small)))) == ["no-capture-time"]
    camera = PhotoFacts(kind="PNG", camera="Tarnflex T1")
    assert words(entry(photos=(picture(), picture("c.png", facts=camera)))) == ["no-capture-time"]
    broken = picture("broken.jpg", facts=PhotoFacts(trouble="empty"))
    assert words(entry(photos=(picture(), broken))) == []


def test_photo_in_two_entries():
    """Equal bytes in two entries are told at the later one, naming both."""
    first, copy = picture("a.jpg", sha256="s"), picture("b.jpg", sha256="s")
    problem = only("photo-shared", entry("one", photos=(first,)), entry("two", photos=(copy,)))
    assert problem.file == "content/entries/two/index.md"
    assert "b.jpg = a.jpg in one" in problem.message


def test_photo_twice_in_one_entry():
    """Two copies within one entry are told too."""
    copies = (picture("a.jpg", sha256="s"), picture("a_copy.jpg", sha256="s"))
    assert "a.jpg = a_copy.jpg" in only("photo-shared", entry(photos=copies)).message


def test_many_shared_photos_are_one_finding():
    """Five pictures carried over from one entry to another are one finding."""
    photos = tuple(picture(f"{n}.jpg") for n in range(5))
    assert words(entry("one", photos=photos), entry("two", photos=photos)) == ["photo-shared"]


def test_photos_without_digest_are_not_compared():
    """Pictures not yet examined are not all the same picture."""
    assert words(entry(photos=(picture("a.jpg", sha256=""), picture("b.jpg", sha256="")))) == []


def test_nobody_at_work():
    """One finding per assembly, at its newest entry, however many pictures."""
    none = tuple(picture(f"{n}.jpg", people=()) for n in range(4))
    problem = only("nobody-at-work", entry("one", photos=none[:2]), entry("two", photos=none[2:]))
    assert problem.file == "content/entries/two/index.md"
    assert problem.message == "nobody is seen at work in the pictures of Flaps (4 pictures)"


def test_a_helper_is_not_the_builder():
    """Pictures of a helper at work do not show the builder at work."""
    problem = only("nobody-at-work", entry(photos=(picture(people=("bo",)),), people=("ana", "bo")))
    assert problem.message.startswith("no builder is seen")


def test_somebody_at_work_once_is_enough():
    """One picture of a builder in an assembly does; an assembly that does not count needs none."""
    assert words(entry("one"), entry("two", photos=(picture("b.jpg", people=()),))) == []
    assert words(entry(assembly="shop", photos=(picture(people=()),))) == []


CLOSED = {"name": "shut", "steps": ("5.1", "5.2", "5.3", "5.4")}


def test_closed_unseen():
    """A closing step without inside picture and without inspection is told with what closed."""
    problem = only("closed-unseen", entry(**CLOSED))
    assert problem.message.startswith("step 5.4 closed the flap on 7 March 2026")
    assert "inside: true" in problem.hint
    assert "recommended" in problem.hint


def inside(day: date, **changes: Any) -> Photo:
    """A picture of the inside, taken on `day`."""
    return picture("in.jpg", inside=True, facts=taken(day), **changes)


def test_inside_photo_on_the_day_or_before():
    """A picture of the inside from the closing day or before does; a later one does not."""
    day_before = entry("before", date=DAY - timedelta(days=1), photos=(inside(DAY - timedelta(days=1)),))
    assert words(day_before, entry(**CLOSED)) == []
    assert words(entry(**CLOSED, photos=(inside(DAY),))) == []
    later = entry("later", date=DAY + timedelta(days=1), photos=(inside(DAY + timedelta(days=1)),))
    assert words(entry(**CLOSED), later) == ["closed-unseen"]


def test_inside_photo_counts_by_its_capture_day():
    """An entry written for an earlier day cannot carry a later picture as proof, and the other way round."""
    early = entry("early", date=DAY - timedelta(days=1), photos=(inside(DAY + timedelta(days=1)),))
    assert "closed-unseen" in words(early, entry(**CLOSED))
    late = entry("late", date=DAY + timedelta(days=1), photos=(inside(DAY),))
    assert words(late, entry(**CLOSED)) == []


def test_inside_photo_without_time_counts_by_the_entry():
    """Where the camera told no time, the entry's day stands for it."""
    undated = picture("in.jpg", inside=True, facts=PhotoFacts(kind="JPEG"))
    assert words(entry(**CLOSED, photos=(undated, picture()))) == ["no-capture-time"]
    clock = picture("in.jpg", inside=True, facts=taken(date(1980, 1, 1)))
    assert words(entry(**CLOSED, photos=(clock, picture()))) == ["camera-clock"]


def test_inside_photo_of_something_else():
    """A picture of another closing step, another assembly, or an unreadable one does not do."""
    nose = entry("nose", photos=(inside(DAY, step="5.5"),))
    assert words(nose, entry(**CLOSED)) == ["closed-unseen"]
    wing = entry("wing", assembly="wing", photos=(inside(DAY),))
    assert words(wing, entry(**CLOSED)) == ["closed-unseen"]
    broken = picture("in.jpg", inside=True, facts=PhotoFacts(trouble="empty"))
    assert words(entry(**CLOSED, photos=(broken, picture()))) == ["closed-unseen"]
    ribs = entry("ribs", photos=(inside(DAY, step="5.3"),))
    assert words(ribs, entry(**CLOSED)) == []


@pytest.mark.parametrize("outcome", [Outcome.PASSED, Outcome.PASSED_WITH_FINDINGS])
def test_closing_inspection_does(outcome: Outcome):
    """A passed closing inspection of the assembly or the step does, under every rule of the authority."""
    for rule in ClosingInspections:
        for target in ({"assembly": "flaps"}, {"assembly": None, "steps": ("5.4",)}, {"steps": ("5.3",)}):
            inspection = closing_look(outcome=outcome, **target)
            assert words(entry(**CLOSED), inspections=(inspection,), closing_inspections=rule) == []


@pytest.mark.parametrize(
    "changes",
    [
        {"stage": "first look"},
        {"date": DAY + timedelta(days=1)},
        {"assembly": "wing"},
        {"assembly": None, "steps": ("5.5",)},
    ],
)
def test_other_inspections_do_not(changes: dict[str, Any]):
    """Another stage, later, or of something else: still unseen."""
    assert words(entry(**CLOSED), inspections=(closing_look(**changes),)) == ["closed-unseen"]


def test_closed_after_an_inspection_that_was_not_passed():
    """Told as such, with and without a picture, and once; a later look that passed it settles that."""
    for photos in ((picture(),), (inside(DAY),)):
        failed = closing_look(outcome=Outcome.NOT_PASSED)
        problem = only("closed-not-passed", entry(**CLOSED, photos=photos), inspections=(failed,))
        assert "was not passed" in problem.message
        again = closing_look(id="z", src_uri="content/inspections/z/index.md")
        assert words(entry(**CLOSED, photos=photos), inspections=(failed, again)) == []


def test_required_inspection_is_asked_for_even_with_a_picture():
    """Where inspections are required a picture alone leaves `closed-uninspected`; elsewhere it does."""
    shut = entry(**CLOSED, photos=(inside(DAY),))
    problem = only("closed-uninspected", shut, closing_inspections=ClosingInspections.REQUIRED)
    assert "required" in problem.message
    assert words(shut, closing_inspections=ClosingInspections.NONE) == []
    assert words(entry(**CLOSED), closing_inspections=ClosingInspections.REQUIRED) == ["closed-unseen"]


def test_no_inspection_is_asked_for_where_there_are_none():
    """With `closing_inspections: none` the hint demands no inspection."""
    problem = only("closed-unseen", entry(**CLOSED), closing_inspections=ClosingInspections.NONE)
    assert "if there was one" in problem.hint
    assert "required" not in problem.hint


def test_reopened_structure_is_not_closed_and_counts_by_its_last_closing():
    """An open structure is no gap; after the second closing a picture from in between does."""
    shut, opened = (
        entry(**CLOSED),
        entry("opened", date=DAY + timedelta(days=3), begun=("5.4",), photos=(inside(DAY + timedelta(days=3)),)),
    )
    assert words(shut, opened) == []
    again = entry("z", date=DAY + timedelta(days=4), redone=("5.4",), photos=())
    assert words(shut, opened, again) == []


def test_finding_open():
    """An open finding of an inspection is told at its own line; a closed one is not."""
    findings = (
        InspectionFinding(id="F1", text="Rivet tipped", where=(9, 5)),
        InspectionFinding(id="F2", text="Swarf", closed_on=DAY, closed_by="one"),
    )
    problem = only("finding-open", entry(), inspections=(closing_look(findings=findings),))
    assert (problem.file, problem.line) == ("content/inspections/look/index.md", 9)
    assert "finding F1" in problem.message
    assert "closed_by" in problem.hint


def hours(name: str, minutes: int, **changes: Any) -> Entry:
    """An entry with this many minutes of Ana's."""
    return entry(name, time=(WorkedTime(person="ana", minutes=minutes),), **changes)


def test_long_day_over_all_entries():
    """More than 16 h of one person over the entries of a day is told once, at the last of them."""
    problem = only("long-day", hours("one", 9 * 60), hours("two", 7 * 60 + 1, assembly="wing"))
    assert problem.file == "content/entries/two/index.md"
    assert "Ana Lindqvist 16 h 01 min" in problem.message


def test_sixteen_hours_and_two_people_are_no_long_day():
    """Exactly 16 h, two days, or two people with 10 h each are fine."""
    assert words(hours("one", 16 * 60)) == []
    assert words(hours("one", 10 * 60), hours("two", 10 * 60, date=date(2026, 3, 8))) == []
    both = tuple(WorkedTime(person=person, minutes=600) for person in ("ana", "bo"))
    assert words(entry(people=("ana", "bo"), time=both)) == []


def test_future_date():
    """Tomorrow is told, today is not; inspections too."""
    build = built(entry(), inspections=(closing_look(),))
    assert [p.word for p in check(build, today=DAY - timedelta(days=1))] == ["future-date", "future-date"]
    assert check(build, today=DAY) == ()


def test_before_begun():
    """A day before `begun` is told; the first day and a build without `begun` are not."""
    assert words(entry(), begun=DAY + timedelta(days=1)) == ["before-begun"]
    assert words(entry(), begun=DAY) == []
    assert words(entry(), begun=None) == []


def test_long_gap():
    """61 days between worked days are told at the entry that ends the gap; 60 are not."""

    def later(days: int) -> Entry:
        day = DAY + timedelta(days=days)
        return entry("later", date=day, photos=(picture("l.jpg", facts=taken(day)),))

    problem = only("long-gap", entry(), later(61))
    assert problem.file == "content/entries/later/index.md"
    assert "61 days since 7 March 2026" in problem.message
    assert words(entry(), later(60)) == []


def test_no_place():
    """A missing place is told per entry, and once for the build where it names no place at all."""
    assert only("no-place", entry(place=None)).line == 8
    everywhere = [entry(str(n), place=None) for n in range(5)]
    problem = only("no-place", *everywhere, places={})
    assert (problem.file, problem.line) == ("content/build.yml", None)
    assert "5 entries" in problem.message


def test_no_people():
    """Missing people are told per entry, and once for the build where it names no builder."""
    assert only("no-people", entry("one", people=(), time=())).file == "content/entries/one/index.md"
    nobody = [entry(str(n), people=(), time=(), photos=(), assembly="shop") for n in range(5)]
    problem = only("no-people", *nobody, people={})
    assert problem.file == "content/build.yml"


def test_paid_help_untold():
    """Paid help that the entry never names is told; named in text or caption it is not."""
    paid = {"people": ("ana", "cy")}
    problem = only("paid-help", entry(**paid))
    assert "Cyril Aldous" in problem.message
    assert words(entry(**paid, body="Aldous welded the mount; we fitted it.")) == []
    assert words(entry(**paid, body="The paint shop sprayed the outside.")) == []
    assert words(entry(**paid, photos=(picture(caption="Cyril at the booth"),))) == []


def test_the_article_in_a_shown_name_is_not_a_name():
    """`the paint shop` is not named by every text with `the` in it."""
    assert words(entry(people=("ana", "cy"), body="We fitted the mount.")) == ["paid-help"]
    assert words(entry(people=("ana", "bo"))) == []


def test_drafts_are_no_evidence_and_private_entries_are():
    """A private picture of the inside does; a draft neither helps nor is told."""
    private = entry("before", private=True, photos=(inside(DAY, private=True),))
    assert words(private, entry(**CLOSED)) == []
    draft = entry("draft", draft=True, photos=(inside(DAY),), place=None)
    assert words(entry(**CLOSED), drafts=(draft,)) == ["closed-unseen"]


def test_an_answered_gap_is_listed_apart():
    """The builder's reason takes a gap out of the open list and stands beside it."""
    build = built(entry("one", steps=("5.1",), body="", answers={"no-text": "told in the pictures"}))
    result = find_gaps(build, build_ledger(build), replay(build), TODAY)
    assert result.gaps == ()
    (gap,) = result.answered
    assert (gap.problem.word, gap.answer, gap.answered_in) == ("no-text", "told in the pictures", "one")
    assert check(build) == ()


def test_an_empty_answer_is_no_answer():
    """A code word without a reason leaves the gap open."""
    assert words(entry(steps=("5.1",), body="", answers={"no-text": "  "})) == ["no-text"]


def test_a_gap_of_several_entries_may_be_answered_in_any_of_them():
    """A shared picture may be answered in the earlier entry too, a long gap on either side."""
    copies = [picture("a.jpg", sha256="s"), picture("b.jpg", sha256="s")]
    told = entry("one", photos=(copies[0],), answers={"photo-shared": "the same skin from both sides"})
    assert words(told, entry("two", photos=(copies[1],))) == []


def test_an_answer_to_nothing_is_told():
    """A misspelt or outlived answer is a finding; other modules' words only where they are known."""
    slip = entry(steps=("5.1",), body="", answers={"no-text": "x", "no-photo": "y"})
    problem = only("answer-unused", slip)
    assert problem.grade is Grade.FINDING
    assert '"no-photo"' in problem.message
    assert (problem.line, problem.column) == (9, 1)
    build = built(entry(answers={"rivet-long": "measured"}))
    ledger, progress = build_ledger(build), replay(build)
    assert find_gaps(build, ledger, progress, TODAY).problems == ()
    (gap,) = find_gaps(build, ledger, progress, TODAY, others=()).gaps
    assert gap.problem.word == "answer-unused"


def test_findings_made_elsewhere_are_answered_too():
    """A finding of the reader on an entry is answered by its word; errors take no part."""
    here = entry("one", answers={"no-hours": "nobody wrote them down"})
    build = built(here)
    others = (
        finding(here.src_uri, (1, 1), "no-hours", "no hours"),
        finding("content/build.yml", None, "no-zone", "no zone"),
        error(here.src_uri, (1, 1), "no-hours", "stop"),
    )
    result = find_gaps(build, build_ledger(build), replay(build), TODAY, others=others)
    assert [gap.problem.word for gap in result.answered] == ["no-hours"]
    assert [problem.word for problem in result.problems] == ["no-zone"]
    assert [gap.problem.word for gap in result.gaps_of("one")] == ["no-hours"]


def test_gaps_come_in_the_order_of_files_and_lines():
    """The same build gives the same list, sorted."""
    build = built(entry("b", steps=("5.1",), body=""), entry("a", place=None, steps=("5.2",), body=""))
    problems = check(build)
    assert [(p.file, p.line) for p in problems] == sorted((p.file, p.line) for p in problems)
    assert check(build) == problems


def test_every_finding_says_what_to_do():
    """No rule leaves its reader without a hint, and all are findings."""
    build = built(
        entry("one", steps=("5.4",), body="", place=None, people=("ana", "cy"), photos=()),
        entry("two", steps=("5.4",), date=date(2027, 1, 1)),
        entry("old", date=date(2020, 1, 1), photos=(picture(facts=taken(date(1980, 1, 1)), people=()),)),
    )
    problems = check(build)
    assert len({problem.word for problem in problems}) >= 9
    assert all(problem.hint and problem.grade is Grade.FINDING for problem in problems)


@pytest.mark.slow
def test_ten_years_of_building_are_judged_whole():
    """2,000 entries with 20,000 pictures and 400 steps: every picture of another day is told of."""
    steps = {f"s{n}": Step(id=f"s{n}", assembly="flaps", title="", closes="x" * (n % 10 == 0)) for n in range(400)}
    entries = [
        entry(
            f"e{n:04}",
            date=DAY + timedelta(days=n),
            steps=(f"s{n // 5}",) if n % 5 == 0 else (),
            body="Words. ![a](b.jpg) " * 40,
            photos=tuple(picture(f"{n}-{m}.jpg", inside=m == 0) for m in range(10)),
        )
        for n in range(2000)
    ]
    build = built(*entries, steps=steps)
    ledger, progress = build_ledger(build), replay(build)
    problems = find_gaps(build, ledger, progress, date(2040, 1, 1)).problems
    # Every picture shares its capture day (DAY) with no entry but the first two.
    assert sum(problem.word == "photo-date" for problem in problems) == 1998
