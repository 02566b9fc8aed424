"""The host and its plugin: whole sites made from whole builds, and what must never be in them."""

from __future__ import annotations

import gzip
import hashlib
import os
import posixpath
import re
import signal
import subprocess
import sys
import time
import xml.etree.ElementTree as ET
from collections.abc import Callable
from datetime import date
from io import BytesIO
from pathlib import Path

import html5lib
import pytest
from making import MakeBuild, build_site, entry
from PIL import Image

from journal.base.problems import SiteError
from journal.ledger.journal import open_journal
from journal.view.view import Audience

LEAST = """\
site_name: Tarn build journal
site_url: https://tarn.example/journal/
docs_dir: content
theme: {name: material, font: false}
plugins: [search, journal]
"""
TODAY = date(2026, 7, 1)
MakeSite = Callable[..., Path]


def photo(colour: str = "red") -> bytes:
    """A small JPEG."""
    out = BytesIO()
    Image.new("RGB", (640, 480), colour).save(out, "JPEG")
    return out.getvalue()


ENTRIES: dict[str, str | bytes] = {
    "entries/2026-02-01-ribs/index.md": entry(
        "title: Ribs\ndate: 2026-02-01\nsteps: [5.1]\nphotos: {a.jpg: {caption: A rib}}", "Ribs.\n\n![A rib](a.jpg)\n"
    ),
    "entries/2026-02-01-ribs/a.jpg": photo(),
    "entries/2026-02-02-skins/index.md": entry(
        "title: Skins\ndate: 2026-02-02\nsteps: [5.2]", "See [ribs](../2026-02-01-ribs/index.md)."
    ),
    "entries/2026-02-02-skins/b.jpg": photo("blue"),
    "entries/2026-02-03-hush/index.md": entry("title: Hush\ndate: 2026-02-03\nprivate: true", "Not for you."),
    "entries/2026-02-03-hush/c.jpg": photo("green"),
    "entries/2026-02-04-draft/index.md": entry("title: Unfinished\ndate: 2026-02-04\ndraft: true"),
    "pages/about.md": "# About\n\nUs.\n",
    "records/records.csv": "file,date,kind,title,note\n",
}


@pytest.fixture
def make_root(make_build: MakeBuild) -> MakeSite:
    """A build folder with mkdocs.yml in its least form."""

    def make(files: dict[str, str | bytes | None] | None = None, settings: str = LEAST) -> Path:
        root = make_build({**ENTRIES, **(files or {})})
        (root / "mkdocs.yml").write_text(settings)
        return root

    return make


def site_of(root: Path, **more: object) -> Path:
    """Open and build."""
    return build_site(open_journal(root, TODAY), **more)  # type: ignore[arg-type]


