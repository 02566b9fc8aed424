"""What was found on a site is told by the line of the build that it comes from, each thing once."""

from __future__ import annotations

import io
import re
import time
from collections import Counter
from pathlib import Path

import pytest
from click.testing import CliRunner
from making import BUILD_YML, STEPS_CSV, MakeBuild, entry
from PIL import Image

from journal.commands.main import main
from journal.making.scan_sources import Sources, around

MKDOCS = """\
site_name: Tarn build journal
site_url: https://tarn.example/
docs_dir: content
theme: {name: material, font: false}
plugins: [search, journal]
"""


def photo(colour: str) -> bytes:
    """A small picture."""
    out = io.BytesIO()
    Image.new("RGB", (40, 30), colour).save(out, "JPEG")
    return out.getvalue()


def told_of(root: Path) -> list[tuple[str, str]]:
    """(source, what) of everything that `publish` tells before it stops."""
    result = CliRunner().invoke(main, ["publish", "--build", str(root), "--git", "nowhere", "--dry-run"])
    assert result.exit_code == 1, result.output
    said = result.output.replace("\r", "\n")
    lines = said[said.index("The site: ") : said.index("journal: nothing was sent")].strip().split("\n")[1:]
    return [(line.partition(": ")[0], line.partition(": ")[2]) for line in lines]


# Each with a word of its own beside it, so that a line is known again; `{}` is what is planted.
PLACES = {
    "entries/2026-02-07-ribs/index.md": (
        "title: Ribs with {} alpha\nsteps: [5.1]\npeople: [ada]\ntools: [the drill of {}]\nmethods: [as {} does it]\n"
        "photos:\n  IMG_1.jpg: A dimple by {} bravo\n  IMG_2.jpg:\n    caption: A rib with {} charlie\n",
        "Every hole deburred by {} delta.\n\nThen came old Mr\n{} echo, and *Mr {}* foxtrot.\n\n"
        "- One {} golf\n- Two {} hotel\n",
    ),
    "entries/2026-02-08-skins/index.md": (
        "date: 2026-02-08\ntitle: Skins\npeople: [ada]\n",
        "## With {} india\n\n| a | b |\n|---|---|\n| c | {} juliet |\n\n[A link](https://kilo.example/{}) to see.\n\n"
        "![words of {} lima](IMG_3.jpg)\n",
    ),
    "measurements/2026-02-09-gap/index.md": (
        "date: 2026-02-09\ntitle: Gap of {} mike\nmeasured_by: ada\nresults: [{what: gap, value: 0.02 in}]\n",
        "Seen by {} november.\n",
    ),
    "pages/about.md": ("title: About {} oscar\n", "The shed of {} papa.\n"),
}


def plant(root: Path, words: str) -> set[str]:
    """Write `words` into every kind of place; the lines."""
    lines = set()
    for name, (matter, body) in PLACES.items():
        text = entry(matter, body) if name.startswith("entries/") else f"---\n{matter}---\n\n{body}"
        path = root / "content" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text.replace("{}", words), "utf-8")
        lines |= {f"content/{name}:{at}" for at, line in enumerate(text.split("\n"), 1) if "{}" in line}
    for number in (1, 2, 3):
        day = "2026-02-07-ribs" if number < 3 else "2026-02-08-skins"
        (root / f"content/entries/{day}/IMG_{number}.jpg").write_bytes(photo(("red", "green", "blue")[number - 1]))
    for name, text, said in (
        ("content/steps.csv", STEPS_CSV, "Drill the skeleton"),
        ("content/build.yml", BUILD_YML, "Flaps"),
        ("mkdocs.yml", MKDOCS, "Tarn build journal"),
    ):
        (root / name).write_text(text.replace(said, f"{said} of {words} quebec"))
        lines.add(f"{name}:{text[: text.index(said)].count(chr(10)) + 1}")
    return lines


