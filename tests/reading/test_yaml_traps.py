"""What YAML and editors do to honest text (docs/format.md, "YAML traps the reader must survive")."""

from __future__ import annotations

import pytest
from making import STEPS_CSV, MakeBuild, entry, read, words

from journal.reading.text import Notes
from journal.reading.tree import Scalar, parse_yaml, quoted


def test_every_scalar_is_text(make_build: MakeBuild) -> None:
    """`2:45` is not 165, `7.10` not 7.1, `no` not False: each stays what was written."""
    text = entry("assembly: left-wing\nhours: 2:45\nsteps: [7.10]\ntools: [no, 0x1F, 1_000, ~, null]\nmethods: yes")
    build, problems = read(make_build({"entries/a/index.md": text}))
    told = build.entries[0]
    assert words(problems) == []
    assert [time.minutes for time in told.time] == [165, 165]
    assert told.steps == ("7.10",)
    assert told.tools == ("no", "0x1F", "1_000", "~", "null")
    assert told.methods == ("yes",)


def test_7_1_and_7_10_are_two_steps(make_build: MakeBuild) -> None:
    """A trailing nought is part of a step's name."""
    build, _ = read(make_build({"entries/a/index.md": entry("assembly: left-wing\nsteps: [7.1]\nbegun: [7.10]")}))
    assert (build.entries[0].steps, build.entries[0].begun) == (("7.1",), ("7.10",))


