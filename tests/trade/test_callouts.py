"""What the kit's manual asks for: a build done to the letter stays silent, each departure is told by how much.

The manual of the invented Tarn differs from every handbook on purpose: nothing but its call-outs may judge.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from building import found_in
from making import BUILD_YML, MakeBuild, entry, read, words

from journal.base.model import Build, CallOut
from journal.base.problems import Problem, has_errors
from journal.base.quantities import parse_limit
from journal.ledger.callouts import (
    callouts_for,
    check_callouts,
    lines_of,
    part_of,
    replaced_by,
    trace_callouts,
    unusual,
)
from journal.ledger.checks import check_trade, compared_tables
from journal.ledger.journal import open_journal
from journal.ledger.progress import replay
from journal.record.tables import archive_tables
from journal.site.callout_pages import callouts_page
from journal.site.site_context import SiteContext
from journal.site.step import step_page
from journal.trade.callouts import judge_words, say_place
from journal.trade.fasteners import parse_hole
from journal.trade.figures import BRIEF, Standing
from journal.trade.hardware import read_part, same_part
from journal.trade.tables import drills
from journal.trade.torque import nut_thread
from journal.view.view import Audience, open_view

MANUAL = BUILD_YML + "manual: {edition: 3}\n"
STEPS = """\
assembly,step,title,page,closes
flaps,5.1,Rivet,5-1,
flaps,5.2,Bolt,5-2,
flaps,5.3,Seal,5-3,
flaps,5.4,Second flap,5-4,
"""
CALLOUTS = """\
step,what,part,value,tolerance,drag,count,page,edition,answer
5.1,rivet,AN470AD4-7,,,,12,5-11,,a long one on purpose
5.1,blind rivet,LP4-3,,,,20,5-11,,
5.1,edge,AN470AD4-7,at least 0.15 in,,,,5-12,,thin flange
5.1,hole,AN470AD4-7,#27,,,,5-12,,
5.1,shop head,AN470AD4-7,0.150 in x 0.090 in,,,,5-12,,flat set of our own
5.2,bolt,AN4-10A,120 in-lb,±4,6 to 12 in-lb,8,5-21,,high strength
5.2,nut,MS20365-428,,,,,5-21,,
5.2,threads,AN4-10A,1 to 3,,,,5-21,,
5.2,grip,AN4-10A,9/16 in,,,,5-21,,
5.2,bolt,AN3-5A,10 in-lb,1,added,4,5-22,,in plastic
5.2,lock,AN5-11,cotter pin,,,,5-23,,
5.2,bolt,AN5-11,40 to 45 in-lb,,,2,5-23,,finger tight and a flat
5.2,fitting,AN819-4D,65 in-lb,±5,,,5-24,,
5.3,sealant,tank sealant B,,,,,5-31,,
5.4,rivet,AN470AD4-7,,,,12,5-41,,
"""
LETTER = """
steps: [5.1, 5.2, 5.3]
fasteners:
  - {rivet: MS20470 AD4-7, count: 12, grip: 0.125 in, hole: '#27', edge: 0.15 in, shop_head: 0.150 x 0.090 in}
  - {rivet: lp4-3, count: 20}
torque:
  - {bolt: AN4-10A, nut: MS20365-428, value: 120 in-lb, drag: 8 in-lb, count: 8, grip: 9/16 in, threads: 2}
  - {bolt: AN3-5A, nut: self-locking, value: 15 in-lb, drag: 5 in-lb, count: 4}
  - {bolt: AN5-11, nut: castle, value: 42 in-lb, locked: cotter pin, count: 2}
  - {fitting: AN819-4D, value: 7.3 N m}
