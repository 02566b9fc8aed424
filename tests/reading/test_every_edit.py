# ruff: noqa: E501 (lines of files as builders write them)
"""What each edit writes into an entry in every form that we thought of, line for line, or why it does not.

`edits.golden.txt` holds it; `--rewrite-goldens` accepts a change. That no other word is touched is the law of test_edits.
"""

from __future__ import annotations

from collections.abc import Callable
from difflib import unified_diff
from pathlib import Path

import pytest

from journal.reading import edits
from journal.reading.edits import EditRefusedError

GOLDEN = Path(__file__).with_name("edits.golden.txt")

FORMS = {
    "bare": "---\ntitle: Ribs\n---\nWords.\n",
    "lists": "---\ntitle: Ribs   # why\ndate: 2026-02-07\nsteps: [5.1, '5.2']  # done\npeople: [ada]\n"
    "hours: {Ada: 1:00, bo: [18:00-19:00]}\ntools: [reamer, 'gun, long']\n"
    'photos: {A.jpg: Rib, B.jpg: {caption: "Spar", step: 5.1}, c.jpg: ""}\nformerly: [old, older]\n'
    "answers: {no-hours: because}\n# clock: ada since 2026-02-07 18:30\n# clock: bo since 2026-02-07 18:30\n---\n\nWords.\n\n",
    "blocks": "---\r\ntitle: 'Ribs'\r\nsteps:\r\n- 5.1   # one\r\n- 5.2\r\nhours:\r\n  ada: 1:00\r\n  bo:\r\n  - 18:00-19:00\r\n"
    "people:\r\n  - ada\r\nphotos:    # what each shows\r\n  A.jpg: Rib   # 18:40\r\n  B.jpg:\r\n    caption: Spar\r\n    step: 5.1\r\n"
    "fasteners:\r\n- {rivet: AN470AD4-5, count: 4}\r\ndraft: true\r\n---\r\nWords.",
    "texts": "---\nsteps: 5.1, 5.2 # done\nhours: 1:00, 18:00-19:00\npeople: Ada and bo\ntools: reamer, file\nphotos: A.jpg, B.jpg; c.jpg\n"
    "formerly: old\nmethods: ''\n---\n```\ncode\n```\n",
    "items": "---\nhours: [1:00, 18:00-19:00]\nsteps: # none yet\nphotos:\n- A.jpg\n- B.jpg: Spar\n- file: c.jpg\n  caption: Hinge\n# steps: [5.3]\n---\n",
    "rows": "---\nphotos: [A.jpg, {B.jpg: Spar}, {file: c.jpg, caption: Hinge}]\nsteps: []\nhours: ''\nanswers:\n---\n<!-- open\n",
    "odd": "---\nhours: Ada 1 h, bo 2 h\nsteps: {a: 1}\nphotos:\n  # a word\n  A.jpg: Rib\n---\n```\nnever closed\n",
    "none": "Words alone.\n",
}

EDITS: list[tuple[str, Callable[[str], object]]] = [
    ("title", lambda text: edits.set_value(text, "title", '"A: b"')),
    ("no title", lambda text: edits.set_value(text, "title", "")),
    ("private", lambda text: edits.set_value(text, "private", "true")),
    ("hours", lambda text: edits.set_value(text, "hours", "[1:00, 2:00]")),
    ("steps", lambda text: edits.add_items(text, "steps", ["5.2", "5.3", "5.3", "no"])),
    ("people", lambda text: edits.add_items(text, "people", ["bo", "hanne"])),
    ("tools", lambda text: edits.add_items(text, "tools", ["gun, long", "#40"])),
    ("methods", lambda text: edits.add_items(text, "methods", ["dimpling"])),
    ("rivets", lambda text: edits.add_row(text, "fasteners", {"rivet": "AN470AD4-6", "count": "2"})),
    ("caption", lambda text: edits.set_caption(text, "A.jpg", "New: words")),
    ("caption of B", lambda text: edits.set_caption(text, "b.JPG", "New")),
    ("caption of c", lambda text: edits.set_caption(text, "c.jpg", "Shut", "5.1", private=True)),
    ("new caption", lambda text: edits.set_caption(text, "D.jpg", "", "5.1", private=True)),
    ("without A", lambda text: edits.drop_photo(text, "a.jpg")),
    ("without B", lambda text: edits.drop_photo(text, "B.jpg")),
    ("without c", lambda text: edits.drop_photo(text, "c.jpg")),
    ("without Z", lambda text: edits.drop_photo(text, "Z.jpg")),
    ("answer", lambda text: edits.add_pair(text, "answers", "no-hours", "we forgot")),
    ("another answer", lambda text: edits.add_pair(text, "answers", "no-photo", '"dark"')),
    ("time of ada", lambda text: edits.add_time(text, "ada", "20:00-21:00", ["ada", "bo"], ["ada"])),
    ("time of bo", lambda text: edits.add_time(text, "bo", "20:00-21:00", ["ada"])),
    ("hours by name", lambda text: edits.name_hours(text, ["ada", "bo"])),
    ("former name", lambda text: edits.add_former_names(text, ["before", "OLD"], "now")),
    ("one former name", lambda text: edits.add_former_names(text, ["before"], "old")),
    ("no former name", lambda text: edits.add_former_names(text, ["Now"], "now")),
    ("no steps", lambda text: edits.drop_key(text, "steps")),
    ("no photos", lambda text: edits.drop_key(text, "photos")),
    ("no hours", lambda text: edits.drop_key(text, "hours")),
    ("comment", lambda text: edits.add_comment(text, "clock: hanne since 2026-02-07 18:30")),
    ("no comment", lambda text: edits.drop_comment(text, "clock: ada since 2026-02-07 18:30")),
    ("paragraph", lambda text: edits.add_paragraph(text, "More.\n\n!!! private\n    Words.")),
    ("rows", lambda text: [edits.flow(node) for node in edits.read_rows(text, "fasteners")]),
    ("comments and body", edits.comments_and_body),
]

PLANS = {
    "plan": "assemblies:\n  a: Flaps\n  b: {title: Wing}\n  c: {title: Tail, formerly: old}\n  d:\n    title: Fin\n    formerly: [x, y]\n  e:\n",
    "cut short": "assemblies:\n  a:\n    title: Fin",
    "none": "people: {}\n",
}


def test_every_edit_of_every_form(pytestconfig: pytest.Config) -> None:
    """The lines that go and come, or the refusal."""
    told = []
    for form, text in FORMS.items():
        for name, edit in EDITS:
            try:
                after = edit(text)
            except EditRefusedError as trouble:
                told.append(f"{form}, {name}: not written, {trouble}")
                continue
            if not isinstance(after, str):
                told.append(f"{form}, {name}: {after}")
                continue
            lines = unified_diff(text.split("\n"), after.split("\n"), n=0, lineterm="")
            told += [f"{form}, {name}:", *(f"  {line!r}" for line in list(lines)[2:])]
    for form, text in PLANS.items():
        for one in "abcdez":
            try:
                told.append(f"{form}, {one}: {edits.add_former_names(text, ['before', one], one, 'assemblies')!r}")
            except EditRefusedError as trouble:
                told.append(f"{form}, {one}: not written, {trouble}")
    whole = "\n".join(told) + "\n"
    if pytestconfig.getoption("--rewrite-goldens"):
        GOLDEN.write_text(whole, "utf-8", newline="\n")
    assert whole == GOLDEN.read_text("utf-8")
