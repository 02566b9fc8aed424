"""Pictures walked part by part: built by hand from the standards, so that every part stands alone.

JPEG: ITU-T T.81 annex B, JFIF 1.02, XMP part 3, ICC.1 B.4. PNG: third edition, 5 and 11. WebP: RFC 9649, 2.3 to 2.7.
"""

from __future__ import annotations

import io
import zlib

import pytest
from PIL import Image, ImageCms

from journal.making.scan_pictures import metadata_in


def segment(marker: int, body: bytes = b"") -> bytes:
    """A segment of a JPEG: marker, length with itself, body."""
    return bytes([0xFF, marker]) + (len(body) + 2).to_bytes(2, "big") + body


JFIF = segment(0xE0, b"JFIF\0\x01\x02\0\0\x01\0\x01\0\0")
SCAN = segment(0xDA, b"\x01\x01\0\0?\0") + b"\x12\xff\x00\x34\xff\xd0\x56"
START, END = b"\xff\xd8", b"\xff\xd9"


def jpeg(*parts: bytes, end: bytes = END) -> bytes:
    """Start, parts, a scan with a stuffed byte and a restart mark in it, end."""
    return START + b"".join(parts) + SCAN + end


XMP = b"http://ns.adobe.com/xap/1.0/\0"
PLAIN_XMP = (
    b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
    b'<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/" '
    b'xmlns:photoshop="http://ns.adobe.com/photoshop/1.0/" photoshop:Credit="Ada">'
    b'<dc:description><rdf:Alt><rdf:li xml:lang="x-default">A rib</rdf:li></rdf:Alt></dc:description>'
    b"</rdf:Description></rdf:RDF></x:xmpmeta>"
)
EXIF = "Exif (camera, time, perhaps the place)"


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (jpeg(), ()),
        (jpeg(JFIF), ()),
        (jpeg(JFIF, segment(0xDB, b"\0" * 65), segment(0xC0, b"\0" * 9), segment(0xC4, b"\0" * 20)), ()),
        (jpeg(b"\xff\xff" + JFIF[1:]), ()),
        (jpeg(b"\xff\x01", JFIF), ()),
        (jpeg(b"\xff\xd0\xff\xd7", JFIF), ()),
        (jpeg(JFIF, SCAN, segment(0xC4, b"\0"), SCAN), ()),
        (jpeg(segment(0xFE, b"made by Bo")), ("a comment",)),
        (jpeg(JFIF, SCAN, segment(0xFE, b"late")), ("a comment",)),
        (jpeg(segment(0xE0, b"JFIF\0\x01\x02\0\0\x01\0\x01\x01\0" + b"rgb")), ("a preview of itself",)),
        (jpeg(segment(0xE0, b"JFIF\0\x01\x02\0\0\x01\0\x01\0\x01" + b"rgb")), ("a preview of itself",)),
        (jpeg(segment(0xE0, b"JFXX\0\x10")), ("an unknown part (APP0)",)),
        (jpeg(segment(0xE0)), ("an unknown part (APP0)",)),
        (START + segment(0xE0), ("an unknown part (APP0)", "no end")),
        (START + segment(0xE0)[:-1], ("no end",)),
        (jpeg(segment(0xE1, b"Exif\0\0II*\0")), (EXIF,)),
        (jpeg(segment(0xE1, b"")), (EXIF,)),
        (jpeg(segment(0xE1, XMP + PLAIN_XMP)), ()),
        (
            jpeg(segment(0xE1, XMP + PLAIN_XMP.replace(b"photoshop:Credit", b"photoshop:City"))),
            ("XMP that tells more than description and credit (photoshop:City)",),
        ),
        (
            jpeg(segment(0xE1, XMP + b'<a exif:GPSLatitude="47"><xmp:CreatorTool>x</xmp:CreatorTool></a>')),
            ("XMP that tells more than description and credit (exif:GPSLatitude, xmp:CreatorTool)",),
        ),
        (jpeg(segment(0xE1, b"http://ns.adobe.com/xmp/extension/\0")), (EXIF,)),
        (jpeg(segment(0xE2, b"ICC_PROFILE\0\x01\x01")), ()),
        (jpeg(segment(0xE2, b"MPF\0")), ("an unknown part (APP2)",)),
        (jpeg(segment(0xE3, b"ICC_PROFILE\0")), ("an unknown part (APP3)",)),
        (jpeg(segment(0xED, b"Photoshop 3.0\0")), ("an unknown part (APP13)",)),
        (jpeg(segment(0xEE, b"Adobe\0\x64")), ()),
        (jpeg(segment(0xEE, b"Other")), ("an unknown part (APP14)",)),
        (jpeg(segment(0xEF, b"Adobe")), ("an unknown part (APP15)",)),
        (jpeg(segment(0xF0, b"x")), ()),
        (jpeg(segment(0xFE), segment(0xE1), segment(0xEF)), ("a comment", EXIF, "an unknown part (APP15)")),
        (jpeg(end=END + b"more"), ("4 bytes after its end",)),
        (jpeg(end=END + b"\0"), ("1 bytes after its end",)),
        (jpeg(end=b""), ("no end",)),
        (jpeg(end=b"\xff"), ("no end",)),
        (START + END, ()),
        (START + END + b"ab", ("2 bytes after its end",)),
        (START + JFIF + b"\0\0\0\0\0", ("bytes between its parts",)),
        (START + JFIF[:9], ("a preview of itself", "no end")),
    ],
)
def test_the_parts_of_a_jpeg(data: bytes, told: tuple[str, ...]) -> None:
    """All that a picture needs is silent; each other part is named; what stands after its end is counted."""
    assert metadata_in(data) == told


