"""What a bag lies in: zips to the byte, members that are none, folders with links in them.

Form of a zip: APPNOTE.TXT, 4.3; under one folder: RFC 8493, 4.
"""

from __future__ import annotations

import io
import os
import warnings
import zipfile
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from journal.record.bag import read_tag
from journal.record.container import FolderBag, NotAZipError, OpenBag, ZipWriter, _Parts, _top_folder, open_bag

WHEN = datetime(2026, 5, 1, 12, 30, 8, tzinfo=UTC)
HELD = {"bagit.txt": b"BagIt", "data/a.txt": b"first", "data/b.txt": b""}


def write(path: Path, when: datetime = WHEN, top: str = "out/") -> bytes:
    """A zip of HELD and an empty folder."""
    with ZipWriter(path, top, when) as writer:
        for name, data in HELD.items():
            writer.add(name, io.BytesIO(data), len(data))
        writer.add_bytes("data/empty/", b"")
        writer.add_bytes("last.txt", b"last")
    return path.read_bytes()


def held(bag: OpenBag) -> dict[str, bytes | None]:
    """All that a bag gives."""
    return {path: read_tag(bag, path) for path in bag.files}


def test_a_zip_depends_on_its_content_alone(tmp_path: Path) -> None:
    """Nothing packed, one time for all, the marks of a file or folder of a Unix system, and a comment that signs it."""
    data = write(tmp_path / "a.zip")
    assert data == write(tmp_path / "b.zip")
    with zipfile.ZipFile(tmp_path / "a.zip") as read:
        assert [(one.filename, one.external_attr >> 16) for one in read.infolist()] == [
            ("out/bagit.txt", 0o100644),
            ("out/data/a.txt", 0o100644),
            ("out/data/b.txt", 0o100644),
            ("out/data/empty/", 0o040755),
            ("out/last.txt", 0o100644),
        ]
        assert {(one.compress_type, one.create_system, one.date_time) for one in read.infolist()} == {
            (zipfile.ZIP_STORED, 3, (2026, 5, 1, 12, 30, 8))
        }
        assert read.comment.startswith(b"journal archive; headers sha256 ")
        assert b"0" * 64 not in read.comment
    with open_bag(tmp_path / "a.zip") as bag:
        assert held(bag) == {**HELD, "last.txt": b"last"}
        assert (bag.empty_folders, bag.damage) == (["data/empty"], [])
        assert bag.files == {name: len(data) for name, data in (*HELD.items(), ("last.txt", b"last"))}
    write(tmp_path / "old.zip", datetime(1979, 12, 31, 23, 59, 59, tzinfo=UTC), "")
    with zipfile.ZipFile(tmp_path / "old.zip") as read:
        assert {one.date_time for one in read.infolist()} == {(1980, 1, 1, 0, 0, 0)}
    with pytest.raises(FileExistsError):
        ZipWriter(tmp_path / "old.zip", "", WHEN)


def test_a_zip_that_was_not_written_to_its_end_is_not_signed(tmp_path: Path) -> None:
    """Whoever finds the file is told."""
    with suppress(RuntimeError), ZipWriter(tmp_path / "a.zip", "", WHEN) as writer:
        writer.add_bytes("bagit.txt", b"x")
        raise RuntimeError
    assert b"sha256 " + b"0" * 64 in (tmp_path / "a.zip").read_bytes()
    with open_bag(tmp_path / "a.zip") as bag:
        assert [one.message for one in bag.damage] == [CHANGED]


CHANGED = "the zip's own headers were changed (names, sizes, dates, comment)"


