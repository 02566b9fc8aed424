"""The film of a day: what is in it and what is not, told in order, and clean.

Outside checks: ffmpeg reports streams, chapters and captions, and measures loudness by EBU R 128 and ITU-R BS.1770;
ISO/IEC 14496-12 gives the boxes.
"""

from __future__ import annotations

import io
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from functools import partial
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from making import MakeBuild, entry
from PIL import Image

from journal.base.model import Cut, PhotoSettings
from journal.commands import film as command
from journal.commands.main import main
from journal.ledger.journal import open_journal
from journal.making.day_film import DayFilm, plan_day_film, three_letters
from journal.media.boxes import uncleanliness
from journal.media.clips import Joined, join_scenes, lay_over
from journal.media.clips.joined import LOUDNESS, Scene, Stage
from journal.media.clips.program import find_ffmpeg
from journal.media.photos.rendition import make_recipe
from journal.site.film_frames import SHAPES, above_strip, strip_panel
from journal.view.view import Audience, open_view

TODAY = date(2026, 3, 1)
DAY = "2026-02-07-ribs"


def ffmpeg(*words: str) -> str:
    """Run the program that the wheel carries; what it says."""
    program = find_ffmpeg()
    assert program is not None
    done = subprocess.run([program, "-hide_banner", "-nostdin", "-y", *words], capture_output=True, check=False)
    return done.stderr.decode("utf-8", "replace")


@pytest.fixture(scope="session")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two seconds with sound, taken between the two pictures of the build by the time of its container."""
    made = tmp_path_factory.mktemp("clips") / "clip.mp4"
    ffmpeg(
        *("-f", "lavfi", "-i", "testsrc2=size=96x64:rate=25:duration=2"),
        *("-f", "lavfi", "-i", "sine=frequency=440:duration=2,volume=0.05"),
        *("-c:v", "libx264", "-preset", "ultrafast", "-pix_fmt", "yuv420p", "-c:a", "aac"),
        *("-metadata", "creation_time=2026-02-07T17:30:05Z", "-metadata", "location=+47.3769+008.5417/", str(made)),
    )
    return made


def jpeg(taken: str) -> bytes:
    """A picture with a time of capture."""
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0x9003] = taken
    out = io.BytesIO()
    Image.new("RGB", (64, 48), "grey").save(out, "JPEG", exif=exif)
    return out.getvalue()


@pytest.fixture
def root(make_build: MakeBuild, clip: Path) -> Path:
    """An entry with two pictures, two clips, and one private of each; a private entry, a draft, an empty entry."""
    matter = """title: Ribs dimpled
