"""The judged collection of this folder as a build folder, opened as the program opens any other."""

from __future__ import annotations

import csv
import io
import shutil
from dataclasses import dataclass
from pathlib import Path

from PIL import Image

HERE = Path(__file__).parent / "collection"


@dataclass(frozen=True, slots=True)
class Judged:
    """A question, its kind, and the entries that answer it (any of them will do)."""

    kind: str
    query: str
    wanted: frozenset[str]
    said: str = ""


def judged() -> list[Judged]:
    """The questions of queries.csv."""
    with (HERE / "queries.csv").open(encoding="utf-8", newline="") as file:
        return [Judged(row["kind"], row["query"], frozenset(row["wanted"].split(";"))) for row in csv.DictReader(file)]


def judged_by_kind(file: Path = HERE / "judged.csv") -> list[Judged]:
    """The questions of ten kinds, twenty a kind; `said` is what the sentence shown holds, or the picture's file."""
    with file.open(encoding="utf-8", newline="") as rows:
        return [
            Judged(row["kind"], row["query"], frozenset(row["wanted"].split(";")), row.get("said", ""))
            for row in csv.DictReader(rows)
        ]


def lay_collection(root: Path) -> Path:
    """Write the collection as a build folder at `root`, with a small picture for every photo named."""
    content = root / "content"
    content.mkdir(parents=True)
    for name in ("build.yml", "steps.csv", "callouts.csv", "inventory.csv", "materials.csv", "terms.md"):
        shutil.copy(HERE / name, content / name)
    (root / "mkdocs.yml").write_text(
        "site_name: Tarn in the garage\nsite_url: https://tarn.example/\ndocs_dir: content\n"
        "theme: {name: material, font: false}\nplugins: [search, journal]\n",
        encoding="utf-8",
    )
    shade = 0
    for part in [*sorted(HERE.glob("entries_*.txt")), HERE / "pages.txt"]:
        for chunk in part.read_text(encoding="utf-8").split("=== ")[1:]:
            place, _, text = chunk.partition("\n")
            file = content / (place if place.endswith(".md") else f"{place}/index.md")
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(text, encoding="utf-8")
            for line in text.splitlines():
                name = line.strip().partition(":")[0]
                if name.startswith("IMG_"):
                    shade += 1
                    (file.parent / name).write_bytes(_picture(shade))
    return root


def _picture(shade: int) -> bytes:
    buffer = io.BytesIO()
    Image.new("RGB", (48, 32), (shade % 256, 120, (shade * 7) % 256)).save(buffer, "JPEG")
    return buffer.getvalue()
