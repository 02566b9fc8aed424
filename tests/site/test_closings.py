"""Closing dossiers: what stands on the page and the sheet of a closed structure, and who sees it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from ledger.test_planted import ENTRIES, SOUND, TODAY, changed, closed_finding, look, looked, pictured, torque
from marked_build import BUILD, MARKER, journal_of

from journal.base.model import AuthorityRules, Build, FastenerSet, Material
from journal.ledger.evidence import find_gaps
from journal.ledger.hours import build_ledger
from journal.ledger.journal import Journal
from journal.ledger.progress import replay
from journal.site.closing_pages import closing_pages
from journal.site.site_context import SiteContext
from journal.trade.figures import Figure, Standing
from journal.view.dossier import Dossier, SheetCell, dossiers, say_measured
from journal.view.inspector_parts import inspection_pack
from journal.view.view import Audience, View, open_view

GOLDEN = Path(__file__).with_name("closings.golden.txt")


def view_of(build: Build, audience: Audience = Audience.ARCHIVE) -> View:
    """What an audience sees of a build."""
    ledger, progress = build_ledger(build), replay(build)
    evidence = find_gaps(build, ledger, progress, TODAY)
    told = {"build": build, "ledger": ledger, "progress": progress, "evidence": evidence}
    return open_view(Journal(root=Path(), today=TODAY, **told), audience)


def said(cell: SheetCell) -> str:
    """A cell in words."""
    return cell if isinstance(cell, str) else " ".join(str(told.date) for told in cell)


def rows(dossier: Dossier, title: str) -> list[list[str]]:
    """The rows of one of its tables."""
    (table,) = [table for table in dossier.tables if table.title == title]
    return [[said(cell) for cell in row] for row in table.rows]


def test_a_dossier_holds_what_is_behind_a_closing() -> None:
    """The tank with its own steps and its test, the wing with every step before it."""
    tank, wing = dossiers(view_of(SOUND))
    assert [row[0] for row in rows(tank, "What is behind it")] == ["7.1", "7.2", "7.3", "7.4"]
    assert [row[0] for row in rows(wing, "What is behind it")] == ["7.1", "7.2", "7.4", "7.5", "7.6", "7.7"]
    assert wing.block["Closed on"] == "21 March 2026"
    assert wing.block["Closed by"] == wing.block["Who worked on it"] == "Ana Lindqvist"
    assert wing.block["Last look before"] == "passed with findings, 14 March 2026"
    assert [photo.name for photo in wing.pictures] == ["IMG_0110.jpg", "IMG_0111.jpg"]
    assert [photo.name for photo in tank.pictures] == ["IMG_0102.jpg", "IMG_0103.jpg"]
    (look,) = rows(wing, "Looked at by others")
    assert look == [
        "2026-03-14",
        "Dora Fenn",
        "closing: passed with findings",
        "C1: A grommet is missing.",
        "21 March 2026",
        "2026-03-21",
    ]
    assert rows(tank, "Looked at by others") == []
    assert [row[0] for row in rows(tank, "Tests and measurements")] == ["2026-02-28"]
    (bolts,) = rows(wing, "Bolts, rivets and materials")
    assert bolts[:4] == [
        "AN5-10A, tension",
        "16",
        "131 in-lb, drag 11 in-lb; small wrench; no lock written down",
        "no torque written down",
    ]
    assert wing.tables[-1].note == "small wrench: checked on 20 January 2026, good to 20 January 2027"
    assert rows(tank, "Bolts, rivets and materials") == []


def everything_told(dossier: Dossier) -> str:
    """A dossier as text, every word and figure of it."""
    lines = [f"## {dossier.title}", *(f"{name}: {words}" for name, words in dossier.block.items())]
    lines += [f"asked: {said} ({answer})" for said, answer in dossier.asked]
    for table in dossier.tables:
        lines += [f"# {table.title} (wide: {table.columns[table.wide]})", " | ".join(table.columns)]
        lines += [" | ".join(map(said, row)) for row in table.rows] + ([table.note] if table.note else [])
    return "\n".join([*lines, *(f"picture {photo.name}" for photo in dossier.pictures)]) + "\n"


def test_every_word_as_it_was_last_accepted(pytestconfig: pytest.Config) -> None:
    """Of a sound build, one with more set and used, one not looked at closely, one left open, one opened again."""
    set_too = {
        "fasteners": (FastenerSet(rivet="AN470AD4-5", count=48, step="7.6"), FastenerSet(rivet="AN3-5A", step="7.6")),
        "torque": (torque(), replace(torque(), step="7.6", bolt="AN4-10A", wrench="", drag=None, locked="cotter")),
        "materials": ("p", "s"),
    }
    kept = {"p": Material(id="p", name="Primer", batch="B-17", expires=TODAY), "s": Material(id="s", name="Sealant")}
    builds = {
        "sound": SOUND,
        "more": replace(changed(4, **set_too), materials=kept),
        "nothing found": looked(findings=(), people=("ana",), stage=""),
        "left open": closed_finding(closed_on=None, closed_by=None),
        "not closed": replace(SOUND, entries=ENTRIES[:5], inspections=(), measurements=()),
        "opened again": changed(7, redone=("7.6",)),
    }
    unread = [
        replace(one, photos=tuple(replace(photo, facts=replace(photo.facts, trouble="torn")) for photo in one.photos))
        for one in SOUND.entries
    ]
    builds["pictures that cannot be read"] = replace(SOUND, entries=tuple(unread))
    whole = "\n".join(
        f"{name}\n\n" + "\n".join(map(everything_told, dossiers(view_of(build)))) for name, build in builds.items()
    )
    if pytestconfig.getoption("--rewrite-goldens"):
        GOLDEN.write_text(whole, "utf-8", newline="\n")
    assert whole == GOLDEN.read_text("utf-8")


def test_what_an_inspector_would_ask_stands_first() -> None:
    """The heaviest first; what was left open is said at its step."""
    build = closed_finding(closed_on=None, closed_by=None)
    build = replace(
        build,
        entries=(
            *ENTRIES[:3],
            *ENTRIES[4:5],
            replace(ENTRIES[5], torque=(replace(torque(), wrench=""),)),
            *ENTRIES[6:],
        ),
    )
    _, wing = dossiers(view_of(build))
    words = [gap.problem.word for gap in wing.gaps]
    assert words[:3] == ["closed-findings-open", "closed-steps-open", "wrench-missing"]
    assert wing.block["Steps behind it"] == "5, 1 not done on that day"
    assert ["7.4", "Tank: leak test", "not begun, not on the day of closing", "", "none"] in rows(
        wing, "What is behind it"
    )


def test_work_behind_it_after_the_closing_is_shown() -> None:
    """As a question and at its step; where it put a finding right, with that."""
    _, wing = dossiers(view_of(changed(7, redone=("7.6",))))
    assert wing.block["Steps behind it"] == "5, all done; 1 worked on after the closing"
    assert [gap.problem.word for gap in wing.gaps] == ["closed-reworked"]
    assert rows(wing, "What is behind it")[4][2] == "done over 28 March 2026, after the closing"
    build = changed(7, redone=("7.6",))
    found = look(id="later", date=ENTRIES[7].date, findings=(replace(look().findings[0], closed_by=ENTRIES[7].id),))
    _, wing = dossiers(view_of(replace(build, inspections=(look(), found))))
    assert ("step 7.6 was worked on again on 28 March 2026, after the closing", "it put a finding right") in wing.asked


def test_who_was_seen_behind_it_counts() -> None:
    """Paid help in a picture that no entry names is asked about and worked there; builders who looked are marked."""
    tank, wing = dossiers(view_of(pictured(0, people=("cy",))))
    for one in (tank, wing):
        assert [gap.problem.word for gap in one.gaps] == ["paid-unlisted"]
        assert one.block["Who worked on it"] == "Ana Lindqvist, Cyril Aldous"
    _, wing = dossiers(view_of(changed(0, steps=(), people=("ana", "bo"))))
    assert wing.block["Who worked on it"] == "Ana Lindqvist, Bo Hale"
    _, wing = dossiers(view_of(looked(people=("ana",))))
    assert rows(wing, "Looked at by others")[0][1] == "Ana Lindqvist (a builder)"


def test_an_inspection_without_a_picture_of_the_inside_is_said() -> None:
    """It does for the rules; the sheet says which of the two is missing. The step that closes it is told as such."""
    photos = tuple(replace(photo, inside=False) for photo in ENTRIES[5].photos)
    tank, wing = dossiers(view_of(changed(5, photos=photos)))
    said = ("no picture of the inside vouches for this closing", "inspected and passed on 14 March 2026")
    assert (wing.gaps, wing.asked, tank.asked) == ((), (said,), ())
    assert [row[1] for row in rows(tank, "What is behind it")[2:]] == [
        "Tank: rear baffle (closes it)",
        "Tank: leak test (tests it)",
    ]


def test_the_pack_says_what_was_open_who_looked_and_who_was_paid() -> None:
    """Open at the closing though put right since, a builder who looked, paid help seen in a picture alone."""
    build = closed_finding(closed_on=ENTRIES[7].date, closed_by=ENTRIES[7].id)
    build = replace(build, inspections=(replace(build.inspections[0], people=("ana",)),))
    others = {**build.people, "di": replace(build.people["cy"], id="di", name="Dina Voss")}
    build = replace(build, people=others, entries=pictured(0, people=("cy", "di")).entries)
    pack = inspection_pack(replace(view_of(build), rules=AuthorityRules(country="Tarnland")))
    parts = {part.title: [[cell for cell in row if isinstance(cell, str)] for row in part.rows] for part in pack}
    assert parts["Looks before closing"][1][-2:] == [
        "Ana Lindqvist (a builder): passed with findings",
        "1 open at the closing",
    ]
    assert ["seen in a picture, not named in what it shows", "–", "Cyril Aldous, Dina Voss"] in parts["Paid help"]


def test_a_measurement_is_told_with_how_it_came_out() -> None:
    """The newest of each thing measured, the worst of these."""
    (test,) = view_of(SOUND).measurements
    failed = replace(
        test, table=replace(test.table, figures=(Figure(what="fall", recorded="9 mm", standing=Standing.DEPARTS),))
    )
    good = replace(
        test,
        table=replace(test.table, figures=(Figure(what="fall", recorded="9 mm", standing=Standing.AS_CALLED_FOR),)),
    )
    assert say_measured([failed]) == "not as called for"
    assert say_measured([good, replace(failed, steps=())]) == "not as called for"
    assert say_measured([replace(good, date=TODAY), failed]) == "as called for"
    assert say_measured([replace(test, table=replace(test.table, figures=()))]) == ""


def test_the_pages_lead_to_entries_and_back() -> None:
    """A list, then a page for each; all of it is found from the list."""
    listed, tank, wing = closing_pages(SiteContext(view_of(SOUND), {}))
    assert [page.address for page in (listed, tank, wing)] == ["closings/", "closings/7.3/", "closings/7.7/"]
    links = [row[0] for row in listed.groups[0].tables[0].rows]
    assert [link.address for link in links] == ["closings/7.3/", "closings/7.7/"]
    assert "manual and drawings come first" in wing.caution
    assert wing.groups[0].title == "What an inspector would ask"


def test_followers_have_no_dossier_and_the_preview_no_private_word() -> None:
    """The public view holds no closing; the builder's own screen shows names as they are shown, and no question."""
    assert view_of(SOUND, Audience.PUBLIC).closings == ()
    assert list(dossiers(view_of(SOUND, Audience.PUBLIC))) == []
    _, wing = dossiers(view_of(SOUND, Audience.PREVIEW))
    assert (wing.block["Closed by"], wing.gaps) == ("builder", ())
    site = SiteContext(open_view(journal_of(BUILD), Audience.PREVIEW), {})
    assert not [page.address for page in closing_pages(site) if MARKER in repr(page)]
