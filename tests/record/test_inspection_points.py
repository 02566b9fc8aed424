"""What inspections ask of a build record, point by point, and where the demonstration's archive answers.

The points are the published ones, with the paragraph or source each was read in; several circulars could
be read in quotation only, and editions change. Numbers group them as the tests below do. Every point is
told in docs/inspection.md with its answer or with the reason why there is none; what can be held is held here.

Sources: FAA Advisory Circular 20-27G (documentation paragraph; in quotation); 14 CFR 21.191(g), 21.193,
65.104 (eCFR); "Certification inspection" guide for US inspectors and the authority's answers to builders'
questions (in quotation); Transport Canada Standard Chapter 549; RFC 8493, RFC 3339, RFC 4180; Exif (CIPA
DC-008); ISO 19005; MHRA/WHO ALCOA+ (guidance of another industry, used as a list); WCAG 2.2.
"""

from __future__ import annotations

import csv
import io
import re
import shutil
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from hashlib import sha256
from pathlib import Path

import pikepdf
import pypdfium2
import pytest
from click.testing import CliRunner
from small_build import jpeg

from journal.base.model import Role
from journal.commands.main import main
from journal.ledger.journal import Journal, open_journal

pytestmark = pytest.mark.slow


WEIGHING = """\
---
date: 2026-06-21
measured_by: oltwick-maren
checked_by: harstvell-tobin
instrument: three scales
datum: leading edge of the wing
scales:
  - {at: left main wheel, weight: 402 lb, tare: 2 lb, arm: 22 in}
  - {at: right main wheel, weight: 182.5 kg, arm: 560 mm}
  - {at: nose wheel, weight: 210 lb, arm: -49 in}
equipment: [{what: radio, weight: 3 lb, arm: 10 in}]
limits: [{weight: 900 lb, forward: -2 in, aft: 14 in}, {weight: 1650 lb, forward: 6 in, aft: 14 in}]
max_weight: 1650 lb
cases:
  - {name: first flight, add: [{what: pilot and fuel, weight: 230 lb, arm: 18 in}]}
  - {name: most forward, add: [{what: pilot, weight: 170 lb, arm: 16 in}]}
  - {name: most aft, add: [{what: two and baggage, weight: 430 lb, arm: 28 in}]}
---
"""
"""The demonstration is no whole aircraft: its copy is weighed for the points that ask for it."""

PAPERS = """\
bill-of-sale.pdf,2025-11-30,bill of sale,Bill of sale of the kit,
checklist.txt,2025-11-01,checklist,"Checklist of the kit, edition 2",with the letter of its evaluation
registration.txt,2025-12-30,Registration,Registration,
log-book.txt,2026-06-01,log book,Log book of the airframe,
certificate.txt,2026-06-22,airworthiness certificate,Certificate,
"""
CONDITION = """\
---
date: 2026-06-25
assembly: flaps
stage: condition inspection
inspector: kellomar-ruth
outcome: passed with findings
findings: [{id: D1, text: Chafed line at the hinge}]
---
Looked at everything.
"""

