"""The binder: everything of the record on numbered sheets, text as text, one sound tagged PDF."""

from __future__ import annotations

import io
import re
import shutil
import subprocess
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import pikepdf
import pypdfium2
import pytest
from making import slow
from PIL import Image
from small_build import FILES, jpeg, open_small

from journal.ledger.journal import Journal, photo_store
from journal.media.photos import Picture, PictureJob
from journal.record import binder, binder_parts, setting
from journal.record.binder import Binder, KeptPaper, plan_binder, render_binder
from journal.record.seals import Chain, Kind, Seal
from journal.record.timestamps import Answer, Stamp
from journal.view.view import Audience, View, open_view

MADE = date(2026, 7, 1)
MADE_AT = datetime(2026, 7, 1, 12, tzinfo=UTC)

HOSTILE = r"""
First #set page(fill: red) $x^2$ *stars* _under_ `tick` @label <label> \ " // /* */ [x] {y} ~tilde ---

Then #panic("no")

| #eval("1") | $y$ |
|---|---|
| *a* | `b|c` |

- `#include "/etc/passwd"`

```
#let x = "code"
```

> quoted ‘ words

!!! warning "Take #care"
    in the note

1. first[^n]

[^n]: the small print

See [ribs](../2026-02-07-ribs/index.md) and [elsewhere](https://example.org/a_b) and [lost](nowhere.md).

Smile 🙂 中文 é Ω → and a bell &#7; end, <https://example.org/🙂中>.

- finding [^日本]

[^日本]: foreign
"""

