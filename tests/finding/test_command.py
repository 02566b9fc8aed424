"""`journal find` at the terminal, and the warm index behind it."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from making import slow

from journal.commands.find import find
from journal.commands.terminal import CAUTION
from journal.making import warm_index

PUBLIC = Path(".journal") / "find" / "public.sqlite"


@pytest.fixture
def build(collection: Path, tmp_path: Path) -> Path:
    """A copy of the collection that may be changed."""
    root = tmp_path / "build"
    shutil.copytree(collection, root)
    return root


def run(root: Path, *words: str) -> Result:
    """Run the command without a terminal."""
    return CliRunner().invoke(find, ["--build", str(root), *words])


def answers(root: Path, *words: str) -> list[dict[str, Any]]:
    """The rows of `--json`."""
    result = run(root, *words, "--json")
    assert result.exit_code == 0, result.output
    rows: list[dict[str, Any]] = json.loads(result.stdout)
    return rows


def test_an_answer_says_where_when_and_what(collection: Path) -> None:
    """Date, day, assembly, steps, photos, title, best sentence, picture, the line of the file and the address on the
    site, in words.
    """
    result = run(collection, "small", "tungsten", "bar", "limited", "room", "step", "7.10?", "--limit", "1")
    assert result.exit_code == 0
    assert result.stdout.splitlines()[:-1] == [
        " 1. Day 44 · 14 June 2025 · Left wing · step 7.10 · 2 photos",
        "    Left nose ribs riveted to the spar",
        "      Sixty-three rivets, seven a rib. There is little room between the flange and the web, so the",
        "      small tungsten bar was worth every cent. Flanges were held tight with a clamp beside each",
        "      hole, otherwise the metal creeps apart.",
        "      IMG_0155.jpg: Small tungsten bar behind the flange of nose rib 4",
        "    content/entries/2025-06-14-rivets-nose-ribs-left/index.md:16",
        "    https://tarn.example/entries/2025-06-14-rivets-nose-ribs-left/#said-1147144a",
    ]
    assert "; the first is shown (--limit" in result.stdout.splitlines()[-1]
    file = collection / "content" / "entries" / "2025-06-14-rivets-nose-ribs-left" / "index.md"
    assert "Sixty-three rivets" in file.read_text("utf-8").splitlines()[15]


def test_json_has_the_fields_of_the_contract(collection: Path) -> None:
    """A list, best first, of entry, date, assembly, steps, snippet, url and score, and of what was added since."""
    rows = answers(collection, "second time drilled out")
    page = "entries/2025-06-21-rib-nine-again/"
    said = rows[0]["snippet"]
    assert rows[0] == {
        "entry": "2025-06-21-rib-nine-again",
        "date": "2025-06-21",
        "assembly": "left-wing",
        "steps": ["7.11", "7.10"],
        "snippet": said,
        "url": f"https://tarn.example/{page}#said-db8c020b",
        "score": rows[0]["score"],
        "kind": "entry",
        "title": "Rib 9 riveted again, second time drilled out",
        "id": "2025-06-21-rib-nine-again",
        "day": 46,
        "photos": 1,
        "file": f"content/{page}index.md",
        "address": f"{page}#said-db8c020b",
        "picture": {
            "file": f"content/{page}IMG_0161.jpg",
            "caption": "Hole of rib 9 after the second drilling out, measured at 0.131",
            "address": f"{page}#photo-1",
        },
        "marks": rows[0]["marks"],
    }
    assert "Drilled out for the second time" in said
    assert {said[start:end].casefold() for start, end in rows[0]["marks"]} >= {"drilled out", "time"}
    scores = [row["score"] for row in rows]
    assert scores == sorted(scores, reverse=True)
    assert len(rows) <= 10
    assert len(answers(collection, "rivet", "--limit", "3")) == 3


def test_every_kind_of_answer_has_the_same_fields(collection: Path) -> None:
    """Steps, parts, terms and pages stand among the entries, and are told like them."""
    rows = [row for words in ("step 7.10", "AN470AD4", "dimple", "house rules") for row in answers(collection, words)]
    assert len({tuple(row) for row in rows}) == 1
    lines = [row for row in rows if row["entry"] is None]
    assert {"step", "part", "term", "page"} <= {row["kind"] for row in lines}
    assert all(row["id"] and row["address"] and row["date"] is None for row in lines)
    step = next(row for row in lines if row["kind"] == "step" and row["id"] == "7.10")
    assert (step["file"], step["steps"], step["url"]) == (
        "content/steps.csv",
        ["7.10"],
        "https://tarn.example/steps/7.10/",
    )


def test_who_decides_is_said_once_where_a_figure_is_told(collection: Path) -> None:
    """A line of bolts with their torque: what stands above the journal is named, in one line at the end."""
    told = run(collection, "torque of the bolts", "--limit", "2").stdout
    assert told.count(CAUTION) == 1
    assert told.splitlines()[-1] == CAUTION
    assert CAUTION not in run(collection, "tungsten bar", "--limit", "1").stdout


@pytest.mark.parametrize("words", ["x" * 5000, " ".join(f"qz{n}w" for n in range(1400)), "\udcff\x1b[31m rib", "%s{}"])
def test_odd_questions_are_answered_in_time(collection: Path, words: str) -> None:
    """Letters without end, words that nobody knows, what no keyboard types: an answer, no traceback."""
    begun = time.process_time()
    result = run(collection, words, "--limit", str(10**20))
    assert result.exit_code == 0
    assert time.process_time() - begun < 3  # of which a warm answer here takes 0.1
    assert "\x1b" not in result.output


@pytest.mark.parametrize("place", ["{}.md", *slow("2025/{}/index.md", "2025/06/{}.md", "{}/Index.md")])
def test_an_entry_in_another_form_is_told_and_opened_as_its_file(
    build: Path, monkeypatch: pytest.MonkeyPatch, place: str
) -> None:
    """In the folder of a year, as a single file, under other capitals: the file itself is named, and what changes in
    it is seen by the next question.
    """
    answers(build, "second time drilled out")
    name = "2025-06-21-rib-nine-again"
    old, file = build / "content/entries" / name, build / "content/entries" / place.format(name)
    text = (old / "index.md").read_text("utf-8")
    shutil.rmtree(old)
    file.parent.mkdir(parents=True, exist_ok=True)
    head, rule, _ = text.rpartition("---\n")
    head = "".join(line for line in head.splitlines(keepends=True) if "IMG_" not in line and "photos:" not in line)
    file.write_text(f"{head}{rule}Drilled out for the second time, holes measured.\n", "utf-8")
    said = file.relative_to(build).as_posix()
    row = answers(build, "second time drilled out")[0]
    assert (row["entry"], row["file"]) == (name, said)
    assert f"    {said}:" in run(build, "second time drilled out").stdout
    opened: list[str] = []
    monkeypatch.setattr("click.launch", opened.append)
    run(build, "second time drilled out", "--open")
    assert opened == [str(file)]
    file.write_text(file.read_text("utf-8") + "\nA quokka came by.\n", "utf-8")
    assert [row["file"] for row in answers(build, "quokka")] == [said]


def test_a_part_that_no_entry_names_is_answered_from_the_list(build: Path) -> None:
    """Where a part answers, it is told with its kind and its list."""
    inventory = build / "content" / "inventory.csv"
    line = '9,Q-7755,"Odd bracket",1,1,good,shelf Z9,2025-01-25,mira\n'
    inventory.write_text(inventory.read_text("utf-8") + line, "utf-8")
    (row,) = answers(build, "Q-7755")
    assert (row["kind"], row["id"], row["entry"]) == ("part", "Q-7755", None)
    assert "shelf Z9" in row["snippet"]
    number = len(inventory.read_text("utf-8").splitlines())
    assert run(build, "q7755").stdout.splitlines()[:-1] == [
        " 1. Part Q-7755",
        "    Odd bracket",
        "      crate 9; shelf Z9; found 1, listed 1; good",
        f"    content/inventory.csv:{number}",
    ]


@pytest.mark.parametrize(
    ("options", "expected"),
    [
        (["--assembly", "tail"], {"2025-04-12-tailplane-drilled", "2025-04-06-tailplane-nose-ribs"}),
        (["--assembly", "Tailplane and fin"], {"2025-04-12-tailplane-drilled"}),
        (["--step", "7.10"], {"2025-06-14-rivets-nose-ribs-left", "2025-06-21-rib-nine-again"}),
        (["--tool", "Tungsten  Bar"], {"2025-06-14-rivets-nose-ribs-left", "2025-09-06-right-nose-rivets"}),
        (["--method", "fluting"], {"2025-02-01-flap-ribs", "2025-05-17-left-ribs-fluted"}),
        (["--person", "pete", "--since", "2025-05", "--until", "2025-05-31"], {"2025-05-18-left-ribs-fitted"}),
        (["--person", "Pete", "--until", "2025-04-30"], {"2025-03-16-aileron-dimple"}),
        (["--person", "vero"], {"2025-08-07-left-wing-closing"}),
    ],
)
def test_filters_narrow_the_answers(collection: Path, options: list[str], expected: set[str]) -> None:
    """Each filter keeps what it names; without words everything that passes is listed, newest first."""
    rows = answers(collection, *options, "--limit", "50")
    found = {row["entry"] for row in rows}
    assert expected <= found
    assert len(found) < 25
    dates = [row["date"] for row in rows]
    assert dates == sorted(dates, reverse=True)
    narrowed = answers(collection, "rib", *options, "--limit", "50")
    assert {row["entry"] for row in narrowed} <= found


def test_with_photos_leaves_out_entries_without(collection: Path) -> None:
    """`--with-photos` keeps only entries with a picture."""
    assert "2025-01-31-missing-rib-arrives" in {row["entry"] for row in answers(collection, "missing rib")}
    rows = answers(collection, "missing rib", "--with-photos")
    assert rows
    assert all(row["photos"] for row in rows)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--assembly", "flapz"], 'unknown assembly "flapz"; did you mean "flaps"?'),
        (["--step", "7.100"], 'unknown step "7.100"; known here: 5.1, 5.2'),
        (["--tool", "tungsten ber"], 'unknown tool "tungsten ber"; did you mean "tungsten bar"?'),
        (["--method", "flutting"], 'unknown method "flutting"; did you mean "fluting"?'),
        (["--person", "mirra"], 'unknown person "mirra"; did you mean "mira"?'),
        (["--since", "2025-13"], '"2025-13" is no date; write 2026-02-07, 2026-02 or 2026'),
        ([], "nothing to look for"),
    ],
)
def test_wrong_use_ends_with_the_nearest_and_code_2(collection: Path, options: list[str], said: str) -> None:
    """A value that the journal does not know is an error that offers the nearest."""
    result = run(collection, *options)
    assert result.exit_code == 2
    assert said in result.stderr


def test_private_things_only_when_asked_for(collection: Path) -> None:
    """Private entries and passages are searched with `--private` alone, and have no address on the site."""
    assert "2025-11-23-money-talk" not in {row["entry"] for row in answers(collection, "mortgage cupboard")}
    assert answers(collection, "hardener birthday") == []
    row = answers(collection, "mortgage cupboard", "--private")[0]
    assert (row["entry"], row["url"]) == ("2025-11-23-money-talk", None)
    assert answers(collection, "hardener birthday", "--private")[0]["entry"] == "2025-11-29-primer-repair"
    with sqlite3.connect(collection / PUBLIC) as database:
        dump = "\n".join(database.iterdump())
    assert "mortgage" not in dump
    assert "hardener" not in dump


def test_nothing_found_offers_the_nearest_spelling(collection: Path) -> None:
    """Nothing found is said, with the nearest word of the journal."""
    result = run(collection, "kauntersinkk")
    assert result.exit_code == 0
    assert 'Nothing found for "kauntersinkk".' in result.stdout
    assert 'No entry has "kauntersinkk"; did you mean "countersink"?' in result.stderr


def test_marks_are_bold_on_a_terminal_and_plain_elsewhere(collection: Path) -> None:
    """In a pipe there is no escape code; on a terminal the words found are bold, but not with NO_COLOR."""
    pty = pytest.importorskip("pty")
    assert "\x1b" not in run(collection, "tungsten bar").stdout
    for colour, expected in (({}, True), ({"NO_COLOR": "1"}, False)):
        controller, terminal = pty.openpty()
        environment = {key: value for key, value in os.environ.items() if key != "NO_COLOR"} | colour
        program = "import sys; from journal.commands.find import find; find(sys.argv[1:])"
        subprocess.run(
            [sys.executable, "-c", program, "--build", str(collection), "tungsten bar", "--limit", "1"],
            stdout=terminal,
            check=True,
            env=environment,
        )
        os.close(terminal)
        said = os.read(controller, 65536).decode()
        os.close(controller)
        assert ("\x1b[1mtungsten\x1b[0m" in said) is expected
        assert "tungsten" in said


def test_a_warm_index_answers_without_opening_the_journal(build: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Once made, the index is used as long as nothing changed."""
    before = answers(build, "tungsten bar")

    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("the journal was opened")

    monkeypatch.setattr(warm_index, "make_warm", refuse)
    assert answers(build, "tungsten bar") == before


