"""Links in prose: what leads to nothing, to a private page, or to another host's picture."""

from __future__ import annotations

import pytest
from making import MakeBuild, entry, read, words

from journal.ledger.links import check_links, find_links, find_targets


def test_links_to_nothing_are_found(make_build: MakeBuild) -> None:
    """Links in code, to other hosts, to headings and to pages that are there are left alone."""
    body = (
        "[good](../b/index.md) [also](../../pages/about.md#kit) [out](https://example.org) [here](#x)\n"
        "`[code](nowhere.md)`\n\n```\n[code](nowhere.md)\n```\n\n[bad](../c/index.md)"
    )
    files = {
        "entries/a/index.md": entry("", body),
        "entries/b/index.md": entry("date: 2026-02-08"),
        "pages/about.md": "# About\n",
    }
    build, _ = read(make_build(files))
    problems = check_links(build)
    assert [(p.word, p.line, p.column) for p in problems] == [("broken-link", 14, 1)]


def test_a_link_to_a_private_entry_is_told(make_build: MakeBuild) -> None:
    """Followers see its words without a link; from one private page to another all is well."""
    files = {
        "entries/a/index.md": entry("", "[the evening](../b/index.md)"),
        "entries/b/index.md": entry("date: 2026-02-08\nprivate: true", "[back](../a/index.md) [self](../b/index.md)"),
    }
    problems = check_links(read(make_build(files))[0])
    assert [(p.word, p.file) for p in problems] == [("private-link", "content/entries/a/index.md")]


def test_a_slip_in_a_link_gets_the_nearest_page(make_build: MakeBuild) -> None:
    """The hint is written as the link should be."""
    files = {
        "entries/2026-02-07-ribs/index.md": entry("", "[x](../2026-02-08-skin/index.md)"),
        "entries/2026-02-08-skins/index.md": entry("date: 2026-02-08"),
    }
    problems = check_links(read(make_build(files))[0])
    assert problems[0].hint == 'did you mean "../2026-02-08-skins/index.md"?'


def test_a_picture_that_a_free_page_does_not_show_is_told(make_build: MakeBuild) -> None:
    """One of an entry stands there; one of nothing, and a private one, vanish from the page."""
    body = "![a](../entries/a/IMG_1.jpg) ![b](IMG_1.jpg) ![c](../entries/b/IMG_2.jpg)"
    files = {
        "entries/a/index.md": entry(""),
        "entries/a/IMG_1.jpg": b"",
        "entries/b/index.md": entry("date: 2026-02-08\nprivate: true"),
        "entries/b/IMG_2.jpg": b"",
        "pages/about.md": body,
    }
    problems = check_links(read(make_build(files))[0])
    assert [(p.word, p.column) for p in problems] == [("picture-unshown", 30), ("picture-unshown", 46)]


def test_a_picture_of_another_host_is_told(make_build: MakeBuild) -> None:
    """No page of the site may ask another host for anything."""
    problems = check_links(read(make_build({"entries/a/index.md": entry("", "![x](https://example.org/x.jpg)")}))[0])
    assert words(problems) == ["picture-elsewhere"]


@pytest.mark.parametrize(
    ("text", "links"),
    [
        ("[a](b.md)", [("b.md", 0)]),
        ("x [a](b.md) [c](d.md)", [("b.md", 2), ("d.md", 12)]),
        ("[a]( b.md)", [("b.md", 0)]),
        ("[a](<b c.md>)", [("b c.md", 0)]),
        ('[a](b.md "title")', [("b.md", 0)]),
        ("[a](b(1).md)", [("b(1).md", 0)]),
        ("[a](b(1)c(2).md)", [("b(1)c(2).md", 0)]),
        ("[a [b] c](d.md)", [("d.md", 0)]),
        ("[a\nb](c.md)", [("c.md", 0)]),
        ("![a](b.jpg)", []),
        ("\\[a](b.md)", []),
        ("[a]()", []),
        ("[a](<>)", []),
        ("[a] (b.md)", []),
        ("`[a](b.md)` [c](d.md)", [("d.md", 12)]),
        ("```\n[a](b.md)\n```", []),
        ("[a]: b.md", [("b.md", 0)]),
        ("[a][x]\n\n   [x]: <b.md>", [("b.md", 8)]),
        ("    [x]: b.md", []),
        ("[x]:b.md", [("b.md", 0)]),
        ("[a](b.md)\n\n[x]: c.md", [("b.md", 0), ("c.md", 11)]),
        ("[![a](b.jpg)](c.md)", [("c.md", 0)]),
    ],
)
def test_links_as_markdown_writes_them(text: str, links: list[tuple[str, int]]) -> None:
    """Inline and by definition, with brackets and spaces; pictures and code are none."""
    assert list(find_links(text)) == links


