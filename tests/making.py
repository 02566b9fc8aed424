"""What tests write build folders with, and read them again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from journal.base.model import Build
from journal.base.problems import Problem
from journal.finding.documents import documents
from journal.ledger.evidence import find_gaps
from journal.ledger.hours import build_ledger
from journal.ledger.journal import Journal
from journal.ledger.progress import replay
from journal.making.host import load_settings, site_options, write_site
from journal.making.lay_site import lay_site
from journal.reading.build import read_build
from journal.view.page_addresses import PageAddresses
from journal.view.view import Audience, View, open_view

BUILD_YML = """\
aircraft: {name: Tarn, kind: two-seat low-wing, registration: ZZ-TRN, serial: T-0042}
begun: 2026-01-10
zone: Europe/Zurich
people:
  ada: {name: Ada Bergstrom, shown_as: Ada, role: builder}
  bo: {name: Bo Lindqvist, role: builder}
  hanne: {name: Hanne Okafor, role: helper}
  insp: {name: Ines Petrov, role: inspector}
places:
  home: {name: home workshop}
  hangar: {name: hangar}
assemblies:
  workshop: {title: Workshop, counts: false}
  flaps: {title: Flaps, planned_hours: 60}
  left-wing: {title: Left wing, planned_hours: 200}
"""

STEPS_CSV = """\
assembly,step,title,page,closes
flaps,5.1,Deburr the ribs,5-1,
flaps,5.2,Drill the skeleton,5-2,
flaps,5.3,Rivet the skeleton,5-3,
flaps,5.4,Close the flap,5-4,yes
left-wing,7.1,Prepare the spar,7-1,
left-wing,7.2,Fit the ribs,7-2,
left-wing,7.10,Close the wing,7-9,yes
"""

MakeBuild = Callable[..., Path]


def slow(*values: Any) -> list[Any]:
    """Values of a parameter of which another one is tried every day, and these with `-m slow`."""
    return slow_rows(*((value,) for value in values))


def slow_rows(*rows: Sequence[Any]) -> list[Any]:
    """The same for several parameters at once."""
    return [pytest.param(*row, marks=pytest.mark.slow) for row in rows]


def entry(matter: str, body: str = "Worked on it.") -> str:
    """index.md with date 2026-02-07 and assembly flaps unless `matter` says otherwise."""
    lines = matter.strip("\n")
    for key, default in (("date", "2026-02-07"), ("assembly", "flaps"), ("hours", "1:00")):
        if not any(line.startswith(f"{key}:") for line in lines.split("\n")):
            lines += f"\n{key}: {default}"
    return f"---\n{lines.strip()}\n---\n\n{body}\n"


def read(root: Path) -> tuple[Build, tuple[Problem, ...]]:
    """Read a build folder whose photos are not looked into."""
    return read_build(root, lambda uris: {})


def view_of(build: Build) -> View:
    """What the inspector sees of `build` on 7 February 2026."""
    today = date(2026, 2, 7)
    ledger, progress = build_ledger(build), replay(build)
    evidence = find_gaps(build, ledger, progress, today)
    journal = Journal(root=Path(), today=today, build=build, ledger=ledger, progress=progress, evidence=evidence)
    return open_view(journal, Audience.ARCHIVE)


def words(problems: tuple[Problem, ...]) -> list[str]:
    """The code words, in order."""
    return [problem.word for problem in problems]


def anchors_missing(site: Path, view: View) -> list[tuple[str, str]]:
    """(address, anchor) of what a document leads to and its page lacks, or has twice."""
    missing = []
    for document in documents(view, PageAddresses(view)):
        address, _, whole = document.address.partition("#")
        anchors = {whole, *(passage.anchor for passage in document.passages)} - {""}
        if anchors:
            html = (site / address / "index.html").read_text(encoding="utf-8")
            missing += [(address, anchor) for anchor in sorted(anchors) if html.count(f' id="{anchor}"') != 1]
    return missing


def build_site(
    journal: Journal, *, out: Path | None = None, audience: Audience = Audience.PUBLIC, offline: bool = False
) -> Path:
    """Lay the site of a sound `journal` and write it; the folder where it is."""
    config = load_settings(journal.root, out=out, offline=offline)
    return write_site(lay_site(journal, site_options(config, audience, offline=offline)), config)