materials: [seal]
"""
SEALANT = "id,name,batch,expires,record\nseal,Tank sealant B,9,,\nother,Tank sealant A,1,,\n"


def built(make_build: MakeBuild, told: str = LETTER, callouts: str = CALLOUTS, **more: str) -> Build:
    """A build of one entry that was read without an error."""
    files = {"build.yml": MANUAL, "steps.csv": STEPS, "callouts.csv": callouts, "materials.csv": SEALANT}
    build, problems = read(make_build({**files, "entries/a/index.md": entry(told), **more}))
    assert words(problems) == []
    return build


def test_a_build_that_follows_its_manual_to_the_letter_stays_silent(make_build: MakeBuild) -> None:
    """Whatever the handbooks say of it; without the manual much of it would be told."""
    assert found_in(built(make_build)) == ()
    alone = {problem.word for problem in found_in(built(make_build, callouts="step,what\n"))}
    assert alone == {"rivet-length", "edge-distance", "shop-head", "torque-over-maximum", "torque-low"}


DEPARTURES = [
    ("MS20470 AD4-7", "AN426AD4-7", "AN426AD4-7 was used where AN470AD4-7 (page 5-11, edition 3)"),
    ("MS20470 AD4-7", "AN470AD4-6", "AN470AD4-6 was used where"),
    ("lp4-3, count: 20", "lp4-2, count: 20", "lp4-2 was used where"),
    ("count: 12,", "count: 11,", "AN470AD4-7: 11 are recorded, 1 fewer than the 12 called for by step 5.1 (page 5-11"),
    ("count: 20}", "count: 22}", "LP4-3: 22 are recorded, 2 more than the 20"),
    ("hole: '#27'", "hole: '#30'", "hole #30 is 0.0155 in (0.39 mm) under #27 (page 5-12, edition 3)"),
    (
        "edge: 0.15 in",
        "edge: 0.149 in",
        "edge distance 0.149 in is 0.001 in (0.03 mm) under at least 0.15 in (page 5-12",
    ),
    ("edge: 0.15 in", "edge: 3.7 mm", "3.7 mm is 0.0043 in (0.11 mm) under"),
    ("0.150 x 0.090 in", "0.160 x 0.090 in", "0.160 in is 0.010 in (0.25 mm) over 0.150 in"),
    ("0.150 x 0.090 in", "0.150 x 0.080 in", "0.080 in is 0.010 in (0.25 mm) under 0.090 in"),
    ("value: 120 in-lb", "value: 62 in-lb", "62 in-lb is 54 in-lb (6.1 N m, 4.5 ft-lb) under 120 in-lb ±4 (page 5-21"),
    ("value: 120 in-lb", "value: 125 in-lb", "125 in-lb is 1 in-lb"),
    ("value: 120 in-lb", "value: 14.2 N m", "14.2 N m is 1.7 in-lb"),
    ("drag: 8 in-lb", "drag: 14 in-lb", "drag 14 in-lb is 2 in-lb (0.23 N m, 0.17 ft-lb) over 6 to 12 in-lb"),
    (", drag: 8 in-lb", "", "and none is recorded"),
    ("nut: MS20365-428", "nut: AN364-428", "AN364-428 was used where MS20365-428 (page 5-21"),
    ("nut: MS20365-428", "nut: castle", "castle was used where MS20365-428 (page 5-21"),
    ("threads: 2", "threads: 5", "threads showing 5 is 2 over 1 to 3 (page 5-21"),
    ("grip: 9/16 in", "grip: 3/4 in", "3/4 in is 0.1875 in (4.76 mm) over 9/16 in (page 5-21"),
    ("count: 8,", "count: 7,", "AN4-10A: 7 are recorded, 1 fewer than the 8"),
    (
        "value: 15 in-lb, drag: 5",
        "value: 15 in-lb, drag: 2",
        "15 in-lb is 2 in-lb (0.23 N m, 0.17 ft-lb) over 10 in-lb ±1",
    ),
    (", drag: 5 in-lb", "", "the manual's value is without drag (page 5-22, edition 3)"),
    ("AN5-11, nut", "AN5-12, nut", "AN5-12 was used where"),
    ("value: 42 in-lb", "value: 46 in-lb", "46 in-lb is 1 in-lb"),
    ("locked: cotter pin", "locked: safety wire", "safety wire was used where AN5-11 cotter pin (page 5-23"),
    ("7.3 N m", "8.0 N m", "8.0 N m is 0.8 in-lb"),
    ("materials: [seal]", "materials: [other]", "Tank sealant A was used where tank sealant B (page 5-31"),
]


def told_of(problems: Sequence[Problem]) -> str:
    """All that was found, a line each."""
    return "\n".join(f"{problem.line} {problem.word} {problem.message}" for problem in problems)


@pytest.mark.parametrize(("written", "done", "said"), DEPARTURES)
def test_every_departure_is_told_by_how_much_and_with_the_page(
    make_build: MakeBuild, written: str, done: str, said: str
) -> None:
    """One thing done otherwise is one finding, in the entry, with the caution."""
    assert written in LETTER
    found = found_in(built(make_build, LETTER.replace(written, done, 1)))
    assert said in told_of(found)
    assert {problem.word for problem in found} <= {"not-as-called-for", "drag-missing"}
    assert len({problem.line for problem in found}) == 1
    assert all("the kit's manual and drawings come first" in problem.hint for problem in found)
    assert {problem.file for problem in found} == {"content/entries/a/index.md"}


@pytest.mark.parametrize("lacking", ["page", "edition"])
def test_a_call_out_without_its_place_judges_nothing(make_build: MakeBuild, lacking: str) -> None:
    """It is told once on its row; the handbooks then stand as if it were not there."""
    rows = "step,what,part,value,page,edition\n5.2,bolt,AN4-10A,62 in-lb,{page},{edition}\n"
    row = rows.format(**{"page": "5-21", "edition": "3", lacking: ""})
    told = "steps: [5.2]\ntorque:\n  - {bolt: AN4-10A, nut: castle, value: 90 in-lb}"
    files = {"steps.csv": STEPS, "callouts.csv": row, "entries/a/index.md": entry(told)}
    build, problems = read(make_build(files))
    assert words(problems) == ["call-out-no-page"]
    assert found_in(build) == ()


def test_a_line_may_say_itself_what_was_called_for(make_build: MakeBuild) -> None:
    """It comes before the list, holds a value or several, and judges like any other."""
    line = "  - {bolt: AN4-10A, nut: castle, value: 30 in-lb, called_for: {value: %s, page: 9-1, edition: 2}}"
    for value, found in (("28 to 32 in-lb", []), ("40 in-lb", ["not-as-called-for"]), ("2.5 ft-lb", [])):
        told = "steps: [5.2]\ntorque:\n" + line % value
        assert [one.word for one in found_in(built(make_build, told))] == found
    rivet = "steps: [5.1]\nfasteners:\n  - {rivet: AN470AD4-5, edge: 0.2 in, called_for: "
    rivet += "{value: AN470AD4-5, %s, page: 1, edition: 1}}"
    assert found_in(built(make_build, rivet % "edge: at least 0.19 in")) == ()
    assert "under at least 0.3 in" in told_of(found_in(built(make_build, rivet % "edge: at least 0.3 in")))


def test_a_tolerance_beside_figures_is_that_of_each(make_build: MakeBuild) -> None:
    """Of both sides of a shop head, of figures and not of the nut or the lock."""
    rows = "5.1,shop head,,0.17 x 0.05 in,±0.02,,,5-12,,yes\n5.2,bolt,AN5-11,62 in-lb,,,,5-23,,yes\n"
    called = "called_for: {value: 100 in-lb, tolerance: ±3, nut: castle, locked: cotter pin, page: 5-23}"
    line = "steps: [5.1, 5.2]\nfasteners:\n  - {rivet: AN470AD4-7, shop_head: %s}\ntorque:\n"
    line += f"  - {{bolt: AN5-11, nut: castle, locked: cotter pin, value: 103 in-lb, {called}}}"
    head = CALLOUTS.partition("\n")[0] + "\n" + rows
    assert found_in(built(make_build, line % "0.188 x 0.033 in", head)) == ()
    wide = told_of(found_in(built(make_build, line % "0.20 x 0.05 in", head)))
    assert "shop head across 0.20 in is 0.010 in (0.25 mm) over 0.17 in ±0.02" in wide


def test_parts_of_another_purpose_are_not_held_against_each_other(make_build: MakeBuild) -> None:
    """A nutplate stands in for no screw, a screw for a bolt it may; a part may stand under `value`."""
    head = CALLOUTS.partition("\n")[0] + "\n"
    rows = head + "5.1,screw,,AN507-832R8,,,2,5-11,,\n5.1,rivet,,CCP-42,,,1,5-11,,\n"
    rows += "5.1,rivet,CR 3213-4-02,,,,,5-11,,\n5.2,nut,,AN310-5,,,,5-23,,\n"
    line = "steps: [5.1, 5.2]\nfasteners:\n  - {nutplate: MS21059-08, count: 2, step: 5.1}\n"
    line += "  - {screw: %s, count: 2, step: 5.1}\n  - {rivet: ccp 42, count: 1, step: 5.1}\n"
    line += "  - {rivet: CR3213-4-02, step: 5.1}\n"
    line += "torque:\n  - {bolt: AN5-11, nut: %s, value: 110 in-lb, step: 5.2}"
    assert found_in(built(make_build, line % ("AN507-832R8", "AN310-5"), rows)) == ()
    told = told_of(found_in(built(make_build, line % ("AN507-832R9", "AN320-5"), rows)))
    assert "AN507-832R9 was used where AN507-832R8 (page 5-11, edition 3) is called for" in told
    assert "AN320-5 was used where AN310-5 (page 5-23" in told


def test_a_page_that_says_what_it_is_is_not_called_a_page_again() -> None:
    """`S. 12` and `p. 7` as they stand; `7-12` and `B-12` are pages."""
    for page, said in (("S. 12", "S. 12"), ("p. 7", "p. 7"), ("7-12", "page 7-12"), ("B-12", "page B-12"), ("", "")):
        assert say_place(CallOut(what="edge", page=page)) == said


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("5.1,hole,,Nr. 30", ""),
        ("5.1,hole,,about five", '"about five" is no figure'),
        ("5.2,threads,,one to three", '"one to three" is no figure'),
        ("5.2,bolts,AN4,", '"bolts" is compared with results of measurements alone'),
        ("5.1,torqe,AN4,", '"torqe" is compared with'),
        ("5.1,gap,,at most 1 mm", ""),
        ("5.1,travel,,1 to 2°", ""),
    ],
)
def test_a_row_that_judges_nothing_is_told(make_build: MakeBuild, row: str, said: str) -> None:
    """A value that nobody can read, and a word that is nearly one of those that speak of lines."""
    text = f"step,what,part,value,page\n{row},5-1\n"
    build, problems = read(make_build({"build.yml": MANUAL, "steps.csv": STEPS, "callouts.csv": text}))
    found = [*problems, *found_in(build)]
    assert [one.word for one in found] == (["bad-call-out"] if said else [])
    assert said in told_of(found)


def test_a_maker_s_own_figure_is_no_fault(make_build: MakeBuild) -> None:
    """`source` says whose figure it is: handbooks stand beside it and judge nothing."""
    told = "steps: [5.4]\ntorque:\n  - {bolt: AN4-10A, nut: castle, value: 140 in-lb, source: propeller manual 2-14}"
    assert found_in(built(make_build, told)) == ()


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("5.2,bolt,AN4-10A,620 in-lb,5-21,,", "620 in-lb is 520 in-lb (58.75 N m, 43.33 ft-lb) over the highest"),
        ("5.2,bolt,1/4-28,6 in-lb,5-21,,", "under the lowest"),
        ("5.2,bolt,AN4-10A,62 ft-lb,5-21,,", "over the highest"),
        ("5.2,bolt,AN4-10A,620 in-lb,5-21,,yes: it says so", ""),
        ("5.2,bolt,AN4-10A,62 in-lb,5-21,,", ""),
        ("5.2,bolt,AN4-10A,100 in-lb,5-21,,", ""),
        ("5.2,bolt,NAS6204-9,620 in-lb,5-21,,", ""),
        ("5.1,edge,AN470AD4-5,at least 0.15 in,5-21,,", "under the lowest"),
        ("5.1,edge,AN470AD4-5,at least 0.2 in,5-21,,", ""),
        ("5.1,edge,AN470AD4-5,at most 0.025 in,5-21,,", "under the lowest"),
        ("5.1,hole,AN470AD4-5,0.0128 in,5-21,,", "under the lowest"),
    ],
)
def test_a_slip_of_the_pen_is_asked_about_once_on_its_row(make_build: MakeBuild, row: str, said: str) -> None:
    """620 for 62: beyond every source that was read. An answer in its row settles it."""
    build = built(make_build, "steps: []", f"step,what,part,value,page,edition,answer\n{row}\n")
    found = found_in(build)
    assert [one.word for one in found] == (["call-out-unusual"] if said else [])
    assert said in told_of(found)
    assert all((one.file, one.line) == ("content/callouts.csv", 2) for one in found)


@pytest.mark.parametrize(
    ("row", "word"),
    [
        ("5.2,bolt,AN4-10A,620,,,5-21", "bad-call-out"),
        ("5.2,bolt,AN4-10A,1/4 in,,,5-21", "bad-call-out"),
        ("5.1,edge,,5 in-lb,,,5-21", "bad-call-out"),
        ("5.2,bolt,AN4-10A,62 in-lb,about,,5-21", "bad-call-out"),
        ("5.2,bolt,AN4-10A,62 in-lb,3,a bit,5-21", "bad-call-out"),
        ("9.9,bolt,AN4-10A,62 in-lb,,,5-21", "unknown-step"),
        ("5.1,rivet,AN470AD4-5 or -6,,,,5-21", "bad-call-out"),
        ("5.1,rivet,AN470AD4-5/AN470AD4-6,,,,5-21", "bad-call-out"),
        ("5.1,rivet,AN470AD4-*,,,,5-21", "bad-call-out"),
        ("5.2,,AN4-10A,62 in-lb,,,5-21", "cell-empty"),
        ("5.2,screw,AN526-632R8,20,,,5-21", "bad-call-out"),
        ("5.1,rivet,AN470AD4-7,0.15 in,,,5-11", "bad-call-out"),
        ("5.1,edge,,-5 in,,,5-11", "bad-call-out"),
    ],
)
def test_what_is_wrong_with_a_row_is_told_in_its_place(make_build: MakeBuild, row: str, word: str) -> None:
    """A torque without a unit is refused, and so is a tolerance of nothing."""
    text = f"step,what,part,value,tolerance,drag,page\n{row}\n"
    _, problems = read(make_build({"build.yml": MANUAL, "steps.csv": STEPS, "callouts.csv": text}))
    told = [problem for problem in problems if problem.word == word]
    assert told
    assert (told[0].file, told[0].line) == ("content/callouts.csv", 2)


def test_a_step_has_its_own_and_the_rest_hold_everywhere(make_build: MakeBuild) -> None:
    """A row without a step speaks of its part anywhere, but for the steps that have a row for it."""
    rows = "step,what,part,value,page\n,bolt,AN4,60 in-lb,1-1\n5.2,bolt,AN4-10A,90 in-lb,5-2\n"
    line = "torque:\n  - {bolt: AN4-10A, nut: castle, value: %s in-lb}"
    for step, value, found in (("5.2", 90, 0), ("5.2", 60, 1), ("5.1", 60, 0), ("5.1", 90, 1)):
        build = built(make_build, f"steps: ['{step}']\n" + line % value, rows)
        assert len(found_in(build)) == found
    # A count for the step says nothing of edges: the row that holds everywhere still speaks of those.
    rows = "step,what,part,value,count,page\n,edge,AN470AD4,0.25 in,,1-2\n5.1,rivet,AN470AD4-4,,2,5-1\n"
    build = built(make_build, "steps: ['5.1']\nfasteners:\n  - {rivet: AN470AD4-4, count: 2, edge: 0.200 in}", rows)
    assert "page 1-2" in told_of(found_in(build))


def test_a_line_that_names_its_step_is_held_against_that_alone(make_build: MakeBuild) -> None:
    """Of an entry with two steps each line may say to which it belongs."""
    told = "steps: [5.1, 5.2]\nfasteners:\n  - {rivet: AN470AD4-9, count: 2, step: '5.2'}"
    build = built(make_build, told)
    (line,) = lines_of(build.entries[0])
    assert not any(called.what == "rivet" for called in callouts_for(build.entries[0], line, build))


def test_counts_are_added_up_over_entries_and_mirrored_steps(make_build: MakeBuild) -> None:
    """Twelve for each of two steps: one entry for both, or one for each; before both are done nothing is told."""
    line = "fasteners:\n  - {rivet: AN470AD4-7, count: %d, edge: 0.15 in}"
    both = built(make_build, "steps: [5.1, 5.4]\n" + line % 24)
    assert found_in(both) == ()
    fewer = built(make_build, "steps: [5.1, 5.4]\n" + line % 23)
    assert "23 are recorded, 1 fewer than the 24" in told_of(found_in(fewer))
    begun = built(make_build, "begun: [5.1]\n" + line % 3)
    assert found_in(begun) == ()


def test_a_bad_rivet_drilled_out_and_set_anew_is_closed(make_build: MakeBuild) -> None:
    """The later entry names the earlier; its finding is answered by it, and what replaces is not counted again."""
    bad = "date: 2026-02-07\nsteps: [5.1]\nfasteners:\n  - {rivet: AN470AD4-7, count: 12, edge: 0.15 in, "
    bad += "shop_head: 0.11 x 0.09 in}"
    again = "date: 2026-02-09\nfasteners:\n  - {rivet: AN470AD4-7, count: 2, edge: 0.15 in, drilled_out: a}"
    build = built(make_build, bad, **{"entries/b/index.md": entry(again)})
    found, anew = check_trade(build, replay(build))
    assert [problem.word for problem in found] == ["not-as-called-for"]
    assert list(anew.values()) == ["b"]


def test_a_line_replaces_none_but_others_of_its_own_entry(make_build: MakeBuild) -> None:
    """It closes the findings on what was drilled out the same evening, and never its own."""
    steps, short = "steps: [5.1]\nfasteners:\n", "  - {rivet: AN470AD4-5, grip: 0.25 in, drilled_out: a}\n"
    for lines, closed in ((short, 0), (short.replace("0.25", "0.125") + short.replace(", drilled_out: a", ""), 1)):
        build = built(make_build, steps + lines, "step,what\n")
        found, anew = check_trade(build, replay(build))
        assert ([one.word for one in found], len(anew)) == (["rivet-length"], closed)


def test_what_replaces_a_private_line_shows_nothing_of_it(make_build: MakeBuild) -> None:
    """Not what is called for in the step of an entry that is kept back."""
    again = "date: 2026-02-09\nfasteners:\n  - {rivet: AN470AD4-7, drilled_out: a}"
    build = built(make_build, "private: true\nsteps: [5.1]", **{"entries/b/index.md": entry(again)})
    for everything, shown in ((True, True), (False, False)):
        (table,) = compared_tables(build.entries[1], build, everything=everything)
        assert any("page 5-1" in figure.called_for for figure in table.figures) == shown


def test_an_entry_that_nobody_knows_cannot_be_replaced(make_build: MakeBuild) -> None:
    """A slip in the name is an error with the nearest entry."""
    told = "fasteners:\n  - {rivet: AN470AD4-7, drilled_out: b}"
    _, problems = read(make_build({"entries/a/index.md": entry(told)}))
    assert words(problems) == ["unknown-entry"]


@pytest.mark.parametrize(
    ("text", "number", "kind"),
    [
        *((text, "AN470AD4-5", "rivet") for text in ("ms20470 ad4-5", "AN470-AD-4-5", "470AD4-5", "AN470AD4–5")),
        *((text, "AN426AD3-3.5", "rivet") for text in ("MS20426AD3-3½", "an426ad3-3 1/2", "AN426AD3-3-5")),
        ("NAS1097AD3-4", "NAS1097AD3-4", "rivet"),
        ("MS20604B4W2", "MS20604B4W2", "blind rivet"),
        *((text, "AN4-10A", "bolt") for text in ("AN4-10A", "an 4 - 10a", "AN4 10A")),
        ("NAS6204-10", "NAS6204-10", "bolt"),
        ("AN525-10R7", "AN525-10R7", "screw"),
        *((text, "MS20365-428", "nut") for text in ("AN365-428", "MS20365-428")),
        ("MS21047-08", "MS21047-08", "nutplate"),
        ("AN960-416L", "AN960-416L", "washer"),
        ("AN816-4D", "AN816-4D", "fitting"),
        ("LP4-3", "LP4-3", ""),
        ("my own bracket", "MY OWN BRACKET", ""),
    ],
)
def test_hardware_as_it_is_written(text: str, number: str, kind: str) -> None:
    """Standard numbers in every usual spelling come to one; what is not known stays as it is."""
    assert (read_part(text).number, read_part(text).kind) == (number, kind)
    assert same_part(number, text)


def test_a_beginning_stands_for_all_of_its_lengths() -> None:
    """AN4 is every AN4-…, and never AN42."""
    assert same_part("AN4", "AN4-10A")
    assert same_part("AN470AD4", "MS20470AD4-5")
    assert not same_part("AN4", "AN42-10")
    assert not same_part("AN4-1", "AN4-10A")
    assert same_part("AN470", "MS20470AD4-5")
    assert same_part("AN470AD", "AN470AD4-5")
    assert same_part("MS21059", "MS21059L3")
    for called, used in (("AN470A", "AN470AD4-5"), ("AN470AD4-5", "AN470AD4-5.5"), ("AN4", "AN4H-10A")):
        assert not same_part(called, used)
    assert not same_part("", "AN4-10A")


def test_how_a_call_out_for_a_nut_stands(make_build: MakeBuild) -> None:
    """In words or by its part, of one that is met by another line nothing is told of this one."""
    rows = "step,what,part,page\n5.2,nut,self-locking,5-1\n5.2,nut,AN310-5,5-1\n"
    line = "steps: [5.2]\ntorque:\n  - {bolt: AN4-10A, nut: %s, value: 62 in-lb, drag: 9 in-lb}\n"
    line += "  - {bolt: AN5-11, nut: %s, value: 120 in-lb}"
    for nuts, told in (
        (("MS20365-428", "AN310-5"), ["as called for", "as called for"]),
        (("AN315-4", "AN310-5"), ["not as called for", "as called for"]),
        (("MS20365-428", "AN320-5"), ["not as called for", "not as called for"]),
    ):
        assert states(built(make_build, line % nuts, rows))[:2] == told


def states(build: Build) -> list[str]:
    """How each row of the list stands, in its order."""
    return [trace.state for trace in trace_callouts(build, replay(build))]


def test_how_each_call_out_stands(make_build: MakeBuild) -> None:
    """Done to the letter, done otherwise, done and not recorded, still to come."""
    letter = states(built(make_build))
    assert set(letter[:-1]) == {"as called for"}
    assert letter[-1] == "to come"
    wrong = states(built(make_build, LETTER.replace("[seal]", "[other]")))
    assert wrong[-2] == "not as called for"
    wrong = states(built(make_build, LETTER.replace("MS20470 AD4-7", "AN470AD4-6")))
    assert wrong[0] == "not as called for"
    late = LETTER.replace("fasteners:", "nothing:").replace("steps: [5.1, 5.2, 5.3]", "steps: [5.1]")
    bare = built(make_build, "\n".join(line for line in late.split("\n")[:2]))
    assert states(bare)[0] == "not recorded"


def test_call_outs_are_for_the_builder_and_the_inspector(make_build: MakeBuild) -> None:
    """The manual is its maker's: followers see only what stands beside a line of an entry."""
    root = make_build(
        {
            "build.yml": MANUAL,
            "steps.csv": STEPS,
            "callouts.csv": CALLOUTS + "5.4,edge,,at least 0.777 in,,,,5-99,,\n",
            "materials.csv": SEALANT,
            "entries/a/index.md": entry(LETTER),
        }
    )
    opened = open_journal(root, date(2026, 3, 1))
    public, archive = (open_view(opened, audience) for audience in (Audience.PUBLIC, Audience.ARCHIVE))
    assert public.callouts == ()
    assert len(archive.callouts) == 17
    site = SiteContext(archive, {})
    page = callouts_page(site)
    assert [group.title for group in page.groups] == ["Flaps"]
    assert "0.777" in repr(page)
    assert "0.777" in repr(step_page(site, archive.steps["5.4"]))
    assert "0.777" not in repr(step_page(SiteContext(public, {}), public.steps["5.4"]))
    table = dict(archive_tables(archive))["tables/callouts.csv"].decode()
    assert "5.1,rivet,AN470AD4-7,,,12,5-11,3,as called for,a" in table


