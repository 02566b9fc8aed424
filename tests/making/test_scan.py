"""The search through a finished site: exactly what is found in each kind of file, and nothing else."""

from __future__ import annotations

import gzip
import json
import zlib
from collections.abc import Iterable
from pathlib import Path

import pytest
import typst
from hypothesis import given
from hypothesis import strategies as st

from journal.making.private_words import ENDING, Private, Secret
from journal.making.scan import Leak, Scanned, Scanner
from journal.media.clips import uncleanliness

NAME = "the full name of a person"
FAMILY = "the family name of a person"
SECRETS = (
    Secret(words="Bo Lindqvist", what=NAME),
    Secret(words="Lindqvist", what=FAMILY, exact=True),
    Secret(words="ZZ-TRN", what="the registration"),
)
RUNS = {
    "one two three four five six seven eight": "content/entries/a/index.md",
    "the spar was bent": "content/entries/b/index.md",
}
IN_B = 'private words of content/entries/b/index.md "the spar was bent …"'
PACKED = "packed, and it cannot be unpacked and read; put in what is packed in it, or leave it out"
NO_PICTURE = "the picture carries data that is no JPEG, PNG, WebP or GIF; put a good copy in its place"
LINK = "a link instead of a file; put the file itself in its place"
UNKNOWN_KIND = 'a kind of file that is not read here (.bin); leave it out, or allow it: --allow "*.bin"'
FULL = [f'{NAME} "Bo Lindqvist"']
"""The family name in it is not told apart."""


def look(
    site: Path, files: dict[str, bytes | str], private: Private | None = None, **how: object
) -> tuple[Scanned, list[str]]:
    """What is found in a site of these files, each as `path: what`."""
    for name, data in files.items():
        (site / name).parent.mkdir(parents=True, exist_ok=True)
        (site / name).write_bytes(data if isinstance(data, bytes) else data.encode())
    known = Private(secrets=SECRETS, runs=RUNS) if private is None else private
    scanned = Scanner(known, root=site.parent, look_at_film=uncleanliness, **how).search_site(site)  # type: ignore[arg-type]
    return scanned, [str(leak) for leak in scanned.leaks]


def found_in(tmp_path: Path, name: str, data: bytes | str, **how: object) -> list[str]:
    """What is found in one file."""
    scanned, _ = look(tmp_path / "site", {name: data}, **how)
    assert all((leak.path, leak.more) == (name, 0) for leak in scanned.leaks)
    return [leak.what for leak in scanned.leaks]


def page(body: str, head: str = "") -> str:
    """A page."""
    return f"<!doctype html><html><head>{head}</head><body>{body}</body></html>"


def test_every_file_is_weighed_and_told(tmp_path: Path) -> None:
    """Digests and sizes by path, in order; a link is told and not followed; progress counts all."""
    site = tmp_path / "site"
    (site / "b").mkdir(parents=True)
    (site / "b/link.html").symlink_to("/etc/hostname")
    told: list[tuple[int, int]] = []
    files = {"index.html": b"<p>x</p>", "a/x.txt": b"", "b/c.css": b"a{}"}
    for name, data in files.items():
        (site / name).parent.mkdir(exist_ok=True)
        (site / name).write_bytes(data)
    scanned = Scanner(Private(), root=tmp_path).search_site(site, lambda done, of: told.append((done, of)))
    assert scanned.sizes == {"a/x.txt": 0, "b/c.css": 3, "index.html": 8}
    # SHA-256 of nothing (FIPS 180-4, well known).
    assert scanned.digests["a/x.txt"] == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
    assert list(scanned.digests) == ["a/x.txt", "b/c.css", "index.html"]
    assert scanned.bytes == 11
    assert scanned.leaks == (Leak(path="b/link.html", what=LINK),)
    assert str(scanned.leaks[0]) == f"b/link.html: {LINK}"
    assert told == [(1, 4), (2, 4), (3, 4), (4, 4)]


def test_what_is_found_is_told_in_the_order_of_the_files_to_mend(tmp_path: Path) -> None:
    """File by file, line by line as numbers; what has no source last, by the file of the site."""
    texts = (("b.md", "\nMr Lindqvist" + "\n" * 8 + "Bo Lindqvist"), ("c.md", "x\nZZ-TRN"))
    files: dict[str, bytes | str] = {
        "a.txt": "ZZ-TRN",
        "b.txt": "Bo Lindqvist",
        "c.txt": "Mr Lindqvist",
        "d.bin": b"",
        "e.exe": b"",
    }
    scanned, _ = look(tmp_path / "site", files, Private(secrets=SECRETS, texts=texts))
    assert [leak.where for leak in scanned.leaks] == ["b.md:2", "b.md:10", "c.md:2", "", ""]
    assert [leak.path for leak in scanned.leaks][-2:] == ["d.bin", "e.exe"]


