"""Posts of earlier years: each an entry of its day, its words in which nothing hides, its pictures with it."""

from __future__ import annotations

from pathlib import Path

import pytest
from cameras import take
from click.testing import CliRunner, Result
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from making import BUILD_YML, MakeBuild, read

from journal.base.model import Entry
from journal.base.private_passages import find_passages
from journal.base.problems import has_errors
from journal.commands.intake.grids import read_any_text
from journal.commands.main import main
from journal.reading.text import Notes

ONE = BUILD_YML.replace("role: builder}\n  hanne", "role: helper}\n  hanne")


@pytest.fixture
def root(make_build: MakeBuild) -> Path:
    """A build of one builder, without entries."""
    return make_build({"build.yml": ONE})


def adopt(root: Path, posts: dict[str, str], *options: str) -> Result:
    """`journal adopt` of a folder of posts beside the build, or of the one file that it holds."""
    blog = root.with_name(f"{root.name}-blog")
    for name, text in posts.items():
        (blog / name).parent.mkdir(parents=True, exist_ok=True)
        (blog / name).write_text(text, "utf-8")
    return CliRunner().invoke(main, ["adopt", "--build", str(root), str(blog), *options])


def entries(root: Path) -> dict[str, Entry]:
    """By day; none of them has an error."""
    build, problems = read(root)
    assert not has_errors(problems)
    return {one.date.isoformat(): one for one in (*build.entries, *build.drafts)}


@pytest.mark.parametrize(
    ("name", "text", "day"),
    [
        ("a.html", '<meta property="article:published_time" content="2019-03-14T23:30:00Z"><p>x</p>', "2019-03-15"),
        (
            "a.html",
            '<article><h1>t</h1><time datetime="2019-03-14T23:30:00-07:00">x</time><p>x</p></article>',
            "2019-03-14",
        ),
        ("2019/03/14/a.html", "<p>x</p>", "2019-03-14"),
        ("2019-03-14 ribs/index.html", "<p>x</p>", "2019-03-14"),
        ("14-March-2019.html", "<p>x</p>", "2019-03-14"),
        ("a.html", "<p>Veröffentlicht am 14. März 2019</p><p>x</p>", "2019-03-14"),
        ("a.html", "<p>x</p><p>Posted on 3/14/2019</p>", "2019-03-14"),
        ("a.md", "---\ndate: 2019-03-14 18:00\ntags: [[a], b]\n---\nx", "2019-03-14"),
        ("2019-03-14.md", "---\ndate: 0001-01-01T00:00:00Z\n---\n" + "x", None),
        ("a.md", '+++\ndate = "2019-03-14"\n+++\nx', "2019-03-14"),
        ("2019-04-01.md", "# 14 mars 2019\n\nx", "2019-04-01"),
    ],
)
def test_the_day_of_a_post(root: Path, name: str, text: str, day: str | None) -> None:
    """Published time, `<time>`, front matter, folder or file, a line of the text, in this order; a moment in UTC is the
    day that it was where the build stands.
    """
    result = adopt(root, {name: text}, "--assembly", "flaps", "--write")
    assert result.exit_code == (0 if day else 1), result.output
    assert list(entries(root)) == ([day] if day else [])


NASTY = """<html><head><title>Nasty | Blog</title></head><body><nav>MENU</nav><article><h1>Nasty</h1>
<p>!!! private</p><p>&lt;!-- hidden? --&gt; no</p><!-- seen by nobody --><pre>!!! private
    code()</pre><p>---</p><p>date: x</p><p>&lt;script&gt;alert(1)&lt;/script&gt;</p><script>alert(2)</script>
<p onclick="x()"><a href="javascript:alert(1)">here</a> <a href="https://example.org/a b_(c)">there</a></p>
<blockquote><p>!!! private</p></blockquote><p>#40 bit, 1 * 2 * 3, __init__, ~~no~~, &amp;amp;</p>
<ul><li>one<ul><li>within</li></ul></li></ul><p>Hours: 2.5<br>Hours: 2.5</p></article></body></html>"""


