"""The words of the interface: all in one list, whole, and said in another language on every public page."""

from __future__ import annotations

import ast
import io
import json
import re
import shutil
from collections.abc import Iterable, Iterator
from datetime import date
from pathlib import Path
from xml.etree import ElementTree as ET

import html5lib
import pytest
from babel import Locale
from babel.dates import format_date
from babel.messages.catalog import Catalog
from babel.messages.extract import extract_javascript
from babel.messages.pofile import read_po, write_po
from hypothesis import given
from hypothesis import strategies as st
from jinja2.ext import babel_extract
from making import build_site

from journal.base import words
from journal.base.formatting import (
    say_count,
    say_date,
    say_minutes,
    say_month,
    say_number,
    say_short_date,
    say_short_month,
    say_weekday,
)
from journal.base.words import _, content_lang, interface_lang, lang_of, speak, spoken
from journal.ledger.journal import open_journal

ROOT = Path(__file__).parents[1]
LIST = words.WORDS / "journal.pot"
BUILD = Path(__file__).parent / "builds/first-weeks"
ROOMS = ("base", "trade", "view", "site", "making")
"""Where the words of pages are made; the terminal, the binder and the tables speak English."""
KEYWORDS = ("_", "ngettext")
OPEN, CLOSE = "⟦", "⟧"


@pytest.fixture(autouse=True)
def _english_again() -> Iterator[None]:
    """Whatever a test speaks, the next one hears English."""
    yield
    speak()


def messages_of(path: Path) -> Iterator[str | tuple[str, str]]:
    """The messages that a source marks, templates and scripts by Babel's readers. Python is read as a tree: until 3.12
    Babel sees nothing inside f-strings. `say_count(…, "entry")` is a message of two forms.
    """
    if path.suffix == ".py":
        for call in (node for node in ast.walk(ast.parse(path.read_bytes())) if isinstance(node, ast.Call)):
            texts = [one.value for one in call.args if isinstance(one, ast.Constant) and isinstance(one.value, str)]
            if isinstance(call.func, ast.Name) and texts:
                yield from of_call(call.func.id, texts)
        return
    reader, data = (babel_extract, {}) if path.suffix == ".html" else (extract_javascript, {})
    for _line, function, said, _comments in reader(io.BytesIO(path.read_bytes()), [*KEYWORDS], [], data):
        yield from of_call(function, [text for text in (said if isinstance(said, (tuple, list)) else (said,)) if text])


def of_call(function: str | None, texts: list[str]) -> Iterator[str | tuple[str, str]]:
    """The messages of one call that marks some."""
    if function == "say_count":
        yield f"{{count}} {texts[0]}", f"{{count}} {texts[1] if len(texts) > 1 else texts[0] + 's'}"
    elif function == "ngettext":
        yield texts[0], texts[1]
    elif function == "all_of":
        yield from texts
    elif function in ("_", "N_") and texts:
        yield texts[0]


def sources() -> list[Path]:
    """Everything that may say something to a reader of a site."""
    theme = ROOT / "theme_overrides"
    scripts = [path for path in theme.rglob("*.js") if "min" not in path.name and "stemmer" not in path.name]
    rooms = [path for room in ROOMS for path in (ROOT / "journal" / room).rglob("*.py")]
    return sorted([*rooms, *theme.rglob("*.html"), *scripts])


def gathered() -> Catalog:
    """The list of all messages, as the sources have them."""
    catalog = Catalog(project="build-journal", charset="utf-8", fuzzy=False, header_comment="# Words of the interface.")
    for path in sources():
        for message in messages_of(path):
            catalog.add(message, locations=[(path.relative_to(ROOT).as_posix(), 0)])
    return catalog


def written(catalog: Catalog) -> str:
    """A list as a file: in the order of the alphabet, without days and line numbers that change for nothing."""
    out = io.BytesIO()
    write_po(out, catalog, sort_output=True, include_lineno=False, width=0)
    dated = ("POT-Creation-Date", "PO-Revision-Date", "Generated-By", "Last-Translator")
    lines = out.getvalue().decode().splitlines(keepends=True)
    return "".join(line for line in lines if not line.startswith(tuple(f'"{name}' for name in dated)))


def test_the_list_of_words_is_that_of_the_sources(request: pytest.FixtureRequest) -> None:
    """journal.pot holds every marked message and no other; `--rewrite-goldens` writes it anew."""
    now = written(gathered())
    if request.config.getoption("--rewrite-goldens"):
        LIST.parent.mkdir(exist_ok=True)
        LIST.write_text(now, "utf-8")
    assert LIST.read_text("utf-8") == now


