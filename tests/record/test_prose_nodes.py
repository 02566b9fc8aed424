"""Bodies as nodes: all that Markdown can hold here, as text and never as markup."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from journal.base.prose_tree import new_markdown
from journal.record.prose_nodes import body_nodes, plain_words

MACHINE = new_markdown()


def nodes(body: str, title: str = "") -> list[dict[str, Any]]:
    """The blocks of a body in which every link leads to its own target."""
    return body_nodes(MACHINE, body, title=title, resolve=lambda target: {"url": target})


def all_text(value: Any) -> str:
    """Every text in the nodes, in order."""
    if isinstance(value, dict):
        return "".join(all_text(inner) for key, inner in value.items() if key not in ("k", "to", "names", "id"))
    if isinstance(value, list):
        return "".join(map(all_text, value))
    return value if isinstance(value, str) else ""


def test_emphasis_code_and_breaks():
    """Strong, emphasised and code words, and a hard break."""
    (paragraph,) = nodes("one **two** *three* `four <b>`  \nfive")
    assert paragraph["k"] == "p"
    kinds = [node.get("k", "t") for node in paragraph["c"]]
    assert kinds == ["t", "strong", "t", "em", "t", "code", "br", "t"]
    assert plain_words(paragraph["c"]) == "one two three four <b> five"


def test_headings_skip_no_level():
    """Whatever levels a body uses, its first is the first below its title, and none is skipped on the way down."""
    levels = [node["level"] for node in nodes("### a\n\n##### b\n\n#### c\n\n## d\n\n###### e") if node["k"] == "h"]
    assert levels == [1, 2, 2, 1, 2]
    (quote,) = [node for node in nodes("## a\n\n> ##### b") if node["k"] == "quote"]
    assert quote["b"][0]["level"] == 2


def test_lists_nest_and_number():
    """Ordered and unordered lists, one inside the other; the first number is kept."""
    (numbered,) = nodes("3. a\n    * b\n    * c\n4. d")
    assert (numbered["k"], numbered["start"], len(numbered["items"])) == ("ol", 3, 2)
    assert numbered["items"][0][1]["k"] == "ul"
    assert len(numbered["items"][0][1]["items"]) == 2


def test_quotes_and_rules():
    """A quote in a quote, and a rule."""
    quote, rule = nodes("> a\n> > b\n\n---\n")
    assert quote["b"][1]["k"] == "quote"
    assert rule == {"k": "rule"}


@pytest.mark.parametrize("body", ['```python\nx = "<a>&amp;"\n```', '    x = "<a>&amp;"'])
def test_code_blocks_are_verbatim(body: str):
    """Fenced and indented code: exactly what was written."""
    assert nodes(body) == [{"k": "pre", "text": 'x = "<a>&amp;"'}]


def test_tables_with_their_alignment():
    """Head, rows, alignment, code with a bar in a cell."""
    (table,) = nodes("| a | b |\n|:--|--:|\n| 1 | `x|y` |\n")
    assert table["align"] == ["left", "right"]
    assert [plain_words(cell) for cell in table["head"]] == ["a", "b"]
    assert [[plain_words(cell) for cell in row] for row in table["rows"]] == [["1", "x|y"]]


def test_notes_with_and_without_title():
    """An admonition carries its kind, title and blocks."""
    warning, bare = nodes('!!! warning "Take care"\n    - list\n\n!!! note ""\n    plain\n')
    assert (warning["kind"], plain_words(warning["title"])) == ("warning", "Take care")
    assert warning["b"][0]["k"] == "ul"
    assert bare["title"] == []


def test_footnotes_are_told_once_and_referred_to_again():
    """The first use carries the note's blocks, the second only its name; backlinks do not appear."""
    (paragraph,) = nodes("a[^x] b[^x]\n\n[^x]: A **note**.\n\n    Second part.\n")
    first, second = (node for node in paragraph["c"] if node.get("k") == "fn")
    assert [plain_words(block["c"]) for block in first["b"]] == ["A note.", "Second part."]
    assert "b" not in second
    assert first["id"] == second["id"]


