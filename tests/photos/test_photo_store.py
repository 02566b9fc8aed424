"""The store: what is read again, what is made again, and what the cache survives."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import threading
import time
import unicodedata
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from hashlib import sha256
from pathlib import Path

import pillow_heif
import pytest
from making import slow
from picturing import GREEN, RED, camera_exif, encoded, quartered
from PIL import Image

import journal.media.photos.rendition
import journal.media.photos.store
import journal.media.photos.work
from journal.base.model import Corner, PhotoSettings
from journal.media.photos import PhotoStore, Picture, PictureJob
from journal.media.photos.decode import freely
from journal.media.photos.work import Examine, Render

PLAIN = PhotoSettings()


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A build folder with one photo that was not written just now."""
    write(tmp_path, "content/a.jpg", encoded(quartered(700, 500), "JPEG", exif=camera_exif()))
    return tmp_path


def write(root: Path, src_uri: str, data: bytes) -> Path:
    """An original of some age: a fresh one is not trusted to stay as it is, see `test_a_fresh_file…`."""
    path = root / src_uri
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    time.sleep(0.12)
    return path


def store(root: Path) -> PhotoStore:
    """A store as a new build opens it."""
    return PhotoStore(root, cache(root))


def cache(root: Path) -> Path:
    """Where its cache is."""
    return root / ".journal" / "photos"


def job(root: Path, src_uri: str = "content/a.jpg", **more: object) -> PictureJob:
    """A job for the original as it is now."""
    digest = sha256((root / src_uri).read_bytes()).hexdigest()
    plain = PictureJob(src_uri=src_uri, sha256=digest, caption="", credit="", settings=PLAIN)
    return replace(plain, **more)  # type: ignore[arg-type]


def render_one(root: Path, wanted: PictureJob | None = None) -> Picture:
    """One picture, by a store of its own."""
    wanted = wanted or job(root)
    return store(root).render([wanted])[wanted]


def files(folder: Path) -> dict[str, bytes]:
    """Names and contents of everything below a folder."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def counted(monkeypatch: pytest.MonkeyPatch, kind: type) -> list[int]:
    """One entry for each time that such work is asked for."""
    asked: list[int] = []
    genuine = journal.media.photos.store.SERVICE.ask

    def counting(work: object) -> object:
        asked.extend([1] * isinstance(work, kind))
        return genuine(work)  # type: ignore[arg-type]

    monkeypatch.setattr(journal.media.photos.store.SERVICE, "ask", counting)
    return asked


@pytest.fixture
def read(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """One entry for each time the facts of a file are read."""
    return counted(monkeypatch, Examine)


@pytest.fixture
def decoded(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """One entry for each time an original is decoded."""
    return counted(monkeypatch, Render)


# -- examining -----------------------------------------------------------------------------------


def test_digest_is_that_of_the_file(root: Path) -> None:
    """The same as any other program computes."""
    found = store(root).examine(["content/a.jpg"])["content/a.jpg"]
    assert found.sha256 == sha256((root / "content/a.jpg").read_bytes()).hexdigest()
    assert found.facts.camera == "Example Pocket 5"


def test_an_unchanged_file_is_not_read_again(root: Path, read: list[int]) -> None:
    """Neither by this store nor by the next build's; the answer is the same to the last field."""
    first = store(root)
    found = first.examine(["content/a.jpg"])
    assert first.examine(["content/a.jpg"]) == found
    assert store(root).examine(["content/a.jpg"]) == found
    assert len(read) == 1


def test_a_changed_file_is_read_again(root: Path, read: list[int]) -> None:
    """Other content, other facts."""
    store(root).examine(["content/a.jpg"])
    write(root, "content/a.jpg", encoded(quartered(300, 200), "JPEG"))
    found = store(root).examine(["content/a.jpg"])["content/a.jpg"]
    assert (found.facts.width, found.facts.camera) == (300, "")
    assert len(read) == 2


