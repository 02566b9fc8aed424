"""Every word of the small tables: sets and settings on, below and above each limit, held against texts beside this.

The figures in the text were gone over by hand against AC 43.13-1B p. 4-16 and Table 7-1, NAVEDTRA 14018 and the
least heads of MIL-R-47196A as journal/trade/data gives them. `--rewrite-goldens` stores what is said now; read the
difference like code.
"""

from __future__ import annotations

from datetime import date
from fractions import Fraction
from pathlib import Path

import pytest
from building import in_lb, inches

from journal.base.model import CalibratedTool, FastenerSet, Material, Record, TorqueSetting
from journal.ledger.materials import material_table
from journal.trade.fasteners import rivet_table
from journal.trade.figures import Figure, TradeTable, findings_of
from journal.trade.torque import torque_table

F = Fraction
HERE = Path(__file__).parent
HAIR = F(1, 10**9)
USED = date(2026, 3, 7)


def rivets(rivet: str, **how: Fraction | int) -> TradeTable:
    """The table of a recorded set."""
    told = {name: figure if name == "count" else inches(figure) for name, figure in how.items()}
    return rivet_table(FastenerSet(rivet=rivet, **told))  # type: ignore[arg-type]


RIVETS = [
    # Nothing recorded but the number, of every size that has a table.
    *(rivets(f"AN470AD{dash}-5") for dash in (2, 3, 4, 5, 6, 8)),
    # A grip that asks for exactly -5 (1/8 + 3/16): every length around it.
    *(rivets(f"MS20470AD4-{length}", grip=F(1, 8), count=1) for length in ("2", "3", "4", "4.5", "5", "5.5", "6")),
    *(rivets(f"AN426AD4-{length}", grip=F(1, 8), count=1200) for length in ("4", "4.5", "5")),
    # Half a sixteenth too long, and seven sixths of D left, to the hair.
    *(rivets("AN470AD4-5", grip=F(1, 8) - F(1, 32) - off) for off in (F(0), HAIR)),
    *(rivets("AN470AD4-5", grip=F(5, 16) - F(7, 48) + off) for off in (F(0), HAIR)),
    rivets("AN470AD4-2", grip=F(1, 8) + HAIR),
    # Edges: 1.5 D is the floor, protruding and flush.
    *(rivets("AN470AD4-5", edge=edge) for edge in (F(1, 4), F(1, 4) - HAIR, F(3, 16), F(3, 16) - HAIR)),
    *(rivets("AN426AD3-3.5", edge=edge) for edge in (F(15, 64), F(9, 64), F(9, 64) - F(1, 100))),
    # Heads of a size with limits of its own, and of one without.
    *(rivets("AN470AD4-5", shop_head_width=width) for width in (F("0.1625"), F("0.1625") - HAIR, F("0.1875"))),
    *(rivets("AN470AD5-5", shop_head_width=width) for width in (F("0.203125") - HAIR, F("0.203125"), F("0.234375"))),
    *(
        rivets("AN470AD3-5", shop_head_height=height)
        for height in (F("0.037"), F("0.038"), F("0.045"), F("0.050"), F("0.050") + HAIR, F("0.06"))
    ),
    rivets("AN470AD5-5", shop_head_height=F("0.01")),
    # All of it at once, in millimetres as read.
    rivets("AN470DD6-10", grip=10 / F("25.4"), count=2, shop_head_width=7 / F("25.4"), edge=10 / F("25.4")),
    # What no table speaks of.
    *(
        rivets(part, count=3)
        for part in (
            *("LP4-2", "MS20604B4W3", "MS24693-S52", "AN442AD3-5"),
            *("AN470 4-5", "AN470XY4-5", "AN470AD7-5", "AN470AD4"),
        )
    ),
]

WRENCHES = (
    CalibratedTool(name="Beam wrench", checked_on=date(2025, 3, 7), check_every_months=None),
    CalibratedTool(name="Late wrench", checked_on=date(2024, 12, 6), check_every_months=15),
    CalibratedTool(name="Late wrench", checked_on=date(2023, 1, 31), check_every_months=1),
    CalibratedTool(name="Late wrench", checked_on=None, check_every_months=1),
    CalibratedTool(name="New wrench", checked_on=date(2026, 3, 8), check_every_months=12),
    CalibratedTool(name="Old wrench", checked_on=None, check_every_months=12),
)


def bolt(
    bolt: str, value: Fraction | float, drag: float | None = None, nut: str = "tension", wrench: str = ""
) -> TorqueSetting:
    """A recorded setting."""
    drawn = None if drag is None else in_lb(drag)
    return TorqueSetting(bolt=bolt, nut=nut, value=in_lb(value), drag=drawn, wrench=wrench)


