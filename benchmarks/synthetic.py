"""Make a build folder of any size for measuring: `python benchmarks/synthetic.py DIR --entries 1000`.

Invented data throughout. The same arguments give the same bytes. Pictures are drawn, each different
by a comment segment of its own, so that every one has to be read, hashed and rendered.
"""

from __future__ import annotations

import argparse
import io
import random
import struct
from datetime import date, timedelta
from pathlib import Path

from PIL import Image, ImageDraw

ASSEMBLIES = (
    ("workshop", "Workshop", False),
    ("flaps", "Flaps", True),
    ("ailerons", "Ailerons", True),
    ("left-wing", "Left wing", True),
    ("right-wing", "Right wing", True),
    ("fuselage", "Fuselage", True),
    ("engine", "Engine", True),
)
STEPS_EACH = 40
VERBS = ("Deburred", "Match drilled", "Dimpled", "Primed", "Riveted", "Fitted", "Countersunk", "Sealed", "Drilled out")
NOUNS = (
    "nose ribs",
    "rear spar",
    "top skin",
    "hinge brackets",
    "doublers",
    "stiffeners",
    "leading edge",
    "tank baffle",
)
TOOLS = (
    "C-frame",
    "squeezer",
    "rivet gun",
    "bucking bar",
    "No. 30 drill",
    "deburring tool",
    "torque wrench",
    "edge roller",
)
METHODS = ("dimpling", "match drilling", "back riveting", "priming", "deburring")
SENTENCES = (
    "The holes in the flange line up with the web without persuasion.",
    "Clamped both sheets to the bench and opened every second hole first.",
    "One shop head leaned to the side and was drilled out the same evening.",
    "Checked each head with the gauge and marked those that were done.",
    "The edge distance measured 0.28 in, which the drawing allows.",
    "Took the skin off again, deburred both faces and cleaned the chips away.",
    "W-1007-L had a scratch that polished out; the cladding was not broken.",
    "It went together faster than the first one because the order was clear.",
)


def picture(number: int, size: tuple[int, int]) -> bytes:
    """A JPEG of that size with Exif capture time and place, as a phone writes it, unlike all others."""
    image = Image.new("RGB", size, ((number * 37) % 256, 120, (number * 91) % 256))
    draw = ImageDraw.Draw(image)
    shade = random.Random(number)
    for _ in range(60):
        x, y = shade.randrange(size[0]), shade.randrange(size[1])
        draw.rectangle((x, y, x + 60, y + 30), fill=(shade.randrange(256), shade.randrange(256), shade.randrange(256)))
    buffer = io.BytesIO()
    image.save(buffer, "JPEG", quality=85)
    return buffer.getvalue()


def numbered(base: bytes, number: int) -> bytes:
    """`base` with a comment segment of its own after the start of the image."""
    comment = f"picture {number}".encode()
    return base[:2] + b"\xff\xfe" + struct.pack(">H", len(comment) + 2) + comment + base[2:]


def write_build(folder: Path, *, entries: int, photos: int = 0, size: tuple[int, int] = (1024, 768)) -> None:
    """Write mkdocs.yml and content/ for that many entries and photos (spread evenly)."""
    content = folder / "content"
    content.mkdir(parents=True)
    (folder / "mkdocs.yml").write_text(
        "site_name: Synthetic build\nsite_url: https://journal.example.org/\ndocs_dir: content\n"
        "theme: {name: material, font: false}\nplugins: [search, journal]\n",
        "utf-8",
    )
    listed = "\n".join(
        f"  {name}: {{title: {title}, planned_hours: 200{'' if counts else ', counts: false'}}}"
        for name, title, counts in ASSEMBLIES
    )
    (content / "build.yml").write_text(
        "aircraft: {name: Tarn, kind: two-seat low-wing}\nbegun: 2016-01-01\nzone: Europe/Zurich\n"
        "people:\n  ada: {name: Ada Bergstrom, shown_as: Ada}\n  bo: {name: Bo Lindqvist, shown_as: Bo}\n"
        f"places: {{home: {{name: home workshop}}}}\nassemblies:\n{listed}\n",
        "utf-8",
    )
    steps = [
        f"{name},{chapter}.{number},{VERBS[number % len(VERBS)]} the {NOUNS[number % len(NOUNS)]},{chapter}-{number},"
        for chapter, (name, _, _) in enumerate(ASSEMBLIES)
        for number in range(1, STEPS_EACH + 1)
    ]
    (content / "steps.csv").write_text("assembly,step,title,page,closes\n" + "\n".join(steps) + "\n", "utf-8")
    bases = [picture(number, size) for number in range(12)] if photos else []
    taken = 0
    for number in range(entries):
        chance = random.Random(number)
        day = date(2016, 1, 2) + timedelta(days=number * 2 - number % 2)
        chapter = min(number * len(ASSEMBLIES) // entries, len(ASSEMBLIES) - 1)
        position = number * len(ASSEMBLIES) % entries * STEPS_EACH // entries + 1
        verb, noun = chance.choice(VERBS), chance.choice(NOUNS)
        path = content / "entries" / f"{day}-{number:04d}-{noun.replace(' ', '-')}"
        path.mkdir(parents=True)
        share = photos * (number + 1) // entries
        names = []
        while taken < share:
            name = f"IMG_{taken:05d}.jpg"
            (path / name).write_bytes(numbered(bases[taken % len(bases)], taken))
            names.append(name)
            taken += 1
        text = "\n\n".join(" ".join(chance.choices(SENTENCES, k=3)) for _ in range(4))
        placed = f"\n\n![{verb} {noun}]({names[0]})" if names else ""
        (path / "index.md").write_text(
            f"---\ntitle: {verb} the {noun}\ndate: {day}\nassembly: {ASSEMBLIES[chapter][0]}\n"
            f"steps: [{chapter}.{position}]\nhours: 18:30-21:{chance.randrange(10, 60)}\n"
            f"tools: [{', '.join(chance.sample(TOOLS, 2))}]\nmethods: [{chance.choice(METHODS)}]\n---\n\n"
            f"{text}{placed}\n",
            "utf-8",
        )


def main() -> None:
    """Write the build that the command line asks for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--entries", type=int, default=1000)
    parser.add_argument("--photos", type=int, default=0)
    parser.add_argument("--size", default="1024x768", help="pixels of a photo")
    options = parser.parse_args()
    width, height = (int(part) for part in options.size.split("x"))
    write_build(options.folder, entries=options.entries, photos=options.photos, size=(width, height))


if __name__ == "__main__":
    main()
