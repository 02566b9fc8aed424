"""Setting the binder: planned sheets, a template and pictures become one PDF.

The sheets are set in parts by `typst` and joined, so memory does not grow with the years. Every part
is set twice: once to count its sheets, once with the numbers in place; nothing that is numbered
changes its size by it.

The document claims PDF/A-3a (ISO 19005-3), for it carries the papers kept, and PDF/UA-1 (ISO 14289-1); the compiler
checks both as it writes each part.
The same binder gives the same bytes; no font of the machine takes part.
"""

from __future__ import annotations

import json
import re
import tempfile
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from importlib import resources
from itertools import accumulate
from pathlib import Path
from typing import Any, Literal, NamedTuple

import typst

from journal.base.formatting import say_few
from journal.base.problems import Problem, finding
from journal.base.safe_write import link_or_copy
from journal.media.photos import Rendition
from journal.record.joining import join_parts, labels_of
from journal.view.view import View

Json = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Binder:
    """A planned binder. `common` goes to every part; `front` and `back` are the sheets before and after
    the entries; `pictures` is the file behind each picture name in them, `drawings` the SVG text
    behind each drawing name; `files` are those that the document carries.
    """

    common: Json
    front: Json
    entries: tuple[Json, ...]
    back: Json
    pictures: Mapping[str, Rendition] = field(default_factory=dict)
    drawings: Mapping[str, str] = field(default_factory=dict)
    files: Mapping[str, Path] = field(default_factory=dict)


class KeptPaper(NamedTuple):
    """The file behind a paper."""

    path: Path
    bytes: int
    sha256: str


_STANDARDS: tuple[Literal["a-3a", "ua-1"], ...] = ("a-3a", "ua-1")
_ENTRIES_TO_A_PART = 80
_FEW_PARTS = 4
_NUMBER_YET_UNKNOWN = "000"
_FORGETTING = 12
"""Compilations after which the compiler has dropped what it kept of an earlier one (measured, typst 0.15)."""


class _Part(NamedTuple):
    """A part of the document: what its sheets say, and whether it goes on where the one before ended."""

    name: str
    data: Json
    continues: bool = False


def render_binder(binder: Binder, out: Path, *, made_at: datetime) -> int:
    """Set `binder` and put it at `out`, whole or not at all; how many sheets it has.

    `made_at` is what the document says of its own making; with the same plan and pictures it gives
    the same bytes. OSError where something cannot be read or written.
    """
    out.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=out.parent, prefix=".binder-") as scratch_name:
        scratch = Path(scratch_name)
        setter = _Setter(scratch, binder, made_at)
        parts = list(_parts(binder))
        counted = []
        for part in parts:
            counted.append(labels_of(setter.set(part, first=1, total=_NUMBER_YET_UNKNOWN, entries={})))
            setter.forget(len(parts))
        *starts, end = accumulate((pages for pages, _ in counted), initial=1)
        entries = {
            label: str(start + at)
            for start, (_, labels) in zip(starts, counted, strict=True)
            for label, at in labels.items()
        }
        files = []
        for part, start, before in zip(parts, starts, counted, strict=True):
            path = setter.set(part, first=start, total=str(end - 1), entries=entries)
            files.append((path, part.continues))
            if labels_of(path) != before:
                raise RuntimeError(f"the sheets of {part.name} moved when their numbers were put in")
            setter.forget(len(parts))
        whole = scratch / "whole.pdf"
        join_parts(files, whole)
        whole.replace(out)
    return end - 1


def _parts(binder: Binder) -> Iterator[_Part]:
    """The front with the first entries, so that no sheet between them is left half empty; where these are all, the
    back as well.
    """
    first, *others = _volumes(binder.entries)
    whole = not others
    data = {**binder.common, **binder.front, "opens": True, "entries": list(first), **(binder.back if whole else {})}
    yield _Part(name="front", data={"parts": ["front", "entries", *(["back"] * whole)], **data})
    for number, entries in enumerate(others, start=2):
        # Every part of the entries begins with the name of its month, for the outline.
        told = [{**entries[0], "opens": True}, *entries[1:]]
        data = {"parts": ["entries"], **binder.common, "opens": False, "entries": told}
        yield _Part(name=f"entries-{number}", data=data, continues=True)
    if not whole:
        yield _Part(name="back", data={"parts": ["back"], **binder.common, **binder.back})


