"""The boxes of a film: how they are walked, what the original says of itself, and what may leave."""

from __future__ import annotations

import io
import struct
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from journal.media.boxes import DEEPEST, MOST_BOXES, BoxError, head_at, read_box, uncleanliness, walk_boxes
from journal.media.clips import facts
from journal.media.clips.facts import ClipFacts, clip_facts, read_clip_facts
from journal.media.clips.program import NOT_A_CLIP, FilmError
from journal.media.photos.kinds import EMPTY


def box(name: str, *inner: bytes, wide: bool = False) -> bytes:
    """A box, with the long form of its length where asked for."""
    body = b"".join(inner)
    if wide:
        return struct.pack(">I4sQ", 1, name.encode("latin-1"), 16 + len(body)) + body
    return struct.pack(">I4s", 8 + len(body), name.encode("latin-1")) + body


def deep(levels: int) -> bytes:
    """Boxes in boxes, the innermost of which holds none."""
    return box("moov", deep(levels - 1)) if levels > 1 else box("moov")


def walked(data: bytes) -> list[tuple[str, bytes]]:
    """(path, contents) of every box."""
    source = io.BytesIO(data)
    return [(one.path, read_box(source, one)) for one in walk_boxes(source)]


HDLR = box("hdlr", bytes(20))


@pytest.mark.parametrize(
    ("data", "paths"),
    [
        (
            box("ftyp", b"isom") + box("moov", box("trak", box("tkhd", b"x"))),
            ["ftyp", "moov", "moov/trak", "moov/trak/tkhd"],
        ),
        (box("ftyp", b"isom", wide=True) + box("moov", box("mvhd"), wide=True), ["ftyp", "moov", "moov/mvhd"]),
        (box("moov", box("mvhd"), bytes(4)), ["moov", "moov/mvhd"]),
        (box("moov", box("mvhd"), bytes(8), box("trak")), ["moov", "moov/mvhd"]),
        (struct.pack(">I4s", 0, b"mdat") + b"all the rest", ["mdat"]),
        (box("meta", HDLR, box("ilst")), ["meta", "meta/hdlr", "meta/ilst"]),
        (box("meta", bytes(4), HDLR, box("ilst")), ["meta", "meta/hdlr", "meta/ilst"]),
        (box("meta", box("keys", b"k")), ["meta", "meta/keys"]),
        (box("meta", box("mhdr", b"k")), ["meta", "meta/mhdr"]),
        (box("ilst", box("\0\0\0\1", box("data", b"x"))), ["ilst", "ilst/\0\0\0\1", "ilst/\0\0\0\1/data"]),
        (box("edts", box("elst")), ["edts", "edts/elst"]),
        (box("free", box("elst")), ["free"]),
        (box("ftyp") + b"1234567", ["ftyp"]),
        (b"", []),
    ],
)
def test_boxes_are_walked_from_the_outside_in(data: bytes, paths: list[str]) -> None:
    """ISO/IEC 14496-12 and QuickTime: long lengths, a last box without one, lists that end in noughts."""
    assert [path for path, _ in walked(data)] == paths
    assert head_at(io.BytesIO(b"x" + box("moov", bytes(9))), 1) == (17, "moov", 8)
    assert head_at(io.BytesIO(box("moov", bytes(9), wide=True)), 0) == (25, "moov", 16)


def test_contents_are_read_within_bounds() -> None:
    """The whole of a box, and not more of it than asked for."""
    source = io.BytesIO(box("free", b"abcdef") + b"beyond")
    (found,) = list(walk_boxes(io.BytesIO(box("free", b"abcdef"))))
    assert (read_box(source, found), read_box(source, found, 2), found.bytes) == (b"abcdef", b"ab", 6)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (box("ftyp", b"isom")[:-1], "cut short"),
        (struct.pack(">I4s", 7, b"free"), "cut short"),
        (box("moov", struct.pack(">I4s", 9, b"mvhd")), "cut short"),
        (struct.pack(">I4sQ", 1, b"free", 15), "cut short"),
        (deep(DEEPEST - 1), ""),
        (deep(DEEPEST), "nested too deeply"),
        (box("free") * MOST_BOXES, ""),
        (box("free") * (MOST_BOXES + 1), "made of too many pieces"),
    ],
)
def test_what_makes_no_sense_is_told(data: bytes, said: str) -> None:
    """Where it breaks off, and where somebody made it to keep us busy."""
    if not said:
        assert walked(data)
        return
    with pytest.raises(BoxError, match=said):
        walked(data)
    assert uncleanliness(io.BytesIO(data))[-1] == f"a film that is {said}"