def test_places_in_messages_have_names() -> None:
    """A translator can change their order: `{name}`, never `{}` or `%s`."""
    for message in gathered():
        for text in [message.id] if isinstance(message.id, str) else message.id:
            assert not re.search(r"\{\W|\{\d|%[sd(]", text), text


# -- another language -------------------------------------------------------------------------------


def pseudo(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, language: str = "eo") -> None:
    """A catalogue in which every message stands in ⟦brackets⟧, as the only other language that ships."""
    with LIST.open("rb") as file:
        catalog = read_po(file)
    told = Catalog(locale=language)
    for message in catalog:
        if isinstance(message.id, str) and message.id:
            told.add(message.id, f"{OPEN}{message.id}{CLOSE}", locations=message.locations)
        elif message.id:
            told.add(message.id, tuple(f"{OPEN}{form}{CLOSE}" for form in message.id), locations=message.locations)
    folder = tmp_path / "words"
    folder.mkdir()
    with (folder / f"{language}.po").open("wb") as out:
        write_po(out, told, include_lineno=False)
    words._catalogue.cache_clear()
    monkeypatch.setattr(words, "WORDS", folder)


def test_english_is_said_where_nothing_else_ships() -> None:
    """The builder may write in any language: the interface stays English, and what is whose is told."""
    speak("de-AT")
    assert (spoken().interface, spoken().content, spoken().page) == ("en", "de-AT", "en")
    assert _("Home") == "Home"
    assert content_lang() == ' lang="de-AT"'
    assert interface_lang() == ' lang="en"'
    speak("en-GB")
    assert (spoken().page, content_lang(), lang_of("en")) == ("en-GB", "", "")


@given(st.dates())
def test_english_days_are_those_of_the_library(day: date) -> None:
    """Unicode's CLDR names them (by way of babel); only the order is ours."""
    said = (say_date(day), say_short_date(day), say_short_date(day, spelt_out=True), say_weekday(day))
    assert said == tuple(format_date(day, order, "en") for order in ("d MMMM y", "d MMM", "d MMMM", "cccc"))
    said = (say_weekday(day, short=True), say_short_month(day), say_month(f"{day:%Y-%m}".rjust(7, "0")))
    assert said == tuple(format_date(day, order, "en") for order in ("ccc", "LLL", "MMMM y"))


