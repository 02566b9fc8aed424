"""Small build folders for tests: written as a builder would write them."""

from __future__ import annotations

import shutil
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest
from hypothesis import settings
from making import BUILD_YML, STEPS_CSV, MakeBuild
from playwright.sync_api import Browser, sync_playwright

# A deadline for one example measures the machine, not the code.
settings.register_profile("here", deadline=None)
settings.load_profile("here")

QUIET = [
    *("--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-sync"),
    *("--disable-background-networking", "--disable-component-update"),
]


@pytest.fixture
def make_build(tmp_path: Path) -> MakeBuild:
    """Write a build folder: `make_build({"entries/x/index.md": "…"}, entry="…")`.

    Keys are relative to content/; texts are written as UTF-8, bytes as they are. build.yml and
    steps.csv are there unless given as None.
    """

    def make(files: Mapping[str, str | bytes | None] | None = None) -> Path:
        whole: dict[str, str | bytes | None] = {"build.yml": BUILD_YML, "steps.csv": STEPS_CSV, **(files or {})}
        for name, content in whole.items():
            if content is None:
                continue
            path = tmp_path / "content" / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return tmp_path

    return make


def pytest_addoption(parser: pytest.Parser) -> None:
    """`--rewrite-goldens` stores what is built now as what is expected; review the diff like code."""
    parser.addoption("--rewrite-goldens", action="store_true", help="store the sites built now as expected")


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Debian's Chromium, without a window: one for all tests of a process, since its driver bears no second."""
    program = shutil.which("chromium")
    if program is None:
        pytest.skip("Chromium is not installed")
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=program, args=QUIET)
        yield started
        started.close()
