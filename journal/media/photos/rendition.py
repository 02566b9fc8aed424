"""What a published picture is: the recipe, its key, and the bytes.

JPEG, because every reader's device shows it, the printed binder takes it as it is, and it is made
in less than a tenth of the time of WebP or AVIF, which would save 15 and 35 % of the bytes at equal
likeness; figures in DEVELOPERS.md and benchmarks/photos_format_and_quality.py.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from hashlib import sha256
from html import escape
from typing import IO

import PIL
import pillow_heif
from PIL import Image, features

from journal.base.model import UNEDITED, Corner, Edits, PhotoSettings
from journal.base.text_files import printable_line
from journal.media.photos.decode import Size, fitted
from journal.media.photos.watermark import clean_mark, draw_mark, face_sha256

RENDITION_VERSION = 2
"""Raise this whenever the same original and recipe would make other bytes."""

LONG_EDGES = (480, 960, 1920)
"""Pixels of the longer side: a card, a phone, a large screen."""

JPEG_QUALITY = 82
_LONGEST_CAPTION = 2000
_LONGEST_CREDIT = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """Everything beside the original that shapes a rendition. Texts are cleaned already."""

    mark: str
    corner: Corner
    opacity: Decimal
    caption: str
    credit: str
    edits: Edits = UNEDITED


def make_recipe(settings: PhotoSettings, caption: str = "", credit: str = "", edits: Edits = UNEDITED) -> Recipe:
    """A recipe from what the builder wrote: control characters gone, length bounded, nothing that
    makes no difference (the corner of no watermark) left in.
    """
    mark = clean_mark(settings.watermark) if settings.opacity > 0 else ""
    return Recipe(
        mark=mark,
        corner=settings.corner if mark else Corner.LOWER_RIGHT,
        opacity=min(settings.opacity, Decimal(1)).normalize() if mark else Decimal(0),
        caption=printable_line(caption, _LONGEST_CAPTION),
        credit=printable_line(credit, _LONGEST_CREDIT),
        edits=edits,
    )


def picture_key(original_sha256: str, recipe: Recipe) -> str:
    """The name a picture's renditions go by: 32 hexadecimal digits from the original, the recipe and
    the code. It tells nothing about any of them, and no two pictures share one.
    """
    told = [recipe.mark, recipe.corner.value, str(recipe.opacity), recipe.caption, recipe.credit]
    told += [repr(recipe.edits)] if recipe.edits != UNEDITED else []
    text = json.dumps([original_sha256, told, _code_version()])
    return sha256(text.encode()).hexdigest()[:32]


@lru_cache(maxsize=1)
def _code_version() -> str:
    """What of the code shapes the bytes; decoders and encoders with it, so that a cached build and a
    fresh one never differ.
    """
    libraries = [PIL.__version__, pillow_heif.__version__, pillow_heif.libheif_version()]
    libraries += [str(features.version(name)) for name in ("jpg", "libjpeg_turbo", "webp", "libtiff", "littlecms2")]
    libraries += [str(features.version(name)) for name in ("freetype2", "raqm", "harfbuzz")]
    return json.dumps([RENDITION_VERSION, LONG_EDGES, JPEG_QUALITY, face_sha256(), libraries])


def planned_sizes(original: Size) -> tuple[Size, ...]:
    """The sizes a picture of this upright size is made in, smallest first, each once, never enlarged."""
    return tuple(dict.fromkeys(fitted(original, long_edge) for long_edge in LONG_EDGES))


Encoded = tuple[Size, bytes]
"""One rendition in memory: its size and its JPEG bytes."""


def render_renditions(image: Image.Image, sizes: tuple[Size, ...], recipe: Recipe) -> list[Encoded]:
    """One for each of `sizes`, smallest first. `image` is clean and at least as large.

    The largest is made first and each smaller one from it by halving. The filter is bicubic: what
    the decoder hands over is less than twice the size wanted, and there Lanczos costs a quarter
    more and comes no closer to a Lanczos picture of the whole original (figures in DEVELOPERS.md).
    """
    made: list[Encoded] = []
    for size in reversed(sizes):
        image = _resized(image, size)
        shown = image
        if recipe.mark:
            shown = image.copy()
            draw_mark(shown, recipe.mark, recipe.corner, recipe.opacity)
        made.append((size, encode(shown, recipe)))
    return made[::-1]


def _resized(image: Image.Image, size: Size) -> Image.Image:
    if image.size == size:
        return image
    if image.size == (2 * size[0], 2 * size[1]):
        return image.reduce(2)
    return image.resize(size, Image.Resampling.BICUBIC, reducing_gap=2.0)


def encode(image: Image.Image, recipe: Recipe) -> bytes:
    """JPEG bytes with nothing in them but the picture, and caption and credit where given."""
    packet = caption_packet(recipe.caption, recipe.credit)
    with _scratch_file() as out:
        image.save(
            out,
            "JPEG",
            quality=JPEG_QUALITY,
            subsampling="4:2:0",
            optimize=True,
            exif=b"",
            icc_profile=None,
            comment=b"",
            **({"xmp": packet} if packet else {}),
        )
        out.seek(0)
        return out.read()


def _scratch_file() -> IO[bytes]:
    """A real file, in memory where the system has such: into one the encoder writes without holding
    Python's lock, into a BytesIO it keeps all other threads waiting (a sixth of the work).
    """
    if sys.platform == "linux":
        return os.fdopen(os.memfd_create("rendition"), "w+b")
    return tempfile.TemporaryFile()


def caption_packet(caption: str, credit: str) -> bytes:
    """The two texts as XMP, as IPTC names them: Description (dc:description) and Credit Line
    (photoshop:Credit). Nothing where both are empty. IPTC Photo Metadata Standard 2023.1.

    XMP rather than Exif, whose text is ASCII by the book: captions are written in every language.
    """
    fields = ""
    if caption:
        fields += (
            '<dc:description><rdf:Alt><rdf:li xml:lang="x-default">'
            f"{escape(caption, quote=False)}</rdf:li></rdf:Alt></dc:description>"
        )
    if credit:
        fields += f"<photoshop:Credit>{escape(credit, quote=False)}</photoshop:Credit>"
    if not fields:
        return b""
    return (
        '<x:xmpmeta xmlns:x="adobe:ns:meta/">'
        '<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        '<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/"'
        ' xmlns:photoshop="http://ns.adobe.com/photoshop/1.0/">'
        f"{fields}</rdf:Description></rdf:RDF></x:xmpmeta>"
    ).encode("utf-8", "replace")
