"""How much of a picture can be read, where its decoder stumbles over it and goes on."""

from __future__ import annotations

import contextlib
import re
import shutil
import tempfile
from typing import Any

from PIL import Image
from PIL.JpegImagePlugin import JpegImageFile

from journal.media.photos.decode import Stored
from journal.media.photos.kinds import FileKind

PART = "part of the picture cannot be read"
SHARE = "about {} % of the picture can be read"

_STUMBLED = re.compile(r"error y=(\d+) x=\d+")


def damage_of(stored: Stored) -> str:
    """Empty for a picture that is whole, as far as can be told; else how much of it can be read.

    JPEG: `stored` was decoded before, and a decoder of another make says in which row of blocks it lost its way.
    HEIC: where that one complains, or what it sees is not what the small picture beside it shows; its own decoder says
    nothing. That takes 0.02 s a megapixel. Other kinds have a sum to be held against (PNG), or nothing that would show.
    """
    if isinstance(stored.image, JpegImageFile):
        return _damage_of_jpeg(stored) if stored.warning else ""
    return _damage_of_heic(stored) if stored.kind is FileKind.HEIC else ""


def _damage_of_jpeg(stored: Stored) -> str:
    complaints, _ = _looked_at(stored, "jpeg_pipe")
    lost = [int(found[1]) for found in _STUMBLED.finditer(complaints)]
    layers = getattr(stored.image, "layer", ())
    tall = 8 * max((layer[2] for layer in layers if isinstance(layer[2], int)), default=1)
    if not lost or len(layers) not in {1, 3} or "progression" in stored.image.info:
        return PART
    return SHARE.format(100 * min(lost) * tall // stored.size[1])


def _damage_of_heic(stored: Stored) -> str:
    complaints, seen = _looked_at(stored, "mov")
    differing = _differing(seen, _thumbnail(stored))
    if differing >= _FEWEST_DIFFERING:
        return SHARE.format(100 * (_CELLS - differing) // _CELLS)
    return PART if complaints.strip() else ""


_SIDES = (32, 24)
_CELLS = _SIDES[0] * _SIDES[1]
_ALIKE, _OTHER, _FEWEST_DIFFERING = 3, 40, 8
"""Grey levels of 256: a part of both is the same up to the first, and another from the second on; fewer of these than
the last may be edges that were drawn otherwise. Two pictures are of one thing where a seventh of the parts is the same:
of two that have nothing in common it is a twentieth."""


def _differing(seen: bytes, small: Image.Image | None) -> int:
    """How many of 768 parts are not as the small picture shows them; 0 where they are not two of one thing."""
    if small is None or len(seen) != _CELLS:
        return 0
    best = None
    for turn in (None, Image.Transpose.ROTATE_90, Image.Transpose.ROTATE_180, Image.Transpose.ROTATE_270):
        turned = small.transpose(turn) if turn is not None else small
        shades = turned.convert("L").resize(_SIDES, Image.Resampling.BOX).tobytes()
        differences = sorted(abs(one - other) for one, other in zip(seen, shades, strict=True))
        best = min(best or differences, differences, key=lambda each: each[_CELLS // 7])
    assert best is not None
    return sum(one >= _OTHER for one in best) if best[_CELLS // 7] <= _ALIKE else 0


def _thumbnail(stored: Stored) -> Image.Image | None:
    """The small picture that phones put beside the large one, None where there is none."""
    with contextlib.suppress(Exception):  # a decoder may raise anything at all
        whole: Any = stored.image._heif_file  # type: ignore[attr-defined]
        small = whole[whole.primary_index].get_thumbnail(0)
        data = bytes(small.data)  # which may tell another size than the header
        return Image.frombytes(small.mode, small.size, data, "raw", small.mode, small.stride)
    return None


def _looked_at(stored: Stored, demuxer: str) -> tuple[str, bytes]:
    """What ffmpeg has to say against a picture, and what it sees, in 32 by 24 shades of grey; nothing of both where
    there is no such program, or it finds no end.
    """
    from journal.media.clips.program import FilmError, ask_ffmpeg  # films are made with pictures, and come after them

    # A copy without a name: nothing of the picture is left behind should this be ended in the middle.
    with tempfile.TemporaryFile() as copy:
        stored.source.seek(0)
        shutil.copyfileobj(stored.source, copy)
        copy.seek(0)
        reading = ("-v", "error", "-threads", "1", "-skip_loop_filter", "all", "-noautorotate", "-f", demuxer)
        small = ("-vf", f"scale={_SIDES[0]}:{_SIDES[1]}:flags=area", "-frames:v", "1", "-f", "rawvideo")
        source = ("-i", f"/dev/fd/{copy.fileno()}")
        try:
            seen, said = ask_ffmpeg(*reading, *source, *small, "-pix_fmt", "gray", "-", passed=[copy.fileno()])
        except (FilmError, OSError, ValueError):
            return "", b""
    return said, seen
