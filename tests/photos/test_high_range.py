"""Films and stills with more light than a plain screen has: they come out as their plain renditions would.

Outside checks: ITU-R BT.2100 (PQ and HLG) and BT.2408 (diffuse white at 203 cd/m2: PQ 58 %, HLG 75 %), their worked
values from memory; zimg, in ffmpeg's zscale, codes the charts, so that nothing of ours is on both sides.
"""

from __future__ import annotations

import io
import struct
import subprocess
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pillow_heif
import pytest
from PIL import Image

from journal.base.model import PhotoSettings
from journal.media.clips.encode import Shown, encode_film
from journal.media.clips.program import find_ffmpeg
from journal.media.high_range import BT_2020, P3, HighRange, still_range
from journal.media.photos.decode import decode, memory_needed, open_stored
from journal.media.photos.rendition import make_recipe
from journal.media.plain_range import KNEE, WHITE, _light, to_plain

NAMES = {HighRange.PQ: "smpte2084", HighRange.HLG: "arib-std-b67"}
DIFFUSE_WHITE = {HighRange.PQ: 0.58, HighRange.HLG: 0.75}
SIZE = (320, 160)
PATCHES = [(0.45, 0.32, 0.26), (0.76, 0.58, 0.51), (0.38, 0.48, 0.61), (0.34, 0.42, 0.27), (0.84, 0.49, 0.17)]
PATCHES += [(0.69, 0.19, 0.23), (0.93, 0.78, 0.13), (0.03, 0.52, 0.64), (0.22, 0.24, 0.59), (0.27, 0.58, 0.29)]


def ffmpeg(words: list[str], data: bytes = b"") -> bytes:
    """What the program writes."""
    done = subprocess.run(
        [str(find_ffmpeg()), "-v", "error", "-y", *words], input=data, capture_output=True, check=True
    )
    return done.stdout


@pytest.fixture(scope="module")
def chart() -> Any:
    """Greys of ten steps above ten patches of colour, sRGB from 0 to 1."""
    chart = np.zeros((SIZE[1], SIZE[0], 3))
    for number, patch in enumerate(PATCHES):
        chart[:80, number * 32 : number * 32 + 32] = number / 9
        chart[80:, number * 32 : number * 32 + 32] = patch
    return chart


RAW = ["-f", "rawvideo", "-pix_fmt", "rgb48le", "-s", f"{SIZE[0]}x{SIZE[1]}"]


@pytest.fixture(scope="module", params=HighRange)
def coded(request: pytest.FixtureRequest, chart: Any) -> tuple[HighRange, Any]:
    """The same scene in high range, its white at 203 cd/m2, coded by zimg; 16 bits."""
    plain = (chart * 65535).round().astype("<u2").tobytes()
    to_high = f"zscale=tin=iec61966-2-1:pin=bt709:min=gbr:rin=pc:t={NAMES[request.param]}:p=2020:m=gbr:r=pc:npl=203"
    filters = f"format=gbrp16,{to_high}:agamma=0,format=rgb48le"
    data = ffmpeg([*RAW, "-i", "-", "-vf", filters, "-f", "rawvideo", "-"], plain)
    return request.param, np.frombuffer(data, "<u2").reshape(SIZE[1], SIZE[0], 3)


def differences(shown: Image.Image, chart: Any) -> list[int]:
    """The largest difference from the plain chart, in levels of 255, in the middle of each field."""
    found = np.abs(np.asarray(shown.convert("RGB")).astype(int) - (chart * 255).round().astype(int)).max(axis=2)
    return [int(found[y - 20 : y + 20, x - 8 : x + 8].max()) for y in (40, 120) for x in range(16, SIZE[0], 32)]


def as_heic(coded: Any, transfer: int) -> io.BytesIO:
    """An HEIC of 10 bits that names how it is coded."""
    picture, out = pillow_heif.from_bytes(mode="RGB;16", size=SIZE, data=coded.tobytes()), io.BytesIO()
    numbers = {"color_primaries": 9, "transfer_characteristics": transfer, "matrix_coefficients": 9}
    picture.save(out, quality=95, chroma=444, full_range_flag=1, **numbers)
    return out


def as_png(coded: Any, transfer: int) -> io.BytesIO:
    """A PNG of 8 bits with a cICP chunk."""
    out = io.BytesIO()
    Image.fromarray((coded / 257).round().astype("u1")).save(out, "PNG")
    data, chunk = out.getvalue(), b"cICP" + bytes([9, transfer, 0, 1])
    return io.BytesIO(data[:33] + struct.pack(">I", 4) + chunk + struct.pack(">I", zlib.crc32(chunk)) + data[33:])


@pytest.mark.parametrize("stored", [as_heic, as_png])
def test_a_still_comes_out_as_its_plain_rendition(coded: tuple[HighRange, Any], chart: Any, stored: Any) -> None:
    """White, greys and colours within five levels."""
    range_, data = coded
    opened = open_stored(stored(data, range_.value))
    assert opened.high_range == (range_, BT_2020)
    picture, size = decode(opened, 1920)
    assert (picture.mode, picture.size, size, picture.info) == ("RGB", SIZE, SIZE, {})
    assert max(differences(picture, chart)) <= 5
    smaller, _ = decode(open_stored(stored(data, range_.value)), 80)
    assert smaller.size == (160, 80)


