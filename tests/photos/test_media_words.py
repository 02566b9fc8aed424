"""What is said of pictures and films that cannot be shown, how to mend it, and what is asked of ffmpeg for the rest.

`media_words.golden.txt` holds it word for word; `--rewrite-goldens` accepts a change.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from journal.base.model import Edits, PictureTurn
from journal.media.clips import program
from journal.media.clips.filters import shown_filters, to_sdr_filters
from journal.media.high_range import HighRange
from journal.media.photos import kinds
from journal.media.photos.rendition import caption_packet

GOLDEN = Path(__file__).with_name("media_words.golden.txt")

TROUBLES = [name for name in vars(kinds) if name.isupper() and name[0] != "_" and isinstance(getattr(kinds, name), str)]
OF_FILMS = [
    name for name in vars(program) if name.isupper() and name[0] != "_" and isinstance(getattr(program, name), str)
]
LEFT = (Fraction(1, 10), Fraction(0), Fraction(1, 2), Fraction(3, 4))
EDITS = [
    Edits(),
    Edits(crop=LEFT),
    Edits(blur=(LEFT, (Fraction(1, 2), Fraction(1, 4), Fraction(1), Fraction(1)))),
    Edits(turn=PictureTurn.HALF, crop=LEFT, blur=((Fraction(1, 5), Fraction(1, 4), Fraction(3, 10), Fraction(1, 2)),)),
    *(Edits(turn=turn) for turn in PictureTurn),
]


def test_every_word(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, pytestconfig: pytest.Config) -> None:
    """Each trouble with its mend, filters by edits and range, the packet of caption and credit."""
    monkeypatch.setattr("journal.media.plain_range.table_text", str)
    told = [f"{name}: {trouble}; {kinds.mend_of(trouble)}" for name in TROUBLES for trouble in [getattr(kinds, name)]]
    told += [f"{kinds.UNKNOWN}, but: {kinds.mend_of(kinds.UNKNOWN + ', but')}", f"none: {kinds.mend_of('')!r}"]
    for name in OF_FILMS:
        trouble = getattr(program, name).replace("{start}", "12")
        told.append(f"{name}: {trouble}; {program.hint_for(trouble)}")
    told += [f"{shown_filters(edits)} {shown_filters(edits, ['scale=w=2', 'fps=25'])}" for edits in EDITS]
    told += [f"{range_}: {to_sdr_filters(range_, tmp_path)}" for range_ in (None, *HighRange)]
    told += sorted(path.name for path in tmp_path.iterdir())
    told += [
        caption_packet(*words).decode() for words in (("", ""), ("Rib <4> & 5", ""), ("", "Ada"), ("Ä", "Ada & Bo"))
    ]
    text = "\n".join(told) + "\n"
    if pytestconfig.getoption("--rewrite-goldens"):
        GOLDEN.write_text(text, "utf-8", newline="\n")
    assert text == GOLDEN.read_text("utf-8")
