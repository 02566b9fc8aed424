"""`journal bench` in the terminal: who is let in, who no more, and where it is."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner
from making import MakeBuild

from journal.commands.bench.serve import _tell_moved, bench
from journal.commands.network.letting_in import Doorkeeper


def run(root: Path, *options: str) -> tuple[int, str]:
    """(exit code, what was printed)."""
    done = CliRunner().invoke(bench, ["--build", str(root), *options])
    return done.exit_code, done.output


def test_a_phone_is_forgotten_by_name(make_build: MakeBuild) -> None:
    """One, or all; a name that nobody has is answered with those that somebody has."""
    root = make_build()
    keeper = Doorkeeper(root)
    tokens = [keeper.let_in(keeper.new_secret(), name) or "" for name in ("Ada's phone", "Bo's phone", "Old one")]
    assert run(root, "--forget", "Ada") == (
        2,
        "journal: no phone called \"Ada\" was let in; those let in: Ada's phone, Bo's phone, Old one\n",
    )
    assert run(root, "--forget", "Ada's phone") == (0, "Let in no more: Ada's phone.\n")
    assert [keeper.device(token) is None for token in tokens] == [True, False, False]
    assert run(root, "--forget", "all") == (0, "Let in no more: Bo's phone, Old one.\n")
    assert keeper.devices() == ()


def test_a_build_without_assemblies_has_no_bench(make_build: MakeBuild) -> None:
    """Nothing that is written there could belong to anything."""
    code, said = run(make_build({"build.yml": "aircraft: {name: Tarn}\n"}))
    assert code == 1
    assert "names no assembly yet" in said


def test_https_needs_a_certificate_and_its_key(make_build: MakeBuild, tmp_path: Path) -> None:
    """Told in one line, before anything is served."""
    code, said = run(make_build(), "--port", "18766", "--certificate", str(tmp_path / "none.pem"))
    assert code == 2
    assert "none.pem" in said


def test_a_new_address_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What waits on a phone waits under the address that it knew."""
    file = tmp_path / ".journal" / "bench" / "address"
    _tell_moved(file, ("http://192.0.2.7:8766",))
    _tell_moved(file, ("http://192.0.2.7:8766",))
    assert capsys.readouterr().out == ""
    _tell_moved(file, ("http://192.0.2.9:8766",))
    assert "The last time it was at http://192.0.2.7:8766/." in capsys.readouterr().out