MORE: dict[str, str | bytes] = {
    **FILES,
    "entries/2026-02-11-hostile/index.md": "---\ntitle: '#emph[title] 100 %'\ndate: 2026-02-11\nassembly: wing\n"
    "begun: [7.1]\nhours: 1:00\nphotos:\n  c.jpg: {caption: '*cap* $z$ #bad'}\n  d.jpg: {}\n---\n" + HOSTILE,
    "entries/2026-02-11-hostile/c.jpg": jpeg("2026:02:11 10:00:00", colour="green"),
    "entries/2026-02-11-hostile/d.jpg": b"this is no picture",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A binder on disk and what it was made from."""

    journal: Journal
    view: View
    planned: Binder
    path: Path


def pictures_of(journal: Journal, view: View) -> Mapping[str, Picture]:
    """The renditions of every photo of a view, by `src_uri`."""
    photos = [photo for told in (*view.entries, *view.inspections) for photo in told.photos]
    jobs = {
        photo.src_uri: PictureJob(
            src_uri=photo.src_uri,
            sha256=photo.sha256,
            caption=photo.caption,
            credit="Tarn",
            settings=journal.build.photo_settings,
        )
        for photo in photos
    }
    rendered = photo_store(journal.root).render(list(jobs.values()))
    return {uri: rendered[job] for uri, job in jobs.items()}


def make(folder: Path, files: dict[str, str | bytes], audience: Audience = Audience.ARCHIVE, **options: Any) -> Made:
    """Write a build, plan and set its binder."""
    journal = open_small(folder / "build", files)
    view = open_view(journal, audience)
    planned = plan_binder(view, pictures_of(journal, view), made_on=MADE, **options)
    path = folder / "record.pdf"
    render_binder(planned, path, made_at=MADE_AT)
    return Made(journal=journal, view=view, planned=planned, path=path)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """The binder of the small build with a hostile entry."""
    return make(tmp_path_factory.mktemp("binder"), MORE)


@pytest.fixture(scope="module")
def pages(made: Made) -> list[str]:
    """The text of every sheet, spaces and line ends as one space."""
    return texts(made.path)


def texts(path: Path) -> list[str]:
    """The text of every sheet as PDFium reads it."""
    document = pypdfium2.PdfDocument(path)
    try:
        return [" ".join(page.get_textpage().get_text_bounded().split()) for page in document]
    finally:
        document.close()


def entry_on(pages: list[str], title: str) -> str:
    """The words of an entry from its title on, however many sheets they take; the next entry may follow."""
    start = next(number for number, page in enumerate(pages) if title in page and "HOURS TO DATE" in page)
    whole = " ".join(pages[start : start + 3])
    return whole[whole.index(title) :]


def sheet_with(pages: list[str], *words: str) -> str:
    """The first sheet with all these words."""
    return next(page for page in pages if all(word in page for word in words))


# ---------------------------------------------------------------- what stands on the sheets


def test_the_summary_sheet_tells_the_whole(made: Made, pages: list[str]):
    """Aircraft, span, days, hours by person and assembly, steps, inspections, gaps, caution: on sheet 1."""
    first = pages[0]
    for words in ("Tarn", "two-seat low-wing", "QX-TRN", "T-0042", "10 January 2026", "11 February 2026"):
        assert words in first
    assert binder_parts.clock(made.journal.ledger.minutes) in first
    assert f"{made.journal.progress.steps_done} of 5" in first
    assert "Ada Bergstrom" in first
    assert "passed with findings" in first
    assert "2 findings, 1 open" in first
    closed = "1 × Structures closed before the findings of their inspection were put right (closed-findings-open)"
    assert closed in " ".join(first.split())
    assert "5 open in all; 1 answered by the builder" in first
    assert "home workshop (5)" in first
    assert "The authority decides" in first
    assert "Nothing has been sealed yet" in first


def test_hours_are_the_ledgers(made: Made):
    """Every total of the binder is the ledger's figure, none is made here."""
    hours = made.planned.front["hours"]
    assert hours["total"] == binder_parts.clock(made.journal.ledger.minutes)
    ada = hours["names"].index("Ada Bergstrom")
    assert hours["totals"][ada] == binder_parts.clock(made.journal.ledger.by_person["ada"])
    for entry in made.planned.entries:
        totals = made.journal.ledger.entries[entry["block"]["id"]] if "id" in entry["block"] else None
        assert totals is None
    last = made.planned.entries[-1]["block"]
    assert last["to_date"] == binder_parts.clock(made.journal.ledger.minutes)


def test_every_entry_has_its_sheet_and_title_block(made: Made, pages: list[str]):
    """DAY, DATE, ASSEMBLY, STEPS, HOURS, HOURS TO DATE, BY, and the particulars below."""
    entry = entry_on(pages, "=HYPERLINK(ribs)")
    for words in ("DAY 1", "DATE 7 February 2026 Saturday", "ASSEMBLY Flaps", "HOURS 5:15", "HOURS TO DATE 5:15"):
        assert words in entry, words
    assert "STEPS 5.1 · begun 5.2" in entry
    assert "BY Ada Bergstrom, Bo Lindqvist" in entry
    assert "Ada Bergstrom 3 h 15 min, Bo Lindqvist 2 h" in entry
    assert "deburring wheel" in entry
    assert "Wash primer, batch B-17" in entry
    for view_sheet in made.view.entries:
        assert any(view_sheet.src_uri in page for page in pages)


def test_rework_and_privacy_are_told(pages: list[str]):
    """Done over stands in the title block; a private entry says that it is private."""
    assert "STEPS 5.2 · done over 5.1" in sheet_with(pages, "DAY 2")
    assert "private: not on the public site" in sheet_with(pages, "DAY 3")


def test_pictures_carry_capture_time_step_file_and_digest(made: Made, pages: list[str]):
    """Under each picture: time with offset or `not recorded`, step, who is at work, file, short SHA-256."""
    entry = entry_on(pages, "=HYPERLINK(ribs)")
    digest = next(photo.sha256 for photo in made.view.entries[0].photos if photo.name == "a.jpg")
    assert "taken 7 February 2026, 10:00:00 (+01:00) · step 5.1 · at work: Ada Bergstrom · a.jpg" in entry
    assert f"SHA-256 {digest[:12]}" in entry
    unknown = "capture time not recorded (camera clock never set), kept with 7 February 2026"
    assert f"{unknown} · of steps 5.1, 5.2 · inside, before closing · b.jpg" in entry


def test_a_file_that_is_no_picture_leaves_a_reason(made: Made, pages: list[str]):
    """A placeholder says why there is no picture."""
    trouble = next(photo.facts.trouble for photo in made.view.entries[-1].photos if photo.name == "d.jpg")
    assert trouble
    assert f"No picture: {trouble}" in entry_on(pages, "100 %")


def test_figures_come_with_their_caution(pages: list[str]):
    """The rivets of an entry are compared with the tables, and the caution stands below."""
    entry = sheet_with(pages, "AN470AD4-5", "RECORDED")
    assert "manual and drawings come first" in entry


def test_inspections_and_tasks_are_told(pages: list[str]):
    """Findings with how they were put right; tasks with tenths, entries, people, and the caution."""
    inspection = sheet_with(pages, "Inspections", "One rivet tipped")
    assert "put right on 9 February 2026" in inspection
    assert "Ines Petrov" in inspection
    assert "open" in inspection
    tasks = sheet_with(pages, "Tasks", "Flap ribs")
    assert "The authority decides what counts" in tasks
    assert "n/a n/a n/a n/a" in tasks


def test_gaps_open_and_answered_and_the_rules(pages: list[str]):
    """Open findings first, answered ones with the builder's words, then every rule."""
    entry = " ".join(page for page in pages if "GAPS IN THE EVIDENCE" in page)
    assert "the camera was at home" in entry
    assert (
        entry.index("closed-findings-open")
        < entry.index("Answered by the builder")
        < entry.index("the camera was at home")
    )
    assert "long-gap" in entry


def test_papers_materials_and_pages(pages: list[str]):
    """Kept papers, materials with batch and date, and the builder's own pages."""
    papers = sheet_with(pages, "Papers kept")
    assert "Kit invoice" in papers
    assert "B-17" in papers
    assert "Pictures are coloured rectangles." in sheet_with(pages, "The builder's pages", "coloured")


def test_indexes_of_steps_and_people(pages: list[str]):
    """Every step with its state and days; every person with role and days."""
    steps = sheet_with(pages, "Index of steps", "DONE ON")
    assert "5.1 Deburr the ribs done over 2026-02-08 1, 2 2" in steps
    assert "7.10 Close the wing closes: the wing not begun" in steps
    people = " ".join(pages[number] for number in range(len(pages)) if "INDEX OF PEOPLE" in pages[number])
    assert "Petra Kalm Paid help. 1 entry on 1 day, 10 February 2026; 0 min on the build and 1 h kept apart" in people
    days = re.search(r"Flaps 8 h 45 min 1 Day 1, sheet (\d+) Day 2, sheet (\d+) Day 3, sheet (\d+)", people)
    assert days
    assert all(f"DAY {day} DATE" in pages[int(days[day]) - 1] for day in (1, 2, 3))
    assert "put a name to inspection of 9 February 2026, sheet" in people


# ---------------------------------------------------------------- text is data


def test_text_is_never_markup(pages: list[str]):
    """What would be markup to the typesetter stands on the sheet as it was written."""
    entry = entry_on(pages, "#emph[title] 100 %")
    for words in (
        "#set page(fill: red) $x^2$",
        "under",
        "@label",
        "[x] {y} ~tilde ---",
        '#panic("no")',
        '#eval("1")',
        '#include "/etc/passwd"',
        '#let x = "code"',
        "Take #care",
        "the small print",
        "*cap* $z$ #bad",
    ):
        assert words in entry, words
    assert "*stars*" not in entry  # Markdown's own emphasis is what the builder meant


def test_links_lead_within_the_binder_or_out(made: Made, pages: list[str]):
    """A link to an entry says its day and leads to its sheet; a web address is printed; a lost one is words."""
    entry = entry_on(pages, "#emph[title] 100 %")
    assert "ribs (day 1)" in entry
    assert "elsewhere (https://example.org/a_b)" in entry
    assert "lost." in entry
    with pikepdf.open(made.path) as pdf:
        outside = {str(link.A.URI) for page in pdf.pages for link in page.obj.get("/Annots", []) if "/A" in link}
    assert "https://example.org/a_b" in outside


def test_characters_without_a_glyph_are_shown_by_number(pages: list[str]):
    """PDF/A forbids them; the number stands in their place and everything else stays."""
    entry = entry_on(pages, "#emph[title] 100 %")
    assert "Smile \N{MATHEMATICAL LEFT ANGLE BRACKET}U+1F642\N{MATHEMATICAL RIGHT ANGLE BRACKET}" in entry
    assert "U+4E2D" in entry
    assert "é Ω → and a bell" in entry


ODD = slow("\u0000", "\uffff", "\u202e", "\ue000", "\u2028", "\u0301", "ﷺ", "\t")


@pytest.mark.parametrize("char", ["\ud800", *ODD])
def test_no_character_stops_the_setting(tmp_path: Path, made: Made, char: str):
    """Marks that turn lines about, controls, lone surrogates, private ones: a binder is made all the same."""
    first, *others = made.planned.entries
    planned = replace(made.planned, entries=({**first, "title": f"before{char}after"}, *others))
    render_binder(planned, tmp_path / "record.pdf", made_at=MADE_AT)
    assert any("before" in page and "after" in page for page in texts(tmp_path / "record.pdf"))


# ---------------------------------------------------------------- the document


def check_sound(path: Path) -> None:
    """What must hold of any binder: structure, links, tags, and what PDF/A-3a asks of them."""
    with pikepdf.open(path) as pdf:
        # No encryption, no program (ISO 19005-3, 6.1.3, 6.6.1); qpdf finds nothing.
        assert not pdf.is_encrypted
        assert pdf.check_pdf_syntax() == []
        assert not {"/AcroForm", "/OpenAction", "/AA"} & set(pdf.Root.keys())
        assert not any(one.get("/S") == pikepdf.Name.JavaScript for one in dictionaries(pdf))
        check_attachments(pdf)
        check_levels(pdf)
        assert "/ID" in pdf.trailer
        # The claim (6.6.4) and the colour it is made with (6.2.3).
        metadata = pdf.Root.Metadata.read_bytes()
        assert b"<pdfaid:part>3</pdfaid:part>" in metadata
        assert b"<pdfaid:conformance>A</pdfaid:conformance>" in metadata
        # PDF/UA-1 (ISO 14289-1, clauses 5 and 7.1): its claim, and the title in place of the file's name.
        assert b"<pdfuaid:part>1</pdfuaid:part>" in metadata
        assert pdf.Root.ViewerPreferences.DisplayDocTitle
        assert b"<xmpTPg:NPages>%d<" % len(pdf.pages) in metadata
        assert str(pdf.docinfo["/Title"]).encode() in metadata
        made_at = re.search(rb"<xmp:CreateDate>([^<]*)<", metadata)
        assert made_at
        said = [re.sub(r"\D", "", text)[:14] for text in (made_at[1].decode(), str(pdf.docinfo["/CreationDate"]))]
        assert said[0] == said[1]
        (intent,) = pdf.Root.OutputIntents
        assert intent.S == pikepdf.Name.GTS_PDFA1
        assert int(intent.DestOutputProfile.N) == 3
        # Tagged, in a known language (14.7 and 14.9 of ISO 32000-1).
        assert pdf.Root.MarkInfo.Marked
        assert str(pdf.Root.Lang) == "en-GB"
        check_fonts(pdf)
        check_tags(pdf)
        check_links(pdf)


def dictionaries(pdf: pikepdf.Pdf) -> Iterator[pikepdf.Dictionary]:
    """Every dictionary of the document."""
    return (one for one in pdf.objects if isinstance(one, pikepdf.Dictionary))


def check_attachments(pdf: pikepdf.Pdf) -> None:
    """Every file inside is associated, with its relationship, type and size (ISO 19005-3, 6.8)."""
    names = list(pdf.Root.Names.get("/EmbeddedFiles", pikepdf.Dictionary(Names=[])).Names)
    associated = {file.UF.__str__(): file for file in pdf.Root.get("/AF", [])}
    assert set(map(str, names[::2])) == set(associated)
    for file in associated.values():
        assert file.AFRelationship == pikepdf.Name.Supplement
        assert re.fullmatch(r"/\w+/[\w.+-]+", str(file.EF.F.Subtype))
        assert int(file.EF.F.Params.Size) == len(file.EF.F.read_bytes())


def check_levels(pdf: pikepdf.Pdf) -> None:
    """Headings begin at the first level and skip none on the way down; every figure has words (ISO 14289-1, 7.3 and
    7.4).
    """
    levels: list[int] = []

    def walk(element: Any) -> None:
        kind = str(element.get("/S", ""))
        if found := re.fullmatch(r"/H([1-6])", kind):
            levels.append(int(found[1]))
        if kind == "/Figure":
            assert str(element.get("/Alt", ""))
        kids = element.get("/K", [])
        for kid in list(kids) if isinstance(kids, pikepdf.Array) else [kids]:
            if isinstance(kid, pikepdf.Dictionary) and "/S" in kid:
                walk(kid)

    walk(pdf.Root.StructTreeRoot.K)
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))


