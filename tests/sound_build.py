"""A build in which nothing is wrong, of any size: what a rule of evidence says of it is a false alarm.

Two builders with a phone each and a helper whose phone is of one make with the first, a paid welder, an inspector;
several entries a step, two assemblies on one day, rows of pictures of one bench seconds apart, screenshots, rework,
closings with pictures of the inside, looks by somebody else, leak tests, torque with a wrench in date.
"""

from __future__ import annotations

import io
import random
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from PIL import Image, ImageDraw

ZONE = ZoneInfo("Europe/Zurich")
BUILD_YML = """\
aircraft: {name: Tarn, kind: two-seat low-wing}
begun: 2024-01-01
zone: Europe/Zurich
closing_inspections: required
people:
  ada: {name: Ada Bergstrom, role: builder}
  bo: {name: Bo Lindqvist, role: builder}
  hal: {name: Hal Oster, role: helper}
  wendel: {name: Wendel Krag, role: paid}
  ines: {name: Ines Petrov, role: inspector}
places: {home: {name: home workshop}, hangar: {name: hangar}}
assemblies:
  workshop: {title: Workshop, counts: false}
"""
PLAN = (
    "Mark and deburr",
    "Match drill",
    "Dimple",
    "Prime",
    "Rivet the skeleton",
    "Fit the brackets",
    "Torque the bolts",
)
TORQUE = """\
torque:
  - {bolt: AN4-7A, nut: MS20365-428, value: 60 in-lb, drag: 6 in-lb, wrench: small wrench, count: 4}
"""
ASSEMBLIES = ("flaps", "ailerons", "left-wing", "right-wing", "tail", "fuselage")
TANKED = ("left-wing", "right-wing")
VERBS = ("deburred", "drilled", "dimpled", "primed", "riveted", "clamped", "measured", "fluted", "polished", "marked")
NOUNS = ("nose ribs", "rear spar", "top skin", "hinge brackets", "doublers", "stiffeners", "flanges", "web", "angles")
HOW = ("from the middle outwards", "with the second hand on the far side", "after a coffee", "twice, to be sure")
PHONES = {"ada": ("Tarnfone", "A1", 1200), "bo": ("Ribcam", "9", 4300), "hal": ("Tarnfone", "A1", 7700)}


def sentence(chance: random.Random) -> str:
    """A sentence that hardly comes twice."""
    return (
        f"{chance.choice(VERBS).capitalize()} {chance.randrange(4, 90)} of the {chance.choice(NOUNS)} and "
        f"{chance.choice(VERBS)} the {chance.choice(NOUNS)} {chance.choice(HOW)}, {chance.randrange(2, 40)} mm apart."
    )


def scene(chance: random.Random, bench: int) -> Image.Image:
    """The bench as it is that evening, from wherever one stood."""
    image = Image.new("RGB", (360, 270), (90 + bench * 12, 100, 120))
    draw = ImageDraw.Draw(image)
    for shade in (random.Random(bench), chance):
        for _ in range(25):
            x, y = shade.randrange(-20, 360), shade.randrange(-20, 270)
            box = (x, y, x + shade.randrange(20, 120), y + shade.randrange(10, 80))
            draw.rectangle(box, fill=tuple(shade.randrange(256) for _ in range(3)))
    zoom, left, top = chance.uniform(0.75, 1.0), chance.uniform(0, 40), chance.uniform(0, 30)
    return image.transform((320, 240), Image.Transform.AFFINE, (zoom, 0, left, 0, zoom, top))