ROOT = Path(__file__).parents[2]
TODAY = date(2026, 7, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Archive:
    """The demonstration's record as an inspector has it: tables by name, sheets by section."""

    journal: Journal
    data: Path
    tables: Mapping[str, Sequence[Mapping[str, str]]]
    entries: Sequence[str]
    sections: Mapping[str, Mapping[int, str]]

    @property
    def pdf(self) -> Path:
        """The binder."""
        return self.data / "record.pdf"

    def column(self, table: str, column: str) -> list[str]:
        """What stands in a column, empty cells left out."""
        return [row[column] for row in self.tables[table] if row[column]]

    def entry(self, section: str, words: str) -> int:
        """The number of the first sheet of a section with these words, 0 where there is none."""
        folded = words.casefold()
        return next((n + 1 for n, told in self.sections[section].items() if folded in told.casefold()), 0)


def complete(content: Path) -> None:
    """Give a copy of the demonstration what a whole aircraft has beside: a weighing, papers, a picture of the data
    plate, a condition inspection, the rules of a country.
    """
    (content / "measurements/2026-06-21-weighing.md").write_text(WEIGHING, "utf-8")
    (content / "inspections/2026-06-25-condition.md").write_text(CONDITION, "utf-8")
    for line in PAPERS.splitlines():
        (content / "records" / line.partition(",")[0]).write_bytes(
            b"%PDF-1.4 invented" if ".pdf" in line else b"invented"
        )
    with (content / "records/records.csv").open("a", encoding="utf-8") as records:
        records.write(PAPERS)
    build = content / "build.yml"
    build.write_text(build.read_text("utf-8") + "\nrules: us\n", "utf-8")
    entry = next((content / "entries").glob("2026-01-10-*")) / "index.md"
    text = entry.read_text("utf-8").replace(
        "\nphotos:\n", "\nphotos:\n  plate.jpg: {caption: The data plate, identity: true}\n"
    )
    entry.write_text(text, "utf-8")
    (entry.parent / "plate.jpg").write_bytes(jpeg("2026:01:10 15:00:00"))


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Archive:
    """The archive of the demonstration, completed, as the command makes it."""
    root = tmp_path_factory.mktemp("demo")
    shutil.copytree(ROOT / "content", root / "content")
    shutil.copy(ROOT / "mkdocs.yml", root)
    complete(root / "content")
    done = CliRunner().invoke(main, ["archive", "--build", str(root), "--out", str(root / "archive")])
    assert done.exit_code == 0, done.output
    data = root / "archive/data"
    document = pypdfium2.PdfDocument(data / "record.pdf")
    entries = [" ".join(page.get_textpage().get_text_bounded().split()) for page in document]
    document.close()
    return Archive(
        journal=open_journal(root, TODAY),
        data=data,
        tables={
            path.stem: [
                {column: cell.removeprefix("'") for column, cell in row.items()}
                for row in csv.DictReader(io.StringIO(path.read_bytes().decode(), newline=""))
            ]
            for path in sorted((data / "tables").glob("*.csv"))
        },
        entries=entries,
        sections=sections_of(data / "record.pdf"),
    )


def sections_of(pdf: Path) -> dict[str, dict[int, str]]:
    """Section -> what stands of it on each of its sheets (from 0): from its heading, where the top lines of the outline
    lead, down to the next.
    """
    with pikepdf.open(pdf) as document:
        number = {page.obj.objgen: at for at, page in enumerate(document.pages)}
        starts, line = [], document.Root.Outlines.First
        while line is not None:
            starts.append((str(line.Title), number[line.Dest[0].objgen], float(line.Dest[3])))
            line = line.get("/Next")
    sheets = pypdfium2.PdfDocument(pdf)
    ends = [(sheet, top) for _, sheet, top in starts[1:]] + [(len(sheets) - 1, 0.0)]
    sections: dict[str, dict[int, str]] = {}
    for (title, first, top), (last, bottom) in zip(starts, ends, strict=True):
        sections[title] = {}
        for sheet in range(first, last + 1):
            page = sheets[sheet].get_textpage()
            edges = {"top": top if sheet == first else None, "bottom": bottom if sheet == last else None}
            sections[title][sheet] = " ".join(page.get_text_bounded(**edges).split())
    sheets.close()
    return sections


Check = Callable[[Archive], bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """A published point: where it was read, what it asks, and where the archive answers.

    `columns` are (table, column) with something in them; `words` are (section, words) that stand on
    one of its sheets; `holds` is whatever else must be true.
    """

    number: int
    source: str
    asks: str
    columns: tuple[tuple[str, str], ...] = ()
    words: tuple[tuple[str, str], ...] = ()
    holds: tuple[Check, ...] = field(default=())


AC = "AC 20-27G, documentation paragraph (in quotation)"


def in_order(archive: Archive) -> bool:
    """Days never go back, from the first entry to the last, and running totals never fall."""
    days, totals = archive.column("hours", "date"), list(map(int, archive.column("hours", "minutes_to_date")))
    return days == sorted(days) and totals == sorted(totals)


def every_entry_named(archive: Archive) -> bool:
    """No row without a person, and every entry of the build has rows."""
    rows = archive.tables["hours"]
    return all(row["person"] for row in rows) and {row["entry"] for row in rows} == {
        entry.id for entry in archive.journal.build.entries
    }


def three_times_kept_apart(archive: Archive) -> bool:
    """The work's day, the entry's place in the chain and the camera's time are separate things."""
    return any(row["date"] != row["taken"][:10] for row in archive.tables["photos"]) and all(
        "seal" in words.casefold() for words in list(archive.sections["Entries"].values())[1:5]
    )


def every_step_told_or_missed(archive: Archive) -> bool:
    """A step that is done has a picture, or a finding (open or answered) says that it has none."""
    for row in archive.tables["steps"]:
        if row["state"].startswith("done") and row["photos"] == "0":
            words = row["open_gaps"] + row["answered_gaps"]
            if "no-photo" not in words:
                return False
    return True


def every_entry_described(archive: Archive) -> bool:
    """Every entry's own words stand in the binder: the first words of each body are found."""
    whole = " ".join(archive.sections["Entries"].values())
    plain = re.sub(r"\s+", "", whole)
    for entry in archive.journal.build.entries:
        words = re.findall(
            r"[A-Za-z]{4,}", re.sub(r"!\[.*?\]\(.*?\)|<!--.*?-->|\]\(.*?\)|^!!!.*$", " ", entry.body, flags=re.M | re.S)
        )
        if words and not all(word in plain for word in words[:6]):
            return False
    return True


def digests_whole(archive: Archive) -> bool:
    """Every picture has its SHA-256, which is that of the file that is kept."""
    return all(
        row["sha256"] == sha256((archive.journal.root / row["file"]).read_bytes()).hexdigest()
        for row in archive.tables["photos"]
    )


def nobody_merged(archive: Archive) -> bool:
    """One row a person: their minutes add up to the build's, and every builder has one."""
    people = archive.tables["people"]
    builders = [person for person in archive.journal.build.people.values() if person.role is Role.BUILDER]
    return sum(int(row["minutes"]) for row in people) == archive.journal.ledger.minutes and [
        row["person"] for row in people if row["role"] == "builder"
    ] == [person.name for person in builders]


def closed_structures_answered(archive: Archive) -> bool:
    """What stands closed shows an inside picture or a passed closing inspection, or a finding says so."""
    for row in archive.tables["steps"]:
        if row["closes"] and row["state"].startswith("done"):
            looked = any(
                inspection["stage"] == "closing"
                and inspection["outcome"].startswith("passed")
                and (row["step"] in inspection["steps"].split("; ") or inspection["assembly"] == row["assembly"])
                for inspection in archive.tables["inspections"]
            )
            inside = any(
                photo["inside"] == "yes" and photo["assembly"] == row["assembly"] for photo in archive.tables["photos"]
            )
            if not (looked or inside or "closed-un" in row["open_gaps"] + row["answered_gaps"]):
                return False
    return any(row["closes"] for row in archive.tables["steps"])


def defects_numbered(archive: Archive) -> bool:
    """Each defect has a number and either an entry that put it right or the word open."""
    rows = [row for row in archive.tables["inspections"] if row["finding"]]
    return bool(rows) and all((row["state"] == "closed") == bool(row["closed_on"]) for row in rows)


def times_as_recorded(archive: Archive) -> bool:
    """RFC 3339 with the offset the camera recorded, or `not recorded`; nothing in between is invented."""
    shape = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d([+-]\d\d:\d\d)?|not recorded")
    taken = archive.column("photos", "taken")
    return all(shape.fullmatch(text) for text in taken) and {"not recorded"} < set(taken)


def claims_pdfa(archive: Archive) -> bool:
    """The binder says that it is PDF/A-3a."""
    with pikepdf.open(archive.pdf) as pdf:
        data = pdf.Root.Metadata.read_bytes()
    return b"<pdfaid:part>3<" in data and b"<pdfaid:conformance>A<" in data


def pictures_described(archive: Archive) -> bool:
    """Every picture in the binder has words in its place (WCAG 2.2, 1.1.1)."""
    with pikepdf.open(archive.pdf) as pdf:
        figures = [
            one for one in pdf.objects if isinstance(one, pikepdf.Dictionary) and one.get("/S") == pikepdf.Name.Figure
        ]
        return bool(figures) and all(str(one.get("/Alt", "")) for one in figures)


def tally_adds_up(archive: Archive) -> bool:
    """Every line that applies is ten tenths."""
    return all(
        row["maker"] == "n/a" or sum(int(row[column]) for column in ("maker", "paid", "assembly", "fabrication")) == 10
        for row in archive.tables["tasks"]
    )


def weighed_and_judged(archive: Archive) -> bool:
    """Each of the three loadings is held against the limits at its weight, and none is called more than inside them."""
    rows = {row["what"]: row for row in archive.tables["measurements"] if row["kind"] == "weighing"}
    loadings = [rows[name] for name in ("first flight", "most forward", "most aft")]
    return all(row["called_for"] and "limits as the builder wrote them" in row["remark"] for row in loadings)


POINTS = (
    Point(
        number=1,
        source="14 CFR 21.191(g); " + AC,
        asks="one view from which the major portion can be judged",
        columns=(
            ("tasks", "assembly"),
            ("tasks", "fabrication"),
            ("tasks", "steps_shown"),
            ("tasks", "maker"),
            ("tasks", "entries"),
            ("tasks", "photos"),
        ),
        words=(("Tasks", "tenths"), ("Tasks", "The authority decides what counts")),
        holds=(tally_adds_up,),
    ),
    Point(
        number=2,
        source="14 CFR 65.104(a)",
        asks="who the primary builder is, and each person's share",
        columns=(("people", "minutes"), ("people", "role"), ("hours", "person")),
        words=(("Hours by person and assembly", "All"), ("Index of people", "builder")),
    ),
    Point(
        number=3,
        source="AC 20-27G",
        asks="looks by knowledgeable people: date, person, findings, closure",
        columns=(
            ("inspections", "date"),
            ("inspections", "inspector"),
            ("inspections", "text"),
            ("inspections", "closed_by"),
        ),
        words=(("Inspections", "put right on"), ("Summary sheet", "passed with findings")),
    ),
    Point(
        number=4,
        source="practice",
        asks="readable without the tool",
        holds=(claims_pdfa,),
        words=(("About this record", "data/tables"),),
    ),
    Point(
        number=5,
        source=AC,
        asks="continuity: start to end, in sequence, gaps to be seen",
        columns=(("hours", "date"), ("hours", "day"), ("hours", "minutes_to_date")),
        words=(("Calendar of worked days", "What was done"), ("Gaps in the evidence", "long-gap")),
        holds=(in_order,),
    ),
    Point(
        number=6,
        source=AC,
        asks="who did the task",
        columns=(("hours", "person"), ("trace", "people")),
        words=(("Entries", "By"),),
        holds=(every_entry_named,),
    ),
    Point(
        number=7,
        source=AC,
        asks="when: day of the work, of the entry, of the picture",
        columns=(("hours", "date"), ("photos", "taken"), ("photos", "date")),
        words=(("Entries", "Date"), ("Entries", "taken ")),
        holds=(three_times_kept_apart,),
    ),
    Point(
        number=8,
        source=AC,
        asks="where",
        columns=(("hours", "place"), ("trace", "place")),
        words=(("Entries", "Place"),),
    ),
    Point(
        number=9,
        source=AC,
        asks="how: methods, materials, techniques, description, manual reference",
        columns=(("steps", "page"), ("steps", "title")),
        words=(
            ("Entries", "Methods"),
            ("Entries", "Tools"),
            ("Entries", "Materials"),
            ("Papers, materials and tools", "Batch"),
        ),
        holds=(every_entry_described,),
    ),
    Point(
        number=10,
        source=AC,
        asks="quality of workmanship: measured values, rework",
        columns=(("steps", "times_done_over"),),
        words=(("Entries", "Recorded"), ("Entries", "done over")),
    ),
    Point(
        number=11,
        source=AC,
        asks="assistance, paid and unpaid, and what it did",
        columns=(("hours", "role"), ("tasks", "paid_help"), ("tasks", "paid")),
        words=(("Index of people", "paid"), ("Index of people", "helper"), ("Tasks", "paid:")),
    ),
    Point(
        number=12,
        source=AC,
        asks="pictures of all steps in each listed task",
        columns=(("tasks", "photos"), ("trace", "photo"), ("steps", "photos")),
        words=(("Tasks", "pictures"), ("Gaps in the evidence", "no-photo")),
        holds=(every_step_told_or_missed,),
    ),
    Point(
        number=13,
        source=AC,
        asks="adequate, sufficient, credible: originals with digests, edits told",
        columns=(("photos", "sha256"), ("photos", "bytes")),
        words=(("Entries", "SHA-256"), ("Summary sheet", "Seal"), ("Entries", "sealed")),
        holds=(digests_whole,),
    ),
    Point(
        number=14,
        source="answers to builders' questions (in quotation)",
        asks="can be printed",
        words=(("Summary sheet", "Sheet"),),
    ),
    Point(
        number=15,
        source="answers to builders' questions (in quotation)",
        asks="tasks decide, not hours",
        words=(("Hours by person and assembly", "no measure"),),
    ),
    Point(
        number=16,
        source="inspectors' columns (practice)",
        asks="pictures of the builder at work",
        columns=(("people", "photos_at_work"), ("findings", "word")),
        words=(("Album", "builder at work"), ("Gaps in the evidence", "nobody-at-work"), ("Summary sheet", "At work")),
    ),
    Point(
        number=17,
        source="inspectors' columns (practice)",
        asks="from any part to its entries at once",
        columns=(("steps", "entries"), ("steps", "days")),
        words=(("Index of steps", "Days"), ("Contents", "Index of steps")),
    ),
    Point(
        number=19,
        source="AC 20-27G in quotation",
        asks="register of paid help with task, tenths, invoice",
        columns=(("tasks", "paid"), ("tasks", "paid_help")),
        words=(("Papers, materials and tools", "invoice"), ("Tasks", "Paid")),
    ),
    Point(
        number=20,
        source="form 8130-12 as told by builders' guides (in quotation)",
        asks="paid help on request",
        columns=(("hours", "role"),),
        holds=(lambda archive: any(row["role"] == "paid" and row["minutes"] for row in archive.tables["hours"]),),
    ),
    Point(
        number=22,
        source="AC 20-27G; practice",
        asks="a look before each closure: inside pictures, reviewer, date, open items",
        columns=(("steps", "closes"), ("inspections", "stage"), ("photos", "inside")),
        words=(("Index of steps", "closes:"), ("Inspections", "closing"), ("Album", "inside, before closing")),
        holds=(closed_structures_answered,),
    ),
    Point(
        number=23,
        source="Transport Canada Standard ch. 549",
        asks="such looks required, recommended or none, by country",
        words=(("Gaps in the evidence", "closed-uninspected"),),
    ),
    Point(
        number=29,
        source="guide for inspectors (in quotation)",
        asks="evidence, never a verdict",
        words=(("Summary sheet", "gives no verdict"), ("About this record", "The authority decides")),
    ),
    Point(
        number=31,
        source="14 CFR 65.104(a)",
        asks="skill, by area",
        columns=(("people", "steps"), ("people", "photos_at_work")),
        words=(("Index of people", "Steps"),),
    ),
    Point(
        number=33,
        source="order 8900.1 vol. 5 ch. 5 (older edition)",
        asks="builders are not merged into a we",
        holds=(nobody_merged,),
    ),
    Point(
        number=27,
        source="guide for inspectors (in quotation)",
        asks="weight and balance: scales, date, first flight, forward and aft extreme loading",
        columns=(("measurements", "date"), ("measurements", "instrument"), ("measurements", "called_for")),
        words=tuple(
            ("Measurements", words)
            for words in ("Empty weight", "left main wheel", "first flight", "most forward", "most aft")
        ),
        holds=(weighed_and_judged,),
    ),
    Point(
        number=35,
        source="AC 20-27G; Standard ch. 549",
        asks="checklist, reviewers' reports, weight and balance, equipment list, each defect and its correction signed",
        columns=(("inspections", "finding"), ("inspections", "state"), ("inspections", "signed_by")),
        words=(
            ("Papers, materials and tools", "Papers kept"),
            ("Inspections", "What was found"),
            ("Inspections", "signed by"),
            ("Measurements", "Equipment list"),
        ),
        holds=(defects_numbered,),
    ),
    Point(
        number=36,
        source="practice",
        asks="materials with batch and shelf life, calibration, invoices, rework, bulletins, leak tests, measurements",
        columns=(("bulletins", "state"), ("bulletins", "done_in"), ("measurements", "kind"), ("measurements", "value")),
        words=(
            ("Papers, materials and tools", "Service bulletins"),
            ("Measurements", "leak test"),
            ("Measurements", "nose heavy"),
            ("Measurements", "A measurement is the word of those"),
            ("Papers, materials and tools", "Use by"),
            ("Papers, materials and tools", "Calibrated tools"),
            ("Papers, materials and tools", "invoice"),
        ),
    ),
    Point(
        number=37,
        source="Transport Canada Standard ch. 549",
        asks="numbered defects, each with its correction",
        columns=(("inspections", "closed_by"), ("inspections", "signed_by"), ("inspections", "checked_by")),
        holds=(defects_numbered,),
    ),
    Point(
        number=38,
        source="the UK authority as quoted by the association's magazine",
        asks="two people look, and both sign",
        columns=(("measurements", "measured_by"), ("measurements", "checked_by"), ("inspections", "checked_by")),
        words=(("Measurements", "Checked by"), ("Inspections", "checked by")),
    ),
    Point(
        number=42,
        source="RFC 3339; RFC 9557",
        asks="offsets stored, unknown ones marked",
        columns=(("photos", "taken"), ("photos", "clock")),
        holds=(times_as_recorded,),
    ),
    Point(
        number=43,
        source="Exif, CIPA DC-008",
        asks="capture time and offset in the record",
        columns=(("photos", "taken"),),
        words=(("Entries", "(+01:00)"),),
    ),
    Point(number=45, source="ISO 19005", asks="a printed record that stays readable", holds=(claims_pdfa,)),
    Point(
        number=46,
        source="ALCOA+ (guidance of another industry)",
        asks="attributable, legible, contemporaneous, original, accurate",
        columns=(("hours", "person"), ("photos", "taken"), ("photos", "sha256"), ("hours", "minutes")),
        words=(("Entries", "Seal"),),
    ),
    Point(
        number=47,
        source="WCAG 2.2, 1.1.1",
        asks="words in place of every picture",
        columns=(("photos", "caption"),),
        holds=(pictures_described,),
    ),
    Point(
        number=48,
        source="AC 20-27G",
        asks="the authority decides",
        words=(("Summary sheet", "The authority decides"), ("Tasks", "The authority decides")),
    ),
    Point(
        number=49,
        source="kit maker first; AC 43.13-1B par. 7-40i for torque",
        asks="manual and drawings come first",
        words=(("Entries", "manual and drawings come first"), ("Summary sheet", "manual and drawings come first")),
    ),
    Point(
        number=53,
        source="practice",
        asks="pictures as taken, originals kept",
        columns=(("photos", "sha256"),),
        words=(("Entries", "reduced copies"),),
        holds=(digests_whole,),
    ),
)

DOCUMENT = ROOT / "docs/inspection.md"
ROW = re.compile(r"^\| (\d+) \| ([^|]+) \| ([^|]+) \| ([^|]+) \|$", re.MULTILINE)
TOLD = {
    int(found[1]): [tuple(one.split(" ", 1)) for one in found[4].split("; ")]
    for found in ROW.finditer(DOCUMENT.read_text("utf-8"))
}
"""Point -> what docs/inspection.md says of it, as (kind, name)."""


@pytest.mark.parametrize("point", POINTS, ids=lambda point: f"{point.number}-{point.asks}"[:60].replace(" ", "-"))
def test_the_archive_answers(point: Point, archive: Archive):
    """Each point is answered: its columns hold something, its words stand on a sheet, what must hold holds."""
    for table, column in point.columns:
        assert archive.column(table, column), f"{table}.csv, column {column} is empty"
    for section, words in point.words:
        assert archive.entry(section, words), f'"{words}" stands on no sheet of "{section}"'
    for holds in point.holds:
        assert holds(archive), holds.__doc__
    assert point.columns or point.words or point.holds


def test_every_point_has_its_place():
    """53 points were gathered; at least 45 are answered in the archive, and those that are not say why. Each point that
    is held above is told as answered.
    """
    assert sorted(TOLD) == list(range(1, 54))
    left = {number for number, told in TOLD.items() if "reason" in dict(told)}
    assert len(TOLD) - len(left) >= 45
    assert all(len(told) == 1 for number, told in TOLD.items() if number in left)
    assert not left & {point.number for point in POINTS}


@pytest.mark.parametrize("number", sorted(TOLD))
def test_what_the_document_says_is_there(number: int, archive: Archive):
    """Every sheet stands in the outline of the binder, every part on it, every page and file in the archive, every
    column in its table with something in it, and every rule among the code words.
    """
    section = next((name for kind, name in TOLD[number] if kind == "sheet"), "")
    for kind, name in TOLD[number]:
        if kind == "sheet":
            assert name in archive.sections, name
        elif kind == "part":
            assert any(archive.entry(one, name) for one in (section, "Inspection pack")), name
        elif kind == "page":
            assert (archive.data / name / "index.html").is_file(), name
        elif kind == "file":
            assert (archive.data / name).is_file(), name
        elif kind == "table":
            assert archive.column(*name.split(".")), name
        elif kind == "rule":
            assert f"`{name}`" in (ROOT / "docs/format.md").read_text("utf-8"), name
        else:
            assert kind == "reason", kind


def test_papers_are_in_the_binder_bit_for_bit(archive: Archive):
    """Each paper kept is attached to the document, with the digest that stands on its sheet."""
    with pikepdf.open(archive.pdf) as pdf:
        inside = {name: file.get_file().read_bytes() for name, file in pdf.attachments.items()}
    kept = archive.column("records", "file")
    assert sorted(inside) == sorted(f"records/{name}" for name in kept)
    sheets = "".join(archive.sections["Papers, materials and tools"].values()).replace(" ", "").replace("\u200b", "")
    for name in kept:
        data = (archive.data / "source/content/records" / name).read_bytes()
        assert inside[f"records/{name}"] == data
        assert sha256(data).hexdigest() in sheets


def test_few_sheets_are_blank(archive: Archive):
    """Blank is the part of the text's height below the last ink. On average under 15 %, and no sheet nearly empty."""
    blank = []
    document = pypdfium2.PdfDocument(archive.pdf)
    for page in document:
        picture = page.render(scale=1, grayscale=True).to_numpy()
        mm = 72 / 25.4
        area = picture[int(23 * mm) : int((297 - 28) * mm), int(21.5 * mm) : int((210 - 12) * mm)]
        inked = (area.reshape(*area.shape[:2]) < 200).any(axis=1).nonzero()[0]
        blank.append(1 - (inked[-1] + 1) / len(area) if len(inked) else 1.0)
    document.close()
    over = sum(one > 0.5 for one in blank)
    print(f"{len(blank)} sheets, {sum(blank) / len(blank):.1%} blank on average, {over} over half")
    assert sum(blank) / len(blank) < 0.15
    assert max(blank) < 0.9


def test_pictures_in_the_binder_bear_no_mark(archive: Archive):
    """The mark of the site stands on no picture of the binder: they are other files than those of the site."""
    with pikepdf.open(archive.pdf) as pdf:
        printed = {
            sha256(one.read_raw_bytes()).hexdigest()
            for one in pdf.objects
            if isinstance(one, pikepdf.Stream) and one.get("/Filter") == "/DCTDecode"
        }
    shown = {sha256(path.read_bytes()).hexdigest() for path in (archive.data / "pictures").iterdir()}
    assert printed
    assert not printed & shown


def test_no_help_for_the_builder_stands_in_the_record(archive: Archive):
    """How to mend and how to answer is told by `check`, and nowhere to the inspector."""
    page = (archive.data / "evidence/index.html").read_text("utf-8")
    for words in ("`answers", "answers: {", "What to do about it"):
        assert words not in page
        assert not any(words in sheet for sheet in archive.entries)
    assert "hint" not in archive.tables["findings"][0]


def test_the_demonstration_says_that_nobody_is_at_work(archive: Archive):
    """Its rendered pictures show no people, and the record says so instead of passing over it."""
    assert {row["photos_at_work"] for row in archive.tables["people"]} == {"0"}
    assert any(row["word"] == "nobody-at-work" for row in archive.tables["findings"])
    assert archive.entry("Gaps in the evidence", "nobody is seen at work")