def test_the_words_that_are_read_tell_where_a_name_comes_from(tmp_path: Path) -> None:
    """Not what stands around it in the markup."""
    private = Private(
        secrets=SECRETS,
        texts=(("a.md", "Bo Lindqvist"), ("b.md", "p Bo Lindqvist p"), ("c.md", "Mr Lindqvist, Bo Lindqvist")),
    )
    scanned, _ = look(tmp_path / "site", {"x.html": page("<p>Bo Lindqvist</p>")}, private)
    assert [leak.where for leak in scanned.leaks] == ["a.md:1"]


@pytest.mark.parametrize(
    ("secrets", "found"),
    [
        ([("Bo", "one"), ("Bo Lindqvist", "two"), ("Lindqvist", "three")], ["two"]),
        ([("Bo Lindqvist", "two"), ("Lindqvist said", "three")], ["two", "three"]),
        ([("Lindqvist", "place"), ("Lindqvist", "person")], ["person", "place"]),
    ],
)
def test_of_names_within_names_the_longest_is_told(
    tmp_path: Path, secrets: list[tuple[str, str]], found: list[str]
) -> None:
    """What only overlaps is told as well, and so is what has the very same words."""
    private = Private(secrets=tuple(Secret(words=words, what=what) for words, what in secrets))
    told = found_in(tmp_path, "a.txt", "Bo Lindqvist said", private=private)
    assert sorted(one.partition(" ")[0] for one in told) == sorted(found)


def test_a_name_in_an_address_comes_from_the_name_of_a_file(tmp_path: Path) -> None:
    """What stands on the page comes from a line."""
    private = Private(secrets=SECRETS, texts=(("content/entries/zz-trn/index.md", "x"), ("b.md", "ZZ-TRN")))
    scanned, _ = look(tmp_path / "site", {"entries/zz-trn/index.html": page("ZZ-TRN")}, private)
    assert [leak.where for leak in scanned.leaks] == ["b.md:1", "content/entries/zz-trn/index.md"]


@pytest.mark.parametrize(
    ("said", "line"),
    [
        ("the spar was bent", 2),
        ("x gamma the spar was bent", 3),
        ("the spar was bent delta x", 3),
        ("a b c d e zeta the spar was bent", 4),
    ],
)
def test_private_words_are_told_by_the_line_with_the_same_words_around(tmp_path: Path, said: str, line: int) -> None:
    """The nearest count first; the passage itself is meant only where they stand nowhere else."""
    lines = (
        "the spar was bent",
        "x the spar was bent",
        "y gamma the spar was bent delta epsilon",
        "zeta the spar was bent",
    )
    private = Private(runs={"the spar was bent": "b.md:1"}, texts=(("b.md", "\n".join(lines)),))
    scanned, _ = look(tmp_path / "site", {"a.txt": said}, private)
    assert [leak.where for leak in scanned.leaks] == [f"b.md:{line}"]
    scanned, _ = look(tmp_path / "site", {"a.txt": said}, Private(runs={"the spar was bent": "b.md:1"}))
    assert [leak.where for leak in scanned.leaks] == ["b.md:1"]


@pytest.mark.parametrize("words", ["Bo Lindqvist", "the spar was bent"])
@pytest.mark.parametrize(
    ("near", "meant"),
    [("n2 b c d e f {}", "b"), ("{} f e d c b n2", "b"), ("n2 a b c d e f {}", "a"), ("{} f e d c b a n2", "a")],
)
def test_six_words_on_a_side_tell_lines_apart(tmp_path: Path, words: str, near: str, meant: str) -> None:
    """Of lines that share as many the first is meant."""
    texts = [(f"{name}.md", near.replace("n2", f"n{number}").format(words)) for number, name in enumerate("ab", 1)]
    private = Private(secrets=SECRETS, runs={"the spar was bent": "x.md:1"}, texts=tuple(texts))
    scanned, _ = look(tmp_path / "site", {"a.txt": near.format(words)}, private)
    assert [leak.where for leak in scanned.leaks] == [f"{meant}.md:1"]


