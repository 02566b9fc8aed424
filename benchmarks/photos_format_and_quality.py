"""Why JPEG, why this quality, why this filter: size, time and likeness, measured on the demonstration's photos.

    python benchmarks/photos_format_and_quality.py [--from FOLDER_OF_JPEGS] [--count 12]

Likeness is DSSIM, (1 - SSIM) / 2 on the luma, in thousandths, smaller is better; SSIM as in Wang, Bovik, Sheikh
and Simoncelli, "Image quality assessment", IEEE Transactions on Image Processing 13 (2004), with its
Gaussian window of 11 and standard deviation 1.5. Times are processor time of one thread.
"""

from __future__ import annotations

import argparse
import io
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

HERE = Path(__file__).resolve().parent
WIDTH = 960  # what a phone is shown
LANCZOS, BICUBIC, HAMMING = Image.Resampling.LANCZOS, Image.Resampling.BICUBIC, Image.Resampling.HAMMING


def main() -> None:
    """Print both tables."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--from", dest="folder", type=Path, default=HERE.parent / "content" / "entries")
    options.add_argument("--count", type=int, default=12)
    chosen = options.parse_args()
    paths = [path for path in sorted(chosen.folder.rglob("*.jpg")) if not path.name.startswith(".")]
    if not paths:
        raise SystemExit(f"no JPEG below {chosen.folder}: say --from FOLDER")
    paths = paths[:: max(1, len(paths) // chosen.count)][: chosen.count]
    print_formats([opened(path).resize((WIDTH, WIDTH * 3 // 4), LANCZOS) for path in paths])
    print_filters([enlarged(path) for path in paths[:4]])


def opened(path: Path) -> Image.Image:
    """The picture as RGB, whichever way round."""
    with Image.open(path) as image:
        return image.convert("RGB")


def enlarged(path: Path) -> bytes:
    """A JPEG of 12 megapixels with a camera's noise."""
    large = np.asarray(opened(path).resize((4000, 3000), LANCZOS), dtype=np.int16)
    noise = np.random.default_rng(7).normal(0, 4, (3000, 4000, 1)).astype(np.int16)
    out = io.BytesIO()
    Image.fromarray((large + noise).clip(0, 255).astype(np.uint8)).save(out, "JPEG", quality=92)
    return out.getvalue()


def print_formats(pictures: Sequence[Image.Image]) -> None:
    """Formats and qualities at the width of a phone."""
    print(f"{len(pictures)} pictures of {WIDTH} pixels   {'KiB':>7} {'ms':>6} {'DSSIM':>6} {'worst':>6}")
    ways: list[tuple[str, dict[str, Any]]] = [
        *((f"JPEG {q}", {"format": "JPEG", "quality": q, "optimize": True}) for q in (70, 75, 80, 82, 85, 90)),
        ("JPEG 82, plain tables", {"format": "JPEG", "quality": 82}),
        ("JPEG 82, progressive", {"format": "JPEG", "quality": 82, "optimize": True, "progressive": True}),
        ("JPEG 82, 4:4:4", {"format": "JPEG", "quality": 82, "optimize": True, "subsampling": 0}),
        *((f"WebP {q}", {"format": "WEBP", "quality": q}) for q in (75, 80, 85, 90)),
        *((f"AVIF {q}", {"format": "AVIF", "quality": q, "speed": 8}) for q in (60, 70)),
    ]
    for name, way in ways:
        size, spent, likeness = 0, 0.0, []
        for picture in pictures:
            out = io.BytesIO()
            begun = time.process_time()
            picture.save(out, **way)
            spent += time.process_time() - begun
            size += out.tell()
            likeness.append(dssim(picture, Image.open(out)))
        count = len(pictures)
        print(
            f"  {name:24} {size / count / 1024:7.1f} {spent / count * 1000:6.1f}"
            f" {np.mean(likeness):6.2f} {max(likeness):6.2f}"
        )


def print_filters(originals: Sequence[bytes]) -> None:
    """Ways down from 12 megapixels, against a Lanczos resize of the whole decoded original."""
    print(f"\n{len(originals)} pictures of 12 megapixels, decoded at half size       {'ms':>6} {'DSSIM':>6}")
    half = (1920, 1440)
    ways: dict[str, Callable[[Image.Image], Image.Image]] = {
        "1920 by Lanczos": lambda image: image.resize(half, LANCZOS),
        "1920 by bicubic": lambda image: image.resize(half, BICUBIC),
        "1920 by Hamming": lambda image: image.resize(half, HAMMING),
        " 960 by Lanczos from bicubic": lambda image: image.resize(half, BICUBIC).resize((960, 720), LANCZOS),
        " 960 by halving": lambda image: image.resize(half, BICUBIC).reduce(2),
        " 480 by halving twice": lambda image: image.resize(half, BICUBIC).reduce(2).reduce(2),
    }
    for name, way in ways.items():
        spent, likeness = 0.0, []
        for data in originals:
            drafted = Image.open(io.BytesIO(data))
            drafted.draft(None, half)
            drafted.load()
            begun = time.process_time()
            made = way(drafted)
            spent += time.process_time() - begun
            likeness.append(dssim(made, Image.open(io.BytesIO(data)).resize(made.size, LANCZOS)))
        print(f"  {name:51} {spent / len(originals) * 1000:6.1f} {np.mean(likeness):6.2f}")


def dssim(one: Image.Image, other: Image.Image) -> float:
    """Unlikeness of the lumas in thousandths."""
    a, b = (np.asarray(image.convert("L"), dtype=np.float64) for image in (one, other))
    mean_a, mean_b = blurred(a), blurred(b)
    var_a, var_b = blurred(a * a) - mean_a**2, blurred(b * b) - mean_b**2
    together = blurred(a * b) - mean_a * mean_b
    c1, c2 = (0.01 * 255) ** 2, (0.03 * 255) ** 2
    top = (2 * mean_a * mean_b + c1) * (2 * together + c2)
    return float((1 - (top / ((mean_a**2 + mean_b**2 + c1) * (var_a + var_b + c2))).mean()) / 2 * 1000)


def blurred(values: np.ndarray) -> np.ndarray:
    """Under a Gaussian window of 11 with standard deviation 1.5, where it fits wholly."""
    window = np.exp(-((np.arange(11) - 5) ** 2) / (2 * 1.5**2))
    window /= window.sum()
    down = sum(weight * values[at : len(values) - 10 + at] for at, weight in enumerate(window))
    return np.asarray(sum(weight * down[:, at : down.shape[1] - 10 + at] for at, weight in enumerate(window)))


if __name__ == "__main__":
    main()
