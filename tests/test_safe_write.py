"""One way to put a file in its place: whole or not at all."""

from __future__ import annotations

import errno
import os
import threading
from pathlib import Path

import jinja2
import pytest

from journal.base.safe_write import (
    copy_whole,
    drop_file,
    in_the_way,
    link_or_copy,
    move_all,
    move_new,
    scratch_of,
    write_new,
    write_whole,
)
from journal.making.host import set_up_environment


def names(folder: Path) -> list[str]:
    """What is in a folder, hidden files included."""
    return sorted(item.name for item in folder.iterdir())


class PowerCut(BaseException):
    """Nobody catches it."""


@pytest.mark.parametrize("cache", [False, True])
@pytest.mark.parametrize("step", ["write", "replace"])
@pytest.mark.parametrize("stopped_by", [PowerCut(), OSError(28, os.strerror(28))])
def test_a_write_that_is_stopped_leaves_what_was_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, cache: bool, step: str, stopped_by: BaseException
) -> None:
    """Full disk or stopped program: the old file is whole, and nothing lies beside it."""
    path = tmp_path / "a.txt"
    path.write_bytes(b"old")

    def stop(*arguments: object, **more: object) -> None:
        raise stopped_by

    with monkeypatch.context() as patch:
        patch.setattr(Path, "replace" if step == "replace" else "open", stop)
        with pytest.raises(type(stopped_by)):
            write_whole(path, b"new", cache=cache)
    assert path.read_bytes() == b"old"
    assert names(tmp_path) == ["a.txt"]
    assert write_whole(path, b"new", cache=cache) == path
    assert path.read_bytes() == b"new"


@pytest.mark.skipif(os.name == "nt", reason="permissions of this kind are not known there")
def test_a_disk_that_is_full_is_told_with_its_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The system names no file where a write fails."""

    def full(_number: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space") as told:
        write_whole(tmp_path / "a", b"1")
    assert told.value.filename == str(tmp_path)
    assert not list(tmp_path.iterdir())


def test_a_site_needs_no_room_for_its_templates(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Compiled ones are kept where there is room, and made each time where there is none."""

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(jinja2.FileSystemBytecodeCache, "dump_bytecode", full)
    made = set_up_environment(jinja2.Environment(loader=jinja2.DictLoader({"a": "{{ 1 + 1 }}"})), tmp_path)
    assert made.get_template("a").render() == "2"


def test_a_file_that_is_replaced_keeps_its_permissions(tmp_path: Path) -> None:
    """A web server that may read the old one may read the new one."""
    path = write_whole(tmp_path / "deep/er/a.txt", b"old")
    path.chmod(0o604)
    write_whole(path, b"new")
    assert path.stat().st_mode & 0o777 == 0o604


def test_what_a_stopped_run_left_is_written_over(tmp_path: Path) -> None:
    """The scratch file of a run that was killed is hidden, and the next write takes it along."""
    path = tmp_path / "a.txt"
    assert scratch_of(path).name.startswith(".")
    scratch_of(path).write_bytes(b"half a li")
    write_whole(path, b"whole")
    assert (path.read_bytes(), names(tmp_path)) == (b"whole", ["a.txt"])


def test_several_may_write_the_same_cached_file(tmp_path: Path) -> None:
    """Every reader finds one of the whole files, never a mixture."""
    path = tmp_path / "a.bin"
    whole = {bytes([number]) * 200_000 for number in range(4)}
    seen = []

    def write(data: bytes) -> None:
        for _ in range(20):
            write_whole(path, data, cache=True)
            seen.append(path.read_bytes() in whole)

    threads = [threading.Thread(target=write, args=(data,)) for data in whole]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (len(seen), all(seen)) == (80, True)
    assert names(tmp_path) == ["a.bin"]


@pytest.mark.parametrize("links", [True, False])
def test_a_new_file_never_takes_the_place_of_another(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, links: bool
) -> None:
    """Not even of a link that leads nowhere, and not on disks without second names for a file."""
    if not links:
        monkeypatch.setattr(os, "link", refuse_links)
    write_new(tmp_path / "new.txt", b"new")
    (tmp_path / "there.txt").write_bytes(b"mine")
    (tmp_path / "nowhere.txt").symlink_to(tmp_path / "gone")
    for name in ("there.txt", "nowhere.txt"):
        with pytest.raises(FileExistsError):
            write_new(tmp_path / name, b"theirs")
    assert (tmp_path / "new.txt").read_bytes() == b"new"
    assert (tmp_path / "there.txt").read_bytes() == b"mine"
    assert names(tmp_path) == ["new.txt", "nowhere.txt", "there.txt"]


def test_a_folder_is_moved_to_a_free_place_alone(tmp_path: Path) -> None:
    """Even an empty folder that is there is left alone; a rename would have taken its place."""
    (tmp_path / "made").mkdir()
    (tmp_path / "made/a.txt").write_bytes(b"a")
    (tmp_path / "there").mkdir()
    with pytest.raises(FileExistsError):
        move_new(tmp_path / "made", tmp_path / "there")
    move_new(tmp_path / "made", tmp_path / "place")
    assert (tmp_path / "place/a.txt").read_bytes() == b"a"
    assert names(tmp_path) == ["place", "there"]


def test_several_come_into_a_folder_or_none(tmp_path: Path) -> None:
    """A name that is taken stops all of them; what is there stays as it was."""
    for name in ("made/a.txt", "made/b/c.txt", "place/d.txt"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(name)
    (tmp_path / "made/d.txt").write_text("other")
    assert in_the_way(tmp_path / "place", ["a.txt", "d.txt"]) == [str(tmp_path / "place/d.txt")]
    with pytest.raises(FileExistsError):
        move_all(tmp_path / "made", tmp_path / "place", ["a.txt", "b", "d.txt"])
    assert names(tmp_path / "place") == ["d.txt"]
    assert (tmp_path / "place/d.txt").read_text() == "place/d.txt"
    (tmp_path / "made/e.txt").write_text("e")
    move_all(tmp_path / "made", tmp_path / "place", ["e.txt"])
    assert names(tmp_path / "place") == ["d.txt", "e.txt"]


def test_a_file_goes_with_the_folders_that_it_leaves_empty(tmp_path: Path) -> None:
    """Folders that hold anything else stay, and so does the one it is all in."""
    for name in ("a/b/c/one.txt", "a/two.txt"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(name)
    drop_file(tmp_path, "a/b/c/one.txt")
    assert names(tmp_path / "a") == ["two.txt"]
    drop_file(tmp_path / "a", "two.txt")
    drop_file(tmp_path / "a", "two.txt")
    assert names(tmp_path) == ["a"]


def test_a_second_name_is_a_copy_where_there_are_no_links(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same bytes either way, in a folder that need not be there yet."""
    source = tmp_path / "a.txt"
    source.write_bytes(b"a")
    link_or_copy(source, tmp_path / "linked.txt")
    assert (tmp_path / "linked.txt").samefile(source)
    link_or_copy(source, tmp_path / "new/folder.txt")
    assert (tmp_path / "new/folder.txt").read_bytes() == b"a"
    monkeypatch.setattr(os, "link", refuse_links)
    link_or_copy(source, str(tmp_path / "copied.txt"))
    copy_whole(source, tmp_path / "linked.txt")
    for name in ("copied.txt", "linked.txt"):
        assert (tmp_path / name).read_bytes() == b"a"
        assert not (tmp_path / name).samefile(source)
    assert names(tmp_path / "new") == ["folder.txt"]


def refuse_links(*arguments: object) -> None:
    """A disk without links."""
    raise OSError(95, os.strerror(95))