def check_fonts(pdf: pikepdf.Pdf) -> None:
    """Every font is inside the file (ISO 19005-2, 6.2.11.4), none is of the third type."""
    fonts = [
        one for one in pdf.objects if isinstance(one, pikepdf.Dictionary) and one.get("/Type") == "/FontDescriptor"
    ]
    assert fonts
    for font in fonts:
        assert {"/FontFile2", "/FontFile3"} & set(font.keys()), font.FontName
        assert (
            str(font.FontName)
            .partition("+")[2]
            .startswith(("Literata", "BarlowCondensed", "Barlow", "LibertinusSerif", "DejaVuSansMono", "NewCM"))
        )


def check_tags(pdf: pikepdf.Pdf) -> None:
    """Every sheet and link leads into the structure tree and every element to a sheet of this document."""
    root = pdf.Root.StructTreeRoot
    numbers = list(root.ParentTree.Nums)
    parents = dict(zip(map(int, numbers[::2]), numbers[1::2], strict=True))
    assert list(parents) == sorted(parents)
    assert max(parents) < int(root.ParentTreeNextKey)
    entries = {page.obj.objgen for page in pdf.pages}
    for page in pdf.pages:
        if "/StructParents" in page.obj:
            for element in parents[int(page.obj.StructParents)]:
                assert element.Type == "/StructElem"
        for link in page.obj.get("/Annots", []):
            assert parents[int(link.StructParent)].S == "/Link"
    document = root.K
    assert all(element.P.objgen == document.objgen for element in document.K)
    seen = 0
    for one in pdf.objects:
        if isinstance(one, pikepdf.Dictionary) and one.get("/Type") == "/StructElem":
            seen += 1
            assert "/Pg" not in one or one.Pg.objgen in entries
            assert one.P is not None
    assert seen > 50
    for one in dictionaries(pdf):
        # Heads of tables say of what they are (ISO 14289-1, 7.5), rows hold cells and nothing else.
        if one.get("/S") == pikepdf.Name.TH:
            assert any("/Scope" in kind for kind in (one.A if isinstance(one.A, pikepdf.Array) else [one.A]))
        if one.get("/S") == pikepdf.Name.TR:
            assert {str(cell.S) for cell in one.K} <= {"/TH", "/TD"}
    names = list(root.IDTree.Names)
    keys = [bytes(key) for key in names[::2]]
    assert keys == sorted(keys)
    assert len(set(keys)) == len(keys)
    for key, element in zip(keys, names[1::2], strict=True):
        assert bytes(element.ID) == key


