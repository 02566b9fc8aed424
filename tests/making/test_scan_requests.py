"""What a page, a style or a script fetches when it is opened, by the HTML and CSS standards, and the words it tells."""

from __future__ import annotations

import pytest

from journal.making.scan_requests import read_html, requests_in_script, requests_in_style

OWN = "tarn.example"
FAR = "https://x.example/a"

# HTML Living Standard: attributes that make a browser fetch when the page opens; SVG 2: href of image, use, feImage.
FETCHING = [
    ("img", "src"),
    ("source", "src"),
    ("script", "src"),
    ("iframe", "src"),
    ("frame", "src"),
    ("embed", "src"),
    ("object", "data"),
    ("object", "codebase"),
    ("video", "src"),
    ("video", "poster"),
    ("audio", "src"),
    ("track", "src"),
    ("input", "src"),
    ("image", "href"),
    ("image", "xlink:href"),
    ("use", "href"),
    ("use", "xlink:href"),
    ("feImage", "href"),
    ("feImage", "xlink:href"),
    ("base", "href"),
    ("body", "background"),
    ("html", "manifest"),
]


@pytest.mark.parametrize(("tag", "attribute"), FETCHING)
def test_what_fetches_by_itself(tag: str, attribute: str) -> None:
    """From another host it is told, from our own and relatively it is not; capitals change nothing."""
    assert read_html(f'<{tag} {attribute}="{FAR}">', OWN)[0] == (FAR,)
    assert read_html(f'<{tag.upper()} {attribute.upper()}="//x.example/a">', OWN)[0] == ("//x.example/a",)
    assert read_html(f'<{tag} {attribute}="https://{OWN}/a">', OWN)[0] == ()
    assert read_html(f'<{tag} {attribute}="../a.png">', OWN)[0] == ()
    assert read_html(f"<{tag} {attribute}>", OWN)[0] == ()


@pytest.mark.parametrize("tag", ["img", "source"])
def test_every_candidate_of_a_source_set(tag: str) -> None:
    """Each by its address, whatever its width."""
    text = f'<{tag} srcset="a.jpg 1x, {FAR} 2x,, https://y.example/b 3x , ">'
    assert read_html(text, OWN)[0] == (FAR, "https://y.example/b")


@pytest.mark.parametrize(
    "text",
    [
        f'<a href="{FAR}">x</a>',
        f'<p src="{FAR}">',
        f'<link rel="canonical" href="{FAR}">',
        f'<link rel="alternate author" href="{FAR}">',
        f'<form action="{FAR}">',
        f'<blockquote cite="{FAR}">',
        f"<p>{FAR}</p>",
        f"<!-- <img src='{FAR}'> -->",
    ],
)
def test_what_is_only_followed_by_hand(text: str) -> None:
    """Links, forms, citations and comments fetch nothing."""
    assert read_html(text, OWN)[0] == ()


@pytest.mark.parametrize(
    "kind",
    ["canonical", "alternate", "license", "author", "me", "next", "prev", "help", "bookmark", "nofollow", "noopener"],
)
def test_kinds_of_links_that_fetch_nothing(kind: str) -> None:
    """HTML Living Standard, link types; beside one that fetches, the link fetches."""
    assert read_html(f'<link rel="{kind.upper()}" href="{FAR}">', OWN)[0] == ()
    assert read_html(f'<link rel="{kind} stylesheet" href="{FAR}">', OWN)[0] == (FAR,)


def test_all_kinds_of_links_that_fetch_nothing_at_once() -> None:
    """Together they fetch no more than each."""
    kinds = "canonical alternate license author me next prev help bookmark nofollow noopener"
    assert read_html(f'<link rel="{kinds}" href="{FAR}">', OWN)[0] == ()
    assert read_html(f'<link rel="{kinds} icon" href="{FAR}">', OWN)[0] == (FAR,)


@pytest.mark.parametrize(
    "kind", ["stylesheet", "icon", "preload", "preconnect", "dns-prefetch", "manifest", "prefetch", ""]
)
def test_kinds_of_links_that_fetch(kind: str) -> None:
    """And one that says nothing of itself could."""
    assert read_html(f'<link rel="{kind}" href="{FAR}">', OWN)[0] == (FAR,)
    assert read_html(f'<link href="{FAR}">', OWN)[0] == (FAR,)


