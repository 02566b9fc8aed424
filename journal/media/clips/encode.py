"""The site's film from an original: H.264 and AAC, at most 1080 lines, marked, with nothing told beside it.

The work is ffmpeg's (`program.py`).
"""

from __future__ import annotations

import io
import math
import re
import tempfile
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

from PIL import Image, ImageChops

from journal.base.model import UNEDITED, WHOLE, Cut, Edits
from journal.media.boxes import uncleanliness, walk_boxes
from journal.media.clips.facts import read_clip_facts
from journal.media.clips.filters import shown_filters, to_sdr_filters
from journal.media.clips.look import ClipLook, Container, look_at
from journal.media.clips.program import DAMAGED, NOT_SO_LONG, FilmError, OnSecond, ask_ffmpeg, run_ffmpeg
from journal.media.photos.rendition import Recipe
from journal.media.photos.watermark import draw_mark

ENCODE_VERSION = 2
"""Raise this whenever the same original and recipe would make another film."""

LONG_SIDE, SHORT_SIDE = 1920, 1080
MOST_FRAMES_A_SECOND = 30
PRESET, QUALITY = "veryfast", 22
"""Of x264, with its constant rate factor; measured figures in DEVELOPERS.md."""

TOLD_NOTHING = ("-map_metadata:g", "-1", "-map_metadata:s", "-1", "-dn")
H264 = ("-c:v", "libx264", "-preset", PRESET, "-profile:v", "high", "-pix_fmt", "yuv420p")
AAC = ("-c:a", "aac", "-ac", "2", "-ar", "48000")
UNSIGNED = (
    *("-fflags", "+bitexact", "-flags:v", "+bitexact", "-flags:a", "+bitexact"),
    *("-metadata:s:v:0", "encoder=", "-bsf:v", "filter_units=remove_types=6", "-empty_hdlr_name", "1"),
)
"""Without these the encoders sign their work and write how they were set."""

_SIZE = (
    "scale=w='trunc(iw*sar/2)*2':h='trunc(ih/2)*2',setsar=1,"
    f"scale=w='min(iw,if(gte(iw,ih),{LONG_SIDE},{SHORT_SIDE}))':h='min(ih,if(gte(iw,ih),{SHORT_SIDE},{LONG_SIDE}))'"
    ":force_original_aspect_ratio=decrease:force_divisible_by=2"
)
_HIT = re.compile(r"\[(v|a)ist#.*(?:corrupt decoded frame|Error submitting packet to decoder)")
"""What ffmpeg says once for each frame of picture or sound that it could make up only in part, or not at all."""

_SOUND_FRAMES_A_SECOND = 43
"""Of AAC at 44.1 kHz; half a second of them is let pass, since streams often begin within one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """How a clip is shown: the site's recipe, and what its entry says of it."""

    recipe: Recipe
    edits: Edits = UNEDITED
    cut: Cut = WHOLE


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeFilm:
    """A film of the site: its bytes, a frame of it for the poster, whole seconds, and how many are missing or shown
    amiss because the original is damaged there.
    """

    data: bytes
    frame: Image.Image
    seconds: int
    seconds_amiss: int = 0


def encode_film(path: Path, shown: Shown, on_second: OnSecond | None = None) -> MadeFilm:
    """The film of the original at `path`. FilmError where it cannot be made or would not be clean.

    `on_second` is told how many of its seconds are done.
    """
    look = look_at(path)
    start, length = kept(shown.cut, look.seconds)
    with tempfile.TemporaryDirectory(prefix="journal-film-") as scratch:
        folder = Path(scratch)
        # Small first: every step after it is the dearer the larger the frame, the one to plain range most of all.
        small = shown_filters(shown.edits, [_SIZE, *to_sdr_filters(look.high_range, folder)])
        whole = ["bwdif=deint=interlaced"] if look.interlaced else []
        frame = frame_of(look, folder, [*whole, *small], shown.cut)
        steady = f"fps='min(source_fps,{MOST_FRAMES_A_SECOND})'"
        graph = f"[{look.pictures}]{','.join([*whole, steady, *small])}"
        inputs: list[str] = []
        if shown.recipe.mark:
            mark, (left, top) = mark_layer(frame.size, shown.recipe)
            (folder / "mark.png").write_bytes(mark)
            inputs = ["-i", "mark.png"]
            graph += f"[f];[f][1:v]overlay={left}:{top}"
        before, after = between(look, start, shown.cut.end)
        complaints = run_ffmpeg(
            folder,
            [*before, *look.source, *inputs, *after, "-filter_complex", f"{graph},format=yuv420p[v]"],
            ["-map", "[v]", *(("-map", look.sound) if look.sound else ())],
            [*TOLD_NOTHING, "-map_chapters", "-1", "-sn", *H264, "-crf", str(QUALITY), *AAC, "-b:a", "96k", *UNSIGNED],
            ["-movflags", "+faststart", "-f", "mp4", "film.mp4"],
            processor_s=processor_s(length),
            on_second=on_second,
        )
        blank_words(folder / "film.mp4")
        data = (folder / "film.mp4").read_bytes()
    if unclean := uncleanliness(io.BytesIO(data)):
        raise FilmError(f"the film made from it is not clean: {', '.join(unclean)}")
    seconds, made = int(length), read_clip_facts(io.BytesIO(data)).seconds
    # What a file that was cut short promises is not there; a second is let pass.
    lost = seconds - made if seconds - made > 1 else 0
    amiss = lost + seconds_hit(complaints)
    return MadeFilm(data=data, frame=frame, seconds=seconds - lost if seconds else made, seconds_amiss=amiss)