steps: [5.1]
begun: [5.2]
photos:
  IMG_1.jpg: {step: 5.1, caption: "The first rib, and a caption that takes longer to read than any of us would think"}
  IMG_2.jpg: {step: 5.2}
  IMG_3.jpg: {private: true, caption: Bo and his thumb, step: 5.2}
  MOV_1.mp4: {caption: The squeezer, sound: true, from: 0.4, to: 1.6, step: 5.2}
  MOV_2.mp4: {private: true, caption: Cursing}"""
    return make_build(
        {
            f"entries/{DAY}/index.md": entry(matter, "Worked.\n\n!!! private\n    ![Where it hurt](IMG_2.jpg)\n"),
            f"entries/{DAY}/IMG_1.jpg": jpeg("2026:02:07 18:00:00"),
            f"entries/{DAY}/IMG_2.jpg": jpeg("2026:02:07 19:00:00"),
            f"entries/{DAY}/IMG_3.jpg": jpeg("2026:02:07 18:10:00"),
            f"entries/{DAY}/MOV_1.mp4": clip.read_bytes(),
            f"entries/{DAY}/MOV_2.mp4": clip.read_bytes() + b"\0\0\0\x08free",
            f"entries/{DAY}/MOV_3.mp4": clip.read_bytes()[:900],
            "entries/2026-02-08-private/index.md": entry("date: 2026-02-08\ntitle: Money\nprivate: true"),
            "entries/2026-02-09-draft/index.md": entry("date: 2026-02-09\ndraft: true"),
            "entries/2026-02-10-empty/index.md": entry("date: 2026-02-10\ntitle: Nothing to see"),
        }
    )


def planned(root: Path, shape: str = "1080p") -> DayFilm:
    """The film of the day, planned."""
    view = open_view(open_journal(root, TODAY), Audience.PUBLIC)
    return plan_day_film(root, view, next(one for one in view.entries if one.id == DAY), SHAPES[shape])


def run(root: Path, *words: str) -> Result:
    """`journal film`."""
    return CliRunner().invoke(main, ["film", "--build", str(root), *words])


def test_a_film_holds_what_the_public_sees_in_the_order_it_was_taken(root: Path) -> None:
    """Title first; the clip stands between the pictures by its time in UTC; nothing private, nothing broken."""
    film = planned(root)
    told = [(scene.name, scene.chapter, scene.caption) for scene in film.scenes]
    assert told == [
        ("", "Ribs dimpled", ""),
        ("IMG_1.jpg", "5.1 Deburr the ribs", film.scenes[1].caption),
        ("MOV_1.mp4", "5.2 Drill the skeleton", "The squeezer"),
    ]
    assert [scene.seconds for scene in film.scenes[:2]] == [5, Decimal(len(film.scenes[1].caption)) / 15]
    assert [problem.word for problem in film.problems] == ["clip-unreadable"]
    assert '"MOV_3.mp4"' in film.problems[0].message
    said = "".join(scene.name + scene.chapter + scene.caption for scene in film.scenes)
    for private in ("IMG_3", "MOV_2", "thumb", "Cursing", "hurt"):
        assert private not in said


@pytest.mark.parametrize("shape", SHAPES)
def test_pictures_stand_whole_above_the_strip(root: Path, shape: str) -> None:
    """What is shown leaves the panel of the strip free, in every shape."""
    left, top, right, bottom = above_strip(SHAPES[shape])
    assert (left % 2, top % 2, bottom % 2) == (0, 0, 0)
    assert bottom < strip_panel(SHAPES[shape])[1]
    assert (right - left) / (bottom - top) > 0.9


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (["2026-02-08-private"], "is private; a film is public"),
        (["2026-02-09-draft"], "is a draft"),
        (["2026-02-10-empty"], "has no picture or clip that can be shown"),
        ([DAY, "--out", f"content/entries/{DAY}/MOV_1.mp4"], "is there already, and nothing is written over"),
        ([DAY, "--out", "content/build.yml"], "end its name in .mp4"),
        ([DAY, "--lay-over", "content/steps.csv"], "no film was made"),
        ([DAY, "--lay-over", "content/steps.csv", "--shape", "4k"], "keeps its own shape"),
    ],
)
def test_what_has_no_film_says_why(root: Path, monkeypatch: pytest.MonkeyPatch, words: list[str], why: str) -> None:
    """Refused in plain words before anything is made."""
    monkeypatch.chdir(root)
    result = run(root, *words)
    assert result.exit_code in (1, 2)
    assert why in result.output
    assert not (root / "films").exists()


def making(films: list[Path], end: BaseException | None = None) -> Callable[..., Joined]:
    """What stands in for the making of a film, or is stopped in the middle of it."""

    def make(scenes: object, stage: object, folder: Path, on_second: object) -> Joined:
        (folder / "film.mp4").write_bytes(b"film")
        films.append(folder)
        if end:
            raise end
        return Joined(path=folder / "film.mp4", troubles={"MOV_1.mp4": "it breaks off"}, seconds_amiss={"MOV_4.mp4": 2})

    return make


def test_no_film_is_written_over_and_nothing_half_made_stays(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A second film gets a number; one that is stopped or fails leaves nothing; length and weight are told before."""
    folders: list[Path] = []
    taken = root / f"films/{DAY}-square.mp4"
    taken.parent.mkdir()
    taken.write_bytes(b"an earlier film")
    monkeypatch.setattr(command, "join_scenes", making(folders))
    result = run(root, DAY, "--shape", "square")
    assert result.exit_code == 0, result.output
    assert "The film will be about 11 seconds long and weigh about" in result.output
    assert '"MOV_1.mp4" cannot be shown: it breaks off' in result.output
    assert '"MOV_4.mp4" is damaged: 2 seconds of it missing or amiss' in result.output
    monkeypatch.setattr(command, "join_scenes", making(folders, KeyboardInterrupt()))
    assert run(root, DAY, "--shape", "square").exit_code == 1
    assert taken.read_bytes() == b"an earlier film"
    assert sorted(path.name for path in taken.parent.iterdir()) == [f"{DAY}-square-2.mp4", f"{DAY}-square.mp4"]
    assert len(set(folders)) == 2


def test_captions_tell_their_language() -> None:
    """Three letters by ISO 639-2/T, the form that ISO/IEC 14496-12 asks for."""
    told = [three_letters(tag) for tag in ("de", "en-GB", "fr", "nl", "gsw", "", "xx")]
    assert told == ["deu", "eng", "fra", "nld", "gsw", "und", "und"]