def check_links(pdf: pikepdf.Pdf) -> None:
    """Links and outline lead to sheets of this document or to the web, none to `binder:`."""
    entries = [page.obj.objgen for page in pdf.pages]
    for page in pdf.pages:
        for link in page.obj.get("/Annots", []):
            assert int(link.F) & 4  # to be printed (ISO 19005-2, 6.3.2)
            if "/Dest" in link:
                assert link.Dest[0].objgen in entries
                # What is read out in place of it (ISO 14289-1, 7.18.5).
                there = f"sheet {entries.index(link.Dest[0].objgen) + 1}"
                assert str(link.Contents) == there or re.fullmatch(r"(Footnote )?\d+", str(link.Contents))
            else:
                assert re.match(r"https?:|mailto:|tel:", str(link.A.URI))
    for _title, _depth, number in outline(pdf):
        assert 0 <= number < len(pdf.pages)


def outline(pdf: pikepdf.Pdf) -> Iterator[tuple[str, int, int]]:
    """(title, depth, sheet from 0) of every line of the outline, following every chain it has."""
    entries = {page.obj.objgen: number for number, page in enumerate(pdf.pages)}

    def walk(parent: Any, depth: int) -> Iterator[tuple[str, int, int]]:
        line, before = parent.get("/First"), None
        while line is not None:
            assert line.Parent.objgen == parent.objgen
            assert (line.get("/Prev").objgen if "/Prev" in line else None) == (before.objgen if before else None)
            yield str(line.Title), depth, entries[line.Dest[0].objgen]
            yield from walk(line, depth + 1)
            before, line = line, line.get("/Next")
        if before is not None:
            assert parent.Last.objgen == before.objgen

    yield from walk(pdf.Root.Outlines, 0)


