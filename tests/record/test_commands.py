"""The commands seal, archive and verify as they are typed: exit codes, what they print, what they leave."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

import click
import pytest
from archiving import ENTRY, PHOTO, plain_parts, tree, write_build
from click.testing import CliRunner, Result
from making import entry

from journal.base.problems import finding
from journal.commands import terminal
from journal.commands.main import main
from journal.commands.record import archive, bar_of_bytes, seal, verify
from journal.ledger.journal import open_journal
from journal.making import archive_parts
from journal.making.last_kept import ARCHIVED, fingerprints, read_kept
from journal.record.chain import read_chain
from journal.record.verify import verify as search_site
from journal.view.view import Audience, open_view

Run = Callable[..., Result]


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A build folder."""
    return write_build(tmp_path / "build")


@pytest.fixture
def run(root: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Type a command inside the build folder."""
    monkeypatch.setattr(archive_parts, "make_parts", lambda journal, made_at, **more: plain_parts())
    monkeypatch.setattr(archive_parts, "own_templates", lambda root: ())
    group = click.Group(commands=[seal, verify, archive])

    def type_in(*words: str, **options: str) -> Result:
        before = Path.cwd()
        os.chdir(root)
        try:
            return CliRunner().invoke(group, words, catch_exceptions=False, env=options)
        finally:
            os.chdir(before)

    return type_in


def test_seal_tells_the_head_and_how_to_keep_it(root: Path, run: Run) -> None:
    """The head printed is that of the chain; a second run has nothing to do and prints it again."""
    first = run("seal")
    assert first.exit_code == 0
    assert "Sealed: 22 lines for what is new, 0 amendments." in first.output
    head = read_chain(root).head
    assert head in first.output
    second = run("seal")
    assert second.exit_code == 0
    assert "Nothing is new or changed since the last seal." in second.output
    assert head in second.output


def test_seal_without_a_terminal_refuses_a_change_without_a_reason(root: Path, run: Run) -> None:
    """It names what changed and what to type; with --reason it goes on."""
    run("seal")
    (root / f"content/entries/{ENTRY}/IMG_1.jpg").write_bytes(b"another")
    refused = run("seal")
    assert refused.exit_code == 1
    assert "IMG_1.jpg changed" in refused.output
    assert 'journal seal --reason "…"' in refused.output
    assert "Nothing was sealed: 1 error, 0 findings." in refused.output
    assert len(read_chain(root).seals) == 22
    done = run("seal", "--reason", "a sharper copy")
    assert done.exit_code == 0
    assert read_chain(root).seals[-1].reason == "a sharper copy"


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
def test_seal_asks_for_the_reason_on_a_terminal(root: Path, run: Run) -> None:
    """On a terminal the change is shown and the answer becomes the reason; Enter alone stops."""
    import pty

    run("seal")
    (root / f"content/entries/{ENTRY}/index.md").write_text(entry("title: Flap ribs"))
    program = "from journal.commands.record import seal; seal()"
    for answer, lines in ((b"\n", 22), (b"the title was missing\n", 23)):
        ours, theirs = pty.openpty()
        process = subprocess.Popen(
            [sys.executable, "-c", program], cwd=root, stdin=theirs, stdout=theirs, stderr=theirs,
            env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
        )  # fmt: skip
        os.close(theirs)
        shown = b""
        while b"Why?" not in shown:
            shown += os.read(ours, 1000)
        os.write(ours, answer)
        try:
            while piece := os.read(ours, 1000):
                shown += piece
        except OSError:
            pass  # the other side hung up
        process.wait(20)
        os.close(ours)
        assert b"Changed after it was sealed" in shown
        assert len(read_chain(root).seals) == lines
    assert read_chain(root).seals[-1].reason == "the title was missing"


def test_seal_stops_at_errors(root: Path, run: Run) -> None:
    """An entry with an error is not sealed, and neither is anything else."""
    (root / "content/entries/2026-03-01-x").mkdir()
    (root / "content/entries/2026-03-01-x/index.md").write_text(entry("assembly: nowhere"))
    refused = run("seal")
    assert refused.exit_code == 1
    assert "unknown-assembly" in refused.output
    assert not (root / "content/seals.jsonl").exists()


def test_seal_writes_a_request_and_never_over_a_file(root: Path, run: Run, tmp_path: Path) -> None:
    """The request is about the head; a file of that name is left alone (wrong use)."""
    request = tmp_path / "head.tsq"
    done = run("seal", "--request", str(request))
    assert done.exit_code == 0
    assert bytes.fromhex(read_chain(root).head) in request.read_bytes()
    assert "content/seals/head.tsr" in done.output
    before = request.read_bytes()
    assert run("seal", "--request", str(request)).exit_code == 2
    assert request.read_bytes() == before


def test_archive_says_what_it_made_and_verify_agrees(root: Path, run: Run, tmp_path: Path) -> None:
    """Private things are told before; the fingerprint printed is the one that verify prints."""
    run("seal")
    made = run("archive", "--out", str(tmp_path / "out"), SOURCE_DATE_EPOCH="1777636800")
    assert made.exit_code == 0
    assert "It holds every original, full names and places, and 1 draft." in made.output
    fingerprint = re.findall(r"Fingerprint .*: ([0-9a-f]{64})", made.output)
    looked = run("verify", str(tmp_path / "out"))
    assert looked.exit_code == 0
    assert re.findall(r"Fingerprint .*: ([0-9a-f]{64})", looked.output) == fingerprint
    assert "every one as listed" in looked.output
    again = run("archive", "--out", str(tmp_path / "out"), SOURCE_DATE_EPOCH="1777636800")
    assert "0 files (0 bytes) copied" in again.output
    assert re.findall(r"Fingerprint .*: ([0-9a-f]{64})", again.output) == fingerprint
    noted = read_kept(root, ARCHIVED)
    assert noted is not None
    assert (noted.at.timestamp(), noted.where) == (1777636800, str((tmp_path / "out").resolve()))
    assert noted.entries == fingerprints(root, open_view(open_journal(root, date(2026, 5, 1)), Audience.ARCHIVE))
    run("archive", "--without-private", "--out", str(tmp_path / "few"))
    assert read_kept(root, ARCHIVED) == noted


def test_verify_fails_on_damage_and_speaks_json(root: Path, run: Run, tmp_path: Path) -> None:
    """Exit code 1; the JSON is the one of the format document; the last line says DAMAGED."""
    run("archive", "--out", str(tmp_path / "out"))
    (tmp_path / "out" / PHOTO).unlink()
    told = run("verify", str(tmp_path / "out"), "--json")
    assert told.exit_code == 1
    report = json.loads(told.output)
    assert report["ok"] is False
    assert {"kind": "missing", "path": PHOTO, "message": "is listed but not there"} in report["findings"]
    plain = run("verify", str(tmp_path / "out"))
    assert plain.exit_code == 1
    assert f"{PHOTO}: is listed but not there [missing]" in plain.output
    assert "DAMAGED: 2 findings" in plain.output


def test_what_cannot_be_opened_is_an_error_of_the_disk(run: Run, tmp_path: Path) -> None:
    """A path that is not there is no damage: OSError, which the command line ends with code 3."""
    with pytest.raises(FileNotFoundError):
        run("verify", str(tmp_path / "nothing"))


def test_an_archive_tells_what_came_to_light_as_it_was_made(
    root: Path, tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Damage that shows only when a picture is made would go unread into the archive."""
    late = finding(
        "content/build.yml", None, "photo-unreadable", '"a.jpg" cannot be shown: the picture is damaged', "x"
    )
    parts = replace(plain_parts(), late=(late,))
    monkeypatch.setattr(archive_parts, "make_parts", lambda journal, made_at, **more: parts)
    made = run("archive", "--out", str(tmp_path / "out"))
    assert (made.exit_code, '"a.jpg" cannot be shown' in made.output) == (0, True)


def test_an_archive_in_the_way_of_something_is_wrong_use(root: Path, run: Run) -> None:
    """Exit code 2, and nothing is touched."""
    refused = run("archive", "--out", str(root / "content"))
    assert refused.exit_code == 2
    assert "cannot stand inside content/" in refused.output


@pytest.mark.parametrize("ending", ["SIGTERM", "SIGHUP", "SIGINT"])
def test_told_to_end_a_command_tidies_up(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ending: str
) -> None:
    """Whatever asked for it: nothing half-made is left, and the next program hears signals as before. What was not to
    be heard (nohup) still is not.
    """
    number = getattr(signal, ending)
    usual = signal.default_int_handler if ending == "SIGINT" else signal.SIG_DFL

    def site(folder: Path) -> None:
        assert (tmp_path / ".out.part").exists()
        os.kill(os.getpid(), number)
        plain_parts().site(folder)

    monkeypatch.setattr(archive_parts, "make_parts", lambda journal, made_at, **more: replace(plain_parts(), site=site))
    before = signal.getsignal(number)
    try:
        for heard, code in ((usual, 1 if ending == "SIGINT" else 128 + number), (signal.SIG_IGN, 0)):
            signal.signal(number, heard)
            ended = CliRunner().invoke(main, ["archive", "--build", str(root), "--out", str(tmp_path / "out")])
            assert ended.exit_code == code, ended.output
            assert signal.getsignal(number) == heard
            assert sorted(path.name for path in tmp_path.iterdir()) == ["build", *(["out"] if code == 0 else [])]
    finally:
        signal.signal(number, before)


def test_progress_is_told_a_handful_of_times_in_a_pipe(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Ten minutes of copying, however many files end in the same megabyte; quick work says nothing."""
    clock = [datetime(2026, 1, 1, tzinfo=UTC)]
    monkeypatch.setattr(terminal, "datetime", SimpleNamespace(now=lambda zone: clock[0]))
    with bar_of_bytes("copying") as progress:
        for done in range(6000):
            clock[0] += timedelta(seconds=0.1)
            progress(min(done, 5000) * 1_000_000, 5_000_000_000)
    lines = capsys.readouterr().err.splitlines()
    assert lines[0] == "copying (MB): 49 of 5,000"
    assert len(lines) == 7
    with bar_of_bytes("verifying") as progress:
        progress(1, 1)
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize("command", ["seal", "archive", "verify"])
def test_help_has_an_example(run: Run, command: str) -> None:
    """Each command's help shows how it is typed."""
    shown = run(command, "--help")
    assert shown.exit_code == 0
    assert f"journal {command}" in shown.output


SECRETS = {
    "passage": "Zebrafink passage",
    "entry": "Zebrafink entry",
    "record": "Zebrafink invoice",
    "cost": "Zebrafink cost",
    "name": "Lindqvist",
    "place": "Zebrafink hangar",
    "registration": "ZZ-TRN",
    "reason": "Zebrafink reason",
    "draft": "Zebrafink draft",
}


def test_the_real_archive_holds_everything_or_nothing_private(root: Path, tmp_path: Path) -> None:
    """With the real site, binder and tables: all that is private is in the one archive and none of it in the other."""
    content = root / "content"
    (content / f"entries/{ENTRY}/index.md").write_text(
        entry("steps: [5.1]\nplace: hangar", f"Drilled.\n\n!!! private\n\n    {SECRETS['passage']}\n")
    )
    (content / "entries/2026-02-10-x").mkdir()
    (content / "entries/2026-02-10-x/index.md").write_text(entry("private: true\ndate: 2026-02-10", SECRETS["entry"]))
    (content / "entries/2026-02-08-draft/index.md").write_text(entry("draft: true", SECRETS["draft"]))
    (content / "records/invoice.txt").write_text(SECRETS["record"])
    (content / "costs.csv").write_text(
        f"date,assembly,what,amount,currency,record\n2026-02-01,flaps,{SECRETS['cost']},40.00,EUR,\n"
    )
    build = (content / "build.yml").read_text()
    (content / "build.yml").write_text(build.replace("name: hangar", f"name: {SECRETS['place']}"))
    group = click.Group(commands=[seal, archive])

    def run(*words: str) -> Result:
        return CliRunner().invoke(group, [*words, "--build", str(root)], catch_exceptions=False)

    assert run("seal").exit_code == 0
    with (content / f"entries/{ENTRY}/index.md").open("a") as file:
        file.write("More.\n")
    assert run("seal", "--reason", SECRETS["reason"]).exit_code == 0
    for words in (
        ("archive", "--out", str(tmp_path / "all")),
        ("archive", "--without-private", "--out", str(tmp_path / "few")),
    ):
        made = run(*words)
        assert made.exit_code == 0, made.output
    everything, few = tree(tmp_path / "all"), tree(tmp_path / "few")
    for secret in SECRETS.values():
        assert any(secret.encode() in data for data in everything.values()), secret
        assert not any(secret.encode() in data for data in few.values()), secret
    if shutil.which("pdftotext"):
        for folder, expected in (("all", True), ("few", False)):
            program = ["pdftotext", str(tmp_path / folder / "data/record.pdf"), "-"]
            printed = subprocess.run(program, capture_output=True, text=True, check=True).stdout
            assert (SECRETS["passage"] in " ".join(printed.split())) is expected
            assert (SECRETS["name"] in printed) is expected
    assert "data/seals/index.html" in everything
    assert b"amended on" in everything[f"data/entries/{ENTRY}/index.html"]
    assert SECRETS["reason"].encode() in everything[f"data/entries/{ENTRY}/index.html"]
    assert "data/evidence/index.html" in everything
    assert everything["data/record.pdf"].startswith(b"%PDF-")
    assert search_site(tmp_path / "all").ok
    assert search_site(tmp_path / "few").ok