TORQUES = [
    torque_table(setting, USED, WRENCHES)
    for setting in (
        # 1/4-28: 50 to 70, at most 100 in tension; 30 to 40, at most 60 in shear.
        *(
            bolt("AN4-10A", value)
            for value in (49, F(50) - HAIR, 50, 60, 70, F(70) + HAIR, 71, 100, F(100) + HAIR, 112)
        ),
        *(bolt("AN4-10A", value, nut="shear") for value in (29, 30, 40, 41, 60, 61)),
        *(
            bolt("1/4-28", value, drag)
            for value, drag in ((50, 0), (57, 8), (58, 8), (78, 8), (79, 8), (108, 8), (109, 8))
        ),
        # Where publications differ: 3/8-16 and 5/8-18 in shear.
        *(bolt("3/8-16", value, nut="shear") for value in (90, 95, 100, 110, 115)),
        *(bolt("5/8-18", value, 10, "shear") for value in (669, 670, 700, 790, 800)),
        bolt("5/8-18", 1100),
        # Nuts by words and by part, with and without the drag that they need.
        *(
            bolt("AN4-10A", 62, drag, nut)
            for nut in ("castle", "self-locking", "MS20364-428", "")
            for drag in (None, 2, 80)
        ),
        # Rows with a note or a figure estimated in print, corrosion-resistant steel, other spellings.
        bolt("AN4C10A", 60),
        bolt("AN3H-5A", 22, 1),
        bolt("AN4", 60.5, 7.5),
        bolt("AN4", 60.25, 7.25),
        bolt("#10-32", 22),
        bolt("8-36", 13),
        bolt("AN20-40", 5000),
        bolt("1-1/8-12", 5000, nut="shear"),
        # What cannot be read.
        *(bolt(part, F(1000, 3)) for part in ("AN365-1032A", "AN42B-5", "AN19-5", "1/4-27", "AN4DD-10A", "")),
        # Wrenches: in date to its last day, a day late, checked later, undated, unknown; any spelling.
        *(bolt("AN4", 60, wrench=name) for name in ("beam  WRENCH", "Late wrench", "New wrench", "Old wrench", "Mine")),
        bolt("AN42B-5", 60, wrench="Mine"),
    )
] + [torque_table(bolt("AN4", 60, wrench="Mine"), USED, None), torque_table(bolt("AN4", 60), USED, ())]

PAPERS = (Record(file="b118.pdf", date=None, kind="", title=""),)
MATERIALS = [
    material_table(Material(id="s", name="Tank sealant", batch=batch, expires=expires, record=record), USED, papers)
    for batch, expires, record, papers in (
        ("B118", USED, "b118.pdf", PAPERS),
        ("", date(2026, 3, 6), "", PAPERS),
        ("B119", date(2026, 1, 31), "other.pdf", PAPERS),
        ("B119", None, "other.pdf", ()),
        ("B119", date(2026, 3, 8), "b118.pdf", None),
    )
]


def row(figure: Figure) -> str:
    """A figure, one field a line; what is empty is left out."""
    said = {
        "is": figure.recorded,
        "called for": figure.called_for,
        "table": figure.table,
        "source": figure.source,
        "standing": figure.standing.value,
        "remark": figure.remark,
        "word": figure.word,
        "hint": figure.hint,
        "limit": figure.limit_source,
    }
    return "\n".join([f"  {figure.what}", *(f"    {name}: {text}" for name, text in said.items() if text)])


def told(kind: str, tables: list[TradeTable]) -> str:
    """All tables of a kind as text, each with its findings; a figure told before is named by its number."""
    numbers: dict[str, int] = {}
    texts = []
    for table in tables:
        lines = [f"{kind}: {table.title} ({table.lead})"]
        for figure in table.figures:
            text = row(figure)
            known = numbers.setdefault(text, len(numbers) + 1)
            lines.append(f"  = {known}" if known < len(numbers) else f"{text}\n    = {known}")
        problems = findings_of(table, "x.md", (7, 5))
        assert all((one.file, one.line, one.column) == ("x.md", 7, 5) for one in problems)
        lines += [f"  ! {one.word}: {one.message} | {one.hint}" for one in problems]
        texts.append("\n".join(lines))
    return "\n\n".join(texts) + "\n"


@pytest.mark.parametrize(
    ("name", "kind", "tables"),
    [("rivets", "rivets", RIVETS), ("torques", "torque", TORQUES), ("materials", "material", MATERIALS)],
)
def test_every_word_of_the_tables(name: str, kind: str, tables: list[TradeTable], pytestconfig: pytest.Config) -> None:
    """Title, figures, standings, remarks, hints, sources and findings, as they were gone over."""
    golden = HERE / f"{name}.golden.txt"
    if pytestconfig.getoption("--rewrite-goldens"):
        golden.write_text(told(kind, tables), "utf-8", newline="\n")
    assert told(kind, tables) == golden.read_text("utf-8")


def test_metric_units_come_first_where_the_builder_has_them_so() -> None:
    """In the lead and in each cell that tells a figure in both; what has one unit stays."""
    told = Figure(what="grip", recorded="0.125 in (3.18 mm)", called_for="0.5 in (12.7 mm)", remark="a word")
    turned = TradeTable(title="x", lead="0.125 in (3.18 mm)", figures=(told,)).metric_first
    assert (turned.lead, turned.title) == ("3.18 mm (0.125 in)", "x")
    (figure,) = turned.figures
    assert (figure.recorded, figure.called_for) == ("3.18 mm (0.125 in)", "12.7 mm (0.5 in)")
    assert (figure.what, figure.remark) == ("grip", "a word")
