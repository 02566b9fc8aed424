"""What an inspector reads in tables: the pack, gaps, tasks, people, batches, bulletins, tools.

`inspector_parts.golden.txt` holds every word of them for three builds; `--rewrite-goldens` accepts a change.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest
from small_build import BUILD, FILES, jpeg, open_small

from journal.base.model import Step
from journal.ledger.journal import Journal
from journal.trade.tally import add_up
from journal.view.inspector_parts import (
    Cell,
    PackPart,
    batches,
    bulletins,
    calibrated_tools,
    gap_parts,
    inspection_pack,
    people_told,
    say_tally,
    task_sections,
)
from journal.view.view import Audience, Evidence, open_view

GOLDEN = Path(__file__).with_name("inspector_parts.golden.txt")

INSPECTION = """\
---
title: {title}
date: {date}
assembly: wing
stage: {stage}
inspector: insp
outcome: passed
{findings}---
Looked.
"""

MORE: dict[str, str | bytes] = {
    **FILES,
    "build.yml": BUILD + "rules: us\nmanual: {edition: 3}\n",
    "records/records.csv": "file,date,kind,title,note\n"
    "invoice.txt,2026-01-12,invoice,Kit invoice,\n"
    "registration.txt,2026-01-13,Registration,Extract of the register,\n"
    "permit.txt,2026-03-01,Permit to fly,Permit,\n",
    "records/registration.txt": "invented",
    "records/permit.txt": "invented",
    "entries/2026-02-10-plate/index.md": "---\ntitle: The plate\ndate: 2026-02-10\nassembly: wing\nsteps: [7.10]\n"
    "hours: 1:00\npeople: [ada, pay]\nphotos:\n  p.jpg: {caption: Plate, identity: true}\n"
    "  in.jpg: {caption: Inside, inside: true}\n---\nRiveted on.\n",
    "entries/2026-02-10-plate/p.jpg": jpeg("2026:02:10 10:00:00"),
    "entries/2026-02-10-plate/in.jpg": jpeg("2026:02:10 11:00:00", colour="red"),
    "inspections/2026-02-08-closing/index.md": INSPECTION.format(
        title="Before", date="2026-02-08", stage="closing", findings=""
    ),
    "inspections/2027-02-08-condition/index.md": INSPECTION.format(
        title="Yearly",
        date="2027-02-08",
        stage="Condition inspection",
        findings="findings: [{id: D1, text: Chafed line}, {id: D2, text: Crack, closed_on: 2027-02-09}]\n",
    ),
}


OTHERS = "  lin: {name: Lin Aster, role: helper}\n  tam: {name: Tam Orr, role: paid}\n"

RICH: dict[str, str | bytes] = {
    **MORE,
    "build.yml": BUILD.replace("  insp:", f"{OTHERS}  insp:") + "rules: ca\n",
    "tasks.csv": "section,task,name,maker,paid,assembly,fabrication,steps,note\n"
    "Wings,1,Flap ribs,2,1,3,4,5.1; 5.2,\nWings,2,Wing spar,10,0,0,0,7.1,bought\n"
    ",3,Wing,0,4,3,3,7.10,\nTank,4,Tank,n/a,n/a,n/a,n/a,5.3,none here\nTank,5,Cap,0,0,10,0,,\n",
    "materials.csv": "id,name,batch,expires,record,mix,work_life,used_up\n"
    "primer,Wash primer,B-17,2026-02-07,invoice.txt,4 to 1,2 h,yes\nseal,Sealant,,,,,,\n",
    "tools.csv": "name,checked_on,check_every_months\ntorque wrench,2025-02-05,12\nscale,,\n",
    "bulletins.csv": "id,date,title,concerns,state,done_in,record,note\n"
    "SB-1,2026-01-02,Brackets,wing,done,2026-02-10-plate,invoice.txt,\nSB-2,,Plate,7.1 to 7.10,,,,waits\n"
    "SB-3,2026-01-03,All,,not applicable,,,other engine\n",
    "measurements/2026-02-12-weighing/index.md": "---\ntitle: Weighing\ndate: 2026-02-12\nmeasured_by: ada\n"
    "checked_by: lin\ninstrument: three scales\ndatum: leading edge\nscales:\n"
    "  - {at: left, weight: 400 lb, arm: 22 in}\n  - {at: nose, weight: 200 lb, arm: -49 in}\n"
    "limits: [{weight: 900 lb, forward: -20 in, aft: 14 in}]\nmax_weight: 1650 lb\n"
    "cases: [{name: first flight, add: [{what: pilot, weight: 230 lb, arm: 18 in}]}]\n---\n",
    "measurements/2026-02-13-leak/index.md": "---\ntitle: Leak test\ndate: 2026-02-13\nkind: leak test\n"
    "assembly: wing\nmeasured_by: bo\nresults: [{what: drop, value: 0 mm}]\n---\n",
    "entries/2026-03-02-after/index.md": "---\ntitle: After\ndate: 2026-03-02\nassembly: flaps\nredone: [5.3]\n"
    "people: [lin, bo]\n---\nDone over.\n",
    "entries/2026-03-03-rigging/index.md": "---\ntitle: Rigging\ndate: 2026-03-03\nassembly: flaps\n"
    "people: [ada, pay, tam]\n---\nNo step of ours.\n",
    "entries/2026-03-04-tank/index.md": "---\ntitle: Tank\ndate: 2026-03-04\nassembly: flaps\nredone: [5.3]\n"
    "people: [pay, tam]\n---\nSealed.\n",
}


def pack_of(folder: Path, audience: Audience) -> Mapping[str, PackPart]:
    """The parts by their headings."""
    view = open_view(open_small(folder, MORE), audience)
    return {part.title: part for part in inspection_pack(view)}


@pytest.fixture(scope="module")
def pack(tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, PackPart]:
    """The inspector's."""
    return pack_of(tmp_path_factory.mktemp("pack"), Audience.ARCHIVE)


