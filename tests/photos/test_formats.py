"""Every format that phones and cameras write: upright, in its colours, clean; what is damaged or cannot be shown."""

from __future__ import annotations

import io
import random
from collections.abc import Callable
from pathlib import Path

import pillow_heif
import pillow_jxl  # noqa: F401  (lets Pillow save JPEG XL)
import pytest
from making import slow
from picturing import SECRETS, UPRIGHT, camera_exif, encoded, quartered, quarters
from PIL import Image
from raw_files import dng

from journal.base.model import PICTURE_ENDINGS, PhotoSettings
from journal.media.photos import PhotoStore, Picture, PictureJob
from journal.media.photos.facts import read_facts

BIG = (640, 480)


def _heic(image: Image.Image, *, orientation: int = 1, turns_itself: bool = True, **options: object) -> bytes:
    out = io.BytesIO()
    exif = Image.Exif()
    exif[0x0112] = orientation
    pillow_heif.from_pillow(image).save(out, quality=90, exif=exif.tobytes(), **options)
    data = out.getvalue()
    # What some phones do: the orientation stands in Exif, and nothing in the boxes turns the picture.
    return data if turns_itself else data.replace(b"irot", b"free").replace(b"imir", b"free")


def _mpo(image: Image.Image) -> bytes:
    out = io.BytesIO()
    image.save(out, "MPO", save_all=True, append_images=[image.rotate(180)], quality=95)
    return out.getvalue()


def _animated(image: Image.Image) -> bytes:
    out = io.BytesIO()
    image.save(out, "GIF", save_all=True, append_images=[image.rotate(180)], duration=100)
    return out.getvalue()


FORMATS: dict[str, tuple[str, Callable[[], bytes]]] = {
    "a.jpg": ("JPEG", lambda: encoded(quartered(*BIG), "JPEG", exif=camera_exif(), quality=95)),
    "a.jfif": ("JPEG", lambda: encoded(quartered(*BIG), "JPEG", quality=95)),
    "a.mpo": ("JPEG", lambda: _mpo(quartered(*BIG))),
    "a.insp": ("JPEG", lambda: encoded(quartered(*BIG), "JPEG", quality=95)),
    "a.heic": ("HEIC", lambda: _heic(quartered(*BIG))),
    "a.hif": ("HEIC", lambda: _heic(quartered(*BIG))),
    "a.avif": ("AVIF", lambda: encoded(quartered(*BIG), "AVIF", exif=camera_exif(), quality=90)),
    "a.webp": ("WebP", lambda: encoded(quartered(*BIG), "WEBP", quality=90)),
    "a.png": ("PNG", lambda: encoded(quartered(*BIG), "PNG")),
    "a.tif": ("TIFF", lambda: encoded(quartered(*BIG), "TIFF")),
    "a.gif": ("GIF", lambda: _animated(quartered(*BIG))),
    "a.bmp": ("BMP", lambda: encoded(quartered(*BIG), "BMP")),
    "a.jxl": ("JPEG XL", lambda: encoded(quartered(*BIG), "JXL", exif=camera_exif())),
    "a.dng": ("raw", lambda: dng(encoded(quartered(*BIG), "JPEG", quality=95), BIG)),
}


def show(folder: Path, name: str, data: bytes) -> tuple[Picture, str]:
    """(picture, kind) of a file of this name."""
    (folder / name).write_bytes(data)
    store = PhotoStore(folder, folder / "cache")
    examined = store.examine([name])[name]
    job = PictureJob(src_uri=name, sha256=examined.sha256, caption="", credit="", settings=PhotoSettings())
    picture = store.render([job])[job]
    return (Picture(trouble=examined.facts.trouble) if examined.facts.trouble else picture), examined.facts.kind


@pytest.mark.parametrize("name", FORMATS)
def test_a_format_is_shown_upright_and_clean(name: str, tmp_path: Path) -> None:
    """By its content, whatever its name; nothing of what the original tells goes along."""
    kind, make = FORMATS[name]
    assert Path(name).suffix in PICTURE_ENDINGS
    picture, found = show(tmp_path, name, make())
    assert (picture.trouble, found) == ("", kind)
    data = picture.renditions[-1].path.read_bytes()
    with Image.open(io.BytesIO(data)) as shown:
        assert shown.size == BIG
        assert quarters(shown) == UPRIGHT
    assert not [secret for secret in SECRETS if secret in data]


