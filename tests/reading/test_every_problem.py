# ruff: noqa: E501 (lines of files as builders write them)
"""What is wrong with a file, word for word and at its place, and what is read of it all the same.

Each file of the build here is wrong in every way we thought of, and a few are sound; `problems.golden.txt` holds what
comes of it, `--rewrite-goldens` accepts a change.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from enum import Enum
from pathlib import Path
from typing import Any

import pytest
from making import BUILD_YML, STEPS_CSV, MakeBuild

from journal.base.model import PhotoFacts
from journal.base.problems import render_problem
from journal.media.photos import Examined
from journal.reading.build import read_build

GOLDEN = Path(__file__).with_name("problems.golden.txt")

PLAN = """\
aircraft: {kind: [two, seats], registation: ZZ-TRN}
begun: Sunday 10 January 2026
zone: Europe/Zurch
rules: rules.yml
closing_inspections: often
write_to: maren at example
show: [hours, wages, data plate]
construction: woods
units: metres
language: english please
manual: {edition: C, dated: 2020}
clips: {budget: 50 litres}
photos: {watermark: Maren, corner: middle, opacity: 2}
drawing: {wing: shoulder, struts: perhaps, span: 200 m, length: long, seats: three, tail: T}
people:
  ada: {name: Ada Bergstrom, shown_as: Ada, role: owner}
  bo: Bo Lindqvist
  ada: {name: Ada}
  "": {name: Nobody}
  odd: [1, 2]
places: [home, hangar]
assemblies:
  flaps: {title: Flaps, planned_hours: many, formerly: [tail, left-wing]}
  left-wing: {title: Left wing, counts: maybe, formerly: tail, shape: [left wing, left whing]}
  tail:
Hours: 3
"""

RULES = """\
country: Nowhere
share: {says: At least half, source: ""}
closing_inspections: {says: sometimes, source: A letter}
papers: [{says: Keep it, source: The book, kind: log}, {source: x}, {says: Lost}]
colour: red
"""

TABLES: dict[str, str | bytes] = {
    "steps.csv": "assembly,step,title,page,closes,same_as,formerly,shape,colour\n"
    "flaps,5.1,Deburr,5-1,,7.9,5.2,,red\nflaps,5.1,Twice,,no,,,,\nflaps,5.2,Drill,,,,,,\n,5.3,,,,,,,\n"
    'flaps,5.4 to 5.6,Range,,,,,,\nflapz,5.7,Other,,,,,,\nflaps,5.8,Shape,,yes,,,"left wing; left whing",\n'
    "left-wing,7.1,Spar,7-1,,,7.0; 6.9,,\nLeft wing,7.2,Skin,7-2,-,,7.0,,\nflaps,5.9,Too,5,,,,,,,more\n",
    "records.csv": "file,date,kind,title\nletter.pdf,2026-02-30,letter,A letter\nletter.pdf,,,\nleter.pdf,,,\n../x,,,\n,,,\n",
    "records/letter.pdf": b"x",
    "records/stray.pdf": b"x",
    "materials.csv": "id,name,batch,expires,record,mix,work_life,used_up\nM-1,sealant,B,2026-13-01,leter.pdf,1:10,soon,maybe\n"
    "M-1,again,,,,,,\n,nothing,,,,,,\nM-2,,,,,,2 h,2026-02-01\nM-3,primer,,,,,30 min,yes\n",
    "tasks.csv": "section,task,name,maker,paid,assembly,fabrication,steps,note\nA,1,Ribs,0,0,5,5,5.1 to 7.1,\nA,1,,0,0,5,5,,\n"
    "A,2,Mixed,n/a,0,5,5,,\nA,3,Words,0,0,eleven,5,,\nA,4,Sum,1,1,1,1,,\nA,5,,na,n/a,NA,N/A,none,\nB,1,Eleven,11,0,0,0,9.9,\n"
    "B,,No,0,0,5,5,,\nB,2,,,,4,6,7.2 to 5.1,\n",
    "costs.csv": "date;assembly;what;amount;currency;record\n2026-02-07;flaps;rivets;12,50;EUR;\n2026-02-08;flapz;tin;3;euro;x.pdf\n"
    "2026-02-08;Left wing;tin;-3.25;eur;letter.pdf\n;;;;;\nsoon;;;;CHF;\n",
    "rates.csv": "date\tcurrency\tto\trate\tsource\n2026-02-07\tUSD\tEUR\t0.9\tBank\n2026-02-07\tUSD\tEUR\t0.8\tBank\n"
    "\tUSD\tEUR\t0\t\n2026-02-01\tu\tEUR\t1.1\tBank\n",
    "bulletins.csv": "id,date,title,concerns,state,done_in\nSB-1,2026-01-20,Hinge,flap,closed,2026-02-07-ribs\nSB-1,,,,,\n"
    "SB-2,,,7.1; 7.2,N/A,gone\nSB-3,,Whole,,  Open ,\n,,,,,\nSB-4,x,,Left wing,done,\n",
    "inventory.csv": "crate,part,description,listed,found,where\n1,R-1,Rib,4,four,shelf\n1,,Nothing,,,\ncrate 3\n",
    "tools.csv": "name,checked_on,check_every_months\nWrench,yesterday,12 months\n,2026-01-01,\nScale,2026-01-01,12\n",
    "callouts.csv": "step,what,part,value,tolerance,drag,count,page,edition,answer\n5.1,tork,,62 in-lb,,,,5-1,C,\n"
    "5.1,rivet,,AN470AD4-5 or -6,,,,5-1,C,\n5.1,rivet,AN3/AN4,,,,,5-1,C,\n5.1,torque,AN4,long,,,,5-1,C,\n"
    "5.1,gap,,max 0.02 in,±wide,,,5-1,C,\n5.1,torque,AN4,62 in-lb,,much,,5-1,C,\n5.1,torque,AN4,62 in-lb,3,added,4,,C,\n"
    "5.1,edge,,heavy,,,,5-1,,\n9.9,gap,,1 in,,,,,,\n,gap,,1 in,,,,,,\n5.2,shop head,,0.19 x 0.06,+0.01 -0,,x,5-2,,\n5.2,,,,,,,,,\n"
    "5.1,rivet,AN470,4,,,,5-1,C,\n5.1,torque,,AN4-10A,,,,5-1,C,\n5.1,gap,,wide,3,,,5-1,C,\n5.1,hole,,#30,0.01,,,5-1,C,\n",
    "terms.md": "# Terms\n\nBeside it.\n\n| term | meaning | source |\n|---|:---:|---|\n| dimple, dimpling | a cone \\| dent |\n"
    "| Dimple | again | |\n| , | nothing | |\n| cone | | |\n| spar | a beam | a book | and more |\n",
    "publishing.yml": 'allow: {"0123": "", ada: she said so, list: [1]}\nport: 99999\nfolder: /srv/tarn\nsftp: maren@webspace.example:x\nodd: 1\n',
    "reviews.txt": "x",
}

RIBS = """\
---
Title: Ribs
date: 31 February 2026
assembly: flaps and left-wing
steps: [5.1, 5.9, 7.1, 5.2 to 5.1, 5.3 to 9.9]
begun: {a: 1}
hours: {Ada: long, bob: 1:00, bo: [18:00-19:00, 1:30]}
people: Ada & Hanne, bo
place: attic
tools: [reamer, Reamer, "gun, long"]
methods: dimpling, rivet gun
materials: M-9
draft: perhaps
private: [yes]
tool: saw
text: some words
comma, lost:
cover: {}
video: [https://video.example/1, video.example, ftp://x]
answers: {no-hours: "", nothing-known: because, photos-missing: we were in a hurry}
formerly: [2026-02-07-ribs, "2026-02-07-old"]
fasteners:
  - {rivet: AN470AD4-5, count: many, grip: thick, shop_head: big, edge: 1/4 in, hole: "#30", step: 9.9, called_for: [1]}
  - {count: 4, called_for: {edge: heavy, hole: "#30", shop_head: 0.19 x 0.06, page: 5-1, count: x}, drilled_out: gone}
  - {part: MS20470, called_for: {value: 3 in, tolerance: 1}, checked_by: [bo, zoe]}
  - {nutplate: MS21047, called_for: {part: MS21047, tolerance: "±1", edition: C, page: 5-1}}
  - rivets
torque:
  - {bolt: AN4-10A, value: tight, drag: some, nut: casttle, called_for: {value: 62 in-lb, drag: added, nut: AN310, locked: cotter, page: 5-1}}
  - {fitting: AN818, value: 62 in-lb, nut: "self lock nut plate, thin", wrench: W, locked: "yes", threads: oiled}
  - {value: 3, nut: spiral}
photos:
  A.jpg: {caption: Rib, step: 5.9, people: [ada, zoe], inside: 5.8, crop: 0 0 2 1, blur: [wide, [0.1, 0.2, 0.3, 0.4]], turn: over}
  a.JPG: Twice
  B.jpg: private
  c.jpg: [1]
  film.mp4: {from: "1:05", to: 12, poster: late, sound: loud, step: 5.1}
  D.jpg: {from: 1, identity: true, private: maybe, cover: sure, inside: often}
  gone.jpg: Nobody saw it
---
# Ribs

![Other words](A.jpg) ![](none.jpg) ![In the text](B.jpg)

!!! private
    ![Quiet](c.jpg)
Not indented.

!!! privat
    Slip.

!!! note "A spar
    And <!-- it goes on
"""

WHOLE = """\
---

Title: "The ribs: first"
DATE: the 7th of February 2026
assembly: Flaps
steps: step 5.1-5.2 and 5.4; 5.2
begun: 5.3
redone: [5.1]
hours: {Ada: [18:30 to 20:00, 0:30, 23:00-1:15], Bo Lindqvist: 2 h 15 min, hanne: ½}
people: Ada & Hanne, bo
place: Hangar
tools: reamer, Reamer; gun
methods: [dimpling, "a, b"]
materials: M-2, M-3
video: https://video.example/1
answers: {no-hours: we forgot}
formerly: 2026-02-07-old
fasteners:
  - {rivet: AN470AD4-5, count: 4, grip: 1/4 in, shop_head: 0.19 x 0.06, edge: 6 mm, hole: "#30", step: 5.1,
     called_for: {edge: 0.25 in, shop_head: 0.19 x 0.06, count: 5, page: 5-1, edition: D, tolerance: 0.01},
     source: manual, checked_by: bo, drilled_out: 2026-02-18-all}
  - {screw: AN526, called_for: AN526C}
torque:
  - {bolt: AN4-10A, value: 62 in-lb, drag: 3 in-lb, nut: self lock nut plate, wrench: W, locked: cotter, threads: dry,
     called_for: {value: 62 in-lb, tolerance: 3, drag: Added, nut: AN310, locked: cotter, page: 5-1}}
photos:
  A.jpg: {caption: "A  rib", step: 5.1, people: [ada], inside: 5.4, crop: 10% 0 90% 1, blur: [[0.1, 0.2, 0.3, 0.4], 0 0 0.5 0.5], turn: left}
  film.mp4: {from: "1:05", to: 1:02:05, poster: 70.5 s, sound: yes, step: 5.1, private: true}
  b.jpg: {identity: yes, cover: yes, inside: yes}
---

# The ribs: first

![Shown](A.jpg) and [a link](x). ![Two](B.jpg)

!!! private
    ![Quiet](c.jpg)

Spoken of: c.jpg
"""

WEIGHED = """\
---
measured_by: Ada and Bo
checked_by: [insp]
date: 2026-02-24
steps: 7.10
instrument: Scale
datum: firewall
scales: [{at: left, weight: 402 lb, arm: -3.5 in, tare: 5 lb}, {at: right, weight: 180 kg, arm: 560 mm}]
corrections: [{what: fuel, weight: -6 lb, arm: 30 in}]
equipment: [{what: radio, weight: 3 lb, arm: 40 in, fitted: no}]
limits: [{weight: 1200 lb, forward: 21 in, aft: 30 in}, {weight: 900 lb, forward: 20 in, aft: 30 in}]
max_weight: 1320 lb
cases: [{name: full, add: [{what: fuel, weight: 100 lb, arm: 30 in}]}]
results: [{what: Gap, value: 0.01 in, called_for: {value: max 0.02 in, page: 1}, note: dry}]
---
Weighed.
"""

NESTED = "> " * 22 + "deep\n"

SLIPS = (
    # YAML: what would be lost, changed or cut off
    *("title: Drill #40 wandered", "tools: [reamer, #40 drill]", "tools: #40 drill, reamer", "title: Ribs: the first"),
    *(
        'title: "C:\\temp"',
        'title: "open',
        "title: 'Ada's",
        "tools: [a, b",
        "title: @home",
        "title: *rib",
        "title: &rib x",
    ),
    *(
        "title: !rib",
        "photos: !private A.jpg",
        "steps: [5.1,5.2] 5.3",
        "title\nhours: 1",
        "\ttitle: x",
        "title: a\n  - b",
    ),
    *(
        "title: |  # lost words\n  kept",
        "? [a]: b",
        "title: a\n--- \nb: c",
        "tools:\n- a\n - b",
        "hours: 1 # two",
        "title: x # y",
    ),
    *(
        "title: x\x01y",
        "title: {a: " * 22 + "b" + "}" * 22,
        "title: 'a' #40",
        "people: ada #5",
        "tools:\n- #40 drill",
        "- a\n- b",
    ),
    *(
        "title: private: x",
        "photos:\n  A.jpg: the rib # private",
        "title: a\n #b",
        "title: [a] b",
        "date: 2026-01-05 #x",
        "{}",
    ),
    *("title: - x", "title: %x", "hours: 1\nhours: 2", "TITLE: a\ntitle: b", '"title": "a" "b"', "title: a\n  b: c"),
    # hours
    *(
        "hours: 1,5",
        "hours: 18 - 21",
        "hours: {ada: {bo: 1}}",
        "hours: [[1]]",
        "hours: 18:00-19:00; 18:30-20:00",
        "hours: 0",
    ),
    *(
        "hours: 2 h, bo 1 h",
        "hours: {ada: 1, bo: }",
        "hours: {ada: 1, Ada: 2}",
        "hours: 3pm",
        "hours: 25",
        "hours: 24:01",
    ),
    *("people: ada\nhours: {ada: 1, bo: 2}", "people: [ada, bo]\nhours: {ada: 1}", "hours: from 18:30 until midnight"),
    *("date: 2026-03-29\nhours: 1:30-4:00", "date: 2026-03-29\nhours: 2:30-4:00", "date: 2026-10-25\nhours: 2:30-4:00"),
    # dates
    *(
        "date: 2026-2-7",
        "date: 7/2/2026",
        "date: 13/2/2026",
        "date: Feb 7, 2026",
        "date: 20260207",
        "date: tomorrow",
        "date: 7.2.26",
    ),
    *("date: Mon 7 Feb 2026", "date: 2026-02-29", "date:", "date: [2026-02-07]"),
    # pictures
    *(
        "photos: {A.jpg: {crop: [0 0 1 1, 0 0 0.5 0.5], turn: }}",
        "photos: {A.jpg: {blur: {a: 1}}}",
        "photos: {A.jpg: {blur: [0 0 1 1, 0 0 0.5 1, 0 0 1 0.5, 0.1 0 1 1]}}",
        "photos: {A.jpg: {blur: [0, 0, 1, [1]]}}",
        "photos: A.jpg, Z.jpg; z",
    ),
    *(
        "photos: [A.jpg: {crop: 50% 0 0.5 1}]",
        "photos: {A.jpg: {private: }}",
        "photos: {A.jpg: {inside: 7.1}}",
        "photos: 3",
    ),
    # steps and people
    *(
        "steps: 5.1-5.4, 7",
        "steps: 5.1 till 5.3",
        "steps: [5.1 to 5.2 to 5.3]",
        "steps: step",
        "steps: 5.1 .. 5.3",
        "steps: -",
    ),
    *(
        "people: Ada Bergstrom and Bo",
        "people: everybody",
        "people: none",
        "assembly: LEFT wing",
        "assembly: wing",
        "place: home workshop",
    ),
)

FILES: dict[str, str | bytes] = {
    "build.yml": PLAN,
    "rules.yml": RULES,
    **TABLES,
    "entries/2026-02-07-ribs/index.md": RIBS,
    "entries/2026-02-07-ribs/A.jpg": b"a",
    "entries/2026-02-07-ribs/A (1).jpg": b"a",
    "entries/2026-02-07-ribs/B.jpg": b"b",
    "entries/2026-02-07-ribs/c.jpg": b"c",
    "entries/2026-02-07-ribs/D.jpg": b"d",
    "entries/2026-02-07-ribs/film.mp4": b"f",
    "entries/2026-02-07-ribs/notes.txt": b"x",
    "entries/2026-02-07-ribs/more.md": "more",
    "entries/2026-02-07-ribs/sub/x.jpg": b"x",
    "entries/2026-02-07-ribs/index (conflicted copy).md": "x",
    "entries/2026-02-08-sound/index.md": "---\nassembly: FLAPS\nsteps: 5.1, 7.1\npeople: Ada and Bo\nhours: Ada 2h, bo 90 min\nplace: home\n"
    "photos: [B.jpg, {file: A.jpg, caption: Rib}, {D.jpg: Cut, x.jpg: y}, [1]]\n---\nRivet gun\n=========\n\nDone. ![A dent](A.jpg)\n",
    "entries/2026-02-08-sound/A.jpg": b"a",
    "entries/2026-02-08-sound/B.jpg": b"b",
    "entries/2026-02-08-sound/b.cr2": b"raw",
    "entries/2026-02-08-sound/D.jpg": b"d",
    "entries/2026-02-09-words/index.md": "---\ndate: Sunday 9 February 2026\nassembly: flaps\nhours: 3,5\nsteps: none\n---\n"
    + NESTED,
    "entries/2026-02-10-bare/index.md": "",
    "entries/2026-02-11-open/index.md": "---\ndate: 2026-02-11\n",
    "entries/2026-02-12-none/index.md": "Only words.\n",
    "entries/2026-02-13-yaml/index.md": '---\ntitle: "C:\\temp"\nhours: {ada: [1:00\n---\nx\n',
    "entries/2026-02-14-utf/index.md": b"---\ndate: 2026-02-14\ntitle: Fl\xfcgel\n---\nx\n",
    "entries/2026-02-15-wide/index.md": b"\xff\xfe-\0-\0",
    "entries/2026-02-16-nul/index.md": b"---\ndate: 2026-02-16\nassembly: flaps\n---\nx\0y\n",
    "entries/2026-02-17-lists/index.md": "---\ndate: 2026-02-17\nassembly: [flaps]\nhours: 0:00\ntitle: {a: b}\n---\n"
    + "[" * 2001,
    "entries/2026-02-18-all.md": "---\nassembly: left wing\nhours: 25:00\nsteps: steps 7.1 through 7.2\nprivate: no\nphotos: E.jpg\n---\n"
    "![The spar](E.jpg)\n",
    "entries/E.jpg": b"e",
    "entries/2026-02-19-clocks/index.md": "---\nassembly: flaps\nhours: {ada: 18:00-17:00, bo: '1.5, 26:00'}\n---\nx\n",
    "inspections/2026-02-20-flap/index.md": "---\ndate: 2026-02-20\noutcome: fine\nfindings:\n- {id: F1, text: A burr, closed_on: soon,"
    " closed_by: gone, signed_by: zoe, checked_by: [bo]}\n- {id: F1}\n- {text: A scratch, closed_by: 2026-02-08-sound}\n---\nLooked.\n",
    "inspections/2026-02-20-flap/film.mov": b"f",
    "inspections/2026-02-21-spar/index.md": "---\nsteps: 7.1\ninspector: bo\noutcome: passed\nstage: closing\n---\n",
    "measurements/2026-02-22-leak/index.md": "---\ntitle: Leak\n---\nDry.\n",
    "measurements/2026-02-23-gap/index.md": "---\nmeasured_by: ada\nkind: gap\nresults:\n- {what: gap, value: 0.01 in, called_for: {value: max 0.02 in, page: 1}}\n"
    "- {value: 3}\n---\n",
    "measurements/2026-02-24-weight/index.md": "---\nmeasured_by: Ada\nscales: [{at: left, weight: 400, arm: 22 in}, {at: right, weight: 402 lb, arm: -3.5 in, tare: 5 kg}]\n"
    "limits: [{weight: 1000 lb, forward: 30 in, aft: 20 in}, {forward: 1 in, aft: 2 m}]\nmax_weight: heavy\n"
    "equipment: [{what: radio, weight: 3 lb, arm: 40 in, fitted: no}]\ncases: [{add: [{what: fuel, weight: 100 lb, arm: 30 in}]}]\n---\n",
    "entries/2026-02-27-whole/index.md": WHOLE,
    **{f"entries/2026-02-27-whole/{name}": name.encode() for name in ("A.jpg", "B.jpg", "c.jpg", "film.mp4")},
    "measurements/2026-02-28-weighed/index.md": WEIGHED,
    "inspections/2026-02-28-flap/index.md": "---\ninspector: insp\nassembly: flaps\noutcome: Passed with findings\nfindings:\n"
    "- {id: F1, text: A burr, closed_on: 2026-03-01, closed_by: 2026-02-27-whole, signed_by: ada, checked_by: [bo]}\n- {text: A scratch}\n---\n",
    "pages/about.md": "Words without keys.\n\n# About us\n",
    "pages/draft.md": "---\ntitle: Not yet\ndraft: true\nowner: ada\n---\n",
}


USUAL = {"assembly": "flaps", "hours": "1:00", "date": "2026-01-05"}
"""What stands in each of the entries with a slip, where the slip is not about it."""

ODD_TABLES: dict[str, str | bytes] = {
    "steps.csv": "",
    "records.csv": "file;;kind\nletter.pdf;x;y\n",
    "materials.csv": "id,name,name\n",
    "tasks.csv": "Section,Task,Name,Maker,Paid,Assembly,Fabrication\nA,1,Fl\u00fcgel,0,0,5,5\n".encode("latin-1"),
    "costs.csv": 'date,assembly,what,amount,currency\n2026-02-07,flaps,"1/8" rivet,1,EUR\n2026-02-07,flaps,x,1,EUR\n',
    "bulletins.csv": f"id,date,title,concerns,state\nSB,,{'x' * 200_000},,\n",
    "inventory.csv": 'crate,part,description,listed,found,,where\n\n1,"R-1\n2",Rib,"4",4,stray,"sh""elf"\n2,R-2,,,,,\n',
    "tools.csv": "name,checked on,Check-every-months\n Wrench ,2026-01-01,12\n",
    "terms.md": "| word | meaning |\n|---|---|\n",
    "publishing.yml": "allow: x\n",
    "pages/about.md": "!!! private\n    Kept.\nNot kept.\n\nTitle\n=====\n",
}


def _examine(uris: Sequence[str]) -> Mapping[str, Examined]:
    """Pictures with the same letter are the same; one is damaged, one no picture."""
    facts = {
        "c": PhotoFacts(trouble="the file is cut short", mend="copy it again"),
        "B": PhotoFacts(damage="its end is lost"),
    }
    known = {uri: facts.get(Path(uri).name[0], PhotoFacts()) for uri in uris if not uri.endswith("D.jpg")}
    return {uri: Examined(sha256=Path(uri).name[0].casefold() * 8, facts=one) for uri, one in known.items()}


def _told(value: Any) -> Any:
    """A record as what is said in it: fields that hold nothing are left out."""
    if is_dataclass(value) and not isinstance(value, type):
        held = {field.name: _told(getattr(value, field.name)) for field in fields(value)}
        return {name: one for name, one in held.items() if one not in ("", None, [], {}, False)}
    if isinstance(value, Mapping):
        return {str(key): _told(one) for key, one in value.items()}
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, tuple | list | frozenset | set):
        return [_told(one) for one in (sorted(value, key=str) if isinstance(value, frozenset | set) else value)]
    return value if isinstance(value, bool | int) or value is None else str(value)


def _lines(name: str, value: Any) -> list[str]:
    """A line for each record, and one for each of its fields where it has many."""
    if isinstance(value, dict) and len(str(value)) > 100:
        return [line for key, one in value.items() for line in _lines(f"{name}.{key}", one)]
    if isinstance(value, list) and len(str(value)) > 100:
        return [line for number, one in enumerate(value) for line in _lines(f"{name}.{number}", one)]
    return [f"{name}: {value}"]


def test_every_slip_is_told_at_its_place_and_the_rest_is_read(
    make_build: MakeBuild, pytestconfig: pytest.Config
) -> None:
    """All problems in their order, then all that was understood; again with a plan and steps that are sound."""
    sound: dict[str, Any] = {"build.yml": f"{BUILD_YML}rules: rules.yml\nmanual: B\n", "steps.csv": STEPS_CSV}
    for number, slip in enumerate(SLIPS, start=1):
        lacking = [f"{key}: {value}" for key, value in USUAL.items() if f"{key}:" not in slip]
        name = f"entries/2026-01-05-{number:03}"
        sound[f"{name}/index.md"] = "\n".join(["---", slip, *lacking, "---", ""])
        sound |= {f"{name}/A.jpg": b"a"} if "A.jpg" in slip else {}
    odd = {"build.yml": "rules: nowhere\nzone: 1\nassemblies: Flaps\n", **ODD_TABLES}
    said = []
    for files in (odd, FILES, sound):
        build, problems = read_build(make_build(files), _examine)
        said += [f"{problem.word}, {problem.mend}, {render_problem(problem)}" for problem in problems]
        told = _told(build)
        told["rules"].pop("practice")
        said += [line for name, value in told.items() for line in _lines(name, value)]
    text = "\n".join(said) + "\n"
    if pytestconfig.getoption("--rewrite-goldens"):
        GOLDEN.write_text(text, "utf-8", newline="\n")
    assert text == GOLDEN.read_text("utf-8")
