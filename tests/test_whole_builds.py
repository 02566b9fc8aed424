"""Whole builds in tests/builds/, from files to site: expected pages, nothing private, nothing stale."""

from __future__ import annotations

import hashlib
import os
import random
import re
import shutil
import signal
import struct
import subprocess
import sys
import time
import zipfile
import zlib
from pathlib import Path

import pytest
from click.testing import CliRunner

from journal.commands.main import main

HERE = Path(__file__).parent
BUILDS = HERE / "builds"
EPOCH = "1770000000"  # 2026-02-02T02:40:00Z
KEPT = {".html", ".xml", ".json", ".txt"}
"""What a golden site keeps: pages, feeds and data. Pictures have tests of their own."""

PRIVATE = (
    *("bergstrom", "lindqvist", "petrov", "Ostrander", "QX-ONE", "TARN-0001", "SERIAL-777", "88.40", "secret.png"),
    *("anvil", "crosscut", "reads this comment", "needs to know", "2026-01-18-quiet"),
)
"""Words of tests/builds/first-weeks that no follower may see, whatever the form of the page."""


@pytest.fixture
def build(tmp_path: Path) -> Path:
    """A copy of tests/builds/first-weeks to build in."""
    return Path(shutil.copytree(BUILDS / "first-weeks", tmp_path / "build"))