@pytest.mark.parametrize(
    ("nut", "thread"),
    [
        *(("MS20365-428", "1/4-28"), ("AN365-1032A", "10-32"), ("AN310-5", "5/16-24"), ("MS21042-3", "10-32")),
        *(("MS21044N4", ""), ("AN320-10", "5/8-18"), ("castle", ""), ("MS20364-624", "3/8-24")),
    ],
)
def test_the_thread_of_a_nut(nut: str, thread: str) -> None:
    """By its dash number (from memory); what does not tell fits any bolt."""
    assert nut_thread(nut) == thread


@pytest.mark.parametrize(
    ("asked", "said", "met"),
    [
        ("cotter pin", "cotter pin, new", True),
        ("cotter pin", "pin", True),
        ("cotter pin", "Cotter  PIN", True),
        ("cotter pin", "safety wire", False),
        ("no bubbles", "bubbles", False),
        ("no bubbles", "no bubbles in 24 h", True),
        ("pin", "pinched", False),
        ("no bubbles", "not a single bubble", True),
        ("no bubbles", "0 bubbles", True),
        ("no leak", "without leaks", True),
        ("no leak", "not leaking", True),
        ("no leak", "leaking at the drain", False),
        ("no drop over 0.5 mm", "drop of 0.5 mm", False),
        ("none", "none", True),
    ],
)
def test_words_against_words(asked: str, said: str, met: bool) -> None:
    """By whole words, and a no on one side alone is no match."""
    called = CallOut(what="lock", value=asked, page="1-1", edition="1")
    assert (judge_words(said, [called]).standing is Standing.AS_CALLED_FOR) == met


