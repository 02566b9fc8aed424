"""What is wrong with the films of a build, word for word."""

from __future__ import annotations

from collections.abc import Mapping
from types import SimpleNamespace
from typing import Any

from building import entry

from journal.base.model import Clip
from journal.ledger.films import check_films

ENTRY = entry(
    "a",
    clips=tuple(Clip(name=name, src_uri=f"content/entries/a/{name}") for name in ("one.mov", "two.mov", "gone.mov")),
    where={"date": (2, 1), "photos.two.mov": (7, 3)},
)


def film(weight: int, trouble: str = "") -> Any:
    """A film as the store tells of it."""
    return SimpleNamespace(bytes=weight, trouble=trouble)


def told(films: Mapping[str, Any], budget: int) -> list[tuple[str, int | None, int | None, str, str, str]]:
    """All that is found."""
    found = check_films([ENTRY], {f"content/entries/a/{name}": one for name, one in films.items()}, budget)
    return [(p.file, p.line, p.column, p.word, p.message, p.hint) for p in found]


def test_films_too_heavy_and_not_to_be_shown() -> None:
    """Over the budget by a byte, rounded up to megabytes; a clip without a film with its reason."""
    heavy = "cut them shorter, make some private, or raise `clips: {budget: \u2026}` in build.yml"
    assert told({"one.mov": film(50_000_000)}, 50_000_000) == []
    assert told({"one.mov": film(30_000_000), "two.mov": film(20_000_001)}, 50_999_999) == []
    assert told({"one.mov": film(30_000_000), "two.mov": film(20_000_001)}, 50_000_000) == [
        (
            "content/entries/a/index.md",
            2,
            1,
            "clips-heavy",
            "the films of this entry weigh 51 MB on the site, 50 MB are allowed",
            heavy,
        )
    ]
    mend = "put a good copy in its place"
    assert told({"one.mov": film(0, "cut short"), "two.mov": film(0, "no pictures"), "x": film(9)}, 0) == [
        ("content/entries/a/index.md", None, None, "clip-unreadable", '"one.mov" cannot be shown: cut short', mend),
        ("content/entries/a/index.md", 7, 3, "clip-unreadable", '"two.mov" cannot be shown: no pictures', mend),
    ]
