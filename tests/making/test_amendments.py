"""What followers are told of amendments: the day and what everybody may read of it, and nothing else."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from making import MakeBuild, entry
from PIL import Image

from journal.ledger.journal import open_journal
from journal.making import amendments
from journal.making.amendments import add_amendments
from journal.record.seals import seal
from journal.site.site_context import SiteContext
from journal.view.view import Audience, open_view

TODAY = date(2026, 6, 1)
BODY = "Drilled it.\n\n!!! private\n    The key is under the mat.\n"


def put_seal(root: Path, day: int) -> None:
    """Seal at ten in the evening, UTC: the next day in Zurich."""
    view = open_view(open_journal(root, TODAY), Audience.ARCHIVE)
    done, problems = seal(root, view, now=datetime(2026, 5, day, 22, 30, tzinfo=UTC), ask=lambda changes: "Bo saw it")
    assert done is not None, problems


def told_of(root: Path) -> list[tuple[str, str]]:
    """(day, what) of the amendments of entry `a`."""
    site = SiteContext(open_view(open_journal(root, TODAY), Audience.PUBLIC), {})
    return [(day.isoformat(), what) for day, what in add_amendments(site, root).amended.get("a", ())]


@pytest.fixture
def root(make_build: MakeBuild) -> Path:
    """An entry, sealed, with a picture for all and one that is private."""
    root = make_build({"entries/a/index.md": entry("photos: {b.png: {private: true}}", BODY)})
    for name, colour in (("a.png", "red"), ("b.png", "blue")):
        Image.new("RGB", (64, 48), colour).save(root / "content/entries/a" / name)
    put_seal(root, 1)
    return root


def write(root: Path, old: str, new: str) -> None:
    """Change the text of the entry."""
    file = root / "content/entries/a/index.md"
    assert old in file.read_text()
    file.write_text(file.read_text().replace(old, new, 1))


def test_what_everybody_may_read_is_told_with_its_day(root: Path) -> None:
    """Each seal that amends is one amendment, on its day where the build is; the reason stays in the archive."""
    assert told_of(root) == []
    write(root, "hours: 1:00", "hours: 2:00")
    write(root, "Drilled it.", "Drilled and deburred it.")
    Image.new("RGB", (64, 48), "green").save(root / "content/entries/a/a.png")
    put_seal(root, 2)
    write(root, "---\n", "---\ntools: [drill]\n")
    put_seal(root, 9)
    assert told_of(root) == [("2026-05-03", "the hours, the text, 1 picture"), ("2026-05-10", "the tools")]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("under the mat", "in the shed"),  # a private passage
        ("photos:", "place: hangar\nphotos:"),  # where: not shown
        ("photos:", "answers: {no-photo: no camera}\nphotos:"),
        ("photos:", "formerly: first\nphotos:"),
        ("hours: 1:00", "hours: 1:00 # as Bo said"),  # a comment
        ("b.png: {private: true}", "b.png: {private: true, caption: the key}"),
    ],
)
def test_what_is_private_leaves_no_trace(root: Path, old: str, new: str) -> None:
    """Nothing that followers could see changed: nothing is told, not even a day."""
    write(root, old, new)
    Image.new("RGB", (64, 48), "black").save(root / "content/entries/a/b.png")
    put_seal(root, 2)
    assert told_of(root) == []


def test_in_doubt_nothing_is_told(root: Path) -> None:
    """An entry that was private at one of its seals, and texts that were not kept."""
    write(root, "---\n", "---\nprivate: true\n")
    put_seal(root, 2)
    write(root, "private: true\nphotos", "photos")
    write(root, "Drilled it.", "Drilled all of it.")
    put_seal(root, 3)
    assert told_of(root) == []
    write(root, "Drilled all", "Dimpled all")
    put_seal(root, 4)
    assert told_of(root) == [("2026-05-05", "the text")]
    for copy in (root / "content/seals/texts").iterdir():
        copy.unlink()
    assert told_of(root) == []


@pytest.mark.parametrize(
    ("key", "said"),
    [
        *(("title", ["the title"]), ("date", ["the day"]), ("assembly", ["the assembly"]), ("hours", ["the hours"])),
        *((key, ["the steps"]) for key in ("steps", "begun", "redone")),
        *(("people", ["who worked"]), ("tools", ["the tools"]), ("methods", ["the methods"])),
        *(("fasteners", ["the rivets"]), ("torque", ["the torque"]), ("place", []), ("cost", [])),
    ],
)
def test_how_each_key_is_told(monkeypatch: pytest.MonkeyPatch, key: str, said: list[str]) -> None:
    """Whether it came, went or changed; what followers never see is not told."""
    nothing: Any = SimpleNamespace(photos=(), files={})
    for one, other in (({}, {key: ["x"]}), ({key: ["x"]}, {}), ({key: ["x"]}, {key: ["y"]})):
        texts = iter([(one, ""), (other, "")])
        monkeypatch.setattr(amendments, "_public_parts", lambda *_, texts=texts: next(texts))
        assert [*amendments._touched(Path(), nothing, nothing, nothing)] == said


@pytest.mark.parametrize("end", ["\r\n", "\r"])
def test_other_line_ends_are_no_change(root: Path, end: str) -> None:
    """An editor of another machine writes all of them anew."""
    write(root, "hours: 1:00", "hours: 2:00")
    file = root / "content/entries/a/index.md"
    file.write_bytes(b"\xef\xbb\xbf" + file.read_text().replace("\n", end).encode())
    put_seal(root, 2)
    assert told_of(root) == [("2026-05-03", "the hours")]
