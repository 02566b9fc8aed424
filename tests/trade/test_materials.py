"""Shelf life on the day of use, and batches traced to entries and papers and back."""

from __future__ import annotations

from datetime import date

import pytest
from building import DAY, build, entry, found_in

from journal.base.model import Material, Record
from journal.ledger.materials import material_table, trace_materials
from journal.trade.figures import Standing

SEALANT = Material(id="b118", name="Tank sealant", batch="B118", expires=DAY, record="sealant.pdf")
PRIMER = Material(id="lime", name="Primer", batch="", expires=None)
PAPER = Record(file="sealant.pdf", date=DAY, kind="certificate", title="Sealant B118")


@pytest.mark.parametrize(("day", "found"), [(0, []), (-1, []), (1, ["material-expired"])])
def test_the_printed_day_is_the_last_good_one(day: int, found: list[str]) -> None:
    """Used on the day of expiry is in date, the day after is not (common practice, no source)."""
    journal = build(
        entry("seal", day=day, materials=("b118",), where={"materials": (9, 1)}), materials={"b118": SEALANT}
    )
    problems = found_in(journal)
    assert [problem.word for problem in problems] == found
    for problem in problems:
        assert (problem.file, problem.line) == ("content/entries/seal/index.md", 9)
        assert "1 day after it expired on 7 February 2026" in problem.message


def test_no_expiry_is_shown_and_not_judged() -> None:
    """Nothing recorded, nothing to compare with."""
    row = material_table(PRIMER, DAY).figures[0]
    assert row.standing is Standing.SHOWN
    assert "not given" in row.table
    assert material_table(PRIMER, DAY).lead == "batch not recorded"


def test_a_batch_is_traced_to_its_entries_and_its_paper() -> None:
    """From materials.csv to entries and record."""
    journal = build(
        entry("one", materials=("b118", "b118")),
        entry("two", day=1, materials=("b118", "lime")),
        materials={"b118": SEALANT, "lime": PRIMER},
        records=(PAPER,),
    )
    sealant, primer = trace_materials(journal)
    assert [e.id for e in sealant.entries] == ["one", "two"]
    assert [e.id for e in sealant.late] == ["two"]
    assert sealant.record == PAPER
    assert [e.id for e in primer.entries] == ["two"]
    assert primer.record is None


def test_papers_are_left_out_where_they_may_not_be_shown() -> None:
    """Without records.csv no row tells of a paper; a paper that is not in it is noted."""
    assert [row.what for row in material_table(SEALANT, DAY).figures] == ["shelf life"]
    assert material_table(SEALANT, date(2026, 1, 1), (PAPER,)).figures[1].standing is Standing.SHOWN
    assert material_table(SEALANT, date(2026, 1, 1), ()).figures[1].standing is Standing.NOTE
