"""What `enter` and `adopt` say and write, word for word: `word_for_word.golden.txt` holds evenings, notes and tables
from the first question to the last line, and the entries that came of them; `--rewrite-goldens` accepts a change.
"""

from __future__ import annotations

import shutil
import sys
import zipfile
from pathlib import Path

import pytest
from cameras import clip_bytes, photo_bytes, take
from click.testing import CliRunner
from making import MakeBuild, entry

from journal.commands.main import main

GOLDEN = Path(__file__).with_name("word_for_word.golden.txt")

LAST = entry(
    "date: 2026-02-05\npeople: [hanne, ada]\nplace: hangar\ntools: ['#40 drill', reamer]\nsteps: [5.1]\nbegun: [5.2]"
)

NOTES = """\
Evenings in the hangar

7 February 2026, 2 h 15, steps 7.1 to 7.2. Deburred the ribs.
The #40 drill wandered: so we stopped.

!!! Second thoughts
* Sunday 8 February 2026
hours: 18:30 – 21:45
Steps: 5.2, 5.3
title: Skeletons
who: Ada and Hanne; place: hangar
tools: rivet gun; long pliers
date: 2026-02-09 - cleaned up
text: and swept
assembly: Workshop
time: 1 h
title: Order
title: Disorder
2026-02-10: the same
2026-02-10: steps 5.3. Said so.
2026-02-10: steps 5.3. Said so.

Saturday: the ribs

7/2/26 ribs
2026-02-30, 2 h
2026-02-11
"""

TABLE = """\
date,assembly,hours,total,start,finish,break,title,text,steps,begun,people,place,remarks
2019-02-07,flaps,2,,,,,Ribs,"Deburred.
Slow.",5.1-5.2,5.3,ada/bo,hangar,windy
2019-02-07,flaps,3,,,,,Again,,,,,,
,flaps,1,,,,,No day,,,,,,
2019-02-30,flaps,1,,,,,,,,,,,
Friday 7 February 2019,flaps,1,,,,,,,,,,,
43503,flaps,1,,,,,,,,,,,
2099-02-07,flaps,1,,,,,,,,,,,
2019-02-08,flapz,1,,,,,,,,,bob,attic,
2019-02-09,flaps,long,,,,,,,5.9,,,,
2019-02-10,flaps,25,,,,,,,,,,,
2019-02-11,flaps,2pm,,,,,,,,,,,
2019-02-12,flaps,2,2:30,,,,,,,,,,
2019-02-13,flaps,2,,18:00,20:00,,Whole,,,,,,
2019-02-14,flaps,2,,18:00,20:30,30,Less,,,,,,
2019-02-15,flaps,2,,18:00,21:00,,,,,,,,
2019-02-16,flaps,,,18:00,20:30,0:45,Alone,,,,,,
2019-02-17,flaps,,,18:00,19:00,60,,,,,,,
2019-02-18,flaps,,,6:30,2:00,,,,,,,,
2019-02-19,flaps,,,soon,late,tea,,,,,,,
2019-02-20,,,,,,,,,,,,,
2019-02-21,flaps,14,,,,,One,,,,ada,,
2019-02-21,left-wing,12,,,,,Two,,,,ada,,
2019-02-22,flaps,1:30,,,,,Twin,,,,,,
2019-02-22,flaps,1:30,,,,,Twin,,,,,,
2019-02-23,flaps,1,,,,,Mine,,,,,,
2019-02-24,,long,,,,,,,,,,,
2019-02-25,flaps,,2:30,,,,Total alone,,,,,,
2019-02-26,flaps,2,,18:00,20:00,,,,,,ada,,
"""


POSTS = {
    "2019/a.html": "<html><head><title>Ribs | Blog</title></head><body><nav>Menu</nav><article><h1>Ribs</h1>"
    "<p>14 March 2019</p>"
    "<p>Hours: 2.5</p><p>Deburred <img src='new.jpg' alt='A rib'> and <img src='here.jpg' alt='Known'>"
    " and <img src='gone.jpg' alt='Gone'>"
    " and <img src='empty.jpg' alt='Empty'>.</p><a rel='tag'>Klappen</a></article></body></html>",
    "b.md": "---\ndate: 2019-03-15\ntags: [left wing]\n---\n# Spar\n\nHours: 1:15\n\nDrilled.\n\n#40 wandered.",
    "index.html": "<ul><li><a href='2019/a.html'>Ribs</a></li></ul>",
    "about.md": "Who we are.",
    "nothing.md": "No day is told here.",
    "c.md": "---\ndate: 2019-03-16\ntitle: 'Private: price'\n---\nSecret.",
    "feed.atom": '<feed xmlns="http://www.w3.org/2005/Atom"><entry><title>From afar</title>'
    "<updated>2019-03-17T23:30:00Z</updated>"
    '<category term="flaps"/><content type="html">&lt;p>Words&lt;/p></content></entry></feed>',
}