def test_the_document_is_sound(made: Made):
    """Structure, links, tags, fonts and the PDF/A claim hold."""
    check_sound(made.path)


def test_the_outline_names_sections_months_and_entries(made: Made):
    """Sections at the top; under Entries the months, under them the entries in order."""
    with pikepdf.open(made.path) as pdf:
        lines = list(outline(pdf))
    assert [title for title, depth, _ in lines if depth == 0] == [
        "Summary sheet",
        "Contents",
        "Inspection pack",
        "Hours by person and assembly",
        "Gaps in the evidence",
        "Album",
        "Calendar of worked days",
        "Closed structures",
        "Inspections",
        "Tasks",
        "Papers, materials and tools",
        "Entries",
        "The builder's pages",
        "Index of steps",
        "Index of people",
        "About this record",
    ]
    assert ("February 2026", 1) in [(title, depth) for title, depth, _ in lines]
    entries = [title for title, depth, _ in lines if depth == 2]
    assert entries == [entry.title for entry in made.view.entries]
    numbers = [number for _, _, number in lines]
    assert numbers == sorted(numbers)


def test_every_sheet_has_its_number_and_the_strip(pages: list[str]):
    """`12 of 24` on every sheet, with aircraft, span, day of making and seal."""
    for number, page in enumerate(pages, start=1):
        assert f"{number} of {len(pages)}" in page
        assert "Tarn · QX-TRN" in page
        assert "7 February 2026 to 11 February 2026" in page
        assert "1 July 2026" in page
        assert "not sealed" in page


def test_numbers_in_contents_and_calendar_are_the_sheets_numbers(made: Made, pages: list[str]):
    """What the contents and the calendar say is where the heading stands."""
    with pikepdf.open(made.path) as pdf:
        where = {title: number + 1 for title, _depth, number in outline(pdf)}
    contents = sheet_with(pages, "Contents", "Index of people")
    for title in ("Album", "Entries", "Index of steps"):
        assert f"{title} {where[title]} " in contents
    month = sheet_with(pages, "Calendar of worked days", "WHAT WAS DONE")
    assert f"Skeleton 6:00 {where['Skeleton']} Flaps" in month


@pytest.mark.slow
def test_same_plan_same_bytes(tmp_path: Path, made: Made):
    """The same binder set again is the same file; another day of making gives another."""
    render_binder(made.planned, tmp_path / "again.pdf", made_at=MADE_AT)
    assert (tmp_path / "again.pdf").read_bytes() == made.path.read_bytes()
    render_binder(made.planned, tmp_path / "later.pdf", made_at=datetime(2026, 7, 2, tzinfo=UTC))
    assert (tmp_path / "later.pdf").read_bytes() != made.path.read_bytes()


