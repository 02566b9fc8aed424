"""The arrows between modules point one way (DEVELOPERS.md, the map)."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent / "journal"

LAYERS = [
    {"model", "problems", "words", "addresses", "quantities", "prose", "swap", "quiet"},
    {"reading", "photos", "clips", "ledger", "progress", "drawing", "theme", "links", "prose_tree"},
    {"evidence", "trade"},
    {"journal"},
    {"view", "terminal"},
    {"site", "finding", "record", "intake"},
    {"link_cards", "clip_panels", "reuse"},
    {"host"},
    {"film", "publish", "preview", "archiving"},
    {"plugin", "cli"},
]
"""From the ground up: a part imports from its own layer's parts named in BESIDE, and from below."""

BESIDE = {
    ("ledger", "model"),
    ("finding", "site"),
    ("record", "site"),
    ("intake", "site"),
    ("intake", "record"),
    ("clips", "photos"),
    ("reading", "ledger"),
}


def part_of(name: str) -> str:
    """`journal.site.pages` -> `site`."""
    return name.split(".")[1] if "." in name else ""


def imports_of(path: Path) -> set[str]:
    """Parts of the project that a module imports when it is loaded or run (not for hints only)."""
    found = set()
    tree = ast.parse(path.read_text("utf-8"))
    hints = {
        inner
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)
        for inner in ast.walk(node)
    }
    for node in ast.walk(tree):
        if node in hints:
            continue
        names = []
        if isinstance(node, ast.ImportFrom) and node.module:
            names = [node.module] if node.module != "journal" else [f"journal.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        found |= {part_of(name) for name in names if name.startswith("journal.")}
    return found - {"__version__", ""}


MODULES = sorted(ROOT.rglob("*.py"))


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_no_arrow_points_back(path: Path) -> None:
    """A module imports only from its own part and from layers below it."""
    here = path.relative_to(ROOT).parts[0].removesuffix(".py")
    if here == "__init__":
        return
    level = {part: number for number, layer in enumerate(LAYERS) for part in layer}
    assert here in level, f"{here} has no place on the map"
    for part in imports_of(path):
        assert part in level, f"{part} has no place on the map"
        allowed = part == here or level[part] < level[here] or (here, part) in BESIDE
        assert allowed, f"{path.name} imports {part}, which stands above or beside it"
