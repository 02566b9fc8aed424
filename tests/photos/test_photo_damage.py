"""Damaged and hostile files: refused in plain words or read as they were, never half a picture, never a crash."""

from __future__ import annotations

import io
import random
import resource
import subprocess
import sys
import textwrap
from pathlib import Path

import numpy as np
import pillow_heif
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from making import slow
from picturing import camera_exif, encoded, png, render
from PIL import Image

from journal.media.photos import kinds
from journal.media.photos.facts import read_facts

pytestmark = pytest.mark.filterwarnings("ignore::UserWarning:PIL")  # the store keeps them to itself

KINDS = ["JPEG", "progressive", "HEIF", "PNG", "WEBP", "TIFF", "LZW"]

SENTENCES = {value for name, value in vars(kinds).items() if name.isupper() and isinstance(value, str)}
"""Every sentence that may be told."""


def busy() -> Image.Image:
    """A picture whose every part differs, so that a missing part shows."""
    across, down = np.meshgrid(np.arange(160), np.arange(120))
    noise = np.random.default_rng(5).integers(0, 60, (120, 160))
    return Image.fromarray(np.stack([across + noise, down + noise, across // 2 + down // 2], 2).astype(np.uint8))


def whole(kind: str) -> bytes:
    """A sound file of the kind, Exif included."""
    exif = camera_exif()
    if kind == "HEIF":
        out = io.BytesIO()
        pillow_heif.from_pillow(busy()).save(out, exif=exif, quality=80)
        return out.getvalue()
    if kind == "progressive":
        return encoded(busy(), "JPEG", exif=exif, progressive=True)
    if kind in {"TIFF", "LZW"}:
        return encoded(busy(), "TIFF", **({"compression": "tiff_lzw"} if kind == "LZW" else {}))
    return encoded(busy(), kind, exif=exif)


def assert_refused_or_whole(folder: Path, data: bytes, sound: bytes) -> bool:
    """Facts and rendering agree with the rule; whether it was refused."""
    facts = read_facts(io.BytesIO(data))
    rendered = render(folder, data)
    assert facts.trouble in SENTENCES | {""}
    assert rendered.picture.trouble in SENTENCES | {""}
    assert bool(rendered.picture.trouble) != bool(rendered.picture.renditions)
    if facts.trouble:
        assert rendered.picture.trouble
    if rendered.picture.renditions:
        assert rendered.data[-1] == sound, "part of a picture was taken for the whole"
    return bool(rendered.picture.trouble)


def cut_at(kind: str, folder: Path, lengths: list[int]) -> list[int]:
    """Cut a sound file at each length; the lengths at which it was still accepted."""
    data = whole(kind)
    sound = render(folder / "sound", data).data[-1]
    return [
        length
        for number, length in enumerate(lengths)
        if not assert_refused_or_whole(folder / str(number), data[:length], sound)
    ]


@pytest.mark.parametrize("kind", KINDS)
def test_files_cut_short_are_refused(kind: str, tmp_path: Path) -> None:
    """At a dozen places from the first byte to the last but one: no half grey picture gets out."""
    length = len(whole(kind))
    lengths = [0, 1, 3, 12, 100, length // 4, length // 2, length * 3 // 4, length - 1000, length - 100, length - 2]
    assert cut_at(kind, tmp_path, lengths) == []


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_files_cut_short_anywhere(kind: str, tmp_path: Path) -> None:
    """At three hundred places and at each of the last 64 bytes."""
    length = len(whole(kind))
    lengths = sorted({*range(0, length, max(1, length // 300)), *range(length - 64, length)})
    assert cut_at(kind, tmp_path, lengths) == []


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_the_sentence_for_a_file_cut_short(kind: str) -> None:
    """It says so."""
    data = whole(kind)
    assert read_facts(io.BytesIO(data[: len(data) // 2])).trouble == "the file is cut short"


def test_zeros_where_the_rest_should_be(tmp_path: Path) -> None:
    """A card pulled out too early: the length is right, the rest is empty."""
    for kind in ("JPEG", "progressive", "PNG"):
        data = whole(kind)
        half = len(data) // 2
        sound = render(tmp_path / "sound" / kind, data).data[-1]
        assert assert_refused_or_whole(tmp_path / kind, data[:half] + bytes(len(data) - half), sound)


def test_a_cut_picture_in_front_of_a_whole_one(tmp_path: Path) -> None:
    """The end of what a phone appends is not the end of a picture that was cut short before it."""
    data = whole("JPEG")
    joined = data[: len(data) // 2] + whole("progressive")
    assert render(tmp_path, joined).picture.trouble


@pytest.mark.parametrize(
    "text", ["", "Ada was here", "<svg xmlns='http://www.w3.org/2000/svg'/>", "%!PS-Adobe-3.0 EPSF\n"]
)
def test_other_files_are_not_given_to_other_decoders(text: str, tmp_path: Path) -> None:
    """Only the five kinds are ever decoded, whatever else the library could read."""
    assert render(tmp_path, text.encode()).picture.trouble in {
        "not a picture that can be read here",
        "the file is empty",
    }


def test_other_pictures_are_refused(tmp_path: Path) -> None:
    """What no phone and no camera writes is not read under a photo's name."""
    for kind in ("PPM", "ICO", "JPEG2000"):
        assert render(tmp_path, encoded(busy(), kind)).picture.trouble == "not a picture that can be read here", kind


def test_a_bomb_is_never_decoded(tmp_path: Path) -> None:
    """225 megapixels in 30 KB of well-formed PNG: refused by the header, in next to no memory."""
    rows = bytes(15_000 // 8 * 15_000)
    data = png(15_000, 15_000, 1, 0, rows)
    assert len(data) < 40_000
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    assert render(tmp_path, data).picture.trouble == "the picture is larger than 200 megapixels"
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 60_000


@pytest.mark.parametrize("sides", [(0, 5), (5, 0)])
def test_a_picture_without_pixels(sides: tuple[int, int], tmp_path: Path) -> None:
    """No width or no height is no picture."""
    assert render(tmp_path, png(*sides, 8, 0, b"")).picture.trouble


def mangled(data: bytes, seed: int) -> bytes:
    """A few changes as disks, cables and spiteful people make them."""
    chance = random.Random(seed)
    out = bytearray(data)
    for _ in range(chance.randint(1, 6)):
        at = chance.randrange(len(out))
        what = chance.randrange(5)
        if what == 0:
            out[at] = chance.randrange(256)
        elif what == 1:
            out[at] ^= 1 << chance.randrange(8)
        elif what == 2:
            del out[at : at + chance.randint(1, 40)]
        elif what == 3:
            out[at:at] = chance.randbytes(chance.randint(1, 40))
        else:
            out[at : at + 4] = chance.choice([b"\xff\xff\xff\xff", b"\0\0\0\0", b"\x7f\xff\xff\xff", b"\x80\0\0\0"])
        if not out:
            break
    return bytes(out)


def assert_answered(folder: Path, data: bytes) -> None:
    """Whatever the bytes, there is an answer: a sentence, or renditions within the sizes."""
    facts = read_facts(io.BytesIO(data))
    assert facts.trouble in SENTENCES | {""}
    rendered = render(folder, data, watermark="Tarn")
    assert rendered.picture.trouble in SENTENCES | {""}
    assert bool(rendered.picture.trouble) != bool(rendered.picture.renditions)
    for image in rendered.images:
        image.load()
        assert max(image.size) <= 1920


@pytest.mark.parametrize("kind", ["JPEG", *slow(*(kind for kind in KINDS if kind != "JPEG"))])
def test_mangled_files_are_answered(kind: str, tmp_path: Path) -> None:
    """Ten mangled files of each kind."""
    for seed in range(10):
        assert_answered(tmp_path, mangled(whole(kind), seed))


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_many_mangled_files_are_answered(kind: str, tmp_path: Path) -> None:
    """Five hundred mangled files of each kind, damage near the head as likely as anywhere."""
    data = whole(kind)
    for seed in range(1000, 1500):
        spoilt = mangled(data[:600], seed) + data[600:] if seed % 2 else mangled(data, seed)
        assert_answered(tmp_path, spoilt)


HEADS = [
    b"",
    b"\xff\xd8\xff\xe0\0\x10JFIF\0\x01\x01\0\0\x01\0\x01\0\0",
    b"\xff\xd8\xff\xe1",
    b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR",
    b"RIFF\x40\0\0\0WEBPVP8 ",
    b"RIFF\x40\0\0\0WEBPVP8X",
    b"II*\0\x08\0\0\0",
    b"MM\0*\0\0\0\x08",
    b"\0\0\0\x18ftypheic\0\0\0\0mif1heic",
]


@pytest.mark.slow
@settings(max_examples=3000, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(head=st.sampled_from(HEADS), body=st.binary(max_size=400))
def test_random_bytes_are_answered(head: bytes, body: bytes, tmp_path: Path) -> None:
    """Random bytes behind the beginnings of all kinds."""
    assert_answered(tmp_path, head + body)


@pytest.mark.slow
@settings(max_examples=1500, deadline=None)
@given(body=st.binary(max_size=300))
def test_random_exif_is_answered(body: bytes) -> None:
    """Random bytes where Exif should be never cost the picture."""
    for head in (b"Exif\0\0II*\0\x08\0\0\0", b"Exif\0\0MM\0*\0\0\0\x08", b""):
        facts = read_facts(io.BytesIO(encoded(Image.new("RGB", (8, 6)), "JPEG", exif=head + body)))
        assert facts.trouble == ""
        assert {facts.width, facts.height} == {8, 6}


def peak_of(folder: Path, data_from: str) -> tuple[int, str]:
    """By how many MB memory grows at its peak, and the answer of rendering, in a process of its own, a picture of
    199.8 megapixels that `data_from` (Python, leaves bytes in `data`) makes in another. What the program itself takes
    is not counted.
    """
    path = folder / "big"
    making = f"import io, sys\nfrom PIL import Image\nImage.MAX_IMAGE_PIXELS = None\n{textwrap.dedent(data_from)}\n"
    making += "open(sys.argv[1], 'wb').write(data)\n"
    subprocess.run([sys.executable, "-c", making, path], check=True)
    rendering = """
        import resource, sys
        from pathlib import Path
        from journal.base.model import PhotoSettings
        from journal.media.photos import PhotoStore, PictureJob
        from journal.media.photos.service import SERVICE
        root = Path(sys.argv[1])
        store = PhotoStore(root, root / "cache")
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        found = store.examine(["big"])["big"]
        marked = PhotoSettings(watermark="T")
        job = PictureJob(src_uri="big", sha256=found.sha256, caption="", credit="", settings=marked)
        picture = store.render([job])[job]
        sizes = [(r.width_px, r.height_px) for r in picture.renditions]
        grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
        SERVICE.close()  # what decodes is counted once it has ended
        grown += resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
        print(grown // 1000, found.facts.width, sizes, picture.trouble)
    """
    told = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(rendering), folder],
        check=True,
        capture_output=True,
        text=True,
        cwd=Path(__file__).parents[2],
    )
    peak, _, answer = told.stdout.strip().partition(" ")
    return int(peak), answer


BIG = "16320 [(480, 360), (960, 720), (1920, 1440)] "


@pytest.mark.slow
@pytest.mark.parametrize(
    ("data_from", "most"),
    [
        pytest.param(
            """
            out = io.BytesIO()
            Image.linear_gradient("L").resize((16320, 12240)).convert("RGB").save(out, "JPEG", quality=60)
            data = out.getvalue()
            """,
            450,  # decoded whole it would be 600; how far reading runs ahead depends on how busy the machine is
            id="JPEG",
        ),
        pytest.param(
            """
            out = io.BytesIO()
            Image.linear_gradient("L").resize((16320, 12240)).convert("RGB").save(
                out, "JPEG", quality=60, progressive=True)
            data = out.getvalue()
            """,
            1100,
            id="progressive JPEG",
        ),
        pytest.param(
            """
            out = io.BytesIO()
            Image.new("RGB", (16320, 12240), (10, 200, 30)).save(out, "PNG", compress_level=1)
            data = out.getvalue()
            """,
            1200,
            id="PNG",
        ),
        pytest.param(
            """
            out = io.BytesIO()
            Image.new("RGB", (16320, 12240), (10, 200, 30)).save(out, "TIFF", compression="tiff_lzw")
            data = out.getvalue()
            """,
            1200,
            id="TIFF",
        ),
        pytest.param(
            """
            out = io.BytesIO()
            picture = Image.new("RGB", (16320, 12240), (10, 200, 30))
            picture.paste(Image.effect_noise((256, 256), 60))  # or it holds too little to be believed
            picture.save(out, "WEBP", lossless=True, quality=0, method=0)
            data = out.getvalue()
            """,
            3400,
            id="WebP",
        ),
    ],
)
def test_the_largest_phone_picture_fits_in_memory(data_from: str, most: int, tmp_path: Path) -> None:
    """199.8 megapixels are rendered, and the memory (MB) stays bounded: a JPEG is never decoded whole."""
    peak, answer = peak_of(tmp_path, data_from)
    assert answer.strip() == BIG.strip()
    assert peak < most
