"""The search through a finished site, file by file, for anything that must not leave.

The site is built from an allow-list already; this is the second pair of eyes, and it looks at the very
bytes that are about to be sent. What it cannot read it does not let pass.
"""

from __future__ import annotations

import gzip
import io
import json
import re
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from hashlib import sha256
from html import unescape
from pathlib import Path
from typing import BinaryIO
from urllib.parse import unquote, urlsplit

from journal.base.byte_progress import Progress, silent
from journal.base.formatting import say_count
from journal.base.prose import plain, without_accents
from journal.making.private_words import ENDING, Private, Secret, parts_of, pattern_of, spellings, words_of
from journal.making.scan_numbers import looks_in
from journal.making.scan_pictures import metadata_in
from journal.making.scan_requests import read_html, requests_in_script, requests_in_style
from journal.making.scan_sources import AROUND, Sources, around

PAGES = frozenset({".html", ".htm", ".svg"})
DATA = frozenset({".json", ".xml", ".txt", ".csv", ".md", ".webmanifest", ".map", ".ics"})
PICTURES = frozenset({".jpg", ".jpeg", ".png", ".webp", ".gif"})
FONTS = frozenset({".woff", ".woff2", ".ttf", ".otf"})
FILMS = frozenset({".mp4"})

_IN_ADDRESS = " in its address"

_STREAM = re.compile(rb"stream\r?\n(.*?)endstream", re.DOTALL)
_ESCAPED = re.compile(r"\\(?:u([0-9a-fA-F]{4})|[nrt])")


@dataclass(frozen=True, slots=True)
class _Hit:
    """What was found in a file, the source that it comes from (`FILE:LINE`), and `thing`, the same for all that is one:
    "" for what is of this file alone.
    """

    what: str
    where: str = ""
    thing: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Leak:
    """Something that must not leave, and the first of the finished files that holds it; how many more do, and the
    source that it comes from (`FILE:LINE`) where that is known.
    """

    path: str
    what: str
    where: str = ""
    more: int = 0

    @property
    def told(self) -> str:
        """What it is and where it shows, without the source."""
        places = f"{say_count(self.more + 1, 'place')} on the site" if self.more else ""
        if self.where:
            return f"{self.what}: {places}{', first ' if places else ''}on {self.path}"
        return f"{self.what}{': ' if places else ''}{places}"

    @property
    def file(self) -> str:
        """The file to mend: the source, else the file of the site."""
        return re.sub(r":\d+$", "", self.where) or self.path

    @property
    def line(self) -> int | None:
        """The line in it."""
        found = re.search(r":(\d+)$", self.where)
        return int(found[1]) if found else None

    def __str__(self) -> str:
        return f"{self.where or self.path}: {self.told}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Scanned:
    """A site searched: every file with its digest and size, and what was found."""

    digests: dict[str, str]
    sizes: dict[str, int]
    leaks: tuple[Leak, ...]

    @property
    def bytes(self) -> int:
        """What the whole site weighs."""
        return sum(self.sizes.values())