def handler(kind: bytes, name: bytes = b"") -> bytes:
    """What a track is of."""
    return box("hdlr", bytes(8), kind, bytes(12), name)


def dated(name: str, made: int = 0, version: int = 0) -> bytes:
    """A head with its times."""
    times = struct.pack(">QQ" if version else ">II", made, made)
    return box(name, bytes((version, 0, 0, 0)), times, bytes(60))


@pytest.mark.parametrize(
    ("data", "plain", "with_words"),
    [
        (box("ftyp") + box("moov", dated("mvhd"), box("trak", dated("tkhd"), box("mdia", dated("mdhd")))), (), ()),
        (dated("mvhd", 1), ("a time of recording (mvhd)",), None),
        (dated("mvhd", 1 << 40, 1), ("a time of recording (mvhd)",), None),
        (dated("tkhd", 1 << 24), ("a time of recording (tkhd)",), None),
        (box("mdhd", bytes(7), b"\x01", bytes(20)), ("a time of recording (mdhd)",), None),
        (box("mdhd", bytes(11), b"\x01", bytes(20)), ("a time of recording (mdhd)",), None),
        (box("mdhd", bytes(12), b"\x01", bytes(20)), (), ()),
        (box("mdhd", b"\x01", bytes(18), b"\x01", bytes(20)), ("a time of recording (mdhd)",), None),
        (box("mdhd", b"\x01", bytes(19), b"\x01", bytes(20)), (), ()),
        (handler(b"vide", b"VideoHandler\0") + handler(b"soun", b"SoundHandler"), (), ()),
        (handler(b"vide", b"Ada's camera"), ("a name (hdlr)",), None),
        (handler(b"text"), ("a track that is neither pictures nor sound (text)",), ()),
        (handler(b"sbtl"), ("a track that is neither pictures nor sound (sbtl)",), ()),
        (handler(b"meta"), ("a track that is neither pictures nor sound (meta)",), None),
        (box("free", bytes(5)) + box("skip"), (), ()),
        (box("free", b"Ada"), ("words in an empty box (free)",), None),
        (box("moov", box("skip", b"Ada")), ("words in an empty box (moov/skip)",), None),
        (box("moov", box("udta")), ("metadata (moov/udta)",), None),
        (box("\xa9xyz"), ("metadata (\\xa9xyz)",), None),
        (box("tref", box("chap")) + box("nmhd"), ("metadata (tref)", "metadata (tref/chap)", "metadata (nmhd)"), ()),
    ],
)
def test_only_what_a_film_needs_may_leave(
    data: bytes, plain: tuple[str, ...], with_words: tuple[str, ...] | None
) -> None:
    """Times, names, words and places are told, whatever box they stand in; chapters may be where they are wanted."""
    assert uncleanliness(io.BytesIO(data)) == plain
    assert uncleanliness(io.BytesIO(data), words=True) == (plain if with_words is None else with_words)


# -- what an original says of itself ---------------------------------------------------------------

DAY_ONE = datetime(1904, 1, 1, tzinfo=UTC)
MADE = datetime(2026, 2, 7, 17, 30, tzinfo=UTC)
SINCE = int((MADE - DAY_ONE).total_seconds())
FTYP = box("ftyp", b"isom", bytes(4))


def movie(made: int = 0, length: int = 65_900, scale: int = 1000, version: int = 0) -> bytes:
    """The head of a film."""
    form = ">QQIQ" if version else ">IIII"
    return box("mvhd", bytes((version, 0, 0, 0)), struct.pack(form, made, made, scale, length), bytes(80))


