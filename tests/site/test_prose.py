"""Bodies as HTML: pictures, links, raw HTML, terms."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from laying import LayContext
from making import entry

from journal.base.model import Term
from journal.base.prose import block_anchor
from journal.finding.documents import plain_blocks
from journal.site.pages import context_pages
from journal.site.prose_html import EMPTY, Prose, ProseRenderer, prose_as_json, prose_from_json
from journal.site.site_context import SiteContext
from journal.view.page_links import linker_for
from journal.view.terms import TermMarker
from journal.view.view import Audience


def prose_of(context: SiteContext, entry_id: str) -> Prose:
    """The body of one entry as its page has it."""
    return context.prose(context.addresses.entries[entry_id])


def body_of(lay: LayContext, body: str, **more: str | bytes) -> str:
    """The HTML of a body in an entry of its own, without the ids that blocks have by their words."""
    context = lay({"entries/2026-04-01-x/index.md": entry("title: X\ndate: 2026-04-01", body), **more})
    return re.sub(r'<span id="said-\w+"></span>| id="said-\w+"', "", prose_of(context, "2026-04-01-x").html)


def test_a_picture_becomes_a_sized_figure_with_its_caption(lay: LayContext) -> None:
    """Width and height stand in the page, every width is offered, and the caption is the photo's own."""
    html = prose_of(lay(), "2026-02-07-second").html
    assert '<figure class="shot" id="photo-1">' in html
    assert (
        'srcset="../../pictures/one-480.jpg 480w, ../../pictures/one-960.jpg 960w, ../../pictures/one-1920.jpg 1920w"'
        in html
    )
    assert 'width="1920" height="1440"' in html
    assert '<span class="caption">A rib with its holes</span>' in html
    assert '<span class="when">7 February 2026</span>' in html


def test_a_figure_never_stands_inside_a_paragraph(lay: LayContext) -> None:
    """HTML does not allow it, and a picture in mid-sentence moves behind its paragraph."""
    html = body_of(lay, "before ![mid](a.jpg) after", **{"entries/2026-04-01-x/a.jpg": b"a"})
    assert "<p>before  after</p>" in html
    assert html.index("</p>") < html.index("<figure")


def test_a_picture_placed_twice_has_one_id(lay: LayContext) -> None:
    """IDs of a page are unique."""
    html = body_of(lay, "![a](a.jpg)\n\ntext\n\n![a](a.jpg)", **{"entries/2026-04-01-x/a.jpg": b"a"})
    assert html.count("<figure") == 2
    assert html.count('id="photo-1"') == 1


@pytest.mark.parametrize(
    "evil",
    [
        "<script>alert(1)</script>",
        '<img src="x" onerror="alert(1)">',
        "<iframe src='https://example.org'></iframe>",
        "<div onclick=x>\n\nhello\n\n</div>",
        "text <b onmouseover=alert(1)>bold</b>",
    ],
)
def test_raw_html_is_shown_as_text(lay: LayContext, evil: str) -> None:
    """Nothing pasted into an entry becomes markup."""
    html = body_of(lay, evil)
    for tag in ("<script", "<img", "<iframe", "<div", "<b "):
        assert tag not in html
    assert "&lt;" in html


@pytest.mark.parametrize("target", ["javascript:alert(1)", "data:text/html,x", "file:///etc/passwd", "vbscript:x"])
def test_links_that_run_or_read_are_only_words(lay: LayContext, target: str) -> None:
    """Web, mail and telephone addresses are the only outside links."""
    html = body_of(lay, f"[press]({target}) <{target}>")
    assert "href" not in html
    assert "press" in html


def test_links_between_entries_lead_to_their_pages(lay: LayContext) -> None:
    """Links are written to files, and followed on the site."""
    html = prose_of(lay(), "2026-02-07-second").html
    assert 'href="../../entries/2026-02-01-first/"' in html
    assert 'href="../../pages/about/"' in html
    assert 'href="https://example.org/rivet" rel="noopener"' in html


