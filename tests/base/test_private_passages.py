"""Private passages of a body: what is cut, what stays, what is doubtful. Held against Python-Markdown."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Sequence

import markdown
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from journal.base import private_passages, prose_tree
from journal.base.private_passages import cut_private, find_passages, private_lines, without_pictures


def words(body: str) -> list[str]:
    """The code words of what is unclear."""
    return [word for _, word, _, _ in find_passages(body).unclear]


def flags(body: str) -> str:
    """`-` for each line that followers see, `P` for each that they do not."""
    return "".join("P" if private else "-" for private in private_lines(body))


# ------------------------------------------------------------------------------------------ private


@pytest.mark.parametrize(
    ("body", "lines"),
    [
        ("", "-"),
        ("a\nb", "--"),
        ("!!! private\n    one\n    two\n\nthree", "PPPP-"),
        ("!!! private\n    one\n\n    two\n\nthree", "PPPPP-"),
        ("!!! private\n\n    one\n  two\n\nthree", "PPPPP-"),
        ("!!! private\n one\n\nthree", "PPP-"),
        ("!!! private\n    one\n\n    > two\n\nthree", "PPPPP-"),
        ("!!! private\n\tone\n\nthree", "PPP-"),
        ("!!! private\n\none\n\ntwo", "PPPP-"),
        ("!!! private", "P"),
        ('!!! private "With a title"\n    one\n\ntwo', "PPP-"),
        ("!!! PRIVATE\n    one\n\ntwo", "PPP-"),
        ("!!!private\n    one\n\ntwo", "PPP-"),
        ("??? private\n    one\n\ntwo", "PPP-"),
        ("???+ private\n    one\n\ntwo", "PPP-"),
        ("!!! private danger\n    one\n\ntwo", "PPP-"),
        ("!!! private: what it cost\n    one\n\ntwo", "PPP-"),
        ("！！！ private\n    one\n\ntwo", "PPP-"),
        ("!!! pri\u00advate\n    one\n\ntwo", "PPP-"),
        ("<!-- a -->!!! private\n    one\n\ntwo", "PPP-"),
        ("a !!! private\n    one", "--"),
        ("- [x] !!! private\n    one\n\ntwo", "PPP-"),
        ("a) !!! private\n    one\n\ntwo", "PPP-"),
        ("Great!! It is done.\n\n?? pilot", "---"),
        ("!!! note\n    one", "--"),
        ("!!! privity\n    one", "--"),
        ("`x` !!! private\n\none", "---"),
        ('!!! note "private"\n    one', "--"),
        ("!! note private\n    one", "--"),
        ("!!! extraordinarily\n    one", "--"),
        ("`!!! private` hides\n\n    one", "---"),
        ("- a\n\n    !!! private\n        one\n\n    two\n\nthree", "--PPP---"),
        ("- a\n    !!! private\n        one\n\n    two", "-PPP-"),
        ("\t!!! private\n\t\tone\n\n\ttwo", "PPP-"),
        ("    !!! private\n\t\tone\n\n\ttwo", "PPP-"),
        ("\t!!! private\n\n    one\n\ntwo", "PPPP-"),
        ("!!! private\n    one\n!!! private\n    two\n\nthree", "PPPPP-"),
        ("!!! private\n    one\n    !!! private\n    two\n\nthree", "PPPPP-"),
        ("```\n!!! private\n    one\n\n```", "-PPP-"),
        ("!!! note\n    a\n\n    !!! private\n        one\n\n    b", "---PPP-"),
    ],
)
def test_the_lines_of_a_private_passage(body: str, lines: str) -> None:
    """The opening line and all after it that are blank or indented more deeply; a tab is four columns."""
    assert flags(body) == lines
    assert "private-unclear" not in words(body)


@pytest.mark.parametrize(
    ("body", "lines"),
    [
        ("> !!! private\n>     one\n>\n>     two\n>\n> three\n\nfour", "PPPPP---"),
        (">> !!! private\n>>     one\n\ntwo", "PPP-"),
        ("- !!! private\n    one\n- two\n\nthree", "PP---"),
        ("1. !!! private\n    one\n\n    two\n2. three", "PPPP-"),
        ("- a\n- !!! private\n    one\n\n    more\n\nthree", "-PPPPP-"),
        ("- > !!! private\n  >     one\n\ntwo", "PPP-"),
        ("> - > !!! private\n>   >     one\n>   >\n>   > two\n\nthree", "PPP---"),
        ("a[^1] b\n\n[^1]: !!! private\n    one\n\ntwo", "--PPP-"),
    ],
)
def test_a_passage_in_a_quote_a_list_or_a_footnote(body: str, lines: str) -> None:
    """As in plain text, of what is quoted or listed; it is cut and no error."""
    assert flags(body) == lines
    assert words(body) == []


@pytest.mark.parametrize(
    ("body", "lines", "unindented"),
    [
        ("!!! private\n    one\ntwo\n\nthree", "PPPP-", (3,)),
        ("!!! private\none\ntwo\n\nthree", "PPPP-", ()),
        ("!!! private\n\n## one\ntwo\n\nthree", "PPPPP-", ()),
        ("!!! private\n\none\n## two\n\nthree", "PPPPP-", ()),
        ("!!! private\n    one\n- two\n- three\n\nfour", "PPPPP-", (3, 4)),
        ("!!! private\n    one\n## two", "PP-", ()),
        ("!!! private\n    one\n!!! note\n    two", "PP--", ()),
        ("- a\n    !!! private\n        one\n    two", "-PPP", (4,)),
        ("- !!! private\n    one\ntwo\n\nthree", "PPPP-", (3,)),
        ("> !!! private\n>     one\n> two\nthree\n\n> four", "PPPPP-", (3, 4)),
    ],
)
def test_a_line_that_only_lacks_its_indent_is_private_too(body: str, lines: str, unindented: tuple[int, ...]) -> None:
    """As an editor wraps long lines; what begins something new (heading, box) is not taken along. Where nothing at
    all is indented, that is the error.
    """
    assert flags(body) == lines
    assert find_passages(body).unindented == unindented


@pytest.mark.parametrize(
    ("body", "lines", "line"),
    [
        ("!!! privateer\n    one\n\ntwo", "PPP-", 1),
        ("a\n\n!!! privat\n    one\n\ntwo", "--PPP-", 3),
        ("!! private\n    one\n\ntwo", "PPP-", 1),
        ("!!! note private\n    one\n\ntwo", "PPP-", 1),
        ("**!!! private**\n    one\n\ntwo", "PPP-", 1),
        ("| !!! private | one |\n    | a |\n\ntwo", "PPP-", 1),
        ("\\!!! private\n    one\n\ntwo", "PPP-", 1),
        ("`!!! private\n    one` x\n\ntwo", "PPP-", 1),
        ("!!! priv\n    one\n\ntwo", "PPP-", 1),
        ("!!! privet\n    one\n\ntwo", "PPP-", 1),
        ("!!! prevaten\n    one\n\ntwo", "PPP-", 1),
        ("!!! privé\n    one\n\ntwo", "PPP-", 1),
        ("<b>!!! private</b>\n    one\n\ntwo", "PPP-", 1),
        ("\\!\\!\\! private\n    one\n\ntwo", "PPP-", 1),
        ("! private\n    one\n\ntwo", "PPP-", 1),
        ("! ! ! private\n    one\n\ntwo", "PPP-", 1),
        ("❗❗❗ private\n    one\n\ntwo", "PPP-", 1),
        ("> [!PRIVATE]\n>     one\n\ntwo", "PPP-", 1),
        ("::: private\n    one\n\ntwo", "PPP-", 1),
        ("~~~ private\n    one\n\ntwo", "PPP-", 1),
    ],
)
def test_a_mark_that_is_nearly_right_hides_and_is_told(body: str, lines: str, line: int) -> None:
    """Whoever writes it means to hide what follows."""
    assert flags(body) == lines
    assert [(at, word) for at, word, _, _ in find_passages(body).unclear] == [(line, "private-unclear")]
    assert "one" not in cut_private(body)


@pytest.mark.parametrize(
    "body",
    [
        "&#33;!! private\n\n    one",
        "a\n\n&excl;!! private\n\n    one",
    ],
)
def test_where_the_two_judgements_differ_nothing_is_published(body: str) -> None:
    """What reads as a private passage in the end, though no line opens one."""
    assert cut_private(body) == ""
    (told,) = find_passages(body).unclear
    assert told[1:] == (
        "private-unclear",
        "a line reads as the opening of a private passage and is none",
        "write `!!! private` at the left edge, and indent what is private by four spaces",
    )
    assert all(private_lines(body))
    assert find_passages(f"![x](a.jpg)\n\n{body}").shown == frozenset()


@pytest.mark.parametrize(
    "body",
    [
        "!!! private\n    one",
        "a\n\n!!! private\n    one\n\nb",
        "> !!! private\n>     one",
        "- !!! private\n\n        one",
        "!!! private\n    ```\n    one\n    ```",
        "!!! private\n    | a | one |\n    |---|---|\n    | b | c |",
        "!!! private\n    one\n\nmany public words that the lines take for private",
        "public code\n\n!!! private\n    one\n    two",
    ],
)
def test_the_second_judgement_stands_in_for_the_first(body: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Were only the marks cut and not what they hide, nothing of the text would be published all the same."""

    def marks_alone(lines: Sequence[str], marks: Sequence[object]) -> tuple[list[bool], list[int]]:
        return [mark is not None or "public" in line for line, mark in zip(lines, marks, strict=True)], []

    monkeypatch.setattr(private_passages, "_private_lines", marks_alone)
    find_passages.cache_clear()
    assert cut_private(body) == ""
    assert "private-unclear" in words(body)
    find_passages.cache_clear()