class Scanner:
    """Searches files with what is known to be private.

    `site_url` tells the host of the site's own address. `pictures` are the names of files under
    `pictures/` and `clips/` that something public shows, each with its original where that is known; others must not
    be there. `shipped` are digests of files that come with the program: their words are ours. `allowed` are words
    that the builder lets pass. `look_at_film` tells what a film carries beside its pictures.
    """

    def __init__(
        self,
        private: Private,
        *,
        root: Path,
        site_url: str = "",
        pictures: Mapping[str, str] | None = None,
        shipped: frozenset[str] = frozenset(),
        allowed: frozenset[str] = frozenset(),
        look_at_film: Callable[[BinaryIO], Iterable[str]] = lambda film: (),
    ) -> None:
        self._private = private
        self._root = root
        self._own_host = urlsplit(site_url).hostname or ""
        self._pictures = pictures
        self._shipped = shipped
        self._look_at_film = look_at_film

        self._allowed = {_folded(word) for word in allowed}
        secrets = [replace(one, words=words) for one in private.secrets for words in spellings(one)]
        passing = (pattern_of(Secret(words=word, what="", ending=ENDING)) for word in self._allowed if word)
        self._passing = [re.compile(pattern, re.IGNORECASE) for pattern in passing]
        # Each with the parts that must all occur, folded, and its pattern.
        self._hunted = [
            (
                secret,
                [part.casefold() for part in parts_of(secret)],
                re.compile(pattern_of(secret), 0 if secret.exact else re.IGNORECASE),
            )
            for secret in secrets
        ]
        self._sources = Sources(private.texts)
        self._lengths = frozenset(run.count(" ") + 1 for run in private.runs)

    def search_site(self, site: Path, progress: Progress = silent, *, drawn: str = "") -> Scanned:
        """Every file below `site`, and the words `drawn` into every picture."""
        paths = sorted(path for path in site.rglob("*") if path.is_file() or path.is_symlink())
        digests: dict[str, str] = {}
        sizes: dict[str, int] = {}
        leaks: dict[tuple[str, str], Leak] = {}
        for found in self._secrets_in(drawn, "", " in the watermark"):
            leaks[found.where, found.thing] = Leak(path="pictures/", what=found.what, where=found.where)
        for number, path in enumerate(paths, start=1):
            name = path.relative_to(site).as_posix()
            if path.is_symlink():
                hits = iter([_Hit("a link instead of a file; put the file itself in its place")])
            else:
                data = path.read_bytes()
                digests[name], sizes[name] = sha256(data).hexdigest(), len(data)
                hits = self._leaks_in(name, data, digests[name])
            # One thing of the source is told once, however many pages repeat it, and however often.
            here = {(one.where, one.thing) if one.thing else (name, one.what): one for one in hits}
            for key, found in here.items():
                before = leaks.get(key)
                first = Leak(path=name, what=found.what, where=found.where)
                leaks[key] = replace(before, more=before.more + 1) if before else first
            progress(number, len(paths))
        told = sorted(leaks.values(), key=lambda leak: (not leak.where, leak.file, leak.line or 0))
        return Scanned(digests=digests, sizes=sizes, leaks=tuple(told))

    # -- one file --------------------------------------------------------------------------------

    def _leaks_in(self, name: str, data: bytes, digest: str) -> Iterator[_Hit]:
        if digest not in self._shipped:
            yield from self._secrets_in(name.replace("/", " / "), name, _IN_ADDRESS)
        same = [path for path in self._private.originals.get(len(data), ()) if path.read_bytes() == data]
        if same:
            originals = ", ".join(path.relative_to(self._root).as_posix() for path in same)
            yield _Hit(f"it is an original, byte for byte ({originals})")
        shown = self._pictures
        if shown is not None and name.startswith(("pictures/", "clips/")) and name.rpartition("/")[2] not in shown:
            yield _Hit("no public page shows this file; leave it out, or show it in an entry")
        ending = Path(name).suffix.casefold()
        if ending == ".gz":
            try:
                yield from self._leaks_in(name.removesuffix(".gz"), gzip.decompress(data), "")
            except (OSError, EOFError, zlib.error):
                yield _Hit("packed, and it cannot be unpacked and read; put in what is packed in it, or leave it out")
        elif ending in PICTURES | FILMS:
            carried = metadata_in(data) if ending in PICTURES else self._look_at_film(io.BytesIO(data))
            original = (shown or {}).get(name.rpartition("/")[2], "")
            for one in carried:
                what = f"the {'picture' if ending in PICTURES else 'film'} carries {one}"
                yield _Hit(what, original, what if original else "")
        elif ending == ".pdf":
            yield from self._leaks_in_pdf(name, data)
        elif ending in FONTS:
            return
        elif ending in PAGES | DATA | {".css", ".js", ".mjs"} or name.startswith(".") or not ending:
            yield from self._leaks_in_text(name, ending, data, digest)
        elif f"*{ending}" not in self._allowed:
            yield _Hit(
                f'a kind of file that is not read here ({ending}); leave it out, or allow it: --allow "*{ending}"'
            )

    def _leaks_in_text(self, name: str, ending: str, data: bytes, digest: str) -> Iterator[_Hit]:
        try:
            text = data.decode("utf-8")
        except UnicodeDecodeError:
            yield _Hit("not text in UTF-8; save it as UTF-8, or leave it out")
            return
        requests: tuple[str, ...] = ()
        told = _told(text, ending)
        if ending in PAGES:
            requests, told = read_html(text, self._own_host)
        elif ending == ".css":
            requests = requests_in_style(text, self._own_host)
        elif ending in (".js", ".mjs"):
            requests = requests_in_script(text, self._own_host)
        for address in requests:
            if address not in self._allowed:
                what = f"fetches {address} from another host"
                yield _Hit(what, self._sources.line_of(address, name), what)
        if digest in self._shipped:
            return
        # The words around what is read tell where it comes from; what only the bytes hold is in attributes and scripts.
        known = [*self._secrets_in(told, name)]
        yield from known
        things = {one.thing for one in known}
        bare = _unescaped(unquote(unescape(text))) if told != text else ""
        yield from (one for one in self._secrets_in(bare, name) if one.thing not in things)
        yield from self._runs_in(told, name)
        yield from self._looks_in(told, name)

    def _leaks_in_pdf(self, name: str, data: bytes) -> Iterator[_Hit]:
        for key in (b"/Author", b"/EmbeddedFile", b"/GPS"):
            if key in data:
                yield _Hit(f"the PDF carries {key.decode()[1:]}")
        whole = [re.sub(rb"[^\x00-\x7f]+", b" ", _STREAM.sub(b" ", data))]
        for found in _STREAM.finditer(data):
            with suppress(zlib.error):
                whole.append(zlib.decompressobj().decompress(found[1], 50_000_000))
        # Fonts and pictures are bytes in which any short name is found sooner or later.
        drawn = b"\n".join(piece for piece in whole if piece.isascii()).decode("latin-1")
        for text in (drawn, _pdf_words(data)):
            yield from self._secrets_in(text, name)
        yield from self._runs_in(text, name)
        yield from self._looks_in(text, name)

    # -- words -----------------------------------------------------------------------------------

    def _secrets_in(self, text: str, page: str, how: str = "") -> Iterator[_Hit]:
        text = plain(text)
        # Bergström is found where Bergstrom is meant, too.
        if (bare := without_accents(text)) != text:
            text = f"{text}\n{bare}"
        folded = text.casefold()
        seen: list[tuple[int, int, Secret]] = []
        for secret, parts, pattern in self._hunted:
            # The pattern is slow and hardly ever needed: first whether its parts are there at all.
            if all(part in folded for part in parts):
                seen += [(*span, secret) for span in self._not_passing(pattern, text)]
        widest = (0, 0)
        for start, end, secret in sorted(seen, key=lambda one: (one[0], -one[1])):
            if end <= widest[1] and (start, end) != widest:
                continue  # a family name within the full one
            widest = (start, end)
            words, near = text[start:end], around(text, start, end)
            named = self._sources.file_of(words, page) if how == _IN_ADDRESS else ""
            where = named or self._sources.line_of(words, page, near) or secret.where
            yield _Hit(f'{secret.what}{how} "{words}"', where, f"{secret.what}{_folded(secret.words)}")

    def _not_passing(self, pattern: re.Pattern[str], text: str) -> Iterator[tuple[int, int]]:
        """The matches of `pattern` that are not within words which the builder lets pass."""
        passing = [one.span() for passes in self._passing for one in passes.finditer(text)]
        for found in pattern.finditer(text):
            if not any(start <= found.start() and found.end() <= end for start, end in passing):
                yield found.span()

    def _runs_in(self, text: str, page: str) -> Iterator[_Hit]:
        runs = self._private.runs
        words = words_of(text) if runs else []
        told: set[str] = set()
        for length in self._lengths:
            for start in range(len(words) - length + 1):
                run = " ".join(words[start : start + length])
                if run in runs and run not in self._allowed and runs[run] not in told:
                    told.add(runs[run])
                    near = words[max(0, start - AROUND) : start][::-1], words[start + length :][:AROUND]
                    where = self._sources.line_of(run, page, near, but=runs[run]) or runs[run]
                    yield _Hit(f'private words of {runs[run]} "{run} …"', where, runs[run])

    def _looks_in(self, text: str, page: str) -> Iterator[_Hit]:
        for look in {one.text: one for one in looks_in(text, self._private.region)}.values():
            if _folded(look.text) in self._allowed:
                continue
            spans = [found.span() for found in re.finditer(re.escape(look.text), text)]
            for near in [around(text, *span) for span in spans] or [((), ())]:
                where = self._sources.line_of(look.text, page, near)
                yield _Hit(f'{look.what} "{look.text}"', where, look.key)


def _pdf_words(data: bytes) -> str:
    """The words on the pages of a PDF; its streams hold numbers of glyphs. "" for what is none."""
    import pypdfium2  # slow to load, and a site holds no PDF

    try:
        with pypdfium2.PdfDocument(data) as document:
            return "\n".join(page.get_textpage().get_text_bounded() for page in document)
    except pypdfium2.PdfiumError:
        return ""


def _folded(words: str) -> str:
    return " ".join(words.casefold().split())


def _told(text: str, ending: str) -> str:
    """What a file tells in words: the strings of data, a script with its escapes undone."""
    if ending == ".json":
        try:
            return _unescaped(json.dumps(json.loads(text), ensure_ascii=False))
        except ValueError:
            return text
    return _unescaped(text)


def _unescaped(text: str) -> str:
    """`text` with the escapes of data and scripts undone, so that no letter of one stands before a word."""
    return _ESCAPED.sub(lambda found: chr(int(found[1], 16)) if found[1] else "\n", text)