def test_what_pictures_carry_is_told_by_their_original(tmp_path: Path) -> None:
    """Once for all copies of it; where it is not known, of each picture."""
    files: dict[str, bytes | str] = {"pictures/a.jpg": b"text", "pictures/b.jpg": b"text"}
    _, told = look(tmp_path / "site", files, Private(), pictures=dict.fromkeys(("a.jpg", "b.jpg"), "content/o.jpg"))
    assert told == [f"content/o.jpg: {NO_PICTURE}: 2 places on the site, first on pictures/a.jpg"]
    _, told = look(tmp_path / "site", files, Private())
    assert told == [f"{name}: {NO_PICTURE}" for name in files]


def test_what_is_drawn_into_pictures_is_read_as_well(tmp_path: Path) -> None:
    """Told with the line to mend, of all pictures at once; what stands on pages beside it is told of them."""
    private = Private(secrets=(Secret(words="Lindqvist", what=FAMILY, where="content/build.yml:3"),))
    (tmp_path / "a.txt").write_text("T-0042")
    scanned = Scanner(private, root=tmp_path).search_site(tmp_path, drawn="(c) Lindqvist")
    told = f'{FAMILY} in the watermark "Lindqvist"'
    assert scanned.leaks == (Leak(path="pictures/", what=told, where="content/build.yml:3"),)


def test_a_thing_is_told_once_however_many_files_hold_it(tmp_path: Path) -> None:
    """Counted, with the first of them; what has no source is told of each file, after all that has one."""
    files: dict[str, bytes | str] = {
        "a.txt": "Bo Lindqvist",
        "b.txt": "x Bo Lindqvist, Bo Lindqvist",
        "c.bin": b"",
        "d.bin": b"",
    }
    private = Private(secrets=SECRETS, texts=(("content/build.yml", "\nBo Lindqvist"),))
    _, told = look(tmp_path / "site", files, private)
    first = f"content/build.yml:2: {FULL[0]}: 2 places on the site, first on a.txt"
    assert told == [first, f"c.bin: {UNKNOWN_KIND}", f"d.bin: {UNKNOWN_KIND}"]


