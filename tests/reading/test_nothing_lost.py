"""What a builder writes is in the record, or an error says what would be lost.

The words of a value are taken from the bytes of the file, between its first and its last line, and not by our reader.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from contextlib import suppress
from pathlib import PurePosixPath

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from making import BUILD_YML, MakeBuild, entry, read

from journal.base.model import Entry
from journal.base.problems import has_errors, render_problem
from journal.commands.check import mend_line

PIECES = [
    *("Skin", "drilled", "to", "it's", "1/8", "no", "3:15", "7.10", "Flügel", "x", "and", "key:", "a: b"),
    *("#40", "#", "# 40", "!", "!Finally", "&", "&a", "*b*", "-", "- c", "1/8\"", '"', "'", "'q'", '"r"'),
    *("{", "}", "{t}", ",", ", u", "C:\\temp", "\\new", "\\", "%", "%YAML", "@v", "`w`", "|", ">", "?", "? z", "~"),
    *("...", "IMG_1.jpg: y", "[s]", "[", "]"),
    *("\N{NO-BREAK SPACE}", "\u2028", "\x85", "\N{EM DASH}", "--- ", "$", "=", "<b>", "&amp;", "\\\\"),
]  # fmt: skip
BREAKS = ["\n    ", "\n      ", "\n  ", "\n", "\n    # ", "\n    #", "\n    - ", "\n\n    ", "\n  - ", "\n      - "]

TORQUE = "torque:\n- bolt: AN4\n  nut: tension\n  value: 62 in-lb"
# Where a text may stand: what is before it, what is behind it, and how to get at what was read.
PLACES: dict[str, tuple[str, str, Callable[[Entry], object]]] = {
    "a title": ("title: ", "", lambda told: told.title),
    "a title below its key": ("title:\n    ", "", lambda told: told.title),
    "one tool": ("tools: ", "", lambda told: told.tools),
    "a tool in a list": ("tools:\n  - ", "", lambda told: told.tools),
    "a tool in brackets": ("tools: [", "]", lambda told: told.tools),
    "a method": ("methods:\n- ", "\n- riveting", lambda told: [one for one in told.methods if one != "riveting"]),
    "a caption": ("photos:\n  IMG_1.jpg: ", "", lambda told: told.photos[0].caption),
    "a caption in braces": ("photos:\n  IMG_1.jpg: {caption: ", "}", lambda told: told.photos[0].caption),
    "an answer": ("answers:\n  no-photo: ", "", lambda told: [*told.answers, *told.answers.values()]),
    "a wrench": (f"{TORQUE}\n  wrench: ", "", lambda told: told.torque[0].wrench),
}  # fmt: skip
QUOTES = {"plain": "{}", "double": '"{}"', "single": "'{}'", "block": "|\n    {}", "folded": ">-\n    {}"}

texts = st.lists(st.sampled_from(PIECES), min_size=1, max_size=6).flatmap(
    lambda pieces: st.lists(
        st.sampled_from([" ", " ", " ", "", *BREAKS]), min_size=len(pieces), max_size=len(pieces)
    ).map(lambda between: "".join(a + b for a, b in zip(pieces, between, strict=True)).rstrip())
)


def words_in(value: object) -> set[str]:
    """The words of a text or of several, without regard to case and signs."""
    whole = value if isinstance(value, str) else " ".join(map(str, value))  # type: ignore[call-overload]
    return set(re.findall(r"\w+", whole.casefold()))


def words_between(data: bytes, before: str, after: str) -> set[str]:
    """The words in the bytes of a file between what stands before a value and what stands behind it; a line of its own
    that begins with `# ` (behind spaces, or ends of lines that no editor shows), or with `#` no further in than the
    key, is a comment, as docs/format.md has it, and so is ` # ` behind a closing quotation mark.
    """
    text = data.decode("utf-8")
    start = text.index(before) + len(before)
    key = before.rstrip().rpartition("\n")[2]
    indent = len(key) - len(key.lstrip())
    own = re.sub(
        rf"(?m)^([ \t\x85\u2028\u2029]*#([ \t].*)?| {{0,{indent}}}#.*)$", "", text[start : text.index(after, start)]
    )
    return words_in(re.sub(r"(?m)(['\"])[ \t]+#([ \t].*)?$", r"\1", own))


@settings(
    max_examples=int(os.environ.get("WORDS_TRIED", "100")),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@example("a caption in braces", "plain", "}\n    #40")
@given(st.sampled_from(sorted(PLACES)), st.sampled_from(sorted(QUOTES)), texts)
def test_the_words_of_a_value_are_those_in_the_file(make_build: MakeBuild, place: str, quotes: str, text: str) -> None:
    """Or an error is told, in one line."""
    before, after, value_of = PLACES[place]
    matter = f"{before}{QUOTES[quotes].format(text)}{after}\ndate: 2026-02-07"
    root = make_build({"entries/a/index.md": entry(matter), "entries/a/IMG_1.jpg": b""})
    data = (root / "content/entries/a/index.md").read_bytes()
    build, problems = read(root)
    if has_errors(problems):
        assert all(len(render_problem(problem).splitlines()) == 1 for problem in problems)
        for problem in problems:
            if problem.mend and problem.line:
                line = re.split(r"\r\n|\r|\n", data.decode("utf-8"))[problem.line - 1]
                mended = mend_line(line, problem.column or 1, problem.mend)
                assert mended is None or words_in(mended) == words_in(line)
        return
    assert words_between(data, before, f"{after}\ndate: 2026") <= words_in(value_of(build.entries[0]))


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from(["aircraft: {{name: {}}}", "aircraft:\n  name: {}"]), st.sampled_from(sorted(QUOTES)), texts)
def test_the_words_of_build_yml_are_those_in_the_file(make_build: MakeBuild, form: str, quotes: str, text: str) -> None:
    """The same for the build's own file; `# ` behind a text is a comment there."""
    matter = form.format(QUOTES[quotes].format(text))
    root = make_build({"build.yml": matter + "\nbegun: 2026-01-10\n" + BUILD_YML.split("\n", 2)[2]})
    data = (root / "content/build.yml").read_bytes()
    build, problems = read(root)
    if not has_errors(problems):
        before = form.partition("{}")[0].replace("{{", "{").rstrip()
        own = words_between(re.sub(rb"[ \t]#([ \t].*)?(?=\n)", b"", data), before, "\nbegun:")
        assert own <= words_in(build.aircraft.name)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.sampled_from(",;\t"),
    st.lists(st.lists(st.sampled_from(PIECES), max_size=4).map(" ".join), min_size=3, max_size=3),
)
def test_the_words_of_a_row_are_those_in_the_file(make_build: MakeBuild, parted: str, cells: list[str]) -> None:
    """The same for a table, whatever a builder types into its cells; what stands elsewhere than it should is told."""
    text = f"crate,part,description,listed,found\n1,W-1,{cells[0]},1,1\n{cells[1]},W-2,b,2,2\n3,W-3,{cells[2]},3,3\n"
    root = make_build({"inventory.csv": text.replace(",", parted)})
    data = (root / "content/inventory.csv").read_bytes()
    build, problems = read(root)
    if not problems:
        told = [f"{item.crate} {item.part} {item.description} {item.listed} {item.found}" for item in build.inventory]
        assert words_in(data.decode("utf-8").partition("\n")[2]) <= words_in(told)


