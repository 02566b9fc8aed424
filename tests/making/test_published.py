"""Addresses that were published and would vanish are told before they do, with the line that keeps them."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner
from making import MakeBuild, entry

from journal.base.problems import render_problem
from journal.commands.main import main
from journal.ledger.journal import open_journal
from journal.making.lay_site import site_problems
from journal.making.published import note_published, pages_in
from journal.making.unchanged import PUBLISHED
from journal.view.page_addresses import PageAddresses
from journal.view.view import Audience, open_view

TODAY = date(2026, 6, 1)
SITE = "https://tarn.example/"
MKDOCS = """\
site_name: Tarn
site_url: https://tarn.example/
docs_dir: content
theme: {name: material, font: false}
plugins: [journal]
"""
RIBS = "content/entries/2026-02-07-ribs"


@pytest.fixture
def root(make_build: MakeBuild) -> Path:
    """A build whose pages were published."""
    root = make_build(
        {
            "entries/2026-02-07-ribs/index.md": entry("title: Ribs", "Ribs drilled.\n"),
            "entries/2026-02-07-skins/index.md": entry("title: Skins\nhours: 2:00", "Skins drilled.\n"),
            "entries/2026-02-08-hush/index.md": entry("date: 2026-02-08\nprivate: true"),
            "pages/about.md": "# About\n\nUs.\n",
        }
    )
    (root / "mkdocs.yml").write_text(MKDOCS)
    note_published(root, PageAddresses(open_view(open_journal(root, TODAY), Audience.PUBLIC)))
    return root


def write(root: Path, name: str, old: str, new: str) -> None:
    """Change a text."""
    file = root / "content" / name
    file.write_text(file.read_text().replace(old, new, 1))


def told(root: Path) -> list[str]:
    """What is said of published addresses."""
    return [render_problem(one) for one in site_problems(open_journal(root, TODAY), SITE)]


def say(address: str) -> str:
    """The message of a finding."""
    return f'the address "{address}" was published and would vanish'


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda root: None, None),
        (
            lambda root: (root / RIBS).rename(root / f"{RIBS}-drilled"),
            f"{RIBS}-drilled/index.md: {say('entries/2026-02-07-ribs/')}; "
            'if "2026-02-07-ribs-drilled" is its new name, write `formerly: 2026-02-07-ribs` there',
        ),
        (
            lambda root: shutil.rmtree(root / RIBS),
            f"{RIBS}: {say('entries/2026-02-07-ribs/')}; if it was renamed, write `formerly: 2026-02-07-ribs` "
            "under its new name; if it was taken back, let it go",
        ),
        (
            lambda root: write(root, "entries/2026-02-07-ribs/index.md", "---", "---\nprivate: true"),
            f"{RIBS}: {say('entries/2026-02-07-ribs/')}; if it was renamed, write `formerly: 2026-02-07-ribs` "
            "under its new name; if it was taken back, let it go",
        ),
        (
            lambda root: write(root, "steps.csv", "flaps,5.1,", "flaps,5.1a,"),
            f"content/steps.csv: {say('steps/5.1/')}; "
            'if "5.1a" is its new name, write 5.1 in its column `formerly` there',
        ),
        (
            lambda root: write(
                root, "build.yml", "workshop: {title: Workshop,", "shop: {title: Workshop, formerly: workshop,"
            ),
            None,
        ),
    ],
)
def test_an_address_that_would_vanish_is_told(root: Path, change: Callable[[Path], object], said: str | None) -> None:
    """With its new name where one page alone can be meant; what leads on is well."""
    change(root)
    assert told(root) == ([said] if said else [])


def test_a_renamed_page_is_known_by_its_words_or_its_day(root: Path) -> None:
    """Two entries of one day that are both new: the text tells them apart; nothing of the private one is noted."""
    (root / RIBS).rename(root / f"{RIBS}-one")
    (root / "content/entries/2026-02-07-skins").rename(root / "content/entries/2026-02-07-skins-one")
    write(root, "entries/2026-02-07-skins-one/index.md", "Skins drilled.", "Skins drilled and deburred.")
    assert [line.rpartition("; ")[2] for line in told(root)] == [
        'if "2026-02-07-ribs-one" is its new name, write `formerly: 2026-02-07-ribs` there',
        "if it was taken back, let it go",
    ]
    assert "hush" not in (root / PUBLISHED).read_text()


@pytest.mark.parametrize("note", ["", "[]", '{"pages": [1]}', '{"pages": {"a": 1}}'])
def test_a_note_that_makes_no_sense_says_nothing(root: Path, note: str) -> None:
    """It may be deleted at any time, too."""
    (root / PUBLISHED).write_text(note)
    (root / RIBS).rename(root / f"{RIBS}-drilled")
    assert told(root) == []


def test_pages_are_known_among_the_files_of_a_site(root: Path) -> None:
    """Pages of their own name alone: no lists, no parts of lists."""
    names = (
        "index.html",
        "entries/index.html",
        "entries/year-2025/index.html",
        "entries/a/index.html",
        "steps/7.1/index.html",
    )
    addresses = PageAddresses(open_view(open_journal(root, TODAY), Audience.PUBLIC))
    assert {*pages_in((*names, "hours/index.html", "entries/a/x.html"), addresses)} == {"entries/a/", "steps/7.1/"}


def test_publishing_check_and_site_tell_it_until_it_is_sent(
    root: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Also where the note is gone and only the target knows; after the sending a site does not repeat itself."""

    def run(*words: object) -> str:
        done = CliRunner().invoke(main, [*map(str, words), "--build", str(root)], catch_exceptions=False)
        return done.output

    out = tmp_path_factory.mktemp("published")
    (root / PUBLISHED).unlink()
    assert "would vanish" not in run("publish", "--folder", out)
    (root / RIBS).rename(root / f"{RIBS}-drilled")
    mend = 'if "2026-02-07-ribs-drilled" is its new name, write `formerly: 2026-02-07-ribs` there'
    for command in (("check", "--kind", "address-vanished"), ("site",), ("site", "--strict"), ("site",)):
        assert mend in run(*command), command
    assert "No site was made" in run("site", "--strict")
    (root / PUBLISHED).unlink()
    assert run("publish", "--folder", out, "--dry-run").count(mend) == 1
    assert not (root / PUBLISHED).exists()
    run("publish", "--folder", out)
    assert "would vanish" not in run("site") + run("check")


def test_a_former_address_that_led_on_is_missed_too(root: Path) -> None:
    """Once `formerly` was published, to take it out is told with the line that brings it back."""
    (root / RIBS).rename(root / "content/entries/2026-02-07-nose-ribs")
    write(root, "entries/2026-02-07-nose-ribs/index.md", "title:", "formerly: 2026-02-07-ribs\ntitle:")
    note_published(root, PageAddresses(open_view(open_journal(root, TODAY), Audience.PUBLIC)))
    assert told(root) == []
    write(root, "entries/2026-02-07-nose-ribs/index.md", "formerly: 2026-02-07-ribs\n", "")
    assert told(root) == [
        'content/entries/2026-02-07-nose-ribs/index.md: the address "entries/2026-02-07-ribs/" was published and would '
        'vanish; if "2026-02-07-nose-ribs" is its new name, write `formerly: 2026-02-07-ribs` there'
    ]
