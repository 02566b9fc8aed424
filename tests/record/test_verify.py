"""Damage of every kind, found and named; garbage of every kind, survived."""

from __future__ import annotations

import json
import os
import random
import shutil
import unicodedata
import zipfile
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from archiving import (
    ENTRY,
    LOOK,
    OTHER_PHOTO,
    PHOTO,
    SEALS,
    TEXT,
    agree,
    archived,
    bagit_accepts,
    found,
    sealed,
    told,
    tree,
    write_build,
)
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from test_timestamps import Authority, make_authority

from journal.base.digests import file_sha256
from journal.record.chain import Kind, read_chain
from journal.record.damage import DamageKind
from journal.record.timestamps import render_request
from journal.record.verify import Known, Report, _sealed_text, find_archive, verify

SOURCE = "data/source/content"
HEAD = f"{SOURCE}/seals/head.json"


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a build and its archive as `out` and `out.zip`, never written to by a test."""
    folder = tmp_path_factory.mktemp("whole")
    build = write_build(folder / "build")
    (build / f"content/entries/{ENTRY}/Flügel.jpg").write_bytes(b"a wing")
    archived(build, folder / "out")
    archived(build, folder / "out.zip", zipped=True)
    return folder


@pytest.fixture
def bag(whole: Path, tmp_path: Path) -> Path:
    """A copy of the archive to damage."""
    return Path(shutil.copytree(whole / "out", tmp_path / "out"))


def test_a_whole_archive_is_whole(whole: Path) -> None:
    """Nothing is found; the notes say what the seals prove, and what was not checked."""
    for name in ("out", "out.zip"):
        report = verify(whole / name)
        assert report.damage == ()
        assert report.complete
        assert report.files == len(tree(whole / "out/data"))
        assert report.fingerprint == file_sha256(whole / "out/tagmanifest-sha256.txt")[0]
        assert report.notes[0].startswith(
            "The chain of seals holds: 22 lines, the last of 2026-02-10 00:00:00 UTC, head "
        )
        draft = f"{SOURCE.removeprefix('data/source/')}/entries/2026-02-08-draft/index.md"
        assert f"1 text that no seal fixes (drafts are never sealed): {draft}" in report.unchecked


def test_the_json_is_that_of_the_format_document(bag: Path) -> None:
    """`ok`, and `findings` with kind, path and message."""
    (bag / PHOTO).unlink()
    report = verify(bag).as_json()
    assert json.loads(json.dumps(report)) == report
    assert report["ok"] is False
    assert {"kind": "missing", "path": PHOTO, "message": "is listed but not there"} in report["findings"]
    assert all(set(row) == {"kind", "path", "message"} for row in report["findings"])


def flip(path: Path, position: int = 3) -> None:
    """Flip the lowest bit of one byte."""
    data = bytearray(path.read_bytes())
    data[position] ^= 1
    path.write_bytes(bytes(data))


def flip_digit(path: Path) -> None:
    """Flip the lowest bit of the first figure: a digest stays a digest."""
    flip(path, next(number for number, byte in enumerate(path.read_bytes()) if chr(byte) in "0123456789"))


def swap(bag: Path) -> None:
    """Let two photos change places."""
    (bag / PHOTO).rename(bag / "aside")
    (bag / OTHER_PHOTO).rename(bag / PHOTO)
    (bag / "aside").rename(bag / OTHER_PHOTO)


FLUEGEL = f"{SOURCE}/entries/{ENTRY}/Flügel.jpg"
NFD = unicodedata.normalize("NFD", FLUEGEL)

Damage = Callable[[Path], object]


@pytest.mark.parametrize(
    ("damage", "expected"),
    [
        (lambda bag: flip(bag / PHOTO), [("altered", PHOTO), ("sealed-photo", PHOTO)]),
        (lambda bag: flip(bag / TEXT), [("altered", TEXT), ("sealed-text", TEXT)]),
        (lambda bag: flip(bag / "data/pictures/a.jpg"), [("altered", "data/pictures/a.jpg")]),
        (lambda bag: flip(bag / "README.txt"), [("altered", "README.txt")]),
        (lambda bag: flip(bag / "bag-info.txt", -3), [("counts", "data/"), ("altered", "bag-info.txt")]),
        (
            lambda bag: flip(bag / "manifest-sha256.txt", 1),
            [("altered", "data/index.html"), ("altered", "manifest-sha256.txt")],
        ),
        (lambda bag: flip_digit(bag / "tagmanifest-sha256.txt"), [("altered", "README.txt")]),
        (
            lambda bag: (bag / PHOTO).unlink(),
            [("counts", "data/"), ("missing", PHOTO), ("sealed-photo", PHOTO)],
        ),
        (lambda bag: (bag / "README.txt").unlink(), [("missing", "README.txt")]),
        (
            lambda bag: (bag / "manifest-sha256.txt").unlink(),
            [("missing", "manifest-sha256.txt"), ("unlisted", "*")],
        ),
        (
            lambda bag: (bag / "tagmanifest-sha256.txt").unlink(),
            [("missing", "tagmanifest-sha256.txt"), ("unlisted", "*")],
        ),
        (lambda bag: (bag / "bagit.txt").unlink(), [("structure", "bagit.txt"), ("missing", "bagit.txt")]),
        (lambda bag: (bag / "data/extra.txt").write_bytes(b"x"), [("counts", "data/"), ("unlisted", "data/extra.txt")]),
        (lambda bag: (bag / "extra.txt").write_bytes(b"x"), [("unlisted", "extra.txt")]),
        (lambda bag: (bag / "data/link").symlink_to("index.html"), [("structure", "data/link")]),
        (lambda bag: os.mkfifo(bag / "data/pipe"), [("structure", "data/pipe")]),
        (
            lambda bag: (bag / PHOTO).rename((bag / PHOTO).with_name("other.jpg")),
            [("renamed", PHOTO), ("sealed-photo", PHOTO)],
        ),
        (
            lambda bag: (bag / PHOTO).rename((bag / PHOTO).with_name("img_1.JPG")),
            [("letter-case", PHOTO), ("sealed-photo", PHOTO)],
        ),
        (
            lambda bag: (bag / FLUEGEL).rename(bag / NFD),
            [("unicode-form", FLUEGEL)],
        ),
        (swap, [("swapped", PHOTO), ("sealed-photo", PHOTO), ("sealed-photo", OTHER_PHOTO)]),
        (
            lambda bag: shutil.copy(bag / OTHER_PHOTO, bag / PHOTO),
            [("counts", "data/"), ("altered", PHOTO), ("sealed-photo", PHOTO)],
        ),
        (
            lambda bag: (bag / PHOTO).write_bytes((bag / PHOTO).read_bytes()[:-5]),
            [("counts", "data/"), ("cut-short", PHOTO), ("sealed-photo", PHOTO)],
        ),
        (
            lambda bag: (bag / PHOTO).write_bytes(b""),
            [("counts", "data/"), ("cut-short", PHOTO), ("sealed-photo", PHOTO)],
        ),
        (
            lambda bag: (bag / PHOTO).write_bytes((bag / PHOTO).read_bytes() + b"more"),
            [("counts", "data/"), ("altered", PHOTO), ("sealed-photo", PHOTO)],
        ),
        (
            lambda bag: (bag / SEALS).write_bytes((bag / SEALS).read_bytes().replace(b"T00:00:00Z", b"T01:00:00Z", 1)),
            [("altered", SEALS), ("seal-chain", SEALS)],
        ),
    ],
)  # fmt: skip
def test_damage_is_found_and_named(bag: Path, damage: Damage, expected: list[tuple[str, str]]) -> None:
    """Each kind in its place in the fixed order; the bagit program refuses such a bag as well where it can tell."""
    damage(bag)
    kinds = found(bag)
    exact = [pair for pair in expected if pair[1] != "*"]
    if exact == expected:
        assert kinds == expected
    else:
        assert [pair for pair in kinds if pair[0] != "unlisted"] == [p for p in exact if p[0] != "unlisted"]
        assert len(kinds) > len(exact)


def test_all_damage_is_told_in_one_run_and_in_order(bag: Path) -> None:
    """Several kinds at once hide none of each other, and two runs tell the same."""
    flip(bag / PHOTO)
    (bag / OTHER_PHOTO).unlink()
    (bag / "data/zzz.txt").write_bytes(b"z")
    (bag / "data/aaa.txt").write_bytes(b"a")
    (bag / "data/index.html").rename(bag / "data/INDEX.html")
    flip(bag / SEALS, 40)
    kinds = found(bag)
    assert kinds == [
        ("counts", "data/"),
        ("missing", OTHER_PHOTO),
        ("unlisted", "data/aaa.txt"),
        ("unlisted", "data/zzz.txt"),
        ("letter-case", "data/index.html"),
        ("altered", PHOTO),
        ("altered", SEALS),
        ("seal-chain", SEALS),
        ("site", "data/index.html"),
    ]
    order = [kind.value for kind in DamageKind]
    assert [order.index(kind) for kind, _ in kinds] == sorted(order.index(kind) for kind, _ in kinds)
    assert found(bag) == kinds


def test_messages_name_the_other_file(bag: Path) -> None:
    """A swap, a rename and a file in another's place name both; a cut file says how much is gone."""
    swap(bag)
    assert told(verify(bag), PHOTO).startswith(f'has changed places with "{OTHER_PHOTO}"')
    swap(bag)
    (bag / PHOTO).write_bytes((bag / PHOTO).read_bytes()[:-5])
    assert "is cut short: 5 bytes of 17 are gone" in told(verify(bag), PHOTO)
    shutil.copy(bag / OTHER_PHOTO, bag / PHOTO)
    assert f'holds what belongs in "{OTHER_PHOTO}"' in told(verify(bag), PHOTO)
    (bag / PHOTO).unlink()
    (bag / OTHER_PHOTO).rename(bag / "data/moved.jpg")
    assert 'is now called "data/moved.jpg"; its content is as listed' in told(verify(bag), OTHER_PHOTO)
    assert "is listed but not there" in told(verify(bag), PHOTO)