LOST = {
    "a line that looks like a comment": ("photos:\n  IMG_1.jpg: Skin drilled to\n    #40, deburred", "yaml-hash", 4, 5),
    "a hash in a wrench": (f"{TORQUE}\n  wrench: Big one #2", "yaml-hash", 6, 19),
    "a hash behind a place": ("place: hangar #2", "yaml-hash", 2, 15),
    "a mark before a title": ("title: !Finally closed", "yaml-tag", 2, 8),
    "items of unequal indent": ("tools:\n  - rivet gun\n    - bucking bar", "yaml-indent", 4, 5),
    "a backslash in double quotes": ('title: "Saved in C:\\temp"', "yaml-escape", 2, 20),
    "a hash behind a sign for a long text": ("title: | #40\n  drill", "yaml-hash", 2, 10),
    "a text below its comment": ("title: #40 holes\n  drilled", "yaml-hash", 2, 8),
    "inch marks": ('title: "1/8" rivets', "yaml-syntax", 2, 14),
    "an address sign": ("title: @home", "yaml-syntax", 2, 8),
}  # fmt: skip


@pytest.mark.parametrize("way", LOST)
def test_what_would_be_lost_is_told(make_build: MakeBuild, way: str) -> None:
    """At its place, with a way out, in plain words."""
    matter, word, line, column = LOST[way]
    _, problems = read(make_build({"entries/a/index.md": entry(matter), "entries/a/IMG_1.jpg": b""}))
    told = [problem for problem in problems if problem.grade.value == "error"]
    assert [(p.word, p.line, p.column) for p in told] == [(word, line, column)]
    assert told[0].hint
    assert not re.search(
        r"expected|mapping|scalar|block|token|anchor|alias|escape", f"{told[0].message} {told[0].hint}"
    )