def test_a_change_that_keeps_length_and_date_is_noticed(root: Path) -> None:
    """Tools that mend a date put the old time of change back; the file's record still tells."""
    path = root / "content/a.jpg"
    before = store(root).examine(["content/a.jpg"])["content/a.jpg"]
    stat = path.stat()
    changed = path.read_bytes().replace(b"2026:02:07", b"2026:02:08")
    assert len(changed) == stat.st_size
    with path.open("r+b") as file:
        file.write(changed)
    os.utime(path, ns=(stat.st_atime_ns, stat.st_mtime_ns))
    after = store(root).examine(["content/a.jpg"])["content/a.jpg"]
    assert after.sha256 != before.sha256
    assert after.facts.taken is not None
    assert after.facts.taken.day == 8


def test_a_fresh_file_is_not_trusted_to_stay(root: Path, read: list[int]) -> None:
    """What was written a moment before it was read could be written again within the clock's grain."""
    path = root / "content/fresh.jpg"
    path.write_bytes(encoded(quartered(), "JPEG"))
    store(root).examine(["content/fresh.jpg"])
    store(root).examine(["content/fresh.jpg"])
    assert len(read) == 2


def test_facts_of_an_older_program_are_not_believed(
    root: Path, read: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The index carries the version of the code that read the facts."""
    store(root).examine(["content/a.jpg"])
    monkeypatch.setattr(journal.media.photos.store, "_VERSION", ["another"])
    store(root).examine(["content/a.jpg"])
    assert len(read) == 2


@pytest.mark.parametrize(
    "spoil",
    [
        lambda data: b"",
        lambda data: data[: len(data) // 2],
        lambda data: data.replace(b"Example", b"Exemple"),
        lambda data: b"{}",
        lambda data: b"\xff" * 500,
        lambda data: sha256(b"[]").hexdigest().encode() + b"\n[]",
        lambda data: data + b" ",
    ],
)
def test_a_spoilt_index_is_as_good_as_none(root: Path, spoil: Callable[[bytes], bytes], read: list[int]) -> None:
    """A flipped letter is noticed as a missing half is."""
    found = store(root).examine(["content/a.jpg"])
    index = cache(root) / "originals.index"
    index.write_bytes(spoil(index.read_bytes()))
    assert store(root).examine(["content/a.jpg"]) == found
    assert len(read) == 2


def test_what_is_no_file_is_told(root: Path) -> None:
    """Missing, folder, pipe, device, loop, dangling link, impossible name: a sentence each, no crash, no waiting."""
    content = root / "content"
    (content / "folder.jpg").mkdir()
    os.mkfifo(content / "pipe.jpg")
    (content / "loop.jpg").symlink_to("loop.jpg")
    (content / "dangling.jpg").symlink_to("nowhere.jpg")
    (content / "device.jpg").symlink_to("/dev/zero")
    (content / "empty.jpg").write_bytes(b"")
    expected = {
        "content/gone.jpg": "the file is missing",
        "content/a.jpg/below.jpg": "the file is missing",
        "content/" + "x" * 300 + ".jpg": "the file is missing",
        "content/nul\0.jpg": "the file is missing",
        "content/folder.jpg": "this is not a file",
        "content/pipe.jpg": "this is not a file",
        "content/device.jpg": "this is not a file",
        "content/loop.jpg": "the file is a link that leads round in a circle",
        "content/dangling.jpg": "the file is missing",
        "content/empty.jpg": "the file is empty",
    }
    found = store(root).examine(list(expected))
    assert {src_uri: examined.facts.trouble for src_uri, examined in found.items()} == expected
    assert found["content/gone.jpg"].sha256 == ""
    assert found["content/empty.jpg"].sha256 == sha256(b"").hexdigest()
    jobs = [PictureJob(src_uri=u, sha256=found[u].sha256, caption="", credit="", settings=PLAIN) for u in expected]
    assert {one.src_uri: picture.trouble for one, picture in store(root).render(jobs).items()} == expected


def test_a_link_to_a_photo_is_a_photo(root: Path) -> None:
    """Originals may lie elsewhere."""
    (root / "content/link.jpg").symlink_to(root / "content/a.jpg")
    assert store(root).examine(["content/link.jpg"])["content/link.jpg"].facts.trouble == ""


def test_order_and_repeats_of_the_question(root: Path) -> None:
    """Every name asked for is answered, once, in the order of asking."""
    write(root, "content/b.jpg", encoded(quartered(), "PNG"))
    asked = ["content/b.jpg", "content/a.jpg", "content/b.jpg", "content/none.jpg"]
    assert list(store(root).examine(asked)) == ["content/b.jpg", "content/a.jpg", "content/none.jpg"]
    assert store(root).examine([]) == {}


def test_progress_is_told(root: Path) -> None:
    """Up to the number of files that have to be read, and nothing when none has."""
    for number in range(5):
        write(root, f"content/{number}.jpg", encoded(quartered(), "JPEG"))
    told: list[tuple[int, int]] = []
    names = [f"content/{number}.jpg" for number in range(5)]
    store(root).examine(names, lambda done, total: told.append((done, total)))
    assert told == [(number, 5) for number in range(1, 6)]
    told.clear()
    store(root).examine(names, lambda done, total: told.append((done, total)))
    assert told == []


# -- rendering -----------------------------------------------------------------------------------


def test_the_original_is_never_written_to(root: Path) -> None:
    """Content, length and times stay as they were; it works on a file that may not be written."""
    path = root / "content/a.jpg"
    path.chmod(0o400)
    before = (path.read_bytes(), path.stat().st_mtime_ns, path.stat().st_ctime_ns)
    store(root).examine(["content/a.jpg"])
    assert render_one(root).renditions
    assert (path.read_bytes(), path.stat().st_mtime_ns, path.stat().st_ctime_ns) == before
    assert sorted(p.name for p in (root / "content").iterdir()) == ["a.jpg"]


def test_a_picture_is_made_once(root: Path, decoded: list[int]) -> None:
    """For all sizes together, for all builds to come, and for two entries that say the same of it."""
    (root / "content/copy.jpg").write_bytes((root / "content/a.jpg").read_bytes())
    both = [job(root), job(root, "content/copy.jpg")]
    pictures = store(root).render(both)
    assert pictures[both[0]] == pictures[both[1]]
    assert store(root).render(both) == pictures
    assert len(decoded) == 1


@pytest.mark.parametrize(
    "more",
    [
        {"caption": "another"},
        {"credit": "another"},
        {"settings": PhotoSettings(watermark="Tarn")},
        {"settings": PhotoSettings(watermark="Tarn", corner=Corner.UPPER_LEFT)},
        {"settings": PhotoSettings(watermark="Tarn", opacity=Decimal("0.3"))},
    ],
)
def test_another_recipe_is_another_picture(root: Path, more: dict[str, object]) -> None:
    """Whatever shapes the picture changes its name, so nothing stale can be taken for it."""
    others = [
        job(root),
        job(root, settings=PhotoSettings(watermark="Tarn kit")),
        job(root, settings=PhotoSettings(watermark="Tarn", corner=Corner.UPPER_RIGHT)),
    ]
    wanted = job(root, **more)
    pictures = store(root).render([*others, wanted])
    names = {one: {r.name for r in picture.renditions} for one, picture in pictures.items()}
    assert all(names[wanted].isdisjoint(names[other]) for other in others)


def test_a_kept_store_answers_from_memory(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A preview asks again after every save: what was answered before needs no look at the cache."""
    kept, wanted = store(root), job(root)
    first = kept.render([wanted])
    monkeypatch.setattr(journal.media.photos.store, "Shelf", None)
    assert kept.render([wanted]) == first
    assert kept.render([]) == {}


def test_settings_that_change_nothing_make_nothing_again(root: Path, decoded: list[int]) -> None:
    """The corner of no watermark, 0.60 for 0.6, a stray space in a caption."""
    same = [
        [job(root), job(root, settings=PhotoSettings(corner=Corner.UPPER_LEFT, opacity=Decimal("0.2")))],
        [
            job(root, settings=PhotoSettings(watermark="Tarn", opacity=Decimal("0.6"))),
            job(root, settings=PhotoSettings(watermark=" Tarn ", opacity=Decimal("0.60"))),
        ],
        [job(root, caption="on the bench"), job(root, caption=" on  the\nbench ")],
    ]
    for one, other in same:
        pictures = store(root).render([one, other])
        assert pictures[one] == pictures[other]
    assert len(decoded) == len(same)


def test_new_code_is_another_picture(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The version of the rendering is part of the key."""
    before = {r.name for r in render_one(root).renditions}
    monkeypatch.setattr(journal.media.photos.rendition, "RENDITION_VERSION", -1)
    journal.media.photos.rendition._code_version.cache_clear()
    after = {r.name for r in render_one(root).renditions}
    journal.media.photos.rendition._code_version.cache_clear()
    assert before.isdisjoint(after)


def test_four_names_that_look_alike_are_four_pictures(root: Path) -> None:
    """JPEG beside HEIC, another case, another Unicode form: four originals, four outputs."""
    heic = root / "content/Flügel_1.heic"
    pillow_heif.from_pillow(quartered(100, 80)).save(heic, quality=90)
    names = {
        "content/Flügel_1.heic": heic.read_bytes(),
        unicodedata.normalize("NFC", "content/Flügel_1.jpg"): encoded(quartered(96, 64), "JPEG"),
        unicodedata.normalize("NFD", "content/Flügel_1.jpg"): encoded(Image.new("RGB", (96, 64), RED), "JPEG"),
        "content/flügel_1.JPG": encoded(Image.new("RGB", (96, 64), GREEN), "JPEG"),
    }
    assert len(names) == 4
    for name, data in names.items():
        write(root, name, data)
    jobs = [job(root, name) for name in names]
    pictures = store(root).render(jobs)
    published = [rendition.name for picture in pictures.values() for rendition in picture.renditions]
    assert len(published) == len({name.casefold() for name in published}) == 4
    assert len({rendition.path.read_bytes() for p in pictures.values() for rendition in p.renditions}) == 4


def test_a_published_name_tells_nothing(root: Path) -> None:
    """Neither the original's name nor its digest stands in it."""
    for rendition in render_one(root).renditions:
        assert job(root).sha256[:8] not in rendition.name
        assert rendition.name.rpartition("-")[0].strip("0123456789abcdef") == ""


def test_same_input_same_bytes(root: Path) -> None:
    """Two caches filled apart, one of them by another process, are equal to the last bit."""
    wanted = job(root, caption="Ribs", credit="Ada", settings=PhotoSettings(watermark="Tarn · 2026"))
    render_one(root, wanted)
    here = files(cache(root))
    program = (
        "import sys; from pathlib import Path; from journal.base.model import PhotoSettings\n"
        "from journal.media.photos import PhotoStore, PictureJob\n"
        "root = Path(sys.argv[1])\n"
        "job = PictureJob(src_uri='content/a.jpg', sha256=sys.argv[2], caption='Ribs', credit='Ada',"
        " settings=PhotoSettings(watermark='Tarn · 2026'))\n"
        "PhotoStore(root, root / 'elsewhere').render([job])\n"
    )
    environment = os.environ | {"PYTHONHASHSEED": "7", "PYTHONPATH": str(Path(__file__).parents[2]), "TZ": "Asia/Tokyo"}
    subprocess.run([sys.executable, "-c", program, root, wanted.sha256], check=True, env=environment)
    assert files(root / "elsewhere") == here


def test_a_file_that_changed_since_it_was_examined_is_not_rendered(root: Path) -> None:
    """Else the wrong picture would be kept under the old one's key for ever."""
    opened = store(root)
    digest = opened.examine(["content/a.jpg"])["content/a.jpg"].sha256
    old = job(root)
    write(root, "content/a.jpg", encoded(quartered(300, 200), "JPEG"))
    assert old.sha256 == digest
    assert opened.render([old])[old] == Picture(trouble="the file changed while it was being read")
    assert len(render_one(root).renditions) == 1


def test_a_file_that_vanishes_is_told(root: Path) -> None:
    """Between the reading and the rendering."""
    wanted = job(root)
    (root / "content/a.jpg").unlink()
    assert render_one(root, wanted).trouble == "the file is missing"


def test_a_file_written_to_while_it_is_read(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A copy still going on is noticed when reading ends."""
    path = root / "content/a.jpg"
    genuine = journal.media.photos.work.read_facts

    def meddling(*arguments: object) -> object:
        with path.open("ab") as file:
            file.write(b"more")
        return genuine(*arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(journal.media.photos.work, "read_facts", meddling)
    said, _ = Examine(path=path).run(lambda _: None, freely)
    assert said["sha256"] == ""
    assert said["facts"][-1] == "the file changed while it was being read"


def test_a_bad_picture_is_tried_once(root: Path, decoded: list[int]) -> None:
    """Its trouble is remembered as its renditions would be, and mended with the file."""
    whole = encoded(quartered(700, 500), "PNG")
    at = whole.index(b"IDAT") + 40
    write(root, "content/bad.jpg", whole[:at] + b"\0" * 40 + whole[at + 40 :])
    bad = job(root, "content/bad.jpg")
    first = render_one(root, bad)
    assert first == Picture(trouble="the picture is damaged")
    assert render_one(root, bad) == first
    assert len(decoded) == 1
    write(root, "content/bad.jpg", whole)
    assert render_one(root, job(root, "content/bad.jpg")).renditions


def test_one_bad_picture_does_not_stop_the_others(root: Path) -> None:
    """All jobs are answered, and progress reaches the end."""
    for number in range(6):
        data = encoded(quartered(96 + number, 64), "JPEG")
        write(root, f"content/{number}.jpg", data if number % 2 else data[:400])
    jobs = [job(root, f"content/{number}.jpg") for number in range(6)]
    told: list[tuple[int, int]] = []
    pictures = store(root).render(jobs, lambda done, total: told.append((done, total)))
    assert [bool(pictures[one].trouble) for one in jobs] == [True, False] * 3
    assert told[-1] == (6, 6)


# -- the cache -----------------------------------------------------------------------------------


def test_the_cache_may_be_deleted(root: Path) -> None:
    """At any moment, also under an open store."""
    opened = store(root)
    wanted = job(root)
    before = {r.name: r.path.read_bytes() for r in opened.render([wanted])[wanted].renditions}
    shutil.rmtree(cache(root))
    after = opened.render([wanted])[wanted]
    assert {r.name: r.path.read_bytes() for r in after.renditions} == before


@pytest.mark.parametrize(
    "spoil",
    [
        lambda path: path.unlink(),
        lambda path: path.write_bytes(b""),
        lambda path: path.write_bytes(path.read_bytes()[:-1]),
        lambda path: path.write_bytes(path.read_bytes() + b"x"),
        lambda path: path.write_bytes(b"garbage"),
        lambda path: path.is_dir() or (path.unlink(), path.mkdir()),
    ],
)
@pytest.mark.parametrize("which", [0, *slow(1)])
def test_a_spoilt_rendition_is_made_again(root: Path, which: int, spoil: Callable[[Path], object]) -> None:
    """Missing, empty, cut short, too long, something else, not even a file: noticed by a store that
    has just made it and by a new one.
    """
    kept, wanted = store(root), job(root)
    before = kept.render([wanted])[wanted]
    good = [r.path.read_bytes() for r in before.renditions]
    spoil(before.renditions[which].path)
    assert [r.path.read_bytes() for r in kept.render([wanted])[wanted].renditions] == good
    spoil(before.renditions[which].path)
    after = render_one(root)
    assert [r.path.read_bytes() for r in after.renditions] == good
    assert [r.name for r in after.renditions] == [r.name for r in before.renditions]


def test_foreign_files_in_the_cache_do_no_harm(root: Path) -> None:
    """Left by a system or a synchronizing program."""
    before = render_one(root)
    folder = before.renditions[0].path.parent
    key = before.renditions[0].name.partition("-")[0]
    for name in (".DS_Store", f"{key}.jpg", f"{key}.1of2.jpg", f"{key} (copy).jpg", f"{key}.9of9.1x1.0.jpg", "x"):
        (folder / name).write_bytes(b"")
    after = render_one(root)
    assert [r.name for r in after.renditions] == [r.name for r in before.renditions]
    assert all(r.path.stat().st_size == r.bytes for r in after.renditions)


@pytest.mark.parametrize("obstacle", ["file", "file above", "forbidden"])
def test_a_cache_that_cannot_be_written_stops_nothing(root: Path, obstacle: str) -> None:
    """The pictures are made all the same, in a folder that goes when the program ends."""
    place = cache(root)
    if obstacle == "forbidden":
        place = Path("/proc/journal-photos")
    elif obstacle == "file":
        place.parent.mkdir()
        place.write_text("in the way")
    else:
        place.parent.write_text("in the way")
    opened = PhotoStore(root, place)
    found = opened.examine(["content/a.jpg"])["content/a.jpg"]
    wanted = job(root)
    picture = opened.render([wanted])[wanted]
    assert found.sha256 == wanted.sha256
    assert [r.width_px for r in picture.renditions] == [480, 700]
    assert all(r.path.stat().st_size == r.bytes for r in picture.renditions)
    assert opened.render([wanted])[wanted] == picture
    assert opened.prune([]) == 2


@pytest.mark.slow
def test_builds_side_by_side(root: Path) -> None:
    """Four at once on one cache come to the same pictures, and nothing half-made stays."""
    for number in range(8):
        write(root, f"content/{number}.jpg", encoded(quartered(500 + number, 300), "JPEG"))
    jobs = [job(root, f"content/{number}.jpg") for number in range(8)]
    results: list[dict[PictureJob, Picture]] = []

    def build() -> None:
        opened = store(root)
        opened.examine([one.src_uri for one in jobs])
        results.append(opened.render(jobs))

    threads = [threading.Thread(target=build) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(results) == 4
    assert all(result == results[0] for result in results)
    assert all(r.path.stat().st_size == r.bytes for picture in results[0].values() for r in picture.renditions)
    assert not list(cache(root).rglob("*.part"))


def test_prune_takes_what_nothing_uses(root: Path) -> None:
    """Old recipes and old originals go, what is in use stays, and the count is right."""
    write(root, "content/b.jpg", encoded(quartered(96, 64), "JPEG"))
    old = store(root).render([job(root), job(root, "content/b.jpg")])
    opened = store(root)
    wanted = job(root, settings=PhotoSettings(watermark="Tarn"))
    used = opened.render([wanted])[wanted].renditions
    assert opened.prune(used) == sum(len(picture.renditions) for picture in old.values()) == 3
    assert {path.name for path in cache(root).rglob("*.jpg")} == {r.path.name for r in used}
    assert opened.prune(used) == 0
    assert opened.prune([]) == len(used)


def test_prune_forgets_originals_that_are_gone(root: Path) -> None:
    """What nobody asks about any more is not kept in the index."""
    write(root, "content/b.jpg", encoded(quartered(96, 64), "JPEG"))
    store(root).examine(["content/a.jpg", "content/b.jpg"])
    opened = store(root)
    opened.examine(["content/a.jpg"])
    opened.prune([])
    index = (cache(root) / "originals.index").read_bytes()
    assert b"content/a.jpg" in index
    assert b"content/b.jpg" not in index


def test_prune_removes_what_a_stopped_build_left(root: Path) -> None:
    """Half-written files go once they are old; a fresh one may be another build's at work."""
    folder = cache(root) / "renditions" / "00"
    folder.mkdir(parents=True)
    old, fresh = folder / "x.jpg.1-2.part", folder / "y.jpg.1-2.part"
    for path in (old, fresh):
        path.write_bytes(b"half")
    os.utime(old, (time.time() - 7200,) * 2)
    assert store(root).prune([]) == 1
    assert not old.exists()
    assert fresh.exists()


def test_prune_without_a_cache_is_nothing(root: Path) -> None:
    """A first build may prune."""
    assert store(root).prune([]) == 0


def test_renditions_can_be_read_by_a_web_server(root: Path) -> None:
    """They get the rights of any new file of this user, not those of a secret."""
    mask = os.umask(0o022)
    try:
        path = render_one(root).renditions[0].path
    finally:
        os.umask(mask)
    assert path.stat().st_mode & 0o777 == 0o644


@pytest.mark.slow
def test_twenty_thousand_unchanged_photos(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Asked about again, from the index alone: the answers are the same although no file can be read."""
    data = encoded(Image.new("RGB", (8, 8)), "JPEG", exif=camera_exif())
    names = [f"content/entries/{number // 10:04d}/IMG_{number:05d}.jpg" for number in range(20_000)]
    for name in names:
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    time.sleep(0.2)
    first = store(root).examine(names)

    def refuse(*arguments: object, **more: object) -> None:
        raise AssertionError("an unchanged original was read")

    monkeypatch.setattr(journal.media.photos.store.SERVICE, "ask", refuse)
    assert store(root).examine(names) == first