STAGE = (192, 128)


def still(colour: str) -> bytes:
    """A frame of one colour."""
    out = io.BytesIO()
    Image.new("RGB", STAGE, colour).save(out, "PNG")
    return out.getvalue()


def small_film(
    clip: Path, folder: Path, *more: Scene, cut: Cut, box: tuple[int, int, int, int], first: int = 1
) -> Path:
    """Title, a picture and a clip, in a frame of stamp size."""
    scenes = [
        Scene(name="", chapter="The; day = 1", seconds=Decimal(first), still=partial(still, "navy")),
        Scene(name="a", chapter="5.1", caption="Rib <1> & 2 {braces}", seconds=Decimal(1), still=partial(still, "red")),
        Scene(name="b", chapter="5.1", caption="Zweite", seconds=Decimal(2), path=clip, cut=cut),
        *more,
    ]
    recipe = make_recipe(PhotoSettings())
    stage = Stage(ground=still("navy"), box=box, recipe=recipe, language="deu")
    folder.mkdir()
    made = join_scenes(scenes, stage, folder, lambda done: None)
    assert made.troubles.keys() == {scene.name for scene in more}
    return made.path


def chapters(said: str) -> list[tuple[str, str, str]]:
    """(start, end, title) of each, as ffmpeg reports them."""
    return re.findall(
        r"Chapter #0:\d+: start ([\d.]+), end ([\d.]+)\s+Metadata:\s+title +: (.*)", said.partition("Output #")[0]
    )


def test_a_film_is_joined_with_chapters_captions_and_even_sound(clip: Path, tmp_path: Path) -> None:
    """What was planned is found, at the very frames, and nothing of the originals; a broken clip costs no other."""
    broken = tmp_path / "broken.mp4"
    broken.write_bytes(clip.read_bytes()[:200])
    lost = Scene(name="broken", chapter="5.2", seconds=Decimal(1), path=broken)
    cut = Cut(start=Decimal("0.4"), end=Decimal("1.6"), sound=True)
    # A hundred seconds: chapters of half as much were lost where the film's clock ran too fine.
    film = small_film(clip, tmp_path / "made", lost, cut=cut, box=(0, 0, 192, 96), first=100)
    said = ffmpeg("-i", str(film), "-map", "0:a", "-af", "ebur128", "-f", "null", "-")
    assert chapters(said) == [("0.000000", "100.000000", "The; day = 1"), ("100.000000", "102.200000", "5.1")]
    assert "Video: h264 (High) (avc1 / 0x31637661), yuv420p(tv, bt709, progressive), 192x128" in said
    assert "(deu): Subtitle: mov_text" in said
    assert float(re.findall(r"I: +(-[\d.]+) LUFS", said)[-1]) == pytest.approx(LOUDNESS, abs=1)
    with film.open("rb") as opened:
        assert uncleanliness(opened, words=True) == ()
        assert any("neither pictures nor sound" in one for one in uncleanliness(opened))
    data = film.read_bytes()
    for secret in (b"47.37", b"2026", b"x264", b"Lavf", b"Lavc"):
        assert secret not in data
    assert b"Rib <1> & 2 (braces)" in data
    captions = tmp_path / "captions.srt"
    ffmpeg("-i", str(film), "-map", "0:s", str(captions))
    cues = captions.read_text("utf-8").split("\n\n")
    assert cues[0] == "1\n00:01:40,000 --> 00:01:41,000\n{\\an8}Rib <1> & 2 (braces)"
    assert cues[1] == "2\n00:01:41,000 --> 00:01:42,200\n{\\an8}Zweite"


def test_a_film_without_sound_has_no_track_of_it(clip: Path, tmp_path: Path) -> None:
    """Sound is left out unless it is asked for; the clip stands in its box and the ground around it."""
    film = small_film(clip, tmp_path / "made", cut=Cut(), box=(48, 16, 144, 80))
    shot = tmp_path / "shot.png"
    said = ffmpeg("-i", str(film), "-ss", "3", "-frames:v", "1", "-update", "1", str(shot))
    assert "Audio" not in said
    assert "Duration: 00:00:04.00" in said
    with Image.open(shot) as frame:
        around = [frame.convert("RGB").getpixel(place) for place in ((20, 60), (96, 100), (96, 6))]
    for colour in around:
        assert colour == pytest.approx((0, 0, 128), abs=6)


