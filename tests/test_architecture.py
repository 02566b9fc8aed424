"""The arrows between rooms point one way (DEVELOPERS.md, the map)."""

from __future__ import annotations

import ast
import re
import tomllib
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent / "journal"
LOOSE = {"__init__.py", "quiet.py"}
"""The package itself, and the one module that every builder's mkdocs.yml names."""


def read_map() -> dict[str, set[str]]:
    """Room -> rooms it may stand on, from the table in DEVELOPERS.md, in the order of the table."""
    text = (ROOT.parent / "DEVELOPERS.md").read_text("utf-8")
    rows = re.findall(r"^\| `(\w+)` \|[^|]*\|([^|]*)\|", text, re.MULTILINE)
    return {room: set(re.findall(r"\w+", below)) - {"nothing"} for room, below in rows}


MAP = read_map()
MODULES = sorted(ROOT.rglob("*.py"))


def test_a_wheel_holds_every_room() -> None:
    """A folder of code that pyproject.toml does not name is in the checkout and nowhere else."""
    told = tomllib.loads((ROOT.parent / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"]["packages"]
    folders = {".".join(path.parent.relative_to(ROOT.parent).parts) for path in ROOT.rglob("__init__.py")}
    assert folders <= {*told}


@cache
def rooms_imported(path: Path) -> set[str]:
    """Rooms that a module imports, when it is loaded, when it runs, or for hints."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        names = []
        if isinstance(node, ast.ImportFrom) and node.module:
            names = [node.module] if node.module != "journal" else [f"journal.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        found |= {name.split(".")[1] for name in names if name.startswith("journal.")}
    return found - {"__version__"}


def test_every_module_has_a_room() -> None:
    """Nothing lies loose beside the rooms, and the map names every room."""
    assert {path.name for path in ROOT.glob("*.py")} == LOOSE
    assert {path.parent.name for path in ROOT.glob("*/__init__.py")} == set(MAP)
    assert len(MAP) == 11


def test_the_map_points_one_way() -> None:
    """A room stands only on rooms that the table names before it."""
    seen: set[str] = set()
    for room, below in MAP.items():
        assert below <= seen, room
        seen.add(room)


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_no_arrow_points_back(path: Path) -> None:
    """A module imports only from its own room and from rooms that the map puts under it."""
    room = path.relative_to(ROOT).parts[0]
    if room in LOOSE:
        return
    allowed = {room, *MAP[room]}
    if room == "making":
        allowed.add("quiet")
    assert rooms_imported(path) <= allowed


@pytest.mark.parametrize("room", MAP)
def test_every_arrow_of_the_map_is_there(room: str) -> None:
    """The map promises no more than the imports use."""
    used = set[str]().union(*(rooms_imported(path) for path in (ROOT / room).rglob("*.py")))
    assert used - {room, "quiet"} == MAP[room]


@pytest.mark.parametrize("room", MAP)
def test_every_face_says_what_the_room_is(room: str) -> None:
    """A room's `__init__` is a docstring of at most eight lines: what it owns, stands on and never enters."""
    face = (ROOT / room / "__init__.py").read_text("utf-8")
    tree = ast.parse(face)
    said = ast.get_docstring(tree) or ""
    assert len(tree.body) == 1
    assert len(said.splitlines()) <= 8
    assert all(word in said for word in ("Owns ", "Stands on ", "Never enters: "))


def test_nothing_above_the_view_reaches_behind_it() -> None:
    """What an audience may know is decided in the view: no room of tellings touches a build."""
    for room in ("site", "record", "finding"):
        for path in (ROOT / room).rglob("*.py"):
            assert not re.search(r"\b(?:view|shown|journal|self)\.build\b", path.read_text("utf-8")), path


def test_the_second_opinion_stands_alone() -> None:
    """What searches before publishing knows no reading, no view and not the first judgement on private passages."""
    parts = [*sorted((ROOT / "making").glob("scan*.py")), ROOT / "making/private_words.py"]
    assert len(parts) == 6
    for path in parts:
        names = re.findall(r"^\s*(?:from|import) (journal\.[\w.]+)", path.read_text("utf-8"), re.MULTILINE)
        own = {f"journal.making.{one.stem}" for one in parts}
        assert all(name in own or name.startswith("journal.base.") for name in names), path
        assert "journal.base.private_passages" not in names, path


SAME_NAME = {
    "seal": "the command, and the sealing that it asks for",
    "verify": "the command, and the verification that it asks for",
    "today": "the command, and the day that it tells of",
}
"""Names that two rooms may both give, and why."""


def test_no_name_stands_for_two_things() -> None:
    """A public class or function is called what nothing in another room is called."""
    rooms: dict[str, set[str]] = {}
    for path in MODULES:
        for node in ast.parse(path.read_text("utf-8")).body:
            if isinstance(node, (ast.ClassDef, ast.FunctionDef)) and not node.name.startswith("_"):
                rooms.setdefault(node.name, set()).add(path.relative_to(ROOT).parts[0])
    assert {name for name, named in rooms.items() if len(named) > 1} <= SAME_NAME.keys()
