"""Photos to three widths: the time against libvips, as a ratio from one run.

    python benchmarks/photos_against_libvips.py [--count 200] [--from FOLDER_OF_JPEGS]

Makes its own pictures of 12 megapixels (enlarged from the demonstration's, with fresh noise, so that
they compress as a camera's do), then lets both work through them in turns, batch by batch, so
that a busy machine slows both. Same sizes, format, quality, chroma and Huffman tables; files on disk at
the end. libvips runs the way that was fastest on two processors: two threads, one picture each.

Two of ours are timed: `pictures` does what libvips does here, `photos` is what a build does, that is,
digest and facts of every original, colour profile, watermark, caption, cache file names.
Needs `pyvips` and `pyvips-binary`.
"""

from __future__ import annotations

import argparse
import os
import random
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

os.environ["VIPS_CONCURRENCY"] = "1"

import psutil
import pyvips
from PIL import Image, ImageChops

from journal.base.model import PhotoSettings
from journal.media.photos import LONG_EDGES, PhotoStore, PictureJob
from journal.media.photos.rendition import JPEG_QUALITY

HERE = Path(__file__).resolve().parent
SIZE = (4000, 3000)
THREADS = 2
BATCH = 10
TARGET = 1.25


def main() -> int:
    """Make the pictures, run both in turns, print the ratios; 1 where the target is missed."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--count", type=int, default=200, help="how many pictures (default 200)")
    options.add_argument("--from", dest="folder", type=Path, default=HERE.parent / "content" / "entries")
    chosen = options.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        root = Path(scratch)
        names = make_pictures(root, chosen.folder, chosen.count)
        print(f"{len(names)} pictures of 12 megapixels, {sum((root / n).stat().st_size for n in names) >> 20} MiB")
        times: dict[str, list[float]] = {"libvips": [], "pictures": [], "photos": []}
        processor = dict.fromkeys(times, 0.0)
        ways: dict[str, Callable[[Path, list[str], Path], None]] = {
            "libvips": with_libvips,
            "pictures": lambda *job: with_journal(*job, whole=False),
            "photos": lambda *job: with_journal(*job, whole=True),
        }
        for number in range(0, len(names), BATCH):
            batch = names[number : number + BATCH]
            turn = list(ways.items())
            random.Random(number).shuffle(turn)
            for way, work in turn:
                out = root / f"{way}-{number}"
                begun, begun_working = time.perf_counter(), processor_time()
                work(root, batch, out)
                processor[way] += processor_time() - begun_working
                times[way].append((time.perf_counter() - begun) / len(batch))
    base = times["libvips"]
    missed = False
    for way, each in times.items():
        ratio = sum(each) / sum(base)
        spread = statistics.quantiles([a / b for a, b in zip(each, base, strict=True)], n=4)
        print(
            f"{way:9} {sum(each) / len(each) * 1000:6.1f} ms a picture   ratio {ratio:.2f}"
            f"   (middle half of the batches {spread[0]:.2f} to {spread[2]:.2f};"
            f" processor time {processor[way] / processor['libvips']:.2f})"
        )
        missed |= ratio > TARGET
    print(f"target: at most {TARGET}")
    return int(missed)


def processor_time() -> float:
    """Seconds of this process and its children, those that still run included."""
    here = psutil.Process()
    alive = [child.cpu_times() for child in here.children(recursive=True)]
    times = [here.cpu_times(), *alive]
    ended = here.cpu_times()
    return sum(one.user + one.system for one in times) + ended.children_user + ended.children_system


def make_pictures(root: Path, folder: Path, count: int) -> list[str]:
    """Write `count` different JPEGs of 12 megapixels below `root`; their names."""
    sources = sorted(path for path in folder.rglob("*.jpg") if not path.name.startswith("."))[:12]
    if not sources:
        raise SystemExit(f"no JPEG below {folder}: say --from FOLDER")
    grounds = []
    for path in sources:
        with Image.open(path) as small:
            large = small.convert("RGB").resize(SIZE, Image.Resampling.LANCZOS)
        grain = Image.effect_noise(SIZE, 6).convert("RGB")
        grounds.append(ImageChops.add(large, grain, offset=-128))

    def make(number: int) -> str:
        name = f"{number:04d}.jpg"
        moved = ImageChops.offset(grounds[number % len(grounds)], 37 * number, 11 * number)
        moved.save(root / name, quality=92)
        return name

    with ThreadPoolExecutor(THREADS) as pool:
        return list(pool.map(make, range(count)))


def with_libvips(root: Path, names: list[str], out: Path) -> None:
    """Three widths of each picture, each from the one before, as files."""
    out.mkdir()

    def one(name: str) -> None:
        image = None
        for long_edge in reversed(LONG_EDGES):
            if image is None:
                image = pyvips.Image.thumbnail(str(root / name), long_edge, height=long_edge, size="down")
            else:
                image = image.thumbnail_image(long_edge, height=long_edge)
            image = image.copy_memory()
            image.jpegsave(
                str(out / f"{name}-{long_edge}.jpg"),
                Q=JPEG_QUALITY,
                optimize_coding=True,
                subsample_mode="on",
                keep="none",
            )

    with ThreadPoolExecutor(THREADS) as pool:
        list(pool.map(one, names))


def with_journal(root: Path, names: list[str], out: Path, *, whole: bool) -> None:
    """The same with ours; `whole` adds everything else that a build does with a photo."""
    store = PhotoStore(root, out)
    settings = PhotoSettings(watermark="Tarn · an invented kit" if whole else "")
    examined = store.examine(names)
    jobs = [
        PictureJob(
            src_uri=name,
            sha256=examined[name].sha256,
            caption="Rib attach angles fastened to the main spar" if whole else "",
            credit="the builders" if whole else "",
            settings=settings,
        )
        for name in names
    ]
    for picture in store.render(jobs).values():
        assert len(picture.renditions) == len(LONG_EDGES), picture.trouble


if __name__ == "__main__":
    sys.exit(main())
