"""Old posts of a blog and what must be left of each: `python tests/old_posts.py FOLDER EXPECTED.json [SEED]`.

A hundred pages in HTML and a hundred in Markdown with their pictures, and forty posts each in an Atom and an RSS file,
as exports and hand-made pages are: every one tells its day in one way or not at all. All of it is invented. What is
expected comes from what was meant, before anything is written: no page is read for it.
"""

from __future__ import annotations

import html
import io
import json
import posixpath
import random
import sys
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import date, datetime, time, timedelta, timezone
from email.utils import format_datetime
from pathlib import Path
from typing import NamedTuple, TypeAlias
from urllib.parse import quote
from xml.sax.saxutils import escape

from PIL import ExifTags, Image, ImageDraw

SEED = 2019
FIRST_DAY = date(2017, 1, 7)
BLOG = "https://tarn.example.org"
ELSEWHERE = "http://pictures.example.org"
ASSEMBLIES = {"flaps": "Flaps", "ailerons": "Ailerons", "left-wing": "Left wing", "fuselage": "Fuselage"}
DOINGS = ("Deburred", "Drilled", "Dimpled", "Primed", "Riveted", "Clamped", "Measured", "Fluted", "Marked")
THINGS = ("nose ribs", "rear spar", "top skin", "hinge brackets", "doublers", "stiffeners", "flanges", "web", "angles")
TITLES = ("A long evening", "Ribs & rivets", "Half a day", "The “easy” part", "Café and clecos", "Once more", "On")
TRICKY = (
    "#40 bit wandered at rib {n}",
    "{n}. of the month and still no rivets",
    "5 * {n} rivets, 3 * {n} drilled out",
    "part_{n}_left and part_{n}_right look alike",
    "gap < 0.{n} in, or so the gauge says",
    "- {n} degrees in the garage",
)
"""Words that Markdown would take for a heading, a list or emphasis: as text of a page in HTML they are only words."""
UNWANTED = {
    "nav": "Older posts of this blog",
    "side": "Subscribe by mail",
    "comment": "Keep pounding, says a visitor",
    "script": "countThisVisit",
    "foot": "All rights reserved by the builder",
}
"""What stands around an article and is none of it."""


class Run(NamedTuple):
    """Words in a row; `kind` is "", "em", "strong" or "a" (then with the address that it leads to)."""

    text: str
    kind: str = ""
    href: str = ""


class Shown(NamedTuple):
    """A picture in a text: its address as the text writes it, and its caption."""

    src: str
    caption: str


Paragraph: TypeAlias = tuple[Run, ...]
Item: TypeAlias = tuple[str, tuple[str, ...]]
"""A line of a list, and the lines of the list within it."""


class Listing(NamedTuple):
    """A list with, at most, lists in it."""

    items: tuple[Item, ...]


class Table(NamedTuple):
    """Rows of cells, the first of them the heading."""

    rows: tuple[tuple[str, ...], ...]