@pytest.mark.parametrize(
    ("words", "what"),
    [
        ("Bo Lindqvist", "the full name of a person"),
        pytest.param("Lindqvist", "the family name of a person", marks=pytest.mark.slow),
        pytest.param("ZZ-TRN", "the registration of the aircraft", marks=pytest.mark.slow),
        pytest.param("079 123 45 67", "what looks like a telephone number", marks=pytest.mark.slow),
    ],
)
def test_what_is_planted_everywhere_is_told_once_by_each_line(make_build: MakeBuild, words: str, what: str) -> None:
    """Titles, captions, words under a picture, tools, lists, tables, links, steps, assemblies, the name of the site:
    whatever pages, feeds, data and the index of the search repeat of it.
    """
    root = make_build()
    lines = plant(root, words)
    told = told_of(root)
    seen = Counter(source for source, _ in told)
    missing, twice = lines - seen.keys(), {source for source, count in seen.items() if count > 1}
    assert (missing, twice) == (set(), set()), told
    assert all(re.match(rf'{what}( in its address)? "{words}"', said, re.IGNORECASE) for _, said in told)
    assert seen.keys() == lines, told


def test_of_lines_that_say_the_same_the_one_with_the_same_words_around_it_is_meant() -> None:
    """Else the one whose folder the page goes by, else the first; `but` only where there is no other."""
    texts = (
        ("content/entries/a/index.md", "x\nBo Lindqvist held it.\nthen *Bo Lind*qvist drilled"),
        ("content/entries/b/index.md", "Bo Lindqvist held it."),
        ("content/build.yml", "bo: {name: Bo Lindqvist}"),
    )
    sources = Sources(texts)

    def meant(page: str, text: str, but: str = "") -> str:
        at = text.index("Bo Lindqvist")
        return sources.line_of("Bo Lindqvist", page, around(text, at, at + 12), but=but)

    assert meant("index.html", "and then Bo Lindqvist drilled it") == "content/entries/a/index.md:2"
    assert meant("entries/b/index.html", "Bo Lindqvist held it.") == "content/entries/b/index.md:1"
    assert meant("entries/a/index.html", "Bo Lindqvist held it.") == "content/entries/a/index.md:2"
    assert meant("people/index.html", "name: Bo Lindqvist") == "content/build.yml:1"
    assert meant("index.html", "Bo Lindqvist", but="content/entries/a/index.md:2") == "content/entries/b/index.md:1"
    assert sources.line_of("Hanne", "index.html") == ""
    assert sources.file_of("entries", "entries/b/index.html") == "content/entries/b/index.md"
    assert Sources([]).line_of("", "index.html") == ""


def test_a_word_is_no_part_of_another_and_letters_may_be_written_otherwise() -> None:
    """Accents, entities and capitals are no difference."""
    sources = Sources([("a.md", "Longer\nBergstr\u00f6m\nBergstr&ouml;m\nMIT LONG")])
    assert sources.line_of("bergstrom", "x") == "a.md:2"
    assert sources.line_of("Long", "x") == "a.md:4"


def test_the_lines_that_share_most_words_are_looked_at_closely() -> None:
    """On each side for itself, the nearest word first; none where no line shares one."""
    texts = [("a.md", "then Bo Lindqvist drilled"), ("b.md", "and then Bo Lindqvist looked"), ("c.md", "Bo Lindqvist")]
    found = Sources(texts)._found("Bo Lindqvist")

    def shared(side: int, *words: str) -> list[str]:
        return [one.where for one in found.sharing(side, words)]

    assert shared(0, "then") == ["a.md:1", "b.md:1"]
    assert shared(0, "then", "and") == shared(0, "then", "and", "x") == ["b.md:1"]
    assert shared(1, "drilled", "then") == ["a.md:1"]
    assert shared(1, "then") == shared(0, "drilled") == shared(0) == []


def test_a_name_in_thousands_of_lines_is_looked_up_soon() -> None:
    """Whoever forgot `shown_as` has it in every entry; each page is told by its own line all the same."""
    texts = [(f"content/entries/e{n}/index.md", f"Then Bo Lindqvist drilled hole {n}.") for n in range(4000)]
    sources, begun = Sources(texts), time.monotonic()
    for n in range(0, 4000, 20):
        said = f"and then Bo Lindqvist drilled hole {n}."
        near = around(said, 9, 21)
        assert sources.line_of("Bo Lindqvist", f"entries/e{n}/index.html", near) == f"content/entries/e{n}/index.md:1"
    assert time.monotonic() - begun < 20