def test_a_catalogue_that_ships_is_spoken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Messages, plurals, dates and numbers are said in it, also to those who write a form of that language."""
    pseudo(tmp_path, monkeypatch, "de")
    speak("de-CH")
    assert (spoken().interface, spoken().page, content_lang()) == ("de", "de-CH", "")
    assert (say_count(1, "entry", "entries"), say_count(2, "entry", "entries")) == ("⟦1 entry⟧", "⟦2 entries⟧")
    assert say_minutes(390) == "⟦6 h 30 min⟧"
    assert (say_date(date(2026, 2, 7)), say_weekday(date(2026, 2, 7))) == ("7. Februar 2026", "Samstag")
    assert (say_month("2026-03"), say_number(12345)) == ("März 2026", "12.345")
    assert _("no such message") == "no such message"
    for_scripts = json.loads(spoken().for_scripts)
    assert for_scripts["Nothing found"] == "⟦Nothing found⟧"
    assert for_scripts["{count} photo"] == ["⟦{count} photo⟧", "⟦{count} photos⟧"]
    assert (for_scripts[""][:3], len(for_scripts[""])) == ([1, 0, 1], 200)
    assert "Home" not in for_scripts


def test_what_is_the_builders_is_told_apart(tmp_path: Path) -> None:
    """A build in German under an English interface: pages are English, and title, words and captions German; terms that
    ship are English again (WCAG 2.2, 3.1.1 and 3.1.2). The feeds are German.
    """
    site = site_in("de", BUILD, tmp_path)
    page = html5lib.parse((site / "entries/2026-01-17-ribs/index.html").read_text("utf-8"), namespaceHTMLElements=False)
    assert page.get("lang") == "en"
    german = {f"{one.tag}.{one.get('class', '').split(' ')[0]}" for one in page.iter() if one.get("lang") == "de"}
    assert german >= {"h1.letters-6", "div.prose", "span.caption", "span.step-title"}
    tips = [one for one in page.iter("span") if one.get("class") == "term-tip"]
    assert {tip.get("lang") for tip in tips} == {"en"}
    assert 'xml:lang="de"' in (site / "feed.xml").read_text("utf-8")


def site_in(language: str, build: Path, tmp_path: Path) -> Path:
    """The public site of a build that is written in a language."""
    root = tmp_path / "build"
    shutil.copytree(build / "content", root / "content")
    shutil.copy(build / "mkdocs.yml", root)
    with (root / "content/build.yml").open("a", encoding="utf-8") as plan:
        plan.write(f"\nlanguage: {language}\n")
    return build_site(open_journal(root, date(2026, 7, 1)))


def builders_words(root: Path) -> str:
    """Everything that stands in the files of a build, on one line, without the marks of Markdown."""
    # The words of links stand without their addresses.
    files = [path for path in (root / "content").rglob("*") if path.suffix in (".md", ".yml", ".csv", ".svg")]
    texts = [path.read_text("utf-8") for path in [*files, root / "mkdocs.yml"]]
    texts += [path.name for path in (root / "content/entries").iterdir()]  # an entry may have its title from its folder
    return plain(re.sub(r"\]\([^)]*\)", "]", "\n".join(texts)))


def plain(text: str) -> str:
    """Letters and figures alone, parted by single spaces."""
    return " ".join(re.findall(r"[^\W_]+", text.casefold()))


def said_on(page: ET.Element) -> Iterator[str]:
    """Every text, title, label and hint of a page, but for what is marked as English content or not for readers."""
    for element in page:
        if not isinstance(element.tag, str) or element.tag in ("script", "style", "code"):
            yield element.tail or ""
            continue
        if element.get("lang") != "en":
            names = ("aria-label", "alt", "placeholder", "title", "data-title")
            yield from (element.get(name, "") for name in names)
            if element.tag == "meta" and element.get("name", element.get("property", "")) in PREVIEWS:
                yield element.get("content", "")
            yield element.text or ""
            yield from said_on(element)
        yield element.tail or ""


PREVIEWS = ("description", "og:title", "og:description", "og:image:alt")
BRACKETED = re.compile(f"{OPEN}[^{OPEN}{CLOSE}]*{CLOSE}")
UNITS = frozenset(("in", "mm", "lb", "ft", "kg"))


def unsaid(texts: Iterable[str], own: str, dated: frozenset[str]) -> Iterator[str]:
    """What of these texts is neither in brackets, nor the builder's, nor a date."""
    for text in texts:
        rest = re.sub(f"^[^{OPEN}{CLOSE}]*{CLOSE}|{OPEN}[^{OPEN}{CLOSE}]*$", " · ", text)  # with a link in it
        while BRACKETED.search(rest):
            rest = BRACKETED.sub(" · ", rest)
        for piece in re.split(r"[·,;:()…—–“”„/|]|[.!?] | - |\n", rest):
            said = plain(piece)
            if re.search(r"[^\W\d_]{2}", said) and f" {said} " not in f" {own} ":
                left = [word for word in said.split() if not word.isdigit() and word not in dated | UNITS]
                if left and plain(" ".join(left)) not in own:
                    yield piece.strip()


def dates_of(language: str) -> frozenset[str]:
    """The words that dates are said in."""
    told = Locale(language)
    return frozenset(
        plain(name)
        for kind in (told.months, told.days)
        for place in kind.values()
        for width in place.values()
        for name in width.values()
        if plain(name)
    ) | {"de", "la", "a"}


def test_every_public_page_is_said_in_another_language(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every word on every page of the public site is the builder's, marked as English, or a message of the list."""
    pseudo(tmp_path, monkeypatch)
    assert strange_words(BUILD, tmp_path) == {}


@pytest.mark.slow
def test_the_demonstration_is_said_in_another_language(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Likewise, with all that a long build has."""
    pseudo(tmp_path, monkeypatch)
    assert strange_words(ROOT, tmp_path) == {}


def strange_words(build: Path, tmp_path: Path) -> dict[str, list[str]]:
    """Page -> what on it no translator could reach, of the public site of a build written in the other language."""
    site = site_in("eo", build, tmp_path)
    own, dated = builders_words(tmp_path / "build"), dates_of("eo")
    found = {}
    for path in sorted(site.rglob("*.html")):
        page = html5lib.parse(path.read_text("utf-8"), namespaceHTMLElements=False)
        assert page.get("lang") == "eo"
        if strange := sorted(set(unsaid(said_on(page), own, dated))):
            found[path.relative_to(site).as_posix()] = strange
    return found
