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
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from hashlib import sha256
from html import unescape
from pathlib import Path
from urllib.parse import unquote, urlsplit

from journal.making.private_words import Private, parts_of, pattern_of, say_paths
from journal.making.scan_pictures import metadata_in
from journal.making.scan_requests import read_html, requests_in_script, requests_in_style
from journal.media.clips import uncleanliness

Progress = Callable[[int, int], None]

PAGES = frozenset({".html", ".htm", ".svg"})
DATA = frozenset({".json", ".xml", ".txt", ".csv", ".md", ".webmanifest", ".map", ".ics"})
PICTURES = frozenset({".jpg", ".jpeg", ".png", ".webp", ".gif"})
FONTS = frozenset({".woff", ".woff2", ".ttf", ".otf"})
FILMS = frozenset({".mp4"})

_PAIR = re.compile(r"(?<![\d.])(-?\d{1,2}\.\d{4,})\s*[,;/ ]\s*(-?\d{1,3}\.\d{4,})(?![\d.])")
_DEGREES = re.compile(r"\d{1,3}\s*°\s*\d{1,2}(?:\.\d+)?\s*['′]\s*(?:\d{1,2}(?:\.\d+)?\s*[\"″]\s*)?[NSEW]\b")
_GPS_WORDS = re.compile(r"GPS(?:Latitude|Longitude|Position|Coordinates)|\bgeo:-?\d", re.IGNORECASE)
_ESCAPED = re.compile(r"\\u([0-9a-fA-F]{4})")


@dataclass(frozen=True, slots=True, kw_only=True)
class Leak:
    """Something that must not leave, and the file of the site that holds it."""

    path: str
    what: str

    def __str__(self) -> str:
        return f"{self.path}: {self.what}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Scanned:
    """A site searched: every file with its digest and size, and what was found."""

    digests: dict[str, str] = field(default_factory=dict)
    sizes: dict[str, int] = field(default_factory=dict)
    leaks: tuple[Leak, ...] = ()

    @property
    def bytes(self) -> int:
        """What the whole site weighs."""
        return sum(self.sizes.values())