def make_site(build: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The site of `build`, made on a fixed day."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", EPOCH)
    result = CliRunner().invoke(main, ["site", "--build", str(build)], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return build / "site"


def manifest(folder: Path) -> dict[str, str]:
    """Relative path -> SHA-256 of every file."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_the_site_is_as_expected(build: Path, monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> None:
    """Every page, feed and data file equals the golden one; run with --rewrite-goldens to accept a change."""
    site = make_site(build, monkeypatch)
    golden = BUILDS / "first-weeks.site"
    built = {
        # A style is named by its content: the golden pages leave that out, or each change of one would change them all.
        path.relative_to(site).as_posix(): re.sub(rb"(assets/[\w./-]+)\.[0-9a-f]{8}\.", rb"\1.", path.read_bytes())
        for path in sorted(site.rglob("*"))
        if path.suffix in KEPT and "assets" not in path.relative_to(site).parts
    }
    if request.config.getoption("--rewrite-goldens"):
        shutil.rmtree(golden, ignore_errors=True)
        for name, data in built.items():
            (golden / name).parent.mkdir(parents=True, exist_ok=True)
            (golden / name).write_bytes(data)
    expected = {path.relative_to(golden).as_posix(): path.read_bytes() for path in golden.rglob("*") if path.is_file()}
    assert sorted(built) == sorted(expected)
    for name, data in built.items():
        assert data.decode() == expected[name].decode(), name


def test_the_same_content_gives_the_same_bytes(build: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With and without a cache, in another folder: every file of the site is the same."""
    first = manifest(make_site(build, monkeypatch))
    again = manifest(make_site(build, monkeypatch))
    shutil.rmtree(build / ".journal")
    moved = build.rename(build.parent / "elsewhere")
    assert again == first == manifest(make_site(moved, monkeypatch))


def test_nothing_private_reaches_the_site(build: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Names not shown, places, serials, private passages, entries, photos, costs, comments: in no file."""
    written = b"".join(path.read_bytes() for path in (build / "content").rglob("*") if path.is_file())
    names = " ".join(path.name for path in (build / "content").rglob("*"))
    for word in PRIVATE:
        assert word.lower() in (names + written.decode("utf-8", "replace")).lower(), f"{word} is not in the content"
    site = make_site(build, monkeypatch)
    for path in site.rglob("*"):
        told = str(path.relative_to(site)) + (path.read_bytes().decode("utf-8", "replace") if path.is_file() else "")
        for word in PRIVATE:
            assert word.lower() not in told.lower(), f"{word} in {path.name}"


def test_no_page_asks_another_host_for_anything(build: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Links may lead out; what a browser fetches by itself may not."""
    fetched = re.compile(
        r"""(?:<(?:img|script|source|iframe|video|audio|embed|object|use)\b[^>]*?\b(?:src|srcset|data|href)|"""
        r"""<link\b(?=[^>]*\brel="?(?:stylesheet|preload|icon|modulepreload|prefetch|preconnect|dns-prefetch))[^>]*?\bhref"""
        r"""|url\(|@import\s)\s*[=(]?\s*["']?\s*(?:https?:)?//""",
        re.IGNORECASE,
    )
    for path in make_site(build, monkeypatch).rglob("*"):
        if path.suffix in {".html", ".css"}:
            assert not fetched.search(path.read_text("utf-8")), path


def test_what_is_made_private_leaves_nothing_behind(build: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Made private, deleted or renamed, cached or not: the next site knows nothing of it."""
    site = make_site(build, monkeypatch)
    entries = build / "content/entries"
    assert list(site.glob("pictures/*.jpg"))
    text = (entries / "2026-01-17-ribs/index.md").read_text("utf-8")
    (entries / "2026-01-17-ribs/index.md").write_text(text.replace("cover: true", "private: true"), "utf-8")
    (entries / "2026-01-25-spar").rename(entries / "2026-01-25-main-spar")
    bench = (entries / "2026-01-11-bench/index.md").read_text("utf-8")
    (entries / "2026-01-11-bench/index.md").write_text(bench.replace("hours:", "private: true\nhours:"), "utf-8")
    site = make_site(build, monkeypatch)
    assert not list(site.glob("pictures/*.jpg"))
    assert not list((build / ".journal" / "photos").rglob("*.jpg"))
    names = {path.name for path in (site / "entries").iterdir()}
    assert "2026-01-25-main-spar" in names
    assert not names & {"2026-01-25-spar", "2026-01-11-bench"}
    everything = "".join(path.read_text("utf-8") for path in site.rglob("*.html"))
    assert "flat to half a millimetre" not in everything
    assert "Six &lt;ribs&gt;" not in everything
    again = make_site(build, monkeypatch)
    assert not [path.name for path in again.rglob("*") if path.suffix == ".jpg" and path.parent.name == "pictures"]
    assert manifest(again) == manifest(site)


def test_errors_stop_a_site_and_leave_the_old_one(build: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """All errors are told, the exit code is 1, the previous site stands untouched."""
    before = manifest(make_site(build, monkeypatch))
    path = build / "content/entries/2026-01-25-spar/index.md"
    path.write_text(path.read_text("utf-8").replace("left wing", "left wimg").replace("7.1]", "7.3]"), "utf-8")
    result = CliRunner().invoke(main, ["site", "--build", str(build)])
    assert result.exit_code == 1
    assert "unknown-assembly" in result.output
    assert "unknown-step" in result.output
    assert manifest(build / "site") == before


def test_mkdocs_does_the_same(build: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """`mkdocs build` gives the very site that `journal site` gives, and prints no banner."""
    expected = manifest(make_site(build, monkeypatch))
    shutil.rmtree(build / "site")
    done = subprocess.run(
        [sys.executable, "-m", "mkdocs", "build"], cwd=build, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert manifest(build / "site") == expected
    assert "end of life" not in done.stdout + done.stderr
    assert "NO_MKDOCS" not in done.stdout + done.stderr


@pytest.mark.slow
def test_mkdocs_strict_passes_where_nothing_is_found(tmp_path: Path) -> None:
    """A build without findings passes --strict; with one it does not."""
    begun = CliRunner().invoke(main, ["begin", str(tmp_path / "new"), "--yes"])
    assert begun.exit_code == 0, begun.output
    settings = tmp_path / "new/mkdocs.yml"
    text = settings.read_text("utf-8")
    assert not re.search("^site_url:", text, re.MULTILINE)
    settings.write_text(text + "\nsite_url: https://new.example/\n", "utf-8")
    command = [sys.executable, "-m", "mkdocs", "build", "--strict"]
    done = subprocess.run(command, cwd=tmp_path / "new", capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    (tmp_path / "new/content/stepz.csv").write_text("x", "utf-8")
    done = subprocess.run(command, cwd=tmp_path / "new", capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert "stepz.csv" in done.stderr


def test_the_demonstration_is_sound() -> None:
    """The content of this repository has findings on purpose and no errors."""
    if not (HERE.parent / "content").is_dir():
        pytest.skip("not in a checkout")
    result = CliRunner().invoke(main, ["check", "--build", str(HERE.parent)])
    assert result.exit_code == 0, result.output
    assert "0 errors" in result.output


@pytest.mark.slow
def test_killing_a_build_leaves_a_complete_site(build: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Killed at twelve random moments, the site is each time the old one or the new one, whole."""
    old = manifest(make_site(build, monkeypatch))
    path = build / "content/entries/2026-01-11-bench/index.md"
    path.write_text(path.read_text("utf-8").replace("half a millimetre", "a third of a millimetre"), "utf-8")
    copy = Path(shutil.copytree(build, build.parent / "copy"))
    new = manifest(make_site(copy, monkeypatch))
    assert old != new
    command = [sys.executable, "-m", "journal.commands.main", "site", "--build", str(build)]
    begun = time.monotonic()
    subprocess.run(command, env=os.environ, capture_output=True, check=True)
    whole = time.monotonic() - begun
    texts = [path.read_text("utf-8"), path.read_text("utf-8").replace("a third of", "half")]
    for number, moment in enumerate(random.Random(7).sample(range(5, 100), 12)):
        path.write_text(texts[number % 2], "utf-8")
        process = subprocess.Popen(command, env=os.environ, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(whole * moment / 100)
        process.send_signal(signal.SIGKILL)
        process.wait()
        assert manifest(build / "site") in (old, new), f"broken when killed at {moment} %"
    result = subprocess.run(command, env=os.environ, capture_output=True, text=True, check=False)
    assert result.returncode == 0, result.stderr
    left = [path.name for path in build.iterdir() if path.name not in {"content", "mkdocs.yml", "site", ".journal"}]
    assert left == []


@pytest.mark.slow
def test_a_wheel_is_all_that_is_needed(tmp_path: Path) -> None:
    """From the wheel alone, away from the checkout: begin and site work, templates and data are in it."""
    root = HERE.parent
    done = subprocess.run(
        [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(tmp_path), str(root)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    with zipfile.ZipFile(next(tmp_path.glob("*.whl"))) as wheel:
        inside = set(wheel.namelist())
        wheel.extractall(tmp_path / "installed")
    tracked = subprocess.run(
        ["git", "ls-files", "journal", "theme_overrides"], cwd=root, capture_output=True, text=True, check=True
    ).stdout.split("\n")
    wanted = {name.replace("theme_overrides/", "journal/theme/", 1) for name in tracked if name}
    wanted |= {"journal/docs/format.md", "journal/docs/seals.md"}
    assert wanted <= inside, sorted(wanted - inside)
    env = {**os.environ, "PYTHONPATH": str(tmp_path / "installed")}
    for arguments in (
        *(["begin", "new", "--yes"], ["check", "--build", "new"], ["site", "--build", "new"]),
        *(["seal", "--build", "new"], ["archive", "--build", "new"], ["verify", "new/archive", "--again"]),
    ):
        done = subprocess.run(
            [sys.executable, "-m", "journal.commands.main", *arguments],
            cwd=tmp_path,
            env=env,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, (arguments, done.stdout, done.stderr)
    where = subprocess.run(
        [sys.executable, "-c", "import journal.making.host; print(journal.making.host.theme_dir())"],
        cwd=tmp_path,
        env=env,
        capture_output=True,
        text=True,
        check=True,
    )
    assert str(tmp_path) in where.stdout
    assert (tmp_path / "new/site/index.html").is_file()


def test_damage_that_shows_only_in_the_making_is_told(build: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A picture whose data is broken behind a good structure is a finding told in full and a placeholder; damage that
    `check` sees, and a mark that the typeface cannot write, are counted.
    """
    path = build / "content/entries/2026-01-17-ribs/ribs.jpg"
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2] + bytes(len(data) - len(data) // 2))
    chunks = [
        b"IHDR" + struct.pack(">IIBBBBB", 64, 64, 8, 2, 0, 0, 0),
        b"IDAT" + zlib.compress(bytes(10))[:-4],
        b"IEND",
    ]
    png = b"".join(struct.pack(">I", len(one) - 4) + one + struct.pack(">I", zlib.crc32(one)) for one in chunks)
    (path.parent / "hollow.png").write_bytes(b"\x89PNG\r\n\x1a\n" + png)
    settings = build / "content/build.yml"
    settings.write_text(settings.read_text("utf-8").replace("first weeks,", "\u98db first weeks,"), "utf-8")
    listed = CliRunner().invoke(main, ["check", "--build", str(build), "--kind", "photo-unreadable"])
    assert '"ribs.jpg" cannot be shown' in listed.output
    assert "hollow.png" not in listed.output
    result = CliRunner().invoke(main, ["site", "--build", str(build)], catch_exceptions=False)
    assert result.exit_code == 0
    assert '"hollow.png" cannot be shown' in result.output.split("The newest:")[0]
    assert "  3  photo-unreadable" in result.output
    assert "watermark-letters" in result.output
    assert "Six &lt;ribs&gt;" in (build / "site/entries/2026-01-17-ribs/index.html").read_text("utf-8")
