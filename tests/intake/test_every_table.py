# ruff: noqa: E501 (lines of files as people keep them)
"""What is understood of tables and notes in every shape we thought of, cell for cell: `every_table.golden.txt`.

For each the lines that are told, the columns, the rows with their cells, sums and remarks, and what becomes of each row;
`--rewrite-goldens` accepts a change.
"""

from __future__ import annotations

from dataclasses import asdict
from functools import partial
from pathlib import Path

import pytest
from making import BUILD_YML, MakeBuild, entry, read

from journal.base.problems import render_problem
from journal.commands.intake.adopt import COLUMNS
from journal.commands.intake.adoption import AdoptionWishes, read_plans
from journal.commands.intake.answers import Answers
from journal.commands.intake.asking import known_ids
from journal.commands.intake.grids import read_grids
from journal.commands.intake.lenient_parsing import DateOrder
from journal.commands.intake.notes import begins_as_notes, days_told, lacks_year, leading_fields, read_notes, split_day
from journal.commands.intake.posts import read_posts
from journal.commands.intake.spreadsheet import Spreadsheet, heading_score, read_tables
from journal.reading.text import Notes

GOLDEN = Path(__file__).with_name("every_table.golden.txt")

TABLES: list[tuple[str, dict[str, str]]] = [
    ("", {}),
    ("a,b\n1,2\n", {}),
    ("date,hours\n2019-02-07,1\n", {"Datum": "date", "hours": "stunden"}),
    (
        "My workshop\n\nDate,Hours (min),What,,Cost\n7.2.2019,90,Deburred the ribs,loose,3.50\n8.2.2019,45 ,Cleaned,,\n",
        {},
    ),
    (
        "Date,Time,,Work\n,From,To,\n2019-02-07,18:30,20:00:00,Ribs and spar\n2019-02-08,18,,Alone\n2019-02-09,,20:00,Alone\n",
        {},
    ),
    (
        "Date,Start,Finish,Start,Finish,Break,Hours,Text\n2019-02-07,8:00,9:00,10:00,11:30,15,2.25,Two spans of one day\n"
        "2019-02-08,8,9,,,nil,1,One span alone\n2019-02-09,6:30pm,9pm,,,,,With am and pm\n",
        {},
    ),
    ("Date,Hours,Minutes,Text\n2019-02-07,2,15,Hours and minutes\n2019-02-08,,30,Minutes alone here\n", {}),
    ("Date,Ada,Bo,Text\n2019-02-07,2,1,Both of us worked\n2019-02-08,-,1:30,Bo alone worked\n", {}),
    ("Date,Ada,Zoe,Text\n2019-02-07,2,1,Both of us worked\n", {}),
    ("Date,Total hours\n2019-02-07,2\n2019-02-08,3\n2019-02-09,5\n", {}),
    ("Date,Total hours\n2019-02-07,2\n2019-02-08,1\n2019-02-09,5\n", {}),
    ("Date,Hours,Net hours,Text\n2019-02-07,2,2:00,The same in two\n2019-02-08,3,3:10,Not the same\n", {}),
    ("Day,Date,Hours,Note,Remarks\nThu,2019-02-07,2,short,A remark of words\n", {}),
    ("Date,Assembly,Place,Place,Hours\n2019-02-07,flaps,home,hangar,1\n", {}),
    (
        "Date,Assembly,Hours,Work\nFlaps\n2019-02-07,,1,Ribs\n,,2,Ribs again\n,,,More words of it\nChristmas\nLeft wing,,,\n"
        "2019-02-08,,3,Spar\nTotal,,6,\nDate,Assembly,Hours,Work\n2019-02-09,,1,Ribs\n2019-02-10,,1,\nSum,,8,\n",
        {},
    ),
    ("Date,Hours\nCarried over,100\n2019-02-07,1\n2019-02-08,2\n,3\n2019-02-09,4\n,7\nMonth total: 12,\n", {}),
    ("Date,Hours\n2019-02-07,1.15\n2019-02-08,2.30\n2019-02-09,4.45\n", {}),
    ("Date,Start,Finish,Hours\n2019-02-07,18:00,20:00,\n2019-02-08,18:00,20:00,\n", {}),
    ("Date,Duration,Hours\n2019-02-07,,\n", {}),
    ("Date,Hours,Hours,Cost of rivets\n2019-02-07,1,18:00,5\n2019-02-08,2,19:00,6\n", {"Cost of rivets": "text"}),
    (
        'when,Baugruppe,Stunden,Tätigkeit,wer,Schritt,Werkzeug,Ort\n2019-02-07,Klappen,"1,5",Rippen entgratet,Ada und Bo,5.1,Feile,home\n',
        {},
    ),
    (
        "Date,Assembly,Title,Tools,Methods,Begun,Redone,Steps,People,Place,Hours\n2019-02-07,klappen,Ribs,file; saw,dimpling,5.2,5.1,5.3-5.4,Zoe and ada,Hangar,1\n"
        "2019-02-08,,,,,5.2,7.1,,nobody,attic,\n2019-02-09,,,,,,,5.9,,,\n2019-02-10,,,,,,7.2,,,,\n",
        {},
    ),
    (
        "Date,Steps,Step,Begun,Started,Redone,Rework,Text,Notes,Title,Subject\n2019-02-07,5.1,5.2,5.3,5.4,5.1,5.2,a,b,T,S\n",
        {},
    ),
    (f"Date,Hours,Text\n2019-02-07,1,{'x' * 20_001}\n", {}),
    ('Date,Hours,Text\n2019-02-07,1,"a\nb"\n2019-02-07,1,"a b"\n', {"Text": "-"}),
]

