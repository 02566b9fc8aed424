"""From an open original to an upright sRGB picture of the size that is wanted, and nothing else.

The decoders behind this raise whatever they like on a bad file (ValueError, SyntaxError, EOFError,
RuntimeError, MemoryError, struct.error, ZeroDivisionError … beside OSError); `plain_words` turns
every one of them into a sentence. Pillow's own switches stay as they are: the readers are called
by name, so neither `Image.open`'s limit nor a decoder nobody asked for comes into play.
"""

from __future__ import annotations

import errno
import io
import os
import re
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import Any, BinaryIO

import pillow_heif
from PIL import Image, ImageFile
from PIL.AvifImagePlugin import AvifImageFile
from PIL.BmpImagePlugin import BmpImageFile
from PIL.GifImagePlugin import GifImageFile
from PIL.JpegImagePlugin import JpegImageFile
from PIL.PngImagePlugin import PngImageFile
from PIL.TiffImagePlugin import TiffImageFile
from PIL.WebPImagePlugin import WebPImageFile

from journal.media.high_range import HighRange, still_range
from journal.media.photos import kinds
from journal.media.photos.colour import adobe_rgb_profile, display_p3_profile, to_srgb
from journal.media.photos.kinds import MOST_PIXELS, FileKind, UnusableError

Size = tuple[int, int]
"""Width and height in pixels."""

_READERS: dict[FileKind, Callable[[BinaryIO], ImageFile.ImageFile]] = {
    FileKind.JPEG: JpegImageFile,
    FileKind.HEIC: pillow_heif.HeifImageFile,
    FileKind.PNG: PngImageFile,
    FileKind.TIFF: TiffImageFile,
    FileKind.AVIF: AvifImageFile,
    FileKind.GIF: GifImageFile,
    FileKind.BMP: BmpImageFile,
}

_ORIENTATION = 0x0112
_EXIF_IFD = 0x8769
_INTEROP_IFD = 0xA005
_COLOUR_SPACE = 0xA001
_UNCALIBRATED = 0xFFFF

# Exif 2.32, 4.6.4 A: how the stored picture must be turned to stand upright.
_TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}


@dataclass(slots=True, kw_only=True)
class Stored:
    """A picture as it lies in an open file: the header read, nothing decoded. `exif` is empty where there is
    none or it cannot be read. `source` is where the picture stands: of a raw file, the preview that is in it.
    `size` is as stored, `warning` is what its decoder has stumbled over, once it was decoded.
    """

    source: BinaryIO
    kind: FileKind
    image: ImageFile.ImageFile
    size: Size
    exif: Image.Exif
    orientation: Any = None
    warning: str = ""

    @property
    def turn(self) -> int:
        """The orientation to honour: 1 to 8, where anything odd counts as 1."""
        return self.orientation if isinstance(self.orientation, int) and self.orientation in _TURNS else 1

    @property
    def upright_size(self) -> Size:
        """Width and height as the picture is looked at."""
        width, height = self.size
        if isinstance(self.image, TiffImageFile):
            width, height = self.image.tag_v2[256], self.image.tag_v2[257]  # image.size may be turned already
        return (height, width) if self.turn >= 5 else (width, height)

    @property
    def high_range(self) -> tuple[HighRange, int] | None:
        """How more light than a plain screen has is coded, and the primaries; None for a picture of plain range."""
        return still_range(self.image.info, self.source)

    def check_whole(self) -> None:
        """Raise `UnusableError` where the file ends before the picture does."""
        kinds.check_whole(FileKind.JPEG if isinstance(self.image, JpegImageFile) else self.kind, self.source)
        if not isinstance(self.image, TiffImageFile):
            return
        tags, end = self.image.tag_v2, kinds.size_of(self.source)
        for offsets, lengths in ((273, 279), (324, 325)):
            for at, length in zip(tags.get(offsets, ()), tags.get(lengths, ()), strict=False):
                if at + length > end:
                    raise UnusableError(kinds.CUT_SHORT)


Allow = Callable[[int, Size], None]
"""Called with the bytes that a decoder is about to take, for a picture of that size; returns when it may."""


def freely(_bytes: int, _size: Size) -> None:
    """Memory and time as much as there is."""


