"""A small build with real pictures, as a builder would write it, for tests of the record."""

from __future__ import annotations

import io
from datetime import date
from pathlib import Path

import piexif
from PIL import Image

from journal.base.problems import has_errors
from journal.ledger.journal import Journal, open_journal

TODAY = date(2026, 6, 30)

BUILD = """\
aircraft: {name: Tarn, kind: two-seat low-wing, registration: QX-TRN, serial: T-0042}
begun: 2026-01-10
zone: Europe/Zurich
people:
  ada: {name: Ada Bergstrom, shown_as: Ada, role: builder}
  bo: {name: Bo Lindqvist, role: builder}
  pay: {name: Petra Kalm, role: paid}
  insp: {name: Ines Petrov, role: inspector}
places:
  home: {name: home workshop}
assemblies:
  shop: {title: Workshop, counts: false}
  flaps: {title: Flaps, planned_hours: 60}
  wing: {title: Left wing, planned_hours: 200}
"""

STEPS = """\
assembly,step,title,page,closes
flaps,5.1,Deburr the ribs,5-1,
flaps,5.2,Rivet the skeleton,5-2,
flaps,5.3,Rivet the top skin,5-4,the flap
wing,7.1,Prepare the spar,7-1,
wing,7.10,Close the wing,7-9,the wing
"""

TASKS = """\
section,task,name,maker,paid,assembly,fabrication,steps,note
Wings,1,Flap ribs,2,0,8,0,5.1; 5.2,
Wings,2,Wing spar,10,0,0,0,7.1,=1+1 is arithmetic
Wings,3,Wing fuel tank,n/a,n/a,n/a,n/a,,not on this aircraft
"""

RECORDS = """\
file,date,kind,title,note
invoice.txt,2026-01-12,invoice,Kit invoice,
"""

MATERIALS = """\
id,name,batch,expires,record
primer,Wash primer,B-17,2026-12-31,
"""


def jpeg(taken: str | None = None, *, colour: str = "grey", size: tuple[int, int] = (400, 300)) -> bytes:
    """A small JPEG with the capture time `2026:02-07 …` in Exif form and the offset of Zurich's winter."""
    out = io.BytesIO()
    Image.new("RGB", size, colour).save(out, "JPEG")
    if taken is None:
        return out.getvalue()
    exif = {
        "0th": {piexif.ImageIFD.Make: b"Example", piexif.ImageIFD.Model: b"Pocket 5"},
        "Exif": {
            piexif.ExifIFD.DateTimeOriginal: taken.encode(),
            piexif.ExifIFD.OffsetTimeOriginal: b"+01:00",
        },
    }
    made = io.BytesIO()
    piexif.insert(piexif.dump(exif), out.getvalue(), made)
    return made.getvalue()


FILES: dict[str, str | bytes] = {
    "build.yml": BUILD,
    "steps.csv": STEPS,
    "tasks.csv": TASKS,
    "records/records.csv": RECORDS,
    "records/invoice.txt": "An invoice.",
    "materials.csv": MATERIALS,
    "entries/2026-02-07-ribs/index.md": """\
---
title: "=HYPERLINK(ribs)"
date: 2026-02-07
assembly: flaps
steps: [5.1]
begun: [5.2]
people: [ada, bo]
hours: {ada: "09:00-12:15", bo: "2:00"}
tools: [deburring wheel]
materials: [primer]
fasteners:
  - {rivet: AN470AD4-5, grip: 0.125 in, count: 48, shop_head: 0.19 in x 0.06 in, edge: 0.28 in}
photos:
  a.jpg: {caption: Ribs in a row, step: 5.1, people: [ada], cover: true}
  b.jpg: {caption: "-inside of the flap", inside: true}
---

Every edge went under the **wheel**, then under the thumb.

![Ribs in a row](a.jpg)

!!! private
    The key lies under the mat.
""",
    "entries/2026-02-07-ribs/a.jpg": jpeg("2026:02:07 10:00:00", colour="red"),
    "entries/2026-02-07-ribs/b.jpg": jpeg("1980:01:01 00:00:07", colour="blue", size=(300, 400)),
    "entries/2026-02-08-skeleton/index.md": """\
---
title: Skeleton
date: 2026-02-08
assembly: flaps
steps: [5.2]
redone: [5.1]
hours: "3:00"
---

Rivets set, [ribs](../2026-02-07-ribs/index.md) done over because of a nick.
""",
    "entries/2026-02-09-closed/index.md": """\
---
title: Closed
date: 2026-02-09
assembly: flaps
steps: [5.3]
hours: "2:30"
private: true
answers: {no-photo: the camera was at home}
---

Top skin riveted.
""",
    "entries/2026-02-10-bench/index.md": """\
---
title: Bench
date: 2026-02-10
assembly: shop
hours: "1:00"
people: [ada, pay]
---

Petra welded the stand; Ada held it.
""",
    "inspections/2026-02-09-look/index.md": """\
---
date: 2026-02-09
assembly: flaps
stage: closing
inspector: insp
outcome: passed with findings
findings:
  - {id: F1, text: "One rivet tipped", closed_on: 2026-02-09, closed_by: 2026-02-09-closed}
  - {id: F2, text: "Swarf in the nose"}
---

Looked at everything with a mirror.
""",
    "pages/about.md": "# About\n\nPictures are coloured rectangles.\n",
}


def write_small_build(root: Path, files: dict[str, str | bytes] | None = None) -> Path:
    """Write the build under `root`; `files` are relative to content/."""
    for name, content in (FILES if files is None else files).items():
        path = root / "content" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return root


def open_small(root: Path, files: dict[str, str | bytes] | None = None) -> Journal:
    """Write and open it; it has no error."""
    journal = open_journal(write_small_build(root, files), TODAY)
    assert not has_errors(journal.problems), journal.problems
    return journal