def test_offline_links_name_the_file(lay: LayContext) -> None:
    """A file address has no directory index."""
    html = prose_of(lay(offline=True, audience=Audience.ARCHIVE), "2026-02-07-second").html
    assert 'href="../../entries/2026-02-01-first/index.html"' in html


def test_a_link_to_a_private_entry_is_only_words_in_public(lay: LayContext) -> None:
    """The address alone would tell that there is something."""
    html = body_of(lay, "[that day](../2026-02-08-secret/index.md)")
    assert "secret" not in html
    assert "<span>that day</span>" in html


def test_a_picture_of_another_host_becomes_a_link(lay: LayContext) -> None:
    """No page asks another host for anything."""
    html = body_of(lay, "![their wing](https://example.org/wing.jpg)")
    assert "<img" not in html
    assert '<a href="https://example.org/wing.jpg" rel="noopener">their wing</a>' in html


def test_a_reference_picture_becomes_its_words(lay: LayContext) -> None:
    """`![alt][ref]` cannot place a photo either, wherever it points."""
    html = body_of(lay, "![their wing][w]\n\n[w]: https://example.org/wing.jpg")
    assert "<img" not in html
    assert "their wing" in html


def test_private_passages_and_comments_are_not_there(lay: LayContext) -> None:
    """Followers get neither; the archive gets the passage, marked as private."""
    files = {
        "entries/2026-04-01-x/index.md": entry(
            "title: X\ndate: 2026-04-01", "a\n\n<!-- hush -->\n\n!!! private\n    mum\n\nb"
        )
    }
    public = prose_of(lay(files), "2026-04-01-x").html
    archive = prose_of(lay(files, audience=Audience.ARCHIVE), "2026-04-01-x").html
    assert "mum" not in public
    assert '<div class="admonition private">' in archive
    assert "mum" in archive
    assert "hush" not in public + archive


MARKDOWN = {
    "paragraphs": "One *two* **three** `four & <five>`\nfive.\n\nZürich, ﬁne ½; 1 \\* 2 &amp; ~~old~~ <b>new</b>",
    "headings": "# Head\n\nText\n## `code` & [link](../x/index.md)\nmore\n\nUnderlined\n=====",
    "addresses": "At <https://x.example/a_b>, https://y.example/c or <ada@x.example> [z][z]\n\n[z]: https://z.example",
    "lists": "- one\n- two\n  and on\n\n1. three\n\n    more of it\n\n- four\n    - five\n- [x] six\n\nText:\n- none",
    "not a list": "1) one\n2) two\n\n2026. was the year",
    "tables": "| a | b |\n|---|---|\n| c | `d` |\n\ne | f\n---|---\ng | h\ni | j\n\nafter",
    "quotes": "> quoted\n> on\nand lazily\n\nLine\n> again\n>\n> - item\n> - other",
    "notes": '!!! note "Mind"\n    the gap\n\n    - of two\n\nA foot[^1].\n\n[^1]: Its note.',
    "code": "```\nx = 0.125  # in\n\n- y\n```\n\ntext",
    "alike": "The same.\n\nThe same.\n\n# The same",
}


@pytest.mark.parametrize("kind", MARKDOWN)
def test_every_block_can_be_led_to(lay: LayContext, kind: str) -> None:
    """What finding reads as a block has its id on the page, once; a page that quotes it and a feed have none."""
    context = lay({"entries/2026-04-01-x/index.md": entry("title: X\ndate: 2026-04-01", MARKDOWN[kind])})
    prose = prose_of(context, "2026-04-01-x")
    ids = re.findall(r'id="(said-\w+)"', prose.html)
    assert {block_anchor(block) for block, _ in plain_blocks(MARKDOWN[kind])} <= set(ids)
    assert len(ids) == len(set(ids))
    assert not any("said-" in html for html, _ in prose.passages)


