"""The site's film from an original: H.264 and AAC, at most 1080 lines, marked, with nothing told beside it.

The work is ffmpeg's, in the build that the wheel `imageio-ffmpeg` carries. It is given one file, no
network, and only the reader of MP4 and QuickTime: a file that pretends to be a film cannot make
it open others.
"""

from __future__ import annotations

import io
import re
import subprocess
import tempfile
import time
from collections.abc import Callable, Sequence
from functools import lru_cache
from pathlib import Path

from PIL import Image, ImageChops

from journal.media.boxes import uncleanliness, walk_boxes
from journal.media.photos.rendition import Recipe
from journal.media.photos.watermark import draw_mark

ENCODE_VERSION = 1
"""Raise this whenever the same original and recipe would make another film."""

LONG_SIDE, SHORT_SIDE = 1920, 1080
MOST_FRAMES_A_SECOND = 30
QUALITY = 24
"""x264's constant rate factor; measured figures in DEVELOPERS.md."""

PRESET = "fast"
TOLD_NOTHING = ("-map_metadata:g", "-1", "-map_metadata:s", "-1")
H264 = ("-c:v", "libx264", "-preset", PRESET, "-profile:v", "high", "-pix_fmt", "yuv420p")
AAC = ("-c:a", "aac", "-ac", "2", "-ar", "48000")
UNSIGNED = (
    *("-fflags", "+bitexact", "-flags:v", "+bitexact", "-flags:a", "+bitexact"),
    *("-metadata:s:v:0", "encoder=", "-bsf:v", "filter_units=remove_types=6", "-empty_hdlr_name", "1"),
)
"""Without these the encoders sign their work and write how they were set."""

LONGEST_S = 3600
DAMAGED = "the film is damaged, or of a kind that cannot be read here"
NO_FFMPEG = "the program that makes films for the site (ffmpeg) is not installed"

_SIZE = (
    "scale=w='trunc(iw*sar/2)*2':h='trunc(ih/2)*2',setsar=1,"
    f"scale=w='min(iw,if(gte(iw,ih),{LONG_SIDE},{SHORT_SIDE}))':h='min(ih,if(gte(iw,ih),{SHORT_SIDE},{LONG_SIDE}))'"
    ":force_original_aspect_ratio=decrease:force_divisible_by=2"
)
# Phones film in more light than a screen of the site can show; without this such films come out grey.
_TO_SDR = (
    "zscale=t=linear:npl=100,format=gbrpf32le,zscale=p=bt709,tonemap=hable:desat=0,"
    "zscale=t=bt709:m=bt709:r=tv,format=yuv420p"
)
_HIGH_RANGE = re.compile(r"arib-std-b67|smpte2084")


OnSecond = Callable[[int], None]


class FilmError(Exception):
    """The film could not be made; the message says why in plain words."""


@lru_cache(maxsize=1)
def find_ffmpeg() -> str | None:
    """The program, or None where the wheel did not bring one."""
    try:
        import imageio_ffmpeg

        return str(imageio_ffmpeg.get_ffmpeg_exe())
    except (ImportError, RuntimeError):
        return None


@lru_cache(maxsize=1)
def encoder_version() -> str:
    """Part of every key: another encoder makes another film."""
    program = find_ffmpeg()
    if program is None:
        return ""
    done = subprocess.run([program, "-version"], capture_output=True, text=True, check=False)
    return done.stdout.partition("\n")[0]


def encode_film(
    path: Path, seconds: int, recipe: Recipe, on_second: OnSecond | None = None
) -> tuple[bytes, Image.Image]:
    """(film of the original at `path`, a frame of it for the poster). FilmError where it cannot be made or would not
    be clean.

    `on_second` is told how many of its seconds are done.
    """
    program = find_ffmpeg()
    if program is None:
        raise FilmError(NO_FFMPEG)
    # Small first: every step after it is the dearer the larger the frame, the one to plain range most of all.
    range_ = _to_sdr(program, path)
    frame = _frame(program, path, f"{_SIZE}{range_}", at=min(1.0, seconds * 0.3))
    moving = f"[0:v:0]{_SIZE},fps='min(source_fps,{MOST_FRAMES_A_SECOND})'{range_}"
    with tempfile.TemporaryDirectory(prefix="journal-film-") as scratch:
        out = Path(scratch, "film.mp4")
        inputs: list[str] = []
        graph = f"{moving},format=yuv420p[v]"
        if recipe.mark:
            mark = Path(scratch, "mark.png")
            mark.write_bytes(_mark(frame.size, recipe))
            inputs = ["-i", str(mark)]
            graph = f"{moving}[f];[f][1:v]overlay=0:0,format=yuv420p[v]"
        _run(
            program,
            ["-f", "mov", "-i", str(path), *inputs, "-filter_complex", graph, "-map", "[v]", "-map", "0:a:0?"],
            [*TOLD_NOTHING, "-map_chapters", "-1", "-sn", "-dn"],
            [*H264, "-crf", str(QUALITY)],
            [*AAC, "-b:a", "96k"],
            [*UNSIGNED, "-movflags", "+faststart", "-f", "mp4", str(out)],
            on_second=on_second,
        )
        blank_words(out)
        data = out.read_bytes()
    if unclean := uncleanliness(io.BytesIO(data)):
        raise FilmError(f"the film made from it is not clean: {', '.join(unclean)}")
    return data, frame