Block: TypeAlias = Paragraph | Listing | Table | Shown


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A picture that lies in the folder; `taken` is what it says itself, in EXIF's own form."""

    file: str
    caption: str
    taken: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class OldPost:
    """What must be left of one post.

    `file` and those of `pictures` and `missing` are relative to the folder; `number` counts the posts of a feed from 1
    and is 0 elsewhere. `words` must be read in the text, as a reader sees it, in this order; `unwanted` must not be.
    `untold` names what a program can only ask for: "day", "title".
    """

    file: str
    number: int
    day: str | None
    day_told_by: str | None
    title: str | None
    assembly: str | None
    minutes: int | None
    words: tuple[str, ...]
    unwanted: tuple[str, ...]
    links: tuple[str, ...]
    pictures: tuple[Picture, ...]
    missing: tuple[str, ...]
    by_address: tuple[str, ...]
    untold: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What one post means to say, whatever it is written in."""

    count: int
    day: date
    clock: time
    title: str
    assembly: str | None
    hours: str
    minutes: int | None
    blocks: tuple[Block, ...]


def draw_picture(count: int, taken: str | None) -> bytes:
    """A tiny JPEG that is like no other."""
    shade = random.Random(count)
    image = Image.new("RGB", (64, 48), (count % 256, count // 256 * 40 % 256, 120))
    draw = ImageDraw.Draw(image)
    for _ in range(4):
        x, y = shade.randrange(56), shade.randrange(40)
        draw.rectangle((x, y, x + shade.randrange(4, 30), y + shade.randrange(4, 20)), fill=shade.randrange(1 << 24))
    exif = Image.Exif()
    if taken:
        exif[ExifTags.Base.Make] = "Example"
        exif[ExifTags.Base.Model] = "Pocket 5"
        exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.DateTimeOriginal] = taken
    out = io.BytesIO()
    image.save(out, "JPEG", quality=70, exif=exif)
    return out.getvalue()


# What a post says -----------------------------------------------------------------------------------------------------


def sentence(chance: random.Random) -> str:
    """A sentence that hardly comes twice."""
    return (
        f"{chance.choice(DOINGS)} {chance.randrange(3, 90)} of the {chance.choice(THINGS)}, then the "
        f"{chance.choice(THINGS)}, {chance.randrange(2, 400)} mm from the end"
    )


def tell_blocks(chance: random.Random, count: int, *, tricky: bool) -> list[Block]:
    """Paragraphs, and in some posts a list with lists in it, a table, words that look like signs."""
    blocks: list[Block] = [(Run(f"{sentence(chance)}."),)]
    link = Run(f"page {count} of the manual", "a", f"{BLOG}/manual/{count}?part=a&side=left")
    blocks.append((Run(f"{sentence(chance)},"), Run("twice", chance.choice(("em", "strong"))), Run("see"), link))
    blocks.append((Run(f"1½ in — “about” {chance.randrange(2, 99)} °C, said the café owner & his dog"),))
    if tricky:
        blocks.append((Run(TRICKY[count % len(TRICKY)].format(n=chance.randrange(2, 9))),))
    if count % 3 == 0:
        inner = tuple(f"{thing} left, {chance.randrange(99)}" for thing in chance.sample(THINGS, 2))
        blocks.append(Listing(((sentence(chance), inner), (sentence(chance), ()))))
    if count % 5 == 0:
        rows = tuple((thing, f"{chance.randrange(1, 60)} rivets") for thing in chance.sample(THINGS, 3))
        blocks.append(Table((("Part", "How many"), *rows)))
    return blocks


def tell(chance: random.Random, count: int, day: date, shown: list[Shown], *, tricky: bool, filed: bool) -> Told:
    """One post: pictures stand between its paragraphs; two in five say their hours, half of the `filed` an assembly."""
    blocks = tell_blocks(chance, count, tricky=tricky)
    for picture in shown:
        blocks.insert(chance.randrange(1, len(blocks) + 1), picture)
    minutes = chance.choice((45, 90, 135, 150, 195, 240)) if count % 5 in (1, 3) else None
    hours = ""
    if minutes is not None:
        decimal = f"{minutes / 60:.2f}".rstrip("0").rstrip(".")
        hours = f"Hours: {decimal if count % 2 else f'{minutes // 60}:{minutes % 60:02d}'}"
        blocks.append((Run(hours),))
    return Told(
        count=count,
        day=day,
        clock=time(chance.randrange(17, 21), chance.randrange(60)),
        title=f"{TITLES[count % len(TITLES)]}, part {count + 1}",
        assembly=chance.choice(tuple(ASSEMBLIES)) if filed and count % 2 else None,
        hours=hours,
        minutes=minutes,
        blocks=tuple(blocks),
    )


def words_of(told: Told) -> tuple[str, ...]:
    """What must be read in the text, in its order; the line of hours may become a field and is not asked for."""
    words: list[str] = []
    for block in told.blocks:
        match block:
            case Listing(items):
                for line, inner in items:
                    words += (line, *inner)
            case Table(rows):
                words += (cell for row in rows for cell in row)
            case Shown():
                pass
            case runs:
                words += (run.text for run in runs if run.text != told.hours)
    return tuple(words)


def links_of(told: Told) -> tuple[str, ...]:
    """Addresses that the text must still lead to."""
    runs = [run for block in told.blocks if not isinstance(block, Listing | Table | Shown) for run in block]
    return tuple(run.href for run in runs if run.href)


# How it is written ----------------------------------------------------------------------------------------------------

NAMED = {"é": "&eacute;", "½": "&frac12;", "—": "&mdash;", "“": "&ldquo;", "”": "&#8221;", "°": "&#xB0;"}


def in_html(words: str, *, named: bool = True) -> str:
    """Words as text of a page; `named` writes letters and signs outside ASCII as entities."""
    text = html.escape(words, quote=False)
    return "".join(NAMED.get(sign, sign) for sign in text) if named else text


def html_blocks(told: Told, *, named: bool, old: bool = False) -> str:
    """The article itself; `old` leaves paragraphs open, as one wrote by hand."""

    def run_html(run: Run) -> str:
        words = in_html(run.text, named=named)
        if run.kind == "a":
            return f'<a href="{html.escape(run.href)}">{words}</a>'
        return f"<{run.kind}>{words}</{run.kind}>" if run.kind else words

    def list_html(lines: tuple[Item, ...]) -> str:
        items = []
        for line, inner in lines:
            within = list_html(tuple((word, ()) for word in inner)) if inner else ""
            items.append(f"<li>{in_html(line, named=named)}{within}</li>")
        return f"<ul>{''.join(items)}</ul>"

    out = []
    for block in told.blocks:
        match block:
            case Listing(items):
                out.append(list_html(items))
            case Table(rows):
                lines = ["".join(f"<td>{in_html(cell, named=named)}</td>" for cell in row) for row in rows]
                inside = "".join(f"<tr>{line}</tr>" for line in lines)
                out.append(f'<table border="1">{inside}</table>')
            case Shown(src, caption):
                image = f'<img src="{html.escape(src)}" alt="{html.escape(caption)}" width="64" />'
                if old:
                    out.append(f'<a href="{html.escape(src)}">{image}</a><BR>')
                else:
                    out.append(f"<figure>{image}<figcaption>{in_html(caption, named=named)}</figcaption></figure>")
            case runs:
                words = " ".join(run_html(run) for run in runs)
                out.append(f"<P>{words}" if old else f"<p>{words}</p>")
    return "\n".join(out)


def markdown_blocks(told: Told, *, tags: bool) -> str:
    """The same in Markdown; `tags` writes pictures as tags of HTML, as some exports do."""

    def run_markdown(run: Run) -> str:
        if run.kind == "a":
            return f"[{run.text}]({run.href})"
        mark = {"em": "*", "strong": "**"}.get(run.kind, "")
        return f"{mark}{run.text}{mark}"

    out = []
    for block in told.blocks:
        match block:
            case Listing(items):
                out.append("\n".join("\n    - ".join((f"- {line}", *inner)) for line, inner in items))
            case Table(rows):
                head, *body = [f"| {' | '.join(row)} |" for row in rows]
                out.append("\n".join((head, "|---|---|", *body)))
            case Shown(src, caption):
                tag = f'<img src="{html.escape(src)}" alt="{html.escape(caption)}" />'
                out.append(tag if tags else f"![{caption}]({src})")
            case runs:
                out.append(" ".join(run_markdown(run) for run in runs))
    return "\n\n".join(out) + "\n"


def around(article: str, told: Told, *, head: str = "") -> str:
    """A page of today: navigation, sidebar with days of other posts, comments with theirs, scripts."""
    later = (told.day + timedelta(days=3)).isoformat()
    category = f'<a rel="category tag" href="/c">{ASSEMBLIES[told.assembly]}</a>' if told.assembly else ""
    return f"""<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><title>{in_html(told.title)} | Tarn in the garage</title>
{head}<style>.side {{ float: right }}</style><script>window.{UNWANTED["script"]} = "<p>";</script>
</head><body><nav><ul><li><a href="/">Home</a></li><li><a href="/old">{UNWANTED["nav"]}</a></li></ul></nav>
<main>{article}<p class="meta">{category}</p></main>
<aside class="side"><h3>{UNWANTED["side"]}</h3>
<ul><li><a href="/x">Another post</a> <time datetime="{later}">{later}</time></li></ul></aside>
<section id="comments" class="comments"><h3>2 comments</h3>
<div class="comment"><time datetime="{later}T08:00:00+01:00">{later}</time>
<p>{UNWANTED["comment"]}</p><p>Hours: 99</p></div></section>
<footer><p>{UNWANTED["foot"]}</p></footer></body></html>
"""


def page_with_time(told: Told) -> str:
    """The day in `<time datetime>` within the article."""
    stamp = f"{told.day}T{told.clock}+01:00" if told.count % 2 else told.day.isoformat()
    header = f'<header><h1>{in_html(told.title)}</h1><time datetime="{stamp}">some time ago</time></header>'
    return around(f"<article>{header}{html_blocks(told, named=True)}</article>", told)


def page_with_meta(told: Told) -> str:
    """The day in the head alone."""
    head = f'<meta property="article:published_time" content="{told.day}T{told.clock}+00:00">\n'
    head += f'<meta property="article:modified_time" content="{told.day + timedelta(days=40)}T09:00:00+00:00">\n'
    body = html_blocks(told, named=False)
    title = f'<h1 class="entry-title">{in_html(told.title)}</h1>'
    return around(f'{title}<div class="entry-content">{body}</div>', told, head=head)


def page_with_heading(told: Told) -> str:
    """The day in a heading above the post, in words."""
    day = f"{told.day:%A}, {told.day:%B} {told.day.day}, {told.day.year}"
    title = f'<h3 class="post-title">{in_html(told.title)}</h3>'
    body = f'<div class="post-body">{html_blocks(told, named=True)}</div>'
    return around(f'<h2 class="date-header">{day}</h2><div class="post hentry">{title}{body}</div>', told)


def page_undated(told: Told) -> str:
    """No day of its own; only its comments and neighbours have one."""
    return around(f"<article><h1>{in_html(told.title)}</h1>{html_blocks(told, named=True)}</article>", told)


def page_by_hand(told: Told) -> str:
    """A page of the old kind: a table for its layout, capitals, open paragraphs, Windows-1252."""
    return f"""<HTML><HEAD><META HTTP-EQUIV="Content-Type" CONTENT="text/html; charset=windows-1252">
