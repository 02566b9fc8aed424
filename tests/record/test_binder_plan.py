"""What stands on the sheets of the binder, word by word and figure by figure, before it is set.

Held against binder.golden.txt beside this file, which was gone over by hand; `--rewrite-goldens` stores what is planned
now, to be read like code. Digests are left out of it: those of pictures change with the program that wrote them.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from small_build import open_small
from test_binder import MADE, MORE, pictures_of

from journal.record.binder import Binder, KeptPaper, plan_binder
from journal.record.chain import Chain, Kind, Seal
from journal.record.tables import archive_tables, tables_guide
from journal.record.timestamps import Answer, Stamp
from journal.view.view import Audience, open_view

GOLDEN = Path(__file__).parent / "binder.golden.txt"
SEALED = datetime(2026, 2, 20, 20, 0, 30, tzinfo=UTC)
FILES: dict[str, str | bytes] = {
    **MORE,
    "callouts.csv": "step,what,part,value\n5.1,rivet,AN470AD4-5,\n5.1,edge distance,AN470AD4-5,0.25 in\n",
    "tools.csv": "name,checked_on,check_every_months\ndeburring wheel,2025-01-20,12\n",
    "pages/about.md": "# About\n\nTwo **seats**, [ribs](../entries/2026-02-07-ribs/index.md).\n",
    "measurements/2026-02-12-gap/index.md": "---\ndate: 2026-02-12\nkind: gap\nassembly: flaps\nsteps: [5.2]\n"
    "measured_by: ada\nchecked_by: bo\ninstrument: feeler\nresults: [{what: gap, value: 2 mm, called_for: 1 to 3 mm}]\n"
    "---\n\nAt the hinge.\n",
    "entries/2026-03-02-bolts/index.md": "---\ntitle: Bolts\ndate: 2026-03-02\nassembly: wing\nsteps: [7.1]\n"
    "people: [ada]\nhours: '20:00-23:30'\nplace: home\ntorque:\n  - {bolt: AN4-5A, count: 2, value: 60 in-lb, "
    "drag: 10 in-lb, wrench: beam wrench}\n---\n\nTorqued.\n",
}


def planned(root: Path, audience: Audience = Audience.ARCHIVE) -> Binder:
    """A binder of a build in which much is told, sealed in part, with two time-stamps and a paper."""
    journal = open_small(root / "build", FILES)
    view = open_view(journal, audience)
    lines = [
        Seal(kind=Kind.ENTRY, id="2026-02-07-ribs", date=date(2026, 2, 7), text="", line=1, sealed_at=SEALED),
        Seal(
            kind=Kind.ENTRY,
            id="2026-02-07-ribs",
            date=date(2026, 2, 7),
            text="",
            line=2,
            sealed_at=SEALED + timedelta(days=9),
            amends=1,
            reason="a slip",
            sha256="ab" * 32,
        ),
    ]
    stamps = [
        Stamp(name="a.tsr", answer=Answer(faults=("its signature is wrong",)), line=1),
        Stamp(name="b.tsr", answer=Answer(signer="CN=desk", time=SEALED, unchecked=("this",)), line=2),
    ]
    paper = KeptPaper(path=root / "build/content/records/invoice.txt", bytes=11, sha256="cd" * 32)
    pictures = pictures_of(journal, view)
    more = {"chain": Chain(seals=tuple(lines)), "stamps": stamps, "papers": {"invoice.txt": paper}}
    return plan_binder(view, pictures, made_on=MADE, **more)  # type: ignore[arg-type]


def lines_of(value: object, at: str) -> Iterator[str]:
    """A value in lines: what is short in one, rows and columns each by itself."""
    said = repr(value)
    if len(said) > 300 and isinstance(value, dict | list | tuple):
        named = value.items() if isinstance(value, dict) else enumerate(value, start=1)
        for name, one in named:
            yield from lines_of(one, f"{at} {name}")
    else:
        yield f"{at}: {said}"


def test_every_word_and_figure_of_the_binder(tmp_path: Path, pytestconfig: pytest.Config) -> None:
    """Common words, the sheets before and after the entries, these, drawings and the files that it carries; of the
    parts that an inspector gets three stand for all.
    """
    made = planned(tmp_path)
    made.front["pack"] = made.front["pack"][2:4]
    made.front["gaps"]["parts"] = made.front["gaps"]["parts"][:1]
    told = [line for name in ("common", "front", "entries", "back") for line in lines_of(getattr(made, name), name)]
    drawings = [(name, made.drawings[name]) for name in ("frame.svg", "month-2026-03.svg")]
    told += [f"{name}: {one}" for name, text in drawings for one in text.replace("><", ">\n<").split("\n")]
    told += [f"{name}: {path.name}" for name, path in made.files.items()]
    whole = re.sub("[0-9a-f]{12,}", "\u2026", "\n".join(told)) + "\n"
    if pytestconfig.getoption("--rewrite-goldens"):
        GOLDEN.write_text(whole, "utf-8", newline="\n")
    assert whole == GOLDEN.read_text("utf-8")
    assert made.front["summary"]["seal"]["digest"] == "ab" * 32


def test_every_cell_of_the_tables(tmp_path: Path, pytestconfig: pytest.Config) -> None:
    """Of the same build, with what the guide says of each column: held against tables.golden.txt beside this file."""
    view = open_view(open_small(tmp_path / "build", FILES), Audience.ARCHIVE)
    told = [tables_guide()]
    told += [
        f"# {name}\n{data.decode()}".replace("\r\n", "\n") for name, data in archive_tables(view) if name[-3:] == "csv"
    ]
    whole = re.sub("[0-9a-f]{12,}(,[0-9]{4})?", "\u2026", "\n".join(told))
    golden = GOLDEN.with_name("tables.golden.txt")
    if pytestconfig.getoption("--rewrite-goldens"):
        golden.write_text(whole, "utf-8", newline="\n")
    assert whole == golden.read_text("utf-8")
