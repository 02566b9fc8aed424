"""`journal enter`: an evening's photos become an entry, whole or not at all, with nothing claimed for the builder."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
import unicodedata
import zipfile
from datetime import date
from hashlib import sha256
from pathlib import Path

import pytest
from cameras import clip_bytes, photo_bytes, take
from click.testing import CliRunner, Result
from hypothesis import given, settings
from hypothesis import strategies as st
from making import BUILD_YML, STEPS_CSV, MakeBuild, entry, read

from journal.base.model import State
from journal.base.private_passages import find_passages
from journal.base.problems import has_errors
from journal.base.prose_tree import new_markdown, parse_tree
from journal.base.text_files import one_line
from journal.commands.intake import new_entries
from journal.commands.intake.incoming_media import Incoming
from journal.commands.intake.lenient_parsing import plain_markdown
from journal.commands.intake.new_entries import Draft, folder_name, place_names, render_entry
from journal.commands.main import main
from journal.ledger.progress import replay


def run(root: Path, *arguments: object, **options: object) -> Result:
    """`journal enter` in the build folder `root`."""
    return CliRunner().invoke(main, ["enter", "--build", str(root), *map(str, arguments)], **options)  # type: ignore[arg-type]


KNOWN = (".journal/arrivals", ".journal/photos", ".journal/clips", ".journal/entries.pickle")


def tree(folder: Path) -> dict[str, str]:
    """Every file below `folder` with its digest, but for what is remembered of originals and entries."""
    return {
        path.relative_to(folder).as_posix(): sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not path.relative_to(folder).as_posix().startswith(KNOWN)
    }


@pytest.fixture
def phone(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A phone's folder: two days, HEIC and JPEG and a clip, in the folders that phones make."""
    folder = tmp_path_factory.mktemp("phone")
    take(folder / "100X/IMG_0001.jpg", "2026-02-07 18:30:05", offset="+01:00", shade=1)
    take(folder / "100X/IMG_0002.HEIC", "2026-02-07 19:10:00", offset="+01:00", shade=2)
    (folder / "100X/IMG_0003.MOV").write_bytes(clip_bytes(created="2026-02-07T19:45:00+0100"))
    take(folder / "101X/IMG_0010.jpg", "2026-02-08 10:00:00", offset="+01:00", shade=3)
    (folder / "101X/IMG_0010.AAE").write_text("edits")
    return folder


def test_an_evening_becomes_an_entry_and_the_phone_is_not_touched(make_build: MakeBuild, phone: Path) -> None:
    """The day's photos and clip lie in the entry bit for bit; the phone's folder is as it was."""
    root, before = make_build(), tree(phone)
    times = {path: path.stat().st_mtime_ns for path in phone.rglob("*")}
    result = run(root, "--photos", phone, "--day", "2026-02-07", "--assembly", "flaps", "--title", "Two ribs", "--yes")
    assert result.exit_code == 0, result.output
    folder = root / "content/entries/2026-02-07-two-ribs"
    assert {name: digest for name, digest in tree(folder).items() if name != "index.md"} == {
        Path(name).name: digest for name, digest in before.items() if name.startswith("100X")
    }
    assert tree(phone) == before
    assert {path: path.stat().st_mtime_ns for path in phone.rglob("*")} == times
    assert "IMG_0010.AAE" in result.output
    assert "1 more day of photos to write up: 2026-02-08" in result.output


def test_what_is_only_suggested_counts_for_nothing(make_build: MakeBuild, phone: Path) -> None:
    """Time span and next steps are there to be taken over, and until then neither hours nor steps move."""
    root = make_build()
    result = run(root, "--photos", phone, "--day", "2026-02-07", "--assembly", "flaps", "--title", "Ribs", "--yes")
    text = (root / "content/entries/2026-02-07-ribs/index.md").read_text("utf-8")
    assert "\n# hours: 18:30-19:45\n" in text
    assert "\n# steps: [5.1, 5.2, 5.3, 5.4]\n" in text
    assert "# hours: 18:30-19:45" in result.output
    build, problems = read(root)
    assert sorted(problem.word for problem in problems) == ["no-hours", "photo-unreadable", "photo-unreadable"]
    assert build.entries[0].minutes == 0
    assert all(step.state is State.NOT_BEGUN for step in replay(build).steps.values())
    taken = text.replace("# hours:", "hours:").replace("# steps:", "steps:")
    (root / "content/entries/2026-02-07-ribs/index.md").write_text(taken)
    build, problems = read(root)
    assert not has_errors(problems)
    assert build.entries[0].minutes == 2 * 75
    assert build.entries[0].steps == ("5.1", "5.2", "5.3", "5.4")