def _arrive(phone: Path) -> None:
    """What a phone can hold: two cameras, a night, twins, what has no day, what is damaged, what is no picture."""
    for number, minute in enumerate((0, 20, 40)):
        take(phone / f"A_{minute}.jpg", f"2026-02-07 18:{minute:02}:00", offset="+01:00", shade=number)
        take(phone / f"B_{minute}.jpg", f"2026-02-07 19:{minute:02}:30", camera=("Other", "Two"), shade=9 + number)
    take(phone / "a_0.JPG", "2026-02-07 22:50:00", shade=20)
    take(phone / "A_20 (1).jpg", "2026-02-07 18:20:00", offset="+01:00", shade=1)
    take(phone / "night.jpg", "2026-02-08 00:20:00", shade=21)
    take(phone / "noon.jpg", "2026-02-08 12:00:00", shade=22)
    take(phone / "old.jpg", "2026-02-05 18:00:00", shade=26)
    take(phone / "unset.jpg", "1980-01-01 00:00:07", shade=23)
    take(phone / "timeless.jpg", shade=24)
    take(phone / "later.jpg", "2031-01-01 10:00:00", shade=25)
    (phone / "broken.jpg").write_bytes(b"\xff\xd8\xff\xe0 no picture")
    (phone / "cut.jpg").write_bytes(photo_bytes("2026-02-07 20:00:00", shade=40)[:-40])
    (phone / "nothing.jpg").write_bytes(b"")
    (phone / "film.MOV").write_bytes(clip_bytes(created="2026-02-07T19:45:00+0100"))
    (phone / "A_0.MOV").write_bytes(clip_bytes(created="2026-02-07T18:00:00+0100", live=True))
    for number in range(10):
        (phone / f"note{number}.aae").write_text("x")