@pytest.mark.parametrize(
    ("name", "data", "found"),
    [
        ("index.html", page("<p>Bo Lindqvist, Bo Lindqvist</p>"), FULL),
        ("index.html", page("<p>bo lindqvist</p>"), [f'{NAME} "bo lindqvist"']),
        ("index.html", page("<p>lindqvist</p>"), []),
        ("index.html", page("<p>Lindqvist</p>"), [f'{FAMILY} "Lindqvist"']),
        ("index.html", page("<p>Bo and Lindqvists</p>"), []),
        ("index.html", page("<p>Bo <i>Lind</i>qvist</p>"), FULL),
        ("index.html", page("<p>Bo Lind&#113;vist</p>"), FULL),
        ("index.html", page('<a href="Bo%20Lindqvist/">x</a>'), FULL),
        ("index.html", page("<script>let x = 'Bo Lindqvist'</script>"), FULL),
        ("a.svg", "<svg><text>Bo Lindqvist</text></svg>", FULL),
        ("feed.json", json.dumps({"t": "Bo\u00a0Lindqvist"}), FULL),
        ("feed.json", '{"t": "Bo Lind\\u0071vist"}', FULL),
        ("feed.json", '{"t": "broken \\u0042o Lindqvist', [f'{FAMILY} "Lindqvist"']),
        ("data.js", 'x = "Bo Lind\\u0071vist"', FULL),
        ("data.js", "x = 'Lindqvist'", [f'{FAMILY} "Lindqvist"']),
        ("data.js", "x = 'so\\nLindqvist'", [f'{FAMILY} "Lindqvist"']),
        ("feed.json", '["so\\tLindqvist"]', [f'{FAMILY} "Lindqvist"']),
        ("feed.xml", "<a>ZZ TRN</a>", ['the registration "ZZ TRN"']),
        ("robots.txt", "zz_trn", ['the registration "zz_trn"']),
        ("a.css", "/* Lindqvist */", [f'{FAMILY} "Lindqvist"']),
        ("CNAME", "lindqvist.example", []),
        ("CNAME", "Lindqvist.example", [f'{FAMILY} "Lindqvist"']),
        (".nojekyll", "Lindqvist", [f'{FAMILY} "Lindqvist"']),
        (".hidden/x.bin", "Lindqvist", [f'{FAMILY} "Lindqvist"']),
        ("x/zz-trn/index.html", page(""), ['the registration in its address "zz-trn"']),
        ("zz/trn.html", page(""), []),
        ("a.MJS", "Lindqvist", [f'{FAMILY} "Lindqvist"']),
        ("a.ics", "Lindqvist", [f'{FAMILY} "Lindqvist"']),
        ("a.webmanifest", "Lindqvist", [f'{FAMILY} "Lindqvist"']),
        ("a.map", "Lindqvist", [f'{FAMILY} "Lindqvist"']),
        ("a.md", "Lindqvist", [f'{FAMILY} "Lindqvist"']),
        ("a.csv", "Lindqvist", [f'{FAMILY} "Lindqvist"']),
        ("a.htm", "Lindqvist", [f'{FAMILY} "Lindqvist"']),
        ("a.txt", b"Lindqvist \xff", ["not text in UTF-8; save it as UTF-8, or leave it out"]),
        ("a.woff2", b"Lindqvist", []),
        ("a.woff", b"Lindqvist", []),
        ("a.ttf", b"Lindqvist", []),
        ("a.otf", b"Lindqvist", []),
        ("a.exe", b"x", ['a kind of file that is not read here (.exe); leave it out, or allow it: --allow "*.exe"']),
        ("a.txt.gz", gzip.compress(b"Lindqvist", mtime=0), [f'{FAMILY} "Lindqvist"']),
        ("a.bin.gz", gzip.compress(b"x", mtime=0), [UNKNOWN_KIND]),
        ("a.txt.gz.gz", gzip.compress(gzip.compress(b"Lindqvist", mtime=0), mtime=0), [f'{FAMILY} "Lindqvist"']),
        (
            "a.txt.gz",
            b"no",
            [PACKED],
        ),
        (
            "a.txt.gz",
            gzip.compress(b"Lindqvist" * 99, mtime=0)[:-9],
            [PACKED],
        ),
        (
            "a.jpg",
            b"text",
            [NO_PICTURE],
        ),
        (
            "a.JPEG",
            b"text",
            [NO_PICTURE],
        ),
        (
            "a.png",
            b"text",
            [NO_PICTURE],
        ),
        (
            "a.webp",
            b"text",
            [NO_PICTURE],
        ),
        (
            "a.gif",
            b"text",
            [NO_PICTURE],
        ),
        ("a.pdf", b"%PDF-1.7 /Authors 1", ["the PDF carries Author"]),
        ("a.pdf", b"%PDF /EmbeddedFile /GPS", ["the PDF carries EmbeddedFile", "the PDF carries GPS"]),
        ("a.pdf", b"%PDF Lindqvist", [f'{FAMILY} "Lindqvist"']),
        ("a.pdf", b"%PDF stream\n" + zlib.compress(b"Bo Lindqvist") + b"\nendstream", FULL),
        (
            "a.pdf",
            b"stream\r\nxx\nendstream stream\r\n" + zlib.compress(b"Lindqvist") + b"endstream",
            [f'{FAMILY} "Lindqvist"'],
        ),
        ("a.pdf", b"%PDF x\xff\xfeLindqvist\xffx", [f'{FAMILY} "Lindqvist"']),
        ("a.pdf", b"xstream\nzz\nendstreamLindqvist", [f'{FAMILY} "Lindqvist"']),
        ("a.pdf", b"%PDF stream\n" + zlib.compress(b"\xff Lindqvist \xfe") + b"\nendstream", []),
        ("a.pdf", b"%PDF-1.7", []),
    ],
)
def test_what_each_kind_of_file_tells(tmp_path: Path, name: str, data: bytes | str, found: list[str]) -> None:
    """Each leak of a file once, the rest not at all."""
    assert found_in(tmp_path, name, data) == found


def test_the_words_of_a_pdf_are_read(tmp_path: Path) -> None:
    """As they stand on its pages, where the file holds only numbers of glyphs; typst makes it, pdfium reads it."""
    source = tmp_path / "a.typ"
    source.write_text("Bo Lindqvist said that the spar was bent. Call 079 123 45 67.")
    told = found_in(
        tmp_path, "record.pdf", typst.compile(str(source)), private=Private(secrets=SECRETS, runs=RUNS, region="CH")
    )
    assert told == [IN_B, *FULL, 'what looks like a telephone number "079 123 45 67"']


