"""Processor time that a film of the site takes per second of a 4K original, and how much of it is decoding alone.

    python benchmarks/films.py [SECONDS]

The originals are made here: a picture that moves everywhere, with noise, at the rates of phones.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path

from journal.base.model import PhotoSettings
from journal.media.clips.encode import Shown, encode_film
from journal.media.clips.program import find_ffmpeg
from journal.media.photos.rendition import make_recipe

QUIET = "log-level=error"
HLG = "-color_primaries bt2020 -color_trc arib-std-b67 -colorspace bt2020nc"
ORIGINALS = {
    "H.264, 48 Mbit/s": "-pix_fmt yuv420p -c:v libx264 -preset ultrafast -tune fastdecode -b:v 48M",
    "HEVC, 30 Mbit/s": "-pix_fmt yuv420p -c:v libx265 -preset ultrafast -b:v 30M -x265-params " + QUIET,
    "HEVC, HLG, 30 Mbit/s": f"-pix_fmt yuv420p10 {HLG} -c:v libx265 -preset ultrafast -b:v 30M -x265-params " + QUIET,
}


def processor_s(work: Callable[[], object]) -> float:
    """What the children of this process spend on it."""

    def spent() -> float:
        used = resource.getrusage(resource.RUSAGE_CHILDREN)
        return used.ru_utime + used.ru_stime

    before = spent()
    work()
    return spent() - before


def main() -> None:
    """Make the originals, then tell processor seconds per second of film."""
    seconds = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    program = str(find_ffmpeg())
    recipe = make_recipe(PhotoSettings(watermark="Tarn build"))
    moving = "mandelbrot=size=960x540:rate=30:start_scale=0.5,scale=3840:2160:flags=bilinear,noise=alls=6:allf=t"
    with tempfile.TemporaryDirectory() as folder:
        for name, how in ORIGINALS.items():
            path = Path(folder, "original.mov")
            source = ["-f", "lavfi", "-i", moving, "-f", "lavfi", "-i", "sine=sample_rate=48000"]
            words = ["-t", str(seconds), *how.split(), "-tag:v", "hvc1" if "265" in how else "avc1", "-c:a", "aac"]
            subprocess.run([program, "-v", "error", "-y", *source, *words, str(path)], check=True)
            decode = [program, "-v", "error", "-i", str(path), "-map", "0:v", "-f", "null", "-"]
            decoding = processor_s(partial(subprocess.run, decode, check=True)) / seconds
            whole = processor_s(partial(encode_film, path, Shown(recipe=recipe))) / seconds
            size = path.stat().st_size * 8 / seconds / 1e6
            print(
                f"{name:24} ({size:.0f} Mbit/s): {whole:.2f} processor s per s of film, decoding alone {decoding:.2f}"
            )


if __name__ == "__main__":
    main()