def test_people_place_and_tools_are_those_of_the_last_time(make_build: MakeBuild, phone: Path) -> None:
    """Who worked, where and with what is taken over from the last entry, and shown before it is written."""
    root = make_build(
        {"entries/a/index.md": entry("people: [hanne, ada]\nplace: hangar\ntools: ['#40 drill', \"pliers, long\"]")}
    )
    result = run(root, "--photos", phone, "--day", "2026-02-08", "--yes")
    assert result.exit_code == 0, result.output
    written = read(root)[0].entries[-1]
    assert (written.id, written.assembly) == ("2026-02-08-flaps", "flaps")
    assert (written.people, written.place) == (("hanne", "ada"), "hangar")
    assert written.tools == ("#40 drill", "pliers, long")
    assert 'tools: ["#40 drill", "pliers, long"]' in result.output


def test_steps_that_are_done_are_not_suggested_again(make_build: MakeBuild, phone: Path) -> None:
    """The suggestion begins with the first step of the assembly that is not done; one under way says so."""
    root = make_build({"entries/a/index.md": entry("steps: [5.1]\nbegun: [5.2]")})
    result = run(root, "--photos", phone, "--day", "2026-02-08", "--yes")
    assert "# steps: [5.2, 5.3, 5.4]" in result.output
    assert "5.2  Drill the skeleton (under way)" in result.output


def test_photos_of_the_journal_are_known_by_content_under_any_name(make_build: MakeBuild, phone: Path) -> None:
    """A photo already in an entry, renamed there, is left out; so is a second copy on the phone."""
    known = photo_bytes("2026-02-07 18:30:05", offset="+01:00", shade=1)
    root = make_build(
        {
            "entries/a/index.md": entry("title: A"),
            "entries/a/other-name.jpg": known,
            "entries/a/film.mov": clip_bytes(created="2026-02-07T19:45:00+0100"),
        }
    )
    take(phone / "100X/IMG_0002 (1).HEIC", "2026-02-07 19:10:00", offset="+01:00", shade=2)
    result = run(root, "--photos", phone, "--day", "2026-02-07", "--yes", "--title", "Rest")
    assert "IMG_0001.jpg is entries/a/other-name.jpg" in result.output
    assert "IMG_0003.MOV is entries/a/film.mov" in result.output
    assert "IMG_0002.HEIC is IMG_0002 (1).HEIC" in result.output
    names = set(tree(root / "content/entries/2026-02-07-rest"))
    assert len(names - {"index.md"}) == 1


def test_entries_in_other_forms_keep_their_names_and_photos(make_build: MakeBuild, phone: Path) -> None:
    """Photos of an entry in the folder of a year, and those that a single file names, are known; a picture that lies
    loose is nobody's yet and can be brought in. No new entry gets the name of any of them.
    """
    root = make_build(
        {
            "entries/2026/2026-02-07-flaps/Index.md": entry("title: A"),
            "entries/2026/2026-02-07-flaps/other-name.jpg": photo_bytes(
                "2026-02-07 18:30:05", offset="+01:00", shade=1
            ),
            "entries/2026-02-07-flaps-2.md": entry("title: B", "![the film](film.mov)"),
            "entries/film.mov": clip_bytes(created="2026-02-07T19:45:00+0100"),
            "entries/loose.HEIC": (phone / "100X/IMG_0002.HEIC").read_bytes(),
        }
    )
    result = run(root, "--photos", phone, "--day", "2026-02-07", "--assembly", "flaps", "--yes")
    assert "IMG_0001.jpg is entries/2026/2026-02-07-flaps/other-name.jpg" in result.output
    assert "IMG_0003.MOV is entries/film.mov" in result.output
    assert set(tree(root / "content/entries/2026-02-07-flaps-3")) == {"index.md", "IMG_0002.HEIC"}


def test_a_second_run_has_nothing_to_do(make_build: MakeBuild, phone: Path) -> None:
    """Once every day is written up the command says so, writes nothing and ends well."""
    root = make_build()
    first = run(root, "--photos", phone, "--day", "all", "--assembly", "flaps", "--yes")
    assert first.exit_code == 0, first.output
    before = tree(root)
    again = run(root, "--photos", phone, "--yes")
    assert again.exit_code == 0
    assert "nothing to write up" in again.output
    assert tree(root) == before
    assert sorted(path.name for path in (root / "content/entries").iterdir()) == [
        "2026-02-07-flaps",
        "2026-02-08-flaps",
    ]


