"""A site made again after a change is the site made from nothing, byte for byte; nothing changed costs little."""

from __future__ import annotations

import os
import random
import shutil
import subprocess
import sys
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from making import BUILD_YML, STEPS_CSV, entry, slow
from PIL import Image

from journal.commands.main import main
from journal.making import host, mkdocs_plugin, unchanged
from journal.media.photos import service, store

SEED = int(os.environ.get("REMADE_SEED", "20261127"))
EDITS = int(os.environ.get("REMADE_EDITS", "20"))
"""A tenth of what is done by hand: `REMADE_EDITS=200 pytest -m slow tests/test_remade_sites.py`."""

SETTINGS = """\
site_name: Remade
site_url: https://remade.example/
docs_dir: content
theme: {name: material, font: false}
plugins: [search, journal]
"""
WORDS = ["rivet", "skin", "rib", "spar", "dimple", "deburr", "primer", "drill", "hinge", "flange", "doubler", "bracket"]
STEPS = ("5.1", "5.2", "5.3", "5.4", "7.1", "7.2", "7.10")


def write_picture(path: Path, shade: int) -> None:
    """A small picture of one colour."""
    Image.new("RGB", (64, 48), (shade % 256, 90, 160)).save(path)


def write_entry(root: Path, name: str, draw: random.Random) -> None:
    """An entry with drawn words, hours and steps, and now and then a picture."""
    folder = root / "content/entries" / name
    folder.mkdir(parents=True, exist_ok=True)
    lines = [f"title: {draw.choice(WORDS)} {draw.randrange(99)}", f"date: {name[:10]}"]
    lines.append(f"assembly: {draw.choice(('flaps', 'left-wing', 'workshop'))}")
    lines.append(f"hours: {draw.randrange(1, 5)}:{draw.choice(('00', '15', '30'))}")
    if draw.random() < 0.5:
        lines.append(f"steps: [{draw.choice(STEPS)}]")
    if draw.random() < 0.3:
        lines.append(f"tools: [{draw.choice(WORDS)}]")
    if draw.random() < 0.2:
        lines.append("private: true")
    body = " ".join(draw.choice(WORDS) for _ in range(12)) + "."
    (folder / "index.md").write_text(entry("\n".join(lines), body))
    if draw.random() < 0.3:
        write_picture(folder / f"p{draw.randrange(3)}.png", draw.randrange(256))


def write_build(root: Path, entries: int, draw: random.Random) -> None:
    """A build folder with so many entries on days in a row."""
    (root / "content").mkdir(parents=True)
    (root / "mkdocs.yml").write_text(SETTINGS)
    (root / "content/build.yml").write_text(BUILD_YML)
    (root / "content/steps.csv").write_text(STEPS_CSV)
    for number in range(entries):
        write_entry(root, f"2026-{1 + number // 28:02d}-{1 + number % 28:02d}-e{number}", draw)


