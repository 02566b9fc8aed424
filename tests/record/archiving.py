"""Small archives for tests: a build of a few files, with plain parts in place of site and binder."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

from making import BUILD_YML, STEPS_CSV, entry

from journal.base.digests import file_sha256
from journal.ledger.journal import open_journal
from journal.record.archive import Archive, ArchivePlace, Parts, write_archive
from journal.record.bag import render_manifest
from journal.record.seals import seal
from journal.record.verify import Report, verify
from journal.view.view import Audience, View, open_view

MADE_AT = datetime(2026, 5, 1, 12, 0, tzinfo=UTC)
ENTRY, LOOK = "2026-02-07-flap-ribs", "2026-02-09-look"
PHOTO = f"data/source/content/entries/{ENTRY}/IMG_1.jpg"
OTHER_PHOTO = f"data/source/content/entries/{ENTRY}/IMG_2.jpg"
TEXT = f"data/source/content/entries/{ENTRY}/index.md"
SEALS = "data/source/content/seals.jsonl"

FILES: dict[str, str | bytes] = {
    f"entries/{ENTRY}/index.md": entry("steps: [5.1]"),
    f"entries/{ENTRY}/IMG_1.jpg": b"the first picture",
    f"entries/{ENTRY}/IMG_2.jpg": b"the second picture, a longer one",
    "entries/2026-02-08-draft/index.md": entry("draft: true"),
    f"inspections/{LOOK}/index.md": (
        "---\ndate: 2026-02-09\nassembly: flaps\ninspector: insp\noutcome: passed\n---\n\nSeen.\n"
    ),
    "records/invoice.txt": "Rivets, 4 kg\n",
    "../mkdocs.yml": "site_name: Tarn\ndocs_dir: content\nplugins: [journal]\n",
}


def write_build(root: Path) -> Path:
    """The build of FILES in the folder `root`."""
    for name, content in {"build.yml": BUILD_YML, "steps.csv": STEPS_CSV, **FILES}.items():
        path = (root / "content" / name).resolve()
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return root


def plain_parts() -> Parts:
    """A site of two pages, a PDF in name, one table."""

    def site(folder: Path) -> None:
        (folder / "pictures").mkdir(parents=True)
        (folder / "index.html").write_text("<title>Tarn</title>")
        (folder / "pictures/a.jpg").write_bytes(b"a smaller picture")

    def binder(path: Path) -> None:
        path.write_bytes(b"%PDF-1.7\nof a kind\n%%EOF\n")

    def tables() -> Iterator[tuple[str, bytes]]:
        yield "tables/hours.csv", b"date,minutes\r\n2026-02-07,60\r\n"

    return Parts(site=site, binder=binder, tables=tables)


def opened(root: Path) -> View:
    """What the inspector sees of a build folder on 1 May 2026."""
    return open_view(open_journal(root, date(2026, 5, 1)), Audience.ARCHIVE)


def sealed(root: Path, reason: str = "a reason") -> View:
    """The same after a seal."""
    done, problems = seal(root, opened(root), now=datetime(2026, 2, 10, tzinfo=UTC), ask=lambda amendment: reason)
    assert done is not None, problems
    return opened(root)


def archived(root: Path, path: Path, *, zipped: bool = False, without_private: bool = False) -> Archive:
    """Seal the build and archive it at `path`; fails the test where it is refused."""
    archive, problems = write_archive(
        root,
        sealed(root),
        ArchivePlace(path=path, zipped=zipped),
        plain_parts(),
        made_at=MADE_AT,
        without_private=without_private,
    )
    assert archive is not None, problems
    return archive


def agree(bag: Path) -> None:
    """Write the lists anew so that they agree with what is there: damage by somebody who knows the format."""
    payload = {f"data/{name}": file_sha256(bag / "data" / name)[0] for name in tree(bag / "data")}
    size = sum(len(data) for data in tree(bag / "data").values())
    info = (bag / "bag-info.txt").read_text().splitlines()
    info = [line if not line.startswith("Payload-Oxum") else f"Payload-Oxum: {size}.{len(payload)}" for line in info]
    (bag / "bag-info.txt").write_text("\n".join(info) + "\n")
    (bag / "manifest-sha256.txt").write_bytes(render_manifest(payload))
    tags = {p.name: file_sha256(p)[0] for p in bag.iterdir() if p.is_file() and p.name != "tagmanifest-sha256.txt"}
    (bag / "tagmanifest-sha256.txt").write_bytes(render_manifest(tags))


def tree(folder: Path) -> dict[str, bytes]:
    """Every file under a folder by its path."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def found(path: Path) -> list[tuple[str, str]]:
    """(kind, path) of all damage."""
    return [(damage.kind.value, damage.path) for damage in verify(path).damage]


def told(report: Report, path: str) -> str:
    """All messages about one path, one a line."""
    return "\n".join(damage.message for damage in report.damage if damage.path == path)


def bagit_accepts(path: Path) -> bool:
    """Whether the validator of the bagit package accepts the bag, run as the program it is."""
    ran = subprocess.run([sys.executable, "-m", "bagit", "--validate", str(path)], capture_output=True, timeout=60)
    return ran.returncode == 0


def sha256sum_accepts(path: Path, *lists: str) -> bool:
    """Whether `sha256sum -c` accepts the lists of a bag, as README.txt tells a stranger to do it."""
    program = shutil.which("sha256sum")
    assert program
    ran = subprocess.run(
        [program, "-c", "--quiet", "--strict", *(lists or ("tagmanifest-sha256.txt", "manifest-sha256.txt"))],
        cwd=path, capture_output=True, timeout=60,
    )  # fmt: skip
    return ran.returncode == 0