@pytest.mark.parametrize(
    ("where", "more", "told", "file", "line"),
    [
        ("", 0, "a.html: x", "a.html", None),
        ("", 1, "a.html: x: 2 places on the site", "a.html", None),
        ("content/b.md:12", 0, "content/b.md:12: x: on a.html", "content/b.md", 12),
        ("content/b.md:12", 1, "content/b.md:12: x: 2 places on the site, first on a.html", "content/b.md", 12),
        ("content/b.md", 2, "content/b.md: x: 3 places on the site, first on a.html", "content/b.md", None),
    ],
)
def test_how_a_leak_is_told(where: str, more: int, told: str, file: str, line: int | None) -> None:
    """By the line to mend where that is known, and how often it shows."""
    leak = Leak(path="a.html", what="x", where=where, more=more)
    assert (str(leak), leak.file, leak.line) == (told, file, line)


def test_a_film_is_looked_through(tmp_path: Path) -> None:
    """By the boxes of ISO/IEC 14496-12."""
    assert found_in(tmp_path, "clips/a.mp4", b"\x00\x00\x00\x0cuuidabcd") == ["the film carries metadata (uuid)"]
    assert found_in(tmp_path, "clips/a.mp4", b"\x00\x00\x00\x0cfreeabcd") == [
        "the film carries words in an empty box (free)"
    ]
    assert found_in(tmp_path, "clips/a.mp4", b"\x00\x00\x00\x0cfree\0\0\0\0") == []


def test_a_name_is_found_under_its_marks(tmp_path: Path) -> None:
    """Each once, though the text is read with and without marks on its letters."""
    private = Private(secrets=(Secret(words="Bergstrom", what=FAMILY),))
    assert found_in(tmp_path, "a.txt", "Bergström, Bergstrom", private=private) == [f'{FAMILY} "Bergstrom"']
    assert found_in(tmp_path, "a.txt", "Bergström", private=private) == [f'{FAMILY} "Bergstrom"']


def test_the_forms_of_a_name_are_found_and_let_pass(tmp_path: Path) -> None:
    """With the two letters that stand for one, in the cases of grammar."""
    private = Private(secrets=(Secret(words="Öberg", what=FAMILY, ending=ENDING),))
    told = found_in(tmp_path, "a.txt", "Öberg, Obergs, Oeberg’s", private=private)
    assert sorted(told) == [f'{FAMILY} "{form}"' for form in ("Obergs", "Oeberg’s", "Öberg")]
    for text, name in (("Obergs", "Oberg"), ("Oeberg’s", "Oeberg"), ("oebergs", "OEBERG")):
        assert f'{FAMILY} "{text}"' in found_in(tmp_path, "a.txt", text, private=private)
        assert found_in(tmp_path, "a.txt", text, private=private, allowed=frozenset({name, ""})) == []
    assert found_in(tmp_path, "a.txt", "Öberger Öbergs", private=private, allowed=frozenset({"Öberger"})) != []


EIGHT = "one two three four five six seven eight"
IN_A = f'private words of content/entries/a/index.md "{EIGHT} …"'