def plain(cell: Cell) -> str:
    """A cell in words: what it leads to by title."""
    return cell if isinstance(cell, str) else "; ".join(place.title for place in cell)


def row(part: PackPart, first: str) -> tuple[str, ...]:
    """The words of the row that begins so."""
    return next(tuple(map(plain, cells)) for cells in part.rows if plain(cells[0]).startswith(first))


def test_papers_are_held_against_the_rules_and_practice(pack: Mapping[str, PackPart]):
    """The country's papers first, each with its source; of practice only what they do not name; kept by its kind."""
    part = pack["Papers asked for"]
    assert row(part, "Registration")[1:3] == ("kept", "Extract of the register")
    assert row(part, "Program letter")[1:3] == ("not kept", "")
    assert row(part, "Builder")[1] == "this record"
    assert row(part, "Operating limitations")[1:] == ("not kept", "", "common practice")
    assert sum(plain(cells[0]).startswith("Registration") for cells in part.rows) == 1
    lacking = sum(cells[1] == "not kept" for cells in part.rows)
    assert f"{len(part.rows)} papers asked for, {lacking} not kept" in part.words[0]
    assert all(cells[3] for cells in part.rows)


def test_identity_tells_what_is_written_and_shows_the_plate(pack: Mapping[str, PackPart]):
    """Registration, serial, edition of the manual, rules, and the pictures marked `identity`."""
    part = pack["Identity of the aircraft"]
    assert [photo.name for photo, _ in part.photos] == ["p.jpg"]
    assert row(part, "Registration") == ("Registration", "QX-TRN")
    assert row(part, "Edition")[1] == "3"
    assert not part.words


def test_a_closing_tells_who_looked_before_it_and_not_who_came_later(pack: Mapping[str, PackPart]):
    """The wing was closed on 10 February: the look of the 8th counts, that of a year later does not."""
    wing = row(pack["Looks before closing"], "the wing")
    assert wing[:4] == ("the wing (step 7.10)", "done, 10 February 2026", "1 picture", "The plate")
    assert wing[4:] == ("Ines Petrov: passed", "Before", "none open")