class Scanner:
    """Searches files with what is known to be private.

    `own_host` is the host of the site's own address. `pictures` are the names of files under
    `pictures/` and `clips/` that something public shows; others must not be there. `shipped` are digests
    of files that come with the program: their words are ours. `allowed` are words that the builder
    lets pass.
    """

    def __init__(
        self,
        private: Private,
        *,
        root: Path,
        site_url: str = "",
        pictures: frozenset[str] | None = None,
        shipped: frozenset[str] = frozenset(),
        allowed: frozenset[str] = frozenset(),
    ) -> None:
        self._private = private
        self._root = root
        self._own_host = (urlsplit(site_url).hostname or "") if site_url else ""
        self._pictures = pictures
        self._shipped = shipped
        self._allowed = {" ".join(word.casefold().split()) for word in allowed}
        secrets = [one for one in private.secrets if " ".join(one.words.casefold().split()) not in self._allowed]
        # Each with the parts that must all occur, folded, and its pattern.
        self._hunted = [
            (
                secret,
                [part.casefold() for part in parts_of(secret)],
                re.compile(pattern_of(secret), 0 if secret.exact else re.IGNORECASE),
            )
            for secret in secrets
        ]
        self._lengths = frozenset(run.count(" ") + 1 for run in private.runs)

    def search_site(self, site: Path, progress: Progress | None = None) -> Scanned:
        """Every file below `site`."""
        paths = sorted(path for path in site.rglob("*") if path.is_file() or path.is_symlink())
        digests: dict[str, str] = {}
        sizes: dict[str, int] = {}
        leaks: list[Leak] = []
        for number, path in enumerate(paths, start=1):
            name = path.relative_to(site).as_posix()
            if path.is_symlink():
                leaks.append(Leak(path=name, what="a link instead of a file; put the file itself in its place"))
                continue
            data = path.read_bytes()
            digests[name], sizes[name] = sha256(data).hexdigest(), len(data)
            leaks += [Leak(path=name, what=what) for what in dict.fromkeys(self._leaks_in(name, data, digests[name]))]
            if progress is not None:
                progress(number, len(paths))
        return Scanned(digests=digests, sizes=sizes, leaks=tuple(leaks))

    # -- one file --------------------------------------------------------------------------------

    def _leaks_in(self, name: str, data: bytes, digest: str) -> Iterator[str]:
        yield from self._secrets_in(name.replace("/", " / "), "in its address")
        same = [path for path in self._private.originals.get(len(data), ()) if path.read_bytes() == data]
        if same:
            yield f"it is an original, byte for byte ({say_paths(same, self._root)})"
        folder = name.partition("/")[0]
        if (
            self._pictures is not None
            and folder in ("pictures", "clips")
            and name.rpartition("/")[2] not in self._pictures
        ):
            yield "no public page shows this file; leave it out, or show it in an entry"
        ending = Path(name).suffix.casefold()
        if ending == ".gz":
            try:
                yield from self._leaks_in(name.removesuffix(".gz"), gzip.decompress(data), "")
            except (OSError, EOFError, zlib.error):
                yield "packed, and it cannot be unpacked and read; put in what is packed in it, or leave it out"
        elif ending in PICTURES:
            yield from (f"the picture carries {what}" for what in metadata_in(data))
        elif ending in FILMS:
            yield from (f"the film carries {what}" for what in uncleanliness(io.BytesIO(data)))
        elif ending == ".pdf":
            yield from self._leaks_in_pdf(data)
        elif ending in FONTS:
            return
        elif ending in PAGES | DATA | {".css", ".js", ".mjs"} or name.startswith(".") or not ending:
            yield from self._leaks_in_text(name, ending, data, digest)
        elif f"*{ending}" not in self._allowed:
            yield f'a kind of file that is not read here ({ending}); leave it out, or allow it: --allow "*{ending}"'

    def _leaks_in_text(self, name: str, ending: str, data: bytes, digest: str) -> Iterator[str]:
        try:
            text = data.decode("utf-8")
        except UnicodeDecodeError:
            yield "not text in UTF-8; save it as UTF-8, or leave it out"
            return
        requests: tuple[str, ...] = ()
        told = _told(text, ending)
        if ending in PAGES:
            page = read_html(text, self._own_host)
            requests, told = page.requests, page.words
        elif ending == ".css":
            requests = requests_in_style(text, self._own_host)
        elif ending in (".js", ".mjs"):
            requests = requests_in_script(text, self._own_host)
        yield from (f"fetches {address} from another host" for address in requests if address not in self._allowed)
        if digest in self._shipped:
            return
        yield from self._secrets_in(unquote(unescape(text)), "")
        if told is not text:
            yield from self._secrets_in(told, "")
        yield from self._runs_in(told)
        yield from _places_in(told)

    def _leaks_in_pdf(self, data: bytes) -> Iterator[str]:
        for key in (b"/Author", b"/EmbeddedFile", b"/GPS"):
            if key in data:
                yield f"the PDF carries {key.decode()[1:]}"
        whole = [data]
        for found in re.finditer(rb"stream\r?\n(.*?)endstream", data, re.DOTALL):
            try:
                whole.append(zlib.decompressobj().decompress(found[1], 50_000_000))
            except zlib.error:
                continue
        text = b"\n".join(whole).decode("latin-1")
        yield from self._secrets_in(text, "")

    # -- words -----------------------------------------------------------------------------------

    def _secrets_in(self, text: str, where: str) -> Iterator[str]:
        folded = text.casefold()
        for secret, parts, pattern in self._hunted:
            # The pattern is slow and hardly ever needed: first whether its parts are there at all.
            if all(part in folded for part in parts) and (found := pattern.search(text)):
                yield f'{secret.what}{f" {where}" if where else ""}: "{found[0]}"'

    def _runs_in(self, text: str) -> Iterator[str]:
        runs = self._private.runs
        if not runs:
            return
        words = re.findall(r"\w+", text.casefold())
        for length in self._lengths:
            for start in range(len(words) - length + 1):
                run = " ".join(words[start : start + length])
                if run in runs and run not in self._allowed:
                    yield f'private words of {runs[run]}: "{run} …"'
                    break


def _told(text: str, ending: str) -> str:
    """What a file tells in words: the strings of data, a script with its escapes undone."""
    if ending == ".json":
        try:
            return json.dumps(json.loads(text), ensure_ascii=False)
        except ValueError:
            return text
    return _ESCAPED.sub(lambda found: chr(int(found[1], 16)), text) if "\\u" in text else text


def _could_be_a_position(latitude: float, longitude: float) -> bool:
    """On the globe, and no pair of lengths: those below one inch, or both of whole 64ths of it."""
    if abs(latitude) > 90 or abs(longitude) > 180 or max(abs(latitude), abs(longitude)) < 1:
        return False
    return any(abs(figure * 64 - round(figure * 64)) > 0.004 for figure in (latitude, longitude))


def _places_in(text: str) -> Iterator[str]:
    if found := _GPS_WORDS.search(text):
        yield f'words of a position: "{found[0]}"'
    for latitude, longitude in _PAIR.findall(text):
        if _could_be_a_position(float(latitude), float(longitude)):
            yield f'what looks like a position: "{latitude}, {longitude}"'
            break
    if found := _DEGREES.search(text):
        yield f'what looks like a position: "{found[0]}"'