def test_the_title_is_not_said_twice(lay: LayContext) -> None:
    """The first heading is often the title, which stands in the title block."""
    html = body_of(lay, "# x\n\nText.\n\n# Other\n\n## Deeper\n\nLast.")
    assert "<h1" not in html
    assert ">x<" not in html
    assert '<h2 id="other">Other</h2>' in html
    assert '<h3 id="deeper">Deeper</h3>' in html


@pytest.mark.parametrize("body", ["## x\n\nText.\n\nLast.", "X\n---\n\nText.\n\nLast."])
def test_the_title_as_a_heading_of_the_second_level_is_not_said_twice(lay: LayContext, body: str) -> None:
    """Where it stands first; further down it is a heading like any other."""
    assert body_of(lay, body) == "<p>Text.</p>\n<p>Last.</p>"
    assert '<h2 id="x">X</h2>' in body_of(lay, "Text.\n\n## X")


def test_tables_code_notes_and_footnotes_come_through(lay: LayContext) -> None:
    """What Markdown can hold here appears; alignment is a class, not a style."""
    html = body_of(lay, "| a | b |\n|---|--:|\n| 1 | 2 |\n\n```\n<x> & y\n```\n\nword[^1]\n\n[^1]: the note\n")
    assert '<table class="prose-table">' in html
    assert '<td class="at-right">2</td>' in html
    assert "style=" not in html
    assert "&lt;x&gt; &amp; y" in html
    assert "the note" in html


@pytest.mark.parametrize(
    ("written", "told"),
    [("123456", "234566"), ("14", "23"), ("3414", "2323"), ("6", "2"), ("25234", "23234")],
)
def test_headings_go_down_one_level_at_a_time(lay: LayContext, written: str, told: str) -> None:
    """They begin below the page's own title, and the sixth level is the last."""
    body = "\n\n".join(f"{'#' * int(level)} Part {number}" for number, level in enumerate(written))
    assert re.findall(r"<h(\d)", body_of(lay, f"Text.\n\n{body}")) == list(told)


def test_a_link_within_the_page_stays(lay: LayContext) -> None:
    """It leads to a heading."""
    html = body_of(lay, "[down](#other)\n\n## Other")
    assert '<a href="#other">down</a>' in html
    assert '<h2 id="other">' in html


def test_prose_that_was_kept_is_the_prose_that_was_made(lay: LayContext) -> None:
    """A site made again takes it from the cache."""
    context = lay()
    prose = prose_of(context, "2026-02-07-second")
    kept = prose_from_json(prose_as_json(prose), {term.name: term for term in prose.terms})
    assert (kept, bool(prose.lead), bool(prose.placed)) == (prose, True, True)


def test_the_lead_is_the_first_paragraph_as_words(lay: LayContext) -> None:
    """Cards and descriptions hold no markup, and where a picture stands no words."""
    context = lay(
        {
            "entries/2026-04-01-x/index.md": entry(
                "title: X\ndate: 2026-04-01",
                "![a](a.jpg)\n\n**Bold** `code` & [link](../2026-02-01-first/index.md).\n\nMore.",
            ),
            "entries/2026-04-01-x/a.jpg": b"a",
        }
    )
    prose = prose_of(context, "2026-04-01-x")
    assert (prose.lead, prose.text) == ("Bold code & link.", "Bold code & link. More.")


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ("Ask <ada@example.org> first", "Ask ada@example.org first"),
        ("AT&T, &copy; 2026, 1 &lt; 2 and \\*", "AT&T, © 2026, 1 < 2 and *"),
        ("`a & <b>` and `&lt;`", "a & <b> and &lt;"),
        ("    drill & <ream>", "drill & <ream>"),
        ("one\n\n```\nfenced & <b>\n```\n\nmore", "one more"),
        ("set[^1] here\n\n[^1]: with *care*", "set here with care"),
    ],
)
def test_words_are_said_as_they_read(lay: LayContext, body: str, said: str) -> None:
    """In cards, feeds and descriptions as on the page: no signs of HTML for letters, no numbers of footnotes, no code
    that stands in a fence.
    """
    context = lay({"entries/2026-04-01-x/index.md": entry("title: X\ndate: 2026-04-01", body)})
    assert prose_of(context, "2026-04-01-x").text == said


