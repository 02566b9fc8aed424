"""Builds for measuring the search: entries that read like a journal, with a vocabulary that grows.

A small vocabulary would flatter an index. Here every entry is made of sentences of the judged
collection (tests/finding/collection), in which a share of the words is replaced: by words of the
same collection, and by invented ones drawn so that few are common and many are rare, as in any
language (Zipf). The same arguments give the same bytes.
"""

from __future__ import annotations

import argparse
import bisect
import io
import itertools
import random
import re
import sys
from datetime import date, timedelta
from pathlib import Path

from PIL import Image

TESTS = Path(__file__).parent.parent / "tests" / "finding"
COLLECTION = TESTS / "collection"
WORDS_INVENTED = 9_000
SHARE_REPLACED = 0.16
SENTENCES = (6, 16)
PHOTOS = (2, 8)
_START = date(2016, 1, 2)
_ONSETS = (
    "b",
    "br",
    "c",
    "d",
    "dr",
    "f",
    "g",
    "gr",
    "h",
    "k",
    "l",
    "m",
    "n",
    "p",
    "pl",
    "r",
    "s",
    "st",
    "t",
    "tr",
    "v",
)
_VOWELS = ("a", "e", "i", "o", "u", "ai", "ea", "oo")
_SYLLABLES = [onset + vowel for onset in _ONSETS for vowel in _VOWELS]


def main() -> None:
    """Write a build folder of many entries."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--entries", type=int, default=2000)
    arguments = parser.parse_args()
    write_build(arguments.folder, arguments.entries)


def write_build(root: Path, count: int, seed: int = 1) -> Path:
    """`count` entries at `root`, with small pictures and captions; the lists are the collection's."""
    sys.path.insert(0, str(TESTS))
    from collecting import lay_collection

    lay_collection(root)
    entries = root / "content" / "entries"
    texts = [path.read_text(encoding="utf-8") for path in sorted(entries.glob("*/index.md"))]
    for path in entries.glob("*"):
        for file in path.iterdir():
            file.unlink()
        path.rmdir()
    for path in (root / "content" / "inspections").glob("*"):
        for file in path.iterdir():
            file.unlink()
        path.rmdir()
    (root / "content" / "inspections").rmdir()
    mill = _Mill(texts, seed)
    for number in range(count):
        day = _START + timedelta(days=number * 9 // 5)
        folder = entries / f"{day.isoformat()}-{number:04d}-{mill.slug()}"
        folder.mkdir(parents=True)
        (folder / "index.md").write_text(mill.entry(day), encoding="utf-8")
        for name in mill.pictures:
            (folder / name).write_bytes(_picture(mill.shade()))
    return root


class _Mill:
    """Grinds the collection's entries into others."""

    def __init__(self, texts: list[str], seed: int) -> None:
        self.random = random.Random(seed)
        bodies = [text.split("---\n", 2)[2] for text in texts]
        heads = [text.split("---\n", 2)[1] for text in texts]
        self.sentences = [s.strip() for body in bodies for s in re.split(r"(?<=[.!?])\s+", body) if len(s) > 20]
        self.titles = [m[1].strip('"') for head in heads for m in re.finditer(r"^title: (.*)$", head, re.M)]
        self.captions = [m[1] for head in heads for m in re.finditer(r'IMG_\d+\.jpg:.*?"(.*?)"', head)]
        self.lists = [line for head in heads for line in re.findall(r"^(?:tools|methods): .*$", head, re.M)]
        self.rivets = re.findall(r"rivet: (AN\S+?),", "\n".join(heads))
        self.words = re.findall(r"[a-z]{4,}", " ".join(bodies).lower())
        invented: dict[str, None] = {}
        while len(invented) < WORDS_INVENTED:
            word = "".join(self.random.choice(_SYLLABLES) for _ in range(self.random.choice((2, 2, 3, 3, 4))))
            invented[word + self.random.choice(("", "s", "ed", "ing", "er", ""))] = None
        self.invented = list(invented)
        self.weights = list(itertools.accumulate(1 / (rank + 20) for rank in range(WORDS_INVENTED)))
        self.steps = [f"{section}.{number}" for section, last in ((5, 9), (7, 13)) for number in range(1, last)]
        self.pictures: list[str] = []
        self._shade = 0

    def shade(self) -> int:
        self._shade += 1
        return self._shade

    def _other(self, found: re.Match[str]) -> str:
        if self.random.random() > SHARE_REPLACED:
            return found[0]
        if self.random.random() < 0.4:
            return self.random.choice(self.words)
        place = bisect.bisect(self.weights, self.random.random() * self.weights[-1])
        return self.invented[min(place, WORDS_INVENTED - 1)]

    def _ground(self, text: str) -> str:
        return re.sub(r"\b[a-z]{4,}\b", self._other, text)

    def slug(self) -> str:
        return re.sub(r"[^a-z]+", "-", self.random.choice(self.titles).lower()).strip("-")[:30]

    def entry(self, day: date) -> str:
        pick = self.random
        flaps = pick.random() < 0.5
        self.pictures = [f"IMG_{1000 + n}.jpg" for n in range(pick.randint(*PHOTOS))]
        lines = [
            "---",
            f'title: "{self._ground(pick.choice(self.titles))}"',
            f"date: {day.isoformat()}",
            f"assembly: {'flaps' if flaps else 'left-wing'}",
            f"{pick.choice(('begun', 'begun', 'begun', 'redone'))}: "
            f"[{', '.join(pick.sample([s for s in self.steps if s.startswith('5') == flaps], pick.randint(1, 3)))}]",
            "hours: 3:15",
            *{line.split(":")[0]: line for line in pick.sample(self.lists, 4)}.values(),
            "fasteners:",
            f"  - {{rivet: {pick.choice(self.rivets)}, grip: 0.{pick.randint(40, 190):03d} in, count: 48}}",
            "photos:",
            *(f'  {name}: "{self._ground(pick.choice(self.captions))}"' for name in self.pictures),
            "---",
            " ".join(self._ground(s) for s in pick.sample(self.sentences, pick.randint(*SENTENCES))),
            "",
        ]
        return "\n".join(lines)


def _picture(shade: int) -> bytes:
    buffer = io.BytesIO()
    Image.new("RGB", (16, 12), (shade % 256, shade // 256 % 256, 120)).save(buffer, "JPEG")
    return buffer.getvalue()


if __name__ == "__main__":
    main()
