"""Time of an archive and of verifying it, against cp, sha256sum and sha256sum -c over the same originals.

    python benchmarks/archive_speed.py [--megabytes 2000] [--files 400] [--folder DIR] [--zip]

The readable parts (site, binder, tables) are left out: what is measured is reading, copying, digesting,
writing the lists, and verifying what was written. Figures to reach: archive at most 1.5 times `cp -r`
and `sha256sum` one after the other; verify at most 1.2 times `sha256sum -c`. Every run reads from the
same state of the cache (everything just written, on most machines in memory): the disk is not measured.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path

from journal.ledger.journal import open_journal
from journal.record.archive import ArchivePlace, Parts, write_archive
from journal.record.verify import verify
from journal.view.view import Audience, open_view

BUILD_YML = """\
aircraft: {name: Tarn}
begun: 2026-01-10
people: {ada: {name: Ada Bergstrom, role: builder}}
places: {home: {name: home workshop}}
assemblies: {flaps: {title: Flaps}}
"""


def make_build(root: Path, megabytes: int, files: int) -> None:
    """A build whose originals are files of random bytes, ten to an entry, of sizes that differ."""
    (root / "content").mkdir(parents=True)
    (root / "content/build.yml").write_text(BUILD_YML)
    (root / "mkdocs.yml").write_text("site_name: Tarn\ndocs_dir: content\n")
    mean = megabytes * 1_000_000 // files
    for number in range(files):
        folder = root / f"content/entries/2026-02-01-{number // 10:04}"
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "index.md").write_text("---\ndate: 2026-02-01\nassembly: flaps\nhours: 1:00\n---\n\nWork.\n")
        size = mean // 2 + mean * (number % 11) // 10
        # .bin: an archive takes everything; only the photo code would look into pictures.
        (folder / f"IMG_{number:05}.bin").write_bytes(os.urandom(size))


def timed(what: str, work: Callable[[], object]) -> float:
    """Run it, print and return the seconds."""
    start = time.perf_counter()
    work()
    seconds = time.perf_counter() - start
    print(f"  {what:<44}{seconds:8.2f} s")
    return seconds


def shell(command: str, folder: Path) -> Callable[[], object]:
    """A command line to run in a folder."""
    return lambda: subprocess.run(command, cwd=folder, shell=True, check=True)


def main() -> None:
    """Make the build, take the times, print the two ratios."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--megabytes", type=int, default=2000)
    options.add_argument("--files", type=int, default=400)
    options.add_argument("--folder", type=Path, default=None, help="where to work (default: the temporary folder)")
    options.add_argument("--zip", action="store_true")
    options.add_argument("--rounds", type=int, default=3)
    given = options.parse_args()
    work = Path(tempfile.mkdtemp(prefix="archive-speed-", dir=given.folder))
    try:
        run(work, given.megabytes, given.files, given.zip, given.rounds)
    finally:
        shutil.rmtree(work)


def run(work: Path, megabytes: int, files: int, zipped: bool, rounds: int) -> None:
    """All of it in the folder `work`; of several rounds the fastest of each counts."""
    root = work / "build"
    make_build(root, megabytes, files)
    view = open_view(open_journal(root, date(2026, 5, 1)), Audience.ARCHIVE)

    def tables() -> Iterator[tuple[str, bytes]]:
        yield "tables/hours.csv", b"date,minutes\r\n"

    def site(folder: Path) -> None:
        folder.mkdir()
        (folder / "index.html").write_text("Tarn")

    parts = Parts(site=site, binder=lambda path: path.write_bytes(b"%PDF-1.7\n"), tables=tables)
    place = ArchivePlace(path=work / ("out.zip" if zipped else "out"), zipped=zipped)

    def archive() -> None:
        made, problems = write_archive(root, view, place, parts, made_at=datetime(2026, 5, 1, tzinfo=UTC))
        if made is None:
            raise SystemExit(str(problems))

    names = ("cp", "sha256sum", "openssl", "archive", "again", "check", "verify")
    best = dict.fromkeys(names, float("inf"))
    print(f"{megabytes:,} MB in {files:,} files, {'zip' if zipped else 'folder'}")
    for _ in range(rounds):
        shutil.rmtree(work / "copy", ignore_errors=True)
        shutil.rmtree(place.path, ignore_errors=True) if not zipped else place.path.unlink(missing_ok=True)
        os.sync()
        seconds = {
            "cp": timed("cp -r", shell("cp -r build copy", work)),
            "sha256sum": timed("sha256sum", shell("find copy -type f -print0 | xargs -0 sha256sum > sums", work)),
        }
        # Some builds of sha256sum do not use the processor's own SHA-256; openssl does, and so does Python.
        digest = "find copy -type f -print0 | xargs -0 openssl dgst -sha256 > sums"
        seconds["openssl"] = timed("openssl dgst -sha256", shell(digest, work))
        shutil.rmtree(work / "copy")
        os.sync()
        seconds["archive"] = timed("archive (copied, digested, verified)", archive)
        seconds["again"] = timed("archive again (nothing changed)", archive)
        if not zipped:
            seconds["check"] = timed("sha256sum -c", shell("sha256sum -c --quiet manifest-sha256.txt", place.path))
        else:
            seconds["check"] = timed("sha256sum of the zip", shell(f"sha256sum {place.path} > /dev/null", work))
        seconds["verify"] = timed("verify", lambda: verify(place.path))
        best = {name: min(best[name], seconds[name]) for name in names}
    print(f"archive / (cp + sha256sum) = {best['archive'] / (best['cp'] + best['sha256sum']):.2f}   (figure: 1.5)")
    print(
        f"archive / (cp + openssl)   = {best['archive'] / (best['cp'] + best['openssl']):.2f}   (the stricter measure)"
    )
    print(f"verify / sha256sum -c      = {best['verify'] / best['check']:.2f}   (figure: 1.2)")
    print(f"archive again / archive    = {best['again'] / best['archive']:.2f}")


if __name__ == "__main__":
    main()
