"""The bag's own files, against RFC 8493, the bagit package and sha256sum."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import bagit
import pytest
from archiving import sha256sum_accepts
from hypothesis import given, settings
from hypothesis import strategies as st

from journal.base.digests import sha256_of
from journal.record.bag import (
    BAGIT_TEXT,
    check_bag,
    decode_path,
    encode_path,
    is_system_file,
    parse_manifest,
    parse_tags,
    render_info,
    render_manifest,
    render_plain_names,
    tag_files,
)
from journal.record.container import FolderBag, is_safe

# The payload of the example bag in RFC 8493, 4.1; the RFC prints no bytes of it, so these are ours.
EXAMPLE = {
    "data/27613-h/images/q172.png": b"\x89PNG\r\n\x1a\n",
    "data/27613-h/images/q172.txt": b"a caption\n",
}


def write_bag(folder: Path, payload: dict[str, bytes], info: list[tuple[str, str]] | None = None) -> Path:
    """A bag with our tag files around `payload`."""
    for name, data in payload.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)
    digests = {name: sha256_of(data) for name, data in payload.items()}
    for name, data in tag_files(
        digests, sum(map(len, payload.values())), info or [], {"README.txt": b"Read me.\n"}
    ).items():
        (folder / name).write_bytes(data)
    return folder


def kinds(folder: Path) -> list[tuple[str, str]]:
    """(kind, path) of everything wrong with the bag in a folder."""
    return [(d.kind.value, d.path) for d in check_bag(FolderBag(folder)).damage]


def test_the_declaration_is_that_of_the_rfc() -> None:
    """RFC 8493, 2.1.1: two lines, version 1.0, UTF-8, no byte-order mark."""
    assert BAGIT_TEXT == b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"


def test_our_bag_is_a_bag_to_the_bagit_package(tmp_path: Path) -> None:
    """The example's payload in our tag files: bagit finds version 1.0, counts, and nothing wrong."""
    folder = write_bag(tmp_path, EXAMPLE, [("Contact-Name", "Ada Bergstrom"), ("Bagging-Date", "2026-05-01")])
    bag = bagit.Bag(str(folder))
    assert bag.version_info == (1, 0)
    assert bag.info["Payload-Oxum"] == f"{sum(map(len, EXAMPLE.values()))}.2"
    assert bag.info["Contact-Name"] == "Ada Bergstrom"
    assert bag.validate()
    assert sha256sum_accepts(folder)
    assert kinds(folder) == []


def test_a_bag_made_by_the_bagit_package_is_a_bag_to_us(tmp_path: Path) -> None:
    """Version 0.97, single blanks in the tag manifest, a second digest list: read as the RFC has it, and told apart
    from what is written here by these alone.
    """
    not_ours = [("manifest", "tagmanifest-sha256.txt"), ("unlisted", "tagmanifest-sha512.txt")]
    for name, data in EXAMPLE.items():
        path = tmp_path / name.removeprefix("data/")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    bagit.make_bag(str(tmp_path), {"Contact-Name": "Ada"}, checksums=["sha256", "sha512"])
    assert kinds(tmp_path) == not_ours
    (tmp_path / "data/27613-h/images/q172.txt").write_bytes(b"A caption\n")
    assert kinds(tmp_path) == [*not_ours, ("altered", "data/27613-h/images/q172.txt")]


def test_paths_are_encoded_as_the_rfc_has_it() -> None:
    """RFC 8493, 2.1.3: CR, LF and percent sign, those and only those."""
    assert encode_path("data/50% a\nb\rc d\\é.jpg") == "data/50%25 a%0Ab%0Dc d\\é.jpg"
    assert decode_path("data/50%25 a%0ab%0dc%20.jpg") == "data/50% a\nb\rc%20.jpg"


@given(st.text(st.characters(exclude_categories=["Cs"]), min_size=1))
def test_decoding_undoes_encoding(path: str) -> None:
    """Whatever the name, it is found again, and its line in a manifest is one line."""
    assert decode_path(encode_path(path)) == path
    assert not {"\r", "\n"} & set(encode_path(path))


names = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0/"), min_size=1, max_size=20).filter(
    lambda name: name not in (".", "..")
)


@given(st.dictionaries(names.map(lambda name: f"data/{name}"), st.binary(max_size=4), max_size=6))
def test_a_manifest_is_read_as_it_was_written(payload: dict[str, bytes]) -> None:
    """Blanks, percent signs, line breaks of every alphabet in names: path and digest come back, nothing is wrong."""
    digests = {name: sha256_of(data) for name, data in payload.items()}
    assert parse_manifest("m", render_manifest(digests)) == (digests, [])


@pytest.mark.parametrize(
    ("line", "told"),
    [
        (b"ab" * 32, "is not a digest and a path"),
        (b"ab" * 31 + b"  data/x", "is not a digest and a path"),
        (b"zz" * 32 + b"  data/x", "is not a digest and a path"),
        (b"ab" * 32 + b"  data/\xff", "is not UTF-8"),
        (b"ab" * 32 + b"  /etc/passwd", "leads out of the bag"),
        (b"ab" * 32 + b"  data/../../x", "leads out of the bag"),
        (b"ab" * 32 + b"  ~/x", "leads out of the bag"),
        (b"ab" * 32 + b"  C:\\x", "leads out of the bag"),
        (b"ab" * 32 + b"  data/%0a/../../x", "leads out of the bag"),
        (b"ab" * 32 + b"  data/a", "a second time"),
    ],
)
def test_a_bad_line_of_a_manifest_is_told_with_its_number(line: bytes, told: str) -> None:
    """The line is damage, the others are read."""
    good = b"ab" * 32 + b"  data/a\n"
    listed, (damage,) = parse_manifest("manifest-sha256.txt", good + line + b"\n" + b"cd" * 32 + b" *./data/b\r\n")
    assert damage.message.startswith("line 2 ")
    assert told in damage.message
    assert listed == {"data/a": "ab" * 32, "data/b": "cd" * 32}


