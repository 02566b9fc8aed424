"""`journal check --mend`: no mend loses a word, and each makes its error go."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from making import STEPS_CSV, MakeBuild, entry, read

import journal
from journal.base.problems import Problem
from journal.commands.main import main

# For every code word with a mend: a line of front matter that has it (or a file and its text), and the line mended.
MENDS: dict[str, list[tuple[str, str]]] = {
    "yaml-colon": [
        ("title: Flaps: day two", 'title: "Flaps: day two"'),
        ('photos:\n  IMG_1.jpg: 1/8" rivets: all in', "  IMG_1.jpg: '1/8\" rivets: all in'"),
        ("tools: bar: small, drill", 'tools: ["bar: small", "drill"]'),
        ("tools:\n  - bar: the small one: new", '  - bar: "the small one: new"'),
    ],
    "yaml-hash": [
        ("title: Opened to #30 today", 'title: "Opened to #30 today"'),
        ("tools: C-frame, #40 drill", 'tools: ["C-frame", "#40 drill"]'),
        ('title: 1/8" to #30', "title: '1/8\" to #30'"),
        ('title: "1/8" #40"', "title: '1/8\" #40'"),
    ],
    "yaml-tag": [("title: !Finally closed", 'title: "!Finally closed"')],
    "yaml-anchor": [("title: *Important", 'title: "*Important"'), ("title: &c", 'title: "&c"')],
    "yaml-escape": [('title: "Saved in C:\\temp"', "title: 'Saved in C:\\temp'")],
    "yaml-syntax": [
        ('title: "1/8" rivets', "title: '\"1/8\" rivets'"),
        ('title: "The 1/8" rivets"', "title: 'The 1/8\" rivets'"),
        ("title: 'Bob's rivets'", "title: \"Bob's rivets\""),
        ("title: *Important* day", 'title: "*Important* day"'),
        ("title: @home", 'title: "@home"'),
    ],
    "bad-hours": [("hours: 3,25", "hours: 3.25"), ("hours: {ada: '3,5h'}", "hours: {ada: '3.5h'}")],
    "unknown-key": [("fastners: []", "fasteners: []"), ("what: 1\nwhen: 2026-02-07", "date: 2026-02-07")],
    "unknown-assembly": [("assembly: flapz", "assembly: flaps")],
    "unknown-person": [("people: [bo, adda]", "people: [bo, ada]"), ("people: bo & adda", "people: bo & ada")],
    "unknown-place": [('place: "hangr"', 'place: "hangar"')],
    "unknown-step": [("steps: s5.1", "steps: 5.1")],
    "unknown-material": [("materials: [primr]", "materials: [primer]")],
    "range-backwards": [("steps: [5.3 to 5.1]", "steps: [5.1 to 5.3]")],
    "photo-missing": [("photos: {IMG_01.jpg: one}", "photos: {IMG_1.jpg: one}")],
    "bad-nut": [("torque: {bolt: A, value: 9 in-lb, nut: tensoin}", "torque: {bolt: A, value: 9 in-lb, nut: tension}")],
}  # fmt: skip
CASES = [(word, matter, line) for word, cases in MENDS.items() for matter, line in cases]


def build_with(make_build: MakeBuild, matter: str) -> Path:
    """A build with one entry."""
    text = entry(matter)
    if "when:" in matter:
        text = text.replace("date: 2026-02-07\nassembly", "assembly", 1).replace("what: 1\n", "")
    files = {"entries/a/index.md": text, "entries/a/IMG_1.jpg": b"", "materials.csv": "id,name\nprimer,Primer\n"}
    return make_build(files)


def told(root: Path) -> list[Problem]:
    """The errors of the build."""
    return [problem for problem in read(root)[1] if problem.grade.value == "error"]


def words_of(text: str) -> list[str]:
    """Words and figures."""
    return re.findall(r"[\w.,]+", text)


def mend(root: Path, *options: str, answer: str = "") -> str:
    """What `check --mend` says."""
    return CliRunner().invoke(main, ["check", "--build", str(root), "--mend", *options], input=answer).output


@pytest.mark.parametrize(("word", "matter", "line"), CASES)
def test_each_mend_makes_its_error_go_and_keeps_every_word(
    make_build: MakeBuild, word: str, matter: str, line: str
) -> None:
    """The line before and after are shown; the file is otherwise what it was."""
    root = build_with(make_build, matter)
    path = root / "content/entries/a/index.md"
    before, errors = path.read_text("utf-8"), told(root)
    assert word in {problem.word for problem in errors if problem.mend}
    said = mend(root, "--yes")
    after = path.read_text("utf-8")
    assert f"  + {line}\n" in said
    changed = [(a, b) for a, b in zip(before.split("\n"), after.split("\n"), strict=True) if a != b]
    assert (f"  - {changed[0][0]}\n" in said, changed[0][1]) == (True, line)
    assert len(words_of(before)) <= len(words_of(after))
    if word.startswith("yaml-"):
        assert re.findall(r"\w+", before) == re.findall(r"\w+", after)
    assert word not in {problem.word for problem in told(root)}


def test_every_word_that_has_a_mend_is_tried_here() -> None:
    """A new mend comes with its case: a word is the second thing that an error is told with, its mend the fifth."""
    given = set()
    for path in (Path(journal.__file__).parent / "reading").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and ast.unparse(node.func).endswith("error") and len(node.args) > 3:
                starred = sum(isinstance(one, ast.Starred) for one in node.args)  # message and hint in one
                if len(node.args) + starred == 5 and isinstance(node.args[1], ast.Constant):
                    given.add(node.args[1].value)
    assert len(given) >= 8
    assert given <= MENDS.keys()


def test_a_mend_is_asked_for(make_build: MakeBuild) -> None:
    """No changes nothing; yes writes; line endings and the mark of an editor stay."""
    root = build_with(make_build, "title: Flaps: day two\nassembly: flapz")
    path = root / "content/entries/a/index.md"
    data = b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n")
    path.write_bytes(data)
    mend(root, answer="n\nn\n")
    assert path.read_bytes() == data
    assert "1 mend written" in mend(root, answer="n\ny\n")
    assert path.read_bytes() == data.replace(b"flapz", b"flaps")


def test_what_is_saved_while_a_mend_is_asked_for_stays(make_build: MakeBuild, monkeypatch: pytest.MonkeyPatch) -> None:
    """Somebody writes on in an editor before the answer comes: nothing of it is overwritten, and it is said."""
    root = build_with(make_build, "title: Flaps: day two")
    path = root / "content/entries/a/index.md"
    saved = path.read_bytes() + b"Written meanwhile.\n"
    monkeypatch.setattr("click.confirm", lambda question: bool(path.write_bytes(saved)))
    said = mend(root)
    assert "The file was saved meanwhile, and is left as it is." in said
    assert "0 mends written" in said
    assert path.read_bytes() == saved


def test_a_mend_that_does_not_help_is_taken_back(make_build: MakeBuild, monkeypatch: pytest.MonkeyPatch) -> None:
    """The build is read again, and the line is as it was where the error is still there."""
    root = build_with(make_build, "assembly: flapz")
    path = root / "content/entries/a/index.md"
    before = path.read_bytes()
    monkeypatch.setattr("journal.commands.check.mend_line", lambda line, *_: f"{line}x")
    assert "This did not help; the line is as it was." in mend(root, "--yes")
    assert path.read_bytes() == before


def test_a_table_in_another_encoding_is_not_mended(make_build: MakeBuild) -> None:
    """It can be read, and is written by nobody but its program."""
    text = STEPS_CSV.replace("flaps,5.2", "flapz,5.2").replace("Deburr", "D\xe9burrer").encode("latin-1")
    root = make_build({"steps.csv": text})
    assert "0 mends written" in mend(root, "--yes")
    assert (root / "content/steps.csv").read_bytes() == text


def test_only_what_is_chosen_is_mended(make_build: MakeBuild) -> None:
    """`--kind` and `--entry` hold for mends, too."""
    root = build_with(make_build, "title: Flaps: day two\nassembly: flapz")
    mend(root, "--yes", "--kind", "unknown-assembly")
    assert [problem.word for problem in told(root)] == ["yaml-colon"]


def test_a_mend_in_a_list(make_build: MakeBuild) -> None:
    """Cells of tables are mended like front matter."""
    root = make_build({"steps.csv": STEPS_CSV.replace("flaps,5.2", "flapz,5.2")})
    mend(root, "--yes")
    assert (root / "content/steps.csv").read_text("utf-8") == STEPS_CSV


@pytest.mark.parametrize("options", [["--mend", "--json"], ["--yes"]])
def test_options_that_do_not_go_together(make_build: MakeBuild, options: list[str]) -> None:
    """Wrong use is exit 2."""
    root = build_with(make_build, "")
    assert CliRunner().invoke(main, ["check", "--build", str(root), *options]).exit_code == 2
