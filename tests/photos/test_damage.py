"""How much of a picture can be read is told by what another decoder saw, here put into its mouth."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from PIL import Image
from PIL.JpegImagePlugin import JpegImageFile

from journal.media.photos import damage
from journal.media.photos.damage import PART, damage_of
from journal.media.photos.kinds import FileKind


def jpeg(layers: tuple[tuple[int, int, int, int], ...], *, warned: bool = True, **info: Any) -> Any:
    """A JPEG of 1000 rows; layers as Pillow tells them: number, samples across, samples down, table."""
    image = JpegImageFile.__new__(JpegImageFile)
    image.layer, image.info = list(layers), info
    return SimpleNamespace(image=image, kind=FileKind.JPEG, warning="odd" if warned else "", size=(1500, 1000))


GREY, FULL, HALF = ((1, 1, 1, 0),), ((1, 1, 1, 0),) * 3, ((1, 2, 2, 0), (2, 1, 1, 0), (3, 1, 1, 0))
STUMBLES = "[mjpeg] error y=50 x=3\n[mjpeg] error y=20 x=900\n"


@pytest.mark.parametrize(
    ("stored", "complaints", "said"),
    [
        (jpeg(FULL), STUMBLES, "about 16 % of the picture can be read"),
        (jpeg(GREY), STUMBLES, "about 16 % of the picture can be read"),
        (jpeg(HALF), STUMBLES, "about 32 % of the picture can be read"),
        (jpeg(FULL), "error y=0 x=0", "about 0 % of the picture can be read"),
        (jpeg(FULL), "something else", PART),
        (jpeg(FULL), "", PART),
        (jpeg(((1, 1, 1, 0),) * 4), STUMBLES, PART),
        (jpeg(FULL, progression=1), STUMBLES, PART),
        (jpeg(FULL, warned=False), STUMBLES, ""),
    ],
)
def test_a_jpeg_is_told_to_where_its_decoder_lost_its_way(
    monkeypatch: pytest.MonkeyPatch, stored: Any, complaints: str, said: str
) -> None:
    """By its rows of blocks, 8 or 16 high; of colours for print and of layers that come one by one nothing is told."""
    monkeypatch.setattr(damage, "_looked_at", lambda stored, demuxer: (complaints, b""))
    assert damage_of(stored) == said


SHADES = np.random.default_rng(7).integers(0, 256, (24, 32), dtype=np.uint8)


def seen(parts: int, by: int) -> bytes:
    """What is seen of a picture of which so many parts of 768 are otherwise, and the rest nearly the same."""
    shades = SHADES.astype(int).ravel()
    shades[:parts] = (
        (shades[:parts] + by) % 256
        if by == 128
        else np.where(shades[:parts] < 128, shades[:parts] + by, shades[:parts] - by)
    )
    return shades.astype(np.uint8).tobytes()


@pytest.mark.parametrize("turn", [None, *(getattr(Image.Transpose, f"ROTATE_{degrees}") for degrees in (90, 180, 270))])
@pytest.mark.parametrize(
    ("parts", "by", "differing"),
    [
        (0, 0, 0),
        (7, 128, 7),
        (8, 128, 8),
        (300, 128, 300),
        (650, 128, 650),
        (700, 128, 0),
        (300, 40, 300),
        (300, 39, 0),
    ],
)
def test_a_picture_is_held_against_the_small_one_beside_it(
    turn: Image.Transpose | None, parts: int, by: int, differing: int
) -> None:
    """However that is turned: where a seventh is the same they are of one thing, and what differs much is counted."""
    small = Image.fromarray(SHADES)
    # Turned by a quarter it is as wide as it was high, and is brought to the sides of what is seen.
    small = small if turn is None else small.transpose(turn)
    if turn in (Image.Transpose.ROTATE_90, Image.Transpose.ROTATE_270):
        small = small.resize((24 * 4, 32 * 4), Image.Resampling.NEAREST)
    assert damage._differing(seen(parts, by), small) == differing
    assert damage._differing(seen(parts, by)[:-1], small) == 0
    assert damage._differing(seen(parts, by), None) == 0


@pytest.mark.parametrize(
    ("parts", "complaints", "said"),
    [
        (0, "", ""),
        (0, "\n", ""),
        (0, "odd", PART),
        (7, "", ""),
        (8, "", "about 98 % of the picture can be read"),
        (384, "odd", "about 50 % of the picture can be read"),
    ],
)
def test_a_heic_is_told_by_its_parts(monkeypatch: pytest.MonkeyPatch, parts: int, complaints: str, said: str) -> None:
    """How many are as the small picture shows them; else only that something is wrong."""
    monkeypatch.setattr(damage, "_looked_at", lambda stored, demuxer: (complaints, seen(parts, 128)))
    monkeypatch.setattr(damage, "_thumbnail", lambda stored: Image.fromarray(SHADES))
    stored: Any = SimpleNamespace(image=None, kind=FileKind.HEIC)
    assert damage_of(stored) == said
    assert damage_of(SimpleNamespace(image=None, kind=FileKind.PNG)) == ""  # type: ignore[arg-type]