@pytest.mark.slow
def test_parts_make_the_same_binder(tmp_path: Path, made: Made, monkeypatch: pytest.MonkeyPatch):
    """Set one entry at a time, the same is told under the same headings, and the document is sound."""
    monkeypatch.setattr(setting, "_ENTRIES_TO_A_PART", 1)
    monkeypatch.setattr(setting, "_volumes", lambda entries: [[entry] for entry in entries])
    render_binder(made.planned, tmp_path / "parts.pdf", made_at=MADE_AT)
    check_sound(tmp_path / "parts.pdf")
    with pikepdf.open(made.path) as one, pikepdf.open(tmp_path / "parts.pdf") as many:
        assert [line[:2] for line in outline(many) if line[1] != 1] == [
            line[:2] for line in outline(one) if line[1] != 1
        ]
    for title in (entry.title for entry in made.view.entries):
        words = [entry_on(texts(path), title)[:200] for path in (made.path, tmp_path / "parts.pdf")]
        assert words[0] == words[1]


def test_volumes_are_whole_months():
    """Entries part at months once there are enough, and in a month only where it has twice as many."""

    def entries(*months: int) -> list[dict[str, Any]]:
        return [{"opens": n == 0} for number in months for n in range(number)]

    assert [len(part) for part in setting._volumes(entries(50, 50, 50))] == [100, 50]
    assert [len(part) for part in setting._volumes(entries(200))] == [160, 40]
    assert [len(part) for part in setting._volumes([])] == [0]
    assert sum(len(part) for part in setting._volumes(entries(*[7] * 100))) == 700


def test_a_stopped_setting_leaves_what_was_there(tmp_path: Path, made: Made, monkeypatch: pytest.MonkeyPatch):
    """The old binder stays until the new one is whole, and no scratch remains."""
    out = tmp_path / "record.pdf"
    out.write_bytes(b"old")

    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(setting, "join_parts", stop)
    with pytest.raises(KeyboardInterrupt):
        render_binder(made.planned, out, made_at=MADE_AT)
    assert out.read_bytes() == b"old"
    assert [path.name for path in tmp_path.iterdir()] == ["record.pdf"]


def test_every_sheet_is_of_one_size(made: Made):
    """A4 (ISO 216)."""
    with pikepdf.open(made.path) as pdf:
        for page in pdf.pages:
            assert [float(value) for value in page.mediabox[2:]] == pytest.approx((595.28, 841.89), abs=0.1)


# ---------------------------------------------------------------- seals, privacy, odd builds


def test_the_head_of_the_chain_stands_whole_on_the_summary(tmp_path: Path, made: Made):
    """All 64 digits on sheet 1, the first twelve on every sheet, and each entry's story at its head."""
    seal = Seal(
        line=1,
        kind=Kind.ENTRY,
        id="2026-02-07-ribs",
        date=date(2026, 2, 7),
        text="0" * 64,
        files={},
        sealed_at=datetime(2026, 2, 10, 20, tzinfo=UTC),
        prev="0" * 64,
        sha256="abcdef0123456789" * 4,
    )
    planned = plan_binder(
        made.view,
        pictures_of(made.journal, made.view),
        made_on=MADE,
        chain=Chain(seals=(seal,)),
    )
    render_binder(planned, tmp_path / "sealed.pdf", made_at=MADE_AT)
    pages = texts(tmp_path / "sealed.pdf")
    assert seal.sha256 in pages[0].replace(" ", "")
    assert all(seal.sha256[:12] in page for page in pages)
    assert "sealed 3 days after the work" in sheet_with(pages, "DAY 1", "HOURS TO DATE")
    assert "not sealed" in sheet_with(pages, "DAY 2", "HOURS TO DATE")


def test_without_private_things_nothing_private_is_printed(tmp_path: Path):
    """From the public's view: no private entry, passage or answer, no full name, no clock time of a picture."""
    made = make(tmp_path, FILES, Audience.PUBLIC)
    whole = " ".join(texts(made.path))
    for words in ("Top skin riveted", "2026-02-09-closed", "camera was at home", "under the mat", "Bergstrom", "Petra"):
        if words == "Petra":  # she is named by the builder in a public text; her full name is not
            assert "Petra Kalm" not in whole
            continue
        assert words not in whole, words
    assert "10:00:00" not in whole
    assert "taken 7 February 2026 ·" in whole
    assert "Kit invoice" not in whole
    assert "QX-TRN" not in whole
    assert "Nothing has been sealed" not in whole
    assert "Inspection pack" not in whole
    check_sound(made.path)