@pytest.mark.parametrize(
    ("name", "text", "found"),
    [
        ("a.html", page(f"<p>zero {EIGHT} nine</p>"), [IN_A]),
        ("a.html", page(f"<p>{EIGHT}</p><p>{EIGHT}</p>"), [IN_A]),
        ("a.html", page("<p>One, two <b>three</b>\nfour: five</p><p>six SEVEN eight.</p>"), [IN_A]),
        ("a.html", page(f"<p>{EIGHT[:-6]}</p>"), []),
        ("a.html", page(f"<script>'{EIGHT}'</script>"), []),
        ("a.html", page(f"<p>The spar was bent. {EIGHT}</p>"), [IN_A, IN_B]),
        ("a.html", page('<img alt="the spar was bent">'), [IN_B]),
        ("a.txt", "the spar was bent", [IN_B]),
        ("a.txt", "the spar was", []),
        ("a.json", '["the spar was bent"]', [IN_B]),
        ("a.js", "find('the spar was bent')", [IN_B]),
    ],
)
def test_runs_of_private_words(tmp_path: Path, name: str, text: str, found: list[str]) -> None:
    """In the words that a page shows or tells, whatever markup and signs stand between."""
    assert sorted(found_in(tmp_path, name, text)) == sorted(found)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("47.37690, 8.54170", ['what looks like a position "47.37690, 8.54170"']),
        ("at -33.8688;151.2093!", ['what looks like a position "-33.8688, 151.2093"']),
        ("47.3769/8.5417", ['what looks like a position "47.3769, 8.5417"']),
        ("47.3769 8.5417", ['what looks like a position "47.3769, 8.5417"']),
        (
            "47.3769, 8.5417 and 46.1111, 7.2222",
            ['what looks like a position "47.3769, 8.5417"', 'what looks like a position "46.1111, 7.2222"'],
        ),
        ("1.0000, 0.5001", ['what looks like a position "1.0000, 0.5001"']),
        ("90.0000, 180.0000", []),
        ("90.0000, 179.9999", ['what looks like a position "90.0000, 179.9999"']),
        ("90.0001, 8.5417", []),
        ("8.5417, 180.0001", []),
        ("-90.0001, 8.5417", []),
        ("47.376, 8.541", []),
        ("0.1234, 0.5678", []),
        ("0.9999, -0.9999", []),
        ("1.5000, 2.2500", []),
        ("1.1250, 3.015625", []),
        ("1.1250, 3.0156", []),
        ("1.1250, 3.0157", ['what looks like a position "1.1250, 3.0157"']),
        ("1.1251, 3.0000", ['what looks like a position "1.1251, 3.0000"']),
        ("1.2.47.3769, 8.5417", []),
        ("47.3769, 8.5417.1", []),
        ("147.3769, 8.5417", []),
        ("47° 22' 36.8\" N", ['what looks like a position "47° 22\' 36.8" N"']),
        ("8°32.5′E", ['what looks like a position "8°32.5′E"']),
        ("47°22'36″N", ['what looks like a position "47°22\'36″N"']),
        ("47° 22' Nail", []),
        ("bend it 90° and 12' long", []),
        ("GPSLatitude", ['words of a position "GPSLatitude"']),
        ("gpsposition", ['words of a position "gpsposition"']),
        (
            "GPSLongitude GPSCoordinates",
            ['words of a position "GPSLongitude"', 'words of a position "GPSCoordinates"'],
        ),
        ("geo:47.1,8.2", ['words of a position "geo:4"']),
        ("geo:-33.8", ['words of a position "geo:-3"']),
        ("geo:point", []),
        ("a GPS receiver", []),
    ],
)
def test_what_looks_like_a_position(tmp_path: Path, text: str, found: list[str]) -> None:
    """On the globe (RFC 5870 for `geo:`), but not pairs of lengths: below an inch, or whole 64ths of it."""
    assert found_in(tmp_path, "a.txt", text) == found


@pytest.mark.parametrize(
    ("allowed", "found"),
    [
        ([], [IN_B, *FULL]),
        (["Bo Lindqvist"], [IN_B]),
        (["Lindqvist"], [IN_B, *FULL]),
        (["  bo   LINDQVIST ", "lindqvist"], [IN_B]),
        (["the spar  was bent", "Bo"], FULL),
    ],
)
def test_words_that_are_let_pass(tmp_path: Path, allowed: list[str], found: list[str]) -> None:
    """Word for word, without regard to case and spaces; what is longer than the words is told all the same."""
    text = "Bo Lindqvist said the spar was bent"
    assert found_in(tmp_path, "a.txt", text, allowed=frozenset(allowed)) == found
    there = frozenset({"47.3769,  8.5417", *allowed})
    assert found_in(tmp_path, "a.txt", "47.3769, 8.5417", allowed=there) == []


def test_kinds_of_files_and_addresses_that_are_let_pass(tmp_path: Path) -> None:
    """A kind by `*.bin`, an address as it is found."""
    assert found_in(tmp_path, "a.bin", b"x", allowed=frozenset({"*.bin"})) == []
    assert found_in(tmp_path, "a.bin", b"x", allowed=frozenset({".bin"})) != []
    text = page('<img src="https://x.example/a.png"><img src="https://y.example/">')
    (tmp_path / "site/a.bin").unlink()
    assert found_in(tmp_path, "a.html", text, allowed=frozenset({"https://x.example/a.png"})) == [
        "fetches https://y.example/ from another host"
    ]