<TITLE>{in_html(told.title, named=False)}</TITLE></HEAD><BODY BGCOLOR=white>
<TABLE WIDTH=100%><TR><TD CLASS="menu" VALIGN=top><A HREF="index.html">Home</A><BR>
<A HREF="old.html">{UNWANTED["nav"]}</A></TD>
<TD CLASS="content"><H1>{in_html(told.title, named=False)}</H1>
{html_blocks(told, named=False, old=True)}
</TD></TR></TABLE>
<SCRIPT>var {UNWANTED["script"]} = 1;</SCRIPT>
</BODY></HTML>
"""


def markdown_page(told: Told, way: str | None) -> str:
    """Front matter where the way of telling the day is by it, else a heading or none."""
    body = markdown_blocks(told, tags=told.count % 8 == 3)
    if way == "front matter":
        stamp = f"{told.day} {told.clock} +0100" if told.count % 2 else told.day.isoformat()
        lines = [f"title: {json.dumps(told.title, ensure_ascii=False)}", f"date: {stamp}", "layout: post"]
        if told.assembly:
            lines.append(f"categories: [{ASSEMBLIES[told.assembly]}]")
        return "---\n" + "\n".join(lines) + f"\n---\n\n{body}"
    if way == "heading":
        return f"# {told.title}\n\n## {told.day.day} {told.day:%B} {told.day.year}\n\n{body}"
    return body if untitled(told.count, way) else f"# {told.title}\n\n{body}"


def untitled(count: int, way: str | None) -> bool:
    """Whether a text in Markdown says no title at all."""
    return way == "file name" and count % 15 == 4


# Feeds ----------------------------------------------------------------------------------------------------------------


def cdata(words: str) -> str:
    """Words kept from the eyes of a reader of XML."""
    return f"<![CDATA[{words}]]>"


def atom_entry(told: Told) -> str:
    """One post as RFC 4287 has it: its text escaped, in CDATA or as elements in turn; changed long after its day."""
    stamp = f"{told.day}T{told.clock}"
    category = f'<category term="{ASSEMBLIES[told.assembly]}"/>' if told.assembly else ""
    body = html_blocks(told, named=told.count % 3 != 2)
    content = (
        f'<content type="html">{escape(body)}</content>',
        f'<content type="html">{cdata(body)}</content>',
        f'<content type="xhtml"><div xmlns="http://www.w3.org/1999/xhtml">{body}</div></content>',
    )[told.count % 3]
    title = escape(in_html(told.title)) if told.count % 2 else escape(told.title)
    return f"""<entry><id>tag:tarn.example.org,2017:{told.count}</id>