def make(root: Path) -> str:
    """`journal site` in the build folder; what it said."""
    done = CliRunner().invoke(main, ["site", "--build", str(root)], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.output.replace(str(root), "")


def test_what_was_stopped_from_outside_is_tried_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By the next run, though nothing has changed in the folder: so its finding says."""
    write_build(tmp_path, 1, random.Random(1))
    write_picture(next((tmp_path / "content/entries").iterdir()) / "a.png", 7)
    with monkeypatch.context() as broken:
        broken.setattr(store, "SERVICE", service.Service())
        broken.setattr(service, "COMMAND", (sys.executable, "-c", "raise SystemExit(1)"))
        assert "photo-unreadable" in make(tmp_path)
    assert "photo-unreadable" not in make(tmp_path)


def contents(folder: Path) -> dict[str, str]:
    """Path below `folder` -> SHA-256 of every file."""
    return {
        path.relative_to(folder).as_posix(): sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def from_nothing(root: Path, scratch: Path) -> tuple[str, dict[str, str]]:
    """What a build folder with the same files and no memory comes to."""
    shutil.rmtree(scratch, ignore_errors=True)
    shutil.copytree(root, scratch, ignore=shutil.ignore_patterns("site", ".journal"))
    return make(scratch), contents(scratch / "site")


def some_entry(root: Path, draw: random.Random) -> Path:
    """One of the entries' folders."""
    return draw.choice(sorted((root / "content/entries").iterdir()))


def some_page(root: Path, draw: random.Random) -> Path:
    """One of the pages below the front page."""
    return draw.choice(sorted((root / "site").glob("*/**/index.html")))


def _say_more(root: Path, draw: random.Random) -> None:
    with (some_entry(root, draw) / "index.md").open("a") as file:
        file.write(f"\nAnd {draw.choice(WORDS)} {draw.randrange(1000)}.\n")


def _write_anew(root: Path, draw: random.Random) -> None:
    write_entry(root, some_entry(root, draw).name, draw)


def _add_entry(root: Path, draw: random.Random) -> None:
    write_entry(root, f"2026-03-{1 + draw.randrange(28):02d}-n{draw.randrange(10**6)}", draw)


def _drop_entry(root: Path, draw: random.Random) -> None:
    if len(list((root / "content/entries").iterdir())) > 10:
        shutil.rmtree(some_entry(root, draw))


def _rename_entry(root: Path, draw: random.Random) -> None:
    folder = some_entry(root, draw)
    folder.rename(folder.with_name(f"{folder.name[:10]}-r{draw.randrange(10**6)}"))


def _other_picture(root: Path, draw: random.Random) -> None:
    write_picture(some_entry(root, draw) / "p1.png", draw.randrange(256))


def _same_size_same_time(root: Path, draw: random.Random) -> None:
    """What a careless copy does: other words, the same length and the same time."""
    file = some_entry(root, draw) / "index.md"
    told, text = file.stat(), file.read_text()
    place = len(text) - 3
    file.write_text(text[:place] + ("x" if text[place] != "x" else "y") + text[place + 1 :])
    os.utime(file, ns=(told.st_atime_ns, told.st_mtime_ns))


def _other_step(root: Path, draw: random.Random) -> None:
    file = root / "content/steps.csv"
    file.write_text(file.read_text().replace("Deburr the ribs", f"Deburr the {draw.choice(WORDS)} ribs", 1))


def _other_settings(root: Path, draw: random.Random) -> None:
    file = root / "mkdocs.yml"
    file.write_text(SETTINGS + f"site_description: Told {draw.randrange(1000)} times\n")


def _other_plan(root: Path, draw: random.Random) -> None:
    file = root / "content/build.yml"
    file.write_text(BUILD_YML.replace("planned_hours: 60", f"planned_hours: {draw.randrange(40, 90)}"))


def _spoil_page(root: Path, draw: random.Random) -> None:
    """Somebody edits a page of the site itself (the front page is left: by it a site is known as one)."""
    some_page(root, draw).write_text("spoilt")


def _drop_page(root: Path, draw: random.Random) -> None:
    some_page(root, draw).unlink()


def _drop_memory(root: Path, draw: random.Random) -> None:
    """The cache may be deleted at any time, all of it or a part."""
    parts = sorted(path for path in (root / ".journal").rglob("*") if path.is_file())
    for path in draw.sample(parts, min(len(parts), 5)):
        path.unlink()


def _nothing(root: Path, draw: random.Random) -> None:
    """No edit at all."""


Edit = Callable[[Path, random.Random], None]
CHANGES: tuple[Edit, ...] = (
    *(_say_more, _say_more, _write_anew, _write_anew, _add_entry, _drop_entry, _rename_entry, _other_picture),
    *(_same_size_same_time, _other_step, _other_settings, _other_plan, _spoil_page, _drop_page, _drop_memory, _nothing),
)


@pytest.mark.slow
def test_a_site_made_again_is_the_site_made_from_nothing(tmp_path: Path) -> None:
    """After each of many edits: the same files, the same bytes, the same words at the end."""
    draw = random.Random(SEED)
    root = tmp_path / "build"
    write_build(root, 30, draw)
    make(root)
    for number in range(EDITS):
        edit = CHANGES[number % len(CHANGES)] if number < len(CHANGES) else draw.choice(CHANGES)
        edit(root, draw)
        said, (wanted_words, wanted) = make(root), from_nothing(root, tmp_path / "scratch")
        where = f"edit {number} ({edit.__name__}), seed {SEED}"
        assert contents(root / "site") == wanted, where
        assert said.replace("/build/", "/") == wanted_words.replace("/scratch/", "/"), where


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """A build of four entries, its site made."""
    root = tmp_path / "small"
    write_build(root, 4, random.Random(1))
    make(root)
    return root


def test_nothing_changed_opens_nothing(small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second time the same is said, and neither host nor content is opened."""
    before = contents(small / "site")
    said = make(small)
    monkeypatch.setattr(host, "load_settings", None)
    assert make(small) == said
    assert contents(small / "site") == before


def test_the_second_site_makes_only_what_changed(small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Not all once more because there is no folder of the time before."""
    made: list[str] = []
    real = mkdocs_plugin.page_context

    def counting(frame: Any, page: Any, **others: Any) -> Any:
        made.append(page.address)
        return real(frame, page, **others)

    monkeypatch.setattr(mkdocs_plugin, "page_context", counting)
    _say_more(small, random.Random(3))
    make(small)
    assert any(address.startswith("entries/") for address in made)
    assert len(made) < len(list((small / "site").rglob("index.html"))) / 4
    assert not [address for address in made if address.startswith("shop/")]


@pytest.mark.parametrize(
    "change",
    [
        _same_size_same_time,
        _spoil_page,
        *slow(_say_more, _add_entry, _other_picture, _other_settings, _drop_page, _drop_memory),
    ],
)
def test_every_change_is_seen(small: Path, change: Edit) -> None:
    """Content, settings, the site itself, the memory: with any of it changed the site is looked through."""
    make(small)
    assert unchanged.recall(small, None, unchanged.digest_inputs(small)) is not None
    change(small, random.Random(3))
    if change is not _drop_memory:
        assert unchanged.recall(small, None, unchanged.digest_inputs(small)) is None
    make(small)
    assert (small / "site/index.html").read_text() != "spoilt"


def test_another_day_and_another_place_are_other_sites(small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Findings depend on the day; `--out` asks for another folder."""
    assert unchanged.recall(small, small / "elsewhere", unchanged.digest_inputs(small)) is None
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1900000000")
    assert unchanged.recall(small, None, unchanged.digest_inputs(small)) is None


def test_strict_is_not_passed_over(small: Path) -> None:
    """A site that was made with findings is no answer to --strict."""
    make(small)
    done = CliRunner().invoke(main, ["site", "--strict", "--build", str(small)], catch_exceptions=False)
    assert done.exit_code == 1
    assert "No site was made" in done.output


def test_what_other_programs_decide_is_never_taken_for_unchanged(small: Path) -> None:
    """A hook, or settings taken from the environment, may change a page for reasons that no file tells."""
    (small / "mkdocs.yml").write_text(SETTINGS.replace("Remade", "!ENV [NAME, Remade]"))
    make(small)
    assert unchanged.recall(small, None, unchanged.digest_inputs(small)) is None


def test_a_site_that_could_not_be_made_leaves_no_memory(small: Path) -> None:
    """An error stops the site; the old one stands, and the next good build is a build."""
    file = some_entry(small, random.Random(5)) / "index.md"
    good = file.read_text()
    file.write_text(good.replace("assembly:", "asembly:"))
    done = CliRunner().invoke(main, ["site", "--build", str(small)], catch_exceptions=False)
    assert done.exit_code == 1
    file.write_text(good)
    make(small)
    assert (small / "site/index.html").is_file()


PRINT_WHAT_DECIDES = """
import hashlib, sys
from datetime import date
from pathlib import Path
from typing import Any
from journal.ledger.journal import open_journal
from journal.making.incremental import packed
from journal.site.pages import context_pages
from journal.site.site_context import SiteContext
from journal.view.view import Audience, open_view
site = SiteContext(open_view(open_journal(Path(sys.argv[1]), date(2026, 3, 1)), Audience.ARCHIVE), {})
told = [packed(page) for page in context_pages(site)] + [packed(site._prose_rules)]
print(hashlib.sha256(b"".join(told)).hexdigest())
"""


@pytest.mark.slow
def test_what_decides_about_a_page_is_the_same_in_every_run(small: Path) -> None:
    """A set in a record would have another order in each process: no page would ever be known again."""
    said = {
        subprocess.run(
            [sys.executable, "-c", PRINT_WHAT_DECIDES, str(small)],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(said) == 1
    assert len(next(iter(said)).strip()) == 64


@pytest.mark.slow
def test_a_page_that_leads_on_takes_the_place_of_a_page_and_gives_it_back(small: Path, tmp_path: Path) -> None:
    """An entry renamed with its former name, then named back: both folders that take turns hold what they should."""
    folder = some_entry(small, random.Random(7))
    text, old = folder / "index.md", (folder / "index.md").read_text()
    for name, said in ((f"{folder.name}-b", f"---\nformerly: {folder.name}\n"), (folder.name, "---\n")):
        folder = folder.rename(folder.parent / name)
        text = folder / "index.md"
        text.write_text(old.replace("---\n", said, 1))
        for _ in range(2):
            make(small)
            assert contents(small / "site") == from_nothing(small, tmp_path / "scratch")[1]
            (small / ".journal/site-as-made.json").unlink()
