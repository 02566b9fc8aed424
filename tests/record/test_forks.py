"""Two people seal the same build, each on a machine of their own, and a synchronising program puts it together."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import click
import pytest
from archiving import ENTRY, MADE_AT, archived, opened, plain_parts, write_build
from click.testing import CliRunner, Result
from making import entry
from test_timestamps import make_authority
from test_verify import agree

from journal.commands.record import seal as seal_command
from journal.record.archive import ArchivePlace, write_archive
from journal.record.chain import CHAIN, HEAD, read_branches, read_chain
from journal.record.damage import DamageKind
from journal.record.forks import join_chains
from journal.record.seals import check_seals, seal
from journal.record.timestamps import render_request
from journal.record.verify import Known, verify

COPY = "content/seals (conflicted copy 2026-11-27).jsonl"
SHARED = 22
"""Lines sealed before there were two: an entry, an inspection, and every row and setting of build.yml and steps.csv."""
HEAD_COPY = "content/seals/head (conflicted copy 2026-11-27).json"


def put(root: Path, days: int) -> None:
    """Seal, some days after the first time."""
    done, problems = seal(root, opened(root), now=MADE_AT + timedelta(days=days), ask=lambda change: "a reason")
    assert done is not None, problems


def write_entry(root: Path, name: str, matter: str = "") -> None:
    """An entry of that name."""
    (root / f"content/entries/{name}").mkdir(exist_ok=True)
    (root / f"content/entries/{name}/index.md").write_text(entry(f"date: {name[:10]}\n{matter}"))


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """What a synchronising program makes of two clones: Ada sealed three lines more, Bo two, one entry both."""
    ada = write_build(tmp_path / "ada")
    put(ada, 0)
    bo = Path(shutil.copytree(ada, tmp_path / "bo"))
    for name in ("2026-03-01-ada", "2026-03-02-ada"):
        write_entry(ada, name)
    write_entry(bo, "2026-03-01-bo")
    for build in (ada, bo):
        (build / f"content/entries/{ENTRY}/index.md").write_text(entry(f"steps: [5.1]\ntitle: By {build.name}"))
        put(build, 1)
    shutil.copy(bo / CHAIN, ada / COPY)
    shutil.copy(bo / HEAD, ada / HEAD_COPY)
    shutil.copytree(bo / "content/entries/2026-03-01-bo", ada / "content/entries/2026-03-01-bo")
    return ada


def run(root: Path, *words: str) -> Result:
    """`journal seal` as it is typed."""
    group = click.Group(commands=[seal_command])
    return CliRunner().invoke(group, ["seal", *words, "--build", str(root)], catch_exceptions=False)


def test_a_fork_is_told_and_stops_a_seal(root: Path) -> None:
    """Nothing is added to one of two chains; what to type is said."""
    before = (root / CHAIN).read_bytes()
    told = run(root)
    assert told.exit_code == 1
    assert f'journal seal --join "{COPY}"' in told.output
    assert (root / CHAIN).read_bytes() == before


@pytest.mark.parametrize("theirs_is_chain", [False, True])
@pytest.mark.parametrize("other_head", [False, True])
def test_joined_no_line_is_lost(root: Path, tmp_path: Path, theirs_is_chain: bool, other_head: bool) -> None:
    """Whichever of the files the program kept under which name: the longer goes on, the other is kept as it was, what
    only it had sealed is sealed anew, and check, archive and verify hold both.
    """
    ada, bo = (root / CHAIN).read_bytes(), (root / COPY).read_bytes()
    if theirs_is_chain:
        (root / CHAIN).write_bytes(bo)
        (root / COPY).write_bytes(ada)
    if theirs_is_chain != other_head:
        shutil.copy(root / HEAD_COPY, root / HEAD)
    done = run(root, "--join", str(root / COPY))
    assert done.exit_code == 0, done.output
    (name,) = read_branches(root)
    assert f"both chains share {SHARED} lines; the other is kept as content/seals/{name}" in done.output
    assert (root / "content/seals" / name).read_bytes() == bo
    assert (root / CHAIN).read_bytes().startswith(ada)
    chain = read_chain(root)
    assert (chain.fault, chain.pinned) == (None, True)
    assert [line.id for line in chain.seals[SHARED + 3 :]] == ["2026-03-01-bo"]
    assert not (root / COPY).exists()
    assert not (root / HEAD_COPY).exists()
    assert check_seals(root, opened(root)) == ()
    archived(root, tmp_path / "out")
    report = verify(tmp_path / "out")
    assert report.ok
    head = read_branches(root)[name].head
    told = (
        f"{SHARED + 2} lines of another chain, joined with this one, are kept beside it, the first {SHARED} the same "
        "in both; its head is "
    )
    assert f"{told}{head}." in report.notes
    assert verify(tmp_path / "out", known=Known(head=head)).ok
    assert not verify(tmp_path / "out", known=Known(head="0" * 64)).ok


def test_what_the_branch_had_sealed_needs_no_reason(root: Path) -> None:
    """Of the entry that both had changed, Bo's text was kept: sealed by him as it is, and the chain says so."""
    shutil.copy(root.parent / f"bo/content/entries/{ENTRY}/index.md", root / f"content/entries/{ENTRY}/index.md")
    assert run(root, "--join", str(root / COPY)).exit_code == 0
    (name,) = read_branches(root)
    assert read_chain(root).seals[-2].reason == f"sealed so on another machine, in {name}"
    (root / f"content/entries/{ENTRY}/index.md").write_text(entry("steps: [5.1]\ntitle: By nobody"))
    assert run(root).exit_code == 1
    shutil.rmtree(root / "content/entries/2026-03-02-ada")
    assert "2026-03-02-ada" in run(root).output


