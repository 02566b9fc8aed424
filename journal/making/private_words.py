"""What of a build must not leave: names, places, numbers, passages, files, gathered from the files themselves.

This is the second opinion before publishing. It stands on the lowest room alone and shares nothing with the reader
and the view but the files: it goes by lines where they parse, and where in doubt it takes a text for private. Only
`shown_as`, `show:` and what the builder lets pass with a reason is left out.
"""

from __future__ import annotations

import csv
import difflib
import re
from collections import Counter
from collections.abc import Container, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from html import unescape
from importlib.resources import files
from itertools import pairwise
from pathlib import Path
from typing import Any

import yaml

from journal.base.addresses import fold_name
from journal.base.formatting import say_count
from journal.base.model import ROLE_WORDS
from journal.base.prose import plain, without_accents

RUN = 8
"""Words in a row that make a passage recognisable; shorter passages count as a whole from three words on."""

_LEAST_RUN, _LEAST_SENTENCE = 3, 5
_HABIT = 3
"""Words in a row that stand in as many public files are a habit of writing and tell nothing of the private one."""

_PIECE = 5
"""How many words of a run are held against what is a habit."""

_LONGEST_HEAD = 60
"""Lines that are taken for front matter where its end is missing."""

_WORD = re.compile(r"[^\W_]+")
_MARK = re.compile(
    r"(?<!\w)(?:[!?❗❕¡]\s?\\?){2,8}\W{0,8}(?:\w+\s+){0,2}?(priv\w*)|(?<!\w)[!?]{3}\W{0,8}(\w{1,12})"
    r"|^\W*!\s+(private)\b|\[!(private)|^\W*(?::{3}|~{3})\s*(private)\b",
    re.IGNORECASE,
)
_COMMENT = re.compile(r"<!--(.*?)(?:-->|\Z)", re.DOTALL)
_NOTE = re.compile(r"(?:^|[ \t])#[ \t]+(.+)")
_QUOTED = re.compile(r"(?<!\w)(?:\"[^\"]*\"|'[^']*')")
_KEY = re.compile(r"^([ \t]*)[\"']?([\w-]+)[\"']?[ \t]*:(.*)$")
_TWO_LETTERS = str.maketrans(
    {"ä": "ae", "ö": "oe", "ü": "ue", "å": "aa", "ø": "oe", "æ": "ae", "ß": "ss"}
    | {"Ä": "Ae", "Ö": "Oe", "Ü": "Ue", "Å": "Aa", "Ø": "Oe", "Æ": "Ae"}
)
_HELD = re.compile(
    r"(?:^|[{,\s])[\"']?(?:private|draft)[\"']?\s*(?::\s*(?!\s|[\"']?(?:no|false|n|off)\b)|[,}]|:?\s*$)",
    re.IGNORECASE | re.MULTILINE,
)
_MEDIA = r"[^\s{}\[\],:\"'][^{}\[\],:\"'\n]*\.(?:jpe?g|png|hei[cf]|webp|tiff?|mov|mp4|m4v)"
_CLEAR_NO = frozenset({"no", "false", "n", "off"})
ENDING = r"(?:['’]?s|['’]|es|en?|a|u|i|om|em|ow[ai]|lle|ssa|sta)?"
"""What names take in the languages of builders: genitives and other cases, and no comparison (longer)."""

_STREET = "strasse|straße|str|gasse|weg|platz|allee|street|road|avenue|lane|drive|way|vej|vägen|straat|rue"
_STREETS = rf"(?:(?:{_STREET}|st|rd|ave)\.?)?"
_EVERYDAY = frozenset(
    {"home", "workshop", "shop", "garage", "hangar", "barn", "cellar", "basement", "shed", "house", "room", "airfield"}
    | {"airport", "machine", "paint", "the", "my", "our", "your", "at", "in", "of", "and", "a", "left", "right"}
    | {"big", "small", "old", "new", "main", "near", "behind", "street", "road", "avenue", "lane", "drive", "north"}
    | {"south", "east", "west", "unit", "hall", "building", "from", "with", "for", "side", "upper", "lower"}
)
"""A place that is called nothing but this tells nobody where it is."""