def test_tag_fields_are_one_line_each() -> None:
    """A line break in a value cannot start another field; folded lines of others are put together (RFC 8493, 2.2.2)."""
    data = render_info([("External-Identifier", "Tarn\nPayload-Oxum: 0.0"), ("Bagging-Date", "2026-05-01")])
    assert parse_tags(data) == [
        ("External-Identifier", "Tarn Payload-Oxum: 0.0"),
        ("Bagging-Date", "2026-05-01"),
    ]
    assert parse_tags(b"Label: one\r\n  two\r\nNext: three\n") == [("Label", "one two"), ("Next", "three")]
    assert parse_tags(b"\xff") is None
    assert parse_tags(b"no colon\n") is None


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="needs sha256sum")
def test_odd_names_are_checked_by_the_second_list(tmp_path: Path) -> None:
    """Where the RFC and sha256sum write a name differently, a list as sha256sum writes it lies beside the manifest."""
    odd = {"data/100% done.txt": b"1", "data/two\nlines.txt": b"2", "data/back\\slash.txt": b"3", "data/plain": b"4"}
    folder = write_bag(tmp_path, odd)
    assert kinds(folder) == []
    plain = "names-as-they-are-sha256.txt"
    assert sha256sum_accepts(folder, "tagmanifest-sha256.txt", plain)
    written = subprocess.run(["sha256sum", "--", *sorted(odd)], cwd=folder, capture_output=True, check=True).stdout
    assert (
        written
        == render_plain_names({name: sha256_of(data) for name, data in odd.items()})
        == (folder / plain).read_bytes()
    )
    assert b"data/100%25 done.txt" in (folder / "manifest-sha256.txt").read_bytes()


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="needs sha256sum")
def test_names_that_are_only_foreign_need_no_second_list(tmp_path: Path) -> None:
    """Umlauts in both Unicode forms, blanks, quotes, brackets: all three programs read the one manifest."""
    folder = write_bag(
        tmp_path, {"data/Flügel.jpg": b"1", "data/Flu\u0308gel (2).jpg": b"2", 'data/it\'s "so" #1 & 東.jpg': b"3"}
    )
    assert not (folder / "names-as-they-are-sha256.txt").exists()
    assert kinds(folder) == []
    assert sha256sum_accepts(folder)
    assert bagit.Bag(str(folder)).is_valid()


@pytest.mark.parametrize(
    ("name", "data", "expected"),
    [
        ("bagit.txt", b"\xef\xbb\xbf" + BAGIT_TEXT, "structure"),
        ("bagit.txt", b"BagIt-Version: 1.0\n", "structure"),
        ("bagit.txt", BAGIT_TEXT.replace(b"1.0", b"9.0"), "structure"),
        ("bagit.txt", BAGIT_TEXT.replace(b"UTF-8", b"UTF-7"), "structure"),
        ("fetch.txt", b"https://example.org/x 1 data/x\n", "structure"),
        ("bag-info.txt", b"Payload-Oxum: many\n", "counts"),
        ("bag-info.txt", b"Contact-Name: Ada\n", "counts"),
        ("manifest-sha256.txt", b"", "unlisted"),
    ],
)
def test_tag_files_that_are_wrong_in_themselves(tmp_path: Path, name: str, data: bytes, expected: str) -> None:
    """Each is found even where the tag manifest was written to agree with it."""
    folder = write_bag(tmp_path, EXAMPLE)
    (folder / name).write_bytes(data)
    tags = {p.name: sha256_of(p.read_bytes()) for p in folder.iterdir() if p.is_file() and p.name[:3] != "tag"}
    (folder / "tagmanifest-sha256.txt").write_bytes(render_manifest(tags))
    assert expected in {kind for kind, _ in kinds(folder)}


def test_each_list_holds_only_its_own(tmp_path: Path) -> None:
    """A payload file in the tag manifest, or a tag file in the manifest, is damage of that list."""
    folder = write_bag(tmp_path, EXAMPLE)
    for name in ("manifest-sha256.txt", "tagmanifest-sha256.txt"):
        with (folder / name).open("ab") as file:
            file.write(b"ab" * 32 + (b"  bagit.txt\n" if name[0] == "m" else b"  data/x\n"))
    assert ("manifest", "manifest-sha256.txt") in kinds(folder)
    assert ("manifest", "tagmanifest-sha256.txt") in kinds(folder)


@settings(deadline=None)
@given(names)
def test_safe_paths_stay_inside(name: str) -> None:
    """A path that is safe ends up under the folder it is joined to."""
    for path in (name, f"a/{name}", f"{name}/../x", f"/{name}", f"a/../../{name}"):
        if is_safe(path):
            assert Path("/bag", path).resolve().is_relative_to("/bag")
    assert not is_safe(f"../{name}")
    assert not is_safe(f"/{name}")


def test_what_desktops_leave_is_told_as_such() -> None:
    """Files that a folder view writes are unlisted like any other, with a word on what they are."""
    assert [is_system_file(name) for name in ("data/.DS_Store", "data/a/Thumbs.db", "data/._x.jpg", "data/x")] == [
        True,
        True,
        True,
        False,
    ]
