"""What tests of pages lay desks with: a small build as text, and pictures that exist by name alone."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from pathlib import Path

from making import entry

from journal.base.model import Photo, PhotoFacts
from journal.ledger.journal import Journal
from journal.site.site_context import SiteContext
from journal.view.page_parts import PageRecord
from journal.view.view import View

TODAY = date(2026, 7, 1)


@dataclass(frozen=True)
class FakeRendition:
    """A size of a picture that was never made."""

    width_px: int
    height_px: int
    name: str


@dataclass(frozen=True)
class FakePicture:
    """Three sizes, or none."""

    renditions: tuple[FakeRendition, ...] = ()
    trouble: str = ""


def picture(name: str, *, tall: bool = False) -> FakePicture:
    """A published picture in three widths."""
    sizes = [(360, 480), (720, 960), (1440, 1920)] if tall else [(480, 360), (960, 720), (1920, 1440)]
    return FakePicture(tuple(FakeRendition(w, h, f"{name}-{w}.jpg") for w, h in sizes))


def pictures_of(view: View) -> dict[str, FakePicture]:
    """A picture for every photo that the view shows, named by its file."""
    photos: list[Photo] = [photo for entry in view.entries for photo in entry.photos]
    photos += [photo for inspection in view.inspections for photo in inspection.photos]
    return {
        photo.src_uri: FakePicture(trouble=photo.facts.trouble)
        if photo.facts.trouble and "gone" in photo.name
        else picture(Path(photo.name).stem)
        for photo in photos
    }


BODY = """\
Deburred every hole of the ribs, both faces.

![A rib with its holes](one.jpg)

Read [the day before](../2026-02-01-first/index.md), or [about us](../../pages/about.md), or [the rivet](https://example.org/rivet).

!!! private
    The neighbour complained again.

!!! note
    Use the *blue* file.
"""

SMALL: Mapping[str, str | bytes] = {
    "entries/2026-02-01-first/index.md": entry(
        "title: First ribs\ndate: 2026-02-01\nsteps: [5.1]\nhours: 2:00\npeople: [ada]\n"
        "tools: [C-frame, deburring tool]",
        "Started with the ribs.",
    ),
    "entries/2026-02-07-second/index.md": entry(
        "title: Deburring the rest\ndate: 2026-02-07\nsteps: [5.2]\nbegun: [5.3]\nhours: 3:15\npeople: [ada, bo]\n"
        "tools: [c-frame]\nmethods: [deburring]\nphotos: {one.jpg: {caption: A rib with its holes, step: 5.2}, "
        "three.jpg: {caption: For us alone, private: true}}",
        BODY,
    ),
    "entries/2026-02-07-second/one.jpg": b"not a picture, but a file",
    "entries/2026-02-07-second/two.jpg": b"not a picture either",
    "entries/2026-02-07-second/three.jpg": b"private picture",
    "entries/2026-02-08-secret/index.md": entry(
        "title: The hidden day\ndate: 2026-02-08\nprivate: true\nhours: 1:30\npeople: [bo]", "Nobody may read this."
    ),
    "entries/2026-03-01-again/index.md": entry(
        "title: Done over\ndate: 2026-03-01\nredone: [5.1]\nhours: 0:45\npeople: [bo]", "Ribs again.\n"
    ),
    "entries/2026-03-02-wing/index.md": entry(
        "title: Spar\ndate: 2026-03-02\nassembly: left-wing\nbegun: [7.1]\nhours: 4:00\npeople: [ada, hanne]",
        "On the other bench.",
    ),
    "entries/2026-03-05-plan/index.md": entry(
        "title: Not yet\ndate: 2026-03-05\ndraft: true\nhours: 1:00", "Still writing."
    ),
    "inspections/2026-03-03-look/index.md": "---\ntitle: A look at the ribs\ndate: 2026-03-03\nassembly: flaps\n"
    "stage: closing\ninspector: insp\noutcome: passed with findings\nfindings:\n"
    "  - {id: F1, text: One rib has a burr, closed_on: 2026-03-04, closed_by: 2026-03-02-wing}\n"
    "  - {id: F2, text: No picture of the spar}\n---\n\nA mirror and a torch.\n",
    "pages/about.md": "# About us\n\nTwo people and a garage.\n",
    "inventory.csv": "crate,part,description,listed,found,condition,where,checked_on,by\n"
    "1,W-1007-L,Rib,2,1,good,rack,2026-01-11,ada\n1,W-1008-L,Rib,1,,,,,\n",
}

OpenJournal = Callable[..., Journal]
LayContext = Callable[..., SiteContext]


def usable(journal: Journal) -> Journal:
    """The journal with every photo a good one of 4000 by 3000, taken at noon of its entry's day."""

    def good(photo: Photo, day: date) -> Photo:
        taken = datetime.combine(day, time(12, 34, 56))
        return replace(photo, facts=PhotoFacts(kind="JPEG", width=4000, height=3000, taken=taken, offset="+01:00"))

    build = journal.build
    build = replace(
        build,
        entries=tuple(
            replace(one, photos=tuple(good(photo, one.date) for photo in one.photos)) for one in build.entries
        ),
    )
    return replace(journal, build=build)


def page_at(pages: Mapping[str, PageRecord] | list[PageRecord], address: str) -> PageRecord:
    """The page at an address."""
    return next(page for page in (pages.values() if isinstance(pages, Mapping) else pages) if page.address == address)