_SHARED = frozenset(
    {"date", "assembly", "steps", "begun", "redone", "place", "tools", "methods", "people", "hours"}
    | {"outcome", "stage", "inspector", "kind", "measured_by", "checked_by", "signed_by"}
)
"""Keys of a private entry whose values stand in lists that everybody may read."""

_ID = "the ID of a person"
_NOT_YET = frozenset({"tbd", "tba", "pending", "none", "unknown", "n/a", "reserved", "applied for", "later", "not yet"})
_PARTICLES = frozenset(
    {"van", "de", "der", "den", "von", "zu", "zur", "la", "le", "du", "des", "di", "da", "del", "della"}
    | {"dos", "af", "av", "ter", "ten", "el", "al", "bin", "ibn", "und", "and", "of", "the"}
)
"""Small words in a name that are no name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Secret:
    """Words that must not be found, what they are, and where they stand (`content/build.yml:7`). `exact` minds
    case, for IDs that are also words; `ending` is what may follow, a regular expression.
    """

    words: str
    what: str
    where: str = ""
    exact: bool = False
    ending: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Private:
    """Everything that must not leave. `runs` maps words in a row (folded, single spaces) to where they stand;
    `originals` maps sizes in bytes to the files of that size whose very bytes must not be sent. `region` is
    the country of the build. `texts` are (file, what it says), those that are kept back as a whole last.
    """

    secrets: tuple[Secret, ...] = ()
    runs: Mapping[str, str] = field(default_factory=dict)
    originals: Mapping[int, tuple[Path, ...]] = field(default_factory=dict)
    region: str = ""
    texts: tuple[tuple[str, str], ...] = ()

    def __str__(self) -> str:
        """What was gathered, in words: what a search that found nothing has looked for."""
        names = sum("person" in one.what for one in self.secrets)
        others = len(self.secrets) - names
        files = sum(map(len, self.originals.values()))
        told = (
            (names, "form of a name", "forms of names"),
            (others, "place, number or folder", "places, numbers and folders"),
            (len(set(self.runs.values())), "private passage", ""),
            (files, "original", ""),
        )
        return ", ".join(say_count(number, one, many) for number, one, many in told if number)


@dataclass(frozen=True, slots=True)
class PrivateText:
    """A text that must not leave, and where it stands (`FILE:LINE`)."""

    where: str
    text: str


def gather_private(root: Path, ours: Container[str] = ()) -> Private:
    """Everything private of the build folder `root`, drafts and records included. `ours` are words, in small letters,
    that the site says by itself.
    """
    build_yml = _read(root / "content/build.yml")
    build = _parse_yaml(build_yml)
    texts = [(path.relative_to(root).as_posix(), _read(path)) for path in _text_files(root)]
    private: list[PrivateText] = []
    public: list[list[str]] = []
    hidden_folders: list[tuple[str, str]] = []
    rank: dict[str, int] = {}
    for name, text in texts:
        if name.casefold().endswith((".md", ".markdown")):
            passages, rest, hidden = _passages_of(name, text)
            rank[name] = 2 if hidden else 0
            # What was sealed lies under its digest: no folder of a builder's.
            if hidden and name.count("/") > 1 and not name.startswith("content/seals/"):
                hidden_folders += [(one, name) for one in _ids_of(Path(name))]
        else:
            passages = list(_passages_of_table(name, text))
            # Only what everybody reads can be a habit: no papers, no notes, none of the tables of money.
            rest = text if name == "content/steps.csv" else ""
        private += passages
        public.append(words_of(rest))
    return Private(
        secrets=tuple(_telling(_secrets(build, root, build_yml, hidden_folders), ours, build, texts)),
        runs=_runs(private, public),
        originals=_originals(root),
        region=_countries().get(_text(build.get("zone")), ""),
        texts=tuple(sorted(texts, key=lambda one: rank.get(one[0], 1))),
    )


def _ids_of(path: Path) -> Iterator[str]:
    """What an entry at `path` may be called: its file, and its folder where that is its own."""
    if path.stem.casefold() not in ("index", "entry"):
        yield path.stem
    if path.parent.name not in ("entries", "inspections", "measurements", "pages") and not re.fullmatch(
        r"\d{4}|\d{2}", path.parent.name
    ):
        yield path.parent.name


# -- names and numbers -----------------------------------------------------------------------------


def _secrets(build: Any, root: Path, text: str, hidden: Iterable[tuple[str, str]]) -> Iterator[Secret]:
    people = {key: _keyed(one) or {"name": one} for key, one in _inside(build.get("people")).items()}
    shown = {fold_name(_text(one.get("shown_as"))) for one in people.values()}
    shown |= {fold_name(word) for word in ROLE_WORDS.values()}
    shown_words = {word for name in shown for word in name.split()}
    lines = text.split("\n")

    def where(words: str) -> str:
        line = next((number for number, one in enumerate(lines, 1) if words and words in one), 0)
        return f"content/build.yml:{line}" if line else "content/build.yml"

    for key, one in people.items():
        name = _text(one.get("name"))
        if fold_name(name) not in shown and " " in name:
            yield Secret(words=name, what="the full name of a person", where=where(name), ending=ENDING)
        for number, word in enumerate(re.findall(r"[^\W\d_]+", name)):
            if len(word) > 1 and word not in _PARTICLES and fold_name(word) not in shown_words:
                short = len(word) < 4
                what = "the family name of a person" if number else "the name of a person"
                yield Secret(words=word, what=what, where=where(name), exact=short, ending="" if short else ENDING)
        if len(key) > 2 and fold_name(key) not in shown_words:
            yield Secret(words=key, what=_ID, where=where(key), exact=True)
    shows = {fold_name(_text(one)) for one in _items(build.get("show"))}
    aircraft = _keyed(build.get("aircraft"))
    for key in ("registration", "serial"):
        words = _text(aircraft.get(key))
        if key not in shows and len(words) > 2 and words.casefold() not in _NOT_YET and not words.isdigit():
            yield Secret(words=words, what=f"the {key} of the aircraft", where=where(words))
    if "places" not in shows:
        for key, one in _inside(build.get("places")).items():
            yield from _place(key, _text(_keyed(one).get("name") or one), where)
    for folder, name in hidden:
        yield Secret(words=folder, what="the folder of a private entry or a draft", where=name, exact=True)
    for path in (root, Path.home()):
        if len(str(path)) > 5:
            yield Secret(words=str(path), what="a folder of this machine", exact=True)


def _telling(
    secrets: Iterable[Secret], ours: Container[str], build: Any, texts: Iterable[tuple[str, str]]
) -> Iterator[Secret]:
    """What tells anything where it is found. A name that is an ordinary word (Green, Long) does so as it is written and
    where the build says it elsewhere than in a full name; the ID of a person that is one never does.
    """
    said = "\n".join(text for _, text in texts)
    for one in (*_inside(build.get("people")).values(), *_inside(build.get("places")).values()):
        said = said.replace(_text(_keyed(one).get("name") or one) or "\n", " ")
    for secret in secrets:
        if secret.words.casefold() not in ours or not secret.what.endswith((" person", " place")):
            yield secret
        elif secret.what != _ID and re.search(pattern_of(secret), said):
            yield replace(secret, exact=True)


def _place(key: str, name: str, where: Any) -> Iterator[Secret]:
    """The name of a place, its ID, and of an address each word that is no everyday one, short forms included."""
    for words in dict.fromkeys((name, key)):
        if not _EVERYDAY.issuperset(_WORD.findall(fold_name(words))) and len(words) > 2:
            yield Secret(words=words, what="the name of a place", where=where(name))
    for word in dict.fromkeys(re.findall(r"\w+", name)):
        stem = re.sub(rf"(?:{_STREET})$", "", word, flags=re.IGNORECASE)
        if word.casefold() in _EVERYDAY or word == name:
            continue
        if len(stem) > 3 and not word.isdigit():
            ending = ENDING if stem == word else _STREETS
            yield Secret(words=stem, what="part of the name of a place", where=where(name), ending=ending)
        elif word.isdigit() and len(word) > 4:
            yield Secret(words=word, what="part of the name of a place", where=where(name))


def parts_of(secret: Secret) -> list[str]:
    """The words of a secret, without what stands between them."""
    return [part for part in re.split(r"[\s_\-]+", secret.words.strip()) if part]


def pattern_of(secret: Secret) -> str:
    """A regular expression for the words in every form in which an address or a page may hold them."""
    parts = [re.escape(part) for part in parts_of(secret)]
    between = r"(?:[\s_\-+.\u2010-\u2015\u2212]|%20|&nbsp;|&#160;)*"
    return r"(?<![^\W_])" + between.join(parts) + secret.ending + r"(?![^\W_])"


def spellings(secret: Secret) -> tuple[str, ...]:
    """The words of `secret` as they are, without marks on letters, and with the two letters that replace them."""
    return tuple(dict.fromkeys((secret.words, without_accents(secret.words), secret.words.translate(_TWO_LETTERS))))


# -- passages --------------------------------------------------------------------------------------


def _passages_of(name: str, text: str) -> tuple[list[PrivateText], str, bool]:
    """(private passages of a Markdown file, the rest of it, whether the whole file is private)."""
    lines = plain(text).split("\n")
    ends = [number for number, line in enumerate(lines) if re.match(r"-{3,}[ \t]*$", line)]
    matter: list[str] = []
    if ends and not "".join(lines[: ends[0]]).strip():
        matter = lines[: (ends[1] if len(ends) > 1 else _LONGEST_HEAD) + 1]
    front = [line for line in matter if line.strip(" -")]
    least = min((len(line) - len(line.lstrip()) for line in front), default=0)
    flow = bool(front) and front[0].lstrip().startswith("{") and _HELD.search(" ".join(front))
    if flow or any(_holds_back(line[least:]) for line in front):
        return [*_matter(name, matter), *_paragraphs(name, lines, len(matter))], "", True
    taken = [False] * len(lines)
    passages: list[PrivateText] = []
    kept_back = [*_kept_back(matter)]
    for number, words in kept_back:
        said = re.split(r"[{},]|(?<![\w.-])[\w.-]+[\"']?[ \t]*:(?=\s)", words)
        passages += [PrivateText(f"{name}:{number + 1}", one) for one in said]
    for start, end in _marked(lines, len(matter)):
        taken[start:end] = [True] * (end - start)
        passages += _paragraphs(name, lines[:end], start)
    notes = [*_notes(matter)]
    comments = ((text.count("\n", 0, found.start()), found[1]) for found in _COMMENT.finditer(text))
    passages += [PrivateText(f"{name}:{number + 1}", words) for number, words in (*comments, *notes)]
    rest = "\n".join(line for line, is_taken in zip(lines, taken, strict=True) if not is_taken)
    for _, words in (*kept_back, *notes):
        rest = rest.replace(words, " ")
    return passages, _COMMENT.sub(" ", rest), False


def _holds_back(line: str) -> bool:
    """Whether a key at the edge keeps something back: `private`, `draft` or nearly so, and no clear no."""
    found = _KEY.match(line.replace('"', "").replace("'", ""))
    if not found or found[1]:
        return False
    key, said = found[2].casefold(), found[3].partition("#")[0].strip().casefold()
    like = max(difflib.SequenceMatcher(None, key, word).ratio() for word in ("private", "draft"))
    return like >= 0.8 and said not in _CLEAR_NO


def _matter(name: str, lines: list[str]) -> Iterator[PrivateText]:
    """The texts of a front matter, line by line without their keys."""
    for number, line in enumerate(lines, start=1):
        found = _KEY.match(line)
        if not found or found[2].casefold() not in _SHARED:
            yield PrivateText(f"{name}:{number}", found[3] if found else line)


def _notes(lines: list[str]) -> Iterator[tuple[int, str]]:
    """(line from 0, text) of the remarks in a front matter; a sign in quotes begins none."""
    for number, line in enumerate(lines):
        if found := _NOTE.search(_QUOTED.sub(lambda quoted: "x" * len(quoted[0]), line)):
            yield number, line[found.start(1) :]


def _kept_back(lines: list[str]) -> Iterator[tuple[int, str]]:
    """(line from 0, text) of what the front matter keeps back: answers, and pictures that say `private`."""
    section, first, photos = "", 0, ""
    for number, line in enumerate(lines):
        found = _KEY.match(line)
        if found and not found[1]:
            section = found[2].casefold()
        if section == "answers":
            yield number, line
        elif section in ("photos", "pictures", "images"):
            first = first or number
            photos += line * (not line.lstrip().startswith("#")) + "\n"
    starts = [found.start() for found in re.finditer(_MEDIA, photos, re.IGNORECASE)]
    for start, end in pairwise([*starts, len(photos)]):
        if _HELD.search(said := photos[start:end]):
            yield first + photos.count("\n", 0, start), said


def _marked(lines: list[str], first: int) -> Iterator[tuple[int, int]]:
    """Spans of lines from one that opens something private to the next paragraph at the left edge."""
    number = first
    while number < len(lines):
        if not _opens(lines[number]):
            number += 1
            continue
        quoted, end = ">" in lines[number].partition("!")[0], number + 1
        while end < len(lines):
            line = lines[end]
            stays = line[:1].isspace() or lines[end - 1].strip() or (quoted and line[:1] == ">")
            if line.strip() and not stays:
                break
            end += 1
        yield number, end
        number = end


def _opens(line: str) -> bool:
    found = _MARK.search(re.sub(r"`[^`]+`", "code", line))
    if not found:
        return False
    word = next(one for one in found.groups() if one).casefold()
    return difflib.SequenceMatcher(None, word, "private").ratio() >= 0.75


def _paragraphs(name: str, lines: list[str], first: int) -> Iterator[PrivateText]:
    """The paragraphs of `lines` from `first` on, without the words of a mark; each a passage of its own."""
    start, words = first, ""
    for number in range(first, len(lines) + 1):
        line = lines[number] if number < len(lines) else ""
        if line.strip() and not (opens := _opens(line)):
            start = start if words else number
            words += "\n" + line
            continue
        if words:
            yield PrivateText(f"{name}:{start + 1}", words)
        words = ""
        if line.strip() and opens and (rest := re.split(r"priv\w*", line, maxsplit=1, flags=re.IGNORECASE)[-1]).strip():
            yield PrivateText(f"{name}:{number + 1}", rest)


_TABLES = {
    "records.csv": ("title", "note"),
    "costs.csv": ("what",),
    "tasks.csv": ("note",),
    "materials.csv": ("batch",),
    "inventory.csv": ("replacement_note",),
    "bulletins.csv": ("title", "note"),
}


def _passages_of_table(name: str, text: str) -> Iterator[PrivateText]:
    columns = _TABLES.get(Path(name).name.casefold(), ())
    if columns:
        lines = text.splitlines()
        first = 1 if lines and lines[0].casefold().startswith("sep=") else 0
        heading = lines[first] if len(lines) > first else ""
        rows = csv.reader(lines[first:], delimiter=max(";\t,", key=heading.count), skipinitialspace=True)
        try:
            heads = [cell.strip().casefold() for cell in next(rows, [])]
            for row in rows:
                for column, cell in zip(heads, row, strict=False):
                    if column in columns:
                        yield PrivateText(f"{name}:{rows.line_num + first}", cell)
        except csv.Error:
            yield PrivateText(name, text)


def _runs(private: Iterable[PrivateText], public: Iterable[list[str]]) -> dict[str, str]:
    """Runs of words of private passages with their places, less those that are a habit."""
    runs: dict[str, str] = {}
    for passage in private:
        for run in runs_of(passage.text):
            runs.setdefault(run, passage.where)
    pieces = {piece for run in runs for piece in _pieces(run)}
    seen: Counter[str] = Counter()
    lengths = {piece.count(" ") + 1 for piece in pieces}
    for words in public:
        seen.update({piece for length in lengths for piece in _of_length(words, length) if piece in pieces})
    return {run: where for run, where in runs.items() if _tells(run, seen)}


def _pieces(run: str) -> Iterator[str]:
    words = run.split(" ")
    return _of_length(words, min(_PIECE, len(words)))


def _tells(run: str, seen: Counter[str]) -> bool:
    """Whether a run is more than a habit with a word before or behind it; of fewer than five words, one that stands
    in no public file at all.
    """
    words = run.count(" ") + 1
    own = sum(seen[piece] < (_HABIT if words >= _PIECE else 1) for piece in _pieces(run))
    return own > (words == RUN)


def runs_of(text: str) -> Iterator[str]:
    """Every `RUN` words in a row; a passage of fewer from three on, and a sentence in it of fewer from five on, as a
    whole.
    """
    words = words_of(text)
    if _LEAST_RUN <= len(words) < RUN:
        yield " ".join(words)
    for sentence in map(words_of, re.split(r"[.!?;:]\s", text)):
        if _LEAST_SENTENCE <= len(sentence) < RUN:
            yield " ".join(sentence)
    yield from _of_length(words, RUN)


def _of_length(words: list[str], length: int) -> Iterator[str]:
    for start in range(len(words) - length + 1):
        yield " ".join(words[start : start + length])


def words_of(text: str) -> list[str]:
    """The words of a text as they would be read, folded: no addresses of links, no marks of emphasis."""
    told = re.sub(r"\]\([^)\n]*\)", "", unescape(plain(text)))
    return _WORD.findall(re.sub(r"[*`]", "", told).casefold())


# -- files -----------------------------------------------------------------------------------------


def _text_files(root: Path) -> list[Path]:
    endings = (".md", ".markdown", ".yml", ".yaml", ".csv", ".txt")
    found = (path for path in (root / "content").rglob("*") if path.suffix.casefold() in endings and path.is_file())
    return sorted([*found, *(path for path in (root / "mkdocs.yml",) if path.is_file())])


def _read(path: Path) -> str:
    try:
        data = path.read_bytes()
    except OSError:
        return ""
    coding = "utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    return data.decode(coding, "replace").replace("\r\n", "\n").replace("\r", "\n")


def _parse_yaml(text: str) -> dict[str, Any]:
    try:
        return _keyed(yaml.load(text, Loader=yaml.BaseLoader))  # BaseLoader makes texts only
    except (yaml.YAMLError, ValueError, OverflowError, RecursionError):
        return {}


def _inside(node: Any) -> dict[str, Any]:
    return {str(key): value for key, value in node.items()} if isinstance(node, dict) else {}


def _keyed(node: Any) -> dict[str, Any]:
    """A mapping by its keys in small letters and with `_`, as the reader takes them."""
    return {re.sub(r"[\s-]+", "_", key.strip().casefold()): value for key, value in _inside(node).items()}


def _items(node: Any) -> list[Any]:
    return node if isinstance(node, list) else re.split(r"[,\s]+", node) if isinstance(node, str) else []


def _text(node: Any) -> str:
    return " ".join(node.split()) if isinstance(node, str) else ""


@lru_cache(maxsize=1)
def _countries() -> dict[str, str]:
    """IANA zone -> ISO 3166 country, from the tz database's own table."""
    rows = (files("tzdata") / "zoneinfo" / "zone.tab").read_text("utf-8").split("\n")
    return {cells[2]: cells[0] for cells in (row.split("\t") for row in rows) if len(cells) > 2}


def _originals(root: Path) -> dict[int, tuple[Path, ...]]:
    """Photos, clips and records by size: whatever of content/ is not text that pages are made from."""
    by_size: dict[int, list[Path]] = {}
    for folder in ("entries", "inspections", "measurements", "records"):
        base = root / "content" / folder
        for path in sorted(base.rglob("*")) if base.is_dir() else ():
            if path.is_file() and path.stat().st_size:
                by_size.setdefault(path.stat().st_size, []).append(path)
    return {size: tuple(paths) for size, paths in by_size.items()}
