"""What a picture says beside what it shows: walked segment by segment, by an allow-list.

JPEG: ITU-T T.81 annex B and JFIF 1.02. PNG: third edition, 11. WebP: RFC 9649. GIF: 89a. What a site of ours
shows carries at most a description and a credit line (IPTC), as XMP.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

_JPEG_MARKERS_WITHOUT_LENGTH = {0x01, *range(0xD0, 0xD9)}
_PNG_CHUNKS = frozenset(
    {"IHDR", "PLTE", "IDAT", "IEND", "tRNS", "gAMA", "cHRM", "sRGB", "iCCP", "sBIT", "pHYs", "bKGD", "hIST", "cICP"}
    | {"acTL", "fcTL", "fdAT"}
)
_WEBP_CHUNKS = frozenset({"VP8 ", "VP8L", "VP8X", "ALPH", "ANIM", "ANMF", "ICCP"})
_XMP_KEPT = frozenset(
    {"x:xmpmeta", "rdf:RDF", "rdf:Description", "rdf:about", "rdf:Alt", "rdf:li", "xml:lang"}
    | {"dc:description", "photoshop:Credit"}
)
_XMP_NAMES = re.compile(r"</?([A-Za-z][\w.-]*:[\w.-]+)|\s([A-Za-z][\w.-]*:[\w.-]+)=")


def metadata_in(data: bytes) -> tuple[str, ...]:
    """Everything a picture tells that it need not, in words; and that it is none of the four kinds where it is not."""
    if data.startswith(b"\xff\xd8"):
        return tuple(_in_jpeg(data))
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return tuple(_in_png(data))
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return tuple(_in_webp(data))
    if data[:6] in (b"GIF87a", b"GIF89a"):
        return ("a comment",) if b"\x21\xfe" in data else ()
    return ("data that is no JPEG, PNG, WebP or GIF; put a good copy in its place",)


def _in_jpeg(data: bytes) -> Iterator[str]:
    at = 2
    while at + 4 <= len(data):
        if data[at] != 0xFF:
            yield "bytes between its parts"
            return
        marker = data[at + 1]
        if marker == 0xFF:
            at += 1
            continue
        if marker == 0xD9:
            break
        if marker in _JPEG_MARKERS_WITHOUT_LENGTH:
            at += 2
            continue
        length = int.from_bytes(data[at + 2 : at + 4], "big")
        body = data[at + 4 : at + 2 + length]
        yield from _in_segment(marker, body)
        at += 2 + length
        if marker == 0xDA:
            found = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]").search(data, at)
            at = found.start() if found else len(data)
    if data[at : at + 2] != b"\xff\xd9":
        yield "no end"
    elif at + 2 < len(data):
        yield f"{len(data) - at - 2} bytes after its end"


def _in_segment(marker: int, body: bytes) -> Iterator[str]:
    if marker == 0xFE:
        yield "a comment"
    elif marker == 0xE0:
        if body.startswith(b"JFIF\0") and body[12:14] != b"\0\0":
            yield "a preview of itself"
        elif not body.startswith(b"JFIF\0"):
            yield "an unknown part (APP0)"
    elif marker == 0xE1:
        if body.startswith(b"http://ns.adobe.com/xap/1.0/\0"):
            yield from _in_xmp(body)
        else:
            yield "Exif (camera, time, perhaps the place)"
    elif 0xE2 <= marker <= 0xEF:
        known = (marker == 0xE2 and body.startswith(b"ICC_PROFILE\0")) or (marker == 0xEE and body[:5] == b"Adobe")
        if not known:
            yield f"an unknown part (APP{marker - 0xE0})"


def _in_xmp(body: bytes) -> Iterator[str]:
    text = body.decode("utf-8", "replace")
    names = {one or other for one, other in _XMP_NAMES.findall(text)}
    strange = sorted(name for name in names - _XMP_KEPT if not name.startswith("xmlns:"))
    if strange:
        yield f"XMP that tells more than description and credit ({', '.join(strange)})"


def _in_png(data: bytes) -> Iterator[str]:
    at = 8
    while at + 12 <= len(data):
        length, kind = int.from_bytes(data[at : at + 4], "big"), data[at + 4 : at + 8].decode("latin-1")
        if kind not in _PNG_CHUNKS:
            yield f"a part that need not be there ({kind})"
        at += 12 + length
        if kind == "IEND":
            break
    if at < len(data):
        yield f"{len(data) - at} bytes after its end"


def _in_webp(data: bytes) -> Iterator[str]:
    at, end = 12, int.from_bytes(data[4:8], "little") + 8
    while at + 8 <= min(end, len(data)):
        length, kind = int.from_bytes(data[at + 4 : at + 8], "little"), data[at : at + 4].decode("latin-1")
        if kind not in _WEBP_CHUNKS:
            yield f"a part that need not be there ({kind.strip()})"
        at += 8 + length + length % 2
    if end < len(data):
        yield f"{len(data) - end} bytes after its end"