MISTAKES = {
    "a date that does not exist": ("date: 2026-02-30", "no-such-date", 2, 7),
    "a date in another order": ("date: 07/02/2026", "bad-date", 2, 7),
    "a key given twice": ("title: One\ntitle: Two", "key-twice", 3, 1),
    "an unknown key": ("assembley: flaps", "unknown-key", 2, 1),
    "a colon that cuts a title": ("title: Flaps: day two", "yaml-colon", 2, 13),
    "a hash that swallows text": ("title: Opened to #30 today", "yaml-hash", 2, 18),
    "a hash that swallows an item": ("tools:\n  - drill\n  - #40 reamer", "yaml-hash", 4, 5),
    "a hash inside a list": ("tools: [drill, #40 reamer]", "yaml-hash", 2, 16),
    "a tab": ("photos:\n\tIMG_1.jpg: x", "yaml-tab", 3, 1),
    "an anchor": ("title: &t Ribs", "yaml-anchor", 2, 8),
    "an alias": ("title: *t", "yaml-anchor", 2, 8),
    "a bare bracket": ("title: [Ribs", "yaml-syntax", 3, 1),
    "a merge of maps": ("title: {a: 1}", "not-text", 2, 8),
    "an empty item": ("tools: [drill, '']", "empty-item", 2, 16),
    "deep nesting": ("title: " + "[" * 30 + "]" * 30, "yaml-too-deep", 2, 27),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_slip_is_told_with_its_place(make_build: MakeBuild, mistake: str) -> None:
    """Each slip is an error that names line, column and a way out, and never a crash."""
    matter, word, line, column = MISTAKES[mistake]
    build, problems = read(make_build({"entries/a/index.md": entry(matter)}))
    assert [(p.word, p.line, p.column) for p in problems] == [(word, line, column)]
    assert problems[0].hint
    assert build.entries == ()


COLON = "a colon and a space inside the text cut it in two"
LOST = "is taken for a comment and lost"
BACKSLASH = ("a backslash in double quotes changes the letter behind it", "use single quotes: 'C:\\temp'")
KEPT_BACK = "write `private: true` as a key of its own, `IMG_1.jpg: {caption: …, private: true}` for a picture"
SAID = {
    "tools: [drill\ndate: x\n": (6, 1, "a list or a brace that was opened is not closed", "close it with ] or }", ""),
    'title: "Ribs\n': (6, 1, "a quotation mark that was opened is not closed", "close it, or take it out", ""),
    "title: Ribs\nspar\n": (7, 1, "this line has no colon", "write each line as `key: value`", ""),
    "hours:\n  ada: 1\n bo: 2\n": (
        *(7, 2, "this line does not fit those above it"),
        *("let it begin in the same column as they do", ""),
    ),
    "tools: - drill\n": (
        *(5, 8, "a list cannot begin in the middle of a line"),
        *("write each `- …` on its own line", ""),
    ),
    "title: Flaps: two\n": (5, 13, COLON, 'put it in quotes: title: "Flaps: two"', '"Flaps: two"'),
    "title: Opened to 5: #40\n": (5, 21, f'"#40" {LOST}', "put text that holds # in quotes", ""),
    "title: 'Ribs'\n  #40 too\n": (6, 3, f'"#40 too" {LOST}', "put the whole text in quotes", ""),
    "tools: a b: c, d\n": (5, 11, COLON, 'put it in quotes: tools: ["a b: c", "d"]', '["a b: c", "d"]'),
    "title: The bar: private\n": (5, 15, COLON, KEPT_BACK, ""),
    "title: 'a' b\n": (
        *(5, 12, "text that begins with ' is cut off or cannot be read"),
        *("put it in quotes: title: \"'a' b\"", "\"'a' b\""),
    ),
    "title: @home\n": (
        *(5, 8, "text that begins with @ is cut off or cannot be read"),
        *('put it in quotes: title: "@home"', '"@home"'),
    ),
    "title: a\x07b\n": (5, 9, "a control character stands here", "take it out", ""),
    'title: "C:\\temp"\n': (5, 11, *BACKSLASH, "'C:\\temp'"),
    'title: "C:\\qt"\n': (5, 11, *BACKSLASH, "'C:\\qt'"),
    "title: &t x\n": (5, 8, "a text that begins with & or * is not read here", "put it in quotes", '"&t x"'),
    "title: !bar drill\n": (5, 8, "a text that begins with ! is not read here", "put it in quotes", '"!bar drill"'),
    "title: a\n---\ntitle: b\n": (6, 1, "a second document begins here", "take out the `---`", ""),
    "tools:\n- a\n  - b\n": (
        *(7, 3, "this is taken for more of the text above it"),
        *("let each `-` begin in the same column", ""),
    ),
    "answers:\n  a: | #40\n    b\n": (6, 8, f'"#40" {LOST}', "begin the text on the next line", ""),
    "hours:\n\tada: 1\n": (6, 1, "a tab stands where spaces belong", "use spaces to indent", ""),
    "tools: [a, #40 b]\n": (5, 12, f'"#40 b]" {LOST}', "put text that holds # in quotes", ""),
    "title: x #40\n": (5, 10, f'"#40" {LOST}', 'put the text in quotes: "x #40"', '"x #40"'),
    "title: x # draft\n": (5, 10, f'"# draft" {LOST}', KEPT_BACK, ""),
    "tools:\n- a # bar\n": (6, 5, f'"# bar" {LOST}', 'put the text in quotes: "a # bar"', '"a # bar"'),
    "? [a]\n: b\n": (5, 3, "a key must be plain text", "put quotes around the value", ""),
    "title: a\ndate: b\ntitle: c\n": (7, 1, '"title" is given twice (first on line 5)', "keep one of them", ""),
    "- a\n": (5, 1, "this should be lines of `key: value`", "", ""),
}


@pytest.mark.parametrize("text", SAID)
def test_what_is_wrong_and_what_to_do_stand_in_plain_words(text: str) -> None:
    """Where it is, what it is, what to write; and what `journal mend` would put there is read without a word."""
    notes = Notes("index.md")
    parse_yaml(text, notes, first_line=5)
    line, column, said, hint, mend = SAID[text]
    first = notes.problems[0]
    assert (first.line, first.column, first.message, first.hint) == (line, column, said, hint)
    assert (first.mend[1] if first.mend else "") == mend
    if first.mend:
        mended = Notes("index.md")
        assert text.count(first.mend[0]) == 1
        assert parse_yaml(text.replace(*first.mend), mended).pairs
        assert mended.problems == []


@pytest.mark.parametrize(
    ("text", "key", "now"),
    [
        ("Ribs", "", '"Ribs"'),
        ("'Ribs'", "", '"Ribs"'),
        ('"Ribs"', "", '"Ribs"'),
        ("it's", "", '"it\'s"'),
        ('5" x', "", "'5\" x'"),
        ("C:\\t", "", "'C:\\t'"),
        ("it's 5\"", "", "'it''s 5\"'"),
        ("'", "", '"\'"'),
        ("a, b; c", "tools", '["a", "b", "c"]'),
        ("a, b", "methods", '["a", "b"]'),
        ("a,b", "tools", '"a,b"'),
        ("a, b", "title", '"a, b"'),
    ],
)
def test_quotes_are_those_that_a_text_does_not_hold(text: str, key: str, now: str) -> None:
    """Quotes around the whole of it are not doubled; names parted by commas are quoted each for itself."""
    assert quoted(text, key) == now
    notes = Notes("index.md")
    (node,) = (node for _, node in parse_yaml(f"x: {now}", notes).pairs)
    assert notes.problems == []
    if isinstance(node, Scalar):
        assert node.text == (text[1:-1] if len(text) > 1 and text[0] == text[-1] in "'\"" else text)


def test_one_broken_value_does_not_hide_the_other_mistakes(make_build: MakeBuild) -> None:
    """Every mistake of a file comes to light in one run, even beside broken YAML."""
    matter = "title: Flaps: again\ndate: 2026-02-30\nassembly: flapz\nhours: 2;45\nplace: hanger\nnonsense: 1"
    _, problems = read(make_build({"entries/a/index.md": entry(matter)}))
    assert words(problems) == [
        "yaml-colon",
        "no-such-date",
        "unknown-assembly",
        "bad-hours",
        "unknown-place",
        "unknown-key",
    ]


@pytest.mark.parametrize(("above", "told"), [("- spar\n", ["not-a-mapping"]), ("# spar\n", []), ("\n", [])])
def test_what_stands_above_the_first_key_is_read_too(above: str, told: list[str]) -> None:
    """Beside broken YAML further down: only comments and empty lines may stand there."""
    notes = Notes("index.md")
    fields = parse_yaml(f"{above}title: Flaps: two\ndate: x\n", notes)
    assert [key.text for key, _ in fields.pairs] == ["date"]
    assert [one.word for one in notes.problems] == [*told, "yaml-colon"]


def test_ten_planted_mistakes_are_ten_lines(make_build: MakeBuild) -> None:
    """The nearest known name is offered where there is one."""
    matter = (
        "date: 2026-13-01\nassembly: flap\nsteps: [5.9]\nbegun: [5.4 to 5.1]\nhours: 3,25\npeople: [adda]\n"
        "place: hangr\nphotos: {IMG_1.jpg: x}\nprivate: perhaps\nfastners: []"
    )
    _, problems = read(make_build({"entries/a/index.md": entry(matter)}))
    assert len(problems) == 10
    hints = [problem.hint for problem in problems]
    assert 'did you mean "flaps"?' in hints
    assert 'did you mean "ada"?' in hints
    assert 'did you mean "fasteners"?' in hints


@pytest.mark.parametrize("ending", ["\r\n", "\r", "\n"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_line_endings_and_byte_order_mark_make_no_difference(make_build: MakeBuild, ending: str, mark: bytes) -> None:
    """What editors write is accepted in silence and gives the same entry."""
    text = entry("title: Ribs\nsteps: [5.1]", "One line\n\nand another")
    plain, _ = read(make_build({"entries/a/index.md": text}))
    build, problems = read(make_build({"entries/a/index.md": mark + text.replace("\n", ending).encode()}))
    assert (build.entries, words(problems)) == (plain.entries, [])


@pytest.mark.parametrize(
    ("data", "word", "line", "column"),
    [
        (b"", "empty-file", 1, 1),
        (b"Just text\n", "no-front-matter", 1, 1),
        (b"---\ndate: 2026-02-07\n", "front-matter-open", 1, 1),
        (b"---\ntitle: B\xe9vue\n---\n", "not-utf8", 2, 9),
        ("---\ntitle: x\n---\n".encode("utf-16"), "not-utf8", 1, 1),
        (b"---\ntitle: a\x00b\n---\n", "not-text", 2, 1),
        (b"---\ntitle: a\x07b\ndate: 2026-02-07\nassembly: flaps\nhours: 1\n---\n", "yaml-character", 2, 9),
        (b"---\n- a\n- b\n---\n", "not-a-mapping", 2, 1),
    ],
)
def test_damaged_files_are_explained(make_build: MakeBuild, data: bytes, word: str, line: int, column: int) -> None:
    """Latin-1, UTF-16, NUL, control characters, missing rules: a message with a place each."""
    _, problems = read(make_build({"entries/a/index.md": data}))
    assert [(p.word, p.line, p.column) for p in problems][:1] == [(word, line, column)]


def test_front_matter_over_a_mebibyte_is_refused(make_build: MakeBuild) -> None:
    """Size is bounded before anything is parsed; the place is the beginning."""
    _, problems = read(make_build({"entries/a/index.md": entry("title: " + "x" * 2**20)}))
    assert "yaml-too-large" in words(problems)
    for more, told in ((0, []), (1, [(1, 1, "yaml-too-large")])):
        notes = Notes("build.yml")
        fields = parse_yaml("#" * (2**20 - 4 + more) + "\na: ", notes)
        assert [(one.line, one.column, one.word) for one in notes.problems] == told
        assert fields.all_unread is bool(told)


def test_a_comment_behind_a_date_is_a_comment(make_build: MakeBuild) -> None:
    """` # like this` after a value that is no free text loses nothing."""
    _, problems = read(make_build({"entries/a/index.md": entry("date: 2026-02-07  # Saturday\nsteps: [5.1] # first")}))
    assert words(problems) == []


def test_quotes_keep_what_yaml_would_take(make_build: MakeBuild) -> None:
    """Quoted text may hold anything."""
    text = entry('title: "Flaps: #40 to #30"\ntools: ["#40 drill", \'a: b\']')
    build, problems = read(make_build({"entries/a/index.md": text}))
    assert (build.entries[0].title, build.entries[0].tools) == ("Flaps: #40 to #30", ("#40 drill", "a: b"))
    assert words(problems) == []


def test_a_range_follows_the_order_of_the_manual(make_build: MakeBuild) -> None:
    """`7.1 to 7.10` are the steps between the two in steps.csv, not between two numbers; one may be its own end."""
    build, problems = read(
        make_build({"entries/a/index.md": entry("assembly: left-wing\nsteps: [7.1 to 7.10]\nbegun: 7.2-7.2")})
    )
    assert build.entries[0].steps == ("7.1", "7.2", "7.10")
    assert (build.entries[0].begun, words(problems)) == (("7.2",), [])


def test_a_damaged_row_of_steps_is_told_once(make_build: MakeBuild) -> None:
    """An entry that names a step whose row is wrong is not reported as well."""
    files = {"steps.csv": STEPS_CSV.replace("flaps,5.2", "flapz,5.2"), "entries/a/index.md": entry("steps: [5.2, 5.1]")}
    _, problems = read(make_build(files))
    assert [(p.file, p.word) for p in problems] == [("content/steps.csv", "unknown-assembly")]


WORDS = ["title", "photos", "tools", "methods", "answers", "stage", "findings", "aircraft", "people", "places"]
OF_FIGURES = ["date", "steps", "begun", "redone", "hours", "private", "draft", "zone", "show", "closing_inspections"]
OF_FIGURES += ["construction", "units", "language", "grip", "count", "shop_head", "edge", "nut", "value", "drag"]
OF_FIGURES += ["outcome", "opacity", "corner", "budget"]


@pytest.mark.parametrize("key", [*WORDS, "assemblies", *OF_FIGURES, "kind"])
def test_a_number_sign_is_words_or_a_comment_by_its_key(key: str) -> None:
    """Behind the builder's own words in quotes `#40` is more of them; behind a figure it is a comment."""
    quoted, bare = Notes("content/build.yml"), Notes("content/build.yml")
    parse_yaml(f'{key}: "rib" #40', quoted)
    parse_yaml(f"{key}: 5 #40", bare)
    assert [one.word for one in quoted.problems] == ["yaml-hash"] * (key in [*WORDS, "assemblies"])
    assert [one.word for one in bare.problems] == ["yaml-hash"] * (key not in OF_FIGURES)