def test_a_build_without_entries_has_a_binder(tmp_path: Path):
    """The first evening: nothing written yet, and the binder says so."""
    made = make(tmp_path, {"build.yml": FILES["build.yml"], "steps.csv": FILES["steps.csv"]})
    pages = texts(made.path)
    assert "Nothing has been written yet" in " ".join(pages)
    assert "0 of 5" in pages[0]


def test_long_things_stay_on_the_sheet(tmp_path: Path):
    """A title of 300 letters, a caption of 2,000, a list of 40 steps, a table of 12 columns, a word of 200
    letters: nothing stands outside the frame.
    """
    steps = "assembly,step,title,page,closes\n" + "".join(f"flaps,9.{n},Step {n},,\n" for n in range(0, 160, 2))
    named = ", ".join(f"9.{n}" for n in range(0, 160, 4))
    files: dict[str, str | bytes] = {
        "build.yml": FILES["build.yml"],
        "steps.csv": steps,
        "entries/2026-02-07-long/index.md": f"---\ntitle: {'long title ' * 27}\ndate: 2026-02-07\nassembly: flaps\n"
        f"steps: [{named}]\nhours: 1:00\nphotos:\n  a.jpg: {'caption words ' * 140}\n---\n"
        + "| "
        + " | ".join(f"column {n}" for n in range(12))
        + " |\n|"
        + "---|" * 12
        + "\n| "
        + " | ".join("some words" for _ in range(12))
        + " |\n\n"
        + "unbreakable" * 18
        + "\n",
        "entries/2026-02-07-long/a.jpg": jpeg("2026:02:07 10:00:00"),
    }
    made = make(tmp_path, files)
    inside_the_frame(made.path)
    # Hours and sheet stand on the first line of a title that takes several.
    (calendar,) = [page for page in texts(made.path) if "WHAT WAS DONE" in page]
    assert re.search(r"Sa 7 (long title )+(long )?2:00 \d+ (title|long) ", calendar)


def inside_the_frame(path: Path) -> None:
    """Beyond the frame (20 mm left, 10 mm elsewhere) every sheet is white."""
    document = pypdfium2.PdfDocument(path)
    try:
        for page in document:
            picture = page.render(scale=1).to_pil().convert("L")
            width, height = picture.size
            left, other = int(19.4 * 72 / 25.4), int(9.4 * 72 / 25.4)
            for box in (
                (0, 0, left, height),
                (width - other, 0, width, height),
                (0, 0, width, other),
                (0, height - other, width, height),
            ):
                assert picture.crop(box).getextrema()[0] > 250, f"sheet has ink outside its frame at {box}"
    finally:
        document.close()


def test_pictures_are_printed_as_they_are(made: Made):
    """The JPEG in the document is the rendition, byte for byte, and shows in its place."""
    wanted = {rendition.path.read_bytes() for rendition in made.planned.pictures.values()}
    with pikepdf.open(made.path) as pdf:
        found = {
            one.read_raw_bytes()
            for one in pdf.objects
            if isinstance(one, pikepdf.Stream)
            and one.get("/Subtype") == "/Image"
            and one.get("/Filter") == "/DCTDecode"
        }
    assert wanted == found
    assert all(Image.open(io.BytesIO(data)).getexif() == {} for data in found)


def test_beyond_the_budget_pictures_are_smaller(made: Made, monkeypatch: pytest.MonkeyPatch):
    """Past the budget the entries' pictures are at most 480 px long, those of the album stay at 960."""
    big = {
        uri: Picture(renditions=(Fake(480, 360), Fake(960, 720), Fake(1920, 1440)), trouble="")  # type: ignore[arg-type]
        for uri in (photo.src_uri for entry in made.view.entries for photo in entry.photos)
    }
    roomy = plan_binder(made.view, big, made_on=MADE)
    assert {one.width_px for one in roomy.pictures.values()} == {960}
    monkeypatch.setattr(binder_parts, "PICTURE_BUDGET_BYTES", 10)
    tight = plan_binder(made.view, big, made_on=MADE)
    assert {one.width_px for one in tight.pictures.values()} == {480, 960}


class Fake:
    """A rendition that is only looked at."""

    def __init__(self, width: int, height: int) -> None:
        self.width_px, self.height_px, self.bytes = width, height, width * height // 8
        self.path = Path(f"{width}x{height}.jpg")


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("pdfinfo") is None, reason="poppler is not installed")
def test_poppler_reads_it(made: Made):
    """Poppler sees the title, the tags and the sheets."""
    told = subprocess.run(["pdfinfo", str(made.path)], capture_output=True, text=True, check=True).stdout
    assert re.search(r"Title:\s+Tarn: build record", told)
    assert re.search(r"Tagged:\s+yes", told)
    assert re.search(rf"Pages:\s+{len(texts(made.path))}\b", told)
    tree = subprocess.run(
        ["pdfinfo", "-struct-text", str(made.path)], capture_output=True, text=True, check=True
    ).stdout
    assert "Ribs in a row" in tree