def test_a_strip_is_laid_over_a_film_that_keeps_its_sound(clip: Path, tmp_path: Path) -> None:
    """Its own size and length, nothing that it told, and the strip over it."""

    def strip(size: tuple[int, int]) -> bytes:
        image = Image.new("RGBA", size, (0, 0, 0, 0))
        image.paste((255, 0, 0, 255), (0, size[1] // 2, *size))
        out = io.BytesIO()
        image.save(out, "PNG")
        return out.getvalue()

    (tmp_path / "made").mkdir()
    film = lay_over(clip, strip, tmp_path / "made", lambda done: None).path
    shot = tmp_path / "shot.png"
    said = ffmpeg("-i", str(film), "-frames:v", "1", "-update", "1", str(shot))
    assert "96x64" in said
    assert "Audio: aac" in said
    assert "creation_time" not in said
    with Image.open(shot) as frame:
        assert frame.convert("RGB").getpixel((50, 50)) == pytest.approx((255, 0, 0), abs=12)
        assert frame.convert("RGB").getpixel((50, 10)) != pytest.approx((255, 0, 0), abs=60)


@pytest.mark.slow
@pytest.mark.parametrize("shape", SHAPES)
def test_a_whole_film_in_every_shape(root: Path, shape: str) -> None:
    """From a build to a film that ffmpeg reads without a complaint, in the frame that was asked for."""
    result = run(root, DAY, "--shape", shape, "--out", str(root / "film.mp4"))
    assert result.exit_code == 0, result.output
    said = ffmpeg("-i", str(root / "film.mp4"), "-f", "null", "-")
    assert "{}x{}".format(*SHAPES[shape]) in said
    assert [title for _, _, title in chapters(said)] == [
        "Ribs dimpled",
        "5.1 Deburr the ribs",
        "5.2 Drill the skeleton",
    ]
    assert "non monotonically" not in said
    assert "Error" not in said


@pytest.mark.slow
def test_forty_pictures_and_fifteen_clips_of_many_rates(tmp_path: Path) -> None:
    """Every scene is as long as it should be, and no moment of the film comes twice or is missing."""
    scenes = [Scene(name="", chapter="Title", seconds=Decimal(1), still=partial(still, "navy"))]
    rates = (10, 24, 25, 30, 50, 60)
    for number in range(15):
        clip = tmp_path / f"{number}.mp4"
        rate = rates[number % len(rates)]
        ffmpeg("-f", "lavfi", "-i", f"testsrc2=size=96x64:rate={rate}:duration=1", "-pix_fmt", "yuv420p", str(clip))
        scenes.append(Scene(name=str(number), chapter=f"Clip {number}", seconds=Decimal(1), path=clip))
    for number in range(40):
        one = Scene(name=str(number), chapter=f"Still {number}", seconds=Decimal(1), still=partial(still, "red"))
        scenes.append(one)
    recipe = make_recipe(PhotoSettings(watermark="Tarn"))
    stage = Stage(ground=still("navy"), box=(0, 0, 192, 96), recipe=recipe, language="und")
    (tmp_path / "made").mkdir()
    made = join_scenes(scenes, stage, tmp_path / "made", lambda done: None)
    film = made.path
    assert (made.troubles, made.seconds_amiss) == ({}, {})
    told = chapters(ffmpeg("-i", str(film)))
    assert len(told) == 56
    assert all(float(end) - float(start) == pytest.approx(1, abs=0.1) for start, end, _ in told)
    crc = tmp_path / "crc"
    ffmpeg("-i", str(film), "-map", "0:v", "-f", "framecrc", str(crc))
    moments = [int(row.split(",")[2]) for row in crc.read_text().splitlines() if not row.startswith("#")]
    assert moments == list(range(len(moments)))
    assert len(moments) / 30 == pytest.approx(56, abs=0.5)


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="signals")
def test_ctrl_c_in_the_middle_leaves_nothing(root: Path) -> None:
    """The program that encodes is ended with us, and the folder is as it was."""
    words = [sys.executable, "-m", "journal.commands.main", "film", DAY, "--shape", "4k", "--build", str(root)]
    for _ in range(10):  # on a busy machine the film may be done before we are in its middle
        shutil.rmtree(root / "films", ignore_errors=True)
        with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True) as running:
            while not list(root.glob("films/.journal-film-*/*.mp4")) and running.poll() is None:
                time.sleep(0.05)
            running.send_signal(signal.SIGINT)
            running.wait(timeout=60)
        if running.returncode != 0:
            break
    assert running.returncode != 0
    assert list((root / "films").iterdir()) == []
    left = subprocess.run(["pgrep", "-f", str(root)], capture_output=True, text=True, check=False).stdout
    assert left == ""
