"""The trade on the site: what everybody sees, what the inspector alone sees, and the pages as they are placed."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from making import BUILD_YML, MakeBuild, build_site, entry

from journal.base.problems import has_errors
from journal.ledger.journal import Journal, open_journal
from journal.site.site_context import Extras, SiteContext
from journal.site.trade_pages import render_checks, trade_extras
from journal.trade.fasteners import rivet_table
from journal.trade.figures import CAUTION
from journal.trade.tally import add_up
from journal.view.inspector_parts import say_tally
from journal.view.page_parts import Link
from journal.view.view import Audience, open_view

TASKS = """\
section,task,name,maker,paid,assembly,fabrication,steps,note
Wings,1,Flap skeleton: make,3,0,2,5,5.1 to 5.3,invented list
Wings,2,Flap: close,0,10,0,0,5.4,invented list; paid for
Wings,3,Fabric covering,n/a,n/a,n/a,n/a,,invented list
"""
COSTS = "date,assembly,what,amount,currency,record\n2026-02-07,flaps,Rivets for the price of gold,4711.50,CHF,\n"
MATERIALS = "id,name,batch,expires,record\nb118,Tank sealant,B-SECRET-118,2027-02-01,\n"
TOOLS = "name,checked_on,check_every_months\nsmall wrench,2025-12-31,12\n"
INVENTORY = """\
crate,part,description,listed,found,condition,where,checked_on,by,claimed_on,promised_for,arrived_on,replacement_note
1,W-1007-L,"Rib, left",1,1,good,rack,2026-01-11,ada,,,,
3,AN470AD4-5,"Rivets, a bag",500,480,,bin,2026-01-11,ada,2026-01-12,2026-02-20,,CLAIM-SECRET
"""
RATES = "date,currency,to,rate,source\n2026-02-01,CHF,EUR,1.05,bank of SECRET\n"
ENTRY = entry(
    """
people: [ada, bo]
steps: [5.1]
methods: [Deburring]
materials: [b118]
fasteners:
  - {rivet: AN470AD4-5, grip: 0.125 in, count: 48, edge: 0.18 in}
torque:
  - {bolt: AN4-10A, nut: tension, value: 62 in-lb, drag: 8 in-lb, wrench: small wrench}