def mkdocs(root: Path, *arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """The host's own command in the build folder."""
    plain = {key: value for key, value in os.environ.items() if key != "NO_MKDOCS_2_WARNING"}
    return subprocess.run(
        [sys.executable, "-m", "mkdocs", *arguments],
        cwd=root,
        env={**plain, **environment},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


def listing(site: Path) -> dict[str, bytes]:
    """Every file of a site."""
    return {str(one.relative_to(site)): one.read_bytes() for one in sorted(site.rglob("*")) if one.is_file()}


def test_the_least_settings_make_a_site(make_root: MakeSite) -> None:
    """`mkdocs build` in the folder does what `journal site` does, byte for byte."""
    root = make_root()
    run = mkdocs(root, "build", SOURCE_DATE_EPOCH="1782864000")
    assert run.returncode == 0, run.stderr
    by_host = listing(root / "site")
    assert by_host == listing(site_of(root, out=root / "other"))
    for name in ("index.html", "entries/2026-02-01-ribs/index.html", "steps/7.10/index.html", "feed.xml", "404.html"):
        assert name in by_host


def test_nothing_under_content_reaches_the_site_by_itself(make_root: MakeSite) -> None:
    """The site is an allow-list: originals, tables, records, drafts and private things are not on it."""
    root = make_root(
        {"entries/2026-02-01-ribs/notes.txt": "hidden note", "costs.csv": "date,assembly,what,amount,currency,record\n"}
    )
    site = listing(site_of(root))
    for name, data in site.items():
        assert not name.endswith((".md", ".csv", ".yml", ".txt")) or name.startswith("assets/"), name
        for secret in (b"Not for you", b"hidden note", b"Unfinished", b"Hush"):
            assert secret not in data, name
    originals = {ENTRIES[name] for name in ENTRIES if name.endswith(".jpg")}
    assert not originals & set(site.values())
    assert sum(name.startswith("pictures/") for name in site) == 4  # two public photos of 640 pixels: 480 and 640


@pytest.mark.slow
def test_the_theme_of_the_host_is_not_published(make_root: MakeSite) -> None:
    """Scripts and styles that no page uses are dead weight on every visit of a crawler."""
    names = listing(site_of(make_root()))
    assert not [name for name in names if "bundle" in name or "lunr" in name or "palette" in name]
    assert not [name for name in names if name.startswith("search/")]


def test_what_is_made_private_or_deleted_is_gone_at_the_next_build(make_root: MakeSite) -> None:
    """Nothing stale survives, cached or not: pages, pictures, feeds, open data."""
    root = make_root()
    site_of(root)
    site_of(root)
    (root / "content/entries/2026-02-01-ribs/index.md").write_text(
        entry("title: Ribs\ndate: 2026-02-01\nsteps: [5.1]\nprivate: true", "Ribs.")
    )
    (root / "content/entries/2026-02-02-skins/b.jpg").unlink()
    for _ in range(3):
        site = listing(site_of(root))
        assert not [name for name in site if name.startswith("pictures/")]
        assert "entries/2026-02-01-ribs/index.html" not in site
        assert not [name for name, data in site.items() if b"A rib" in data]


@pytest.mark.slow
def test_a_second_build_gives_the_same_bytes(make_root: MakeSite) -> None:
    """Taken over or made anew: no difference. A third after a change and back again neither."""
    root = make_root()
    first = listing(site_of(root))
    assert listing(site_of(root)) == first
    assert listing(site_of(root)) == first
    file = root / "content/entries/2026-02-02-skins/index.md"
    text = file.read_text()
    file.write_text(text.replace("title: Skins", "title: Skins and more"))
    changed = listing(site_of(root))
    assert changed != first
    file.write_text(text)
    assert listing(site_of(root)) == first


def test_a_page_spoilt_by_hand_is_made_anew(make_root: MakeSite) -> None:
    """Only what is as it was written is taken over, two builds later as well."""
    root = make_root()
    first = listing(site_of(root))
    site_of(root)
    page = root / "site/entries/2026-02-02-skins/index.html"
    page.write_text("spoilt")
    assert listing(site_of(root)) == first
    assert listing(site_of(root)) == first


@pytest.mark.slow
def test_unchanged_pages_are_not_rendered_again(make_root: MakeSite, monkeypatch: pytest.MonkeyPatch) -> None:
    """From the third build on only what changed costs time."""
    import jinja2

    root = make_root()
    site_of(root)
    site_of(root)
    rendered: list[str] = []
    plain = jinja2.Template.render

    def counting(self: jinja2.Template, *args: object, **more: object) -> str:
        rendered.append(str(self.name))
        return plain(self, *args, **more)

    monkeypatch.setattr(jinja2.Template, "render", counting)
    site_of(root)
    assert "entry.html" not in rendered
    assert "step.html" not in rendered
    assert "parts/nothing.html" in rendered


def test_errors_stop_the_build_and_leave_the_old_site(make_root: MakeSite) -> None:
    """All of them are told, with file and line; exit code 1."""
    root = make_root()
    site_of(root)
    before = listing(root / "site")
    (root / "content/entries/2026-02-05-bad").mkdir()
    (root / "content/entries/2026-02-05-bad/index.md").write_text(
        "---\ndate: 2026-02-05\nassembly: flapz\nhours: x\n---\n"
    )
    run = mkdocs(root, "build")
    assert run.returncode == 1
    assert 'content/entries/2026-02-05-bad/index.md:3:11: unknown assembly "flapz"' in run.stderr
    assert "index.md:4:" in run.stderr
    assert "Traceback" not in run.stderr
    assert listing(root / "site") == before
    assert not list(root.glob("site.building*"))


@pytest.mark.slow
def test_findings_stop_only_a_strict_build(make_root: MakeSite) -> None:
    """They are warnings of the host; with --strict the old site stays."""
    root = make_root()
    plain, strict = mkdocs(root, "build"), mkdocs(root, "build", "--strict")
    assert plain.returncode == 0
    assert "WARNING" in plain.stderr
    assert strict.returncode == 1
    assert "--strict lets none pass" in strict.stderr
    assert (root / "site/index.html").is_file()


@pytest.mark.slow
def test_a_build_without_findings_passes_strict(make_root: MakeSite) -> None:
    """No page of ours makes the host complain."""
    clean = {
        "entries/2026-02-01-ribs/index.md": None,
        "entries/2026-02-01-ribs/a.jpg": None,
        "entries/2026-02-02-skins/index.md": entry(
            "title: Skins\ndate: 2026-02-02\nplace: home\nanswers: {nobody-at-work: I was alone}",
            "Looked at the skins.",
        ),
        "entries/2026-02-02-skins/b.jpg": None,
        "entries/2026-02-03-hush/index.md": None,
        "entries/2026-02-03-hush/c.jpg": None,
        "entries/2026-02-04-draft/index.md": None,
        "build.yml": "aircraft: {name: Tarn}\nbegun: 2026-02-02\nclosing_inspections: none\n"
        "people:\n  ada: {name: Ada, shown_as: Ada, role: builder}\nplaces:\n  home: {name: home}\n"
        "assemblies:\n  flaps: {title: Flaps}\n  left-wing: {title: Wing}\n",
    }
    run = mkdocs(make_root(clean), "build", "--strict", SOURCE_DATE_EPOCH="1770076800")
    assert run.returncode == 0, run.stderr


@pytest.mark.slow
def test_a_missing_address_is_told_and_leaves_out_the_feeds(make_root: MakeSite) -> None:
    """Nothing in a feed could be absolute."""
    root = make_root(settings=LEAST.replace("site_url: https://tarn.example/journal/\n", ""))
    run = mkdocs(root, "build")
    assert "[no-site-url]" in run.stderr
    names = listing(root / "site")
    assert "feed.xml" not in names
    assert "feed.json" not in names
    assert "journal.json" in names


def test_the_site_map_lists_every_page_once(make_root: MakeSite) -> None:
    """sitemaps.org: absolute addresses; the compressed one says the same."""
    site = site_of(make_root())
    tree = ET.parse(site / "sitemap.xml").getroot()
    spaces = {"s": "http://www.sitemaps.org/schemas/sitemap/0.9"}
    listed = [one.text for one in tree.findall("s:url/s:loc", spaces)]
    pages = [
        "https://tarn.example/journal/" + one.parent.relative_to(site).as_posix().removeprefix(".")
        for one in site.rglob("index.html")
    ]
    assert sorted(str(one).rstrip("/") for one in listed) == sorted(one.rstrip("/") for one in pages)
    assert all(re.fullmatch(r"\d{4}-\d\d-\d\d", one.text or "") for one in tree.findall("s:url/s:lastmod", spaces))
    assert gzip.decompress((site / "sitemap.xml.gz").read_bytes()) == (site / "sitemap.xml").read_bytes()


def test_every_style_and_script_stands_where_pages_and_styles_say(make_root: MakeSite) -> None:
    """Each is named by its content, and there under no other name; the builder's own replaces ours of that name."""
    own = {"../mine/assets/trade.css": b"p { color: red }", "../mine/assets/own.css": b""}
    site = site_of(make_root(own, LEAST.replace("font: false}", "font: false, custom_dir: mine}")))
    named = {path.relative_to(site).as_posix() for path in (site / "assets").rglob("*")}
    used = set()
    for page in [*site.rglob("index.html"), site / "404.html"]:
        links = re.findall(r'(?:href|src)="([^"]*assets/[^"]+)"', page.read_text())
        used |= {
            posixpath.normpath(posixpath.join(page.relative_to(site).parent, one)) for one in links if one[0] == "."
        }
    for style in (site / "assets").rglob("*.css"):
        links = re.findall(r'url\("?([^")]+\.woff2)', style.read_text())
        used |= {posixpath.normpath(posixpath.join(style.relative_to(site).parent, one)) for one in links}
    assert used <= named
    assert {one.rpartition(".")[0] for one in used} >= {"assets/fonts/literata-700." + digest(site, "literata-700")}
    files = [one for one in named if one.endswith((".css", ".js", ".woff2", ".svg"))]
    assert [one for one in files if not re.search(r"\.[0-9a-f]{8}\.\w+$", one)] == ["assets/own.css"]
    (trade,) = [one for one in files if "/trade." in one]
    assert (site / trade).read_bytes() == b"p { color: red }"


def digest(site: Path, name: str) -> str:
    """The first eight digits of the SHA-256 of a font (FIPS 180-4)."""
    (font,) = (site / "assets/fonts").glob(f"{name}.*.woff2")
    return hashlib.sha256(font.read_bytes()).hexdigest()[:8]


def test_the_page_for_wrong_addresses_works_at_any_depth(make_root: MakeSite) -> None:
    """Its links count from the root of the host."""
    page = (site_of(make_root()) / "404.html").read_text()
    assert 'href="/journal/entries/"' in page
    assert re.search(r'href="/journal/assets/journal\.[0-9a-f]{8}\.css"', page)
    assert 'content="noindex"' in page


def test_every_page_is_valid_html(make_root: MakeSite) -> None:
    """html5lib's strict parser finds no error; IDs are unique; every picture has its size and its words."""
    site = site_of(make_root())
    for page in [*site.rglob("index.html"), site / "404.html"]:
        text = page.read_text()
        parser = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)
        tree = parser.parse(text)
        ids = [one.get("id") for one in tree.iter() if one.get("id")]
        assert len(ids) == len(set(ids)), page
        for image in tree.iter("img"):
            assert image.get("width"), page
            assert image.get("height"), page
            assert image.get("alt") is not None, page
        assert len(list(tree.iter("h1"))) == 1, page


def test_every_link_and_file_that_a_page_names_is_there(make_root: MakeSite) -> None:
    """Nothing on the site leads to nothing, and nothing is fetched from another host."""
    site = site_of(make_root())
    for page in site.rglob("index.html"):
        tree = html5lib.parse(page.read_text(), namespaceHTMLElements=False)
        for element in tree.iter():
            for key in ("href", "src"):
                target = element.get(key)
                if target is None or target.startswith(("#", "mailto:")):
                    continue
                if target.startswith("https://"):
                    assert element.tag == "a" or element.get("rel") == "canonical", (page, target)
                    continue
                path = (page.parent / target.partition("#")[0].partition("?")[0]).resolve()
                assert (path / "index.html").is_file() or path.is_file(), (page, target)
                fragment = target.partition("#")[2]
                if fragment and path.is_dir():
                    assert f'id="{fragment}"' in (path / "index.html").read_text(), (page, target)


def test_the_offline_site_opens_from_a_file(make_root: MakeSite) -> None:
    """For the archive: links name files, nothing needs the site's address, everything is shown."""
    root = make_root()
    site = site_of(root, out=root / "offline", audience=Audience.ARCHIVE, offline=True)
    home = (site / "index.html").read_text()
    assert 'href="entries/index.html"' in home
    assert "canonical" not in home
    assert not (site / "feed.xml").exists()
    hush = (site / "entries/2026-02-03-hush/index.html").read_text()
    assert "Not for you" in hush
    assert 'href="../../source/content/entries/2026-02-03-hush/c.jpg"' in hush


def test_a_builder_s_own_template_wins(make_root: MakeSite) -> None:
    """custom_dir stands before ours, ours before the host's."""
    root = make_root(settings=LEAST.replace("font: false", "font: false, custom_dir: mine"))
    (root / "mine").mkdir()
    (root / "mine/page.html").write_text('{% extends "main.html" %}{% block content %}<h1>Mine</h1>{% endblock %}')
    site = site_of(root)
    assert "<h1>Mine</h1>" in (site / "pages/about/index.html").read_text()
    assert 'class="entry with-story' in (site / "entries/2026-02-01-ribs/index.html").read_text()


def test_extra_styles_and_scripts_are_placed(make_root: MakeSite) -> None:
    """What a builder adds in mkdocs.yml is on every page, whatever its depth."""
    root = make_root(
        {"mine.css": "p {}", "mine.js": "1", "other.css": "q {}"},
        LEAST + "extra_css: [mine.css, ../above.css]\nextra_javascript: [mine.js]\n",
    )
    (root / "above.css").write_text("r {}")
    site = site_of(root)
    assert (site / "mine.css").read_text() == "p {}"
    assert (site / "mine.js").read_text() == "1"
    assert not (site / "other.css").exists()
    assert not list(site.parent.glob("**/site*/**/above.css"))
    page = (site / "entries/2026-02-01-ribs/index.html").read_text()
    assert 'href="../../mine.css"' in page
    assert 'src="../../mine.js"' in page


def test_another_docs_dir_is_refused(make_root: MakeSite) -> None:
    """The journal lives under content/."""
    root = make_root(settings=LEAST.replace("docs_dir: content", "docs_dir: docs"))
    (root / "docs").mkdir()
    with pytest.raises(SiteError, match="docs_dir: content"):
        site_of(root)


def test_settings_that_are_missing_or_broken_are_told(make_root: MakeSite) -> None:
    """No traceback: one line for the user."""
    root = make_root(settings="site_name: [")
    with pytest.raises(SiteError, match=r"mkdocs\.yml"):
        site_of(root)
    (root / "mkdocs.yml").write_text(LEAST.replace(", journal", ""))
    with pytest.raises(SiteError, match="lacks `journal`"):
        site_of(root)
    (root / "mkdocs.yml").unlink()
    with pytest.raises(SiteError, match="not found"):
        site_of(root)


@pytest.mark.slow
def test_the_host_s_notices_do_not_reach_the_user(make_root: MakeSite) -> None:
    """With the line that `journal begin` writes into mkdocs.yml, the host's command keeps quiet as well."""
    root = make_root(settings=LEAST + "extra: {quiet: !!python/name:journal.quiet.host }\n")
    run = mkdocs(root, "build")
    assert run.returncode == 0
    said = run.stdout + run.stderr
    assert "end of life" not in said
    assert "2.0" not in said
    assert "Zensical" not in said


@pytest.mark.slow
def test_a_build_killed_at_any_moment_leaves_the_old_site_whole(make_root: MakeSite) -> None:
    """Ten builds, each killed a little later; then one that may end."""
    files: dict[str, str | bytes | None] = {
        f"entries/e{number}/index.md": entry(f"title: E{number}\ndate: 2026-03-01", "Words. " * 200)
        for number in range(150)
    }
    root = make_root(files)
    build = [sys.executable, "-m", "mkdocs", "build", "-q"]
    site_of(root)
    site_of(root)
    before = listing(root / "site")
    (root / "content/entries/e1/index.md").write_text(entry("title: Changed\ndate: 2026-03-01", "Other words."))
    begun = time.monotonic()
    subprocess.run(build, cwd=root, capture_output=True, check=True)
    whole = time.monotonic() - begun
    after = listing(root / "site")
    assert after != before
    for turn in range(10):
        process = subprocess.Popen(build, cwd=root, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(whole * (turn + 1) / 10)
        process.send_signal(signal.SIGKILL)
        process.wait()
        assert listing(root / "site") == after
    subprocess.run(build, cwd=root, capture_output=True, check=True)
    assert listing(root / "site") == after
    assert sorted(one.name for one in root.iterdir()) == [".journal", "content", "mkdocs.yml", "site"]
