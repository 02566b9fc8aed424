"""Links in prose: what leads to nothing, to a private page, or to another host's picture."""

from __future__ import annotations

from making import MakeBuild, entry, read, words

from journal.ledger.links import check_links


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


def test_a_picture_of_another_host_is_told(make_build: MakeBuild) -> None:
    """No page of the site may ask another host for anything."""
    problems = check_links(read(make_build({"entries/a/index.md": entry("", "![x](https://example.org/x.jpg)")}))[0])
    assert words(problems) == ["picture-elsewhere"]
