"""How the pure parts grow: `python benchmarks/pure_parts.py` prints time for four times the work over time for one.

Marking trade terms, examining unchanged originals and judging the evidence must grow in proportion (4),
whatever the machine.
"""

from __future__ import annotations

import tempfile
import time
import xml.etree.ElementTree as ET
from collections.abc import Callable
from datetime import date
from pathlib import Path

from synthetic import write_build

from journal.ledger.evidence import find_gaps
from journal.ledger.journal import open_journal
from journal.view.terms import TermMarker, shipped_terms

SENTENCE = "We deburred every rib, dimpled the skin and looked at the edge distance before riveting to the spar. "


def best(work: Callable[[], object]) -> float:
    """Processor seconds of the quickest of three."""
    times = []
    for _ in range(3):
        begun = time.process_time()
        work()
        times.append(time.process_time() - begun)
    return min(times)


def mark(entries: int) -> None:
    """Mark the terms of that many entries of three hundred words."""
    marker = TermMarker(shipped_terms())
    for _ in range(entries):
        root = ET.Element("p")
        root.text = SENTENCE * 17
        marker.mark(root, lambda term: "#" + term.name)


def main() -> None:
    """Measure and print."""
    print(f"terms, 1,000 entries over 250: {best(lambda: mark(1000)) / best(lambda: mark(250)):.1f}")
    opening, judging = [], []
    for entries in (250, 1000):
        with tempfile.TemporaryDirectory() as name:
            root = Path(name) / "build"
            write_build(root, entries=entries, photos=entries * 4, size=(64, 48))
            journal = open_journal(root, date(2040, 1, 1))
            told = (journal.build, journal.ledger, journal.progress, journal.today)
            opening.append(best(lambda root=root: open_journal(root, date(2040, 1, 1))))  # type: ignore[misc]
            judging.append(best(lambda told=told: find_gaps(*told)))  # type: ignore[misc]
    print(f"opening with unchanged photos, 1,000 entries over 250: {opening[1] / opening[0]:.1f}")
    print(f"evidence, 1,000 entries over 250: {judging[1] / judging[0]:.1f}")


if __name__ == "__main__":
    main()