def test_a_renamed_and_changed_file_is_both(bag: Path) -> None:
    """Other letter case and other bytes: told together."""
    (bag / PHOTO).write_bytes(b"other bytes")
    (bag / PHOTO).rename((bag / PHOTO).with_name("img_1.jpg"))
    assert "in other letter case; its content changed too" in told(verify(bag), PHOTO)


def test_a_ring_of_three_is_told_one_by_one(bag: Path) -> None:
    """No two of them changed places, so each says whose content it holds."""
    third = "data/source/content/records/invoice.txt"
    one, two, three = ((bag / path).read_bytes() for path in (PHOTO, OTHER_PHOTO, third))
    for path, data in ((PHOTO, two), (OTHER_PHOTO, three), (third, one)):
        (bag / path).write_bytes(data)
    assert [path for kind, path in found(bag) if kind == "altered"] == sorted([PHOTO, OTHER_PHOTO, third])
    assert f'holds what belongs in "{third}"' in told(verify(bag), OTHER_PHOTO)


def test_a_file_that_cannot_be_read_is_told(bag: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that fails on one file leaves the rest checked."""
    from journal.record import bag as bags

    real = bags.digest_stream

    def failing(source: object, *rest: object) -> tuple[str, int]:
        if getattr(source, "name", "") == str(bag / PHOTO):
            raise OSError(5, "Input/output error")
        return real(source, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(bags, "digest_stream", failing)
    flip(bag / OTHER_PHOTO)
    assert found(bag) == [("unreadable", PHOTO), ("altered", OTHER_PHOTO), ("sealed-photo", OTHER_PHOTO)]


# --- damage by somebody who knows the format ------------------------------------------------------


def test_an_edited_seal_is_found_behind_good_digests(bag: Path) -> None:
    """Lists that agree with an edited chain hide nothing: the chain, its head and bag-info.txt tell."""
    data = (bag / SEALS).read_bytes()
    (bag / SEALS).write_bytes(data.replace(b"T00:00:00Z", b"T01:00:00Z", 1))
    agree(bag)
    assert bagit_accepts(bag)
    assert found(bag) == [("seal-chain", SEALS)]
    (bag / SEALS).write_bytes(b"".join(data.splitlines(keepends=True)[:1]))
    (bag / HEAD).unlink()
    agree(bag)
    assert found(bag) == [("seal-chain", SEALS)]
    assert "lines were cut, or the chain was written anew" in told(verify(bag), SEALS)


def test_a_changed_photo_is_found_behind_good_digests(bag: Path) -> None:
    """The seals name every photo with its digest; one changed, one taken away, a text changed: each is told."""
    flip(bag / PHOTO)
    (bag / OTHER_PHOTO).unlink()
    flip(bag / f"{SOURCE}/inspections/{LOOK}/index.md", -3)
    agree(bag)
    assert bagit_accepts(bag)
    assert found(bag) == [
        ("sealed-text", f"{SOURCE}/inspections/{LOOK}/index.md"),
        ("sealed-photo", PHOTO),
        ("sealed-photo", OTHER_PHOTO),
    ]


def test_parts_left_out_are_found_behind_good_digests(bag: Path) -> None:
    """An archive without binder, site or build file is none, however well its lists agree."""
    (bag / "data/record.pdf").unlink()
    (bag / "data/index.html").unlink()
    (bag / f"{SOURCE}/build.yml").unlink()
    agree(bag)
    assert found(bag) == [
        ("sealed-part", f"{SOURCE}/build.yml"),
        ("site", "data/index.html"),
        ("binder", "data/record.pdf"),
        ("source", f"{SOURCE}/build.yml"),
    ]
    (bag / "data/record.pdf").write_bytes(b"no PDF at all")
    agree(bag)
    assert ("binder", "data/record.pdf") in found(bag)


def test_somebody_elses_bag_is_none_of_ours(bag: Path) -> None:
    """A bag whose bag-info.txt names another maker is told as such."""
    (bag / "bag-info.txt").write_text((bag / "bag-info.txt").read_text().replace("build-journal", "another program"))
    agree(bag)
    assert found(bag) == [("structure", "bag-info.txt")]


@pytest.mark.skipif(shutil.which("openssl") is None, reason="needs the openssl program")
def test_time_stamps_are_checked_in_the_archive(tmp_path: Path) -> None:
    """A stored answer is told with its time; one changed, or about a line not in the chain, is damage."""
    (tmp_path / "authority").mkdir()
    authority: Authority = make_authority(tmp_path / "authority")
    root = write_build(tmp_path / "build")
    sealed(root)
    answers = root / "content/seals"
    (answers / "may.tsr").write_bytes(authority.answer(render_request(read_chain(root).head)))
    (answers / "authority.pem").write_bytes(authority.root)
    archived(root, tmp_path / "out")
    report = verify(tmp_path / "out")
    assert report.ok
    (note,) = [note for note in report.notes if note.startswith("may.tsr")]
    assert "line 22 and all before it existed at" in note
    assert "it leads up to authority.pem, the builder's own" in note
    known = Known(roots={"service.pem": authority.root})
    (note,) = [note for note in verify(tmp_path / "out", known=known).notes if note.startswith("may.tsr")]
    assert "vouched for by your certificate service.pem" in note
    stamp = tmp_path / "out" / SOURCE / "seals/may.tsr"
    stamp.write_bytes(authority.answer(render_request("ab" * 32)))
    agree(tmp_path / "out")
    assert found(tmp_path / "out") == [("time-stamp", f"{SOURCE}/seals/may.tsr")]
    stamp.write_bytes(b"0\x03\x02\x01\x05")
    agree(tmp_path / "out")
    assert found(tmp_path / "out") == [("time-stamp", f"{SOURCE}/seals/may.tsr")]


# --- zips ----------------------------------------------------------------------------------------


def test_damage_in_a_zip_is_found_and_named(whole: Path, tmp_path: Path) -> None:
    """A flipped bit in a photo is that photo's; a member dropped or added by another program is told."""
    data = bytearray((whole / "out.zip").read_bytes())
    data[data.index(b"the first picture") + 4] ^= 1
    (tmp_path / "out.zip").write_bytes(bytes(data))
    assert found(tmp_path / "out.zip") == [("altered", PHOTO), ("sealed-photo", PHOTO)]
    with zipfile.ZipFile(whole / "out.zip") as old, zipfile.ZipFile(tmp_path / "new.zip", "w") as new:
        for info in old.infolist():
            if not info.filename.endswith("IMG_1.jpg"):
                new.writestr(info.filename, old.read(info), zipfile.ZIP_DEFLATED)
        new.writestr("tarn-archive/data/extra.txt", b"x")
        new.writestr("beside.txt", b"x")
    assert found(tmp_path / "new.zip") == [
        ("counts", "data/"),
        ("missing", PHOTO),
        ("unlisted", "beside.txt"),
        ("unlisted", "data/extra.txt"),
        ("sealed-photo", PHOTO),
    ]


def test_a_packed_member_with_a_wrong_checksum_is_unreadable(whole: Path, tmp_path: Path) -> None:
    """What another program packed and the disk then spoilt cannot be unpacked: told, the rest is checked."""
    shutil.make_archive(str(tmp_path / "packed"), "zip", whole / "out")
    with zipfile.ZipFile(tmp_path / "packed.zip") as packed:
        info = packed.getinfo(PHOTO)
        start = info.header_offset + 30 + len(info.filename.encode())
    data = bytearray((tmp_path / "packed.zip").read_bytes())
    data[start + 4] ^= 0x10
    (tmp_path / "packed.zip").write_bytes(bytes(data))
    assert found(tmp_path / "packed.zip") == [("unreadable", PHOTO)]


@pytest.mark.parametrize("cut", [1, 22, 100, 5000])
def test_a_zip_cut_short_is_told(whole: Path, tmp_path: Path, cut: int) -> None:
    """A copy that stopped early is no archive."""
    data = (whole / "out.zip").read_bytes()
    (tmp_path / "out.zip").write_bytes(data[:-cut])
    assert found(tmp_path / "out.zip") != []


def flips_found(path: Path, files: list[Path], count: int, seed: int) -> None:
    """Flip `count` single bits one after the other, anywhere in `files`, and expect each to be found."""
    chooser = random.Random(seed)
    sizes = [file.stat().st_size for file in files]
    for _ in range(count):
        (file,) = chooser.choices(files, weights=sizes)
        data = file.read_bytes()
        bit = chooser.randrange(len(data) * 8)
        flipped = bytearray(data)
        flipped[bit // 8] ^= 1 << bit % 8
        file.write_bytes(bytes(flipped))
        try:
            report = verify(path)
            assert not report.ok, (file.name, bit)
            if path.is_dir():
                name = str(file.relative_to(path))
                # A bit of a list speaks of the file that is listed; all others speak of themselves.
                assert name in {d.path for d in report.damage} or "manifest" in name, (name, bit)
        finally:
            file.write_bytes(data)


@pytest.mark.slow
def test_single_bits_flipped_anywhere_are_found(bag: Path, whole: Path, tmp_path: Path) -> None:
    """A sample of flips in bag and zip, every one found."""
    flips_found(bag, [path for path in bag.rglob("*") if path.is_file()], 60, seed=1)
    packed = tmp_path / "copy.zip"
    shutil.copy(whole / "out.zip", packed)
    flips_found(packed, [packed], 60, seed=2)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(2))
def test_a_thousand_single_bits_flipped_anywhere_are_found(bag: Path, whole: Path, tmp_path: Path, seed: int) -> None:
    """1,000 random flips in the bag and 1,000 in the zip: every one found, and in a bag the file named."""
    flips_found(bag, [path for path in bag.rglob("*") if path.is_file()], 1000, seed)
    packed = tmp_path / "copy.zip"
    shutil.copy(whole / "out.zip", packed)
    flips_found(packed, [packed], 1000, seed)


@pytest.mark.slow
def test_every_bit_of_the_tag_manifest_counts(bag: Path) -> None:
    """Nothing lists the last list, so its form is checked to the bit."""
    path = bag / "tagmanifest-sha256.txt"
    data = path.read_bytes()
    for bit in range(len(data) * 8):
        flipped = bytearray(data)
        flipped[bit // 8] ^= 1 << bit % 8
        path.write_bytes(bytes(flipped))
        assert not verify(bag).ok, bit


# --- garbage -------------------------------------------------------------------------------------


def test_what_is_no_archive_is_told(tmp_path: Path) -> None:
    """An empty folder, somebody's photos, a text, a pipe: one sentence each."""
    (tmp_path / "empty").mkdir()
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos/a.jpg").write_bytes(b"x")
    (tmp_path / "text.zip").write_bytes(b"no zip")
    os.mkfifo(tmp_path / "pipe")
    for name in ("empty", "photos", "text.zip", "pipe"):
        assert found(tmp_path / name) == [("not-an-archive", "")], name
    with pytest.raises(FileNotFoundError):
        verify(tmp_path / "nothing")


def test_the_only_archive_in_a_folder_is_taken(whole: Path, tmp_path: Path) -> None:
    """A stick with one archive on it can be named itself."""
    (tmp_path / "stick").mkdir()
    (tmp_path / "stick/photo.jpg").write_bytes(b"x")
    shutil.copy(whole / "out.zip", tmp_path / "stick/tarn-archive.zip")
    assert verify(tmp_path / "stick").ok


TAG_NAMES = ["bagit.txt", "bag-info.txt", "manifest-sha256.txt", "tagmanifest-sha256.txt", SEALS, HEAD]


def garble(chooser: random.Random, data: bytes) -> bytes:
    """Bytes spoilt in one of several ways."""
    at, to = sorted(chooser.randrange(len(data) + 1) for _ in range(2))
    match chooser.randrange(5):
        case 0:
            return data[:at] + chooser.randbytes(chooser.randrange(1, 40)) + data[at:]
        case 1:
            return data[:at] + data[to + 1 :]
        case 2:
            return data[:at] + bytes(to - at) + data[to:]
        case 3:
            return chooser.randbytes(len(data))
        case _:
            return data[:at] + b"\n" + data[at:to] + data[at:to] + data[to:]


def garbage_is_survived(whole: Path, folder: Path, seeds: range) -> None:
    """Spoil several files of a bag, or a zip, and expect a report with damage."""
    packed = (whole / "out.zip").read_bytes()
    originals = {name: (whole / "out" / name).read_bytes() for name in TAG_NAMES}
    bag = Path(shutil.copytree(whole / "out", folder / "garbage"))
    for seed in seeds:
        chooser = random.Random(seed)
        chosen = chooser.sample(TAG_NAMES, chooser.randrange(1, 4))
        for name in chosen:
            (bag / name).write_bytes(garble(chooser, originals[name]))
        spoilt = any((bag / name).read_bytes() != originals[name] for name in chosen)
        report = verify(bag)
        assert report.ok != spoilt, seed
        json.dumps(report.as_json()).encode()
        for name in chosen:
            (bag / name).write_bytes(originals[name])
        data = garble(chooser, packed)
        (folder / "garbage.zip").write_bytes(data)
        assert verify(folder / "garbage.zip").ok == (data == packed), seed


def test_garbage_is_survived(whole: Path, tmp_path: Path) -> None:
    """A sample of spoilt lists, chains and zips: always a report, never an exception."""
    garbage_is_survived(whole, tmp_path, range(60))


@pytest.mark.slow
def test_a_lot_of_garbage_is_survived(whole: Path, tmp_path: Path) -> None:
    """The same two thousand times."""
    garbage_is_survived(whole, tmp_path, range(1000, 3000))


@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.binary(max_size=300), name=st.sampled_from(TAG_NAMES))
def test_a_tag_file_of_any_bytes_is_survived(bag: Path, name: str, data: bytes) -> None:
    """Whatever one of the files the report rests on holds, there is a report, and it is not good."""
    before = (bag / name).read_bytes()
    (bag / name).write_bytes(data)
    assert not verify(bag).ok
    (bag / name).write_bytes(before)


def test_names_that_are_no_text_are_survived(bag: Path) -> None:
    """A file whose name is not UTF-8 is unlisted, and its name is shown with escapes."""
    Path(os.fsdecode(os.fsencode(bag / "data") + b"/\xff\n.txt")).write_bytes(b"x")
    report = verify(bag)
    assert [(d.kind.value, d.path) for d in report.damage] == [("counts", "data/"), ("unlisted", "data/\\xff\\n.txt")]


# --- word for word -------------------------------------------------------------------------------


def test_the_report_of_a_whole_archive_field_by_field(bag: Path) -> None:
    """Everything in it, in JSON as well."""
    chain = read_chain(bag / "data/source")
    report = verify(bag)
    size = sum(len(data) for data in tree(bag / "data").values())
    notes = (
        f"The chain of seals holds: 22 lines, the last of 2026-02-10 00:00:00 UTC, head {chain.head}.",
        "A chain orders and fixes what was written; the times in it are those of the builder's clock.",
    )
    unchecked = (
        "whether site, binder, tables, README.txt and verify.pyz are what the source gives (journal verify --again "
        "makes them anew)",
        "whether this is the archive that was handed over (--expect, with its fingerprint)",
        "1 text that no seal fixes (drafts are never sealed): content/entries/2026-02-08-draft/index.md",
        "1 other file of the build that no seal fixes: mkdocs.yml",
        "whether the whole chain was written anew (--head, with the digest of a line that was printed, mailed or "
        "time-stamped; whoever holds the files can write another chain)",
        "when the lines were written: no time-stamp is kept, and their times are the builder's",
    )
    fingerprint = file_sha256(bag / "tagmanifest-sha256.txt")[0]
    assert report == Report(
        path=str(bag),
        damage=(),
        notes=notes,
        unchecked=unchecked,
        files=len(tree(bag / "data")),
        bytes=size,
        fingerprint=fingerprint,
        complete=True,
    )
    assert report.as_json() == {
        "ok": True,
        "findings": [],
        "notes": list(notes),
        "not_checked": list(unchecked),
        "archive": str(bag),
        "files": len(tree(bag / "data")),
        "bytes": size,
        "fingerprint": fingerprint,
    }
    (bag / "tagmanifest-sha256.txt").unlink()
    assert verify(bag).as_json()["fingerprint"] is None


def damage_told(bag: Path) -> list[tuple[str, str, str]]:
    """(kind, path, message) of all damage, after the lists were written anew."""
    agree(bag)
    return [(one.kind.value, one.path, one.message) for one in verify(bag).damage]


def test_parts_that_are_missing_word_for_word(bag: Path) -> None:
    """Site, binder, build file, settings."""
    for name in ("data/record.pdf", "data/index.html", f"{SOURCE}/build.yml", "data/source/mkdocs.yml"):
        (bag / name).unlink()
    without = "is not there: without it this is no build"
    assert damage_told(bag) == [
        ("sealed-part", f"{SOURCE}/build.yml", "is sealed part by part and not there"),
        ("site", "data/index.html", "the site is not there"),
        ("binder", "data/record.pdf", "the binder is not there"),
        ("source", f"{SOURCE}/build.yml", without),
        ("source", "data/source/mkdocs.yml", without),
    ]
    for data in (b"", b"%PDF", b"x%PDF-"):
        (bag / "data/record.pdf").write_bytes(data)
        assert ("binder", "data/record.pdf", "is no PDF") in damage_told(bag)
    (bag / "data/record.pdf").write_bytes(b"%PDF-")
    assert not [row for row in damage_told(bag) if row[0] == "binder"]


def test_what_is_sealed_and_otherwise_word_for_word(bag: Path) -> None:
    """Each text and picture with its line; what is not sealed may be what it will."""
    (bag / PHOTO).write_bytes(b"another")
    (bag / OTHER_PHOTO).unlink()
    (bag / TEXT).write_bytes(b"another")
    (bag / f"{SOURCE}/inspections/{LOOK}/index.md").unlink()
    assert damage_told(bag) == [
        ("sealed-text", TEXT, "is not what was sealed in line 1"),
        ("sealed-text", f"{SOURCE}/inspections/{LOOK}/index.md", "is sealed in line 2 and not there"),
        ("sealed-photo", PHOTO, "is not what was sealed in line 1"),
        ("sealed-photo", OTHER_PHOTO, "is sealed in line 1 and not there"),
    ]


def test_a_chain_that_is_cut_or_written_anew_word_for_word(bag: Path) -> None:
    """Held against head.json, and without it against bag-info.txt."""
    lines = (bag / SEALS).read_bytes().splitlines(keepends=True)
    (bag / SEALS).write_bytes(lines[0])
    cut = "lines 2 to 22 were cut off the end of the chain: head.json names line 22 as the last"
    assert damage_told(bag) == [("seal-chain", SEALS, cut)]
    assert verify(bag).notes[0] == "Of the chain of seals only the first 1 line can be relied on."
    (bag / HEAD).unlink()
    told_otherwise = "ends otherwise than bag-info.txt says: lines were cut, or the chain was written anew"
    assert damage_told(bag) == [("seal-chain", SEALS, told_otherwise)]
    unchecked = verify(bag).unchecked
    assert "whether lines were cut from the end of the chain (head.json is not there)" in unchecked
    assert [told for told in unchecked if told.startswith("2 texts that no seal fixes (drafts are never sealed): ")]
    assert [
        told for told in unchecked if told.startswith("19 rows and settings that no seal fixes: build.yml aircraft,")
    ]
    (bag / SEALS).unlink()
    assert damage_told(bag) == [("seal-chain", SEALS, told_otherwise)]
    assert verify(bag).notes == ("Nothing was sealed: the digests show only that the archive is as it was made.",)
    info = (bag / "bag-info.txt").read_text()
    field = next(line for line in info.splitlines() if line.startswith("Journal-Seals-Head"))
    (bag / "bag-info.txt").write_text(info.replace(field, "Journal-Seals-Head: nothing sealed"))
    assert damage_told(bag) == []
    (bag / "bag-info.txt").write_text(info.replace(f"{field}\n", ""))
    assert damage_told(bag) == [("seal-chain", SEALS, told_otherwise)]


def test_an_archive_without_private_things_says_so(tmp_path: Path) -> None:
    """It holds no build, so none is missed, and no seals are held against it."""
    root = write_build(tmp_path / "build")
    archived(root, tmp_path / "out", without_private=True)
    report = verify(tmp_path / "out")
    assert report.damage == ()
    assert not report.complete
    assert report.notes == (
        "This archive was made without private things: it holds no originals and no seals to check.",
    )


@pytest.mark.parametrize(
    ("prepare", "message"),
    [
        (lambda place: place.mkdir(), "this folder holds no archive (no bagit.txt, no data/)"),
        (lambda place: place.write_bytes(b"no zip"), "this is no zip that can be read: "),
        (os.mkfifo, "this is neither a folder nor a file"),
    ],
)
def test_what_is_no_archive_word_for_word(tmp_path: Path, prepare: Callable[[Path], object], message: str) -> None:
    """One damage, of the whole; nothing else is told."""
    place = tmp_path / "place"
    prepare(place)
    report = verify(place)
    (one,) = report.damage
    assert (one.kind, one.path) == (DamageKind.NOT_AN_ARCHIVE, "")
    assert one.message.startswith(message)
    assert (report.notes, report.files, report.bytes, report.fingerprint, report.complete) == ((), 0, 0, "", False)
    assert [*report.tell()][1:] == ["Nothing was verified."]
    assert not report.ok


def test_which_archive_is_meant(whole: Path, tmp_path: Path) -> None:
    """The folder itself, the only one in it, or none of several."""
    for name, folder in (("a", "a/out"), ("b", "b/out.ZIP")):
        (tmp_path / name).mkdir()
        source = whole / ("out" if name == "a" else "out.zip")
        (shutil.copytree if source.is_dir() else shutil.copyfile)(source, tmp_path / folder)
        assert find_archive(tmp_path / name) == tmp_path / folder
        assert verify(tmp_path / name).ok
    assert find_archive(tmp_path / "a/out") == tmp_path / "a/out"
    shutil.copyfile(whole / "out.zip", tmp_path / "a/two.zip")
    assert find_archive(tmp_path / "a") == tmp_path / "a"
    assert verify(tmp_path / "a").damage[0].kind is DamageKind.NOT_AN_ARCHIVE
    (tmp_path / "c/data").mkdir(parents=True)
    (tmp_path / "c/x.zip").write_bytes(b"")
    assert find_archive(tmp_path / "c") == tmp_path / "c"
    with pytest.raises(OSError, match="No such file"):
        verify(tmp_path / "nowhere")


def test_an_archive_set_aside_by_a_run_that_was_stopped_is_looked_at(tmp_path: Path) -> None:
    """Only while nothing lies at its own place, and only where it is one."""
    (tmp_path / ".out.old").mkdir()
    assert find_archive(tmp_path / "out") == tmp_path / "out"
    (tmp_path / ".out.old/bagit.txt").touch()
    assert find_archive(tmp_path / "out") == tmp_path / ".out.old"
    (tmp_path / "out").mkdir()
    assert find_archive(tmp_path / "out") == tmp_path / "out"


@pytest.mark.parametrize(
    ("name", "path"),
    [
        ("2026-02-07-ribs", "2026-02-07-ribs/index.md"),
        ("2026-02-08-skin", "2026-02-08-skin.md"),
        ("2026-02-09-tank", "2026/2026-02-09-tank/text.MD"),
        ("2026-02-10-gone", "2026-02-10-gone/index.md"),
    ],
)
def test_the_text_of_an_entry_is_found_wherever_it_lies(name: str, path: str) -> None:
    """In its folder, as a file of its own, within the folder of a year; one that is gone would lie in its folder."""
    base = "data/source/content/entries/"
    there = ("2026-02-01-a.md", "2026-02-07-ribs/index.md", "2026-02-08-skin.md", "2026/2026-02-09-tank/text.MD")
    bag: Any = SimpleNamespace(files=dict.fromkeys(base + one for one in there))
    assert _sealed_text((Kind.ENTRY, name), bag) == base + path


def test_a_file_beside_a_sealed_text_is_told_apart_from_other_files(whole: Path, tmp_path: Path) -> None:
    """Each kind is counted and named as what no seal fixes; both are put in by somebody who knows the format."""
    bag = Path(shutil.copytree(whole / "out", tmp_path / "out"))
    names = [TEXT.replace("index.md", "extra.txt"), "data/source/content/extra.txt"]
    for name in names:
        (bag / name).write_text("more")
    agree(bag)
    beside, other = (name.removeprefix("data/source/") for name in names)
    told = verify(bag).unchecked
    assert f"1 file beside a sealed text that its line does not name: {beside}" in told
    assert [one for one in told if " of the build that no seal fixes: " in one and other in one and beside not in one]


def test_an_archive_with_a_name_that_is_written_otherwise_in_its_list_is_whole(tmp_path: Path) -> None:
    """The list of names as they are lies beside the others (RFC 8493 writes a percent sign as %25)."""
    root = write_build(tmp_path / "build")
    (root / "content/records/50% paid.txt").write_text("Half of it.")
    archived(root, tmp_path / "out")
    assert (tmp_path / "out/names-as-they-are-sha256.txt").is_file()
    assert found(tmp_path / "out") == []
