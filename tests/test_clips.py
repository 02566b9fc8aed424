"""Clips: facts from originals, and films for the site that say nothing but what they show.

Outside checks: ffmpeg writes the originals, ISO/IEC 14496-12 gives the boxes, exiftool (where it is
installed) looks at the results.
"""

from __future__ import annotations

import contextlib
import io
import json
import shutil
import struct
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import UTC, date, datetime
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from making import MakeBuild, entry, read, slow
from PIL import Image, ImageChops, ImageStat

from journal.base.model import UNEDITED, WHOLE, Clip, Cut, Edits, Entry, PhotoSettings, PictureTurn
from journal.ledger.films import check_films
from journal.media.boxes import BoxError, walk_boxes
from journal.media.clips import ClipStore, Film, read_clip_facts, store, uncleanliness
from journal.media.clips.encode import Shown, poster_moment, seconds_hit
from journal.media.clips.look import Container, look_at, sniff_container
from journal.media.clips.program import FilmError, find_ffmpeg, run_ffmpeg
from journal.media.clips.store import film_key
from journal.media.photos.rendition import make_recipe

GPS = "+47.3769+008.5417/"
MARKED = PhotoSettings(watermark="Tarn build", opacity=Decimal("0.6"))


def ffmpeg(*words: str) -> None:
    """Run the program that the wheel carries."""
    program = find_ffmpeg()
    assert program is not None
    subprocess.run([program, "-v", "error", "-y", *words], check=True)