def test_every_word_and_every_entry(
    make_build: MakeBuild,
    tmp_path: Path,
    tmp_path_factory: pytest.TempPathFactory,
    monkeypatch: pytest.MonkeyPatch,
    pytestconfig: pytest.Config,
) -> None:
    """Questions and answers, what is left out and why, each row that cannot be read, and the text of each entry."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1770940800")  # 2026-02-13T00:00:00Z
    monkeypatch.setenv("PATH", str(tmp_path))
    for name in ("VISUAL", "EDITOR"):
        monkeypatch.delenv(name, raising=False)
    phone, told = tmp_path_factory.mktemp("phone"), []
    _arrive(phone)
    known: set[tuple[Path, str]] = set()

    def run(root: Path, command: str, *arguments: object, typed: str | None = None) -> None:
        asked = [command, *map(str, arguments)]
        answer = CliRunner().invoke(main, [command, "--build", str(root), *map(str, arguments)], input=typed)
        told.extend([f"$ journal {' '.join(asked)}", answer.output + f"[{answer.exit_code}]"])
        for path in sorted(root.glob("content/entries/*/index.md")):
            if (path, text := path.read_text("utf-8")) in known:
                continue
            known.add((path, text))
            told.append(f"== {path.relative_to(root)}\n{text}")

    files = {"entries/a/index.md": LAST, "entries/a/x.jpg": (phone / "old.jpg").read_bytes()}
    root = make_build(files)
    asked = ("--day", "7 Feb 2026", "--no-edit")
    run(root, "enter", "--photos", phone, typed="9\n2\ny\ny\n\nTwo ribs\nnobody\nada, bo, ada\nhanne 1 h\n\n-\nn\n")
    run(root, "enter", phone, *asked, typed="n\nn\nleft\nRibs\n\n1:30\n#40 drill, file,file\ny\n")
    run(root, "enter", phone / "noon.jpg", "--day", "2026-02-06", "--yes")
    run(root, "enter", phone / "noon.jpg", "--between", "11:00 - 13:00", "--draft", typed="\n\n\n\n\n\n")
    run(root, "enter", phone / "unset.jpg", "--step", "5.3", "--title", "Lost", typed="\ny\nhanne\n2:45\n\nn\n")
    run(root, "enter", phone / "timeless.jpg", "--day", "all", "--yes")
    run(root, "enter", phone / "old.jpg")
    told_in_words = ("--place", "hangar", "--method", "file", "--begun", "5.3")
    run(root, "enter", "--text", "Deburred.", "--assembly", "Flaps", *told_in_words)
    run(root, "enter", "--text", "Deburred.", "--assembly", "flaps", "--tool", "-")
    run(root, "enter", "--between", "20-21")
    editor = tmp_path / "editor.py"
    slips = "text.replace('hours: 1', 'steps: [9.9]').replace('title: Sawn', 'title: Sawn off')"
    editor.write_text(
        f"import sys\nfile = sys.argv[1]\ntext = open(file).read()\nopen(file, 'w').write({slips})\n", "utf-8"
    )
    sawn = ("--assembly", "flaps", "--hours", "1", "--tool", "-", "--person", "ada", "--title")
    monkeypatch.setenv("VISUAL", f"{sys.executable} {editor}")
    run(root, "enter", *sawn, "Sawn", typed="y\n")
    monkeypatch.setenv("VISUAL", str(tmp_path / "nowhere"))
    run(root, "enter", *sawn, "Filed", typed="y\n")
    monkeypatch.delenv("VISUAL")
    shutil.rmtree(root / "content/entries/2026-02-13-sawn")
    run(root, "enter", "--day", "2031-02-07", "--text", "Not yet", "--dry-run")
    run(root, "enter", "--unfinished", "--yes")
    answers = "soon\n1:15\n0:45\nSpar\n7.9\n7.1, 7.2\n\nmaybe\ny\nnone\n\nThe rib: riveted\ns\nRibs\nq\n"
    run(root, "enter", "--unfinished", typed=answers)
    (tmp_path / "evenings.txt").write_text(NOTES, "utf-8")
    run(root, "enter", "--notes", tmp_path / "evenings.txt", "--yes")
    told_apart = ("--skip-faulty", "--hours-are", "each", "--drop-twins", "--beside")
    run(root, "adopt", tmp_path / "evenings.txt", phone, "--write", *told_apart)
    (tmp_path / "days.csv").write_text(TABLE, "utf-8")
    make_build({"entries/mine/index.md": entry("date: 2019-02-23\npeople: [ada]")})
    run(root, "adopt", tmp_path / "days.csv")
    in_all = ("--skip-faulty", "--hours-are", "total", "--keep-twins", "--not-beside", "--ignore-totals")
    run(root, "adopt", tmp_path / "days.csv", "--write", *in_all)
    posts = tmp_path / "blog"
    for name, words in POSTS.items():
        (posts / name).parent.mkdir(parents=True, exist_ok=True)
        (posts / name).write_text(words, "utf-8")
    take(posts / "2019/new.jpg", "2019-03-14 18:00:00", shade=50)
    (posts / "2019/empty.jpg").touch()
    (posts / "2019/here.jpg").write_bytes((phone / "noon.jpg").read_bytes())
    with zipfile.ZipFile(tmp_path / "old.zip", "w") as packed:
        packed.writestr("Flaps, summer/IMG_20190702_101112.jpg", photo_bytes(shade=51))
        packed.writestr("Flaps, summer/left-wing 20190704.jpg", photo_bytes(shade=90))
        packed.writestr("2019-07-03/x.jpg", photo_bytes(shade=52))
        packed.writestr("2019-07-03/y.jpg", photo_bytes(shade=52))
    (tmp_path / "two.csv").write_text("date,text\n2019-07-02,x\n2019-07-02,y\n2019-07-03,z\n", "utf-8")
    with zipfile.ZipFile(tmp_path / "Left-wing 2019.zip", "w") as packed:
        packed.writestr("IMG_20190801_101112.jpg", photo_bytes(shade=130))
    zips = (tmp_path / "old.zip", tmp_path / "Left-wing 2019.zip")
    run(root, "adopt", tmp_path / "two.csv", *zips, "--assembly", "flaps", "--beside")
    run(
        root,
        "adopt",
        posts,
        tmp_path / "old.zip",
        "--hours-are",
        "each",
        "--means",
        "Klappen=flaps",
        "--write",
        "--skip-faulty",
    )
    run(root, "adopt", tmp_path / "old.zip", "--assembly", "left-wing", "--write")
    run(root, "adopt", tmp_path / "days.csv", tmp_path / "evenings.txt")
    run(root, "adopt", tmp_path / "days.csv", posts / "2019/a.html")
    run(root, "adopt", tmp_path / "days.csv", "--map", "date")
    (tmp_path / "mixed.csv").write_text("date,text\n13/2/2019,x\n2/13/2019,y\n", "utf-8")
    run(root, "adopt", tmp_path / "mixed.csv", "--assembly", "flaps", "--forget")
    (tmp_path / "open.csv").write_text("date,text,hours\n3/2/2019,x,2\n4/2/2019,y,3\n", "utf-8")
    monkeypatch.setattr("journal.commands.intake.adopt.can_ask", lambda: True)
    run(root, "adopt", tmp_path / "open.csv", "--forget", typed="2\nflaps\n2\n")
    run(root, "adopt", tmp_path / "open.csv", "--forget", "--write", typed="1\n2\n1\n")
    run(root, "adopt", tmp_path / "open.csv", "--row", "2")
    run(root, "enter", "--day", "yesterday", "--text", "Swept", "--assembly", "workshop", "--dry-run")
    (tmp_path / "content/build.yml").write_text("aircraft: Tarn\n")
    run(root, "enter")
    for command in ("enter", "adopt"):
        run(root, command, "--help")
    text = "\n".join(told).replace(str(phone), "PHONE").replace(str(root), "BUILD")
    if pytestconfig.getoption("--rewrite-goldens"):
        GOLDEN.write_text(text, "utf-8", newline="\n")
    assert text == GOLDEN.read_text("utf-8")