@pytest.mark.parametrize(
    ("used", "found", "stands"),
    [
        ("[seal]", False, "as called for"),
        ("[seal, other]", False, "as called for"),
        ("[lime]", False, "not recorded"),
        ("[other]", True, "not as called for"),
        ("[lime, other]", True, "not as called for"),
        ("[]", False, "not recorded"),
    ],
)
def test_materials_of_a_step(make_build: MakeBuild, used: str, found: bool, stands: str) -> None:
    """Of two that are called for one may stand in another entry; told is one that nothing calls for in its place."""
    rows = "step,what,part,page\n5.3,sealant,tank sealant B,5-31\n5.3,primer,lime primer,5-30\n"
    stock = SEALANT + "lime,Lime primer,3,,\n"
    build = built(make_build, f"steps: [5.3]\nmaterials: {used}", rows, **{"materials.csv": stock})
    assert ("Tank sealant A was used" in told_of(found_in(build))) == found
    assert states(build)[0] == stands


UNTOLD = "done, and nothing recorded answers what the manual calls for: "


@pytest.mark.parametrize(
    ("left_out", "asked"),
    [
        ("  - {fitting: AN819-4D, value: 7.3 N m}\n", f"{UNTOLD}fitting AN819-4D 65 in-lb ±5 (page 5-24, edition 3)"),
        ("materials: [seal]\n", f"{UNTOLD}sealant tank sealant B (page 5-31, edition 3)"),
        (", locked: cotter pin", "AN5-11 cotter pin (page 5-23, edition 3) is called for, and no lock is recorded"),
        (", edge: 0.15 in", ""),
    ],
)
def test_what_must_be_told_and_is_not(make_build: MakeBuild, left_out: str, asked: str) -> None:
    """A torque, a lock or a material that is called for and of which nothing tells, once the step is done."""
    assert left_out in LETTER
    found = found_in(built(make_build, LETTER.replace(left_out, "\n" if left_out.endswith("\n") else "")))
    assert [problem.word for problem in found] == (["call-out-unrecorded"] if asked else [])
    assert asked in told_of(found)
    if "lock" not in left_out:
        begun = LETTER.replace("steps: [5.1, 5.2, 5.3]", "begun: [5.1, 5.2, 5.3]").replace(left_out, "\n")
        assert "call-out-unrecorded" not in told_of(found_in(built(make_build, begun)))