FILES = {
    "entries/a/index.md": entry("", "x\n\n  [one](../nowhere/index.md) and [two](../b/)\n\n[three](../b/index.md#x)"),
    "entries/b/index.md": entry(
        "date: 2026-02-08\nprivate: true\nphotos: {p.jpg: {private: true}}", "[a](../a/one%20two.jpg) ![p](p.jpg)"
    ),
    "entries/a/one two.jpg": b"x",
    "entries/b/p.jpg": b"y",
    "entries/c/index.md": entry(
        "date: 2026-02-09\ndraft: true",
        "[p](../b/p.jpg)\n\n!!! private\n    [hidden](../b/index.md)\n    ![far](https://example.org/f.jpg)",
    ),
    "inspections/d/index.md": "---\ndate: 2026-02-10\nassembly: flaps\ninspector: insp\noutcome: passed\n---\n"
    "\n[e](../../pages/abot.md) [l](../d/index.md)\n",
    "pages/about.md": "# About\n\n[b](../entries/b/index.md)\n\n[x]: ../somewhere/quite/else.md\n",
}
ELSEWHERE = "link to another entry as ../FOLDER/index.md, to a page as ../../pages/NAME.md"
HIDDEN = "leads to a private page; on the site its words stand without a link"
NOTHING = "leads to nothing that is in the journal"


def test_links_word_for_word(make_build: MakeBuild) -> None:
    """Every kind in every kind of text, each at its place in the file."""
    found = [
        (p.file.removeprefix("content/"), p.line, p.column, p.word, p.message, p.hint)
        for p in check_links(read(make_build(FILES))[0])
    ]
    assert found == [
        ("entries/a/index.md", 9, 3, "broken-link", f'the link "../nowhere/index.md" {NOTHING}', ELSEWHERE),
        ("entries/a/index.md", 9, 34, "private-link", f'the link "../b/" {HIDDEN}', ""),
        ("entries/a/index.md", 11, 1, "private-link", f'the link "../b/index.md#x" {HIDDEN}', ""),
        ("entries/c/index.md", 8, 1, "private-link", f'the link "../b/p.jpg" {HIDDEN}', ""),
        (
            "entries/c/index.md",
            12,
            5,
            "picture-elsewhere",
            'the picture "https://example.org/f.jpg" lies on another host; the site shows a link in its place',
            "put the file into the entry's folder",
        ),
        (
            "inspections/d/index.md",
            8,
            1,
            "broken-link",
            f'the link "../../pages/abot.md" {NOTHING}',
            'did you mean "../../pages/about.md"?',
        ),
        ("pages/about.md", 3, 1, "private-link", f'the link "../entries/b/index.md" {HIDDEN}', ""),
        ("pages/about.md", 5, 1, "broken-link", f'the link "../somewhere/quite/else.md" {NOTHING}', ELSEWHERE),
    ]


def test_a_footnote_is_no_link(make_build: MakeBuild) -> None:
    """`[^1]: See …` defines a note; a link inside it is looked at as any other."""
    body = "Torqued[^1].\n\n[^1]: See the [manual](../nowhere/index.md)."
    root = make_build({"entries/2026-02-07-x/index.md": entry("title: X", body)})
    told = [problem.message for problem in check_links(read(root)[0])]
    assert told == ['the link "../nowhere/index.md" leads to nothing that is in the journal']