NOTES = [
    "2026-02-07",
    "- 2026-02-07: x\n- 2026-02-08: y\n",
    "# 7 February 2026\n\nDeburred.\n\n## Sunday, 8 February 2026\nRiveted, 2 h.\n",
    "Date: 2026-02-07\nhours: 2\nhours: 1:15\nassembly: flaps\nplace: hangar\nplace: home\n",
    "day: 7/2/2026 - flaps - 18:30 to 20:00 - Ada, Bo - hangar. Then words, 3 h.\nstep 5.1\nsteps: 5.2, 5.3\n\nmore: words\n",
    "When: 2026-02-07; time 2 h; step 5.1 to 5.2; hours 1:00\nSat: x\nThe 40 bit\n7 Feb: y\n1/2/26: z\nMonday,\n",
    "2026-02-07. Ribs 5.1. 2:15, done\n2026-02-08 went home early\n\n2026-02-08 again here\n2026-02-09 - and\n2026-02-10 fields, 2 h\n",
    "13/2/2026: x\n2/13/2026: y\n2/3/26 z\n31 February 2026: w\n",
    "Title above\n\n2026-02-07: text: x\ntext: y\nnote : z\n* steps: 5.9\npeople: zoe\n",
]

LINES = [
    *(
        "2026-02-07",
        "2026-02-07:x",
        "2026-02-07 , x",
        "2026-02-07x",
        "7.2.26: x",
        "Sat 7 Feb 2026 - x",
        "Saturday: x",
        "Sat",
        "Sa: x",
    ),
    *(
        "Saturday, x",
        "February 7",
        "7 February: x",
        "7 February x",
        "7/2/26",
        "7/2/26 ribs",
        "7/2/267: x",
        "30 February 2026: x",
        "x",
        "",
    ),
    *(
        "the 7th of February 2026; x",
        f"{'x' * 30} 2026-02-07",
        "Saturday the 7th of the month of February 2026: x",
        "5 March",
        "12 ribs",
    ),
]

FIELDS = [
    *(
        "2 h",
        "2:15",
        "hours 2:15",
        "time: 2:15, x",
        "2 h, 3 h",
        "Ada",
        "ada and bo",
        "Ada and zoe",
        "Flaps",
        "flaps; home",
        "home workshop - x",
    ),
    *(
        "step 5.1",
        "steps 5.1 to 5.3 and 7.1. Done",
        "steps taken",
        "step",
        "5.1",
        "1/2",
        "½ h",
        "x, 2 h",
        "2 h x",
        "18:30-20:00, flaps, x",
    ),
]