<title type="{"html" if told.count % 2 else "text"}">{title}</title>
<published>{stamp}+01:00</published><updated>{told.day + timedelta(days=400)}T09:00:00Z</updated>
<link rel="alternate" href="{BLOG}/{told.count}"/>{category}
{content}</entry>"""


def atom_feed(entries: list[Told]) -> str:
    """The whole file."""
    return f"""<?xml version="1.0" encoding="utf-8"?>
<feed xmlns="http://www.w3.org/2005/Atom"><id>{BLOG}/</id><title>Tarn in the garage</title>
<subtitle>{UNWANTED["side"]}</subtitle>
<updated>2026-11-01T00:00:00Z</updated><author><name>The builder</name></author>
{chr(10).join(atom_entry(told) for told in entries)}
</feed>
"""


def rss_item(told: Told, *, dated: bool) -> str:
    """One post as RSS 2.0 has it: the whole text in `content:encoded` beside a summary, or escaped in `description`."""
    zone = timezone(timedelta(hours=1))
    day = f"<pubDate>{format_datetime(datetime.combine(told.day, told.clock, zone))}</pubDate>" if dated else ""
    category = f"<category>{cdata(ASSEMBLIES[told.assembly])}</category>" if told.assembly else ""
    body = html_blocks(told, named=True)
    whole = f"<description>{escape(body)}</description>"
    if told.count % 2:
        summary = f"<description>{escape(words_of(told)[0])} […]</description>"
        whole = f"{summary}<content:encoded>{cdata(body)}</content:encoded>"
    return f"""<item><title>{escape(told.title)}</title><link>{BLOG}/{told.count}</link>
