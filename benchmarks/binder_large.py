"""The binder of a large build: 1,000 entries with 4,000 pictures, time and memory of one process.

Figure to reach: under 2 minutes and under 1.5 GB. Run: python benchmarks/binder_large.py [ENTRIES [PICTURES]]

The pictures are made here (960 and 480 px, with the grain of a photograph, so that their length is
that of real ones) and their making is not counted.
"""

from __future__ import annotations

import random
import resource
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from hashlib import sha256
from pathlib import Path

from PIL import Image, ImageDraw

from journal.base.model import (
    Aircraft,
    Assembly,
    Build,
    Entry,
    Person,
    Photo,
    PhotoFacts,
    Place,
    Role,
    Step,
    WorkedTime,
)
from journal.ledger.evidence import find_gaps
from journal.ledger.hours import build_ledger
from journal.ledger.journal import Journal
from journal.ledger.progress import replay
from journal.record.binder import plan_binder, render_binder
from journal.view.view import Audience, open_view

WORDS = tuple(
    "drilled deburred dimpled riveted rib spar skin flange edge distance gauge squeezer bucking bar shop head "  # noqa: SIM905
    "clamped checked measured primed cleaned again because before after closing inside nose trailing bracket".split()
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A rendition made for this benchmark."""

    width_px: int
    height_px: int
    path: Path
    bytes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """Two renditions of one picture."""

    renditions: tuple[Made, ...]
    trouble: str = ""


def make_picture(folder: Path, number: int) -> Picture:
    """A picture like no other, 960 and 480 px, as long as a photograph's rendition (about 100 and 30 kB)."""
    chance = random.Random(number)
    scene = Image.effect_noise((240, 180), 30).resize((960, 720), Image.Resampling.BILINEAR).convert("RGB")
    draw = ImageDraw.Draw(scene)
    for _ in range(20):
        x, y, r = chance.randrange(960), chance.randrange(720), chance.randrange(5, 60)
        draw.ellipse((x - r, y - r, x + r, y + r), fill=tuple(chance.randrange(256) for _ in range(3)))
    made = []
    for long_edge in (480, 960):
        path = folder / f"{number}-{long_edge}.jpg"
        scene.resize((long_edge, long_edge * 3 // 4)).save(path, quality=82)
        made.append(Made(width_px=long_edge, height_px=long_edge * 3 // 4, path=path, bytes=path.stat().st_size))
    return Picture(renditions=tuple(made))


def make_build(entries: int, pictures: int) -> Build:
    """A build over ten years: two builders, eight assemblies, a step to every other entry."""
    chance = random.Random(1)
    assemblies = {f"a{n}": Assembly(id=f"a{n}", title=f"Assembly {n}", planned_minutes=9000) for n in range(8)}
    steps = {
        f"{n % 8}.{n}": Step(id=f"{n % 8}.{n}", assembly=f"a{n % 8}", title=f"Step {n}") for n in range(entries // 2)
    }
    ids = list(steps)
    made, first = [], date(2016, 1, 1)
    for n in range(entries):
        photos = tuple(
            Photo(
                name=f"IMG_{number:05}.jpg",
                src_uri=f"content/entries/e{n}/IMG_{number:05}.jpg",
                caption=" ".join(chance.choices(WORDS, k=8)),
                people=("b0",) if number % 20 == 0 else (),
                inside=number % 50 == 0,
                sha256=sha256(str(number).encode()).hexdigest(),
                facts=PhotoFacts(kind="JPEG", width=4000, height=3000, bytes=3_000_000, taken=datetime(2026, 1, 1)),
            )
            for number in range(n * pictures // entries, (n + 1) * pictures // entries)
        )
        body = "\n\n".join(" ".join(chance.choices(WORDS, k=60)) for _ in range(3))
        body += "\n\n" + "\n".join(f"![]({photo.name})" for photo in photos[:2]) + "\n\n- one thing\n- another\n"
        made.append(
            Entry(
                id=f"e{n}",
                src_uri=f"content/entries/e{n}/index.md",
                date=first + timedelta(days=n * 3650 // entries),
                title=" ".join(chance.choices(WORDS, k=5)).capitalize(),
                assembly=f"a{n // 2 % 8}" if n // 2 < len(ids) else "a0",
                steps=(ids[n // 2],) if n % 2 else (),
                begun=() if n % 2 or n // 2 >= len(ids) else (ids[n // 2],),
                time=(WorkedTime(person="b0", minutes=150), WorkedTime(person="b1", minutes=90)),
                people=("b0", "b1"),
                place="home",
                tools=("rivet squeezer", "C-frame", "rivet gauge"),
                methods=("dimpling", "riveting"),
                photos=photos,
                body=body,
            )
        )
    return Build(
        aircraft=Aircraft(name="Large", kind="two-seat low-wing"),
        begun=first,
        people={f"b{n}": Person(id=f"b{n}", name=f"Builder {n}", role=Role.BUILDER) for n in range(2)},
        places={"home": Place(id="home", name="home workshop")},
        assemblies=assemblies,
        steps=steps,
        entries=tuple(made),
        drawing=Path(__file__).parent.parent.joinpath("journal/data/starter/aircraft.svg").read_text(encoding="utf-8"),
    )


def main() -> None:
    """Make, plan, set, report."""
    entries = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    pictures = int(sys.argv[2]) if len(sys.argv) > 2 else 4 * entries
    today = date(2026, 1, 1)
    build = make_build(entries, pictures)
    ledger, progress = build_ledger(build), replay(build)
    journal = Journal(
        root=Path(),
        today=today,
        build=build,
        ledger=ledger,
        progress=progress,
        evidence=find_gaps(build, ledger, progress, today),
    )
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        photos = [photo for entry in build.entries for photo in entry.photos]
        with ThreadPoolExecutor(2) as pool:
            made = list(pool.map(lambda number: make_picture(folder, number), range(len(photos))))
        shown = {photo.src_uri: picture for photo, picture in zip(photos, made, strict=True)}
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        started = time.perf_counter()
        binder = plan_binder(open_view(journal, Audience.ARCHIVE), shown, made_on=today)
        planned = time.perf_counter()
        out = folder / "record.pdf"
        render_binder(binder, out, made_at=datetime(2026, 1, 1, tzinfo=UTC))
        done = time.perf_counter()
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        whole = sum(picture.renditions[-1].bytes for picture in made) / 1e6
        print(f"{entries} entries, {len(photos)} pictures of {whole:.0f} MB at 960 px")
        print(f"planned in {planned - started:.1f} s, set in {done - planned:.1f} s")
        print(f"time: {(done - started) / 120:.2f} of 2 min")
        print(f"peak memory {peak / 1e6:.2f} GB ({before / 1e6:.2f} before): {peak / 1.5e6:.2f} of 1.5 GB")
        print(f"record.pdf {out.stat().st_size / 1e6:.0f} MB")


if __name__ == "__main__":
    main()
