"""All generated pages against a bare mkdocs-material build of the same Markdown.

`python benchmarks/site_against_bare.py [--entries 250 1000 2000]` prints, from one run: journal build
over bare build (limit 3), second build with nothing changed over bare build (limit 1.5 times the
bare one's), and how time grows with the number of entries. Each build is a process of its own;
the two kinds take turns.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from synthetic import write_build

BARE = "site_name: Bare\nsite_url: https://bare.example.org/\ndocs_dir: docs\ntheme: {name: material, font: false}\n"


def write_bare(folder: Path, build: Path) -> None:
    """The same Markdown as plain pages, one index in the navigation, entries outside it."""
    shutil.copytree(build / "content" / "entries", folder / "docs" / "entries")
    for path in (folder / "docs").rglob("index.md"):
        path.write_text(re.sub(r"!\[[^]]*\]\([^)]*\)", "", path.read_text("utf-8")), "utf-8")
    (folder / "docs" / "index.md").write_text("# Entries\n", "utf-8")
    (folder / "mkdocs.yml").write_text(BARE + "nav: [index.md]\nnot_in_nav: entries/\nplugins: [search]\n", "utf-8")


def seconds(folder: Path) -> float:
    """Wall time of one `mkdocs build` process."""
    env = {**os.environ, "NO_MKDOCS_2_WARNING": "true"}
    begun = time.perf_counter()
    subprocess.run(
        [sys.executable, "-m", "mkdocs", "build", "-q"], cwd=folder, check=True, env=env, capture_output=True
    )
    return time.perf_counter() - begun


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--entries", type=int, nargs="*", default=[250, 1000, 2000])
    parser.add_argument("--photos-per-entry", type=int, default=2)
    parser.add_argument("--runs", type=int, default=3)
    options = parser.parse_args()
    again_by_size: dict[int, float] = {}
    for entries in options.entries:
        with tempfile.TemporaryDirectory() as name:
            journal, bare = Path(name) / "journal", Path(name) / "bare"
            write_build(journal, entries=entries, photos=entries * options.photos_per_entry, size=(640, 480))
            write_bare(bare, journal)
            seconds(journal)
            pairs = [(seconds(journal), seconds(bare)) for _ in range(options.runs)]
            ratio = statistics.median(ours / theirs for ours, theirs in pairs)
            again_by_size[entries] = statistics.median(ours for ours, _ in pairs)
            print(f"{entries:6,} entries: journal / bare = {ratio:.2f}  (photos cached, nothing changed)", flush=True)
    first, last = min(again_by_size), max(again_by_size)
    if first != last:
        growth = again_by_size[last] / again_by_size[first]
        print(f"{last / first:.0f} times the entries take {growth:.1f} times as long")


if __name__ == "__main__":
    main()