<guid isPermaLink="false">{told.count}</guid>{day}{category}
{whole}</item>"""


def rss_feed(items: list[tuple[Told, bool]]) -> str:
    """The whole file."""
    return f"""<?xml version="1.0" encoding="UTF-8"?>
<rss version="2.0" xmlns:content="http://purl.org/rss/1.0/modules/content/"><channel>
<title>Tarn in the garage</title><link>{BLOG}/</link><description>{UNWANTED["side"]}</description>
<lastBuildDate>Sun, 01 Nov 2026 00:00:00 +0000</lastBuildDate>
{chr(10).join(rss_item(told, dated=dated) for told, dated in items)}
</channel></rss>
"""


# The folder -----------------------------------------------------------------------------------------------------------

HTML_WAYS: tuple[tuple[str, Callable[[Told], str]], ...] = (
    ("folder", page_undated),
    ("time", page_with_time),
    ("meta", page_with_meta),
    ("heading", page_with_heading),
    ("folder", page_by_hand),
    ("file name", page_undated),
)
MARKDOWN_WAYS = ("front matter", "folder", "heading", "front matter", "file name")
UNDATED = {17, 38, 59, 80, 97, 111, 133, 152, 171, 196}
UNDATED_IN_RSS = {251, 266}


class Writer:
    """Writes the posts below `root` and notes what is expected; `seed` decides everything."""

    def __init__(self, root: Path, seed: int) -> None:
        self.root = root
        self.seed = seed
        self.expected: list[OldPost] = []
        self.drawn = 0

    def begin(self, count: int) -> tuple[random.Random, date]:
        """The chance of one post, and its day: no two posts are of one day."""
        chance = random.Random(f"{self.seed} {count}")
        return chance, FIRST_DAY + timedelta(days=11 * count + chance.randrange(6))

    def write_pictures(self, chance: random.Random, folder: str, day: date) -> list[Picture]:
        """Up to three; two in three say when they were taken, every fourth has a blank in its name."""
        pictures = []
        for _ in range(chance.randrange(4)):
            self.drawn += 1
            number = self.drawn
            ending = "JPG" if number % 7 == 0 else "jpg"
            file = f"{folder}/{f'rib {number}' if number % 4 == 0 else f'IMG_{number:04}'}.{ending}"
            taken = f"{day:%Y:%m:%d} 1{number % 8}:05:{number % 60:02}" if number % 3 else None
            (self.root / file).parent.mkdir(parents=True, exist_ok=True)
            (self.root / file).write_bytes(draw_picture(number, taken))
            pictures.append(Picture(file=file, caption=f"What picture {number} shows", taken=taken))
        return pictures

    def write_post(self, count: int, *, kind: str) -> None:
        """One page, `kind` html or md, with its pictures, some of them elsewhere or gone."""
        chance, day = self.begin(count)
        way: str | None
        way, page = HTML_WAYS[count % len(HTML_WAYS)] if kind == "html" else (MARKDOWN_WAYS[count % 5], page_undated)
        if count in UNDATED:
            way, page = None, page_undated
        file, folder = places(kind, way, day, count)
        pictures = self.write_pictures(chance, folder, day)
        missing = [f"{folder}/gone-{count}.jpg"] if count % 13 == 5 else []
        by_address = [f"{ELSEWHERE}/{count}.jpg"] if count % 9 == 4 else []
        shown = [Shown(address(file, one.file), one.caption) for one in pictures]
        shown += [Shown(address(file, one), "A picture that is gone") for one in missing]
        shown += [Shown(one, "A picture from elsewhere") for one in by_address]
        by_hand = page is page_by_hand
        filed = way == "front matter" if kind == "md" else not by_hand
        told = tell(chance, count, day, shown, tricky=kind == "html", filed=filed)
        text = page(told) if kind == "html" else markdown_page(told, way)
        (self.root / file).parent.mkdir(parents=True, exist_ok=True)
        (self.root / file).write_bytes(text.encode("cp1252" if by_hand else "utf-8"))
        kept_out = (UNWANTED["nav"], UNWANTED["script"]) if by_hand else tuple(UNWANTED.values())
        self.expect(
            told,
            file,
            way,
            title=None if kind == "md" and untitled(count, way) else told.title,
            unwanted=kept_out if kind == "html" else (),
            pictures=pictures,
            missing=missing,
            by_address=by_address,
        )

    def write_feed(self, file: str, counts: range, draw: Callable[[list[tuple[Told, bool]]], str], way: str) -> None:
        """Forty posts in one file; their pictures are all elsewhere."""
        posts = []
        for count in counts:
            chance, day = self.begin(count)
            by_address = [f"{ELSEWHERE}/{count}-{number}.jpg" for number in range(chance.randrange(3))]
            shown = [Shown(one, "A picture from elsewhere") for one in by_address]
            told = tell(chance, count, day, shown, tricky=True, filed=True)
            posts.append((told, count not in UNDATED_IN_RSS))
            self.expect(
                told,
                file,
                None if count in UNDATED_IN_RSS else way,
                number=len(posts),
                unwanted=(UNWANTED["side"],),
                by_address=by_address,
            )
        (self.root / file).write_text(draw(posts), encoding="utf-8", newline="\n")

    def expect(
        self,
        told: Told,
        file: str,
        way: str | None,
        *,
        number: int = 0,
        title: str | None = "",
        unwanted: tuple[str, ...],
        pictures: list[Picture] | None = None,
        missing: list[str] | None = None,
        by_address: list[str],
    ) -> None:
        """Note what must be left of a post that tells its day by `way`; an empty `title` is the one it has."""
        title = told.title if title == "" else title
        untold = (*(("day",) if way is None else ()), *(("title",) if title is None else ()))
        self.expected.append(
            OldPost(
                file=file,
                number=number,
                day=told.day.isoformat() if way else None,
                day_told_by=way,
                title=title,
                assembly=told.assembly,
                minutes=told.minutes,
                words=words_of(told),
                unwanted=unwanted,
                links=links_of(told),
                pictures=tuple(pictures or ()),
                missing=tuple(missing or ()),
                by_address=tuple(by_address),
                untold=untold,
            )
        )


def places(kind: str, way: str | None, day: date, count: int) -> tuple[str, str]:
    """The file of a post and the folder of its pictures, both as the folder of posts sees them."""
    if way == "folder":
        named = f"{day:%Y/%m/%d}/post-{count}" if count % 4 == 0 else f"{day}-post-{count}"
        return f"{kind}/{named}/{'index' if count % 3 else 'post'}.{kind}", f"{kind}/{named}"
    name = f"{day}-post-{count}" if way == "file name" else f"post-{count}"
    return f"{kind}/{name}.{kind}", f"{kind}/images" if count % 2 else "media"


def address(post: str, file: str) -> str:
    """How a post names a file: relative to itself, blanks as %20."""
    return quote(posixpath.relpath(file, posixpath.dirname(post)))


def write_old_posts(folder: Path, seed: int = SEED) -> tuple[OldPost, ...]:
    """Write all of them below `folder`: html/, md/, media/, atom.xml, rss.xml. The same seed writes the same bytes."""
    writer = Writer(folder, seed)
    for count in range(100):
        writer.write_post(count, kind="html")
    for count in range(100, 200):
        writer.write_post(count, kind="md")
    writer.write_feed("atom.xml", range(200, 240), lambda posts: atom_feed([told for told, _ in posts]), "published")
    writer.write_feed("rss.xml", range(240, 280), rss_feed, "pubDate")
    return tuple(writer.expected)


if __name__ == "__main__":
    posts = write_old_posts(Path(sys.argv[1]), *map(int, sys.argv[3:4]))
    lines = json.dumps([asdict(post) for post in posts], indent=1, ensure_ascii=False)
    Path(sys.argv[2]).write_text(f"{lines}\n", encoding="utf-8")
