"""Measurements, weighings, bulletins and second signatures: what people write, and what is said where it is amiss."""

from __future__ import annotations

from fractions import Fraction

import pytest
from making import MakeBuild, entry, read, words

from journal.base.model import BulletinState, Measurement
from journal.trade.weighing import empty_balance

HEAD = "date: 2026-05-20\nmeasured_by: ada\n"
SCALES = "datum: the firewall\nscales: [{at: left, weight: 402 lb, arm: 22 in}]\n"


@pytest.fixture
def measured(make_build: MakeBuild):
    """The measurement that a front matter makes, and the code words of what is wrong with it."""

    def made(matter: str, **files: str) -> tuple[Measurement | None, list[str]]:
        more = {name.replace("__", "."): text for name, text in files.items()}
        build, problems = read(make_build({"measurements/m/index.md": f"---\n{matter}---\nWords.\n", **more}))
        return next(iter(build.measurements), None), words(problems)

    return made


def test_who_with_what_and_what_is_called_for(measured) -> None:
    """Names, lists and forms as in entries; what is called for is a text, or a mapping with its page."""
    told, wrong = measured(
        "date: 20.5.2026\nsteps: 5.1 to 5.2\nkind: travel\nmeasured_by: Ada and bo\nchecked_by: [insp]\n"
        "instrument: digital level\nresults:\n"
        "  - {what: up, value: 26 °, called_for: {value: 25 to 27 °, page: 7-38, edition: C}}\n"
        "  - {what: down, value: 12.2 degrees, called_for: 12 °, note: by eye}\n"
    )
    assert wrong == []
    assert (told.people, told.checked_by, told.steps, told.kind) == (("ada", "bo"), ("insp",), ("5.1", "5.2"), "travel")
    up, down = told.results
    assert [(one.value, one.page, one.edition, one.judges) for one in (*up.called_for, *down.called_for)] == [
        ("25 to 27 °", "7-38", "C", True),
        ("12 °", "", "", False),
    ]
    assert (down.value, down.note) == ("12.2 degrees", "by eye")


def test_a_weighing_in_pounds_kilograms_inches_and_millimetres(measured) -> None:
    """The published exercise of atplquestions.com (mass and balance): 42,054 kg at 680.3 in; here in both units."""
    told, wrong = measured(
        HEAD + "datum: nose\nscales:\n  - {at: nose, weight: 6488 kg, arm: 161 in}\n"
        "  - {at: left, weight: 17783 kg, arm: 775 in}\n  - {at: right, weight: 17783 kg, arm: 19685 mm}\n"
    )
    assert wrong == []
    assert (told.kind, told.assembly, told.steps) == ("weighing", None, ())
    sums = empty_balance(told.weighing)
    assert sums.weight * Fraction("0.45359237") == 42054
    assert round(sums.arm, 1) == Fraction("680.3")


@pytest.mark.parametrize(
    ("matter", "word"),
    [
        ("date: 2026-05-20\nresults: [{what: up, value: 1 in}]\n", "key-missing"),  # nobody measured
        (HEAD, "key-missing"),  # no result
        (HEAD + "results: [{what: up}]\n", "key-missing"),
        (HEAD + "scales: [{at: left, weight: 402 lb, arm: 22 in}]\n", "key-missing"),  # no datum
        (HEAD + "datum: nose\n", "key-missing"),  # no scales
        (HEAD + SCALES.replace("402 lb", "402"), "bad-weight"),
        (HEAD + SCALES.replace("22 in", "22"), "bad-arm"),
        (HEAD + SCALES + "limits: [{forward: 22 in, aft: 8 in}]\n", "limits-crossed"),
        (
            HEAD + SCALES + "limits: [{weight: 1 lb, forward: 1 in, aft: 2 in}, {forward: 1 in, aft: 2 in}]\n",
            "key-missing",
        ),
        (HEAD + SCALES + "max_weight: heavy\n", "bad-weight"),
        (HEAD + SCALES + "cases: [{add: [{what: pilot, weight: 80 kg, arm: 16 in}]}]\n", "key-missing"),
        (HEAD + "results: [{what: up, value: 1 in}]\nchecked_by: nobody known\n", "unknown-person"),
        (HEAD + "results: [{what: up, value: 1 in}]\ninstrumnt: level\n", "unknown-key"),
    ],
)
def test_what_is_amiss_is_told_and_the_measurement_not_used(measured, matter: str, word: str) -> None:
    """Each with its code word; a figure without a unit is no figure here."""
    told, wrong = measured(matter)
    assert told is None
    assert set(wrong) == {word}


