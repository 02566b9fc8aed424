"""What a clip is by its content: the container by its first bytes, all else by what ffmpeg reports of it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import Enum
from pathlib import Path
from typing import BinaryIO

from journal.media.clips.program import (
    DAMAGED,
    NOT_A_CLIP,
    SOUND_ALONE,
    UNKNOWN_CODE,
    UNREADABLE,
    FilmError,
    ask_ffmpeg,
)
from journal.media.high_range import HighRange


class Container(Enum):
    """The containers that are read; the value is what ffmpeg calls its reader. Nothing that lists other files."""

    BOXES = "mov"
    MATROSKA = "matroska"
    TRANSPORT = "mpegts"
    PROGRAM = "mpeg"
    AVI = "avi"
    ASF = "asf"


_FIRST_BOXES = (b"ftyp", b"moov", b"mdat", b"wide", b"free", b"skip", b"pnot")
"""What files of MP4 and QuickTime begin with; old ones tell no brand."""

_ASF_HEAD = bytes.fromhex("3026b2758e66cf11a6d900aa0062ce6c")


def sniff_container(source: BinaryIO) -> Container | None:
    """What the first bytes of an open file say it is; None for anything that is not read here.

    ISO/IEC 14496-12, RFC 8794 (EBML), ITU-T H.222.0 (packets of 188 bytes; on discs and cards of cameras with four
    more before each), RIFF, and the header object of ASF.
    """
    source.seek(0)
    head = source.read(192 * 3 + 5)
    if head[4:8] in _FIRST_BOXES:
        return Container.BOXES
    if head.startswith(b"\x1a\x45\xdf\xa3"):
        return Container.MATROSKA
    for first, step in ((0, 188), (4, 192)):
        if head[first : first + 3 * step : step] == b"GGG":
            return Container.TRANSPORT
    if head.startswith(b"\0\0\x01\xba"):
        return Container.PROGRAM
    if head.startswith(b"RIFF") and head[8:12] == b"AVI ":
        return Container.AVI
    return Container.ASF if head.startswith(_ASF_HEAD) else None


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipLook:
    """What ffmpeg is told to open it (`source`), and what it finds: `pictures` and `sound` are the streams that are
    shown (`0:1`), the last empty where there is none that can be decoded. `width` and `height` are of the upright
    picture; `seconds` is None where the container does not tell, `frames_a_second` 0. `made` is its time of recording
    as it writes it.
    """

    container: Container
    source: tuple[str, ...]
    pictures: str
    sound: str = ""
    width: int
    height: int
    seconds: float | None = None
    high_range: HighRange | None = None
    interlaced: bool = False
    frames_a_second: float = 0.0
    made: str = ""


_LENGTH = re.compile(r"^  Duration: (\d+):(\d\d):(\d\d\.\d+)", re.MULTILINE)
_PICTURES = re.compile(r"^  Stream #(0:\d+)\S*: Video: (?!none|unknown|.*\(attached pic\))(.*)$", re.MULTILINE)
_SOUND = re.compile(r"^  Stream #(0:\d+)\S*: Audio: (?!none|unknown)", re.MULTILINE)
_UNKNOWN = re.compile(r"^  Stream #0:\d+\S*: (?:Video: (?:none|unknown)|Unknown:)", re.MULTILINE)
_SIZE = re.compile(r", (\d{1,5})x(\d{1,5})\b(?:,? \[?SAR (\d+):(\d+))?")
_RATE = re.compile(r", (\d+(?:\.\d+)?) fps\b")
_TURNED = re.compile(r"^ +Display Matrix: rotation of -?(?:90|270)\.", re.MULTILINE | re.IGNORECASE)
_MADE = re.compile(r"^    creation_time +: (\S+)$", re.MULTILINE)
_RANGES = {"smpte2084": HighRange.PQ, "arib-std-b67": HighRange.HLG}


def look_at(path: Path) -> ClipLook:
    """What ffmpeg reports of the pictures of a file. FilmError where it has none that can be read here.

    Its report puts a `:` before all that a file says of itself, so that nothing of it passes for a line of the report.
    """
    try:
        with path.open("rb") as opened:
            container = sniff_container(opened)
    except OSError:
        raise FilmError(UNREADABLE) from None
    if container is None:
        raise FilmError(NOT_A_CLIP)
    source = ("-f", container.value, "-i", str(path.absolute()))
    _, said = ask_ffmpeg(*source)
    pictures, sound = _PICTURES.search(said), _SOUND.search(said)
    length, made = _LENGTH.search(said), _MADE.search(said)
    if pictures is None:
        unknown = _UNKNOWN.search(said)
        raise FilmError(UNKNOWN_CODE if unknown else SOUND_ALONE if sound else DAMAGED)
    of = pictures[2]
    size = _SIZE.search(of)
    if size is None:
        raise FilmError(DAMAGED)
    width, height = int(size[1]), int(size[2])
    if size[3] and int(size[3]) and int(size[4]):
        width = width * int(size[3]) // int(size[4])
    if _TURNED.search(said.partition(pictures[0])[2].partition("\n  Stream")[0]):
        width, height = height, width
    return ClipLook(
        container=container,
        source=source,
        pictures=pictures[1],
        sound=sound[1] if sound else "",
        width=width,
        height=height,
        seconds=int(length[1]) * 3600 + int(length[2]) * 60 + float(length[3]) if length else None,
        high_range=next((range_ for word, range_ in _RANGES.items() if re.search(rf"[/(]{word}\b", of)), None),
        interlaced=bool(re.search(r"\b(?:top|bottom) (?:coded )?first\b", of)),
        frames_a_second=float(rate[1]) if (rate := _RATE.search(of)) else 0.0,
        made=made[1] if made else "",
    )