def told(**texts: str) -> bytes:
    """Texts by their short names, as phones write them."""
    names = {"day": "creationdate", "make": "make", "model": "model", "live": "content.identifier"}
    keys = b"".join(box("mdta", f"com.apple.quicktime.{names[one]}".encode()) for one in texts)
    rows = (box("\0\0\0" + chr(n), box("data", bytes(8), text.encode())) for n, text in enumerate(texts.values(), 1))
    return box(
        "meta", box("hdlr", bytes(20)), box("keys", bytes(4), struct.pack(">I", len(texts)), keys), box("ilst", *rows)
    )


def older(**texts: str) -> bytes:
    """Texts as older cameras write them."""
    return box("udta", *(box(f"\xa9{one}", bytes(4), text.encode()) for one, text in texts.items()))


LOCAL = datetime(2026, 2, 7, 18, 30)


@pytest.mark.parametrize(
    ("inner", "wanted"),
    [
        ([movie()], {"seconds": 65}),
        ([movie(version=1)], {"seconds": 65}),
        ([movie(scale=0)], {"seconds": 0}),
        ([movie(SINCE)], {"seconds": 65, "taken_utc": MADE}),
        ([movie(SINCE, version=1)], {"seconds": 65, "taken_utc": MADE}),
        ([movie(1 << 63, version=1)], {"seconds": 65}),
        ([movie(int((datetime(1989, 12, 31, tzinfo=UTC) - DAY_ONE) / timedelta(seconds=1)))], {"seconds": 65}),
        (
            [movie(int((datetime(1990, 1, 1, tzinfo=UTC) - DAY_ONE) / timedelta(seconds=1)))],
            {"seconds": 65, "taken_utc": datetime(1990, 1, 1, tzinfo=UTC)},
        ),
        ([movie(), told(day="2026-02-07T18:30:00+0100")], {"seconds": 65, "taken": LOCAL, "offset": "+01:00"}),
        ([movie(), told(day="2026-02-07T18:30:00.250-05:30")], {"seconds": 65, "taken": LOCAL, "offset": "-05:30"}),
        ([movie(), told(day="2026-02-30T18:30:00+0100")], {"seconds": 65}),
        ([movie(), told(day="yesterday")], {"seconds": 65}),
        ([movie(), older(day="2026-02-07T18:30:00+0100")], {"seconds": 65, "taken": LOCAL, "offset": "+01:00"}),
        (
            [movie(), told(make="Tarn", model="Phone 3", live="1")],
            {"seconds": 65, "camera": "Tarn Phone 3", "live": True},
        ),
        ([movie(), older(mak="Tarn", mod="Tarn 3\n")], {"seconds": 65, "camera": "Tarn 3"}),
        ([movie(), older(mak="Old"), told(make="New", model="3")], {"seconds": 65, "camera": "New 3"}),
        ([movie(), box("ilst", box("\0\0\0\2", box("data", bytes(8), b"x")))], {"seconds": 65}),
        ([movie(), box("meta", box("keys", bytes(8), struct.pack(">I", 7)), box("ilst"))], {"seconds": 65}),
        ([box("free")], {"trouble": NOT_A_CLIP}),
        ([movie(), struct.pack(">I4s", 90, b"trak")], {"trouble": "the film is cut short"}),
    ],
)
def test_what_an_original_says_of_itself(inner: list[bytes], wanted: dict[str, object]) -> None:
    """Length, the moment by camera and by container, the camera; from old and new boxes."""
    assert read_clip_facts(io.BytesIO(FTYP + box("moov", *inner))) == ClipFacts(**wanted)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("data", "trouble"),
    [
        (b"", EMPTY),
        (b"A diary, and no film at all.", NOT_A_CLIP),
        (b"RIFF" + struct.pack("<I", 40) + b"AVI LIST" + bytes(31), "the film is cut short"),
        (b"RIFF" + struct.pack("<I", 40) + b"AVI LIST" + bytes(32), "no film"),
        (FTYP, NOT_A_CLIP),
    ],
)
def test_what_is_no_film_is_told(data: bytes, trouble: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By its content; another container is told by the program that reads it."""

    def look(path: Path) -> None:
        raise FilmError("no film")

    monkeypatch.setattr(facts, "look_at", look)
    file = tmp_path / "a.mp4"
    file.write_bytes(data)
    assert clip_facts(file).trouble == trouble
    assert clip_facts(tmp_path / "b.mp4").trouble