@pytest.mark.parametrize(
    ("site_url", "found"),
    [
        ("https://tarn.example/journal/", ["fetches //cdn.example/x from another host"]),
        (
            "",
            ["fetches https://TARN.example/x from another host", "fetches //cdn.example/x from another host"],
        ),
    ],
)
@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("a.html", page('<img src="https://TARN.example/x"><img src="//cdn.example/x"><img src="x">')),
        ("a.svg", '<svg><image href="https://TARN.example/x"/><use href="//cdn.example/x"/></svg>'),
        ("a.css", "a{b:url(https://TARN.example/x)} c{d:url('//cdn.example/x')}"),
        ("a.js", "fetch('https://TARN.example/x'); fetch(\"//cdn.example/x\")"),
        ("a.mjs", "import 'x'; fetch('https://TARN.example/x'); y.src = '//cdn.example/x'"),
    ],
)
def test_what_is_fetched_from_other_hosts(
    tmp_path: Path, site_url: str, found: list[str], name: str, text: str
) -> None:
    """The site's own host is no other; a text or data fetches nothing."""
    assert found_in(tmp_path, name, text, site_url=site_url) == found


@pytest.mark.parametrize("name", ["a.txt", "a.json", "a.xml", "CNAME"])
def test_a_text_fetches_nothing(tmp_path: Path, name: str) -> None:
    """What would fetch in a page, a style or a script is only words here."""
    assert (
        found_in(tmp_path, name, "fetch('https://x.example/') url(https://x.example/) <img src='//x.example/'>") == []
    )


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("pictures/a.jpg", False),
        ("pictures/old.jpg", True),
        ("pictures/sub/a.jpg", False),
        ("clips/old.mp4", True),
        ("assets/old.jpg", False),
        ("index.html", False),
    ],
)
def test_only_what_something_public_shows_lies_among_pictures(tmp_path: Path, name: str, found: bool) -> None:
    """By name, under pictures/ and clips/; without a list nothing is held against it."""
    told = "no public page shows this file; leave it out, or show it in an entry"
    data = b""
    assert (told in found_in(tmp_path, name, data, pictures={"a.jpg": ""})) is found
    assert told not in found_in(tmp_path, name, data)


def test_words_of_files_that_ship_with_the_program_are_ours(tmp_path: Path) -> None:
    """They are known by digest; what they fetch is told all the same."""
    text = "/* Lindqvist */ a{b:url(https://x.example/)}"
    scanned, _ = look(tmp_path / "site", {"a.css": text})
    shipped = frozenset(scanned.digests.values())
    assert found_in(tmp_path, "a.css", text, shipped=shipped) == ["fetches https://x.example/ from another host"]
    assert len(found_in(tmp_path, "a.css", text + " ", shipped=shipped)) == 2


def test_an_original_is_told_with_its_place(tmp_path: Path) -> None:
    """By its very bytes, whatever it is called; the same size alone says nothing."""
    originals = [tmp_path / "content/entries/a/one.jpg", tmp_path / "content/records/two.jpg"]
    for path, data in zip(originals, (b"abc", b"xyz"), strict=True):
        path.parent.mkdir(parents=True)
        path.write_bytes(data)
    private = Private(originals={3: tuple(originals)})
    assert found_in(tmp_path, "x.txt", b"abc", private=private) == [
        "it is an original, byte for byte (content/entries/a/one.jpg)"
    ]
    assert found_in(tmp_path, "x.txt", b"abd", private=private) == []
    originals[1].write_bytes(b"abc")
    assert found_in(tmp_path, "x.txt", b"abc", private=private) == [
        "it is an original, byte for byte (content/entries/a/one.jpg, content/records/two.jpg)"
    ]


SITE_WORDS = st.lists(st.sampled_from(["the", "spar", "was", "bent", "a", "rib", "one", "two"]), max_size=12)


@given(SITE_WORDS, st.sampled_from([" ", "\n", ", ", "</p><p>", "</b> <i>"]))
def test_a_run_is_found_where_it_stands_and_nowhere_else(words: Iterable[str], between: str) -> None:
    """Law: as a plain search for the words in a row says."""
    said = list(words)
    text = f"<p>{between.join(said)}</p>"
    scanner = Scanner(Private(runs={"the spar was bent": "x"}), root=Path())
    found = [hit.what for hit in scanner._leaks_in_text("a.html", ".html", text.encode(), "")]
    stands = " the spar was bent " in f" {' '.join(said)} "
    assert found == (['private words of x "the spar was bent …"'] if stands else [])