def test_an_end_without_more_is_seen_at_the_end_alone() -> None:
    """The two bytes of an end within a scan end the picture there."""
    assert metadata_in(jpeg(end=END + SCAN + END)) == (f"{len(SCAN) + 2} bytes after its end",)


def chunk(kind: bytes, body: bytes = b"") -> bytes:
    """A chunk of a PNG: length, kind, body, check."""
    return len(body).to_bytes(4, "big") + kind + body + zlib.crc32(kind + body).to_bytes(4, "big")


def png(*chunks: bytes, after: bytes = b"") -> bytes:
    """Head, chunks, data, end."""
    head = chunk(b"IHDR", b"\0\0\0\x01\0\0\0\x01\x08\0\0\0\0")
    return b"\x89PNG\r\n\x1a\n" + head + b"".join(chunks) + chunk(b"IDAT", b"xx") + chunk(b"IEND") + after


# PNG third edition, 11.2 and 11.3: what shows the picture; acTL, fcTL and fdAT move it.
PNG_SHOWN = [
    *("PLTE", "tRNS", "gAMA", "cHRM", "sRGB", "iCCP", "sBIT", "pHYs", "bKGD", "hIST", "cICP", "acTL", "fcTL", "fdAT")
]
PNG_TOLD = ["tEXt", "zTXt", "iTXt", "eXIf", "tIME", "sPLT", "prVW", "text"]


@pytest.mark.parametrize("kind", PNG_SHOWN)
def test_chunks_that_a_png_may_have(kind: str) -> None:
    """What shows the picture passes."""
    assert metadata_in(png(chunk(kind.encode(), b"abc"))) == ()


@pytest.mark.parametrize("kind", PNG_TOLD)
def test_chunks_that_a_png_need_not_have(kind: str) -> None:
    """Texts, times, Exif, and whatever nobody knows."""
    assert metadata_in(png(chunk(kind.encode(), b"abc"))) == (f"a part that need not be there ({kind})",)


def test_a_png_ends_with_its_end() -> None:
    """What stands after it is counted, even what looks like a chunk; one that is cut short has nothing after."""
    assert metadata_in(png(after=b"abc")) == ("3 bytes after its end",)
    assert metadata_in(png(after=b"a")) == ("1 bytes after its end",)
    assert metadata_in(png(after=chunk(b"tEXt", b"hush"))) == ("16 bytes after its end",)
    assert metadata_in(png(chunk(b"tEXt"), chunk(b"tIME"))) == (
        "a part that need not be there (tEXt)",
        "a part that need not be there (tIME)",
    )
    assert metadata_in(png()[:-12]) == ()
    # What is too short to be a chunk is none.
    assert metadata_in(png()[:-1]) == ("11 bytes after its end",)