def test_links_and_addresses():
    """Inline and reference links, an address alone, and mail without its disguise."""
    (paragraph,) = nodes("[a](../x/index.md) [b][r] <https://example.org/> <me@example.org>\n\n[r]: y.md\n")
    links = [node for node in paragraph["c"] if node.get("k") == "a"]
    assert [link["to"]["url"] for link in links] == [
        "../x/index.md",
        "y.md",
        "https://example.org/",
        "mailto:me@example.org",
    ]
    assert plain_words(links[3]["c"]) == "me@example.org"


def test_a_link_that_leads_nowhere_is_its_words():
    """What cannot be resolved stays as text."""
    (paragraph,) = body_nodes(MACHINE, "[words](nowhere.md)", title="", resolve=lambda target: None)
    assert paragraph["c"] == [{"t": "words"}]


def test_character_references_and_escapes():
    """`&copy;`, `&amp;` and backslashes read as they are meant; raw HTML is text."""
    (paragraph,) = nodes(r"&copy; &amp; \*x\* <b>raw</b> a < b")
    assert plain_words(paragraph["c"]) == "© & *x* <b>raw</b> a < b"


def test_pictures_stand_behind_their_block():
    """A picture in a sentence comes after the paragraph; pictures one after another are one group."""
    found = nodes("see ![cap](a.jpg) here\n\n![](b.jpg)\n\n![](c d.jpg)\n\n- item\n\n    ![](e.jpg)\n")
    assert [block["k"] for block in found] == ["p", "pictures", "ul"]
    assert plain_words(found[0]["c"]) == "see here"
    assert found[1]["names"] == ["a.jpg", "b.jpg", "c d.jpg"]
    assert found[2]["items"][0][1] == {"k": "pictures", "names": ["e.jpg"]}


def test_a_picture_that_is_none_of_ours_is_its_words():
    """A definition that leads elsewhere shows nothing on paper; a body without words is no block."""
    (paragraph,) = nodes("see ![the rib][r]\n\n[r]: https://example.org/a.jpg\n")
    assert plain_words(paragraph["c"]) == "see the rib"
    assert nodes("") == []


def test_pictures_in_tables_and_headings_are_not_lost():
    """Wherever a picture is named, it is placed."""
    found = nodes("## Head ![](a.jpg)\n\n| x |\n|---|\n| ![](b.jpg) |\n")
    assert [name for block in found if block["k"] == "pictures" for name in block["names"]] == ["a.jpg", "b.jpg"]


def test_the_title_is_not_said_twice():
    """A first heading equal to the title is left out, another one stays."""
    assert nodes("# Ribs\n\ntext", title="ribs")[0]["k"] == "p"
    assert nodes("# Spars\n\ntext", title="ribs")[0] == {"k": "h", "level": 1, "c": [{"t": "Spars"}]}


def test_comments_are_left_out():
    """HTML comments are notes to oneself."""
    assert all_text(nodes("a <!-- secret --> b")) == "a b"


def test_depth_has_an_end():
    """Fifty quotes in each other and five thousand more: text is kept, nothing breaks."""
    assert "x" in all_text(nodes("> " * 50 + "x"))
    assert "x" in all_text(nodes(">" * 5000 + " x"))


@settings(max_examples=150, deadline=None)
@given(st.text(alphabet="ab *_`#>-|[]()!<>&\\\n\t1.:^~\u00e9\U0001f642", max_size=200))
def test_any_text_becomes_nodes(body: str):
    """No body breaks the reader, and what comes out is plain JSON."""
    json.dumps(nodes(body))


def test_what_is_struck_through_and_tasks_are_told():
    """In the binder a task keeps its bracket."""
    words, tasks = nodes("~~62~~ 65\n\n- [x] deburr")
    assert words == {"k": "p", "c": [{"k": "del", "c": [{"t": "62"}]}, {"t": " 65"}]}
    assert plain_words(tasks["items"][0][0]["c"]) == "[x] deburr"