def test_a_card_does_not_say_its_title_twice(lay: LayContext) -> None:
    """A row of a table that became an entry is one sentence, and that is its title."""
    bodies = {"x": "Bus bar made.", "y": "Bus bar made. Then the next."}
    matter = "title: Bus bar made\ndate: 2026-04-01"
    files = {f"entries/2026-04-01-{name}/index.md": entry(matter, body) for name, body in bodies.items()}
    context = lay(files)
    leads = [context.card(context.addresses.entries[f"2026-04-01-{name}"]).lead for name in bodies]
    assert leads == ["", "Bus bar made. Then the next."]


def test_passages_carry_no_ids_and_no_tips(lay: LayContext) -> None:
    """They stand on pages beside passages of other entries: an ID would meet its like."""
    passages = prose_of(
        lay({"entries/2026-04-01-x/index.md": entry("title: X\ndate: 2026-04-01", "## Head\n\nA rivet and a dimple.")}),
        "2026-04-01-x",
    ).passages
    html = "".join(passage for passage, _ in passages)
    assert "id=" not in html
    assert "popover" not in html
    assert "rivet" in html


def test_terms_are_explained_at_their_first_use(lay: LayContext) -> None:
    """The tip links to the list of terms; the prose tells which terms it used."""
    context = lay(
        {"entries/2026-04-01-x/index.md": entry("title: X\ndate: 2026-04-01", "A dimple here, a dimple there.")}
    )
    prose = prose_of(context, "2026-04-01-x")
    assert prose.html.count("popovertarget") == 1
    assert 'href="../../terms/#term-' in prose.html
    assert len(prose.terms) == 1


def test_mail_addresses_stay_links(lay: LayContext) -> None:
    """Markdown hides them as character references; they are still links."""
    html = body_of(lay, "<us@example.org>")
    assert '<a href="&#109;' in html


def test_a_name_in_another_unicode_form_is_the_same_photo(lay: LayContext) -> None:
    """Some systems write an accent apart from its letter; the reader takes both for one file, and so does the page."""
    apart, together = "Rippe u\u0308ber.jpg", "Rippe \u00fcber.jpg"
    files = {
        "entries/2026-04-01-x/index.md": entry("title: X\ndate: 2026-04-01", f"![a]({together})"),
        f"entries/2026-04-01-x/{apart}": b"a",
    }
    context = lay(files)
    assert prose_of(context, "2026-04-01-x").placed == {apart}


def test_own_pages_may_show_pictures_of_entries(lay: LayContext) -> None:
    """Named by their way from the page; a private one stays away, and no id meets another."""
    body = "![rib](../entries/2026-02-07-second/one.jpg)\n\n![no](../entries/2026-02-07-second/three.jpg)"
    pages = list(context_pages(lay({"pages/about.md": f"# About\n\n{body}\n"})))
    html = next(page.html for page in pages if page.address == "pages/about/")
    assert html.count("<figure") == 1
    assert "../../pictures/one-480.jpg" in html
    assert "id=" not in html


def test_what_is_struck_through_and_tasks_come_through(lay: LayContext) -> None:
    """`~~`, lists of tasks, and a bracket that is none; a single tilde is a sign like any other."""
    body = "About ~60 N, ~~62~~ 65 in-lb\n\n- [ ] prime *both*\n- [x] sweep\n- [y] no task\n\n1. [X] first\n\n   more\n"
    html = body_of(lay, body)
    assert "About ~60 N, <del>62</del> 65 in-lb" in html
    assert '<li class="task-list-item"><span class="task">[ ]</span> prime <em>both</em></li>' in html
    assert '<li class="task-list-item"><span class="task done">[x]</span> sweep</li>' in html
    assert "<li>[y] no task</li>" in html
    assert html.count('class="task done"') == 2