def blank_words(path: Path) -> None:
    """Make empty space of a film's `udta` boxes, where the muxer leaves an empty list of titles.

    Nothing moves, so no offset in the film has to be changed.
    """
    with path.open("r+b") as film:
        for box in [box for box in walk_boxes(film) if box.kind == "udta"]:
            film.seek(box.start - 4)
            film.write(b"free" + bytes(box.bytes))


_CAREFULLY = ("-hide_banner", "-nostdin", "-y", "-protocol_whitelist", "file,pipe")


def _run(program: str, *arguments: Sequence[str], on_second: OnSecond | None = None) -> None:
    """Let the program do as told, for an hour at most; its report on how far it is becomes whole seconds of film."""
    command = [program, *_CAREFULLY, "-loglevel", "quiet", "-nostats", "-progress", "pipe:1"]
    command += [word for some in arguments for word in some]
    limit = time.monotonic() + LONGEST_S
    with subprocess.Popen(command, stdout=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True) as running:
        try:
            for line in running.stdout or ():
                if time.monotonic() > limit:
                    raise FilmError("making its film took more than an hour")
                name, _, value = line.strip().partition("=")
                if on_second and name == "out_time_us" and value.isdecimal():
                    on_second(int(value) // 1_000_000)
        except BaseException:
            running.kill()
            raise
    if running.returncode:
        raise FilmError(DAMAGED)


def _asked(program: str, *arguments: str) -> subprocess.CompletedProcess[bytes]:
    """What the program says of a film, or writes of it; ten minutes are enough for that."""
    command = [program, *_CAREFULLY, *arguments]
    try:
        return subprocess.run(command, capture_output=True, check=False, timeout=600, stdin=subprocess.DEVNULL)
    except subprocess.TimeoutExpired:
        raise FilmError("the film cannot be read within ten minutes") from None


def _to_sdr(program: str, path: Path) -> str:
    """The filters for a film of high dynamic range, nothing for any other."""
    words = _asked(program, "-f", "mov", "-i", str(path)).stderr.decode("utf-8", "replace")
    return f",{_TO_SDR}" if _HIGH_RANGE.search(words) else ""


def _frame(program: str, path: Path, filters: str, *, at: float) -> Image.Image:
    """One upright frame in the size of the film."""
    for start in dict.fromkeys((at, 0.0)):
        source = ("-ss", f"{start:.2f}", "-f", "mov", "-i", str(path), "-map", "0:v:0", "-vf", filters)
        one = ("-frames:v", "1", "-map_metadata", "-1", "-f", "image2pipe", "-c:v", "png", "-")
        done = _asked(program, "-loglevel", "quiet", *source, *one)
        if done.returncode:
            raise FilmError(DAMAGED)
        if done.stdout:
            with Image.open(io.BytesIO(done.stdout)) as frame:
                return frame.convert("RGB")
    raise FilmError("the film holds no picture")


def _mark(size: tuple[int, int], recipe: Recipe) -> bytes:
    """The photos' watermark as a layer: drawn on black it shows its colours, multiplied by how much it
    covers, and on white how much that is.
    """
    black, white = Image.new("RGB", size, "black"), Image.new("RGB", size, "white")
    for ground in (black, white):
        draw_mark(ground, recipe.mark, recipe.corner, recipe.opacity)
    shown_through = ImageChops.subtract(white, black).convert("L")
    layer = Image.merge("RGBa", (*black.split(), ImageChops.invert(shown_through)))
    out = io.BytesIO()
    layer.convert("RGBA").save(out, "PNG")
    return out.getvalue()
