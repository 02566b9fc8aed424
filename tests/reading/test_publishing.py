"""content/publishing.yml: what the program writes into it changes that alone."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from journal.base.problems import Problem
from journal.reading.edits import EditRefusedError
from journal.reading.publishing import FILE, NONE, keep_allowed, keep_target, read_publishing
from journal.reading.text import Notes

SERVER = {"sftp": "maren@webspace.example:htdocs", "port": "2222", "host_key": "ssh-ed25519 SHA256:ab+/c", "key": "~/k"}
TARGETS = [
    {"folder": "/media/stick/tarn"},
    {"folder": "C:\\\\site # 1"},
    {"git": "x@y:z.git", "branch": "pages"},
    SERVER,
]
TEXTS = [
    "",
    "# what may be seen\n",
    "allow:\n  Ada: she asked\n",
    "allow:   # by mail\n\n  Ada: she asked  # on Monday\n  # more to come\n\nfolder: /old  # the stick\n# the end",
    "allow: {Ada: she asked}\nsftp: a@b:c\nport: 22\n",
    "---\ngit: old\nallow:\n",
    "Host key: SHA256:x\nsftp: 'a@b:c'\nallow: {}\n",
    "folder: /a\ngit: b\n",
]


def read(root: Path) -> tuple[tuple[frozenset[str], dict[str, str]], list[Problem]]:
    """What the file says, and what is wrong with it."""
    notes = Notes(FILE)
    let_pass, target = read_publishing(root / FILE, notes) if (root / FILE).exists() else NONE
    return (let_pass, dict(target)), list(notes.problems)


def comments(text: str) -> list[str]:
    """What stands behind its signs."""
    bare = re.sub(r"\"[^\"]*\"", "", text)
    return [line.partition("# ")[2].strip() for line in bare.split("\n") if "# " in line]


@pytest.mark.parametrize("text", TEXTS)
@pytest.mark.parametrize("target", TARGETS, ids=["folder", "odd folder", "git", "sftp"])
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_only_the_target_is_otherwise(tmp_path: Path, text: str, target: dict[str, str], newline: str) -> None:
    """What passes and every comment stay; a second time nothing is written."""
    (tmp_path / "content").mkdir()
    (tmp_path / FILE).write_bytes(text.replace("\n", newline).encode())
    (before, _), trouble = read(tmp_path)
    assert keep_target(tmp_path, target)
    after = (tmp_path / FILE).read_bytes().decode()
    assert read(tmp_path) == ((before, target), trouble)
    assert sorted(comments(after)) == sorted(comments(text))
    assert after.count("\r\n") in ((0,) if newline == "\n" or not text else (after.count("\n"),))
    assert not keep_target(tmp_path, target)
    kept = [line for line in text.split("\n") if line.startswith((" ", "allow", "#", "---")) and line]
    assert [line for line in after.replace("\r\n", "\n").split("\n") if line in kept] == kept


@pytest.mark.parametrize("text", TEXTS)
@pytest.mark.parametrize("words", ["Bo Lindqvist", "079 123 45 67", 'say "so": {x}', "Ada"])
def test_only_the_words_are_otherwise(tmp_path: Path, text: str, words: str) -> None:
    """The target and every comment stay."""
    (tmp_path / "content").mkdir()
    (tmp_path / FILE).write_text(text)
    (before, target), _ = read(tmp_path)
    keep_allowed(tmp_path, words, "why: he asked # twice")
    assert read(tmp_path) == ((before | {words}, target), [])
    assert comments((tmp_path / FILE).read_text()) == comments(text)


@given(
    st.sampled_from(TEXTS),
    st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Zl", "Zp"]), max_size=9),
)
@settings(max_examples=25, deadline=None)
def test_whatever_a_folder_is_called_it_is_read_again_or_refused(
    tmp_path_factory: pytest.TempPathFactory, text: str, name: str
) -> None:
    """Law: what is kept reads back; what cannot be kept leaves the file as it is."""
    root = tmp_path_factory.mktemp("b")
    (root / "content").mkdir()
    (root / FILE).write_text(text)
    target = {"folder": f"/x/{name}".rstrip()}
    try:
        keep_target(root, target)
    except EditRefusedError:
        assert (root / FILE).read_text() == text
    else:
        assert read(root)[0][1] == target


@pytest.mark.parametrize(
    "text", ["folder: [a]\n", "{folder: x}\n", "a: 1\n---\nb: 2\n", "folder: |\n  a\n  # no\n", "x\n", "\xff"]
)
def test_a_file_in_no_usual_form_is_left(tmp_path: Path, text: str) -> None:
    """It is said, and not a letter is changed."""
    (tmp_path / "content").mkdir()
    (tmp_path / FILE).write_bytes(text.encode("latin-1"))
    try:
        keep_target(tmp_path, {"git": "x", "branch": "y"})
    except EditRefusedError:
        assert (tmp_path / FILE).read_bytes() == text.encode("latin-1")
    else:
        assert read(tmp_path)[0][1] == {"git": "x", "branch": "y"}


def test_what_is_told_of_a_target(tmp_path: Path) -> None:
    """Of several the last is meant; a port that is none, and a key that is none, are told with their lines."""
    (tmp_path / "content").mkdir()
    (tmp_path / FILE).write_text("sftp: a@b:c\nport: many\nfolder: /x\npasword: y\nbranch: z\n")
    (_, target), problems = read(tmp_path)
    assert target == {"folder": "/x", "port": "many", "branch": "z"}
    assert [(one.line, one.word) for one in problems] == [(4, "unknown-key"), (2, "bad-port")]
