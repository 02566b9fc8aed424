"""The rules chosen in build.yml: whose they are, their sources, and that no law is told without them.

What each country says is held against the reference texts that it was written from (section 8 of the notes on
inspections; FAA AC 20-27G in quotation, 14 CFR 21.191(g) and 65.104, Airworthiness Manual ch. 549 as far as read).
"""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest
from making import BUILD_YML, MakeBuild, build_site, entry, read, words

from journal.base.model import ClosingInspections
from journal.ledger.journal import open_journal
from journal.reading.plan import COUNTRIES
from journal.view.view import Audience, open_view

LAW = re.compile(r"\bCFR\b|\bAC 2\d|\b8130|repairman|21\.191|65\.104|51 %|major portion|2011 forms")
SITE = "site_name: Tarn\ndocs_dir: content\ntheme: {name: material, font: false}\nplugins: [journal]\n"
OWN = """\
country: Ostrindel
share: {says: greater part, source: handbook of the club}
closing_inspections: {says: required, source: handbook of the club}
papers:
  - {says: Letter to the club, source: handbook of the club, kind: letter}
  - says: A paper from hearsay
"""


def chosen(line: str) -> str:
    """build.yml with one more line."""
    return BUILD_YML.replace("places:", f"{line}\nplaces:", 1)


@pytest.mark.parametrize("country", COUNTRIES)
def test_every_country_is_read_without_a_slip(make_build: MakeBuild, country: str) -> None:
    """Every statement that comes with the journal has its source, and nothing is told where nothing was read."""
    build, problems = read(make_build({"build.yml": chosen(f"rules: {country.upper()}")}))
    assert problems == ()
    assert build.rules.country
    lines = [line for said in build.rules.lines.values() for line in said]
    assert lines
    assert all(re.fullmatch(r".+\. Source: .+\.", line) for line in lines)


@pytest.mark.parametrize(
    ("country", "share", "closing", "headings"),
    [
        ("us", "major portion", "recommended", "tally people inspections signatures papers"),
        ("ca", "major portion", "required", "tally inspections signatures papers"),
        ("uk", "", "required", "inspections signatures"),
        ("au", "major portion", "", "tally"),
        ("eu", "", "", "tally inspections"),
    ],
)
def test_what_a_country_does_not_know_is_not_told(
    make_build: MakeBuild, country: str, share: str, closing: str, headings: str
) -> None:
    """Canada requires looks before closing, the United Kingdom by secondary sources; of the others none was read."""
    build, _ = read(make_build({"build.yml": chosen(f"rules: {country}")}))
    rules = build.rules
    assert (rules.share.says if rules.share else "") == share
    assert (rules.closing.says if rules.closing else "") == closing
    assert build.closing_inspections is ClosingInspections(closing or "recommended")
    assert " ".join(rules.lines) == headings


def test_rules_of_ones_own(make_build: MakeBuild) -> None:
    """A file in content/ with the same keys; a statement without a source is a finding, and is not listed."""
    build, problems = read(make_build({"build.yml": chosen("rules: rules.yml"), "rules.yml": OWN}))
    assert [(p.file, p.line, p.word) for p in problems] == [("content/rules.yml", 6, "no-source")]
    assert build.closing_inspections is ClosingInspections.REQUIRED
    assert build.rules.lines == {
        "tally": ("The share is called greater part. Source: handbook of the club.",),
        "inspections": ("Inspections before closing: required. Source: handbook of the club.",),
        "papers": ("Letter to the club. Source: handbook of the club.",),
    }
    assert [paper.kind for paper in build.rules.papers] == ["letter"]


def test_what_build_yml_says_of_closing_wins(make_build: MakeBuild) -> None:
    """The builder's own word stands above that of the rules."""
    build, _ = read(make_build({"build.yml": chosen("rules: ca\nclosing_inspections: none")}))
    assert build.closing_inspections is ClosingInspections.NONE


def test_slips_in_rules_of_ones_own(make_build: MakeBuild) -> None:
    """Each at its line; a file that nobody names is told as one that nothing reads."""
    bad = OWN.replace("required", "sometimes") + "paper: []\n"
    _, problems = read(make_build({"build.yml": chosen("rules: rules.yml"), "rules.yml": bad}))
    assert sorted(words(problems)) == ["bad-rules", "no-source", "unknown-key"]
    build, problems = read(make_build({"rules.yml": OWN}))
    assert words(problems) == ["unknown-file"]
    assert build.rules.lines == {}


def archive_of(make_build: MakeBuild, tmp_path: Path, plan: str) -> dict[str, str]:
    """Address -> the words of a page of the inspector's site."""
    root = make_build(
        {
            "build.yml": plan,
            "entries/a/index.md": entry("steps: [5.1]"),
            "inspections/look/index.md": "---\ndate: 2026-02-08\nassembly: flaps\nstage: closing\ninspector: insp\n"
            "outcome: passed\n---\n\nFine.\n",
            "tasks.csv": "section,task,name,maker,paid,assembly,fabrication,steps,note\nWings,1,Ribs,3,0,2,5,5.1,\n",
        }
    )
    (root / "mkdocs.yml").write_text(SITE, encoding="utf-8")
    site = build_site(
        open_journal(root, date(2026, 3, 1)), out=tmp_path / "site", audience=Audience.ARCHIVE, offline=True
    )
    pages = {
        address: re.sub(r"<[^>]+>|\s+", " ", (site / address / "index.html").read_text(encoding="utf-8"))
        for address in ("tally", "people", "inspections", "pack")
    }
    assert open_view(open_journal(root, date(2026, 3, 1)), Audience.PUBLIC).rules.lines == {}
    return pages


def test_without_rules_no_page_speaks_of_law(make_build: MakeBuild, tmp_path: Path) -> None:
    """Neutral words on tally, people and inspections."""
    for address, said in archive_of(make_build, tmp_path, BUILD_YML).items():
        assert not LAW.search(said), f"{address}: {LAW.search(said)}"


def test_with_rules_each_page_says_them_with_their_source(make_build: MakeBuild, tmp_path: Path) -> None:
    """What the United States ask for stands where it is needed, and nowhere does a page say that it is reached."""
    pages = archive_of(make_build, tmp_path, chosen("rules: us"))
    assert "Tally of the major portion" in pages["tally"]
    assert "14 CFR 21.191(g)" in pages["tally"]
    assert "14 CFR 65.104(a)" in pages["people"]
    assert "Eligibility statement 8130-12, notarised. Source: Amateur-built certification" in pages["inspections"]
    told = r"Eligibility statement 8130-12, notarised\s+not kept\s+—\s+Amateur-built certification"
    assert re.search(told, pages["pack"])
    assert not any(re.search("more than half|51 %", said) for said in pages.values())