META = [f"name={name}" for name in ("pubdate", "date", "DC.date", "dcterms.date", "publish-date")]
META += ["property=article:published_time", "itemprop=datePublished"]
TIMES = [
    "time pubdate",
    "time itemprop=datePublished",
    "time class=published",
    "time class=entry-date",
    "time class=dt-published",
    "time",
]
TIMES += [f"span class={name}" for name in ("date-header", "post-date", "entry-date", "posted-on", "date", "published")]
HEADS = ["h1", "p class=entry-title", "p class=post-title", "p itemprop=headline", "header><h2", "h2><a"]
BODIES = [f"div class={name}" for name in ("entry-content", "post-content", "post-body", "e-content", "article-body")]
FILED = ["a rel=tag", "a rel=category", "b class=category", "b class=tag"]
BESIDE = [
    "nav",
    "aside",
    "footer",
    "div id=comments",
    "div class=comments",
    "ol class=comment-list",
    "div id=sidebar",
    "div class=sidebar",
]
BESIDE += [
    "div class=widget",
    "div class=related-posts",
    "script",
    "style",
    "noscript",
    "template",
    "form",
    "button",
    "textarea",
    "svg",
    "dialog",
]
BESIDE += [
    f"div class={name}"
    for name in (
        "respond",
        "replies",
        "menu",
        "share",
        "social",
        "breadcrumbs",
        "pager",
        "cookie-bar",
        "ad",
        "byline",
        "tags",
        "jp-x",
    )
]
BESIDE += [
    "div hidden",
    "div style=display:none",
    "div class=entry-meta",
    "div class=tag-links",
    "div class=comment-area",
    "div class=nav-list",
]
FEED = """<rss version="2.0" xmlns:wp="http://wordpress.org/export/1.2/" xmlns:content="http://purl.org/rss/1.0/modules/content/"><channel><link>https://b.example/</link>%s</channel></rss>"""
ITEM = (
    "<item><title>%s</title><pubDate>Fri, 15 Mar 2019 23:30:00 GMT</pubDate><description>Short.</description>%s</item>"
)


def _tag(tag: str, words: str) -> str:
    """An element of a few words, named with its attributes; `a><b` one within the other."""
    outer, _, inner = tag.partition("><")
    return f"<{outer}>{f'<{inner}>{words}</{inner.split()[0]}>' if inner else words}</{outer.split()[0]}>"


