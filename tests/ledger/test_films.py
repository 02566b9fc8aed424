"""What is wrong with the films of a build, word for word."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

from building import entry

from journal.base.model import Clip, Cut
from journal.ledger.films import check_films
from journal.media.clips.program import NOT_A_CLIP, NOT_SO_LONG

ENTRY = entry(
    "a",
    clips=tuple(Clip(name=name, src_uri=f"content/entries/a/{name}") for name in ("one.mov", "two.mov", "gone.mov")),
    where={"date": (2, 1), "photos.two.mov": (7, 3)},
)


def film(weight: int, trouble: str = "", seconds: int = 0, amiss: int = 0) -> Any:
    """A film as the store tells of it."""
    return SimpleNamespace(bytes=weight, trouble=trouble, seconds=seconds, seconds_amiss=amiss)


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
    mend = "copy it again from the phone or camera and put that in its place"
    export = "export it as MP4 (H.264) and put that in its place"
    assert told({"one.mov": film(0, "cut short"), "two.mov": film(0, NOT_A_CLIP), "x": film(9)}, 0) == [
        ("content/entries/a/index.md", None, None, "clip-unreadable", '"one.mov" cannot be shown: cut short', mend),
        (
            *("content/entries/a/index.md", 7, 3, "clip-unreadable"),
            *('"two.mov" cannot be shown: not a short film that can be read here', export),
        ),
    ]


def test_damage_and_moments_where_nothing_is_shown() -> None:
    """A film that is shown in spite of its damage; what `from`, `to` and `poster` say and cannot be, at their lines."""
    again = "copy it again from the phone or camera; what is left of it is shown"
    assert told({"one.mov": film(1, seconds=9, amiss=2)}, 9) == [
        (
            *("content/entries/a/index.md", None, None, "clip-damaged"),
            *('"one.mov" is damaged: 2 seconds of it missing or amiss', again),
        )
    ]

    def of(cut: Cut, made: Any) -> list[tuple[str, int | None, str]]:
        where = {"photos.a.mov": (4, 3), "photos.a.mov.from": (4, 9), "photos.a.mov.to": (5, 9)}
        one = entry("a", clips=(Clip(name="a.mov", src_uri="a", cut=cut),), where=where)
        return [(p.word, p.column, p.message) for p in check_films([one], {"a": made}, 9)]

    from_2_to_8 = Cut(start=Decimal(2), end=Decimal(8))
    assert of(replace(from_2_to_8, poster=Decimal(8)), film(1, seconds=6)) == []
    assert of(replace(from_2_to_8, poster=Decimal(1)), film(1, seconds=6)) == [
        ("moment-outside", 3, '"a.mov" does not show what it holds at 1 s, where `poster` is')
    ]
    assert of(from_2_to_8, film(1, seconds=3)) == [("moment-outside", 9, '"a.mov" ends before 8 s')]
    late = NOT_SO_LONG.format(start=2)
    assert of(from_2_to_8, film(0, late)) == [("clip-unreadable", 9, f'"a.mov" cannot be shown: {late}')]