@pytest.mark.skipif(shutil.which("qpdf") is None, reason="qpdf is not installed")
def test_qpdf_finds_nothing(made: Made):
    """`qpdf --check` ends with 0 and without a warning."""
    done = subprocess.run(["qpdf", "--check", str(made.path)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "No syntax or stream encoding errors found" in done.stdout


# ---------------------------------------------------------------- when it was sealed, letters, papers


def sealed(*at: datetime, first: date = date(2026, 2, 7)) -> Chain:
    """A chain with a line for each entry of the small build, written at these moments."""
    ids = ("2026-02-07-ribs", "2026-02-08-skeleton", "2026-02-09-closed")
    lines = [
        Seal(
            **{"line": number, "kind": Kind.ENTRY, "id": name, "date": first + timedelta(days=number - 1), "files": {}},
            **{"text": "0" * 64, "sealed_at": moment, "prev": "0" * 64, "sha256": f"{number:064x}"},
        )
        for number, (name, moment) in enumerate(zip(ids, at, strict=False), start=1)
    ]
    return Chain(seals=tuple(lines))


def test_the_first_sheet_says_when_the_seals_were_made(made: Made):
    """In one go long after the work is said plainly; else the span, the half that came soon, and the latest."""
    late = datetime(2026, 12, 25, 20, 0, 30, tzinfo=UTC)
    at_once = binder_parts.say_sealing(sealed(late, late, late), made.view)
    assert at_once.startswith(
        "All 3 lines were written in one minute, 2026-12-25 20:00 UTC, up to 321 days after the work"
    )
    assert "tell nothing of the days before" in at_once
    assert "texts are not sealed" in at_once
    days = [datetime(2026, 2, day, 20, tzinfo=UTC) for day in (8, 9, 20)]
    apart = binder_parts.say_sealing(sealed(*days), made.view)
    assert apart.startswith("3 lines written between 8 February 2026 and 20 February 2026; half of what is sealed was ")
    assert "within 1 day of the work, the last 11 days after it" in apart


def test_what_vouches_for_the_chain_is_said_with_what_was_not_checked():
    """No stamp is said; one is told with its faults, or with what remains to be checked."""
    assert "No time-stamp vouches for the chain" in binder_parts.say_stamps([])
    bad = Stamp(name="a.tsr", answer=Answer(faults=("its signature is wrong",)), line=1)
    assert "a.tsr: worthless, its signature is wrong." in binder_parts.say_stamps([bad])
    good = Stamp(name="b.tsr", answer=Answer(signer="Clock Ltd", unchecked=("whether it was revoked",)), line=3)
    told = binder_parts.say_stamps([good])
    assert "line 3 and all before it existed" in told
    assert "Not checked: whether it was revoked." in told


def test_letters_that_no_font_holds_are_a_finding(made: Made):
    """One for each text, with the letters and their numbers; letters that print are none."""
    found = setting.check_letters(made.view)
    assert {problem.word for problem in found} == {"letters-unprintable"}
    (hostile,) = [problem for problem in found if "hostile" in problem.file]
    for words in ("中 (U+4E2D)", "文 (U+6587)", "日 (U+65E5) and 2 more"):
        assert words in hostile.message
    assert "Ω" not in hostile.message


def test_papers_beyond_the_budget_lie_beside_the_document(tmp_path: Path, made: Made, monkeypatch: pytest.MonkeyPatch):
    """What is attached is told, and so is what is not; both with their digest."""
    path = tmp_path / "invoice.txt"
    path.write_bytes(b"invented")
    papers = {"invoice.txt": KeptPaper(path=path, bytes=8, sha256="ab" * 32)}
    for budget, where in ((8, "attached to this document"), (7, "in data/source/content/records")):
        monkeypatch.setattr(binder, "ATTACHED_BYTES", budget)
        planned = plan_binder(made.view, {}, made_on=MADE, papers=papers)
        (told,) = [one for one in planned.front["papers"]["records"] if one["file"] == "invoice.txt"]
        assert (told["digest"], told["where"]) == ("ab" * 32, where)
        assert bool(planned.files) is (budget == 8)


def test_gaps_that_find_no_room_on_the_first_sheet_are_counted(made: Made, monkeypatch: pytest.MonkeyPatch):
    """The weightiest stand there in words, the others by their code words."""
    monkeypatch.setattr(binder, "_GAPS_ON_SUMMARY", 1)
    words = plan_binder(made.view, {}, made_on=MADE).front["summary"]["gaps"]["words"]
    assert words[0].endswith("(closed-findings-open)")
    assert re.fullmatch(r"and \d+ more of \d+ kinds: [a-z-]+(, [a-z-]+)*", words[1])
    assert "broken-link" in words[1]