@pytest.mark.parametrize(
    ("text", "requests"),
    [
        (f'<meta http-equiv="Refresh" content="0; URL=\'{FAR}\'">', (FAR,)),
        (f'<meta http-equiv="refresh" content="3;url={FAR}">', (FAR,)),
        (f'<img src="{FAR}, b.jpg 2x">', (f"{FAR}, b.jpg 2x",)),
        (f'<meta http-equiv="refresh" content="{FAR}">', ()),
        (f'<meta name="x" content="0; url={FAR}">', ()),
        (f'<a ping="{FAR} https://y.example/" href="x">', (FAR, "https://y.example/")),
        (f'<p style="background: url({FAR})">', (FAR,)),
        (f"<style>a{{b:url({FAR})}}</style>", (FAR,)),
        (f"<style>a{{b:c}}</style><p>url({FAR})</p>", ()),
        (f"<script>fetch('{FAR}')</script>", (FAR,)),
        (f"<script>1</script><p>fetch('{FAR}')</p>", ()),
        (f"<p>fetch('{FAR}') url({FAR})</p>", ()),
        (f"<iframe srcdoc=\"<img src='{FAR}'>\"></iframe>", (FAR,)),
        ('<iframe srcdoc="https://x.example/a"></iframe>', ()),
        (f'<img src="{FAR}"><img src="{FAR}">', (FAR,)),
        (f'<img src="{FAR}" /><svg><image href="https://y.example/"/></svg>', (FAR, "https://y.example/")),
    ],
)
def test_other_ways_to_fetch(text: str, requests: tuple[str, ...]) -> None:
    """Refreshing, pinging, styles, scripts and pages within the page; each address once."""
    assert read_html(text, OWN)[0] == requests


@pytest.mark.parametrize(
    ("address", "elsewhere"),
    [
        ("https://x.example/", True),
        ("HTTPS://x.example/", True),
        ("http://x.example", True),
        ("ws://x.example", True),
        ("wss://x.example", True),
        ("ftp://x.example", True),
        ("//x.example", True),
        (" //x.example ", True),
        ("https://tarn.example.evil.example/", True),
        ("https://tarn.example@x.example/", True),
        ("https://[broken", True),
        ("https://tarn.example/x", False),
        ("//TARN.example:8080/x", False),
        ("https://bo@tarn.example/x", False),
        ("/x", False),
        ("x//y", False),
        ("data:image/png;base64,AA//AA", False),
        ("mailto:a@x.example", False),
        ("", False),
    ],
)
def test_what_another_host_is(address: str, elsewhere: bool) -> None:
    """By the host of the address (RFC 3986, 3.2.2); one that cannot be read is not ours."""
    assert bool(read_html(f'<img src="{address}">', OWN)[0]) is elsewhere


@pytest.mark.parametrize(
    ("text", "requests"),
    [
        (f"@import '{FAR}';", (FAR,)),
        (f'@import "{FAR}" screen;', (FAR,)),
        (f"@IMPORT url({FAR});", (FAR,)),
        (f"@import url( '{FAR}' );", (FAR,)),
        (f"a{{b:url({FAR})}}", (FAR,)),
        (f'a{{b:URL("{FAR}")}}', (FAR,)),
        (f"a{{b:url( '{FAR}' )}}c{{d:url({FAR})}}", (FAR,)),
        (f"/* url({FAR}) */", ()),
        (f"/* a\n*/a{{b:url({FAR})}}/* c */", (FAR,)),
        ("a{b:url(x.png)}", ()),
        (f"a{{content:'{FAR}'}}", ()),
    ],
)
def test_what_a_style_fetches(text: str, requests: tuple[str, ...]) -> None:
    """CSS Cascade 5 (@import) and CSS Values 4 (url()), comments left out."""
    assert requests_in_style(text, OWN) == requests