def _volumes(entries: Sequence[Json]) -> Iterator[Sequence[Json]]:
    """Entries in runs of whole months, at least `_ENTRIES_TO_A_PART` and at most twice as many to a run."""
    start = 0
    for at in range(1, len(entries)):
        full = at - start >= _ENTRIES_TO_A_PART and entries[at]["opens"]
        if full or at - start >= 2 * _ENTRIES_TO_A_PART:
            yield entries[start:at]
            start = at
    yield entries[start:]


class _Setter:
    """The folder in which parts are set: template, fonts, pictures and drawings lie ready."""

    def __init__(self, scratch: Path, binder: Binder, made_at: datetime) -> None:
        self._scratch = scratch
        self._made_at = made_at.astimezone(UTC)
        self._fonts = _lay_fonts(scratch)
        for name, rendition in binder.pictures.items():
            _lay_picture(scratch, name, rendition)
        for name, path in binder.files.items():
            link_or_copy(path, scratch / name)
        texts = [binder.common, binder.front, list(binder.entries), binder.back, list(binder.drawings.values())]
        self._table = _substitutes(texts, self._fonts)
        for name, svg in binder.drawings.items():
            (scratch / name).write_text(svg.translate(self._table), encoding="utf-8")
        self._template = scratch / "binder.typ"
        self._template.write_bytes(resources.files("journal.record").joinpath("binder.typ").read_bytes())

    def set(self, part: _Part, *, first: int, total: str, entries: Mapping[str, str]) -> Path:
        """The file of `part`, its sheets numbered from `first` of `total`."""
        data = _translated({**part.data, "first": first, "total": total, "sheets": dict(entries)}, self._table)
        (self._scratch / "data.json").write_text(json.dumps(data, ensure_ascii=False), encoding="utf-8")
        path = self._scratch / f"{part.name}.pdf"
        typst.compile(
            str(self._template),
            output=str(path),
            root=str(self._scratch),
            font_paths=self._fonts,
            pdf_standards=list(_STANDARDS),
            timestamp=self._made_at,
        )
        return path

    def forget(self, parts: int) -> None:
        """Have the compiler drop what it keeps of earlier parts; it forgets by the number of compilations.

        Few parts may stay: their second setting then takes a fraction of the time.
        """
        if parts > _FEW_PARTS:
            for _ in range(_FORGETTING):
                typst.compile(b"", font_paths=self._fonts, timestamp=0)


def _lay_fonts(scratch: Path) -> typst.Fonts:
    """The fonts of the project and those inside the compiler; none of the machine."""
    folder = scratch / "fonts"
    folder.mkdir()
    for file in resources.files("journal").joinpath("data", "fonts").iterdir():
        if file.name.endswith(".ttf"):
            (folder / file.name).write_bytes(file.read_bytes())
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=True, font_paths=[str(folder)])


def _lay_picture(scratch: Path, name: str, rendition: Rendition) -> None:
    """The JPEG as it is, and an SVG that shows it.

    The compiler decodes a JPEG it is given (2 MB of memory for 960 x 720), but passes one inside an
    SVG through untouched: 4,000 pictures take 1 GB instead of 9 (measured, typst 0.15).
    """
    jpeg = scratch / f"{name}.jpg"
    link_or_copy(rendition.path, jpeg)
    width, height = rendition.width_px, rendition.height_px
    (scratch / f"{name}.svg").write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" viewBox="0 0 {width} {height}">'
        f'<image width="{width}" height="{height}" href="{jpeg.name}"/></svg>',
        encoding="utf-8",
    )


def _printable(chars: Iterable[str], fonts: typst.Fonts) -> set[str]:
    """Those of `chars` that these fonts can show; the compiler itself is asked, halving what it refuses."""
    left = [sorted(chars)]
    good: set[str] = set()
    while left:
        part = left.pop()
        # A space between, so that no two are shaped into one.
        text = json.dumps(" ".join(part), ensure_ascii=False)
        source = f'#set document(title: "letters")\n#set text(font: ("Literata",))\n#{text}'
        try:
            typst.compile(source.encode(), font_paths=fonts, pdf_standards=list(_STANDARDS), timestamp=0)
            good.update(part)
        except typst.TypstError:
            middle = len(part) // 2
            left += [part[:middle], part[middle:]] if middle else []
    return good


