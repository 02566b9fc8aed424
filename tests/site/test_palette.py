"""The site's colours, held against WCAG 2.2, and one set for everybody who wants it dark."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ASSETS = Path(__file__).parents[2] / "theme_overrides" / "assets"


def colours(css: str, opening: str) -> dict[str, str]:
    """Custom properties with a plain colour in the first block that opens with `opening`."""
    start = css.index(opening) + len(opening)
    block = css[start : css.index("}", start)]
    return dict(re.findall(r"--([\w-]+):\s*(#[0-9a-f]{6})\b", block))


def themes() -> dict[str, dict[str, str]]:
    """Paper, and blueprint as chosen and as the system's wish."""
    parts, journal = (ASSETS / "parts.css").read_text(), (ASSETS / "journal.css").read_text()
    slate = '[data-md-color-scheme="slate"] {'
    paper = colours(parts, ":root {") | colours(journal, ":root {")
    chosen = paper | colours(parts, slate) | colours(journal, slate)
    wished = dict(paper)
    for css in (parts, journal):
        dark = css[css.index("@media screen and (prefers-color-scheme: dark)") :]
        wished |= colours(dark, ':root:not([data-md-color-scheme="default"]) {')
    return {"paper": paper, "blueprint": chosen, "wished": wished}


def contrast(one: str, other: str) -> float:
    """Contrast ratio (WCAG 2.2, definitions of contrast ratio and relative luminance)."""

    def luminance(colour: str) -> float:
        parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_the_formula_gives_the_known_ends() -> None:
    """Black on white is 21, a colour on itself 1."""
    assert round(contrast("#000000", "#ffffff"), 2) == 21
    assert contrast("#123456", "#123456") == 1


@pytest.mark.parametrize("theme", ["paper", "blueprint", "wished"])
@pytest.mark.parametrize("ground", ["paper", "wash"])
@pytest.mark.parametrize("words", ["ink", "ink-soft", "link", "good", "warn", "bad"])
def test_words_are_readable(theme: str, ground: str, words: str) -> None:
    """WCAG 2.2, 1.4.3: at least 4.5 to 1."""
    palette = themes()[theme]
    assert contrast(palette[words], palette[ground]) >= 4.5


@pytest.mark.parametrize("theme", ["paper", "blueprint", "wished"])
@pytest.mark.parametrize("sign", ["focus", "picked", "done", "ink"])
def test_signs_can_be_told_from_the_ground(theme: str, sign: str) -> None:
    """WCAG 2.2, 1.4.11: at least 3 to 1 for what is needed to understand a sign."""
    palette = themes()[theme]
    assert contrast(palette[sign], palette["paper"]) >= 3


def test_the_system_s_wish_looks_as_the_choice_does() -> None:
    """Two places say the blueprint's colours (a style sheet cannot share them); they say the same."""
    known = themes()
    differing = {
        name: (known["blueprint"][name], known["wished"][name])
        for name in known["blueprint"]
        if known["blueprint"][name] != known["wished"][name]
    }
    assert differing == {}