""",
    "Rib W-1007-L went in.",
)
PAID = entry("people: [pim]\nsteps: [5.4]\nprivate: true\ndate: 2026-02-08", "Done for money.")
SITE = """\
site_name: Tarn
site_url: https://example.org/
docs_dir: content
theme: {name: material, font: false}
plugins: [journal]
"""


@pytest.fixture
def journal(make_build: MakeBuild) -> Journal:
    """A build with one of everything that these pages tell."""
    root = make_build(
        {
            "build.yml": BUILD_YML.replace("places:", "  pim: {name: Pim Castellan, role: paid}\nplaces:"),
            "entries/a/index.md": ENTRY,
            "entries/b/index.md": PAID,
            "tasks.csv": TASKS,
            "costs.csv": COSTS,
            "materials.csv": MATERIALS,
            "tools.csv": TOOLS,
            "inventory.csv": INVENTORY,
            "rates.csv": RATES,
        }
    )
    (root / "mkdocs.yml").write_text(SITE, encoding="utf-8")
    opened = open_journal(root, date(2026, 3, 1))
    assert not has_errors(opened.problems)
    return opened


def extras_for(journal: Journal, audience: Audience) -> Extras:
    """What the trade adds to the site of one audience."""
    return trade_extras(SiteContext(open_view(journal, audience), {}))


def test_the_public_gets_tables_and_estimate_and_nothing_else(journal: Journal) -> None:
    """Neither tally nor people nor materials nor costs; not a name, batch or amount in any record or panel."""
    extras = extras_for(journal, Audience.PUBLIC)
    assert {page.address for page in extras.pages} == {
        "shop/",
        "shop/rivets/",
        "shop/rivet-lengths/",
        "shop/blind-rivets/",
        "shop/flush/",
        "shop/fractions/",
        "shop/drills/",
        "shop/torque/",
        "stands/",
    }
    told = repr(extras)
    for secret in ("4711", "SECRET", "Castellan", "Bergstrom", "Lindqvist", "31 December 2025", "for money"):
        assert secret not in told
    assert list(extras.panels) == ["entries/a/"]
    assert extras.files == ()


def test_the_inspector_gets_everything(journal: Journal) -> None:
    """Tally, people, materials and costs, each in the navigation and hidden from robots."""
    extras = extras_for(journal, Audience.ARCHIVE)
    private = {"tally/", "people/", "materials/", "costs/", "hardware/", "missing/"}
    assert private < {page.address for page in extras.pages}
    assert private < {link.address for link in extras.nav}
    assert all(page.hidden for page in extras.pages if page.address in private)
    told = repr(extras)
    for fact in ("4,711.50", "B-SECRET-118", "Pim Castellan", "Ada Bergstrom", "31 December 2025"):
        assert fact in told


def test_hardware_and_what_is_missing_with_a_letter_to_the_maker(journal: Journal) -> None:
    """Counts, the state of the claim, money beside hours, and the letter as the page and a file hold it."""
    extras = extras_for(journal, Audience.ARCHIVE)
    pages = {page.address: page for page in extras.pages}
    ((row, *_), *_) = (table.rows for table in pages["hardware/"].groups[0].tables)
    assert row == ("AN470AD4-5", "480", "48", "0", "432", "0", "0", "")
    ((missing,),) = (table.rows for table in pages["missing/"].groups[0].tables)
    assert missing == (
        "AN470AD4-5", "Rivets, a bag", "3", "listed 500, found 480, 20 short", "12 January 2026",
        "20 February 2026, which is over", "—", "CLAIM-SECRET",
    )  # fmt: skip
    ((address, letter),) = extras.files
    assert address == "missing/letter.txt"
    text = letter.decode()
    assert "- AN470AD4-5, Rivets, a bag (crate 3): listed 500, found 480, 20 short\n" in text
    assert "checked on 11 January 2026, claimed on 12 January 2026, promised for 20 February 2026" in text
    assert text.endswith("Ada Bergstrom, Bo Lindqvist\n")
    costs = repr(pages["costs/"])
    assert "4,947.08 EUR, converted by the rate of 1 February 2026: 1.05 (bank of SECRET)" in costs


def test_a_sheet_carries_its_checks_parts_and_caution(journal: Journal) -> None:
    """The finding is told with its sign and word, sources are spelt out, the part leads to the inventory."""
    checks, parts = extras_for(journal, Audience.PUBLIC).panels["entries/a/"]
    assert "beyond every source" in checks.html
    assert "1.5&nbsp;D" in checks.html or "1.5\xa0D" in checks.html
    assert "TM 10-5410-229-13&amp;P" in checks.html
    assert str(CAUTION).replace("'", "&#39;") in checks.html
    (table,) = parts.tables
    assert [cell.address for row in table.rows for cell in row if isinstance(cell, Link)] == ["inventory/"]


def test_what_a_builder_writes_is_text_in_the_checks(journal: Journal) -> None:
    """A part number with markup in it stays words."""
    fasteners = journal.build.entries[0].fasteners
    html = render_checks([rivet_table(replace(fasteners[0], rivet="<script>alert(1)</script>"))], unfolded=True)
    assert "<script>" not in html
    assert "&lt;script&gt;" in html


def test_the_arithmetic_of_the_tally_in_words(journal: Journal) -> None:
    """Seven of twenty tenths: the sentences show sum, share, what is shown of it, what one more paid task does, and no
    verdict.
    """
    tasks = open_view(journal, Audience.ARCHIVE).tasks
    said = " ".join(say_tally(add_up(behind.line for behind in tasks)))
    assert "2 tasks of ten tenths each make 20 tenths; 1 line marked n/a" in said
    assert "7 of 20 = 7/20 = 35.0 %" in said
    assert "Shown: " in said
    assert "half" not in said
    assert "passed" not in said.casefold()


def test_the_pages_are_placed(journal: Journal, tmp_path: Path) -> None:
    """Templates place what the records hold: no page is empty, every link leads to a page, cautions are there."""
    site = build_site(journal, out=tmp_path / "site", audience=Audience.ARCHIVE, offline=True)
    for address in ("shop", "shop/rivets", "shop/flush", "stands", "tally", "people", "materials", "costs", "missing"):
        page = site / address / "index.html"
        html = page.read_text(encoding="utf-8")
        assert "<h1" in html
        assert "licensed inspector" in html
        for link in re.findall(r'(?:href|src)="([^"#]+)', html):
            if not re.match(r"[a-z]+:", link) and "source/" not in link:
                assert (page.parent / link).resolve().is_file(), f"{address}: {link}"
    tally = (site / "tally" / "index.html").read_text(encoding="utf-8")
    assert "7/20 = 35.0 %" in tally
    assert "CFR" not in tally
    assert "The authority decides" in tally
    assert "Pim Castellan" in tally
    entry_html = (site / "entries" / "a" / "index.html").read_text(encoding="utf-8")
    assert "Compared with the manual, handbooks beside" in entry_html
    assert "Parts named in this entry" in entry_html