@pytest.mark.parametrize(
    "body", ["!!! private\n    one", "a\n\n!!! note Private\n    one", "a <!<!-- b -->-- c -->", "<!<!-- a -->--"]
)
def test_what_cannot_be_cut_out_keeps_all_of_it_back(body: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A box that no line opens, a comment that comes of cutting another one."""
    monkeypatch.setattr(private_passages, "_private_lines", lambda lines, _: ([False] * len(lines), []))
    find_passages.cache_clear()
    told = find_passages(body)
    assert (told.public, told.shown) == ("", frozenset())
    assert "a private passage stands where it cannot be cut out" in [said for _, _, said, _ in told.unclear]
    find_passages.cache_clear()


def test_what_gives_markdown_up_is_not_published(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody can tell what of it is private."""

    def give_up(*_: object) -> None:
        raise RecursionError

    monkeypatch.setattr(prose_tree, "parse_tree", give_up)
    told = find_passages("deep\n\n!!! private\n    one")
    assert (told.public, told.shown) == ("", frozenset())
    assert [said for _, _, said, _ in told.unclear] == ["the text is nested too deeply to tell what in it is private"]
    find_passages.cache_clear()


def test_what_the_public_text_places() -> None:
    """Pictures in it, by name and by a definition; those of a private passage only where they stand there too."""
    body = "![a](one.jpg) ![b][p]\n\n!!! private\n    ![c](two.jpg) ![d][p] ![e](one.jpg)\n\n[p]: ./three%201.jpg\n"
    found = find_passages(body)
    assert found.shown == {"one.jpg", "three 1.jpg"}
    assert [found.names(name) for name in ("one.jpg", "two.jpg", "three 1.jpg")] == [True, True, True]


def test_words_of_links_are_read_and_numbers_of_footnotes_are_not() -> None:
    """The one are the builder's, the others are counted anew with every cut."""
    tree = prose_tree.parse_tree(private_passages._machine(), "[one](b.md) two[^1]\n\n[^1]: three")
    said = re.findall(r"\b\w{1,5}\b", private_passages._reads_as(tree, " "))
    assert said == ["one", "two", "three"]


@pytest.mark.slow
def test_what_is_nested_beyond_reason_is_not_published() -> None:
    """Markdown gives up on it, and so nobody can tell."""
    found = find_passages("\n".join("    " * depth + "- x" for depth in range(300)) + "\n\n!!! private\n    one")
    assert found.public == ""
    assert [said for _, _, said, _ in found.unclear] == ["the text is nested too deeply to tell what in it is private"]


@pytest.mark.parametrize(
    "line", ["private: true", "private:", "  private = yes", "Private: on", "- private: true", "**private: true**"]
)
def test_a_key_in_the_text_is_told_and_hides_all(line: str) -> None:
    """Somebody wrote it below the front matter."""
    found = find_passages(f"a\n\n{line}\n\nb")
    assert found.public == ""
    said = f'"{line.strip()}" stands in the text, where it hides nothing'
    hint = "write it between the two lines of `---` at the head of the file"
    assert found.unclear == ((3, "private-unclear", said, hint),)
    assert find_passages("a\n\nprivate: true story\n\nb").public
    assert find_passages(f"![x](a.jpg)\n\n{line}").shown == frozenset()


def test_a_picture_by_its_number_alone() -> None:
    """Without its ending, as people speak of it; a short name without a figure is a word."""
    found = find_passages("!!! private\n    IMG_0012 and rib and ab1 and abc1\n\nx")
    names = ("IMG_0012.jpg", "IMG_001.jpg", "rib.jpg", "ab1.jpg", "abc1.jpg")
    assert [found.names(name) for name in names] == [True, False, False, False, True]


def test_pictures_by_definition_are_left_out() -> None:
    """In full, by their words and in short; another one stays."""
    body = "![one][p] ![p] ![two][q] ![p](x.jpg)\n\n[p]: ./a%201.jpg\n[q]: b.jpg\n"
    assert without_pictures(body, ["a 1.jpg"]) == "  ![two][q] ![p](x.jpg)\n\n[p]: ./a%201.jpg\n[q]: b.jpg\n"
    assert without_pictures(body, ["c.jpg"]) == body


def test_how_a_slip_of_the_mark_is_told() -> None:
    """With its first forty letters, single spaces."""
    (told,) = find_passages(f"!!! privat   {'x' * 40}\n    one").unclear
    said = f'"!!! privat {"x" * 29}" is not how a private passage opens; it was taken for one'
    assert told == (1, "private-unclear", said, "write `!!! private` in a line of its own")


@pytest.mark.parametrize("body", ["!!! private\n<!-- c\n\n-->", "!!! private\nhush\n\n<!-- c"])
def test_a_passage_is_private_with_its_comments_and_without_them(body: str) -> None:
    """Whatever either reading takes for private is."""
    assert find_passages(body).private == (True, True, True, True)


@pytest.mark.parametrize(
    ("body", "public"),
    [
        ("a\n\n!!! private\n    x\n\nb", "a\n\nb"),
        ("a\n!!! private\n    x\n\nb", "a\n\nb"),
        ("!!! private\n    x", ""),
        ("a <!-- x --> b", "a  b"),
        ("a <!-- x\ny\n--> b <!-- z -->c", "a  b c"),
        ("a <!-- never closed\n\nb", "a "),
        ("a <!-- x\n!!! private\n    y --> z\n    z\n\nb", "a "),
        ("a --> b", "a --> b"),
        ("`<!-- x -->` b", "`` b"),
        ("a\n\n!!! private\n    x[^1]\n\n[^1]: y\n    z\n\nb", "a\n\n\n\nb"),
        ("a[^1]\n\n!!! private\n    x[^1]\n\n[^1]: y", "a[^1]\n\n[^1]: y"),
        ("a [1]\n\n!!! private\n    x[^1]\n\n[^1]: y\n\nb", "a [1]\n\n\n\nb"),
        ("a [1]\n\n!!! private\n    x\n\n[^1]: y", "a [1]\n\n[^1]: y"),
        ("a[^10]\n\n!!! private\n    x[^1]\n\n[^1]: y\n\n[^10]: z", "a[^10]\n\n\n\n[^10]: z"),
        ("a [1] b[^10]\n\n!!! private\n    x\n\n[^1]: y\n\n[^10]: z", "a [1] b[^10]\n\n[^1]: y\n\n[^10]: z"),
        ("a[^1] b[^2]\n\n[^1]: !!! private\n    x\n\n[^2]: !!! private\n    y\n\nc", "a b\n\nc"),
        ("a[^1] b[^2]\n\n[^1]: !!! private\n    x\n\n[^2]: c", "a b[^2]\n\n[^2]: c"),
    ],
)
def test_what_may_be_published_of_a_body(body: str, public: str) -> None:
    """Without private passages and without comments, also where they cross; one never closed hides the rest."""
    assert cut_private(body) == public


@pytest.mark.parametrize(
    ("body", "lines"),
    [
        ("!!! private\n    x", []),
        ("!!! private\nx", [1]),
        ("!!! private\n\nx", [1]),
        ("!!! private", [1]),
        ("!!! private\n\n\nx", [1]),
        ("!!! private\n\n    x", []),
        ("a\n\n!!! private\n\nb\n\n!!! private\n    c\n\n!!! private\n", [3, 10]),
        ("!!! private\n!!! private\n    x", [1]),
        ("!!! private\n    !!! private\n        x", [1]),
        ("!!! private\n    x\n    !!! private\n    y", []),
        ("- a\n\n    !!! private\n\n    x", [3]),
        ("- !!! private\n- x", [1]),
        ("> !!! private\n>\n> x", [1]),
        ("> !!! private\n>\n>     x", []),
        ("!!! note\nx", []),
        ("a\nb", []),
    ],
)
def test_private_marks_that_hide_nothing(body: str, lines: list[int]) -> None:
    """By line; what follows such a mark would be published, so the reader makes an error of it."""
    said = "nothing is indented under `!!! private`, so nothing is sure to be hidden"
    told = [one for one in find_passages(body).unclear if one[1] == "private-empty"]
    assert told == [(line, "private-empty", said, "indent the private lines by four spaces") for line in lines]


@pytest.mark.parametrize(
    ("body", "named"),
    [
        ("!!! private\n    ![x](a.jpg)", True),
        ("!!! private\n    see a.jpg", True),
        ("!!! private\nsee\na.jpg", True),
        ("!!! private\n    ![x][p]\n\n[p]: a.jpg", True),
        ("!!! private\n    ![x][p] and ![y][q]\n\n[p]: a.jpg\n[q]: b.jpg", True),
        ("!!! private\n    see [xp] and [px]\n\n[p]: a.jpg", False),
        ("!!! private\n    `![x](a.jpg)", True),
        ("```\n!!! private\n    ![x](a.jpg)", True),
        ("> !!! private\n> ![x](A.JPG)", True),
        ("!!! private\n    ![x](my%20a.jpg)", True),
        ("<!-- ![x](a.jpg) -->", True),
        ("!!! private\n    ![x](aa.jpg)", False),
        ("!!! private\n    _a.jpg_ shows it", True),
        ("!!! private\n    see a\\.jpg", True),
        ("!!! private\n    big-a.jpg", True),
        ("!!! private\n    a\u00ad.jpg", True),
        ("!!! private\n    ａ.jpg", True),
        ("!!! private\n    y\n\n![x](a.jpg)", False),
        ("!!! private\n    y\n\n![x][p]\n\n[p]: a.jpg", False),
        ("!!! private\n    ![x][P]\n\n[p]: ./a.jpg", True),
        ("![x](a.jpg)", False),
    ],
)
def test_a_picture_named_in_private(body: str, named: bool) -> None:
    """In whatever way: as a picture, by a definition elsewhere, in code, in a comment, in plain words."""
    file = "my a.jpg" if "my" in body else "a.jpg"
    assert find_passages(body).names(file) is named


MARKS = [
    "!!! private",
    '!!! private "Ours"',
    "!!! Private",
    "!!! note",
    "- item",
    "1. item",
    "> quote",
    "## Head",
    "---",
]


@st.composite
def noted(draw: st.DrawFn) -> str:
    """Lines of one word each at various depths among notes and lists; each word is found once."""
    lines = []
    for number in range(draw(st.integers(1, 10))):
        kind = draw(st.sampled_from(["word", "word", "mark", "blank"]))
        depth = " " * draw(st.sampled_from([0, 0, 4, 4, 8, 2]))
        if kind == "blank":
            lines.append("")
        else:
            lines.append(depth + (f"word{number}x" if kind == "word" else draw(st.sampled_from(MARKS))))
    return "\n".join(lines)


@settings(max_examples=150)
@given(noted())
@example("!!! private\n    word1x\n\n    word2x\nword3x")
@example("- item\n\n    !!! private\n        word3x\n\n    word5x")
def test_nothing_that_markdown_takes_for_private_is_published(body: str) -> None:
    """Law against Python-Markdown: no word inside a note of class `private` is left in the public text."""
    whole = ET.fromstring(f"<div>{markdown.markdown(body, extensions=['admonition', 'sane_lists'])}</div>")
    inside = [note for note in whole.iter("div") if "private" in note.get("class", "").split()]
    hidden = {word for note in inside for text in note.itertext() for word in re.findall(r"word\d+x", text)}
    assert not hidden & set(re.findall(r"word\d+x", cut_private(body)))


@given(noted(), st.text("ab !?\n-`<>", max_size=40))
def test_cutting_is_done_once_and_adds_nothing(body: str, more: str) -> None:
    """What is published holds no further private line; every line of it stood there, in that order."""
    text = f"{body}\n{more}"
    assert len(private_lines(text)) == text.count("\n") + 1
    public = cut_private(text)
    if "<!--" not in text:
        assert not any(private_lines(public))
        kept = iter(line for old in text.split("\n") for line in (old, ""))
        assert public == "" or all(line in kept for line in public.split("\n"))