@pytest.mark.parametrize("change", ["text", "private", *slow("photo", "new", "gone", "steps")])
def test_a_change_is_seen_by_the_next_question(build: Path, change: str) -> None:
    """A text, a photo, an entry, a list that changed, an entry made private: the next answer knows."""
    entries = build / "content" / "entries"
    folder = entries / "2025-09-06-right-nose-rivets"
    before = answers(build, "tungsten bar", "--limit", "20")
    assert folder.name in {row["entry"] for row in before}
    text = (folder / "index.md").read_text("utf-8")
    if change == "text":
        (folder / "index.md").write_text(text + "\nA quokka came by.\n", "utf-8")
        assert [row["entry"] for row in answers(build, "quokka")] == [folder.name]
    elif change == "photo":
        shutil.copy(folder / "IMG_0211.jpg", folder / "IMG_9999.jpg")
        row = next(row for row in answers(build, "tungsten bar", "--limit", "20") if row["entry"] == folder.name)
        assert row["photos"] == 2
    elif change == "new":
        (entries / "2025-12-01-new").mkdir()
        (entries / "2025-12-01-new" / "index.md").write_text(
            "---\ndate: 2025-12-01\nassembly: flaps\nhours: 1\n---\nA quokka came by.\n", "utf-8"
        )
        assert [row["entry"] for row in answers(build, "quokka")] == ["2025-12-01-new"]
    elif change == "gone":
        shutil.rmtree(folder)
        assert folder.name not in {row["entry"] for row in answers(build, "tungsten bar", "--limit", "20")}
    elif change == "steps":
        steps = build / "content" / "steps.csv"
        plan = steps.read_text("utf-8").replace("Rivet nose ribs to the spar,9-08", "Quokka work,9-08")
        steps.write_text(plan, "utf-8")
        assert answers(build, "quokka")[0]["entry"] == folder.name
    else:
        (folder / "index.md").write_text(text.replace("---\n", "---\nprivate: true\n", 1), "utf-8")
        assert folder.name not in {row["entry"] for row in answers(build, "tungsten bar", "--limit", "20")}


