"""Bodies as text: private passages, code, pictures. Held against Python-Markdown where both judge the same text."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from urllib.parse import unquote

import markdown
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from journal.base.private_passages import cut_private
from journal.base.prose import (
    ImageReference,
    blank_code,
    block_anchor,
    find_images,
    is_elsewhere,
)
from journal.base.prose_tree import (
    EXTENSIONS,
    PICTURE,
    PICTURE_CLOSE,
    PICTURE_OPEN,
    new_markdown,
    parse_tree,
    stashed,
    take_images,
    unstash,
)

# ------------------------------------------------------------------------------------------ code


@pytest.mark.parametrize(
    ("body", "bare"),
    [
        ("a `b` c", "a     c"),
        ("a ``b ` c`` d", "a           d"),
        ("a `b` c `d` e", "a     c     e"),
        ("a ` b", "a ` b"),
        ("a `b\nc` d", "a   \n   d"),
        ("``a` b", "``a` b"),
        ("don`t\n\n![a](b.jpg) can`t", "don`t\n\n![a](b.jpg) can`t"),
        ("a ` b\n \t\nc ` d `e`", "a ` b\n \t\nc      e`"),
        ("a ` b\n```\nc\n```\nd ` e", "a ` b\n   \n \n   \nd ` e"),
        ("a\n```\nb\nc\n```\nd", "a\n   \n \n \n   \nd"),
        ("~~~ python\nb\n~~~\nd", "          \n \n   \nd"),
        ("```\nb\n~~~\nc\n```\nd", "   \n \n   \n \n   \nd"),
        ("````\nb\n```\nc\n````\nd", "    \n \n   \n \n    \nd"),
        ("```\nb\n`````\nd", "   \n \n     \nd"),
        ("```\nb", "   \n "),
        ("  ```\nb\n\t```\nd", "     \n \n    \nd"),
        ("``\nb\n``", "  \n \n  "),
        ("~~\nb\n~~", "~~\nb\n~~"),
        ("a ```b``` c", "a         c"),
        ("    indented", "    indented"),
    ],
)
def test_code_is_blanked_in_its_place(body: str, bare: str) -> None:
    """Fences to their like or to the end, spans to their like; the same length, the same lines."""
    assert blank_code(body) == bare


@given(st.text("ab `~\n\t![]()", max_size=60))
def test_blanking_moves_nothing(body: str) -> None:
    """Every character is itself or a space; line ends stay."""
    bare = blank_code(body)
    assert len(bare) == len(body)
    assert all(now in (was, " ") and (was == "\n") == (now == "\n") for was, now in zip(body, bare, strict=True))


# ------------------------------------------------------------------------------------------ pictures


def targets(body: str) -> list[str]:
    """The names of the pictures found."""
    return [image.target for image in find_images(body)]


def test_a_picture_field_by_field() -> None:
    """Offsets into the text, line and column from 1, as an editor counts."""
    body = "a\n\n  ![One\n  rib](x.jpg) and ![](y.jpg)\n\n!!! private\n    ![z](z.jpg)"
    assert find_images(body) == (
        ImageReference(caption="One rib", target="x.jpg", start=5, end=24, line=3, column=3),
        ImageReference(caption="", target="y.jpg", start=29, end=39, line=4, column=19),
        ImageReference(caption="z", target="z.jpg", start=57, end=68, line=7, column=5),
    )
    assert [body[image.start : image.end] for image in find_images(body)] == [
        "![One\n  rib](x.jpg)",
        "![](y.jpg)",
        "![z](z.jpg)",
    ]
    (later,) = find_images("\n\n![a](b.jpg)")
    assert (later.start, later.line, later.column) == (2, 3, 1)
    (second,) = find_images("\n![a](b.jpg)")
    assert (second.start, second.line, second.column) == (1, 2, 1)
    (first,) = find_images("![a](b.jpg)")
    assert (first.start, first.end, first.line, first.column) == (0, 11, 1, 1)


@pytest.mark.parametrize(
    ("body", "found"),
    [
        ("![c](a.jpg)", ["a.jpg"]),
        ("![c](IMG (1).jpg)", ["IMG (1).jpg"]),
        ("![c](a((b)c).jpg)", ["a((b)c).jpg"]),
        ("![c [d] e](a.jpg)", ["a.jpg"]),
        ("![c](my photo.jpg)", ["my photo.jpg"]),
        ("![c](<my photo.jpg>)", ["my photo.jpg"]),
        ("![c]( a.jpg )", ["a.jpg"]),
        ("![c](./a.jpg)", ["a.jpg"]),
        ("![c](././a.jpg)", ["./a.jpg"]),
        ("![c](a%20b.jpg)", ["a b.jpg"]),
        ('![c](a.jpg "title")', ["a.jpg"]),
        ("![c](a.jpg 'title')", ["a.jpg"]),
        ('![c](<a b.jpg> "title")', ["a b.jpg"]),
        ('![c](a.jpg"x")', ['a.jpg"x"']),
        ('![c](a.jpg\n"title")', ["a.jpg"]),
        ("![c](<a.jpg)", ["<a.jpg"]),
        ("![c](a.jpg>)", ["a.jpg>"]),
        ("![c]()", [""]),
        ("![c](https://example.org/x.jpg)", ["https://example.org/x.jpg"]),
        ("![c](a.jpg)![d](b.jpg)", ["a.jpg", "b.jpg"]),
        ("[![c](a.jpg)](page.md)", ["a.jpg"]),
        ("![a ![b](b.jpg)](a.jpg)", ["a.jpg"]),
        ("![c] (a.jpg)", []),
        ("![c][ref]", []),
        ("![c", []),
        ("![c](a.jpg", []),
        ("![c](a.jpg ![d](b.jpg)", ["b.jpg"]),
        ("! [c](a.jpg)", []),
        ("[c](a.jpg)", []),
        ("![c\nd](a\n.jpg)", ["a\n.jpg"]),
        ("![c\n\nd](a.jpg)", []),
        ("![c](a\n\nb.jpg)", []),
        ("`![c](a.jpg)` ![d](b.jpg)", ["b.jpg"]),
        ("```\n![c](a.jpg)\n```\n![d](b.jpg)", ["b.jpg"]),
        ("- item\n\n    ![c](a.jpg)", ["a.jpg"]),
        ("    ![c](a.jpg)", ["a.jpg"]),
        ("<!-- ![c](a.jpg) -->", ["a.jpg"]),
        ("![a `]` b](a.jpg)", ["a.jpg"]),
    ],
)
def test_the_forms_of_a_picture(body: str, found: list[str]) -> None:
    """As phones and editors write them; an indented one is a picture too, for so it stands in a list."""
    assert targets(body) == found


def test_a_caption_keeps_its_words() -> None:
    """Runs of space are one, code in it stays as written."""
    (image,) = find_images("![ A `0.040`\n  sheet [left] ](a.jpg)")
    assert image.caption == "A `0.040` sheet [left]"


@pytest.mark.parametrize(("length", "found"), [(3998, True), (3999, False)])
def test_a_bracket_that_is_far_away_closes_nothing(length: int, found: bool) -> None:
    """A `![` without an end may not cost a search of the whole text each time."""
    assert bool(find_images(f"![{'a' * length}](a.jpg)")) is found
    assert bool(find_images(f"![a]({'a' * length})")) is found


@pytest.mark.parametrize(
    ("target", "elsewhere"),
    [
        ("https://example.org/x.jpg", True),
        ("HTTP://example.org", True),
        ("//example.org/x.jpg", True),
        ("data:image/png;base64,x", True),
        ("mailto:a@example.org", True),
        ("svn+ssh://x", True),
        ("x-a.b:c", True),
        ("a.jpg", False),
        ("../a/index.md", False),
        ("/a.jpg", False),
        ("#top", False),
        ("", False),
        ("1:2.jpg", False),
        ("a b:c.jpg", False),
        (":x", False),
        ("a//b", False),
    ],
)
def test_what_leads_out_of_the_folder(target: str, elsewhere: bool) -> None:
    """A scheme (RFC 3986, 3.1: a letter first) or a host."""
    assert is_elsewhere(target) is elsewhere
    assert [image.elsewhere for image in find_images(f"![c]({target})")] == [elsewhere]


WORDS = st.sampled_from(
    ["Riveted", "the *rib*,", "see [this](page.md)", "5 < 6 & so", "(well)", "[note]", "a!", "**two**"]
)


@st.composite
def pictured(draw: st.DrawFn) -> str:
    """Paragraphs, lists, quotes, spans and fences with pictures whose names need no escapes."""
    number = 0

    def picture() -> str:
        nonlocal number
        number += 1
        caption = draw(st.sampled_from(["", "a rib", "two [left] ribs", "a `b` c", "one\nrib"]))
        name = f"p{number}" + draw(st.sampled_from([".jpg", "(1).jpg", "%20b.jpg", '.jpg "title"']))
        return f"![{caption}]({name})"

    def line() -> str:
        parts = []
        for _ in range(draw(st.integers(1, 4))):
            kind = draw(st.sampled_from(["words", "picture", "span"]))
            parts.append(
                draw(WORDS) if kind == "words" else picture() if kind == "picture" else f"`` code {picture()} ` ``"
            )
        return " ".join(parts)

    blocks = []
    for _ in range(draw(st.integers(1, 5))):
        kind = draw(st.sampled_from(["text", "list", "quote", "fence", "head", "note", "private"]))
        text = line()
        flat = text.replace("\n", " ")
        blocks.append(
            {
                "text": text,
                "list": f"- {flat}",
                "quote": f"> {flat}",
                "fence": f"```\n{text}\n```",
                "head": f"## {flat}",
                "note": f"!!! note\n    {flat}",
                "private": f"!!! private\n    {flat}",
            }[kind]
        )
    return "\n\n".join(blocks)


@settings(max_examples=60)
@given(pictured())
def test_pictures_are_those_that_markdown_sees(body: str) -> None:
    """Law against Python-Markdown: the same pictures in the same order, the private ones in its private notes."""
    html = markdown.markdown(body, extensions=list(EXTENSIONS))
    seen = [(unquote(src), alt) for alt, src in re.findall(r'<img alt="([^"]*)" src="([^"]*)"', html)]
    images = find_images(body)
    assert [image.target for image in images] == [src for src, _ in seen]
    whole = ET.fromstring(f"<div>{html}</div>")
    private = [
        unquote(image.get("src", ""))
        for note in whole.iter("div")
        if "private" in note.get("class", "").split()
        for image in note.iter("img")
    ]
    public = targets(cut_private(body))
    assert [image.target for image in images if image.target not in public] == private


@given(st.text("ab![]()<>`\\\n \"'%20:/", max_size=60))
def test_where_pictures_stand(body: str) -> None:
    """Apart and in order, each where its line and column say."""
    before = 0
    for image in find_images(body):
        assert before <= image.start < image.end <= len(body)
        assert body[image.start : image.start + 2] == "!["
        assert body[image.end - 1] == ")"
        lines = body.split("\n")
        assert sum(len(one) + 1 for one in lines[: image.line - 1]) + image.column - 1 == image.start
        before = image.end


# ------------------------------------------------------------------------------------------ the tree


def token(number: int) -> str:
    """What stands for a picture while Markdown is read."""
    return f"{PICTURE_OPEN}{number}{PICTURE_CLOSE}"


@pytest.mark.parametrize(
    ("body", "source", "names"),
    [
        ("no picture", "no picture", ()),
        ("a ![x](one.jpg) b ![y](two.jpg) c", f"a {token(0)} b {token(1)} c", ("one.jpg", "two.jpg")),
        ("![x](a.jpg) ![x](a.jpg)", f"{token(0)} {token(1)}", ("a.jpg", "a.jpg")),
        ("a <!-- ![x](one.jpg) --> b", "a  b", ()),
        ("a <!-- x\n\ny", "a ", ()),
        ("![their wing](https://example.org/w.jpg)", "[their wing](<https://example.org/w.jpg>)", ()),
        ("![](//example.org/w.jpg)", "[picture](<//example.org/w.jpg>)", ()),
        ("![a [b] c](https://example.org)", "[a b c](<https://example.org>)", ()),
        ("![x](https://example.org/a b)", "x", ()),
        ("![x](https://example.org/%3Cb%3E) y", "x y", ()),
        ("![z](https://example.org) ![x](a.jpg)", f"[z](<https://example.org>) {token(0)}", ("a.jpg",)),
        ("[![x](https://example.org/a.jpg)](https://example.net)", "[x](https://example.net)", ()),
        ("[a ![x](https://example.org/a.jpg) b](b.md) c", "[a x b](b.md) c", ()),
        ("[a] ![x](https://example.org) (b)", "[a] [x](<https://example.org>) (b)", ()),
        ("![x](https://example.org) a](b)", "[x](<https://example.org>) a](b)", ()),
        (f"a {PICTURE_OPEN}7{PICTURE_CLOSE} b", "a 7 b", ()),
        ("`![x](a.jpg)`", "`![x](a.jpg)`", ()),
    ],
)
def test_pictures_are_taken_out_of_a_body(body: str, source: str, names: tuple[str, ...]) -> None:
    """A numbered token for each of the folder; a picture of another host becomes a link; comments go first."""
    assert take_images(body) == (source, names)


@given(pictured())
@settings(max_examples=40)
def test_tokens_are_numbered_as_the_names(body: str) -> None:
    """From nought, each once, one for each picture."""
    source, names = take_images(body)
    assert PICTURE.findall(source) == [str(number) for number in range(len(names))]
    assert list(names) == targets(body)


def test_tokens_are_characters_that_nobody_writes() -> None:
    """Of the private use area (Unicode 16.0, 23.5), one on each side of the number."""
    assert take_images("a ![x](y.jpg) b") == ("a \ue0f00\ue0f1 b", ("y.jpg",))
    assert (PICTURE_OPEN, PICTURE_CLOSE, PICTURE.findall("\ue0f012\ue0f1 3\ue0f1")) == ("\ue0f0", "\ue0f1", ["12"])


def test_html_is_written_as_html() -> None:
    """Not as XHTML: no stroke in an empty element."""
    assert new_markdown().convert("a  \nb\n\n---") == "<p>a<br>\nb</p>\n<hr>"


def test_no_words_move_the_footnotes() -> None:
    """They stand at the end: what Markdown takes for their place would take the words around it away."""
    assert (
        new_markdown().convert("Before ///Footnotes Go Here/// after.")
        == "<p>Before ///Footnotes Go Here/// after.</p>"
    )
    told = tree_of("Before ///Footnotes Go Here/// after[^1].\n\n[^1]: Why.\n")
    assert "Before ///Footnotes Go Here/// after" in "".join(told.itertext())


MACHINE = new_markdown()


def tree_of(body: str) -> ET.Element:
    """The element tree of a body."""
    return parse_tree(MACHINE, body)


def outline(element: ET.Element) -> str:
    """Tags as they nest: `div(p(em) ul(li li))`."""
    inner = " ".join(outline(child) for child in element)
    return f"{element.tag}({inner})" if inner else str(element.tag)


@pytest.mark.parametrize(
    ("body", "nested"),
    [
        ("a *b* **c**", "p(em strong)"),
        ("# A\n\n###### F", "h1 h6"),
        ("- a\n- b\n\n1. c", "ul(li li) ol(li)"),
        ("> a", "blockquote(p)"),
        ("| a | b |\n|---|--:|\n| 1 | 2 |", "table(thead(tr(th th)) tbody(tr(td td)))"),
        ('!!! note "T"\n    a', "div(p p)"),
        ("a  \nb", "p(br)"),
        ("---", "hr"),
        ("[a](b.md)", "p(a)"),
        ("<b>a</b>", "p"),
        ("<div>\n\na\n\n</div>", "p p p"),
        ("<script>x</script>", "p"),
        ("    code", "pre(code)"),
        ("#40 wandered\n\na\n##40\n\n# 40 h\n\n#Ribs\n\n###### #6", "p p h1 h1 h6"),
        ("- [ ] a\n- [X] b *c*\n- [a] b\n- [ ]", "ul(li(span) li(span em) li li)"),
        ("- [x] a\n\n- b", "ul(li(p(span)) li(p))"),
        ("", ""),
    ],
)
def test_what_bodies_may_hold(body: str, nested: str) -> None:
    """Plain Markdown and the extensions named; raw HTML is text, never markup."""
    assert " ".join(outline(child) for child in tree_of(body)) == nested


def test_tasks_are_told_with_their_signs() -> None:
    """A sign as it was written, and whether the task is done; an item of paragraphs holds it in the first."""
    text = "- [ ] drill\n- [x]  deburr *all*\n- [X] prime\n\n    and wait\n\n- prime"
    tasks = [(item.get("class"), *item.iter("span")) for item in tree_of(text).iter("li")]
    told = [(kind, sign.get("class"), sign.text, sign.tail) for kind, sign in tasks[:3]]
    assert told == [
        ("task-list-item", "task", "[ ]", " drill"),
        ("task-list-item", "task done", "[x]", " deburr "),
        ("task-list-item", "task done", "[X]", " prime"),
    ]
    assert tasks[3:] == [(None,)]
    assert "".join(tree_of("- [x] a *b*").itertext()).strip() == "[x] a b"


def test_the_anchor_of_a_block_goes_by_its_letters_and_figures() -> None:
    """Whatever marks, tags, attributes and addresses stand among them; addresses of old pages stay."""
    # CRC-32 (ISO 3309) of "ribdimpled5".
    assert block_anchor("Rib dimpled: 5.") == "said-fd57ac8a"
    for words in ("RIB <b>dimpled</b> 5", "R\u00edb {: .x} dimpled https://x.example/y 5", "Rib dimpled a@x.example 5"):
        assert block_anchor(words) == block_anchor("Rib dimpled: 5.")
    assert block_anchor("\u2014 <b>!</b>") == ""


def test_headings_carry_ids_of_any_letters() -> None:
    """Each once; the same heading again gets a number."""
    assert [child.get("id") for child in tree_of("# Fl\u00fcgel links\n\n# Fl\u00fcgel links\n\n# ")][:2] == [
        "fl\u00fcgel-links",
        "fl\u00fcgel-links_1",
    ]


def test_nothing_of_one_body_is_left_for_the_next() -> None:
    """Footnotes, references and stashed code are those of the body at hand."""
    tree_of("a[^1] [b][r]\n\n[^1]: note\n\n[r]: x.md\n")
    tree = tree_of("c[^1] [b][r]")
    assert "".join(tree.itertext()).strip() == "c[^1] [b][r]"
    assert outline(tree) == "div(p)"


def test_footnotes_lead_back() -> None:
    """The way back is said in words."""
    links = [link.get("title") for link in tree_of("a[^1]\n\n[^1]: note").iter("a") if link.get("title")]
    assert links == ["Back to the text"]


def test_a_fenced_block_is_found_again() -> None:
    """Its raw piece by the text that stands for it; other text stands for none."""
    tree = tree_of("```\n<x> & y\n```")
    raw = stashed(MACHINE, f"\n{tree[0].text} ")
    assert raw is not None
    assert "&lt;x&gt; &amp; y" in raw
    assert stashed(MACHINE, f"{tree[0].text} and more") is None
    assert stashed(MACHINE, "plain") is None
    count = len(MACHINE.htmlStash.rawHtmlBlocks)
    for number in (count, count + 1, 99):
        assert stashed(MACHINE, f"\x02wzxhzdk:{number}\x03") == ""
    assert stashed(MACHINE, f"\x02wzxhzdk:{count - 1}\x03") == raw


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ("plain", "plain"),
        ("a &copy; b &amp; c &#233;", "a \u00a9 b & c \u00e9"),
        (r"\*a\* \\ \`", r"*a* \ `"),
        ("<me@example.org>", "me@example.org"),
        ("`a < b`", "a &lt; b"),
        ("5 < 6", "5 < 6"),
    ],
)
def test_texts_read_as_they_are_meant(body: str, said: str) -> None:
    """Character references, escapes and hidden addresses."""
    text = "".join(tree_of(body).itertext())
    assert unstash(MACHINE, text).strip() == said


def test_a_hidden_address_in_a_link() -> None:
    """Python-Markdown writes mail addresses as character references."""
    (link,) = tree_of("<me@example.org>").iter("a")
    assert unstash(MACHINE, link.get("href", "")) == "mailto:me@example.org"
    assert unstash(MACHINE, "\x02amp\x03#65;\x02amp\x03 \x0266\x03") == "A& B"
