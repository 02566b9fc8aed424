"""Results of measurements against what the kit's manual calls for: at the precision written, and only with a page."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from building import build, entry

from journal.base.model import CallOut, MeasuredResult, Measurement
from journal.base.quantities import parse_limit
from journal.ledger.callouts import trace_callouts
from journal.ledger.progress import replay
from journal.trade.figures import Standing
from journal.trade.measured import measured_findings, measured_table

MET, DEPARTS, SHOWN = Standing.AS_CALLED_FOR, Standing.DEPARTS, Standing.SHOWN


def asks(value: str, what: str = "up", page: str = "7-38", edition: str = "C", steps: tuple[str, ...] = ()) -> CallOut:
    """A call-out for a result."""
    return CallOut(what=what, value=value, limit=parse_limit(value), page=page, edition=edition, steps=steps)


def measured(value: str, *called_for: CallOut, note: str = "") -> Measurement:
    """A travel of step 7.24 with one result."""
    return Measurement(
        id="travel",
        src_uri="content/measurements/travel/index.md",
        date=date(2026, 5, 1),
        title="Aileron travel",
        kind="Travel",
        people=("ada",),
        steps=("7.24",),
        results=(MeasuredResult(what="Up", value=value, called_for=called_for, note=note, where=(9, 5)),),
    )


@pytest.mark.parametrize(
    ("value", "called_for", "standing", "remark"),
    [
        ("26 °", asks("25 to 27 °"), MET, ""),
        ("27 °", asks("25 to 27 °"), MET, ""),
        ("27.4 °", asks("25 to 27 °"), DEPARTS, "27.4 ° is 0.4° over 25 to 27 ° (page 7-38, edition C)"),
        ("27 °", asks("at most 26.6 °"), MET, ""),  # written in whole degrees
        ("27.0 °", asks("at most 26.6 °"), DEPARTS, "27.0 ° is 0.4° over at most 26.6 ° (page 7-38, edition C)"),
        ("30 °", asks("25 to 27 °", page=""), SHOWN, "no page or edition, so it judges nothing"),
        ("30 °", asks("25 to 27 °", edition=""), SHOWN, "no page or edition, so it judges nothing"),
        ("3 in", asks("25 to 27 °"), SHOWN, "measured in another kind of unit, so it is not compared"),
        ("wide open", asks("25 to 27 °"), SHOWN, "this is no figure, so it is not compared"),
        ("No  bubble", asks("no bubble"), MET, ""),
        ("No bubbles in 24 h", asks("no bubble"), MET, ""),
        (
            "bubbles at rib 3",
            asks("no bubble"),
            DEPARTS,
            "bubbles at rib 3, where no bubble (page 7-38, edition C) is called for",
        ),
        ("tight", asks("no bubble"), SHOWN, ""),
        ("no bubble", asks("no bubble", page=""), SHOWN, ""),
    ],
)
def test_a_result_and_what_is_called_for(value: str, called_for: CallOut, standing: Standing, remark: str) -> None:
    """Figures at the precision they were written at, words by the same words; nothing without a page."""
    (figure,) = measured_table(measured(value, called_for), ()).figures
    assert figure.standing is standing
    assert figure.remark.startswith(remark) if remark else not figure.remark
    assert called_for.value in figure.called_for


def test_the_call_outs_of_the_steps_speak_where_the_result_says_nothing() -> None:
    """By its own word or by the kind; not those of other steps; what the result itself says comes first."""
    of_step, of_kind = asks("at most 27 °", steps=("7.24",)), asks("at most 20 °", "travel", steps=("7.24",))
    others = (asks("at most 1 °", "down", steps=("7.24",)), asks("at most 1 °", steps=("7.1",)), asks("at most 1 °"))
    for callouts, standing in (((of_step, *others), MET), ((of_kind, *others), DEPARTS), (others, SHOWN)):
        assert measured_table(measured("26 °"), callouts).figures[0].standing is standing
    assert measured_table(measured("26 °", asks("30 to 35 °")), (of_step,)).figures[0].standing is DEPARTS


def test_a_call_out_is_traced_to_the_measurement_that_answers_it() -> None:
    """Recorded, and how it stands; without one it is still to be recorded."""
    called, other = asks("at most 27 °", steps=("5.1",)), asks("at most 1 °", "down", steps=("5.1",))
    journal = build(entry("done", steps=("5.1",)), callouts=(called, other))
    told = replace(measured("26 °"), steps=("5.1",))
    for measurements, state, names in (((told,), "as called for", ("travel",)), ((), "not recorded", ())):
        whole = replace(journal, measurements=measurements)
        one, two = trace_callouts(whole, replay(whole))
        assert (one.state, one.measurements, one.entries, two.state) == (state, names, (), "not recorded")


def test_a_finding_stands_where_the_result_is_written() -> None:
    """With by how much, and the page; the note stands on the page of the measurement."""
    told = measured("28 °", asks("25 to 27 °"), note="taken twice")
    (problem,) = measured_findings(told, ())
    assert (problem.file, problem.line, problem.word) == (told.src_uri, 9, "not-as-called-for")
    assert problem.message.startswith("Aileron travel, Up: 28 ° is 1° over 25 to 27 ° (page 7-38, edition C)")
    assert list(measured_findings(measured("26 °", asks("25 to 27 °")), ())) == []