def test_a_film_comes_out_as_its_plain_rendition(coded: tuple[HighRange, Any], chart: Any, tmp_path: Path) -> None:
    """The film and its poster, white and greys and colours within five levels, and it says that it is plain."""
    range_, data = coded
    name, path, film = NAMES[range_], tmp_path / "high.mov", tmp_path / "film.mp4"
    tags = ["-color_primaries", "bt2020", "-color_trc", name, "-colorspace", "bt2020nc"]
    told = f"log-level=error:colorprim=bt2020:transfer={name}:colormatrix=bt2020nc"
    filters = "loop=4:1,scale=out_color_matrix=bt2020:out_range=tv,format=yuv420p10le"
    code = ["-c:v", "libx265", "-preset", "ultrafast", "-crf", "8", "-x265-params", told, *tags, "-tag:v", "hvc1"]
    ffmpeg([*RAW, "-r", "5", "-i", "-", "-vf", filters, *code, str(path)], data.tobytes())
    made = encode_film(path, Shown(recipe=make_recipe(PhotoSettings())))
    assert max(differences(made.frame, chart)) <= 5
    film.write_bytes(made.data)
    frame = ffmpeg(["-i", str(film), "-frames:v", "1", "-f", "image2pipe", "-c:v", "png", "-"])
    assert max(differences(Image.open(io.BytesIO(frame)), chart)) <= 5
    said = subprocess.run([str(find_ffmpeg()), "-i", str(film)], capture_output=True, text=True, check=False).stderr
    assert "yuv420p(tv, bt709" in said


@pytest.mark.parametrize(
    ("range_", "code", "candelas"),
    [
        (HighRange.PQ, 0.0, 0),
        (HighRange.PQ, 0.5081, 100),
        (HighRange.PQ, 0.5807, 203),
        (HighRange.PQ, 0.7518, 1000),
        (HighRange.PQ, 1.0, 10_000),
        (HighRange.HLG, 0.0, 0),
        (HighRange.HLG, 0.5, 1000 * (1 / 12) ** 1.2),
        (HighRange.HLG, 0.75, 203),
        (HighRange.HLG, 1.0, 1000),
    ],
)
def test_light_of_a_code(range_: HighRange, code: float, candelas: float) -> None:
    """BT.2100, tables 4 and 5, and BT.2408, table 1 (from memory)."""
    light = _light(np.full((1, 3), code, dtype=np.float32), range_)[0, 0] * WHITE
    assert light == pytest.approx(candelas, rel=0.005, abs=0.01)


@pytest.mark.parametrize("range_", HighRange)
def test_light_rolls_off_without_a_step(range_: HighRange) -> None:
    """Greys grow to the very end, white is white within five levels, and up to the knee they are as in plain range."""
    codes = np.linspace(0, 1, 1001, dtype=np.float32)
    greys = np.repeat(codes[:, None], 3, axis=1)
    levels, light = to_plain(greys, range_)[:, 0] * 255, _light(greys, range_)[:, 0]
    assert (np.diff(levels[levels > 1]) >= 0).all()
    assert 250 <= np.interp(DIFFUSE_WHITE[range_], codes, levels) <= 255
    assert levels[-1] > 254
    below = light <= KNEE
    plain = np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055) * 255
    assert np.abs(levels - plain)[below].max() < 0.5


def test_colours_that_srgb_does_not_have_keep_their_hue() -> None:
    """A pure red, green and blue of BT.2020 stay the brightest of their three, and none falls below black."""
    for range_ in HighRange:
        shown = to_plain(np.eye(3, dtype=np.float32) * 0.5, range_)
        assert (shown.argmax(axis=1) == [0, 1, 2]).all()
        assert shown.min() >= 0
        assert shown.max() <= 1


def test_what_says_nothing_of_high_range_is_plain() -> None:
    """Ten bits alone, gamma curves, broken profiles: none of them is taken for high range."""
    nothing = io.BytesIO(b"")
    assert still_range({"nclx_profile": {"color_primaries": 9, "transfer_characteristics": 14}}, nothing) is None
    assert still_range({"icc_profile": bytes(128) + b"\0\0\0\x01cicp\xff\xff\xff\xff"}, nothing) is None
    assert still_range({}, io.BytesIO(b"\x89PNG\r\n\x1a\n\0\0\0\x04cICP")) is None
    tag = bytes(128) + struct.pack(">I4sII", 1, b"cicp", 144, 12) + b"cicp" + bytes(4) + bytes([12, 18, 0, 1])
    assert still_range({"icc_profile": tag}, nothing) == (HighRange.HLG, P3)
    plain = io.BytesIO()
    Image.new("RGB", (8, 8)).save(plain, "PNG")
    opened = open_stored(plain)
    assert opened.high_range is None
    assert memory_needed(opened, 1920) == 8 * 64