PAGES = {
    **{f"meta{n}.html": f"<meta {one} content='2019-03-14'><p>W</p>" for n, one in enumerate(META)},
    **{f"time{n}.html": f"<article>{_tag(one, '14 March 2019')}<p>W</p></article>" for n, one in enumerate(TIMES)},
    **{
        f"2019-03-14-head{n}.html": f"<title>T | B</title><article>{_tag(one, 'Head')}<p>W</p></article>"
        for n, one in enumerate(HEADS)
    },
    **{
        f"2019-03-14-body{n}.html": f"<p>Beside</p>{_tag(one, '<p>Words</p>')}<p>Beside</p>"
        for n, one in enumerate(BODIES)
    },
    **{f"2019-03-14-filed{n}.html": f"<article><p>W</p>{_tag(one, 'flaps')}</article>" for n, one in enumerate(FILED)},
    **{
        f"2019-03-14-key{n}.html": f"<meta {one} content='x, flaps'><p>W</p>"
        for n, one in enumerate(["name=keywords", "property=article:section", "property=article:tag"])
    },
    "2019-03-14-beside.html": f"<article><p>Words</p>{''.join(_tag(one, f'<p>beside {n}</p>') for n, one in enumerate(BESIDE))}<link href=x><meta content=x><input value=x><embed src=x><p>End</p></article>",
    "2019-03-14-two.html": "<article><h1>One</h1><p>W</p></article><article><h2>Two</h2><time datetime='2019-03-15T23:30:00Z'>x</time><p>V</p></article>",
    "json.html": '<script>{"datePublished": "2019-03-14T10:00:00+01:00"}</script><p>W</p>',
    "2019-03-14-pictures.html": "<article><p>W</p><figure><img data-src='a.jpg'><figcaption>Below</figcaption></figure><a href='big.jpg'><img src='a.jpg' alt='IMG.jpg'></a>"
    "<img data-lazy-src='sub/b.png' title='T!!! [x]'><img data-original='a.jpg' alt='private'><video><source src='f.mp4'></video><img src='data:image/png;base64,x'><img src='x.gif'>"
    "<img src='https://x.example/c.jpg'><img src='https://x.example/sub/b.png'><img src='../out.jpg'><img src='A%20b.jpg'><img src='gone.jpg' alt='Gone'></article>",
    "2019-03-14-links.html": "<article><p><a href='https://x.example/a b'>out</a> <a href='old.html'>in</a> <a href='#x'>here</a> <a href='mailto:a@b.example'>mail</a> <a href='javascript:x'>no</a></p>"
    "<iframe src='https://v.example/1'></iframe><table><thead><tr><th><p>head</p></th></tr></thead><tbody><tr><td><p>laid</p></td></tr></tbody></table><table><tr><th>n</th></tr><tr><td>1</td></tr></table><ol start=5><li>a</li><li>b</li></ol><ol start=x><li>c</li></ol><ul><li>d</li></ul><h1>Big</h1><!-- hid --></article>",
    "2019-03-14-hours.md": "Time spent: 2 h\n\nTime: 18:30\n\nHours: soon\n\nStunden = 2 h\n",
    "2019-03-14-more.md": "Hours: 2\n\nDuration: 3 h\n\nW <!-- seen by nobody --> !!! private\n",
    "2019-03-14-kept.md": "---\nhidden: yes\nhours: [2, 2]\n---\nW",
    "2019-03-15-kept.md": "---\nstatus: draft\ndate: [a]\n---\nW\n\n14.03.2019\n",
    "2019-03-16-kept.md": "+++\npublished = false\ntitle = 'T'\ncategories = ['left wing']\n+++\nW",
    "2019-03-17-kept.md": "---\n[broken\n---\nW",
    "2019-03-18-open.md": "---\nvisibility: public\nstatus: published\ndraft: no\nassembly: flaps\n---\nPosted on Monday, 18 March 2019\n\nW",
    "3-flaps/19.3.2019.md": "W",
    ".hidden/2019-03-14.md": "W",
    **{
        f"2019-03-19-{no}.md": f"---\ndraft: {no}\n---\nW"
        for no in ("false", "no", "off", "0", "none", "null", "maybe")
    },
    "words.md": "14 mars 2019\n\nW\n\n## Ribs",
    "long.md": "W\n\n14 March 2019 we went on with the spar of the left wing as long as it was light.\n",
    "wing.rss": FEED
    % "".join(
        ITEM % (title, more)
        for title, more in {
            "Plain": "<category>flaps</category>",
            "Full": "<content:encoded>One line\n\nand [caption id=1]<img src='a.jpg'/>Below[/caption]</content:encoded>",
            "Parted": "<content:encoded>&lt;p&gt;One\n\nstill one&lt;/p&gt;</content:encoded>",
            "Draft": "<wp:status>draft</wp:status>",
            "Secret": "<wp:post_password>x</wp:post_password>",
            "Comment": "<category>http://schemas.google.com/blogger/2008/kind#comment</category>",
            "Attached": "<wp:post_type>attachment</wp:post_type>",
            "Protected: x": '<enclosure url="a.jpg" type="image/jpeg"/>',
        }.items()
    ),
    "latin.rss": f'<?xml version="1.0" encoding="iso-8859-1"?>{FEED}' % (ITEM % ("Flügel", "")),
    "2019-03-14-opens.html": "<article><p>!!! private</p><p>x</p><p>!!</p><p>private: y</p></article>",
    "bad.atom": "<!DOCTYPE x [<!ENTITY a 'b'>]><feed/>",
    "empty.rss": FEED % "",
    "page_files/x.html": "<p>never</p>",
    "index.html": "<p>No day</p>",
    "none.html": "<p>No day</p>",
}


def _of(sheet: Spreadsheet | None, notes: Notes) -> list[str]:
    """A table as it was understood."""
    told = [f"  {render_problem(one)} [{one.word}]" for one in notes.problems]
    if sheet is None:
        return [*told, "  nothing"]
    told += [f"  {line}" for line in sheet.told] + [f"  unused: {sheet.unused}"] * bool(sheet.unused)
    for row in sheet.rows:
        cells = {column: [f"{text[:60]}" for text in texts] for column, texts in row.cells.items()}
        told.append(f"  {row.number} on {row.line}: {cells} | {row.raw[:80]!r}")
        told += (
            [f"    as before: {dict(row.earlier)}"] if row.earlier is not None and len(str(row.earlier)) < 200 else []
        )
        told += [f"    {render_problem(one)} [{one.word}]" for one in row.problems]
    return told + [f"  sum {one}" for _, totals in sheet.totals for one in totals]