INSPECTION = "---\ndate: 2026-03-01\nassembly: flaps\ninspector: insp\noutcome: passed\n---\nx\n"
FOLDERS = [
    "",
    "entries",
    "inspections",
    "pages",
    "records",
    "seals",
    "entries/a",
    "entries/2025",
    "entries/2025/b",
    "more",
]
FOLDERS += ["inspections/x", "pages/sub", "records/old/older", "entries/a/inner", "entries/2025/01/c", "seals/x"]
FILES = [
    "index.md",
    "Index.md",
    "entry.MD",
    "notes.md",
    "a.md",
    "2025-03-02-x.md",
    "IMG_1.jpg",
    "film.mov",
    "x.pdf",
    "y",
]
FILES += ["steps.csv", "Steps.csv", "records.csv", "entries", "pages", "records", "head.json", "z.tsr", "thing.svg"]


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.sampled_from(FOLDERS), st.sampled_from(FILES)), min_size=1, max_size=8, unique=True))
def test_every_file_is_read_or_named(tmp_path_factory: pytest.TempPathFactory, places: list[tuple[str, str]]) -> None:
    """Wherever files lie and whatever they are called: no file goes by in silence."""
    content = tmp_path_factory.mktemp("build") / "content"
    (content / "records").mkdir(parents=True)
    (content / "build.yml").write_text(BUILD_YML, "utf-8")
    for folder, name in places:
        with suppress(OSError):  # a file stands where a folder should, or the other way round
            (content / folder).mkdir(parents=True, exist_ok=True)
            with (content / folder / name).open("x") as file:
                text = INSPECTION if folder.startswith("inspections") else entry("title: Words")
                file.write(text if name.casefold().endswith(".md") else "x")
    build, problems = read(content.parent)
    told = [*build.entries, *build.inspections]
    known = {"content/build.yml", "content/steps.csv", "content/records/records.csv", "content/seals/head.json"}
    known |= {one.src_uri for one in (*told, *build.pages)} | {photo.src_uri for one in told for photo in one.photos}
    known |= {clip.src_uri for one in build.entries for clip in one.clips}
    for path in content.rglob("*"):
        uri = path.relative_to(content.parent).as_posix()
        if path.is_file() and uri not in known and path.suffix != ".tsr":
            above = [str(one) for one in PurePosixPath(uri).parents][:-2]  # but for content/ itself
            names = {f'"{PurePosixPath(one).name}"' for one in (uri, *above)} | {f'"{uri.partition("records/")[2]}"'}
            assert any(
                problem.file in (uri, *above) or any(name in problem.message for name in names) for problem in problems
            ), (uri, problems)


def test_a_comment_behind_an_empty_key_is_no_crash(make_build: MakeBuild) -> None:
    """`?` begins a key, and this one is a list: nothing stands above the comment that could be named."""
    _, problems = read(make_build({"build.yml": "aircraft:\n  name: Skin\n  ?\n    - Skin\n    #\n"}))
    assert problems


@pytest.mark.parametrize("sign", ["", "\u2028", "\x85"])
def test_a_comment_in_braces_hides_nothing(make_build: MakeBuild, sign: str) -> None:
    """What stands further in than the line of the braces is told, wherever in them its key may stand."""
    matter = f"aircraft: {{name: {sign}\n    #Skin Skin\n    drilled}}\nbegun: 2026-01-10\n"
    build, problems = read(make_build({"build.yml": matter + BUILD_YML.split("\n", 2)[2]}))
    assert has_errors(problems) or "Skin" in build.aircraft.name


def test_a_comment_on_its_own_line_behind_a_block_of_lines_is_one(make_build: MakeBuild) -> None:
    """The block ends with the line before; nothing of the comment would be taken for words."""
    matter = "answers:\n  no-photo: |\n    Because.\n# next time\ntitle: >\n  Ribs\n# clock: ada since 2026-02-07 18:30"
    build, problems = read(make_build({"entries/a/index.md": entry(matter)}))
    assert not has_errors(problems)
    assert (build.entries[0].title, build.entries[0].answers["no-photo"]) == ("Ribs", "Because.")
