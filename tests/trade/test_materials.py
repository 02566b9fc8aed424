"""Shelf life on the day of use, and batches traced to entries and papers and back."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from building import DAY, build, entry, found_in

from journal.base.model import Material, Record
from journal.ledger.materials import check_shelf_lives, material_table, trace_materials
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


@pytest.mark.parametrize(
    ("days", "used_up", "told"),
    [
        (-1, False, ""),
        (0, False, "today"),
        (1, False, "in 1 day"),
        (60, False, "in 60 days"),
        (61, False, ""),
        (9, True, ""),
    ],
)
def test_a_shelf_life_is_told_sixty_days_ahead(days: int, used_up: bool, told: str) -> None:
    """From 60 days before the printed day to the day itself, for batches that are not used up."""
    sealant = replace(SEALANT, used_up=used_up, where=(3, 1))
    problems = list(check_shelf_lives(build(materials={"b118": sealant}), DAY - timedelta(days=days)))
    assert [(one.word, one.file, one.line) for one in problems] == [
        ("material-expiring", "content/materials.csv", 3)
    ] * bool(told)
    assert all(one.message == f"Tank sealant, batch B118 expires on 7 February 2026, {told}" for one in problems)
    assert not list(check_shelf_lives(build(materials={"lime": PRIMER}), DAY))
