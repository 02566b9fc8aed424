"""Pictures shown otherwise than taken: filled in, cut down, turned. What is hidden is in no byte of what is shown."""

from __future__ import annotations

import shutil
import tempfile
from datetime import date
from fractions import Fraction
from pathlib import Path

import numpy as np
import pikepdf
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from picturing import UPRIGHT, camera_exif, encoded, quartered, quarters, render, stored
from PIL import Image

from journal.base.byte_progress import quietly
from journal.base.digests import file_sha256
from journal.base.model import UNEDITED, Corner, Edits, Part, PhotoSettings, PictureTurn
from journal.commands.main import main
from journal.ledger.journal import open_journal
from journal.making.lay_site import render_pictures
from journal.media.photos.edited import FILL, NOTHING_LEFT, edited, long_edge_needed
from journal.media.photos.rendition import make_recipe, picture_key
from journal.record.verify import verify
from journal.view.view import Audience, open_view


def part(*edges: object) -> Part:
    """A rectangle from four fractions as they are written."""
    left, top, right, bottom = (Fraction(str(edge)) for edge in edges)
    return left, top, right, bottom


def test_a_turn_says_which_way(tmp_path: Path) -> None:
    """Left is against the clock, as in every program that turns pictures."""
    red, green, blue, yellow = UPRIGHT
    for turn, expected in (
        (PictureTurn.LEFT, [green, yellow, red, blue]),
        (PictureTurn.RIGHT, [blue, red, yellow, green]),
        (PictureTurn.HALF, [yellow, blue, green, red]),
    ):
        shown = render(tmp_path / turn.value, encoded(quartered(), "PNG"), edits=Edits(turn=turn)).largest
        assert quarters(shown) == expected
        assert shown.size == ((96, 64) if turn is PictureTurn.HALF else (64, 96))


def test_a_crop_is_cut_before_the_turn_and_told_on_the_upright_original(tmp_path: Path) -> None:
    """The right half of a picture that the camera stored lying on its side, then turned."""
    data = encoded(stored(quartered(400, 200), 6), "JPEG", exif=camera_exif(orientation=6))
    shown = render(tmp_path, data, edits=Edits(turn=PictureTurn.LEFT, crop=part("0.5", 0, 1, 1))).largest
    assert quarters(shown) == ["green", "yellow", "green", "yellow"]
    assert shown.size == (200, 198)


def test_a_crop_is_as_large_as_the_original_has_it(tmp_path: Path) -> None:
    """A quarter of the width of 8000 px still comes out at 1920: no smaller decoding is used for it."""
    data = encoded(quartered(8000, 600), "JPEG")
    picture = render(tmp_path, data, edits=Edits(crop=part("0.1", 0, "0.35", 1))).picture
    assert [(one.width_px, one.height_px) for one in picture.renditions] == [(480, 144), (960, 289), (1920, 577)]


def test_what_is_filled_in_is_one_grey_up_to_its_edges(tmp_path: Path) -> None:
    """A row more is covered rather than one too few."""
    shown = render(tmp_path, encoded(quartered(800, 600), "PNG"), edits=Edits(blur=(part(0, 0, "0.5", "0.5"),))).largest
    pixels = np.asarray(shown).astype(int)
    assert abs(pixels[:300, :400] - FILL[0]).max() <= 4
    assert quarters(shown)[1:] == UPRIGHT[1:]


def test_a_crop_that_keeps_nothing_is_told(tmp_path: Path) -> None:
    """No picture rather than one that shows what lies beside it."""
    picture = render(tmp_path, encoded(quartered(), "PNG"), edits=Edits(crop=part("0.5", 0, "0.501", 1))).picture
    assert (picture.renditions, picture.trouble) == ((), NOTHING_LEFT)