TURNED = {1: UPRIGHT, 3: UPRIGHT[::-1], 6: ["blue", "red", "yellow", "green"], 8: ["green", "yellow", "red", "blue"]}


@pytest.mark.parametrize("orientation", TURNED)
def test_a_heic_that_tells_its_turn_in_exif_alone(orientation: int, tmp_path: Path) -> None:
    """Such a picture is turned by Exif 4.6.4 A; one whose boxes turn it is turned by those alone."""
    stored = quartered(*BIG)
    data = _heic(stored, orientation=orientation, turns_itself=False)
    picture, _ = show(tmp_path, "a.heic", data)
    with Image.open(picture.renditions[-1].path) as shown:
        assert quarters(shown) == TURNED[orientation]
        assert read_facts(io.BytesIO(data)).width == shown.width


@pytest.mark.parametrize("orientation", [6, *slow(*(one for one in TURNED if one != 6))])
def test_a_raw_file_stands_as_its_sensor_was_held(orientation: int, tmp_path: Path) -> None:
    """Its preview is stored as the sensor saw it; capture time and camera come from the file around it."""
    data = dng(encoded(quartered(*BIG), "JPEG", quality=95), BIG, orientation=orientation)
    picture, _ = show(tmp_path, "a.dng", data)
    with Image.open(picture.renditions[-1].path) as shown:
        assert quarters(shown) == TURNED[orientation]
    facts = read_facts(io.BytesIO(data))
    assert (facts.camera, str(facts.taken)) == ("Example Raw 2", "2026-02-07 10:33:50")


def test_what_cannot_be_shown_is_told_by_its_format(tmp_path: Path) -> None:
    """It is no damaged picture, and a good copy would not help."""
    picture, _ = show(tmp_path, "a.x3f", b"FOVb" + bytes(4000))
    assert picture.trouble == "not a picture that can be read here (X3F file)"
    picture, _ = show(tmp_path, "a.psd", b"8BPS" + bytes(4000))
    assert picture.trouble == "not a picture that can be read here (PSD file)"


# -- damage --------------------------------------------------------------------------------------


def spoilt(data: bytes, share: float, count: int = 400, seed: int = 1) -> bytes:
    """`data` with so many bytes in a row replaced by random ones, at a share of its length."""
    at = int(len(data) * share)
    return data[:at] + random.Random(seed).randbytes(count) + data[at + count :]


def busy_jpeg(**options: object) -> bytes:
    """A picture with something to see in every block."""
    noise = Image.effect_noise((1200, 900), 40).convert("RGB")
    return encoded(Image.blend(noise, quartered(1200, 900), 0.5), "JPEG", quality=85, **options)


def test_damage_in_a_jpeg_is_told_with_what_is_left() -> None:
    """The share is where another decoder lost its way; never more than the bytes in front of the damage allow."""
    whole = busy_jpeg()
    assert read_facts(io.BytesIO(whole)).damage == ""
    told = [read_facts(io.BytesIO(spoilt(whole, share, seed=seed))) for share in (0.3, 0.6) for seed in range(6)]
    assert all(facts.damage or facts.trouble for facts in told)
    assert any(facts.damage.startswith("about 3") for facts in told[:6])


def test_damage_in_a_heic_is_told() -> None:
    """Its decoder says nothing of it; another one does, or the small picture that phones put beside it."""
    noise = Image.effect_noise((960, 720), 40).convert("RGB")
    ramp = Image.linear_gradient("L").resize((960, 720)).convert("RGB")
    whole = _heic(Image.blend(noise, ramp, 0.8), thumbnails=[320])
    assert read_facts(io.BytesIO(whole)).damage == ""
    told = [read_facts(io.BytesIO(spoilt(whole, 0.4, seed=seed))).damage for seed in range(4)]
    assert sum(map(bool, told)) >= 3, told


def test_what_cameras_put_behind_a_picture_is_no_damage() -> None:
    """Padding in front of the end marker, a second picture, a film, notes of the maker."""
    whole = busy_jpeg()
    for odd in (
        whole[:-2] + bytes(300) + whole[-2:],
        whole[:-2] + b"\xff" * 300 + whole[-2:],
        whole + b"ftypmp42" * 400,
        whole + whole,
        busy_jpeg(progressive=True),
        busy_jpeg(restart_marker_rows=1),
    ):
        assert read_facts(io.BytesIO(odd)).damage == ""