def seconds_hit(complaints: Sequence[str]) -> int:
    """How many seconds of a film were hit, as far as its decoders complain."""
    kinds = Counter(hit[1] for line in complaints if (hit := _HIT.match(line)))
    pictures, sound = kinds["v"] / MOST_FRAMES_A_SECOND, kinds["a"] / _SOUND_FRAMES_A_SECOND
    return math.ceil(pictures + (sound if sound > 0.5 else 0))


def kept(cut: Cut, seconds: float | None) -> tuple[Decimal, Decimal]:
    """(start, length) of what a cut keeps of a film of so many seconds, 0 where nobody knows how long it is. FilmError
    where it keeps nothing: a figure that cannot be right may stand for another, and what was to be cut away would show.
    """
    start, whole = cut.start or Decimal(0), Decimal(str(seconds or 0))
    if start and whole and start >= whole:
        raise FilmError(NOT_SO_LONG.format(start=start))
    end = min(cut.end, whole) if cut.end and whole else cut.end or whole
    return start, max(end - start, Decimal(0))


def poster_moment(cut: Cut, seconds: float | None) -> Decimal:
    """The moment of the poster: the one that is told, or the nearest that is kept."""
    start, length = kept(cut, seconds)
    if cut.poster is None:
        return start + min(Decimal(1), length * Decimal("0.3"))
    return min(max(cut.poster, start), start + max(length - Decimal("0.2"), Decimal(0)))


def between(look: ClipLook, start: Decimal, end: Decimal | None) -> tuple[list[str], list[str]]:
    """The words for ffmpeg (before the source, among those for the output) that let nothing through but what lies
    between, None to the end. Streams have no index: a leap into the middle of one finds half a picture, so they are
    decoded from the beginning.
    """
    words = ["-ss", f"{start:.3f}"] if start else []
    words += [] if end is None else ["-t", f"{end - start:.3f}"]
    return ([], words) if look.container in (Container.TRANSPORT, Container.PROGRAM) else (words, [])


def processor_s(length: Decimal) -> int:
    """Seconds of processor time that a film of this length may take: twenty times what a 4K film takes here."""
    return 120 + 40 * int(length)


def blank_words(path: Path) -> None:
    """Make empty space of a film's `udta` boxes, where the muxer leaves an empty list of titles.

    Nothing moves, so no offset in the film has to be changed.
    """
    with path.open("r+b") as film:
        for box in [box for box in walk_boxes(film) if box.kind == "udta"]:
            film.seek(box.start - 4)
            film.write(b"free" + bytes(box.bytes))


def frame_of(look: ClipLook, folder: Path, filters: list[str], cut: Cut) -> Image.Image:
    """One upright frame in the size of the film."""
    for at in dict.fromkeys((poster_moment(cut, look.seconds), cut.start or Decimal(0))):
        before, after = between(look, at, cut.end)
        source = (*before, *look.source, *after, "-map", look.pictures, "-vf", ",".join(filters))
        one = ("-frames:v", "1", "-map_metadata", "-1", "-f", "image2pipe", "-c:v", "png", "-")
        written, _ = ask_ffmpeg("-loglevel", "quiet", *source, *one, folder=folder)
        if written:
            with Image.open(io.BytesIO(written)) as frame:
                return frame.convert("RGB")
    raise FilmError(DAMAGED)


def mark_layer(size: tuple[int, int], recipe: Recipe) -> tuple[bytes, tuple[int, int]]:
    """The photos' watermark as a layer no larger than it is, and where it lies. Drawn on black it shows its colours,
    multiplied by how much it covers, and on white how much that is.
    """
    black, white = Image.new("RGB", size, "black"), Image.new("RGB", size, "white")
    for ground in (black, white):
        draw_mark(ground, recipe.mark, recipe.corner, recipe.opacity)
    shown_through = ImageChops.subtract(white, black).convert("L")
    layer = Image.merge("RGBa", (*black.split(), ImageChops.invert(shown_through)))
    left, top, right, bottom = ImageChops.invert(shown_through).getbbox() or (0, 0, *size)
    left, top = left // 2 * 2, top // 2 * 2  # where a pixel of the planes of colour begins
    out = io.BytesIO()
    layer.crop((left, top, right, bottom)).convert("RGBA").save(out, "PNG")
    return out.getvalue(), (left, top)