def test_a_leak_test_that_nobody_wrote_down(make_build: MakeBuild) -> None:
    """What is measured belongs into measurements/; there it answers, with its own call-out as well."""
    rows = "step,what,value,page\n5.3,leak test,at most 10 mm,5-33\n"
    assert "call-out-unrecorded" in told_of(found_in(built(make_build, "steps: [5.3]", rows)))
    result = "results: [{what: drop, value: 6 mm, called_for: {value: at most 10 mm, page: 5-33}}]"
    head = "date: 2026-02-08\nsteps: [5.3]\nkind: leak test\nmeasured_by: ada\nchecked_by: bo"
    test = f"---\n{head}\n{result}\n---\nTight.\n"
    build = built(make_build, "steps: [5.3]", rows, **{"measurements/tank/index.md": test})
    assert "call-out-unrecorded" not in told_of(found_in(build))


@pytest.mark.parametrize(
    ("text", "drill"), [("30", "#30"), ("No 30", "#30"), ("#30", "#30"), ("F", "F"), ("40", "#40")]
)
def test_a_hole_by_its_drill(text: str, drill: str) -> None:
    """A bare number is the drill of that number."""
    hole = parse_hole(text)
    assert hole is not None
    assert hole.value == drills()[drill].diameter


@pytest.mark.parametrize(
    ("what", "wrong"),
    [
        *((what, "3 mm") for what in ("bolt", "screw", "nut", "fitting", "torque")),
        *((what, "5 in-lb") for what in ("edge", "edge distance", "gap", "grip", "spacing")),
        *((what, "5 in-lb") for what in ("shop head", "shop head width", "shop head height")),
    ],
)
def test_each_word_has_its_kind_of_figure(make_build: MakeBuild, what: str, wrong: str) -> None:
    """A length where a torque is meant, or the other way round, is refused; the right kind is taken."""
    right = "5 in-lb" if wrong == "3 mm" else "3 mm"
    for value, refused in ((wrong, True), (right, False)):
        text = f"step,what,part,value,page\n5.2,{what},AN4-10A,{value},5-21\n"
        _, problems = read(make_build({"build.yml": MANUAL, "steps.csv": STEPS, "callouts.csv": text}))
        assert ("bad-call-out" in words(problems)) == refused


