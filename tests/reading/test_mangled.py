"""No input causes a traceback: thousands of mangled files (slow)."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from making import BUILD_YML, STEPS_CSV, entry, read

from journal.base.private_passages import cut_private
from journal.base.problems import render_problem
from journal.base.prose import find_images
from journal.ledger.links import find_links
from journal.reading.text import Notes
from journal.reading.tree import parse_yaml

FULL = entry(
    """title: "Ribs"
steps: [5.1, 5.2 to 5.3]
hours: {ada: 3:15, bo: [18:30-21:45]}
people: [ada, bo]
tools: [drill, "#40 bit"]
photos:
  IMG_1.jpg: {caption: one, step: 5.1, people: [ada], inside: true}
fasteners:
  - {rivet: AN470AD4-5, grip: 0.125 in, shop_head: 0.19 in x 0.06 in}
torque: [{bolt: AN4-10A, nut: tension, value: 62 in-lb}]
answers: {no-photo: away}
video: [https://example.org/1]
""",
    "# Title\n\n![a](IMG_1.jpg) [b](../x/index.md)\n\n!!! private\n    hidden\n",
)
SAMPLES = {
    "build.yml": BUILD_YML,
    "steps.csv": STEPS_CSV,
    "entries/a/index.md": FULL,
    "inspections/b/index.md": "---\ndate: 2026-03-01\nassembly: flaps\ninspector: insp\noutcome: passed\n---\nx\n",
    "inventory.csv": 'crate,part,description,listed,found\n1,W-1,"rib, nose",12,12\n',
    "tasks.csv": "section,task,name,maker,paid,assembly,fabrication,steps\nW,1,Ribs,3,0,3,4,5.1\n",
    "terms.md": "| term | meaning | source |\n|---|---|---|\n| rib | a part | practice |\n",
    "records/records.csv": "file,date,kind,title\na.txt,2026-01-01,invoice,Kit\n",
}
PUNCTUATION = [bytes([code]) for code in b"\t#[]{}'\"\r\0%|>?"]
PHRASES = [b": ", b"- ", b"&a ", b"*a", b"\n---\n", b"!!", b"1e999", b"NaN", b"\x1b[31m", b"9" * 400]
NASTY = st.sampled_from([*PUNCTUATION, *PHRASES, "\x85\u2028\ufeff\u0663".encode()])


@st.composite
def mangled(draw: st.DrawFn) -> tuple[str, bytes]:
    """A sample file with pieces cut, doubled, swapped, and nasty text or bytes put in."""
    name = draw(st.sampled_from(sorted(SAMPLES)))
    data = SAMPLES[name].encode()
    for _ in range(draw(st.integers(1, 5))):
        at = draw(st.integers(0, len(data)))
        to = draw(st.integers(at, min(len(data), at + 40)))
        doubled = st.just(data[at:to] * 2)
        texts = st.text(max_size=6).map(lambda text: text.encode("utf-8", "replace"))
        piece = draw(st.just(b"") | doubled | NASTY | st.binary(max_size=6) | texts)
        data = data[:at] + piece + data[to:]
    return name, data


@pytest.mark.slow
@settings(max_examples=4000, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(mangled())
def test_no_mangled_file_causes_a_traceback(tmp_path: Path, case: tuple[str, bytes]) -> None:
    """Whatever is done to a file, reading ends with records and one-line problems."""
    name, data = case
    for sample, text in SAMPLES.items():
        path = tmp_path / "content" / sample
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data if sample == name else text.encode())
    build, problems = read(tmp_path)
    for problem in problems:
        assert len(render_problem(problem).splitlines()) == 1
        assert (problem.line or 1) >= 1
        assert (problem.column or 1) >= 1
    for told in build.entries:
        assert told.assembly in build.assemblies
        assert set(told.steps) <= set(build.steps)


@pytest.mark.slow
@settings(max_examples=3000, deadline=None)
@given(st.text(max_size=200))
def test_no_text_breaks_the_yaml_reader(text: str) -> None:
    """Any text at all gives a mapping, perhaps an empty one, and problems within it."""
    notes = Notes("x")
    fields = parse_yaml(text, notes)
    assert len({key.text for key, _ in fields.pairs}) == len(fields.pairs)


LINES = ["!!! private", "    in", "  half", "out", "", "![a](b.jpg)", "```", "~~~", "`", "<!--", "-->"]
WORDS = st.lists(st.sampled_from([*LINES, "\t!!! private", "??? Private x", "[l](x)"]), max_size=14)


@settings(max_examples=400)
@given(WORDS)
def test_cutting_private_text_twice_changes_nothing_more(lines: list[str]) -> None:
    """What is published of what is published is the same; no line under a private mark survives."""
    body = "\n".join(lines)
    cut = cut_private(body)
    assert "private" not in cut.lower()
    assert cut_private(cut) == cut


@settings(max_examples=300)
@given(st.text(max_size=120))
def test_images_and_links_are_found_within_the_text(body: str) -> None:
    """Every reference lies where it says it does."""
    for image in find_images(body):
        assert body[image.start : image.start + 2] == "!["
        assert body[image.end - 1] == ")"
    for target, offset in find_links(body):
        assert target in body[offset:]