def test_every_shape_is_understood_as_it_was(
    make_build: MakeBuild, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, pytestconfig: pytest.Config
) -> None:
    """Tables by their headings and cells, notes by their days and fields, single lines by their parts."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1770940800")  # 2026-02-13T00:00:00Z
    monkeypatch.chdir(tmp_path)
    build, _ = read(make_build({"build.yml": BUILD_YML, "entries/a/index.md": entry("date: 2019-01-01")}))
    known, said, path = known_ids(build), [], Path("days.csv")
    for text, mapping in TABLES:
        path.write_text(text, "utf-8")
        notes = Notes(str(path))
        grids = read_grids(path, partial(heading_score, mapping=mapping), notes)
        sheet = read_tables(path, grids, mapping, known, notes, (), has_assembly="Assembly" not in text)
        said += [f"== {text[:200]!r} {mapping or ''}", *_of(sheet, notes)]
        assembly = "flaps" if "Assembly" not in text else None
        wishes = AdoptionWishes(
            order=DateOrder.DAY_FIRST, assembly=assembly, means={"KLAPPEN": "flaps", "Zoe": "bo", "5.9": "5.1"}
        )
        for plan in read_plans(build, sheet, wishes, path) if sheet else ():
            hours = {**plan.draft.hours} if plan.draft else {}
            figures = {column: str(figure) for column, figure in plan.figures.items()}
            said.append(
                f"  {plan.row} {plan.fate.value} {plan.said} {hours} {figures} {plan.minutes} {plan.guess}".rstrip()
            )
            said += [f"    {render_problem(one)} [{one.word}]" for one in plan.problems]
            told = asdict(plan.draft) if plan.draft else {}
            said.append(
                f"    {', '.join(f'{name} {one}' for name, one in told.items() if one and name not in ('date', 'hours'))}".rstrip()
            )
    path = Path("evenings.txt")
    for text in NOTES:
        path.write_text(text, "utf-8")
        said.append(f"== {text!r} {begins_as_notes(text)} {days_told(text)}")
        for order in (DateOrder.ISO, DateOrder.MONTH_FIRST, None):
            notes = Notes(str(path))
            sheet = read_notes(path, COLUMNS, known, order, notes)
            said += [f" {order}", *_of(sheet, notes)]
            for plan in read_plans(build, sheet, AdoptionWishes(order=order or DateOrder.ISO), path) if sheet else ():
                told = asdict(plan.draft) if plan.draft else {}
                said.append(
                    f"  {plan.row} {plan.fate.value} { {name: one for name, one in told.items() if one} } {plan.guess}".rstrip()
                )
                said += [f"    {render_problem(one)} [{one.word}]" for one in plan.problems]
    for line in LINES:
        parts = [split_day(line, order) for order in DateOrder]
        said.append(f"{line!r}: {parts} {lacks_year(line)} {lacks_year(line, anywhere=True)}")
    said += [f"{text!r}: {leading_fields(text, known)}" for text in FIELDS]
    for name, text in PAGES.items():
        file = tmp_path / "blog" / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, "utf-8")
    for name in ("a.jpg", "sub/b.png", "f.mp4", "A b.jpg", "../out.jpg"):
        (tmp_path / "blog" / name).parent.mkdir(exist_ok=True)
        (tmp_path / "blog" / name).touch()
    sheet = read_posts([], [Path("blog")], Answers(), build)
    for row, plan in zip(
        sheet.rows, read_plans(build, sheet, AdoptionWishes(assembly="flaps"), Path("blog")), strict=True
    ):
        cells = {column: list(texts) for column, texts in row.cells.items()}
        said.append(f"{row.number} {row.file}: {cells}{' draft' * row.draft} {plan.fate.value} {plan.marks}")
        said += [f"    {one}" for one in (*row.remarks, *row.pictures, *map(render_problem, plan.problems))]
    said += [*sheet.told, sheet.unit, str(len(sheet.files))]
    whole = "\n".join(said) + "\n"
    if pytestconfig.getoption("--rewrite-goldens"):
        GOLDEN.write_text(whole, "utf-8", newline="\n")
    assert whole == GOLDEN.read_text("utf-8")
