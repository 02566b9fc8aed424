"""What the reader objects to in entries that are not written yet: they are read in a folder of their own first."""

from __future__ import annotations

import shutil
from collections import defaultdict
from collections.abc import Iterable, Mapping
from pathlib import Path

from journal.base.model import Entry
from journal.base.problems import Grade, Problem
from journal.base.safe_write import staged
from journal.ledger.journal import CACHE
from journal.reading.build import read_build

LISTS = ("build.yml", "steps.csv", "materials.csv")
"""What entries are held against."""


def prove_entries(
    root: Path, texts: Mapping[str, tuple[str, Iterable[str]]]
) -> tuple[Mapping[str, Entry], Mapping[str, list[Problem]]]:
    """Read entries as the build folder `root` would, told by (text, names of pictures and films) under their file from
    the build folder: (entries by file, errors by file).
    """
    with staged(root / CACHE, "trial") as trial:
        (trial / "content").mkdir()
        for name in LISTS:
            if (root / "content" / name).exists():
                shutil.copyfile(root / "content" / name, trial / "content" / name)
        for file, (text, names) in texts.items():
            place = trial / file
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_bytes(text.encode())
            for name in names:
                (place.parent / name).touch()
        build, problems = read_build(trial, lambda src_uris: {})
    objections: dict[str, list[Problem]] = defaultdict(list)
    for one in problems:
        if one.grade is Grade.ERROR and one.file in texts:
            objections[one.file].append(one)
    return {entry.src_uri: entry for entry in (*build.entries, *build.drafts)}, objections