@pytest.mark.parametrize(("page", "edition", "lacks"), [("", "3", "page"), ("5-1", "", "edition of the manual")])
def test_what_a_call_out_lacks_is_said(make_build: MakeBuild, page: str, edition: str, lacks: str) -> None:
    """Page or edition, in words."""
    text = f"step,what,part,value,page,edition\n5.2,bolt,AN4-10A,62 in-lb,{page},{edition}\n"
    _, problems = read(make_build({"steps.csv": STEPS, "callouts.csv": text}))
    assert [f"this has no {lacks}, so nothing is compared with it" in problem.message for problem in problems] == [True]


@pytest.mark.parametrize("what", ["lock", "locking", "locked"])
def test_each_word_for_a_lock(make_build: MakeBuild, what: str) -> None:
    """All three mean the same."""
    rows = f"step,what,part,value,page\n5.2,{what},AN4-10A,cotter pin,5-2\n"
    told = "steps: [5.2]\ntorque:\n  - {bolt: AN4-10A, nut: castle, value: 60 in-lb, locked: wire}"
    assert "wire was used where" in told_of(found_in(built(make_build, told, rows)))


def test_several_that_are_asked_for_one_thing_are_told_with_or() -> None:
    """Each with its page, once; one of them is enough."""
    pin, wire = (CallOut(what="locked", value=one, page="5-1", edition="C") for one in ("cotter pin", "wire"))
    asked = "cotter pin (page 5-1, edition C); or wire (page 5-1, edition C)"
    judged = judge_words("glue", [pin, wire, pin])
    assert (judged.asked, judged.standing) == (asked, Standing.DEPARTS)
    assert judged.remark == f"glue was used where {asked} is called for"
    assert judge_words("wire", [pin, wire]).standing is Standing.AS_CALLED_FOR
    assert judge_words("", [pin, wire]).standing is Standing.SHOWN