def test_arms_forward_of_the_datum(measured) -> None:
    """A minus in either form, and nought."""
    told, _ = measured(HEAD + SCALES.replace("arm: 22 in", "arm: -49 in, tare: 2 lb") + "max_weight: 2100 lb\n")
    assert (told.weighing.scales[0].arm, told.weighing.max_weight) == (-49, 2100)
    for text, arm in (("\N{MINUS SIGN}3.5 in", Fraction("-3.5")), ("0 mm", 0), ("+25.4 mm", 1)):
        assert measured(HEAD + SCALES.replace("22 in", text))[0].weighing.scales[0].arm == arm


def test_a_measurement_in_a_file_of_its_own_and_a_film_beside_one(make_build: MakeBuild) -> None:
    """The same forms as entries and inspections have."""
    told = f"---\n{HEAD}results: [{{what: up, value: 1 in}}]\n---\n"
    root = make_build(
        {"measurements/2026/travel.md": told, "measurements/x/index.md": told, "measurements/x/a.mov": ""}
    )
    build, problems = read(root)
    assert [one.id for one in build.measurements] == ["travel", "x"]
    assert words(problems) == ["unknown-file"]
    (root / "content/measurements/note.txt").write_text("x")
    assert "for each measurement is expected" in " ".join(problem.message for problem in read(root)[1])


def test_inspections_and_corrections_are_signed_by_several(make_build: MakeBuild) -> None:
    """`inspector` may name several; a finding who put it right and who looked at that."""
    look = (
        "---\ndate: 2026-03-14\nassembly: flaps\ninspector: {}\noutcome: passed\n"
        "findings:\n"
        "  - {{text: a burr, closed_on: 2026-03-15, closed_by: a, signed_by: ada, checked_by: [bo, insp]}}\n---\n"
    )
    files = {"entries/a/index.md": entry("assembly: flaps")}
    for name, inspector in (("x", "insp"), ("y", "[insp, hanne]"), ("z", "Ines Petrov and hanne")):
        files[f"inspections/{name}/index.md"] = look.format(inspector)
    build, problems = read(make_build(files))
    assert words(problems) == []
    assert [one.people for one in build.inspections] == [("insp",), ("insp", "hanne"), ("insp", "hanne")]
    (found,) = build.inspections[0].findings
    assert (found.signed_by, found.checked_by) == (("ada",), ("bo", "insp"))


def test_bulletins(make_build: MakeBuild) -> None:
    """What each concerns, what became of it; no state is open, nothing concerned the whole aircraft."""
    root = make_build(
        {
            "entries/a/index.md": entry("assembly: flaps"),
            "bulletins.csv": "id,date,title,concerns,state,done_in,record,note\n"
            "SB-1,2026-01-05,Horns,flaps,Done,a,,\nSB-2,,Spar,5.1 to 5.3,n/a,,,other serials\nSB-3,,Placard,,,,,\n",
        }
    )
    build, problems = read(root)
    assert words(problems) == []
    assert [(one.assembly, one.steps, one.state, one.done_in) for one in build.bulletins] == [
        ("flaps", (), BulletinState.DONE, ("a",)),
        (None, ("5.1", "5.2", "5.3"), BulletinState.NOT_APPLICABLE, ()),
        (None, (), BulletinState.OPEN, ()),
    ]
    (root / "content/bulletins.csv").write_text(
        "id,date,title,concerns,state,done_in,record,note\nSB-1,,x,flapz,dunno,b,kit.txt,\nSB-1,,x,,,,,\n"
    )
    assert words(read(root)[1]) == [
        *("unknown-assembly", "bad-state", "unknown-entry", "unknown-record", "bulletin-twice"),
    ]