def test_every_bit_of_a_zip_counts(tmp_path: Path) -> None:
    """Law: a flipped bit is damage, or no zip any more, or other bytes of a file."""
    path = tmp_path / "a.zip"
    data = write(path)
    for bit in range(0, len(data) * 8, 41):
        flipped = bytearray(data)
        flipped[bit // 8] ^= 1 << bit % 8
        path.write_bytes(flipped)
        with suppress(NotAZipError), open_bag(path) as bag:
            assert bag.damage or held(bag) != {**HELD, "last.txt": b"last"}, bit


def packed(
    path: Path, members: dict[str, bytes], comment: bytes = b"", **attributes: int
) -> list[tuple[str, str, str]]:
    """(kind, path, message) of a zip that another program wrote; `attributes` by the stem of a name."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as made, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        made.comment = comment
        for name, data in members.items():
            info = zipfile.ZipInfo(name.rstrip("*"))
            info.external_attr = attributes.get(Path(name).stem, 0o100644) << 16
            made.writestr(info, data)
    with open_bag(path) as bag:
        assert all(read_tag(bag, name) is not None for name in bag.files)
        assert not any(name.endswith("/") for name in bag.empty_folders)
        return [(one.kind.value, one.path, one.message) for one in bag.damage] + [("", "", name) for name in bag.files]


def test_members_that_are_no_files_of_a_bag(tmp_path: Path) -> None:
    """Beside its folder, out of it, twice, a link: told, and not among its files; folders are no files."""
    members = {"out/bagit.txt": b"x", "beside.txt": b"x", "out/../up.txt": b"x", "out/link.txt": b"a", "out/data/": b""}
    members |= {"out/twice.txt": b"1", "out/twice.txt*": b"2", "out/~/x/": b"", "out/../y/": b""}
    assert packed(tmp_path / "a.zip", members, link=0o120777) == [
        ("unlisted", "beside.txt", "lies beside the bag's own folder in the zip"),
        ("structure", "../up.txt", "is a path that leads out of the archive"),
        ("structure", "link.txt", "is a link; nothing behind it is in the archive"),
        ("structure", "twice.txt", "is in the zip twice"),
        ("", "", "bagit.txt"),
        ("", "", "twice.txt"),
    ]
    with open_bag(tmp_path / "a.zip") as bag:
        assert bag.empty_folders == ["data"]


@pytest.mark.parametrize(
    ("comment", "told"),
    [
        (b"", []),
        (b"x", [("structure", "", CHANGED)]),
        (b"journal archive; headers sha256 " + b"a" * 64, [("structure", "", CHANGED)]),
    ],
)
def test_what_the_comment_of_a_zip_says_must_be_so(tmp_path: Path, comment: bytes, told: list[object]) -> None:
    """Packed anew by another program it has none."""
    assert packed(tmp_path / "a.zip", {"bagit.txt": b"x"}, comment) == [*told, ("", "", "bagit.txt")]


@pytest.mark.parametrize(
    ("names", "top"),
    [
        ([], ""),
        (["a.txt"], ""),
        (["bagit.txt", "out/bagit.txt"], ""),
        (["out/bagit.txt", "a/x", "a/y", "a/z"], "out/"),
        (["b/bagit.txt", "a/bagit.txt"], "a/"),
        (["b/bagit.txt", "b/x", "a/bagit.txt"], "b/"),
        (["a/x", "b/y", "b/c/z", "d"], "b/"),
        (["a/out/bagit.txt"], "a/"),
    ],
)
def test_under_which_folder_of_a_zip_a_bag_lies(names: list[str], top: str) -> None:
    """At its top, else under the one that holds it, or that most lies in; of two the first by name."""
    assert _top_folder([zipfile.ZipInfo(name) for name in names]) == top


def test_what_is_no_zip(tmp_path: Path) -> None:
    """An error of its own; one that cannot be opened at all is an error of the system."""
    for data in (b"", b"x", b"PK\5\6" + b"\0" * 17, write(tmp_path / "a.zip")[:-120]):
        (tmp_path / "b.zip").write_bytes(data)
        with pytest.raises(NotAZipError), open_bag(tmp_path / "b.zip"):
            pass
    with pytest.raises(FileNotFoundError), open_bag(tmp_path / "none.zip"):
        pass
    (tmp_path / "c.zip").write_bytes((tmp_path / "a.zip").read_bytes()[:-1])
    with open_bag(tmp_path / "c.zip") as bag:
        assert [one.message for one in bag.damage] == ["the end of the zip is damaged"]


def test_what_is_no_file_of_a_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Links and pipes, a folder that cannot be opened, a file that cannot be looked at: told, the rest is there."""
    for name in ("a/b", "empty", "shut"):
        (tmp_path / name).mkdir(parents=True)
    (tmp_path / "a/b/c.txt").write_bytes(b"four")
    (tmp_path / "a/link").symlink_to("b")
    os.mkfifo(tmp_path / "pipe")
    real = os.scandir

    def scandir(path: Path) -> object:
        if path == tmp_path / "shut":
            raise PermissionError(13, "Permission denied")
        return real(path)

    monkeypatch.setattr(os, "scandir", scandir)
    with open_bag(tmp_path) as bag:
        assert isinstance(bag, FolderBag)
        assert bag.files == {"a/b/c.txt": 4}
        assert bag.empty_folders == ["empty/"]
        assert sorted((one.kind.value, one.path, one.message) for one in bag.damage) == [
            ("structure", "a/link", "is a link; nothing behind it is in the archive"),
            ("structure", "pipe", "is no ordinary file; nothing behind it is in the archive"),
            ("unreadable", "shut/", "cannot be opened: Permission denied"),
        ]
        assert read_tag(bag, "a/b/c.txt") == b"four"


@settings(max_examples=20, deadline=None)
@given(st.binary(max_size=40), st.lists(st.integers(0, 40), max_size=6), st.integers(1, 9))
def test_stretches_of_a_file_are_read_as_one(data: bytes, cuts: list[int], size: int) -> None:
    """Whatever lies between, empty ones among them, and however little is asked for at once."""
    edges = sorted(cuts)[: len(cuts) // 2 * 2]
    parts = [*zip(edges[::2], edges[1::2], strict=True)]
    source, got, buffer = _Parts(io.BytesIO(data), parts), b"", bytearray(size)
    while count := source.readinto(memoryview(buffer)):
        got += buffer[:count]
    assert got == b"".join(data[start:end] for start, end in parts)
