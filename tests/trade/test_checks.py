"""All findings of a whole build folder, as written by a builder and as read back."""

from __future__ import annotations

import re

from building import found_in
from making import MakeBuild, entry, read, words

from journal.ledger.checks import compared_tables

WRENCHES = "name,checked_on,check_every_months\nsmall wrench,2025-01-31,12\n"
RIVETS_AND_BOLTS = ["AN470AD4-5", "AN470AD4-4", "LP4-3", "AN4-10A", "AN3-5A", "AN4-10A", "AN365-428"]
MATERIALS = "id,name,batch,expires,record\nb118,Tank sealant,B118,2026-02-01,\n"

PLANTED = entry(
    """
fasteners:
  - {rivet: AN470AD4-5, grip: 0.125 in, count: 48, shop_head: 0.19 in x 0.06 in, edge: 0.28 in}
  - {rivet: AN470AD4-4, grip: 3.2 mm, edge: 0.18 in, shop_head: 4.0 x 1.6 mm}
  - {rivet: LP4-3, count: 4}
torque:
  - {bolt: AN4-10A, nut: tension, value: 62 in-lb, drag: 8 in-lb, wrench: small wrench}
  - {bolt: AN3-5A, nut: shear, value: 5 ft-lb, wrench: Small Wrench}
  - {bolt: AN4-10A, nut: tension, value: 5 N m, wrench: borrowed}
  - {bolt: AN365-428, nut: tension, value: 62 in-lb}
materials: [b118]
"""
)


def test_every_planted_mistake_is_found_where_it_stands(make_build: MakeBuild) -> None:
    """Right sets stay silent; each wrong figure is one finding at its line; a wrench is told of once."""
    root = make_build({"entries/a/index.md": PLANTED, "tools.csv": WRENCHES, "materials.csv": MATERIALS})
    built, problems = read(root)
    assert words(problems) == []
    found = found_in(built)
    assert [(problem.line, problem.word) for problem in found] == [
        (4, "edge-distance"),
        (4, "rivet-length"),
        (4, "shop-head"),
        (7, "wrench-overdue"),
        (8, "torque-over-maximum"),
        (9, "torque-low"),
        (9, "wrench-unlisted"),
        (11, "material-expired"),
    ]
    assert {problem.file for problem in found} == {"content/entries/a/index.md"}
    assert all(problem.grade.value == "finding" for problem in found)


def test_the_tables_of_an_entry_are_in_the_order_written(make_build: MakeBuild) -> None:
    """Rivets, bolts, materials; for anybody else neither calibration nor materials."""
    root = make_build({"entries/a/index.md": PLANTED, "tools.csv": WRENCHES, "materials.csv": MATERIALS})
    built, _ = read(root)
    (written,) = built.entries
    tables = compared_tables(written, built, everything=True)
    assert [re.split("[, ]", table.title)[0] for table in tables] == [*RIVETS_AND_BOLTS, "Tank"]
    assert "torque wrench" in [figure.what for table in tables for figure in table.figures]
    public = compared_tables(written, built, everything=False)
    assert [re.split("[, ]", table.title)[0] for table in public] == RIVETS_AND_BOLTS
    assert not {"torque wrench", "paper", "shelf life"} & {figure.what for table in public for figure in table.figures}


def test_drafts_are_not_checked(make_build: MakeBuild) -> None:
    """What does not count yet is not found fault with."""
    root = make_build({"entries/a/index.md": entry("draft: true\nfasteners:\n  - {rivet: LP4-3}")})
    built, _ = read(root)
    assert found_in(built) == ()


def test_a_build_without_figures_has_nothing_to_check(make_build: MakeBuild) -> None:
    """No rivets, no bolts, no tasks: no findings."""
    built, _ = read(make_build({"entries/a/index.md": entry("")}))
    assert found_in(built) == ()


def test_a_tool_past_its_check_is_told_wherever_it_is_used(make_build: MakeBuild) -> None:
    """Not only wrenches: a scale named under `tools` after its check ran out is a finding; a newer check clears it."""
    rows = "name,checked_on,check_every_months\nBench  scale,2025-01-15,12\nlevel,2026-01-01,12\n"
    files = {"tools.csv": rows, "entries/a/index.md": entry("tools: [bench scale, level, file]")}
    told = found_in(read(make_build(files))[0])
    assert [(p.word, p.line) for p in told] == [("tool-overdue", 2)]
    assert "15 January 2026, 23 days before this use" in told[0].message
    files["tools.csv"] += "bench scale,2026-02-01,12\n"
    assert found_in(read(make_build(files))[0]) == ()