@pytest.fixture(scope="session")
def originals(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Clips as phones write them: with place, time, maker and title; one on its side, one large, one mute."""
    folder = tmp_path_factory.mktemp("originals")
    told = [
        "-metadata",
        f"location={GPS}",
        "-metadata",
        "title=our garage",
        "-metadata",
        "creation_time=2026-02-07T17:30:05Z",
    ]
    source = ["-f", "lavfi", "-i", "testsrc2=size=320x240:rate=10:duration=1", "-f", "lavfi", "-i", "sine=duration=1"]
    ffmpeg(
        *source,
        "-c:v",
        "libx264",
        "-preset",
        "ultrafast",
        "-pix_fmt",
        "yuv420p",
        "-c:a",
        "aac",
        *told,
        str(folder / "plain.mp4"),
    )
    apple = {
        "creationdate": "2026-02-07T18:30:05+0100",
        "location.ISO6709": GPS,
        "make": "Example",
        "model": "Pocket 5",
    }
    keys = [word for name, value in apple.items() for word in ("-metadata", f"com.apple.quicktime.{name}={value}")]
    ffmpeg(
        *("-display_rotation", "90", "-i", str(folder / "plain.mp4"), "-c", "copy", *keys),
        *("-movflags", "use_metadata_tags", str(folder / "turned.mov")),
    )
    ffmpeg(
        *(
            "-f",
            "lavfi",
            "-i",
            "testsrc2=size=3840x2160:rate=60:duration=0.1",
            "-c:v",
            "libx264",
            "-preset",
            "ultrafast",
        ),
        *("-pix_fmt", "yuv420p", str(folder / "large.mp4")),
    )
    return folder


@pytest.fixture
def clip_store(tmp_path: Path, originals: Path) -> ClipStore:
    """A build folder with all of them."""
    shutil.copytree(originals, tmp_path / "content/entries/a")
    return ClipStore(tmp_path, tmp_path / ".journal/clips", MARKED)


def beside(clip_store: ClipStore, settings: PhotoSettings) -> ClipStore:
    """Another store of the same build."""
    return ClipStore(clip_store._root, clip_store._cache.folders()[0], settings)


def rendered(clip_store: ClipStore, name: str) -> Film:
    """What is made of a clip of the entry."""
    src_uri = f"content/entries/a/{name}"
    return clip_store.render([Clip(name=name, src_uri=src_uri)])[src_uri]


def film_of(clip_store: ClipStore, name: str) -> Film:
    """Its film, which must have been made."""
    made = rendered(clip_store, name)
    assert made.trouble == ""
    assert made.path is not None
    return made


def test_facts_of_a_phone_film(originals: Path) -> None:
    """Local time with its offset, and maker are read from the keys that phones write."""
    with (originals / "turned.mov").open("rb") as source:
        facts = read_clip_facts(source)
    assert (facts.taken, facts.offset) == (datetime(2026, 2, 7, 18, 30, 5), "+01:00")
    assert (facts.camera, facts.seconds) == ("Example Pocket 5", 1)


def test_facts_of_a_container_that_tells_only_utc(originals: Path) -> None:
    """The time of the container is UTC and is kept apart from local time."""
    with (originals / "plain.mp4").open("rb") as source:
        facts = read_clip_facts(source)
    assert facts.taken is None
    assert facts.taken_utc == datetime(2026, 2, 7, 17, 30, 5, tzinfo=UTC)


@pytest.mark.parametrize(("seconds", "told"), [(0, False), (3_900_000_000, True), (255_485_142_000, False)])
def test_a_container_whose_clock_was_never_set_tells_no_time(seconds: int, told: bool) -> None:
    """Seconds since 1904 (ISO 14496-12): none, those of 2027, and those of the last day there is, which no zone has."""

    def box(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", 8 + len(data)) + kind + data

    head = b"\x01\0\0\0" + struct.pack(">QQIQ", seconds, seconds, 1000, 2000) + bytes(80)
    film = box(b"ftyp", b"isom\0\0\0\0") + box(b"moov", box(b"mvhd", head))
    facts = read_clip_facts(io.BytesIO(film))
    assert (facts.trouble, facts.seconds, facts.taken_utc is not None) == ("", 2, told)


@pytest.mark.parametrize("name", ["plain.mp4", "turned.mov", *slow("large.mp4")])
def test_a_film_of_the_site_says_nothing_but_what_it_shows(clip_store: ClipStore, name: str) -> None:
    """No place, title, maker, time or encoder is left in any box, and every box is one that is needed."""
    film = film_of(clip_store, name)
    assert film.path is not None
    data = film.path.read_bytes()
    assert uncleanliness(io.BytesIO(data)) == ()
    for secret in (b"47.37", b"8.5417", b"garage", b"Example", b"Pocket", b"2026", b"x264", b"Lavf", b"apple"):
        assert secret not in data
    for rendition in film.poster.renditions:
        assert b"Exif" not in rendition.path.read_bytes()


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("exiftool") is None, reason="exiftool is not installed")
def test_exiftool_finds_nothing_in_it(clip_store: ClipStore) -> None:
    """An independent reader finds neither place nor time nor maker, where it finds all three in the original."""
    film = film_of(clip_store, "turned.mov")

    def told(path: Path) -> dict[str, str]:
        done = subprocess.run(["exiftool", "-json", "-G1", str(path)], capture_output=True, text=True, check=True)
        rows = json.loads(done.stdout)[0]
        return {key: str(value) for key, value in rows.items() if not key.startswith(("System", "File", "ExifTool"))}

    assert film.path is not None
    before, after = told(clip_store._root / "content/entries/a/turned.mov"), told(film.path)
    assert any("GPS" in key for key in before)
    assert not any("GPS" in key or "Location" in key or "Make" in key or "Title" in key for key in after)
    assert {value for key, value in after.items() if "Date" in key} == {"0000:00:00 00:00:00"}


def test_a_film_stands_upright_and_fits_the_site(clip_store: ClipStore) -> None:
    """A turned film is upright without a sign that says so; a large one has at most 1080 lines."""
    turned, large = film_of(clip_store, "turned.mov"), film_of(clip_store, "large.mp4")
    assert (turned.width_px, turned.height_px) == (240, 320)
    assert (large.width_px, large.height_px) == (1920, 1080)
    for film in (turned, large):
        assert film.path is not None
        look = look_at(film.path)
        assert (look.width, look.height) == (film.width_px, film.height_px)
        assert film.poster.renditions[-1].width_px <= film.width_px
        assert film.bytes == film.path.stat().st_size


def test_sound_and_pictures_are_what_browsers_play(clip_store: ClipStore) -> None:
    """H.264 and AAC, and the index stands before the data, so that playing begins at once."""
    film = film_of(clip_store, "plain.mp4")
    assert film.path is not None
    with film.path.open("rb") as source:
        names = [box.path for box in walk_boxes(source)]
        assert names.index("moov") < names.index("mdat")
        assert names.count("moov/trak") == 2
    data = film.path.read_bytes()
    assert b"avc1" in data
    assert b"mp4a" in data


def test_the_watermark_is_that_of_the_photos(clip_store: ClipStore, tmp_path: Path) -> None:
    """With and without: the two differ in the corner and nowhere else."""
    frames = []
    for settings in (MARKED, PhotoSettings()):
        film = film_of(beside(clip_store, settings), "plain.mp4")
        ffmpeg("-i", str(film.path), "-frames:v", "1", str(tmp_path / f"{film.name}.png"))
        frames.append(Image.open(tmp_path / f"{film.name}.png").convert("RGB"))
    difference = ImageChops.difference(*frames)
    corner = difference.crop((200, 215, 320, 240))
    rest = difference.crop((0, 0, 320, 200))
    assert max(ImageStat.Stat(corner).mean) > 5 * max(ImageStat.Stat(rest).mean)


def test_the_original_is_never_touched(clip_store: ClipStore, originals: Path) -> None:
    """Reading it is all that happens to it."""
    film_of(clip_store, "turned.mov")
    kept = clip_store._root / "content/entries/a/turned.mov"
    assert kept.read_bytes() == (originals / "turned.mov").read_bytes()
    assert kept.stat().st_mtime_ns == (originals / "turned.mov").stat().st_mtime_ns


def test_nothing_is_encoded_twice(clip_store: ClipStore, monkeypatch: pytest.MonkeyPatch) -> None:
    """An unchanged clip costs a look; other settings, or other bytes under the same name, make another film."""
    first = film_of(clip_store, "plain.mp4")
    with monkeypatch.context() as patch:
        patch.setattr(store, "encode_film", None)
        assert film_of(clip_store, "plain.mp4") == first
        assert film_of(beside(clip_store, MARKED), "plain.mp4") == first
    other = film_of(beside(clip_store, PhotoSettings(watermark="Another")), "plain.mp4")
    assert other.name != first.name
    shutil.copyfile(clip_store._root / "content/entries/a/turned.mov", clip_store._root / "content/entries/a/plain.mp4")
    assert film_of(clip_store, "plain.mp4").name not in (first.name, other.name)


@pytest.mark.slow
def test_a_damaged_cache_is_made_again(clip_store: ClipStore) -> None:
    """A film cut short or a poster lost counts as not made."""
    film = film_of(clip_store, "plain.mp4")
    assert film.path is not None
    film.path.write_bytes(film.path.read_bytes()[:-100])
    film.poster.renditions[0].path.unlink()
    again = film_of(clip_store, "plain.mp4")
    assert again.name == film.name
    assert again.path is not None
    assert again.path.stat().st_size == film.bytes


@pytest.mark.slow
def test_progress_is_told_in_seconds_of_film(clip_store: ClipStore) -> None:
    """It only grows, reaches the end, and what lies in the cache takes no time."""
    names = ("plain.mp4", "turned.mov", "plain.mp4")
    clips = [Clip(name=name, src_uri=f"content/entries/a/{name}") for name in names]
    told: list[tuple[int, int]] = []
    clip_store.render(clips, lambda done, total: told.append((done, total)))
    assert told == sorted(told)
    assert told[-1] == (2, 2)
    told.clear()
    clip_store.render(clips, lambda done, total: told.append((done, total)))
    assert told == []


@pytest.mark.slow
def test_pruning_leaves_what_is_used(clip_store: ClipStore) -> None:
    """Films and posters of clips that went away go too."""
    kept, gone = film_of(clip_store, "plain.mp4"), film_of(clip_store, "turned.mov")
    assert clip_store.prune([kept]) == 1 + len(gone.poster.renditions)
    assert kept.path is not None
    assert kept.path.exists()
    assert gone.path is not None
    assert not gone.path.exists()


def shown_as(clip_store: ClipStore, name: str, edits: Edits = UNEDITED, cut: Cut = WHOLE) -> Film:
    """The film of a clip of which its entry says so."""
    clip = Clip(name=name, src_uri=f"content/entries/a/{name}", edits=edits, cut=cut)
    return clip_store.render([clip])[clip.src_uri]


EDITED = Edits(
    turn=PictureTurn.RIGHT,
    crop=(Fraction(1, 10), Fraction(0), Fraction(9, 10), Fraction(1)),
    blur=((Fraction(3, 10), Fraction(1, 4), Fraction(1, 2), Fraction(1, 2)),),
)


def test_a_film_is_shown_as_its_entry_says(clip_store: ClipStore, tmp_path: Path) -> None:
    """Cropped, filled in and turned, from its first frame to its last, poster and all; from and to are kept."""
    store_ = beside(clip_store, PhotoSettings())
    cut = Cut(start=Decimal("0.2"), end=Decimal("0.7"), poster=Decimal("0.9"))
    film, plain = shown_as(store_, "plain.mp4", EDITED, cut), shown_as(store_, "plain.mp4")
    assert film.name.partition(".")[0] != plain.name.partition(".")[0]
    assert (film.width_px, film.height_px) == (240, 256)
    ffmpeg("-i", str(film.path), str(tmp_path / "frame-%d.png"))
    frames = sorted(tmp_path.glob("frame-*.png"))
    assert len(frames) == 5  # half a second of ten a second
    for path in (*frames, film.poster.renditions[-1].path):
        picture = Image.open(path).convert("RGB")
        # Of the original 320 x 240: 96 to 160 across, 60 to 120 down; cropped 64 to 128; turned 120 to 180, 64 to 128.
        filled = picture.crop((120, 64, 180, 128))
        assert all(108 <= low <= high <= 148 for low, high in filled.getextrema()), path  # type: ignore[misc]
        assert max(high - low for low, high in picture.crop((0, 0, 110, 256)).getextrema()) > 100  # type: ignore[operator]


def test_a_film_that_is_shown_whole_keeps_its_name() -> None:
    """What nothing is said of goes by the same key as ever; anything that is said makes another film, sound apart."""
    recipe = make_recipe(MARKED)
    whole = film_key("a" * 64, Shown(recipe=recipe))
    others = [Shown(recipe=recipe, edits=EDITED), *(Shown(recipe=recipe, cut=one) for one in (Cut(start=Decimal(1)),))]
    assert len({whole, *(film_key("a" * 64, one) for one in others)}) == 3
    assert [Clip(name="", src_uri="", edits=one.edits, cut=one.cut).hides for one in others] == [True, True]
    assert not Clip(name="", src_uri="", edits=Edits(turn=PictureTurn.HALF), cut=Cut(poster=Decimal(1))).hides


def test_a_cut_that_keeps_nothing_shows_nothing(clip_store: ClipStore, monkeypatch: pytest.MonkeyPatch) -> None:
    """`from` behind the end is told without making anything, and the film is not shown whole instead."""
    monkeypatch.setattr(store, "encode_film", None)
    film = shown_as(clip_store, "plain.mp4", cut=Cut(start=Decimal(9)))
    assert (film.path, film.trouble) == (None, "it has ended before 9 s, where `from` is")


@pytest.mark.parametrize(
    ("cut", "moment"),
    [
        (WHOLE, "1"),
        (Cut(start=Decimal(4)), "5"),
        (Cut(poster=Decimal(7)), "7"),
        (Cut(start=Decimal(4), end=Decimal(6), poster=Decimal(1)), "4"),
        (Cut(start=Decimal(4), end=Decimal(6), poster=Decimal(9)), "5.8"),
        (Cut(poster=Decimal(99)), "9.8"),
    ],
)
def test_the_poster_shows_no_moment_that_is_cut_away(cut: Cut, moment: str) -> None:
    """Of ten seconds: the moment that is told, or the nearest that is kept."""
    assert poster_moment(cut, 10) == Decimal(moment)


@pytest.mark.parametrize(
    ("head", "container"),
    [
        (b"\0\0\0\x14ftypisom", Container.BOXES),
        (b"\x1a\x45\xdf\xa3\x93\x42\x82\x88matroska", Container.MATROSKA),
        ((b"G" + bytes(187)) * 4, Container.TRANSPORT),
        ((bytes(4) + b"G" + bytes(187)) * 4, Container.TRANSPORT),
        (b"\0\0\x01\xba\x44", Container.PROGRAM),
        (b"RIFF\0\0\0\0AVI LIST", Container.AVI),
        (bytes.fromhex("3026b2758e66cf11a6d900aa0062ce6c"), Container.ASF),
        (b"RIFF\0\0\0\0WAVEfmt ", None),
        (b"G" * 600, Container.TRANSPORT),
        (b"#EXTM3U\n", None),
        (b"ffconcat version 1.0\n", None),
        (b"", None),
    ],
)
def test_containers_are_told_by_content(head: bytes, container: Container | None) -> None:
    """The first bytes decide which reader ffmpeg is given; lists of other files are never read."""
    assert sniff_container(io.BytesIO(head)) is container


def test_what_ffmpeg_says_of_damage_becomes_seconds() -> None:
    """A second for each thirty frames of picture that are hit, begun ones whole; half a second of sound is let pass."""
    picture, sound = "[vist#0:0/h264 @ 0x5] [dec:h264 @ 0x6] corrupt decoded frame", "[aist#0:1/aac @ 0x5] "
    lost = sound + "[dec:aac @ 0x6] Error submitting packet to decoder: Invalid data found when processing input"
    assert seconds_hit([picture, "[h264 @ 0x5] something else"]) == 1
    assert seconds_hit([picture] * 31) == 2
    assert seconds_hit([lost] * 20) == 0
    assert seconds_hit([lost] * 50) == 2


FAULTS: dict[str, Callable[[bytes], bytes]] = {
    "whole": lambda data: data,
    "head": lambda data: data[:40],
    "half": lambda data: data[: len(data) // 2],
    "tail": lambda data: data[:-300],
    "middle": lambda data: data[: len(data) * 6 // 10] + Random(5).randbytes(400) + data[len(data) * 6 // 10 + 400 :],
}
KINDS = {
    "a.mp4": "-c:v libx264 -c:a aac -movflags faststart",
    "a.mov": "-c:v libx264 -c:a aac",
    "a.mkv": "-c:v libx264",
    "a.webm": "-c:v libvpx -c:a libvorbis",
    "a.mts": "-c:v libx264 -c:a aac -f mpegts",
    "a.m2ts": "-c:v libx264 -c:a aac -f mpegts -mpegts_m2ts_mode 1",
    "a.avi": "",
    "a.mpg": "-r 25",
    "a.wmv": "",
    "a.3gp": "-s 352x288 -c:v h263 -ar 8000 -ac 1 -c:a aac",
}


@pytest.mark.slow
@pytest.mark.parametrize("name", KINDS)
def test_every_container_with_every_fault(tmp_path: Path, name: str) -> None:
    """Whole ones are shown, with the length they have; each fault costs one named film or is told, and no other."""
    source = "-f lavfi -i testsrc2=size=320x240:rate=10:duration=4 -f lavfi -i sine=duration=4 -g 10 -pix_fmt yuv420p"
    ffmpeg(*source.split(), *KINDS[name].split(), str(tmp_path / name))
    data, folder = (tmp_path / name).read_bytes(), tmp_path / "content/entries/a"
    folder.mkdir(parents=True)
    films = {}
    clip_store = ClipStore(tmp_path, tmp_path / ".journal/clips", MARKED)
    for fault, harm in FAULTS.items():
        (folder / f"{fault}-{name}").write_bytes(harm(data))
        films[fault] = rendered(clip_store, f"{fault}-{name}")
    whole = films.pop("whole")
    assert (whole.trouble, whole.seconds, whole.seconds_amiss) == ("", 4, 0)
    assert films["head"].trouble
    # Streams of packets end anywhere, and tell their length by their last one.
    half = films["half"]
    assert half.trouble or half.seconds_amiss or name in ("a.mts", "a.m2ts", "a.mpg", "a.wmv")
    for film in films.values():
        assert film.trouble == "" or film.path is None
    if name in ("a.mp4", "a.mkv", "a.avi", "a.mpg", "a.3gp"):  # in the others the sound is hit, or what VP8 conceals
        assert films["middle"].seconds_amiss == 1


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="bounds are set where the system lets one")
def test_a_program_that_runs_on_is_stopped(tmp_path: Path) -> None:
    """By processor time, so that a machine that is busy with other things costs no film."""
    endless = ["-f", "lavfi", "-i", "testsrc2=size=1920x1080", "-f", "null", "-"]
    with pytest.raises(FilmError, match="takes more time"):
        run_ffmpeg(tmp_path, endless, processor_s=1)


PLAYLIST = b"#EXTM3U\n#EXTINF:10,\nfile:///etc/passwd\n#EXT-X-ENDLIST\n"


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("empty.mp4", b"", "cannot be read"),
        ("list.mp4", PLAYLIST, "not a short film"),
        ("text.mov", b"ffconcat version 1.0\nfile /etc/hostname\n", "not a short film"),
        ("picture.mov", b"\xff\xd8\xff\xe0" + bytes(100), "not a short film"),
        ("boxes.mp4", b"\x00\x00\x00\x14ftypisom\0\0\0\0isom" + b"\x00\x00\x00\x10moov" + bytes(8), "not a short film"),
        ("cut.mp4", b"\x00\x00\x00\x14ftypisom\0\0\0\0isom" + b"\x7f\xff\xff\xffmoov" + bytes(8), "cut short"),
    ],
)
def test_what_is_no_film_is_told_in_plain_words(clip_store: ClipStore, name: str, data: bytes, words: str) -> None:
    """Files that only pretend, playlists that would open other files among them, end in a reason."""
    (clip_store._root / "content/entries/a" / name).write_bytes(data)
    made = rendered(clip_store, name)
    assert made.path is None
    assert words in made.trouble or (name == "empty.mp4" and "empty" in made.trouble)


def test_a_film_with_its_data_damaged_is_told_and_not_tried_again(
    clip_store: ClipStore, originals: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Boxes that look right around rubbish: the reason is kept, so that every later build is quick."""
    monkeypatch.setattr(store, "encode_film", None)
    data = bytearray((originals / "plain.mp4").read_bytes())
    at = data.index(b"stsd")
    data[at + 4 : at + 120] = bytes(116)
    (clip_store._root / "content/entries/a/bad.mp4").write_bytes(data)
    time.sleep(0.15)  # a file that was written this moment is not remembered
    made = rendered(clip_store, "bad.mp4")
    assert "damaged" in made.trouble
    monkeypatch.setattr(store, "clip_facts", None)
    monkeypatch.setattr(store, "_undecodable", None)
    assert rendered(clip_store, "bad.mp4") == made


def test_without_the_program_the_reason_is_told(clip_store: ClipStore, monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine for which the wheel has no ffmpeg still builds its site, without films."""
    monkeypatch.setattr("journal.media.clips.program.find_ffmpeg", lambda: None)
    made = rendered(clip_store, "plain.mp4")
    assert "not installed" in made.trouble


def test_uncleanliness_names_everything_that_is_too_much(originals: Path) -> None:
    """The check finds title, place and time in originals; it is the one that guards what is published."""
    for name in ("plain.mp4", "turned.mov"):
        with (originals / name).open("rb") as source:
            said = " ".join(uncleanliness(source))
        assert "metadata (moov/udta" in said
    with (originals / "plain.mp4").open("rb") as source:
        assert any("a time of recording" in one for one in uncleanliness(source))
    assert uncleanliness(io.BytesIO(b"\x00\x00\x00\x0bfreeabc")) == ("words in an empty box (free)",)
    assert uncleanliness(io.BytesIO(b"\x00\x00\x00\x0cuuidabcd")) == ("metadata (uuid)",)


@given(st.binary(max_size=300), st.binary(min_size=4, max_size=4))
def test_no_file_makes_the_reader_of_boxes_stumble(data: bytes, kind: bytes) -> None:
    """Whatever the bytes, facts come back, and a walk ends or says where it breaks off."""
    for whole in (data, b"\x00\x00\x00\x14ftypisom\0\0\0\0isom" + data, b"\x00\x00\x00\xffmoov" + kind + data):
        read_clip_facts(io.BytesIO(whole))
        uncleanliness(io.BytesIO(whole))
        with contextlib.suppress(BoxError):
            assert all(box.start <= box.end <= len(whole) for box in walk_boxes(io.BytesIO(whole)))


def test_an_entry_over_its_budget_is_a_finding() -> None:
    """The limit of build.yml and the weight are both named; what cannot be shown is told by name."""
    clips = tuple(Clip(name=f"{name}.mov", src_uri=f"content/entries/a/{name}.mov") for name in "xyz")
    of = Entry(
        id="a", src_uri="content/entries/a/index.md", date=date(2026, 2, 7), title="A", assembly="flaps", clips=clips
    )
    films = {
        clips[0].src_uri: Film(bytes=30_000_000),
        clips[1].src_uri: Film(bytes=20_000_001),
        clips[2].src_uri: Film(trouble="the film is cut short"),
    }
    heavy, unreadable = check_films([of], films, 50_000_000)
    assert (heavy.word, heavy.message) == (
        "clips-heavy",
        "the films of this entry weigh 51 MB on the site, 50 MB are allowed",
    )
    assert (unreadable.word, '"z.mov" cannot be shown: the film is cut short') == (
        "clip-unreadable",
        unreadable.message,
    )
    assert [one.word for one in check_films([of], films, 60_000_000)] == ["clip-unreadable"]


def test_another_copy_of_a_film_that_is_cut_does_not_show_what_is_cut_away(make_build: MakeBuild) -> None:
    """It is private unless something is said of it; the still beside it shows what it shows."""
    names = ("x.mov", "x (1).mov", "x.mp4", "y.mov")
    root = make_build(
        {
            "entries/a/index.md": entry("photos:\n  x.mov: {from: 2}\n"),
            **{f"entries/a/{name}": b"film" for name in names},
        }
    )
    clips = read(root)[0].entries[0].clips
    assert {clip.name for clip in clips if clip.private} == {"x (1).mov", "x.mp4"}


def test_captions_and_privacy_of_clips_are_read_like_those_of_photos(make_build: MakeBuild) -> None:
    """A clip may be named under `photos` or placed in the text; private there means private."""
    root = make_build(
        {
            "entries/a/index.md": entry(
                "photos:\n  x.mov: {caption: Squeezing, private: true}",
                "![Drilling](y.mp4)\n\n!!! private\n\n    ![Cursing](z.mov)\n",
            ),
            **{f"entries/a/{name}": b"film" for name in ("x.mov", "y.mp4", "z.mov")},
        }
    )
    build, problems = read(root)
    assert problems == ()
    clips = build.entries[0].clips
    assert [(clip.name, clip.caption, clip.private_caption, clip.private) for clip in clips] == [
        ("x.mov", "Squeezing", "", True),
        ("y.mp4", "Drilling", "", False),
        ("z.mov", "", "Cursing", True),
    ]