class Writer:
    """Writes one build; `chance` decides everything."""

    def __init__(self, folder: Path, seed: int) -> None:
        self.content = folder / "content"
        self.chance = random.Random(seed)
        self.day = date(2024, 1, 6)
        self.numbers = {who: number for who, (_, _, number) in PHONES.items()}
        self.written = 0

    def take(self, path: Path, image: Image.Image, when: datetime, who: str) -> str:
        """A picture of `who`'s phone."""
        make, model, _ = PHONES[who]
        self.numbers[who] += 1
        name = f"IMG_{self.numbers[who]:04d}.jpg"
        exif = Image.Exif()
        exif[0x010F], exif[0x0110] = make, model
        offset = when.replace(tzinfo=ZONE).utcoffset() or timedelta()
        details = exif.get_ifd(0x8769)
        details[0x9003], details[0x9011] = f"{when:%Y:%m:%d %H:%M:%S}", f"+{offset // timedelta(hours=1):02d}:00"
        if who != "bo":
            satellite = exif.get_ifd(0x8825)
            fix = when - offset - timedelta(seconds=self.chance.randrange(1200))
            satellite[29], satellite[7] = f"{fix:%Y:%m:%d}", (float(fix.hour), float(fix.minute), float(fix.second))
        image.save(path / name, "JPEG", quality=self.chance.randrange(75, 95), exif=exif)
        return name

    def pictures(self, path: Path, when: datetime, people: list[str], *, inside: bool) -> list[str]:
        """The lines of `photos`: one or two views, at times a row of one bench, at times a screenshot."""
        chance, lines = self.chance, []
        who = next(one for one in people if one in PHONES)
        for view in range(1 if inside else chance.randrange(1, 3)):
            image = scene(chance, chance.randrange(5))
            for again in range(3 if chance.random() < 0.15 else 1):
                shift = again * chance.uniform(0.02, 0.04) * 320
                moved = image.transform(image.size, Image.Transform.AFFINE, (1, 0, shift, 0, 1, shift / 2))
                taken = when + timedelta(minutes=20 * view, seconds=7 * again)
                marks = ["people: [ada]"] if "ada" in people else []
                marks += ["inside: true"] if inside else []
                lines.append(f"  {self.take(path, moved, taken, who)}: {{{', '.join(['caption: the work', *marks])}}}")
        if chance.random() < 0.05:
            buffer = io.BytesIO()
            scene(chance, 0).resize((800, 600)).save(buffer, "PNG")
            (path / f"plan-{self.written}.png").write_bytes(buffer.getvalue())
            lines.append(f"  plan-{self.written}.png: from the drawing")
        return lines

    def entry(self, assembly: str, matter: str = "", *, inside: bool = False, same_day: bool = False) -> str:
        """Write an entry; its name."""
        chance = self.chance
        if not same_day:
            self.day += timedelta(days=chance.choice((1, 1, 2, 3, 5, 14)))
        people = chance.choice((["ada"], ["ada"], ["bo"], ["ada", "bo"], ["ada", "hal"], ["ada", "wendel"]))
        begins = (8 if same_day else 18) * 60 + chance.randrange(30)
        ends = begins + chance.randrange(60, 230)
        self.written += 1
        name = f"{self.day}-{self.written:03d}-{assembly}"
        path = self.content / "entries" / name
        path.mkdir(parents=True)
        minutes = begins + chance.randrange(20)
        when = datetime(self.day.year, self.day.month, self.day.day, minutes // 60, minutes % 60)
        photos = self.pictures(path, when, people, inside=inside)
        body = " ".join(sentence(chance) for _ in range(chance.randrange(3, 7)))
        body += " Wendel welded the brackets." if "wendel" in people else ""
        (path / "index.md").write_text(
            f"---\ntitle: Work {self.written}\ndate: {self.day}\nassembly: {assembly}\npeople: [{', '.join(people)}]\n"
            f"hours: {begins // 60:02d}:{begins % 60:02d}-{ends // 60:02d}:{ends % 60:02d}\n"
            f"place: {chance.choice(('home', 'home', 'hangar'))}\n{matter}photos:\n"
            + "\n".join(photos)
            + f"\n---\n{body}\n",
            "utf-8",
        )
        return name

    def write_up(self, kind: str, name: str, matter: str) -> None:
        """Write an inspection or a measurement of today."""
        path = self.content / kind / f"{self.day}-{name}"
        path.mkdir(parents=True)
        text = f"---\ntitle: {name}\ndate: {self.day}\n{matter}---\n{sentence(self.chance)}\n"
        (path / "index.md").write_text(text, "utf-8")

    def close(self, assembly: str, step: str, what: str) -> None:
        """The inside in a picture, a look by somebody else with a finding, its correction, and the closing."""
        self.entry(assembly, f"begun: [{step}]\n", inside=True)
        self.day += timedelta(days=1)
        looked = self.day
        right = self.entry(assembly)
        findings = (
            f"findings:\n  - {{id: F1, text: {what} has swarf in it, closed_on: {self.day}, closed_by: {right}}}\n"
        )
        matter = f"steps: [{step}]\nstage: closing\ninspector: ines\noutcome: passed with findings\n{findings}"
        self.day, closing_from = looked, self.day
        self.write_up("inspections", f"look-{step}", matter)
        self.day = closing_from
        self.entry(assembly, f"steps: [{step}]\n")


def write_sound_build(folder: Path, *, entries: int, seed: int) -> None:
    """Write mkdocs.yml and content/ with about that many entries."""
    writer = Writer(folder, seed)
    chance = writer.chance
    writer.content.mkdir(parents=True)
    settings = "site_name: Sound\nsite_url: https://journal.example.org/\ndocs_dir: content\n"
    (folder / "mkdocs.yml").write_text(settings + "theme: {name: material, font: false}\nplugins: [search, journal]\n")
    titles = "".join(f"  {name}: {{title: {name.title()}}}\n" for name in ASSEMBLIES)
    (writer.content / "build.yml").write_text(BUILD_YML + titles, "utf-8")
    rows, each = ["assembly,step,title,page,closes"], max(1, entries // (len(ASSEMBLIES) * 12))
    for chapter, assembly in enumerate(ASSEMBLIES, 5):
        plan = [*((title, "") for title in PLAN), ("Skin: rivet shut", f"the {assembly}"), ("Hang it", "")]
        if assembly in TANKED:
            plan[3:3] = [("Tank: seal the ribs", ""), ("Tank: baffle", "the tank"), ("Tank: leak test", "")]
        for number, (title, closes) in enumerate(plan, 1):
            step = f"{chapter}.{number}"
            rows.append(f"{assembly},{step},{title},{chapter}-{number},{closes}")
            for _ in range(chance.randrange(each + 1)):
                writer.entry(assembly, f"begun: [{step}]\n" if not closes else "")
            if chance.random() < 0.1:
                writer.entry("workshop", same_day=False)
                writer.entry(assembly, same_day=True)
            if closes:
                writer.close(assembly, step, closes)
                continue
            writer.entry(assembly, f"steps: [{step}]\n" + (TORQUE if "Torque" in title else ""))
            if "leak test" in title:
                result = "results:\n  - {what: drop, value: 2 mm}\n"
                people = f"steps: [{step}]\nkind: leak test\nmeasured_by: ada\nchecked_by: bo\n"
                writer.write_up("measurements", f"leak-{step}", people + result)
            elif chance.random() < 0.15:
                writer.entry(assembly, f"redone: [{step}]\n")
    (writer.content / "steps.csv").write_text("\n".join(rows) + "\n", "utf-8")
    checks = "".join(f"small wrench,{year}-01-05,12\n" for year in range(2024, writer.day.year + 1))
    (writer.content / "tools.csv").write_text(f"name,checked_on,check_every_months\n{checks}", "utf-8")