def test_paid_help_is_told_with_its_day_and_the_invoices(pack: Mapping[str, PackPart]):
    """A paid day that no task names stands there all the same."""
    told = [tuple(map(plain, cells)) for cells in pack["Paid help"].rows]
    assert ("no task names its steps", "–", "Petra Kalm", "The plate") in told
    assert told[-1] == ("Invoices among the papers", "", "", "Kit invoice")


def test_signatures_have_room_for_the_hand(pack: Mapping[str, PackPart]):
    """Builders always, others where they put a name to something; the last column is empty."""
    rows = pack["Signatures"].rows
    assert [plain(cells[0]) for cells in rows] == ["Ada Bergstrom", "Bo Lindqvist", "Ines Petrov"]
    assert {cells[-1] for cells in rows} == {""}


def test_after_the_certificate_come_condition_inspections_and_defects(pack: Mapping[str, PackPart]):
    """From the day of the permit on; each inspection with its defects and how many are open."""
    part = pack["After the certificate"]
    assert part.words == ("A certificate is dated 1 March 2026.",)
    assert [tuple(map(plain, cells)) for cells in part.rows] == [
        ("8 February 2027", "Condition inspection", "Ines Petrov", "2 defects, 1 open", "Yearly")
    ]


def test_followers_get_nothing_and_the_preview_no_names_or_money(tmp_path: Path):
    """The public has no pack and no picture of the plate; the builder's preview has the papers asked for."""
    journal = open_small(tmp_path, MORE)
    public = open_view(journal, Audience.PUBLIC)
    assert inspection_pack(public) == ()
    assert all(photo.name != "p.jpg" for told in public.told for photo in told.photos)
    preview = inspection_pack(open_view(journal, Audience.PREVIEW))
    assert [part.title for part in preview] == ["Identity of the aircraft", "Papers asked for"]
    assert preview[0].photos == preview[0].words == ()
    assert row(preview[0], "Registration")[1] == "told in the archive alone, where it is written down"


def told(part: PackPart) -> str:
    """A part as text, every word and figure of it."""

    def cell(one: Cell) -> str:
        if isinstance(one, str):
            return one
        return "; ".join(place.id if isinstance(place, Step) else f"[{place.title}]" for place in one)

    lines = [f"## {part.title}", *part.words, *(f"picture {photo.name} of {of.title}" for photo, of in part.photos)]
    lines.append(" | ".join(f"{name} {share}" for name, share in part.columns.items()))
    lines += [" | ".join(map(cell, row)) for row in (*part.rows, part.sums)]
    lines.append(f"figures {sorted(part.figures)}{', by hand' if part.by_hand else ''}")
    return "\n".join(lines) + "\n"


def everything_told(journal: Journal) -> str:
    """All parts of a build, and its arithmetic."""
    view = open_view(journal, Audience.ARCHIVE)
    parts = [
        *inspection_pack(view),
        *gap_parts(view, view.evidence or Evidence()),
        *task_sections(view),
        *people_told(view),
        *(batches(view), bulletins(view), calibrated_tools(view)),
    ]
    return "\n".join([*map(told, parts), *say_tally(add_up(line.line for line in view.tasks))])


def test_every_word_as_it_was_last_accepted(tmp_path: Path, pytestconfig: pytest.Config):
    """A bare build, one with rules, and one with something of everything: papers, batches, bulletins, a weighing."""
    bare = {"build.yml": BUILD, "steps.csv": "assembly,step,title,page,closes\n"}
    builds = {"bare": bare, "more": MORE, "rich": RICH}
    whole = "\n".join(
        f"# {name}\n\n{everything_told(open_small(tmp_path / name, files))}\n" for name, files in builds.items()
    )
    if pytestconfig.getoption("--rewrite-goldens"):
        GOLDEN.write_text(whole, "utf-8")
    assert whole == GOLDEN.read_text("utf-8")
