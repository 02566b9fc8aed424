"""Type and colour: fonts that are there, licensed and light; one palette; contrast by the formula."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont

from journal.base.drawing import ON_THE_PAGE, Palette
from journal.site.cards import BLUEPRINT, Face

ROOT = Path(__file__).parents[2]
ASSETS = ROOT / "theme_overrides" / "assets"
FOR_PICTURES = ROOT / "journal" / "data" / "fonts"
CSS = (ASSETS / "parts.css").read_text(encoding="utf-8")

# Letters of the languages of Europe written in Latin, and the marks a builder writes.
LETTERS = (
    "ABCXYZabcxyz0123456789 ÀÁÂÃÄÅÆÇÈÉÊËÌÍÎÏÐÑÒÓÔÕÖØÙÚÛÜÝÞßàáâãäåæçèéêëìíîïðñòóôõöøùúûüýþÿ"
    "ĂăĄąĆćČčĎďĐđĒēĖėĘęĚěĞğĢģĪīĮįİıĶķĹĺĻļĽľŁłŃńŅņŇňŌōŐőŒœŔŕŘřŚśŞşŠšȘșŢţŤťȚțŪūŮůŰűŲųŴŵŶŷŸŹźŻżŽž"
)
MARKS = ".,:;!?()[]/#&@%*+-=×±−–—‘’“”„…•·°′″½¼¾€£©®™§¶«»‹›"


def ranges(face: str) -> set[int]:
    """The characters of a `unicode-range`."""
    found = re.search(r"unicode-range:([^;]+);", face)
    assert found
    characters: set[int] = set()
    for part in found[1].split(","):
        first, _, last = part.strip().removeprefix("U+").partition("-")
        characters |= set(range(int(first, 16), int(last or first, 16) + 1))
    return characters


FACES = re.findall(r"@font-face \{[^}]*url\(\"fonts/[^}]*\}", CSS)


def file_of(face: str) -> Path:
    """The file that a rule names."""
    found = re.search(r'url\("([^"]+)"\)', face)
    assert found
    return ASSETS / found[1]


def test_every_font_file_is_named_once_and_light() -> None:
    """The style sheet names each file of the folder once; none is over 25 KB."""
    named = [file_of(face) for face in FACES]
    assert sorted(named) == sorted((ASSETS / "fonts").glob("*.woff2"))
    assert all(path.stat().st_size <= 25_000 for path in named)
    first_visit = [path for path in named if "-ext" not in path.name]
    assert sum(path.stat().st_size for path in first_visit) <= 90_000


def test_letters_and_marks_are_covered_where_the_rules_say() -> None:
    """Each face covers every letter and mark, each from the file whose range names it."""
    by_face: dict[str, set[int]] = {}
    for face in FACES:
        cmap = set(TTFont(file_of(face)).getBestCmap())
        style = file_of(face).stem.removesuffix("-ext")
        by_face.setdefault(style, set()).update(cmap & ranges(face))
    assert len(by_face) == 5
    for style, characters in by_face.items():
        assert [char for char in LETTERS + MARKS if ord(char) not in characters] == [], style


def test_two_files_of_a_face_never_both_claim_a_letter() -> None:
    """A reader of plain English never fetches the files for other letters."""
    for face in FACES:
        if "-ext" in file_of(face).name:
            assert not any(ord(char) in ranges(face) for char in LETTERS[:63] + MARKS)


def test_fonts_for_pictures_hold_the_same_letters() -> None:
    """What Pillow draws with has every letter and mark too, and keeps its hands off hinting."""
    assert {face.value for face in Face} <= {path.name for path in FOR_PICTURES.glob("*.ttf")}
    for path in FOR_PICTURES.glob("*.ttf"):
        font = TTFont(path)
        assert [char for char in LETTERS + MARKS if ord(char) not in font.getBestCmap()] == [], path.name
        assert "fpgm" not in font
        assert path.stat().st_size < 90_000


@pytest.mark.parametrize("folder", [ASSETS / "fonts", FOR_PICTURES])
@pytest.mark.parametrize(("name", "owner"), [("OFL-Barlow.txt", "Barlow"), ("OFL-Literata.txt", "Literata")])
def test_the_licence_lies_beside_the_fonts(folder: Path, name: str, owner: str) -> None:
    """Each folder holds the licence of each family, and neither reserves its name."""
    text = (folder / name).read_text(encoding="utf-8")
    assert text.startswith(f"Copyright 2017 The {owner} Project Authors")
    assert "SIL OPEN FONT LICENSE Version 1.1" in text
    assert "Reserved Font Name" not in text.split("PREAMBLE")[0]


def test_figures_stand_in_columns() -> None:
    """Both families have figures of one width to ask for."""
    for path in (ASSETS / "fonts").glob("*.woff2"):
        if "-ext" not in path.name:
            features = {record.FeatureTag for record in TTFont(path)["GSUB"].table.FeatureList.FeatureRecord}
            assert "tnum" in features, path.name


def colours(selector: str) -> dict[str, str]:
    """The custom properties that a rule of the style sheet sets to plain colours."""
    found = re.search(re.escape(selector) + r" \{([^}]*)\}", CSS)
    assert found
    return dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", found[1]))


ON_PAPER = colours("\n:root")
ON_BLUEPRINT = colours('[data-md-color-scheme="slate"]')
ON_DARK_SYSTEM = colours(':root:not([data-md-color-scheme="default"])')


def test_there_is_one_palette() -> None:
    """Page, drawing without a style sheet and picture cards have the same colours."""
    assert ON_DARK_SYSTEM == ON_BLUEPRINT
    assert set(ON_PAPER) == set(ON_BLUEPRINT)
    for palette, page in ((BLUEPRINT, ON_BLUEPRINT),):
        for name in Palette.__dataclass_fields__:
            assert getattr(palette, name) == page[name.replace("_", "-")], name
    for name in Palette.__dataclass_fields__:
        css = name.replace("_", "-")
        assert getattr(ON_THE_PAGE, name) == f"var(--{css}, {ON_PAPER[css]})"


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours: WCAG 2.2, definitions of contrast ratio and relative luminance."""

    def luminance(colour: str) -> float:
        parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
        red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_the_contrast_formula_gives_the_published_ends() -> None:
    """Black on white is 21 to 1, a colour on itself 1 to 1 (WCAG 2.2)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#0f766e", "#0f766e") == 1


@pytest.mark.parametrize("page", [ON_PAPER, ON_BLUEPRINT], ids=["paper", "blueprint"])
@pytest.mark.parametrize(
    ("one", "other", "least"),
    [
        ("ink", "paper", 7),
        ("ink-soft", "paper", 4.5),
        ("done", "paper", 3),
        ("picked", "paper", 3),
        ("bar", "paper", 3),
        ("over", "paper", 3),
        ("focus", "paper", 3),
        ("hatch", "under-way", 3),
    ],
)
def test_contrast_is_real(page: dict[str, str], one: str, other: str, least: float) -> None:
    """Text at least 4.5 to 1 (1.4.3), shapes and marks that carry meaning at least 3 to 1 (1.4.11)."""
    assert contrast(page[one], page[other]) >= least