GOLDEN = Path(__file__).parent / "callouts.golden.txt"
AGAIN = "date: 2026-02-09\nsteps: [5.4]\nfasteners:\n  - {rivet: AN470AD4-7, count: %s, drilled_out: %s}"
TWO = (
    "steps: [5.1, 5.4]\nfasteners:\n  - {rivet: AN470AD4-7, count: 20, edge: 0.15 in}\n"
    "  - {rivet: AN470AD4-7, count: 3}"
)
OWN = (
    "steps: [5.2]\ntorque:\n  - {bolt: AN4-10A, nut: self-locking, value: 62 in-lb, drag: 9 in-lb, step: '5.2', "
    "called_for: {value: 300 in-lb, page: 1-1, edition: 1}}\n  - {bolt: AN3-5A, value: 15 in-lb, drag: 5 in-lb, "
    "called_for: {nut: castle, page: 1-1}}"
)
ANYWHERE = (
    "step,what,part,value,page,edition\n,hole,AN470AD4-7,#30,1-1,1\n,edge,AN470AD4,0.25 in,1-1,1\n"
    "5.1,hole,AN470AD4-7,#27,5-1,1\n"
)
ODD = (
    "step,what,part,value,page,edition,answer\n5.1,hole,AN470AD4-7,large,1-1,1,\n5.1,threads,AN4-10A,some,1-1,1,\n"
    "5.1,edge,AN470AD4-7,0.01 in,1-1,1,\n5.1,edge,AN470AD4-7,0.01 in,1-1,1,meant so\n"
    "5.2,bolt,AN4-10A,9000 in-lb,1-1,1,\n"
    "5.2,bolt,AN4-10A,1 to 2 in-lb,1-1,1,\n5.2,bolt,AN4-10A,at most 1 in-lb,1-1,1,\n"
    "5.2,bolt,AN4-10A,at least 900 in-lb,1-1,1,\n"
    "5.1,shop head height,AN470AD4-7,2 in,1-1,1,\n5.1,edge,made of wood,9 in,1-1,1,\n"
)
MEASURED = (
    "---\ndate: 2026-02-08\nassembly: flaps\nsteps: [5.3]\nkind: leak test\nmeasured_by: ada\n"
    "results: [{what: Drop, value: 6 mm}]\n---\n"
)
LEAK = (
    "step,what,value,page\n5.3,leak test,at most 10 mm,5-33\n5.3,drop,at most 8 mm,5-33\n5.4,drop,5 mm,5-34\n"
    "5.3,gap,1 mm,5-3\n"
)
STOCK = (
    "step,what,part,value,page,edition\n5.3,sealant,tank sealant B,,5-31,1\n5.3,primer,lime primer,,5-30,1\n"
    "5.4,material,Alclad,,5-4,1\n5.4,sealant,tank sealant A,,,\n"
)
NUTS = "step,what,part,page\n5.2,nut,self-locking,5-1\n5.2,nut,AN310-5,5-1\n"
NUT = (
    "steps: [5.2]\ntorque:\n  - {bolt: AN4-10A, nut: %s, value: 62 in-lb, drag: 9 in-lb}\n"
    "  - {bolt: AN5-11, nut: %s, value: 120 in-lb}"
)
BUILDS: dict[str, tuple[str, str, dict[str, str]]] = {
    "to the letter": (LETTER, CALLOUTS, {}),
    **{f"{done} for {written}": (LETTER.replace(written, done, 1), CALLOUTS, {}) for written, done, _ in DEPARTURES},
    "only begun": (LETTER.replace("steps:", "begun:"), CALLOUTS, {}),
    "nothing written down": ("steps: [5.1, 5.2, 5.3]", CALLOUTS, {}),
    "two steps in one": (TWO, CALLOUTS, {}),
    "one step named": (TWO.replace("count: 3}", "count: 3, step: '5.1'}"), CALLOUTS, {}),
    "a count left out": (TWO.replace("count: 3}", "grip: 0.25 in}"), CALLOUTS, {}),
    "set anew": (TWO, CALLOUTS, {"entries/b/index.md": entry(AGAIN % (2, "a"))}),
    "set anew with a step of its own": (
        TWO,
        "step,what,part,value,page,edition\n5.1,edge,AN470AD4-7,0.2 in,1-1,1\n5.2,hole,AN470AD4-7,#30,1-1,1\n",
        {"entries/b/index.md": entry((AGAIN % (2, "a")).replace("}", ", edge: 0.2 in, hole: '#30', step: '5.2'}"))},
    ),
    "set anew by itself": (TWO, CALLOUTS, {"entries/b/index.md": entry(AGAIN % (2, "b"))}),
    "set anew before": (TWO, CALLOUTS, {"entries/b/index.md": entry((AGAIN % (2, "a")).replace("02-09", "02-01"))}),
    "called for by the line": (OWN, CALLOUTS, {}),
    "everywhere and here": (TWO, ANYWHERE, {}),
    "here of any part, and everywhere": (
        TWO,
        ANYWHERE
        + "5.1,edge,,0.15 in,5-1,1\n5.1,hole,AN470AD4-6,#30,5-1,1\n"
        + "5.1,rivet,AN470AD4-6,,5-1,1\n,rivet,AN470AD4-7,,1-1,1\n",
        {},
    ),
    "slips of the pen": (LETTER, ODD, {}),
    "measured": ("steps: [5.3]", LEAK, {"measurements/tank/index.md": MEASURED}),
    "not measured": ("steps: [5.3]", LEAK, {}),
    "materials": ("steps: [5.3]\nmaterials: [seal]", STOCK, {}),
    "another material": ("steps: [5.3, 5.4]\nmaterials: [other]", STOCK, {}),
    "a material of another kind": (
        "steps: [5.4]\nmaterials: [zinc]",
        STOCK,
        {"materials.csv": SEALANT + "zinc,Zinc primer,7,,\n"},
    ),
    "two materials": ("steps: [5.3]\nmaterials: [other, seal]", STOCK, {}),
    "nuts": (NUT % ("MS20365-428", "AN310-5"), NUTS, {}),
    "another nut": (NUT % ("AN315-4", "AN310-5"), NUTS, {}),
    "two other nuts": (NUT % ("AN315-4", "AN320-5"), NUTS, {}),
}


