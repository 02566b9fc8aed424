"""`journal enter --unfinished`: what an entry lacks is asked for and written at once, with nothing else touched."""

from __future__ import annotations

from pathlib import Path

import pytest
from cameras import photo_bytes
from click.testing import CliRunner, Result
from making import MakeBuild, entry, read

from journal.commands.main import main
from journal.record.chain import Kind, read_chain

DRAFT = """---\r
title: ""\r
date: 2026-02-08   # a Sunday\r
assembly: flaps\r
hours: ""    # what each of you worked\r
# steps: [5.1, 5.2]\r
photos:    # what each one shows\r
  img_1.jpg: ""    # 18:30\r
draft: true\r
---\r
Worked on it.\r
"""


def run(root: Path, *answers: str, option: str = "--unfinished") -> Result:
    """`journal enter --unfinished` with one answer a line."""
    text = "".join(f"{answer}\n" for answer in answers)
    return CliRunner().invoke(main, ["enter", "--build", str(root), option], input=text)


@pytest.fixture
def root(make_build: MakeBuild) -> Path:
    """A draft that lacks everything, and an older entry that lacks its steps."""
    return make_build(
        {
            "entries/2026-02-07-flaps/index.md": entry("title: First"),
            "entries/2026-02-08-flaps/index.md": DRAFT.encode(),
            "entries/2026-02-08-flaps/IMG_1.jpg": photo_bytes("2026-02-08 18:30:00"),
        }
    )


def test_each_answer_is_written_and_nothing_else(root: Path) -> None:
    """Hours, title, steps, caption and the end of the draft are in the file, with its comments, order and line ends."""
    result = run(root, "two hours", "2:15", "Two ribs", "5.1 to 5.9", "5.1 to 5.2", "The ribs", "y", "")
    assert result.exit_code == 0, result.output
    assert "2 entries are unfinished." in result.output
    assert "1 of 2: Sunday 8 February 2026, Flaps, a draft: Flaps" in result.output
    assert "IMG_1.jpg (18:30)" in result.output
    assert "It lacks hours, a title, steps and captions." in result.output
    assert '"two hours" is not a time worked' in result.output
    assert 'unknown step "5.9"' in result.output
    wanted = DRAFT.replace('title: ""', "title: Two ribs").replace('hours: ""', "hours: 2:15")
    wanted = wanted.replace('img_1.jpg: ""', 'img_1.jpg: "The ribs"').replace("draft: true\r\n", "")
    wanted = wanted.replace("assembly: flaps\r\n", "assembly: flaps\r\nsteps: [5.1 to 5.2]\r\n")
    assert (root / "content/entries/2026-02-08-flaps/index.md").read_bytes().decode() == wanted
    build, problems = read(root)
    assert (build.drafts, build.entries[1].steps, build.entries[1].minutes) == ((), ("5.1", "5.2"), 270)
    assert [one.word for one in problems if one.word != "photo-unreadable"] == []


def test_an_answer_that_the_reader_would_not_take_is_not_written_into_a_draft(root: Path) -> None:
    """A caption that only says private would make a draft that nobody can read."""
    result = run(root, "", "", "", "private", "n")
    assert "Not written" in result.output
    assert (root / "content/entries/2026-02-08-flaps/index.md").read_bytes().decode() == DRAFT


def test_enter_leaves_a_thing_s_goes_on_and_q_stops(root: Path) -> None:
    """What was not answered is asked again by the next run; what was is there even where no more answers come."""
    file = root / "content/entries/2026-02-08-flaps/index.md"
    result = run(root, "", "Ribs", "s", "none")
    assert result.exit_code == 0, result.output
    assert 'hours: ""' in file.read_text()
    assert "title: Ribs" in file.read_text()
    assert "steps: none" in (root / "content/entries/2026-02-07-flaps/index.md").read_text()
    stopped = run(root, "1:00")
    assert "no answer came, and what was answered is written" in stopped.output
    again = run(root, "q")
    assert "1 entry is unfinished." in again.output
    assert "It lacks steps and captions." in again.output
    assert read(root)[0].drafts[0].minutes == 120


def test_a_draft_with_an_error_stays_one(root: Path) -> None:
    """What would be an error is told, and nobody is asked whether it is finished."""
    file = root / "content/entries/2026-02-08-flaps/index.md"
    file.write_bytes(DRAFT.replace("Worked", "Worked\r\nprivate: true\r\n").encode())
    result = run(root, "", "", "", "", "q")
    assert "Finished?" not in result.output
    assert b"draft: true" in file.read_bytes()


def test_an_answer_that_would_be_an_error_is_not_written(make_build: MakeBuild) -> None:
    """An entry that counts never becomes one that cannot be read."""
    root = make_build(
        {
            "entries/a/index.md": entry("title: A\nhours: 2:00\nsteps: [5.1]\npeople: [ada]").replace(
                "hours: 2:00\n", ""
            ),
            "entries/a/IMG_1.jpg": photo_bytes("2026-02-07 18:30:00"),
        }
    )
    result = run(root, "Ada 2h, Bo 1h", "Ada 2h", "private", "")
    assert '"bo" has hours but is not among `people`' in result.output
    assert "Not written: " in result.output
    build, problems = read(root)
    assert [one.minutes for one in build.entries] == [120]
    assert "error" not in {one.grade.value for one in problems}


def test_a_sealed_entry_is_passed_over(root: Path) -> None:
    """Its seal would tell of a change that nobody meant to make."""
    sealed = CliRunner().invoke(main, ["seal", "--build", str(root)])
    assert (Kind.ENTRY, "2026-02-07-flaps") in read_chain(root).current, sealed.output
    result = run(root, "q")
    assert "Sealed and passed over, though something is missing: 2026-02-07-flaps." in result.output
    assert "1 entry is unfinished." in result.output


def test_a_file_changed_meanwhile_is_left_alone(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What somebody typed while the question stood there is not written over."""
    from journal.commands.intake import unfinished

    file, real = root / "content/entries/2026-02-08-flaps/index.md", unfinished.parse_worked

    def typed(*told: object) -> str:
        file.write_text(file.read_text().replace('hours: ""', "hours: 4:00"))
        return real(*told)  # type: ignore[arg-type]

    monkeypatch.setattr(unfinished, "parse_worked", typed)
    result = run(root, "1:00", "q")
    assert "Not written: the file was changed meanwhile" in result.output
    assert "hours: 4:00" in file.read_text()


def test_nothing_unfinished_is_said(make_build: MakeBuild) -> None:
    """And --yes only tells what is missing."""
    root = make_build({"entries/a/index.md": entry("title: A\nsteps: [5.1]")})
    assert "No entry is unfinished." in run(root).output


def test_what_was_written_last_is_taken_back(root: Path) -> None:
    """The last answer first; nothing else is undone."""

    def undo() -> str:
        return CliRunner().invoke(main, ["undo", "--build", str(root)]).output

    run(root, "2:15", "Two ribs", "q")
    assert "enter: title in 2026-02-08-flaps" in (said := undo())
    assert "Taken back: title in 2026-02-08-flaps" in said
    text = (root / "content/entries/2026-02-08-flaps/index.md").read_bytes().decode()
    assert text == DRAFT.replace('hours: ""', "hours: 2:15")
    undo()
    assert (root / "content/entries/2026-02-08-flaps/index.md").read_bytes().decode() == DRAFT
    assert "Nothing that was written can be taken back." in undo()