@pytest.mark.parametrize(
    ("text", "requests"),
    [
        (f"fetch('{FAR}')", (FAR,)),
        (f'fetch( "{FAR}")', (FAR,)),
        (f"fetch(`{FAR}`)", (FAR,)),
        (f"import('{FAR}')", (FAR,)),
        (f"import '{FAR}'", (FAR,)),
        (f"importScripts('{FAR}')", (FAR,)),
        (f"new Worker('{FAR}')", (FAR,)),
        ("new WebSocket('wss://x.example/a')", ("wss://x.example/a",)),
        (f"new EventSource('{FAR}')", (FAR,)),
        (f"navigator.sendBeacon('{FAR}')", (FAR,)),
        (f"xhr.open('GET', '{FAR}')", (FAR,)),
        (f'xhr.open( "POST" , "{FAR}")', (FAR,)),
        (f"img.src = '{FAR}'", (FAR,)),
        (f"link.href='{FAR}'", (FAR,)),
        (f"form.action = `{FAR}`", (FAR,)),
        (f"export {{x}} from '{FAR}'", (FAR,)),
        (f"import x from'{FAR}'", (FAR,)),
        ("fetch('//x.example/a')", ("//x.example/a",)),
        (f"fetch('{FAR}'); fetch('{FAR}')", (FAR,)),
        ("fetch('data.json')", ()),
        (f"const ns = '{FAR}'", ()),
        (f"// see {FAR}", ()),
        (f"fetch('https://{OWN}/x')", ()),
    ],
)
def test_what_a_script_fetches(text: str, requests: tuple[str, ...]) -> None:
    """Addresses written out where something is fetched; a name space or a comment fetches nothing."""
    assert requests_in_script(text, OWN) == requests


def told(text: str) -> list[str]:
    """The words of a page by line, without blank ones."""
    return [" ".join(line.split()) for line in read_html(text, OWN)[1].split("\n") if line.strip()]


BLOCKS = [
    *("p", "div", "li", "ul", "ol", "dl", "dt", "dd", "table", "tr", "td", "th", "h1", "h2", "h3", "h4", "h5", "h6"),
    *("figure", "figcaption", "section", "article", "header", "footer", "nav", "main", "blockquote", "pre", "details"),
    *("summary", "option"),
]


@pytest.mark.parametrize("tag", BLOCKS)
def test_blocks_part_words(tag: str) -> None:
    """Words on both sides of a block are not one word, whatever the case of the tag."""
    assert told(f"a<{tag}>b</{tag}>c") == ["a", "b", "c"]
    assert told(f"a<{tag.upper()}>b</{tag.upper()}>c") == ["a", "b", "c"]


@pytest.mark.parametrize("tag", ["br", "hr"])
def test_breaks_part_words(tag: str) -> None:
    """They have no end."""
    assert told(f"a<{tag}>b<{tag}/>c") == ["a", "b", "c"]


@pytest.mark.parametrize("tag", ["b", "i", "span", "a", "em", "code", "small"])
def test_markup_within_a_word_parts_nothing(tag: str) -> None:
    """A name with a bold syllable is still the name."""
    assert told(f"Lind<{tag}>qvi</{tag}>st") == ["Lindqvist"]


@pytest.mark.parametrize(
    "attribute", ["alt", "title", "aria-label", "content", "placeholder", "value", "label", "summary"]
)
def test_attributes_that_tell(attribute: str) -> None:
    """What is read aloud or shown on touch is told, apart from what stands beside it."""
    assert told(f'a<span {attribute}="b c">d</span>') == ["a", "b c", "d"]
    assert told(f'a<span {attribute.upper()}="b c">d</span>') == ["a", "b c", "d"]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('<p class="x" id="y" href="z">a</p>', ["a"]),
        ("<script>let a</script><style>b{}</style>c", ["c"]),
        ("a &amp; b &#99;", ["a & b c"]),
        ("<!-- a -->b", ["b"]),
        ("<iframe srcdoc='<p>a</p>'></iframe>b", ["a", "b"]),
        ("<title>a</title><p>b", ["a", "b"]),
        ("<p>a<p>b", ["a", "b"]),
        ("<img alt>a", ["a"]),
        ("", []),
    ],
)
def test_the_words_of_a_page(text: str, words: list[str]) -> None:
    """What is shown or told; no scripts, styles, comments or addresses."""
    assert told(text) == words