def test_nothing_in_a_post_hides_or_is_html(root: Path) -> None:
    """Words stay words, whatever they would be in Markdown; scripts, navigation and comments stay behind."""
    assert adopt(root, {"flaps/2019-03-14.html": NASTY}, "--write").exit_code == 0
    entry = entries(root)["2019-03-14"]
    assert (entry.title, entry.assembly, entry.minutes) == ("Nasty", "flaps", 150)
    passages = find_passages(entry.body)
    assert not any(passages.private)
    assert not passages.hidden.strip()
    for gone in ("MENU", "seen by nobody", "alert(2)", "javascript", "<script", "<!--", "onclick", "Hours"):
        assert gone not in entry.body
    for kept in (
        "`!!!` `private`",
        "[there](https://example.org/a%20b_%28c%29)",
        r"\#40 bit, 1 \* 2 \* 3, \_\_init\_\_, \~~no\~~, &amp;amp;",
        "- one\n    - within",
    ):
        assert kept in entry.body


def test_what_lays_out_a_page_is_taken_apart(root: Path) -> None:
    """A film of elsewhere becomes a link, a table that holds paragraphs their words; one of figures stays a table."""
    page = """<meta name="keywords" content="ribs, flaps"><article><iframe src="https://video.example.org/1"></iframe>
<table><tr><td><p>Laid \ue000out</p></td><td>beside</td></tr></table><table><tr><th>a<th>b</tr><tr><td>1<td>2</table>
<p>Hours: 2</p><p>Hours: 3</p></article>"""
    result = adopt(root, {"2019-03-14.html": page}, "--write")
    assert result.exit_code == 0, result.output
    assert "its hours are told more than once, and are left out: 2, 3" in result.output
    entry = entries(root)["2019-03-14"]
    assert (entry.assembly, entry.minutes) == ("flaps", 0)
    link = "[https://video.example.org/1](https://video.example.org/1)"
    assert entry.body.startswith(f"{link}\n\nLaid out\n\nbeside\n\n| a | b |\n| --- | --- |\n| 1 | 2 |")


def test_a_page_nested_beyond_reason_is_refused(root: Path) -> None:
    """It is named, and nothing of it is written."""
    result = adopt(root, {"2019-03-14.html": "<div>" * 3000 + "x"}, "--assembly", "flaps", "--write")
    assert result.exit_code == 1
    assert "its parts lie too deep in one another; take it over by hand" in result.output
    assert entries(root) == {}


def test_pictures_come_along_at_their_place(root: Path, tmp_path: Path) -> None:
    """From beside the post, from the folder that an old address names, with their captions; others are told."""
    blog = root.with_name(f"{root.name}-blog")
    take(blog / "img/rib é 1.jpg", shade=1)
    take(blog / "img/large.jpg", shade=2)
    take(blog / "uploads/2019/03/wp.jpg", shade=3)
    take(blog.with_name("outside.jpg"), shade=4)
    page = """<article><p>One</p><figure><img src="../img/rib%20%C3%A9%201.jpg?w=300">
    <figcaption>The rib</figcaption></figure><p>Two</p>
    <a href="../img/large.jpg"><img src="../img/small.jpg" alt="Large"></a>
    <img src="https://old.example.org/uploads/2019/03/wp.jpg" alt="Kept"><img src="https://old.example.org/large.jpg">
    <img src="../../outside.jpg"><img src="data:image/png;base64,AA"><img src="gone.jpg" alt="Gone">
    <img src="http://[x.jpg"><img src="%00.jpg"><img src="LONG.jpg"><img src="moving.gif"></article>"""
    page = page.replace("LONG", "x" * 300)
    result = adopt(root, {"flaps/2019-03-14.html": page, "flaps/2019-03-15.html": page}, "--write")
    assert result.exit_code == 0, result.output
    entry = entries(root)["2019-03-14"]
    assert [one.name for one in entry.photos] == ["large.jpg", "rib é 1.jpg", "wp.jpg"]
    body = " ".join(entry.body.split())
    assert body.startswith("One ![The rib](rib%20%C3%A9%201.jpg) Two ![Large](large.jpg)")
    assert len(entries(root)["2019-03-15"].photos) == 3
    for said in (
        "a picture behind an address is not fetched: https://old.example.org/large.jpg",
        "a picture outside the folder that was named: ../../outside.jpg; name the folder above",
        "no picture lies at: gone.jpg",
        "a picture of a kind that is not taken: moving.gif",
        "a picture within the page itself is left out",
    ):
        assert said in result.output
    again = adopt(root, {}, "--write")
    assert "Written: 0 entries." in again.output