def test_only_documents_that_changed_are_read_again(build: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """After one entry changed, one document is cut into words, and the answers are as from nothing."""
    answers(build, "rib")
    file = build / "content" / "entries" / "2025-09-06-right-nose-rivets" / "index.md"
    file.write_text(file.read_text("utf-8") + "\nA quokka came by.\n", "utf-8")
    read: list[str] = []
    whole = warm_index.analyse

    def count(document: Any, tokenizer: Any) -> Any:
        read.append(document.id)
        return whole(document, tokenizer)

    monkeypatch.setattr(warm_index, "analyse", count)
    renewed = answers(build, "nose ribs quokka")
    assert read == ["2025-09-06-right-nose-rivets"]
    shutil.rmtree(build / ".journal" / "find")
    assert answers(build, "nose ribs quokka") == renewed
    assert len(read) > 100


@pytest.mark.parametrize("damage", ["cut", *slow("gone", "noise", "foreign", "folder gone")])
def test_a_damaged_index_is_made_anew(build: Path, damage: str) -> None:
    """Whatever happens to the file, the answer is the same."""
    before = answers(build, "tungsten bar")
    file = build / PUBLIC
    if damage == "gone":
        file.unlink()
    elif damage == "cut":
        file.write_bytes(file.read_bytes()[:5000])
    elif damage == "noise":
        file.write_bytes(b"nothing of the kind" * 1000)
    elif damage == "foreign":
        file.unlink()
        with sqlite3.connect(file) as database:
            database.execute("CREATE TABLE facts (name TEXT)")
    else:
        shutil.rmtree(build / ".journal")
    assert answers(build, "tungsten bar") == before
    assert [path.name for path in file.parent.glob("*.part")] == []


def test_a_place_that_cannot_be_written_is_searched_all_the_same(build: Path) -> None:
    """Where the index cannot be kept beside content/, the question is answered without keeping it."""
    before = answers(build, "tungsten bar")
    shutil.rmtree(build / ".journal" / "find")
    (build / ".journal" / "find").write_text("in the way", "utf-8")
    assert answers(build, "tungsten bar") == before
    assert (build / ".journal" / "find").read_text("utf-8") == "in the way"


@pytest.mark.slow
def test_errors_in_the_content_are_told_and_the_rest_is_searched(build: Path) -> None:
    """An entry that cannot be used is left out, and the answer says so."""
    file = build / "content" / "entries" / "2025-09-06-right-nose-rivets" / "index.md"
    file.write_text(file.read_text("utf-8").replace("assembly: right-wing", "assembly: rihgt"), "utf-8")
    for _ in range(2):
        result = run(build, "tungsten bar")
        assert result.exit_code == 0
        assert "1 error in the content" in result.stderr
        assert "2025-06-14-rivets-nose-ribs-left" in result.stdout


def test_open_shows_the_place_on_the_page_or_else_the_file(build: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """`--open` opens the first answer's file; where the site was made, a page that leads on to the very sentence: what
    opens files on a desktop drops what stands behind `#`.
    """
    opened: list[str] = []
    monkeypatch.setattr("click.launch", opened.append)
    run(build, "quarter inch tube mast", "--open")
    page = build / "site" / "entries" / "2025-07-05-pitot-line" / "index.html"
    page.parent.mkdir(parents=True)
    page.write_text("x")
    run(build, "quarter inch tube mast", "--open")
    assert opened[0] == str(build / "content" / "entries" / "2025-07-05-pitot-line" / "index.md")
    leads = Path(opened[1]).read_text("utf-8")
    anchor = answers(build, "quarter inch tube mast")[0]["address"].partition("#")[2]
    assert anchor.startswith("said-")
    assert f'content="0; url={page.as_uri()}#{anchor}"' in leads


def test_a_terminal_answer_imports_little() -> None:
    """With a warm index neither the host, the reader, nor the photo code is loaded: 0.3 s is all there is."""
    program = (
        "import sys, journal.commands.find, journal.finding.cache, journal.finding.query, "
        "journal.finding.ranking, journal.finding.cards; "
        "print(sorted(name for name in sys.modules if name.split('.')[0] in ('mkdocs', 'PIL', 'rich', 'jinja2') "
        "or name in ('journal.reading.build', 'journal.media.photos', 'journal.base.model', 'journal.view.view')))"
    )
    result = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert result.stdout.strip() == "[]"
