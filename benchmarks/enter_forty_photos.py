"""From forty phone photos to an entry ready to type into: wall time of the whole command, cold and warm.

The photos are 12-megapixel JPEGs of about five megabytes. The build has as many entries as `--entries` says,
and the phone's folder `--older` more photos, which are looked at too the first time.

    python benchmarks/enter_forty_photos.py --entries 200
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import piexif
from PIL import Image

TARGET_S = 10.0


def make_photo(path: Path, taken: str, noise: bytes) -> None:
    """A 4000 x 3000 JPEG of about 4 MB with the time in its Exif."""
    image = Image.frombytes("L", (1000, 750), noise).resize((4000, 3000)).convert("RGB")
    exif = {"0th": {piexif.ImageIFD.Make: b"Example"}, "Exif": {piexif.ExifIFD.DateTimeOriginal: taken.encode()}}
    image.save(path, "JPEG", quality=92, exif=piexif.dump(exif))


def make_phone(folder: Path, older: int) -> None:
    """Forty photos of one evening, and `older` of earlier days (hard links with other bytes at the end)."""
    for number in range(40):
        make_photo(folder / f"IMG_{number:04}.jpg", f"2026:02:07 18:{number:02}:00", os.urandom(750_000))
    first = (folder / "IMG_0000.jpg").read_bytes().replace(b"2026:02:07", b"2026:01:07")
    for number in range(older):
        (folder / f"IMG_{1000 + number}.jpg").write_bytes(first + number.to_bytes(4, "big"))


def make_build(root: Path, entries: int) -> None:
    """A build with that many entries without photos."""
    subprocess.run(
        [sys.executable, "-m", "journal.commands.main", "begin", str(root), "--yes"], check=True, capture_output=True
    )
    for number in range(entries):
        folder = root / f"content/entries/e{number}"
        folder.mkdir(parents=True)
        day = f"20{10 + number // 360:02}-{number // 30 % 12 + 1:02}-{number % 28 + 1:02}"
        (folder / "index.md").write_text(f"---\ndate: {day}\nassembly: flaps\nhours: 2:00\n---\nWork.\n")


def main() -> int:
    """Print the times; exit 1 where the target is missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--entries", type=int, default=200)
    parser.add_argument("--older", type=int, default=0)
    options = parser.parse_args()
    worst = 0.0
    with tempfile.TemporaryDirectory() as scratch:
        root, phone = Path(scratch, "build"), Path(scratch, "phone")
        phone.mkdir()
        make_build(root, options.entries)
        make_phone(phone, options.older)
        size = sum(path.stat().st_size for path in phone.glob("IMG_0*")) / 1e6
        command = [sys.executable, "-m", "journal.commands.main", "enter", "--build", str(root), "--photos", str(phone)]
        command += ["--day", "2026-02-07", "--assembly", "flaps", "--yes"]
        for what, more in (("first look at the phone", ["--dry-run"]), ("phone known, entry written", [])):
            begun = time.perf_counter()
            subprocess.run([*command, *more], check=True, capture_output=True)
            taken = time.perf_counter() - begun
            worst = max(worst, taken)
            print(f"{what}: {taken:.2f} s ({taken / TARGET_S:.2f} of the {TARGET_S:.0f} s allowed)")
        written = list((root / "content/entries").glob("2026-02-07-*/IMG_*.jpg"))
        print(f"{len(written)} photos, {size:.0f} MB, {options.entries} entries, {options.older} older photos")
        if len(written) != 40:
            return 1
    return 0 if worst < TARGET_S else 1


if __name__ == "__main__":
    sys.exit(main())