def riff(kind: bytes, body: bytes = b"ab") -> bytes:
    """A chunk of a WebP: kind, length, body, a byte to even it."""
    return kind + len(body).to_bytes(4, "little") + body + b"\0" * (len(body) % 2)


def webp(*chunks: bytes, after: bytes = b"") -> bytes:
    """RIFF head with the length of the rest, chunks."""
    body = b"WEBP" + b"".join(chunks)
    return b"RIFF" + len(body).to_bytes(4, "little") + body + after


@pytest.mark.parametrize("kind", ["VP8 ", "VP8L", "VP8X", "ALPH", "ANIM", "ANMF", "ICCP"])
def test_chunks_that_a_webp_may_have(kind: str) -> None:
    """What shows the picture passes, of even and odd length."""
    assert metadata_in(webp(riff(kind.encode()), riff(kind.encode(), b"abc"))) == ()


@pytest.mark.parametrize(("kind", "said"), [("EXIF", "EXIF"), ("XMP ", "XMP"), ("TEXT", "TEXT")])
def test_chunks_that_a_webp_need_not_have(kind: str, said: str) -> None:
    """Wherever they stand, the odd one before them too."""
    told = (f"a part that need not be there ({said})",)
    assert metadata_in(webp(riff(b"VP8 ", b"abc"), riff(kind.encode()))) == told
    assert metadata_in(webp(riff(kind.encode(), b""), riff(b"VP8 "))) == told


def test_a_webp_ends_where_it_says() -> None:
    """What stands after is counted and not walked."""
    assert metadata_in(webp(riff(b"VP8 "), after=b"abc")) == ("3 bytes after its end",)
    assert metadata_in(webp(riff(b"VP8 "), after=riff(b"EXIF"))) == ("10 bytes after its end",)
    assert metadata_in(webp(riff(b"VP8 "))[:-1]) == ()
    assert metadata_in(webp()) == ()
    # The length has four bytes: of a picture that says it is larger than what is there, nothing stands after it.
    for length in (1 << 8, 1 << 16, 1 << 24):
        assert metadata_in(b"RIFF" + length.to_bytes(4, "little") + b"WEBP" + riff(b"VP8 ")) == ()


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"GIF87a\x01\0", ()),
        (b"GIF89a\x01\0", ()),
        (b"GIF89a\x01\0\x21\xfe\x02hi\0", ("a comment",)),
        (b"GIF87a\x21\xfe", ("a comment",)),
        (b"GIF88a", ("data that is no JPEG, PNG, WebP or GIF; put a good copy in its place",)),
        (b"RIFF\0\0\0\0WAVE", ("data that is no JPEG, PNG, WebP or GIF; put a good copy in its place",)),
        (b"XXXX\0\0\0\0WEBP", ("data that is no JPEG, PNG, WebP or GIF; put a good copy in its place",)),
        (b"", ("data that is no JPEG, PNG, WebP or GIF; put a good copy in its place",)),
        (b"\xff", ("data that is no JPEG, PNG, WebP or GIF; put a good copy in its place",)),
        (b"<svg/>", ("data that is no JPEG, PNG, WebP or GIF; put a good copy in its place",)),
    ],
)
def test_other_kinds(data: bytes, told: tuple[str, ...]) -> None:
    """A GIF may have no comment; anything else is no picture of a site."""
    assert metadata_in(data) == told


PROFILE = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "GIF"])
@pytest.mark.parametrize("how", [{}, {"icc_profile": PROFILE}])
def test_pictures_as_another_library_writes_them(kind: str, how: dict[str, bytes]) -> None:
    """Pillow's own, with a colour profile or without, say nothing that they need not."""
    out = io.BytesIO()
    Image.new("RGB", (17, 9), "grey").convert("P" if kind == "GIF" else "RGB").save(out, kind, **how)
    assert metadata_in(out.getvalue()) == ()


def test_a_jpeg_in_many_scans() -> None:
    """A progressive one has several; all are passed over."""
    out = io.BytesIO()
    Image.effect_noise((64, 64), 60).save(out, "JPEG", progressive=True, quality=90)
    assert metadata_in(out.getvalue()) == ()
    assert metadata_in(out.getvalue()[:-2]) == ("no end",)
