"""What is said to those who ask a command for what it cannot do."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from journal.commands.main import main


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["check"], "no build folder here; go into one, name one with --build, or make one: journal begin DIR"),
        (["check", "--build", "."], ". holds no content/ folder; `journal begin .` makes a new build"),
        (["verify", ".", "--expect", "12"], '"12" is no digest: write its 64 hexadecimal digits'),
        (["verify", ".", "--root", "a.pem"], "a.pem holds no certificate that can be read, PEM or DER"),
        (["--", "-x"], "No such option '-x'"),
    ],
)
def test_what_cannot_be_done_says_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: list[str], said: str
) -> None:
    """In a folder that is no build: code 2, a sentence, and no traceback."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "a.pem").write_text("no certificate")
    result = CliRunner().invoke(main, words)
    assert (result.exit_code, type(result.exception)) == (2, SystemExit)
    assert said in result.output


def test_a_folder_that_holds_content_is_a_build_however_little_it_holds(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without build.yml it is read, and that one is missing is what is wrong."""
    (tmp_path / "content").mkdir()
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(main, ["check"])
    assert result.exit_code == 1
    assert "content/build.yml" in result.output


def test_moves_are_listed_in_the_order_of_their_use() -> None:
    """As the help tells them: an entry first, an edition of the manual last."""
    lines = CliRunner().invoke(main, ["move", "--help"]).output.partition("Commands:")[2].split("\n")
    names = [line.split()[0] for line in lines if line.startswith("  ") and line[2:3].strip()]
    assert (names[0], names[-1]) == ("entry", "edition")
