"""Closing dossiers: what stands on the page and the sheet of a closed structure, and who sees it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from ledger.test_planted import ENTRIES, SOUND, TODAY, closed_finding, torque
from marked_build import BUILD, MARKER, journal_of

from journal.base.model import Build
from journal.ledger.evidence import find_gaps
from journal.ledger.hours import build_ledger
from journal.ledger.journal import Journal
from journal.ledger.progress import replay
from journal.site.closing_pages import closing_pages
from journal.site.site_context import SiteContext
from journal.view.dossier import Dossier, SheetCell, dossiers
from journal.view.view import Audience, View, open_view


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
    assert rows(tank, "Bolts, rivets and materials") == []


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