def test_what_a_post_does_not_tell_is_told(root: Path) -> None:
    """No day, no assembly, hours in words: listed by post; what was kept back becomes a draft, lists stay out."""
    several = (
        "<article><time datetime=2021-01-01></time>a</article><article><time datetime=2021-01-02></time>b</article>"
    )
    posts = {
        "undated.md": "# Words\n\nHours: a few",
        "2019-03-14.md": "---\ntags: [Left wing]\ndraft: true\n---\nNot yet. <!-- note -->",
        "2019-03-15.md": "Nowhere",
        "page2.html": several,
    }
    result = adopt(root, posts, "--write")
    assert result.exit_code == 1
    for said in (
        "undated.md: no day is told in it, nor in its name",
        'its hours cannot be told: "a few"',
        "no category, tag or folder of it is named like an assembly",
        "it was kept back there, and becomes a draft",
        "a comment that no reader saw is left out",
        "Left out, for they are no posts or list posts: page2.html.",
    ):
        assert said in result.output
    assert adopt(root, {}, "--assembly", "flaps", "--skip-faulty", "--write").exit_code == 0
    told = entries(root)
    assert (told["2019-03-14"].assembly, read(root)[0].drafts[0].id) == ("left-wing", "2019-03-14-not-yet")
    assert told["2019-03-15"].assembly == "flaps"


@pytest.mark.parametrize(
    ("matter", "draft"),
    [
        ("draft: true", True),
        ("draft: yes", True),
        ("private: 1", True),
        ("published: no", True),
        ("status: pending", True),
        ("visibility: private", True),
        ("password: x", True),
        ("hidden: {from: all}", True),
        ("tags: [flaps", True),
        ("title: 'Protected: ribs'", True),
        ("draft: false", False),
        ("published: 2019-03-14", False),
        ("status: published", False),
    ],
)
def test_what_was_kept_back_stays_back(root: Path, matter: str, draft: bool) -> None:
    """In doubt a post is a draft, which no site shows."""
    assert adopt(root, {"2019-03-14.md": f"---\n{matter}\n---\nx"}, "--assembly", "flaps", "--write").exit_code == 0
    assert entries(root)["2019-03-14"].draft == draft


def test_a_front_matter_that_does_not_end_keeps_a_post_back(root: Path) -> None:
    """What it would have said is not known."""
    assert adopt(root, {"2019-03-14.md": "---\nprivate: true\n\nx"}, "--assembly", "flaps", "--write").exit_code == 0
    assert entries(root)["2019-03-14"].draft


def test_a_post_with_a_password_in_a_feed_is_kept_back(root: Path) -> None:
    """Published there, and for those alone who know the word."""
    item = "<item><title>Ribs</title><pubDate>Thu, 14 Mar 2019 12:00:00 +0000</pubDate><description>x</description>"
    item += "<wp:status>publish</wp:status><wp:post_password>word</wp:post_password></item>"
    space = 'xmlns:wp="http://wordpress.org/export/1.2/"'
    feed = f'<rss version="2.0" {space}><channel>{item}</channel></rss>'
    assert adopt(root, {"feed.xml": feed}, "--assembly", "flaps", "--write").exit_code == 0
    assert entries(root)["2019-03-14"].draft


def test_a_feed_that_defines_words_of_its_own_is_refused(root: Path) -> None:
    """Nothing is expanded and nothing fetched."""
    feed = '<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/hostname">]><rss><channel><item><title>&a;</title></item>'
    assert "it defines words of its own (<!ENTITY)" in adopt(root, {"feed.xml": feed}).output


def test_a_feed_of_an_export_holds_more_than_posts(root: Path) -> None:
    """What was kept back becomes a draft, what is no post is told; paragraphs by blank lines, captions in brackets; the
    day is that of the place where it was written.
    """
    take(root.with_name(f"{root.name}-blog") / "up/2019/03/a.jpg", shade=1)
    items = """<item><title>Ribs</title><pubDate>Thu, 14 Mar 2019 23:30:00 +0000</pubDate><category>Flaps</category>
    <wp:post_date>2019-03-14 15:30:00</wp:post_date><wp:post_type>post</wp:post_type><wp:status>draft</wp:status>
    <content:encoded><![CDATA[First

Second <!-- more --> [caption width="9"]<img src="https://old.example.org/up/2019/03/a.jpg"> The rib[/caption]]]>
    </content:encoded></item><item><title>a.jpg</title><wp:post_type>attachment</wp:post_type></item>"""
    spaces = 'xmlns:content="http://purl.org/rss/1.0/modules/content/" xmlns:wp="http://wordpress.org/export/1.2/"'
    result = adopt(root, {"feed.xml": f'<rss version="2.0" {spaces}><channel>{items}</channel></rss>'}, "--write")
    assert result.exit_code == 0, result.output
    assert "Left out, for they are no posts or list posts: feed.xml (1 item)." in result.output
    assert "it was kept back there, and becomes a draft" in result.output
    draft = entries(root)["2019-03-14"]
    assert (draft.draft, draft.title, draft.assembly, [one.name for one in draft.photos]) == (
        True,
        "Ribs",
        "flaps",
        ["a.jpg"],
    )
    assert draft.body.split() == ["First", "Second", "![](a.jpg)", "The", "rib"]