def test_every_edit_has_a_picture_of_its_own_and_none_keeps_its_name() -> None:
    """The key of a picture that is shown as taken is what it was before anything could be said of it."""
    marked = PhotoSettings(watermark="Tarn", corner=Corner.UPPER_LEFT)
    one, other = part(0, 0, "0.5", 1), part(0, 0, "0.501", 1)
    edits = [UNEDITED, Edits(crop=one), Edits(blur=(one,)), Edits(blur=(other,)), Edits(blur=(one, other))]
    edits += [Edits(turn=turn) for turn in PictureTurn]
    keys = {picture_key("0" * 64, make_recipe(marked, edits=edit)) for edit in edits}
    assert len(keys) == len(edits)
    assert picture_key("0" * 64, make_recipe(marked)) in keys


@st.composite
def rectangles(draw: st.DrawFn, least: int = 1) -> Part:
    """A rectangle with edges in thousandths."""
    left, top = draw(st.integers(0, 1000 - least)), draw(st.integers(0, 1000 - least))
    right, bottom = draw(st.integers(left + least, 1000)), draw(st.integers(top + least, 1000))
    return part(*(Fraction(edge, 1000) for edge in (left, top, right, bottom)))


def inside(place: Part, size: tuple[int, int]) -> tuple[slice, slice]:
    """The pixels that have anything of a rectangle in them."""
    left, top, right, bottom = (edge * size[at % 2] for at, edge in enumerate(place))
    return slice(int(top), -int(-bottom // 1)), slice(int(left), -int(-right // 1))


def noise(size: tuple[int, int], seed: int) -> np.ndarray:
    """Random pixels."""
    return np.random.default_rng(seed).integers(0, 256, (size[1], size[0], 3), dtype=np.uint8)


def assert_nothing_shows(
    size: tuple[int, int], edits: Edits, hidden: np.ndarray, orientation: int, kind: str, options: dict[str, object]
) -> None:
    """Two originals that differ in all that is hidden are shown by the very same bytes."""
    made = []
    for seed in (1, 2):
        image = Image.fromarray(np.where(hidden[..., None], noise(size, seed), noise(size, 0)))
        data = encoded(stored(image, orientation), kind, exif=camera_exif(orientation=orientation), **options)
        with tempfile.TemporaryDirectory() as folder:
            made.append(render(Path(folder), data, edits=edits, watermark="Tarn"))
    assert made[0].data == made[1].data
    assert made[0].picture.trouble == made[1].picture.trouble


SIZES = st.tuples(st.integers(20, 1200), st.integers(20, 900))
TURNS = st.sampled_from([None, *PictureTurn])


def filled_in(size: tuple[int, int], places: list[Part]) -> np.ndarray:
    """Which pixels have anything of `places` in them."""
    hidden = np.zeros((size[1], size[0]), bool)
    for place in places:
        hidden[inside(place, size)] = True
    return hidden


BLURS = given(st.lists(rectangles(), min_size=1, max_size=3), SIZES, TURNS, st.integers(1, 8))


def assert_filled_in(places: list[Part], size: tuple[int, int], turn: PictureTurn | None, orientation: int) -> None:
    """A PNG keeps every pixel; a JPEG with its colour at half tells of each block in its neighbours' last pixels."""
    edits, hidden = Edits(turn=turn, blur=tuple(places)), filled_in(size, places)
    assert_nothing_shows(size, edits, hidden, orientation, "PNG", {})
    assert_nothing_shows(size, edits, hidden, orientation, "JPEG", {"subsampling": 2, "quality": 80})


@settings(max_examples=4, deadline=None)
@BLURS
def test_what_is_filled_in_is_in_no_byte(
    places: list[Part], size: tuple[int, int], turn: PictureTurn | None, orientation: int
) -> None:
    """Whatever lay there."""
    assert_filled_in(places, size, turn, orientation)


@pytest.mark.slow
@settings(max_examples=300, deadline=None)
@BLURS
def test_what_is_filled_in_is_in_no_byte_at_length(
    places: list[Part], size: tuple[int, int], turn: PictureTurn | None, orientation: int
) -> None:
    """The same over more sizes."""
    assert_filled_in(places, size, turn, orientation)


CROPS = given(rectangles(20), SIZES, TURNS, st.integers(1, 8))


def assert_cut_away(place: Part, size: tuple[int, int], turn: PictureTurn | None, orientation: int) -> None:
    """What lies outside, and a pixel that is kept but for a part of it."""
    left, top, right, bottom = (edge * size[at % 2] for at, edge in enumerate(place))
    hidden = np.ones((size[1], size[0]), bool)
    hidden[-int(-top // 1) : int(bottom), -int(-left // 1) : int(right)] = False
    assert_nothing_shows(size, Edits(turn=turn, crop=place), hidden, orientation, "PNG", {})


@settings(max_examples=4, deadline=None)
@CROPS
def test_what_is_cut_away_is_in_no_byte(
    place: Part, size: tuple[int, int], turn: PictureTurn | None, orientation: int
) -> None:
    """Whatever lay outside."""
    assert_cut_away(place, size, turn, orientation)


@pytest.mark.slow
@settings(max_examples=300, deadline=None)
@CROPS
def test_what_is_cut_away_is_in_no_byte_at_length(
    place: Part, size: tuple[int, int], turn: PictureTurn | None, orientation: int
) -> None:
    """The same over more sizes."""
    assert_cut_away(place, size, turn, orientation)


@pytest.mark.slow
@pytest.mark.parametrize("orientation", [1, 6])
@pytest.mark.parametrize(("kind", "options"), [("JPEG", {"subsampling": 2}), ("JPEG", {"subsampling": 1}), ("PNG", {})])
@pytest.mark.parametrize("long_side", [2500, 4100, 9000])
def test_what_is_hidden_is_in_no_byte_of_a_large_picture_that_is_decoded_smaller(
    kind: str, options: dict[str, object], orientation: int, long_side: int
) -> None:
    """Halved and quartered as it is decoded, where a pixel is of many of the original."""
    size = (long_side, long_side // 3 + 1)
    place = part("0.123", "0.234", "0.567", "0.789")
    assert_nothing_shows(size, Edits(blur=(place,)), filled_in(size, [place]), orientation, kind, options)
    edges = [Fraction(-(-1 * long_side // 4 // 16) * 16, size[0]), Fraction(160, size[1])]
    edges += [Fraction(long_side // 2 // 16 * 16, size[0]), Fraction(480, size[1])]
    kept = part(*edges)
    if orientation == 1:  # on the blocks of the JPEG, which would else tell of each other in the original
        hidden = ~filled_in(size, [kept])
        assert_nothing_shows(size, Edits(crop=kept), hidden, orientation, kind, options)


@settings(max_examples=200, deadline=None)
@given(rectangles(), st.tuples(st.integers(50, 9000), st.integers(50, 9000)))
def test_a_crop_is_decoded_large_enough(place: Part, size: tuple[int, int]) -> None:
    """Its longer side is 1920 px, or what the original has of it but for what is cut off the edges."""
    needed = long_edge_needed(size, Edits(crop=place), 1920)
    assert needed <= max(size)
    scale = Fraction(needed, max(size))
    kept = max((place[2] - place[0]) * size[0], (place[3] - place[1]) * size[1])
    assert kept * scale >= 1920 + 6 or needed == max(size)


def test_a_picture_shown_as_taken_is_left_alone() -> None:
    """Nothing is drawn, cut or turned."""
    image = quartered()
    assert edited(image, (96, 64), UNEDITED) == (image, (96, 64))


# -- wherever a picture is shown ------------------------------------------------------------------


RIBS = "content/entries/2026-01-17-ribs"
HIDES = {"blur": "blur: 0.55 0.35 0.75 0.55", "crop": "turn: left, crop: 0 0 0.5 1"}


def hide(root: Path, said: str) -> Path:
    """A copy of tests/builds/first-weeks with a picture of which a red patch is hidden; the phone's copy beside it."""
    shutil.copytree(Path(__file__).parents[1] / "builds/first-weeks", root)
    image = Image.new("RGB", (1600, 1200), "white")
    image.paste((255, 0, 0), (960, 480, 1120, 600))
    for name in ("ribs.jpg", "ribs (1).jpg"):
        (root / RIBS / name).write_bytes(encoded(image, "JPEG", subsampling=2))
    text = root / RIBS / "index.md"
    words = text.read_text().replace("cover: true", f"cover: true, {said}")
    text.write_text(words.replace("Deburred the", "![](ribs.jpg)\n\nDeburred the"))
    (root / "content/pages/red.md").write_text("# Red\n\n![ribs](../entries/2026-01-17-ribs/ribs.jpg)\n")
    return root


def has_red(image: Image.Image) -> bool:
    """Whether the patch is to be seen; nothing of ours is of that colour."""
    pixels = np.asarray(image.convert("RGB")).astype(int)
    return bool((pixels[..., 0] - pixels[..., 1:].max(axis=2) > 100).any())


@pytest.mark.parametrize("said", HIDES.values(), ids=HIDES)
def test_every_copy_of_a_picture_is_the_edited_one(tmp_path: Path, said: str) -> None:
    """And the copy that the phone made is none of them."""
    root = hide(tmp_path / "build", said)
    journal = open_journal(root, date(2026, 3, 1))
    view = open_view(journal, Audience.PUBLIC)
    made, renditions = render_pictures(root, view, view.photo_settings, credit="", begin=quietly)
    assert f"{RIBS}/ribs.jpg" in made
    assert f"{RIBS}/ribs (1).jpg" not in made
    assert not any(has_red(Image.open(one.path)) for one in renditions)


@pytest.mark.slow
@pytest.mark.parametrize("said", HIDES.values(), ids=HIDES)
def test_what_is_hidden_is_in_no_file_for_others(tmp_path: Path, said: str) -> None:
    """Site, cards, an archive without private things and its binder; the full archive has both, and both verify."""
    root = hide(tmp_path / "build", said)
    text, original = root / RIBS / "index.md", file_sha256(root / RIBS / "ribs.jpg")[0]
    site, full, others = root / "site", tmp_path / "full", tmp_path / "others"

    def run(*args: str) -> None:
        result = CliRunner().invoke(main, [*args, "--build", str(root)])
        assert result.exit_code == 0, result.output

    edited_text = text.read_text()
    text.write_text(edited_text.replace(said, "private: false"))
    run("site")
    assert any(has_red(Image.open(path)) for path in (site / "pictures").iterdir())
    text.write_text(edited_text)
    for args in (
        ["site"],
        ["seal"],
        ["archive", "--out", str(full)],
        ["archive", "--without-private", "--out", str(others)],
    ):
        run(*args)
    for folder in (site, others):
        files = [path for path in folder.rglob("*") if path.is_file()]
        assert original not in {file_sha256(path)[0] for path in files}
        pictures = [path for path in files if path.suffix in (".jpg", ".png")]
        assert len(pictures) >= 3
        assert [path for path in pictures if has_red(Image.open(path))] == []
    found = 0
    with pikepdf.open(others / "data/record.pdf") as pdf:
        for one in pdf.objects:
            if isinstance(one, pikepdf.Stream) and one.get("/Subtype") == "/Image":
                found += 1
                assert not has_red(pikepdf.PdfImage(one).as_pil_image())
    assert found
    assert original in {file_sha256(path)[0] for path in full.rglob("*") if path.is_file()}
    assert "the original: ribs.jpg" in (full / "data/entries/2026-01-17-ribs/index.html").read_text()
    assert "Pictures shown otherwise than taken" in (full / "data/pack/index.html").read_text()
    for archive in (full, others):
        assert verify(archive).ok