_PLAIN = frozenset(map(chr, range(0x20, 0x7F))) | frozenset("äöüÄÖÜßéèêàâçñåøæ–—·…’‘“”×°½")
_LEFT, _RIGHT = "\N{MATHEMATICAL LEFT ANGLE BRACKET}", "\N{MATHEMATICAL RIGHT ANGLE BRACKET}"
_DROPPED = frozenset("\u200b\u2060\ufeff\ufe0e\ufe0f")
"""Characters without a shape of their own, left out: joiners of emoji and marks of byte order."""


def _substitutes(texts: object, fonts: typst.Fonts) -> dict[int, str]:
    """What to write in place of every character of `texts` that cannot be printed: PDF/A forbids a character
    without a glyph, and the builder may write any. Such a one is shown by its number, `⟨U+1F600⟩`.
    """
    unusual = _unusual(texts)
    # Not a control, a lone surrogate, a private or unassigned number, nor a mark that turns the line about.
    unprintable = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")
    asked = {char for char in unusual if unicodedata.category(char) not in unprintable}
    good = _printable(asked, fonts) if asked else set()
    return {
        ord(char): "" if char in _DROPPED or unicodedata.category(char) == "Cf" else f"{_LEFT}U+{ord(char):04X}{_RIGHT}"
        for char in unusual - good
    }


def _unusual(texts: object) -> set[str]:
    return set[str]().union(*_strings(texts)) - _PLAIN - frozenset("\n\t")


def check_letters(view: View) -> tuple[Problem, ...]:
    """A finding `letters-unprintable` for every text with letters that no font of the binder holds."""
    told = {
        one.src_uri: [one.title, one.body, *(photo.caption for photo in getattr(one, "photos", ()))]
        for one in (*view.told, *view.pages)
    }
    if not _unusual(list(told.values())):
        return ()
    with tempfile.TemporaryDirectory() as scratch:
        table = _substitutes(list(told.values()), _lay_fonts(Path(scratch)))
    problems = []
    for src_uri, texts in told.items():
        lacking = sorted(char for char in _unusual(texts) if table.get(ord(char)))
        if lacking:
            numbers = [(char, f"U+{ord(char):04X}") for char in lacking]
            named = say_few([f"{char} ({number})" if char.isprintable() else number for char, number in numbers])
            message = f"no font of the binder holds {named}: numbers stand there in print"
            hint = "write them in other letters; site, tables and originals keep the text as it is"
            problems.append(finding(src_uri, None, "letters-unprintable", message, hint))
    return tuple(problems)


def _strings(value: object) -> Iterator[str]:
    """Every text in nested lists and dicts."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, (dict, list)):
        for inner in value.values() if isinstance(value, dict) else value:
            yield from _strings(inner)


_LONG_WORD = re.compile(r"[^\s/\u002d\u200b]{31,}")
_ZERO_WIDTH_SPACE = "\u200b"
_VERBATIM = frozenset({"attached", "digest", "image", "drawing", "label", "url", "id"})
"""Keys whose value is never set as text, or is a digest: not a letter of it may change."""


def _translated(value: Any, table: Mapping[int, str]) -> Any:
    """`value` with all text in it put through `table`, and words that no column holds made breakable."""
    if isinstance(value, str):
        return _LONG_WORD.sub(_breakable, value.translate(table) if table else value)
    if isinstance(value, dict):
        return {key: inner if key in _VERBATIM else _translated(inner, table) for key, inner in value.items()}
    return [_translated(inner, table) for inner in value] if isinstance(value, list) else value


def _breakable(word: re.Match[str]) -> str:
    """A word of more than 30 letters with a place to break after every 24."""
    text = word[0]
    return _ZERO_WIDTH_SPACE.join(text[at : at + 24] for at in range(0, len(text), 24))
