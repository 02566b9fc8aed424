"""Builds of every kind for the site to hold: names, assemblies, steps, pictures, spans of time, languages.

`many_builds()` tells which: every pair of two properties stands in at least one of them. `write_many(root, kind)`
writes one as a builder would. All names, people and places are invented; the pictures are drawn here.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator
from dataclasses import dataclass, fields
from datetime import date, timedelta
from pathlib import Path

from PIL import Image, ImageDraw

NAMES = {
    "short": "Wu 7",
    "parts": "Marrowby Mk II",
    "accents": "Ölhänger Übermut",
    "long": "Küstenseglerversuchsmuster",
    "longest": "Norderwisch-Donnergrund Reisetiefdecker",
}
LANGUAGES = ("en", "de", "pl", "el")
ASSEMBLY_WORDS = {
    "en": ("Left wing", "Horizontal stabiliser and elevators", "Fuselage, aft section and tail cone", "Flaps"),
    "de": ("Linker Flügel", "Höhenruderbeplankungsvorbereitung", "Rumpfhinterteil mit Leitwerksträger", "Klappen"),
    "pl": ("Lewe skrzydło", "Przygotowanie poszycia steru wysokości", "Tylna część kadłuba", "Klapy"),
    "el": ("Αριστερή πτέρυγα", "Οριζόντιο σταθερό και πηδάλιο ανόδου", "Οπίσθιο τμήμα ατράκτου", "Φλαπ"),
}
STEP_WORDS = {
    "en": ("Deburr the ribs", "Match-drill the top skin to the skeleton and open the holes to final size"),
    "de": ("Rippen entgraten", "Beplankungsverstärkungsbleche auf Nietlochdurchmesser aufbohren und senken"),
    "pl": ("Gratowanie żeber", "Nawiercanie górnego poszycia do szkieletu i rozwiercanie otworów na wymiar"),
    "el": ("Λείανση νευρώσεων", "Διάτρηση της άνω επένδυσης και τελική διεύρυνση των οπών"),
}
TITLES = {
    "en": ("A day at the bench", "Bottom skins on, and every one of the four hundred and twelve rivets looked at"),
    "de": ("Ein Tag an der Werkbank", "Nietlochvergrößerungsarbeiten am Höhenruderbeplankungsverstärkungsblech"),
    "pl": ("Dzień przy stole", "Dolne poszycie założone i każdy z czterystu dwunastu nitów obejrzany z osobna"),
    "el": ("Μια μέρα στον πάγκο", "Τοποθέτηση της κάτω επένδυσης και έλεγχος όλων των πριτσινιών ένα προς ένα"),
}
TEXTS = {
    "en": "Clamped the skin to the bench, drilled from the middle outwards and cleaned every hole on both sides. "
    "Two holes near the tip were a little off, so the straight edge came out again before going on.",
    "de": "Das Blech auf der Werkbank gespannt, von der Mitte nach außen gebohrt und jedes Loch beidseitig entgratet. "
    "Zwei Löcher am Ende saßen etwas daneben; die Höhenruderbeplankungsverstärkung bleibt bis morgen liegen.",
    "pl": "Blacha przypięta do stołu, wiercenie od środka na zewnątrz, każdy otwór oczyszczony z obu stron. "
    "Dwa otwory przy końcówce wyszły trochę obok, więc liniał wrócił na stół przed dalszą pracą.",
    "el": "Το φύλλο σφίχτηκε στον πάγκο, η διάτρηση έγινε από τη μέση προς τα έξω και κάθε οπή καθαρίστηκε. "
    "Δύο οπές κοντά στο ακροπτερύγιο βγήκαν λίγο έξω, οπότε ξαναβγήκε ο χάρακας πριν συνεχίσουμε.",
}
DRAWING = """\
<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 400 200" fill="none" stroke="#17242e">
{shapes}
</svg>
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What a build of the matrix is like. `photos` are of its fullest entry, `days` the span of its entries."""

    name: str
    assemblies: int
    steps: int
    drawing: str
    photos: int
    days: int
    language: str

    @property
    def label(self) -> str:
        """A folder name that says it all."""
        return "-".join(str(getattr(self, one.name)) for one in fields(self))


VALUES: dict[str, tuple[object, ...]] = {
    "name": tuple(NAMES),
    "assemblies": (1, 4, 13, 40),
    "steps": (0, 12, 420),
    "drawing": ("none", "own"),
    "photos": (0, 1, 7, 60),
    "days": (1, 60, 2900),
    "language": LANGUAGES,
}


def many_builds(seed: int = 51) -> tuple[Kind, ...]:
    """At most 24 kinds in which every value of one property meets every value of every other."""
    draw = random.Random(seed)
    keys = list(VALUES)
    wanted = {
        (one, first, other, second)
        for one, other in itertools.combinations(keys, 2)
        for first in VALUES[one]
        for second in VALUES[other]
    }
    found: list[Kind] = []
    while wanted:
        best: tuple[int, dict[str, object]] = (-1, {})
        for _ in range(300):
            tried = {key: draw.choice(VALUES[key]) for key in keys}
            best = max(best, (len(wanted & set(_pairs(tried))), tried), key=lambda scored: scored[0])
        wanted -= set(_pairs(best[1]))
        found.append(Kind(**best[1]))  # type: ignore[arg-type]
    return tuple(found)


def _pairs(chosen: dict[str, object]) -> Iterator[tuple[str, object, str, object]]:
    for one, other in itertools.combinations(VALUES, 2):
        yield one, chosen[one], other, chosen[other]


def write_many(root: Path, kind: Kind) -> Path:
    """Write the build of `kind` under `root`; the folder."""
    content = root / "content"
    (content / "entries").mkdir(parents=True)
    words = ASSEMBLY_WORDS[kind.language]
    titles = [words[at % len(words)] + (f" {at // len(words) + 1}" if at >= len(words) else "")
              for at in range(kind.assemblies)]  # fmt: skip
    ids = [f"part-{at + 1}" for at in range(kind.assemblies)]
    begun = date(2018, 3, 4)
    (content / "build.yml").write_text(
        f'aircraft: {{name: "{NAMES[kind.name]}", kind: "two-seat all-metal aircraft, from a kit"}}\n'
        f"begun: {begun}\nzone: Europe/Zurich\n"
        "people:\n  maren: {name: Maren Oltwick, shown_as: Maren, role: builder}\n"
        "  tobin: {name: Tobin Harstvell-Brockenhurst, shown_as: Tobin, role: builder}\n"
        + "assemblies:\n"
        + "".join(
            f'  {id_}: {{title: "{title}", planned_hours: 120}}\n' for id_, title in zip(ids, titles, strict=True)
        ),
        encoding="utf-8",
    )
    if kind.drawing == "own":
        shapes = "\n".join(
            f'<rect data-assembly="{id_}" fill="#fff" x="{10 + at % 10 * 38}" y="{10 + at // 10 * 45}" '
            f'width="30" height="36"/>'
            for at, id_ in enumerate(ids)
        )
        (content / "aircraft.svg").write_text(DRAWING.format(shapes=shapes), encoding="utf-8")
    steps = _write_steps(content, kind, ids)
    _write_entries(content, kind, ids, steps, begun)
    (root / "mkdocs.yml").write_text(
        f"site_name: {NAMES[kind.name]} build journal\nsite_url: https://tarn.example/journal/\ndocs_dir: content\n"
        "theme: {name: material, font: false}\nplugins: [search, journal]\n"
        "extra:\n  quiet: !!python/name:journal.quiet.host\n",
        encoding="utf-8",
    )
    return root


def _write_steps(content: Path, kind: Kind, ids: list[str]) -> dict[str, str]:
    """Steps shared out over the assemblies; the assembly of each."""
    if not kind.steps:
        return {}
    per = max(1, kind.steps // len(ids))
    rows, owner = ["assembly,step,title,page,closes"], {}
    for number in range(kind.steps):
        at = min(number // per, len(ids) - 1)
        step = f"{at + 1}.{number - at * per + 1}"
        owner[step] = ids[at]
        rows.append(f'{ids[at]},{step},"{STEP_WORDS[kind.language][number % 2]}",{at + 1}-{number % 9 + 1},')
    (content / "steps.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return owner


def _write_entries(content: Path, kind: Kind, ids: list[str], steps: dict[str, str], begun: date) -> None:
    count = 1 if kind.days == 1 else 24 if kind.days == 60 else 110
    by_assembly = {id_: [step for step, owner in steps.items() if owner == id_] for id_ in ids}
    for number in range(count):
        day = begun + timedelta(days=number * kind.days // count)
        id_ = ids[number * len(ids) // count]
        folder = content / "entries" / f"{day}-day-{number + 1}"
        folder.mkdir()
        photos = kind.photos if number == count - 1 else min(kind.photos, number % 4)
        for at in range(photos):
            _picture(at).save(folder / f"IMG_{number:03d}{at:02d}.jpg", quality=60)
        done = by_assembly[id_].pop(0) if by_assembly[id_] else ""
        matter = [
            f"title: {TITLES[kind.language][number % 2]}",
            f"date: {day}",
            f"assembly: {id_}",
            *([f"steps: [{done}]"] if done else []),
            f"hours: {{maren: 2:{number % 60:02d}, tobin: 1:30}}",
            "tools: [rivet squeezer with the long yoke, drill]",
            "methods: [match-drilling]",
        ]
        paragraphs = [TEXTS[kind.language]] * (1 + number % 3)
        if photos > 2 and number % 2:
            paragraphs.insert(1, f"![{STEP_WORDS[kind.language][1]}](IMG_{number:03d}01.jpg)")
        (folder / "index.md").write_text(
            "---\n" + "\n".join(matter) + "\n---\n\n" + "\n\n".join(paragraphs) + "\n", encoding="utf-8"
        )


def _picture(number: int) -> Image.Image:
    """A sheet of a plain colour with lines, lying, standing or very wide, by its number."""
    size = ((800, 600), (600, 800), (800, 600), (1200, 400))[number % 4]
    image = Image.new("RGB", size, ((number * 37) % 90 + 120, (number * 53) % 70 + 130, 170))
    pen = ImageDraw.Draw(image)
    for at in range(0, size[0], 40):
        pen.line((at, number * 7 % size[1], size[0] - at, size[1]), fill=(90, 90, 100), width=2)
    return image