@pytest.mark.parametrize(
    ("body", "lines"),
    [
        ("One[^1], two[^a].\n\n[^1]: First.\n[^a]: Other.\n", []),
        ("One[^1].\n\n[^1]: First.\n[^1]: Second.\n\n[^1]: Third.\n", [10, 11]),
        ("One[^1].\n\n```\n[^1]: First.\n```\n\n[^1]: Second.\n", []),
    ],
)
def test_a_footnote_that_another_takes_the_place_of_is_told(make_build: MakeBuild, body: str, lines: list[int]) -> None:
    """Markdown shows the last of those of one name, and the words of the others nowhere."""
    problems = check_links(read(make_build({"entries/a/index.md": entry("title: T", body)}))[0])
    assert [(p.word, p.line) for p in problems] == [("footnote-twice", line) for line in lines]


def test_pictures_of_pages_and_footnotes_word_for_word(make_build: MakeBuild) -> None:
    """A page may show a public picture of an entry alone; a note that another takes the place of is told."""
    body = "One[^1].\n\n[^1]: First.\n\n   [^1]: ![a](../entries/a/IMG_1.jpg) ![b](../entries/a/no.jpg)"
    files = {"entries/a/index.md": entry(""), "entries/a/IMG_1.jpg": b"", "pages/about.md": f"# About\n\n{body}\n"}
    found = check_links(read(make_build(files))[0])
    assert [(p.file, p.line, p.column, p.word, p.message, p.hint) for p in found] == [
        (
            "content/pages/about.md",
            5,
            1,
            "footnote-twice",
            'the footnote "[^1]" is written more than once, and this one is shown nowhere',
            "give each a name of its own",
        ),
        (
            "content/pages/about.md",
            7,
            39,
            "picture-unshown",
            'the picture "../entries/a/no.jpg" is none that an entry shows, and stands nowhere on the page',
            "name one of an entry: ../entries/FOLDER/FILE",
        ),
    ]


def test_where_a_link_and_where_its_target_begins() -> None:
    """Behind the bracket, and behind the sign that may stand around it; inline first, then definitions."""
    text = "see [a](b.md) and [c]( <d e.md>)\n\n[x]: <f.md>\n[y]: g.md"
    assert [(target, text[at:][:3], text[of:][: len(target)]) for target, at, of in find_targets(text)] == [
        ("b.md", "[a]", "b.md"),
        ("d e.md", "[c]", "d e.md"),
        ("f.md", "[x]", "f.md"),
        ("g.md", "[y]", "g.md"),
    ]


@pytest.mark.parametrize(("link", "guess"), [("../abcdefghij.md", True), ("../abcdefxyij.md", False)])
def test_only_what_is_very_much_alike_is_guessed(make_build: MakeBuild, link: str, guess: bool) -> None:
    """One letter of ten, not two: a wrong guess costs more than none."""
    files = {"entries/a/index.md": entry("", f"[x]({link})"), "entries/abcdefghik.md": entry("date: 2026-02-08")}
    (problem,) = check_links(read(make_build(files))[0])
    assert problem.hint.startswith("did you mean") is guess


def test_links_of_drafts_and_measurements_are_looked_at(make_build: MakeBuild) -> None:
    """And a link may lead to them, to their folder, and with a sign written as a figure; a draft that is private is."""
    head = "---\ndate: 2026-02-10\nassembly: flaps\nmeasured_by: ada\nresults: [{what: gap, value: 2 mm}]\n---\n\n"
    files = {
        "measurements/gap/index.md": head + "[x](../../entries/a%62/index.md) [bad](x.md)\n",
        "entries/ab/index.md": entry("draft: true\nprivate: true", "[m](../../measurements/gap) [bad](x.md)"),
        "entries/c/index.md": entry("date: 2026-02-09", "[self](#here) [d](../ab/)"),
    }
    found = check_links(read(make_build(files))[0])
    assert [(p.file.split("/")[2], p.word) for p in found] == [
        ("c", "private-link"),
        ("ab", "broken-link"),
        ("gap", "private-link"),
        ("gap", "broken-link"),
    ]