def test_joined_twice_is_joined(root: Path, tmp_path: Path) -> None:
    """Done again, or with a copy that is behind, nothing changes."""
    copy = Path(shutil.copy(root / COPY, tmp_path / "copy.jsonl"))
    assert run(root, "--join", str(root / COPY)).exit_code == 0
    before = (root / CHAIN).read_bytes()
    for behind in (copy.read_bytes(), before, b"".join(before.splitlines(keepends=True)[:3])):
        copy.write_bytes(behind)
        assert run(root, "--join", str(copy)).exit_code == 0
        assert (root / CHAIN).read_bytes() == before
        assert len(read_branches(root)) == 1
    assert copy.exists()


def test_what_is_no_copy_of_a_program_is_not_taken_away(root: Path) -> None:
    """The chain itself, a branch, a file of the builder's own: joined by mistake they stay."""
    own = Path(shutil.copy(root / COPY, root / "content/records/seals.jsonl"))
    assert run(root, "--join", str(root / COPY)).exit_code == 0
    (name,) = read_branches(root)
    before = {path: path.read_bytes() for path in (own, root / CHAIN, root / HEAD, root / "content/seals" / name)}
    for path in (root / CHAIN, root / "content/seals" / name, own):
        joined, problems = join_chains(root, path)
        assert problems == ()
        assert joined.startswith("Joined: ")
        assert {path: path.read_bytes() for path in before} == before


def test_a_copy_that_is_ahead_becomes_the_chain(root: Path) -> None:
    """Where one only went on, nothing is forked and no branch is kept."""
    (root / COPY).write_bytes((root / CHAIN).read_bytes())
    (root / CHAIN).write_bytes(b"".join((root / CHAIN).read_bytes().splitlines(keepends=True)[:2]))
    done = run(root, "--join", str(root / COPY))
    assert done.exit_code == 0
    assert "the other held nothing more" in done.output
    assert len(read_chain(root).seals) == SHARED + 4
    assert read_branches(root) == {}


@pytest.mark.parametrize("file", [COPY, CHAIN])
def test_a_chain_that_does_not_hold_is_not_joined(root: Path, file: str) -> None:
    """The first bad line is told, and both files stay."""
    (root / file).write_bytes((root / file).read_bytes().replace(b"a reason", b"b reason"))
    before = {path: path.read_bytes() for path in (root / CHAIN, root / COPY)}
    done, (problem,) = join_chains(root, root / COPY)
    assert (done, problem.word) == ("", "seal-chain")
    assert {path: path.read_bytes() for path in before} == before


def test_a_pin_of_the_branch_still_finds_its_line(root: Path, tmp_path: Path) -> None:
    """Bo's head was time-stamped before the two were joined."""
    (tmp_path / "authority").mkdir()
    authority = make_authority(tmp_path / "authority")
    head = read_chain(root.parent / "bo").head
    assert run(root, "--join", str(root / COPY)).exit_code == 0
    (root / "content/seals/bo.tsq").write_bytes(request := render_request(head))
    (root / "content/seals/bo.tsr").write_bytes(authority.answer(request))
    assert check_seals(root, opened(root)) == ()
    archived(root, tmp_path / "out")
    assert verify(tmp_path / "out").ok


def test_an_archive_of_the_branch_is_replaced_only_once_joined(root: Path, tmp_path: Path) -> None:
    """It is the last witness of Bo's lines until they are in the build; of a branch that was lost it is again."""
    archived(root.parent / "bo", tmp_path / "out")
    place = ArchivePlace(path=tmp_path / "out")

    def words() -> list[str]:
        problems = write_archive(root, opened(root), place, plain_parts(), made_at=MADE_AT)[1]
        return [problem.word for problem in problems if problem.grade.value == "error"]

    (root / COPY).rename(tmp_path / "kept.jsonl")
    run(root)
    assert words() == ["archive-chain"]
    assert run(root, "--join", str(tmp_path / "kept.jsonl")).exit_code == 0
    assert words() == []
    (name,) = read_branches(root)
    (root / "content/seals" / name).unlink()
    assert words() == ["archive-chain"]


def cut(data: bytes) -> bytes:
    """Without its last line."""
    return b"".join(data.splitlines(keepends=True)[:-1])


@pytest.mark.parametrize(
    ("spoil", "told"),
    [
        (cut, "ends otherwise than its name says: lines were cut, or it was written anew"),
        (
            lambda data: data.replace(b"a reason", b"b reason"),
            f"line {SHARED + 2} does not follow line {SHARED + 1}: one of the two was edited",
        ),
    ],
)
def test_a_branch_that_does_not_hold_is_told(
    root: Path, tmp_path: Path, spoil: Callable[[bytes], bytes], told: str
) -> None:
    """By check, and by verify in an archive whose lists agree with it."""
    assert run(root, "--join", str(root / COPY)).exit_code == 0
    (name,) = read_branches(root)
    archived(root, tmp_path / "out")
    for folder in (root, tmp_path / "out/data/source"):
        path = folder / "content/seals" / name
        path.write_bytes(spoil(path.read_bytes()))
    (problem,) = check_seals(root, opened(root))
    assert (problem.file, problem.word, problem.message) == (f"content/seals/{name}", "seal-chain", told)
    agree(tmp_path / "out")
    (damage,) = verify(tmp_path / "out").damage
    assert (damage.kind, damage.path, damage.message) == (DamageKind.SEAL_CHAIN, f"data/source/{problem.file}", told)