_PIECES = st.sampled_from(
    (
        *(
            "!!! private",
            "??? private",
            "!! privat",
            "!",
            "private: true",
            "&lt;!-- ",
            " --&gt;",
            "<!-- x -->",
            "---",
            "\n",
        ),
        *(
            "<p>",
            "</p>",
            "<br>",
            "<pre>",
            "</pre>",
            "<blockquote>",
            "<ul><li>",
            "</ul>",
            "words",
            "    ",
            "[^1]: ",
            "&#33;",
            "~~~",
        ),
        *(
            "<b>",
            "<h2>",
            "<td>",
            "<table>",
            ":::",
            "```",
            "\\",
            "[!private]",
            "* ",
            "1. ",
            "❗❗ private",
            "<details>",
            "&amp;lt;",
        ),
    )
)


@pytest.mark.slow
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150, deadline=None)
@given(pieces=st.lists(_PIECES, max_size=16))
def test_no_post_opens_a_private_passage(root: Path, pieces: list[str]) -> None:
    """Whatever a page is made of, its entry holds nothing private, and no tag of HTML outside of code."""
    page = f"<article><h1>Title</h1><p>begun {''.join(pieces)} ended</p></article>"
    result = adopt(root, {"2019-03-14.html": page}, "--assembly", "flaps", "--beside", "--forget")
    assert result.exit_code == 0, (result.output, page)


@pytest.mark.parametrize(
    ("name", "text", "title"),
    [
        ("a.md", "---\ntitle: Ribs\ndate: 2019-03-14\n---\n# Spar\n\nWords.", "Ribs"),
        ("a.md", "---\ndate: 2019-03-14\n---\n# The *spar*\n\nWords.", "The spar"),
        ("a.md", "---\ndate: 2019-03-14\n---\nWords, and more of them.", "Words, and more of them"),
        # CommonMark 0.31, 4.2: a blank stands between the sign and the words of a heading.
        ("a.md", "---\ndate: 2019-03-14\n---\n#40 drill broke\n\n##5\n\n# Ribs", "Ribs"),
        ("a.html", '<article><h1>Ribs</h1><time datetime="2019-03-14">x</time><p>Words.</p></article>', "Ribs"),
        ("a.html", '<article><time datetime="2019-03-14">x</time><h3>Spar</h3><p>Words.</p></article>', "Spar"),
    ],
)
def test_the_title_of_a_post(root: Path, name: str, text: str, title: str) -> None:
    """As it says itself, else its first heading, which is no part of the words then, else its first words."""
    assert adopt(root, {name: text}, "--assembly", "flaps", "--write").exit_code == 0
    (made,) = entries(root).values()
    assert (made.title, made.body.count(title)) == (title, 1 if title.startswith("Words") else 0)


@pytest.mark.parametrize(
    ("data", "text", "told"),
    [
        (None, None, ["unreadable"]),
        (b"", "", []),
        ("Flügel".encode(), "Flügel", []),
        ("\ufeffFlügel".encode(), "Flügel", []),
        ("Flügel".encode("utf-16"), "Flügel", []),
        (b"\xfe\xff" + "Flügel".encode("utf-16-be"), "Flügel", []),
        ("a\nFlügel".encode("cp1252"), "a\nFlügel", ["not-utf8"]),
        (b"a\0b", None, ["not-text"]),
    ],
)
def test_a_text_in_any_of_the_usual_encodings(
    tmp_path: Path, data: bytes | None, text: str | None, told: list[str]
) -> None:
    """UTF-8 and UTF-16 as they are; Windows-1252 with a word of warning; what is no text is an error."""
    file, notes = tmp_path / "a.txt", Notes("a.txt")
    if data is not None:
        file.write_bytes(data)
    assert read_any_text(file, notes) == text
    assert len(notes.problems) == len(told)
    assert [one.word for one in notes.problems] == told or data is None