GOLDEN = Path(__file__).with_name("prose.golden.txt")
BODIES = (
    "# X\n\ntext",
    "## x\n\n# X",
    "### X\n\ntext",
    "text\n\n#### Y\n\n# Z `z`\n\n###### Q *q*",
    "a rib, a ribs",
    "### Rib",
    "![c](a.jpg)",
    "a ![c](a.jpg) b ![d](b.jpg) c",
    "![c](a.jpg) ![c](a.jpg)\n\n![d](b.jpg)",
    "- one ![c](a.jpg)\n- two",
    "- one\n\n    ![c](a.jpg)\n\n- two",
    "> ![c](a.jpg)\n> y\n\nx",
    "**a *b* ![c](a.jpg)**  \nd",
    "![c](no.jpg) x",
    "## ![c](a.jpg)",
    "![c](u\u0308.jpg)",
    "![c](\u00e9.jpg)",
    "![r][p]\n\n[p]: https://x.example/a.jpg",
    "![][p]\n\n[p]: https://x.example/a.jpg",
    "| a | b | c |\n|:--|--:|---|\n| ![c](a.jpg) | rib | d |",
    "[l](../b/index.md#p) [m](https://x.example/y) [n](javascript:x) [o](#p) [q](none.md) [r](//x.example)",
    "```\na <b> & rib\n```\n\nb",
    "```\na\n```\n\n```\na\n```",
    "- one\n\n    ```\n    two\n    ```\n\n    three",
    "    code rib",
    "1. a\n2. b\n\n    > c\n\n    | d |\n    |---|\n    | e |",
    "x[^1] y[^1]\n\n[^1]: foot",
    "same\n\nsame\n\nSame!",
    "- a\n- b\n    - c\n    - a\n\n> a\n>\n> b",
    "a \\* c![c](a.jpg)d",
    "\u2014\n\na\tb\n c",
    '!!! note "T"\n    a rib\n\n    ![c](a.jpg) b',
)


@pytest.mark.parametrize(("explain", "anchored"), [(True, True), (True, False), (False, False)])
def test_what_comes_of_bodies_as_it_was_last_accepted(
    pytestconfig: pytest.Config, explain: bool, anchored: bool
) -> None:
    """Every way in which text, pictures, links and code may stand; also for a page that quotes it, and for a feed."""
    figure: Any = lambda box, linker, first, eager: f"<figure>{box} {first} {eager}</figure>"  # noqa: E731
    renderer = ProseRenderer(
        addresses={"entries/b/index.md": "entries/b/"},
        figure=figure,
        marker=TermMarker([Term(names=("rib",), meaning="Ours.")]),
        term_address=lambda term: f"terms/#{term.name}",
    )
    boxes: Any = {"a.jpg": "A", "b.jpg": "B", "\u00fc.jpg": "U", "e\u0301.jpg": "E"}
    told = []
    for body in BODIES:
        prose = renderer.render(
            body,
            src_uri="entries/a/index.md",
            title="X",
            linker=linker_for("entries/a/"),
            boxes=boxes,
            explain=explain,
            anchored=anchored,
        )
        rest = prose.text, prose.lead, sorted(prose.placed), [term.name for term in prose.terms], prose.passages
        told.append(f"{body}\n=> {prose.html}\n{rest}\n")
    said = "\n".join(told)
    parts = f"== explained {explain}, anchored {anchored}\n"
    kept = GOLDEN.read_text("utf-8") if GOLDEN.exists() else ""
    if pytestconfig.getoption("--rewrite-goldens"):
        GOLDEN.write_text(
            re.sub(rf"{parts}.*?(?=^== |\Z)", "", kept, flags=re.DOTALL | re.MULTILINE) + parts + said, "utf-8"
        )
    else:
        assert parts + said in kept
    blank = renderer.render(" \n", src_uri="", title="", linker=linker_for(""), boxes={})
    assert blank is EMPTY