def test_every_word_of_call_outs(make_build: MakeBuild, pytestconfig: pytest.Config) -> None:
    """Each departure with place, word, message and hint, and how each row stands: held against callouts.golden.txt,
    which was gone over by hand; of rows that stand as in the first build nothing is told again.
    """
    told, usual = [], set[str]()
    for name, (text, rows, more) in BUILDS.items():
        files = {"build.yml": MANUAL, "steps.csv": STEPS, "callouts.csv": rows, "materials.csv": SEALANT, **more}
        root = make_build({**files, "entries/a/index.md": entry(text)})
        build, problems = read(root)
        assert not has_errors(problems), problems
        for file in more:
            (root / "content" / file).unlink()
        stand: dict[str, list[str]] = {}
        for one in trace_callouts(build, replay(build)):
            row, where = f"{one.called.where and one.called.where[0]}", " ".join((*one.entries, *one.measurements))
            stand.setdefault(f"{one.state} {where}".rstrip(), []).append(row)
        states_ = [f"{state}: {', '.join(rows)}" for state, rows in stand.items()]
        found = [
            f"{one.file[8:]}:{one.line}:{one.column} {one.word}: {one.message}; {one.hint}"
            for one in check_callouts(build, replay(build))
        ]
        anew = [f"{entry_} {part_of(line)} anew in {by}" for (entry_, line), by in replaced_by(build).items()]
        told += [f"# {name}", *found, *anew, *(one for one in states_ if one not in usual)]
        usual = usual or {*states_}
    whole = "\n".join(told).replace(BRIEF, "\u2026") + "\n"
    if pytestconfig.getoption("--rewrite-goldens"):
        GOLDEN.write_text(whole, "utf-8", newline="\n")
    assert whole == GOLDEN.read_text("utf-8")


def test_a_figure_within_what_sources_give_is_not_unusual() -> None:
    """Nor one of a part of which none speaks, at either end of a range; what only reaches over the end is none."""
    figures = ("29 in-lb", "30 in-lb", "100 in-lb", "101 in-lb", "90 to 200 in-lb", "10 to 30 in-lb", "6 mm")
    rows = [CallOut(what="bolt", part="AN4-10A", value=value, limit=parse_limit(value)) for value in figures]
    assert [unusual(called, "AN4-10A")[:8] for called in rows] == ["29 in-lb", "", "", "101 in-l", "", "", ""]
    assert unusual(rows[0], "a strap") == unusual(replace(rows[0], limit=None), "AN4-10A") == ""