def open_stored(source: BinaryIO, allow: Allow = freely) -> Stored:
    """The picture in an open file. `UnusableError` for anything else, and above 200 megapixels; else what the
    decoder raises.
    """
    kind = kinds.sniff(source)
    if kind is None:
        raise UnusableError(kinds.UNKNOWN if kinds.size_of(source) else kinds.EMPTY)
    image: ImageFile.ImageFile
    if kind is FileKind.RAW:
        return _open_raw(source, allow)
    if kind is FileKind.JPEG_XL:
        # This one decodes as soon as it is opened, and its size is not known before.
        allow(_JPEG_XL_MEMORY, (_JPEG_XL_MEMORY // _JPEG_XL_PIXEL, 1))
        source.seek(0)
        image = open_jpeg_xl(source)
        _check_pixels(image.size, source)
    elif kind is FileKind.WEBP:
        # This decoder takes its memory as soon as it is opened.
        size = kinds.webp_size(source)
        _check_pixels(size, source)
        allow(_WEBP_PIXEL * size[0] * size[1], size)
        with _limit_lifted(size):
            source.seek(0)
            image = WebPImageFile(source)
    else:
        source.seek(0)
        image = _READERS[kind](source)
        _check_pixels(image.size, source)
    exif = _read_exif(kind, image, source)
    turn = _orientation(kind, image, exif, source)
    return Stored(source=source, kind=kind, image=image, size=image.size, exif=exif, orientation=turn)


def _orientation(kind: FileKind, image: ImageFile.ImageFile, exif: Image.Exif, source: BinaryIO) -> Any:
    """What Exif says of how to turn what the decoder gives.

    A HEIC is turned by its own rotation as it is decoded, and its Exif must not turn it once more (ISO/IEC 23008-12,
    A.2.1). Some phones write Exif alone: then nothing else tells how it stands. JPEG XL is decoded upright, but for one
    that is a JPEG packed again.
    """
    if kind is FileKind.HEIC:
        return None if kinds.heif_turns_itself(source) else image.info.get("original_orientation")
    if kind is FileKind.JPEG_XL and not getattr(image, "jpeg", False):
        return None
    return exif_values(exif).get(_ORIENTATION)


_JPEG_XL_MEMORY, _JPEG_XL_PIXEL = 1_500_000_000, 16
_RAW_MEMORY = 300_000_000
_FLIPS = {3: 3, 5: 8, 6: 6}
"""LibRaw's word for how the sensor was held (its API reference, `sizes.flip`) -> orientation in Exif."""


def _open_raw(source: BinaryIO, allow: Allow) -> Stored:
    """The preview in a raw file, which is a JPEG or plain pixels. Nothing is developed: what the sensor saw is for
    programs that ask how.
    """
    import numpy as np
    import rawpy

    allow(_RAW_MEMORY, (_RAW_MEMORY, 0))
    source.seek(0)
    try:
        with rawpy.imread(source) as raw:
            preview, flip = raw.extract_thumb(), raw.sizes.flip
            told = raw.other.timestamp
    except (rawpy.LibRawNoThumbnailError, rawpy.LibRawUnsupportedThumbnailError):
        raise UnusableError(kinds.NO_PREVIEW) from None
    except rawpy.LibRawError:
        raise UnusableError(kinds.UNKNOWN) from None
    if preview.format == rawpy.ThumbFormat.JPEG:
        inside = io.BytesIO(bytes(preview.data))
        image: ImageFile.ImageFile = JpegImageFile(inside)
    else:
        inside = io.BytesIO()
        Image.fromarray(np.asarray(preview.data)).save(inside, "PNG")
        image = PngImageFile(inside)
    _check_pixels(image.size, inside)
    exif = _read_exif(FileKind.RAW, image, inside)
    if not exif_values(exif, _EXIF_IFD).get(_TAKEN):
        exif = _exif_of_raw(source, told)
    turn = _FLIPS.get(flip, 1)
    return Stored(source=inside, kind=FileKind.RAW, image=image, size=image.size, exif=exif, orientation=turn)


_TAKEN, _FIRST_YEAR = 0x9003, 1990


def _exif_of_raw(source: BinaryIO, told: Any) -> Image.Exif:
    """Exif of the raw file itself, where it is a TIFF that can be read as one; else the time that LibRaw found."""
    exif = Image.Exif()
    try:
        source.seek(0)
        data = source.read()
        # ORF and RW2 are TIFF but for their third and fourth byte.
        data = data[:2] + (b"*\0" if data[:2] == b"II" else b"\0*") + data[4:]
        inside = io.BytesIO(data)
        directory = TiffImageFile(inside).tag_v2
        exif.endian = directory._endian
        exif.load_from_fp(inside, directory._offset)
    except Exception:  # as in `_read_exif`
        exif = Image.Exif()
    if not exif_values(exif, _EXIF_IFD).get(_TAKEN) and isinstance(told, datetime) and told.year >= _FIRST_YEAR:
        exif.get_ifd(_EXIF_IFD)[_TAKEN] = told.strftime("%Y:%m:%d %H:%M:%S")
    return exif


def open_jpeg_xl(source: BinaryIO) -> ImageFile.ImageFile:
    """One decoded as it is opened; the library is loaded for those who have such pictures."""
    from pillow_jxl import JpegXLImagePlugin

    JpegXLImagePlugin.DECODE_THREADS = 0
    opened: ImageFile.ImageFile = JpegXLImagePlugin.JXLImageFile(source)
    return opened


_HUGE, _PIXELS_A_BYTE = 25_000_000, 8192
"""Above so many pixels no picture of a camera holds so few bytes: one plain colour takes more, but for WebP and HEIC,
which are then made to take memory.
"""


def _check_pixels(size: Size, source: BinaryIO) -> None:
    width, height = size
    if width < 1 or height < 1:
        raise UnusableError(kinds.UNKNOWN)
    if width * height > MOST_PIXELS:
        raise UnusableError(kinds.TOO_LARGE)
    if width * height > max(_HUGE, _PIXELS_A_BYTE * kinds.size_of(source)):
        raise UnusableError(kinds.HOLLOW)


_LIMIT = threading.Lock()


_PILLOW_MINDS = 80_000_000  # a little below where Pillow begins to warn; at twice that it refuses


@contextmanager
def _limit_lifted(size: Size) -> Iterator[None]:
    """Lift Pillow's own limit for as long as it takes, for a large picture that has passed ours.

    WebP and TIFF look at it even when their readers are called by name.
    """
    if size[0] * size[1] < _PILLOW_MINDS:
        yield
        return
    with _LIMIT:
        limit, Image.MAX_IMAGE_PIXELS = Image.MAX_IMAGE_PIXELS, None
        try:
            yield
        finally:
            Image.MAX_IMAGE_PIXELS = limit


def _read_exif(kind: FileKind, opened: ImageFile.ImageFile, source: BinaryIO) -> Image.Exif:
    """Orientation from XMP is not looked at: browsers do not either, so a picture stands on the site
    as it stands when the original is opened.
    """
    exif = Image.Exif()
    try:
        if isinstance(opened, TiffImageFile) and kind is FileKind.TIFF:
            exif.bigtiff, exif.endian = opened.tag_v2._bigtiff, opened.tag_v2._endian
            exif.load_from_fp(source, opened.tag_v2._offset)
        else:
            data = kinds.read_png_exif(source) if kind is FileKind.PNG else None
            data = data or opened.info.get("exif")
            if isinstance(data, bytes):
                exif.load(data)
    except Exception:  # whatever a decoder raises on a maker's strange Exif, the picture may still be good
        return Image.Exif()
    return exif


def exif_values(exif: Image.Exif, ifd: int | None = None) -> dict[int, Any]:
    """Tags and values of the main directory or of one below it; empty where that is broken."""
    try:
        return dict(exif.get_ifd(ifd) if ifd else exif)
    except Exception:  # as above: one bad value must not cost the rest
        return {}


def fitted(size: Size, long_edge: int) -> Size:
    """`size` brought down until its longer side is `long_edge`; never up, never below one pixel."""
    longest = max(size)
    if longest <= long_edge:
        return size
    width, height = (max(1, round(side * long_edge / longest)) for side in size)
    return width, height


_JPEG_AT_ONCE = 32_000_000
_WEBP_PIXEL = 16  # bytes: two canvases of the decoder's, a copy, and Pillow's own


def memory_needed(stored: Stored, long_edge: int) -> int:
    """About how many bytes `decode` will take at its highest; measured, rounded up."""
    kind, opened = stored.kind, stored.image
    pixels = opened.size[0] * opened.size[1]
    if kind is FileKind.HEIC:
        return (14 if stored.high_range else 7) * pixels  # the decoder's copy and Pillow's, at one time
    if kind is FileKind.WEBP:
        return _WEBP_PIXEL * pixels
    if kind is FileKind.AVIF:
        return 12 * pixels
    if not isinstance(opened, JpegImageFile):
        return 8 * pixels
    step = next(step for step in (8, 4, 2, 1) if step == 1 or max(opened.size) // long_edge >= step)
    whole = 6 * pixels if "progression" in opened.info else 0  # all coefficients are kept until the last scan
    return whole + 8 * pixels // step**2


def decode(stored: Stored, long_edge: int) -> tuple[Image.Image, Size]:
    """The picture, and the size of the upright original: RGB with sRGB numbers, opaque, free of all
    metadata, its longer side at least `long_edge` (or the whole picture, where that is smaller).
    Raises what the decoder raises.
    """
    kind, opened, turn, profile = stored.kind, stored.image, stored.turn, _profile(stored)
    image: Image.Image | None = None
    size = opened.size
    high_range = stored.high_range
    opened.info.pop("xmp", None)  # TIFF: an orientation there would turn the picture as it loads
    if isinstance(opened, JpegImageFile):
        # The decoder can leave out detail in steps of 1/2, 1/4, 1/8, which saves most of its time; it
        # must be told the size that fits, not a square, or a 4:3 picture is decoded twice as large.
        opened.draft(None, fitted(size, long_edge))
        # All at once: with the usual 64 KB at a time each thread asks sixty times for Python's lock.
        opened.decodermaxblock = _JPEG_AT_ONCE
        image = _strictly(stored)
    if image is not None:
        pass
    elif kind is FileKind.TIFF:
        with _limit_lifted(size):
            opened.load()
    elif kind is not FileKind.HEIC or not high_range:
        opened.load()
    if not isinstance(opened, JpegImageFile):
        size = opened.size  # HEIC may turn out otherwise than its header said; TIFF stands upright now
    if kind is not FileKind.TIFF and turn >= 5:
        size = size[1], size[0]
    image = image or opened
    factor = max(1, max(image.size) // (2 * long_edge))
    if high_range:
        from journal.media.plain_range import plain_still

        image = plain_still(stored.source if kind is FileKind.HEIC else _flat(image), factor, *high_range)
    else:
        image = to_srgb(_shrunk(image, factor), profile)
    if kind is not FileKind.TIFF and turn != 1:  # Pillow has turned a TIFF itself
        image = image.transpose(_TURNS[turn])
    if image is opened:
        image = opened.copy()
    # Saving looks here for a comment, a profile and more, and finds them even after a resize.
    image.info = {}
    return image, size


_PADDED = re.compile(r"(\d+) extraneous bytes before marker 0xd9")


def _strictly(stored: Stored) -> Image.Image | None:
    """A JPEG of one or three components in the size that was drafted, by a decoder that tells what it stumbles over;
    None, with `warning`, where it does, and for other JPEGs. The same library as Pillow's, so the same pixels.
    """
    # With numpy, which the process that asks children for pictures has no use for; and no threads of it here.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    import simplejpeg

    opened = stored.image
    if opened.mode not in {"RGB", "L"}:
        return None
    stored.source.seek(0)
    data = stored.source.read()
    width, height = opened.size
    try:
        pixels = simplejpeg.decode_jpeg(
            data, "GRAY" if opened.mode == "L" else "RGB", min_width=width, min_height=height, min_factor=1
        )
    except ValueError as error:
        stored.warning = _as_warning(str(error), data)
        return None
    if pixels.shape[:2] != (height, width):
        return None
    image = Image.frombuffer(opened.mode, (width, height), pixels, "raw", opened.mode, 0, 1)
    image.info.update(opened.info)
    return image


_OF_DAMAGE = (
    "Corrupt",
    "Premature",
    "Bogus",
    "Unsupported marker",
    "Unsupported JPEG process",
    "Invalid JPEG",
    "Invalid SOS",
)


def _as_warning(said: str, data: bytes) -> str:
    """The decoder's words where they tell of damage. Equal bytes behind the last pixel are padding: some cameras fill
    a file up to a length (common practice, no source).
    """
    if padded := _PADDED.search(said):
        end = next((begin for marker, begin, _ in kinds.jpeg_parts(data) if marker == 0xD9), 0)
        if len(set(data[max(0, end - int(padded[1])) : end])) <= 1:
            return ""
    return said if said.startswith(_OF_DAMAGE) else ""


def _profile(stored: Stored) -> bytes | None:
    """The colour profile: enclosed, or named by number (HEIC) or in Exif (cameras set to Adobe RGB)."""
    enclosed = stored.image.info.get("icc_profile")
    if isinstance(enclosed, bytes) and enclosed:
        return enclosed
    named = stored.image.info.get("nclx_profile")
    if isinstance(named, dict) and int(named.get("color_primaries", 1)) == 12:
        return display_p3_profile()
    if exif_values(stored.exif, _EXIF_IFD).get(_COLOUR_SPACE) == _UNCALIBRATED:
        index = exif_values(stored.exif, _INTEROP_IFD).get(1)
        if isinstance(index, str) and index.strip("\0 ") == "R03":
            return adobe_rgb_profile()
    return None


_BAND_PIXELS = 16_000_000


def _shrunk(image: Image.Image, factor: int) -> Image.Image:
    """`_flat` and brought down by a whole factor, in bands, so that a picture of 200 megapixels never
    stands in memory twice.
    """
    width, height = image.size
    if factor == 1 and width * height <= _BAND_PIXELS:
        return _flat(image)
    rows = max(1, _BAND_PIXELS // width // factor) * factor
    small: Image.Image | None = None
    for top in range(0, height, rows):
        band = _flat(image.crop((0, top, width, min(top + rows, height)))).reduce(factor)
        if small is None:
            small = Image.new(band.mode, (-(-width // factor), -(-height // factor)))
        small.paste(band, (0, top // factor))
    assert small is not None
    return small


def _flat(image: Image.Image) -> Image.Image:
    """RGB, L, CMYK or LAB, eight bits, opaque: what is transparent becomes white."""
    mode = image.mode
    if mode == "F":
        raise UnusableError(kinds.UNKNOWN)  # measurements, not a picture: nothing says what is white
    if mode.startswith("I"):
        # Pillow's own way from 16 bits to 8 cuts off everything above 255 instead of scaling.
        return image.convert("I").point(lambda value: value * (1 / 257) + 0.5).convert("L")
    if mode in {"La", "RGBa"}:
        image = image.convert({"La": "LA", "RGBa": "RGBA"}[mode])
    elif "transparency" in image.info and mode in {"1", "L", "P", "RGB"}:
        image = image.convert("LA" if mode in {"1", "L"} else "RGBA")
    elif mode == "PA":
        image = image.convert("RGBA")
    if image.mode in {"LA", "RGBA"}:
        plain = "L" if image.mode == "LA" else "RGB"
        white = Image.new(plain, image.size, "white")
        white.paste(image.convert(plain), mask=image.getchannel("A"))
        return white
    if image.mode in {"RGB", "L", "CMYK", "LAB"}:
        return image
    return image.convert("L" if mode == "1" else "RGB")


_OS_WORDS = {
    errno.ENOENT: kinds.MISSING,
    errno.ENOTDIR: kinds.MISSING,
    errno.EACCES: kinds.FORBIDDEN,
    errno.EPERM: kinds.FORBIDDEN,
    errno.EISDIR: kinds.NOT_A_FILE,
    errno.ELOOP: kinds.LOOP,
    errno.ENAMETOOLONG: kinds.MISSING,
}


def say_trouble(error: Exception) -> str:
    """Why a file cannot be used, for whatever reading or decoding it has raised."""
    if isinstance(error, UnusableError):
        return str(error)
    if isinstance(error, MemoryError):
        return kinds.NO_MEMORY
    if isinstance(error, Image.DecompressionBombError):
        return kinds.TOO_LARGE
    if isinstance(error, EOFError) or "truncated" in str(error).lower():
        return kinds.CUT_SHORT
    if isinstance(error, OSError) and error.errno is not None:
        return _OS_WORDS.get(error.errno, kinds.UNREADABLE)
    return kinds.DAMAGED


def why_unusable(source: BinaryIO, error: Exception) -> str:
    """`plain_words`, but for a file that is cut short: a decoder that stumbles over the end may call
    that anything.
    """
    kind = kinds.sniff(source)
    if kind and not isinstance(error, UnusableError | MemoryError):
        try:
            kinds.check_whole(kind, source)
        except UnusableError as cut:
            return str(cut)
    return say_trouble(error)