def test_a_folder_without_photos_is_told_as_one(make_build: MakeBuild, tmp_path: Path) -> None:
    """Nothing found is something else than nothing new."""
    (tmp_path / "void").mkdir()
    result = run(make_build(), "--photos", tmp_path / "void")
    assert "Found 0 photos.\nThere is no photo or clip; there is nothing to write up." in result.output


def test_names_that_are_one_on_many_disks_are_kept_apart(
    make_build: MakeBuild, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Names that differ only in case or in the form of their accents get a number, and it is said."""
    phone = tmp_path_factory.mktemp("phone")
    name = "Flügel.jpg"
    for number, path in enumerate(
        (
            "a/IMG_1.jpg",
            "b/img_1.JPG",
            f"a/{unicodedata.normalize('NFC', name)}",
            f"b/{unicodedata.normalize('NFD', name)}",
        )
    ):
        take(phone / path, f"2026-02-07 18:0{number}:00", shade=number)
    root = make_build()
    result = run(root, "--photos", phone, "--assembly", "flaps", "--yes")
    assert result.exit_code == 0, result.output
    names = sorted(set(tree(root / "content/entries/2026-02-07-flaps")) - {"index.md"})
    assert len({unicodedata.normalize("NFC", one).casefold() for one in names}) == 4
    assert "img_1.JPG is kept as img_1-2.JPG" in result.output
    assert not has_errors(read(root)[1])


def test_a_clock_never_set_and_no_date_stay_apart_until_asked_for(
    make_build: MakeBuild, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Such pictures belong to no day: they are counted and left, and come along with --with-undated."""
    phone = tmp_path_factory.mktemp("phone")
    take(phone / "IMG_1.jpg", "2026-02-07 18:30:00", shade=1)
    take(phone / "IMG_2.jpg", "1980-01-01 00:00:07", shade=2)
    take(phone / "IMG_3.jpg", shade=3)
    root = make_build()
    result = run(root, "--photos", phone, "--assembly", "flaps", "--yes", "--dry-run")
    assert "Camera clock never set: 1 photo, dated 1980-01-01" in result.output
    assert "Without a capture time: 1 photo" in result.output
    assert "IMG_2" not in result.output.split("content/entries/")[1]
    result = run(root, "--photos", phone, "--assembly", "flaps", "--yes", "--with-undated")
    text = (root / "content/entries/2026-02-07-flaps/index.md").read_text("utf-8")
    assert '  IMG_2.jpg: ""    # camera clock never set (1980-01-01 00:00)' in text
    assert '  IMG_3.jpg: ""    # no capture time' in text


@pytest.mark.parametrize("named", [("all",), ("2026-02-07", "2026-02-08"), ("2026-02-08", "2026-02-07")])
def test_a_picture_comes_into_one_entry(
    named: tuple[str, ...], make_build: MakeBuild, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Of several days at once: what is of the night, or of no day, comes along once; all of it comes along."""
    phone = tmp_path_factory.mktemp("phone")
    times = ["2026-02-07 23:30:00", "2026-02-08 00:20:00", "2026-02-08 18:00:00", "1980-01-01 00:00:07", ""]
    for number, taken in enumerate(times):
        take(phone / f"IMG_{number}.jpg", taken or None, shade=number)
    root = make_build()
    days = [word for day in named for word in ("--day", day)]
    run(root, "--photos", phone, "--assembly", "flaps", "--yes", "--with-undated", "--with-night", *days)
    pictures = [path.name for path in root.glob("content/entries/*/*.jpg")]
    assert sorted(pictures) == [f"IMG_{number}.jpg" for number in range(5)]


def test_a_day_whose_pictures_are_all_of_the_night_before_needs_no_entry(
    make_build: MakeBuild, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """They stand in the entry of that evening."""
    phone = tmp_path_factory.mktemp("phone")
    take(phone / "IMG_1.jpg", "2026-02-07 23:30:00", shade=1)
    take(phone / "IMG_2.jpg", "2026-02-08 00:20:00", shade=2)
    root = make_build()
    run(root, "--photos", phone, "--assembly", "flaps", "--yes", "--with-night", "--day", "all")
    assert [path.name for path in root.glob("content/entries/*")] == ["2026-02-07-flaps"]


def test_two_cameras_an_hour_apart_are_shown_side_by_side(
    make_build: MakeBuild, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Each camera keeps its own times, each gives its own suggestion, and the odd hour is pointed out."""
    phone = tmp_path_factory.mktemp("phone")
    for minute in (0, 20, 40):
        take(phone / f"A_{minute}.jpg", f"2026-02-07 18:{minute:02}:00", shade=minute)
        take(
            phone / f"B_{minute}.jpg",
            f"2026-02-07 19:{minute + 2:02}:00",
            camera=("Other", "Compact 2"),
            shade=100 + minute,
        )
    root = make_build()
    result = run(root, "--photos", phone, "--assembly", "flaps", "--yes")
    assert "Example Pocket 5  18:00 to 18:40  3 photos" in result.output
    assert "Other Compact 2   19:02 to 19:42  3 photos" in result.output
    assert "about an hour apart" in result.output
    assert "Nothing is shifted" in result.output
    text = (root / "content/entries/2026-02-07-flaps/index.md").read_text("utf-8")
    assert "# hours: 18:00-18:40" in text
    assert "# hours: 19:02-19:42" in text


def test_a_session_past_midnight_comes_along_only_when_asked(
    make_build: MakeBuild, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Pictures of the small hours are offered; without a word they stay with the day they were taken on."""
    phone = tmp_path_factory.mktemp("phone")
    take(phone / "IMG_1.jpg", "2026-02-07 23:30:00", shade=1)
    take(phone / "IMG_2.jpg", "2026-02-08 00:40:00", shade=2)
    root = make_build()
    result = run(root, "--photos", phone, "--day", "2026-02-07", "--assembly", "flaps", "--yes", "--dry-run")
    assert "1 photo until 00:40 the next morning stay with that day" in result.output
    result = run(root, "--photos", phone, "--day", "2026-02-07", "--assembly", "flaps", "--yes", "--with-night")
    text = (root / "content/entries/2026-02-07-flaps/index.md").read_text("utf-8")
    assert "# hours: 23:30-00:40" in text
    assert '  IMG_2.jpg: ""    # 00:40 the next morning' in text


def test_a_zip_of_a_phone_is_taken_apart(
    make_build: MakeBuild, phone: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """A zip gives the same entry as the folder that went into it; what the zip's maker added is passed over."""
    packed = tmp_path_factory.mktemp("zip") / "evening.zip"
    with zipfile.ZipFile(packed, "w") as out:
        for path in sorted(phone.rglob("*")):
            if path.is_file():
                out.write(path, path.relative_to(phone).as_posix())
        out.writestr("__MACOSX/100X/._IMG_0001.jpg", b"x")
    root = make_build()
    result = run(root, "--photos", packed, "--day", "2026-02-07", "--assembly", "flaps", "--yes")
    assert result.exit_code == 0, result.output
    folder = tree(root / "content/entries/2026-02-07-flaps")
    assert {name: digest for name, digest in folder.items() if name != "index.md"} == tree(phone / "100X")
    assert "._IMG" not in result.output
    assert not [path for path in (root / ".journal").iterdir() if path.name.startswith(".unpacked")]


@pytest.mark.parametrize(
    "name", ["../../evil.jpg", "/tmp/evil.jpg", "a\\..\\..\\evil.jpg", "C:\\evil.jpg", "a/../../evil.jpg"]
)
def test_a_zip_with_a_path_that_climbs_out_is_refused_whole(make_build: MakeBuild, tmp_path: Path, name: str) -> None:
    """Nothing of such a zip is taken, and the path that is to blame is named."""
    packed = tmp_path / "evil.zip"
    with zipfile.ZipFile(packed, "w") as out:
        out.writestr("IMG_1.jpg", photo_bytes("2026-02-07 18:30:00"))
        member = zipfile.ZipInfo("x")
        member.filename = name
        out.writestr(member, photo_bytes("2026-02-07 18:31:00", shade=9))
    root = make_build()
    before = tree(tmp_path)
    result = run(root, "--photos", packed, "--assembly", "flaps", "--yes")
    assert result.exit_code == 2
    assert "leads out of the folder" in result.output
    assert "[error zip-refused]" in result.output
    assert tree(tmp_path) == before


@pytest.mark.parametrize(
    ("offset", "value", "said"),
    [
        (8, 1, "it is locked with a password; unpack it yourself and look"),
        (10, 97, "That compression method is not supported; unpack it with another program"),
        (41, 0xA1, 'it holds the link "IMG_2.jpg" instead of a file; nothing was taken from it'),
    ],
)
def test_a_zip_that_cannot_be_unpacked_here_is_refused(
    make_build: MakeBuild, tmp_path: Path, offset: int, value: int, said: str
) -> None:
    """A password, a method of other programs, a link: nothing is written. Offsets in the directory: APPNOTE 4.3.12."""
    packed = tmp_path / "evening.zip"
    with zipfile.ZipFile(packed, "w") as out:
        for number in (1, 2):
            out.writestr(f"IMG_{number}.jpg", photo_bytes(f"2026-02-07 18:3{number}:00", shade=number))
    data = bytearray(packed.read_bytes())
    data[data.rindex(b"PK\1\2") + offset] = value
    packed.write_bytes(data)
    root = make_build()
    result = run(root, "--photos", packed, "--assembly", "flaps", "--yes")
    assert (result.exit_code, said in result.output) == (2, True), result.output
    assert "[error zip-refused]" in result.output
    assert not (root / "content/entries").exists()


def test_a_damaged_zip_and_a_missing_folder_end_in_a_message(make_build: MakeBuild, tmp_path: Path) -> None:
    """Neither ends in a traceback, both end with code 2 and nothing written."""
    packed = tmp_path / "evening.zip"
    with zipfile.ZipFile(packed, "w") as out:
        out.writestr("IMG_1.jpg", photo_bytes("2026-02-07 18:30:00"))
    data = bytearray(packed.read_bytes())
    data[60:80] = bytes(20)
    packed.write_bytes(data)
    root = make_build()
    result = run(root, "--photos", packed, "--assembly", "flaps", "--yes")
    assert (result.exit_code, "[error zip-damaged]" in result.output) == (2, True), result.output
    result = run(root, "--photos", tmp_path / "nowhere", "--assembly", "flaps", "--yes")
    assert (result.exit_code, "[error file-missing]" in result.output) == (2, True)
    assert not (root / "content/entries").exists()


def test_a_disk_that_fills_up_leaves_nothing_behind(
    make_build: MakeBuild, phone: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When the third file does not fit, no part of the entry remains anywhere, and the message says why."""
    root = make_build()
    real, copied = new_entries.copy_with_sha256, []

    def full(path: Path, target: Path) -> tuple[str, int]:
        if len(copied) == 2:
            target.write_bytes(b"half")
            raise OSError(28, os.strerror(28), str(target))
        copied.append(path)
        return real(path, target)

    monkeypatch.setattr(new_entries, "copy_with_sha256", full)
    before = tree(root)
    result = run(root, "--photos", phone, "--day", "2026-02-07", "--assembly", "flaps", "--yes")
    assert result.exit_code == 3
    assert f"the disk is full ({root}" in result.output
    assert "nothing was written" in result.output
    assert tree(root) == before
    assert list((root / "content/entries").iterdir()) == []


def test_too_little_room_is_said_before_anything_is_copied(
    make_build: MakeBuild, phone: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Free space is looked at first."""
    root = make_build()
    monkeypatch.setattr(new_entries, "free_bytes", lambda folder: 1000)
    result = run(root, "--photos", phone, "--day", "2026-02-07", "--assembly", "flaps", "--yes")
    assert result.exit_code == 3
    assert "Make room and try again" in result.output
    assert not (root / "content/entries").exists()


def test_an_entry_that_is_there_is_never_overwritten(make_build: MakeBuild, phone: Path) -> None:
    """The same day and title twice make two folders."""
    root = make_build({"entries/2026-02-07-Two-Ribs/index.md": entry("title: mine")})
    before = tree(root)
    result = run(root, "--photos", phone, "--day", "2026-02-07", "--assembly", "flaps", "--title", "Two ribs", "--yes")
    assert result.exit_code == 0
    assert (root / "content/entries/2026-02-07-two-ribs-2/index.md").is_file()
    assert tree(root).items() >= before.items()


def test_a_photo_that_changes_while_it_is_copied_stops_everything(
    make_build: MakeBuild, phone: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What lands is what was looked at, or nothing lands."""
    root = make_build()
    monkeypatch.setattr(
        new_entries, "copy_with_sha256", lambda path, target: (target.write_bytes(b"x"), ("0" * 64, 1))[1]
    )
    result = run(root, "--photos", phone, "--day", "2026-02-07", "--assembly", "flaps", "--yes")
    assert result.exit_code == 3
    assert "changed while it was being copied" in result.output
    assert list((root / "content/entries").iterdir()) == []


def test_questions_lead_through_the_evening(make_build: MakeBuild, phone: Path) -> None:
    """Day, assembly, title, people and the last yes are asked in turn; a wrong person is explained."""
    root = make_build()
    answers = ["2", "left", "Spar and ribs", "nobody", "Ada, hanne", "2,5", "2:45", "y"]
    result = run(root, "--photos", phone, "--no-edit", input="\n".join(answers) + "\n")
    assert result.exit_code == 0, result.output
    assert "Sunday 8 February 2026: 1 photo, 10:00" in result.output
    assert 'There is nobody "nobody"' in result.output
    written = read(root)[0].entries[0]
    assert (written.date.isoformat(), written.assembly, written.title) == ("2026-02-07", "left-wing", "Spar and ribs")
    assert (written.people, written.minutes) == (("ada", "hanne"), 330)
    assert "write 2.5 with a point" in result.output


def test_a_no_at_the_end_writes_nothing(make_build: MakeBuild, phone: Path) -> None:
    """The last question is a real one."""
    root = make_build()
    before = tree(root)
    result = run(root, "--photos", phone, "--day", "2026-02-07", input="flaps\nx\n\n\nn\n")
    assert result.exit_code == 0, result.output
    assert "Nothing was written." in result.output
    assert tree(root) == before


def test_the_editor_opens_and_what_was_typed_is_read_at_once(
    make_build: MakeBuild, phone: Path, tmp_path: Path
) -> None:
    """After the editor closes, the entry's problems and figures are shown."""
    root = make_build()
    editor = tmp_path / "editor.py"
    editor.write_text(
        "import sys, pathlib\n"
        "file = pathlib.Path(sys.argv[1])\n"
        "file.write_text(file.read_text().replace('# hours: ', 'hours: ') + 'Ribs 1 to 4.\\n')\n"
    )
    result = run(
        root,
        *("--photos", phone, "--day", "2026-02-07", "--assembly", "flaps", "--title", "Ribs"),
        input="\n\ny\n",
        env={"VISUAL": f"{sys.executable} {editor}"},
    )
    assert result.exit_code == 0, result.output
    assert "Ribs: day 1, 2 h 30 min, 2 photos and 1 clip" in result.output


def test_without_photos_it_is_an_entry_for_today(make_build: MakeBuild, monkeypatch: pytest.MonkeyPatch) -> None:
    """Work without a picture can be written up too; the day is the machine's unless it is given."""
    root = make_build()
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1770480000")  # 2026-02-07T16:00:00Z
    result = run(
        root, "--assembly", "flaps", "--title", "Reading the manual", "--hours", "1:30", "--step", "5.1", "--yes"
    )
    assert result.exit_code == 0, result.output
    written = read(root)[0].entries[0]
    assert (written.id, written.minutes, written.steps) == ("2026-02-07-reading-the-manual", 180, ("5.1",))
    assert read(root)[1] == ()


@pytest.mark.parametrize(
    ("option", "value", "words"),
    [
        ("--assembly", "flapz", 'did you mean "flaps"?'),
        ("--step", "5.11", 'There is no step "5.11"'),
        ("--person", "adda", 'did you mean "ada"?'),
        ("--hours", "3,5", "write 3.5 with a point"),
        ("--day", "7.2.26", "write year-month-day"),
        ("--between", "20:00-18:00", "ends before it begins"),
    ],
)
def test_an_option_that_cannot_be_used_says_what_to_write(
    make_build: MakeBuild, option: str, value: str, words: str
) -> None:
    """Each ends with code 2, the nearest or the right form, and nothing written."""
    root = make_build()
    result = run(root, "--yes", "--assembly", "flaps", option, value)
    assert result.exit_code == 2
    assert words in result.output
    assert not (root / "content/entries").exists()


def test_only_what_was_taken_between_two_times(make_build: MakeBuild, phone: Path) -> None:
    """Two assemblies on an evening are two entries: each takes its part, the second finds the rest."""
    root = make_build()
    run(root, "--photos", phone, "--day", "2026-02-07", "--between", "18:00-19:00", "--assembly", "flaps", "--yes")
    run(root, "--photos", phone, "--day", "7 Feb 2026", "--assembly", "left-wing", "--yes")
    assert set(tree(root / "content/entries/2026-02-07-flaps")) == {"index.md", "IMG_0001.jpg"}
    assert set(tree(root / "content/entries/2026-02-07-left-wing")) == {"index.md", "IMG_0002.HEIC", "IMG_0003.MOV"}


def test_the_moving_part_of_a_still_picture_stays_on_the_phone(make_build: MakeBuild, phone: Path) -> None:
    """A phone keeps three seconds of film beside each still: nobody wants them in the journal unless asked."""
    (phone / "100X/IMG_0002.MOV").write_bytes(clip_bytes(created="2026-02-07T19:10:00+0100", live=True, filler=b"live"))
    root = make_build()
    result = run(root, "--photos", phone, "--day", "2026-02-07", "--assembly", "flaps", "--yes", "--dry-run")
    assert "Moving parts of still pictures, left out: 1" in result.output
    result = run(root, "--photos", phone, "--day", "2026-02-07", "--assembly", "flaps", "--yes", "--live")
    assert "IMG_0002.MOV" in tree(root / "content/entries/2026-02-07-flaps")


def test_container_time_of_a_clip_counts_in_the_zone_of_the_build(make_build: MakeBuild, tmp_path: Path) -> None:
    """MP4 tells UTC: half past eleven at night in London is past midnight in Zurich, and the next day."""
    seconds = 3_853_265_400  # 2026-02-06T23:30:00Z, counted from 1904 (ISO/IEC 14496-12, 8.2.2)
    film = tmp_path / "VID_1.mp4"
    film.write_bytes(clip_bytes(seconds_since_1904=seconds))
    root = make_build()
    result = run(root, "--photos", film, "--assembly", "flaps", "--yes")
    assert "# 00:30, clip" in result.output
    assert (root / "content/entries/2026-02-07-flaps/VID_1.mp4").is_file()


@settings(max_examples=30)
@given(
    st.lists(
        st.one_of(
            st.sampled_from(["IMG_1.jpg", "img_1.JPG", "IMG_1-2.jpg", "con.jpg", "a:b.jpg", "é.jpg", "é.jpg"]),
            st.text(min_size=1),
        ),
        max_size=12,
    )
)
def test_every_arrival_gets_a_name_of_its_own(names: list[str]) -> None:
    """No two names meet on any disk, none leaves the folder, none is hidden, none is index.md."""
    placed = place_names(
        Incoming(path=Path("x"), shown=name, name=name, clip=False, bytes=1, sha256=str(number))
        for number, name in enumerate(names)
    )
    folded = [unicodedata.normalize("NFC", one.name).casefold() for one in placed]
    assert len(set(folded)) == len(names)
    for one in placed:
        assert Path(one.name).name == one.name
        assert not one.name.startswith(".")
        assert one.name != "index.md"


@pytest.mark.slow
@settings(deadline=None)
@given(title=st.text(max_size=40), tool=st.text(max_size=20), name=st.text(max_size=12))
def test_whatever_is_typed_reads_back_as_it_was(
    tmp_path_factory: pytest.TempPathFactory, title: str, tool: str, name: str
) -> None:
    """No title, tool or file name makes front matter that the reader objects to or understands otherwise."""
    root = tmp_path_factory.mktemp("b")
    placed = place_names([Incoming(path=Path("x"), shown="x", name=f"{name}.jpg", clip=False, bytes=1)])
    draft = Draft(
        folder=folder_name(date(2026, 2, 7), title or "x", []),
        date=date(2026, 2, 7),
        assembly="flaps",
        title=one_line(title),
        hours={"": ("1:00",)},
        tools=tuple(filter(None, [one_line(tool)])),
        placed=placed,
    )
    folder = root / "content/entries" / draft.folder
    folder.mkdir(parents=True)
    (root / "content/build.yml").write_text(BUILD_YML)
    (root / "content/steps.csv").write_text(STEPS_CSV)
    (folder / placed[0].name).write_bytes(b"x")
    (folder / "index.md").write_text(render_entry(draft), "utf-8")
    build, problems = read(root)
    assert not has_errors(problems), problems
    if draft.title:
        assert build.entries[0].title == draft.title
    assert build.entries[0].tools == draft.tools


@pytest.mark.slow
def test_killed_at_any_moment_it_leaves_the_entry_whole_or_nothing(
    make_build: MakeBuild, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """SIGKILL at twenty random moments: whatever lies in content/entries is complete, or is not there."""
    phone = tmp_path_factory.mktemp("phone")
    for number in range(30):
        path = take(phone / f"IMG_{number:04}.jpg", f"2026-02-07 18:{number:02}:00", shade=number)
        with path.open("ab") as out:
            out.write(os.urandom(400_000))
    root = make_build()
    wanted = tree(phone)
    command = [sys.executable, "-m", "journal.commands.main", "enter", "--build", str(root), "--photos", str(phone)]
    moments = random.Random(7)
    whole = 0
    for number in range(20):
        started = subprocess.Popen(
            [*command, "--assembly", "flaps", "--title", f"try {number}", "--yes"], stdout=subprocess.DEVNULL
        )
        time.sleep(moments.uniform(0.2, 1.2))
        started.send_signal(signal.SIGKILL)
        started.wait()
        for folder in (root / "content/entries").glob("*") if (root / "content/entries").is_dir() else ():
            found = tree(folder)
            assert found.pop("index.md")
            assert found == wanted
            whole += 1
            for path in folder.iterdir():
                path.unlink()
            folder.rmdir()
    assert not has_errors(read(root)[1])


# -- one line from the desk ------------------------------------------------------------------------


def test_one_line_makes_a_whole_entry(make_build: MakeBuild, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a question or an editor; title and assembly follow from what is told, and the guess is said."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1770480000")  # 2026-02-07T16:00:00Z
    root = make_build({"entries/a/index.md": entry("date: 2026-02-06\npeople: [ada]")})
    result = run(root, "--text", "Deburred ribs 3 to 5. Slow work.", "--step", "7.2", "--hours", "1:15")
    assert result.exit_code == 0, result.output
    assert "Assembly: left-wing (from step 7.2)" in result.output
    assert "people: [ada]" in result.output
    build, problems = read(root)
    written = build.entries[-1]
    assert (written.id, written.title) == ("2026-02-07-deburred-ribs-3-to-5", "Deburred ribs 3 to 5")
    assert (written.assembly, written.steps, written.minutes) == ("left-wing", ("7.2",), 75)
    assert written.body.strip() == "Deburred ribs 3 to 5. Slow work."
    assert problems == ()
    told = run(root, "--text", "-", "--title", "More", input="From a pipe.\nTwo lines.")
    assert "Assembly: left-wing (as last time, 7 February 2026)" in told.output
    assert read(root)[0].entries[-1].body.strip() == "From a pipe.  \nTwo lines."


def test_the_only_assembly_is_never_asked_for(make_build: MakeBuild, phone: Path) -> None:
    """Neither for all days at once nor in questions."""
    root = make_build()
    (root / "content/build.yml").write_text(
        BUILD_YML.replace("  workshop: {title: Workshop, counts: false}\n", "").replace(
            "  left-wing: {title: Left wing, planned_hours: 200}\n", ""
        )
    )
    (root / "content/steps.csv").write_text("\n".join(STEPS_CSV.split("\n")[:5]) + "\n")
    result = run(root, "--photos", phone, "--day", "all", "--yes")
    assert result.exit_code == 0, result.output
    assert result.output.count("Assembly: flaps (the only one)") == 2
    assert run(root, "--no-edit", input="Ribs\n\n1:00\ny\n").exit_code == 0


def test_without_anything_to_go_by_the_assembly_is_asked_for(make_build: MakeBuild) -> None:
    """Several assemblies, no entry and no step: which one must be said."""
    result = run(make_build(), "--text", "Swept the floor")
    assert result.exit_code == 2
    assert "which assembly? Name it with --assembly: workshop, flaps, left-wing" in result.output


@given(
    st.lists(
        st.sampled_from(
            [
                "#40",
                "#",
                "---",
                "===",
                "-",
                "!!!",
                "???",
                "```",
                "[a]: b",
                "[^1]: c",
                "<!--",
                "-->",
                "rib",
                "",
                "> x",
                "1.",
            ]
        ),
        min_size=1,
        max_size=6,
    ),
    st.sampled_from([" ", "\n"]),
)
def test_no_sign_in_the_words_hides_any_of_them(pieces: list[str], between: str) -> None:
    """Whatever stands at the beginning of a line, all words are shown as words, and nothing is private."""
    body = plain_markdown(between.join([*pieces, "end"]))
    passages = find_passages(body)
    assert (passages.public, passages.hidden.strip(), passages.unclear) == (body, "", ())
    tree = parse_tree(new_markdown(), body)
    shown = " ".join(" ".join(tree.itertext()).split())
    for word in ("rib", "40", "end", "b", "c"):
        assert shown.count(word) >= between.join([*pieces, "end"]).count(word)
    assert not [one for one in list(tree.iter())[1:] if one.tag in ("h1", "h2", "h3", "pre", "hr", "div")]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--text", " "), "--text holds no words"),
        (("--text", "x", "--unfinished"), "cannot be given together"),
        (("--notes", "x", "--day", "2026-02-07"), "--notes and --day cannot be given together"),
        (("--day", "all", "--yes"), "--day all means every day of new photos"),
        (("Deburred ribs",), "words of what was done go behind --text"),
        (("--notes", "nowhere.txt"), "there is no file nowhere.txt"),
        (("--text", "x", "--assembly", "flaps", "--hours", "two hours"), '"two hours" is not a time worked'),
    ],
)
def test_options_that_mean_nothing_together_are_told(
    make_build: MakeBuild, arguments: tuple[str, ...], words: str
) -> None:
    """Code 2, and nothing written."""
    root = make_build()
    result = run(root, *arguments)
    assert (result.exit_code, words in result.output) == (2, True), result.output
    assert not (root / "content/entries").exists()


def test_what_the_reader_objects_to_is_not_written(make_build: MakeBuild) -> None:
    """A private passage needs its lines indented; where it is in doubt, nothing is written."""
    root = make_build()
    result = run(root, "--assembly", "flaps", "--text", "!!! private\nthe price")
    assert result.exit_code == 1
    assert "private-empty" in result.output
    assert not list((root / "content").glob("entries/*"))
